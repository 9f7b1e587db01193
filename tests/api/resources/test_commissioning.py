"""POST /v1/commissioning: plans and readings reach the engine whole, verdicts come back."""

import math
import re
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api.contract.examples import examples_in_repository
from hydraulics.fluid.mixture import freezing_spread, mixture
from tests.api.conftest import SMALLEST, Json, answered, errors_of
from tests.api.contract.test_document import validator
from tests.api.resources.test_split import put

PATH = "/v1/commissioning"

BARE: Json = {**SMALLEST, "commissioning": {"filling": {"filling_c": 12}}}
RICH: Json = {
    **SMALLEST,
    "name": "Sorrel Lane (invented)",
    "plant": {"runs": [{"pipe": "PE100 SDR11 50", "length_m": 20}], "volume_l": 25},
    "heights": {"min_ground_level_m": 50, "max_ground_level_m": 50.2, "plant_level_m": 50.1,
                "gauge_level_m": 50},
    "commissioning": {
        "filling": {"filling_c": 12, "spare_percent": 5},
        "purge": {"min_velocity_m_s": 0.6, "fluid": "water"},
        "pressure_test": {
            "design_pressure_kpa": 300, "surge_calculated": False, "procedure": "en_805",
            "pipe_c": 12, "pipe_modulus_mpa": 1000, "sdr": 11, "gauge_step_kpa": 1,
            "readings": [
                {"stage": "relaxation", "time_min": 0, "pressure_kpa": 5},
                {"stage": "relaxation", "time_min": 60, "pressure_kpa": 5},
                {"stage": "pressurising", "time_min": 68, "pressure_kpa": 450},
                {"stage": "holding", "time_min": 98, "pressure_kpa": 449},
                {"stage": "resting", "time_min": 158, "pressure_kpa": 390},
                {"stage": "letting_down", "time_min": 160, "pressure_kpa": 335, "drawn_off_l": 0.1},
                {"stage": "main", "time_min": 170, "pressure_kpa": 339},
                {"stage": "main", "time_min": 180, "pressure_kpa": 342},
                {"stage": "main", "time_min": 190, "pressure_kpa": 341.5},
            ]},
        "vessel": {"safety_valve_pressure_kpa": 200, "precharge_pressure_kpa": 50,
                   "place": "pump_inlet", "min_fluid_c": -3, "max_fluid_c": 25},
        "flow_meters": {"max_deviation_percent": 10, "accuracy_percent": 4,
                        "readings": [{"loop": "A", "flow_l_min": 11.8},
                                     {"loop": "B", "flow_l_min": 12.2}]},
        "sample": {"density_kg_m3": 1025, "sample_c": 15},
    },
}  # fmt: skip

VARIED: list[tuple[str, Any]] = [
    ("name", "Another"), ("antifreeze.concentration_percent", 26), ("duty.flow_l_s", 0.41),
    ("plant.runs.0.length_m", 21), ("array.branches.0.loop.legs.0.straight.length_m", 201),
    ("reference", "B"), ("plant.volume_l", 26),
    ("heights.min_ground_level_m", 49.9), ("heights.max_ground_level_m", 50.3),
    ("heights.plant_level_m", 50.3), ("heights.gauge_level_m", 50.1),
    *((f"commissioning.{where}", value) for where, value in [
    ("filling.filling_c", 13), ("filling.spare_percent", 6), ("purge.min_velocity_m_s", 0.7),
    ("purge.fluid", "mixture"), ("pressure_test.design_pressure_kpa", 310),
    ("pressure_test.surge_calculated", True), ("pressure_test.procedure", "w_400_2"),
    ("pressure_test.pipe_c", 25), ("pressure_test.pipe_modulus_mpa", 900),
    ("pressure_test.gauge_step_kpa", 0.1), ("pressure_test.readings.2.stage", "relaxation"),
    ("pressure_test.readings.3.time_min", 90), ("pressure_test.readings.4.pressure_kpa", 391),
    ("pressure_test.readings.5.drawn_off_l", 0.11), ("vessel.safety_valve_pressure_kpa", 310),
    ("vessel.precharge_pressure_kpa", 60), ("vessel.min_fluid_c", -4), ("vessel.max_fluid_c", 26),
    ("vessel.place", "pump_outlet"),
    ("flow_meters.max_deviation_percent", 11), ("flow_meters.accuracy_percent", 3),
    ("flow_meters.readings.0.flow_l_min", 11.9), ("flow_meters.readings", []),
    ("sample.density_kg_m3", 1026), ("sample.sample_c", 16),
    ]),
]  # fmt: skip


def post(client: FlaskClient, body: Any) -> TestResponse:
    return client.post(PATH, json=body)


