"""The contract as an OpenAPI 3.1 document, made from the schemas that requests are read by."""

from __future__ import annotations

import inspect
import json
from collections.abc import Iterable
from typing import Any, Final

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from marshmallow import Schema

from api.contract.examples import Example, examples_in_repository
from api.contract.operations import OPERATIONS, TAGS, Operation
from api.contract.responses import HEADERS, NOT_CHANGED, content_of, headers_of
from api.media_types import PNG, SVG
from api.schemas.array import PipeField, PipeSchema
from api.schemas.fields import Checked, Declared, Text
from api.schemas.flow_split import FlowSplitRequestSchema
from api.schemas.flow_splits import ProblemField
from api.schemas.objects import Alternatives, ListOf, Nested, StrictSchema, schema_of
from api.schemas.problem import ProblemSchema
from api.service.problem_types import PROBLEM_TYPES
from api.service.problems import MEDIA_TYPE
from api.version import VERSION

TITLE: Final = "Evenloop"
DESCRIPTION: Final = (
    "Hydraulics of ground arrays for ground source heat pumps: layout and antifreeze in; drop and "
    "flow of every loop, imbalance and the circulating pump's duty out.\n\n"
    "Every quantity has one unit, which its name ends in. Fields that are not known are refused, "
    "never ignored. What a request does not name is not there: no hidden fittings, ports or "
    "margins. Every error is `application/problem+json` (RFC 9457) and lists all faults at once, "
    "each with a JSON Pointer (RFC 6901).\n\n"
    "Results are for design. Excavation, pressure testing, antifreeze and work near groundwater "
    "follow local codes and licensed practice."
)

_KEY_SCHEME: Final = {
    "type": "http",
    "scheme": "bearer",
    "description": "A key, where whoever runs the service has set keys; otherwise none is needed.",
}


# ------------------------------------------------------------------------------------- the document


def _name_of(schema: Declared) -> str:
    kind = schema if isinstance(schema, type) else type(schema)
    return str(kind.__name__).removesuffix("Schema")


def _describe(plugin: MarshmallowPlugin) -> None:
    """Teach the plugin our fields."""
    converter = plugin.converter
    assert converter is not None
    resolve: Any = converter.resolve_nested_schema  # the plugin ships these without types
    add: Any = converter.add_attribute_function

    def reference(schema: type[StrictSchema]) -> dict[str, Any]:
        found: dict[str, Any] = resolve(schema_of(schema))
        return found

    def ours(self: Declared, field: Declared, **_: Declared) -> dict[str, Any]:
        if not isinstance(field, Checked):
            return {}
        said = field.described()
        if isinstance(field, Nested):
            said |= reference(field.schema())
        elif isinstance(field, ProblemField):
            said |= resolve(field.schema)
        elif isinstance(field, ListOf):
            said["items"] = converter.field2property(field.item)
        elif isinstance(field, Alternatives):
            said["oneOf"] = [reference(kind) for kind in field.choices.values()]
        elif isinstance(field, PipeField):
            said["oneOf"] = [
                Text().described() | {"examples": ["PE100 SDR11 32"]},
                reference(PipeSchema),
            ]
        return said

    add(ours)


def _problem_responses(statuses: Iterable[int], *, counted: bool) -> dict[str, Any]:
    reference = {"$ref": "#/components/schemas/Problem"}
    found = {}
    for status in sorted(statuses):
        kinds = [kind for kind in PROBLEM_TYPES.values() if kind.status == status]
        words = " ".join(f"`{kind.slug}`: {kind.meaning}" for kind in kinds)
        found[str(status)] = {
            "description": words,
            "headers": headers_of(status, counted=counted, cached=False),
            "content": {MEDIA_TYPE: {"schema": reference}},
        }
    return found


