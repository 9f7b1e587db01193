"""POST /v1/balancing: the ways side by side, what imbalance costs in heat, and what is refused."""

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from hydraulics.findings import FINDING_CODES
from tests.api.conftest import Json, answered, errors_of
from tests.api.contract.test_document import validator
from tests.api.resources.test_split import put
from tests.api.service.test_hostile_input import numbers

PATH = "/v1/balancing"


def rung(name: str, header: float, length: float) -> Json:
    loop = {"name": name, "pipe": "PE100 SDR11 32", "legs": [{"straight": {"length_m": length}}]}
    return {"header_m": header, "loop": loop}


LADDER: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"},
    "plant": {"run_h": 2000},
    "array": {
        "arrangement": "direct_return",
        "header_pipe": "PE100 SDR11 40",
        "branches": [
            rung("A", 10, 150),
            rung("B", 15, 150),
            rung("C", 15, 150),
            rung("D", 15, 190),
        ],
    },
    "duty": {"flow_l_s": 1.2, "to_ground_c": -3, "from_ground_c": 0},
    "ground_at_loops": {
        "ground_c": 8,
        "resistance_m_k_w": 0.3,
        "pipe_conductivity_w_m_k": 0.42,
    },
    "balancing": {
        "target": "shares",
        "shares": [
            {"loop": "D", "share": 1.1},
            {"loop": "A", "share": 1},
            {"loop": "B", "share": 1},
            {"loop": "C", "share": 1},
        ],
        "valve": {"positions": [{"position": 1, "kv_m3_h": 1.5}, {"position": 2, "kv_m3_h": 3}]},
        "spare_coil_diameter_m": 1.2,
        "spare_step_m": 1,
        "closing_m": 50,
        "pump_efficiency_percent": 35,
    },
}
WAYS = ["regulating_valves", "spare_pipe", "reverse_return", "larger_headers", "other_loop_pipe"]


def post(client: FlaskClient, body: Any) -> TestResponse:
    return client.post(PATH, json=body)


@pytest.fixture(scope="module")
def plain() -> Json:
    return answered(PATH, LADDER)


def split_of(job: Json) -> Json:
    return answered("/v1/split", job)


def way(content: Json, kind: str) -> Json:
    found: Json = next(each for each in content["ways"] if each["way"] == kind)
    return found


def test_a_job_with_every_field_keeps_the_contract(contract: Json, plain: Json) -> None:
    validator(contract, "Job").validate(LADDER)
    validator(contract, "BalancingAnswer").validate(plain)


def test_every_way_is_there_in_its_order_and_tells_what_it_takes(plain: Json) -> None:
    assert [each["way"] for each in plain["ways"]] == WAYS
    valves, spare = way(plain, "regulating_valves"), way(plain, "spare_pipe")
    assert valves["valves"] == 4
    assert sum(each["fully_open"] for each in valves["settings"]) == 1
    for each in valves["settings"]:
        assert each["fully_open"] == (each["position"] == 2.0)
        assert each["position_kv_m3_h"] == {1.0: 1.5, 2.0: 3.0}[each["position"]]
    total = sum(each["length_m"] for each in spare["spare_pipe"])
    assert sum(each["length_m"] for each in spare["pipes"]) == pytest.approx(total)
    assert all(each["length_m"] % 1 == 0 for each in spare["spare_pipe"])
    assert way(plain, "larger_headers")["tried"]


def test_the_array_before_is_its_split(client: FlaskClient, plain: Json) -> None:
    split = client.post("/v1/split", json=LADDER).get_json()
    before = plain["before"]
    assert split["loops"] == before["loops"]
    assert before["imbalance"] == split["imbalance"]
    for name in ("flow_l_s", "head_kpa", "head_m", "hydraulic_power_w"):
        assert before["pump"][name] == split["pump"][name]
    assert plain["findings"] == split["findings"]
    assert plain["cautions"] == split["cautions"]


def test_targets_are_in_the_given_proportion_and_add_up(plain: Json) -> None:
    flows = [each["target_flow_l_s"] for each in plain["before"]["loops"]]
    assert flows[3] == pytest.approx(1.1 * flows[0], rel=1e-5)
    assert sum(flows) == pytest.approx(1.2, rel=1e-5)
    for each in plain["before"]["loops"]:
        off = 100 * (each["flow_l_s"] / each["target_flow_l_s"] - 1)
        # Six digits of each flow.
        assert each["deviation_percent"] == pytest.approx(off, abs=2e-3)


