"""From a layout to arrays: the branches of every circuit as rows, their pipes as elements.

Fluid constants are folded into the elements here; the solver sees only numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.errors import Fault, InputError
from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Circuit, Loop, Plant, Run
from hydraulics.layout.edit import closed_names
from hydraulics.layout.legs import Section
from hydraulics.layout.walk import STILL, Hung, headers_of, walk
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import NO_LOSS, Loss
from hydraulics.pipework.friction import ito_critical_reynolds
from hydraulics.pipework.friction_table import Bank, bank_for
from hydraulics.pipework.pipe import Pipe

Array = NDArray[np.float64]
Index = NDArray[np.intp]

TO_GROUND: Final = 0  # fluid on its way to the loops
IN_LOOP: Final = 1
FROM_GROUND: Final = 2


@dataclass(frozen=True, slots=True)
class Level:
    """All circuits at one depth of nesting; their branches are the rows ``lo`` to ``hi``.

    Attributes
    ----------
    lo, hi
        Rows of the level.
    starts
        First row of each circuit, counted from ``lo``.
    counts
        Branches of each circuit.
    ends
        Last row of each circuit, counted from ``lo``.
    last
        True at the last row of each circuit.
    parents
        Row that each circuit hangs on (rows of the level above); empty at the root.
    headers
        True where some circuit of the level has headers.
    """

    lo: int
    hi: int
    starts: Index
    counts: Index
    ends: Index
    last: NDArray[np.bool_]
    parents: Index
    headers: bool


@dataclass(frozen=True, slots=True)
class Network:
    """An assembled array: rows (branches), carriers (what has one flow) and elements (pipes).

    A carrier is a branch that is open (carriers 0 to n-1, one a row), the flow header before it
    up to the one before (n to 2n-1; in direct return with the return header beside it), the return
    header after it in reverse return (2n to 3n-1) or the plant's runs (3n). An element is a length
    of pipe in a carrier. All fluid constants are folded in.

    Attributes
    ----------
    rows
        Number of open branches n.
    levels
        Circuits by depth, root first.
    loop_rows
        Row of each loop, in the order of ``names``.
    names, places, loops
        Each loop's name, its place (branch number on every level, equal branches alike) and the
        loop itself, in the order of the layout.
    loop_of, main
        Loop of each element that lies in one, which come first; element of each loop's longest
        section.
    owner
        Carrier of each element.
    side
        Where the fluid is: TO_GROUND, IN_LOOP or FROM_GROUND.
    coiled
        True for coiled elements.
    length, bore, parallel
        Of each element.
    reynolds_per_flow
        Re = reynolds_per_flow · |mass flow| [s/kg].
    laminar
        Δp = laminar · mass flow · G/Re [Pa s/kg].
    relative_roughness, curvature
        Of each element.
    critical
        Reynolds number at which each element's flow stops being laminar.
    first_block, bank
        Where each element's friction table is.
    square, linear
        Fittings of each carrier: Δp = square · m|m| + linear · m.
    loop_square, loop_linear
        The part of it that belongs to a loop and its port rather than to runs.
    exchanger
        The heat exchanger, or None.
    fluids
        Fluid to the ground, in the loops, from the ground.
    closed
        Names of the loops that are closed and therefore not in it.

    Notes
    -----
    Many arrays that are joined alike are solved together as one network, in which what elements and
    carriers have may have an array to a row: :mod:`hydraulics.split.many`.
    """

    rows: int
    levels: tuple[Level, ...]
    loop_rows: Index
    names: tuple[str, ...]
    places: tuple[tuple[int, ...], ...]
    loops: tuple[Loop, ...]
    loop_of: Index
    main: Index
    owner: Index
    side: NDArray[np.intp]
    coiled: NDArray[np.bool_]
    length: Array
    bore: Array
    parallel: Array
    reynolds_per_flow: Array
    laminar: Array
    relative_roughness: Array
    curvature: Array
    critical: Array
    first_block: Index
    bank: Bank
    square: Array
    linear: Array
    loop_square: Array
    loop_linear: Array
    exchanger: Exchanger | None
    fluids: tuple[Fluid, Fluid, Fluid]
    closed: tuple[str, ...] = ()


def _level(circuits: Sequence[Hung]) -> Level:
    """Circuits of one depth as arrays."""
    lo, hi = circuits[0].first, circuits[-1].stop
    starts = np.asarray([each.first - lo for each in circuits], dtype=np.intp)
    ends = np.asarray([each.stop - 1 - lo for each in circuits], dtype=np.intp)
    last = np.zeros(hi - lo, dtype=np.bool_)
    last[ends] = True
    return Level(
        lo=lo,
        hi=hi,
        starts=starts,
        counts=ends + 1 - starts,
        ends=ends,
        last=last,
        parents=np.asarray([each.row for each in circuits if each.row >= 0], dtype=np.intp),
        headers=any(each.circuit.arrangement != "manifold" for each in circuits),
    )


class _Elements:
    """Pipes in the order found: length, kind of pipe, carrier and side."""

    def __init__(self) -> None:
        self.kinds: list[Section] = []
        self.kind: list[int] = []
        self.length: list[float] = []
        self.owner: list[int] = []
        self.side: list[int] = []
        self._number: dict[tuple[int, float, int], int] = {}

    def kind_of(self, section: Section) -> int:
        """Number of the section's kind; equal pipe objects and coil diameters share one."""
        key = (id(section.pipe), section.coil_diameter, section.parallel)
        number = self._number.get(key)
        if number is None:
            number = self._number[key] = len(self.kinds)
            self.kinds.append(section)
        return number

    def add_loops(self, loops: Sequence[Loop]) -> None:
        """Every loop's sections; their owners are set by :func:`assemble`."""
        sections = [section for loop in loops for section in loop.sections]
        kind_of = self.kind_of
        self.kind = [kind_of(section) for section in sections]
        self.length = [section.length for section in sections]

    def add(self, pipe: Pipe, lengths: Sequence[float], owners: Sequence[int], side: int) -> None:
        """Straight pipes of one kind on the way to or from the loops."""
        self.kind.extend([self.kind_of(Section(pipe, 1.0))] * len(lengths))
        self.length.extend(lengths)
        self.owner.extend(owners)
        self.side.extend([side] * len(lengths))

    def add_run(self, run: Run, owner: int) -> None:
        """A route: its pipe out and back."""
        self.add(run.pipe, (run.length,), (owner,), TO_GROUND)
        self.add(run.pipe, (run.length,), (owner,), FROM_GROUND)

    def add_stretches(
        self,
        stretches: Sequence[tuple[Pipe | None, float]],
        rows: Sequence[int],
        first: int,
        side: int,
    ) -> None:
        """Stretches of header, on the carriers ``first`` + row, in groups of one pipe."""
        start = 0
        for end in range(1, len(stretches) + 1):
            pipe = stretches[start][0]
            if end < len(stretches) and stretches[end][0] is pipe:
                continue
            if pipe is not None:
                here = zip(stretches[start:end], rows[start:end], strict=True)
                carried = [(length, first + row) for (_, length), row in here if row != STILL]
                lengths, owners = [each[0] for each in carried], [each[1] for each in carried]
                self.add(pipe, lengths, owners, side)
            start = end


