"""What does it take to fill, purge, test and prove an array on site?"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from hydraulics.checks import number_fault, refuse
from hydraulics.commissioning.filling import (
    HANDLING,
    Filling,
    filling,
    other_sample_finding,
    sample_findings,
    strength_from_density,
    water_findings,
)
from hydraulics.commissioning.meters import CAUTION as METER_CAUTION
from hydraulics.commissioning.meters import (
    LITRES_PER_MINUTE,
    band_finding,
    coarse_finding,
    end_finding,
    expected_readings,
    is_at_end,
    judge_readings,
    outside_findings,
    scale_finding,
    share_finding,
    total_finding,
    uneven_finding,
    unread_finding,
    wider_finding,
)
from hydraulics.commissioning.plans import (
    Commissioning,
    CommissioningPlan,
    FillingPlan,
    HeldVessel,
    MeterCheck,
    Metered,
    MeterPlan,
    PressureTest,
    PressureTestPlan,
    PumpInService,
    Purging,
    Sample,
    SampleStrength,
    VesselPlan,
)
from hydraulics.commissioning.pressure_test import CAUTIONS as TEST_CAUTIONS
from hydraulics.commissioning.pressure_test import (
    LEAST_TEST,
    PROCEDURES,
    Procedure,
    borne,
    en805_allowable_loss,
    en805_design_pressure,
    en805_system_test_pressure,
    let_down_range,
    pipe_sdr,
    planned_stages,
    pressure_test_findings,
    standard_sdr,
    testable,
)
from hydraulics.commissioning.pressure_verdict import (
    evaluate_pe_test,
    over_pressed_findings,
    record_findings,
    still_record_findings,
)
from hydraulics.commissioning.purge import (
    PRACTICE,
    PurgeStep,
    PurgeSteps,
    beyond_class_remedy,
    foot_remedy,
    procedure,
    purge_findings,
    purge_steps,
    valve_findings,
)
from hydraulics.commissioning.vessel import (
    PIPE_NOTE,
    ExpansionVessel,
    beyond_design_findings,
    en12828_final_pressure,
    expansion_vessel,
    inlet_findings,
    precharge_findings,
    range_findings,
    sold_vessel,
    vessel_caution,
    vessel_findings,
    vessel_pressures,
)
from hydraulics.errors import Fault, InputError, RangeError
from hydraulics.findings import (
    BORE_FOOT_CAUTION,
    COMMON_PRACTICE,
    FREEZING_MARGIN,
    GENERAL_CAUTIONS,
    OPEN_WATER_CAUTIONS,
    TOLERANCE,
    Finding,
    figures,
    listed,
)
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Fluid, Mixture, fluid, freezing_point, water
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import Contents, array_contents, hangs_in_boreholes, lies_in_water
from hydraulics.layout.edit import closed_names, opened, with_valves_open
from hydraulics.layout.heights import (
    NOWHERE,
    WATER_DENSITY,
    Heights,
    Levels,
    column,
    levels_of,
    place_findings,
)
from hydraulics.layout.pressure_class import (
    HIGHEST_CLASS,
    HIGHEST_SOURCE,
    Eased,
    class_findings,
    unknown_findings,
)
from hydraulics.split.brine import BrineRange

_WIDE_OPEN: Final = 1e3  # m3/h; a valve that takes next to nothing
_MOST_NAMED: Final = 8  # closed loops named in a finding
_WHEN_WARMER: Final = "test when the pipe is warmer, since the test is done with water only"
NO_PUMP: Final = PumpInService()
_FROM_THE_TOP: Final = frozenset({"mixture", "circuit", "duty", "filling"})


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

    def fluid(
        self, name: str, mix: Mixture, temperature: float, instead: str = "take an antifreeze"
    ) -> Fluid | None:
        """The mixture at a temperature, which is named from the plan."""
        section, _, field = name.rpartition(".")

        def make() -> Fluid:
            if mix.kind == "water":
                _refuse_frozen("temperature", temperature, instead)
            return fluid(mix, temperature)

        made: Fluid | None = self.of(section, make, {"temperature": field})
        return made

    def raise_any(self) -> None:
        if self._found:
            raise (RangeError if self._beyond_range else InputError)(*self._found.values())


def _refuse_frozen(field: str, temperature: float, instead: str) -> None:
    if temperature <= freezing_point(water()):
        text = f"water freezes at {temperature:g} °C: give more than 0 °C, or {instead}"
        raise RangeError(Fault(field, text, temperature, "more than 0 °C"))


def commissioning(
    meters: Sequence[Metered],
    circuit: Circuit,
    plant: Plant,
    mixture: Mixture,
    plan: CommissioningPlan,
    *,
    balanced: bool,
    tolerance: float = TOLERANCE,
    brine: BrineRange | None = None,
    margin: float = FREEZING_MARGIN,
    undriven: str = "",
    heights: Heights = NOWHERE,
    pump: PumpInService = NO_PUMP,
    open_kvs: Mapping[str, float] | None = None,
) -> Commissioning:
    """Fill, purge, test and prove an array.

    Parameters
    ----------
    meters
        Each loop's name, place and flow as it runs, for the flow meters.
    balanced, tolerance
        Whether every one of those flows is within so much of its target, as a fraction.
    brine, margin
        What vessel, pipe and sample must bear: the job's coldest and warmest brine, and how far it
        is to stay above freezing [K]. They are not judged by it where it is None.
    undriven
        Name of the pump that runs, where it has no operating point on the array, so that those
        flows are not its own; empty where they are.
    heights
        Levels of plant, gauge and ground, as far as they are told.
    pump
        The circulating pump in service.
    open_kvs
        Kv of regulating valves that are fully open, by name [m³/h]; purging opens them.

    Returns
    -------
    Commissioning
        Contents, filling and what was planned; findings and cautions of these alone.

    Raises
    ------
    InputError, RangeError
        Faults of all sections at once, each field dotted under its part of the plan.
    """
    faults = _Faults()
    temperature = plan.filling.temperature
    contents = array_contents(circuit, plant)
    proved_with = array_contents(circuit, plant, shut=False)
    shut = closed_names(circuit)
    filled = faults.fluid("filling.temperature", mixture, temperature)
    fill = _fill(faults, mixture, contents, plan.filling) if filled is not None else None
    levels = levels_of(circuit, plant, heights)
    findings = [
        *(water_findings(mixture, fill) if fill is not None else ()),
        *_not_proved(shut, contents.volume - proved_with.volume),
        *place_findings(heights),
    ]
    cautions = [*GENERAL_CAUTIONS, KINDS[mixture.kind].caution]
    if mixture.kind != "water":
        cautions.append(HANDLING)
    if lies_in_water(circuit):
        cautions += OPEN_WATER_CAUTIONS
    if hangs_in_boreholes(circuit):
        cautions.append(BORE_FOOT_CAUTION)

    purging = tested = held = strength = None
    if plan.purge is not None:
        purging = _purging(
            faults,
            circuit,
            plant,
            plan,
            mix=mixture,
            levels=levels,
            kvs=open_kvs or {},
            findings=findings,
        )
        frost = temperature <= freezing_point(water())
        cautions.append(procedure(plain_water=mixture.kind == "water", in_frost=frost))
        cautions += PRACTICE
    if plan.vessel is not None:
        needed = _vessel(faults, mixture, contents, temperature, plan.vessel)
        if needed is not None:
            held = _held(needed, plan.vessel, levels, mixture, pump.pressure)
    if plan.pressure_test is not None:
        tested = _pressure_test(
            faults, proved_with, levels, plan.pressure_test, findings,
            service=held.pressures.at_bottom if held is not None else 0.0,
        )  # fmt: skip
        findings += _design_on_pipe(levels, plan.pressure_test, _warmest(plan.vessel, brine))
        cautions += TEST_CAUTIONS
    if plan.vessel is not None:
        if held is not None:
            findings += vessel_findings(held.needed)
            findings += _pump_unknown(pump)
            findings += precharge_findings(held.needed, held.pressures)
            findings += _inlet(plan.vessel, pump)
            findings += _vessel_on_pipe(
                levels, plan.vessel, held.needed, mixture, pump.pressure, brine=brine
            )
            findings += _contradictions(plan.vessel, held, plan.pressure_test, tested, brine)
        cautions += (vessel_caution(plain_water=mixture.kind == "water"), PIPE_NOTE)
    if plan.sample is not None:
        strength = _sample(faults, mixture, plan.sample, brine, findings)
        if strength is not None and brine is not None:
            findings += sample_findings(strength.mix, mixture, brine, margin)
    checks, proved = _meters(
        faults, meters, plan.flow_meters, asked=tolerance, findings=findings, shut=shut
    )
    findings += _doubts(
        undriven, pump.lacks, meters, checks, plan.flow_meters,
        tolerance=tolerance, balanced=balanced, proved=proved,
    )  # fmt: skip
    cautions.append(METER_CAUTION)
    faults.raise_any()
    assert filled is not None
    assert fill is not None
    return Commissioning(
        contents=contents,
        filling=fill,
        filled=filled,
        levels=levels,
        purging=purging,
        test=tested,
        vessel=held,
        sample=strength,
        meters=checks,
        balance_proved=proved if proved is None else proved and not undriven,
        findings=tuple(findings),
        cautions=tuple(cautions),
    )


def fill_of(mix: Mixture, contents: Contents, plan: FillingPlan) -> Filling:
    """What to buy and pour to fill an array, with what is to spare."""
    refuse(number_fault("spare", plan.spare * 1e2, "%", at_least=0.0))
    return filling(mix, contents.volume * (1.0 + plan.spare), plan.temperature, plan.bought)


def _fill(faults: _Faults, mix: Mixture, contents: Contents, plan: FillingPlan) -> Filling | None:
    made: Filling | None = faults.of("filling", lambda: fill_of(mix, contents, plan))
    return made


def _purging(
    faults: _Faults,
    circuit: Circuit,
    plant: Plant,
    plan: CommissioningPlan,
    *,
    mix: Mixture,
    levels: Levels,
    kvs: Mapping[str, float],
    findings: list[Finding],
) -> Purging | None:
    assert plan.purge is not None
    velocity, rise = plan.purge.velocity, levels.top - levels.plant
    used = water() if plan.purge.fluid == "water" else mix
    instead = "purge with the mixture" if used.kind != mix.kind else "take an antifreeze"
    state = faults.fluid("filling.temperature", used, plan.filling.temperature, instead)
    if state is None:
        return None
    through, open_now, as_set = with_valves_open(opened(circuit), kvs)
    steps = faults.of("purge", lambda: purge_steps(through, state, plant, velocity, rise))
    if steps is None:
        return None

    what = "the pressure of the purge pump at the connections"

    def borne_at(
        pressure: float, remedy: str = "", first: Eased | None = None
    ) -> tuple[Finding, ...]:
        return class_findings(
            levels, pressure, what, remedy,
            density=state.density, temperature=state.temperature_c, first=first,
        )  # fmt: skip

    def beyond_borne(of: PurgeSteps) -> list[PurgeStep]:
        return [each for each in of.steps if borne_at(each.pressure)]

    def beyond_class(of: PurgeSteps, all_open: float | None = None) -> tuple[Finding, ...]:
        led_off = borne_at(of.hardest.bypassed)
        points = all(each.code != "pressure_above_class" for each in led_off)
        by_valves = all_open is not None
        remedy = beyond_class_remedy(of, by_valves=by_valves, by_points=points)
        first = (
            foot_remedy(of, beyond_borne(of)) if all_open is None else Eased("", remedy, all_open)
        )
        return borne_at(of.pressure, remedy, first)

    beyond = beyond_class(steps)
    if beyond and as_set:
        bare, _, _ = with_valves_open(through, {}, _WIDE_OPEN)
        open_steps = purge_steps(bare, state, plant, velocity, rise)
        if not beyond_class(open_steps):
            beyond = beyond_class(steps, open_steps.pressure)
    findings += valve_findings(open_now, as_set)
    borne = all(each.severity != "error" for each in beyond)
    # Where less is led off, it is told with what is.
    borne &= steps.led_off(beyond_borne(steps)) >= steps.pressure
    plain = used.kind == "water"
    frost = state.temperature_c <= freezing_point(water())
    findings += (
        *purge_findings(circuit, steps, plain_water=plain, borne=borne, in_frost=frost), *beyond,
        *unknown_findings(levels, steps.pressure, what, density=state.density),
    )  # fmt: skip
    return Purging(plan.purge, state, steps)


def _series(contents: Contents) -> set[float]:
    """SDR of the pipes."""
    return {standard_sdr(pipe_sdr(each.pipe)) for each in contents.pipes}


def _pressure_test(
    faults: _Faults,
    contents: Contents,
    levels: Levels,
    plan: PressureTestPlan,
    findings: list[Finding],
    *,
    service: float,
) -> PressureTest | None:
    """The test; `service` is the most that a vessel makes at the lowest pipe [Pa gauge]."""
    section = "pressure_test"
    procedure = PROCEDURES[plan.procedure]
    # Where depth is not told, the test counts on none: a gauge that shows more is the safe side.
    # A gauge not told stands low for what the test proves, and high for what pipe bears.
    down = column(levels.highest_gauge - levels.lowest, WATER_DENSITY)
    sure = column(levels.gauge - levels.reached, WATER_DENSITY)
    highest = levels.top if contents.length_of("plant_runs") > 0.0 else levels.ground
    stands = column(max(highest - levels.gauge, 0.0), WATER_DENSITY)
    at = plan.pipe_temperature
    bears = borne(levels, at)
    pressure = plan.test_pressure
    names = {}
    if pressure is None:
        names = {"test_pressure": "design_pressure"}
        pressure = faults.of(
            section, lambda: _test_at_gauge(plan, levels, sure, service, bears.pressure)
        )
        if pressure is None:
            return None
    if at is not None:
        faults.of(section, lambda: _refuse_frozen("pipe_temperature", at, _WHEN_WARMER))
    series = _series(contents)
    sdr = plan.sdr if plan.sdr is not None or len(series) != 1 else min(series)

    def staged() -> Any:  # noqa: ANN401 (what the procedure makes)
        _refuse_series(procedure, sdr, series)
        return planned_stages(procedure, pressure, sdr, bears.pressure, stands)

    stages = faults.of(section, staged, names)
    if stages is None:
        return None
    allowable = faults.of(
        section,
        lambda: tuple(
            en805_allowable_loss(contents.pipes, drop, pipe_modulus=plan.pipe_modulus)
            for drop in let_down_range(procedure, pressure, sdr)
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
                pipe_temperature=at,
                bears=bears,
                stands=stands,
            ),
            names,
        )
    too_little = not testable(procedure, bears.pressure, sdr, stands)
    findings += pressure_test_findings(contents.pipes, levels, pressure, at, too_little=too_little)
    findings += _other_series(procedure, sdr, series)
    if result is not None:
        findings += over_pressed_findings(result)
        findings += record_findings(result)
        findings += still_record_findings(result)
    design = plan.design_pressure
    if design is None:
        design = en805_design_pressure(pressure + sure)
    return PressureTest(
        procedure=procedure,
        test_pressure=pressure,
        test_pressure_bottom=pressure + down,
        design_pressure=design,
        design_pressure_gauge=design - down,
        borne=bears.pressure if math.isfinite(bears.pressure) else None,
        stages=stages,
        allowable=allowable,
        result=result,
    )


def _other_series(procedure: Procedure, sdr: float | None, series: set[float]) -> list[Finding]:
    """Tell of a test whose SDR is none of the pipes'."""
    if sdr is None or standard_sdr(sdr) in series:
        return []
    laid = " and ".join(f"SDR {each:g}" for each in sorted(series))
    if procedure.let_down is None:
        text = (
            f"The test lets down as for SDR {sdr:g}, and the circuit's pipes are {laid}: too"
            " large a let-down hides a leak, too small a one feigns one, and no record passes so. "
            "Leave the test's SDR out, or correct the pipes."
        )
    else:
        text = (
            f"The test is told SDR {sdr:g}, and the circuit's pipes are {laid}, which what they "
            "bear and give up is reckoned by. Find out which is laid: a thinner wall bears less. "
            "Leave the test's SDR out, or correct the pipes."
        )
    return [Finding("test_sdr_not_the_pipes", "warning", text, COMMON_PRACTICE)]


