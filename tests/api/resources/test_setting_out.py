"""POST /v1/setting-out: places, tails and runs of an array, and what of a plot is refused."""

import copy
import csv
import html
import io
import itertools
import json
import math
import re
import xml.etree.ElementTree as ET
from typing import Any
from urllib.parse import unquote

import numpy as np
import pytest
import shapely
from ezdxf import read
from flask.testing import FlaskClient
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ContentStream

from api.answers.site_dxf import LAYERS
from api.app import create_app
from api.contract.examples import examples_in_repository
from api.settings import Settings
from tests.api.conftest import SMALLEST, Json, answered, errors_of

PATH = "/v1/setting-out"


def corners(*points: tuple[float, float]) -> list[Json]:
    return [{"x_m": x, "y_m": y} for x, y in points]


RECTANGLE = corners((0, 0), (75, 0), (75, 40), (0, 40))
HOUSE = {"name": "house", "outline": corners((60, 32), (70, 32), (70, 39)), "clearance_m": 2}
OAK = {"name": "oak", "centre": {"x_m": 5, "y_m": 36}, "radius_m": 0.5, "clearance_m": 6}
JOB: Json = {
    "name": "Fern Paddock (invented)",
    "plot": {"boundary": RECTANGLE, "plant_room": {"x_m": 0, "y_m": 20}, "spacing_m": 5},
    "sizing": {"array_kind": {"slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2}}},
    "setting_out": {"run_pipe": "PE100 SDR11 63", "loop_count": 12, "length_m": 30},
}
BORES: Json = {
    "borehole": {
        "pipe": "PE100 SDR11 40", "diameter_mm": 140, "pipe_offset_mm": 35,
        "grout_conductivity_w_m_k": 2,
    }
}  # fmt: skip


def with_(job: Json = JOB, **parts: Json) -> Json:
    """The job with fields of its parts changed; None takes one out."""
    found = copy.deepcopy(job)
    for part, fields in parts.items():
        merged = {**found.get(part, {}), **fields}
        found[part] = {name: value for name, value in merged.items() if value is not None}
    return found


def comb() -> list[Json]:
    """Six pairs of trenches of 30 m, 5 m apart, facing a spine at x = 33.5."""
    return [
        {"loop": f"T{2 * k + side + 1}", "points": corners((x, y), (x + 30, y))}
        for k, y in enumerate(2.5 + 5 * n for n in range(6))
        for side, x in enumerate((2.5, 34.5))
    ]


CHAMBER = {"name": "C1", "x_m": 33.5, "y_m": 20}


def test_twelve_trenches_by_hand_have_the_tails_run_and_dug_metres_worked_out_by_hand() -> None:
    # By hand: 1 m of stub and the way along the spine from y to 20: two each of 18.5, 13.5, 8.5,
    # 3.5, 3.5, 8.5; run 33.5; dug 25 m of spine, 12 stubs and 33.5 m of run.
    content = answered(PATH, with_(plot={"trenches": comb(), "chambers": [CHAMBER]}))
    tails = [each["length_m"] for each in content["tails"]]
    assert tails == pytest.approx([18.5] * 2 + [13.5] * 2 + [8.5] * 2 + [3.5] * 4 + [8.5] * 2)
    assert [each["length_m"] for each in content["runs"]] == pytest.approx([33.5])
    totals = content["totals"]
    assert totals["header_dug_m"] == pytest.approx(25 + 12 + 33.5)
    assert [totals["trench_m"], totals["plot_m2"]] == pytest.approx([360, 3000])
    fullest = max(content["stretches"], key=lambda each: int(each["pipe_count"]))
    assert fullest["pipe_count"] == 16
    # By hand: 8 pairs of 32 mm in two layers: 8 · 0.032 + 7 · 0.05 + 0.2 m.
    assert fullest["floor_width_m"] == pytest.approx(0.806)
    assert "capacity" not in content


def test_what_is_dug_for_a_plan_is_told_by_stretch_and_in_its_order() -> None:
    drain = {"name": "drain", "line": corners((20, 0), (20, 40)), "clearance_m": 0}
    drain |= {"blocks": "header"}
    plot = {"trenches": comb(), "chambers": [CHAMBER]}
    content = answered(PATH, with_(plot=plot))
    fullest = max(content["stretches"], key=lambda each: int(each["pipe_count"]))
    # By hand: 0.806 m of floor, 1.2 m deep, the sides upright.
    assert fullest["dug_m3"] == pytest.approx(1.2 * 0.806 * fullest["length_m"], rel=1e-6)
    assert 0 < fullest["bedding_m3"] < fullest["spoil_m3"] < fullest["dug_m3"]
    # By hand: 1.2 x 1.2 m of clay swells by 40 %; a triangle of 1 : 1.5 holds w^2 / 6 a metre.
    heap = content["heaps"][0]
    assert heap["width_m"] == pytest.approx(math.sqrt(6 * 1.44 * 1.4), rel=1e-4)
    # By hand: the tails of the first two are the longest, 18.5 m.
    assert content["dig_order"][:2] == ["T1", "T2"]
    assert content["crossings"] == []
    crossed = drain | {"blocks": "array", "line": corners((0, 34), (60, 34), (60, 39))}
    plant = {"x_m": 0, "y_m": 38}
    over = answered(PATH, with_(plot=plot | {"keep_outs": [crossed], "plant_room": plant}))
    (crossing,) = over["crossings"]
    assert (crossing["keep_out"], crossing["pipe_count"]) == ("drain", 2)
    assert crossing["y_m"] == pytest.approx(34)


def test_a_header_trench_of_usual_depth_covers_pipe_up_to_50_mm() -> None:
    # By hand: 1.2 m less 0.1 m of bedding, 0.3 m between the layers and the run above them: 0.75 m
    # over 50 mm; over 63 mm 0.737 m, a 15 mm deeper trench told in whole centimetres.
    for run, short in (("PE100 SDR11 50", []), ("PE100 SDR11 63", ["dig it 0.02 m deeper"])):
        plan = answered(PATH, with_(setting_out={"run_pipe": run}))
        said = [each for each in plan["findings"] if each["code"] == "cover_shallow"]
        assert [words in each["message"] for words, each in zip(short, said, strict=True)] == (
            [True] * len(short)
        )


def test_what_each_objective_of_placing_chambers_takes_is_told() -> None:
    content = answered(PATH, JOB)
    told = {each["chamber_place"]: each for each in content["placed_by"]}
    assert set(told) == {"most_even", "least_pipe", "least_digging"}
    assert told["most_even"]["header_dug_m"] == pytest.approx(content["totals"]["header_dug_m"])
    assert answered(PATH, with_(plot={"chambers": [CHAMBER]}))["placed_by"] == []


SLOPE = [
    {"x_m": x, "y_m": y, "level_m": 50 + 0.05 * x} for x in (0, 75) for y in (0, 40)
]  # 1 in 20 up to the east


def test_levels_and_falls_of_loops_by_hand() -> None:
    placed = {"trenches": comb(), "chambers": [CHAMBER]}
    assert answered(PATH, with_(plot=placed))["levels"] == []
    content = answered(PATH, with_(plot=placed | {"levels": SLOPE}))
    first, second = content["levels"][:2]
    # By hand: T1 runs down hill from x = 32.5 to 2.5, T2 up from 34.5 to 64.5, 1.2 m deep; the
    # chamber at 33.5 is so too, pipe 0.1 m above its floor, so that air stays at the end of T2.
    assert [first["start_m"], first["end_m"]] == pytest.approx([50.425, 48.925])
    assert [first["fall_percent"], second["fall_percent"]] == pytest.approx([5, -5])
    assert second["end_m"] == second["max_m"] == pytest.approx(52.025)
    assert [second["air_at"]["x_m"], second["air_at"]["y_m"]] == pytest.approx([64.5, 2.5])
    # The return in its header trench is highest at the chamber, 50.575 m; flow lies 0.3 m over it.
    assert first["max_m"] == pytest.approx(50.875)


@pytest.mark.parametrize(("own", "severity"), [(0, None), (16.5, "info"), (17, "warning")])
def test_runs_of_the_plant_beside_the_plan_s_are_told(own: float, severity: str | None) -> None:
    # The plan's run is 33.5 m; half of it, 16.75 m, may be the same run told twice.
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER]})
    job["plant"] = {"runs": [{"pipe": "PE100 SDR11 63", "length_m": own}] if own else []}
    told = [f for f in answered(PATH, job)["findings"] if f["code"] == "runs_beside_plan"]
    assert [each["severity"] for each in told] == ([severity] if severity else [])


def test_surveyed_levels_of_the_plot_feed_static_pressure() -> None:
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER]})
    job |= answered(PATH, job)["decides"] | {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"flow_l_s": 1.2, "to_ground_c": -3, "from_ground_c": 0},
        "commissioning": {
            "filling": {"filling_c": 12},
            "pressure_test": {"design_pressure_kpa": 300},
        },
    }
    level = answered("/v1/commissioning", job)
    sloping = answered("/v1/commissioning", with_(job, plot={"levels": SLOPE}))
    # By hand: the run begins at x = 0, level 50; the highest trench ends at x = 64.5.
    heights = {"min_ground_level_m": 50, "max_ground_level_m": 53.225, "plant_level_m": 50}
    told = answered("/v1/commissioning", job | {"heights": heights})
    for part in ("heights", "pressure_test"):
        assert _numbers(sloping[part]) != _numbers(level[part])
    # The lowest pipe is the run's at x = 0, 1.1 m below 50 m in its trench of 1.2 m (T1's end at
    # x = 2.5 lies 1.2 m below 50.125 m); without the plan it is taken to lie 1.2 m below the lowest
    # ground. Water of 1000 kg/m3 on the 0.1 m between: 0.981 kPa, that the gauge shows more.
    assert sloping["heights"].pop("min_pipe_level_m") == pytest.approx(48.9)
    assert told["heights"].pop("min_pipe_level_m") == pytest.approx(48.8)
    assert _numbers(sloping["heights"]) == pytest.approx(_numbers(told["heights"]), rel=1e-6)
    there, plain = sloping["pressure_test"], told["pressure_test"]
    assert there["design_pressure_kpa"] == plain["design_pressure_kpa"] == 300
    assert there["test_pressure_at_bottom_kpa"] == pytest.approx(
        plain["test_pressure_at_bottom_kpa"]
    )
    more = there["test_pressure_kpa"] - plain["test_pressure_kpa"]
    assert more == pytest.approx(9.80665 * 0.1, abs=0.01)  # both rounded to 6 digits


def test_of_heights_told_in_part_the_rest_is_the_plan_s(client: FlaskClient) -> None:
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER], "levels": SLOPE})
    job |= answered(PATH, job)["decides"] | {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"flow_l_s": 1.2, "to_ground_c": -3, "from_ground_c": 0},
        "commissioning": {
            "filling": {"filling_c": 12},
            "pressure_test": {"test_pressure_kpa": 450},
        },
    }
    del job["sizing"]
    # By hand, as above: ground from 50 to 53.225 m, the lowest pipe at 48.9 m; 1.2 m below a lower
    # ground that is told.
    for told, lowest in (
        ({}, 48.9),
        ({"min_ground_level_m": 49}, 47.8),
        ({"max_ground_level_m": 54}, 48.9),
    ):
        found = answered("/v1/commissioning", job | {"heights": told})["heights"]
        assert found["min_pipe_level_m"] == pytest.approx(lowest)
        assert found["max_ground_level_m"] == pytest.approx(told.get("max_ground_level_m", 53.225))
        assert found["gauge_level_m"] == pytest.approx(told.get("min_ground_level_m", 50))
        assert found["plant_level_m"] == pytest.approx(50)
        assert not [each for each in found["assumed"] if "as level" in each]
        whole = answered("/v1/designs", job | {"heights": told})["commissioning"]["heights"]
        assert whole == found
    # Told less far than the plan reaches, pipe bears what it does 1.1 m under the lowest ground of
    # it, lift goes by the highest; formerly pipe lay 1.2 m under 52.8 m, 2.7 m too high.
    partly = job | {"heights": {"min_ground_level_m": 52.8}}
    above, own = (answered("/v1/commissioning", each) for each in (partly, job))
    assert above["heights"]["min_pipe_level_m"] == pytest.approx(48.9)
    assert above["heights"]["gauge_level_m"] == 52.8
    at_bottom = "test_pressure_at_bottom_kpa"
    # A gauge that is not told is as high as the highest ground for what pipe bears, told or not:
    # 53.225 m in both, 4.325 m of water over the lowest pipe.
    for each in (above, own):
        bears = each["pressure_test"][at_bottom] - 450
        assert bears == pytest.approx(9.80665 * 4.325, abs=0.05)  # water of 12 °C, 0.5 g/L light
    # Where they do not reach as far as the plan's ground that is told.
    for low, high, beside in ((50, 53.3, False), (50, 52, True), (51, 54, True), (49, 55, False)):
        both = {"min_ground_level_m": low, "max_ground_level_m": high}
        there = answered("/v1/commissioning", job | {"heights": both})["heights"]
        assert there["max_ground_level_m"] == pytest.approx(max(high, 53.225), abs=0.01)
        for path in ("/v1/commissioning", "/v1/split"):
            said = answered(path, job | {"heights": both})["findings"]
            gap = [each["message"] for each in said if each["code"] == "levels_not_as_told"]
            assert len(gap) == beside
            assert all("at 50.00 to 53.2" in each for each in gap)
    bare = {name: each for name, each in job.items() if name != "setting_out"}
    bare["plot"] = JOB["plot"] | {"levels": SLOPE}
    for document in (job, bare):
        for name, level, allowed in (
            ("min_ground_level_m", 54, "at most 53."),
            ("max_ground_level_m", 49, "at least 50.00 m"),
        ):
            refused = client.post("/v1/commissioning", json=document | {"heights": {name: level}})
            ((pointer, error),) = errors_of(refused).items()
            assert pointer == f"/heights/{name}"
            assert error["value"] == level
            assert error["allowed"].startswith(allowed)
    own = answered("/v1/commissioning", bare | {"heights": {"min_ground_level_m": 49}})
    assert own["heights"]["max_ground_level_m"] == pytest.approx(53.75)


