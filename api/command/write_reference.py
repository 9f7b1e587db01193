"""Writes docs/reference: what the code declares, as pages for readers.

Run ``python -m api.command.write_reference`` after a change of a schema, route, setting, problem
type or finding; a test fails while the pages differ from the code.
"""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from api.contract.document import build_openapi
from api.contract.examples import MAIN_PATH
from api.contract.operations import OPERATIONS, Operation
from api.service.problem_types import PROBLEM_TYPES
from hydraulics.findings import FINDING_CODES

FOLDER: Final = Path(__file__).resolve().parents[2] / "docs" / "reference"
WRITTEN_BY: Final = (
    "<!-- written by python -m api.command.write_reference; change the code, not this page -->"
)

Schema = Mapping[str, Any]

# Endings of names and the unit that each stands for, in the order of the page.
_ENDINGS: Final = (
    ("_m", "m"), ("_mm", "mm"), ("_m2", "m²"), ("_m3", "m³"), ("_l", "L"), ("_kg", "kg"),
    ("_kpa", "kPa"), ("_c", "°C"), ("_k", "K"), ("_w", "W"), ("_kw", "kW"), ("_kwh", "kWh"),
    ("_percent", "%"), ("_min", "min"), ("_h", "h"), ("_ms", "ms"), ("_rpm", "1/min"),
    ("_l_s", "L/s"), ("_l_min", "L/min"), ("_m3_h", "m³/h"), ("_kg_s", "kg/s"), ("_m_s", "m/s"),
    ("_m_h", "m/h"), ("_l_m", "L/m"), ("_kg_m3", "kg/m³"), ("_mpa", "MPa"), ("_mpa_s", "mPa s"),
    ("_mm2_s", "mm²/s"), ("_kj_kg_k", "kJ/(kg K)"), ("_w_m_k", "W/(m K)"),
    ("_mj_m3_k", "MJ/(m³ K)"), ("_m_k_w", "m K/W"), ("_w_m", "W/m"), ("_kwh_m", "kWh/m"),
    ("_k_m", "K/m"), ("_w_kw", "W/kW"),
)  # fmt: skip


def write_reference() -> list[Path]:
    """Write every page.

    Returns
    -------
    list of Path
        The files written.
    """
    FOLDER.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in reference_pages().items():
        (FOLDER / name).write_text(text, "utf-8")
        written.append(FOLDER / name)
    return written


def reference_pages() -> dict[str, str]:
    """Make every page.

    Returns
    -------
    dict
        Markdown by file name.
    """
    contract = build_openapi()
    schemas: dict[str, Schema] = contract["components"]["schemas"]
    return {
        "nomenclature.md": _nomenclature(schemas),
        "resources.md": _resources(),
        "limits.md": _limits(contract),
        "findings.md": _findings(),
        "problems.md": _problems(),
    }


def field_names(schemas: Mapping[str, Schema]) -> set[str]:
    """Every name that a field of a request or an answer has.

    Parameters
    ----------
    schemas
        The contract's schemas by name.

    Returns
    -------
    set of str
        The names.
    """
    return {name for schema in schemas.values() for name in schema.get("properties", {})}


# ------------------------------------------------------------------------------------ nomenclature


def _nomenclature(schemas: Mapping[str, Schema]) -> str:
    rows = []
    for name in sorted(field_names(schemas)):
        for (unit, meaning), where in _meanings(name, schemas).items():
            rows.append((f"`{name}`", unit, f"{meaning} *{', '.join(sorted(where))}*"))
    endings = [(f"`{ending}`", unit) for ending, unit in _ENDINGS]
    return _page(
        "Nomenclature: every field of requests and answers",
        "A quantity has one unit, which ends its name; no option changes it, and none is guessed "
        "from a value's size. Temperatures are °C, differences of temperature K. Pressures are "
        "gauge where they are those of a vessel or a test, differences otherwise. Where one name "
        "stands in several objects, each meaning has a row of its own, with the objects of "
        "[the contract](../../openapi/evenloop.json).",
        "## Units by the ending of a name",
        _table(("ending", "unit"), endings),
        "Ratios and counts have no ending: `count`, `reynolds`, `loss_coefficient`, "
        "`seasonal_performance`. Hours and years that are counted end in the word: `run_hours`, "
        "`design_years`. A list of values ends in the unit too: `lengths_m`.",
        "## Fields",
        _table(("name", "unit", "meaning, *where*"), rows),
    )