@pytest.fixture(scope="module")
def rich() -> Json:
    return answered(PATH, RICH)


def test_a_job_with_every_field_keeps_the_contract(contract: Json, rich: Json) -> None:
    validator(contract, "Job").validate(RICH)
    validator(contract, "CommissioningAnswer").validate(rich)


def test_what_is_not_asked_for_is_not_answered(contract: Json) -> None:
    content = answered(PATH, BARE)
    validator(contract, "CommissioningAnswer").validate(content)
    assert set(content) == {
        "contents", "filling", "heights", "flow_meters", "findings", "cautions", "method"
    }  # fmt: skip


@pytest.mark.parametrize(("where", "value"), VARIED, ids=lambda v: v if type(v) is str else "")
def test_every_input_moves_the_answer(rich: Json, where: str, value: Any) -> None:
    assert answered(PATH, put(RICH, where, value)) != rich


def test_the_given_sdr_sets_the_let_down_of_the_contraction_method() -> None:
    body = put(
        put(RICH, "commissioning.pressure_test.procedure", "w_400_2"),
        "commissioning.pressure_test.readings",
        [],
    )
    downs = []
    for sdr in (11, 17):
        test = answered(PATH, put(body, "commissioning.pressure_test.sdr", sdr))["pressure_test"]
        stages = {each["stage"]: each for each in test["stages"]}
        downs.append(
            stages["resting"]["min_pressure_kpa"] - stages["letting_down"]["min_pressure_kpa"]
        )
    # DVGW W 400-2 (read): 3.2 bar for SDR 11, 2.0 bar for SDR 17; a hand valve within a tenth.
    assert downs == pytest.approx([352, 220])


def test_contents_and_filling_are_as_by_hand(client: FlaskClient, rich: Json) -> None:
    pipes = {each["name"]: each for each in client.get("/v1/pipes").get_json()["pipes"]}
    loops = 390 * pipes["PE100 SDR11 32"]["contents_l_m"]
    runs = 40 * pipes["PE100 SDR11 50"]["contents_l_m"]
    assert rich["contents"]["volume_l"] == pytest.approx(loops + runs + 25, rel=1e-5)
    filling = rich["filling"]
    assert filling["volume_l"] == pytest.approx(1.05 * (loops + runs + 25), rel=1e-5)
    assert filling["antifreeze_kg"] == pytest.approx(0.25 * filling["mixture_kg"], rel=1e-5)
    assert filling["antifreeze_kg"] + filling["water_kg"] == pytest.approx(
        filling["mixture_kg"], rel=1e-5
    )
    # Propylene glycol has 1.036 kg/L at 20 °C (handbooks, from memory).
    assert filling["antifreeze_kg"] / filling["antifreeze_l"] == pytest.approx(1.036, abs=0.005)


def test_meters_expect_the_flows_of_the_flow_split(client: FlaskClient, rich: Json) -> None:
    split = client.post("/v1/split", json=RICH).get_json()
    for meter, loop in zip(rich["flow_meters"], split["loops"], strict=True):
        assert meter["loop"] == loop["loop"]
        assert meter["where"] == loop["where"]
        assert meter["expected_l_min"] == pytest.approx(60 * loop["flow_l_s"], rel=1e-5)
        assert meter["min_flow_l_min"] < meter["expected_l_min"] < meter["max_flow_l_min"]


def test_meters_of_a_pump_that_cannot_run_say_that_their_flow_is_not_its_own(rich: Json) -> None:
    # Its table ends at a tenth of the flow at which the array takes its head.
    rows = [
        {"flow_l_s": q, "head_m": h, "power_w": 30} for q, h in ((0, 40), (0.02, 39), (0.05, 38))
    ]
    pump = {"name": "Short (invented)", "tables": [{"speed_rpm": 2000, "points": rows}]}
    content = answered(PATH, {**RICH, "pump": pump})
    assert content["flow_meters"] == rich["flow_meters"]
    (told,) = [each for each in content["findings"] if each["code"] == "meters_at_duty"]
    assert told["message"].startswith("Short (invented) has no operating point")
    assert "a larger pump or more of them side by side" in told["message"]


def test_a_pump_beyond_the_data_of_the_heat_exchanger_is_not_told_to_be_another() -> None:
    """One remedy, that of the pump's own reason: the pump is strong enough."""
    rows = [{"flow_l_s": q, "head_m": h, "power_w": 5000} for q, h in ((0, 60), (3, 55), (6, 40))]
    pump = {"name": "Big (invented)", "tables": [{"speed_rpm": 2800, "points": rows}]}
    duty = answered("/v1/split", RICH)["pump"]["flow_l_s"]
    plant = RICH["plant"] | {"heat_exchanger": [{"flow_l_s": 0.8 * duty, "drop_kpa": 5}]}
    found = answered(PATH, {**RICH, "plant": plant, "pump": pump})["findings"]
    texts = [
        each["message"]
        for each in found
        if each["code"] in ("vessel_pump_unknown", "meters_at_duty")
    ]
    assert len(texts) == 2
    for text in texts:
        assert "give a point of its data sheet near that flow" in text
        assert "Choose a pump" not in text


