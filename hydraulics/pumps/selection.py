"""Pump selection: which of these pumps meets the duty, cold and warm, for how much energy.

Each candidate is put on the system curve at the coldest design temperature, where the fluid is
most viscous, and at warmer ones. Those that meet the duty are ranked by the energy of a year;
those that miss it are listed after them with the reason.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, get_args

import scipy as sp

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError, NoSolutionError, RangeError
from hydraulics.findings import beyond, figures
from hydraulics.pumps.benchmarks import (
    PumpingBenchmark,
    Tolerance,
    pumping_benchmark,
    tolerance,
)
from hydraulics.pumps.curve import Pump, UnlikePumpError
from hydraulics.pumps.running import (
    Aim,
    Control,
    OperatingPoint,
    PumpedFluid,
    RunningPumps,
    SystemCurve,
    controlled_point,
    no_flow_head,
    operating_point,
    running,
)

MET: Final = 0.1  # % of the duty's flow that may be missing: what a head typed as printed costs


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A pump as it would be installed and controlled.

    Attributes
    ----------
    speed
        For constant speed: the setting, in the pump's unit; None to try every tabulated speed
        and take the one that meets the duty with the least energy.
    set_head
        For constant differential pressure: head held [m]; None for the duty's head. For
        proportional pressure: head held at the flow of the duty; half of it at no flow.
    set_change
        For constant temperature difference: change of the brine held [K]; None for the duty's.
    parallel, series
        Number of equal pumps side by side and in line.
    inlet_pressure
        Least pressure over the atmosphere at its inlet as it runs [Pa]; None where not told.
    """

    pump: Pump
    control: Control = "constant_speed"
    speed: float | None = None
    set_head: float | None = None
    parallel: int = 1
    series: int = 1
    inlet_pressure: float | None = None
    set_change: float | None = None

    def __post_init__(self) -> None:
        full = self.pump.full_speed
        if self.control not in get_args(Control):
            allowed = ", ".join(get_args(Control))
            text = "this control is not known"
            raise InputError(Fault("control", text, self.control, allowed))
        by_head = self.control in ("constant_differential_pressure", "proportional_pressure")
        if not by_head and self.set_head is not None:
            text = f"{self.control} holds no head; leave it out, or choose "
            text += "constant_differential_pressure"
            raise InputError(Fault("set_head", text, self.set_head, f"none at {self.control}"))
        if self.control != "constant_temperature_difference" and self.set_change is not None:
            text = f"{self.control} holds no difference of temperature; leave it out, or choose "
            text += "constant_temperature_difference"
            raise InputError(Fault("set_change", text, self.set_change, f"none at {self.control}"))
        if self.control != "constant_speed" and self.speed is not None:
            text = f"{self.control} finds its own speed; leave it out"
            raise InputError(Fault("speed", text, self.speed, "none unless at constant_speed"))
        if self.speed is not None and self.speed > full:
            text = "there is no table at or above this speed, and the affinity laws are used "
            text += "downward only"
            raise InputError(Fault("speed", text, self.speed, f"up to {full:g} rpm"))
        lowest = self.pump.min_speed
        if self.speed is not None and lowest is not None and self.speed < lowest:
            text = f"the drive turns no slower than its minimum speed of {lowest:g} rpm; give a "
            text += "higher speed, or a lower minimum speed if the drive allows it"
            allowed = f"{lowest:g} to {full:g} rpm"
            raise InputError(
                Fault("speed", text, self.speed, allowed),
                Fault("min_speed", f"the speed asked for, {self.speed:g} rpm, is below it", lowest,
                      f"up to {self.speed:g} rpm"),
            )  # fmt: skip

    def at(self, speed: float | None, fluid: PumpedFluid | None = None) -> RunningPumps:
        """All its pumps as they run at a speed on a fluid, as `running` takes them."""
        return running(self.pump, speed, parallel=self.parallel, series=self.series, fluid=fluid)


@dataclass(frozen=True, slots=True, eq=False)
class Condition:
    """The system at one temperature.

    Attributes
    ----------
    name
        ``"cold"``, ``"warm"`` or another.
    system
        Head of the system against flow, of the fluid at this temperature.
    fluid
        Density and viscosity at this temperature.
    run_hours
        Hours a year that the pump runs in this condition.
    capacity
        Density times specific heat of the fluid [J/(m3 K)]; None where no heat is told.
    """

    name: str
    system: SystemCurve
    fluid: PumpedFluid
    run_hours: float
    capacity: float | None = None


