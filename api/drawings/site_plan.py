"""Where an array lies on its plot, as SVG: true to a scale of ISO 5455, legible in grey print.

Lengths on paper are millimetres throughout, x to the right and y down as SVG has them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from api.answers.numbers import short
from api.drawings.plan import (
    EARTH,
    FRAME,
    HEADER_DASH,
    INK,
    SITE_DASH,
    SMALL,
    SOFT,
    STRIP,
    SYMBOL,
    WHITE,
    Sheet,
    bore_sign,
    boxed,
    fitted,
    in_metres,
    lettering,
    mm,
    on_sheet,
    room_of,
    ruled,
    sheet_for,
    titled_strip,
)
from hydraulics.plot.site import Point
from hydraulics.plot.site_plan import SitePlan, Stretch

_HOUSE, _WATER, _WET = "#d4d0ca", "#cfe3ee", "#1b6a97"
_CLEAR_DASH: Final = "0.4 0.9"
_THINNEST, _PER_PIPE, _THICKEST = 0.35, 0.06, 2.5  # of header trenches' lines
_SIGNS: Final = ("▼", "=", "▲")  # of a loop's flow: starved, even, more than its share
_MOST_COORDINATES: Final = 12  # corners beside which coordinates stand
_TALL, _BELOW = 0.75 * SMALL, 0.2 * SMALL  # of lettering, above and below its line
_SHARES: Final = (0.5, 0.35, 0.65, 0.2, 0.8)  # of a line, where its lettering is tried
_SIGN: Final = 1.7  # half of a chamber's sign, or the plant room's, and a little air
_BOLD: Final = 1.15  # times as wide as usual lettering
_LEVEL_DOWN: Final = (-0.5, 2.0, -4.0, 5.5, -7.5, 9.0)  # mm, of a level's words from its cross
_CELL: Final = 10.0  # of a grid, to find what is lettered near by


@dataclass(frozen=True)
class LoopFlows:
    """How the flows of a plan's loops stand, to colour it by.

    Attributes
    ----------
    deviation
        From its target of the flow of every loop that flows, as a fraction.
    tolerance
        Largest that is even, as a fraction.
    """

    deviation: Mapping[str, float]
    tolerance: float

    @cached_property
    def _known(self) -> dict[str, tuple[int, str, str]]:
        """State, colour and words of every loop, as all pictures of flows have them."""
        from api.drawings.style import STATES, percent, states_of  # noqa: PLC0415 (slow to load)

        found = states_of(np.array(list(self.deviation.values())), self.tolerance)
        return {
            loop: (int(state), STATES[state].colour, f"{_SIGNS[state]} {percent(off)}")
            for (loop, off), state in zip(self.deviation.items(), found, strict=True)
        }

    def colour(self, loop: str) -> str:
        """Of what lies in the ground for a loop; white where it does not flow."""
        return self._known[loop][1] if loop in self._known else WHITE

    def words(self, loop: str) -> str:
        """What stands behind a loop's name, so that grey print tells as much."""
        return self._known[loop][2] if loop in self._known else "closed"

    @property
    def key(self) -> Iterator[tuple[str, str]]:
        """Words and colour of each state."""
        from api.drawings.style import STATES  # noqa: PLC0415 (slow to load)

        edge = f"{100.0 * self.tolerance:.3g} %"
        words = (f"over {edge} below target", f"within {edge}", f"over {edge} above target")
        for state, sign, told in zip(STATES, _SIGNS, words, strict=True):
            yield f"{sign} {told}", state.colour

    @property
    def said(self) -> str:
        """How many loops are in each state, and which are below."""
        states = [state for state, _, _ in self._known.values()]
        starved = [loop for loop, (state, _, _) in self._known.items() if state == 0]
        named = (
            f" ({', '.join(starved[:5])}{' and others' * (len(starved) > 5)})" if starved else ""
        )
        edge = f"{100.0 * self.tolerance:.3g} %"
        return (
            f"Coloured by flow: over {edge} below target {len(starved)}{named}, within "
            f"{states.count(1)}, above {states.count(2)}."
        )


