"""POST /v1/splits: many arrays in one call, each with its own answer or problem."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from flask import Blueprint, Response

from api.answers.csv_table import batch_table
from api.calculations.asked import Asked, asked_of
from api.refusals import Json, Refusal, RefusedError
from api.resources.split import split_answer
from api.schemas.objects import schema_of
from api.schemas.splits import MOST_JOBS, SplitsSchema
from api.service.calls import count_calculations
from api.service.problems import fault_of_service, problem_of
from api.service.replies import read_body, reply, reply_csv, settings
from api.service.request_log import tell
from hydraulics.errors import HydraulicsError
from hydraulics.job import solve_together
from hydraulics.layout.walk import loop_count

blueprint: Final = Blueprint("splits", __name__)

Item = dict[str, Any]


@blueprint.post("/v1/splits")
def post_splits() -> Response:
    """Solve each array; what is wrong with one does not touch the others."""
    _, answers = _answered()
    solved = sum(each["status"] == 200 for each in answers)
    response = reply({"answers": answers, "solved": solved, "refused": len(answers) - solved})
    response.status_code = 207
    return response


@blueprint.post("/v1/splits.csv")
def post_splits_csv() -> Response:
    """Solve each array; the table of all their loops, and of what was refused."""
    documents, answers = _answered()
    names = [each.get("name") if isinstance(each, dict) else None for each in documents]
    texts = [name if isinstance(name, str) else "" for name in names]
    response = reply_csv(batch_table(answers, texts), "splits.csv")
    response.status_code = 207
    return response


def _answered() -> tuple[list[Json], list[Item]]:
    """The jobs that were posted, and the answer or problem of each."""
    read, refusals = read_body(schema_of(SplitsSchema))
    if refusals:
        raise RefusedError(map(_as_set, refusals))
    documents = read["jobs"]
    _refuse_too_many(documents)
    count_calculations(len(documents) - 1)
    jobs = [_prepared(each) for each in documents]
    read_jobs = [each for each in jobs if isinstance(each, Asked)]
    _refuse_too_large(read_jobs)
    try:
        solve_together(each.chapters for each in read_jobs)
    except Exception as error:
        fault_of_service(error)  # told in the log; each is solved by itself
    answers = [
        each if isinstance(each, dict) else _solved(each, document)
        for each, document in zip(jobs, documents, strict=True)
    ]
    tell(arrays=len(documents), solved=sum(each["status"] == 200 for each in answers))
    return documents, answers


def _as_set(refusal: Refusal) -> Refusal:
    """A refusal with the number of jobs that this service is set to take."""
    if refusal.place != ("jobs",):
        return refusal
    allowed = f"1 to {settings().max_batch:,} items"
    most = f"1 to {MOST_JOBS:,} items"
    return replace(refusal, detail=refusal.detail.replace(most, allowed), allowed=allowed)


def _refuse_too_many(jobs: list[Json]) -> None:
    count, most = len(jobs), settings().max_batch
    if count > most:
        detail = (
            f"The batch has {count:,} jobs; this service takes up to {most:,} at once (its "
            "setting EVENLOOP_MAX_BATCH)."
        )
        raise RefusedError([Refusal(("jobs",), detail, allowed=f"{most:,} jobs or fewer")])


def _refuse_too_large(jobs: list[Asked]) -> None:
    count, most = sum(loop_count(each.chapters.circuit) for each in jobs), settings().max_loops
    if count > most:
        detail = (
            f"The arrays have {count:,} loops together; this service takes up to {most:,} in one "
            "call (its setting EVENLOOP_MAX_LOOPS). Send several batches."
        )
        raise RefusedError([Refusal(("jobs",), detail, allowed=f"{most:,} loops or fewer")])


def _prepared(document: Json) -> Asked | Item:
    """One job read, or its problem."""
    try:
        return asked_of(document, "split", settings())
    except RefusedError as error:
        return _refused(problem_of(error, document))
    except Exception as error:
        return _refused(fault_of_service(error))


def _solved(job: Asked, document: Json) -> Item:
    try:
        answer = split_answer(job)
    except HydraulicsError as error:
        return _refused(problem_of(error, document))
    except Exception as error:
        return _refused(fault_of_service(error))
    return {"status": 200, "split": answer}


def _refused(problem: Item) -> Item:
    return {"status": problem["status"], "problem": problem}
