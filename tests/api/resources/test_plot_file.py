"""POST /v1/plot-file: what files draw of a plot, what is not used, and what no file may do."""

import csv
import io
import itertools
import json
import math
import random
import re
import time
from collections.abc import Callable
from functools import cache
from typing import Any

import ezdxf
import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api.app import create_app
from api.settings import Settings
from tests.api.conftest import Json, errors_of, shared_app
from tests.api.resources.test_setting_out import BORES, HOUSE, JOB, MATS, OAK, corners, with_
from tests.api.resources.test_setting_out import PATH as SETTING_OUT

PATH = "/v1/plot-file"
KINDS = {"geojson": "application/geo+json", "dxf": "image/vnd.dxf", "csv": "text/csv"}
DRAIN = {
    "name": "drain, =clay", "line": corners((0, 36), (60, 38)), "clearance_m": 1, "blocks": "array"
}  # fmt: skip
LEVELS = [{"x_m": x, "y_m": y, "level_m": 50 + x / 20} for x in (0, 75) for y in (0, 40)]
SQUARE = [[0, 0], [60, 0], [60, 40], [0, 40], [0, 0]]
ORIGIN = {"longitude_deg": 179.9999, "latitude_deg": -41.5, "turned_deg": 20}


def read(client: FlaskClient, data: str | bytes | Json, form: str = "geojson") -> TestResponse:
    body = data if isinstance(data, (str, bytes)) else json.dumps(data)
    return client.post(PATH, data=body, content_type=KINDS[form])


def plot_in(answer: TestResponse) -> Json:
    assert answer.status_code == 200, answer.data[:2000]
    found: Json = answer.get_json()["plot"]
    return found


def metres(*features: Json | int, **members: Any) -> Json:
    """A collection in metres of the plot."""
    return {
        "type": "FeatureCollection", "coordinates_are": "local_metres", "features": list(features)
    } | members  # fmt: skip


def drawn(kind: str | None, form: str, held: Any, **told: Any) -> Json:
    properties = told if kind is None else {"kind": kind, **told}
    geometry = {"type": form, "coordinates": held}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


OUTER = drawn("boundary", "Polygon", [SQUARE])


# ------------------------------------------------------------------------------------- round trips

POND = corners((50, 2), (58, 2), (58, 9))
WHOLE = {
    "keep_outs": [OAK, HOUSE, DRAIN], "levels": LEVELS, "water": POND,
    "chambers": [{"name": "C 1", "x_m": 33.5, "y_m": 20, "max_loops": 20}],
}  # fmt: skip
JOBS = {
    "trenches": with_(plot=WHOLE, setting_out={"loop_count": 6, "length_m": 20}),
    "boreholes": with_(
        plot=WHOLE | {"spacing_m": 6},
        sizing={"array_kind": BORES},
        setting_out={"loop_count": 3, "length_m": 50},
    ),
    "mats": with_(
        MATS,
        plot={
            "keep_outs": [OAK | {"centre": {"x_m": 46, "y_m": 36}}],
            "levels": LEVELS,
            "chambers": [{"name": "C 1", "x_m": 9, "y_m": 9, "max_loops": 20}],
        },
    ),
}


def places_in(plot: Json) -> list[float]:
    """Every coordinate and level of a plot, in its order."""
    found = []
    for name in sorted(plot):
        if name in ("x_m", "y_m", "level_m", "radius_m", "clearance_m"):
            found.append(float(plot[name]))
        elif isinstance(plot[name], dict):
            found += places_in(plot[name])
        elif isinstance(plot[name], list):
            found += [value for each in plot[name] for value in places_in(each)]
    return found


@cache
def laid_out(job: str) -> TestResponse:
    """Answer to a job as text, of which the files of all forms are taken."""
    return shared_app().test_client().post(SETTING_OUT, json=json.loads(job))


def file_of(job: Json, form: str) -> bytes:
    """File of a job's setting out."""
    return _file_of(json.dumps(job), form)


@cache
def _file_of(job: str, form: str) -> bytes:
    answer = shared_app().test_client().post(f"{SETTING_OUT}.{form}", json=json.loads(job))
    assert answer.status_code == 200, answer.data
    data: bytes = answer.data
    return data


@pytest.mark.parametrize("origin", [None, ORIGIN])
@pytest.mark.parametrize("form", KINDS)
@pytest.mark.parametrize("laid", JOBS)
def test_a_plan_exported_and_read_again_is_the_same_plot_to_a_millimetre(
    client: FlaskClient, laid: str, form: str, origin: Json | None
) -> None:
    job = with_(JOBS[laid], plot={"origin": origin})
    answer = laid_out(json.dumps(job))
    assert answer.status_code == 200, answer.data
    decided = json.loads(answer.data)["decides"]["plot"]
    data = file_of(job, form)
    plot = plot_in(read(client, data, form))
    # Neither are drawn; a file without longitude and latitude does not tell where it lies.
    for name in ("spacing_m", "border_m"):
        decided.pop(name, None)
    if form != "geojson":
        decided.pop("origin", None)
    assert plot.keys() == decided.keys()
    same = [{**each, "blocks": each.get("blocks", "both")} for each in decided["keep_outs"]]
    assert [(e["name"], e["blocks"]) for e in plot["keep_outs"]] == [
        (e["name"], e["blocks"]) for e in same
    ]
    assert [e["loop"] for e in plot[laid]] == [e["loop"] for e in decided[laid]]
    assert [(e["name"], e["max_loops"]) for e in plot["chambers"]] == [("C 1", 20)]
    # A millimetre; eight decimals of a degree and three of a metre are each within it.
    assert places_in(plot) == pytest.approx(places_in(decided), abs=1e-3)
    if "origin" in decided:
        assert plot["origin"] == decided["origin"]
    if origin and form != "geojson":
        return  # as without an origin
    # What was read can be set out as it is.
    rules = {name: job["plot"][name] for name in ("spacing_m",) if name in job["plot"]}
    again = client.post(SETTING_OUT, json={**job, "plot": {**plot, **rules}})
    assert again.status_code == 200, again.data


