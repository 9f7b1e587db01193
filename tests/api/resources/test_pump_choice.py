"""POST /v1/pump-choice and GET /v1/invented-pumps."""

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api.refusals import value_at
from hydraulics.findings import FINDING_CODES
from tests.api.conftest import Json, answered, errors_of
from tests.api.contract.test_document import validator
from tests.api.resources.test_split import put
from tests.api.service.test_hostile_input import numbers

PATH = "/v1/pump-choice"


def points(*rows: tuple[float, float, float]) -> list[Json]:
    return [dict(zip(("flow_l_s", "head_m", "power_w"), row, strict=True)) for row in rows]


FIXED: Json = {
    "name": "R (invented)",
    "speed_rpm": 2500,
    "parallel": 2,
    "tables": [
        {"speed_rpm": 2800,
         "points": points((0, 9, 90), (0.3, 8, 110), (0.6, 6, 125), (1, 2, 130))},
        {"speed_rpm": 2000, "points": points((0, 4.6, 36), (0.4, 3, 48), (0.7, 1.1, 50))},
    ],
}  # fmt: skip
HELD: Json = {
    "name": "P (invented)",
    "control": "constant_differential_pressure",
    "set_head_m": 6,
    "min_speed_rpm": 1200,
    "impellers": 2,
    "tables": [
        {"speed_rpm": 4000, "label": "max",
         "points": points((0, 11, 80), (0.4, 10, 100), (0.8, 7.5, 115), (1.2, 3, 116))},
    ],
}  # fmt: skip


def branch(name: str, length: float) -> Json:
    legs = [{"straight": {"length_m": length}}]
    return {"loop": {"name": name, "pipe": "PE100 SDR11 32", "legs": legs}}


JOB: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"},
    "plant": {"run_h": 2000},
    "array": {"arrangement": "manifold", "branches": [branch("A", 200), branch("B", 180)]},
    "duty": {"heat_kw": 9, "to_ground_c": -3, "from_ground_c": 0.5},
    "warm": {"to_ground_c": 6, "from_ground_c": 9, "hours_percent": 60},
    "pump_choice": {"candidates": [FIXED, HELD], "acceptance_grade": "2B"},
}


def with_pumps(**options: Any) -> Json:
    """The job with other options of the choice."""
    return {**JOB, "pump_choice": {**JOB["pump_choice"], **options}}


def post(client: FlaskClient, body: Any) -> TestResponse:
    return client.post(PATH, json=body)


@pytest.fixture(scope="module")
def plain() -> Json:
    return answered(PATH, JOB)


def test_a_job_with_every_field_keeps_the_contract(contract: Json, plain: Json) -> None:
    validator(contract, "Job").validate(JOB)
    validator(contract, "PumpChoiceAnswer").validate(plain)


def test_the_duty_is_that_of_the_split(client: FlaskClient, plain: Json) -> None:
    split = client.post("/v1/split", json=JOB).get_json()
    assert plain["pump"] == split["pump"]
    cold = plain["conditions"][0]
    assert cold["fluid"] == split["fluid"]["in_loops"]
    assert cold["duty_head_m"] == pytest.approx(split["pump"]["head_m"], rel=1e-5)
    assert plain["cautions"] == split["cautions"]


def test_pumps_come_in_order_with_the_reason_of_those_that_miss(client: FlaskClient) -> None:
    content = post(client, with_pumps(candidates=[], use_invented_pumps=True)).get_json()
    meets = [each["meets_duty"] for each in content["pumps"]]
    assert meets == sorted(meets, reverse=True)
    energies = [each["energy_kwh"] for each in content["pumps"] if each["meets_duty"]]
    assert energies == sorted(energies)
    for each in content["pumps"]:
        assert bool(each["reasons"]) is not each["meets_duty"]
        assert each["invented"] is True
        assert "where" not in each
        assert "Invented" in each["name"]
    assert "invented_pumps" in {each["code"] for each in content["findings"]}


