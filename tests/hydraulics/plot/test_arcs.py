"""Arcs of drawings as points, against the arcs of ezdxf and circles by hand."""

import itertools
import math

import pytest
from ezdxf.math import bulge_to_arc

from hydraulics.plot.arcs import SAGITTA, arc_points


@pytest.mark.parametrize("bulge", [1.0, -1.0, 0.2, -0.4, 3.0, -7.0, 1000.0])
@pytest.mark.parametrize("end", [(14.0, 0.0), (3.0, -21.0), (-8.0, 5.0)])
def test_points_lie_on_the_arc_that_ezdxf_finds_and_no_chord_leaves_it(
    bulge: float, end: tuple[float, float]
) -> None:
    start = (2.0, 1.0)
    middle, first, last, radius = bulge_to_arc(start, end, bulge)
    points = arc_points(start, end, bulge)
    assert [math.dist(p, middle) for p in points] == pytest.approx([radius] * len(points))
    # ezdxf's arcs run anticlockwise from the first angle to the last.
    turned = (last - first) % math.tau
    way = [start, *points, end]
    length = sum(math.dist(a, b) for a, b in itertools.pairwise(way))
    # Half the sagitta's share of a chord is what a chord is shorter by.
    assert length == pytest.approx(radius * turned, rel=1e-2)
    assert length <= radius * turned * (1 + 1e-9)
    if radius < 100.0:  # beyond, the number of chords is bounded
        sides = [math.dist(a, b) for a, b in itertools.pairwise(way)]
        sags = [radius - math.sqrt(max(radius**2 - (s / 2) ** 2, 0.0)) for s in sides]
        assert max(sags) <= SAGITTA * (1 + 1e-6)


def test_half_a_circle_by_hand() -> None:
    # From (0, 0) to (2, 0), anticlockwise: through (1, -1).
    points = arc_points((0.0, 0.0), (2.0, 0.0), 1.0)
    assert min(math.dist(p, (1.0, -1.0)) for p in points) < 0.15
    assert all(y < 0.0 for _, y in points)


@pytest.mark.parametrize("bulge", [0.0, 1e-300, 1e-4, -1e-4])
def test_what_is_as_good_as_straight_has_no_points(bulge: float) -> None:
    assert arc_points((0.0, 0.0), (10.0, 0.0), bulge) == ()


def test_no_arc_has_points_without_end() -> None:
    assert len(arc_points((0.0, 0.0), (1e12, 0.0), 1000.0)) < 200