@pytest.mark.parametrize("form", KINDS)
def test_what_our_own_files_hold_and_no_plot_does_is_listed(client: FlaskClient, form: str) -> None:
    data = file_of(JOBS["trenches"], form)
    answer = read(client, data, form).get_json()
    told = {each["detail"]: each for each in answer["not_used"]}
    header = next(each for detail, each in told.items() if "header trench" in detail)
    assert header["count"] >= 6
    assert 1 <= len(header["places"]) <= 10
    assert len(answer["notes"]) == 1  # of the rules, below


@pytest.mark.parametrize("origin", [None, ORIGIN])
@pytest.mark.parametrize("form", KINDS)
def test_what_a_plot_loses_in_a_file_is_told(
    client: FlaskClient, form: str, origin: Json | None
) -> None:
    more = {"spacing_m": 6, "border_m": 3, "max_trench_m": 900}
    job = with_(JOBS["trenches"], plot=more | ({"origin": origin} if origin else {}))
    decided = json.loads(laid_out(json.dumps(job)).data)["decides"]["plot"]
    answer = read(client, file_of(job, form), form)
    lost = decided.keys() - plot_in(answer).keys()
    assert lost >= more.keys()
    note = answer.get_json()["notes"][-1]
    assert [name for name in sorted(lost) if name not in note] == []
    # A file in longitude and latitude tells where it lies, and no other does.
    assert ("origin" in note) == (form != "geojson" or origin is None)


@pytest.mark.parametrize("form", KINDS)
def test_a_mat_without_a_loop_s_name_is_given_one(client: FlaskClient, form: str) -> None:
    # As others draw it: a place alone.
    if form == "geojson":
        data: Any = metres(OUTER, drawn("mat", "Point", [9, 9]))
    elif form == "csv":
        square = [f",boundary,,{x},{y}" for x, y in SQUARE[:-1]]
        data = table(*square, ",mat,,9,9")
    else:
        made, space = drawing()
        space.add_lwpolyline(SQUARE[:-1], close=True, dxfattribs={"layer": "SITE"})
        space.add_circle((9, 9), 1.5, dxfattribs={"layer": "MAT"})
        data = text_of(made)
    answer = read(client, data, form)
    assert plot_in(answer)["mats"] == [{"loop": "M1", "x_m": 9, "y_m": 9}]
    assert "1 of what is drawn has no name" in answer.get_json()["notes"][0]


@pytest.mark.parametrize("form", KINDS)
def test_a_file_sent_as_bytes_is_told_by_how_it_begins(client: FlaskClient, form: str) -> None:
    data = file_of(JOBS["trenches"], form)
    told = client.post(PATH, data=data, content_type="application/octet-stream")
    assert told.get_json() == read(client, data, form).get_json()
    other = client.post(PATH, data=data, content_type="application/zip")
    assert other.status_code == 415
    assert set(KINDS.values()) <= set(other.headers["Accept"].split(", "))


@pytest.mark.parametrize("query", ["?decimal=comma", "?byte_order_mark=true", ""])
def test_every_form_of_our_tables_is_read(client: FlaskClient, query: str) -> None:
    job = JOBS["trenches"]
    data = file_of(job, f"csv{query}")
    assert len(plot_in(read(client, data, "csv"))["trenches"]) == 6


# ----------------------------------------------------------------------------------------- GeoJSON


def test_degrees_become_metres_from_the_boundary_s_corner(client: FlaskClient) -> None:
    # 0.01° of longitude at 52° N is 686.8 m on WGS84, from the radius of the parallel,
    # a cos φ / sqrt(1 - e² sin² φ), with a = 6,378,137 m and e² = 0.00669438: by hand.
    across = math.radians(0.001) * 6378137 * math.cos(math.radians(52))
    across /= math.sqrt(1 - 0.00669438 * math.sin(math.radians(52)) ** 2)
    west, south = -1.5, 52.0
    ring = [[west, south], [west + 0.001, south], [west + 0.001, south + 0.0005], [west, south]]
    file = {"type": "FeatureCollection", "features": [drawn("boundary", "Polygon", [ring])]}
    answer = read(client, file)
    plot = plot_in(answer)
    assert plot["origin"] == {"longitude_deg": west, "latitude_deg": south}
    assert plot["boundary"][1]["x_m"] == pytest.approx(across, abs=1e-3)
    assert plot["boundary"][1]["y_m"] == pytest.approx(0.0, abs=1e-3)
    assert any("52.000000° N, 1.500000° W" in note for note in answer.get_json()["notes"])


