"""The pump that runs and the pumps to choose among, in a request."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.fields import Choice, Flag, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.pumps.benchmarks import TOLERANCES
from hydraulics.pumps.running import Control

CONTROLS: Final = get_args(Control)
MOST_CANDIDATES: Final = 100
_MOST_POINTS: Final = 200


def _speed(description: str, *examples: float, required: bool = False) -> Number:
    return Number(
        required=required,
        above=200,
        maximum=100_000,
        hint="Give revolutions a minute, 2900 and not 100 %, 50 Hz or stage 3.",
        metadata=said(description, *examples),
    )


def _equal(description: str) -> Integer:
    return Integer(minimum=1, maximum=100, load_default=1, metadata=said(description))


class PumpPointSchema(StrictSchema):
    """A point of a pump's table, measured on water."""

    flow_l_s = Number(required=True, minimum=0, maximum=100_000, metadata=said("Flow.", 0.5))
    head_m = Number(
        required=True,
        minimum=-10_000,
        maximum=10_000,
        metadata=said("Head, 0 or more and less than at the point before.", 5.2),
    )
    power_w = Number(
        required=True,
        minimum=-10_000_000,
        maximum=10_000_000,
        metadata=said(
            "Electrical power of the whole unit, above 0 and no less than it gives the water.", 78
        ),
    )
    npsh_m = Number(
        minimum=0.001,
        maximum=1_000,
        metadata=said("Net positive suction head required; at every point of a table or none.", 2),
    )


class PumpTableSchema(StrictSchema):
    """A pump's table at one speed."""

    speed_rpm = _speed(
        "Speed of this table; where the maker gives per cent, so much of the rated speed.",
        2700,
        required=True,
    )
    label = Text(metadata=said("What the maker calls this speed.", "III"))
    points = ListOf(
        Nested(lambda: PumpPointSchema),
        required=True,
        shortest=3,
        longest=_MOST_POINTS,
        engine=("points", ""),
        metadata=said("Points of the table, flow rising and head falling."),
    )


class PumpSchema(StrictSchema):
    """A pump by its maker's tables, as it is installed and controlled."""

    name = Text(required=True, metadata=said("What to call the pump.", "Pump 1 (invented)"))
    control = Choice(
        CONTROLS,
        component="PumpControl",
        load_default="constant_speed",
        metadata=said(
            "constant_speed: runs at one setting. The others lower the speed until they meet "
            "what they hold. constant_differential_pressure: a head. proportional_pressure: a head "
            "that rises straight with the flow, from half of it at none. "
            "constant_temperature_difference: the brine's change by the heat of the duty."
        ),
    )
    set_head_m = Number(
        minimum=0.001,
        maximum=10_000,
        metadata=said(
            "Head that constant_differential_pressure holds, and proportional_pressure at the flow "
            "of the duty; left out, the head of the duty.",
            5,
        ),
    )
    set_change_k = Number(
        minimum=0.01,
        maximum=100,
        metadata=said(
            "Change of the brine that constant_temperature_difference holds; left out, that of "
            "the duty.",
            3,
        ),
    )
    speed_rpm = _speed(
        "Speed that constant_speed runs at, up to the highest table; left out, the tabulated "
        "speed that meets the duty with the least energy.",
        2700,
    )
    min_speed_rpm = _speed("Lowest speed that the drive allows.", 900)
    min_flow_l_s = Number(
        minimum=0.0001,
        maximum=100_000,
        metadata=said("Least flow that the maker lets one pump run at for long.", 0.1),
    )
    rated_power_w = Number(
        minimum=0.001,
        maximum=10_000_000,
        metadata=said("Electrical power that motor and drive of one pump are made for.", 180),
    )
    inlet_kpa = Number(
        minimum=-100,
        maximum=10_000,
        engine="inlet_pressure",
        metadata=said(
            "Least pressure over the atmosphere at its inlet as it runs, at its own level; held "
            "against what its `npsh_m` asks for.",
            80,
        ),
    )
    impellers = _equal("Impellers in line; viscosity is corrected for one by one.")
    parallel = _equal("Equal pumps side by side, all running.")
    series = _equal("Equal pumps in line, all running.")
    tables = ListOf(
        Nested(lambda: PumpTableSchema),
        required=True,
        shortest=1,
        longest=20,
        engine=("curves", "power"),
        metadata=said("A table for each speed known, each speed once."),
    )


class PumpChoiceOptionsSchema(StrictSchema):
    """Pumps to choose among at the duty, cold and, where the job has `warm`, warm."""

    candidates = ListOf(
        Nested(lambda: PumpSchema),
        longest=MOST_CANDIDATES,
        metadata=said(
            "Pumps by their makers' tables. At least one here, or use_invented_pumps. One with "
            "numbers that no pump has (a head that does not fall, an efficiency over 100 %) is set "
            "aside while another can be judged."
        ),
    )
    use_invented_pumps = Flag(
        load_default=False,
        metadata=said(
            "Judge the invented pumps of GET /v1/invented-pumps too; for trying things out, never "
            "for choosing."
        ),
    )
    acceptance_grade = Choice(
        TOLERANCES,
        component="AcceptanceGrade",
        load_default="up_to_10_kw",
        engine=("grade", "tolerance_grade"),
        metadata=said(
            "How far a delivered pump may lie from its table: acceptance grade of ISO 9906. "
            "up_to_10_kw is the one for pumps of circulators' size."
        ),
    )
    take = Text(
        metadata=said(
            "Name of the pump to put in for what comes after the choice; left out, or where the "
            "job's own pump bears it, the pump of the job as it is set, if any.",
            "Pump 1 (invented)",
        )
    )
