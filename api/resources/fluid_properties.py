"""POST /v1/fluid-properties: what is a mixture like at each of some strengths and temperatures?"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from flask import Blueprint, Response

from api.answers.numbers import round_one
from api.answers.parts import fluid_of
from api.refusals import BROKEN, Place, Refusal, RefusedError, refusals_of
from api.requests.places import located, refused_at
from api.schemas.fields import Refusals
from api.schemas.fluid_properties import FluidPropertiesRequestSchema
from api.schemas.objects import schema_of
from api.service.replies import read_body, reply, settings
from hydraulics.errors import HydraulicsError, RangeError
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Mixture, fluid, freezing_point, mixture

blueprint: Final = Blueprint("fluid_properties", __name__)


@blueprint.post("/v1/fluid-properties")
def post_fluid_properties() -> Response:
    """Give a state or a table of states."""
    read, refusals = read_body(schema_of(FluidPropertiesRequestSchema))
    if BROKEN in read.values() or refusals:
        raise RefusedError(refusals)
    strengths, temperatures = read["concentrations_percent"], read["temperatures_c"]
    most, asked = settings().max_states, len(strengths) * len(temperatures)
    if asked > most:
        detail = (
            f"{len(strengths)} strengths at {len(temperatures)} temperatures are {asked:,} states; "
            f"this service gives up to {most:,} at once (its setting EVENLOOP_MAX_STATES)."
        )
        raise RefusedError([Refusal((), detail, allowed=f"{most:,} states or fewer")])
    mixtures = _mixtures(read, refusals)
    content = [
        _states_of(mix, given, temperatures) for mix, given in zip(mixtures, strengths, strict=True)
    ]
    if asked == 1 and content[0]["without_properties_c"]:
        try:
            fluid(mixtures[0], temperatures[0])
        except RangeError as error:
            raise RefusedError(refused_at(error, ("temperatures_c", 0))) from None
    kind = KINDS[read["kind"]]
    return reply(
        {
            "kind": kind.kind,
            "basis": read["basis"],
            "mixtures": content,
            "caution": kind.caution,
            "source": kind.source,
        }
    )


def _mixtures(read: dict[str, Any], refusals: Refusals) -> list[Mixture]:
    """Mixture of every strength; raises RefusedError with all that cannot be."""
    made = []
    for index, strength in enumerate(read["concentrations_percent"]):
        try:
            made.append(mixture(read["kind"], strength / 100.0, read["basis"]))
        except HydraulicsError as error:
            one = {**read, "concentrations_percent": strength}
            found = refusals_of(located(error, one, (), FluidPropertiesRequestSchema))
            places: dict[Place, Place] = {
                ("concentrations_percent",): ("concentrations_percent", index)
            }
            found = [replace(each, place=places.get(each.place, each.place)) for each in found]
            refusals += [each for each in found if each not in refusals]
    if refusals:
        raise RefusedError(refusals)
    return made


def _states_of(mix: Mixture, given: float, temperatures: list[float]) -> dict[str, Any]:
    states: list[dict[str, float]] = []
    outside: list[float] = []
    for temperature in temperatures:
        try:
            states.append(fluid_of(fluid(mix, temperature)))
        except RangeError:
            outside.append(temperature)
    by_volume = mix.volume_fraction
    return {
        "concentration_percent": given,
        "mass_percent": round_one(mix.mass_fraction * 1e2),
        **({} if by_volume is None else {"volume_percent": round_one(by_volume * 1e2)}),
        "freezing_point_c": round_one(freezing_point(mix)),
        "states": states,
        "without_properties_c": outside,
    }
