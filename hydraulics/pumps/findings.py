"""What pumps on an array tell the designer: findings on the choice, and on the pump that runs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from scipy.constants import g

from hydraulics.errors import HydraulicsError
from hydraulics.findings import (
    COMMON_PRACTICE,
    Finding,
    Severity,
    above_freezing,
    apart,
    figures,
    listed,
)
from hydraulics.fluid.mixture import Mixture, freezing_margin, freezing_spread
from hydraulics.layout.heights import Levels
from hydraulics.layout.pressure_class import class_findings
from hydraulics.pumps.benchmarks import ACCEPTABLE, HIGH_PERFORMANCE, in_w_kw
from hydraulics.pumps.checks import check_findings
from hydraulics.pumps.examples import demo_pumps
from hydraulics.pumps.result import ArrayCondition
from hydraulics.pumps.running import OperatingPoint, PumpedFluid
from hydraulics.pumps.selection import Candidate, Selection, rank, select
from hydraulics.split.assembly import IN_LOOP
from hydraulics.split.duty import Duty
from hydraulics.split.flow_split import regime_and_velocity
from hydraulics.split.head_high import TRANSITION_SOURCE
from hydraulics.split.result import FlowSplit
from hydraulics.split.target import share_in_words, target_flows

LARGE_MARGIN: Final = 0.30  # of flow above the duty; common practice, no source
NOTICED: Final = 0.005  # of the duty's flow: a pump nearer to it runs at the duty
_LIMITS: Final = {"at_full_speed": "full", "at_minimum_speed": "its least"}
_OF_FLOW: Final = ("velocity_high", "velocity_impossible", "heat_exchanger_beyond_data")


def pump_findings(
    selections: Sequence[Selection],
    conditions: Sequence[ArrayCondition],
    split: FlowSplit,
    levels: Levels,
    *,
    mixture: Mixture,
    duty: Duty,
    margin: float,
) -> tuple[Finding, ...]:
    """Everything that a reader should know about pumps on an array besides their numbers.

    Parameters
    ----------
    selections
        As judged, the first one first.
    conditions
        The array, cold and warm, with its split at the flow of the first pump.
    split, levels
        The array at the duty, and where its pipe lies.
    mixture, duty
        What fills it, and what sets the flow.
    margin
        How far the coldest brine must stay above freezing without a finding [K].

    Returns
    -------
    tuple of Finding
        On all the pumps, then on the first of them.
    """
    first = selections[0]
    return (
        *_of_all(selections, split),
        *_of_first(first, conditions, split),
        *(_or_fewer(each, first, conditions, split) for each in check_findings(first, conditions)),
        *_at_its_flow(first, conditions, split),
        *_frost(first, conditions[0], split, mixture=mixture, duty=duty, margin=margin),
        *_too_strong(first, conditions, levels),
    )


def _of_all(selections: Sequence[Selection], split: FlowSplit) -> list[Finding]:
    first = selections[0]
    found = []
    invented = [each for each in selections if each.candidate.pump in demo_pumps()]
    if invented:
        found.append(
            Finding(
                "invented_pumps",
                "warning",
                f"{len(invented)} of the {len(selections)} candidates are invented for "
                "demonstration: no maker sells them and no test stands behind them. Choose by the "
                "tables of real pumps.",
                "this service",
            )
        )
    if split.network.exchanger is None:
        lacking = "no drop of the heat pump's heat exchanger"
        led = (any(run.length for run in each.runs) for each in split.circuit.branches)
        if not (split.pump.run_drop or all(led)):
            lacking += ", and no pipe or fitting between it and the array"
        found.append(
            Finding(
                "plant_not_counted",
                "warning",
                f"The head that pumps are judged by, {split.pump.pressure / 1e3:.1f} kPa, holds "
                f"{lacking}: none is told. With it the head is higher, and every pump gives less. "
                "Tell the plant by its data sheet before a pump is chosen.",
                "the job's own plant",
            )
        )
    if not first.meets_duty:
        name, wanted = (
            first.candidate.pump.name,
            f"{figures(split.pump.volume_flow * 1e3)} L/s of the",
        )
        short = {each.short for each in first.conditions}
        alone, among = "does not give", "gives"
        if True not in short:  # of a table that leaves out where the pump runs
            alone, among = "is not known to give", "is known to give"
        if short == {False}:
            alone, among = (
                "gives no less than",
                "is known to run at a point of its table that gives",
            )
        text = f"{name} {alone} the {wanted} duty in every condition: "
        if short == {False}:
            text = text.removesuffix(": ") + ", but where it runs is not known: "
        if len(selections) > 1:
            text = f"None of the candidates {among} the {wanted} duty in every condition. "
            text += f"The nearest, {name}: "
        text += "; ".join(first.reasons) + "."
        found.append(Finding("no_pump_meets_duty", "warning", text, "the tables of the pumps"))
    return found


def _of_first(
    first: Selection, conditions: Sequence[ArrayCondition], split: FlowSplit
) -> list[Finding]:
    found: list[Finding] = []
    name = first.candidate.pump.name

    def tell(code: str, severity: Severity, words: str, source: str = COMMON_PRACTICE) -> None:
        found.append(Finding(code, severity, f"{name}: {words}", source))

    if first.meets_duty:
        margin = min(each.flow_margin_percent or 0.0 for each in first.conditions)
        if margin > 100.0 * LARGE_MARGIN:
            tell("pump_margin_large", "warning",
                 f"gives {margin:.0f} % more than the flow of the duty in every condition; "
                 f"{_less(first, conditions, split)}")  # fmt: skip
        for misses, words in (
            (True, "would miss the duty"),
            (None, "may miss the duty: its table is too short to tell"),
        ):
            if weak := [each.name for each in first.conditions if each.weak_short is misses]:
                tell("pump_tolerance_short", "info",
                     f"a pump at the weak edge of its tolerance {words} ({listed(weak)})",
                     first.tolerance.source)  # fmt: skip
        if gives_at_high(first, split) is False:
            duty, high = apart(split.pump.pressure / 1e3, split.high.pressure / 1e3, 1)
            tell("pump_short_at_high_head", "warning",
                 f"gives the duty at {duty} kPa, not at the {high} kPa that it may take "
                 "where flow in transition is turbulent or the brine as viscous as published data "
                 f"allow; {_more(first, conditions, split)}",
                 TRANSITION_SOURCE + "; spread of published viscosities")  # fmt: skip
    points = [each.point for each in first.conditions if each.point is not None]
    found += _not_held(first, conditions, split)
    corrections = [point.correction for point in points if point.correction is not None]
    notes = [each.note for each in corrections if not each.within_range]
    if notes:
        tell("pump_viscosity_untested", "info",
             f"{notes[0]} Flow, head and power on brine are less certain than the table on water",
             "ANSI/HI 9.6.7")  # fmt: skip
    lowest = first.candidate.pump.curves[0].speed
    if any(point.speed < lowest * (1.0 - 1e-9) for point in points):
        tell("pump_speed_below_table", "info",
             "runs slower than its slowest table, where the affinity laws state too little power",
             "affinity laws (White, Fluid Mechanics, chapter 11)")  # fmt: skip
    benchmark = first.benchmark
    if benchmark is not None and benchmark.is_high:
        tell("pumping_power_high", "warning",
             f"takes {benchmark.power_per_heat * 1e3:.0f} W per kW of heat; up to "
             f"{in_w_kw(HIGH_PERFORMANCE):.1f} W per kW are published as high performance, up to "
             f"{in_w_kw(ACCEPTABLE):.1f} as acceptable", benchmark.source)  # fmt: skip
    uneven = [
        each.condition.name
        for each in conditions
        if each.at_pump is not None and not each.at_pump.within_tolerance
    ]
    if uneven:
        worst = max(
            float(np.abs(each.at_pump.deviation).max())
            for each in conditions
            if each.at_pump is not None
        )
        tell("pump_flow_uneven", "warning",
             f"at its flow some loop is up to {100.0 * worst:.0f} % off "
             f"{share_in_words(split.target)} ({listed(uneven)})")  # fmt: skip
    return found


def gives_at_high(selection: Selection, split: FlowSplit) -> bool | None:
    """Whether a pump that meets the duty gives its flow, cold, at the upper edge of the head too.

    Returns
    -------
    bool or None
        None where its table does not reach the flow of the duty.
    """
    margin = selection.conditions[0].head_margin_percent
    if margin is None:
        return None
    if not selection.meets_duty:
        return False
    gives = split.pump.pressure * (1.0 + margin / 100.0)
    candidate = selection.candidate
    if candidate.control == "constant_temperature_difference":  # holds the flow, and turns up
        brine = split.network.fluids[IN_LOOP]
        fluid = PumpedFluid(brine.density, brine.viscosity / brine.density)
        full = candidate.at(candidate.pump.full_speed, fluid)
        if full.flow_min <= split.pump.volume_flow <= full.flow_max:
            gives = max(gives, full.head_at(split.pump.volume_flow) * brine.density * g)
    return gives >= split.high.pressure * (1.0 - NOTICED)


def setting_of(candidate: Candidate, split: FlowSplit) -> float:
    """What a control other than constant speed is set to [m or K]; left open, that of the duty."""
    if candidate.control == "constant_temperature_difference":
        carried = split.solution.total * split.network.fluids[IN_LOOP].specific_heat
        return candidate.set_change or abs(split.heat) / carried
    return candidate.set_head or split.pump.head


def _off(
    judged: Selection, conditions: Sequence[ArrayCondition], split: FlowSplit
) -> list[tuple[str, OperatingPoint, float]]:
    """Where its control does not hold what it is set to: condition, point, setting as it runs."""
    control, wanted = judged.candidate.control, setting_of(judged.candidate, split)
    found = []
    for result, each in zip(judged.conditions, conditions, strict=True):
        point, capacity = result.point, each.condition.capacity
        if point is None or point.state not in _LIMITS:
            continue
        runs = point.head
        if control == "proportional_pressure":
            runs /= 0.5 + 0.5 * point.flow / split.pump.volume_flow
        elif control == "constant_temperature_difference":
            assert capacity is not None, "without heat no change is held"
            runs = abs(split.heat) / (capacity * point.flow)
        if abs(runs - wanted) > NOTICED * wanted:
            found.append((result.name, point, runs))
    return found


def _not_held(
    first: Selection, conditions: Sequence[ArrayCondition], split: FlowSplit
) -> list[Finding]:
    """A setting that the pump cannot hold: what it gives, what limits it, what it does hold."""
    candidate, off = first.candidate, _off(first, conditions, split)
    if not off:
        return []
    wanted, own = setting_of(candidate, split), candidate.set_head or candidate.set_change
    by_head = candidate.control != "constant_temperature_difference"
    by_line = candidate.control == "proportional_pressure"

    def beside(point: OperatingPoint, runs: float) -> str:
        if by_line:  # the line falls and rises with the flow, and with it what is asked for
            asked, flow = point.head * wanted / runs, point.flow * 1e3
            return f" where its line asks for {figures(asked, 4)} m at {figures(flow, 4)} L/s,"
        return "" if by_head else f", a change of {figures(runs, 4)} K,"

    told = [
        f"{name} it gives {figures(point.head, 4)} m{beside(point, runs)} at "
        f"{_LIMITS[point.state]} speed"
        for name, point, runs in off
    ]
    unit = "m" if by_head else "K"
    given = "that are set" if own is not None else "of the duty"
    given += " for the flow of the duty" if by_line and own is not None else ""
    words = f"does not hold the {figures(wanted, 4)} {unit} {given}: {', '.join(told)}"
    most = candidate.series * max(float(curve.head[0]) for curve in candidate.pump.curves)
    if by_head and wanted > most:
        words += f"; its tables give no more than {figures(most, 4)} m at any flow"
    fast = off[0][1].state == "at_full_speed"
    runs_at = [runs for _, _, runs in off]
    able = float(f"{min(runs_at) if fast is by_head else max(runs_at):.4g}")
    set_so = replace(candidate, set_head=able) if by_head else replace(candidate, set_change=able)
    held = _best(set_so, conditions=conditions, split=split)
    if (
        held is not None
        and all(each.point is not None for each in held.conditions)
        and not _off(held, conditions, split)
    ):
        words += f"; it holds {figures(able, 4)} {unit}"
        words += "" if held.meets_duty else ", with less than the flow of the duty"
    return [
        Finding(
            "pump_setting_not_held",
            "info",
            f"{candidate.pump.name}: {words}",
            "the pump's table",
        )
    ]


def _less(first: Selection, conditions: Sequence[ArrayCondition], split: FlowSplit) -> str:
    """What takes less power than a pump that gives too much, solved on the array.

    Only a setting at which it gives the duty at the upper edge of its head too, and is in no limit
    of its maker that it is not in now.
    """
    candidate, now = first.candidate, first.conditions[0].point
    pump = candidate.pump
    tries = [
        replace(
            candidate,
            control="constant_differential_pressure",
            speed=None,
            set_head=head,
            set_change=None,
        )
        for head in _heads_to_hold(candidate, conditions, split)
    ]
    if candidate.control == "constant_speed":
        lowest, runs_at = pump.min_speed or 0.0, first.speed or pump.full_speed
        speeds = [c.speed for c in pump.curves if lowest <= c.speed < runs_at]
        tries += [replace(candidate, speed=speed) for speed in speeds]
    best = _best(*tries, conditions=conditions, split=split, beside=first)
    point = None if best is None else best.conditions[0].point
    if best is None or now is None or point is None or point.power >= now.power:
        return "a smaller pump may take less power; judge one beside it"
    held = f"{figures(best.candidate.set_head or 0.0)} m"
    if held == f"{figures(split.pump.head)} m":
        held = f"the {held} of the duty"
    driven = candidate.control != "constant_speed"
    if driven and candidate.control != best.candidate.control:  # a head of the same number is less
        held += " under constant differential pressure"
    how = f"set to hold {held}" if driven else f"with a drive that holds {held}"
    if best.speed is not None:
        how = f"at {figures(best.speed, 4)} rpm"
    elif point.state == "at_minimum_speed":
        how = f"set to {held}" if driven else "under a drive"
        how = f"{how}, at its least speed of {figures(point.speed, 4)} rpm,"
    takes, took = (float(f"{each.power:.3g}") for each in (point, now))  # 2,820, not 2.82e+03
    return f"{how} it does, cold, for {takes:g} W in place of {took:g} W"


def _heads_to_hold(
    candidate: Candidate, conditions: Sequence[ArrayCondition], split: FlowSplit
) -> list[float]:
    """Heads worth holding [m], as printed: that of the duty, its upper edge, the least flow's."""
    heads = [_rounded_up(split.pump.head), _rounded_up(_high_head(split))]
    if candidate.pump.min_flow is not None:
        system = conditions[0].condition.system
        least = candidate.pump.min_flow * candidate.parallel * (1.0 + NOTICED)
        if least < float(system.flow[-1]):
            heads.append(_rounded_up(max(system.head_at(least), heads[-1])))
    return heads


