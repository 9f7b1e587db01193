"""The contract as an OpenAPI 3.1 document, made from the schemas that requests are read by."""

from __future__ import annotations

import inspect
import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from marshmallow import Schema

from api.csv_table import MEDIA_TYPE as CSV_TYPE
from api.metrics import MEDIA_TYPE as METRICS_TYPE
from api.openapi_responses import HEADERS, NOT_CHANGED, content_of, headers_of, link_to
from api.plots import PICTURES, PNG, SVG
from api.problems import MEDIA_TYPE, PROBLEM_TYPES
from api.refusals import Json
from api.report import TYPES as REPORT_TYPES
from api.schemas.array import PipeField, PipeSchema
from api.schemas.array_sizing import ArraySizingRequestSchema, ArraySizingResponseSchema
from api.schemas.balancing import BalancingRequestSchema, BalancingResponseSchema
from api.schemas.commissioning import CommissioningRequestSchema, CommissioningResponseSchema
from api.schemas.design_report import DesignReportRequestSchema, DesignReportResponseSchema
from api.schemas.designs import DesignsRequestSchema, DesignsResponseSchema
from api.schemas.fields import (
    Alternatives,
    Checked,
    Declared,
    ListOf,
    Nested,
    StrictSchema,
    Text,
    schema_of,
)
from api.schemas.flow_split import FlowSplitRequestSchema, FlowSplitResponseSchema
from api.schemas.flow_splits import FlowSplitsRequestSchema, FlowSplitsResponseSchema, ProblemField
from api.schemas.fluid_properties import FluidPropertiesRequestSchema, FluidPropertiesResponseSchema
from api.schemas.groundworks import GroundworksRequestSchema, GroundworksResponseSchema
from api.schemas.problem import ProblemSchema
from api.schemas.pump_selection import (
    InventedPumpsSchema,
    PumpSelectionRequestSchema,
    PumpSelectionResponseSchema,
)
from api.schemas.reference_data import (
    AntifreezesSchema,
    ExamplesSchema,
    FittingsSchema,
    HealthSchema,
    IndexSchema,
    PipesSchema,
    ReadinessSchema,
)
from api.schemas.soils import SoilsSchema
from api.version import VERSION

FOLDER: Final = Path(__file__).resolve().parent.parent / "openapi"
FILE: Final = FOLDER / "evenloop.json"
MAIN_PATH: Final = "/v1/flow-split"

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
TAGS: Final = {
    "calculations": "Stateless: the answer depends on the request alone.",
    "reference data": "What may be named in a request; changes with the version only.",
    "service": "Finding the way about.",
}


@dataclass(frozen=True, slots=True)
class Example:
    """A request with its answer.

    Attributes
    ----------
    key
        Short name.
    request
        Body of the request.
    response
        Body of the answer; None before it was computed.
    """

    key: str
    request: dict[str, Any]
    response: dict[str, Any] | None


_CHANGING: Final = frozenset({"/", "/healthz", "/readyz", "/metrics"})
"""Addresses to get whose answers no cache may keep."""


@dataclass(frozen=True, slots=True)
class Operation:
    """One address and method.

    Attributes
    ----------
    method, path
        Method in lower case; path as OpenAPI writes it.
    identifier
        operationId.
    tag, summary, description
        For readers.
    answer
        Schema of the answer, or its media type where it is no object of ours.
    body
        Schema of the request.
    parameters
        Parameters of the path and the query.
    pictures
        Whether the answer may be a picture.
    also
        Other media types that the answer can be asked for in.
    problems
        Statuses of the problems that it may send, besides 406 and 500.
    status
        Status of the answer.
    links
        Where the answer leads.
    """

    method: str
    path: str
    identifier: str
    tag: str
    summary: str
    description: str
    answer: type[Schema] | str
    body: type[StrictSchema] | None = None
    parameters: tuple[dict[str, Any], ...] = ()
    also: tuple[str, ...] = ()
    problems: tuple[int, ...] = ()
    pictures: bool = False
    status: int = 200
    links: tuple[tuple[str, dict[str, Any]], ...] = ()

    @property
    def cached(self) -> bool:
        """Whether the answer changes with the version only, and is sent with a tag."""
        return self.method == "get" and self.path not in _CHANGING


_PICTURE: Final = {
    "name": "picture",
    "in": "query",
    "required": False,
    "description": (
        "Which picture to draw: "
        + "; ".join(f"`{name}`, {what}" for name, what in PICTURES.items())
        + ". Naming one asks for a picture, so that the Accept header must allow "
        "`image/svg+xml` or `image/png`. Without it a picture shows `flows`."
    ),
    "schema": {"type": "string", "enum": list(PICTURES)},
    "example": "schematic",
}

