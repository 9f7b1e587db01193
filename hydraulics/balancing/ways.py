"""What can be done for every loop to reach its target flow? The ways side by side.

All ways are compared at the same total flow, that of the array as it is, or, where a pump's curve
sets it, at that which the pump gives with the way put in.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from hydraulics.balancing.other_pipe import (
    Exchange,
    Situation,
    Tried,
    at_duty,
    larger_headers,
    other_loop_pipes,
    resolved,
    route_pipes,
    told_of,
)
from hydraulics.balancing.ranking import loops_off_manifolds, ranked
from hydraulics.balancing.result import Balancing, Disturbance, PipeTaken, Way, WayKind
from hydraulics.balancing.spare_pipe import spare_lengths, with_spare_pipe
from hydraulics.balancing.unlike import most_unlike
from hydraulics.balancing.valves import (
    ValveSettings,
    ValveTable,
    kv_there,
    name_of,
    nearer_positions,
    open_globe_valves,
    set_valves,
    valve_findings,
    valve_settings,
    valves_before_circuits,
    with_settings,
    with_valves,
    without_valves,
)
from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError, NoSolutionError, RangeError
from hydraulics.findings import (
    COMMON_PRACTICE,
    HEAD_LIMIT,
    Finding,
    beyond,
    counted,
    figures,
    listed,
)
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import PARTS, Part, Stretch, has_probe, pieces_of, stretches
from hydraulics.layout.edit import (
    has_header_between,
    in_reverse_return,
    one_by_one,
    return_sizes,
)
from hydraulics.layout.walk import circuits_of, flowing_circuits, standings
from hydraulics.pipework.pipe import STANDARD_COILS, Pipe, bundle, tight_bend
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.duty import Duty
from hydraulics.split.flow_split import regime_and_velocity
from hydraulics.split.imbalance import judge
from hydraulics.split.reached import Reached, reached
from hydraulics.split.remedies import LONG_SPARE
from hydraulics.split.result import FlowSplit
from hydraulics.split.target import share_in_words, target_flows

Array = NDArray[np.float64]
Measure = TypeVar("Measure")

PUMP_EFFICIENCY: Final = 0.30  # electricity to water of a small circulator; common practice
COIL_DIAMETER: Final = 1.0  # m, of spare pipe left in coils; common practice
EXACT: Final = 1e-6  # of the target; what is nearer cannot be told from rounding
GROUT: Final = 0.06  # m; bore less pipe bundle, 30 mm all round
GROUT_SOURCE: Final = "VDI 4640-2: 30 mm of grout all round the bundle (from memory)"
FLOW_KEPT: Final = 0.9  # of the flow before, by the pump's curve; common practice, no source
MOST_TURNS: Final = 30  # between what is put in and the flow that a pump gives with it
METHOD: Final = (
    "All ways at the total flow of the array as it is or, with a pump's curve as the duty, at that "
    "which the pump then gives. Valves and spare pipe: drops at the target "
    "flows, what each path takes less than the index path goes to its valve or its added pipe; "
    "then the array is solved with them, valves from a table in their nearest positions or, where "
    "those miss, in the combination that was found to reach or to come nearest; a valve that is "
    "not told is, open, a globe valve of its loop's bore. Reverse return "
    "and pipe sizes: the changed array is solved. Kv: EN 60534-1. Energy: pressure times flow "
    "times run hours, over one efficiency."
)


Heat = Callable[[Network, Array], float]
"""Heat that an array exchanges at its loops' mass flows [kg/s], more being better [W]."""


@dataclass(frozen=True, slots=True)
class _Case:
    """The array as it is, solved, and how to reckon."""

    situation: Situation
    split: FlowSplit
    target: Array
    joules_per_watt: float
    coil_lengths: Mapping[str, Sequence[float]]
    heat: Heat | None

    @property
    def as_it_is(self) -> Reached:
        """Flows and duty as they are."""
        return reached(self.network, self.split.solution, self.target, self.situation.tolerance)

    @property
    def network(self) -> Network:
        """As assembled."""
        return self.split.network


