"""From a sized array to the response, SI to trade units, and to the request of the next step."""

from __future__ import annotations

from api.answers.decides import decided_array, decided_duty
from api.answers.numbers import JOULES_PER_KWH, known, round_one, rounded
from api.answers.parts import DECIDED, Object, findings_of, method_of
from hydraulics.ground.load_history import Floats
from hydraulics.ground.temperature import MONTH_SECONDS
from hydraulics.job import Job
from hydraulics.sizing.array import METHODS
from hydraulics.sizing.result import ArraySizing


def _draw_of(sizing: ArraySizing) -> Object:
    draw = sizing.draw
    return {
        "peak_kw": round_one(draw.peak / 1e3),
        "peak_h": round_one(draw.peak_hours),
        "annual_draw_kwh": round_one(draw.drawn / JOULES_PER_KWH),
        **(
            {"annual_return_kwh": round_one(draw.put_back / JOULES_PER_KWH)}
            if draw.put_back
            else {}
        ),
        **({"cooling_peak_kw": round_one(draw.cold_peak / 1e3)} if draw.cold_peak else {}),
        "full_h": round_one(draw.full_hours),
        "monthly_draw_kwh": rounded([w * MONTH_SECONDS / JOULES_PER_KWH for w in draw.monthly]),
        "profile": draw.profile,
    }


def _loop_of(sizing: ArraySizing) -> Object:
    flow = sizing.hydraulics
    return {
        "length_m": round_one(sizing.length_each),
        "pipe_m": round_one(sizing.loop.pipe_length),
        **known(
            {
                "coil_m": sizing.coil,
                "leftover_m": sizing.coil and max(sizing.coil - sizing.loop.pipe_length, 0.0),
            }
        ),
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
    history = sizing.history
    if history is None:
        return {}
    warmed = history.warmest_return is not None
    cold, warm = ("from_ground_c", "to_ground_c"), ("max_from_ground_c", "max_to_ground_c")

    def columns(*four: Floats) -> list[tuple[str, list[float]]]:
        names = (*cold, *warm) if warmed else cold
        return [(name, rounded(each)) for name, each in zip(names, four, strict=False)]

    def numbered(key: str, table: list[tuple[str, list[float]]]) -> list[Object]:
        return [
            {key: number + 1, **{name: values[number] for name, values in table}}
            for number in range(len(table[0][1]))
        ]

    months = columns(*history.coldest_by_month, *history.warmest_by_month)
    years = columns(*history.coldest_by_year, *history.warmest_by_year)
    lives = (history.returning, history.going, history.warm_returning, history.warm_going)
    whole = columns(*(each.ravel() for each in lives))
    return {
        "by_month": numbered("month", months),
        "by_year": numbered("year", years),
        "history": {"first_month": history.first_month, **dict(whole)},
        "ground_drift": {
            "over_life_k": round_one(history.drift),
            "last_year_k": round_one(history.last_drift),
        },
        **(
            known(
                {
                    "max_from_ground_c": history.warmest_return,
                    "max_to_ground_c": float(history.warm_going.max()),
                    "max_from_ground_limit_c": sizing.most,
                    "max_from_ground_margin_k": sizing.warm_margin,
                }
            )
            if warmed
            else {}
        ),
    }


def _limiting_of(sizing: ArraySizing) -> Object:
    if sizing.history is None:
        return {}
    found = sizing.history.limiting
    return {
        "limiting_load": {
            "limit": found.limit,
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


def _alternatives_of(sizing: ArraySizing) -> Object:
    return {
        "sensitivity": [
            {
                "input": each.of,
                **known({"max_length_m": each.longest, "min_length_m": each.shortest}),
                **({"less_load": True} if each.less_load else {}),
            }
            for each in sizing.sensitivities
        ],
        "return_limits": [
            {
                "from_ground_c": each.limit,
                **known(
                    {
                        "length_m": each.length,
                        "reynolds": each.reynolds,
                        "concentration_percent": each.strength and 1e2 * each.strength,
                        "performance_percent": each.performance and 1e2 * each.performance,
                    }
                ),
                **({} if each.loops is None else {"loop_count": each.loops}),
            }
            for each in sizing.return_limits
        ],
        "published": [
            {
                "rule": each.rule,
                **known({"length_m": each.length, "area_m2": each.area}),
                "source": each.source,
                "differs": each.differs,
            }
            for each in sizing.published
        ],
    }


def sizing_of(sizing: ArraySizing, job: Job) -> Object:
    """SizingAnswerSchema's object of a result, but for the job's name.

    What is not known or infinite is left out; a finding says why.
    """
    assert job.mixture is not None, "nothing is sized without a mixture"
    return {
        "kind": sizing.kind,
        "sized_by": sizing.basis,
        "per": sizing.metre,
        "ground_draw": _draw_of(sizing),
        **known({"needed_m": sizing.needed_length}),
        "length_m": round_one(sizing.total_length),
        **known({"laid_m": sizing.laid}),
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
        **_alternatives_of(sizing),
        "decides": {
            "array": decided_array(sizing.circuit),
            "duty": decided_duty(sizing.duty),
        },
        "findings": findings_of(sizing.findings, DECIDED),
        "cautions": list(sizing.cautions),
        "notes": list(sizing.notes),
        "method": {"sizing": METHODS[sizing.metre], **method_of(job.mixture)},
    }
