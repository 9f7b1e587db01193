"""Writes docs/reference: what the code declares, as pages for readers.

Run ``python -m api.command.write_reference`` after a change of a schema, route, setting, problem
type or finding; a test fails while the pages differ from the code.
"""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from api.contract.document import build_openapi, meaning_of, reached, references
from api.contract.examples import Example, answer_file, shown_in_contract
from api.contract.operations import OPERATIONS, TAGS, Operation
from api.contract.reference_page import numbers_words
from api.schemas.units import UNITS
from api.service.problem_types import PROBLEM_TYPES
from hydraulics.findings import FINDING_CODES

FOLDER: Final = Path(__file__).resolve().parents[2] / "docs" / "reference"
WRITTEN_BY: Final = (
    "<!-- written by python -m api.command.write_reference; change the code, not this page -->"
)

Schema = Mapping[str, Any]


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
    endings = [(f"`{ending}`", unit) for ending, unit in reversed(UNITS.items())]
    return _page(
        "Nomenclature: every field of jobs and answers",
        "A quantity has one unit, which ends its name; no option changes it, and none is guessed "
        "from a value's size. Temperatures are °C, differences of temperature K. Pressures are "
        "gauge where they are those of a vessel or a test, differences otherwise. Where one name "
        "stands in several objects, each meaning has a row of its own, with the objects of "
        "[the contract](../../openapi/evenloop.json).",
        "## Units by the ending of a name",
        _table(("ending", "unit"), endings),
        "Ratios and counts have no ending: `count`, `reynolds`, `loss_coefficient`, "
        "`seasonal_performance`, `years`. A list of values ends in the unit too: `coils_m`. `min_` "
        "and `max_` begin a limit or the end of a range. `to_ground_c` and `from_ground_c` are the "
        "brine on its way out and back. A difference of pressure is a `drop` or a `head`; a gauge "
        "pressure says `pressure`. `spacing` is from centre to centre.",
        "## Fields",
        _table(("name", "unit", "meaning, *where*"), rows),
    )


def _meanings(name: str, schemas: Mapping[str, Schema]) -> dict[tuple[str, str], list[str]]:
    found: dict[tuple[str, str], list[str]] = defaultdict(list)
    for where, schema in schemas.items():
        if (said := schema.get("properties", {}).get(name)) is not None:
            meaning = meaning_of(said, schemas)
            found[str(said.get("x-unit", "")), meaning].append(where)
    return found


# --------------------------------------------------------------------------------------- resources


def _resources() -> str:
    parts = [
        "Every calculation takes a job, reads the parts that it needs, checks all of it, and is "
        "stateless: the same job has the same answer, and nothing is kept. Each address sends one "
        "media type. "
        "Every address may also answer with a problem "
        "([problems](problems.md)). Where keys are set, calculations and `/metrics` ask for "
        "`Authorization: Bearer …` ([configuration](../configuration.md)).",
    ]
    for tag in TAGS:
        those = [each for each in OPERATIONS if each.tag == tag]
        needed = any(each.needs for each in those)
        rows = []
        for each in those:
            needs = ", ".join(f"`{part}`" for part in each.needs)
            address = f"`{each.method.upper()} {each.path}`"
            rows.append((address, each.summary, *((needs,) if needed else ()), _sends(each)))
        head = ("address", "what it answers", *(("parts it needs",) if needed else ()), "sends")
        parts += [f"## {tag.capitalize()}", _table(head, rows)]
    parts.append(
        "`POST /v1/designs` and the report need `array` with `duty` too, or `sizing` with what it "
        "needs."
    )
    parts.append("## Calculations in detail")
    for each in OPERATIONS:
        if each.method == "post":
            parts += [f"### {each.path}", each.description]
    examples = [_example(each) for each in shown_in_contract()]
    parts += [
        "## Examples",
        "All are invented. `GET /v1/examples` lists the jobs, and `GET /v1/examples/{name}` gives "
        "one.",
        _table(("example", "what it is", "answers"), examples),
    ]
    return _page("Resources: every address", *parts)


