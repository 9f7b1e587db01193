"""POST /v1/groundworks: how much digging, spoil, land, pipe and time does an array take?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.csv_table import order_table
from api.answers.groundworks import order_of
from api.calculations.asked import computing
from api.drawings.plan import plan_svg
from api.refusals import Refusal, RefusedError
from api.resources.asked import answered, asked
from api.service.replies import reply_csv, reply_drawing
from hydraulics.groundworks.works import DRAWN_AT_MOST

blueprint: Final = Blueprint("groundworks", __name__)


@blueprint.post("/v1/groundworks")
def post_groundworks() -> Response:
    """Work out the digging."""
    return answered("groundworks")


@blueprint.post("/v1/groundworks/pipe-order.csv")
def post_pipe_order() -> Response:
    """Work out the digging; the table of pipe to order."""
    job = asked("groundworks")
    with computing(job):
        order = order_of(job.chapters.pipe_order)
    return reply_csv(order_table(order), "pipe-order.csv")


@blueprint.post("/v1/groundworks/plan.svg")
def post_plan() -> Response:
    """Draw the plan."""
    job = asked("groundworks")
    with computing(job):
        found = job.chapters.groundworks
    if found.plan is None or found.block is None:
        detail = (
            f"There is no plan to draw: nothing is set out, or more than {DRAWN_AT_MOST:,} "
            "places. POST /v1/groundworks gives the rest."
        )
        raise RefusedError([Refusal(("array",), detail, allowed=f"1 to {DRAWN_AT_MOST:,}")])
    return reply_drawing(plan_svg(found.plan, found.block, job.title), "plan.svg")
