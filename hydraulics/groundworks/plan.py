"""How do trenches, bores or mats lie on the plot? Plain shapes in metres, for whoever draws them.

The origin is the plot's lower left corner, x to the right, y up. Rows of trenches run along y, side
by side along x; the header trench runs along the foot of each row and, beside the first trenches,
from row to row.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from hydraulics.groundworks.excavation import DugTrench
from hydraulics.plot.plot import Plot

Point = tuple[float, float]
ShapeKind = Literal["site", "trench", "header_trench", "coil", "pipe", "borehole", "mat"]
COILS_DRAWN_AT_MOST: Final = 3000  # coils; beyond it a drawing to scale shows none of them


@dataclass(frozen=True, slots=True)
class Rectangle:
    """An upright rectangle by its lower left corner and its size [m]."""

    x: float
    y: float
    width: float
    height: float
    kind: ShapeKind
    label: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle by its centre and diameter [m]."""

    x: float
    y: float
    diameter: float
    kind: ShapeKind
    label: str = ""


@dataclass(frozen=True, slots=True)
class Polyline:
    """A line through points [m]."""

    points: tuple[tuple[float, float], ...]
    kind: ShapeKind


@dataclass(frozen=True, slots=True)
class Text:
    """A label at a point [m]."""

    x: float
    y: float
    text: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A drawing: everything lies within width and height [m]."""

    width: float
    height: float
    rectangles: tuple[Rectangle, ...]
    circles: tuple[Circle, ...]
    lines: tuple[Polyline, ...]
    texts: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """How equal places are set out: so many side by side, so many rows.

    Attributes
    ----------
    places
        Trenches, bores or mats.
    across, rows
        Places side by side, and rows of them.
    pitch_across, pitch_along
        Centre to centre [m].
    span
        Length of one place along its row's direction [m]: the trench's length, 0 for a bore.
    border
        Distance kept from the plot's edge to the outer edges of what is laid [m].
    fits
        Whether it lies within the site; None where the site's sides are not known, or where what
        it holds does but something is left out.
    body
        Width of a place at the surface [m]: the trench as dug, the mat's diameter, 0 for a bore.
    ends
        What the sloped ends of one trench take beyond its span, both together [m].
    centres
        Of the boreholes of a field that was sized, from its corner [m]; empty for a grid.
    left_out
        What of the array it does not hold, in words; empty where it holds all.
    """

    places: int
    across: int
    rows: int
    pitch_across: float
    pitch_along: float
    span: float
    border: float
    fits: bool | None
    body: float = 0.0
    ends: float = 0.0
    centres: tuple[tuple[float, float], ...] = ()
    left_out: str = ""

    @property
    def in_rows(self) -> bool:
        """Whether all stand on one grid of the pitch, not each in a place of its own."""
        steps = np.array(self.centres) / self.pitch_across
        return bool((np.abs(steps - np.round(steps)) < 1e-6).all())

    @property
    def width(self) -> float:
        """Of the plot that it takes, borders included [m]."""
        places = (self.across - 1) * self.pitch_across
        if self.centres:
            places = max(x for x, _ in self.centres)
        return places + self.body + 2.0 * self.border

    @property
    def length(self) -> float:
        """Of the plot that it takes, borders included [m]."""
        places = (self.rows - 1) * self.pitch_along
        if self.centres:
            places = max(y for _, y in self.centres)
        return places + (self.span or self.body) + self.ends + 2.0 * self.border

    @property
    def area(self) -> float:
        """Of the plot that it takes, borders included [m²]."""
        return self.width * self.length

    def place(self, number: int) -> tuple[float, float]:
        """Foot of a trench, or centre, (x, y) [m], the numbers running along each row."""
        row, column = divmod(number, self.across)
        x, y = column * self.pitch_across, row * self.pitch_along
        if self.centres:
            x, y = self.centres[number]
        half = 0.5 * self.body
        foot = 0.5 * self.ends if self.span else half
        return self.border + half + x, self.border + foot + y


def lies_within(block: Block, sides: tuple[float, float]) -> bool:
    """Whether a block lies within a plot of those sides (across, along) [m]."""
    return block.width <= sides[0] + 1e-9 and block.length <= sides[1] + 1e-9


def field_block(centres: Sequence[tuple[float, float]], border: float, plot: Plot) -> Block:
    """Set out boreholes where they stand in the field that was sized.

    Parameters
    ----------
    centres
        From the field's corner [m], two or more. The nearest two tell the pitch; those that stand
        as far along make a row, and the fullest row tells how many stand side by side.
    border
        Distance kept to the boundary [m].
    plot
        The plot, which is taken either way round.
    """
    pitch = min(math.dist(a, b) for a, b in _joined(centres))
    in_row = Counter(round(y, 2) for _, y in centres)
    across, rows = max(in_row.values()), len(in_row)
    block = Block(
        len(centres), across, rows, pitch, pitch, 0.0, border, None, centres=tuple(centres)
    )
    if plot.length is None or plot.width is None:
        return block
    sides = (plot.width, plot.length)
    return replace(block, fits=lies_within(block, sides) or lies_within(block, sides[::-1]))


def set_out(
    places: int,
    span: float,
    pitch: float,
    border: float,
    plot: Plot | None = None,
    *,
    body: float = 0.0,
    ends: float = 0.0,
) -> Block:
    """Set out equal places on a plot.

    Parameters
    ----------
    places
        How many, 1 or more.
    span
        Length of one along its row [m], 0 for a point.
    pitch
        Centres, and the gap between the ends of rows [m], more than 0.
    border
        Distance from the outer edges to the boundary [m].
    plot
        The plot. With sides: as few rows as fit, the plot taken either way round. Without: one
        row of trenches, or a grid as square as can be of points.
    body
        Width of one at the surface [m]: the trench as dug, the mat's diameter, 0 for a bore.
    ends
        What the sloped ends of one take beyond its span, both together [m].

    Returns
    -------
    Block
        The setting out; where nothing fits, the one in fewest rows.
    """

    def block(across: int) -> Block:
        rows = math.ceil(places / across)
        along = span + ends + pitch
        return Block(places, across, rows, pitch, along, span, border, None, body, ends)

    if plot is None or plot.length is None or plot.width is None:
        return block(places if span > 0.0 else math.ceil(math.sqrt(places)))
    best: Block | None = None
    for wide, long in ((plot.width, plot.length), (plot.length, plot.width)):
        room = math.floor((wide - 2.0 * border - body) / pitch + 1e-9) + 1
        tried = block(min(max(room, 1), places))
        fits = lies_within(tried, (wide, long))
        tried = replace(tried, fits=fits)
        better = best is None or (fits, -tried.rows) > (best.fits, -best.rows)
        if better:
            best = tried
    assert best is not None
    return best


def _spine(block: Block) -> float:
    """Distance of the trench that joins the rows from the first places' centre lines [m]."""
    if block.rows == 1:
        return 0.0
    return 0.5 * (block.body + min(block.border, block.pitch_across))


