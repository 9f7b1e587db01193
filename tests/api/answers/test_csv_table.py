"""The table of loops as CSV: RFC 4180, UTF-8, and no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import json

import pytest
from flask.testing import FlaskClient

from api.answers.csv_table import inert
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
