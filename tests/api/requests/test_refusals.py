"""Each wrong value of a request is refused at its place, with what is allowed, all at once."""

import copy
import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from api.refusals import pointer, shown
from api.service.problems import MOST_SHOWN
from tests.api.conftest import Json, Solve, errors_of

BRANCH = "/array/branches/0"
LEG = f"{BRANCH}/loop/legs/0"


def _loop(job: Json, number: int = 0) -> Json:
    loop: Json = job["array"]["branches"][number]["loop"]
    return loop


def test_all_faults_are_listed_at_once_schema_and_engine_together(solve: Solve, job: Json) -> None:
    job["antifreeze"]["concentration_percent"] = 99  # outside the correlation: the engine's
    job["limits"] = {"max_deviation_percent": "10"}  # no number: the schema's
    _loop(job)["legs"] = [{"straight": {"length_m": -1}}]
    _loop(job, 1)["pipe"] = "PE100 SDR11 33"
    job["pipes"] = [{"name": "inside out", "bore_mm": 40, "outside_diameter_mm": 30}]
    job["plant"] = {
        "heat_exchanger": [{"flow_l_s": 1, "drop_kpa": 9}, {"flow_l_s": 2, "drop_kpa": 8}],
        "runs": [{"pipe": "inside out", "length_m": 1}],
    }
    answer = solve(job)
    assert answer.status_code == 422
    assert set(errors_of(answer)) == {
        "/antifreeze/concentration_percent", "/limits/max_deviation_percent",
        f"{LEG}/straight/length_m", "/array/branches/1/loop/pipe",
        "/plant/heat_exchanger", "/pipes/0/outside_diameter_mm",
    }  # fmt: skip


@pytest.mark.parametrize(
    "wrong", [True, False, "12", "", None, [], {}, [1], -1e400, 1e400, 10**30, -(10**400)]
)
def test_a_number_is_a_finite_json_number_within_its_range(
    client: FlaskClient, job: Json, wrong: Any
) -> None:
    _loop(job)["legs"][0]["straight"]["length_m"] = "@"
    text = json.dumps(job).replace('"@"', "1e999" if wrong == 1e400 else
                                   "-1e999" if wrong == -1e400 else json.dumps(wrong))  # fmt: skip
    answer = client.post("/v1/split", data=text, content_type="application/json")
    assert answer.status_code == 422
    error = errors_of(answer)[f"{LEG}/straight/length_m"]
    assert error["allowed"] == "from 0 to 10,000 m"
    assert "length_m" in error["detail"]
    assert len(json.dumps(error)) < 400


@pytest.mark.parametrize("told", ["1e400", "-1e400"])
def test_a_whole_number_too_large_to_hold_is_told_so(
    client: FlaskClient, job: Json, told: str
) -> None:
    job["array"]["branches"][0]["count"] = "@"
    body = json.dumps(job).replace('"@"', told)
    answer = client.post("/v1/split", data=body, content_type="application/json")
    assert answer.status_code == 422
    detail = errors_of(answer)[f"{BRANCH}/count"]["detail"]
    assert detail == "count is too large to hold; it must be a whole number."


@pytest.mark.parametrize("wrong", [1.5, "2", True, None, 0, -1])
def test_a_count_is_a_whole_number_of_one_or_more(solve: Solve, job: Json, wrong: Any) -> None:
    job["array"]["branches"][0]["count"] = wrong
    answer = solve(job)
    assert answer.status_code == 422
    assert list(errors_of(answer)) == [f"{BRANCH}/count"]


@pytest.mark.parametrize("wrong", ["", " ", "\t", "a\nb", "a\x00", "x" * 81, "a\u202eb", 1, None,
                                   "\u2028", "T\u200e1", "\ufeff", ["T1"],
                                   "a\u00adb", "a\u2060b", "a\u3164b", "a\U000e0041b",
                                   # A pattern without dots, and signs that are no characters
                                   # (Unicode, section 23.7, from memory).
                                   "\u2800", "a\ufdd0", "a\ufdef", "a\ufffe", "a\uffff",
                                   "a\U0001fffe", "a\U0010ffff"])  # fmt: skip