def assemble(circuit: Circuit, plant: Plant, fluids: tuple[Fluid, Fluid, Fluid]) -> Network:
    """Lay a circuit out as rows, carriers and elements.

    Parameters
    ----------
    circuit
        The array.
    plant
        What lies between the array and the pump.
    fluids
        Fluid on its way to the ground, in the loops and on its way back.

    Returns
    -------
    Network
        Ready for :func:`hydraulics.split.solver.solve`. Closed branches are not in it; what
        header leads past them carries the flow of the next.

    Raises
    ------
    InputError
        Every loop is closed.
    """
    found = walk(circuit)
    if not found.loops:
        raise InputError(
            Fault(
                "circuit.branches",
                "every loop is closed, so that nothing can flow; open one at least (leave closed "
                "out, or give false)",
                None,
                "1 or more loops that are not closed",
            )
        )
    rows = found.rows
    elements = _Elements()
    elements.add_loops(found.loops)
    in_loops = len(elements.kind)
    losses: list[tuple[int, Loss]] = []
    route_losses: list[tuple[int, Loss]] = []
    for row, branch in enumerate(found.branches):
        for run in branch.runs:
            elements.add_run(run, row)
            route_losses.append((row, run.fittings))
        if branch.fittings is not NO_LOSS:
            losses.append((row, branch.fittings))
    losses += [
        (row, loop.fittings)
        for row, loop in zip(found.loop_rows, found.loops, strict=True)
        if loop.fittings is not NO_LOSS
    ]
    for hung in (each for level in found.levels for each in level):
        headers = headers_of(hung.circuit)
        if not headers.flow:
            continue
        reverse = hung.circuit.arrangement == "reverse_return"
        out, home = rows + hung.first, (rows + reverse * rows) + hung.first
        elements.add_stretches(headers.flow, headers.flow_rows, out, TO_GROUND)
        elements.add_stretches(headers.back, headers.back_rows, home, FROM_GROUND)
    for run in plant.runs:
        elements.add_run(run, 3 * rows)

    loop_square, loop_linear = _losses(losses, 3 * rows + 1, fluids[IN_LOOP])
    route_losses += [(3 * rows, run.fittings) for run in plant.runs]
    route_square, route_linear = _losses(
        [*route_losses, (3 * rows, plant.fittings)], 3 * rows + 1, fluids[IN_LOOP]
    )

    loop_rows = np.asarray(found.loop_rows, dtype=np.intp)
    per_loop = np.asarray([len(loop.sections) for loop in found.loops], dtype=np.intp)
    loop_of = np.repeat(np.arange(per_loop.size), per_loop)
    main = np.asarray([loop.main_section for loop in found.loops], dtype=np.intp)
    main[1:] += per_loop[:-1].cumsum()
    side = np.full(len(elements.kind), IN_LOOP, dtype=np.intp)
    side[in_loops:] = elements.side
    kind = np.asarray(elements.kind, dtype=np.intp)
    length = np.asarray(elements.length)

    bore_of = np.asarray([s.pipe.bore for s in elements.kinds])
    rough_of = np.asarray([s.pipe.roughness for s in elements.kinds]) / bore_of
    curve_of = np.asarray([s.curvature for s in elements.kinds])
    parallel_of = np.asarray([float(s.parallel) for s in elements.kinds])
    density = np.asarray([f.density for f in fluids])
    viscosity = np.asarray([f.viscosity for f in fluids])
    # Of each kind on each side; the elements gather from these.
    reynolds_of = 4.0 / (math.pi * (bore_of * parallel_of)[:, None] * viscosity)
    laminar_of = 2.0 * viscosity / (math.pi * density * (bore_of**4 * parallel_of)[:, None])
    kind_and_side = kind * 3 + side
    bank, blocks_of = bank_for(list(zip(rough_of.tolist(), curve_of.tolist(), strict=True)))
    return Network(
        rows=rows,
        levels=tuple(_level(level) for level in found.levels),
        loop_rows=loop_rows,
        names=tuple(found.names),
        places=tuple(found.places),
        loops=tuple(found.loops),
        loop_of=loop_of,
        main=main,
        owner=np.concatenate((loop_rows[loop_of], np.asarray(elements.owner, dtype=np.intp))),
        side=side,
        coiled=(curve_of > 0.0)[kind],
        length=length,
        bore=bore_of[kind],
        parallel=parallel_of[kind],
        reynolds_per_flow=reynolds_of.ravel()[kind_and_side],
        laminar=laminar_of.ravel()[kind_and_side] * length,
        relative_roughness=rough_of[kind],
        curvature=curve_of[kind],
        critical=ito_critical_reynolds(curve_of)[kind],
        first_block=blocks_of[kind],
        bank=bank,
        square=loop_square + route_square,
        linear=loop_linear + route_linear,
        loop_square=loop_square,
        loop_linear=loop_linear,
        exchanger=plant.exchanger,
        fluids=fluids,
        closed=closed_names(circuit),
    )


def _losses(losses: list[tuple[int, Loss]], carriers: int, fluid: Fluid) -> tuple[Array, Array]:
    """Square and linear terms of each carrier for mass flow."""
    square, linear = np.zeros(carriers), np.zeros(carriers)
    for carrier, loss in losses:
        square[carrier] += loss.square
        linear[carrier] += loss.linear
    square /= fluid.density
    linear *= fluid.viscosity / fluid.density
    return square, linear


def as_viscous(network: Network, by: Array) -> Network:
    """The same array as many, viscosities of the three fluids multiplied by each of some rows.

    For :func:`hydraulics.split.state.state_of`; its fluids stay named as they were.
    """
    viscosity = by[:, network.side]
    return replace(
        network,
        reynolds_per_flow=network.reynolds_per_flow / viscosity,
        laminar=network.laminar * viscosity,
        linear=network.linear * by[:, [IN_LOOP]],
    )
