"""Objects, lists and alternatives that are read strictly, every fault with its place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from marshmallow import RAISE, Schema

from api.refusals import BROKEN, MISSING, Json, Place, Refusal, RefusedError
from api.schemas.fields import Checked, Declared, Number, Refusals, suggested


class StrictSchema(Schema):
    """An object of named fields and no others; read with :meth:`check`."""

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

    def check(
        self,
        value: Json,
        place: Place,
        refusals: Refusals,
        explained: Mapping[str, str] | None = None,
    ) -> Json:
        """Read one object.

        Parameters
        ----------
        value
            The JSON value.
        place
            Where it stands in the request.
        refusals
            Receives what is wrong.
        explained
            Reasons to give for certain unknown fields instead of "unknown field".

        Returns
        -------
        dict or BROKEN
            Fields with defaults filled in; those at fault are BROKEN.
        """
        if type(value) is not dict:
            refusals.append(Refusal(place, "This must be an object in braces.", value, "an object"))
            return BROKEN
        checks = self.checks
        result = self._defaults.copy()
        for name, item in value.items():
            field = checks.get(name)
            if field is None:
                refusals.append(self._unknown(name, place, explained, refusals))
            else:
                result[name] = field.check(item, (*place, name), refusals)
        for name in self._required:
            if name not in value:
                result[name] = BROKEN
                refusals.append(self._missing(name, place))
        return result

    def load(self, data: Json, **_: Declared) -> Json:
        """Read a whole document; raise RefusedError with everything that is wrong with it."""
        refusals: Refusals = []
        result = self.check(data, (), refusals)
        if refusals:
            raise RefusedError(refusals)
        return result

    def _unknown(
        self, name: str, place: Place, explained: Mapping[str, str] | None, refusals: Refusals
    ) -> Refusal:
        if explained and name in explained:
            return Refusal((*place, name), explained[name])
        hint = suggested(name, self.checks, refusals) or "."
        return Refusal(
            (*place, name),
            f"'{name[:60]}' is no field of this object{hint}",
            allowed=", ".join(self.checks),
        )

    def _missing(self, name: str, place: Place) -> Refusal:
        field = self.checks[name]
        said = field.metadata.get("description", "")
        detail = f"{name} is missing" + (f": {said[0].lower()}{said[1:]}" if said else ".")
        allowed = field.allowed if isinstance(field, Number) else ""
        return Refusal((*place, name), detail, MISSING, allowed)


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
    **declared
        As for any marshmallow field.
    """

    def __init__(self, schema: Callable[[], type[StrictSchema]], **declared: Declared) -> None:
        super().__init__(**declared)
        self.schema = schema
        self._read: StrictSchema | None = None

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read the object."""
        if self._read is None:
            self._read = schema_of(self.schema())
        return self._read.check(value, place, refusals)


class ListOf(Checked):
    """A list of one kind of thing.

    Parameters
    ----------
    item
        Field of each item.
    shortest, longest
        Fewest and most items.
    **declared
        As for any marshmallow field.
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
            refusals.append(
                Refusal(place, f"{self.name} must be a list in brackets.", value, "a list")
            )
            return BROKEN
        if not self.shortest <= len(value) <= self.longest:
            detail = f"{self.name} has {len(value):,} items; it must have {self.allowed}."
            refusals.append(Refusal(place, detail, value, self.allowed))
            return BROKEN
        check = self.item.check
        return [check(item, (*place, index), refusals) for index, item in enumerate(value)]

    @property
    def allowed(self) -> str:
        """How many items, in words."""
        return f"{self.shortest:,} to {self.longest:,} items"

    def described(self) -> dict[str, Any]:
        """Type and number of items; the items themselves are described by the caller."""
        said: dict[str, Any] = {"type": "array", "maxItems": self.longest}
        if self.shortest:
            said["minItems"] = self.shortest
        return said


class Alternatives(Checked):
    """One of several kinds of object, told apart by the field that leads each.

    Parameters
    ----------
    choices
        Schema by its leading field.
    what
        What the object is, for messages ("a leg").
    why
        Why only one leading field may be given.
    **declared
        As for any marshmallow field.
    """

    def __init__(
        self,
        choices: Mapping[str, type[StrictSchema]],
        *,
        what: str,
        why: str,
        **declared: Declared,
    ) -> None:
        super().__init__(**declared)
        self.choices = dict(choices)
        self.what, self.why = what, why
        self._leads = tuple(self.choices)
        self._readers = [(lead, schema_of(kind)) for lead, kind in self.choices.items()]

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read the object by the schema that its leading field names."""
        if type(value) is not dict:
            refusals.append(
                Refusal(
                    place,
                    f"{self.what.capitalize()} must be an object in braces.",
                    value,
                    self.allowed,
                )
            )
            return BROKEN
        found = None
        for lead, schema in self._readers:
            if lead in value:
                if found is not None:
                    return self._several(value, place, refusals)
                found = schema
        if found is None:
            return self._none(value, place, refusals)
        # The common case first: every field known, so no reasons need to be prepared.
        if value.keys() <= found.checks.keys():
            return found.check(value, place, refusals)
        lead = next(name for name in self._leads if name in value)
        others = {name for _, schema in self._readers for name in schema.checks}
        explained = {
            name: f"{name} does not go with {lead}. {self.why}"
            for name in value
            if name in others and name not in found.checks
        }
        return found.check(value, place, refusals, explained)

    @property
    def allowed(self) -> str:
        """The leading fields, in words."""
        return "exactly one of " + ", ".join(self._leads)

    def _several(self, value: dict[str, Any], place: Place, refusals: Refusals) -> Json:
        given = [lead for lead in self._leads if lead in value]
        detail = (
            f"{self.what.capitalize()} has {' and '.join(given)}; give only one of them. {self.why}"
        )
        refusals.extend(Refusal((*place, name), detail, allowed=self.allowed) for name in given)
        return BROKEN

    def _none(self, value: dict[str, Any], place: Place, refusals: Refusals) -> Json:
        known = {name for _, schema in self._readers for name in schema.checks}
        for name in value:
            if name not in known:
                hint = suggested(name, known, refusals) or "."
                refusals.append(
                    Refusal((*place, name), f"'{name[:60]}' is no field of this object{hint}",
                            allowed=", ".join(sorted(known)))
                )  # fmt: skip
        detail = f"{self.what.capitalize()} needs {self.allowed}. {self.why}"
        refusals.append(Refusal(place, detail, MISSING, self.allowed))
        return BROKEN
