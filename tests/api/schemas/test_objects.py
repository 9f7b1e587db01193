"""Objects are read strictly: fields, ranges, company and choices, each fault at its place."""

import time
from typing import Any

import pytest

from api.refusals import BROKEN, Place, Refusal, RefusedError
from api.schemas.fields import Choice, Flag, Integer, Number, Text
from api.schemas.objects import ListOf, Nested, StrictSchema, schema_of


class OneSchema(StrictSchema):
    length_m = Number(required=True, minimum=0, maximum=10)


class OtherSchema(StrictSchema):
    coils = Integer(minimum=1, maximum=9, load_default=1)


class WrappedSchema(StrictSchema):
    one_of = ("one", "other")
    what = "a thing"
    why = 'It is written {"one": {"length_m": 2}}.'
    one = Nested(lambda: OneSchema)
    other = Nested(lambda: OtherSchema)
    note = Text()


class FlatSchema(StrictSchema):
    one_of = ("heat_kw", "flow_l_s")
    goes_with = {"note": ("flow_l_s",)}  # noqa: RUF012
    together = (("low_c", "high_c"),)
    apart = (("low_c", "wet"),)
    what = "the flat thing"
    why = "Once is enough."
    heat_kw = Number(minimum=0, maximum=9)
    flow_l_s = Number(minimum=0, maximum=9)
    low_c = Number(minimum=-9, maximum=9)
    high_c = Number(minimum=-9, maximum=9)
    wet = Flag()
    note = Text()
    kind = Choice(("hot", "cold"), component="Kind")
    things = ListOf(Nested(lambda: WrappedSchema), shortest=1, longest=3)


def refused(kind: type[StrictSchema], value: Any) -> dict[Place, Refusal]:
    found: list[Refusal] = []
    schema_of(kind).check(value, (), found)
    return {each.place: each for each in found}


def test_an_object_without_faults_is_read_with_its_defaults() -> None:
    assert schema_of(WrappedSchema).load({"other": {}, "note": "x"}) == {
        "other": {"coils": 1},
        "note": "x",
    }


@pytest.mark.parametrize(
    "value",
    [
        {},
        {"note": "x"},
        {"length_m": 2},
        {"kind": "one", "length_m": 2, "coils": 3},
        {"one_m": 2},
    ],
)
def test_a_wrapped_choice_without_its_wrapping_is_told_how_it_is_written(value: Any) -> None:
    found = refused(WrappedSchema, value)
    assert 'It is written {"one": {"length_m": 2}}.' in found[()].detail
    assert found[()].allowed == "exactly one of one, other"
    assert schema_of(WrappedSchema).check(value, (), []) is BROKEN


def test_a_choice_written_flat_is_told_as_it_is_to_be_written() -> None:
    for key in ("kind", "type"):
        found = refused(WrappedSchema, {key: "one", "length_m": 7})
        assert set(found) == {()}
        assert found[()].detail == 'A thing is written by its kind: {"one": {"length_m": 7}}.'
    bare = refused(WrappedSchema, {"one": 7})
    assert 'Write {"length_m": 7}.' in bare[("one",)].detail


def test_a_choice_that_is_null_stands_beside_one_that_is_given() -> None:
    found = refused(FlatSchema, {"heat_kw": 1, "flow_l_s": None})
    assert set(found) == {("flow_l_s",)}
    assert schema_of(WrappedSchema).check({"one": {"length_m": 1}, "other": None}, (), []) is BROKEN


def test_a_misspelt_choice_is_recognised() -> None:
    found = refused(WrappedSchema, {"othr": {}})
    assert "did you mean 'other'?" in found[("othr",)].detail
    assert () in found


def test_several_choices_are_refused_each() -> None:
    found = refused(WrappedSchema, {"one": {"length_m": 1}, "other": {}})
    assert set(found) == {("one",), ("other",)}
    assert all("A thing has one and other" in each.detail for each in found.values())


def test_a_field_beside_the_object_that_it_belongs_in_is_told_so() -> None:
    found = refused(WrappedSchema, {"other": {}, "length_m": 3})
    assert "within one" in found[("length_m",)].detail


def test_faults_within_a_choice_are_found_beside_the_choice_s_own() -> None:
    found = refused(WrappedSchema, {"one": {"length_m": -1}, "other": {"coils": 0}})
    assert {("one", "length_m"), ("other", "coils"), ("one",), ("other",)} == set(found)