@pytest.mark.parametrize("wrapped", ["Feature", "Polygon", "MultiPolygon"])
def test_the_only_polygon_is_the_boundary_however_it_is_wrapped(
    client: FlaskClient, wrapped: str
) -> None:
    held = [[SQUARE]] if wrapped == "MultiPolygon" else [SQUARE]
    bare = {"type": wrapped, "coordinates": held}
    file = drawn(None, "Polygon", [SQUARE]) if wrapped == "Feature" else bare
    answer = read(client, file | {"coordinates_are": "local_metres"})
    assert len(plot_in(answer)["boundary"]) == 4
    assert any("taken as the boundary" in note for note in answer.get_json()["notes"])


def test_a_house_is_no_boundary_where_another_polygon_may_be_meant_for_it(
    client: FlaskClient,
) -> None:
    # What draws the plot has another word for it; the house has none.
    house = [[10, 10], [16, 10], [16, 17], [10, 10]]
    for kind in ("plot", None):
        file = metres(drawn(kind, "Polygon", [SQUARE]), drawn(None, "Polygon", [house]))
        answer = read(client, file)
        assert answer.status_code == 422
        assert "boundary" in answer.get_json()["detail"]
    told = read(
        client, metres(drawn(None, "Polygon", [SQUARE]), drawn("water", "Polygon", [house]))
    )
    assert len(plot_in(told)["boundary"]) == 4


def test_everything_that_is_not_understood_is_listed_with_its_place(client: FlaskClient) -> None:
    file = metres(
        OUTER,
        drawn("fence", "LineString", [[0, 0], [9, 9]]),
        drawn("keep_outs", "Point", [5, 5]),
        drawn("level", "Point", [5, 5, 70.0], level_m=51, surveyor="nobody (invented)"),
        drawn(None, "Point", [1, 1]),
        generator="invented",
    )
    answer = read(client, file)
    found = {each["detail"]: each["places"] for each in answer.get_json()["not_used"]}
    by_place = {place: detail for detail, places in found.items() for place in places}
    assert "did you mean 'keep_out'" in by_place["/features/2"]
    assert "fence" in by_place["/features/1"]
    assert "'surveyor' of a level" in by_place["/features/3/properties/surveyor"]
    assert "heights" in by_place["/features/3/geometry/coordinates"]
    assert {"/features/4", "/generator"} <= set(by_place)
    assert plot_in(answer)["levels"] == [{"level_m": 51, "x_m": 5.0, "y_m": 5.0}]


def test_a_clearance_is_asked_for_and_never_made_up(client: FlaskClient) -> None:
    tree = drawn("keep_out", "Point", [30, 20], name="oak", radius_m=0.5)
    answer = read(client, metres(OUTER, tree, drawn("plant_room", "Point", [0, 20])))
    plot = plot_in(answer)
    assert "clearance_m" not in plot["keep_outs"][0]
    assert any("'oak'" in note and "clearance_m" in note for note in answer.get_json()["notes"])
    refused = client.post(SETTING_OUT, json={**JOB, "plot": plot})
    assert set(errors_of(refused)) == {"/plot/keep_outs/0/clearance_m"}


