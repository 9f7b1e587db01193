"""The contract as chapters that a page can show without script."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from api.contract.document import found, meaning_of
from api.refusals import Json
from api.service.problems import MEDIA_TYPE

_SHOWN_ITEMS = 3


def _name(reference: str) -> str:
    return reference.rsplit("/", 1)[-1]


def _kind(said: dict[str, Any], schemas: dict[str, Any]) -> dict[str, str]:
    """Type of a value in words, and the schema that it leads to, if any."""
    if "$ref" in said:
        name = _name(said["$ref"])
        if schemas[name].get("type") == "object" or "enum" in schemas[name]:
            return {"words": name, "schema": name}
        return _kind(schemas[name], schemas)
    if said.get("type") == "array":
        kind = _kind(said.get("items", {}), schemas)
        return {**kind, "words": "list of " + kind["words"]}
    return {"words": str(said.get("type", "any value")), "schema": ""}


def numbers_words(said: Mapping[str, Any]) -> str:
    """Which numbers a field may hold."""
    low, above, high = said.get("minimum"), said.get("exclusiveMinimum"), said.get("maximum")
    whole = "whole, " if said["type"] == "integer" else ""
    if above is not None:
        words = f"more than {above:,.10g}" + (f", up to {high:,.10g}" if high is not None else "")
    elif low is not None and high is not None:
        words = f"{low:,.10g} to {high:,.10g}"
    elif low is not None:
        words = f"{low:,.10g} or more"
    elif high is not None:
        words = f"up to {high:,.10g}"
    else:
        words = "any finite number"
    return whole + words


def _limits(said: dict[str, Any], schemas: dict[str, Any]) -> str:
    """Range of a value in words; empty where every value of its type may be."""
    said = schemas[_name(said["$ref"])] if "$ref" in said else said
    if {"minimum", "exclusiveMinimum", "maximum"} & set(said):
        return numbers_words(said)
    if "minItems" in said:
        return f"{said['minItems']} or more items"
    if said.get("type") == "string" and "maxLength" in said:
        return f"up to {said['maxLength']:,} characters"
    return ""


def _rows(schema: dict[str, Any], schemas: dict[str, Any]) -> list[dict[str, Any]]:
    required = set(schema.get("required", ()))
    fields = schema.get("properties", {})
    return [
        {
            "name": name,
            "kind": _kind(said, schemas),
            "unit": said.get("x-unit", ""),
            "limits": _limits(said, schemas),
            "required": name in required,
            "description": meaning_of(said, schemas),
        }
        for name, said in sorted(fields.items(), key=lambda f: f[0] not in required)
    ]


def _shortened(value: Json) -> Json:
    """Copy a value with long lists cut, which is said where it is done."""
    if isinstance(value, dict):
        return {key: _shortened(item) for key, item in value.items()}
    if isinstance(value, list):
        kept = [_shortened(item) for item in value[:_SHOWN_ITEMS]]
        more = len(value) - len(kept)
        return [*kept, f"... {more} more"] if more > 0 else kept
    return value


def _example(media: dict[str, Any], *, whole: bool) -> dict[str, str] | None:
    for example in media.get("examples", {}).values():
        value = example["value"]
        text = json.dumps(value if whole else _shortened(value), indent=2, ensure_ascii=False)
        return {"title": example["summary"], "text": text}
    return None


def chapters(document: dict[str, Any]) -> dict[str, Any]:
    """Arrange an OpenAPI document for reading.

    Parameters
    ----------
    document
        The OpenAPI document.

    Returns
    -------
    dict
        ``tags``: operations by subject; ``schemas``: objects with their fields as rows, and lists
        of words.
    """
    tags = []
    parts = document["components"]
    schemas = parts["schemas"]
    for tag in document["tags"]:
        operations = []
        for path, methods in document["paths"].items():
            for method, said in methods.items():
                if tag["name"] not in said["tags"]:
                    continue
                taken = found(said.get("requestBody", {}), parts).get("content", {})
                body = taken.get("application/json")
                answer = found(next(iter(said["responses"].values())), parts)
                kind, media = next(iter(answer["content"].items()))
                operations.append(
                    {
                        "id": said["operationId"],
                        "method": method.upper(),
                        "path": path,
                        "summary": said["summary"],
                        "paragraphs": said["description"].split("\n\n"),
                        "body": _kind(body["schema"], schemas) if body else None,
                        "answer": (
                            _kind(media["schema"], schemas) if "$ref" in media["schema"] else None
                        ),
                        "media": kind,
                        "request_example": _example(body, whole=True) if body else None,
                        "answer_example": _example(media, whole=False),
                        "problems": [
                            {"status": other, "response": _name(each["$ref"])}
                            for other, each in said["responses"].items()
                            if int(other) >= 400
                        ],
                    }
                )
        tags.append({**tag, "operations": operations})
    shown = [
        {
            "name": name,
            "paragraphs": schema.get("description", "").split("\n\n"),
            "rows": _rows(schema, schemas),
            "words": schema.get("enum", []),
        }
        for name, schema in schemas.items()
        if schema.get("type") == "object" or "enum" in schema
    ]
    problems = {
        name: said
        for name, said in parts["responses"].items()
        if MEDIA_TYPE in said.get("content", {})
    }
    return {"tags": tags, "schemas": shown, "problems": problems}
