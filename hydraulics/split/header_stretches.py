"""Which pipe is every stretch of header, what flows in it and what does it take?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import STILL, Hung, Place, headers_of, walk
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import FROM_GROUND, IN_LOOP, TO_GROUND, Network
from hydraulics.split.state import Solution

Array = NDArray[np.float64]
Line = Literal["flow", "return", "closing"]
LINES: Final[tuple[Line, ...]] = ("flow", "return", "closing")


@dataclass(frozen=True, slots=True)
class HeaderStretches:
    """Every stretch of header that has a length, circuit after circuit, the flow header first.

    Attributes
    ----------
    branches, places
        Loop or circuit, and place of the branch, that the stretch is given with: the flow header
        leads to it, the return header lies beside that; the closing run of a reverse return is
        given with the first.
    lines
        Flow header, return header or closing run.
    pipes
        Pipe of each, named or implied.
    length
        [m]
    mass_flow, volume_flow
        [kg/s] and, at the loops' temperature, [m³/s].
    velocity
        At its own temperature [m/s].
    drop
        [Pa]
    """

    branches: tuple[str, ...]
    places: tuple[Place, ...]
    lines: tuple[Line, ...]
    pipes: tuple[Pipe, ...]
    length: Array
    mass_flow: Array
    volume_flow: Array
    velocity: Array
    drop: Array


def header_stretches(circuit: Circuit, network: Network, solution: Solution) -> HeaderStretches:
    """List the headers of a solved array stretch by stretch; circuits that are closed have none.

    Parameters
    ----------
    circuit
        The array.
    network, solution
        What :func:`hydraulics.split.assembly.assemble` made of it, and its solution.
    """
    has_headers = any(level.headers for level in network.levels)
    hung = [each for level in walk(circuit).levels for each in level] if has_headers else []
    inside: dict[tuple[int, int], int] = {
        (each.above, each.row): number for number, each in enumerate(hung)
    }
    elements = _elements(network) if hung else {}
    names: list[str] = []
    places: list[Place] = []
    lines: list[Line] = []
    pipes: list[Pipe] = []
    length: list[float] = []
    carriers: list[int] = []
    sides: list[int] = []
    drop: list[float] = []

    def add(number: int, prefix: str, above: Place) -> None:
        here = hung[number]
        branches = list(_branches(here, prefix, above))
        for line, at, carrier, pipe, metres in _stretches(here, network.rows):
            if pipe is None:
                continue
            side = TO_GROUND if line == "flow" else FROM_GROUND
            element = next(elements[carrier, side]) if carrier != STILL else None
            if metres > 0.0:
                names.append(branches[at].name)
                places.append(branches[at].place)
                lines.append(line)
                pipes.append(pipe)
                length.append(metres)
                carriers.append(carrier)
                sides.append(side)
                drop.append(0.0 if element is None else float(solution.element_drop[element]))
        for each in branches:
            below = inside.get((number, each.row), STILL)
            if below != STILL:
                named = hung[below].name
                add(below, f"{each.name}/" if named else each.name, each.place)

    if hung:
        add(0, "", ())
    still = np.asarray(carriers, dtype=np.intp) == STILL
    flow = np.where(still, 0.0, solution.flow[carriers])
    area = np.asarray([pipe.bore_area for pipe in pipes])
    density = np.asarray([network.fluids[side].density for side in sides])
    return HeaderStretches(
        branches=tuple(names),
        places=tuple(places),
        lines=tuple(lines),
        pipes=tuple(pipes),
        length=np.asarray(length),
        mass_flow=flow,
        volume_flow=flow / network.fluids[IN_LOOP].density,
        velocity=flow / (density * area),
        drop=np.asarray(drop),
    )


def _elements(network: Network) -> dict[tuple[int, int], Iterator[int]]:
    """Elements of each carrier of headers on each side, in the order of the layout."""
    rows, found = network.rows, dict[tuple[int, int], list[int]]()
    for each in np.flatnonzero((network.owner >= rows) & (network.owner < 3 * rows)).tolist():
        found.setdefault((int(network.owner[each]), int(network.side[each])), []).append(each)
    return {key: iter(elements) for key, elements in found.items()}


@dataclass(frozen=True, slots=True)
class _Named:
    """A branch of a circuit, one by one; its row is STILL where nothing flows in it."""

    name: str
    place: Place
    row: int


def _branches(here: Hung, prefix: str, above: Place) -> Iterator[_Named]:
    row = here.first
    for index, branch in enumerate(here.circuit.branches):
        item, count = branch.item, branch.count
        for copy in range(1, count + 1):
            own = item.name if count == 1 else f"{item.name}-{copy}"
            yield _Named(prefix + own, (*above, index), row if branch.flows else STILL)
            row += branch.flows


def _stretches(here: Hung, rows: int) -> Iterator[tuple[Line, int, int, Pipe | None, float]]:
    """Line, number of the branch that it is given with, carrier, pipe and length of each."""
    headers = headers_of(here.circuit)
    reverse = here.circuit.arrangement == "reverse_return"
    out, home = rows + here.first, (2 * rows if reverse else rows) + here.first
    flow = zip(headers.flow, headers.flow_rows, strict=True)
    for number, ((pipe, length), row) in enumerate(flow):
        yield "flow", number, row if row == STILL else out + row, pipe, length
    last = len(headers.back) - 1
    back = zip(headers.back, headers.back_rows, strict=True)
    for number, ((pipe, length), row) in enumerate(back):
        carrier = row if row == STILL else home + row
        if not reverse:
            yield "return", number, carrier, pipe, length
        elif number < last:
            yield "return", number + 1, carrier, pipe, length
        else:
            yield "closing", 0, carrier, pipe, length
