"""POST /v1/setting-out: where does everything lie, and how long do tails and runs become?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.setting_out import setting_out_of
from api.resources.asked import asked, computing

blueprint: Final = Blueprint("setting_out", __name__)


@blueprint.post("/v1/setting-out")
def post_setting_out() -> Response:
    """Set out an array."""
    job = asked("setting_out")
    with computing(job):
        found = job.chapters.set_out
    return job.reply(setting_out_of(found, job.document["plot"]))
