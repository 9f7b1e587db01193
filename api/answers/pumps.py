"""From pumps judged on an array to the response, SI to trade units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from scipy.constants import g

from api.answers.flow_split import branch_pointer, findings_of, flow_split_of, fluid_of
from api.answers.numbers import round_one, rounded
from hydraulics.pumps.benchmarks import Tolerance
from hydraulics.pumps.curve import Pump
from hydraulics.pumps.on_array import METHOD, ArrayCondition, PumpsOnArray, candidate_curve
from hydraulics.pumps.running import OperatingPoint
from hydraulics.pumps.selection import Candidate, ConditionResult, Selection

INVENTED_NOTICE: Final = (
    "Invented for demonstration: no maker sells these pumps and no test stands behind their "
    "numbers. Never choose a pump by them."
)


def _condition_of(each: ArrayCondition, duty_flow: float) -> dict[str, Any]:
    condition = each.condition
    system, brine = condition.system, each.network.fluids[1]
    weight = brine.density * g
    points = rounded(np.stack((system.flow * 1e3, system.head * weight / 1e3, system.head), axis=1))
    return {
        "condition": condition.name,
        "to_ground_temperature_c": round_one(each.to_ground_temperature),
        "from_ground_temperature_c": round_one(each.from_ground_temperature),
        "fluid": fluid_of(brine),
        "kinematic_viscosity_mm2_s": round_one(condition.fluid.viscosity * 1e6),
        "run_hours": round_one(condition.run_hours),
        "head_at_duty_m": round_one(system.head_at(duty_flow)),
        "system_curve": [
            {"flow_l_s": flow, "head_kpa": pressure, "head_m": head}
            for flow, pressure, head in points
        ],
    }


def _point_of(point: OperatingPoint, pump: Pump) -> dict[str, Any]:
    correction = point.correction
    said: dict[str, Any] = {
        "flow_l_s": round_one(point.flow * 1e3),
        "head_m": round_one(point.head),
        "power_w": round_one(point.power),
        "hydraulic_power_w": round_one(point.hydraulic_power),
        "efficiency_percent": round_one(point.efficiency * 1e2),
        "speed_rpm": round_one(pump.rpm(point.speed)),
        "state": point.state,
        "notes": list(point.notes),
    }
    if correction is not None:
        said["viscosity_correction"] = {
            "parameter_b": round_one(correction.parameter_b),
            "flow_factor": round_one(correction.flow_factor),
            "head_factor": round_one(correction.best_head_factor),
            "efficiency_factor": round_one(correction.efficiency_factor),
            "within_tests": correction.within_range,
        }
    return said


def _result_of(result: ConditionResult, pump: Pump) -> dict[str, Any]:
    said: dict[str, Any] = {"condition": result.name}
    if result.point is None:
        return {**said, "reason": result.reason}
    said |= _point_of(result.point, pump)
    weakest, strongest = result.flow_band
    for name, value, factor in (
        ("flow_margin_percent", result.flow_margin_percent, 1.0),
        ("head_margin_percent", result.head_margin_percent, 1.0),
        ("weakest_flow_l_s", weakest, 1e3),
        ("strongest_flow_l_s", strongest, 1e3),
        ("energy_kwh", result.energy_kwh, 1.0),
    ):
        if value is not None:
            # To a millionth: what the root finder leaves is no news.
            said[name] = round_one(round(value * factor, 6))
    return said


def _ranked_of(selection: Selection, where: str | None, cold: ArrayCondition) -> dict[str, Any]:
    candidate = selection.candidate
    pump = candidate.pump
    said: dict[str, Any] = {
        "pump": pump.name,
        **({"where": where} if where is not None else {}),
        "invented": where is None,
        "control": candidate.control,
        "parallel": candidate.parallel,
        "series": candidate.series,
    }
    if selection.speed is not None:
        said["setting_rpm"] = round_one(pump.rpm(selection.speed))
        if pump.speed_unit == "percent":
            said["setting_percent"] = round_one(selection.speed)
    said |= {
        "meets_duty": selection.meets_duty,
        "misses_because": list(selection.reasons),
        "conditions": [_result_of(each, pump) for each in selection.conditions],
    }
    if selection.energy_kwh is not None:
        said["energy_kwh"] = round_one(selection.energy_kwh)
    if (benchmark := selection.benchmark) is not None:
        said["benchmark"] = {
            "power_per_heat_w_kw": round_one(benchmark.w_per_kw),
            "horsepower_per_100_tons": round_one(benchmark.hp_per_100_tons),
            "grade": benchmark.grade,
            "source": benchmark.source,
        }
    if selection.conditions[0].point is not None:
        curve = candidate_curve(selection, cold.condition)
        rows = rounded(
            np.stack((curve.flow * 1e3, curve.head, curve.power, curve.low, curve.high), axis=1)
        )
        names = ("flow_l_s", "head_m", "power_w", "weakest_head_m", "strongest_head_m")
        said["curve"] = [dict(zip(names, row, strict=True)) for row in rows]
    return said


def _split_of(each: ArrayCondition) -> list[dict[str, Any]]:
    """SplitAtPumpSchema's object, or nothing where the pump has no operating point."""
    at_pump = each.at_pump
    if at_pump is None:
        return []
    network = each.network
    rows = rounded(
        np.stack(
            (
                at_pump.mass_flow / network.fluids[1].density * 1e3,
                np.round(at_pump.deviation * 1e2, 6),
            ),
            axis=1,
        )
    )
    return [
        {
            "condition": each.condition.name,
            "flow_l_s": round_one(at_pump.duty.volume_flow * 1e3),
            "head_m": round_one(at_pump.duty.head),
            "within_tolerance": at_pump.within_tolerance,
            "spread_percent": round_one(round(at_pump.spread * 1e2, 6)),
            "loops": [
                {
                    "loop": name,
                    "where": branch_pointer(place),
                    "flow_l_s": flow,
                    "deviation_percent": deviation,
                }
                for name, place, (flow, deviation) in zip(
                    network.names, network.places, rows, strict=True
                )
            ],
        }
    ]


