"""The contract is what the code makes of its schemas, and every answer keeps it."""

import copy
import json
import re
from functools import cache

import pytest
from flask.testing import FlaskClient
from jsonschema_rs import Draft202012Validator, meta
from werkzeug.test import TestResponse

from api import create_app
from api.command.write_contract import FILE, contract_text
from api.contract.document import found, references
from api.contract.examples import Example, examples_in_repository, shown_in_contract
from api.contract.operations import OPERATIONS, Operation
from api.requests.job import NEEDS
from api.service.keys import hash_of, make_key
from api.settings import Settings
from tests.api.conftest import Json, shared_app

SHOWN = {each.name: each for each in shown_in_contract()}
CALCULATIONS = [each for each in OPERATIONS if each.body is not None and not each.of_studies]
JOBS = [operation for operation in CALCULATIONS if operation.needs]


_VALIDATORS: dict[str, Draft202012Validator] = {}  # made once each: that costs more than its use


def validator(contract: Json, schema: str) -> Draft202012Validator:
    if schema not in _VALIDATORS:
        meta.validate(contract["components"]["schemas"][schema])
        whole = {"$ref": f"#/components/schemas/{schema}", "components": contract["components"]}
        _VALIDATORS[schema] = Draft202012Validator(whole)
    return _VALIDATORS[schema]


def schema_name(media: Json) -> str:
    return str(media["schema"]["$ref"]).rsplit("/", 1)[-1]


def response_said(contract: Json, operation: Json, status: int) -> Json:
    """What the contract says of a response, wherever it stands."""
    return found(operation["responses"][str(status)], contract["components"])


def headers_that_break(contract: Json, operation: Json, answer: TestResponse) -> list[str]:
    """Headers of an answer that are missing or are not as the contract says."""
    broken = []
    headers = response_said(contract, operation, answer.status_code)["headers"]
    for name, reference in headers.items():
        said = found(reference, contract["components"])
        value = answer.headers.get(name)
        kept = said["schema"]["type"] != "integer" or (value or "1").isdigit()
        if value is None:
            kept = not said.get("required", False)
        elif said["schema"]["type"] == "string":
            kept = Draft202012Validator(said["schema"]).is_valid(value)
        if not kept:
            broken.append(f"{name}: {value}")
    return broken


def address(operation: Operation) -> str:
    """Address of an operation with something in place of its parameters."""
    path = operation.path.replace("{slug}", "invalid-input").replace("{picture}", "flows")
    return path.replace("{name}", "quince-barn-short-tail")


@cache
def answer_to(path: str, name: str) -> TestResponse:
    """Answer of a calculation to the job of an example; two tests look at it."""
    return shared_app().test_client().post(path, json=SHOWN[name].job)


# ----------------------------------------------------------------------------------- the document


def test_the_file_is_what_the_code_makes_of_its_schemas() -> None:
    kept = FILE.read_text("utf-8")
    assert kept == contract_text(), "call python -m api.command.write_contract"


def test_the_file_is_smaller_than_400_kb() -> None:
    assert FILE.stat().st_size < 400_000


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
            (good,) = (int(status) for status in operation["responses"] if status[0] == "2")
            content = response_said(contract, operation, good)["content"]
            assert len(content) == 1, "one media type an address"
            statuses = {"400", "406", "500"}
            if method == "post":
                statuses |= {"401", "429", "503"}
            if "requestBody" in operation:
                statuses |= {"413", "415", "422"}
            assert statuses <= set(operation["responses"])
            for status in operation["responses"]:
                if status >= "400":
                    said = response_said(contract, operation, int(status))
                    assert list(said["content"]) == ["application/problem+json"]
    assert len(names) == len(set(names))
    assert all(re.fullmatch(r"[a-z]+(_[a-z]+)*", name) for name in names)


