"""POST /v1/commissioning: what does it take to fill, purge, test and prove an array?"""

from __future__ import annotations

from typing import Any, Final

from flask import Blueprint, Response

from api.answers.commissioning import commissioning_of
from api.refusals import RefusedError
from api.requests.commissioning import commissioning_plans_from
from api.requests.job import job_from
from api.schemas.commissioning import CommissioningRequestSchema
from api.schemas.fields import Refusals
from api.schemas.objects import schema_of
from api.service.replies import read_body, reply, settings
from hydraulics.commissioning.commissioning import commissioning
from hydraulics.split.flow_split import flow_split

blueprint: Final = Blueprint("commissioning", __name__)


@blueprint.post("/v1/commissioning")
def post_commissioning() -> Response:
    """Plan, and judge what was read on site."""
    return reply(commissioning_answer(*read_body(schema_of(CommissioningRequestSchema))))


def commissioning_answer(read: dict[str, Any], refusals: Refusals) -> dict[str, Any]:
    """Plan, and judge what was read on site.

    Parameters
    ----------
    read
        A request as read by CommissioningRequestSchema.
    refusals
        What is refused in it so far.

    Returns
    -------
    dict
        Object of CommissioningResponseSchema.

    Raises
    ------
    RefusedError
        Something in it cannot be.
    """
    plans = commissioning_plans_from(read, refusals)
    job = job_from(read, settings().max_loops, refusals)
    if job is None or plans is None:
        raise RefusedError(refusals)
    circuit, plant, mixture, _ = job
    split = flow_split(
        *job,
        tolerance=read["tolerance_percent"] / 100.0,
        margin=read["freezing_margin_k"],
        curve_points=0,
    )
    result = commissioning(
        split,
        circuit,
        plant,
        mixture,
        plans.filling,
        purge=plans.purge,
        test=plans.test,
        vessel=plans.vessel,
        meters=plans.meters,
        sample=plans.sample,
    )
    return commissioning_of(
        result,
        read.get("name"),
        read["antifreeze"]["kind"],
        plans.purge.fluid if plans.purge else "",
    )