def _refuse_series(procedure: Procedure, sdr: float | None, series: set[float]) -> None:
    """Refuse pipes of several SDR in a procedure that lets down by one of them, untold which."""
    if procedure.let_down is None and sdr is None and len(series) > 1:
        laid = listed([f"SDR {each:g}" for each in sorted(series)])
        known = sorted(at for at, _ in procedure.let_down_pressure)
        text = (
            f"{procedure.name} lets down by the SDR of the pipe, and the circuit has pipes of "
            f"{laid}: use the EN 805 procedure, which takes them together, or test each by itself,"
            " with the branches of the others closed in the array"
        )
        allowed = " or ".join(f"{at:g}" for at in known)
        raise InputError(Fault("sdr", text, None, allowed))


def _design_on_pipe(levels: Levels, plan: PressureTestPlan, warmest: float) -> tuple[Finding, ...]:
    """Whether every pipe bears the design pressure, which holds at the lowest of them."""
    design, at_lowest = plan.design_pressure, replace(levels, plant=levels.lowest)
    if design is None:
        return ()
    what = "the design pressure at the lowest pipe"
    unknown = unknown_findings(at_lowest, design, what, density=WATER_DENSITY)
    if unknown and design > HIGHEST_CLASS * (1.0 + 1e-9):
        text = (
            f"T{what[1:]}, {figures(design / 1e5, 4)} bar, is more than any pipe of PE bears,"
            f" {HIGHEST_CLASS / 1e5:g} bar at 20 °C, and what some pipe bears is not told. Take a"
            " lower design pressure, or give the class that its maker states."
        )
        unknown = (Finding("pressure_above_class", "error", text, HIGHEST_SOURCE),)
    return *unknown, *class_findings(
        at_lowest,
        design,
        what,
        "Do not design it so: take a design pressure that every pipe bears, or pipe of a higher"
        " class.",
        density=WATER_DENSITY,
        temperature=warmest,
        at_foot="Take a lower design pressure",
    )


