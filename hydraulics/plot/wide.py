"""Which trenches and boreholes does a header reach that is wider for its pipes than its way?

Ways are looked for in the width that is told; where many pipes lie in a header trench, its floor is
wider than that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import shapely

from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.network import footprint
from hydraulics.plot.site import TOUCHING, Point
from hydraulics.plot.site_plan import HAIR, SitePlan, Stretch
from hydraulics.plot.usable import dug_surface


def reached(
    plan: SitePlan, floors: Iterable[tuple[Stretch, float]], rules: HeaderRules
) -> dict[str, tuple[float, float]]:
    """What header trenches come nearer to than the ground to be left.

    Parameters
    ----------
    plan
        The plan.
    floors
        Its stretches in the ground with the width of their floors [m].
    rules
        The width that ways were to be looked for in, sides, and what ground is left.

    Returns
    -------
    dict
        By the loop of the trench or borehole the ground left [m], below 0 as deep as the header
        reaches into it, and the floor of the header that leaves it.
    """
    bores = {bore.loop: shapely.Point(bore.at) for bore in plan.bores}
    kept = {trench.loop: footprint(trench) for trench in plan.trenches} | bores
    names, tree = list(kept), shapely.STRtree(list(kept.values()))
    near: dict[str, tuple[float, float]] = {}
    stubs = {
        loop: shapely.LineString([line[0], _along(line[0], line[1], rules.straight_on)]).buffer(
            TOUCHING
        )
        for loop, line in plan.tail_lines.items()
        if line[0] != line[1]
    }
    for stretch, floor in floors:
        half = floor / 2.0 + rules.batter
        if half <= rules.half_width + TOUCHING:
            continue
        whole = shapely.LineString(stretch.line)
        for number in tree.query(dug_surface(whole, half), "dwithin", rules.clear).tolist():
            loop = names[number]
            if loop in bores and loop in stretch.loops:
                continue
            line = whole.difference(stubs[loop]) if loop in stubs else whole
            away = _between(line, half, kept[loop])
            if away < rules.clear - HAIR:
                near[loop] = min(near.get(loop, (math.inf, 0.0)), (away, floor))
    return near


def _along(start: Point, to: Point, by: float) -> Point:
    """The point so far from one towards another [m]."""
    share = by / math.dist(start, to)
    return (start[0] + share * (to[0] - start[0]), start[1] + share * (to[1] - start[1]))


def _between(line: shapely.Geometry, half: float, top: shapely.Geometry) -> float:
    """Ground between a header trench and another [m]; below 0 as deep as one reaches into it."""
    if line.is_empty:
        return math.inf
    if away := dug_surface(line, half).distance(top):
        return float(away)
    within = shapely.get_coordinates(line.intersection(top).segmentize(0.1))
    inside = 0.0
    if top.geom_type == "Polygon":
        inside = shapely.distance(shapely.points(within), top.exterior).max(initial=0.0)
    return float(line.distance(top) - half - inside)
