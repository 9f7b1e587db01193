"""From a sized array to the response, SI to trade units, and to the request of the next step."""

from __future__ import annotations

from typing import Any

from api.answers.decides import decided_array, decided_duty
from api.answers.numbers import JOULES_PER_KWH, known, round_one, rounded
from api.answers.parts import DECIDED, Object, findings_of, method_of
from hydraulics.ground.temperature import MONTH_SECONDS
from hydraulics.job import Job
from hydraulics.sizing.array import METHODS
from hydraulics.sizing.result import ArraySizing


def _draw_of(sizing: ArraySizing) -> Object:
    draw = sizing.draw
    return {
        "peak_kw": round_one(draw.peak / 1e3),
        "peak_h": round_one(draw.peak_hours),
        "annual_draw_kwh": round_one(draw.annual / JOULES_PER_KWH),
        "full_h": round_one(draw.full_hours),
        "monthly_draw_kwh": rounded([w * MONTH_SECONDS / JOULES_PER_KWH for w in draw.monthly]),
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
        "drop_kpa": round_one(flow.drop / 1e3),
    }


def _extraction_of(sizing: ArraySizing) -> Object:
    return {
        "peak_w_m": round_one(sizing.peak_per_metre),
        "annual_kwh_m": round_one(sizing.annual_per_metre / JOULES_PER_KWH),
        "peak_pipe_w_m": round_one(sizing.peak_per_metre_of_pipe),
        "annual_pipe_kwh_m": round_one(sizing.annual_per_metre_of_pipe / JOULES_PER_KWH),
    }


def _resistance_of(sizing: ArraySizing) -> Object:
    found = sizing.resistance
    return known(
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
            {"month": number, "from_ground_c": back, "to_ground_c": out}
            for number, (back, out) in enumerate(zip(*map(rounded, months), strict=True), 1)
        ],
        "by_year": [
            {"year": number, "from_ground_c": back, "to_ground_c": out}
            for number, (back, out) in enumerate(zip(*map(rounded, years), strict=True), 1)
        ],
        "history": {
            "first_month": sizing.draw.first_month,
            "from_ground_c": rounded(returning.ravel()),
            "to_ground_c": rounded(going.ravel()),
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
            "through_surface_kwh": round_one(surface / JOULES_PER_KWH),
            "from_store_kwh": round_one(store / JOULES_PER_KWH),
        }
    }


def _site_of(sizing: ArraySizing) -> Object:
    use = sizing.site
    return {
        **known(
            {
                "length_m": use.length,
                "width_m": use.width,
                "area_m2": use.area_needed,
                "plot_m2": use.area_available,
                "trench_m": use.trench_needed,
                "max_trench_m": use.trench_available,
            }
        ),
        **({} if use.fits is None else {"fits": use.fits}),
    }


def sizing_of(sizing: ArraySizing, job: Job) -> Object:
    """SizingAnswerSchema's object of a result, but for the job's name.

    What is not known or infinite is left out; a finding says why.
    """
    assert job.mixture is not None, "nothing is sized without a mixture"
    sensitivity = sizing.sensitivity
    return {
        "kind": sizing.kind,
        "sized_by": sizing.basis,
        "per": sizing.metre,
        "ground_draw": _draw_of(sizing),
        **known({"needed_m": sizing.needed_length}),
        "length_m": round_one(sizing.total_length),
        "loop_count": sizing.loops,
        "each_loop": _loop_of(sizing),
        "pipe_m": round_one(sizing.pipe_total),
        "extraction": _extraction_of(sizing),
        "resistance": _resistance_of(sizing),
        "min_from_ground_c": round_one(sizing.coldest_return),
        "min_to_ground_c": round_one(sizing.coldest_going),
        "from_ground_limit_c": round_one(sizing.limit),
        "from_ground_margin_k": round_one(sizing.margin),
        "min_ground_c": round_one(sizing.coldest_ground),
        **_temperatures_of(sizing),
        **_limiting_of(sizing),
        **_origin_of(sizing),
        "land": _site_of(sizing),
        "sensitivity": {
            "input": sensitivity.of,
            **known(
                {
                    "max_length_m": sensitivity.longest,
                    "min_length_m": sensitivity.shortest,
                }
            ),
        },
        "decides": {
            "array": decided_array(sizing.circuit),
            "duty": decided_duty(sizing.duty),
        },
        "findings": findings_of(sizing.findings, DECIDED),
        "cautions": list(sizing.cautions),
        "notes": list(sizing.notes),
        "method": {"sizing": METHODS[sizing.metre], **method_of(job.mixture)},
    }