def _warmest(vessel: VesselPlan | None, brine: BrineRange | None) -> float:
    """Warmest that pipe becomes in service [degC], by the job and what its vessel is told."""
    told = [] if brine is None else [brine.warmest.warmest]
    return max(told if vessel is None else [*told, vessel.warmest], default=20.0)


def _test_at_gauge(
    plan: PressureTestPlan, levels: Levels, down: float, service: float, bears: float
) -> float:
    """Test pressure at the gauge [Pa] of a design pressure at the lowest pipe.

    Parameters
    ----------
    plan, levels
        The test, and where gauge and pipe lie.
    down
        Water between gauge and lowest pipe, counted on [Pa].
    service
        What the vessel makes at the lowest pipe, 0 without one [Pa gauge].
    bears
        Most that every pipe bears in a test, at the gauge [Pa gauge].
    """
    design = plan.design_pressure or 0.0
    lowest = en805_system_test_pressure(design, surge_calculated=plan.surge_calculated)
    stands = column(min(levels.gauge, levels.top) - levels.reached, WATER_DENSITY)
    if down >= 500.0 and (lowest - down < LEAST_TEST or design < stands * (1.0 - 1e-9)):
        raise InputError(_too_low(plan, levels, down, max(stands, service), bears))
    return lowest - down


