"""How well does a soil conduct and store heat, from its class, dry density and moisture?"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, RangeError

WATER_CONDUCTIVITY = 0.57  # W/m K near 0 degC (Cote & Konrad 2005)
WATER_DENSITY = 1000.0  # kg/m3
ROUNDED: Final = 0.005  # of the pores: water told in whole per cent; taken as saturated
# Volumetric heat capacities, J/m3 K (de Vries 1963, Thermal properties of soils; from memory).
MINERAL_HEAT_CAPACITY, ORGANIC_HEAT_CAPACITY, WATER_HEAT_CAPACITY = 1.92e6, 2.51e6, 4.18e6


@dataclass(frozen=True, slots=True)
class Ground:
    """What conducts heat around a pipe or a borehole, uniform and conducting only.

    Attributes
    ----------
    conductivity
        Thermal conductivity [W/m K].
    heat_capacity
        Volumetric heat capacity [J/m3 K].
    """

    conductivity: float
    heat_capacity: float

    def __post_init__(self) -> None:
        refuse(
            number_fault("conductivity", self.conductivity, "W/m K", above=0.0),
            number_fault("heat_capacity", self.heat_capacity, "J/m3 K", above=0.0),
        )

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity [m2/s]."""
        return self.conductivity / self.heat_capacity


@dataclass(frozen=True, slots=True)
class SoilClass:
    """A class of soil, by what the conductivity model needs of it.

    Attributes
    ----------
    name
        Trade name of the class.
    kappa
        Texture parameter of Cote & Konrad (2005), unfrozen [-].
    chi, eta
        Their dry-soil parameters: dry conductivity is chi 10^(-eta n) [W/m K; -].
    solids_conductivity
        Of the grains [W/m K].
    solids_density
        Of the grains [kg/m3].
    organic
        True where the solids are plant matter.
    dry_density, dry_density_range
        Usual dry density and its usual range [kg/m3] (common practice, no source).
    water_content
        Usual water content where the pipe lies [kg water/kg dry soil] (common practice, no source).
    spread
        How far measured conductivity scatters about the model [-, as a fraction].
    """

    name: str
    kappa: float
    chi: float
    eta: float
    solids_conductivity: float
    solids_density: float
    organic: bool
    dry_density: float
    dry_density_range: tuple[float, float]
    water_content: float
    spread: float = 0.25

    @property
    def unfrozen(self) -> float:
        """Share of its usual water that stays liquid some kelvin below 0 degC: a third if fine.

        A quarter in silt and a half in clay at -3 degC (Anderson & Tice, Highway Research Record
        393 (1972) 12-18, by specific surfaces of 40 and 140 m2/g; from memory).
        """
        return 1.0 / 3.0 if self.kappa < 2.0 else 0.0


@dataclass(frozen=True, slots=True)
class SoilProperties:
    """What conduction needs to know of a soil.

    Attributes
    ----------
    conductivity
        Thermal conductivity, unfrozen [W/m K].
    heat_capacity
        Volumetric heat capacity, unfrozen [J/m3 K].
    saturation
        Part of the pores filled with water [-].
    porosity
        Pores as a part of the volume [-].
    conductivity_low, conductivity_high
        Conductivity less and plus the model's usual scatter [W/m K].
    warnings
        Where the values given leave the class's usual range.
    """

    conductivity: float
    heat_capacity: float
    saturation: float
    porosity: float
    conductivity_low: float
    conductivity_high: float
    warnings: tuple[str, ...]


def johansen_solids(quartz: float) -> float:
    """Return the conductivity of mineral grains [W/m K] from their quartz fraction.

    Notes
    -----
    7.7^q k_o^(1-q), k_o 2.0, or 3.0 W/m K where q < 0.2 (Johansen O., Thermal conductivity of
    soils, Trondheim 1975; read in public reproductions).
    """
    refuse(
        number_fault("quartz", quartz, "(0 to 1)", at_least=0.0),
        number_fault("quartz", 1.0 - quartz, "(1 less quartz)", at_least=0.0),
    )
    return float(7.7**quartz * (2.0 if quartz >= 0.2 else 3.0) ** (1.0 - quartz))


