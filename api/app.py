"""Wires the service: settings, addresses, errors, headers."""

from __future__ import annotations

import re
from typing import Any, Final

from flask import Flask, request
from werkzeug.datastructures import MIMEAccept

from api.contract.operations import OPERATIONS, Operation
from api.resources import (
    balancing,
    bench,
    commissioning,
    designs,
    examples,
    fluid_properties,
    groundworks,
    plot_file,
    pump_choice,
    reference_data,
    report,
    setting_out,
    sizing,
    soils,
    split,
    splits,
    studies,
)
from api.resources.pages import links, metrics, pages
from api.resources.proof import prove_within
from api.service.calls import accompany
from api.service.problems import ProblemError, register
from api.settings import Settings, settings_from_environment

_OPERATIONS: Final = {(each.path, each.method): each for each in OPERATIONS}


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
    # No redirects, which would be made of the Host that the caller claims: an address ends in a
    # slash or not, and none has two in a row.
    app.url_map.strict_slashes = app.url_map.merge_slashes = False
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    for blueprint in (
        sizing.blueprint,
        setting_out.blueprint,
        plot_file.blueprint,
        split.blueprint,
        splits.blueprint,
        studies.blueprint,
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


def create_proven_app() -> Flask:
    """Make the application with everything loaded that it will need, shown by using it.

    Returns
    -------
    Flask
        The application.

    Raises
    ------
    SettingsError
        A setting in the environment is wrong.
    """
    return studies.run_beside(prove_within(create_app()))


def _refuse_what_would_be_ignored() -> None:
    """Refuse parameters that an address does not take, and an Accept header that it cannot meet."""
    if request.endpoint is None:
        return
    operation = _operation()
    known = operation.query if operation is not None else {}
    if refused := [
        (name, f"It is {value!r:.80}; it must be {_allowed(known[name])}.")
        if (name in known)
        else (name, "It would be ignored; leave it out.")
        for name, values in request.args.lists()
        for value in [", ".join(values)]
        if name not in known or not _fits(known[name], value)
    ]:
        raise ProblemError(
            "unknown-parameter",
            f"This address takes {' and '.join(known) or 'no parameters'} after the question mark; "
            "put the input into the body.",
            parameters=refused,
        )
    sent = operation.media if operation is not None else ""
    if sent and request.accept_mimetypes and not _plain(request.accept_mimetypes)[sent]:
        raise ProblemError(
            "not-acceptable", f"This address sends {sent}, which the Accept header rules out."
        )


def _words(schema: dict[str, Any]) -> tuple[str, ...]:
    """Words that a parameter may be."""
    return tuple(schema.get("enum", ("true", "false")))


def _fits(schema: dict[str, Any], value: str) -> bool:
    """Whether a parameter's value is as the contract has it."""
    if schema["type"] != "integer":
        return value in _words(schema)
    digits = value.isascii() and value.isdigit() and len(value) < 20
    return digits and schema["minimum"] <= int(value) <= schema["maximum"]


def _allowed(schema: dict[str, Any]) -> str:
    if schema["type"] != "integer":
        return " or ".join(_words(schema))
    return f"a whole number from {schema['minimum']:,} to {schema['maximum']:,}"


def _plain(accepted: MIMEAccept) -> MIMEAccept:
    """Media types without parameters: what is sent has none that anyone could choose by."""
    return MIMEAccept([(kind.split(";")[0].strip(), quality) for kind, quality in accepted])


def _operation() -> Operation | None:
    """What the contract has for this address; nothing for files of the pages."""
    rule = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", str(request.url_rule))
    form = (request.view_args or {}).get("form", "")  # one route draws SVG and PNG
    path, method = rule.replace("{form}", form), request.method.lower()
    return _OPERATIONS.get((path, method)) or next(
        (each for (at, _), each in _OPERATIONS.items() if at == path), None
    )
