"""Boreholes against counts and distances by hand."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
import shapely

from hydraulics.errors import InputError
from hydraulics.plot.asked import (
    AsDrawn,
    BoreField,
    ChamberRule,
    HeaderRules,
    ParallelTrenches,
    Pattern,
)
from hydraulics.plot.bores import Field, spread
from hydraulics.plot.by_hand import crossed
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import rectangle
from hydraulics.plot.site_plan import Bore, Chamber, SitePlan, Trench


def nearest(plan: SitePlan) -> float:
    return min(math.dist(a.at, b.at) for a, b in combinations(plan.bores, 2))


@pytest.mark.parametrize(
    ("sides", "pattern", "most"),
    [
        # By hand (check 6): inside 24 x 14 m 5 x 3 on a square grid; rows of 5, 4 and 5 on a
        # triangular one; inside 18 x 8 m 4 x 2.
        ((30.0, 20.0), "square", 15),
        ((30.0, 20.0), "triangular", 14),
        ((30.0, 20.0), "either", 15),
        ((24.0, 14.0), "either", 8),
    ],
)
def test_most_bores_by_hand(sides: tuple[float, float], pattern: Pattern, most: int) -> None:
    plan = set_out(rectangle(*sides, border=3.0), BoreField(16, spacing=6.0, pattern=pattern))
    assert plan.capacity is not None
    assert plan.capacity.most == len(plan.bores) == most
    assert [f.code for f in plan.findings if f.severity == "error"] == ["does_not_fit"]
    assert nearest(plan) >= 6.0 - 2e-6  # places are told to a thousandth of a millimetre
    assert len(plan.tails) == most


@pytest.mark.parametrize(("count", "apart"), [(4, 20.0), (5, 14.142), (9, 10.0)])
def test_bores_spread_over_a_square_by_hand(count: int, apart: float) -> None:
    # By hand (check 6), inside 20 x 20 m: the corners; and the middle; and the middles of sides.
    lay = BoreField(count, spacing=6.0, choose="spread")
    plan = set_out(rectangle(26.0, 26.0, border=3.0), lay)
    assert nearest(plan) == pytest.approx(apart, abs=1e-3)


def test_a_compact_field_digs_less_than_a_spread_one() -> None:
    plot = rectangle(40.0, 30.0)
    rules, rule = HeaderRules(), ChamberRule(place="least_pipe")
    close = set_out(plot, BoreField(6), rules, rule)
    wide = set_out(plot, BoreField(6, choose="spread"), rules, rule)
    assert close.header_dug < wide.header_dug
    assert nearest(close) < nearest(wide)
    for plan in (close, wide):
        union = shapely.union_all([shapely.LineString(r.line) for r in plan.routes])
        assert plan.header_dug == pytest.approx(union.length, abs=1e-6)
        at = {b.loop: b.at for b in plan.bores}
        tails = [r for r in plan.routes if r.loop is not None]
        assert len(tails) == 6
        assert all(math.dist(r.line[0], at[r.name]) < 1e-3 for r in tails)


@pytest.mark.parametrize(
    "lay",
    [
        BoreField(8),
        BoreField(9, pattern="square"),
        BoreField(12, pattern="triangular"),
        BoreField(7, choose="spread"),
    ],
)
def test_no_header_trench_runs_through_the_place_of_another_borehole(lay: BoreField) -> None:
    # By hand: 0.5 m of ground and half of 0.5 m from an axis to a header trench's centre line.
    plan = set_out(rectangle(40.0, 30.0), lay)
    assert len(plan.tails) == lay.count
    for route in plan.routes:
        for number, side in enumerate(pairwise(route.line)):
            for bore in plan.bores:
                if number or bore.loop != route.loop:
                    away = shapely.LineString(side).distance(shapely.Point(bore.at))
                    assert away >= 0.75 - 1e-3, (route.name, bore.loop)
    again = set_out(plan.plot, AsDrawn(bores=plan.bores), chambers=plan.chambers)
    assert again.routes == plan.routes
    assert list(crossed(plan, HeaderRules())) == []


def test_boreholes_keep_off_the_way_out_and_off_chambers() -> None:
    # By hand: both stand where the grid would have a borehole, 0.75 m and more from any.
    plot = replace(rectangle(20.0, 20.0), plant=(10.0, 10.0))
    plan = set_out(plot, BoreField(4), chambers=(Chamber("C1", (4.0, 4.0)),))
    assert len(plan.tails) == 4
    for bore in plan.bores:
        assert math.dist(bore.at, (10.0, 10.0)) >= 0.75
        assert math.dist(bore.at, (4.0, 4.0)) >= 0.75
    with pytest.raises(InputError, match="of a trench or borehole"):
        set_out(plot, AsDrawn(bores=(Bore("B1", (4.0, 4.5)),)), chambers=plan.chambers)


def test_a_short_stub_is_refused_only_where_loops_lie_in_trenches() -> None:
    # By hand: 0.5 m of ground and half of 0.5 m are 0.75 m; a borehole has no trench to keep off.
    rules, plot = HeaderRules(stub=0.5), rectangle(60.0, 40.0)
    assert set_out(plot, BoreField(4), rules).runs
    with pytest.raises(InputError, match=r"stub: is 0\.5 m"):
        set_out(plot, ParallelTrenches(4, 20.0), rules)
    drawn = AsDrawn((Trench("T1", ((20.0, 20.0), (40.0, 20.0))),))
    with pytest.raises(InputError, match=r"stub: is 0\.5 m"):
        set_out(plot, drawn, rules)


def test_numbers_of_spread_bores_that_no_area_holds_are_not_tried() -> None:
    ground = shapely.box(0.0, 0.0, 26.0, 26.0)

    def took(count: int) -> tuple[float, Field]:
        start = time.process_time()
        found = spread(ground, BoreField(count, spacing=12.9, choose="spread"))
        return time.process_time() - start, found

    # Nine stand at 13 m, and not ten by Oler: 2 x 676 / 288.2 + 104 / 25.8 + 1 = 9.7.
    nine, as_asked = took(9)
    most, found = took(500)
    assert found.at == as_asked.at
    assert len(found.at) == 9
    # 500 down to nine, one number after the other, takes over 100 times as long.
    assert most < 10.0 * nine
