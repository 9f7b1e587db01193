"""Which operations does the service offer, and what does each take and answer?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from marshmallow import Schema

from api.contract.responses import link_to
from api.media_types import (
    BYTES,
    CSV,
    DXF,
    GEOJSON,
    HTML,
    JSON,
    PARQUET,
    PDF,
    PICTURES,
    PNG,
    SVG,
)
from api.requests.job import NEEDS
from api.schemas.balancing_answer import BalancingAnswerSchema
from api.schemas.commissioning_answer import CommissioningAnswerSchema
from api.schemas.designs_answer import DesignAnswerSchema
from api.schemas.fluid_properties import (
    FluidPropertiesRequestSchema,
    FluidPropertiesResponseSchema,
)
from api.schemas.groundworks_answer import GroundworksAnswerSchema
from api.schemas.job import JobSchema
from api.schemas.objects import StrictSchema
from api.schemas.plot_file import PlotFileAnswerSchema
from api.schemas.pump_choice_answer import InventedPumpsSchema, PumpChoiceAnswerSchema
from api.schemas.reference_data import (
    AntifreezesSchema,
    ExamplesSchema,
    FittingsSchema,
    HealthSchema,
    IndexSchema,
    PipesSchema,
    ReadinessSchema,
)
from api.schemas.report_answer import ReportAnswerSchema
from api.schemas.setting_out_answer import SettingOutAnswerSchema
from api.schemas.sizing_answer import SizingAnswerSchema
from api.schemas.soils import SoilsSchema
from api.schemas.split_answer import SplitAnswerSchema
from api.schemas.splits import SplitsAnswerSchema, SplitsSchema
from api.schemas.studies import (
    MOST_PAGE,
    BestAnswerSchema,
    BestSchema,
    DependenceSchema,
    DependencesSchema,
    StudiesSchema,
    StudyResultsSchema,
    StudySchema,
    StudyStateSchema,
)
from api.service.metrics import MEDIA_TYPE as METRICS

TAGS: Final = {
    "calculations": "Stateless: the answer depends on the job alone.",
    "files": "The same calculations as a table, a picture or a document.",
    "reference data": "What may be named in a job; changes with the version only.",
    "service": "Finding the way about.",
    "studies": "Many cases of one job, computed beside the service; kept until they are deleted.",
}

_CHANGING: Final = frozenset({"/", "/studies", "/healthz", "/readyz", "/metrics"})
"""Addresses to get whose answers no cache may keep."""


@dataclass(frozen=True, slots=True)
class Operation:
    """One address and method, which sends one media type.

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
        Parameters of the path and after the question mark.
    problems
        Statuses of the problems that it may send, besides 406 and 500.
    status
        Status of the answer.
    links
        Where the answer leads.
    takes
        Media type of the request, where its body is no JSON of ours.
    needs
        Parts of a job without which it is refused.
    example
        Name of the job that is shown with its answer.
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
    problems: tuple[int, ...] = ()
    status: int = 200
    links: tuple[tuple[str, dict[str, Any]], ...] = ()
    takes: str = ""
    needs: tuple[str, ...] = ()
    example: str = ""

    @property
    def cached(self) -> bool:
        """Whether the answer changes with the version only, and is sent with a tag."""
        return self.method == "get" and self.path not in _CHANGING and not self.of_studies

    @property
    def of_studies(self) -> bool:
        """Whether it is of studies, which have an owner and change while they run."""
        return self.path.startswith("/v1/studies")

    @property
    def with_key(self) -> bool:
        """Whether it needs a key where keys are set."""
        return self.method == "post" or self.of_studies or self.path == "/metrics"

    @property
    def query(self) -> dict[str, dict[str, Any]]:
        """Schema of each parameter after the question mark."""
        return {each["name"]: each["schema"] for each in self.parameters if each["in"] == "query"}

    @property
    def media(self) -> str:
        """Media type of the answer."""
        return self.answer if isinstance(self.answer, str) else JSON


_NAME: Final = {"type": "string", "minLength": 1, "maxLength": 80, "pattern": "^[^/]+$"}


def _in_path(
    name: str, description: str, example: str, schema: dict[str, Any] = _NAME
) -> dict[str, Any]:
    return {
        "name": name, "in": "path", "required": True, "description": description,
        "schema": schema, "example": example,
    }  # fmt: skip


