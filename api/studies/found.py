"""Which cases of a study are best, which on the front, and what do results depend on?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import orjson
from numpy.typing import NDArray

from api.answers.numbers import round_one
from api.refusals import BROKEN, Json, Place, Refusal, RefusedError, pointer
from api.schemas.fields import Number, Refusals
from api.schemas.objects import StrictSchema, schema_of
from api.studies.plan import Plan, parts_of, result_field
from api.studies.tables import told_rows
from hydraulics.errors import Fault, InputError
from hydraulics.studies.choice import chosen
from hydraulics.studies.ranking import pareto_front
from hydraulics.studies.sensitivity import (
    RANK_CORRELATION,
    SOBOL_INDICES,
    rank_correlation,
    sobol_indices,
)

if TYPE_CHECKING:
    from api.studies.store import Store, Study

Floats = NDArray[np.float64]
Object = dict[str, Any]

_ERRORS: Final = "errors"  # no pointer: what a row tells beside its results
_ENUMERATED: Final = "Every case of the grid was computed and compared"
_SAMPLED: Final = (
    "Every case of the sample was computed and compared; between them there may be better ones"
)
_UNFINISHED: Final = "Only the cases that are done were compared"
_FRONT: Final = "; on the front is what no other betters: as good in every goal, and better in one."


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Cases that are best.

    Attributes
    ----------
    numbers
        Numbers of the cases done, from 0.
    goals
        What their goals come to, by goal and case, less being better.
    able
        Whether a case keeps all limits and has every goal.
    order
        By one goal, the cases that are able by their index, the best first; by several those of
        the front, ordered by the first goal.
    limits
        By one goal, what each limit costs; else empty.
    """

    numbers: NDArray[np.int64]
    goals: Floats
    able: NDArray[np.bool_]
    order: NDArray[np.int64]
    limits: tuple[Object, ...]


def found_best(asked: Object, plan: Plan, study: Study, store: Store) -> Found:
    """Find what :func:`best_of` tells."""
    numbers, goals, kept = _judged(asked, plan, study, store)
    able = np.logical_and.reduce([np.isfinite(goals).all(axis=0), *kept])
    if len(goals) > 1:
        on = np.flatnonzero(pareto_front(np.where(able, goals, np.nan).T))
        return Found(numbers, goals, able, on[np.argsort(goals[0][on], kind="stable")], ())
    found = chosen(goals[0], kept)
    best = goals[0][found.order[0]] if found.order.size else None
    costs = []
    for limit, without, by in zip(asked.get("limits", []), found.without, found.kept, strict=True):
        told: Object = {"at": limit["at"], "kept_by": by}
        if without is not None and best is not None:
            told["costs"] = round_one(float(best - goals[0][without]))
        costs.append(told)
    return Found(numbers, goals, able, found.order, tuple(costs))


def best_of(asked: Object, plan: Plan, study: Study, store: Store) -> Object:
    """The best cases by one goal and what each limit costs; by several, the Pareto front.

    Parameters
    ----------
    asked
        The request as :func:`read_asked` reads it by :class:`api.schemas.studies.BestSchema`.
    plan, study, store
        The study.

    Returns
    -------
    dict
        As :class:`api.schemas.studies.BestAnswerSchema`.

    Raises
    ------
    RefusedError
        Something is wrong with the request.
    """
    found = found_best(asked, plan, study, store)
    signs = [-1.0 if goal["towards"] == "max" else 1.0 for goal in asked["goals"]]
    best = found.order[: asked["most"]]
    rows = told_rows(plan, store.rows_of(study, found.numbers[best].tolist()))
    for row, each in zip(rows, best.tolist(), strict=True):
        values = [s * float(goal[each]) for s, goal in zip(signs, found.goals, strict=True)]
        row["goals"] = [round_one(value) for value in values]
    return {
        "rows": rows,
        "found": int(found.order.size),
        "eligible": int(found.able.sum()),
        "done": int(found.numbers.size),
        "proven": found.numbers.size == study.cases and not _is_sampled(plan),
        "method": _compared(plan, study) + (_FRONT if len(signs) > 1 else "."),
        **({"limits": list(found.limits)} if found.limits else {}),
    }


def sensitivities_of(asked: Object, plan: Plan, study: Study, store: Store) -> Object:
    """What results depend on.

    Parameters
    ----------
    asked
        The request by :class:`api.schemas.studies.DependenceSchema`.
    plan, study, store
        The study.

    Returns
    -------
    dict
        As :class:`api.schemas.studies.DependencesSchema`.

    Raises
    ------
    RefusedError
        Something is wrong with the request.
    """
    refusals: Refusals = []
    for number, each in enumerate(asked["results"]):
        _refuse_no_number(each, plan, ("results", number), refusals)
    if refusals:
        raise RefusedError(refusals)
    numbers, values = _columns(asked["results"], plan, study, store)
    columns = [place for place, are in enumerate(plan.are_numbers) if are]
    inputs = np.full((numbers.size, len(plan.places)), np.nan)
    for row, given in enumerate(plan.varied(numbers.tolist())):
        inputs[row, columns] = [given[column] for column in columns]
    results = []
    for at in asked["results"]:
        result = _floats(values[at])
        told: Object = {"at": at, "cases": int(np.isfinite(result).sum())}
        found: list[tuple[str, Sequence[float]]] = [
            ("rank_correlation", _correlations(inputs, result, columns))
        ]
        try:
            indices = sobol_indices(_every(result, plan, study), len(plan.places))
            found += [
                ("first_order", indices.first_order.tolist()),
                ("total", indices.total.tolist()),
            ]
        except InputError as error:
            told["without_indices"] = error.faults[0].message
        told["quantities"] = [
            {"at": pointer(place)}
            | {name: round_one(each[n]) for name, each in found if np.isfinite(each[n])}
            for n, place in enumerate(plan.places)
        ]
        results.append(told)
    return {"results": results, "method": f"{RANK_CORRELATION}; {SOBOL_INDICES}."}