def test_a_vessel_counts_a_pump_that_cannot_run_with_the_most_that_its_tables_give() -> None:
    rows = [
        {"flow_l_s": q, "head_m": h, "power_w": 30} for q, h in ((0, 40), (0.02, 39), (0.05, 38))
    ]
    pump = {"name": "Short (invented)", "tables": [{"speed_rpm": 2000, "points": rows}]}
    at_outlet = put(RICH, "commissioning.vessel.place", "pump_outlet")
    plain, counted = answered(PATH, at_outlet), answered(PATH, {**at_outlet, "pump": pump})
    (told,) = [each for each in counted["findings"] if each["code"] == "vessel_pump_unknown"]
    assert "Short (invented)" in told["message"]
    # By hand: 40 m of brine of 1,000 to 1,050 kg/m3 are 392 to 412 kPa, where the duty takes less.
    least = counted["vessel"]["min_precharge_pressure_kpa"]
    static = counted["vessel"]["static_pressure_kpa"]
    assert 392 < least - 30 - static < 412
    assert least > plain["vessel"]["min_precharge_pressure_kpa"]


@pytest.mark.parametrize(("flow", "verdict"), [(11.8, "within"), (8, "low"), (15, "high")])
def test_a_meter_is_judged_by_its_band(flow: float, verdict: str) -> None:
    content = answered(PATH, put(RICH, "commissioning.flow_meters.readings.0.flow_l_min", flow))
    assert content["flow_meters"][0]["verdict"] == verdict
    assert content["balance_proved"] is (verdict == "within")


def test_a_balance_is_not_proved_by_some_of_its_meters() -> None:
    content = answered(
        PATH, put(RICH, "commissioning.flow_meters.readings", [{"loop": "A", "flow_l_min": 11.8}])
    )
    assert content["balance_proved"] is False
    assert "verdict" not in content["flow_meters"][1]


def test_the_test_pressure_follows_en_805_and_the_record_passes(rich: Json) -> None:
    test = rich["pressure_test"]
    # EN 805, 11.3.2 (read in reproductions): the lower of 1.5 MDPa and MDPa + 500 kPa.
    assert test["test_pressure_kpa"] == 450
    assert test["verdict_of_record"]["verdict"] == "pass"
    assert [stage["stage"] for stage in test["verdict_of_record"]["stages"]] == [
        stage["stage"] for stage in test["stages"]
    ]


@pytest.mark.parametrize(
    ("where", "value", "verdict"),
    [
        (
            "commissioning.pressure_test.readings.4.pressure_kpa",
            300,
            "fail",
        ),  # fell too far at rest
        ("commissioning.pressure_test.readings.5.drawn_off_l", 5, "fail"),  # air
        ("commissioning.pressure_test.readings.8.pressure_kpa", 300, "fail"),  # leaks
        (
            "commissioning.pressure_test.readings.3.time_min",
            75,
            "undetermined",
        ),  # not held for long enough
    ],
)
def test_a_bad_record_does_not_pass(where: str, value: Any, verdict: str) -> None:
    content = answered(PATH, put(RICH, where, value))
    assert content["pressure_test"]["verdict_of_record"]["verdict"] == verdict


def test_purging_reaches_the_velocity_everywhere(rich: Json) -> None:
    purge = rich["purge"]
    assert all(step["min_velocity_m_s"] == pytest.approx(0.6) for step in purge["steps"])
    for most, name in (("max_flow_l_s", "flow_l_s"), ("max_pressure_kpa", "pressure_kpa")):
        assert purge[most] == max(step[name] for step in purge["steps"])
    said = next(each for each in rich["findings"] if each["code"] == "purge_pump_duty")
    flow, pressure = re.findall(r"([\d.]+) (?:L/s|kPa) at", said["message"])
    assert float(flow) == pytest.approx(purge["max_flow_l_s"], rel=5e-3)
    assert float(pressure) == pytest.approx(purge["max_pressure_kpa"], rel=5e-4)
    # The highest ground lies 0.1 m above the plant: 0.98 kPa of water, in every step.
    assert [step["lift_kpa"] for step in purge["steps"]] == pytest.approx(
        [0.98] * len(purge["steps"]), rel=2e-3
    )


