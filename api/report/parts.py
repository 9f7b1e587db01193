"""Pieces that several chapters of the report share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from api.answers.numbers import number
from api.report.blocks import (
    Block,
    Finding,
    Findings,
    Paragraph,
    Picture,
)

DASH: Final = "—"
Object = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Whole:
    """All that a document is written from: the report as data, and its pictures by name."""

    answer: Mapping[str, Any]
    pictures: Mapping[str, Picture]


PARTS: Final = {
    "loops": "Loops", "headers": "Headers", "runs": "Routes in the array",
    "plant_runs": "Routes to the plant",
}  # fmt: skip


def or_dash(read: Object, name: str) -> str:
    """Number under a name, or a dash where there is none."""
    return number(read[name]) if name in read else DASH


MOST_ROWS: Final = 1_000
"""Loops that a table prints; of more, the first and last by flow."""
_ENDS: Final = 50
_SEVERITY: Final = {"error": 0, "warning": 1, "info": 2}


def chosen(loops: list[Object], key: str = "flow_l_s") -> tuple[list[Object], str]:
    """Loops to print, and a sentence where they are not all.

    Parameters
    ----------
    loops
        All loops.
    key
        Field by which the lowest and highest are chosen where there are too many.

    Returns
    -------
    tuple
        Loops in the order of the layout, and the sentence (empty where all are printed).
    """
    if len(loops) <= MOST_ROWS:
        return loops, ""
    order = sorted(range(len(loops)), key=lambda i: (loops[i][key], i))
    kept = sorted({*order[:_ENDS], *order[-_ENDS:]})
    return [loops[i] for i in kept], (
        f"The array has {len(loops):,} loops; the tables list the {_ENDS} with least and the "
        f"{_ENDS} with most flow. The JSON form of this document and the CSV of the flow split "
        "have all."
    )


def _sorted(findings: list[Object]) -> Findings:
    """Findings, gravest first; equal ones in their order."""
    ordered = sorted(findings, key=lambda each: _SEVERITY[each["severity"]])
    return Findings(
        tuple(
            Finding(each["severity"], each.get("where", ""), each["message"], each["source"])
            for each in ordered
        )
    )


def findings_block(findings: list[Object]) -> Block:
    """Findings, or the word that there are none."""
    return _sorted(findings) if findings else Paragraph("None.")


def place_words(array: Mapping[str, Any], where: str) -> str:
    """What a pointer into a job's array leads to, as the table of the layout calls it."""
    numbers = [int(part) for part in where.split("/") if part.isdigit()]
    branch: Mapping[str, Any] = {"circuit": array}
    for number_ in numbers:
        branch = branch["circuit"]["branches"][number_]
    if "loop" in branch:
        return f"loop {branch['loop']['name']}"
    told = f"branch {'.'.join(str(each + 1) for each in numbers)}" if numbers else "the array"
    return str(branch["circuit"].get("name", told))
