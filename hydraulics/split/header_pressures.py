"""What pressure stands along the headers of every circuit of a solved array?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import walk
from hydraulics.split.assembly import FROM_GROUND, TO_GROUND, Network
from hydraulics.split.drops import pipe_drops, port_drops, run_drops
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
    first
        Row of its first branch in the network.
    loops
        Number of the loop on each branch, -1 where a circuit hangs there.
    distance
        Of each open branch along the flow header from the circuit's start [m].
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
    first: int
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


def header_pressures(
    circuit: Circuit, network: Network, solution: Solution
) -> tuple[HeaderPressures, ...]:
    """Walk every circuit of a solved array, outermost first, and give its pressures.

    Parameters
    ----------
    circuit
        The array.
    network, solution
        What :func:`hydraulics.split.assembly.assemble` made of it, and its solution.

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
    out, home = (run_drops(network, solution, side) for side in (TO_GROUND, FROM_GROUND))
    shared = solution.carrier_drop[:rows] - out[:rows] - home[:rows]
    shared[network.loop_rows] -= pipe_drops(network, solution)
    ports = port_drops(network, solution)
    loop_of = np.full(rows, -1, dtype=np.intp)
    loop_of[network.loop_rows] = np.arange(len(network.loops))
    shared = 0.5 * np.where(loop_of >= 0, shared - ports, shared)

    found: list[HeaderPressures] = []
    for depth, level in enumerate(walk(circuit).levels):
        for hung in level:
            here = slice(hung.first, hung.stop)
            inlet, outlet, branch = solution.array_drop, 0.0, -1
            if hung.above >= 0:
                above = found[hung.above]
                branch = hung.row - above.first
                inlet, outlet = float(above.far_supply[branch]), float(above.far_back[branch])
            kind = hung.circuit.arrangement
            supply = inlet - _along(out, rows, here)
            back = outlet + (
                _along(home, rows, here)
                if kind != "reverse_return"
                else _along(home, 2 * rows, here, onward=True)
            )
            around = 2 * rows if kind == "reverse_return" else rows
            found.append(
                HeaderPressures(
                    circuit=hung.circuit,
                    name=hung.name,
                    parent=hung.above,
                    parent_branch=branch,
                    depth=depth,
                    first=hung.first,
                    loops=loop_of[here],
                    distance=_distances(hung.circuit),
                    flow=solution.flow[here],
                    supply_flow=solution.flow[here.start + rows : here.stop + rows],
                    return_flow=solution.flow[here.start + around : here.stop + around],
                    supply=supply,
                    back=back,
                    far_supply=supply - out[here] - shared[here],
                    far_back=back + home[here] + shared[here],
                    inlet=inlet,
                    outlet=outlet,
                )
            )
    return tuple(found)


def _distances(circuit: Circuit) -> Array:
    """Of each open branch along the flow header from the circuit's start [m]."""
    each = [(b.header_length, b.flows) for b in circuit.branches for _ in range(b.count)]
    lengths, flows = zip(*each, strict=True)
    return np.asarray(np.cumsum(lengths)[np.asarray(flows)])


def _along(drops: Array, first: int, here: slice, *, onward: bool = False) -> Array:
    """Running drop of a header up to each branch; ``onward`` from each branch to the end."""
    own = drops[first + here.start : first + here.stop]
    along: Array = np.cumsum(own[::-1])[::-1] if onward else np.cumsum(own)
    return along
