"""Which trenches that have their places run into one another?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import shapely

from hydraulics.findings import Finding
from hydraulics.plot.network import footprint
from hydraulics.plot.site_plan import HAIR, Trench
from hydraulics.plot.usable import dug_surface, polygons

TOUCHING: Final = 1e-3  # m² that two trenches may share by rounding: 10 m of 0.1 mm
TOLD_TO: Final = 1e-3  # m


def tops_over(trenches: Sequence[Trench]) -> Iterator[Finding]:
    """Yield which trenches of two loops run into one another, at the surface or at the floor.

    Parameters
    ----------
    trenches
        As they are dug, each of another loop: what one of them takes twice, as where it turns, is
        its own.

    Notes
    -----
    So far into one another as the largest circle in the ground that both take is wide. Named are
    the two that share the most ground.
    """
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
    over = 2.0 * shapely.maximum_inscribed_circle(polygons(both[worst]), TOLD_TO).length
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
