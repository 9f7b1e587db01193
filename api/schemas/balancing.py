"""What loops shall be balanced to and how, in a request."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.array import LONGEST, MOST_LOOPS
from api.schemas.duty import PRACTICE
from api.schemas.fields import Choice, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.balancing.result import WayKind
from hydraulics.balancing.ways import COIL_DIAMETER, PUMP_EFFICIENCY

TARGETS: Final = ("even", "by_length", "shares")


class LoopShareSchema(StrictSchema):
    """The share of one loop in the flow."""

    loop = Text(
        required=True, longest=1_000, metadata=said("Loop, as the flow split names it.", "T1")
    )
    share = Number(
        required=True,
        minimum=1e-6,
        maximum=1e6,
        metadata=said("Its share; all of them need not add up to 1.", 1.5),
    )


class ValvePositionSchema(StrictSchema):
    """A row of a valve's table."""

    position = Number(
        required=True,
        minimum=-1_000,
        maximum=1_000_000,
        metadata=said("What the handwheel shows; rises towards open.", 2.5),
    )
    kv_m3_h = Number(
        required=True,
        minimum=0.001,
        maximum=100_000,
        metadata=said("Flow of water at a drop of 1 bar in this position.", 1.9),
    )


class ValveTableSchema(StrictSchema):
    """The regulating valve in mind, by its data sheet."""

    name = Text(metadata=said("What to call it.", "DN 25 balancing valve (invented)"))
    positions = ListOf(
        Nested(lambda: ValvePositionSchema),
        required=True,
        shortest=1,
        longest=1_000,
        metadata=said("Positions and their Kv, both rising; the last is fully open."),
    )


class BalancingOptionsSchema(StrictSchema):
    """What the loops shall be balanced to, and what may be done for it; {} takes the usual."""

    shares = ListOf(
        Nested(lambda: LoopShareSchema),
        shortest=1,
        longest=MOST_LOOPS,
        engine="target",
        metadata=said("A share for each loop; only with target shares."),
    )
    target = Choice(
        TARGETS,
        component="BalancingTarget",
        load_default="even",
        metadata=said(
            "Flow that each loop should have: even, in proportion to its length (by_length), or "
            "in proportion to shares (shares)."
        ),
    )
    valve = Nested(
        lambda: ValveTableSchema,
        metadata=said(
            "Left out: valves that can be set to any Kv and, open, take what a globe valve does."
        ),
    )
    spare_coil_diameter_m = Number(
        minimum=0.001,
        maximum=100,
        load_default=COIL_DIAMETER,
        engine="coil_diameter",
        metadata=said(f"Coil that spare pipe is left in (1 m: {PRACTICE})."),
    )
    spare_step_m = Number(
        minimum=0,
        maximum=1_000,
        load_default=0.0,
        engine="length_step",
        metadata=said("Spare pipe is cut to whole multiples of it; 0: to any length."),
    )
    closing_m = Number(
        minimum=0,
        maximum=LONGEST,
        engine="closing_length",
        metadata=said(
            "Return header of a reverse return from the last branch back to the start; left out, "
            "as long as the header.",
            45,
        ),
    )
    pump_efficiency_percent = Number(
        minimum=0.1,
        maximum=100,
        load_default=PUMP_EFFICIENCY * 100.0,
        metadata=said(
            "Hydraulic over electrical power of the circulator (30 %: common practice for small "
            "circulators, no source)."
        ),
    )
    take = Choice(
        get_args(WayKind),
        component="WayName",
        metadata=said(
            "Way to put in for what comes after balancing; left out, in a whole design, none.",
            "regulating_valves",
        ),
    )
