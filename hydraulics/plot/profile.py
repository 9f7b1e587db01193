"""How high do loops and tails of a plan lie, and do they rise and fall on their way?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import shapely

from hydraulics.findings import COMMON_PRACTICE, Finding, counted
from hydraulics.layout.heights import Heights
from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.levels import Surface, level_at, surface
from hydraulics.plot.site import Point, SitePlot
from hydraulics.plot.site_plan import LAYERS_APART, SitePlan
from hydraulics.plot.usable import polygons

STEP: Final = 2.0  # m between points of a profile, besides bends
AIR_STAYS: Final = 0.1  # m that a place lies above its chamber; common practice, no source


@dataclass(frozen=True, slots=True)
class LoopHeights:
    """Levels of a loop's pipe on the plan's datum [m].

    Attributes
    ----------
    loop
        Name of the loop.
    start, end
        Where its trench, bore or mat begins, at the side of its tails, and at its other end.
    lowest, highest
        Of the loop and of its tails up to the chamber: return on the floor of the header trench,
        flow above it, and the top of upright coils.
    fall
        From start to end over the trench's length [-]: above 0 it falls away from the tails.
    air_at
        The highest place, where it lies above the chamber: pipe goes out to it and back, so that
        air stays there; None where the chamber itself is the highest.
    air_level
        Level there, or of the chamber's return.
    """

    loop: str
    start: float
    end: float
    lowest: float
    highest: float
    fall: float
    air_at: Point | None
    air_level: float


def along(line: tuple[Point, ...]) -> list[Point]:
    """Points of a line at its bends, and every so many metres between them."""
    points = list(line[:1])
    for (ax, ay), (bx, by) in pairwise(line):
        pieces = max(1, math.ceil(math.hypot(bx - ax, by - ay) / STEP))
        points += [
            (ax + (bx - ax) * k / pieces, ay + (by - ay) * k / pieces) for k in range(1, pieces + 1)
        ]
    return points


def heights_of(plan: SitePlan, rules: HeaderRules) -> tuple[LoopHeights, ...]:
    """Levels of every loop that is reached; empty where no ground levels are surveyed.

    Parameters
    ----------
    plan
        The plan, its levels of the ground.
    rules
        Depth of header trenches. Mats lie on the bed where a level was surveyed in the water; where
        none was they are told at its lowest bank, and say nothing of air: they lie below it.
    """
    ground = surface(plan.plot.levels)
    if ground is None:
        return ()
    tails = plan.tail_lines
    found = []
    for trench in plan.trenches:
        if trench.loop in tails:
            tail = tails[trench.loop]
            line = trench.line
            if math.dist(line[0], tail[0]) > math.dist(line[-1], tail[0]):
                line = line[::-1]
            own = [(at, level_at(ground, at)[0] - trench.lies) for at in along(line)]
            of_loop = _of_loop(
                trench.loop, own, tail, ground, rules, trench.length, rise=trench.rise
            )
            found.append(of_loop)
    for bore in plan.bores:
        if bore.loop in tails:
            at = level_at(ground, bore.at)[0]
            own = [(bore.at, at - rules.lies), (bore.at, at - bore.depth)]
            found.append(_of_loop(bore.loop, own, tails[bore.loop], ground, rules, bore.depth))
    under = None if not plan.mats or _bed_is_surveyed(plan) else plan.plot.pond
    for mat, level in zip(plan.mats, _levels_of_mats(plan, ground), strict=True):
        if mat.loop in tails:
            own = [(mat.at, level)] * 2
            loop, tail = mat.loop, tails[mat.loop]
            found.append(_of_loop(loop, own, tail, ground, rules, mat.diameter, under))
    return tuple(found)


def _bed_is_surveyed(plan: SitePlan) -> bool:
    """Whether any level was surveyed in the water."""
    return any(shapely.intersects_xy(plan.plot.pond, *each[:2]) for each in plan.plot.levels)


def _levels_of_mats(plan: SitePlan, ground: Surface) -> list[float]:
    """Level of every mat [m]: that of the bed, or of the lowest bank where none was surveyed."""
    if not plan.mats or _bed_is_surveyed(plan):
        return [level_at(ground, mat.at)[0] for mat in plan.mats]
    rings = shapely.get_rings(shapely.get_parts(plan.plot.pond))
    banks = (tuple(map(tuple, shapely.get_coordinates(ring).tolist())) for ring in rings)
    lowest = min(level_at(ground, at)[0] for bank in banks for at in along(bank))
    return [lowest] * len(plan.mats)


def _of_loop(  # noqa: PLR0917 (internal)
    loop: str,
    own: list[tuple[Point, float]],
    tail: tuple[Point, ...],
    ground: Surface,
    rules: HeaderRules,
    length: float,
    under: shapely.Geometry | None = None,
    *,
    rise: float = 0.0,
) -> LoopHeights:
    led = [(at, level_at(ground, at)[0] - rules.lies) for at in along(tail[::-1])]
    tops = [*led, *((at, level + rise) for at, level in own)]
    start, end = own[0][1], own[-1][1]
    flow = max(level for _, level in led) + LAYERS_APART
    known = [e for e in tops if under is None or not shapely.intersects_xy(under, *e[0])]
    at, top = max(known, key=lambda each: each[1])  # flow lies as much higher at the chamber too
    return LoopHeights(
        loop,
        start,
        end,
        lowest=min(level for _, level in (*led, *own)),
        highest=max(flow, *(level for _, level in tops)),
        fall=(start - end) / length,
        air_at=at if top - known[0][1] > AIR_STAYS else None,
        air_level=top,
    )


def site_heights(plan: SitePlan, rules: HeaderRules) -> Heights:
    """Lowest and highest ground over the array, the plant room's and the lowest pipe.

    For static pressure. The plan's levels are the datum; nothing is told where none are surveyed.
    """
    ground = surface(plan.plot.levels)
    if ground is None:
        return Heights()
    lines = [*(t.line for t in plan.trenches), *(r.line for r in plan.routes)]
    points = [p for line in lines for p in along(line)]
    points += [b.at for b in plan.bores]
    levels = [level_at(ground, point)[0] for point in points]
    levels += _levels_of_mats(plan, ground)
    plant = level_at(ground, plan.plot.plant)[0]
    headers = [
        level_at(ground, at)[0] - rules.lies for route in plan.routes for at in along(route.line)
    ]
    loops = [(each.lowest, each.loop) for each in heights_of(plan, rules)]
    lowest, loop = min([*((each, "") for each in headers), *loops], default=(None, ""))
    return Heights(
        min(levels, default=plant),
        max(levels, default=plant),
        plant,
        lowest_pipe=lowest,
        lowest_loop=loop,
    )


def ground_heights(plot: SitePlot) -> Heights:
    """Lowest and highest ground of a plot on which an array has no place yet, and the plant room's.

    Parameters
    ----------
    plot
        The plot, its ground as for a plan: nothing on it lies lower or higher. Fewer than 3 points,
        or points in a line, tell no slope: they are themselves the lowest and the highest.
    """
    ground = surface(plot.levels)
    if ground is None:
        return Heights()
    plant, at = level_at(ground, plot.plant)[0], ground.points
    levels = [plant]
    if ground.triangles is None:
        levels += ground.levels.tolist()
    else:  # flat between these, and on the plane of best fit beyond those
        edges = shapely.linestrings(at[ground.triangles.simplices[:, [0, 1, 2, 0]]])
        met = shapely.get_coordinates(shapely.intersection(edges, plot.ground)).tolist()
        levels += [level_at(ground, (x, y))[0] for x, y in (*plot.boundary, *met)]
        beyond = polygons(plot.ground.difference(shapely.MultiPoint(at).convex_hull))
        at_zero, east, north = ground.plane
        levels += (at_zero + shapely.get_coordinates(beyond) @ [east, north]).tolist()
    return Heights(min(levels), max(levels), plant, anywhere=True)


def height_findings(plan: SitePlan, rules: HeaderRules) -> Iterator[Finding]:
    """Yield what the levels show: slopes, places where air stays, ground that was not surveyed."""
    ground = surface(plan.plot.levels)
    if ground is None:
        return
    found = heights_of(plan, rules)
    lines = [line for t in plan.trenches for line in (t.line[0], t.line[-1])]
    points = [*lines, *(b.at for b in plan.bores), plan.plot.plant]
    if plan.mats and not _bed_is_surveyed(plan):
        yield Finding(
            "level_extrapolated",
            "warning",
            "No level was surveyed in the water: mats are told at the level of its lowest bank, "
            "and lie below it. Survey the bed.",
            COMMON_PRACTICE,
        )
    else:
        points += [mat.at for mat in plan.mats]
    if outside := sum(not level_at(ground, point)[1] for point in points):
        how = "by the plane of best fit" if ground.triangles is not None else "as their mean"
        yield Finding(
            "level_extrapolated",
            "warning",
            f"{outside} of {len(points)} places lie outside the surveyed levels; they are taken "
            f"{how}: survey the ground there.",
            COMMON_PRACTICE,
        )
    if airy := [h for h in found if h.air_at is not None]:
        worst = max(airy, key=lambda h: h.air_level)
        assert worst.air_at is not None
        x, y = worst.air_at
        have = "has" if len(airy) == 1 else "have"
        yield Finding(
            "air_gathers",
            "warning",
            f"{counted(len(airy), 'loop')} of {len(found)} {have} pipe that lies higher than the "
            f"chamber, {worst.loop} at ({x:.1f}, {y:.1f}) at {worst.air_level:.2f} m: air stays "
            "there. Put the chamber higher, a vent there, or flush with a speed that carries air "
            "out.",
            COMMON_PRACTICE,
        )
    steep = [h for h in found if h.loop in {t.loop for t in plan.trenches} and abs(h.fall) > 0.0]
    if steep:
        most = max(steep, key=lambda h: abs(h.fall))
        way = "down" if most.fall > 0.0 else "up"
        low, high = min(h.lowest for h in found), max(h.highest for h in found)
        yield Finding(
            "trench_slope",
            "info",
            f"Trenches follow the ground: {most.loop} runs {way} hill by "
            f"{100.0 * abs(most.fall):.1f} %, {abs(most.start - most.end):.2f} m in all; pipe of "
            f"loops and tails lies between {low:.2f} and {high:.2f} m.",
            COMMON_PRACTICE,
        )
