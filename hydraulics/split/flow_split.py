"""The main job: array layout and mixture in; flow and drop of every loop and pump duty out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g

from hydraulics.checks import refuse
from hydraulics.errors import Fault, InputError, NoSolutionError, RangeError
from hydraulics.findings import (
    FREEZING_MARGIN,
    GENERAL_CAUTIONS,
    RETURN_LIMIT,
    TOLERANCE,
    Finding,
    beyond,
    figures,
)
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Fluid, Mixture
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.edit import opened
from hydraulics.layout.heights import NOWHERE, Heights
from hydraulics.layout.walk import Walk, flowing, walk
from hydraulics.pipework.friction import (
    COIL_LAW_ERROR_PERCENT,
    LARGEST_REYNOLDS,
)
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import IN_LOOP, Network, assemble
from hydraulics.split.drops import header_drops, largest_reynolds, pipe_drops, port_drops
from hydraulics.split.duty import (
    Duty,
    FlowDuty,
    HeadCurve,
    HeatDuty,
    PumpDriven,
    duty_fluids,
    heat_flow,
)
from hydraulics.split.findings import (
    exchanger_findings,
    place_of_row,
    regime_findings,
    split_findings,
    velocity_findings,
)
from hydraulics.split.head_high import HeadHigh, head_high, is_transitional, transition_findings
from hydraulics.split.imbalance import Imbalance, judge, spread_of
from hydraulics.split.remedies import Remedy, remedies_for, with_valves
from hydraulics.split.result import CirculatingDuty, FlowSplit, LoopTable, Residuals, Solved
from hydraulics.split.solver import solve
from hydraulics.split.state import Solution
from hydraulics.split.target import Target, share_in_words, target_flows

Array = NDArray[np.float64]

_MOST_CAUSES: Final = 4  # that remedies are sought for
_MANY_LOOPS: Final = 1000  # of more, one cause is followed, and one choice of each remedy
_MISTYPED: Final = 5.0  # times the data's end: beyond, a number was mistyped; this project's own

FRICTION_METHOD: Final = (
    "Darcy-Weisbach. Straight pipe: 64/Re to Re 2000, Colebrook (1939) from Re 3000, between them "
    "a monotone cubic of ln(f Re²) in ln Re, laid through measured points (12 % rms). Coil: the "
    "greater of White (1929) laminar and Mishra & Gupta (1979) turbulent, rounded where they "
    "cross; coils hold within about "
    f"{COIL_LAW_ERROR_PERCENT:.0f} %."
)


def flow_split(
    circuit: Circuit,
    plant: Plant,
    mixture: Mixture,
    duty: Duty,
    *,
    target: Target = "even",
    tolerance: float = TOLERANCE,
    margin: float = FREEZING_MARGIN,
    least_return: float = RETURN_LIMIT,
    heights: Heights = NOWHERE,
    warmest: float | None = None,
    on_offer: tuple[Pipe, ...] = (),
    solved: Solved | None = None,
) -> FlowSplit:
    """Find flow, drop and imbalance of every loop and the circulating pump's duty.

    Parameters
    ----------
    circuit
        The array.
    plant
        What lies between the array and the pump.
    mixture
        Antifreeze and strength.
    duty
        Flow, heat or pump curve, with temperatures.
    target
        What flow each loop should have.
    tolerance
        Allowed deviation from it, as a fraction of it.
    margin
        How far the coldest brine must stay above freezing without a finding [K].
    least_return
        Coldest brine that may come back from the ground without a finding [°C].
    heights
        Levels of plant and ground, as far as they are told.
    warmest
        Warmest that the brine becomes elsewhere than at the duty [°C]; pipe bears less then.
    on_offer
        Pipes that can be had, for remedies; empty where that is not told.
    solved
        The array for this duty, where it was solved together with others.

    Returns
    -------
    FlowSplit
        All results.

    Raises
    ------
    InputError, RangeError
        The input cannot be, or is outside a correlation's range.
    NoSolutionError
        The pump's curve does not meet the system's.

    Notes
    -----
    A closed loop carries nothing and is left out of table, targets and verdict; the whole flow of
    the duty goes through the loops that are open.

    Brine is at the outgoing temperature in plant and header runs towards the ground, at the mean
    in loops, fittings and heat exchanger, and at the returning temperature on the way back. The
    loops' temperature is the mean for all, though a starved loop returns warmer. Buoyancy between
    the legs of a borehole is left out (a closed loop of equal legs; some 0.1 kPa per 100 m
    and 1 K).
    """
    if solved is None:
        network = network_of(circuit, plant, mixture, duty)
        solution = solve_for(network, duty)
        solved = Solved(network, solution, head_high(network, solution), None)
    result = split_of(
        solved.network,
        solved.solution,
        circuit,
        plant,
        mixture=mixture,
        duty=duty,
        target=target,
        tolerance=tolerance,
        margin=margin,
        least_return=least_return,
        heights=heights,
        warmest=warmest,
        on_offer=on_offer,
        high=solved.high,
    )
    return result if solved.around is None else replace(result, around=solved.around)


def network_of(circuit: Circuit, plant: Plant, mixture: Mixture, duty: Duty) -> Network:
    """Assemble an array for the brine of a duty, its loops named apart.

    Raises
    ------
    InputError, RangeError
        As :func:`flow_split` does before anything is solved.
    """
    network = assemble(circuit, plant, duty_fluids(mixture, duty))
    _refuse_equal_names(network, circuit)
    return network


def split_of(
    network: Network,
    solution: Solution,
    circuit: Circuit,
    plant: Plant,
    *,
    mixture: Mixture,
    duty: Duty,
    target: Target = "even",
    tolerance: float = TOLERANCE,
    margin: float = FREEZING_MARGIN,
    least_return: float = RETURN_LIMIT,
    heights: Heights = NOWHERE,
    warmest: float | None = None,
    on_offer: tuple[Pipe, ...] = (),
    high: HeadHigh | None = None,
) -> FlowSplit:
    """The flow split that a solution is, for an array that was solved already.

    Parameters
    ----------
    network, solution
        The array and its solution for the duty.
    circuit, plant, mixture, duty, target, tolerance, margin, least_return, heights, warmest
    on_offer
        As :func:`flow_split` takes them.
    high
        Its head at the upper edge of what is known, where that was found already.
    """
    refuse(
        None
        if 0.0 < tolerance <= 1.0
        else Fault(
            "limits.deviation", "must be more than 0 and at most 100 %", tolerance,
            "more than 0, at most 100 %",
        ),
        None
        if 0.0 <= margin <= 50.0
        else Fault("limits.freezing_margin", "must be 0 to 50 K", margin, "0 to 50 K"),
    )  # fmt: skip
    brine = network.fluids[IN_LOOP]
    target_flow = target_flows(network, solution.total, target)
    table = _loop_table(network, solution, target_flow)
    imbalance = None
    if solution.total > 0.0:
        imbalance = judge(network, table.deviation, target_flow, tolerance, share_in_words(target))
        if not imbalance.within_tolerance:
            asked = _Asked(
                circuit, plant, network, duty, target, target_flow, table.deviation,
                tolerance, on_offer,
            )  # fmt: skip
            imbalance = replace(imbalance, seek=partial(_remedies, asked, imbalance))
    result = FlowSplit(
        fluids=network.fluids,
        target=target,
        tolerance=tolerance,
        loops=table,
        imbalance=imbalance,
        pump=circulating_duty(solution, brine),
        high=high or head_high(network, solution),
        heat=_heat(duty, solution, brine),
        residuals=Residuals(
            solution.mass_residual,
            solution.energy_residual,
            place_of_row(network, solution.worst_row),
            solution.iterations,
        ),
        findings=(),
        cautions=(*GENERAL_CAUTIONS, KINDS[mixture.kind].caution),
        circuit=circuit,
        network=network,
        solution=solution,
    )
    findings = split_findings(
        result, circuit, plant, mixture, duty,
        margin=margin, least_return=least_return, heights=heights, warmest=warmest,
    )  # fmt: skip
    return replace(result, findings=findings)


def _has_set_valves(circuit: Circuit) -> bool:
    """Whether every loop, but for one that stays open, has a valve that was set."""
    loops = [each for each in flowing(circuit) if each.loop is not None]
    fitted = [any(one.valve for one in each.branch.fittings.fittings) for each in loops]
    return sum(fitted) >= max(len(loops) - 1, 1)


@dataclass(frozen=True, slots=True)
class _Asked:
    """An array that is out of tolerance, and how far each loop is from its target."""

    circuit: Circuit
    plant: Plant
    network: Network
    duty: Duty
    target: Target
    target_flow: Array
    deviation: Array
    tolerance: float
    on_offer: tuple[Pipe, ...]


def _remedies(asked: _Asked, imbalance: Imbalance) -> tuple[str, ...]:
    """What brings the array nearer when it is solved with it: what is enough first.

    Regulating valves are the last, but for spare pipe that is a loop of its own.
    """
    told: dict[str, _Solved] = {}
    apart = imbalance.apart
    if apart is None or not imbalance.why:
        return ()
    many = len(asked.network.loops) > _MANY_LOOPS
    for cause in imbalance.why[: 1 if many else _MOST_CAUSES]:
        loops = np.asarray(cause.loops)
        by_length = asked.target == "length"
        found = remedies_for(
            cause,
            asked.circuit,
            asked.network,
            apart,
            by_length=by_length,
            on_offer=asked.on_offer,
        )
        for choices in found:
            best = _best(
                asked,
                choices[:1] if many else choices,
                int(loops[np.abs(asked.deviation[loops]).argmax()]),
            )
            if best is not None:
                told[best.text] = min(told.get(best.text, best), best, key=_Solved.rank)
    throttled = with_valves(asked.network, apart, asked.target_flow)
    worst = int(np.abs(asked.deviation).argmax())
    ranked = sorted(told.values(), key=lambda each: not each.enough)
    words = [each.in_words for each in ranked if not each.last]
    if _nearer(asked, throttled, worst) is not None:
        valves = _has_set_valves(asked.circuit)
        words.append("set the regulating valves anew" if valves else "fit regulating valves")
    return (*words, *(each.in_words for each in ranked if each.last))


@dataclass(frozen=True, slots=True)
class _Solved:
    """A remedy as solved: whether the array is within its tolerance with it.

    Besides how far the loop is off that it is for, and which is off most, and what is allowed.
    """

    text: str
    amount: str
    last: bool
    enough: bool
    off: float
    worst: str
    most: float
    tolerance: float

    @property
    def in_words(self) -> str:
        text = self.text + self.amount
        if self.enough:
            return text
        off = beyond(100.0 * self.most, 100.0 * self.tolerance, 0)
        return f"{text} (not enough alone: {self.worst} is {off} % off then)"

    def rank(self) -> tuple[bool, float]:
        """By what one of two in the same words is told: the lesser is."""
        return not self.enough, self.most


def _best(asked: _Asked, choices: list[Remedy], loop: int) -> _Solved | None:
    """The change that brings a loop nearest; None where none brings it and the array nearer."""
    left: list[_Solved] = []
    for each in choices:  # the smallest first: one that reaches ends the search
        changed = each.array
        if isinstance(changed, Circuit):
            changed = assemble(changed, asked.plant, asked.network.fluids)
        deviation = _nearer(asked, changed, loop)
        if deviation is None:
            continue
        off, most = np.abs(deviation[loop]), np.abs(deviation).max()
        enough = bool(most <= asked.tolerance * (1.0 + 1e-9))
        worst = changed.names[int(np.abs(deviation).argmax())]
        beside = (float(off), worst, float(most), asked.tolerance)
        left.append(_Solved(each.text, each.amount, each.last, enough, *beside))
        if enough:
            break
    return min(left, key=lambda each: (not each.enough, each.off), default=None)


def _nearer(asked: _Asked, changed: Network, loop: int) -> Array | None:
    """How far the loops of the array as changed are off; None where that is no nearer.

    Nearer are the loop, the one that is worst, and the spread.
    """
    try:
        solution = solve_for(changed, asked.duty)
    except (InputError, NoSolutionError):  # beyond the friction law, or the pump's curve
        return None
    wanted = target_flows(changed, solution.total, asked.target)
    deviation: Array = solution.flow[changed.loop_rows] / wanted - 1.0
    after, before = np.abs(deviation), np.abs(asked.deviation)
    nearer = (
        after[loop] < before[loop] * (1.0 - 1e-6)
        and after.max() < before.max() * (1.0 - 1e-6)
        and spread_of(deviation) < spread_of(asked.deviation)
    )
    return deviation if nearer else None


def _refuse_equal_names(network: Network, circuit: Circuit) -> None:
    every: Network | Walk = walk(opened(circuit)) if network.closed else network
    if len(set(every.names)) == len(every.names):
        return
    seen: set[str] = set()
    faults: list[Fault] = []
    for name, place in zip(every.names, every.places, strict=True):
        if name in seen and len(faults) < 20:
            where = ".".join(f"branches.{i}" for i in place).replace(".b", ".item.b")
            faults.append(
                Fault(
                    f"circuit.{where}.item.name",
                    f"two loops are called '{name}'; name the loops or their circuits apart",
                    name,
                    "a name of its own for each loop",
                )
            )
        seen.add(name)
    raise InputError(*faults)


def solve_for(network: Network, duty: Duty) -> Solution:
    """Solve an assembled array for the flow that the duty asks for or the pump drives.

    Raises
    ------
    RangeError
        Some pipe's Reynolds number is beyond the law.
    NoSolutionError
        The pump's curve does not meet the system's.
    """
    total = flow_asked(network, duty)
    if total is not None:
        solution = solve(network, total)
    else:
        assert isinstance(duty, PumpDriven)
        solution = _solve_with_pump(network, duty, network.fluids[IN_LOOP])
    refuse_beyond(network, solution)
    return solution


def flow_asked(network: Network, duty: Duty) -> float | None:
    """Mass flow that a duty asks for [kg/s]; None where a pump drives it."""
    brine = network.fluids[IN_LOOP]
    if isinstance(duty, HeatDuty):
        return heat_flow(duty, brine)
    return duty.volume_flow * brine.density if isinstance(duty, FlowDuty) else None


def refuse_beyond(network: Network, solution: Solution) -> None:
    """Refuse a solution beyond the friction law or the heat exchanger's data.

    Raises
    ------
    RangeError
        Naming which.
    """
    refuse_reynolds(network, solution)
    _refuse_far_exchanger(network, solution.total / network.fluids[IN_LOOP].density)


def _refuse_far_exchanger(network: Network, volume: float) -> None:
    """Refuse a flow far beyond the heat exchanger's points, of which nothing is known."""
    exchanger = network.exchanger
    if exchanger is not None and volume > exchanger.furthest:
        end, times = exchanger.flows[-1] * 1e3, exchanger.beyond(volume)
        mistyped = "check the heat or the flow (kW, L/s) first, and " if times > _MISTYPED else ""
        raise RangeError(
            Fault(
                "plant.exchanger",
                f"the heat exchanger's data end at {figures(end)} L/s and "
                f"{figures(volume * 1e3)} L/s would flow, {figures(times)} times that; "
                f"{mistyped}give a point of its data sheet near this flow, or the exponent of its "
                "law (2: drop goes with the square of the flow)",
                round(end, 6),
                f"flows up to {figures(exchanger.furthest * 1e3)} L/s, or an exponent",
            )
        )


