"""Objects and lists that are read strictly, every fault with its place."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import cache, cached_property
from typing import Any, ClassVar

from marshmallow import RAISE, Schema

from api.refusals import BROKEN, MISSING, Json, Place, Refusal, RefusedError, shown
from api.schemas.fields import (
    MOST_HINTS,
    Checked,
    Declared,
    Refusals,
    suggested_field,
)
from api.schemas.shared import kept_readings, once


class StrictSchema(Schema):
    """An object of named fields and no others; read with :meth:`check`.

    Which fields go together is declared here too, in words that the contract and the refusals
    share. Where each of `one_of` is an object, the object at hand is a wrapped choice:
    ``{"slinky": {...}}``.
    """

    one_of: ClassVar[tuple[str, ...]] = ()
    """Fields of which exactly one is given."""
    together: ClassVar[tuple[tuple[str, ...], ...]] = ()
    """Fields that are given together or not at all."""
    apart: ClassVar[tuple[tuple[str, str], ...]] = ()
    """Pairs of fields of which one at most is given."""
    goes_with: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    """Fields that mean something only beside one of others."""
    elsewhere: ClassVar[Mapping[str, str]] = {}
    """Fields that people look for here, and the part of the job that they stand in."""
    what: ClassVar[str] = "this object"
    """What the object is, for messages."""
    why: ClassVar[str] = ""
    """Why the rules above hold, or how such an object is written."""

    class Meta:
        """Unknown fields are refused, and OpenAPI says so."""

        unknown = RAISE

    def __init__(self, **options: Declared) -> None:
        super().__init__(**options)
        self.checks: dict[str, Checked] = {
            name: field for name, field in self.fields.items() if isinstance(field, Checked)
        }
        self._required = tuple(name for name, field in self.checks.items() if field.required)
        self._defaults = {
            name: field.load_default
            for name, field in self.checks.items()
            if isinstance(field.load_default, (bool, int, float, str))
        }
        self._company = frozenset(
            name for group in (*self.together, *self.apart, self.goes_with) for name in group
        )
        self._names = ", ".join(self.checks)
        self.wraps = bool(self.one_of) and all(
            isinstance(self.checks[name], Nested) for name in self.one_of
        )

    @property
    def defaults(self) -> dict[str, Any]:
        """Values of fields that are left out."""
        return self._defaults.copy()

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read one object: fields with defaults filled in, those at fault BROKEN."""
        if type(value) is not dict:
            refusals.append(self._no_object(value, place))
            return BROKEN
        if (kept := kept_readings()) is None:
            return self._read(value, place, refusals)
        return once(kept, self, (value,), refusals, lambda: self._read(value, place, refusals))

    def _read(self, value: dict[str, Json], place: Place, refusals: Refusals) -> Json:
        checks = self.checks
        result = self._defaults.copy()
        unknown = []
        # A place is made for every field read; so added, it takes a third of the time.
        for name, item in value.items():
            field = checks.get(name)
            if field is None:
                unknown.append(name)
            else:
                result[name] = field.check(item, place + (name,), refusals)  # noqa: RUF005
        for name in self._required:
            if name not in value:
                result[name] = BROKEN
                refusals.append(self._missing(name, place))
        if self.one_of and not (len(value) == 1 and next(iter(value)) in self.one_of):
            # What is null stands beside what is given as if it were left out; alone, it is refused.
            given = [name for name in self.one_of if value.get(name) is not None]
            if len(given) > 1 or not any(name in value for name in self.one_of):
                self._refuse_number(value, given, unknown, place, refusals)
            if len(given) != sum(name in value for name in self.one_of) or len(given) != 1:
                return BROKEN
        if unknown:
            self._refuse_unknown(unknown, value, place, refusals)
        if self._company and not self._company.isdisjoint(value):
            self._refuse_company(value, result, place, refusals)
        return result

    def load(self, data: Json, **_: Declared) -> Json:
        """Read a whole document; raise RefusedError with everything that is wrong with it."""
        refusals: Refusals = []
        result = self.check(data, (), refusals)
        if refusals:
            raise RefusedError(refusals)
        return result

    @property
    def exactly_one(self) -> str:
        """The fields of `one_of`, in words."""
        return "exactly one of " + ", ".join(self.one_of)

    def _said(self, detail: str) -> str:
        return f"{detail} {self.why}" if self.why else detail

    def _no_object(self, value: Json, place: Place) -> Refusal:
        name = place[-1] if place and type(place[-1]) is str else self.what if place else "The body"
        detail = f"{name} must be an object in braces."
        if value is None:
            detail = (
                f"{name} is null; {'leave it out, or ' if place else ''}give an object in braces."
            )
        elif type(value) in (int, float) and len(self._required) == 1:
            detail += f' Write {{"{self._required[0]}": {value:g}}}.'
        return Refusal(place, detail, value, self.allowed)

    @property
    def allowed(self) -> str:
        """What stands here, in words."""
        return f"an object with {self.exactly_one}" if self.one_of else "an object"

    def _missing(self, name: str, place: Place) -> Refusal:
        field = self.checks[name]
        said = field.metadata.get("description", "").split(". ")[0].rstrip(".")
        detail = f"{name} is missing" + (f": {said[0].lower()}{said[1:]}." if said else ".")
        return Refusal((*place, name), detail, MISSING, field.allowed)

    def _refuse_unknown(
        self, names: list[str], value: Mapping[str, Any], place: Place, refusals: Refusals
    ) -> None:
        """Refuse fields that there are not; those beyond what is ever told are only counted."""
        refusals.extend(self._unknown(name, value, place, refusals) for name in names[:MOST_HINTS])
        refusals.extend(refusals[-1:] * (len(names) - MOST_HINTS))

    def _unknown(
        self, name: str, value: Mapping[str, Any], place: Place, refusals: Refusals
    ) -> Refusal:
        if name in self.elsewhere:
            part = self.elsewhere[name]
            detail = f"{name} does not stand here but in the job's {part}."
            return Refusal((*place, name), detail, allowed=f"in {part}")
        within = [] if not self.wraps else self._knowing(name)
        inside = " or ".join(sorted(within, key=lambda each: each not in value))
        if inside:
            detail = f"{name} does not stand here but within {inside}. {self.why}"
            return Refusal((*place, name), detail, allowed=self._names)
        hint = suggested_field(name, self.checks, refusals, value[name])
        detail = f"'{shown(name)}' is no field of this object{hint}"
        return Refusal((*place, name), detail, allowed=self._names)

    def _knowing(self, name: str) -> list[str]:
        """Kinds of a wrapped choice that have a field of a name."""
        return [
            kind
            for kind in self.one_of
            if isinstance(field := self.checks[kind], Nested) and name in field.reader.checks
        ]

    def _refuse_number(
        self,
        value: Mapping[str, Any],
        given: list[str],
        unknown: list[str],
        place: Place,
        refusals: Refusals,
    ) -> None:
        """Refuse an object with none, or with several, of the fields of which one is to be."""
        what = self.what[0].upper() + self.what[1:]
        if given:
            detail = self._said(f"{what} has {' and '.join(given)}; give only one of them.")
            refusals.extend(
                Refusal((*place, name), detail, allowed=self.exactly_one) for name in given
            )
        if self.wraps and not given:
            # What is written without its wrapping is explained below, all in one.
            if written := self._wrapped(value):
                what = f"{what} is written by its kind: {written}."
                refusals.append(Refusal(place, what, MISSING, self.exactly_one))
                return
            few = unknown[:MOST_HINTS]
            unknown = [n for n in few if suggested_field(n, self.one_of, refusals) != "."]
        self._refuse_unknown(unknown, value, place, refusals)
        if not given:
            detail = self._said(f"{what} needs {self.exactly_one}.")
            refusals.append(Refusal(place, detail, MISSING, self.exactly_one))

    def _wrapped(self, value: Mapping[str, Any]) -> str:
        """A choice that was written flat, its kind as a value, as it is to be; empty for others."""
        kinds = [each for each in value.values() if type(each) is str and each in self.one_of]
        field = self.checks[kinds[0]] if len(kinds) == 1 else None
        if not isinstance(field, Nested):
            return ""
        inner = {
            name: each
            for name, each in value.items()
            if name in field.reader.checks and type(each) in (bool, int, float)
        }
        beside = {name: value[name] for name in self.checks if type(value.get(name)) is str}
        if not inner or len(inner) + len(beside) + 1 < len(value):
            return ""
        return json.dumps({kinds[0]: inner, **beside}, ensure_ascii=False)

    def _refuse_company(
        self, value: Mapping[str, Any], result: dict[str, Any], place: Place, refusals: Refusals
    ) -> None:
        """Refuse fields that lack what they go with, or stand beside what they contradict."""
        for group in self.together:
            given = [name for name in group if name in value]
            for name in group if given else ():
                if name not in value:
                    result[name] = BROKEN
                    detail = self._said(f"{name} is missing: {given[0]} means nothing without it.")
                    refusals.append(Refusal((*place, name), detail, MISSING, " and ".join(group)))
        for pair in self.apart:
            if pair[0] in value and pair[1] in value:
                detail = self._said(f"{pair[0]} and {pair[1]} are both given; give one of them.")
                for name in pair:
                    result[name] = BROKEN
                    refusals.append(Refusal((*place, name), detail, allowed="one of the two"))
        for name, others in self.goes_with.items():
            if name in value and not any(other in value for other in others):
                result[name] = BROKEN
                words = " or ".join(others)
                detail = self._said(f"{name} goes with {words}, which is not given.")
                refusals.append(Refusal((*place, name), detail, allowed=f"only with {words}"))


