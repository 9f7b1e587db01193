"""What is wrong with trenches and bores that somebody drew?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, product
from typing import Final, Literal

import shapely

from hydraulics.errors import Fault
from hydraulics.plot.asked import LEAST_GROUND, AsDrawn, HeaderRules
from hydraulics.plot.network import footprint
from hydraulics.plot.site import Point, SitePlot
from hydraulics.plot.site_plan import Bore, Mat, SitePlan, Trench

DrawnCode = Literal[
    "outside_border",
    "in_keep_out",
    "in_water",
    "out_of_water",
    "centres_close",
    "limbs_close",
    "bend_sharp",
    "header_crosses_trench",
]
ROUNDING: Final = 1e-4  # m that a drawing may be off
ROUNDED_BEND: Final = 0.05  # ° that a bend may be off: centimetres over 10 m


@dataclass(frozen=True, slots=True)
class DrawnFault:
    """One thing wrong with what is drawn.

    Attributes
    ----------
    code
        What it is.
    loop
        Whose trench, bore or mat.
    at
        Where [m].
    metres
        How far it is, or [°] for a bend.
    least
        How far it must be.
    other
        The loop or keep-out that it is too near to.
    """

    code: DrawnCode
    loop: str
    at: Point
    metres: float
    least: float
    other: str = ""


def drawn_faults(plot: SitePlot, lay: AsDrawn) -> Iterator[DrawnFault]:
    """Yield all that is wrong with a drawing.

    Parameters
    ----------
    plot
        The ground.
    lay
        What is drawn on it.
    """
    ground, pond = plot.ground, plot.pond
    edge = ground.exterior
    lines = [(t.loop, shapely.LineString(t.line), t.half_top) for t in lay.trenches]
    lines += [(b.loop, shapely.Point(b.at), 0.0) for b in lay.bores]
    yield from _ashore(lay, pond)
    for loop, line, half in lines:
        least = max(plot.border, half)
        out = line.difference(ground)
        if not out.is_empty:
            yield DrawnFault("outside_border", loop, _point(out), -out.length, least)
        elif (away := line.distance(edge)) < least - ROUNDING:
            yield DrawnFault("outside_border", loop, _nearest(line, edge), away, least)
        yield from _kept_out(plot, loop, line, half)
        if not pond.is_empty and (away := line.distance(pond)) < half - ROUNDING:
            yield DrawnFault("in_water", loop, _nearest(line, pond), away, half)
    for mat in lay.mats:
        yield from _kept_out(plot, mat.loop, shapely.Point(mat.at), mat.diameter / 2.0)
    yield from _close(lay)
    for left, right in combinations(lay.mats, 2):
        least = (left.diameter + right.diameter) / 2.0 + lay.gap
        if (away := math.dist(left.at, right.at)) < least - ROUNDING:
            yield DrawnFault("centres_close", right.loop, right.at, away, least, left.loop)
    for bore, trench in product(lay.bores, lay.trenches):
        axis, line = shapely.Point(bore.at), shapely.LineString(trench.line)
        least = trench.half_top + LEAST_GROUND
        if (away := axis.distance(line)) < least - ROUNDING:
            yield DrawnFault("centres_close", bore.loop, bore.at, away, least, trench.loop)
    for trench in lay.trenches:
        yield from _of_one(trench, lay.centres)


def _kept_out(
    plot: SitePlot, loop: str, line: shapely.Geometry, half: float
) -> Iterator[DrawnFault]:
    """What a loop's middle line or axis, half so wide [m], comes too near to."""
    for each in plot.keep_outs:
        if "array" not in each.blocks:
            continue
        away, least = line.distance(each.shape) - each.radius, each.clearance + half
        if away < least - ROUNDING:
            at = _nearest(line, each.shape)
            yield DrawnFault("in_keep_out", loop, at, away, least, each.name)


def _ashore(lay: AsDrawn, pond: shapely.Geometry) -> Iterator[DrawnFault]:
    """Mats that do not lie in the water."""
    for mat in lay.mats:
        axis = shapely.Point(mat.at)
        inside = pond.boundary.distance(axis) if pond.covers(axis) else -pond.distance(axis)
        if inside < mat.diameter / 2.0 - ROUNDING:
            yield DrawnFault("out_of_water", mat.loop, mat.at, inside, mat.diameter / 2.0)