def _too_low(
    plan: PressureTestPlan, levels: Levels, down: float, service: float, bears: float
) -> Fault:
    """What is wrong with a design pressure below what the lowest pipe has in `service` [Pa gauge].

    The pressure that it allows is tested at enough at the gauge, and is what the vessel may make.
    """

    def enough_for(at_lowest: float) -> float:
        return at_lowest - 100e3 if plan.surge_calculated else en805_design_pressure(at_lowest)

    design = plan.design_pressure or 0.0
    lowest = en805_system_test_pressure(design, surge_calculated=plan.surge_calculated)
    text = (
        f"is {design / 1e3:g} kPa at the lowest pipe, which lies"
        f" {figures(levels.gauge - levels.reached, 4)} m below the gauge, where water that "
        f"only stands makes {figures(down / 1e3, 4)} kPa"
    )
    if lowest - down < LEAST_TEST:
        text += (
            f": the test's {figures(lowest / 1e3, 6)} kPa there would be"
            f" {figures((lowest - down) / 1e3, 4)} kPa at the gauge, and less than"
            f" {LEAST_TEST / 1e3:g} kPa there proves nothing"
        )
    least = math.ceil(max(enough_for(down + LEAST_TEST), service) / 1e3 * (1.0 - 1e-9))
    text += (
        "; give the highest pressure that the lowest pipe has in service, standing fluid, vessel"
        " and pump included, or the test pressure at the gauge"
    )
    most = math.inf if math.isinf(bears) else enough_for(bears + down) / 1e3
    allowed = f"{least:g} kPa or more"
    if least > most:
        allowed += ", with pipe that bears it"
        text += (
            f". No pipe here is to be tested for more than {figures(math.floor(most), 6)} kPa"
            " there: take pipe of a higher class, or a lower safety valve"
        )
    return Fault("design_pressure", text, design / 1e3, allowed)