def test_calculations_say_that_a_key_may_be_needed_and_what_can_be_got_that_it_is_not(
    contract: Json,
) -> None:
    for path, methods in contract["paths"].items():
        for method, operation in methods.items():
            of_studies = path.startswith("/v1/studies")
            with_key = method == "post" or path == "/metrics" or of_studies
            assert operation["security"] == ([{}, {"key": []}] if with_key else [])
            assert ("401" in operation["responses"]) == with_key
            assert ("429" in operation["responses"]) == (method == "post")
            busy = method == "post" or path == "/readyz" or of_studies
            assert ("503" in operation["responses"]) == busy
    assert contract["components"]["securitySchemes"]["key"]["scheme"] == "bearer"


# ------------------------------------------------------- what generators of clients can read


def objects(contract: Json) -> dict[str, Json]:
    schemas = contract["components"]["schemas"]
    return {name: each for name, each in schemas.items() if each.get("type") == "object"}


def test_every_field_is_described(contract: Json) -> None:
    for name, schema in contract["components"]["schemas"].items():
        assert schema["description"], name
        for field, said in schema.get("properties", {}).items():
            # A list of words may tell what its only use means.
            words = contract["components"]["schemas"].get(said.get("$ref", "").rpartition("/")[2])
            told = said.get("description") or ("enum" in (words or {}) and words["description"])
            assert told, f"{name}.{field}"


def test_a_field_is_a_plain_value_or_refers_to_a_schema_with_a_name(contract: Json) -> None:
    # Found by trying generators in five languages: an inline choice, object or list of words gets
    # a made-up name or none, and a default makes a field of the request required.
    for name, schema in objects(contract).items():
        for field, said in schema["properties"].items():
            within = said.get("items", {})
            for each in (said, within):
                assert not {"oneOf", "anyOf", "allOf", "enum", "default", "properties"} & set(each)
                assert "pattern" not in each, f"{name}.{field}"


def test_what_answers_hold_is_open_and_what_only_requests_hold_is_closed(contract: Json) -> None:
    schemas = contract["components"]["schemas"]
    reached: set[str] = set()
    todo = [
        each
        for methods in contract["paths"].values()
        for operation in methods.values()
        for each in references(operation["responses"])
    ]
    while todo:
        if (name := todo.pop()) not in reached:
            reached.add(name)
            todo += references(schemas[name])
    assert {"Job", "SplitAnswer", "Circuit"} <= reached
    for name, schema in objects(contract).items():
        assert schema.get("additionalProperties", True) is (name in reached or name.startswith(
            "Problem")), name  # fmt: skip
    assert "The list may grow." in schemas["Regime"]["description"]


def test_exactly_one_of_is_told_in_words_and_where_tools_find_it(contract: Json) -> None:
    leg = contract["components"]["schemas"]["Leg"]
    kinds = ["straight", "slinky", "coiled", "trench", "pond_mat", "borehole"]
    assert leg["x-exactly-one-of"] == kinds
    assert "exactly one of straight, slinky" in leg["description"]
    assert "required" not in leg


def test_a_default_is_told_in_words_and_where_tools_find_it(contract: Json) -> None:
    count = contract["components"]["schemas"]["Fitting"]["properties"]["count"]
    assert count["x-default"] == 1
    assert count["description"].endswith("left out, 1.")
    told = 0
    for name, schema in objects(contract).items():
        for field, said in schema["properties"].items():
            if "x-default" in said:
                told += 1
                assert field not in schema.get("required", ()), f"{name}.{field}"
    assert told > 30


def test_every_field_with_a_unit_in_its_name_says_it(contract: Json) -> None:
    endings = re.compile(r"_(m|mm|l_s|kpa|c|k|kw|w|percent|kg_m3|m_s|kg_s|m3_h|mpa_s|h|rpm)$")
    for name, schema in objects(contract).items():
        for field, said in schema["properties"].items():
            if endings.search(field) and said.get("type") == "number":
                assert said.get("x-unit"), f"{name}.{field}"


# -------------------------------------------------------------------- examples keep the contract


