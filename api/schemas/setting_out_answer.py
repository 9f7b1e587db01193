"""The answer of POST /v1/setting-out."""

from __future__ import annotations

from typing import get_args

from api.schemas.array import CircuitSchema
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
from api.schemas.plot import PlotSchema, PositionSchema
from api.schemas.told import counted, named, part, rows, told
from hydraulics.plot.site_plan import Medium, Place


def _names(description: str) -> ListOf:
    return ListOf(Text(longest=1_000), required=True, longest=MOST_ROWS, metadata=said(description))


def _line(description: str) -> ListOf:
    return rows(lambda: PositionSchema, description, longest=10_000)


class SetTrenchSchema(StrictSchema):
    """A loop's trench where it lies."""

    loop = named("Loop that lies in it.")
    points = _line("Ends and bends of its centre line.")
    length_m = told("Length.")
    width_m = told("Width of its floor.")
    top_width_m = told("Width at the surface.")


class SetBoreholeSchema(PositionSchema):
    """A borehole where it stands."""

    loop = named("Loop that hangs in it.")
    depth_m = told("Depth.")


class SetChamberSchema(PositionSchema):
    """A manifold chamber where it stands."""

    name = named("What it is called.")
    loop_count = counted("Loops that belong to it.", minimum=0)
    max_loops = counted("Ports that it has.")
    run_m = Number(metadata=said("Run to the plant room, one way; absent where none leads there."))


class SetTailSchema(StrictSchema):
    """The tail of a loop: flow and return side by side."""

    loop = named("The loop.")
    chamber = named("Chamber that it leads to.")
    length_m = told("Length one way; the pipe is laid twice, out and back.")
    points = _line("From the loop to the chamber.")


class SetRunSchema(StrictSchema):
    """The run of a chamber: flow and return side by side."""

    chamber = named("Chamber that it leads from.")
    length_m = told("Length one way; the pipe is laid twice, out and back.")
    points = _line("From the chamber to the plant room.")


class SetStretchSchema(StrictSchema):
    """A piece of header trench in which the same pipes lie; dug once, whatever lies in it."""

    points = _line("Ends and bends of its centre line.")
    length_m = told("Length.")
    medium = Choice(
        get_args(Medium),
        component="Medium",
        required=True,
        metadata=said("Ground, which is dug, or water, which is not."),
    )
    loops = _names("Loops whose tails lie in it.")
    runs = _names("Chambers whose runs lie in it.")
    pipe_count = counted("Pipes in it, half of them flow and half return.", minimum=2)
    floor_width_m = told("Width of floor that they take, in two layers.")
    dug_m3 = Number(metadata=said("Dug; absent in water, as what follows."))
    bedding_m3 = Number(metadata=said("Fine material around the pipes."))
    spoil_m3 = Number(metadata=said("Soil left over, as it lay in the ground."))


class SetMatSchema(PositionSchema):
    """A pond mat where it lies."""

    loop = named("Loop that it belongs to.")
    diameter_m = told("Outer diameter.")


class CrossingSchema(PositionSchema):
    """Where a header trench crosses what it may: find it first, dig there by hand."""

    keep_out = named("What is crossed.")
    pipe_count = counted("Pipes in the header trench there.")


class HeapSchema(StrictSchema):
    """The spoil heap beside a loop's trench."""

    loop = named("Loop of the trench.")
    width_m = told("Width of its foot.")
    is_clear = Flag(
        required=True, metadata=said("Whether boundary, keep-outs and water leave it room.")
    )
    over = _names("Loops whose trenches it lies on: not open at the same time.")


class SparePitSchema(StrictSchema):
    """A pit for spare pipe in a coil, beside its loop's header trench and as deep."""

    loop = named("Loop that the pipe belongs to.")
    side_m = told("Of the square at the surface.")
    points = _line("Corners.")


class LoopLevelsSchema(StrictSchema):
    """Levels of a loop's pipe, by the surveyed levels of the plot."""

    loop = named("The loop.")
    start_m = told("Where its trench or borehole begins, at the side of its tails.")
    end_m = told("At its other end.")
    min_m = told("Lowest, tails counted.")
    max_m = told("Highest, tails counted.")
    fall_percent = told("Fall of the trench away from its tails; below 0 it rises.")
    air_at = Nested(
        lambda: PositionSchema,
        metadata=said("The highest place, where air stays; absent where that is the chamber."),
    )


