"""A closed loop in every chapter: as an array without it, but laid, dug and filled."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from flask.testing import FlaskClient

from api import create_app
from api.contract.examples import examples_in_repository
from api.settings import Settings
from tests.api.jobs import Json

EXAMPLES = {each.name: each.job for each in examples_in_repository()}
WITH_WARM = "quince-barn-short-tail"


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return create_app(Settings()).test_client()


def loops(job: Json) -> list[Json]:
    return [each for each in job["array"]["branches"] if "loop" in each]


def variants(name: str) -> tuple[Json, Json, Json]:
    """The job with one loop more and that one open, closed, and not there at all."""
    gone = copy.deepcopy(EXAMPLES[name])
    gone.get("balancing", {}).pop("take", None)
    gone.get("commissioning", {}).pop("flow_meters", None)
    extra = copy.deepcopy(loops(gone)[0])
    extra["loop"]["name"] = "Spare"
    extra.pop("count", None)
    every = copy.deepcopy(gone)
    every["array"]["branches"].append(extra)
    closed = copy.deepcopy(every)
    closed["array"]["branches"][-1]["closed"] = True
    return every, closed, gone


def asked(client: FlaskClient, address: str, job: Json) -> Any:
    answer = client.post(f"/v1/{address}", json=job)
    content = answer.get_json(force=True)
    assert answer.status_code == 200, (address, content)
    return content


def told(answer: Json) -> set[str]:
    return {each["code"] for each in answer["findings"]}


def without_words(answer: Json, *but: str) -> Json:
    """An answer without what is told of the closed loop itself."""
    return {
        name: part
        for name, part in answer.items()
        if name not in {"findings", "closed_loops", "decides", *but}
    }


def test_the_split_lists_it_apart_and_gives_the_others_all_of_the_flow(
    client: FlaskClient,
) -> None:
    _, closed, gone = variants(WITH_WARM)
    found, wanted = asked(client, "split", closed), asked(client, "split", gone)
    place = len(closed["array"]["branches"]) - 1
    (listed,) = found["closed_loops"]
    assert (listed["loop"], listed["count"]) == ("Spare", 1)
    assert listed["where"] == f"/array/branches/{place}"
    assert listed["length_m"] == wanted["loops"][0]["length_m"]
    assert wanted["closed_loops"] == []
    assert without_words(found) == without_words(wanted)
    assert told(found) == told(wanted) | {"loops_closed"}
    (finding,) = [each for each in found["findings"] if each["code"] == "loops_closed"]
    assert finding["where"] == f"/array/branches/{place}"


def test_ways_to_balance_leave_it_alone(client: FlaskClient) -> None:
    _, closed, gone = variants(WITH_WARM)
    found, wanted = asked(client, "balancing", closed), asked(client, "balancing", gone)
    assert found["before"]["loops"] == wanted["before"]["loops"]
    assert [(w["way"], w["verdict"]) for w in found["ways"]] == [
        (w["way"], w["verdict"]) for w in wanted["ways"]
    ]
    for one, other in zip(found["ways"], wanted["ways"], strict=True):
        assert one.get("settings") == other.get("settings")
        assert one.get("spare_pipe") == other.get("spare_pipe")
        assert one.get("loops") == other.get("loops")
        if "decides" not in one:
            continue
        # What is decided keeps the loop closed, as it is.
        (spare,) = [b for b in loops(one["decides"]) if b["loop"]["name"] == "Spare"]
        assert spare["closed"] is True
        assert spare["loop"] == loops(closed)[-1]["loop"]
        again = asked(client, "split", closed | one["decides"])
        assert [each["loop"] for each in again["loops"]] == [
            each["loop"] for each in other["loops"]
        ]
        assert [each["loop"] for each in again["closed_loops"]] == ["Spare"]


def test_pumps_are_chosen_by_the_loops_that_are_open(client: FlaskClient) -> None:
    _, closed, gone = variants(WITH_WARM)
    found, wanted = asked(client, "pump-choice", closed), asked(client, "pump-choice", gone)
    assert [each["name"] for each in found["pumps"]] == [each["name"] for each in wanted["pumps"]]
    for one, other in zip(found["pumps"], wanted["pumps"], strict=True):
        assert one["conditions"] == other["conditions"]


def test_it_is_filled_and_purged_and_neither_tested_nor_read(client: FlaskClient) -> None:
    every, closed, gone = variants(WITH_WARM)
    full, found, wanted = (asked(client, "commissioning", job) for job in (every, closed, gone))
    assert found["contents"] == full["contents"]
    assert found["filling"] == full["filling"]
    # Its brine expands; the pump, which adds to the pressure at the bottom, has fewer loops.
    for size in ("volume_l", "expansion_l", "sold_volume_l", "filling_pressure_kpa"):
        assert found["vessel"][size] == full["vessel"][size]
    assert (
        found["vessel"]["max_pressure_at_bottom_kpa"]
        == wanted["vessel"]["max_pressure_at_bottom_kpa"]
    )
    assert found["flow_meters"] == wanted["flow_meters"]
    assert found["purge"] == full["purge"]
    assert found["pressure_test"] == wanted["pressure_test"]
    assert "closed_loops_not_proved" in told(found) - told(wanted)
    (finding,) = [each for each in found["findings"] if each["code"] == "closed_loops_not_proved"]
    litres = full["contents"]["volume_l"] - wanted["contents"]["volume_l"]
    assert f"{litres:.4g} L" in finding["message"]


def test_a_reading_of_its_meter_is_refused_with_the_reason(client: FlaskClient) -> None:
    _, closed, _ = variants(WITH_WARM)
    closed["commissioning"]["flow_meters"] = {"readings": [{"loop": "Spare", "flow_l_min": 8}]}
    answer = client.post("/v1/commissioning", json=closed)
    assert answer.status_code == 422
    (error,) = answer.get_json(force=True)["errors"]
    assert error["pointer"] == "/commissioning/flow_meters/readings/0/loop"
    assert "closed" in error["detail"]


def test_it_is_dug_and_ordered_as_any_other(client: FlaskClient) -> None:
    every, closed, gone = variants(WITH_WARM)
    full, found = asked(client, "groundworks", every), asked(client, "groundworks", closed)
    assert found == full
    assert found != asked(client, "groundworks", gone)


def test_a_sizing_beside_it_counts_what_gathers_heat(client: FlaskClient) -> None:
    _, closed, _ = variants(WITH_WARM)
    for each in loops(closed)[1:]:
        each["closed"] = True
    loops(closed)[0].pop("count", None)
    found = asked(client, "designs", closed)
    assert "smaller_than_sized" in told(found)


def test_a_design_and_its_report_say_that_it_is_closed(client: FlaskClient) -> None:
    _, closed, gone = variants(WITH_WARM)
    found, wanted = asked(client, "designs", closed), asked(client, "designs", gone)
    assert found["split"]["loops"] == wanted["split"]["loops"]
    page = client.post("/v1/report.html", json=closed).get_data(as_text=True)
    assert "Closed, so that nothing flows there: Spare" in page
    assert "Closed, so that nothing flows there" not in client.post(
        "/v1/report.html", json=gone
    ).get_data(as_text=True)
    pdf = client.post("/v1/report.pdf", json=closed)
    assert pdf.data.startswith(b"%PDF-")


@pytest.mark.parametrize("picture", ["schematic", "flows", "pressure_profile", "system_curve"])
@pytest.mark.parametrize("closed", [0, 2, 4])
def test_pictures_of_a_field_with_a_closed_borehole_are_drawn(
    client: FlaskClient, picture: str, closed: int
) -> None:
    job = copy.deepcopy(EXAMPLES["slate-row-boreholes"])
    job["array"]["branches"][closed]["closed"] = True
    answer = client.post(f"/v1/split/{picture}.svg", json=job)
    assert answer.status_code == 200, answer.get_data(as_text=True)[:500]
    if picture == "schematic":
        assert "and 1 closed (not drawn)" in answer.get_data(as_text=True)


def test_the_table_of_loops_has_those_that_are_open(client: FlaskClient) -> None:
    job = copy.deepcopy(EXAMPLES["slate-row-boreholes"])
    job["array"]["branches"][1]["closed"] = True
    answer = asked(client, "split", job)
    table = client.post("/v1/split.csv", json=job).get_data(as_text=True).splitlines()
    assert len(table) == 1 + len(answer["loops"])
    assert len(answer["loops"]) + sum(each["count"] for each in answer["closed_loops"]) == len(
        asked(client, "split", EXAMPLES["slate-row-boreholes"])["loops"]
    )


def test_all_loops_closed_is_refused_in_every_chapter_that_needs_a_flow(
    client: FlaskClient,
) -> None:
    _, closed, _ = variants(WITH_WARM)
    for each in loops(closed):
        each["closed"] = True
    for address in ("split", "balancing", "pump-choice", "commissioning", "designs", "report"):
        answer = client.post(f"/v1/{address}", json=closed)
        problem = answer.get_json(force=True)
        assert answer.status_code == 422, address
        (error,) = problem["errors"]
        assert error["pointer"] == "/array/branches", address
        assert "Every loop is closed" in error["detail"]
        assert "open one" in error["detail"]


def test_closed_is_true_or_false(client: FlaskClient) -> None:
    _, closed, _ = variants(WITH_WARM)
    closed["array"]["branches"][-1]["closed"] = "yes"
    problem = client.post("/v1/split", json=closed).get_json(force=True)
    (error,) = problem["errors"]
    assert error["pointer"].endswith("/closed")
    assert "true or false" in str(error)
