"""Numbers and names as a reader of the document expects them."""

from __future__ import annotations

import math
from typing import Any, Final

from api.schemas.units import unit_of

WORDS: Final[dict[str, str]] = {
    "elbow_90": "90° elbow", "elbow_90_threaded": "90° elbow, threaded", "bend_90": "90° bend",
    "bend_90_long": "90° bend, long", "elbow_45": "45° elbow", "en_805": "EN 805",
    "up_to_10_kw": "up to 10 kW",
}  # fmt: skip


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
    places = max(digits - 1 - math.floor(math.log10(size)), 0)
    return f"{value:,.{places}f}".replace("-", "−")


def raised(exponent: int) -> str:
    """An exponent in raised figures."""
    return str(exponent).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def given(value: float) -> str:
    """A number as it was given, to no more digits than it has."""
    if isinstance(value, int):
        return number(value)
    text = f"{value:,.10f}".rstrip("0").rstrip(".") if 1e-9 < abs(value) < 1e15 else f"{value:g}"
    return (text if text not in ("-0", "") else "0").replace("-", "−")


def signed(value: float, places: int = 1) -> str:
    """Number with its sign, to so many places."""
    text = f"{value:+.{places}f}"
    if float(text) == 0.0:
        return "0" if places == 0 else "0." + "0" * places
    return text.replace("-", "−")


def plain(word: str) -> str:
    """A snake_case word as two or three plain ones."""
    return WORDS.get(word, word.replace("_", " "))


def label_of(name: str) -> tuple[str, str]:
    """Name of a field without its unit, in plain words, and the unit."""
    unit = unit_of(name)
    if not unit:
        return _capital(plain(name)), ""
    parts = name.split("_")
    # The unit is the shortest ending that means it: _l_s of flow_l_s, not _s.
    for size in range(1, len(parts)):
        if unit_of("_" + "_".join(parts[-size:])) == unit:
            return _capital(plain("_".join(parts[:-size]))), unit
    return _capital(plain(name)), unit


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def value_of(value: Any) -> str:  # noqa: ANN401 (any JSON scalar)
    """A JSON scalar as text."""
    if value is True:
        return "yes"
    if value is False:
        return "no"
    return value if isinstance(value, str) else given(value)
