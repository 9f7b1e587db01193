"""POST /v1/designs: the whole job in one call, from the load to handover."""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.decides import decided
from api.answers.designs import chapters_of
from api.resources.asked import asked, computing, refuse_what_no_job_holds
from api.service.calls import count_calculations

blueprint: Final = Blueprint("designs", __name__)


@blueprint.post("/v1/designs")
def post_designs() -> Response:
    """Compute every chapter that the job asks for."""
    job = asked("designs")
    with computing(job):
        answer = chapters_of(job.chapters, job.document)
        refuse_what_no_job_holds(job)
        count_calculations(len(answer) - 2)
        return job.reply({"decides": decided(job.chapters, job.document), **answer})
