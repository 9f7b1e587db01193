"""What is dug for the routes, and which pipes lie in each piece of it?"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely

from hydraulics.plot.site import Point
from hydraulics.plot.site_plan import Medium, Route, Stretch

TOUCHING: Final = 1e-5  # m, within which a route lies in a piece


def stretches(
    routes: Iterable[Route], water: shapely.Geometry | None = None
) -> tuple[Stretch, ...]:
    """The union of all routes in pieces in each of which the same pipes lie.

    Parameters
    ----------
    routes
        Tails and runs.
    water
        What is not dug.

    Returns
    -------
    tuple of Stretch
        Pieces that meet at their ends only; together as long as the union of the routes.
    """
    led = [route for route in routes if route.length > 0.0]
    if not led:
        return ()
    lines = shapely.linestrings(
        np.concatenate([np.array(route.line) for route in led]),
        indices=np.repeat(np.arange(len(led)), [len(route.line) for route in led]),
    )
    ways = shapely.union_all(lines, grid_size=TOUCHING / 10.0)
    if water is not None and not water.is_empty:
        ways = shapely.union_all([ways.intersection(water), ways.difference(water)])
    pieces = shapely.get_parts(ways)
    pieces = pieces[shapely.get_type_id(pieces) == 1]
    middles = shapely.line_interpolate_point(pieces, 0.5, normalized=True)
    # Two ways over one piece that differ by a hair are not noded: the piece is dug once.
    tree = shapely.STRtree(middles)
    first, second = tree.query(middles, predicate="dwithin", distance=TOUCHING)
    once = np.setdiff1d(np.arange(len(pieces)), second[first < second])
    pieces, middles = pieces[once], middles[once]
    tree = shapely.STRtree(middles)
    near_route, piece = tree.query(lines, predicate="dwithin", distance=TOUCHING)
    wet = (
        shapely.intersects(water, middles)
        if water is not None and not water.is_empty
        else np.zeros(len(pieces), dtype=bool)
    )
    contents: list[list[int]] = [[] for _ in pieces]
    for route, number in sorted(zip(near_route.tolist(), piece.tolist(), strict=True)):
        contents[number].append(route)
    alike: dict[tuple[tuple[int, ...], bool], list[shapely.Geometry]] = {}
    for number, line in enumerate(pieces):
        alike.setdefault((tuple(contents[number]), bool(wet[number])), []).append(line)
    found = []
    for (held, in_water), parts in alike.items():
        medium: Medium = "water" if in_water else "ground"
        loops = tuple(r.loop for n in held if (r := led[n]).loop is not None)
        runs = tuple(led[n].chamber for n in held if led[n].loop is None)
        merged = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(parts)))
        found += [Stretch(_points(line), medium, loops, runs) for line in merged]
    return tuple(found)


def _points(line: shapely.Geometry) -> tuple[Point, ...]:
    """Bends of a line, without points that lie on the straight."""
    bends = shapely.get_coordinates(line.simplify(TOUCHING))
    return tuple((float(x), float(y)) for x, y in bends)