def refuse_reynolds(network: Network, solution: Solution) -> None:
    """Refuse a solution beyond the friction law's last Reynolds number.

    Parameters
    ----------
    network, solution
        The array and its solution.

    Raises
    ------
    RangeError
        Some pipe's Reynolds number is beyond the law.
    """
    largest = largest_reynolds(network, solution)
    if largest > LARGEST_REYNOLDS:
        raise RangeError(
            Fault(
                "duty",
                f"the Reynolds number reaches {figures(largest, 2)}, beyond the friction law; "
                "check the flow and the bores",
                None,
                f"Reynolds numbers up to {LARGEST_REYNOLDS:.0e}",
            )
        )


def _solve_with_pump(network: Network, duty: PumpDriven, brine: Fluid) -> Solution:
    """Find the flow at which array and plant take what the pump gives."""
    curve = HeadCurve(duty.flows, duty.heads)
    weight = brine.density * g
    exchanger = network.exchanger

    def outer(total: float) -> tuple[float, float]:
        volume = total / brine.density
        head, slope = curve.head(volume)
        drop, drop_slope = exchanger.drop(volume) if exchanger is not None else (0.0, 0.0)
        return drop - weight * head, (drop_slope - weight * slope) / brine.density

    solution = solve(network, 0.5 * duty.flows[-1] * brine.density, outer=outer)
    volume = solution.total / brine.density
    if not duty.flows[0] * (1 - 1e-9) <= volume <= duty.flows[-1] * (1 + 1e-9):
        end, at = ("last", duty.flows[-1]) if volume > duty.flows[-1] else ("first", duty.flows[0])
        raise NoSolutionError(
            Fault(
                "duty.points",
                f"the pump's curve meets the system's at {figures(volume * 1e3)} L/s, beyond the "
                f"{end} point of the curve; give more points of the pump's curve",
                at * 1e3,
                "a curve that covers the operating point",
            )
        )
    return solution


