"""Many arrays in one call: each has its own answer or problem, and the call its bounds."""

import copy
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.settings import Settings
from tests.api.conftest import Json, errors_of
from tests.api.contract.test_document import validator

PATH = "/v1/splits"
EXAMPLES = Path(__file__).parents[3] / "openapi" / "examples"


def variants(job: Json, number: int) -> list[Json]:
    found = []
    for index in range(number):
        variant = copy.deepcopy(job)
        variant["array"]["branches"][0]["loop"]["legs"][0]["straight"]["length_m"] = 100 + index
        found.append(variant)
    return found


def test_each_job_gets_what_it_gets_alone(client: FlaskClient, job: Json) -> None:
    jobs = variants(job, 5)
    answer = client.post(PATH, json={"jobs": jobs})
    assert answer.status_code == 207
    alone = [client.post("/v1/split", json=each).get_json() for each in jobs]
    content = answer.get_json()
    assert [each["split"] for each in content["answers"]] == alone
    assert {each["status"] for each in content["answers"]} == {200}
    assert (content["solved"], content["refused"]) == (5, 0)


def test_jobs_of_many_kinds_get_what_they_get_alone(client: FlaskClient, job: Json) -> None:
    jobs = variants(job, 3)
    jobs[1]["plant"] = {"heat_exchanger": [{"flow_l_s": 0.65, "drop_kpa": 12.0}]}
    for path in sorted(EXAMPLES.glob("*.json")):
        example = json.loads(path.read_text())
        if "array" in example and "duty" in example:
            stronger = copy.deepcopy(example)
            for name in ("heat_kw", "flow_l_s"):
                if name in stronger["duty"]:
                    stronger["duty"][name] *= 1.3
            jobs += [example, stronger]
    far = copy.deepcopy(job)
    far["duty"] = {"flow_l_s": 1e6, "to_ground_c": -3.0, "from_ground_c": 0.0}
    jobs += [far, jobs[0]]
    assert len(jobs) > 10
    content = client.post(PATH, json={"jobs": jobs}).get_json()
    for each, answer in zip(jobs, content["answers"], strict=True):
        alone = client.post("/v1/split", json=each)
        assert answer["status"] == alone.status_code
        found = answer.get("split", answer.get("problem"))
        assert found == alone.get_json(force=True)
    assert [each["status"] for each in content["answers"][:3]] == [200] * 3
    assert content["answers"][-2]["status"] == 422


def test_what_goes_wrong_with_all_at_once_leaves_each_by_itself(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, job: Json
) -> None:
    whole = client.post(PATH, json={"jobs": variants(job, 3)}).get_json()
    monkeypatch.setattr("hydraulics.split.together.stacked", lambda _: 1 / 0)
    assert client.post(PATH, json={"jobs": variants(job, 3)}).get_json() == whole


@pytest.mark.parametrize(
    "wrong", [None, 3, [], {}, {"array": 1}, "text"], ids=["null", "number", "list", "empty",
                                                          "broken", "text"],
)  # fmt: skip
def test_what_is_wrong_with_one_does_not_touch_the_others(
    client: FlaskClient, contract: Json, job: Json, wrong: Any
) -> None:
    content = client.post(PATH, json={"jobs": [job, wrong, job]}).get_json()
    first, second, third = content["answers"]
    assert first == third
    assert first["status"] == 200
    assert second["status"] == 422
    assert set(second) == {"status", "problem"}
    assert (content["solved"], content["refused"]) == (2, 1)
    validator(contract, "SplitsAnswer").validate(content)


def test_the_problem_of_one_is_its_problem_alone(client: FlaskClient, job: Json) -> None:
    job["array"]["branches"][1]["loop"]["legs"][0]["straight"]["length_m"] = -5
    alone = client.post("/v1/split", json=job).get_json(force=True)
    content = client.post(PATH, json={"jobs": [{}, job]}).get_json()
    assert content["answers"][1]["problem"] == alone
    assert alone["errors"][0]["pointer"] == "/array/branches/1/loop/legs/0/straight/length_m"
    assert alone["errors"][0]["value"] == -5


