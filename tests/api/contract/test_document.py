"""The contract is what the code makes of its schemas, and every answer keeps it."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator
from werkzeug.test import TestResponse

from api import create_app
from api.command.write_contract import FILE, compute_responses
from api.contract.document import build_openapi
from api.contract.examples import FOLDER, examples_in_repository
from api.contract.operations import OPERATIONS
from api.service.keys import hash_of, make_key
from api.settings import Settings
from tests.api.conftest import Json
from tests.api.resources.test_flow_split import RICH

EXAMPLES = sorted((FOLDER / "examples").glob("*.json"))


def validator(contract: Json, schema: str) -> Draft202012Validator:
    whole = {"$ref": f"#/components/schemas/{schema}", "components": contract["components"]}
    Draft202012Validator.check_schema(whole)
    return Draft202012Validator(whole)


def without_numbers(value: Any) -> Any:
    """Copy with every float replaced: the last digits may differ between processors."""
    if isinstance(value, dict):
        return {key: without_numbers(item) for key, item in value.items()}
    if isinstance(value, list):
        return [without_numbers(item) for item in value]
    return 0.0 if isinstance(value, float) else value


def example_and_answer(
    client: FlaskClient, contract: Json, path: str, schema: str, file: Path
) -> tuple[Json, Json]:
    """An invented example and the service's answer, both of which keep the contract."""
    request: Json = json.loads(file.read_text("utf-8"))
    assert "(invented)" in request["name"]
    validator(contract, f"{schema}Request").validate(request)
    answer = client.post(path, json=request)
    content: Json = answer.get_json(force=True)
    assert answer.status_code == 200, content
    validator(contract, f"{schema}Response").validate(content)
    return request, content


def test_the_file_is_what_the_code_makes_of_its_schemas() -> None:
    made = json.loads(json.dumps(build_openapi(examples_in_repository())))
    assert json.loads(FILE.read_text("utf-8")) == made, "call api.openapi.write_openapi()"


def test_the_examples_answers_are_what_the_service_answers() -> None:
    answers = compute_responses()
    folder = FOLDER / "examples" / "responses"
    assert {file.name for file in folder.glob("*.json")} == set(answers)
    for name, answer in answers.items():
        kept = json.loads((folder / name).read_text("utf-8"))
        # Residuals are rounding noise, which no two processors share.
        del kept["residuals"], answer["residuals"]
        assert without_numbers(kept) == without_numbers(answer), name
        for old, new in zip(kept["loops"], answer["loops"], strict=True):
            # One unit of the sixth digit at most, whatever the processor.
            assert old["flow_l_s"] == pytest.approx(new["flow_l_s"], rel=1e-5), name
        assert kept["pump_duty"]["head_kpa"] == pytest.approx(
            answer["pump_duty"]["head_kpa"], rel=1e-5
        ), name


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_an_example_and_its_answer_keep_the_contract(
    client: FlaskClient, contract: Json, file: Path
) -> None:
    request = json.loads(file.read_text("utf-8"))
    validator(contract, "FlowSplitRequest").validate(request)
    answer = client.post("/v1/flow-split", json=request)
    assert answer.status_code == 200
    validator(contract, "FlowSplitResponse").validate(answer.get_json())


CALCULATIONS = [operation for operation in OPERATIONS if operation.body is not None]


@pytest.mark.parametrize("operation", CALCULATIONS, ids=lambda o: o.identifier)
def test_every_example_of_every_calculation_and_its_answer_keep_the_contract(
    client: FlaskClient, contract: Json, operation: Any
) -> None:
    said = contract["paths"][operation.path]["post"]
    name = schema_name(said["requestBody"]["content"]["application/json"])
    answered = schema_name(said["responses"][str(operation.status)]["content"]["application/json"])
    for example in examples_in_repository(operation.path):
        validator(contract, name).validate(example.request)
        answer = client.post(operation.path, json=example.request)
        assert answer.status_code == operation.status, example.key
        validator(contract, answered).validate(answer.get_json())
        assert headers_that_break(contract, said, answer) == []


def schema_name(media: Json) -> str:
    return str(media["schema"]["$ref"]).rsplit("/", 1)[-1]


def headers_that_break(contract: Json, operation: Json, answer: TestResponse) -> list[str]:
    """Headers of an answer that are missing or are not as the contract says."""
    broken = []
    for name in operation["responses"][str(answer.status_code)]["headers"]:
        said = contract["components"]["headers"][name]
        value = answer.headers.get(name)
        kept = said["schema"]["type"] != "integer" or (value or "1").isdigit()
        if value is None:
            kept = not said.get("required", False)
        elif said["schema"]["type"] == "string":
            kept = Draft202012Validator(said["schema"]).is_valid(value)
        if not kept:
            broken.append(f"{name}: {value}")
    return broken


