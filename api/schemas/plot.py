"""The plot in a request: its boundary, what stands on it, and what lies where."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.array import LONGEST
from api.schemas.duty import PRACTICE
from api.schemas.fields import Choice, Declared, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.plot.asked import MOST_LOOPS
from hydraulics.plot.plot import BORDER
from hydraulics.plot.site import BOTH, LARGEST_COORDINATE, MOST_CORNERS, Blocks
from hydraulics.plot.site_plan import End

BLOCKS: Final[dict[str, frozenset[Blocks]]] = {
    "both": BOTH,
    "array": frozenset({"array"}),
    "header": frozenset({"header"}),
}
"""What a keep-out keeps off, by the word for it."""
MOST_LEVELS: Final = 2_000


def coordinate(description: str, *examples: float, **declared: Declared) -> Number:
    """Declare an easting or northing."""
    return Number(
        minimum=-LARGEST_COORDINATE,
        maximum=LARGEST_COORDINATE,
        required=True,
        metadata=said(description, *examples),
        **declared,
    )


class PositionSchema(StrictSchema):
    """A place on the plot: metres of a grid of your own, or of a national one."""

    x_m = coordinate("East, or along.", 2.5)
    y_m = coordinate("North, or across.", 8.5)


def corners(fewest: int, description: str, *, required: bool = False, engine: str = "") -> ListOf:
    """Declare corners or bends."""
    return ListOf(
        Nested(lambda: PositionSchema),
        shortest=fewest,
        longest=MOST_CORNERS,
        required=required,
        engine=engine or (),
        metadata=said(description),
    )


class KeepOutSchema(StrictSchema):
    """A house, tree, drain, tank or cable that nothing is dug near."""

    one_of = ("outline", "line", "centre")
    goes_with = {"radius_m": ("centre",)}  # noqa: RUF012 (declared once, never changed)
    what = "a keep-out"
    why = "What is kept off is an area by its corners, a line by its bends, or something round."

    name = Text(required=True, metadata=said("What people call it.", "house"))
    clearance_m = Number(
        minimum=0,
        maximum=1_000,
        required=True,
        metadata=said(
            "From its edge to the edge of anything dug; ask whoever owns it or the local code. "
            f"House 2 m, small tree 3 to 4 m, large tree 6 m: {PRACTICE}.",
            2,
        ),
    )
    outline = corners(3, "Corners of an area, in order.")
    line = corners(2, "Bends of a drain or cable.")
    centre = Nested(lambda: PositionSchema, metadata=said("Middle of something round."))
    radius_m = Number(
        minimum=0, maximum=1_000, metadata=said("Radius of what is round, as of a trunk.", 0.5)
    )
    blocks = Choice(
        tuple(BLOCKS),
        component="Blocks",
        load_default="both",
        metadata=said(
            "What may not come near: the loops' trenches and boreholes (array), header trenches "
            "(header), or both. A drain may be crossed by a header trench, dug by hand.",
            "array",
        ),
    )


class LevelSchema(PositionSchema):
    """A surveyed level of the ground."""

    level_m = Number(
        minimum=-1_000, maximum=10_000, required=True, metadata=said("Level of the ground.", 51.2)
    )


class OriginSchema(StrictSchema):
    """Where the plot's (0, 0) lies on the earth, and how its axes are turned."""

    longitude_deg = Number(
        minimum=-180, maximum=180, required=True, metadata=said("Of (0, 0), WGS84, east.", -1.5)
    )
    latitude_deg = Number(
        minimum=-89.9, maximum=89.9, required=True, metadata=said("Of (0, 0), WGS84, north.", 52.0)
    )
    turned_deg = Number(
        minimum=-360,
        maximum=360,
        load_default=0.0,
        metadata=said("Of the plot's x axis from east, anticlockwise."),
    )


class PlacedTrenchSchema(StrictSchema):
    """A loop's trench, by hand."""

    loop = Text(
        required=True, longest=250, metadata=said("The loop in it, as the array calls it.", "T1")
    )
    points = corners(2, "Ends and bends of its centre line.", required=True, engine="line")
    tails_from = Choice(
        get_args(End),
        component="TrenchEnd",
        load_default="either",
        metadata=said("End that its tails leave from; either: whichever is nearer by way."),
    )


class PlacedBoreholeSchema(PositionSchema):
    """A borehole, by hand."""

    loop = Text(
        required=True, longest=250, metadata=said("The loop in it, as the array calls it.", "B1")
    )


