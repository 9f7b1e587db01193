"""What flows in the loops: the properties and the freezing point of water-antifreeze mixtures.

The mixtures are CoolProp's incompressible solutions, whose own composition is the mass fraction of
antifreeze. Strength may also be given by volume; see `VOLUME_BASIS` for what that means here.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final, Literal

from hydraulics.fluid.coolprop import (
    PQ_INPUTS,
    AbstractState,
    ifraction_max,
    ifraction_min,
    iT_freeze,
)

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

ZERO_C: Final = 273.15  # K, definition of the Celsius scale
PRESSURE: Final = 2e5  # Pa absolute, a usual loop pressure; a few bar move no property by 0.1 %
FREEZING_WATER_C: Final = 0.0  # degC at 1 atm

# Density of the pure liquids at 20 degC, kg/m3, for the volume basis.
PURE_DENSITY: Final[Mapping[str, float]] = MappingProxyType(
    {
        "water": 998.2,  # IAPWS-95
        "methanol": 791.0,  # de Reuck & Craven 1993, as evaluated by CoolProp
        "ethanol": 789.4,  # Schroeder et al. 2014, as evaluated by CoolProp
        "propylene_glycol": 1036.4,  # Eisenbach et al. 2021, as evaluated by CoolProp
        "ethylene_glycol": 1113.5,  # CRC Handbook of Chemistry and Physics, from memory
        "glycerol": 1261.3,  # CRC Handbook of Chemistry and Physics, from memory
    }
)


Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """How far other published data of a mixture lie from the correlation in use.

    Attributes
    ----------
    freezing
        How much warmer others say that it freezes: (mass fraction, K), straight lines between, the
        end values beyond.
    more_viscous
        How much more viscous others say that it is, as a fraction: (degC, fraction), likewise.
    less_viscous
        How much less, as a fraction; inhibited products for the most part.
    """

    freezing: Points
    more_viscous: Points
    less_viscous: float


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
    spread
        How far other published data lie from these.
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
    spread: Spread

    @property
    def by_volume(self) -> bool:
        """Whether a concentration by volume has a meaning (the salts are dissolved solids)."""
        return self.kind in PURE_DENSITY


# ----------------------------------------------------------------------------- CoolProp's states

_states = threading.local()  # a state object is changed by every evaluation: one set per thread


def liquid_state(coolprop_id: str | None) -> Any:  # noqa: ANN401 (CoolProp ships no types)
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


def freezing_point_k(coolprop_id: str, mass_fraction: float) -> float:
    """Freezing point [K] of a strength by mass."""
    state = liquid_state(coolprop_id)
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
    kind: str,
    title: str,
    coolprop_id: str,
    hazards: tuple[str, ...],
    *advice: str,
    spread: Spread,
) -> Antifreeze:
    caution, known = advice
    state = liquid_state(coolprop_id)
    weakest = float(state.trivial_keyed_output(ifraction_min))
    strongest = float(state.trivial_keyed_output(ifraction_max))
    coldest_k = max(freezing_point_k(coolprop_id, strongest), float(state.Tmin()))
    return Antifreeze(
        kind=kind,
        title=title,
        coolprop_id=coolprop_id,
        min_mass_fraction=weakest,
        max_mass_fraction=strongest,
        min_temperature_c=round(coldest_k - ZERO_C, 9),
        max_temperature_c=round(float(state.Tmax()) - ZERO_C, 9),
        hazards=hazards,
        caution=f"{caution} {_SDS}",
        source=f"{_MELINDER.format(id=coolprop_id)} {known}",
        spread=spread,
    )


def _plain_water() -> Antifreeze:
    state = liquid_state(None)
    state.update(PQ_INPUTS, PRESSURE, 0.0)  # it boils above this
    return Antifreeze(
        kind="water",
        title="Water",
        coolprop_id=None,
        min_mass_fraction=0.0,
        max_mass_fraction=0.0,
        min_temperature_c=FREEZING_WATER_C,
        max_temperature_c=float(state.T()) - ZERO_C,
        hazards=(),
        caution=(
            "Plain water freezes at 0 °C and can burst pipes and heat exchangers; the heat pump's"
            " evaporator runs several kelvin colder than the water. Follow the heat pump maker's"
            " lowest permitted temperature, local codes and the groundwater authority's rules."
        ),
        source="IAPWS-IF97 at 2 bar absolute, transport properties after IAPWS, through CoolProp.",
        spread=Spread(((0.0, 0.0),), ((0.0, 0.0),), 0.0),
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
            " 14 % less viscous and 0.5 % denser than this. Freezing points read lower (less safe)"
            " than ASHRAE's (2001): 0.6 K at 30 % by mass, 1.6 K at 40 %, 2.9 K at 60 %.",
            spread=Spread(
                freezing=(
                    (0.20, 0.2),
                    (0.25, 0.3),
                    (0.30, 0.6),
                    (0.35, 1.0),
                    (0.40, 1.6),
                    (0.45, 2.1),
                    (0.50, 2.4),
                    (0.60, 2.9),
                ),
                more_viscous=((0.0, 0.02),),
                less_viscous=0.14,
            ),
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
            " Freezing points read up to 1.3 K lower (less safe) than Lange's Handbook.",
            spread=Spread(((0.0, 1.3),), ((0.0, 0.02),), 0.11),
        ),
        _from_coolprop(
            "methanol",
            "Methanol",
            "MMA",
            ("toxic", "flammable"),
            "Poisonous by swallowing, breathing and through the skin (blindness, death) and highly"
            " flammable as concentrate: fill outdoors, away from ignition; many authorities forbid"
            " it.",
            "The tables marked VDI (2010) are up to 10 % more viscous at 10 to 20 % by mass and"
            " freeze up to 1.4 K lower; freezing points of Lange's Handbook differ by 0.2 K.",
            spread=Spread(((0.0, 0.2),), ((0.0, 0.10),), 0.02),
        ),
        _from_coolprop(
            "ethanol",
            "Ethanol",
            "MEA",
            ("flammable", "irritant"),
            "Highly flammable as concentrate and still flammable when warm at usual strengths;"
            " irritates the eyes; denaturants may be toxic or harm plastics.",
            "Sources differ by 3 to 4 % in viscosity below 0 °C; freezing points read"
            " lower (less safe) than Lange's Handbook, 1.1 K at 30 % by mass, and than SIA 384/6's"
            " table (transcribed), 1.4 K at 25 %.",
            spread=Spread(
                freezing=((0.10, 0.4), (0.16, 0.9), (0.21, 1.1), (0.25, 1.4)),
                more_viscous=((0.0, 0.04),),
                less_viscous=0.04,
            ),
        ),
        _from_coolprop(
            "glycerol",
            "Glycerol",
            "MGL",
            (),
            "Low toxicity; very viscous when cold; feeds microbes when dilute.",
            "Freezing points read lower (less safe) than Lange's Handbook: 0.8 K at 10 to 20 % by"
            " mass, 1.2 K at 50 %. No second source of viscosity was read: 4 % is taken.",
            spread=Spread(((0.40, 0.8), (0.50, 1.2)), ((0.0, 0.04),), 0.04),
        ),
        _from_coolprop(
            "potassium_carbonate",
            "Potassium carbonate",
            "MKC",
            ("irritant", "corrosive"),
            "Strongly alkaline: harms eyes and skin, attacks aluminium, zinc and galvanised steel,"
            " and deposits crystals where it leaks.",
            "Sources differ widely, this one the least viscous in the cold: the tables marked VDI"
            " (2010) are 49 % more viscous at -10 °C, 32 % at 0 °C, 10 % at 10 °C; Laliberté (2009)"
            " 14 %, 9 % and 5 %. Freezing points differ by 0.4 K.",
            spread=Spread(
                freezing=((0.0, 0.4),),
                more_viscous=((-10.0, 0.49), (0.0, 0.32), (10.0, 0.12), (20.0, 0.05)),
                less_viscous=0.06,
            ),
        ),
        _from_coolprop(
            "potassium_formate",
            "Potassium formate",
            "MKF",
            ("corrosive",),
            "Corrosive to zinc, galvanised steel, aluminium and soft solder; needs compatible"
            " seals and no air.",
            "Viscosity is up to 8 % above Laliberté (2009), the most at 25 % by mass. No second"
            " source of freezing points was read: 1 K is taken, as of other mixtures.",
            spread=Spread(((0.0, 1.0),), ((0.0, 0.02),), 0.08),
        ),
        _from_coolprop(
            "potassium_acetate",
            "Potassium acetate",
            "MKA",
            ("corrosive",),
            "Corrosive to zinc, galvanised steel and aluminium; creeps through threaded joints.",
            "Sources differ by 1 to 5 % in viscosity (Laliberté 2009 is the higher). No second"
            " source of freezing points was read: 1 K is taken, as of other mixtures.",
            spread=Spread(((0.0, 1.0),), ((0.0, 0.05),), 0.02),
        ),
        _from_coolprop(
            "calcium_chloride",
            "Calcium chloride",
            "MCA",
            ("irritant", "corrosive"),
            "Strongly corrosive to steel, stainless steel, brass and aluminium, above all where air"
            " gets in; irritates the eyes; a spill salts soil and groundwater.",
            "Viscosity is 3 to 8 % below Laliberté (2009) up to 25 % by mass and 12 % below at"
            " 30 %; the tables marked VDI (2010) are 19 % more viscous at -10 °C. Freezing points"
            " read up to 1 K lower (less safe) than the Smithsonian Tables' at 22 to 25 % by mass.",
            spread=Spread(
                freezing=((0.10, 0.3), (0.147, 0.6), (0.217, 1.0)),
                more_viscous=((-10.0, 0.19), (0.0, 0.14)),
                less_viscous=0.03,
            ),
        ),
    )
    return MappingProxyType({each.kind: each for each in offer})


KINDS: Final[Mapping[str, Antifreeze]] = _kinds()
"""The antifreezes on offer, by kind."""
