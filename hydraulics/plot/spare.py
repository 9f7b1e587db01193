"""Where is there room for pipe that is coiled up to make loops equal?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.findings import COMMON_PRACTICE, Finding
from hydraulics.plot.asked import HeaderRules
from hydraulics.plot.network import footprint
from hydraulics.plot.site import TOUCHING, Point
from hydraulics.plot.site_plan import CHAMBER_SIDE, Pit, SitePlan
from hydraulics.plot.usable import grown, header_ground

STEP: Final = 0.5  # m between places tried along a tail
TOUCH: Final = 1e-3  # m that a pit may overlap the header trench that it opens into


@dataclass(frozen=True, slots=True)
class PitsPlaced:
    """Pits that have room, and loops of which the spare pipe has none."""

    pits: tuple[Pit, ...]
    refused: tuple[tuple[str, float], ...]

    def findings(self) -> Iterator[Finding]:
        """Yield for every loop that its spare pipe has no room."""
        for loop, side in self.refused:
            yield Finding(
                "no_room_for_spare",
                "error",
                f"Spare pipe of {loop} takes a pit {side:.2f} m square; none fits beside "
                "its tail clear of trenches, keep-outs and the boundary: wind a smaller coil, even "
                "out with valves, or put the chamber elsewhere.",
                COMMON_PRACTICE,
            )


def place_pits(
    plan: SitePlan, sides: Sequence[tuple[str, float]], rules: HeaderRules
) -> PitsPlaced:
    """Put a pit for every coil of spare pipe beside its loop's tail, as near to the loop as can be.

    Parameters
    ----------
    plan
        The plan.
    sides
        Loops that have spare pipe, and the square pit of each coil at the surface [m].
    rules
        How header trenches lie: pits keep the same ground from trenches, and the same border.

    Raises
    ------
    InputError
        When a loop is not on the plan, or not reached.
    """
    tails = plan.tail_lines
    refuse(
        *(
            Fault("sides", f"{loop!r} has no tail on the plan", loop, ", ".join(tails) or "none")
            for loop, _ in sides
            if loop not in tails
        ),
        *(number_fault(f"sides.{loop}", side, "m", above=0.0) for loop, side in sides),
    )
    taken = [footprint(t, rules.clear) for t in plan.trenches]
    taken += [
        shapely.LineString(s.line).buffer(rules.half_width - TOUCH, cap_style="flat")
        for s in plan.stretches
    ]
    taken += [shapely.Point(bore.at).buffer(rules.clear) for bore in plan.bores]
    half = CHAMBER_SIDE / 2.0
    taken += [shapely.box(x - half, y - half, x + half, y + half) for x, y in _chambers(plan)]
    # What a header trench may cross is not dug away under a pit.
    crossed = (each for each in plan.plot.keep_outs if "header" not in each.blocks)
    taken += [grown(each.shape, each.reach) for each in crossed]
    # An edge keeps off keep-outs as a header trench's edge does, and off the boundary as its line.
    free = header_ground(plan.plot, rules.border, 0.0).difference(shapely.union_all(taken))
    placed: list[Pit] = []
    refused = []
    for loop, side in sides:
        shapely.prepare(free)
        corners = _tried(tails[loop], side, rules)
        fits = shapely.covers(free, shapely.polygons(corners)) if len(corners) else np.zeros(0)
        if not fits.any():
            refused.append((loop, side))
            continue
        first = corners[int(np.argmax(fits))]
        pit = Pit(loop, tuple((float(x), float(y)) for x, y in first))
        placed.append(pit)
        free = free.difference(pit.shape.buffer(rules.clear, join_style="mitre"))
    return PitsPlaced(tuple(placed), tuple(refused))


def _chambers(plan: SitePlan) -> list[Point]:
    """Places of chambers but at the plant room."""
    plant = plan.plot.plant
    return [each.at for each in plan.chambers if math.dist(each.at, plant) > TOUCHING]


def _tried(line: tuple[Point, ...], side: float, rules: HeaderRules) -> np.ndarray:
    """Corners of pits on both sides along a tail, from its loop on, shape (n, 4, 2)."""
    found = []
    off = rules.half_width
    for a, b in pairwise(line):
        length = math.dist(a, b)
        if length == 0.0:
            continue
        ahead = (np.array(b) - a) / length
        for turn in (1.0, -1.0):
            out = turn * np.array([-ahead[1], ahead[0]])
            for way in np.arange(0.0, length + STEP / 2.0, STEP):
                near = np.array(a) + way * ahead + off * out
                back = near - side / 2.0 * ahead
                found.append(
                    [back, back + side * ahead, back + side * ahead + side * out, back + side * out]
                )
    return np.array(found)
