"""What does a table of points (CSV, with the columns of our own) draw of a plot?"""

from __future__ import annotations

import csv
import io
import re
from typing import Final

from api.refusals import Json, Place
from api.requests.plot_file import KINDS, Drawn, Form, Reading, told_of
from hydraulics.plot.site import Point

_BOUNDARY: Final = "rows whose kind is boundary, a corner each, in order"
_NEEDED: Final = ("kind", "x_m", "y_m")
_READ: Final = (
    "point", "kind", "belongs_to", "x_m", "y_m", "ground_level_m", "level_m", "clearance_m",
    "radius_m", "blocks", "max_loops",
)  # fmt: skip
_LEVELS: Final = ("ground_level_m", "level_m")  # as our own tables call it, and as the job does
_TELLING: Final = ("belongs_to", "clearance_m", "radius_m", "blocks", "max_loops")
_FORMS: Final[dict[str, tuple[str, Form]]] = {
    "boundary": ("boundary", "area"),
    "water": ("water", "area"),
    "keep_out": ("keep_out", "area"),
    "keep_out_line": ("keep_out", "line"),
    "keep_out_centre": ("keep_out", "point"),
    "trench": ("trench", "line"),
}
"""Kinds of several rows, or of another name than the thing has: thing and form."""
_NAMES: Final = {
    "keep_out": "name", "chamber": "name", "trench": "loop", "borehole": "loop", "mat": "loop",
}  # fmt: skip
"""What `belongs_to` tells of a thing."""
_TEXTS: Final = ("belongs_to", "blocks")
_NUMBER: Final = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,2})?", re.ASCII)
_LONGEST_CELL: Final = 1_000
_TWO: Final = "K1.1, K1.2 and K2.1, K2.2"
_MAY_BE_TWO: Final[dict[Form, int]] = {"line": 4, "area": 6, "point": 2}
"""Points of which a second thing of the form may be."""


def read_csv(text: str) -> Reading:
    """Read a table of points.

    Parameters
    ----------
    text
        The table, its first row the names of its columns: `point`, `kind`, `belongs_to`, `x_m`,
        `y_m` and what more our own tables have. Cells are parted by commas, or by semicolons and
        numbers then may have a comma.

    Returns
    -------
    Reading
        What it draws. Its places are line and column.
    """
    reading = Reading(_BOUNDARY)
    text = text.removeprefix("\ufeff")
    head = text.split("\n", 1)[0]
    between = ";" if head.count(";") > head.count(",") else ","
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=between, strict=True)
    try:
        columns = [name.strip() for name in next(rows, [])]
        if missing := [name for name in _NEEDED if name not in columns]:
            detail = f"its first row has no column {' and none '.join(missing)}."
            reading.refuse((1,), "Line 1", detail, ", ".join(_READ[:5]))
            return reading
        if len(set(columns)) < len(columns):
            reading.refuse((1,), "Line 1", "it names a column twice.", "each column once")
            return reading
        for name in columns:
            if name not in _READ:
                reading.leave(f"the column {name[:60]!r}", (1, name[:60]))
        _read_rows(rows, columns, reading)
    except csv.Error as error:
        line = max(rows.line_num, 1)
        reading.refuse((line,), f"Line {line}", f"it is no CSV: {error}.", "CSV of RFC 4180")
    return reading


def _read_rows(rows: Json, columns: list[str], reading: Reading) -> None:
    """Gather the rows of each thing, and note it."""
    held: dict[tuple[str, str], list[tuple[Place, Point]]] = {}
    things: dict[tuple[str, str], dict[str, tuple[Json, Place]]] = {}
    levelled = False
    before: tuple[str, str] | None = None
    for cells in rows:
        line = rows.line_num
        if not any(cell.strip() for cell in cells):
            continue
        words = f"Line {line}"
        if len(cells) != len(columns):
            detail = f"it has {len(cells)} cells and the first row {len(columns)}."
            reading.refuse((line,), words, detail, f"{len(columns)} cells")
            return
        row = {name: _plain(cell) for name, cell in zip(columns, cells, strict=True)}
        kind, form = _FORMS.get(row["kind"], (row["kind"], "point"))
        if kind not in KINDS:
            reading.drawn.append(Drawn(kind, form, (), (line,), words))
            before = None
            continue
        point = _point(row, line, words, reading)
        if point is None:
            return
        told: dict[str, tuple[Json, Place]] = {
            name: (_number(row[name]) if name not in _TEXTS else row[name], (line, name))
            for name in _TELLING
            if row.get(name)
        }
        if kind == "level":
            told |= _level(row, line, words, reading)
        elif any(row.get(name) for name in _LEVELS):
            levelled = True
        if "belongs_to" in told:
            name = _NAMES.get(kind, "belongs_to")
            told[name] = told.pop("belongs_to")
        of = (row["kind"], _whose(row, kind, form, line))
        if of in held and of != before and _ended(of, line, reading):
            return
        before = of
        held.setdefault(of, []).append(((line,), point))
        if kind == "keep_out" and of in things and _differs(things[of], told, line, reading):
            return
        things[of] = told | things.get(of, {})
    for of, points in held.items():
        word = of[0]
        kind, form = _FORMS.get(word, (word, "point"))
        at = points[0][0]
        given = ((name, value, place) for name, (value, place) in things[of].items())
        known = told_of(kind, given, reading.leave)
        words = f"Line {at[0]} ({word})" if len(points) == 1 else f"Lines from {at[0]} ({word})"
        _note_one(of, words, len(points), form, reading)
        reading.drawn.append(
            Drawn(
                kind, form, tuple(point for _, point in points), at, words,
                tuple(place for place, _ in points), known,
            )
        )  # fmt: skip
    if levelled:
        reading.leave(
            "ground_level_m of what is no level: our own tables have it worked out",
            (1, next(name for name in _LEVELS if name in columns)),
        )


