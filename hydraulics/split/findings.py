"""What a flow split tells the designer: findings on evenness, regime, velocity, head and frost."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from hydraulics.findings import (
    COMMON_PRACTICE,
    HEAD_LIMIT,
    REGIME_SOURCE,
    SEVERITIES,
    UNEQUAL_LENGTHS,
    VELOCITY_LIMIT,
    Finding,
    above_freezing,
    beyond,
    figures,
    listed,
)
from hydraulics.fluid.mixture import PLAIN_WATER, Mixture, freezing_margin, freezing_spread
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import hangs_in_boreholes
from hydraulics.layout.heights import NOWHERE, Heights, levels_of, place_findings
from hydraulics.layout.pressure_class import (
    HIGHEST_CLASS,
    HIGHEST_SOURCE,
    class_findings,
    unknown_findings,
)
from hydraulics.layout.walk import circuits_of, closed_loops, walk
from hydraulics.pipework.friction import COIL_LAW_ERROR_PERCENT
from hydraulics.pipework.pipe import temperature_factor
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.causes import chain_of
from hydraulics.split.drops import port_drops, way_fittings
from hydraulics.split.duty import Duty
from hydraulics.split.head_high import transition_findings, viscosity_findings
from hydraulics.split.imbalance import Imbalance, first_largest
from hydraulics.split.result import FlowSplit, LoopTable
from hydraulics.split.state import Solution
from hydraulics.split.target import share_in_words

_ROUNDING: Final = 1e-9  # of the total flow
_VELOCITY_BOUND: Final = 10.0  # m/s; several times what any practice has; this project's own bound
_PART_WORTH: Final = 0.05  # of the head, from which a part of it is told; this project's own
_EXCHANGER_FAR: Final = 3.0  # times what flows, at its first point; m³/h for L/s are 3.6
_EXCHANGER_WITHIN: Final = 0.005  # of its last point's flow, as good as at it


def place_of_row(network: Network, row: int) -> tuple[int, ...]:
    """Branch numbers from the outermost circuit inwards of a row of the network.

    Parameters
    ----------
    network
        The assembled array.
    row
        Row, 0 to rows-1.

    Returns
    -------
    tuple of int
        One number a level.
    """
    depth = next(i for i, level in enumerate(network.levels) if level.lo <= row < level.hi)
    for level in network.levels[depth + 1 :]:
        found = np.flatnonzero(level.parents == row)
        if not found.size:
            break
        row = level.lo + int(level.starts[found[0]])
    loop = int(np.flatnonzero(network.loop_rows == row)[0])
    return network.places[loop][: depth + 1]


def split_findings(
    result: FlowSplit,
    circuit: Circuit,
    plant: Plant,
    mixture: Mixture,
    duty: Duty,
    *,
    margin: float,
    least_return: float,
    heights: Heights,
    warmest: float | None = None,
) -> tuple[Finding, ...]:
    """Everything about a flow split that the reader should know besides its numbers.

    Parameters
    ----------
    result
        The result, its findings not yet filled in.
    circuit, plant, mixture, duty
        What was asked.
    margin
        How far the coldest brine must stay above freezing without a finding [K].
    least_return
        Coldest brine that may come back from the ground without one [°C].
    heights
        Levels of plant and ground, as far as they are told.
    warmest
        Warmest that the brine becomes elsewhere than at the duty [°C].

    Returns
    -------
    tuple of Finding
        The most severe first.
    """
    imbalance, pump, table = result.imbalance, result.pump, result.loops
    found: list[Finding] = []
    if imbalance is None:
        found.append(Finding("no_flow", "warning", "Nothing flows at this duty.", "definition"))
    else:
        found += _evenness_findings(table, imbalance, share_in_words(result.target))
        found += regime_findings(table)
        found += transition_findings(result.network, result.solution, result.high)
        found += exchanger_findings(result.network, result.solution)
        found += viscosity_findings(result.network, result.solution, result.high, mixture)
    found += velocity_findings(result.network, result.solution)
    own = max(duty.to_ground_temperature, duty.from_ground_temperature)
    found += _borne(result, circuit, plant, heights, own if warmest is None else max(own, warmest))
    found += place_findings(heights)
    found += _impossible(result, found)
    found += _strength(mixture)
    found += _headers_without_length(circuit)
    if result.network.closed:
        found += _closed(circuit, len(table.names))
    if pump.pressure > HEAD_LIMIT:
        found.append(
            Finding(
                "head_high",
                "warning",
                f"The duty's head is {beyond(pump.pressure / 1e3, HEAD_LIMIT / 1e3, 0)} kPa "
                f"({pump.head:.1f} m); one "
                f"ordinary circulator gives about {HEAD_LIMIT / 1e3:.0f} kPa. "
                + _parts_of_head(result, circuit),
                COMMON_PRACTICE,
            )
        )
    coldest = min(duty.to_ground_temperature, duty.from_ground_temperature)
    above = freezing_margin(mixture, coldest)
    spread = freezing_spread(mixture)
    if above < margin + spread:
        found.append(
            Finding(
                "freezing_margin_thin",
                "warning",
                above_freezing(coldest, above, margin, spread)
                + " The evaporator's wall is colder than the brine.",
                "spread of published freezing points; the margin itself is " + COMMON_PRACTICE,
            )
        )
    if duty.from_ground_temperature < least_return - 1e-3:
        found.append(
            Finding(
                "return_below_limit",
                "warning",
                "Brine comes back from the ground at "
                f"{beyond(duty.from_ground_temperature, least_return, 1)} °C, below "
                f"the limit of {least_return:g} °C"
                + (
                    "; ground at the pipe may freeze."
                    if duty.from_ground_temperature < 0.0
                    else "."
                ),
                COMMON_PRACTICE,
            )
        )
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))


def _parts_of_head(result: FlowSplit, circuit: Circuit) -> str:
    """Where the head goes on the index loop's way, the largest first, and what lessens it."""
    pump, loops = result.pump, result.loops
    index = result.imbalance.index_loop if result.imbalance is not None else 0
    pipe = float(loops.straight_drop[index] + loops.coil_drop[index])
    fittings = float(loops.fittings_drop[index])
    name = loops.names[index]
    on_way, before = _fittings_on_the_way(result, circuit, index)
    parts = [
        (pipe, f"the pipe of loop {name}", "take more or shorter loops, or wider pipe in them"),
        (fittings, f"valves and fittings of loop {name}", "open its valve or take a larger one"),
        (on_way, f"valves and fittings on the way to loop {name}", f"open or exchange {before}"),
        (pump.array_drop - pipe - fittings - on_way, f"headers and runs to loop {name}",
         "take wider headers and runs"),
        (pump.run_drop, "the plant's runs and fittings", "make them wider or shorter"),
        (pump.exchanger_drop, "the heat exchanger", "take one that drops less, or less flow"),
    ]  # fmt: skip
    parts = sorted((part for part in parts if part[0] >= _PART_WORTH * pump.pressure), reverse=True)
    told = [
        f"{what} take{'' if what.startswith(('valves', 'headers')) or 'runs' in what else 's'} "
        f"{drop / 1e3:.1f} kPa ({100 * drop / pump.pressure:.0f} %): {todo}"
        for drop, what, todo in parts
    ]
    words = "; ".join(told)
    return words[0].upper() + words[1:] + "."


