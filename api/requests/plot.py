"""From the plot in a request to the ground that the engine knows, in metres."""

from __future__ import annotations

from functools import partial

from api.refusals import BROKEN, MISSING, Json, Place, Refusal
from api.requests.array import Read, Refusals
from api.requests.places import attempt, broken
from api.schemas.plot import BLOCKS
from hydraulics.checks import refuse
from hydraulics.plot.plot import BORDER, Plot
from hydraulics.plot.site import KeepOut, Point, SitePlot, rectangle
from hydraulics.plot.tangent_plane import Origin, far_fault

_STANDS = ("boundary", "keep_outs", "plant_room", "water", "levels")
"""Fields of a plot that make it more than its size."""
_PLACED = ("boreholes", "mats", "trenches")


def has_place(plot: Json) -> bool:
    """Whether a plot tells more than its size."""
    return type(plot) is dict and any(name in plot for name in _STANDS)


def point(read: Read) -> Point:
    """A place on the plot [m]."""
    return read["x_m"], read["y_m"]


def points(read: Json) -> tuple[Point, ...]:
    """Places on the plot [m]; none where the field is left out."""
    return tuple(map(point, read or ()))


def _keep_out(read: Read) -> KeepOut:
    return KeepOut(
        read["name"],
        read["clearance_m"],
        points(read.get("outline")),
        points(read.get("line")),
        point(read["centre"]) if "centre" in read else None,
        read.get("radius_m", 0.0),
        BLOCKS[read["blocks"]],
    )


def site_from(read: Json, refusals: Refusals, *, needs_plant: bool = False) -> Json:
    """The ground with what stands on it, or BROKEN.

    Parameters
    ----------
    read
        The plot as read, with a boundary or two sides.
    refusals
        Receives what is wrong.
    needs_plant
        Whether the plant room's place must be known.
    """
    if broken(read):
        return BROKEN
    place: Place = ("plot",)
    if "boundary" not in read and "length_m" not in read:
        detail = "boundary is missing: setting out needs the corners of the plot, or its two sides."
        refusals.append(Refusal((*place, "boundary"), detail, MISSING, "boundary or both sides"))
        return BROKEN
    if needs_plant and "boundary" in read and "plant_room" not in read:
        detail = "plant_room is missing: where do pipes leave the building?"
        refusals.append(Refusal((*place, "plant_room"), detail, MISSING, "a place on the plot"))
        return BROKEN
    kept = [
        attempt(partial(_keep_out, each), each, (*place, "keep_outs", number), refusals)
        for number, each in enumerate(read.get("keep_outs", ()))
    ]
    if broken(kept):
        return BROKEN
    outer = points(read.get("boundary"))
    plant = point(read["plant_room"]) if "plant_room" in read else outer[0] if outer else None

    def made() -> SitePlot:
        if "origin" in read:
            refuse(far_fault(outer))
        bounds, door = outer, plant
        if not bounds:
            sides = rectangle(read["length_m"], read["width_m"])
            bounds, door = sides.boundary, plant or sides.plant
        assert door is not None
        return SitePlot(
            bounds,
            door,
            tuple(kept),
            points(read.get("water")),
            read.get("border_m", BORDER),
            tuple((*point(each), each["level_m"]) for each in read.get("levels", ())),
        )

    return attempt(made, read, place, refusals)


def corners_fault(read: Json, most: int) -> Refusal | None:
    """What is wrong with a plot of more corners than this service takes."""
    if broken(read) or BROKEN in (kept := read.get("keep_outs") or []):
        return None
    rings = [read.get("boundary"), read.get("water")]
    rings += [each.get(name) for each in kept for name in ("outline", "line")]
    count = sum(len(ring) for ring in rings if ring and ring is not BROKEN)
    count += sum("centre" in each for each in kept)
    if count <= most:
        return None
    detail = (
        f"Boundary, water and keep-outs have {count:,} corners together; this service takes up to "
        f"{most:,} (its setting EVENLOOP_MAX_CORNERS). Leave out those that change little."
    )
    return Refusal(("plot",), detail, allowed=f"{most:,} corners or fewer")


def origin_from(read: Read) -> Origin | None:
    """Where the plot lies on the earth; None where it does not tell."""
    given = read.get("origin")
    if given is None:
        return None
    return Origin(given["longitude_deg"], given["latitude_deg"], given.get("turned_deg", 0.0))


def plot_from(read: Json, refusals: Refusals) -> Json:
    """Plot, or BROKEN; what stands on it is checked too."""
    if broken(read):
        return BROKEN
    area = read.get("area_m2")
    if has_place(read):
        if (site := site_from(read, refusals)) is BROKEN:
            return BROKEN
        # What has its place may lie closer than rows, and is judged where it lies.
        if read.get("boundary") and not any(read.get(name) for name in _PLACED):
            area = site.ground.area
    return attempt(
        lambda: Plot(
            length=read.get("length_m"),
            width=read.get("width_m"),
            area=area,
            max_trench=read.get("max_trench_m"),
            spacing=read.get("spacing_m"),
            border=read["border_m"],
            bores=points(read.get("boreholes")),
            mats=points(read.get("mats")),
            trenches=tuple(points(each["points"]) for each in read.get("trenches", ())),
            trench_loops=tuple(each["loop"] for each in read.get("trenches", ())),
        ),
        read,
        ("plot",),
        refusals,
    )
