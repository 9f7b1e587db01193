"""What pressure stands along the headers of every circuit of a solved array?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydraulics.layout.circuit import Circuit, Loop
from hydraulics.split.assembly import FROM_GROUND, IN_LOOP, TO_GROUND, Network
from hydraulics.split.drops import pipe_drops, port_drops
from hydraulics.split.state import Solution

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class HeaderPressures:
    """Flows and pressures of one circuit; pressures stand above the array's return connection.

    Attributes
    ----------
    circuit
        The circuit.
    name
        Its name and number among its equals; may be empty.
    parent, parent_branch
        Number of the circuit that it hangs on in the list, and which of that one's branches; -1 at
        the root.
    depth
        0 at the root.
    loops
        Number of the loop on each branch, -1 where a circuit hangs there.
    distance
        Of each branch along the flow header from the circuit's start [m].
    flow
        Mass flow of each branch [kg/s].
    supply_flow, return_flow
        Mass flow of the flow header before each branch; of the return header beside that stretch
        (direct return) or after the branch (reverse return) [kg/s]. Nothing real in a manifold.
    supply, back
        Pressure in flow and return header at each branch [Pa].
    far_supply, far_back
        The same at the far end of the branch's runs, where loop or nested circuit begins [Pa].
    inlet, outlet
        Pressure at the circuit's own flow and return connection [Pa].
    """

    circuit: Circuit
    name: str
    parent: int
    parent_branch: int
    depth: int
    loops: NDArray[np.intp]
    distance: Array
    flow: Array
    supply_flow: Array
    return_flow: Array
    supply: Array
    back: Array
    far_supply: Array
    far_back: Array
    inlet: float
    outlet: float


@dataclass(frozen=True, slots=True)
class _Hung:
    circuit: Circuit
    name: str
    parent: int
    branch: int
    depth: int
    inlet: float
    outlet: float


def header_pressures(
    circuit: Circuit, network: Network, solution: Solution
) -> tuple[HeaderPressures, ...]:
    """Walk every circuit of a solved array, outermost first, and give its pressures.

    Parameters
    ----------
    circuit
        The array.
    network, solution
        What :func:`hydraulics.assembly.assemble` made of it, and its solution.

    Returns
    -------
    tuple of HeaderPressures
        One a circuit, level by level; the root first.

    Notes
    -----
    Fittings of a route are given for out and back together, and so are the ports of a branch that
    leads to a nested circuit: half their drop is shown on each way. Ports and valves of a loop's
    branch count as the loop's own.
    """
    rows = network.rows
    out, home, pipes = (
        pipe_drops(network, solution, network.side == side)
        for side in (TO_GROUND, FROM_GROUND, IN_LOOP)
    )
    shared = solution.carrier_drop[:rows] - out[:rows] - home[:rows] - pipes[:rows]
    ports = port_drops(network, solution)
    loop_of = np.full(rows, -1, dtype=np.intp)
    loop_of[network.loop_rows] = np.arange(len(network.loops))
    shared = 0.5 * np.where(loop_of >= 0, shared - ports, shared)

    found: list[HeaderPressures] = []
    queue = [_Hung(circuit, circuit.name, -1, -1, 0, solution.array_drop, 0.0)]
    row = 0
    while queue:
        following: list[_Hung] = []
        for hung in queue:
            here = slice(row, row + sum(branch.count for branch in hung.circuit.branches))
            row = here.stop
            kind = hung.circuit.arrangement
            supply = hung.inlet - _along(out, rows, here)
            back = hung.outlet + (
                _along(home, rows, here)
                if kind != "reverse_return"
                else _along(home, 2 * rows, here, onward=True)
            )
            around = 2 * rows if kind == "reverse_return" else rows
            made = HeaderPressures(
                circuit=hung.circuit,
                name=hung.name,
                parent=hung.parent,
                parent_branch=hung.branch,
                depth=hung.depth,
                loops=loop_of[here],
                distance=np.cumsum(
                    [b.header_length for b in hung.circuit.branches for _ in range(b.count)]
                ),
                flow=solution.flow[here],
                supply_flow=solution.flow[here.start + rows : here.stop + rows],
                return_flow=solution.flow[here.start + around : here.stop + around],
                supply=supply,
                back=back,
                far_supply=supply - out[here] - shared[here],
                far_back=back + home[here] + shared[here],
                inlet=hung.inlet,
                outlet=hung.outlet,
            )
            following += _hung_on(made, len(found))
            found.append(made)
        queue = following
    return tuple(found)


def _along(drops: Array, first: int, here: slice, *, onward: bool = False) -> Array:
    """Running drop of a header up to each branch; ``onward`` from each branch to the end."""
    own = drops[first + here.start : first + here.stop]
    along: Array = np.cumsum(own[::-1])[::-1] if onward else np.cumsum(own)
    return along


def _hung_on(above: HeaderPressures, number: int) -> list[_Hung]:
    """Circuits on the branches of one, in order."""
    found: list[_Hung] = []
    at = 0
    for branch in above.circuit.branches:
        for copy in range(branch.count):
            item = branch.item
            if not isinstance(item, Loop):
                suffix = f"-{copy + 1}" if branch.count > 1 else ""
                ends = float(above.far_supply[at]), float(above.far_back[at])
                found.append(_Hung(item, item.name + suffix, number, at, above.depth + 1, *ends))
            at += 1
    return found