def test_levels_count_where_the_array_has_no_place_yet_at_every_address_alike() -> None:
    job = with_(plot={"levels": SLOPE}) | {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"flow_l_s": 1.2, "to_ground_c": -3, "from_ground_c": 0},
        "commissioning": {
            "filling": {"filling_c": 12},
            "purge": {},
            "pressure_test": {"design_pressure_kpa": 300},
            "vessel": {
                "safety_valve_pressure_kpa": 200,
                "precharge_pressure_kpa": 50,
                "min_fluid_c": -4,
                "max_fluid_c": 25,
            },
        },
    }
    job["array"] = answered(PATH, with_())["decides"]["array"]
    del job["sizing"]
    # By hand: the ground rises 5 % from 50 m at x = 0, where the plant room is, to x = 75.
    heights = {"min_ground_level_m": 50, "max_ground_level_m": 53.75, "plant_level_m": 50}
    told = answered("/v1/commissioning", job | {"heights": heights})
    own = answered("/v1/commissioning", job)
    for part, name in (("vessel", "static_pressure_kpa"), ("heights", "min_pipe_level_m")):
        assert own[part][name] == pytest.approx(told[part][name])
    assert own["vessel"]["static_pressure_kpa"] > 30
    # A test counts on no pipe lower than under the highest ground: 3.75 m of water more at the
    # gauge. Both rounded to 6 digits.
    more = own["pressure_test"]["test_pressure_kpa"] - told["pressure_test"]["test_pressure_kpa"]
    assert more == pytest.approx(9.80665 * 3.75, abs=0.01)
    # What is not set out, or has no way, is told alike by the whole design.
    bare = {part: each for part, each in job.items() if part != "setting_out"}
    drain = {"name": "drain", "line": corners((5, 0), (5, 40)), "clearance_m": 0}
    shut = with_(job, plot={"keep_outs": [drain]})
    for each in (bare, shut):
        whole = answered("/v1/designs", each)
        assert "array" not in whole["decides"]
        alone = answered("/v1/commissioning", each)
        for part in ("heights", "vessel", "pressure_test", "purge"):
            assert whole["commissioning"][part] == alone[part] == own[part]
        split = answered("/v1/split", each)
        for answer in (whole["commissioning"], whole["split"], alone, split):
            assert "levels_not_placed" in [f["code"] for f in answer["findings"]]
    # Once it is set out, the plan's own ground counts: the end of its highest trench.
    decided = job | answered(PATH, job)["decides"]
    placed = answered("/v1/commissioning", decided)
    assert placed["heights"] == answered("/v1/designs", decided)["commissioning"]["heights"]
    assert placed["heights"]["max_ground_level_m"] <= 53.75
    assert "levels_not_placed" not in [f["code"] for f in placed["findings"]]


@pytest.mark.parametrize(
    ("told", "depth"),
    [
        ({}, 1.2),  # as the legs say, which the bedding of a trench dug to 1.3 m agrees with
        ({"groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}, "header_trench": {}}}, 1.2),
    ],
)
def test_the_lowest_pipe_is_one_level_in_the_plan_and_in_what_it_bears(
    told: Json, depth: float
) -> None:
    falling = [each | {"level_m": 50 - 0.05 * each["x_m"]} for each in SLOPE]
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER], "levels": falling})
    job |= {"ground": {"soil": "clay"}, **told}
    plan = answered(PATH, job)
    job |= plan["decides"] | {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"flow_l_s": 1.2, "to_ground_c": -3, "from_ground_c": 0},
        "commissioning": {
            "filling": {"filling_c": 12},
            "pressure_test": {"design_pressure_kpa": 300},
        },
    }
    # By hand: trenches end at x = 64.5, where the ground is at 50 - 3.225 m.
    lowest = 50 - 3.225 - depth
    assert min(each["min_m"] for each in plan["levels"]) == pytest.approx(lowest)
    heights = answered("/v1/commissioning", job)["heights"]
    assert heights["min_pipe_level_m"] == pytest.approx(lowest)


def test_the_array_decided_has_the_plan_s_tails_and_runs() -> None:
    content = answered(PATH, with_(plot={"trenches": comb(), "chambers": [CHAMBER]}))
    (branch,) = content["decides"]["array"]["branches"]
    assert branch["runs"] == [{"pipe": "PE100 SDR11 63", "length_m": pytest.approx(33.5)}]
    legs = [each["loop"]["legs"] for each in branch["circuit"]["branches"]]
    tails = {each["loop"]: each["length_m"] for each in content["tails"]}
    for each in branch["circuit"]["branches"]:
        first, middle, last = each["loop"]["legs"]
        assert first == last
        assert first["straight"]["length_m"] == pytest.approx(tails[each["loop"]["name"]])
        assert middle["slinky"]["coils"] == 30  # 30 m of trench at 1 m pitch
    assert len(legs) == 12
    # By hand: three trenches 5 m apart begin by the plant room's wall, the chamber 1 m from it and
    # 0.5 m on from the middle one's stub of 1 m. Not a digit is of the rounding of the search, by
    # which equal tails would differ.
    content = answered(PATH, with_(setting_out={"loop_count": 3}))
    (branch,) = content["decides"]["array"]["branches"]
    straight = [each["loop"]["legs"][0]["straight"] for each in branch["circuit"]["branches"]]
    assert [tail["length_m"] for tail in straight] == [6.5, 1.5, 6.5]


@pytest.mark.parametrize(
    ("count", "length", "most"),
    [(16, 30, 16), (None, 35, 15), (8, 70, 8), (None, 70, 8)],
)
def test_as_many_as_fit_are_laid(count: int | None, length: float, most: int) -> None:
    # By hand, inside 70 x 35 m: 35/5 + 1 = 8 lines of 70, or of two of 30 m with 2 m between;
    # 70/5 + 1 = 15 across.
    content = answered(PATH, with_(setting_out={"loop_count": count, "length_m": length}))
    assert len(content["trenches"]) == content["capacity"]["most"] == most
    assert not [each for each in content["findings"] if each["severity"] == "error"]


@pytest.mark.parametrize(
    ("asked", "count", "length"),
    [
        # By hand: 310 m hold ten of 30 m, and twelve of 25.83 m, of whole coils 1 m apart 25.
        ({"loop_count": None, "length_m": 30}, 10, 30.0),
        ({"loop_count": 12, "length_m": None}, 12, 25.0),
    ],
)
def test_no_more_trench_is_laid_than_can_be_dug(asked: Json, count: int, length: float) -> None:
    content = answered(PATH, with_(plot={"max_trench_m": 310}, setting_out=asked))
    assert [each["length_m"] for each in content["trenches"]] == pytest.approx([length] * count)
    assert content["totals"]["trench_m"] <= 310
    codes = [each["code"] for each in content["findings"]]
    assert "trench_limit_kept" in codes
    assert "site_too_small" not in codes
    assert content["decides"]["array"]


def test_trench_told_beyond_what_can_be_dug_is_an_error(client: FlaskClient) -> None:
    for plot in ({}, {"trenches": comb(), "chambers": [CHAMBER]}):
        content = answered(PATH, with_(plot=plot | {"max_trench_m": 359.9}))
        (error,) = [each for each in content["findings"] if each["severity"] == "error"]
        assert error["code"] == "site_too_small"
        assert "takes 360.0 m of trench, and 359.9 m can be dug" in error["message"]
        enough = answered(PATH, with_(plot=plot | {"max_trench_m": 360}))
        assert "error" not in [each["severity"] for each in enough["findings"]]
    long = with_(plot={"max_trench_m": 20}, setting_out={"loop_count": None})
    assert list(errors_of(client.post(PATH, json=long))) == ["/setting_out/length_m"]


def test_what_does_not_fit_is_an_answer_that_says_what_would() -> None:
    content = answered(PATH, with_(setting_out={"loop_count": 20, "length_m": 35}))
    (error,) = [each for each in content["findings"] if each["severity"] == "error"]
    assert error["code"] == "does_not_fit"
    assert len(content["trenches"]) == content["capacity"]["most"] == 15  # by hand, as above
    assert content["capacity"]["longest_m"] < 35
    assert "array" not in content["decides"]  # no array of 15 is passed off as one of 20


def test_trenches_lie_across_what_bars_header_trenches_only_and_it_is_told() -> None:
    # By hand: 8 rows of 20 m at 5 m centres begin between the plant room and the pipe at 10 m.
    gas = {"name": "gas", "line": corners((10, 0), (10, 40)), "clearance_m": 1, "blocks": "header"}
    job = with_(plot={"keep_outs": [gas]}, setting_out={"loop_count": 6, "length_m": 20})
    content = answered(PATH, job)
    assert [each for each in content["findings"] if each["severity"] == "error"] == []
    assert len(content["trenches"]) == len(content["tails"]) == 6
    assert "array" in content["decides"]
    told = [each["message"] for each in content["findings"] if each["code"] == "keep_out_crossed"]
    assert [message for message in told if "(and 5 more) crosses gas" in message]
    many = answered(PATH, with_(job, setting_out={"loop_count": None}))
    assert len(many["trenches"]) == 8


def test_going_on_with_what_is_decided_keeps_every_place() -> None:
    first = answered(PATH, JOB)
    again = answered(PATH, JOB | first["decides"])
    for part in ("trenches", "chambers", "tails", "runs", "stretches", "totals", "direction_deg"):
        assert again[part] == first[part]
    split = answered("/v1/split", JOB | first["decides"] | {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"flow_l_s": 1.2, "to_ground_c": -3, "from_ground_c": 0},
    })  # fmt: skip
    assert [each["loop"] for each in split["loops"]] == [each["loop"] for each in first["trenches"]]


def _numbers(value: Any) -> list[float]:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        return [number for each in value for number in _numbers(each)]
    return [value] if isinstance(value, (int, float)) else []