@pytest.mark.parametrize("operation", CALCULATIONS, ids=lambda o: o.identifier)
def test_the_example_shown_and_its_answer_keep_the_contract(
    client: FlaskClient, contract: Json, operation: Operation
) -> None:
    said = contract["paths"][operation.path]["post"]
    taken = found(said["requestBody"], contract["components"])
    media = taken["content"]["application/json"]
    if operation.path == "/v1/fluid-properties":
        body: Json = {"kind": "ethanol", "basis": "mass", "concentrations_percent": [20],
                      "temperatures_c": [0]}  # fmt: skip
        answer = client.post(address(operation), json=body)
    else:
        body = SHOWN[operation.example].job
        assert [each["value"] for each in media["examples"].values()] == [body]
        answer = answer_to(address(operation), operation.example)
    validator(contract, schema_name(media)).validate(body)
    assert answer.status_code == operation.status, answer.get_data(as_text=True)
    assert answer.mimetype == operation.media
    assert headers_that_break(contract, said, answer) == []
    content = response_said(contract, said, operation.status)["content"][operation.media]
    if operation.media == "application/json":
        validator(contract, schema_name(content)).validate(answer.get_json())
    elif content["schema"].get("format") != "binary":
        text = answer.get_data(as_text=True)
        told = json.loads(text) if operation.media.endswith("+json") else text
        Draft202012Validator(content["schema"]).validate(told)


@pytest.mark.parametrize("example", examples_in_repository(), ids=lambda each: each.name)
def test_an_example_and_its_kept_answers_keep_the_contract(
    contract: Json, example: Example
) -> None:
    # That the kept answers are those of the service is checked beside the examples.
    validator(contract, "Job").validate(example.job)
    for calculation in example.calculations:
        content = contract["paths"][f"/v1/{calculation}"]["post"]["responses"]["200"]["content"]
        name = schema_name(content["application/json"])
        validator(contract, name).validate(example.answer(calculation))


@pytest.mark.parametrize("operation", JOBS, ids=lambda o: o.identifier)
def test_a_job_without_a_part_that_is_needed_is_refused_by_its_name(
    client: FlaskClient, contract: Json, operation: Operation
) -> None:
    setting_out = operation.identifier.startswith("setting_out")
    name = operation.example if setting_out else "quince-barn-short-tail"
    whole = SHOWN[name].job
    said = contract["paths"][operation.path]["post"]
    assert answer_to(address(operation), name).status_code == 200
    assert said["x-needs"] == list(operation.needs)
    for part in operation.needs:
        job = copy.deepcopy(whole)
        del job[part]
        answer = client.post(address(operation), json=job)
        assert answer.status_code == 422, part
        problem = answer.get_json(force=True)
        assert f"/{part}" in {each["pointer"] for each in problem["errors"]}
        validator(contract, "Problem").validate(problem)


def test_what_every_calculation_needs_is_in_the_contract(contract: Json) -> None:
    told = {
        methods["post"]["operationId"]: tuple(methods["post"]["x-needs"])
        for methods in contract["paths"].values()
        if "x-needs" in methods.get("post", {})
    }
    assert set(NEEDS) - {"designs"} <= set(told)
    assert told["pump_choice"] == NEEDS["pump_choice"]


def test_what_can_be_got_is_as_the_contract_says_and_is_asked_for_again_by_its_tag(
    client: FlaskClient, contract: Json
) -> None:
    for operation in OPERATIONS:
        said = contract["paths"][operation.path][operation.method]
        assert ("304" in said["responses"]) == operation.cached
        if operation.method == "post" or operation.of_studies:
            continue
        first = client.get(address(operation))
        assert first.mimetype == operation.media, operation.path
        assert headers_that_break(contract, said, first) == []
        content = said["responses"]["200"]["content"][operation.media]["schema"]
        if "$ref" in content:
            validator(contract, schema_name({"schema": content})).validate(first.get_json())
        elif "pattern" in content:
            Draft202012Validator(content).validate(first.get_data(as_text=True))
        assert ("ETag" in first.headers) == operation.cached, operation.path
        if operation.cached:
            again = client.get(address(operation), headers={"If-None-Match": first.headers["ETag"]})
            assert again.status_code == 304
            assert headers_that_break(contract, said, again) == []


