"""What is refused in a request: the place, the reason, the value given and what is allowed."""

from __future__ import annotations

import difflib
import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any, Final

from hydraulics.errors import HydraulicsError, RangeError

Json = Any
"""Any JSON value, or MISSING or BROKEN in its place."""

Place = tuple[str | int, ...]
"""Path of keys and indices from the top of the request."""

MISSING: Final[Any] = object()
"""Stands for a value that was not given."""

BROKEN: Final[Any] = object()
"""Stands for a value that was given and refused, so that the rest can still be checked."""

_CONTINUES: Final = (
    "and", "are", "asks", "cannot", "freezes", "gives", "has", "is", "leaves", "lies", "must", "of",
    "takes",
)  # fmt: skip
"""First words of the engine's messages that go on from the field's name."""
_SAME: Final = {
    "meg": ("ethylene_glycol",),
    "mpg": ("propylene_glycol",),
    "alcohol": ("ethanol", "methanol"),
    "spirit": ("ethanol", "methanol"),
    "salt": ("calcium_chloride", "potassium_carbonate"),
    "brine": ("propylene_glycol", "ethylene_glycol", "ethanol", "calcium_chloride"),
}
"""What the trade calls a name or some of them."""
_LONGEST_SHOWN: Final = 80
_MOST_NAMED: Final = 4  # names that a word may mean and all are told
_LARGEST_SHOWN: Final = 2**53  # beyond it a JSON number is no longer exact for many readers


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing refused in a request.

    Attributes
    ----------
    place
        Where, from the top of the request.
    detail
        What is wrong and what to do.
    value
        What was given; MISSING when nothing was, or when the value says nothing.
    allowed
        What would be accepted, in words.
    out_of_range
        True where the value is real, but beyond what a correlation covers.
    """

    place: Place
    detail: str
    value: Any = MISSING
    allowed: str = ""
    out_of_range: bool = False


class RefusedError(Exception):
    """A request asks for something that cannot be done; carries every reason at once."""

    def __init__(self, refusals: Iterable[Refusal]) -> None:
        self.refusals = tuple(refusals)
        super().__init__(*self.refusals[:1])


def pointer(place: Place) -> str:
    """JSON Pointer (RFC 6901) of a place; the empty string is the whole document."""
    return "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in place)


def told_place(place: Place) -> Place:
    """The place itself, or of one under too long a name, which nobody needs back, what has it."""
    for index, part in enumerate(place):
        if isinstance(part, str) and len(part) > _LONGEST_SHOWN:
            return place[:index]
    return place


def shown(value: Json) -> Json:
    """Give a value back at a length that fits a message; a container is described, not copied."""
    if isinstance(value, str):
        text = value.encode("utf-8", "replace").decode("utf-8")
        return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 1] + "…"
    if isinstance(value, dict):
        return f"an object of {len(value)} field{'s' * (len(value) != 1)}"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)} item{'s' * (len(value) != 1)}"
    if isinstance(value, float) and not math.isfinite(value):
        return "a number too large to hold"
    if isinstance(value, int) and abs(value) > _LARGEST_SHOWN:
        digits = str(value)
        return digits if len(digits) <= 24 else f"{digits[:12]}… ({len(digits)} digits)"
    return value


def nearest(word: str, known: Iterable[str]) -> str:
    """Words that suggest the nearest known name, or nothing where none is near."""
    close = difflib.get_close_matches(word[:100], list(known), n=1, cutoff=0.6)
    return f"; did you mean '{close[0]}'?" if close else ""


def nearest_of(word: str, known: Collection[str]) -> str:
    """As :func:`nearest`, and all names that have the word in them, or that the trade calls so."""
    holding: dict[str, list[str]] = {}
    for name in known:
        for part in {name, *name.split("_")}:
            holding.setdefault(part, []).append(name)
    for called, names in _SAME.items():
        if here := [name for name in names if name in known]:
            holding[called] = here
    close = difflib.get_close_matches(word[:100].lower(), list(holding), n=1, cutoff=0.8)
    means = [f"'{name}'" for name in holding[close[0]]] if close else []
    if not 1 < len(means) <= _MOST_NAMED:
        return f"; did you mean {means[0]}?" if len(means) == 1 else nearest(word, known)
    return f"; did you mean {', '.join(means[:-1])} or {means[-1]}?"


def value_at(document: Json, place: Place) -> Json:
    """Value of a document at a place; MISSING where there is none."""
    for part in place:
        in_object = isinstance(document, dict) and part in document
        in_list = isinstance(document, list) and isinstance(part, int) and part < len(document)
        if not (in_object or in_list):
            return MISSING
        document = document[part]
    return document


def refusals_of(error: HydraulicsError) -> list[Refusal]:
    """Turn the engine's faults, their fields dotted places of the request, into refusals.

    Parameters
    ----------
    error
        The engine's error, as `api.requests.places` locates it.

    Returns
    -------
    list of Refusal
        Without values: the engine's are in its own units, so the request's own are looked up when
        the refusals are shown.
    """
    return [
        Refusal(
            place,
            _sentence(fault.message, place),
            allowed=fault.allowed,
            out_of_range=isinstance(error, RangeError),
        )
        for fault in error.faults
        for place in [_parts(fault.field)]
    ]


def _parts(dotted: str) -> Place:
    return tuple(int(part) if part.isdigit() else part for part in dotted.split(".") if part)


def spoken(text: str, place: Place) -> str:
    """A message of the engine, begun with the field's name where it goes on from it."""
    last = next((part for part in reversed(place) if isinstance(part, str)), "")
    return f"{last} {text}" if last and text.split(" ", 1)[0] in _CONTINUES else text


def _sentence(text: str, place: Place) -> str:
    words = spoken(text, place)
    if "_" not in words.split(" ", 1)[0] and words == text:
        words = words[:1].upper() + words[1:]
    return words if words.endswith((".", "?", "!")) else words + "."