def test_a_name_is_one_visible_line(solve: Solve, job: Json, wrong: Any) -> None:
    _loop(job)["name"] = wrong
    answer = solve(job)
    assert answer.status_code == 422
    assert list(errors_of(answer)) == [f"{BRANCH}/loop/name"]


@pytest.mark.parametrize("name", ["T1", "Schleife süd 3", "池 2", "A/B~C", "x" * 80, "<b>&"])
def test_a_name_may_be_any_text_and_comes_back_unchanged(
    solve: Solve, job: Json, name: str
) -> None:
    job["name"] = _loop(job)["name"] = name
    content = solve(job).get_json()
    assert content["loops"][0]["loop"] == name
    assert content["name"] == name


@pytest.mark.parametrize(
    ("place", "wrong", "nearest"),
    [
        ((), "antifreze", "antifreeze"),
        (("duty",), "to_grond_c", "to_ground_c"),
        (("array",), "header_pip", "header_pipe"),
        (("array", "branches", 0), "fitings", "fittings"),
        (("array", "branches", 0, "loop", "legs", 0), "pipes", "pipe"),
    ],
)
def test_an_unknown_field_is_refused_with_the_nearest_known_name(
    solve: Solve, job: Json, place: tuple[str | int, ...], wrong: str, nearest: str
) -> None:
    target: Any = job
    for part in place:
        target = target[part]
    target[wrong] = 1
    error = errors_of(solve(job))[pointer((*place, wrong))]
    assert f"did you mean '{nearest}'?" in error["detail"]


@pytest.mark.parametrize(
    "leg", [{"straight_m": 25}, {"kind": "straight", "length_m": 25}, {"length_m": 25}, {}]
)
def test_a_leg_that_is_not_wrapped_is_told_how_it_is_written(
    solve: Solve, job: Json, leg: Json
) -> None:
    _loop(job)["legs"] = [leg]
    error = errors_of(solve(job))[LEG]
    assert '{"straight": {"length_m": 25}}' in error["detail"]
    assert "exactly one of straight, slinky" in error["allowed"]


def test_a_branch_whose_loop_is_a_name_is_told_what_stands_in_the_loop(
    solve: Solve, job: Json
) -> None:
    job["array"]["branches"][0] = {"loop": "A", **_loop(job)}
    errors = errors_of(solve(job))
    assert set(errors) == {f"{BRANCH}/{name}" for name in ("loop", "name", "pipe", "legs")}
    assert "within loop" in errors[f"{BRANCH}/pipe"]["detail"]


def test_a_pipe_described_where_it_is_laid_is_told_where_to_describe_it(
    solve: Solve, job: Json
) -> None:
    _loop(job)["pipe"] = {"bore_mm": 26, "outside_diameter_mm": 32}
    assert "in the job's pipes" in errors_of(solve(job))[f"{BRANCH}/loop/pipe"]["detail"]


@pytest.mark.parametrize(
    ("duty", "at"),
    [
        ({"heat_kw": 5, "flow_l_s": 0.4}, {"/duty/heat_kw", "/duty/flow_l_s"}),
        ({"heat_kw": 5, "pump_curve": [{"flow_l_s": 0, "head_m": 3}, {"flow_l_s": 1, "head_m": 1}]},
         {"/duty/heat_kw", "/duty/pump_curve"}),
    ],
)  # fmt: skip
def test_an_over_determined_duty_is_refused_with_the_reason(
    solve: Solve, job: Json, duty: Json, at: set[str]
) -> None:
    job["duty"] = {"to_ground_c": -1, "from_ground_c": 2, **duty}
    errors = errors_of(solve(job))
    assert set(errors) == at
    assert all("contradict" in error["detail"] for error in errors.values())


@pytest.mark.parametrize("missing", ["antifreeze", "duty", "array"])
def test_a_missing_field_is_named(solve: Solve, job: Json, missing: str) -> None:
    del job[missing]
    error = errors_of(solve(job))[f"/{missing}"]
    assert f"The job has no {missing}" in error["detail"]
    assert "value" not in error