def test_every_calculation_has_examples() -> None:
    without = {o.path for o in CALCULATIONS if not examples_in_repository(o.path)}
    assert without <= {"/v1/fluid-properties"}


def test_answers_that_are_no_json_begin_as_the_contract_says(
    client: FlaskClient, contract: Json
) -> None:
    checked = set()
    for operation in OPERATIONS:
        said = contract["paths"][operation.path][operation.method]
        path = operation.path.replace("{slug}", "invalid-input")
        for media, content in said["responses"][str(operation.status)]["content"].items():
            if media == "application/json":
                continue
            shown = examples_in_repository(operation.path)
            body = shown[0].request if operation.body is not None else None
            answer = client.open(
                path, method=operation.method, json=body, headers={"Accept": media}
            )
            assert answer.status_code == operation.status, answer.get_data(as_text=True)
            assert answer.mimetype == media
            assert headers_that_break(contract, said, answer) == []
            if "type" in content["schema"]:
                Draft202012Validator(content["schema"]).validate(answer.get_data(as_text=True))
            else:
                assert content["schema"] == {"contentMediaType": media}
            checked.add(media)
    assert checked >= {"text/html", "text/csv", "text/plain", "image/svg+xml", "image/png"}


def test_what_can_be_kept_is_asked_for_again_by_its_tag(
    client: FlaskClient, contract: Json
) -> None:
    for operation in OPERATIONS:
        said = contract["paths"][operation.path][operation.method]
        assert ("304" in said["responses"]) == operation.cached
        path = operation.path.replace("{slug}", "invalid-input")
        path = path.replace("{name}", "quince-barn-short-tail")
        if operation.method == "post":
            continue
        first = client.get(path)
        assert ("ETag" in first.headers) == operation.cached, path
        if operation.cached:
            again = client.get(path, headers={"If-None-Match": first.headers["ETag"]})
            assert again.status_code == 304
            assert headers_that_break(contract, said, again) == []


def test_calculations_say_that_a_key_may_be_needed_and_what_can_be_got_that_it_is_not(
    contract: Json,
) -> None:
    for path, methods in contract["paths"].items():
        for method, operation in methods.items():
            with_key = method == "post" or path == "/metrics"
            assert operation["security"] == ([{}, {"key": []}] if with_key else [])
            assert ("401" in operation["responses"]) == with_key
            assert ("429" in operation["responses"]) == (method == "post")
            assert ("503" in operation["responses"]) == (method == "post" or path == "/readyz")
    assert contract["components"]["securitySchemes"]["key"]["scheme"] == "bearer"


@pytest.mark.parametrize("path", ["/v1/flow-split", "/v1/flow-splits", "/v1/fluid-properties"])
def test_refusals_before_a_calculation_are_as_the_contract_says(
    contract: Json, job: Json, path: str
) -> None:
    said = contract["paths"][path]["post"]
    key = make_key()
    kept = Settings(api_keys=f"office={hash_of(key)}", rate_per_minute=1, max_waiting=0)
    app = create_app(kept)
    client = app.test_client()
    allowed = {"Authorization": f"Bearer {key}"}
    answers = [client.post(path, json=job), *(
        client.post(path, json=job, headers=allowed) for _ in range(2)
    )]  # fmt: skip
    other = create_app(Settings(max_calculations=1, max_waiting=0))
    with other.extensions["evenloop"].turns.turn():
        answers.append(other.test_client().post(path, json=job))
    assert [each.status_code for each in answers if each.status_code > 422 or
            each.status_code == 401] == [401, 429, 503]  # fmt: skip
    for answer in answers:
        if answer.status_code >= 400:
            validator(contract, "Problem").validate(answer.get_json(force=True))
            assert list(said["responses"][str(answer.status_code)]["content"]) == [answer.mimetype]
        assert headers_that_break(contract, said, answer) == []
    assert "Retry-After" in answers[2].headers
    assert "Retry-After" in answers[3].headers


def test_links_lead_from_sizing_to_the_flow_split(client: FlaskClient, contract: Json) -> None:
    said = contract["paths"]["/v1/array-sizing"]["post"]["responses"]["200"]
    link = said["links"]["flowSplit"]
    assert link["operationId"] == "solveFlowSplit"
    assert link["requestBody"] == "$response.body#/flow_split_request"
    request = examples_in_repository("/v1/array-sizing")[0].request
    sized = client.post("/v1/array-sizing", json=request).get_json()
    assert client.post("/v1/flow-split", json=sized["flow_split_request"]).status_code == 200


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_an_example_is_a_realistic_invented_array(client: FlaskClient, file: Path) -> None:
    request = json.loads(file.read_text("utf-8"))
    content = client.post("/v1/flow-split", json=request).get_json()
    assert "(invented)" in request["name"]
    # What one circulator of a domestic or small commercial heat pump meets: common practice.
    assert 20 <= content["pump_duty"]["head_kpa"] <= 80
    assert all(0.15 <= loop["velocity_m_s"] <= 1.0 for loop in content["loops"])
    cold = content["fluid_to_ground"]
    assert cold["temperature_c"] - cold["freezing_point_c"] > 3
    assert all(finding["severity"] != "error" for finding in content["findings"])


