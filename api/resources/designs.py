"""POST /v1/designs: the whole job in one call, from the load to handover."""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.calculations.asked import answer_of
from api.resources.asked import asked
from api.service.calls import count_calculations
from api.service.replies import reply

blueprint: Final = Blueprint("designs", __name__)

_NO_CHAPTERS: Final = {"name", "reference", "decides", "findings"}


@blueprint.post("/v1/designs")
def post_designs() -> Response:
    """Compute every chapter that the job asks for."""
    answer = answer_of(asked("designs"))
    count_calculations(len(answer.keys() - _NO_CHAPTERS) - 1)
    return reply(answer)
