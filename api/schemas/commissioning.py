"""How the array is filled, purged, tested and proved, in a request."""

from __future__ import annotations

from typing import Final

from api.schemas.common import basis_of_strength
from api.schemas.duty import PRACTICE
from api.schemas.fields import Choice, Flag, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.commissioning.filling import SIZES
from hydraulics.commissioning.pressure_test import PE100_MODULUS, PROCEDURES, STAGES
from hydraulics.commissioning.purge import AIR_CLEARING_VELOCITY

_MOST_READINGS: Final = 10_000


def _temperature(
    description: str, *examples: float, required: bool = True, engine: str | tuple[str, ...] = ()
) -> Number:
    return Number(
        required=required,
        minimum=-100,
        maximum=150,
        engine=engine,
        metadata=said(description, *examples),
    )


def _pressure(description: str, *examples: float, engine: str | tuple[str, ...] = ()) -> Number:
    return Number(minimum=0.1, maximum=10_000, engine=engine, metadata=said(description, *examples))


class BoughtSchema(StrictSchema):
    """Antifreeze as it is bought: a concentrate, or a premix of the job's own strength."""

    concentration_percent = Number(
        required=True,
        minimum=0.1,
        maximum=100,
        engine="fraction",
        metadata=said("Its strength; the job's own for a premix.", 96),
    )
    basis = basis_of_strength(
        "Share of what; by volume: before mixing (alcohol of 96 % vol is 93.8 % by mass).",
        required=True,
    )
    container_l = ListOf(
        Number(minimum=0.1, maximum=100_000),
        longest=6,
        engine="sizes",
        metadata=said(
            f"Containers on offer; left out, {', '.join(f'{each * 1e3:g}' for each in SIZES)} L "
            "(common practice); none to count none."
        ),
    )


class FillingPlanSchema(StrictSchema):
    """How the array is filled."""

    filling_c = _temperature(
        "Temperature of the fluid when it fills the array.",
        12,
        engine="temperature",
    )
    spare_percent = Number(
        minimum=0,
        maximum=100,
        load_default=0.0,
        metadata=said("Mixture to make up beyond the contents, for losses and topping up.", 5),
    )
    bought = Nested(lambda: BoughtSchema, metadata=said("What is bought; left out: it is pure."))


class PurgePlanSchema(StrictSchema):
    """How the air is cleared."""

    min_velocity_m_s = Number(
        minimum=0.01,
        maximum=10,
        load_default=AIR_CLEARING_VELOCITY,
        engine="velocity",
        metadata=said("Velocity that every pipe must reach (0.6 m/s: US and IGSHPA practice)."),
    )
    fluid = Choice(
        ("water", "mixture"),
        component="PurgeFluid",
        load_default="water",
        metadata=said("What is pumped round: clean water first, as a rule."),
    )


class TestReadingSchema(StrictSchema):
    """A line of the pressure test's record."""

    __test__ = False  # not a test case, whatever its name begins with

    stage = Choice(
        STAGES,
        component="TestStageName",
        required=True,
        metadata=said("Stage in, or at the end of, which."),
    )
    time_min = Number(
        required=True, minimum=0, maximum=100_000, metadata=said("Time since the record began.", 60)
    )
    pressure_kpa = Number(
        required=True, minimum=0, maximum=10_000, metadata=said("Pressure at the gauge.", 450)
    )
    drawn_off_l = Number(
        minimum=0, maximum=1e6, metadata=said("All water drawn off so far in letting down.", 0.8)
    )


class PressureTestPlanSchema(StrictSchema):
    """How the pipe is tested, by exactly one of design pressure and test pressure."""

    __test__ = False

    one_of = ("design_pressure_kpa", "test_pressure_kpa")
    goes_with = {"surge_calculated": ("design_pressure_kpa",)}  # noqa: RUF012
    what = "a pressure test"
    why = "The test pressure is given, or follows from the design pressure by EN 805."

    design_pressure_kpa = _pressure(
        "Maximum design pressure at the lowest pipe, gauge, surge and standing fluid included.",
        300,
    )
    surge_calculated = Flag(
        load_default=False,
        metadata=said("Whether the surge in it was calculated; false where it is an allowance."),
    )
    test_pressure_kpa = _pressure("System test pressure at the gauge.", 450)
    procedure = Choice(
        PROCEDURES,
        component="TestProcedure",
        load_default="en_805",
        metadata=said("Procedure: EN 805 A.27, or the contraction method of DVGW W 400-2."),
    )
    pipe_c = _temperature(
        "Temperature of the pipe's wall.", 12, required=False, engine="pipe_temperature"
    )
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
        metadata=said(
            "Outside diameter over wall, by which W 400-2 lets down; left out, the pipes' own "
            "where all agree.",
            11,
        ),
    )
    gauge_step_kpa = Number(
        minimum=0.001,
        maximum=1_000,
        load_default=1.0,
        engine="gauge_resolution",
        metadata=said(
            "Smallest step that the gauge shows; a fall within it is no trend. Of more than 5 kPa "
            "(W 400-2: 3 kPa) no record passes."
        ),
    )
    readings = ListOf(
        Nested(lambda: TestReadingSchema),
        longest=_MOST_READINGS,
        metadata=said("The record, in order of time; left out, the plan alone is given."),
    )


