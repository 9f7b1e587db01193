"""What does it take to fill, purge, test and prove an array on site?"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final, Literal

from hydraulics.antifreeze import KINDS, Fluid, Mixture, fluid, freezing_point, mixture
from hydraulics.errors import Fault, InputError, NoSolutionError, RangeError
from hydraulics.expansion import (
    CAUTIONS as VESSEL_CAUTIONS,
)
from hydraulics.expansion import (
    PIPE_NOTE,
    ExpansionVessel,
    en12828_final_pressure,
    expansion_vessel,
)
from hydraulics.findings import GENERAL_CAUTIONS, Finding
from hydraulics.ground_checks import number_fault, refuse
from hydraulics.layout import Circuit, Plant
from hydraulics.meter_readings import CAUTION as METER_CAUTION
from hydraulics.meter_readings import MeterReading, expected_readings, judge_reading
from hydraulics.pressure_test import (
    CAUTIONS as TEST_CAUTIONS,
)
from hydraulics.pressure_test import (
    PE100_MODULUS,
    PROCEDURES,
    PlannedStage,
    Procedure,
    Reading,
    TestResult,
    en805_allowable_loss,
    en805_system_test_pressure,
    evaluate_pe_test,
    pipe_sdr,
    planned_stages,
    pressure_test_findings,
)
from hydraulics.purge import (
    AIR_CLEARING_VELOCITY,
    PRACTICE,
    SOURCE,
    LoopPurge,
    PurgeDuty,
    purge_all_at_once,
    purge_findings,
    purge_loop_by_loop,
)
from hydraulics.split_result import FlowSplit
from hydraulics.volumes import Contents, Filling, array_contents, filling, strength_from_density

ProcedureName = Literal["en_805", "w_400_2"]
PurgeFluid = Literal["water", "mixture"]
MeterVerdict = Literal["low", "within", "high"]

_FROM_THE_TOP: Final = frozenset({"antifreeze", "array", "duty", "filling"})
_SAME_SDR: Final = 0.6  # walls are rounded up to a tenth of a millimetre, so 32 x 3.0 has 10.67


@dataclass(frozen=True, slots=True)
class FillingPlan:
    """How the array is filled.

    Attributes
    ----------
    temperature_c
        Of the fluid when it fills the array [degC].
    plant_volume
        Contents of heat exchanger, buffer and pump group [m³].
    spare
        Mixture made up beyond the contents, as a fraction of them.
    """

    temperature_c: float
    plant_volume: float = 0.0
    spare: float = 0.0


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
        Key of :data:`~hydraulics.pressure_test.PROCEDURES`.
    design_pressure, surge_calculated
        MDP [Pa gauge], from which EN 805 makes the test pressure, and whether the surge in it was
        calculated; the pressure is None where the test pressure is given.
    test_pressure
        STP [Pa gauge]; None where it follows from the design pressure.
    pipe_temperature_c
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
    pipe_temperature_c: float | None = None
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
    coldest_c, warmest_c
        Temperatures between which the fluid as a whole stays [degC].
    safety_valve, final_pressure
        Set pressure of the safety valve, or the highest pressure allowed at the vessel
        [Pa gauge]: one of them.
    """

    precharge: float
    coldest_c: float
    warmest_c: float
    safety_valve: float | None = None
    final_pressure: float | None = None


