"""The examples over HTTP."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from api.command.write_contract import compute_answers
from api.contract.examples import Example, examples_in_repository
from tests.api.conftest import Json
from tests.leaves import differences

EXAMPLES = examples_in_repository()


def test_every_example_in_the_list_can_be_fetched_and_is_the_file(client: FlaskClient) -> None:
    listed = client.get("/v1/examples").get_json()["examples"]
    assert [each["name"] for each in listed] == [each.name for each in EXAMPLES]
    for each, example in zip(listed, EXAMPLES, strict=True):
        assert client.get(each["href"]).get_json() == example.job
        assert each["title"] == example.job["name"]
        assert "(invented)" in each["title"]
        assert each["calculations"] == [f"/v1/{name}" for name in example.calculations]


def test_an_unknown_example_is_a_problem_that_says_where_the_list_is(client: FlaskClient) -> None:
    response = client.get("/v1/examples/nowhere")
    assert response.status_code == 404
    assert response.mimetype == "application/problem+json"
    assert "/v1/examples" in json.loads(response.data)["detail"]


def test_the_kept_answers_are_what_the_service_answers() -> None:
    kept = set()
    for example, calculation, answer in compute_answers():
        was = example.answer(calculation)
        assert was is not None, f"{example.name}: call python -m api.command.write_contract"
        for residual in (was, answer):
            _without_residuals(residual)
        found = list(differences(was, answer))
        assert not found, (example.name, calculation, found[:5])
        kept.add((calculation, example.name))
    folder = Path(__file__).parents[3] / "openapi" / "examples" / "responses"
    assert {(f.parent.name, f.stem) for f in folder.glob("*/*.json")} == kept


def _without_residuals(answer: Json) -> None:
    """Take out rounding noise, which no two processors share."""
    answer.pop("residuals", None)
    for part in answer.values():
        if isinstance(part, dict):
            _without_residuals(part)
        elif isinstance(part, list):
            for item in part:
                if isinstance(item, dict):
                    _without_residuals(item)


WHOLE = [each for each in EXAMPLES if {"array", "plant"} <= each.job.keys()]


@pytest.mark.parametrize("example", WHOLE, ids=lambda example: example.name)
def test_an_example_is_a_realistic_invented_array(client: FlaskClient, example: Example) -> None:
    content = client.post("/v1/split", json=example.job).get_json()
    # What one circulator of a domestic or small commercial heat pump meets: common practice.
    assert 20 <= content["pump"]["head_kpa"] <= 80
    assert all(0.15 <= loop["velocity_m_s"] <= 1.0 for loop in content["loops"])
    cold = content["fluid"]["to_ground"]
    assert cold["temperature_c"] - cold["freezing_point_c"] > 3
    assert all(finding["severity"] != "error" for finding in content["findings"])


def test_the_examples_have_every_arrangement_leg_and_duty_and_every_chapter() -> None:
    text = json.dumps([each.job for each in EXAMPLES])
    for word in ("manifold", "direct_return", "reverse_return", "slinky", "trench", "pond_mat",
                 "borehole", "circuit", "heat_kw", "pump_curve", "flow_l_s"):  # fmt: skip
        assert f'"{word}"' in text, word
    asked = {name for each in EXAMPLES for name in each.calculations}
    assert asked == {"sizing", "setting-out", "split", "balancing", "pump-choice", "groundworks",
                     "commissioning", "designs", "report"}  # fmt: skip