def header_length(block: Block) -> float:
    """Length of header trench along the foot of every row and, beside them, between rows [m]."""
    if block.centres:
        return sum(math.dist(a, b) for a, b in _joined(block.centres))
    full, rest = divmod(block.places, block.across)
    along = full * (block.across - 1) * block.pitch_across
    along += max(rest - 1, 0) * block.pitch_across
    return along + block.rows * _spine(block) + (block.rows - 1) * block.pitch_along


def _header_lines(block: Block) -> list[Polyline]:
    if block.centres:
        return _field_lines(block)
    first, foot = block.place(0)
    spine = first - _spine(block)
    lines: list[Polyline] = []
    for row in range(block.rows):
        end, y = block.place(min((row + 1) * block.across, block.places) - 1)
        if end > spine:
            lines.append(Polyline(((spine, y), (end, y)), "header_trench"))
    if block.rows > 1:
        top = foot + (block.rows - 1) * block.pitch_along
        lines.append(Polyline(((spine, foot), (spine, top)), "header_trench"))
    return lines


def _field_lines(block: Block) -> list[Polyline]:
    first, corner = block.place(0), block.centres[0]
    x, y = first[0] - corner[0], first[1] - corner[1]
    return [
        Polyline(((a[0] + x, a[1] + y), (b[0] + x, b[1] + y)), "header_trench")
        for a, b in _joined(block.centres)
    ]


