"""POST /v1/balancing: what can be done for every loop to have its flow, and what does it cost?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.balancing import balancing_of
from api.resources.asked import asked, computing

blueprint: Final = Blueprint("balancing", __name__)


@blueprint.post("/v1/balancing")
def post_balancing() -> Response:
    """Compare the ways to balance an array."""
    job = asked("balancing")
    with computing(job):
        answer = balancing_of(job.chapters.balancing, job.job, job.document, job.chapters.heat_cost)
    return job.reply(answer)
