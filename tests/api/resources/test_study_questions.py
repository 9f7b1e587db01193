"""What is asked of a study's rows: the best case, the front, what results depend on."""

from __future__ import annotations

import copy
import json
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from flask.testing import FlaskClient
from scipy.stats import spearmanr

from api import create_app
from api.refusals import value_at
from api.settings import Settings
from api.studies.plan import parts_of
from api.studies.runner import run
from tests.api.conftest import SMALLEST, Json, answered, errors_of
from tests.api.contract.test_document import headers_that_break, validator
from tests.api.resources.test_studies import NONE, begun, kept
from tests.api.studies.test_plan import LENGTH, STRENGTH, study

PIPES = ["/array/branches/0/loop/pipe", "/array/branches/1/loop/pipe"]
HEAD, REYNOLDS, EVEN = "/pump/head_kpa", "/loops/0/reynolds", "/imbalance/within_tolerance"
STRENGTHS, LENGTHS, SIZES = [20, 25, 30], [150, 190, 230], ["PE100 SDR11 32", "PE100 SDR11 40"]


@pytest.fixture
def client(tmp_path: Path) -> FlaskClient:
    return create_app(Settings(studies_folder=str(tmp_path))).test_client()


def finished(client: FlaskClient, body: Any) -> str:
    where = begun(client, body)
    run(client.application.config["EVENLOOP"], idle=0.0)
    assert client.get(where).get_json()["state"] == "finished"
    return where


def alternatives() -> Json:
    return study(
        {"paired": {"at": PIPES, "values": [[size, size] for size in SIZES]}},
        {"listed": {"at": STRENGTH, "values": STRENGTHS}},
        {"listed": {"at": LENGTH, "values": LENGTHS}},
        results=[HEAD, REYNOLDS, EVEN],
    )


def one_by_one() -> list[tuple[float, float, bool]]:
    """The same alternatives, each asked of the split's own address."""
    found = []
    for size, strength, length in product(SIZES, STRENGTHS, LENGTHS):
        job = copy.deepcopy(SMALLEST)
        for branch in job["array"]["branches"]:
            branch["loop"]["pipe"] = size
        job["antifreeze"]["concentration_percent"] = strength
        job["array"]["branches"][0]["loop"]["legs"][0]["straight"]["length_m"] = length
        answer = answered("/v1/split", job)
        found.append(tuple(value_at(answer, parts_of(at)) for at in (HEAD, REYNOLDS, EVEN)))
    return found


def test_the_best_is_what_trying_all_alternatives_finds_and_limits_cost_what_they_cost(
    client: FlaskClient, contract: Json
) -> None:
    every = one_by_one()
    where = finished(client, alternatives())
    limits = [{"at": REYNOLDS, "min": 1_500}, {"at": EVEN, "value": True}]

    def ask(goal: Json) -> Json:
        body = {"goals": [goal], "limits": limits, "most": 5}
        validator(contract, "Best").validate(body)
        answer = client.post(f"{where}/best", json=body)
        found: Json = kept(contract, "/v1/studies/{study}/best", "post", answer)
        return found

    # A price of 2 a kPa, and 0.01 for each unit of the Reynolds number, both invented.
    costs = [2.0 * head + 0.01 * reynolds for head, reynolds, _ in every]
    able = [reynolds >= 1_500 and even for _, reynolds, even in every]
    best = sorted((c, n) for n, c in enumerate(costs) if able[n])
    found = ask({"sum": [{"at": HEAD, "times": 2}, {"at": REYNOLDS, "times": 0.01}]})
    assert 2 < len(best) < 18
    assert [row["case"] - 1 for row in found["rows"]] == [n for _, n in best[:5]]
    assert found["rows"][0]["goals"] == [pytest.approx(best[0][0], rel=1e-5)]
    assert (found["eligible"], found["done"], found["proven"]) == (len(best), 18, True)
    turbulent = [each["kept_by"] for each in found["limits"]]
    assert turbulent == [sum(r >= 1_500 for _, r, _ in every), sum(e for *_, e in every)]
    without = [
        min(c for n, c in enumerate(costs) if every[n][2]),
        min(c for n, c in enumerate(costs) if every[n][1] >= 1_500),
    ]
    for told, other in zip(found["limits"], without, strict=True):
        assert told["costs"] == pytest.approx(best[0][0] - other, rel=1e-4, abs=1e-4)
    most = ask({"sum": [{"at": HEAD}], "towards": "max"})
    heads = [head for n, (head, *_) in enumerate(every) if able[n]]
    assert most["rows"][0]["goals"][0] == max(heads)


