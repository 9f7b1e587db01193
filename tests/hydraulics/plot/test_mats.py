"""Mats in water, and the ways of their tails ashore."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
import shapely

from hydraulics.errors import InputError
from hydraulics.plot.asked import AsDrawn, HeaderRules, PondMats
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, Point, SitePlot
from hydraulics.plot.site_plan import Chamber, Mat, SitePlan
from tests.hydraulics.plot.test_set_out import audited

POND = ((15.0, 12.0), (40.0, 10.0), (44.0, 30.0), (30.0, 36.0), (14.0, 28.0))
PLOT = SitePlot(((0.0, 0.0), (50.0, 0.0), (50.0, 40.0), (0.0, 40.0)), (5.0, 5.0), (), POND)


def in_water_by_other_means(plan: SitePlan, bank: float, gap: float) -> None:
    pond = shapely.Polygon(plan.plot.water)
    for mat in plan.mats:
        at = shapely.Point(mat.at)
        assert pond.contains(at)
        assert pond.exterior.distance(at) >= mat.diameter / 2.0 + bank - 1e-4
    for one, two in combinations(plan.mats, 2):
        apart = math.dist(one.at, two.at)
        assert apart >= (one.diameter + two.diameter) / 2.0 + gap - 1e-4
    for route in plan.routes:
        line = shapely.LineString(route.line)
        for mat in plan.mats:
            # Never under a mat: its own is met at the rim.
            assert line.distance(shapely.Point(mat.at)) >= mat.diameter / 2.0 - 1e-3
        if route.loop is None:
            assert line.intersection(pond).length < 1e-6
    dug = [s for s in plan.stretches if s.medium == "ground"]
    for stretch in dug:
        # A header trench stays a border off the water, save where it leads tails ashore.
        inside = shapely.LineString(stretch.line).intersection(pond).length
        assert inside < 1e-4
    for stretch in plan.stretches:
        # None in the water lies along the bank: at least half a lane (0.4 m) off it at its middle.
        for side in pairwise(stretch.line) if stretch.medium == "water" else ():
            line = shapely.LineString(side)
            off = pond.exterior.distance(line.centroid)
            assert off >= 0.2 - 1e-3 or line.length < 2.0 * 0.2, (side, off)
    wet = sum(
        shapely.LineString(s.line).intersection(pond.buffer(1e-4)).length
        for s in plan.stretches
        if s.medium == "water"
    )
    assert wet == pytest.approx(plan.in_water, abs=1e-3)


@pytest.mark.parametrize("count", [1, 10, 28])
def test_mats_lie_in_water_with_their_tails_in_lanes_and_ashore(count: int) -> None:
    plan = set_out(PLOT, PondMats(count, 3.0))
    assert len(plan.mats) == len(plan.tails) == count
    assert plan.in_water > 0.0
    audited(plan)
    in_water_by_other_means(plan, 1.0, 1.0)


def test_most_mats_of_a_rectangle_of_water() -> None:
    # By hand (check 10): centres within 15 x 7 m of 20 x 12 m at 4 m: 4 x 2 upright; turned by
    # 45 degrees 9 do.
    water = ((5.0, 5.0), (25.0, 5.0), (25.0, 17.0), (5.0, 17.0))
    boundary = ((0.0, 0.0), (30.0, 0.0), (30.0, 22.0), (0.0, 22.0))
    plan = set_out(SitePlot(boundary, (0.0, 11.0), (), water), PondMats(20, 3.0))
    assert len(plan.mats) == 9
    assert [f.code for f in plan.findings if f.severity == "error"] == ["does_not_fit"]
    audited(plan)
    in_water_by_other_means(plan, 1.0, 1.0)


def test_tails_of_four_mats_by_hand() -> None:
    # By hand: mats of 3 m at 4 m centres, chamber 1 m ashore of where the lane between them meets
    # the bank at (15, 5). The two behind: 0.5 m from the rim to the lane, 6.5 m along it, 1 m: 8 m.
    # The two by the bank leave it at their near side, 0.5 m, and go aslant: hypot(2, 0.5) and 1 m.
    water = ((5.0, 5.0), (25.0, 5.0), (25.0, 17.0), (5.0, 17.0))
    boundary = ((0.0, 0.0), (30.0, 0.0), (30.0, 22.0), (0.0, 22.0))
    at: list[Point] = [(13.0, 7.5), (17.0, 7.5), (13.0, 11.5), (17.0, 11.5)]
    mats = tuple(Mat(f"M{n + 1}", each, 3.0) for n, each in enumerate(at))
    plot = SitePlot(boundary, (15.0, 0.0), (), water)
    plan = set_out(plot, AsDrawn(mats=mats), HeaderRules(), (Chamber("C1", (15.0, 4.0)),))
    assert list(plan.tails.values()) == pytest.approx(
        [1.5 + math.hypot(2.0, 0.5)] * 2 + [8.0] * 2, abs=1e-3
    )
    assert plan.in_water == pytest.approx(2.0 * math.hypot(2.0, 0.5) + 4.0 * 0.5 + 6.5, abs=1e-3)
    assert plan.header_dug == pytest.approx(1.0 + 4.0, abs=1e-3)
    audited(plan)


def test_mats_without_water_and_mats_ashore_or_too_near_are_refused() -> None:
    bare = SitePlot(PLOT.boundary, PLOT.plant)
    with pytest.raises(InputError, match="mats lie in water, and the plot has none"):
        set_out(bare, PondMats(4, 3.0))
    ashore = AsDrawn(mats=(Mat("M1", (5.0, 20.0), 3.0), Mat("M2", (7.0, 20.0), 3.0)))
    with pytest.raises(InputError) as error:
        set_out(PLOT, ashore)
    fields = [(f.field, f.message.split(" at ")[0]) for f in error.value.faults]
    assert ("mats.1.at", "M2 comes to 2.00 m from M1, centre to centre") in fields
    assert any("outside the water" in message for _, message in fields)


def test_what_pipe_in_water_crosses_is_told() -> None:
    # By eye: a cable along x = 26 lies between the mats and the bank at x = 25, 24 m of it; the
    # plant room at (0, 20) on the bank of a pond 20 x 20 m has 10 m of water to either side.
    boundary = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))
    water = ((25.0, 5.0), (55.0, 5.0), (55.0, 30.0), (25.0, 30.0))
    cable = KeepOut("cable", 0.3, line=((26.0, 0.0), (26.0, 40.0)), blocks=frozenset({"array"}))
    plan = set_out(SitePlot(boundary, (0.0, 20.0), (cable,), water), PondMats(6, 2.7))
    told = [f.message for f in plan.findings if f.code == "keep_out_crossed"]
    assert len(told) == 1
    assert told[0].startswith("Pipe in the water crosses cable or comes nearer than 0.3 m: ")
    around = ((0.0, 10.0), (20.0, 10.0), (20.0, 30.0), (0.0, 30.0))
    plan = set_out(SitePlot(boundary, (0.0, 20.0), (), around), PondMats(4, 2.7))
    told = [f.message for f in plan.findings if f.code == "no_way"]
    assert len(told) == 1
    assert "keeps off the water: the run lies in it for 10.0 m" in told[0]


@pytest.mark.parametrize(
    "keep_out",
    [
        KeepOut("island", 1.0, outline=((28.0, 10.0), (31.0, 10.0), (31.0, 27.0), (28.0, 27.0))),
        KeepOut("island", 1.0, centre=(27.0, 20.0), radius=1.5),
        KeepOut("jetty", 1.0, line=((25.0, 17.5), (40.0, 17.5))),
        KeepOut("weir", 0.0, line=((25.0, 17.5), (40.0, 17.5))),
    ],
    ids=["long", "round", "jetty", "no clearance"],
)
def test_tails_go_round_what_stands_in_the_water(keep_out: KeepOut) -> None:
    # Shapely measures from the thing itself: no pipe in the water within its clearance, no edge of
    # a header trench (0.5 m wide) ashore. 1 mm: a hair, that ways may come nearer.
    boundary = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))
    water = ((25.0, 5.0), (55.0, 5.0), (55.0, 30.0), (25.0, 30.0))
    across = SitePlot(boundary, (0.0, 20.0), (), water)
    plan = set_out(SitePlot(boundary, (0.0, 20.0), (keep_out,), water), PondMats(6, 2.7))
    bare = set_out(across, AsDrawn(mats=plan.mats))
    assert any(shapely.LineString(s.line).intersects(keep_out.body) for s in bare.stretches)
    assert len(plan.tails) == 6
    for each in plan.stretches:
        off = keep_out.reach + (HeaderRules().half_width if each.medium == "ground" else 0.0)
        assert shapely.LineString(each.line).distance(keep_out.shape) >= off - 1e-3
    assert not [f.code for f in plan.findings if f.severity == "error"]
    in_water_by_other_means(plan, 1.0, 1.0)


def test_tails_do_not_lie_along_the_bank() -> None:
    # 5 mats east of a bank at x = 25: half of the way in water lay on x = 25 itself.
    boundary = ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))
    water = ((25.0, 5.0), (55.0, 5.0), (55.0, 30.0), (25.0, 30.0))
    plan = set_out(SitePlot(boundary, (0.0, 20.0), (), water), PondMats(5, 2.7))
    bank = shapely.Polygon(water).exterior
    along = [shapely.LineString(s.line) for s in plan.stretches if s.medium == "water"]
    in_strip = sum(line.intersection(bank.buffer(0.01)).length for line in along)
    # 5 ways ashore at 10 degrees to the bank or more: 5 x 0.01 m / sin 10 degrees.
    assert in_strip <= 5 * 0.01 / math.sin(math.radians(10.0))
    in_water_by_other_means(plan, 1.0, 1.0)


SHORE = SitePlot(
    ((0.0, 0.0), (70.0, 0.0), (70.0, 50.0), (0.0, 50.0)),
    (0.0, 25.0),
    (),
    ((44.0, 10.0), (58.0, 10.0), (58.0, 24.0), (44.0, 24.0)),
)


@pytest.mark.parametrize(
    "keep_out",
    [
        KeepOut("drain", 1.0, line=((50.0, 20.0), (50.0, 49.0))),
        KeepOut("drain", 1.0, line=((50.0, 24.5), (50.0, 49.0))),
        KeepOut("cable", 0.5, line=((52.0, 0.0), (52.0, 50.0))),
        KeepOut("wall", 1.0, outline=((50.0, 20.0), (50.4, 20.0), (50.4, 48.0), (50.0, 48.0))),
    ],
    ids=["into it", "by its bank", "through it", "thin wall"],
)
def test_what_runs_from_far_off_into_a_pond_is_kept_off(keep_out: KeepOut) -> None:
    # Measured by shapely from the thing itself; the pond is 14 m wide, west of x = 52 8 m.
    plan = set_out(replace(SHORE, keep_outs=(keep_out,)), PondMats(3, 2.4))
    assert len(plan.tails) == len(plan.mats) == 3
    assert not [f.code for f in plan.findings if f.severity == "error"]
    for each in plan.stretches:
        off = keep_out.reach + (HeaderRules().half_width if each.medium == "ground" else 0.0)
        assert shapely.LineString(each.line).distance(keep_out.shape) >= off - 1e-3
    in_water_by_other_means(plan, 1.0, 1.0)


def test_water_that_covers_the_plot_or_holds_no_mat_is_told() -> None:
    # By hand: 2.4 m of mat and a metre of bank either side ask for 4.4 m of water.
    lay = PondMats(3, 2.4)
    everywhere = set_out(replace(SHORE, water=SHORE.boundary), lay)
    assert [f.code for f in everywhere.findings if f.severity == "error"] == ["no_way"]
    small = ((44.0, 10.0), (48.3, 10.0), (48.3, 24.0), (44.0, 24.0))
    none = set_out(replace(SHORE, water=small), lay)
    assert (none.capacity.most if none.capacity else None) == 0
    assert [f.code for f in none.findings] == ["does_not_fit"]
    one = set_out(
        replace(SHORE, water=((44.0, 10.0), (48.5, 10.0), *small[2:])), replace(lay, count=1)
    )
    assert len(one.tails) == 1


@pytest.mark.parametrize("turned", [0.0, 0.35, math.pi / 4.0])
@pytest.mark.parametrize("diameter", [1.8, 2.4, 3.0])
def test_tails_find_the_least_lane_that_is_allowed(diameter: float, turned: float) -> None:
    # 0.4 m is what `PondMats` allows and the docs tell; measured by shapely: no tail but its own
    # nearer than half of it to a mat's edge, 1 cm for the polygon within the circle.
    def on(ring: tuple[Point, ...]) -> tuple[Point, ...]:
        c, s = math.cos(turned), math.sin(turned)
        return tuple((c * x - s * y, s * x + c * y) for x, y in ring)

    boundary, water = (
        on(SHORE.boundary),
        on(((30.0, 10.0), (58.0, 10.0), (58.0, 26.0), (30.0, 26.0))),
    )
    plan = set_out(SitePlot(boundary, on(((0.1, 25.0),))[0], (), water), PondMats(9, diameter, 0.4))
    assert len(plan.tails) == 9
    assert not [f.code for f in plan.findings if f.severity == "error"]
    for route in plan.routes:
        line = shapely.LineString(route.line)
        for mat in plan.mats if route.loop else ():
            if mat.loop != route.loop:
                away = line.distance(shapely.Point(mat.at)) - diameter / 2.0
                assert away >= 0.2 - 0.01, (route.loop, mat.loop)
    in_water_by_other_means(plan, 1.0, 0.4)
    again = set_out(plan.plot, AsDrawn(mats=plan.mats), chambers=plan.chambers)
    assert again.routes == plan.routes


@pytest.mark.parametrize("off", [10.0, 1.0, 0.8])
def test_tails_come_ashore_past_the_end_of_a_cable_by_the_bank_or_not_at_all(off: float) -> None:
    # Blocks headers, so that none crosses it, wherever it lies: by its end there is a way, round a
    # cable from boundary to boundary none.
    x = 44.0 - off
    for line, codes in (((x, 0.0), (x, 18.0)), []), (((x, 0.0), (x, 50.0)), ["no_way"]):
        cable = KeepOut("cable", 0.5, line=line)
        plan = set_out(replace(SHORE, keep_outs=(cable,)), PondMats(4, 2.4))
        assert [f.code for f in plan.findings if f.severity != "info"] == codes
        for each in plan.stretches:
            assert shapely.LineString(each.line).distance(cable.shape) >= 0.5 + 0.25 - 1e-3
