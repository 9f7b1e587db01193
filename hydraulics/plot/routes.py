"""Which way does every tail and run take, so that digging is shared and pipe is short?

A header trench is dug once and pipe is paid for every pair in it: between a Steiner tree and
shortest paths. Each pair in turn takes the way that is cheapest with what the others have dug; then
each is taken up and laid anew, forwards and back, until nothing is gained. Last, all pairs that
share a way are taken up together and laid anew, with that way open and closed to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import scipy as sp
from numpy.typing import NDArray

from hydraulics.plot.asked import Prices
from hydraulics.plot.network import Network

PASSES: Final = 4
STARTS: Final = 5  # orders tried besides nearest first
LED: Final = 100  # pairs led in those: fewer orders where there are more pairs
SHAKEN: Final = 20  # orders at other prices of digging, where there are boreholes
WAVES: Final = 5.0  # rad/m at the most, of those prices over the plot
SHAKEN_KEPT: Final = 5  # of what they find
RELAID: Final = 200_000  # pairs laid anew together, times ways of the network
CLOSED: Final = 1e4  # price of a way that pairs are to avoid
KEPT: Final = 500  # trees of ways, so that pairs with the same ways before them share one
SEED: Final = 20_240  # of those orders: equal requests have equal plans

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Pair:
    """A flow and a return pipe to lead: from one of some nodes to a node, at a price a metre.

    Those of a run stay dry: tails alone lie in the water.
    """

    starts: tuple[int, ...]
    to: int
    price: float
    dry: bool = False


@dataclass(frozen=True, slots=True)
class Routed:
    """Ways found.

    Attributes
    ----------
    paths
        Nodes of every pair from its start on; empty where there is no way.
    price
        Of digging, bends and pipe.
    """

    paths: tuple[tuple[int, ...], ...]
    price: float


class _Ways:
    """The network with what is dug already: shortest ways for one pair at a time."""

    def __init__(self, net: Network, prices: Prices) -> None:
        count = len(net.points)
        a, b = net.joined.T
        rows, columns = np.concatenate([a, b]), np.concatenate([b, a])
        number = np.concatenate([np.arange(len(a))] * 2)
        order = np.lexsort((columns, rows))
        # From a pair's end on: to a borehole, and never on from there.
        order = order[~net.closed[rows[order]]]
        self._edge = number[order]
        self._graph = sp.sparse.csr_array(
            (np.ones(len(order)), (rows[order], columns[order])), shape=(count, count)
        )
        self.lengths, self._wet = net.lengths, net.wet
        self.dig = np.where(
            net.wet, 0.0, prices.dig * net.lengths + prices.bend * (0.5 + net.askew)
        )
        self.used = np.zeros(len(a), dtype=np.int64)
        # A way to a node with no other is one pair's own: what others pay does not turn on it.
        degree = np.bincount(net.joined.ravel(), minlength=count)
        self._shared = (degree[net.joined] > 1).all(axis=1)
        self._trees: dict[tuple[int, float, bool, int | None, bytes], tuple[Floats, Ints]] = {}
        self._edges: dict[tuple[int, ...], Ints] = {}  # of paths that were laid
        self._long: dict[tuple[int, ...], float] = {}  # those paths [m]
        self._number = {(int(i), int(j)): k for k, (i, j) in enumerate(net.joined)}

    def forget(self) -> None:
        """The trees of ways, since prices have changed."""
        self._trees.clear()

    def edges(self, path: tuple[int, ...]) -> Ints:
        """Numbers of the ways of a path."""
        if path not in self._edges:
            number = (self._number[(i, j) if i < j else (j, i)] for i, j in pairwise(path))
            self._edges[path] = np.fromiter(number, np.int32)
            self._long[path] = float(self.lengths[self._edges[path]].sum())
        return self._edges[path]

    def take_up(self, path: tuple[int, ...]) -> None:
        """A path is no longer there."""
        self.used[self.edges(path)] -= 1

    def lay(self, pair: Pair, closed: int | None = None) -> tuple[int, ...]:
        """Lay a pair where it is cheapest with what is dug now: its path, empty if there is none.

        One way may be closed to it: taken only where there is no other.
        """
        path = self._shortest(pair, closed)
        self.used[self.edges(path)] += 1
        return path

    def _shortest(self, pair: Pair, closed: int | None) -> tuple[int, ...]:
        if not pair.starts:
            return ()
        cost, before = self._tree(pair, closed)
        start = min(pair.starts, key=lambda node: float(cost[node]))
        if not np.isfinite(cost[start]):
            return ()
        path = [start]
        while path[-1] != pair.to:
            path.append(int(before[path[-1]]))
        return tuple(path)

    def _tree(self, pair: Pair, closed: int | None) -> tuple[Floats, Ints]:
        """Cheapest ways from a pair's end to all nodes, and the node before each."""
        free = (self.used > 0) & self._shared
        key = (pair.to, pair.price, pair.dry, closed, free.tobytes())
        if key not in self._trees:
            if len(self._trees) >= KEPT:
                self._trees.clear()
            weights = pair.price * self.lengths + np.where(free, 0.0, self.dig)
            if pair.dry:
                weights[self._wet] = np.inf
            if closed is not None:
                weights[closed] += CLOSED
            self._graph.data = weights[self._edge]
            cost, before = (
                found[0]
                for found in sp.sparse.csgraph.dijkstra(
                    self._graph, indices=[pair.to], return_predecessors=True
                )
            )
            self._trees[key] = cost, before
        return self._trees[key]

    def price(self, pairs: Sequence[Pair], paths: Sequence[tuple[int, ...]]) -> float:
        """Price of everything as it lies, along paths that were laid."""
        pipe = sum(pair.price * self._long[path] for pair, path in zip(pairs, paths, strict=True))
        return pipe + float(self.dig[self.used > 0].sum())


