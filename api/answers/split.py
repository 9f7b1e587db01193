"""From a flow split to its answer: SI to trade units, six significant digits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from api.answers.numbers import one_percent, percent, round_one, rounded
from api.answers.parts import (
    ARRAY,
    Object,
    Wanted,
    branch_pointer,
    built,
    duty_of,
    findings_of,
    fluid_of,
    method_of,
)
from api.refusals import Json, Place
from hydraulics.fluid.mixture import Mixture
from hydraulics.job import Job
from hydraulics.layout.walk import closed_loops
from hydraulics.pumps.result import ArrayCondition, PumpsOnArray
from hydraulics.split.result import REGIMES, FlowSplit

TARGETS: Final = {"even": "even", "length": "by_length"}


def loops_of(result: FlowSplit, root: Place) -> list[Object]:
    """Every loop's flow and drop."""
    table = result.loops
    # A counted branch gives many loops with one place, so places repeat in runs.
    pointers: dict[Sequence[int], str] = {}
    for place in table.places:
        if place not in pointers:
            pointers[place] = branch_pointer(place, root)
    regimes = [REGIMES[code] for code in table.regime.tolist()]
    # One call for all columns: on a small array the calls cost more than the rounding.
    columns = rounded(
        np.stack(
            (
                table.length,
                table.coiled_length,
                table.volume_flow * 1e3,
                table.mass_flow,
                table.target_flow * 1e3,
                table.share * 1e2,
                percent(table.deviation),
                percent(table.deviation_by_length),
                table.velocity,
                table.reynolds,
                table.drop / 1e3,
                (table.drop + table.header_drop) / 1e3,
                table.straight_drop / 1e3,
                table.coil_drop / 1e3,
                table.fittings_drop / 1e3,
                table.header_drop / 1e3,
            )
        )
    )
    return [
        {
            "loop": name,
            "where": pointers[place],
            "length_m": length,
            "coiled_m": coiled,
            "flow_l_s": flow,
            "mass_flow_kg_s": mass,
            "target_flow_l_s": target,
            "share_percent": share,
            "deviation_percent": deviation,
            "deviation_by_length_percent": by_length,
            "velocity_m_s": velocity,
            "reynolds": reynolds,
            "regime": regime,
            "drop_kpa": drop,
            "path_drop_kpa": path,
            "drops": {
                "straight_drop_kpa": straight,
                "coil_drop_kpa": coil,
                "fittings_drop_kpa": fittings,
                "headers_drop_kpa": headers,
            },
        }
        for (
            name, place, regime, length, coiled, flow, mass, target, share, deviation, by_length,
            velocity, reynolds, drop, path, straight, coil, fittings, headers,
        ) in zip(table.names, table.places, regimes, *columns, strict=True)
    ]  # fmt: skip


def closed_of(result: FlowSplit, root: Place) -> list[Object]:
    """Loops in which nothing flows because a valve shuts them."""
    return [
        {
            "loop": each.name,
            "where": branch_pointer(each.place, root),
            "count": each.count,
            "length_m": round_one(each.loop.length),
        }
        for each in closed_loops(result.circuit)
        if each.loop is not None
    ]


def headers_of(result: FlowSplit, root: Place) -> list[Object]:
    """Every stretch of header with its pipe, flow and drop."""
    listed = result.headers
    if not listed.lines:
        return []
    pointers = {place: branch_pointer(place, root) for place in dict.fromkeys(listed.places)}
    columns = rounded(
        np.stack((listed.length, listed.volume_flow * 1e3, listed.velocity, listed.drop / 1e3))
    )
    return [
        {
            "branch": branch,
            "where": pointers[place],
            "line": line,
            "pipe": pipe.name,
            "length_m": length,
            "flow_l_s": flow,
            "velocity_m_s": velocity,
            "drop_kpa": drop,
        }
        for branch, place, line, pipe, length, flow, velocity, drop in zip(
            listed.branches, listed.places, listed.lines, listed.pipes, *columns, strict=True
        )
    ]


def imbalance_of(result: FlowSplit, wanted: Wanted = None) -> Object | None:
    """How uneven the split is, as far as it is wanted; None where nothing flows."""
    judged = result.imbalance
    if judged is None:
        return None
    names = result.loops.names
    return {
        "within_tolerance": judged.within_tolerance,
        "target": TARGETS[result.target] if isinstance(result.target, str) else "shares",
        "max_deviation_percent": round_one(judged.tolerance * 1e2),
        "spread_percent": one_percent(judged.spread),
        "min_share_loop": names[judged.most_starved],
        "index_loop": names[judged.index_loop],
        **built({"causes": lambda: list(judged.causes)}, wanted),
        **built({"remedies": lambda: list(judged.remedies)}, wanted),
    }