@dataclass(frozen=True, slots=True)
class MeterPlan:
    """How the balance is proved.

    Attributes
    ----------
    tolerance, accuracy
        Accepted deviation from the expected flow, and the meters' error, as fractions.
    readings
        Loop's name and what its meter shows [m³/s].
    """

    tolerance: float = 0.10
    accuracy: float = 0.05
    readings: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample from the array: density [kg/m³] at a temperature [degC], as a hydrometer has it."""

    density: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class Purging:
    """Duties of the purge pump.

    Attributes
    ----------
    velocity
        To be reached [m/s].
    fluid
        What they hold for.
    whole
        All loops open; None where no flow within reason clears every pipe so.
    single
        Loop by loop.
    """

    velocity: float
    fluid: Fluid
    whole: PurgeDuty | None
    single: LoopPurge


@dataclass(frozen=True, slots=True)
class PressureTest:
    """The test as it is to be done, and how it went.

    Attributes
    ----------
    procedure
        Its times and limits.
    test_pressure
        STP [Pa gauge].
    stages
        In order.
    allowable
        Water that a tight pipe gives off at the smallest and the largest let-down at most [m³].
    result
        Verdict; None where nothing was read.
    """

    procedure: Procedure
    test_pressure: float
    stages: tuple[PlannedStage, ...]
    allowable: tuple[float, float]
    result: TestResult | None


@dataclass(frozen=True, slots=True)
class MeterCheck:
    """One loop's flow meter.

    Attributes
    ----------
    expected
        What it should show.
    place
        Branch numbers of the loop.
    reading, verdict
        What it shows [m³/s] and whether that is right; None where it was not read.
    """

    expected: MeterReading
    place: tuple[int, ...]
    reading: float | None
    verdict: MeterVerdict | None


@dataclass(frozen=True, slots=True)
class SampleStrength:
    """Strength of a sample and its freezing point [degC]."""

    mix: Mixture
    freezing_point_c: float


@dataclass(frozen=True, slots=True)
class Commissioning:
    """Everything that those who fill, purge and test the array need.

    Attributes
    ----------
    contents
        By part and pipe.
    filling
        Antifreeze and water for them.
    filled
        The mixture at filling temperature.
    purging, test, vessel, sample
        As planned; None where nothing was planned.
    meters
        One for each loop, in the order of the flow split.
    meters_proved
        Whether every meter was read and is within its band; None where none was read.
    findings, cautions
        Those of the flow split and these.
    """

    contents: Contents
    filling: Filling
    filled: Fluid
    purging: Purging | None
    test: PressureTest | None
    vessel: ExpansionVessel | None
    sample: SampleStrength | None
    meters: tuple[MeterCheck, ...]
    meters_proved: bool | None
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]


class _Faults:
    """Faults of several sections, each under its section's name, raised together."""

    def __init__(self) -> None:
        self._found: dict[tuple[str, str], Fault] = {}
        self._beyond_range = True

    def of(
        self, section: str, make: Callable[[], Any], names: Mapping[str, str] | None = None
    ) -> Any:  # noqa: ANN401 (whatever `make` makes)
        """What `make` makes, or None after noting its faults."""
        try:
            return make()
        except InputError as error:
            self._beyond_range &= isinstance(error, RangeError)
            for fault in error.faults:
                name = (names or {}).get(fault.field, fault.field)
                if name.split(".")[0] not in _FROM_THE_TOP:
                    name = f"{section}.{name}"
                self._found.setdefault((name, fault.message), replace(fault, field=name))
            return None

    def raise_any(self) -> None:
        if self._found:
            raise (RangeError if self._beyond_range else InputError)(*self._found.values())


def commissioning(
    split: FlowSplit,
    circuit: Circuit,
    plant: Plant,
    mix: Mixture,
    plan: FillingPlan,
    *,
    purge: PurgePlan | None = None,
    test: PressureTestPlan | None = None,
    vessel: VesselPlan | None = None,
    meters: MeterPlan | None = None,
    sample: Sample | None = None,
) -> Commissioning:
    """Fill, purge, test and prove an array.

    Parameters
    ----------
    split
        Flow split of the very array, for the meters.
    circuit, plant, mix
        What was split.
    plan
        How it is filled.
    purge, test, vessel, sample
        What else is asked for; None for what is not.
    meters
        Tolerance and readings of the flow meters; None for the usual ones and no readings.

    Returns
    -------
    Commissioning
        Contents, filling and what was planned.

    Raises
    ------
    InputError, RangeError
        Faults of all sections at once, each field dotted under its section: ``filling``,
        ``purge``, ``pressure_test``, ``expansion_vessel``, ``flow_meters``, ``sample``.
    """
    faults = _Faults()
    contents: Contents = faults.of("filling", lambda: array_contents(circuit, plant))
    faults.of(
        "filling",
        lambda: refuse(
            number_fault("plant_volume_l", plan.plant_volume * 1e3, "L", at_least=0.0),
            number_fault("spare_percent", plan.spare * 1e2, "%", at_least=0.0),
        ),
    )
    faults.raise_any()
    contents = array_contents(circuit, plant, plan.plant_volume)
    filled = faults.of("filling", lambda: fluid(mix, plan.temperature_c))
    findings: list[Finding] = list(split.findings)
    cautions = [*GENERAL_CAUTIONS, KINDS[mix.kind].caution]

    purging = tested = held = strength = None
    if purge is not None:
        purging = _purging(
            faults,
            circuit,
            plant,
            purge,
            mix=mix,
            temperature_c=plan.temperature_c,
            findings=findings,
        )
        cautions += PRACTICE
    if test is not None:
        tested = _pressure_test(faults, contents, test, findings)
        cautions += TEST_CAUTIONS
    if vessel is not None:
        held = _vessel(faults, mix, contents, plan, vessel)
        cautions += (*VESSEL_CAUTIONS, PIPE_NOTE)
    if sample is not None:
        strength = _sample(faults, mix, sample)
    checks = _meters(faults, split, meters or MeterPlan())
    cautions.append(METER_CAUTION)
    faults.raise_any()
    read = [check for check in checks if check.verdict is not None]
    return Commissioning(
        contents=contents,
        filling=filling(mix, contents.volume * (1.0 + plan.spare), plan.temperature_c),
        filled=filled,
        purging=purging,
        test=tested,
        vessel=held,
        sample=strength,
        meters=checks,
        meters_proved=(
            len(read) == len(checks) and all(check.verdict == "within" for check in read)
            if read
            else None
        ),
        findings=tuple(findings),
        cautions=tuple(cautions),
    )


