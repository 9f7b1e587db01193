"""Answers as CSV: RFC 4180, UTF-8, and no cell that a spreadsheet would run."""

from __future__ import annotations

import copy
import csv
import io
import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from api.answers.csv_table import inert
from api.schemas.pump_choice_answer import CandidateConditionSchema
from tests.api.conftest import SMALLEST, Json

PATH = "/v1/split.csv"


def _job(*names: str) -> Json:
    branches = [
        {
            "loop": {
                "name": name,
                "pipe": "PE100 SDR11 32",
                "legs": [{"straight": {"length_m": 100 + 20 * index}}],
            }
        }
        for index, name in enumerate(names)
    ]
    return {**SMALLEST, "array": {"arrangement": "manifold", "branches": branches}}


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_the_table_holds_the_numbers_of_the_json_answer(client: FlaskClient) -> None:
    job = _job("T1", "T2", "T3")
    answer = json.loads(client.post("/v1/split", json=job).data)
    response = client.post(PATH, json=job)
    assert response.status_code == 200
    assert response.headers["Content-Type"] == "text/csv; charset=utf-8; header=present"
    assert "loops.csv" in response.headers["Content-Disposition"]
    rows = _rows(response.data.decode("utf-8"))
    assert len(rows) == len(answer["loops"]) == 3
    for row, loop in zip(rows, answer["loops"], strict=True):
        drops = loop.pop("drops")
        assert row == {name: str(value) for name, value in {**loop, **drops}.items()}


def test_columns_stand_in_their_order(client: FlaskClient) -> None:
    text = client.post(PATH, json=_job("T1")).data.decode("utf-8")
    assert text.splitlines()[0].replace('"', "").split(",") == [
        "loop", "where", "length_m", "coiled_m", "flow_l_s", "mass_flow_kg_s",
        "target_flow_l_s", "share_percent",
        "deviation_percent", "deviation_by_length_percent", "velocity_m_s", "reynolds", "regime",
        "drop_kpa", "path_drop_kpa", "straight_drop_kpa", "coil_drop_kpa", "fittings_drop_kpa",
        "headers_drop_kpa",
    ]  # fmt: skip


def test_lines_end_as_rfc_4180_says_and_awkward_names_come_back_whole(client: FlaskClient) -> None:
    names = ('He said "so"', "A, B", "Köln – 7 °C")
    text = client.post(PATH, json=_job(*names)).data.decode("utf-8")
    assert text.count("\r\n") == text.count("\n") == 4
    assert [row["loop"] for row in _rows(text)] == list(names)


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_a_name_that_looks_like_a_formula_is_made_inert(client: FlaskClient, start: str) -> None:
    # OWASP, CSV Injection: cells that begin with these may be run by a spreadsheet.
    name = f"{start}cmd|' /C calc'!A0"
    text = client.post(PATH, json=_job(name)).data.decode("utf-8")
    assert _rows(text)[0]["loop"] == "'" + name


def test_a_tab_before_a_formula_is_made_inert_too() -> None:
    assert inert("\t=1+1") == "'\t=1+1"
    assert inert("T1") == "T1"


@pytest.mark.parametrize(
    "name",
    ["\uff1d1+1", "\uff0b1", "\uff0d1", "\uff20SUM(1)", ";=1+1", "A;=1+1", "A\t=1+1", "A,=1+1",
     "\u00a0=1+1", "\ufeff=1+1", " =1+1", '"=1+1', "'=1+1"],
)  # fmt: skip
def test_a_formula_is_made_inert_behind_whatever_a_spreadsheet_skips(name: str) -> None:
    # OWASP, CSV Injection: full-width signs, and separators that may be taken for a cell's end;
    # spaces, byte-order marks and quotes before it are dropped by some on reading.
    assert inert(name) == "'" + name


@pytest.mark.parametrize("name", ["T1", "A, B", "a-b", "1 + 1", "north; south", "50 %", "a@b"])
def test_a_name_that_is_no_formula_stays(name: str) -> None:
    assert inert(name) == name


def test_every_text_stands_in_quotation_marks_and_no_number_does(client: FlaskClient) -> None:
    head, row = client.post(PATH, json=_job("T1")).data.decode("utf-8").splitlines()
    assert head.count('"') == 2 * len(head.split(","))
    assert row.startswith('"T1","/array/branches/0",')
    assert row.count('"') == 6  # loop, where, regime


def test_negative_numbers_stay_numbers(client: FlaskClient) -> None:
    text = client.post(PATH, json=_job("A", "B")).data.decode("utf-8")
    deviations = [float(row["deviation_percent"]) for row in _rows(text)]
    assert min(deviations) < 0 < max(deviations)