def test_there_are_seven_examples_of_different_arrays() -> None:
    assert len(EXAMPLES) >= 7
    requests = [json.loads(file.read_text("utf-8")) for file in EXAMPLES]
    text = json.dumps(requests)
    for word in ("manifold", "direct_return", "reverse_return", "coils", "trench_m",
                 "mat_inner_diameter_m", "borehole_depth_m", "circuit", "heat_from_ground_kw",
                 "pump", "flow_l_s"):  # fmt: skip
        assert f'"{word}"' in text, word


def test_a_request_with_every_field_keeps_the_contract(client: FlaskClient, contract: Json) -> None:
    validator(contract, "FlowSplitRequest").validate(RICH)
    content = client.post("/v1/flow-split", json=RICH).get_json()
    validator(contract, "FlowSplitResponse").validate(content)


@pytest.mark.parametrize(
    "operation",
    [
        o
        for o in OPERATIONS
        if o.method == "get" and not isinstance(o.answer, str) and "{" not in o.path
    ],
    ids=lambda o: o.identifier,
)
def test_reference_data_keep_the_contract(
    client: FlaskClient, contract: Json, operation: Any
) -> None:
    answer = client.get(operation.path)
    assert answer.status_code == 200
    name = operation.answer.__name__.removesuffix("Schema")
    validator(contract, name).validate(answer.get_json())


def test_the_served_document_is_the_file(client: FlaskClient, contract: Json) -> None:
    assert client.get("/v1/openapi.json").get_json() == contract


def test_the_document_is_openapi_3_1_with_a_license_and_a_relative_server(contract: Json) -> None:
    assert contract["openapi"].startswith("3.1.")
    assert contract["info"]["license"]["identifier"] == "MIT"
    assert [server["url"] for server in contract["servers"]] == ["/"]


def test_every_operation_is_named_tagged_and_documents_its_problems(contract: Json) -> None:
    names = []
    tags = {tag["name"] for tag in contract["tags"]}
    for methods in contract["paths"].values():
        for method, operation in methods.items():
            names.append(operation["operationId"])
            assert set(operation["tags"]) <= tags
            assert operation["summary"]
            assert operation["description"]
            good = {each for each in operation["responses"] if each[0] == "2"}
            assert len(good) == 1
            statuses = {"400", "406", "500"}
            if method == "post":
                statuses |= {"401", "413", "415", "422", "429", "503"}
            assert statuses <= set(operation["responses"])
            for status, response in operation["responses"].items():
                if status >= "400":
                    assert list(response["content"]) == ["application/problem+json"]
    assert len(names) == len(set(names))


def test_every_object_is_closed_and_every_field_described(contract: Json) -> None:
    for name, schema in contract["components"]["schemas"].items():
        assert schema["description"], name
        assert schema["additionalProperties"] is False, name
        for field, said in schema["properties"].items():
            assert said.get("description"), f"{name}.{field}"


def test_every_field_with_a_unit_in_its_name_says_it(contract: Json) -> None:
    endings = re.compile(r"_(m|mm|l_s|kpa|c|k|kw|w|percent|kg_m3|m_s|kg_s|m3_h|mpa_s)$")
    for name, schema in contract["components"]["schemas"].items():
        for field, said in schema["properties"].items():
            if endings.search(field) and said.get("type") == "number":
                assert said.get("x-unit"), f"{name}.{field}"


@pytest.mark.parametrize("wrong", [
    {"straight_m": 1, "coils": 2}, {"straight_m": -1}, {"straight_m": "1"}, {"straight_m": True},
    {"coils": 1.5, "coil_diameter_m": 1, "pitch_m": 1}, {"coils": 2, "coil_diameter_m": 1},
    {"straight_m": 1, "other": 1}, {"borehole_depth_m": 90, "u_tubes": 3}, {},
    {"straight_m": 1, "pipe": 3}, {"straight_m": 1, "pipe": None},
    {"straight_m": 1, "fittings": [{"kind": "elbow_90", "kv_m3_h": 1}]},
    {"trench_m": 0, "passes": 1}, {"coiled_m": 1, "coil_diameter_m": 0},
])  # fmt: skip
def test_the_contract_and_the_service_refuse_the_same_legs(
    client: FlaskClient, contract: Json, job: Json, wrong: Json
) -> None:
    job["array"]["branches"][0]["legs"] = [wrong, {"straight_m": 5}]
    assert not validator(contract, "FlowSplitRequest").is_valid(job)
    assert client.post("/v1/flow-split", json=job).status_code == 422
