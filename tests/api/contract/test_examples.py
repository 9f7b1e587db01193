"""The examples over HTTP."""

from __future__ import annotations

import json

from api import create_app
from api.resources.examples import examples


def test_every_example_in_the_list_can_be_fetched_and_solved() -> None:
    client = create_app().test_client()
    listed = json.loads(client.get("/v1/examples").data)["examples"]
    assert len(listed) == len(examples()) > 0
    for each in listed:
        body = client.get(each["href"])
        assert body.status_code == 200
        assert json.loads(body.data)["name"] == each["title"]
        assert "invented" in each["title"]
        assert client.post("/v1/flow-split", json=json.loads(body.data)).status_code == 200


def test_an_unknown_example_is_a_problem_that_says_where_the_list_is() -> None:
    response = create_app().test_client().get("/v1/examples/nowhere")
    assert response.status_code == 404
    assert response.mimetype == "application/problem+json"
    assert "/v1/examples" in json.loads(response.data)["detail"]
