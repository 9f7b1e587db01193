"""Request and response of POST /v1/pump-selection, and the list of invented pumps."""

from __future__ import annotations

from typing import Final, get_args

from api.schemas.array import said
from api.schemas.common import (
    MOST_ROWS,
    FluidSchema,
    cautions_list,
    findings_list,
    friction_law,
    loop_name,
    loop_pointer,
    method_of,
    name_as_given,
    properties_source,
    run_hours,
    service_version,
    spread_over_mean,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text
from api.schemas.flow_split import (
    CurvePointSchema,
    FlowSplitRequestSchema,
    PumpDutyResultSchema,
    from_ground_temperature,
    to_ground_temperature,
)
from api.schemas.objects import Alternatives, ListOf, Nested, StrictSchema
from hydraulics.pumps.benchmarks import TOLERANCES
from hydraulics.pumps.on_array import WARM_SHARE
from hydraulics.pumps.running import Control, State

CONTROLS: Final = get_args(Control)
CONDITIONS: Final = ("cold", "warm")
MOST_CANDIDATES: Final = 100
_MOST_POINTS: Final = 200


class CandidatePointSchema(StrictSchema):
    """A point of a pump's table, measured on water."""

    flow_l_s = Number(required=True, minimum=0, maximum=100_000, metadata=said("Flow.", 0.5))
    head_m = Number(required=True, minimum=0, maximum=10_000, metadata=said("Head.", 5.2))
    power_w = Number(
        required=True,
        minimum=0.001,
        maximum=10_000_000,
        metadata=said("Electrical power of the whole unit.", 78),
    )


def _points() -> ListOf:
    return ListOf(
        Nested(lambda: CandidatePointSchema),
        required=True,
        shortest=3,
        longest=_MOST_POINTS,
        metadata=said("Points of the table, flow rising and head falling."),
    )


class RpmTableSchema(StrictSchema):
    """A pump's table at a speed in revolutions per minute."""

    speed_rpm = Number(
        required=True, minimum=1, maximum=100_000, metadata=said("Speed of this table.", 2700)
    )
    label = Text(metadata=said("What the maker calls this speed.", "III"))
    points = _points()


class PercentTableSchema(StrictSchema):
    """A pump's table at a speed in per cent of its rated speed."""

    speed_percent = Number(
        required=True, minimum=1, maximum=1_000, metadata=said("Speed of this table.", 100)
    )
    label = Text(metadata=said("What the maker calls this speed.", "max"))
    points = _points()


class CandidateSchema(StrictSchema):
    """What every candidate may name, however its speeds are given."""

    name = Text(required=True, metadata=said("What to call the pump.", "Pump 1 (invented)"))
    stages = Integer(
        minimum=1,
        maximum=100,
        load_default=1,
        metadata=said("Impellers in line; viscosity is corrected for stage by stage."),
    )
    control = Choice(
        CONTROLS,
        load_default="constant_speed",
        metadata=said(
            "constant_speed: runs at one setting. constant_differential_pressure: an electronic "
            "drive lowers the speed until the head held is met."
        ),
    )
    set_head_m = Number(
        minimum=0.001,
        maximum=10_000,
        metadata=said(
            "Head that constant_differential_pressure holds; left out, the head of the duty.", 5
        ),
    )
    parallel = Integer(
        minimum=1,
        maximum=100,
        load_default=1,
        metadata=said("Equal pumps side by side, all running."),
    )
    series = Integer(
        minimum=1, maximum=100, load_default=1, metadata=said("Equal pumps in line, all running.")
    )


class RpmCandidateSchema(CandidateSchema):
    """A pump by tables whose speeds are in revolutions per minute."""

    tables_by_rpm = ListOf(
        Nested(lambda: RpmTableSchema),
        required=True,
        shortest=1,
        longest=20,
        metadata=said("A table for each speed known, each speed once."),
    )
    setting_rpm = Number(
        minimum=1,
        maximum=100_000,
        metadata=said(
            "Speed that constant_speed runs at, up to the highest table; left out, the tabulated "
            "speed that meets the duty with the least energy.",
            2700,
        ),
    )
    minimum_rpm = Number(
        minimum=1, maximum=100_000, metadata=said("Lowest speed that the drive allows.", 900)
    )


class PercentCandidateSchema(CandidateSchema):
    """A pump by tables whose speeds are in per cent of a rated speed."""

    tables_by_percent = ListOf(
        Nested(lambda: PercentTableSchema),
        required=True,
        shortest=1,
        longest=20,
        metadata=said("A table for each speed known, each speed once."),
    )
    rated_rpm = Number(
        required=True,
        minimum=1,
        maximum=100_000,
        metadata=said("Speed at 100 %; the viscosity correction needs it.", 4000),
    )
    setting_percent = Number(
        minimum=1,
        maximum=1_000,
        metadata=said(
            "Speed that constant_speed runs at, up to the highest table; left out, the tabulated "
            "speed that meets the duty with the least energy.",
            80,
        ),
    )
    minimum_percent = Number(
        minimum=1, maximum=1_000, metadata=said("Lowest speed that the drive allows.", 30)
    )


def _candidate() -> Alternatives:
    return Alternatives(
        {"tables_by_rpm": RpmCandidateSchema, "tables_by_percent": PercentCandidateSchema},
        what="a pump",
        why="The speeds of one pump are all in revolutions per minute or all in per cent.",
    )


class WarmSchema(StrictSchema):
    """The array when it is warm: late summer, or heat put into the ground."""

    to_ground_temperature_c = to_ground_temperature()
    from_ground_temperature_c = from_ground_temperature()
    share_of_hours_percent = Number(
        minimum=0,
        maximum=100,
        load_default=WARM_SHARE * 100.0,
        metadata=said(
            "Share of run_hours in this condition; the rest is cold (50 %: common practice, no "
            "source)."
        ),
    )


class PumpSelectionRequestSchema(FlowSplitRequestSchema):
    """An array at its coldest design temperature, and pumps to choose among.

    The flow of the duty is asked for in the cold and in the warm.
    """

    warm = Nested(
        lambda: WarmSchema, metadata=said("Left out, pumps are judged in the cold alone.")
    )
    candidates = ListOf(
        _candidate(),
        longest=MOST_CANDIDATES,
        metadata=said("Pumps by their makers' tables. At least one here, or use_invented_pumps."),
    )
    use_invented_pumps = Flag(
        load_default=False,
        metadata=said(
            "Judge the invented pumps of GET /v1/invented-pumps too; for trying things out, never "
            "for choosing."
        ),
    )
    run_hours = run_hours()
    tolerance_grade = Choice(
        TOLERANCES,
        load_default="up_to_10_kw",
        metadata=said(
            "How far a delivered pump may lie from its table: acceptance grade of ISO 9906. "
            "up_to_10_kw is the one for pumps of circulators' size."
        ),
    )


# ------------------------------------------------------------------------------------- the response


class ConditionSchema(StrictSchema):
    """The array at one temperature."""

    condition = Choice(CONDITIONS, required=True, metadata=said("Which."))
    to_ground_temperature_c = Number(required=True, metadata=said("Brine on its way out."))
    from_ground_temperature_c = Number(required=True, metadata=said("Brine on its way back."))
    fluid = Nested(
        lambda: FluidSchema, required=True, metadata=said("At the mean, as the pump meets it.")
    )
    kinematic_viscosity_mm2_s = Number(required=True, metadata=said("Kinematic viscosity."))
    run_hours = Number(required=True, metadata=said("Hours in a year in this condition."))
    head_at_duty_m = Number(required=True, metadata=said("What the array takes at the duty."))
    system_curve = ListOf(
        Nested(lambda: CurvePointSchema),
        required=True,
        longest=1_000,
        metadata=said("The array solved at each of these flows."),
    )


class ViscosityCorrectionSchema(StrictSchema):
    """What the brine takes from a pump tested on water, by ANSI/HI 9.6.7."""

    parameter_b = Number(required=True, metadata=said("The method's parameter B."))
    flow_factor = Number(required=True, metadata=said("Flow on brine over flow on water."))
    head_factor = Number(
        required=True, metadata=said("Head on brine over head on water at the best efficiency.")
    )
    efficiency_factor = Number(
        required=True, metadata=said("Efficiency on brine over efficiency on water.")
    )
    within_tests = Flag(
        required=True, metadata=said("Whether pump and brine lie within the tests behind it.")
    )


class CandidateConditionSchema(StrictSchema):
    """A candidate in one condition.

    Everything but the name and the reason is absent where it has no operating point.
    """

    condition = Choice(CONDITIONS, required=True, metadata=said("Which."))
    reason = Text(longest=2_000, metadata=said("Why there is no operating point."))
    flow_l_s = Number(metadata=said("Operating flow."))
    head_m = Number(metadata=said("Operating head, as a column of the brine."))
    power_w = Number(metadata=said("Electrical power of all pumps."))
    hydraulic_power_w = Number(metadata=said("Flow times pressure."))
    efficiency_percent = Number(metadata=said("Hydraulic over electrical power."))
    speed_rpm = Number(metadata=said("Speed that it runs at."))
    state = Choice(get_args(State), metadata=said("How the control stands."))
    flow_margin_percent = Number(metadata=said("Flow above that of the duty."))
    head_margin_percent = Number(
        metadata=said(
            "Head that it has at the flow of the duty above what the array takes; absent where "
            "that flow is outside its tables."
        )
    )
    weakest_flow_l_s = Number(
        metadata=said("Flow of the weakest pump that the tolerance accepts; absent if not known.")
    )
    strongest_flow_l_s = Number(
        metadata=said("Flow of the strongest pump that the tolerance accepts; absent if not known.")
    )
    energy_kwh = Number(metadata=said("Electricity of a year in this condition."))
    viscosity_correction = Nested(
        lambda: ViscosityCorrectionSchema, metadata=said("From water to this brine.")
    )
    notes = ListOf(
        Text(longest=2_000), longest=100, metadata=said("What to know about this operating point.")
    )


class BenchmarkSchema(StrictSchema):
    """Pumping power for the heat that it moves, against a published benchmark."""

    power_per_heat_w_kw = Number(
        required=True, metadata=said("Electrical power of the pumps, cold, per heat of the ground.")
    )
    horsepower_per_100_tons = Number(
        required=True, metadata=said("The same in the benchmark's unit.")
    )
    grade = Choice(("A", "B", "C", "D", "F"), required=True, metadata=said("A is best."))
    source = Text(required=True, longest=2_000, metadata=said("Where the grades come from."))


class CandidateCurvePointSchema(StrictSchema):
    """A point of a candidate's curve on cold brine, as it runs."""

    flow_l_s = Number(required=True, metadata=said("Flow."))
    head_m = Number(required=True, metadata=said("Head."))
    power_w = Number(required=True, metadata=said("Electrical power."))
    weakest_head_m = Number(
        required=True, metadata=said("Head of the weakest pump that the tolerance accepts.")
    )
    strongest_head_m = Number(
        required=True, metadata=said("Head of the strongest pump that the tolerance accepts.")
    )


class RankedPumpSchema(StrictSchema):
    """A candidate judged."""

    pump = Text(required=True, metadata=said("Its name."))
    where = Text(
        longest=1_000, metadata=said("JSON Pointer into the request; absent for invented pumps.")
    )
    invented = Flag(required=True, metadata=said("Whether it is one of the service's."))
    control = Choice(CONTROLS, required=True, metadata=said("How it is controlled."))
    parallel = Integer(required=True, minimum=1, metadata=said("Pumps side by side."))
    series = Integer(required=True, minimum=1, metadata=said("Pumps in line."))
    setting_rpm = Number(metadata=said("Speed setting of constant_speed."))
    setting_percent = Number(
        metadata=said("The same in per cent, where the pump's tables are in per cent.")
    )
    meets_duty = Flag(
        required=True, metadata=said("Whether it gives the flow of the duty in every condition.")
    )
    misses_because = ListOf(
        Text(longest=2_000), required=True, longest=10, metadata=said("Why not; empty if it does.")
    )
    energy_kwh = Number(
        metadata=said("Electricity of a year; absent where a condition has no operating point.")
    )
    benchmark = Nested(
        lambda: BenchmarkSchema, metadata=said("Absent where no heat or no operating point.")
    )
    conditions = ListOf(
        Nested(lambda: CandidateConditionSchema),
        required=True,
        longest=len(CONDITIONS),
        metadata=said("Condition by condition."),
    )
    curve = ListOf(
        Nested(lambda: CandidateCurvePointSchema),
        longest=1_000,
        metadata=said("Its curve on cold brine; absent without an operating point there."),
    )


class LoopAtPumpSchema(StrictSchema):
    """A loop's flow at the flow of the pump ranked first."""

    loop = loop_name()
    where = loop_pointer()
    flow_l_s = Number(required=True, metadata=said("Flow."))
    deviation_percent = Number(required=True, metadata=said("Deviation from even flow."))


class SplitAtPumpSchema(StrictSchema):
    """The flow split that the pump ranked first drives in one condition."""

    condition = Choice(CONDITIONS, required=True, metadata=said("Which."))
    flow_l_s = Number(required=True, metadata=said("Flow of the array."))
    head_m = Number(required=True, metadata=said("Head that the array takes, solved at that flow."))
    within_tolerance = Flag(required=True, metadata=said("Whether every loop is."))
    spread_percent = spread_over_mean()
    loops = ListOf(
        Nested(lambda: LoopAtPumpSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Loop by loop."),
    )


class ToleranceSchema(StrictSchema):
    """How far a delivered pump may lie from its table."""

    grade = Choice(TOLERANCES, required=True, metadata=said("Acceptance grade."))
    flow_low_percent = Number(required=True, metadata=said("Less flow allowed."))
    flow_high_percent = Number(required=True, metadata=said("More flow allowed."))
    head_low_percent = Number(required=True, metadata=said("Less head allowed."))
    head_high_percent = Number(required=True, metadata=said("More head allowed."))
    source = Text(required=True, longest=2_000, metadata=said("Where they come from."))


class PumpSelectionMethodSchema(StrictSchema):
    """How it was computed."""

    pumps = Text(required=True, longest=2_000, metadata=said("How pumps are put on the array."))
    friction = friction_law()
    properties = properties_source()
    version = service_version()


class PumpSelectionResponseSchema(StrictSchema):
    """Pumps in order: those that meet the duty by energy, then the others, nearest first."""

    name = name_as_given()
    pump_duty = Nested(
        lambda: PumpDutyResultSchema, required=True, metadata=said("The duty, in the cold.")
    )
    conditions = ListOf(
        Nested(lambda: ConditionSchema),
        required=True,
        longest=len(CONDITIONS),
        metadata=said("Cold, and warm where the request gives it."),
    )
    pumps = ListOf(
        Nested(lambda: RankedPumpSchema),
        required=True,
        longest=MOST_CANDIDATES + 20,
        metadata=said("Every candidate, best first."),
    )
    at_first_pump = ListOf(
        Nested(lambda: SplitAtPumpSchema),
        required=True,
        longest=len(CONDITIONS),
        metadata=said("What the first pump makes of the flow split, where it operates."),
    )
    tolerance = Nested(
        lambda: ToleranceSchema, required=True, metadata=said("What the tolerances are.")
    )
    findings = findings_list()
    cautions = cautions_list()
    method = method_of(PumpSelectionMethodSchema)


class InventedPumpsSchema(StrictSchema):
    """Pumps that no maker sells, to try the service out with."""

    notice = Text(required=True, longest=2_000, metadata=said("What they are not."))
    pumps = ListOf(
        _candidate(),
        required=True,
        longest=100,
        metadata=said("The pumps, as `candidates` of POST /v1/pump-selection takes them."),
    )
