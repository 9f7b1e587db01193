"""The inputs of a job as tables: every field of the request as it was used, none left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from api.report.blocks import Block, Column, Facts, Paragraph, Subheading, Table
from api.report.words import given, label_of, plain, value_of

Read = Mapping[str, Any]

MOST_BRANCHES: Final = 1_000
"""More rows of the layout than this are not printed."""
_MOST_POINTS: Final = 200


def phrase(read: Read, told: Iterable[str] = ()) -> str:
    """Every scalar field of an object that was not told otherwise, as ``name value unit``."""
    left_out = set(told)
    parts = []
    for name, value in read.items():
        if name in left_out or value is None:
            continue
        label, unit = label_of(name)
        parts.append(f"{label.lower()} {_any(value)}{f' {unit}' if unit else ''}")
    return ", ".join(parts)


def _any(value: Any) -> str:  # noqa: ANN401 (JSON)
    if isinstance(value, Mapping):
        return f"({phrase(value)})"
    if isinstance(value, list):
        return "; ".join(_any(item) for item in value)
    return value_of(value)


# ------------------------------------------------------------------------------- pipes, fittings


def pipe_words(pipe: Any) -> str:  # noqa: ANN401 (name or object)
    """A pipe as a request gives it."""
    if isinstance(pipe, str):
        return pipe
    size = f"{given(pipe['outside_diameter_mm'])}/{given(pipe['bore_mm'])} mm outside/bore"
    rest = phrase(pipe, ("name", "bore_mm", "outside_diameter_mm"))
    name = pipe.get("name", "pipe")
    return f"{name} ({size}{f', {rest}' if rest else ''})"


def fittings_words(fittings: Iterable[Read]) -> str:
    """Fittings of one place, in series."""
    told = []
    for each in fittings:
        if "kind" in each:
            what = plain(each["kind"])
        elif "kv_m3_h" in each:
            what = f"Kv {given(each['kv_m3_h'])} m³/h"
        else:
            what = f"loss coefficient {given(each['loss_coefficient'])}"
        told.append(f"{given(each['count'])} × {what}")
    return ", ".join(told)


def _with_fittings(text: str, read: Read) -> str:
    return f"{text}, with {fittings_words(read['fittings'])}" if read.get("fittings") else text


def run_words(run: Read) -> str:
    """A route, out and back."""
    text = f"{given(run['length_m'])} m of {pipe_words(run['pipe'])}, out and back"
    return _with_fittings(text, run)


# -------------------------------------------------------------------------------------------- legs


def leg_words(leg: Read) -> str:
    """One leg of a loop."""
    text = _leg(leg)
    if "pipe" in leg:
        text += f" of {pipe_words(leg['pipe'])}"
    return _with_fittings(text, leg)


def _leg(leg: Read) -> str:
    if "straight_m" in leg:
        return f"{given(leg['straight_m'])} m straight"
    if "coils" in leg:
        back = "returning alongside" if leg["returns_alongside"] else "not returning alongside"
        return (
            f"{given(leg['coils'])} slinky coils of {given(leg['coil_diameter_m'])} m at "
            f"{given(leg['pitch_m'])} m pitch, {back}"
        )
    if "coiled_m" in leg:
        return f"{given(leg['coiled_m'])} m in coils of {given(leg['coil_diameter_m'])} m"
    if "trench_m" in leg:
        turn = leg.get("turn_diameter_m")
        turns = f", turns of {given(turn)} m" if turn is not None else ""
        return f"{given(leg['passes'])} passes of a {given(leg['trench_m'])} m trench{turns}"
    if "mat_inner_diameter_m" in leg:
        return (
            f"{given(leg['mats'])} × mat spiral {given(leg['mat_inner_diameter_m'])} to "
            f"{given(leg['mat_outer_diameter_m'])} m, pipe every {given(leg['mat_spacing_m'])} m"
        )
    u_tubes = "double" if leg["u_tubes"] == 2 else "single"
    return f"borehole {given(leg['borehole_depth_m'])} m deep, {u_tubes} U-tube"


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
                Column("Branch", width=0.7, number=False),
                Column("Loop or circuit", width=1.5, number=False),
                Column("Made of", width=3.6, number=False),
                Column("Joined by", width=2.6, number=False),
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
    rows.append((prefix or "array", circuit.get("name", "—"), made, joined))
    first = ""
    last: tuple[str, str] | None = None
    names: list[str] = []

    def flush() -> None:
        if last is not None:
            rows.append((first, ", ".join(names), *last))

    for number, branch in enumerate(circuit["branches"], 1):
        place = f"{prefix}{number}" if not prefix else f"{prefix}.{number}"
        if "circuit" in branch:
            flush()
            last, names = None, []
            _walk(branch["circuit"], place, branch["count"], _joined(branch), rows)
            continue
        legs = " + ".join(leg_words(leg) for leg in branch["legs"])
        words = (f"{pipe_words(branch['pipe'])}: {legs}", _joined(branch))
        name = branch["loop"]
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
        text += f", headers of {pipe_words(circuit['header_pipe'])}"
    if circuit["closing_m"] or circuit["arrangement"] == "reverse_return":
        text += f", closing run {given(circuit['closing_m'])} m"
    return text


def _joined(branch: Read) -> str:
    parts = []
    if branch["header_m"]:
        parts.append(f"{given(branch['header_m'])} m along the header")
    if "header_pipe" in branch:
        parts.append(f"flow header {pipe_words(branch['header_pipe'])} from here")
    if "return_header_pipe" in branch:
        parts.append(f"return header {pipe_words(branch['return_header_pipe'])}")
    parts += [f"route {run_words(run)}" for run in branch.get("runs", ())]
    if branch.get("fittings"):
        parts.append(fittings_words(branch["fittings"]))
    return "; ".join(parts)


# --------------------------------------------------------------------------------- everything else


def duty_rows(read: Read) -> list[tuple[str, str]]:
    """Mixture, duty and criteria."""
    mix, duty = read["antifreeze"], read["duty"]
    rows = [
        (
            "Mixture",
            f"{plain(mix['kind'])} in water, {given(mix['concentration_percent'])} % by "
            f"{mix['basis']}",
        )
    ]
    for name, value in duty.items():
        if name == "pump":
            points = value["points"]
            told = ", ".join(
                f"{given(p['flow_l_s'])} L/s at {given(p['head_m'])} m" for p in points
            )
            rows.append(("Flow set by a pump with the curve", told))
        else:
            label, unit = label_of(name)
            rows.append((label, f"{value_of(value)} {unit}".strip()))
    rows.append(("Tolerance of a loop's flow", f"±{given(read['tolerance_percent'])} %"))
    rows.append(("Margin wanted above freezing", f"{given(read['freezing_margin_k'])} K"))
    return rows


def plant_rows(plant: Read | None) -> list[tuple[str, str]]:
    """What lies between array and pump."""
    if not plant:
        return [("Plant", "none given; nothing is counted between array and pump")]
    rows = []
    exchanger = plant.get("heat_exchanger")
    if exchanger is not None:
        points = exchanger.get("points", [exchanger])
        told = ", ".join(
            f"{given(p['pressure_drop_kpa'])} kPa at {given(p['flow_l_s'])} L/s" for p in points
        )
        rows.append(("Heat exchanger", told))
    rows += [("Route to the array", run_words(run)) for run in plant.get("runs", ())]
    if plant.get("fittings"):
        rows.append(("Other fittings", fittings_words(plant["fittings"])))
    return rows


def options_blocks(read: Read, prefix: str = "") -> tuple[Block, ...]:
    """Fields of a chapter's options: scalars as rows, lists of equal objects as tables.

    Parameters
    ----------
    read
        An object of the request.
    prefix
        Names of the objects around it.

    Returns
    -------
    tuple of Block
        Everything in it, none left out but rows of a table beyond the first 200.
    """
    rows: list[tuple[str, str]] = []
    after: list[Block] = []
    for name, value in read.items():
        label, unit = label_of(name)
        title = f"{prefix}{label[:1].lower()}{label[1:]}" if prefix else label
        if isinstance(value, Mapping):
            inner = options_blocks(value, f"{title}, ")
            rows += [row for block in inner if isinstance(block, Facts) for row in block.rows]
            after += [block for block in inner if not isinstance(block, Facts)]
            if not value:
                rows.append((title, "as usual"))
        elif not isinstance(value, list):
            rows.append((title, f"{plain(value_of(value))} {unit}".strip()))
        elif any(isinstance(item, Mapping) for item in value):
            after += _objects(title, value)
        else:
            rows.append((title, f"{', '.join(map(value_of, value))} {unit}".strip() or "none"))
    return ((Facts(tuple(rows)), *after) if rows else tuple(after)) or (Paragraph("As usual."),)


def _objects(title: str, items: list[Read]) -> list[Block]:
    """A list of objects: a table where they are flat and alike, else one after the other."""
    names = list(items[0])
    flat = all(
        list(item) == names and not any(isinstance(v, (Mapping, list)) for v in item.values())
        for item in items
    )
    if not flat:
        found: list[Block] = []
        for index, item in enumerate(items, 1):
            found += options_blocks(item, f"{title.removesuffix('s')} {index}, ")
        return found
    labels = [label_of(name) for name in names]
    columns = tuple(
        Column(label, unit, number=not isinstance(items[0][name], str))
        for name, (label, unit) in zip(names, labels, strict=True)
    )
    rows = tuple(tuple(value_of(item[name]) for name in names) for item in items[:_MOST_POINTS])
    more = f" The first {_MOST_POINTS} of {len(items):,}." if len(items) > _MOST_POINTS else ""
    return [Table(f"{title}.{more}", columns, rows)]


def inputs_blocks(read: Read, pipes: Iterable[Read]) -> tuple[Block, ...]:
    """The flow split's inputs as they were used.

    Parameters
    ----------
    read
        The request as read, defaults filled in.
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
        Table(
            "Pipes, with the sizes that were used.",
            (
                Column("Pipe", width=2.4, number=False),
                Column("Outside", "mm"),
                Column("Bore", "mm"),
                Column("Roughness", "mm"),
                Column("Laid", "m"),
            ),
            tuple(
                (
                    each["pipe"],
                    given(each["outside_diameter_mm"]),
                    given(each["bore_mm"]),
                    given(each["roughness_mm"]),
                    given(each["length_m"]) if each["length_m"] else "—",
                )
                for each in pipes
            ),
        ),
    )
