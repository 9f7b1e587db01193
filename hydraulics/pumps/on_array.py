"""Which of these pumps drives this array, cold and warm, and how does the flow split then?

The system curves are those of the array itself: each point is the network solved at that flow,
with the brine of its temperature.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g

from hydraulics.errors import Fault, InputError
from hydraulics.findings import FREEZING_MARGIN, listed
from hydraulics.fluid.mixture import Mixture
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.heights import NOWHERE, Heights, levels_of, place_findings
from hydraulics.pipework.exchanger import FURTHEST
from hydraulics.pipework.friction import LARGEST_REYNOLDS
from hydraulics.pumps.findings import pump_findings
from hydraulics.pumps.result import ArrayCondition, CandidateCurve, PumpsOnArray
from hydraulics.pumps.running import PumpedFluid, SystemCurve
from hydraulics.pumps.selection import (
    Candidate,
    Condition,
    Selection,
    SetAside,
    select,
    tolerance_head,
)
from hydraulics.split.assembly import IN_LOOP, Network, assemble
from hydraulics.split.duty import Duty, FlowDuty, duty_fluids
from hydraulics.split.flow_split import refuse_reynolds
from hydraulics.split.many import pressures_at
from hydraulics.split.reached import reached
from hydraulics.split.result import FlowSplit
from hydraulics.split.solver import solve, solve_at
from hydraulics.split.state import Solution
from hydraulics.split.target import target_flows

Array = NDArray[np.float64]

WARM_SHARE: Final = 0.5  # of the run hours in the warm condition; common practice, no source
STEP: Final = 1.08  # between solved flows; the curve is then within 0.4 % of head in transition,
# where it bends most (measured on manifolds of equal straight loops), and far closer elsewhere
STEPS_DOWN: Final = 20  # from the duty's flow to 0.21 of it, or to where a pump runs below that
MOST_STEPS: Final = 120  # up or down at once; 1.08^120 is 10,000 times the duty
MORE_STEPS: Final = 8  # upwards, where those did not reach the end
_ENDS: Final = (
    f", {FURTHEST:g} times as far as the heat exchanger's data",
    "give a point of its data sheet near that flow, or the exponent of its law",
)
METHOD: Final = (
    "System curve: array and plant solved at each flow with the brine of the condition, between "
    "them monotone interpolation of ln head in ln flow. Pump: PCHIP through its table, affinity "
    "laws between speeds, viscosity by ANSI/HI 9.6.7; power by density. Operating point: "
    "intersection by Brent's method. Ranking: pumps that give the flow of the duty in every "
    "condition, by energy of a year. The heat exchanger's drop is that of its data in every "
    "condition."
)


@dataclass(frozen=True, slots=True)
class Warm:
    """The warm condition.

    Attributes
    ----------
    to_ground_temperature, from_ground_temperature
        Brine on its way out and back [°C].
    share
        Share of the run hours in this condition, 0 to 1.
    """

    to_ground_temperature: float
    from_ground_temperature: float
    share: float = WARM_SHARE


@dataclass(frozen=True, slots=True)
class PumpChoicePlan:
    """Pumps to judge, and what to hold them to.

    Attributes
    ----------
    candidates
        Pumps as installed, at least one; among them those that no pump can be made of.
    own
        How many of them, from the first, are the caller's; the rest are invented.
    grade
        Key of `TOLERANCES`.
    take
        Name of the pump to put in, which no other may have; None for none.
    """

    candidates: tuple[Candidate | SetAside, ...]
    own: int = 0
    grade: str = "up_to_10_kw"
    take: str | None = None

    def __post_init__(self) -> None:
        if not any(isinstance(each, Candidate) for each in self.candidates):
            raise InputError(Fault("candidates", "give at least one pump", 0, "1 or more"))
        meant = [
            (f"candidates.{n}" if n < self.own else "an invented one") + _control(each)
            for n, each in enumerate(self.candidates)
            if _name(each) == self.take
        ]
        if self.take is not None and not meant:
            names = listed(list(dict.fromkeys(map(_name, self.candidates))))
            text = f"none of the pumps is called '{self.take}'; take one of them, or leave take out"
            raise InputError(Fault("take", text, self.take, names))
        if len(meant) > 1:
            text = f"'{self.take}' is the name of {listed(meant)}; give each pump a name of its own"
            text += ", or leave take out and give the one that is meant as the job's pump"
            raise InputError(Fault("take", text, self.take, "a name that one pump has"))


def _control(each: Candidate | SetAside) -> str:
    return "" if isinstance(each, SetAside) else f" ({each.control})"


def _name(each: Candidate | SetAside) -> str:
    return each.name if isinstance(each, SetAside) else each.pump.name


def pumps_on_array(
    split: FlowSplit,
    circuit: Circuit,
    plant: Plant,
    *,
    mixture: Mixture,
    duty: Duty,
    plan: PumpChoicePlan,
    warm: Warm | None = None,
    margin: float = FREEZING_MARGIN,
    heights: Heights = NOWHERE,
) -> PumpsOnArray:
    """Judge and rank pumps on an array, cold and warm.

    Parameters
    ----------
    split
        The array at the duty, cold.
    duty
        Flow, heat or pump curve at the coldest design temperatures. Its flow is asked for in
        every condition.
    warm
        The warm condition; None to judge in the cold alone.
    margin
        How far the coldest brine must stay above freezing without a finding [K].
    heights
        Levels of plant and ground, as far as they are told.

    Raises
    ------
    InputError, RangeError, NoSolutionError
        As `flow_split` and `select`; or nothing flows; or the warm condition is not warmer. A pump
        that cannot do the duty is no error.
    """
    _refuse_warm(warm, duty)
    total = split.solution.total
    if total <= 0.0 or split.pump.pressure <= 0.0:
        text = "nothing flows or nothing drops, so that no pump can be chosen"
        raise InputError(Fault("duty", text, total, "a flow above 0"))
    share = 0.0 if warm is None else warm.share
    places = [n for n, each in enumerate(plan.candidates) if isinstance(each, Candidate)]
    candidates = [each for each in plan.candidates if isinstance(each, Candidate)]
    reach = _reach(candidates)
    out, back = duty.to_ground_temperature, duty.from_ground_temperature
    cold = split.network, split.solution, (out, back)
    hours = plant.run_hours
    conditions = [_condition("cold", *cold, hours=hours * (1.0 - share), reach=reach)]
    if warm is not None:
        temperatures = (warm.to_ground_temperature, warm.from_ground_temperature)
        network, solution = _warmed(circuit, plant, mixture, warm, split)
        conditions.append(
            _condition("warm", network, solution, temperatures, hours=hours * share, reach=reach)
        )

    def judge() -> tuple[tuple[Selection, ...], tuple[SetAside, ...]]:
        return select(
            candidates,
            split.pump.volume_flow,
            split.pump.head,
            [each.condition for each in conditions],
            heat=abs(split.heat) or None,
            tolerance_grade=plan.grade,
        )

    selections, unlike = judge()
    if deeper := _deeper(conditions, selections, reach):
        conditions = deeper
        selections, unlike = judge()
    position = {id(each): place for each, place in zip(candidates, places, strict=True)}
    aside = [each for each in plan.candidates if isinstance(each, SetAside)]
    aside += [replace(each, place=places[each.place]) for each in unlike]
    for each in aside:
        if each.name == plan.take:
            text = f"'{plan.take}' is set aside and cannot be taken: {'; '.join(each.reasons)}"
            allowed = listed([one.candidate.pump.name for one in selections])
            raise InputError(Fault("take", text, plan.take, allowed))
    at_pump = tuple(
        _with_split(each, result.point.flow if result.point is not None else None, split)
        for each, result in zip(conditions, selections[0].conditions, strict=True)
    )
    return PumpsOnArray(
        split=split,
        conditions=at_pump,
        selections=selections,
        places=tuple(position[id(each.candidate)] for each in selections),
        own=plan.own,
        set_aside=tuple(sorted(aside, key=lambda each: each.place)),
        findings=(
            *pump_findings(
                selections,
                at_pump,
                split,
                levels_of(circuit, plant, heights),
                mixture=mixture,
                duty=duty,
                margin=margin,
            ),
            *place_findings(heights),
        ),
    )


def _refuse_warm(warm: Warm | None, duty: Duty) -> None:
    if warm is None:
        return
    faults = []
    mean = 0.5 * (duty.to_ground_temperature + duty.from_ground_temperature)
    if not warm.to_ground_temperature + warm.from_ground_temperature > 2.0 * mean:
        text = (
            "the warm condition must be warmer than the duty, which is the coldest case; its mean "
            f"is {mean:g} °C"
        )
        faults.append(Fault("warm", text, warm.to_ground_temperature, f"mean above {mean:g} °C"))
    if not 0.0 <= warm.share <= 1.0:
        text = "the share of hours must be 0 to 100 %"
        faults.append(Fault("warm.share", text, 100.0 * warm.share, "0 to 100 %"))
    if faults:
        raise InputError(*faults)


def _warmed(
    circuit: Circuit, plant: Plant, mixture: Mixture, warm: Warm, cold: FlowSplit
) -> tuple[Network, Solution]:
    """The array in warm brine, solved at the duty's volume flow from the cold solution."""
    out, back = warm.to_ground_temperature, warm.from_ground_temperature
    fluids = duty_fluids(mixture, FlowDuty(cold.pump.volume_flow, out, back))
    network = assemble(circuit, plant, fluids)
    total = cold.pump.volume_flow * fluids[IN_LOOP].density
    ratio = total / cold.solution.total
    solution = solve(network, total, start=cold.solution.flow[: network.rows] * ratio)
    refuse_reynolds(network, solution)
    return network, solution


