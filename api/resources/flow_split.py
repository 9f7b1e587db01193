"""POST /v1/flow-split: does every loop flow alike, what does each drop, what must the pump do?"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Final

from flask import Blueprint, Response, request

from api.answers.csv_table import MEDIA_TYPE as CSV_TYPE
from api.answers.csv_table import loops_csv
from api.answers.flow_split import flow_split_of
from api.media_types import PICTURES, PNG, SVG
from api.refusals import BROKEN, Json, Refusal, RefusedError
from api.requests.job import job_from
from api.schemas.flow_split import FlowSplitRequestSchema
from api.schemas.objects import schema_of
from api.service.metrics import count_solve
from api.service.problems import ProblemError
from api.service.replies import (
    JSON_TYPE,
    preferred,
    read_document,
    reply,
    reply_csv,
    reply_picture,
    settings,
)
from api.service.request_log import tell
from hydraulics.fluid.mixture import Mixture
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.walk import loop_count
from hydraulics.split.duty import Duty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.result import FlowSplit

blueprint: Final = Blueprint("flow_split", __name__)


@dataclass(frozen=True, slots=True)
class Job:
    """A request in the engine's own description.

    Attributes
    ----------
    name
        Name of the job, or None.
    circuit, plant, mixture, duty
        As the engine takes them.
    tolerance
        Allowed deviation from an even share, as a fraction.
    margin
        Margin above freezing [K].
    """

    name: str | None
    circuit: Circuit
    plant: Plant
    mixture: Mixture
    duty: Duty
    tolerance: float
    margin: float


def prepared(document: Json) -> Job:
    """Read one request.

    Parameters
    ----------
    document
        The JSON value.

    Returns
    -------
    Job
        What it asks for.

    Raises
    ------
    RefusedError
        It asks for what cannot be; carries every reason.
    """
    refusals: list[Refusal] = []
    read = schema_of(FlowSplitRequestSchema).check(document, (), refusals)
    job = None if read is BROKEN else job_from(read, settings().max_loops, refusals)
    if job is None:
        raise RefusedError(refusals)
    return Job(read.get("name"), *job, read["tolerance_percent"] / 100.0, read["freezing_margin_k"])


def split_of(job: Job) -> FlowSplit:
    """Solve one job, and count it."""
    began = time.perf_counter()
    result = flow_split(
        job.circuit, job.plant, job.mixture, job.duty, tolerance=job.tolerance, margin=job.margin
    )
    seconds = time.perf_counter() - began
    count_solve(seconds, result.residuals.iterations, len(result.loops.names))
    return result


@blueprint.post("/v1/flow-split")
def post_flow_split() -> Response:
    """Solve an array; the answer is JSON, the table of its loops as CSV, or a picture."""
    picture = _picture_asked_for()
    kind = preferred((SVG, PNG) if picture else (JSON_TYPE, CSV_TYPE, SVG, PNG))
    job = prepared(read_document())
    if kind in (SVG, PNG):
        _refuse_what_cannot_be_drawn(job.circuit)
    result = split_of(job)
    tell(loops=len(result.loops.names), iterations=result.residuals.iterations)
    if kind in (SVG, PNG):
        # Loaded when first asked for: the drawing library takes longer to load than all the rest.
        from api.drawings.of_split import picture_of_split  # noqa: PLC0415

        drawn, text = picture_of_split(
            picture or "flows", kind, result, job.circuit, job.duty, title=job.name or ""
        )
        return reply_picture(drawn, kind, text)
    answer = flow_split_of(result, job.name, job.mixture.kind)
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