def test_a_case_that_tells_an_error_is_none_of_the_best_unless_allowed(
    client: FlaskClient,
) -> None:
    # Centres of 0.5 m take least land, and their trenches run into one another.
    job = json.loads(Path("openapi/examples/quince-barn-short-tail.json").read_text("utf-8"))
    area = "/land/area_m2"
    axis = {"listed": {"at": "/plot/spacing_m", "values": [0.5, 1.3, 5]}}
    body = {"calculation": "groundworks", "job": job, "results": [area], "variations": [axis]}
    where = finished(client, body)
    told = client.get(f"{where}/results").get_json()["rows"]
    job["plot"]["spacing_m"] = 0.5
    alone = [each["severity"] for each in answered("/v1/groundworks", job)["findings"]]
    counted = {"errors": alone.count("error"), "warnings": alone.count("warning")}
    assert counted["errors"] == 1
    assert {name: told[0][name] for name in counted} == counted
    asked: Json = {"goals": [{"sum": [{"at": area}]}]}
    found = client.post(f"{where}/best", json=asked).get_json()
    assert ([row["case"] for row in found["rows"]], found["eligible"]) == ([2, 3], 2)
    found = client.post(f"{where}/best", json=asked | {"errors_allowed": True}).get_json()
    assert [row["case"] for row in found["rows"]] == [1, 2, 3]


def test_the_front_is_of_those_that_no_other_betters(client: FlaskClient, contract: Json) -> None:
    every = one_by_one()
    where = finished(client, alternatives())
    goals = [{"sum": [{"at": HEAD}]}, {"sum": [{"at": REYNOLDS}], "towards": "max"}]
    answer = client.post(f"{where}/best", json={"goals": goals})
    found = kept(contract, "/v1/studies/{study}/best", "post", answer)
    on = [
        n + 1
        for n, (head, reynolds, _) in enumerate(every)
        if not any((h <= head and r >= reynolds) and (h, r) != (head, reynolds)
                   for h, r, _ in every)
    ]  # fmt: skip
    assert sorted(row["case"] for row in found["rows"]) == on
    heads = [row["goals"][0] for row in found["rows"]]
    assert heads == sorted(heads)
    assert found["found"] == len(on)
    drawn = client.post(f"{where}/front.svg", json={"goals": goals})
    said = contract["paths"]["/v1/studies/{study}/front.svg"]["post"]
    assert headers_that_break(contract, said, drawn) == []
    assert f"{len(on)} of 18 cases are bettered by no other" in drawn.headers["Content-Description"]
    assert drawn.data.startswith(b"<?xml")
    one = client.post(f"{where}/front.svg", json={"goals": goals[:1]})
    assert "/goals" in errors_of(one)


def test_what_results_depend_on_is_told_by_ranks_and_by_indices(
    client: FlaskClient, contract: Json
) -> None:
    places = [{"at": LENGTH, "min": 150, "max": 250}, {"at": STRENGTH, "min": 15, "max": 35}]
    sampled = {"method": "sensitivity", "points": 32, "seed": 1, "places": places}
    where = finished(client, study({"sampled": sampled}, results=[HEAD, EVEN]))
    answer = client.post(f"{where}/sensitivity", json={"results": [HEAD]})
    (told,) = kept(contract, "/v1/studies/{study}/sensitivity", "post", answer)["results"]
    rows = client.get(f"{where}/results?most=1000").get_json()["rows"]
    assert (told["cases"], len(rows)) == (128, 128)
    heads = [row["results"][HEAD] for row in rows]
    for each in told["quantities"]:
        given = [row["varied"][each["at"]] for row in rows]
        assert each["rank_correlation"] == pytest.approx(
            spearmanr(given, heads).statistic, rel=1e-5
        )
        # Both raise the head, hardly with each other: shares that add up to about one.
        assert each["total"] > 0.05
    assert sum(each["total"] for each in told["quantities"]) == pytest.approx(1.0, abs=0.2)
    drawn = client.post(f"{where}/sensitivity.svg", json={"results": [HEAD]})
    assert "total Sobol index" in drawn.headers["Content-Description"]


