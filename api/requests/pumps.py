"""From the candidates of a request to the engine's pumps, trade units to SI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np

from api.refusals import BROKEN, Json, Place, Refusal, refusals_of
from hydraulics.errors import Fault, InputError
from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.selection import Candidate

Refusals = list[Refusal]
Read = Mapping[str, Any]

_FIELDS: Final = {"flow_m3_s": "flow_l_s"}
_UNITS: Final = ("rpm", "percent")


def candidates_from(read: Json, place: Place, refusals: Refusals) -> list[Candidate] | None:
    """Pumps as the engine takes them.

    Parameters
    ----------
    read
        The list as read, or BROKEN.
    place
        Where it stands.
    refusals
        Receives what is wrong.

    Returns
    -------
    list of Candidate or None
        In the order of the request; None where any was refused.
    """
    if read is BROKEN:
        return None
    made = [
        None if each is BROKEN else _candidate_from(each, (*place, number), refusals)
        for number, each in enumerate(read)
    ]
    return None if None in made else [each for each in made if each is not None]


def speed_unit_of(read: Read) -> str:
    """Ending of the fields that hold a candidate's speeds: ``rpm`` or ``percent``."""
    return "percent" if "tables_by_percent" in read else "rpm"


def _candidate_from(read: Read, place: Place, refusals: Refusals) -> Candidate | None:
    unit = speed_unit_of(read)
    tables = read[f"tables_by_{unit}"]
    at = (*place, f"tables_by_{unit}")
    _refuse_control(read, unit, place, refusals)
    curves: list[PumpCurve | None] = [None]
    if tables is not BROKEN:
        curves = [
            None if table is BROKEN else _curve_from(table, unit, (*at, number), refusals)
            for number, table in enumerate(tables)
        ]
    if None in curves or BROKEN in read.values():
        return None
    names = {
        **{f"curves.{n}.speed": f"tables_by_{unit}.{n}.speed_{unit}" for n in range(len(curves))},
        "minimum_speed": f"minimum_{unit}",
        "rated_speed_rpm": "rated_rpm",
    }
    try:
        pump = Pump(
            read["name"],
            tuple(curve for curve in curves if curve is not None),
            speed_unit="percent" if unit == "percent" else "rpm",
            rated_speed_rpm=read.get("rated_rpm"),
            stages=read["stages"],
            minimum_speed=read.get(f"minimum_{unit}"),
        )
    except InputError as error:
        refusals += refusals_of(error, place, names)
        return None
    setting = read.get(f"setting_{unit}")
    if setting is not None and setting > pump.full_speed:
        allowed = f"up to {pump.full_speed:g}, the highest speed tabulated"
        detail = "The affinity laws are used downward only; there is no table at or above this."
        refusals.append(Refusal((*place, f"setting_{unit}"), detail, allowed=allowed))
        return None
    return Candidate(
        pump,
        read["control"],
        speed=setting,
        set_head=read.get("set_head_m"),
        parallel=read["parallel"],
        series=read["series"],
    )


def _refuse_control(read: Read, unit: str, place: Place, refusals: Refusals) -> None:
    """Refuse a setting that the control would ignore."""
    control, setting = read["control"], f"setting_{unit}"
    if control == "constant_speed" and "set_head_m" in read:
        detail = "set_head_m is held by constant_differential_pressure, and control is "
        detail += "constant_speed; leave one of them out."
        refusals.append(Refusal((*place, "set_head_m"), detail))
    if control == "constant_differential_pressure" and setting in read:
        detail = f"{setting} is for constant_speed; constant_differential_pressure finds its own "
        detail += "speed. Leave it out."
        refusals.append(Refusal((*place, setting), detail))


def _curve_from(read: Read, unit: str, place: Place, refusals: Refusals) -> PumpCurve | None:
    points = read["points"]
    if BROKEN in read.values() or any(p is BROKEN or BROKEN in p.values() for p in points):
        return None
    try:
        return PumpCurve(
            np.asarray([point["flow_l_s"] / 1e3 for point in points]),
            np.asarray([point["head_m"] for point in points]),
            np.asarray([point["power_w"] for point in points]),
            read[f"speed_{unit}"],
            read.get("label", ""),
        )
    except InputError as error:
        refusals += refusals_of(InputError(*map(_in_trade_units, error.faults)), place)
        return None


def _in_trade_units(fault: Fault) -> Fault:
    """A fault of a table with the names and units of the request."""
    *above, last = fault.field.split(".")
    if last not in _FIELDS:
        return fault
    allowed = fault.allowed
    if allowed.endswith(" m3/s"):
        words, _, number = allowed.removesuffix(" m3/s").rpartition(" ")
        allowed = f"{words} {float(number) * 1e3:.6g} L/s"
    return replace(fault, field=".".join([*above, _FIELDS[last]]), allowed=allowed)


def selection_names(read: Read) -> dict[str, str]:
    """Fields of the request by the engine's name for them, where choosing refuses a pump.

    Parameters
    ----------
    read
        The request as read.

    Returns
    -------
    dict
        For every candidate of the request.
    """
    names = {"duty_flow_m3_s": "duty", "duty_head_m": "duty"}
    for number, each in enumerate(read.get("candidates", ())):
        unit, at = speed_unit_of(each), f"candidates.{number}"
        names |= {
            f"{at}.speed": f"{at}.setting_{unit}",
            f"{at}.rated_speed_rpm": f"{at}.rated_rpm",
            f"{at}.power_w": f"{at}.tables_by_{unit}",
        }
    return names