def _purging(
    faults: _Faults,
    circuit: Circuit,
    plant: Plant,
    plan: PurgePlan,
    *,
    mix: Mixture,
    temperature_c: float,
    findings: list[Finding],
) -> Purging | None:
    names = {"temperature_c": "filling.temperature_c", "purge_velocity_m_s": "velocity_m_s"}
    used = mixture("water", 0.0, "mass") if plan.fluid == "water" else mix
    state = faults.of("purge", lambda: fluid(used, temperature_c), names)
    if state is None:
        return None
    single = faults.of(
        "purge", lambda: purge_loop_by_loop(circuit, state, plant, plan.velocity), names
    )
    if single is None:
        return None
    try:
        whole = faults.of(
            "purge", lambda: purge_all_at_once(circuit, state, plant, plan.velocity), names
        )
    except NoSolutionError:
        findings.append(
            Finding(
                "no_common_purge", "warning",
                "No flow within reason clears every pipe with all loops open, since one of them"
                " carries next to nothing: purge loop by loop.",
                SOURCE,
            )
        )  # fmt: skip
        return Purging(plan.velocity, state, None, single)
    if whole is None:
        return None
    plain = used.kind == "water"
    findings += purge_findings(circuit, whole, single, plain_water=plain)
    return Purging(plan.velocity, state, whole, single)


def _common_sdr(contents: Contents) -> float | None:
    """SDR of the pipes where they are all alike."""
    ratios = [pipe_sdr(each.pipe) for each in contents.pipes]
    alike = ratios and max(ratios) - min(ratios) < _SAME_SDR
    return ratios[0] if alike else None


def _pressure_test(
    faults: _Faults, contents: Contents, plan: PressureTestPlan, findings: list[Finding]
) -> PressureTest | None:
    section = "pressure_test"
    procedure = PROCEDURES[plan.procedure]
    pressure = plan.test_pressure
    names = {}
    if pressure is None:
        names = {"test_pressure_kpa": "design_pressure_kpa"}
        pressure = faults.of(
            section,
            lambda: en805_system_test_pressure(
                plan.design_pressure or 0.0, surge_calculated=plan.surge_calculated
            ),
        )
        if pressure is None:
            return None
    sdr = plan.sdr if plan.sdr is not None else _common_sdr(contents)
    stages = faults.of(section, lambda: planned_stages(procedure, pressure, sdr), names)
    if stages is None:
        return None
    by_name = {stage.stage: stage for stage in stages}
    largest = pressure - by_name["letting_down"].pressure
    smallest = by_name["resting"].highest - by_name["letting_down"].highest
    allowable = faults.of(
        section,
        lambda: tuple(
            en805_allowable_loss(contents.pipes, drop, pipe_modulus=plan.pipe_modulus)
            for drop in (smallest, largest)
        ),
    )
    result = None
    if plan.readings:
        result = faults.of(
            section,
            lambda: evaluate_pe_test(
                plan.readings,
                contents.pipes,
                pressure,
                procedure=procedure,
                pipe_modulus=plan.pipe_modulus,
                sdr=sdr,
                gauge_resolution=plan.gauge_resolution,
            ),
            names,
        )
    findings += pressure_test_findings(contents.pipes, pressure, plan.pipe_temperature_c)
    return PressureTest(procedure, pressure, stages, allowable, result)


