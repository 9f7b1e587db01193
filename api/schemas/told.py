"""How are numbers, counts, rows and parts declared that an answer always tells?"""

from __future__ import annotations

from collections.abc import Callable

from api.schemas.common import MOST_ROWS
from api.schemas.fields import Integer, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema


def told(description: str) -> Number:
    """Declare a number that is always told."""
    return Number(required=True, metadata=said(description))


def named(description: str, *examples: str) -> Text:
    """Declare a name or a short text that is always told."""
    return Text(required=True, longest=1_000, metadata=said(description, *examples))


def counted(description: str, minimum: int = 1) -> Integer:
    """Declare a number of things that is always told."""
    return Integer(required=True, minimum=minimum, metadata=said(description))


def rows(
    schema: Callable[[], type[StrictSchema]], description: str, longest: int = MOST_ROWS
) -> ListOf:
    """Declare a list of objects that is always told."""
    return ListOf(Nested(schema), required=True, longest=longest, metadata=said(description))


def part(schema: Callable[[], type[StrictSchema]], description: str) -> Nested:
    """Declare an object that is always told."""
    return Nested(schema, required=True, metadata=said(description))