BOW = [[0, 0], [60, 40], [60, 0], [0, 40], [0, 0]]
HOLE = [[10, 10], [20, 10], [20, 20], [10, 10]]
NAN = json.dumps(metres(OUTER)).replace("60", "NaN", 1)
WRONG: dict[str, tuple[Any, str, str]] = {
    "no boundary": (metres(), "", "draws no boundary"),
    "crossing": (metres(drawn("boundary", "Polygon", [BOW])),
                 "/features/0", "meets the side"),
    "hole": (metres(drawn("boundary", "Polygon", [SQUARE, HOLE])),
             "/features/0/geometry/coordinates", "2 rings"),
    "parts": (metres(drawn("boundary", "MultiPolygon", [[SQUARE], [SQUARE]])),
              "/features/0/geometry", "2 parts"),
    "line": (metres(drawn("boundary", "LineString", SQUARE)), "/features/0", "open line"),
    "two": (metres(OUTER, OUTER), "/features/1", "second boundary"),
    "far": (metres(drawn("boundary", "Polygon", [[[0, 0], [1e9, 0], [0, 5], [0, 0]]])),
            "/features/0/geometry/coordinates/0/1", "no coordinate"),
    "huge": (metres(drawn("boundary", "Polygon", [[[0, 0], [10**400, 0], [0, 5]]])),
             "/features/0/geometry/coordinates/0/1", "no coordinate"),
    "text": (metres(drawn("boundary", "Polygon", [[["0", 0], [1, 0], [0, 5]]])),
             "/features/0/geometry/coordinates/0/0", "no coordinate"),
    "unknown blocks": (metres(OUTER, drawn("keep_out", "Point", [9, 9], clearance_m=1,
                                           blocks="all")),
                       "/features/1/properties/blocks", "blocks"),
    "negative": (metres(OUTER, drawn("keep_out", "Point", [9, 9], clearance_m=-1)),
                 "/features/1/properties/clearance_m", "clearance_m"),
    "outside": (metres(OUTER, drawn("plant_room", "Point", [900, 9])), "/features/1", "outside"),
    "both": (metres(OUTER, drawn("trench", "LineString", [[1, 1], [9, 9]], loop="T1"),
                    drawn("borehole", "Point", [9, 9], loop="B1")), "/features/2", "trenches"),
    "feature": (metres(OUTER, 5), "/features/1", "Feature"),
    "geometry": (metres({**OUTER, "geometry": None}), "/features/0/geometry", "geometry"),
    "collection": ({"type": "Topology"}, "", "FeatureCollection"),
    "coordinates_are": (metres(OUTER, coordinates_are="feet"), "/coordinates_are", "feet"),
    "crs": (metres(OUTER, crs={"type": "name", "properties": {"name": "EPSG:27700"}}), "/crs",
            "crs"),
    "metres as degrees": ({"type": "FeatureCollection", "features": [
        drawn("boundary", "Polygon", [[[450000, 5], [450060, 5], [450060, 9]]])]},
        "/features/0/geometry/coordinates/0/0", "local_metres"),
    "swapped": ({"type": "FeatureCollection", "features": [
        drawn("boundary", "Polygon", [[[52, 151.2], [52.001, 151.2], [52, 151.201]]])]},
        "/features/0/geometry/coordinates/0/0", "swapped"),
    "elsewhere": ({"type": "FeatureCollection", "features": [
        drawn("boundary", "Polygon", [[[1, 52], [1.001, 52], [1, 52.001]]]),
        drawn("plant_room", "Point", [52, 1])]}, "/features/1/geometry/coordinates", "km from"),
    "origin": ({"type": "FeatureCollection", "features": [OUTER],
                "plot_origin": {"longitude_deg": 1, "latitude_deg": 95}},
               "/plot_origin/latitude_deg", "latitude_deg"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_what_is_wrong_is_refused_by_its_place_in_the_file(client: FlaskClient, case: str) -> None:
    file, place, said = WRONG[case]
    answer = read(client, file)
    assert answer.status_code == 422, answer.data
    errors = errors_of(answer)
    at = next(each for each in errors if each.startswith(place))
    assert said in errors[at]["detail"]
    assert errors[at]["allowed"]


def test_nan_is_no_json(client: FlaskClient) -> None:
    answer = read(client, NAN)
    assert (answer.status_code, answer.get_json(force=True)["type"]) == (
        400, "/v1/problems/malformed-json",
    )  # fmt: skip


def test_the_corners_and_bytes_of_a_service_bound_a_file() -> None:
    small = create_app(Settings(max_corners=6, max_body_bytes=2_000)).test_client()
    fence = [[x, 5 + x % 2] for x in range(3, 6)]
    answer = read(small, metres(OUTER, drawn("keep_out", "LineString", fence, clearance_m=1)))
    assert any("EVENLOOP_MAX_CORNERS" in each["detail"] for each in errors_of(answer).values())
    assert read(small, metres(*[OUTER] * 50)).status_code == 413


# --------------------------------------------------------------------------------------------- DXF


def drawing(units: int = 6, **layers: Any) -> tuple[Any, Any]:
    """A new drawing, and its model space."""
    made: Any = ezdxf.new("R2010", units=units)
    return made, made.modelspace()


def text_of(made: Any) -> str:
    stream = io.StringIO()
    made.write(stream)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("units", "metres_each"),
    # $INSUNITS of the DXF reference; inch and foot by the international yard of 1959.
    [(1, 0.0254), (2, 0.3048), (4, 1e-3), (5, 1e-2), (6, 1.0), (14, 0.1)],
)
def test_a_drawing_is_read_in_its_own_unit(
    client: FlaskClient, units: int, metres_each: float
) -> None:
    made, space = drawing(units)
    ring = [(x / metres_each, y / metres_each) for x, y in SQUARE[:4]]
    space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "site"})
    space.add_point((0, 20 / metres_each), dxfattribs={"layer": "PLANT"})
    answer = read(client, text_of(made), "dxf")
    plot = plot_in(answer)
    found = [value for p in plot["boundary"] for value in (p["x_m"], p["y_m"])]
    assert found == pytest.approx([value for p in SQUARE[:4] for value in p])
    assert plot["plant_room"] == {"x_m": 0.0, "y_m": 20.0}
    told = " ".join(answer.get_json()["notes"])
    assert ("turned into metres" in told) == (units != 6)


@pytest.mark.parametrize("units", [0, 3, 18, 99])
def test_a_drawing_without_a_unit_of_ours_is_refused(client: FlaskClient, units: int) -> None:
    made, space = drawing()
    made.header["$INSUNITS"] = units
    space.add_lwpolyline(SQUARE[:4], close=True, dxfattribs={"layer": "SITE"})
    errors = errors_of(read(client, text_of(made), "dxf"))
    assert "$INSUNITS" in errors["/$INSUNITS"]["detail"]
    assert "6 metres" in errors["/$INSUNITS"]["allowed"]