@dataclass(frozen=True, slots=True)
class BalancingPlan:
    """What may be done for the loops to have their flow.

    Attributes
    ----------
    valve
        Positions and Kv of the valve in mind; None: settings without a table.
    coil_diameter
        Of spare pipe [m].
    length_step
        Spare pipe is cut to whole multiples of it [m]; 0: not rounded.
    closing_length
        Of a reverse return [m]; None: as long as the header.
    pump_efficiency
        Hydraulic over electrical power, more than 0, at most 1.
    coil_lengths
        Coil lengths on offer [m] by pipe name; :data:`STANDARD_COILS` for a pipe not named.
    most_spare
        Longest spare pipe that one loop may have [m]; infinite: any.
    take
        Way to put in; None for none.
    """

    valve: ValveTable | None = None
    coil_diameter: float = COIL_DIAMETER
    length_step: float = 0.0
    closing_length: float | None = None
    pump_efficiency: float = PUMP_EFFICIENCY
    coil_lengths: Mapping[str, Sequence[float]] = field(default_factory=dict)
    most_spare: float = math.inf
    take: WayKind | None = None

    def __post_init__(self) -> None:
        refuse(
            None
            if 0.0 < self.pump_efficiency <= 1.0
            else Fault(
                "pump_efficiency",
                "an efficiency is more than 0 and at most 100 %",
                self.pump_efficiency,
                "more than 0, at most 100 %",
            ),
            number_fault("length_step", self.length_step, "m", at_least=0.0),
            None
            if self.closing_length is None
            else number_fault("closing_length", self.closing_length, "m", at_least=0.0),
        )


def balance(
    split: FlowSplit,
    circuit: Circuit,
    plant: Plant,
    duty: Duty,
    plan: BalancingPlan,
    *,
    heat: Heat | None = None,
    heat_from: str = "not told",
) -> Balancing:
    """Compare the ways to make every loop of an array reach its target flow.

    Parameters
    ----------
    split
        Flow split of the array as it is; its total flow, target and tolerance hold for every way.
    circuit, plant, duty
        What was split.
    plan
        Options.
    heat, heat_from
        What the array exchanges with the ground, and whence that is known, in words.

    Returns
    -------
    Balancing
        Ways in a fixed order: valves, spare pipe, reverse return, larger headers, other loop pipe.

    Raises
    ------
    InputError, RangeError, NoSolutionError
        As :func:`hydraulics.split.flow_split.flow_split`; or an option is out of bounds; or
        nothing flows.
    """
    network, total = split.network, split.solution.total
    if total <= 0.0:
        raise InputError(
            Fault("duty", "nothing flows, so nothing can be balanced", total, "a flow above 0")
        )
    target = target_flows(network, total, split.target)
    case = _Case(
        Situation(circuit, plant, split.fluids, duty, total, split.target, split.tolerance),
        split,
        target,
        plant.run_hours * 3600.0 / plan.pump_efficiency,
        plan.coil_lengths,
        heat,
    )
    ways = [_nothing_to_do(case, kind) or _made(case, plan, kind) for kind in _WAYS]
    return Balancing(
        names=network.names,
        places=network.places,
        target=target,
        tolerance=split.tolerance,
        ways=ranked(ways, split.pump, case.joules_per_watt),
        pump_efficiency=plan.pump_efficiency,
        run_hours=plant.run_hours,
        method=METHOD,
        split=split,
        heat_from=heat_from,
    )


def _nothing_to_do(case: _Case, kind: WayKind) -> Way | None:
    if len(case.target) == 1:
        return Way(kind, "not_possible", "the array has one loop: there is nothing to balance")
    if float(np.abs(case.split.loops.deviation).max()) <= EXACT:
        return Way(kind, "not_possible", "every loop has its flow already: nothing is to be done")
    return None


def _made(case: _Case, plan: BalancingPlan, kind: WayKind) -> Way:
    try:
        return _WAYS[kind](case, plan)
    except (NoSolutionError, RangeError) as error:  # beyond a curve, a law or data
        return Way(kind, "not_possible", f"with it {error.faults[0].message}")


