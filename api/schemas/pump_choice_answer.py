"""The answer of POST /v1/pump-choice, and the list of invented pumps."""

from __future__ import annotations

from typing import get_args

from api.schemas.common import (
    CONDITIONS,
    FluidSchema,
    cautions_list,
    condition_name,
    findings_list,
    friction_law,
    method_of,
    name_as_given,
    properties_source,
    reference_as_given,
    service_version,
    spread_over_mean,
)
from api.schemas.fields import Choice, Flag, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.pumps import CONTROLS, MOST_CANDIDATES, PumpSchema
from api.schemas.split_answer import CurvePointSchema, LoopRunningSchema, PumpDutySchema
from api.schemas.told import counted, named, part, rows, told
from hydraulics.pumps.benchmarks import TOLERANCES
from hydraulics.pumps.running import State


class ConditionSchema(StrictSchema):
    """The array at one temperature."""

    condition = condition_name()
    to_ground_c = told("Brine on its way out.")
    from_ground_c = told("Brine on its way back.")
    fluid = part(lambda: FluidSchema, "At the mean, as the pump meets it.")
    kinematic_viscosity_mm2_s = told("Kinematic viscosity.")
    run_h = told("Hours in a year in this condition.")
    duty_head_m = told("What the array takes at the duty.")
    system_curve = rows(
        lambda: CurvePointSchema, "The array solved at each of these flows.", longest=1_000
    )


class ViscosityCorrectionSchema(StrictSchema):
    """What the brine takes from a pump tested on water, by ANSI/HI 9.6.7."""

    parameter_b = told("The method's parameter B.")
    flow_factor = told("Flow on brine over flow on water.")
    head_factor = told("Head on brine over head on water at the best efficiency.")
    efficiency_factor = told("Efficiency on brine over efficiency on water.")
    within_tests = Flag(
        required=True, metadata=said("Whether pump and brine lie within the tests behind it.")
    )


