"""How dense, viscous and conductive is this mixture, and when does it freeze?"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, get_args

import numpy as np

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError, RangeError
from hydraulics.fluid.antifreezes import (
    FREEZING_WATER_C,
    KINDS,
    PRESSURE,
    PURE_DENSITY,
    ZERO_C,
    Antifreeze,
    Basis,
    Points,
    freezing_point_k,
    liquid_state,
)
from hydraulics.fluid.coolprop import PT_INPUTS

PLAIN_WATER: Final = 0.01  # of a mixture's mass; weaker ones freeze as water does
_CACHED_STATES: Final = 8192  # a few MB at most; a study over strengths and temperatures fits


@dataclass(frozen=True, slots=True)
class Mixture:
    """Water with a known strength of one antifreeze; make it with `mixture`.

    Attributes
    ----------
    kind
        A key of `KINDS`.
    mass_fraction
        kg of antifreeze per kg of mixture.
    volume_fraction
        Strength by volume, as `VOLUME_BASIS` defines it; None for a dissolved salt.
    """

    kind: str
    mass_fraction: float
    volume_fraction: float | None


@dataclass(frozen=True, slots=True)
class Fluid:
    """A mixture's properties at one temperature.

    Attributes
    ----------
    temperature_c
        Temperature, degC.
    density
        kg/m3.
    viscosity
        Dynamic viscosity, Pa s.
    specific_heat
        J/(kg K).
    conductivity
        Thermal conductivity, W/(m K).
    prandtl
        Prandtl number.
    freezing_point_c
        Freezing point of the mixture, degC.
    freezing_spread
        How much warmer other published data say that it freezes, K.
    more_viscous, less_viscous
        How much more and less viscous other published data say that it is, as fractions.
    """

    temperature_c: float
    density: float
    viscosity: float
    specific_heat: float
    conductivity: float
    prandtl: float
    freezing_point_c: float
    freezing_spread: float = 0.0
    more_viscous: float = 0.0
    less_viscous: float = 0.0


# --------------------------------------------------------------------------- strength: mass, volume


def _volume_fraction(kind: str, mass_fraction: float) -> float | None:
    """Volume fraction before mixing at 20 degC of a mass fraction; None for a dissolved salt."""
    if kind not in PURE_DENSITY:
        return None
    antifreeze = mass_fraction / PURE_DENSITY[kind]
    water = (1.0 - mass_fraction) / PURE_DENSITY["water"]
    return antifreeze / (antifreeze + water)


def mass_fraction_of(kind: str, volume_fraction: float) -> float:
    """Mass fraction of a volume fraction, 0 to 1, before mixing at 20 degC; not of a salt."""
    antifreeze = volume_fraction * PURE_DENSITY[kind]
    water = (1.0 - volume_fraction) * PURE_DENSITY["water"]
    return antifreeze / (antifreeze + water)


def _antifreeze(kind: str) -> Antifreeze:
    found = KINDS.get(kind)
    if found is None:
        near = difflib.get_close_matches(str(kind), KINDS, n=3, cutoff=0.4)
        hint = f"did you mean {' or '.join(near)}?" if near else "choose one of those allowed."
        raise InputError(
            Fault(
                "kind",
                f"no antifreeze is called {kind!r}; {hint}",
                kind,
                "one of " + ", ".join(KINDS),
            )
        )
    return found


def _percent_range(antifreeze: Antifreeze, basis: Basis) -> str:
    """Range of strengths in the caller's basis, rounded inwards so that both ends are accepted."""
    low, high = antifreeze.min_mass_fraction, antifreeze.max_mass_fraction
    if basis == "volume":
        low, high = (_volume_fraction(antifreeze.kind, end) or 0.0 for end in (low, high))
    low_percent = math.ceil(low * 1000.0 - 1e-6) / 10.0
    high_percent = math.floor(high * 1000.0 + 1e-6) / 10.0
    return f"{low_percent:g} to {high_percent:g} % by {basis}"


def mixture(kind: str, fraction: float, basis: Basis) -> Mixture:
    """Describe a mixture by its kind and strength.

    Parameters
    ----------
    kind
        A key of `KINDS`.
    fraction
        Strength, 0 to 1 (not percent), in the given basis; 0 for plain water.
    basis
        ``"mass"`` (kg per kg of mixture) or ``"volume"`` (as `VOLUME_BASIS` says).

    Returns
    -------
    Mixture
        The mixture with its strength in both bases.

    Raises
    ------
    InputError
        Unknown kind (the nearest are named) or basis, a strength that is not a finite number, or a
        volume basis for a salt.
    RangeError
        Strength outside the correlation; the range is in the caller's basis.
    """
    antifreeze = _antifreeze(kind)
    if basis not in get_args(Basis):
        raise InputError(Fault("basis", f"{basis!r} is not a basis.", basis, "mass or volume"))
    if basis == "volume" and not antifreeze.by_volume:
        raise InputError(
            Fault(
                "basis",
                f"{kind} is a salt, a solid before it is dissolved, so a strength by volume has no"
                " meaning; give it by mass.",
                basis,
                "mass",
            )
        )
    if not math.isfinite(fraction):
        raise InputError(
            Fault(
                "fraction",
                "the concentration must be a finite number.",
                fraction,
                _percent_range(antifreeze, basis),
            )
        )
    # Both conversions are monotonic on 0..1 only, so refuse the rest before converting.
    inside = 0.0 <= fraction <= 1.0
    mass_fraction = fraction
    if inside and basis == "volume":
        mass_fraction = mass_fraction_of(kind, fraction)
    slack = 1e-12  # so that the limit itself survives a change of basis
    low, high = antifreeze.min_mass_fraction, antifreeze.max_mass_fraction
    if not (inside and low - slack <= mass_fraction <= high + slack):
        allowed = _percent_range(antifreeze, basis)
        advice = (
            "plain water takes no antifreeze; give 0 or choose another kind."
            if kind == "water"
            else "choose a strength in this range or another kind."
        )
        raise RangeError(
            Fault(
                "fraction",
                f"{fraction * 100.0:g} % by {basis} of {kind} is outside the range of its"
                f" correlation, {allowed}; {advice}",
                fraction * 100.0,
                allowed,
            )
        )
    mass_fraction = min(max(mass_fraction, low), high)
    return Mixture(kind, mass_fraction, _volume_fraction(kind, mass_fraction))


