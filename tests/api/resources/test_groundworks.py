"""POST /v1/groundworks: the site reaches the engine whole, its counts and its plan come back."""

import copy
import math
import xml.etree.ElementTree as ET
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.settings import Settings
from tests.api.conftest import Json, answered, errors_of
from tests.api.contract.test_document import validator
from tests.api.resources.test_sizing import job_of
from tests.api.resources.test_split import put

PATH = "/v1/groundworks"
PLAN = "/v1/groundworks/plan.svg"
_TAG = "{http://www.w3.org/2000/svg}"


def manifold(loop: str, pipe: str, count: int, *legs: Json) -> Json:
    branch = {"count": count, "loop": {"name": loop, "pipe": pipe, "legs": list(legs)}}
    return {"arrangement": "manifold", "branches": [branch]}


SLINKY: Json = {
    "name": "Rowan Field (invented)",
    "ground": {"soil": "clay"},
    "plot": {"length_m": 60, "width_m": 40, "spacing_m": 5, "border_m": 2.5},
    "pipes": [{"name": "PE100 SDR11 32", "coils_m": [100, 200]},
              {"name": "PE100 SDR11 50", "coils_m": [50]}],
    "plant": {"runs": [{"pipe": "PE100 SDR11 50", "length_m": 20}]},
    "array": manifold(
        "T", "PE100 SDR11 32", 4,
        {"straight": {"length_m": 10}},
        {"slinky": {"coils": 30, "coil_diameter_m": 1, "pitch_m": 1}},
        {"straight": {"length_m": 10}},
    ),
    "groundworks": {
        "bedding_imported": True, "lorry_m3": 8, "digger_m_h": 7, "laying_c": 15,
        "trench": {"width_m": 1.2, "depth_m": 1.3, "side_slope": 0.2, "bench_height_m": 0,
                   "bench_width_m": 0, "bedding_below_m": 0.1, "bedding_above_m": 0.1,
                   "passes": 1},
        "header_trench": {"length_m": 30, "width_m": 0.6, "depth_m": 1.1, "side_slope": 0.1,
                          "separation_m": 0.3},
    },
}  # fmt: skip
BORES: Json = {
    "ground": {"bulking_percent": 40},
    "plot": {"area_m2": 900, "spacing_m": 7},
    "array": manifold("B", "PE100 SDR11 40", 6, {"borehole": {"depth_m": 120, "diameter_mm": 150}}),
    "groundworks": {},
}
STRAIGHT: Json = {
    "ground": {"soil": "sand"},
    "array": manifold("S", "PE100 SDR11 32", 2, {"straight": {"length_m": 160}}),
    "groundworks": {
        "trench": {"width_m": 0.9, "depth_m": 1.6, "passes": 4, "bench_height_m": 0.8,
                   "bench_width_m": 0.3},
    },
}  # fmt: skip

