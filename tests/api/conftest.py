"""What every test of the service needs: a client, the smallest array, the contract."""

import copy
import json
import time
from collections.abc import Callable
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.settings import Settings

Json = dict[str, Any]

SMALLEST: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"},
    "duty": {"flow_l_s": 0.4, "to_ground_c": -1, "from_ground_c": 2},
    "array": {
        "arrangement": "manifold",
        "branches": [
            {
                "loop": {
                    "name": "A",
                    "pipe": "PE100 SDR11 32",
                    "legs": [{"straight": {"length_m": 200}}],
                }
            },
            {
                "loop": {
                    "name": "B",
                    "pipe": "PE100 SDR11 32",
                    "legs": [{"straight": {"length_m": 190}}],
                }
            },
        ],
    },
}


@cache
def shared_app() -> Flask:
    """One application for all: making it costs more than most requests.

    It keeps no answers, and has time enough however slow the machine is.
    """
    return create_app(Settings(cache_bytes=0, max_seconds=600))


@pytest.fixture
def client() -> FlaskClient:
    return shared_app().test_client()


@pytest.fixture
def job() -> Json:
    return copy.deepcopy(SMALLEST)


Solve = Callable[[Any], TestResponse]


@pytest.fixture
def solve(client: FlaskClient) -> Solve:
    def post(body: Any) -> TestResponse:
        return client.post("/v1/split", json=body)

    return post


@pytest.fixture(scope="session")
def contract() -> Json:
    file = Path(__file__).parents[2] / "openapi" / "evenloop.json"
    found: Json = json.loads(file.read_text("utf-8"))
    return found


def answered(path: str, body: Any) -> Json:
    """Answer of a request that is not refused, computed once for the tests that ask the same."""
    content: Json = json.loads(_answered(path, json.dumps(body)))
    return content


@lru_cache(maxsize=100)
def _answered(path: str, body: str) -> bytes:
    answer = shared_app().test_client().post(path, data=body, content_type="application/json")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    data: bytes = answer.data
    return data


def errors_of(answer: TestResponse) -> dict[str, Json]:
    """Errors of a problem by their pointer."""
    content = answer.get_json(force=True)
    return {error["pointer"]: error for error in content["errors"]}


@pytest.fixture
def still_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    """No minute ends while calls are counted against a rate, which a new minute would free."""
    now = time.time() // 60.0 * 60.0 + 30.0
    monkeypatch.setattr(time, "time", lambda: now)
