"""Names and values of fields as a reader of the document expects them."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from datetime import date
from typing import Any, Final

from api.answers.numbers import given, number
from api.report.blocks import Picture, Table
from api.schemas.units import unit_of

WORDS: Final[dict[str, str]] = {
    "elbow_90": "90° elbow", "elbow_90_threaded": "90° elbow, threaded", "bend_90": "90° bend",
    "bend_90_long": "90° bend, long", "elbow_45": "45° elbow", "en_805": "EN 805",
    "up_to_10_kw": "up to 10 kW",
}  # fmt: skip


def plain(word: str) -> str:
    """A snake_case word as two or three plain ones."""
    return WORDS.get(word, word.replace("_", " "))


def label_of(name: str) -> tuple[str, str]:
    """Name of a field without its unit, in plain words, and the unit."""
    unit = unit_of(name)
    parts = name.split("_")
    # The unit is the shortest ending that means it: _l_s of flow_l_s, not _s.
    for size in range(1, len(parts) if unit else 0):
        if unit_of("_" + "_".join(parts[-size:])) == unit:
            parts = parts[:-size]
            break
    parts[0] = {"min": "minimum", "max": "maximum"}.get(parts[0], parts[0])
    return capital(plain("_".join(parts))), unit_in_print(name)


def unit_in_print(name: str) -> str:
    """Unit that a field's name ends in, its factors told apart by a dot."""
    return unit_of(name).replace(" ", "·")


_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
_MINUS: Final = re.compile(r"(?<![^\s(/])-(?=\d)")
_PER_CENT: Final = re.compile(r"(?<=\d)%")
_POWER: Final = re.compile(r"\b(\d(?:\.\d+)?)e([+-]\d+)\b")


def typeset(told: Any) -> Any:  # noqa: ANN401 (whatever a document is made of)
    """A part of a document with the signs of print in its prose: −1.5, 20 %, 1,500.

    The engine's messages are written for any terminal, with hyphens and powers of ten; tables are
    written here and need nothing.
    """
    if isinstance(told, str):
        return _PER_CENT.sub(" %", _MINUS.sub("−", _POWER.sub(_written_out, told)))
    if isinstance(told, tuple):
        return tuple(map(typeset, told))
    if is_dataclass(told) and not isinstance(told, (type, Picture, Table)):
        return replace(told, **{f.name: typeset(getattr(told, f.name)) for f in fields(told)})
    return told


def _written_out(found: re.Match[str]) -> str:
    return number(float(found[0]), len(found[1].replace(".", "")))


def day_in_words(day: str) -> str:
    """A day of the calendar, RFC 3339, as people write it."""
    read = date.fromisoformat(day)
    return f"{read.day} {_MONTHS[read.month - 1]} {read.year}"


def capital(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """Text with a capital and a full stop."""
    return capital(text) + ("" if text.endswith((".", "!", "?")) else ".")


def value_of(value: Any) -> str:  # noqa: ANN401 (any JSON scalar)
    """A JSON scalar as text."""
    if value is True:
        return "yes"
    if value is False:
        return "no"
    return value if isinstance(value, str) else given(value)
