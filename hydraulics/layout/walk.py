"""In which order do loops and header stretches stand, what is each called, and where is it?

There is one order, that of the layout: a branch and all that hangs on it before the next branch,
equal branches one after the other. Whoever lists loops, headers or branches takes it from here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Final

from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.pipework.pipe import Pipe

Place = tuple[int, ...]
"""Branch numbers from the outermost circuit inwards; equal branches have one place."""
STILL: Final = -1
"""Row of a stretch of header in which nothing flows."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Equal branches where they stand.

    Attributes
    ----------
    branch
        The branch.
    name
        Of its loop or circuit with the circuits around it, without the number among equals.
    place
        Where it is.
    count
        How many there are in the whole array.
    above
        The circuit that it hangs on, and that one's own standing; None for the outermost.
    """

    branch: Branch
    name: str
    place: Place
    count: int
    circuit: Circuit
    above: Standing | None

    @property
    def loop(self) -> Loop | None:
        """The loop on it; None where a circuit hangs there."""
        return self.branch.item if isinstance(self.branch.item, Loop) else None

    @property
    def names(self) -> list[str]:
        """Name of each of them, as :func:`walk` has it."""
        before = [""]
        if self.above is not None:
            named = self.above.branch.item.name or self.above.branch.count > 1
            before = [f"{each}/" if named else each for each in self.above.names]
        return [each + own for each in before for own in _numbered(self.branch)]

    @property
    def flows(self) -> bool:
        """Whether anything can flow in it, and in what it hangs on."""
        return self.branch.flows and (self.above is None or self.above.flows)

    @property
    def is_shut(self) -> bool:
        """Whether it lies behind a shut valve, its own or one before it."""
        return self.branch.closed or (self.above is not None and self.above.is_shut)


def standings(circuit: Circuit, above: Standing | None = None) -> Iterator[Standing]:
    """Every branch of an array, equal ones once, in the order of the layout.

    A branch comes before what hangs on it. `above` is where the circuit hangs; None for the array
    itself.
    """
    prefix, place, times = ("", (), 1) if above is None else _below(above)
    for number, branch in enumerate(circuit.branches):
        here = Standing(
            branch,
            prefix + branch.item.name,
            (*place, number),
            times * branch.count,
            circuit,
            above,
        )
        yield here
        if isinstance(branch.item, Circuit):
            yield from standings(branch.item, here)


def _numbered(branch: Branch) -> list[str]:
    """Names of a branch's loops or circuits, equal ones with their numbers."""
    name, count = branch.item.name, branch.count
    return [name] if count == 1 else [f"{name}-{copy}" for copy in range(1, count + 1)]


def _below(above: Standing) -> tuple[str, Place, int]:
    """Prefix, place and number of what hangs on a branch."""
    named = above.branch.item.name
    return (f"{above.name}/" if named else above.name), above.place, above.count


def loops_of(circuit: Circuit) -> Iterator[tuple[str, Loop, int]]:
    """Every loop of an array, equal ones once: its name, the loop and how many there are of it."""
    for each in standings(circuit):
        if each.loop is not None:
            yield each.name, each.loop, each.count


def every_loop(circuit: Circuit) -> Iterator[Loop]:
    """Every loop of an array, equal ones once, as :func:`loops_of` has them."""
    for branch in circuit.branches:
        if isinstance(branch.item, Loop):
            yield branch.item
        else:
            yield from every_loop(branch.item)


def circuits_of(circuit: Circuit) -> Iterator[tuple[Circuit, int]]:
    """Every circuit of an array, equal ones once, and how many there are of it."""
    yield circuit, 1
    for branch in circuit.branches:
        if isinstance(branch.item, Circuit):
            for below, count in circuits_of(branch.item):
                yield below, branch.count * count


def flowing(circuit: Circuit) -> Iterator[Standing]:
    """Every branch in which anything can flow, as :func:`standings` gives them."""
    return (each for each in standings(circuit) if each.flows)


def flowing_circuits(circuit: Circuit) -> Iterator[tuple[Circuit, int]]:
    """Every circuit in which anything can flow, as :func:`circuits_of` gives them."""
    yield circuit, 1
    for each in flowing(circuit):
        if isinstance(each.branch.item, Circuit):
            yield each.branch.item, each.count


def has_closed(circuit: Circuit) -> bool:
    """Whether some branch of an array is closed."""
    for branch in circuit.branches:
        if branch.closed or (isinstance(branch.item, Circuit) and has_closed(branch.item)):
            return True
    return False


def closed_loops(circuit: Circuit) -> tuple[Standing, ...]:
    """Every loop that a valve shuts, its own or one before it, equal ones once."""
    return tuple(each for each in standings(circuit) if each.loop is not None and not each.flows)


def loop_count(circuit: Circuit) -> int:
    """Number of loops in a circuit, equal ones counted each."""
    return sum(
        branch.count * (1 if isinstance(branch.item, Loop) else loop_count(branch.item))
        for branch in circuit.branches
    )


def part_count(circuit: Circuit) -> int:
    """Number of legs, runs and fittings in a circuit, those of equal branches counted each."""
    count = 0
    for branch in circuit.branches:
        item = branch.item
        pipes = (*branch.runs, *(item.legs if isinstance(item, Loop) else ()))
        inside = 0 if isinstance(item, Loop) else part_count(item)
        fittings = sum(len(each.fittings.fittings) for each in (branch, *pipes))
        count += branch.count * (len(pipes) + fittings + inside)
    return count


# ------------------------------------------------------------------------- one by one, in rows


