"""What a maker limits a pump to, held against where it runs: flow, motor and inlet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import scipy as sp
from scipy.constants import g

from hydraulics.errors import RangeError
from hydraulics.findings import COMMON_PRACTICE, Finding, beyond, figures, listed
from hydraulics.pumps.result import ArrayCondition
from hydraulics.pumps.running import OperatingPoint, RunningPumps
from hydraulics.pumps.selection import (
    ConditionResult,
    Selection,
    tolerance_head,
    weak_is_less,
)
from hydraulics.split.assembly import IN_LOOP

PREFERRED: Final = (0.70, 1.20)  # of the flow of best efficiency
PREFERRED_SOURCE: Final = (
    "preferred operating region, ANSI/HI 9.6.3-2012, as quoted on a public page"
)
ATMOSPHERE: Final = 89_875.0  # Pa, at 1,000 m above the sea (ISO 2533): the safe side below that
NPSH_MARGIN: Final = 0.5  # m over what the pump requires; common practice, no source
_SAMPLES: Final = 33
_SPEEDS: Final = 9
# Antoine: log10(p/mmHg) = A - B/(C + t/°C), constants from memory (common tables). Each component
# alone: a mixture has no more than their sum, whatever its strength, so that the sum is safe.
_VOLATILE: Final = {
    "water": (8.07131, 1730.63, 233.426),
    "ethanol": (8.20417, 1642.89, 230.300),
    "methanol": (8.08097, 1582.27, 239.726),
}
_MMHG: Final = 133.322  # Pa


def vapour_pressure(temperature: float) -> float:
    """No less than the vapour pressure of any brine [Pa], -20 to 100 °C.

    That of water, of ethanol and of methanol, added: which antifreeze is in the water is left open.
    """
    return sum(float(_MMHG * 10.0 ** (a - b / (c + temperature))) for a, b, c in _VOLATILE.values())


def of_best(judged: Selection, result: ConditionResult, each: ArrayCondition) -> float | None:
    """Flow over the flow of best efficiency in a condition [-]; None without operating point."""
    if result.point is None:
        return None
    return result.point.flow / _runs(judged, result, each).best_flow


def most_power(judged: Selection, result: ConditionResult, each: ArrayCondition) -> float | None:
    """Largest electrical power of all the pumps in a condition [W]; None without operating point.

    Over the flows from the weak edge of the tolerance (its table's beginning where that is not
    known) to the strong one, times what the strong edge gives more head; at full speed under a
    control that may turn up to it.
    """
    point = result.point
    if point is None:
        return None
    pumps = _at_most_power(judged, point, each)
    low = result.flow_band[0]
    strong = _strongest(judged, point, result)
    flows = np.linspace(pumps.flow_min if low is None else low, strong, _SAMPLES)
    largest = max(pumps.power_at(flow) for flow in (*flows.tolist(), point.flow))
    return largest * (1.0 + judged.tolerance.head_high)


def least_inlet(judged: Selection, result: ConditionResult, each: ArrayCondition) -> float | None:
    """Least pressure over the atmosphere that its inlet needs in a condition [Pa].

    p = rho g (NPSH required + margin) + vapour pressure - atmosphere, at the larger of its own flow
    and that of the strong edge, and at the worst speed up to the one that a drive turns the weakest
    pump to. The velocity head at the inlet is left out, the safe side. None where its tables do not
    tell the NPSH.
    """
    point = result.point
    if point is None:
        return None
    flow = _strongest(judged, point, result)
    required = 0.0
    for speed in np.linspace(point.speed, _weakest_speed(judged, point, each), _SPEEDS).tolist():
        try:
            pumps = judged.candidate.at(speed, each.condition.fluid)
        except RangeError:  # between tables that share no flow
            continue
        asked = pumps.npsh_at(flow)
        if asked is None:
            return None
        required = max(required, asked)
    warmest = max(each.to_ground_temperature, each.from_ground_temperature)
    weight = each.network.fluids[IN_LOOP].density * g
    return weight * (required + NPSH_MARGIN) + vapour_pressure(warmest) - ATMOSPHERE


def worst_inlet(
    judged: Selection, conditions: Sequence[ArrayCondition]
) -> tuple[float, str] | None:
    """Most of `least_inlet` over the conditions [Pa], and in which, with what is to be said of it.

    None where its tables do not tell the NPSH, or it has no operating point.
    """
    needs = [
        (value, result.name + (", beyond its table" if _inlet_beyond(judged, result, each) else ""))
        for result, each in zip(judged.conditions, conditions, strict=True)
        if (value := least_inlet(judged, result, each)) is not None
    ]
    return max(needs, default=None)


def _strongest(judged: Selection, point: OperatingPoint, result: ConditionResult) -> float:
    """Flow [m3/s] that no pump within the tolerance passes where this one runs at a point.

    The strong edge's where that is known, else the most that it can be.
    """
    strong = result.flow_band[1]
    return _most_flow(judged, point) if strong is None else max(point.flow, strong)


def _most_flow(judged: Selection, point: OperatingPoint) -> float:
    """Most that the strong edge's flow [m3/s] can be where this pump runs at a point.

    A system's head over flow does not fall, so that a share more of head or flow gives no more than
    that share more of flow.
    """
    return point.flow * (1.0 + max(judged.tolerance.flow_high, judged.tolerance.head_high))


def _at_most_power(judged: Selection, point: OperatingPoint, each: ArrayCondition) -> RunningPumps:
    """The pumps at the speed of `most_power`."""
    candidate = judged.candidate
    speed = point.speed if candidate.control == "constant_speed" else candidate.pump.full_speed
    return candidate.at(speed, each.condition.fluid)


def _inlet_beyond(judged: Selection, result: ConditionResult, each: ArrayCondition) -> bool:
    """Whether the flow that `least_inlet` counts lies beyond the table as it runs."""
    point = result.point
    if point is None:
        return False
    return _strongest(judged, point, result) > _runs(judged, result, each).flow_max


def _beyond_table(
    judged: Selection, results: Sequence[tuple[ConditionResult, ArrayCondition]]
) -> list[Finding]:
    """Where inlet or motor are judged by what is not in the tables, and how much further to give.

    Told of what the tables tell or its maker limits.
    """
    pump = judged.candidate.pump
    asked: dict[str, list[str]] = {"its inlet needs": [], "its motor takes": []}
    further = 0.0
    for result, each in results:
        point = result.point
        if point is None:
            continue
        strong = _strongest(judged, point, result)
        runs, hardest = _runs(judged, result, each), _at_most_power(judged, point, each)
        for what, told, pumps in (
            ("its inlet needs", runs.npsh_at(strong), runs),
            ("its motor takes", pump.rated_power, hardest),
        ):
            if told is not None and strong > pumps.flow_max:
                asked[what].append(result.name)
                further = max(further, _most_flow(judged, point) / pumps.flow_max - 1.0)
    whats = [f"what {what} ({listed(names)})" for what, names in asked.items() if names]
    if not whats:
        return []
    text = (
        f"{pump.name}: a pump at the strong edge of its tolerance runs beyond the end of its "
        f"table, where {listed(whats)} is not known: it is reckoned on from the last three points, "
        "and may be more. Give points of its data sheet as far as "
        f"{math.ceil(100.0 * further)} % beyond its last flow, or take a pump whose table goes on"
    )
    return [Finding("pump_needs_beyond_table", "warning", text, "the pump's table")]


def _weakest_speed(judged: Selection, point: OperatingPoint, each: ArrayCondition) -> float:
    """Speed at which the weakest pump accepted gives as much; its own where nothing turns it up."""
    candidate, full = judged.candidate, judged.candidate.pump.full_speed
    if candidate.control == "constant_speed":
        return point.speed

    def short(speed: float) -> float:
        pumps = candidate.at(speed, each.condition.fluid)
        flow = min(point.flow, pumps.flow_max * (1.0 - judged.tolerance.flow_low))
        return point.head - tolerance_head(pumps, judged.tolerance, flow, upper=False)

    if short(full) >= 0.0:
        return full
    if short(point.speed) <= 0.0:
        return point.speed
    try:
        return float(sp.optimize.brentq(short, point.speed, full, xtol=1e-6 * full))
    except RangeError:  # between tables that share no flow: full speed, the safe side
        return full


def _runs(judged: Selection, result: ConditionResult, each: ArrayCondition) -> RunningPumps:
    assert result.point is not None
    return judged.candidate.at(result.point.speed, each.condition.fluid)


def check_findings(judged: Selection, conditions: Sequence[ArrayCondition]) -> list[Finding]:
    """What is told of a pump's own limits at the points where it runs.

    Parameters
    ----------
    judged
        The pump.
    conditions
        The array, cold and warm.
    """
    found = []
    name, pump = judged.candidate.pump.name, judged.candidate.pump
    results = list(zip(judged.conditions, conditions, strict=True))

    off = []
    for result, each in results:
        ratio = of_best(judged, result, each)
        if ratio is not None and not PREFERRED[0] <= ratio <= PREFERRED[1]:
            ends = any(c.best_at_end for c in pump.curves)
            share = beyond(100.0 * ratio, 100.0 * PREFERRED[ratio > 1.0], 0)
            off.append(f"{result.name} {'at most ' if ends else ''}{share} %")
    if off:
        text = (
            f"{name}: runs away from its best efficiency, at {listed(off)} of that flow, where 70 "
            "to 120 % is preferred: it takes more power for what it gives and wears sooner; a pump "
            "whose best efficiency lies nearer is better"
        )
        found.append(Finding("pump_off_best_flow", "info", text, PREFERRED_SOURCE))

    found += _below_least_flow(judged, results)
    found += _beyond_table(judged, results)

    if pump.rated_power is not None:
        rated = pump.rated_power * judged.candidate.parallel * judged.candidate.series
        high = [
            f"{beyond(most, rated, 0)} W {result.name}"
            for result, each in results
            if (most := most_power(judged, result, each)) is not None and most > rated
        ]
        if high:
            text = (
                f"{name}: may take {listed(high)} at the worst point of its tolerance, more than "
                f"the {rated:g} W that motor and drive are made for; take a larger motor"
            )
            found.append(Finding("pump_motor_overloaded", "warning", text, "the maker's limit"))

    worst, given = worst_inlet(judged, conditions), judged.candidate.inlet_pressure
    if worst is not None and given is not None and worst[0] > given:
        text = (
            f"{name}: its inlet needs "
            f"{beyond(worst[0] / 1e3, given / 1e3, 0)} kPa over the atmosphere "
            f"({worst[1]}), and {given / 1e3:g} kPa are given: it would cavitate; fill to a "
            "higher pressure, or set the vessel before the pump's inlet"
        )
        source = f"NPSH of its table, {NPSH_MARGIN:g} m over it ({COMMON_PRACTICE})"
        found.append(Finding("pump_inlet_low", "warning", text, source))
    return found


def _rounded_down(number: float) -> float:
    """The next lower number of three digits."""
    step = 10.0 ** (math.floor(math.log10(number)) - 2)
    return math.floor(number / step) * step


def _below_least_flow(
    judged: Selection, results: Sequence[tuple[ConditionResult, ArrayCondition]]
) -> list[Finding]:
    """Where it, or a pump at the weak edge, runs at less than its maker's least flow, or may."""
    candidate = judged.candidate
    name, several = candidate.pump.name, candidate.parallel
    if candidate.pump.min_flow is None:
        return []
    least = candidate.pump.min_flow * several
    low, unknown = [], []
    lowest: float | None = math.inf
    for result, each in results:
        point, weak = result.point, result.flow_band[0]
        if point is None:
            continue
        edge = "" if weak is None else f" at {figures(weak * 1e3)} L/s"
        if point.flow < least:
            runs = f"{result.name} it runs at {figures(point.flow * 1e3)} L/s"
            low.append(f"{runs} and its weak edge{edge}" if edge else runs)
        elif weak is None:
            at = candidate, point, each.condition, judged.tolerance
            if weak_is_less(*at, least) is not False:
                unknown.append(result.name)
            continue
        elif weak < least:
            low.append(f"{result.name} its weak edge runs{edge}")
        else:
            continue
        lowest = None if lowest is None or weak is None else min(lowest, weak, point.flow)
    texts = []
    if low:
        whose = f"the {several} of them" if several > 1 else "it"
        may = "less"
        if lowest is not None and not unknown:
            may = f"{figures(_rounded_down(lowest / several * 1e3))} L/s or less"
        texts.append(
            f"{name}: {', '.join(low)}, less than the {figures(least * 1e3)} L/s that its "
            f"maker lets {whose} run at for long; take a pump that may run at {may}: at "
            "a lower speed this one moves less still"
        )
    if unknown:
        texts.append(
            f"{name}: a pump at the weak edge of its tolerance may run at less than the "
            f"{figures(least * 1e3)} L/s that its maker asks for: its table is too short to "
            f"tell ({listed(unknown)}). Give more points of its data sheet, or take a pump "
            "that may run at less"
        )
    return [Finding("pump_below_min_flow", "warning", each, "the maker's limit") for each in texts]