def _reach(candidates: Sequence[Candidate]) -> tuple[float, float]:
    """Largest flow [m³/s] and head [m] that any candidate has at its highest speed on water.

    Viscous brine only lowers both. A quarter is added for the edge of the widest tolerance.
    """
    flows, heads = [], []
    for candidate in candidates:
        for curve in candidate.pump.curves:
            flows.append(float(curve.flow[-1]) * candidate.parallel)
            heads.append(float(curve.head[0]) * candidate.series)
    return 1.25 * max(flows), 1.25 * max(heads)


def _deeper(
    conditions: Sequence[ArrayCondition],
    selections: Sequence[Selection],
    reach: tuple[float, float],
) -> list[ArrayCondition]:
    """The conditions with curves down to the least flow of any pump; none where they reach it.

    A system's curve bends upwards, so that the straight way to rest lies above it and the flow
    found on that is never more than the true one.
    """
    flows = []
    for judged in selections:
        for result, each in zip(judged.conditions, conditions, strict=True):
            point = result.point
            if point is None:
                begins = judged.candidate.at(judged.speed, each.condition.fluid).flow_min
                flows.append(begins if begins > 0.0 else math.inf)
            else:
                flows += [point.flow, *(flow for flow in result.flow_band if flow is not None)]
    least = min(flows)
    if all(least >= float(each.condition.system.flow[0]) for each in conditions):
        return []
    return [
        replace(
            each,
            condition=replace(
                each.condition,
                system=array_system_curve(each.network, each.solution, *reach, least_flow=least),
            ),
        )
        for each in conditions
    ]


