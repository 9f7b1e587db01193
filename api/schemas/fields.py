"""Fields and objects that are read strictly, in one pass, every fault with its place.

A schema is declared as any marshmallow schema is, and the OpenAPI file is made from the same
declaration. Reading is our own: marshmallow's loader reports no values or places that a JSON
pointer could be made of, and takes several times as long on an array of thousands of loops.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable
from datetime import date
from typing import Any, Final

from marshmallow import fields

from api.refusals import BROKEN, Json, Place, Refusal, nearest, nearest_of
from api.schemas.units import conversion, dimension_of, stem_of, unit_of

Refusals = list[Refusal]
Declared = Any
"""What marshmallow takes when a field is declared."""

MOST_HINTS: Final = 100
"""Refusals after which no names are suggested; a problem lists no more of them either."""


def said(description: str, *examples: Json) -> dict[str, Any]:
    """Describe a field, with examples where they help."""
    return {"description": description, **({"examples": list(examples)} if examples else {})}


def suggested(word: str, known: Collection[str], refusals: Refusals) -> str:
    """Words that suggest a known name; none where so much is wrong that nobody would read them.

    Finding the nearest name takes longer than reading a field does; a body of a hundred thousand
    misspelt names would keep the service busy for its whole time limit.
    """
    return nearest_of(word, known) if len(refusals) < MOST_HINTS else ""


def suggested_field(name: str, known: Iterable[str], refusals: Refusals, value: Json = None) -> str:
    """Words that suggest a known field, and turn the number given where it wants another unit.

    No field of another quantity is suggested, and none in another unit without saying so.
    """
    if len(refusals) >= MOST_HINTS:
        return "."
    stem, dimension = stem_of(name), dimension_of(name)
    stems: dict[str, str] = {}
    flow = ""
    for field in known:
        if dimension == "mass flow" and dimension_of(field) == "flow":
            flow = flow or field
        if not dimension or dimension_of(field) in ("", dimension):
            stems.setdefault(stem_of(field), field)
    if stem in stems:
        words = _in_its_unit(name, stems[stem], value)
        return f"; give {stems[stem]}{words}." if words else f"; did you mean '{stems[stem]}'?"
    of_kind = {each: field for each, field in stems.items() if dimension_of(field) == dimension}
    longer = [each for each in of_kind if dimension and _is_part(each, stem)]
    if longer:
        found = of_kind[max(longer, key=len)]
        return f"; did you mean '{found}'{_in_its_unit(name, found, value)}?"
    hint = nearest(name, list(stems.values()))
    if not hint and dimension:
        hint = nearest(stem, list(of_kind))
    if flow or not hint:
        per = f"; give {flow}, in {unit_of(flow)}: mass flow over the fluid's density."
        return per if flow else "."
    found = hint.split("'")[1]
    found = stems.get(found, found)
    unit = unit_of(found)
    if unit and not dimension and name.startswith(f"{stem_of(found)}_"):
        return f"; give {found}, the number in {unit}."
    return f"; did you mean '{found}'{_in_its_unit(name, found, value)}?"


def _is_part(one: str, other: str) -> bool:
    """Whether the words of one name are among those of another, either way round."""
    mine, theirs = set(one.split("_")), set(other.split("_"))
    return mine <= theirs or theirs <= mine


def _in_its_unit(name: str, field: str, value: Json) -> str:
    """Words for a field's unit where a name ends in another; empty where it does not."""
    unit = unit_of(field)
    if not unit or unit_of(name) == unit:
        return ""
    number = value if type(value) is int or type(value) is float else None
    return f", in {unit}{conversion(name, field, number)}"


def kind_of(value: Json) -> str:
    """What a JSON value is, for a message."""
    kinds = {dict: "an object", list: "a list", str: "text", bool: "true or false"}
    return kinds.get(type(value), "a number")


_INFINITE: Final = "is too large to hold"


