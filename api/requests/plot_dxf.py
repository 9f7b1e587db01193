"""What does a DXF drawing (text, on the layers of our own) draw of a plot?

Of a drawing only pairs of a group code and a value are read, one line each, so that its size alone
says how long that takes; blocks are not gone into.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Final

from api.answers.site_dxf import APPLICATION
from api.refusals import Json, Place
from api.requests.plot_file import Drawn, Form, Reading, told_of
from hydraulics.plot.arcs import arc_points
from hydraulics.plot.site import Point

LAYER_KINDS: Final = {
    "SITE": "boundary",
    "KEEP_OUT": "keep_out",
    "WATER": "water",
    "LEVEL": "level",
    "TRENCH_CENTRE": "trench",
    "BORE": "borehole",
    "MAT": "mat",
    "CHAMBER": "chamber",
    "PLANT": "plant_room",
}
"""Layers that a plot is read from, and what lies on each."""
_OURS: Final = {
    "CLEARANCE": "a keep-out's clearance is a number of the job",
    "TRENCH": "widths follow from the array",
    "HEADER": "header trenches are worked out by setting out",
    "IN_WATER": "ways through water are worked out by setting out",
    "PIT": "pits of spare pipe are worked out by setting out",
    "TEXT": "lettering",
}
_BOUNDARY: Final = "a closed polyline on the layer SITE, or the only closed one in it"
METRES: Final = {
    1: ("inches", 0.0254), 2: ("feet", 0.3048), 4: ("millimetres", 0.001),
    5: ("centimetres", 0.01), 6: ("metres", 1.0), 7: ("kilometres", 1e3), 10: ("yards", 0.9144),
    14: ("decimetres", 0.1), 21: ("US survey feet", 1200.0 / 3937.0),
}  # fmt: skip
"""Units of $INSUNITS that are read: name, and metres in one (inch and foot by definition)."""
_INTEGER: Final = re.compile(r"\s*-?\d{1,4}\s*", re.ASCII)
_DECIMAL: Final = re.compile(r"\s*[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?\s*", re.ASCII)
_READ: Final = ("LWPOLYLINE", "POLYLINE", "LINE", "CIRCLE", "POINT")
_LETTERING: Final = ("TEXT", "MTEXT", "ATTRIB", "ATTDEF")
_CLOSED: Final = 1  # bit of group 70 of polylines
_MOST_BULGE: Final = 1_000.0
_LARGEST: Final = 1e12  # m, and of any other number: beyond it no sum of two need be a number
_CHORDS: Final = "Arcs were read as chords, at most a centimetre off them."
_MESH: Final = 16 | 64  # bits of a polyline that is a mesh


@dataclass(slots=True)
class _Entity:
    """An entity: its pairs, its line in the file, and the vertices of an old polyline."""

    kind: str
    line: int
    pairs: list[tuple[int, str]] = field(default_factory=list)
    vertices: list[_Entity] = field(default_factory=list)

    def text(self, code: int, default: str = "") -> str:
        """First value of a group code."""
        return next((value for each, value in self.pairs if each == code), default)


class _BrokenError(Exception):
    """The text is no DXF; says why, and at which line."""

    def __init__(self, line: int, detail: str) -> None:
        self.line, self.detail = line, detail
        super().__init__(detail)


def read_dxf(text: str) -> Reading:
    """Read a drawing.

    Parameters
    ----------
    text
        The drawing as DXF in text form.

    Returns
    -------
    Reading
        What it draws, in metres by its own `$INSUNITS`. Its places are layer and handle, or line.
    """
    reading = Reading(_BOUNDARY)
    try:
        unit, entities = _parsed(text)
    except _BrokenError as error:
        reading.refuse((error.line,), f"Line {error.line}", error.detail, "DXF in text form")
        return reading
    if unit not in METRES:
        known = "; ".join(f"{number} {name}" for number, (name, _) in METRES.items())
        what = "it does not tell its unit" if not unit else f"its unit is number {unit}"
        detail = f"{what}; set $INSUNITS of its header to that in which it is drawn."
        reading.refuse(("$INSUNITS",), "The drawing", detail, known, unit)
        return reading
    name, metres = METRES[unit]
    if metres != 1.0:
        reading.notes.append(f"The drawing is in {name}, which were turned into metres.")
    sole = _sole_area(entities)
    for each in entities:
        kind = LAYER_KINDS.get(_layer(each).upper(), "")
        if each is sole:
            kind = "boundary"
            reading.notes.append(
                f"The only closed polyline, on the layer {_layer(each)[:60]!r}, was taken as the "
                "boundary."
            )
        _read_entity(each, kind, metres, reading)
    if lost := [each for each in entities if _is_lost(each)]:
        kinds = sorted({each.kind[:40] for each in lost})
        some = f"{', '.join(kinds[:5])}{' and others' * (len(kinds) > 5)}"
        reading.notes.append(
            f"The plot lacks {len(lost)} of what the drawing has on the layers KEEP_OUT and WATER "
            f"({some}), so that nothing would be kept off it. Draw it as closed polylines, lines "
            "or circles, or add it to keep_outs or water, before the plot is used."
        )
    return reading


def _is_lost(each: _Entity) -> bool:
    """Whether something to keep off is drawn in a way that is not read."""
    kind = LAYER_KINDS.get(_layer(each).upper())
    in_model = each.text(67, "0") != "1"
    return kind in ("keep_out", "water") and in_model and each.kind not in (*_READ, *_LETTERING)


# ----------------------------------------------------------------------------------------- the text


def _pairs(text: str) -> Iterator[tuple[int, int, str]]:
    """Line, group code and value of every pair."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for number in range(0, len(lines) - 1, 2):
        if not _INTEGER.fullmatch(lines[number]):
            detail = f"it is no group code but {lines[number].strip()[:40]!r}."
            raise _BrokenError(number + 1, detail)
        yield number + 1, int(lines[number]), lines[number + 1].strip()