# (base, where, new value): each is an input of its own, none may be ignored.
LEGS = "array.branches.0.loop.legs"
DUG = "groundworks.trench"
VARIED: list[tuple[Json, str, Any]] = [
    (SLINKY, "name", "Another"), (SLINKY, "reference", "B-12"),
    (SLINKY, f"{LEGS}.1.slinky.coils", 31), (SLINKY, f"{LEGS}.1.slinky.upright", True),
    (SLINKY, "plant.runs.0.length_m", 21), (SLINKY, "ground.soil", "sand"),
    (SLINKY, "ground.bulking_percent", 33),
    (SLINKY, "groundworks.bedding_imported", False), (SLINKY, "groundworks.lorry_m3", 5),
    (SLINKY, "groundworks.digger_m_h", 8), (SLINKY, "plot.spacing_m", 6),
    (SLINKY, "plot.border_m", 3), (SLINKY, "groundworks.laying_c", 5),
    (SLINKY, f"{DUG}.width_m", 1.3), (SLINKY, f"{DUG}.depth_m", 1.4),
    (SLINKY, f"{DUG}.side_slope", 0.3), (SLINKY, f"{DUG}.bedding_below_m", 0.15),
    (SLINKY, f"{DUG}.bedding_above_m", 0.15),
    (SLINKY, "groundworks.header_trench.length_m", 31),
    (SLINKY, "groundworks.header_trench.width_m", 0.7),
    (SLINKY, "groundworks.header_trench.depth_m", 1.2),
    (SLINKY, "groundworks.header_trench.side_slope", 0.2),
    (SLINKY, "groundworks.header_trench.separation_m", 0.2),
    (SLINKY, "groundworks.header_trench", {}),
    (SLINKY, "plot.length_m", 61), (SLINKY, "plot.width_m", 18), (SLINKY, "plot", {"area_m2": 9}),
    (SLINKY, "pipes.0.coils_m", [300]), (SLINKY, "pipes.1.coils_m", [40]),
    (BORES, "ground.bulking_percent", 41), (BORES, f"{LEGS}.0.borehole.diameter_mm", 160),
    (BORES, "plot.area_m2", 901), (BORES, f"{LEGS}.0.borehole.u_tubes", 2),
    (STRAIGHT, f"{DUG}.passes", 2), (STRAIGHT, f"{DUG}.bench_height_m", 0.5),
    (STRAIGHT, f"{DUG}.bench_width_m", 0.4),
]  # fmt: skip


def post(client: FlaskClient, body: Any) -> TestResponse:
    return client.post(PATH, json=body)


def drawing(client: FlaskClient, body: Any) -> ET.Element:
    answer = client.post(PLAN, json=body)
    assert answer.status_code == 200, answer.get_data(as_text=True)
    return ET.fromstring(answer.get_data(as_text=True))


def words_of(picture: ET.Element) -> str:
    return " ".join(text.text or "" for text in picture.iter(f"{_TAG}text"))


@pytest.mark.parametrize("body", [SLINKY, BORES, STRAIGHT])
def test_a_job_with_every_field_keeps_the_contract(contract: Json, body: Json) -> None:
    validator(contract, "Job").validate(body)
    validator(contract, "GroundworksAnswer").validate(answered(PATH, body))


def test_a_slinky_is_counted_as_by_hand() -> None:
    content = answered(PATH, SLINKY)
    # Four trenches of 30 coils at 1 m; a section of 1.2 m with sides sloping 0.2 to 1, 1.3 m deep.
    section = 1.2 * 1.3 + 0.2 * 1.3**2
    assert content["loop_trenches"]["length_m"] == 120
    # Both ends rise as the sides do: m h² (w + 4/3 m h) more for each.
    ends = 0.2 * 1.3**2 * (1.2 + 4 / 3 * 0.2 * 1.3)
    assert content["loop_trenches"]["dug_m3"] == pytest.approx(120 * section + 4 * ends, rel=1e-5)
    # Bulking of clay: the middle of 20 to 40 %, in classes of engineering-geological mapping.
    assert content["bulking_percent"] == 30
    total = content["total"]
    assert total["heaped_m3"] == pytest.approx(1.3 * total["dug_m3"], rel=1e-5)
    assert total["backfill_m3"] + total["spoil_m3"] == pytest.approx(total["dug_m3"], rel=1e-5)
    assert content["spoil_loads"] == math.ceil(total["spoil_loose_m3"] / 8)
    assert content["digger_h"] == pytest.approx(150 / 7, rel=1e-5)
    # Each loop of 20 m of tails and 30 (π + 2) m of slinky from a 200 m coil.
    loops = content["pipe_order"]["loops"]
    assert loops[0]["needed_m"] == pytest.approx(20 + 30 * (math.pi + 2), rel=1e-5)
    assert (loops[0]["coil_m"], loops[0]["count"]) == (200, 4)
    land = content["land"]
    # Three gaps of 5 m, half a dug top of 1.2 + 2 · 0.2 · 1.3 m at either side, borders of 2.5 m;
    # 30 m of trench with sloped ends of 0.26 m each.
    assert (land["width_m"], land["length_m"], land["fits"]) == (21.72, 35.52, True)


