"""On which of the varied quantities does a result depend, and by how much?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.errors import Fault, InputError

RANK_CORRELATION: Final = "Spearman's rank correlation, ties by their mean rank"
SOBOL_INDICES: Final = (
    "Sobol' indices: first order by the estimator of Saltelli et al. 2010 (doi "
    "10.1016/j.cpc.2009.09.018, table 2 b), total by that of Jansen 1999 (table 2 f there)"
)


@dataclass(frozen=True, slots=True)
class SobolIndices:
    """Shares of a result's variance.

    Attributes
    ----------
    first_order
        Share of each quantity by itself.
    total
        Share of each with all that it does together with others.
    """

    first_order: NDArray[np.float64]
    total: NDArray[np.float64]


def rank_correlation(inputs: ArrayLike, result: ArrayLike) -> NDArray[np.float64]:
    """Spearman's rank correlation of each varied quantity with a result.

    Parameters
    ----------
    inputs
        By case and quantity.
    result
        By case; cases without one, NaN, are left out.

    Returns
    -------
    numpy.ndarray
        From -1 to 1 for each quantity; NaN where it, or the result, is the same in all cases.

    Notes
    -----
    Spearman 1904, The proof and measurement of association between two things (American Journal of
    Psychology 15): the correlation of ranks, equal values having the mean of theirs.
    """
    from scipy.stats import rankdata  # noqa: PLC0415 (takes long to load, and few ask for it)

    x, y = np.asarray(inputs, dtype=float), np.asarray(result, dtype=float)
    there = np.isfinite(y)
    if there.sum() < 2:
        return np.full(x.shape[1], np.nan)
    ranks = rankdata(x[there], axis=0)
    own = rankdata(y[there])
    ranks -= ranks.mean(axis=0)
    own -= own.mean()
    spread = np.sqrt((ranks**2).sum(axis=0) * (own**2).sum())
    nothing = np.full(x.shape[1], np.nan)
    return np.asarray(np.divide(own @ ranks, spread, out=nothing, where=spread > 0.0))


def sobol_indices(result: ArrayLike, quantities: int) -> SobolIndices:
    """First-order and total indices of a result of a ``sensitivity`` sample.

    Parameters
    ----------
    result
        By row of the sample, in its blocks (:meth:`hydraulics.studies.cases.Sample.drawn`).
    quantities
        Quantities that were sampled.

    Returns
    -------
    SobolIndices
        All NaN where the result is the same in all cases. An index estimated from few points may
        lie a little below 0 or above 1.

    Raises
    ------
    InputError
        A row has no result.

    Notes
    -----
    Saltelli, Annoni, Azzini, Campolongo, Ratto and Tarantola 2010, Variance based sensitivity
    analysis of model output (Computer Physics Communications 181), table 2: (b) for the first
    order, (f), which is Jansen's of 1999, for the total. Results are centred before, which the
    estimators' expected values do not change and their errors do.
    """
    given = np.asarray(result, dtype=float)
    if lacking := int((~np.isfinite(given)).sum()):
        raise InputError(
            Fault(
                "result",
                f"{lacking:,} of {given.size:,} cases have no such result, and Sobol' indices need "
                "that of every one; narrow the ranges, or take the rank correlation.",
            )
        )
    blocks = given.reshape(quantities + 2, -1)
    blocks = blocks - blocks[:2].mean()
    a, b, mixed = blocks[0], blocks[1], blocks[2:]
    variance = float(blocks[:2].var())
    if variance <= 1e-24 * float((given**2).mean()):  # rounding alone
        nothing = np.full(quantities, np.nan)
        return SobolIndices(nothing, nothing.copy())
    first = (b * (mixed - a)).mean(axis=1) / variance
    total = 0.5 * ((a - mixed) ** 2).mean(axis=1) / variance
    return SobolIndices(first, total)
