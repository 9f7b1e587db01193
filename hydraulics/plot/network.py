"""Which ways can a header trench take between trenches, around keep-outs and to the plant room?

A graph: nodes a stub's length from every trench's end and around every borehole, half-way between
neighbours, at the corners of what blocks headers, at the plant room and the chambers, and where
right-angled ways from these meet the others. Two nodes are joined where they see each other; a way
that passes close by a third node which both see goes by that node instead, so that near-parallel
trenches become one. Where something is not led to so, ways of any length and by the corners of
trenches' own ground are looked at as well, and through gaps that arcs drawn as octagons shut.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

import numpy as np
import scipy as sp
import shapely
from numpy.typing import NDArray

from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.lanes import lanes_between
from hydraulics.plot.site import Point, SitePlot
from hydraulics.plot.site_plan import Bore, Mat, Trench
from hydraulics.plot.usable import (
    COARSE,
    CORNERS,
    ROUND,
    dug_surface,
    grown,
    header_and_outs,
    joined,
    polygons,
    rounded_ground,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FAR: Final = 60.0  # m; two nodes farther apart are joined by those between them, if all are so led
MOST_PAIRS: Final = 150_000  # of nodes that are looked at: of more, those nearest to one another
MOST_AHEAD: Final = 400  # nodes nearest to a chamber that right-angled ways are led to
AHEAD_OF_BORES: Final = 100  # the same where there are bores, of which each has nodes around it
NEAR: Final = 0.6  # m; a way so close to a node goes by it
NEXT: Final = 1.05  # of the distance to the nearest borehole, up to which another is as near
AT_ONCE: Final = 400_000  # ways with nodes that are looked at together
TURNED: Final = 1e-9  # rad that directions may be off by rounding
NEAR_SHARE: Final = 0.25  # of the distance to the way's end, within which a node counts as near
NEIGHBOURS: Final = 5  # stubs nearest to one, itself among them
SAME: Final = 3  # decimals of a metre that tell two nodes apart
ROUNDING: Final = 1e-5  # m that what blocks is shrunk by, so that ways may touch it
BY_A_HAIR: Final = 1e-3  # m that a way may come nearer to what it keeps off
TOLD_NEARER: Final = 0.9 * BY_A_HAIR  # the same, of trenches: of two told to a millimetre, too
NOT_THERE: Final = 1e6  # m, of a way that is not there
TOLD: Final = 2e-3  # m that a place may be off its node, since places are told to a millimetre


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """Nodes and the straight ways between them.

    Attributes
    ----------
    points
        Nodes [m], shape (n, 2).
    joined
        Nodes of every way, shape (e, 2).
    lengths
        Of the ways, to a tenth of a millimetre [m], shape (e,).
    askew
        Whether a way runs neither along nor across the trenches, shape (e,).
    wet
        Whether it lies in water, shape (e,).
    dry
        Whether a node may hold a chamber, shape (n,).
    closed
        Whether a way may only begin or end there, at a borehole, shape (n,).
    plant
        Node of the plant room.
    ends
        For every loop the nodes that its tail may start from; empty where none is reached.
    chambers
        Nodes of the chambers that were given.
    """

    points: Floats
    joined: Ints
    lengths: Floats
    askew: Bools
    wet: Bools
    dry: Bools
    closed: Bools
    plant: int
    ends: tuple[tuple[int, ...], ...]
    chambers: tuple[int, ...]


class _Nodes:
    """Points by number, each once."""

    def __init__(self) -> None:
        self.points: list[Point] = []
        self._known: dict[Point, int] = {}

    def add(self, point: Point) -> int:
        key = self._key(point)
        if key not in self._known:
            self._known[key] = len(self.points)
            self.points.append((float(point[0]), float(point[1])))
        return self._known[key]

    def __contains__(self, point: Point) -> bool:
        return self._key(point) in self._known

    @staticmethod
    def _key(point: Point) -> Point:
        # NumPy's numbers round otherwise than Python's, 2.1355 up: of one place there is one kind.
        x, y = point
        return round(float(x), SAME) + 0.0, round(float(y), SAME) + 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Base:
    """What the network is without chambers: kept, since moving one changes nothing here."""

    points: tuple[Point, ...]
    sees: Bools
    kept: Ints
    blocked: shapely.Geometry
    closed: frozenset[int]
    fixed: tuple[tuple[int, int], ...]
    no_place: frozenset[int]
    plant: int
    ends: tuple[tuple[int, ...], ...]
    wet: frozenset[int]


def footprint(trench: Trench, around: float = 0.0, quarter: int = COARSE) -> shapely.Geometry:
    """What a trench takes of the surface, and the ground around it [m]."""
    dug = dug_surface(shapely.LineString(trench.line), trench.half_top)
    return grown(dug, around, quarter) if around > 0.0 else dug


def _taken(
    plot: SitePlot, rules: HeaderRules, trenches: tuple[Trench, ...], outs: tuple[Point, ...]
) -> Iterator[shapely.Geometry]:
    """What trenches keep headers off; its corners are rounder beside a way out of the plant room.

    Trenches are placed off that by no more than is needed, and there is no way round it.
    """
    ways = shapely.MultiLineString([(out, plot.plant) for out in outs])
    for trench in trenches:
        coarse = footprint(trench, rules.around - TOLD_NEARER)
        beside = coarse.distance(ways) <= 0.0
        yield footprint(trench, rules.around - TOLD_NEARER, ROUND) if beside else coarse


def beyond(line: tuple[Point, ...], last: bool, by: float) -> Point:
    """The point straight on from an end of a line [m]."""
    (ax, ay), (bx, by_) = (line[-2], line[-1]) if last else (line[1], line[0])
    share = by / math.hypot(bx - ax, by_ - ay)
    return (bx + (bx - ax) * share, by_ + (by_ - ay) * share)


def _seen(
    points: Floats, first: Ints, second: Ints, blocked: shapely.Geometry, far: float
) -> tuple[Ints, Ints]:
    """Pairs of nodes, none farther apart than so far [m], that see each other."""
    apart = np.hypot(*(points[first] - points[second]).T)
    first, second = first[apart <= far], second[apart <= far]
    lines = shapely.linestrings(np.stack([points[first], points[second]], axis=1))
    clear = ~shapely.intersects(blocked, lines)
    return first[clear], second[clear]


def _pairs(points: Floats, known: Ints) -> tuple[Ints, Ints]:
    """Pairs of nodes to look at: all of them, or every node with so many nearest to it."""
    count = len(known)
    if count * (count - 1) // 2 <= MOST_PAIRS:
        a, b = np.triu_indices(count, 1)
    else:
        at = points[known]
        near = np.asarray(sp.spatial.cKDTree(at).query(at, k=MOST_PAIRS // count + 1)[1])
        a, b = np.repeat(np.arange(count), near.shape[1]), near.ravel()
        one_each = np.unique((np.minimum(a, b) * count + np.maximum(a, b))[a != b])
        a, b = one_each // count, one_each % count
    return known[a], known[b]


@lru_cache(maxsize=8)
def _base(  # noqa: PLR0917 (each is another subject)
    plot: SitePlot,
    rules: HeaderRules,
    trenches: tuple[Trench, ...],
    bores: tuple[Bore, ...],
    mats: tuple[Mat, ...],
    angle: float,
    *,
    far: float = FAR,
    reach: tuple[Point, ...] = (),
) -> _Base:
    ground, ways = header_and_outs(plot, rules.border, rules.half_width)
    led_out = [
        (t, last, beyond(t.line, last, rules.straight_on)) for t in trenches for last in _ends(t)
    ]
    at = [plot.plant, *reach, *(stub for _, _, stub in led_out)] if far > FAR else reach
    taken, free, barred = _left(plot, rules, trenches, bores, at)
    blocked = _barred(plot, free) if bores else barred

    nodes = _Nodes()
    outs, plant, fixed = _plant_room(nodes, plot, ways, taken)
    no_place = {plant} - set(outs)
    stubs: list[list[Point]] = [[], []]
    ends: list[tuple[int, ...]] = []
    led_out = _open_ended(plot, rules, (trenches, bores), led_out, blocked)
    of_trench: dict[str, list[int]] = {trench.loop: [] for trench in trenches}
    for trench, last, stub in led_out:
        end = nodes.add(trench.line[-1] if last else trench.line[0])
        fixed.append((end, nodes.add(stub)))
        no_place.add(end)
        of_trench[trench.loop].append(end)
        stubs[last].append(stub)
    ends += [tuple(own) for own in of_trench.values()]
    closed: set[int] = set()
    for bore, beside in _beside(bores, rules, angle, (barred, blocked)):
        ends.append((nodes.add(bore.at),) if beside else ())
        fixed += [(ends[-1][0], nodes.add(point)) for point in beside]
        closed |= set(ends[-1])
    no_place |= closed
    water = lanes_between(plot, mats, ground, rules.half_width, angle) if mats else None
    inland = [point for _, point in water.ashore] if water is not None else []
    between = [p for side in stubs for p in _between(side)] + _amid(bores)
    # Where there is a way at all, there is one by the corners of what it goes round.
    bounds = [ground, polygons(free)] if far > FAR else ground
    corners = [tuple(p) for p in shapely.get_coordinates(bounds)]
    for point in (*between, *_round_ends(led_out, rules, blocked), *corners, *inland):
        if not shapely.intersects_xy(blocked, *point):
            nodes.add(point)
    points = np.array(nodes.points)
    whole = len(points)
    known = np.setdiff1d(np.arange(whole), list(no_place))
    pairs = [_seen(points, *_pairs(points, known), blocked, far)]
    if len(outs) > 1:
        outs, fixed = _with_one_out(points, pairs[0], fixed, plant, ends)
    ahead = AHEAD_OF_BORES if bores else MOST_AHEAD
    pairs += _right_angled(nodes, outs, known, angle, blocked, most=ahead, far=far)
    dry = len(nodes.points)
    if water is not None:
        number = np.array([nodes.add((float(x), float(y))) for x, y in water.points])
        pairs.append((number[water.seen[:, 0]], number[water.seen[:, 1]]))
        fixed += [(int(number[a]), int(number[b])) for a, b in water.rims]
        fixed += [(int(number[bank]), nodes.add(point)) for bank, point in water.ashore]
        ends += [tuple(int(number[n]) for n in own) for own in water.ends]
    wet = frozenset(range(dry, len(nodes.points)))
    sees = _matrix(len(nodes.points), pairs)
    return _Base(
        tuple(nodes.points),
        sees,
        _kept(np.array(nodes.points), sees),
        blocked,
        frozenset(closed),
        tuple(fixed),
        frozenset(no_place | wet),
        plant,
        tuple(ends),
        wet,
    )


def _left(
    plot: SitePlot,
    rules: HeaderRules,
    trenches: tuple[Trench, ...],
    bores: tuple[Bore, ...],
    at: Sequence[Point],
) -> tuple[shapely.Geometry, shapely.Geometry, shapely.Geometry]:
    """What trenches and boreholes take, the ground they leave, and what bars headers but for bores.

    With points to be joined to the ground, arcs are round where octagons would part it from them.
    """
    ground, ways = header_and_outs(plot, rules.border, rules.half_width)
    taken = shapely.union_all(list(_taken(plot, rules, trenches, ways)))
    stand = [grown(shapely.Point(bore.at), rules.around, COARSE) for bore in bores]
    both = shapely.union_all([taken, *stand]) if bores else taken
    free, without = ground.difference(both), ground.difference(taken)
    if at:
        fine = rounded_ground(plot, rules.border, rules.half_width, ROUND)
        around = rules.around - TOLD_NEARER
        prints = [footprint(trench, around, ROUND) for trench in trenches]
        fine = fine.difference(shapely.union_all(prints))
        without = joined(without, fine, at)
        stand = [grown(shapely.Point(bore.at), rules.around, ROUND) for bore in bores]
        free = joined(free, fine.difference(shapely.union_all(stand)), at)
    return both, free, _barred(plot, without)


def _barred(plot: SitePlot, free: shapely.Geometry) -> shapely.Geometry:
    """All of the plot, and around it, where no header trench may lie."""
    box = shapely.box(*plot.ground.bounds).buffer(10.0)
    barred = box.difference(polygons(free)).buffer(-ROUNDING, join_style="mitre")
    shapely.prepare(barred)
    return barred


def _beside(
    bores: tuple[Bore, ...],
    rules: HeaderRules,
    angle: float,
    barring: tuple[shapely.Geometry, shapely.Geometry],
) -> Iterator[tuple[Bore, list[Point]]]:
    """Every borehole and the points along and across from it that a header trench goes by.

    `barring`: what bars headers without boreholes, and with them.
    """
    barred, blocked = barring
    off = max(rules.straight_on, rules.around * CORNERS)
    c, s = off * math.cos(angle), off * math.sin(angle)
    tree = shapely.STRtree([shapely.Point(bore.at) for bore in bores])
    for number, bore in enumerate(bores):
        x, y = bore.at
        points = [(x + u, y + v) for u, v in ((c, s), (-s, c), (-c, -s), (s, -c))]
        ways = shapely.linestrings([[bore.at, point] for point in points])
        free = ~shapely.intersects(barred, ways)
        free &= ~shapely.intersects_xy(blocked, *np.array(points).T)
        way, met = tree.query(ways, predicate="dwithin", distance=rules.around - BY_A_HAIR)
        free[way[met != number]] = False
        yield bore, list(itertools.compress(points, free))


def _plant_room(
    nodes: _Nodes, plot: SitePlot, ways: tuple[Point, ...], taken: shapely.Geometry
) -> tuple[list[int], int, list[tuple[int, int]]]:
    """Nodes where pipes come out, that of the plant room, and the ways between them.

    No way leads through a trench that somebody drew before the wall.
    """
    clear = [at for at in ways if not taken.intersects(shapely.LineString([at, plot.plant]))]
    outs = [nodes.add(at) for at in clear or ways[:1]]
    plant = nodes.add(plot.plant)
    return outs, plant, [(plant, out) for out in outs if clear and out != plant]


def _with_one_out(
    points: Floats,
    seen: tuple[Ints, Ints],
    fixed: list[tuple[int, int]],
    plant: int,
    ends: list[tuple[int, ...]],
) -> tuple[list[int], list[tuple[int, int]]]:
    """That one way out of the plant room which is nearest to all loops, and the fixed ways left.

    By two, tails would be led through the plant room from one side to the other.
    """
    outs = [out for start, out in fixed if start == plant]
    stubs = [way for way in fixed if plant not in way]
    ways = np.concatenate([np.stack(seen, axis=1), np.array(stubs, dtype=np.int64).reshape(-1, 2)])
    lengths = np.hypot(*(points[ways[:, 1]] - points[ways[:, 0]]).T)
    graph = sp.sparse.csr_array((lengths, ways.T), shape=(len(points), len(points)))
    away = np.minimum(sp.sparse.csgraph.dijkstra(graph, directed=False, indices=outs), NOT_THERE)
    total = sum(away[:, list(loop)].min(axis=1) for loop in ends if loop)
    total += len(ends) * np.hypot(*(points[outs] - points[plant]).T)
    out = outs[int(np.argmin(np.round(total, SAME)))]
    return [out], [(plant, out), *stubs]


def _matrix(count: int, pairs: list[tuple[Ints, Ints]]) -> Bools:
    """Which of so many nodes see each other, shape (count, count)."""
    sees = np.zeros((count, count), dtype=bool)
    for first, second in pairs:
        sees[first, second] = sees[second, first] = True
    return sees


def _ends(trench: Trench) -> tuple[bool, ...]:
    """Ends that tails may leave from: whether it is the last."""
    return {"first": (False,), "last": (True,), "either": (False, True)}[trench.tails_from]


def _open_ended(
    plot: SitePlot,
    rules: HeaderRules,
    placed: tuple[tuple[Trench, ...], tuple[Bore, ...]],
    led_out: list[tuple[Trench, bool, Point]],
    blocked: shapely.Geometry,
) -> list[tuple[Trench, bool, Point]]:
    """Those ends of trenches at which a header trench may begin: nothing in the stub's way."""
    stubs = np.array([stub for _, _, stub in led_out]).reshape(-1, 2)
    feet = np.array([t.line[-1] if last else t.line[0] for t, last, _ in led_out]).reshape(-1, 2)
    ways = shapely.linestrings(np.stack([feet, stubs], axis=1))
    free = ~shapely.intersects_xy(blocked, *stubs.T)
    for each in plot.keep_outs:
        if "header" in each.blocks:
            free &= shapely.distance(ways, each.shape) >= each.reach + rules.half_width - 1e-3
    trenches, bores = placed
    prints = shapely.STRtree([*map(footprint, trenches), *(shapely.Point(b.at) for b in bores)])
    loops = [*(trench.loop for trench in trenches), *(bore.loop for bore in bores)]
    way, other = prints.query(ways, predicate="dwithin", distance=rules.around - 1e-3)
    for number, found in zip(way.tolist(), other.tolist(), strict=True):
        free[number] &= loops[found] == led_out[number][0].loop
    return list(itertools.compress(led_out, free))