def test_antifreeze_is_filled_as_it_is_bought(client: FlaskClient) -> None:
    # SMALLEST is 25 % by mass: of a concentrate of 50 % by mass half is poured, and half water.
    def made(bought: Json) -> Json:
        body = put(BARE, "commissioning.filling.bought", bought)
        found: Json = answered(PATH, body)["filling"]
        return found

    half = made({"concentration_percent": 50, "basis": "mass", "container_l": [25]})
    assert half["antifreeze_kg"] == pytest.approx(half["water_kg"], rel=1e-5)
    assert half["antifreeze_kg"] + half["water_kg"] == pytest.approx(half["mixture_kg"], rel=1e-5)
    assert half["bought_mass_percent"] == 50
    (held,) = half["containers"]
    assert held["size_l"] == 25
    assert 25 * held["count"] - half["antifreeze_l"] == pytest.approx(half["left_over_l"], abs=1e-2)
    assert 0 <= half["left_over_l"] < 25
    premix = made({"concentration_percent": 25, "basis": "mass"})
    assert premix["water_l"] == premix["water_kg"] == 0
    assert premix["antifreeze_kg"] == premix["mixture_kg"]
    errors = errors_of(
        client.post(PATH, json=put(BARE, "commissioning.filling.bought",
                                   {"concentration_percent": 20, "basis": "mass"}))
    )  # fmt: skip
    assert list(errors) == ["/commissioning/filling/bought/concentration_percent"]
    assert "25 to 100 %" in errors["/commissioning/filling/bought/concentration_percent"]["allowed"]


def test_people_are_warned_where_they_can_be_hurt(rich: Json) -> None:
    words = " ".join(rich["cautions"]).lower()
    for word in ("never test with air", "trench", "local codes", "safety valve", "antifreeze"):
        assert word in words, word


@pytest.mark.parametrize(
    ("where", "value", "at"),
    [
        (
            "commissioning.filling.filling_c",
            -60,
            "/commissioning/filling/filling_c",
        ),  # frozen: the engine's
        (
            "commissioning.filling.filling_c",
            40,
            "/commissioning/filling/filling_c",
        ),  # warmer than the warmest
        ("commissioning.filling.filling_c", "12", "/commissioning/filling/filling_c"),
        ("commissioning.filling.spare_percent", True, "/commissioning/filling/spare_percent"),
        ("commissioning.filling.volume", 3, "/commissioning/filling/volume"),
        ("commissioning.purge.min_velocity_m_s", 0, "/commissioning/purge/min_velocity_m_s"),
        ("commissioning.purge.fluid", "air", "/commissioning/purge/fluid"),
        (
            "commissioning.pressure_test.procedure",
            "en805",
            "/commissioning/pressure_test/procedure",
        ),
        (
            "commissioning.pressure_test.test_pressure_kpa",
            400,
            "/commissioning/pressure_test/test_pressure_kpa",
        ),
        (
            "commissioning.pressure_test.design_pressure_kpa",
            0,
            "/commissioning/pressure_test/design_pressure_kpa",
        ),
        ("commissioning.pressure_test.sdr", 2, "/commissioning/pressure_test/sdr"),
        (
            "commissioning.pressure_test.readings.0.stage",
            "rest",
            "/commissioning/pressure_test/readings/0/stage",
        ),
        (
            "commissioning.pressure_test.readings.1.pressure_kpa",
            None,
            "/commissioning/pressure_test/readings/1/pressure_kpa",
        ),
        (
            "commissioning.pressure_test.readings.3.time_min",
            30,
            "/commissioning/pressure_test/readings/3",
        ),  # out of order
        ("commissioning.vessel.max_pressure_kpa", 200, "/commissioning/vessel/max_pressure_kpa"),
        (
            "commissioning.vessel.precharge_pressure_kpa",
            200,
            "/commissioning/vessel/precharge_pressure_kpa",
        ),
        ("commissioning.vessel.min_fluid_c", -50, "/commissioning/vessel/min_fluid_c"),
        ("commissioning.vessel.max_fluid_c", 140, "/commissioning/vessel/max_fluid_c"),
        (
            "commissioning.flow_meters.accuracy_percent",
            30,
            "/commissioning/flow_meters/accuracy_percent",
        ),
        (
            "commissioning.flow_meters.max_deviation_percent",
            0,
            "/commissioning/flow_meters/max_deviation_percent",
        ),
        (
            "commissioning.flow_meters.readings.0.loop",
            "C",
            "/commissioning/flow_meters/readings/0/loop",
        ),
        (
            "commissioning.flow_meters.readings.1.loop",
            "A",
            "/commissioning/flow_meters/readings/1/loop",
        ),  # read twice
        (
            "commissioning.flow_meters.readings.1.flow_l_min",
            -1,
            "/commissioning/flow_meters/readings/1/flow_l_min",
        ),
        ("commissioning.sample.density_kg_m3", 0, "/commissioning/sample/density_kg_m3"),
        ("commissioning.sample.sample_c", 0, "/commissioning/sample/sample_c"),
        ("duty.flow_l_s", 0, "/duty"),  # a meter shows nothing
        ("antifreeze.concentration_percent", 99, "/antifreeze/concentration_percent"),
        ("array.branches.0.loop.pipe", "PE100", "/array/branches/0/loop/pipe"),
    ],
)
def test_a_wrong_value_is_refused_at_its_place(
    client: FlaskClient, where: str, value: Any, at: str
) -> None:
    answer = post(client, put(RICH, where, value))
    assert answer.status_code == 422
    assert at in errors_of(answer)