@dataclass(frozen=True, slots=True)
class ConditionResult:
    """A candidate in one condition.

    Attributes
    ----------
    point
        Operating point, None where there is none.
    flow_margin_percent
        Operating flow above the duty's flow [%]; negative when short.
    head_margin_percent
        Head that the set as it runs gives at the duty's flow, above the head that this system
        takes there [%]; None where the duty's flow lies outside the pump's tables.
    flow_band
        Operating flow [m3/s] of a pump at the lower and at the upper edge of the tolerance;
        None at an edge that meets the system beyond the pump's or the system's data. Where
        a head is held, as far as the speed of such a pump can hold it.
    energy_kwh
        Electrical energy of a year in this condition [kWh].
    reason
        Why there is no operating point, else empty.
    short
        Whether the pump gives less than the flow of the duty; None where its table does not tell.
    weak_short
        The same of a pump at the lower edge of the tolerance.
    """

    name: str
    point: OperatingPoint | None
    flow_margin_percent: float | None
    head_margin_percent: float | None
    flow_band: tuple[float | None, float | None]
    energy_kwh: float | None
    reason: str
    short: bool | None
    weak_short: bool | None = None


@dataclass(frozen=True, slots=True)
class Selection:
    """A candidate judged.

    Attributes
    ----------
    speed
        Speed setting used, None under differential-pressure control or where none works.
    meets_duty
        True when every condition has an operating point with at least the duty's flow, to `MET`,
        or under a held change of temperature with what carries the duty's heat.
    conditions
        One result per condition, in the order given.
    energy_kwh
        Energy of a year over all conditions [kWh]; None when a condition has no operating point.
    benchmark
        Power in the first (coldest) condition against heat; None when no heat was given.
    reasons
        Why the candidate misses the duty; empty when it meets it.
    """

    candidate: Candidate
    speed: float | None
    meets_duty: bool
    conditions: tuple[ConditionResult, ...]
    energy_kwh: float | None
    benchmark: PumpingBenchmark | None
    tolerance: Tolerance
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetAside:
    """A candidate that is not judged, since no pump has such numbers.

    Attributes
    ----------
    place
        Position in the list of candidates.
    name
        Its name.
    reasons
        What is wrong with it, one sentence each.
    """

    place: int
    name: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Duty:
    """What every candidate is held against."""

    flow: float
    head: float
    conditions: tuple[Condition, ...]
    heat: float | None
    grade: Tolerance


def aim_of(candidate: Candidate, condition: Condition, duty: _Duty) -> Aim:
    """What a candidate's control, other than constant speed, holds in a condition."""
    head = duty.head if candidate.set_head is None else candidate.set_head
    if candidate.control == "constant_differential_pressure":
        return Aim(head)
    if candidate.control == "proportional_pressure":
        return Aim(0.5 * head, 0.5 * head / duty.flow)
    cold = duty.conditions[0].capacity
    if duty.heat is None or condition.capacity is None or cold is None:
        text = "no heat is carried, so that no difference of temperature can be held; choose "
        text += "another control"
        raise InputError(Fault("control", text, candidate.control, "another control"))
    change = candidate.set_change or duty.heat / (cold * duty.flow)
    return Aim(flow=duty.heat / (condition.capacity * change))


def _wanted(candidate: Candidate, condition: Condition, duty: _Duty) -> float:
    """Flow [m3/s] below which a pump misses the duty in a condition.

    The flow of the duty; of a pump that holds the change of temperature, no more than what carries
    the duty's heat at its change, since warmer brine carries it with a little less.
    """
    cold = duty.conditions[0].capacity
    if candidate.control != "constant_temperature_difference" or condition.capacity is None:
        return duty.flow
    return duty.flow * min(1.0, (cold or condition.capacity) / condition.capacity)


