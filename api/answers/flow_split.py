"""From the engine's results to the response: SI to trade units, six significant digits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from api.answers.numbers import round_one, rounded
from api.refusals import Place, pointer
from api.version import VERSION
from hydraulics.findings import Finding
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Fluid
from hydraulics.split.flow_split import FRICTION_METHOD
from hydraulics.split.result import REGIMES, FlowSplit


def branch_pointer(place: Sequence[int]) -> str:
    """JSON Pointer to a branch of the request by its numbers from the outermost circuit inwards."""
    path: Place = ("array",)
    for depth, number in enumerate(place):
        path = (*path, *(("circuit",) if depth else ()), "branches", number)
    return pointer(path)


def findings_of(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """FindingSchema's objects of findings."""
    return [
        {
            "code": each.code,
            "severity": each.severity,
            **({"where": branch_pointer(each.place)} if each.place is not None else {}),
            "message": each.message,
            "source": each.source,
        }
        for each in findings
    ]


def fluid_of(fluid: Fluid) -> dict[str, float]:
    """FluidSchema's object of a fluid."""
    return {
        "temperature_c": round_one(fluid.temperature_c),
        "density_kg_m3": round_one(fluid.density),
        "viscosity_mpa_s": round_one(fluid.viscosity * 1e3),
        "specific_heat_kj_kg_k": round_one(fluid.specific_heat / 1e3),
        "conductivity_w_m_k": round_one(fluid.conductivity),
        "prandtl": round_one(fluid.prandtl),
        "freezing_point_c": round_one(fluid.freezing_point_c),
    }


def _loops_of(result: FlowSplit) -> list[dict[str, Any]]:
    table = result.loops
    # A counted branch gives many loops with one place, so places repeat in runs.
    pointers: dict[Sequence[int], str] = {}
    for place in table.places:
        if place not in pointers:
            pointers[place] = branch_pointer(place)
    regimes = [REGIMES[code] for code in table.regime.tolist()]
    # One call for all columns: on a small array the calls cost more than the rounding.
    columns = rounded(
        np.stack(
            (
                table.length,
                table.coiled_length,
                table.volume_flow * 1e3,
                table.mass_flow,
                table.share * 1e2,
                _percent(table.deviation),
                _percent(table.deviation_by_length),
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
            "coiled_length_m": coiled,
            "flow_l_s": flow,
            "mass_flow_kg_s": mass,
            "share_percent": share,
            "deviation_percent": deviation,
            "deviation_by_length_percent": by_length,
            "velocity_m_s": velocity,
            "reynolds": reynolds,
            "regime": regime,
            "pressure_drop_kpa": drop,
            "path_drop_kpa": path,
            "breakdown_kpa": {
                "straight": straight,
                "coil": coil,
                "fittings": fittings,
                "headers": headers,
            },
        }
        for (
            name, place, regime, length, coiled, flow, mass, share, deviation, by_length,
            velocity, reynolds, drop, path, straight, coil, fittings, headers,
        ) in zip(table.names, table.places, regimes, *columns, strict=True)
    ]  # fmt: skip


def _percent(fraction: NDArray[np.float64]) -> NDArray[np.float64]:
    """Per cent, to a millionth: what equal loops differ by is the solver's rounding, not news."""
    return np.round(fraction * 1e2, 6)


def _imbalance_of(result: FlowSplit) -> dict[str, Any] | None:
    judged = result.imbalance
    if judged is None:
        return None
    names = result.loops.names
    return {
        "within_tolerance": judged.within_tolerance,
        "tolerance_percent": round_one(judged.tolerance * 1e2),
        "spread_percent": round_one(round(judged.spread * 1e2, 6)),
        "most_starved_loop": names[judged.most_starved],
        "index_loop": names[judged.index_loop],
        "causes": list(judged.causes),
        "remedies": list(judged.remedies),
    }


def _pump_of(result: FlowSplit) -> dict[str, Any]:
    pump = result.pump
    return {
        "flow_l_s": round_one(pump.volume_flow * 1e3),
        "mass_flow_kg_s": round_one(pump.mass_flow),
        "head_kpa": round_one(pump.pressure / 1e3),
        "head_m": round_one(pump.head),
        "heat_from_ground_kw": round_one(result.heat / 1e3),
        "hydraulic_power_w": round_one(pump.hydraulic_power),
        "breakdown_kpa": {
            "array": round_one(pump.array_drop / 1e3),
            "runs": round_one(pump.run_drop / 1e3),
            "heat_exchanger": round_one(pump.exchanger_drop / 1e3),
        },
    }


def flow_split_of(result: FlowSplit, name: str | None, kind: str) -> dict[str, Any]:
    """FlowSplitResponseSchema's object of a result.

    Parameters
    ----------
    result
        The engine's result.
    name
        Name of the job, or None.
    kind
        Kind of antifreeze.

    Returns
    -------
    dict
        The response.
    """
    to_ground, in_loops, from_ground = result.fluids
    imbalance = _imbalance_of(result)
    curve = result.curve
    points = rounded(np.stack((curve.volume_flow * 1e3, curve.pressure / 1e3, curve.head), axis=1))
    return {
        **({"name": name} if name else {}),
        "fluid": fluid_of(in_loops),
        "fluid_to_ground": fluid_of(to_ground),
        "fluid_from_ground": fluid_of(from_ground),
        "loops": _loops_of(result),
        **({"imbalance": imbalance} if imbalance else {}),
        "pump_duty": _pump_of(result),
        "system_curve": [
            {"flow_l_s": flow, "head_kpa": pressure, "head_m": head}
            for flow, pressure, head in points
        ],
        "findings": findings_of(result.findings),
        "cautions": list(result.cautions),
        "residuals": {
            "mass_relative": round_one(result.residuals.mass),
            "energy_relative": round_one(result.residuals.energy),
            "worst_where": branch_pointer(result.residuals.worst_branch),
            "iterations": result.residuals.iterations,
        },
        "method": {
            "friction": FRICTION_METHOD,
            "properties": KINDS[kind].source,
            "version": VERSION,
        },
    }