def _content(operation: Operation) -> dict[str, Any]:
    if operation.answer == "application/json":
        return {operation.answer: {"schema": {"type": "object", "additionalProperties": True}}}
    if isinstance(operation.answer, str):
        return {operation.answer: content_of(operation.answer)}
    others = (*operation.also, *((SVG, PNG) if operation.pictures else ()))
    return {
        "application/json": {"schema": operation.answer},
        **{media: content_of(media) for media in others},
    }


def _operation(operation: Operation, examples: tuple[Example, ...]) -> dict[str, Any]:
    counted, cached = operation.method == "post", operation.cached
    ok: dict[str, Any] = {
        "description": operation.summary + ".",
        "headers": headers_of(
            operation.status, counted=counted, cached=cached, pictures=operation.pictures
        ),
        "content": _content(operation),
    }
    made: dict[str, Any] = {
        "operationId": operation.identifier,
        "tags": [operation.tag],
        "summary": operation.summary,
        "description": operation.description,
        "security": [],
    }
    if operation.links:
        ok["links"] = dict(operation.links)
    if operation.parameters:
        made["parameters"] = [dict(each) for each in operation.parameters]
    if operation.body is not None:
        media: dict[str, Any] = {"schema": operation.body}
        made["requestBody"] = {"required": True, "content": {"application/json": media}}
        shown = examples
        if operation.body is not FlowSplitRequestSchema and examples:
            shown = examples_in_repository(operation.path)
        if shown:
            media["examples"] = {
                each.key: {"summary": each.request.get("name", each.key), "value": each.request}
                for each in shown
            }
            ok["content"]["application/json"]["examples"] = {
                each.key: {"summary": each.request.get("name", each.key), "value": each.response}
                for each in shown
                if each.response is not None
            }
    statuses = {400, 406, 500, *operation.problems}
    if counted:
        statuses |= {401, 429, 503}
    if 401 in statuses:
        made["security"] = [{}, {"key": []}]
    made["responses"] = {str(operation.status): ok}
    if cached:
        headers = headers_of(304, counted=counted, cached=cached)
        made["responses"]["304"] = {"description": NOT_CHANGED, "headers": headers}
    made["responses"] |= _problem_responses(statuses, counted=counted)
    return made


def build_openapi(examples: tuple[Example, ...] = ()) -> dict[str, Any]:
    """Make the contract.

    Parameters
    ----------
    examples
        Requests and answers of POST /v1/flow-split to show.

    Returns
    -------
    dict
        OpenAPI 3.1 document.
    """
    plugin = MarshmallowPlugin(schema_name_resolver=_name_of)
    spec = APISpec(
        title=TITLE,
        version=VERSION,
        openapi_version="3.1.0",
        plugins=[plugin],
        info={
            "summary": "Flow, pressure and pump duty of ground arrays",
            "description": DESCRIPTION,
            "contact": {"name": "Whoever runs the service"},
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        servers=[
            {
                "url": "/",
                "description": "The server that this document came from: local or production.",
                "x-internal": False,
            }
        ],
        tags=[{"name": name, "description": words} for name, words in TAGS.items()],
    )
    _describe(plugin)
    spec.components.schema("Problem", schema=ProblemSchema)
    spec.components.security_scheme("key", _KEY_SCHEME)
    for name, header in HEADERS.items():
        spec.components.header(name, header)
    for operation in OPERATIONS:
        spec.path(operation.path, operations={operation.method: _operation(operation, examples)})
    document: dict[str, Any] = json.loads(json.dumps(spec.to_dict()))
    for name, schema in document["components"]["schemas"].items():
        schema.setdefault("additionalProperties", False)
        schema.setdefault("description", _DOCS.get(name, ""))
    return document


def _docs() -> dict[str, str]:
    """Description of every schema: its docstring."""
    found: dict[str, str] = {}
    todo: list[type[Schema]] = [Schema]
    while todo:
        kind = todo.pop()
        todo += kind.__subclasses__()
        if kind.__module__.startswith("api."):
            found[_name_of(kind)] = inspect.getdoc(kind) or ""
    return found


_DOCS: Final = _docs()
