"""POST /v1/setting-out: where does everything lie, and how long do tails and runs become?"""

from __future__ import annotations

from typing import Final

import orjson
from flask import Blueprint, Response, request

from api.answers.site_dxf import dxf_of, is_installed
from api.answers.site_files import geojson_of, points_table
from api.calculations.asked import Asked, asked_of, computing
from api.drawings.site_plan import LoopFlows, site_plan_svg
from api.drawings.site_tables import site_table_sheets
from api.media_types import DXF, GEOJSON, PDF, PNG
from api.refusals import Refusal, RefusedError
from api.requests.plot import origin_from
from api.resources.asked import answered, asked
from api.service.memory import give_back_circles
from api.service.problems import ProblemError
from api.service.replies import reply_csv, reply_drawing, reply_file, reply_picture, settings
from hydraulics.plot.site_plan import SitePlan
from hydraulics.sizing.on_plot import SetOut

blueprint: Final = Blueprint("setting_out", __name__)


def _set_out(*, of_design: bool = False) -> tuple[Asked, SetOut]:
    job = asked("setting_out")
    if of_design:
        job = asked_of(job.document, "designs", settings())
    with computing(job):
        return job, job.chapters.laid_out


def _drawn() -> tuple[str, SitePlan, str]:
    """The plan as SVG, coloured by flow where that is asked for, itself, and the job's name."""
    by_flow = request.args.get("colour") == "flow"
    job, found = _set_out(of_design=by_flow)
    origin = origin_from(job.document.get("plot", {}))
    turned = None if origin is None else origin.turned
    flows = _flows(job, found) if by_flow else None
    return site_plan_svg(found.plan, job.title, turned, flows), found.plan, job.title


def _flows(job: Asked, found: SetOut) -> LoopFlows:
    """How the flows of the array that the plan decides stand."""
    if found.circuit is None:
        detail = "Not all has a place and a way, so that no flow is known; leave colour out."
        raise RefusedError([Refusal(("setting_out",), detail, allowed="a plan that fits")])
    with computing(job):
        loops = job.chapters.split.loops
    deviation = dict(zip(loops.names, loops.deviation.tolist(), strict=True))
    return LoopFlows(deviation, job.job.limits.deviation)


@blueprint.post("/v1/setting-out")
def post_setting_out() -> Response:
    """Set out an array."""
    return answered("setting_out")


@blueprint.post("/v1/setting-out.svg")
def post_setting_out_svg() -> Response:
    """Set out an array; the plan."""
    return reply_drawing(_drawn()[0], "setting-out.svg")


@blueprint.post("/v1/setting-out.png")
def post_setting_out_png() -> Response:
    """Set out an array; the plan as a picture of dots."""
    drawn, *_ = _drawn()
    from api.drawings.render import png_of  # noqa: PLC0415 (loads the drawing library)
    from api.drawings.sheet import sheet_figure  # noqa: PLC0415

    figure, title, text = sheet_figure(drawn)
    return reply_picture(png_of(figure, title, text), PNG, text)


@blueprint.post("/v1/setting-out.pdf")
def post_setting_out_pdf() -> Response:
    """Set out an array; the plan for print, at its scale, and its tables."""
    drawn, plan, title = _drawn()
    from api.report.drawn import plan_picture  # noqa: PLC0415 (loads the drawing library)
    from api.report.pdf import sheets_pdf  # noqa: PLC0415

    sheets = [plan_picture(drawn, "Setting-out plan")]
    sheets += [plan_picture(each, "Its tables") for each in site_table_sheets(plan, title)]
    pdf = sheets_pdf(sheets, title or "Setting-out plan")
    give_back_circles()
    return reply_file(pdf, PDF, "setting-out.pdf")


@blueprint.post("/v1/setting-out.csv")
def post_setting_out_csv() -> Response:
    """Set out an array; the points to set out."""
    _, found = _set_out()
    return reply_csv(points_table(found.plan), "setting-out.csv")


@blueprint.post("/v1/setting-out.geojson")
def post_setting_out_geojson() -> Response:
    """Set out an array; the plan as GeoJSON."""
    job, found = _set_out()
    made = geojson_of(found.plan, job.title, origin_from(job.document["plot"]))
    return reply_file(orjson.dumps(made), GEOJSON, "setting-out.geojson")


@blueprint.post("/v1/setting-out.dxf")
def post_setting_out_dxf() -> Response:
    """Set out an array; the plan as DXF."""
    if not is_installed():
        raise ProblemError("not-installed", "This service was installed without what writes DXF.")
    _, found = _set_out()
    return reply_file(dxf_of(found.plan), DXF, "setting-out.dxf")