def test_loops_keep_the_names_of_the_array() -> None:
    legs = [{"straight": {"length_m": 40}},
            {"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}},
            {"straight": {"length_m": 40}}]  # fmt: skip
    branches = [{"count": 3, "loop": {"name": "N", "pipe": "PE100 SDR11 32", "legs": legs}},
                {"loop": {"name": "S", "pipe": "PE100 SDR11 32", "legs": legs}}]  # fmt: skip
    job = with_(setting_out={"loop_count": None, "length_m": None})
    del job["sizing"]
    content = answered(PATH, job | {"array": {"arrangement": "manifold", "branches": branches}})
    assert [each["loop"] for each in content["trenches"]] == ["N-1", "N-2", "N-3", "S"]
    assert content["totals"]["max_tail_m"] < 40  # the plan's tails take the place of those given
    messages = " ".join(each["message"] for each in content["findings"])
    assert "T1" not in messages


def test_a_closed_loop_has_its_place_and_stays_closed() -> None:
    legs = [{"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}}]
    branches: list[Json] = [
        {"count": 3, "loop": {"name": "N", "pipe": "PE100 SDR11 32", "legs": legs}},
        {"loop": {"name": "S", "pipe": "PE100 SDR11 32", "legs": legs}, "closed": True},
    ]
    job = with_(setting_out={"loop_count": None, "length_m": None})
    del job["sizing"]
    job |= {"array": {"arrangement": "manifold", "branches": branches}}
    found = answered(PATH, job)
    branches[1].pop("closed")
    every = answered(PATH, job)
    # It is dug and its tails are laid as if it were open.
    assert found["trenches"] == every["trenches"]
    assert found["totals"] == every["totals"]
    names = re.findall(r"'name': '([NS][-\d]*)'", str(found["decides"]["array"]))
    assert names == ["N-1", "N-2", "N-3", "S"]
    assert str(found["decides"]["array"]).count("'closed': True") == 1
    text = json.dumps(found["decides"]["array"])
    assert text.index('"closed": true') > text.index('"name": "S"')


def test_boreholes_stand_apart_and_are_as_deep_as_told() -> None:
    # By hand: inside 24 x 14 m at 6 m, 5 x 3 on a square grid (check 6: 15).
    plot = {"boundary": corners((0, 0), (30, 0), (30, 20), (0, 20)), "border_m": 3, "spacing_m": 6,
            "plant_room": {"x_m": 0, "y_m": 10}}  # fmt: skip
    job = with_(plot=plot, setting_out={"loop_count": 15, "length_m": 99, "pattern": "square"})
    job["sizing"] = {"array_kind": BORES}
    content = answered(PATH, job)
    at = [(each["x_m"], each["y_m"]) for each in content["boreholes"]]
    assert len(at) == 15
    nearest = min(math.dist(a, b) for n, a in enumerate(at) for b in at[:n])
    assert nearest == pytest.approx(6, abs=2e-3)
    assert {each["depth_m"] for each in content["boreholes"]} == {99}
    assert any("10.2 m" in each for each in content["cautions"])  # the borehole's foot


def test_several_chambers_are_nested_and_named() -> None:
    content = answered(PATH, with_(setting_out={"max_chamber_loops": 6}))
    names = [each["name"] for each in content["chambers"]]
    assert len(names) == 2
    assert [b["circuit"]["name"] for b in content["decides"]["array"]["branches"]] == names
    again = answered(PATH, JOB | content["decides"])
    assert len(again["trenches"]) == 12


# ------------------------------------------------------------------------------- what is refused


BOW = corners((0, 0), (75, 40), (75, 0), (0, 40))
COVER = {"name": "lake bed", "outline": corners((-5, -5), (80, -5), (80, 45), (-5, 45)),
         "clearance_m": 0}  # fmt: skip
MANY = corners(*((40 + 40 * math.cos(n), 40 + 40 * math.sin(n)) for n in range(10_000)))
REFUSED: dict[str, tuple[Json, str, str]] = {
    "crossing boundary": ({"boundary": BOW}, "/plot/boundary/0", "at (37.500, 20.000)"),
    "zero area": ({"boundary": corners((0, 0), (75, 0), (150, 0))}, "/plot/boundary/0", "meets"),
    "corner twice": ({"boundary": [RECTANGLE[0], *RECTANGLE]}, "/plot/boundary/1", "twice"),
    "ten thousand corners": ({"boundary": MANY}, "/plot/boundary", "3 to 500"),
    "far coordinate": ({"boundary": [*RECTANGLE[:3], {"x_m": 1e9, "y_m": 0}]},
                       "/plot/boundary/3/x_m", "20,000,000"),
    "plot too large": ({"boundary": [*RECTANGLE[:3], {"x_m": 0, "y_m": 1e5}]},
                       "/plot/boundary", "100000 m across"),
    "plant outside": ({"plant_room": {"x_m": -9, "y_m": 20}}, "/plot/plant_room", "9.0 m outside"),
    "no plant": ({"plant_room": None}, "/plot/plant_room", "missing"),
    "keep-out elsewhere": ({"keep_outs": [{**OAK, "centre": {"x_m": 500, "y_m": 0}}]},
                           "/plot/keep_outs/0", "Oak lies wholly outside"),
    "keep-out crossing itself": ({"keep_outs": [{**HOUSE, "outline": BOW}]},
                                 "/plot/keep_outs/0/outline/0", "meets the side from (75, 0)"),
    "chamber in a tree": ({"keep_outs": [OAK], "chambers": [{**CHAMBER, "x_m": 6, "y_m": 34}]},
                          "/plot/chambers/0", "C1 at (6, 34)"),
    "trench through a house": (
        {"keep_outs": [HOUSE],
         "trenches": [{"loop": "T1", "points": corners((40, 34), (72, 34))}]},
        "/plot/trenches/0/points", "T1 runs through house"),
    "trenches too near": (
        {"trenches": [{"loop": "T1", "points": corners((3, 5), (33, 5))},
                      {"loop": "T2", "points": corners((3, 8), (33, 8))}]},
        "/plot/trenches/1/points", "3.00 m from T1"),
    "trench off the plot": (
        {"trenches": [{"loop": "T1", "points": corners((60, 20), (90, 20))}]},
        "/plot/trenches/0/points", "15.00 m outside"),
    "chambers of one name": (
        {"chambers": [CHAMBER, CHAMBER | {"y_m": 10}]},
        "/plot/chambers/1/name", "another chamber"),
    "chambers in one place": (
        {"chambers": [CHAMBER, CHAMBER | {"name": "C2"}]},
        "/plot/chambers/1", "stands where C1 does"),
    "a loop twice": (
        {"trenches": [{"loop": "T1", "points": corners((3, 5), (33, 5))}] * 2},
        "/plot/trenches", "Two loops are called 'T1'"),
    "limbs too near": (
        {"trenches": [{"loop": "U", "points": corners((5, 5), (5, 35), (9, 35), (9, 5))}]},
        "/plot/trenches/0/points", "4.00 m from itself"),
    "latitude and longitude swapped": (
        {"origin": {"longitude_deg": 52, "latitude_deg": 151.2}},
        "/plot/origin/latitude_deg", "-89.9 to 89.9"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_a_plot_that_cannot_be_is_refused_at_its_corner(client: FlaskClient, case: str) -> None:
    plot, pointer, said = REFUSED[case]
    answer = client.post(PATH, json=with_(plot=plot))
    assert answer.status_code == 422
    errors = errors_of(answer)
    assert set(errors) == {pointer}
    assert said in errors[pointer]["detail"] + errors[pointer]["allowed"]


def test_keep_outs_over_everything_leave_nothing_to_lay() -> None:
    content = answered(PATH, with_(plot={"keep_outs": [COVER]}))
    assert content["capacity"]["most"] == 0
    assert [each["code"] for each in content["findings"]] == ["does_not_fit"]
    assert content["decides"] == {}


@pytest.mark.parametrize("count", ["x", 1.5, True, -1, 0])
def test_a_number_of_loops_that_is_none_is_refused_at_its_field(
    client: FlaskClient, count: object
) -> None:
    answer = client.post(PATH, json=with_(setting_out={"loop_count": count}))
    assert list(errors_of(answer)) == ["/setting_out/loop_count"]


def test_nothing_that_tells_how_much_is_refused(client: FlaskClient) -> None:
    answer = client.post(PATH, json={name: JOB[name] for name in ("plot", "setting_out")})
    assert set(errors_of(answer)) == {"/sizing"}
    job = with_(setting_out={"loop_count": None, "length_m": None})
    assert "/heat" in errors_of(client.post(PATH, json=job))  # then the sizing decides


def test_an_array_is_set_out_by_its_own_kind_joint_and_number(client: FlaskClient) -> None:
    job = {"array": answered(PATH, JOB)["decides"]["array"], **JOB}
    inner = job["array"]["branches"][0]["circuit"]
    job["array"] = inner | {"arrangement": "reverse_return"}
    codes = {f["code"]: f["message"] for f in answered(PATH, job)["findings"]}
    assert "joined in reverse return" in codes["set_out_as_manifold"]
    assert "count_not_of_array" not in codes
    told = answered(PATH, with_(job, setting_out={"loop_count": 8}))["findings"]
    (said,) = [f["message"] for f in told if f["code"] == "count_not_of_array"]
    assert said.startswith("8 loops are asked for, and the array given has 12")
    bore = {"loop": inner["branches"][0]["loop"]["name"], "x_m": 5, "y_m": 5}
    errors = errors_of(client.post(PATH, json=with_(job, plot={"boreholes": [bore]})))
    said = errors["/plot/boreholes"]["detail"]
    assert said.startswith("Boreholes have their place on the plot, and the loops of the array lie")
    assert "array lie in trenches" in said


def test_unequal_trenches_want_their_places(client: FlaskClient) -> None:
    def branch(name: str, coils: int) -> Json:
        slinky = {"slinky": {"coils": coils, "coil_diameter_m": 1, "pitch_m": 1}}
        return {"loop": {"name": name, "pipe": "PE100 SDR11 32", "legs": [slinky]}}

    array = {"arrangement": "manifold", "branches": [branch("T1", 30), branch("T2", 20)]}
    job = with_(setting_out={"loop_count": None, "length_m": None}) | {"array": array}
    errors = errors_of(client.post(PATH, json=job))
    assert "30 m; places are looked for equal ones only" in errors["/array"]["detail"]
    placed = [{"loop": "T1", "points": corners((3, 5), (33, 5))},
              {"loop": "T2", "points": corners((3, 10), (23, 10))}]  # fmt: skip
    content = answered(PATH, {**job, "plot": {**job["plot"], "trenches": placed}})
    assert [each["length_m"] for each in content["trenches"]] == [30, 20]
    placed[1]["points"] = corners((3, 10), (13, 10))
    errors = errors_of(client.post(PATH, json={**job, "plot": {**job["plot"], "trenches": placed}}))
    assert "10.00 m long, and its loop takes 20.00 m" in errors["/plot/trenches/1/points"]["detail"]


# ------------------------------------------------------------------------------------- in designs


def test_a_design_from_a_load_takes_its_tails_from_the_plot() -> None:
    job = next(e.job for e in examples_in_repository() if e.name == "quince-barn-from-load")
    job = {n: v for n, v in job.items() if n not in ("pump_choice", "commissioning")}
    job["setting_out"] = {"run_pipe": "PE100 SDR11 50"}
    content = answered("/v1/designs", job)
    plan = answered(PATH, job)
    assert content["decides"]["array"] == plan["decides"]["array"]
    assert content["decides"]["plot"] == plan["decides"]["plot"]
    loops = {each["loop"]: each["length_m"] for each in content["split"]["loops"]}
    tails = {each["loop"]: each["length_m"] for each in plan["tails"]}
    assert set(loops) == set(tails)
    sides = {loops[name] - 2 * tails[name] for name in loops}
    assert max(sides) == pytest.approx(min(sides), abs=1e-3)  # all else is alike
    header = content["groundworks"]["header_trench"]
    assert header["length_m"] == pytest.approx(plan["totals"]["header_dug_m"], rel=1e-5)
    _are_one(header, content["setting_out"]["stretches"])


def test_a_design_on_a_skewed_plot_digs_the_trenches_that_it_sets_out() -> None:
    # Places are told to a thousandth of a millimetre: no loop loses a coil by that.
    job = next(e.job for e in examples_in_repository() if e.name == "quince-barn-from-load")
    job = {n: v for n, v in job.items() if n not in ("pump_choice", "commissioning")}
    ring = corners((0, 0), (60, -4), (68, 38), (30, 52), (-3, 40))
    job |= {
        "plot": {"boundary": ring, "plant_room": {"x_m": 34, "y_m": 20}, "spacing_m": 3},
        "setting_out": {"run_pipe": "PE100 SDR11 50"},
    }
    content = answered("/v1/designs", job)
    metres = content["sizing"]["length_m"]
    assert content["setting_out"]["totals"]["trench_m"] == pytest.approx(metres, rel=1e-6)
    assert content["groundworks"]["loop_trenches"]["length_m"] == pytest.approx(metres, rel=1e-6)


def _are_one(header: Json, stretches: list[Json]) -> None:
    """Header trench of groundworks and stretches of the plan: one trench, one number."""
    for name in ("length_m", "dug_m3", "bedding_m3", "spoil_m3"):
        told = sum(each.get(name, 0.0) for each in stretches)
        assert header[name] == pytest.approx(told, rel=1e-4), name


@pytest.mark.parametrize("told", [{}, {"side_slope": 1, "depth_m": 1.2}, None])
@pytest.mark.parametrize("imported", [True, False])
def test_what_is_dug_for_headers_is_one_number_in_both_chapters(told: Json, imported: bool) -> None:
    groundworks = {"trench": {"width_m": 1.2, "depth_m": 1.3}, "bedding_imported": imported}
    job = JOB | {"ground": {"soil": "clay"}, "groundworks": groundworks}
    if told is not None:
        groundworks["header_trench"] = told
    plan = answered(PATH, job)
    header = answered("/v1/groundworks", job | plan["decides"])["header_trench"]
    _are_one(header, plan["stretches"])
    stretch = next(each for each in plan["stretches"] if each["floor_width_m"] == 0.5)
    # By hand: floor 0.5 m; 1.2 m deep, vertical 1.2 · 0.5 m²; 1 to 1, 1.2 (0.5 + 1.2) m².
    section = 1.2 * (0.5 + 1.2) if told else 1.2 * 0.5
    assert stretch["dug_m3"] == pytest.approx(section * stretch["length_m"], rel=1e-4)


@pytest.mark.parametrize("path", [PATH, "/v1/groundworks"])
def test_a_header_trench_too_shallow_for_the_plan_s_two_layers_is_named(
    path: str, client: FlaskClient
) -> None:
    groundworks = {"trench": {"width_m": 1.2, "depth_m": 1.3}, "header_trench": {"depth_m": 0.5}}
    job = JOB | {"ground": {"soil": "clay"}}
    job |= answered(PATH, job)["decides"] | {"groundworks": groundworks}
    # Pipe of 32 mm and of 63 mm in the run: 0.1 + 0.063 + 0.3 + 0.1 m at the most.
    errors = errors_of(client.post(path, json=job))
    assert set(errors) == {"/groundworks/header_trench/depth_m"}
    assert errors["/groundworks/header_trench/depth_m"]["allowed"] in {
        "0.54 m or more",
        "0.57 m or more",
    }


def test_cover_of_flow_pipes_is_that_of_the_plan_s_layers_whatever_is_asked() -> None:
    # By hand: 0.1 m of bedding, flow 0.3 m above the return, 63 mm of run: 0.737 m left of 1.2 m.
    header = {"separation_m": 0.6}
    groundworks = {"trench": {"width_m": 1.2, "depth_m": 1.3}, "header_trench": header}
    job = JOB | {"ground": {"soil": "clay"}, "groundworks": groundworks}
    plan = answered(PATH, job)
    dug = answered("/v1/groundworks", job | plan["decides"])
    for answer in (plan, dug):
        (cover,) = [f["message"] for f in answer["findings"] if f["code"] == "cover_shallow"]
        assert "Only 0.74 m" in cover
        assert "0.3 m above the return: dig it 0.02 m deeper" in cover
    (asked,) = [f["message"] for f in dug["findings"] if f["code"] == "separation_small"]
    assert "not 0.6 m" in asked


def test_a_battered_header_trench_is_planned_as_wide_as_it_is_at_the_surface() -> None:
    # By hand: where upright sides have 1 m of stub, those of 0.75 m more have 1.75 m; so laid, they
    # reach no trench.
    digging = {"trench": {"width_m": 1.2, "depth_m": 1.2}, "header_trench": {"side_slope": 0.75}}
    job = JOB | {"groundworks": digging}
    plan = answered(PATH, job)
    for tail in plan["tails"]:
        ends = [tuple(each.values()) for each in tail["points"][:2]]
        assert math.dist(*ends) >= 1.75 - 1e-3
    assert not {"header_meets_trench"} & {each["code"] for each in plan["findings"]}
    again = answered(PATH, job | plan["decides"])
    assert again["tails"] == plan["tails"]


def test_a_length_of_header_trench_beside_a_plan_is_not_taken() -> None:
    groundworks = {"trench": {"width_m": 1.2, "depth_m": 1.3}, "header_trench": {"length_m": 9}}
    job = JOB | {"ground": {"soil": "clay"}, "groundworks": groundworks}
    plan = answered(PATH, job)
    content = answered("/v1/groundworks", job | plan["decides"])
    _are_one(content["header_trench"], plan["stretches"])
    (said,) = (f for f in content["findings"] if f["code"] == "header_trench_differs")
    assert "given as 9 m" in said["message"]


def test_digging_is_by_the_plan_where_the_array_is_of_the_plan() -> None:
    job = JOB | {
        "ground": {"soil": "clay"},
        "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}, "header_trench": {}},
    }
    plan = answered(PATH, job)
    content = answered("/v1/groundworks", job | plan["decides"])
    dug = content["header_trench"]["length_m"]
    assert dug == pytest.approx(plan["totals"]["header_dug_m"], abs=0.01)
    assert "land" not in content
    codes = {each["code"] for each in content["findings"]}
    assert not codes & {"plan_not_taken", "header_trench_differs", "run_not_dug", "tail_not_dug"}
    slinky = {"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}}
    loop = {"name": "T", "pipe": "PE100 SDR11 32", "legs": [{"straight": {"length_m": 9}}, slinky]}
    array = {"arrangement": "manifold", "branches": [{"count": 12, "loop": loop}]}
    posted = answered("/v1/groundworks", job | {"array": array})
    assert posted["findings"][0]["code"] == "plan_not_taken"
    assert "land" in posted


def test_a_number_that_sizing_decides_is_not_told_twice(client: FlaskClient) -> None:
    job = next(e.job for e in examples_in_repository() if e.name == "quince-barn-from-load")
    job = job | {"setting_out": {"run_pipe": "PE100 SDR11 50", "loop_count": 4}}
    assert set(errors_of(client.post("/v1/designs", json=job))) == {"/setting_out/loop_count"}


# ------------------------------------------------------------------------------------------ files


def test_the_drawing_is_to_scale_and_names_every_trench_and_stretch(client: FlaskClient) -> None:
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER], "keep_outs": [OAK]})
    answer = client.post(f"{PATH}.svg", json=job)
    assert answer.mimetype == "image/svg+xml"
    root = ET.fromstring(answer.data)
    words = [element.text or "" for element in root.iter() if element.tag.endswith("text")]
    scale = int(next(re.findall(r"1:(\d+)", each)[0] for each in words if "1:" in each))
    assert {f"T{n}" for n in range(1, 13)} <= set(words)
    assert any("12 trenches of 30 m each, 360 m in all" in each for each in words)
    # 8 pairs by the chamber, which is told with its place.
    assert {"K1 oak", "C1 (33.50, 20.00)", "plant", "75 m", "40 m"} <= set(words)
    assert [each for each in words if re.fullmatch(r"H\d+: 16", each)]
    sides = [
        [tuple(map(float, point.split(","))) for point in element.attrib["points"].split()]
        for element in root.iter()
        if element.tag.endswith("polygon") and element.attrib.get("stroke-width") == "0.5"
    ]
    (boundary,) = [each for each in sides if len(each) == 4]
    # On paper: 75 m at the scale told, in mm.
    assert math.dist(boundary[0], boundary[1]) == pytest.approx(75e3 / scale, abs=0.02)


def boxes_on(page: Any) -> list[tuple[float, float]]:
    """Width and height of every upright rectangle drawn on a page of PDF [mm].

    ISO 32000-1: cm multiplies the matrix in force, q and Q keep and restore it, re draws a
    rectangle, and a unit is 1/72 inch.
    """
    matrix, kept, found = np.eye(3), [], []
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        if operator == b"q":
            kept.append(matrix)
        elif operator == b"Q":
            matrix = kept.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = map(float, operands)
            matrix = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ matrix
        elif operator == b"re":
            wide, high = np.array([*map(float, operands[2:]), 0.0]) @ matrix @ np.eye(3, 2)
            found.append((abs(wide) * 25.4 / 72.0, abs(high) * 25.4 / 72.0))
    return found


@pytest.mark.parametrize(
    ("sides", "paper", "printed"),
    [((30, 20), (297, 210), "A4"), ((75, 40), (420, 297), "A3")],
)
def test_the_plan_for_print_is_true_to_its_scale_by_its_bar(
    client: FlaskClient, sides: tuple[float, float], paper: tuple[float, float], printed: str
) -> None:
    plot = {"boundary": None, "length_m": sides[0], "width_m": sides[1], "plant_room": None}
    plot |= {"spacing_m": 3}
    job = with_(plot=plot, setting_out={"loop_count": 2, "length_m": 10})
    answer = client.post(f"{PATH}.pdf", json=job)
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    assert answer.data == client.post(f"{PATH}.pdf", json=job).data
    page, tables = PdfReader(io.BytesIO(answer.data)).pages
    listed = tables.extract_text()
    assert all(each in listed for each in ("Tails, one way", "Header trenches", "Points"))
    # A4 and A3 of ISO 216, either way round.
    size = [float(each) * 25.4 / 72.0 for each in (page.mediabox.width, page.mediabox.height)]
    assert size == pytest.approx(paper, abs=0.05)
    words = page.extract_text()
    scale = int(re.findall(rf"1:(\d+) on {printed}, printed at full size", words)[0])
    told = int(re.findall(r"^0 \d+ \d+ (\d+) m$", words, re.MULTILINE)[0])
    bar = [wide for wide, high in boxes_on(page) if high == pytest.approx(1.6, abs=0.01)]
    assert len(bar) == 4
    # A rule laid on the print reads 1000 · metres / scale millimetres.
    assert sum(bar) == pytest.approx(1e3 * told / scale, rel=1e-3)


def test_the_plan_as_dots_is_the_sheet_of_the_drawing(client: FlaskClient) -> None:
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER], "keep_outs": [OAK, HOUSE]})
    answer = client.post(f"{PATH}.png", json=job)
    assert (answer.status_code, answer.mimetype) == (200, "image/png")
    assert answer.data == client.post(f"{PATH}.png", json=job).data
    drawing = ET.fromstring(client.post(f"{PATH}.svg", json=job).data)
    text = drawing.findtext("{http://www.w3.org/2000/svg}desc")
    assert text == unquote(answer.headers["Content-Description"])
    width, height = (float(each) for each in drawing.attrib["viewBox"].split()[2:])
    dots = Image.open(io.BytesIO(answer.data))
    an_inch = dots.width / width * 25.4
    assert dots.height / height * 25.4 == pytest.approx(an_inch, rel=1e-3)

    def ink(points: list[tuple[float, float]]) -> list[int]:
        grey = np.asarray(dots.convert("L"))
        return [int(grey[int(y / 25.4 * an_inch), int(x / 25.4 * an_inch)]) for x, y in points]

    # Where the SVG has the plant's triangle and a keep-out's fill, the dots are as dark.
    plant = next(e for e in drawing.iter() if e.get("fill") == "#2b2620" and "points" in e.attrib)
    house = next(e for e in drawing.iter() if e.get("fill") == "#d4d0ca" and "points" in e.attrib)
    assert max(ink([middle_of(plant)])) < 60
    x, y = middle_of(house)  # its name stands there
    assert ink([(x, y + 1.5)]) == [pytest.approx(0xD0, abs=4)]
    assert ink([(2.0, 2.0)]) == [255]