def _settled(
    case: _Case, put_in: Callable[[float], tuple[Measure, Reached]]
) -> tuple[Measure, Reached]:
    """What is to be put in for a total flow [kg/s], at the flow that the array has with it.

    A pump by its curve gives another flow then, for which other measures are right.
    """
    total = case.situation.total
    measure, result = put_in(total)
    for _ in range(MOST_TURNS):
        if abs(result.solution.total - total) <= EXACT * total:
            break
        total = result.solution.total
        measure, result = put_in(total)
    return measure, result


def _by_valves(case: _Case, plan: BalancingPlan) -> Way:
    table, name = plan.valve, name_of(plan.valve)
    network, situation = case.network, case.situation
    now = set_valves(situation.circuit)
    kv_before = kv_there(situation.circuit, name)
    there = int(np.isfinite(kv_before).sum())
    if there:  # they are set anew, not put in a second time
        situation = replace(situation, circuit=without_valves(situation.circuit, name))
        network = assemble(situation.circuit, situation.plant, situation.fluids)

    open_square = open_globe_valves(network)

    def put_in(total: float) -> tuple[ValveSettings, Reached]:
        wanted = target_flows(network, total, situation.target)
        found = valve_settings(network, wanted, table, open_square)
        return found, at_duty(situation, with_valves(network, found.wanted))

    settings, exact = _settled(case, put_in)
    target = target_flows(network, exact.solution.total, situation.target)
    circuit = with_settings(situation.circuit, settings, table)
    result = resolved(situation, circuit)
    proved = True
    if table is not None and not result.within_tolerance:
        settings, proved = nearer_positions(
            network,
            target,
            settings,
            table,
            situation.tolerance,
            solve=lambda square: at_duty(situation, with_valves(network, square)),
        )
        circuit = with_settings(situation.circuit, settings, table)
        result = resolved(situation, circuit)
    reason = _open_valves(network, settings)
    if table is not None:
        more = result.duty.pressure - exact.duty.pressure
        if more > 0.1 * exact.duty.pressure:
            reason += (
                f"; the duty is then {figures(result.duty.pressure / 1e3)} kPa, where exact "
                f"settings would take {figures(exact.duty.pressure / 1e3)}: a finer valve saves "
                "the difference"
            )
    if table is not None and not result.within_tolerance:
        below = bool((settings.kv < table.kvs[0]).any())
        reason = (
            "no combination of this valve's positions reaches: with the best found"
            if proved
            else "this valve's positions have more combinations than are tried, and none of those "
            "tried reaches: with the best"
        )
        reason += f", {_worst(case, result)}"
        if exact.within_tolerance:
            valve = "valve that closes further" if below else "finer valve"
            reason += f"; set to any Kv it would reach, so that a {valve} comes nearer"
    if table is None:
        reason += (
            "; open, each is reckoned as a globe valve of its loop's bore, since no valve is told"
        )
    if there:
        reason += f"; {there} of the valves {'is' if there == 1 else 'are'} there and set anew"
    findings = valve_findings(network, target, settings, table, result.network.places)
    others = [loop for loop, each in zip(network.names, now, strict=True) if {*each} - {name}]
    if others:
        findings.append(
            Finding(
                "valve_in_series",
                "warning",
                f"{listed(others)}: a valve that was set before stands in series with the one that "
                "is put in; take it out of the array's fittings, or name the valve to be set as it "
                "is named, and it is set anew",
                "definition",
            )
        )
    if before := valves_before_circuits(situation.circuit):
        findings.append(
            Finding(
                "valve_in_series",
                "warning",
                f"{listed(before)}: a valve that was set before a circuit stays as it is set, in "
                "series with those that are put in at its loops, and the duty counts it; open it, "
                "or take it out of the array's fittings",
                "definition",
            )
        )
    buried = loops_off_manifolds(circuit)
    return _way(
        case,
        "regulating_valves",
        result,
        reason,
        disturbs=(
            "valves_at_ports",
            f"{len(target)} valves at the loops' ports, "
            + (
                f"{buried} of them on headers, where each needs a chamber to be reached"
                if buried
                else "all at manifolds; nothing is dug"
            ),
        ),
        valves=len(target) - there,
        settings=settings,
        kv_before=kv_before,
        exact=None if table is None else exact,
        circuit=circuit,
        findings=tuple(findings),
    )


