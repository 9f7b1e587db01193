"""Request and response of POST /v1/commissioning."""

from __future__ import annotations

from typing import Final

from api.schemas.array import said
from api.schemas.common import (
    MOST_ROWS,
    cautions_list,
    findings_list,
    friction_law,
    loop_pointer,
    method_of,
    name_as_given,
    properties_source,
    service_version,
)
from api.schemas.fields import Choice, Flag, Integer, Number, Text
from api.schemas.flow_split import FlowSplitRequestSchema
from api.schemas.objects import Alternatives, ListOf, Nested, StrictSchema
from hydraulics.commissioning.pressure_test import PE100_MODULUS, PROCEDURES, STAGES
from hydraulics.commissioning.purge import AIR_CLEARING_VELOCITY
from hydraulics.layout.contents import PARTS

_MOST_READINGS: Final = 10_000
_PRACTICE: Final = "common practice, no source"
_VERDICTS: Final = ("pass", "fail", "undetermined")


def _temperature(description: str, *examples: float, required: bool = True) -> Number:
    return Number(
        required=required, minimum=-100, maximum=150, metadata=said(description, *examples)
    )


def _pressure(description: str, *examples: float, required: bool = False) -> Number:
    return Number(
        required=required, minimum=0.1, maximum=10_000, metadata=said(description, *examples)
    )


class FillingPlanSchema(StrictSchema):
    """How the array is filled."""

    temperature_c = _temperature("Temperature of the fluid when it fills the array.", 12)
    plant_volume_l = Number(
        minimum=0,
        maximum=1e7,
        load_default=0.0,
        metadata=said("Contents of heat exchanger, buffer and pump group.", 30),
    )
    spare_percent = Number(
        minimum=0,
        maximum=100,
        load_default=0.0,
        metadata=said("Mixture to make up beyond the contents, for losses and topping up.", 5),
    )


class PurgePlanSchema(StrictSchema):
    """How the air is cleared."""

    velocity_m_s = Number(
        minimum=0.01,
        maximum=10,
        load_default=AIR_CLEARING_VELOCITY,
        metadata=said("Velocity that every pipe must reach (0.6 m/s: US and IGSHPA practice)."),
    )
    fluid = Choice(
        ("water", "mixture"),
        load_default="water",
        metadata=said("What is pumped round: clean water first, as a rule."),
    )


class TestReadingSchema(StrictSchema):
    """A line of the pressure test's record."""

    __test__ = False  # not a test case, whatever its name begins with

    stage = Choice(STAGES, required=True, metadata=said("Stage in, or at the end of, which."))
    time_min = Number(
        required=True, minimum=0, maximum=100_000, metadata=said("Time since the record began.", 60)
    )
    pressure_kpa = Number(
        required=True, minimum=0, maximum=10_000, metadata=said("Pressure at the gauge.", 450)
    )
    drawn_off_l = Number(
        minimum=0, maximum=1e6, metadata=said("Water drawn off so far in letting down.", 0.8)
    )


class PressureTestPlanSchema(StrictSchema):
    """How the pipe is tested, whatever sets the pressure."""

    procedure = Choice(
        PROCEDURES,
        load_default="en_805",
        metadata=said("Procedure: EN 805 A.27, or the contraction method of DVGW W 400-2."),
    )
    pipe_temperature_c = _temperature("Temperature of the pipe's wall.", 12, required=False)
    pipe_modulus_mpa = Number(
        minimum=1,
        maximum=10_000,
        load_default=PE100_MODULUS / 1e6,
        metadata=said(
            "Modulus of the pipe's wall at the test's time and temperature; a lower one allows "
            "more water and hides more air."
        ),
    )
    sdr = Number(
        minimum=3,
        maximum=100,
        metadata=said("Outside diameter over wall; left out, the pipes' own where all agree.", 11),
    )
    gauge_resolution_kpa = Number(
        minimum=0.001,
        maximum=1_000,
        load_default=1.0,
        metadata=said("Smallest step that the gauge shows; a fall within it is no trend."),
    )
    readings = ListOf(
        Nested(lambda: TestReadingSchema),
        longest=_MOST_READINGS,
        metadata=said("The record, in order of time; left out, the plan alone is given."),
    )


class TestByDesignPressureSchema(PressureTestPlanSchema):
    """A test at the pressure that EN 805 makes of the design pressure."""

    __test__ = False

    design_pressure_kpa = _pressure(
        "Maximum design pressure at the lowest point, gauge, surge included.", 300, required=True
    )
    surge_calculated = Flag(
        load_default=False,
        metadata=said("Whether the surge in it was calculated; false where it is an allowance."),
    )