class _Paper:
    """Points of the plot on the sheet."""

    __slots__ = ("origin", "sheet")

    def __init__(self, sheet: Sheet, origin: Point) -> None:
        self.sheet, self.origin = sheet, origin

    def at(self, point: Point) -> Point:
        """On paper."""
        return self.sheet.x(point[0] - self.origin[0]), self.sheet.y(point[1] - self.origin[1])

    def path(self, points: Iterable[Point]) -> str:
        """Points as SVG writes them."""
        return " ".join(",".join(map(mm, self.at(point))) for point in points)


class _Letters:
    """Lettering that keeps off what is lettered already, off signs and within the frame."""

    def __init__(self, sheet: Sheet) -> None:
        foot = sheet.height - FRAME - STRIP
        self._frame = shapely.box(FRAME, FRAME, sheet.width - FRAME, foot)
        self._taken: dict[tuple[int, int], list[shapely.Geometry]] = {}

    def taken(
        self, x: float, y: float, words: str, anchor: str = "start", *, only_free: bool = False
    ) -> bool:
        """Take the room of a text, whether it was free or not, or only if it is."""
        wide = room_of(words) - 1.0
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * wide
        room = shapely.box(left, y - _TALL, left + wide, y + _BELOW)
        return self.take(room, only_free=only_free)

    def take(self, room: shapely.Geometry, *, only_free: bool = False) -> bool:
        """Take some room, or only if it is free; whether it was."""
        west, north, east, south = (math.floor(each / _CELL) for each in room.bounds)
        cells = [(k, n) for k in range(west, east + 1) for n in range(north, south + 1)]
        near = [other for cell in cells for other in self._taken.get(cell, ())]
        free = self._frame.contains(room) and not any(map(room.intersects, near))
        if free or not only_free:
            for cell in cells:
                self._taken.setdefault(cell, []).append(room)
        return free


def _along(
    paper: _Paper,
    letters: _Letters,
    line: tuple[Point, ...],
    words: str,
    offs: tuple[float, ...],
    *,
    always: bool = False,
) -> Iterator[str]:
    """Lettering beside the longest straight piece of a line, where it is free; else none.

    None either where it is too short. `always`: at its middle, where none is free.
    """
    a, b = max(pairwise(line), key=lambda side: math.dist(*side))
    (x1, y1), (x2, y2) = sorted((paper.at(a), paper.at(b)))
    long, wide = math.hypot(x2 - x1, y2 - y1), room_of(words)
    if long < wide:
        return
    c, s = (x2 - x1) / long, (y2 - y1) / long

    def drawn(share: float, off: float, *, only_free: bool) -> str:
        x, y = x1 + share * (x2 - x1), y1 + share * (y2 - y1)
        half = (wide - 1.0) / 2.0
        upright = ((-half, off - _TALL), (half, off - _TALL), (half, off + _BELOW))
        corners = [
            (x + u * c - v * s, y + u * s + v * c) for u, v in (*upright, (-half, off + _BELOW))
        ]
        if not letters.take(shapely.Polygon(corners), only_free=only_free) and only_free:
            return ""
        text = lettering(0.0, off, words, anchor="middle", halo=True)
        angle = math.degrees(math.atan2(y2 - y1, x2 - x1))
        return f'<g transform="translate({mm(x)} {mm(y)}) rotate({mm(angle)})">{text}</g>'

    room = 0.5 * wide / long
    places = [(share, off) for share in _SHARES for off in offs if room <= share <= 1.0 - room]
    tried = (drawn(*place, only_free=True) for place in places)
    found = next(filter(None, tried), "")
    if not found and always:
        found = drawn(0.5, offs[0], only_free=False)
    yield from filter(None, [found])


def _polygon(paper: _Paper, points: Iterable[Point], look: str) -> str:
    return f'<polygon points="{paper.path(points)}" {look}/>'


