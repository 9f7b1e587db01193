"""Levels of loops against values by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.heights import levels_of
from hydraulics.layout.legs import BoreholeU
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.plot.asked import AsDrawn, HeaderRules
from hydraulics.plot.profile import ground_heights, heights_of, site_heights
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import Level, SitePlot
from hydraulics.plot.site_plan import Bore, Chamber, SitePlan, Trench

SQUARE = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
RULES = HeaderRules()
# Ground that rises by 2 m over 40 m to the east: 5 %.
RISING: tuple[Level, ...] = (
    (0.0, 0.0, 100.0),
    (40.0, 0.0, 102.0),
    (0.0, 40.0, 100.0),
    (40.0, 40.0, 102.0),
)


def planned(levels: tuple[Level, ...], *bores: Bore) -> SitePlan:
    trench = Trench("T1", ((10.0, 20.0), (30.0, 20.0)), depth=1.2, tails_from="first")
    plot = SitePlot(SQUARE, (0.0, 20.0), levels=levels)
    return set_out(plot, AsDrawn((trench,), bores), RULES, (Chamber("C1", (5.0, 20.0)),))


def test_levels_of_a_trench_up_hill_by_hand() -> None:
    # By hand: ground at x = 10 is 100.5 m and at 30 is 101.5 m; trench and header 1.2 m deep, and
    # pipe 0.1 m above their floors; the tail begins at x = 5: 100.25 - 1.1 = 99.15 m, which is the
    # lowest; slope 1 m in 20 m up hill.
    plan = planned(RISING)
    (one,) = heights_of(plan, RULES)
    assert (one.start, one.end) == pytest.approx((99.4, 100.4))
    assert (one.lowest, one.highest) == pytest.approx((99.15, 100.4))
    assert one.fall == pytest.approx(-0.05)
    # Pipe goes up hill to the far end and back: air stays there, 1.25 m above the chamber's pipe.
    assert one.air_at == pytest.approx((30.0, 20.0))
    codes = [f.code for f in plan.findings]
    assert "trench_slope" in codes
    assert "level_extrapolated" not in codes
    (told,) = [f.message for f in plan.findings if f.code == "trench_slope"]
    assert "T1 runs up hill by 5.0 %, 1.00 m in all" in told


def test_upright_coils_and_flow_pipe_stand_above_the_lowest_pipe() -> None:
    # By hand: level ground at 100 m, trench 1.6 m deep, lowest pipe 0.1 m above its floor: 98.5 m;
    # coils of 1 m that stand on that reach 99.5 m. The chamber's return lies at 100 - 1.1 = 98.9 m,
    # and its flow 0.3 m above that, 99.2 m.
    level = tuple((x, y, 100.0) for x, y in SQUARE)
    plot = SitePlot(SQUARE, (0.0, 20.0), levels=level)
    for rise, highest, air in ((1.0, 99.5, True), (0.0, 99.2, False), (0.45, 99.2, False)):
        trench = Trench("T1", ((10.0, 20.0), (30.0, 20.0)), depth=1.6, rise=rise)
        chamber = (Chamber("C1", (5.0, 20.0)),)
        plan = set_out(plot, AsDrawn((trench,)), RULES, chamber)
        (one,) = heights_of(plan, RULES)
        assert (one.lowest, one.highest) == pytest.approx((98.5, highest))
        told = [each.message for each in plan.findings if each.code == "air_gathers"]
        assert (one.air_at is not None, len(told)) == (air, int(air))
        assert all("at 99.50 m: air stays there" in each for each in told)


def test_a_bore_hangs_from_its_collar_and_pressure_has_its_levels() -> None:
    # By hand: collar at x = 35: 101.75 m, 80 m deep: foot at 21.75 m.
    plan = planned(RISING, Bore("B1", (35.0, 30.0), 80.0))
    bore = heights_of(plan, RULES)[1]
    assert bore.loop == "B1"
    assert bore.lowest == pytest.approx(21.75)
    heights = site_heights(plan, RULES)
    assert heights.plant_level == pytest.approx(100.0)
    # The header to the bore keeps to x <= 35; the plant's own run begins at x = 0.
    assert heights.min_ground_level == pytest.approx(100.0)
    assert heights.max_ground_level == pytest.approx(101.75)
    # The foot is the lowest pipe, though not under the lowest ground.
    assert heights.lowest_pipe == pytest.approx(21.75)
    pipe = pe_pipe("PE100 SDR11 40")
    array = Circuit("manifold", (Branch(Loop("B1", pipe, (BoreholeU(80.0),))),))
    levels = levels_of(array, None, heights)
    assert (levels.reached, levels.lowest) == pytest.approx((21.75, 21.75))
    assert levels_of(array, None, replace(heights, lowest_pipe=None)).lowest == pytest.approx(20.0)


def test_a_ridge_between_chamber_and_trench_gathers_air() -> None:
    # By hand: ground 101 m along x = 7.5, 100 m at 0 and 15 and from there level: the tail crosses
    # the ridge between the chamber at 5 and the trench from 10 on.
    ridge = tuple(
        (x, y, z)
        for y in (0.0, 40.0)
        for x, z in ((0.0, 100.0), (7.5, 101.0), (15.0, 100.0), (40.0, 100.0))
    )
    plan = planned(ridge)
    (one,) = heights_of(plan, RULES)
    assert one.air_at is not None
    assert 6.0 <= one.air_at[0] <= 9.0
    assert "air_gathers" in [f.code for f in plan.findings]


def test_a_chamber_above_its_loops_gathers_no_air() -> None:
    falling = tuple((x, y, 202.0 - z) for x, y, z in RISING)
    (one,) = heights_of(planned(falling), RULES)
    assert one.air_at is None
    assert one.fall == pytest.approx(0.05)


def test_levels_that_do_not_reach_are_told() -> None:
    plan = planned(RISING[:3])
    assert "level_extrapolated" in [f.code for f in plan.findings]
    assert heights_of(planned(()), RULES) == ()


@pytest.mark.parametrize(
    ("levels", "lowest", "highest"),
    [
        (RISING, 100.0, 102.0),
        # A plane told beyond the plot counts on the plot alone: 2.5 % from x = 0 to 40.
        (((-40.0, 0.0, 99.0), (80.0, 0.0, 102.0), (20.0, 90.0, 100.5)), 100.0, 101.0),
        # A knoll amid level ground, and one told by the plane: 3 points at x <= 20 go on to 40.
        ((*((x, y, 100.0) for x, y in SQUARE), (20.0, 20.0, 103.0)), 100.0, 103.0),
        (((0.0, 0.0, 100.0), (20.0, 0.0, 101.0), (0.0, 40.0, 100.0)), 100.0, 102.0),
        # Two points, or several in a line, tell no slope.
        (((0.0, 0.0, 100.0), (40.0, 40.0, 104.0)), 100.0, 104.0),
    ],
)
def test_all_ground_of_a_plot_by_hand(
    levels: tuple[Level, ...], lowest: float, highest: float
) -> None:
    plot = SitePlot(SQUARE, (0.0, 20.0), levels=levels)
    found = ground_heights(plot)
    assert found.anywhere
    assert (found.min_ground_level, found.max_ground_level) == pytest.approx((lowest, highest))
    of_plan = site_heights(planned(levels, Bore("B1", (35.0, 30.0), 80.0)), RULES)
    assert of_plan.min_ground_level is not None
    assert of_plan.max_ground_level is not None
    assert lowest - 1e-9 <= of_plan.min_ground_level <= of_plan.max_ground_level <= highest + 1e-9


def test_a_test_counts_on_no_pipe_lower_than_under_the_highest_ground() -> None:
    # By hand: a borehole of 80 m under ground of 100 to 104 m reaches 24 m for certain, and may
    # reach 20 m.
    loop = Loop("B", pe_pipe("PE100 SDR11 40"), (BoreholeU(80.0),))
    heights = ground_heights(
        SitePlot(SQUARE, (0.0, 0.0), levels=((0.0, 0.0, 100.0), (40.0, 40.0, 104.0)))
    )
    levels = levels_of(Circuit("manifold", (Branch(loop),)), heights=heights)
    assert (levels.lowest, levels.reached, levels.ground) == pytest.approx((20.0, 24.0, 104.0))
    placed = replace(heights, anywhere=False)
    assert levels_of(Circuit("manifold", (Branch(loop),)), heights=placed).reached == 20.0
