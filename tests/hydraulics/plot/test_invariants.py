"""How a plot lies on its map changes nothing, and more room never holds fewer trenches."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
import shapely
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from hydraulics.plot.asked import AsDrawn, BoreField, ChamberRule, Lay, ParallelTrenches
from hydraulics.plot.parallel import SLACK
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, Line, Point, SitePlot
from hydraulics.plot.site_plan import SitePlan

MILLIMETRE = 1e-3
Moved = Callable[[Point], Point]
L_SHAPE = ((0.0, 0.0), (60.0, 0.0), (60.0, 25.0), (25.0, 25.0), (25.0, 55.0), (0.0, 55.0))


def pose(degrees: float, mirrored: bool, by: Point) -> Moved:
    """Mirror at the y axis or not, turn about the origin, then move."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))

    def at(point: Point) -> Point:
        x, y = (-point[0] if mirrored else point[0]), point[1]
        return (x * c - y * s + by[0], x * s + y * c + by[1])

    return at


def posed(plot: SitePlot, at: Moved, first: int = 0) -> SitePlot:
    ring = tuple(map(at, plot.boundary))
    return SitePlot(
        ring[first:] + ring[:first],
        at(plot.plant),
        tuple(
            KeepOut(
                k.name,
                k.clearance,
                tuple(map(at, k.outline)),
                tuple(map(at, k.line)),
                None if k.centre is None else at(k.centre),
                k.radius,
                k.blocks,
            )
            for k in plot.keep_outs
        ),
        tuple(map(at, plot.water)),
        plot.border,
        tuple((*at((x, y)), z) for x, y, z in plot.levels),
    )


def figures(plan: SitePlan) -> list[float]:
    assert plan.capacity is not None
    return [
        plan.capacity.most,
        len(plan.chambers),
        plan.header_dug,
        plan.trench_dug,
        *sorted(plan.tails.values()),
        *sorted(plan.runs.values()),
    ]


@st.composite
def plots(draw: st.DrawFn) -> SitePlot:
    """An L or a skewed plot with a tree, a drain and levels, in centimetres."""

    def metres(least: int, most: int) -> float:
        return draw(st.integers(100 * least, 100 * most)) / 100.0

    wide, deep = metres(30, 60), metres(24, 45)
    if draw(st.booleans()):
        a, b = metres(12, 25), metres(10, 20)
        ring: Line = ((0.0, 0.0), (wide, 0.0), (wide, b), (a, b), (a, deep), (0.0, deep))
    else:
        ring = (
            (0.0, 0.0),
            (wide, metres(-5, 5)),
            (wide - metres(0, 9), deep),
            (metres(-6, 6), deep),
        )
    plant = (0.0, 0.0)
    keep_outs = (
        KeepOut("tree", 3.0, centre=(metres(4, 30), metres(4, 20)), radius=0.4),
        KeepOut("drain", 1.0, line=((0.0, 8.0), (wide, 9.5)), blocks=frozenset({"array"})),
    )[: draw(st.integers(0, 2))]
    # A tree that keeps nothing of the plot free is refused: it would be a slip of who measured.
    assume(all(shapely.Polygon(ring).distance(k.shape) < 3.0 for k in keep_outs[:1]))
    levels = ((0.0, 0.0, 50.0), (wide, 0.0, 51.3), (0.0, deep, 52.0))
    return SitePlot(ring, plant, keep_outs, levels=levels if draw(st.booleans()) else ())


@pytest.mark.parametrize(
    ("plant", "lay", "largest"),
    [
        ((0.0, 25.0), BoreField(20, spacing=6.0, pattern="triangular"), 10),
        ((0.0, 0.0), ParallelTrenches(6, 15.0), 12),
        ((0.0, 0.0), ParallelTrenches(6, 18.0, centres=7.0), 12),
    ],
)
def test_ways_as_long_as_one_another_are_chosen_alike_however_the_plot_lies(
    plant: Point, lay: Lay, largest: int
) -> None:
    # Places are told to a micrometre: what that rounds is not to tell ways of one length apart.
    plot = SitePlot(((0.0, 0.0), (60.0, 0.0), (60.0, 50.0), (0.0, 50.0)), plant)
    here = set_out(plot, lay, chambers=ChamberRule(largest))
    for degrees in (17.0, 40.1):
        there = set_out(
            posed(plot, pose(degrees, False, (0.0, 0.0)), 0), lay, chambers=ChamberRule(largest)
        )
        assert figures(there) == pytest.approx(figures(here), abs=MILLIMETRE)


ANYWHERE = st.builds(
    pose,
    st.sampled_from([0.0, 90.0, 180.0, 270.0]) | st.floats(0.0, 360.0),
    st.booleans(),
    st.sampled_from([(0.0, 0.0), (-37.4, 512.25), (437_215.0, 5_211_870.0)]),
)