def _open_valves(network: Network, settings: ValveSettings) -> str:
    """Which valves stay fully open, in words."""
    which = np.flatnonzero(settings.fully_open).tolist()
    if not which:
        return "no valve stays fully open: closed so, the positions come near enough"
    closed = len(network.names) - len(which)
    if not closed:
        return "every valve stays fully open"
    names = listed([network.names[i] for i in which])
    others = "the others are" if closed > 1 else "the other is"
    if len(which) == 1:
        return f"{names}'s valve stays fully open, {others} closed to match it"
    return f"the valves of {names} stay fully open, {others} closed to match them"


def _by_spare_pipe(case: _Case, plan: BalancingPlan) -> Way:
    coil_diameter, step = plan.coil_diameter, plan.length_step
    network, situation = case.network, case.situation

    def put_in(total: float) -> tuple[tuple[Array, bool, Circuit], Reached]:
        length, agree = spare_lengths(network, situation.target, total, coil_diameter, step)
        if not length.max() <= plan.most_spare:
            return (length, agree, situation.circuit), case.as_it_is
        circuit = with_spare_pipe(situation.circuit, length, coil_diameter)
        return (length, agree, circuit), resolved(situation, circuit)

    (length, agree, circuit), result = _settled(case, put_in)
    longest = int(length.argmax())
    if not length[longest] <= plan.most_spare:
        return Way(
            "spare_pipe",
            "not_possible",
            f"{network.names[longest]} would need more than {plan.most_spare:,.0f} m of spare pipe "
            "to take as little as is asked of it; no loop is so long",
        )
    reason = (
        f"{length.sum():.0f} m of pipe in coils of {coil_diameter:g} m, up to {length.max():.0f} m "
        "in a loop; no loop is cut"
        if length.any()
        else f"rounded to {step:g} m none is left to put in: as it is, every loop is near enough"
    )
    if not agree:
        reason = (
            "no lengths were found whose flow by length is the one that they give; with the "
            f"nearest {_worst(case, result)}"
        )
    elif step and not result.within_tolerance:
        reason = f"rounded to {step:g} m, {_worst(case, result)}"
        exact, _ = spare_lengths(network, situation.target, result.solution.total, coil_diameter)
        uncut = resolved(situation, with_spare_pipe(situation.circuit, exact, coil_diameter))
        if uncut.within_tolerance:
            reason += "; cut the spare pipe more finely: not rounded, it reaches"
    own = np.asarray([loop.length for loop in network.loops])
    long = np.flatnonzero(length > LONG_SPARE * own)
    findings = []
    if long.size:
        findings.append(
            Finding(
                "spare_pipe_long",
                "warning",
                f"{listed([network.names[i] for i in long.tolist()])}: up to "
                f"{100.0 * (length / own).max():.0f} % of the loop's own length of spare pipe: "
                f"{most_unlike(network, case.target).told}",
                COMMON_PRACTICE,
            )
        )
    return _way(
        case,
        "spare_pipe",
        result,
        reason,
        circuit=circuit,
        spare_length=length,
        findings=tuple(findings),
        disturbs=(
            "loop_ends_opened",
            f"{np.count_nonzero(length)} of {len(length)} loops, each opened at its end for a coil "
            "and a place to lay it",
        ),
    )


