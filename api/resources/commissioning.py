"""POST /v1/commissioning: what does it take to fill, purge, test and prove an array?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.commissioning import commissioning_of
from api.resources.asked import asked, computing

blueprint: Final = Blueprint("commissioning", __name__)


@blueprint.post("/v1/commissioning")
def post_commissioning() -> Response:
    """Plan, and judge what was read on site."""
    job = asked("commissioning")
    with computing(job):
        answer = commissioning_of(job.chapters.commissioning, job.job)
    return job.reply(answer)
