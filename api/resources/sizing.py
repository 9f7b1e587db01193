"""POST /v1/sizing: how much trench, mat or borehole carries the load through its life?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.resources.asked import answered

blueprint: Final = Blueprint("sizing", __name__)


@blueprint.post("/v1/sizing")
def post_sizing() -> Response:
    """Size an array."""
    return answered("sizing")