def select(
    candidates: Sequence[Candidate],
    duty_flow: float,
    duty_head: float,
    conditions: Sequence[Condition],
    *,
    heat: float | None = None,
    tolerance_grade: str = "up_to_10_kw",
) -> tuple[tuple[Selection, ...], tuple[SetAside, ...]]:
    """Judge and rank pumps for a duty.

    Parameters
    ----------
    candidates
        Pumps as installed.
    duty_flow
        Flow required in every condition [m3/s].
    duty_head
        Head of the duty [m]: set head of controls that name none. Pumps are judged on the system
        curve.
    conditions
        The coldest first, then warmer ones, each with its system curve; at least one.
    heat
        Heat that the heat pump delivers [W], for the benchmark; None to leave it out.
    tolerance_grade
        Key of `TOLERANCES`.

    Returns
    -------
    tuple of Selection
        Pumps that meet the duty by energy, least first; then those that miss it, nearest first.
    tuple of SetAside
        Pumps that would give more power than they take; `SetAside.place` counts the candidates.

    Raises
    ------
    InputError
        Input that describes no case, or every pump is set aside. A pump that cannot do the duty is
        no error.
    """
    refuse(
        number_fault("duty", duty_flow * 1e3, "L/s", above=0.0),
        number_fault("duty", duty_head, "m", above=0.0),
    )
    duty = _Duty(duty_flow, duty_head, tuple(conditions), heat, tolerance(tolerance_grade))
    judged: list[Selection] = []
    aside: list[SetAside] = []
    faults: list[Fault] = []
    unlike: list[Fault] = []
    for i, candidate in enumerate(candidates):
        try:
            judged.append(_judge(candidate, duty))
        except InputError as error:
            found = [replace(f, field=f"candidates.{i}.{f.field}") for f in error.faults]
            if isinstance(error, UnlikePumpError):
                aside.append(SetAside(i, candidate.pump.name, tuple(f.message for f in found)))
                unlike += found
            else:
                faults += found
    if faults:
        raise InputError(*faults, *unlike)
    if unlike and not judged:
        raise UnlikePumpError(*unlike)
    return tuple(sorted(judged, key=rank)), tuple(aside)


def rank(selection: Selection) -> tuple[bool, float]:
    """Sorts what meets the duty by energy, then what misses it, the nearest first."""
    if selection.meets_duty:
        return False, selection.energy_kwh or 0.0
    margins = [c.flow_margin_percent for c in selection.conditions]
    known = [m for m in margins if m is not None]
    return True, math.inf if len(known) < len(margins) else -min(known)


def _judge(candidate: Candidate, duty: _Duty) -> Selection:
    if candidate.control != "constant_speed":
        settings: list[float | None] = [None]
    elif candidate.speed is not None:
        settings = [candidate.speed]
    else:
        least = candidate.pump.min_speed or 0.0  # no setting of the drive lies below
        settings = [c.speed for c in candidate.pump.curves if c.speed >= least]
    tried = [_at_setting(candidate, setting, duty) for setting in settings]
    return _with_bands(min(tried, key=rank), duty)


def _with_bands(selection: Selection, duty: _Duty) -> Selection:
    """The selection with the flows at the edges of the tolerance, for the setting taken only."""
    candidate, banded = selection.candidate, []
    for result, condition in zip(selection.conditions, duty.conditions, strict=True):
        point = result.point
        if point is None:
            banded.append(result)
            continue
        band = _band(candidate, point, condition, duty)
        short = (
            weak_is_less(candidate, point, condition, duty.grade, _met_by(duty.flow))
            if band[0] is None
            else _is_less(band[0], _wanted(candidate, condition, duty))
        )
        banded.append(replace(result, flow_band=band, weak_short=short))
    return replace(selection, conditions=tuple(banded))


def _met_by(duty_flow: float) -> float:
    """Least flow [m3/s] that is as good as a duty's."""
    return duty_flow * (1.0 - MET / 100.0)


def _is_less(flow: float, duty_flow: float) -> bool:
    return flow < _met_by(duty_flow)


def weak_is_less(
    candidate: Candidate, point: OperatingPoint, condition: Condition, grade: Tolerance, flow: float
) -> bool | None:
    """Whether the weakest pump accepted gives less than a flow [m3/s], so far as the data tell.

    Parameters
    ----------
    point
        Where the pump itself runs in the condition; a control turns a weaker one up to full speed.
    grade, flow
        The tolerance, and the flow.
    """
    held = candidate.control != "constant_speed"
    pumps = candidate.at(None if held else point.speed, condition.fluid)
    reach = 1.0 - grade.flow_low
    return _short(
        lambda flow: tolerance_head(pumps, grade, flow, upper=False),
        (pumps.flow_min * reach, pumps.flow_max * reach), condition.system, flow,
    )  # fmt: skip


