"""What the contract says of answers beyond their schema: headers, text and pictures, links."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from api.media_types import CSV, GEOJSON, HTML, PDF, PNG, SVG
from api.service.metrics import MEDIA_TYPE as METRICS_TYPE

Said = dict[str, Any]

LONGEST_TEXT: Final = 1_073_741_824
"""Most characters of a text whose length the request decides: as many as a body may have bytes."""

_BEGINS: Final = {
    HTML: "^<!doctype html>",
    CSV: '^\ufeff?"',
    METRICS_TYPE: "^# HELP ",
    SVG: "^<(\\?xml|svg)",
}
"""How a text of each media type begins."""


class File(NamedTuple):
    """An answer that several addresses give alike: its component's name, and what it is."""

    name: str
    description: str


FILES: Final = {
    CSV: File("Table", "A table, its first row the names of its columns."),
    SVG: File("Drawing", "A picture that can be made any size."),
    PNG: File("Picture", "A picture of pixels."),
    PDF: File("Print", "A document for print."),
}
"""What is sent by media type, where its address says all else."""

HEADERS: Final[dict[str, Said]] = {
    "X-Request-Id": {
        "description": (
            "Names this call in the service's log. The request's own, where it sent a plain and "
            "short one; else a new one."
        ),
        "required": True,
        "schema": {
            "type": "string",
            "maxLength": 64,
            "pattern": "^[A-Za-z0-9][A-Za-z0-9._:=+/-]*$",
        },
    },
    "Access-Control-Allow-Origin": {
        "description": (
            "Sent to pages of the origins that whoever runs the service allows "
            "(EVENLOOP_CORS_ORIGINS); absent otherwise."
        ),
        "schema": {"type": "string", "maxLength": 300, "pattern": "^(\\*|https?://.+)$"},
    },
    "RateLimit": {
        "description": (
            "Calculations left (`r`) and seconds until there are more (`t`), as in the IETF draft "
            "on RateLimit header fields; absent where no rate is set or the call was refused "
            "before it counted."
        ),
        "schema": {"type": "string", "maxLength": 100, "pattern": '^"calculations";r=\\d+;t=\\d+$'},
        "example": '"calculations";r=59;t=60',
    },
    "RateLimit-Policy": {
        "description": "Calculations (`q`) allowed in a window of `w` seconds; as RateLimit.",
        "schema": {"type": "string", "maxLength": 100, "pattern": '^"calculations";q=\\d+;w=\\d+$'},
        "example": '"calculations";q=60;w=60',
    },
    "Evenloop-Body-SHA256": {
        "description": (
            "Of what the answer was made: SHA-256 of the JSON sent, as RFC 8785 writes it "
            "(compact, UTF-8, names in order, 1.0 as 1). Absent where no JSON was sent."
        ),
        "schema": {"type": "string", "maxLength": 64, "pattern": "^[0-9a-f]{64}$"},
    },
    "Evenloop-Version": {
        "description": "By which version of the service; comes with Evenloop-Body-SHA256.",
        "schema": {"type": "string", "maxLength": 40, "pattern": "^[0-9]"},
    },
    "Location": {
        "description": "Address of the study.",
        "required": True,
        "schema": {"type": "string", "maxLength": 60, "pattern": "^/v1/studies/"},
    },
    "Retry-After": {
        "description": (
            "Seconds to wait before trying again; absent where the same request would fail again."
        ),
        "schema": {"type": "integer", "format": "int32", "minimum": 1, "maximum": 86_400},
    },
    "WWW-Authenticate": {
        "description": "How to show a key: RFC 6750.",
        "required": True,
        "schema": {"type": "string", "maxLength": 100, "pattern": "^Bearer "},
    },
    "Cache-Control": {
        "description": "How long the answer may be kept.",
        "required": True,
        "schema": {"type": "string", "maxLength": 100, "pattern": "^public, max-age=\\d+$"},
    },
    "ETag": {
        "description": "Tag of the answer; sent back in If-None-Match, it brings a 304.",
        "required": True,
        "schema": {"type": "string", "maxLength": 100, "pattern": '^(W/)?".+"$'},
    },
    "Content-Description": {
        "description": (
            "Text alternative of a picture; what is not printable ASCII, and `%`, is "
            "percent-encoded UTF-8. Absent from JSON."
        ),
        "schema": {"type": "string", "maxLength": 4_000, "pattern": "^[ -~]*$"},
    },
}
"""Headers that the contract names; those that no caller acts upon are not among them."""

NOT_CHANGED: Final = (
    "The tag in If-None-Match is still that of the answer, which is not sent again."
)


def headers_of(status: int, *, counted: bool, cached: bool, pictures: bool = False) -> Said:
    """Headers of an answer, as references.

    Parameters
    ----------
    status
        Its status.
    counted
        Whether the call may count against a rate.
    cached
        Whether the answer may be kept and asked for again by its tag.
    pictures
        Whether it may be a picture.

    Returns
    -------
    dict
        Reference by name.
    """
    names = ["X-Request-Id", "Access-Control-Allow-Origin"]
    if counted:
        names += ["RateLimit", "RateLimit-Policy"]
        if status in (200, 207):
            names += ["Evenloop-Body-SHA256", "Evenloop-Version"]
    if status == 202:
        names.append("Location")
    if status in (429, 503):
        names.append("Retry-After")
    if status == 401:
        names.append("WWW-Authenticate")
    if cached and status in (200, 304):
        names += ["Cache-Control", "ETag"]
    if pictures and status == 200:
        names.append("Content-Description")
    return {name: {"$ref": f"#/components/headers/{component_of(name)}"} for name in names}


def component_of(header: str) -> str:
    """Component that describes a header: named shortly, since every answer refers to it."""
    return header.removeprefix("Access-Control-").removeprefix("Evenloop-")


def content_of(media: str) -> Said:
    """What is in an answer that is no JSON.

    Parameters
    ----------
    media
        Its media type.

    Returns
    -------
    dict
        OpenAPI's media type object. Bytes have no type in JSON Schema; `binary` is what generators
        of clients read.
    """
    if media == GEOJSON:
        return {"schema": {"type": "object", "description": "A FeatureCollection, RFC 7946."}}
    begins = _BEGINS.get(media)
    if begins is None:
        return {"schema": {"type": "string", "format": "binary", "maxLength": LONGEST_TEXT}}
    return {"schema": {"type": "string", "pattern": begins, "maxLength": LONGEST_TEXT}}


def link_to(operation: str, description: str, **what: object) -> Said:
    """OpenAPI's link object.

    Parameters
    ----------
    operation
        operationId of where it leads.
    description
        What is found there.
    **what
        ``parameters`` or ``requestBody`` as runtime expressions.

    Returns
    -------
    dict
        The link.
    """
    return {"operationId": operation, "description": description, **what}
