"""Pieces that several chapters of the report share."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby
from typing import Any, Final

from api.answers.numbers import number, short
from api.answers.parts import gravity_of
from api.report.blocks import (
    Block,
    Column,
    Finding,
    Findings,
    Mark,
    Paragraph,
    Picture,
    Section,
    Subheading,
    Table,
)
from api.report.words import unit_in_print

DASH: Final = "—"
Object = dict[str, Any]
Writer = Callable[[Any], str]
Shown = tuple[Column, Callable[[Object], str]]
"""A column, and what stands in it of an item."""

three: Final = partial(number, digits=3)


def degrees(value: float) -> str:
    """A temperature, to a hundredth of a degree, from ten on to a tenth: −3.00, 0.00, 25.0."""
    text = f"{value:z.{2 if abs(value) < 9.995 else 1}f}"
    return text.replace("-", "−")


@dataclass(frozen=True, slots=True)
class Whole:
    """All that a document is written from: the report as data, and its pictures by name."""

    answer: Mapping[str, Any]
    pictures: Mapping[str, Picture]


PARTS: Final = {
    "loops": "Loops", "headers": "Headers", "runs": "Routes in the array",
    "plant_runs": "Routes to the plant",
}  # fmt: skip


# ---------------------------------------------------------------------------------- names to words


def whole_number(value: float) -> str:
    """Nearest whole number, written out."""
    return number(round(value))


def per_cent(value: float, digits: int = 4) -> str:
    """Per cent to its thousandths at most: what is beyond is the solution's own rounding."""
    return short(round(value, 3), digits)


def quantity(read: Object, name: str, write: Writer = number) -> str:
    """Value of a field with its unit."""
    return f"{write(read[name])} {unit_in_print(name)}".rstrip()


def text(head: str, of: str | Callable[[Object], str], width: float = 1.0, unit: str = "") -> Shown:
    """Column of words: a field of the item, or what is made of it; a dash where it is absent."""
    column = Column(head, unit, width, number=False)
    return column, of if callable(of) else lambda item: str(item.get(of, DASH))


def measured(
    head: str,
    of: str,
    write: Writer = number,
    *,
    unit: str | None = None,
    width: float = 1.0,
    absent: str = DASH,
) -> Shown:
    """Column of a field's numbers.

    Parameters
    ----------
    head
        Its heading.
    of
        Name of the field; a dot leads into an object within the item.
    write
        How a number is written.
    unit
        Where it is not the one that the name ends in.
    width
        Share of the width.
    absent
        What stands where an item has none.
    """
    *outer, name = of.split(".")

    def cell(item: Object) -> str:
        for each in outer:
            item = item.get(each, {})
        return write(item[name]) if name in item else absent

    return Column(head, unit_in_print(name) if unit is None else unit, width), cell


def table(
    caption: str,
    items: Iterable[Object],
    *shown: Shown,
    mark: Callable[[Object], Mark] | None = None,
) -> Table:
    """Table with a row for each item; ``mark`` tells how a row stands out."""
    kept = list(items)
    return Table(
        caption,
        tuple(column for column, _ in shown),
        tuple(tuple(cell(item) for _, cell in shown) for item in kept),
        tuple(map(mark, kept)) if mark else (),
    )


# ----------------------------------------------------------------------------------- loops to print

MOST_ROWS: Final = 1_000
"""Loops that a table prints; of more, the first and last by flow."""
_ENDS: Final = 50


def chosen(
    loops: Sequence[Object], key: str = "flow_l_s", what: str = "loops"
) -> tuple[Sequence[Object], list[Block]]:
    """Loops to print, in the order of the layout, and a sentence where they are not all.

    Parameters
    ----------
    loops
        All loops.
    key
        Field by which the lowest and highest are chosen where there are too many.
    what
        What they are, where it is something else than loops.
    """
    if len(loops) <= MOST_ROWS:
        return loops, []
    order = sorted(range(len(loops)), key=lambda i: (loops[i][key], i))
    kept = sorted({*order[:_ENDS], *order[-_ENDS:]})
    told = (
        f"The array has {len(loops):,} {what}; the tables list the {_ENDS} with least and the "
        f"{_ENDS} with most flow. The JSON form of this document and the CSV of the flow split "
        "have all."
    )
    return [loops[i] for i in kept], [Paragraph(told)]


def alike(loops: Sequence[Object]) -> list[Object]:
    """Loops told by the same numbers, in one row that names the first and the last of them."""

    def told(loop: Object) -> Object:
        return {name: value for name, value in loop.items() if name != "loop"}

    rows = []
    for _, group in groupby(loops, told):
        first, *others = group
        name = f"{first['loop']} to {others[-1]['loop']}, each" if others else first["loop"]
        rows.append({**first, "loop": name})
    return rows


def by_loop(
    caption: str,
    loops: Sequence[Object],
    key: str,
    *shown: Shown,
    mark: Callable[[Object], Mark] | None = None,
) -> Iterable[Block]:
    """Table of loops, of which those that are too many are left out in words."""
    kept, left_out = chosen(loops, key)
    return (*left_out, table(caption, kept, *shown, mark=mark))


# ---------------------------------------------------------------------------------------- findings


def findings_block(findings: Iterable[Object], answer: Mapping[str, Any]) -> Block:
    """Findings, gravest first, each naming what it concerns; or the word that there are none."""
    items = tuple(
        Finding(
            each["severity"],
            place_words(answer, each["where"]) if each.get("where") else "",
            each["message"],
            each["source"],
        )
        for each in sorted(findings, key=gravity_of)
    )
    return Findings(items) if items else Paragraph("None.")


def numbered(
    opening: Sequence[Block], sections: Sequence[Section]
) -> tuple[list[Block], list[Section], tuple[Block, ...]]:
    """Criteria of all findings as numbers, and the list of what they stand for."""
    criteria: dict[str, int] = {}

    def told(block: Block) -> Block:
        if not isinstance(block, Findings):
            return block
        items = (
            replace(each, source=f"[{criteria.setdefault(each.source, len(criteria) + 1)}]")
            for each in block.items
        )
        return Findings(tuple(items))

    begun = [told(block) for block in opening]
    found = [replace(each, blocks=tuple(map(told, each.blocks))) for each in sections]
    if not criteria:
        return begun, found, ()
    listed = Paragraph(" · ".join(f"[{n}] {source}" for source, n in criteria.items()))
    return begun, found, (Subheading("Criteria of the findings"), listed)


def place_words(answer: Mapping[str, Any], where: str) -> str:
    """What a pointer into an array leads to, as the table of the layout calls it.

    The array is the one of the document's job, or that of a way to balance.
    """
    holder, _, within = where.partition("/array")
    held: Any = answer if holder else answer["job"]
    for part in filter(None, holder.split("/")):
        held = held[int(part) if isinstance(held, list) else part]
    numbers = [int(part) for part in within.split("/") if part.isdigit()]
    branch: Mapping[str, Any] = {"circuit": held["array"]}
    around = ""  # names of the circuits around it, as results call its loops
    for depth, number_ in enumerate(numbers):
        if depth and (name := branch["circuit"].get("name")):
            around += f"{name}/"
        branch = branch["circuit"]["branches"][number_]
    if "loop" in branch:
        return f"loop {around}{branch['loop']['name']}"
    told = f"branch {'.'.join(str(each + 1) for each in numbers)}" if numbers else "the array"
    name = branch["circuit"].get("name")
    return f"{around}{name}" if name else told