def _high_head(split: FlowSplit) -> float:
    """Upper edge of the duty's head [m]."""
    return split.pump.head * split.high.pressure / split.pump.pressure


def _rounded_up(head: float) -> float:
    """The next number of three digits."""
    step = 10.0 ** (math.floor(math.log10(head)) - 2)
    return float(figures(math.ceil(head / step * (1.0 - 1e-9)) * step).replace(",", ""))


def _more(first: Selection, conditions: Sequence[ArrayCondition], split: FlowSplit) -> str:
    """How a pump gives the duty at the upper edge of its head: set higher, or another one."""
    candidate = first.candidate
    tries = []
    if candidate.control in ("constant_differential_pressure", "proportional_pressure"):
        tries = [replace(candidate, set_head=_rounded_up(_high_head(split)))]
    elif candidate.control == "constant_speed":
        runs_at = first.speed or candidate.pump.full_speed
        speeds = [c.speed for c in candidate.pump.curves if c.speed > runs_at]
        tries = [replace(candidate, speed=speed) for speed in speeds]
    best = _best(*tries, conditions=conditions, split=split, beside=first)
    if best is None:
        return "take one that gives that too"
    if best.speed is not None:
        return f"at {figures(best.speed, 4)} rpm it does"
    return f"set to {figures(best.candidate.set_head or 0.0)} m it does"


