"""Every error of every route has the one shape of RFC 9457, and leaks nothing."""

import json
import re
from io import BytesIO
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.contract.operations import OPERATIONS, Operation
from api.service.problem_types import PROBLEM_TYPES
from api.settings import Settings
from tests.api.conftest import Json
from tests.api.contract.test_document import validator

_FILLED = {"{slug}": "invalid-input", "{name}": "quince-barn-short-tail", "{picture}": "flows",
           "{study}": "0" * 32}  # fmt: skip


def filled(operation: Operation) -> str:
    return re.sub(r"{\w+}", lambda found: _FILLED[found[0]], operation.path)


GETS = [filled(each) for each in OPERATIONS if each.method == "get"]
POSTS = [filled(each) for each in OPERATIONS if each.method == "post"]
WITH_BODY = [filled(each) for each in OPERATIONS if each.body is not None or each.takes]
DELETES = [filled(each) for each in OPERATIONS if each.method == "delete"]


def assert_problem(answer: TestResponse, contract: Json, status: int, slug: str) -> Json:
    content: Json = json.loads(answer.data)
    assert answer.status_code == status, content
    assert answer.content_type == "application/problem+json"
    validator(contract, "Problem").validate(content)
    assert content["status"] == status
    assert content["type"] == f"/v1/problems/{slug}"
    assert content["title"] == PROBLEM_TYPES[slug].title
    assert "Traceback" not in answer.get_data(as_text=True)
    return content


@pytest.mark.parametrize("path", [*GETS, *POSTS])
@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE"])
def test_a_wrong_method_is_a_problem_that_names_the_right_ones(
    client: FlaskClient, contract: Json, path: str, method: str
) -> None:
    if method == "DELETE" and path in DELETES:
        method = "PUT"
    answer = client.open(path, method=method)
    assert_problem(answer, contract, 405, "method-not-allowed")
    assert ("POST" if path in POSTS else "GET") in answer.headers["Allow"]


@pytest.mark.parametrize("path", [*GETS, *POSTS])
def test_an_accept_header_that_cannot_be_met_is_a_problem(
    client: FlaskClient, contract: Json, path: str
) -> None:
    method = "POST" if path in POSTS else "GET"
    answer = client.open(path, method=method, json={} if path in POSTS else None,
                         headers={"Accept": "application/zip"})  # fmt: skip
    assert_problem(answer, contract, 406, "not-acceptable")


@pytest.mark.parametrize("path", [*GETS, *POSTS])
def test_an_unknown_parameter_is_refused_rather_than_ignored(
    client: FlaskClient, contract: Json, path: str
) -> None:
    method = "POST" if path in POSTS else "GET"
    answer = client.open(f"{path}?max_deviation_percent=5", method=method)
    content = assert_problem(answer, contract, 400, "unknown-parameter")
    assert content["errors"][0]["parameter"] == "max_deviation_percent"


@pytest.mark.parametrize("path", ["//v1/pipes", "/v1//pipes", "/v2", "/v1/flow-split",
                                  "/v1/problems/nothing", "/assets/none.css",
                                  "/assets/../app.py"])  # fmt: skip
def test_an_unknown_address_is_a_problem(client: FlaskClient, contract: Json, path: str) -> None:
    assert_problem(client.get(path), contract, 404, "not-found")


@pytest.mark.parametrize("path", WITH_BODY)
@pytest.mark.parametrize(
    ("body", "kind", "status", "slug"),
    [
        (b"", "application/json", 400, "empty-body"),
        (b"  \n", "application/json", 400, "empty-body"),
        (b"{", "application/json", 400, "malformed-json"),
        (b"{}", "text/plain", 415, "unsupported-media-type"),
        (b"{}", None, 415, "unsupported-media-type"),
        (b"{}", "application/json; charset=latin-1", 415, "unsupported-media-type"),
        (b"[" * 65 + b"]" * 65, "application/json", 400, "nested-too-deep"),
        (b"[" * 200_000, "application/json", 400, "nested-too-deep"),
        (b"[]", "application/json", 422, "invalid-input"),
        (b"null", "application/json", 422, "invalid-input"),
        (b'"text"', "application/json", 422, "invalid-input"),
        (b"{}", "application/json", 422, "invalid-input"),
        (b"[" + b"1," * 2_200_000 + b"1]", "application/json", 413, "body-too-large"),
    ],
)
def test_a_bad_body_is_a_problem_on_every_calculation(  # noqa: PLR0917
    client: FlaskClient,
    contract: Json,
    path: str,
    body: bytes,
    kind: str | None,
    status: int,
    slug: str,
) -> None:
    if path == "/v1/plot-file" and kind is not None:
        kind = kind.replace("application/json", "application/geo+json")
    answer = client.post(path, data=body, content_type=kind)
    assert_problem(answer, contract, status, slug)


