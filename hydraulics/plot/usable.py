"""On which ground may trenches, bores and header trenches lie?

The boundary is inset with mitred joins. Keep-outs are grown by polygons around the true circle: a
plain buffer is a polygon within it, and cuts the clearance by 1.9 % at four segments a quarter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hydraulics.plot.site import TOUCHING, Blocks, Point, SitePlot

EXACT_FIT: Final = 1e-5  # m that ground is grown by, so that what fits exactly is not lost
FINE: Final = 8  # segments a quarter of a circle
ASIDE: Final = 20.0  # m from the plant room within which a way out aside is looked for
ASIDE_STEP: Final = 0.5  # m
AS_BAD: Final = 0.3  # m by which two ways out may differ and be as bad
APART: Final = 2.0  # m between the ends of two ways out
APART_BY: Final = 0.3  # m; ground for trenches reaches so little beyond that for headers
COARSE: Final = 2  # so that a header has few corners to go round: octagons
CORNERS: Final = 1.0 / math.cos(math.pi / (4 * COARSE))  # of theirs, over the circle that they hold
ROUND: Final = 4 * FINE  # segments a quarter, where all but nothing is to be lost


def grown(shape: shapely.Geometry, by: float, quarter: int = FINE) -> shapely.Geometry:
    """All within a distance of a shape, and a little more at corners; never less.

    Parameters
    ----------
    shape
        Point, line or area.
    by
        Distance [m].
    quarter
        Segments a quarter of a circle.
    """
    if by <= 0.0:
        return shape
    half_step = math.pi / (4 * quarter)
    if shape.geom_type == "Point":
        return shape.buffer(by / math.cos(half_step), quad_segs=quarter)
    # The segments of an arc are rounded to a whole number: up to half as wide again.
    around = shape.buffer(by / math.cos(1.5 * half_step), quad_segs=quarter)
    # Sides are as far off as they should be; only corners take the polygon's excess.
    sides = shape.buffer(by, cap_style="square", join_style="mitre", mitre_limit=10.0)
    return around.intersection(sides)


def inset(plot: SitePlot, by: float) -> shapely.Geometry:
    """Ground at least so far inside the boundary [m]."""
    return plot.ground.buffer(-by, join_style="mitre") if by > 0.0 else plot.ground


def _without(
    plot: SitePlot, ground: shapely.Geometry, what: Blocks, half: float, quarter: int
) -> shapely.Geometry:
    kept = [
        grown(each.shape, each.reach + half, quarter)
        for each in plot.keep_outs
        if what in each.blocks
    ]
    return ground.difference(shapely.union_all(kept)) if kept else ground


def array_ground(
    plot: SitePlot, half_width: float = 0.0, off: shapely.Geometry | None = None
) -> shapely.Geometry:
    """Where a centre line of trench, or the axis of a bore, may lie.

    Parameters
    ----------
    plot
        The plot.
    half_width
        From the centre line to the edge of what is dug at the surface [m].
    off
        What it keeps off besides: the way out of the plant room, grown.
    """
    ground = _without(plot, inset(plot, max(plot.border, half_width)), "array", half_width, FINE)
    if plot.water:
        ground = ground.difference(grown(plot.pond, half_width))
    if off is not None:
        ground = ground.difference(off)
    return polygons(ground.buffer(EXACT_FIT, join_style="mitre"))


def header_ground(plot: SitePlot, border: float, half_width: float) -> shapely.Geometry:
    """Where the centre line of a header trench may lie.

    Parameters
    ----------
    plot
        The plot.
    border
        From the boundary, and from water, to the header trench's centre line [m].
    half_width
        Half of the header trench's width [m].

    Returns
    -------
    shapely.Geometry
        With few corners; all of the ground where that joins parts which are apart without.
    """
    ground = rounded_ground(plot, border, half_width, COARSE)
    if shapely.get_num_geometries(ground) < 2:
        return ground
    finer = (rounded_ground(plot, border, half_width, quarter) for quarter in (FINE, ROUND))
    return min((joined(ground, each) for each in finer), key=shapely.get_num_geometries)


def rounded_ground(
    plot: SitePlot, border: float, half_width: float, quarter: int
) -> shapely.Geometry:
    """`header_ground` with so many segments a quarter of a circle round what it keeps off."""
    ground = _without(plot, inset(plot, max(border, half_width)), "header", half_width, quarter)
    if plot.water:
        ground = ground.difference(grown(plot.pond, max(border, half_width), quarter))
    return polygons(ground)


def joined(
    coarse: shapely.Geometry, fine: shapely.Geometry, at: Sequence[Point] = ()
) -> shapely.Geometry:
    """Ground with few corners, and what there is beyond it that joins its parts.

    Parameters
    ----------
    coarse, fine
        Ground with few corners, and all of it.
    at
        Points to be joined to it as well.
    """
    beyond = shapely.get_parts(polygons(fine.difference(coarse)))
    to = [*shapely.get_parts(coarse), *map(shapely.Point, at)]
    piece, _ = shapely.STRtree(to).query(beyond, predicate="dwithin", distance=EXACT_FIT)
    joins = beyond[np.bincount(piece, minlength=len(beyond)) > 1]
    # A hair over, since rounding would part them.
    more = shapely.buffer(joins, EXACT_FIT / 10.0, join_style="mitre")
    return polygons(shapely.union_all([coarse, *more])) if len(more) else coarse


def reached_part(
    array: shapely.Geometry, header: shapely.Geometry, outs: tuple[Point, ...]
) -> shapely.Geometry | None:
    """The part of the header ground that ways out of the plant room lead to.

    Parameters
    ----------
    array, header
        Where trenches or bores, and where centre lines of header trenches may lie; of several
        parts where what headers may not cross divides the plot.
    outs
        Where pipes come out on the header ground.

    Returns
    -------
    shapely.Geometry or None
        Of several with a way out that with the most ground for the array; None where nothing
        divides the header ground, or no way out leads onto it.
    """
    parts = shapely.get_parts(header)
    reached = [p for p in parts if any(p.distance(shapely.Point(out)) < TOUCHING for out in outs)]
    if len(parts) < 2 or not reached:
        return None
    return max(reached, key=lambda part: part.intersection(array).area)


def within_reach(
    array: shapely.Geometry, header: shapely.Geometry, own: shapely.Geometry | None
) -> shapely.Geometry:
    """Ground for the array without that beside parts of the header ground but `own`.

    All of it where there are none, or nothing would be left.
    """
    if own is None:
        return array
    beyond = [grown(p, APART_BY, COARSE) for p in shapely.get_parts(header) if not p.equals(own)]
    left = polygons(array.difference(shapely.union_all(beyond)))
    return array if left.is_empty else left


def mat_ground(plot: SitePlot, half: float, bank: float) -> shapely.Geometry:
    """Where the centres of mats may lie: in the water, so far from its edge.

    Parameters
    ----------
    plot
        The plot.
    half
        From a mat's centre to its edge [m].
    bank
        From its edge to the water's [m].
    """
    water = _without(plot, plot.pond.buffer(-half - bank, join_style="mitre"), "array", half, FINE)
    return polygons(water.buffer(EXACT_FIT, join_style="mitre"))


@lru_cache(maxsize=8)
def header_and_outs(
    plot: SitePlot, border: float, half_width: float
) -> tuple[shapely.Geometry, tuple[Point, ...]]:
    """`header_ground` and `ways_out` onto it: kept, since every layout of a plot asks for them."""
    ground = header_ground(plot, border, half_width)
    return ground, ways_out(plot, ground, half_width)


def ways_out(plot: SitePlot, ground: shapely.Geometry, half_width: float) -> tuple[Point, ...]:
    """Where pipes come out on the header ground; the plant's own place where it is on it.

    Pipes leave straight, through the clearance of the building that the plant room stands at and
    of nothing else: by the shortest way where that is clear, else aside. Where no way is clear,
    those that leave the plot least, then are least under buildings, in their clearance, across
    services, and near to them: one on either side, as ways go on; the findings tell what they come
    too near to.

    Parameters
    ----------
    plot
        The plot.
    ground
        Where the centre line of a header trench may lie.
    half_width
        Half of the header trench's width [m].

    Returns
    -------
    tuple of Point
        The best first.
    """
    plant = shapely.Point(plot.plant)
    if ground.is_empty or ground.covers(plant):
        return (plot.plant,)
    edges = shapely.linestrings(sides(ground))
    ends = shapely.get_coordinates(shapely.shortest_line(edges, plant))[::2]
    best, wrong = _clearest(plot, ends, half_width)
    if wrong[best[0]].any():
        near = shapely.intersection(ground.boundary, plant.buffer(ASIDE))
        ends = np.concatenate([ends, shapely.get_coordinates(shapely.segmentize(near, ASIDE_STEP))])
        best, wrong = _clearest(plot, ends, half_width)
    least = wrong[best[0]]
    found = [ends[best[0]]]
    for end, badly in zip(ends[best], wrong[best], strict=True):
        alike = (badly <= least + AS_BAD * (least > 0.0)).all()
        if least.any() and alike and min(math.dist(end, other) for other in found) > APART:
            found.append(end)
    return tuple((float(x), float(y)) for x, y in found)


def _clearest(
    plot: SitePlot, ends: NDArray[np.float64], half_width: float
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Straight ways from the plant room in their order, and what is wrong with each, worst first.

    Metres off the plot, under buildings, in their clearance; services crossed; metres near them.
    """
    plant = shapely.Point(plot.plant)
    start = np.broadcast_to(np.array(plot.plant), ends.shape)
    ways = shapely.linestrings(np.stack([ends, start], axis=1))
    led = shapely.difference(ways, own_end(plot.plant, half_width))
    off = shapely.length(shapely.difference(ways, plot.ground)) - plot.ground.distance(plant)
    under, close, across, beside = np.zeros((4, len(ways)))
    for each in plot.keep_outs:
        if "header" not in each.blocks:
            continue
        within = _length_in(ways, each.shape, each.reach + half_width)
        if each.line:
            across += shapely.intersects(ways, each.shape)
            beside += within
        else:
            under += _length_in(led, each.shape, each.radius + half_width)
            close += within if each not in plot.stands_at else 0.0
    if plot.water:
        under += shapely.length(shapely.intersection(ways, plot.pond))
    wrong = np.round(np.stack([np.maximum(off, 0.0), under, close, across, beside], axis=1), 3)
    return np.lexsort((np.round(shapely.length(ways), 6), *wrong.T[::-1])), wrong


