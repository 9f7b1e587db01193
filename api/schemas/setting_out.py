"""How an array is set out on its plot, in a request."""

from __future__ import annotations

from typing import get_args

from api.schemas.array import PipeName
from api.schemas.duty import PRACTICE
from api.schemas.fields import Choice, Integer, Number, said
from api.schemas.objects import Nested, StrictSchema
from hydraulics.plot.asked import MOST_LOOPS, STUB, Choose, HeaderRules, Pattern, Prices
from hydraulics.plot.site_plan import Place

_RULES = HeaderRules()
_PRICES = Prices()


class HeaderRulesSchema(StrictSchema):
    """How header trenches lie; their width and depth stand in groundworks."""

    elsewhere = {  # noqa: RUF012 (declared once, never changed)
        **dict.fromkeys(("width_m", "depth_m"), "groundworks"),
    }

    border_m = Number(
        minimum=0,
        maximum=1_000,
        load_default=_RULES.border,
        metadata=said(f"From the boundary to the centre line ({_RULES.border:g} m: {PRACTICE})."),
    )
    clear_m = Number(
        minimum=0,
        maximum=100,
        load_default=_RULES.clear,
        metadata=said(
            "Ground left between a header trench and a loop's trench, edge to edge "
            f"({_RULES.clear:g} m: {PRACTICE})."
        ),
    )
    stub_m = Number(
        minimum=0.1,
        maximum=100,
        metadata=said(
            "Straight on from a trench's end to the header trench's centre line "
            f"({STUB:g} m, more for battered sides: {PRACTICE})."
        ),
    )


class PricesSchema(StrictSchema):
    """What a metre costs, in any currency: only proportions count, to compare plans."""

    dig = Number(
        minimum=0,
        maximum=1e6,
        load_default=_PRICES.dig,
        metadata=said(f"A metre of header trench ({_PRICES.dig:g}: {PRACTICE})."),
    )
    tails = Number(
        engine="loop_pipe",
        above=0,
        maximum=1e6,
        load_default=_PRICES.loop_pipe,
        metadata=said(
            f"A metre of the pair of a loop's tails ({_PRICES.loop_pipe:g}: {PRACTICE})."
        ),
    )
    runs = Number(
        engine="run_pipe",
        above=0,
        maximum=1e6,
        load_default=_PRICES.run_pipe,
        metadata=said(f"A metre of the pair of a run ({_PRICES.run_pipe:g}: {PRACTICE})."),
    )
    bend = Number(
        minimum=0,
        maximum=1e6,
        load_default=_PRICES.bend,
        metadata=said(f"A bend or joint of header trenches ({_PRICES.bend:g}: {PRACTICE})."),
    )


class SettingOutOptionsSchema(StrictSchema):
    """How the array is set out; the loops come from the array, or are of the kind that is sized."""

    elsewhere = {  # noqa: RUF012 (declared once, never changed)
        **dict.fromkeys(
            ("boundary", "keep_outs", "plant_room", "chambers", "trenches", "boreholes", "mats",
             "border_m", "spacing_m", "water", "levels"),
            "plot",
        ),
        "array_kind": "sizing",
        "trench_width_m": "groundworks",
    }  # fmt: skip
    apart = (
        ("total_m", "loop_count"),
        ("total_m", "length_m"),
    )
    goes_with = {"max_length_m": ("total_m",)}  # noqa: RUF012 (declared once, never changed)
    what = "the setting out"
    why = "How much is laid is told by a number, a length, both, or a total length of trench."

    run_pipe = PipeName(
        required=True,
        metadata=said("Pipe of the runs from chambers to the plant room.", "PE100 SDR11 50"),
    )
    loop_count = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        engine="count",
        metadata=said(
            "Equal trenches, boreholes or mats of the kind in sizing; left out, as many as fit "
            "(mats: told). An array that is given tells its own.",
            8,
        ),
    )
    length_m = Number(
        minimum=0.5,
        maximum=1_000,
        metadata=said(
            "Length of each trench, or depth of each borehole; left out, the longest trench of "
            "which so many fit.",
            30,
        ),
    )
    total_m = Number(
        minimum=1,
        maximum=100_000,
        engine="total_length",
        metadata=said("Instead: the fewest trenches that are together so long.", 240),
    )
    max_length_m = Number(
        minimum=1,
        maximum=1_000,
        engine="longest_trench",
        metadata=said("Longest trench of a loop, beside total_m.", 40),
    )
    end_gap_m = Number(
        minimum=0,
        maximum=100,
        engine="end_gap",
        metadata=said(f"Between the ends of trenches in line (2 m, two stubs: {PRACTICE})."),
    )
    pattern = Choice(
        get_args(Pattern),
        component="BorePattern",
        load_default="either",
        metadata=said("Grid of boreholes; either: whichever is shorter to join."),
    )
    choose = Choice(
        get_args(Choose),
        component="BoreChoice",
        load_default="compact",
        metadata=said("Boreholes close together, with little to dig, or spread over the plot."),
    )
    chamber_place = Choice(
        get_args(Place),
        component="ChamberPlace",
        load_default="most_even",
        engine="chambers.place",
        metadata=said(
            "Where chambers are put that have no place: for the least pipe, the least digging, or "
            "tails as even as can be."
        ),
    )
    max_chamber_loops = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        load_default=12,
        engine="chambers.largest",
        metadata=said(f"Most loops of a chamber that has no place (12: {PRACTICE})."),
    )
    header = Nested(
        lambda: HeaderRulesSchema,
        engine=("rules", ""),
        metadata=said("How header trenches lie; left out, as usual."),
    )
    prices = Nested(
        lambda: PricesSchema,
        engine=("prices", ""),
        metadata=said("By what plans are compared; left out, as usual."),
    )
