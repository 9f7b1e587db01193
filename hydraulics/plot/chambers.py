"""Where do manifold chambers stand, and which loops belong to each?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from hydraulics.plot.asked import ChamberRule, Prices
from hydraulics.plot.network import Network
from hydraulics.plot.routes import lengths_from
from hydraulics.plot.site_plan import Chamber

Floats = NDArray[np.float64]
UNEVEN: Final = 3.0  # what a metre of unevenness counts beside a metre of pipe
UNREACHED: Final = 1e6  # m, of a way that is not there


@dataclass(frozen=True, slots=True)
class Placed:
    """Chambers with their nodes, and the chamber of every loop by number."""

    chambers: tuple[Chamber, ...]
    nodes: tuple[int, ...]
    of_loop: tuple[int, ...]


def ways_of_loops(net: Network) -> Floats:
    """Shortest way from every loop, from whichever end, to every node [m], shape (loops, n)."""
    starts = sorted({node for ends in net.ends for node in ends})
    found = np.full((len(net.ends), len(net.points)), UNREACHED)
    if not starts:
        return found
    away = dict(zip(starts, lengths_from(net, starts), strict=True))
    for loop, ends in enumerate(net.ends):
        for node in ends:
            np.minimum(found[loop], away[node], out=found[loop])
    return found


def placed(
    net: Network, rule: ChamberRule, prices: Prices, rows: Sequence[Sequence[int]]
) -> Placed:
    """Chambers where the tails are even or short, each among consecutive loops of a row.

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
    """
    ways = ways_of_loops(net)
    runs = np.minimum(lengths_from(net, [net.plant])[0], UNREACHED)
    groups = [
        group
        for row in rows
        for group in np.array_split(np.array(row), math.ceil(len(row) / rule.largest))
    ]
    chambers: list[Chamber] = []
    nodes: list[int] = []
    of_loop = [0] * len(net.ends)
    for number, group in enumerate(groups):
        own = ways[group]
        tails, uneven = own.sum(axis=0), own.max(axis=0) - own.min(axis=0)
        if rule.place == "most_even":
            price = 2.0 * tails + runs + UNEVEN * len(group) * uneven
        else:
            price = prices.loop_pipe * tails + prices.run_pipe * runs
        price = np.where(net.dry, price, np.inf)
        price[nodes] = np.inf
        node = int(np.argmin(price))
        nodes.append(node)
        x, y = net.points[node]
        chambers.append(Chamber(f"C{number + 1}", (float(x), float(y)), rule.largest))
        for loop in group:
            of_loop[loop] = number
    return Placed(tuple(chambers), tuple(nodes), tuple(of_loop))


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
    loops, taken = linear_sum_assignment(ways[:, ports])
    of_loop = [0] * len(net.ends)
    for loop, port in zip(loops.tolist(), taken.tolist(), strict=True):
        of_loop[loop] = int(ports[port])
    return Placed(tuple(chambers), net.chambers, tuple(of_loop))