def test_entities_of_every_kind_that_is_read(client: FlaskClient) -> None:
    made, space = drawing()
    space.add_polyline2d(SQUARE[:4], close=True, dxfattribs={"layer": "SITE"})
    # A round wall: half a circle of radius 2 m, and back.
    space.add_lwpolyline(
        [(20, 20, 0, 0, 1), (24, 20, 0, 0, 0)], close=True, dxfattribs={"layer": "KEEP_OUT"}
    )
    space.add_circle((40, 30), 0.6, dxfattribs={"layer": "KEEP_OUT"})
    space.add_line((0, 35), (60, 36), dxfattribs={"layer": "KEEP_OUT"})
    space.add_line((3, 3), (33, 3), dxfattribs={"layer": "TRENCH_CENTRE"})
    space.add_point((5, 5, 51.25), dxfattribs={"layer": "LEVEL"})
    space.add_text("oak", dxfattribs={"layer": "KEEP_OUT"})
    space.add_blockref("gate", (1, 1), dxfattribs={"layer": "SITE"})
    space.add_spline([(0, 0), (1, 1), (2, 0)], dxfattribs={"layer": "hedge"})
    paper = made.layout("Layout1")
    paper.add_lwpolyline(SQUARE[:4], close=True, dxfattribs={"layer": "SITE"})
    answer = read(client, text_of(made), "dxf")
    plot = plot_in(answer)
    wall, trunk, drain = plot["keep_outs"]
    around = [(p["x_m"], p["y_m"]) for p in wall["outline"]]
    assert [math.dist(p, (22, 20)) for p in around] == pytest.approx([2.0] * len(around), abs=1e-3)
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise([*around, around[0]])) / 2
    assert area == pytest.approx(math.pi * 2, rel=0.01)  # half of π r², less what chords cut
    assert trunk["centre"] == {"x_m": 40.0, "y_m": 30.0}
    assert trunk["radius_m"] == pytest.approx(0.6)
    assert len(drain["line"]) == 2
    assert plot["levels"] == [{"level_m": 51.25, "x_m": 5.0, "y_m": 5.0}]
    assert plot["trenches"][0]["loop"] == "T1"
    left = [each["detail"] for each in answer.get_json()["not_used"]]
    for what in ("TEXT on the layer 'KEEP_OUT'", "INSERT on the layer 'SITE'",
                 "SPLINE on the layer 'hedge'", "on paper"):  # fmt: skip
        assert any(what in each for each in left), (what, left)
    notes = " ".join(answer.get_json()["notes"])
    assert "chords" in notes
    assert "no name" in notes
    assert "clearance" in notes


def test_a_house_drawn_in_a_way_that_is_not_read_is_told_to_be_lacking(client: FlaskClient) -> None:
    made, space = drawing()
    space.add_lwpolyline(SQUARE[:4], close=True, dxfattribs={"layer": "SITE"})
    space.add_point((0, 20), dxfattribs={"layer": "PLANT"})
    space.add_text("house", dxfattribs={"layer": "KEEP_OUT"})
    space.add_spline([(0, 0), (1, 1), (2, 0)], dxfattribs={"layer": "hedge"})
    made.layout("Layout1").add_blockref("house", (9, 9), dxfattribs={"layer": "KEEP_OUT"})
    assert "lacks" not in " ".join(read(client, text_of(made), "dxf").get_json()["notes"])
    space.add_blockref("house", (20, 20), dxfattribs={"layer": "keep_out"})
    space.add_ellipse((30, 30), (3, 0), 0.5, dxfattribs={"layer": "WATER"})
    answer = read(client, text_of(made), "dxf")
    assert {"keep_outs", "water"}.isdisjoint(plot_in(answer))
    (note,) = [each for each in answer.get_json()["notes"] if "lacks" in each]
    assert "lacks 2" in note
    assert "(ELLIPSE, INSERT)" in note


def test_the_only_closed_polyline_is_the_boundary_where_no_layer_is_site(
    client: FlaskClient,
) -> None:
    made, space = drawing()
    space.add_lwpolyline(SQUARE[:4], close=True, dxfattribs={"layer": "parcel"})
    answer = read(client, text_of(made), "dxf")
    assert len(plot_in(answer)["boundary"]) == 4
    assert any("'parcel'" in note for note in answer.get_json()["notes"])


def test_drawn_from_below_or_open_a_boundary_is_refused_by_layer_and_handle(
    client: FlaskClient,
) -> None:
    made, space = drawing()
    line = space.add_lwpolyline(SQUARE[:4], dxfattribs={"layer": "SITE"})
    errors = errors_of(read(client, text_of(made), "dxf"))
    assert "open line" in errors[f"/SITE/{line.dxf.handle}"]["detail"]
    line.close(True)
    line.dxf.extrusion = (0, 0, -1)
    errors = errors_of(read(client, text_of(made), "dxf"))
    assert "plane of its own" in errors[f"/SITE/{line.dxf.handle}"]["detail"]


def test_a_drawing_scaled_by_others_keeps_its_clearances_to_scale(client: FlaskClient) -> None:
    # DXF reference: a value of group 1041 is scaled with the entity that it belongs to.
    data = file_of(JOBS["trenches"], "dxf").decode()
    drawn_again = ezdxf.read(io.StringIO(data))
    drawn_again.header["$INSUNITS"] = 4
    house: Any = drawn_again.modelspace().query('LWPOLYLINE[layer=="KEEP_OUT"]')[0]
    codes = {code for code, _ in house.get_xdata("EVENLOOP")}
    assert 1041 in codes
    errors = errors_of(read(client, text_of(drawn_again), "dxf"))
    assert errors  # 75 mm by 40 mm is no plot