@pytest.mark.parametrize(
    ("change", "at"),
    [
        (lambda a: a.update(branches=[]), "/array/branches"),
        (lambda a: a.update(branches={}), "/array/branches"),
        (lambda a: a["branches"][0]["loop"].update(legs=[]), f"{BRANCH}/loop/legs"),
        (lambda a: a["branches"][0]["loop"].update(legs=[{"straight": {"length_m": 5e-324}}]),
         f"{BRANCH}/loop/legs"),
        (lambda a: a["branches"][0].update(circuit={}), f"{BRANCH}/circuit"),
        (lambda a: a.update(arrangement="manifolds"), "/array/arrangement"),
        (lambda a: a["branches"][1]["loop"].update(name="A"), "/array/branches/1/loop/name"),
        (lambda a: a["branches"][0]["loop"].update(pipe=32), f"{BRANCH}/loop/pipe"),
        (lambda a: a["branches"][0].update(fittings=[{"kind": "elbow"}]),
         f"{BRANCH}/fittings/0/kind"),
        (lambda a: a["branches"][0].update(fittings=[{"kind": "elbow_90", "kv_m3_h": 4}]),
         f"{BRANCH}/fittings/0/kv_m3_h"),
        (lambda a: a["branches"][0].update(fittings=[{"count": 2}]), f"{BRANCH}/fittings/0"),
        (lambda a: a["branches"][0].update(fittings=[{"kv_m3_h": 0}]),
         f"{BRANCH}/fittings/0/kv_m3_h"),
        (lambda a: a["branches"][0].update(fittings=[{"kind": "elbow_90", "position": 2}]),
         f"{BRANCH}/fittings/0/position"),
        (lambda a: a["branches"][0].update(runs=[{"length_m": 3}]), f"{BRANCH}/runs/0/pipe"),
        (lambda a: a["branches"][0].update(count=2_000_000), f"{BRANCH}/count"),
    ],
)  # fmt: skip
def test_an_array_that_cannot_be_is_refused_at_its_place(
    solve: Solve, job: Json, change: Any, at: str
) -> None:
    change(job["array"])
    answer = solve(job)
    assert answer.status_code == 422
    assert at in errors_of(answer)


def test_the_value_shown_is_the_request_s_own_not_the_engine_s(solve: Solve, job: Json) -> None:
    job["pipes"] = [{"name": "x", "bore_mm": 40, "outside_diameter_mm": 30}]
    assert errors_of(solve(job))["/pipes/0/outside_diameter_mm"]["value"] == 30


@pytest.mark.parametrize(
    ("duty", "at"),
    [
        ({"flow_l_s": 0.4, "to_ground_c": -20, "from_ground_c": 2},
         {"/duty/to_ground_c"}),
        ({"flow_l_s": 0.4, "to_ground_c": -20, "from_ground_c": -19},
         {"/duty/to_ground_c", "/duty/from_ground_c"}),
        ({"flow_l_s": 0.4, "to_ground_c": 2, "from_ground_c": 149},
         {"/duty/from_ground_c"}),
    ],
)  # fmt: skip
def test_a_frozen_or_boiling_fluid_is_outside_the_range_at_its_temperature(
    solve: Solve, job: Json, duty: Json, at: set[str]
) -> None:
    job["duty"] = duty
    answer = solve(job)
    assert answer.status_code == 422
    assert answer.get_json(force=True)["type"] == "/v1/problems/outside-range"
    assert set(errors_of(answer)) == at


# Per cent, hertz or a stage of three; pumps of mains frequency run at 3,000 or 3,600 rpm over
# half their poles' number, and geared or driven ones not below a tenth of it (common practice).
@pytest.mark.parametrize("field", ["speed_rpm", "min_speed_rpm", "table"])
@pytest.mark.parametrize("number", [100, 50, 3, 0.8])
def test_a_speed_that_is_no_number_of_revolutions_is_refused_with_a_hint(
    solve: Solve, job: Json, field: str, number: float
) -> None:
    points = [{"flow_l_s": q, "head_m": 6 - q, "power_w": 100} for q in (0, 1, 2)]
    pump: Json = {"name": "P", "tables": [{"speed_rpm": 2900, "points": points}]}
    job["pump"] = pump
    assert solve(job).status_code == 200
    (pump["tables"][0] if field == "table" else pump)[field.replace("table", "speed_rpm")] = number
    answer = solve(job)
    assert answer.status_code == 422
    (error,) = errors_of(answer).values()
    assert "more than 200 1/min" in error["detail"]
    assert "2900 and not 100 %" in error["detail"]


