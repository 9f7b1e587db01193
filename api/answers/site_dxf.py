"""A site plan as a DXF drawing in metres, on layers that are named for what lies on them."""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Iterable
from itertools import chain
from typing import Any, Final

import shapely

from api.answers.parts import Object
from api.answers.site_files import blocked
from hydraulics.plot.network import footprint
from hydraulics.plot.site import KeepOut, Point
from hydraulics.plot.site_plan import CHAMBER_SIDE, SitePlan

LAYERS: Final[dict[str, tuple[str, int]]] = {
    "SITE": ("boundary", 7),
    "KEEP_OUT": ("what is kept off", 8),
    "CLEARANCE": ("its clearance", 9),
    "WATER": ("water", 5),
    "LEVEL": ("surveyed levels, at their height", 8),
    "TRENCH": ("trenches of loops, as wide as at the surface", 30),
    "TRENCH_CENTRE": ("their centre lines", 1),
    "HEADER": ("header trenches", 3),
    "IN_WATER": ("ways of tails through water, where nothing is dug", 5),
    "BORE": ("boreholes", 1),
    "MAT": ("pond mats", 4),
    "PIT": ("pits of spare pipe, as wide as at the surface", 30),
    "CHAMBER": ("chambers", 6),
    "PLANT": ("where pipes leave the building", 2),
    "TEXT": ("names, and pipes in each header trench", 7),
}
"""Layers of a drawing: what lies on each, and its colour by DXF's index."""
APPLICATION: Final = "EVENLOOP"
"""Under this name stands, as extended data of an entity, what it is called and asks for."""
_METRES: Final = 6  # of $INSUNITS
_TEXT, _LENGTH, _WHOLE = 1000, 1041, 1070  # group codes; a length is scaled with its entity
_LETTERS: Final = 0.6  # m high
_CHAMBER: Final = CHAMBER_SIDE / 2.0
_BORE: Final = 0.15  # m, radius of its sign


_CODES: Final = {str: _TEXT, float: _LENGTH, int: _WHOLE}


def is_installed() -> bool:
    """Whether the library that writes DXF is there."""
    return importlib.util.find_spec("ezdxf") is not None


def dxf_of(plan: SitePlan) -> bytes:
    """The plan as DXF R2010, its unit the metre; equal plans give equal bytes."""
    from ezdxf import new, options  # noqa: PLC0415 (optional, and slow to load)

    options.write_fixed_meta_data_for_testing = True
    drawing: Any = new("R2010", units=_METRES)
    for name, (about, colour) in LAYERS.items():
        drawing.layers.add(name, color=colour).description = about
    drawing.appids.add(APPLICATION)
    space = drawing.modelspace()

    def tell(entity: Any, told: Object) -> None:  # noqa: ANN401 (of an untyped library)
        if told:
            pairs = [[(_TEXT, name), (_CODES[type(each)], each)] for name, each in told.items()]
            entity.set_xdata(APPLICATION, list(chain.from_iterable(pairs)))

    def line(
        layer: str, points: Iterable[Point], *, closed: bool = False, **told: str | float
    ) -> None:
        made = space.add_lwpolyline(list(points), close=closed, dxfattribs={"layer": layer})
        tell(made, told)

    def area(layer: str, shape: shapely.Geometry, **told: str | float) -> None:
        for part in shapely.get_parts(shape):
            points = map(tuple, shapely.get_coordinates(part.exterior)[:-1])
            line(layer, points, closed=True, **told)

    def circle(layer: str, at: Point, radius: float, **told: str | float) -> None:
        tell(space.add_circle(at, radius, dxfattribs={"layer": layer}), told)

    def words(text: str, at: Point, layer: str = "TEXT") -> None:
        space.add_text(text, dxfattribs={"layer": layer, "height": _LETTERS, "insert": at})

    plot = plan.plot
    line("SITE", plot.boundary, closed=True)
    for each in plot.keep_outs:
        _kept_off(each, line, circle)
        area("CLEARANCE", each.shape.buffer(each.reach) if each.reach > 0.0 else shapely.Polygon())
        middle = each.shape.centroid
        words(each.name, (float(middle.x), float(middle.y)))
    if plot.water:
        line("WATER", plot.water, closed=True)
    for x, y, level in plot.levels:
        space.add_point((x, y, level), dxfattribs={"layer": "LEVEL"})
        words(f"{level:.2f}", (x, y), "LEVEL")
    for trench in plan.trenches:
        area("TRENCH", footprint(trench))
        line("TRENCH_CENTRE", trench.line, loop=trench.loop)
        words(trench.loop, trench.line[0])
    for bore in plan.bores:
        circle("BORE", bore.at, _BORE, loop=bore.loop)
        words(bore.loop, bore.at)
    for mat in plan.mats:
        circle("MAT", mat.at, mat.diameter / 2.0, loop=mat.loop)
        words(mat.loop, mat.at)
    for pit in plan.pits:
        area("PIT", pit.shape)
        words(f"{pit.loop} spare", pit.corners[0])
    for stretch in plan.stretches:
        line("IN_WATER" if stretch.medium == "water" else "HEADER", stretch.line)
        middle = shapely.LineString(stretch.line).interpolate(0.5, normalized=True)
        words(f"{stretch.pipes}", (float(middle.x), float(middle.y)))
    for chamber in plan.chambers:
        x, y = chamber.at
        box = shapely.box(x - _CHAMBER, y - _CHAMBER, x + _CHAMBER, y + _CHAMBER)
        area("CHAMBER", box, name=chamber.name, max_loops=chamber.largest)
        words(chamber.name, chamber.at)
    space.add_point(plot.plant, dxfattribs={"layer": "PLANT"})
    written = io.StringIO()
    drawing.write(written)
    return written.getvalue().encode()


def _kept_off(each: KeepOut, line: Any, circle: Any) -> None:  # noqa: ANN401 (local functions)
    told: Object = {
        "name": each.name,
        "clearance_m": float(each.clearance),
        "blocks": blocked(each),
    }
    if each.outline:
        line("KEEP_OUT", each.outline, closed=True, **told)
    elif each.line:
        line("KEEP_OUT", each.line, **told)
    elif each.centre is not None:
        told["radius_m"] = float(each.radius)
        circle("KEEP_OUT", each.centre, max(each.radius, _BORE), **told)
