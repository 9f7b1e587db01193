"""Pictures of a flow split: what is asked for, what comes, and what stands in it."""

import io
import re
import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from urllib.parse import unquote
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from flask.testing import FlaskClient
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image
from werkzeug.test import TestResponse

from api import create_app
from api.drawings.curves import PumpLine, SystemLine, lines_of_selection, system_line
from api.drawings.flows import flows_figure, flows_text
from api.drawings.render import png_of, svg_of
from api.drawings.style import shortened, states_of
from api.drawings.system_curve import system_curve_figure, system_curve_text
from api.media_types import PICTURES, PNG, SVG
from api.settings import Settings

Json = dict[str, Any]
NAMESPACE = "{http://www.w3.org/2000/svg}"
PATH = "/v1/split"


def ask(client: FlaskClient, job: Json, kind: str, picture: str = "flows") -> TestResponse:
    return client.post(f"{PATH}/{picture}.{'svg' if kind == SVG else 'png'}", json=job)


def words_of(svg: bytes) -> list[str]:
    return [each.text or "" for each in ET.fromstring(svg).iter(f"{NAMESPACE}text")]


def chunks_of(png: bytes) -> dict[bytes, list[bytes]]:
    """Chunks of a PNG (W3C PNG specification, clause 5), their checksums checked."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    found: dict[bytes, list[bytes]] = {}
    at = 8
    while at < len(png):
        (length,) = struct.unpack(">I", png[at : at + 4])
        kind, data = png[at + 4 : at + 8], png[at + 8 : at + 8 + length]
        (checksum,) = struct.unpack(">I", png[at + 8 + length : at + 12 + length])
        assert checksum == zlib.crc32(kind + data)
        found.setdefault(kind, []).append(data)
        at += 12 + length
    return found


def loop(name: str, length: float) -> Json:
    return {"name": name, "pipe": "PE100 SDR11 32", "legs": [{"straight": {"length_m": length}}]}


def ladder(arrangement: str, count: int) -> Json:
    return {
        "arrangement": arrangement,
        "header_pipe": "PE100 SDR11 63",
        **({"closing_m": 30} if arrangement == "reverse_return" else {}),
        "branches": [
            {"loop": loop("Row", 150), "count": count, "header_m": 3},
        ],
    }  # fmt: skip


def nested() -> Json:
    inner = {"name": "Chamber", **ladder("reverse_return", 3)}
    run = {"pipe": "PE100 SDR11 63", "length_m": 20}
    return {
        "arrangement": "direct_return",
        "header_pipe": "PE100 SDR11 75",
        "branches": [
            {"header_m": 5, "runs": [run], "circuit": inner, "count": 2},
            {"header_m": 5, "loop": loop("Own", 200)},
        ],
    }


ARRAYS = {
    "direct": ladder("direct_return", 12),
    "reverse": ladder("reverse_return", 12),
    "many": ladder("direct_return", 90),
    "nested": nested(),
    "one": ladder("direct_return", 1),
}


# ------------------------------------------------------------------------------------ addresses


@pytest.mark.parametrize("picture", PICTURES)
@pytest.mark.parametrize("kind", [SVG, PNG])
def test_every_picture_comes_in_both_types(
    client: FlaskClient, job: Json, picture: str, kind: str
) -> None:
    answer = ask(client, job, kind, picture)
    assert (answer.status_code, answer.content_type.split(";")[0]) == (200, kind)
    assert answer.headers["Cache-Control"] == "no-store"
    if kind == SVG:
        assert ET.fromstring(answer.data).tag == f"{NAMESPACE}svg"
    else:
        assert {b"IHDR", b"IDAT", b"IEND"} <= chunks_of(answer.data).keys()


@pytest.mark.parametrize("array", ARRAYS)
@pytest.mark.parametrize("picture", PICTURES)
def test_every_arrangement_can_be_drawn(
    client: FlaskClient, job: Json, array: str, picture: str
) -> None:
    job["array"] = ARRAYS[array]
    answer = ask(client, job, SVG, picture)
    assert answer.status_code == 200
    # No coordinate may be lost to a division by zero.
    assert not re.search(rb"\b(nan|inf)\b", answer.data)


@pytest.mark.parametrize("picture", PICTURES)
def test_an_array_in_which_nothing_flows_can_be_drawn(
    client: FlaskClient, job: Json, picture: str
) -> None:
    job["duty"]["flow_l_s"] = 0.0
    answer = ask(client, job, SVG, picture)
    if answer.status_code == 422:  # a flow of zero may be refused as a duty, never fail
        assert answer.get_json()["errors"][0]["pointer"] == "/duty/flow_l_s"
    else:
        assert answer.status_code == 200


@pytest.mark.parametrize(
    ("address", "accept", "status"),
    [
        ("flows.svg", "image/*", 200),
        ("flows.png", "image/png", 200),
        ("flows.png", "image/svg+xml", 406),
        ("flows.svg", "application/json", 406),
    ],
)
def test_a_picture_has_the_type_that_its_address_ends_in(
    client: FlaskClient, job: Json, address: str, accept: str, status: int
) -> None:
    answer = client.post(f"{PATH}/{address}", json=job, headers={"Accept": accept})
    assert answer.status_code == status
    if status == 406:
        assert answer.mimetype == "application/problem+json"
        assert f"image/{address[-3:]}" in answer.get_json()["detail"]


@pytest.mark.parametrize("address", ["pie.svg", "flows.gif", "flows"])
def test_an_unknown_picture_is_not_found(client: FlaskClient, job: Json, address: str) -> None:
    answer = client.post(f"{PATH}/{address}", json=job)
    assert (answer.status_code, answer.mimetype) == (404, "application/problem+json")
    problem = answer.get_json()
    assert problem["type"] == "/v1/problems/not-found"
    if "." in address:
        assert all(name in problem["detail"] for name in PICTURES)


def test_faults_of_the_input_are_problems_whatever_is_accepted(
    client: FlaskClient, job: Json
) -> None:
    job["array"]["branches"][0]["loop"]["legs"] = []
    answer = ask(client, job, PNG)
    assert (answer.status_code, answer.mimetype) == (422, "application/problem+json")


def test_too_many_loops_for_a_picture_are_refused_and_still_solved_as_json(job: Json) -> None:
    client = create_app(Settings(max_picture_loops=11)).test_client()
    job["array"] = ladder("direct_return", 12)
    answer = ask(client, job, SVG)
    assert answer.status_code == 422
    error = answer.get_json()["errors"][0]
    assert error["pointer"] == "/array"
    assert "EVENLOOP_MAX_PICTURE_LOOPS" in error["detail"]
    assert error["allowed"] == "11 loops or fewer"
    assert client.post(PATH, json=job).status_code == 200


# -------------------------------------------------------------------------- names from users


@pytest.mark.parametrize("picture", ["flows", "pressure_profile", "schematic"])
@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "$x^2$ $\\frac{", "a & b -- c]]>", "\"'", "日本/北1"]
)
def test_names_stand_in_a_picture_as_they_were_given(
    client: FlaskClient, job: Json, picture: str, name: str
) -> None:
    job["array"]["branches"][0]["loop"]["name"] = name
    svg = ask(client, job, SVG, picture).data
    assert not list(ET.fromstring(svg).iter(f"{NAMESPACE}script"))
    assert shortened(name, 20) in [shortened(words, 20) for words in words_of(svg)]
    assert ask(client, job, PNG, picture).status_code == 200


def test_the_name_of_the_job_is_escaped_in_heading_and_text_alternative(
    client: FlaskClient, job: Json
) -> None:
    job["name"] = "Barn </desc><script>&$a$"
    answer = ask(client, job, SVG, "flows")
    root = ET.fromstring(answer.data)
    assert job["name"] in words_of(answer.data)
    assert job["name"] in (root.findtext(f"{NAMESPACE}desc") or "")
    assert not list(root.iter(f"{NAMESPACE}script"))


def test_a_long_name_is_shortened_and_keeps_its_end() -> None:
    name = "/".join(["A chamber with a long name"] * 3) + "/T7"
    assert len(shortened(name, 28)) <= 28
    assert "…" in shortened(name, 28)
    assert shortened(name, 28).endswith("/T7")
    assert shortened("T7", 28) == "T7"


def test_a_picture_opened_by_itself_may_load_and_run_nothing(
    client: FlaskClient, job: Json
) -> None:
    answer = ask(client, job, SVG)
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
    assert b"<!DOCTYPE" not in answer.data
    assert not re.search(rb'(href|src)="(?!#)', answer.data)


# -------------------------------------------------------------------------- text alternative


@pytest.mark.parametrize("picture", PICTURES)
def test_the_text_alternative_is_in_the_svg_the_png_and_the_header(
    client: FlaskClient, job: Json, picture: str
) -> None:
    job["name"] = "Größe 北, 100 % (invented)"
    svg, png = ask(client, job, SVG, picture), ask(client, job, PNG, picture)
    root = ET.fromstring(svg.data)
    text = root.findtext(f"{NAMESPACE}desc") or ""
    assert job["name"] in text
    assert root.findtext(f"{NAMESPACE}title")
    assert root.get("role") == "img"
    for answer in (svg, png):
        header = answer.headers["Content-Description"]
        assert header.isascii()
        assert header.isprintable()
        assert unquote(header) == text
    # International text, since 北 is not in Latin-1 (PNG specification, clause 11.3.3.4).
    written = next(c for c in chunks_of(png.data)[b"iTXt"] if c.startswith(b"Description\0"))
    assert written.endswith(text.encode("utf-8"))


def test_a_text_alternative_in_latin_1_is_a_plain_text_chunk(
    client: FlaskClient, job: Json
) -> None:
    chunks = chunks_of(ask(client, job, PNG).data)
    assert any(c.startswith(b"Description\0Flow of each of 2 loops") for c in chunks[b"tEXt"])


def test_text_alternatives_tell_the_numbers_of_the_answer(client: FlaskClient, job: Json) -> None:
    job["array"]["branches"][1]["loop"]["legs"] = [{"straight": {"length_m": 90}}]
    content = client.post(PATH, json=job).get_json()
    first, second = content["loops"]
    told = {p: unquote(ask(client, job, SVG, p).headers["Content-Description"]) for p in PICTURES}
    below = f"{abs(first['deviation_percent']):.0f} per cent below target"
    assert f"A has {first['flow_l_s']:.3f} L/s, {below}" in told["flows"]
    assert f"B has {second['flow_l_s']:.3f} L/s" in told["flows"]
    assert f"duty at 0.400 L/s and {content['pump']['head_m']:.2f} m" in told["system_curve"]
    assert f"{first['drop_kpa']:.1f} kPa across every loop" in told["pressure_profile"]
    assert f"Starved: A {below}" in told["schematic"]


def test_marks_tell_the_state_by_shape_as_well_as_colour(client: FlaskClient, job: Json) -> None:
    job["array"]["branches"][1]["loop"]["legs"] = [{"straight": {"length_m": 90}}]
    words = words_of(ask(client, job, SVG, "schematic").data)
    assert {"starved: below tolerance", "above tolerance"} <= set(words)


def test_a_loop_exactly_at_the_tolerance_is_within_it() -> None:
    import numpy as np

    assert states_of(np.array([-0.1, -0.1001, 0.1, 0.1001]), 0.1).tolist() == [1, 0, 1, 2]


# --------------------------------------------------------------------- the same bytes every time


@pytest.mark.parametrize("picture", PICTURES)
def test_the_same_request_gives_the_same_bytes(job: Json, picture: str) -> None:
    for kind in (SVG, PNG):
        one, two = (
            ask(create_app(Settings()).test_client(), job, kind, picture).data for _ in range(2)
        )
        assert one == two
        # No date and no program: the same picture tomorrow and elsewhere.
        assert not re.search(rb"20\d\d-\d\d-\d\d|[Mm]atplotlib v", one)


def test_threads_draw_the_same_as_one_after_the_other(job: Json) -> None:
    app = create_app(Settings())
    tasks = [(kind, picture) for kind in (SVG, PNG) for picture in PICTURES] * 3

    def draw(task: tuple[str, str]) -> bytes:
        drawn: bytes = ask(app.test_client(), job, *task).data
        return drawn

    alone = [draw(task) for task in tasks]
    with ThreadPoolExecutor(6) as pool:
        together = list(pool.map(draw, tasks))
    assert together == alone


def test_the_drawing_library_is_loaded_with_the_first_picture_only() -> None:
    import subprocess
    import sys

    code = (
        "import sys; from api import create_app; from api.settings import Settings; "
        "create_app(Settings()); sys.exit('matplotlib' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# ----------------------------------------------------------------------------- the figures alone


def solved(target: Any = "even") -> tuple[Any, Any]:
    from hydraulics.fluid.mixture import mixture
    from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
    from hydraulics.layout.legs import Straight
    from hydraulics.pipework.pipe import pe_pipe
    from hydraulics.split.duty import FlowDuty
    from hydraulics.split.flow_split import flow_split

    pipe = pe_pipe("PE100 SDR11 32")
    loops = tuple(Branch(Loop(n, pipe, (Straight(m),))) for n, m in (("A", 200.0), ("B", 150.0)))
    brine = mixture("propylene_glycol", 0.25, "mass")
    duty = FlowDuty(4e-4, -3.0, 0.0)
    result = flow_split(Circuit("manifold", loops), Plant(), brine, duty, target=target)
    return result, brine


def test_flows_are_judged_against_a_target_that_is_given() -> None:
    result, _ = solved({"A": 1.0, "B": 3.0})
    text = flows_text(result)
    low = 100.0 * (1.0 - result.loops.volume_flow[1] / 3e-4)
    assert f"B has {result.loops.volume_flow[1] * 1e3:.3f} L/s, {low:.0f} per cent below" in text
    assert svg_of(flows_figure(result), "t", text)


def test_pumps_are_drawn_over_cold_and_warm_systems_with_their_points() -> None:
    from hydraulics.pumps.examples import demo_pumps
    from hydraulics.pumps.running import PumpedFluid, SystemCurve
    from hydraulics.pumps.selection import Candidate, Condition, select

    result, _ = solved()
    curve = result.curve
    conditions = [
        Condition(name, SystemCurve(curve.volume_flow, factor * curve.head),
                  PumpedFluid(1030.0, viscosity), 900.0)
        for name, factor, viscosity in (("cold", 1.0, 5e-6), ("warm", 0.8, 3e-6))
    ]  # fmt: skip
    chosen, _ = select([Candidate(pump) for pump in demo_pumps()[:2]], 4e-4, 5.0, conditions)
    lines = lines_of_selection(chosen, conditions)
    text = system_curve_text(*lines)
    for selection in chosen:
        for found in selection.conditions:
            if found.point is not None:
                assert f"{found.name} at {found.point.flow * 1e3:.3f} L/s" in text
    svg = svg_of(system_curve_figure(*lines), "t", text)
    assert {"system, cold", "system, warm"} <= set(words_of(svg))
    figure = system_curve_figure(*lines)
    png = Image.open(io.BytesIO(png_of(figure, "t", text)))
    canvas = FigureCanvasAgg(figure)
    canvas.draw()  # type: ignore[no-untyped-call]
    dots = Image.fromarray(np.asarray(canvas.buffer_rgba()))  # type: ignore[no-untyped-call]
    assert dots.getchannel("A").getextrema() == (255, 255), "something shines through"
    assert png.convert("RGBA").tobytes() == dots.tobytes()


def test_a_system_line_passes_through_its_points_and_never_beyond_them() -> None:
    import numpy as np

    flow, head = np.array([1e-4, 2e-4, 3e-4, 4e-4]), np.array([1.0, 3.0, 6.0, 10.0])
    line = system_line("cold", flow, head)
    assert (line.flow[0], line.flow[-1]) == (1e-4, 4e-4)
    # PCHIP in logarithms reproduces its own points.
    assert np.interp(flow[[0, -1]], line.flow, line.head) == pytest.approx(head[[0, -1]])
    assert (np.diff(line.head) > 0.0).all()


def test_curves_without_any_points_are_no_fault() -> None:
    import numpy as np

    none = np.zeros(0)
    assert system_curve_figure([]).axes
    assert "nothing flows" in system_curve_text([], [PumpLine("p", none, none)])
    assert system_curve_figure([SystemLine("cold", none, none)]).axes
    # Of a system far above every pump that is drawn, nothing is in the picture.
    assert "cold, outside" in system_curve_text([SystemLine("cold", none, none)])
