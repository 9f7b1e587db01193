"""Which coils of pipe to order, so that no loop is jointed underground and nothing is cut short?"""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import has_probe, pieces_of
from hydraulics.layout.walk import circuits_of, headers_of, loops_of, standings
from hydraulics.pipework.pipe import STANDARD_COILS, Pipe


@dataclass(frozen=True, slots=True)
class LoopCoil:
    """The coil that one loop, or one stretch of it, is laid from.

    Attributes
    ----------
    loop
        Name of the loop.
    pipe
        The pipe.
    needed
        Length that the loop takes in one piece [m].
    coil
        Length of the coil to order [m]; None where none is long enough.
    leftover
        What is over [m]: it is cut off. Left coiled in the loop it is another circuit, and a
        ``Coiled`` leg of it, before anything is computed.
    count
        Equal loops.
    """

    loop: str
    pipe: Pipe
    needed: float
    coil: float | None
    leftover: float
    count: int


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One line of the order.

    Attributes
    ----------
    pipe
        The pipe.
    coil
        Length of one coil [m].
    loops, routes
        Coils for loops, and coils for headers, runs and boreholes' tails.
    """

    pipe: Pipe
    coil: float
    loops: int
    routes: int

    @property
    def count(self) -> int:
        """Coils to order."""
        return self.loops + self.routes


@dataclass(frozen=True, slots=True)
class Probes:
    """Factory-made U-tubes to order.

    Attributes
    ----------
    pipe
        Their pipe.
    depth
        Depth of the borehole [m]; the U-tube has twice this much pipe and a factory-welded foot.
    count
        U-tubes, two for a double-U borehole.
    """

    pipe: Pipe
    depth: float
    count: int


@dataclass(frozen=True, slots=True)
class PipeOrder:
    """Everything to order.

    Attributes
    ----------
    lines
        Coils by pipe and length.
    loop_coils
        Which coil each loop is laid from.
    probes
        U-tubes for boreholes.
    route_lengths
        Pipe in headers, runs and boreholes' tails, by pipe [m].
    leftover
        Pipe ordered beyond what is laid [m].
    findings
        Loops that no coil is long enough for, joints underground.
    """

    lines: tuple[OrderLine, ...]
    loop_coils: tuple[LoopCoil, ...]
    probes: tuple[Probes, ...]
    route_lengths: tuple[tuple[Pipe, float], ...]
    leftover: float
    findings: tuple[Finding, ...]


def pack_pieces(pieces: Iterable[float], coil: float) -> int:
    """Number of coils that a set of pieces is cut from, best fit decreasing.

    Parameters
    ----------
    pieces
        Lengths [m]; one longer than a coil takes whole coils jointed and a piece of another.
    coil
        Coil length [m].

    Returns
    -------
    int
        Coils; never fewer than the total length asks, at most about a fifth more than the least.
    """
    whole = 0
    rest: list[float] = []
    for piece in pieces:
        full = math.floor(piece / coil * (1.0 + 1e-12))
        whole += full
        if piece - full * coil > 1e-9 * coil:
            rest.append(piece - full * coil)
    spare: list[float] = []  # what is left of each opened coil, sorted
    opened = 0
    for piece in sorted(rest, reverse=True):
        place = bisect.bisect_left(spare, piece * (1.0 - 1e-12))
        if place < len(spare):
            left = spare.pop(place) - piece
        else:
            left = coil - piece
            opened += 1
        bisect.insort(spare, left)
    return whole + opened


def _least_pipe(pieces: Sequence[float], choice: Sequence[float]) -> tuple[int, float]:
    """Number and length of coils with the least pipe over, long enough for every piece."""
    whole = [coil for coil in choice if coil >= max(pieces) * (1.0 - 1e-9)] or [choice[-1]]
    packed = [(pack_pieces(pieces, coil), coil) for coil in whole]
    return min(packed, key=lambda order: (order[0] * order[1], order[0]))


def _routes(circuit: Circuit, plant: Plant | None) -> dict[Pipe, list[float]]:
    """Pieces of pipe between joints that are there anyway: headers, runs, tails of boreholes."""
    found: dict[Pipe, list[float]] = {}
    for here, times in circuits_of(circuit):
        headers = headers_of(here)
        for pipe, length in (*headers.flow, *headers.back):
            if pipe is not None and length > 0.0:
                found.setdefault(pipe, []).extend([length] * times)
    for each in standings(circuit):
        for run in each.branch.runs:
            if run.length > 0.0:
                found.setdefault(run.pipe, []).extend([run.length] * (2 * each.count))
        if each.loop is not None and has_probe(each.loop):
            for pipe, length in pieces_of(each.loop):
                found.setdefault(pipe, []).extend([length] * each.count)
    for run in plant.runs if plant is not None else ():
        if run.length > 0.0:
            found.setdefault(run.pipe, []).extend([run.length] * 2)
    return found


def _checked(lengths: Mapping[str, Sequence[float]] | None) -> dict[str, list[float]]:
    given = {name: sorted(offered) for name, offered in (lengths or {}).items()}
    faults = [
        Fault(
            f"coil_lengths.{name}",
            "give at least one coil length, each more than 0 m",
            offered,
            "lengths more than 0 m",
        )
        for name, offered in given.items()
        if not offered or not all(math.isfinite(v) and v > 0.0 for v in offered)
    ]
    if faults:
        raise InputError(*faults)
    return given


def pipe_order(
    circuit: Circuit,
    plant: Plant | None = None,
    coil_lengths: Mapping[str, Sequence[float]] | None = None,
) -> PipeOrder:
    """Coils, U-tubes and route pipe to order.

    Parameters
    ----------
    circuit
        The array.
    plant
        Its runs are ordered too.
    coil_lengths
        Coil lengths on offer [m] by pipe name; :data:`STANDARD_COILS` for a pipe not named.

    Returns
    -------
    PipeOrder
        Each loop comes from one coil, the shortest that is long enough. Pieces of headers and
        runs, and the tails that are welded to a borehole's U-tube, share coils.

    Raises
    ------
    InputError
        A coil length that is not more than 0.
    """
    offered = _checked(coil_lengths)
    findings: list[Finding] = []
    coils: list[LoopCoil] = []
    probes: dict[tuple[Pipe, float], int] = {}
    for name, loop, count in loops_of(circuit):
        for leg in loop.legs:
            if (hole := leg.borehole) is not None:
                key = (leg.pipe or loop.pipe, hole.depth)
                probes[key] = probes.get(key, 0) + hole.u_tubes * count
        pieces = [] if has_probe(loop) else pieces_of(loop)
        sizes = {pipe for pipe, _ in pieces}
        if len(sizes) > 1:
            findings.append(
                Finding(
                    "joint_underground", "warning",
                    f"Loop {name} changes pipe ({', '.join(sorted(p.name for p in sizes))}), which"
                    " needs joints within the loop: bring them into a chamber that stays"
                    " accessible, or lay the loop in one pipe.",
                    COMMON_PRACTICE,
                )
            )  # fmt: skip
        for pipe, needed in pieces:
            choice = offered.get(pipe.name, list(STANDARD_COILS))
            fits = [length for length in choice if length >= needed * (1.0 - 1e-9)]
            coil = fits[0] if fits else None
            if coil is None:
                findings.append(
                    Finding(
                        "no_coil_long_enough", "error",
                        f"Loop {name} takes {needed:.1f} m of {pipe.name} in one piece; the longest"
                        f" coil on offer is {choice[-1]:g} m. Order a longer coil, or lay as much"
                        " in more loops: shorter ones alone gather less heat, and a loop is never"
                        " jointed underground.",
                        COMMON_PRACTICE,
                    )
                )  # fmt: skip
            leftover = max(coil - needed, 0.0) if coil is not None else 0.0
            coils.append(LoopCoil(name, pipe, needed, coil, leftover, count))

    tally: dict[tuple[Pipe, float], list[int]] = {}
    for each in coils:
        if each.coil is not None:
            tally.setdefault((each.pipe, each.coil), [0, 0])[0] += each.count
    routes = _routes(circuit, plant)
    spare = math.fsum(each.leftover * each.count for each in coils)
    for pipe, lengths in routes.items():
        choice = offered.get(pipe.name, list(STANDARD_COILS))
        longest = choice[-1]
        number, coil = _least_pipe(lengths, choice)
        tally.setdefault((pipe, coil), [0, 0])[1] += number
        spare += number * coil - math.fsum(lengths)
        if max(lengths) > longest * (1.0 + 1e-9):
            findings.append(
                Finding(
                    "route_jointed", "info",
                    f"A header or run of {max(lengths):.1f} m is longer than a coil of {pipe.name}"
                    f" ({longest:g} m): it is fusion-jointed; test the joint before covering it and"
                    " record where it is.",
                    COMMON_PRACTICE,
                )
            )  # fmt: skip
    return PipeOrder(
        lines=tuple(
            OrderLine(pipe, coil, *numbers)
            for (pipe, coil), numbers in sorted(
                tally.items(), key=lambda item: (item[0][0].name, item[0][1])
            )
        ),
        loop_coils=tuple(coils),
        probes=tuple(Probes(pipe, depth, n) for (pipe, depth), n in probes.items()),
        route_lengths=tuple((pipe, math.fsum(lengths)) for pipe, lengths in routes.items()),
        leftover=spare,
        findings=tuple(findings),
    )