def _meanings(name: str, schemas: Mapping[str, Schema]) -> dict[tuple[str, str], list[str]]:
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    for where, schema in schemas.items():
        if (said := schema.get("properties", {}).get(name)) is not None:
            meaning = str(said.get("description", ""))
            found[str(said.get("x-unit", "")), meaning].append(where)
    return found


# --------------------------------------------------------------------------------------- resources


def _resources() -> str:
    parts = [
        "Calculations are stateless: the same request has the same answer, and nothing is kept. "
        "Every address may also answer with a problem "
        "([problems](problems.md)). Where keys are set, calculations and `/metrics` ask for "
        "`Authorization: Bearer …` ([configuration](../configuration.md)).",
    ]
    for tag in dict.fromkeys(each.tag for each in OPERATIONS):
        rows = [
            (f"`{each.method.upper()} {each.path}`", each.summary, _sends(each))
            for each in OPERATIONS
            if each.tag == tag
        ]
        parts += [f"## {tag.capitalize()}", _table(("address", "what it answers", "sends"), rows)]
    parts.append("## Calculations in detail")
    for each in OPERATIONS:
        if each.method == "post":
            parts += [f"### {each.path}", each.description, _examples(each)]
    return _page("Resources: every address", *parts)


def _sends(operation: Operation) -> str:
    first = operation.answer if isinstance(operation.answer, str) else "application/json"
    pictures = ("image/svg+xml", "image/png") if operation.pictures else ()
    every = dict.fromkeys((first, *operation.also, *pictures))
    status = f" ({operation.status})" if operation.status != 200 else ""
    return ", ".join(f"`{each}`" for each in every) + status


def _examples(operation: Operation) -> str:
    root = FOLDER.parents[1]
    folder = root / "openapi" / "examples"
    if operation.path != MAIN_PATH:
        folder /= operation.path.rsplit("/", 1)[-1]
    links = []
    for file in sorted(folder.glob("*.json")):
        request = file.relative_to(root).as_posix()
        answer = file.parent / "responses" / file.name
        said = f"[{file.stem}](../../{request})"
        if answer.exists():
            said += f" ([answer](../../{answer.relative_to(root).as_posix()}))"
        links.append(f"- {said}")
    return "Examples (all invented):\n\n" + "\n".join(links) if links else ""


# ------------------------------------------------------------------------------------------ limits


def _limits(contract: Schema) -> str:
    schemas: dict[str, Schema] = contract["components"]["schemas"]
    parts = [
        "What a field may be. A value outside is refused with the range, never clamped. Where a "
        "field is required, leaving it out is refused too; otherwise *left out* tells what holds; "
        "where that is blank, the thing is not there. "
        "How large a request may be, how deep, how many loops, is set by whoever runs the "
        "service: [configuration](../configuration.md). How far a fluid's correlation reaches is "
        "told by `GET /v1/antifreezes`; whoever asks beyond it gets `outside-range`.",
    ]
    shown: set[str] = set()
    for operation in OPERATIONS:
        if operation.body is None:
            continue
        start = operation.body.__name__.removesuffix("Schema")
        parts.append(f"## {operation.path}")
        known = []
        for name in _reached(start, schemas):
            if name in shown:
                known.append(name)
                continue
            shown.add(name)
            required = set(schemas[name].get("required", ()))
            rows = [
                (f"`{field}`", str(said.get("x-unit", "")), _allowed(said), _left_out(said))
                if field not in required
                else (f"`{field}`", str(said.get("x-unit", "")), _allowed(said), "required")
                for field, said in schemas[name].get("properties", {}).items()
            ]
            parts += [f"### {name}", _table(("field", "unit", "allowed", "left out"), rows)]
        if known:
            parts.append("And, as above: " + ", ".join(known) + ".")
    return _page("Limits and ranges of every field of a request", *parts)


def _reached(start: str, schemas: Mapping[str, Schema]) -> list[str]:
    """Schemas that a schema leads to, itself first, each once."""
    found: dict[str, None] = {}
    todo = [start]
    while todo:
        name = todo.pop(0)
        if name not in found:
            found[name] = None
            todo += [each for each in _references(schemas[name]) if each not in found]
    return list(found)


def _references(said: object) -> Iterator[str]:
    if isinstance(said, Mapping):
        if isinstance(reference := said.get("$ref"), str):
            yield reference.rsplit("/", 1)[-1]
        for each in said.values():
            yield from _references(each)
    elif isinstance(said, list):
        for each in said:
            yield from _references(each)


