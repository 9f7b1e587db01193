"""In which axes is a plot worked out, so that how it lies on its map changes nothing?

A plot turned, mirrored, moved, or with its corners told from another one on, is the same ground: it
is laid along its longest side, and what was found is laid back.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from hydraulics.plot.asked import AsDrawn, Lay
from hydraulics.plot.site import Line, Point, SitePlot
from hydraulics.plot.site_plan import Chamber, SitePlan

Moved = Callable[[Point], Point]
EXACT: Final = 6  # decimals of a metre: what turning rounds is the same from all sides


@dataclass(frozen=True, slots=True)
class Stance:
    """Axes of a plot's own on its map.

    Attributes
    ----------
    origin
        Where they begin [m].
    along
        Of their x axis, a unit vector.
    mirrored
        Whether their y axis lies clockwise of x.
    ring
        The boundary on them [m].
    """

    origin: Point
    along: Point
    mirrored: bool
    ring: Line = ()

    def own(self, point: Point) -> Point:
        """A point of the map on the plot's own axes [m]."""
        x, y = point[0] - self.origin[0], point[1] - self.origin[1]
        c, s = self.along
        v = y * c - x * s
        return (
            round(x * c + y * s, EXACT) + 0.0,
            round(-v if self.mirrored else v, EXACT) + 0.0,
        )

    def back(self, point: Point) -> Point:
        """A point of the plot's own axes on the map [m]."""
        u, v = point[0], -point[1] if self.mirrored else point[1]
        c, s = self.along
        return (self.origin[0] + u * c - v * s, self.origin[1] + u * s + v * c)

    def bearing(self, angle: float) -> float:
        """A direction of the plot's own axes, anticlockwise from east [°], below 180."""
        own = -angle if self.mirrored else angle
        found = (math.degrees(math.atan2(self.along[1], self.along[0])) + own) % 180.0
        return round(found, 3) % 180.0


def stance_of(plot: SitePlot, lay: Lay, chambers: tuple[Chamber, ...]) -> Stance:
    """The axes along the plot's longest side.

    Of sides equally long, and of both ways along one, those that give the least coordinates to
    boundary, plant room, keep-outs, water, levels, chambers and what is drawn, in this order.
    """
    found = list(_stances(plot.boundary))
    if len(found) == 1:
        return found[0]
    points = [plot.plant, *plot.water]
    for each in plot.keep_outs:
        points += [*each.outline, *each.line, *((each.centre,) if each.centre else ())]
    points += [(x, y) for x, y, _ in plot.levels] + [c.at for c in chambers]
    if isinstance(lay, AsDrawn):
        points += [p for t in lay.trenches for p in t.line]
        points += [bore.at for bore in lay.bores] + [mat.at for mat in lay.mats]
    return min(found, key=lambda each: (each.ring, tuple(map(each.own, points))))


def _stances(boundary: Line) -> Iterator[Stance]:
    """Axes along every longest side, both ways, the ground at their y side."""
    sides = list(zip(boundary, (*boundary[1:], boundary[0]), strict=True))
    lengths = [math.dist(a, b) for a, b in sides]
    twice = sum(ax * by - bx * ay for (ax, ay), (bx, by) in _near(sides))
    for number, ((ax, ay), (bx, by)) in enumerate(sides):
        if (length := lengths[number]) < max(lengths) - 10.0**-EXACT:
            continue
        along = ((bx - ax) / length, (by - ay) / length)
        ahead = boundary[number:] + boundary[:number]
        after = (number + 1) % len(boundary)
        behind = (boundary[after:] + boundary[:after])[::-1]
        behind = (behind[-1], *behind[:-1])
        for origin, way, mirrored, ring in (
            ((ax, ay), along, twice < 0.0, ahead),
            ((bx, by), (-along[0], -along[1]), twice > 0.0, behind),
        ):
            stance = Stance(origin, way, mirrored)
            yield replace(stance, ring=tuple(map(stance.own, ring)))


def _near(sides: list[tuple[Point, Point]]) -> Iterator[tuple[Point, Point]]:
    """Sides from the first corner on, so that large coordinates leave the area its figures."""
    x, y = sides[0][0]
    for (ax, ay), (bx, by) in sides:
        yield (ax - x, ay - y), (bx - x, by - y)


def plot_on(stance: Stance, plot: SitePlot) -> SitePlot:
    """A plot on its own axes."""
    at = stance.own
    return SitePlot(
        stance.ring,
        at(plot.plant),
        tuple(
            replace(
                each,
                outline=tuple(map(at, each.outline)),
                line=tuple(map(at, each.line)),
                centre=None if each.centre is None else at(each.centre),
            )
            for each in plot.keep_outs
        ),
        tuple(map(at, plot.water)),
        plot.border,
        tuple((*at((x, y)), z) for x, y, z in plot.levels),
    )


def lay_on(stance: Stance, lay: Lay) -> Lay:
    """What is laid, on the plot's own axes."""
    if not isinstance(lay, AsDrawn):
        return lay
    at = stance.own
    return replace(
        lay,
        trenches=tuple(replace(t, line=tuple(map(at, t.line))) for t in lay.trenches),
        bores=tuple(replace(b, at=at(b.at)) for b in lay.bores),
        mats=tuple(replace(m, at=at(m.at)) for m in lay.mats),
    )


def plan_back(
    stance: Stance, plan: SitePlan, plot: SitePlot, lay: Lay, chambers: tuple[Chamber, ...]
) -> SitePlan:
    """A plan found on the plot's own axes, on the map; what was given stays as it was given."""
    at = stance.back
    if isinstance(lay, AsDrawn):
        plan = replace(plan, trenches=lay.trenches, bores=lay.bores, mats=lay.mats)
    else:
        plan = replace(
            plan,
            trenches=tuple(replace(t, line=tuple(map(at, t.line))) for t in plan.trenches),
            bores=tuple(replace(b, at=at(b.at)) for b in plan.bores),
            mats=tuple(replace(m, at=at(m.at)) for m in plan.mats),
        )

    def stand(own: tuple[Chamber, ...]) -> tuple[Chamber, ...]:
        return chambers or tuple(replace(c, at=at(c.at)) for c in own)

    return replace(
        plan,
        plot=plot,
        chambers=stand(plan.chambers),
        placed_by=tuple(replace(e, chambers=stand(e.chambers)) for e in plan.placed_by),
        routes=tuple(replace(r, line=tuple(map(at, r.line))) for r in plan.routes),
        stretches=tuple(replace(s, line=tuple(map(at, s.line))) for s in plan.stretches),
        direction_deg=stance.bearing(plan.direction_deg),
    )
