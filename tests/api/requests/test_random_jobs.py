"""Random documents, in range and out of it, are read or refused at places that there are."""

from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, find, given, settings
from hypothesis import strategies as st

from api.refusals import MISSING, RefusedError, value_at
from api.requests.job import NEEDS, job_from
from api.schemas.array import PipeName
from api.schemas.fields import Checked, Choice, Day, Flag, Number, Text
from api.schemas.job import JobSchema
from api.schemas.objects import ListOf, Nested, StrictSchema, schema_of
from hydraulics.pipework.pipe import pipe_names
from tests.api.jobs import tansy

_PIPES = st.sampled_from([*pipe_names()[:12], "own", "PE100 SDR11 33"])
_WRONG: st.SearchStrategy[Any] = st.sampled_from(
    [None, True, -1, 0, 1.5, 1e308, -1e308, 10**30, "", "8,4", "x" * 100, [], {}, [{}], {"a": 1}]
)
_DEPTH = 5


def _number(field: Number) -> st.SearchStrategy[Any]:
    low, high = max(field.minimum, field.above), field.maximum
    if field.metadata.get("examples"):
        likely = st.sampled_from(field.metadata["examples"])
        return st.one_of(likely, likely, st.floats(low, high) if not field.whole else likely)
    if field.whole:
        return st.integers(int(low), int(min(high, low + 50)))
    return st.one_of(st.floats(low, high), st.floats(low, min(high, low + 100)))


def _field(field: Checked, depth: int) -> st.SearchStrategy[Any]:  # noqa: PLR0911
    """Values that the field's declaration allows."""
    if isinstance(field, Nested):
        return _object(field.reader, depth + 1)
    if isinstance(field, ListOf):
        most = max(field.shortest, 2)
        return st.lists(_field(field.item, depth), min_size=field.shortest, max_size=most)
    if isinstance(field, Number):
        return _number(field)
    if isinstance(field, Choice):
        return st.sampled_from(field.words)
    if isinstance(field, Flag):
        return st.booleans()
    if isinstance(field, PipeName):
        return _PIPES
    if isinstance(field, Day):
        return st.dates().map(date.isoformat)
    assert isinstance(field, Text)
    return st.sampled_from(["own", "T1", "T2", "PE100 SDR11 32", "Pump 1 (invented)"])


@st.composite
def _object(  # noqa: PLR0912
    draw: st.DrawFn, schema: StrictSchema, depth: int = 0
) -> dict[str, Any]:
    """An object that keeps its schema's rules of company but for what the draw leaves out."""
    chosen = draw(st.sampled_from(schema.one_of)) if schema.one_of else None
    if schema.wraps and depth > _DEPTH and "loop" in schema.one_of:
        chosen = "loop"
    made: dict[str, Any] = {}
    for name, field in schema.checks.items():
        if name in schema.one_of:
            wanted = name == chosen
        else:
            wanted = field.required or draw(st.integers(0, 3)) == 0
        if wanted:
            made[name] = draw(_field(field, depth))
    for group in schema.together:
        if any(name in made for name in group):
            made |= {n: draw(_field(schema.checks[n], depth)) for n in group if n not in made}
    for one, other in schema.apart:
        if one in made and other in made:
            del made[other]
    for name, others in schema.goes_with.items():
        if not any(other in made for other in others):
            made.pop(name, None)
    for group in schema.together:  # what was taken away may have had company
        if not all(name in made for name in group):
            made = {name: value for name, value in made.items() if name not in group}
    return made


@st.composite
def jobs(draw: st.DrawFn) -> dict[str, Any]:
    """A job with most of its parts."""
    schema = schema_of(JobSchema)
    return {
        name: draw(_field(field, 0))
        for name, field in schema.checks.items()
        if name in {"antifreeze", "duty", "array"} or draw(st.integers(0, 2)) > 0
    }


def _places(document: Any, place: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    items: Any = ()
    if isinstance(document, dict):
        items = document.items()
    elif isinstance(document, list):
        items = enumerate(document)
    return [place, *(at for name, value in items for at in _places(value, (*place, name)))]


def _read_or_refused(document: Any, calculation: str) -> bool:
    """Whether it was read; asserts that what is refused has a place, a reason and no BROKEN."""
    try:
        job_from(document, calculation, 10_000)
    except RefusedError as error:
        refusals = error.refusals
    else:
        return True
    assert refusals
    for each in refusals:
        assert value_at(document, each.place[:-1]) is not MISSING, each
        assert len(each.detail) > 10
        assert "object at 0x" not in each.detail + each.allowed
    return False


_SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]
_FINDING = settings(max_examples=500, deadline=None, database=None, phases=[Phase.generate],
                    suppress_health_check=_SLOW)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=_SLOW)
@given(jobs(), st.sampled_from(sorted(NEEDS)))
def test_a_job_drawn_from_the_declared_ranges_is_read_or_refused_in_order(
    document: dict[str, Any], calculation: str
) -> None:
    _read_or_refused(document, calculation)


@settings(max_examples=60, deadline=None, suppress_health_check=_SLOW)
@given(jobs(), st.data(), st.sampled_from(sorted(NEEDS)))
def test_a_job_with_something_else_anywhere_is_read_or_refused_in_order(
    document: Any, data: st.DataObject, calculation: str
) -> None:
    place = data.draw(st.sampled_from(_places(document)))
    wrong = data.draw(_WRONG)
    if not place:
        document = wrong
    else:
        value_at(document, place[:-1])[place[-1]] = wrong
    _read_or_refused(document, calculation)


@pytest.mark.parametrize("part", ["antifreeze", "array", "duty", "heat", "pump", "commissioning"])
def test_the_drawn_parts_are_not_all_refused(part: str) -> None:
    """The two tests above would show little if nothing that they draw were ever read."""
    calculation = next(name for name, parts in NEEDS.items() if part in parts or part == "pump")
    drawn = _field(schema_of(JobSchema).checks[part], 0)
    find(drawn, lambda value: _read_or_refused({**tansy(), part: value}, calculation),
         settings=_FINDING)  # fmt: skip
