"""Bad plots are refused, each with the corner that is wrong."""

from __future__ import annotations

import math
from typing import Any

import pytest
import shapely

from hydraulics.errors import InputError
from hydraulics.plot.site import KeepOut, SitePlot, rectangle
from hydraulics.plot.usable import array_ground, grown, header_and_outs, header_ground

SQUARE = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))


@pytest.mark.parametrize(
    ("boundary", "field", "said"),
    [
        (((0, 0), (10, 0)), "boundary", "2 corners"),
        (((0, 0), (10, 10), (10, 0), (0, 10)), "boundary.0", r"\(5.000, 5.000\)"),
        (((0, 0), (10, 0), (10, 0), (0, 10)), "boundary.2", "twice running"),
        (((0, 0), (0.5, 0), (0.5, 0.5)), "boundary", "0.125 m²"),
        (((0, 0), (math.nan, 0), (5, 5)), "boundary.1", "nan"),
        (((0, 0), (1e9, 0), (5, 5)), "boundary.1", "1e.09"),
        (((0, 0), (5000, 0), (5, 5)), "boundary", "5000 m across"),
        (tuple((math.cos(k), math.sin(k)) for k in range(10_000)), "boundary", "10000 corners"),
        # A spike that runs out and back along itself.
        (((0, 0), (10, 0), (20, 0), (10, 0), (10, 10)), "boundary.0", "meets the side"),
    ],
)
def test_a_boundary_that_is_no_area_is_refused_at_its_corner(
    boundary: Any, field: str, said: str
) -> None:
    with pytest.raises(InputError, match=said) as error:
        SitePlot(boundary, (0.0, 0.0))
    assert error.value.faults[0].field == field


def test_closed_and_clockwise_rings_are_the_same_plot() -> None:
    plot = SitePlot((*SQUARE, SQUARE[0]), (0.0, 20.0))
    turned = SitePlot(SQUARE[::-1], (0.0, 20.0))
    assert plot.boundary == SQUARE
    assert turned.ground.equals(plot.ground)


def test_a_plant_room_outside_is_refused_with_its_distance() -> None:
    SitePlot(SQUARE, (-0.9, 20.0))
    with pytest.raises(InputError, match=r"3.0 m outside"):
        SitePlot(SQUARE, (-3.0, 20.0))
    north = tuple((x, y + 5_210_000.0) for x, y in SQUARE)
    with pytest.raises(InputError, match=r"at \(-3\.25, 5210020\.5\), is 3\.2 m outside"):
        SitePlot(north, (-3.25, 5_210_020.5))


def test_a_keep_out_off_the_plot_is_refused() -> None:
    oak = KeepOut("oak", 6.0, centre=(100.0, 20.0), radius=0.5)
    with pytest.raises(InputError, match="oak lies wholly outside") as error:
        SitePlot(SQUARE, (0.0, 0.0), (oak,))
    assert error.value.faults[0].field == "keep_outs.0"


@pytest.mark.parametrize("quarter", [2, 8])
@pytest.mark.parametrize(
    "shape",
    [
        shapely.Point(3, 4),
        shapely.LineString([(0, 0), (10, 0), (10, 7)]),
        shapely.Polygon([(0, 0), (9, 1), (4, 8)]),
    ],
)
def test_no_point_of_a_grown_edge_is_nearer_than_the_clearance(
    shape: shapely.Geometry, quarter: int
) -> None:
    edge = grown(shape, 2.0, quarter).exterior
    along = [edge.interpolate(k / 999, normalized=True) for k in range(1000)]
    # A plain buffer would cut in by 1 - cos(pi/4q): 7.6 % at 2 segments a quarter.
    assert min(shape.distance(p) for p in along) >= 2.0 - 1e-9


def test_ground_of_a_rectangle_is_what_the_border_leaves() -> None:
    # By hand: 75 - 2 x 2.5 = 70, 40 - 2 x 2.5 = 35; header border 1 m: 73 x 38.
    plot = rectangle(75.0, 40.0)
    assert array_ground(plot).area == pytest.approx(70.0 * 35.0, abs=0.01)
    assert header_ground(plot, 1.0, 0.25).area == pytest.approx(73.0 * 38.0)
    assert header_and_outs(plot, 1.0, 0.25)[1][0] == pytest.approx((1.0, 20.0))


def test_pipes_leave_the_house_away_from_a_tree_by_its_door() -> None:
    # By hand: the house keeps 2 m and half a header 0.25 m; straight out at (20, 7.75) lies in the
    # clearance of a tree at (20, 6), 3 m and 0.25 m, so the way goes out at its side.
    house = KeepOut("house", 2.0, ((10.0, 10.0), (30.0, 10.0), (30.0, 20.0), (10.0, 20.0)))
    tree = KeepOut("tree", 3.0, centre=(20.0, 6.0))
    plot = SitePlot(SQUARE, (20.0, 10.0), (house, tree))
    x, y = header_and_outs(plot, 1.0, 0.25)[1][0]
    way = shapely.LineString([(x, y), plot.plant])
    assert way.distance(shapely.Point(20.0, 6.0)) >= 3.25 - 1e-3
    assert not way.crosses(house.shape)
    assert y == pytest.approx(7.75)
    bare = SitePlot(SQUARE, (20.0, 10.0), (house,))
    assert header_and_outs(bare, 1.0, 0.25)[1][0] == pytest.approx((20.0, 7.75))
