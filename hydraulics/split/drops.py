"""What drop does each pipe, loop, port and header take at given flows?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hydraulics.split.assembly import Level, Network
from hydraulics.split.state import (
    Array,
    Drops,
    Solution,
    drops_and_slopes,
    expanded,
    running_sums,
    sums,
)


def branch_flows(network: Network, loop_flow: Array) -> Array:
    """Flow of every branch, nested circuits included, from the flows of the loops.

    Parameters
    ----------
    network
        The assembled array.
    loop_flow
        Mass flow of each loop [kg/s].

    Returns
    -------
    Array
        Mass flow of each branch [kg/s].
    """
    flow = np.zeros(network.rows)
    flow[network.loop_rows] = loop_flow
    for level in reversed(network.levels):
        if level.parents.size:
            flow[level.parents] = np.add.reduceat(flow[level.lo : level.hi], level.starts)
    return flow


def drops_at(network: Network, branch: Array, total: float) -> Drops:
    """Pressure drops where every branch is given its flow, whether or not they balance.

    Parameters
    ----------
    network
        The assembled array.
    branch
        Mass flow of each branch [kg/s].
    total
        Mass flow of the array [kg/s].

    Returns
    -------
    Drops
        Signed with the flows.
    """
    flow = expanded(network, branch, total)
    element_drop, drop, _ = drops_and_slopes(network, flow)
    return Drops(flow, element_drop, drop)


def header_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop between the array's connections and each branch's own ports [Pa].

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its solution, or its drops at other flows.

    Returns
    -------
    Array
        Of each row: headers of every circuit on the way; runs of this branch and of those above,
        with their fittings; ports and valves of the branches above.
    """
    rows = network.rows
    runs = run_drops(network, drops)[:rows]
    runs += way_fittings(network, drops)
    if len(network.levels) == 1 and not network.levels[0].headers:
        return runs
    path = np.zeros(rows)
    for level in network.levels:
        here = runs[level.lo : level.hi].copy()
        if level.headers:
            onward = drops.carrier_drop[rows + level.lo : rows + level.hi]
            back = drops.carrier_drop[2 * rows + level.lo : 2 * rows + level.hi]
            here += running_sums(onward, level)
            here += running_sums(back[::-1], _mirrored(level))[::-1]
        if level.parents.size:
            port = port_drops(network, drops)[level.parents]
            here += np.repeat(path[level.parents] + port, level.counts)
        path[level.lo : level.hi] = here
    return path


def way_fittings(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop of the fittings on each branch's runs [Pa], its own and its port's left out."""
    rows = network.rows
    flow = drops.flow[:rows]
    square = (network.square - network.loop_square)[:rows]
    linear = (network.linear - network.loop_linear)[:rows]
    result: Array = (square * np.abs(flow) + linear) * flow
    return result


def pipe_drops(network: Network, drops: Drops | Solution, *, coiled: bool | None = None) -> Array:
    """Pressure drop of the pipe of each loop [Pa], fittings left out; of coils, or straight, alone.

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its solution, or its drops at other flows.
    coiled
        True for coils, False for straight pipe; None for both.
    """
    drop = drops.element_drop[: network.loop_of.size]
    if coiled is not None:
        drop = np.where(network.coiled[: drop.size] == coiled, drop, 0.0)
    return sums(network.loop_of, drop, len(network.loops))


def run_drops(network: Network, drops: Drops | Solution, side: int | None = None) -> Array:
    """Pressure drop of the pipe of each carrier outside loops [Pa], fittings left out.

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its solution, or its drops at other flows.
    side
        TO_GROUND or FROM_GROUND for the pipe of that side alone.

    Returns
    -------
    Array
        Of each carrier; branches, that is their runs, come first.
    """
    first = network.loop_of.size
    if first == network.owner.size:
        return np.zeros(drops.flow.size)
    drop = drops.element_drop[first:]
    if side is not None:
        drop = np.where(network.side[first:] == side, drop, 0.0)
    return sums(network.owner[first:], drop, drops.flow.size)


def loop_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop of each loop with its fittings and port, headers and runs left out [Pa]."""
    return pipe_drops(network, drops) + port_drops(network, drops)[network.loop_rows]


def port_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop of each branch's own fittings, of the loop and of its port [Pa]."""
    flow = drops.flow[: network.rows]
    square, linear = network.loop_square[: network.rows], network.loop_linear[: network.rows]
    result: Array = (square * np.abs(flow) + linear) * flow
    return result


def _mirrored(level: Level) -> Level:
    """The same level counted from its end."""
    size = level.hi - level.lo
    return replace(
        level,
        starts=(size - 1 - level.ends)[::-1],
        ends=(size - 1 - level.starts)[::-1],
        counts=level.counts[::-1],
    )


def largest_reynolds(network: Network, solution: Solution) -> float:
    """Largest Reynolds number in any pipe of a solved array."""
    return float((np.abs(solution.flow[network.owner]) * network.reynolds_per_flow).max())