def _short(
    head_at: Callable[[float], float],
    table: tuple[float, float],
    system: SystemCurve,
    wanted: float,
) -> bool | None:
    """Whether a falling head, known between two flows [m3/s], gives less than a flow."""
    least, most = table[0], min(table[1], float(system.flow[-1]))
    at = min(max(wanted, least), most)
    enough = head_at(at) >= system.head_at(at)
    if (at < wanted and enough) or (at > wanted and not enough):
        return None
    return not enough


def _band(
    candidate: Candidate, point: OperatingPoint, condition: Condition, duty: _Duty
) -> tuple[float | None, float | None]:
    """Flow of the weakest and of the strongest pump that the grade accepts, as controlled.

    A head is held where the pump gives as much at full speed and no more at its least: the weaker
    may fall short of it at the one, the stronger exceed it at the other.
    """

    def at(speed: float) -> RunningPumps:
        return candidate.at(speed, condition.fluid)

    system, grade = condition.system, duty.grade
    if candidate.control == "constant_speed":
        return tolerance_flows(at(point.speed), system, grade)
    full, slowest = at(candidate.pump.full_speed), candidate.pump.min_speed
    held: float | None = point.flow
    if not point.state.startswith("holding"):
        held = aim_of(candidate, condition, duty).flow_on(system, float(system.flow[-1]))
    if held is None:
        return tolerance_flows(full, system, grade)
    wanted = system.head_at(held)
    strong = wanted / (1.0 + grade.head_high)
    found: list[float | None] = []
    for upper, reach in ((False, 1.0 - grade.flow_low), (True, 1.0 + grade.flow_high)):

        def head(pumps: RunningPumps, upper: bool = upper, reach: float = reach) -> float | None:
            if not pumps.flow_min <= held / reach <= pumps.flow_max:
                return None
            if not pumps.flow_min <= held <= pumps.flow_max:
                return None
            return tolerance_head(pumps, grade, held, upper=upper)

        most = head(full)
        if most is None or most < wanted:
            found.append(tolerance_flows(full, system, grade)[upper])
        elif slowest is None or no_flow_head(candidate.pump, slowest, candidate.series) < strong:
            found.append(held)
        else:
            try:
                least = at(slowest)
            except RangeError:  # too viscous for the correction at its least speed: not known
                found.append(None)
                continue
            runs_on = (head(least) or 0.0) > wanted
            found.append(tolerance_flows(least, system, grade)[upper] if runs_on else held)
    return found[0], found[1]


def _at_setting(candidate: Candidate, setting: float | None, duty: _Duty) -> Selection:
    results = tuple(_in_condition(candidate, setting, duty, c) for c in duty.conditions)
    reasons: list[str] = []
    for result in results:
        margin = result.flow_margin_percent
        if margin is None:
            reasons.append(f"{result.name}: {result.reason}")
        elif result.short:
            text = (
                f"{result.name}: gives {beyond(-margin, 0.0, 1)} % less than the flow of the duty"
            )
            reasons.append(text)
    energies = [r.energy_kwh for r in results]
    known = [e for e in energies if e is not None]
    first = results[0].point
    return Selection(
        candidate=candidate,
        speed=setting,
        meets_duty=not reasons,
        conditions=results,
        energy_kwh=math.fsum(known) if len(known) == len(energies) else None,
        benchmark=(
            None
            if duty.heat is None or first is None
            else pumping_benchmark(first.power, duty.heat)
        ),
        tolerance=duty.grade,
        reasons=tuple(reasons),
    )