def _or_fewer(
    told: Finding, first: Selection, conditions: Sequence[ArrayCondition], split: FlowSplit
) -> Finding:
    """Add how many of several pumps keep their least flow and give the duty, solved."""
    if told.code != "pump_below_min_flow":
        return told
    for number in range(first.candidate.parallel - 1, 0, -1):
        fewer = replace(first.candidate, parallel=number)
        best = _best(fewer, conditions=conditions, split=split, beside=first)
        if best is not None and told.code not in _warned(best, conditions):
            does = "one alone gives" if number == 1 else f"{number} of them give"
            keeps = "keeps" if number == 1 else "keep"
            words = f"{does} the duty and {keeps} the least flow"
            return replace(told, message=f"{told.message}; {words}")
    return told


def _best(
    *tries: Candidate,
    conditions: Sequence[ArrayCondition],
    split: FlowSplit,
    beside: Selection | None = None,
) -> Selection | None:
    """The best of pumps, solved on the array; None where none can be judged.

    What is tried is advice: what is wrong with it is no fault of the request. Where it is to take
    the place of another it must give the duty, at the upper edge of its head too, and be warned of
    no limit that the other keeps.
    """
    judged: list[Selection] = []
    for each in tries:
        try:
            judged += select(
                (each,),
                split.pump.volume_flow,
                split.pump.head,
                [at.condition for at in conditions],
                heat=abs(split.heat) or None,
            )[0]
        except HydraulicsError:
            continue
    if beside is not None:
        told = _warned(beside, conditions) - {"pump_below_min_flow"}
        judged = [
            each
            for each in judged
            if each.meets_duty and gives_at_high(each, split) and _warned(each, conditions) <= told
        ]
    return min(judged, key=rank, default=None)


