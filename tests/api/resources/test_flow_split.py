"""POST /v1/flow-split: the request reaches the engine whole, and the result comes back whole."""

import copy
import math
from collections.abc import Callable
from typing import Any

import pytest

from api.answers.flow_split import branch_pointer
from api.answers.numbers import rounded
from api.refusals import value_at
from tests.api.conftest import Json, Solve

RICH: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"},
    "duty": {"heat_from_ground_kw": 20, "temperature_change_k": 3, "to_ground_temperature_c": -2},
    "plant": {
        "heat_exchanger": {"flow_l_s": 1.6, "pressure_drop_kpa": 14},
        "runs": [{"pipe": "PE100 SDR11 63", "length_m": 20,
                  "fittings": [{"kind": "elbow_90", "count": 4}]}],
        "fittings": [{"kv_m3_h": 20}],
    },
    "array": {
        "arrangement": "reverse_return", "header_pipe": "PE100 SDR11 63", "closing_m": 30,
        "branches": [
            {"loop": "Straight", "pipe": "PE100 SDR11 32", "header_m": 5, "legs": [
                {"straight_m": 200, "fittings": [{"loss_coefficient": 2}]}]},
            {"loop": "Slinky", "pipe": "PE100 SDR11 32", "header_m": 6, "legs": [
                {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}]},
            {"loop": "Coiled", "pipe": "PE100 SDR11 32", "header_m": 7, "legs": [
                {"straight_m": 150}, {"coiled_m": 40, "coil_diameter_m": 0.8}]},
            {"loop": "Trench", "pipe": "PE100 SDR11 32", "header_m": 8, "count": 2, "legs": [
                {"trench_m": 50, "passes": 4, "turn_diameter_m": 0.6}]},
            {"loop": "Mat", "pipe": "PE100 SDR11 32", "header_m": 9, "legs": [
                {"mat_inner_diameter_m": 0.8, "mat_outer_diameter_m": 3, "mat_spacing_m": 0.05}]},
            {"header_m": 4, "runs": [{"pipe": "PE100 SDR11 40", "length_m": 12}],
             "fittings": [{"kind": "tee_branch", "count": 2}],
             "circuit": {"name": "Pit", "arrangement": "manifold", "branches": [
                {"loop": "Bore", "pipe": "PE100 SDR11 40", "fittings": [{"kv_m3_h": 6}], "legs": [
                    {"borehole_depth_m": 100, "fittings": [{"kind": "return_bend"}]}]},
                {"loop": "Own", "pipe": {"bore_mm": 26, "outside_diameter_mm": 32}, "legs": [
                    {"straight_m": 180}]}]}},
        ],
    },
}  # fmt: skip