def _vessel(
    faults: _Faults, mix: Mixture, contents: Contents, temperature: float, vessel: VesselPlan
) -> ExpansionVessel | None:
    section = "vessel"
    given = vessel.final_pressure
    final = given if given is not None else faults.of(
        section, lambda: en12828_final_pressure(vessel.safety_valve or 0.0)
    )  # fmt: skip
    if final is not None:
        faults.of(section, lambda: _refuse_precharge(vessel, final))
    liquid = [
        faults.fluid(f"{section}.{name}", mix, at)
        for name, at in (("coldest", vessel.coldest), ("warmest", vessel.warmest))
    ]
    if final is None or None in liquid:
        return None
    names = {"filling": "filling.temperature", "volume": "circuit"}
    if given is None:
        names["final_pressure"] = "safety_valve"
    if vessel.precharge >= final:
        return None
    found: ExpansionVessel | None = faults.of(
        section,
        lambda: expansion_vessel(
            mix,
            contents.volume,
            filling=temperature,
            coldest=vessel.coldest,
            warmest=vessel.warmest,
            precharge=vessel.precharge,
            final_pressure=final,
            pipe_volume=contents.volume - contents.plant,
        ),
        names,
    )
    return found


def _refuse_precharge(vessel: VesselPlan, final: float) -> None:
    if vessel.precharge >= final:
        limit = f"the highest pressure at the vessel, {final / 1e3:g} kPa"
        if vessel.safety_valve is not None:
            limit += f" (below the safety valve's {vessel.safety_valve / 1e3:g} kPa)"
        text = (
            f"is {vessel.precharge / 1e3:g} kPa, not less than {limit}: the vessel would take"
            " nothing before that is reached; give less gas pressure or a higher safety valve"
        )
        given = vessel.precharge / 1e3
        raise InputError(Fault("precharge", text, given, f"less than {final / 1e3:g} kPa"))


