"""Where in a request does a quantity stand that the engine names?

The engine names what is at fault by the attributes of its own values, dotted, from the value that
was made (`header_length`) or from the whole job (`circuit.branches.2.item.legs.0.coil_diameter`).
A field of the request stands for the attribute that is called like the field without its unit, and
for those that the field's `engine` names, a dotted path each, with `*` for a number. An empty name
says that the engine knows no such object: the names within are at home around it. Of a wrapped
choice, the one that was given is at hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from typing import Any, TypeVar

from api.refusals import BROKEN, MISSING, Json, Place, Refusal, refusals_of, spoken, value_at
from api.schemas.fields import Checked
from api.schemas.job import JobSchema
from api.schemas.objects import ListOf, Nested, StrictSchema, schema_of
from api.schemas.units import stem_of
from hydraulics.errors import HydraulicsError

Names = tuple[str, ...]
"""What is left of a dotted path of the engine."""

Error = TypeVar("Error", bound=HydraulicsError)


def located(
    error: Error, document: Json, place: Place = (), whole: type[StrictSchema] = JobSchema
) -> Error:
    """The same error, its faults named by their places in the request.

    Parameters
    ----------
    error
        What the engine raised.
    document
        The object of the request that the engine's value was made of.
    place
        Where it stands.
    whole
        Schema of the whole request.

    Returns
    -------
    HydraulicsError
        Of the same class; the fields of its faults are dotted places from the request's top.
    """
    reader = _schema_at(place, whole)
    faults = []
    for fault in error.faults:
        named = _named(fault.field, document, reader)
        at = within(document, named)
        # a field left out with the object that it is of is named in words: its default governs
        message = fault.message if at == named else spoken(fault.message, named)
        faults.append(replace(fault, field=".".join(map(str, (*place, *at))), message=message))
    return type(error)(*faults)


def under(path: str, error: Error) -> Error:
    """The same error, its faults named from what is around the engine's value."""
    return type(error)(
        *(replace(fault, field=f"{path}.{fault.field}".rstrip(".")) for fault in error.faults)
    )


def _schema_at(place: Place, whole: type[StrictSchema]) -> StrictSchema:
    """Schema of the object that stands at a place."""
    schema, field = schema_of(whole), None
    for part in place:
        field = field.item if isinstance(field, ListOf) else schema.checks[str(part)]
        schema = field.reader if isinstance(field, Nested) else schema
    return schema


def refused_at(error: HydraulicsError, place: Place) -> list[Refusal]:
    """What the engine refuses of a value that a single field of the request gives."""
    field = ".".join(map(str, place))
    return refusals_of(type(error)(*(replace(fault, field=field) for fault in error.faults)))


@contextmanager
def named_as_in(document: Json) -> Iterator[None]:
    """Let what the engine refuses of a job be named by its place in the job's document."""
    try:
        yield
    except HydraulicsError as error:
        raise located(error, document) from None


def attempt(make: Callable[[], Any], read: Json, place: Place, refusals: list[Refusal]) -> Json:
    """What is made of an object of the request, or BROKEN after its faults were added.

    Parameters
    ----------
    make
        Makes the engine's value.
    read
        The object as read.
    place
        Where it stands.
    refusals
        Receives what the engine refuses.
    """
    try:
        return make()
    except HydraulicsError as error:
        refusals += refusals_of(located(error, read, place))
        return BROKEN


def place_of(path: str, document: Json, schema: StrictSchema) -> Place:
    """Place in an object of the request of what the engine names.

    Parameters
    ----------
    path
        Dotted attributes of the engine's value.
    document
        The object that it was made of.
    schema
        Its schema.

    Returns
    -------
    Place
        From that object; of what is nearest around, where the request has no such field.
    """
    return within(document, _named(path, document, schema))


def _named(path: str, document: Json, schema: StrictSchema) -> Place:
    """Place of what the engine names, whether the document has it or not."""
    names = tuple(part for part in path.split(".") if part)
    best: tuple[tuple[int, bool, int], Place] = ((len(names), True, 0), ())
    for place, left in _in_object(schema, document, names):
        rank = (len(left), value_at(document, place) is MISSING, -len(place))
        if rank < best[0]:
            best = rank, place
    return best[1]


def within(document: Json, place: Place) -> Place:
    """The place up to the first part of it that the document lacks."""
    for number in range(len(place)):
        if value_at(document, place[: number + 1]) is MISSING:
            return place[: number + 1]
    return place


def _in_object(schema: StrictSchema, document: Json, names: Names) -> Iterator[tuple[Place, Names]]:
    """Every place that begins to answer to the names, and what is left of them there."""
    given = document if isinstance(document, dict) else {}
    for name, field in schema.checks.items():
        chosen = schema.wraps and name in schema.one_of and name in given
        for path in (*_paths(field, name), *(((),) if chosen else ())):
            if len(path) <= len(names) and all(map(_is, path, names)):
                for place, left in _in_field(field, given.get(name), names[len(path) :]):
                    yield (name, *place), left


def _is(part: str, name: str) -> bool:
    return part == name or (part == "*" and name.isdigit())


def _in_field(field: Checked, value: Json, names: Names) -> Iterator[tuple[Place, Names]]:
    yield (), names
    if isinstance(field, Nested) and names:
        yield from _in_object(field.reader, value, names)
    elif isinstance(field, ListOf):
        if len(names) > 1 and not names[0].isdigit() and names[1].isdigit():
            names = (names[1], names[0], *names[2:])  # the engine holds a table by its columns
        if names and names[0].isdigit():
            index = int(names[0])
            known = isinstance(value, list) and index < len(value)
            for place, left in _in_field(field.item, value[index] if known else None, names[1:]):
                yield (index, *place), left


@cache
def _paths(field: Checked, name: str) -> tuple[Names, ...]:
    named = (stem_of(name), *field.engine)
    return tuple(dict.fromkeys(tuple(part for part in each.split(".") if part) for each in named))


def broken(read: Json) -> bool:
    """Tell whether something read, or anything within it, was refused."""
    if type(read) is dict:
        read = list(read.values())
    elif type(read) is not list:
        return read is BROKEN
    for each in read:
        if each is BROKEN or ((type(each) is dict or type(each) is list) and broken(each)):
            return True
    return False