def told(lay: AsDrawn, fault: DrawnFault) -> Fault:
    """A fault in words, at the field of what is drawn."""
    drawn: tuple[tuple[str, str, Sequence[Trench | Bore | Mat]], ...] = (
        ("trenches", "line", lay.trenches),
        ("bores", "at", lay.bores),
        ("mats", "at", lay.mats),
    )
    field, what = next(
        (f"{many}.{number}.{part}", each)
        for many, part, those in drawn
        for number, each in enumerate(those)
        if each.loop == fault.loop
    )
    (x, y), away, least = fault.at, fault.metres, fault.least
    told_in = {
        "outside_border": f"lies {-away:.2f} m outside the boundary"
        if away < 0.0
        else f"comes to {away:.2f} m from the boundary",
        "in_keep_out": f"comes to {away:.2f} m from {fault.other}, counted to its centre line"
        if away > 0.0
        else f"{'runs through' if isinstance(what, Trench) else 'lies on'} {fault.other}",
        "in_water": f"comes to {away:.2f} m from the water",
        "out_of_water": f"has its centre {away:.2f} m from the bank"
        if away > 0.0
        else f"has its centre {-away:.2f} m outside the water",
        "centres_close": f"comes to {away:.2f} m from {fault.other}, centre to centre",
        "limbs_close": f"comes to {away:.2f} m from itself after a bend",
        "bend_sharp": f"bends to {away:.0f}°",
        "header_crosses_trench": f"comes to {away:.2f} m from the header trench of {fault.other}",
    }[fault.code]
    unit = "°" if fault.code == "bend_sharp" else " m"
    do = "move it, or bend it otherwise" if isinstance(what, Trench) else "move it"
    return Fault(
        field,
        f"{fault.loop} {told_in} at ({x:.2f}, {y:.2f}); {do}",
        what.line if isinstance(what, Trench) else what.at,
        f"{least:g}{unit} or more",
    )


def _close(lay: AsDrawn) -> Iterator[DrawnFault]:
    """Trenches and bores too near to each other."""
    lines = [shapely.LineString(trench.line) for trench in lay.trenches]
    tree = shapely.STRtree(lines)
    for i, j in sorted(
        (i, int(j))
        for i, line in enumerate(lines)
        for j in tree.query(line, "dwithin", lay.centres)
        if i < j
    ):
        one, two, a, b = lay.trenches[i], lay.trenches[j], lines[i], lines[j]
        if a.distance(b) < lay.centres - ROUNDING and not _in_line(one, two):
            at = _nearest(a, b)
            yield DrawnFault("centres_close", two.loop, at, a.distance(b), lay.centres, one.loop)
    for first, second in combinations(lay.bores, 2):
        if (away := math.dist(first.at, second.at)) < lay.spacing - ROUNDING:
            yield DrawnFault("centres_close", second.loop, second.at, away, lay.spacing, first.loop)


def _of_one(trench: Trench, centres: float) -> Iterator[DrawnFault]:
    """Limbs of a trench too near to each other, and bends too sharp."""
    sides = [shapely.LineString(side) for side in pairwise(trench.line)]
    for (i, one), (j, two) in combinations(enumerate(sides), 2):
        if j - i > 1 and (away := one.distance(two)) < centres - ROUNDING:
            yield DrawnFault("limbs_close", trench.loop, _nearest(one, two), away, centres)
    for (ax, ay), (bx, by), (cx, cy) in zip(
        trench.line, trench.line[1:], trench.line[2:], strict=False
    ):
        back, ahead = math.atan2(ay - by, ax - bx), math.atan2(cy - by, cx - bx)
        inner = abs(math.degrees((ahead - back + math.pi) % (2.0 * math.pi) - math.pi))
        if inner < 90.0 - ROUNDED_BEND:
            yield DrawnFault("bend_sharp", trench.loop, (bx, by), inner, 90.0)


def _in_line(one: Trench, two: Trench) -> bool:
    """Whether two trenches lie end to end, where their ends may be nearer than centres."""
    if len(one.line) > 2 or len(two.line) > 2:
        return False
    (ax, ay), (bx, by) = one.line
    along = math.atan2(by - ay, bx - ax)
    off = [abs((y - ay) * math.cos(along) - (x - ax) * math.sin(along)) for x, y in two.line]
    apart = footprint(one).distance(footprint(two))
    return max(off) < one.half_top and apart > 0.0


def crossed(plan: SitePlan, rules: HeaderRules) -> Iterator[DrawnFault]:
    """Yield where a header trench comes nearer to a trench or bore than ground is to be left."""
    dug = [(t.loop, footprint(t)) for t in plan.trenches]
    dug += [(b.loop, shapely.Point(b.at)) for b in plan.bores]
    for route in plan.routes:
        for number, side in enumerate(pairwise(route.line)):
            line = shapely.LineString(side)
            for loop, ground in dug:
                if number == 0 and loop == route.loop:
                    continue
                away = line.distance(ground) - rules.half_width
                if away < rules.clear - 1e-3:
                    at = _nearest(line, ground)
                    yield DrawnFault(
                        "header_crosses_trench", route.name, at, away, rules.clear, loop
                    )


def _point(shape: shapely.Geometry) -> Point:
    x, y = shapely.get_coordinates(shape)[0]
    return (float(x), float(y))


def _nearest(shape: shapely.Geometry, other: shapely.Geometry) -> Point:
    return _point(shapely.shortest_line(shape, other))