def _length_in(
    ways: NDArray[np.object_], shape: shapely.Geometry, near: float
) -> NDArray[np.float64]:
    """Length of ways nearer to a shape, less a hair, since they may touch what bars them [m]."""
    barred = grown(shape, near, COARSE).buffer(-EXACT_FIT, join_style="mitre")
    return np.asarray(shapely.length(shapely.intersection(ways, barred)))


def dug_surface(line: shapely.Geometry, half: float) -> shapely.Geometry:
    """What a trench takes of the surface, so far either side of its line [m]; it ends square."""
    return line.buffer(half, cap_style="flat", join_style="mitre")


def own_end(plant: Point, half_width: float) -> shapely.Geometry:
    """Where a header trench may be at the wall that its pipes come out of.

    Beyond it, a way at 30 degrees to the wall or more has no part under the building.
    """
    return shapely.Point(plant).buffer(2.0 * half_width)


def polygons(shape: shapely.Geometry) -> shapely.Geometry:
    """The areas of a shape; lines and points that are left of a difference are not ground."""
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 1e-9]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def sides(shape: shapely.Geometry) -> NDArray[np.float64]:
    """Sides of every ring of an area: from and to, shape (n, 2, 2)."""
    rings = shapely.get_rings(shapely.get_parts(shape))
    found = [
        np.stack([points[:-1], points[1:]], axis=1)
        for points in map(shapely.get_coordinates, rings)
    ]
    return np.concatenate(found) if found else np.empty((0, 2, 2))
