"""Does every loop flow alike? The verdict, the loop that suffers most, and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.split.assembly import Network
from hydraulics.split.causes import Cause, TakenApart, causes_of, parts_of, take_apart, worth_a_word
from hydraulics.split.drops import branch_flows, drops_at
from hydraulics.split.solver import ENERGY_LIMIT

Array = NDArray[np.float64]
_ROUNDING: Final = 1e-12  # of a flow: loops whose flows differ by less have one flow


@dataclass(frozen=True)
class Imbalance:
    """How far the flows are from what they should be, and why.

    Attributes
    ----------
    within_tolerance
        True where every loop is within the tolerance of its target flow.
    tolerance
        Fraction of the target flow.
    spread
        Largest less smallest deviation; for an even target, of the flows over their mean.
    most_starved
        Loop with the least of its target flow.
    index_loop
        Loop that would take the most pressure if all had their target flow: the one that sets the
        head of a balanced array.
    look
        Reads causes, and the paths that they are read from.
    seek
        Finds remedies; None where there is nothing to mend.
    """

    within_tolerance: bool
    tolerance: float
    spread: float
    most_starved: int
    index_loop: int
    look: Callable[[], tuple[TakenApart | None, tuple[Cause, ...]]] = field(
        repr=False, compare=False
    )
    seek: Callable[[], tuple[str, ...]] | None = field(default=None, repr=False, compare=False)

    @cached_property
    def remedies(self) -> tuple[str, ...]:
        """What would mend it, in words; each is solved when first asked for, and helps."""
        return self.seek() if self.seek is not None else ()

    @property
    def why(self) -> tuple[Cause, ...]:
        """What makes the flows differ from their targets, the largest first."""
        return self.look()[1]

    @property
    def apart(self) -> TakenApart | None:
        """The paths that causes are read from; None where they are alike."""
        return self.look()[0]

    @property
    def causes(self) -> tuple[str, ...]:
        """Why, in words."""
        return tuple(each.text for each in self.why)


def judge(
    network: Network, deviation: Array, target_flow: Array, tolerance: float, share: str
) -> Imbalance:
    """Judge the flows of a solved array.

    Parameters
    ----------
    network
        The assembled array.
    deviation
        Of each loop from its target flow, as a fraction of it.
    target_flow
        Mass flow that each loop should have [kg/s], more than 0.
    tolerance
        Allowed deviation, as a fraction.
    share
        What the target is, as in "at an even share".

    Returns
    -------
    Imbalance
        Verdict and causes, without remedies.

    Notes
    -----
    Causes are read from the drops that the array would have if every loop carried its target flow:
    whatever makes those differ is what makes the flows differ from it.
    """
    drops = drops_at(network, branch_flows(network, target_flow), float(target_flow.sum()))
    parts = parts_of(network, drops)
    path = parts.path

    @cache
    def look() -> tuple[TakenApart | None, tuple[Cause, ...]]:
        if float(np.ptp(path)) <= worth_a_word(network, drops):
            return None, ()
        apart = take_apart(network, target_flow, drops, parts)
        return apart, causes_of(network, apart, target_flow, share)

    return Imbalance(
        within_tolerance=bool((np.abs(deviation) <= tolerance * (1.0 + 1e-9)).all()),
        tolerance=tolerance,
        spread=spread_of(deviation),
        most_starved=first_largest(-deviation, 1.0),
        index_loop=first_largest(path, float(np.abs(path).max())),
        look=look,
    )


def spread_of(deviation: Array) -> float:
    """Largest less smallest deviation; 0 where that is rounding."""
    spread = float(np.ptp(deviation))
    return spread if spread > _ROUNDING else 0.0


def first_largest(values: Array, scale: float) -> int:
    """Place of the largest value; of values as good as equal, the first.

    Parameters
    ----------
    values
        One a loop, in the order of the layout.
    scale
        What the solver's tolerance is a fraction of, in the unit of the values.

    Returns
    -------
    int
        Place, counted from 0.
    """
    return int((values >= values.max() - ENERGY_LIMIT * scale).argmax())
