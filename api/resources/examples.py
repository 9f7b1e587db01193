"""GET /v1/examples: which invented jobs can one start from?"""

from __future__ import annotations

from functools import cache
from typing import Any, Final

from flask import Blueprint, Response

from api.contract.examples import Example, examples_in_repository
from api.service.problems import ProblemError
from api.service.replies import reply

blueprint: Final = Blueprint("examples", __name__)


@cache
def examples() -> dict[str, Example]:
    """Jobs that ship with the service, by name, in alphabetical order."""
    return {each.name: each for each in examples_in_repository()}


def example_links() -> list[dict[str, Any]]:
    """Name, title and address of every example, and the calculations that it asks for."""
    return [
        {
            "name": name,
            "title": example.title,
            "href": f"/v1/examples/{name}",
            "calculations": [f"/v1/{each}" for each in example.calculations],
        }
        for name, example in examples().items()
    ]


@blueprint.get("/v1/examples")
def get_examples() -> Response:
    """List the examples."""
    return reply({"examples": example_links()}, cached=True)


@blueprint.get("/v1/examples/<name>")
def get_example(name: str) -> Response:
    """Give one example, as every calculation takes it."""
    example = examples().get(name)
    if example is None:
        raise ProblemError("not-found", "There is no such example; /v1/examples lists them.")
    return reply(example.job, cached=True)
