"""Is a number usable? Refuses what is not finite or out of bounds."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.errors import Fault, InputError


def number_fault(
    field: str,
    value: float | None,
    unit: str,
    *,
    above: float = -math.inf,
    at_least: float = -math.inf,
) -> Fault | None:
    """Return the fault of one number, or None when it is usable or not told.

    Parameters
    ----------
    field
        Name of the quantity, as the caller knows it.
    value
        The number given, in `unit`; None where it is not told.
    unit
        For the message; empty where there is none.
    above, at_least
        Lower limits, exclusive and inclusive.
    """
    if value is None or (above < value < math.inf and value >= at_least):
        return None
    unit = unit and f" {unit}"
    limit = (
        f"more than {above:g}{unit}"
        if above > -math.inf
        else f"at least {at_least:g}{unit}"
        if at_least > -math.inf
        else "a finite number"
    )
    return Fault(field, f"is {value:g}{unit}; give {limit}", value, limit)


def count_fault(field: str, value: int) -> Fault | None:
    """Return the fault of a number of things, or None when it is 1 or more."""
    if value >= 1:
        return None
    return Fault(field, f"is {value}; give 1 or more", value, "1 or more")


def refuse(*faults: Fault | None) -> None:
    """Raise one InputError with every fault that is not None.

    Raises
    ------
    InputError
        When any fault is given.
    """
    if any(faults):
        raise InputError(*(fault for fault in faults if fault is not None))


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
        if isinstance(given, float) and 0.0 < given < math.inf:
            continue
        values = np.asarray(given, dtype=float)
        _refuse_where(np.isfinite(values) & (values > 0.0), field, values, "more than 0")


def require_not_negative(**quantities: ArrayLike) -> None:
    """Raise InputError unless every quantity is finite and at least 0."""
    for field, given in quantities.items():
        if isinstance(given, float) and 0.0 <= given < math.inf:
            continue
        values = np.asarray(given, dtype=float)
        _refuse_where(np.isfinite(values) & (values >= 0.0), field, values, "of 0 or more")


def require_finite(**quantities: ArrayLike) -> None:
    """Raise InputError unless every quantity is a finite number."""
    for field, given in quantities.items():
        values = np.asarray(given, dtype=float)
        _refuse_where(np.isfinite(values), field, values, "that is finite")