# Clay of 1,450 kg/m³, grains of 2,700: by hand its pores are 0.463 of it, so hold 31.9 % of its dry
# mass; at 1,600 kg/m³ 25.5 %. OSHA, Appendix A: submerged soil is type C, 1.5 to 1 (read).
@pytest.mark.parametrize(
    ("wet", "full"),
    [
        ({}, False),
        ({"moisture": "usual"}, False),
        ({"moisture": "saturated"}, True),
        ({"water_content_percent": 31.5}, False),
        ({"water_content_percent": 31.9}, True),
        ({"water_content_percent": 25.5, "dry_density_kg_m3": 1600}, True),
        ({"water_content_percent": 25.5, "dry_density_kg_m3": 1500}, False),
    ],
)
def test_ground_that_is_told_full_of_water_is_sloped_as_such(wet: Json, full: bool) -> None:
    body = put(copy.deepcopy(SLINKY), DUG, {"width_m": 1.2, "depth_m": 2, "side_slope": 1})
    content = answered(PATH, body | {"ground": {"soil": "clay"} | wet})
    told = [f["message"] for f in content["findings"] if f["code"] == "trench_needs_protection"]
    assert bool(told) is full
    assert all("In clay full of water, OSHA soil type C" in each for each in told)


def test_boreholes_are_counted_as_by_hand() -> None:
    content = answered(PATH, BORES)
    assert content["drilling"]["drilled_m"] == 720
    spoil = math.pi / 4 * 0.15**2 * 720
    assert content["drilling"]["spoil_m3"] == pytest.approx(spoil, rel=1e-5)
    assert content["drilling"]["spoil_loose_m3"] == pytest.approx(1.4 * spoil, rel=1e-5)
    assert content["pipe_order"]["probes"] == [
        {"pipe": "PE100 SDR11 40", "depth_m": 120, "count": 6}
    ]
    assert "fits" not in content["land"]
    assert content["cautions"]


@pytest.mark.parametrize(
    ("base", "where", "value"), VARIED, ids=lambda v: v if type(v) is str else ""
)
def test_every_input_moves_the_answer(base: Json, where: str, value: Any) -> None:
    assert answered(PATH, put(base, where, value)) != answered(PATH, base)


def test_a_header_trench_that_is_not_named_is_neither_dug_nor_drawn(client: FlaskClient) -> None:
    body = copy.deepcopy(SLINKY)
    del body["groundworks"]["header_trench"]
    content = answered(PATH, body)
    assert content["header_trench"]["length_m"] == 0
    assert all(line["kind"] != "header_trench" for line in content["plan"]["lines"])
    assert "header trench" not in words_of(drawing(client, body))


