"""Wires the service: settings, addresses, errors, headers."""

from __future__ import annotations

from typing import Final

from flask import Flask, request

from api.media_types import CSV, HTML, JSON, PDF, PNG, SVG
from api.resources import (
    balancing,
    bench,
    commissioning,
    designs,
    examples,
    fluid_properties,
    groundworks,
    pump_choice,
    reference_data,
    report,
    sizing,
    soils,
    split,
    splits,
)
from api.resources.pages import links, metrics, pages
from api.service.calls import accompany
from api.service.metrics import MEDIA_TYPE as METRICS_TYPE
from api.service.problems import ProblemError, register
from api.settings import Settings, settings_from_environment

_SENT: Final = {
    "pages": (HTML,),
    "bench": (HTML,),
    "metrics": (METRICS_TYPE,),
    "static": ("text/css", "text/javascript", "image/svg+xml"),
    "split.post_split_csv": (CSV,),
    "split.post_split_picture": (SVG, PNG),
    "groundworks.post_plan": (SVG,),
    "report.post_report_html": (HTML,),
    "report.post_report_pdf": (PDF,),
}
"""Media types by blueprint or endpoint, where it is not JSON."""


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
        sizing.blueprint,
        split.blueprint,
        splits.blueprint,
        balancing.blueprint,
        pump_choice.blueprint,
        groundworks.blueprint,
        commissioning.blueprint,
        report.blueprint,
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
    if request.args:
        raise ProblemError(
            "unknown-parameter",
            "This address takes no parameters; put the input into the body.",
            parameters=[(name, "It would be ignored; leave it out.") for name in request.args],
        )
    room = request.endpoint.split(".")[0]
    sent = _SENT.get(request.endpoint, _SENT.get(room, (JSON,)))
    accepted = request.accept_mimetypes
    if accepted and not any(accepted[each] for each in sent):
        raise ProblemError(
            "not-acceptable",
            f"This address sends {' or '.join(sent)}, which the Accept header rules out.",
        )