def test_every_pointer_of_a_pump_leads_to_its_candidate(plain: Json) -> None:
    for each in plain["pumps"]:
        candidate = value_at(
            JOB, tuple(int(p) if p.isdigit() else p for p in each["where"][1:].split("/"))
        )
        assert candidate["name"] == each["name"]
        assert each["invented"] is False


def test_units_are_those_that_the_names_say(plain: Json) -> None:
    # Identities between fields, each with its own unit: a factor of 1000 astray breaks them.
    hours = {"cold": 800.0, "warm": 1200.0}
    for each in plain["conditions"]:
        fluid = each["fluid"]
        assert each["run_h"] == hours[each["condition"]]
        viscosity = fluid["viscosity_mpa_s"] / fluid["density_kg_m3"] * 1e3
        assert each["kinematic_viscosity_mm2_s"] == pytest.approx(viscosity, rel=1e-5)
        for point in each["system_curve"]:
            pressure = fluid["density_kg_m3"] * 9.80665 * point["head_m"] / 1e3
            assert point["head_kpa"] == pytest.approx(pressure, rel=1e-5)
    for pump in plain["pumps"]:
        for result, condition in zip(pump["conditions"], plain["conditions"], strict=True):
            pressure = condition["fluid"]["density_kg_m3"] * 9.80665 * result["head_m"]
            power = pressure * result["flow_l_s"] / 1e3
            assert result["hydraulic_power_w"] == pytest.approx(power, rel=1e-5)
            share = 100 * power / result["power_w"]
            assert result["efficiency_percent"] == pytest.approx(share, rel=1e-5)
            energy = result["power_w"] * hours[result["condition"]] / 1e3
            assert result["energy_kwh"] == pytest.approx(energy, rel=1e-5)
            over = 100 * (result["flow_l_s"] / plain["pump"]["flow_l_s"] - 1)
            assert result["flow_margin_percent"] == pytest.approx(over, abs=2e-3)
        per_heat = pump["conditions"][0]["power_w"] / 9
        assert pump["benchmark"]["power_per_heat_w_kw"] == pytest.approx(per_heat, rel=1e-5)
        assert "10.6 W/kW" in pump["benchmark"]["source"]
        assert "grade" not in pump["benchmark"]
    speeds = {pump["name"]: pump["conditions"][0]["speed_rpm"] for pump in plain["pumps"]}
    assert speeds["R (invented)"] == 2500
    assert 1200 < speeds["P (invented)"] < 4000


def test_the_split_at_the_first_pump_is_the_split_at_its_flow(
    client: FlaskClient, plain: Json
) -> None:
    first = plain["pumps"][0]
    for at, result, condition in zip(
        first["splits"], first["conditions"], plain["conditions"], strict=True
    ):
        assert at["flow_l_s"] == pytest.approx(result["flow_l_s"], rel=1e-5)
        # Between solved flows the system curve is within 0.4 % of head.
        assert at["head_m"] == pytest.approx(result["head_m"], rel=0.004)
        duty = {"flow_l_s": at["flow_l_s"]} | {
            name: condition[name] for name in ("to_ground_c", "from_ground_c")
        }
        body = {"antifreeze": JOB["antifreeze"], "duty": duty, "array": JOB["array"]}
        split = client.post("/v1/split", json=body).get_json()
        assert at["head_m"] == pytest.approx(split["pump"]["head_m"], rel=1e-5)
        for ours, theirs in zip(at["loops"], split["loops"], strict=True):
            assert ours["loop"] == theirs["loop"]
            assert ours["where"] == theirs["where"]
            assert ours["flow_l_s"] == pytest.approx(theirs["flow_l_s"], rel=1e-5)


