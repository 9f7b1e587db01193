"""POST /v1/pump-selection: which of these pumps meets the duty, cold and warm, at what power?"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from flask import Blueprint, Response

from api.answers.pumps import INVENTED_NOTICE, candidates_of, pump_selection_of
from api.refusals import BROKEN, Refusal, RefusedError, refusals_of
from api.requests.job import job_from, mixture_from, require_liquid
from api.requests.pumps import candidates_from, selection_names
from api.schemas.fields import Refusals
from api.schemas.objects import schema_of
from api.schemas.pump_selection import PumpSelectionRequestSchema
from api.service.replies import read_body, reply, settings
from hydraulics.errors import InputError
from hydraulics.pumps.examples import DEMO_PUMPS
from hydraulics.pumps.on_array import Warm, pumps_on_array
from hydraulics.pumps.selection import Candidate
from hydraulics.split.duty import FlowDuty

blueprint: Final = Blueprint("pump_selection", __name__)


@cache
def invented_candidates() -> tuple[Candidate, ...]:
    """The invented pumps at constant speed and, where they have a drive for it, holding a head."""
    fixed = [Candidate(pump) for pump in DEMO_PUMPS]
    held = [
        Candidate(pump, "constant_differential_pressure")
        for pump in DEMO_PUMPS
        if pump.minimum_speed is not None
    ]
    return (*fixed, *held)


@blueprint.get("/v1/invented-pumps")
def get_invented_pumps() -> Response:
    """List the invented pumps as a request would give them."""
    content = {"notice": INVENTED_NOTICE, "pumps": candidates_of(invented_candidates())}
    return reply(content, cached=True)


@blueprint.post("/v1/pump-selection")
def post_pump_selection() -> Response:
    """Judge and rank pumps on an array."""
    return reply(pump_selection_answer(*read_body(schema_of(PumpSelectionRequestSchema))))


def pump_selection_answer(read: dict[str, Any], refusals: Refusals) -> dict[str, Any]:
    """Judge and rank pumps on an array.

    Parameters
    ----------
    read
        A request as read by PumpSelectionRequestSchema.
    refusals
        What is refused in it so far.

    Returns
    -------
    dict
        Object of PumpSelectionResponseSchema.

    Raises
    ------
    RefusedError
        Something in it cannot be.
    """
    own = candidates_from(read.get("candidates", []), ("candidates",), refusals)
    _refuse_no_candidates(read, refusals)
    warm = _warm_from(read, refusals)
    job = job_from(read, settings().max_loops, refusals)
    if job is None or own is None:
        raise RefusedError(refusals)
    candidates = [*own, *(invented_candidates() if read["use_invented_pumps"] else ())]
    try:
        result = pumps_on_array(
            *job,
            candidates,
            warm=warm,
            run_hours=read["run_hours"],
            tolerance_grade=read["tolerance_grade"],
            tolerance=read["tolerance_percent"] / 100.0,
            margin=read["freezing_margin_k"],
        )
    except InputError as error:
        raise RefusedError(refusals_of(error, (), selection_names(read))) from None
    return pump_selection_of(result, len(own), read.get("name"), read["antifreeze"]["kind"])


def _refuse_no_candidates(read: Mapping[str, Any], refusals: Refusals) -> None:
    if read["use_invented_pumps"] is False and read.get("candidates", []) == []:
        detail = (
            "There is no pump to choose; give candidates by their tables, or set "
            "use_invented_pumps to try things out."
        )
        refusals.append(Refusal(("candidates",), detail, allowed="at least one pump"))


def _warm_from(read: Mapping[str, Any], refusals: Refusals) -> Warm | None:
    """Warm condition, or None where there is none or it was refused."""
    warm = read.get("warm")
    if warm is None or warm is BROKEN or BROKEN in warm.values():
        return None
    mix = mixture_from(read["antifreeze"], ("antifreeze",), [])  # job_from tells what is wrong
    out, back = warm["to_ground_temperature_c"], warm["from_ground_temperature_c"]
    if mix is not BROKEN:
        require_liquid(mix, FlowDuty(0.0, out, back), ("warm",), refusals)
    return Warm(out, back, warm["share_of_hours_percent"] / 100.0)
