"""What does each case of a part of a study answer? Run wherever Dask puts it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import orjson

from api.answers.parts import Wanted
from api.calculations.asked import Asked, answer_of, asked_of
from api.refusals import MISSING, Json, Place, RefusedError, value_at
from api.schemas.objects import schema_of
from api.schemas.shared import shared_reading
from api.schemas.studies import StudySchema
from api.service.deadline import TimeLimitError, time_limit
from api.service.problems import ProblemError, fault_of_service, problem_of
from api.settings import Settings
from api.studies.plan import Plan
from hydraulics.errors import HydraulicsError
from hydraulics.job import solve_together
from hydraulics.layout.walk import loop_count
from hydraulics.libraries import load_libraries

Row = tuple[int, bytes]
"""Status of a case; results in order and how many errors and warnings, or its problem, as JSON."""

MOST_ERRORS: Final = 3
"""Most errors that a row keeps of a problem; its detail tells how many there are."""
_TOGETHER: Final = 250
"""Cases whose arrays are solved at once."""
_LOOPS: Final = 20_000
"""Loops of arrays that are solved at once; those of more are solved one by one."""


@dataclass(frozen=True, slots=True)
class Computed:
    """Rows of cases that follow one another, and the time that they took [s]."""

    rows: list[Row]
    seconds: float


@lru_cache(maxsize=4)
def plan_of_text(text: bytes) -> Plan:
    """A study that was accepted, read once in each process."""
    return Plan(schema_of(StudySchema).check(orjson.loads(text), (), []))


def computed(text: bytes, first: int, count: int, limits: Settings) -> Computed:
    """Compute cases of a study.

    Parameters
    ----------
    text
        The study as it was accepted, as JSON.
    first, count
        The first case, counted from 0, and how many.
    limits
        The service's settings.

    Returns
    -------
    Computed
        A row for each case, in order, whatever is wrong with it.
    """
    began = time.perf_counter()
    load_libraries()
    rows: list[Row] = []
    try:
        plan = plan_of_text(text)
        while len(rows) < count:
            begin = first + len(rows)
            some = range(begin, min(begin + _TOGETHER, first + count))
            rows += _together(plan, list(plan.jobs(some)), limits)
    except Exception as error:
        rows += [_refused(fault_of_service(error))] * (count - len(rows))
    return Computed(rows, time.perf_counter() - began)


def _together(plan: Plan, jobs: list[Json], limits: Settings) -> list[Row]:
    """Rows of a few jobs, whose splits are solved at once."""
    with shared_reading():
        read = [_read(job, plan.calculation, limits) for job in jobs]
    wanted = frozenset(("findings", *(part for place in plan.results for part in place)))
    if plan.calculation == "split":
        around = "system_curve" in wanted
        _solve((each for each in read if isinstance(each, Asked)), around=around)
    return [
        _row(each, plan.results, wanted, limits, job) if isinstance(each, Asked) else _refused(each)
        for each, job in zip(read, jobs, strict=True)
    ]


def _solve(read: Iterator[Asked], *, around: bool) -> None:
    jobs = [each for each in read if each.job.circuit is not None]
    if sum(loop_count(each.job.circuit) for each in jobs if each.job.circuit) > _LOOPS:
        return
    try:
        solve_together((each.chapters for each in jobs), around=around)
    except Exception as error:
        fault_of_service(error)  # told in the log; each is solved by itself


def _read(job: Json, calculation: str, limits: Settings) -> Asked | dict[str, Any]:
    try:
        return asked_of(job, calculation, limits)
    except (RefusedError, HydraulicsError) as error:
        return problem_of(error, job)
    except Exception as error:
        return fault_of_service(error)


def _row(
    asked: Asked, results: tuple[Place, ...], wanted: Wanted, limits: Settings, job: Json
) -> Row:
    """The row of one job that could be read."""
    try:
        with time_limit(limits.max_seconds):
            answer = answer_of(asked, wanted)
        kept = [_told(value_at(answer, place)) for place in results]
        return 200, orjson.dumps([*kept, *_found(answer)])
    except (RefusedError, HydraulicsError) as error:
        return _refused(problem_of(error, job))
    except TimeLimitError:
        told = f"The case was ended after {limits.max_seconds:g} s, the most that one may take."
        return _refused(problem_of(ProblemError("time-limit-exceeded", told), job))
    except Exception as error:
        return _refused(fault_of_service(error))


def _found(answer: Json) -> tuple[int, int]:
    """How many errors and warnings an answer tells, those of its chapters once each."""
    told, parts = set(), [answer]
    while parts:
        for name, part in parts.pop().items():
            if name == "findings":
                told |= {(each["severity"], each["message"]) for each in part}
            elif isinstance(part, dict):
                parts.append(part)
    found = [severity for severity, _ in told]
    return found.count("error"), found.count("warning")


def _told(value: Json) -> Json:
    return None if value is MISSING or isinstance(value, (dict, list)) else value


def _refused(problem: dict[str, Any]) -> Row:
    if len(problem.get("errors", ())) > MOST_ERRORS:
        problem = {**problem, "errors": problem["errors"][:MOST_ERRORS]}
    return problem["status"], orjson.dumps(problem)