_KEY_SCHEME: Final = {
    "type": "http",
    "scheme": "bearer",
    "description": "A key, where whoever runs the service has set keys; otherwise none is needed.",
}

_SLUG: Final = {
    "name": "slug",
    "in": "path",
    "required": True,
    "description": "Last part of the problem's type.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 80, "pattern": "^[^/]+$"},
    "example": "invalid-input",
}

_EXAMPLE_NAME: Final = {
    "name": "name",
    "in": "path",
    "required": True,
    "description": "Name as in the list of examples.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 80, "pattern": "^[^/]+$"},
    "example": "quince-barn-short-tail",
}

OPERATIONS: Final = (
    Operation(
        "get", "/", "showBench", "service", "The designer's bench, as a page",
        "Edit an array and see its flow split at once.", "text/html",
    ),
    Operation(
        "post", "/v1/flow-split", "solveFlowSplit", "calculations",
        "Flow and drop of every loop, imbalance and pump duty",
        "Does every loop flow alike? What does each loop drop? What must the circulating pump do?\n"
        "\n"
        "The array is a circuit of branches, each a loop or another circuit, nested to any depth. "
        "The flow follows from the heat, is given outright, or is what a pump drives. Friction is "
        "one continuous law for straight and coiled pipe; the split is the one solution of a "
        "convex problem, and the answer says how exactly it was met.\n"
        "\n"
        "`Accept: text/csv` asks for the table of loops alone (RFC 4180, UTF-8, header row).\n"
        "\n"
        "`Accept: image/svg+xml` or `image/png` asks for a picture of the split, legible in grey "
        "and to the colour-blind, its text alternative inside it and in `Content-Description`. "
        "Arrays of up to 1,000 loops are drawn (the setting EVENLOOP_MAX_PICTURE_LOOPS).",
        FlowSplitResponseSchema, FlowSplitRequestSchema, parameters=(_PICTURE,), also=(CSV_TYPE,),
        problems=(413, 415, 422), pictures=True,
    ),
    Operation(
        "post", "/v1/array-sizing", "sizeArray", "calculations",
        "How much trench, mat or borehole carries the load through its life",
        "The heat pump's year, the ground and a kind of array give the length of equal loops that "
        "keep the brine's return above its limit in every month of the design life, by conduction "
        "superposed in time and space; film and flow are found together. A rate from a local "
        "table may be followed instead, and conduction then checks it. `flow_split_request` of the "
        "answer can be posted to `/v1/flow-split` unchanged. Up to 1,000 loops and 100 years.",
        ArraySizingResponseSchema, ArraySizingRequestSchema, problems=(413, 415, 422),
        links=(("flowSplit", link_to(
            "solveFlowSplit", "Flow split of the array.",
            requestBody="$response.body#/flow_split_request",
        )),),
    ),
    Operation(
        "post", "/v1/balancing", "compareBalancing", "calculations",
        "Ways to make every loop reach its flow, side by side",
        "Regulating valves, pipe added to short loops, reverse return, larger headers and another "
        "loop bore: each is applied to the array and the array solved again at the same total "
        "flow. Each way tells the flows reached, what it takes, and the pump's duty and energy "
        "with it. Where the request describes the ground, the answer tells what the imbalance "
        "costs in heat.",
        BalancingResponseSchema, BalancingRequestSchema, problems=(413, 415, 422),
    ),
    Operation(
        "post", "/v1/pump-selection", "selectPump", "calculations",
        "Which pump meets the duty, cold and warm, for how much energy",
        "Candidates by their makers' tables (or the invented ones) are put on the true system "
        "curve of the array, solved flow by flow at the coldest design temperature and, where "
        "given, a warm one. Pumps that give the flow of the duty in every condition are ranked by "
        "the energy of a year; the others follow with the reason. Power and head are corrected "
        "for density and viscosity.",
        PumpSelectionResponseSchema, PumpSelectionRequestSchema, problems=(413, 415, 422),
    ),
    Operation(
        "post", "/v1/groundworks", "countGroundworks", "calculations",
        "Digging, spoil, bedding, land, time and pipe to order",
        "What does the array take of ground? Trenches, header trench, boreholes and mats by "
        "volume, with bulking; lorries and digger's hours; setting out on the plot; coils to "
        "order so that no loop is jointed; rules of the trade and of trench safety as findings.\n"
        "\n"
        "`Accept: image/svg+xml` asks for the setting-out plan, to scale on A4 or A3, with its "
        "text alternative inside it.",
        GroundworksResponseSchema, GroundworksRequestSchema, also=(SVG,),
        problems=(413, 415, 422),
    ),
    Operation(
        "post", "/v1/commissioning", "planCommissioning", "calculations",
        "Filling, purging, pressure test, expansion vessel and flow-meter readings",
        "A request of POST /v1/flow-split with what is to be done on site. Contents by part, "
        "antifreeze and water; duty of the purge pump, all at once and loop by loop; stages of "
        "the pressure test and a verdict on its record; expansion vessel; what every loop's flow "
        "meter should show, and whether it does.",
        CommissioningResponseSchema, CommissioningRequestSchema, problems=(413, 415, 422),
    ),
    Operation(
        "post", "/v1/design-report", "writeDesignReport", "calculations",
        "One document to hand over: as data, as a page or as PDF",
        "A request of POST /v1/flow-split is enough; chapters on sizing, balancing, pumps, "
        "groundworks and commissioning are there where the request names them. Inputs as used, "
        "results, pictures, findings, cautions, numbers to check one loop by hand, method and "
        "sources.\n"
        "\n"
        "`Accept: application/json` (the default), `text/html` for a page that needs nothing "
        "else and no script, `application/pdf` for print. No date is added: equal requests give "
        "equal documents. Arrays of more than 1,000 loops are told in part and without pictures "
        "in HTML and PDF, and the document says so; JSON has all.",
        DesignReportResponseSchema, DesignReportRequestSchema, also=REPORT_TYPES[1:],
        problems=(413, 415, 422),
    ),
    Operation(
        "post", "/v1/flow-splits", "solveFlowSplits", "calculations",
        "Many arrays in one call",
        "Each request is one of POST /v1/flow-split, and each is answered with its own result or "
        "problem, in their order; what is wrong with one does not touch the others. For comparing "
        "variants, and for many small arrays at little more than the engine's own time. The loops "
        "of all arrays together are limited, and each array counts against a rate limit.",
        FlowSplitsResponseSchema, FlowSplitsRequestSchema, problems=(413, 415, 422), status=207,
    ),
    Operation(
        "post", "/v1/designs", "makeDesign", "calculations",
        "The whole job in one call, from the load to handover",
        "Load in, array proposed (or given), flow split solved, and each further step whose "
        "options are named: balancing where some loop is out of tolerance, pumps judged, digging "
        "counted, commissioning planned. Each step answers as its own address does. "
        "Faults of all steps are listed at once.",
        DesignsResponseSchema, DesignsRequestSchema, problems=(413, 415, 422),
    ),
    Operation(
        "post", "/v1/fluid-properties", "giveFluidProperties", "calculations",
        "Properties of a mixture at given strengths and temperatures",
        "One strength and one temperature give one state; several of either give a table. In a "
        "table, temperatures at which a strength is frozen or past its correlation are listed in "
        "`outside_c`; a single such state is a 422 that states the range.",
        FluidPropertiesResponseSchema, FluidPropertiesRequestSchema, problems=(413, 415, 422),
    ),
    Operation(
        "get", "/v1/antifreezes", "listAntifreezes", "reference data", "Antifreezes on offer",
        "Kinds with their ranges, ways of giving the strength, hazards and sources.",
        AntifreezesSchema,
    ),
    Operation(
        "get", "/v1/pipes", "listPipes", "reference data", "Standard pipes",
        "PE pipes by material, SDR and outside diameter. Other pipes are given by their bore.",
        PipesSchema,
    ),
    Operation(
        "get", "/v1/fittings", "listFittings", "reference data", "Kinds of fitting",
        "Fittings with their three constants. Others are given by loss coefficient or Kv.",
        FittingsSchema,
    ),
    Operation(
        "get", "/v1/soils", "listSoils", "reference data", "Classes of soil",
        "Conductivity and heat capacity of each class when dry, as usual and saturated; bulking "
        "when dug; sources.",
        SoilsSchema,
    ),
    Operation(
        "get", "/v1/invented-pumps", "listInventedPumps", "reference data", "Invented pumps",
        "Pumps that no maker sells, for trying out POST /v1/pump-selection. Never choose by them.",
        InventedPumpsSchema,
    ),
    Operation(
        "get", "/v1/examples", "listExamples", "reference data", "Invented arrays to start from",
        "Examples that ship with the service.", ExamplesSchema,
        links=(("firstExample", link_to(
            "giveExample", "The first of them.",
            parameters={"name": "$response.body#/examples/0/name"},
        )),),
    ),
    Operation(
        "get", "/v1/examples/{name}", "giveExample", "reference data", "An invented array",
        "A request that POST /v1/flow-split takes unchanged.", FlowSplitRequestSchema,
        parameters=(_EXAMPLE_NAME,), problems=(404,),
        links=(("flowSplit", link_to(
            "solveFlowSplit", "Flow split of the array.", requestBody="$response.body",
        )),),
    ),
    Operation(
        "get", "/v1", "listLinks", "service", "Index of addresses",
        "Every address with its method.", IndexSchema,
    ),
    Operation(
        "get", "/healthz", "checkHealth", "service", "Whether the service answers",
        "For supervisors and load balancers.", HealthSchema,
    ),
    Operation(
        "get", "/readyz", "checkReadiness", "service", "Whether a calculation would begin now",
        "For load balancers; where `/healthz` answers and this does not, the service is busy.",
        ReadinessSchema, problems=(503,),
    ),
    Operation(
        "get", "/metrics", "giveMetrics", "service", "What the service counted",
        "For Prometheus, in its text format: requests, their time, and of the arrays solved the "
        "time, iterations and loops. With several workers, all of them together. Needs a key where "
        "keys are set.",
        METRICS_TYPE, problems=(401,),
    ),
    Operation(
        "get", "/v1/openapi.json", "getOpenapi", "service", "This contract",
        "The OpenAPI document of the running version.", "application/json",
    ),
    Operation(
        "get", "/v1/reference", "showReference", "service", "The contract as a page",
        "For reading; needs no script and no other server.", "text/html",
    ),
    Operation(
        "get", "/v1/problems", "listProblemTypes", "service", "Kinds of problem, as a page",
        "What each error means and what to do.", "text/html",
    ),
    Operation(
        "get", "/v1/problems/{slug}", "showProblemType", "service", "A kind of problem, as a page",
        "Where the `type` of a problem leads.", "text/html", parameters=(_SLUG,), problems=(404,),
    ),
)  # fmt: skip