def cote_konrad_2005(  # noqa: PLR0917 (the paper's own parameters)
    saturation: float,
    porosity: float,
    solids_conductivity: float,
    kappa: float,
    chi: float,
    eta: float,
) -> float:
    """Return the conductivity of unfrozen soil [W/m K].

    Parameters
    ----------
    saturation
        Part of the pores filled with water, 0 to 1 [-].
    porosity
        Pores as part of the volume, more than 0, less than 1 [-].
    solids_conductivity
        Of the grains [W/m K].
    kappa
        4.60 gravel and coarse sand, 3.55 medium and fine sand, 1.90 silt and clay, 0.60 peat.
    chi, eta
        1.70, 1.80 crushed rock and gravel; 0.75, 1.20 natural mineral soil; 0.30, 0.87 organic.

    Notes
    -----
    k = (k_sat - k_dry) kappa S/(1 + (kappa - 1) S) + k_dry, k_sat = k_s^(1-n) k_w^n,
    k_dry = chi 10^(-eta n). Root mean square error about 0.18 W/m K against the data of Kersten,
    Johansen and Farouki (as stated by Lu et al., Soil Sci. Soc. Am. J. 71 (2007) 8-14).

    References
    ----------
    Cote J., Konrad J.-M., A generalized thermal conductivity model for soils and construction
    materials, Canadian Geotechnical Journal 42 (2005) 443-458 (parameters read in public
    reproductions; those of crushed rock from memory).
    """
    saturated = solids_conductivity ** (1.0 - porosity) * WATER_CONDUCTIVITY**porosity
    dry = chi * 10.0 ** (-eta * porosity)
    kersten = kappa * saturation / (1.0 + (kappa - 1.0) * saturation)
    return float((saturated - dry) * kersten + dry)


def de_vries_1963(porosity: float, volumetric_water: float, *, organic: bool = False) -> float:
    """Return the volumetric heat capacity of unfrozen soil [J/m3 K]: the sum of its parts.

    Parameters
    ----------
    porosity
        Pores as part of the volume [-].
    volumetric_water
        Water as part of the volume [-].
    organic
        True where the solids are plant matter.
    """
    solids = ORGANIC_HEAT_CAPACITY if organic else MINERAL_HEAT_CAPACITY
    return (1.0 - porosity) * solids + volumetric_water * WATER_HEAT_CAPACITY


# Quartz fractions, densities and water contents: common practice, no source.
SOILS: Mapping[str, SoilClass] = MappingProxyType(
    {
        "gravel": SoilClass(
            "gravel and coarse sand",
            4.60,
            1.70,
            1.80,
            johansen_solids(0.5),
            2650.0,
            False,
            1800.0,
            (1500.0, 2200.0),
            0.05,
        ),
        "sand": SoilClass(
            "medium and fine sand",
            3.55,
            0.75,
            1.20,
            johansen_solids(0.65),
            2650.0,
            False,
            1600.0,
            (1300.0, 1900.0),
            0.10,
        ),
        "silt": SoilClass(
            "silt and loam",
            1.90,
            0.75,
            1.20,
            johansen_solids(0.4),
            2650.0,
            False,
            1500.0,
            (1200.0, 1800.0),
            0.20,
        ),
        "clay": SoilClass(
            "clay",
            1.90,
            0.75,
            1.20,
            johansen_solids(0.25),
            2700.0,
            False,
            1450.0,
            (1100.0, 1800.0),
            0.26,
        ),
        # Solids of peat 0.25 W/m K and 1500 kg/m3: Cote & Konrad 2005 and usual grain density.
        "peat": SoilClass(
            "peat", 0.60, 0.30, 0.87, 0.25, 1500.0, True, 200.0, (80.0, 500.0), 3.0, 0.30
        ),
    }
)


