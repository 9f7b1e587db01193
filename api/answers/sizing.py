"""From a sized array to the response, SI to trade units, and to the request of the next step."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from api.answers.flow_split import findings_of
from api.answers.next_request import circuit_request, duty_request
from api.answers.numbers import round_one, rounded
from api.version import VERSION
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.sizing.array import METHODS
from hydraulics.sizing.heat_load import MONTH_SECONDS
from hydraulics.sizing.result import ArraySizing
from hydraulics.split.flow_split import FRICTION_METHOD

Object = dict[str, Any]

_JOULES_PER_KWH: Final = 3.6e6


def _known(values: Mapping[str, float | None]) -> Object:
    """Rounded values; those that are not known, or infinite, are left out."""
    return {
        name: round_one(value)
        for name, value in values.items()
        if value is not None and math.isfinite(value)
    }


def _draw_of(sizing: ArraySizing) -> Object:
    draw = sizing.draw
    return {
        "peak_kw": round_one(draw.peak / 1e3),
        "peak_hours": round_one(draw.peak_hours),
        "annual_kwh": round_one(draw.annual / _JOULES_PER_KWH),
        "full_hours": round_one(draw.full_hours),
        "monthly_kwh": rounded([w * MONTH_SECONDS / _JOULES_PER_KWH for w in draw.monthly]),
        "profile": draw.profile,
    }


def _loop_of(sizing: ArraySizing) -> Object:
    flow = sizing.hydraulics
    return {
        "length_m": round_one(sizing.length_each),
        "pipe_m": round_one(sizing.loop.pipe_length),
        "flow_l_s": round_one(flow.volume_flow * 1e3),
        "velocity_m_s": round_one(flow.velocity),
        "reynolds": round_one(flow.reynolds),
        "pressure_drop_kpa": round_one(flow.drop / 1e3),
    }


def _extraction_of(sizing: ArraySizing) -> Object:
    return {
        "peak_w_m": round_one(sizing.peak_per_metre),
        "annual_kwh_m": round_one(sizing.annual_per_metre / _JOULES_PER_KWH),
        "peak_pipe_w_m": round_one(sizing.peak_per_metre_of_pipe),
        "annual_pipe_kwh_m": round_one(sizing.annual_per_metre_of_pipe / _JOULES_PER_KWH),
    }


def _resistance_of(sizing: ArraySizing) -> Object:
    found = sizing.resistance
    return _known(
        {
            "film_m_k_w": found.film,
            "wall_m_k_w": found.wall,
            "borehole_local_m_k_w": found.borehole_local,
            "borehole_effective_m_k_w": found.borehole_effective,
            "water_film_m_k_w": found.water_film,
        }
    )


def _temperatures_of(sizing: ArraySizing) -> Object:
    """Brine month by month, year by year and over the whole life; nothing for a pond."""
    returning, going = sizing.returning, sizing.going
    if returning is None or going is None:
        return {}
    months: Any = (sizing.coldest_return_by_month, sizing.coldest_going_by_month)
    years: Any = (sizing.coldest_return_by_year, going.min(axis=1))
    return {
        "by_month": [
            {"month": number, "return_c": back, "going_c": out}
            for number, (back, out) in enumerate(zip(*map(rounded, months), strict=True), 1)
        ],
        "by_year": [
            {"year": number, "return_c": back, "going_c": out}
            for number, (back, out) in enumerate(zip(*map(rounded, years), strict=True), 1)
        ],
        "history": {
            "first_month": sizing.draw.first_month,
            "return_c": rounded(returning.ravel()),
            "going_c": rounded(going.ravel()),
        },
    }


def _limiting_of(sizing: ArraySizing) -> Object:
    found = sizing.limiting
    if found is None:
        return {}
    return {
        "limiting_load": {
            "year": found.year,
            "month": found.month,
            "undisturbed_c": round_one(found.undisturbed),
            "fall_from_months_k": round_one(found.fall_from_months),
            "fall_from_peak_k": round_one(found.fall_from_peak),
            "fall_through_pipe_k": round_one(found.fall_through_pipe),
            "rise_of_brine_k": round_one(found.rise_of_brine),
            "governs": found.governs,
        }
    }


def _origin_of(sizing: ArraySizing) -> Object:
    surface, store = sizing.surface_energy, sizing.store_energy
    if surface is None or store is None:
        return {}
    return {
        "heat_origin": {
            "through_surface_kwh": round_one(surface / _JOULES_PER_KWH),
            "from_store_kwh": round_one(store / _JOULES_PER_KWH),
        }
    }


def _site_of(sizing: ArraySizing) -> Object:
    use = sizing.site
    return {
        **_known(
            {
                "length_m": use.length,
                "width_m": use.width,
                "area_needed_m2": use.area_needed,
                "area_available_m2": use.area_available,
                "trench_needed_m": use.trench_needed,
                "trench_available_m": use.trench_available,
            }
        ),
        **({} if use.fits is None else {"fits": use.fits}),
    }


def flow_split_request_of(
    sizing: ArraySizing, antifreeze: Mapping[str, Any], name: str | None
) -> Object:
    """Request of POST /v1/flow-split for the array that a sizing proposes.

    Parameters
    ----------
    sizing
        The engine's result.
    antifreeze
        As the request gave it.
    name
        Name of the job, or None.
    """
    duty = {field: round_one(value) for field, value in duty_request(sizing.duty).items()}
    return {
        **({"name": name} if name else {}),
        "antifreeze": dict(antifreeze),
        "duty": duty,
        "array": circuit_request(sizing.circuit),
    }


def array_sizing_of(sizing: ArraySizing, antifreeze: Mapping[str, Any], name: str | None) -> Object:
    """ArraySizingResponseSchema's object of a result.

    Parameters
    ----------
    sizing
        The engine's result.
    antifreeze
        As the request gave it.
    name
        Name of the job, or None.

    Returns
    -------
    dict
        The response. What is not known or infinite is left out; a finding says why.
    """
    sensitivity = sizing.sensitivity
    return {
        **({"name": name} if name else {}),
        "kind": sizing.kind,
        "basis": sizing.basis,
        "metre": sizing.metre,
        "ground_draw": _draw_of(sizing),
        **_known({"needed_length_m": sizing.needed_length}),
        "total_length_m": round_one(sizing.total_length),
        "loops": sizing.loops,
        "loop": _loop_of(sizing),
        "pipe_total_m": round_one(sizing.pipe_total),
        "extraction": _extraction_of(sizing),
        "resistance": _resistance_of(sizing),
        "coldest_return_c": round_one(sizing.coldest_return),
        "coldest_going_c": round_one(sizing.coldest_going),
        "least_return_c": round_one(sizing.limit),
        "margin_k": round_one(sizing.margin),
        "coldest_ground_c": round_one(sizing.coldest_ground),
        **_temperatures_of(sizing),
        **_limiting_of(sizing),
        **_origin_of(sizing),
        "site": _site_of(sizing),
        "sensitivity": {
            "of": sensitivity.of,
            **_known(
                {
                    "length_if_worse_m": sensitivity.length_if_worse,
                    "length_if_better_m": sensitivity.length_if_better,
                }
            ),
        },
        "flow_split_request": flow_split_request_of(sizing, antifreeze, name),
        "findings": findings_of(sizing.findings),
        "cautions": list(sizing.cautions),
        "notes": list(sizing.notes),
        "method": {
            "sizing": METHODS[sizing.metre],
            "friction": FRICTION_METHOD,
            "properties": KINDS[antifreeze["kind"]].source,
            "version": VERSION,
        },
    }