_PICTURE: Final = _in_path(
    "picture",
    "; ".join(f"`{name}`: {what}" for name, what in PICTURES.items()) + ".",
    "schematic",
    {"$ref": "#/components/schemas/Picture"},
)
_FORMS_OF_CSV: Final = (
    {
        "name": "decimal",
        "in": "query",
        "description": "`comma` for spreadsheets that write 1,5; cells are then parted by `;`. "
        "Left out, `point`.",
        "schema": {"type": "string", "enum": ["point", "comma"]},
    },
    {
        "name": "byte_order_mark",
        "in": "query",
        "description": "`true` for spreadsheets that know UTF-8 by its mark. Left out, none.",
        "schema": {"type": "boolean"},
    },
)
_COLOUR: Final = (
    {
        "name": "colour",
        "in": "query",
        "description": "`flow` to colour trenches, boreholes and mats by the flow of their loops "
        "in the whole design; the job then tells what POST /v1/designs needs. Left out, `plain`.",
        "schema": {"type": "string", "enum": ["plain", "flow"]},
    },
)
_SLUG: Final = _in_path("slug", "Last part of the problem's type.", "invalid-input")
_EXAMPLE: Final = _in_path("name", "Name as in the list of examples.", "quince-barn-short-tail")

_REFUSED: Final = (413, 415, 422)
_STUDY: Final = _in_path(
    "study", "As POST /v1/studies answers it.", "0123456789abcdef0123456789abcdef",
    {"type": "string", "pattern": "^[0-9a-f]{32}$", "maxLength": 32},
)  # fmt: skip
_MOST: Final = {
    "name": "most", "in": "query", "description": "Most items of the page; left out, 100.",
    "schema": {"type": "integer", "format": "int32", "minimum": 1, "maximum": MOST_PAGE},
}  # fmt: skip
_AFTER: Final = {
    "name": "after", "in": "query", "description": "`next` of the page before.",
    "schema": {"type": "integer", "format": "int64", "minimum": 0, "maximum": 2**62},
}  # fmt: skip
_ONCE: Final = {
    "name": "Idempotency-Key", "in": "header",
    "description": "A word of the caller's own: sent again with the same body, it brings the study "
    "made before and no second one.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 200, "pattern": "^[!-~]+$"},
}  # fmt: skip


_QUESTION: Final[dict[str, Any]] = {"method": "post", "problems": (404, *_REFUSED)}
"""What a question about a study's rows has in common with the others."""


def _of_study(
    end: str, identifier: str, summary: str, description: str, answer: type[Schema] | str,
    **more: Any,  # noqa: ANN401 (fields of Operation)
) -> Operation:  # fmt: skip
    fields: dict[str, Any] = {"parameters": (_STUDY,), "problems": (401, 404, 503)} | more
    method = fields.pop("method", "get")
    path = f"/v1/studies/{{study}}{end}"
    return Operation(method, path, identifier, "studies", summary, description, answer, **fields)


def _calculation(
    path: str,
    identifier: str,
    summary: str,
    description: str,
    answer: type[Schema] | str,
    **more: Any,  # noqa: ANN401 (fields of Operation)
) -> Operation:
    tag = "files" if isinstance(answer, str) else "calculations"
    chapter = path.split("/")[2].split(".", maxsplit=1)[0].replace("-", "_")
    fields: dict[str, Any] = {
        "parameters": _FORMS_OF_CSV if answer == CSV else (),
        "body": JobSchema,
        "problems": _REFUSED,
        "needs": NEEDS.get(chapter, ()),
        "example": "sorrel-lodge-32-mm",
    } | more
    return Operation("post", path, identifier, tag, summary, description, answer, **fields)


