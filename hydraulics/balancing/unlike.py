"""What do the ways to the loops differ by most at the flows asked for?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.split.assembly import Network
from hydraulics.split.causes import PathParts, path_parts

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Unlike:
    """In words, what the ways to the loops, through them and back differ by most.

    Attributes
    ----------
    where
        The part that differs most.
    told
        That, in a sentence. What mends it is for who solves it to say.
    """

    where: str
    told: str


_DIFFER: Final = "the ways to the loops, through them and back differ much at the flows asked for, "
_BY: Final = {
    "loops": Unlike("the loops", f"{_DIFFER}most by the loops"),
    "flows": Unlike(
        "the flows asked for",
        "the flows asked for are far from what the loops take by themselves; ask for flows nearer "
        "to that",
    ),
    "headers": Unlike("the headers", f"{_DIFFER}most by the headers"),
    "runs": Unlike("the runs", f"{_DIFFER}most by the runs"),
    "fittings": Unlike("fittings and valves", f"{_DIFFER}most by fittings and valves"),
}


def most_unlike(network: Network, target: Array) -> Unlike:
    """What the ways to the loops differ by most at their target flows.

    Parameters
    ----------
    network
        The assembled array.
    target
        Mass flow that each loop should have [kg/s].

    Returns
    -------
    Unlike
        The flows, where like loops are to have unlike flows: where the loops' own pipe differs
        most, and by less than half as much at an even share.
    """
    total = float(target.sum())
    parts = path_parts(network, target, total)
    most = next(iter(parts.weights()))
    if most == "loops":
        even = path_parts(network, np.full_like(target, total / len(target)), total)
        if _loops_apart(even) < 0.5 * _loops_apart(parts):
            most = "flows"
    return _BY[most]


def _loops_apart(parts: PathParts) -> float:
    """Largest less smallest drop of the loops' own pipe, of the mean path."""
    return float(np.ptp(parts.loops) / parts.path.mean())
