"""Which points stand for an arc in a drawing?"""

from __future__ import annotations

import math
from typing import Final

from hydraulics.plot.site import Point

SAGITTA: Final = 0.010  # m, between an arc and a chord of it: a spade's work
_MOST_CHORDS: Final = 180  # of one arc


def arc_points(start: Point, end: Point, bulge: float) -> tuple[Point, ...]:
    """Points along an arc between two others, so many that no chord leaves it by over a centimetre.

    Parameters
    ----------
    start, end
        Its ends [m].
    bulge
        Tangent of a quarter of the angle that it turns through, anticlockwise positive; 0 is a
        straight line, 1 half a circle; at most 1000 either way, all but a whole one.

    Returns
    -------
    tuple
        Points between the ends, which are not among them; none for a straight line.
    """
    chord = math.dist(start, end)
    if 0.5 * abs(bulge) * chord <= SAGITTA:
        return ()
    turned = 4.0 * math.atan(bulge)
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    each = 2.0 * math.acos(max(1.0 - SAGITTA / radius, 0.0))
    pieces = min(math.ceil(abs(turned) / max(each, 1e-6)), _MOST_CHORDS)
    # The centre lies on the chord's perpendicular, to its left for a small anticlockwise arc.
    off = (1.0 - bulge * bulge) / (4.0 * bulge)
    x = 0.5 * (start[0] + end[0]) - off * (end[1] - start[1])
    y = 0.5 * (start[1] + end[1]) + off * (end[0] - start[0])
    first = math.atan2(start[1] - y, start[0] - x)
    return tuple(
        (x + radius * math.cos(angle), y + radius * math.sin(angle))
        for angle in (first + turned * number / pieces for number in range(1, pieces))
    )
