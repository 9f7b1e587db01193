"""POST /v1/split: the request reaches the engine whole, and the result comes back whole."""

import copy
import math
from typing import Any

import pytest

from api.refusals import value_at
from tests.api.conftest import Json, Solve, answered

RICH: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"},
    "pipes": [{"name": "own", "bore_mm": 26, "outside_diameter_mm": 32}],
    "plant": {
        "heat_exchanger": [{"flow_l_s": 1.6, "drop_kpa": 14}],
        "heat_exchanger_exponent": 1.9,
        "runs": [{"pipe": "PE100 SDR11 63", "length_m": 20,
                  "fittings": [{"kind": "elbow_90", "count": 4}]}],
        "fittings": [{"kv_m3_h": 20}],
    },
    "array": {
        "arrangement": "reverse_return", "header_pipe": "PE100 SDR11 63", "closing_m": 30,
        "branches": [
            {"header_m": 5, "loop": {"name": "Straight", "pipe": "PE100 SDR11 32", "legs": [
                {"straight": {"length_m": 200}, "fittings": [{"loss_coefficient": 2}]}]}},
            {"header_m": 6, "loop": {"name": "Slinky", "pipe": "PE100 SDR11 32", "legs": [
                {"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}}]}},
            {"header_m": 7, "loop": {"name": "Coiled", "pipe": "PE100 SDR11 32", "legs": [
                {"straight": {"length_m": 150}},
                {"coiled": {"length_m": 40, "coil_diameter_m": 0.8}}]}},
            {"header_m": 8, "count": 2, "loop": {
             "name": "Trench", "pipe": "PE100 SDR11 32", "legs": [
                {"trench": {"length_m": 50, "passes": 4, "turn_diameter_m": 0.6}}]}},
            {"header_m": 9, "loop": {"name": "Mat", "pipe": "PE100 SDR11 32", "legs": [
                {"pond_mat": {"inner_diameter_m": 0.8, "outer_diameter_m": 3,
                              "spacing_m": 0.05}}]}},
            {"header_m": 4, "runs": [{"pipe": "PE100 SDR11 40", "length_m": 12}],
             "fittings": [{"kind": "tee_branch", "count": 2}],
             "circuit": {"name": "Pit", "arrangement": "manifold", "branches": [
                {"fittings": [{"kv_m3_h": 6}], "loop": {
                 "name": "Bore", "pipe": "PE100 SDR11 40", "legs": [
                    {"borehole": {"depth_m": 100}, "fittings": [{"kind": "return_bend"}]}]}},
                {"loop": {"name": "Own", "pipe": "own",
                          "legs": [{"straight": {"length_m": 180}}]}}]}},
        ],
    },
    "duty": {"heat_kw": 20, "to_ground_c": -2, "from_ground_c": 1},
}  # fmt: skip

PIT = "array.branches.5.circuit.branches"
# (where, new value): each is an input of its own, none may be ignored.
VARIED: list[tuple[str, Any]] = [
    ("antifreeze.kind", "ethylene_glycol"), ("antifreeze.concentration_percent", 30),
    ("antifreeze.basis", "volume"), ("duty.heat_kw", 21),
    ("duty.from_ground_c", 1.2), ("duty.to_ground_c", -1),
    ("plant.heat_exchanger.0.flow_l_s", 1.5), ("plant.heat_exchanger.0.drop_kpa", 15),
    ("plant.heat_exchanger_exponent", 1.8),
    ("plant.heat_exchanger", [{"flow_l_s": 1, "drop_kpa": 5}, {"flow_l_s": 2, "drop_kpa": 19}]),
    ("plant.runs.0.pipe", "PE100 SDR17 63"), ("plant.runs.0.length_m", 21),
    ("plant.runs.0.fittings.0.kind", "bend_90"), ("plant.runs.0.fittings.0.count", 5),
    ("plant.fittings.0.kv_m3_h", 21),
    ("array.header_pipe", "PE100 SDR11 75"),
    ("array.closing_m", 31), ("array.branches.0.header_m", 6),
    ("array.branches.2.header_pipe", "PE100 SDR11 50"),
    ("array.branches.2.return_header_pipe", "PE100 SDR11 50"),
    ("array.branches.0.loop.pipe", "PE100 SDR17 32"),
    ("array.branches.0.loop.legs.0.straight.length_m", 210),
    ("array.branches.0.loop.legs.0.pipe", "PE100 SDR17 32"),
    ("array.branches.0.loop.legs.0.fittings.0.loss_coefficient", 20),
    ("array.branches.1.loop.legs.0.slinky.coils", 31),
    ("array.branches.1.loop.legs.0.slinky.coil_diameter_m", 1.1),
    ("array.branches.1.loop.legs.0.slinky.pitch_m", 1.1),
    ("array.branches.1.loop.legs.0.slinky.returns_alongside", False),
    ("array.branches.2.loop.legs.1.coiled.length_m", 45),
    ("array.branches.2.loop.legs.1.coiled.coil_diameter_m", 0.9),
    ("array.branches.3.count", 3), ("array.branches.3.loop.legs.0.trench.length_m", 51),
    ("array.branches.3.loop.legs.0.trench.passes", 3),
    ("array.branches.3.loop.legs.0.trench.turn_diameter_m", 0.9),
    ("array.branches.4.loop.legs.0.pond_mat.inner_diameter_m", 0.9),
    ("array.branches.4.loop.legs.0.pond_mat.outer_diameter_m", 3.1),
    ("array.branches.4.loop.legs.0.pond_mat.spacing_m", 0.06),
    ("array.branches.4.loop.legs.0.pond_mat.count", 2),
    ("array.branches.5.runs.0.length_m", 20), ("array.branches.5.runs.0.pipe", "PE100 SDR11 50"),
    ("array.branches.5.runs.0.fittings", [{"kind": "elbow_90"}]),
    ("array.branches.5.fittings.0.count", 8), ("array.branches.5.count", 2),
    ("array.branches.5.circuit.name", "Sump"), (f"{PIT}.0.loop.name", "Hole"),
    (f"{PIT}.0.fittings.0.kv_m3_h", 7), (f"{PIT}.0.loop.legs.0.borehole.depth_m", 101),
    (f"{PIT}.0.loop.legs.0.borehole.u_tubes", 2), (f"{PIT}.0.loop.legs.0.fittings.0.count", 9),
    (f"{PIT}.1.loop.pipe", "PE100 SDR11 40"),
    ("pipes.0.bore_mm", 27), ("pipes.0.roughness_mm", 0.5),
    ("limits", {"max_deviation_percent": 1}), ("limits", {"min_freezing_margin_k": 20}),
    ("name", "Another"), ("reference", "B-12"),
]  # fmt: skip

# (where, new value): facts for digging and buying, which the water does not feel.
UNFELT: list[tuple[str, Any]] = [
    ("pipes.0.outside_diameter_mm", 33), ("pipes.0.coils_m", [100]),
    ("array.branches.1.loop.legs.0.slinky.depth_m", 1.4),
    ("array.branches.1.loop.legs.0.slinky.upright", True),
    ("array.branches.3.loop.legs.0.trench.depth_m", 1.4),
    ("array.branches.3.loop.legs.0.trench.spacing_m", 0.4),
    (f"{PIT}.0.loop.legs.0.borehole.diameter_mm", 140),
    (f"{PIT}.0.fittings.0.valve", "DN 25 (invented)"), (f"{PIT}.0.fittings.0.position", 2.5),
    ("plant.volume_l", 30), ("plant.run_h", 1000), ("format", 1),
    ("warm", {"to_ground_c": 5, "from_ground_c": 8}),
    ("ground", {"soil": "clay"}), ("groundworks", {}),
    ("pump_choice", {"use_invented_pumps": True}),
]  # fmt: skip


def put(document: Json, where: str, value: Any) -> Json:
    changed = copy.deepcopy(document)
    target: Any = changed
    *parts, last = [int(p) if p.isdigit() else p for p in where.split(".")]
    for part in parts:
        target = target[part]
    target[last] = value
    return changed


@pytest.fixture(scope="module")
def plain() -> Json:
    return answered("/v1/split", RICH)


@pytest.mark.parametrize(("where", "value"), VARIED, ids=[w for w, _ in VARIED])
def test_every_input_moves_the_result(solve: Solve, plain: Json, where: str, value: Any) -> None:
    answer = solve(put(RICH, where, value))
    assert answer.status_code == 200, answer.get_data(as_text=True)
    assert answer.get_json() != plain


def test_an_exponent_without_a_heat_exchanger_is_refused(solve: Solve, job: Json) -> None:
    answer = solve(put(job, "plant", {"heat_exchanger_exponent": 1.8}))
    assert answer.status_code == 422
    (error,) = answer.get_json()["errors"]
    assert error["pointer"] == "/plant/heat_exchanger_exponent"
    assert "give both" in error["detail"]


def test_a_flow_far_beyond_a_heat_exchangers_data_is_refused_there(solve: Solve, job: Json) -> None:
    plant = {"heat_exchanger": [{"flow_l_s": 0.2, "drop_kpa": 3}]}
    answer = solve(put(job, "plant", plant))
    assert answer.status_code == 422
    (error,) = answer.get_json()["errors"]
    assert error["pointer"] == "/plant/heat_exchanger"
    assert "flows up to 0.3 L/s, or an exponent" in error["allowed"]


def test_a_reverse_return_that_does_not_say_comes_back_as_far_as_its_header_is_long(
    solve: Solve,
) -> None:
    left_out = copy.deepcopy(RICH)
    del left_out["array"]["closing_m"]
    answer = solve(left_out).get_json()
    # Along the header: 5 + 6 + 7 + 2 · 8 + 9 + 4 m to the last branch, and as much back.
    assert [each["length_m"] for each in answer["headers"] if each["line"] == "closing"] == [47]
    assert answer == solve(put(RICH, "array.closing_m", 47)).get_json()
    at_the_plant = solve(put(RICH, "array.closing_m", 0)).get_json()
    assert answer["pump"]["head_kpa"] > at_the_plant["pump"]["head_kpa"]


def test_the_arrangement_moves_the_result(solve: Solve) -> None:
    without = put(RICH, "array.closing_m", 0)
    direct = solve(put(without, "array.arrangement", "direct_return")).get_json()
    assert direct["loops"] != solve(without).get_json()["loops"]


@pytest.mark.parametrize(("where", "value"), UNFELT, ids=[w for w, _ in UNFELT])
def test_what_the_water_does_not_feel_moves_nothing(
    solve: Solve, plain: Json, where: str, value: Any
) -> None:
    answer = solve(put(RICH, where, value))
    assert answer.status_code == 200, answer.get_data(as_text=True)

    def without_classes(split: Json) -> Json:  # how deep pipe lies is felt by the pipe's wall
        kept = [e for e in split["findings"] if e["code"] != "pressure_class_unknown"]
        return {**split, "findings": kept}

    assert without_classes(answer.get_json()) == without_classes(plain)


def test_a_default_left_out_is_the_default_written_out(solve: Solve, job: Json) -> None:
    written = put(
        put(job, "limits", {"max_deviation_percent": 10}), "limits.min_freezing_margin_k", 3
    )
    written = put(put(written, "array.branches.0.count", 1), "plant", {})
    assert solve(written).get_json() == solve(job).get_json()


def test_parts_add_up(plain: Json) -> None:
    # Six significant digits of each part: the sum is off by 3 units of the sixth digit at most.
    for loop in plain["loops"]:
        parts = loop["drops"]
        own = sum(parts[f"{part}_drop_kpa"] for part in ("straight", "coil", "fittings"))
        assert own == pytest.approx(loop["drop_kpa"], rel=5e-6)
        assert own + parts["headers_drop_kpa"] == pytest.approx(loop["path_drop_kpa"], rel=5e-6)
        assert loop["path_drop_kpa"] == pytest.approx(
            plain["pump"]["drops"]["array_drop_kpa"], rel=5e-6
        )
    assert sum(loop["share_percent"] for loop in plain["loops"]) == pytest.approx(100, rel=5e-6)
    assert sum(loop["mass_flow_kg_s"] for loop in plain["loops"]) == pytest.approx(
        plain["pump"]["mass_flow_kg_s"], rel=5e-6
    )
    duty = plain["pump"]
    assert sum(duty["drops"].values()) == pytest.approx(duty["head_kpa"], rel=5e-6)


def test_units_are_those_that_the_names_say(plain: Json) -> None:
    # Identities between fields, each with its own unit: a factor of 1000 astray breaks them.
    duty, fluid = plain["pump"], plain["fluid"]["in_loops"]
    density = fluid["density_kg_m3"]
    assert duty["mass_flow_kg_s"] == pytest.approx(duty["flow_l_s"] * density / 1e3, rel=1e-5)
    assert duty["head_kpa"] == pytest.approx(density * 9.80665 * duty["head_m"] / 1e3, rel=1e-5)
    assert duty["hydraulic_power_w"] == pytest.approx(duty["flow_l_s"] * duty["head_kpa"], rel=1e-5)
    heat = duty["mass_flow_kg_s"] * fluid["specific_heat_kj_kg_k"] * 3
    assert heat == pytest.approx(20, rel=1e-5)
    straight = plain["loops"][0]
    bore = 0.026  # 32 mm less two walls of 3.0 mm, EN 12201-2 (from memory)
    area = math.pi * bore**2 / 4
    assert straight["velocity_m_s"] == pytest.approx(straight["flow_l_s"] / 1e3 / area, rel=1e-5)
    reynolds = density * straight["velocity_m_s"] * bore / (fluid["viscosity_mpa_s"] / 1e3)
    assert straight["reynolds"] == pytest.approx(reynolds, rel=1e-5)


def test_lengths_are_those_of_the_geometry(plain: Json) -> None:
    # Hand calculation from the geometry alone.
    length = {loop["loop"]: loop["length_m"] for loop in plain["loops"]}
    assert length["Straight"] == 200
    assert length["Slinky"] == pytest.approx(30 * (math.pi + 2), rel=1e-5)
    assert length["Trench-1"] == length["Trench-2"]
    assert length["Trench-1"] == pytest.approx(200 + 3 * math.pi * 0.3, rel=1e-5)
    assert length["Mat"] == pytest.approx(math.pi / 4 * (3**2 - 0.8**2) / 0.05, rel=1e-5)
    assert length["Pit/Bore"] == 200


def test_equal_loops_are_reported_as_equal(solve: Solve, job: Json) -> None:
    job["array"]["branches"] = [
        {
            "count": 7,
            "loop": {
                "name": "T",
                "pipe": "PE100 SDR11 32",
                "legs": [{"straight": {"length_m": 200}}],
            },
        }
    ]
    content = solve(job).get_json()
    assert {loop["deviation_percent"] for loop in content["loops"]} == {0.0}
    assert content["imbalance"]["spread_percent"] == 0.0
    assert content["imbalance"]["within_tolerance"] is True


def test_every_pointer_of_the_answer_leads_to_a_branch_of_the_request(
    solve: Solve, job: Json
) -> None:
    def follow(where: str) -> Any:
        parts = [int(p) if p.isdigit() else p for p in where.split("/")[1:]]
        return value_at(RICH, tuple(parts))

    content = solve(RICH).get_json()
    for loop in content["loops"]:
        branch = follow(loop["where"])
        assert loop["loop"].split("/")[-1].split("-")[0] == branch["loop"]["name"]
    for finding in content["findings"]:
        assert "where" not in finding or isinstance(follow(finding["where"]), dict)
    assert isinstance(follow(content["residuals"]["max_residual_where"]), dict)


def test_the_residuals_are_within_what_is_promised(plain: Json) -> None:
    assert plain["residuals"]["mass_relative"] <= 1e-9
    assert plain["residuals"]["energy_relative"] <= 1e-6


def test_no_flow_has_no_imbalance(solve: Solve, job: Json) -> None:
    job["duty"]["flow_l_s"] = 0
    content = solve(job).get_json()
    assert "imbalance" not in content
    assert content["pump"]["head_kpa"] == 0
    assert content["findings"][0]["code"] == "no_flow"


def test_a_flow_and_the_heat_that_it_carries_are_the_same_duty(solve: Solve) -> None:
    by_heat = solve(RICH).get_json()
    flow = by_heat["pump"]["flow_l_s"]
    duty = {"flow_l_s": flow, "to_ground_c": -2, "from_ground_c": 1}
    by_flow = solve(put(RICH, "duty", duty)).get_json()
    # The flow was rounded to six digits; a drop goes with its square at most.
    assert by_flow["pump"]["head_kpa"] == pytest.approx(by_heat["pump"]["head_kpa"], rel=1e-5)


def test_a_pump_through_the_duty_point_drives_that_duty(solve: Solve) -> None:
    plain = solve(RICH).get_json()["pump"]
    points = [
        {"flow_l_s": plain["flow_l_s"] * part, "head_m": plain["head_m"] * (2 - part)}
        for part in (0, 0.5, 1, 1.5)
    ]
    duty = {"pump_curve": points, "to_ground_c": -2, "from_ground_c": 1}
    driven = solve(put(RICH, "duty", duty)).get_json()["pump"]
    # The curve passes through the duty point, rounded to six digits.
    assert driven["flow_l_s"] == pytest.approx(plain["flow_l_s"], rel=1e-5)
    assert driven["head_m"] == pytest.approx(plain["head_m"], rel=1e-5)


def test_the_answer_is_the_same_every_time(solve: Solve, plain: Json) -> None:
    assert solve(RICH).get_json() == plain


@pytest.mark.parametrize(
    ("warmest", "words"),
    [
        (8.0, None),
        (20.0, None),
        # EN 12201-1, table A.1 (from memory): 0.87 of the class is left at 30 °C, 0.74 at 40 °C.
        (30.0, "more than PE100 SDR17 40 bears, 8.7 bar at 30 °C"),
        (40.0, "more than PE100 SDR17 40 bears, 7.4 bar at 40 °C"),
        (46.0, "nothing that is published above 40 °C (it becomes 46 °C)"),
    ],
)
def test_pipe_is_judged_by_the_warm_brine_of_a_job_that_names_no_pump(
    warmest: float, words: str | None
) -> None:
    # A column of 88 m of brine (1020 kg/m3: 8.8 bar) and less than 0.2 bar of head on 10 bar pipe.
    job = {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 20, "basis": "mass"},
        "duty": {"heat_kw": 3, "to_ground_c": -2, "from_ground_c": 1},
        "heights": {"min_ground_level_m": 0, "max_ground_level_m": 0, "plant_level_m": 86.8},
        "array": {"arrangement": "manifold", "branches": [
            {"count": 2, "loop": {"name": "T", "pipe": "PE100 SDR17 40", "legs": [
                {"trench": {"length_m": 60, "passes": 2, "depth_m": 1.2}}]}}]},
        "warm": {"to_ground_c": warmest, "from_ground_c": warmest - 4},
    }  # fmt: skip

    def told(answer: Json) -> list[str]:
        found = answer["findings"]
        return [each["message"] for each in found if each["code"] == "pressure_above_class"]

    alone, whole = answered("/v1/split", job), answered("/v1/designs", job)["split"]
    assert told(alone) == told(whole)
    assert [words in each for each in told(alone)] == ([True] if words else [])  # type: ignore[operator]


# --------------------------------------------------------------------------- the pump that runs


@pytest.fixture(scope="module")
def with_pump(plain: Json) -> Json:
    """The answer with a pump at constant speed whose curve passes through the duty."""
    duty = plain["pump"]
    points = [
        {"flow_l_s": duty["flow_l_s"] * part, "head_m": duty["head_m"] * (2 - part),
         "power_w": 200 + 100 * part}
        for part in (0, 0.5, 1, 1.5)
    ]  # fmt: skip
    pump = {"name": "P (invented)", "speed_rpm": 2900, "control": "constant_speed",
            "tables": [{"speed_rpm": 2900, "points": points}]}  # fmt: skip
    warm = {"to_ground_c": 5, "from_ground_c": 8, "hours_percent": 25}
    return answered("/v1/split", {**RICH, "pump": pump, "warm": warm})


def test_a_pump_runs_where_its_curve_meets_the_array(plain: Json, with_pump: Json) -> None:
    cold, warm = with_pump["running"]
    assert (cold["condition"], warm["condition"]) == ("cold", "warm")
    # A pump tested on water loses head on brine as thick as this one (ANSI/HI 9.6.7): it drives
    # less than its table says, and no more than a few per cent less (common practice).
    assert 0.9 < cold["flow_l_s"] / plain["pump"]["flow_l_s"] <= 1.0
    # Warm brine is thinner: the same pump drives more.
    assert warm["flow_l_s"] > cold["flow_l_s"]
    # The duty's 20 kW warm less flow by more: heat = flow x density x specific heat x change.
    fluid = plain["fluid"]["in_loops"]
    heat = fluid["density_kg_m3"] * fluid["specific_heat_kj_kg_k"] * cold["flow_l_s"] / 1e3
    assert heat * cold["temperature_change_k"] == pytest.approx(20, rel=1e-5)
    assert "temperature_change_k" not in warm
    for each in (cold, warm):
        assert each["speed_rpm"] == 2900
        assert each["hydraulic_power_w"] < each["power_w"]
    # 2400 hours a year where the job does not say (common practice), a quarter of them warm.
    assert cold["energy_kwh"] == pytest.approx(cold["power_w"] * 1800 / 1e3, rel=1e-5)
    assert warm["energy_kwh"] == pytest.approx(warm["power_w"] * 600 / 1e3, rel=1e-5)


def test_loops_of_a_running_pump_add_up_to_its_flow(plain: Json, with_pump: Json) -> None:
    assert with_pump["loops"] == plain["loops"]  # at the duty, whatever pump runs
    for each in with_pump["running"]:
        flows = [loop["flow_l_s"] for loop in each["loops"]]
        assert [(loop["loop"], loop["where"]) for loop in each["loops"]] == [
            (loop["loop"], loop["where"]) for loop in plain["loops"]
        ]
        assert sum(flows) == pytest.approx(each["flow_l_s"], rel=1e-5)
        mean = sum(flows) / len(flows)
        for loop in each["loops"]:
            off = 100 * (loop["flow_l_s"] / mean - 1)
            # Six digits of each flow.
            assert loop["deviation_percent"] == pytest.approx(off, abs=2e-3)
        spread = 100 * (max(flows) - min(flows)) / mean
        assert each["spread_percent"] == pytest.approx(spread, abs=2e-3)


def test_without_a_pump_nothing_runs(plain: Json) -> None:
    assert "running" not in plain