def test_faults_of_all_sections_are_listed_together(client: FlaskClient) -> None:
    body = put(
        put(RICH, "commissioning.filling.filling_c", "x"),
        "commissioning.purge.min_velocity_m_s",
        -1,
    )
    body = put(
        put(body, "commissioning.pressure_test.readings.0.stage", "x"),
        "commissioning.sample.density_kg_m3",
        1,
    )
    body = put(
        put(body, "commissioning.flow_meters.readings.0.loop", ""), "array.branches.0.loop.legs", []
    )
    assert set(errors_of(post(client, body))) == {
        "/commissioning/filling/filling_c",
        "/commissioning/purge/min_velocity_m_s",
        "/commissioning/pressure_test/readings/0/stage",
        "/commissioning/sample/density_kg_m3",
        "/commissioning/flow_meters/readings/0/loop",
        "/array/branches/0/loop/legs",
    }


def test_what_the_engine_refuses_in_several_sections_is_listed_together(
    client: FlaskClient,
) -> None:
    body = put(
        put(RICH, "commissioning.vessel.precharge_pressure_kpa", 200),
        "commissioning.sample.sample_c",
        0,
    )
    body = put(
        put(body, "commissioning.flow_meters.readings.0.loop", "C"),
        "commissioning.pressure_test.readings.3.time_min",
        0,
    )
    assert set(errors_of(post(client, body))) == {
        "/commissioning/vessel/precharge_pressure_kpa", "/commissioning/sample/sample_c",
        "/commissioning/flow_meters/readings/0/loop", "/commissioning/pressure_test/readings/3",
    }  # fmt: skip


def test_the_filling_must_be_told(client: FlaskClient) -> None:
    body = {**SMALLEST, "commissioning": {}}
    assert list(errors_of(post(client, body))) == ["/commissioning/filling"]
    assert list(errors_of(post(client, SMALLEST))) == ["/commissioning"]


def test_water_that_would_freeze_does_not_purge(client: FlaskClient) -> None:
    answer = post(client, put(RICH, "commissioning.filling.filling_c", -2))
    (told,) = errors_of(answer).items()
    assert told[0] == "/commissioning/filling/filling_c"
    assert "purge with the mixture" in told[1]["detail"]


def codes(content: Json) -> dict[str, str]:
    return {each["code"]: each["severity"] for each in content["findings"]}


def test_a_vessel_is_held_against_the_pressure_test(rich: Json) -> None:
    # The valve of 200 kPa and the pump are less than the 300 kPa that the test is for.
    assert "vessel_above_test_design" not in codes(rich)
    content = answered(PATH, put(RICH, "commissioning.vessel.safety_valve_pressure_kpa", 310))
    assert codes(content)["vessel_above_test_design"] == "error"


def test_an_over_pressed_pipe_is_an_error(rich: Json) -> None:
    assert "over_pressed_in_test" not in codes(rich)
    content = answered(PATH, put(RICH, "commissioning.pressure_test.readings.3.pressure_kpa", 1600))
    assert content["pressure_test"]["verdict_of_record"]["verdict"] == "fail"
    assert codes(content)["over_pressed_in_test"] == "error"


def test_a_frozen_pipe_is_not_tested_with_water(client: FlaskClient) -> None:
    answer = post(client, put(RICH, "commissioning.pressure_test.pipe_c", -1))
    assert answer.status_code == 422
    (told,) = errors_of(answer).items()
    assert told[0] == "/commissioning/pressure_test/pipe_c"
    assert "test when the pipe is warmer" in told[1]["detail"]


