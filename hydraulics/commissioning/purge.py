"""In which steps is the air cleared out of every pipe, and what must one purge pump do for all?"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, figures, listed
from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.contents import array_contents
from hydraulics.layout.heights import column
from hydraulics.layout.legs import Section
from hydraulics.layout.pressure_class import Eased
from hydraulics.layout.walk import Headers, circuits_of, headers_of, loop_count
from hydraulics.pipework.fittings import NO_LOSS, Loss
from hydraulics.pipework.friction import LARGEST_REYNOLDS, friction_number
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import assemble
from hydraulics.split.solver import solve

AIR_CLEARING_VELOCITY: Final = 0.6  # m/s (2 ft/s)
CHANGES: Final = 3  # of what a step clears, each way, at least; common practice, no source
LAST_PUMPING: Final = 900.0  # s after the last bubble, of `SOURCE`
TANK_TIME: Final = 60.0  # s that the water stands in the tank to part from air; common practice
_ENOUGH: Final = 1.0 - 1e-9  # of a clearing flow, but for rounding

SOURCE: Final = (
    "0.6 m/s (2 ft/s) in every pipe, and 15 min of pumping after the last air bubbles: US guide"
    " specification UFGS-15741N after IGSHPA (read in a reproduction); IGSHPA's manual (memory)"
)
PRACTICE: Final = (
    "The purge's velocity clears air; it is not known to carry stones and swarf out, so keep pipes"
    " capped.",
    "Fill empty boreholes and slopes slowly before they are purged: what stands in one leg against"
    " air in the other is not in the pressures of the steps.",
    "The purge pump can lift the pressure above the pipe's class or the gauge's range when a valve"
    " is shut against it: fit a relief valve, never stand over hoses and couplings, isolate the"
    " expansion vessel and the heat pump.",
)


def source_of(velocity: float) -> str:
    """Where a plan's velocity [m/s] comes from."""
    if math.isclose(velocity, AIR_CLEARING_VELOCITY, rel_tol=1e-6):
        return SOURCE
    return f"{velocity:g} m/s as asked for; published is: {SOURCE}"


def procedure(*, plain_water: bool, in_frost: bool) -> str:
    """What is pumped round, and until when; whether water is all that is filled, or would freeze.

    Source: a public purge procedure after IGSHPA (read).
    """
    clean = "until no bubble and no dirt comes back (public purge procedure after IGSHPA, read)."
    way = "heat pump isolated, through a strainer and an open tank, its return under the surface"
    if in_frost and not plain_water:
        return (
            f"Flush and purge with the mixture, {way}, {clean} It is too cold for water: put none"
            " into pipe that is at 0 °C or below."
        )
    then = "" if plain_water else " Add the antifreeze only then."
    return f"Flush and purge with clean water, {way}, {clean}{then}"


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
class PurgeStep:
    """What is open in one step, and what the purge pump gives in it, the one way and the other.

    Attributes
    ----------
    name
        What is open: a loop, or what hangs on a stretch of shared pipe.
    clears
        Pipe that sets the flow.
    loops
        How many loops are open.
    flow
        [m³/s]
    drop
        Of all that is on the way, between the purge connections at the plant [Pa]; hoses, purge
        valves and strainer come on top.
    lift
        Fluid over the connections that the pump holds while the pipe beyond the highest ground is
        still empty [Pa]; what falls on the other side is never set off against it.
    slowest, fastest
        Velocity in that pipe, and the highest in any [m/s].
    reynolds
        In that pipe [-].
    volume
        What it holds on the way [m³].
    density
        Of the fluid [kg/m³].
    count
        Equal steps, one after the other.
    bypassed
        The pressure with purge points at the end of the shared pipe, no loop on the way [Pa]; 0
        for a loop's own step.
    once
        Of what it holds, what another step clears [m³]: changed once, to carry the air out.
    """

    name: str
    clears: str
    loops: int
    flow: float
    drop: float
    lift: float
    slowest: float
    fastest: float
    reynolds: float
    volume: float
    density: float
    count: int = 1
    bypassed: float = 0.0
    once: float = 0.0

    @property
    def pressure(self) -> float:
        """At the connection that the flow enters by, the other open to the tank [Pa gauge]."""
        return self.drop + self.lift

    @property
    def head(self) -> float:
        """That pressure as height of the fluid [m]."""
        return self.pressure / (self.density * g)

    @property
    def turnover(self) -> float:
        """Time to change once what it holds [s]."""
        return self.volume / self.flow

    @property
    def time(self) -> float:
        """Least time of the step, both ways [s]."""
        return 2.0 * (CHANGES * (self.volume - self.once) + self.once) / self.flow


