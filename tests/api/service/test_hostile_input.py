"""Whatever is done to a good request, the service answers, and as its contract says."""

import copy
import json
import random
from typing import Any

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.contract.examples import FOLDER
from api.schemas import fields
from api.service.problems import MOST_SHOWN
from api.settings import Settings
from tests.api.conftest import Json
from tests.api.contract.test_document import validator
from tests.api.resources.test_split import RICH

ODD: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 0.5, 5e-324, 1e-300, 1e-12, 1e-6, 1e300, 10_000, 1_000_000, 25,
    100, 150, -100, "", "x", "PE100 SDR11 32", "water", "methanol", "manifold", "direct_return",
    "reverse_return", "volume", [], {}, [1], {"a": 1}, "\u202e",
    [{"straight": {"length_m": 1e-12}}],
    [{"kind": "elbow_90"}], {"straight": {"length_m": 3}},
    {"name": "own", "bore_mm": 0.1, "outside_diameter_mm": 2},
    {"name": "own", "bore_mm": 900, "outside_diameter_mm": 1_000},
)  # fmt: skip
Place = tuple[str | int, ...]


def places(value: Any, here: Place = ()) -> list[Place]:
    found = [here] if here else []
    if isinstance(value, dict):
        for key, item in value.items():
            found += places(item, (*here, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            found += places(item, (*here, index))
    return found


FIELDS = sorted({part for place in places(RICH) for part in place if isinstance(part, str)})


def spoilt(chance: random.Random) -> Json:
    """Copy of a good request with one to three things changed, taken out or put in."""
    request = copy.deepcopy(RICH)
    for _ in range(chance.choice((1, 1, 2, 3))):
        *parts, last = chance.choice(places(request))
        target: Any = request
        for part in parts:
            target = target[part]
        act = chance.random()
        if act < 0.6:
            size = 10 ** chance.uniform(-12, 6)
            target[last] = copy.deepcopy(chance.choice((*ODD, size, chance.randint(-3, 300))))
        elif act < 0.75:
            del target[last]
        elif isinstance(target, dict):
            target[chance.choice(FIELDS)] = copy.deepcopy(chance.choice(ODD))
        else:
            target.insert(0, copy.deepcopy(chance.choice(target)))
    return request


@pytest.mark.parametrize("seed", range(8))
def test_a_spoilt_request_is_answered_or_refused_as_the_contract_says(
    client: FlaskClient, contract: Json, seed: int
) -> None:
    def keeps(schema: str, content: Any) -> bool:
        return validator(contract, schema).is_valid(content)

    chance = random.Random(seed)
    for number in range(50):
        request = spoilt(chance)
        answer = client.post("/v1/split", json=request)
        told = f"seed {seed}, number {number}: {json.dumps(request)[:2000]}"
        content = answer.get_json(force=True)
        if answer.status_code == 200:
            assert keeps("Job", request), told
            assert keeps("SplitAnswer", content), told
        else:
            assert answer.status_code == 422, told
            assert keeps("Problem", content), told
            assert content["errors"], told
        if not keeps("Job", request):
            assert answer.status_code == 422, told


def numbers(value: Any) -> list[Place]:
    found = []
    for place in places(value):
        item = value
        for part in place:
            item = item[part]
        if isinstance(item, int | float) and not isinstance(item, bool):
            found.append(place)
    return found


@pytest.mark.parametrize("size", [5e-324, 1e-300, 1e-9, 1e-3, 100, 1e5])
def test_no_size_of_any_number_breaks_the_service(client: FlaskClient, size: float) -> None:
    for place in numbers(RICH):
        request = copy.deepcopy(RICH)
        target: Any = request
        for part in place[:-1]:
            target = target[part]
        target[place[-1]] = size
        answer = client.post("/v1/split", json=request)
        assert answer.status_code in {200, 422}, (place, answer.get_data(as_text=True))


def test_thousands_of_readings_of_unknown_loops_are_refused_within_the_time_limit() -> None:
    file = FOLDER / "examples" / "quince-barn-equal-slinkies.json"
    request = json.loads(file.read_text("utf-8"))
    # 50 million comparisons, had each fault been compared with all before it.
    request["commissioning"]["flow_meters"]["readings"] = [
        {"loop": "none", "flow_l_min": 1.0}
    ] * 10_000
    answer = create_app(Settings(max_seconds=10)).test_client().post(
        "/v1/commissioning", json=request
    )  # fmt: skip
    assert answer.status_code == 422
    assert answer.get_json(force=True)["detail"].startswith("10000 faults")


def test_names_are_suggested_for_no_more_faults_than_are_listed(
    client: FlaskClient, job: Json, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def nearest(word: str, _: object) -> str:
        asked.append(word)
        return ""

    monkeypatch.setattr(fields, "nearest", nearest)
    job |= {f"antifreez_{number}": 10 for number in range(500)}
    answer = client.post("/v1/split", json=job)
    assert answer.status_code == 422
    assert len(answer.get_json(force=True)["errors"]) == MOST_SHOWN
    assert len(asked) == MOST_SHOWN
