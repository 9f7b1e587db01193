"""The report as data: of the array as decided, which its own job holds."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest

from api.refusals import value_at
from tests.api.conftest import SMALLEST, Json, answered
from tests.api.resources.test_split import RICH


@pytest.fixture(scope="module")
def job() -> Json:
    body = copy.deepcopy(SMALLEST)
    body["array"]["branches"][1]["loop"]["legs"] = [{"straight": {"length_m": 90}}]
    body["balancing"] = {"take": "regulating_valves"}
    body["commissioning"] = {"filling": {"filling_c": 12}}
    return body


@pytest.fixture(scope="module")
def report(job: Json) -> Json:
    return answered("/v1/report", job)


def rows(value: Any) -> Iterator[Json]:
    """Every object of a document that names a place."""
    if isinstance(value, dict):
        if "where" in value:
            yield value
        for each in value.values():
            yield from rows(each)
    elif isinstance(value, list):
        for each in value:
            yield from rows(each)


def test_every_pointer_leads_into_the_job_that_the_report_holds(report: Json) -> None:
    found = list(rows(report))
    assert len(found) > 6
    for each in found:
        place = tuple(int(p) if p.isdigit() else p for p in each["where"][1:].split("/"))
        branch = value_at(report["job"], place)
        if "loop" in each:
            assert branch["loop"]["name"] == each["loop"]


def test_the_job_that_it_holds_is_the_one_posted_with_what_was_decided(
    job: Json, report: Json
) -> None:
    design = answered("/v1/designs", job)
    assert report["job"] == {**job, **design["decides"]}
    assert report["job"]["array"] != job["array"]
    assert report["split"]["loops"] == [
        {**loop, "where": loop["where"].removeprefix("/decides")}
        for loop in design["split"]["loops"]
    ]


def test_valves_that_were_put_in_are_listed_with_their_setting(report: Json) -> None:
    # The short loop's valve takes what its missing pipe does not; the others stay open.
    settings = next(
        each["settings"]
        for each in report["balancing"]["ways"]
        if each["way"] == "regulating_valves"
    )
    (valve,) = [each for each in report["valves"] if each["loop"] == "B"]
    (closed,) = [each for each in settings if not each["fully_open"]]
    assert valve["loop"] == closed["loop"] == "B"
    assert valve["kv_m3_h"] == pytest.approx(closed["kv_m3_h"], rel=1e-6)


@pytest.mark.parametrize("name", ["small", "with headers, runs and a plant"])
def test_the_hand_check_adds_up_to_the_head(report: Json, name: str) -> None:
    if name != "small":
        report = answered("/v1/report", RICH)
    check = report["hand_check"]
    assert (check["headers_drop_kpa"] > 0.0) == (name != "small")
    parts = (
        check["loop_drop_kpa"], check["headers_drop_kpa"], check["fittings_drop_kpa"],
        check["heat_exchanger_drop_kpa"], *(run["drop_kpa"] for run in check["runs"]),
    )  # fmt: skip
    # Six digits of each part.
    assert sum(parts) == pytest.approx(check["head_kpa"], rel=5e-6)
    assert check["head_kpa"] == pytest.approx(report["split"]["pump"]["head_kpa"], rel=2e-6)
    own = sum(pipe["drop_kpa"] for pipe in check["pipes"]) + check["fittings"]["drop_kpa"]
    assert own == pytest.approx(check["loop_drop_kpa"], rel=5e-6)
    for pipe in check["pipes"]:
        # Darcy-Weisbach, and the definition of Reynolds' number.
        dynamic = pipe["density_kg_m3"] * pipe["velocity_m_s"] ** 2 / 2
        length = pipe["length_m"] / pipe["bore_mm"] * 1e3
        drop = pipe["friction_factor"] * length * dynamic
        assert pipe["drop_kpa"] * 1e3 == pytest.approx(drop, rel=3e-5)
        reynolds = pipe["density_kg_m3"] * pipe["velocity_m_s"] * pipe["bore_mm"]
        assert pipe["reynolds"] == pytest.approx(reynolds / pipe["viscosity_mpa_s"], rel=2e-5)


def test_cautions_are_given_once(report: Json) -> None:
    assert len(report["cautions"]) == len(set(report["cautions"]))
    for chapter in ("split", "balancing", "commissioning"):
        assert set(report[chapter]["cautions"]) <= set(report["cautions"])


def test_a_head_without_a_heat_exchanger_says_so_among_its_parts(job: Json) -> None:
    plant = {"heat_exchanger": [{"flow_l_s": 0.6, "drop_kpa": 15}]}
    for body, told in (
        ({k: v for k, v in job.items() if k != "plant"}, True),
        ({**job, "plant": plant}, False),
    ):
        words = " ".join(answered("/v1/report", body)["summary"]["sentences"])
        assert ("heat exchanger, whose drop is not told" in words) is told


COPIES: Json = {
    **SMALLEST,
    "array": {
        "arrangement": "manifold",
        "branches": [
            {
                "count": 3,
                "loop": {
                    "name": "A",
                    "pipe": "PE100 SDR11 40",
                    "legs": [{"straight": {"length_m": 20}}],
                },
            },
            {
                "circuit": {
                    "arrangement": "manifold",
                    "branches": [
                        {
                            "loop": {
                                "name": "B",
                                "pipe": "PE100 SDR11 40",
                                "legs": [{"straight": {"length_m": 240}}],
                            }
                        }
                    ],
                }
            },
        ],
    },
    "duty": {"heat_kw": 2, "to_ground_c": -5, "from_ground_c": -2},
}


@pytest.mark.parametrize("way", ["regulating_valves", "spare_pipe"])
def test_places_are_those_of_loops_written_out_where_equal_ones_stand_before_a_chamber(
    way: str,
) -> None:
    report = answered("/v1/report", {**COPIES, "balancing": {"take": way}})
    at_chamber = 0
    for each in rows(report):
        place = tuple(int(p) if p.isdigit() else p for p in each["where"][1:].split("/"))
        branch = value_at(report if place[0] == "balancing" else report["job"], place)
        if "loop" in each:
            assert branch["loop"]["name"].split("-")[0] == each["loop"].split("-")[0]
        elif each["message"].startswith("B:"):
            assert branch["loop"]["name"] == "B"
            at_chamber += 1
    assert at_chamber or way == "spare_pipe"


def test_places_of_a_way_are_those_of_the_array_that_it_decides() -> None:
    told = 0
    for way in answered("/v1/balancing", COPIES)["ways"]:
        for each in rows(way["findings"]):
            place = tuple(int(p) if p.isdigit() else p for p in each["where"][1:].split("/"))
            told += value_at({"ways": [way] * 9}, place)["loop"]["name"] == "B"
    assert told
