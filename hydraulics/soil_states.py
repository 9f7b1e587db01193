"""How well does each class of soil conduct and store heat when dry, as usual, and full of water?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from hydraulics.soil import SOILS, WATER_DENSITY, SoilProperties, soil_properties

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
        A key of :data:`~hydraulics.soil.SOILS`.
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


def soil_states(soil: str) -> tuple[SoilState, ...]:
    """Properties of a class of soil at its usual density when dry, as usual and saturated.

    Parameters
    ----------
    soil
        A key of :data:`~hydraulics.soil.SOILS`.

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