@cache
def schema_of(kind: type[StrictSchema]) -> StrictSchema:
    """Give the one instance of a schema, made when first asked for."""
    return kind()


class Nested(Checked):
    """An object by its schema.

    Parameters
    ----------
    schema
        Gives the schema; a function, so that a circuit can hold circuits.
    """

    def __init__(self, schema: Callable[[], type[StrictSchema]], **declared: Declared) -> None:
        super().__init__(**declared)
        self.schema = schema

    @property
    def reader(self) -> StrictSchema:
        """The schema's one instance."""
        return schema_of(self.schema())

    @property
    def allowed(self) -> str:
        """As its schema says."""
        return self.reader.allowed

    @cached_property
    def check(self) -> Callable[[Json, Place, Refusals], Json]:
        """Reads the object."""
        return self.reader.check


class ListOf(Checked):
    """A list of one kind of thing.

    Parameters
    ----------
    item
        Field of each item.
    shortest, longest
        Fewest and most items.
    """

    def __init__(
        self, item: Checked, *, shortest: int = 0, longest: int, **declared: Declared
    ) -> None:
        super().__init__(**declared)
        self.item, self.shortest, self.longest = item, shortest, longest

    def _bind_to_schema(self, field_name: str, parent: Declared) -> None:
        super()._bind_to_schema(field_name, parent)
        self.item.name = field_name  # so that messages about an item can name the list

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read every item."""
        if type(value) is not list:
            return self.refuse(value, "a list in brackets", place, refusals)
        if not self.shortest <= len(value) <= self.longest:
            detail = f"{self.name} has {len(value):,} items; it must have {self.allowed}."
            refusals.append(Refusal(place, detail, value, self.allowed))
            return BROKEN
        if (kept := kept_readings()) is None:
            return self._items(value, place, refusals)
        return once(kept, self, (value,), refusals, lambda: self._items(value, place, refusals))

    def _items(self, value: list[Json], place: Place, refusals: Refusals) -> list[Json]:
        check = self.item.check
        return [
            check(item, place + (index,), refusals)  # noqa: RUF005 (as above)
            for index, item in enumerate(value)
        ]

    @property
    def allowed(self) -> str:
        """How many items, in words."""
        if self.shortest == self.longest:
            return f"{self.shortest:,} items"
        return f"{self.shortest:,} to {self.longest:,} items"

    def described(self) -> dict[str, Any]:
        """Type and number of items; the items themselves are described by the caller."""
        said: dict[str, Any] = {"type": "array", "maxItems": self.longest}
        if self.shortest:
            said["minItems"] = self.shortest
        return said
