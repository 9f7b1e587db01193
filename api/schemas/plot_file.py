"""The answer of POST /v1/plot-file: the plot that a file draws, and what of it was not used."""

from __future__ import annotations

from api.schemas.common import job_name
from api.schemas.fields import Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.plot import (
    MOST_LEVELS,
    ChamberSchema,
    KeepOutSchema,
    LevelSchema,
    OriginSchema,
    PlacedBoreholeSchema,
    PlacedMatSchema,
    PlacedTrenchSchema,
    PositionSchema,
    corners,
)
from hydraulics.plot.asked import MOST_LOOPS
from hydraulics.plot.site import MOST_CORNERS


class KeepOutReadSchema(KeepOutSchema):
    """A keep-out as a file draws it."""

    clearance_m = Number(
        minimum=0,
        maximum=1_000,
        metadata=said(
            "Absent where the file does not tell it: give it before the plot is used.", 2
        ),
    )


class PlotReadSchema(StrictSchema):
    """A part `plot` of a job, as far as a file tells it."""

    boundary = corners(3, "Corners of the plot.", required=True)
    keep_outs = ListOf(
        Nested(lambda: KeepOutReadSchema),
        longest=MOST_CORNERS,
        metadata=said("What nothing is dug near."),
    )
    water = corners(3, "Corners of a pond.")
    plant_room = Nested(lambda: PositionSchema, metadata=said("Where pipes leave the building."))
    chambers = ListOf(
        Nested(lambda: ChamberSchema), longest=MOST_LOOPS, metadata=said("Manifold chambers.")
    )
    trenches = ListOf(
        Nested(lambda: PlacedTrenchSchema), longest=MOST_LOOPS, metadata=said("Loops' trenches.")
    )
    boreholes = ListOf(
        Nested(lambda: PlacedBoreholeSchema), longest=MOST_LOOPS, metadata=said("Boreholes.")
    )
    mats = ListOf(Nested(lambda: PlacedMatSchema), longest=MOST_LOOPS, metadata=said("Mats."))
    levels = ListOf(
        Nested(lambda: LevelSchema), longest=MOST_LEVELS, metadata=said("Surveyed levels.")
    )
    origin = Nested(lambda: OriginSchema, metadata=said("Where it lies on the earth."))


class NotUsedSchema(StrictSchema):
    """What a file holds and the plot does not, by reason."""

    detail = Text(required=True, longest=2_000, metadata=said("What it is, and why."))
    count = Integer(
        minimum=1, maximum=10_000_000, required=True, metadata=said("How often it is in the file.")
    )
    places = ListOf(
        Text(longest=1_000, metadata=said("A place.")),
        longest=10,
        required=True,
        metadata=said(
            "Where first: a JSON Pointer into GeoJSON, `/layer/handle` of DXF, `/line/column` of "
            "CSV."
        ),
    )


class PlotFileAnswerSchema(StrictSchema):
    """The plot that a file draws; put into a job as its `plot`, it is set out."""

    name = job_name()
    plot = Nested(lambda: PlotReadSchema, required=True, metadata=said("The plot."))
    not_used = ListOf(
        Nested(lambda: NotUsedSchema),
        longest=101,
        required=True,
        metadata=said("Everything in the file that is not in the plot."),
    )
    notes = ListOf(
        Text(longest=2_000, metadata=said("A note.")),
        longest=100,
        required=True,
        metadata=said("What was taken for granted, and what is still to be told."),
    )
