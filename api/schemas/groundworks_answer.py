"""The answer of POST /v1/groundworks."""

from __future__ import annotations

from typing import get_args

from api.schemas.common import (
    cautions_list,
    findings_list,
    method_of,
    name_as_given,
    reference_as_given,
    service_version,
)
from api.schemas.fields import Choice, Day, Flag, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.told import counted, named, part, rows, told
from hydraulics.groundworks.bill import Unit
from hydraulics.groundworks.plan import ShapeKind


class VolumesSchema(StrictSchema):
    """Volumes of digging."""

    length_m = told("Trench dug.")
    dug_m3 = told("Soil dug, as it lay.")
    heaped_m3 = told("The same, loose: what the heaps hold.")
    bedding_m3 = told("Fine material, compacted, less the pipe.")
    pipe_m3 = told("Outside volume of the pipe.")
    backfill_m3 = told("Dug soil that goes back, as it lay.")
    spoil_m3 = told("Soil that does not go back, as it lay.")
    spoil_loose_m3 = told("The same, loose: what lorries carry.")


class DugTrenchSchema(StrictSchema):
    """A trench, or several equal ones."""

    loop = named("Loop that lies in it.")
    length_m = told("Length of each.")
    count = counted("How many.")
    coils = counted("Coils in each; 0 for straight pipe.", minimum=0)
    pipe_count = counted("Straight pipes side by side, a slinky's return counted.", minimum=0)


class DrillingSchema(StrictSchema):
    """Boreholes."""

    count = counted("How many.")
    drilled_m = told("Metres drilled.")
    grout_m3 = told("Grout round the pipes, no loss into the ground counted.")
    spoil_m3 = told("Cuttings as they lay.")
    spoil_loose_m3 = told("The same, loose; drilled wet, slurry of several times the volume.")


class MatsLaidSchema(StrictSchema):
    """Pond mats."""

    count = counted("How many.")
    area_m2 = told("Area that they cover, touching, in squares.")


class LandSchema(StrictSchema):
    """Ground that the array takes: its trenches, else its boreholes, else its mats."""

    places = counted("Trenches, boreholes or mats.")
    across = counted("Side by side.")
    rows = counted("Rows of them.")
    spacing_m = told("Centre to centre, side by side.")
    row_spacing_m = told("Centre to centre, row to row.")
    border_m = told("Distance kept from the boundary.")
    width_m = told("Width taken, borders included.")
    length_m = told("Length taken, borders included.")
    area_m2 = told("Area taken, borders included.")
    plot_m2 = Number(metadata=said("Area available; absent where not known."))
    fits = Flag(
        metadata=said(
            "Whether it lies within the plot and can be dug there; absent where nothing tells."
        )
    )


class OrderLineSchema(StrictSchema):
    """Equal coils of pipe."""

    pipe = Text(required=True, metadata=said("The pipe.", "PE100 SDR11 32"))
    coil_m = told("Length of a coil.")
    count = counted("How many.")
    for_loops = counted("Of these, for loops.", minimum=0)
    for_routes = counted("Of these, for headers, runs and tails.", minimum=0)


class LoopCoilSchema(StrictSchema):
    """The coil that a loop is laid from, in one piece."""

    loop = named("The loop.")
    pipe = Text(required=True, metadata=said("The pipe."))
    needed_m = told("What the loop takes.")
    coil_m = Number(metadata=said("Coil to lay it from; absent where none is long enough."))
    leftover_m = told(
        "What is over: cut it off. To leave it in the loop, put it into the job first, as a coiled "
        "leg: head, split, contents and vessel change."
    )
    count = counted("Equal loops.")


class ProbeSchema(StrictSchema):
    """Equal factory-made U-tubes."""

    pipe = Text(required=True, metadata=said("Their pipe."))
    depth_m = told("Depth of the borehole.")
    count = counted("U-tubes, two for a double-U borehole.")


class RouteLengthSchema(StrictSchema):
    """Pipe in headers, runs and boreholes' tails."""

    pipe = Text(required=True, metadata=said("The pipe."))
    length_m = told("Length laid.")


class PipeOrderSchema(StrictSchema):
    """What pipe to order: no loop jointed."""

    coils = rows(lambda: OrderLineSchema, "Coils.")
    loops = rows(lambda: LoopCoilSchema, "Which coil each loop is laid from.")
    probes = rows(lambda: ProbeSchema, "U-tubes.")
    routes = rows(lambda: RouteLengthSchema, "Routes.")
    leftover_m = told("Pipe ordered beyond what is laid.")