def _ground(paper: _Paper, plan: SitePlan, letters: _Letters) -> Iterator[str]:
    plot = plan.plot
    if plot.water:
        look = f'fill="{_WATER}" stroke="{SOFT}" stroke-width="0.2"'
        yield _polygon(paper, plot.water, look)
    for number, each in enumerate(plot.keep_outs, 1):
        reach = each.shape.buffer(each.reach)
        yield _polygon(
            paper,
            [(float(x), float(y)) for x, y in shapely.get_coordinates(reach.exterior)],
            f'fill="none" stroke="{SOFT}" stroke-width="0.2" stroke-dasharray="{_CLEAR_DASH}"',
        )
        look = f'fill="{_HOUSE}" stroke="{INK}" stroke-width="0.2"'
        middle = each.shape.centroid
        at = paper.at((float(middle.x), float(middle.y)))
        if each.outline:
            yield _polygon(paper, each.outline, look)
        elif each.line:
            yield f'<polyline points="{paper.path(each.line)}" {look.replace(_HOUSE, "none")}/>'
        else:
            radius = max(paper.sheet.length(each.radius), 0.4)
            yield f'<circle cx="{mm(at[0])}" cy="{mm(at[1])}" r="{mm(radius)}" {look}/>'
        x, y = at[0], at[1] - (0.0 if each.outline else 1.2)
        words = f"K{number} {each.name}"
        letters.taken(x, y, words, "middle")
        yield lettering(x, y, words, anchor="middle", halo=True)
    look = f'fill="none" stroke="{INK}" stroke-width="0.5" stroke-dasharray="{SITE_DASH}"'
    yield _polygon(paper, plot.boundary, look)


def _boundary_words(paper: _Paper, plan: SitePlan, letters: _Letters) -> Iterator[str]:
    """Sides with their lengths, corners by number with their coordinates, levels."""
    corners = plan.plot.boundary
    inside = plan.plot.ground.centroid
    for number, (a, b) in enumerate(pairwise((*corners, corners[0]))):
        (x1, y1), (x2, y2) = sorted((paper.at(a), paper.at(b)))
        cx, cy = paper.at((float(inside.x), float(inside.y)))
        # Outside the boundary: above the line where the middle of the plot is below it.
        side = (x2 - x1) * (cy - y1) - (y2 - y1) * (cx - x1)
        off = -1.0 if side > 0.0 else 1.0 + 0.75 * SMALL
        side_is = in_metres(math.dist(a, b))
        yield from _along(paper, letters, (a, b), side_is, (off,), always=True)
        if len(corners) > _MOST_COORDINATES:
            continue
        x, y = paper.at(a)
        right = x >= cx
        words = f"S{number + 1} ({a[0]:.2f}, {a[1]:.2f})"
        room = room_of(words)
        edges = (FRAME + 1.0, paper.sheet.width - FRAME - 1.0)
        x = min(x + 1.5, edges[1] - room) if right else max(x - 1.5, edges[0] + room)
        y += -1.0 if y < cy else 1.0 + SMALL
        anchor = "start" if right else "end"
        letters.taken(x, y, words, anchor)
        yield lettering(x, y, words, anchor=anchor, colour=SOFT, halo=True)
    for number, (x_m, y_m, level) in enumerate(plan.plot.levels, 1):
        x, y = paper.at((x_m, y_m))
        words = f"L{number} {level:.2f}"
        yield ruled(x - 0.6, y, x + 0.6, y) + ruled(x, y - 0.6, x, y + 0.6)
        beside = [
            (x + side * 0.9, y + down, "start" if side > 0.0 else "end")
            for down in _LEVEL_DOWN
            for side in (1.0, -1.0)
        ]
        free = (at for at in beside if letters.taken(*at[:2], words, at[2], only_free=True))
        u, v, anchor = next(free, beside[0])
        yield lettering(u, v, words, anchor=anchor, size=2.0, colour=SOFT, halo=True)


def pipes_of(stretch: Stretch) -> str:
    """Pipes of tails, and of runs: 16+2R."""
    tails, runs = 2 * len(stretch.loops), 2 * len(stretch.runs)
    return "+".join(([f"{tails}"] if tails else []) + ([f"{runs}R"] if runs else []))


def _mat_sign(x: float, y: float, radius: float, fill: str) -> str:
    look = f'fill="{fill}" stroke="{SOFT}" stroke-width="0.18"'
    return f'<circle cx="{mm(x)}" cy="{mm(y)}" r="{mm(radius)}" {look}/>'


