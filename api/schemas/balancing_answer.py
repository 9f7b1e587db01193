"""The answer of POST /v1/balancing."""

from __future__ import annotations

from typing import get_args

from api.schemas.array import CircuitSchema
from api.schemas.balancing import TARGETS, BalancingOptionsSchema
from api.schemas.common import (
    MOST_ROWS,
    cautions_list,
    findings_list,
    friction_law,
    loop_name,
    method_of,
    name_as_given,
    properties_source,
    reference_as_given,
    service_version,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.setting_out import SettingOutOptionsSchema
from api.schemas.split_answer import ImbalanceSchema, LoopFlowSchema
from hydraulics.balancing.result import Disturbance, Verdict, WayKind
from hydraulics.layout.contents import Part


def _within_target() -> Flag:
    return Flag(required=True, metadata=said("Whether every loop has its target."))


def _spread_from_target() -> Number:
    return Number(required=True, metadata=said("Largest less smallest deviation from the target."))


class DutyReachedSchema(StrictSchema):
    """What the circulating pump has to do, and the electricity that it takes."""

    flow_l_s = Number(required=True, metadata=said("Volume flow at the pump."))
    head_kpa = Number(required=True, metadata=said("Pressure rise."))
    head_m = Number(required=True, metadata=said("Head, as a column of the mixture."))
    hydraulic_power_w = Number(required=True, metadata=said("Flow times pressure."))
    energy_kwh = Number(
        required=True, metadata=said("Electricity of a year, at the efficiency and hours given.")
    )


class BeforeSchema(StrictSchema):
    """The flow split before anything is changed."""

    loops = ListOf(
        Nested(lambda: LoopFlowSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Every loop, in the order of every list of loops here."),
    )
    imbalance = Nested(
        lambda: ImbalanceSchema, required=True, metadata=said("Against the target, and why.")
    )
    pump = Nested(lambda: DutyReachedSchema, required=True, metadata=said("The pump."))


class LoopReachedSchema(StrictSchema):
    """A loop's flow when something was changed."""

    loop = loop_name()
    flow_l_s = Number(required=True, metadata=said("Flow reached."))
    deviation_percent = Number(required=True, metadata=said("Deviation from the target."))


class PipeTakenSchema(StrictSchema):
    """Pipe that a way lays or, negative, no longer needs; where sizes shift, both."""

    part = Choice(
        get_args(Part), component="ArrayPart", required=True, metadata=said("Where it lies.")
    )
    pipe = Text(required=True, metadata=said("Which pipe.", "PE100 SDR11 32"))
    length_m = Number(required=True, metadata=said("How much more or less, all together."))


class ValveSettingSchema(StrictSchema):
    """The setting of one loop's valve."""

    loop = loop_name()
    fully_open = Flag(required=True, metadata=said("Whether its valve stays fully open."))
    kv_m3_h = Number(
        metadata=said(
            "Kv that gives the loop just its target, to set where the valve has no table; absent "
            "where the valve takes nothing, so that any large Kv does."
        )
    )
    loss_coefficient = Number(
        required=True,
        metadata=said("Of the valve as set, K in Δp = K ρ v²/2, v in the bore of the loop."),
    )
    bore_mm = Number(required=True, metadata=said("Bore that K refers to."))
    drop_kpa = Number(required=True, metadata=said("Drop of the valve as set, at the target."))
    authority_percent = Number(
        required=True, metadata=said("Share of the valve in the drop of valve, loop and its route.")
    )
    opening_mm = Number(metadata=said("Diameter of a sharp-edged hole that takes as much."))
    reynolds_factor = Number(
        required=True,
        metadata=said("In this brine the valve acts as one of factor times Kv (EN 60534-2-1)."),
    )
    position = Number(
        metadata=said(
            "Position of the valve's own table: the nearest or, where the nearest of all loops "
            "miss, one of a combination that reaches or comes nearest."
        )
    )
    position_kv_m3_h = Number(metadata=said("Kv of that position, as the valve is set."))
    kv_before_m3_h = Number(
        metadata=said("Kv that its valve has now; absent where no valve of that name is in it.")
    )


class SparePipeSchema(StrictSchema):
    """Pipe to add to one loop, in coils."""

    loop = loop_name()
    length_m = Number(required=True, metadata=said("Of the loop's own pipe; 0 for the index loop."))


class PipeChangeSchema(StrictSchema):
    """One pipe in the place of another."""

    before = Text(required=True, metadata=said("As it is.", "PE100 SDR11 40"))
    after = Text(required=True, metadata=said("In its place.", "PE100 SDR11 50"))


class PipeTriedSchema(StrictSchema):
    """Sizes that were tried."""

    changes = ListOf(
        Nested(lambda: PipeChangeSchema),
        required=True,
        longest=1_000,
        metadata=said("Pipe by pipe."),
    )
    within_tolerance = _within_target()
    spread_percent = _spread_from_target()
    pump = Nested(lambda: DutyReachedSchema, required=True, metadata=said("The pump."))


class ExactSettingSchema(StrictSchema):
    """What valves would reach that can be set to any Kv."""

    within_tolerance = _within_target()
    spread_percent = _spread_from_target()


class BalancingDecidesSchema(StrictSchema):
    """The parts of a job that a way to balance decides."""

    balancing = Nested(
        lambda: BalancingOptionsSchema,
        metadata=said(
            "As posted, without `take`, where the job takes a way: it is in the array, and would "
            "be put in twice."
        ),
    )
    array = Nested(lambda: CircuitSchema, required=True, metadata=said("The array with it."))
    setting_out = Nested(
        lambda: SettingOutOptionsSchema,
        metadata=said("As posted, with the way's pipe of runs, where it has another."),
    )


class DisturbedSchema(StrictSchema):
    """What of an array that is laid already a way disturbs."""

    kind = Choice(
        get_args(Disturbance),
        component="WayDisturbs",
        required=True,
        metadata=said("From the least to the most."),
    )
    extent = Text(required=True, longest=2_000, metadata=said("How much of it, in words."))


class WaySchema(StrictSchema):
    """One way to balance, solved again at the same total flow or by the pump's curve."""

    way = Choice(
        get_args(WayKind),
        component="WayName",
        required=True,
        metadata=said(
            "regulating_valves: a valve in each loop. spare_pipe: coiled pipe added to short "
            "loops. reverse_return: instead of direct return. larger_headers: headers and routes "
            "of larger pipe. other_loop_pipe: loops of other pipe, or all of one size."
        ),
    )
    verdict = Choice(
        get_args(Verdict),
        component="WayVerdict",
        required=True,
        metadata=said(
            "reaches: every loop within tolerance. misses: solved, but not so. not_possible: does "
            "not apply to this array."
        ),
    )
    reason = Text(required=True, longest=2_000, metadata=said("What it comes to, or why not."))
    spread_percent = Number(
        metadata=said("Largest less smallest deviation from the target that is left.")
    )
    loops = ListOf(
        Nested(lambda: LoopReachedSchema), longest=MOST_ROWS, metadata=said("Flows reached.")
    )
    pump = Nested(lambda: DutyReachedSchema, metadata=said("The pump with it."))
    power_change_w = Number(metadata=said("Hydraulic power with it less before."))
    energy_change_kwh = Number(metadata=said("Electricity of a year with it less before."))
    valves = Integer(minimum=0, metadata=said("Valves needed."))
    pipes = ListOf(
        Nested(lambda: PipeTakenSchema),
        longest=10_000,
        metadata=said("Pipe laid anew and no longer needed."),
    )
    contents_change_l = Number(metadata=said("Fluid with it less before."))
    heat_gain_w = Number(
        metadata=said(
            "Heat exchanged with it more than before, at the same entering temperature and ground; "
            "absent where the ground is not told (`heat_from`)."
        )
    )
    disturbs = Nested(
        lambda: DisturbedSchema, metadata=said("What of an array that is laid it disturbs.")
    )
    rank = Integer(
        minimum=1,
        metadata=said(
            "Its place among the ways that reach and can be laid: without warnings first; then "
            "those that add no more than 10 % to the pump's energy of the array as it is; of these "
            "what disturbs least, then what takes least energy."
        ),
    )
    rank_reason = Text(longest=2_000, metadata=said("Why it has that place."))
    settings = ListOf(
        Nested(lambda: ValveSettingSchema),
        longest=MOST_ROWS,
        metadata=said("Of regulating valves, one per loop."),
    )
    exact = Nested(
        lambda: ExactSettingSchema,
        metadata=said("Where the valve has a table: what settings between its positions reach."),
    )
    spare_pipe = ListOf(
        Nested(lambda: SparePipeSchema),
        longest=MOST_ROWS,
        metadata=said("Pipe added, loop by loop."),
    )
    tried = ListOf(
        Nested(lambda: PipeTriedSchema),
        longest=1_000,
        metadata=said("Sizes of pipe in the order tried; the way is the best of them."),
    )
    decides = Nested(
        lambda: BalancingDecidesSchema,
        metadata=said(
            "The array with this way put in, as the job takes it; where it was solved and none of "
            "its measures is beyond what a job takes."
        ),
    )
    findings = findings_list(1_000, "What to know before choosing it.")


class LoopHeatSchema(StrictSchema):
    """One loop's heat at the flow that it has and at its target."""

    loop = loop_name()
    conductance_w_m_k = Number(
        required=True, metadata=said("Between brine and ground, per metre of pipe, as it is.")
    )
    laminar = Flag(required=True, metadata=said("Whether its film is laminar as it is."))
    effectiveness = Number(
        required=True, metadata=said("Warming over the largest possible, as it is.")
    )
    from_ground_c = Number(required=True, metadata=said("Brine at its end, as it is."))
    heat_w = Number(required=True, metadata=said("Heat as it is; negative into the ground."))
    heat_at_target_w = Number(required=True, metadata=said("Heat at its target flow."))


class HeatCostSchema(StrictSchema):
    """What the uneven split costs in heat, against the target at the same total flow."""

    heat_as_it_is_w = Number(required=True, metadata=said("All loops, as it is."))
    heat_at_target_w = Number(required=True, metadata=said("All loops at their target flows."))
    heat_lost_w = Number(
        required=True, metadata=said("What less is exchanged; negative where more is.")
    )
    heat_lost_percent = Number(required=True, metadata=said("Over the heat at the target."))
    colder_k = Number(
        required=True,
        metadata=said(
            "How much further from the ground's temperature the brine must go out to exchange as "
            "much as at the target."
        ),
    )
    from_ground_c = Number(required=True, metadata=said("Mixed from all loops, as it is."))
    from_ground_at_target_c = Number(
        required=True, metadata=said("Mixed from all loops at their target flows.")
    )
    loops = ListOf(
        Nested(lambda: LoopHeatSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Loop by loop."),
    )
    model = Text(required=True, longest=2_000, metadata=said("How, and by whose relation."))
    leaves_out = ListOf(
        Text(longest=2_000), required=True, longest=100, metadata=said("What it leaves out.")
    )


class BalancingMethodSchema(StrictSchema):
    """How it was computed."""

    balancing = Text(required=True, longest=2_000, metadata=said("How the ways are compared."))
    friction = friction_law()
    properties = properties_source()
    version = service_version()


class BalancingAnswerSchema(StrictSchema):
    """The array as it is, and the ways to balance it side by side."""

    name = name_as_given()
    reference = reference_as_given()
    target = Choice(
        TARGETS, component="BalancingTarget", required=True, metadata=said("As in the request.")
    )
    max_deviation_percent = Number(required=True, metadata=said("Tolerance that was asked for."))
    pump_efficiency_percent = Number(required=True, metadata=said("That energy is reckoned with."))
    run_h = Number(required=True, metadata=said("In a year, that energy is reckoned with."))
    before = Nested(
        lambda: BeforeSchema, required=True, metadata=said("Before anything is changed.")
    )
    ways = ListOf(
        Nested(lambda: WaySchema),
        required=True,
        longest=len(get_args(WayKind)),
        metadata=said("Every way, whether it applies or not, always in this order."),
    )
    heat_from = Text(
        required=True,
        longest=1_000,
        metadata=said("What `heat_gain_w` of the ways is reckoned by, or why it is not told."),
    )
    heat_cost = Nested(
        lambda: HeatCostSchema, metadata=said("Where the request describes the ground.")
    )
    findings = findings_list(description="About the array as it is; each way has its own.")
    cautions = cautions_list()
    method = method_of(BalancingMethodSchema)