def _by_reverse_return(case: _Case, plan: BalancingPlan) -> Way:
    kind: WayKind = "reverse_return"
    circuit = case.situation.circuit
    found = [here for here, _ in flowing_circuits(circuit)]
    direct = [here for here in found if here.arrangement == "direct_return"]
    if not any(has_header_between(here) for here in direct):
        if direct:
            why = "the branches are joined at one place; there is no header between them to reverse"
        elif any(here.arrangement == "reverse_return" for here in found):
            why = "the array is joined in reverse return already"
        else:
            why = "a manifold has no header between its ports"
        return Way(kind, "not_possible", why)
    changed = in_reverse_return(circuit, plan.closing_length)
    result = resolved(case.situation, changed)
    reason = "the return header starts at the first branch and comes back from the last"
    if not result.within_tolerance:
        reason = f"in reverse return {_worst(case, result)}: {_why(case, result)}"
    pairs = zip(circuits_of(circuit), circuits_of(changed), strict=True)
    back = sum(
        here.closing_run * times
        for (was, _), (here, times) in pairs
        if here.arrangement != was.arrangement
    )
    sizes = return_sizes(circuit, changed)
    laid = f", laid anew: {sizes}" if sizes else ""
    disturbs: tuple[Disturbance, str] = (
        "headers_laid_anew",
        "the return header, joined anew at every branch, "
        f"with up to {back:.0f} m that lead back{laid}",
    )
    return _way(case, kind, result, reason, circuit=changed, disturbs=disturbs)


def _why(case: _Case, result: Reached) -> str:
    """What the split of a changed array finds to be the causes of what is left."""
    situation = case.situation
    judged = judge(
        result.network,
        result.deviation,
        _wanted(case, result),
        situation.tolerance,
        share_in_words(situation.target),
    )
    return "; ".join(judged.causes)


def _by_larger_headers(case: _Case, _: BalancingPlan) -> Way:
    kind: WayKind = "larger_headers"
    if not route_pipes(case.situation.circuit):
        return Way(kind, "not_possible", "the array has neither headers nor routes to its branches")
    best, tried = _best_of(
        (each, (float(not each.reached.within_tolerance), each.reached.spread))
        for each in larger_headers(case.situation)
    )
    if best is None:
        return Way(kind, "not_possible", "headers and routes are of the largest size there is")
    reason = _exchange(best)
    if not best.reached.within_tolerance:
        reason = (
            f"even with the best of {len(tried)} sizes ({reason}) "
            f"{_worst(case, best.reached)}; what is left lies in {_left(case, best.reached)}"
        )
    return _way(
        case,
        kind,
        best.reached,
        reason,
        circuit=best.circuit,
        candidates=tried,
        disturbs=(
            "headers_laid_anew",
            f"{_laid_anew(case, best.circuit):.0f} m of headers and runs",
        ),
    )


def _best_of(
    solved: Iterable[tuple[Exchange, tuple[float, ...]]],
) -> tuple[Exchange | None, tuple[Tried, ...]]:
    """The first of the least merit, and what is told of all, of which no more than two are held."""
    best: Exchange | None = None
    least: tuple[float, ...] = ()
    tried: list[Tried] = []
    for each, merit in solved:
        tried.append(told_of(each))
        if best is None or merit < least:
            best, least = each, merit
    return best, tuple(tried)


def _laid_anew(case: _Case, circuit: Circuit) -> float:
    """Pipe of a changed array that is not in the array as it is [m]."""
    taken, _ = _taken(case.situation.circuit, circuit)
    return sum(each.length for each in taken if each.length > 0.0)


def _wanted(case: _Case, result: Reached) -> Array:
    return target_flows(result.network, result.solution.total, case.situation.target)


def _left(case: _Case, result: Reached) -> str:
    """The part of the paths that still differs most at the target flows, in words."""
    return most_unlike(result.network, _wanted(case, result)).where


