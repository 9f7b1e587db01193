"""POST /v1/groundworks: how much digging, spoil, land, pipe and time does an array take?"""

from __future__ import annotations

from typing import Any, Final

from flask import Blueprint, Response

from api.answers.groundworks import groundworks_of
from api.drawings.plan import plan_svg
from api.media_types import SVG as SVG_TYPE
from api.refusals import Refusal, RefusedError, refusals_of
from api.requests.groundworks import GROUNDWORKS_FIELDS, groundworks_job_from
from api.schemas.fields import Refusals
from api.schemas.groundworks import GroundworksRequestSchema
from api.schemas.objects import schema_of
from api.service.replies import JSON_TYPE, preferred, read_body, reply, settings
from hydraulics.errors import InputError
from hydraulics.groundworks.pipe_order import PipeOrder, pipe_order
from hydraulics.groundworks.works import DRAWN_AT_MOST, Groundworks, groundworks

blueprint: Final = Blueprint("groundworks", __name__)

# The drawing is shown or saved alone and needs nothing from anywhere.
_DRAWING_HEADERS: Final = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Content-Disposition": 'inline; filename="plan.svg"',
    "Vary": "Accept",
}


@blueprint.post("/v1/groundworks")
def post_groundworks() -> Response:
    """Work out the digging; the answer is JSON, or the plan where SVG is asked for."""
    read, refusals = read_body(schema_of(GroundworksRequestSchema))
    found, order = count_groundworks(read, refusals)
    if preferred((JSON_TYPE, SVG_TYPE)) == SVG_TYPE:
        if found.plan is None or found.block is None:
            detail = (
                f"There is no plan to draw: nothing is set out, or more than {DRAWN_AT_MOST:,} "
                "places. Accept application/json for the rest."
            )
            raise RefusedError([Refusal(("array",), detail, allowed=f"1 to {DRAWN_AT_MOST:,}")])
        drawing = plan_svg(found.plan, found.block, read.get("name", ""))
        return Response(
            drawing, content_type=f"{SVG_TYPE}; charset=utf-8", headers=_DRAWING_HEADERS
        )
    return reply(groundworks_of(found, order, read.get("name")))


def count_groundworks(read: dict[str, Any], refusals: Refusals) -> tuple[Groundworks, PipeOrder]:
    """Count the digging and the pipe.

    Parameters
    ----------
    read
        A request as read by GroundworksRequestSchema.
    refusals
        What is refused in it so far.

    Returns
    -------
    tuple
        Digging, and pipe to order.

    Raises
    ------
    RefusedError
        Something in it cannot be.
    """
    job = groundworks_job_from(read, settings().max_loops, refusals)
    if job is None:
        raise RefusedError(refusals)
    try:
        found = groundworks(
            job.circuit, job.works, job.trench, job.header, site=job.site, plant=job.plant
        )
    except InputError as error:
        raise RefusedError(refusals_of(error, (), GROUNDWORKS_FIELDS)) from None
    return found, pipe_order(job.circuit, job.plant, job.coil_lengths)
