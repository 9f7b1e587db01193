"""From the engine's ways to balance to the response, SI to trade units."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from api.answers.decides import decided_array, fault_of_array, with_run_pipe, without_take
from api.answers.numbers import JOULES_PER_KWH, one_percent, percent, round_one, rounded
from api.answers.parts import ARRAY, Object, duty_of, findings_of, method_of
from api.answers.split import imbalance_of, loops_of
from api.refusals import Place
from hydraulics.balancing.heat_cost import ImbalanceHeat
from hydraulics.balancing.other_pipe import Tried
from hydraulics.balancing.result import Balancing, Way
from hydraulics.balancing.valves import ValveSettings
from hydraulics.job import Job
from hydraulics.split.reached import Reached
from hydraulics.split.result import CirculatingDuty

Array = NDArray[np.float64]


def _table(names: Iterable[str], columns: dict[str, Array]) -> list[Object]:
    """Objects of one loop each, from columns of numbers."""
    keys = tuple(columns)
    rows = rounded(np.stack(tuple(columns.values()), axis=1))
    return [
        {"loop": name, **dict(zip(keys, row, strict=True))}
        for name, row in zip(names, rows, strict=True)
    ]


def _duty_of(duty: CirculatingDuty, result: Balancing) -> Object:
    energy = result.yearly_energy(duty) / JOULES_PER_KWH
    return {**duty_of(duty), "energy_kwh": round_one(energy)}


def _judged(reached: Reached | Tried) -> Object:
    return {
        "within_tolerance": reached.within_tolerance,
        "spread_percent": one_percent(reached.spread),
    }


def _settings_of(
    names: tuple[str, ...], settings: ValveSettings, kv_before: Array | None
) -> list[Object]:
    columns = {
        "loss_coefficient": settings.coefficient,
        "bore_mm": settings.bore * 1e3,
        "drop_kpa": settings.drop / 1e3,
        "authority_percent": settings.authority * 1e2,
        "reynolds_factor": settings.reynolds_factor,
    }
    rows = _table(names, columns)
    finite = np.isfinite(settings.kv)
    kv = rounded(np.where(finite, settings.kv, 0.0))
    opening = rounded(np.where(finite, settings.opening, 0.0) * 1e3)
    for number, row in enumerate(rows):
        row["fully_open"] = bool(settings.fully_open[number])
        if finite[number]:
            row |= {"kv_m3_h": kv[number], "opening_mm": opening[number]}
        if settings.position is not None and settings.position_kv is not None:
            row["position"] = round_one(float(settings.position[number]))
            row["position_kv_m3_h"] = round_one(float(settings.position_kv[number]))
        if kv_before is not None and np.isfinite(kv_before[number]):
            row["kv_before_m3_h"] = round_one(float(kv_before[number]))
    return rows


def _tried_of(tried: Iterable[Tried], result: Balancing) -> list[Object]:
    return [
        {
            "changes": [{"before": old.name, "after": new.name} for old, new in each.changes],
            **_judged(each),
            "pump": _duty_of(each.duty, result),
        }
        for each in tried
    ]


def _way_of(way: Way, result: Balancing, density: float, document: Object, at: Place) -> Object:
    said: Object = {"way": way.kind, "verdict": way.verdict, "reason": way.reason}
    reached = way.reached
    if reached is not None:
        said |= {
            "spread_percent": one_percent(reached.spread),
            "loops": _table(
                result.names,
                {
                    "flow_l_s": reached.mass_flow / density * 1e3,
                    "deviation_percent": percent(reached.deviation),
                },
            ),
            "pump": _duty_of(reached.duty, result),
            "power_change_w": round_one(way.power_change),
            "energy_change_kwh": round_one(way.energy_change / JOULES_PER_KWH),
            "valves": way.valves,
            "pipes": [
                {"part": each.part, "pipe": each.pipe.name, "length_m": round_one(each.length)}
                for each in way.pipes
            ],
            "contents_change_l": round_one(way.volume_change * 1e3),
        }
    if way.heat_gained is not None:
        said["heat_gain_w"] = round_one(way.heat_gained)
    if way.disturbs is not None:
        said["disturbs"] = {"kind": way.disturbs, "extent": way.disturbs_what}
    if way.rank is not None:
        said |= {"rank": way.rank, "rank_reason": way.rank_reason}
    if way.settings is not None:
        said["settings"] = _settings_of(result.names, way.settings, way.kv_before)
    if way.exact is not None:
        said["exact"] = _judged(way.exact)
    if way.spare_length is not None:
        said["spare_pipe"] = _table(result.names, {"length_m": way.spare_length})
    if way.candidates:
        said["tried"] = _tried_of(way.candidates, result)
    if way.circuit is not None:
        array = decided_array(way.circuit)
        if not fault_of_array(array):
            said["decides"] = {
                "array": array,
                **without_take(document),
                **with_run_pipe(array, document),
            }
    # Of the way's own array, which may have equal branches written out.
    own = (*at, "decides", "array")
    findings = way.findings
    if "decides" not in said:
        findings = tuple(replace(each, place=None) for each in findings)
    return {**said, "findings": findings_of(findings, own)}


def _heat_cost_of(names: tuple[str, ...], cost: ImbalanceHeat) -> Object:
    actual, target = cost.actual, cost.target
    loops = _table(
        names,
        {
            "conductance_w_m_k": actual.conductance_per_metre,
            "effectiveness": actual.effectiveness,
            "from_ground_c": actual.leaving_temperature,
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
        "colder_k": round_one(cost.temperature_cost),
        "from_ground_c": round_one(actual.return_temperature),
        "from_ground_at_target_c": round_one(target.return_temperature),
        "loops": loops,
        "model": cost.model,
        "leaves_out": list(cost.limits),
    }


def balancing_of(
    result: Balancing,
    job: Job,
    document: Object,
    cost: ImbalanceHeat | None = None,
    *,
    root: Place = ARRAY,
    at: Place = (),
) -> Object:
    """BalancingAnswerSchema's object of a result, but for the job's name.

    Parameters
    ----------
    result
        The ways to balance.
    job, document
        What it was asked for, and as it was posted.
    cost
        What the imbalance costs in heat, or None.
    root
        Where the array stands.
    at
        Where this chapter stands.
    """
    assert job.mixture is not None, "nothing is balanced without a mixture"
    split = result.split
    density, judged = split.fluids[1].density, imbalance_of(split)
    assert judged is not None, "nothing is balanced where nothing flows"
    return {
        "target": judged["target"],
        "max_deviation_percent": judged["max_deviation_percent"],
        "pump_efficiency_percent": round_one(result.pump_efficiency * 1e2),
        "run_h": round_one(result.run_hours),
        "before": {
            "loops": loops_of(split, root),
            "imbalance": judged,
            "pump": _duty_of(split.pump, result),
        },
        "ways": [
            _way_of(way, result, density, document, (*at, "ways", number))
            for number, way in enumerate(result.ways)
        ],
        "heat_from": result.heat_from,
        **({"heat_cost": _heat_cost_of(result.names, cost)} if cost is not None else {}),
        "findings": findings_of(result.findings, root),
        "cautions": list(split.cautions),
        "method": {"balancing": result.method, **method_of(job.mixture)},
    }