def _by_loop_pipe(case: _Case, _: BalancingPlan) -> Way:
    kind: WayKind = "other_loop_pipe"
    unlaid: list[Exchange] = []  # the evenest of those that cannot be laid
    left_out = 0

    def merit(each: Exchange) -> tuple[float, ...]:
        if each.reached.within_tolerance:
            return 0.0, *_order_of_choice(case, each.reached)
        return 1.0, each.reached.spread

    def laid() -> Iterator[tuple[Exchange, tuple[float, ...]]]:
        nonlocal left_out
        for each in other_loop_pipes(case.situation):
            if not _not_laid(case, each.reached.network):
                yield each, merit(each)
                continue
            left_out += 1
            if not unlaid or each.reached.spread < unlaid[0].reached.spread:
                unlaid[:] = [each]

    best, tried = _best_of(laid())
    if best is None and not unlaid:
        return Way(
            kind,
            "not_possible",
            "no other standard size suits the loops, their coils, passes and boreholes",
        )
    if best is None:
        wrong = _not_laid(case, unlaid[0].reached.network)[0].message.rstrip(".")
        return Way(
            kind,
            "not_possible",
            f"none of {left_out} other sizes can be laid: with {_exchange(unlaid[0])}, {wrong}",
        )
    reason = _exchange(best)
    if not best.reached.within_tolerance:
        reason = f"even with the best of {len(tried)} sizes ({reason}) {_worst(case, best.reached)}"
    holes, loops = _boreholes(case, best.reached.network)
    bores = counted(holes, "borehole")
    what = f"{_laid_anew(case, best.circuit):.0f} m of pipe in {counted(loops, 'loop')}"
    return _way(
        case,
        kind,
        best.reached,
        reason,
        circuit=best.circuit,
        candidates=tried,
        disturbs=(
            "loops_laid_anew",
            f"{what} and {bores}, drilled anew where grouted" if holes else what,
        ),
        findings=tuple(_bores_filled(case, best.reached.network)),
    )


def _boreholes(case: _Case, changed: Network) -> tuple[int, int]:
    """Boreholes and loops whose pipe is exchanged; where tails alone are, no borehole's is."""
    pairs = zip(case.network.loops, changed.loops, strict=True)
    loops = [(old, new) for old, new in pairs if new.sections != old.sections]
    holes = sum(
        leg.borehole is not None and (leg.pipe or new.pipe) != (was.pipe or old.pipe)
        for old, new in loops
        for was, leg in zip(old.legs, new.legs, strict=True)
    )
    return holes, len(loops)


def _bores_filled(case: _Case, changed: Network) -> list[Finding]:
    """Boreholes into which thicker pipe goes than now, and how much room it leaves around."""
    untold: list[int] = []
    tight: list[int] = []
    least, pipes = math.inf, set()
    for number, (old, new) in enumerate(zip(case.network.loops, changed.loops, strict=True)):
        for was, leg in zip(old.legs, new.legs, strict=False):
            hole, pipe = leg.borehole, leg.pipe or new.pipe
            if hole is None or pipe.outside_diameter <= (was.pipe or old.pipe).outside_diameter:
                continue
            if hole.diameter is None:
                untold.append(number)
                pipes.add(pipe.name)
            elif (room := hole.diameter - bundle(2 * hole.u_tubes, pipe.outside_diameter)) < GROUT:
                tight.append(number)
                least = min(least, room)
                pipes.add(pipe.name)
    found = []
    for code, numbers, words in (
        ("bore_not_told", untold, "the borehole's diameter is not told, so that whether it takes "
         "this pipe is not checked; give it"),
        ("bore_tight", tight, f"the pipe side by side leaves {least * 1e3:.0f} mm of the bore, and "
         f"grout, spacers and tremie pipe ask for {GROUT * 1e3:.0f} mm; drill wider"),
    ):  # fmt: skip
        if numbers:
            names = listed([case.network.names[i] for i in dict.fromkeys(numbers)])
            text = f"{names} in {listed(sorted(pipes))}: {words}"
            found.append(Finding(code, "warning", text, GROUT_SOURCE))
    return found


def _flow_lost(case: _Case, result: Reached) -> float:
    """Share of the flow as it is that a pump by its curve gives less, beyond what is borne [-]."""
    return max(FLOW_KEPT - result.duty.mass_flow / case.split.pump.mass_flow, 0.0)


def _order_of_choice(case: _Case, result: Reached) -> tuple[float, float, float]:
    """What keeps the flow first, of it what one circulator drives, then the smallest bores."""
    loops = result.network.loops
    return (
        _flow_lost(case, result),
        max(result.duty.pressure, HEAD_LIMIT, case.split.pump.pressure),
        sum(section.pipe.bore * section.length for loop in loops for section in loop.sections),
    )


