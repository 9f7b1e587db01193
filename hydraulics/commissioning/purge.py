"""What flow and head clear the air out of every pipe, all loops at once or one by one?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g
from scipy.optimize import brentq

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError, NoSolutionError
from hydraulics.findings import COMMON_PRACTICE, Finding
from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Circuit, Loop, Plant
from hydraulics.layout.contents import array_contents
from hydraulics.layout.legs import Section
from hydraulics.layout.walk import circuits_of, headers_of
from hydraulics.pipework.fittings import Loss
from hydraulics.pipework.friction import LARGEST_REYNOLDS, friction_number
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.solver import solve
from hydraulics.split.state import Solution

AIR_CLEARING_VELOCITY: Final = 0.6  # m/s (2 ft/s)
_HOPELESS: Final = 100.0  # times the sum of all pipes' clearing flows
_NO_LENGTH: Final = 1e-9  # m; what rounding leaves of a length taken off again

SOURCE: Final = (
    "0.6 m/s (2 ft/s) in every pipe, and 15 min of pumping after the last air bubbles: US guide"
    " specification UFGS-15741N after IGSHPA (read in a reproduction); IGSHPA's manual (memory)"
)
PRACTICE: Final = (
    "Flush and purge with clean water, heat pump isolated, through a strainer and an open tank"
    " whose return is under water; add the antifreeze only when no bubble and no dirt comes back"
    " (public purge procedure after IGSHPA, read). The velocity clears air; it is not known to"
    " carry stones and swarf out, so keep pipes capped.",
    "The purge pump can lift the pressure above the pipe's class or the gauge's range when a valve"
    " is shut against it: fit a relief valve, never stand over hoses and couplings, isolate the"
    " expansion vessel and the heat pump.",
)


def flow_for_velocity(pipe: Pipe, velocity: float = AIR_CLEARING_VELOCITY) -> float:
    """Volume flow [m³/s] at which fluid moves through a pipe's bore at a velocity [m/s]."""
    return pipe.bore_area * velocity


def series_drop(sections: tuple[Section, ...], loss: Loss, flow: float, fluid: Fluid) -> float:
    """Pressure drop of sections in series.

    Parameters
    ----------
    sections
        Lengths of pipe, each passed by the whole flow (shared between its parallel pipes).
    loss
        Fittings, all passed by the whole flow.
    flow
        Volume flow [m³/s], more than 0.
    fluid
        The fluid.

    Returns
    -------
    float
        Pressure drop [Pa].

    Raises
    ------
    InputError
        The Reynolds number is beyond what friction is published for.
    """
    drop = fluid.density * loss.square * flow * flow + fluid.viscosity * loss.linear * flow
    if not sections:
        return drop
    bore = np.asarray([s.pipe.bore for s in sections])
    reynolds = _reynolds(sections, flow, fluid)
    _refuse_reynolds(float(reynolds.max()))
    rough = np.asarray([s.pipe.roughness for s in sections]) / bore
    number, _ = friction_number(reynolds, rough, np.asarray([s.curvature for s in sections]))
    length = np.asarray([s.length for s in sections])
    pipes = number * fluid.viscosity**2 * length / (2.0 * fluid.density * bore**3)
    return drop + float(pipes.sum())


def _reynolds(sections: tuple[Section, ...], flow: float, fluid: Fluid) -> NDArray[np.float64]:
    """Reynolds number in each section [-]."""
    around = math.pi * np.asarray([s.pipe.bore * s.parallel for s in sections])
    return np.asarray(4.0 * fluid.density * flow / (fluid.viscosity * around))


def _refuse_reynolds(reynolds: float) -> None:
    if reynolds > LARGEST_REYNOLDS:
        raise InputError(
            Fault(
                "velocity",
                f"Reynolds number {reynolds:.1e} is beyond what friction is published for",
                None,
                f"a velocity that keeps it below {LARGEST_REYNOLDS:g}",
            )
        )