def test_a_problem_stays_a_problem(client: FlaskClient) -> None:
    response = client.post(PATH, json={})
    assert response.status_code == 422
    assert response.mimetype == "application/problem+json"


# --------------------------------------------------------------------------- for spreadsheets


def test_a_spreadsheet_with_decimal_commas_reads_the_same_numbers(client: FlaskClient) -> None:
    # Cells parted by semicolons where the comma is the decimal sign: common practice, no source.
    job = _job("A, B", "C;D")
    plain = _rows(client.post(PATH, json=job).data.decode("utf-8"))
    text = client.post(f"{PATH}?decimal=comma", json=job).data.decode("utf-8")
    rows = list(csv.DictReader(io.StringIO(text, newline=""), delimiter=";", strict=True))
    assert "." not in text
    assert [{n: v.replace(",", ".") for n, v in row.items() if n != "loop"} for row in rows] == [
        {n: v for n, v in row.items() if n != "loop"} for row in plain
    ]
    assert [row["loop"] for row in rows] == ["A, B", "C;D"]


def test_the_byte_order_mark_is_there_where_it_is_asked_for(client: FlaskClient) -> None:
    job = _job("Köln")
    plain = client.post(f"{PATH}?byte_order_mark=false", json=job).data
    marked = client.post(f"{PATH}?byte_order_mark=true", json=job).data
    assert plain == client.post(PATH, json=job).data
    assert marked == b"\xef\xbb\xbf" + plain


@pytest.mark.parametrize(
    ("query", "name", "told"),
    [
        ("decimal=semicolon", "decimal", "It is 'semicolon'; it must be point or comma."),
        ("decimal=comma&decimal=point", "decimal", "must be point or comma"),
        ("byte_order_mark=1", "byte_order_mark", "It is '1'; it must be true or false."),
        ("decimal=comma&separator=;", "separator", "It would be ignored; leave it out."),
    ],
)
def test_what_a_table_cannot_be_asked_for_is_refused(
    client: FlaskClient, query: str, name: str, told: str
) -> None:
    answer = client.post(f"{PATH}?{query}", json=_job("A"))
    assert answer.status_code == 400
    problem = json.loads(answer.data)
    assert problem["type"].endswith("/unknown-parameter")
    (error,) = problem["errors"]
    assert error["parameter"] == name
    assert told in error["detail"]
    assert "decimal and byte_order_mark" in problem["detail"]


# ------------------------------------------------------------------------------- other chapters


def _example(client: FlaskClient, name: str) -> Json:
    job: Json = client.get(f"/v1/examples/{name}").get_json()
    return job


def _as_cell(value: Any) -> str:
    if value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else str(value)


def test_valve_settings_and_spare_pipe_are_those_of_the_answer(client: FlaskClient) -> None:
    job = _example(client, "juniper-rise-direct-return")
    rows = _rows(client.post("/v1/balancing.csv", json=job).data.decode("utf-8"))
    ways = client.post("/v1/balancing", json=job).get_json()["ways"]
    solved = [way for way in ways if "loops" in way]
    assert len(rows) == sum(len(way["loops"]) for way in solved)
    by_way = {way["way"]: way for way in solved}
    valves = by_way["regulating_valves"]
    for setting in valves["settings"]:
        (row,) = [
            r for r in rows if (r["way"], r["loop"]) == ("regulating_valves", setting["loop"])
        ]
        for name, value in setting.items():
            if name != "loop":
                assert row[f"valve_{name}"] == _as_cell(value)
    for spare in by_way["spare_pipe"]["spare_pipe"]:
        (row,) = [r for r in rows if (r["way"], r["loop"]) == ("spare_pipe", spare["loop"])]
        assert row["spare_pipe_m"] == str(spare["length_m"])
        assert row["valve_position"] == ""


def test_the_table_of_pumps_is_ranked_as_the_answer(client: FlaskClient) -> None:
    job = _example(client, "orchard-court-two-chambers")
    rows = _rows(client.post("/v1/pump-choice.csv", json=job).data.decode("utf-8"))
    pumps = client.post("/v1/pump-choice", json=job).get_json()["pumps"]
    expected = [(pump, condition) for pump in pumps for condition in pump["conditions"]]
    assert len(rows) == len(expected) > 2
    for row, (pump, condition) in zip(rows, expected, strict=True):
        assert row["name"] == pump["name"]
        assert row["meets_duty"] == _as_cell(pump["meets_duty"])
        assert row["meets_high_head"] == _as_cell(pump.get("meets_high_head"))
        # Every cell of the contract but those that hold objects and lists.
        cells = [
            name
            for name, field in CandidateConditionSchema().fields.items()
            if name not in ("notes", "viscosity_correction")
        ]
        assert "min_inlet_kpa" in cells
        for name in cells:
            assert row[name] == _as_cell(condition.get(name)), name