class PlanPointSchema(StrictSchema):
    """A point of the plan, from the plot's lower left corner."""

    x_m = told("To the right.")
    y_m = told("Up.")


class PlanShapeSchema(StrictSchema):
    """What a shape of the plan shows."""

    kind = Choice(
        get_args(ShapeKind), component="PlanShape", required=True, metadata=said("What it shows.")
    )


class PlanLineSchema(PlanShapeSchema):
    """A line through points."""

    points = rows(lambda: PlanPointSchema, "Its points.", longest=1_000)


class PlanNamedSchema(PlanShapeSchema, PlanPointSchema):
    """A shape that has a place and may have a name."""

    label = Text(longest=1_000, metadata=said("Its name, where it has one."))


class PlanRectangleSchema(PlanNamedSchema):
    """An upright rectangle by its lower left corner."""

    width_m = told("Width.")
    height_m = told("Height.")


class PlanCircleSchema(PlanNamedSchema):
    """A circle by its centre."""

    diameter_m = told("Diameter.")


class PlanTextSchema(PlanPointSchema):
    """A label at a point."""

    text = named("The label.")


class PlanSchema(StrictSchema):
    """The plan's geometry; POST /v1/groundworks/plan.svg gives it as a drawing."""

    width_m = told("Everything lies within this width.")
    height_m = told("And this height.")
    rectangles = rows(lambda: PlanRectangleSchema, "Plot and trenches.")
    circles = rows(lambda: PlanCircleSchema, "Coils, boreholes and mats.")
    lines = rows(lambda: PlanLineSchema, "Header trench and straight pipes.")
    texts = rows(lambda: PlanTextSchema, "Labels.")


class GroundworksMethodSchema(StrictSchema):
    """How it was computed."""

    volumes = Text(required=True, longest=2_000, metadata=said("Volumes."))
    bulking = Text(required=True, longest=2_000, metadata=said("Bulking."))
    version = service_version()


class BillItemSchema(StrictSchema):
    """A line of the bill."""

    item = named("What; a price is given by these words.")
    quantity = told("How much.")
    # No list of words: generated clients make one name of m and m³.
    unit = Text(required=True, metadata=said(f"Of it: {', '.join(get_args(Unit))}."))
    detail = Text(longest=20_000, metadata=said("Where it goes or how it is set."))
    price = Number(metadata=said("Of one unit; absent where none is given."))
    amount = Number(metadata=said("Of all of it."))


class BillSchema(StrictSchema):
    """Bill of quantities; priced where the job gives prices."""

    items = rows(lambda: BillItemSchema, "Its lines.")
    currency = Text(metadata=said("Of the prices."))
    valid_until = Day(metadata=said("Last day that they hold; absent where not told."))
    total = Number(metadata=said("Of the items that have a price."))
    left_out = ListOf(
        Text(longest=1_000), longest=20, required=True, metadata=said("What is not in it.")
    )


class GroundworksAnswerSchema(StrictSchema):
    """Digging, spoil, bedding, land, time and pipe to order."""

    name = name_as_given()
    reference = reference_as_given()
    trenches = rows(lambda: DugTrenchSchema, "Trenches of the loops.")
    loop_trenches = part(lambda: VolumesSchema, "Volumes of the loops' trenches.")
    header_trench = part(
        lambda: VolumesSchema,
        "Volumes of the header trench and of the pits of spare coils beside it.",
    )
    total = part(lambda: VolumesSchema, "All trenches.")
    drilling = Nested(lambda: DrillingSchema, metadata=said("Boreholes, where there are any."))
    pond_mats = Nested(lambda: MatsLaidSchema, metadata=said("Pond mats, where there are any."))
    bulking_percent = told("Bulking that was used.")
    spoil_loads = counted("Lorries of spoil off the site.", minimum=0)
    bedding_loads = counted("Lorries of bedding brought in.", minimum=0)
    digger_h = told("Digger's hours; drilling is not counted.")
    land = Nested(lambda: LandSchema, metadata=said("Ground taken; absent where nothing is."))
    pipe_order = part(lambda: PipeOrderSchema, "Pipe to order.")
    bill = part(lambda: BillSchema, "Bill of quantities.")
    plan = Nested(
        lambda: PlanSchema,
        metadata=said("Plan; absent beyond 5,000 places, or where nothing is set out."),
    )
    findings = findings_list()
    cautions = cautions_list("What to mind before anyone digs.")
    method = method_of(GroundworksMethodSchema)
