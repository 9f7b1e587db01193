"""The contract as an OpenAPI 3.1 document, made from the schemas that jobs are read by."""

from __future__ import annotations

import inspect
import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from marshmallow import Schema

from api.contract.examples import Example
from api.contract.operations import OPERATIONS, TAGS, Operation
from api.contract.responses import (
    FILES,
    HEADERS,
    NOT_CHANGED,
    component_of,
    content_of,
    headers_of,
)
from api.media_types import JSON, PICTURES, PNG, SVG
from api.schemas.fields import Checked, Choice, Declared, Text
from api.schemas.objects import ListOf, Nested, StrictSchema, schema_of
from api.schemas.problem import ProblemSchema
from api.schemas.splits import ProblemField
from api.service.problem_types import PROBLEM_TYPES
from api.service.problems import MEDIA_TYPE
from api.version import VERSION

TITLE: Final = "Evenloop"
DESCRIPTION: Final = (
    "Hydraulics of ground arrays for ground source heat pumps: layout and antifreeze in; drop and "
    "flow of every loop, imbalance and the circulating pump's duty out.\n\n"
    "A job is one document with named parts. Every calculation takes a job, checks the form of all "
    "of it, reads the parts that it needs, and answers with its chapter. What a step decides it "
    "gives back under `decides`, as parts of a job: put into the job, they take it to the next "
    "step.\n\n"
    "Every quantity has one unit, which its name ends in. Fields of a job that are not known are "
    "refused, never ignored; answers may gain fields, and their lists of words may grow. What a "
    "job does not name is not there: no hidden fittings, ports or margins. Every error is "
    "`application/problem+json` (RFC 9457) and lists all faults of the form, or of the step that "
    "found them, at once, each with a JSON Pointer (RFC 6901).\n\n"
    "Results are for design. Excavation, pressure testing, antifreeze and work near groundwater "
    "follow local codes and licensed practice."
)

_KEY_SCHEME: Final = {
    "type": "http",
    "scheme": "bearer",
    "description": "A key, where whoever runs the service has set keys; otherwise none is needed.",
}
_MADE_UP: Final = ("/v1/designs", "/v1/report", "/v1/splits")
"""Addresses whose answer is made up of others' that are shown with them already."""
_GROWS: Final = " The list may grow."
_REFERENCE: Final = "#/components/schemas/"
Said = dict[str, Any]


# ------------------------------------------------------------------------------------- the document


