"""From pumps in a request to the engine's, in SI."""

from __future__ import annotations

import numpy as np

from api.refusals import BROKEN, MISSING, Json, Place, Refusal
from api.requests.array import Read, Refusals
from api.requests.places import attempt, broken
from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.examples import invented_candidates
from hydraulics.pumps.on_array import PumpChoicePlan
from hydraulics.pumps.selection import Candidate


def pump_choice_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Pumps to choose among, or BROKEN."""
    if read is BROKEN or read.get("candidates") is BROKEN:
        return BROKEN
    own = [
        pump_from(each, (*place, "candidates", number), refusals)
        for number, each in enumerate(read.get("candidates", ()))
    ]
    if not own and read["use_invented_pumps"] is False:
        detail = (
            "There is no pump to choose; give candidates by their tables, or set "
            "use_invented_pumps to try things out."
        )
        refusals.append(Refusal((*place, "candidates"), detail, MISSING, "at least one pump"))
        return BROKEN
    if any(each is BROKEN for each in own) or broken(read):
        return BROKEN
    invented = invented_candidates() if read["use_invented_pumps"] else ()
    return attempt(
        lambda: PumpChoicePlan(
            (*own, *invented), len(own), read["acceptance_grade"], read.get("take")
        ),
        read,
        place,
        refusals,
    )


def pump_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """A pump as it is installed and controlled, or BROKEN."""
    if read is BROKEN or read["tables"] is BROKEN:
        return BROKEN
    curves = [
        _curve_from(table, (*place, "tables", number), refusals)
        for number, table in enumerate(read["tables"])
    ]
    if any(curve is BROKEN for curve in curves) or broken(read):
        return BROKEN
    return attempt(
        lambda: Candidate(
            Pump(read["name"], tuple(curves), read["impellers"], read.get("min_speed_rpm")),
            read["control"],
            speed=read.get("speed_rpm"),
            set_head=read.get("set_head_m"),
            parallel=read["parallel"],
            series=read["series"],
        ),
        read,
        place,
        refusals,
    )


def _curve_from(read: Read | Json, place: Place, refusals: Refusals) -> Json:
    if broken(read):
        return BROKEN
    points = read["points"]
    return attempt(
        lambda: PumpCurve(
            np.asarray([point["flow_l_s"] / 1e3 for point in points]),
            np.asarray([point["head_m"] for point in points]),
            np.asarray([point["power_w"] for point in points]),
            read["speed_rpm"],
            read.get("label", ""),
        ),
        read,
        place,
        refusals,
    )
