"""A setting-out plan and its tables are legible, and number what is to be pegged out alike."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from xml.etree import ElementTree as ET

import pytest
import shapely
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath
from shapely import affinity

from api.drawings.plan import FRAME
from api.drawings.site_plan import site_plan_svg
from api.drawings.site_tables import site_table_sheets
from hydraulics.plot.asked import BoreField, Lay, ParallelTrenches
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, SitePlot

SVG = "{http://www.w3.org/2000/svg}"
L_SHAPE = ((0.0, 0.0), (80.0, 0.0), (80.0, 35.0), (35.0, 35.0), (35.0, 75.0), (0.0, 75.0))
WALLS = ((10.0, 0.0), (20.0, 0.0), (20.0, 6.0), (10.0, 6.0))
FIELD = ((0.0, 0.0), (118.0, -6.0), (126.0, 72.0), (64.0, 96.0), (-4.0, 84.0))
STRIP = ((0.0, 0.0), (130.0, 0.0), (130.0, 9.0), (0.0, 9.0))


def lettered(svg: str) -> Iterator[tuple[str, shapely.Geometry]]:
    """Every text and what its letters cover on paper, by the metrics of the font itself."""
    for element in ET.fromstring(svg):
        place = element.get("transform", "") if element.tag == f"{SVG}g" else ""
        texts = [element] if element.tag == f"{SVG}text" else element.findall(f"{SVG}text")
        for text in texts:
            if text.get("fill") == "none" or not text.text:  # the white behind the letters
                continue
            weight = text.get("font-weight", "normal")
            font = FontProperties(family="DejaVu Sans", weight=weight)
            size = float(text.attrib["font-size"])
            path = TextPath((0.0, 0.0), text.text, size=size, prop=font)
            west, below, east, above = path.get_extents().extents
            share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor", "start")]
            west, east = west - share * east, east - share * east
            box = shapely.box(west, -above, east, -below)
            box = affinity.translate(box, float(text.attrib["x"]), float(text.attrib["y"]))
            if turned := re.search(r"rotate\(([-\d.]+)\)", place):
                box = affinity.rotate(box, float(turned[1]), origin=(0.0, 0.0))
            if moved := re.search(r"translate\(([-\d.]+) ([-\d.]+)\)", place):
                box = affinity.translate(box, float(moved[1]), float(moved[2]))
            yield text.text, box


def legible(drawn: str) -> list[str]:
    """Texts of a sheet in their order, none of them on another or beyond the frame."""
    words = list(lettered(drawn))
    width, height = map(float, ET.fromstring(drawn).attrib["viewBox"].split()[2:])
    paper = shapely.box(0.0, 0.0, width, height).buffer(-FRAME)
    assert [text for text, box in words if not paper.contains(box)] == []
    told = [text for text, _ in words]
    tree = shapely.STRtree([box for _, box in words])
    first, second = tree.query([box for _, box in words], predicate="intersects")
    pairs = zip(first.tolist(), second.tolist(), strict=True)
    assert [(told[a], told[b]) for a, b in pairs if a < b] == []
    return told


@pytest.mark.parametrize(
    ("plot", "lay"),
    [
        (SitePlot(L_SHAPE, (0.0, 12.0)), ParallelTrenches(12, 30.0)),
        (SitePlot(STRIP, (0.0, 4.5)), ParallelTrenches(4, 40.0, centres=4.0)),
        (
            SitePlot(
                ((0.0, 0.0), (30.0, 0.0), (30.0, 24.0), (0.0, 24.0)),
                (15.0, 6.0),
                (KeepOut("house", 2.0, WALLS),),
            ),
            BoreField(6),
        ),
        (SitePlot(FIELD, (60.0, -3.0)), ParallelTrenches(61, 27.5)),
        (
            SitePlot(
                L_SHAPE, (0.0, 12.0), levels=tuple((x, y, 50.0 + 0.01 * x) for x, y in L_SHAPE)
            ),
            ParallelTrenches(4, 20.0),
        ),
    ],
    ids=["l_shape", "strip", "bores", "field", "levels at the corners"],
)
def test_no_lettering_of_a_plan_lies_on_other_lettering(plot: SitePlot, lay: Lay) -> None:
    plan = set_out(plot, lay)
    told = legible(site_plan_svg(plan, "Fern Paddock (invented)"))
    for chamber in plan.chambers:
        assert f"{chamber.name} ({chamber.at[0]:.2f}, {chamber.at[1]:.2f})" in told
    # By hand: flow and return of every loop, and of every run, with an R.
    longest = max(plan.stretches, key=lambda each: each.length)
    tails, runs = 2 * len(longest.loops), 2 * len(longest.runs)
    pipes = f"{tails}+" * bool(tails and runs) + (f"{runs}R" if runs else f"{tails}")
    number = plan.stretches.index(longest) + 1
    assert f"H{number}: {pipes}" in told

    sheets = [legible(each) for each in site_table_sheets(plan, "Fern Paddock (invented)")]
    rows = [row for sheet in sheets for row in sheet]
    triples = set(zip(rows, rows[1:], rows[2:], strict=False))
    # Every loop with its chamber and tail, every stretch, and every end where it is to be pegged.
    assert {(n, plan.loop_chamber[n], f"{m:.2f}") for n, m in plan.tails.items()} <= triples
    assert (f"H{number}", pipes, f"{longest.length:.2f}") in triples
    ends = {f"{t.loop}.{n}": at for t in plan.trenches for n, at in enumerate(t.line, 1)}
    ends |= {bore.loop: bore.at for bore in plan.bores}
    ends |= {f"S{n}": at for n, at in enumerate(plot.boundary, 1)}
    assert {(name, f"{x:.2f}", f"{y:.2f}") for name, (x, y) in ends.items()} <= triples


def test_ends_of_trenches_are_numbered_over_their_own_trench() -> None:
    """Two that face each other across a header 2 m apart were read the wrong way round."""
    plan = set_out(SitePlot(L_SHAPE, (0.0, 12.0)), ParallelTrenches(12, 30.0))
    drawn = site_plan_svg(plan, "Fern Paddock (invented)")
    at = {text: box.centroid for text, box in lettered(drawn)}
    numbered = 0
    for trench in plan.trenches:
        own = at[trench.loop]
        for number, other in ((1, 2), (2, 1)):
            if (here := at.get(f"{trench.loop}.{number}")) is None:
                continue
            numbered += 1
            ends = dict(enumerate(trench.line, 1))
            side = math.copysign(1.0, ends[other][0] - ends[number][0])
            if abs(ends[other][0] - ends[number][0]) > 1.0:
                assert side * (own.x - here.x) > 0.0
    assert numbered > 12
