"""How well does each class of soil conduct and store heat when dry, as usual, and full of water?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from hydraulics.soil import SOILS, SoilProperties, soil_properties

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
    usual = soil_properties(soil)
    water = SOILS[soil].water_content
    # The same water fills the pores when there is 1/saturation times as much of it.
    contents = (0.0, water, water / usual.saturation)
    return tuple(
        SoilState(moisture, content, soil_properties(soil, content))
        for moisture, content in zip(MOISTURES, contents, strict=True)
    )