def _condition(
    name: str,
    network: Network,
    solution: Solution,
    temperatures: tuple[float, float],
    *,
    hours: float,
    reach: tuple[float, float],
) -> ArrayCondition:
    brine = network.fluids[IN_LOOP]
    condition = Condition(
        name=name,
        system=array_system_curve(network, solution, *reach),
        fluid=PumpedFluid(brine.density, brine.viscosity / brine.density),
        run_hours=hours,
        capacity=brine.density * brine.specific_heat,
    )
    return ArrayCondition(condition, *temperatures, network, solution)


def array_system_curve(
    network: Network,
    solution: Solution,
    largest_flow: float,
    largest_head: float,
    *,
    least_flow: float = math.inf,
) -> SystemCurve:
    """Head of array and plant from well below the duty to where no candidate reaches any more.

    Parameters
    ----------
    network, solution
        The array, and its solution at the duty's flow, more than 0.
    largest_flow, largest_head
        Beyond either [m³/s], [m] the curve is not wanted.
    least_flow
        Down to this [m³/s] it is, where that lies below its usual beginning.

    Returns
    -------
    SystemCurve
        In volume flow at the loops' temperature and metres of that brine. It ends early where the
        friction law does, or what is told of the heat exchanger.
    """
    density = network.fluids[IN_LOOP].density
    weight = density * g
    duty = solution.total
    reynolds = float((np.abs(solution.flow[network.owner]) * network.reynolds_per_flow).max())
    # Loops may share the flow otherwise at other flows; half of the law's range is left for that.
    last = min(largest_flow * density, duty * max(1.0, 0.5 * LARGEST_REYNOLDS / reynolds))
    known = math.inf
    if network.exchanger is not None:
        known = max(duty, network.exchanger.furthest * density)
        last = min(last, known)
    wanted = largest_head * weight
    fall = math.log(max(1.0, duty / (least_flow * density))) / math.log(STEP)
    down = min(MOST_STEPS, max(STEPS_DOWN, math.ceil(fall) + 1))
    totals = duty * STEP ** np.arange(-down, _steps_up(solution, last, wanted) + 1.0)
    pressure, _ = pressures_at(network, totals, solution)
    while totals[-1] < last and pressure[-1] <= wanted:
        more = totals[-1] * STEP ** np.arange(1.0, MORE_STEPS + 1.0)
        totals = np.concatenate((totals, more))
        pressure = np.concatenate((pressure, pressures_at(network, more, solution)[0]))
    if totals[-1] <= known:
        return SystemCurve(totals / density, pressure / weight)
    kept = totals < known * (1.0 - 1e-9)
    at_end, _ = pressures_at(network, np.asarray([known]), solution)
    return SystemCurve(
        np.append(totals[kept], known) / density,
        np.append(pressure[kept], at_end) / weight,
        ends=_ENDS,
    )


