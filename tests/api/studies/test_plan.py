"""A study is read, counted and refused before anything of it runs."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from api.refusals import RefusedError, pointer
from api.settings import Settings
from api.studies.plan import Plan, parts_of, plan_of
from tests.api.conftest import SMALLEST

LENGTH = "/array/branches/0/loop/legs/0/straight/length_m"
STRENGTH = "/antifreeze/concentration_percent"


def study(*variations: Any, **more: Any) -> dict[str, Any]:
    return {
        "calculation": "split",
        "job": copy.deepcopy(SMALLEST),
        "variations": list(variations),
        "results": ["/pump/head_kpa"],
        **more,
    }


def read(*variations: Any, **more: Any) -> Plan:
    return plan_of(study(*variations, **more), Settings())


def refused(body: Any, **limits: Any) -> dict[str, str]:
    with pytest.raises(RefusedError) as caught:
        plan_of(body, Settings(**limits))
    return {pointer(each.place): each.detail for each in caught.value.refusals}


def test_axes_make_a_grid_whose_last_changes_first() -> None:
    plan = read(
        {"listed": {"at": STRENGTH, "values": [20, 30]}},
        {"range": {"at": LENGTH, "min": 100, "max": 200, "count": 3}},
    )
    assert plan.cases == 6
    expected = [(s, x) for s in (20, 30) for x in (100.0, 150.0, 200.0)]
    assert list(plan.varied(range(6))) == expected
    assert list(plan.varied([4, 1])) == [expected[4], expected[1]]


def test_paired_values_change_together() -> None:
    plan = read({"paired": {"at": [STRENGTH, "/name"], "values": [[20, "a"], [30, "b"]]}})
    assert list(plan.varied(range(2))) == [(20, "a"), (30, "b")]
    assert plan.are_numbers == (True, False)


def test_sampled_values_lie_in_their_ranges_and_are_those_of_the_seed() -> None:
    places = [{"at": LENGTH, "min": 150, "max": 250}, {"at": STRENGTH, "values": [20, 25, 30]}]
    sampled = {"method": "latin_hypercube", "points": 9, "seed": 3, "places": places}
    first, again = (list(read({"sampled": sampled}).varied(range(9))) for _ in range(2))
    assert first == again
    # One point in each layer: of nine, one in every ninth of the range, and each value thrice.
    assert sorted(int((x - 150) / 100 * 9) for x, _ in first) == list(range(9))
    assert sorted(s for _, s in first) == [20] * 3 + [25] * 3 + [30] * 3


def test_the_job_of_a_case_has_its_values_and_shares_the_rest() -> None:
    body = study({"listed": {"at": LENGTH, "values": [111, 222]}})
    before = copy.deepcopy(body["job"])
    one, two = Plan(body | {"name": ""}).jobs(range(2))
    assert one["array"]["branches"][0]["loop"]["legs"][0]["straight"] == {"length_m": 111}
    assert two["array"]["branches"][0]["loop"]["legs"][0]["straight"] == {"length_m": 222}
    assert one["array"]["branches"][1] is two["array"]["branches"][1]
    assert body["job"] == before


def test_a_pointer_is_read_as_rfc_6901_says() -> None:
    # The examples of RFC 6901, section 5.
    assert [parts_of(each) for each in ("/foo/0", "/", "/a~1b", "/m~0n", "/ ", "/k\"l")] == [
        ("foo", 0), ("",), ("a/b",), ("m~n",), (" ",), ("k\"l",),
    ]  # fmt: skip
    assert parts_of("/~01") == ("~1",)


def test_more_cases_than_the_setting_allows_are_refused_with_how_they_come_about() -> None:
    body = study(
        {"listed": {"at": STRENGTH, "values": [20, 30]}},
        {"range": {"at": LENGTH, "min": 1, "max": 2, "count": 51}},
    )
    told = refused(body, max_study_cases=100)
    assert "102 cases (2 x 51)" in told["/variations"]
    assert plan_of(body, Settings(max_study_cases=102)).cases == 102


SAMPLED: dict[str, Any] = {
    "method": "sobol", "points": 8, "places": [{"at": LENGTH, "min": 1, "max": 2}],
}  # fmt: skip


@pytest.mark.parametrize(
    ("variations", "place", "says"),
    [
        ([], "/variations", "0 items"),
        ([{"listed": {"at": "/array/branches/7/count", "values": [1]}}], "/variations/0",
         "nothing"),
        ([{"listed": {"at": "/limit", "values": [1]}}], "/variations/0",
         "A job has no limit; did you mean 'limits'?"),
        ([{"listed": {"at": "/", "values": [1]}}], "/variations/0", "A job has no ''."),
        ([{"listed": {"at": "/duty/heat_kw\0", "values": [1]}}], "/variations/0",
         r"/duty has no 'heat_kw\x00'"),
        ([{"listed": {"at": "/array/branches/0/cuont", "values": [1]}}], "/variations/0",
         "/array/branches/0 has no cuont; did you mean 'count'?"),
        ([{"listed": {"at": "/name/x", "values": [1]}}], "/variations/0",
         "nothing at /name/x"),
        ([{"listed": {"at": "duty", "values": [1]}}], "/variations/0/listed/at", "JSON Pointer"),
        ([{"listed": {"at": "/duty", "values": [{}]}}, {"listed": {"at": "/duty/flow_l_s",
           "values": [1]}}], "/variations/1", "varied already"),
        ([{"range": {"at": LENGTH, "min": 2, "max": 1, "count": 3}}],
         "/variations/0/range/max", "greater"),
        ([{"paired": {"at": [LENGTH, STRENGTH], "values": [[1, 2], [1, 2, 3]]}}],
         "/variations/0/paired/values/1", "3 values for 2 places"),
        ([{"sampled": {**SAMPLED, "points": 9}}], "/variations/0/sampled/points", "power of two"),
        ([{"sampled": {**SAMPLED, "places": [{"at": LENGTH}]}}],
         "/variations/0/sampled/places/0", "min and max, or values"),
        ([{"sampled": {**SAMPLED, "places": [{"at": LENGTH, "min": 1}]}}],
         "/variations/0/sampled/places/0/max", "missing"),
    ],
)  # fmt: skip
def test_what_cannot_be_varied_is_refused_at_its_place(
    variations: Any, place: str, says: str
) -> None:
    assert says in refused(study(*variations))[place]


@pytest.mark.parametrize(
    ("at", "says"),
    [
        ("/pump/heads_kpa", "did you mean 'head_kpa'"),
        ("/loops/flow_l_s", "give the number of an item"),
        ("/loops/0", "a whole object"),
        ("/loops", "a whole list"),
        ("/pump/head_kpa/x", "No answer has x"),
    ],
)
def test_a_result_that_no_answer_has_is_refused_before_anything_runs(at: str, says: str) -> None:
    body = study({"listed": {"at": STRENGTH, "values": [20]}}, results=["/pump/head_kpa", at])
    assert says in refused(body)["/results/1"]


def test_a_result_is_asked_for_once() -> None:
    twice = ["/pump/head_kpa", "/pump/flow_l_s", "/pump/head_kpa"]
    told = refused(study({"listed": {"at": STRENGTH, "values": [20]}}, results=twice))
    assert list(told) == ["/results/2"]
    assert "as result 0" in told["/results/2"]