def _round_ends(
    led_out: list[tuple[Trench, bool, Point]], rules: HeaderRules, blocked: shapely.Geometry
) -> list[Point]:
    """Points beside the ends of trenches whose stubs do not see those nearest to them.

    Where ends are staggered, a header trench goes round them.
    """
    if len(led_out) < 2:
        return []
    stubs = np.array([stub for _, _, stub in led_out])
    tree = sp.spatial.cKDTree(stubs)
    # All as near as the last of them: rounding does not choose among them.
    last_of = np.asarray(tree.query(stubs, k=min(NEIGHBOURS, len(stubs)))[0])[:, -1]
    near = tree.query_ball_point(stubs, last_of + BY_A_HAIR)
    first = np.repeat(np.arange(len(stubs)), list(map(len, near)))
    second = np.concatenate(near).astype(np.int64)
    ways = shapely.linestrings(np.stack([stubs[first], stubs[second]], axis=1))
    hidden = np.unique(first[shapely.intersects(blocked, ways)])
    found = []
    for number in hidden.tolist():
        trench, last, (x, y) = led_out[number]
        ex, ey = trench.line[-1] if last else trench.line[0]
        aside = (trench.half_top + rules.around) / rules.straight_on
        found += [(x - k * (y - ey) * aside, y + k * (x - ex) * aside) for k in (1.0, -1.0)]
    return found