def _highest(plan: VesselPlan, needed: ExpansionVessel) -> float:
    """Highest that the vessel may reach [Pa gauge]: the safety valve's set pressure."""
    return max(needed.final_pressure, plan.safety_valve or 0.0)


def _held(
    needed: ExpansionVessel, plan: VesselPlan, levels: Levels, mix: Mixture, pump: float
) -> HeldVessel:
    """The vessel as it is sold, and the pressures that it makes elsewhere."""
    density = fluid(mix, plan.coldest).density
    stands = (
        column(levels.top - levels.plant, density),
        column(levels.plant - levels.lowest, density),
    )
    adds = (0.0, pump) if plan.place == "pump_inlet" else (pump, 0.0)
    at = vessel_pressures(needed, _highest(plan, needed), stands, adds)
    return HeldVessel(needed, sold_vessel(needed), at)


def _vessel_on_pipe(
    levels: Levels,
    plan: VesselPlan,
    held: ExpansionVessel,
    mix: Mixture,
    pump: float,
    *,
    brine: BrineRange | None,
) -> tuple[Finding, ...]:
    """Whether every pipe bears what the vessel may reach, and the pump where it adds."""
    density = fluid(mix, plan.coldest).density
    adds = pump if plan.place == "pump_inlet" else 0.0
    what = "the highest pressure at the vessel"
    if plan.safety_valve is not None:
        what = "the set pressure of the safety valve"
    if adds >= 500.0:
        what += f" with the {figures(adds / 1e5)} bar of the pump"
    return *unknown_findings(
        levels, _highest(plan, held) + adds, what, density=density
    ), *class_findings(
        levels,
        _highest(plan, held) + adds,
        what,
        "Do not build it so: check the numbers, and take a safety valve and a highest pressure that"
        " every pipe bears, or pipe of a higher class.",
        density=density,
        temperature=_warmest(plan, brine),
    )


def _pump_unknown(pump: PumpInService) -> list[Finding]:
    """Tell of a vessel whose pressures count a pump without an operating point."""
    if not pump.lacks:
        return []
    text = (
        f"{pump.name} has no operating point on this array: {pump.lacks}. Until that is mended the"
        " vessel's pressures count it with the most that its tables give,"
        f" {figures(pump.pressure / 1e3, 4)} kPa, the safe side."
    )
    return [Finding("vessel_pump_unknown", "warning", text, "the pump's tables")]


def _inlet(plan: VesselPlan, pump: PumpInService) -> Iterator[Finding]:
    """Whether the vessel keeps what the pump needs at its inlet, or is told to have there."""
    at_outlet = plan.place == "pump_outlet"
    kept = plan.precharge - (pump.pressure if at_outlet else 0.0)
    yield from inlet_findings(
        kept, pump.name, pump.inlet_needed, pump.inlet_told, at_outlet=at_outlet
    )