class TestAtPressureSchema(PressureTestPlanSchema):
    """A test at a given pressure."""

    __test__ = False

    test_pressure_kpa = _pressure("System test pressure at the gauge.", 450, required=True)


class VesselPlanSchema(StrictSchema):
    """What the expansion vessel has to hold, whatever limits its pressure."""

    precharge_kpa = Number(
        required=True,
        minimum=0,
        maximum=10_000,
        metadata=said("Gas pressure of the empty vessel, gauge.", 50),
    )
    coldest_temperature_c = _temperature("Coldest that the fluid as a whole becomes.", -5)
    warmest_temperature_c = _temperature(
        "Warmest that the fluid as a whole becomes, standstill included.", 25
    )


class VesselBySafetyValveSchema(VesselPlanSchema):
    """A vessel under a safety valve; its pressure ends below the valve's by EN 12828."""

    safety_valve_kpa = Number(
        required=True,
        minimum=50.1,
        maximum=10_000,
        metadata=said("Set pressure of the safety valve, gauge.", 300),
    )


class VesselByFinalPressureSchema(VesselPlanSchema):
    """A vessel with its highest pressure given."""

    final_pressure_kpa = _pressure("Highest pressure allowed at the vessel, gauge.", required=True)


class MeterReadingSchema(StrictSchema):
    """What one loop's flow meter shows."""

    loop = Text(
        required=True, longest=1_000, metadata=said("Loop, as the flow split names it.", "T1")
    )
    flow_l_min = Number(
        required=True, minimum=0, maximum=1e7, metadata=said("Reading of its meter.", 12.5)
    )


class FlowMetersSchema(StrictSchema):
    """How the balance is proved."""

    tolerance_percent = Number(
        minimum=0.1,
        maximum=99,
        load_default=10.0,
        metadata=said(f"Deviation from the expected flow that is accepted (10 %: {_PRACTICE})."),
    )
    accuracy_percent = Number(
        minimum=0,
        maximum=99,
        load_default=5.0,
        metadata=said(f"Error of the meters, of the reading (5 %: {_PRACTICE})."),
    )
    readings = ListOf(
        Nested(lambda: MeterReadingSchema),
        longest=_MOST_READINGS,
        metadata=said("What the meters show; left out, what they should show is given."),
    )


class SampleSchema(StrictSchema):
    """A sample of the mixture, as a hydrometer has it."""

    density_kg_m3 = Number(
        required=True, minimum=500, maximum=2_000, metadata=said("Its density.", 1024)
    )
    temperature_c = _temperature("Its temperature when the density was read.", 20)


class CommissioningRequestSchema(FlowSplitRequestSchema):
    """A request of the flow split, and how the array is filled, purged, tested and proved.

    What is not named is not answered, save contents, filling and flow meters.
    """

    filling = Nested(
        lambda: FillingPlanSchema, required=True, metadata=said("How the array is filled.")
    )
    purge = Nested(
        lambda: PurgePlanSchema, metadata=said("How the air is cleared; {} takes the usual.")
    )
    pressure_test = Alternatives(
        {
            "design_pressure_kpa": TestByDesignPressureSchema,
            "test_pressure_kpa": TestAtPressureSchema,
        },
        what="a pressure test",
        why="The test pressure is given, or follows from the design pressure by EN 805.",
        metadata=said("How the pipe is tested, and the record."),
    )
    expansion_vessel = Alternatives(
        {
            "safety_valve_kpa": VesselBySafetyValveSchema,
            "final_pressure_kpa": VesselByFinalPressureSchema,
        },
        what="an expansion vessel",
        why="Its highest pressure is given, or follows from the safety valve.",
        metadata=said("What the expansion vessel has to hold."),
    )
    flow_meters = Nested(
        lambda: FlowMetersSchema, metadata=said("How the balance is proved, and the readings.")
    )
    sample = Nested(
        lambda: SampleSchema, metadata=said("A sample of the mixture, to find its strength.")
    )


# ------------------------------------------------------------------------------------- the response


class PartContentsSchema(StrictSchema):
    """What a part of the array holds."""

    part = Choice(PARTS, required=True, metadata=said("The part."))
    length_m = Number(required=True, metadata=said("Pipe laid, each parallel pipe counted."))
    volume_l = Number(required=True, metadata=said("Contents."))


class PipeContentsSchema(StrictSchema):
    """What the pipes of one size in a part hold."""

    part = Choice(PARTS, required=True, metadata=said("The part."))
    pipe = Text(required=True, metadata=said("The pipe.", "PE100 SDR11 32"))
    length_m = Number(required=True, metadata=said("Pipe laid, each parallel pipe counted."))
    volume_l = Number(required=True, metadata=said("Contents."))


