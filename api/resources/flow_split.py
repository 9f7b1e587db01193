"""POST /v1/flow-split: does every loop flow alike, what does each drop, what must the pump do?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.present import flow_split_of
from api.refusals import RefusedError
from api.resources.replies import read_body, reply, settings
from api.schemas.fields import schema_of
from api.schemas.flow_split import FlowSplitRequestSchema
from api.translate import job_from
from hydraulics.flow_split import flow_split

blueprint: Final = Blueprint("flow_split", __name__)


@blueprint.post("/v1/flow-split")
def post_flow_split() -> Response:
    """Solve an array."""
    read, refusals = read_body(schema_of(FlowSplitRequestSchema))
    job = job_from(read, settings().max_loops, refusals)
    if job is None:
        raise RefusedError(refusals)
    result = flow_split(
        *job,
        tolerance=read["tolerance_percent"] / 100.0,
        margin=read["freezing_margin_k"],
    )
    return reply(flow_split_of(result, read.get("name"), read["antifreeze"]["kind"]))