@pytest.mark.parametrize(
    ("where", "value", "at"),
    [
        ("ground.soil", "mud", "/ground/soil"),
        ("groundworks.lorry_m3", 0, "/groundworks/lorry_m3"),
        ("groundworks.digger_m_h", "7", "/groundworks/digger_m_h"),
        ("plot.spacing_m", -1, "/plot/spacing_m"),
        ("plot.border_m", None, "/plot/border_m"),
        ("groundworks.laying_c", -40, "/groundworks/laying_c"),
        ("groundworks.soil", "clay", "/groundworks/soil"),  # the ground's
        (f"{DUG}.kind", "flat", "/groundworks/trench/kind"),  # the leg's
        (f"{DUG}.width_m", True, "/groundworks/trench/width_m"),
        # Pipe and bedding are higher, and a bench without a width: the engine's.
        (f"{DUG}.depth_m", 0.2, "/groundworks/trench/depth_m"),
        (f"{DUG}.bench_height_m", 0.4, "/groundworks/trench/bench_height_m"),
        (DUG, {**STRAIGHT["groundworks"]["trench"], "bench_height_m": 1e-9},
         "/groundworks/trench/bench_height_m"),
        (DUG, {**STRAIGHT["groundworks"]["trench"], "bench_height_m": 5e-324},
         "/groundworks/trench/bench_height_m"),
        (f"{DUG}.passes", 1.5, "/groundworks/trench/passes"),
        (f"{DUG}.slope", 1, "/groundworks/trench/slope"),
        ("groundworks.header_trench.depth_m", 0.15, "/groundworks/header_trench/depth_m"),
        ("groundworks.header_trench.length_m", 0.01, "/groundworks/header_trench/length_m"),
        ("groundworks.header_trench.separation_m", -1, "/groundworks/header_trench/separation_m"),
        ("plot.area_m2", 100, "/plot/area_m2"),  # beside the sides
        ("plot", {"length_m": 5}, "/plot/width_m"),
        ("pipes.0.coils_m", [], "/pipes/0/coils_m"),
        ("pipes.0.coils_m", [100, 0], "/pipes/0/coils_m/1"),
        ("pipes.0.name", "PE100 SDR11 33", "/pipes/0/bore_mm"),
        ("pipes.1.name", "PE100 SDR11 32", "/pipes/1/name"),  # twice
    ],
)  # fmt: skip
def test_a_wrong_value_is_refused_at_its_place(
    client: FlaskClient, where: str, value: Any, at: str
) -> None:
    answer = post(client, put(SLINKY, where, value))
    assert answer.status_code == 422
    assert at in errors_of(answer)
    assert errors_of(answer)[at]["detail"]


@pytest.mark.parametrize(
    ("base", "missing", "at"),
    [(SLINKY, DUG, "/groundworks/trench"), (SLINKY, "groundworks", "/groundworks"),
     (SLINKY, "array", "/array"), (SLINKY, "ground", "/ground"),
     (BORES, f"{LEGS}.0.borehole.diameter_mm", "/array"),
     (BORES, "ground.bulking_percent", "/ground")],
)  # fmt: skip
def test_what_is_needed_and_missing_is_named(
    client: FlaskClient, base: Json, missing: str, at: str
) -> None:
    body = copy.deepcopy(base)
    *outer, last = missing.split(".")
    target: Any = body
    for part in outer:
        target = target[int(part) if part.isdigit() else part]
    del target[last]
    answer = post(client, body)
    assert answer.status_code == 422
    assert list(errors_of(answer)) == [at]


def test_faults_of_array_and_site_are_listed_together(client: FlaskClient) -> None:
    body = put(put(SLINKY, "array.branches.0.loop.pipe", "PE100 SDR11 31"), f"{DUG}.width_m", 0)
    body = put(put(body, "groundworks.lorry_m3", "8"), f"{DUG}.bench_width_m", -1)
    assert set(errors_of(post(client, body))) == {
        "/array/branches/0/loop/pipe",
        "/groundworks/trench/width_m",
        "/groundworks/lorry_m3",
        "/groundworks/trench/bench_width_m",
    }


def test_more_loops_than_the_service_takes_are_refused() -> None:
    client = create_app(Settings(max_loops=3)).test_client()
    assert list(errors_of(post(client, SLINKY))) == ["/array"]


# ---------------------------------------------------------------------------------------- the plan


def test_the_plan_is_to_the_scale_that_it_states(client: FlaskClient) -> None:
    picture = drawing(client, SLINKY)
    assert picture.get("width") == "297mm" or picture.get("height") in {"297mm", "420mm"}
    box = [float(value) for value in (picture.get("viewBox") or "").split()]
    assert f"{box[2]:g}mm" == picture.get("width")  # a unit of the drawing is a millimetre
    scale = int(words_of(picture).split("plan 1:")[1].split()[0])
    trenches = [
        each for each in picture.iter(f"{_TAG}rect")
        if (title := each.find(f"{_TAG}title")) is not None and (title.text or "").startswith("T-")
    ]  # fmt: skip
    assert len(trenches) == 4
    heights = [float(each.get("height") or 0) for each in trenches]
    lefts = sorted(float(each.get("x") or 0) for each in trenches)
    # Coordinates are written to a hundredth of a millimetre.
    assert heights == pytest.approx([30e3 / scale] * 4, abs=0.011)
    assert lefts[1] - lefts[0] == pytest.approx(5e3 / scale, abs=0.021)


