"""POST /v1/sizing: how much trench, mat or borehole carries the load through its life?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.sizing import sizing_of
from api.resources.asked import asked, computing, refuse_what_no_job_holds

blueprint: Final = Blueprint("sizing", __name__)


@blueprint.post("/v1/sizing")
def post_sizing() -> Response:
    """Size an array."""
    job = asked("sizing")
    with computing(job):
        answer = sizing_of(job.chapters.sizing, job.job)
        refuse_what_no_job_holds(job)
    return job.reply(answer)
