"""Names and values of fields as a reader of the document expects them."""

from __future__ import annotations

from typing import Any, Final

from api.answers.numbers import given
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
    return capital(plain("_".join(parts))), unit


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
