"""The answer of POST /v1/groundworks."""

from __future__ import annotations

from typing import get_args

from api.schemas.common import (
    MOST_ROWS,
    cautions_list,
    findings_list,
    method_of,
    name_as_given,
    reference_as_given,
    service_version,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.groundworks.plan import ShapeKind


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
    pipe_count = Integer(
        required=True,
        minimum=0,
        metadata=said("Straight pipes side by side, a slinky's return counted."),
    )


class DrillingSchema(StrictSchema):
    """Boreholes."""

    count = Integer(required=True, minimum=1, metadata=said("How many."))
    drilled_m = Number(required=True, metadata=said("Metres drilled."))
    grout_m3 = Number(
        required=True, metadata=said("Grout round the pipes, no loss into the ground counted.")
    )
    spoil_m3 = Number(required=True, metadata=said("Cuttings as they lay."))
    spoil_loose_m3 = Number(
        required=True,
        metadata=said("The same, loose; drilled wet, slurry of several times the volume."),
    )


class MatsLaidSchema(StrictSchema):
    """Pond mats."""

    count = Integer(required=True, minimum=1, metadata=said("How many."))
    area_m2 = Number(required=True, metadata=said("Area that they cover, touching, in squares."))


class LandSchema(StrictSchema):
    """Ground that the array takes."""

    places = Integer(required=True, minimum=1, metadata=said("Trenches, boreholes or mats."))
    across = Integer(required=True, minimum=1, metadata=said("Side by side."))
    rows = Integer(required=True, minimum=1, metadata=said("Rows of them."))
    spacing_m = Number(required=True, metadata=said("Centre to centre, side by side."))
    row_spacing_m = Number(required=True, metadata=said("Centre to centre, row to row."))
    border_m = Number(required=True, metadata=said("Distance kept from the boundary."))
    width_m = Number(required=True, metadata=said("Width taken, borders included."))
    length_m = Number(required=True, metadata=said("Length taken, borders included."))
    area_m2 = Number(required=True, metadata=said("Area taken, borders included."))
    plot_m2 = Number(metadata=said("Area available; absent where not known."))
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

    coils = ListOf(
        Nested(lambda: OrderLineSchema), required=True, longest=MOST_ROWS, metadata=said("Coils.")
    )
    loops = ListOf(
        Nested(lambda: LoopCoilSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Which coil each loop is laid from."),
    )
    probes = ListOf(
        Nested(lambda: ProbeSchema), required=True, longest=MOST_ROWS, metadata=said("U-tubes.")
    )
    routes = ListOf(
        Nested(lambda: RouteLengthSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Routes."),
    )
    leftover_m = Number(required=True, metadata=said("Pipe ordered beyond what is laid."))


class PlanPointSchema(StrictSchema):
    """A point of the plan, from the plot's lower left corner."""

    x_m = Number(required=True, metadata=said("To the right."))
    y_m = Number(required=True, metadata=said("Up."))


class PlanRectangleSchema(StrictSchema):
    """An upright rectangle by its lower left corner."""

    kind = Choice(
        get_args(ShapeKind), component="PlanShape", required=True, metadata=said("What it shows.")
    )
    label = Text(longest=1_000, metadata=said("Its name, where it has one."))
    x_m = Number(required=True, metadata=said("Left side."))
    y_m = Number(required=True, metadata=said("Lower side."))
    width_m = Number(required=True, metadata=said("Width."))
    height_m = Number(required=True, metadata=said("Height."))


class PlanCircleSchema(StrictSchema):
    """A circle by its centre."""

    kind = Choice(
        get_args(ShapeKind), component="PlanShape", required=True, metadata=said("What it shows.")
    )
    label = Text(longest=1_000, metadata=said("Its name, where it has one."))
    x_m = Number(required=True, metadata=said("Centre."))
    y_m = Number(required=True, metadata=said("Centre."))
    diameter_m = Number(required=True, metadata=said("Diameter."))


class PlanLineSchema(StrictSchema):
    """A line through points."""

    kind = Choice(
        get_args(ShapeKind), component="PlanShape", required=True, metadata=said("What it shows.")
    )
    points = ListOf(
        Nested(lambda: PlanPointSchema), required=True, longest=1_000, metadata=said("Its points.")
    )


class PlanTextSchema(StrictSchema):
    """A label at a point."""

    x_m = Number(required=True, metadata=said("Where."))
    y_m = Number(required=True, metadata=said("Where."))
    text = Text(required=True, longest=1_000, metadata=said("The label."))


class PlanSchema(StrictSchema):
    """The plan's geometry; POST /v1/groundworks/plan.svg gives it as a drawing."""

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


class GroundworksAnswerSchema(StrictSchema):
    """Digging, spoil, bedding, land, time and pipe to order."""

    name = name_as_given()
    reference = reference_as_given()
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
    pond_mats = Nested(lambda: MatsLaidSchema, metadata=said("Pond mats, where there are any."))
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