def soil_properties(
    soil: str, water_content: float | None = None, dry_density: float | None = None
) -> SoilProperties:
    """Return the conductivity and heat capacity of a soil.

    Parameters
    ----------
    soil
        A key of `SOILS`.
    water_content
        Water per dry mass [kg/kg]; the class's usual one if not given.
    dry_density
        Dry mass per volume [kg/m3]; the class's usual one if not given.

    Raises
    ------
    RangeError
        For an unknown soil, a density at or above that of the grains, or more water than the pores
        hold.

    Notes
    -----
    Conductivity by Cote & Konrad (2005), heat capacity by de Vries (1963). Soil dries out by late
    summer and near warm pipes, and is rarely uniform: measure where the size of the array matters.
    """
    if soil not in SOILS:
        allowed = ", ".join(SOILS)
        raise RangeError(
            Fault(
                "soil",
                f"{soil!r} is no class whose conductivity is known; give conductivity and heat "
                f"capacity as measured, or one of {allowed}",
                soil,
                allowed,
            )
        )
    kind = SOILS[soil]
    density = kind.dry_density if dry_density is None else dry_density
    water = kind.water_content if water_content is None else water_content
    refuse(
        number_fault("dry_density", density, "kg/m³", above=0.0),
        number_fault("water_content", water, "kg/kg", at_least=0.0),
    )
    if density >= kind.solids_density:
        raise RangeError(
            Fault(
                "dry_density",
                f"is {density:g} kg/m³, no less than the grains themselves",
                density,
                f"less than {kind.solids_density:g} kg/m³",
            )
        )
    porosity = 1.0 - density / kind.solids_density
    volumetric = water * density / WATER_DENSITY
    saturation = volumetric / porosity
    if saturation > 1.0 + ROUNDED:
        raise RangeError(_too_wet(kind, water_content, density))
    saturation, volumetric = min(saturation, 1.0), min(volumetric, porosity)
    conductivity = cote_konrad_2005(
        saturation, porosity, kind.solids_conductivity, kind.kappa, kind.chi, kind.eta
    )
    low, high = kind.dry_density_range
    warnings = []
    if not low <= density <= high:
        warnings.append(
            f"dry density {density:g} kg/m³ is outside the usual {low:g} to {high:g} "
            f"for {kind.name}"
        )
    if saturation < 0.05:
        warnings.append(
            "nearly dry soil: conductivity is poorly known here and falls further as heat pump "
            "operation dries the soil"
        )
    return SoilProperties(
        conductivity=conductivity,
        heat_capacity=de_vries_1963(porosity, volumetric, organic=kind.organic),
        saturation=min(saturation, 1.0),
        porosity=porosity,
        conductivity_low=conductivity * (1.0 - kind.spread),
        conductivity_high=conductivity * (1.0 + kind.spread),
        warnings=tuple(warnings),
    )


def _too_wet(kind: SoilClass, water_content: float | None, density: float) -> Fault:
    """More water than the pores hold, of what was given: the water, or else the density.

    Bounds are rounded down, so that what is told to be allowed is.
    """
    if water_content is None:
        usual = kind.water_content
        most = math.floor(1.0 / (usual / WATER_DENSITY + 1.0 / kind.solids_density))
        return Fault(
            "dry_density",
            f"of {density:g} kg/m³ leaves pores too small for the {100.0 * usual:g} % of water "
            f"that is usual in {kind.name}; give at most {most} kg/m³, or the water content",
            density,
            f"at most {most} kg/m³",
        )
    room = (1.0 / density - 1.0 / kind.solids_density) * WATER_DENSITY
    told = f"{math.floor(1e3 * room) / 10.0:g}"
    return Fault(
        "water_content",
        f"is {100.0 * water_content:.6g} % of the dry mass, more than the pores hold at "
        f"{density:g} kg/m³; give at most {told} %",
        water_content,
        f"0 to {told} %",
    )


