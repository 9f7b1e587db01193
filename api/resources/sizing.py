"""POST /v1/sizing: how much trench, mat or borehole carries the load through its life?"""

from __future__ import annotations

from typing import Any, Final

from flask import Blueprint, Response

from api.answers.sizing import sizing_of
from api.refusals import Refusal, RefusedError
from api.resources.asked import asked, computing
from api.schemas.array import CircuitSchema
from api.schemas.fields import Refusals
from api.schemas.objects import schema_of

blueprint: Final = Blueprint("sizing", __name__)


@blueprint.post("/v1/sizing")
def post_sizing() -> Response:
    """Size an array."""
    job = asked("sizing")
    with computing(job):
        answer = sizing_of(job.chapters.sizing, job.job)
    _refuse_what_is_no_array(answer, job.document)
    return job.reply(answer)


def _refuse_what_is_no_array(answer: dict[str, Any], document: dict[str, Any]) -> None:
    """Refuse loops so long that no job could hold them."""
    found: Refusals = []
    schema_of(CircuitSchema).check(answer["decides"]["array"], (), found)
    if not found:
        return
    given = "loop_count" in document["sizing"]
    place = ("sizing", "loop_count" if given else "array_kind")
    loops, length = answer["loop_count"], answer["each_loop"]["length_m"]
    detail = (
        f"{loops:,} equal loops would be of {length:,} m of {answer['per']} each, longer than "
        f"this service takes ({found[0].detail[:-1]}). Give more loops or another extraction rate."
    )
    raise RefusedError([Refusal(place, detail, allowed="loops of a length that can be laid")])