def _parsed(text: str) -> tuple[int, list[_Entity]]:
    """Number of the unit, and the entities of the model."""
    unit, entities, section, variable, ended = 0, [], "", "", False
    begins, has_entities = False, False
    for line, code, value in _pairs(text):
        if code == 0:
            if value == "EOF":
                ended = True
                break
            begins = value == "SECTION"
            if value == "ENDSEC":
                section = ""
            elif section == "ENTITIES":
                entities.append(_Entity(value, line))
        elif code == 2 and begins:
            section, begins = value, False
            has_entities = has_entities or section == "ENTITIES"
        elif section == "HEADER":
            if code == 9:
                variable = value
            elif variable == "$INSUNITS" and code == 70 and _INTEGER.fullmatch(value):
                unit = int(value)
        elif section == "ENTITIES" and entities:
            entities[-1].pairs.append((code, value))
    if not has_entities or not ended:
        what = "ends early: it has no EOF" if has_entities else "has no section of ENTITIES"
        raise _BrokenError(1, f"the drawing {what}.")
    return unit, _gathered(entities)


def _gathered(entities: list[_Entity]) -> list[_Entity]:
    """Entities with the vertices of old polylines within them."""
    found: list[_Entity] = []
    around: _Entity | None = None
    for each in entities:
        if each.kind == "POLYLINE":
            around = each
        elif each.kind == "VERTEX" and around is not None:
            around.vertices.append(each)
            continue
        elif each.kind == "SEQEND":
            around = None
            continue
        else:
            around = None
        found.append(each)
    return found


def _layer(each: _Entity) -> str:
    return each.text(8, "0")


def _flags(each: _Entity) -> int:
    told = each.text(70, "0")
    return int(told) if _INTEGER.fullmatch(told) else 0


