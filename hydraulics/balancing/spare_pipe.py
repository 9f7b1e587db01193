"""How much pipe must be added to each short loop for all to take their flow?

At the flows wanted, a metre of coiled pipe takes a known drop, so the lengths follow from what each
loop's path takes less than the index path. No loop is ever cut.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.errors import Fault, InputError
from hydraulics.findings import figures
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.edit import one_by_one, with_added
from hydraulics.layout.legs import Coiled
from hydraulics.layout.walk import walk
from hydraulics.pipework.friction import LARGEST_CURVATURE, friction_number
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.drops import branch_flows, drops_at
from hydraulics.split.reached import path_drops
from hydraulics.split.target import Target, target_flows

Array = NDArray[np.float64]
LEAST: Final = 1e-6  # m; less spare pipe than this is rounding
MOST_STEPS: Final = 400


def spare_lengths(
    network: Network,
    target: Target,
    total: float,
    coil_diameter: float,
    length_step: float = 0.0,
) -> tuple[Array, bool]:
    """Length of coiled pipe to add to each loop so that every path drops alike.

    Parameters
    ----------
    network
        The assembled array.
    target
        What flow each loop should have; by length, of the loops with their spare pipe.
    total
        Mass flow of the array [kg/s], more than 0.
    coil_diameter
        Diameter of the coil that the spare pipe is left in [m].
    length_step
        Lengths are rounded to whole multiples of it [m]; 0: not rounded.

    Returns
    -------
    length, found
        Of the loop's own pipe [m]; 0 for the index loop, never negative. False where flow by
        length is wanted and no lengths were found that agree with it: they are then the nearest.

    Raises
    ------
    InputError
        The coil is too tight for some loop's pipe; field ``coil_diameter``.
    """
    pipes = [loop.pipe for loop in network.loops]
    bore = np.asarray([pipe.bore for pipe in pipes])
    tightest = float(bore.max()) / LARGEST_CURVATURE
    if not tightest <= coil_diameter < np.inf:
        raise InputError(
            Fault(
                "coil_diameter",
                "the coil is too tight for the pipe; coil friction is published for coils of 7 "
                "bores and more",
                coil_diameter,
                f"{figures(tightest)} m or more",
            )
        )
    if not 0.0 <= length_step < np.inf:
        raise InputError(Fault("length_step", "must be 0 or more", length_step, "0 or more"))
    brine = network.fluids[IN_LOOP]
    roughness = np.asarray([pipe.roughness for pipe in pipes]) / bore
    own = np.asarray([loop.length for loop in network.loops])

    def needed(wanted: Array) -> Array:
        reynolds = 4.0 * wanted / (np.pi * bore * brine.viscosity)
        number, _ = friction_number(reynolds, roughness, bore / coil_diameter)
        per_metre = number * brine.viscosity**2 / (2.0 * brine.density * bore**3)
        path = path_drops(network, drops_at(network, branch_flows(network, wanted), total))
        return np.asarray((path.max() - path) / per_metre)

    length, found = needed(target_flows(network, total, target)), True
    if target == "length":
        length, found = _of_flow_by_length(needed, own, total)
    if length_step:
        length = np.round(length / length_step) * length_step
    return np.where(length > LEAST, length, 0.0), found


def _of_flow_by_length(
    needed: Callable[[Array], Array], own: Array, total: float
) -> tuple[Array, bool]:
    """Spare pipe that a flow in proportion to the length with it asks for, and whether found.

    More of it raises both the drop of a metre and the flow, so that half a step does not run past
    the solution where friction grows with flow to the power 1 to 2. Between laminar and turbulent
    it grows faster: a loop that runs past takes shorter steps from there on.
    """
    length, last = np.zeros_like(own), np.zeros_like(own)
    share = np.full_like(own, 0.5)
    for _ in range(MOST_STEPS):
        whole = own + length
        off = needed(total * whole / whole.sum()) - length
        if float(np.abs(off).max()) <= LEAST:
            return length, True
        past = (off * last < 0.0) & (np.abs(off) > 0.25 * np.abs(last))
        share = np.where(past, 0.5 * share, np.minimum(1.1 * share, 0.5))
        length = length + share * off
        last = off
    return length, False


def with_spare_pipe(circuit: Circuit, length: Array, coil_diameter: float) -> Circuit:
    """The same array with coiled pipe added at the end of its loops.

    Parameters
    ----------
    circuit
        The array.
    length
        Pipe to add to each loop, in the order of results [m]; 0 or more.
    coil_diameter
        Diameter of the coils [m].

    Returns
    -------
    Circuit
        With equal branches written out, since equal loops along a header need unequal lengths.
    """
    single = one_by_one(circuit)
    added = zip(walk(single).places, length.tolist(), strict=True)
    return with_added(
        single, legs={place: Coiled(more, coil_diameter) for place, more in added if more > 0.0}
    )
