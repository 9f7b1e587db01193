"""Pieces that several chapters of the report share."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from api.report.blocks import (
    Block,
    Finding,
    Findings,
    Paragraph,
    Picture,
)
from api.report.words import number

DASH: Final = "—"
Pictures = Mapping[str, Picture]

PARTS: Final = {
    "loops": "Loops", "headers": "Headers", "runs": "Routes in the array",
    "plant_runs": "Routes to the plant",
}  # fmt: skip


def or_dash(read: Object, name: str) -> str:
    """Number under a name, or a dash where there is none."""
    return number(read[name]) if name in read else DASH


def capital(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


Object = dict[str, Any]

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


def sentence(text: str) -> str:
    """Text with a capital and a full stop."""
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")
