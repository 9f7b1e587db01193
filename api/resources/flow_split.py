"""POST /v1/flow-split: does every loop flow alike, what does each drop, what must the pump do?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response, request

from api.csv_table import MEDIA_TYPE as CSV_TYPE
from api.csv_table import loops_csv
from api.plots import PICTURES, PNG, SVG
from api.present import flow_split_of
from api.problems import ProblemError
from api.refusals import Refusal, RefusedError
from api.resources.replies import (
    JSON_TYPE,
    preferred,
    read_body,
    reply,
    reply_csv,
    reply_picture,
    settings,
)
from api.schemas.fields import schema_of
from api.schemas.flow_split import FlowSplitRequestSchema
from api.translate import job_from
from hydraulics.flow_split import flow_split
from hydraulics.layout import Circuit, loop_count

blueprint: Final = Blueprint("flow_split", __name__)


@blueprint.post("/v1/flow-split")
def post_flow_split() -> Response:
    """Solve an array; the answer is JSON, the table of its loops as CSV, or a picture."""
    picture = _picture_asked_for()
    kind = preferred((SVG, PNG) if picture else (JSON_TYPE, CSV_TYPE, SVG, PNG))
    read, refusals = read_body(schema_of(FlowSplitRequestSchema))
    job = job_from(read, settings().max_loops, refusals)
    if job is None:
        raise RefusedError(refusals)
    if kind in (SVG, PNG):
        _refuse_what_cannot_be_drawn(job[0])
    result = flow_split(
        *job,
        tolerance=read["tolerance_percent"] / 100.0,
        margin=read["freezing_margin_k"],
    )
    if kind in (SVG, PNG):
        # Loaded when first asked for: the drawing library takes longer to load than all the rest.
        from api.plots.of_split import picture_of_split  # noqa: PLC0415

        circuit, _, _, duty = job
        drawn, text = picture_of_split(
            picture or "flows", kind, result, circuit, duty, title=read.get("name", "")
        )
        return reply_picture(drawn, kind, text)
    answer = flow_split_of(result, read.get("name"), read["antifreeze"]["kind"])
    if kind == CSV_TYPE:
        return reply_csv(loops_csv(answer["loops"]), "loops.csv")
    return reply(answer)


def _picture_asked_for() -> str:
    """Name of the picture in the address; empty where none is named."""
    given = request.args.getlist("picture")
    if not given:
        return ""
    choices = ", ".join(PICTURES)
    if len(given) > 1 or given[0] not in PICTURES:
        raise ProblemError(
            "unknown-value",
            f"There is no such picture; the pictures are {choices}."
            if len(given) == 1
            else "The picture is named more than once; ask for one at a time.",
            parameters=[("picture", f"Give one of {choices}.")],
        )
    accepted = request.accept_mimetypes
    if accepted and not (accepted[SVG] or accepted[PNG]):
        raise ProblemError(
            "not-acceptable",
            f"A picture is {SVG} or {PNG}, which the Accept header rules out; accept one of them, "
            "or leave the parameter out.",
        )
    return given[0]


def _refuse_what_cannot_be_drawn(circuit: Circuit) -> None:
    count, most = loop_count(circuit), settings().max_picture_loops
    if count > most:
        detail = (
            f"The array has {count:,} loops; a picture shows up to {most:,} (the setting "
            "EVENLOOP_MAX_PICTURE_LOOPS). Ask for application/json instead, or draw a part of it."
        )
        raise RefusedError([Refusal(("array",), detail, allowed=f"{most:,} loops or fewer")])
