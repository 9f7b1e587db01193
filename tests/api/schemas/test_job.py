"""The schemas of a job: every field described and bounded, every list of words named."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from api.refusals import BROKEN, Refusal
from api.schemas.array import PipeName
from api.schemas.fields import Checked, Choice, Number, Text
from api.schemas.job import JobSchema
from api.schemas.objects import ListOf, Nested, StrictSchema, schema_of
from tests.api.jobs import Json, slate, tansy


def parts_of(schema: StrictSchema, seen: set[type]) -> Iterator[StrictSchema]:
    """The schema and every schema within."""
    if type(schema) in seen:
        return
    seen.add(type(schema))
    yield schema
    for field in schema.checks.values():
        inner = field.item if isinstance(field, ListOf) else field
        if isinstance(inner, Nested):
            yield from parts_of(inner.reader, seen)


SCHEMAS = list(parts_of(schema_of(JobSchema), set()))
FIELDS = {
    f"{type(schema).__name__}.{name}": field
    for schema in SCHEMAS
    for name, field in schema.checks.items()
}


def item_of(field: Checked) -> Checked:
    return field.item if isinstance(field, ListOf) else field


def test_the_fields_are_found() -> None:
    assert len(FIELDS) > 300
    assert "StraightLegSchema.length_m" in FIELDS


def test_every_field_says_what_it_is() -> None:
    assert not [
        name
        for name, field in FIELDS.items()
        if not field.metadata["description"].endswith((".", "?"))
    ]


def test_every_example_and_usual_value_is_accepted() -> None:
    for name, field in FIELDS.items():
        values = list(field.metadata.get("examples", ()))
        if isinstance(field.load_default, (bool, int, float, str)):
            values.append(field.load_default)
        for value in values:
            refusals: list[object] = []
            assert field.check(value, (), refusals) is not BROKEN, name  # type: ignore[arg-type]
            assert refusals == [], name


def test_every_number_has_a_lowest_and_a_highest_value() -> None:
    numbers = {
        name: item_of(field) for name, field in FIELDS.items() if isinstance(item_of(field), Number)
    }
    assert len(numbers) > 100
    for name, inner in numbers.items():
        assert isinstance(inner, Number)
        assert max(inner.minimum, inner.above) > float("-inf"), name
        assert inner.maximum < float("inf"), name


def test_every_list_of_words_is_a_named_component() -> None:
    words = {name: item_of(field) for name, field in FIELDS.items()}
    choices = {name: inner for name, inner in words.items() if isinstance(inner, Choice)}
    assert len(choices) > 10
    assert not [name for name, inner in choices.items() if not inner.component[:1].isupper()]


def test_one_component_is_one_list_of_words() -> None:
    words: dict[str, tuple[str, ...]] = {}
    for schema in SCHEMAS:
        for field in schema.checks.values():
            if isinstance(field, Choice):
                assert words.setdefault(field.component, field.words) == field.words


def test_every_pipe_is_a_name() -> None:
    for schema in SCHEMAS:
        for name, field in schema.checks.items():
            if name.endswith("pipe"):
                assert isinstance(field, PipeName)


def test_every_schema_has_a_name_of_its_own() -> None:
    names = [type(schema).__name__ for schema in SCHEMAS]
    assert len(names) == len(set(names))
    assert all(name.endswith("Schema") for name in names)


def test_company_speaks_of_fields_that_there_are() -> None:
    for schema in SCHEMAS:
        groups = (schema.one_of, *schema.together, *schema.apart, *schema.goes_with.values())
        for name in (*schema.goes_with, *(name for group in groups for name in group)):
            assert name in schema.checks, (schema, name)
        if schema.one_of:
            assert len(schema.why) > 20
            assert not any(schema.checks[name].required for name in schema.one_of)


def test_words_of_people_may_be_any_language() -> None:
    for text in ("Schleife süd 3", "池 2", "A/B~C", "<b>&"):
        assert Text().check(text, (), []) == text


@pytest.mark.parametrize("job", [tansy(), slate()], ids=["tansy", "slate"])
def test_both_invented_jobs_are_read_with_nothing_lost(job: Json) -> None:
    def kept(given: object, read: object) -> None:
        if isinstance(given, dict):
            assert isinstance(read, dict)
            for name, value in given.items():
                kept(value, read[name])
        elif isinstance(given, list):
            assert isinstance(read, list)
            assert len(given) == len(read)
            for one, other in zip(given, read, strict=True):
                kept(one, other)
        else:
            assert given == read

    kept(job, schema_of(JobSchema).load(job))


def test_plain_water_needs_neither_strength_nor_basis() -> None:
    read = schema_of(JobSchema).load({"antifreeze": {"kind": "water"}})
    assert read["antifreeze"] == {"kind": "water", "concentration_percent": 0, "basis": "mass"}


KEPT = Path(__file__).parents[3] / "openapi" / "examples" / "responses"
ANSWERS = sorted(KEPT.rglob("*.json"))


@pytest.mark.parametrize("path", ANSWERS, ids=lambda path: path.stem)
def test_an_answer_that_is_posted_is_told_what_to_post(path: Path) -> None:
    answer = json.loads(path.read_text("utf-8"))
    refusals: list[Refusal] = []
    assert schema_of(JobSchema).check(answer, (), refusals) is BROKEN
    assert len(refusals) == 1
    told = refusals[0].detail
    if "answers" in answer:
        assert "post one of those jobs, or all of them under jobs to /v1/splits" in told
        return
    if isinstance(answer.get("job"), dict):
        assert "post what stands in its job" in told
    else:
        assert "post the job that it answers" in told
        assert all(name in told for name in answer.get("decides", {}))
        assert ("decides of the" in told) is ("ways" in answer or "pumps" in answer)
    misplaced: list[Refusal] = []
    assert schema_of(JobSchema).check({**slate(), "array": answer}, (), misplaced) is BROKEN
    (one,) = misplaced
    assert one.place == ("array",)
    if "array" in answer.get("decides", {}):
        assert "what stands in its decides.array" in one.detail
    elif not isinstance(answer.get("job"), dict):
        assert "put the array of its job there" in one.detail
    wrapped: list[Refusal] = []
    assert schema_of(JobSchema).check({"job": slate()}, (), wrapped) is BROKEN
    assert "post what stands in its job" in wrapped[0].detail


@pytest.mark.parametrize(
    ("wrap", "told"),
    [(lambda job: job, "in its array there"), (lambda job: {"job": job}, "in its job.array there")],
)
def test_a_job_that_is_posted_as_its_array_is_told_what_to_put_there(
    wrap: Callable[[Json], Json], told: str
) -> None:
    refusals: list[Refusal] = []
    job = {**slate(), "array": wrap(tansy())}
    assert schema_of(JobSchema).check(job, (), refusals) is BROKEN
    (one,) = refusals
    assert one.place == ("array",)
    assert told in one.detail