class PlacedMatSchema(PositionSchema):
    """A pond mat by its centre, by hand; its size is its loop's."""

    loop = Text(
        required=True, longest=250, metadata=said("The loop of it, as the array calls it.", "M1")
    )


class ChamberSchema(PositionSchema):
    """A manifold chamber, or the manifold itself, where it stands."""

    name = Text(required=True, metadata=said("What people call it.", "C1"))
    max_loops = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        load_default=12,
        engine="largest",
        metadata=said(f"Ports that it has (12: {PRACTICE})."),
    )


class PlotSchema(StrictSchema):
    """The ground available, and the distances kept on it. What is left out is not checked."""

    together = (("length_m", "width_m"),)
    apart = (
        ("area_m2", "length_m"),
        ("area_m2", "width_m"),
        ("boundary", "length_m"),
        ("boundary", "width_m"),
        ("boundary", "area_m2"),
        ("trenches", "boreholes"),
        ("trenches", "mats"),
        ("boreholes", "mats"),
    )
    goes_with = {  # noqa: RUF012 (declared once, never changed)
        **dict.fromkeys(
            (
                "keep_outs",
                "plant_room",
                "levels",
                "trenches",
                "boreholes",
                "mats",
                "chambers",
                "water",
            ),
            ("boundary", "length_m"),
        ),
    }
    what = "the plot"
    why = "A plot is given once: by its boundary, by its two sides or by its area alone."

    length_m = Number(
        minimum=0.1,
        maximum=LONGEST,
        engine=("length", "longest_trench"),
        metadata=said("One side of a rectangular plot; trenches run along either.", 60),
    )
    width_m = Number(minimum=0.1, maximum=LONGEST, metadata=said("Its other side.", 30))
    area_m2 = Number(minimum=0.01, maximum=1e8, metadata=said("Area available.", 1200))
    boundary = corners(
        3,
        "Corners of the plot in order, either way round; instead of sides or area. At most 500 "
        "corners with all that stands on the plot.",
    )
    plant_room = Nested(
        lambda: PositionSchema,
        engine="plant",
        metadata=said(
            "Where pipes leave the building; may lie on a wall or on the boundary. Setting out "
            "needs it, save on a rectangle by its sides, where the middle of the side at x = 0 is "
            "the usual."
        ),
    )
    keep_outs = ListOf(
        Nested(lambda: KeepOutSchema),
        longest=MOST_CORNERS,
        metadata=said("What nothing is dug near."),
    )
    water = corners(3, "Corners of a pond.")
    chambers = ListOf(
        Nested(lambda: ChamberSchema),
        longest=MOST_LOOPS,
        metadata=said("Manifold chambers that have their place; left out, they are placed."),
    )
    trenches = ListOf(
        Nested(lambda: PlacedTrenchSchema),
        longest=MOST_LOOPS,
        metadata=said("Trenches that have their place; left out, places are looked for."),
    )
    boreholes = ListOf(
        Nested(lambda: PlacedBoreholeSchema),
        longest=MOST_LOOPS,
        metadata=said(
            "Boreholes that have their place, where the sizing has them too; left out, places are "
            "looked for."
        ),
    )
    mats = ListOf(
        Nested(lambda: PlacedMatSchema),
        longest=MOST_LOOPS,
        metadata=said("Pond mats that have their place; left out, places are looked for."),
    )
    levels = ListOf(
        Nested(lambda: LevelSchema),
        longest=MOST_LEVELS,
        metadata=said("Surveyed levels of the ground."),
    )
    origin = Nested(
        lambda: OriginSchema,
        metadata=said("Where it lies on the earth; GeoJSON then is in longitude and latitude."),
    )
    max_trench_m = Number(
        minimum=1,
        maximum=1e6,
        metadata=said(
            "Loops' trenches that can be dug in all; the header trench is not counted.", 300
        ),
    )
    spacing_m = Number(
        minimum=0.1,
        maximum=1_000,
        engine=("spacing", "centres", "choice.spacing"),
        metadata=said(
            "Centre to centre of trenches, boreholes or mats; left out, 5 m for trenches, 6 m for "
            f"boreholes, mats touching ({PRACTICE}).",
            5,
        ),
    )
    border_m = Number(
        minimum=0,
        maximum=1_000,
        load_default=BORDER,
        metadata=said(
            f"From a trench, mat or borehole to the boundary ({BORDER:g} m: {PRACTICE})."
        ),
    )