def _steps_up(solution: Solution, last: float, wanted: float) -> int:
    """Steps from the duty to where the curve should end, were its exponent 1.75 (Blasius)."""
    by_head = (wanted / _pressure(solution)) ** (1.0 / 1.75)
    ratio = max(STEP, min(last / solution.total, by_head))
    return min(MOST_STEPS, math.ceil(math.log(ratio) / math.log(STEP)))


def _pressure(solution: Solution) -> float:
    return solution.array_drop + solution.run_drop + solution.exchanger_drop


def _with_split(each: ArrayCondition, flow: float | None, split: FlowSplit) -> ArrayCondition:
    """The condition with the flow split at a pump's flow."""
    at_pump = None
    network = each.network
    if flow is not None:
        total = flow * network.fluids[IN_LOOP].density
        (solution,) = solve_at(network, [total], each.solution)
        wanted = target_flows(network, total, split.target)
        at_pump = reached(network, solution, wanted, split.tolerance)
    return replace(each, at_pump=at_pump)


def candidate_curve(selection: Selection, condition: Condition, count: int = 15) -> CandidateCurve:
    """Sample a candidate as it runs in a condition, for a picture or a table.

    Parameters
    ----------
    selection
        The candidate as judged, with an operating point in the condition.
    condition
        The condition.
    count
        Points from the first to the last flow that its tables cover.

    Returns
    -------
    CandidateCurve
        At the speed of its operating point.
    """
    result = next(each for each in selection.conditions if each.name == condition.name)
    assert result.point is not None
    pumps = selection.candidate.at(result.point.speed, condition.fluid)
    flow, head, power = pumps.sample(count)
    low, high = (
        np.asarray(
            [tolerance_head(pumps, selection.tolerance, q, upper=upper) for q in flow.tolist()]
        )
        for upper in (False, True)
    )
    return CandidateCurve(flow, head, power, low, high)
