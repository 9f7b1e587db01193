"""From the engine's ways to balance to the response, SI to trade units."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from api.answers.flow_split import findings_of, flow_split_of
from api.answers.numbers import round_one, rounded
from hydraulics.balancing.heat_cost import ImbalanceHeat
from hydraulics.balancing.other_pipe import Candidate
from hydraulics.balancing.result import Balancing, Way
from hydraulics.balancing.valves import ValveSettings
from hydraulics.split.result import CirculatingDuty
from hydraulics.split.target_flows import Reached

JOULES_PER_KWH: Final = 3.6e6
Array = NDArray[np.float64]


def _table(names: Iterable[str], columns: dict[str, Array]) -> list[dict[str, Any]]:
    """Objects of one loop each, from columns of numbers."""
    keys = tuple(columns)
    rows = rounded(np.stack(tuple(columns.values()), axis=1))
    return [
        {"loop": name, **dict(zip(keys, row, strict=True))}
        for name, row in zip(names, rows, strict=True)
    ]


def _percent(fraction: Array) -> Array:
    """Per cent, to a millionth: the solver's rounding is no news."""
    return np.round(fraction * 1e2, 6)


def _duty_of(duty: CirculatingDuty, result: Balancing) -> dict[str, Any]:
    return {
        "flow_l_s": round_one(duty.volume_flow * 1e3),
        "head_kpa": round_one(duty.pressure / 1e3),
        "head_m": round_one(duty.head),
        "hydraulic_power_w": round_one(duty.hydraulic_power),
        "energy_kwh": round_one(result.yearly_energy(duty) / JOULES_PER_KWH),
    }


def _spread(reached: Reached) -> float:
    return round_one(round(reached.spread * 1e2, 6))


def _judged(reached: Reached) -> dict[str, Any]:
    return {"within_tolerance": reached.within_tolerance, "spread_percent": _spread(reached)}


def _settings_of(names: tuple[str, ...], settings: ValveSettings) -> list[dict[str, Any]]:
    columns = {
        "loss_coefficient": settings.coefficient,
        "bore_mm": settings.bore * 1e3,
        "pressure_drop_kpa": settings.drop / 1e3,
        "authority_percent": settings.authority * 1e2,
        "reynolds_factor": settings.reynolds_factor,
    }
    rows = _table(names, columns)
    finite = np.isfinite(settings.kv)
    kv = rounded(np.where(finite, settings.kv, 0.0))
    opening = rounded(np.where(finite, settings.opening, 0.0) * 1e3)
    for number, row in enumerate(rows):
        row["fully_open"] = number == settings.index_loop
        if finite[number]:
            row |= {"kv_m3_h": kv[number], "opening_mm": opening[number]}
        if settings.position is not None and settings.position_kv is not None:
            row["position"] = round_one(float(settings.position[number]))
            row["position_kv_m3_h"] = round_one(float(settings.position_kv[number]))
    return rows


def _tried_of(tried: Iterable[Candidate], result: Balancing) -> list[dict[str, Any]]:
    return [
        {
            "changes": [{"old": old.name, "new": new.name} for old, new in each.changes],
            **_judged(each.reached),
            "pump_duty": _duty_of(each.reached.duty, result),
        }
        for each in tried
    ]


def _way_of(way: Way, result: Balancing, density: float) -> dict[str, Any]:
    said: dict[str, Any] = {"way": way.kind, "verdict": way.verdict, "reason": way.reason}
    reached = way.reached
    if reached is not None:
        said |= {
            "spread_percent": _spread(reached),
            "loops": _table(
                result.names,
                {
                    "flow_l_s": reached.mass_flow / density * 1e3,
                    "deviation_percent": _percent(reached.deviation),
                },
            ),
            "pump_duty": _duty_of(reached.duty, result),
            "power_change_w": round_one(way.power_change),
            "energy_change_kwh": round_one(way.energy_change / JOULES_PER_KWH),
            "valves": way.valves,
            "pipes": [
                {"part": each.part, "pipe": each.pipe.name, "length_m": round_one(each.length)}
                for each in way.pipes
            ],
            "contents_change_l": round_one(way.volume_change * 1e3),
        }
    if way.settings is not None:
        said["settings"] = _settings_of(result.names, way.settings)
    if way.exact is not None:
        said["exact"] = _judged(way.exact)
    if way.spare_length is not None:
        said["spare_pipe"] = _table(result.names, {"length_m": way.spare_length})
    if way.candidates:
        said["tried"] = _tried_of(way.candidates, result)
    return {**said, "findings": findings_of(way.findings)}


def _heat_cost_of(names: tuple[str, ...], cost: ImbalanceHeat) -> dict[str, Any]:
    actual, target = cost.actual, cost.target
    loops = _table(
        names,
        {
            "conductance_w_m_k": actual.conductance_per_metre,
            "effectiveness": actual.effectiveness,
            "leaving_temperature_c": actual.leaving_temperature,
            "heat_w": actual.heat,
            "heat_at_target_w": target.heat,
        },
    )
    for row, laminar in zip(loops, actual.laminar.tolist(), strict=True):
        row["laminar"] = laminar
    return {
        "heat_as_it_is_w": round_one(actual.total_heat),
        "heat_at_target_w": round_one(target.total_heat),
        "heat_lost_w": round_one(cost.heat_lost),
        "heat_lost_percent": round_one(cost.share_lost * 1e2),
        "temperature_cost_k": round_one(cost.temperature_cost),
        "return_temperature_c": round_one(actual.return_temperature),
        "return_temperature_at_target_c": round_one(target.return_temperature),
        "loops": loops,
        "model": cost.model,
        "limits": list(cost.limits),
    }


def balancing_of(
    result: Balancing, cost: ImbalanceHeat | None, name: str | None, kind: str, target: str
) -> dict[str, Any]:
    """BalancingResponseSchema's object of a result.

    Parameters
    ----------
    result
        The ways to balance.
    cost
        What the imbalance costs in heat, or None.
    name
        Name of the job, or None.
    kind
        Kind of antifreeze.
    target
        Target as the request names it.

    Returns
    -------
    dict
        The response.
    """
    split = flow_split_of(result.split, None, kind)
    density = result.split.fluids[1].density
    before = result.before
    return {
        **({"name": name} if name else {}),
        "target": target,
        "tolerance_percent": round_one(result.tolerance * 1e2),
        "pump_efficiency_percent": round_one(result.pump_efficiency * 1e2),
        "run_hours": round_one(result.run_hours),
        "as_it_is": {
            "fluid": split["fluid"],
            "loops": split["loops"],
            "imbalance": split["imbalance"],
            **_judged(before),
            "pump_duty": _duty_of(before.duty, result),
            "residuals": split["residuals"],
        },
        "targets": _table(
            result.names,
            {
                "target_flow_l_s": result.target / density * 1e3,
                "flow_l_s": before.mass_flow / density * 1e3,
                "deviation_percent": _percent(before.deviation),
            },
        ),
        "ways": [_way_of(way, result, density) for way in result.ways],
        **({"heat_cost": _heat_cost_of(result.names, cost)} if cost is not None else {}),
        "findings": split["findings"],
        "cautions": split["cautions"],
        "method": {"balancing": result.method, **split["method"]},
    }
