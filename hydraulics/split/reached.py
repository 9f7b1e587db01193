"""How near does an array come to the flows that its loops should have?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.drops import branch_flows, header_drops, loop_drops
from hydraulics.split.flow_split import circulating_duty, refuse_reynolds
from hydraulics.split.imbalance import spread_of
from hydraulics.split.result import CirculatingDuty
from hydraulics.split.solver import solve
from hydraulics.split.state import Drops, Solution

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Reached:
    """Flows of a solved array against its target.

    Attributes
    ----------
    network, solution
        The array and its solution.
    mass_flow
        Of each loop [kg/s].
    deviation
        From the loop's target, as a fraction of it [-].
    spread
        Largest less smallest deviation [-].
    within_tolerance
        True where every loop is within the tolerance of its target.
    duty
        What the circulating pump must do.
    """

    network: Network
    solution: Solution
    mass_flow: Array
    deviation: Array
    spread: float
    within_tolerance: bool
    duty: CirculatingDuty


def path_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop from the array's connections through each loop and back [Pa].

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its drops at any flows. In a solved array all paths are alike.

    Returns
    -------
    Array
        Of each loop [Pa].
    """
    through: Array = loop_drops(network, drops) + header_drops(network, drops)[network.loop_rows]
    return through


def reached(network: Network, solution: Solution, target: Array, tolerance: float) -> Reached:
    """Compare a solution with its target.

    Parameters
    ----------
    network, solution
        The array and its solution.
    target
        Mass flow that each loop should have [kg/s].
    tolerance
        Allowed deviation from it, as a fraction.

    Returns
    -------
    Reached
        Flows, spread and duty.
    """
    flow: Array = solution.flow[network.loop_rows]
    deviation = flow / target - 1.0
    return Reached(
        network=network,
        solution=solution,
        mass_flow=flow,
        deviation=deviation,
        spread=spread_of(deviation),
        within_tolerance=bool((np.abs(deviation) <= tolerance * (1.0 + 1e-9)).all()),
        duty=circulating_duty(solution, network.fluids[IN_LOOP]),
    )


def solve_near(network: Network, target: Array, tolerance: float) -> Reached:
    """Solve an array at the target's total flow, starting from the target.

    Parameters
    ----------
    network
        The assembled array.
    target
        Mass flow that each loop should have [kg/s].
    tolerance
        Allowed deviation from it, as a fraction.

    Returns
    -------
    Reached
        What the array does at that total flow.

    Raises
    ------
    RangeError
        A pipe's Reynolds number is beyond the friction law.
    """
    solution = solve(network, float(target.sum()), start=branch_flows(network, target))
    refuse_reynolds(network, solution)
    return reached(network, solution, target, tolerance)
