"""What flows in the loops: the properties and the freezing point of water-antifreeze mixtures.

The mixtures are CoolProp's incompressible solutions, whose own composition is the mass fraction of
antifreeze. Strength may also be given by volume; see `VOLUME_BASIS` for what that means here.
"""

from __future__ import annotations

import difflib
import math
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Final, Literal, get_args

from CoolProp.CoolProp import (
    PQ_INPUTS,
    PT_INPUTS,
    AbstractState,
    ifraction_max,
    ifraction_min,
    iT_freeze,
)

from hydraulics.errors import Fault, InputError, RangeError

Basis = Literal["mass", "volume"]

VOLUME_BASIS: Final = (
    "Volume of pure antifreeze over the sum of the volumes of antifreeze and water before mixing,"
    " both at 20 °C. Alcohol tables often give volume over the volume of the finished mixture,"
    " which shrinks on mixing: the same ethanol mixture then reads about 1 percentage point more"
    " at 30 %."
)
"""What a concentration by volume means, in words."""

HAZARDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "toxic": "poisonous if swallowed; some also by breathing the vapour or through the skin",
        "flammable": "the concentrate, and the mixture at usual strengths when warm, can burn",
        "irritant": "the concentrate or its dust harms eyes and irritates skin",
        "corrosive": "attacks some metals of the circuit unless inhibited and kept free of air",
    }
)
"""Each hazard word used in `Antifreeze.hazards`, explained."""

_ZERO_C: Final = 273.15  # K, definition of the Celsius scale
_PRESSURE: Final = 2e5  # Pa absolute, a usual loop pressure; a few bar move no property by 0.1 %
_REFERENCE_C: Final = 20.0  # degC at which volumes before mixing are measured
_FREEZING_WATER_C: Final = 0.0  # degC at 1 atm
_CACHED_STATES: Final = 8192  # a few MB at most; a study over strengths and temperatures fits

# Density of the pure liquids at 20 degC, kg/m3, for the volume basis.
_PURE_DENSITY: Final[Mapping[str, float]] = MappingProxyType(
    {
        "water": 998.2,  # IAPWS-95
        "methanol": 791.0,  # de Reuck & Craven 1993, as evaluated by CoolProp
        "ethanol": 789.4,  # Schroeder et al. 2014, as evaluated by CoolProp
        "propylene_glycol": 1036.4,  # Eisenbach et al. 2021, as evaluated by CoolProp
        "ethylene_glycol": 1113.5,  # CRC Handbook of Chemistry and Physics, from memory
        "glycerol": 1261.3,  # CRC Handbook of Chemistry and Physics, from memory
    }
)


@dataclass(frozen=True, slots=True)
class Antifreeze:
    """One kind of antifreeze on offer: reference data.

    Attributes
    ----------
    kind
        Name used in requests.
    title
        Name for readers.
    coolprop_id
        Identifier of the incompressible solution in CoolProp; None for plain water.
    min_mass_fraction, max_mass_fraction
        Range of the correlation, kg of antifreeze per kg of mixture.
    min_temperature_c, max_temperature_c
        Coldest and warmest temperature that any strength of this kind reaches, degC. The coldest
        is the freezing point of the strongest mixture (the correlation's nominal -100 degC is
        below every freezing point, so it is no limit); each strength stops at its own freezing
        point.
    hazards
        Words of `HAZARDS` that apply.
    caution
        What to mind, and whom to ask, before choosing it.
    source
        Where the properties come from and how far sources differ.
    """

    kind: str
    title: str
    coolprop_id: str | None
    min_mass_fraction: float
    max_mass_fraction: float
    min_temperature_c: float
    max_temperature_c: float
    hazards: tuple[str, ...]
    caution: str
    source: str

    @property
    def by_volume(self) -> bool:
        """Whether a concentration by volume has a meaning (the salts are dissolved solids)."""
        return self.kind in _PURE_DENSITY


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
    """

    temperature_c: float
    density: float
    viscosity: float
    specific_heat: float
    conductivity: float
    prandtl: float
    freezing_point_c: float


# ----------------------------------------------------------------------------- CoolProp's states

_states = threading.local()  # a state object is changed by every evaluation: one set per thread


def _state(coolprop_id: str | None) -> Any:  # noqa: ANN401 (CoolProp ships no types)
    """Give this thread's state object of a solution, or of water when the id is None."""
    name = coolprop_id or "water"
    held: dict[str, Any] = _states.__dict__
    state = held.get(name)
    if state is None:
        # Water from IAPWS-IF97: it agrees with IAPWS-95 within 0.03 % in the liquid loops meet, at
        # an eighth of the time; the library's incompressible water is 0.3 % off in density and
        # 2 % in viscosity at 0 degC.
        state = (
            AbstractState("IF97", "Water")
            if coolprop_id is None
            else AbstractState("INCOMP", coolprop_id)
        )
        held[name] = state
    return state


