"""Where the circuits and loops of an array stand in a picture: one place a loop."""

from __future__ import annotations

from dataclasses import dataclass, field

from hydraulics.split.header_pressures import HeaderPressures


@dataclass(slots=True)
class Placed:
    """A circuit with the places of its branches.

    Attributes
    ----------
    made
        Its flows and pressures.
    branches
        Place of each branch: a loop's own, or that at which a nested circuit is entered.
    entry
        Place at which the circuit itself is entered.
    start
        Place just before its first loop or inner circuit.
    """

    made: HeaderPressures
    branches: list[float] = field(default_factory=list)
    entry: float = 0.0
    start: float = 0.0


def placed(
    circuits: tuple[HeaderPressures, ...], *, pitch: float = 1.0, gap: float = 0.0
) -> tuple[list[Placed], float]:
    """Give every loop a place.

    Parameters
    ----------
    circuits
        All circuits of an array, the root first.
    pitch
        From loop to loop.
    gap
        Room before a nested circuit.

    Returns
    -------
    tuple
        Circuits in the same order, and the last place.
    """
    found = [Placed(each) for each in circuits]
    inner = {(each.parent, each.parent_branch): i for i, each in enumerate(circuits)}

    def walk(number: int, at: float) -> float:
        here = found[number]
        ladder = here.made.circuit.arrangement != "manifold"
        here.start = at
        if ladder:
            at += 0.6 * pitch
        for branch, loop in enumerate(here.made.loops.tolist()):
            if loop >= 0:
                at += pitch
                here.branches.append(at)
            else:
                child = inner[number, branch]
                at = walk(child, at + gap)
                here.branches.append(found[child].entry)
        middle = 0.5 * (here.branches[0] + here.branches[-1])
        here.entry = here.start + 0.6 * pitch if ladder else middle
        return at

    return found, walk(0, 0.0)
