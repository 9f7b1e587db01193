"""Strict reading of a JSON body: what RFC 8259 allows and nothing else, each refusal explained."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import islice
from typing import Any, Final

import orjson
from flask import request
from werkzeug.exceptions import RequestEntityTooLarge

from api.media_types import JSON
from api.refusals import MISSING, Json, Place, Refusal, shown
from api.service.problems import MOST_SHOWN, ProblemError

_SURROGATE_ESCAPE: Final = re.compile(rb"\\u[dD][89a-fA-F]")
_LONG_NUMBER: Final = re.compile(rb"\d{19}|\d[eE][+-]?\d{3}|0\.0{99}")
"""Numbers that orjson may read otherwise than the standard library, or that no number can hold."""
_ALIKE: Final = bytes.maketrans(b"123456789E{}", b"000000000e[]")
_NO_BRACKETS: Final = bytes(set(range(256)) - set(b"[]"))
_ODD_NUMBERS: Final = (b"0" * 19, b"0e")  # of digits that are told alike
_NOT_ZERO: Final = re.compile(r"[1-9]")
_SURROGATE: Final = re.compile("[\ud800-\udfff]")


class _Constant:
    """NaN or an infinity, which Python's reader knows and JSON does not; or too small a number."""

    __slots__ = ("detail", "name")

    def __init__(self, name: str, detail: str = "") -> None:
        self.name = name
        self.detail = detail or f"{name} is not a JSON number."


def _float(text: str) -> float | _Constant:
    """A number; what would silently become 0 is refused."""
    found = float(text)
    if found == 0.0 and _NOT_ZERO.search(re.split("[eE]", text)[0]):
        name = text if len(text) < 40 else text[:39] + "…"
        return _Constant(name, f"{name} is too small to hold; give 0 if that is meant.")
    return found


