"""POST /v1/commissioning: what does it take to fill, purge, test and prove an array?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.resources.asked import answered

blueprint: Final = Blueprint("commissioning", __name__)


@blueprint.post("/v1/commissioning")
def post_commissioning() -> Response:
    """Plan, and judge what was read on site."""
    return answered("commissioning")