def _fittings_on_the_way(result: FlowSplit, circuit: Circuit, loop: int) -> tuple[float, str]:
    """Drop of valves and fittings on the way to a loop [Pa], and where they sit, the worst first.

    Its own and its port's are left out.
    """
    network, name = result.network, result.loops.names[loop]
    hung = {each.row: each.name for level in walk(circuit).levels for each in level}
    ports = port_drops(network, result.solution)
    runs = way_fittings(network, result.solution)
    found: list[tuple[float, str]] = []
    named: list[str] = []
    for row in chain_of(network, loop):
        own = float(runs[row])
        if row in hung:
            own += float(ports[row])
            named += [hung[row]] * bool(hung[row])
            found.append((own, f"before {'/'.join(named)}" if hung[row] else "before its circuit"))
        else:
            found.append((own, f"on the run to loop {name}"))
    most = max(found)[0]
    where = [place for own, place in sorted(found, reverse=True) if own >= 0.1 * most]
    return sum(own for own, _ in found), "those " + listed(list(dict.fromkeys(where)))


def exchanger_findings(network: Network, solution: Solution) -> list[Finding]:
    """Tell of a heat exchanger whose data end before the flow, or begin far above it."""
    exchanger = network.exchanger
    volume = solution.total / network.fluids[IN_LOOP].density
    if exchanger is None:
        return []
    if 0.0 < _EXCHANGER_FAR * volume < exchanger.flows[0]:
        return [_far_below(exchanger.flows[0], volume, solution.exchanger_drop)]
    if exchanger.beyond(volume) <= 1.0 + _EXCHANGER_WITHIN:
        return []
    pressure = solution.array_drop + solution.run_drop + solution.exchanger_drop
    given = exchanger.exponent is not None
    law = f"the power {exchanger.exponent:g} given" if given else "the square of the flow"
    return [
        Finding(
            "heat_exchanger_beyond_data",
            "info" if given else "warning",
            f"The heat exchanger's data end at {figures(exchanger.flows[-1] * 1e3)} L/s and "
            f"{figures(volume * 1e3)} L/s flow: its drop of {solution.exchanger_drop / 1e3:.1f} "
            f"kPa, {100 * solution.exchanger_drop / pressure:.0f} % of the head, is continued by "
            f"{law}. Ask its maker for a point at this flow.",
            "definition" if given else COMMON_PRACTICE,
        )
    ]


