"""Which ways can tails take through water: in the lanes between mats, and where ashore?"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
import scipy as sp
import shapely
from numpy.typing import NDArray

from hydraulics.plot.asked import LEAST_LANE
from hydraulics.plot.site import Point, SitePlot
from hydraulics.plot.site_plan import Mat
from hydraulics.plot.usable import COARSE, FINE, grown

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
WIDEST_LANE: Final = 2.0  # m; farther apart, tails lie half so far from their mat
REACH: Final = 3.0  # lanes; two nodes farther apart are joined by those between them
ROUNDING: Final = 1e-6  # m that what blocks is shrunk by, so that ways may touch it
ROUND: Final = 1.01  # of a clearance, that ways round it keep: an octagon's sides clear its arc's
SAME: Final = 1e-3  # m, within which two nodes are one


class Lanes(NamedTuple):
    """Ways through water, its nodes numbered from 0.

    Attributes
    ----------
    points
        Nodes [m], shape (n, 2).
    seen
        Pairs that see each other, shape (e, 2).
    rims
        Ways from a mat's rim to the lane beside it, shape (r, 2): rim, lane.
    ends
        For every mat its nodes on the rim.
    ashore
        Nodes on the bank and the points inland that a header trench leads them to.
    """

    points: Floats
    seen: Ints
    rims: Ints
    ends: tuple[tuple[int, ...], ...]
    ashore: tuple[tuple[int, Point], ...]


def lanes_between(
    plot: SitePlot,
    mats: tuple[Mat, ...],
    ground: shapely.Geometry,
    half_width: float,
    angle: float,
) -> Lanes:
    """Lanes between mats, round what stands in the water, and from each straight to the bank.

    Parameters
    ----------
    plot
        Its water, and the keep-outs that pipes keep off there as header trenches do ashore.
    mats
        What lies in it.
    ground
        Where the centre line of a header trench may lie.
    half_width
        Of it, which keeps off keep-outs where tails come ashore too [m].
    angle
        Of the grid that the mats stand on, anticlockwise from east [rad].
    """
    pond = plot.pond
    at = np.array([mat.at for mat in mats])
    half = np.array([mat.diameter for mat in mats])[:, None] / 2.0
    apart = np.hypot(*(at[:, None] - at).transpose(2, 0, 1)) - half - half.T
    np.fill_diagonal(apart, np.inf)
    beside = half + np.clip(apart.min(axis=1), LEAST_LANE, WIDEST_LANE)[:, None] / 2.0
    lane_long = REACH * float((2.0 * beside).max())
    barred, held, corners = _standing(plot, half_width, lane_long / 2.0)
    # Within the circle and less a hair: the least lane that is allowed is one, as places are told.
    discs = shapely.buffer(
        shapely.points(at), half[:, 0] + LEAST_LANE / 2.0 - SAME / 10.0, quad_segs=2 * FINE
    )
    free = pond.difference(shapely.union_all([barred, *discs]))
    blocked = shapely.box(*pond.bounds).buffer(10.0).difference(free)
    blocked = blocked.buffer(-ROUNDING, join_style="mitre")
    shapely.prepare(blocked)
    c, s = math.cos(angle), math.sin(angle)
    sides = np.array([[c, s], [-s, c], [-c, -s], [s, -c]])

    rims = (at[:, None] + half[:, None] * sides).reshape(-1, 2)
    middles = (at[:, None] + beside[:, None] * sides).reshape(-1, 2)
    crossings = (at[:, None] + beside[:, None] * (sides + np.roll(sides, 1, axis=0))).reshape(-1, 2)
    inside = np.concatenate([middles, crossings, corners])
    inside = inside[~shapely.intersects_xy(blocked, *inside.T)]
    wide = float(np.hypot(*np.diff(np.array(pond.bounds).reshape(2, 2), axis=0)[0]))
    from_ = np.repeat(inside, 4, axis=0)
    to = from_ + 2.0 * wide * np.tile(sides, (len(inside), 1))
    met = shapely.intersection(shapely.linestrings(np.stack([from_, to], axis=1)), pond.boundary)
    nearest = shapely.shortest_line(met, shapely.points(from_))
    first = shapely.get_coordinates(shapely.get_point(nearest, 0))
    banks = np.unique(np.round(first, 3), axis=0)

    points = np.concatenate([rims, middles, crossings, corners, banks])
    tree = sp.spatial.cKDTree(points)
    # Neighbours' lanes are one: each node stands for those that lie on it.
    same = np.arange(len(points))
    for low, high in sorted(tree.query_pairs(SAME)):
        same[high] = min(same[high], same[low])
    open_ = ~shapely.intersects_xy(blocked, *points.T)
    lane = np.unique(same[len(rims) :][open_[len(rims) :]])
    near = tree.query_pairs(lane_long, output_type="ndarray")
    ahead = np.stack([_numbers(tree, from_), _numbers(tree, first)], axis=1)
    pairs = np.unique(np.sort(same[np.concatenate([near, ahead])], axis=1), axis=0)
    pairs = pairs[np.isin(pairs, lane).all(axis=1) & (pairs[:, 0] != pairs[:, 1])]
    pairs = pairs[~_along_bank(points, pairs, len(points) - len(banks), pond)]
    ways = shapely.linestrings(points[pairs])
    seen = pairs[~shapely.intersects(blocked, ways)]
    out = np.arange(len(rims))
    open_out = open_[len(rims) + out]
    ends = tuple(tuple(4 * m + k for k in range(4) if open_out[4 * m + k]) for m in range(len(at)))
    ashore = []
    for bank in lane[lane >= len(points) - len(banks)].tolist():
        straight = shapely.shortest_line(ground, shapely.Point(points[bank]))
        if straight is not None and not straight.intersects(held):  # None: there is no ground
            x, y = shapely.get_coordinates(straight)[0]
            ashore.append((bank, (float(x), float(y))))
    rim_ways = np.stack([out, same[len(rims) + out]], axis=1)[open_out]
    return Lanes(points, seen, rim_ways, ends, tuple(ashore))


def _standing(
    plot: SitePlot, half_width: float, step: float
) -> tuple[shapely.Geometry, shapely.Geometry, Floats]:
    """What pipes keep off in the water, what header trenches do there, and points round it.

    The points are no farther apart than a step [m].
    """
    barring = [k for k in plot.keep_outs if "header" in k.blocks]
    near = [k for k in barring if plot.pond.distance(k.shape) < k.reach + half_width]
    # Less a hair, since a mat's rim may touch it; a line that has no clearance bars ways too.
    barred = shapely.union_all([grown(k.shape, max(k.reach - SAME, SAME)) for k in near])
    held = shapely.union_all([grown(k.shape, k.reach + half_width) for k in barring])
    around = [grown(k.shape, k.reach * ROUND + SAME, COARSE) for k in near]
    round_them = shapely.segmentize(shapely.GeometryCollection(around), step)
    corners = shapely.get_coordinates(round_them)
    # What stands by the bank may lead far from the water: a drain that runs into it.
    corners = corners[shapely.intersects_xy(plot.pond, *corners.T)]
    return barred, held.buffer(-ROUNDING, join_style="mitre"), corners


def _along_bank(points: Floats, pairs: Ints, first: int, pond: shapely.Geometry) -> Bools:
    """Whether ways lead from bank to bank along it, neither dug nor under water.

    `first`: number of the first node on the bank.
    """
    middles = shapely.points(points[pairs].mean(axis=1))
    near = shapely.distance(middles, pond.boundary) < LEAST_LANE / 2.0
    return np.asarray(near & (pairs >= first).all(axis=1))


def _numbers(tree: sp.spatial.cKDTree, points: Floats) -> Ints:
    """Numbers of the nodes nearest to some points."""
    return np.asarray(tree.query(points)[1], dtype=np.int64)