@settings(max_examples=8, deadline=None)
@given(
    plot=plots(),
    at=ANYWHERE,
    first=st.integers(0, 3),
    lay=st.builds(ParallelTrenches, st.integers(3, 14), st.integers(8, 22).map(float))
    | st.builds(ParallelTrenches, st.integers(3, 8))
    | st.builds(BoreField, st.integers(2, 6)),
)
@example(  # of stubs as near as one another rounding chose those that a header goes round
    plot=SitePlot(((0.0, 0.0), (30.0, 0.0), (30.0, 24.0), (0.0, 24.0)), (0.0, 0.0)),
    at=pose(10.0, False, (0.0, 0.0)),
    first=0,
    lay=ParallelTrenches(6, 8.0),
)
def test_a_plot_turned_mirrored_or_moved_has_the_same_plan(
    plot: SitePlot, at: Moved, first: int, lay: Lay
) -> None:
    rule = ChamberRule(largest=6)
    here = set_out(plot, lay, chambers=rule)
    assume(here.loops)  # else there is nothing to draw
    # What it decides, given by hand, is the very same plan.
    again = set_out(plot, AsDrawn(here.trenches, here.bores), chambers=here.chambers)
    assert again.routes == here.routes
    assert again.chambers == here.chambers
    assert again.direction_deg == here.direction_deg
    there = set_out(posed(plot, at, first), lay, chambers=rule)
    assert figures(there) == pytest.approx(figures(here), abs=MILLIMETRE)
    assert [f.code for f in there.findings] == [f.code for f in here.findings]
    # Everything has moved with the ground: the same way from the plant room.
    plant = at(plot.plant)
    for one, two in zip(here.trenches, there.trenches, strict=True):
        assert sorted(math.dist(p, plot.plant) for p in one.line) == pytest.approx(
            sorted(math.dist(p, plant) for p in two.line), abs=MILLIMETRE
        )


@pytest.mark.parametrize("degrees", [0.0, 90.0, 123.4, 180.0, 270.0])
@pytest.mark.parametrize("mirrored", [False, True])
def test_an_l_holds_17_trenches_however_it_lies(degrees: float, mirrored: bool) -> None:
    # By hand, all across the long arm: on 5 lines at x = 2.5 to 22.5 two in line each, 20 + 2 + 20
    # of 50 m; on 7 lines at x = 27.5 to 57.5 one each in the 20 m between borders: 17.
    plot = SitePlot(L_SHAPE, (0.0, 12.0))
    plan = set_out(posed(plot, pose(degrees, mirrored, (3.0, 4.0))), ParallelTrenches(40, 20.0))
    assert plan.capacity is not None
    assert len(plan.trenches) == plan.capacity.most == 17


@settings(max_examples=8, deadline=None)
@given(
    sides=st.tuples(*(st.integers(least, 2 * least) for least in (30, 25, 12, 10))),
    more=st.integers(0, 1500),
    tree=st.tuples(st.integers(400, 3000), st.integers(400, 2000)),
    length=st.integers(800, 2500),
)
def test_more_room_never_holds_fewer_trenches(
    sides: tuple[int, ...], more: int, tree: Point, length: int
) -> None:
    # Plots of right angles: more room takes no direction of a side away, and adds none.
    wide, deep, a, b = map(float, sides)
    wide, deep = wide + a, deep + b
    # An oak wholly outside the plot is refused.
    assume(tree[0] / 100.0 <= a + 3.0 or tree[1] / 100.0 <= b + 3.0)

    def most(longer: float, *keep_outs: KeepOut) -> int:
        up = b + longer, deep + longer
        ring = ((0.0, 0.0), (wide, 0.0), (wide, up[0]), (a, up[0]), (a, up[1]), (0.0, up[1]))
        plan = set_out(SitePlot(ring, (0.0, 0.0), keep_outs), ParallelTrenches(1, length / 100.0))
        assert plan.capacity is not None
        return plan.capacity.most

    oak = KeepOut("oak", 3.0, centre=(tree[0] / 100.0, tree[1] / 100.0), radius=0.4)
    bare = most(0.0)
    assert bare >= most(0.0, oak)
    assert most(more / 100.0) >= bare


@settings(max_examples=8, deadline=None)
@given(plot=plots(), count=st.integers(2, 14), length=st.integers(8, 22).map(float))
def test_what_every_plan_keeps(plot: SitePlot, count: int, length: float) -> None:
    plan = set_out(plot, ParallelTrenches(count, length), chambers=ChamberRule(largest=6))
    ground = plot.ground.buffer(-plot.border + MILLIMETRE)
    lines = [shapely.LineString(t.line) for t in plan.trenches]
    assert all(ground.covers(line) for line in lines)
    for one, two in ((a, b) for n, a in enumerate(lines) for b in lines[:n]):
        # Beside one another at their centres, in line with the gap between their ends.
        assert one.distance(two) >= 2.0 - MILLIMETRE
        assert one.distance(two) >= 5.0 - MILLIMETRE or _in_line(one, two)
    for keep_out in plot.keep_outs:
        assert all(
            line.distance(keep_out.shape) >= keep_out.reach + 0.6 - MILLIMETRE for line in lines
        )
    assert plan.header_dug <= sum(plan.tails.values()) + sum(plan.runs.values()) + MILLIMETRE
    at = {c.name: c.at for c in plan.chambers}
    for route in plan.routes:
        assert route.length >= math.dist(route.line[0], route.line[-1]) - SLACK
        assert plot.ground.buffer(MILLIMETRE).covers(shapely.LineString(route.line))
        if route.loop is not None:
            assert route.line[-1] == pytest.approx(at[route.chamber], abs=MILLIMETRE)


def _in_line(one: shapely.LineString, two: shapely.LineString) -> bool:
    (ax, ay), (bx, by) = one.coords
    along = math.atan2(by - ay, bx - ax)
    off = [(y - ay) * math.cos(along) - (x - ax) * math.sin(along) for x, y in two.coords]
    return bool(max(map(abs, off)) < MILLIMETRE or min(map(abs, off)) >= 5.0 - MILLIMETRE)