@dataclass(frozen=True, slots=True)
class PurgeSteps:
    """Every step in order, and the one duty that covers them.

    Attributes
    ----------
    steps
        Shared pipe from the plant outwards as far as a loop alone does not clear it, then the
        loops, in the order of the layout.
    flow, pressure
        Largest flow [m³/s] and largest pressure at a connection [Pa gauge]: a pump that gives both
        at once covers all steps.
    tank
        Least contents of the open tank [m³].
    time
        Least time of all steps and of the pumping at the end [s].
    """

    steps: tuple[PurgeStep, ...]
    flow: float
    pressure: float
    tank: float
    time: float

    @property
    def hardest(self) -> PurgeStep:
        """The step of the largest pressure."""
        return max(self.steps, key=lambda each: each.pressure)

    def led_off(self, over: Sequence[PurgeStep]) -> float:
        """Largest pressure with purge points where some steps clear shared pipe [Pa gauge]."""
        return max(
            min(each.pressure, each.bypassed or math.inf) if each in over else each.pressure
            for each in self.steps
        )


@dataclass(frozen=True, slots=True)
class _Way:
    """What all flow of a step passes between purge pump and what is opened."""

    lengths: dict[Pipe, float] = field(default_factory=dict)
    loss: Loss = NO_LOSS

    def on(self, *pipes: tuple[Pipe | None, float], loss: Loss = NO_LOSS) -> _Way:
        """The way with more pipe."""
        lengths = dict(self.lengths)
        for pipe, length in pipes:
            if pipe is not None and length > 0.0:
                lengths[pipe] = lengths.get(pipe, 0.0) + length
        return _Way(lengths, self.loss + loss)

    @property
    def sections(self) -> tuple[Section, ...]:
        """As straight pipe in series."""
        return tuple(Section(pipe, length) for pipe, length in self.lengths.items())

    @property
    def volume(self) -> float:
        """Contents [m³]."""
        return sum(section.volume for section in self.sections)


class _Stretches:
    """Stretches of a header one behind the other; how much of each pipe the first of them are.

    Kept as sums, since a header of thousands has as many ways to add up.
    """

    __slots__ = ("_of",)

    def __init__(self, stretches: Iterable[tuple[Pipe | None, float]]) -> None:
        self._of: dict[Pipe, tuple[list[int], list[float]]] = {}
        for number, (pipe, length) in enumerate(stretches):
            if pipe is not None and length > 0.0:
                numbers, sums = self._of.setdefault(pipe, ([], [0.0]))
                numbers.append(number)
                sums.append(sums[-1] + length)

    def first(self, count: int) -> Iterator[tuple[Pipe, float]]:
        """Pipes and lengths of the first so many [m]."""
        for pipe, (numbers, sums) in self._of.items():
            yield pipe, sums[bisect_left(numbers, count)]


@dataclass(frozen=True, slots=True)
class _Along:
    """A circuit's headers from the plant on: `back` is from the last row where `reverse`."""

    headers: Headers
    flow: _Stretches
    back: _Stretches
    reverse: bool

    @classmethod
    def of(cls, circuit: Circuit, headers: Headers) -> _Along:
        """The headers of a circuit."""
        reverse = circuit.arrangement == "reverse_return"
        back = _Stretches(reversed(headers.back) if reverse else headers.back)
        return cls(headers, _Stretches(headers.flow), back, reverse)

    def passed(self, first: int, stop: int) -> Iterator[tuple[Pipe, float]]:
        """Stretches of header that all flow of rows `first` to `stop` passes."""
        yield from self.flow.first(first + 1)
        yield from self.back.first(len(self.headers.back) - stop if self.reverse else first + 1)

    def outside(self, first: int, stop: int) -> Iterator[tuple[Pipe, float]]:
        """The same without those that :func:`_part` holds itself."""
        yield from self.flow.first(first)
        yield from self.back.first(len(self.headers.back) - stop - 1 if self.reverse else first)