@dataclass(frozen=True, slots=True)
class Hung:
    """A circuit where it hangs, its open branches numbered one by one as rows.

    Attributes
    ----------
    circuit
        The circuit.
    name
        Its name and number among its equals; may be empty.
    above
        Number of the circuit that it hangs on, and row of that one's branch; -1 for the outermost.
    row
        Row that it hangs on.
    first, stop
        Its own rows.
    """

    circuit: Circuit
    name: str
    above: int
    row: int
    first: int
    stop: int


@dataclass(slots=True)
class Walk:
    """An array one by one: open branches as rows, circuit after circuit, level after level.

    Attributes
    ----------
    levels
        Circuits by depth of nesting, the outermost first.
    branches
        Branch of each row.
    loops, loop_rows, names, places
        Each loop, its row, its name and its place, in the order of the layout.
    """

    levels: list[list[Hung]] = field(default_factory=list)
    branches: list[Branch] = field(default_factory=list)
    loops: list[Loop] = field(default_factory=list)
    loop_rows: list[int] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)

    @property
    def rows(self) -> int:
        """Number of branches."""
        return len(self.branches)


def walk(circuit: Circuit) -> Walk:
    """Number the branches of an array in which anything can flow one by one.

    Rows go level by level, so that all circuits of a level are neighbours; loops stand in the order
    of the layout. A closed branch has neither row nor loop here; places count it.
    """
    made = Walk()
    paths: list[tuple[int, ...]] = []
    queue: list[tuple[Circuit, str, int, int, Place, Place, str]]
    queue = [(circuit, circuit.name, -1, -1, (), (), "")]
    number = 0
    while queue:
        level: list[Hung] = []
        following: list[tuple[Circuit, str, int, int, Place, Place, str]] = []
        for here, name, above, at, path, place, prefix in queue:
            first = row = made.rows
            for index, branch in enumerate(here.branches):
                if not branch.flows:
                    continue
                item, where = branch.item, (*place, index)
                for own in _numbered(branch):
                    made.branches.append(branch)
                    if isinstance(item, Loop):
                        made.loops.append(item)
                        made.loop_rows.append(row)
                        made.names.append(prefix + own)
                        made.places.append(where)
                        paths.append((*path, row))
                    else:
                        below = f"{prefix}{own}/" if own else prefix
                        following.append((item, own, number, row, (*path, row), where, below))
                    row += 1
            level.append(Hung(here, name, above, at, first, row))
            number += 1
        made.levels.append(level)
        queue = following
    if len(made.levels) > 1:
        order = sorted(range(len(paths)), key=paths.__getitem__)
        made.loops = [made.loops[i] for i in order]
        made.loop_rows = [made.loop_rows[i] for i in order]
        made.names = [made.names[i] for i in order]
        made.places = [made.places[i] for i in order]
    return made


# ---------------------------------------------------------------------------------------- headers


@dataclass(frozen=True, slots=True)
class Headers:
    """Headers of one circuit, stretch by stretch, equal branches one by one, closed ones too.

    Attributes
    ----------
    flow, back
        Pipe and length [m]: of the flow header before each branch; of the return header beside it
        (direct return) or after each branch (reverse return). Both empty for a manifold.
    flow_rows, back_rows
        Of each stretch, the number among the circuit's open branches of the one that it lies
        before (or, in the return of a reverse return, after) with none but closed ones between:
        the two carry one flow. :data:`STILL` where it serves closed branches alone.
    """

    flow: list[tuple[Pipe | None, float]]
    back: list[tuple[Pipe | None, float]]
    flow_rows: Sequence[int]
    back_rows: Sequence[int]


def headers_of(circuit: Circuit) -> Headers:
    """Headers of one circuit; see :class:`Circuit` for what holds where no pipe is named."""
    if circuit.arrangement == "manifold":
        return Headers([], [], [], [])
    pipes: list[Pipe | None] = []
    lengths: list[float] = []
    pipe = circuit.header_pipe
    for branch in circuit.branches:
        pipe = branch.header_pipe or pipe
        pipes.extend([pipe] * branch.count)
        lengths.extend([branch.header_length] * branch.count)
    reverse = circuit.arrangement == "reverse_return"
    back = [*lengths[1:], circuit.closing_run] if reverse else lengths
    returns = _return_pipes(circuit, pipes)
    before, after = _rows_beside(circuit)
    return Headers(
        list(zip(pipes, lengths, strict=True)),
        list(zip(returns, back, strict=True)),
        before,
        after if reverse else before,
    )


def _rows_beside(circuit: Circuit) -> tuple[Sequence[int], Sequence[int]]:
    """The next open branch from each branch on, and the last up to it, by number among those."""
    opens = [each.flows for each in circuit.branches for _ in range(each.count)]
    if all(opens):
        return range(len(opens)), range(len(opens))
    passed = list(accumulate(opens))
    before = [count - is_open for count, is_open in zip(passed, opens, strict=True)]
    return [row if row < passed[-1] else STILL for row in before], [count - 1 for count in passed]


def _return_pipes(circuit: Circuit, flow: list[Pipe | None]) -> list[Pipe | None]:
    """Pipe of each stretch of return header."""
    named = [each.return_header_pipe for each in circuit.branches for _ in range(each.count)]
    if circuit.arrangement == "reverse_return":
        # The stretch after branch r gathers r branches, as does the flow header's stretch counted
        # from its far end: the mirror image. It lies beside the one to branch r + 1; the closing
        # run, after the last, comes back to where the first begins.
        flow, named = flow[::-1], [*named[1:], named[0]]
    return [own or implied for own, implied in zip(named, flow, strict=True)]
