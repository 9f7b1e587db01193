"""The answer of POST /v1/split."""

from __future__ import annotations

from api.schemas.balancing import TARGETS
from api.schemas.common import (
    MOST_ROWS,
    FluidSchema,
    cautions_list,
    condition_name,
    findings_list,
    friction_law,
    loop_name,
    loop_pointer,
    method_of,
    name_as_given,
    properties_source,
    reference_as_given,
    service_version,
    spread_over_mean,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.told import named
from hydraulics.split.header_stretches import LINES
from hydraulics.split.result import REGIMES


class LoopDropsSchema(StrictSchema):
    """Where a loop's pressure drop arises.

    The first three add up to `drop_kpa`, all four to `path_drop_kpa`.
    """

    straight_drop_kpa = Number(required=True, metadata=said("Straight pipe of the loop.", 1.2))
    coil_drop_kpa = Number(required=True, metadata=said("Coiled pipe of the loop.", 5.1))
    fittings_drop_kpa = Number(
        required=True, metadata=said("Fittings of the loop and its branch.", 0.4)
    )
    headers_drop_kpa = Number(
        required=True,
        metadata=said(
            "Headers and runs that lead to the loop, with valves and fittings on them.", 0.9
        ),
    )


class LoopFlowSchema(StrictSchema):
    """One loop's flow and pressure drop."""

    loop = loop_name()
    where = loop_pointer()
    length_m = Number(required=True, metadata=said("Length of pipe that the fluid passes."))
    coiled_m = Number(required=True, metadata=said("Coiled part of it."))
    flow_l_s = Number(required=True, metadata=said("Volume flow at the loops' temperature."))
    mass_flow_kg_s = Number(required=True, metadata=said("Mass flow."))
    target_flow_l_s = Number(
        required=True, metadata=said("Flow that it should have, by balancing.target.")
    )
    share_percent = Number(required=True, metadata=said("Share of the array's flow."))
    deviation_percent = Number(required=True, metadata=said("Deviation from target_flow_l_s."))
    deviation_by_length_percent = Number(
        required=True, metadata=said("Deviation from flow in proportion to buried length.")
    )
    velocity_m_s = Number(required=True, metadata=said("Mean velocity in the loop's pipe."))
    reynolds = Number(required=True, metadata=said("Reynolds number in the loop's pipe."))
    regime = Choice(REGIMES, component="Regime", required=True, metadata=said("Flow regime."))
    drop_kpa = Number(required=True, metadata=said("Drop of the loop with its fittings and port."))
    path_drop_kpa = Number(
        required=True,
        metadata=said(
            "Drop with headers and runs, from the array's flow connection to its return."
        ),
    )
    drops = Nested(lambda: LoopDropsSchema, required=True, metadata=said("Where that drop arises."))


class ClosedLoopSchema(StrictSchema):
    """A loop in which nothing flows because a valve shuts it."""

    loop = loop_name()
    where = loop_pointer()
    count = Integer(required=True, minimum=1, metadata=said("How many equal ones.", 1))
    length_m = Number(required=True, metadata=said("Length of its pipe.", 120))


class HeaderStretchSchema(StrictSchema):
    """One stretch of header, its pipe as named or as implied."""

    branch = Text(
        required=True,
        longest=1_000,
        metadata=said(
            "Loop or circuit that it is given with: the flow header leads to it, the return header "
            "lies beside that; the closing run is given with the first."
        ),
    )
    where = Text(
        required=True,
        longest=1_000,
        metadata=said("JSON Pointer to the branch that it is given with."),
    )
    line = Choice(
        LINES,
        component="HeaderLine",
        required=True,
        metadata=said("Flow header, return header, or the closing run of a reverse return."),
    )
    pipe = named("Its pipe.", "PE100 SDR11 63")
    length_m = Number(required=True, metadata=said("Length."))
    flow_l_s = Number(required=True, metadata=said("Volume flow at the loops' temperature."))
    velocity_m_s = Number(required=True, metadata=said("Mean velocity at its own temperature."))
    drop_kpa = Number(required=True, metadata=said("Drop of its pipe."))


class ImbalanceSchema(StrictSchema):
    """How far the loops' flows are from their targets, why, and what would mend it."""

    within_tolerance = Flag(
        required=True,
        metadata=said(
            "Whether every loop is, as computed; a finding of severity error comes first."
        ),
    )
    target = Choice(
        TARGETS,
        component="BalancingTarget",
        required=True,
        metadata=said("What the loops should have: balancing.target of the job, or even."),
    )
    max_deviation_percent = Number(required=True, metadata=said("Tolerance that was asked for."))
    spread_percent = spread_over_mean()
    min_share_loop = Text(
        required=True, longest=1_000, metadata=said("Loop with the least of its target flow.")
    )
    index_loop = Text(
        required=True, longest=1_000, metadata=said("Loop that would need the most head.")
    )
    causes = ListOf(
        Text(longest=2_000), required=True, longest=1_000, metadata=said("Why, in words.")
    )
    remedies = ListOf(
        Text(longest=2_000), required=True, longest=1_000, metadata=said("What would help.")
    )


class PumpDropsSchema(StrictSchema):
    """Where the pump's head goes."""

    array_drop_kpa = Number(required=True, metadata=said("The array.", 12))
    runs_drop_kpa = Number(required=True, metadata=said("Runs and fittings of the plant.", 6))
    heat_exchanger_drop_kpa = Number(required=True, metadata=said("Heat exchanger.", 14))


class PumpDutySchema(StrictSchema):
    """What the circulating pump has to do."""

    flow_l_s = Number(required=True, metadata=said("Volume flow at the pump."))
    mass_flow_kg_s = Number(required=True, metadata=said("Mass flow."))
    head_kpa = Number(required=True, metadata=said("Pressure rise."))
    head_m = Number(required=True, metadata=said("Head, as a column of the mixture."))
    head_high_kpa = Number(
        required=True,
        metadata=said(
            "Pressure rise where flow in transition is turbulent or the brine is as viscous as "
            "published data allow, whatever takes most: the pump is to give this too. Errors of "
            "coil correlations are not in it."
        ),
    )
    heat_kw = Number(
        required=True, metadata=said("Heat that this flow carries at the temperatures given.")
    )
    hydraulic_power_w = Number(
        required=True, metadata=said("Flow times pressure; the motor takes more.")
    )
    drops = Nested(lambda: PumpDropsSchema, required=True, metadata=said("Where the head goes."))


class CurvePointSchema(StrictSchema):
    """A point of the system curve."""

    flow_l_s = Number(required=True, metadata=said("Volume flow."))
    head_kpa = Number(required=True, metadata=said("Pressure that it takes."))
    head_m = Number(required=True, metadata=said("The same as a column of the mixture."))


class CurveSpreadPointSchema(CurvePointSchema):
    """A point of the system curve, and how even the loops are there."""

    spread_percent = Number(
        required=True, metadata=said("Largest less smallest deviation of a loop at this flow.")
    )


class ResidualsSchema(StrictSchema):
    """How exactly the equations are met."""

    mass_relative = Number(
        required=True, metadata=said("Worst mass balance, over the total flow.", 1e-15)
    )
    energy_relative = Number(
        required=True, metadata=said("Worst pressure balance, over the pump's head.", 1e-11)
    )
    max_residual_where = Text(
        required=True,
        longest=1_000,
        metadata=said("JSON Pointer to the branch with the worst pressure balance."),
    )
    iterations = Integer(
        required=True, minimum=0, metadata=said("Steps that the solution took.", 4)
    )


class SplitMethodSchema(StrictSchema):
    """How it was computed."""

    friction = friction_law()
    properties = properties_source()
    version = service_version()


class FluidsSchema(StrictSchema):
    """The fluid where it is: on its way out, in the loops at their mean, on its way back."""

    to_ground = Nested(lambda: FluidSchema, required=True, metadata=said("On its way out."))
    in_loops = Nested(lambda: FluidSchema, required=True, metadata=said("In the loops, mean."))
    from_ground = Nested(lambda: FluidSchema, required=True, metadata=said("On its way back."))


class LoopRunningSchema(StrictSchema):
    """A loop's flow at a pump's own flow."""

    loop = loop_name()
    where = loop_pointer()
    flow_l_s = Number(required=True, metadata=said("Flow."))
    deviation_percent = Number(required=True, metadata=said("Deviation from the target."))


class PumpRunningSchema(StrictSchema):
    """What the pump that runs drives in one condition."""

    condition = condition_name()
    reason = Text(longest=2_000, metadata=said("Why there is no operating point; else absent."))
    flow_l_s = Number(metadata=said("Operating flow."))
    head_m = Number(metadata=said("Operating head, as a column of the brine."))
    power_w = Number(metadata=said("Electrical power of all pumps."))
    hydraulic_power_w = Number(metadata=said("Flow times pressure."))
    speed_rpm = Number(metadata=said("Speed that it runs at."))
    energy_kwh = Number(metadata=said("Electricity of a year in this condition."))
    temperature_change_k = Number(
        metadata=said("Rise of the brine through the ground when the duty's heat is drawn; cold.")
    )
    within_tolerance = Flag(metadata=said("Whether every loop is."))
    spread_percent = Number(metadata=said("Largest less smallest deviation from the target."))
    loops = ListOf(
        Nested(lambda: LoopRunningSchema), longest=MOST_ROWS, metadata=said("Loop by loop.")
    )


class SplitAnswerSchema(StrictSchema):
    """Flow and drop of every loop, the imbalance, and the pump's duty."""

    name = name_as_given()
    reference = reference_as_given()
    fluid = Nested(lambda: FluidsSchema, required=True, metadata=said("The fluid that flows."))
    loops = ListOf(
        Nested(lambda: LoopFlowSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Every loop that is open, equal ones each."),
    )
    closed_loops = ListOf(
        Nested(lambda: ClosedLoopSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Every loop that is closed, equal ones once: nothing flows there."),
    )
    headers = ListOf(
        Nested(lambda: HeaderStretchSchema),
        required=True,
        longest=2 * MOST_ROWS,
        metadata=said(
            "Every stretch of header that has a length, circuit after circuit, without circuits "
            "in which nothing can flow; a stretch that leads to closed loops alone has no flow."
        ),
    )
    imbalance = Nested(
        lambda: ImbalanceSchema, metadata=said("How uneven; absent where nothing flows.")
    )
    pump = Nested(lambda: PumpDutySchema, required=True, metadata=said("The pump."))
    system_curve = ListOf(
        Nested(lambda: CurveSpreadPointSchema),
        required=True,
        longest=1_000,
        metadata=said("Head and spread at other flows, at the same temperatures."),
    )
    running = ListOf(
        Nested(lambda: PumpRunningSchema),
        longest=2,
        metadata=said("What the job's pump drives, cold and warm; absent without a pump."),
    )
    findings = findings_list()
    cautions = cautions_list()
    residuals = Nested(
        lambda: ResidualsSchema, required=True, metadata=said("How exactly it was solved.")
    )
    method = method_of(SplitMethodSchema)