def _contradictions(
    vessel: VesselPlan,
    held: HeldVessel,
    test_plan: PressureTestPlan | None,
    test: PressureTest | None,
    brine: BrineRange | None,
) -> Iterator[Finding]:
    """Where what the vessel is for is not what the array is tested or designed for."""
    if test_plan is not None and test is not None:
        from_test = ""
        if test_plan.design_pressure is None:
            from_test = (
                f", as the test pressure of {figures(test.test_pressure / 1e3, 6)} kPa proves"
            )
        adds = held.pressures.at_bottom - _highest(vessel, held.needed)
        yield from beyond_design_findings(
            held.needed, vessel.safety_valve, test.design_pressure, from_test, adds,
            least_precharge=held.pressures.least_precharge,
        )  # fmt: skip
    if brine is not None:
        yield from range_findings(vessel.coldest, vessel.warmest, brine)


def _sample(
    faults: _Faults, mix: Mixture, sample: Sample, brine: BrineRange | None, findings: list[Finding]
) -> SampleStrength | None:
    """Strength of a sample; None where its density is none of the mixture's, which is told."""

    def found() -> Mixture | None:
        if mix.kind == "water":
            text = "plain water is filled, which has no strength to tell; leave the sample out"
            raise InputError(Fault("", text, None, "left out for water"))
        try:
            return strength_from_density(mix.kind, sample.density, sample.temperature)
        except RangeError as error:
            if [fault.field for fault in error.faults] != ["density"]:
                raise
        coldest = None if brine is None else brine.coldest.coldest
        findings.append(other_sample_finding(mix.kind, sample.density, sample.temperature, coldest))
        return None

    strength: Mixture | None = faults.of("sample", found)
    return None if strength is None else SampleStrength(strength, freezing_point(strength))


def _not_proved(shut: tuple[str, ...], volume: float) -> list[Finding]:
    """Tell of closed loops, which are filled and purged, and nothing else is reckoned for."""
    if not shut:
        return []
    named = listed(list(shut), _MOST_NAMED)
    are = "is" if len(shut) == 1 else "are"
    finding = Finding(
        "closed_loops_not_proved", "warning",
        f"{named} {are} closed. Filling, vessel and purge count the {figures(volume * 1e3, 4)} L "
        "behind shut valves: open them to purge, and shut them after. The pressure test is "
        "judged by the smaller volume of what is open, and no meter is reckoned for them: test "
        "closed loops by themselves, keep them shut while the rest is tested, and leave one "
        "valve of each open in service, so that what it holds can expand.",
        COMMON_PRACTICE,
    )  # fmt: skip
    return [finding]


def _meters(
    faults: _Faults,
    meters: Sequence[Metered],
    plan: MeterPlan,
    *,
    asked: float,
    findings: list[Finding],
    shut: tuple[str, ...],
) -> tuple[tuple[MeterCheck, ...], bool | None]:
    """Every loop's meter, and whether all readings together prove the balance.

    `asked` is the tolerance of the array, which is the meters' where they are told none.
    """
    section = "flow_meters"
    tolerance = plan.proves(asked)
    names = [each.loop for each in meters]
    still = [each.loop for each in meters if each.flow <= 0.0]
    if still:
        faults.of(section, lambda: _refuse_still(still))
        return (), None
    low, high = plan.scale
    faults.of(section, lambda: _refuse_scale(low, high))
    expected = faults.of(
        section,
        lambda: expected_readings(
            names,
            [each.flow for each in meters],
            [each.target for each in meters],
            tolerance=tolerance,
            meter_accuracy=plan.accuracy,
            proof_wanted=plan.tolerance is not None,
        ),
        {"meter_accuracy": "accuracy"},
    )
    read = faults.of(section, lambda: _read_by_loop(plan.readings, names, shut))
    if expected is None or read is None:
        return (), None
    can = all(each.has_band for each in expected)
    if not can:
        findings.append(coarse_finding(expected, plan.accuracy, tolerance))
    if can and (off := [e.loop for e in expected if e.lowest < low or e.highest > high]):
        findings.append(scale_finding(off, low, high))
    checks = [
        MeterCheck(each, meter.place, read.get(each.loop))
        for each, meter in zip(expected, meters, strict=True)
    ]
    if len(read) < len(checks):
        if read:
            findings.append(unread_finding([n for n in names if n not in read], len(names)))
        return tuple(checks), False if read else None
    shown = [read[each.loop] for each in expected]
    total, wanted = sum(shown), sum(each.target for each in meters)
    verdicts = judge_readings(expected, shown)
    at_end = [e.loop for e, flow in zip(expected, shown, strict=True) if is_at_end(flow, low, high)]
    if at_end:
        findings.append(end_finding(at_end, low, high))
        can = False
    if can and (by_share := share_finding(expected, shown, verdicts)):
        findings.append(by_share)
    checks = [
        replace(
            check,
            verdict=verdict if can else None,
            deviation=round(check.reading / total * wanted / meter.target - 1.0, 9) + 0.0
            if check.reading is not None and total > 0.0
            else None,
        )
        for check, meter, verdict in zip(checks, meters, verdicts, strict=True)
    ]
    if can:
        offs = [0.0 if each.deviation is None else each.deviation for each in checks]
        findings += outside_findings(
            expected, verdicts, offs if total else [-1.0] * len(offs),
            tolerance=tolerance, accuracy=plan.accuracy,
        )  # fmt: skip
    computed = sum(each.flow for each in meters)
    differs = total_finding(total, computed, (1.0 + tolerance) * (1.0 + plan.accuracy) - 1.0)
    findings += [] if differs is None else [differs]
    within = all(each.verdict == "within" for each in checks)
    return tuple(checks), within and differs is None