_WAYS: Final[dict[WayKind, Callable[[_Case, BalancingPlan], Way]]] = {
    "regulating_valves": _by_valves,
    "spare_pipe": _by_spare_pipe,
    "reverse_return": _by_reverse_return,
    "larger_headers": _by_larger_headers,
    "other_loop_pipe": _by_loop_pipe,
}


def _exchange(candidate: Exchange) -> str:
    return ", ".join(f"{new.name} for {old.name}" for old, new in candidate.changes)


def _worst(case: _Case, result: Reached) -> str:
    """The loop that is furthest from its target, in words."""
    worst = int(np.abs(result.deviation).argmax())
    off, allowed = 100.0 * float(result.deviation[worst]), 100.0 * case.situation.tolerance
    digits = 0
    while digits < 6 and abs(off) > allowed >= round(abs(off), digits):
        digits += 1
    return f"{case.network.names[worst]} is {off:+.{digits}f} % off its flow"


def _way(
    case: _Case,
    kind: WayKind,
    result: Reached,
    reason: str,
    *,
    valves: int = 0,
    circuit: Circuit | None = None,
    settings: ValveSettings | None = None,
    kv_before: Array | None = None,
    exact: Reached | None = None,
    spare_length: Array | None = None,
    candidates: tuple[Tried, ...] = (),
    findings: tuple[Finding, ...] = (),
    disturbs: tuple[Disturbance, str],
) -> Way:
    """Reckon power, energy and pipe of a way."""
    for wrong in _not_laid(case, result.network):
        reason = f"{reason}, but {wrong.message.rstrip('.')}"
        findings = (*findings, wrong)
    told = {each.code for each in case.split.findings}
    findings = (
        *findings,
        *(
            each
            for each in regime_and_velocity(result.network, result.solution, _wanted(case, result))
            if each.code not in told
        ),
    )
    power = result.duty.hydraulic_power - case.split.pump.hydraulic_power
    pipes, volume = ((), 0.0) if circuit is None else _taken(case.situation.circuit, circuit)
    if result.duty.pressure > HEAD_LIMIT >= case.split.pump.pressure:
        high = Finding(
            "balanced_head_high",
            "warning",
            f"the duty rises from {case.split.pump.pressure / 1e3:.0f} to "
            f"{beyond(result.duty.pressure / 1e3, HEAD_LIMIT / 1e3, 0)} kPa, more "
            "than one ordinary circulator gives",
            COMMON_PRACTICE,
        )
        findings = (*findings, high)
    if _flow_lost(case, result) > 0.0:
        before, after = case.split.pump.volume_flow, result.duty.volume_flow
        saving = ": that it takes less electricity is no saving" if power < 0.0 else ""
        low = Finding(
            "balanced_flow_low",
            "warning",
            f"the pump gives {figures(1e3 * after)} L/s with it and {figures(1e3 * before)} L/s "
            f"as it is, {100.0 * (1.0 - after / before):.0f} % less, and brings so much less "
            f"heat at the same difference of temperature{saving}. Take a stronger pump with it, or "
            "another way",
            COMMON_PRACTICE,
        )
        findings = (*findings, low)
    return Way(
        kind=kind,
        verdict="reaches" if result.within_tolerance else "misses",
        reason=reason,
        reached=result,
        power_change=power,
        energy_change=power * case.joules_per_watt,
        valves=valves,
        pipes=pipes,
        volume_change=volume,
        settings=settings,
        kv_before=kv_before,
        exact=exact,
        spare_length=spare_length,
        candidates=candidates,
        circuit=circuit,
        findings=findings,
        disturbs=disturbs[0],
        disturbs_what=disturbs[1],
        heat_gained=_heat_gained(case, result.network, result.mass_flow),
    )


def _heat_gained(case: _Case, network: Network, mass_flow: Array) -> float | None:
    """Heat of a network at flows more than before; None where the ground is not told."""
    if case.heat is None:
        return None
    try:
        before = case.heat(case.network, case.split.loops.mass_flow)
        return case.heat(network, mass_flow) - before
    except InputError:  # beyond the film's correlation
        return None


