"""POST /v1/setting-out: where does everything lie, and how long do tails and runs become?"""

from __future__ import annotations

from typing import Final

import orjson
from flask import Blueprint, Response

from api.answers.setting_out import setting_out_of
from api.answers.site_files import geojson_of, points_table
from api.drawings.site_plan import site_plan_svg
from api.media_types import GEOJSON, SVG
from api.resources.asked import Asked, asked, computing
from api.service.replies import reply_csv
from hydraulics.plot.tangent_plane import Origin
from hydraulics.sizing.on_plot import SetOut

blueprint: Final = Blueprint("setting_out", __name__)

# The drawing is shown or saved alone and needs nothing from anywhere.
_DRAWING_HEADERS: Final = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Content-Disposition": 'inline; filename="setting-out.svg"',
}


def _set_out() -> tuple[Asked, SetOut]:
    job = asked("setting_out")
    with computing(job):
        return job, job.chapters.set_out


@blueprint.post("/v1/setting-out")
def post_setting_out() -> Response:
    """Set out an array."""
    job, found = _set_out()
    return job.reply(setting_out_of(found, job.document["plot"]))


@blueprint.post("/v1/setting-out.svg")
def post_setting_out_svg() -> Response:
    """Set out an array; the plan."""
    job, found = _set_out()
    turned = job.document["plot"].get("origin", {"turned_deg": None}).get("turned_deg", 0.0)
    drawing = site_plan_svg(found.plan, job.title, turned)
    return Response(drawing, content_type=f"{SVG}; charset=utf-8", headers=_DRAWING_HEADERS)


@blueprint.post("/v1/setting-out.csv")
def post_setting_out_csv() -> Response:
    """Set out an array; the points to set out."""
    _, found = _set_out()
    return reply_csv(points_table(found.plan), "setting-out.csv")


@blueprint.post("/v1/setting-out.geojson")
def post_setting_out_geojson() -> Response:
    """Set out an array; the plan as GeoJSON."""
    job, found = _set_out()
    given = job.document["plot"].get("origin")
    origin = None
    if given is not None:
        origin = Origin(given["longitude_deg"], given["latitude_deg"], given.get("turned_deg", 0.0))
    text = orjson.dumps(geojson_of(found.plan, job.title, origin))
    headers = {
        "Cache-Control": "no-store",
        "Content-Disposition": 'attachment; filename="setting-out.geojson"',
    }
    return Response(text, content_type=GEOJSON, headers=headers)