def _joined(centres: Sequence[Point]) -> list[tuple[Point, Point]]:
    """The shortest tree that joins all points; of equally short ones, that along the rows."""
    at = np.asarray(centres, dtype=float)

    def away(number: int) -> NDArray[np.float64]:
        across, along = np.abs(at - at[number]).T
        return np.asarray(np.hypot(across, along) * (1.0 + 1e-9 * (along > across)))

    nearest, by = away(0), np.zeros(len(at), dtype=int)
    nearest[0] = np.inf
    left, tree = np.ones(len(at), dtype=bool), []
    left[0] = False
    for _ in range(len(at) - 1):
        number = int(np.where(left, nearest, np.inf).argmin())
        left[number] = False
        tree.append((centres[by[number]], centres[number]))
        near = away(number)
        closer = left & (near < nearest)
        nearest[closer], by[closer] = near[closer], number
    return tree


def trench_plan(
    block: Block,
    trenches: Sequence[DugTrench],
    labels: Sequence[str],
    width: float,
    plot: Plot | None,
) -> Plan:
    """Draw trenches, so many metres wide at the surface, on the plot.

    Parameters
    ----------
    block
        From :func:`set_out`, one place for each trench, equal ones counted each.
    labels
        What each of them is called.
    plot
        The plot, drawn where its sides are known.

    Returns
    -------
    Plan
        Site, trenches, coils or pipes within them, header trench and labels.
    """
    rectangles, wide, high = _ground(block, plot)
    circles: list[Circle] = []
    lines: list[Polyline] = _header_lines(block)
    texts: list[Text] = []
    each = [dug.lies for dug in trenches for _ in range(dug.count)]
    flat = sum(lies.coils for lies in each if not lies.upright) <= COILS_DRAWN_AT_MOST
    for number, (lies, label) in enumerate(zip(each, labels, strict=True)):
        x, y = block.place(number)
        rectangles.append(Rectangle(x - 0.5 * width, y, width, lies.length, "trench", label))
        texts.append(Text(x, y + lies.length, label))
        circles += (
            Circle(x, y + (coil + 0.5) * lies.pitch, lies.coil_diameter, "coil")
            for coil in range(lies.coils if flat and not lies.upright else 0)
        )
        # Upright coils are seen as one line; those laid flat hide the pipe back.
        pipes = lies.pipes if not lies.coils else 1 if lies.upright else 0
        for line in range(pipes):
            apart = width / pipes if lies.spacing is None else lies.spacing
            at = x + (line - 0.5 * (pipes - 1)) * apart
            lines.append(Polyline(((at, y), (at, y + lies.length)), "pipe"))
    return Plan(wide, high, tuple(rectangles), tuple(circles), tuple(lines), tuple(texts))


def point_plan(
    block: Block, labels: Sequence[str], diameter: float, kind: ShapeKind, plot: Plot | None
) -> Plan:
    """Draw boreholes or mats on the plot, as circles of one diameter [m]."""
    rectangles, width, height = _ground(block, plot)
    circles: list[Circle] = []
    texts: list[Text] = []
    for number, label in enumerate(labels):
        x, y = block.place(number)
        circles.append(Circle(x, y, diameter, kind, label))
        texts.append(Text(x, y, label))
    lines = tuple(_header_lines(block)) if kind == "borehole" else ()
    return Plan(width, height, tuple(rectangles), tuple(circles), lines, tuple(texts))


def _ground(block: Block, plot: Plot | None) -> tuple[list[Rectangle], float, float]:
    width, height = block.width, block.length
    rectangles: list[Rectangle] = []
    if plot is not None and plot.length is not None and plot.width is not None:
        # The plot is drawn the way round in which the block was set out.
        sides = (plot.width, plot.length)
        if not (width <= sides[0] + 1e-9 and height <= sides[1] + 1e-9):
            turned = width <= sides[1] + 1e-9 and height <= sides[0] + 1e-9
            sides = sides[::-1] if turned else sides
        rectangles.append(Rectangle(0.0, 0.0, sides[0], sides[1], "site", "site"))
        width, height = max(width, sides[0]), max(height, sides[1])
    return rectangles, width, height