def test_a_tolerance_band_holds_the_operating_flow(plain: Json) -> None:
    # ISO 9906:2012, grade 2B: flow ± 8 %, head ± 5 % (from memory).
    assert plain["acceptance"]["min_flow_percent"] == 8
    assert plain["acceptance"]["max_head_percent"] == 5
    for pump in plain["pumps"]:
        for result in pump["conditions"]:
            assert result["min_flow_l_s"] <= result["flow_l_s"]
            assert result["flow_l_s"] <= result["max_flow_l_s"]
        for point in pump["curve"]:
            assert point["min_head_m"] <= point["head_m"] <= point["max_head_m"]


def test_viscosity_is_corrected_for_and_says_where_untested(plain: Json) -> None:
    for pump in plain["pumps"]:
        cold, warm = (each["viscosity_correction"] for each in pump["conditions"])
        assert 0 < cold["efficiency_factor"] < warm["efficiency_factor"] < 1
        if not cold["within_tests"]:
            assert any("ANSI/HI 9.6.7" in note for note in pump["conditions"][0]["notes"])


@pytest.mark.parametrize(
    ("where", "value"),
    [
        ("name", "Another"), ("reference", "B-12"), ("warm.to_ground_c", 7),
        ("warm.from_ground_c", 10), ("warm.hours_percent", 50), ("plant.run_h", 1000),
        ("limits", {"max_deviation_percent": 0.5}), ("limits", {"min_freezing_margin_k": 20}),
        ("duty.from_ground_c", 0), ("pump_choice.acceptance_grade", "1B"),
        ("pump_choice.use_invented_pumps", True),
        *((f"pump_choice.candidates.{where}", value) for where, value in (
            ("0.name", "Other (invented)"), ("0.speed_rpm", 2600), ("0.parallel", 3),
            ("0.series", 2), ("0.impellers", 2), ("0.tables.0.speed_rpm", 2900),
            ("0.tables.0.points.1.flow_l_s", 0.35), ("0.tables.0.points.1.head_m", 8.3),
            ("0.tables.0.points.1.power_w", 105), ("1.set_head_m", 6.5),
            ("1.min_speed_rpm", 3900), ("1.impellers", 1), ("1.tables.0.speed_rpm", 3600),
            ("1.tables.0.points.2.head_m", 8), ("1.tables.0.label", "top"),
        )),
    ],
)  # fmt: skip
def test_every_input_moves_the_result(
    client: FlaskClient, plain: Json, where: str, value: Any
) -> None:
    answer = post(client, put(JOB, where, value))
    assert answer.status_code == 200, answer.get_data(as_text=True)
    assert answer.get_json() != plain


def test_the_control_and_the_setting_move_the_result(client: FlaskClient) -> None:
    fixed = {key: value for key, value in HELD.items() if key not in {"control", "set_head_m"}}
    held, full, slower = (
        post(client, with_pumps(candidates=[each])).get_json()["pumps"][0]
        for each in (HELD, fixed, fixed | {"speed_rpm": 3800})
    )
    assert "speed_rpm" not in held
    assert (full["speed_rpm"], slower["speed_rpm"]) == (4000, 3800)
    assert len({each["conditions"][0]["power_w"] for each in (held, full, slower)}) == 3


