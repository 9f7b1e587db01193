"""Request and response of POST /v1/array-sizing."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.array import PipeField, said
from api.schemas.common import (
    job_name,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text
from api.schemas.flow_split import AntifreezeMixSchema
from api.schemas.objects import Alternatives, ListOf, Nested, StrictSchema
from hydraulics.findings import RETURN_LIMIT
from hydraulics.ground.soil import MOISTURES, SOILS
from hydraulics.sizing.array import YEARS
from hydraulics.sizing.choice import BORDER, CENTRES, FIELD_SHAPES
from hydraulics.sizing.heat_load import PEAK_HOURS
from hydraulics.sizing.result import Metre

MOST_LOOPS: Final = 1_000
"""Most loops that a sizing looks for; with the most passes and years it takes some seconds."""
MOST_YEARS: Final = 100
KINDS: Final = ("slinky_flat", "slinky_upright", "straight", "pond_mat", "borehole")
_PRACTICE: Final = "common practice, no source"
MONTHS: Final = 12


def _performance(description: str, *examples: float, required: bool = False) -> Number:
    return Number(required=required, minimum=1.1, maximum=20, metadata=said(description, *examples))


def _depth(description: str, *examples: float) -> Number:
    return Number(required=True, minimum=0.1, maximum=20, metadata=said(description, *examples))


# ------------------------------------------------------------------------------------- the request


class HeatLoadSchema(StrictSchema):
    """What the heat pump gives, however its year is told."""

    heat_pump_output_kw = Number(
        required=True,
        minimum=0.1,
        maximum=2_000,
        metadata=said("Heat that the heat pump gives at design; it sets the peak.", 8),
    )
    seasonal_performance = _performance(
        "Heat given over electricity taken, heating season.", 3.6, required=True
    )
    design_performance = _performance(
        "COP at design; left out, the seasonal one, which is usually higher and so draws more "
        "(safe side).",
        3.1,
    )
    peak_hours = Number(
        minimum=0.1,
        maximum=720,
        load_default=PEAK_HOURS,
        metadata=said(f"How long the design draw lasts without rest (24 h: {_PRACTICE})."),
    )
    first_month = Integer(
        minimum=1,
        maximum=MONTHS,
        load_default=1,
        metadata=said("Month in which operation begins.", 10),
    )


class AnnualHeatLoadSchema(HeatLoadSchema):
    """The year by run hours; shared over the months by degree-days of the surface's year."""

    heating_hours = Number(
        required=True,
        minimum=0,
        maximum=8_766,
        metadata=said("Hours a year at that output that give the year's space heat.", 1800),
    )
    hot_water_kwh = Number(
        minimum=0,
        maximum=1e7,
        load_default=0.0,
        metadata=said("Heat given to hot water in a year, on top of the heating hours.", 3000),
    )
    hot_water_performance = _performance(
        "Seasonal performance on hot water; left out, as heating.", 2.8
    )


class MonthlyHeatLoadSchema(HeatLoadSchema):
    """The year month by month."""

    monthly_heat_kwh = ListOf(
        Number(minimum=0, maximum=1e7),
        required=True,
        shortest=MONTHS,
        longest=MONTHS,
        metadata=said(
            "Heat that the heat pump gives in each month, hot water included, January first.",
            [2900, 2500, 2000, 1200, 600, 250, 250, 250, 500, 1300, 2100, 2800],
        ),
    )


class SurfaceTemperatureSchema(StrictSchema):
    """The year at the ground's surface, as one wave."""

    mean_c = Number(
        required=True, minimum=-20, maximum=40, metadata=said("Annual mean of the surface.", 10.2)
    )
    swing_k = Number(
        required=True,
        minimum=0,
        maximum=40,
        metadata=said("Half of warmest less coldest.", 7.5),
    )
    coldest_day = Number(
        minimum=1,
        maximum=366,
        load_default=35.0,
        metadata=said("Day of the year on which the surface is coldest, 1 January being 1."),
    )


class GroundSchema(StrictSchema):
    """The ground of the site, however its conductivity is told."""

    surface_temperature = Nested(
        lambda: SurfaceTemperatureSchema, required=True, metadata=said("The year at the surface.")
    )
    geothermal_gradient_k_m = Number(
        minimum=0,
        maximum=0.2,
        load_default=0.0,
        metadata=said("Warming with depth, for boreholes; 0 is on the safe side.", 0.02),
    )


class MeasuredGroundSchema(GroundSchema):
    """Ground whose conductivity and heat capacity are known."""

    conductivity_w_m_k = Number(
        required=True, minimum=0.1, maximum=10, metadata=said("Thermal conductivity.", 1.8)
    )
    heat_capacity_mj_m3_k = Number(
        required=True, minimum=0.2, maximum=5, metadata=said("Volumetric heat capacity.", 2.3)
    )