def _warned(judged: Selection, conditions: Sequence[ArrayCondition]) -> set[str]:
    return {e.code for e in check_findings(judged, conditions) if e.severity != "info"}


def _at_its_flow(
    first: Selection, conditions: Sequence[ArrayCondition], split: FlowSplit
) -> list[Finding]:
    """Regimes and velocity at the flow of the pump, where the duty has not the like of them."""
    told = {each.code for each in split.findings}
    found: dict[str, Finding] = {}
    fastest = split.pump.volume_flow * (1.0 + NOTICED)
    for each in conditions:
        at_pump = each.at_pump
        if at_pump is None or at_pump.solution.total <= 0.0:
            continue
        flow = at_pump.duty.volume_flow
        wanted = target_flows(at_pump.network, at_pump.solution.total, split.target)
        for new in regime_and_velocity(at_pump.network, at_pump.solution, wanted):
            if new.code in told and not (new.code in _OF_FLOW and flow > fastest):
                continue
            told.add(new.code)
            words = f"{_at(first, each.condition.name, flow)}: {new.message}"
            found[new.code] = replace(new, message=words)
        fastest = max(fastest, flow)
    otherwise = _no_longer(first, conditions[0], split)
    return [*found.values(), *otherwise]


def _no_longer(first: Selection, cold: ArrayCondition, split: FlowSplit) -> list[Finding]:
    """Regimes that are told of the duty, cold, and that no loop has at the flow of the pump."""
    at_pump = cold.at_pump
    if at_pump is None or at_pump.solution.total <= 0.0:
        return []
    wanted = target_flows(at_pump.network, at_pump.solution.total, split.target)
    now = {e.code for e in regime_and_velocity(at_pump.network, at_pump.solution, wanted)}
    gone = [
        word
        for code, word in (
            ("laminar_loop", "no loop is laminar"),
            ("transitional_pipe", "no pipe is in transition"),
        )
        if code in {each.code for each in split.findings} - now
    ]
    if not gone:
        return []
    return [
        Finding(
            "pump_regime_otherwise",
            "info",
            f"{_at(first, 'cold', at_pump.duty.volume_flow)}, {' and '.join(gone)}: "
            "what is said of that is of the flow of the duty.",
            "definition",
        )
    ]