def _freezing_point_k(coolprop_id: str, mass_fraction: float) -> float:
    state = _state(coolprop_id)
    state.set_mass_fractions([mass_fraction])
    return float(state.keyed_output(iT_freeze))


# ------------------------------------------------------------------------------- the kinds on offer

_SDS: Final = (
    "Follow the product's safety data sheet, local codes and the groundwater authority's rules;"
    " use a product inhibited for the metals in the circuit."
)
_MELINDER: Final = (
    "CoolProp's fit to Melinder, Properties of Secondary Working Fluids for Indirect Systems"
    " (IIR, 2010), solution {id}."
)


def _from_coolprop(
    kind: str, title: str, coolprop_id: str, hazards: tuple[str, ...], *advice: str
) -> Antifreeze:
    caution, spread = advice
    state = _state(coolprop_id)
    weakest = float(state.trivial_keyed_output(ifraction_min))
    strongest = float(state.trivial_keyed_output(ifraction_max))
    coldest_k = max(_freezing_point_k(coolprop_id, strongest), float(state.Tmin()))
    return Antifreeze(
        kind=kind,
        title=title,
        coolprop_id=coolprop_id,
        min_mass_fraction=weakest,
        max_mass_fraction=strongest,
        min_temperature_c=round(coldest_k - _ZERO_C, 9),
        max_temperature_c=round(float(state.Tmax()) - _ZERO_C, 9),
        hazards=hazards,
        caution=f"{caution} {_SDS}",
        source=f"{_MELINDER.format(id=coolprop_id)} {spread}",
    )


def _plain_water() -> Antifreeze:
    state = _state(None)
    state.update(PQ_INPUTS, _PRESSURE, 0.0)  # it boils above this
    return Antifreeze(
        kind="water",
        title="Water",
        coolprop_id=None,
        min_mass_fraction=0.0,
        max_mass_fraction=0.0,
        min_temperature_c=_FREEZING_WATER_C,
        max_temperature_c=float(state.T()) - _ZERO_C,
        hazards=(),
        caution=(
            "Plain water freezes at 0 °C and can burst pipes and heat exchangers; the heat pump's"
            " evaporator runs several kelvin colder than the water. Follow the heat pump maker's"
            " lowest permitted temperature, local codes and the groundwater authority's rules."
        ),
        source="IAPWS-IF97 at 2 bar absolute, transport properties after IAPWS, through CoolProp.",
    )


