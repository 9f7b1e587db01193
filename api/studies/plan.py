"""Which cases does a study have, and what is the job of each?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from api.contract.operations import OPERATIONS
from api.refusals import BROKEN, MISSING, Json, Place, Refusal, RefusedError, pointer, value_at
from api.schemas.fields import Checked, Refusals, suggested_field
from api.schemas.job import JobSchema
from api.schemas.objects import ListOf, Nested, StrictSchema, schema_of
from api.schemas.studies import StudySchema
from api.settings import Settings
from hydraulics.errors import InputError
from hydraulics.studies.cases import Sample, case_count, rows_of

Values = tuple[Json, ...]


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis of the grid: so many rows of values for its places.

    Attributes
    ----------
    places
        Where the values go.
    size
        Rows.
    row
        Values of a row, one for each place.
    numbers
        Whether the values of each place are numbers, all of them.
    sample
        The sample that the rows are of; None for others.
    """

    places: tuple[Place, ...]
    size: int
    row: Callable[[int], Values]
    numbers: tuple[bool, ...]
    sample: Sample | None = None


@dataclass(frozen=True, slots=True)
class _Drawn:
    """Values of a sample, drawn when the first is asked for."""

    sample: Sample
    places: tuple[dict[str, Any], ...]
    kept: list[NDArray[np.float64]]

    def row(self, number: int) -> Values:
        if not self.kept:
            self.kept.append(self.sample.drawn())
        return tuple(map(_scaled, self.kept[0][number].tolist(), self.places))


def _scaled(share: float, place: dict[str, Any]) -> Json:
    if "values" in place:
        return place["values"][int(share * len(place["values"]))]
    return place["min"] + share * (place["max"] - place["min"])


class Plan:
    """A study that was read: its axes, and what is kept of each answer.

    Parameters
    ----------
    read
        The request by :class:`api.schemas.studies.StudySchema`, without faults.
    """

    def __init__(self, read: dict[str, Any]) -> None:
        self.calculation: str = read["calculation"]
        self.name: str = read.get("name", "")
        self.job: Json = read["job"]
        self.results: tuple[Place, ...] = tuple(map(parts_of, read["results"]))
        self.axes = tuple(_axis(each) for each in read["variations"])

    @cached_property
    def places(self) -> tuple[Place, ...]:
        """Places that are varied, in the order of their axes."""
        return tuple(place for axis in self.axes for place in axis.places)

    @cached_property
    def are_numbers(self) -> tuple[bool, ...]:
        """Whether what is put in each of `places` is a number in every case."""
        return tuple(each for axis in self.axes for each in axis.numbers)

    @cached_property
    def sizes(self) -> tuple[int, ...]:
        """Rows of each axis."""
        return tuple(axis.size for axis in self.axes)

    @property
    def cases(self) -> int:
        """How many cases there are."""
        return case_count(self.sizes)

    def varied(self, cases: Sequence[int]) -> Iterator[Values]:
        """Values of cases by their numbers from 0, one for each of `places`."""
        for rows in rows_of(cases, self.sizes).tolist():
            yield tuple(
                value for axis, row in zip(self.axes, rows, strict=True) for value in axis.row(row)
            )

    def jobs(self, cases: Sequence[int]) -> Iterator[Json]:
        """Jobs of cases by their numbers from 0; what they do not vary they share."""
        for values in self.varied(cases):
            job = self.job
            for place, value in zip(self.places, values, strict=True):
                job = _with(job, place, value)
            yield job


