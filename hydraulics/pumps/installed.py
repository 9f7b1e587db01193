"""How is a judged pump set where it is installed, and do two pumps run alike?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hydraulics.pumps.findings import setting_of
from hydraulics.pumps.selection import Candidate, Selection
from hydraulics.split.result import FlowSplit


def as_set(selection: Selection, split: FlowSplit) -> Candidate:
    """A judged pump as it is to be installed: at the setting that it was judged at.

    Parameters
    ----------
    selection
        The pump as judged.
    split
        What it was judged on; its head is held where the pump names none.
    """
    candidate = selection.candidate
    if candidate.control == "constant_speed":
        return replace(candidate, speed=selection.speed)
    setting = setting_of(candidate, split)
    if candidate.control == "constant_temperature_difference":
        return replace(candidate, set_change=setting)
    return replace(candidate, set_head=setting)


def run_alike(one: Candidate, other: Candidate) -> bool:
    """Whether two pumps run alike: equal tables, control, setting and number.

    A head or speed as printed is the same as the one that it was printed from; what `one` leaves
    open is settled as `other` is.
    """
    if one.control != other.control:
        return False
    one = replace(
        one,
        speed=other.speed if one.speed is None else one.speed,
        set_head=other.set_head if one.set_head is None else one.set_head,
        set_change=other.set_change if one.set_change is None else one.set_change,
    )

    def plain(each: Candidate) -> tuple[object, ...]:
        pump = each.pump
        whole = (
            each.control,
            each.parallel,
            each.series,
            pump.impellers,
            pump.min_speed,
            pump.min_flow,
            pump.rated_power,
            each.inlet_pressure,
        )
        return (*whole, len(pump.curves))

    def numbers(each: Candidate) -> list[float]:
        tables = [
            np.concatenate(([curve.speed], curve.flow, curve.head, curve.power))
            for curve in each.pump.curves
        ]
        set_to = [each.speed or each.pump.full_speed, each.set_head or 0.0, each.set_change or 0.0]
        return [*set_to, *np.concatenate(tables).tolist()]

    first, second = numbers(one), numbers(other)
    return (
        plain(one) == plain(other)
        and len(first) == len(second)
        and np.allclose(first, second, rtol=1e-3, atol=0.0)
    )
