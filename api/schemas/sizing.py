"""What an array is sized for, in a request: heat, ground, plot, and the kind of array."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.array import PipeName
from api.schemas.duty import PRACTICE
from api.schemas.fields import Choice, Flag, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.plot import PositionSchema
from hydraulics.ground.soil import MOISTURES, SOILS
from hydraulics.groundworks.excavation import BULKING
from hydraulics.shallow.pond import LEAST_WATER
from hydraulics.sizing.choice import MOST_IN_LINE, Metre
from hydraulics.sizing.heat_load import PEAK_HOURS

MOST_LOOPS: Final = 1_000
"""Most loops that a sizing looks for; with the most passes and years it takes some seconds."""
MONTHS: Final = 12
SOIL_NAMES: Final = tuple(dict.fromkeys((*SOILS, *BULKING)))


def _performance(description: str, *examples: float, required: bool = False) -> Number:
    return Number(required=required, minimum=1.1, maximum=20, metadata=said(description, *examples))


def _depth(description: str, *examples: float, engine: str | tuple[str, ...] = ()) -> Number:
    said_of = said(description, *examples)
    return Number(required=True, minimum=0.1, maximum=20, engine=engine, metadata=said_of)


class CoolingSchema(StrictSchema):
    """Cold that the heat pump gives; its heat goes into the ground."""

    output_kw = Number(
        required=True,
        minimum=0.1,
        maximum=2_000,
        metadata=said("Cold given at design; with the performance it sets the peak of cooling.", 6),
    )
    monthly_kwh = ListOf(
        Number(minimum=0, maximum=1e7),
        required=True,
        shortest=MONTHS,
        longest=MONTHS,
        metadata=said(
            "Cold given in each month, January first; the peak may fall in those that have some.",
            [0, 0, 0, 0, 200, 700, 1100, 1000, 300, 0, 0, 0],
        ),
    )
    performance = _performance(
        "Cold given over electricity taken; free cooling is recharge instead.", 4.5, required=True
    )
    peak_h = Number(
        minimum=0.1,
        maximum=720,
        load_default=PEAK_HOURS,
        engine="peak_hours",
        metadata=said(f"How long the peak of cooling lasts without rest (24 h: {PRACTICE})."),
    )


class HeatSchema(StrictSchema):
    """What the heat pump gives in a year, by run hours or month by month."""

    one_of = ("heating_h", "monthly_kwh")
    goes_with = {  # noqa: RUF012 (declared once, never changed)
        "hot_water_kwh": ("heating_h",),
        "hot_water_performance": ("hot_water_kwh",),
    }
    what = "the heat"
    why = "The year is told once: by run hours, with hot water beside them, or month by month."

    output_kw = Number(
        required=True,
        minimum=0.1,
        maximum=2_000,
        engine=("output", "peak", "peak.*"),
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
    performance_slope_percent_k = Number(
        minimum=0,
        maximum=20,
        metadata=said(
            "Gain of the heat pump's performance for a kelvin of warmer brine, by its maker.", 2.5
        ),
    )
    temperature_change_k = Number(
        required=True,
        minimum=0.5,
        maximum=15,
        metadata=said(
            "Of the brine through the ground at the peak of heat, or of cold where it is greater.",
            3.5,
        ),
    )
    heating_h = Number(
        minimum=0,
        maximum=8_766,
        engine="heating_hours",
        metadata=said(
            "Hours a year at that output that give the year's space heat, shared over the months "
            "by degree-days of the surface's year.",
            1800,
        ),
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
    monthly_kwh = ListOf(
        Number(minimum=0, maximum=1e7),
        shortest=MONTHS,
        longest=MONTHS,
        metadata=said(
            "Heat that the heat pump gives in each month, hot water included, January first.",
            [2900, 2500, 2000, 1200, 600, 250, 250, 250, 500, 1300, 2100, 2800],
        ),
    )
    peak_h = Number(
        minimum=0.1,
        maximum=720,
        load_default=PEAK_HOURS,
        engine="peak_hours",
        metadata=said(f"How long the design draw lasts without rest (24 h: {PRACTICE})."),
    )
    first_month = Integer(
        minimum=1,
        maximum=MONTHS,
        load_default=1,
        metadata=said("Month in which operation begins.", 10),
    )
    peak_months = ListOf(
        Integer(minimum=1, maximum=MONTHS),
        shortest=1,
        longest=MONTHS,
        metadata=said(
            "Months in which the design draw may fall; left out, every month that takes heat.",
            [11, 12, 1, 2, 3],
        ),
    )
    cooling = Nested(lambda: CoolingSchema, metadata=said("Cold given beside the heat."))
    recharge_kwh = ListOf(
        Number(minimum=0, maximum=1e7),
        shortest=MONTHS,
        longest=MONTHS,
        metadata=said(
            "Heat put back in each month by sun, free cooling or waste heat, January first.",
            [0, 0, 200, 500, 900, 1000, 1000, 900, 500, 200, 0, 0],
        ),
    )


class SurfaceSchema(StrictSchema):
    """The year at the ground's surface, as one wave."""

    one_of = ("mean_c", "monthly_air_c")
    together = (("mean_c", "swing_k"),)
    goes_with = {  # noqa: RUF012
        "coldest_day": ("mean_c",),
        "depth_m": ("mean_c",),
    }
    what = "the surface"
    why = "Its year is told once: by the wave, or by the months of the air that make it."

    mean_c = Number(minimum=-20, maximum=40, metadata=said("Annual mean of the surface.", 10.2))
    swing_k = Number(
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
    depth_m = Number(
        minimum=0,
        maximum=3,
        load_default=0.0,
        metadata=said("Depth at which that wave was measured; 0 for the surface itself."),
    )
    monthly_air_c = ListOf(
        Number(minimum=-50, maximum=50),
        shortest=MONTHS,
        longest=MONTHS,
        engine="months",
        metadata=said(
            "Means of the outdoor air, January first: the wave, and the degree-days by which "
            "heating_h is shared. Ground is about 1 K warmer than air: safe for heat drawn.",
            [4.1, 4.6, 6.6, 9.1, 12.3, 15.2, 17.3, 17.0, 14.5, 10.8, 7.0, 4.6],
        ),
    )
    film_w_m2_k = Number(
        minimum=0.5,
        maximum=100,
        metadata=said(
            "What passes from the surface to the air: paving, long grass, a floor; left out, the "
            "surface keeps its temperature whatever is drawn below.",
            8,
        ),
    )


class MeasuredTemperatureSchema(StrictSchema):
    """Ground as measured at one depth."""

    depth_m = Number(required=True, minimum=0, maximum=500, metadata=said("Below the surface.", 20))
    ground_c = Number(
        required=True, minimum=-10, maximum=60, engine="temperature", metadata=said("There.", 11.2)
    )


class GroundSchema(StrictSchema):
    """The ground of the site: what it conducts, its year at the surface, how it bulks when dug."""

    together = (("conductivity_w_m_k", "heat_capacity_mj_m3_k"),)
    apart = (
        ("moisture", "water_content_percent"),
        ("conductivity_w_m_k", "moisture"),
        ("conductivity_w_m_k", "water_content_percent"),
        ("conductivity_w_m_k", "dry_density_kg_m3"),
        ("undisturbed_c", "measured"),
    )
    goes_with = {  # noqa: RUF012
        "moisture": ("soil",),
        "water_content_percent": ("soil",),
        "dry_density_kg_m3": ("soil",),
        "frozen_conductivity_w_m_k": ("freezing_water_kg_m3",),
    }
    what = "the ground"
    why = (
        "What the ground conducts is told once: by measured values, or by its class of soil with "
        "how wet it is."
    )

    soil = Choice(
        SOIL_NAMES,
        component="SoilName",
        metadata=said(
            "Class of soil, as GET /v1/soils lists them; beside measured values it tells only how "
            "the ground bulks, and what water may freeze.",
            "clay",
        ),
    )
    moisture = Choice(
        MOISTURES,
        component="Moisture",
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
    conductivity_w_m_k = Number(
        minimum=0.1, maximum=10, metadata=said("Thermal conductivity, as measured.", 1.8)
    )
    heat_capacity_mj_m3_k = Number(
        minimum=0.2, maximum=5, metadata=said("Volumetric heat capacity, with it.", 2.3)
    )
    surface = Nested(
        lambda: SurfaceSchema, metadata=said("The year at the surface; sizing needs it.")
    )
    gradient_k_m = Number(
        minimum=0,
        maximum=0.2,
        load_default=0.0,
        engine="geothermal_gradient",
        metadata=said("Warming with depth, for boreholes; 0 is on the safe side.", 0.02),
    )
    undisturbed_c = Number(
        minimum=-10,
        maximum=60,
        metadata=said(
            "Mean over a borehole's depth, as a thermal response test measures it; for boreholes, "
            "instead of the surface's mean.",
            11.4,
        ),
    )
    measured = ListOf(
        Nested(lambda: MeasuredTemperatureSchema),
        shortest=1,
        longest=200,
        engine="profile",
        metadata=said(
            "Or temperatures measured down a borehole, deeper and deeper; beyond them gradient_k_m "
            "goes on, and 0 as the safe side of 0 and 0.03 does."
        ),
    )
    freezing_water_kg_m3 = Number(
        minimum=1,
        maximum=900,
        engine="freezing.water",
        metadata=said(
            "Water that freezes in a cubic metre of ground, for trenches: its latent heat then "
            "counts. Dry density times water content, less what fine soil keeps unfrozen, and no "
            "more than soil or heat_capacity_mj_m3_k lets the ground hold; left out, latent heat "
            "is too, on the safe side.",
            200,
        ),
    )
    frozen_conductivity_w_m_k = Number(
        minimum=0.1,
        maximum=10,
        engine="freezing.conductivity",
        metadata=said("Of the ground when frozen; left out, as unfrozen (safe side).", 2.1),
    )
    bulking_percent = Number(
        minimum=0,
        maximum=200,
        metadata=said(
            "Gain of volume when dug; left out, the middle of the range of the class of soil.", 30
        ),
    )
    min_water_c = Number(
        minimum=LEAST_WATER,
        maximum=30,
        engine=("coldest_water", "choice.coldest_water"),
        metadata=said("Coldest water at the mats, for mats in open water.", 4),
    )


# ------------------------------------------------------------------------------- kinds of array


class SlinkyKindSchema(StrictSchema):
    """Coils spread along trenches, one slinky to a trench."""

    pipe = PipeName(
        required=True, engine="pipe_diameter", metadata=said("The pipe.", "PE100 SDR11 32")
    )
    depth_m = _depth("Depth of the coils' centres.", 1.2)
    upright = Flag(load_default=False, metadata=said("Stood upright; false for laid flat."))
    coil_diameter_m = Number(
        minimum=0.2,
        maximum=3,
        load_default=1.0,
        engine="legs.*.coil_diameter",
        metadata=said(f"Of a coil, pipe centre to pipe centre (1 m: {PRACTICE})."),
    )
    pitch_m = Number(
        minimum=0.1,
        maximum=5,
        load_default=1.0,
        engine="legs.*.pitch",
        metadata=said(f"From one coil to the next along the trench (1 m: {PRACTICE})."),
    )


class TrenchKindSchema(StrictSchema):
    """Straight pipe laid up and down trenches."""

    pipe = PipeName(
        required=True, engine="pipe_diameter", metadata=said("The pipe.", "PE100 SDR11 40")
    )
    depth_m = _depth("Depth of the pipes.", 1.2, engine="pipes.*.depth")
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
        engine=("spacing", "legs.*.spacing", "legs.*.turn_diameter"),
        metadata=said(f"Between passes, centre to centre (0.4 m: {PRACTICE})."),
    )


class PondMatKindSchema(StrictSchema):
    """Spiral mats of pipe in open water."""

    pipe = PipeName(required=True, metadata=said("The pipe.", "PE100 SDR11 32"))
    inner_diameter_m = Number(
        minimum=0.2,
        maximum=10,
        load_default=0.6,
        engine="legs.*.inner_diameter",
        metadata=said("Diameter of the first turn."),
    )
    outer_diameter_m = Number(
        minimum=0.3, maximum=10, load_default=2.0, metadata=said("Diameter of the last turn.")
    )
    spacing_m = Number(
        minimum=0.02,
        maximum=1,
        load_default=0.1,
        engine="legs.*.spacing",
        metadata=said("Pipe centre to pipe centre."),
    )


class BoreholeKindSchema(StrictSchema):
    """A field of equal boreholes, one loop in each; their spacing is the plot's."""

    elsewhere = {"spacing_m": "plot"}  # noqa: RUF012 (declared once, never changed)
    one_of = ("grout_conductivity_w_m_k", "resistance_m_k_w")
    together = (("grout_conductivity_w_m_k", "pipe_offset_mm"),)
    goes_with = {"resistance_has_film": ("resistance_m_k_w",)}  # noqa: RUF012
    apart = (("positions", "rows"), ("positions", "perimeter"))
    what = "the boreholes"
    why = (
        "Their resistance is told once, by grout and pipe or as measured; so is how they stand, by "
        "rows, along a rectangle's sides or place by place."
    )

    pipe = PipeName(
        required=True,
        engine=("pipe_outer_radius", "outer_radius"),
        metadata=said("The pipe.", "PE100 SDR11 40"),
    )
    diameter_mm = Number(
        required=True,
        minimum=60,
        maximum=500,
        engine=("borehole_diameter", "borehole_radius", "legs.*.diameter"),
        metadata=said("Diameter of the borehole.", 130),
    )
    pipe_offset_mm = Number(
        minimum=5,
        maximum=250,
        engine="half_shank_spacing",
        metadata=said("From the borehole's centre to a pipe's centre.", 35),
    )
    grout_conductivity_w_m_k = Number(minimum=0.1, maximum=10, metadata=said("Of the grout.", 1.8))
    resistance_m_k_w = Number(
        minimum=0.005,
        maximum=1,
        metadata=said(
            "Brine to wall over the whole depth, as a thermal response test measures it: with the "
            "film of its fluid at its flow, and no other is counted; instead of grout and offset.",
            0.11,
        ),
    )
    resistance_has_film = Flag(
        engine="own_film",
        metadata=said(
            "True where the film of this array's brine and flow is in it, in place of the test's."
        ),
    )
    u_tubes = Integer(
        minimum=1, maximum=2, load_default=1, metadata=said("1, or 2 in parallel in each borehole.")
    )
    rows = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        metadata=said(
            "Rows in which they stand, the last perhaps shorter; left out, as few as the plot's "
            f"sides allow. Without those, more than {MOST_IN_LINE} need it, perimeter or "
            "positions, save where they are set out."
        ),
    )
    perimeter = Flag(
        metadata=said("Along the sides of the rectangle only; without rows, about square.")
    )
    positions = ListOf(
        Nested(lambda: PositionSchema),
        shortest=1,
        longest=MOST_LOOPS,
        engine=("positions", "coordinates"),
        metadata=said("Where each stands, instead of rows: so many are sized."),
    )
    top_m = Number(
        minimum=0,
        maximum=20,
        load_default=1.0,
        engine="buried",
        metadata=said("Depth of the top of the part that draws heat."),
    )
    max_depth_m = Number(
        minimum=20,
        maximum=300,
        load_default=150.0,
        engine="deepest",
        metadata=said(
            "Greatest length that draws heat; more boreholes are taken where it would be passed "
            f"(150 m: {PRACTICE})."
        ),
    )


