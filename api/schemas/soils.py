"""Response of GET /v1/soils."""

from __future__ import annotations

from typing import Final

from api.schemas.fields import Choice, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.sizing import SOIL_NAMES
from hydraulics.ground.soil import MOISTURES

_MOST: Final = 1_000


class SoilStateSchema(StrictSchema):
    """A soil at one moisture, unfrozen, at its usual dry density."""

    moisture = Choice(
        MOISTURES,
        component="Moisture",
        required=True,
        metadata=said("How much water its pores hold."),
    )
    water_content_percent = Number(required=True, metadata=said("Water, of the dry mass."))
    saturation_percent = Number(required=True, metadata=said("Part of the pores that it fills."))
    conductivity_w_m_k = Number(required=True, metadata=said("Thermal conductivity."))
    min_conductivity_w_m_k = Number(
        required=True, metadata=said("The same, less the model's usual scatter.")
    )
    max_conductivity_w_m_k = Number(
        required=True, metadata=said("The same, plus the model's usual scatter.")
    )
    heat_capacity_mj_m3_k = Number(required=True, metadata=said("Volumetric heat capacity."))


class SoilSchema(StrictSchema):
    """A class of soil by its heat."""

    soil = Choice(
        SOIL_NAMES,
        component="SoilName",
        required=True,
        metadata=said("Name used in requests.", "clay"),
    )
    title = Text(required=True, metadata=said("Name for readers."))
    dry_density_kg_m3 = Number(required=True, metadata=said("Usual dry mass of a cubic metre."))
    min_dry_density_kg_m3 = Number(required=True, metadata=said("Least that is usual."))
    max_dry_density_kg_m3 = Number(required=True, metadata=said("Most that is usual."))
    porosity_percent = Number(required=True, metadata=said("Pores, of the volume."))
    states = ListOf(
        Nested(lambda: SoilStateSchema),
        required=True,
        longest=len(MOISTURES),
        metadata=said("Dry, at its usual moisture, and full of water."),
    )


class DiggingClassSchema(StrictSchema):
    """A class of soil by its digging."""

    soil = Choice(
        SOIL_NAMES,
        component="SoilName",
        required=True,
        metadata=said("Name used in requests.", "clay"),
    )
    min_bulking_percent = Number(required=True, metadata=said("Least gain of volume."))
    max_bulking_percent = Number(required=True, metadata=said("Most gain of volume."))


class SoilsSchema(StrictSchema):
    """Classes of soil, by their heat and by their digging."""

    soils = ListOf(
        Nested(lambda: SoilSchema), required=True, longest=_MOST, metadata=said("By their heat.")
    )
    digging = ListOf(
        Nested(lambda: DiggingClassSchema),
        required=True,
        longest=_MOST,
        metadata=said("By their digging, for groundworks."),
    )
    caution = Text(required=True, longest=2_000, metadata=said("What to mind."))
    source = Text(required=True, longest=2_000, metadata=said("Where the heat comes from."))
    bulking_source = Text(
        required=True, longest=2_000, metadata=said("Where the bulking comes from.")
    )
