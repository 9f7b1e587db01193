"""POST /v1/designs: the whole job in one call, from the load to handover."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final

from flask import Blueprint, Response

from api.answers.flow_split import flow_split_of
from api.answers.groundworks import groundworks_of
from api.refusals import BROKEN, MISSING, Place, Refusal, RefusedError
from api.requests.job import job_from
from api.resources.array_sizing import array_sizing_answer
from api.resources.balancing import balancing_answer
from api.resources.commissioning import commissioning_answer
from api.resources.flow_split import prepared, split_of
from api.resources.groundworks import count_groundworks
from api.resources.pump_selection import pump_selection_answer
from api.schemas.balancing import BalancingRequestSchema
from api.schemas.commissioning import CommissioningRequestSchema
from api.schemas.designs import DesignsRequestSchema
from api.schemas.fields import Refusals
from api.schemas.groundworks import GroundworksRequestSchema
from api.schemas.objects import StrictSchema, schema_of
from api.schemas.pump_selection import PumpSelectionRequestSchema
from api.service.calls import count_calculations
from api.service.replies import read_document, reply, settings
from hydraulics.errors import HydraulicsError
from hydraulics.findings import COMMON_PRACTICE

blueprint: Final = Blueprint("designs", __name__)

Object = dict[str, Any]

_SHARED: Final = ("name", "antifreeze", "plant", "tolerance_percent", "freezing_margin_k")
"""Fields that every step takes from the top of the request."""
_STOP: Final = Refusal((), "", MISSING)
"""Stands among the refusals where only options are checked, so that nothing is computed."""


def _groundworks_answer(read: Object, refusals: Refusals) -> Object:
    found, order = count_groundworks(read, refusals)
    return groundworks_of(found, order, read.get("name"))


@dataclass(frozen=True, slots=True)
class _Step:
    """A step after the flow split: schema of its own request, and what answers it."""

    schema: type[StrictSchema]
    answer: Callable[[Object, Refusals], Object]


_STEPS: Final = {
    "balancing": _Step(BalancingRequestSchema, balancing_answer),
    "pump_selection": _Step(PumpSelectionRequestSchema, pump_selection_answer),
    "groundworks": _Step(GroundworksRequestSchema, _groundworks_answer),
    "commissioning": _Step(CommissioningRequestSchema, commissioning_answer),
}


@blueprint.post("/v1/designs")
def post_designs() -> Response:
    """Take every step that is asked for."""
    document = read_document()
    refusals: Refusals = []
    read = schema_of(DesignsRequestSchema).check(document, (), refusals)
    if read is BROKEN:
        raise RefusedError(refusals)
    _refuse_no_array(read, refusals)
    refusals += _refused_options(read)
    if refusals:
        # What several steps take from the top is refused by each, and told once.
        raise RefusedError({(each.place, each.detail): each for each in refusals}.values())
    steps = [name for name in _STEPS if name in document]
    count_calculations(len(steps) + ("sizing" in document))
    return reply(_design(document, read, steps))


def _design(document: Object, read: Object, steps: list[str]) -> Object:
    """Answer of a request without faults of its own."""
    shared: Object = {name: document[name] for name in _SHARED if name in document}
    answers: Object = {"name": document["name"]} if "name" in document else {}
    if "sizing" in document:
        sized = _at(
            "sizing", read, lambda: array_sizing_answer(_step_read(read, read["sizing"]), [])
        )
        answers["array_sizing"] = sized
        given: Object = {name: sized["flow_split_request"][name] for name in ("array", "duty")}
    else:
        given = {name: document[name] for name in ("array", "duty")}
    request = {**shared, **given}
    job = _at("flow_split", read, lambda: prepared(request))
    result = _at("flow_split", read, lambda: split_of(job))
    split = answers["flow_split"] = flow_split_of(result, job.name, job.mixture.kind)
    findings = []
    for name in steps:
        options = dict(document[name])
        if name == "balancing" and (reason := _no_need_to_balance(split, read)):
            findings.append(reason)
            continue
        if name == "groundworks" and "sizing" in document:
            options = _with_site_of_sizing(options, read["sizing"])
        take = partial(_taken, _STEPS[name], {**request, **options})
        answers[name] = _at(name, read, take)
    return {**answers, "findings": findings}


def _taken(step: _Step, request: Object) -> Object:
    """Answer of one step to its own request."""
    schema = schema_of(step.schema)
    known = {name: value for name, value in request.items() if name in schema.checks}
    refusals: Refusals = []
    return step.answer(schema.check(known, (), refusals), refusals)


def _no_need_to_balance(split: Object, read: Object) -> Object | None:
    """Finding that says so, or None where balancing is to be computed."""
    judged = split.get("imbalance")
    if read["balancing"]["target"] != "even" or not (judged and judged["within_tolerance"]):
        return None
    return {
        "code": "balancing_not_needed",
        "severity": "info",
        "message": (
            f"Every loop is within {judged['tolerance_percent']:g} % of an even share (spread "
            f"{judged['spread_percent']:.3g} %), so that ways to balance were not compared."
        ),
        "source": COMMON_PRACTICE,
    }


def _with_site_of_sizing(options: Object, sizing: Object) -> Object:
    """Options of groundworks on the plot that the array was sized for."""
    site: Object = sizing.get("site", {})
    works: Object = dict(options["works"])
    borehole = sizing["array_kind"].get("borehole")
    if borehole is not None:
        works.setdefault("centres_m", borehole["spacing_m"])
    elif "centres_m" in site:
        works.setdefault("centres_m", site["centres_m"])
    if "border_m" in site:
        works.setdefault("border_m", site["border_m"])
    made = {**options, "works": works}
    if "site" not in options:
        if "length_m" in site and "width_m" in site:
            made["site"] = {name: site[name] for name in ("length_m", "width_m")}
        elif "area_m2" in site:
            made["site"] = {"area_m2": site["area_m2"]}
    return made


# ------------------------------------------------------------------------------- what is refused


def _refuse_no_array(read: Object, refusals: Refusals) -> None:
    """Refuse a request with no array, or two."""
    allowed = "sizing, or array with duty"
    if "sizing" in read:
        why = "goes with an array that is given, and this one is sized; leave one of them out."
        refusals.extend(
            Refusal((name,), f"{name.capitalize()} {why}", allowed=allowed)
            for name in ("array", "duty")
            if name in read
        )
    elif "array" not in read and "duty" not in read:
        detail = "There is no array: give sizing to have one proposed, or array with duty."
        refusals.append(Refusal((), detail, allowed=allowed))
    else:
        refusals.extend(
            Refusal(
                (name,), f"{name} is missing: an array that is given needs both array and duty."
            )
            for name in ("array", "duty")
            if name not in read
        )


def _step_read(read: Object, options: Mapping[str, Any]) -> Object:
    """A step's request as its schema would read it, but for array and duty."""
    shared: Object = {name: read[name] for name in _SHARED if name in read}
    return {**shared, **options}


