"""POST /v1/plot-file: which plot does a file of GeoJSON, DXF or CSV draw?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.media_types import BYTES, CSV, DXF, GEOJSON, PLOT_FILES
from api.requests.plot_csv import read_csv
from api.requests.plot_dxf import read_dxf
from api.requests.plot_file import Reading, plot_of
from api.requests.plot_geojson import read_geojson
from api.service.json_body import keep_document, parse_json, read_bytes
from api.service.problems import ProblemError
from api.service.replies import reply, settings

blueprint: Final = Blueprint("plot_file", __name__)


@blueprint.post("/v1/plot-file")
def post_plot_file() -> Response:
    """Read a plot out of a file."""
    limits = settings()
    body, kind = read_bytes(PLOT_FILES, limits.max_body_bytes)
    return reply(plot_of(_read(body, kind, limits.max_nesting), limits.max_corners))


def _read(body: bytes, kind: str, max_nesting: int) -> Reading:
    if kind == BYTES:
        kind = _told_by_its_beginning(body)
    if kind == GEOJSON:
        return read_geojson(keep_document(parse_json(body, max_nesting)))
    return (read_dxf if kind == DXF else read_csv)(_text(body))


def _told_by_its_beginning(body: bytes) -> str:
    """Media type of a file: GeoJSON is in braces, and a drawing begins with a group code."""
    head = body[:1_000].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith(b"{"):
        return GEOJSON
    return DXF if head.split(b"\n", 1)[0].strip().isdigit() else CSV


def _text(body: bytes) -> str:
    """A file as text."""
    if not body.strip():
        raise ProblemError("empty-body", "The body is empty; send the file.")
    if b"\0" in body:
        detail = "The body is no text: it holds zero bytes. Save the file as text, not as binary."
        raise ProblemError("malformed-file", detail)
    try:
        return body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ProblemError(
            "malformed-file",
            f"The body is not UTF-8: byte {error.start + 1} (0x{body[error.start]:02x}) does not "
            "fit. Save the file in UTF-8; DXF is from its version of 2007 on.",
        ) from None