def water() -> Mixture:
    """Plain water."""
    return mixture("water", 0.0, "mass")


# ----------------------------------------------------------------------------------------- freezing


@lru_cache(maxsize=_CACHED_STATES)
def freezing_point(mix: Mixture) -> float:
    """Give the temperature at which ice begins to form in a mixture.

    Returns
    -------
    float
        Freezing point, degC. It is a fit: published tables differ from it (`freezing_spread`), and
        at zero strength it may read up to 0.05 K off 0 degC.
    """
    antifreeze = _antifreeze(mix.kind)
    if antifreeze.coolprop_id is None:
        return FREEZING_WATER_C
    return freezing_point_k(antifreeze.coolprop_id, mix.mass_fraction) - ZERO_C


def freezing_spread(mix: Mixture) -> float:
    """How much warmer than `freezing_point` other published data say that a mixture freezes [K]."""
    return _between(_antifreeze(mix.kind).spread.freezing, mix.mass_fraction)


def _between(points: Points, at: float) -> float:
    xs, ys = zip(*points, strict=True)
    return float(np.interp(at, xs, ys))


def freezing_margin(mix: Mixture, coldest: float) -> float:
    """Give how far the coldest fluid is above the freezing point.

    Parameters
    ----------
    coldest
        Coldest temperature of the fluid anywhere in the circuit, degC.

    Returns
    -------
    float
        Margin to the correlation's freezing point, K; negative below it.

    Raises
    ------
    InputError
        A temperature that is not a finite number.
    """
    refuse(number_fault("temperature", coldest, "°C"))
    return coldest - freezing_point(mix)


# --------------------------------------------------------------------------------------- properties


@lru_cache(maxsize=_CACHED_STATES)
def fluid(mix: Mixture, temperature: float) -> Fluid:
    """Give a mixture's properties at one temperature.

    Parameters
    ----------
    mix
        The mixture.
    temperature
        degC; above the freezing point, up to the correlation's maximum.

    Returns
    -------
    Fluid
        Density, viscosity, specific heat, conductivity, Prandtl number and freezing point.

    Raises
    ------
    InputError
        Unknown kind or a temperature that is not a finite number.
    RangeError
        At or below the freezing point, or above the correlation's maximum temperature.

    Notes
    -----
    Two published fits of the same pure antifreeze usually differ by 0.2 % in density, 4 % in
    viscosity and 3 % in specific heat; inhibited products and the salts by more. What is known of
    each kind is in its `Antifreeze.source`.

    References
    ----------
    Å. Melinder, Properties of Secondary Working Fluids for Indirect Systems, IIR, 2010, as fitted
    by I. H. Bell et al., Ind. Eng. Chem. Res. 53 (2014) 2498-2508 (CoolProp).
    Water: IAPWS-IF97.
    """
    refuse(number_fault("temperature", temperature, "°C"))
    antifreeze = _antifreeze(mix.kind)
    freezing = freezing_point(mix)
    temperature_k = temperature + ZERO_C
    # Compared in kelvin, as the library compares, so that rounding cannot slip a frozen state in.
    frozen = temperature_k <= freezing + ZERO_C
    if frozen or temperature > antifreeze.max_temperature_c:
        low = math.ceil(freezing * 100.0) / 100.0
        high = math.floor(antifreeze.max_temperature_c * 100.0) / 100.0
        allowed = f"above {low:g} °C, up to {high:g} °C"
        strength = f"{mix.mass_fraction * 100.0:.4g} % by mass "
        name = mix.kind if mix.kind == "water" else strength + mix.kind
        more = "use a stronger mixture or a warmer fluid"
        if mix.kind == "water":
            more = "name an antifreeze, or use a warmer fluid"
        elif mix.mass_fraction < PLAIN_WATER:
            more = "a strength is given in per cent (a quarter is 25, not 0.25); " + more
        trouble = (
            f"at {temperature:g} °C {name} is at or below its freezing point of {low:g} °C:"
            f" properties hold {allowed}; {more}."
            if frozen
            else f"{temperature:g} °C is above the range of the correlation of {name}:"
            f" properties hold {allowed}; use a cooler fluid or another kind."
        )
        raise RangeError(Fault("temperature", trouble, temperature, allowed))
    state = liquid_state(antifreeze.coolprop_id)
    if antifreeze.coolprop_id is not None:
        state.set_mass_fractions([mix.mass_fraction])
    state.update(PT_INPUTS, PRESSURE, temperature_k)
    viscosity = float(state.viscosity())
    specific_heat = float(state.cpmass())
    conductivity = float(state.conductivity())
    return Fluid(
        temperature_c=temperature,
        density=float(state.rhomass()),
        viscosity=viscosity,
        specific_heat=specific_heat,
        conductivity=conductivity,
        prandtl=viscosity * specific_heat / conductivity,
        freezing_point_c=freezing,
        freezing_spread=freezing_spread(mix),
        more_viscous=_between(antifreeze.spread.more_viscous, temperature),
        less_viscous=antifreeze.spread.less_viscous,
    )
