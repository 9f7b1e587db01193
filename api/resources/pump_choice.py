"""POST /v1/pump-choice: which of these pumps meets the duty, cold and warm, at what power?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.decides import decided_pump
from api.answers.pump_choice import INVENTED_NOTICE, pump_choice_of
from api.resources.asked import asked, computing
from api.service.replies import reply
from hydraulics.pumps.examples import invented_candidates

blueprint: Final = Blueprint("pump_choice", __name__)


@blueprint.get("/v1/invented-pumps")
def get_invented_pumps() -> Response:
    """List the invented pumps as a job would give them."""
    pumps = [decided_pump(each) for each in invented_candidates()]
    return reply({"notice": INVENTED_NOTICE, "pumps": pumps}, cached=True)


@blueprint.post("/v1/pump-choice")
def post_pump_choice() -> Response:
    """Judge and rank pumps on an array."""
    job = asked("pump_choice")
    with computing(job):
        answer = pump_choice_of(job.chapters.pump_choice, job.job)
    return job.reply(answer)