@pytest.mark.parametrize("base", [SLINKY, BORES, STRAIGHT])
def test_everything_drawn_lies_on_the_paper(client: FlaskClient, base: Json) -> None:
    picture = drawing(client, base)
    _, _, width, height = (float(value) for value in (picture.get("viewBox") or "").split())
    for rect in picture.iter(f"{_TAG}rect"):
        x, y = float(rect.get("x") or 0), float(rect.get("y") or 0)
        if y >= 0 and x >= 0:  # signs of the key are drawn about an origin of their own
            assert x + float(rect.get("width") or 0) <= width + 0.01
            assert y + float(rect.get("height") or 0) <= height + 0.01
    for text in picture.iter(f"{_TAG}text"):
        assert 0 < float(text.get("x") or 0) < width
        assert 0 < float(text.get("y") or 0) < height


def test_the_scale_bar_is_as_long_as_it_says(client: FlaskClient) -> None:
    picture = drawing(client, SLINKY)
    scale = int(words_of(picture).split("plan 1:")[1].split()[0])
    texts = {text.text: float(text.get("x") or 0) for text in picture.iter(f"{_TAG}text")}
    end = next(word for word in ("4 m", "8 m", "20 m") if word in texts)
    length = texts[end] - texts["0"]
    assert length == pytest.approx(float(end.split()[0]) * 1e3 / scale, abs=0.021)


def test_the_plan_tells_in_words_what_it_shows(client: FlaskClient) -> None:
    picture = drawing(client, SLINKY)
    assert picture.get("role") == "img"
    title, text = picture.find(f"{_TAG}title"), picture.find(f"{_TAG}desc")
    assert title is not None
    assert text is not None
    assert title.text == "Plan of Rowan Field (invented)"
    assert "4 trenches, up to 30 m long, in 1 row at 5 m centres" in (text.text or "")
    assert "The plot is 40 m by 60 m" in (text.text or "")
    assert picture.get("aria-labelledby") == f"{title.get('id')} {text.get('id')}"


def test_an_array_that_does_not_fit_is_drawn_and_said_to(client: FlaskClient) -> None:
    body = put(SLINKY, "plot", {"length_m": 12, "width_m": 14})
    content = answered(PATH, body)
    assert content["land"]["fits"] is False
    assert "does_not_fit_site" in {finding["code"] for finding in content["findings"]}
    assert "does not fit" in words_of(drawing(client, body))


def test_a_plan_within_its_plot_is_not_said_to_lie_beyond_it(client: FlaskClient) -> None:
    # 4 trenches of 30 m are 120 m; they lie within 40 m by 60 m, and only 100 m can be dug.
    body = put(SLINKY, "plot", {"length_m": 60, "width_m": 40, "max_trench_m": 100})
    assert "site_too_small" in {finding["code"] for finding in answered(PATH, body)["findings"]}
    words = words_of(drawing(client, body))
    assert "does not fit" not in words
    assert "cannot be laid so: see the findings" in words