class SoilGroundSchema(GroundSchema):
    """Ground by its class of soil, with its usual moisture, another state, or a water content."""

    soil = Choice(
        SOILS, required=True, metadata=said("Class of soil, as GET /v1/soils lists them.", "clay")
    )
    moisture = Choice(
        MOISTURES,
        metadata=said("State of GET /v1/soils; left out, usual, or by water_content_percent."),
    )
    water_content_percent = Number(
        minimum=0,
        maximum=2_000,
        metadata=said("Water, of the dry mass; instead of moisture.", 22),
    )
    dry_density_kg_m3 = Number(
        minimum=50,
        maximum=2_600,
        metadata=said("Dry mass of a cubic metre; left out, the class's usual one.", 1500),
    )


class SlinkyKindSchema(StrictSchema):
    """Coils spread along trenches, one slinky to a trench."""

    pipe = PipeField(required=True, metadata=said("The pipe.", "PE100 SDR11 32"))
    depth_m = _depth("Depth of the coils' centres.", 1.2)
    upright = Flag(load_default=False, metadata=said("Stood upright; false for laid flat."))
    coil_diameter_m = Number(
        minimum=0.2,
        maximum=3,
        load_default=1.0,
        metadata=said(f"Of a coil, pipe centre to pipe centre (1 m: {_PRACTICE})."),
    )
    pitch_m = Number(
        minimum=0.1,
        maximum=5,
        load_default=1.0,
        metadata=said(f"From one coil to the next along the trench (1 m: {_PRACTICE})."),
    )


class StraightKindSchema(StrictSchema):
    """Straight pipe laid up and down trenches."""

    pipe = PipeField(required=True, metadata=said("The pipe.", "PE100 SDR11 40"))
    depth_m = _depth("Depth of the pipes.", 1.2)
    passes = Integer(
        minimum=2,
        maximum=12,
        load_default=2,
        metadata=said("Runs of pipe in one trench, one after the other in flow; even."),
    )
    spacing_m = Number(
        minimum=0.05,
        maximum=5,
        load_default=0.4,
        metadata=said(f"Between passes (0.4 m: {_PRACTICE})."),
    )


class PondMatKindSchema(StrictSchema):
    """Spiral mats of pipe in open water."""

    pipe = PipeField(required=True, metadata=said("The pipe.", "PE100 SDR11 32"))
    coldest_water_c = Number(
        required=True, minimum=-1, maximum=30, metadata=said("Coldest water at the mats.", 4)
    )
    mat_inner_diameter_m = Number(
        minimum=0.2, maximum=10, load_default=0.6, metadata=said("Diameter of the first turn.")
    )
    mat_outer_diameter_m = Number(
        minimum=0.3, maximum=10, load_default=2.0, metadata=said("Diameter of the last turn.")
    )
    mat_spacing_m = Number(
        minimum=0.02, maximum=1, load_default=0.1, metadata=said("Pipe centre to pipe centre.")
    )


class BoreholeKindSchema(StrictSchema):
    """A field of equal boreholes, one loop in each."""

    pipe = PipeField(required=True, metadata=said("The pipe.", "PE100 SDR11 40"))
    borehole_diameter_mm = Number(
        required=True, minimum=60, maximum=500, metadata=said("Diameter of the borehole.", 130)
    )
    pipe_centre_mm = Number(
        required=True,
        minimum=5,
        maximum=250,
        metadata=said("From the borehole's centre to a pipe's centre.", 35),
    )
    grout_conductivity_w_m_k = Number(
        required=True, minimum=0.1, maximum=10, metadata=said("Of the grout.", 1.8)
    )
    u_tubes = Integer(
        minimum=1, maximum=2, load_default=1, metadata=said("1, or 2 in parallel in each hole.")
    )
    field_shape = Choice(
        FIELD_SHAPES, load_default="line", metadata=said("Of the field, seen from above.")
    )
    rows = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        metadata=said("Boreholes across, for every shape but a line; left out, about square."),
    )
    spacing_m = Number(
        minimum=1,
        maximum=100,
        load_default=6.0,
        metadata=said(f"Between boreholes (6 m: {_PRACTICE})."),
    )
    buried_m = Number(
        minimum=0,
        maximum=20,
        load_default=1.0,
        metadata=said("Depth of the top of the part that draws heat."),
    )
    deepest_m = Number(
        minimum=20,
        maximum=300,
        load_default=150.0,
        metadata=said(
            "Greatest length that draws heat; more boreholes are taken where it would be passed "
            f"(150 m: {_PRACTICE})."
        ),
    )


class SlinkySchema(StrictSchema):
    """Slinkies in trenches."""

    slinky = Nested(lambda: SlinkyKindSchema, required=True, metadata=said("Its measures."))


class StraightSchema(StrictSchema):
    """Straight pipe in trenches."""

    straight = Nested(lambda: StraightKindSchema, required=True, metadata=said("Its measures."))


class PondSchema(StrictSchema):
    """Mats in open water."""

    pond_mat = Nested(lambda: PondMatKindSchema, required=True, metadata=said("Its measures."))


class BoreholesSchema(StrictSchema):
    """Boreholes."""

    borehole = Nested(lambda: BoreholeKindSchema, required=True, metadata=said("Its measures."))