@pytest.mark.parametrize(
    ("control", "setting", "value"),
    [
        ("constant_differential_pressure", "set_head_m", 5.0),
        ("proportional_pressure", "set_head_m", 6.0),
        ("constant_temperature_difference", "set_change_k", 5.0),
    ],
)
def test_a_control_holds_what_its_formula_says_and_runs_so_when_decided(
    client: FlaskClient, control: str, setting: str, value: float
) -> None:
    # The formulas of docs/theory/pumps.md, with the numbers that the answer itself tells.
    bare = {n: v for n, v in HELD.items() if n not in {"control", "set_head_m"}}
    for given in ({setting: value}, {}):
        pump = {**bare, "control": control, **given}
        content = post(client, with_pumps(candidates=[pump])).get_json()
        (judged,) = content["pumps"]
        duty, decided = content["pump"], judged["decides"]["pump"]
        if given:
            assert decided[setting] == value
        for told, condition in zip(judged["conditions"], content["conditions"], strict=True):
            assert told["state"].startswith("holding")
            flow, fluid = told["flow_l_s"], condition["fluid"]
            if control == "constant_temperature_difference":
                per_k = fluid["density_kg_m3"] * fluid["specific_heat_kj_kg_k"] * flow / 1e3
                assert 9 / per_k == pytest.approx(decided[setting], rel=1e-5)
            else:
                rises = control == "proportional_pressure"
                share = (1 + flow / duty["flow_l_s"]) / 2 if rises else 1
                assert told["head_m"] == pytest.approx(decided[setting] * share, rel=1e-5)
        split = client.post("/v1/split", json={**JOB, "pump": decided}).get_json()
        for running, told in zip(split["running"], judged["conditions"], strict=True):
            for name in ("flow_l_s", "head_m", "power_w", "speed_rpm", "energy_kwh"):
                assert running[name] == pytest.approx(told[name], rel=2e-6), name
        if not given:  # what is left open is that of the duty, and meets it
            assert judged["conditions"][0]["flow_l_s"] == pytest.approx(duty["flow_l_s"], rel=1e-5)
        again = {**JOB, "pump": decided}
        again["pump_choice"] = {**JOB["pump_choice"], "candidates": [decided]}
        for path in ("/v1/designs", "/v1/report"):
            whole = client.post(path, json=again).get_json()
            assert whole["pump_choice"]["pumps"][0]["conditions"] == judged["conditions"]
            assert whole["split"]["running"] == split["running"]


@pytest.mark.parametrize(
    ("control", "setting", "value", "limit"),
    [
        ("constant_differential_pressure", "set_head_m", 11.0, "full"),
        ("constant_differential_pressure", "set_head_m", 0.2, "its least"),
        ("proportional_pressure", "set_head_m", 14.0, "full"),
        ("proportional_pressure", "set_head_m", 0.2, "its least"),
        ("constant_temperature_difference", "set_change_k", 1.5, "full"),
        ("constant_temperature_difference", "set_change_k", 20.0, "its least"),
    ],
)
def test_a_setting_that_is_not_held_is_told_alike_with_one_that_is(
    client: FlaskClient, control: str, setting: str, value: float, limit: str
) -> None:
    bare = {n: v for n, v in HELD.items() if n not in {"control", "set_head_m"}}
    pump = {**bare, "control": control, setting: value}
    content = post(client, with_pumps(candidates=[pump])).get_json()
    told = {each["code"]: each["message"] for each in content["findings"]}
    message = told["pump_setting_not_held"]
    unit = "K" if setting == "set_change_k" else "m"
    assert f"does not hold the {value:g} {unit} that are set" in message
    assert f"at {limit} speed" in message
    split = client.post("/v1/split", json={**JOB, **content["pumps"][0]["decides"]}).get_json()
    assert message in {each["message"] for each in split["findings"]}
    # Posted, what it is said to hold is held: in every condition, to the digits told.
    able = float(message.partition("; it holds ")[2].split()[0])
    there = post(client, with_pumps(candidates=[{**pump, setting: able}])).get_json()
    assert "pump_setting_not_held" not in {each["code"] for each in there["findings"]}
    short = "less than the flow of the duty" in message
    assert short is not there["pumps"][0]["meets_duty"]


