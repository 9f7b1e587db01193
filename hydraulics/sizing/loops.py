"""How many equal loops carry the array's flow at a sane pressure drop, and what is each made of?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from hydraulics.errors import Fault, InputError, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.legs import Leg, Straight
from hydraulics.pipework.friction import friction_number
from hydraulics.sizing.choice import ArrayChoice, LoopLimits


@dataclass(frozen=True, slots=True)
class LoopHydraulics:
    """One loop at the peak's flow, all loops alike.

    Attributes
    ----------
    mass_flow, volume_flow
        [kg/s], [m3/s]
    velocity, reynolds
        In its longest section [m/s], [-].
    drop
        Of the loop, without header and plant [Pa].
    """

    mass_flow: float
    volume_flow: float
    velocity: float
    reynolds: float
    drop: float


def rounded_up(choice: ArrayChoice, length: float) -> float:
    """Return the length of one loop's trench, bore or mat pipe as it can be made [m].

    Whole coils, whole mats, decimetres of straight trench, whole metres of borehole.
    """
    # 463 decimetres are 46.3 m, not 46.300000000000004 m.
    return round(max(1, math.ceil(length / choice.step - 1e-9)) * choice.step, 9)


def loop_of(choice: ArrayChoice, length: float, tail: float) -> Loop:
    """Return one loop: what gathers heat, and its tails.

    Parameters
    ----------
    choice
        Kind of array.
    length
        Of its trench, active bore or mat pipe [m], as :func:`rounded_up`.
    tail
        Pipe from the manifold, one way [m].
    """
    gathering = choice.leg(length)
    legs: tuple[Leg, ...] = (gathering,)
    if tail:
        legs = (Straight(tail), gathering, Straight(tail))
    try:
        return Loop(choice.letter, choice.pipe, legs)
    except InputError as error:  # a leg's quantity is asked for under the same name
        raise InputError(
            *(replace(each, field=each.field.rpartition(".")[2]) for each in error.faults)
        ) from None


def loop_hydraulics(loop: Loop, mass_flow: float, brine: Fluid) -> LoopHydraulics:
    """Return flow, velocity and pressure drop of one loop, by the solver's friction law.

    Parameters
    ----------
    loop
        The loop.
    mass_flow
        [kg/s]
    brine
        Properties at the mean brine temperature.
    """
    sections = loop.sections
    bore = np.array([s.pipe.bore for s in sections])
    length = np.array([s.length for s in sections])
    each = mass_flow / np.array([s.parallel for s in sections])
    reynolds = 4.0 * each / (math.pi * bore * brine.viscosity)
    rough = np.array([s.pipe.roughness for s in sections]) / bore
    number, _ = friction_number(reynolds, rough, np.array([s.curvature for s in sections]))
    # dp = f (L/d) rho v^2/2 with G = f Re^2: G L mu^2 / (2 rho d^3).
    drop = number * length * brine.viscosity**2 / (2.0 * brine.density * bore**3)
    main = loop.main_section
    velocity = each[main] / (brine.density * sections[main].pipe.bore_area)
    return LoopHydraulics(
        mass_flow=mass_flow,
        volume_flow=mass_flow / brine.density,
        velocity=float(velocity),
        reynolds=float(reynolds[main]),
        drop=float(drop.sum()),
    )


def practical_loops(
    total: float,
    mass_flow: float,
    brine: Fluid,
    choice: ArrayChoice,
    *,
    limits: LoopLimits,
    longest: float,
) -> int:
    """Return the least number of equal loops that keeps drop, velocity and length practical.

    Parameters
    ----------
    total
        Trench, bore or mat pipe in all [m].
    mass_flow
        Of the whole array [kg/s].
    brine
        Properties at the mean brine temperature.
    choice, limits
        Kind of array, and what makes a loop practical.
    longest
        Longest trench, bore or mat pipe of one loop [m].

    Raises
    ------
    NoSolutionError
        Where even thousands of loops do not do it.
    """

    def practical(count: int) -> bool:
        each = rounded_up(choice, total / count)
        if each > longest * (1.0 + 1e-9):
            return False
        loop = loop_of(choice, each, limits.tail)
        if limits.longest_pipe is not None and loop.length > limits.longest_pipe:
            return False
        found = loop_hydraulics(loop, mass_flow / count, brine)
        return found.drop <= limits.largest_drop and found.velocity <= limits.largest_velocity

    return least_count(practical, limits.most_loops)


def least_count(practical: Callable[[int], bool], most: int) -> int:
    """Return the least count that is practical, which more loops never undo.

    Raises
    ------
    NoSolutionError
        Beyond `most`.
    """
    low, high = 0, 1
    while not practical(high):
        low, high = high, min(2 * high, most)
        if low >= most:
            raise NoSolutionError(
                Fault(
                    "loops",
                    f"more than {most} loops would be needed to keep the limits on a loop's "
                    "length, velocity and pressure drop; relax them or take wider pipe",
                    None,
                    f"up to {most} loops",
                )
            )
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if practical(middle) else (middle, high)
    return high


def circuit_of(loop: Loop, count: int) -> Circuit:
    """Return the array: equal loops on one manifold, ready for the flow split."""
    return Circuit("manifold", (Branch(loop, count=count),), name="array")