class _Repeated(dict[str, Any]):
    """An object in which a name stood more than once."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        counted = Counter(name for name, _ in pairs)
        self.repeated = [name for name, times in counted.items() if times > 1]


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    return found if len(found) == len(pairs) else _Repeated(pairs)


_DECODER: Final = json.JSONDecoder(
    object_pairs_hook=_object, parse_constant=cache(_Constant), parse_float=_float
)


def read_json(max_nesting: int, max_bytes: int) -> Json:
    """Read the body of the current request.

    Parameters
    ----------
    max_nesting
        Deepest nesting of objects and lists.
    max_bytes
        Longest body; the application lets one byte more through, see ``create_app``.

    Returns
    -------
    Any
        The document; it is also kept with the request, for messages that show a value.

    Raises
    ------
    ProblemError
        415 or 400; see PROBLEM_TYPES.
    RequestEntityTooLarge
        The body is too long.
    """
    body, _ = read_bytes((JSON,), max_bytes)
    return keep_document(parse_json(body, max_nesting))


def keep_document(document: Json) -> Json:
    """Keep the document with the request, for messages that show a value, and give it back."""
    request.environ["evenloop.document"] = document
    return document


def read_bytes(kinds: Sequence[str], max_bytes: int) -> tuple[bytes, str]:
    """Read the body of the current request as it is.

    Parameters
    ----------
    kinds
        Media types that are taken.
    max_bytes
        Longest body; the application lets one byte more through, see ``create_app``.

    Returns
    -------
    tuple
        The body, and which of the media types it has.

    Raises
    ------
    ProblemError
        415: it has none of them, or is compressed.
    RequestEntityTooLarge
        The body is too long.
    """
    kind = _media_type(kinds)
    body = request.get_data(cache=False)
    if len(body) > max_bytes:
        raise RequestEntityTooLarge
    return body, kind


def _media_type(kinds: Sequence[str]) -> str:
    encoding = request.headers.get("Content-Encoding", "identity").strip().lower()
    if encoding != "identity":
        raise ProblemError(
            "unsupported-media-type",
            f"The body is sent with Content-Encoding {encoding[:40]!r}; send it uncompressed "
            "(identity, or no such header).",
            headers={"Accept-Encoding": "identity"},
        )
    kind = request.mimetype
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if kind not in kinds or charset not in ("utf-8", "utf8"):
        given = request.headers.get("Content-Type", "")[:80] or "none"
        raise ProblemError(
            "unsupported-media-type",
            f"The Content-Type is {given}; it must be {' or '.join(kinds)} (always UTF-8).",
            headers={"Accept": ", ".join(kinds)},
        )
    return kind


def parse_json(body: bytes, max_nesting: int) -> Json:
    """Parse a JSON text, refusing what the standard library would let pass.

    Parameters
    ----------
    body
        The text in UTF-8, without a byte order mark.
    max_nesting
        Deepest nesting of objects and lists.

    Returns
    -------
    Any
        The document.

    Raises
    ------
    ProblemError
        empty-body, malformed-json or nested-too-deep.
    """
    if not body.strip():
        raise ProblemError("empty-body", "The body is empty; send a JSON object.")
    document = _parsed_fast(body, max_nesting)
    if document is not MISSING:
        return document
    text = _decoded(body)
    try:
        document = _DECODER.decode(text)
    except json.JSONDecodeError as error:
        what = error.msg.removesuffix(" at")
        raise ProblemError(
            "malformed-json",
            f"The body is not JSON: {what} at line {error.lineno}, column {error.colno}.",
        ) from None
    except RecursionError:
        raise _too_deep(max_nesting) from None
    except ValueError:  # the interpreter's own limit on the digits of an integer
        raise ProblemError(
            "malformed-json",
            "The body holds an integer of thousands of digits; no quantity needs one.",
        ) from None
    repeated = _walk_levels(document, max_nesting)
    # The full walk costs more than the parsing, so it is kept for bodies that may need it.
    odd = _SURROGATE_ESCAPE.search(body) or _LONG_NUMBER.search(body)
    if repeated or odd or b"NaN" in body or b"Infinity" in body:
        refusals = list(islice(_unclean(document, ()), MOST_SHOWN))
        if refusals:
            raise ProblemError("malformed-json", refusals[0].detail, refusals)
    return document


def _parsed_fast(body: bytes, max_nesting: int) -> Json:
    """Parse a body about which there is nothing to say; MISSING where the slow way must look.

    orjson keeps to RFC 8259, in a tenth of the time, but lets a name stand twice in an object,
    rounds and explains its refusals otherwise. A name that was given twice has a colon more in the
    body than in the document when it is written again.
    """
    bare = _outside_texts(body)
    figures = bare.translate(_ALIKE)
    if any(each in figures for each in _ODD_NUMBERS) and _LONG_NUMBER.search(bare):
        return MISSING
    brackets, depth = figures.translate(None, _NO_BRACKETS), 0
    while brackets and depth < max_nesting:  # the innermost pairs are taken out
        brackets, depth = brackets.replace(b"[]", b""), depth + 1
    if brackets:
        return MISSING
    try:
        document = orjson.loads(body)
        again = orjson.dumps(document)
    except (orjson.JSONDecodeError, orjson.JSONEncodeError):
        return MISSING
    return document if _outside_texts(again).count(b":") == bare.count(b":") else MISSING


def _outside_texts(body: bytes) -> bytes:
    """What of a JSON text stands in no quotation marks."""
    if b"\\" in body:
        body = body.replace(rb"\\", b"").replace(rb"\"", b"")
    return b"".join(body.split(b'"')[::2])


def _decoded(body: bytes) -> str:
    if body.startswith(b"\xef\xbb\xbf"):
        raise ProblemError(
            "malformed-json",
            "The body begins with a byte order mark, which JSON does not allow; save it as UTF-8 "
            "without one.",
        )
    try:
        return body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ProblemError(
            "malformed-json",
            f"The body is not UTF-8: byte {error.start + 1} (0x{body[error.start]:02x}) does not "
            "fit.",
        ) from None


def _too_deep(max_nesting: int) -> ProblemError:
    return ProblemError(
        "nested-too-deep", f"Objects and lists may be nested {max_nesting} levels deep."
    )


def _walk_levels(document: Json, max_nesting: int) -> bool:
    """Refuse too deep a document; tell whether any object repeats a name."""
    level = [document]
    repeated = False
    for _ in range(max_nesting):
        repeated = repeated or any(type(each) is _Repeated for each in level)
        level = [
            value
            for each in level
            if isinstance(each, (dict, list))
            for value in (each.values() if isinstance(each, dict) else each)
            if isinstance(value, (dict, list))
        ]
        if not level:
            return repeated
    raise _too_deep(max_nesting)


def _unclean(value: Json, place: Place) -> Iterator[Refusal]:
    if isinstance(value, _Constant):
        yield Refusal(place, value.detail, value.name, "a finite decimal number")
    elif isinstance(value, str):
        if _SURROGATE.search(value):
            yield Refusal(place, "The text holds half of a surrogate pair.", value, "Unicode text")
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _unclean(item, (*place, index))
    elif isinstance(value, dict):
        for name in getattr(value, "repeated", ()):
            yield Refusal(
                (*place, name),
                f"'{shown(name)}' is given more than once in the same object; keep one.",
            )
        for name, item in value.items():
            if _SURROGATE.search(name):
                yield Refusal(
                    place, "A field's name holds half of a surrogate pair.", name, "Unicode text"
                )
            else:
                yield from _unclean(item, (*place, name))