def test_units_are_those_that_the_names_say(plain: Json) -> None:
    # Identities between fields, each with its own unit: a factor of 1000 astray breaks them.
    density = split_of(LADDER)["fluid"]["in_loops"]["density_kg_m3"]
    before = plain["before"]["pump"]
    power = before["flow_l_s"] * before["head_kpa"]
    assert before["hydraulic_power_w"] == pytest.approx(power, rel=1e-5)
    assert before["energy_kwh"] == pytest.approx(power / 0.35 * 2000 / 1e3, rel=1e-5)
    for each in plain["ways"]:
        change = each["pump"]["energy_kwh"] - before["energy_kwh"]
        # A difference of two numbers of six digits each.
        size = before["energy_kwh"] + each["pump"]["energy_kwh"]
        assert each["energy_change_kwh"] == pytest.approx(change, abs=5e-6 * size)
    exact = way(plain, "regulating_valves")["settings"]
    for row, target in zip(exact, plain["before"]["loops"], strict=True):
        # EN 60534: Kv is the flow in m³/h of water (1000 kg/m³) at a drop of 1 bar.
        flow = target["target_flow_l_s"] * 3.6
        bar = row["drop_kpa"] / 100
        assert row["position_kv_m3_h"] == pytest.approx(
            flow * (density / 1000 / bar) ** 0.5, rel=1e-4
        )
        velocity = target["target_flow_l_s"] / 1e3 / (3.14159265 / 4 * (row["bore_mm"] / 1e3) ** 2)
        drop = row["loss_coefficient"] * density * velocity**2 / 2
        assert drop / 1e3 == pytest.approx(row["drop_kpa"], rel=1e-4)


def test_the_heat_cost_adds_up_over_the_loops(plain: Json) -> None:
    cost = plain["heat_cost"]
    assert sum(each["heat_w"] for each in cost["loops"]) == pytest.approx(
        cost["heat_as_it_is_w"], rel=1e-5
    )
    lost = cost["heat_at_target_w"] - cost["heat_as_it_is_w"]
    size = cost["heat_at_target_w"] + cost["heat_as_it_is_w"]  # six digits of each
    assert cost["heat_lost_w"] == pytest.approx(lost, abs=5e-6 * size)
    fluid, flow = split_of(LADDER)["fluid"]["in_loops"], plain["before"]["pump"]["flow_l_s"]
    warming = cost["from_ground_c"] - -3
    carried = flow * fluid["density_kg_m3"] * fluid["specific_heat_kj_kg_k"] * warming
    assert cost["heat_as_it_is_w"] == pytest.approx(carried, rel=1e-4)
    assert "Kays" in cost["model"]
    assert cost["leaves_out"]


def test_without_ground_there_is_no_heat_cost_and_without_table_no_positions(
    client: FlaskClient,
) -> None:
    body = copy.deepcopy(LADDER)
    del body["ground_at_loops"], body["balancing"]["valve"]
    content = post(client, body).get_json()
    assert "heat_cost" not in content
    valves = way(content, "regulating_valves")
    assert valves["verdict"] == "reaches"
    assert "exact" not in valves
    assert all("position" not in each for each in valves["settings"])
    (index,) = [each for each in valves["settings"] if each["fully_open"]]
    # Open, a globe valve of the loop's bore: Kv by K (EN 60534-1), 0.04 d² / sqrt(K), d in mm.
    kv = 0.03996 * index["bore_mm"] ** 2 / index["loss_coefficient"] ** 0.5
    assert index["kv_m3_h"] == pytest.approx(kv, rel=1e-3)
    assert 5.0 < index["loss_coefficient"] < 10.0  # Crane TP 410, 340 f_T: 7.6 in 26 mm


def test_the_smallest_job_takes_the_stated_defaults(client: FlaskClient, job: Json) -> None:
    content = post(client, job).get_json()
    written = job | {
        "balancing": {"target": "even", "spare_coil_diameter_m": 1, "spare_step_m": 0,
                      "pump_efficiency_percent": 30},
        "limits": {"max_deviation_percent": 10, "min_freezing_margin_k": 3},
        "plant": {"run_h": 2400},
    }  # fmt: skip
    assert post(client, written).get_json() == content
    assert (content["target"], content["run_h"]) == ("even", 2400)