def _dug(paper: _Paper, plan: SitePlan, flows: LoopFlows | None) -> Iterator[str]:
    def filled(loop: str) -> str:
        return EARTH if flows is None else flows.colour(loop)

    for each in plan.trenches:
        wide = paper.sheet.length(2.0 * each.half_top)
        points = paper.path(each.line)
        for colour, width in ((INK, wide + 0.3), (filled(each.loop), wide)):
            yield (
                f'<polyline points="{points}" fill="none" stroke="{colour}" '
                f'stroke-width="{mm(width)}" stroke-linejoin="round"/>'
            )
    for stretch in plan.stretches:
        wide = min(_THINNEST + _PER_PIPE * stretch.pipes, _THICKEST)
        colour = INK if stretch.medium == "ground" else _WET
        yield (
            f'<polyline points="{paper.path(stretch.line)}" fill="none" stroke="{colour}" '
            f'stroke-width="{mm(wide)}" stroke-dasharray="{HEADER_DASH}"/>'
        )
    for pit in plan.pits:
        look = f'fill="{EARTH}" stroke="{INK}" stroke-width="0.18"'
        yield _polygon(paper, pit.corners, look)
    for mat in plan.mats:
        radius = 0.5 * paper.sheet.length(mat.diameter)
        yield _mat_sign(*paper.at(mat.at), radius, filled(mat.loop))
    for bore in plan.bores:
        fill = WHITE if flows is None else filled(bore.loop)
        yield bore_sign(*paper.at(bore.at), SYMBOL, fill)


def _signs(paper: _Paper, plan: SitePlan, letters: _Letters) -> Iterator[str]:
    """Plant room and chambers with their names, these with their places."""
    at = [paper.at(chamber.at) for chamber in plan.chambers]
    px, py = paper.at(plan.plot.plant)
    points = f"{mm(px - 1.6)},{mm(py + 1.3)} {mm(px + 1.6)},"
    points += f"{mm(py + 1.3)} {mm(px)},{mm(py - 1.6)}"
    yield f'<polygon points="{points}" fill="{INK}"/>'
    yield _beside(letters, px, py, ("plant",), bold=True)
    for chamber, (x, y) in zip(plan.chambers, at, strict=True):
        yield boxed(x - 1.4, y - 1.4, 2.8, 2.8, fill=WHITE, stroke=0.5, title=chamber.name)
        told = f"{chamber.name} ({chamber.at[0]:.2f}, {chamber.at[1]:.2f})"
        yield _beside(letters, x, y, (told, chamber.name), bold=True)


def _beside(
    letters: _Letters,
    x: float,
    y: float,
    forms: tuple[str, ...],
    *,
    bold: bool = False,
    sides: tuple[float, ...] = (1.0, -1.0),
    always: bool = True,
) -> str:
    """Lettering at a corner of a sign where it is free; the first of its forms that has room.

    `sides`: to the right of it or to the left, whichever is tried. `always`: where no form has
    room, the last stands there all the same; else nothing does.
    """
    places = [
        (x + side * (_SIGN + 0.3), y + up, "start" if side > 0.0 else "end")
        for up in (-_SIGN, _SIGN + _TALL, 0.3 * SMALL)
        for side in sides
    ]
    for words in forms:
        wide = (room_of(words) - 1.0) * (_BOLD if bold else 1.0)
        for at_x, at_y, anchor in places:
            left = at_x - (wide if anchor == "end" else 0.0)
            room = shapely.box(left, at_y - _TALL, left + wide, at_y + _BELOW)
            if letters.take(room, only_free=True):
                return lettering(at_x, at_y, words, anchor=anchor, bold=bold, halo=True)
    if not always:
        return ""
    at_x, at_y, anchor = places[0]
    letters.taken(at_x, at_y, forms[-1], anchor)
    return lettering(at_x, at_y, forms[-1], anchor=anchor, bold=bold, halo=True)