@dataclass(frozen=True, slots=True)
class _Purge:
    """What a purge is done with: the fluid, the velocity to reach [m/s], how high it rises [m]."""

    fluid: Fluid
    velocity: float
    rise: float

    @property
    def lift(self) -> float:
        """What the fluid weighs up to the highest ground [Pa]."""
        return column(self.rise, self.fluid.density)

    def needs(self, *pipes: tuple[Pipe | None, float]) -> tuple[float, str]:
        """Flow that clears the widest of some pipes [m³/s], and its name; nothing for no length."""
        return max(
            (
                (flow_for_velocity(pipe, self.velocity), pipe.name)
                for pipe, length in pipes
                if pipe is not None and length > 0.0
            ),
            default=(0.0, ""),
        )

    def through_loop(self, name: str, loop: Loop, way: _Way, count: int) -> PurgeStep:
        """A loop alone, all others shut."""
        own = [each for each in loop.sections if each.length > 0.0]
        widest = max(own, key=lambda each: each.pipe.bore_area * each.parallel)
        flow = self.velocity * widest.pipe.bore_area * widest.parallel
        sections = (*own, *way.sections)
        narrowest = min(each.pipe.bore_area * each.parallel for each in sections)
        return PurgeStep(
            name,
            widest.pipe.name,
            1,
            flow,
            series_drop(sections, way.loss + loop.fittings, flow, self.fluid),
            self.lift,
            self.velocity,
            flow / narrowest,
            float(_reynolds((widest,), flow, self.fluid)[0]),
            sum(each.volume for each in sections),
            self.fluid.density,
            count,
        )

    def through_part(
        self, name: str, part: Circuit, ways: tuple[_Way, _Way], needed: tuple[float, str],
        count: int,
    ) -> PurgeStep:  # fmt: skip
        """A part of the array with all its loops open, at the flow that clears shared pipe.

        `ways` are the way to the part, and the way with the shared pipe and nothing beyond it.
        """
        way, stretch = ways
        flow, pipe = needed
        fluid = self.fluid
        area = flow / self.velocity
        bore = math.sqrt(4.0 * area / math.pi)
        reynolds = 4.0 * fluid.density * flow / (fluid.viscosity * math.pi * bore)
        _refuse_reynolds(reynolds)
        network = assemble(part, Plant(), (fluid, fluid, fluid))
        solution = solve(network, fluid.density * flow)
        through = np.abs(solution.flow[network.owner])
        within = 4.0 * through / (math.pi * network.bore * network.parallel * fluid.viscosity)
        _refuse_reynolds(float(within.max()))
        speeds = through / (fluid.density * 0.25 * math.pi * network.bore**2 * network.parallel)
        fastest = max(
            float(speeds[network.length > 0.0].max(initial=0.0)),
            *(flow / each.bore_area for each in way.lengths),
            self.velocity,
        )
        volume = way.volume + array_contents(part, Plant()).volume
        return PurgeStep(
            name,
            pipe,
            loop_count(part),
            flow,
            series_drop(way.sections, way.loss, flow, fluid) + solution.array_drop,
            self.lift,
            self.velocity,
            fastest,
            reynolds,
            volume,
            fluid.density,
            count,
            series_drop(stretch.sections, stretch.loss, flow, fluid) + self.lift,
            volume - stretch.volume,
        )

    def steps(
        self, circuit: Circuit, way: _Way, prefix: str = "", times: int = 1
    ) -> tuple[list[PurgeStep], list[PurgeStep]]:
        """Steps of a circuit: for its shared pipe, and for its loops."""
        headers = headers_of(circuit)
        along = _Along.of(circuit, headers)
        shared: list[PurgeStep] = []
        rows: list[tuple[int, int, list[PurgeStep]]] = []  # from row, to row, its loops' steps
        largest: list[float] = []  # flow through each row in a step of that row alone
        row = 0
        for branch in circuit.branches:
            several = branch.count > 1 and bool(headers.flow) and branch.header_length > 0.0
            for copy in range(branch.count if several else 1):
                count = times * (1 if several else branch.count)
                name = prefix + branch.item.name + (f"-{copy + 1}" if several else "")
                there = way.on(*along.passed(row + copy, row + copy))
                below, own = self._branch(branch, there, name, prefix, count)
                shared += below
                rows += [(row + copy, row + (copy if several else branch.count - 1), own)]
                flow = max(each.flow for each in (*below, *own))
                largest += [flow] * (1 if several else branch.count)
            row += branch.count
        if headers.flow:
            found = self._header_steps(circuit, along, way, prefix, largest, times=times)
            shared = [step for _, _, step in found] + shared
            for first, stop, _ in found:
                for number, (one, last, own) in enumerate(rows):
                    alike = along.passed(min(one, first), max(last, stop))
                    rows[number] = one, last, _cleared(own, way.on(*alike).volume)
        return shared, [step for _, _, own in rows for step in own]

    def _branch(
        self, branch: Branch, way: _Way, name: str, prefix: str, count: int
    ) -> tuple[list[PurgeStep], list[PurgeStep]]:
        """Steps of one branch, the others shut."""
        pipes = [(run.pipe, 2.0 * run.length) for run in branch.runs]
        loss = branch.fittings
        for run in branch.runs:
            loss += run.fittings
        there = way.on(*pipes, loss=loss)
        item = branch.item
        if isinstance(item, Circuit):
            below = f"{name}/" if name != prefix else prefix
            shared, loops = self.steps(item, there, below, count)
            opened: Circuit = item
        else:
            shared, loops = [], [self.through_loop(name, item, there, count)]
            opened = Circuit("manifold", (Branch(item),))
        needed = self.needs(*pipes)
        if needed[0] * _ENOUGH > max(each.flow for each in (*shared, *loops)):
            called = f"run to {name or 'the chamber'}"
            step = self.through_part(called, opened, (there, there), needed, count)
            shared = [step, *shared]
            loops = _cleared(loops, there.volume)
        return shared, loops

    def _header_steps(
        self, circuit: Circuit, along: _Along, way: _Way, prefix: str,
        largest: list[float], *, times: int,
    ) -> list[tuple[int, int, PurgeStep]]:  # fmt: skip
        """Steps for stretches of header that no branch alone clears, the near ones first.

        Each with the first and the last row that is open. `times` is how many circuits alike are
        cleared so, one after the other.
        """
        rows = [branch for branch in circuit.branches for _ in range(branch.count)]
        labels = [
            prefix + each.item.name + (f"-{copy + 1}" if each.count > 1 else "")
            for each in circuit.branches
            for copy in range(each.count)
        ]
        last = len(rows) - 1
        headers = along.headers
        reverse = circuit.arrangement == "reverse_return"
        found: list[tuple[int, int, PurgeStep]] = []

        def clear(first: int, stop: int, needed: tuple[float, str], passed: float) -> float:
            if needed[0] * _ENOUGH <= passed:
                return passed
            there = way.on(*along.outside(first, stop))
            part = _part(circuit, headers, rows, first, stop)
            stretch = way.on(*along.passed(first, stop))
            which = labels[first] + (f" to {labels[stop]}" if stop > first else "")
            name = f"header, {which} open"
            step = self.through_part(name, part, (there, stretch), needed, times)
            found.append((first, stop, step))
            return needed[0]

        passed = 0.0
        for row in range(last, -1, -1):
            passed = max(passed, largest[row])
            here = (headers.flow[row], *(() if reverse else (headers.back[row],)))
            passed = clear(row, last, self.needs(*here), passed)
        if reverse:
            passed = 0.0
            for row in range(last + 1):
                passed = max(passed, largest[row])
                passed = clear(0, row, self.needs(headers.back[row]), passed)
        return found[::-1]


