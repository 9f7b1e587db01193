"""Request and response of POST /v1/groundworks."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.array import LONGEST, CircuitSchema, PipeField, said
from api.schemas.common import (
    MOST_ROWS,
    cautions_list,
    findings_list,
    job_name,
    method_of,
    name_as_given,
    service_version,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text
from api.schemas.flow_split import PlantSchema
from api.schemas.objects import Alternatives, ListOf, Nested, StrictSchema
from hydraulics.groundworks.excavation import (
    BEDDING,
    BULKING,
    HEADER_DEPTH,
    HEADER_WIDTH,
    TrenchKind,
)
from hydraulics.groundworks.plan import ShapeKind
from hydraulics.groundworks.rules import BORDER

_PRACTICE: Final = "common practice, no source"


class WorksSchema(StrictSchema):
    """How the work is done, whatever the soil."""

    bedding_imported = Flag(
        load_default=True,
        metadata=said("Whether fine material is brought in; false where it is sieved from spoil."),
    )
    lorry_m3 = Number(
        minimum=0.1,
        maximum=1_000,
        load_default=10.0,
        metadata=said(f"What a lorry holds, loose (10 m³: {_PRACTICE}).", 8),
    )
    digger_m_h = Number(
        minimum=0.01,
        maximum=1_000,
        metadata=said(
            f"Trench dug, emptied and backfilled in an hour; left out, 40 m in 6 h ({_PRACTICE}).",
            7,
        ),
    )
    centres_m = Number(
        minimum=0.1,
        maximum=1_000,
        metadata=said(
            "Centres of trenches, boreholes or mats; left out, 5 m for trenches, 5 or 6 m for "
            "boreholes by their depth, mats touching.",
            5,
        ),
    )
    border_m = Number(
        minimum=0,
        maximum=1_000,
        load_default=BORDER,
        metadata=said(f"Distance kept from the boundary ({BORDER:g} m: {_PRACTICE})."),
    )
    borehole_diameter_mm = Number(
        minimum=10,
        maximum=2_000,
        metadata=said("Diameter of the boreholes, where there are any.", 150),
    )
    laying_temperature_c = Number(
        minimum=-20,
        maximum=60,
        load_default=20.0,
        metadata=said("Temperature of the pipe when it is bent, for the bend limit."),
    )


class WorksInSoilSchema(WorksSchema):
    """How the work is done, in a class of soil: the middle of its range of bulking is used."""

    soil = Choice(
        BULKING,
        required=True,
        metadata=said("Class of soil, as GET /v1/soils lists them.", "clay"),
    )


class WorksWithBulkingSchema(WorksSchema):
    """How the work is done, with the bulking known."""

    bulking_percent = Number(
        required=True,
        minimum=0,
        maximum=200,
        metadata=said("Gain of volume when dug.", 30),
    )


class TrenchSchema(StrictSchema):
    """Section of the trenches that the loops lie in."""

    kind = Choice(
        get_args(TrenchKind),
        required=True,
        metadata=said("flat or upright: a slinky lying or standing. straight: straight pipe."),
    )
    width_m = Number(
        required=True, minimum=0.01, maximum=100, metadata=said("Width of the floor.", 1.2)
    )
    depth_m = Number(
        required=True, minimum=0.01, maximum=50, metadata=said("Depth to the floor.", 1.2)
    )
    side_slope = Number(
        minimum=0,
        maximum=10,
        load_default=0.0,
        metadata=said("Horizontal over vertical of the sides; 0 for vertical.", 0.75),
    )
    bench_height_m = Number(
        minimum=0,
        maximum=10,
        load_default=0.0,
        metadata=said("Height of each step of a benched trench; 0 for none."),
    )
    bench_width_m = Number(
        minimum=0,
        maximum=10,
        load_default=0.0,
        metadata=said("Tread of each step on each side; 0 for none."),
    )
    bedding_below_m = Number(
        minimum=0,
        maximum=5,
        load_default=BEDDING,
        metadata=said(f"Fine material below the pipe ({BEDDING:g} m: {_PRACTICE})."),
    )
    bedding_above_m = Number(
        minimum=0,
        maximum=5,
        load_default=BEDDING,
        metadata=said(f"Fine material above the pipe ({BEDDING:g} m: {_PRACTICE})."),
    )
    passes = Integer(
        minimum=1,
        maximum=1_000,
        load_default=1,
        metadata=said("Pipes side by side, for loops that are given as straight pipe only."),
    )


class HeaderTrenchSchema(StrictSchema):
    """The trench that headers, runs and the loops' tails lie in."""

    length_m = Number(
        minimum=0,
        maximum=LONGEST,
        metadata=said(
            "Length; left out, taken from the plan: along the foot of every row and between rows."
        ),
    )
    width_m = Number(
        minimum=0.01,
        maximum=100,
        load_default=HEADER_WIDTH,
        metadata=said(f"Width of the floor ({HEADER_WIDTH:g} m: {_PRACTICE})."),
    )
    depth_m = Number(
        minimum=0.01,
        maximum=50,
        load_default=HEADER_DEPTH,
        metadata=said(f"Depth to the floor ({HEADER_DEPTH:g} m: {_PRACTICE})."),
    )
    side_slope = Number(
        minimum=0, maximum=10, load_default=0.0, metadata=said("Horizontal over vertical.")
    )
    separation_m = Number(
        minimum=0, maximum=100, metadata=said("Distance kept between flow and return.", 0.3)
    )