def _places(
    paper: _Paper, plan: SitePlan, flows: LoopFlows | None, letters: _Letters
) -> Iterator[str]:
    """Names of boreholes, mats and pits; the room of signs is taken first."""
    for x, y in map(paper.at, [*(chamber.at for chamber in plan.chambers), plan.plot.plant]):
        letters.take(shapely.box(x - _SIGN, y - _SIGN, x + _SIGN, y + _SIGN))
    for bore in plan.bores:
        letters.take(shapely.Point(paper.at(bore.at)).buffer(SYMBOL))
    for loop, at in [(b.loop, b.at) for b in plan.bores] + [(m.loop, m.at) for m in plan.mats]:
        x, y = paper.at(at)
        if flows is None and not plan.mats:
            yield _beside(letters, x, y, (loop,))
            continue
        letters.taken(x, y - SYMBOL - 0.6, loop, "middle")
        yield lettering(x, y - SYMBOL - 0.6, loop, anchor="middle", halo=True)
        if flows is not None:
            below = y + SYMBOL + 0.8 + 0.75 * SMALL
            letters.taken(x, below, flows.words(loop), "middle")
            yield lettering(x, below, flows.words(loop), anchor="middle", halo=True)
    for pit in plan.pits:
        x, y = paper.at(pit.corners[2])
        letters.taken(x, y, f"{pit.loop} spare")
        yield lettering(x, y, f"{pit.loop} spare", size=2.0, colour=SOFT, halo=True)


def _names(
    paper: _Paper, plan: SitePlan, flows: LoopFlows | None, letters: _Letters
) -> Iterator[str]:
    alike = _length_of_all(plan)
    for trench in plan.trenches:
        words = trench.loop if alike else f"{trench.loop}  {in_metres(trench.length)}"
        forms = [words] if flows is None else [f"{words}  {flows.words(trench.loop)}", words]
        offs = (0.35 * SMALL,)
        drawn = (
            list(_along(paper, letters, trench.line, each, offs, always=True)) for each in forms
        )
        yield from next(filter(None, drawn), [])
    # Where there is no room for all, what most pipes lie in is told.
    numbered = sorted(enumerate(plan.stretches, 1), key=lambda each: -each[1].pipes)
    for number, stretch in numbered:
        pipes = pipes_of(stretch)
        drawn = (
            list(_along(paper, letters, stretch.line, each, (-1.2, 1.2 + _TALL)))
            for each in (f"H{number}: {pipes}", pipes)
        )
        yield from next(filter(None, drawn), [])
    for trench in plan.trenches:
        first, last = trench.line[0], trench.line[-1]
        for number, at, other in ((1, first, last), (len(trench.line), last, first)):
            # Over its own trench, so that it is not read as the end of the next.
            side = 1.0 if paper.at(other)[0] >= paper.at(at)[0] else -1.0
            numbers = (f"{trench.loop}.{number}",)
            yield _beside(letters, *paper.at(at), numbers, sides=(side,), always=False)


def _north(x: float, y: float, turned: float, *, is_known: bool) -> str:
    """An arrow to the north; to the plot's y where nothing tells how it lies on the earth."""
    arrow = f'<polygon points="0,-7 1.8,1 0,-0.6 -1.8,1" fill="{INK}"/>'
    sign = lettering(0.0, -7.8, "N" if is_known else "y", anchor="middle", bold=True)
    # x lies `turned` anticlockwise of east, so that north lies so much clockwise of y.
    return f'<g transform="translate({mm(x)} {mm(y)}) rotate({mm(turned)})">{arrow}{sign}</g>'


def _length_of_all(plan: SitePlan) -> str:
    """Of several trenches that are all as long; empty where they are not."""
    lengths = {in_metres(each.length) for each in plan.trenches}
    return lengths.pop() if len(lengths) == 1 and len(plan.trenches) > 1 else ""


def _said(plan: SitePlan) -> str:
    """What is set out, in words."""
    parts = []
    if plan.trenches:
        alike = _length_of_all(plan)
        each = f" of {alike} each" if alike else ""
        parts.append(f"{len(plan.trenches)} trenches{each}, {in_metres(plan.trench_dug)} in all")
    if plan.bores:
        parts.append(f"{len(plan.bores)} boreholes")
    if plan.mats:
        parts.append(f"{len(plan.mats)} mats")
    lacking, needed = len(plan.without_pit), len(plan.without_pit) + len(plan.pits)
    if needed:
        words = f"{needed} pit{'s' * (needed != 1)} of spare pipe"
        parts.append(f"no room for {lacking} of {words}" if lacking else words)
    parts.append(f"{len(plan.chambers)} chamber{'s' * (len(plan.chambers) != 1)}")
    parts.append(f"{short(plan.header_dug)} m of header trench")
    if tails := plan.tails.values():
        parts.append(f"tails {short(min(tails))} to {short(max(tails))} m one way")
    return ", ".join(parts)