FLOWING: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
    "duty": {"heat_kw": 8, "to_ground_c": -3, "from_ground_c": 0.5},
    "limits": {"max_deviation_percent": 3},
}


def uneven() -> Json:
    """The comb of six pairs with its chamber at one end."""
    far = {**CHAMBER, "y_m": 2.5}
    job = with_(plot={"trenches": comb(), "chambers": [far]}) | FLOWING
    job["array"] = {"arrangement": "manifold", "branches": [
        {"count": 12, "loop": {"name": "T", "pipe": "PE100 SDR11 32", "legs": [
            {"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}}]}}]}  # fmt: skip
    job["plot"]["trenches"] = [
        {**each, "loop": f"T-{number}"} for number, each in enumerate(job["plot"]["trenches"], 1)
    ]
    del job["sizing"], job["setting_out"]["loop_count"], job["setting_out"]["length_m"]
    return job


def test_a_plan_is_coloured_by_the_flows_of_the_array_that_it_decides(client: FlaskClient) -> None:
    job = uneven()
    decided = answered(PATH, job)["decides"]
    split = answered("/v1/split", {**job, "array": decided["array"]})
    off = {each["loop"]: each["deviation_percent"] for each in split["loops"]}
    assert min(off.values()) < -3 < 3 < max(off.values())
    assert any(abs(each) < 3 for each in off.values())
    plain = client.post(f"{PATH}.svg", json=job).data
    assert client.post(f"{PATH}.svg?colour=plain", json=job).data == plain
    root = ET.fromstring(client.post(f"{PATH}.svg?colour=flow", json=job).data)
    # The colours of Okabe & Ito (2008) for too little and too much, as in all pictures of flows.
    colours = {-1: "#d55e00", 0: "#b9ad98", 1: "#0072b2"}
    # Trenches come in the order of the plan, each with an edge in ink below its fill.
    lines = [each.attrib["stroke"] for each in root.iter() if each.tag.endswith("polyline")]
    filled = [each for each in lines if each in colours.values()]
    states = {loop: (each > 3) - (each < -3) for loop, each in off.items()}
    trenches = answered(PATH, job)["trenches"]
    assert filled == [colours[states[each["loop"]]] for each in trenches]
    words = " ".join(each.text or "" for each in root.iter() if each.tag.endswith("text"))
    for loop, each in off.items():
        sign = {-1: "▼", 0: "=", 1: "▲"}[states[loop]]
        number = f"{abs(each):.1f}" if abs(each) < 10 else f"{abs(each):.0f}"
        assert re.search(rf"{loop}  {sign} .{number} %", words), (loop, each)
    assert "▼ over 3 % below target" in words
    told = client.post(f"{PATH}.png?colour=flow", json=job)
    assert told.status_code == 200
    starved = sum(state == -1 for state in states.values())
    assert f"over 3 % below target {starved} (" in unquote(told.headers["Content-Description"])
    assert client.post(f"{PATH}.pdf?colour=flow", json=job).data.startswith(b"%PDF")


def test_what_has_no_flow_is_not_coloured_by_it(client: FlaskClient) -> None:
    job = uneven()
    del job["duty"]
    assert client.post(f"{PATH}.svg", json=job).status_code == 200
    assert "/duty" in errors_of(client.post(f"{PATH}.svg?colour=flow", json=job))
    narrow = with_(
        uneven(),
        plot={"trenches": None, "chambers": None, "boundary": corners((0, 0), (9, 0), (9, 40))},
    )
    narrow["plot"]["plant_room"] = {"x_m": 0, "y_m": 0}
    assert answered(PATH, narrow)["decides"] == {}
    refused = errors_of(client.post(f"{PATH}.svg?colour=flow", json=narrow))
    assert "no flow is known" in refused["/setting_out"]["detail"]


def middle_of(polygon: ET.Element) -> tuple[float, float]:
    corners = [tuple(map(float, each.split(","))) for each in polygon.attrib["points"].split()]
    return (
        sum(each[0] for each in corners) / len(corners),
        sum(each[1] for each in corners) / len(corners),
    )


def test_points_to_set_out_are_a_table_with_levels_between_those_surveyed(
    client: FlaskClient,
) -> None:
    # By hand: levels of 100 at x = 0 rising to 102 at x = 75, so 100 + 2 · 33.5 / 75 at C1.
    levels = [{"x_m": x, "y_m": y, "level_m": 100 + 2 * x / 75} for x in (0, 75) for y in (0, 40)]
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER], "levels": levels})
    rows = list(csv.DictReader(client.post(f"{PATH}.csv", json=job).text.splitlines()))
    at = {each["point"]: each for each in rows}
    assert (at["T1.2"]["x_m"], at["T1.2"]["y_m"], at["T1.2"]["belongs_to"]) == ("32.5", "2.5", "T1")
    assert float(at["C1"]["ground_level_m"]) == pytest.approx(100 + 2 * 33.5 / 75, abs=1e-3)
    assert {"P", "S1", "S4", "H1.1"} <= set(at)


def test_geojson_is_closed_rings_in_degrees_where_the_plot_has_its_place(
    client: FlaskClient,
) -> None:
    # (1000, 700) from -1.5, 52 is -1.485437258, 52.006290250: the closed form of the tangent
    # plane on WGS84, worked out apart from this code and held against pyproj.
    outer = corners((900, 600), (1000, 600), (1000, 700), (900, 700))
    plot = {"boundary": outer[::-1], "plant_room": {"x_m": 900, "y_m": 650}}
    origin = {"longitude_deg": -1.5, "latitude_deg": 52}
    found = json.loads(client.post(f"{PATH}.geojson", json=with_(plot=plot)).data)
    assert found["coordinates_are"] == "local_metres"
    answer = client.post(f"{PATH}.geojson", json=with_(plot={**plot, "origin": origin}))
    assert answer.mimetype == "application/geo+json"
    found = json.loads(answer.data)
    assert "coordinates_are" not in found
    boundary = found["features"][0]
    assert boundary["properties"]["kind"] == "boundary"
    (ring,) = boundary["geometry"]["coordinates"]
    assert ring[0] == ring[-1]
    # RFC 7946, 3.1.6: an outer ring is counter-clockwise.
    assert sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise(ring)) > 0
    assert any(p == pytest.approx([-1.485437258, 52.006290250], abs=1.1e-8) for p in ring)
    kinds = {each["properties"]["kind"] for each in found["features"]}
    assert {"trench", "header_trench", "chamber", "plant_room"} <= kinds


def test_a_dxf_drawing_holds_the_plan_in_metres_on_its_layers(client: FlaskClient) -> None:
    # Read back with ezdxf, whose audit knows the format's rules.
    drain = {"name": "a drain of clay", "line": corners((0, 36), (60, 38)), "clearance_m": 1}
    plot = {"trenches": comb(), "chambers": [CHAMBER], "keep_outs": [OAK, HOUSE, drain]}
    job = with_(plot=plot | {"levels": SLOPE})
    answer = client.post(f"{PATH}.dxf", json=job)
    assert (answer.status_code, answer.mimetype) == (200, "image/vnd.dxf")
    assert client.post(f"{PATH}.dxf", json=job).data == answer.data
    drawing = read(io.StringIO(answer.data.decode()))
    assert not drawing.audit().has_errors
    assert (drawing.units, drawing.dxfversion) == (6, "AC1024")
    space: Any = drawing.modelspace()
    (boundary,) = space.query('LWPOLYLINE[layer=="SITE"]')
    assert boundary.closed
    assert [tuple(p) for p in boundary.get_points("xy")] == [(0, 0), (75, 0), (75, 40), (0, 40)]
    centres = space.query('LWPOLYLINE[layer=="TRENCH_CENTRE"]')
    assert [math.dist(*c.get_points("xy")) for c in centres] == pytest.approx([30] * 12)
    tops = space.query('LWPOLYLINE[layer=="TRENCH"]')
    assert [shapely.Polygon(t.get_points("xy")).area for t in tops] == pytest.approx([36] * 12)
    dug = sum(
        shapely.LineString(each.get_points("xy")).length
        for each in space.query('LWPOLYLINE[layer=="HEADER"]')
    )
    assert dug == pytest.approx(25 + 12 + 33.5)  # by hand, as above
    assert sorted(p.dxf.location.z for p in space.query('POINT[layer=="LEVEL"]')) == pytest.approx(
        [50, 50, 53.75, 53.75]
    )
    texts = {text.dxf.text for text in space.query("TEXT")}
    assert {"T1", "T12", "C1", "16", "oak", "house", "a drain of clay"} <= texts
    assert {each.dxf.layer for each in space} <= set(LAYERS)


def test_a_dxf_that_cannot_be_written_says_how_to_have_it(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.resources.setting_out.is_installed", lambda: False)
    answer = client.post(f"{PATH}.dxf", json=JOB)
    assert answer.status_code == 501
    assert answer.json is not None
    assert answer.json["type"] == "/v1/problems/not-installed"


def test_a_service_may_take_fewer_corners_and_loops() -> None:
    small = create_app(Settings(max_corners=6, max_loops=5)).test_client()
    seven = small.post(PATH, json=with_(plot={"keep_outs": [HOUSE]}, setting_out={"loop_count": 5}))
    assert "EVENLOOP_MAX_CORNERS" in errors_of(seven)["/plot"]["detail"]
    many = small.post(PATH, json=JOB)
    assert list(errors_of(many)) == ["/setting_out/loop_count"]
    assert small.post(PATH, json=with_(setting_out={"loop_count": 5})).status_code == 200


def test_the_report_shows_the_plan_of_the_setting_out(client: FlaskClient) -> None:
    job = next(e.job for e in examples_in_repository() if e.name == "quince-barn-from-load")
    job = {n: v for n, v in job.items() if n not in ("pump_choice", "commissioning", "balancing")}
    page = client.post(
        "/v1/report.html", json=job | {"setting_out": {"run_pipe": "PE100 SDR11 50"}}
    )
    assert page.status_code == 200
    assert "header trench (H): pipes of tails + runs (R)" in page.text


def test_the_report_tells_what_the_setting_out_warns_of(client: FlaskClient) -> None:
    drain = {"name": "drain", "line": corners((30, 0), (30, 40)), "clearance_m": 0.5}
    job = next(e.job for e in examples_in_repository() if e.name == "quince-barn-equal-slinkies")
    job = {name: job[name] for name in ("antifreeze", "duty", "array")}
    job["plot"] = {
        "boundary": RECTANGLE,
        "plant_room": {"x_m": 75, "y_m": 20},
        "keep_outs": [drain | {"blocks": "array"}],
    }
    job["setting_out"] = {"run_pipe": "PE100 SDR11 50"}
    design = answered("/v1/designs", job)
    told = design["setting_out"]["findings"]
    page = client.post("/v1/report.html", json=job).text
    words = html.unescape(re.sub(r"<[^>]+>", "", page))
    assert told
    for each in told:
        assert re.sub(r"\s+", " ", each["message"]) in re.sub(r"\s+", " ", words)
    assert "Setting out" in page
    # Its tails take the place of the two of 25 m that are told, and the document says whose it has.
    tails = [each["length_m"] for each in design["setting_out"]["tails"]]
    pipe = [each["length_m"] for each in design["split"]["loops"]]
    given = [each["length_m"] for each in answered("/v1/split", job)["loops"]]
    by_hand = [told - 2 * 25 + 2 * tail for told, tail in zip(given, tails, strict=True)]
    assert pipe == pytest.approx(by_hand)
    assert "The array of this document has the tails and runs of this plan" in words


@pytest.mark.parametrize("across", [5.0, 6.0, 8.0, 9.0])
def test_a_trench_drawn_as_a_narrow_u_has_its_heap_outside_the_bend(
    across: float,
) -> None:
    line = ((40.0, 5.0), (40.0, 18.0), (40.0 + across, 18.0), (40.0 + across, 5.0))
    legs = [{"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}}]
    job = {
        "plot": {
            "boundary": corners((0, 0), (75, 0), (75, 40), (0, 40)),
            "plant_room": {"x_m": 0, "y_m": 20},
            "trenches": [{"loop": "T", "points": corners(*line)}],
        },
        "array": {
            "arrangement": "manifold",
            "branches": [{"loop": {"name": "T", "pipe": "PE100 SDR11 32", "legs": legs}}],
        },
        "setting_out": {"run_pipe": "PE100 SDR11 50"},
    }
    (heap,) = answered(PATH, job)["heaps"]
    assert heap["is_clear"]
    assert heap["over"] == []


SLINKY: Json = {"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1, "depth_m": 1.2}}


def loop(name: str, *legs: Json, **more: Any) -> Json:
    """A branch with a loop."""
    return {"loop": {"name": name, "pipe": "PE100 SDR11 32", "legs": list(legs)}} | more


def laid(*branches: Json, **more: Any) -> Json:
    """A job whose array is set out."""
    array = {"arrangement": "manifold", "branches": list(branches)}
    options = {"setting_out": {"run_pipe": "PE100 SDR11 63"}} | more
    return {"plot": JOB["plot"], "array": array} | options


def loops_of(content: Json) -> list[Json]:
    """Branches with loops of the array that a plan decides, from its one chamber."""
    return content["decides"]["array"]["branches"][0]["circuit"]["branches"]  # type: ignore[no-any-return]


def test_what_the_array_tells_of_ports_and_tails_is_kept_by_its_plan() -> None:
    elbows = {"kind": "elbow_90", "count": 2}
    tail = {"straight": {"length_m": 9}, "pipe": "PE100 SDR11 40", "fittings": [elbows]}
    spare = {"coiled": {"length_m": 4, "coil_diameter_m": 1}}
    job = laid(
        loop("A", tail, SLINKY, tail, spare, fittings=[{"kv_m3_h": 6}]),
        loop("B", SLINKY, runs=[{"pipe": "PE100 SDR11 40", "length_m": 12, "fittings": [elbows]}]),
        loop("C", SLINKY, closed=True),
    )
    content = answered(PATH, job)
    a, b, c = loops_of(content)
    out, _, back, coil = a["loop"]["legs"]
    assert out == back
    assert (out["pipe"], out["fittings"]) == ("PE100 SDR11 40", [elbows])
    assert coil == spare
    assert a["fittings"] == [{"kv_m3_h": 6}]
    assert b["fittings"] == [elbows]
    assert c["closed"]
    codes = {each["code"]: each["message"] for each in content["findings"]}
    assert "12 m of PE100 SDR11 40" in codes["loop_runs_not_kept"]
    again = answered(PATH, job | content["decides"])
    assert again["decides"] == content["decides"]


def test_a_balanced_array_has_its_valves_in_the_design_too() -> None:
    job = laid(loop("A", SLINKY), loop("B", SLINKY), loop("C", SLINKY))
    job |= {
        "antifreeze": {
            "kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume",
        },
        "duty": {"heat_kw": 4, "to_ground_c": -3.5, "from_ground_c": 0},
    }  # fmt: skip
    job |= answered(PATH, job)["decides"]
    for each, kv in zip(loops_of({"decides": job}), (2.0, 1.0, 3.0), strict=True):
        each["fittings"] = [{"kv_m3_h": kv}]
    chamber = job["array"]["branches"][0]
    chamber["runs"][0]["fittings"] = [{"kind": "elbow_90", "count": 4}]
    chamber["fittings"] = [{"kv_m3_h": 9}]
    split = answered("/v1/split", job)
    design = answered("/v1/designs", job)["split"]
    assert design["pump"]["head_kpa"] == pytest.approx(split["pump"]["head_kpa"], rel=1e-9)
    shares = [[each["flow_l_s"] for each in one["loops"]] for one in (split, design)]
    assert shares[0] == pytest.approx(shares[1], rel=1e-9)
    # Other pipe in the runs is asked of the plan too, which would lay its own again.
    ways = answered("/v1/balancing", job | {"limits": {"max_deviation_percent": 0.1}})["ways"]
    (wide,) = [each["decides"] for each in ways if each["way"] == "larger_headers"]
    head = answered("/v1/split", job | wide)["pump"]["head_kpa"]
    design = answered("/v1/designs", job | wide)["split"]
    assert design["pump"]["head_kpa"] == pytest.approx(head, rel=1e-9)
    assert head < split["pump"]["head_kpa"]


@pytest.mark.parametrize(
    "legs",
    [
        [{"slinky": SLINKY["slinky"] | {"returns_alongside": False}}],
        [
            {"slinky": SLINKY["slinky"] | {"returns_alongside": False}},
            {"straight": {"length_m": 30}},
        ],
        [{"trench": {"length_m": 30, "passes": 1, "depth_m": 1.2}}],
        [{"trench": {"length_m": 30, "passes": 3, "depth_m": 1.2}}],
    ],
)
def test_a_loop_that_ends_at_the_far_end_of_its_trench_has_pipe_back(legs: list[Json]) -> None:
    content = answered(PATH, laid(*(loop(name, *legs) for name in "AB")))
    tails = {each["loop"]: each["length_m"] for each in content["tails"]}
    for branch in loops_of(content):
        *_, last = branch["loop"]["legs"]
        # By hand: back along 30 m of trench, then the tail.
        tail = tails[branch["loop"]["name"]]
        assert last["straight"]["length_m"] == pytest.approx(30 + tail, abs=1e-3)
    codes = {each["code"]: each["message"] for each in content["findings"]}
    assert "30.0 m of straight pipe back" in codes["return_laid_back"]


POND_LOAD: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 30, "basis": "volume"},
    "heat": {
        "output_kw": 12,
        "seasonal_performance": 3.6,
        "heating_h": 2000,
        "temperature_change_k": 3.5,
    },
    "ground": {
        "soil": "clay",
        "moisture": "usual",
        "surface": {"mean_c": 10.3, "swing_k": 7.5},
        "min_water_c": 3,
    },
    "sizing": {"array_kind": {"pond_mat": {"pipe": "PE100 SDR11 32"}}, "tail_m": 12},
    "plot": {
        "boundary": corners((0, 0), (60, 0), (60, 40), (0, 40)),
        "water": corners((20, 5), (55, 5), (55, 35), (20, 35)),
        "plant_room": {"x_m": 0, "y_m": 20},
    },
    "setting_out": {"run_pipe": "PE100 SDR11 50"},
}
FIELD_LOAD: Json = POND_LOAD | {
    "heat": POND_LOAD["heat"] | {"output_kw": 44},
    "plot": {"length_m": 60, "width_m": 40},
    "sizing": {
        "array_kind": {
            "borehole": {
                "pipe": "PE100 SDR11 40",
                "diameter_mm": 140,
                "grout_conductivity_w_m_k": 1.5,
                "pipe_offset_mm": 36,
            }
        }
    },
}


@pytest.mark.parametrize("job", [POND_LOAD, FIELD_LOAD], ids=["mats", "boreholes"])
def test_the_array_that_a_sizing_sets_out_keeps_its_names_when_it_is_set_out(job: Json) -> None:
    """Its loops are listed by chambers, and places are named one after the other."""
    sized = answered("/v1/sizing", job)["decides"]["array"]
    assert [len(each["circuit"]["branches"]) > 1 for each in sized["branches"]] == [True, True]
    content = answered(PATH, job | {"array": sized})
    assert "circuits_not_kept" not in {each["code"] for each in content["findings"]}
    again = content["decides"]["array"]["branches"]
    for one, other in zip(sized["branches"], again, strict=True):
        ours, theirs = (
            [each["loop"] for each in branch["circuit"]["branches"]] for branch in (one, other)
        )
        assert [each["name"] for each in ours] == [each["name"] for each in theirs]
        for a, b in zip(ours, theirs, strict=True):
            tails = [each["legs"][0]["straight"]["length_m"] for each in (a, b)]
            assert tails[0] == pytest.approx(tails[1], abs=0.01)  # as rounded


def test_mats_in_series_are_refused_with_the_way_to_one_mat_a_loop(
    client: FlaskClient,
) -> None:
    alone = {part: told for part, told in POND_LOAD.items() if part != "setting_out"}
    sized = answered("/v1/sizing", alone)["decides"]
    job = POND_LOAD | sized
    (error,) = errors_of(client.post(PATH, json=job)).values()
    assert "size again, and take the array that it decides" in error["detail"]
    again = job | answered("/v1/sizing", job)["decides"]
    assert answered(PATH, again)["decides"]["array"]


def test_circuits_and_runs_that_a_plan_makes_otherwise_are_told() -> None:
    elbows = [{"kind": "elbow_90", "count": 4}]
    array = {
        "arrangement": "manifold",
        "branches": [
            {
                "runs": [{"pipe": "PE100 SDR11 50", "length_m": 20, "fittings": elbows}],
                "circuit": {
                    "name": name,
                    "arrangement": "manifold",
                    "branches": [loop(f"{name}{n}", SLINKY) for n in (1, 2)],
                },
            }
            for name in ("N", "S")
        ],
    }
    content = answered(PATH, laid() | {"array": array})
    codes = {each["code"]: each["message"] for each in content["findings"]}
    assert "2 circuits of its own (N and S)" in codes["circuits_not_kept"]
    assert "not the fittings" in codes["circuits_not_kept"]
    one = array | {"branches": array["branches"][:1]}
    content = answered(PATH, laid() | {"array": one})
    codes = {each["code"]: each["message"] for each in content["findings"]}
    assert "circuits_not_kept" not in codes
    assert "leads PE100 SDR11 50 to" in codes["run_pipe_differs"]
    (run,) = content["decides"]["array"]["branches"][0]["runs"]
    assert (run["pipe"], run["fittings"]) == ("PE100 SDR11 63", elbows)


def test_a_trench_drawn_longer_than_its_loop_is_told() -> None:
    trench = {"loop": "A", "points": corners((5, 5), (45, 5))}
    job = laid(loop("A", SLINKY))
    content = answered(PATH, with_(job, plot={"trenches": [trench]}))
    (said,) = [f for f in content["findings"] if f["code"] == "trench_longer_than_loop"]
    assert "drawn 40.0 m long and its loop takes 30.0 m" in said["message"]
    # One length in plan, digging and limit, by hand: 40 m as drawn, 1.2 m wide and 1.3 m deep; its
    # loop takes less than the 39 m that can be dug.
    job = with_(job, plot={"trenches": [trench], "max_trench_m": 39}) | {
        "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}}, "ground": {"soil": "clay"},
    }  # fmt: skip
    plan = answered(PATH, job)
    assert plan["totals"]["trench_m"] == pytest.approx(40)
    assert "site_too_small" in [each["code"] for each in plan["findings"]]
    dug = answered("/v1/groundworks", job | plan["decides"])
    assert dug["loop_trenches"]["length_m"] == pytest.approx(40)
    assert dug["loop_trenches"]["dug_m3"] == pytest.approx(40 * 1.2 * 1.3)
    assert "site_too_small" in [each["code"] for each in dug["findings"]]


def slinkies(name: str, count: int = 1) -> Json:
    """A branch of equal loops, each with 25 coils in a trench."""
    coils = {"slinky": {"coils": 25, "coil_diameter_m": 1, "pitch_m": 1, "depth_m": 1.2}}
    tail = {"straight": {"length_m": 5}}
    loop = {"name": name, "pipe": "PE100 SDR11 32", "legs": [tail, coils, tail]}
    return {"loop": loop, "count": count}


def circuit_branch(name: str, *loops: Json, count: int = 1) -> Json:
    circuit = {"name": name, "arrangement": "manifold", "branches": list(loops)}
    runs = [{"pipe": "PE100 SDR11 63", "length_m": 10}]
    return {"circuit": circuit, "runs": runs, "count": count}


def of_array(*branches: Json) -> Json:
    """A job that sets an array of its own out, in chambers of up to four loops."""
    fluid = {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "mass"}
    return {
        "plot": JOB["plot"],
        "setting_out": {"run_pipe": "PE100 SDR11 63", "max_chamber_loops": 4},
        "antifreeze": fluid,
        "duty": {"flow_l_s": 1.2, "to_ground_c": -1, "from_ground_c": 2},
        "array": {"arrangement": "manifold", "branches": list(branches)},
    }


@pytest.mark.parametrize(
    "branches",
    [
        [circuit_branch(n, slinkies("1"), slinkies("2", 2)) for n in ("North", "South")],
        [circuit_branch("Z", slinkies("T", 3), count=2)],
        [slinkies(f"{n}/8") for n in range(1, 9)],
    ],
    ids=["names of two circuits alike", "equal circuits", "names with a stroke"],
)
def test_what_a_plan_decides_is_posted_again_whatever_loops_are_called(
    branches: list[Json],
) -> None:
    # The rule of docs: job |= decides goes on, and what a plan decides is the very same plan.
    job = of_array(*branches)
    first = answered(PATH, job)
    again = answered(PATH, job | first["decides"])
    assert again["decides"] == first["decides"]
    assert again["trenches"] == first["trenches"]


def test_shares_and_meters_go_on_under_the_names_that_loops_had_before_the_plan() -> None:
    # A plan of two chambers calls N/A and N/B C1/A and C1/B or C2/A and C2/B.
    job = of_array(*(circuit_branch(n, slinkies(f"{n}1"), slinkies(f"{n}2")) for n in "NF"))
    job["setting_out"]["max_chamber_loops"] = 2
    shares = {"N/N1": 1.0, "N/N2": 1.0, "F/F1": 2.0, "F/F2": 2.0}
    told = [{"loop": loop, "share": share} for loop, share in shares.items()]
    read = [{"loop": loop, "flow_l_min": 12 * share} for loop, share in shares.items()]
    job |= {
        "balancing": {"target": "shares", "shares": told},
        "commissioning": {"filling": {"filling_c": 10}, "flow_meters": {"readings": read}},
    }
    for posted in (job, job | answered(PATH, job)["decides"]):
        content = answered("/v1/designs", posted)
        wanted = {e["loop"]: e["target_flow_l_s"] for e in content["split"]["loops"]}
        for loop, share in shares.items():
            (flow,) = [f for name, f in wanted.items() if name.endswith(loop[-2:])]
            assert flow == pytest.approx(1.2 * share / 6.0, rel=1e-4)  # told to four figures
        meters = content["commissioning"]["flow_meters"]
        shown = {each["loop"][-2:]: each["reading_l_min"] for each in meters}
        assert shown == {name[-2:]: 12 * share for name, share in shares.items()}


def test_a_share_of_a_loop_that_there_is_not_is_refused_with_the_names_that_there_are(
    client: FlaskClient,
) -> None:
    job = of_array(slinkies("A"), slinkies("B"))
    told = [{"loop": loop, "share": 1} for loop in ("A", "B", "X/Y")]
    job["balancing"] = {"target": "shares", "shares": told}
    error = errors_of(client.post("/v1/designs", json=job))["/balancing/shares"]
    assert error["allowed"] == "names of its loops: A, B"


def test_header_trenches_hold_the_tails_own_pipe_in_plan_and_groundworks_alike() -> None:
    # Four loops of 32 mm with tails of 63 mm at one chamber; the formula by hand for k pairs:
    # k 0.063 + (k - 1) 0.05 + 0.2, 0.5 m at the least; pipe of pi/4 0.063² a metre of every tail.
    tail = {"straight": {"length_m": 5}, "pipe": "PE100 SDR11 63"}
    branch = slinkies("T", 4)
    branch["loop"]["legs"] = [tail, branch["loop"]["legs"][1], tail]
    job = of_array(branch) | {
        "ground": {"soil": "clay"}, "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}},
    }  # fmt: skip
    plan = answered(PATH, job)
    for each in plan["stretches"]:
        pairs = each["pipe_count"] / 2
        floor = max(0.5, pairs * 0.063 + (pairs - 1) * 0.05 + 0.2)
        assert each["floor_width_m"] == pytest.approx(floor, abs=1e-4)
    dug = answered("/v1/groundworks", job | plan["decides"])["header_trench"]
    metres = 2.0 * (plan["totals"]["tails_m"] + plan["totals"]["runs_m"])
    assert dug["pipe_m3"] == pytest.approx(math.pi / 4 * 0.063**2 * metres, rel=1e-4)


def test_legs_of_a_tail_keep_their_order_and_pipe_and_share_its_length_as_told() -> None:
    # By hand: 12 m and 8 m are 0.6 and 0.4 of the plan's tail; the coil stays between trench and
    # tail, so that no joint is added.
    elbow = {"fittings": [{"kind": "elbow_90"}]}
    branch = slinkies("T", 2)
    _, coils, _ = branch["loop"]["legs"]
    spare = {"coiled": {"length_m": 15.0, "coil_diameter_m": 1.0}}
    wide = {"pipe": "PE100 SDR11 40"}
    branch["loop"]["legs"] = [
        {"straight": {"length_m": 12}} | wide | elbow, {"straight": {"length_m": 8}},
        coils, spare, {"straight": {"length_m": 12}} | wide,
    ]  # fmt: skip
    job = of_array(branch)
    content = answered(PATH, job)
    tails = {each["loop"]: each["length_m"] for each in content["tails"]}
    for each in loops_of(content):
        legs, tail = each["loop"]["legs"], tails[each["loop"]["name"]]
        assert [next(iter(leg)) for leg in legs] == [
            "straight", "straight", "slinky", "coiled", "straight",
        ]  # fmt: skip
        assert [leg.get("pipe") for leg in legs] == [wide["pipe"], None, None, None, wide["pipe"]]
        lengths = [leg["straight"]["length_m"] for leg in legs if "straight" in leg]
        assert lengths == pytest.approx([0.6 * tail, 0.4 * tail, tail], abs=1e-3)
        assert (legs[0]["fittings"], legs[3]) == (elbow["fittings"], spare)
    assert answered(PATH, job | content["decides"])["decides"] == content["decides"]


def test_straight_pipe_that_joins_two_slinkies_lies_and_is_dug_in_their_trench() -> None:
    # By hand: 15 + 20 + 15 m of trench, 1.2 m wide and 1.3 m deep, for each of two loops, and no
    # more pipe than that of the same loops without a plan: 5.14 m a coil with its return, 20 m.
    branch = slinkies("T", 2)
    coils = {"slinky": {"coils": 15, "coil_diameter_m": 1, "pitch_m": 1, "depth_m": 1.2}}
    tail = {"straight": {"length_m": 5}}
    branch["loop"]["legs"] = [tail, coils, {"straight": {"length_m": 20}}, coils, tail]
    job = of_array(branch) | {
        "ground": {"soil": "clay"}, "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}},
    }  # fmt: skip
    plan = answered(PATH, job)
    assert [each["length_m"] for each in plan["trenches"]] == pytest.approx([50, 50])
    assert "trench_longer_than_loop" not in [each["code"] for each in plan["findings"]]
    dug = answered("/v1/groundworks", job | plan["decides"])["loop_trenches"]
    assert dug["dug_m3"] == pytest.approx(2 * 50 * 1.2 * 1.3)
    pipe = 2 * (30 * (math.pi + 2) + 20) * math.pi / 4 * 0.032**2
    assert dug["pipe_m3"] == pytest.approx(pipe, rel=1e-4)


def test_pipe_laid_back_along_its_trench_is_pipe_of_that_trench() -> None:
    # By hand: 25 coils of 1 m with no return use 25 (pi + 1) m, and 25 m are laid back.
    branch = slinkies("T")
    branch["loop"]["legs"][1]["slinky"]["returns_alongside"] = False
    job = of_array(branch) | {
        "ground": {"soil": "clay"}, "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}},
    }  # fmt: skip
    dug = answered("/v1/groundworks", job | answered(PATH, job)["decides"])["loop_trenches"]
    pipe = 25 * (math.pi + 2) * math.pi / 4 * 0.032**2
    assert dug["pipe_m3"] == pytest.approx(pipe, rel=1e-4)


def test_the_fewest_loops_reach_the_total_with_whole_coils() -> None:
    # By hand, 15.9 m at the most and coils 1.6 m apart: 9 coils, 14.4 m, so ceil(100 / 14.4) = 7
    # loops of ceil(100 / 7 / 1.6) = 9 coils: 100.8 m. Rounded down they were 89.6 m.
    kind = {"slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "pitch_m": 1.6}}
    told = {"loop_count": None, "length_m": None, "total_m": 100, "max_length_m": 15.9}
    content = answered(PATH, with_(sizing={"array_kind": kind}, setting_out=told))
    coils = [
        leg["slinky"]["coils"]
        for branch in loops_of(content) for leg in branch["loop"]["legs"] if "slinky" in leg
    ]  # fmt: skip
    assert coils == [9] * 7
    assert content["totals"]["trench_m"] == pytest.approx(100.8)
    assert "trench_longer_than_loop" not in [each["code"] for each in content["findings"]]


def test_what_coils_leave_of_a_length_told_is_told_and_a_total_not_reached_decides_nothing() -> (
    None
):
    # By hand: 8.9 m hold two coils 3 m apart, 6 m: 6 x 2.9 = 17.4 m of 53.4 m gather no heat.
    kind = {"slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "pitch_m": 3}}
    job = with_(sizing={"array_kind": kind}, setting_out={"loop_count": 6, "length_m": 8.9})
    (said,) = [
        each for each in answered(PATH, job)["findings"]
        if each["code"] == "trench_longer_than_loop"
    ]  # fmt: skip
    assert "17.4 m of 53.4 m are dug and gather no heat" in said["message"]
    told = {"loop_count": None, "length_m": None, "total_m": 4000}
    content = answered(PATH, with_(setting_out=told))
    assert "does_not_fit" in [each["code"] for each in content["findings"]]
    assert "array" not in content["decides"]


def coiled(metres: float, coil_m: float = 1.0) -> Json:
    """The array of the comb, the first of its loops with spare pipe in a coil."""
    job = with_(plot={"trenches": comb(), "chambers": [CHAMBER]})
    array = answered(PATH, job)["decides"]["array"]
    held = next(each for each in array["branches"][0]["circuit"]["branches"])
    held["loop"]["legs"].append({"coiled": {"length_m": metres, "coil_diameter_m": coil_m}})
    return {**{n: job[n] for n in ("name", "plot", "setting_out")}, "array": array}


def test_spare_pipe_in_coils_has_its_pit_on_the_plan_and_in_every_file(client: FlaskClient) -> None:
    # By hand: 25 m in turns of pi m are 8, three high: 1 m and three pipes of 32 mm across.
    job = coiled(25)
    content = answered(PATH, job)
    (pit,) = content["spare_pits"]
    assert (pit["loop"], pit["side_m"]) == ("T1", pytest.approx(1 + 3 * 0.032))
    square = shapely.Polygon([(each["x_m"], each["y_m"]) for each in pit["points"]])
    assert square.area == pytest.approx(1.096**2, rel=1e-3)
    tail = next(each for each in content["tails"] if each["loop"] == "T1")
    way = shapely.LineString([(each["x_m"], each["y_m"]) for each in tail["points"]])
    assert square.distance(way) == pytest.approx(0.25, abs=5e-3)
    for each in content["trenches"]:
        line = shapely.LineString([(at["x_m"], at["y_m"]) for at in each["points"]])
        assert square.distance(line.buffer(0.6, cap_style="flat")) >= 0.5 - 5e-3
    assert "no_room_for_spare" not in [each["code"] for each in content["findings"]]
    # What it decides, posted again, has the very same pit.
    assert answered(PATH, job | content["decides"])["spare_pits"] == content["spare_pits"]
    corner = pit["points"][0]
    drawn = client.post(f"{PATH}.svg", json=job).text
    assert "T1 spare" in drawn
    assert "1 pit of spare pipe" in drawn
    table = [*csv.DictReader(io.StringIO(client.post(f"{PATH}.csv", json=job).text))]
    rows = [each for each in table if each["kind"] == "spare_pit"]
    assert [each["point"] for each in rows] == ["R1.1", "R1.2", "R1.3", "R1.4"]
    assert float(rows[0]["x_m"]) == pytest.approx(corner["x_m"], abs=1e-3)
    features = client.post(f"{PATH}.geojson", json=job).get_json(force=True)["features"]
    (feature,) = [each for each in features if each["properties"]["kind"] == "spare_pit"]
    assert feature["properties"]["loop"] == "T1"
    (ring,) = feature["geometry"]["coordinates"]
    assert shapely.Polygon(ring).symmetric_difference(square).area < 1e-2
    dxf = read(io.StringIO(client.post(f"{PATH}.dxf", json=job).text))
    assert len(dxf.modelspace().query('LWPOLYLINE[layer=="PIT"]')) == 1


def test_the_pit_of_spare_pipe_is_dug_with_the_header_trench() -> None:
    job = coiled(25) | {"ground": {"soil": "clay"}}
    job |= {"groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}}}
    bare = copy.deepcopy(job)
    bare["array"]["branches"][0]["circuit"]["branches"][0]["loop"]["legs"].pop()
    dug, without = (
        answered("/v1/groundworks", each | answered(PATH, each)["decides"]) for each in (job, bare)
    )
    more = dug["header_trench"]["dug_m3"] - without["header_trench"]["dug_m3"]
    assert more == pytest.approx(1.096**2 * 1.2, rel=1e-3)  # by hand: a square 1.2 m deep
    (said,) = [each for each in dug["findings"] if each["code"] == "spare_coils_room"]
    assert "drawn on the plan" in said["message"]
    assert "Find the room" not in said["message"]


def test_spare_pipe_that_has_no_room_is_told_with_what_to_do(client: FlaskClient) -> None:
    content = answered(PATH, coiled(200, 9))
    assert content["spare_pits"] == []
    (said,) = [each for each in content["findings"] if each["code"] == "no_room_for_spare"]
    assert said["severity"] == "error"
    assert "Spare pipe of T1 takes a pit" in said["message"]
    assert "even out with valves" in said["message"]
    assert (
        "no room for 1 of 1 pit of spare pipe"
        in client.post(f"{PATH}.svg", json=coiled(200, 9)).text
    )
    # Of two, one has room: the sheet tells how many are needed, and how many it lacks.
    both = coiled(200, 9)
    own = both["array"]["branches"][0]["circuit"]["branches"][1]["loop"]["legs"]
    own.append({"coiled": {"length_m": 25, "coil_diameter_m": 1}})
    assert "no room for 1 of 2 pits of spare pipe" in client.post(f"{PATH}.svg", json=both).text


def test_spare_pipe_that_balancing_decides_has_its_pits_in_the_design() -> None:
    job = with_(
        plot={"trenches": comb(), "chambers": [{"name": "C1", "x_m": 33.5, "y_m": 1.5}]},
        balancing={"take": "spare_pipe"},
        limits={"max_deviation_percent": 1},
    )
    array = answered(PATH, {n: v for n, v in job.items() if n != "balancing"})["decides"]["array"]
    fluid = {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"flow_l_s": 1.5, "to_ground_c": -3, "from_ground_c": 0},
    }
    made = {n: v for n, v in job.items() if n != "sizing"} | {"array": array, **fluid}
    content = answered("/v1/designs", made)
    pits = {each["loop"] for each in content["setting_out"]["spare_pits"]}
    lacking = [e["message"] for e in content["setting_out"]["findings"]
               if e["code"] == "no_room_for_spare"]  # fmt: skip
    legs = {
        branch["loop"]["name"]: branch["loop"]["legs"]
        for branch in content["decides"]["array"]["branches"][0]["circuit"]["branches"]
    }
    spare = {name for name, own in legs.items() if any("coiled" in leg for leg in own)}
    assert len(spare) > 1
    assert spare == pits | {name for name in legs if any(f"of {name} takes" in m for m in lacking)}


def test_a_plan_near_the_boundary_says_so_in_setting_out_and_groundworks_alike() -> None:
    # By hand: the comb's first row, y = 2.5, 1 m from a boundary drawn at y = 1.5.
    boundary = corners((0, 1.5), (75, 1.5), (75, 40), (0, 40))
    near = {"boundary": boundary, "trenches": comb(), "chambers": [CHAMBER], "border_m": 1}
    job = with_(plot=near) | {
        "ground": {"soil": "clay"}, "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}},
    }  # fmt: skip
    plan = answered(PATH, job)
    for content in (plan, answered("/v1/groundworks", job | plan["decides"])):
        (said,) = [f["message"] for f in content["findings"] if f["code"] == "border_small"]
        assert said.startswith("T1 (and 1 more) comes to 1.00 m from the boundary")
    far = answered(PATH, with_(plot={"trenches": comb(), "chambers": [CHAMBER]}))
    assert "border_small" not in [each["code"] for each in far["findings"]]


@pytest.mark.parametrize("way", ["larger_headers", "other_loop_pipe"])
def test_a_way_to_balance_that_changes_pipe_changes_what_the_plan_lays_and_digs(way: str) -> None:
    # One model: the design's own chapters are those of the job that it decides, posted again.
    job = laid(loop("A", SLINKY), loop("B", SLINKY), loop("C", SLINKY)) | {
        "setting_out": {"run_pipe": "PE100 SDR11 40"},
        "antifreeze": {
            "kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume",
        },
        "duty": {"heat_kw": 4, "to_ground_c": -3.5, "from_ground_c": 0},
        "limits": {"max_deviation_percent": 0.1},
        "balancing": {"take": way},
        "ground": {"soil": "clay"},
        "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.3}},
    }  # fmt: skip
    first = answered("/v1/designs", job)
    again = answered("/v1/designs", job | first["decides"])
    assert again["split"]["pump"]["head_kpa"] == pytest.approx(
        first["split"]["pump"]["head_kpa"],
        rel=1e-5,  # told to six figures
    )
    pipe = first["groundworks"]["header_trench"]["pipe_m3"]
    assert again["groundworks"]["header_trench"]["pipe_m3"] == pytest.approx(pipe, rel=1e-5)
    plain = answered("/v1/designs", job | {"balancing": {}})
    assert plain["groundworks"]["header_trench"]["pipe_m3"] != pytest.approx(pipe, rel=1e-3)
    told = first["decides"].get("setting_out", job["setting_out"])["run_pipe"]
    runs = {run["pipe"] for each in first["decides"]["array"]["branches"] for run in each["runs"]}
    assert runs == {told}


POND = corners((15, 12), (40, 10), (44, 30), (30, 36), (14, 28))
MATS: Json = {
    "name": "Coot Mere (invented)",
    "plot": {"boundary": corners((0, 0), (50, 0), (50, 40), (0, 40)), "water": POND,
             "plant_room": {"x_m": 5, "y_m": 5}},
    "sizing": {"array_kind": {"pond_mat": {"pipe": "PE100 SDR11 32", "inner_diameter_m": 0.8,
                                           "outer_diameter_m": 3, "spacing_m": 0.15}}},
    "setting_out": {"run_pipe": "PE100 SDR11 63", "loop_count": 10},
}  # fmt: skip


def mat_legs(count: int = 1) -> list[Json]:
    size = {"inner_diameter_m": 0.8, "outer_diameter_m": 3, "spacing_m": 0.15, "count": count}
    return [{"pond_mat": size}]


def test_mats_have_their_places_and_sizes_in_the_answer_and_in_every_file(
    client: FlaskClient,
) -> None:
    content = answered(PATH, MATS)
    water = shapely.Polygon([(each["x_m"], each["y_m"]) for each in POND])
    at = {each["loop"]: (each["x_m"], each["y_m"]) for each in content["mats"]}
    assert list(at) == [f"M{n + 1}" for n in range(10)]
    assert {each["diameter_m"] for each in content["mats"]} == {3}
    for place in at.values():
        # By hand: half of 3 m and a metre of bank; and a metre between two mats.
        assert water.contains(shapely.Point(place))
        assert water.exterior.distance(shapely.Point(place)) >= 2.5 - 2e-3
    assert all(math.dist(a, b) >= 4 - 2e-3 for a, b in itertools.combinations(at.values(), 2))
    assert content["trenches"] == content["boreholes"] == []
    assert content["totals"]["in_water_m"] > 0
    assert any("water" in each for each in content["cautions"])
    sheet = client.post(f"{PATH}.svg", json=MATS).text
    assert sheet.count("<circle") >= 10
    # Its key tells what lies on it, and nothing else.
    in_key = {
        words: words in sheet
        for words in ("mat in the water", "pipe in the water, not dug", "trench, width", "borehole")
    }
    assert list(in_key.values()) == [True, True, False, False]
    table = [*csv.DictReader(io.StringIO(client.post(f"{PATH}.csv", json=MATS).text))]
    assert [each["point"] for each in table if each["kind"] == "mat"] == list(at)
    drawing: Any = read(io.StringIO(client.post(f"{PATH}.dxf", json=MATS).text)).modelspace()
    for layer, told in (("IN_WATER", "in_water_m"), ("HEADER", "header_dug_m")):
        drawn = [
            shapely.LineString(each.get_points("xy"))
            for each in drawing.query(f'LWPOLYLINE[layer=="{layer}"]')
        ]
        assert sum(each.length for each in drawn) == pytest.approx(
            content["totals"][told], rel=1e-3
        )
    # What it decides, posted again, is the very same plan.
    again = answered(PATH, {n: MATS[n] for n in ("name", "setting_out")} | content["decides"])
    for name in ("mats", "chambers", "tails", "runs", "stretches"):
        assert again[name] == content[name], name
    # With the places alone, and the kind, it is too.
    plot = content["decides"]["plot"]
    by_kind = answered(PATH, MATS | {"plot": plot})
    assert by_kind["tails"] == content["tails"]


def test_groundworks_digs_what_leads_to_mats_by_the_plan() -> None:
    job = {"name": MATS["name"], "setting_out": MATS["setting_out"], "groundworks": {}}
    job |= {"ground": {"soil": "clay"}} | answered(PATH, MATS)["decides"]
    plan, dug = answered(PATH, job), answered("/v1/groundworks", job)
    assert dug["pond_mats"]["count"] == 10
    assert dug["header_trench"]["length_m"] == pytest.approx(plan["totals"]["header_dug_m"], 1e-4)
    assert "pipe_not_dug" not in [each["code"] for each in dug["findings"]]


def test_an_origin_far_from_the_plot_and_two_levels_of_one_place_are_refused(
    client: FlaskClient,
) -> None:
    # By hand: hypot(612, 190) is 641 km; 20 km is what the plane at the origin is good for.
    def at(x: float, y: float) -> Json:
        ring = [each | {"x_m": each["x_m"] + x, "y_m": each["y_m"] + y} for each in RECTANGLE]
        return {"boundary": ring, "plant_room": {"x_m": x, "y_m": y + 20}}

    origin = {"longitude_deg": -1.5, "latitude_deg": 52.0}
    far = with_(plot=at(612_000, 190_000) | {"origin": origin})
    for path in (PATH, f"{PATH}.geojson"):
        errors = errors_of(client.post(path, json=far))
        assert errors.keys() == {"/plot/origin"}
        assert "641 km" in errors["/plot/origin"]["detail"]
    assert answered(PATH, with_(plot=at(612_000, 190_000)))["trenches"]
    assert answered(PATH, with_(plot=at(12_000, 9_000) | {"origin": origin}))["trenches"]

    twice = [*SLOPE, {"x_m": 75, "y_m": 40, "level_m": 55}]
    errors = errors_of(client.post(PATH, json=with_(plot={"levels": twice})))
    assert errors.keys() == {"/plot/levels/4"}
    assert "told at 53.75 and at 55 m" in errors["/plot/levels/4"]["detail"]
    assert answered(PATH, with_(plot={"levels": [*SLOPE, SLOPE[3]]}))["levels"]


def test_boreholes_in_series_in_one_loop_are_refused_as_mats_are(client: FlaskClient) -> None:
    # By hand: 3 loops of 2 holes are 6 holes, of which a plan had the places of 3.
    way, hole = {"straight": {"length_m": 2}}, {"borehole": {"depth_m": 50}}
    loop = {"name": "B", "pipe": "PE100 SDR11 32", "legs": [way, hole, way, hole, way]}
    branches = [{"count": 3, "loop": loop}]
    job = {"name": "Series (invented)", "setting_out": {"run_pipe": "PE100 SDR11 50"}}
    job |= {"array": {"arrangement": "manifold", "branches": branches}}
    job |= {"plot": {"length_m": 40, "width_m": 30}}
    errors = errors_of(client.post(PATH, json=job))
    assert errors.keys() == {"/array/branches/0/loop/legs"}
    assert "2 boreholes one after the other" in str(errors)
    loop["legs"] = [way, hole, way]
    assert answered(PATH, job)["totals"]["drilled_m"] == 150


def test_mats_of_an_array_keep_its_names_and_those_that_cannot_be_are_refused(
    client: FlaskClient,
) -> None:
    held = [
        {"loop": {"name": name, "pipe": "PE100 SDR11 32", "legs": mat_legs()}} for name in "XYZ"
    ]
    array = {"arrangement": "manifold", "branches": held}
    base = {n: MATS[n] for n in ("name", "plot")} | {"array": array}
    base["setting_out"] = {"run_pipe": "PE100 SDR11 63"}
    content = answered(PATH, base)
    assert [each["loop"] for each in content["mats"]] == ["X", "Y", "Z"]

    def pointers(job: Json) -> set[str]:
        return set(errors_of(client.post(PATH, json=job)))

    ashore = with_(base, plot={"mats": [{"loop": n, "x_m": 20 + 5 * k, "y_m": 20}
                                        for k, n in enumerate("XY")]
                               + [{"loop": "Z", "x_m": 5, "y_m": 30}]})  # fmt: skip
    assert any(each.startswith("/plot/mats/2") for each in pointers(ashore))
    lacks = with_(base, plot={"mats": [{"loop": "X", "x_m": 20, "y_m": 20}]})
    assert pointers(lacks) == {"/plot/mats"}
    dry = with_(base, plot={"water": None})
    assert pointers(dry) == {"/plot/water"}
    two = copy.deepcopy(base)
    two["array"]["branches"][0]["loop"]["legs"] = mat_legs(2)
    assert pointers(two) == {"/array/branches/0/loop/legs"}
    assert pointers(with_(MATS, setting_out={"length_m": 30})) == {"/setting_out/length_m"}
    assert pointers(with_(MATS, setting_out={"loop_count": None}, plot={"mats": None}))
    assert pointers(with_(MATS, plot={"spacing_m": 3.1})) == {"/plot/spacing_m"}


def test_a_design_from_a_load_sets_its_mats_out_in_the_water() -> None:
    mallard = next(e for e in examples_in_repository() if e.name == "mallard-pool-from-load")
    job = copy.deepcopy(mallard.job)
    job["plot"] = MATS["plot"]
    job["setting_out"] = {"run_pipe": "PE100 SDR11 63"}
    content = answered("/v1/designs", job)
    mats = content["setting_out"]["mats"]
    assert len(mats) == content["sizing"]["loop_count"] > 1
    assert len(content["decides"]["plot"]["mats"]) == len(mats)


def shut_in(**told: Any) -> Json:
    """Boreholes about a plant room, whose places were such that no header trench led from it."""
    loop = {
        "name": "B", "pipe": "PE100 SDR11 32",
        "legs": [{"straight": {"length_m": 2}},
                 {"borehole": {"depth_m": 100, "u_tubes": 1, "diameter_mm": 150}},
                 {"straight": {"length_m": 2}}],
    }  # fmt: skip
    return {
        "plot": {"border_m": 2.5, "spacing_m": 6} | told["plot"],
        "array": {"arrangement": "manifold", "branches": [{"count": told["count"], "loop": loop}]},
        "setting_out": {"run_pipe": "PE100 SDR11 50"} | told["setting_out"],
        "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.2}} | told.get("groundworks", {}),
    }


def around(*corners: tuple[float, float]) -> list[Json]:
    return [{"x_m": x, "y_m": y} for x, y in corners]


WIDE = {"header_trench": {"width_m": 0.8, "depth_m": 1.2}}
SHUT_IN = {
    "in the open": shut_in(
        plot={"boundary": around((0, 0), (62.741, 0), (62.741, 27), (0, 27)),
              "plant_room": {"x_m": 38.0, "y_m": 17.0}},
        count=7, groundworks=WIDE,
        setting_out={"chamber_place": "least_pipe", "max_chamber_loops": 3},
    ),
    "in a corner": shut_in(
        plot={"boundary": around((0, 0), (75.847, 5.959), (75.568, 64.586), (3.643, 64.586)),
              "plant_room": {"x_m": 0, "y_m": 0}, "border_m": 1.5,
              "keep_outs": [{"name": "tree", "centre": {"x_m": 25.764, "y_m": 13.579},
                             "radius_m": 0.66, "clearance_m": 2}]},
        count=5, setting_out={"chamber_place": "least_digging", "max_chamber_loops": 3},
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SHUT_IN)
def test_boreholes_do_not_shut_the_plant_room_in(case: str) -> None:
    content = answered(PATH, SHUT_IN[case])
    assert "no_way" not in [each["code"] for each in content["findings"]]
    assert content["decides"]["array"]


def test_a_trench_at_the_millimetre_beside_the_way_out_does_not_shut_it() -> None:
    """A house whose wall lay so that rows came to exactly where the way out ended."""
    house = [(13.722, 17.73), (22.055, 17.73), (22.055, 25.507), (13.722, 25.507)]
    passes = {"length_m": 15, "passes": 2, "turn_diameter_m": 0.6, "depth_m": 1.2}
    legs = [{"straight": {"length_m": 6}}, {"trench": passes}, {"straight": {"length_m": 6}}]
    loop = {"name": "P", "pipe": "PE100 SDR11 40", "legs": legs}
    content = answered(PATH, {
        "plot": {
            "boundary": around((0, 0), (45.741, 0), (45.741, 59.099), (0, 59.099)),
            "keep_outs": [{"name": "house", "outline": around(*house), "clearance_m": 1}],
            "plant_room": {"x_m": 17.834, "y_m": 17.73}, "border_m": 2.5, "spacing_m": 5,
        },
        "array": {"arrangement": "manifold", "branches": [{"count": 6, "loop": loop}]},
        "setting_out": {"run_pipe": "PE100 SDR11 50", "chamber_place": "most_even"},
    })  # fmt: skip
    assert "no_way" not in [each["code"] for each in content["findings"]]
    assert content["decides"]["array"]


def pond_on_a_slope(*bed: tuple[float, float, float]) -> Json:
    """Ground falls 3 m over 60 m to the east; water from x = 25 to 55 m."""
    surveyed = [(0, 0, 53.0), (0, 40, 53.0), (60, 0, 50.0), (60, 40, 50.0), *bed]
    mat = {"outer_diameter_m": 2.0, "inner_diameter_m": 0.8, "spacing_m": 0.2}
    loop = {"name": "M", "pipe": "PE100 SDR11 32",
            "legs": [{"straight": {"length_m": 6}}, {"pond_mat": mat},
                     {"straight": {"length_m": 6}}]}  # fmt: skip
    return {
        "plot": {
            "boundary": around((0, 0), (60, 0), (60, 40), (0, 40)),
            "plant_room": {"x_m": 0, "y_m": 20},
            "water": around((25, 5), (55, 5), (55, 30), (25, 30)),
            "levels": [{"x_m": x, "y_m": y, "level_m": z} for x, y, z in surveyed],
        },
        "array": {"arrangement": "manifold", "branches": [{"count": 4, "loop": loop}]},
        "setting_out": {"run_pipe": "PE100 SDR11 50"},
    }


def test_mats_lie_on_the_bed_or_below_the_lowest_bank_and_keep_no_air() -> None:
    content = answered(PATH, pond_on_a_slope())
    # By hand: 53 m - 3 m * 55 / 60 at the lowest bank.
    assert [each["start_m"] for each in content["levels"]] == pytest.approx([50.25] * 4)
    told = {each["code"]: each["message"] for each in content["findings"]}
    assert "air_gathers" not in told
    assert "Survey the bed" in told["level_extrapolated"]
    bed = [(x, y, 48.5) for x in (26, 54) for y in (6, 29)]
    content = answered(PATH, pond_on_a_slope(*bed))
    assert [each["start_m"] for each in content["levels"]] == pytest.approx([48.5] * 4, abs=0.01)
    assert "level_extrapolated" not in [each["code"] for each in content["findings"]]


def test_how_unlike_tails_are_is_told_by_the_pipe_of_the_loops() -> None:
    answer = answered(PATH, JOB)
    circuits = [each["circuit"] for each in answer["decides"]["array"]["branches"]]
    loops = [each["loop"] for circuit in circuits for each in circuit["branches"]]
    tails = {each["name"]: each["legs"][0]["straight"]["length_m"] for each in loops}
    # By hand: 30 coils of 1 m at 1 m with the pipe that comes back beside them, and two tails.
    coils = 30 * (math.pi * 1.0 + 2 * 1.0)
    pipe = {name: coils + 2 * tail for name, tail in tails.items()}
    apart = max(pipe.values()) - min(pipe.values())
    (told,) = (each["message"] for each in answer["findings"] if each["code"] == "tail_spread")
    share = 100 * apart / (sum(pipe.values()) / len(pipe))
    assert f"{apart:.1f} m of pipe apart, out and back, {share:.0f} % of" in told
    assert f"{min(tails.values()):.1f} m (" in told


@pytest.mark.parametrize("drawn", [True, False])
def test_levels_tell_the_top_of_coils_that_stand_upright(*, drawn: bool) -> None:
    # By hand: ground at 100 m, pipe 0.1 m above a floor of 1.6 m, coils of 1 m: 98.5 to 99.5 m,
    # 0.6 m above the chamber's return in a header trench of 1.2 m.
    def loop(name: str, *, upright: bool) -> Json:
        coils = {"coils": 25, "coil_diameter_m": 1.0, "pitch_m": 1.0, "upright": upright}
        legs = [{"straight": {"length_m": 10}}, {"slinky": coils}, {"straight": {"length_m": 10}}]
        return {"loop": {"name": name, "pipe": "PE100 SDR11 32", "legs": legs}}

    corners = ((0, 0), (70, 0), (70, 40), (0, 40))
    trenches = [
        {"loop": name, "points": around((20, y), (45, y))} for name, y in (("T1", 10), ("T2", 18))
    ]
    content = answered(PATH, {
        "plot": {
            "boundary": around(*corners), "plant_room": {"x_m": 0, "y_m": 20},
            "levels": [{"x_m": x, "y_m": y, "level_m": 100} for x, y in corners],
            **({"trenches": trenches} if drawn else {}),
        },
        "array": {"arrangement": "manifold",
                  "branches": [loop("T1", upright=True), loop("T2", upright=not drawn)]},
        "groundworks": {"trench": {"width_m": 1.2, "depth_m": 1.6}, "header_trench": {}},
        "setting_out": {"run_pipe": "PE100 SDR11 63"},
    })  # fmt: skip
    # Coils that lie flat are no higher than the flow pipe of their tails, 0.3 m above the return.
    tops = [99.5, 99.2] if drawn else [99.5, 99.5]
    assert [each["max_m"] for each in content["levels"]] == pytest.approx(tops)
    assert [each["min_m"] for each in content["levels"]] == pytest.approx([98.5] * 2)
    told = {each["code"]: each["message"] for each in content["findings"]}
    assert told["air_gathers"].startswith("1 loop of 2 has" if drawn else "2 loops of 2 have")


@pytest.mark.parametrize("kind", ["trenches", "boreholes"])
@pytest.mark.parametrize(("apart", "spacing", "close"), [(25, 2, False), (4, 2, True)])
def test_centres_on_a_plan_go_by_its_places(
    kind: str, apart: float, spacing: float, *, close: bool
) -> None:
    coils = {"coils": 30, "coil_diameter_m": 1.0, "pitch_m": 1.0}
    mid, code = {"slinky": coils}, "trench_centres_close"
    places: list[Json] = [
        {"loop": name, "points": around((20, y), (50, y))}
        for name, y in (("L1", 10), ("L2", 10 + apart))
    ]
    if kind == "boreholes":
        mid, code = {"borehole": {"depth_m": 90, "diameter_mm": 150}}, "bore_centres_close"
        places = [{"loop": each["loop"], **each["points"][0]} for each in places]
    legs = [{"straight": {"length_m": 10}}, mid, {"straight": {"length_m": 10}}]
    job = {
        **{name: part for name, part in SMALLEST.items() if name != "array"},
        "array": {"arrangement": "manifold", "branches": [
            {"loop": {"name": name, "pipe": "PE100 SDR11 40", "legs": legs}}
            for name in ("L1", "L2")
        ]},
        "plot": {"boundary": around((0, 0), (90, 0), (90, 60), (0, 60)),
                 "plant_room": {"x_m": 0, "y_m": 30}, "spacing_m": spacing, kind: places},
        "groundworks": {"trench": {"width_m": 1.0, "depth_m": 1.2}, "header_trench": {}},
        "setting_out": {"run_pipe": "PE100 SDR11 40"}, "ground": {"soil": "clay"},
    }  # fmt: skip
    if kind == "boreholes":
        job["groundworks"] = {"header_trench": {}}
    content = answered("/v1/designs", job)
    said = [each["message"] for each in content["groundworks"]["findings"] if each["code"] == code]
    assert len(said) == int(close)
    assert all(f"at {apart} m centres" in each for each in said)