def _tolerance_of(tolerance: Tolerance) -> dict[str, Any]:
    return {
        "grade": tolerance.grade,
        "flow_low_percent": round_one(tolerance.flow_low * 1e2),
        "flow_high_percent": round_one(tolerance.flow_high * 1e2),
        "head_low_percent": round_one(tolerance.head_low * 1e2),
        "head_high_percent": round_one(tolerance.head_high * 1e2),
        "source": tolerance.source,
    }


def pump_selection_of(
    result: PumpsOnArray, own: int, name: str | None, kind: str
) -> dict[str, Any]:
    """PumpSelectionResponseSchema's object of a result.

    Parameters
    ----------
    result
        The engine's result.
    own
        Number of candidates that the request gave; those after them are invented.
    name
        Name of the job, or None.
    kind
        Kind of antifreeze.

    Returns
    -------
    dict
        The response.
    """
    split = flow_split_of(result.split, None, kind)
    cold = result.conditions[0]
    return {
        **({"name": name} if name else {}),
        "pump_duty": split["pump_duty"],
        "conditions": [
            _condition_of(each, result.split.pump.volume_flow) for each in result.conditions
        ],
        "pumps": [
            _ranked_of(selection, f"/candidates/{place}" if place < own else None, cold)
            for selection, place in zip(result.selections, result.places, strict=True)
        ],
        "at_first_pump": [split_ for each in result.conditions for split_ in _split_of(each)],
        "tolerance": _tolerance_of(result.selections[0].tolerance),
        "findings": findings_of(result.findings),
        "cautions": split["cautions"],
        "method": {"pumps": METHOD, **split["method"]},
    }


def candidates_of(candidates: Sequence[Candidate]) -> list[dict[str, Any]]:
    """Candidates as a request would give them.

    Parameters
    ----------
    candidates
        The engine's candidates.

    Returns
    -------
    list of dict
        Objects of RpmCandidateSchema or PercentCandidateSchema.
    """
    return [_candidate_of(each) for each in candidates]


def _candidate_of(candidate: Candidate) -> dict[str, Any]:
    pump = candidate.pump
    unit = "percent" if pump.speed_unit == "percent" else "rpm"
    tables = [
        {
            f"speed_{unit}": round_one(curve.speed),
            **({"label": curve.label} if curve.label else {}),
            "points": [
                {"flow_l_s": flow, "head_m": head, "power_w": power}
                for flow, head, power in rounded(
                    np.stack((curve.flow * 1e3, curve.head, curve.power), axis=1)
                )
            ],
        }
        for curve in pump.curves
    ]
    said: dict[str, Any] = {
        "name": pump.name,
        "stages": pump.stages,
        "control": candidate.control,
        f"tables_by_{unit}": tables,
    }
    if unit == "percent" and pump.rated_speed_rpm is not None:
        said["rated_rpm"] = round_one(pump.rated_speed_rpm)
    if pump.minimum_speed is not None:
        said[f"minimum_{unit}"] = round_one(pump.minimum_speed)
    return said