def plan_of(document: Json, limits: Settings) -> Plan:
    """Read a study and count its cases; nothing is computed.

    Parameters
    ----------
    document
        The request.
    limits
        The service's settings.

    Returns
    -------
    Plan
        The study.

    Raises
    ------
    RefusedError
        Everything that is wrong with it but for the job, whose faults are those of its cases.
    """
    refusals: Refusals = []
    read = schema_of(StudySchema).check(document, (), refusals)
    if refusals or read is BROKEN:
        raise RefusedError(refusals)
    if type(read["job"]) is not dict:
        raise RefusedError([Refusal(("job",), "job must be an object in braces.", read["job"])])
    for number, variation in enumerate(read["variations"]):
        refusals += _faults_of_axis(("variations", number), variation)
    for number, each in enumerate(read["results"]):
        result_field(each, read["calculation"], ("results", number), refusals)
        if (first := read["results"].index(each)) < number:
            detail = f"{each} is asked for already, as result {first}; leave one of the two out."
            refusals.append(Refusal(("results", number), detail, allowed="each place once"))
    if refusals:
        raise RefusedError(refusals)
    plan = Plan(read)
    refusals += _faults_of_places(plan)
    count, most = plan.cases, limits.max_study_cases
    if count > most:
        detail = (
            f"The study has {count:,} cases ({' x '.join(f'{size:,}' for size in plan.sizes)}); "
            f"this service takes up to {most:,} (its setting EVENLOOP_MAX_STUDY_CASES)."
        )
        refusals.append(Refusal(("variations",), detail, allowed=f"{most:,} cases or fewer"))
    if refusals:
        raise RefusedError(refusals)
    return plan


def path_of(calculation: str) -> str:
    """Address that a study's cases are answered as by."""
    return f"/v1/{calculation.replace('_', '-')}"


def parts_of(text: str) -> Place:
    """Parts of a JSON Pointer, those that are numbers as numbers."""
    return tuple(
        int(part) if part.isdigit() and (part == "0" or part[0] != "0") else part
        for raw in text.split("/")[1:]
        for part in [raw.replace("~1", "/").replace("~0", "~")]
    )


def _axis(variation: dict[str, Any]) -> Axis:
    """One axis of what was read."""
    ((kind, of),) = variation.items()
    if kind == "range":
        of = {"at": of["at"], "values": np.linspace(of["min"], of["max"], of["count"]).tolist()}
    if kind in ("listed", "range"):
        values, numbers = of["values"], (_are_numbers(of["values"]),)
        return Axis((parts_of(of["at"]),), len(values), lambda row: (values[row],), numbers)
    if kind == "paired":
        pairs, places = of["values"], tuple(map(parts_of, of["at"]))
        kinds = tuple(map(_are_numbers, zip(*pairs, strict=True)))
        return Axis(places, len(pairs), lambda row: tuple(pairs[row]), kinds)
    sample = Sample(of["method"], of["points"], len(of["places"]), of["seed"])
    drawn = _Drawn(sample, tuple(of["places"]), [])
    places = tuple(parts_of(each["at"]) for each in of["places"])
    kinds = tuple(_are_numbers(each.get("values", ())) for each in of["places"])
    return Axis(places, sample.rows, drawn.row, kinds, sample)


def _are_numbers(values: Iterable[Json]) -> bool:
    return all(type(value) in (int, float) for value in values)


def _faults_of_axis(place: Place, variation: dict[str, Any]) -> Iterator[Refusal]:
    """What the schema of a variation cannot say."""
    ((kind, of),) = variation.items()
    if kind == "paired":
        for number, row in enumerate(of["values"]):
            if len(row) != len(of["at"]):
                detail = (
                    f"The row has {len(row)} values for {len(of['at'])} places; give one for each."
                )
                yield Refusal(
                    (*place, kind, "values", number), detail, allowed=f"{len(of['at'])} values"
                )
    if kind == "sampled":
        try:
            Sample(of["method"], of["points"], len(of["places"]), of["seed"])
        except InputError as error:
            fault = error.faults[0]
            allowed = fault.allowed or "1 or more"
            yield Refusal((*place, kind, "points"), f"points {fault.message}.", allowed=allowed)
    for at, each in _ranges(kind, of):
        if "min" in each and each["min"] >= each["max"]:
            detail = f"min is {each['min']:g} and max {each['max']:g}; max must be the greater."
            yield Refusal((*place, *at, "max"), detail, allowed=f"more than {each['min']:g}")