def _sole_area(entities: list[_Entity]) -> _Entity | None:
    """The only closed polyline, where none is on the layer of the boundary."""
    closed = [
        each
        for each in entities
        if each.kind in ("LWPOLYLINE", "POLYLINE")
        and _flags(each) & _CLOSED
        and each.text(67, "0") == "0"
    ]
    layers = {_layer(each).upper() for each in entities}
    if len(closed) != 1 or "SITE" in layers or _layer(closed[0]).upper() in (*LAYER_KINDS, *_OURS):
        return None
    return closed[0]


# ------------------------------------------------------------------------------------- its entities


def _read_entity(each: _Entity, kind: str, metres: float, reading: Reading) -> None:
    layer = _layer(each)
    at: Place = (layer[:60], each.text(5)[:20] or each.line)
    what = f"{each.kind[:40]} on the layer {layer[:60]!r}"
    if each.text(67, "0") == "1":
        reading.leave(f"{what}: on paper, not in the model", at)
        return
    if not kind:
        known = f"no layer of a plot ({', '.join(LAYER_KINDS)})"
        reading.leave(f"{what}: {_OURS.get(layer.upper(), known)}", at)
        return
    if each.kind not in _READ:
        reading.leave(f"{what}: only {', '.join(_READ)} are read", at)
        return
    words = f"{each.kind} {each.text(5)[:20]} (line {each.line}, layer {layer[:60]})"
    shape = _Shape(each, metres, at, words, reading)
    if shape.drawn is None:
        return
    form, points, radius = shape.drawn
    given = [(name, value, at) for name, value in _extended(each, metres)]
    if radius is not None and kind == "keep_out" and not any(n == "radius_m" for n, _, _ in given):
        given.append(("radius_m", radius, at))
    if kind == "level":
        given.append(("level_m", shape.height, at))
    if kind == "chamber" and form == "area":
        middle = tuple(sum(p[axis] for p in points) / len(points) for axis in (0, 1))
        form, points = "point", ((middle[0], middle[1]),)
    told = told_of(kind, given, reading.leave)
    reading.drawn.append(Drawn(kind, form, points, at, words, (at,) * len(points), told))


def _extended(each: _Entity, metres: float) -> Iterator[tuple[str, Json]]:
    """Names and values that our drawings keep with an entity; lengths in its unit."""
    inside, name = False, ""
    for code, value in each.pairs:
        if code == 1001:
            inside = value == APPLICATION
        elif inside and code == 1000:
            if name:
                yield name, value
                name = ""
            else:
                name = value
        elif inside and name and code in (1040, 1041, 1070) and _DECIMAL.fullmatch(value):
            found = float(value) * (metres if code == 1041 else 1.0)
            if abs(found) > _LARGEST:  # as it stands, to be refused as no number of the field
                yield name, value
            else:
                yield name, int(found) if code == 1070 else found
            name = ""


