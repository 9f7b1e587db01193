"""From requests of groundworks and commissioning to the engine's own description, in SI."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from api.refusals import BROKEN, Json, Place, Refusal, refusals_of
from api.requests.array import circuit_from, pipe_from
from api.requests.job import plant_from
from hydraulics.errors import HydraulicsError
from hydraulics.groundworks.excavation import HeaderTrench, Trench
from hydraulics.groundworks.plan import Site
from hydraulics.groundworks.works import METRES_PER_HOUR, Works
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import array_contents
from hydraulics.layout.walk import loop_count
from hydraulics.pipework.pipe import Pipe

Refusals = list[Refusal]
Read = Mapping[str, Any]

GROUNDWORKS_FIELDS = {
    "soil": "works.soil",
    "bulking_percent": "works.bulking_percent",
    "borehole_diameter_mm": "works.borehole_diameter_mm",
    "trench_width_m": "trench.width_m",
    "trench_depth_m": "trench.depth_m",
    "header_trench_width_m": "header_trench.width_m",
    "header_trench_depth_m": "header_trench.depth_m",
}
"""Fields of the request by the engine's names for them, where `groundworks` refuses them."""

_TRENCH_FIELDS = {"trench_width_m": "width_m", "trench_depth_m": "depth_m"}
_HEADER_FIELDS = {
    f"header_trench_{name}": name for name in ("length_m", "width_m", "depth_m", "side_slope")
}
_SITE_FIELDS = {f"site_{name}": name for name in ("length_m", "width_m", "area_m2")}


class GroundworksJob(NamedTuple):
    """What `groundworks` and `pipe_order` take."""

    circuit: Circuit
    plant: Plant
    works: Works
    trench: Trench | None
    header: HeaderTrench | None
    site: Site | None
    coil_lengths: dict[str, list[float]]


def section(
    read: Read, name: str, make: Callable[[Read], Any], refusals: Refusals,
    names: Mapping[str, str] | None = None,
) -> Json:  # fmt: skip
    """What a section of the request describes; None where it is not given, BROKEN if refused."""
    given = read.get(name)
    if given is None or given is BROKEN or BROKEN in given.values():
        return None if given is None else BROKEN
    try:
        return make(given)
    except HydraulicsError as error:
        refusals += refusals_of(error, (name,), names)
        return BROKEN


def _per_cent(read: Read, name: str) -> float | None:
    return read[name] / 1e2 if name in read else None


def thousandth(read: Read, name: str) -> float | None:
    """A thousandth of a number, or None where it is not given."""
    return read[name] / 1e3 if name in read else None


# ------------------------------------------------------------------------------------ groundworks


def groundworks_job_from(read: Read, max_loops: int, refusals: Refusals) -> GroundworksJob | None:
    """Everything that groundworks take.

    Parameters
    ----------
    read
        The request as read by GroundworksRequestSchema.
    max_loops
        Most loops in the array.
    refusals
        Receives what is wrong.

    Returns
    -------
    GroundworksJob or None
        None where anything was refused.
    """
    circuit = circuit_from(read["array"], ("array",), refusals)
    if circuit is not BROKEN and loop_count(circuit) > max_loops:
        refusals.append(
            Refusal(
                ("array",),
                f"The array has {loop_count(circuit):,} loops; this service takes up to "
                f"{max_loops:,} (its setting EVENLOOP_MAX_LOOPS).",
                allowed=f"{max_loops:,} loops or fewer",
            )
        )
    plant = plant_from(read.get("plant"), ("plant",), refusals)
    works = section(read, "works", _works, refusals)
    trench = section(read, "trench", _trench, refusals, _TRENCH_FIELDS)
    header = section(read, "header_trench", _header, refusals, _HEADER_FIELDS)
    site = section(read, "site", _site, refusals, _SITE_FIELDS)
    laid = None
    if circuit is not BROKEN and plant is not BROKEN:
        laid = {each.pipe.name for each in array_contents(circuit, plant).pipes}
    coils = _coils_from(read.get("coils_on_offer", ()), laid, refusals)
    if refusals:
        return None
    return GroundworksJob(circuit, plant, works, trench, header, site, coils)


def _works(read: Read) -> Works:
    return Works(
        bulking=_per_cent(read, "bulking_percent"),
        soil=read.get("soil"),
        bedding_imported=read["bedding_imported"],
        lorry=read["lorry_m3"],
        metres_per_hour=read.get("digger_m_h", METRES_PER_HOUR),
        centres=read.get("centres_m"),
        border=read["border_m"],
        bore_diameter=thousandth(read, "borehole_diameter_mm"),
        laying_temperature_c=read["laying_temperature_c"],
    )


def _trench(read: Read) -> Trench:
    return Trench(
        read["kind"],
        read["width_m"],
        read["depth_m"],
        read["side_slope"],
        read["bench_height_m"],
        read["bench_width_m"],
        read["bedding_below_m"],
        read["bedding_above_m"],
        read["passes"],
    )


def _header(read: Read) -> HeaderTrench:
    return HeaderTrench(
        read.get("length_m"),
        read["width_m"],
        read["depth_m"],
        read["side_slope"],
        read.get("separation_m"),
    )


def _site(read: Read) -> Site:
    return Site(read.get("length_m"), read.get("width_m"), read.get("area_m2"))


def _coils_from(read: Json, laid: set[str] | None, refusals: Refusals) -> dict[str, list[float]]:
    """Lengths on offer by pipe; refuses pipes that the array does not have, which do nothing."""
    offered: dict[str, list[float]] = {}
    for index, each in enumerate(() if read is BROKEN else read):
        if each is BROKEN:
            continue
        at: Place = ("coils_on_offer", index)
        pipe: Pipe | Any = pipe_from(each["pipe"], (*at, "pipe"), refusals)
        lengths = each["lengths_m"]
        if pipe is BROKEN or lengths is BROKEN or BROKEN in lengths:
            continue
        if laid is not None and pipe.name not in laid:
            allowed = ", ".join(sorted(laid))
            detail = f"No part of the array is laid in {pipe.name}, so its coils do nothing."
            refusals.append(Refusal((*at, "pipe"), detail, allowed=allowed))
        elif pipe.name in offered:
            detail = f"{pipe.name} is listed twice; give all its lengths once."
            refusals.append(Refusal((*at, "pipe"), detail, allowed="each pipe once"))
        offered[pipe.name] = lengths
    return offered
