"""A site plan as files for other programs: setting-out points as a table, and GeoJSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from api.answers.csv_table import Table
from api.answers.numbers import round_one
from api.answers.parts import Object, position, rounded
from hydraulics.plot.levels import level_at, surface
from hydraulics.plot.site import KeepOut, Point
from hydraulics.plot.site_plan import SitePlan
from hydraulics.plot.tangent_plane import Origin, to_degrees

_POINT: Final = ("point", "kind", "belongs_to", "x_m", "y_m", "ground_level_m")
_DECIMALS: Final = 8  # of a degree: a round trip of under a millimetre; 7 would give 11 mm
Placed = Callable[[Point], list[float]]


def points_table(plan: SitePlan) -> Table:
    """Points to set out: trench ends and bends, boreholes, mats, chambers, header bends, corners.

    A point is T1.1, T1.2 along a trench, H1.1 and on along a stretch of header trench, S1 and on
    along the boundary.
    """
    ground = surface(plan.plot.levels)

    def row(point: str, kind: str, belongs_to: str, at: Point) -> Object:
        level = {} if ground is None else {"ground_level_m": round(level_at(ground, at)[0], 3)}
        return {"point": point, "kind": kind, "belongs_to": belongs_to, **position(at), **level}

    def rows() -> Iterator[Object]:
        for trench in plan.trenches:
            for number, at in enumerate(trench.line, 1):
                yield row(f"{trench.loop}.{number}", "trench", trench.loop, at)
        for bore in plan.bores:
            yield row(bore.loop, "borehole", bore.loop, bore.at)
        for mat in plan.mats:
            yield row(mat.loop, "mat", mat.loop, mat.at)
        for chamber in plan.chambers:
            yield row(chamber.name, "chamber", chamber.name, chamber.at)
        for stretch, each in enumerate(plan.stretches, 1):
            kind = "header_trench" if each.medium == "ground" else "in_water"
            for number, at in enumerate(each.line, 1):
                yield row(f"H{stretch}.{number}", kind, f"H{stretch}", at)
        yield row("P", "plant_room", "", plan.plot.plant)
        for number, at in enumerate(plan.plot.boundary, 1):
            yield row(f"S{number}", "boundary", "", at)

    return Table(_POINT, rows())


def geojson_of(plan: SitePlan, name: str, origin: Origin | None) -> Object:
    """The plan as a FeatureCollection (RFC 7946).

    Parameters
    ----------
    plan
        The plan.
    name
        Name of the job; may be empty.
    origin
        Where the plot lies; None to give metres of the plot, which a foreign member says.
    """

    def place(point: Point) -> list[float]:
        if origin is None:
            return rounded(point)
        return rounded(to_degrees(origin, point), _DECIMALS)

    return {
        "type": "FeatureCollection",
        **({"name": name} if name else {}),
        **({"coordinates_are": "local_metres"} if origin is None else {}),
        "features": list(_features(plan, place)),
    }


def _feature(kind: str, geometry: str, coordinates: Any, **properties: Any) -> Object:  # noqa: ANN401
    return {
        "type": "Feature",
        "properties": {"kind": kind, **properties},
        "geometry": {"type": geometry, "coordinates": coordinates},
    }


def _ring(points: tuple[Point, ...], place: Placed) -> list[list[list[float]]]:
    """A closed ring, counter-clockwise as RFC 7946 asks of an outer one."""
    twice = sum(
        a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], points[0]), strict=True)
    )
    around = points if twice > 0.0 else points[::-1]
    return [[place(point) for point in (*around, around[0])]]


def _kept_off(each: KeepOut, place: Placed) -> Object:
    about: Object = {
        "name": each.name,
        "clearance_m": round_one(each.clearance),
        "blocks": "both" if len(each.blocks) == 2 else next(iter(each.blocks)),
    }
    if each.outline:
        return _feature("keep_out", "Polygon", _ring(each.outline, place), **about)
    if each.line:
        return _feature("keep_out", "LineString", [place(p) for p in each.line], **about)
    assert each.centre is not None
    about["radius_m"] = round_one(each.radius)
    return _feature("keep_out", "Point", place(each.centre), **about)


def _features(plan: SitePlan, place: Placed) -> Iterator[Object]:
    plot = plan.plot
    yield _feature("boundary", "Polygon", _ring(plot.boundary, place))
    for each in plot.keep_outs:
        yield _kept_off(each, place)
    if plot.water:
        yield _feature("water", "Polygon", _ring(plot.water, place))
    yield _feature("plant_room", "Point", place(plot.plant))
    for x, y, level in plot.levels:
        yield _feature("level", "Point", place((x, y)), level_m=level)
    for chamber in plan.chambers:
        yield _feature("chamber", "Point", place(chamber.at), name=chamber.name)
    for trench in plan.trenches:
        about = {"loop": trench.loop, "width_m": round_one(trench.width)}
        yield _feature("trench", "LineString", [place(p) for p in trench.line], **about)
    for bore in plan.bores:
        about = {"loop": bore.loop, "depth_m": round_one(bore.depth)}
        yield _feature("borehole", "Point", place(bore.at), **about)
    for mat in plan.mats:
        about = {"loop": mat.loop, "diameter_m": round_one(mat.diameter)}
        yield _feature("mat", "Point", place(mat.at), **about)
    for stretch in plan.stretches:
        yield _feature(
            "header_trench" if stretch.medium == "ground" else "in_water",
            "LineString",
            [place(p) for p in stretch.line],
            pipe_count=stretch.pipes,
            loops=list(stretch.loops),
            runs=list(stretch.runs),
        )