def _vessel(
    faults: _Faults, mix: Mixture, contents: Contents, plan: FillingPlan, vessel: VesselPlan
) -> ExpansionVessel | None:
    section = "expansion_vessel"
    given = vessel.final_pressure
    final = given if given is not None else faults.of(
        section, lambda: en12828_final_pressure(vessel.safety_valve or 0.0)
    )  # fmt: skip
    liquid = [
        faults.of(section, partial(fluid, mix, t), {"temperature_c": name})
        for name, t in (
            ("coldest_temperature_c", vessel.coldest_c),
            ("warmest_temperature_c", vessel.warmest_c),
        )
    ]
    if final is None or None in liquid:
        return None
    names = {"filling_temperature_c": "filling.temperature_c", "volume_l": "array"}
    if given is None:
        names["final_pressure_kpa"] = "safety_valve_kpa"
    found: ExpansionVessel | None = faults.of(
        section,
        lambda: expansion_vessel(
            mix,
            contents.volume,
            filling_c=plan.temperature_c,
            coldest_c=vessel.coldest_c,
            warmest_c=vessel.warmest_c,
            precharge=vessel.precharge,
            final_pressure=final,
            pipe_volume=contents.volume - contents.plant,
        ),
        names,
    )
    return found


def _sample(faults: _Faults, mix: Mixture, sample: Sample) -> SampleStrength | None:
    names = {"sample_temperature_c": "temperature_c"}
    found = faults.of(
        "sample",
        lambda: strength_from_density(mix.kind, sample.density, sample.temperature_c),
        names,
    )
    return None if found is None else SampleStrength(found, freezing_point(found))


def _meters(faults: _Faults, split: FlowSplit, plan: MeterPlan) -> tuple[MeterCheck, ...]:
    section = "flow_meters"
    table = split.loops
    flows = [float(flow) for flow in table.volume_flow]
    still = [name for name, flow in zip(table.names, flows, strict=True) if flow <= 0.0]
    if still:
        faults.of(section, lambda: _refuse_still(still))
        return ()
    expected = faults.of(
        section,
        lambda: expected_readings(
            table.names, flows, tolerance=plan.tolerance, meter_accuracy=plan.accuracy
        ),
        {"meter_accuracy_percent": "accuracy_percent"},
    )
    read = faults.of(section, lambda: _read_by_loop(plan.readings, table.names))
    if expected is None or read is None:
        return ()
    return tuple(
        MeterCheck(
            each,
            place,
            read.get(each.loop),
            judge_reading(each, read[each.loop]) if each.loop in read else None,
        )
        for each, place in zip(expected, table.places, strict=True)
    )


def _refuse_still(still: list[str]) -> None:
    raise InputError(
        Fault(
            "duty",
            f"nothing flows in loop {still[0]}, so that no meter could prove its balance",
            None,
            "a duty that drives every loop",
        )
    )


def _read_by_loop(
    readings: tuple[tuple[str, float], ...], names: tuple[str, ...]
) -> dict[str, float]:
    """Readings by loop; refuses loops that there are not and loops read twice."""
    known = frozenset(names)
    found: dict[str, float] = {}
    wrong: list[Fault | None] = []
    for number, (loop, flow) in enumerate(readings):
        at = f"readings.{number}"
        if loop not in known:
            wrong.append(
                Fault(f"{at}.loop", f"the array has no loop '{loop}'", loop,
                      "the name of a loop as the flow split gives it")
            )  # fmt: skip
        elif loop in found:
            wrong.append(
                Fault(f"{at}.loop", f"loop '{loop}' was read twice", loop, "one reading a loop")
            )
        wrong.append(number_fault(f"{at}.flow_l_min", flow * 6e4, "L/min", at_least=0.0))
        found[loop] = flow
    refuse(*wrong)
    return found
