"""No body costs much: what cannot be a job is refused in time and memory as its length."""

import copy
import json
import time
import tracemalloc

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.contract.examples import examples_in_repository
from api.refusals import Json, RefusedError
from api.requests.job import job_from
from api.settings import Settings
from tests.load.worst_bodies import ADDRESSES, MOST, SPOILT, cost, heavy, repeated


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app(Settings()).test_client()


@pytest.mark.parametrize("name", SPOILT)
def test_what_is_no_job_is_refused_within_5_s_and_a_short_answer(
    client: FlaskClient, name: str
) -> None:
    body = SPOILT[name]()
    assert 0.5 * MOST < len(body) < 4_194_304
    began = time.process_time()
    answer = client.post("/v1/split", data=body, content_type="application/json")
    assert time.process_time() - began < 5.0  # quadratic ones took 20 to 68 s
    assert answer.status_code in (400, 422)
    assert len(answer.data) < 60_000


def test_a_million_of_what_is_no_number_take_no_memory_each(client: FlaskClient) -> None:
    body = SPOILT["NaN"]()[:400_000] + b"1]"
    tracemalloc.start()
    client.post("/v1/split", data=body, content_type="application/json")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 20 * len(body)  # 0.5 GB for 4 MB before, 125 times


def test_names_that_there_are_not_take_no_message_each() -> None:
    document: Json = {f"{n:x}": 1 for n in range(33_000)}
    with pytest.raises(RefusedError):
        job_from({}, "split", 4_000)  # loads what is late
    tracemalloc.start()
    with pytest.raises(RefusedError) as refused:
        job_from(document, "split", 4_000)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(refused.value.refusals) == 33_003  # three parts lack
    assert peak < 10 * len(json.dumps(document))  # 2.3 times; 63 when each had its own message


def test_a_name_of_any_length_is_told_shortened_and_the_pointer_leads_to_what_has_it(
    client: FlaskClient,
) -> None:
    for body in (
        {"plant": {"heat_exchanger": [{"k" * 4_000: 1}]}},
        b'{"plant": {"heat_exchanger": [{"%s": 1, "%s": 2}]}}' % (b"k" * 4_000, b"k" * 4_000),
    ):
        sent = body if isinstance(body, bytes) else json.dumps(body).encode()
        answer = client.post("/v1/split", data=sent, content_type="application/json")
        (error,) = [each for each in answer.get_json()["errors"] if "kkkk" in each["detail"]]
        assert error["pointer"] == "/plant/heat_exchanger/0"
        assert "k" * 79 + "…" in error["detail"]  # as values are, at 80 characters
        assert "k" * 81 not in answer.get_data(as_text=True)


# Reports draw every loop up to a number that the settings bound; they are measured by hand. A file
# of a plot holds no loops; its worst are in tests/api/resources/test_plot_file.py.
@pytest.mark.parametrize(
    "path", [each for each in ADDRESSES if "report." not in each and each != "/v1/plot-file"]
)
def test_hundreds_of_unlike_loops_cost_little_on_every_address(
    client: FlaskClient, path: str
) -> None:
    body = heavy(400)
    client.post(path, data=heavy(2), content_type="application/json")
    began = time.process_time()
    answer = client.post(path, data=body, content_type="application/json")
    # A tenth of what the service takes: so a tenth of its limit, and its share of what is fixed.
    assert time.process_time() - began < 5.0 / 10 + 1.5
    other = path == "/v1/fluid-properties" or path.startswith("/v1/setting-out")  # no such job
    assert answer.status_code == (422 if other else 200), answer.get_data(as_text=True)[:500]
    assert len(answer.data) < 10 * len(body) + 200_000


@pytest.mark.parametrize(("legs", "fittings"), [(1_000, 0), (1, 1_000), (30, 30)])
def test_copies_of_what_is_long_are_counted_each(
    client: FlaskClient, legs: int, fittings: int
) -> None:
    # 94 kB that became 56 MB and took 0.9 GB: what each copy's loop is made of is written out.
    body = repeated(legs, fittings, 1_900)
    answer = client.post("/v1/balancing", data=body, content_type="application/json")
    assert answer.status_code == 422
    (error,) = json.loads(answer.data)["errors"]
    assert error["pointer"] == "/array"
    parts = 2 * 1_900 * legs * (1 + fittings)
    assert f"{parts:,} legs, runs and fittings" in error["detail"]
    assert error["allowed"] == "60,000 legs, runs and fittings or fewer"


def test_the_most_that_copies_may_be_costs_seconds_where_each_is_written_out() -> None:
    # In a process of its own, whose memory tells; a tenth of what the service takes.
    seen = cost("/v1/balancing", repeated(10, 1, 200))
    assert seen["status"] == 200
    assert seen["cpu_s"] < 5.0 / 10 + 1.5


def test_names_of_circuits_do_not_multiply_an_answer(client: FlaskClient) -> None:
    # 3 kB that became 22.8 MB: the names of 18 circuits before each of 9,000 loops.
    item = {"name": "A", "pipe": "PE100 SDR11 32", "legs": [{"straight": {"length_m": 200}}]}
    array = {"arrangement": "manifold", "branches": [{"loop": item, "count": 3_900}]}
    for _ in range(18):
        array = {"arrangement": "manifold", "branches": [{"circuit": {**array, "name": "n" * 80}}]}
    job = {
        "antifreeze": {"kind": "water"},
        "duty": {"flow_l_s": 900, "to_ground_c": 5, "from_ground_c": 8},
        "array": array,
    }
    answer = client.post("/v1/split", json=job)
    assert answer.status_code == 422
    assert "250 characters or fewer" in answer.get_data(as_text=True)


@pytest.mark.parametrize("kind", ["slinky", "trench"])
def test_a_thousand_trenches_are_sized_in_seconds(client: FlaskClient, kind: str) -> None:
    # 1 kB that took 15 s: each of 1,000 rows was felt anew, however far off, for each length tried.
    examples = {each.name: each.job for each in examples_in_repository()}
    job = copy.deepcopy(examples["quince-barn-from-load"])
    job["heat"]["output_kw"] = 2_000
    job["limits"]["years"] = 100
    job["sizing"]["loop_count"] = 1_000
    job["plot"] = {"spacing_m": 5, "area_m2": 1e8}
    job.pop("setting_out", None)
    pipe = "PE100 SDR11 40"
    job["sizing"]["array_kind"] = {
        "slinky": {"slinky": {"pipe": pipe, "depth_m": 2, "coil_diameter_m": 1, "pitch_m": 0.1}},
        "trench": {"trench": {"pipe": pipe, "depth_m": 2, "passes": 12, "spacing_m": 0.05}},
    }[kind]
    began = time.process_time()
    answer = client.post("/v1/sizing", json=job)
    assert answer.status_code == 200, answer.get_data(as_text=True)[:500]
    assert time.process_time() - began < 8.0