def _strip(paper: _Paper, plan: SitePlan, name: str, flows: LoopFlows | None) -> Iterator[str]:
    sheet = paper.sheet
    top, left, right = sheet.height - FRAME - STRIP, FRAME + 3.0, sheet.width - FRAME
    yield from titled_strip(sheet, name)
    yield lettering(left, top + 14.4, fitted(f"{_said(plan)}.", right - left - 4.0))
    middle = -0.35 * SMALL
    wet = any(each.medium == "water" for each in plan.stretches)
    signs = (
        (True, "boundary", ruled(0, middle, 9, middle, width=0.5, dash=SITE_DASH)),
        (True, "kept off", boxed(0, -2.0, 9, 2.2, fill=_HOUSE)),
        (True, "clearance", ruled(0, middle, 9, middle, width=0.2, dash=_CLEAR_DASH)),
        (True, "chamber", boxed(3.0, -2.2, 2.6, 2.6, fill=WHITE, stroke=0.5)),
        (plan.trenches, "trench, width at the surface", boxed(0, -2.0, 9, 2.2, fill=EARTH)),
        (plan.bores, "borehole", bore_sign(4.3, middle, SYMBOL, WHITE)),
        (plan.mats, "mat in the water", _mat_sign(4.3, middle, 1.2, EARTH)),
        (True, "header trench (H): pipes of tails + runs (R)",
         ruled(0, middle, 9, middle, width=0.8, dash=HEADER_DASH)),
        (wet, "pipe in the water, not dug: the same",
         ruled(0, middle, 9, middle, width=0.8, dash=HEADER_DASH, colour=_WET)),
    )  # fmt: skip
    entries = [(words, sign) for there, words, sign in signs if there]
    if flows is not None:
        entries += [(words, boxed(0, -2.0, 9, 2.2, fill=colour)) for words, colour in flows.key]
    rows = 3 if len(entries) <= 9 else 4
    for number, (words, sign) in enumerate(entries):
        column, row = divmod(number, rows)
        x, y = left + (0.0, 40.0, 112.0)[column], top + 19.4 + row * 8.4 / (rows - 1)
        yield f'<g transform="translate({mm(x)} {mm(y)})">{sign}</g>'
        yield lettering(x + 11.0, y, words)
    yield lettering(
        left, sheet.height - FRAME - 1.6,
        "Drawn for design from what the job tells; not surveyed. Locate buried services first; "
        "trenches can collapse.",
        colour=SOFT,
    )  # fmt: skip


def site_plan_svg(
    plan: SitePlan, name: str, turned: float | None = None, flows: LoopFlows | None = None
) -> str:
    """Draw a plan.

    Parameters
    ----------
    plan
        The plan.
    name
        Name of the job; may be empty.
    turned
        Of the plot's x axis from east, anticlockwise [°]; None where nothing tells.
    flows
        How the loops' flows stand, to colour trenches, boreholes and mats by; None to leave that.

    Returns
    -------
    str
        SVG 1.1 whose size is the paper's in millimetres, with its text alternative in ``<title>``
        and ``<desc>``. It holds no script, style sheet or link.
    """
    x0, y0, x1, y1 = plan.plot.ground.union(shapely.Point(plan.plot.plant)).bounds
    sheet = sheet_for(x1 - x0, y1 - y0)
    paper, letters = _Paper(sheet, (x0, y0)), _Letters(sheet)
    by_flow = "" if flows is None else f" {flows.said}"
    told = f"{_said(plan)}.{by_flow} Scale 1:{sheet.scale} on {sheet.paper}."
    title = f"Setting-out plan of {name}" if name else "Setting-out plan"
    drawn = (
        *_ground(paper, plan, letters),
        *_dug(paper, plan, flows),
        *_places(paper, plan, flows, letters),
        *_signs(paper, plan, letters),
        *_boundary_words(paper, plan, letters),
        *_names(paper, plan, flows, letters),
        _north(sheet.width - FRAME - 8.0, FRAME + 13.0, turned or 0.0, is_known=turned is not None),
        *_strip(paper, plan, name, flows),
    )
    return on_sheet(sheet, title, told, drawn)
