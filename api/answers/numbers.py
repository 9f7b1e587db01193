"""How are numbers of an answer rounded, and how are they written where people read them?"""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Context
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

DIGITS: Final = 6
"""Significant digits of every computed number: more than any input is known to."""


def rounded(values: ArrayLike) -> Any:  # noqa: ANN401 (lists as deep as the array)
    """Round to six significant digits; -0.0 becomes 0.0.

    Parameters
    ----------
    values
        Finite numbers, in any number of dimensions.

    Returns
    -------
    list
        The rounded values, in lists nested as the dimensions are.

    Raises
    ------
    FloatingPointError
        A value is not finite; that is a fault of the service, never to be sent as a number.
    """
    given: NDArray[np.float64] = np.asarray(values, dtype=np.float64)
    if not np.isfinite(given).all():
        raise FloatingPointError("a result is not finite")
    size = np.abs(given)
    places = (DIGITS - 1) - np.floor(np.log10(np.where(size > 0.0, size, 1.0)))
    # Powers of ten up to 1e22 are exact, so dividing by one gives the nearest decimal. What is too
    # small for that is below any quantity that these columns hold and is left with fewer digits.
    scale = 10.0 ** np.clip(np.abs(places), 0.0, 22.0)
    up, down = np.where(places >= 0.0, scale, 1.0), np.where(places < 0.0, scale, 1.0)
    return (np.rint(given * up / down) / up * down + 0.0).tolist()


def round_one(value: float) -> float:
    """Round one number to six significant digits; raises FloatingPointError where not finite."""
    if not math.isfinite(value):
        raise FloatingPointError("a result is not finite")
    return float(f"{value:.{DIGITS}g}") + 0.0


def limits(low: float, high: float, digits: int = DIGITS) -> tuple[float, float]:
    """Two limits rounded inwards, so that what is read at a limit as written is within.

    Parameters
    ----------
    low, high
        The limits, `low` less than `high`.
    digits
        Significant digits; more where that many would leave nothing between.

    Returns
    -------
    tuple of float
        The lower one rounded up, the higher one down.
    """
    written = tuple(
        float(Context(digits, way).create_decimal(f"{value:.{EXACT_DIGITS}g}"))
        for value, way in ((low, ROUND_CEILING), (high, ROUND_FLOOR))
    )
    if written[0] < written[1] or digits >= EXACT_DIGITS:
        return written[0], written[1]
    return limits(low, high, digits + 1)


EXACT_DIGITS: Final = 12
"""Of what is decided, so that going on with it loses nothing; what is beyond is the rounding of
conversions."""
JOULES_PER_KWH: Final = 3.6e6


def exact(value: float) -> float:
    """Number that is decided, in the unit of the job."""
    return float(f"{value:.{EXACT_DIGITS}g}") + 0.0


def known(values: Mapping[str, float | None]) -> dict[str, float]:
    """Rounded values; those that are not known, or infinite, are left out."""
    return {
        name: round_one(value)
        for name, value in values.items()
        if value is not None and math.isfinite(value)
    }


def percent(fraction: NDArray[np.float64]) -> NDArray[np.float64]:
    """Per cent, to a millionth: what equal loops differ by is the solver's rounding, not news."""
    return np.round(fraction * 1e2, 6)


def one_percent(fraction: float) -> float:
    """The same of one number."""
    return round_one(round(fraction * 1e2, 6))


def number(value: float, digits: int = 4) -> str:
    """Value to so many significant digits, written out, with a true minus.

    Parameters
    ----------
    value
        The number.
    digits
        Significant digits.

    Returns
    -------
    str
        Such as ``1,234``, ``0.01234`` or ``−3.5``; trailing zeros of a fraction stay, whole numbers
        given as such stay whole.
    """
    if isinstance(value, int):
        return f"{value:,}".replace("-", "−")
    if value == 0.0:
        return "0"
    size = abs(value)
    if not 1e-5 <= size < 1e9:
        mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa} × 10{raised(int(exponent))}".replace("-", "−")
    if size >= 1e6:
        value = float(f"{value:.{digits}g}")
    return f"{value:,.{_places(value, digits)}f}".replace("-", "−")


def raised(exponent: int) -> str:
    """An exponent in raised figures."""
    return str(exponent).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def given(value: float) -> str:
    """A number as it was given, to no more digits than it has, nor than are meant by any."""
    if isinstance(value, int):
        return number(value)
    if value == 0.0:
        return "0"
    if not 1e-9 < abs(value) < 1e15:
        return f"{value:g}".replace("-", "−")
    return _short(f"{value:,.{_places(value, DIGITS)}f}".replace("-", "−"))


def short(value: float, digits: int = 3) -> str:
    """Number in a sentence: to so many significant digits, without trailing zeros."""
    return _short(number(value, digits))


def _short(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text and "×" not in text else text


def _places(value: float, digits: int) -> int:
    """Decimal places that give so many significant digits, whole numbers left whole."""
    return max(digits - 1 - math.floor(math.log10(abs(value))), 0)


def signed(value: float, places: int = 1) -> str:
    """Number with its sign, to so many places."""
    text = f"{value:+.{places}f}"
    if float(text) == 0.0:
        return "0" if places == 0 else "0." + "0" * places
    return text.replace("-", "−")
