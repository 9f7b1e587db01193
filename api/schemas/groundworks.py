"""How the array is dug in, in a request; soil, plot and coils stand in their own parts."""

from __future__ import annotations

from api.schemas.array import LONGEST
from api.schemas.duty import PRACTICE
from api.schemas.fields import Day, Declared, Flag, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.groundworks.works import RATE_SECTION
from hydraulics.layout.heights import BEDDING
from hydraulics.plot.plot import HEADER_DEPTH, HEADER_WIDTH


def _metres(
    most: float, description: str, *examples: float, least: float = 0, **declared: Declared
) -> Number:
    return Number(minimum=least, maximum=most, metadata=said(description, *examples), **declared)


class TrenchSectionSchema(StrictSchema):
    """Section of the trenches that the loops lie in."""

    width_m = _metres(100, "Width of the floor.", 1.2, least=0.01, required=True)
    depth_m = _metres(50, "Depth to the floor.", 1.2, least=0.01, required=True)
    side_slope = _metres(
        10, "Horizontal over vertical of the sides; 0 for vertical.", 0.75, load_default=0.0
    )
    bench_height_m = _metres(
        10,
        "Height of each step of a benched trench, less than its depth; 0 for none.",
        load_default=0.0,
    )
    bench_width_m = _metres(10, "Tread of each step on each side; 0 for none.", load_default=0.0)
    bedding_below_m = _metres(
        5, f"Fine material below the pipe ({BEDDING:g} m: {PRACTICE}).", load_default=BEDDING
    )
    bedding_above_m = _metres(
        5, f"Fine material above the pipe ({BEDDING:g} m: {PRACTICE}).", load_default=BEDDING
    )
    passes = Integer(
        minimum=1,
        maximum=1_000,
        load_default=1,
        metadata=said(
            "Pipes side by side, for loops of straight pipe, with or without spare coils, only."
        ),
    )


class HeaderTrenchSchema(StrictSchema):
    """The trench that headers, runs and the loops' tails lie in."""

    length_m = _metres(
        LONGEST,
        "Length; left out, along the rows, or as the longest tail; not taken where the array is "
        "set out.",
    )
    width_m = _metres(
        100, f"Width of the floor ({HEADER_WIDTH:g} m: {PRACTICE}).",
        least=0.01, load_default=HEADER_WIDTH,
    )  # fmt: skip
    depth_m = _metres(
        50, f"Depth to the floor ({HEADER_DEPTH:g} m: {PRACTICE}).",
        least=0.01, load_default=HEADER_DEPTH,
    )  # fmt: skip
    side_slope = _metres(10, "Horizontal over vertical.", load_default=0.0)
    separation_m = _metres(100, "Distance kept between flow and return.", 0.3)


class ItemPriceSchema(StrictSchema):
    """Your own price of an item."""

    item = Text(
        longest=1_000, required=True,
        metadata=said("As `bill` calls it.", "PE100 SDR11 32, coil of 200 m"),
    )  # fmt: skip
    price = Number(minimum=0, maximum=1e9, required=True, metadata=said("Of one unit of it.", 310))


class BillPricesSchema(StrictSchema):
    """Your own prices, for the bill of quantities."""

    currency = Text(longest=20, required=True, metadata=said("What they are in.", "EUR"))
    valid_until = Day(metadata=said("Last day that they hold.", "2026-06-30"))
    items = ListOf(
        Nested(lambda: ItemPriceSchema), longest=1_000, required=True, metadata=said("Prices.")
    )


class GroundworksOptionsSchema(StrictSchema):
    """How the array is dug in; {} where nothing lies in trenches."""

    elsewhere = {  # noqa: RUF012 (declared once, never changed)
        **dict.fromkeys(("soil", "bulking_percent"), "ground"),
        **dict.fromkeys(("area_m2", "border_m", "length_m", "spacing_m"), "plot"),
        "coils_m": "pipes",
    }

    trench = Nested(
        lambda: TrenchSectionSchema,
        metadata=said("Section of the loops' trenches; needed where loops lie in trenches."),
    )
    header_trench = Nested(
        lambda: HeaderTrenchSchema,
        engine="header",
        metadata=said("The header trench; left out, none is dug but a plan's. {} takes the usual."),
    )
    bedding_imported = Flag(
        load_default=True,
        engine="works.bedding_imported",
        metadata=said("Whether fine material is brought in; false where it is sieved from spoil."),
    )
    lorry_m3 = Number(
        minimum=0.1,
        maximum=1_000,
        load_default=10.0,
        engine="works.lorry",
        metadata=said(f"What a lorry holds, loose (10 m³: {PRACTICE}).", 8),
    )
    digger_m_h = Number(
        minimum=0.01,
        maximum=1_000,
        engine=("works.metres_per_hour", "metres_per_hour"),
        metadata=said(
            "Trench dug, emptied and backfilled in an hour; left out, 40 m in 6 h, or by volume "
            f"where a metre is more than {RATE_SECTION:g} m³ ({PRACTICE}).",
            7,
        ),
    )
    prices = Nested(
        lambda: BillPricesSchema, metadata=said("Left out, the bill tells quantities alone.")
    )
    laying_c = Number(
        minimum=-20,
        maximum=60,
        load_default=20.0,
        engine=("works.laying_temperature", "laying_temperature"),
        metadata=said("Temperature of the pipe when it is bent, for the bend limit."),
    )
