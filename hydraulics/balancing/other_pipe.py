"""Would other pipe make every loop reach its flow? Standard sizes tried one after the other."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from hydraulics.errors import InputError, NoSolutionError, RangeError
from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.edit import sized, sizes_from, with_loop_pipes, with_route_pipes
from hydraulics.layout.walk import flowing, flowing_circuits, headers_of
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.duty import Duty, PumpDriven
from hydraulics.split.flow_split import solve_for
from hydraulics.split.reached import Reached, reached, solve_near
from hydraulics.split.result import CirculatingDuty
from hydraulics.split.target import Target, target_flows

LOOP_STEPS: Final = (-3, -2, -1, 1, 2, 3)  # sizes of loop pipe tried, below and above
MOST_STEPS: Final = 12  # sizes of one kind tried at most; the standard series has 13


@dataclass(frozen=True, slots=True)
class Situation:
    """What stays the same while the array is changed.

    Attributes
    ----------
    circuit, plant
        The array as it is, and what lies between it and the pump.
    fluids
        Brine to the ground, in the loops, from the ground.
    duty
        What sets the flow.
    total
        Mass flow of the array as it is [kg/s].
    target
        What flow each loop should have.
    tolerance
        Allowed deviation from it, as a fraction.
    """

    circuit: Circuit
    plant: Plant
    fluids: tuple[Fluid, Fluid, Fluid]
    duty: Duty
    total: float
    target: Target
    tolerance: float


@dataclass(frozen=True, slots=True)
class Exchange:
    """An array with other pipe, solved.

    Attributes
    ----------
    changes
        Pairs of the pipe as it is and the pipe in its place.
    circuit
        The changed array.
    reached
        Its flows and duty.
    """

    changes: tuple[tuple[Pipe, Pipe], ...]
    circuit: Circuit
    reached: Reached


@dataclass(frozen=True, slots=True)
class Tried:
    """What is told of an exchange; the changed array itself would weigh megabytes.

    Attributes
    ----------
    changes
        Pairs of the pipe as it is and the pipe in its place.
    spread
        Largest less smallest deviation [-].
    within_tolerance
        True where every loop is within the tolerance of its target.
    duty
        What the circulating pump must do.
    """

    changes: tuple[tuple[Pipe, Pipe], ...]
    spread: float
    within_tolerance: bool
    duty: CirculatingDuty


def told_of(exchange: Exchange) -> Tried:
    """What is told of an exchange."""
    found = exchange.reached
    return Tried(exchange.changes, found.spread, found.within_tolerance, found.duty)


def resolved(situation: Situation, circuit: Circuit) -> Reached:
    """Solve a changed array at the same total flow, or at that which the job's pump gives then.

    Parameters
    ----------
    situation
        Plant, fluids, target and tolerance.
    circuit
        The changed array; its loops are in the same order.

    Returns
    -------
    Reached
        Flows, spread and duty.

    Raises
    ------
    RangeError
        A pipe's Reynolds number is beyond the friction law.
    NoSolutionError
        The pump's curve does not meet the changed system's.
    """
    return at_duty(situation, assemble(circuit, situation.plant, situation.fluids))


def at_duty(situation: Situation, network: Network) -> Reached:
    """Solve an assembled array as :func:`resolved` does."""
    if isinstance(situation.duty, PumpDriven):
        solution = solve_for(network, situation.duty)
        driven = target_flows(network, solution.total, situation.target)
        return reached(network, solution, driven, situation.tolerance)
    wanted = target_flows(network, situation.total, situation.target)
    return solve_near(network, wanted, situation.tolerance)


def route_pipes(circuit: Circuit) -> list[Pipe]:
    """Pipes of all headers and routes to open branches with some length, each once."""
    found: dict[Pipe, None] = {}
    for here, _ in flowing_circuits(circuit):
        headers = headers_of(here)
        for pipe, length in (*headers.flow, *headers.back):
            if pipe is not None and length > 0.0:
                found[pipe] = None
    for each in flowing(circuit):
        for run in each.branch.runs:
            if run.length > 0.0:
                found[run.pipe] = None
    return list(found)


def loop_pipes(circuit: Circuit) -> list[Pipe]:
    """Pipes of all loops that are open, each once."""
    found: dict[Pipe, None] = {}
    for each in flowing(circuit):
        for section in each.loop.sections if each.loop is not None else ():
            found[section.pipe] = None
    return list(found)


def larger_headers(situation: Situation) -> Iterator[Exchange]:
    """Try headers and routes one, two, three … standard sizes larger.

    Parameters
    ----------
    situation
        The array as it is.

    Yields
    ------
    Exchange
        From the smallest change up; the last is the first within tolerance, or the largest size
        there is. Empty where there is no header or route, or no larger size.
    """
    pipes = route_pipes(situation.circuit)
    longest = max((len(sizes_from(pipe)[1]) for pipe in pipes), default=0)
    steps = _stepped(pipes, range(1, min(longest, MOST_STEPS) + 1))
    return _tried(situation, pipes, steps, with_route_pipes, stop=True)


def other_loop_pipes(situation: Situation) -> Iterator[Exchange]:
    """Try all loops in one of their sizes where they have several, and in smaller and larger ones.

    Parameters
    ----------
    situation
        The array as it is.

    Yields
    ------
    Exchange
        All in one size, and all some sizes smaller or larger, each from the smallest pipe to the
        largest; sizes whose coils would be too tight are left out.
    """
    pipes = loop_pipes(situation.circuit)
    one = sorted({pipe.bore: pipe for pipe in pipes}.values(), key=lambda pipe: pipe.bore)
    alike = [(pipe,) * len(pipes) for pipe in one[:MOST_STEPS]] if len(one) > 1 else []
    sets = (*alike, *_stepped(pipes, LOOP_STEPS))
    return _tried(situation, pipes, sets, with_loop_pipes, stop=False)


def _stepped(pipes: list[Pipe], steps: Iterable[int]) -> list[tuple[Pipe, ...]]:
    """The pipes all moved by each number of sizes."""
    return [tuple(sized(pipe, step) for pipe in pipes) for step in steps]


def _tried(
    situation: Situation,
    pipes: list[Pipe],
    sets: Iterable[tuple[Pipe, ...]],
    edit: Callable[[Circuit, Callable[[Pipe], Pipe]], Circuit],
    *,
    stop: bool,
) -> Iterator[Exchange]:
    """Solve the array with each set of pipes in the place of its own; each set once.

    Raises what was wrong with the last where none of them can be solved.
    """
    found = False
    unsolved: RangeError | NoSolutionError | None = None
    seen: set[tuple[Pipe, ...]] = {tuple(pipes)}
    for new in sets:
        if new in seen:
            continue
        seen.add(new)
        exchange = dict(zip(pipes, new, strict=True))
        try:
            circuit = edit(situation.circuit, lambda pipe, by=exchange: by.get(pipe, pipe))  # type: ignore[misc]
            result = resolved(situation, circuit)
        except (RangeError, NoSolutionError) as error:  # beyond the law, data or the curve
            unsolved = error
            continue
        except InputError:  # too tight a coil
            continue
        changes = tuple((a, b) for a, b in exchange.items() if a != b)
        found = True
        yield Exchange(changes, circuit, result)
        if stop and result.within_tolerance:
            break
    if unsolved is not None and not found:
        raise unsolved