def _sends(operation: Operation) -> str:
    status = f" ({operation.status})" if operation.status != 200 else ""
    return f"`{operation.media}`{status}"


def _example(example: Example) -> tuple[str, str, str]:
    folder = "examples/batches" if "jobs" in example.job else "examples"
    answers = [
        f"[{each}](../../openapi/examples/responses/{each}/{example.name}.json)"
        for each in example.calculations
        if answer_file(each, example.name).exists()
    ]
    name = f"[{example.name}](../../openapi/{folder}/{example.name}.json)"
    return name, example.title, ", ".join(answers)


# ------------------------------------------------------------------------------------------ limits


def _limits(contract: Schema) -> str:
    schemas: dict[str, Schema] = contract["components"]["schemas"]
    parts = [
        "What a field may be. A value outside is refused with the range, never clamped. Where a "
        "field is required, leaving it out is refused too; otherwise *left out* tells what holds; "
        "where that is blank, the thing is not there. "
        "Of fields marked *one of these* exactly one is given. "
        "How large a request may be, how deep, how many loops, is set by whoever runs the "
        "service: [configuration](../configuration.md). How far a fluid's correlation reaches is "
        "told by `GET /v1/antifreezes`; whoever asks beyond it gets `outside-range`.",
    ]
    bodies = dict.fromkeys(each.body for each in OPERATIONS if each.body is not None)
    shown: set[str] = set()
    for body in bodies:
        for name in reached([body.__name__.removesuffix("Schema")], schemas):
            if name in shown or schemas[name]["type"] != "object":
                continue
            shown.add(name)
            required = set(schemas[name].get("required", ()))
            one_of = schemas[name].get("x-exactly-one-of", ())
            rows = [
                (
                    f"`{field}`",
                    str(said.get("x-unit", "")),
                    _allowed(said, schemas),
                    "required" if field in required else _left_out(field, said, one_of),
                )
                for field, said in schemas[name]["properties"].items()
            ]
            parts += [f"## {name}", _table(("field", "unit", "allowed", "left out"), rows)]
    return _page("Limits and ranges of every field of a job", *parts)


def _allowed(said: Schema, schemas: Mapping[str, Schema]) -> str:
    name = next(references({"$ref": said.get("$ref")}), "")
    said = schemas[name] if name else said
    if "enum" in said:
        return ", ".join(f"`{each}`" for each in said["enum"])
    if said.get("type") in ("number", "integer"):
        return numbers_words(said)
    if said.get("type") == "string":
        text = f"text, {said.get('minLength', 0)} to {said.get('maxLength', 0):,} characters"
        return "a day, as 2026-03-14" if said.get("format") == "date" else text
    if said.get("type") == "boolean":
        return "true or false"
    if said.get("type") == "array":
        low, high = said.get("minItems", 0), said.get("maxItems")
        count = f"{low:,} to {high:,}" if high is not None else f"{low:,} or more"
        return f"list of {count}: {_allowed(said.get('items', {}), schemas)}"
    return f"[{name}](#{name.lower()})" if name else "anything"


def _left_out(field: str, said: Schema, one_of: Iterable[str]) -> str:
    if field in one_of:
        return "one of these"
    default = said.get("x-default")
    if default is None:
        return ""
    return f"`{str(default).lower()}`" if isinstance(default, bool) else f"`{default}`"


# --------------------------------------------------------------------------- findings and problems


def _findings() -> str:
    rows = [(f"`{code}`", meaning) for code, meaning in FINDING_CODES.items()]
    return _page(
        "Findings: every code",
        "A finding tells what the numbers mean. `code` is stable, for programs; `severity` is "
        "`error` (the design does not work), `warning` (look at it) or `info`; `where` is a JSON "
        "Pointer into the job, or, where it has `/decides/` in it, into the answer; "
        "`message` has the numbers and units of this case; `source` "
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