class VesselPlanSchema(StrictSchema):
    """What the expansion vessel has to hold, under a safety valve or up to a given pressure."""

    one_of = ("safety_valve_pressure_kpa", "max_pressure_kpa")
    what = "an expansion vessel"
    why = "Its highest pressure is given, or follows from the safety valve by EN 12828."

    precharge_pressure_kpa = Number(
        required=True,
        minimum=0,
        maximum=10_000,
        engine="precharge",
        metadata=said("Gas pressure of the empty vessel, gauge.", 50),
    )
    min_fluid_c = _temperature("Coldest that the fluid as a whole becomes.", -5, engine="coldest")
    max_fluid_c = _temperature(
        "Warmest that the fluid as a whole becomes, standstill included.",
        25,
        engine="warmest",
    )
    safety_valve_pressure_kpa = Number(
        minimum=50.1,
        maximum=10_000,
        engine="safety_valve",
        metadata=said("Set pressure of the safety valve, gauge.", 300),
    )
    max_pressure_kpa = _pressure(
        "Highest pressure allowed at the vessel, gauge.", engine="final_pressure"
    )
    place = Choice(
        ("pump_inlet", "pump_outlet"),
        component="VesselPlace",
        load_default="pump_inlet",
        metadata=said(
            "Side of the circulating pump that it sits on: at the inlet, the pump's pressure adds "
            "at the lowest pipe; at the outlet, it takes off at the highest point."
        ),
    )


class MeterReadingSchema(StrictSchema):
    """What one loop's flow meter shows."""

    loop = Text(
        required=True, longest=1_000, metadata=said("Loop, as the flow split names it.", "T1")
    )
    flow_l_min = Number(
        required=True,
        minimum=0,
        maximum=1e7,
        engine=("flow", "reading"),
        metadata=said("Reading of its meter.", 12.5),
    )


class FlowMetersPlanSchema(StrictSchema):
    """How the balance is proved."""

    max_deviation_percent = Number(
        minimum=0.1,
        maximum=99,
        engine="tolerance",
        metadata=said(
            "Deviation from its target that they are to prove; left out, that of `limits`.", 10
        ),
    )
    accuracy_percent = Number(
        minimum=0,
        maximum=99,
        load_default=5.0,
        engine=("accuracy", "meter_accuracy"),
        metadata=said(f"Error of the meters, of the reading (5 %: {PRACTICE})."),
    )
    min_scale_l_min = Number(
        minimum=0,
        maximum=1e7,
        load_default=0.0,
        metadata=said("Least that the meters' scale shows.", 2),
    )
    max_scale_l_min = Number(
        above=0,
        maximum=1e7,
        metadata=said("Most that the meters' scale shows; left out, it shows every flow.", 15),
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
    sample_c = _temperature("Its temperature when the density was read.", 20, engine="temperature")


class CommissioningOptionsSchema(StrictSchema):
    """What is not named is not answered, save contents, filling and flow meters."""

    filling = Nested(
        lambda: FillingPlanSchema, required=True, metadata=said("How the array is filled.")
    )
    purge = Nested(
        lambda: PurgePlanSchema, metadata=said("How the air is cleared; {} takes the usual.")
    )
    pressure_test = Nested(
        lambda: PressureTestPlanSchema, metadata=said("How the pipe is tested, and the record.")
    )
    vessel = Nested(
        lambda: VesselPlanSchema, metadata=said("What the expansion vessel has to hold.")
    )
    flow_meters = Nested(
        lambda: FlowMetersPlanSchema,
        metadata=said("How the balance is proved, and the readings."),
    )
    sample = Nested(
        lambda: SampleSchema, metadata=said("A sample of the mixture, to find its strength.")
    )