def _far_below(first: float, volume: float, drop: float) -> Finding:
    """Tell of a heat exchanger whose first flow [m³/s] is many times what flows [m³/s]."""
    unit, meant = min(
        ((unit, first / per) for unit, per in (("m³/h", 3.6), ("L/min", 60.0), ("L/h", 3600.0))),
        key=lambda each: abs(math.log(each[1] / volume)),
    )
    return Finding(
        "heat_exchanger_far_above",
        "warning",
        f"The heat exchanger's data begin at {figures(first * 1e3)} L/s, "
        f"{figures(first / volume)} times the {figures(volume * 1e3)} L/s that flow: its drop is "
        f"reckoned as {figures(drop / 1e3)} kPa, and a pump chosen by that may be far too small. "
        f"Check the unit: {figures(first * 1e3)} {unit} would be {figures(meant * 1e3)} L/s. If it "
        "is right, take a point near this flow.",
        COMMON_PRACTICE,
    )


def _borne(
    result: FlowSplit, circuit: Circuit, plant: Plant, heights: Heights, warmest: float
) -> tuple[Finding, ...]:
    """Whether every pipe bears the pump's pressure and the brine that stands on it."""
    pressure = result.pump.pressure
    if (
        pressure <= HEAD_LIMIT
        and heights == NOWHERE
        and temperature_factor(warmest) == 1.0
        and not hangs_in_boreholes(circuit)
    ):
        return ()  # the weakest pipe of the tables bears more than that
    levels, density = levels_of(circuit, plant, heights), result.fluids[IN_LOOP].density
    what = "the pressure that the duty takes"
    return (
        *class_findings(levels, pressure, what, density=density, temperature=warmest),
        *unknown_findings(levels, pressure, what, density=density),
    )


def _impossible(result: FlowSplit, told: list[Finding]) -> list[Finding]:
    """What no array can do: pressure that bursts any pipe, more power to pump than heat drawn."""
    pump, heat = result.pump, abs(result.heat)
    found: list[Finding] = []
    if pump.pressure > HIGHEST_CLASS and all(each.code != "pressure_above_class" for each in told):
        found.append(
            Finding(
                "pressure_above_class",
                "error",
                f"The pressure that the duty takes, {pump.pressure / 1e5:,.0f} bar, is more than "
                f"any pipe of PE bears, {HIGHEST_CLASS / 1e5:g} bar at 20 °C. Check the flow or "
                "the heat, and the bores.",
                HIGHEST_SOURCE,
            )
        )
    if pump.hydraulic_power > heat > 0.0:
        found.append(
            Finding(
                "pumping_above_heat",
                "error",
                f"Moving the brine takes {figures(pump.hydraulic_power / 1e3)} kW, more than the "
                f"{figures(heat / 1e3)} kW of heat that it carries: friction warms it more than "
                "the ground does. Check the flow or the heat, and the bores.",
                "definition",
            )
        )
    return found