def test_what_is_not_set_out_is_said_in_answer_and_drawing(client: FlaskClient) -> None:
    branches = [*SLINKY["array"]["branches"], *BORES["array"]["branches"]]
    body = SLINKY | {"array": {"arrangement": "manifold", "branches": branches}}
    content = answered(PATH, body)
    assert content["drilling"]["count"] == 6
    assert content["land"]["places"] == 4
    assert "fits" not in content["land"]
    (said,) = [each for each in content["findings"] if each["code"] == "places_left_out"]
    assert said["severity"] == "error"
    assert "leave out 6 boreholes" in said["message"]
    picture = drawing(client, body)
    assert "Not drawn: 6 boreholes." in words_of(picture)
    described = picture.find(f"{_TAG}desc")
    assert described is not None
    assert "Not drawn, and not part of the ground taken: 6 boreholes." in (described.text or "")
    assert "Not drawn" not in words_of(drawing(client, SLINKY))


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "\"&amp;'", "]]>", "x" * 80, "池 <b>"]
)
def test_names_are_text_in_the_drawing_and_nothing_else(client: FlaskClient, name: str) -> None:
    body = put(put(SLINKY, "array.branches.0.loop.name", name), "name", name)
    answer = client.post(PLAN, json=body)
    picture = ET.fromstring(answer.get_data(as_text=True))
    tags = {each.tag.removeprefix(_TAG) for each in picture.iter()}
    assert tags <= {"svg", "title", "desc", "rect", "circle", "line", "polyline", "text", "g"}
    shown = picture.find(f"{_TAG}title")
    assert shown is not None
    assert shown.text == f"Plan of {name}"


def test_the_drawing_needs_nothing_and_runs_nothing(client: FlaskClient) -> None:
    answer = client.post(PLAN, json=SLINKY)
    text = answer.get_data(as_text=True)
    assert answer.content_type == "image/svg+xml; charset=utf-8"
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert text.count("http") == 1  # the name of the SVG namespace
    assert "href" not in text
    assert text == client.post(PLAN, json=SLINKY).get_data(as_text=True)


def test_more_places_than_can_be_drawn_are_counted_but_not_drawn() -> None:
    client = create_app(Settings(max_loops=10_000)).test_client()
    body = put(SLINKY, "array.branches.0.count", 5_001)
    del body["plot"], body["groundworks"]["header_trench"]
    answer = client.post(PATH, json=body)
    assert answer.status_code == 200
    content = answer.get_json()
    assert "plan" not in content
    assert content["land"]["places"] == 5_001
    answer = client.post(PLAN, json=body)
    assert answer.status_code == 422
    assert list(errors_of(answer)) == ["/array"]


@pytest.mark.parametrize(
    ("stand", "rows", "across"), [({"rows": 1}, 1, 12), ({"perimeter": True}, 4, 4)]
)
def test_boreholes_are_set_out_in_the_field_that_is_sized(
    stand: Json, rows: int, across: int
) -> None:
    # By hand: 12 boreholes on the four sides of a square are 4 along each, corners shared.
    sized = job_of("borehole")
    del sized["sizing"]["array_kind"]["borehole"]["rows"]
    sized["sizing"]["array_kind"]["borehole"] |= stand
    sized["plot"] = {"spacing_m": 7, "border_m": 3}
    parts = ("antifreeze", "heat", "sizing", "plot", "limits", "pipes")
    ground = sized["ground"] | {"bulking_percent": 40}
    body = copy.deepcopy(BORES) | {part: sized[part] for part in parts} | {"ground": ground}
    body["array"]["branches"][0]["count"] = 12
    land = answered(PATH, body)["land"]
    assert (land["rows"], land["across"], land["spacing_m"]) == (rows, across, 7)
    assert land["width_m"] == 7 * (across - 1) + 6


def test_a_sizing_without_its_load_does_not_tell_how_boreholes_stand() -> None:
    sized = job_of("borehole")
    body = copy.deepcopy(BORES) | {part: sized[part] for part in ("antifreeze", "sizing")}
    body["plot"] = {"area_m2": 900}
    (told,) = (
        each for each in answered(PATH, body)["findings"] if each["code"] == "bore_centres_usual"
    )
    spacing = answered(PATH, body)["land"]["spacing_m"]
    assert spacing == 6  # VDI 4640-2:2001: 6 m beyond 50 m deep (read)
    assert "at 6 m centres" in told["message"]
    assert "heat load" in told["message"]


def test_more_trench_than_the_plot_allows_is_said_not_to_fit(client: FlaskClient) -> None:
    # By hand: four slinkies of 30 coils at 1 m pitch take 120 m; the same sentence as a sizing's.
    job = {**SLINKY, "plot": {**SLINKY["plot"], "max_trench_m": 60}}
    answer = client.post(PATH, json=job).get_json()
    (found,) = [each for each in answer["findings"] if each["code"] == "site_too_small"]
    assert found["message"] == "The array takes 120.0 m of trench, and 60 m can be dug."
    assert answer["land"]["fits"] is False