def most_water(heat_capacity: float, conductivity: float, soil: str | None = None) -> float:
    """Most water that ground can hold whose conduction was measured [kg/m³].

    Parameters
    ----------
    heat_capacity
        Volumetric heat capacity, unfrozen [J/m3 K].
    conductivity
        Thermal conductivity, unfrozen [W/m K].
    soil
        Its class; None, or one that is no key of :data:`SOILS`: not known.

    Notes
    -----
    Its heat capacity less that of the grains, over that of water, as heat-pulse probes tell water
    (Bristow, Agricultural and Forest Meteorology 89 (1998) 75-84; abstract read), and no more than
    the pores. Grains are the fewest that are usual in the class, so that soil looser than that is
    told less water than it has: the safe side. Of no class, the loosest that it may be: ground that
    conducts better than water is no peat, as peat does not, however wet.
    """
    if soil is not None and soil in SOILS:
        kinds = [SOILS[soil]]
    else:
        mineral = conductivity > WATER_CONDUCTIVITY
        kinds = [kind for kind in SOILS.values() if not (kind.organic and mineral)]

    def held(kind: SoilClass) -> float:
        pores = 1.0 - kind.dry_density_range[0] / kind.solids_density
        grains = de_vries_1963(pores, 0.0, organic=kind.organic)
        return min(max(heat_capacity - grains, 0.0) / WATER_HEAT_CAPACITY, pores)

    return WATER_DENSITY * max(map(held, kinds))


Moisture = Literal["dry", "usual", "saturated"]
MOISTURES: Final[tuple[Moisture, ...]] = ("dry", "usual", "saturated")

SOURCE: Final = (
    "Conductivity: Cote & Konrad, Canadian Geotechnical Journal 42 (2005) 443-458 (parameters read"
    " in public reproductions; those of crushed rock from memory), quartz and densities common"
    " practice. Heat capacity: de Vries (1963), the sum of its parts (from memory). Unfrozen soil."
)
CAUTION: Final = (
    "A class is no measurement: conductivity scatters by a quarter and more about the model, soil"
    " dries out by late summer and beside pipes, and it is rarely uniform. Measure it where the"
    " size of the array matters, and size for the drier case."
)


@dataclass(frozen=True, slots=True)
class SoilState:
    """One class of soil at one moisture.

    Attributes
    ----------
    moisture
        ``"dry"``, ``"usual"`` for its class, or ``"saturated"``.
    water_content
        Water per dry mass [kg/kg].
    properties
        What conduction needs to know, at the class's usual dry density.
    """

    moisture: Moisture
    water_content: float
    properties: SoilProperties


def water_content(soil: str, moisture: Moisture, dry_density: float | None = None) -> float:
    """Water per dry mass of a class of soil at a moisture [kg/kg].

    Parameters
    ----------
    soil
        A key of :data:`~hydraulics.ground.soil.SOILS`.
    moisture
        One of :data:`MOISTURES`.
    dry_density
        Dry mass per volume [kg/m3]; the class's usual one if not given.

    Raises
    ------
    RangeError
        The soil is not known, or denser than its grains.
    """
    dry = soil_properties(soil, 0.0, dry_density)
    if moisture == "dry":
        return 0.0
    kind = SOILS[soil]
    if moisture == "usual":
        return kind.water_content
    return dry.porosity * WATER_DENSITY / (dry_density or kind.dry_density)


def is_full(soil: str, water_content: float, dry_density: float | None = None) -> bool:
    """Whether a soil's pores are full of water.

    Parameters
    ----------
    soil
        A class of soil; one that is no key of :data:`SOILS` is never known to be.
    water_content
        Water per dry mass [kg/kg].
    dry_density
        Dry mass per volume [kg/m3]; the class's usual one if not given.
    """
    kind = SOILS.get(soil)
    if kind is None:
        return False
    density = dry_density or kind.dry_density
    pores = 1.0 - density / kind.solids_density
    return water_content * density >= pores * WATER_DENSITY * (1.0 - ROUNDED)


def soil_states(soil: str) -> tuple[SoilState, ...]:
    """Properties of a class of soil at its usual density when dry, as usual and saturated.

    Parameters
    ----------
    soil
        A key of :data:`~hydraulics.ground.soil.SOILS`.

    Returns
    -------
    tuple of SoilState
        In the order of :data:`MOISTURES`.

    Raises
    ------
    RangeError
        The soil is not known.
    """
    contents = tuple(water_content(soil, moisture) for moisture in MOISTURES)
    return tuple(
        SoilState(moisture, content, soil_properties(soil, content))
        for moisture, content in zip(MOISTURES, contents, strict=True)
    )