def test_a_pump_that_cannot_reach_the_system_is_no_solution(solve: Solve, job: Json) -> None:
    job["duty"] = {"pump_curve": [{"flow_l_s": 5, "head_m": 3}, {"flow_l_s": 6, "head_m": 2}],
                   "to_ground_c": -1, "from_ground_c": 2}  # fmt: skip
    answer = solve(job)
    assert answer.status_code == 422
    assert answer.get_json(force=True)["type"] == "/v1/problems/no-solution"


def test_a_million_loops_by_count_are_refused_without_being_built(solve: Solve, job: Json) -> None:
    job["array"]["branches"][0]["count"] = 1_000_000
    error = errors_of(solve(job))["/array"]
    assert "1,000,001 loops" in error["detail"]


def test_counts_in_nested_circuits_multiply_and_are_refused_without_being_built(
    solve: Solve, job: Json
) -> None:
    for _ in range(8):
        job["array"] = {"arrangement": "manifold",
                        "branches": [{"circuit": job["array"], "count": 1_000_000}]}  # fmt: skip
    assert errors_of(solve(job))["/array"]["allowed"] == "4,000 loops or fewer"


def test_circuits_nest_as_deep_as_json_may(solve: Solve, job: Json) -> None:
    def nest(levels: int) -> Json:
        deep = copy.deepcopy(job)
        for _ in range(levels):
            deep["array"] = {"arrangement": "manifold", "branches": [{"circuit": deep["array"]}]}
        return deep

    assert solve(nest(18)).status_code == 200
    answer = solve(nest(30))
    assert answer.status_code == 400
    assert answer.get_json(force=True)["type"] == "/v1/problems/nested-too-deep"


def test_many_faults_are_counted_and_the_first_listed(solve: Solve, job: Json) -> None:
    leg = {"straight": {"length_m": -1}}
    job["array"]["branches"] = [
        {"loop": {"name": f"T{i}", "pipe": "PE100 SDR11 32", "legs": [leg]}}
        for i in range(MOST_SHOWN + 50)
    ]
    content = solve(job).get_json(force=True)
    assert len(content["errors"]) == MOST_SHOWN
    assert f"of {MOST_SHOWN + 50}" in content["detail"]


def test_a_pointer_escapes_what_rfc_6901_says() -> None:
    assert pointer(("a/b", "m~n", "", 0)) == "/a~1b/m~0n//0"  # RFC 6901 (from memory)


@pytest.mark.parametrize("value", ["x" * 10_000, 10**4_000, [[]] * 10_000, {"a": "b" * 10_000}])
def test_a_long_value_is_shown_short(value: Any) -> None:
    assert len(str(shown(value))) <= 80


def test_plain_water_takes_no_antifreeze(solve: Solve, job: Json) -> None:
    job["antifreeze"] = {"kind": "water", "concentration_percent": 5, "basis": "mass"}
    job["duty"] = {"flow_l_s": 0.4, "to_ground_c": 4, "from_ground_c": 8}
    assert set(errors_of(solve(job))) == {"/antifreeze/concentration_percent"}


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        ("glycol", "; did you mean 'ethylene_glycol' or 'propylene_glycol'?"),
        ("Glycols", "; did you mean 'ethylene_glycol' or 'propylene_glycol'?"),
        ("propylene", "; did you mean 'propylene_glycol'?"),
        ("potassium", "'potassium_carbonate', 'potassium_formate' or 'potassium_acetate'?"),
        ("ethylen glycol", "; did you mean 'ethylene_glycol'?"),
        ("alcohol", "; did you mean 'ethanol' or 'methanol'?"),
        ("MEG", "; did you mean 'ethylene_glycol'?"),
        ("brine", "'propylene_glycol', 'ethylene_glycol', 'ethanol' or 'calcium_chloride'?"),
        ("vodka", "which is not one of the choices."),
    ],
)
def test_a_kind_that_may_be_several_is_told_each(
    solve: Solve, job: Json, kind: str, told: str
) -> None:
    # Of 'glycol' glycerol was meant, which is another.
    job["antifreeze"]["kind"] = kind
    (error,) = errors_of(solve(job)).values()
    assert error["detail"].endswith(told)