# ------------------------------------------------------------------------------------- examples


def _examples_folder(path: str) -> Path:
    """Folder of the examples of an address; those of the main job lie above all others."""
    folder = FOLDER / "examples"
    return folder if path == MAIN_PATH else folder / path.rsplit("/", 1)[-1]


def examples_in_repository(path: str = MAIN_PATH) -> tuple[Example, ...]:
    """Read the examples of an address; none where only the package is installed.

    Parameters
    ----------
    path
        Address that the requests are posted to.

    Returns
    -------
    tuple of Example
        In alphabetical order of their files.
    """
    found = []
    for file in sorted(_examples_folder(path).glob("*.json")):
        answer = file.parent / "responses" / file.name
        found.append(
            Example(
                file.stem.replace("-", "_"),
                json.loads(file.read_text("utf-8")),
                json.loads(answer.read_text("utf-8")) if answer.exists() else None,
            )
        )
    return tuple(found)


def compute_responses(path: str = MAIN_PATH) -> dict[str, dict[str, Any]]:
    """Answer every example of an address through the service itself.

    Parameters
    ----------
    path
        Address that the requests are posted to.

    Returns
    -------
    dict
        Answer by the file name of its request.

    Raises
    ------
    RuntimeError
        The service refused an example.
    """
    from api.app import create_app  # noqa: PLC0415 (the application itself serves this document)
    from api.settings import Settings  # noqa: PLC0415

    client = create_app(Settings()).test_client()
    answers: dict[str, dict[str, Any]] = {}
    for file in sorted(_examples_folder(path).glob("*.json")):
        answer = client.post(path, json=json.loads(file.read_text("utf-8")))
        content = answer.get_json()
        if answer.status_code not in (200, 207):
            raise RuntimeError(f"{file.name} was refused: {json.dumps(content)}")
        answers[file.name] = content
    return answers


def write_openapi() -> Path:
    """Compute the examples' answers and write them and the contract to `openapi/`.

    Returns
    -------
    Path
        The file written.
    """
    for operation in OPERATIONS:
        answers = compute_responses(operation.path) if operation.method == "post" else {}
        if not answers:
            continue
        folder = _examples_folder(operation.path) / "responses"
        folder.mkdir(exist_ok=True)
        for stale in folder.glob("*.json"):
            if stale.name not in answers:
                stale.unlink()
        for name, answer in answers.items():
            (folder / name).write_text(_text(answer), "utf-8")
    FILE.write_text(_text(build_openapi(examples_in_repository())), "utf-8")
    return FILE


def _text(content: Json) -> str:
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


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
