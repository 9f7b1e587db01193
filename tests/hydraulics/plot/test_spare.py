"""Pits of spare pipe keep off what is dug, and are refused where there is no room."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
import shapely

from hydraulics.errors import InputError
from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, rectangle
from hydraulics.plot.site_plan import Chamber
from hydraulics.plot.spare import place_pits
from tests.hydraulics.plot.test_set_out import comb_of_check_1

RULES = HeaderRules()
PLAN = set_out(rectangle(75.0, 40.0), comb_of_check_1(), RULES, (Chamber("C1", (33.5, 20.0)),))


def test_pits_lie_beside_their_own_tail_and_off_everything_else() -> None:
    sides = {"T7": 0.8, "T12": 2.0, "T1": 1.2, "T4": 1.0}
    found = place_pits(PLAN, list(sides.items()), RULES)
    assert not found.refused
    assert [p.loop for p in found.pits] == list(sides)
    tails = {r.loop: shapely.LineString(r.line) for r in PLAN.routes}
    for pit in found.pits:
        assert pit.shape.area == pytest.approx(sides[pit.loop] ** 2)
        # Its edge is the header trench's edge, 0.25 m from the tail; or nearer to another stretch.
        assert pit.shape.distance(tails[pit.loop]) == pytest.approx(0.25, abs=2e-3)
        for trench in PLAN.trenches:
            dug = shapely.LineString(trench.line).buffer(0.6, cap_style="flat")
            assert pit.shape.distance(dug) >= 0.5 - 1e-3
        for stretch in PLAN.stretches:
            assert pit.shape.distance(shapely.LineString(stretch.line)) >= 0.25 - 2e-3
        assert PLAN.plot.ground.exterior.distance(pit.shape) >= 1.0 - 1e-6
    chamber = shapely.box(33.0, 19.5, 34.0, 20.5)
    assert not any(pit.shape.buffer(-1e-6).intersects(chamber) for pit in found.pits)
    for one, two in combinations(found.pits, 2):
        assert one.shape.distance(two.shape) >= 0.5 - 1e-6


def test_a_pit_that_has_no_room_is_refused_with_its_loop() -> None:
    # By hand: trenches at 5 m centres, 1.2 m wide, leave 3.8 m between them, less 0.5 m of ground
    # on both sides 2.8 m: a pit of 9 m beside the tails overlaps two of them.
    found = place_pits(PLAN, [("T1", 9.0)], RULES)
    assert (found.pits, found.refused) == ((), (("T1", 9.0),))
    (finding,) = found.findings()
    assert "Spare pipe of T1 takes a pit 9.00 m square" in finding.message


def test_a_pit_is_not_dug_over_a_drain_that_headers_may_cross() -> None:
    # By hand: the drain lies where T1's pit was, 1 m to be kept from it.
    (there,) = place_pits(PLAN, [("T1", 1.5)], RULES).pits
    x, y = there.shape.centroid.coords[0]
    drain = KeepOut("drain", 1.0, line=((x, y - 1.0), (x, y + 1.0)), blocks=frozenset({"array"}))
    plan = replace(PLAN, plot=replace(PLAN.plot, keep_outs=(drain,)))
    (moved,) = place_pits(plan, [("T1", 1.5)], RULES).pits
    assert moved.shape.distance(drain.shape) >= 1.0 - 1e-6


def test_a_loop_that_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match="'T99' has no tail"):
        place_pits(PLAN, [("T99", 1.0)], RULES)