def _doubts(
    undriven: str,
    lacks: str,
    meters: Sequence[Metered],
    checks: Sequence[MeterCheck],
    plan: MeterPlan,
    *,
    tolerance: float,
    balanced: bool,
    proved: bool | None,
) -> list[Finding]:
    """What is doubtful about the flows that the meters are told, and about what they showed.

    Parameters
    ----------
    undriven, lacks
        Pump without an operating point, and why.
    tolerance, balanced
        The array's, and whether the split as computed keeps it.
    proved
        Whether all readings prove the balance.
    """
    accepted = plan.proves(tolerance)
    if undriven:
        text = f"{undriven} has no operating point on this array as it is, so that the flow meters"
        text += " are told the flow of the duty: readings at that pump prove nothing. Mend what it"
        text += f" lacks{f' ({lacks})' if lacks else ''}, or leave the pump out of the job."
        return [Finding("meters_at_duty", "warning", text, "the pump's tables")]
    wider = [wider_finding(accepted, tolerance)] if accepted > tolerance * (1.0 + 1e-9) else []
    if not balanced:
        off = max((abs(e.flow / e.target - 1.0) for e in meters if e.target > 0.0), default=0.0)
        elsewhere = bool(proved) and off > max(accepted, tolerance)
        by = accepted if elsewhere else tolerance
        return [*wider, uneven_finding(by, shown_even=elsewhere)]
    hidden = [
        each.expected.loop
        for each in checks
        if each.expected.has_band and not each.expected.proves_itself
    ]
    return wider if proved or not hidden else [*wider, band_finding(hidden, plan.accuracy)]


def _refuse_scale(low: float, high: float) -> None:
    if low >= high:
        least = low * LITRES_PER_MINUTE
        text = (
            f"is {high * LITRES_PER_MINUTE:g} L/min, and the scale begins at {least:g} L/min; give"
            " the end of the scale here"
        )
        raise InputError(
            Fault("max_scale", text, high * LITRES_PER_MINUTE, f"more than {least:g} L/min")
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
    readings: tuple[tuple[str, float], ...], names: Sequence[str], shut: tuple[str, ...]
) -> dict[str, float]:
    """Readings by loop; refuses loops that there are not or that are closed, and read twice."""
    known = frozenset(names)
    some = ", ".join(names[:6]) + (", ..." if len(names) > 6 else "")
    found: dict[str, float] = {}
    wrong: list[Fault | None] = []
    for number, (loop, flow) in enumerate(readings):
        at = f"readings.{number}"
        if loop in shut:
            wrong.append(
                Fault(f"{at}.loop", f"loop '{loop}' is closed in the array, so that its meter"
                      " proves nothing; leave its reading out, or open the loop in the array",
                      loop, "the name of a loop that is open")
            )  # fmt: skip
        elif loop not in known:
            wrong.append(
                Fault(f"{at}.loop", f"the array has no loop '{loop}'", loop,
                      f"the name of a loop as the flow split gives it: {some}")
            )  # fmt: skip
        elif loop in found:
            wrong.append(
                Fault(f"{at}.loop", f"loop '{loop}' was read twice", loop, "one reading a loop")
            )
        wrong.append(number_fault(f"{at}.flow", flow * LITRES_PER_MINUTE, "L/min", at_least=0.0))
        found[loop] = flow
    refuse(*wrong)
    return found
