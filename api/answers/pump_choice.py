"""From pumps judged on an array to the response, SI to trade units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.constants import g

from api.answers.decides import decided_pump, fault_of_pump
from api.answers.numbers import round_one, rounded
from api.answers.parts import ARRAY, Object, findings_of, fluid_of, method_of
from api.answers.split import at_pump_of, pump_of
from api.refusals import Place
from hydraulics.job import Job
from hydraulics.pumps.benchmarks import Tolerance
from hydraulics.pumps.checks import least_inlet, most_power, of_best
from hydraulics.pumps.findings import gives_at_high
from hydraulics.pumps.installed import as_set
from hydraulics.pumps.on_array import METHOD, candidate_curve
from hydraulics.pumps.result import ArrayCondition, PumpsOnArray
from hydraulics.pumps.running import OperatingPoint
from hydraulics.pumps.selection import ConditionResult, Selection
from hydraulics.split.result import FlowSplit

INVENTED_NOTICE: Final = (
    "Invented for demonstration: no maker sells these pumps and no test stands behind their "
    "numbers. Never choose a pump by them."
)


def _condition_of(each: ArrayCondition, duty_flow: float) -> Object:
    condition = each.condition
    system, brine = condition.system, each.network.fluids[1]
    weight = brine.density * g
    points = rounded(np.stack((system.flow * 1e3, system.head * weight / 1e3, system.head), axis=1))
    return {
        "condition": condition.name,
        "to_ground_c": round_one(each.to_ground_temperature),
        "from_ground_c": round_one(each.from_ground_temperature),
        "fluid": fluid_of(brine),
        "kinematic_viscosity_mm2_s": round_one(condition.fluid.viscosity * 1e6),
        "run_h": round_one(condition.run_hours),
        "duty_head_m": round_one(system.head_at(duty_flow)),
        "system_curve": [
            {"flow_l_s": flow, "head_kpa": pressure, "head_m": head}
            for flow, pressure, head in points
        ],
    }


def _point_of(point: OperatingPoint) -> Object:
    correction = point.correction
    said: Object = {
        "flow_l_s": round_one(point.flow * 1e3),
        "head_m": round_one(point.head),
        "power_w": round_one(point.power),
        "hydraulic_power_w": round_one(point.hydraulic_power),
        "efficiency_percent": round_one(point.efficiency * 1e2),
        "speed_rpm": round_one(point.speed),
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


def _result_of(selection: Selection, result: ConditionResult, each: ArrayCondition) -> Object:
    said: Object = {"condition": result.name}
    if result.point is None:
        return {**said, "reason": result.reason}
    said |= _point_of(result.point)
    weakest, strongest = result.flow_band
    for name, value, factor in (
        ("flow_margin_percent", result.flow_margin_percent, 1.0),
        ("head_margin_percent", result.head_margin_percent, 1.0),
        ("min_flow_l_s", weakest, 1e3),
        ("max_flow_l_s", strongest, 1e3),
        ("of_best_flow_percent", of_best(selection, result, each), 1e2),
        ("max_power_w", most_power(selection, result, each), 1.0),
        ("min_inlet_kpa", least_inlet(selection, result, each), 1e-3),
        ("energy_kwh", result.energy_kwh, 1.0),
    ):
        if value is not None:
            # To a millionth: what the root finder leaves is no news.
            said[name] = round_one(round(value * factor, 6))
    return said


def _ranked_of(
    selection: Selection,
    where: str | None,
    conditions: Sequence[ArrayCondition],
    split: FlowSplit,
) -> Object:
    candidate = selection.candidate
    pump = candidate.pump
    said: Object = {
        "name": pump.name,
        **({"where": where} if where is not None else {}),
        "invented": where is None,
        "control": candidate.control,
        "parallel": candidate.parallel,
        "series": candidate.series,
    }
    if selection.speed is not None:
        said["speed_rpm"] = round_one(selection.speed)
    said |= {
        "meets_duty": selection.meets_duty,
        **({} if (high := gives_at_high(selection, split)) is None else {"meets_high_head": high}),
        "reasons": list(selection.reasons),
        "conditions": [
            _result_of(selection, result, each)
            for result, each in zip(selection.conditions, conditions, strict=True)
        ],
    }
    if selection.energy_kwh is not None:
        said["energy_kwh"] = round_one(selection.energy_kwh)
    if (benchmark := selection.benchmark) is not None:
        said["benchmark"] = {
            "power_per_heat_w_kw": round_one(benchmark.power_per_heat * 1e3),
            "horsepower_per_100_tons": round_one(benchmark.hp_per_100_tons),
            "source": benchmark.source,
        }
    if selection.conditions[0].point is not None:
        curve = candidate_curve(selection, conditions[0].condition)
        rows = rounded(
            np.stack((curve.flow * 1e3, curve.head, curve.power, curve.low, curve.high), axis=1)
        )
        names = ("flow_l_s", "head_m", "power_w", "min_head_m", "max_head_m")
        said["curve"] = [dict(zip(names, row, strict=True)) for row in rows]
        decided = decided_pump(as_set(selection, split))
        if not fault_of_pump(decided):
            said["decides"] = {"pump": decided}
    return said


def _split_at(each: ArrayCondition, root: Place) -> list[Object]:
    """SplitAtPumpSchema's object, or nothing where the pump has no operating point."""
    if each.at_pump is None:
        return []
    duty = each.at_pump.duty
    return [
        {
            "condition": each.condition.name,
            "flow_l_s": round_one(duty.volume_flow * 1e3),
            "head_m": round_one(duty.head),
            **at_pump_of(each, root),
        }
    ]


def _acceptance_of(tolerance: Tolerance) -> Object:
    return {
        "grade": tolerance.grade,
        "min_flow_percent": round_one(tolerance.flow_low * 1e2),
        "max_flow_percent": round_one(tolerance.flow_high * 1e2),
        "min_head_percent": round_one(tolerance.head_low * 1e2),
        "max_head_percent": round_one(tolerance.head_high * 1e2),
        "source": tolerance.source,
    }


def pump_choice_of(result: PumpsOnArray, job: Job, *, root: Place = ARRAY) -> Object:
    """PumpChoiceAnswerSchema's object of a result, but for the job's name.

    Parameters
    ----------
    result
        The engine's result.
    job
        What it was asked for.
    root
        Where the array stands.
    """
    assert job.mixture is not None, "no pump is chosen without a mixture"
    split = result.split
    pumps = []
    for selection, place in zip(result.selections, result.places, strict=True):
        where = f"/pump_choice/candidates/{place}" if place < result.own else None
        pumps.append(_ranked_of(selection, where, result.conditions, split))
    if splits := [made for each in result.conditions for made in _split_at(each, root)]:
        pumps[0]["splits"] = splits
    return {
        "pump": pump_of(split),
        "conditions": [_condition_of(each, split.pump.volume_flow) for each in result.conditions],
        "pumps": pumps,
        "set_aside": [
            {
                "name": each.name,
                "where": f"/pump_choice/candidates/{each.place}",
                "reasons": list(each.reasons),
            }
            for each in result.set_aside
        ],
        "acceptance": _acceptance_of(result.selections[0].tolerance),
        "findings": findings_of((*split.findings, *result.findings), root),
        "cautions": list(split.cautions),
        "method": {"pumps": METHOD, **method_of(job.mixture)},
    }