OPERATIONS: Final = (
    Operation(
        "get", "/", "bench", "service", "The designer's bench, as a page",
        "Draw up a job and see its flow split at once.", HTML,
    ),
    Operation(
        "get", "/studies", "studies_page", "service", "The bench's page for studies",
        "Begin a study, watch it, and open a case of it on the bench.", HTML,
    ),
    _calculation(
        "/v1/split", "split", "Flow and drop of every loop, imbalance and pump duty",
        "Does every loop flow alike? What does each loop drop? What must the circulating pump do?\n"
        "\n"
        "The array is a circuit of branches, each a loop or another circuit with branches of its "
        "own. The flow follows from the heat, is given, or is what a pump drives. Friction is "
        "one continuous law for straight and coiled pipe; the split is the one solution of a "
        "convex problem, and the answer says how exactly it was met. Where the job names the pump "
        "that runs, `running` tells what it drives, cold and warm.",
        SplitAnswerSchema,
    ),
    _calculation(
        "/v1/sizing", "sizing",
        "How much trench, mat or borehole carries the load through its life",
        "The heat pump's year, the ground and a kind of array give the length of equal loops that "
        "keep the brine from the ground above its limit in every month of the design life, by "
        "conduction superposed in time and space; film and flow are found together. A rate from a "
        "local table may be followed instead, and conduction then checks it. Up to 1,000 loops and "
        "100 years.\n"
        "\n"
        "`decides` holds the array and its duty: put into the job, they take it to every other "
        "calculation.",
        SizingAnswerSchema, example="mallard-pool-from-load",
    ),
    _calculation(
        "/v1/setting-out", "setting_out",
        "Where everything lies on the plot, and the tails and runs that follow",
        "Trenches, boreholes or mats of the array, or of a kind, are placed on the plot around "
        "what stands there: by hand, so many, so long, or as many as fit. Chambers are put, tails "
        "and runs led through shared header trenches, and each stretch knows its pipes. Up to 500 "
        "loops and 500 corners.\n"
        "\n"
        "`decides` holds the array with those tails and runs, and the plot with every place.",
        SettingOutAnswerSchema, example="elder-yard-two-boreholes",
    ),
    _calculation(
        "/v1/balancing", "balancing", "Ways to make every loop reach its flow, side by side",
        "Regulating valves, pipe added to short loops, reverse return, larger headers and another "
        "loop bore: each is applied to the array and the array solved again at the same total "
        "flow. Each way tells the flows reached, what it takes, and the pump's duty and energy "
        "with it. Where the job describes the ground at the loops, the answer tells what the "
        "imbalance costs in heat.\n"
        "\n"
        "A way that was solved has `decides`: the array with that way put in.",
        BalancingAnswerSchema, example="sorrel-lodge-40-mm",
    ),
    _calculation(
        "/v1/pump-choice", "pump_choice",
        "Which pump meets the duty, cold and warm, for how much energy",
        "Candidates by their makers' tables (or the invented ones) are put on the true system "
        "curve of the array, solved flow by flow at the coldest design temperature and, where "
        "given, a warm one. Pumps that give the flow of the duty in every condition are ranked by "
        "the energy of a year; the others follow with the reason. Power and head are corrected "
        "for density and viscosity.\n"
        "\n"
        "Each pump has `decides`: the pump that runs, with its setting.",
        PumpChoiceAnswerSchema, example="sorrel-lodge-40-mm",
    ),
    _calculation(
        "/v1/groundworks", "groundworks", "Digging, spoil, bedding, land, time and pipe to order",
        "What does the array take of ground? Trenches, header trench, boreholes and mats by "
        "volume, with bulking; lorries and digger's hours; setting out on the plot; coils to "
        "order so that no loop is jointed; rules of the trade and of trench safety as findings.",
        GroundworksAnswerSchema, example="slate-row-boreholes",
    ),
    _calculation(
        "/v1/commissioning", "commissioning",
        "Filling, purging, pressure test, expansion vessel and flow-meter readings",
        "Contents by part, antifreeze and water; purge step by step, and what one pump must do "
        "for all steps; stages of the pressure test and a verdict on its record; expansion "
        "vessel; what every loop's flow meter should show, and whether it does. Where the job "
        "names the pump that runs, meters are judged by what it drives.",
        CommissioningAnswerSchema, example="sorrel-lodge-40-mm",
    ),
    _calculation(
        "/v1/designs", "design", "The whole job in one call, from the load to handover",
        "Load in, array proposed (or given), flow split solved, and each further chapter whose "
        "options are named: balancing where some loop is out of tolerance, pumps judged, digging "
        "counted, commissioning planned. Chapters after balancing are of the array as decided. "
        "Each chapter answers as its own address does for the job as decided.",
        DesignAnswerSchema,
    ),
    _calculation(
        "/v1/report", "report", "What is handed over, as data",
        "The job as used, results, findings, cautions, numbers to check one loop by hand, method "
        "and sources. Chapters on sizing, balancing, pumps, groundworks and commissioning are "
        "there where the job names them.",
        ReportAnswerSchema,
    ),
    _calculation(
        "/v1/splits", "splits", "Many jobs in one call",
        "Each job is answered as POST /v1/split does, with its own result or problem, in their "
        "order; what is wrong with one does not touch the others. For comparing variants, and for "
        "many small arrays at little more than the engine's own time. The loops of all arrays "
        "together are limited, and each job counts against a rate limit.",
        SplitsAnswerSchema, body=SplitsSchema, status=207,
        example="sorrel-lodge-two-variants",
    ),
    Operation(
        "post", "/v1/studies", "begin_study", "studies", "A study: one job, many cases",
        "A job and what is varied in it by JSON Pointer: lists, ranges, pairs and random samples, "
        "several of which make a grid. Each case is answered as the calculation's own address "
        "would, and the results pointed to are kept; what is wrong with one case is its row's "
        "problem. Cases are counted first, and more than EVENLOOP_MAX_STUDY_CASES refused. What is "
        "accepted is kept, and computed whatever is stopped meanwhile.",
        StudyStateSchema, StudySchema, parameters=(_ONCE,), problems=(*_REFUSED,), status=202,
        links=(("state", link_to(
            "study", "How far it is.", parameters={"study": "$response.body#/study"},
        )),),
    ),
    Operation(
        "get", "/v1/studies", "studies", "studies", "Studies, the newest first",
        "Those of the caller's key, or all where no keys are set.", StudiesSchema,
        parameters=(_MOST, _AFTER), problems=(401, 503),
    ),
    _of_study(
        "", "study", "How far a study is", "State, cases done and failed, rate and time left.",
        StudyStateSchema,
    ),
    _of_study(
        "", "delete_study", "Remove a study", "With all its rows; one that runs is ended.",
        StudyStateSchema, method="delete",
    ),
    _of_study(
        "/cancellation", "cancel_study", "End a study before its end",
        "Rows that are done are kept. One that has ended stays as it is.",
        StudyStateSchema, method="post", status=202, problems=(404,),
    ),
    _of_study(
        "/results", "study_results", "Rows of a study",
        "In the order of cases; while the study runs, those that are done.",
        StudyResultsSchema, parameters=(_STUDY, _MOST, _AFTER),
    ),
    _of_study(
        "/results.csv", "study_results_csv", "Rows of a study, as a table",
        "All that are done. Columns begin `job` for what was varied, `answer` for results.",
        CSV, parameters=(_STUDY, *_FORMS_OF_CSV),
    ),
    _of_study(
        "/results.parquet", "study_results_parquet", "Rows of a study, as Parquet",
        "In the columns of the CSV; needs the extra `parquet`.", PARQUET,
        problems=(401, 404, 501, 503),
    ),
    _of_study(
        "/best", "study_best", "The best cases of a study, or its Pareto front",
        "A goal is a result, or several each times a price of the caller's own, added up. By one "
        "goal cases come best first, with what each limit costs; by several, those that no other "
        "betters. Cases that break a limit or lack a result are left aside. All that are done are "
        "compared.",
        BestAnswerSchema, **_QUESTION, body=BestSchema,
    ),
    _of_study(
        "/front.svg", "study_front_svg", "The front among all cases, drawn", "Of two goals.", SVG,
        **_QUESTION, body=BestSchema,
    ),
    _of_study(
        "/sensitivity", "study_sensitivity", "What results of a study depend on",
        "Spearman's rank correlation with every number that was varied and, of a study that is one "
        "`sensitivity` sample, Sobol indices.",
        DependencesSchema, **_QUESTION, body=DependenceSchema,
    ),
    _of_study(
        "/sensitivity.svg", "study_sensitivity_svg", "What results depend on, drawn as bars",
        "Total Sobol indices, or rank correlations where there are none.", SVG,
        **_QUESTION, body=DependenceSchema,
    ),
    Operation(
        "post", "/v1/fluid-properties", "fluid_properties", "calculations",
        "Properties of a mixture at given strengths and temperatures",
        "One strength and one temperature give one state; several of either give a table. In a "
        "table, temperatures at which a strength is frozen or past its correlation are listed in "
        "`without_properties_c`; a single such state is a 422 that states the range.",
        FluidPropertiesResponseSchema, FluidPropertiesRequestSchema, problems=_REFUSED,
    ),
    Operation(
        "post", "/v1/plot-file", "plot_file", "calculations",
        "The plot that a file draws: GeoJSON, DXF or CSV",
        "Reads boundary, keep-outs, water, plant room, levels, chambers and placed trenches or "
        "boreholes into a part `plot` of a job. GeoJSON is of RFC 7946, its features told apart by "
        "`kind`, in longitude and latitude or with `coordinates_are`: `local_metres`; DXF is text "
        "in the unit of its `$INSUNITS`, on the layers that POST /v1/setting-out.dxf writes; CSV "
        "has the columns of POST /v1/setting-out.csv. A file is sent with its own media type "
        "(application/geo+json, image/vnd.dxf, text/csv), or as bytes and told by how it begins. "
        "What is not in the plot is listed; a plot that cannot be is refused by its place in the "
        "file.",
        PlotFileAnswerSchema, problems=_REFUSED, takes=BYTES,
    ),
    _calculation(
        "/v1/split.csv", "split_csv", "The table of loops",
        "The loops of POST /v1/split as a table: RFC 4180, UTF-8, header row.", CSV,
    ),
    _calculation(
        "/v1/splits.csv", "splits_csv", "The table of loops of many jobs",
        "A row for each loop of each job of POST /v1/splits, with the job's number and name; of a "
        "job that was refused, a row with its status and what is wrong.",
        CSV, body=SplitsSchema, status=207, example="sorrel-lodge-two-variants",
    ),
    _calculation(
        "/v1/balancing.csv", "balancing_csv", "The table of valve settings and spare pipe",
        "A row for each loop of each way of POST /v1/balancing that was solved: flow reached, "
        "setting of its valve, pipe to add.",
        CSV, example="sorrel-lodge-40-mm",
    ),
    _calculation(
        "/v1/pump-choice.csv", "pump_choice_csv", "The table of pumps",
        "A row for each pump of POST /v1/pump-choice, best first, and each condition; last those "
        "that are set aside, with the reason.",
        CSV, example="sorrel-lodge-40-mm",
    ),
    _calculation(
        "/v1/groundworks/pipe-order.csv", "groundworks_pipe_order_csv",
        "The table of pipe to order",
        "Coils and U-tubes to order as POST /v1/groundworks finds them, and what pipe lies in "
        "headers, runs and tails (`route`), which is among the coils.",
        CSV, example="slate-row-boreholes",
    ),
    _calculation(
        "/v1/split/{picture}.svg", "split_picture_svg", "A picture of the split, as SVG",
        "Legible in grey and to the colour-blind, its text alternative inside it and in "
        "`Content-Description`. Arrays of up to 1,000 loops are drawn (the setting "
        "EVENLOOP_MAX_PICTURE_LOOPS).",
        SVG, parameters=(_PICTURE,), problems=(404, *_REFUSED),
    ),
    _calculation(
        "/v1/split/{picture}.png", "split_picture_png", "A picture of the split, as PNG",
        "As the SVG; its text alternative is in `Content-Description`.",
        PNG, parameters=(_PICTURE,), problems=(404, *_REFUSED),
    ),
    _calculation(
        "/v1/setting-out.svg", "setting_out_svg", "The setting-out plan",
        "The plan of POST /v1/setting-out to scale on A4 or A3, with pipes in every stretch.", SVG,
        parameters=_COLOUR, example="elder-yard-two-boreholes",
    ),
    _calculation(
        "/v1/setting-out.png", "setting_out_png", "The setting-out plan, as PNG",
        "As the SVG; its text alternative is in `Content-Description`.", PNG,
        parameters=_COLOUR, example="elder-yard-two-boreholes",
    ),
    _calculation(
        "/v1/setting-out.pdf", "setting_out_pdf", "The setting-out plan, for print",
        "As the SVG, true to scale at full size; then tables of tails, pipes and points.", PDF,
        parameters=_COLOUR, example="elder-yard-two-boreholes",
    ),
    _calculation(
        "/v1/setting-out.csv", "setting_out_csv", "Setting-out points",
        "Ends, bends, boreholes, chambers, plant and corners, each with its coordinates.", CSV,
        example="elder-yard-two-boreholes",
    ),
    _calculation(
        "/v1/setting-out.geojson", "setting_out_geojson", "The plan as GeoJSON",
        "RFC 7946 where `plot.origin` says where the plot lies; else metres of the plot, and "
        "`coordinates_are` says so.",
        GEOJSON, example="elder-yard-two-boreholes",
    ),
    _calculation(
        "/v1/setting-out.dxf", "setting_out_dxf", "The plan as DXF",
        "DXF R2010 in metres, a layer for each kind; needs the extra `dxf`.", DXF,
        example="elder-yard-two-boreholes", problems=(*_REFUSED, 501),
    ),
    _calculation(
        "/v1/groundworks/plan.svg", "groundworks_plan_svg", "The setting-out plan",
        "The plan of POST /v1/groundworks, to scale on A4 or A3, with its text alternative inside "
        "it.",
        SVG, example="slate-row-boreholes",
    ),
    _calculation(
        "/v1/report.html", "report_html", "The report as a page",
        "A page that needs nothing else and no script. No date is added: equal jobs give equal "
        "documents. Arrays of more than 1,000 loops are told in part and without pictures, and "
        "the document says so; JSON has all.",
        HTML,
    ),
    _calculation(
        "/v1/report.pdf", "report_pdf", "The report for print",
        "As the page, as PDF.", PDF,
    ),
    Operation(
        "get", "/v1/antifreezes", "antifreezes", "reference data", "Antifreezes on offer",
        "Kinds with their ranges, ways of giving the strength, hazards and sources.",
        AntifreezesSchema,
    ),
    Operation(
        "get", "/v1/pipes", "pipes", "reference data", "Standard pipes",
        "PE pipes by material, SDR and outside diameter. Other pipes are declared in the job's "
        "`pipes`.",
        PipesSchema,
    ),
    Operation(
        "get", "/v1/fittings", "fittings", "reference data", "Kinds of fitting",
        "Fittings with their three constants. Others are given by loss coefficient or Kv.",
        FittingsSchema,
    ),
    Operation(
        "get", "/v1/soils", "soils", "reference data", "Classes of soil",
        "Conductivity and heat capacity of each class when dry, as usual and saturated; bulking "
        "when dug; sources.",
        SoilsSchema,
    ),
    Operation(
        "get", "/v1/invented-pumps", "invented_pumps", "reference data", "Invented pumps",
        "Pumps that no maker sells, for trying out POST /v1/pump-choice. Never choose by them.",
        InventedPumpsSchema,
    ),
    Operation(
        "get", "/v1/examples", "examples", "reference data", "Invented jobs to start from",
        "Examples that ship with the service, for every calculation.", ExamplesSchema,
        links=(("firstExample", link_to(
            "example", "The first of them.",
            parameters={"name": "$response.body#/examples/0/name"},
        )),),
    ),
    Operation(
        "get", "/v1/examples/{name}", "example", "reference data", "An invented job",
        "A job that the calculations take unchanged.", JobSchema,
        parameters=(_EXAMPLE,), problems=(404,),
        links=(("design", link_to(
            "design", "Every chapter that the job asks for.", requestBody="$response.body",
        )),),
    ),
    Operation(
        "get", "/v1", "index", "service", "Index of addresses",
        "Every address with its method.", IndexSchema,
    ),
    Operation(
        "get", "/healthz", "health", "service", "Whether the service answers",
        "For supervisors and load balancers.", HealthSchema,
    ),
    Operation(
        "get", "/readyz", "readiness", "service", "Whether a calculation would begin now",
        "For load balancers; where `/healthz` answers and this does not, the service is busy.",
        ReadinessSchema, problems=(503,),
    ),
    Operation(
        "get", "/metrics", "metrics", "service", "What the service counted",
        "For Prometheus, in its text format: requests, their time, and of the arrays solved the "
        "time, iterations and loops. With several workers, all of them together. Needs a key where "
        "keys are set.",
        METRICS, problems=(401,),
    ),
    Operation(
        "get", "/v1/openapi.json", "openapi", "service", "This contract",
        "The OpenAPI document of the running version.", JSON,
    ),
    Operation(
        "get", "/v1/reference", "reference", "service", "The contract as a page",
        "For reading; needs no script and no other server.", HTML,
    ),
    Operation(
        "get", "/v1/problems", "problem_types", "service", "Kinds of problem, as a page",
        "What each error means and what to do.", HTML,
    ),
    Operation(
        "get", "/v1/problems/{slug}", "problem_type", "service", "A kind of problem, as a page",
        "Where the `type` of a problem leads.", HTML, parameters=(_SLUG,), problems=(404,),
    ),
)  # fmt: skip
