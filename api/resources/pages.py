"""Where people look first: the index, health and metrics, the OpenAPI file and the pages."""

from __future__ import annotations

from typing import Any, Final

from flask import Blueprint, Response, render_template

from api.contract.document import build_openapi
from api.contract.examples import shown_in_contract
from api.contract.reference_page import chapters
from api.refusals import Json
from api.resources.proof import prove
from api.service.calls import guards
from api.service.metrics import exposition
from api.service.problem_types import PROBLEM_TYPES
from api.service.problems import ProblemError
from api.service.replies import CACHED, reply
from api.version import VERSION

links: Final = Blueprint("links", __name__)
metrics: Final = Blueprint("metrics", __name__)
pages: Final = Blueprint("pages", __name__)

_SECURITY: Final = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; img-src 'self' data:; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'"
    ),
    "Cache-Control": CACHED,
}
_DOCUMENT: Final[dict[str, Any]] = {}  # built when first asked for


def document() -> dict[str, Any]:
    """OpenAPI document of this version."""
    if not _DOCUMENT:
        _DOCUMENT.update(build_openapi(shown_in_contract()))
    return _DOCUMENT


@links.get("/v1")
def get_index() -> Response:
    """List the addresses."""
    found = [
        {"method": method.upper(), "href": path, "title": operation["summary"]}
        for path, operations in document()["paths"].items()
        for method, operation in operations.items()
        if "{" not in path
    ]
    title = document()["info"]["title"]
    return reply({"title": title, "version": VERSION, "links": found}, cached=True)


@links.get("/healthz")
def get_health() -> Response:
    """Answer, so that a supervisor knows that the service does."""
    return reply({"healthy": True, "version": VERSION})


@links.get("/readyz")
def get_readiness() -> Response:
    """Answer whether this worker would begin a calculation now, and could draw its result."""
    if guards().turns.full:
        raise ProblemError(
            "too-busy",
            "As many calculations are under way or waiting as this worker takes on.",
            headers={"Retry-After": "1"},
        )
    prove()
    return reply({"ready": True})


@metrics.get("/metrics")
def get_metrics() -> Response:
    """Give what the service counted, for Prometheus."""
    return exposition()


@links.get("/v1/openapi.json")
def get_openapi() -> Response:
    """Give the contract."""
    return reply(document(), cached=True)


def _page(template: str, **content: Json) -> Response:
    text = render_template(template, version=VERSION, **content)
    return Response(text, content_type="text/html; charset=utf-8", headers=_SECURITY)


@pages.get("/v1/reference")
def get_reference() -> Response:
    """Show the contract as a page."""
    return _page("reference.html", info=document()["info"], chapters=chapters(document()))


@pages.get("/v1/problems")
def get_problem_types() -> Response:
    """List the kinds of problem."""
    return _page("problems.html", kinds=list(PROBLEM_TYPES.values()))


@pages.get("/v1/problems/<slug>")
def get_problem_type(slug: str) -> Response:
    """Explain a kind of problem."""
    kind = PROBLEM_TYPES.get(slug)
    if kind is None:
        raise ProblemError(
            "not-found", "There is no such kind of problem; /v1/problems lists them."
        )
    return _page("problem.html", kind=kind)