def regime_and_velocity(network: Network, solution: Solution, target: Array) -> list[Finding]:
    """What a split of these flows says of regimes in the loops and of velocity.

    Parameters
    ----------
    network, solution
        The array and its solution, in which something flows.
    target
        Mass flow that each loop should have [kg/s].
    """
    table = _loop_table(network, solution, target)
    return [
        *regime_findings(table),
        *transition_findings(network, solution, head_high(network, solution)),
        *exchanger_findings(network, solution),
        *velocity_findings(network, solution),
    ]


def _heat(duty: Duty, solution: Solution, brine: Fluid) -> float:
    change = duty.from_ground_temperature - duty.to_ground_temperature
    return solution.total * brine.specific_heat * change


def circulating_duty(solution: Solution, brine: Fluid) -> CirculatingDuty:
    """What the pump must do for a solved array and plant.

    Parameters
    ----------
    solution
        The solution.
    brine
        Brine at the mean temperature, which the pump's volume flow and head are told in.

    Returns
    -------
    CirculatingDuty
        Flow, pressure, head, power and where the pressure goes.
    """
    pressure = solution.array_drop + solution.run_drop + solution.exchanger_drop
    volume_flow = solution.total / brine.density
    return CirculatingDuty(
        mass_flow=solution.total,
        volume_flow=volume_flow,
        pressure=pressure,
        head=pressure / (brine.density * g),
        hydraulic_power=pressure * volume_flow,
        array_drop=solution.array_drop,
        run_drop=solution.run_drop,
        exchanger_drop=solution.exchanger_drop,
    )