def test_a_vessel_and_a_sample_are_held_against_the_duty(rich: Json) -> None:
    # The duty's brine goes out at -1 °C and comes back at 2 °C.
    of_these = {"vessel_warmer_than_duty", "sample_too_weak"}
    assert of_these.isdisjoint(codes(rich))
    for where, value, code in (
        ("vessel.min_fluid_c", 5, "vessel_warmer_than_duty"),
        ("sample.density_kg_m3", 1002, "sample_too_weak"),  # nearly water
    ):
        found = codes(answered(PATH, put(RICH, f"commissioning.{where}", value)))
        assert {name: found[name] for name in of_these if name in found} == {code: "error"}
    # The mixture of the job freezes at -10 °C or so; a margin of 12 K is more than it keeps at -1.
    wide = answered(PATH, {**RICH, "limits": {"min_freezing_margin_k": 12}})
    assert codes(wide)["sample_too_weak"] == "error"


def message(content: Json, code: str) -> str:
    (told,) = [each["message"] for each in content["findings"] if each["code"] == code]
    return str(told)


def test_a_vessel_is_held_against_the_warmest_brine_of_the_job(rich: Json) -> None:
    # The vessel is told of 25 °C.
    assert "vessel_colder_than_brine" not in codes(rich)
    warm = answered(PATH, {**RICH, "warm": {"to_ground_c": 24, "from_ground_c": 27}})
    assert codes(warm)["vessel_colder_than_brine"] == "error"
    assert "in the warm condition the brine comes from the ground at 27" in message(
        warm, "vessel_colder_than_brine"
    )


def test_a_vessel_is_held_against_the_cooling_of_the_jobs_own_sizing(client: FlaskClient) -> None:
    (body,) = [e.job for e in examples_in_repository() if e.name == "quarry-lane-both-seasons"]
    vessel = RICH["commissioning"]["vessel"] | {"max_fluid_c": 12, "min_fluid_c": -10}
    body["commissioning"] = {"filling": {"filling_c": 10}, "vessel": vessel}
    answer = client.post("/v1/designs", json=body).get_json()
    # Its sizing puts heat back through brine of more than 20 °C.
    warmest = max(each["max_to_ground_c"] for each in answer["sizing"]["by_year"])
    assert warmest > 20
    found = answer["commissioning"]
    assert codes(found)["vessel_colder_than_brine"] == "error"
    told = message(found, "vessel_colder_than_brine")
    said = re.search(r"in the job's sizing the brine goes to the ground at ([\d.]+) °C", told)
    assert said is not None
    assert warmest <= float(said[1]) <= warmest + 0.01  # rounded to the safe side
    body["commissioning"]["vessel"]["max_fluid_c"] = 30
    answer = client.post("/v1/designs", json=body).get_json()
    assert "vessel_colder_than_brine" not in codes(answer["commissioning"])
    # A pump that moves less than the sizing's 1.8 L/s sends the same heat out in warmer brine.
    body["commissioning"]["vessel"]["max_fluid_c"] = math.ceil(10 * warmest) / 10
    rows = [{"flow_l_s": q, "head_m": h, "power_w": 300} for q, h in ((0, 5), (0.8, 4.5), (2.4, 1))]
    body["pump"] = {"name": "Small (invented)", "tables": [{"speed_rpm": 2000, "points": rows}]}
    answer = client.post("/v1/designs", json=body).get_json()
    told = message(answer["commissioning"], "vessel_colder_than_brine")
    assert "L/s that Small (invented) gives of warm brine" in told


def test_sample_and_vessel_are_held_against_the_pump_that_runs(client: FlaskClient) -> None:
    rows = [
        {"flow_l_s": q, "head_m": h, "power_w": 30} for q, h in ((0, 2), (0.4, 1.8), (1.2, 0.4))
    ]
    pump = {"name": "Small (invented)", "tables": [{"speed_rpm": 2000, "points": rows}]}
    body = put(RICH, "commissioning.vessel.min_fluid_c", -1)
    # By hand: the duty's 3 K at 0.4 L/s; the same heat changes less brine by more.
    flow = client.post("/v1/split", json={**body, "pump": pump}).get_json()["running"][0]
    coldest = 2 - 3 * 0.4 / flow["flow_l_s"]
    assert coldest < -1.3
    # A margin between what the sample keeps at either.
    sample = answered(PATH, body)["sample"]["freezing_point_c"]
    spread = freezing_spread(mixture("propylene_glycol", 0.25, "mass"))
    body["limits"] = {"min_freezing_margin_k": round(-1.1 - sample - spread, 2)}
    of_these = {"vessel_warmer_than_duty", "sample_too_weak"}
    assert of_these.isdisjoint(codes(answered(PATH, body)))
    content = answered(PATH, {**body, "pump": pump})
    assert codes(content)["vessel_warmer_than_duty"] == "warning"
    told = re.search(r"ground at ([-\d.]+) °C", message(content, "vessel_warmer_than_duty"))
    assert told is not None
    assert coldest - 0.01 <= float(told[1]) <= coldest  # rounded to the safe side
    assert codes(content)["sample_too_weak"] == "error"
    assert "Small (invented) in the cold" in message(content, "sample_too_weak")