def _strength(mixture: Mixture) -> list[Finding]:
    """A strength that was perhaps given as a fraction of 1 where per cent are meant."""
    if not 0.0 < mixture.mass_fraction < PLAIN_WATER:
        return []
    strength = f"{figures(100.0 * mixture.mass_fraction, 2)} % by mass"
    if mixture.volume_fraction is not None:
        strength += f" ({figures(100.0 * mixture.volume_fraction, 2)} % by volume)"
    return [
        Finding(
            "strength_next_to_none",
            "warning",
            f"The mixture holds {strength} of antifreeze and freezes as water does. A strength is "
            "given in per cent: a quarter is 25, not 0.25.",
            COMMON_PRACTICE,
        )
    ]


def _headers_without_length(circuit: Circuit) -> list[Finding]:
    """Circuits with a header that do not say how long it is, or not to every further branch.

    What is left out is counted as no pipe, so that pump and imbalance would be too small.
    """
    kinds: set[str] = set()
    closing: list[float] = []
    short: list[str] = []
    for each, _ in circuits_of(circuit):
        if each.arrangement == "manifold" or sum(branch.count for branch in each.branches) < 2:
            continue
        if not any(branch.header_length for branch in each.branches):
            kinds.add(each.arrangement.replace("_", " "))
            closing += [each.closing_run] * (each.closing_run > 0.0)
            continue
        short += [
            branch.item.name or f"branch {index}"
            for index, branch in enumerate(each.branches, 1)
            if not branch.header_length and (index > 1 or branch.count > 1)
        ]
    told = []
    if kinds:
        none = "its headers take no pressure here"
        if closing:
            none = f"of its headers the closing run of {max(closing):g} m alone takes pressure here"
        told.append(
            f"A circuit is joined in {' and '.join(sorted(kinds))}, but no branch says how far "
            f"along the header it lies: {none}, as if it were a "
            "manifold. Give each branch its length of header, or join the circuit as a manifold."
        )
    if short:
        told.append(
            f"No header is counted from the branch before to {listed(short)}: its length is left "
            "out, or 0 m, while others of the circuit have one. Where they do not hang at one "
            "place, give it: the head, and mostly the imbalance too, is larger than told here."
        )
    if not told:
        return []
    return [Finding("header_length_not_given", "warning", " ".join(told), "definition")]


def _closed(circuit: Circuit, flowing: int) -> list[Finding]:
    """Loops that carry nothing because a valve shuts them."""
    closed = closed_loops(circuit)
    named = listed([each.name if each.count == 1 else f"{each.name} (all {each.count})"
                    for each in closed])  # fmt: skip
    one = len(closed) == 1 and closed[0].count == 1
    rest = "the one loop that is open" if flowing == 1 else f"the {flowing:,} loops that are open"
    return [
        Finding(
            "loops_closed",
            "warning",
            f"{named} {'is' if one else 'are'} closed: nothing flows there, no share is counted "
            f"for {'it' if one else 'them'} and no heat is gathered. The whole flow, and with it "
            f"all the heat, goes through {rest}: the ground there must give it, and the brine "
            "comes back colder where it does not.",
            "definition",
            closed[0].place if len(closed) == 1 else None,
        )
    ]