# (where, new value): each is an input of its own, none may be ignored.
VARIED: list[tuple[str, Any]] = [
    ("antifreeze.kind", "ethylene_glycol"), ("antifreeze.concentration_percent", 30),
    ("antifreeze.basis", "volume"), ("duty.heat_from_ground_kw", 21),
    ("duty.temperature_change_k", 3.2), ("duty.to_ground_temperature_c", -1),
    ("plant.heat_exchanger.flow_l_s", 1.5), ("plant.heat_exchanger.pressure_drop_kpa", 15),
    ("plant.heat_exchanger", {"points": [{"flow_l_s": 1, "pressure_drop_kpa": 5},
                                         {"flow_l_s": 2, "pressure_drop_kpa": 19}]}),
    ("plant.runs.0.pipe", "PE100 SDR17 63"), ("plant.runs.0.length_m", 21),
    ("plant.runs.0.fittings.0.kind", "bend_90"), ("plant.runs.0.fittings.0.count", 5),
    ("plant.fittings.0.kv_m3_h", 21),
    ("array.header_pipe", "PE100 SDR11 75"),
    ("array.closing_m", 31), ("array.branches.0.header_m", 6),
    ("array.branches.2.header_pipe", "PE100 SDR11 50"),
    ("array.branches.2.return_header_pipe", "PE100 SDR11 50"),
    ("array.branches.0.pipe", "PE100 SDR17 32"), ("array.branches.0.legs.0.straight_m", 210),
    ("array.branches.0.legs.0.pipe", "PE100 SDR17 32"),
    ("array.branches.0.legs.0.fittings.0.loss_coefficient", 20),
    ("array.branches.1.legs.0.coils", 31), ("array.branches.1.legs.0.coil_diameter_m", 1.1),
    ("array.branches.1.legs.0.pitch_m", 1.1),
    ("array.branches.1.legs.0.returns_alongside", False),
    ("array.branches.2.legs.1.coiled_m", 45), ("array.branches.2.legs.1.coil_diameter_m", 0.9),
    ("array.branches.3.count", 3), ("array.branches.3.legs.0.trench_m", 51),
    ("array.branches.3.legs.0.passes", 3), ("array.branches.3.legs.0.turn_diameter_m", 0.9),
    ("array.branches.4.legs.0.mat_inner_diameter_m", 0.9),
    ("array.branches.4.legs.0.mat_outer_diameter_m", 3.1),
    ("array.branches.4.legs.0.mat_spacing_m", 0.06), ("array.branches.4.legs.0.mats", 2),
    ("array.branches.5.runs.0.length_m", 20), ("array.branches.5.runs.0.pipe", "PE100 SDR11 50"),
    ("array.branches.5.runs.0.fittings", [{"kind": "elbow_90"}]),
    ("array.branches.5.fittings.0.count", 8), ("array.branches.5.count", 2),
    ("array.branches.5.circuit.name", "Sump"),
    ("array.branches.5.circuit.branches.0.loop", "Hole"),
    ("array.branches.5.circuit.branches.0.fittings.0.kv_m3_h", 7),
    ("array.branches.5.circuit.branches.0.legs.0.borehole_depth_m", 101),
    ("array.branches.5.circuit.branches.0.legs.0.u_tubes", 2),
    ("array.branches.5.circuit.branches.0.legs.0.fittings.0.count", 9),
    ("array.branches.5.circuit.branches.1.pipe.bore_mm", 27),
    ("array.branches.5.circuit.branches.1.pipe.roughness_mm", 0.5),
    ("tolerance_percent", 1), ("freezing_margin_k", 20), ("name", "Another"),
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
    from api import create_app
    from api.settings import Settings

    answer = create_app(Settings()).test_client().post("/v1/flow-split", json=RICH)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    found: Json = answer.get_json()
    return found


@pytest.mark.parametrize(("where", "value"), VARIED, ids=[w for w, _ in VARIED])
def test_every_input_moves_the_result(solve: Solve, plain: Json, where: str, value: Any) -> None:
    answer = solve(put(RICH, where, value))
    assert answer.status_code == 200, answer.get_data(as_text=True)
    assert answer.get_json() != plain


def test_the_arrangement_moves_the_result(solve: Solve) -> None:
    without = put(RICH, "array.closing_m", 0)
    direct = solve(put(without, "array.arrangement", "direct_return")).get_json()
    assert direct["loops"] != solve(without).get_json()["loops"]


def test_the_outside_diameter_of_a_pipe_alone_moves_no_hydraulics(
    solve: Solve, plain: Json
) -> None:
    # It matters to the ground's heat and to digging; the flow knows the bore only.
    where = "array.branches.5.circuit.branches.1.pipe.outside_diameter_mm"
    assert solve(put(RICH, where, 33)).get_json() == plain


def test_a_default_left_out_is_the_default_written_out(solve: Solve, job: Json) -> None:
    written = put(put(job, "tolerance_percent", 10), "freezing_margin_k", 3)
    written = put(put(written, "array.branches.0.count", 1), "plant", {})
    assert solve(written).get_json() == solve(job).get_json()


def test_parts_add_up(plain: Json) -> None:
    # Six significant digits of each part: the sum is off by 3 units of the sixth digit at most.
    for loop in plain["loops"]:
        parts = loop["breakdown_kpa"]
        own = parts["straight"] + parts["coil"] + parts["fittings"]
        assert own == pytest.approx(loop["pressure_drop_kpa"], rel=5e-6)
        assert own + parts["headers"] == pytest.approx(loop["path_drop_kpa"], rel=5e-6)
        assert loop["path_drop_kpa"] == pytest.approx(
            plain["pump_duty"]["breakdown_kpa"]["array"], rel=5e-6
        )
    assert sum(loop["share_percent"] for loop in plain["loops"]) == pytest.approx(100, rel=5e-6)
    assert sum(loop["mass_flow_kg_s"] for loop in plain["loops"]) == pytest.approx(
        plain["pump_duty"]["mass_flow_kg_s"], rel=5e-6
    )
    duty = plain["pump_duty"]
    assert sum(duty["breakdown_kpa"].values()) == pytest.approx(duty["head_kpa"], rel=5e-6)


def test_units_are_those_that_the_names_say(plain: Json) -> None:
    # Identities between fields, each with its own unit: a factor of 1000 astray breaks them.
    duty, fluid = plain["pump_duty"], plain["fluid"]
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
        {"loop": "T", "count": 7, "pipe": "PE100 SDR11 32", "legs": [{"straight_m": 200}]}
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
        assert loop["loop"].split("/")[-1].split("-")[0] == branch["loop"]
    for finding in content["findings"]:
        assert "where" not in finding or isinstance(follow(finding["where"]), dict)
    assert isinstance(follow(content["residuals"]["worst_where"]), dict)


def test_the_residuals_are_within_what_is_promised(plain: Json) -> None:
    assert plain["residuals"]["mass_relative"] <= 1e-9
    assert plain["residuals"]["energy_relative"] <= 1e-6


def test_no_flow_has_no_imbalance(solve: Solve, job: Json) -> None:
    job["duty"]["flow_l_s"] = 0
    content = solve(job).get_json()
    assert "imbalance" not in content
    assert content["pump_duty"]["head_kpa"] == 0
    assert content["findings"][0]["code"] == "no_flow"


def test_a_flow_and_the_heat_that_it_carries_are_the_same_duty(solve: Solve) -> None:
    by_heat = solve(RICH).get_json()
    flow = by_heat["pump_duty"]["flow_l_s"]
    duty = {"flow_l_s": flow, "to_ground_temperature_c": -2, "from_ground_temperature_c": 1}
    by_flow = solve(put(RICH, "duty", duty)).get_json()
    # The flow was rounded to six digits; a drop goes with its square at most.
    assert by_flow["pump_duty"]["head_kpa"] == pytest.approx(
        by_heat["pump_duty"]["head_kpa"], rel=1e-5
    )


def test_a_pump_through_the_duty_point_drives_that_duty(solve: Solve) -> None:
    plain = solve(RICH).get_json()["pump_duty"]
    points = [
        {"flow_l_s": plain["flow_l_s"] * part, "head_m": plain["head_m"] * (2 - part)}
        for part in (0, 0.5, 1, 1.5)
    ]
    duty = {"pump": {"points": points}, "to_ground_temperature_c": -2,
            "from_ground_temperature_c": 1}  # fmt: skip
    driven = solve(put(RICH, "duty", duty)).get_json()["pump_duty"]
    # The curve passes through the duty point, rounded to six digits.
    assert driven["flow_l_s"] == pytest.approx(plain["flow_l_s"], rel=1e-5)
    assert driven["head_m"] == pytest.approx(plain["head_m"], rel=1e-5)


def test_the_answer_is_the_same_every_time(solve: Solve, plain: Json) -> None:
    assert solve(RICH).get_json() == plain


@pytest.mark.parametrize(
    ("value", "expected"),
    [(0.0, 0.0), (-0.0, 0.0), (1 / 3, 0.333333), (-2 / 3, -0.666667), (123456789.0, 123457000.0),
     (1e-12 / 3, 3.33333e-13), (999999.5, 1e6), (0.1 + 0.2, 0.3), (1e300, 1e300), (5e-324, 0.0)],
)  # fmt: skip
def test_numbers_are_rounded_to_six_significant_digits(value: float, expected: float) -> None:
    result: float = rounded([value])[0]
    assert result == expected
    assert math.copysign(1, result) == 1 or result < 0


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_not_rounded_away(value: float) -> None:
    with pytest.raises(FloatingPointError):
        rounded([1.0, value])


def test_a_branch_pointer_passes_through_its_circuits() -> None:
    made: Callable[[tuple[int, ...]], str] = branch_pointer
    assert made((3, 0)) == "/array/branches/3/circuit/branches/0"
