"""How a result leaves the service: compact JSON, a table or a picture."""

from __future__ import annotations

import json
from typing import Any, Final
from urllib.parse import quote

import orjson
from flask import Response, current_app, request

from api.answers.csv_table import Table, csv_of
from api.media_types import SVG
from api.refusals import BROKEN, Json, RefusedError
from api.schemas.fields import Refusals
from api.schemas.objects import StrictSchema
from api.service.json_body import read_json
from api.settings import Settings

JSON_TYPE: Final = "application/json"
CACHED: Final = "public, max-age=3600"


def settings() -> Settings:
    """Settings of the running application."""
    kept: Settings = current_app.config["EVENLOOP"]
    return kept


def read_document() -> Json:
    """Read the body as JSON; raises ProblemError where it is none."""
    limits = settings()
    return read_json(limits.max_nesting, limits.max_body_bytes)


def read_body(schema: StrictSchema) -> tuple[dict[str, Any], Refusals]:
    """Read the body by a schema.

    Parameters
    ----------
    schema
        The schema of the request.

    Returns
    -------
    tuple
        The object as read, and what is refused in it so far.

    Raises
    ------
    ProblemError
        The body is no JSON.
    RefusedError
        The body is JSON but no object.
    """
    refusals: Refusals = []
    read = schema.check(read_document(), (), refusals)
    if read is BROKEN:
        raise RefusedError(refusals)
    return read, refusals


def reply(content: Json, *, cached: bool = False) -> Response:
    """JSON response; ``cached`` for reference data, which changes with the version only."""
    text = orjson.dumps(content)
    if b"null" in text:
        # orjson writes null for what is no number; the standard library refuses it.
        text = json.dumps(
            content, ensure_ascii=False, separators=(",", ":"), allow_nan=False
        ).encode()
    headers = {"Cache-Control": CACHED if cached else "no-store"}
    return Response(text, content_type=JSON_TYPE, headers=headers)


def reply_csv(table: Table, filename: str) -> Response:
    """CSV response that a browser saves under a name, in the form that its parameters ask for."""
    text = csv_of(
        table,
        decimal_comma=request.args.get("decimal") == "comma",
        byte_order_mark=request.args.get("byte_order_mark") == "true",
    )
    return reply_file(text, "text/csv; charset=utf-8; header=present", filename)


def reply_file(content: str | bytes, kind: str, filename: str) -> Response:
    """Response of a media type that a browser saves under a name."""
    headers = {
        "Cache-Control": "no-store",
        "Content-Disposition": f'attachment; filename="{filename}"',
    }
    return Response(content, content_type=kind, headers=headers)


def reply_drawing(svg: str, filename: str) -> Response:
    """Drawing that is shown or saved alone, and needs nothing from anywhere."""
    headers = {
        "Cache-Control": "no-store",
        "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
        "Content-Disposition": f'inline; filename="{filename}"',
    }
    return Response(svg, content_type=f"{SVG}; charset=utf-8", headers=headers)


def reply_picture(drawn: bytes, kind: str, text: str) -> Response:
    """Picture with its text alternative in Content-Description.

    Parameters
    ----------
    drawn
        The picture.
    kind
        Its media type.
    text
        The text alternative; in the header, what is not printable ASCII is percent-encoded UTF-8.

    Returns
    -------
    Response
        The response. A picture opened by itself may neither run nor load anything.
    """
    headers = {
        "Cache-Control": "no-store",
        "Content-Description": _header_safe(text),
        "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'",
    }
    return Response(drawn, content_type=kind, headers=headers)


def _header_safe(text: str) -> str:
    printable = "".join(map(chr, range(0x20, 0x7F))).replace("%", "")
    return quote(text, safe=printable)