def _at(first: Selection, condition: str, flow: float) -> str:
    return f"With {first.candidate.pump.name}, {condition}, at its {figures(flow * 1e3)} L/s"


def _frost(
    first: Selection,
    cold: ArrayCondition,
    split: FlowSplit,
    *,
    mixture: Mixture,
    duty: Duty,
    margin: float,
) -> list[Finding]:
    """How near the brine comes to freezing where the pump moves less of it than the duty."""
    at_pump, brine = cold.at_pump, cold.at_pump_temperatures
    planned = duty.from_ground_temperature - duty.to_ground_temperature
    if at_pump is None or brine is None or planned <= 0.0:
        return []
    coldest, back = brine
    change = back - coldest
    above = freezing_margin(mixture, coldest)
    if change <= planned * (1.0 + NOTICED) or above >= margin + freezing_spread(mixture):
        return []
    return [
        Finding(
            "freezing_margin_thin",
            "warning" if above > 0.0 else "error",
            f"{_at(first, 'cold', at_pump.duty.volume_flow)} the same heat changes the brine by "
            f"{change:.1f} K, where {planned:.1f} K are planned; taken to come "
            f"back at {duty.from_ground_temperature:z.1f} °C as planned, it goes out colder. "
            + above_freezing(coldest, above, margin, freezing_spread(mixture))
            + " The evaporator's wall is colder than the brine.",
            "heat over flow and specific heat; the margin itself is " + COMMON_PRACTICE,
        )
    ]


