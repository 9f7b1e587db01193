"""Tails, header trenches and points of a setting-out plan as tables for print, sheet after sheet.

Numbers are those of the plan and of the table of points, so that what is pegged out is found on
either.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from api.answers.site_files import points_table
from api.drawings.plan import FRAME, INK, SOFT, Sheet, boxed, fitted, lettering, on_sheet, ruled
from api.drawings.site_plan import pipes_of
from hydraulics.plot.site_plan import SitePlan

_SHEET: Final = Sheet("A4", 210.0, 297.0, 1, 0.0, 0.0)
_ROW: Final = 4.2
_TOP, _FOOT = FRAME + 18.0, 297.0 - FRAME - 7.0
_LEFT, _WIDE, _COLUMNS = FRAME + 3.0, 63.0, 3
_ENDS: Final = (26.0, 42.0, 59.0)  # of the cells of a row: the first begins at the left
_MOST: Final = int((_FOOT - _TOP) / _ROW)  # rows of a column


class _Row(NamedTuple):
    """Cells of a line of a table, and whether they head it."""

    cells: tuple[str, ...]
    heads: bool = False


def _rows(plan: SitePlan) -> Iterator[_Row]:
    tails, runs = plan.tails, plan.runs
    yield _Row(("Tails, one way", "chamber", "m"), heads=True)
    for loop in plan.loops:
        way = f"{tails[loop]:.2f}" if loop in tails else "no way"
        yield _Row((loop, plan.loop_chamber.get(loop, ""), way))
    yield _Row(("Runs, one way", "", "m"), heads=True)
    for chamber in plan.chambers:
        way = f"{runs[chamber.name]:.2f}" if chamber.name in runs else "no way"
        yield _Row((chamber.name, "", way))
    yield _Row(("Header trenches", "pipes", "m"), heads=True)
    for number, each in enumerate(plan.stretches, 1):
        yield _Row((f"H{number}", pipes_of(each), f"{each.length:.2f}"))
    yield _Row(("Points", "x m", "y m"), heads=True)
    for point in points_table(plan).rows:
        yield _Row((str(point["point"]), f"{point['x_m']:.2f}", f"{point['y_m']:.2f}"))


def _columns(rows: Iterable[_Row]) -> Iterator[list[_Row]]:
    """Rows column by column, each of which begins with the head of its table."""
    column: list[_Row] = []
    head = None
    for row in rows:
        # No head stands at the foot of a column.
        if len(column) + 2 * row.heads > _MOST - 1:
            yield column
            column = [] if row.heads or head is None else [head]
        if row.heads:
            head = row
        column.append(row)
    yield column


def _drawn(column: list[_Row], left: float) -> Iterator[str]:
    for number, (cells, heads) in enumerate(column):
        y = _TOP + number * _ROW
        colour = SOFT if heads else INK
        yield lettering(left, y, fitted(cells[0], _ENDS[0]), bold=heads, colour=colour)
        for words, end in zip(cells[1:], _ENDS[1:], strict=True):
            yield lettering(left + end, y, words, anchor="end", bold=heads, colour=colour)
        if heads:
            yield ruled(left, y + 0.9, left + _ENDS[-1], y + 0.9)


def site_table_sheets(plan: SitePlan, name: str) -> list[str]:
    """Draw the tables of a plan.

    Parameters
    ----------
    plan
        The plan.
    name
        Name of the job; may be empty.

    Returns
    -------
    list of str
        SVG 1.1 of every sheet, A4, as :func:`api.drawings.site_plan.site_plan_svg` draws the plan.
    """
    columns = list(_columns(_rows(plan)))
    sheets = [columns[n : n + _COLUMNS] for n in range(0, len(columns), _COLUMNS)]
    title = f"Tables of the setting-out plan{f' of {name}' if name else ''}"
    found = []
    for number, sheet in enumerate(sheets, 1):
        part = f"Sheet {number} of {len(sheets)}"
        told = f"{part}: tails, runs, header trenches and points, numbered as on the plan."
        drawn = [
            boxed(FRAME, FRAME, 210.0 - 2 * FRAME, 297.0 - 2 * FRAME, stroke=0.35),
            lettering(_LEFT, FRAME + 6.0, fitted(name or "Ground array", 180.0, 4.2), size=4.2,
                      bold=True),
            lettering(_LEFT, FRAME + 10.8,
                      f"{told} Pipes: of tails + runs (R), flow and return."),
            lettering(_LEFT, 297.0 - FRAME - 1.8,
                      "From what the job tells; not surveyed. Locate buried services first; "
                      "trenches can collapse.", colour=SOFT),
        ]  # fmt: skip
        for column, rows in enumerate(sheet):
            drawn += _drawn(rows, _LEFT + column * _WIDE)
        found.append(on_sheet(_SHEET, title, told, drawn))
    return found
