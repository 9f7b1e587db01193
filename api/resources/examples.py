"""GET /v1/examples: which invented arrays can one start from?"""

from __future__ import annotations

from functools import cache
from typing import Any, Final

from flask import Blueprint, Response

from api.contract.examples import examples_in_repository
from api.service.problems import ProblemError
from api.service.replies import reply

blueprint: Final = Blueprint("examples", __name__)


@cache
def examples() -> dict[str, dict[str, Any]]:
    """Requests that ship with the service, by name, in alphabetical order."""
    return {each.key.replace("_", "-"): each.request for each in examples_in_repository()}


def example_links() -> list[dict[str, str]]:
    """Name, title and address of every example."""
    return [
        {"name": name, "title": request.get("name", name), "href": f"/v1/examples/{name}"}
        for name, request in examples().items()
    ]


@blueprint.get("/v1/examples")
def get_examples() -> Response:
    """List the examples."""
    return reply({"examples": example_links()}, cached=True)


@blueprint.get("/v1/examples/<name>")
def get_example(name: str) -> Response:
    """Give one example, as POST /v1/flow-split takes it."""
    request = examples().get(name)
    if request is None:
        raise ProblemError("not-found", "There is no such example; /v1/examples lists them.")
    return reply(request, cached=True)
