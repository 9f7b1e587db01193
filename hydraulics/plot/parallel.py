"""Where do equal straight trenches lie, so that many fit and little is dug to join them?

The ground is turned until the trenches run along u. Lines of equal v cut chords out of it; the
most trenches on lines that keep their centres follow from a dynamic programme over v. Two families:
on *spines*, in columns either side of straight headers; *staggered*, each pushed along its chord
towards one u, with a header that follows their ends.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final, Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from hydraulics.plot.asked import END_GAP, HeaderRules, ParallelTrenches, Prices
from hydraulics.plot.site import Point, SitePlot
from hydraulics.plot.usable import EXACT_FIT, sides

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Family = Literal["spine", "staggered"]

SCAN_STEP: Final = 0.25  # m between lines, besides those that corners give
SPINE_STEP: Final = 1.0  # m between spines tried, besides those that corners give
LEAST_SIDE: Final = 5.0  # m; shorter sides of boundary and keep-outs give no direction
FAN: Final = math.radians(30.0)
NO_SIDE: Final = 1.05  # a direction that no side has must be 5 % cheaper
SLACK: Final = 1e-6  # m, of comparisons
BESIDE: Final = EXACT_FIT / 2.0  # m either side of a corner: at it a chord may be the other's
MOST_LINES: Final = 1500  # that are added for one length: a bound on the search
MOST_SEARCHED: Final = 3000  # lines in one direction: corners of many keep-outs give more
MOST_TRIED: Final = 400_000  # lines times spines in one direction
MOST_CELLS: Final = 30_000  # lines times chords of one direction: of many chords, fewer lines
MOST_SIDES: Final = 24  # whose directions are tried
LEAST_SIDES: Final = 6  # the same, however many corners there are
MOST_CUT: Final = 4800  # sides whose directions are tried times corners
ARC_CORNERS: Final = 8  # that a round keep-out counts for
TURNED: Final = math.radians(1.0)  # that directions may differ by and be one
STEP_OF_LENGTH: Final = 0.01  # m, of the longest equal trench


class Frame(NamedTuple):
    """A turn of the plan: u along the trenches, v across them.

    Attributes
    ----------
    angle
        Of u, anticlockwise from east [rad].
    """

    angle: float

    def turned(self, xy: Floats) -> Floats:
        """Points in u and v."""
        c, s = math.cos(self.angle), math.sin(self.angle)
        return np.asarray(xy @ np.array([[c, -s], [s, c]]))

    def back(self, u: float, v: float) -> Point:
        """A point in x and y."""
        c, s = math.cos(self.angle), math.sin(self.angle)
        return (u * c - v * s, u * s + v * c)


class Direction(NamedTuple):
    """A direction to try: its angle [rad], and whether a side of plot or keep-out has it."""

    angle: float
    side: bool


def directions(plot: SitePlot, contour: float | None = None, fan: float = FAN) -> list[Direction]:
    """Directions to try: of every longer side, across it, along the contour, and a fan.

    Where sides have more directions than `sides_tried` lets, of those that most of their length
    has.

    Parameters
    ----------
    plot
        The plot.
    contour
        Angle of the contour lines [rad], where levels are known: a level trench vents.
    fan
        Between the directions that no side has [rad].
    """
    rings = [plot.boundary, plot.water, *(k.outline for k in plot.keep_outs if k.outline)]
    lines = [(*ring, ring[0]) for ring in rings if ring] + [k.line for k in plot.keep_outs]
    found: list[tuple[float, float]] = []
    for line in lines:
        for (ax, ay), (bx, by) in pairwise(line):
            if (length := math.hypot(bx - ax, by - ay)) > LEAST_SIDE:
                found.append((-length, math.atan2(by - ay, bx - ax)))
    # The longest first, which the fan turns from: a turned plot has its directions turned.
    found.sort(key=lambda each: each[0])
    angles = [angle for _, angle in found]
    if contour is not None:
        angles.insert(0, contour)
    first = angles[0] if angles else 0.0
    tried: list[Direction] = []

    def add(angle: float, side: bool) -> None:
        angle %= math.pi
        apart = [abs((angle - d.angle + math.pi / 2) % math.pi - math.pi / 2) for d in tried]
        if min(apart, default=1.0) > TURNED:
            tried.append(Direction(0.0 if angle > math.pi - 1e-9 else angle, side))

    most = sides_tried(plot)
    for angle in angles:
        add(angle, True)
        add(angle + math.pi / 2, True)
        if len(tried) > 2 * most:
            tried.clear()
            for each in ([] if contour is None else [contour]) + _weightiest(found, most):
                add(each, True)
                add(each + math.pi / 2, True)
            break
    for step in range(round(math.pi / fan)):
        add(first + step * fan, False)
    return tried


def sides_tried(plot: SitePlot) -> int:
    """Of how many sides the directions are tried at most: the more there are, the fewer.

    Every direction takes time and memory by the corners of the ground, with those of arcs.
    """
    arcs = sum(k.centre is not None for k in plot.keep_outs)
    corners = len(plot.boundary) + len(plot.water) + sum(k.corners for k in plot.keep_outs)
    return min(MOST_SIDES, max(LEAST_SIDES, MOST_CUT // (corners + ARC_CORNERS * arcs)))


def _weightiest(sides: list[tuple[float, float]], most: int) -> list[float]:
    """So many directions that most of the length of all sides has, along them or across.

    Of as much, those nearest to the longest side's.
    """
    length = -np.array([each[0] for each in sides])
    angle = np.array([each[1] for each in sides])
    quarter = math.pi / 2.0
    # As turned from the longest side: a turned plot has the same.
    turned = np.round((angle - angle[0]) % quarter, 6) % round(quarter, 6)
    found: list[float] = []
    while len(found) < most and len(length):
        apart = np.abs((turned[:, None] - turned + quarter / 2.0) % quarter - quarter / 2.0)
        with_it = np.round(np.where(apart <= TURNED, length, 0.0).sum(axis=1), 3)
        best = int(np.lexsort((turned, -with_it))[0])
        found.append(float(angle[best]))
        left = apart[best] > TURNED
        length, angle, turned = length[left], angle[left], turned[left]
    return found


class Ground(NamedTuple):
    """Ground in one direction's frame, as chords on lines.

    Attributes
    ----------
    frame
        The turn.
    v
        Lines, rising [m], shape (m,).
    chords
        From and to of every chord on them [m], shape (m, k, 2); from > to where there is none.
    header
        The same of the ground for headers.
    corners
        u of what spines may be lined up with [m].
    towards
        The way out of the plant room, then chambers that are given, in this frame, shape (c, 2).
    before
        For every line the number of lines at least `centres` below it, shape (m,).
    edges, header_edges
        Sides of the ground, and of that for headers, shape (n, 2, 2).
    centres
        Least distance between lines [m].
    across
        Whether it goes on beyond what divides the ground for headers. Only trenches on spines
        are then known to be reached: at one end, the other may lie beyond.
    """

    frame: Frame
    v: Floats
    chords: Floats
    header: Floats
    corners: Floats
    towards: Floats
    before: Ints
    edges: Floats
    header_edges: Floats
    centres: float
    across: bool = False

    @property
    def plant(self) -> Floats:
        """The way out of the plant room."""
        return np.asarray(self.towards[0])


def chords(edges: Floats, lines: Floats) -> Floats:
    """Where lines of equal v run inside an area, by even-odd crossing of its sides.

    Parameters
    ----------
    edges
        Sides of every ring in u and v, shape (n, 2, 2).
    lines
        v of the lines, rising, shape (m,).

    Returns
    -------
    ndarray
        From and to, shape (m, k, 2); +inf and -inf where a line has fewer than k chords.
    """
    (u0, v0), (u1, v1) = edges[:, 0].T, edges[:, 1].T
    first = np.searchsorted(lines, np.minimum(v0, v1))
    crossed = np.searchsorted(lines, np.maximum(v0, v1)) - first
    side = np.repeat(np.arange(len(edges)), crossed)
    line = np.arange(len(side)) + np.repeat(first - np.cumsum(crossed) + crossed, crossed)
    u = u0[side] + (lines[line] - v0[side]) * ((u1[side] - u0[side]) / (v1[side] - v0[side]))
    order = np.lexsort((u, line))
    line, u = line[order], u[order]
    start = np.searchsorted(line, np.arange(len(lines) + 1))
    most = int(np.diff(start).max(initial=0))
    at = np.full((len(lines), most + most % 2), np.inf)
    at[line, np.arange(len(line)) - start[line]] = u
    at[:, 1::2] = np.where(np.isinf(at[:, 1::2]), -np.inf, at[:, 1::2])
    return at.reshape(len(lines), -1, 2)


def _most_chords(edges: Floats, lines: Floats) -> int:
    """Most chords that one of the lines of equal v has."""
    low, high = np.sort(edges[..., 1], axis=1).T
    number = np.searchsorted(np.sort(low), lines) - np.searchsorted(np.sort(high), lines)
    return int(number.max(initial=0)) // 2


def ground_along(
    direction: Direction,
    array: shapely.Geometry,
    header: shapely.Geometry,
    towards: Sequence[Point],
    centres: float,
    *,
    gap: float = END_GAP,
    across: bool = False,
) -> Ground | None:
    """Cut the ground into chords; None where there is no ground.

    `gap`: between trenches in line. `across`: the ground for headers ends where that for the array
    goes on.
    """
    if array.is_empty or header.is_empty:
        return None
    frame = Frame(direction.angle)
    edges, header_edges = frame.turned(sides(array)), frame.turned(sides(header))
    outer = np.concatenate(
        [frame.turned(shapely.get_coordinates(p.exterior)) for p in shapely.get_parts(array)]
    )
    holes = [
        frame.turned(shapely.get_coordinates(ring))
        for part in shapely.get_parts(array)
        for ring in part.interiors
    ]
    outer = _bends(outer)
    marks = np.concatenate([outer, *(np.array([h.min(0), h.max(0)]) for h in holes)])
    if across:
        marks = np.concatenate([marks, header_edges[:, 0]])
    low, high = float(outer[:, 1].min()), float(outer[:, 1].max())
    steps = np.arange(-math.ceil((high - low) / centres), math.ceil((high - low) / centres) + 1)
    middle = (low + high) / 2.0
    half = math.floor((high - low) / 2.0 / SCAN_STEP)
    beside = np.array([-BESIDE, BESIDE])
    aligned = (marks[:, 1:2, None] + beside + steps[:, None] * centres).ravel()
    aligned = aligned[(aligned >= low) & (aligned <= high)]
    scanned = np.asarray(middle + SCAN_STEP * np.arange(-half, half + 1), dtype=np.float64)
    lines = _apart(np.concatenate([_thinned(aligned, MOST_SEARCHED), scanned]))
    most = max(_most_chords(edges, scanned), _most_chords(header_edges, scanned))
    if len(lines) * most > MOST_CELLS:
        lines = _thinned(lines, MOST_CELLS // most)
    headers = chords(header_edges, lines)
    return Ground(
        frame,
        lines,
        _led_to(chords(edges, lines), headers, gap),
        headers,
        _apart(marks[:, 0]),
        frame.turned(np.array(towards)),
        _before(lines, centres),
        edges,
        header_edges,
        centres,
        across,
    )


def _led_to(found: Floats, headers: Floats, gap: float) -> Floats:
    """Chords of lines but those that no header can lie on, nor a gap from their ends.

    Beside what bars headers only, trenches along it could not be led to.
    """
    start, stop = found[..., None, 0] - gap, found[..., None, 1] + gap
    met = (headers[:, None, :, 0] <= stop) & (headers[:, None, :, 1] >= start)
    led = np.asarray(met.any(axis=2))
    return np.where(led[..., None], found, np.array([np.inf, -np.inf]))


def _before(lines: Floats, centres: float) -> Ints:
    """For every line the number of lines at least `centres` below it."""
    return np.searchsorted(lines, lines - centres + SLACK, side="right")


def exact_lines(ground: Ground, length: float, gap: float) -> Ground:
    """The ground with those lines added on which one trench more, or one fewer, just fits.

    The most trenches on any lines lie on these, on those through corners and on those a whole
    number of centres from them: each line can be pushed back until its room would no longer do or
    the line before it is at its centres.
    """
    corners = np.unique(ground.edges[..., 1])
    low, high = corners[:-1] + BESIDE, corners[1:] - BESIDE
    between = high > low
    low, high = low[between], high[between]
    ends = [chords(ground.edges, v) for v in (low, high)]
    # Between two corners the same sides bound every chord.
    if ends[0].shape != ends[1].shape or not ends[0].size:
        return ground
    with np.errstate(invalid="ignore"):
        first, last = ((each[..., 1] - each[..., 0] + gap) / (length + gap) for each in ends)
    slab, chord = np.nonzero(np.isfinite(first) & np.isfinite(last))
    one, two = first[slab, chord], last[slab, chord]
    least = np.ceil(np.minimum(one, two)).astype(np.int64)
    number = np.floor(np.maximum(one, two)).astype(np.int64) - least + 1
    number[(np.abs(two - one) <= SLACK) | (number < 0)] = 0
    if not number.any():
        return ground
    # Every whole number between the two, one after the other.
    each = np.repeat(np.arange(len(slab)), number)
    whole = least[each] + np.arange(len(each)) - (np.cumsum(number) - number)[each]
    share = (whole - one[each]) / (two - one)[each]
    at = low[slab[each]] + share * (high - low)[slab[each]]
    steps = np.arange(math.ceil((ground.v[-1] - ground.v[0]) / ground.centres) + 1)
    at = _thinned(at, MOST_LINES // (2 * len(steps)))
    more = (
        at[:, None, None] + np.array([-BESIDE, BESIDE]) + steps[:, None] * ground.centres
    ).ravel()
    more = more[(more >= ground.v[0]) & (more <= ground.v[-1])]
    lines = _apart(np.concatenate([ground.v, more]))
    headers = chords(ground.header_edges, lines)
    return ground._replace(
        v=lines,
        chords=_led_to(chords(ground.edges, lines), headers, gap),
        header=headers,
        before=_before(lines, ground.centres),
    )


def _thinned(values: Floats, most: int) -> Floats:
    """So many of the values at most, evenly from all of them."""
    return values[:: math.ceil(len(values) / max(1, most))] if len(values) else values


def _bends(points: Floats) -> Floats:
    """Corners of a ring but those of arcs, which turn little."""
    ahead, behind = np.roll(points, -1, axis=0) - points, points - np.roll(points, 1, axis=0)
    cross = behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0]
    turn = np.abs(np.arctan2(cross, np.sum(behind * ahead, axis=1)))
    kept = points[turn > math.radians(15.0)]
    return kept if len(kept) >= 3 else points


def _apart(values: Floats, least: float = SLACK) -> Floats:
    """Values in order without those that are next to equal."""
    values = np.sort(values)
    return np.asarray(values[np.concatenate([[True], np.diff(values) > least])])


def _most(weights: Ints, before: Ints) -> Ints:
    """Most that the first 0, 1, 2, ... lines carry, those chosen kept apart; shape (m + 1, ...).

    Lines are taken in blocks within which none is far enough from another to be chosen with it.
    """
    lines = len(weights)
    best = np.zeros((lines + 1, *weights.shape[1:]), dtype=np.int64)
    start = 0
    while start < lines:
        stop = int(np.searchsorted(before, start, side="right"))
        with_it = weights[start:stop] + best[before[start:stop]]
        with_it[0] = np.maximum(with_it[0], best[start])
        best[start + 1 : stop + 1] = np.maximum.accumulate(with_it, axis=0)
        start = stop
    return best


def _chosen(best: Ints, before: Ints) -> list[int]:
    """Lines of a best choice, rising; `best` of one choice, shape (m + 1,)."""
    found, upto = [], len(best) - 1
    while upto > 0:
        if best[upto] == best[upto - 1]:
            upto -= 1
        else:
            found.append(upto - 1)
            upto = int(before[upto - 1])
    return found[::-1]


class Placed(NamedTuple):
    """A trench in its frame: from and to [m], its line [m], and the header that it stands on."""

    u0: float
    u1: float
    v: float
    spine: int


@dataclass(frozen=True, slots=True)
class Layout:
    """Equal parallel trenches with what they are likely to cost.

    Attributes
    ----------
    estimate
        Price of header trenches and pipe before anything is routed.
    direction
        Of the trenches.
    family
        On spines or staggered.
    placed
        In the order of the loops: by spine, then across.
    """

    estimate: float
    direction: Direction
    family: Family
    placed: tuple[Placed, ...]

    @property
    def lines(self) -> list[tuple[Point, Point]]:
        """Centre lines in x and y."""
        frame = Frame(self.direction.angle)
        return [(frame.back(p.u0, p.v), frame.back(p.u1, p.v)) for p in self.placed]


class Columns(NamedTuple):
    """What stands on spines tried at several u.

    Attributes
    ----------
    at
        u of the spines, those nearest to the plant first [m], shape (p, s).
    stands
        Whether a trench stands left and right of a spine on a line, shape (m, p, s, 2).
    """

    at: Floats
    stands: NDArray[np.bool_]

    @property
    def carried(self) -> Ints:
        """Trenches that stand on a spine on a line, shape (m, p, s)."""
        left, right = self.stands[..., 0], self.stands[..., 1]
        return left.astype(np.int64) + right


@dataclass(frozen=True, slots=True)
class Asked:
    """So many trenches of one length, and by what they are judged."""

    count: int
    length: float
    lay: ParallelTrenches
    rules: HeaderRules
    prices: Prices


def packed(ground: Ground, asked: Asked) -> Ints:
    """Trenches that every line has room for, shape (m,).

    A chord that has room for one alone has none where no header can begin at either end of it.
    """
    length, gap = asked.length, asked.lay.end_gap
    count = np.zeros(len(ground.v), dtype=np.int64)
    free = np.full(len(ground.v), -np.inf)
    for start, stop in ground.chords.transpose(1, 2, 0):
        # The gap is kept across what parts two chords, too.
        begin = np.maximum(start, free)
        with np.errstate(invalid="ignore"):
            room = np.floor((stop - begin + gap + SLACK) / (length + gap))
        own = np.where(np.isfinite(room), np.maximum(room, 0.0), 0.0)
        alone = np.flatnonzero(own == 1.0)
        first, last = _begins(ground.header[alone], begin[alone], stop[alone], asked)
        own[alone] = (first <= last + SLACK).any(axis=1)
        count += own.astype(np.int64)
        free = np.where(own > 0.0, stop + gap, free)
    return count


def _begins(header: Floats, start: Floats, stop: Floats, asked: Asked) -> tuple[Floats, Floats]:
    """Where a trench may begin on chords so that the stub of an end is on ground for headers.

    Parameters
    ----------
    header
        Chords of that ground on the same lines, shape (m, k, 2).
    start, stop
        Of a chord on every line, shape (m,).

    Returns
    -------
    tuple of ndarray
        From and to, each of shape (m, 2 k); from > to where it may not.
    """
    length, stub = asked.length, asked.rules.straight_on
    # What fits exactly is not lost: the ground for trenches is grown by as much.
    wide = header + np.array([-EXACT_FIT, EXACT_FIT])
    ways = np.concatenate([wide + stub, wide - (length + stub)], axis=1)
    last = np.minimum(ways[..., 1], stop[:, None] - length)
    return np.maximum(ways[..., 0], start[:, None]), last


def columns(ground: Ground, asked: Asked) -> Columns:
    """What stands on spines, for every u that may be worth trying."""
    stub, length = asked.rules.straight_on, asked.length
    period = 2.0 * (length + stub) + asked.lay.end_gap
    marks, low, high = ground.corners, float(ground.corners[0]), float(ground.corners[-1])
    tried = np.concatenate(
        [
            marks + stub + length,
            marks - stub - length,
            marks - stub,
            marks + stub,
            ground.towards[:, 0],
            (low + high) / 2.0 + np.arange(0.0, period, max(SPINE_STEP, period / 60.0)),
        ]
    )
    first = _apart(low - stub - SLACK + (tried - low + stub + SLACK) % period)
    spines = math.floor((high - low + 2.0 * stub) / period) + 1
    first = _thinned(first, MOST_TRIED // (len(ground.v) * spines))
    at = first[:, None] + period * np.arange(spines)
    rank = np.argsort(np.abs(at - ground.plant[0]), axis=1, kind="stable")
    at = np.take_along_axis(at, rank, axis=1)
    stands = np.zeros((len(ground.v), *at.shape, 2), dtype=bool)
    opens = np.zeros((len(ground.v), *at.shape), dtype=bool)
    for lines, start, stop in _chords_of(ground.chords):
        own = stands[lines]
        own[..., 0] |= (at >= start + (stub + length - SLACK)) & (at <= stop + (stub + SLACK))
        own[..., 1] |= (at >= start - (stub + SLACK)) & (at <= stop - (stub + length - SLACK))
        stands[lines] = own
    for lines, start, stop in _chords_of(ground.header):
        opens[lines] |= (at >= start - SLACK) & (at <= stop + SLACK)
    stands &= opens[..., None]
    if ground.across:
        # A trench begins where headers may lie, too: what bars them does not lie in its stub.
        begins = np.zeros_like(stands)
        for lines, start, stop in _chords_of(ground.header):
            begins[lines, ..., 0] |= (at - stub >= start - SLACK) & (at <= stop + SLACK)
            begins[lines, ..., 1] |= (at >= start - SLACK) & (at + stub <= stop + SLACK)
        stands &= begins
    return Columns(at, stands)


def _chords_of(chords: Floats) -> Iterator[tuple[Ints, Floats, Floats]]:
    """The first chord of every line, the second, ...: lines that have one, its from and to."""
    for k in range(chords.shape[1]):
        lines = np.flatnonzero(chords[:, k, 0] <= chords[:, k, 1])
        start, stop = chords[lines, k].T[:, :, None, None]
        yield lines, start, stop


def most_on_spines(ground: Ground, asked: Asked) -> int:
    """Most trenches on spines in this direction."""
    if not packed(ground, asked).any():
        return 0
    carried = columns(ground, asked).carried
    return int(_most(carried.sum(axis=2), ground.before)[-1].max(initial=0))


def most_packed(ground: Ground, asked: Asked) -> int:
    """Most trenches in this direction, wherever on their lines.

    Of the lines that the ground has; `exact_lines` adds those that the most may need.
    """
    if ground.across:
        return most_on_spines(ground, asked)
    return int(_most(packed(ground, asked), ground.before)[-1])


def _estimate(  # noqa: PLR0917 (internal)
    asked: Asked, plant: Floats, v0: Floats, v1: Floats, u0: Floats, u1: Floats, used: int
) -> Floats:
    """Price of headers from v0 to v1, at u0 to u1: chamber by the plant or in the middle."""
    prices = asked.prices
    beside = np.clip(plant[1], v0, v1)
    reach = np.abs(plant[1] - beside) + np.abs(plant[0] - np.clip(plant[0], u0, u1))
    dig = prices.dig * (used * (v1 - v0) + reach + u1 - u0)
    length = np.maximum(v1 - v0, 1e-9)

    def pipe(chamber: Floats) -> Floats:
        tails = asked.count * ((chamber - v0) ** 2 + (v1 - chamber) ** 2) / (2.0 * length)
        run = reach + np.abs(chamber - beside)
        return np.asarray(prices.loop_pipe * tails + prices.run_pipe * run)

    return np.asarray(dig + np.minimum(pipe(beside), pipe((v0 + v1) / 2.0)))


def spine_layouts(direction: Direction, ground: Ground, asked: Asked) -> tuple[int, list[Layout]]:
    """Most trenches on spines in this direction, and layouts of as many as are asked for.

    Returns
    -------
    tuple
        The most that fit, and layouts with what they are likely to cost.
    """
    if not packed(ground, asked).any():
        return 0, []
    found = columns(ground, asked)
    carried = np.cumsum(found.carried, axis=2)
    best = _most(carried, ground.before)
    most = int(best[-1].max())
    if most < asked.count:
        return most, []
    enough = best[-1] >= asked.count
    first = int(np.argmax(enough.any(axis=0))) + 1
    layouts = []
    for used in range(first, min(first + 2, found.at.shape[1] + 1)):
        tried = np.flatnonzero(enough[:, used - 1])
        near = int(tried[np.argmin(np.abs(found.at[tried, 0] - ground.plant[0]))])
        choices = [(near, _chosen(best[:, near, used - 1], ground.before))]
        choices += _windows(ground, asked, found.at, carried[..., used - 1], tried, used)
        for spine, rows in choices:
            layouts.append(_on_spines(direction, ground, asked, found, spine, used, rows))
    return most, layouts


def _windows(  # noqa: PLR0917 (internal)
    ground: Ground, asked: Asked, at: Floats, carried: Ints, tried: Ints, used: int
) -> list[tuple[int, list[int]]]:
    """Rows one after the other, from every line on at every spine; the likely cheapest few."""
    carried = carried[:, tried]
    lines, spines = carried.shape
    number, beside = np.arange(lines)[:, None], np.arange(spines)
    after = np.searchsorted(ground.v, ground.v + asked.lay.kept_centres - SLACK)
    u0, u1 = at[tried, :used].min(axis=1), at[tried, :used].max(axis=1)
    v = np.append(ground.v, np.inf)
    found: list[tuple[float, int, list[int]]] = []
    for least in sorted({1, int(carried.max())}):
        following = np.full((lines + 1, spines), lines)
        following[:-1] = np.where(carried >= least, number, lines)
        following = np.minimum.accumulate(following[::-1], axis=0)[::-1]
        weight = np.concatenate([carried, np.zeros((1, spines), dtype=np.int64)])
        step = np.append(after, lines)
        row = np.where(carried >= least, number, lines)
        total = weight[row, beside]
        last = row
        while ((short := total < asked.count) & (row < lines)).any():
            row = np.where(short, following[step[row], beside], row)
            total += np.where(short, weight[row, beside], 0)
            last = row
        reached = (total >= asked.count) & (last < lines)
        if not reached.any():
            continue
        with np.errstate(invalid="ignore"):
            price = _estimate(
                asked, ground.plant, v[:-1, None], np.where(reached, v[last], np.inf), u0, u1, used
            )
        price = np.where(reached, price, np.inf)
        # The cheapest start at each spine, then the cheapest spines.
        starts = np.argmin(price, axis=0)
        for spine in np.argsort(price[starts, beside], kind="stable")[:3]:
            if np.isfinite(price[starts[spine], spine]):
                rows, at_row = [], int(starts[spine])
                count = 0
                while count < asked.count:
                    rows.append(at_row)
                    count += int(weight[at_row, spine])
                    at_row = int(following[step[at_row], spine])
                found.append((float(price[starts[spine], spine]), int(tried[spine]), rows))
    found.sort(key=lambda each: each[0])
    return [(spine, rows) for _, spine, rows in found[:4]]


def _on_spines(  # noqa: PLR0917 (internal)
    direction: Direction,
    ground: Ground,
    asked: Asked,
    found: Columns,
    spine: int,
    used: int,
    rows: list[int],
) -> Layout:
    """The trenches of some rows, those furthest from the plant at either end left out."""
    stub, length = asked.rules.straight_on, asked.length
    order = np.argsort(found.at[spine, :used], kind="stable")
    all_of_them = [
        Placed(u - stub - length, u - stub, v, number)
        if side == 0
        else Placed(u + stub, u + stub + length, v, number)
        for number, k in enumerate(order)
        for u in (float(found.at[spine, k]),)
        for row in rows
        for v in (float(ground.v[row]),)
        for side in (0, 1)
        if found.stands[row, spine, k, side]
    ]
    kept = so_many(all_of_them, asked.count, ground.plant)
    return _priced(direction, "spine", kept, ground.plant, asked, found.at[spine, order])


def so_many(placed: list[Placed], count: int, plant: Floats) -> list[Placed]:
    """So many of the trenches: from the ends of the spines those furthest from the plant go."""
    kept = sorted(placed, key=lambda p: (p.spine, p.v, p.u0))

    def away(each: Placed) -> float:
        u = float(min(abs(each.u0 - plant[0]), abs(each.u1 - plant[0])))
        return u + abs(each.v - float(plant[1]))

    while len(kept) > count:
        ends: list[Placed] = []
        for spine in {p.spine for p in kept}:
            own = [p for p in kept if p.spine == spine]
            ends += [p for p in own if p.v in (own[0].v, own[-1].v)]
        kept.remove(max(ends, key=away))
    return kept


def _priced(  # noqa: PLR0917 (internal)
    direction: Direction,
    family: Family,
    placed: list[Placed],
    plant: Floats,
    asked: Asked,
    at: Floats | None = None,
) -> Layout:
    """A layout with its estimate, from the spans of its spines, which are at some u if straight."""
    price = 0.0
    spines = sorted({p.spine for p in placed})
    heads = []
    for spine in spines:
        own = [p for p in placed if p.spine == spine]
        v = [p.v for p in own]
        if at is None:
            # The header of a staggered row follows the ends nearest to one another.
            u = np.array([min((p.u0, p.u1), key=lambda end: abs(end - own[0].u1)) for p in own])
        else:
            u = at[spine : spine + 1]
        heads.append((float(np.mean(u)), min(v), max(v), len(own)))
        price += asked.prices.dig * float(np.abs(np.diff(u)).sum())
    nearest = min(range(len(heads)), key=lambda n: abs(heads[n][0] - float(plant[0])))
    # Every spine has its tails and its run; the way to the nearest leads to them all.
    for number, (*place, count) in enumerate(heads):
        dig = asked.prices.dig if number == nearest else 0.0
        share = replace(asked, count=count, prices=replace(asked.prices, dig=dig))
        at_u, low, high = np.array(place)[:, None]
        price += float(_estimate(share, plant, low, high, at_u, at_u, 1)[0])
        price += (asked.prices.dig - dig) * float(high[0] - low[0])
    price += asked.prices.dig * float(np.ptp([head[0] for head in heads]))
    if not direction.side:
        price *= NO_SIDE
    return Layout(price, direction, family, tuple(placed))


def staggered_layouts(
    direction: Direction, ground: Ground, asked: Asked
) -> tuple[int, list[Layout]]:
    """Most trenches packed in this direction, and layouts that are pushed towards one u.

    Returns
    -------
    tuple
        The most that fit, and layouts with what they are likely to cost.
    """
    if ground.across:
        return 0, []
    ground = exact_lines(ground, asked.length, asked.lay.end_gap)
    weight = packed(ground, asked)
    best = _most(weight, ground.before)
    most = int(best[-1])
    if most < asked.count:
        return most, []
    rows = _chosen(best, ground.before)
    low, high = float(ground.corners[0]), float(ground.corners[-1])
    towards = (float(ground.plant[0]), (low + high) / 2.0, low, high)
    return most, [
        _priced(
            direction,
            "staggered",
            so_many(
                [
                    p
                    for row in _window(rows, weight, ground, asked)
                    for p in _pushed(ground, row, towards_u, asked)
                ],
                asked.count,
                ground.plant,
            ),
            ground.plant,
            asked,
        )
        for towards_u in towards
    ]


def _window(rows: list[int], weight: Ints, ground: Ground, asked: Asked) -> list[int]:
    """Rows running that carry enough, together nearest to the plant."""
    best: tuple[float, list[int]] = (math.inf, rows)
    for start in range(len(rows)):
        carried = np.cumsum(weight[rows[start:]])
        if carried[-1] < asked.count:
            break
        own = rows[start : start + int(np.searchsorted(carried, asked.count)) + 1]
        v0, v1 = float(ground.v[own[0]]), float(ground.v[own[-1]])
        price = v1 - v0 + abs(float(ground.plant[1]) - min(max(float(ground.plant[1]), v0), v1))
        if price < best[0] - SLACK:
            best = (price, own)
    return best[1]


def _pushed(ground: Ground, row: int, towards: float, asked: Asked) -> Iterator[Placed]:
    """The trenches of one line, each as near to `towards` as its chord lets it."""
    length, gap, stub = asked.length, asked.lay.end_gap, asked.rules.straight_on
    v = float(ground.v[row])
    free = -math.inf
    for begin, stop in ground.chords[row].tolist():
        start = max(begin, free)
        room = math.floor((stop - start + gap + SLACK) / (length + gap)) if stop > start else 0
        if room < 1:
            continue
        begins, last = _begins(
            ground.header[row : row + 1], np.array([start]), np.array([stop]), asked
        )
        led = begins <= last + SLACK
        if room == 1 and not led.any():
            continue
        free = stop + gap
        right = max(start, min(towards + stub, stop - length))
        left = min(stop, max(towards - stub, start + length))
        on_right = max(0, math.floor((stop - right + gap + SLACK) / (length + gap)))
        on_left = max(0, math.floor((left - start + gap + SLACK) / (length + gap)))
        if right - left < gap - SLACK or on_right + on_left < room:
            # All in a row, pushed as one.
            whole = room * length + (room - 1) * gap
            first = right if right + whole <= stop + SLACK else max(start, stop - whole)
            if room == 1 and abs(left - towards) < abs(right - towards):
                first = left - length
            if room == 1:
                at = np.minimum(np.maximum(first, begins[led]), last[led])
                first = float(at[np.argmin(np.abs(at - first))])
            for k in range(room):
                yield Placed(first + k * (length + gap), first + k * (length + gap) + length, v, 0)
            continue
        for k in range(on_right):
            yield Placed(right + k * (length + gap), right + k * (length + gap) + length, v, 0)
        for k in range(on_left):
            yield Placed(left - k * (length + gap) - length, left - k * (length + gap), v, 0)


def longest_equal(
    grounds: list[tuple[Direction, Ground]], asked: Asked, family: Family
) -> tuple[float, Direction | None]:
    """Longest equal trench of which so many fit, to a centimetre downwards, and its direction.

    Parameters
    ----------
    grounds
        Directions tried.
    asked
        The number asked for; its length is not read.
    family
        That which will be drawn.
    """
    best, along = 0, None

    def fits(ground: Ground, steps: int) -> bool:
        of_length = Asked(asked.count, steps * STEP_OF_LENGTH, asked.lay, asked.rules, asked.prices)
        if family == "staggered":
            ground = exact_lines(ground, of_length.length, asked.lay.end_gap)
        if most_packed(ground, of_length) < asked.count:
            return False
        return family == "staggered" or most_on_spines(ground, of_length) >= asked.count

    for direction, ground in grounds:
        if not fits(ground, best + 1):
            continue
        good, bad = best + 1, int(float(np.ptp(ground.corners)) / STEP_OF_LENGTH) + 2
        while bad - good > 1:
            middle = (good + bad) // 2
            good, bad = (middle, bad) if fits(ground, middle) else (good, middle)
        best, along = good, direction
    return best * STEP_OF_LENGTH, along
