"""Where do manifold chambers stand, and which loops belong to each?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

import numpy as np
import scipy as sp
import shapely
from numpy.typing import NDArray

from hydraulics.plot.asked import ChamberRule, Prices
from hydraulics.plot.network import NOT_THERE, Network, footprint
from hydraulics.plot.routes import lengths_from
from hydraulics.plot.site import SitePlot
from hydraulics.plot.site_plan import CHAMBER_SIDE, HAIR, Bore, Chamber, Place, SitePlan, Trench

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
ROUNDING: Final = 1e-6  # m
UNEVEN: Final = 3.0  # what a metre of unevenness counts beside a metre of pipe
CROWDED: Final = 1e5  # price of a place with no room for a chamber: only where there is no other
APART: Final = CHAMBER_SIDE * math.sqrt(2.0)  # m between middles: no corner meets, however turned


@dataclass(frozen=True, slots=True)
class Placed:
    """Chambers with their nodes, and the chamber of every loop by number."""

    chambers: tuple[Chamber, ...]
    nodes: tuple[int, ...]
    of_loop: tuple[int, ...]


@lru_cache(maxsize=4)
def ways_of_loops(net: Network) -> Floats:
    """Shortest way from every loop, from whichever end, to every node [m], shape (loops, n)."""
    starts = sorted({node for ends in net.ends for node in ends})
    found = np.full((len(net.ends), len(net.points)), NOT_THERE)
    if not starts:
        return found
    away = dict(zip(starts, lengths_from(net, starts, loops=True), strict=True))
    for loop, ends in enumerate(net.ends):
        for node in ends:
            np.minimum(found[loop], away[node], out=found[loop])
    return found


@lru_cache(maxsize=4)
def has_room(
    plot: SitePlot, trenches: tuple[Trench, ...], bores: tuple[Bore, ...], net: Network
) -> Bools:
    """At which nodes a chamber keeps off the boundary, keep-outs, water, trenches and boreholes.

    What a header trench may cross is not built over.
    """
    at, half = shapely.points(net.points), APART / 2.0 - HAIR
    free = shapely.distance(at, plot.ground.exterior) >= half
    for each in plot.keep_outs:
        free &= shapely.distance(at, each.shape) >= each.reach + half
    others = [plot.pond, *map(footprint, trenches), *(shapely.Point(b.at) for b in bores)]
    near = shapely.STRtree(others).query(at, "dwithin", half)[0]
    free[near] = False
    return np.asarray(free)


def placed(
    net: Network,
    rule: ChamberRule,
    prices: Prices,
    rows: Sequence[Sequence[int]],
    room: Bools,
) -> Placed:
    """Chambers where the tails are even or short, each for consecutive loops of a row.

    A row is cut into the fewest groups, and where by what its chambers cost together.

    Parameters
    ----------
    net
        Ways.
    rule
        Most loops of a chamber, and what its place is chosen by.
    prices
        Of pipe.
    rows
        Loops by number that stand on one header, in their order along it.
    room
        At which nodes a chamber has room, shape (n,).
    """
    ways = ways_of_loops(net)
    runs = np.minimum(lengths_from(net, [net.plant], dry=True)[0], NOT_THERE)
    dry = np.flatnonzero(net.dry)
    crowded = np.where(room[dry], 0.0, CROWDED)
    chambers: list[Chamber] = []
    nodes: list[int] = []
    of_loop = [0] * len(net.ends)
    for row in rows:
        prices_of = _prices_of_groups(ways[np.array(row)][:, dry], runs[dry], crowded, rule, prices)
        for start, stop in _cut([price.min(axis=1) for price in prices_of], rule.largest):
            price = prices_of[start][stop - start - 1].copy()
            for other in nodes:
                apart = np.hypot(*(net.points[dry] - net.points[other]).T)
                price[apart < APART - ROUNDING] += CROWDED
                price[dry == other] = np.inf
            node = int(dry[np.argmin(price)])
            for loop in row[start:stop]:
                of_loop[loop] = len(nodes)
            nodes.append(node)
            x, y = net.points[node]
            chambers.append(Chamber(f"C{len(nodes)}", (float(x), float(y)), rule.largest))
    return Placed(tuple(chambers), tuple(nodes), tuple(of_loop))


def worth(plan: SitePlan, place: Place, prices: Prices) -> float:
    """By what plans are compared that place chambers by an objective: less is better."""
    ways, out = plan.tails, plan.runs
    lost = NOT_THERE * (len(plan.loops) - len(ways) + len(plan.chambers) - len(out))
    tails, runs = sum(ways.values()), sum(out.values())
    if place == "least_digging":
        return lost + plan.header_dug
    if place == "least_pipe":
        return lost + prices.loop_pipe * tails + prices.run_pipe * runs
    uneven = 0.0
    for chamber in plan.chambers:
        own = [ways[n] for n in plan.held_by(chamber.name)]
        uneven += len(own) * (max(own) - min(own)) if own else 0.0
    return lost + 2.0 * tails + runs + UNEVEN * uneven


def _prices_of_groups(
    ways: Floats, runs: Floats, crowded: Floats, rule: ChamberRule, prices: Prices
) -> list[Floats]:
    """For every first loop of a row the prices of 1, 2, ... loops at every node."""
    found = []
    for start in range(len(ways)):
        own = ways[start : start + rule.largest]
        tails = np.cumsum(own, axis=0)
        if rule.place == "most_even":
            uneven = np.maximum.accumulate(own, axis=0) - np.minimum.accumulate(own, axis=0)
            number = np.arange(1, len(own) + 1)[:, None]
            found.append(2.0 * tails + runs + UNEVEN * number * uneven + crowded)
        else:
            found.append(prices.loop_pipe * tails + prices.run_pipe * runs + crowded)
    return found


def _cut(prices: list[Floats], largest: int) -> list[tuple[int, int]]:
    """Where a row is cut into the fewest groups so that their prices together are least.

    Parameters
    ----------
    prices
        For every first loop those of 1, 2, ... loops.
    largest
        Most loops of a group.
    """
    loops = len(prices)
    groups = math.ceil(loops / largest)
    best = np.full((groups + 1, loops + 1), np.inf)
    best[0, 0] = 0.0
    came = np.zeros((groups + 1, loops + 1), dtype=int)
    for group in range(groups):
        for start in range(loops):
            if np.isfinite(best[group, start]):
                stops = start + 1 + np.arange(len(prices[start]))
                now = best[group, start] + prices[start]
                better = now < best[group + 1, stops] - 1e-9
                best[group + 1, stops[better]] = now[better]
                came[group + 1, stops[better]] = start
    cuts = [loops]
    for group in range(groups, 0, -1):
        cuts.append(int(came[group, cuts[-1]]))
    return list(pairwise(cuts[::-1]))


def assigned(net: Network, chambers: Sequence[Chamber]) -> Placed:
    """Loops to chambers that are given, none fuller than it may be, by the least length of tails.

    Loops beyond all ports go where the way is shortest; whoever calls tells that a chamber is full.
    """
    ways = ways_of_loops(net)[:, list(net.chambers)]
    ports = np.repeat(np.arange(len(chambers)), [c.largest for c in chambers])
    missing = len(net.ends) - len(ports)
    if missing > 0:
        share = math.ceil(len(net.ends) / len(chambers))
        ports = np.repeat(np.arange(len(chambers)), [max(c.largest, share) for c in chambers])
    loops, taken = sp.optimize.linear_sum_assignment(ways[:, ports])
    of_loop = [0] * len(net.ends)
    for loop, port in zip(loops.tolist(), taken.tolist(), strict=True):
        of_loop[loop] = int(ports[port])
    return Placed(tuple(chambers), net.chambers, tuple(of_loop))