def _kinds() -> Mapping[str, Antifreeze]:
    offer = (
        _plain_water(),
        _from_coolprop(
            "ethylene_glycol",
            "Ethylene glycol",
            "MEG",
            ("toxic",),
            "Toxic if swallowed, to people and animals, and sweet to taste: never where it could"
            " reach drinking water; many authorities forbid it in the ground.",
            "Fits to pure glycol agree within 1.5 % in viscosity; ASHRAE's inhibited glycol is 5 to"
            " 14 % less viscous and 0.5 % denser than this. Freezing points read up to 2 K lower"
            " (less safe) than ASHRAE's at 40 %.",
        ),
        _from_coolprop(
            "propylene_glycol",
            "Propylene glycol",
            "MPG",
            (),
            "Low toxicity, but inhibitors may not be, and a spill takes oxygen from water; very"
            " viscous when cold.",
            "Published specific heats of propylene glycol differ by about 2.6 % (3 % at -5 °C; this"
            " fit is the lower and agrees with ASHRAE within 0.4 %). Fits to pure glycol agree"
            " within 2 % in viscosity; ASHRAE's inhibited glycol is up to 11 % less viscous."
            " Freezing points differ by about 1 K at 10 to 25 %.",
        ),
        _from_coolprop(
            "methanol",
            "Methanol",
            "MMA",
            ("toxic", "flammable"),
            "Poisonous by swallowing, breathing and through the skin (blindness, death) and highly"
            " flammable as concentrate: fill outdoors, away from ignition; many authorities forbid"
            " it.",
            "Sources differ by about 2 % in viscosity and 0.2 K in freezing point.",
        ),
        _from_coolprop(
            "ethanol",
            "Ethanol",
            "MEA",
            ("flammable", "irritant"),
            "Highly flammable as concentrate and still flammable when warm at usual strengths;"
            " irritates the eyes; denaturants may be toxic or harm plastics.",
            "Sources differ by 3 to 4 % in viscosity below 0 °C; freezing points read up to 1.2 K"
            " lower (less safe) than Lange's Handbook at 20 to 30 %.",
        ),
        _from_coolprop(
            "glycerol",
            "Glycerol",
            "MGL",
            (),
            "Low toxicity; very viscous when cold; feeds microbes when dilute.",
            "Freezing points read up to 0.75 K lower (less safe) than Lange's Handbook at"
            " 10 to 20 %.",
        ),
        _from_coolprop(
            "potassium_carbonate",
            "Potassium carbonate",
            "MKC",
            ("irritant", "corrosive"),
            "Strongly alkaline: harms eyes and skin, attacks aluminium, zinc and galvanised steel,"
            " and deposits crystals where it leaks.",
            "Sources differ widely: this viscosity is about 10 % below Laliberté (2009) and 13 to"
            " 23 % below CoolProp's other fit, VKC, at 0 °C; within 6 % of both at 15 °C.",
        ),
        _from_coolprop(
            "potassium_formate",
            "Potassium formate",
            "MKF",
            ("corrosive",),
            "Corrosive to zinc, galvanised steel, aluminium and soft solder; needs compatible"
            " seals and no air.",
            "Viscosity is up to 8 % above Laliberté (2009), the most at 25 % by mass.",
        ),
        _from_coolprop(
            "potassium_acetate",
            "Potassium acetate",
            "MKA",
            ("corrosive",),
            "Corrosive to zinc, galvanised steel and aluminium; creeps through threaded joints.",
            "Sources differ by 1 to 5 % in viscosity (Laliberté 2009 is the higher).",
        ),
        _from_coolprop(
            "calcium_chloride",
            "Calcium chloride",
            "MCA",
            ("irritant", "corrosive"),
            "Strongly corrosive to steel, stainless steel, brass and aluminium, above all where air"
            " gets in; irritates the eyes; a spill salts soil and groundwater.",
            "Viscosity is 3 to 8 % below Laliberté (2009) up to 25 % by mass and 12 % below at"
            " 30 %; freezing points differ by about 1 K at 15 to 20 %.",
        ),
    )
    return MappingProxyType({each.kind: each for each in offer})


KINDS: Final[Mapping[str, Antifreeze]] = _kinds()
"""The antifreezes on offer, by kind."""


# --------------------------------------------------------------------------- strength: mass, volume


def _volume_fraction(kind: str, mass_fraction: float) -> float | None:
    """Volume fraction before mixing at 20 degC of a mass fraction; None for a dissolved salt."""
    if kind not in _PURE_DENSITY:
        return None
    antifreeze = mass_fraction / _PURE_DENSITY[kind]
    water = (1.0 - mass_fraction) / _PURE_DENSITY["water"]
    return antifreeze / (antifreeze + water)


def _mass_fraction(kind: str, volume_fraction: float) -> float:
    """Mass fraction of a volume fraction before mixing at 20 degC."""
    antifreeze = volume_fraction * _PURE_DENSITY[kind]
    water = (1.0 - volume_fraction) * _PURE_DENSITY["water"]
    return antifreeze / (antifreeze + water)


def _antifreeze(kind: str) -> Antifreeze:
    found = KINDS.get(kind)
    if found is None:
        near = difflib.get_close_matches(str(kind), KINDS, n=3, cutoff=0.4)
        hint = f"did you mean {' or '.join(near)}?" if near else "choose one of those allowed."
        raise InputError(
            Fault(
                "antifreeze.kind",
                f"no antifreeze is called {kind!r}; {hint}",
                kind,
                "one of " + ", ".join(KINDS),
            )
        )
    return found


