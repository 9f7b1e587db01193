"""Wires the service: settings, addresses, errors, headers."""

from __future__ import annotations

from typing import Final

from flask import Flask, request

from api.answers.csv_table import MEDIA_TYPE as CSV_TYPE
from api.media_types import PNG, SVG
from api.media_types import TYPES as REPORT_TYPES
from api.resources import (
    array_sizing,
    balancing,
    bench,
    commissioning,
    design_report,
    designs,
    examples,
    flow_split,
    flow_splits,
    fluid_properties,
    groundworks,
    pump_selection,
    reference_data,
    soils,
)
from api.resources.pages import links, metrics, pages
from api.service.calls import accompany
from api.service.metrics import MEDIA_TYPE as METRICS_TYPE
from api.service.problems import ProblemError, register
from api.settings import Settings, settings_from_environment

_SENT: Final = {
    "pages": ("text/html",),
    "bench": ("text/html",),
    "metrics": (METRICS_TYPE,),
    "static": ("text/css", "text/javascript", "image/svg+xml"),
    "flow_split": ("application/json", CSV_TYPE, SVG, PNG),
    "groundworks": ("application/json", SVG),
    "design_report": REPORT_TYPES,
}
"""Media types by blueprint, where it is not JSON alone."""
_PARAMETERS: Final = {"flow_split.post_flow_split": ("picture",)}
"""Parameters of the query by endpoint; every other endpoint takes none."""


def create_app(settings: Settings | None = None) -> Flask:
    """Make the application.

    Parameters
    ----------
    settings
        Limits to keep; None to read them from the environment.

    Returns
    -------
    Flask
        The application, ready for any WSGI server.

    Raises
    ------
    SettingsError
        A setting in the environment is wrong.
    """
    kept = settings or settings_from_environment()
    app = Flask(
        "api", template_folder="pages", static_folder="pages/assets", static_url_path="/assets"
    )
    app.config["EVENLOOP"] = kept
    # The framework cuts a body that comes in chunks at this length and says nothing, so it gets one
    # byte more than the limit; whoever reads the body sees by that byte that it was too long.
    app.config["MAX_CONTENT_LENGTH"] = kept.max_body_bytes + 1
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    for blueprint in (
        array_sizing.blueprint,
        flow_split.blueprint,
        flow_splits.blueprint,
        balancing.blueprint,
        pump_selection.blueprint,
        groundworks.blueprint,
        commissioning.blueprint,
        design_report.blueprint,
        designs.blueprint,
        soils.blueprint,
        fluid_properties.blueprint,
        reference_data.blueprint,
        examples.blueprint,
        bench.blueprint,
        links,
        metrics,
        pages,
    ):
        app.register_blueprint(blueprint)
    register(app)
    accompany(app, kept, _refuse_what_would_be_ignored)
    return app


def _refuse_what_would_be_ignored() -> None:
    """Refuse parameters that no address takes, and an Accept header that nothing here meets."""
    if request.endpoint is None:
        return
    taken = _PARAMETERS.get(request.endpoint, ())
    unknown = [name for name in request.args if name not in taken]
    if unknown:
        raise ProblemError(
            "unknown-parameter",
            "This address takes "
            + (f"only {', '.join(taken)}" if taken else "no parameters")
            + "; put the input into the body.",
            parameters=[(name, "It would be ignored; leave it out.") for name in unknown],
        )
    sent = _SENT.get(request.endpoint.split(".")[0], ("application/json",))
    accepted = request.accept_mimetypes
    if accepted and not any(accepted[each] for each in sent):
        raise ProblemError(
            "not-acceptable",
            f"This address sends {' or '.join(sent)}, which the Accept header rules out.",
        )