@dataclass(frozen=True, slots=True)
class PurgeDuty:
    """What a purge pump has to do.

    Attributes
    ----------
    name
        What is purged: a loop's name, or the whole array.
    flow
        [m³/s]
    drop
        Pressure drop of array, runs and plant runs [Pa]; hoses, purge valves, strainer and the
        lift into the tank are not in it.
    head
        The same as height of the fluid [m].
    slowest, fastest
        Lowest and highest velocity [m/s] in the pipes that it clears.
    lowest_reynolds
        Lowest Reynolds number [-] in the same pipes; below about 2000 the flow is laminar in
        straight pipe.
    turnover
        Time to turn the purged volume over once [s].
    count
        Equal loops that this duty is for, one after the other.
    """

    name: str
    flow: float
    drop: float
    head: float
    slowest: float
    fastest: float
    slowest_pipe: str
    lowest_reynolds: float
    turnover: float
    count: int = 1

    @property
    def hydraulic_power(self) -> float:
        """Flow times drop [W]."""
        return self.flow * self.drop


def _without_heat_pump(plant: Plant | None) -> Plant:
    """The plant with the heat pump isolated: neither its drop nor its contents count."""
    return replace(plant, exchanger=None, volume=0.0) if plant is not None else Plant()


def _element_velocities(network: Network, solution: Solution, density: float) -> np.ndarray:
    area = 0.25 * math.pi * network.bore**2 * network.parallel
    speeds: np.ndarray = np.abs(solution.flow[network.owner]) / (density * area)
    return speeds


def purge_all_at_once(
    circuit: Circuit,
    fluid: Fluid,
    plant: Plant | None = None,
    velocity: float = AIR_CLEARING_VELOCITY,
) -> PurgeDuty:
    """Flow and head at which the slowest pipe of the whole array reaches the clearing velocity.

    Parameters
    ----------
    circuit
        The array, every valve open.
    fluid
        What it is purged with, at filling temperature.
    plant
        Its runs and fittings are purged too; the heat pump is not (it is isolated).
    velocity
        To reach [m/s].

    Raises
    ------
    InputError
        The velocity is not more than 0, or friction is not published so far.
    NoSolutionError
        No flow was found that clears every pipe.

    Notes
    -----
    The flow split is solved at each trial flow, since an uneven array needs far more than the sum
    of its loops' clearing flows: the slowest loop, or a header that carries a single loop, rules.
    """
    refuse(number_fault("velocity", velocity, "m/s", above=0.0))
    bare = _without_heat_pump(plant)
    network = assemble(circuit, bare, (fluid, fluid, fluid))
    solved: dict[float, Solution] = {}  # by total flow, the nearest last

    def at(total: float) -> Solution:
        if total not in solved:
            near = next(reversed(solved.values()), None)
            start = near.flow[: network.rows] * (total / near.total) if near is not None else None
            solved[total] = solve(network, total, start=start)
        return solved[total]

    def gap(total: float) -> float:
        return float(_element_velocities(network, at(total), fluid.density).min()) - velocity

    # No pipe carries more than the total, so less than the widest pipe's clearing flow cannot do.
    area = 0.25 * math.pi * network.bore**2 * network.parallel
    low = high = fluid.density * velocity * float(area.max())
    while gap(high) < -1e-12 * velocity:
        low, high = high, 2.0 * high
        if high > _HOPELESS * fluid.density * velocity * float(area.sum()):
            raise NoSolutionError(
                Fault(
                    "array",
                    "no flow within reason clears every pipe: one of them carries next to nothing."
                    " Purge loop by loop, or choose pipes nearer in size",
                )
            )
    total = float(brentq(gap, low, high, rtol=1e-10)) if high > low else high
    solution = at(total)
    speeds = _element_velocities(network, solution, fluid.density)
    reynolds = (
        4.0
        * np.abs(solution.flow[network.owner])
        / (network.parallel * math.pi * fluid.viscosity * network.bore)
    )
    _refuse_reynolds(float(reynolds.max()))
    slowest = int(speeds.argmin())
    drop = solution.array_drop + solution.run_drop
    flow = total / fluid.density
    contents = array_contents(circuit, bare)
    name = next(
        (
            each.pipe.name
            for each in contents.pipes
            if abs(each.pipe.bore - float(network.bore[slowest])) < 1e-9
        ),
        # A route of no length holds nothing and has no line among the contents.
        f"{float(network.bore[slowest]) * 1e3:g} mm bore",
    )
    return PurgeDuty(
        name="whole array",
        flow=flow,
        drop=drop,
        head=drop / (fluid.density * g),
        slowest=float(speeds.min()),
        fastest=float(speeds.max()),
        slowest_pipe=name,
        lowest_reynolds=float(reynolds.min()),
        turnover=contents.volume / flow,
    )