def pump_of(result: FlowSplit) -> Object:
    """What the circulating pump must do, and where its head goes."""
    pump = result.pump
    return {
        **duty_of(pump),
        "mass_flow_kg_s": round_one(pump.mass_flow),
        "head_high_kpa": round_one(result.high.pressure / 1e3),
        "heat_kw": round_one(result.heat / 1e3),
        "drops": {
            "array_drop_kpa": round_one(pump.array_drop / 1e3),
            "runs_drop_kpa": round_one(pump.run_drop / 1e3),
            "heat_exchanger_drop_kpa": round_one(pump.exchanger_drop / 1e3),
        },
    }


def split_of(
    result: FlowSplit,
    job: Job,
    *,
    root: Place = ARRAY,
    running: PumpsOnArray | None = None,
    wanted: Wanted = None,
) -> Object:
    """SplitAnswerSchema's object of a result, but for the job's name.

    Parameters
    ----------
    result
        The engine's result.
    job
        What it was asked for.
    root
        Where the array stands.
    running
        The pump that runs on the array; None where none was decided.
    wanted
        What of it is asked.
    """
    parts: dict[str, Callable[[], Json]] = {
        "fluid": lambda: _fluids_of(result),
        "loops": lambda: loops_of(result, root),
        "closed_loops": lambda: closed_of(result, root),
        "headers": lambda: headers_of(result, root),
        "imbalance": lambda: imbalance_of(result, wanted),
        "pump": lambda: pump_of(result),
        "system_curve": lambda: _curve_of(result),
        "running": lambda: None if running is None else _running_of(running, result, root),
        "findings": lambda: findings_of(
            (*result.findings, *(running.findings if running is not None else ())), root
        ),
        "cautions": lambda: list(result.cautions),
        "residuals": lambda: _residuals_of(result, root),
        "method": lambda: method_of(_mixture(job)),
    }
    return {name: part for name, part in built(parts, wanted).items() if part is not None}


def _fluids_of(result: FlowSplit) -> Object:
    names = ("to_ground", "in_loops", "from_ground")
    return {name: fluid_of(each) for name, each in zip(names, result.fluids, strict=True)}


def _residuals_of(result: FlowSplit, root: Place) -> Object:
    return {
        "mass_relative": round_one(result.residuals.mass),
        "energy_relative": round_one(result.residuals.energy),
        "max_residual_where": branch_pointer(result.residuals.worst_branch, root),
        "iterations": result.residuals.iterations,
    }


def _curve_of(result: FlowSplit) -> list[Object]:
    curve = result.curve
    columns = (curve.volume_flow * 1e3, curve.pressure / 1e3, curve.head, percent(curve.spread))
    points = rounded(np.stack(columns, axis=1))
    return [
        {"flow_l_s": flow, "head_kpa": pressure, "head_m": head, "spread_percent": spread}
        for flow, pressure, head, spread in points
    ]


def _mixture(job: Job) -> Mixture:
    assert job.mixture is not None, "nothing is split without a mixture"
    return job.mixture


def at_pump_of(each: ArrayCondition, root: Place) -> Object:
    """Flow split that a pump drives in one condition; nothing where it has no operating point."""
    at_pump, network = each.at_pump, each.network
    if at_pump is None:
        return {}
    flow = at_pump.mass_flow / network.fluids[1].density * 1e3
    rows = rounded(np.stack((flow, percent(at_pump.deviation)), axis=1))
    return {
        "within_tolerance": at_pump.within_tolerance,
        "spread_percent": one_percent(at_pump.spread),
        "loops": [
            {
                "loop": name,
                "where": branch_pointer(place, root),
                "flow_l_s": each_flow,
                "deviation_percent": deviation,
            }
            for name, place, (each_flow, deviation) in zip(
                network.names, network.places, rows, strict=True
            )
        ],
    }


def _running_of(running: PumpsOnArray, result: FlowSplit, root: Place) -> list[Object]:
    """PumpRunningSchema's objects: what the one pump drives, cold and warm."""
    found = []
    for each, judged in zip(running.conditions, running.selections[0].conditions, strict=True):
        said: Object = {"condition": judged.name}
        point = judged.point
        if point is None:
            found.append({**said, "reason": judged.reason})
            continue
        said |= {
            "flow_l_s": round_one(point.flow * 1e3),
            "head_m": round_one(point.head),
            "power_w": round_one(point.power),
            "hydraulic_power_w": round_one(point.hydraulic_power),
            "speed_rpm": round_one(point.speed),
        }
        if judged.energy_kwh is not None:
            said["energy_kwh"] = round_one(judged.energy_kwh)
        if judged.name == "cold" and result.heat and point.flow > 0.0:
            brine = each.network.fluids[1]
            capacity = point.flow * brine.density * brine.specific_heat
            said["temperature_change_k"] = round_one(result.heat / capacity)
        found.append(said | at_pump_of(each, root))
    return found
