"""Answers as tables that a spreadsheet opens (RFC 4180, in UTF-8)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

Object = dict[str, Any]

_LOOP: Final = (
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
    "straight_drop_kpa",
    "coil_drop_kpa",
    "fittings_drop_kpa",
    "headers_drop_kpa",
)
_JOB: Final = ("job", "name", "status", "detail")
_SETTING: Final = (
    "position",
    "position_kv_m3_h",
    "kv_m3_h",
    "kv_before_m3_h",
    "opening_mm",
    "fully_open",
    "loss_coefficient",
    "bore_mm",
    "drop_kpa",
    "authority_percent",
    "reynolds_factor",
)
_WAY: Final = (
    "way",
    "verdict",
    "loop",
    "flow_l_s",
    "deviation_percent",
    *(f"valve_{name}" for name in _SETTING),
    "spare_pipe_m",
)
_PUMP: Final = (
    "name",
    "invented",
    "control",
    "parallel",
    "series",
    "meets_duty",
    "meets_high_head",
    "set_aside",
    "reasons",
)
_CONDITION: Final = (
    "condition",
    "reason",
    "flow_l_s",
    "head_m",
    "power_w",
    "hydraulic_power_w",
    "efficiency_percent",
    "speed_rpm",
    "state",
    "flow_margin_percent",
    "head_margin_percent",
    "min_flow_l_s",
    "max_flow_l_s",
    "of_best_flow_percent",
    "max_power_w",
    "min_inlet_kpa",
    "energy_kwh",
)
_ORDER: Final = ("part", "pipe", "count", "each_m", "total_m", "for_loops", "for_routes")

_FORMULA: Final = re.compile(r"(?:^|[;,\t\r\n])[\s\ufeff\u200b'\"]*[=+\-@＝＋－＠﹢﹣−|%]")
"""Where a spreadsheet may take what follows for a formula: at the start, or after what it takes
for the end of a cell, whatever cannot be seen between."""


@dataclass(frozen=True, slots=True)
class Table:
    """Columns by name, and rows in which a column may be missing."""

    columns: tuple[str, ...]
    rows: Iterable[Object]


def inert(text: str) -> str:
    """Mark a text that a spreadsheet would run as a formula with an apostrophe before it.

    Source: OWASP, CSV Injection: =, +, -, @, tab and line ends, their full-width forms, and field
    separators and quotes before them.
    """
    return f"'{text}" if _FORMULA.search(text) else text


def csv_of(table: Table, *, decimal_comma: bool = False, byte_order_mark: bool = False) -> str:
    """A whole table as CSV, as :func:`csv_lines` writes it."""
    return "".join(csv_lines(table, decimal_comma=decimal_comma, byte_order_mark=byte_order_mark))


def csv_lines(
    table: Table, *, decimal_comma: bool = False, byte_order_mark: bool = False
) -> Iterator[str]:
    """Write a table as CSV, line by line.

    Parameters
    ----------
    table
        The table.
    decimal_comma
        Whether numbers have a comma, and cells are parted by semicolons.
    byte_order_mark
        Whether it begins with the mark by which spreadsheets know UTF-8.

    Yields
    ------
    str
        A header row and the rows, lines ended by CRLF, every text in quotation marks. A unit ends
        each column's name; what a row lacks is empty.
    """

    def cell(value: str | float | None) -> str:
        if value is None:
            return ""
        if isinstance(value, bool):
            return "true" if value else "false"
        if isinstance(value, str):
            # Only texts can be formulas: a negative number must stay a number.
            return '"' + inert(value).replace('"', '""') + '"'
        return repr(value).replace(".", ",") if decimal_comma else repr(value)

    between = ";" if decimal_comma else ","
    head = between.join(f'"{name}"' for name in table.columns)
    yield ("\ufeff" if byte_order_mark else "") + head + "\r\n"
    for row in table.rows:
        yield between.join(cell(row.get(name)) for name in table.columns) + "\r\n"


def loops_table(loops: Iterable[Object]) -> Table:
    """Loops of POST /v1/split's answer."""
    return Table(_LOOP, ({**loop, **loop["drops"]} for loop in loops))


def batch_table(answers: Iterable[Object], names: Iterable[str]) -> Table:
    """Loops of every job of POST /v1/splits, and what was refused; jobs are counted from one."""

    def rows() -> Iterator[Object]:
        for number, (answer, name) in enumerate(zip(answers, names, strict=True), 1):
            job = {"job": number, "name": name, "status": answer["status"]}
            if "split" not in answer:
                yield {**job, "detail": answer["problem"]["detail"]}
                continue
            for row in loops_table(answer["split"]["loops"]).rows:
                yield {**row, **job}

    return Table((*_JOB, *_LOOP), rows())


def ways_table(answer: Object) -> Table:
    """Loop by loop, each way of POST /v1/balancing that was solved: flows, valves, spare pipe."""

    def rows() -> Iterator[Object]:
        for way in answer["ways"]:
            reached = way.get("loops", ())
            nothing: list[Object] = [{}] * len(reached)
            valves = way.get("settings", nothing)
            spare = way.get("spare_pipe", nothing)
            for loop, valve, pipe in zip(reached, valves, spare, strict=True):
                said = {"way": way["way"], "verdict": way["verdict"]}
                of_valve = {f"valve_{name}": value for name, value in valve.items()}
                yield {**said, **loop, **of_valve, "spare_pipe_m": pipe.get("length_m")}

    return Table(_WAY, rows())


def pumps_table(answer: Object) -> Table:
    """Pumps of POST /v1/pump-choice, best first, a row for each condition; one if set aside."""

    def rows() -> Iterator[Object]:
        for pump in answer["pumps"]:
            for condition in pump["conditions"]:
                told = {name: pump.get(name) for name in _PUMP}
                reasons = " ".join(pump["reasons"])
                yield {**told, "set_aside": False, "reasons": reasons, **condition}
        for each in answer["set_aside"]:
            reasons = " ".join(each["reasons"])
            yield {"name": each["name"], "set_aside": True, "reasons": reasons}

    return Table((*_PUMP, *_CONDITION), rows())


def order_table(order: Object) -> Table:
    """Pipe to order, of POST /v1/groundworks: coils, U-tubes, and what lies in routes."""

    def rows() -> Iterator[Object]:
        for part, lines, length in (("coil", "coils", "coil_m"), ("u_tube", "probes", "depth_m")):
            for line in order[lines]:
                total = {"part": part, "each_m": line[length]}
                # A U-tube's pipe goes down and up, so its metres are not those of the borehole.
                if part == "coil":
                    total["total_m"] = float(f"{line[length] * line['count']:.6g}")
                yield {**line, **total}
        for line in order["routes"]:
            yield {"part": "route", "pipe": line["pipe"], "total_m": line["length_m"]}

    return Table(_ORDER, rows())