def lengths_from(
    net: Network, nodes: Sequence[int], *, dry: bool = False, loops: bool = False
) -> Floats:
    """Shortest ways from some nodes to all [m], shape (nodes, n); inf where there is none.

    No way leads on through a borehole; `loops`: the nodes are loops' ends, and none leads to one.
    """
    count = len(net.points)
    open_ = ~net.wet if dry else np.ones(len(net.joined), dtype=bool)
    a, b = net.joined[open_].T
    rows, columns = np.concatenate([a, b]), np.concatenate([b, a])
    lengths = np.tile(net.lengths[open_], 2)
    led = ~net.closed[columns if loops else rows]
    graph = sp.sparse.csr_array((lengths[led], (rows[led], columns[led])), shape=(count, count))
    return np.atleast_2d(sp.sparse.csgraph.dijkstra(graph, indices=list(nodes)))


def routed(net: Network, pairs: Sequence[Pair], prices: Prices, starts: int = STARTS) -> Routed:
    """Lead every pair so that digging and pipe are cheap together.

    Parameters
    ----------
    net
        Ways.
    pairs
        What is led, and where to.
    prices
        Of a metre of digging, and of a bend.
    starts
        Orders tried besides nearest first, by a fixed seed; fewer where there are many pairs.

    Notes
    -----
    A search: against the exact optimum of the same graph the excess was 0 to 0.4 % in tests, and
    up to 2.5 % on five fields of nine to twelve boreholes. With many pairs on a large network less
    is laid anew, and more may be lost.
    """
    ways = _Ways(net, prices)
    targets = sorted({pair.to for pair in pairs})
    away = dict(zip(targets, lengths_from(net, targets), strict=True)) if targets else {}
    near = [min((float(away[p.to][n]) for n in p.starts), default=0.0) for p in pairs]
    first = [int(i) for i in np.argsort(near, kind="stable")]
    random = np.random.default_rng(SEED)
    tried = min(starts, LED // max(len(pairs), 1))
    orders = [first, *(random.permutation(first).tolist() for _ in range(tried))]
    best: Routed | None = None
    for order in orders:
        found = _improved(ways, pairs, order)
        if best is None or found.price < best.price * (1.0 - 1e-9):
            best = found
    assert best is not None
    if starts and net.closed.any():
        middles = net.points[net.joined].mean(axis=1)
        likely = _shaken(ways, pairs, middles, min(SHAKEN, 2 * LED // max(len(pairs), 1)))
        laid = [_relaid(ways, pairs, each, RELAID // len(net.joined)) for each in likely]
        best = min([best, *laid], key=lambda each: round(each.price, 6))
    return _relaid(ways, pairs, best, RELAID // max(len(net.joined), 1)) if starts else best


def _shaken(ways: _Ways, pairs: Sequence[Pair], middles: Floats, starts: int) -> list[Routed]:
    """Ways found where digging costs up to twice as much here and there, the cheapest few.

    Around boreholes many ways are all but as good as each other: from there the search finds
    better ones. The price is a wave over the plot, so that rounding of places hardly changes it.
    """
    random, true = np.random.default_rng(SEED), ways.dig
    found = []
    for _ in range(starts):
        wave = middles @ random.uniform(-WAVES, WAVES, 2) + random.uniform(0.0, 2.0 * np.pi)
        ways.dig = true * (1.5 + 0.5 * np.sin(wave))
        ways.forget()
        paths = _improved(ways, pairs, random.permutation(len(pairs)).tolist()).paths
        ways.dig = true
        found.append(Routed(paths, ways.price(pairs, paths)))
    ways.forget()
    return sorted(found, key=lambda each: each.price)[:SHAKEN_KEPT]


def _relaid(ways: _Ways, pairs: Sequence[Pair], found: Routed, most: int) -> Routed:
    """The ways found, or better ones by laying those that share one anew together."""
    paths, price, laid = list(found.paths), found.price, 0
    ways.used[:] = 0
    for path in paths:
        ways.used[ways.edges(path)] += 1
    gained = True
    while gained:
        gained = False
        sharing: dict[int, list[int]] = {}
        for number, path in enumerate(paths):
            for way in ways.edges(path).tolist():
                sharing.setdefault(way, []).append(number)
        together = sorted({tuple(group) for group in sharing.values() if len(group) > 1})
        both_ways = [(None, list(order)) for group in together for order in (group, group[::-1])]
        for closed, order in (*both_ways, *sorted(sharing.items())):
            if (laid := laid + 2 * len(order)) > most:
                return Routed(tuple(paths), price)
            before, used = list(paths), ways.used.copy()
            for number in order:
                ways.take_up(paths[number])
            for number in order:
                paths[number] = ways.lay(pairs[number], closed)
            for number in reversed(order):
                ways.take_up(paths[number])
                paths[number] = ways.lay(pairs[number])
            now = ways.price(pairs, paths)
            if now < price * (1.0 - 1e-9):
                price, gained = now, True
            else:
                paths, ways.used = before, used
    return Routed(tuple(paths), price)


def _improved(ways: _Ways, pairs: Sequence[Pair], order: Sequence[int]) -> Routed:
    ways.used[:] = 0
    paths: list[tuple[int, ...]] = [()] * len(pairs)
    for number in order:
        paths[number] = ways.lay(pairs[number])
    price = ways.price(pairs, paths)
    for turn in range(PASSES):
        for number in order[:: -1 if turn % 2 else 1]:
            ways.take_up(paths[number])
            paths[number] = ways.lay(pairs[number])
        now = ways.price(pairs, paths)
        if now > price * (1.0 - 1e-9):
            break
        price = now
    return Routed(tuple(paths), ways.price(pairs, paths))
