"""POST /v1/array-sizing: how much trench, mat or borehole carries the load through its life?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from flask import Blueprint, Response

from api.answers.sizing import array_sizing_of
from api.refusals import Refusal, RefusedError
from api.requests.sizing import at_request, sizing_job_from
from api.schemas.array_sizing import ArraySizingRequestSchema
from api.schemas.fields import Refusals
from api.schemas.flow_split import FlowSplitRequestSchema
from api.schemas.objects import schema_of
from api.service.replies import read_body, reply, settings
from hydraulics.errors import HydraulicsError
from hydraulics.sizing.array import size_array

blueprint: Final = Blueprint("array_sizing", __name__)


@blueprint.post("/v1/array-sizing")
def post_array_sizing() -> Response:
    """Size an array."""
    read, refusals = read_body(schema_of(ArraySizingRequestSchema))
    return reply(array_sizing_answer(read, refusals))


def array_sizing_answer(read: Mapping[str, Any], refusals: Refusals) -> dict[str, Any]:
    """Answer of a request.

    Parameters
    ----------
    read
        The request as read by ArraySizingRequestSchema.
    refusals
        What was refused in it so far.

    Returns
    -------
    dict
        ArraySizingResponseSchema's object.

    Raises
    ------
    RefusedError
        Anything is refused, before anything is computed.
    HydraulicsError
        The engine finds no such array; its faults name fields of the request.
    """
    job = sizing_job_from(read, settings().max_loops, refusals)
    if job is None:
        raise RefusedError(refusals)
    try:
        sizing = size_array(
            job.load,
            job.ground,
            job.choice,
            job.mixture,
            job.temperature_change,
            site=job.site,
            limits=job.limits,
            years=job.years,
            least_return=job.least_return,
            rate=job.rate,
        )
    except HydraulicsError as error:
        raise at_request(error, read) from None
    answer = array_sizing_of(sizing, read["antifreeze"], read.get("name"))
    _refuse_what_is_no_array(answer, read)
    return answer


def _refuse_what_is_no_array(answer: Mapping[str, Any], read: Mapping[str, Any]) -> None:
    """Refuse loops so long that no request of the flow split could hold them."""
    found: Refusals = []
    schema_of(FlowSplitRequestSchema).check(answer["flow_split_request"], (), found)
    if not found:
        return
    given = "loops" in read.get("limits", {})
    place = ("limits", "loops") if given else ("array_kind",)
    loops, length = answer["loops"], answer["loop"]["length_m"]
    detail = (
        f"{loops:,} equal loops would be of {length:,} m of {answer['metre']} each, longer than "
        f"this service takes ({found[0].detail[:-1]}). Give more loops or another extraction rate."
    )
    raise RefusedError([Refusal(place, detail, allowed="loops of a length that can be laid")])
