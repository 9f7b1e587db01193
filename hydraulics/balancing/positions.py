"""Which positions of a valve's table bring every loop nearest to its flow, all of them together?

Each position rounded by itself may leave all loops off the same way. Here the combinations are
searched as one: a tree, one loop a level, whose branches are cut where no flow can fit.

**What cuts.** Where every loop is within its tolerance, its flow, its own drop and what its headers
take lie between two known numbers. So each position can be right only where the pressure over the
array lies within a band, and a combination only where the bands of all loops share a pressure and
their flows can add up to the array's. Where no combination is left, none reaches: that is proved,
not searched for in vain. Those that are left are solved, the least pressure first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.errors import InputError, NoSolutionError
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.drops import branch_flows, drops_at, header_drops, loop_drops
from hydraulics.split.reached import Reached

Array = NDArray[np.float64]
Rows = NDArray[np.intp]
Solve = Callable[[Array], Reached]
"""Solves the array with valves of these losses, one a loop [1/m⁴]."""

MOST_SOLVED: Final = 400  # combinations, in all
MOST_NODES: Final = 8_000  # of the tree, in all; fewer where each looks at many positions
_A_NODE: Final = 1_000  # positions of all loops that one node looks at
MOST_WINDOWS: Final = 120  # of pressure, that are looked into one by one
_A_WINDOW: Final = (1, 6, MOST_SOLVED)  # combinations solved in each, in three rounds
_ROUNDING: Final = 1e-9
MOST_PLACES: Final = (
    400_000  # positions of all loops: of more no combination comes within MOST_NODES
)
_NEARER: Final = 1e-3  # of a flow: what is sought no nearer, where none reaches


@dataclass(frozen=True, slots=True)
class Positions:
    """What was found.

    Attributes
    ----------
    rows
        Row of the table for each loop.
    reached
        The array with them, solved.
    proved
        True where they reach, or where no combination does.
    """

    rows: Rows
    reached: Reached
    proved: bool


class _Left:
    """How much may still be searched, and what was solved."""

    def __init__(self) -> None:
        self.solved: dict[tuple[int, ...], Reached | None] = {}
        self.nodes = MOST_NODES

    @property
    def some(self) -> bool:
        return self.nodes > 0 and len(self.solved) < MOST_SOLVED


@dataclass(frozen=True, slots=True)
class _Bands:
    """Between which pressures each position [loop, row] can be right, at one tolerance.

    ``least`` and ``most`` are what loop and valve take at the least and the most flow allowed,
    ``header_least`` and ``header_most`` what lies before them, ``low`` and ``high`` both [Pa].
    """

    tolerance: float
    share: Array
    group: list[int]
    least: Array
    most: Array
    header_least: Array
    header_most: Array
    low: Array
    high: Array

    def flow_bounds(self, low: float, high: float) -> tuple[Array, Array]:
        """Least and most deviation of each flow where the pressure lies between two.

        Between its ends the flow is at least the chord, and at most its square's half-width above
        it where the drop grows with flow to the power 3 or less: 1 to 2 but in transition.
        """
        width = np.maximum(self.most - self.least, 1e-12)
        chord = 2.0 * self.tolerance / width
        off = self.tolerance
        least = chord * (low - self.header_most[:, None] - self.least) - off
        most = chord * (high - self.header_least[:, None] - self.least) - off + off**2
        return np.clip(least, -off, off), np.clip(most, -off, off)


def best_positions(
    network: Network,
    target: Array,
    squares: Array,
    nearest: Rows,
    *,
    tolerance: float,
    most_head: float,
    solve: Solve,
) -> Positions:
    """Positions that bring every loop within its tolerance, or else as near as was found.

    Parameters
    ----------
    network
        The assembled array, without the valves.
    target
        Mass flow that each loop should have [kg/s], each more than 0.
    squares
        Loss of the valve in each position, falling towards open [1/m⁴].
    nearest
        Row of each loop to begin with.
    tolerance
        Allowed deviation from the target, as a fraction.
    most_head
        Duty [Pa] beyond which a combination is taken only where it reaches and none below does.
    solve
        Solves the array with valves of these losses.

    Returns
    -------
    Positions
        At most :data:`MOST_SOLVED` combinations are solved, and none beside the nearest where the
        positions of all loops are more than :data:`MOST_PLACES`.
    """
    left = _Left()
    start = _solved(left, solve, squares, nearest)
    assert start is not None, "the nearest positions are solved before they are bettered"
    best, rows = start, nearest
    if best.within_tolerance:
        return Positions(rows, best, True)
    if target.size * squares.size > MOST_PLACES:
        return Positions(rows, best, False)
    plain = drops_at(network, branch_flows(network, target), float(target.sum()))
    path = loop_drops(network, plain) + header_drops(network, plain)[network.loop_rows]
    beside = best.duty.pressure - best.solution.array_drop
    cap = max(most_head - beside, 0.0)
    seek = _Search(network, target, squares, solve, left, float(path.max()))
    found, proved = seek.within(tolerance, cap)
    if found is None and cap < math.inf:
        found, also = seek.within(tolerance, math.inf)
        proved = proved and also
    if found is not None:
        return Positions(*found, True)
    low = tolerance
    rows, best = _nearest(left, cap, rows, best)
    while _largest(best) - low > _NEARER and left.some:
        middle = 0.5 * (low + _largest(best))
        found, none_there = seek.within(middle, cap)
        rows, best = _nearest(left, cap, rows, best)
        if found is None:
            if not none_there:
                break
            low = middle
    return Positions(rows, best, proved)


def _solved(left: _Left, solve: Solve, squares: Array, rows: Rows) -> Reached | None:
    """The array with those positions; None where it cannot be solved."""
    key = tuple(rows.tolist())
    if key not in left.solved:
        try:
            left.solved[key] = solve(squares[rows])
        except (InputError, NoSolutionError):  # beyond the law, or the pump's curve
            left.solved[key] = None
    return left.solved[key]


def _nearest(left: _Left, cap: float, rows: Rows, best: Reached) -> tuple[Rows, Reached]:
    """The nearest of all that was solved on the way and takes no more than a cap."""
    for key, each in left.solved.items():
        if each is not None and each.solution.array_drop <= cap and _largest(each) < _largest(best):
            rows, best = np.asarray(key, dtype=np.intp), each
    return rows, best


def _largest(found: Reached) -> float:
    return float(np.abs(found.deviation).max())


@dataclass(frozen=True, slots=True)
class _Search:
    network: Network
    target: Array
    squares: Array
    solve: Solve
    left: _Left
    path: float

    def within(self, tolerance: float, cap: float) -> tuple[tuple[Rows, Reached] | None, bool]:
        """A combination within a tolerance whose drop is no more than a cap; whether none is."""
        bands = self._bands(tolerance)
        windows = _windows(bands, cap, 1.0 + 0.5 * tolerance)
        few = windows[:MOST_WINDOWS]
        for each in _A_WINDOW:
            done = True
            for low, high in few:
                for tried, rows in enumerate(_combinations(bands, low, high, self.left), 1):
                    found = _solved(self.left, self.solve, self.squares, rows)
                    if (
                        found is not None
                        and _largest(found) <= tolerance * (1.0 + _ROUNDING)
                        and found.solution.array_drop <= cap
                    ):
                        return (rows, found), False
                    if tried >= each or not self.left.some:
                        done = False
                        break
                if not self.left.some:
                    return None, False
            if done:
                break
        return None, done and len(few) == len(windows)

    def _bands(self, tolerance: float) -> _Bands:
        network, total = self.network, float(self.target.sum())
        ends, headers = [], []
        volume = self.target / network.fluids[IN_LOOP].density
        valve = network.fluids[IN_LOOP].density * volume[:, None] ** 2 * self.squares[None, :]
        for factor in (max(1.0 - tolerance, 0.0), 1.0 + tolerance):
            flow = branch_flows(network, factor * self.target)
            drops = drops_at(network, flow, factor * total)
            headers.append(header_drops(network, drops)[network.loop_rows])
            ends.append(loop_drops(network, drops)[:, None] + factor**2 * valve)
        return _Bands(
            tolerance=tolerance,
            share=self.target / total,
            group=_alike(network, np.column_stack([*ends, *headers])),
            least=ends[0],
            most=ends[1],
            header_least=headers[0],
            header_most=headers[1],
            low=ends[0] + headers[0][:, None],
            high=ends[1] + headers[1][:, None],
        )


def _alike(network: Network, told: Array) -> list[int]:
    """Number of the group of each loop: loops of one manifold that take alike change places."""
    level_of = {}
    for level in network.levels:
        for row in range(level.lo, level.hi):
            level_of[row] = level
    groups: dict[tuple[object, ...], int] = {}
    found: list[int] = []
    digits = np.round(told / max(float(told.max()), 1e-12), 9)
    for number, (row, place) in enumerate(zip(network.loop_rows, network.places, strict=True)):
        level = level_of[int(row)]
        own = (number,) if level.headers else (place[:-1], *digits[number].tolist())
        found.append(groups.setdefault(own, len(groups)))
    return found


def _windows(bands: _Bands, cap: float, ratio: float) -> list[tuple[float, float]]:
    """Pressures at which every loop has some position, in steps of a ratio, the least first."""
    ranges = [(0.0, cap)]
    for low, high in zip(bands.low, bands.high, strict=True):
        own: list[tuple[float, float]] = []
        for a, b in sorted(zip(low.tolist(), high.tolist(), strict=True)):
            if own and a <= own[-1][1]:
                own[-1] = (own[-1][0], max(own[-1][1], b))
            else:
                own.append((a, b))
        ranges = [
            (max(a, c), min(b, d)) for a, b in ranges for c, d in own if max(a, c) <= min(b, d)
        ]
    found: list[tuple[float, float]] = []
    for a, b in ranges:
        low = a
        while low < b and len(found) <= MOST_WINDOWS:
            high = min(b, max(low, 1.0) * ratio)
            found.append((low, high))
            low = high
        if a == b:
            found.append((a, b))
    return found


def _combinations(bands: _Bands, low: float, high: float, left: _Left) -> Iterator[Rows]:
    """Combinations that can be right where the array's drop lies in a window [Pa]."""
    lows, highs = bands.low, bands.high
    fits = (lows <= high) & (highs >= low)
    count = fits.sum(axis=1)
    if not count.all():
        return
    middle = 0.5 * (low + high)
    order = sorted(range(len(count)), key=lambda i: (count[i], bands.group[i], i))
    nearest = np.abs(np.log(np.maximum(0.5 * (lows + highs), 1e-12) / max(middle, 1e-12)))
    choices = []
    for loop in order:
        own = np.flatnonzero(fits[loop])
        choices.append(own[np.argsort(nearest[loop][own], kind="stable")].tolist())
    rows = np.zeros(len(count), dtype=np.intp)
    mask = fits.copy()
    ends = [(low, high)]
    stack: list[Iterator[int]] = [iter(choices[0])]
    while stack:
        depth = len(stack) - 1
        loop = order[depth]
        for row in stack[-1]:
            left.nodes -= 1 + mask.size // _A_NODE
            if left.nodes <= 0:
                return
            at, to = ends[depth]
            at, to = max(at, float(lows[loop, row])), min(to, float(highs[loop, row]))
            twin = order[depth - 1] if depth else loop
            turned = depth > 0 and bands.group[twin] == bands.group[loop] and row < rows[twin]
            if at > to or turned:
                continue
            mask[loop] = False
            mask[loop, row] = True
            if not _adds_up(bands, mask, at, to):
                continue
            rows[loop] = row
            if depth + 1 == len(order):
                yield rows.copy()
                continue
            ends.append((at, to))
            stack.append(iter(choices[depth + 1]))
            break
        else:
            mask[loop] = fits[loop]
            stack.pop()
            ends.pop()


def _adds_up(bands: _Bands, mask: NDArray[np.bool_], low: float, high: float) -> bool:
    """Whether flows of the positions that are left can add up to the array's."""
    open_to = mask & (bands.low <= high) & (bands.high >= low)
    if not open_to.any(axis=1).all():
        return False
    least, most = bands.flow_bounds(low, high)
    lowest = np.where(open_to, least, math.inf).min(axis=1)
    highest = np.where(open_to, most, -math.inf).max(axis=1)
    return bool(bands.share @ lowest <= _ROUNDING and bands.share @ highest >= -_ROUNDING)
