"""Studies over HTTP: accepted, followed, read, ended; each key its own."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.contract.operations import OPERATIONS
from api.service.keys import hash_of, make_key
from api.settings import Settings
from api.studies.runner import run
from tests.api.conftest import Json, answered, errors_of
from tests.api.contract.test_document import headers_that_break, validator
from tests.api.studies.test_plan import LENGTH, STRENGTH, study
from tests.api.studies.test_runner import of_cases

PATH = "/v1/studies"
NONE = f"{PATH}/{'0' * 32}"


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(studies_folder=str(tmp_path))


@pytest.fixture
def client(settings: Settings) -> FlaskClient:
    return create_app(settings).test_client()


def begun(client: FlaskClient, body: Any, **headers: str) -> str:
    answer = client.post(PATH, json=body, headers=headers)
    assert answer.status_code == 202, answer.get_data(as_text=True)
    assert answer.headers["Location"] == f"{PATH}/{answer.get_json()['study']}"
    return answer.headers["Location"]


def kept(contract: Json, path: str, method: str, answer: TestResponse) -> Any:
    """The answer, held to the contract."""
    said = contract["paths"][path][method]
    assert headers_that_break(contract, said, answer) == []
    content = said["responses"][str(answer.status_code)]["content"]["application/json"]
    validator(contract, content["schema"]["$ref"].rpartition("/")[2]).validate(answer.get_json())
    return answer.get_json()


def test_a_study_is_accepted_run_and_read_as_the_contract_says(
    client: FlaskClient, settings: Settings, contract: Json
) -> None:
    body = of_cases(8)
    validator(contract, "Study").validate(body)
    answer = client.post(PATH, json=body)
    state = kept(contract, PATH, "post", answer)
    assert (state["state"], state["cases"], state["done"]) == ("queued", 8, 0)
    where = answer.headers["Location"]
    assert client.get(f"{where}/results").get_json() == {"rows": []}
    run(settings, idle=0.0)
    state = kept(contract, f"{PATH}/{{study}}", "get", client.get(where))
    assert (state["state"], state["done"], state["failed"]) == ("finished", 8, 4)
    assert state["created"] <= state["ended"]
    rows, after = [], 0
    for _ in range(3):
        page = client.get(f"{where}/results?most=3&after={after}")
        content = kept(contract, f"{PATH}/{{study}}/results", "get", page)
        rows += content["rows"]
        after = content.get("next")
    assert after is None
    assert [each["case"] for each in rows] == list(range(1, 9))
    job = body["job"]
    job["array"]["branches"][0]["loop"]["legs"][0]["straight"]["length_m"] = 100
    alone = answered("/v1/split", job)
    assert rows[0]["varied"] == {LENGTH: 100, STRENGTH: 25}
    assert rows[0]["results"] == {
        "/pump/head_kpa": alone["pump"]["head_kpa"], "/loops/0/regime": alone["loops"][0]["regime"],
    }  # fmt: skip
    assert rows[1]["status"] == 422
    assert rows[1]["problem"]["errors"][0]["pointer"] == STRENGTH


def test_a_study_as_csv_and_parquet_has_a_row_for_each_case(
    client: FlaskClient, settings: Settings
) -> None:
    from pyarrow import parquet

    where = begun(client, of_cases(8))
    run(settings, idle=0.0)
    text = client.get(f"{where}/results.csv").get_data(as_text=True)
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["case"] for row in rows] == [str(case) for case in range(1, 9)]
    assert rows[1]["status"] == "422"
    assert "outside the range" in rows[1]["detail"]
    table = parquet.read_table(io.BytesIO(client.get(f"{where}/results.parquet").data))
    assert table.column_names == list(rows[0])
    heads = table["answer/pump/head_kpa"].to_pylist()
    assert [None if not row["answer/pump/head_kpa"] else float(row["answer/pump/head_kpa"])
            for row in rows] == heads  # fmt: skip
    comma = client.get(f"{where}/results.csv?decimal=comma").get_data(as_text=True)
    assert comma.splitlines()[0].startswith('"case";"job/array')


def test_the_same_idempotency_key_makes_one_study(client: FlaskClient) -> None:
    key = {"Idempotency-Key": "desk-1"}
    first = client.post(PATH, json=of_cases(4), headers=key).get_json()
    assert client.post(PATH, json=of_cases(4), headers=key).get_json() == first
    # However it is written: RFC 8785 has names in order, and 1.0 as 1.
    turned = json.dumps(dict(reversed(of_cases(4).items())), indent=2).replace(": 25,", ": 25.0,")
    again = client.post(PATH, data=turned, headers=key, content_type="application/json")
    assert again.get_json() == first
    other = client.post(PATH, json=of_cases(6), headers=key)
    assert (other.status_code, other.get_json(force=True)["type"]) == (
        422, "/v1/problems/key-used-otherwise",
    )  # fmt: skip
    assert len(client.get(PATH).get_json()["studies"]) == 1
    wrong = client.post(PATH, json=of_cases(4), headers={"Idempotency-Key": "two words"})
    assert wrong.status_code == 400


def test_studies_are_listed_by_pages_the_newest_first(client: FlaskClient, contract: Json) -> None:
    made = [begun(client, of_cases(2 * n)).rpartition("/")[2] for n in (2, 3, 4)]
    first = kept(contract, PATH, "get", client.get(f"{PATH}?most=2"))
    assert [each["study"] for each in first["studies"]] == made[:0:-1]
    rest = client.get(f"{PATH}?most=2&after={first['next']}").get_json()
    assert [each["study"] for each in rest["studies"]] == made[:1]
    assert "next" not in rest
    assert client.get(f"{PATH}?most=0").status_code == 400
    assert client.get(f"{PATH}?after=x").status_code == 400


def test_a_study_is_cancelled_and_deleted(
    client: FlaskClient, settings: Settings, contract: Json
) -> None:
    where = begun(client, of_cases(4))
    ended = client.post(f"{where}/cancellation")
    assert kept(contract, f"{PATH}/{{study}}/cancellation", "post", ended)["state"] == "cancelled"
    run(settings, idle=0.0)
    assert client.get(where).get_json()["done"] == 0
    gone = client.delete(where)
    assert kept(contract, f"{PATH}/{{study}}", "delete", gone)["state"] == "cancelled"
    assert client.get(where).status_code == 404
    assert client.delete(where).status_code == 404


def test_more_than_may_be_kept_are_refused(tmp_path: Path) -> None:
    client = create_app(Settings(studies_folder=str(tmp_path), max_studies=1)).test_client()
    where = begun(client, of_cases(4), **{"Idempotency-Key": "a"})
    assert begun(client, of_cases(4), **{"Idempotency-Key": "a"}) == where
    refused = client.post(PATH, json=of_cases(4))
    assert refused.get_json(force=True)["type"] == "/v1/problems/too-many-studies"
    client.delete(where)
    begun(client, of_cases(4))


def test_faults_of_a_study_are_told_with_their_places(client: FlaskClient) -> None:
    body = study({"listed": {"at": "/duty/flow_l_s", "values": [0.4]}}, results=["/pump/headkpa"])
    del body["job"]
    answer = client.post(PATH, json=body)
    assert answer.status_code == 422
    assert "/job" in errors_of(answer)
    body["job"] = 3
    assert "/job" in errors_of(client.post(PATH, json=body))
    body["job"] = {}
    assert "/results/0" in errors_of(client.post(PATH, json=body))


def test_keys_see_only_their_own_studies(tmp_path: Path) -> None:
    keys = [make_key() for _ in range(2)]
    hashes = ",".join(f"k{n}={hash_of(key)}" for n, key in enumerate(keys))
    app = create_app(Settings(studies_folder=str(tmp_path), api_keys=hashes))
    one, other = ({"Authorization": f"Bearer {key}"} for key in keys)
    client = app.test_client()
    where = begun(client, of_cases(4), **one)
    assert client.get(where, headers=one).status_code == 200
    of_study = [o for o in OPERATIONS if o.path.startswith(PATH)]
    assert len(of_study) > 6
    for operation in of_study:
        address = operation.path.replace("{study}", where.rpartition("/")[2])
        method, body = operation.method.upper(), of_cases(4) if operation.body else None
        assert client.open(address, method=method, json=body).status_code == 401, address
        if "{study}" in operation.path:
            theirs = client.open(address, method=method, json=body, headers=other)
            assert theirs.status_code in (404, 422), address
    assert client.get(PATH, headers=other).get_json()["studies"] == []
    assert client.get(where, headers=one).get_json()["state"] == "queued"
    # An Idempotency-Key is its caller's own, too.
    again = {"Idempotency-Key": "a"}
    assert begun(client, of_cases(4), **one, **again) != begun(
        client, of_cases(4), **other, **again
    )


def test_answers_to_studies_are_never_those_of_before(settings: Settings) -> None:
    client = create_app(settings).test_client()  # which keeps answers to calculations
    first, second = (begun(client, of_cases(4)) for _ in range(2))
    assert first != second
    assert client.post(f"{first}/cancellation").get_json()["study"] == first.rpartition("/")[2]


def test_a_store_that_cannot_be_reached_is_told_as_such(tmp_path: Path) -> None:
    (tmp_path / "studies").write_text("no folder", "utf-8")
    client = create_app(Settings(studies_folder=str(tmp_path / "studies"))).test_client()
    for answer in (client.post(PATH, json=of_cases(4)), client.get(PATH), client.get(NONE)):
        assert answer.status_code == 503
        assert answer.get_json(force=True)["type"] == "/v1/problems/no-store"
        assert int(answer.headers["Retry-After"]) > 0


def test_parquet_that_is_not_installed_is_told_with_its_extra(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.resources.studies.has_parquet", lambda: False)
    answer = client.get(f"{begun(client, of_cases(4))}/results.parquet")
    assert answer.status_code == 501
    assert json.loads(answer.data)["type"] == "/v1/problems/not-installed"