class CandidateConditionSchema(StrictSchema):
    """A candidate in one condition.

    Everything but the name and the reason is absent where it has no operating point.
    """

    condition = condition_name()
    reason = Text(longest=2_000, metadata=said("Why there is no operating point."))
    flow_l_s = Number(metadata=said("Operating flow."))
    head_m = Number(metadata=said("Operating head, as a column of the brine."))
    power_w = Number(metadata=said("Electrical power of all pumps."))
    hydraulic_power_w = Number(metadata=said("Flow times pressure."))
    efficiency_percent = Number(metadata=said("Hydraulic over electrical power."))
    speed_rpm = Number(metadata=said("Speed that it runs at."))
    state = Choice(
        get_args(State), component="ControlState", metadata=said("How the control stands.")
    )
    flow_margin_percent = Number(metadata=said("Flow above that of the duty."))
    head_margin_percent = Number(
        metadata=said(
            "Head that it has at the flow of the duty above what the array takes; absent where "
            "that flow is outside its tables."
        )
    )
    min_flow_l_s = Number(
        metadata=said("Flow of the weakest pump that the tolerance accepts; absent if not known.")
    )
    max_flow_l_s = Number(
        metadata=said("Flow of the strongest pump that the tolerance accepts; absent if not known.")
    )
    of_best_flow_percent = Number(
        metadata=said(
            "Operating flow over the flow of best efficiency; at most this where the efficiency "
            "still rises at the end of the table. 70 to 120 % is preferred."
        )
    )
    max_power_w = Number(
        metadata=said(
            "Largest electrical power of all pumps within the tolerance; under a control that may "
            "turn up to it, at full speed."
        )
    )
    min_inlet_kpa = Number(
        metadata=said(
            "Least pressure over the atmosphere that its inlet needs; absent where the tables do "
            "not tell npsh_m."
        )
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

    power_per_heat_w_kw = told("Electrical power of the pumps, cold, per heat of the ground.")
    horsepower_per_100_tons = told("The same in the benchmark's unit.")
    source = Text(
        required=True, longest=2_000, metadata=said("Which bands are published, and where.")
    )


class CandidateCurvePointSchema(StrictSchema):
    """A point of a candidate's curve on cold brine, as it runs."""

    flow_l_s = told("Flow.")
    head_m = told("Head.")
    power_w = told("Electrical power.")
    min_head_m = told("Head of the weakest pump that the tolerance accepts.")
    max_head_m = told("Head of the strongest pump that the tolerance accepts.")


class SplitAtPumpSchema(StrictSchema):
    """The flow split that the pump ranked first drives in one condition."""

    condition = condition_name()
    flow_l_s = told("Flow of the array.")
    head_m = told("Head that the array takes, solved at that flow.")
    within_tolerance = Flag(required=True, metadata=said("Whether every loop is."))
    spread_percent = spread_over_mean()
    loops = rows(lambda: LoopRunningSchema, "Loop by loop.")


class PumpDecidesSchema(StrictSchema):
    """The part of a job that choosing a pump decides."""

    pump = part(lambda: PumpSchema, "The pump with its setting.")


class RankedPumpSchema(StrictSchema):
    """A candidate judged."""

    name = Text(required=True, metadata=said("Its name."))
    where = Text(
        longest=1_000, metadata=said("JSON Pointer into the request; absent for invented pumps.")
    )
    invented = Flag(required=True, metadata=said("Whether it is one of the service's."))
    control = Choice(
        CONTROLS, component="PumpControl", required=True, metadata=said("How it is controlled.")
    )
    parallel = counted("Pumps side by side.")
    series = counted("Pumps in line.")
    speed_rpm = Number(metadata=said("Speed setting of constant_speed."))
    meets_duty = Flag(
        required=True, metadata=said("Whether it gives the flow of the duty in every condition.")
    )
    meets_high_head = Flag(
        metadata=said(
            "Whether it meets the duty and gives its flow, cold, at `pump.head_high_kpa` of the "
            "split too; absent where its table does not reach the flow."
        )
    )
    reasons = ListOf(
        Text(longest=2_000), required=True, longest=10, metadata=said("Why not; empty if it does.")
    )
    energy_kwh = Number(
        metadata=said("Electricity of a year; absent where a condition has no operating point.")
    )
    benchmark = Nested(
        lambda: BenchmarkSchema, metadata=said("Absent where no heat or no operating point.")
    )
    conditions = rows(
        lambda: CandidateConditionSchema, "Condition by condition.", longest=len(CONDITIONS)
    )
    curve = ListOf(
        Nested(lambda: CandidateCurvePointSchema),
        longest=1_000,
        metadata=said("Its curve on cold brine; absent without an operating point there."),
    )
    splits = ListOf(
        Nested(lambda: SplitAtPumpSchema),
        longest=len(CONDITIONS),
        metadata=said("What it makes of the flow split; of the pump ranked first only."),
    )
    decides = Nested(
        lambda: PumpDecidesSchema,
        metadata=said("This pump as the job takes it; where it has an operating point."),
    )


class SetAsideSchema(StrictSchema):
    """A candidate that is not judged."""

    name = Text(required=True, metadata=said("Its name."))
    where = named("JSON Pointer into the request.")
    reasons = ListOf(
        Text(longest=2_000),
        required=True,
        longest=10_000,
        metadata=said("What in it no pump has, each with its place in the candidate."),
    )


class AcceptanceSchema(StrictSchema):
    """How far a delivered pump may lie from its table."""

    grade = Choice(
        TOLERANCES, component="AcceptanceGrade", required=True, metadata=said("Acceptance grade.")
    )
    min_flow_percent = told("Less flow allowed.")
    max_flow_percent = told("More flow allowed.")
    min_head_percent = told("Less head allowed.")
    max_head_percent = told("More head allowed.")
    source = Text(required=True, longest=2_000, metadata=said("Where they come from."))


class PumpChoiceMethodSchema(StrictSchema):
    """How it was computed."""

    pumps = Text(required=True, longest=2_000, metadata=said("How pumps are put on the array."))
    friction = friction_law()
    properties = properties_source()
    version = service_version()


class PumpChoiceAnswerSchema(StrictSchema):
    """Pumps in order: those that meet the duty by energy, then the others, nearest first."""

    name = name_as_given()
    reference = reference_as_given()
    pump = part(lambda: PumpDutySchema, "The duty, in the cold.")
    conditions = rows(
        lambda: ConditionSchema,
        "Cold, and warm where the request gives it.",
        longest=len(CONDITIONS),
    )
    pumps = rows(
        lambda: RankedPumpSchema, "Every candidate, best first.", longest=MOST_CANDIDATES + 20
    )
    set_aside = rows(
        lambda: SetAsideSchema,
        "Candidates that are not judged, since no pump has such numbers; mostly none.",
        longest=MOST_CANDIDATES,
    )
    acceptance = part(lambda: AcceptanceSchema, "What the tolerances are.")
    findings = findings_list()
    cautions = cautions_list()
    method = method_of(PumpChoiceMethodSchema)


class InventedPumpsSchema(StrictSchema):
    """Pumps that no maker sells, to try the service out with."""

    notice = Text(required=True, longest=2_000, metadata=said("What they are not."))
    pumps = rows(
        lambda: PumpSchema,
        "The pumps, as `candidates` of POST /v1/pump-choice takes them.",
        longest=100,
    )
