"""What pressure do array and plant take at flows below and above the duty's, and how even is it?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g

from hydraulics.pipework.friction import LARGEST_REYNOLDS
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.drops import largest_reynolds
from hydraulics.split.imbalance import spread_of
from hydraulics.split.many import pressures_at
from hydraulics.split.state import Solution

Array = NDArray[np.float64]

SPAN: Final = (0.2, 1.5)  # of the duty's flow, at the ends of the curve
_POINTS: Final = (6, 4)  # up to the duty's flow, which is one of them, and beyond it


@dataclass(frozen=True, slots=True)
class Curve:
    """The system curve: pressure of array and plant against flow.

    Attributes
    ----------
    volume_flow
        [m³/s] at the mean temperature.
    pressure, head
        [Pa], [m of the mixture].
    spread
        Largest less smallest deviation of a loop's flow from its target's share of the whole [-].
    """

    volume_flow: Array
    pressure: Array
    head: Array
    spread: Array


@dataclass(frozen=True, slots=True)
class Around:
    """An array at parts of the duty's flow [-]: pressures [Pa] and loops' flows [kg/s]."""

    part: Array
    pressure: Array
    loop_flow: Array


def parts_around(network: Network, solution: Solution) -> Array:
    """Flows of the curve's points but the duty's own, as parts of that; the flow is more than 0."""
    # The law's end, and that of the heat exchanger's data, must not be passed on the way to the
    # curve's last point.
    last = min(SPAN[1], max(1.0, LARGEST_REYNOLDS / largest_reynolds(network, solution)))
    if network.exchanger is not None:
        density = network.fluids[IN_LOOP].density
        last = min(last, max(1.0, network.exchanger.furthest * density / solution.total))
    below, beyond = _POINTS
    part = np.linspace(SPAN[0], 1.0, below)[:-1]
    if last > 1.0:
        part = np.append(part, np.linspace(1.0, last, beyond + 1)[1:])
    return part


def system_curve(
    network: Network, solution: Solution, share: Array, around: Around | None = None
) -> Curve:
    """Pressure of array and plant at the duty's flow and around it, solved anew at each.

    Parameters
    ----------
    network, solution
        The array and its solution at the duty.
    share
        Of the whole flow that each loop should have.
    around
        Flows around the duty's, where they were solved already.

    Returns
    -------
    Curve
        Flow, pressure and spread; empty where nothing flows.
    """
    if solution.total == 0.0:
        none = np.zeros(0)
        return Curve(none, none, none, none)
    if around is None:
        part = parts_around(network, solution)
        around = Around(part, *pressures_at(network, solution.total * part, solution))
    below = _POINTS[0]
    density = network.fluids[IN_LOOP].density
    here = solution.array_drop + solution.run_drop + solution.exchanger_drop
    part = np.insert(around.part, below - 1, 1.0)
    pressure = np.insert(around.pressure, below - 1, here)
    flows = np.insert(around.loop_flow, below - 1, solution.flow[network.loop_rows], axis=0)
    deviation = flows / (solution.total * np.outer(part, share)) - 1.0
    spread = np.asarray([spread_of(each) for each in deviation])
    return Curve(solution.total * part / density, pressure, pressure / (density * g), spread)
