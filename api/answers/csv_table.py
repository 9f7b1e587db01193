"""The loops of an answer as a table that a spreadsheet opens (RFC 4180, in UTF-8)."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from typing import Any, Final

_COLUMNS: Final = (
    "loop",
    "where",
    "length_m",
    "coiled_m",
    "flow_l_s",
    "mass_flow_kg_s",
    "target_flow_l_s",
    "share_percent",
    "deviation_percent",
    "deviation_by_length_percent",
    "velocity_m_s",
    "reynolds",
    "regime",
    "drop_kpa",
    "path_drop_kpa",
)
_DROPS: Final = ("straight_drop_kpa", "coil_drop_kpa", "fittings_drop_kpa", "headers_drop_kpa")
_FORMULA: Final = re.compile(r"(?:^|[;,\t\r\n])[\s\ufeff\u200b'\"]*[=+\-@＝＋－＠﹢﹣−|%]")
"""Where a spreadsheet may take what follows for a formula: at the start, or after what it takes
for the end of a cell, whatever cannot be seen between."""


def inert(text: str) -> str:
    """Mark a text that a spreadsheet would run as a formula with an apostrophe before it.

    Source: OWASP, CSV Injection: =, +, -, @, tab and line ends, their full-width forms, and field
    separators and quotes before them.
    """
    return f"'{text}" if _FORMULA.search(text) else text


def loops_csv(loops: Iterable[dict[str, Any]]) -> str:
    """Write the loops of POST /v1/split's answer as CSV.

    Parameters
    ----------
    loops
        Objects of LoopFlowSchema.

    Returns
    -------
    str
        A header row and one row for each loop, lines ended by CRLF, every text in quotation marks.
        A unit ends each column's name.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n", quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow([*_COLUMNS, *_DROPS])
    for loop in loops:
        cells = [loop[name] for name in _COLUMNS]
        cells += [loop["drops"][part] for part in _DROPS]
        # Only texts can be formulas: a negative number must stay a number.
        writer.writerow([inert(cell) if isinstance(cell, str) else cell for cell in cells])
    return text.getvalue()