def _allowed(said: Schema) -> str:
    if "enum" in said:
        return ", ".join(f"`{each}`" for each in said["enum"])
    if said.get("type") in ("number", "integer"):
        return _number(said)
    if said.get("type") == "string":
        return f"text, {said.get('minLength', 0)} to {said.get('maxLength', '…')} characters"
    if said.get("type") == "boolean":
        return "true or false"
    if said.get("type") == "array":
        low, high = said.get("minItems", 0), said.get("maxItems")
        count = f"{low:,} to {high:,}" if high is not None else f"{low:,} or more"
        kinds = list(dict.fromkeys(_references(said.get("items", {}))))
        return f"list of {count} {' or '.join(kinds) or said['items'].get('type', 'items')}"
    kinds = list(dict.fromkeys(_references(said)))
    text = ["a name"] if any(e.get("type") == "string" for e in said.get("oneOf", ())) else []
    return " or ".join([*text, *kinds]) or "object"


def _number(said: Schema) -> str:
    low, above, high = said.get("minimum"), said.get("exclusiveMinimum"), said.get("maximum")
    whole = "whole, " if said["type"] == "integer" else ""
    if above is not None:
        words = f"more than {above:,.10g}" + (f", up to {high:,.10g}" if high is not None else "")
    elif low is not None and high is not None:
        words = f"{low:,.10g} to {high:,.10g}"
    elif low is not None:
        words = f"{low:,.10g} or more"
    elif high is not None:
        words = f"up to {high:,.10g}"
    else:
        words = "any finite number"
    return whole + words


def _left_out(said: Schema) -> str:
    default = said.get("default")
    if default is None or default == []:
        return ""
    return f"`{str(default).lower()}`" if isinstance(default, bool) else f"`{default}`"


# --------------------------------------------------------------------------- findings and problems


def _findings() -> str:
    rows = [(f"`{code}`", meaning) for code, meaning in FINDING_CODES.items()]
    return _page(
        "Findings: every code",
        "A finding tells what the numbers mean. `code` is stable, for programs; `severity` is "
        "`error` (the design does not work), `warning` (look at it) or `info`; `where` is a JSON "
        "Pointer into the request; `message` has the numbers and units of this case; `source` "
        "tells where the limit comes from, or that it is common practice without a source. "
        "A finding never stops an answer; what cannot be computed is a [problem](problems.md).",
        _table(("code", "meaning"), rows),
    )


def _problems() -> str:
    parts = [
        "Every error is `application/problem+json` (RFC 9457). `type` is one of the addresses "
        "below and stays what it is ([versioning](../versioning.md)); the service itself answers "
        "there with the same words. `errors` lists all faults at once, each with a JSON Pointer "
        "(RFC 6901) or the `parameter` of the address, the `value` given, what is `allowed` and "
        "what to do in `detail`. "
        "What a client should do follows from the status: 4xx needs another request, 429 and "
        "`too-busy` can be sent again after `Retry-After`.",
        _table(
            ("type", "status", "title"),
            [(f"`{e.uri}`", str(e.status), e.title) for e in PROBLEM_TYPES.values()],
        ),
    ]
    for each in PROBLEM_TYPES.values():
        parts += [
            f"## {each.slug}",
            f"{each.status}. {each.title}. {each.meaning}",
            f"What to do: {each.remedy}",
        ]
    return _page("Problems: every kind of error", *parts)


# -------------------------------------------------------------------------------------- Markdown


def _page(title: str, *parts: str) -> str:
    wrapped = ["\n\n".join(_wrap(each) for each in part.split("\n\n")) for part in parts if part]
    return "\n\n".join([f"# {title}", WRITTEN_BY, *wrapped]) + "\n"


def _wrap(paragraph: str) -> str:
    """Break a paragraph's line; headings, tables and lists stay as they are."""
    if paragraph.startswith(("#", "|", "- ")):
        return paragraph
    return textwrap.fill(paragraph, 100, break_long_words=False, break_on_hyphens=False)


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [tuple(_cell(cell) for cell in line) for line in (head, *rows)]
    # The last column is left ragged: it holds the longest text.
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)][:-1]
    lines.insert(1, (*("-" * width for width in widths), "---"))
    return "\n".join(
        "| "
        + " | ".join([*(c.ljust(w) for c, w in zip(line, widths, strict=False)), line[-1]])
        + " |"
        for line in lines
    )


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


if __name__ == "__main__":
    for path in write_reference():
        print(path.name)