def _between(stubs: list[Point]) -> list[Point]:
    """Points half-way between neighbours: the ends of stubs nearest to each other."""
    found = [((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0) for a, b in pairwise(stubs)]
    if len(stubs) > 2:
        at = np.array(stubs)
        apart = np.hypot(*(at[:, None] - at).transpose(2, 0, 1))
        near = np.argsort(np.round(apart, SAME), axis=1, kind="stable")[:, 1:4]
        found += [tuple((at[i] + at[j]) / 2.0) for i in range(len(at)) for j in near[i] if i < j]
    return found


def _amid(bores: tuple[Bore, ...]) -> list[Point]:
    """Points half-way between boreholes that are, but for rounding, the nearest to one another."""
    if len(bores) < 2:
        return []
    at = np.array([bore.at for bore in bores])
    apart = np.hypot(*(at[:, None] - at).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    near = apart <= NEXT * apart.min(axis=1)[:, None]
    first, second = np.nonzero(np.triu(near | near.T))
    return [(float(x), float(y)) for x, y in (at[first] + at[second]) / 2.0]


def _right_angled(
    nodes: _Nodes,
    at: Iterable[int],
    known: Ints,
    angle: float,
    blocked: shapely.Geometry,
    *,
    most: int,
    far: float,
) -> list[tuple[Ints, Ints]]:
    """Add where right-angled ways from some nodes meet those of the others; pairs that see so.

    A crossing is joined to the nodes straight ahead of it, along and across the trenches.
    """
    c, s = math.cos(angle), math.sin(angle)
    turn = np.array([[c, -s], [s, c]])  # of row vectors: into u and v
    whole = len(nodes.points)
    uv = np.array(nodes.points) @ turn
    for node in at:
        apart = np.hypot(*(uv[known] - uv[node]).T)
        ahead = known[np.sort(np.argsort(np.round(apart, SAME), kind="stable")[:most])]
        for u, v in (
            *((u, uv[node, 1]) for u in uv[ahead, 0]),
            *((uv[node, 0], v) for v in uv[ahead, 1]),
        ):
            point = (float(u * c - v * s), float(u * s + v * c))
            if point not in nodes and not shapely.intersects_xy(blocked, *point):
                nodes.add(point)
    points = np.array(nodes.points)
    uv = points @ turn
    new = np.arange(whole, len(uv))
    everything = np.union1d(known, new)
    pairs = []
    for axis in (0, 1):
        same = np.abs(uv[new, axis][:, None] - uv[everything, axis]) < 10.0**-SAME
        first, second = np.nonzero(same & (new[:, None] != everything))
        pairs.append(_seen(points, new[first], everything[second], blocked, far))
    return pairs


@lru_cache(maxsize=4)
def network(  # noqa: PLR0917 (each is another subject)
    plot: SitePlot,
    rules: HeaderRules,
    trenches: tuple[Trench, ...] = (),
    bores: tuple[Bore, ...] = (),
    mats: tuple[Mat, ...] = (),
    angle: float = 0.0,
    chambers: tuple[Point, ...] = (),
    *,
    by_corners: bool = False,
) -> Network:
    """All ways that header trenches may take.

    Parameters
    ----------
    plot, rules
        The ground, and how header trenches lie on it.
    trenches, bores, mats
        What tails lead to, in the order of the loops.
    angle
        Of the trenches, anticlockwise from east [rad].
    chambers
        Places of chambers that are given; each must be on free ground or the plant room itself.
    by_corners
        Whether ways of any length and by the corners of trenches' own ground are looked at, as they
        are where something is not led to otherwise.
    """
    ahead = AHEAD_OF_BORES if bores else MOST_AHEAD
    of = (plot, rules, trenches, bores, mats, angle)
    base = _base(*of)
    reach = tuple(point for point in chambers if not _may_stand(base, plot, point))
    net = None
    if not by_corners:
        base = _base(*of, reach=reach) if reach else base
        net = _with_chambers(base, angle, chambers, ahead, FAR)
    if net is None or not all_led(net):
        base = _base(*of, far=math.inf, reach=reach)
        net = _with_chambers(base, angle, chambers, ahead, math.inf)
    return net


def all_led(net: Network) -> bool:
    """Whether a way leads from the plant room to every chamber given and loop that has an end.

    Of a loop without an end on ground for headers nothing is said.
    """
    rows, columns = np.concatenate([net.joined, net.joined[:, ::-1]]).T
    led = ~net.closed[rows]
    graph = sp.sparse.csr_array(
        (np.ones(led.sum()), (rows[led], columns[led])), shape=(len(net.points),) * 2
    )
    found = sp.sparse.csgraph.breadth_first_order(graph, net.plant, return_predecessors=False)
    reached = np.zeros(len(net.points), dtype=bool)
    reached[found] = True
    return all(
        reached[list(own)].any() for own in (*net.ends, *((n,) for n in net.chambers)) if own
    )


def _with_chambers(
    base: _Base, angle: float, chambers: tuple[Point, ...], ahead: int, far: float
) -> Network:
    """The network with the chambers that are given."""
    nodes = _Nodes()
    for point in base.points:
        nodes.add(point)
    count = len(base.points)
    stands = [(_stands_on(base, point), point) for point in chambers]
    at = tuple(nodes.add(point) if node is None else node for node, point in stands)
    new = sorted({n for n in at if n >= count})
    sees = base.sees
    if new:
        known = np.setdiff1d(np.arange(len(nodes.points)), list(base.no_place))
        points = np.array(nodes.points)
        pairs = [_seen(points, np.full(len(known), n), known, base.blocked, far) for n in new]
        pairs += _right_angled(nodes, new, known, angle, base.blocked, most=ahead, far=far)
        sees = _matrix(len(nodes.points), pairs)
        sees[:count, :count] = base.sees
        np.fill_diagonal(sees, False)
    points = np.array(nodes.points)
    kept = _kept_with(points, sees, base.kept, count) if new else base.kept
    joined = np.concatenate([kept, np.array(base.fixed, dtype=np.int64).reshape(-1, 2)])
    joined = np.unique(np.sort(joined, axis=1), axis=0)
    along = points[joined[:, 1]] - points[joined[:, 0]]
    # What rounding of places leaves does not tell ways of one length apart.
    lengths = np.round(np.hypot(*along.T), SAME + 1)
    c, s = math.cos(angle), math.sin(angle)
    uv = np.abs(np.stack([along @ [c, s], along @ [-s, c]], axis=1))
    dry, closed = np.ones(len(points), dtype=bool), np.zeros(len(points), dtype=bool)
    dry[list(base.no_place)] = False
    closed[list(base.closed)] = True
    return Network(
        points,
        joined,
        lengths,
        uv.min(axis=1) > 0.02 * lengths,
        np.asarray(np.isin(joined, list(base.wet)).all(axis=1)),
        dry,
        closed,
        base.plant,
        base.ends,
        at,
    )


def _kept(points: Floats, sees: Bools) -> Ints:
    """Ways that pass no node which both their ends see, shape (e, 2)."""
    ways = np.argwhere(np.triu(sees, 1))
    return ways[~_passing(points, sees, ways, np.arange(len(points)))]


def _kept_with(points: Floats, sees: Bools, kept: Ints, count: int) -> Ints:
    """The same as `_kept`, where the ways kept between the first so many nodes are known."""
    every = np.arange(len(points))
    # A way dropped stays so; one kept may pass a new node.
    kept = kept[~_passing(points, sees, kept, every[count:])]
    ways = np.argwhere(np.triu(sees, 1)[:, count:]) + np.array([0, count])
    return np.concatenate([kept, ways[~_passing(points, sees, ways, every)]])


def _passing(points: Floats, sees: Bools, ways: Ints, nodes: Ints) -> Bools:
    """Whether ways pass near to one of some nodes which both their ends see.

    Of ways from one end, in the order of their directions, only those next to a node's direction
    are looked at: `_near` finds no other.
    """
    found = np.zeros(len(ways), dtype=bool)
    along_x, along_y = (points[ways[:, 1]] - points[ways[:, 0]]).T
    length = np.hypot(along_x, along_y)
    turns = 6.0 * math.pi  # more than directions from one end differ by, turned round or not
    toward = ways[:, 0] * turns + np.arctan2(along_y, along_x)
    order = np.argsort(toward, kind="stable")
    rising = toward[order]
    starts = np.flatnonzero(np.bincount(ways[:, 0], minlength=len(points)))
    first, node = np.nonzero(sees[np.ix_(starts, nodes)])
    first, node = starts[first], nodes[node]
    beside_x, beside_y = (points[node] - points[first]).T
    away = np.hypot(beside_x, beside_y)
    off = np.minimum(NEAR / away, NEAR_SHARE + ROUNDING / away)
    aside = np.arcsin(np.minimum(off, 1.0)) + TURNED
    middle = first * turns + np.arctan2(beside_y, beside_x)
    for turned in (0.0, 2.0 * math.pi, -2.0 * math.pi):
        start = np.searchsorted(rising, middle + turned - aside)
        number = np.searchsorted(rising, middle + turned + aside) - start
        for part in _parts(number):
            many = number[part]
            place = np.arange(many.sum()) + np.repeat(start[part] - np.cumsum(many) + many, many)
            way, by = order[place], np.repeat(np.arange(part.start, part.start + len(many)), many)
            farther = length[way] > away[by] - ROUNDING
            way, by = way[farther], by[farther]
            x, y, u, v = along_x[way], along_y[way], beside_x[by], beside_y[by]
            long = length[way]
            near = _near((x * u + y * v) / long**2, np.abs(x * v - y * u) / long, long)
            way, by = way[near], by[near]
            found[way[sees[ways[way, 1], node[by]]]] = True
    return found


def _parts(number: Ints) -> Iterator[slice]:
    """Items in their order, so many together that their numbers make up `AT_ONCE` or just over."""
    upto = np.cumsum(number)
    start = 0
    while start < len(number):
        done = int(upto[start - 1]) if start else 0
        stop = int(np.searchsorted(upto, done + AT_ONCE)) + 1
        yield slice(start, stop)
        start = stop


def _near(share: Floats, off: Floats, length: Floats) -> Bools:
    """Whether a way goes by a node at a share of its length, so far off it [m]."""
    least = np.minimum(NEAR, NEAR_SHARE * np.minimum(share, 1.0 - share) * length + ROUNDING)
    return np.asarray((share > 0.0) & (share < 1.0) & (off <= least))


def free_at(  # noqa: PLR0917 (each is another subject)
    plot: SitePlot,
    rules: HeaderRules,
    trenches: tuple[Trench, ...],
    bores: tuple[Bore, ...],
    mats: tuple[Mat, ...],
    angle: float,
    point: Point,
) -> bool:
    """Whether a chamber may stand at a point: on ground for headers, or at the plant room."""
    of = (plot, rules, trenches, bores, mats, angle)
    return _may_stand(_base(*of), plot, point) or _may_stand(
        _base(*of, reach=(point,)), plot, point
    )


def _may_stand(base: _Base, plot: SitePlot, point: Point) -> bool:
    """Whether a chamber may stand at a point as the ground is drawn."""
    return (
        math.dist(point, plot.plant) < 10.0**-SAME
        or _stands_on(base, point) is not None
        or (
            shapely.intersects_xy(plot.ground, *point)
            and not shapely.intersects_xy(base.blocked, *point)
        )
    )


def _stands_on(base: _Base, point: Point) -> int | None:
    """The node that a chamber told to a millimetre stands on; None if on none."""
    apart = np.hypot(*(np.array(base.points) - point).T)
    apart[list(base.no_place - {base.plant})] = math.inf
    nearest = int(np.argmin(apart))
    return nearest if apart[nearest] <= TOLD else None