def _cleared(loops: list[PurgeStep], volume: float) -> list[PurgeStep]:
    """Steps of loops that lie behind shared pipe, so much of which [m³] has steps of its own."""
    return [replace(each, once=max(each.once, volume)) for each in loops]


def _part(circuit: Circuit, headers: Headers, rows: list[Branch], first: int, stop: int) -> Circuit:
    """Rows `first` to `stop` of a circuit alone, on the pipe that they hang on."""
    reverse = circuit.arrangement == "reverse_return"
    branches = []
    for row in range(first, stop + 1):
        back = headers.back[row]
        if reverse:  # a stretch beside the one to the next row; the closing run beside the first
            back = headers.back[row - 1 if row > first else stop]
        branches.append(
            replace(
                rows[row], count=1, header_length=headers.flow[row][1],
                header_pipe=headers.flow[row][0], return_header_pipe=back[0],
            )
        )  # fmt: skip
    closing = headers.back[stop][1] if reverse else 0.0
    return Circuit(circuit.arrangement, tuple(branches), circuit.header_pipe, closing)


def purge_steps(
    circuit: Circuit,
    fluid: Fluid,
    plant: Plant | None = None,
    velocity: float = AIR_CLEARING_VELOCITY,
    rise: float = 0.0,
) -> PurgeSteps:
    """Steps that bring every pipe of array and plant to the clearing velocity, and their duty.

    Parameters
    ----------
    circuit
        The array; each loop needs a valve of its own, and what is not named in a step is shut.
    fluid
        What it is purged with, at filling temperature.
    plant
        Its runs and fittings are on the way of every step; the heat pump is isolated.
    velocity
        To reach [m/s].
    rise
        Height of the highest ground over the purge connections at the plant [m], 0 or more.

    Raises
    ------
    InputError
        The velocity is not more than 0, or friction is not published so far.

    Notes
    -----
    A stretch of shared pipe gets a step of its own where no step further out sends as much through
    it; then all that hangs beyond it is open, which takes the least pressure. A pipe through which
    a part of a step's flow passes is not counted as cleared by it. The drop is odd in the flow, and
    both ways rise to the same ground, so that the other way round takes the same.
    """
    refuse(number_fault("velocity", velocity, "m/s", above=0.0))
    purge = _Purge(fluid, velocity, rise)
    plant = plant or Plant()
    pipes = [(run.pipe, 2.0 * run.length) for run in plant.runs]
    loss = plant.fittings
    for run in plant.runs:
        loss += run.fittings
    way = _Way().on(*pipes, loss=loss)
    shared, loops = purge.steps(circuit, way)
    needed = purge.needs(*pipes)
    if needed[0] * _ENOUGH > max(each.flow for each in (*shared, *loops)):
        whole = purge.through_part("all loops", circuit, (way, way), needed, 1)
        shared = [whole, *shared]
        loops = _cleared(loops, way.volume)
    steps = (*shared, *loops)
    flow = max(each.flow for each in steps)
    return PurgeSteps(
        steps,
        flow,
        max(each.pressure for each in steps),
        TANK_TIME * flow,
        LAST_PUMPING + sum(each.count * each.time for each in steps),
    )