@pytest.mark.parametrize("address", ["/v1/groundworks", "/v1/split"])
def test_a_borehole_too_narrow_for_its_pipes_is_refused_where_it_is_told(
    client: FlaskClient, address: str
) -> None:
    # Two pipes of 40 mm side by side are 80 mm across (geometry).
    duty = {"to_ground_c": 2, "from_ground_c": 5, "heat_kw": 5}
    job: Json = {**BORES, "antifreeze": {"kind": "water"}, "duty": duty}
    for diameter, status in ((80, 200), (79, 422)):
        legs = {"borehole": {"depth_m": 120, "diameter_mm": diameter}}
        job["array"] = manifold("B", "PE100 SDR11 40", 6, legs)
        response = client.post(address, json=job)
        assert response.status_code == status
    (error,) = response.get_json()["errors"]
    assert error["pointer"].endswith("/legs/0/borehole/diameter_mm")
    assert error["allowed"] == "80 mm or more"


def test_what_is_said_of_pipe_over_never_keeps_it_in_the_loop(client: FlaskClient) -> None:
    # Pipe left coiled in a loop is another circuit: more head, more contents, other flows.
    contract = client.get("/v1/openapi.json").get_json()["components"]["schemas"]
    told = contract["LoopCoil"]["properties"]["leftover_m"]["description"]
    assert "cut it off" in told
    assert "into the job first, as a coiled leg" in told


# ---------------------------------------------------------------------------- bill of quantities


def test_the_bill_is_priced_with_the_caller_s_prices_and_says_until_when() -> None:
    quantities = answered(PATH, SLINKY)["bill"]
    assert not {"currency", "total"} & quantities.keys()
    assert all("price" not in each for each in quantities["items"])
    prices = {
        "currency": "EUR", "valid_until": "2026-06-30",
        "items": [{"item": each["item"], "price": 2.5} for each in quantities["items"]],
    }  # fmt: skip
    content = answered(PATH, put(SLINKY, "groundworks.prices", prices))
    bill, codes = content["bill"], {each["code"] for each in content["findings"]}
    assert (bill["currency"], bill["valid_until"]) == ("EUR", "2026-06-30")
    assert bill["total"] == pytest.approx(
        sum(2.5 * each["quantity"] for each in bill["items"]), abs=0.01 * len(bill["items"])
    )
    assert not codes & {"bill_not_whole", "price_not_used"}
    # What the bill tells is what the chapters beside it tell.
    told = {each["item"]: each["quantity"] for each in bill["items"]}
    assert told["digger with driver"] == content["digger_h"]
    assert told["spoil taken away, loose"] == content["total"]["spoil_loose_m3"]
    coils = {f"{c['pipe']}, coil of {c['coil_m']:g} m": c["count"]
             for c in content["pipe_order"]["coils"]}  # fmt: skip
    assert coils.items() <= told.items()


def test_a_price_that_is_missing_or_of_nothing_is_told_and_two_of_one_are_refused() -> None:
    items = [{"item": "digger with driver", "price": 60}, {"item": "gold", "price": 1}]
    body = put(SLINKY, "groundworks.prices", {"currency": "EUR", "items": items})
    content = answered(PATH, body)
    told = {each["code"]: each for each in content["findings"]}
    assert told["bill_not_whole"]["severity"] == told["price_not_used"]["severity"] == "warning"
    assert content["bill"]["total"] == pytest.approx(60 * content["digger_h"], rel=1e-5)
    body = put(body, "groundworks.prices.items.1.item", "digger with driver")
    client = create_app(Settings()).test_client()
    errors = errors_of(client.post(PATH, json=body))
    assert "Two prices" in errors["/groundworks/prices/items/1"]["detail"]
