"""Which trenches that have their places run into one another?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from shapely.ops import substring

from hydraulics.findings import Finding
from hydraulics.plot.network import footprint
from hydraulics.plot.site_plan import HAIR, Trench
from hydraulics.plot.usable import dug_surface, polygons

TOUCHING: Final = 1e-3  # m² that two trenches may share by rounding: 10 m of 0.1 mm
TOLD_TO: Final = 1e-3  # m
TURN: Final = 2.0  # widths at the surface that a trench has left a leg behind by once it is another


def tops_over(trenches: Sequence[Trench]) -> Iterator[Finding]:
    """Yield which trenches run into one another, or one into itself, at the surface or the floor.

    Parameters
    ----------
    trenches
        As they are dug, each of another loop.

    Notes
    -----
    So far into one another as the largest circle in the ground that both take is wide. Named are
    the two that share the most ground. What a trench takes twice where it turns is its own: a leg
    is held against what lies more than `TURN` widths beyond its end, which a bend of 30 degrees
    between its legs, or blunter, never reaches.
    """
    yield from _into_itself(trenches)
    if len(trenches) < 2:
        return
    shapes = np.array([footprint(each) for each in trenches])
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    once = first < second
    first, second = first[once], second[once]
    both = shapely.intersection(shapes[first], shapes[second])
    shared = shapely.area(both)
    met = int((shared > TOUCHING).sum())
    if not met:
        return
    worst = int(shared.argmax())
    one, other = trenches[first[worst]], trenches[second[worst]]
    lines = [shapely.LineString(each.line) for each in (one, other)]
    apart = lines[0].distance(lines[1])
    over = _over(both[worst])
    floors = shapely.intersection(*map(dug_surface, lines, (one.width / 2.0, other.width / 2.0)))
    how = f"come to {apart:.2f} m of one another by their centre lines"
    rest = f"; so do {met - 1:,} other pairs" if met > 2 else "; so does one other pair"
    yield Finding(
        "trench_tops_overlap", "error",
        f"Trenches {one.loop} and {other.loop}, {2.0 * one.half_top:.2f} m and "
        f"{2.0 * other.half_top:.2f} m wide at the surface, {how if apart > HAIR else 'cross'} and "
        f"run up to {over:.2f} m into one another{', their floors too' * (floors.area > TOUCHING)}"
        f"{rest * (met > 1)}: the soil between them is counted twice, and no wall stands there. "
        "Set them further apart, dig steeper supported sides, or dig one wide pit and count its "
        "volume by hand.",
        "geometry",
    )  # fmt: skip


def _into_itself(trenches: Sequence[Trench]) -> Iterator[Finding]:
    """Trenches that come back so close that they run into themselves; the worst is named."""
    found = [(_over(shared), each) for each in trenches if (shared := _taken_twice(each))]
    if not found:
        return
    over, worst = max(found, key=lambda pair: pair[0])
    others = len(found) - 1
    yield Finding(
        "trench_tops_overlap", "error",
        f"Trench {worst.loop}, {2.0 * worst.half_top:.2f} m wide at the surface, comes back beside "
        f"itself and runs up to {over:.2f} m into itself"
        f"{f'; so do {others:,} others' if others > 1 else '; so does one other' * others}: the "
        "soil between its legs is counted twice, and no wall stands there. Set its legs further "
        "apart, dig steeper supported sides, or dig one wide pit and count its volume by hand.",
        "geometry",
    )  # fmt: skip


def _over(shared: shapely.Geometry) -> float:
    """How far two run into one another by the ground that both take [m]."""
    return float(2.0 * shapely.maximum_inscribed_circle(polygons(shared), TOLD_TO).length)


def _taken_twice(trench: Trench) -> shapely.Geometry | None:
    """Ground that a bent trench takes by two of its legs, turns left out; None for none."""
    line = shapely.LineString(trench.line)
    past, twice = 0.0, []
    for start, end in pairwise(trench.line):
        leg = shapely.LineString((start, end))
        past += leg.length
        rest = past + TURN * 2.0 * trench.half_top
        if rest < line.length:
            later = dug_surface(substring(line, rest, line.length), trench.half_top)
            twice.append(dug_surface(leg, trench.half_top).intersection(later))
    shared = max(twice, key=shapely.area, default=None)
    return shared if shared is not None and shared.area > TOUCHING else None
