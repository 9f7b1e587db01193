"""A job as tables: every field as it was used, none left out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Final

from api.answers.numbers import given, number, short
from api.report.blocks import Block, Column, Facts, Paragraph, Subheading, Table
from api.report.parts import DASH, Object, measured, table, text
from api.report.words import capital, label_of, plain, value_of
from api.schemas.fields import Checked
from api.schemas.job import JobSchema
from api.schemas.objects import ListOf, Nested, StrictSchema, schema_of

Read = Mapping[str, Any]

MOST_BRANCHES: Final = 1_000
"""More rows of the layout than this are not printed."""
_MOST_POINTS: Final = 200


def read_job(document: Read) -> dict[str, Any]:
    """A job with what it leaves out filled in."""
    schema = schema_of(JobSchema)
    read: dict[str, Any] = schema.check(dict(document), (), [])
    limits = schema.checks["limits"]
    assert isinstance(limits, Nested)
    read.setdefault("limits", limits.reader.defaults)
    return _in_order(read, schema)


def without_excess(read: Read, chapters: Iterable[Any]) -> dict[str, Any]:
    """A job in which numbers that were decided have no more digits than anybody works to.

    They are told to three decimals, or two digits where that says nothing. What was typed stays;
    what has more than nine digits was not typed, but decided by a chapter of another answer.
    """
    decided: set[float] = set()
    for chapter in chapters:
        if isinstance(chapter, Mapping):
            decided.update(_numbers(chapter.get("decides", {})))
    told: dict[str, Any] = _told(read, decided)
    return told


def _numbers(value: Any) -> Iterator[float]:  # noqa: ANN401 (JSON)
    if isinstance(value, Mapping):
        value = list(value.values())
    if isinstance(value, list):
        for each in value:
            yield from _numbers(each)
    elif isinstance(value, float):
        yield value


def _told(value: Any, decided: set[float]) -> Any:  # noqa: ANN401 (JSON)
    if isinstance(value, Mapping):
        return {name: _told(each, decided) for name, each in value.items()}
    if isinstance(value, list):
        return [_told(each, decided) for each in value]
    if not isinstance(value, float) or value == 0.0 or not (value in decided or _computed(value)):
        return value
    return round(value, max(3, 1 - math.floor(math.log10(abs(value)))))


def _computed(value: float) -> bool:
    return float(f"{value:.9g}") != value


def _in_order(read: Read, schema: StrictSchema) -> dict[str, Any]:
    """An object with its fields as the schema has them, not as they happened to be sent."""
    return {n: _value_in_order(read[n], f) for n, f in schema.checks.items() if n in read}


def _value_in_order(value: Any, field: Checked) -> Any:  # noqa: ANN401 (JSON)
    if isinstance(field, Nested):
        return _in_order(value, field.reader)
    if isinstance(field, ListOf):
        return [_value_in_order(item, field.item) for item in value]
    return value


# --------------------------------------------------------------------------------- routes, fittings


def fittings_words(fittings: Iterable[Read]) -> str:
    """Fittings of one place, in series."""
    told = []
    for each in fittings:
        if "kind" in each:
            what = plain(each["kind"])
        elif "kv_m3_h" in each:
            what = f"Kv {short(each['kv_m3_h'], 4)} m³/h" + _set(each)
        else:
            what = f"loss coefficient {given(each['loss_coefficient'])}"
        told.append(f"{given(each['count'])} × {what}")
    return ", ".join(told)


def _set(valve: Read) -> str:
    """How a valve was set, where that is noted."""
    told = [valve["valve"]] if "valve" in valve else []
    told += [f"position {given(valve['position'])}"] if "position" in valve else []
    return f" ({', '.join(told)})" if told else ""


def _with_fittings(text: str, read: Read) -> str:
    return f"{text}, with {fittings_words(read['fittings'])}" if read.get("fittings") else text


def run_words(run: Read) -> str:
    """A route, out and back."""
    text = f"{given(run['length_m'])} m of {run['pipe']}, out and back"
    return _with_fittings(text, run)


# -------------------------------------------------------------------------------------------- legs


def leg_words(leg: Read) -> str:
    """One leg of a loop."""
    kind = next(name for name in _LEGS if name in leg)
    told = _LEGS[kind](leg[kind])
    if "depth_m" in leg[kind] and kind != "borehole":
        told += f", {given(leg[kind]['depth_m'])} m deep"
    if "pipe" in leg:
        told += f" of {leg['pipe']}"
    return _with_fittings(told, leg)


def _slinky(leg: Read) -> str:
    back = "returning alongside" if leg["returns_alongside"] else "not returning alongside"
    return (
        f"{given(leg['coils'])} {'upright ' if leg['upright'] else ''}slinky coils of "
        f"{given(leg['coil_diameter_m'])} m at {given(leg['pitch_m'])} m pitch, {back}"
    )


def _trench(leg: Read) -> str:
    told = f"{given(leg['passes'])} passes of a {given(leg['length_m'])} m trench"
    if "turn_diameter_m" in leg:
        told += f", turns of {given(leg['turn_diameter_m'])} m"
    if "spacing_m" in leg:
        told += f", {given(leg['spacing_m'])} m apart"
    return told


def _pond_mat(leg: Read) -> str:
    return (
        f"{given(leg['count'])} × mat spiral {given(leg['inner_diameter_m'])} to "
        f"{given(leg['outer_diameter_m'])} m, pipe every {given(leg['spacing_m'])} m"
    )


def _borehole(leg: Read) -> str:
    told = f"borehole {given(leg['depth_m'])} m deep"
    if "diameter_mm" in leg:
        told += f", {given(leg['diameter_mm'])} mm wide"
    return f"{told}, {'double' if leg['u_tubes'] == 2 else 'single'} U-tube"


_LEGS: Final[dict[str, Callable[[Read], str]]] = {
    "straight": lambda leg: f"{given(leg['length_m'])} m straight",
    "slinky": _slinky,
    "coiled": lambda leg: (
        f"{given(leg['length_m'])} m in coils of {given(leg['coil_diameter_m'])} m"
    ),
    "trench": _trench,
    "pond_mat": _pond_mat,
    "borehole": _borehole,
}


# ----------------------------------------------------------------------------------------- layout


def layout_blocks(circuit: Read) -> tuple[Block, ...]:
    """The array, branch by branch, in the order of the layout; neighbours alike share a row."""
    rows: list[tuple[str, str, str, str]] = []
    _walk(circuit, "", 1, "", rows)
    shown = rows[:MOST_BRANCHES]
    blocks: list[Block] = [
        Table(
            "The array, branch by branch. A route counts one way; its pipe is laid out and back.",
            (
                Column("Branch", width=0.6, number=False),
                Column("Loop or circuit", width=1.1, number=False),
                Column("Made of", width=5.2, number=False),
                Column("Joined by", width=1.6, number=False),
            ),
            tuple(shown),
        )
    ]
    if len(rows) > len(shown):
        blocks.append(
            Paragraph(
                f"The first {len(shown):,} of {len(rows):,} different branches are listed; the "
                "JSON form of this document has all."
            )
        )
    return tuple(blocks)


def _walk(
    circuit: Read, prefix: str, count: int, joined: str, rows: list[tuple[str, str, str, str]]
) -> None:
    made = _circuit(circuit)
    if count > 1:
        made += f"; {given(count)} equal circuits"
    rows.append((prefix or "array", circuit.get("name", DASH), made, joined))
    first = ""
    last: tuple[str, str] | None = None
    names: list[str] = []

    def flush() -> None:
        if last is not None:
            rows.append((first, ", ".join(names), *last))

    for index, branch in enumerate(circuit["branches"], 1):
        place = f"{prefix}.{index}" if prefix else str(index)
        if "circuit" in branch:
            flush()
            last, names = None, []
            _walk(branch["circuit"], place, branch["count"], _joined(branch), rows)
            continue
        loop = branch["loop"]
        legs = " + ".join(leg_words(leg) for leg in loop["legs"])
        words = (f"{loop['pipe']}: {legs}", _joined(branch))
        name = loop["name"]
        if branch["count"] > 1:
            name += f" ({given(branch['count'])} equal loops)"
        if words == last:
            names.append(name)
            start = first.split("–", maxsplit=1)[0]
            first = f"{start}–{place}"
        else:
            flush()
            last, names, first = words, [name], place
    flush()


def _circuit(circuit: Read) -> str:
    text = plain(circuit["arrangement"])
    if "header_pipe" in circuit:
        text += f", headers of {circuit['header_pipe']}"
    if circuit["arrangement"] == "reverse_return":
        told = f"{given(circuit['closing_m'])} m" if "closing_m" in circuit else None
        text += f", closing run {told or 'as long as the header'}"
    return text


def _joined(branch: Read) -> str:
    parts = ["closed"] if branch["closed"] else []
    if branch["header_m"]:
        parts.append(f"{given(branch['header_m'])} m along the header")
    if "header_pipe" in branch:
        parts.append(f"flow header {branch['header_pipe']} from here")
    if "return_header_pipe" in branch:
        parts.append(f"return header {branch['return_header_pipe']}")
    parts += [f"route {run_words(run)}" for run in branch.get("runs", ())]
    if branch.get("fittings"):
        parts.append(fittings_words(branch["fittings"]))
    return "; ".join(parts)


# --------------------------------------------------------------------------------- everything else


def duty_rows(read: Read) -> list[tuple[str, str]]:
    """Mixture, duty and criteria."""
    mix, limits = read["antifreeze"], read["limits"]
    told = f"{given(mix['concentration_percent'])} % by {mix['basis']}"
    if mix["kind"] == "water":
        rows = [("Mixture", "water")]
    else:
        rows = [("Mixture", f"{plain(mix['kind'])} in water, {told}")]
    for name, value in read["duty"].items():
        if name == "pump_curve":
            points = (f"{given(p['flow_l_s'])} L/s at {given(p['head_m'])} m" for p in value)
            rows.append(("Flow set by a pump with the curve", ", ".join(points)))
        else:
            rows.append(_row(name, value))
    rows.append(("Tolerance of a loop's flow", f"±{given(limits['max_deviation_percent'])} %"))
    rows.append(("Margin wanted above freezing", f"{given(limits['min_freezing_margin_k'])} K"))
    return rows


def _row(name: str, value: float | str) -> tuple[str, str]:
    label, unit = label_of(name)
    return label, f"{plain(value_of(value))} {unit}".strip()


def plant_rows(plant: Read | None) -> list[tuple[str, str]]:
    """What lies between array and pump."""
    if not plant:
        return [("Plant", "none given; nothing is counted between array and pump")]
    rows = []
    if points := plant.get("heat_exchanger"):
        told = (f"{given(p['drop_kpa'])} kPa at {given(p['flow_l_s'])} L/s" for p in points)
        rows.append(("Heat exchanger", ", ".join(told)))
        if (exponent := plant.get("heat_exchanger_exponent")) is not None:
            rows.append(("Its drop beyond them", f"with the power {given(exponent)} of the flow"))
    rows += [("Route to the array", run_words(run)) for run in plant.get("runs", ())]
    if plant.get("fittings"):
        rows.append(("Other fittings", fittings_words(plant["fittings"])))
    return [
        *rows,
        ("Contents of the plant", f"{given(plant['volume_l'])} L"),
        ("The pump runs", f"{given(plant['run_h'])} h a year"),
    ]


_TOLD: Final = (
    "format", "name", "reference", "report", "antifreeze", "array", "duty", "plant", "limits",
)  # fmt: skip
"""Parts that stand elsewhere in the document."""


def parts_blocks(read: Read) -> tuple[Block, ...]:
    """Every part of the job that is told nowhere else.

    Parameters
    ----------
    read
        The job as read, defaults filled in.

    Returns
    -------
    tuple of Block
        A row for each part, in the order of the job's form; nothing where there are none.
    """
    rows = [
        (capital(plain(part)), "\n".join(_part_lines(part, read[part])))
        for part in schema_of(JobSchema).checks
        if part in read and part not in _TOLD
    ]
    if not rows:
        return ()
    told_before = ("max_deviation_percent", "min_freezing_margin_k")
    limits = {k: v for k, v in read["limits"].items() if k not in told_before}
    rows.append(("Limits", "\n".join(options_lines(limits))))
    columns = (Column("Part", width=1, number=False), Column("As used", width=5.4, number=False))
    return (
        Table(
            "Parts that the chapters read, with what was left out filled in.", columns, tuple(rows)
        ),
    )


def _part_lines(part: str, value: Any) -> list[str]:  # noqa: ANN401 (JSON)
    return _objects("What can be had", value) if part == "pipes" else options_lines(value)


def options_lines(read: Read) -> list[str]:
    """Fields of a part in words: its own on one line, each object or list within on further ones.

    Parameters
    ----------
    read
        An object of the job.

    Returns
    -------
    list of str
        Everything in it, none left out but rows of a list beyond the first 200.
    """
    own: list[str] = []
    within: list[str] = []
    for name, value in read.items():
        label, unit = label_of(name)
        if isinstance(value, Mapping):
            first, *rest = options_lines(value)
            within += [f"{label}: {first}", *(f"{label}, {line}" for line in rest)]
        elif not isinstance(value, list):
            own.append(f"{label[:1].lower()}{label[1:]} {_row(name, value)[1]}")
        elif any(isinstance(item, Mapping) for item in value):
            within += _objects(label, value)
        else:
            own.append(
                f"{label[:1].lower()}{label[1:]} {f'{_cell(value)} {unit}'.strip() or 'none'}"
            )
    return ([capital("; ".join(own))] if own else []) + within or ["As usual"]


def _objects(title: str, items: list[Read]) -> list[str]:
    """A list of objects: flat and alike, the values of each field; else one after the other."""
    names = list(items[0])
    flat = all(list(item) == names and not any(map(_is_deep, item.values())) for item in items)
    if not flat:
        single = title.removesuffix("es" if title.endswith("ches") else "s")
        return [
            f"{single} {index}: {'; '.join(options_lines(item))}"
            for index, item in enumerate(items, 1)
        ]
    few = items[:_MOST_POINTS]
    told = [
        f"{label[:1].lower()}{label[1:]} {' · '.join(_cell(item[name]) for item in few)} {unit}"
        for name, (label, unit) in ((name, label_of(name)) for name in names)
    ]
    more = f" (the first {_MOST_POINTS} of {len(items):,})" if len(items) > _MOST_POINTS else ""
    return [f"{title}{more}: {'; '.join(each.strip() for each in told)}"]


def _is_deep(value: Any) -> bool:  # noqa: ANN401 (JSON)
    """Whether a value is more than a scalar or a list of scalars."""
    if isinstance(value, list):
        return any(isinstance(item, (Mapping, list)) for item in value)
    return isinstance(value, Mapping)


def _cell(value: Any) -> str:  # noqa: ANN401 (JSON)
    return ", ".join(map(value_of, value)) if isinstance(value, list) else value_of(value)


def inputs_blocks(read: Read, pipes: Iterable[Object]) -> tuple[Block, ...]:
    """What the split was computed from, as it was used.

    Parameters
    ----------
    read
        The job as read, defaults filled in.
    pipes
        Pipes named in it, with the sizes that were used.

    Returns
    -------
    tuple of Block
        Tables.
    """
    return (
        Facts(tuple(duty_rows(read))),
        Subheading("Between array and pump"),
        Facts(tuple(plant_rows(read.get("plant")))),
        Subheading("The array"),
        *layout_blocks(read["array"]),
        table(
            "Pipes, with the sizes that were used.",
            pipes,
            text("Pipe", "pipe", 2.4),
            measured("Outside", "outside_diameter_mm", given),
            measured("Bore", "bore_mm", given),
            measured("Roughness", "roughness_mm", given),
            measured("Laid", "length_m", lambda length: number(length) if length else DASH),
        ),
    )