def pump_pressure(pump: Selection, conditions: Sequence[ArrayCondition]) -> float:
    """Highest pressure that a pump gives at its points in these conditions [Pa].

    Where it has no point in one of them, the most that its tables give at any flow: the safe side.
    """
    return max(
        each.network.fluids[IN_LOOP].density
        * g
        * (_most_head(pump, each) if result.point is None else result.point.head)
        for each, result in zip(conditions, pump.conditions, strict=True)
    )


def why_none(pump: Selection) -> str:
    """Why a pump has no operating point, and in which conditions; empty where it has one in all."""
    names: dict[str, list[str]] = {}
    for each in pump.conditions:
        if each.point is None:
            names.setdefault(each.reason, []).append(each.name)
    return "; ".join(f"{listed(those)}: {reason}" for reason, those in names.items())


def _most_head(pump: Selection, each: ArrayCondition) -> float:
    """Most head of a pump at any flow of its tables [m], at the speed that it is set to."""
    candidate = pump.candidate
    speed = candidate.speed or candidate.pump.full_speed
    _, heads, _ = candidate.at(speed, each.condition.fluid).sample()
    return float(heads.max())


def _too_strong(
    first: Selection, conditions: Sequence[ArrayCondition], levels: Levels
) -> tuple[Finding, ...]:
    warmest = max(max(e.to_ground_temperature, e.from_ground_temperature) for e in conditions)
    name = first.candidate.pump.name
    what = f"the pressure that {name} gives"
    if why_none(first):
        what = f"the most that the tables of {name} give, which has no operating point here"
    return class_findings(
        levels,
        pump_pressure(first, conditions),
        what,
        density=conditions[0].network.fluids[IN_LOOP].density,
        temperature=warmest,
    )
