"""Which trenches do headers lead to, and which must go so that the others are led?"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import shapely

from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.network import TOLD_NEARER, beyond, footprint
from hydraulics.plot.site import TOUCHING, SitePlot
from hydraulics.plot.site_plan import Trench
from hydraulics.plot.usable import FINE, ROUND, header_and_outs, polygons, rounded_ground

Numbers = list[set[int]]
_rounded: Final = lru_cache(maxsize=4)(rounded_ground)  # every layout of a plot asks for it


def kept_led(plot: SitePlot, rules: HeaderRules, trenches: Sequence[Trench]) -> list[int]:
    """Trenches by number that are led to, where those that wall others off are left out.

    Rows close together and across all of a plot part its ground for headers. One after the other a
    trench between ground that is reached and ground that is not is left out: that by which the most
    others are reached, of several the nearest to the plant room.

    Parameters
    ----------
    plot, rules
        The ground, and how header trenches lie on it.
    trenches
        As they are placed.

    Returns
    -------
    list of int
        The most that were led to at once. By the ground alone: whether ways were found, the
        network tells.
    """
    ground = _rounded(plot, rules.border, rules.half_width, FINE)
    out = shapely.Point(header_and_outs(plot, rules.border, rules.half_width)[1][0])
    dug = [footprint(trench) for trench in trenches]
    prints = list(shapely.buffer(dug, rules.around - TOLD_NEARER, quad_segs=ROUND))
    parts = shapely.get_parts(polygons(ground.difference(shapely.union_all(prints))))
    tree = shapely.STRtree(parts)

    def touched(shapes: Sequence[shapely.Geometry]) -> Numbers:
        found: Numbers = [set() for _ in shapes]
        for number, part in tree.query(shapes, "dwithin", TOUCHING).T.tolist():
            found[number].add(part)
        return found

    stubs = [
        shapely.MultiPoint([beyond(t.line, last, rules.straight_on) for last in (False, True)])
        for t in trenches
    ]
    ends, beside, own = touched(stubs), touched(prints), touched([out])[0]
    away = [round(print_.distance(out), 3) for print_ in prints]
    # A trench that no header can begin at is in the way alone.
    kept = [number for number, parts_of in enumerate(ends) if parts_of]
    gone = [number for number, parts_of in enumerate(ends) if not parts_of]
    best: list[int] = []
    while True:
        while any(beside[n] & own and beside[n] - own for n in gone):
            own = own.union(*(beside[n] for n in gone if beside[n] & own))
        led = [n for n in kept if ends[n] & own]
        best = max(best, led, key=len)
        walls = [n for n in kept if beside[n] & own and beside[n] - own]
        if not walls or len(best) == len(kept):
            return best

        reached = [sum(bool(ends[n] & (beside[wall] | own)) for n in kept) for wall in walls]
        wall = max(zip(reached, walls, strict=True), key=lambda each: (each[0], -away[each[1]]))[1]
        kept.remove(wall)
        gone.append(wall)