def _refused_options(read: Object) -> Refusals:
    """Everything that can be refused before anything is computed, in all steps at once."""
    unknown = {"array": BROKEN, "duty": BROKEN}
    checks: list[tuple[str, Callable[[Object, Refusals], Any]]] = []
    if "sizing" in read:
        checks.append(("sizing", array_sizing_answer))
    checks += [(name, step.answer) for name, step in _STEPS.items() if name in read]
    found: Refusals = []
    for name, answer in checks:
        if read[name] is BROKEN:
            continue
        refused: Refusals = [_STOP]
        try:
            answer({**unknown, **_step_read(read, read[name])}, refused)
        except RefusedError as error:
            found += _relocated(error.refusals, name, read)
    own = {**unknown, **_step_read(read, {n: read[n] for n in ("array", "duty") if n in read})}
    refused = [_STOP]
    job_from(own, settings().max_loops, refused)
    return [*_relocated(refused, "flow_split", read), *found]


def _place(place: Place, step: str, read: Object) -> Place:
    """Place of this request for a place of a step's own."""
    head = place[0] if place else None
    if head in _SHARED:
        return place
    if head in {"array", "duty"} or step == "flow_split":
        return ("sizing",) if "sizing" in read else place
    return (step, *place)


def _relocated(refusals: Any, step: str, read: Object) -> Refusals:  # noqa: ANN401
    return [
        replace(each, place=_place(each.place, step, read)) for each in refusals if each != _STOP
    ]


def _at(step: str, read: Object, take: Callable[[], Any]) -> Any:  # noqa: ANN401 (as taken)
    """Take a step; what it refuses is refused at its place in this request."""
    try:
        return take()
    except RefusedError as error:
        raise RefusedError(_relocated(error.refusals, step, read)) from None
    except HydraulicsError as error:
        faults = [
            replace(
                fault,
                field=".".join(
                    str(part)
                    for part in _place(
                        tuple(fault.field.split(".")) if fault.field else (), step, read
                    )
                ),
            )
            for fault in error.faults
        ]
        raise type(error)(*faults) from None
