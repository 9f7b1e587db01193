"""POST /v1/balancing: the ways side by side, what imbalance costs in heat, and what is refused."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api.command.write_contract import compute_responses
from api.contract.examples import FOLDER
from hydraulics.balancing.result import BALANCING_FINDINGS
from hydraulics.findings import FINDING_CODES
from tests.api.conftest import Json, answered, errors_of
from tests.api.contract.test_document import example_and_answer, validator, without_numbers
from tests.api.resources.test_flow_split import put
from tests.api.service.test_hostile_input import numbers

PATH = "/v1/balancing"
EXAMPLES = sorted((FOLDER / "examples" / "balancing").glob("*.json"))
LADDER: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"},
    "duty": {"flow_l_s": 1.2, "to_ground_temperature_c": -3, "from_ground_temperature_c": 0},
    "array": {
        "arrangement": "direct_return",
        "header_pipe": "PE100 SDR11 40",
        "branches": [
            {"loop": "A", "pipe": "PE100 SDR11 32", "header_m": 10, "legs": [{"straight_m": 150}]},
            {"loop": "B", "pipe": "PE100 SDR11 32", "header_m": 15, "legs": [{"straight_m": 150}]},
            {"loop": "C", "pipe": "PE100 SDR11 32", "header_m": 15, "legs": [{"straight_m": 150}]},
            {"loop": "D", "pipe": "PE100 SDR11 32", "header_m": 15, "legs": [{"straight_m": 190}]},
        ],
    },
    "valve": {"positions": [{"position": 1, "kv_m3_h": 1}, {"position": 2, "kv_m3_h": 3}]},
    "target": "shares",
    "target_shares": [1, 1, 1, 1.1],
    "spare_coil_diameter_m": 1.2,
    "spare_length_step_m": 1,
    "closing_m": 50,
    "pump_efficiency_percent": 35,
    "run_hours": 2000,
    "ground": {
        "ground_temperature_c": 8,
        "ground_resistance_m_k_w": 0.3,
        "pipe_conductivity_w_m_k": 0.42,
    },
}
WAYS = ["regulating_valves", "spare_pipe", "reverse_return", "larger_headers", "other_loop_bore"]


def post(client: FlaskClient, body: Any) -> TestResponse:
    return client.post(PATH, json=body)


@pytest.fixture(scope="module")
def plain() -> Json:
    return answered(PATH, LADDER)


def way(content: Json, kind: str) -> Json:
    found: Json = next(each for each in content["ways"] if each["way"] == kind)
    return found


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_an_example_and_its_answer_keep_the_contract(
    client: FlaskClient, contract: Json, file: Path
) -> None:
    _, content = example_and_answer(client, contract, PATH, "Balancing", file)
    reaching = {each["way"] for each in content["ways"] if each["verdict"] == "reaches"}
    assert {"regulating_valves", "spare_pipe"} <= reaching


def test_the_examples_answers_are_what_the_service_answers() -> None:
    answers = compute_responses(PATH)
    folder = FOLDER / "examples" / "balancing" / "responses"
    assert len(answers) == len(EXAMPLES) >= 2
    assert {file.name for file in folder.glob("*.json")} == set(answers)
    for name, answer in answers.items():
        kept = json.loads((folder / name).read_text("utf-8"))
        del kept["as_it_is"]["residuals"], answer["as_it_is"]["residuals"]
        assert without_numbers(kept) == without_numbers(answer), name
        for old, new in zip(kept["targets"], answer["targets"], strict=True):
            # One unit of the sixth digit at most, whatever the processor.
            assert old["flow_l_s"] == pytest.approx(new["flow_l_s"], rel=1e-5)


def test_a_request_with_every_field_keeps_the_contract(contract: Json, plain: Json) -> None:
    validator(contract, "BalancingRequest").validate(LADDER)
    validator(contract, "BalancingResponse").validate(plain)


def test_every_way_is_there_in_its_order_and_tells_what_it_takes(plain: Json) -> None:
    assert [each["way"] for each in plain["ways"]] == WAYS
    valves, spare = way(plain, "regulating_valves"), way(plain, "spare_pipe")
    assert valves["valves"] == 4
    assert sum(each["fully_open"] for each in valves["settings"]) == 1
    assert {each["position"] for each in valves["settings"]} <= {1.0, 2.0}
    total = sum(each["length_m"] for each in spare["spare_pipe"])
    assert sum(each["length_m"] for each in spare["pipes"]) == pytest.approx(total)
    assert all(each["length_m"] % 1 == 0 for each in spare["spare_pipe"])
    assert way(plain, "larger_headers")["tried"]


def test_the_array_as_it_is_is_its_flow_split(client: FlaskClient, plain: Json) -> None:
    own = {"antifreeze", "duty", "array"}
    split = client.post(
        "/v1/flow-split", json={key: value for key, value in LADDER.items() if key in own}
    ).get_json()
    before = plain["as_it_is"]
    assert before["loops"] == split["loops"]
    assert before["imbalance"] == split["imbalance"]
    for name in ("flow_l_s", "head_kpa", "head_m", "hydraulic_power_w"):
        assert before["pump_duty"][name] == split["pump_duty"][name]
    assert plain["findings"] == split["findings"]
    assert plain["cautions"] == split["cautions"]


def test_targets_are_in_the_given_proportion_and_add_up(plain: Json) -> None:
    flows = [each["target_flow_l_s"] for each in plain["targets"]]
    assert flows[3] == pytest.approx(1.1 * flows[0], rel=1e-5)
    assert sum(flows) == pytest.approx(1.2, rel=1e-5)
    for each in plain["targets"]:
        off = 100 * (each["flow_l_s"] / each["target_flow_l_s"] - 1)
        assert each["deviation_percent"] == pytest.approx(off, abs=2e-3)  # six digits of each flow


def test_units_are_those_that_the_names_say(plain: Json) -> None:
    # Identities between fields, each with its own unit: a factor of 1000 astray breaks them.
    density = plain["as_it_is"]["fluid"]["density_kg_m3"]
    before = plain["as_it_is"]["pump_duty"]
    power = before["flow_l_s"] * before["head_kpa"]
    assert before["hydraulic_power_w"] == pytest.approx(power, rel=1e-5)
    assert before["energy_kwh"] == pytest.approx(power / 0.35 * 2000 / 1e3, rel=1e-5)
    for each in plain["ways"]:
        change = each["pump_duty"]["energy_kwh"] - before["energy_kwh"]
        # A difference of two numbers of six digits each.
        size = before["energy_kwh"] + each["pump_duty"]["energy_kwh"]
        assert each["energy_change_kwh"] == pytest.approx(change, abs=5e-6 * size)
    exact = way(plain, "regulating_valves")["settings"]
    for row, target in zip(exact, plain["targets"], strict=True):
        # EN 60534: Kv is the flow in m³/h of water (1000 kg/m³) at a drop of 1 bar.
        flow = target["target_flow_l_s"] * 3.6
        bar = row["pressure_drop_kpa"] / 100
        assert row["kv_m3_h"] == pytest.approx(flow * (density / 1000 / bar) ** 0.5, rel=1e-4)
        velocity = target["target_flow_l_s"] / 1e3 / (3.14159265 / 4 * (row["bore_mm"] / 1e3) ** 2)
        drop = row["loss_coefficient"] * density * velocity**2 / 2
        assert drop / 1e3 == pytest.approx(row["pressure_drop_kpa"], rel=1e-4)


def test_the_heat_cost_adds_up_over_the_loops(plain: Json) -> None:
    cost = plain["heat_cost"]
    assert sum(each["heat_w"] for each in cost["loops"]) == pytest.approx(
        cost["heat_as_it_is_w"], rel=1e-5
    )
    lost = cost["heat_at_target_w"] - cost["heat_as_it_is_w"]
    size = cost["heat_at_target_w"] + cost["heat_as_it_is_w"]  # six digits of each
    assert cost["heat_lost_w"] == pytest.approx(lost, abs=5e-6 * size)
    fluid, flow = plain["as_it_is"]["fluid"], plain["as_it_is"]["pump_duty"]["flow_l_s"]
    warming = cost["return_temperature_c"] - -3
    carried = flow * fluid["density_kg_m3"] * fluid["specific_heat_kj_kg_k"] * warming
    assert cost["heat_as_it_is_w"] == pytest.approx(carried, rel=1e-4)
    assert "Kays" in cost["model"]
    assert cost["limits"]


def test_without_ground_there_is_no_heat_cost_and_without_table_no_positions(
    client: FlaskClient,
) -> None:
    body = copy.deepcopy(LADDER)
    del body["ground"], body["valve"]
    content = post(client, body).get_json()
    assert "heat_cost" not in content
    valves = way(content, "regulating_valves")
    assert valves["verdict"] == "reaches"
    assert "exact" not in valves
    assert all("position" not in each for each in valves["settings"])
    (index,) = [each for each in valves["settings"] if each["fully_open"]]
    assert "kv_m3_h" not in index
    assert index["pressure_drop_kpa"] == 0


def test_the_smallest_request_takes_the_stated_defaults(client: FlaskClient, job: Json) -> None:
    content = post(client, job).get_json()
    written = job | {"target": "even", "tolerance_percent": 10, "spare_coil_diameter_m": 1,
                     "spare_length_step_m": 0, "pump_efficiency_percent": 30, "run_hours": 2400,
                     "freezing_margin_k": 3}  # fmt: skip
    assert post(client, written).get_json() == content
    assert (content["target"], content["run_hours"]) == ("even", 2400)


@pytest.mark.parametrize(
    ("where", "value"),
    [
        ("name", "Another"), ("tolerance_percent", 1), ("freezing_margin_k", 20),
        ("valve.positions.0.position", 1.5), ("valve.positions.1.kv_m3_h", 4),
        ("target_shares.3", 1), ("spare_coil_diameter_m", 0.8), ("spare_length_step_m", 7),
        ("closing_m", 70), ("pump_efficiency_percent", 40), ("run_hours", 1000),
        ("ground.ground_temperature_c", 9), ("ground.ground_resistance_m_k_w", 0.2),
        ("ground.pipe_conductivity_w_m_k", 0.3), ("duty.flow_l_s", 1.1),
        ("array.branches.0.legs.0.straight_m", 140),
        ("duty", {"heat_from_ground_kw": 12, "temperature_change_k": 3,
                  "to_ground_temperature_c": -3}),
    ],
)  # fmt: skip
def test_every_input_moves_the_result(
    client: FlaskClient, plain: Json, where: str, value: Any
) -> None:
    answer = post(client, put(LADDER, where, value))
    assert answer.status_code == 200, answer.get_data(as_text=True)
    assert answer.get_json() != plain


def test_the_target_moves_the_result(client: FlaskClient) -> None:
    body = copy.deepcopy(LADDER)
    del body["target_shares"]
    targets = [
        post(client, body | {"target": target}).get_json()["targets"]
        for target in ("even", "by_length")
    ]
    assert targets[0] != targets[1]
    flows = [each["target_flow_l_s"] for each in targets[1]]
    assert flows[3] / flows[0] == pytest.approx(190 / 150, rel=1e-5)


def test_a_name_of_a_valve_alone_moves_nothing(client: FlaskClient, plain: Json) -> None:
    assert post(client, put(LADDER, "valve.name", "DN 25")).get_json() == plain


@pytest.mark.parametrize(
    ("where", "value", "at"),
    [
        ("target", "evn", "/target"),
        ("target", None, "/target"),
        ("target", "even", "/target_shares"),
        ("target_shares", [1, 1, 1], "/target_shares"),
        ("target_shares", [], "/target_shares"),
        ("target_shares.2", 0, "/target_shares/2"),
        ("target_shares.2", "1", "/target_shares/2"),
        ("valve", {}, "/valve/positions"),
        ("valve.positions", [], "/valve/positions"),
        ("valve.positions.1.kv_m3_h", 0.5, "/valve/positions/1/kv_m3_h"),
        ("valve.positions.1.position", 1, "/valve/positions/1/position"),
        ("valve.positions.1.kv_m3_h", 0, "/valve/positions/1/kv_m3_h"),
        ("valve.positions.1.kv", 2, "/valve/positions/1/kv"),
        ("spare_coil_diameter_m", 0.1, "/spare_coil_diameter_m"),
        ("spare_coil_diameter_m", 0, "/spare_coil_diameter_m"),
        ("spare_length_step_m", -1, "/spare_length_step_m"),
        ("closing_m", -1, "/closing_m"),
        ("closing_m", None, "/closing_m"),
        ("pump_efficiency_percent", 0, "/pump_efficiency_percent"),
        ("pump_efficiency_percent", 101, "/pump_efficiency_percent"),
        ("run_hours", 8785, "/run_hours"),
        ("run_hours", True, "/run_hours"),
        ("ground", 8, "/ground"),
        ("ground.ground_temperature_c", -3, "/ground/ground_temperature_c"),
        ("ground.ground_temperature_c", 101, "/ground/ground_temperature_c"),
        ("ground.ground_resistance_m_k_w", -0.1, "/ground/ground_resistance_m_k_w"),
        ("ground.pipe_conductivity_w_m_k", 0, "/ground/pipe_conductivity_w_m_k"),
        ("ground.soil", "clay", "/ground/soil"),
        ("duty.flow_l_s", 0, "/duty"),
        ("balance", True, "/balance"),
        ("array.branches.0.pipe", "PE100 SDR11 33", "/array/branches/0/pipe"),
    ],
)
def test_a_wrong_value_is_refused_at_its_place(
    client: FlaskClient, where: str, value: Any, at: str
) -> None:
    answer = post(client, put(LADDER, where, value))
    assert answer.status_code == 422, answer.get_data(as_text=True)
    assert set(errors_of(answer)) == {at}


def test_shares_are_needed_where_the_target_is_shares(client: FlaskClient, job: Json) -> None:
    assert set(errors_of(post(client, job | {"target": "shares"}))) == {"/target_shares"}


def test_all_faults_are_listed_at_once(client: FlaskClient) -> None:
    body = put(put(LADDER, "target", "by_length"), "valve.positions.1.kv_m3_h", 0.5)
    body = put(put(body, "run_hours", -1), "duty.to_ground_temperature_c", -30)
    body = put(body, "array.branches.1.legs.0.straight_m", -5)
    assert set(errors_of(post(client, body))) == {
        "/target_shares",
        "/valve/positions/1/kv_m3_h",
        "/run_hours",
        "/duty/to_ground_temperature_c",
        "/array/branches/1/legs/0/straight_m",
    }


def test_findings_of_the_ways_are_documented(client: FlaskClient) -> None:
    assert BALANCING_FINDINGS.items() <= FINDING_CODES.items()
    body = put(LADDER, "valve.positions.0.kv_m3_h", 2.9)
    found = {each["code"] for way in post(client, body).get_json()["ways"]
             for each in way["findings"]}  # fmt: skip
    assert "valve_below_table" in found
    assert found <= FINDING_CODES.keys()


@pytest.mark.parametrize("size", [1e-300, 1e-9, 1e-3, 1, 100, 1e5])
def test_no_size_of_any_number_breaks_the_service(
    client: FlaskClient, contract: Json, size: float
) -> None:
    keeps = validator(contract, "BalancingResponse")
    for place in numbers(LADDER):
        answer = post(client, put(LADDER, ".".join(map(str, place)), size))
        assert answer.status_code in {200, 422}, (place, answer.get_data(as_text=True))
        if answer.status_code == 200:
            keeps.validate(answer.get_json())
