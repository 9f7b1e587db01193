"""How much antifreeze and water fill the array, and how is the strength checked?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import brentq

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, RangeError
from hydraulics.findings import COMMON_PRACTICE, Finding, above_freezing
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import (
    Mixture,
    fluid,
    freezing_margin,
    freezing_point,
    freezing_spread,
    mixture,
    water,
)

_POINTS: Final = 0.05  # by mass; published densities of one strength differ by up to so much
_ALIKE: Final = 1.5  # K between freezing points of sample and design; this project's own
_WATER_C: Final = 20.0  # degC at which volumes before mixing are measured, as in antifreeze.py

REFRACTOMETER: Final = (
    "No refractometer relation is given: refractive index against mass % is tabulated at 20 °C in"
    " the CRC Handbook (concentrative properties of aqueous solutions) for ethylene glycol,"
    " glycerol, ethanol, methanol, potassium carbonate and calcium chloride, but its numbers were"
    " not read. Use the"
    " refractometer scale that belongs to the very product, or the density (hydrometer) relation"
    " here; alcohols bend light too little and not steadily, so a glycol scale misreads them."
)
"""Why a strength cannot be had here from a refractometer reading, in words."""


HANDLING: Final = (
    "Handling antifreeze: outdoors or well ventilated, away from ignition where it burns, with the"
    " gloves and goggles of its safety data sheet; catch every spill, and let local codes rule."
)


@dataclass(frozen=True, slots=True)
class Filling:
    """What to pour together to fill a volume with a mixture.

    Attributes
    ----------
    temperature
        Of the fluid when it fills the volume [degC].
    volume, mass
        Of the mixture at that temperature [m³; kg].
    antifreeze_mass, water_mass
        [kg]; they add up to the mass.
    antifreeze_volume, water_volume
        Before mixing, at 20 degC [m³]; the antifreeze's is None for a salt, which is weighed. They
        add up to more or less than the volume: mixtures shrink, and the filling temperature is
        another.
    freezing_point
        Of the mixture [degC].
    """

    temperature: float
    volume: float
    mass: float
    antifreeze_mass: float
    water_mass: float
    antifreeze_volume: float | None
    water_volume: float
    freezing_point: float


def filling(mix: Mixture, volume: float, temperature: float) -> Filling:
    """Antifreeze and water for a volume of mixture at the filling temperature.

    Parameters
    ----------
    volume
        To fill [m³], 0 or more. No margin is added: put losses into it.
    temperature
        Filling temperature [degC].

    Raises
    ------
    InputError
        The volume is negative or not finite.
    RangeError
        The temperature is outside the mixture's range.
    """
    refuse(number_fault("volume", volume * 1e3, "L", at_least=0.0))
    state = fluid(mix, temperature)
    mass = state.density * volume
    water_mass = mass * (1.0 - mix.mass_fraction)
    water_volume = water_mass / fluid(water(), _WATER_C).density
    share = mix.volume_fraction
    return Filling(
        temperature=temperature,
        volume=volume,
        mass=mass,
        antifreeze_mass=mass * mix.mass_fraction,
        water_mass=water_mass,
        # The volume fraction is of the parts before mixing, so their ratio follows from it.
        antifreeze_volume=None if share is None else water_volume * share / (1.0 - share),
        water_volume=water_volume,
        freezing_point=state.freezing_point_c,
    )


def strength_from_density(kind: str, density: float, temperature: float) -> Mixture:
    """Strength of a sample from its density, as a hydrometer gives it.

    Parameters
    ----------
    kind
        A key of `KINDS`, not water.
    density
        Density of the sample [kg/m³].
    temperature
        Temperature of the sample when its density was taken [degC], at least 1.

    Returns
    -------
    Mixture
        The mixture of that density. A hydrometer read to 1 kg/m³ gives glycols within about 1 % by
        mass, salts within 0.2 %. Published densities differ by more: for propylene glycol, Lange's
        Handbook gives 20 to 40 % by volume densities that read 1 to 5 points less here, and
        inhibitors add a few kg/m³. Trust the product's own table first.

    Raises
    ------
    InputError
        Unknown kind or a number that is not finite.
    RangeError
        The density belongs to no strength of this kind, or density does not tell its strengths
        apart at this temperature.
    """
    refuse(
        number_fault("density", density, "kg/m³", above=0.0),
        number_fault("temperature", temperature, "°C", at_least=1.0),
    )
    known = KINDS.get(kind)
    low, high = (known.min_mass_fraction, known.max_mass_fraction) if known else (0.0, 0.0)
    mixture(kind, low, "mass")  # refuses an unknown kind with the nearest names

    def density_of(fraction: float) -> float:
        return fluid(mixture(kind, fraction, "mass"), temperature).density

    fractions = np.linspace(low, high, 41)
    steps = np.diff([density_of(float(x)) for x in fractions])
    if not (np.all(steps > 0.0) or np.all(steps < 0.0)):
        raise RangeError(
            Fault(
                "mixture.kind",
                f"density does not tell strengths of {kind} apart at {temperature:g} °C",
                kind,
                "a kind whose density rises or falls all the way with strength",
            )
        )
    ends = sorted((density_of(low), density_of(high)))
    if not ends[0] <= density <= ends[1]:
        allowed = f"{ends[0]:.1f} to {ends[1]:.1f} kg/m³ at {temperature:g} °C"
        raise RangeError(
            Fault(
                "density",
                f"no strength of {kind} within its correlation has this density; it spans"
                f" {allowed}. Check the sample's temperature and what is in it.",
                density,
                allowed,
            )
        )
    found = brentq(lambda x: density_of(x) - density, low, high, xtol=1e-9)
    return mixture(kind, min(max(float(found), low), high), "mass")


def sample_findings(
    sample: Mixture, design: Mixture, coldest: float, mean: float, asked: float
) -> Iterator[Finding]:
    """Tell of a sample that protects too little, or that is much more viscous than the design.

    Parameters
    ----------
    sample, design
        The mixture as found by its density, and as designed.
    coldest, mean
        Coldest brine of the duty, and its mean on the way out and back [degC].
    asked
        How far it is to stay above freezing [K].
    """
    margin = freezing_margin(sample, coldest)
    freezes = freezing_point(sample)
    weaker = freezes - freezing_point(design)
    spread = freezing_spread(sample)
    if margin > 0.0 and sample.mass_fraction > design.mass_fraction + _POINTS:
        thicker = fluid(sample, mean).viscosity / fluid(design, mean).viscosity
        yield Finding(
            "sample_too_strong", "warning",
            f"The sample is {100.0 * sample.mass_fraction:.3g} % by mass, the mixture of the design"
            f" {100.0 * design.mass_fraction:.3g} %: at {mean:.3g} °C it is {thicker:.2g} times as"
            " viscous, so that pump, flow split and the heat that the loops take up are not those"
            " of the design. Check the sample and its temperature, and replace some of the mixture"
            " by water, or design again with what is in it.",
            "viscosity as in the design; published densities differ by up to 5 points of strength",
        )  # fmt: skip
    if margin >= asked + spread and weaker <= _ALIKE:
        return
    text = (
        f"The sample freezes at {freezes:.1f} °C, the mixture of the design at"
        f" {freezing_point(design):.1f} °C."
    )
    todo = "Check the sample and its temperature, and add antifreeze"
    if margin < asked + spread:
        brine = above_freezing(coldest, margin, asked, spread)
        text += f" By the sample, {brine[0].lower()}{brine[1:]}"
        todo += ", circulate until it is mixed and take another; do not run the heat pump before"
    yield Finding(
        "sample_too_weak", "error" if margin < asked + spread else "warning",
        f"{text} {todo}.",
        "spread of published freezing points; the margin itself is " + COMMON_PRACTICE,
    )  # fmt: skip