class ArrayKindSchema(StrictSchema):
    """Exactly one kind of array, with its pipe and measures."""

    one_of = ("slinky", "trench", "pond_mat", "borehole")
    what = "the kind of array"
    why = (
        'An array is sized as one kind, whose measures stand in an object named by it: {"slinky": '
        '{"pipe": "PE100 SDR11 32", "depth_m": 1.2}}. Ask again for another.'
    )

    slinky = Nested(lambda: SlinkyKindSchema, metadata=said("Slinkies in trenches."))
    trench = Nested(lambda: TrenchKindSchema, metadata=said("Straight pipe in trenches."))
    pond_mat = Nested(lambda: PondMatKindSchema, metadata=said("Mats in open water."))
    borehole = Nested(lambda: BoreholeKindSchema, metadata=said("Boreholes."))


class ExtractionRateSchema(StrictSchema):
    """A rate from the local standard's table, which the sizing then follows."""

    rate_w_m = Number(
        required=True,
        minimum=0.1,
        maximum=1_000,
        metadata=said("Heat drawn at the peak per metre.", 45),
    )
    per = Choice(
        get_args(Metre),
        component="Metre",
        required=True,
        metadata=said("Metre of what: trench, borehole or pipe."),
    )
    full_h = Number(
        minimum=1,
        maximum=8_766,
        engine="hours",
        metadata=said("Full hours a year for which the table gives it.", 1800),
    )
    source = Text(
        longest=200,
        load_default="given by the caller",
        metadata=said("The table, in your words.", "table of the local standard"),
    )


class SizingOptionsSchema(StrictSchema):
    """What kind of array is to be sized, and how many loops it may have."""

    loop_count = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        engine=("loops.loops", "loops", "loops.most_loops", "trenches", "depth_range"),
        metadata=said(
            "Number of equal loops; left out, the fewest that keep the limits, or of mats that of "
            "the least pipe.",
            4,
        ),
    )
    array_kind = Nested(
        lambda: ArrayKindSchema,
        required=True,
        # Where no number of loops is given, it is the measures that ask for so many.
        engine=("choice", "", "loops.loops", "loops", "trenches", "depth_range"),
        metadata=said("What kind of array, of which pipe and measures."),
    )
    tail_m = Number(
        minimum=0,
        maximum=1_000,
        load_default=0.0,
        engine="loops.tail",
        metadata=said(
            "Pipe from the manifold to where the heat is gathered, one way; in every loop alike, "
            "laid out and back, not counted as gathering heat.",
            12,
        ),
    )
    extraction_rate = Nested(
        lambda: ExtractionRateSchema,
        engine=("rate", ""),
        metadata=said(
            "A rate to follow instead; conduction then only checks it. Left out, conduction sizes "
            "the array."
        ),
    )
