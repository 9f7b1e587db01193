"""The one shape of every error."""

from __future__ import annotations

from typing import Final

from marshmallow import RAISE, Schema, fields

_LONGEST: Final = 25_000
"""As many names as may be nested, each at the length at which it is still told, all escaped."""


class ProblemErrorSchema(Schema):
    """One place at fault."""

    class Meta:
        """No other fields."""

        unknown = RAISE

    pointer = fields.String(
        metadata={
            "format": "json-pointer",
            "maxLength": _LONGEST,
            "description": (
                "JSON Pointer (RFC 6901) to the value in the body; empty for the whole. Where a "
                "name of more than 80 characters leads there, to the object that has the name."
            ),
            "examples": ["/array/branches/1/loop/legs/0/straight/length_m"],
        }
    )
    parameter = fields.String(
        metadata={"maxLength": 80, "description": "Parameter of the address at fault, shortened."}
    )
    detail = fields.String(
        required=True,
        metadata={"maxLength": 10_000, "description": "What is wrong there and what to do."},
    )
    value = fields.Raw(
        metadata={
            "description": "The value given, shortened; a list or object is described in words."
        }
    )
    allowed = fields.String(
        metadata={"maxLength": 10_000, "description": "What would be accepted."}
    )


class ProblemSchema(Schema):
    """Problem details as in RFC 9457, with every fault in `errors`."""

    class Meta:
        """No other fields."""

        unknown = RAISE

    type = fields.String(
        required=True,
        metadata={
            "format": "uri-reference",
            "maxLength": 200,
            "description": "Stable address of the kind of problem; it leads to a page.",
            "examples": ["/v1/problems/invalid-input"],
        },
    )
    title = fields.String(
        required=True, metadata={"maxLength": 200, "description": "The kind of problem in words."}
    )
    status = fields.Integer(
        required=True,
        metadata={"format": "int32", "minimum": 400, "maximum": 599, "description": "HTTP status."},
    )
    detail = fields.String(
        required=True, metadata={"maxLength": 10_000, "description": "What is wrong this time."}
    )
    instance = fields.String(
        metadata={
            "format": "uri-reference",
            "maxLength": 200,
            "description": "Identifies this occurrence in the service's log.",
        }
    )
    errors = fields.List(
        fields.Nested(ProblemErrorSchema),
        metadata={"description": "Every place at fault, up to 100.", "maxItems": 100},
    )
