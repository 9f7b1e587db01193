"""Which cases are best by one result, and which are bettered by no other in all of several?"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def ranked(values: ArrayLike, *, most_first: bool = False) -> NDArray[np.int64]:
    """Order of cases by one result, the best first, equal ones in the order of cases.

    Parameters
    ----------
    values
        The result of each case; NaN where a case has none, which are left out.
    most_first
        Whether more is better.
    """
    given = np.asarray(values, dtype=float)
    order = np.argsort(-given if most_first else given, kind="stable")
    return np.asarray(order[np.isfinite(given[order])])


def pareto_front(costs: ArrayLike) -> NDArray[np.bool_]:
    """Which cases no other betters: as good in every cost, and better in one.

    Equal cases stand on the front together. Cases are gone through in the order of the sum of their
    ranks, in which nothing later can better what is earlier, and each drops all that it betters.

    Parameters
    ----------
    costs
        By case and cost, less being better; a case with a NaN is not on the front.
    """
    given = np.asarray(costs, dtype=float)
    on = np.zeros(len(given), dtype=bool)
    left = np.flatnonzero(np.isfinite(given).all(axis=1))
    if not left.size:
        return on
    dense = np.column_stack(
        [np.unique(column, return_inverse=True)[1] for column in given[left].T]
    ).astype(np.int64)
    order = np.argsort(dense.sum(axis=1), kind="stable")
    left, dense = left[order], dense[order]
    while left.size:
        best = dense[0]
        equal = (dense == best).all(axis=1)
        on[left[equal]] = True
        stays = (dense < best).any(axis=1)
        left, dense = left[stays], dense[stays]
    return on
