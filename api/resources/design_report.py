"""POST /v1/design-report: one document to hand over, as data, as a page or as PDF."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final, Literal

from flask import Blueprint, Response

from api.answers.groundworks import groundworks_of
from api.answers.report import CHAPTERS, design_report_of
from api.media_types import TYPES
from api.refusals import RefusedError, refusals_of
from api.requests.job import job_from
from api.resources.array_sizing import array_sizing_answer
from api.resources.balancing import balancing_answer
from api.resources.commissioning import commissioning_answer
from api.resources.groundworks import count_groundworks
from api.resources.pump_selection import pump_selection_answer
from api.schemas.design_report import DesignReportRequestSchema
from api.schemas.fields import Refusals
from api.schemas.flow_split import FlowSplitRequestSchema
from api.schemas.groundworks import GroundworksRequestSchema
from api.schemas.objects import schema_of
from api.service.calls import count_calculations
from api.service.replies import JSON_TYPE, preferred, read_body, reply, settings
from hydraulics.errors import HydraulicsError, NoSolutionError
from hydraulics.groundworks.works import Groundworks
from hydraulics.layout.walk import loop_count
from hydraulics.split.flow_split import flow_split

blueprint: Final = Blueprint("design_report", __name__)

Object = dict[str, Any]
_, HTML_TYPE, PDF_TYPE = TYPES


@blueprint.post("/v1/design-report")
def post_design_report() -> Response:
    """Write the document."""
    kind = preferred(TYPES)
    read, refusals = read_body(schema_of(DesignReportRequestSchema))
    job = job_from(read, settings().max_loops, refusals)
    if job is None or refusals:
        raise RefusedError(refusals)
    circuit, plant, _, duty = job
    result = flow_split(
        *job,
        tolerance=read["tolerance_percent"] / 100.0,
        margin=read["freezing_margin_k"],
    )
    chapters, dug = _chapters(read)
    # Loaded when first asked for: the drawing library takes longer to load than all the rest.
    from api.report.drawn import pictures_of, plan_picture, pumps_picture  # noqa: PLC0415

    name, form = read.get("name", ""), _FORMS[kind]
    drawn = None
    if loop_count(circuit) <= settings().max_picture_loops:
        drawn = pictures_of(result, circuit, duty, title=name, form=form)
        if "pump_selection" in chapters:
            drawn |= pumps_picture(chapters["pump_selection"], title=name, form=form)
        if dug is not None:
            drawn |= plan_picture(dug, title=name)
    told = None
    if drawn is not None:
        told = [{"picture": p.name, "title": p.title, "text": p.text} for p in drawn.values()]
    answer = design_report_of(
        read, result, circuit=circuit, plant=plant, chapters=chapters, pictures=told
    )
    if kind == JSON_TYPE:
        return reply(answer)
    from api.report.contents import report_of  # noqa: PLC0415

    report = report_of(answer, drawn or {})
    headers = {"Cache-Control": "no-store", "Vary": "Accept"}
    if kind == HTML_TYPE:
        from api.report.page import page_of, policy  # noqa: PLC0415

        headers["Content-Security-Policy"] = policy()
        page = page_of(report)
        return Response(page, content_type=f"{HTML_TYPE}; charset=utf-8", headers=headers)
    from api.report.pdf import pdf_of  # noqa: PLC0415

    headers["Content-Disposition"] = 'attachment; filename="design-report.pdf"'
    return Response(pdf_of(report), content_type=PDF_TYPE, headers=headers)


_FORMS: Final[dict[str, Literal["words", "svg", "png"]]] = {
    JSON_TYPE: "words",
    HTML_TYPE: "svg",
    PDF_TYPE: "png",
}
"""How pictures are drawn for each media type."""

# ----------------------------------------------------------------------------------------- chapters

_ANSWERS: Final[dict[str, Callable[[Object, Refusals], Object]]] = {
    "array_sizing": array_sizing_answer,
    "balancing": balancing_answer,
    "pump_selection": pump_selection_answer,
    "commissioning": commissioning_answer,
}


_SPLIT: Final = frozenset(schema_of(FlowSplitRequestSchema).checks)
_DIGGING: Final = _SPLIT & frozenset(schema_of(GroundworksRequestSchema).checks)


def _chapters(read: Object) -> tuple[dict[str, Object], Groundworks | None]:
    """Answers of the chapters asked for, and what was dug, for its plan."""
    found: dict[str, Object] = {}
    dug: Groundworks | None = None
    count_calculations(sum(asked in read for asked in CHAPTERS.values()))
    for name, asked in CHAPTERS.items():
        if asked not in read:
            continue
        if name == "groundworks":
            dug, order = _placed(asked, count_groundworks, _request(read, asked, _DIGGING))
            found[name] = groundworks_of(dug, order, read.get("name"))
        else:
            found[name] = _placed(asked, _ANSWERS[name], _request(read, asked, _SPLIT))
    for pump in found.get("pump_selection", {}).get("pumps", ()):
        if "where" in pump:
            pump["where"] = f"/pump_selection{pump['where']}"
    return found, dug


def _request(read: Object, name: str, shared: frozenset[str]) -> Object:
    """The request that the chapter's own address would be sent."""
    options: Object = read[name]
    return {field: value for field, value in read.items() if field in shared} | options


def _placed(name: str, compute: Callable[[Object, Refusals], Any], read: Object) -> Any:  # noqa: ANN401 (what it computes)
    """Compute a chapter; what is refused in its options gets its place in this request."""
    try:
        return compute(read, [])
    except NoSolutionError:
        raise
    except (RefusedError, HydraulicsError) as error:
        found = error.refusals if isinstance(error, RefusedError) else refusals_of(error)
        raise RefusedError(
            each
            if not each.place or each.place[0] in _SPLIT
            else replace(each, place=(name, *each.place))
            for each in found
        ) from None
