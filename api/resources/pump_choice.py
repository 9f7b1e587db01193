"""POST /v1/pump-choice: which of these pumps meets the duty, cold and warm, at what power?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.csv_table import pumps_table
from api.answers.decides import decided_pump
from api.answers.pump_choice import INVENTED_NOTICE
from api.calculations.asked import answer_of
from api.resources.asked import answered, asked
from api.service.replies import reply, reply_csv
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
    return answered("pump_choice")


@blueprint.post("/v1/pump-choice.csv")
def post_pump_choice_csv() -> Response:
    """Judge and rank pumps; the table of them."""
    return reply_csv(pumps_table(answer_of(asked("pump_choice"))), "pumps.csv")