def _percent_range(antifreeze: Antifreeze, basis: Basis) -> str:
    """Range of strengths in the caller's basis, rounded inwards so that both ends are accepted."""
    low: float | None = antifreeze.min_mass_fraction
    high: float | None = antifreeze.max_mass_fraction
    if basis == "volume":
        low = _volume_fraction(antifreeze.kind, antifreeze.min_mass_fraction)
        high = _volume_fraction(antifreeze.kind, antifreeze.max_mass_fraction)
    assert low is not None
    assert high is not None
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
        raise InputError(
            Fault("antifreeze.basis", f"{basis!r} is not a basis.", basis, "mass or volume")
        )
    if basis == "volume" and not antifreeze.by_volume:
        raise InputError(
            Fault(
                "antifreeze.basis",
                f"{kind} is a salt, a solid before it is dissolved, so a strength by volume has no"
                " meaning; give it by mass.",
                basis,
                "mass",
            )
        )
    if not math.isfinite(fraction):
        raise InputError(
            Fault(
                "antifreeze.concentration_percent",
                "the concentration must be a finite number.",
                fraction,
                _percent_range(antifreeze, basis),
            )
        )
    # Both conversions are monotonic on 0..1 only, so refuse the rest before converting.
    inside = 0.0 <= fraction <= 1.0
    mass_fraction = fraction
    if inside and basis == "volume":
        mass_fraction = _mass_fraction(kind, fraction)
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
                "antifreeze.concentration_percent",
                f"{fraction * 100.0:g} % by {basis} of {kind} is outside the range of its"
                f" correlation, {allowed}; {advice}",
                fraction * 100.0,
                allowed,
            )
        )
    mass_fraction = min(max(mass_fraction, low), high)
    return Mixture(kind, mass_fraction, _volume_fraction(kind, mass_fraction))


# ----------------------------------------------------------------------------------------- freezing


@lru_cache(maxsize=_CACHED_STATES)
def _freezing_point_c(kind: str, mass_fraction: float) -> float:
    antifreeze = _antifreeze(kind)
    if antifreeze.coolprop_id is None:
        return _FREEZING_WATER_C
    return _freezing_point_k(antifreeze.coolprop_id, mass_fraction) - _ZERO_C


def freezing_point(mix: Mixture) -> float:
    """Give the temperature at which ice begins to form in a mixture.

    Parameters
    ----------
    mix
        The mixture.

    Returns
    -------
    float
        Freezing point, degC. It is a fit: published tables differ from it by up to 1.5 K (see
        `Antifreeze.source`), and at zero strength it may read up to 0.05 K off 0 degC.

    Raises
    ------
    InputError
        Unknown kind.
    """
    return _freezing_point_c(mix.kind, mix.mass_fraction)


def freezing_margin(mix: Mixture, coldest_c: float) -> float:
    """Give how far the coldest fluid is above the freezing point.

    Parameters
    ----------
    mix
        The mixture.
    coldest_c
        Coldest temperature of the fluid anywhere in the circuit, degC.

    Returns
    -------
    float
        Margin, K; negative below the freezing point.

    Raises
    ------
    InputError
        Unknown kind or a temperature that is not a finite number.
    """
    _require_finite_temperature(coldest_c)
    return coldest_c - freezing_point(mix)


