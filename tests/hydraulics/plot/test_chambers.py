"""Chambers have loops, and room for themselves."""

from __future__ import annotations

import math
from itertools import combinations
from typing import get_args

import pytest
import shapely

from hydraulics.plot.asked import AsDrawn, BoreField, ChamberRule, Lay, ParallelTrenches
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, SitePlot, rectangle
from hydraulics.plot.site_plan import Chamber, Place, SitePlan, Trench

HOUSE = KeepOut("house", 3.0, ((8.0, 12.0), (20.0, 12.0), (20.0, 22.0), (8.0, 22.0)))
AT_HOUSE = SitePlot(rectangle(60.0, 50.0).boundary, (14.0, 12.0), (HOUSE,))
TWO = AsDrawn(
    (Trench("T1", ((42.0, 10.0), (70.0, 10.0))), Trench("T2", ((42.0, 16.0), (70.0, 16.0))))
)


def told(plan: SitePlan, code: str) -> list[str]:
    return [f.message for f in plan.findings if f.code == code]


def posted_again(plan: SitePlan) -> SitePlan:
    return set_out(plan.plot, AsDrawn(plan.trenches, plan.bores), chambers=plan.chambers)


@pytest.mark.parametrize("turn", range(3))
@pytest.mark.parametrize("largest", [3, 4, 5])
def test_every_chamber_placed_holds_loops(largest: int, turn: int) -> None:
    # Two rows ask for a chamber more than their loops do: it was left with none of them. Each place
    # with each number of loops and with each size of chamber, once.
    place = get_args(Place)[(turn + largest) % 3]
    plan = set_out(AT_HOUSE, ParallelTrenches(6 + turn, 12.0), chambers=ChamberRule(largest, place))
    assert set(plan.loop_chamber.values()) == {c.name for c in plan.chambers}
    assert posted_again(plan).routes == plan.routes


def test_a_chamber_given_that_no_loop_goes_to_is_left_out_and_told() -> None:
    plot = rectangle(80.0, 50.0)
    far = Chamber("B", (5.0, 45.0))
    plan = set_out(plot, TWO, chambers=(Chamber("A", (40.0, 12.0)), far))
    assert [c.name for c in plan.chambers] == ["A"]
    (message,) = told(plan, "chamber_idle")
    assert "1 chamber, B, would hold no loop" in message
    alone = set_out(plot, TWO, chambers=(Chamber("A", (40.0, 12.0)),))
    assert (plan.routes, plan.stretches) == (alone.routes, alone.stretches)
    # Where the other has no port left, a loop goes there.
    both = set_out(plot, TWO, chambers=(Chamber("A", (40.0, 12.0), 1), far))
    assert not told(both, "chamber_idle")


@pytest.mark.parametrize("place", ["least_pipe", "least_digging"])
@pytest.mark.parametrize(
    ("plot", "lay", "largest"),
    [
        (SitePlot(rectangle(60.0, 45.0).boundary, (30.0, 0.0)), BoreField(9, spacing=6.0), 3),
        (SitePlot(rectangle(50.0, 45.0).boundary, (25.0, 0.0)), BoreField(10, spacing=6.0), 3),
        (AT_HOUSE, BoreField(7, spacing=6.0), 4),
        (rectangle(75.0, 40.0), ParallelTrenches(12, 30.0), 4),
    ],
)
def test_chambers_stand_a_chamber_apart_and_are_taken_back_where_they_stand(
    place: Place, plot: SitePlot, lay: Lay, largest: int
) -> None:
    plan = set_out(plot, lay, chambers=ChamberRule(largest, place))
    assert len(plan.chambers) > 1
    for one, other in combinations(plan.chambers, 2):
        # 1 m square, as drawn: apart by its diagonal they cannot meet, however turned.
        assert math.dist(one.at, other.at) >= math.sqrt(2.0) - 1e-3
    again = posted_again(plan)
    assert again.routes == plan.routes
    assert not told(plan, "chamber_crowded")


def test_a_chamber_placed_keeps_its_body_off_what_is_to_be_kept_off() -> None:
    # A drain may be crossed by a header trench, and not built over.
    drain = KeepOut("drain", 1.0, line=((33.5, 0.0), (33.5, 40.0)), blocks=frozenset({"array"}))
    plot = SitePlot(rectangle(75.0, 40.0).boundary, (0.0, 20.0), (drain,))
    trenches = tuple(Trench(f"T{k}", ((36.0, y), (66.0, y))) for k, y in enumerate((10.0, 15.0)))
    for place in ("most_even", "least_pipe", "least_digging"):
        plan = set_out(plot, AsDrawn(trenches), chambers=ChamberRule(12, place))
        (chamber,) = plan.chambers
        x, y = chamber.at
        body = shapely.box(x - 0.5, y - 0.5, x + 0.5, y + 0.5)
        assert body.distance(drain.shape) >= 1.0 - 5e-3  # to the figure that is told
        assert not told(plan, "chamber_crowded")


def test_a_chamber_given_too_near_to_a_cable_or_another_is_told() -> None:
    # By hand: 1.3 m from the cable less half a metre of chamber are 0.8 m, and 1 m is to be kept.
    cable = KeepOut("cable", 1.0, line=((38.0, 0.0), (38.0, 50.0)))
    plot = SitePlot(rectangle(80.0, 50.0).boundary, (60.0, 0.0), (cable,))
    at = Chamber("A", (39.3, 13.0))
    (message,) = told(set_out(plot, TWO, chambers=(at,)), "chamber_crowded")
    assert "A comes to 0.80 m from cable, of which 1 m are to be kept" in message
    two = (Chamber("A", (40.0, 13.0), 1), Chamber("B", (40.2, 13.0), 1))
    (message,) = told(set_out(rectangle(80.0, 50.0), TWO, chambers=two), "chamber_crowded")
    assert "A and B stand 0.20 m apart" in message
    apart = (Chamber("A", (40.0, 12.5), 1), Chamber("B", (40.0, 13.5), 1))
    assert not told(set_out(rectangle(80.0, 50.0), TWO, chambers=apart), "chamber_crowded")
