"""The answer of POST /v1/commissioning."""

from __future__ import annotations

from typing import Final

from api.schemas.common import (
    cautions_list,
    findings_list,
    friction_law,
    loop_pointer,
    method_of,
    name_as_given,
    properties_source,
    reference_as_given,
    service_version,
)
from api.schemas.fields import Choice, Flag, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.told import counted, named, part, rows, told
from hydraulics.commissioning.pressure_test import STAGES
from hydraulics.commissioning.purge import CHANGES
from hydraulics.layout.contents import PARTS

VERDICTS: Final = ("pass", "fail", "undetermined")


class PartContentsSchema(StrictSchema):
    """What a part of the array holds."""

    part = Choice(PARTS, component="ArrayPart", required=True, metadata=said("The part."))
    length_m = told("Pipe laid, each parallel pipe counted.")
    volume_l = told("Contents.")


class PipeContentsSchema(PartContentsSchema):
    """What the pipes of one size in a part hold."""

    pipe = Text(required=True, metadata=said("The pipe.", "PE100 SDR11 32"))


class ContentsSchema(StrictSchema):
    """What array and plant hold."""

    volume_l = told("All contents.")
    plant_l = told("Plant, as given.")
    parts = rows(lambda: PartContentsSchema, "By part.", longest=10)
    pipes = rows(lambda: PipeContentsSchema, "By part and pipe.")


class ContainersSchema(StrictSchema):
    """Containers of one size."""

    size_l = told("Contents of each.")
    count = counted("How many.")


class FillingSchema(StrictSchema):
    """What to pour together."""

    filling_c = told("Filling temperature.")
    volume_l = told("Mixture to make, spare included.")
    mixture_kg = told("Its mass.")
    bought_mass_percent = told("Strength of the antifreeze as it is bought, by mass.")
    antifreeze_l = Number(
        metadata=said("Of that before mixing, at 20 °C; absent for a salt that is weighed.")
    )
    antifreeze_kg = told("Its mass.")
    water_l = told("Water to pour to it, at 20 °C.")
    water_kg = told("Mass of that water.")
    containers = rows(lambda: ContainersSchema, "To buy: little left over, then few.", longest=6)
    left_over_l = told("What they hold beyond it.")
    freezing_point_c = told("Freezing point of the mixture.")
    density_kg_m3 = told("Density at filling temperature: what a hydrometer should show.")


class PurgeStepSchema(StrictSchema):
    """A step of the purge: what is open, and what the purge pump gives in it."""

    name = Text(required=True, longest=2_000, metadata=said("What is open; all else is shut."))
    count = counted("Equal steps, one after the other.")
    open_loops = counted("Loops that are open.")
    flow_l_s = told("Flow, the one way and then the other.")
    pressure_kpa = told("At the purge connection, either way; hoses and strainer come on top.")
    lift_kpa = told("Of it, lift to the highest ground while pipe is empty; falls never count.")
    head_m = told("The same as a column of the fluid.")
    cleared_pipe = Text(required=True, metadata=said("Pipe that sets the flow."))
    min_velocity_m_s = told("Velocity in that pipe.")
    max_velocity_m_s = told("Highest velocity in any pipe on the way.")
    reynolds = told("Reynolds number in that pipe.")
    turnover_min = told("Time to change once what is open.")
    time_min = told(
        f"Least time: {CHANGES} changes each way (common practice), one of what has its own step."
    )


class PurgeSchema(StrictSchema):
    """The purge, step by step, and one duty of the purge pump that covers all steps."""

    min_velocity_m_s = told("Velocity to be reached in every pipe.")
    fluid = Choice(
        ("water", "mixture"),
        component="PurgeFluid",
        required=True,
        metadata=said("What is pumped round."),
    )
    filling_c = told("Its temperature.")
    max_flow_l_s = told("Largest flow of any step.")
    max_pressure_kpa = told("Largest pressure of any step; a pump of both covers all.")
    min_tank_l = told("Least contents of the open tank: a minute of that flow (common practice).")
    time_min = told("Least time of all steps, and 15 min after the last bubble.")
    steps = rows(lambda: PurgeStepSchema, "Steps in order: shared pipe, then loop by loop.")
    source = Text(required=True, longest=2_000, metadata=said("Where the velocity comes from."))


class TestStageSchema(StrictSchema):
    """A stage of the pressure test as it is to be done."""

    __test__ = False

    stage = Choice(STAGES, component="TestStageName", required=True, metadata=said("The stage."))
    duration_min = told("Its time.")
    duration_is_max = Flag(
        required=True, metadata=said("Whether that is the longest allowed, or the shortest.")
    )
    pressure_kpa = Number(
        metadata=said(
            "Pressure to be at or to reach; absent from letting_down on, which counts from the "
            "reading at the end of the rest."
        )
    )
    min_pressure_kpa = told("It must end above this.")
    max_pressure_kpa = told("And below this.")
    instruction = Text(required=True, longest=2_000, metadata=said("What to do."))


class StageResultSchema(StrictSchema):
    """How a stage went."""

    stage = Choice(STAGES, component="TestStageName", required=True, metadata=said("The stage."))
    verdict = Choice(
        VERDICTS, component="TestVerdict", required=True, metadata=said("Whether it was met.")
    )
    reason = Text(required=True, longest=2_000, metadata=said("Why."))


class TestResultSchema(StrictSchema):
    """Verdict on the record; whoever signs the test decides."""

    __test__ = False

    verdict = Choice(
        VERDICTS,
        component="TestVerdict",
        required=True,
        metadata=said("pass, fail, or undetermined where the record does not tell."),
    )
    stages = rows(
        lambda: StageResultSchema, "Stages judged; none after one that failed.", longest=len(STAGES)
    )
    allowed_drawn_off_l = Number(
        metadata=said("Most water for the let-down measured; absent where there was none.")
    )