def _ranges(kind: str, of: dict[str, Any]) -> Iterator[tuple[Place, dict[str, Any]]]:
    if kind == "range":
        yield (kind,), of
    if kind == "sampled":
        for number, each in enumerate(of["places"]):
            yield (kind, "places", number), each


def _faults_of_places(plan: Plan) -> Iterator[Refusal]:
    """Places that are varied twice, or within one that is, or that the job has no room for."""
    seen: list[Place] = []
    for number, axis in enumerate(plan.axes):
        for place in axis.places:
            told = pointer(place)
            if any(place[: len(each)] == each or each[: len(place)] == place for each in seen):
                detail = f"{told} is varied already, itself or with what is around or within it."
                yield Refusal(("variations", number), detail, allowed="each place once")
            seen.append(place)
            around = value_at(plan.job, place[:-1])
            last = place[-1]
            fits = (isinstance(around, dict)) or (
                isinstance(around, list) and isinstance(last, int) and last < len(around)
            )
            if unknown := _unknown_field(place):
                yield Refusal(("variations", number), unknown[0], told, unknown[1])
            elif around is MISSING or not fits:
                detail = f"The job has nothing at {told} nor an object that could have it."
                yield Refusal(("variations", number), detail, told, "places of the job")


def _unknown_field(place: Place) -> tuple[str, str] | None:
    """Why no job has a place, and what its object may have; None where jobs may have it."""
    schema: StrictSchema | None = schema_of(JobSchema)
    field: Any = None
    for number, part in enumerate(place):
        if isinstance(field, ListOf):
            field = field.item
        elif schema is None:
            return None
        elif (name := str(part)) in schema.checks:
            field = schema.checks[name]
        else:
            around = pointer(place[:number]) if number else "A job"
            told = name[:60] if name.isidentifier() else repr(name[:60])
            hint = suggested_field(name, schema.checks, [])
            return f"{around} has no {told}{hint}", ", ".join(schema.checks)
        schema = field.reader if isinstance(field, Nested) else None
    return None


def result_field(
    text: str, calculation: str, place: Place = (), refusals: Refusals | None = None
) -> Checked | None:
    """Field of an answer that a pointer leads to.

    Parameters
    ----------
    text
        The pointer.
    calculation
        Whose answer.
    place
        Where the pointer stands in the request.
    refusals
        Takes what is wrong with it: no answer has such a place, or it holds no single value.

    Returns
    -------
    Checked or None
        The field; None where it is refused.
    """
    refused: Refusals = [] if refusals is None else refusals
    answer = next(each.answer for each in OPERATIONS if each.path == path_of(calculation))
    assert not isinstance(answer, str)
    schema: StrictSchema | None = schema_of(answer)
    field: Any = None
    for part in parts_of(text):
        known = {} if schema is None else schema.checks
        if isinstance(field, ListOf) and isinstance(part, int):
            field = field.item
        elif str(part) in known:
            field = known[str(part)]
        else:
            hint = suggested_field(str(part), known, refused) if known else "."
            if isinstance(field, ListOf):
                hint = ": it is a list; give the number of an item, from 0."
            detail = f"No answer has {str(part)[:60]} at {text}{hint}"
            allowed = ", ".join(known) or "a place in the answer"
            refused.append(Refusal(place, detail, text, allowed))
            return None
        schema = field.reader if isinstance(field, Nested) else None
    if isinstance(field, (Nested, ListOf)):
        kind = "list" if isinstance(field, ListOf) else "object"
        detail = f"At {text} the answer has a whole {kind}; point to a single value in it."
        refused.append(Refusal(place, detail, text, "a place of a single value"))
        return None
    found: Checked = field
    return found


def _with(document: Json, place: Place, value: Json) -> Json:
    """A document with another value in a place; what is not on the way there is shared."""
    part = place[0]
    if isinstance(document, list):
        assert isinstance(part, int)
        changed = document.copy()
        changed[part] = value if len(place) == 1 else _with(document[part], place[1:], value)
        return changed
    name = str(part)
    inner = value if len(place) == 1 else _with(document[name], place[1:], value)
    return {**document, name: inner}