def _not_laid(case: _Case, changed: Network) -> list[Finding]:
    """The errors that the digging of a changed array would have, and not that of the array now."""
    found = [_bent_too_tight(case, changed), _longer_than_coils(case, changed)]
    return [each for each in found if each is not None]


def _bent_too_tight(case: _Case, changed: Network) -> Finding | None:
    """The tightest of the bends that are tighter than the coil that the pipe comes in."""
    tightest, worst = math.inf, None
    for name, old, new in zip(case.network.names, case.network.loops, changed.loops, strict=True):
        if new is old:
            continue
        now = {(leg.bend, leg.pipe or old.pipe) for leg in old.legs}
        for leg in new.legs:
            pipe = leg.pipe or new.pipe
            if leg.bend is not None and (leg.bend, pipe) not in now:
                found = tight_bend(pipe.name, pipe.outside_diameter, leg.bend, name)
                if found is not None and leg.bend / pipe.outside_diameter < tightest:
                    tightest, worst = leg.bend / pipe.outside_diameter, found
    return worst


def _longer_than_coils(case: _Case, changed: Network) -> Finding | None:
    """Loops of which a changed array takes a longer piece of pipe than there are coils."""
    loops: list[int] = []

    def longest(pipe: Pipe) -> float:
        return max(case.coil_lengths.get(pipe.name, STANDARD_COILS))

    worst = (0.0, "", 0.0, 0.0)  # beyond the coil [m]; pipe, length and coil
    for number, (old, new) in enumerate(zip(case.network.loops, changed.loops, strict=True)):
        if new is old or has_probe(new):
            continue
        too_long = [
            (pipe, needed)
            for pipe, needed in pieces_of(new)
            if needed > longest(pipe) * (1.0 + 1e-9)
        ]
        laid = [
            needed
            for pipe, needed in (pieces_of(old) if too_long else ())
            if needed > longest(pipe)
        ]
        for pipe, needed in too_long:
            coil = longest(pipe)
            if needed not in laid:
                loops.append(number)
                worst = max(worst, (needed - coil, pipe.name, needed, coil))
    if not loops:
        return None
    names = [case.network.names[number] for number in dict.fromkeys(loops)]
    several = len(names) > 1
    return Finding(
        "no_coil_long_enough",
        "error",
        f"{listed(names)} {'take up to' if several else 'takes'} {worst[2]:.1f} m of {worst[1]} in "
        f"one piece and the longest coil on offer is {worst[3]:g} m: order longer coils or take "
        "another way, since no loop is jointed underground",
        COMMON_PRACTICE,
        None if several else changed.places[loops[0]],
    )


def _taken(before: Circuit, after: Circuit) -> tuple[tuple[PipeTaken, ...], float]:
    """Pipe that a changed array has laid anew, what it no longer has, and its contents' change.

    Where sizes shift, a pipe is laid anew in one place and no longer needed in another: both are
    told, since what is laid is not taken up to be laid elsewhere.
    """
    if [each.count for each in standings(before)] != [each.count for each in standings(after)]:
        before, after = one_by_one(before), one_by_one(after)
    old = {(each.part, each.at): each for each in stretches(before)}
    new = {(each.part, each.at): each for each in stretches(after)}
    difference: dict[tuple[Part, Pipe, bool], float] = {}

    def add(each: Stretch, length: float) -> None:
        key = (each.part, each.pipe, length > 0.0)
        difference[key] = difference.get(key, 0.0) + length

    for key in new | old:
        now, was = new.get(key), old.get(key)
        if now is not None and was is not None and now.pipe == was.pipe:
            add(now, now.length - was.length)
            continue
        if now is not None:
            add(now, now.length)
        if was is not None:
            add(was, -was.length)
    taken = tuple(
        PipeTaken(part, pipe, length)
        for (part, pipe, _), length in sorted(
            difference.items(), key=lambda item: PARTS.index(item[0][0])
        )
        if abs(length) > 1e-6  # rounding of sums of metres
    )
    change = sum(each.volume for each in new.values()) - sum(each.volume for each in old.values())
    return taken, change if taken else 0.0