class PlacedBySchema(StrictSchema):
    """What chambers placed by one objective take."""

    chamber_place = Choice(
        get_args(Place),
        component="ChamberPlace",
        required=True,
        metadata=said("The objective."),
    )
    header_dug_m = told("Header trench.")
    tails_m = told("Tails, one way.")
    runs_m = told("Runs, one way.")
    min_tail_m = told("Shortest tail.")
    max_tail_m = told("Longest tail.")


class CapacitySchema(StrictSchema):
    """What fits by the search made: at least so much does."""

    most = counted("Trenches or boreholes of the size asked for.", minimum=0)
    family = named("How they lie: spine, staggered, square, triangular or spread.")
    longest_m = Number(metadata=said("Longest equal trench for the number asked for."))
    fewest = Integer(
        minimum=1,
        metadata=said("Fewest loops that reach the length asked for; if any, more than asked for."),
    )
    centres_m = Number(metadata=said("Centre to centre at which the number asked for would fit."))


class SetTotalsSchema(StrictSchema):
    """Sums over the plan."""

    trench_m = told("Trench of the loops.")
    drilled_m = told("Boreholes.")
    header_dug_m = told("Header trench, each piece once.")
    in_water_m = told("Ways through water, which nobody digs.")
    tails_m = told("Tails of all loops, one way.")
    min_tail_m = told("Shortest tail, one way.")
    max_tail_m = told("Longest tail, one way.")
    runs_m = told("Runs of all chambers, one way.")
    plot_m2 = told("Area of the plot.")


class SettingOutMethodSchema(StrictSchema):
    """How it was worked out."""

    search = Text(required=True, longest=2_000, metadata=said("How places are looked for."))
    version = service_version()


class SettingOutDecidesSchema(StrictSchema):
    """The parts of a job that setting out decides."""

    array = Nested(
        lambda: CircuitSchema,
        metadata=said(
            "The array with its tails and runs; absent where not all of it has a place and a way."
        ),
    )
    plot = Nested(
        lambda: PlotSchema,
        metadata=said("The plot with the place of everything, which is kept from then on."),
    )


class SettingOutAnswerSchema(StrictSchema):
    """Where trenches, boreholes, chambers and header trenches lie, and the array that they make."""

    name = name_as_given()
    reference = reference_as_given()
    decides = part(lambda: SettingOutDecidesSchema, "What was decided, as the job takes it.")
    trenches = rows(lambda: SetTrenchSchema, "Trenches of the loops.")
    boreholes = rows(lambda: SetBoreholeSchema, "Boreholes.")
    mats = rows(lambda: SetMatSchema, "Pond mats.")
    chambers = rows(lambda: SetChamberSchema, "Manifold chambers.")
    tails = rows(lambda: SetTailSchema, "Tails of the loops.")
    runs = rows(lambda: SetRunSchema, "Runs of the chambers.")
    stretches = rows(lambda: SetStretchSchema, "Header trench by what lies in it.")
    direction_deg = told("Direction of the trenches, anticlockwise from east.")
    crossings = rows(lambda: CrossingSchema, "What header trenches cross.")
    heaps = rows(lambda: HeapSchema, "Spoil beside the loops' trenches.")
    spare_pits = rows(lambda: SparePitSchema, "Pits of spare pipe that have room.")
    dig_order = _names("Loops from far to near: nobody drives over what is laid.")
    levels = rows(lambda: LoopLevelsSchema, "Levels of loops; empty where none are surveyed.")
    placed_by = rows(
        lambda: PlacedBySchema, "What each objective takes; empty where chambers are given."
    )
    capacity = Nested(
        lambda: CapacitySchema, metadata=said("What fits; absent where all has its place by hand.")
    )
    totals = part(lambda: SetTotalsSchema, "Sums.")
    findings = findings_list()
    cautions = cautions_list("What to mind before anyone digs or drills.")
    method = method_of(SettingOutMethodSchema)