@pytest.mark.usefixtures("still_minute")
@pytest.mark.parametrize("path", ["/v1/split", "/v1/splits", "/v1/split.csv"])
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
            content = response_said(contract, said, answer.status_code)["content"]
            assert list(content) == [answer.mimetype]
        assert headers_that_break(contract, said, answer) == []
    assert "Retry-After" in answers[2].headers
    assert "Retry-After" in answers[3].headers


def test_links_lead_from_the_examples_to_one_of_them_and_to_its_design(
    client: FlaskClient, contract: Json
) -> None:
    listed = contract["paths"]["/v1/examples"]["get"]["responses"]["200"]["links"]["firstExample"]
    given = contract["paths"]["/v1/examples/{name}"]["get"]["responses"]["200"]["links"]["design"]
    assert (listed["operationId"], given["operationId"]) == ("example", "design")
    name = client.get("/v1/examples").get_json()["examples"][0]["name"]
    job = client.get(f"/v1/examples/{name}").get_json()
    assert client.post("/v1/designs", json=job).status_code == 200


# ------------------------------------------------------------------- contract and service agree


@pytest.mark.parametrize("wrong", [
    {"straight": {"length_m": -1}}, {"straight": {"length_m": "1"}},
    {"straight": {"length_m": True}}, {"straight": 5}, {"straight": {}},
    {"slinky": {"coils": 1.5, "coil_diameter_m": 1, "pitch_m": 1}},
    {"slinky": {"coils": 2, "coil_diameter_m": 1}}, {"borehole": {"depth_m": 90, "u_tubes": 3}},
    {"straight": {"length_m": 1}, "pipe": 3}, {"straight": {"length_m": 1}, "pipe": None},
    {"straight": {"length_m": 1}, "fittings": [{"kind": "elbow"}]},
    {"trench": {"length_m": 0, "passes": 1}}, {"coiled": {"length_m": 1, "coil_diameter_m": 0}},
])  # fmt: skip
def test_the_contract_and_the_service_refuse_the_same_legs(
    client: FlaskClient, contract: Json, job: Json, wrong: Json
) -> None:
    job["array"]["branches"][0]["loop"]["legs"] = [wrong, {"straight": {"length_m": 5}}]
    assert not validator(contract, "Job").is_valid(job)
    assert client.post("/v1/split", json=job).status_code == 422


@pytest.mark.parametrize("wrong", [
    {}, {"straight": {"length_m": 1}, "coiled": {"length_m": 1, "coil_diameter_m": 1}},
    {"straight": {"length_m": 1, "other": 1}}, {"straight": {"length_m": 1}, "other": 1},
    {"straight": {"length_m": 1}, "fittings": [{"kind": "elbow_90", "kv_m3_h": 1}]},
])  # fmt: skip
def test_the_service_refuses_what_open_schemas_cannot(
    client: FlaskClient, contract: Json, job: Json, wrong: Json
) -> None:
    job["array"]["branches"][0]["loop"]["legs"] = [wrong, {"straight": {"length_m": 5}}]
    assert validator(contract, "Job").is_valid(job)
    assert client.post("/v1/split", json=job).status_code == 422


def test_a_whole_number_may_be_written_with_a_point(
    client: FlaskClient, contract: Json, job: Json
) -> None:
    job["array"]["branches"][0]["count"] = 2.0
    validator(contract, "Job").validate(json.loads(json.dumps(job)))
    assert client.post("/v1/split", json=job).get_json()["loops"][1]["loop"] == "A-2"


def test_the_examples_use_every_part_of_a_job(contract: Json) -> None:
    used = {part for each in SHOWN.values() for part in each.job}
    assert set(contract["components"]["schemas"]["Job"]["properties"]) <= used


def test_every_answer_to_json_is_said_to_tell_of_which_body_and_by_which_version_it_is(
    contract: Json,
) -> None:
    for path, operations in contract["paths"].items():
        for method, operation in operations.items():
            for status in operation["responses"]:
                headers = response_said(contract, operation, int(status)).get("headers", {})
                told = {"Evenloop-Body-SHA256", "Evenloop-Version"} & headers.keys()
                assert len(told) == 2 * (method == "post" and status in ("200", "207")), path