class ContentsSchema(StrictSchema):
    """What array and plant hold."""

    volume_l = Number(required=True, metadata=said("All contents."))
    plant_l = Number(required=True, metadata=said("Plant, as given."))
    parts = ListOf(
        Nested(lambda: PartContentsSchema), required=True, longest=10, metadata=said("By part.")
    )
    pipes = ListOf(
        Nested(lambda: PipeContentsSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("By part and pipe."),
    )


class FillingSchema(StrictSchema):
    """What to pour together."""

    temperature_c = Number(required=True, metadata=said("Filling temperature."))
    volume_l = Number(required=True, metadata=said("Mixture to make, spare included."))
    mixture_kg = Number(required=True, metadata=said("Its mass."))
    antifreeze_l = Number(
        metadata=said("Antifreeze before mixing, at 20 °C; absent for a salt, which is weighed.")
    )
    antifreeze_kg = Number(required=True, metadata=said("Mass of antifreeze."))
    water_l = Number(required=True, metadata=said("Water before mixing, at 20 °C."))
    water_kg = Number(required=True, metadata=said("Mass of water."))
    freezing_point_c = Number(required=True, metadata=said("Freezing point of the mixture."))
    density_kg_m3 = Number(
        required=True,
        metadata=said("Density at filling temperature: what a hydrometer should show."),
    )


class PurgeDutySchema(StrictSchema):
    """What a purge pump has to do."""

    name = Text(required=True, longest=1_000, metadata=said("What is purged."))
    count = Integer(required=True, minimum=1, metadata=said("Equal loops, one after the other."))
    flow_l_s = Number(required=True, metadata=said("Flow."))
    pressure_drop_kpa = Number(
        required=True, metadata=said("Drop of the pipes; hoses, strainer and valves come on top.")
    )
    head_m = Number(required=True, metadata=said("The same as a column of the fluid."))
    hydraulic_power_w = Number(required=True, metadata=said("Flow times drop."))
    slowest_m_s = Number(required=True, metadata=said("Lowest velocity in the pipes purged."))
    fastest_m_s = Number(required=True, metadata=said("Highest velocity."))
    slowest_pipe = Text(required=True, metadata=said("Pipe with the lowest velocity."))
    lowest_reynolds = Number(required=True, metadata=said("Lowest Reynolds number."))
    turnover_min = Number(required=True, metadata=said("Time to turn the contents over once."))


class PurgeSchema(StrictSchema):
    """Duties of the purge pump."""

    velocity_m_s = Number(required=True, metadata=said("Velocity to be reached."))
    fluid = Choice(("water", "mixture"), required=True, metadata=said("What is pumped round."))
    temperature_c = Number(required=True, metadata=said("Its temperature."))
    all_at_once = Nested(
        lambda: PurgeDutySchema,
        metadata=said("All loops open; absent where no flow clears every pipe so."),
    )
    loop_by_loop = ListOf(
        Nested(lambda: PurgeDutySchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Each loop with all others shut."),
    )
    pump_flow_l_s = Number(required=True, metadata=said("Largest flow of the single loops."))
    pump_pressure_kpa = Number(required=True, metadata=said("Largest drop of the single loops."))
    shared_flow_l_s = Number(
        required=True, metadata=said("Flow that the widest header or run needs, all loops open.")
    )
    uncleared_pipes = ListOf(
        Text(longest=1_000),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Headers and runs that single loops' flows do not clear."),
    )
    source = Text(required=True, longest=2_000, metadata=said("Where the velocity comes from."))


class TestStageSchema(StrictSchema):
    """A stage of the pressure test as it is to be done."""

    __test__ = False

    stage = Choice(STAGES, required=True, metadata=said("The stage."))
    duration_min = Number(required=True, metadata=said("Its time."))
    at_most = Flag(
        required=True, metadata=said("Whether that is the longest allowed, or the shortest.")
    )
    pressure_kpa = Number(required=True, metadata=said("Pressure to be at or to reach."))
    lowest_kpa = Number(required=True, metadata=said("It must end above this."))
    highest_kpa = Number(required=True, metadata=said("And below this."))
    instruction = Text(required=True, longest=2_000, metadata=said("What to do."))


class StageResultSchema(StrictSchema):
    """How a stage went."""

    stage = Choice(STAGES, required=True, metadata=said("The stage."))
    verdict = Choice(_VERDICTS, required=True, metadata=said("Whether it was met."))
    reason = Text(required=True, longest=2_000, metadata=said("Why."))


class TestResultSchema(StrictSchema):
    """Verdict on the record; whoever signs the test decides."""

    __test__ = False

    verdict = Choice(
        _VERDICTS,
        required=True,
        metadata=said("pass, fail, or undetermined where the record does not tell."),
    )
    stages = ListOf(
        Nested(lambda: StageResultSchema),
        required=True,
        longest=len(STAGES),
        metadata=said("Stages judged; none after one that failed."),
    )
    allowable_drawn_off_l = Number(
        metadata=said("Most water for the let-down measured; absent where there was none.")
    )


class PressureTestSchema(StrictSchema):
    """The pressure test."""

    procedure = Text(required=True, metadata=said("Procedure."))
    test_pressure_kpa = Number(required=True, metadata=said("System test pressure, gauge."))
    stages = ListOf(
        Nested(lambda: TestStageSchema),
        required=True,
        longest=len(STAGES),
        metadata=said("Stages in order."),
    )
    allowable_drawn_off_least_l = Number(
        required=True, metadata=said("Most water at the smallest let-down allowed.")
    )
    allowable_drawn_off_most_l = Number(
        required=True, metadata=said("Most water at the largest let-down allowed.")
    )
    result = Nested(
        lambda: TestResultSchema, metadata=said("Verdict; absent where nothing was read.")
    )
    source = Text(required=True, longest=2_000, metadata=said("What of the procedure was read."))


class VesselSchema(StrictSchema):
    """The expansion vessel."""

    volume_l = Number(required=True, metadata=said("Smallest nominal volume, pipes rigid."))
    volume_free_pipe_l = Number(
        required=True, metadata=said("The same were all pipe free to shrink: an outer bound.")
    )
    expansion_l = Number(required=True, metadata=said("What the fluid gains above filling."))
    contraction_l = Number(required=True, metadata=said("What it loses below filling."))
    reserve_l = Number(required=True, metadata=said("Water reserve."))
    precharge_kpa = Number(required=True, metadata=said("Gas pressure of the empty vessel."))
    filling_pressure_kpa = Number(
        required=True, metadata=said("Pressure to fill to, with a vessel of just this volume.")
    )
    final_pressure_kpa = Number(required=True, metadata=said("Highest pressure."))
    source = Text(required=True, longest=2_000, metadata=said("Method."))


class SampleStrengthSchema(StrictSchema):
    """Strength of the sample."""

    mass_percent = Number(required=True, metadata=said("By mass."))
    volume_percent = Number(metadata=said("By volume; absent for a dissolved salt."))
    freezing_point_c = Number(required=True, metadata=said("Its freezing point."))


class FlowMeterSchema(StrictSchema):
    """One loop's flow meter."""

    loop = Text(required=True, longest=1_000, metadata=said("The loop."))
    where = loop_pointer()
    expected_l_min = Number(required=True, metadata=said("What it should show."))
    lowest_l_min = Number(required=True, metadata=said("Least that proves the balance."))
    highest_l_min = Number(required=True, metadata=said("Most that proves the balance."))
    reading_l_min = Number(metadata=said("What it shows; absent where it was not read."))
    verdict = Choice(
        ("low", "within", "high"), metadata=said("Whether that is right; absent likewise.")
    )


class CommissioningMethodSchema(StrictSchema):
    """How it was computed."""

    friction = friction_law()
    properties = properties_source()
    strength = Text(
        required=True, longest=2_000, metadata=said("How a strength can be checked on site.")
    )
    version = service_version()


class CommissioningResponseSchema(StrictSchema):
    """What those who fill, purge, test and prove the array need."""

    name = name_as_given()
    contents = Nested(lambda: ContentsSchema, required=True, metadata=said("What it holds."))
    filling = Nested(lambda: FillingSchema, required=True, metadata=said("What to pour in."))
    purge = Nested(lambda: PurgeSchema, metadata=said("Purging, where asked for."))
    pressure_test = Nested(lambda: PressureTestSchema, metadata=said("Test, where asked for."))
    expansion_vessel = Nested(lambda: VesselSchema, metadata=said("Vessel, where asked for."))
    sample = Nested(lambda: SampleStrengthSchema, metadata=said("Strength, where asked for."))
    flow_meters = ListOf(
        Nested(lambda: FlowMeterSchema),
        required=True,
        longest=MOST_ROWS,
        metadata=said("Every loop's meter."),
    )
    balance_proved = Flag(
        metadata=said("Whether every meter was read and is within; absent where none was read.")
    )
    findings = findings_list()
    cautions = cautions_list()
    method = method_of(CommissioningMethodSchema)