class SiteLimitsSchema(StrictSchema):
    """What the site offers. What is not given is not checked."""

    area_m2 = Number(minimum=1, maximum=1e8, metadata=said("Area available.", 1200))
    length_m = Number(
        minimum=1,
        maximum=10_000,
        metadata=said("One side of a rectangular plot; trenches run along it.", 60),
    )
    width_m = Number(minimum=1, maximum=10_000, metadata=said("Its other side.", 30))
    trench_length_m = Number(
        minimum=1, maximum=1e6, metadata=said("Trench that can be dug in all.", 300)
    )
    centres_m = Number(
        minimum=0.1,
        maximum=100,
        load_default=CENTRES,
        metadata=said(f"Between trench centre lines ({CENTRES:g} m: {_PRACTICE})."),
    )
    border_m = Number(
        minimum=0,
        maximum=100,
        load_default=BORDER,
        metadata=said(
            f"From a trench, mat or borehole to the boundary ({BORDER:g} m: {_PRACTICE})."
        ),
    )


class LoopLimitsSchema(StrictSchema):
    """What makes a loop practical."""

    loops = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        metadata=said("Number of equal loops; left out, the least that keeps the limits below.", 4),
    )
    longest_pipe_m = Number(
        minimum=10,
        maximum=10_000,
        metadata=said("Longest pipe of one loop; left out, not limited.", 300),
    )
    largest_pressure_drop_kpa = Number(
        minimum=0.1,
        maximum=1_000,
        load_default=30.0,
        metadata=said(f"Of one loop at the peak's flow (30 kPa: {_PRACTICE})."),
    )
    largest_velocity_m_s = Number(
        minimum=0.05,
        maximum=10,
        load_default=1.5,
        metadata=said(f"In a loop (1.5 m/s: {_PRACTICE})."),
    )
    tail_m = Number(
        minimum=0,
        maximum=1_000,
        load_default=0.0,
        metadata=said(
            "Pipe from the manifold to where the heat is gathered, one way; in every loop alike, "
            "laid out and back, not counted as gathering heat.",
            12,
        ),
    )


class ExtractionRateSchema(StrictSchema):
    """A rate from the local standard's table, which the sizing then follows."""

    rate_w_m = Number(
        required=True,
        minimum=0.1,
        maximum=1_000,
        metadata=said("Heat drawn at the peak per metre.", 45),
    )
    per = Choice(
        get_args(Metre), required=True, metadata=said("Metre of what: trench, bore or pipe.")
    )
    hours = Number(
        minimum=1,
        maximum=8_766,
        metadata=said("Full hours a year for which the table gives it.", 1800),
    )
    source = Text(
        longest=200,
        load_default="given by the caller",
        metadata=said("The table, in your words.", "table of the local standard"),
    )


class SizingInputSchema(StrictSchema):
    """The heat to be given, the ground, and the kind of array that shall gather it."""

    heat_load = Alternatives(
        {"heating_hours": AnnualHeatLoadSchema, "monthly_heat_kwh": MonthlyHeatLoadSchema},
        what="the heat load",
        why="The year is told once: by run hours or month by month.",
        required=True,
        metadata=said("What the heat pump gives."),
    )
    temperature_change_k = Number(
        required=True,
        minimum=0.5,
        maximum=15,
        metadata=said("Rise of the brine through the ground at the peak.", 3.5),
    )
    ground = Alternatives(
        {"conductivity_w_m_k": MeasuredGroundSchema, "soil": SoilGroundSchema},
        what="the ground",
        why="How it conducts is told once: by its values or by its class of soil.",
        required=True,
        metadata=said("The ground of the site."),
    )
    array_kind = Alternatives(
        {
            "slinky": SlinkySchema,
            "straight": StraightSchema,
            "pond_mat": PondSchema,
            "borehole": BoreholesSchema,
        },
        what="the kind of array",
        why="An array is sized as one kind; ask again for another.",
        required=True,
        metadata=said("What kind of array, of which pipe and measures."),
    )
    site = Nested(
        lambda: SiteLimitsSchema, metadata=said("What the site offers; left out, not checked.")
    )
    limits = Nested(
        lambda: LoopLimitsSchema, metadata=said("What makes a loop practical; left out, the usual.")
    )
    design_years = Integer(
        minimum=1,
        maximum=MOST_YEARS,
        load_default=YEARS,
        metadata=said("Life through which the return keeps its limit."),
    )
    least_return_c = Number(
        minimum=-20,
        maximum=20,
        load_default=RETURN_LIMIT,
        metadata=said(
            "Limit on the brine that comes back from the ground "
            f"({RETURN_LIMIT:g} °C: {_PRACTICE})."
        ),
    )
    extraction_rate = Nested(
        lambda: ExtractionRateSchema,
        metadata=said(
            "A rate to follow instead; conduction then only checks it. Left out, conduction sizes "
            "the array."
        ),
    )


class ArraySizingRequestSchema(SizingInputSchema):
    """A heat pump's year, the ground, and a kind of array to be sized."""

    name = job_name()
    antifreeze = Nested(
        lambda: AntifreezeMixSchema, required=True, metadata=said("What fills the array.")
    )
