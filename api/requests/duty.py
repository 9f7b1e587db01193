"""From antifreeze, plant, duty, warm and limits in a request to the engine's values, in SI."""

from __future__ import annotations

from typing import Any, Final

from api.refusals import BROKEN, Json, Place, Refusal
from api.requests.array import Pipes, Read, Refusals, loss_from, runs_from
from api.requests.groundworks import header_section, section, trench_section
from api.requests.places import attempt, broken, refused_at
from hydraulics.errors import HydraulicsError
from hydraulics.fluid.mixture import Mixture, fluid, mixture
from hydraulics.groundworks.excavation import Trench
from hydraulics.job import Limits
from hydraulics.layout.circuit import Plant
from hydraulics.layout.heights import Heights
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pumps.on_array import Warm
from hydraulics.sizing.ground_met import GroundAtLoops
from hydraulics.split.duty import FlowDuty, HeadCurve, HeatDuty, PumpDriven

SMALLEST_FLOW: Final = 1e-6
"""Least flow of an array that does not stand still [L/s]; far below it numbers grow too small to
divide by."""
SMALLEST_CHANGE: Final = 1e-3
"""Least warming that heat is reckoned to a flow with [K]; likewise."""


def mixture_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Mixture, or BROKEN."""
    if broken(read):
        return BROKEN
    return attempt(
        lambda: mixture(read["kind"], read["concentration_percent"] / 100.0, read["basis"]),
        read,
        place,
        refusals,
    )


def plant_from(read: Json, pipes: Pipes, place: Place, refusals: Refusals) -> Json:
    """Plant, or BROKEN."""
    if read is BROKEN:
        return BROKEN
    runs, first = runs_from(read.get("runs", []), pipes, (*place, "runs"), refusals)
    loss = loss_from(read.get("fittings", []), first, (*place, "fittings"), refusals)
    exchanger: Any = None
    if "heat_exchanger" in read:
        exchanger = _exchanger_from(read, place, refusals)
    elif "heat_exchanger_exponent" in read and not broken(read["heat_exchanger_exponent"]):
        detail = (
            "an exponent continues the points of heat_exchanger, which are not given; give both."
        )
        refusals.append(
            Refusal((*place, "heat_exchanger_exponent"), detail, read["heat_exchanger_exponent"])
        )
        exchanger = BROKEN
    volume, hours = read["volume_l"], read["run_h"]
    if any(part is BROKEN for part in (runs, loss, exchanger, volume, hours)):
        return BROKEN
    make = lambda: Plant(exchanger, runs, loss, volume / 1e3, hours)  # noqa: E731
    return attempt(make, read, place, refusals)


def _exchanger_from(read: Read, place: Place, refusals: Refusals) -> Json:
    points = read["heat_exchanger"]
    if broken(points):
        return BROKEN
    flows = tuple(point["flow_l_s"] / 1e3 for point in points)
    drops = tuple(point["drop_kpa"] * 1e3 for point in points)
    exponent = read.get("heat_exchanger_exponent")
    if broken(exponent):
        return BROKEN
    return attempt(lambda: Exchanger(flows, drops, exponent), read, place, refusals)


def duty_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Duty, or BROKEN."""
    if broken(read):
        return BROKEN
    out, back = read["to_ground_c"], read["from_ground_c"]
    if "heat_kw" in read:
        if back - out < SMALLEST_CHANGE * (1 - 1e-9):  # the difference of two decimals is not exact
            detail = (
                f"from_ground_c is {back:g} and to_ground_c {out:g}: to take up heat the fluid "
                f"must come back warmer, by {SMALLEST_CHANGE:g} K or more."
            )
            refusals.append(
                Refusal((*place, "from_ground_c"), detail, allowed=f"more than {out:g} °C")
            )
            return BROKEN
        return HeatDuty(read["heat_kw"] * 1e3, back - out, out)
    if "flow_l_s" in read:
        return _flow_duty_from(read, place, refusals)
    flows = tuple(point["flow_l_s"] / 1e3 for point in read["pump_curve"])
    heads = tuple(point["head_m"] for point in read["pump_curve"])
    curve = attempt(lambda: HeadCurve(flows, heads), read, place, refusals)
    return BROKEN if curve is BROKEN else PumpDriven(flows, heads, out, back)


def _flow_duty_from(read: Read, place: Place, refusals: Refusals) -> Json:
    flow = read["flow_l_s"]
    if 0.0 < flow < SMALLEST_FLOW:
        allowed = f"0, or {SMALLEST_FLOW:g} L/s or more"
        detail = f"The array's flow must be {allowed}."
        refusals.append(Refusal((*place, "flow_l_s"), detail, allowed=allowed))
        return BROKEN
    return FlowDuty(flow / 1e3, read["to_ground_c"], read["from_ground_c"])


def warm_from(read: Json) -> Json:
    """Warm condition, or BROKEN."""
    if broken(read):
        return BROKEN
    return Warm(read["to_ground_c"], read["from_ground_c"], read["hours_percent"] / 100.0)


def refuse_frozen(mix: Mixture, read: Json, place: Place, refusals: Refusals) -> None:
    """Refuse temperatures at which the mixture has no published properties, each by its field.

    Parameters
    ----------
    mix
        The mixture.
    read
        Duty or warm condition as read, or BROKEN.
    place
        Where it stands.
    refusals
        Receives what is wrong.
    """
    for name in ("to_ground_c", "from_ground_c"):
        if read is not BROKEN and read[name] is not BROKEN:
            try:
                fluid(mix, read[name])
            except HydraulicsError as error:
                refusals += refused_at(error, (*place, name))


def heights_from(read: Json, digging: Json, refusals: Refusals) -> Json:
    """Levels of plant, gauge and ground, with the trenches' depths of groundworks; or BROKEN."""
    if broken(read) or broken(digging):
        return BROKEN
    # What is wrong with the digging is told where the digging is made.
    dug = {
        name: section(digging, ("groundworks", part), make, [])
        for name, part, make in (
            ("trench_depth", "trench", trench_section),
            ("header_depth", "header_trench", header_section),
        )
    }
    depths = {name: each.lies for name, each in dug.items() if isinstance(each, Trench)}
    told: dict[str, Any] = {name.removesuffix("_m"): level for name, level in read.items()}
    return attempt(lambda: Heights(**(told | depths)), read, ("heights",), refusals)


def ground_at_loops_from(read: Json) -> Json:
    """The ground as the loops meet it, or BROKEN."""
    if broken(read):
        return BROKEN
    return GroundAtLoops(
        read["ground_c"], read["resistance_m_k_w"], read["pipe_conductivity_w_m_k"]
    )


def limits_from(read: Json) -> Json:
    """Limits, or BROKEN."""
    if broken(read):
        return BROKEN
    return Limits(
        read["max_deviation_percent"] / 100.0,
        read["min_freezing_margin_k"],
        read["min_from_ground_c"],
        read["max_from_ground_c"],
        read["years"],
    )
