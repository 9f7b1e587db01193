"""By which version of the service, and of which body, was an answer made?"""

import hashlib
import json
import math
import re
from decimal import Decimal
from importlib.metadata import version
from typing import Final

import orjson

VERSION: Final = version("evenloop")

_EXACT: Final = 2**53
"""From here on not every integer is a number of ECMAScript."""
_OTHER_NUMBER: Final = re.compile(rb"\.0[,\]}]|\d[eE][-+]?\d|\d{16}")
"""What a number that RFC 8785 writes otherwise than orjson has in it."""
_LAST_OF_16_BITS: Final = re.compile(rb"[\xee\xef]")
_BEYOND_16_BITS: Final = re.compile(rb"[\xf0-\xf4]")
"""Begins of U+E000 to U+FFFF, and of what lies beyond, which UTF-16 orders before them."""


def digest_of(document: object) -> str:
    """SHA-256 of a body as RFC 8785 writes it: compact, in UTF-8, names in order, 1.0 as 1.

    However a body was written, it has one digest: the same by the same version, the same answer.
    """
    try:
        written = orjson.dumps(document, option=orjson.OPT_SORT_KEYS)
    except TypeError:  # an integer of more than 64 bits, as one refused job of a batch may hold
        written = json.dumps(document).encode()
    if _OTHER_NUMBER.search(written):
        plain = json.loads(written, parse_float=_number, parse_int=_number)
        written = orjson.dumps(plain, option=orjson.OPT_SORT_KEYS)
    if _BEYOND_16_BITS.search(written) and _LAST_OF_16_BITS.search(written):
        ordered = json.loads(
            written, parse_float=_number, parse_int=_number, object_pairs_hook=_by_utf_16
        )
        written = orjson.dumps(ordered)
    return hashlib.sha256(written).hexdigest()


def _by_utf_16(names: list[tuple[str, object]]) -> dict[str, object]:
    return dict(sorted(names, key=lambda each: each[0].encode("utf-16-be")))


def _number(text: str) -> float | orjson.Fragment:
    """A number that is written as ECMAScript writes it, which RFC 8785 follows."""
    value = float(text)
    if value.is_integer() and abs(value) < _EXACT:
        return int(value)
    if math.isinf(value):  # a number of none of our fields, nor of ECMAScript
        return orjson.Fragment(text)
    if 1e-6 <= abs(value) < 1e-5 or _EXACT <= abs(value) < 1e21:
        return orjson.Fragment(format(Decimal(repr(value)).normalize(), "f"))
    return value
