"""A site plan as files for other programs: setting-out points as a table, and GeoJSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from api.answers.csv_table import Table
from api.answers.numbers import round_one
from api.answers.parts import Object, position, rounded
from hydraulics.plot.levels import level_at, surface
from hydraulics.plot.site import KeepOut, Point
from hydraulics.plot.site_plan import TOLD_TO, SitePlan
from hydraulics.plot.tangent_plane import Origin, to_degrees

_POINT: Final = (
    "point", "kind", "belongs_to", "x_m", "y_m", "ground_level_m",
    "clearance_m", "radius_m", "blocks", "max_loops",
)  # fmt: skip
_DECIMALS: Final = 10  # of a degree, a hundredth of a millimetre; in metres, as a job has them
_SET_OUT_TO: Final = 5  # decimals of a metre: read again, what lies at a limit still keeps it
Placed = Callable[[Point], list[float]]


def points_table(plan: SitePlan) -> Table:
    """Points to set out: trenches, boreholes, mats, chambers, header bends, corners, keep-outs.

    A point is T1.1, T1.2 along a trench, H1.1 and on along a stretch of header trench, S1 and on
    along the boundary, R1.1 and on around a pit of spare pipe, K1.1 and on around what is kept off,
    W1 and on around water, L1 and on where levels were surveyed. Read again, the table gives the
    same plot but for what it does not draw: distances kept, and where the plot lies on the earth.
    """
    ground = surface(plan.plot.levels)

    def row(point: str, kind: str, belongs_to: str, at: Point, **more: Any) -> Object:  # noqa: ANN401
        level = {} if ground is None else {"ground_level_m": round(level_at(ground, at)[0], 3)}
        whole = {
            "point": point,
            "kind": kind,
            "belongs_to": belongs_to,
            **position(at, _SET_OUT_TO),
        }
        return whole | level | more

    def kept_off(number: int, each: KeepOut) -> Iterator[Object]:
        about: Object = {"clearance_m": round_one(each.clearance), "blocks": blocked(each)}
        if each.centre is not None:
            about["radius_m"] = round_one(each.radius)
            yield row(f"K{number}", "keep_out_centre", each.name, each.centre, **about)
        kind = "keep_out" if each.outline else "keep_out_line"
        for corner, at in enumerate(each.outline or each.line, 1):
            yield row(f"K{number}.{corner}", kind, each.name, at, **about)

    def rows() -> Iterator[Object]:  # noqa: PLR0912 (one kind after the other)
        for trench in plan.trenches:
            for number, at in enumerate(trench.line, 1):
                yield row(f"{trench.loop}.{number}", "trench", trench.loop, at)
        for bore in plan.bores:
            yield row(bore.loop, "borehole", bore.loop, bore.at)
        for mat in plan.mats:
            yield row(mat.loop, "mat", mat.loop, mat.at)
        for chamber in plan.chambers:
            yield row(chamber.name, "chamber", chamber.name, chamber.at, max_loops=chamber.largest)
        for pit, dug in enumerate(plan.pits, 1):
            for number, at in enumerate(dug.corners, 1):
                yield row(f"R{pit}.{number}", "spare_pit", dug.loop, at)
        for stretch, each in enumerate(plan.stretches, 1):
            kind = "header_trench" if each.medium == "ground" else "in_water"
            for number, at in enumerate(each.line, 1):
                yield row(f"H{stretch}.{number}", kind, f"H{stretch}", at)
        yield row("P", "plant_room", "", plan.plot.plant)
        for number, at in enumerate(plan.plot.boundary, 1):
            yield row(f"S{number}", "boundary", "", at)
        for number, kept in enumerate(plan.plot.keep_outs, 1):
            yield from kept_off(number, kept)
        for number, at in enumerate(plan.plot.water, 1):
            yield row(f"W{number}", "water", "", at)
        for number, (x, y, level) in enumerate(plan.plot.levels, 1):
            yield row(f"L{number}", "level", "", (x, y), ground_level_m=level)

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
            return rounded(point, TOLD_TO)
        return rounded(to_degrees(origin, point), _DECIMALS)

    return {
        "type": "FeatureCollection",
        **({"name": name} if name else {}),
        **({"coordinates_are": "local_metres"} if origin is None else _lies(origin)),
        "features": list(_features(plan, place)),
    }


def blocked(each: KeepOut) -> str:
    """What may not come near, by the word of a job."""
    return "both" if len(each.blocks) == 2 else next(iter(each.blocks))


def _lies(origin: Origin) -> Object:
    """Where (0, 0) of the plot lies, for whoever reads the file into a plot again."""
    told = {"longitude_deg": origin.longitude, "latitude_deg": origin.latitude}
    return {"plot_origin": told | {"turned_deg": origin.turned}}


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
        "blocks": blocked(each),
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
        about = {"name": chamber.name, "max_loops": chamber.largest}
        yield _feature("chamber", "Point", place(chamber.at), **about)
    for trench in plan.trenches:
        about = {"loop": trench.loop, "width_m": round_one(trench.width)}
        yield _feature("trench", "LineString", [place(p) for p in trench.line], **about)
    for bore in plan.bores:
        about = {"loop": bore.loop, "depth_m": round_one(bore.depth)}
        yield _feature("borehole", "Point", place(bore.at), **about)
    for mat in plan.mats:
        about = {"loop": mat.loop, "diameter_m": round_one(mat.diameter)}
        yield _feature("mat", "Point", place(mat.at), **about)
    for pit in plan.pits:
        yield _feature("spare_pit", "Polygon", _ring(pit.corners, place), loop=pit.loop)
    for stretch in plan.stretches:
        yield _feature(
            "header_trench" if stretch.medium == "ground" else "in_water",
            "LineString",
            [place(p) for p in stretch.line],
            pipe_count=stretch.pipes,
            loops=list(stretch.loops),
            runs=list(stretch.runs),
        )
