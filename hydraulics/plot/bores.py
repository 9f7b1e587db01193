"""Where do boreholes stand: close together, so that little is dug, or spread over the plot?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
import scipy as sp
import shapely
from numpy.typing import NDArray

from hydraulics.plot.asked import MOST_LOOPS, BoreField
from hydraulics.plot.parallel import Direction, Frame
from hydraulics.plot.site import Point
from hydraulics.plot.usable import EXACT_FIT

Floats = NDArray[np.float64]
OFFSETS: Final = 5  # of a grid, either way
REACH_SHARE: Final = 0.3  # of the distances to the plant room that count beside the shortest tree
LATTICE: Final = 20  # steps along the longer side, of the points that are spread over
STARTS: Final = 40
TRIED: Final = 2400  # bores times starts: fewer starts where there are many bores
ROUNDS: Final = 50  # of exchanging one bore for a better place


class Field(NamedTuple):
    """Bores found: their axes [m], the most that fit, how they stand, and in which direction."""

    at: tuple[Point, ...]
    most: int
    pattern: str
    angle: float


def compact(
    ground: shapely.Geometry, lay: BoreField, plant: Point, tried: list[Direction]
) -> Field:
    """As many bores as are asked for, or as fit, on the grid that is the shortest to join.

    Parameters
    ----------
    ground
        Where axes may lie.
    lay
        What is asked for.
    plant
        The way out of the plant room.
    tried
        Directions of grids.
    """
    best, price, most = Field((), 0, "square", 0.0), math.inf, 0
    if ground.is_empty:
        return best
    for angle, pattern, inside in _grids(ground, lay, tried):
        most = max(most, len(inside))
        count = min(len(inside), lay.count or MOST_LOOPS)
        if count == 0 or count < len(best.at):
            continue
        away = np.hypot(*(inside - np.array(plant)).T)
        chosen = inside[np.argsort(away, kind="stable")[:count]]
        tree = float(
            sp.sparse.csgraph.minimum_spanning_tree(sp.spatial.distance.cdist(chosen, chosen)).sum()
        )
        now = tree + REACH_SHARE * float(np.sort(away)[:count].sum())
        if count > len(best.at) or now < price - 1e-9:
            price = now
            best = Field(tuple((float(x), float(y)) for x, y in chosen), 0, pattern, angle)
    return best._replace(most=most)


def _grids(
    ground: shapely.Geometry, lay: BoreField, tried: list[Direction]
) -> Iterator[tuple[float, str, Floats]]:
    """Points inside of every grid, in x and y."""
    shapely.prepare(ground)
    corners = shapely.get_coordinates(ground)
    patterns = ("square", "triangular") if lay.pattern == "either" else (lay.pattern,)
    for direction in tried:
        frame = Frame(direction.angle)
        uv = frame.turned(corners)
        low, high = uv.min(axis=0) + EXACT_FIT / 2.0, uv.max(axis=0)
        for pattern in patterns:
            rise = lay.spacing * (math.sqrt(0.75) if pattern == "triangular" else 1.0)
            rows = np.arange(-1, math.ceil((high[1] - low[1]) / rise) + 1)
            across = np.arange(-1, math.ceil((high[0] - low[0]) / lay.spacing) + 1)
            shift = np.where(rows % 2 == 1, lay.spacing / 2.0, 0.0) * (pattern == "triangular")
            u = (low[0] + across * lay.spacing)[None, :] + shift[:, None]
            v = np.broadcast_to((low[1] + rows * rise)[:, None], u.shape)
            for i in range(OFFSETS):
                for j in range(OFFSETS):
                    moved = np.column_stack(
                        [u.ravel() + i / OFFSETS * lay.spacing, v.ravel() + j / OFFSETS * rise]
                    )
                    xy = Frame(-direction.angle).turned(moved)
                    yield direction.angle, pattern, xy[shapely.contains_xy(ground, *xy.T)]


def spread(ground: shapely.Geometry, lay: BoreField) -> Field:
    """Bores as far from one another as the ground lets them; fewer where they come too near.

    Farthest points from many starts, then one by one exchanged for a better place.
    """
    shapely.prepare(ground)
    x0, y0, x1, y1 = ground.bounds
    across = np.linspace(x0 + EXACT_FIT / 2.0, x1 - EXACT_FIT / 2.0, LATTICE + 1)
    up = np.linspace(y0 + EXACT_FIT / 2.0, y1 - EXACT_FIT / 2.0, LATTICE + 1)
    lattice = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
    edges = [
        shapely.get_coordinates(shapely.segmentize(ring, max(x1 - x0, y1 - y0) / LATTICE))[:-1]
        for ring in shapely.get_rings(shapely.get_parts(ground))
    ]
    points = np.concatenate([lattice[shapely.contains_xy(ground, *lattice.T)], *edges])
    apart = sp.spatial.distance.cdist(points, points)
    best: tuple[float, list[int]] = (-1.0, [])
    least = lay.spacing - 2.0 * EXACT_FIT
    most = min(lay.count or MOST_LOOPS, len(points), _most_apart(ground, least))
    for count in range(most, 0, -1):
        from_here = min(STARTS, max(1, TRIED // count))
        starts = np.unique(np.linspace(0, len(points) - 1, from_here).astype(int))
        for start in starts.tolist():
            chosen, nearest = _exchanged(apart, _farthest(apart, start, count))
            if nearest > best[0] + 1e-9:
                best = (nearest, chosen)
        if best[0] >= least:
            break
        best = (-1.0, [])
    at = tuple((float(x), float(y)) for x, y in points[best[1]])
    return Field(at, len(at), "spread", 0.0)


def _most_apart(ground: shapely.Geometry, least: float) -> int:
    """No more points of the ground than so many are at least so far apart [m].

    Oler's bound on a convex area, from memory: 2 A / (sqrt 3 d^2) + P / (2 d) + 1.
    """
    hull = ground.convex_hull
    area, around = float(hull.area), float(hull.length)
    return math.floor(2.0 * area / (math.sqrt(3.0) * least**2) + around / (2.0 * least) + 1.0)


def _farthest(apart: Floats, start: int, count: int) -> list[int]:
    chosen, near = [start], apart[start].copy()
    while len(chosen) < count:
        chosen.append(int(np.argmax(near)))
        near = np.minimum(near, apart[chosen[-1]])
    return chosen


def _nearest(apart: Floats, chosen: list[int]) -> float:
    if len(chosen) < 2:
        return math.inf
    between = apart[np.ix_(chosen, chosen)]
    return float(between[np.triu_indices(len(chosen), 1)].min())


def _exchanged(apart: Floats, chosen: list[int]) -> tuple[list[int], float]:
    """Bores moved one by one to where they are farthest from the others, while that gains."""
    if len(chosen) < 2:
        return chosen, _nearest(apart, chosen)
    chosen = list(chosen)
    first, near, next_near = _two_nearest(apart, chosen)
    for _ in range(ROUNDS):
        gained = False
        for place in range(len(chosen)):
            to_others = np.where(first == place, next_near, near)
            better = int(np.argmax(to_others))
            if to_others[better] > to_others[chosen[place]] + 1e-9:
                chosen[place] = better
                first, near, next_near = _two_nearest(apart, chosen)
                gained = True
        if not gained:
            break
    return chosen, _nearest(apart, chosen)


def _two_nearest(apart: Floats, chosen: list[int]) -> tuple[NDArray[np.int64], Floats, Floats]:
    """For every point the place of the bore nearest to it, its distance, and the next one's [m]."""
    to_all = apart[chosen]
    first = np.argmin(to_all, axis=0)
    every = np.arange(to_all.shape[1])
    near = to_all[first, every]
    to_all[first, every] = np.inf
    return first, near, np.asarray(to_all.min(axis=0))