def test_a_vessel_is_held_against_what_the_pump_needs_at_its_inlet(client: FlaskClient) -> None:
    rows = [
        {"flow_l_s": q, "head_m": h, "power_w": 90, "npsh_m": n}
        for q, h, n in ((0, 5, 12), (0.4, 4, 13), (0.8, 1, 16))
    ]
    pump = {"name": "Thirsty (invented)", "tables": [{"speed_rpm": 2900, "points": rows}]}
    body = {**RICH, "pump": pump, "pump_choice": {"candidates": [pump]}}
    judged = client.post("/v1/pump-choice", json=body).get_json()["pumps"][0]
    needs = judged["conditions"][0]["min_inlet_kpa"]
    assert needs > 50  # of gas in the vessel
    told = message(answered(PATH, body), "vessel_below_inlet")
    assert "keeps 50 kPa at the inlet of Thirsty (invented)" in told
    assert f"needs {needs:.0f} kPa" in told
    enough = put(body, "commissioning.vessel.precharge_pressure_kpa", math.ceil(needs))
    assert "vessel_below_inlet" not in codes(answered(PATH, enough))
    # What the pump is told of does not stand beside a vessel that keeps less.
    body = {**RICH, "pump": {**pump, "inlet_kpa": 200}}
    assert "which the job tells of 200 kPa there" in message(
        answered(PATH, body), "vessel_below_inlet"
    )


def test_the_purge_opens_the_valve_that_the_job_balances_with() -> None:
    body = put(BARE, "commissioning.purge", {})
    body = put(body, "array.branches.1.fittings", [{"kv_m3_h": 0.9, "valve": "V", "position": 1}])
    told = {
        "name": "V",
        "positions": [{"position": n, "kv_m3_h": k} for n, k in ((1, 0.9), (4, 5))],
    }
    as_set = answered(PATH, body)
    content = answered(PATH, {**body, "balancing": {"valve": told, "take": "regulating_valves"}})
    assert codes(as_set)["purge_valves_set"] == "info"
    assert codes(content)["purge_valves_set"] == "warning"
    # By hand: 1.147 m3/h through a Kv of 5 takes 5.26 kPa, and through one of 0.9 takes 162.4.
    bare = answered(PATH, put(BARE, "commissioning.purge", {}))
    for answer, takes in ((content, 5.26), (as_set, 162.4)):
        with_it, without = (each["purge"]["steps"][1]["pressure_kpa"] for each in (answer, bare))
        assert with_it - without == pytest.approx(takes, rel=5e-3)
    # Nothing is balanced here: meters are of the array as posted.
    assert content["flow_meters"] == as_set["flow_meters"]


def test_a_vessel_is_held_against_the_sizing_beside_the_array(client: FlaskClient) -> None:
    (body,) = [e.job for e in examples_in_repository() if e.name == "quarry-lane-both-seasons"]
    vessel = RICH["commissioning"]["vessel"] | {"max_fluid_c": 15, "min_fluid_c": -10}
    commissioning = {"filling": {"filling_c": 10}, "vessel": vessel}
    decided = client.post("/v1/sizing", json=body).get_json()["decides"]
    content = answered(PATH, {**body, **decided, "commissioning": commissioning})
    assert codes(content)["vessel_colder_than_brine"] == "error"
    assert "in the job's sizing" in message(content, "vessel_colder_than_brine")


def test_the_source_of_a_purge_tells_whose_velocity_it_is(rich: Json) -> None:
    assert rich["purge"]["source"].startswith("0.6 m/s (2 ft/s) in every pipe")
    slow = answered(PATH, put(RICH, "commissioning.purge.min_velocity_m_s", 0.2))
    assert slow["purge"]["source"].startswith("0.2 m/s as asked for")
    assert codes(slow)["purge_slow"] == "warning"


UNEVEN: Json = put(RICH, "array.branches.0.loop.legs.0.straight.length_m", 300)


def as_told(content: Json) -> list[Json]:
    """Readings of every meter just as it is told."""
    return [
        {"loop": each["loop"], "flow_l_min": each["expected_l_min"]}
        for each in content["flow_meters"]
    ]