def _evenness_findings(table: LoopTable, imbalance: Imbalance, share: str) -> list[Finding]:
    found = []
    starved = imbalance.most_starved
    # Where headers starve a loop altogether its flow is rounding, of either sign.
    backwards = np.flatnonzero(table.share < -_ROUNDING).tolist()
    if backwards:
        found.append(
            Finding(
                "reversed_flow",
                "error",
                f"Flow runs backwards in {listed([table.names[i] for i in backwards])}: headers "
                "or fittings take more pressure than the loops. Enlarge the headers.",
                "definition",
                table.places[backwards[0]],
            )
        )
    if not imbalance.within_tolerance:
        largest = first_largest(table.deviation, 1.0)
        most = table.names[largest]
        more = _less_or_more(table.deviation.max(), imbalance.tolerance)
        less = _less_or_more(table.deviation[starved], imbalance.tolerance)
        told = (starved, largest)
        beside = np.flatnonzero(np.abs(table.deviation) > imbalance.tolerance * (1.0 + 1e-9))
        others = [table.names[i] for i in beside.tolist() if i not in told]
        words = f"{table.names[starved]} gets {less} than {share} and {most} {more}"
        if backwards:
            words = f"{table.names[starved]} runs backwards, and {most} gets {more} than {share}"
        found.append(
            Finding(
                "imbalance",
                "warning",
                f"{words}; ±{100 * imbalance.tolerance:g} % is allowed"
                + (
                    f", which {listed(others)} {'is' if len(others) == 1 else 'are'} beyond too."
                    if others
                    else "."
                ),
                f"tolerance: {COMMON_PRACTICE} unless given",
                table.places[starved],
            )
        )
    spread = float(np.ptp(table.length) / table.length.mean())
    if spread > UNEQUAL_LENGTHS:
        shortest, longest = int(table.length.argmin()), int(table.length.argmax())
        found.append(
            Finding(
                "unequal_lengths",
                "warning",
                f"Loop lengths run from {table.length[shortest]:.0f} m "
                f"({table.names[shortest]}) to {table.length[longest]:.0f} m "
                f"({table.names[longest]}). Keep spare tail coiled rather than cut.",
                COMMON_PRACTICE,
                table.places[shortest],
            )
        )
    coil, drop = float(table.coil_drop.sum()), float(table.drop.sum())
    if coil > 0.25 * drop:
        found.append(
            Finding(
                "coil_friction_uncertain",
                "info",
                f"Coils take {100.0 * coil / drop:.0f} % of the drop; published "
                f"correlations differ by about {COIL_LAW_ERROR_PERCENT:.0f} %, and with them the "
                "head, not the split of like loops.",
                "White 1929, Ito 1959, Mori & Nakayama 1965, Mishra & Gupta 1979",
            )
        )
    return found


def _less_or_more(deviation: float, tolerance: float) -> str:
    told = beyond(100 * abs(deviation), 100 * tolerance, 1)
    return f"{told} % {'less' if deviation < 0 else 'more'}"


def regime_findings(table: LoopTable) -> list[Finding]:
    """Which loops are laminar."""
    which = np.flatnonzero(table.regime == 0)
    if not which.size:
        return []
    low, high = float(table.reynolds[which].min()), float(table.reynolds[which].max())
    numbers = f"Re {low:.0f}" if high - low < 1 else f"Re {low:.0f} to {high:.0f}"
    who = "All loops are" if which.size == len(table.names) > 1 else None
    if who is None:
        verb = "is" if which.size == 1 else "are"
        who = f"{listed([table.names[i] for i in which.tolist()])} {verb}"
    return [
        Finding(
            "laminar_loop",
            "warning",
            f"{who} laminar where heat is gathered, at this temperature: less drop, but less heat "
            f"per metre ({numbers}).",
            REGIME_SOURCE,
            table.places[int(which[0])] if which.size < len(table.names) else None,
        )
    ]


def velocity_findings(network: Network, solution: Solution) -> list[Finding]:
    """Where brine is faster than practice allows."""
    density = np.asarray([f.density for f in network.fluids])[network.side]
    area = 0.25 * np.pi * network.bore**2 * network.parallel
    velocity = np.abs(solution.flow[network.owner]) / (density * area)
    fastest = int(velocity.argmax())
    if velocity[fastest] <= VELOCITY_LIMIT:
        return []
    rows = network.rows
    owner = int(network.owner[fastest])
    if network.side[fastest] == IN_LOOP:
        where = f"loop {network.names[int(np.flatnonzero(network.loop_rows == owner)[0])]}"
    elif owner < rows:
        where = "a branch's run"
    elif owner < 3 * rows:
        where = "a header"
    else:
        where = "the plant's run"
    place = place_of_row(network, owner % rows) if owner < 3 * rows else None
    if velocity[fastest] > _VELOCITY_BOUND:
        return [
            Finding(
                "velocity_impossible",
                "error",
                f"Brine would reach {velocity[fastest]:,.0f} m/s in {where}; beyond "
                f"{_VELOCITY_BOUND:g} m/s no array is run. Check the flow or the heat (kW, L/s), "
                "and the bores.",
                "this project's own bound, several times the practice of "
                f"{VELOCITY_LIMIT:g} m/s; no source",
                place,
            )
        ]
    return [
        Finding(
            "velocity_high",
            "warning",
            f"Brine reaches {beyond(float(velocity[fastest]), VELOCITY_LIMIT, 2)} m/s in {where}; "
            "keep below "
            f"{VELOCITY_LIMIT:g} m/s for noise and pumping power.",
            COMMON_PRACTICE,
            place,
        )
    ]
