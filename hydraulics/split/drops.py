"""What drop does each pipe, loop, port and header take at given flows?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hydraulics.split.assembly import IN_LOOP, Level, Network
from hydraulics.split.state import Array, Drops, Solution, running_sums, state_of, sums


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
    state = state_of(network, branch, total, None)
    return Drops(state.flow, state.element_drop, state.drop)


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
    runs = pipe_drops(network, drops, network.side != IN_LOOP)[:rows]
    flow = drops.flow[:rows]
    square = (network.square - network.loop_square)[:rows]
    linear = (network.linear - network.loop_linear)[:rows]
    runs += (square * np.abs(flow) + linear) * flow
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


def pipe_drops(
    network: Network, drops: Drops | Solution, which: NDArray[np.bool_] | None = None
) -> Array:
    """Pressure drop of the pipes of each carrier [Pa], fittings left out.

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its solution, or its drops at other flows.
    which
        True for the elements to count; None: those of the loops.

    Returns
    -------
    Array
        Of each carrier; branches come first.
    """
    counted = network.side == IN_LOOP if which is None else which
    return sums(network.owner, np.where(counted, drops.element_drop, 0.0), drops.flow.size)


def loop_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop of each loop with its fittings and port, headers and runs left out [Pa]."""
    rows = network.loop_rows
    result: Array = pipe_drops(network, drops)[rows] + port_drops(network, drops)[rows]
    return result


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
