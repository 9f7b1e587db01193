"""Which case is best under limits, and what does each limit cost?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.studies.ranking import ranked


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Cases that keep every limit, and what would be best without one of them.

    Attributes
    ----------
    order
        Cases that keep every limit, the best first, equal ones in their order.
    without
        For each limit the best of those that keep all the others; None where there is none.
    kept
        For each limit how many cases keep it.
    """

    order: NDArray[np.int64]
    without: tuple[int | None, ...]
    kept: tuple[int, ...]


def chosen(costs: ArrayLike, kept: Sequence[NDArray[np.bool_]]) -> Choice:
    """The best of cases that were all computed: none of them is passed over.

    Parameters
    ----------
    costs
        What is to be least, by case; NaN where a case has none, which is never chosen.
    kept
        For each limit, whether a case keeps it.
    """
    given = np.asarray(costs, dtype=float)
    broken = np.zeros(given.size, dtype=np.int64)
    for each in kept:
        broken += ~each
    order = ranked(np.where(broken == 0, given, np.nan))
    without = []
    for each in kept:
        best = ranked(np.where(broken - ~each == 0, given, np.nan))
        without.append(int(best[0]) if best.size else None)
    return Choice(order, tuple(without), tuple(int(each.sum()) for each in kept))
