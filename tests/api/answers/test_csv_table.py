"""The table of loops as CSV: RFC 4180, UTF-8, and no cell that a spreadsheet would run."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.answers.csv_table import inert

_LOOP = {"pipe": "PE100 SDR11 32", "legs": [{"straight_m": 100}]}


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app().test_client()


def _request(*names: str) -> dict[str, Any]:
    return {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"},
        "duty": {"flow_l_s": 0.5, "to_ground_temperature_c": -3, "from_ground_temperature_c": 0},
        "array": {
            "arrangement": "manifold",
            "branches": [
                {**_LOOP, "loop": name, "legs": [{"straight_m": 100 + 20 * index}]}
                for index, name in enumerate(names)
            ],
        },
    }


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_the_table_holds_the_numbers_of_the_json_answer(client: FlaskClient) -> None:
    body = _request("T1", "T2", "T3")
    answer = json.loads(client.post("/v1/flow-split", json=body).data)
    response = client.post("/v1/flow-split", json=body, headers={"Accept": "text/csv"})
    assert response.status_code == 200
    assert response.headers["Content-Type"] == "text/csv; charset=utf-8; header=present"
    rows = _rows(response.data.decode("utf-8"))
    assert len(rows) == len(answer["loops"]) == 3
    for row, loop in zip(rows, answer["loops"], strict=True):
        parts = {f"{part}_kpa": value for part, value in loop.pop("breakdown_kpa").items()}
        assert row == {name: str(value) for name, value in {**loop, **parts}.items()}


def test_lines_end_as_rfc_4180_says_and_awkward_names_come_back_whole(client: FlaskClient) -> None:
    names = ('He said "so"', "A, B", "Köln – 7 °C")
    response = client.post("/v1/flow-split", json=_request(*names), headers={"Accept": "text/csv"})
    text = response.data.decode("utf-8")
    assert text.count("\r\n") == text.count("\n") == 4
    assert [row["loop"] for row in _rows(text)] == list(names)


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_a_name_that_looks_like_a_formula_is_made_inert(client: FlaskClient, start: str) -> None:
    # OWASP, CSV Injection: cells that begin with these may be run by a spreadsheet.
    name = f"{start}cmd|' /C calc'!A0"
    response = client.post("/v1/flow-split", json=_request(name), headers={"Accept": "text/csv"})
    assert _rows(response.data.decode("utf-8"))[0]["loop"] == "'" + name


def test_a_tab_before_a_formula_is_made_inert_too() -> None:
    assert inert("\t=1+1") == "'\t=1+1"
    assert inert("T1") == "T1"


def test_negative_numbers_stay_numbers(client: FlaskClient) -> None:
    response = client.post(
        "/v1/flow-split", json=_request("A", "B"), headers={"Accept": "text/csv"}
    )
    deviations = [float(row["deviation_percent"]) for row in _rows(response.data.decode("utf-8"))]
    assert min(deviations) < 0 < max(deviations)


@pytest.mark.parametrize(
    ("accept", "kind"),
    [
        ("*/*", "application/json"),
        ("application/json, text/csv;q=0.5", "application/json"),
        ("text/csv, application/json;q=0.5", "text/csv"),
        ("text/*", "text/csv"),
    ],
)
def test_the_media_type_follows_the_accept_header(
    client: FlaskClient, accept: str, kind: str
) -> None:
    response = client.post("/v1/flow-split", json=_request("T1"), headers={"Accept": accept})
    assert response.mimetype == kind


def test_a_problem_stays_a_problem_where_csv_was_asked_for(client: FlaskClient) -> None:
    response = client.post("/v1/flow-split", json={}, headers={"Accept": "text/csv"})
    assert response.status_code == 422
    assert response.mimetype == "application/problem+json"
