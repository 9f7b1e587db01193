"""GET /v1/antifreezes, /v1/pipes, /v1/fittings: what may be named in a request?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.numbers import round_one
from api.service.replies import reply
from hydraulics.fluid.antifreezes import HAZARDS, KINDS, VOLUME_BASIS
from hydraulics.pipework.fittings import DARBY_SOURCE, FITTING_KINDS, darby_constants
from hydraulics.pipework.pipe import WALL_SOURCE, pe_pipes

blueprint: Final = Blueprint("reference_data", __name__)


@blueprint.get("/v1/antifreezes")
def get_antifreezes() -> Response:
    """List the antifreezes."""
    offered = [
        {
            "kind": each.kind,
            "title": each.title,
            "min_concentration_percent": round_one(each.min_mass_fraction * 1e2),
            "max_concentration_percent": round_one(each.max_mass_fraction * 1e2),
            "min_c": round_one(each.min_temperature_c),
            "max_c": round_one(each.max_temperature_c),
            "bases": ["mass", "volume"] if each.by_volume else ["mass"],
            "hazards": list(each.hazards),
            "freezing_spread": [
                {"mass_percent": round_one(at * 1e2), "spread_k": round_one(spread)}
                for at, spread in each.spread.freezing
            ],
            "viscosity_spread": [
                {"temperature_c": round_one(at), "more_viscous_percent": round_one(more * 1e2)}
                for at, more in each.spread.more_viscous
            ],
            "less_viscous_percent": round_one(each.spread.less_viscous * 1e2),
            "caution": each.caution,
            "source": each.source,
        }
        for each in KINDS.values()
    ]
    hazards = [{"hazard": word, "meaning": meaning} for word, meaning in HAZARDS.items()]
    return reply(
        {"antifreezes": offered, "hazards": hazards, "volume_basis": VOLUME_BASIS}, cached=True
    )


@blueprint.get("/v1/pipes")
def get_pipes() -> Response:
    """List the standard pipes."""
    pipes = [
        {
            "name": pipe.name,
            "outside_diameter_mm": round_one(pipe.outside_diameter * 1e3),
            "wall_mm": round_one(pipe.wall * 1e3),
            "bore_mm": round_one(pipe.bore * 1e3),
            "roughness_mm": round_one(pipe.roughness * 1e3),
            "contents_l_m": round_one(pipe.bore_area * 1e3),
            "pressure_class_kpa": round_one((pipe.pressure_class or 0.0) / 1e3),
        }
        for pipe in pe_pipes()
    ]
    return reply({"pipes": pipes, "source": WALL_SOURCE}, cached=True)


@blueprint.get("/v1/fittings")
def get_fittings() -> Response:
    """List the kinds of fitting."""
    constants = [(kind, *darby_constants(kind)) for kind in FITTING_KINDS]
    fittings = [{"kind": kind, "k1": k1, "ki": ki, "kd": kd} for kind, k1, ki, kd in constants]
    return reply({"fittings": fittings, "source": DARBY_SOURCE}, cached=True)