def _correlations(inputs: Floats, result: Floats, columns: list[int]) -> list[float]:
    """Rank correlation by varied place; NaN for those that are no numbers."""
    found = np.full(inputs.shape[1], np.nan)
    found[columns] = rank_correlation(inputs[:, columns], result)
    return [float(each) for each in found]


def _every(result: Floats, plan: Plan, study: Study) -> Floats:
    """The result by row of the one sample that indices follow from."""
    sample = plan.axes[0].sample
    if len(plan.axes) > 1 or sample is None or sample.method != "sensitivity":
        says = "The study is to have one sample by the method sensitivity and vary nothing else."
        raise InputError(Fault("", says))
    if result.size < study.cases:
        raise InputError(Fault("", f"{study.cases - result.size:,} cases are not done."))
    return result


# ------------------------------------------------------------------------------------ what is asked


def read_asked(schema: type[StrictSchema], document: Json) -> Object:
    """Read what is asked of a study; raises RefusedError with everything that is wrong with it."""
    refusals: Refusals = []
    read: Object = schema_of(schema).check(document, (), refusals)
    if refusals or read is BROKEN:
        raise RefusedError(refusals)
    return read


def _refuse_no_number(at: str, plan: Plan, place: Place, refusals: Refusals) -> None:
    _refuse_not_kept(at, plan, place, refusals)
    if not refusals and not isinstance(result_field(at, plan.calculation), Number):
        detail = f"{at} is no number; it can only be a limit's value."
        refusals.append(Refusal(place, detail, at, "a result that is a number"))


def _refuse_not_kept(at: str, plan: Plan, place: Place, refusals: Refusals) -> None:
    known = [pointer(each) for each in plan.results]
    if at not in known:
        detail = f"{at} is none of the results that this study keeps."
        refusals.append(Refusal(place, detail, at, ", ".join(known)))


def _judged(
    asked: Object, plan: Plan, study: Study, store: Store
) -> tuple[NDArray[np.int64], Floats, list[NDArray[np.bool_]]]:
    """Numbers of the cases done, what their goals come to (NaN: out of question), limits kept."""
    refusals: Refusals = []
    goals = asked["goals"]
    for number, goal in enumerate(goals):
        for n, term in enumerate(goal["sum"]):
            _refuse_no_number(term["at"], plan, ("goals", number, "sum", n, "at"), refusals)
    for number, limit in enumerate(asked.get("limits", [])):
        place: Place = ("limits", number, "at")
        if "value" in limit:
            _refuse_not_kept(limit["at"], plan, place, refusals)
        else:
            _refuse_no_number(limit["at"], plan, place, refusals)
        if len(limit.keys() & {"min", "max", "value"}) == 0:
            detail = "Give min, max or value."
            refusals.append(Refusal(place[:-1], detail, allowed="min, max or value"))
    if refusals:
        raise RefusedError(refusals)
    terms = [term["at"] for goal in goals for term in goal["sum"]]
    limited = [limit["at"] for limit in asked.get("limits", [])]
    wanted = dict.fromkeys([*terms, *limited, _ERRORS])
    numbers, values = _columns(wanted, plan, study, store)
    found = np.zeros((len(goals), numbers.size))
    for row, goal in enumerate(goals):
        for term in goal["sum"]:
            found[row] += term["times"] * _floats(values[term["at"]])
        if goal["towards"] == "max":
            found[row] *= -1.0
    if not asked["errors_allowed"]:
        found[:, _floats(values[_ERRORS]) > 0.0] = np.nan
    return numbers, found, [_keeps(limit, values[limit["at"]]) for limit in asked.get("limits", [])]


def _columns(
    wanted: Iterable[str], plan: Plan, study: Study, store: Store
) -> tuple[NDArray[np.int64], dict[str, list[Json]]]:
    """Numbers of the cases done, from 0, and results of each by its pointer."""
    index = {at: -2 if at == _ERRORS else plan.results.index(parts_of(at)) for at in wanted}
    values: dict[str, list[Json]] = {at: [] for at in index}
    numbers = []
    nothing = [None] * (len(plan.results) + 2)
    for case, status, cells in store.every_row(study):
        held = orjson.loads(cells) if status == 200 else nothing
        numbers.append(case)
        for at, each in index.items():
            values[at].append(held[each])
    return np.asarray(numbers, dtype=np.int64), values


def _floats(values: list[Json]) -> Floats:
    return np.array([np.nan if value is None else value for value in values], dtype=float)


def _keeps(limit: Object, values: list[Json]) -> NDArray[np.bool_]:
    """Whether each case keeps a limit; without the result it does not."""
    keeps = np.ones(len(values), dtype=bool)
    if "value" in limit:
        wanted = limit["value"]
        keeps &= [each == wanted and (each is True) is (wanted is True) for each in values]
    if "min" in limit or "max" in limit:
        given = _floats(values)
        keeps &= given >= limit.get("min", -np.inf)
        keeps &= given <= limit.get("max", np.inf)
    return keeps


def _compared(plan: Plan, study: Study) -> str:
    if study.done < study.cases:
        return _UNFINISHED
    return _SAMPLED if _is_sampled(plan) else _ENUMERATED


def _is_sampled(plan: Plan) -> bool:
    return any(axis.sample for axis in plan.axes)


def words_of(goal: Object) -> str:
    """A goal in words, for pictures."""
    return " + ".join(
        term["at"] if term["times"] == 1 else f"{term['times']:g} × {term['at']}"
        for term in goal["sum"]
    )