class SiteSidesSchema(StrictSchema):
    """A plot by its sides."""

    length_m = Number(
        required=True, minimum=0.1, maximum=LONGEST, metadata=said("One side of the plot.", 60)
    )
    width_m = Number(
        required=True, minimum=0.1, maximum=LONGEST, metadata=said("The other side.", 40)
    )


class SiteAreaSchema(StrictSchema):
    """A plot by its area."""

    area_m2 = Number(
        required=True, minimum=0.01, maximum=1e8, metadata=said("Area of the plot.", 2400)
    )


class CoilsOnOfferSchema(StrictSchema):
    """Coil lengths that a pipe can be had in."""

    pipe = PipeField(required=True, metadata=said("A pipe of the array.", "PE100 SDR11 32"))
    lengths_m = ListOf(
        Number(minimum=1, maximum=LONGEST),
        required=True,
        shortest=1,
        longest=100,
        metadata=said("Lengths of coil.", [100, 150, 200]),
    )


class GroundworksRequestSchema(StrictSchema):
    """An array, and how and where it is dug in."""

    name = job_name()
    array = Nested(lambda: CircuitSchema, required=True, metadata=said("What is buried."))
    plant = Nested(
        lambda: PlantSchema,
        metadata=said(
            "As for the flow split. Its runs lie in the header trench and are ordered; its heat "
            "exchanger and fittings have no part in groundworks."
        ),
    )
    works = Alternatives(
        {"soil": WorksInSoilSchema, "bulking_percent": WorksWithBulkingSchema},
        what="the works",
        why="How much the soil bulks is given once: by its class or as a percentage.",
        required=True,
        metadata=said("How the work is done."),
    )
    trench = Nested(
        lambda: TrenchSchema,
        metadata=said("Section of the loops' trenches; needed where loops lie in trenches."),
    )
    header_trench = Nested(
        lambda: HeaderTrenchSchema,
        metadata=said("The header trench; left out, none is dug. {} takes the usual one."),
    )
    site = Alternatives(
        {"length_m": SiteSidesSchema, "area_m2": SiteAreaSchema},
        what="the site",
        why="The plot is given once: by its two sides or by its area.",
        metadata=said("The ground available."),
    )
    coils_on_offer = ListOf(
        Nested(lambda: CoilsOnOfferSchema),
        longest=1_000,
        metadata=said(
            "Coil lengths by pipe; for a pipe not listed 50, 100, 150, 200 and 300 m "
            f"({_PRACTICE})."
        ),
    )


# ------------------------------------------------------------------------------------- the response


class VolumesSchema(StrictSchema):
    """Volumes of digging."""

    length_m = Number(required=True, metadata=said("Trench dug."))
    dug_m3 = Number(required=True, metadata=said("Soil dug, as it lay."))
    heaped_m3 = Number(required=True, metadata=said("The same, loose: what the heaps hold."))
    bedding_m3 = Number(required=True, metadata=said("Fine material, compacted, less the pipe."))
    pipe_m3 = Number(required=True, metadata=said("Outside volume of the pipe."))
    backfill_m3 = Number(required=True, metadata=said("Dug soil that goes back, as it lay."))
    spoil_m3 = Number(required=True, metadata=said("Soil that does not go back, as it lay."))
    spoil_loose_m3 = Number(required=True, metadata=said("The same, loose: what lorries carry."))


