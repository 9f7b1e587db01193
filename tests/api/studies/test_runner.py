"""Studies end whole and alike, whatever is killed meanwhile."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from api.refusals import MISSING, value_at
from api.settings import Settings
from api.studies import launch
from api.studies.engines import EngineLostError, Here, Part, engine_of
from api.studies.plan import parts_of, path_of, result_field
from api.studies.rows import Computed, computed, plan_of_text
from api.studies.runner import run, run_study
from api.studies.store import HoldLostError, Store, Study
from tests.api.conftest import SMALLEST, answered
from tests.api.studies.test_plan import LENGTH, STRENGTH, study

WRONG = 99  # per cent, which no correlation reaches


def of_cases(count: int) -> dict[str, Any]:
    return study(
        {"range": {"at": LENGTH, "min": 100, "max": 200, "count": count // 2}},
        {"listed": {"at": STRENGTH, "values": [25, WRONG]}},
        results=["/pump/head_kpa", "/loops/0/regime", "/loops/5/flow_l_s"],
    )


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(studies_folder=str(tmp_path / "studies"))


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    made = Store(settings)
    yield made
    made.close()


def accepted(store: Store, body: Any) -> Study:
    text = json.dumps(body).encode()
    cases = 1
    for each in body["variations"]:
        ((_, of),) = each.items()
        cases *= of.get("count") or len(of["values"])
    return store.accept("", None, "", text, "", body["calculation"], cases)


def again(store: Store, study: Study) -> Study:
    found = store.find("", study.id)
    assert found is not None
    return found


def undisturbed(body: Any, cases: int) -> list[tuple[int, int, bytes]]:
    rows = computed(json.dumps(body).encode(), 0, cases, Settings()).rows
    return [(case, status, cells) for case, (status, cells) in enumerate(rows)]


def test_what_cases_share_is_read_once_and_each_is_answered_as_alone(client: FlaskClient) -> None:
    job = json.loads(Path("openapi/examples/quince-barn-short-tail.json").read_text("utf-8"))
    job["pipes"] = [{"name": "own", "bore_mm": 30, "outside_diameter_mm": 36}]
    loop = "/array/branches/1/loop"
    places = [
        {"at": f"{loop}/legs/0/straight/length_m", "min": -2, "max": 40},
        {"at": f"{loop}/pipe", "values": ["PE100 SDR11 32", "own", "of nobody"]},
        {"at": "/antifreeze/concentration_percent", "values": [5, 25, 35]},
        {"at": "/pipes/0/bore_mm", "values": [26, 30]},
    ]
    results = [
        "/pump/head_kpa", "/pump/head_high_kpa", "/loops/1/regime", "/imbalance/causes/0",
        "/imbalance/remedies/0", "/system_curve/0/head_kpa", "/fluid/in_loops/prandtl",
    ]  # fmt: skip
    sampled = {"method": "latin_hypercube", "points": 40, "seed": 2, "places": places}
    body = {"calculation": "split", "job": job, "results": results,
            "variations": [{"sampled": sampled}]}  # fmt: skip
    text = json.dumps(body).encode()
    jobs = list(plan_of_text(text).jobs(range(40)))
    good = 0
    for own, (status, cells) in zip(jobs, computed(text, 0, 40, Settings()).rows, strict=True):
        answer = client.post("/v1/split", json=own)
        assert answer.status_code == status
        if status != 200:
            assert json.loads(cells)["detail"] == answer.get_json()["detail"]
            continue
        good += 1
        told = [value_at(answer.get_json(), parts_of(each)) for each in results]
        assert json.loads(cells)[: len(told)] == [
            None if each is MISSING else each for each in told
        ]
    assert 10 < good < 40


@pytest.mark.parametrize("calculation", ["split", "balancing", "groundworks"])
def test_a_case_has_the_results_that_its_own_address_answers(calculation: str) -> None:
    name = "quince-barn-short-tail"
    job = json.loads(Path(f"openapi/examples/{name}.json").read_text("utf-8"))
    place = "/array/branches/1/loop/legs/0/straight/length_m"
    pointed = {
        "split": ["/pump/head_kpa", "/loops/1/flow_l_s", "/imbalance/within_tolerance"],
        "balancing": ["/ways/0/verdict", "/ways/0/pump/head_kpa"],
        "groundworks": ["/dug_m3", "/land/area_m2"],
    }[calculation]
    pointed = [each for each in pointed if result_field(each, calculation) is not None]
    assert pointed
    body = {"calculation": calculation, "job": job, "results": pointed,
            "variations": [{"listed": {"at": place, "values": [5, 20]}}]}  # fmt: skip
    rows = computed(json.dumps(body).encode(), 0, 2, Settings()).rows
    for tail, (status, cells) in zip((5, 20), rows, strict=True):
        job["array"]["branches"][1]["loop"]["legs"][0]["straight"]["length_m"] = tail
        answer = answered(path_of(calculation), job)
        assert status == 200
        *told, errors, warnings = json.loads(cells)
        assert told == [value_at(answer, parts_of(each)) for each in pointed]
        severities = [each["severity"] for each in answer["findings"]]
        assert (errors, warnings) == (severities.count("error"), severities.count("warning"))


def test_a_study_runs_to_its_end_and_an_invalid_case_is_a_row_with_its_problem(
    settings: Settings, store: Store
) -> None:
    body = of_cases(40)
    found = accepted(store, body)
    run(settings, idle=0.0)
    found = again(store, found)
    assert (found.state, found.done, found.failed) == ("finished", 40, 20)
    rows = list(store.every_row(found))
    assert rows == undisturbed(body, 40)
    good, bad = json.loads(rows[0][2]), json.loads(rows[1][2])
    assert good[0] > 0
    assert good[2] is None  # there is no sixth loop
    assert bad["type"] == "/v1/problems/outside-range"
    assert bad["errors"][0]["pointer"] == STRENGTH


def test_what_a_killed_runner_left_is_done_by_the_next_and_no_case_counts_twice(
    settings: Settings, store: Store
) -> None:
    body = of_cases(2_400)
    found = accepted(store, body)
    environment = {
        **os.environ, "EVENLOOP_STUDIES_FOLDER": settings.studies_folder,
        "PYTHONPATH": os.pathsep.join(sys.path),
    }  # fmt: skip
    program = [sys.executable, "-m", "api.studies.runner", str(os.getpid())]
    with subprocess.Popen(program, env=environment) as runner:
        until = time.monotonic() + 300.0
        while again(store, found).done < 8 and time.monotonic() < until:
            time.sleep(0.02)
        runner.send_signal(signal.SIGKILL)
    left = again(store, found)
    assert left.state == "running"
    assert 8 <= left.done < 2_400
    assert sum(count for _, count in store.lacking(found)) == 2_400 - left.done
    run(settings, idle=0.0)
    found = again(store, found)
    assert (found.state, found.done, found.failed) == ("finished", 2_400, 1_200)
    rows = list(store.every_row(found))
    assert [case for case, *_ in rows] == list(range(2_400))
    sampled = [*range(20), *range(1_180, 1_200), *range(2_380, 2_400)]
    text = json.dumps(body).encode()
    assert [rows[case][1:] for case in sampled] == [
        row for first in (0, 1_180, 2_380) for row in computed(text, first, 20, settings).rows
    ]


@pytest.mark.parametrize("fault", [EngineLostError("gone"), ValueError("unforeseen")])
def test_a_runner_goes_on_where_its_engine_was_lost(
    settings: Settings, store: Store, monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    made: list[Here] = []

    class Lost(Here):
        def done(self, seconds: float) -> list[tuple[Part, Computed | None]]:
            if len(made) == 1 and again(store, found).done:
                raise fault
            return super().done(seconds)

    def engine(_: Settings) -> Here:
        made.append(Lost())
        return made[-1]

    monkeypatch.setattr("api.studies.runner.engine_of", engine)
    body = of_cases(60)
    found = accepted(store, body)
    run(settings, idle=0.0)
    assert len(made) == 2
    assert (again(store, found).state, again(store, found).done) == ("finished", 60)
    assert list(store.every_row(found)) == undisturbed(body, 60)


def test_however_many_studies_come_at_once_one_runner_begins_and_is_replaced_when_killed(
    settings: Settings, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVENLOOP_STUDIES_FOLDER", settings.studies_folder)
    monkeypatch.setattr(launch, "_PAUSE", 0.1)
    until = time.monotonic() + 300.0  # both begin within seconds where the machine is free
    begun: list[subprocess.Popen[bytes]] = []
    begin = launch.begin_runner

    def noted(settings: Settings) -> subprocess.Popen[bytes] | None:
        runner = begin(settings)
        begun.extend([] if runner is None else [runner])
        return runner

    monkeypatch.setattr(launch, "begin_runner", noted)
    found = []
    for cases in (2, 3, 4, 5):
        found.append(accepted(store, of_cases(cases)))
        launch.begin_runner(settings)
    (runner,) = begun
    try:
        while any(again(store, each).state != "finished" for each in found):
            assert time.monotonic() < until
            time.sleep(0.05)
        launch.begin_runner(settings)  # it waits for more, and holds the lock
        assert begun == [runner]
        runner.kill()
        late = accepted(store, of_cases(6))  # nothing begins a runner for it
        while again(store, late).state != "finished":
            assert time.monotonic() < until
            time.sleep(0.05)
        assert len(begun) == 2
    finally:
        monkeypatch.setattr(launch, "begin_runner", lambda _: None)
        for each in begun:
            each.kill()
            each.wait()


def test_gaps_are_what_lacks_a_row(store: Store) -> None:
    found = accepted(store, of_cases(40))
    row = (200, b"[1]")
    assert store.lacking(found) == [(0, 40)]
    taken = store.take("me", 9.0)
    assert taken is not None
    for first, count in ((3, 2), (10, 5), (38, 1)):
        store.keep(taken, "me", 9.0, 1.0, first, [row] * count)
    assert store.lacking(found) == [(0, 3), (5, 5), (15, 23), (39, 1)]
    with pytest.raises(HoldLostError):
        store.keep(taken, "me", 9.0, 1.0, 9, [row] * 2)  # the tenth has its row
    assert again(store, found).done == 8
    assert store.lacking(found) == [(0, 3), (5, 5), (15, 23), (39, 1)]


def test_one_runner_has_a_study_until_it_gives_no_sign_of_life(store: Store) -> None:
    found = accepted(store, of_cases(4))
    assert store.take("first", 0.05) == found
    assert store.take("second", 9.0) is None
    time.sleep(0.06)
    taken = store.take("second", 9.0)
    assert taken is not None
    with pytest.raises(HoldLostError):
        store.keep(taken, "first", 9.0, None, 0, [(200, b"[]")])
    assert again(store, found).done == 0


def test_a_study_that_is_cancelled_keeps_its_rows_and_takes_no_more(
    settings: Settings, store: Store
) -> None:
    found = accepted(store, of_cases(200))
    taken = store.take("me", 9.0)
    assert taken is not None
    engine = engine_of(settings)

    def told(_done: int, _failed: int) -> None:
        store.cancel(found)

    with pytest.raises(HoldLostError):
        run_study(store, taken, engine, "me", settings, told)
    engine.close()
    ended = again(store, found)
    assert ended.state == "cancelled"
    assert 0 < ended.done < 200
    assert store.take("me", 9.0) is None
    assert len(list(store.every_row(found))) == ended.done


def test_the_least_work_comes_first(store: Store) -> None:
    accepted(store, of_cases(40))
    small = accepted(store, of_cases(4))
    assert store.take("me", 9.0) == small


def test_the_tables_that_migrations_make_are_those_that_are_used(store: Store) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from api.studies.store import TABLES

    with store.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), TABLES) == []


def test_what_ended_long_ago_is_forgotten(settings: Settings, store: Store) -> None:
    found = accepted(store, of_cases(4))
    run(settings, idle=0.0)
    store.days = 1
    assert store.find("", found.id) is not None
    with store.engine.begin() as connection:
        from api.studies.store import STUDY

        connection.execute(STUDY.update().values(ended=time.time() - 86_401))
    assert store.find("", found.id) is None
    store.forget_old()
    store.days = 0
    assert store.find("", found.id) is None
    assert list(store.every_row(found)) == []


def test_a_service_without_studies_loads_nothing_for_them() -> None:
    script = (
        "import sys; from api import create_app; c = create_app().test_client(); "
        f"c.post('/v1/split', json={json.dumps(SMALLEST)!s}); "
        "assert not {'sqlalchemy', 'alembic', 'dask', 'distributed', 'pyarrow'} & set(sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
