"""From a request that was read to the engine's own description, trade units to SI.

Nothing is computed here. What the engine refuses comes back as refusals at the place of the
request that caused it; a part that was already refused is passed over, so that one answer lists
the faults of all the others too.
"""

from __future__ import annotations

from typing import Final

from api.refusals import BROKEN, Json, Place, Refusal
from api.requests.array import Read, Refusals, attempt, broken, circuit_from, losses_from, runs_from
from hydraulics.fluid.antifreezes import Basis
from hydraulics.fluid.mixture import Mixture, fluid, mixture
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.walk import loop_count
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.split.duty import Duty, FlowDuty, HeadCurve, HeatDuty, PumpDriven

SMALLEST_FLOW: Final = 1e-6
"""Least flow of an array that does not stand still [L/s]; for the same reason."""


# ------------------------------------------------------------------------ plant, mixture and duty


def plant_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Plant, or BROKEN; an empty one where the request names none."""
    if read is None:
        return Plant()
    if read is BROKEN:
        return BROKEN
    runs, first = runs_from(read.get("runs", ()), (*place, "runs"), refusals)
    losses = losses_from(read.get("fittings", ()), first, (*place, "fittings"), refusals)
    exchanger = _exchanger_from(read.get("heat_exchanger"), (*place, "heat_exchanger"), refusals)
    if runs is BROKEN or losses is BROKEN or exchanger is BROKEN:
        return BROKEN
    return Plant(exchanger, runs, losses)


def _exchanger_from(read: Json, place: Place, refusals: Refusals) -> Json:
    if read is None or read is BROKEN:
        return read
    points = read.get("points", [read])
    if points is BROKEN or any(point is BROKEN or broken(point) for point in points):
        return BROKEN
    flows = tuple(point["flow_l_s"] / 1e3 for point in points)
    drops = tuple(point["pressure_drop_kpa"] * 1e3 for point in points)
    names = {"heat_exchanger": "points" if "points" in read else ""}
    return attempt(lambda: Exchanger(flows, drops), place, refusals, names)


def mixture_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Mixture, or BROKEN."""
    if read is BROKEN or broken(read):
        return BROKEN
    basis: Basis = read["basis"]
    names = {f"antifreeze.{name}": name for name in ("kind", "basis", "concentration_percent")}
    return attempt(
        lambda: mixture(read["kind"], read["concentration_percent"] / 100.0, basis),
        place,
        refusals,
        names,
    )


def duty_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Duty, or BROKEN."""
    if read is BROKEN or broken(read):
        return BROKEN
    out = read["to_ground_temperature_c"]
    if "heat_from_ground_kw" in read:
        return HeatDuty(read["heat_from_ground_kw"] * 1e3, read["temperature_change_k"], out)
    back = read["from_ground_temperature_c"]
    if "flow_l_s" in read:
        if 0.0 < read["flow_l_s"] < SMALLEST_FLOW:
            allowed = f"0, or {SMALLEST_FLOW:g} L/s or more"
            detail = f"The array's flow must be {allowed}."
            refusals.append(Refusal((*place, "flow_l_s"), detail, allowed=allowed))
            return BROKEN
        return FlowDuty(read["flow_l_s"] / 1e3, out, back)
    return _pump_driven_from(read["pump"]["points"], out, back, refusals)


def _pump_driven_from(points: Json, out: float, back: float, refusals: Refusals) -> Json:
    if points is BROKEN or any(point is BROKEN or broken(point) for point in points):
        return BROKEN
    flows = tuple(point["flow_l_s"] / 1e3 for point in points)
    heads = tuple(point["head_m"] for point in points)
    # The engine names these fields from the top of the request.
    if attempt(lambda: HeadCurve(flows, heads), (), refusals) is BROKEN:
        return BROKEN
    return PumpDriven(flows, heads, out, back)


def require_liquid(mix: Mixture, duty: Duty, place: Place, refusals: Refusals) -> None:
    """Refuse temperatures at which the mixture has no published properties, each by its field.

    Parameters
    ----------
    mix
        The mixture.
    duty
        Holds the temperatures.
    place
        Where they stand.
    refusals
        Receives what is wrong.
    """
    heat = isinstance(duty, HeatDuty)
    back = "temperature_change_k" if heat else "from_ground_temperature_c"
    for name, temperature in (
        ("to_ground_temperature_c", duty.to_ground_temperature),
        (back, duty.from_ground_temperature),
    ):
        attempt(
            lambda t=temperature: fluid(mix, t),  # type: ignore[misc]
            place,
            refusals,
            {"temperature_c": name},
        )


def job_from(
    read: Read, max_loops: int, refusals: Refusals
) -> tuple[Circuit, Plant, Mixture, Duty] | None:
    """Everything that the main job takes.

    Parameters
    ----------
    read
        The request as read by FlowSplitRequestSchema.
    max_loops
        Most loops in the array.
    refusals
        Receives what is wrong.

    Returns
    -------
    tuple or None
        Circuit, plant, mixture and duty; None where anything was refused.
    """
    mix = mixture_from(read["antifreeze"], ("antifreeze",), refusals)
    duty = duty_from(read["duty"], ("duty",), refusals)
    if mix is not BROKEN and duty is not BROKEN:
        require_liquid(mix, duty, ("duty",), refusals)
    plant = plant_from(read.get("plant"), ("plant",), refusals)
    circuit = circuit_from(read["array"], ("array",), refusals)
    if circuit is not BROKEN:
        count = loop_count(circuit)
        if count > max_loops:
            refusals.append(
                Refusal(
                    ("array",),
                    f"The array has {count:,} loops; this service takes up to {max_loops:,} (its "
                    "setting EVENLOOP_MAX_LOOPS).",
                    allowed=f"{max_loops:,} loops or fewer",
                )
            )
    if refusals:
        return None
    return circuit, plant, mix, duty
