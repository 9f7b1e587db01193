"""How much antifreeze and water fill the array, and how is the strength checked?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy as sp

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError, RangeError
from hydraulics.findings import COMMON_PRACTICE, Finding, above_freezing, figures
from hydraulics.fluid.antifreezes import FREEZING_WATER_C, KINDS, PURE_DENSITY, Basis
from hydraulics.fluid.mixture import (
    Mixture,
    fluid,
    freezing_margin,
    freezing_point,
    freezing_spread,
    mass_fraction_of,
    mixture,
    water,
)
from hydraulics.split.brine import BrineRange

_POINTS: Final = 0.05  # by mass; published densities of one strength differ by up to so much
_ALIKE: Final = 1.5  # K between freezing points of sample and design; this project's own
_WATER_ALIKE: Final = 1.5  # kg/m³; the fits miss water by 1, a hydrometer is read to 0.5 or 1
_MEASURED_C: Final = 20.0  # degC at which volumes before mixing are measured, as in antifreezes.py
_SAME: Final = 1e-6  # of a strength; a premix of the design's own
SIZES: Final = (0.020, 0.200, 1.0)
"""Containers that antifreeze is sold in [m³] (common practice, no source: ask the supplier)."""

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
class Bought:
    """Antifreeze as it is bought: pure, a concentrate, or a premix of the design's own strength.

    Attributes
    ----------
    fraction, basis
        Strength, more than 0 and at most 1, as :func:`~hydraulics.fluid.mixture.mixture` has it.
    sizes
        Contents of the containers on offer [m³]; None for :data:`SIZES` where its litres are known.
    """

    fraction: float
    basis: Basis
    sizes: tuple[float, ...] | None = None


PURE: Final = Bought(1.0, "mass", ())


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
        Antifreeze as it is bought, and water to pour to it [kg]; they add up to the mass.
    antifreeze_volume, water_volume
        Before mixing, at 20 degC [m³]; the antifreeze's is None for a salt that is weighed. They
        add up to more or less than the volume: mixtures shrink, and the filling temperature is
        another.
    bought_mass_fraction
        Strength of the antifreeze as it is bought.
    containers
        Contents [m³] and number of each size to buy, the largest first.
    left_over
        What they hold beyond it [m³].
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
    bought_mass_fraction: float = 1.0
    containers: tuple[tuple[float, int], ...] = ()
    left_over: float = 0.0


def filling(mix: Mixture, volume: float, temperature: float, bought: Bought = PURE) -> Filling:
    """Antifreeze and water for a volume of mixture at the filling temperature.

    Parameters
    ----------
    volume
        To fill [m³], 0 or more. No margin is added: put losses into it.
    temperature
        Filling temperature [degC].
    bought
        What the antifreeze is bought as.

    Raises
    ------
    InputError
        The volume is negative or not finite, or the mixture cannot be made of what is bought.
    RangeError
        The temperature is outside the mixture's range.
    """
    refuse(number_fault("volume", volume * 1e3, "L", at_least=0.0))
    strength = 1.0 if mix.kind == "water" and bought is PURE else _bought_fraction(mix, bought)
    state = fluid(mix, temperature)
    mass = state.density * volume
    water_mass = mass * (1.0 - mix.mass_fraction / strength)
    antifreeze_mass = mass - water_mass
    density = _bought_density(mix.kind, strength)
    if bought.sizes and density is None:
        raise InputError(
            Fault(
                "bought.sizes",
                f"are litres, and {mix.kind} of {figures(100.0 * strength, 4)} % by mass is "
                "weighed, since its density is not known here; leave the containers out",
                None,
                "left out",
            )
        )
    antifreeze_volume = None if density is None else antifreeze_mass / density
    sizes = SIZES if bought.sizes is None and antifreeze_volume else bought.sizes
    containers = containers_for(antifreeze_volume or 0.0, sizes) if sizes else ()
    held = math.fsum(size * count for size, count in containers)
    return Filling(
        temperature=temperature,
        volume=volume,
        mass=mass,
        antifreeze_mass=antifreeze_mass,
        water_mass=water_mass,
        antifreeze_volume=antifreeze_volume,
        water_volume=water_mass / PURE_DENSITY["water"],
        freezing_point=state.freezing_point_c,
        bought_mass_fraction=strength,
        containers=containers,
        left_over=max(held - antifreeze_volume, 0.0) if containers and antifreeze_volume else 0.0,
    )


def _bought_fraction(mix: Mixture, bought: Bought) -> float:
    """Strength of what is bought, by mass; refuses what the mixture cannot be made of."""
    kind, fraction = KINDS[mix.kind], bought.fraction
    refuse(
        Fault(
            "bought.fraction", f"is {fraction * 1e2:g} %; a strength is more than 0 % and at most"
            " 100 %", fraction * 1e2, "more than 0 % and at most 100 %",
        )
        if not 0.0 < fraction <= 1.0
        else None
    )  # fmt: skip
    if mix.kind == "water":
        text = "plain water is filled, which takes no antifreeze; leave out what is bought"
        raise InputError(Fault("bought", text, None, "left out for water"))
    if bought.basis == "volume":
        if not kind.by_volume:
            text = f"{mix.kind} is a salt: a strength by volume has no meaning; give it by mass"
            raise InputError(Fault("bought.basis", text, bought.basis, "mass"))
        fraction = mass_fraction_of(mix.kind, fraction)
    if fraction >= mix.mass_fraction * (1.0 + _SAME):
        return fraction
    if fraction >= mix.mass_fraction * (1.0 - _SAME):
        return mix.mass_fraction
    least = mix.mass_fraction if bought.basis == "mass" else mix.volume_fraction or 0.0
    raise InputError(
        Fault(
            "bought.fraction",
            f"is {figures(1e2 * bought.fraction, 6)} % by {bought.basis}, weaker than the "
            f"mixture to be made, {figures(1e2 * least, 6)} %: no water makes it stronger; buy a "
            "premix of that strength or something stronger",
            bought.fraction * 1e2,
            f"{figures(1e2 * least, 6)} to 100 %",
        )
    )


def _bought_density(kind: str, fraction: float) -> float | None:
    """Density of antifreeze as it is bought, at 20 degC [kg/m³]; None of a salt that is weighed.

    Beyond the correlation a liquid's shrinkage on mixing is taken to fall in a straight line to
    none of the pure liquid, which is within about 1 % of handbooks.
    """
    most = KINDS[kind].max_mass_fraction
    if fraction <= most:
        return fluid(mixture(kind, fraction, "mass"), _MEASURED_C).density
    if kind not in PURE_DENSITY:
        return None

    def unmixed(share: float) -> float:
        return 1.0 / (share / PURE_DENSITY[kind] + (1.0 - share) / PURE_DENSITY["water"])

    shrinks = fluid(mixture(kind, most, "mass"), _MEASURED_C).density / unmixed(most) - 1.0
    return unmixed(fraction) * (1.0 + shrinks * (1.0 - fraction) / (1.0 - most))


def containers_for(volume: float, sizes: tuple[float, ...]) -> tuple[tuple[float, int], ...]:
    """Contents [m³] and number of the containers that hold a volume, the largest first.

    Little is left over, and of choices that leave as much they are the fewest.
    """
    largest, *rest = sorted(set(sizes), reverse=True)
    whole = volume / largest
    if not rest:
        count = max(0, math.ceil(whole - 1e-9))
        return ((largest, count),) if count else ()
    choices = []
    for count in range(max(0, math.floor(whole) - 2), math.ceil(whole - 1e-9) + 1):
        others = containers_for(max(volume - count * largest, 0.0), tuple(rest))
        choices.append((((largest, count),) if count else ()) + others)
    return min(
        choices,
        key=lambda each: (
            round(math.fsum(size * count for size, count in each), 9),
            sum(count for _, count in each),
        ),
    )


def water_findings(mix: Mixture, fill: Filling) -> Iterator[Finding]:
    """Which water to mix with, and how."""
    if mix.kind == "water" or fill.water_mass <= _SAME * fill.mass:
        return
    yield Finding(
        "filling_water", "info",
        "Mix with demineralised or distilled water, or with water of less than 100 mg/L of hardness"
        " (as CaCO3), 25 mg/L of chloride and 25 mg/L of sulphate; the antifreeze's data sheet goes"
        " first. Mix in a tank and take its strength before it is filled in: what is poured into"
        " standing pipe does not mix. Water left from purging thins it: drive that out with"
        " mixture, and take a sample of what comes back.",
        "a public manual for heating with glycol (read); mixing: " + COMMON_PRACTICE,
    )  # fmt: skip


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
    found = sp.optimize.brentq(lambda x: density_of(x) - density, low, high, xtol=1e-9)
    return mixture(kind, min(max(float(found), low), high), "mass")


def other_sample_finding(
    kind: str, density: float, temperature: float, coldest: float | None
) -> Finding:
    """Tell of a sample whose density is that of no strength of its antifreeze.

    Parameters
    ----------
    kind, density, temperature
        As :func:`strength_from_density` refuses them.
    coldest
        Coldest brine of the job [degC]; None where not known.
    """
    plain = fluid(water(), temperature).density
    low, high = sorted(
        fluid(mixture(kind, end, "mass"), temperature).density
        for end in (KINDS[kind].min_mass_fraction, KINDS[kind].max_mass_fraction)
    )
    text = f"The sample's {figures(density, 5)} kg/m³ at {figures(temperature)} °C"
    if abs(density - plain) <= _WATER_ALIKE:
        text += (
            f" is that of plain water, {figures(plain, 5)} kg/m³: no {kind.replace('_', ' ')} is in"
            " it, and it freezes at 0 °C"
        )
        if coldest is not None and coldest <= FREEZING_WATER_C:
            text += f", where the brine is at {coldest:.1f} °C: ice would burst the heat exchanger"
        todo = "See that it was read right, add the antifreeze or circulate until it is mixed"
    else:
        text += (
            f" belongs to no strength of {kind.replace('_', ' ')} that is known here,"
            f" {figures(low, 5)} to {figures(high, 5)} kg/m³, so that nothing is known of when it "
            "freezes"
        )
        todo = "See what is in the circuit, and that hydrometer and temperature were read right"
    return Finding(
        "sample_of_other_fluid", "error",
        f"{text}. {todo}, and take another sample; do not run the heat pump before.",
        "density as in the design, and of water by IAPWS-IF97",
    )  # fmt: skip


def sample_findings(
    sample: Mixture, design: Mixture, brine: BrineRange, asked: float
) -> Iterator[Finding]:
    """Tell of a sample that protects too little, or that is much more viscous than the design.

    Parameters
    ----------
    sample, design
        The mixture as found by its density, and as designed.
    brine
        The job's brine: at its coldest it must not freeze, and its viscosity is told at the mean of
        the duty.
    asked
        How far it is to stay above freezing [K].
    """
    coldest, mean = brine.coldest.coldest, brine.duty.mean
    margin = freezing_margin(sample, coldest)
    freezes = freezing_point(sample)
    weaker = freezes - freezing_point(design)
    spread = freezing_spread(sample)
    if margin > 0.0 and sample.mass_fraction > design.mass_fraction + _POINTS:
        thicker = fluid(sample, mean).viscosity / fluid(design, mean).viscosity
        todo = "replace some of the mixture by water, or design again with what is in it"
        enough = asked + freezing_spread(design)
        if freezing_margin(design, coldest) < enough:
            todo = (
                f"do not thin it: {brine.coldest.is_at(coldest)} {coldest:.1f} °C, and the mixture "
                f"of the design freezes at {freezing_point(design):.1f} °C, where "
                f"{figures(enough)} K between them are asked for. Design again with what is in it, "
                "or with brine that stays warmer"
            )
        yield Finding(
            "sample_too_strong", "warning",
            f"The sample is {figures(100.0 * sample.mass_fraction)} % by mass, the mixture of "
            f"the design {figures(100.0 * design.mass_fraction)} %: at {figures(mean)} °C it is "
            f"{figures(thicker, 2)} times as viscous, so that pump, flow split and the heat that "
            "the loops take up are not those of the design. Check the sample and its "
            f"temperature, and {todo}.",
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
        near = above_freezing(coldest, margin, asked, spread)
        text += f" By the sample, {near[0].lower()}{near[1:]}"
        if brine.coldest is not brine.duty:
            text += f" So cold is the brine {brine.coldest.where}."
        todo += ", circulate until it is mixed and take another; do not run the heat pump before"
    yield Finding(
        "sample_too_weak", "error" if margin < asked + spread else "warning",
        f"{text} {todo}.",
        "spread of published freezing points; the margin itself is " + COMMON_PRACTICE,
    )  # fmt: skip