class Checked(fields.Field[Any]):
    """A field that is read by ``check``.

    Parameters
    ----------
    engine
        What the engine calls it, where that is not the field's name without its unit; see
        `api.requests.places`.
    **declared
        As for any marshmallow field.
    """

    def __init__(self, *, engine: str | tuple[str, ...] = (), **declared: Declared) -> None:
        super().__init__(**declared)
        self.engine = (engine,) if isinstance(engine, str) else engine

    def refuse(self, value: Json, must: str, place: Place, refusals: Refusals) -> Json:
        """Refuse a value that is no such thing at all, and give BROKEN."""
        if value is None:
            detail = f"{self.name} is null; it must be {must}."
            if not self.required:
                number = "a number " if must.startswith(("from ", "more ")) else ""
                detail = f"{self.name} is null; leave the field out, or give {number}{must}."
        else:
            detail = f"{self.name} is {kind_of(value)}; it must be {must}."
        refusals.append(Refusal(place, detail, value, must))
        return BROKEN

    @property
    def allowed(self) -> str:
        """What it may be, in words."""
        return ""

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Give the value back, or BROKEN after adding what is wrong with it to ``refusals``."""
        raise NotImplementedError

    def described(self) -> dict[str, Any]:
        """What OpenAPI shall say of this field beyond what marshmallow's declaration tells."""
        return {}


class Number(Checked):
    """A finite JSON number within a range; no booleans, no numbers in quotation marks.

    Parameters
    ----------
    minimum, maximum
        Lowest and highest value allowed.
    above
        Bound that the value must exceed, instead of ``minimum``.
    hint
        A sentence on what a number outside the range was probably meant to be.
    """

    whole = False

    def __init__(
        self,
        *,
        minimum: float = -math.inf,
        above: float = -math.inf,
        maximum: float = math.inf,
        hint: str = "",
        **declared: Declared,
    ) -> None:
        super().__init__(**declared)
        self.minimum, self.above, self.maximum = minimum, above, maximum
        self.hint = f" {hint}" if hint else ""

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept a number within the range."""
        kind = type(value)
        if kind is float and self.whole and value.is_integer():
            kind, value = int, int(value)
        if (kind is float and not self.whole) or kind is int:
            if self.minimum <= value <= self.maximum and value > self.above:
                return value
            given = f"is {value:g}" if kind is float or abs(value) < 1e15 else "is far out of range"
            if kind is float and not math.isfinite(value):
                given = _INFINITE
            detail = f"{self.name} {given}; it must be {self.allowed}.{self.hint}"
        elif kind is str:
            meant = _meant(value)
            example = f": {meant}" if meant else ""
            detail = (
                f"{self.name} is text; give a JSON number, with a point and without quotation "
                f"marks{example}."
            )
        elif kind is float:
            given = f"is {value:g}" if math.isfinite(value) else _INFINITE
            detail = f"{self.name} {given}; it must be a whole number."
        else:
            return self.refuse(value, self.allowed, place, refusals)
        refusals.append(Refusal(place, detail, value, self.allowed))
        return BROKEN

    @property
    def allowed(self) -> str:
        """The range in words, with its unit."""
        unit = unit_of(self.name or "")
        unit = f" {unit}" if unit else ""
        low, high = max(self.minimum, self.above), self.maximum
        whole = "a whole number " if self.whole else ""
        if self.above > -math.inf:
            words = f"more than {low:g}{unit}"
            return f"{whole}{words}" + (f", up to {high:,.10g}{unit}" if high < math.inf else "")
        if low == high:
            return f"{low:g}{unit}"
        if high < math.inf and low > -math.inf:
            return f"{whole}from {low:,.10g} to {high:,.10g}{unit}"
        if low > -math.inf:
            return f"{whole}{low:g}{unit} or more"
        return f"{whole or 'a finite number'}".strip()

    def described(self) -> dict[str, Any]:
        """Type, bits, range and unit."""
        # Without its bits a generated Java or C# client takes a number for a decimal of any length.
        said: dict[str, Any] = (
            {"type": "integer"} if self.whole else {"type": "number", "format": "double"}
        )
        if self.minimum > -math.inf:
            said["minimum"] = self.minimum
        if self.above > -math.inf:
            said["exclusiveMinimum"] = self.above
        if self.maximum < math.inf:
            said["maximum"] = self.maximum
        if unit := unit_of(self.name or ""):
            said["x-unit"] = unit
        return said


def _meant(text: str) -> str:
    """The number that a text was probably meant to be; empty where it is none, or may be two."""
    if re.fullmatch(r"\s*[+-]?\d{1,3}(,\d{3})+\s*", text):  # 1,250 may be 1.25 or 1250
        return ""
    try:
        number = float(text.strip().replace(",", "."))
    except ValueError:
        return ""
    return f"{number:.15g}" if math.isfinite(number) else ""


class Integer(Number):
    """A whole number within a range; 2.0 is 2.

    Parameters
    ----------
    maximum
        Highest value allowed; no count needs more than 32 bits.
    """

    whole = True

    def __init__(self, *, maximum: float = 2**31 - 1, **declared: Declared) -> None:
        super().__init__(maximum=maximum, **declared)

    def described(self) -> dict[str, Any]:
        """Type, range, and the bits that hold it."""
        bits = "int32" if self.maximum < 2**31 else "int64"
        return super().described() | {"format": bits}


class Flag(Checked):
    """True or false, nothing that merely looks like it."""

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept a JSON boolean."""
        if value is True or value is False:
            return value
        return self.refuse(value, self.allowed, place, refusals)

    @property
    def allowed(self) -> str:
        """Both words."""
        return "true or false"

    def described(self) -> dict[str, Any]:
        """Type."""
        return {"type": "boolean"}


