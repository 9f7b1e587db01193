"""From balancing options in a request to what the engine balances to, in SI."""

from __future__ import annotations

from api.refusals import BROKEN, MISSING, Json, Refusal
from api.requests.array import Read, Refusals, coils_on_offer
from api.requests.places import attempt, broken
from api.schemas.array import LONGEST
from hydraulics.balancing.valves import ValveTable
from hydraulics.balancing.ways import BalancingPlan


def balancing_from(read: Read, refusals: Refusals) -> Json:
    """What may be done to balance the loops, with the coils on offer, or BROKEN.

    Parameters
    ----------
    read
        The job as read, of which `balancing` is taken and `pipes` where they are given.
    refusals
        Receives what is wrong.
    """
    options = read["balancing"]
    if options is BROKEN:
        return BROKEN
    valve = _valve_from(options.get("valve"), refusals)
    if valve is BROKEN or broken(options):
        return BROKEN
    return attempt(
        lambda: BalancingPlan(
            valve=valve,
            coil_diameter=options["spare_coil_diameter_m"],
            length_step=options["spare_step_m"],
            closing_length=options.get("closing_m"),
            pump_efficiency=options["pump_efficiency_percent"] / 100.0,
            coil_lengths=coils_on_offer(read.get("pipes", [])),
            most_spare=LONGEST,
            take=options.get("take"),
        ),
        options,
        ("balancing",),
        refusals,
    )


def target_from(read: Json, refusals: Refusals) -> Json:
    """What flow each loop should have, as the engine takes it, or BROKEN."""
    if read is BROKEN:
        return BROKEN
    target, shares = read["target"], read.get("shares")
    place = ("balancing", "shares")
    if target is BROKEN or broken(shares):
        return BROKEN
    if target != "shares":
        if shares is None:
            return "even" if target == "even" else "length"
        detail = f"shares goes with target shares, and target is {target}; leave one of them out."
        refusals.append(Refusal(place, detail, allowed="only with target shares"))
        return BROKEN
    if shares is None:
        detail = "shares is missing: target is shares, so that each loop needs its share."
        refusals.append(Refusal(place, detail, MISSING, "a share for each loop"))
        return BROKEN
    found: dict[str, float] = {}
    for index, each in enumerate(shares):
        if each["loop"] in found:
            detail = f"Loop {each['loop']} has two shares; give it one."
            refusals.append(Refusal((*place, index, "loop"), detail, allowed="each loop once"))
        found[each["loop"]] = each["share"]
    return found if len(found) == len(shares) else BROKEN


def _valve_from(read: Json, refusals: Refusals) -> Json:
    if read is None or broken(read):
        return None if read is None else BROKEN
    rows = read["positions"]
    return attempt(
        lambda: ValveTable(
            tuple(row["position"] for row in rows),
            tuple(row["kv_m3_h"] for row in rows),
            read.get("name", ""),
        ),
        read,
        ("balancing", "valve"),
        refusals,
    )
