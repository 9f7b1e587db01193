"""Which pipe is every stretch of header, what flows in it and what does it take?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import Hung, Place, headers_of, walk
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import FROM_GROUND, IN_LOOP, TO_GROUND, Network
from hydraulics.split.drops import pipe_drops
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
    """List the headers of a solved array stretch by stretch.

    Parameters
    ----------
    circuit
        The array.
    network, solution
        What :func:`hydraulics.split.assembly.assemble` made of it, and its solution.
    """
    made = walk(circuit)
    rows = network.rows
    drops = {side: pipe_drops(network, solution, network.side == side) for side in (0, 2)}
    named = dict(zip(made.loop_rows, zip(made.names, made.places, strict=True), strict=True))
    hung = [each for level in made.levels for each in level]
    inside: dict[int, list[int]] = {}
    for number, each in enumerate(hung):
        inside.setdefault(each.above, []).append(number)
    names: list[str] = []
    places: list[Place] = []
    lines: list[Line] = []
    pipes: list[Pipe] = []
    length: list[float] = []
    carriers: list[int] = []
    sides: list[int] = []

    def add(number: int, prefix: str, above: Place) -> None:
        here = hung[number]
        below = {hung[each].row: each for each in inside.get(number, ())}
        place_of = {row: (*above, index) for row, index in _rows(here)}
        for row, each in below.items():
            named[row] = prefix + hung[each].name, place_of[row]
        for line, row, carrier, pipe, metres in _stretches(here, rows):
            if pipe is not None and metres > 0.0:
                name, place = named[row]
                names.append(name)
                places.append(place)
                lines.append(line)
                pipes.append(pipe)
                length.append(metres)
                carriers.append(carrier)
                sides.append(TO_GROUND if line == "flow" else FROM_GROUND)
        for row, each in below.items():
            name, place = named[row]
            add(each, f"{name}/" if hung[each].name else name, place)

    add(0, "", ())
    flow = solution.flow[carriers]
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
        drop=np.asarray(
            [drops[side][carrier] for side, carrier in zip(sides, carriers, strict=True)]
        ),
    )


def _rows(here: Hung) -> Iterator[tuple[int, int]]:
    """Each row of a circuit and the number of its branch."""
    row = here.first
    for index, branch in enumerate(here.circuit.branches):
        for _ in range(branch.count):
            yield row, index
            row += 1


def _stretches(here: Hung, rows: int) -> Iterator[tuple[Line, int, int, Pipe | None, float]]:
    """Line, row of the branch that it is given with, carrier, pipe and length of each stretch."""
    headers = headers_of(here.circuit)
    reverse = here.circuit.arrangement == "reverse_return"
    for number, (pipe, length) in enumerate(headers.flow):
        row = here.first + number
        yield "flow", row, rows + row, pipe, length
    for number, (pipe, length) in enumerate(headers.back):
        row = here.first + number
        if not reverse:
            yield "return", row, rows + row, pipe, length
        elif row + 1 < here.stop:
            yield "return", row + 1, 2 * rows + row, pipe, length
        else:
            yield "closing", here.first, 2 * rows + row, pipe, length