def test_meters_of_an_uneven_array_prove_no_balance(client: FlaskClient) -> None:
    split = client.post("/v1/split", json=UNEVEN).get_json()
    assert split["imbalance"]["within_tolerance"] is False
    body = put(UNEVEN, "commissioning.flow_meters.readings", as_told(answered(PATH, UNEVEN)))
    content = answered(PATH, body)
    # Readings just as computed are held against the targets, which the flow split misses.
    deviations = [loop["deviation_percent"] for loop in split["loops"]]
    assert [each["deviation_percent"] for each in content["flow_meters"]] == pytest.approx(
        deviations, abs=1e-3
    )
    assert content["balance_proved"] is False
    assert codes(content)["meters_of_uneven_split"] == "warning"
    # The same array is even by the tolerance that the job asks for.
    wide = put(body, "commissioning.flow_meters.max_deviation_percent", 60)
    wide = answered(PATH, {**wide, "limits": {"max_deviation_percent": 40}})
    assert wide["balance_proved"] is True
    assert "meters_of_uneven_split" not in codes(wide)
    page = client.post("/v1/report.html", json=body).get_data(as_text=True)
    assert "share of all readings is outside its band" in page
    assert "the balance is proved" not in page


def test_meters_prove_what_the_job_asks_of_its_array() -> None:
    # Readings 4 % off are within 10 %, and not within the 3 % that the array is to keep.
    shown = [{"loop": "A", "flow_l_min": 11.52}, {"loop": "B", "flow_l_min": 12.48}]
    meters = {"accuracy_percent": 1, "readings": shown}
    body = put(BARE, "commissioning.flow_meters", meters)
    assert answered(PATH, body)["balance_proved"] is True
    tight = answered(PATH, {**body, "limits": {"max_deviation_percent": 3}})
    assert tight["balance_proved"] is False
    coarse = answered(PATH, {**BARE, "limits": {"max_deviation_percent": 3}})
    assert codes(coarse)["meters_too_coarse"] == "warning"
    assert "min_flow_l_min" not in coarse["flow_meters"][0]


def test_a_meter_that_shows_the_limit_as_printed_is_within(rich: Json) -> None:
    # Bands of any digits, judged by what the answer prints of them.
    for percent in (9.9, 10, 12.3, 7.7):
        body = put(RICH, "commissioning.flow_meters.max_deviation_percent", percent)
        for name in ("min_flow_l_min", "max_flow_l_min"):
            shown = [
                {"loop": each["loop"], "flow_l_min": each[name]}
                for each in answered(PATH, body)["flow_meters"]
            ]
            content = answered(PATH, put(body, "commissioning.flow_meters.readings", shown))
            assert [each["verdict"] for each in content["flow_meters"]] == ["within", "within"]


def test_water_drawn_off_that_becomes_less_is_refused_at_its_place(client: FlaskClient) -> None:
    readings = RICH["commissioning"]["pressure_test"]["readings"]
    first = {"stage": "letting_down", "time_min": 159, "pressure_kpa": 360, "drawn_off_l": 0.2}
    body = put(RICH, "commissioning.pressure_test.readings", [*readings[:5], first, *readings[5:]])
    told = errors_of(post(client, body))
    assert list(told) == ["/commissioning/pressure_test/readings/6/drawn_off_l"]


def test_a_test_pressure_too_low_is_refused_by_the_pressure_that_was_given(
    client: FlaskClient,
) -> None:
    # EN 805, 11.3.2 (read in reproductions): 1.5 times a design pressure.
    body = put(RICH, "commissioning.pressure_test.design_pressure_kpa", 10)
    told = errors_of(post(client, body))
    assert list(told) == ["/commissioning/pressure_test/design_pressure_kpa"]
    assert "test at 100 kPa or more" in told[next(iter(told))]["detail"]


def test_a_record_of_a_pipe_too_warm_does_not_pass() -> None:
    content = answered(PATH, put(RICH, "commissioning.pressure_test.pipe_c", 80))
    assert content["pressure_test"]["verdict_of_record"]["verdict"] == "undetermined"
    assert codes(content)["pipe_warm"] == "error"
    # PE pressure pipe is rated up to 40 °C (EN 12201, from memory).
    mild = answered(PATH, put(RICH, "commissioning.pressure_test.pipe_c", 25))
    assert codes(mild)["pipe_warm"] == "warning"
    assert mild["pressure_test"]["verdict_of_record"]["verdict"] == "undetermined"


def test_pipe_lies_as_deep_as_the_digging_of_the_job_says() -> None:
    # By hand: straight loops in a trench 1.5 m deep below ground at 50 m, headers above them; pipe
    # lies on 0.1 m of bedding.
    trench = {"width_m": 0.6, "depth_m": 1.5}
    dug = {**RICH, "groundworks": {"trench": trench, "header_trench": {"depth_m": 1.0}}}
    heights = answered(PATH, dug)["heights"]
    assert heights["min_pipe_level_m"] == 48.6
    assert not heights["assumed"]
    untold = answered(PATH, RICH)["heights"]
    assert untold["min_pipe_level_m"] == 48.0  # 2 m: common practice, no source
    assert "2 m deep" in " ".join(untold["assumed"])