@dataclass(frozen=True, slots=True)
class _Way:
    """What one loop's flow passes on its way from the purge pump and back."""

    name: str
    loop: Loop
    count: int
    lengths: dict[Pipe, float]
    loss: Loss


def _header_ways(circuit: Circuit) -> list[dict[Pipe, float]]:
    """Header passed on the way to and from each branch of a circuit, equal ones one by one."""
    headers = headers_of(circuit)
    reverse = circuit.arrangement == "reverse_return"
    before: dict[Pipe, float] = {}  # passed from the circuit's start
    after: dict[Pipe, float] = {}  # return header of a reverse return still to pass
    for pipe, length in headers.back if reverse else ():
        _lengthen(after, pipe, length)
    ways = []
    for out, home in zip(headers.flow, headers.back, strict=True):
        _lengthen(before, *out)
        if not reverse:
            _lengthen(before, *home)
        way = dict(before)
        for pipe, length in after.items():
            _lengthen(way, pipe, length)
        ways.append({pipe: length for pipe, length in way.items() if length > _NO_LENGTH})
        if reverse:
            _lengthen(after, home[0], -home[1])
    return ways


def _ways(circuit: Circuit, plant: Plant) -> Iterator[_Way]:
    """The way to and from every loop when all others are shut, equal ways once, in layout order."""
    lengths: dict[Pipe, float] = {}
    loss = plant.fittings
    for run in plant.runs:
        _lengthen(lengths, run.pipe, 2.0 * run.length)
        loss += run.fittings
    return _ways_below(circuit, "", 1, lengths, loss)


def _ways_below(
    circuit: Circuit, prefix: str, times: int, lengths: dict[Pipe, float], loss: Loss
) -> Iterator[_Way]:
    headers = _header_ways(circuit)
    row = 0
    for branch in circuit.branches:
        # Along a header each of several equal branches has a way of its own.
        several = branch.count > 1 and bool(headers) and branch.header_length > 0.0
        for copy in range(branch.count if several else 1):
            way = dict(lengths)
            for pipe, length in headers[row + copy].items() if headers else ():
                _lengthen(way, pipe, length)
            there = loss + branch.fittings
            for run in branch.runs:
                _lengthen(way, run.pipe, 2.0 * run.length)
                there += run.fittings
            item = branch.item
            name = prefix + item.name + (f"-{copy + 1}" if several else "")
            count = times * (1 if several else branch.count)
            if isinstance(item, Circuit):
                below = f"{name}/" if name != prefix else prefix
                yield from _ways_below(item, below, count, way, there)
            else:
                yield _Way(name, item, count, way, there + item.fittings)
        row += branch.count


def _lengthen(lengths: dict[Pipe, float], pipe: Pipe | None, by: float) -> None:
    if pipe is not None and by != 0.0:
        lengths[pipe] = lengths.get(pipe, 0.0) + by


@dataclass(frozen=True, slots=True)
class LoopPurge:
    """Purging loop by loop.

    Attributes
    ----------
    loops
        Duty of each loop with every other shut: its own pipes reach the velocity.
    flow, drop
        Largest flow [m³/s] and largest drop [Pa] among the loops; one pump must reach both.
    shared_flow
        Flow that the widest header or run on the way needs for the velocity [m³/s]. Where pipe is
        shared by some of the loops only, :func:`purge_all_at_once` tells what the array needs.
    uncleared
        Names of header and run pipes that do not reach the velocity while single loops are purged.
    """

    loops: tuple[PurgeDuty, ...]
    flow: float
    drop: float
    shared_flow: float
    uncleared: tuple[str, ...]