class _Shape:
    """Form, points and radius of an entity [m]; `drawn` is None after it was refused."""

    __slots__ = ("at", "drawn", "height", "metres", "reading", "words")

    def __init__(
        self, each: _Entity, metres: float, at: Place, words: str, reading: Reading
    ) -> None:
        self.metres, self.at, self.words, self.reading = metres, at, words, reading
        self.height = 0.0
        self.drawn: tuple[Form, tuple[Point, ...], float | None] | None = None
        up = self._number(each.text(230, "1"))
        if up is None:
            return
        if up < 0.999:
            self._refuse("it is drawn in a plane of its own.", "drawn as seen from above")
            return
        draw: Any = {
            "LINE": self._line, "CIRCLE": self._circle, "POINT": self._point,
        }.get(each.kind, self._polyline)  # fmt: skip
        self.drawn = draw(each)

    def _refuse(self, detail: str, allowed: str) -> None:
        self.reading.refuse(self.at, self.words, detail, allowed)

    def _number(self, told: str, metres: float = 1.0) -> float | None:
        """A number times metres in one; None after what is none, or of no grid, was refused."""
        if not _DECIMAL.fullmatch(told):
            self._refuse(f"{told[:40]!r} is no number.", "a number")
            return None
        number = float(told) * metres
        if abs(number) <= _LARGEST:
            return number
        detail = f"its number {told[:40]} is beyond any grid; draw it where it lies."
        self._refuse(detail, f"a number between -{_LARGEST / metres:g} and {_LARGEST / metres:g}")
        return None

    def _length(self, told: str) -> float | None:
        return self._number(told, self.metres)

    def _place(self, each: _Entity, first: int) -> Point | None:
        x, y = self._length(each.text(first)), self._length(each.text(first + 10))
        return None if x is None or y is None else (x, y)

    def _line(self, each: _Entity) -> tuple[Form, tuple[Point, ...], None] | None:
        start, end = self._place(each, 10), self._place(each, 11)
        return None if start is None or end is None else ("line", (start, end), None)

    def _circle(self, each: _Entity) -> tuple[Form, tuple[Point, ...], float] | None:
        middle, radius = self._place(each, 10), self._length(each.text(40))
        return None if middle is None or radius is None else ("point", (middle,), radius)

    def _point(self, each: _Entity) -> tuple[Form, tuple[Point, ...], None] | None:
        place, height = self._place(each, 10), self._length(each.text(30, "0"))
        if place is None or height is None:
            return None
        self.height = height
        return "point", (place,), None

    def _polyline(self, each: _Entity) -> tuple[Form, tuple[Point, ...], None] | None:
        if each.kind == "POLYLINE" and _flags(each) & _MESH:
            self._refuse("it is a mesh.", "a plain polyline")
            return None
        corners = self._old(each) if each.kind == "POLYLINE" else self._light(each)
        if corners is None:
            return None
        closed = bool(_flags(each) & _CLOSED)
        points: list[Point] = []
        after = [*corners[1:], *(corners[:1] if closed else ())]
        for (corner, bulge), (following, _) in zip(corners, after, strict=False):
            if abs(bulge) > _MOST_BULGE:
                self._refuse(f"a side of it has the bulge {bulge:g}.", f"up to {_MOST_BULGE:g}")
                return None
            between = arc_points(corner, following, bulge)
            points += (corner, *between)
            self.reading.count(1 + len(between))
            if between and _CHORDS not in self.reading.notes:
                self.reading.notes.append(_CHORDS)
        if not closed and corners:
            points.append(corners[-1][0])
        kept = [points[0]] if points else []
        kept += [b for a, b in pairwise(points) if a != b]
        if len(kept) > 1 and kept[0] == kept[-1]:
            closed = True
            kept.pop()
        return ("area" if closed else "line"), tuple(kept), None

    def _light(self, each: _Entity) -> list[tuple[Point, float]] | None:
        """Corners of a light polyline and the bulge of the side after each."""
        corners: list[list[float]] = []
        for code, value in each.pairs:
            if code == 1001:
                break
            if code in (10, 20, 42):
                number = self._number(value) if code == 42 else self._length(value)
                if number is None:
                    return None
                if code == 10:
                    corners.append([number, float("nan"), 0.0])
                elif corners:
                    corners[-1][1 if code == 20 else 2] = number
        if any(y != y for _, y, _ in corners):  # noqa: PLR0124 (nan: never told)
            self._refuse("a corner of it has no y.", "x and y of every corner")
            return None
        return [((x, y), bulge) for x, y, bulge in corners]

    def _old(self, each: _Entity) -> list[tuple[Point, float]] | None:
        """Corners of an old polyline and the bulge of the side after each."""
        corners = []
        for vertex in each.vertices:
            place, bulge = self._place(vertex, 10), self._number(vertex.text(42, "0"))
            if place is None or bulge is None:
                return None
            corners.append((place, bulge))
        return corners
