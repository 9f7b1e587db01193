"""Which operations does the service offer, and what does each take and answer?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from marshmallow import Schema

from api.answers.csv_table import MEDIA_TYPE as CSV_TYPE
from api.contract.responses import link_to
from api.media_types import PICTURES, SVG
from api.media_types import TYPES as REPORT_TYPES
from api.schemas.array_sizing import ArraySizingRequestSchema
from api.schemas.array_sizing_answer import ArraySizingResponseSchema
from api.schemas.balancing import BalancingRequestSchema, BalancingResponseSchema
from api.schemas.commissioning import CommissioningRequestSchema, CommissioningResponseSchema
from api.schemas.design_report import DesignReportRequestSchema, DesignReportResponseSchema
from api.schemas.designs import DesignsRequestSchema, DesignsResponseSchema
from api.schemas.flow_split import FlowSplitRequestSchema, FlowSplitResponseSchema
from api.schemas.flow_splits import FlowSplitsRequestSchema, FlowSplitsResponseSchema
from api.schemas.fluid_properties import FluidPropertiesRequestSchema, FluidPropertiesResponseSchema
from api.schemas.groundworks import GroundworksRequestSchema, GroundworksResponseSchema
from api.schemas.objects import StrictSchema
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
from api.service.metrics import MEDIA_TYPE as METRICS_TYPE

TAGS: Final = {
    "calculations": "Stateless: the answer depends on the request alone.",
    "reference data": "What may be named in a request; changes with the version only.",
    "service": "Finding the way about.",
}


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
