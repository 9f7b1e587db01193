"""How an array is to be filled, purged, tested and proved, and what came of it, as values."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from hydraulics.commissioning.filling import PURE, Bought, Filling
from hydraulics.commissioning.meters import MeterReading
from hydraulics.commissioning.pressure_test import PE100_MODULUS, PlannedStage, Procedure
from hydraulics.commissioning.pressure_verdict import Reading, TestResult
from hydraulics.commissioning.purge import AIR_CLEARING_VELOCITY, PurgeSteps
from hydraulics.commissioning.vessel import ExpansionVessel, SoldVessel, VesselPressures
from hydraulics.findings import Finding
from hydraulics.fluid.mixture import Fluid, Mixture
from hydraulics.layout.contents import Contents
from hydraulics.layout.heights import Levels

ProcedureName = Literal["en_805", "w_400_2"]
PurgeFluid = Literal["water", "mixture"]
VesselPlace = Literal["pump_inlet", "pump_outlet"]
MeterVerdict = Literal["low", "within", "high"]


@dataclass(frozen=True, slots=True)
class FillingPlan:
    """How the array is filled: temperature of the fluid [degC], spare as a fraction of contents."""

    temperature: float
    spare: float = 0.0
    bought: Bought = PURE


@dataclass(frozen=True, slots=True)
class PurgePlan:
    """How the air is cleared: velocity to reach [m/s], and what with."""

    velocity: float = AIR_CLEARING_VELOCITY
    fluid: PurgeFluid = "water"


@dataclass(frozen=True, slots=True)
class PressureTestPlan:
    """How the pipe is tested, and what was read.

    Attributes
    ----------
    procedure
        Key of :data:`~hydraulics.commissioning.pressure_test.PROCEDURES`.
    design_pressure, surge_calculated
        MDP [Pa gauge], from which EN 805 makes the test pressure, and whether the surge in it was
        calculated; the pressure is None where the test pressure is given.
    test_pressure
        STP [Pa gauge]; None where it follows from the design pressure.
    pipe_temperature
        Of the pipe's wall [degC], where known.
    pipe_modulus
        Of the pipe's wall [Pa].
    sdr
        Outside diameter over wall; None to take the pipes' own where they agree.
    gauge_resolution
        Smallest step that the gauge shows [Pa].
    readings
        The record; none before the test.
    """

    procedure: ProcedureName = "en_805"
    design_pressure: float | None = None
    surge_calculated: bool = False
    test_pressure: float | None = None
    pipe_temperature: float | None = None
    pipe_modulus: float = PE100_MODULUS
    sdr: float | None = None
    gauge_resolution: float = 1e3
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True)
class VesselPlan:
    """What the expansion vessel has to hold.

    Attributes
    ----------
    precharge
        Gas pressure of the empty vessel [Pa gauge].
    coldest, warmest
        Temperatures between which the fluid as a whole stays [degC].
    safety_valve, final_pressure
        Set pressure of the safety valve, or the highest pressure allowed at the vessel
        [Pa gauge]: one of them.
    place
        Side of the circulating pump that it sits on.
    """

    precharge: float
    coldest: float
    warmest: float
    safety_valve: float | None = None
    final_pressure: float | None = None
    place: VesselPlace = "pump_inlet"


@dataclass(frozen=True, slots=True)
class PumpInService:
    """The circulating pump as the vessel meets it.

    Attributes
    ----------
    pressure
        Highest that it gives [Pa]; the most of its tables where it has no operating point.
    name
        Empty where none is decided, and the pressure is that of the duty.
    inlet_needed
        Least over the atmosphere that its inlet needs [Pa], and in which condition; None where its
        tables do not tell.
    inlet_told
        What it is told to have there [Pa gauge]; None where nothing is told.
    lacks
        Why it has no operating point in some condition, in words; empty where it has one in all.
    """

    pressure: float = 0.0
    name: str = ""
    inlet_needed: tuple[float, str] | None = None
    inlet_told: float | None = None
    lacks: str = ""


@dataclass(frozen=True, slots=True)
class MeterPlan:
    """How the balance is proved.

    Attributes
    ----------
    tolerance, accuracy
        Deviation from the target that they are to prove, and their error, as fractions; the
        tolerance is None where it is the array's own.
    scale
        Least and most that the meters show [m³/s].
    readings
        Loop's name and what its meter shows [m³/s].
    """

    tolerance: float | None = None
    accuracy: float = 0.05
    scale: tuple[float, float] = (0.0, math.inf)
    readings: tuple[tuple[str, float], ...] = ()

    def proves(self, asked: float) -> float:
        """Deviation that they are to prove, as a fraction, where the array's is `asked`."""
        return asked if self.tolerance is None else self.tolerance


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample from the array: density [kg/m³] at a temperature [degC], as a hydrometer has it."""

    density: float
    temperature: float


@dataclass(frozen=True, slots=True)
class CommissioningPlan:
    """How an array is filled, purged, tested and proved; None for what is not asked for."""

    filling: FillingPlan
    purge: PurgePlan | None = None
    pressure_test: PressureTestPlan | None = None
    vessel: VesselPlan | None = None
    flow_meters: MeterPlan = MeterPlan()
    sample: Sample | None = None


@dataclass(frozen=True, slots=True)
class Purging:
    """How it is purged: what is to be reached, the fluid that it holds for, and the steps."""

    plan: PurgePlan
    fluid: Fluid
    steps: PurgeSteps


@dataclass(frozen=True, slots=True)
class PressureTest:
    """The test as it is to be done, and how it went.

    Attributes
    ----------
    test_pressure, test_pressure_bottom
        STP at the gauge and at the lowest pipe [Pa gauge].
    design_pressure, design_pressure_gauge
        MDP that it is for, at the lowest pipe and at the level of the gauge [Pa gauge].
    borne
        Most that every pipe of known class bears, at the gauge [Pa gauge]; None where no class is
        known.
    allowable
        Water that a tight pipe gives off at the smallest and the largest let-down at most [m³].
    result
        Verdict; None where nothing was read.
    """

    procedure: Procedure
    test_pressure: float
    test_pressure_bottom: float
    design_pressure: float
    design_pressure_gauge: float
    borne: float | None
    stages: tuple[PlannedStage, ...]
    allowable: tuple[float, float]
    result: TestResult | None


@dataclass(frozen=True, slots=True)
class HeldVessel:
    """The vessel: what is needed, what is sold, and the pressures that it makes elsewhere."""

    needed: ExpansionVessel
    sold: SoldVessel
    pressures: VesselPressures


@dataclass(frozen=True, slots=True)
class Metered:
    """A loop with a flow meter: name, place (branch numbers), flow as it runs and target [m³/s]."""

    loop: str
    place: tuple[int, ...]
    flow: float
    target: float


@dataclass(frozen=True, slots=True)
class MeterCheck:
    """One loop's flow meter.

    Attributes
    ----------
    expected
        What it should show.
    place
        Branch numbers of the loop.
    reading
        What it shows [m³/s]; None where it was not read.
    verdict
        Whether its share of all readings is right; None where not every meter was read.
    deviation
        Of that share from its target, as a fraction; None likewise.
    """

    expected: MeterReading
    place: tuple[int, ...]
    reading: float | None
    verdict: MeterVerdict | None = None
    deviation: float | None = None


@dataclass(frozen=True, slots=True)
class SampleStrength:
    """Strength of a sample and its freezing point [degC]."""

    mix: Mixture
    freezing_point: float


@dataclass(frozen=True, slots=True)
class Commissioning:
    """Everything that those who fill, purge and test the array need.

    Attributes
    ----------
    filled
        The mixture at filling temperature.
    levels
        Levels that its pressures are reckoned with.
    purging, test, vessel, sample
        As planned; None where nothing was planned.
    meters
        One for each loop, in the order of the flow split.
    balance_proved
        Whether every meter was read on its scale, each reading's share of them all is within its
        band, and all together show the flow of the array; None where none was read.
    """

    contents: Contents
    filling: Filling
    filled: Fluid
    levels: Levels
    purging: Purging | None
    test: PressureTest | None
    vessel: HeldVessel | None
    sample: SampleStrength | None
    meters: tuple[MeterCheck, ...]
    balance_proved: bool | None
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