def test_a_pump_that_is_set_aside_stands_last_in_the_table_with_its_reason(
    client: FlaskClient,
) -> None:
    job = _example(client, "orchard-court-two-chambers")
    pump = copy.deepcopy(client.get("/v1/invented-pumps").get_json()["pumps"][0])
    wrong = copy.deepcopy(pump) | {"name": "Inverted (invented)"}
    points = wrong["tables"][0]["points"]
    points[-1]["head_m"] = points[0]["head_m"] + 9  # head that grows with flow
    job["pump_choice"] = {"candidates": [wrong, pump]}
    rows = _rows(client.post("/v1/pump-choice.csv", json=job).data.decode("utf-8"))
    (aside,) = client.post("/v1/pump-choice", json=job).get_json()["set_aside"]
    assert [row["set_aside"] for row in rows] == ["false"] * (len(rows) - 1) + ["true"]
    assert (rows[-1]["name"], rows[-1]["reasons"]) == (aside["name"], " ".join(aside["reasons"]))
    assert rows[-1]["meets_duty"] == rows[-1]["condition"] == rows[-1]["flow_l_s"] == ""


def test_pipe_to_order_sums_up(client: FlaskClient) -> None:
    job = _example(client, "larkspur-mill-straight-trenches")
    rows = _rows(client.post("/v1/groundworks/pipe-order.csv", json=job).data.decode("utf-8"))
    order = client.post("/v1/groundworks", json=job).get_json()["pipe_order"]
    coils = [row for row in rows if row["part"] == "coil"]
    assert len(coils) == len(order["coils"]) > 0
    for row, line in zip(coils, order["coils"], strict=True):
        assert (row["pipe"], int(row["count"])) == (line["pipe"], line["count"])
        assert float(row["total_m"]) == pytest.approx(line["coil_m"] * line["count"], rel=1e-6)
    # What lies in the ground and what is over are what was ordered.
    laid = sum(each["needed_m"] * each["count"] for each in order["loops"])
    laid += sum(float(row["total_m"]) for row in rows if row["part"] == "route")
    ordered = sum(float(row["total_m"]) for row in coils)
    assert ordered == pytest.approx(laid + order["leftover_m"], rel=1e-4)  # six digits each


def test_u_tubes_are_ordered_by_depth(client: FlaskClient) -> None:
    job = _example(client, "slate-row-boreholes")
    rows = _rows(client.post("/v1/groundworks/pipe-order.csv", json=job).data.decode("utf-8"))
    (probe,) = client.post("/v1/groundworks", json=job).get_json()["pipe_order"]["probes"]
    (row,) = [row for row in rows if row["part"] == "u_tube"]
    assert (row["each_m"], row["count"]) == (str(probe["depth_m"]), str(probe["count"]))
    assert row["total_m"] == ""


def test_a_batch_is_one_table_with_what_was_refused(client: FlaskClient) -> None:
    good, other = _job("A", "B"), {**_job("C"), "name": "=second"}
    answer = client.post("/v1/splits.csv", json={"jobs": [good, {"name": 7}, other]})
    assert answer.status_code == 207
    rows = _rows(answer.data.decode("utf-8"))
    assert [(r["job"], r["status"], r["loop"]) for r in rows] == [
        ("1", "200", "A"),
        ("1", "200", "B"),
        ("2", "422", ""),
        ("3", "200", "C"),
    ]
    assert rows[3]["name"] == "'=second"
    assert "fault" in rows[2]["detail"]
    single = _rows(client.post(PATH, json=good).data.decode("utf-8"))
    assert [rows[0][name] for name in single[0]] == list(single[0].values())


@pytest.mark.parametrize(
    "path", ["balancing.csv", "pump-choice.csv", "groundworks/pipe-order.csv", "splits.csv"]
)
def test_every_table_comes_as_spreadsheets_want_it(client: FlaskClient, path: str) -> None:
    examples = ("juniper-rise-direct-return", "orchard-court-two-chambers",
                "larkspur-mill-straight-trenches")  # fmt: skip
    jobs = [_example(client, name) for name in examples]
    body = {"jobs": jobs} if path == "splits.csv" else jobs[{"b": 0, "p": 1, "g": 2}[path[0]]]
    answer = client.post(f"/v1/{path}?decimal=comma&byte_order_mark=true", json=body)
    assert answer.status_code in (200, 207)
    text = answer.data.decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=";", strict=True))
    assert len(rows) > 1
    assert {len(row) for row in rows} == {len(rows[0])}