def build_openapi(examples: Iterable[Example] = ()) -> Said:
    """Make the contract.

    Parameters
    ----------
    examples
        Jobs to show, with their kept answers, where an operation names them.

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
    named: dict[str, Said] = {"Picture": _words(tuple(PICTURES), "Which picture of a split.")}
    _describe(plugin, named)
    spec.components.schema("Problem", schema=ProblemSchema)
    spec.components.security_scheme("key", _KEY_SCHEME)
    for name, header in HEADERS.items():
        spec.components.header(component_of(name), header)
    for operation in OPERATIONS:
        for status in _problems_of(operation):
            name = _problem_name(status, operation)
            if name not in spec.components.responses:
                spec.components.response(name, _problem(status, operation))
    shown = {each.name: each for each in examples}
    for operation in OPERATIONS:
        made = _operation(operation, shown.get(operation.example))
        spec.path(operation.path, operations={operation.method: made})
    document: Said = json.loads(json.dumps(spec.to_dict()))
    schemas = document["components"]["schemas"]
    assert not schemas.keys() & named.keys(), "an object and a list of words have one name"
    schemas |= named
    _share(document)
    _finish(document)
    document["components"]["schemas"] = dict(sorted(schemas.items()))
    return document


def _name_of(schema: Declared) -> str:
    kind = schema if isinstance(schema, type) else type(schema)
    return str(kind.__name__).removesuffix("Schema")


def _words(words: tuple[str, ...], description: str) -> Said:
    return {"type": "string", "enum": list(words), "description": description}


def _describe(plugin: MarshmallowPlugin, named: dict[str, Said]) -> None:
    """Teach the plugin our fields; words and lines of text go to schemas of their own."""
    converter = plugin.converter
    assert converter is not None
    resolve: Any = converter.resolve_nested_schema  # the plugin ships these without types
    add: Any = converter.add_attribute_function

    def ours(self: Declared, field: Declared, **_: Declared) -> Said:
        if not isinstance(field, Checked):
            return {}
        if isinstance(field, Choice) and field.component:
            words = _words(field.words, field.metadata.get("description", "One of these words."))
            kept = named.setdefault(field.component, words)
            assert kept["enum"] == words["enum"], f"two lists are called {field.component}"
            return {"$ref": _REFERENCE + field.component}
        if isinstance(field, Text):
            told = f"Text on one line, at most {field.longest:,} characters."
            named[f"Line{field.longest}"] = field.described() | {"description": told}
            return {"$ref": f"{_REFERENCE}Line{field.longest}"}
        said = field.described()
        if isinstance(field, Nested):
            said |= resolve(field.reader)
        elif isinstance(field, ProblemField):
            said |= resolve(field.schema)
        elif isinstance(field, ListOf):
            said["items"] = converter.field2property(field.item)
        return said

    add(ours)


# ------------------------------------------------------------------------------------- operations


def _problems_of(operation: Operation) -> list[int]:
    statuses = {400, 406, 500, *operation.problems}
    if operation.with_key:
        statuses |= {401}
    if operation.method == "post":
        statuses |= {429, 503}
    return sorted(statuses)


def _problem_name(status: int, operation: Operation) -> str:
    return f"{'Refused' if operation.method == 'post' else 'Problem'}{status}"


def _problem(status: int, operation: Operation) -> Said:
    kinds = [kind for kind in PROBLEM_TYPES.values() if kind.status == status]
    return {
        "description": " ".join(f"`{kind.slug}`: {kind.meaning}" for kind in kinds),
        "headers": headers_of(status, counted=operation.method == "post", cached=False),
        "content": {MEDIA_TYPE: {"schema": {"$ref": f"{_REFERENCE}Problem"}}},
    }


def _operation(operation: Operation, example: Example | None) -> Said:
    counted, cached = operation.method == "post", operation.cached
    file = FILES.get(operation.media)
    ok: Said = {
        "description": operation.summary + "." if file is None else file.description,
        "headers": headers_of(
            operation.status,
            counted=counted,
            cached=cached,
            pictures=counted and operation.media in (SVG, PNG),
        ),
        "content": {operation.media: _content(operation)},
    }
    made: Said = {
        "operationId": operation.identifier,
        "tags": [operation.tag],
        "summary": operation.summary,
        "description": operation.description,
        "security": [],
    }
    if operation.needs:
        made["x-needs"] = list(operation.needs)
    if operation.links:
        ok["links"] = dict(operation.links)
    if operation.parameters:
        made["parameters"] = [dict(each) for each in operation.parameters]
    if operation.body is not None:
        media: Said = {"schema": operation.body}
        made["requestBody"] = {"required": True, "content": {JSON: media}}
        if example is not None:
            media["examples"] = {example.name: {"summary": example.title, "value": example.job}}
            answer = example.answer(operation.path.rsplit("/", 1)[-1])
            if answer is not None and operation.media == JSON and operation.path not in _MADE_UP:
                shown = {"summary": example.title, "value": answer}
                ok["content"][JSON]["examples"] = {example.name: shown}
    if operation.takes:
        made["requestBody"] = {
            "required": True,
            "content": {operation.takes: content_of(operation.takes)},
        }
    problems = _problems_of(operation)
    if 401 in problems:
        made["security"] = [{}, {"key": []}]
    made["responses"] = {str(operation.status): ok}
    if cached:
        headers = headers_of(304, counted=counted, cached=cached)
        made["responses"]["304"] = {"description": NOT_CHANGED, "headers": headers}
    made["responses"] |= {str(each): _problem_name(each, operation) for each in problems}
    return made


def _content(operation: Operation) -> Said:
    if not isinstance(operation.answer, str):
        return {"schema": operation.answer}
    if operation.answer == JSON:
        return {"schema": {"type": "object", "additionalProperties": True}}
    return content_of(operation.answer)


def _share(document: Said) -> None:
    """Have what operations say alike stand once, among the components."""
    parts: Said = document["components"]

    def shared(kind: str, name: str, said: Said) -> Said:
        alike = parts.setdefault(kind, {}).setdefault(name, said) == said
        return {"$ref": f"#/components/{kind}/{name}"} if alike else said

    for operation in (each for methods in document["paths"].values() for each in methods.values()):
        if "parameters" in operation:
            operation["parameters"] = [
                shared("parameters", each["name"], each) for each in operation["parameters"]
            ]
        for media in operation.get("requestBody", {}).get("content", {}).values():
            for name in media.get("examples", {}):
                operation["requestBody"] = shared("requestBodies", name, operation["requestBody"])
        answers = operation["responses"]
        for status, said in answers.items():
            if status == "304":
                answers[status] = shared("responses", "NotChanged304", said)
            elif status < "300" and (file := FILES.get(next(iter(said["content"])))) is not None:
                answers[status] = shared("responses", file.name, said)


# ---------------------------------------------------------------------------- what all schemas get


def _finish(document: Said) -> None:
    """Say what the plugin cannot: which objects are closed, what goes together, what is usual."""
    schemas: dict[str, Said] = document["components"]["schemas"]
    answered = reached(_answers_of(document), schemas)
    kinds = _kinds()
    for name, schema in schemas.items():
        kind = kinds.get(name)
        if kind is not None:
            schema.setdefault("description", inspect.getdoc(kind) or "")
        if name in answered and "enum" in schema:
            schema["description"] += _GROWS
        if schema.get("type") != "object":
            continue
        schema.pop("additionalProperties", None)
        if name not in answered:
            schema["additionalProperties"] = False
        if kind is not None and issubclass(kind, StrictSchema) and kind.one_of:
            schema["description"] += f" Holds {schema_of(kind).exactly_one}."
            schema["x-exactly-one-of"] = list(kind.one_of)
        for field in schema["properties"].values():
            _usual(field)
            _said_once(field, schemas)


def found(said: Said, parts: Mapping[str, Any]) -> Said:
    """What a part of the document says, wherever among the components it stands."""
    while "$ref" in said:
        _, _, kind, name = said["$ref"].split("/")
        said = parts[kind][name]
    return said


def meaning_of(field: Mapping[str, Any], schemas: Mapping[str, Any]) -> str:
    """What a field means, in its own words or in those of the list of words that it takes."""
    words = schemas.get(field.get("$ref", "").removeprefix(_REFERENCE), {})
    listed = words["description"].removesuffix(_GROWS) if "enum" in words else ""
    return str(field.get("description", listed))


def _said_once(field: Said, schemas: dict[str, Said]) -> None:
    """A list of words says what it is; a field that says the same need not."""
    without = {key: value for key, value in field.items() if key != "description"}
    if field.get("description") == meaning_of(without, schemas):
        del field["description"]


def _usual(field: Said) -> None:
    """Tell a default in words: where `default` says it, generators make the field required."""
    if "default" not in field:
        return
    usual = field.pop("default")
    field["x-default"] = usual
    if isinstance(usual, str):
        words = usual
    else:
        words = json.dumps(usual) if isinstance(usual, bool) else f"{usual:g}"
    if words not in field["description"]:
        field["description"] = f"{field['description'].removesuffix('.')}; left out, {words}."


def _answers_of(document: Said) -> Iterator[str]:
    """Schemas that answers are made of."""
    for methods in document["paths"].values():
        for operation in methods.values():
            yield from references(operation["responses"])
    yield from references(document["components"]["responses"])


def references(said: object) -> Iterator[str]:
    """Names of the schemas that a part of the document refers to."""
    if isinstance(said, Mapping):
        reference = said.get("$ref")
        if isinstance(reference, str) and reference.startswith(_REFERENCE):
            yield reference.removeprefix(_REFERENCE)
        for each in said.values():
            yield from references(each)
    elif isinstance(said, list):
        for each in said:
            yield from references(each)


def reached(start: Iterable[str], schemas: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """Schemas that some lead to, those first, each once."""
    found: dict[str, None] = {}
    todo = list(start)
    while todo:
        name = todo.pop(0)
        if name not in found:
            found[name] = None
            todo += references(schemas[name])
    return list(found)


def _kinds() -> dict[str, type[Schema]]:
    """Every schema of ours by its name in the contract."""
    found: dict[str, type[Schema]] = {}
    todo: list[type[Schema]] = [Schema]
    while todo:
        kind = todo.pop()
        todo += kind.__subclasses__()
        if kind.__module__.startswith("api."):
            found[_name_of(kind)] = kind
    return found