BROKEN_DXF: dict[str, str] = {
    "empty": " ",
    "no code": "hello\nworld\n",
    "no entities": "  0\nSECTION\n  2\nHEADER\n  0\nENDSEC\n  0\nEOF\n",
    "cut": "  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n  8\nSITE\n 10\n",
    "nan": "  0\nSECTION\n  2\nHEADER\n  9\n$INSUNITS\n 70\n6\n  0\nENDSEC\n  0\nSECTION\n  2\n"
    "ENTITIES\n  0\nLINE\n  8\nTRENCH_CENTRE\n 10\nnan\n 20\n0\n 11\n1\n 21\n1\n  0\nENDSEC\n"
    "  0\nEOF\n",
}


@pytest.mark.parametrize("case", BROKEN_DXF)
def test_what_is_no_drawing_is_a_clear_problem(client: FlaskClient, case: str) -> None:
    answer = read(client, BROKEN_DXF[case], "dxf")
    assert answer.status_code in (400, 422)
    assert answer.get_json(force=True)["detail"]


def pairs(*told: str | float) -> str:
    """Lines of a drawing, of group codes and values in turn."""
    return "".join(f"{each}\n" for each in told)


def drawn_by_hand(entity: str, unit: int) -> str:
    """A drawing of one entity more than its square."""
    site = pairs(0, "LWPOLYLINE", 8, "SITE", 70, 1, 10, 0, 20, 0, 10, 50, 20, 0, 10, 50, 20, 50)
    head = pairs(0, "SECTION", 2, "HEADER", 9, "$INSUNITS", 70, unit, 0, "ENDSEC")
    start, end = pairs(0, "SECTION", 2, "ENTITIES"), pairs(0, "ENDSEC", 0, "EOF")
    return head + start + site + entity + end


TOLD_BY_US = (1001, "EVENLOOP", 1000)
WITH_A_NUMBER: dict[str, tuple[str | int, ...]] = {
    "corner": (0, "LWPOLYLINE", 8, "WATER", 70, 1, 10, "@", 20, 0, 10, 9, 20, 0, 10, 9, 20, 9),
    "corner y": (0, "LWPOLYLINE", 8, "WATER", 70, 1, 10, 0, 20, "@", 10, 9, 20, 0, 10, 9, 20, 9),
    "bulge": (
        *(0, "LWPOLYLINE", 8, "WATER", 70, 1, 10, 0, 20, 0, 42, "@", 10, 9, 20, 0, 10, 9, 20, 9),
    ),
    "old corner": (
        *(0, "POLYLINE", 8, "WATER", 70, 1, 0, "VERTEX", 10, "@", 20, 0, 42, 1),
        *(0, "VERTEX", 10, 9, 20, 0, 0, "VERTEX", 10, 9, 20, 9, 0, "SEQEND"),
    ),
    "line": (0, "LINE", 8, "TRENCH_CENTRE", 10, 0, 20, 0, 11, "@", 21, 0),
    "circle": (0, "CIRCLE", 8, "KEEP_OUT", 10, "@", 20, 0, 40, 1),
    "radius": (0, "CIRCLE", 8, "KEEP_OUT", 10, 0, 20, 0, 40, "@"),
    "point": (0, "POINT", 8, "PLANT", 10, 0, 20, "@"),
    "level": (0, "POINT", 8, "LEVEL", 10, 0, 20, 0, 30, "@"),
    "plane": (0, "CIRCLE", 8, "KEEP_OUT", 10, 0, 20, 0, 40, 1, 230, "@"),
    "clearance": (
        *(0, "CIRCLE", 8, "KEEP_OUT", 10, 9, 20, 9, 40, 1, *TOLD_BY_US, "clearance_m", 1041, "@"),
    ),
    "loops": (0, "POINT", 8, "CHAMBER", 10, 9, 20, 9, *TOLD_BY_US, "max_loops", 1070, "@"),
}  # fmt: skip


@pytest.mark.parametrize("case", WITH_A_NUMBER)
@pytest.mark.parametrize(
    ("number", "unit"),
    [("1e400", 6), ("-1e400", 4), ("1.7e308", 6), ("1e308", 7), ("-1.7e308", 1), ("1e200", 6)],
)
def test_a_number_too_large_to_hold_is_refused_wherever_it_stands(
    client: FlaskClient, case: str, number: str, unit: int
) -> None:
    told = (number if each == "@" else each for each in WITH_A_NUMBER[case])
    answer = read(client, drawn_by_hand(pairs(*told), unit), "dxf")
    assert answer.status_code == 422, answer.data
    assert any(number in str(each) for each in errors_of(answer).values()), answer.data
    assert "inf" not in answer.get_data(as_text=True).replace("info", "")


def test_a_binary_drawing_is_refused(client: FlaskClient) -> None:
    answer = read(client, b"some binary form\r\n\x1a\x00\x00\x01", "dxf")
    assert answer.get_json(force=True)["type"] == "/v1/problems/malformed-file"
    assert "binary" in answer.get_json(force=True)["detail"]
    answer = read(client, "0\nSECTION\n1\nWand f\xfcr W\xe4rme\n".encode("latin-1"), "dxf")
    assert "UTF-8" in answer.get_json(force=True)["detail"]


# --------------------------------------------------------------------------------------------- CSV


def table(*rows: str, head: str = "point,kind,belongs_to,x_m,y_m") -> str:
    return "\r\n".join([head, *rows])