def _loop_table(network: Network, solution: Solution, target_flow: Array) -> LoopTable:
    loops = network.loops
    at = network.loop_rows
    flow = solution.flow[at]
    coil = pipe_drops(network, solution, coiled=True)
    straight = pipe_drops(network, solution, coiled=False)
    fittings = port_drops(network, solution)[at]
    length = np.asarray([loop.length for loop in loops])
    main = network.main + np.asarray(
        [loop.gathering_section - loop.main_section for loop in loops], dtype=np.intp
    )
    brine = network.fluids[IN_LOOP]
    reynolds = np.abs(flow) * network.reynolds_per_flow[main]
    bore = network.bore[main]
    total = solution.total
    share = flow / total if total else np.zeros_like(flow)
    return LoopTable(
        names=network.names,
        places=network.places,
        length=length,
        coiled_length=np.asarray([loop.coiled_length for loop in loops]),
        mass_flow=flow,
        volume_flow=flow / brine.density,
        target_flow=target_flow / brine.density,
        share=share,
        deviation=flow / target_flow - 1.0 if total else np.zeros_like(flow),
        deviation_by_length=share * (length.sum() / length) - 1.0 if total else np.zeros_like(flow),
        velocity=flow / brine.density / (network.parallel[main] * 0.25 * np.pi * bore**2),
        reynolds=reynolds,
        regime=_regime(reynolds, network.critical[main]),
        drop=straight + coil + fittings,
        straight_drop=straight,
        coil_drop=coil,
        fittings_drop=fittings,
        header_drop=header_drops(network, solution)[at],
    )


def _regime(reynolds: Array, critical: Array) -> NDArray[np.intp]:
    """Index into REGIMES."""
    return 2 * (reynolds > critical).astype(np.intp) - is_transitional(reynolds, critical)
