"""From pumps in a request to the engine's, in SI."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from api.refusals import BROKEN, MISSING, Json, Place, Refusal, pointer, refusals_of
from api.requests.array import Read, Refusals
from api.requests.places import attempt, broken, located
from hydraulics.errors import HydraulicsError
from hydraulics.pumps.curve import Pump, PumpCurve, UnlikePumpError
from hydraulics.pumps.examples import invented_candidates
from hydraulics.pumps.on_array import PumpChoicePlan
from hydraulics.pumps.selection import Candidate, SetAside


def pump_choice_from(read: Json, place: Place, refusals: Refusals) -> Json:
    """Pumps to choose among, or BROKEN."""
    if read is BROKEN or read.get("candidates") is BROKEN:
        return BROKEN
    unlike: list[Refusal] = []
    own = [
        _candidate_from(each, (*place, "candidates", number), refusals, unlike)
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
    if not invented and all(isinstance(each, SetAside) for each in own):
        refusals += unlike
        return BROKEN
    return attempt(
        lambda: PumpChoicePlan(
            (*own, *invented), len(own), read["acceptance_grade"], read.get("take")
        ),
        read,
        place,
        refusals,
    )


def _candidate_from(read: Json, place: Place, refusals: Refusals, unlike: Refusals) -> Json:
    """A pump to be judged, or set aside, or BROKEN; `unlike` receives why it is set aside."""
    before, found = len(refusals), list[Refusal]()
    made = pump_from(read, place, refusals, found)
    if not found or len(refusals) > before:
        return made
    unlike += found
    number = int(place[-1])
    reasons = [f"{pointer(each.place[len(place) :])[1:]}: {each.detail}" for each in found]
    return SetAside(number, read["name"], tuple(reasons))


def pump_from(read: Json, place: Place, refusals: Refusals, unlike: Refusals | None = None) -> Json:
    """A pump as it is installed and controlled, or BROKEN.

    Parameters
    ----------
    read, place, refusals
        As `attempt` takes them.
    unlike
        Receives what no pump has instead, where it is given.
    """
    if read is BROKEN or read["tables"] is BROKEN:
        return BROKEN
    curves = [
        _curve_from(table, (*place, "tables", number), refusals, unlike)
        for number, table in enumerate(read["tables"])
    ]
    if any(curve is BROKEN for curve in curves) or broken(read):
        return BROKEN
    return _pump_or_unlike(
        lambda: Candidate(
            Pump(
                read["name"],
                tuple(curves),
                read["impellers"],
                read.get("min_speed_rpm"),
                _over(read, "min_flow_l_s", 1e3),
                read.get("rated_power_w"),
            ),
            read["control"],
            speed=read.get("speed_rpm"),
            set_head=read.get("set_head_m"),
            parallel=read["parallel"],
            series=read["series"],
            set_change=read.get("set_change_k"),
            inlet_pressure=_over(read, "inlet_kpa", 1e-3),
        ),
        read,
        place,
        refusals,
        unlike,
    )


def _over(read: Json, name: str, factor: float) -> float | None:
    return float(read[name] / factor) if name in read else None


def _curve_from(
    read: Read | Json, place: Place, refusals: Refusals, unlike: Refusals | None
) -> Json:
    if broken(read):
        return BROKEN
    points = read["points"]
    npsh = [point["npsh_m"] for point in points if "npsh_m" in point]
    return _pump_or_unlike(
        lambda: PumpCurve(
            np.asarray([point["flow_l_s"] / 1e3 for point in points]),
            np.asarray([point["head_m"] for point in points]),
            np.asarray([point["power_w"] for point in points]),
            read["speed_rpm"],
            read.get("label", ""),
            np.asarray(npsh) if npsh else None,
        ),
        read,
        place,
        refusals,
        unlike,
    )


def _pump_or_unlike(
    make: Callable[[], Json],
    read: Json,
    place: Place,
    refusals: Refusals,
    unlike: Refusals | None,
) -> Json:
    """As `attempt`; what no pump has goes to a list of its own, where there is one."""
    try:
        return make()
    except HydraulicsError as error:
        apart = unlike is not None and isinstance(error, UnlikePumpError)
        (unlike if unlike is not None and apart else refusals).extend(
            refusals_of(located(error, read, place))
        )
        return BROKEN