@pytest.mark.parametrize(
    ("value", "places"),
    [
        ({"heat_kw": 1, "flow_l_s": 1}, {("heat_kw",), ("flow_l_s",)}),
        ({"heat_kw": 1, "note": "x"}, {("note",)}),
        ({"flow_l_s": 1, "note": "x"}, set()),
        ({"heat_kw": 1, "low_c": 1}, {("high_c",)}),
        ({"heat_kw": 1, "low_c": 1, "high_c": 2, "wet": True}, {("low_c",), ("wet",)}),
        ({"heat_kw": 1, "kind": "warm"}, {("kind",)}),
        ({"heat_kw": 1, "things": []}, {("things",)}),
        ({"heat_kw": 1, "things": [{"other": {}}] * 4}, {("things",)}),
        ({"heat_kw": 1, "things": [{"other": {}}, {}]}, {("things", 1)}),
    ],
)
def test_company_is_kept(value: Any, places: set[Place]) -> None:
    assert set(refused(FlatSchema, value)) == places


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("heat_w", "give heat_kw, in kW (3 · 0.001 = 0.003)"),
        ("flow_m3_h", "give flow_l_s, in L/s (3 · 0.2778 = 0.8333)"),
        ("low_f", "give low_c, in °C ((3 - 32) / 1.8 = -16.11)"),
        ("flw_l_min", "did you mean 'flow_l_s', in L/s (3 · 0.01667 = 0.05)?"),
        ("low_temperature_f", "did you mean 'low_c', in °C ((3 - 32) / 1.8 = -16.11)?"),
        ("low_temperature_k", "did you mean 'low_c', in °C (3 - 273.15 = -270.1)?"),
        ("heat_from_low_w", "did you mean 'heat_kw', in kW (3 · 0.001 = 0.003)?"),
        ("flow_kpa", "is no field of this object."),
        ("low_bar", "is no field of this object."),
        ("flow_l_m", "give flow_l_s, in L/s."),
        ("heatt_kw", "did you mean 'heat_kw'?"),
        ("mass_flow_kg_s", "give flow_l_s, in L/s: mass flow over the fluid's density."),
        ("heat_mw", "give heat_kw, in kW (3 · 1000 = 3000)"),
        ("heat_MW", "give heat_kw, in kW (3 · 1000 = 3000)"),
        ("heat_tons", "give heat_kw, in kW (3 · 3.517 = 10.55)"),  # 12,000 Btu/h each
        ("heat_tr", "give heat_kw, the number in kW."),
    ],
)
def test_a_number_in_another_unit_is_told_which_to_give(name: str, said: str) -> None:
    assert said in refused(FlatSchema, {"heat_kw": 1, name: 3})[(name,)].detail


@pytest.mark.parametrize(
    ("field", "what"),
    [("heat_kw", "from 0 to 9 kW"), ("wet", "true or false"), ("note", "text"),
     ("kind", "one of hot, cold"), ("things", "a list")],
)  # fmt: skip
def test_null_is_to_be_left_out(field: str, what: str) -> None:
    base = {} if field == "heat_kw" else {"flow_l_s": 1}
    detail = refused(FlatSchema, {**base, field: None})[(field,)].detail
    assert "is null; leave the field out" in detail
    assert what in detail


def test_a_required_field_is_not_to_be_left_out_where_it_is_null() -> None:
    detail = refused(OneSchema, {"length_m": None})[("length_m",)].detail
    assert "leave" not in detail


def test_a_null_object_is_to_be_left_out() -> None:
    found = refused(FlatSchema, {"heat_kw": 1, "things": [None]})
    assert "null" in found[("things", 0)].detail


@pytest.mark.parametrize(
    ("text", "meant"),
    [("8,4", "8.4"), ("8.4", "8.4"), ("ten", "marks."), ("1,250", "marks."), ("1,25", ": 1.25.")],
)
def test_a_number_in_text_is_told_how_it_is_written(text: str, meant: str) -> None:
    detail = refused(OneSchema, {"length_m": text})[("length_m",)].detail
    assert "a JSON number, with a point and without quotation marks" in detail
    assert meant in detail


@pytest.mark.parametrize(("given", "read"), [(2.0, 2), (2, 2), (9.0, 9)])
def test_a_whole_number_may_have_a_point(given: float, read: int) -> None:
    found = schema_of(OtherSchema).load({"coils": given})["coils"]
    assert found == read
    assert type(found) is int


@pytest.mark.parametrize("wrong", [1.5, "2", True, 0, -1, 10, 1e30, float("inf"), float("nan"), []])
def test_a_whole_number_is_nothing_else(wrong: Any) -> None:
    assert set(refused(OtherSchema, {"coils": wrong})) == {("coils",)}


@pytest.mark.parametrize("value", [None, [], "x", 3, True])
def test_what_is_no_object_is_refused(value: Any) -> None:
    assert set(refused(OneSchema, value)) == {()}
    with pytest.raises(RefusedError):
        schema_of(OneSchema).load(value)


@pytest.mark.parametrize("kind", [FlatSchema, WrappedSchema])
def test_a_hundred_thousand_unknown_names_take_no_longer_than_so_many_known(
    kind: type[StrictSchema],
) -> None:
    value = {f"flow_{number}_m3_h": number for number in range(100_000)}
    began = time.perf_counter()
    refused(kind, value)
    assert time.perf_counter() - began < 5  # s; a suggestion each would take minutes
