"""GET /v1/soils: which classes of soil may be named, and what is known of them?"""

from __future__ import annotations

from typing import Final

from flask import Blueprint, Response

from api.answers.numbers import round_one
from api.service.replies import reply
from hydraulics.ground.soil import CAUTION, SOILS, SOURCE, SoilState, soil_states
from hydraulics.groundworks.excavation import BULKING, BULKING_SOURCE

blueprint: Final = Blueprint("soils", __name__)


@blueprint.get("/v1/soils")
def get_soils() -> Response:
    """List the classes of soil."""
    soils = []
    for name, kind in SOILS.items():
        states = soil_states(name)
        low, high = kind.dry_density_range
        soils.append(
            {
                "soil": name,
                "title": kind.name,
                "dry_density_kg_m3": round_one(kind.dry_density),
                "min_dry_density_kg_m3": round_one(low),
                "max_dry_density_kg_m3": round_one(high),
                "porosity_percent": round_one(states[0].properties.porosity * 1e2),
                "states": [_state_of(state) for state in states],
            }
        )
    digging = [
        {
            "soil": name,
            "min_bulking_percent": round_one(low * 1e2),
            "max_bulking_percent": round_one(high * 1e2),
        }
        for name, (low, high) in BULKING.items()
    ]
    return reply(
        {
            "soils": soils,
            "digging": digging,
            "caution": CAUTION,
            "source": SOURCE,
            "bulking_source": BULKING_SOURCE,
        },
        cached=True,
    )


def _state_of(state: SoilState) -> dict[str, float | str]:
    held = state.properties
    return {
        "moisture": state.moisture,
        "water_content_percent": round_one(state.water_content * 1e2),
        "saturation_percent": round_one(held.saturation * 1e2),
        "conductivity_w_m_k": round_one(held.conductivity),
        "min_conductivity_w_m_k": round_one(held.conductivity_low),
        "max_conductivity_w_m_k": round_one(held.conductivity_high),
        "heat_capacity_mj_m3_k": round_one(held.heat_capacity / 1e6),
    }
