"""POST /v1/setting-out: where does everything lie, and how long do tails and runs become?"""

from __future__ import annotations

from typing import Final

import orjson
from flask import Blueprint, Response

from api.answers.setting_out import setting_out_of
from api.answers.site_dxf import dxf_of, is_installed
from api.answers.site_files import geojson_of, points_table
from api.drawings.site_plan import site_plan_svg
from api.media_types import DXF, GEOJSON
from api.requests.plot import origin_from
from api.resources.asked import Asked, asked, computing
from api.service.problems import ProblemError
from api.service.replies import reply_csv, reply_drawing, reply_file
from hydraulics.sizing.on_plot import SetOut

blueprint: Final = Blueprint("setting_out", __name__)


def _set_out() -> tuple[Asked, SetOut]:
    job = asked("setting_out")
    with computing(job):
        return job, job.chapters.set_out


@blueprint.post("/v1/setting-out")
def post_setting_out() -> Response:
    """Set out an array."""
    job = asked("setting_out")
    with computing(job):
        return job.reply(setting_out_of(job.chapters, job.document["plot"]))


@blueprint.post("/v1/setting-out.svg")
def post_setting_out_svg() -> Response:
    """Set out an array; the plan."""
    job, found = _set_out()
    origin = origin_from(job.document["plot"])
    turned = None if origin is None else origin.turned
    return reply_drawing(site_plan_svg(found.plan, job.title, turned), "setting-out.svg")


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