def _whose(row: dict[str, str], kind: str, form: Form, line: int) -> str:
    """Rows of one area or line belong together; each of any other kind is a thing of its own."""
    if kind in ("boundary", "water"):
        return ""
    if form == "point":
        return str(line)
    return f"{row.get('point', '').rpartition('.')[0]}\n{row.get('belongs_to', '')}"


def _ended(of: tuple[str, str], line: int, reading: Reading) -> bool:
    """Whether a row goes on with a thing that ended, by no number of its point; refused then."""
    if not of[1].startswith("\n"):
        return False
    detail = (
        f"rows of kind {of[0]} and name {of[1][1:61]!r} ended before. Where they are one thing, "
        f"put them together; where they are two, number their points, {_TWO}."
    )
    reading.refuse((line,), f"Line {line}", detail, "rows of one thing one after the other")
    return True


def _note_one(of: tuple[str, str], words: str, count: int, form: Form, reading: Reading) -> None:
    """Note rows that are read as one thing and could be two."""
    if of[1].startswith("\n") and count >= _MAY_BE_TWO[form]:
        reading.notes.append(
            f"{words}: rows of one kind and name {of[1][1:61]!r} are one thing of {count} points. "
            f"Where they are two, number their points, {_TWO}."
        )


def _differs(
    held: dict[str, tuple[Json, Place]],
    told: dict[str, tuple[Json, Place]],
    line: int,
    reading: Reading,
) -> bool:
    """Whether a row contradicts an earlier one of the same thing; it is refused then."""
    for name, (value, place) in told.items():
        first, at = held.get(name, (value, place))
        if first != value:
            detail = (
                f"its {name} is {value!r:.40} and that of line {at[0]} is {first!r:.40}, for one "
                "keep-out. Give its rows one value, or tell two keep-outs apart by their points, "
                "K1.1 and K2.1."
            )
            allowed = f"one {name} for each keep-out"
            reading.refuse(place, f"Line {line}", detail, allowed, value)
            return True
    return False


def _plain(cell: str) -> str:
    """A cell without the apostrophe by which our tables keep it from being a formula."""
    return cell.strip().removeprefix("'")[:_LONGEST_CELL]


def _number(cell: str) -> Json:
    """A number, or the text that is none, which the plot's own reading refuses."""
    if not _NUMBER.fullmatch(cell):
        return cell
    found = float(cell.replace(",", "."))
    return int(found) if found.is_integer() else found


def _level(
    row: dict[str, str], line: int, words: str, reading: Reading
) -> dict[str, tuple[Json, Place]]:
    """The level of a row, and where it stands; nothing after what is none was refused."""
    told = [name for name in _LEVELS if row.get(name)]
    if not told:
        detail = "a level has neither ground_level_m nor level_m; give one of these columns [m]."
        reading.refuse((line, _LEVELS[0]), words, detail, "the level of the ground there [m]")
        return {}
    if len({row[name] for name in told}) > 1:
        detail = "its ground_level_m and level_m differ; leave one of them out."
        reading.refuse((line, told[1]), words, detail, "one level", row[told[1]])
        return {}
    cell, place = row[told[0]], (line, told[0])
    level = reading.number(_number(cell), place, words, f"{told[0]} {cell[:40]!r}", "level")
    return {"level_m": (level, place)}


def _point(row: dict[str, str], line: int, words: str, reading: Reading) -> Point | None:
    reading.count(1)
    x = reading.number(_number(row["x_m"]), (line, "x_m"), words, f"x_m {row['x_m'][:40]!r}")
    y = reading.number(_number(row["y_m"]), (line, "y_m"), words, f"y_m {row['y_m'][:40]!r}")
    return None if x is None or y is None else (x, y)