def test_a_fault_of_the_service_in_one_leaves_the_others(
    monkeypatch: pytest.MonkeyPatch, client: FlaskClient, job: Json
) -> None:
    from hydraulics.split.flow_split import flow_split as solve

    monkeypatch.setattr(
        "hydraulics.job.flow_split",
        lambda circuit, *a, **k: solve(circuit, *a, **k) if circuit.name else 1 / 0,
    )
    named = copy.deepcopy(job)
    named["array"]["name"] = "North"
    content = client.post(PATH, json={"jobs": [named, job]}).get_json()
    assert [each["status"] for each in content["answers"]] == [200, 500]
    assert "ZeroDivision" not in str(content["answers"][1])
    assert content["answers"][1]["problem"]["instance"].startswith("urn:uuid:")


@pytest.mark.parametrize("body", [{"jobs": []}, {"jobs": 3}, {}, {"jobs": [], "x": 1}])
def test_a_batch_that_is_none_is_refused_as_a_whole(client: FlaskClient, body: Json) -> None:
    answer = client.post(PATH, json=body)
    assert answer.status_code == 422
    assert "/jobs" in errors_of(answer)


def test_what_is_no_batch_and_what_is_one_elsewhere_is_told_what_to_post(
    client: FlaskClient, job: Json
) -> None:
    batch = {"jobs": [job, job]}
    whole, one = client.post(PATH, json=batch).get_json(), client.post("/v1/split", json=job)
    for path, body, told in (
        (PATH, whole, "post one of those jobs"),
        ("/v1/designs", whole, "post one of those jobs"),
        ("/v1/split", whole["answers"][0], "This is what came of one of many jobs: post that job."),
        ("/v1/split", batch, "post it to /v1/splits, or one of its jobs by itself"),
        (PATH, job, 'post {"jobs": [it]}'),
        (PATH, one.get_json(), "This is an answer, not a job"),
    ):
        ((pointer, error),) = errors_of(client.post(path, json=body)).items()
        assert pointer == ""
        assert told in error["detail"]


def test_the_number_of_jobs_is_limited_by_its_setting(job: Json) -> None:
    client = create_app(Settings(max_batch=2)).test_client()
    assert client.post(PATH, json={"jobs": [job] * 2}).status_code == 207
    answer = client.post(PATH, json={"jobs": [job] * 3})
    assert answer.status_code == 422
    assert errors_of(answer)["/jobs"]["allowed"] == "2 jobs or fewer"


def test_the_loops_of_all_arrays_together_are_limited(job: Json) -> None:
    client = create_app(Settings(max_loops=5)).test_client()
    assert client.post(PATH, json={"jobs": [job] * 2}).status_code == 207
    answer = client.post(PATH, json={"jobs": [job] * 3})
    assert answer.status_code == 422
    assert errors_of(answer)["/jobs"]["allowed"] == "5 loops or fewer"


@pytest.mark.usefixtures("still_minute")
def test_each_array_of_a_batch_counts_against_the_rate(job: Json) -> None:
    client = create_app(Settings(rate_per_minute=4, cache_bytes=0)).test_client()
    assert client.post(PATH, json={"jobs": [job] * 3}).status_code == 207
    assert client.post("/v1/split", json=job).status_code == 200
    assert client.post("/v1/split", json=job).status_code == 429


def test_a_refused_job_with_a_number_of_more_than_64_bits_leaves_the_others(
    client: FlaskClient, job: Json
) -> None:
    answer = client.post("/v1/splits", json={"jobs": [{"format": 10**25}, job]})
    assert answer.status_code == 207
    assert [each["status"] for each in answer.get_json()["answers"]] == [422, 200]
    # RFC 8785 writes 10**25 as ECMAScript does, 1e+25; Python's own writer does so for a float.
    text = json.dumps({"jobs": [{"format": 1e25}, job]}, separators=(",", ":"), sort_keys=True)
    assert answer.headers["Evenloop-Body-SHA256"] == hashlib.sha256(text.encode()).hexdigest()
