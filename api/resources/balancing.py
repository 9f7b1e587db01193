"""POST /v1/balancing: what can be done for every loop to have its flow, and what does it cost?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.csv_table import ways_table
from api.calculations.asked import answer_of
from api.resources.asked import answered, asked
from api.service.replies import reply_csv

blueprint: Final = Blueprint("balancing", __name__)


@blueprint.post("/v1/balancing")
def post_balancing() -> Response:
    """Compare the ways to balance an array."""
    return answered("balancing")


@blueprint.post("/v1/balancing.csv")
def post_balancing_csv() -> Response:
    """Compare the ways; the table of what each takes at every loop."""
    return reply_csv(ways_table(answer_of(asked("balancing"))), "balancing.csv")