class DugTrenchSchema(StrictSchema):
    """A trench, or several equal ones."""

    loop = Text(required=True, longest=1_000, metadata=said("Loop that lies in it."))
    length_m = Number(required=True, metadata=said("Length of each."))
    count = Integer(required=True, minimum=1, metadata=said("How many."))
    coils = Integer(required=True, minimum=0, metadata=said("Coils in each; 0 for straight pipe."))
    pipes = Integer(
        required=True,
        minimum=0,
        metadata=said("Straight pipes side by side, a slinky's return counted."),
    )


class DrillingSchema(StrictSchema):
    """Boreholes."""

    holes = Integer(required=True, minimum=1, metadata=said("How many."))
    drilled_m = Number(required=True, metadata=said("Metres drilled."))
    grout_m3 = Number(
        required=True, metadata=said("Grout round the pipes, no loss into the ground counted.")
    )
    spoil_m3 = Number(required=True, metadata=said("Cuttings as they lay."))
    spoil_loose_m3 = Number(
        required=True,
        metadata=said("The same, loose; drilled wet, slurry of several times the volume."),
    )


class MatsSchema(StrictSchema):
    """Pond mats."""

    mats = Integer(required=True, minimum=1, metadata=said("How many."))
    area_m2 = Number(required=True, metadata=said("Area that they cover, touching, in squares."))


class LandSchema(StrictSchema):
    """Ground that the array takes."""

    places = Integer(required=True, minimum=1, metadata=said("Trenches, boreholes or mats."))
    across = Integer(required=True, minimum=1, metadata=said("Side by side."))
    rows = Integer(required=True, minimum=1, metadata=said("Rows of them."))
    centres_m = Number(required=True, metadata=said("Centre to centre, side by side."))
    row_centres_m = Number(required=True, metadata=said("Centre to centre, row to row."))
    border_m = Number(required=True, metadata=said("Distance kept from the boundary."))
    width_m = Number(required=True, metadata=said("Width taken, borders included."))
    length_m = Number(required=True, metadata=said("Length taken, borders included."))
    area_m2 = Number(required=True, metadata=said("Area taken, borders included."))
    available_m2 = Number(metadata=said("Area available; absent where not known."))
    fits = Flag(metadata=said("Whether it lies within the plot; absent without the plot's sides."))


class OrderLineSchema(StrictSchema):
    """Equal coils of pipe."""

    pipe = Text(required=True, metadata=said("The pipe.", "PE100 SDR11 32"))
    coil_m = Number(required=True, metadata=said("Length of a coil."))
    count = Integer(required=True, minimum=1, metadata=said("How many."))
    for_loops = Integer(required=True, minimum=0, metadata=said("Of these, for loops."))
    for_routes = Integer(
        required=True, minimum=0, metadata=said("Of these, for headers, runs and tails.")
    )


class LoopCoilSchema(StrictSchema):
    """The coil that a loop is laid from, in one piece."""

    loop = Text(required=True, longest=1_000, metadata=said("The loop."))
    pipe = Text(required=True, metadata=said("The pipe."))
    needed_m = Number(required=True, metadata=said("What the loop takes."))
    coil_m = Number(metadata=said("Coil to lay it from; absent where none is long enough."))
    leftover_m = Number(
        required=True, metadata=said("What is over: keep it coiled at the loop's end, uncut.")
    )
    count = Integer(required=True, minimum=1, metadata=said("Equal loops."))


class ProbeSchema(StrictSchema):
    """Equal factory-made U-tubes."""

    pipe = Text(required=True, metadata=said("Their pipe."))
    depth_m = Number(required=True, metadata=said("Depth of the borehole."))
    count = Integer(
        required=True, minimum=1, metadata=said("U-tubes, two for a double-U borehole.")
    )


class RouteLengthSchema(StrictSchema):
    """Pipe in headers, runs and boreholes' tails."""

    pipe = Text(required=True, metadata=said("The pipe."))
    length_m = Number(required=True, metadata=said("Length laid."))


