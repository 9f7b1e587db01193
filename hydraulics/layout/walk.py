"""In which order do loops and header stretches stand, what is each called, and where is it?"""

from __future__ import annotations

from collections.abc import Iterator

from hydraulics.layout.circuit import Circuit, Loop
from hydraulics.pipework.pipe import Pipe


def return_header_pipes(circuit: Circuit, flow: list[Pipe | None]) -> list[Pipe | None]:
    """Pipe of each stretch of return header.

    Parameters
    ----------
    circuit
        The circuit.
    flow
        Pipe of the flow header before each branch, equal branches one by one.

    Returns
    -------
    list of Pipe or None
        In direct return beside each flow stretch; in reverse return after each branch, the closing
        run last. See :class:`Circuit` for what holds where nothing is named.
    """
    if all(branch.return_header_pipe is None for branch in circuit.branches):
        # The stretch after branch r of a reverse return gathers r branches, as does the flow
        # header's stretch counted from its far end: the mirror image.
        return flow if circuit.arrangement == "direct_return" else flow[::-1]
    beside: list[Pipe | None] = []
    pipe = circuit.header_pipe or flow[0]
    for branch in circuit.branches:
        pipe = branch.return_header_pipe or pipe
        beside.extend([pipe] * branch.count)
    if circuit.arrangement == "direct_return":
        return beside
    return [*beside[1:], pipe]  # the closing run is as the last stretch


def loop_count(circuit: Circuit) -> int:
    """Number of loops in a circuit, equal ones counted each."""
    return sum(
        branch.count * (1 if isinstance(branch.item, Loop) else loop_count(branch.item))
        for branch in circuit.branches
    )


Place = tuple[int, ...]


def placed_loops(circuit: Circuit) -> list[tuple[Place, Loop]]:
    """Each loop and its place in the order in which results list them.

    Parameters
    ----------
    circuit
        An array of which every ``count`` is 1.

    Returns
    -------
    list of tuple
        Branch numbers from the outermost circuit inwards, and the loop.
    """
    found: list[tuple[Place, Loop]] = []
    level: list[tuple[Circuit, Place]] = [(circuit, ())]
    while level:
        below: list[tuple[Circuit, Place]] = []
        for here, above in level:
            for number, branch in enumerate(here.branches):
                if isinstance(branch.item, Loop):
                    found.append(((*above, number), branch.item))
                else:
                    below.append((branch.item, (*above, number)))
        level = below
    return found


def header_stretches(
    circuit: Circuit,
) -> tuple[list[tuple[Pipe | None, float]], list[tuple[Pipe | None, float]]]:
    """Flow and return header of one circuit, stretch by stretch; both empty for a manifold.

    Returns
    -------
    flow, back
        Pipe and length [m]: of the flow header before each branch; of the return header beside it
        (direct return) or after each branch (reverse return).
    """
    if circuit.arrangement == "manifold":
        return [], []
    pipes: list[Pipe | None] = []
    lengths: list[float] = []
    pipe = circuit.header_pipe
    for branch in circuit.branches:
        pipe = branch.header_pipe or pipe
        pipes.extend([pipe] * branch.count)
        lengths.extend([branch.header_length] * branch.count)
    back = lengths
    if circuit.arrangement == "reverse_return":
        back = [*lengths[1:], circuit.closing_length]
    returns = return_header_pipes(circuit, pipes)
    return list(zip(pipes, lengths, strict=True)), list(zip(returns, back, strict=True))


def circuits_of(circuit: Circuit) -> Iterator[tuple[Circuit, int, str]]:
    """Every circuit of an array, how many there are of it, and the prefix of its loops' names."""
    waiting = [(circuit, 1, "")]
    while waiting:
        here, times, prefix = waiting.pop()
        yield here, times, prefix
        for branch in reversed(here.branches):
            if isinstance(branch.item, Circuit):
                below = f"{prefix}{branch.item.name}/" if branch.item.name else prefix
                waiting.append((branch.item, times * branch.count, below))


def loops_of(circuit: Circuit) -> Iterator[tuple[str, Loop, int]]:
    """Every loop of an array once: its name, the loop and how many there are of it."""
    for here, times, prefix in circuits_of(circuit):
        for branch in here.branches:
            if isinstance(branch.item, Loop):
                yield prefix + branch.item.name, branch.item, times * branch.count
