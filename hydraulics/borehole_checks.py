"""Refuses quantities that no borehole can have, naming the field, the value and what is allowed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hydraulics.errors import Fault, InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def _refuse_where(
    ok: NDArray[np.bool_], field: str, values: NDArray[np.float64], rule: str
) -> None:
    if ok.all():
        return
    worst = float(values[~ok].flat[0])
    raise InputError(
        Fault(field, f"{field} is {worst:g}; give a number {rule}.", value=worst, allowed=rule)
    )


def require_positive(**quantities: ArrayLike) -> None:
    """Raise InputError unless every quantity is finite and more than 0."""
    for field, given in quantities.items():
        values = np.asarray(given, dtype=float)
        _refuse_where(np.isfinite(values) & (values > 0.0), field, values, "more than 0")


def require_not_negative(**quantities: ArrayLike) -> None:
    """Raise InputError unless every quantity is finite and at least 0."""
    for field, given in quantities.items():
        values = np.asarray(given, dtype=float)
        _refuse_where(np.isfinite(values) & (values >= 0.0), field, values, "of 0 or more")


def require_finite(**quantities: ArrayLike) -> None:
    """Raise InputError unless every quantity is a finite number."""
    for field, given in quantities.items():
        values = np.asarray(given, dtype=float)
        _refuse_where(np.isfinite(values), field, values, "that is finite")