def test_a_salt_has_no_strength_by_volume(client: FlaskClient) -> None:
    body = {"kind": "calcium_chloride", "basis": "volume", "concentrations_percent": [10, 20],
            "temperatures_c": [0]}  # fmt: skip
    answer = client.post("/v1/fluid-properties", json=body)
    assert set(errors_of(answer)) == {"/basis"}


@pytest.mark.parametrize("name", ["PE100 SDR11 40 ", "PE100 SDR11 40x", "PE100 SDR 11 40"])
def test_a_pipe_written_amiss_is_taken_for_the_nearest_of_all_pipes(
    solve: Solve, job: Json, name: str
) -> None:
    # The job's own loops are of 32 mm; the pipe that was meant is none of those that it names.
    assert _loop(job)["pipe"] == "PE100 SDR11 32"
    job["array"]["branches"][1]["loop"]["pipe"] = name
    (error,) = errors_of(solve(job)).values()
    assert "did you mean 'PE100 SDR11 40'?" in error["detail"]


def test_a_body_of_null_cannot_be_left_out(client: FlaskClient) -> None:
    answer = client.post("/v1/split", data="null", content_type="application/json")
    (error,) = errors_of(answer).values()
    assert error["detail"].endswith("is null; give an object in braces.")


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/v1/split", {"antifreeze": {}, "array": {}, "duty": {}}),
        ("/v1/split", {"array": {"arrangement": "manifold", "branches": [{"loop": {}}]}}),
        ("/v1/split", {"plant": {"runs": [{}]}, "pipes": [{}]}),
        ("/v1/sizing", {"heat": {}, "ground": {}, "sizing": {}}),
        ("/v1/commissioning", {"commissioning": {}}),
        ("/v1/groundworks", {"groundworks": {}, "ground": {}}),
        ("/v1/pump-choice", {"pump_choice": {"candidates": [{}]}}),
        ("/v1/fluid-properties", {}),
        ("/v1/splits", {}),
        ("/v1/split", []),
    ],
)
def test_every_error_says_what_is_allowed(client: FlaskClient, path: str, body: Any) -> None:
    problem = json.loads(client.post(path, json=body).data)
    assert problem["errors"]
    for error in problem["errors"]:
        assert error.get("allowed"), error


@pytest.mark.parametrize("path", ["setting-out", "setting-out.svg", "designs", "groundworks"])
@pytest.mark.parametrize("ground", [{}, {"soil": "clay"}])
def test_a_trench_of_benches_and_slope_is_refused_whether_its_digging_is_asked_for_or_not(
    client: FlaskClient, job: Json, path: str, ground: Json
) -> None:
    slinky = {"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1, "depth_m": 1.2}}
    loop = {"name": "T", "pipe": "PE100 SDR11 32", "legs": [slinky]}
    job["array"] = {"arrangement": "manifold", "branches": [{"count": 3, "loop": loop}]}
    corners = [{"x_m": x, "y_m": y} for x, y in ((0, 0), (80, 0), (80, 50), (0, 50))]
    job["plot"] = {"boundary": corners, "plant_room": corners[0]}
    job["setting_out"] = {"run_pipe": "PE100 SDR11 50"}
    job["ground"] = ground
    trench = {"side_slope": 0.5, "bench_height_m": 0.5, "bench_width_m": 0.6}
    job["groundworks"] = {"trench": {"width_m": 1.2, "depth_m": 1.5, **trench}}
    answer = client.post(f"/v1/{path}", json=job)
    assert answer.status_code == 422
    assert "/groundworks/trench/side_slope" in errors_of(answer)


def test_a_batch_is_told_how_many_jobs_the_service_is_set_to_take(client: FlaskClient) -> None:
    error = json.loads(client.post("/v1/splits", json={"jobs": []}).data)["errors"][0]
    assert error["allowed"] == "1 to 300 items"
    assert "1 to 300 items" in error["detail"]