def beyond_class_remedy(
    plan: PurgeSteps, *, by_valves: bool = False, by_points: bool = True
) -> str:
    """What to do where the hardest step's pressure is more than the pipe bears.

    Parameters
    ----------
    by_valves
        Whether it is the valves that are set to balance that make it so.
    by_points
        Whether the pipe to be cleared bears the step's flow where that is led off at its end.
    """
    step = plan.hardest
    if by_valves:
        return (
            f"It is the step '{step.name}', and a valve that is set to balance takes most of it: "
            "do not purge it so, but with that valve fully open."
        )
    if step.bypassed > 0.0 and not by_points:
        return (
            f"It is the step '{step.name}', of which {step.clears} by itself takes "
            f"{figures(step.bypassed / 1e3)} kPa. Do not purge it so: check the numbers, and purge "
            "it in shorter parts from purge points on its way, or take pipe of a higher class."
        )
    if step.loops > 1 or step.bypassed > 0.0:
        return (
            f"It is the step '{step.name}', which sends {figures(step.flow * 1e3)} L/s through "
            f"the loops to clear {step.clears}. Do not purge it so: put purge points at the end "
            f"of that pipe, which by itself takes {figures(step.bypassed / 1e3)} kPa at the "
            "connections at that flow, or take narrower header pipe."
        )
    return (
        f"It is the step '{step.name}'. Do not purge it so: check the numbers, and take shorter or"
        " wider loops (smaller circuits), or pipe of a higher class."
    )