def test_a_setting_of_another_control_is_refused(client: FlaskClient) -> None:
    for control, setting in (
        ("proportional_pressure", "set_change_k"),
        ("constant_temperature_difference", "set_head_m"),
    ):
        pump = {n: v for n, v in HELD.items() if n != "set_head_m"}
        pump |= {"control": control, setting: 3}
        where = errors_of(post(client, with_pumps(candidates=[pump])))
        assert list(where) == [f"/pump_choice/candidates/0/{setting}"]
    pump = {n: v for n, v in HELD.items() if n != "set_head_m"}
    pump["control"] = "constant_temperature_difference"
    no_heat = {"flow_l_s": 0.4, "to_ground_c": -3, "from_ground_c": -3}
    where = errors_of(post(client, {**with_pumps(candidates=[pump]), "duty": no_heat}))
    assert list(where) == ["/pump_choice/candidates/0/control"]
    where = errors_of(client.post("/v1/split", json={**JOB, "pump": pump, "duty": no_heat}))
    assert list(where) == ["/pump/control"]


def test_a_label_of_a_table_alone_moves_no_number(client: FlaskClient, plain: Json) -> None:
    labelled = put(JOB, "pump_choice.candidates.1.tables.0.label", "top")
    there = post(client, labelled).get_json()
    for each in (*there["pumps"], *(pumps := copy.deepcopy(plain)["pumps"])):
        del each["decides"]
    assert there["pumps"] == pumps


def test_what_a_pump_decides_runs_as_it_was_judged(client: FlaskClient, plain: Json) -> None:
    # One pump with its setting put into the job: the split tells what it drives, cold and warm.
    for each in plain["pumps"]:
        assert set(each["decides"]) == {"pump"}
        split = client.post("/v1/split", json={**JOB, **each["decides"]}).get_json()
        for running, judged in zip(split["running"], each["conditions"], strict=True):
            for name in ("flow_l_s", "head_m", "power_w", "speed_rpm", "energy_kwh"):
                assert running[name] == pytest.approx(judged[name], rel=2e-6), name
        again = post(client, with_pumps(candidates=[each["decides"]["pump"]])).get_json()
        assert again["pumps"][0]["conditions"] == each["conditions"]


def test_a_pump_without_a_setting_decides_the_one_that_it_was_judged_at(
    client: FlaskClient,
) -> None:
    free = {key: value for key, value in FIXED.items() if key != "speed_rpm"}
    head = {key: value for key, value in HELD.items() if key != "set_head_m"}
    content = post(client, with_pumps(candidates=[free, head])).get_json()
    decided = {each["name"]: each["decides"]["pump"] for each in content["pumps"]}
    assert decided["R (invented)"]["speed_rpm"] in {2000, 2800}
    held = decided["P (invented)"]["set_head_m"]
    # Twelve digits are decided, six told.
    assert held == pytest.approx(content["pump"]["head_m"], rel=1e-5)
    assert held != content["pump"]["head_m"]


def test_without_warm_the_cold_has_all_hours(client: FlaskClient) -> None:
    body = {key: value for key, value in JOB.items() if key != "warm"}
    content = post(client, body).get_json()
    assert [each["run_h"] for each in content["conditions"]] == [2000]
    assert all(len(each["conditions"]) == 1 for each in content["pumps"])


def test_a_pump_that_cannot_is_listed_with_its_reason_and_no_numbers(client: FlaskClient) -> None:
    table = {"speed_rpm": 1000, "points": points((0, 1, 5), (0.05, 0.9, 6), (0.1, 0.5, 6))}
    weak = {"name": "W (invented)", "tables": [table]}
    content = post(client, with_pumps(candidates=[FIXED, weak])).get_json()
    last = content["pumps"][-1]
    assert last["name"] == "W (invented)"
    assert last["reasons"]
    assert post(client, with_pumps(candidates=[weak])).status_code == 200