def _in_condition(
    candidate: Candidate, setting: float | None, duty: _Duty, condition: Condition
) -> ConditionResult:
    system, fluid = condition.system, condition.fluid
    try:
        if candidate.control != "constant_speed":
            point = controlled_point(
                candidate.pump, aim_of(candidate, condition, duty), system,
                parallel=candidate.parallel, series=candidate.series, fluid=fluid,
            )  # fmt: skip
            setting = point.speed
        pumps = candidate.at(setting, fluid)
        if candidate.control == "constant_speed":
            point = operating_point(pumps, system)
    except RangeError as error:  # other wrong data is the caller's to mend
        nothing = None, None, None, (None, None), None
        return ConditionResult(condition.name, *nothing, str(error), None)
    except NoSolutionError as error:
        pumps = candidate.at(setting, fluid)
        table = (pumps.flow_min, pumps.flow_max)
        short = _short(pumps.head_at, table, system, _met_by(duty.flow))
        if candidate.control != "constant_speed" and short is False:  # unless it is set to less
            end = float(system.flow[-1])
            held = aim_of(candidate, condition, duty).flow_on(system, end)
            short = None if held is not None and _is_less(held, duty.flow) else False
        text = _why_none(pumps, system, duty, error)
        return ConditionResult(condition.name, None, None, None, (None, None), None, text, short)
    return ConditionResult(
        name=condition.name,
        point=point,
        flow_margin_percent=100.0 * (point.flow / duty.flow - 1.0),
        head_margin_percent=_head_margin(pumps, system, duty.flow),
        flow_band=(None, None),  # see _with_bands
        energy_kwh=point.power * condition.run_hours / 1e3,
        reason="",
        short=_is_less(point.flow, _wanted(candidate, condition, duty)),
    )


def _why_none(pumps: RunningPumps, system: SystemCurve, duty: _Duty, error: NoSolutionError) -> str:
    """Why there is no operating point; a table that leaves out the duty is told as that."""
    begin, end = pumps.flow_min, pumps.flow_max
    wanted = f"the {figures(duty.flow * 1e3)} L/s of the duty"
    if end < duty.flow:
        return (
            f"its table ends at {figures(end * 1e3)} L/s, short of {wanted}, where it gives "
            f"{figures(pumps.head_at(end))} m and the array takes {figures(system.head_at(end))} "
            "m; a longer table, a larger pump or more of them side by side are needed"
        )
    last = float(system.flow[-1])
    if begin > duty.flow and pumps.head_at(begin) < system.head_at(min(begin, last)):
        return (
            f"its table begins at {figures(begin * 1e3)} L/s, beyond {wanted}, and it runs at "
            "less than that, where nothing is known of it; give its table from zero flow"
        )
    return "; ".join(f.message for f in error.faults)


def _head_margin(pumps: RunningPumps, system: SystemCurve, flow: float) -> float | None:
    if not pumps.flow_min <= flow <= pumps.flow_max or flow > system.flow[-1]:
        return None
    return 100.0 * (pumps.head_at(flow) / system.head_at(flow) - 1.0)


def tolerance_head(pumps: RunningPumps, grade: Tolerance, flow: float, *, upper: bool) -> float:
    """Head [m] of a pump at the edge of the tolerance, at one total flow [m3/s].

    ISO 9906 accepts a pump whose curve touches the cross of the flow and head tolerances about
    the guaranteed point. The edge is the farther of the curve moved in head and moved in flow.

    Parameters
    ----------
    upper
        True for the strongest pump accepted, False for the weakest.
    """
    if upper:
        by_flow = pumps.head_at(flow / (1.0 + grade.flow_high))
        return max(pumps.head_at(flow) * (1.0 + grade.head_high), by_flow)
    by_flow = pumps.head_at(flow / (1.0 - grade.flow_low))
    return min(pumps.head_at(flow) * (1.0 - grade.head_low), by_flow)


def tolerance_flows(
    pumps: RunningPumps, system: SystemCurve, grade: Tolerance
) -> tuple[float | None, float | None]:
    """Operating flow [m3/s] of the weakest and the strongest pump that the grade accepts.

    None at an edge that does not meet the system inside the data; the upper edge may use the
    table up to its end moved by the flow tolerance.
    """
    found: list[float | None] = []
    for upper, reach in ((False, 1.0 - grade.flow_low), (True, 1.0 + grade.flow_high)):

        def surplus(flow: float, upper: bool = upper) -> float:
            return tolerance_head(pumps, grade, flow, upper=upper) - system.head_at(flow)

        low = pumps.flow_min * reach
        high = min(pumps.flow_max * reach, float(system.flow[-1]))
        if low >= high or surplus(low) < 0 or surplus(high) > 0:
            found.append(None)
        else:
            found.append(float(sp.optimize.brentq(surplus, low, high, xtol=1e-9 * high)))
    return found[0], found[1]
