"""On which ground may trenches, bores and header trenches lie?

The boundary is inset with mitred joins. Keep-outs are grown by polygons around the true circle: a
plain buffer is a polygon within it, and cuts the clearance by 1.9 % at four segments a quarter.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hydraulics.plot.site import Blocks, Point, SitePlot

EXACT_FIT: Final = 1e-5  # m that ground is grown by, so that what fits exactly is not lost
FINE: Final = 8  # segments a quarter of a circle
COARSE: Final = 2  # so that a header has few corners to go round: octagons


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
    """
    ground = _without(plot, inset(plot, max(border, half_width)), "header", half_width, COARSE)
    if plot.water:
        ground = ground.difference(grown(plot.pond, max(border, half_width), COARSE))
    return polygons(ground)


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


def way_out(plot: SitePlot, ground: shapely.Geometry, half_width: float) -> Point:
    """Where pipes come out on the header ground; the plant's own place where it is on it.

    A plant room on a wall lies within its house's own clearance: pipes leave by the shortest way
    that goes neither through the house nor near to what the plant room is not itself near to.

    Parameters
    ----------
    plot
        The plot.
    ground
        Where the centre line of a header trench may lie.
    half_width
        Half of the header trench's width [m].
    """
    plant = shapely.Point(plot.plant)
    if ground.is_empty or ground.covers(plant):
        return plot.plant
    edges = shapely.linestrings(sides(ground))
    ways = shapely.shortest_line(edges, plant)
    ways = ways[np.argsort(shapely.length(ways), kind="stable")]
    barred = []
    for each in plot.keep_outs:
        if "header" in each.blocks:
            apart = each.shape.distance(plant)
            own = apart < each.reach + half_width
            near = each.radius if own else each.reach + half_width
            # From a wall the way may begin on the wall itself.
            if not own or apart >= each.radius:
                barred.append(grown(each.shape, near).buffer(-EXACT_FIT, join_style="mitre"))
    clear = ~shapely.intersects(shapely.union_all(barred), ways)
    x, y = shapely.get_coordinates(ways[int(np.argmax(clear))])[0]
    return (float(x), float(y))


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