@pytest.mark.parametrize("length", [1_999, 5_000, 500_000])
def test_a_body_that_comes_in_chunks_is_refused_beyond_the_limit(
    contract: Json, length: int
) -> None:
    # The JSON ends before the limit, so a body that was cut off unseen would be accepted.
    client = create_app(Settings(max_body_bytes=2_000)).test_client()
    answer = client.post(
        "/v1/split",
        input_stream=BytesIO(b"{}" + b" " * length),
        content_type="application/json",
        environ_overrides={"wsgi.input_terminated": True},
        headers={"Transfer-Encoding": "chunked"},
    )
    content = assert_problem(answer, contract, 413, "body-too-large")
    assert "2,000 bytes" in content["detail"]


def test_a_body_of_exactly_the_limit_is_read(contract: Json) -> None:
    client = create_app(Settings(max_body_bytes=2_000)).test_client()
    body = b"{}" + b" " * 1_998
    answer = client.post("/v1/split", data=body, content_type="application/json")
    assert_problem(answer, contract, 422, "invalid-input")
    answer = client.post("/v1/split", data=body + b" ", content_type="application/json")
    content = assert_problem(answer, contract, 413, "body-too-large")
    assert "2,000 bytes" in content["detail"]


def test_a_compressed_body_is_refused_by_name(client: FlaskClient, contract: Json) -> None:
    answer = client.post("/v1/split", data=b"\x1f\x8b", content_type="application/json",
                         headers={"Content-Encoding": "gzip"})  # fmt: skip
    content = assert_problem(answer, contract, 415, "unsupported-media-type")
    assert "gzip" in content["detail"]


def test_a_fault_of_the_service_tells_nothing_but_where_to_look(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, contract: Json, job: Json,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    def break_down(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError("secret of the house")

    monkeypatch.setattr("hydraulics.job.flow_split", break_down)
    answer = client.post("/v1/split", json=job)
    content = assert_problem(answer, contract, 500, "internal-error")
    assert "secret" not in answer.get_data(as_text=True)
    assert "ZeroDivision" not in answer.get_data(as_text=True)
    assert content["instance"].startswith("urn:uuid:")
    assert content["instance"] in caplog.text
    assert "secret of the house" in caplog.text


def test_a_result_that_is_not_finite_is_never_sent(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, contract: Json, job: Json
) -> None:
    monkeypatch.setattr("api.calculations.asked.split_of", lambda *_, **__: {"x": float("nan")})
    assert_problem(client.post("/v1/split", json=job), contract, 500, "internal-error")


@pytest.mark.parametrize("slug", PROBLEM_TYPES)
def test_every_kind_of_problem_has_a_page(client: FlaskClient, slug: str) -> None:
    answer = client.get(PROBLEM_TYPES[slug].uri)
    assert answer.status_code == 200
    assert PROBLEM_TYPES[slug].title in answer.get_data(as_text=True)


def test_every_route_of_the_application_is_in_the_contract() -> None:
    app: Flask = create_app(Settings())
    routes = {
        (method.lower(), re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule))
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if rule.endpoint != "static"
    }
    drawn = ("post", "/v1/split/{picture}.{form}")  # one route for two addresses
    of_contract = {(o.method, o.path) for o in OPERATIONS}
    assert drawn in routes
    assert routes - {drawn} == {each for each in of_contract if "{picture}" not in each[1]}


@pytest.mark.parametrize("path", ["/v1", "/v1/pipes", "/healthz", "/v1/problems"])
def test_an_address_answers_with_a_slash_at_its_end_too(client: FlaskClient, path: str) -> None:
    answer = client.get(f"{path}/", headers={"Host": "elsewhere.example"})
    assert answer.status_code == 200
    assert "Location" not in answer.headers
    assert answer.data == client.get(path).data