class PipeOrderSchema(StrictSchema):
    """What pipe to order: no loop jointed, nothing cut short."""

    lines = ListOf(
        Nested(lambda: OrderLineSchema), required=True, longest=MOST_ROWS, metadata=said("Coils.")
    )
    loops = ListOf(
        Nested(lambda: LoopCoilSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Which coil each loop is laid from."),
    )
    u_tubes = ListOf(
        Nested(lambda: ProbeSchema), required=True, longest=MOST_ROWS, metadata=said("U-tubes.")
    )
    routes = ListOf(
        Nested(lambda: RouteLengthSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Routes."),
    )
    leftover_m = Number(required=True, metadata=said("Pipe ordered beyond what is laid."))


class PointSchema(StrictSchema):
    """A point of the plan, from the plot's lower left corner."""

    x_m = Number(required=True, metadata=said("To the right."))
    y_m = Number(required=True, metadata=said("Up."))


class PlanRectangleSchema(StrictSchema):
    """An upright rectangle by its lower left corner."""

    kind = Choice(get_args(ShapeKind), required=True, metadata=said("What it shows."))
    label = Text(longest=1_000, metadata=said("Its name, where it has one."))
    x_m = Number(required=True, metadata=said("Left side."))
    y_m = Number(required=True, metadata=said("Lower side."))
    width_m = Number(required=True, metadata=said("Width."))
    height_m = Number(required=True, metadata=said("Height."))


class PlanCircleSchema(StrictSchema):
    """A circle by its centre."""

    kind = Choice(get_args(ShapeKind), required=True, metadata=said("What it shows."))
    label = Text(longest=1_000, metadata=said("Its name, where it has one."))
    x_m = Number(required=True, metadata=said("Centre."))
    y_m = Number(required=True, metadata=said("Centre."))
    diameter_m = Number(required=True, metadata=said("Diameter."))


class PlanLineSchema(StrictSchema):
    """A line through points."""

    kind = Choice(get_args(ShapeKind), required=True, metadata=said("What it shows."))
    points = ListOf(
        Nested(lambda: PointSchema), required=True, longest=1_000, metadata=said("Its points.")
    )


class PlanTextSchema(StrictSchema):
    """A label at a point."""

    x_m = Number(required=True, metadata=said("Where."))
    y_m = Number(required=True, metadata=said("Where."))
    text = Text(required=True, longest=1_000, metadata=said("The label."))


class PlanSchema(StrictSchema):
    """The plan's geometry; Accept: image/svg+xml gives it as a drawing."""

    width_m = Number(required=True, metadata=said("Everything lies within this width."))
    height_m = Number(required=True, metadata=said("And this height."))
    rectangles = ListOf(
        Nested(lambda: PlanRectangleSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Plot and trenches."),
    )
    circles = ListOf(
        Nested(lambda: PlanCircleSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Coils, boreholes and mats."),
    )
    lines = ListOf(
        Nested(lambda: PlanLineSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Header trench and straight pipes."),
    )
    texts = ListOf(
        Nested(lambda: PlanTextSchema), required=True, longest=MOST_ROWS, metadata=said("Labels.")
    )


class GroundworksMethodSchema(StrictSchema):
    """How it was computed."""

    volumes = Text(required=True, longest=2_000, metadata=said("Volumes."))
    bulking = Text(required=True, longest=2_000, metadata=said("Bulking."))
    version = service_version()


class GroundworksResponseSchema(StrictSchema):
    """Digging, spoil, bedding, land, time and pipe to order."""

    name = name_as_given()
    trenches = ListOf(
        Nested(lambda: DugTrenchSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Trenches of the loops."),
    )
    loop_trenches = Nested(
        lambda: VolumesSchema, required=True, metadata=said("Volumes of the loops' trenches.")
    )
    header_trench = Nested(
        lambda: VolumesSchema, required=True, metadata=said("Volumes of the header trench.")
    )
    total = Nested(lambda: VolumesSchema, required=True, metadata=said("All trenches."))
    drilling = Nested(lambda: DrillingSchema, metadata=said("Boreholes, where there are any."))
    mats = Nested(lambda: MatsSchema, metadata=said("Pond mats, where there are any."))
    bulking_percent = Number(required=True, metadata=said("Bulking that was used."))
    spoil_loads = Integer(required=True, minimum=0, metadata=said("Lorries of spoil off the site."))
    bedding_loads = Integer(
        required=True, minimum=0, metadata=said("Lorries of bedding brought in.")
    )
    digger_h = Number(required=True, metadata=said("Digger's hours; drilling is not counted."))
    land = Nested(lambda: LandSchema, metadata=said("Ground taken; absent where nothing is."))
    pipe_order = Nested(lambda: PipeOrderSchema, required=True, metadata=said("Pipe to order."))
    plan = Nested(
        lambda: PlanSchema,
        metadata=said("Plan; absent beyond 5,000 places, or where nothing is set out."),
    )
    findings = findings_list()
    cautions = cautions_list("What to mind before anyone digs.")
    method = method_of(GroundworksMethodSchema)
