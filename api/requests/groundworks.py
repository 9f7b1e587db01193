"""From groundworks options, ground and pipes in a request to how the engine digs, in SI."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from api.refusals import BROKEN, MISSING, Json, Place, Refusal
from api.requests.array import Read, Refusals, coils_on_offer
from api.requests.places import attempt, broken
from hydraulics.ground.soil import is_full
from hydraulics.groundworks.excavation import HeaderTrench, Trench
from hydraulics.groundworks.works import METRES_PER_HOUR, GroundworksPlan, Prices, Works


def section(
    read: Read,
    place: Place,
    make: Callable[[Read], Any],
    refusals: Refusals,
) -> Json:
    """What a section of a part describes; None where it is not given, BROKEN if refused."""
    given = read.get(str(place[-1]))
    if given is None or broken(given):
        return None if given is None else BROKEN
    return attempt(lambda: make(given), given, place, refusals)


def groundworks_from(read: Read, refusals: Refusals, *, digs: bool = True) -> Json:
    """How the array is dug in.

    Parameters
    ----------
    read
        The job as read.
    refusals
        Receives what is wrong.
    digs
        Whether volumes are asked for, so that bulking must be told.

    Returns
    -------
    GroundworksPlan or BROKEN
        As the engine takes it.
    """
    options, ground, pipes = read["groundworks"], read["ground"], read.get("pipes", [])
    works = _works_from(options, ground, refusals, digs=digs)
    if options is BROKEN:
        return BROKEN
    at = ("groundworks",)
    trench = section(options, (*at, "trench"), trench_section, refusals)
    header = section(options, (*at, "header_trench"), header_trench, refusals)
    if any(part is BROKEN for part in (works, trench, header)) or broken(pipes):
        return BROKEN
    prices = _prices(options.get("prices"), (*at, "prices"), refusals)
    if prices is BROKEN:
        return BROKEN
    return GroundworksPlan(works, trench, header, coils_on_offer(pipes), prices)


def _works_from(options: Json, ground: Json, refusals: Refusals, *, digs: bool) -> Json:
    if digs and ground is not BROKEN and "soil" not in ground and "bulking_percent" not in ground:
        detail = "Groundworks need to know how the ground bulks: give soil or bulking_percent."
        refusals.append(Refusal(("ground",), detail, MISSING, "soil or bulking_percent"))
        return BROKEN
    if ground is BROKEN or broken(options):
        return BROKEN
    soil, bulking = ground.get("soil"), ground.get("bulking_percent")
    if soil is BROKEN or bulking is BROKEN:
        return BROKEN
    return attempt(
        lambda: Works(
            bulking=None if bulking is None else bulking / 1e2,
            soil=soil,
            bedding_imported=options["bedding_imported"],
            lorry=options["lorry_m3"],
            metres_per_hour=options.get("digger_m_h", METRES_PER_HOUR),
            laying_temperature=options["laying_c"],
            wet=_is_wet(ground),
        ),
        options,
        ("groundworks",),
        refusals,
    )


def _is_wet(ground: Read) -> bool:
    """Whether the job tells that its soil is full of water."""
    water, density = ground.get("water_content_percent"), ground.get("dry_density_kg_m3")
    if water is None or broken(water) or broken(density):
        return bool(ground.get("moisture") == "saturated")
    return is_full(ground.get("soil", ""), water / 1e2, density)


def _prices(read: Json, place: Place, refusals: Refusals) -> Json:
    """The caller's prices; None where none are given, BROKEN where one item has two."""
    if read is None or broken(read):
        return None if read is None else BROKEN
    of: dict[str, float] = {}
    for number, each in enumerate(read["items"]):
        if each["item"] in of:
            detail = f"Two prices are given for '{each['item'][:80]}'; leave one out."
            refusals.append(Refusal((*place, "items", number), detail, allowed="one price an item"))
            return BROKEN
        of[each["item"]] = each["price"]
    return Prices(read["currency"], of, read.get("valid_until", ""))


def trench_section(read: Read) -> Trench:
    """Section of the loops' trenches."""
    return Trench(
        read["width_m"],
        read["depth_m"],
        read["side_slope"],
        read["bench_height_m"],
        read["bench_width_m"],
        read["bedding_below_m"],
        read["bedding_above_m"],
        read["passes"],
    )


def header_section(read: Read) -> Trench:
    """Section of the header trench."""
    return header_trench(read).section


def header_trench(read: Read) -> HeaderTrench:
    """The header trench."""
    return HeaderTrench(
        read.get("length_m"),
        read["width_m"],
        read["depth_m"],
        read["side_slope"],
        read.get("separation_m"),
    )