def purge_loop_by_loop(
    circuit: Circuit,
    fluid: Fluid,
    plant: Plant | None = None,
    velocity: float = AIR_CLEARING_VELOCITY,
) -> LoopPurge:
    """Flow and head that clear each loop with all others shut.

    Parameters
    ----------
    circuit
        The array; each loop must have its own valve, as at a manifold.
    fluid
        What it is purged with, at filling temperature.
    plant
        Its runs and fittings are on the way of every loop; the heat exchanger is isolated.
    velocity
        Velocity to reach in the loop's pipes [m/s].

    Returns
    -------
    LoopPurge
        Duties by loop (equal loops once, with their count) and the pipes on the way that single
        loops do not clear.

    Raises
    ------
    InputError
        The velocity is not more than 0, or friction is not published so far.
    """
    refuse(number_fault("velocity", velocity, "m/s", above=0.0))
    bare = _without_heat_pump(plant)
    duties: list[PurgeDuty] = []
    served: dict[Pipe, float] = {}  # largest single-loop flow through each shared pipe
    for way in _ways(circuit, bare):
        own = [(s.pipe.bore_area * s.parallel, s) for s in way.loop.sections if s.length > 0.0]
        widest, at = max(own, key=lambda pair: pair[0])
        flow = velocity * widest
        sections = tuple(
            section
            for section in (
                *way.loop.sections,
                *(Section(pipe, length) for pipe, length in way.lengths.items()),
            )
            if section.length > 0.0
        )
        drop = series_drop(sections, way.loss, flow, fluid)
        # No pipe that is wider than the loop's widest is cleared by the loop's flow.
        cleared = tuple(
            s for s in sections if s.pipe.bore_area * s.parallel <= widest * (1.0 + 1e-9)
        )
        smallest = min(s.pipe.bore_area * s.parallel for s in cleared)
        volume = sum(section.volume for section in sections)
        for pipe in way.lengths:
            served[pipe] = max(served.get(pipe, 0.0), flow)
        duties.append(
            PurgeDuty(
                name=way.name,
                flow=flow,
                drop=drop,
                head=drop / (fluid.density * g),
                slowest=flow / widest,
                fastest=flow / smallest,
                slowest_pipe=at.pipe.name,
                lowest_reynolds=float(_reynolds(cleared, flow, fluid).min()),
                turnover=volume / flow,
                count=way.count,
            )
        )
    needed = {pipe: flow_for_velocity(pipe, velocity) for pipe in served}
    return LoopPurge(
        loops=tuple(duties),
        flow=max(duty.flow for duty in duties),
        drop=max(duty.drop for duty in duties),
        shared_flow=max(needed.values(), default=0.0),
        uncleared=tuple(
            pipe.name for pipe, flow in served.items() if flow < needed[pipe] * (1.0 - 1e-9)
        ),
    )


def flow_to_clear(circuit: Circuit, whole: PurgeDuty, single: LoopPurge) -> float:
    """Flow of the whole array that clears every header and run, all loops open [m³/s].

    A header's stretch, a circuit's and a branch's run carry a part of the flow only, so that
    nothing less than the whole duty clears them; the plant's runs carry all of it.
    """
    parts = [here for here, _ in circuits_of(circuit)]
    divided = len(parts) > 1 or any(
        here.arrangement != "manifold" or any(branch.runs for branch in here.branches)
        for here in parts
    )
    return whole.flow if divided else single.shared_flow


def purge_findings(
    circuit: Circuit, whole: PurgeDuty, single: LoopPurge, *, plain_water: bool
) -> Iterator[Finding]:
    """What stands in the way of a clean purge; whether the fluid of these duties is water."""
    headers = any(here.arrangement != "manifold" for here, _ in circuits_of(circuit))
    if single.uncleared:
        pipes = ", ".join(single.uncleared)
        yield Finding(
            "shared_pipe_not_cleared", "warning",
            f"One loop's flow does not clear {pipes}: purge these with all loops open at"
            f" {single.shared_flow * 1e3:.2f} L/s or more, then loop by loop, then all open"
            " again.",
            SOURCE,
        )  # fmt: skip
    if headers:
        yield Finding(
            "loop_valves_needed", "info",
            "Purging loop by loop needs a valve on every loop; loops teed off a header have"
            " none as a rule, and are then purged all at once.",
            COMMON_PRACTICE,
        )  # fmt: skip
    if not plain_water:
        yield Finding(
            "purge_with_water_first", "info",
            "These duties are for the mixture. The clearing velocity is a finding for water;"
            " purge with water first and add the antifreeze when the air is out.",
            "public purge procedure after IGSHPA (read)",
        )  # fmt: skip
    yield Finding(
        "purge_more_than_sum", "info",
        f"All at once the slowest pipe ({whole.slowest_pipe}) sets the flow:"
        f" {whole.flow * 1e3:.2f} L/s at {whole.drop / 1e3:.0f} kPa, against"
        f" {single.flow * 1e3:.2f} L/s at {single.drop / 1e3:.0f} kPa loop by loop. Hoses,"
        " strainer and purge valves come on top.",
        SOURCE,
    )  # fmt: skip