RING = [f"S{n},boundary,,{x},{y}" for n, (x, y) in enumerate(SQUARE[:4], 1)]


def test_a_plain_table_of_corners_is_a_plot(client: FlaskClient) -> None:
    short = [f"boundary;{x};{y},0" for x, y in SQUARE[:4]]
    plot = plot_in(read(client, table(*short, head="kind;x_m;y_m"), "csv"))
    assert [(p["x_m"], p["y_m"]) for p in plot["boundary"]] == [(0, 0), (60, 0), (60, 40), (0, 40)]


def test_trees_of_one_name_stay_two(client: FlaskClient) -> None:
    trees = [
        f"K{n}.{k},keep_out,oak,{x},{y}"
        for n in (1, 2)
        for k, (x, y) in enumerate([(10 * n, 9), (10 * n + 2, 9), (10 * n, 12)], 1)
    ]
    plot = plot_in(read(client, table(*RING, *trees), "csv"))
    assert [each["name"] for each in plot["keep_outs"]] == ["oak", "oak"]


def drains(*points: str) -> list[str]:
    """Two drains of one name, of two rows each."""
    ends = ((10, 9), (50, 9), (10, 30), (50, 30))
    return [f"{p},keep_out_line,drain,{x},{y}" for p, (x, y) in zip(points, ends, strict=True)]


def test_two_drains_of_one_name_that_nothing_tells_apart_are_told_or_refused(
    client: FlaskClient,
) -> None:
    joined = read(client, table(*RING, *drains("A", "B", "C", "D")), "csv")
    assert len(plot_in(joined)["keep_outs"]) == 1
    (note,) = [
        each for each in joined.get_json()["notes"] if "drain" in each and "one thing" in each
    ]
    assert note.startswith("Lines from 6 (keep_out_line)")
    assert "4 points" in note
    numbered = read(client, table(*RING, *drains("K1.1", "K1.2", "K2.1", "K2.2")), "csv")
    assert len(plot_in(numbered)["keep_outs"]) == 2
    assert "one thing" not in str(numbered.get_json()["notes"])
    one, two, *rest = drains("A", "B", "C", "D")
    apart = read(client, table(*RING, one, two, "T,tree,,20,20", *rest), "csv")
    assert apart.status_code == 422
    fault = errors_of(apart)["/9"]["detail"]
    assert "'drain' ended before" in fault
    assert "K2.1" in fault


KEPT_OFF = "point,kind,belongs_to,x_m,y_m,clearance_m,blocks"


def drain_rows(*told: str) -> str:
    """A plot and a drain, whose rows tell so much of it."""
    rows = [f"K1.{n},keep_out_line,drain,{10 * n},9,{each}" for n, each in enumerate(told, 1)]
    return table(*(f"{row},," for row in RING), *rows, head=KEPT_OFF)


@pytest.mark.parametrize(
    ("told", "name"),
    [
        (("1,both", "2,both"), "clearance_m"),
        (("2,both", "1,both"), "clearance_m"),
        (("1,array", "1,both"), "blocks"),
        (("1,", ",", "2,"), "clearance_m"),
    ],
)
def test_rows_that_contradict_each_other_about_a_keep_out_are_refused_by_both_lines(
    client: FlaskClient, told: tuple[str, ...], name: str
) -> None:
    answer = read(client, drain_rows(*told), "csv")
    assert answer.status_code == 422, answer.data
    last = 5 + len(told)
    fault = errors_of(answer)[f"/{last}/{name}"]["detail"]
    assert f"Line {last}:" in fault
    assert "line 6" in fault


@pytest.mark.parametrize("told", [("2,array", ","), (",", "2,array"), ("2,", ",array")])
def test_what_one_row_tells_of_a_keep_out_holds_for_the_whole_of_it(
    client: FlaskClient, told: tuple[str, ...]
) -> None:
    (drain,) = plot_in(read(client, drain_rows(*told), "csv"))["keep_outs"]
    assert (drain["clearance_m"], drain["blocks"]) == (2, "array")


def levelled(*rows: str) -> str:
    """A table with both names of a level, of a rectangle and some more rows."""
    ring = [f"S,boundary,{x},{y},," for x, y in ((0, 0), (60, 0), (60, 40), (0, 40))]
    return table(*ring, *rows, head="point,kind,x_m,y_m,ground_level_m,level_m")


def test_a_level_is_read_by_its_name_in_our_tables_and_in_a_job(client: FlaskClient) -> None:
    rows = ("L1,level,1,1,50.5,", "L2,level,9,1,,51", "L3,level,1,9,52,52")
    levels = plot_in(read(client, levelled(*rows), "csv"))["levels"]
    assert [each["level_m"] for each in levels] == [50.5, 51, 52]