def mixture_for_freezing_point(kind: str, freezing_point_c: float) -> Mixture:
    """Find the weakest mixture whose freezing point is at or below a temperature.

    Parameters
    ----------
    kind
        A key of `KINDS`.
    freezing_point_c
        Temperature to protect to, degC. Put the design margin in it: it is a freezing point, not
        the coldest fluid.

    Returns
    -------
    Mixture
        The mixture, to within 1e-12 in mass fraction, on the safe side. The weakest that the
        correlation covers, if that already protects.

    Raises
    ------
    InputError
        Unknown kind or a temperature that is not a finite number.
    RangeError
        Even the strongest mixture of the correlation freezes above it.
    """
    antifreeze = _antifreeze(kind)
    if not math.isfinite(freezing_point_c):
        raise InputError(
            Fault(
                "freezing_point_c",
                "the freezing point must be a finite number.",
                freezing_point_c,
                f"{antifreeze.min_temperature_c:.1f} °C or above",
            )
        )
    low, high = antifreeze.min_mass_fraction, antifreeze.max_mass_fraction

    def freezes_at(mass_fraction: float) -> float:
        if antifreeze.coolprop_id is None:
            return _FREEZING_WATER_C
        return _freezing_point_k(antifreeze.coolprop_id, mass_fraction) - _ZERO_C

    lowest = freezes_at(high)
    if freezing_point_c < lowest:
        shown = math.ceil(lowest * 10.0) / 10.0
        raise RangeError(
            Fault(
                "freezing_point_c",
                f"no strength of {kind} within its correlation freezes as low as"
                f" {freezing_point_c:g} °C; the lowest is {shown:.1f} °C. Choose another kind.",
                freezing_point_c,
                f"{shown:.1f} °C or above",
            )
        )
    # The freezing curves fall all the way over their range (a test holds them to it), so halving
    # works; `high` protects throughout, which keeps the answer on the safe side.
    if freezes_at(low) <= freezing_point_c:
        high = low
    while high - low > 1e-12:
        middle = 0.5 * (low + high)
        if freezes_at(middle) <= freezing_point_c:
            high = middle
        else:
            low = middle
    return Mixture(kind, high, _volume_fraction(kind, high))


# --------------------------------------------------------------------------------------- properties


def _require_finite_temperature(temperature_c: float) -> None:
    if not math.isfinite(temperature_c):
        raise InputError(
            Fault(
                "temperature_c",
                "the temperature must be a finite number.",
                temperature_c,
                "a number of degrees Celsius",
            )
        )


@lru_cache(maxsize=_CACHED_STATES)
def _fluid(kind: str, mass_fraction: float, temperature_c: float) -> Fluid:
    _require_finite_temperature(temperature_c)
    antifreeze = _antifreeze(kind)
    freezing_c = _freezing_point_c(kind, mass_fraction)
    temperature_k = temperature_c + _ZERO_C
    # Compared in kelvin, as the library compares, so that rounding cannot slip a frozen state in.
    frozen = temperature_k <= freezing_c + _ZERO_C
    if frozen or temperature_c > antifreeze.max_temperature_c:
        low = math.ceil(freezing_c * 100.0) / 100.0
        high = math.floor(antifreeze.max_temperature_c * 100.0) / 100.0
        allowed = f"above {low:g} °C, up to {high:g} °C"
        name = kind if kind == "water" else f"{mass_fraction * 100.0:.4g} % by mass {kind}"
        trouble = (
            f"at {temperature_c:g} °C {name} is at or below its freezing point of {low:g} °C:"
            f" properties hold {allowed}; use a stronger mixture or a warmer fluid."
            if frozen
            else f"{temperature_c:g} °C is above the range of the correlation of {name}:"
            f" properties hold {allowed}; use a cooler fluid or another kind."
        )
        raise RangeError(Fault("temperature_c", trouble, temperature_c, allowed))
    state = _state(antifreeze.coolprop_id)
    if antifreeze.coolprop_id is not None:
        state.set_mass_fractions([mass_fraction])
    state.update(PT_INPUTS, _PRESSURE, temperature_k)
    viscosity = float(state.viscosity())
    specific_heat = float(state.cpmass())
    conductivity = float(state.conductivity())
    return Fluid(
        temperature_c=temperature_c,
        density=float(state.rhomass()),
        viscosity=viscosity,
        specific_heat=specific_heat,
        conductivity=conductivity,
        prandtl=viscosity * specific_heat / conductivity,
        freezing_point_c=freezing_c,
    )


def fluid(mix: Mixture, temperature_c: float) -> Fluid:
    """Give a mixture's properties at one temperature.

    Parameters
    ----------
    mix
        The mixture.
    temperature_c
        Temperature, degC; above the freezing point, up to the correlation's maximum.

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
    return _fluid(mix.kind, mix.mass_fraction, temperature_c)


def fluids_at(mix: Mixture, temperatures_c: Sequence[float]) -> list[Fluid]:
    """Give a mixture's properties at several temperatures, degC; see `fluid`."""
    return [fluid(mix, temperature) for temperature in temperatures_c]
