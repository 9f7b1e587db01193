"""POST /v1/flow-splits: many arrays in one call, each with its own answer or problem."""

from __future__ import annotations

from typing import Any, Final

from flask import Blueprint, Response

from api.answers.flow_split import flow_split_of
from api.refusals import Json, Refusal, RefusedError
from api.resources.flow_split import Job, prepared, split_of
from api.schemas.flow_splits import FlowSplitsRequestSchema
from api.schemas.objects import schema_of
from api.service.calls import count_calculations
from api.service.problems import fault_of_service, problem_of
from api.service.replies import read_body, reply, settings
from api.service.request_log import tell
from hydraulics.errors import HydraulicsError
from hydraulics.layout.walk import loop_count

blueprint: Final = Blueprint("flow_splits", __name__)

Item = dict[str, Any]


@blueprint.post("/v1/flow-splits")
def post_flow_splits() -> Response:
    """Solve each array; what is wrong with one does not touch the others."""
    read, refusals = read_body(schema_of(FlowSplitsRequestSchema))
    if refusals:
        raise RefusedError(refusals)
    requests = read["requests"]
    _refuse_too_many(requests)
    count_calculations(len(requests) - 1)
    jobs = [_prepared(each) for each in requests]
    _refuse_too_large([each for each in jobs if isinstance(each, Job)])
    results = [
        each if isinstance(each, dict) else _solved(each, request)
        for each, request in zip(jobs, requests, strict=True)
    ]
    solved = sum(each["status"] == 200 for each in results)
    tell(arrays=len(requests), solved=solved)
    response = reply({"results": results, "solved": solved, "refused": len(results) - solved})
    response.status_code = 207
    return response


def _refuse_too_many(requests: list[Json]) -> None:
    count, most = len(requests), settings().max_batch
    if count > most:
        detail = (
            f"The batch has {count:,} requests; this service takes up to {most:,} at once (its "
            "setting EVENLOOP_MAX_BATCH)."
        )
        raise RefusedError([Refusal(("requests",), detail, allowed=f"{most:,} requests or fewer")])


def _refuse_too_large(jobs: list[Job]) -> None:
    count, most = sum(loop_count(each.circuit) for each in jobs), settings().max_loops
    if count > most:
        detail = (
            f"The arrays have {count:,} loops together; this service takes up to {most:,} in one "
            "call (its setting EVENLOOP_MAX_LOOPS). Send several batches."
        )
        raise RefusedError([Refusal(("requests",), detail, allowed=f"{most:,} loops or fewer")])


def _prepared(request: Json) -> Job | Item:
    """Job of one request, or its problem."""
    try:
        return prepared(request)
    except RefusedError as error:
        return _refused(problem_of(error, request))
    except Exception as error:
        return _refused(fault_of_service(error))


def _solved(job: Job, request: Json) -> Item:
    try:
        answer = flow_split_of(split_of(job), job.name, job.mixture.kind)
    except HydraulicsError as error:
        return _refused(problem_of(error, request))
    except Exception as error:
        return _refused(fault_of_service(error))
    return {"status": 200, "answer": answer}


def _refused(problem: Item) -> Item:
    return {"status": problem["status"], "problem": problem}