class PressureTestSchema(StrictSchema):
    """The pressure test."""

    procedure = Text(required=True, metadata=said("Procedure."))
    test_pressure_kpa = told("System test pressure at the gauge.")
    test_pressure_at_bottom_kpa = told("What it is at the lowest pipe: with the water above it.")
    design_pressure_kpa = told(
        "Design pressure at the lowest pipe that it is for: as given, or as EN 805 has it."
    )
    design_pressure_at_gauge_kpa = told("The same at the level of the gauge.")
    max_at_gauge_kpa = Number(
        metadata=said(
            "Most that every pipe of known class bears in a test, read at the gauge; no "
            "support of grout or groundwater is counted. Absent where no class is known."
        )
    )
    stages = rows(lambda: TestStageSchema, "Stages in order.", longest=len(STAGES))
    min_drawn_off_l = told("Most water at the smallest let-down allowed.")
    max_drawn_off_l = told("Most water at the largest let-down allowed.")
    verdict_of_record = Nested(
        lambda: TestResultSchema, metadata=said("Verdict; absent where nothing was read.")
    )
    source = Text(required=True, longest=2_000, metadata=said("What of the procedure was read."))


class VesselSchema(StrictSchema):
    """The expansion vessel."""

    volume_l = told("Smallest nominal volume, pipes rigid.")
    volume_free_pipe_l = told(
        "The same for rigid or free pipe, whichever swings further: an outer bound."
    )
    expansion_l = told("What the fluid gains above filling.")
    contraction_l = told("What it loses below filling.")
    expansion_free_pipe_l = told("The gain with rigid or free pipe, whichever is more.")
    contraction_free_pipe_l = told("The loss with rigid or free pipe, whichever is more.")
    reserve_l = told("Water reserve.")
    precharge_pressure_kpa = told("Gas pressure of the empty vessel.")
    filling_pressure_kpa = told("Pressure to fill to, with a vessel of just this volume.")
    max_pressure_kpa = told("Highest pressure.")
    sold_count = counted("Vessels of the next size that is sold, for rigid pipe or free.")
    sold_volume_l = told("That size.")
    sold_filling_pressure_kpa = told("Pressure to fill those to.")
    static_pressure_kpa = told("Of the fluid that stands above the vessel.")
    min_precharge_pressure_kpa = told("Gas pressure that keeps 30 kPa at the highest point.")
    min_pressure_at_top_kpa = told("Least at the highest point, the vessel empty.")
    max_pressure_at_bottom_kpa = told(
        "Most at the lowest pipe: highest of vessel or safety valve, standing fluid, pump."
    )
    source = Text(required=True, longest=2_000, metadata=said("Method."))


class LevelsSchema(StrictSchema):
    """Levels that pressures are reckoned with, above the job's own reference."""

    plant_level_m = told("Circulating pump and vessel.")
    gauge_level_m = told("Gauge of the pressure test, for what it proves.")
    max_ground_level_m = told("Highest ground over the array.")
    min_pipe_level_m = told("Lowest pipe.")
    assumed = ListOf(
        Text(longest=2_000),
        required=True,
        longest=10,
        metadata=said("What the job does not tell and is taken so."),
    )


class SampleStrengthSchema(StrictSchema):
    """Strength of the sample."""

    mass_percent = told("By mass.")
    volume_percent = Number(metadata=said("By volume; absent for a dissolved salt."))
    freezing_point_c = told("Its freezing point.")


class FlowMeterSchema(StrictSchema):
    """One loop's flow meter."""

    loop = named("The loop.")
    where = loop_pointer()
    expected_l_min = told("What it should show.")
    min_flow_l_min = Number(
        metadata=said("Least that proves its target; absent where the meter is too coarse for any.")
    )
    max_flow_l_min = Number(metadata=said("Most that proves it; absent likewise."))
    reading_l_min = Number(metadata=said("What it shows; absent where it was not read."))
    deviation_percent = Number(
        metadata=said(
            "Of its share of all readings from its target; absent where not every meter was read."
        )
    )
    verdict = Choice(
        ("low", "within", "high"),
        component="MeterVerdict",
        metadata=said("Whether that share is right; absent where nothing proves it."),
    )


class CommissioningMethodSchema(StrictSchema):
    """How it was computed."""

    friction = friction_law()
    properties = properties_source()
    strength = Text(
        required=True, longest=2_000, metadata=said("How a strength can be checked on site.")
    )
    version = service_version()


class CommissioningAnswerSchema(StrictSchema):
    """What those who fill, purge, test and prove the array need."""

    name = name_as_given()
    reference = reference_as_given()
    contents = part(lambda: ContentsSchema, "What it holds.")
    filling = part(lambda: FillingSchema, "What to pour in.")
    heights = part(lambda: LevelsSchema, "How high it lies.")
    purge = Nested(lambda: PurgeSchema, metadata=said("Purging, where asked for."))
    pressure_test = Nested(lambda: PressureTestSchema, metadata=said("Test, where asked for."))
    vessel = Nested(lambda: VesselSchema, metadata=said("Vessel, where asked for."))
    sample = Nested(
        lambda: SampleStrengthSchema, metadata=said("Strength, where asked for and found.")
    )
    flow_meters = rows(lambda: FlowMeterSchema, "Every loop's meter.")
    balance_proved = Flag(
        metadata=said(
            "Whether every meter was read on its scale, every loop's share of all readings is "
            "within its band, and they add up to the flow of the array; absent where none was read."
        )
    )
    findings = findings_list()
    cautions = cautions_list()
    method = method_of(CommissioningMethodSchema)
