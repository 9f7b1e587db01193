"""What is one of an array's equal loops made of, and what does it drop?"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from hydraulics.errors import InputError
from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.legs import Leg, Straight
from hydraulics.pipework.friction import friction_number
from hydraulics.sizing.choice import ArrayChoice


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


def circuit_of(loop: Loop, count: int) -> Circuit:
    """Return the array: equal loops on one manifold, ready for the flow split."""
    return Circuit("manifold", (Branch(loop, count=count),), name="array")