def test_indices_are_told_to_be_lacking_where_they_do_not_follow(client: FlaskClient) -> None:
    where = finished(client, alternatives())
    body = {"results": [HEAD]}
    (told,) = client.post(f"{where}/sensitivity", json=body).get_json()["results"]
    assert "one sample by the method sensitivity" in told["without_indices"]
    pipe, _, strength, _ = told["quantities"]
    assert set(pipe) == {"at"}  # words have no rank
    assert strength["rank_correlation"] > 0.0
    drawn = client.post(f"{where}/sensitivity.svg", json=body)
    assert "rank correlation" in drawn.headers["Content-Description"]


def test_a_study_that_runs_proves_nothing_yet(client: FlaskClient) -> None:
    where = begun(client, alternatives())
    found = client.post(f"{where}/best", json={"goals": [{"sum": [{"at": HEAD}]}]}).get_json()
    assert (found["rows"], found["done"], found["proven"]) == ([], 0, False)
    assert "Only the cases that are done" in found["method"]
    drawn = client.post(f"{where}/front.svg", json={"goals": [{"sum": [{"at": HEAD}]}] * 2})
    assert "no case has both results" in drawn.headers["Content-Description"]


@pytest.mark.parametrize(
    ("body", "place", "says"),
    [
        ({"goals": []}, "/goals", "0 items"),
        ({"goals": [{"sum": [{"at": "/pump/flow_l_s"}]}]}, "/goals/0/sum/0/at", "none of the"),
        ({"goals": [{"sum": [{"at": EVEN}]}]}, "/goals/0/sum/0/at", "no number"),
        ({"goals": [{"sum": [{"at": HEAD}]}], "limits": [{"at": HEAD}]}, "/limits/0", "Give min"),
        ({"goals": [{"sum": [{"at": HEAD}]}], "limits": [{"at": EVEN, "min": 1}]},
         "/limits/0/at", "no number"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused_at_its_place(
    client: FlaskClient, body: Json, place: str, says: str
) -> None:
    where = begun(client, alternatives())
    answer = client.post(f"{where}/best", json=body)
    assert answer.status_code == 422
    assert says in errors_of(answer)[place]["detail"]


def test_a_question_about_no_study_is_told_so(client: FlaskClient) -> None:
    body = {"goals": [{"sum": [{"at": HEAD}]}]}
    assert client.post(f"{NONE}/best", json=body).status_code == 404


def test_bars_and_points_are_drawn_as_many_as_there_are() -> None:
    from api.drawings.study import Axis, front_figure, influence_figure

    costs = np.random.default_rng(1).random((2, 50))
    on = np.zeros(50, dtype=bool)
    on[[3, 9]] = True
    figure = front_figure(Axis("a", "min"), Axis("b", "max"), costs, on, title="x")
    others, front = figure.axes[0].lines
    assert len(np.asarray(others.get_xdata())) == 48
    assert sorted(np.asarray(front.get_ydata()).tolist()) == sorted((-costs[1, on]).tolist())
    quantities = [{"at": "/a", "rank_correlation": -0.5}, {"at": "/b", "rank_correlation": 0.7}]
    figure = influence_figure([{"at": "/r", "cases": 9, "quantities": quantities}])
    widths = [bar.get_width() for bar in figure.axes[0].patches]  # type: ignore[attr-defined]
    assert widths == [0.7, -0.5]