def foot_remedy(plan: PurgeSteps, over: Sequence[PurgeStep]) -> Eased:
    """What to do where steps make more pressure than a borehole's foot bears."""
    step, most = plan.hardest, sum(each.count for each in over)
    text = f"The step '{step.name}' makes it"
    if most > 1:
        text += f", and {most - 1} more {'are' if most > 2 else 'is'} beyond it too"
    left = plan.led_off(over)
    if left >= plan.pressure:
        return Eased(f"{text}.", "", left)
    through = "the loops" if step.loops > 1 else "one loop"
    return Eased(
        f"{text}: it sends {figures(step.flow * 1e3)} L/s through {through} to clear "
        f"{step.clears}.",
        "Do not purge it so: put purge points at the end of the shared pipe that "
        f"{'each of them' if most > 1 else 'it'} clears. With them one purge pump of "
        f"{figures(plan.flow * 1e3)} L/s at {figures(left / 1e3, 4)} kPa at the connections covers"
        " all steps.",
        left,
    )


def valve_findings(opened: Sequence[str], as_set: Sequence[str]) -> Iterator[Finding]:
    """Tell of valves that are set to balance and stand on the way of a purge.

    Parameters
    ----------
    opened, as_set
        Branches whose valves the steps take as fully open, and those taken as they are set.
    """
    if not (opened or as_set):
        return
    told = []
    if opened:
        told.append(f"those of {listed(list(opened))} fully open: left as set, they hold the air")
    if as_set:
        told.append(
            f"those of {listed(list(as_set))} as set, since what they take when open is not told: "
            "open, they take less"
        )
    yield Finding(
        "purge_valves_set", "warning" if opened else "info",
        "Valves that are set to balance stand in the way of the purge: note their positions, open "
        "them fully, and set them again when the air is out. The steps are reckoned with"
        f" {', and with '.join(told)}.",
        COMMON_PRACTICE,
    )  # fmt: skip


def purge_findings(
    circuit: Circuit,
    plan: PurgeSteps,
    *,
    plain_water: bool,
    borne: bool = True,
    in_frost: bool = False,
) -> Iterator[Finding]:
    """What a clean purge needs.

    Parameters
    ----------
    plain_water, borne, in_frost
        Whether its fluid is water, whether its pressure is borne by all pipe, and whether water
        would freeze at its temperature.
    """
    if any(here.arrangement != "manifold" for here, _ in circuits_of(circuit)):
        yield Finding(
            "loop_valves_needed", "warning",
            "The steps shut loops that are not named, which needs a valve on every loop; loops teed"
            " off a header have none as a rule. Fit valves, or purge points at the ends of the"
            " header: with all loops open, the header's last stretch carries one loop's flow only.",
            COMMON_PRACTICE,
        )  # fmt: skip
    if in_frost:
        yield Finding(
            "purge_in_frost", "warning",
            "Water would freeze at the temperature that is filled at, so that the mixture purges, "
            "and these duties are for it. The clearing velocity is a finding for water, and a more "
            "viscous fluid carries less air at it: go on until no bubble has come back for a good "
            "while, and bleed the highest points again in the first weeks; or wait for warmer days"
            " and purge with water then.",
            "public purge procedure after IGSHPA (read); the rest " + COMMON_PRACTICE,
        )  # fmt: skip
    elif not plain_water:
        yield Finding(
            "purge_with_water_first", "info",
            "These duties are for the mixture. The clearing velocity is a finding for water;"
            " purge with water first and add the antifreeze when the air is out.",
            "public purge procedure after IGSHPA (read)",
        )  # fmt: skip
    velocity = min(each.slowest for each in plan.steps)
    if velocity < AIR_CLEARING_VELOCITY * (1.0 - 1e-6):
        yield Finding(
            "purge_slow", "warning",
            f"The steps are reckoned to reach {figures(velocity)} m/s in every pipe, as asked for, "
            f"and {AIR_CLEARING_VELOCITY:g} m/s clears air: at less it stays in high places and in"
            " turns, starves loops and is noisy. Leave the velocity out.",
            SOURCE,
        )  # fmt: skip
    if not borne:
        return
    hardest = plan.hardest
    lift = ""
    if hardest.lift > 0.0:
        lift = f" {figures(hardest.lift / 1e3)} kPa of it lift the fluid to the highest ground."
    yield Finding(
        "purge_pump_duty", "info",
        f"One purge pump of {figures(plan.flow * 1e3)} L/s at {figures(plan.pressure / 1e3, 4)} "
        f"kPa at the connections covers all steps; the step '{hardest.name}' takes the "
        f"pressure.{lift} Hoses, strainer and purge valves come on top.",
        source_of(velocity),
    )  # fmt: skip
