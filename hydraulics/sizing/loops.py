"""What is one of an array's equal loops made of, and what does it drop?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from hydraulics.fluid.mixture import Fluid
from hydraulics.groundworks.rules import DEPTH_SLACK
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.legs import BoreholeU, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.layout.walk import flowing
from hydraulics.pipework.friction import friction_number
from hydraulics.sizing.choice import ArrayChoice, BoreholeArray


@dataclass(frozen=True, slots=True)
class LoopHydraulics:
    """One loop at the peak's flow, all loops alike.

    Attributes
    ----------
    mass_flow, volume_flow
        [kg/s], [m3/s]
    velocity, reynolds
        In the pipe that gathers its heat [m/s], [-].
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
    return Loop(choice.letter, choice.pipe, legs)


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
    main = loop.gathering_section
    velocity = each[main] / (brine.density * sections[main].pipe.bore_area)
    return LoopHydraulics(
        mass_flow=mass_flow,
        volume_flow=mass_flow / brine.density,
        velocity=float(velocity),
        reynolds=float(reynolds[main]),
        drop=float(drop.sum()),
    )


def laid(circuit: Circuit, choice: ArrayChoice) -> float:
    """Trench, active borehole or mat pipe of a kind in the loops that are open [m]; 0: none."""
    return sum(count * sum(own) for own, count in _lengths(circuit, choice))


def lengths_laid(circuit: Circuit, choice: ArrayChoice) -> tuple[list[float], list[float]]:
    """Lengths that :func:`laid` adds up, one by one and by loop, longest first [m]."""
    ones, loops = [], []
    for own, count in _lengths(circuit, choice):
        ones += own * count
        loops += [sum(own)] * (count if own else 0)
    return sorted(ones, reverse=True), sorted(loops, reverse=True)


def _lengths(circuit: Circuit, choice: ArrayChoice) -> Iterator[tuple[list[float], int]]:
    """Lengths of a kind in every open loop [m], and how many such loops there are."""
    kind = type(choice.leg(10.0 * choice.step))
    for each in flowing(circuit):
        if (loop := each.loop) is not None:
            own = [_laid_in(leg, choice, loop) for leg in loop.legs if isinstance(leg, kind)]
            yield own, each.count


def count_of(circuit: Circuit, choice: ArrayChoice) -> tuple[int, float]:
    """What a kind's length is shared by in open loops, and the longest way of a tail to one [m].

    Loops that have something of the kind; boreholes one by one, as those in series of one loop
    have each its own ground.
    """
    kind = type(choice.leg(10.0 * choice.step))
    found, way = 0, 0.0
    for each in flowing(circuit):
        if (loop := each.loop) is None:
            continue
        own = sum(isinstance(leg, kind) for leg in loop.legs)
        if own:
            tails = sum(leg.length for leg in loop.legs if isinstance(leg, Straight))
            found += each.count * (own if isinstance(choice, BoreholeArray) else 1)
            way = max(way, 0.5 * tails)
    return found, way


def loops_of_kind(circuit: Circuit, choice: ArrayChoice) -> tuple[int, int]:
    """Open loops that have something of a kind, and those that have nothing of it."""
    kind = type(choice.leg(10.0 * choice.step))
    found = [0, 0]
    for each in flowing(circuit):
        if (loop := each.loop) is not None:
            found[not any(isinstance(leg, kind) for leg in loop.legs)] += each.count
    return found[0], found[1]


_MEASURES: Final[dict[type, tuple[tuple[str, str], ...]]] = {
    Slinky: (
        ("upright", "coils laid {}"),
        ("coil_diameter", "coils of {} m"),
        ("pitch", "a pitch of {} m"),
        ("depth", "a depth of {} m"),
    ),
    TrenchPasses: (
        ("passes", "{} passes"),
        ("spacing", "passes {} m apart"),
        ("depth", "a depth of {} m"),
    ),
    PondMat: (
        ("inner_diameter", "mats from {} m inside"),
        ("outer_diameter", "mats {} m across"),
        ("spacing", "turns {} m apart"),
    ),
    BoreholeU: (("u_tubes", "{} U-tubes"), ("diameter", "bores of {} m")),
}
"""What a length is sized for, of each kind of leg, and how it is said."""


def unlike_sized(
    circuit: Circuit, choice: ArrayChoice, trench_floor: float | None = None
) -> tuple[str, str] | None:
    """How the first open loop that is not made as it was sized is made, and as what it was sized.

    Parameters
    ----------
    trench_floor
        Depth of what pipe lies on in the trench that is dug [m]; it tells how deep legs lie that
        do not say so themselves.
    """
    sized: Leg = choice.leg(10.0 * choice.step)
    if isinstance(sized, BoreholeU) and isinstance(choice, BoreholeArray):
        sized = replace(sized, diameter=2.0 * choice.borehole_radius)
    for each in flowing(circuit):
        for leg in each.loop.legs if each.loop is not None else ():
            if each.loop is None or type(leg) is not type(sized):
                continue
            pipe = leg.pipe or each.loop.pipe
            wide, wanted = pipe.outside_diameter, choice.pipe.outside_diameter
            if abs(wide - wanted) > 1e-3 * wanted:
                return f"{wide * 1e3:g} mm pipe", f"{wanted * 1e3:g} mm pipe"
            for name, words in _MEASURES[type(sized)]:
                has, asked = getattr(leg, name), getattr(sized, name)
                if name == "depth" and has is None and trench_floor is not None:
                    has = trench_floor
                    if isinstance(leg, Slinky) and leg.upright:
                        has -= 0.5 * leg.coil_diameter
                slack = DEPTH_SLACK if name == "depth" else 1e-3 * float(asked or 0.0)
                if has is None or asked is None or abs(has - asked) <= slack:
                    continue
                if name == "upright":
                    has, asked = ("upright" if is_up else "flat" for is_up in (has, asked))
                else:
                    has, asked = (f"{value:.4g}" for value in (has, asked))
                return words.format(has), words.format(asked)
    return None


def _laid_in(leg: Leg, choice: ArrayChoice, loop: Loop) -> float:
    if isinstance(leg, Slinky | TrenchPasses):
        return leg.trench_length
    if isinstance(leg, BoreholeU) and isinstance(choice, BoreholeArray):
        return max(leg.depth - choice.buried, 0.0)
    return sum(section.length for section in leg.sections(leg.pipe or loop.pipe))


def circuit_of(loop: Loop, count: int) -> Circuit:
    """Return the array: equal loops on one manifold, ready for the flow split."""
    return Circuit("manifold", (Branch(loop, count=count),), name="array")