class Text(Checked):
    """A name that people gave: one line with something in it.

    Parameters
    ----------
    longest
        Most characters.
    """

    # No control characters or line ends; no marks that turn the reading direction round, and no
    # signs that cannot be seen, with which one name can be made to look like another. At least one
    # character that can be seen.
    _odd: Final = (
        r"\x00-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b\u200e\u200f"
        r"\u2028-\u202e\u2060-\u206f\u2800\u3164\ufdd0-\ufdef\ufeff\uffa0\ufff0-\ufffb\ufffe\uffff"
    )
    pattern: Final = f"^[^{_odd}]*[^\\s{_odd}][^{_odd}]*$"
    # Beyond 16 bits, where patterns of the contract do not reach: tags, and of every 65,536 signs
    # the last two, which are no characters (Unicode, section 23.7, from memory).
    _none: Final = "".join(
        f"{chr(high + 0xFFFE)}{chr(high + 0xFFFF)}" for high in range(0x10000, 0x110000, 0x10000)
    )
    _unfit: Final = re.compile(f"[{_odd}\U000e0000-\U000e0fff{_none}]")

    def __init__(self, *, longest: int = 80, **declared: Declared) -> None:
        super().__init__(**declared)
        self.longest = longest

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept one visible line."""
        if type(value) is str:
            if 0 < len(value) <= self.longest and value.isascii() and value.isalnum():
                return value
            if not value.strip():
                detail = f"{self.name} is empty; give it at least one character."
            elif len(value) > self.longest:
                detail = f"{self.name} has {len(value)} characters; {self.longest} is the most."
            elif self._unfit.search(value):
                detail = f"{self.name} holds a control character or a sign that cannot be seen."
            else:
                return value
        else:
            return self.refuse(value, "text in quotation marks", place, refusals)
        refusals.append(Refusal(place, detail, value, self.allowed))
        return BROKEN

    @property
    def allowed(self) -> str:
        """Length in words."""
        return f"1 to {self.longest} characters on one line"

    def described(self) -> dict[str, Any]:
        """Type, length, pattern."""
        return {
            "type": "string",
            "minLength": 1,
            "maxLength": self.longest,
            "pattern": self.pattern,
        }


class Day(Checked):
    """A day of the calendar, RFC 3339."""

    _form: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
    allowed: Final = "a day of the calendar, as 2026-03-14"

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept a day that there is."""
        if type(value) is not str or not self._form.fullmatch(value):
            return self.refuse(value, self.allowed, place, refusals)
        try:
            date.fromisoformat(value)
        except ValueError:
            detail = f"{self.name} is {value}; there is no such day in the calendar."
            refusals.append(Refusal(place, detail, value, self.allowed))
            return BROKEN
        return value

    def described(self) -> dict[str, Any]:
        """Type and format."""
        return {"type": "string", "format": "date", "maxLength": 10}


class Choice(Checked):
    """One of a few words.

    Parameters
    ----------
    words
        The words.
    component
        What the contract calls this list of words.
    """

    def __init__(
        self, words: Collection[str], *, component: str = "", **declared: Declared
    ) -> None:
        super().__init__(**declared)
        self.words, self.component = tuple(words), component
        self._set = frozenset(self.words)

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept one of the words."""
        if type(value) is str:
            if value in self._set:
                return value
            detail = (
                f"{self.name} is '{value[:60]}', which is not one of the choices"
                f"{suggested(value, self.words, refusals)}"
            )
            detail += "" if detail.endswith("?") else "."
            refusals.append(Refusal(place, detail, value, self.allowed))
            return BROKEN
        return self.refuse(value, "one of " + self.allowed, place, refusals)

    @property
    def allowed(self) -> str:
        """The words."""
        return ", ".join(self.words)

    def described(self) -> dict[str, Any]:
        """Type and words."""
        return {"type": "string", "enum": list(self.words)}