WRONG_ROWS = {
    "x": (table(*RING[:2], "S3,boundary,,six,40"), "/4/x_m", "'six'"),
    "nan": (table(*RING[:2], "S3,boundary,,nan,40"), "/4/x_m", "'nan'"),
    "infinite": (table(*RING[:2], "S3,boundary,,1e99,40"), "/4/x_m", "1e99"),
    "cells": (table(*RING, "P,plant_room,,1"), "/6", "4 cells"),
    "columns": ("a,b\n1,2\n", "/1", "kind"),
    "quotes": (table(*RING, '"P,plant_room,,1,1'), "/", "CSV"),
    "level": (table(*RING, "L1,level,,1,1"), "/6/ground_level_m", "ground_level_m nor level_m"),
    "level in words": (levelled("L1,level,1,1,,high"), "/6/level_m", "level_m 'high' is no level"),
    "two of a level": (levelled("L1,level,1,1,50,51"), "/6/level_m", "differ"),
    "two levels": (levelled("L1,level,1,1,50,", "L2,level,1,1,,55"), "/7", "at 50 and at 55 m"),
    "corners": (table(*RING[:2]), "/2", "boundary"),
    "crossing": (table(RING[0], RING[2], RING[1], RING[3]), "/2", "meets the side"),
}


@pytest.mark.parametrize("case", WRONG_ROWS)
def test_a_wrong_row_is_refused_by_its_line_and_column(client: FlaskClient, case: str) -> None:
    file, place, said = WRONG_ROWS[case]
    answer = read(client, file, "csv")
    assert answer.status_code == 422, answer.data
    errors = errors_of(answer)
    at = next(each for each in errors if each.startswith(place))
    assert said in errors[at]["detail"]


def test_rows_and_columns_that_are_not_used_are_listed(client: FlaskClient) -> None:
    head = "point,kind,belongs_to,x_m,y_m,colour"
    rows = [f"{row},red" for row in (*RING, "F1,fence,,1,1")]
    answer = read(client, table(*rows, head=head), "csv")
    places = [place for each in answer.get_json()["not_used"] for place in each["places"]]
    assert {"/1/colour", "/6"} <= set(places)
    written = csv.reader(io.StringIO(table(*rows, head=head)))
    assert len(list(written)) == 6


# ------------------------------------------------------------------------------------- no file does


def many_arcs() -> str:
    ends = "".join(f" 10\n{k}\n 20\n{k % 7}\n 42\n1\n" for k in range(120_000))
    return (
        "  0\nSECTION\n  2\nHEADER\n  9\n$INSUNITS\n 70\n6\n  0\nENDSEC\n  0\nSECTION\n  2\n"
        f"ENTITIES\n  0\nLWPOLYLINE\n  8\nSITE\n 70\n1\n{ends}  0\nENDSEC\n  0\nEOF\n"
    )


def many_corners() -> str:
    ring = [[math.cos(k / 1000) * k, math.sin(k / 1000) * k] for k in range(90_000)]
    return json.dumps(metres(drawn("boundary", "Polygon", [ring])))


HEAVY: dict[str, tuple[str, Callable[[], str]]] = {
    "arcs": ("dxf", many_arcs),
    "corners": ("geojson", many_corners),
    "features": ("geojson", lambda: json.dumps(metres(*[drawn(f"k{n}", "Point", [0, 0])
                                                        for n in range(30_000)]))),
    "rows": ("csv", lambda: table(*["S,boundary,,1,1"] * 200_000)),
    "names": ("csv", lambda: table(*[f"S,kind {n},,1,1" for n in range(150_000)])),
    "keep-outs": ("geojson", lambda: json.dumps(metres(OUTER, *[
        drawn("keep_out", "Polygon", [[[9, 9], [9.5, 9], [9.5, 9.5], [9, 9]]], clearance_m=1)
        for _ in range(20_000)]))),
    "entities": ("dxf", lambda: "  0\nSECTION\n  2\nENTITIES\n" + "  0\nA\n  8\nB\n" * 200_000
                 + "  0\nENDSEC\n  0\nEOF\n"),
}  # fmt: skip


@pytest.mark.parametrize("case", HEAVY)
def test_no_file_of_the_size_taken_costs_more_than_seconds(client: FlaskClient, case: str) -> None:
    form, made = HEAVY[case]
    body = made()
    assert len(body) < 4_194_304  # what a service takes by its setting
    began = time.process_time()
    answer = read(client, body, form)
    # 0.1 to 2 s on the machine of these tests; ten are those of a shared one.
    assert time.process_time() - began < 10.0
    assert answer.status_code in (200, 422)
    assert len(answer.data) < 200_000


SCRAPS = (
    "",
    "nan",
    "1e308",
    "-1e99",
    "0",
    "1",
    "-1",
    "999",
    "{",
    "]",
    "null",
    "'",
    '"',
    ";",
    "9" * 40,
    "SITE",
    "KEEP_OUT",
    "boundary",
    "keep_out",
    "LWPOLYLINE",
    "CIRCLE",
    "é",
    "SECTION",
    "1001",
)


@pytest.mark.parametrize("form", KINDS)
def test_a_file_with_anything_changed_is_read_or_refused(client: FlaskClient, form: str) -> None:
    seed = random.randrange(10**6)
    print("seed", seed)
    chance = random.Random(seed)
    whole = file_of(JOBS["trenches"], form).decode()
    parts = re.split(r"([\n,;{}\[\]:])", whole)
    for _ in range(60):
        changed = parts.copy()
        for _ in range(chance.choice((1, 1, 2, 9))):
            at = chance.randrange(len(changed))
            changed[at] = chance.choice((*SCRAPS, chance.choice(parts)))
            if chance.random() < 0.2:
                del changed[at : at + chance.randrange(1, 40)]
        answer = read(client, "".join(changed), form)
        assert answer.status_code in (200, 400, 422), ("".join(changed), answer.data)