@pytest.mark.parametrize(
    ("where", "value", "at"),
    [
        ("candidates", [], "/candidates"),
        ("candidates", None, "/candidates"),
        ("candidates.0", {"name": "X"}, "/candidates/0/tables"),
        ("candidates.0.tables", [], "/candidates/0/tables"),
        ("candidates.0.tables.0.speed_rpm", 0, "/candidates/0/tables/0/speed_rpm"),
        ("candidates.0.tables.1.speed_rpm", 2800, "/candidates/0/tables/1/speed_rpm"),
        ("candidates.0.tables.0.points.1.flow_l_s", 0.7,
         "/candidates/0/tables/0/points/2/flow_l_s"),
        ("candidates.0.tables.0.points", [], "/candidates/0/tables/0/points"),
        ("candidates.0.tables.0.speed_percent", 100, "/candidates/0/tables/0/speed_percent"),
        ("candidates.0.speed_rpm", 2801, "/candidates/0/speed_rpm"),
        ("candidates.0.set_head_m", 5, "/candidates/0/set_head_m"),
        ("candidates.0.min_speed_rpm", 2900, "/candidates/0/min_speed_rpm"),
        ("candidates.0.parallel", 0, "/candidates/0/parallel"),
        ("candidates.0.series", 1.5, "/candidates/0/series"),
        ("candidates.0.impellers", True, "/candidates/0/impellers"),
        ("candidates.0.name", " ", "/candidates/0/name"),
        ("candidates.0.control", "constant_sped", "/candidates/0/control"),
        ("candidates.1.speed_rpm", 3900, "/candidates/1/speed_rpm"),
        ("candidates.1.set_head_m", 0, "/candidates/1/set_head_m"),
        ("use_invented_pumps", "yes", "/use_invented_pumps"),
        ("use_invented_pumps", None, "/use_invented_pumps"),
        ("acceptance_grade", "4B", "/acceptance_grade"),
        ("pumps", [], "/pumps"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_refused_at_its_place(
    client: FlaskClient, where: str, value: Any, at: str
) -> None:
    answer = post(client, put(JOB, f"pump_choice.{where}", value))
    assert answer.status_code == 422, answer.get_data(as_text=True)
    assert set(errors_of(answer)) == {f"/pump_choice{at}"}


@pytest.mark.parametrize(
    ("where", "value", "at"),
    [
        ("warm", {"to_ground_c": -6, "from_ground_c": -5}, "/warm"),
        ("warm.hours_percent", 101, "/warm/hours_percent"),
        ("warm.hours", 3, "/warm/hours"),
        ("warm.from_ground_c", 149, "/warm/from_ground_c"),
        ("plant.run_h", 8785, "/plant/run_h"),
        ("duty", {"flow_l_s": 0, "to_ground_c": -3, "from_ground_c": 0}, "/duty"),
        ("pumps", [], "/pumps"),
    ],
)
def test_a_wrong_value_of_another_part_is_refused_at_its_place(
    client: FlaskClient, where: str, value: Any, at: str
) -> None:
    answer = post(client, put(JOB, where, value))
    assert answer.status_code == 422, answer.get_data(as_text=True)
    assert set(errors_of(answer)) == {at}


@pytest.mark.parametrize(
    ("column", "point", "value", "words"),
    [
        ("head_m", 2, 5, "Head must fall"),  # humped or flat, as the point before it
        ("head_m", 2, 99, "Head must fall"),
        ("head_m", -1, -1, "must not be negative"),
        ("power_w", 1, 0, "more than 0 W"),
        ("power_w", 1, -60, "more than 0 W"),
        ("power_w", 1, 1, "over 100 %"),
    ],
)
def test_a_table_that_no_pump_has_is_set_aside_and_the_others_are_judged(  # noqa: PLR0917
    client: FlaskClient, plain: Json, column: str, point: int, value: float, words: str
) -> None:
    table = "pump_choice.candidates.0.tables.0.points"
    before = copy.deepcopy(JOB)["pump_choice"]["candidates"][0]["tables"][0]["points"]
    at = point % len(before)
    value = before[1]["head_m"] if value == 5 else value
    body = put(JOB, f"{table}.{at}.{column}", value)
    content = post(client, body).get_json()
    (aside,) = content["set_aside"]
    assert (aside["name"], aside["where"]) == (FIXED["name"], "/pump_choice/candidates/0")
    reason = aside["reasons"][0]
    assert reason.startswith(f"tables/0/points/{at}/{column}: ")
    assert words in reason
    # The others as they are without it.
    others = [each for each in plain["pumps"] if each["where"] != aside["where"]]
    left = ("splits",)
    assert [{n: e[n] for n in e if n not in left} for e in content["pumps"]] == [
        {n: e[n] for n in e if n not in left} for e in others
    ]
    alone = copy.deepcopy(body)
    alone["pump_choice"]["candidates"] = alone["pump_choice"]["candidates"][:1]
    where = f"/pump_choice/candidates/0/tables/0/points/{at}/{column}"
    assert where in errors_of(post(client, alone))
    assert list(errors_of(post(client, put(body, "pump_choice.take", FIXED["name"])))) == [
        "/pump_choice/take"
    ]


def test_a_makers_limits_are_read_in_their_units_and_come_back(client: FlaskClient) -> None:
    pump = copy.deepcopy(HELD) | {"min_flow_l_s": 5, "rated_power_w": 20, "inlet_kpa": -60}
    for point in pump["tables"][0]["points"]:
        point["npsh_m"] = 8
    content = post(client, with_pumps(candidates=[pump])).get_json()
    codes = {each["code"]: each["message"] for each in content["findings"]}
    assert "the 5 L/s that its maker" in codes["pump_below_min_flow"]
    assert "the 20 W that motor" in codes["pump_motor_overloaded"]
    assert "-60 kPa are given" in codes["pump_inlet_low"]
    (judged,) = content["pumps"]
    decided = judged["decides"]["pump"]
    assert {name: decided[name] for name in pump if name != "tables"} == {
        name: pump[name] for name in pump if name != "tables"
    }
    assert decided["tables"] == pump["tables"]
    del pump["tables"][0]["points"][1]["npsh_m"]
    (where,) = errors_of(post(client, with_pumps(candidates=[pump])))
    assert where.startswith("/pump_choice/candidates/0/tables/0/points")


def test_a_flow_that_does_not_rise_is_refused_in_the_unit_of_its_field(client: FlaskClient) -> None:
    where = "pump_choice.candidates.0.tables.0.points.1.flow_l_s"
    (error,) = errors_of(post(client, put(JOB, where, 0.7))).values()
    assert error["allowed"] == "more than 0.700001 L/s"  # a millionth of the last flow apart
    assert error["value"] == 0.6


def test_all_faults_are_listed_at_once(client: FlaskClient) -> None:
    body = copy.deepcopy(JOB)
    body["pump_choice"]["candidates"][0]["speed_rpm"] = 9999
    body["pump_choice"]["candidates"][1]["tables"][0]["points"][1]["flow_l_s"] = 0
    body["warm"]["from_ground_c"] = 149
    body["plant"]["run_h"] = "2000"
    body["array"]["branches"][0]["loop"]["pipe"] = "PE100 SDR11 33"
    assert set(errors_of(post(client, body))) == {
        "/pump_choice/candidates/0/speed_rpm",
        "/pump_choice/candidates/1/tables/0/points/1/flow_l_s",
        "/warm/from_ground_c",
        "/plant/run_h",
        "/array/branches/0/loop/pipe",
    }


def test_frozen_warm_brine_is_outside_the_range(client: FlaskClient) -> None:
    body = put(JOB, "warm", {"to_ground_c": -30, "from_ground_c": 60})
    answer = post(client, body)
    assert answer.get_json(force=True)["type"] == "/v1/problems/outside-range"
    assert set(errors_of(answer)) == {"/warm/to_ground_c"}


def test_a_duty_by_pump_asks_for_the_flow_that_it_drives(client: FlaskClient) -> None:
    curve = [{"flow_l_s": 0, "head_m": 8}, {"flow_l_s": 1.2, "head_m": 1}]
    duty = {"pump_curve": curve, "to_ground_c": -3, "from_ground_c": 0.5}
    content = post(client, put(JOB, "duty", duty)).get_json()
    assert 0.2 < content["pump"]["flow_l_s"] < 1.2


def test_findings_are_documented(plain: Json) -> None:
    assert {each["code"] for each in plain["findings"]} <= FINDING_CODES.keys()


def test_the_invented_pumps_say_so_and_may_be_posted_as_candidates(
    client: FlaskClient, contract: Json
) -> None:
    listed = client.get("/v1/invented-pumps").get_json()
    validator(contract, "InventedPumps").validate(listed)
    assert "Invented" in listed["notice"]
    assert len({each["name"] for each in listed["pumps"]}) == 5
    assert all("Invented" in each["name"] for each in listed["pumps"])
    posted = post(client, with_pumps(candidates=listed["pumps"])).get_json()
    named = post(client, with_pumps(candidates=[], use_invented_pumps=True)).get_json()
    for own, demo in zip(posted["pumps"], named["pumps"], strict=True):
        assert own["name"] == demo["name"]
        # Tables went through six significant digits.
        assert own.get("energy_kwh") == pytest.approx(demo.get("energy_kwh"), rel=1e-5)


def test_the_answer_is_the_same_every_time(client: FlaskClient, plain: Json) -> None:
    assert post(client, JOB).get_json() == plain


@pytest.mark.parametrize("size", [1e-300, 1e-3, 100, 1e5])
def test_no_size_of_any_number_breaks_the_service(
    client: FlaskClient, contract: Json, size: float
) -> None:
    keeps = validator(contract, "PumpChoiceAnswer")
    for place in numbers(JOB):
        answer = post(client, put(JOB, ".".join(map(str, place)), size))
        assert answer.status_code in {200, 422}, (place, answer.get_data(as_text=True))
        if answer.status_code == 200:
            keeps.validate(answer.get_json())


def test_a_name_that_no_pump_has_is_refused_alike_in_choice_and_design(client: FlaskClient) -> None:
    body = with_pumps(take="Pump of another job")
    for path in (PATH, "/v1/designs"):
        answer = client.post(path, json=body)
        assert answer.status_code == 422, path
        (told,) = errors_of(answer).items()
        assert told[0] == "/pump_choice/take"
        assert told[1]["value"] == "Pump of another job"
        assert FIXED["name"] in told[1]["allowed"]
    assert post(client, with_pumps(take=FIXED["name"])).status_code == 200


def test_a_pump_that_is_weaker_when_faster_is_refused(client: FlaskClient) -> None:
    # Affinity laws (White, Fluid Mechanics, chapter 11): head grows with the square of speed.
    slow, fast = FIXED["tables"]
    swapped = [slow | {"speed_rpm": fast["speed_rpm"]}, fast | {"speed_rpm": slow["speed_rpm"]}]
    for tables in (swapped, swapped[::-1]):
        answer = post(client, with_pumps(candidates=[FIXED | {"tables": tables}]))
        assert answer.status_code == 422
        (told,) = errors_of(answer).items()
        number = max(range(2), key=lambda n: tables[n]["speed_rpm"])
        assert told[0] == f"/pump_choice/candidates/0/tables/{number}/speed_rpm"
        assert "more head the faster it runs" in told[1]["detail"]


def test_a_name_that_two_pumps_have_cannot_be_taken(client: FlaskClient) -> None:
    twins = [FIXED, HELD | {"name": FIXED["name"]}]
    answer = post(client, with_pumps(candidates=twins, take=FIXED["name"]))
    assert answer.status_code == 422
    (told,) = errors_of(answer).items()
    assert told[0] == "/pump_choice/take"
    assert "candidates.0 (constant_speed) and candidates.1 (constant_diff" in told[1]["detail"]
    assert post(client, with_pumps(candidates=twins)).status_code == 200