@pytest.mark.parametrize(
    ("where", "value"),
    [
        ("name", "Another"), ("reference", "B-12"), ("limits", {"max_deviation_percent": 1}),
        ("limits", {"min_freezing_margin_k": 20}),
        ("balancing.valve.positions.0.position", 1.5), ("balancing.valve.positions.1.kv_m3_h", 4),
        ("balancing.valve.name", "DN 25 (invented)"), ("balancing.shares.0.share", 1),
        ("balancing.spare_coil_diameter_m", 0.8), ("balancing.spare_step_m", 7),
        ("balancing.closing_m", 70), ("balancing.pump_efficiency_percent", 40),
        ("plant.run_h", 1000), ("ground_at_loops.ground_c", 9),
        ("ground_at_loops.resistance_m_k_w", 0.2),
        ("ground_at_loops.pipe_conductivity_w_m_k", 0.3), ("duty.flow_l_s", 1.1),
        ("array.branches.0.loop.legs.0.straight.length_m", 140),
        ("duty", {"heat_kw": 12, "to_ground_c": -3, "from_ground_c": 0}),
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
    del body["balancing"]["shares"]
    even, by_length = (
        post(client, put(body, "balancing.target", target)).get_json()["before"]["loops"]
        for target in ("even", "by_length")
    )
    assert even != by_length
    assert len({each["target_flow_l_s"] for each in even}) == 1
    flows = [each["target_flow_l_s"] for each in by_length]
    assert flows[3] / flows[0] == pytest.approx(190 / 150, rel=1e-5)


def test_what_a_way_decides_is_the_array_that_it_was_solved_with(
    client: FlaskClient, plain: Json
) -> None:
    decided = [each for each in plain["ways"] if "decides" in each]
    assert [each["way"] for each in decided] == [
        each["way"] for each in plain["ways"] if each["verdict"] != "not_possible"
    ]
    assert len(decided) >= 4
    for each in decided:
        assert set(each["decides"]) == {"array"}
        answer = client.post("/v1/split", json={**LADDER, **each["decides"]})
        assert answer.status_code == 200, answer.get_data(as_text=True)
        split = answer.get_json()
        # Two solutions of one network, told in six digits each.
        for name in ("flow_l_s", "head_kpa", "head_m"):
            assert split["pump"][name] == pytest.approx(each["pump"][name], rel=3e-6), each["way"]
        assert [loop["loop"] for loop in split["loops"]] == [loop["loop"] for loop in each["loops"]]
        for loop, reached in zip(split["loops"], each["loops"], strict=True):
            assert loop["flow_l_s"] == pytest.approx(reached["flow_l_s"], rel=3e-6), each["way"]


def test_valves_that_are_put_in_stand_at_the_branch_of_their_loop(plain: Json) -> None:
    valves = way(plain, "regulating_valves")
    branches = valves["decides"]["array"]["branches"]
    for setting, branch in zip(valves["settings"], branches, strict=True):
        assert branch["loop"]["name"] == setting["loop"]
        (fitting,) = branch["fittings"]
        # The position that the table has, and its Kv: what is set by hand, not what was wished for.
        assert fitting["position"] == setting["position"]
        assert fitting["kv_m3_h"] == pytest.approx(setting["position_kv_m3_h"], rel=1e-6)


def test_a_way_that_no_job_could_hold_decides_nothing(client: FlaskClient) -> None:
    # A hundredth of the others' flow takes a hundred times the pipe, and more where it is laminar.
    job = put(LADDER, "balancing.shares.1.share", 0.01)
    spare = way(post(client, job).get_json(), "spare_pipe")
    assert spare["verdict"] == "not_possible"
    assert "A would need more than 10,000 m of spare pipe" in spare["reason"]
    assert "decides" not in spare
    assert "spare_pipe" not in spare
    taken = put(job, "balancing.take", "spare_pipe")
    answer = client.post("/v1/designs", json=taken)
    assert answer.status_code == 422
    assert set(errors_of(answer)) == {"/balancing/take"}


@pytest.mark.parametrize("options", [{}, {"balancing": {}}])
def test_spare_pipe_longer_than_the_coils_on_offer_is_told_as_the_digging_tells_it(
    client: FlaskClient, options: Json
) -> None:
    # Loops of 100 and 180 m; coils of 300 m where the job says nothing, common practice.
    branches = [{"loop": rung(name, 0, length)["loop"]}
                for name, length in (("A", 100), ("B", 180), ("C", 100))]  # fmt: skip
    array = {"arrangement": "manifold", "branches": branches}
    job = {name: LADDER[name] for name in ("antifreeze", "duty")} | {"array": array} | options
    spare = way(answered(PATH, job), "spare_pipe")
    assert spare["verdict"] == "reaches"
    assert {each["code"] for each in spare["findings"]} == {"spare_pipe_long"}
    job["pipes"] = [{"name": "PE100 SDR11 32", "coils_m": [120]}]
    spare = way(answered(PATH, job), "spare_pipe")
    told = {each["code"]: each for each in spare["findings"]}["no_coil_long_enough"]
    whole = 100 + spare["spare_pipe"][0]["length_m"]
    words = (
        f"A and C take up to {whole:.1f} m of PE100 SDR11 32 in one piece and the longest coil on "
        "offer is 120 m"
    )
    assert told["severity"] == "error"
    assert told["message"].startswith(words)
    assert words in spare["reason"]
    digging = {
        "ground": {"soil": "gravel"},
        "groundworks": {"trench": {"width_m": 0.6, "depth_m": 1.2}},
    }
    order = answered("/v1/groundworks", job | spare["decides"] | digging)["findings"]
    assert {each["message"].split()[1] for each in order
            if each["code"] == "no_coil_long_enough"} == {"A", "B", "C"}  # fmt: skip


def _straight(name: str, length: float, pipe: str = "PE100 SDR11 32", **more: Any) -> Json:
    return {
        "loop": {"name": name, "pipe": pipe, "legs": [{"straight": {"length_m": length}}]},
        **more,
    }


@pytest.mark.parametrize("code", ["no_coil_long_enough", "valve_signal_small"])
def test_a_finding_of_a_way_points_at_the_loop_that_it_names_in_the_way_s_array(
    client: FlaskClient, code: str
) -> None:
    # Equal loops are written out in it: A-1, A-2 (and A-3), then what came after.
    inner = {
        "name": "N",
        "arrangement": "manifold",
        "branches": [_straight("x", 170, "PE100 SDR11 40")],
    }
    branches = [_straight("A", 250, count=2), {"circuit": inner}, _straight("D", 250)]
    array: Json = {"arrangement": "manifold", "branches": branches}
    job = {"antifreeze": LADDER["antifreeze"], "balancing": {},
           "duty": {"to_ground_c": -6, "from_ground_c": -2.5, "heat_kw": 5}}  # fmt: skip
    named = "N/x"
    if code == "valve_signal_small":
        array = {"arrangement": "direct_return", "header_pipe": "PE100 SDR11 40", "branches": [
            _straight("A", 150, count=3, header_m=10), _straight("B", 90, header_m=10),
        ]}  # fmt: skip
        kvs = enumerate((0.3, 0.6, 1, 1.7, 2.5, 4))
        table = [{"position": at, "kv_m3_h": kv} for at, kv in kvs]
        job["balancing"] = {"valve": {"positions": table}}
        job["duty"]["heat_kw"] = 4
        named = "A-3"
    job["array"] = array
    answer = answered(PATH, job)
    told = [e for each in answer["ways"] for e in each.get("findings", []) if e["code"] == code]
    assert len(told) == 1
    (finding,) = told
    assert finding["message"].startswith((f"{named} ", f"{named}:"))
    here = answer
    for part in finding["where"].strip("/").split("/"):
        here = here[int(part) if isinstance(here, list) else part]
    assert here["loop"]["name"] == named.split("/")[-1]
    assert client.post("/v1/report.html", json=job).status_code == 200


def test_positions_beside_the_nearest_are_set_where_those_miss(client: FlaskClient) -> None:
    # Of three loops and a coarse valve the nearest positions miss by 14 %, and 4, 3, 4 do not.
    branches = [{"loop": rung(name, 0, length)["loop"]}
                for name, length in (("A", 200), ("B", 80), ("C", 160))]  # fmt: skip
    kvs = (0.6, 1.2, 2.4, 4.8)
    job = {
        "antifreeze": {
            "kind": "propylene_glycol",
            "concentration_percent": 25,
            "basis": "volume",
        },
        "array": {"arrangement": "manifold", "branches": branches},
        "duty": {"to_ground_c": -3, "from_ground_c": 0.5, "flow_l_s": 1.2},
        "balancing": {
            "valve": {
                "positions": [{"position": n, "kv_m3_h": kv} for n, kv in enumerate(kvs, 1)],
            }
        },
    }
    valves = way(answered(PATH, job), "regulating_valves")
    assert [each["position"] for each in valves["settings"]] == [4.0, 3.0, 4.0]
    assert [each["fully_open"] for each in valves["settings"]] == [True, False, True]
    assert valves["verdict"] == "reaches"
    assert (
        "the valves of A and C stay fully open, the other is closed to match them"
        in valves["reason"]
    )
    again = {"array": valves["decides"]["array"], "balancing": {}}
    loops = answered("/v1/split", {**job, **again})["loops"]
    assert max(abs(each["deviation_percent"]) for each in loops) <= 10.0


def test_a_balanced_array_is_balanced_when_it_is_asked_again(client: FlaskClient) -> None:
    job = put(LADDER, "balancing", {"target": "even"})
    reaching = [w for w in post(client, job).get_json()["ways"] if w["verdict"] == "reaches"]
    assert reaching
    for each in reaching:
        again = post(client, {**job, **each["decides"]}).get_json()
        assert again["before"]["imbalance"]["within_tolerance"] is True, each["way"]


@pytest.mark.parametrize(
    ("where", "value", "at"),
    [
        ("target", "evn", "/target"),
        ("target", None, "/target"),
        ("target", "even", "/shares"),
        ("shares", [{"loop": "A", "share": 1}], "/shares"),
        ("shares", [], "/shares"),
        ("shares.2.share", 0, "/shares/2/share"),
        ("shares.2.share", "1", "/shares/2/share"),
        ("shares.2.loop", "E", "/shares"),
        ("shares.2.loop", "A", "/shares/2/loop"),
        ("valve", {}, "/valve/positions"),
        ("valve.positions", [], "/valve/positions"),
        ("valve.positions.1.kv_m3_h", 0.5, "/valve/positions/1/kv_m3_h"),
        ("valve.positions.1.position", 1, "/valve/positions/1/position"),
        ("valve.positions.1.kv_m3_h", 0, "/valve/positions/1/kv_m3_h"),
        ("valve.positions.1.kv", 2, "/valve/positions/1/kv"),
        ("spare_coil_diameter_m", 0.1, "/spare_coil_diameter_m"),
        ("spare_coil_diameter_m", 0, "/spare_coil_diameter_m"),
        ("spare_step_m", -1, "/spare_step_m"),
        ("closing_m", -1, "/closing_m"),
        ("closing_m", None, "/closing_m"),
        ("pump_efficiency_percent", 0, "/pump_efficiency_percent"),
        ("pump_efficiency_percent", 101, "/pump_efficiency_percent"),
        ("take", "magic", "/take"),
        ("run_h", 2000, "/run_h"),
    ],
)
def test_a_wrong_value_is_refused_at_its_place(
    client: FlaskClient, where: str, value: Any, at: str
) -> None:
    answer = post(client, put(LADDER, f"balancing.{where}", value))
    assert answer.status_code == 422, answer.get_data(as_text=True)
    assert set(errors_of(answer)) == {f"/balancing{at}"}


@pytest.mark.parametrize(
    ("where", "value", "at"),
    [
        ("plant.run_h", 8785, "/plant/run_h"),
        ("plant.run_h", True, "/plant/run_h"),
        ("ground_at_loops", 8, "/ground_at_loops"),
        ("ground_at_loops.ground_c", -3, "/ground_at_loops/ground_c"),
        ("ground_at_loops.ground_c", 101, "/ground_at_loops/ground_c"),
        ("ground_at_loops.resistance_m_k_w", -0.1, "/ground_at_loops/resistance_m_k_w"),
        ("ground_at_loops.pipe_conductivity_w_m_k", 0, "/ground_at_loops/pipe_conductivity_w_m_k"),
        ("ground_at_loops.soil", "clay", "/ground_at_loops/soil"),
        ("duty.flow_l_s", 0, "/duty"),
        ("balance", True, "/balance"),
        ("array.branches.0.loop.pipe", "PE100 SDR11 33", "/array/branches/0/loop/pipe"),
    ],
)
def test_a_wrong_value_of_another_part_is_refused_at_its_place(
    client: FlaskClient, where: str, value: Any, at: str
) -> None:
    answer = post(client, put(LADDER, where, value))
    assert answer.status_code == 422, answer.get_data(as_text=True)
    assert set(errors_of(answer)) == {at}


def test_shares_are_needed_where_the_target_is_shares(client: FlaskClient, job: Json) -> None:
    body = job | {"balancing": {"target": "shares"}}
    assert set(errors_of(post(client, body))) == {"/balancing/shares"}


def test_all_faults_are_listed_at_once(client: FlaskClient) -> None:
    body = put(put(LADDER, "balancing.target", "by_length"), "balancing.spare_step_m", "1")
    body = put(body, "balancing.valve.positions.1.kv_m3_h", 0.5)
    body = put(put(body, "plant.run_h", -1), "duty.to_ground_c", -30)
    body = put(body, "array.branches.1.loop.legs.0.straight.length_m", -5)
    assert set(errors_of(post(client, body))) == {
        "/balancing/shares",
        "/balancing/spare_step_m",
        "/balancing/valve/positions/1/kv_m3_h",
        "/plant/run_h",
        "/duty/to_ground_c",
        "/array/branches/1/loop/legs/0/straight/length_m",
    }


def test_findings_of_the_ways_are_documented(client: FlaskClient) -> None:
    body = put(LADDER, "balancing.valve.positions.0.kv_m3_h", 2.9)
    found = {each["code"] for way in post(client, body).get_json()["ways"]
             for each in way["findings"]}  # fmt: skip
    assert "valve_below_table" in found
    assert found <= FINDING_CODES.keys()


@pytest.mark.parametrize("size", [1e-300, 1e-3, 100, 1e5])
def test_no_size_of_any_number_breaks_the_service(
    client: FlaskClient, contract: Json, size: float
) -> None:
    keeps = validator(contract, "BalancingAnswer")
    for place in numbers(LADDER):
        answer = post(client, put(LADDER, ".".join(map(str, place)), size))
        assert answer.status_code in {200, 422}, (place, answer.get_data(as_text=True))
        if answer.status_code == 200:
            keeps.validate(answer.get_json())


def test_an_even_array_is_said_to_need_no_way(client: FlaskClient, job: Json) -> None:
    even = {**job, "limits": {**job.get("limits", {}), "max_deviation_percent": 90}}
    for deviation, told in ((90, 1), (1, 0)):
        even["limits"]["max_deviation_percent"] = deviation
        found = client.post("/v1/balancing", json=even).get_json()["findings"]
        assert sum(each["code"] == "balancing_not_needed" for each in found) == told


def straight(count: int, name: str, metres: float) -> Json:
    loop = {"name": name, "pipe": "PE100 SDR11 40", "legs": [{"straight": {"length_m": metres}}]}
    return {"count": count, "loop": loop}


def on_a_curve(*curve: tuple[float, float], longest: float = 150) -> Json:
    return {
        "antifreeze": {"kind": "ethanol", "concentration_percent": 24, "basis": "mass"},
        "array": {
            "arrangement": "manifold",
            "branches": [straight(2, "A", longest), straight(2, "B", 120)],
        },
        "duty": {
            "to_ground_c": -3, "from_ground_c": 0,
            "pump_curve": [{"flow_l_s": flow, "head_m": head} for flow, head in curve],
        },
        "limits": {"max_deviation_percent": 5},
    }  # fmt: skip


def test_other_pipe_keeps_the_flow_of_a_pump_by_its_curve() -> None:
    """An examiner's job, invented: PE25 was told for PE40, at half the flow, as 117 kWh saved."""
    job = on_a_curve((0, 6), (1, 5.2), (2, 3.2), (3, 0.5))
    content = answered(PATH, job)
    before = sum(loop["flow_l_s"] for loop in content["before"]["loops"])
    (way,) = (each for each in content["ways"] if each["way"] == "other_loop_pipe")
    assert way["verdict"] == "reaches"
    assert way["pump"]["flow_l_s"] >= 0.9 * before
    again = answered("/v1/split", {**job, **way["decides"]})
    flow = sum(loop["flow_l_s"] for loop in again["loops"])
    assert flow == pytest.approx(way["pump"]["flow_l_s"], rel=1e-4)  # six digits of each


def test_a_way_that_takes_flow_from_a_pump_is_warned_of_and_no_saving() -> None:
    """As by hand: loops of 20 m are to be held back to what 120 m take, on a flat curve."""
    job = on_a_curve((0, 3), (2, 2.9), (4, 2.6), (8, 0.5), longest=20)
    content = answered(PATH, job)
    before = sum(loop["flow_l_s"] for loop in content["before"]["loops"])
    lost = {
        each["way"]: 1.0 - each["pump"]["flow_l_s"] / before
        for each in content["ways"]
        if "pump" in each
    }
    warned = {
        each["way"]
        for each in content["ways"]
        if "balanced_flow_low" in {found["code"] for found in each["findings"]}
    }
    assert warned == {way for way, share in lost.items() if share > 0.1}
    assert "regulating_valves" in warned
    ranks = {each["way"]: each["rank"] for each in content["ways"] if each.get("rank")}
    assert all(ranks[a] < ranks[b] for a in ranks for b in ranks if a not in warned and b in warned)
