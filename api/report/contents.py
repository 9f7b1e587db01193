"""From the design report as data to the blocks of a document: an order, words, rounded numbers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

from api.answers.numbers import given, number, raised, signed
from api.answers.parts import as_it_runs
from api.report.blocks import (
    SEVERITIES,
    Block,
    Bullets,
    Cautions,
    Facts,
    Figures,
    Mark,
    Paragraph,
    Picture,
    Report,
    Section,
    Subheading,
    Table,
)
from api.report.chapters import (
    FINDINGS,
    chapter_sections,
    findings_by_section,
    gravest,
    told_in,
)
from api.report.inputs import inputs_blocks, parts_blocks, read_job, without_excess
from api.report.parts import (
    DASH,
    MOST_ROWS,
    PARTS,
    Object,
    Shown,
    Whole,
    alike,
    chosen,
    degrees,
    findings_block,
    measured,
    numbered,
    per_cent,
    place_words,
    quantity,
    table,
    text,
    three,
    whole_number,
)
from api.report.pumps_and_balance import pump_put_in, put_in, running
from api.report.words import day_in_words, sentence, typeset

_BLANK: Final = "………………………………"
_TITLE_BLOCK: Final = {
    "job": "Job", "prepared_for": "Prepared for", "date": "Date", "reference": "Reference",
    "revision": "Revision", "prepared_by": "Prepared by", "checked_by": "Checked by",
    "approved_by": "Approved by",
}  # fmt: skip
"""What the head of the document tells and how it is called; who signs has a blank else."""


def document_of(answer: Mapping[str, Any], pictures: Mapping[str, Picture]) -> Report:
    """Arrange a report.

    Parameters
    ----------
    answer
        Object of ReportAnswerSchema.
    pictures
        Drawn pictures by name; those that are absent are left out, in words where they matter.

    Returns
    -------
    Report
        Ready to be written.
    """
    header = answer.get("report", {})
    read = without_excess(read_job(answer["job"]), answer.values())
    pipes = [
        {**each, "pipe": f"{each['pipe']}, {PARTS[each['part']].lower()}"}
        for each in answer["pipes"]
    ]
    sections = [
        Section("inputs", "Inputs as used", inputs_blocks(read, pipes)),
        Section("loops", "Every loop", _loops(answer, pictures)),
        Section(
            "imbalance",
            "Balance",
            (*_imbalance(answer, pictures), *_put_in(answer)),
        ),
        Section("pump-duty", "Pump duty and system curve", _duty(answer, pictures)),
        Section(
            "findings",
            FINDINGS,
            told_in(FINDINGS, answer),
        ),
        *chapter_sections(Whole(answer, pictures)),
        Section("hand-check", "Check by hand", _hand_check(answer)),
    ]
    if others := parts_blocks(read):
        sections.append(Section("chapter-inputs", "Other parts of the job as used", others))
    opening, sections, criteria = numbered(_opening(answer, pictures), sections)
    method = (*_method(answer), *criteria)
    sections.append(Section("method", "Method and sources", method))
    notes = [Paragraph(note) for note in header.get("notes", ())]
    told = {**header, "reference": answer.get("reference")}
    if read.get("name") != answer["title"]:
        told["job"] = read.get("name")
    if "date" in header:
        told["date"] = day_in_words(header["date"])
    rows = tuple(
        (label, told.get(name) or _BLANK)
        for name, label in _TITLE_BLOCK.items()
        if told.get(name) or name.endswith("_by")
    )
    summary = answer["summary"]
    return Report(
        title=answer["title"],
        kicker="Ground array · design report",
        author=header.get("prepared_by", ""),
        header=rows,
        verdict=typeset(summary["headline"]),
        even={"even": True, "as_asked": True, "uneven": False, "error": False}.get(
            summary["verdict"]
        ),
        opening=(
            *typeset(tuple(opening)),
            *([Subheading("Notes")] if notes else ()),
            *notes,
        ),
        sections=typeset(tuple(sections)),
        version=answer["version"],
    )


def _opening(answer: Mapping[str, Any], pictures: Mapping[str, Picture]) -> tuple[Block, ...]:
    """What stands before the first section: the numbers and findings that matter most, cautions."""
    split = answer["split"]
    blocks: list[Block] = [Figures(_figures(answer)), *_gravest(answer)]
    blocks += map(Paragraph, answer["summary"]["sentences"])
    blocks.append(Cautions(tuple(split["cautions"])))
    if len(answer["cautions"]) > len(split["cautions"]):
        blocks.append(Paragraph("The chapters for work on site begin with cautions of their own."))
    if "pictures" not in answer:
        told = (
            f"The array has {len(split['loops']):,} loops, more than this service is set to draw; "
            "the document holds no pictures."
        )
        blocks.append(Paragraph(told))
    return tuple(blocks)


def _gravest(answer: Mapping[str, Any]) -> tuple[Block, ...]:
    """How many errors and warnings there are in all, in which sections, and the gravest of them."""
    by_section = {
        title: [each for each in findings if each["severity"] != "info"]
        for title, findings in findings_by_section(answer).items()
    }
    grave = [each for findings in by_section.values() for each in findings]
    if not grave:
        return ()
    counts = {kind: sum(each["severity"] == kind for each in grave) for kind in SEVERITIES}
    told = " and ".join(f"{n} {kind}{'s' * (n != 1)}" for kind, n in counts.items() if n)
    where = ", ".join(f"{title} {len(found)}" for title, found in by_section.items() if found)
    return (
        Paragraph(f"{told} in this document, by section: {where}. The gravest:"),
        findings_block(gravest(answer), answer),
    )


def _figures(answer: Mapping[str, Any]) -> tuple[tuple[str, str, str], ...]:
    split = answer["split"]
    duty, loops = split["pump"], split["loops"]
    pipe = sum(each["length_m"] for each in answer["pipes"])
    judged = split.get("imbalance")
    runs = as_it_runs(split)
    at = runs or duty
    told = [f"{three(duty['flow_l_s'] * 3.6)} m³/h", quantity(duty, "head_kpa", three)]
    if runs:
        told = [f"duty {quantity(duty, name, three)}" for name in ("flow_l_s", "head_m")]
    items = [
        ("Pump flow", quantity(at, "flow_l_s", three), told[0]),
        ("Pump head", quantity(at, "head_m", three), told[1]),
        ("Loops", number(len(loops)), f"{whole_number(pipe)} m of pipe in all"),
    ]
    if judged is not None and len(loops) > 1:
        items.append(
            (
                "Spread of flow",
                quantity(runs or judged, "spread_percent", partial(per_cent, digits=3)),
                f"tolerance ±{given(judged['max_deviation_percent'])} %",
            )
        )
    return tuple(items)


# ------------------------------------------------------------------------------------ the split


def _mark_of(loop: Object, tolerance: float) -> Mark:
    edge = tolerance * (1.0 + 1e-9)
    off = loop["deviation_percent"]
    return "low" if off < -edge else "high" if off > edge else ""


def _closed(split: Object) -> tuple[Block, ...]:
    """Loops that are in no table and no picture, since nothing flows in them."""
    closed = [
        each["loop"] + (f" ({each['count']} equal ones)" if each["count"] > 1 else "")
        for each in split["closed_loops"][:MOST_ROWS]
    ]
    if not closed:
        return ()
    return (Paragraph(f"Closed, so that nothing flows there: {', '.join(closed)}."),)


def _loops(answer: Mapping[str, Any], pictures: Mapping[str, Picture]) -> tuple[Block, ...]:
    split = answer["split"]
    judged = split.get("imbalance")
    tolerance = judged["max_deviation_percent"] if judged else 1e9

    def mark(loop: Object) -> Mark:
        return _mark_of(loop, tolerance)

    words = {"low": "too little", "high": "too much", "": "within"}
    verdict = text("Verdict", lambda loop: words[mark(loop)] if judged else DASH, 1.2)
    every, left_out = chosen(split["loops"])
    loops = alike(every)
    return (
        *left_out,
        *_closed(split),
        *_driven(answer, verdict, mark),
        *(pictures[name] for name in ("schematic", "flows") if name in pictures),
        table(
            f"Flow of every loop at the duty, at the mean temperature; deviation from "
            f"{_target(split)}.",
            loops,
            text("Loop", "loop", 1.7),
            measured("Pipe", "length_m"),
            measured("Flow", "flow_l_s"),
            measured("Flow", "flow_l_s", lambda flow: three(flow * 60.0), unit="L/min"),
            measured("Deviation", "deviation_percent", signed, width=1.25),
            verdict,
            measured("Velocity", "velocity_m_s", three),
            measured("Re", "reynolds", whole_number),
            text("Regime", "regime", 1.4),
            mark=mark,
        ),
        table(
            "Where the pressure of every loop goes at the duty. The path is the loop with the way "
            "to it: headers and routes, with valves and fittings on them; all paths of an "
            "array drop alike.",
            loops,
            text("Loop", "loop", 1.9),
            measured("Straight", "drops.straight_drop_kpa"),
            measured("Coils", "drops.coil_drop_kpa"),
            measured("Fittings", "drops.fittings_drop_kpa"),
            measured("Loop", "drop_kpa"),
            measured("Way", "drops.headers_drop_kpa"),
            measured("Path", "path_drop_kpa"),
            mark=mark,
        ),
        *_headers(split),
    )


def _driven(
    answer: Mapping[str, Any], verdict: Shown, mark: Callable[[Object], Mark]
) -> tuple[Block, ...]:
    """Flow of every loop with the pump that runs, as the meters are to show it."""
    at = as_it_runs(answer["split"])
    if at is None:
        return ()
    return (
        table(
            f"Flow of every loop with the pump that is put in, cold, as its meter is to read: "
            f"{pump_put_in(answer)}; deviation from {_target(answer['split'])}. A valve that is "
            "set by its flow is set by this table; what follows is of the duty.",
            alike(chosen(at["loops"])[0]),
            text("Loop", "loop", 1.7),
            measured("Flow", "flow_l_s"),
            measured("Flow", "flow_l_s", lambda flow: three(flow * 60.0), unit="L/min"),
            measured("Deviation", "deviation_percent", signed, width=1.25),
            verdict,
            mark=mark,
        ),
    )


def _headers(split: Object) -> tuple[Block, ...]:
    if not split["headers"]:
        return ()
    stretches, left_out = chosen(split["headers"], what="stretches of header")
    return (
        *left_out,
        table(
            "Headers stretch by stretch, at the duty: the flow header before each branch, the "
            "return header beside that, and the run that closes a reverse return.",
            stretches,
            text("Branch", "branch", 1.7),
            text("Line", "line", 1.0),
            text("Pipe", "pipe", 2.0),
            measured("Length", "length_m"),
            measured("Flow", "flow_l_s"),
            measured("Velocity", "velocity_m_s", three),
            measured("Drop", "drop_kpa"),
        ),
    )


def _within(answer: Mapping[str, Any], judged: Object) -> str:
    if not judged["within_tolerance"]:
        return "no"
    if any(each["severity"] == "error" for each in answer["split"]["findings"]):
        return "yes, as computed; the errors come first"
    asked = "balancing" in answer["job"] and "balancing" not in answer
    return "yes; ways to balance not compared" if asked else "yes"


def _imbalance(answer: Mapping[str, Any], pictures: Mapping[str, Picture]) -> tuple[Block, ...]:
    split = answer["split"]
    judged = split.get("imbalance")
    if judged is None:
        return (Paragraph("Nothing flows; there is no balance to judge."),)
    blocks: list[Block] = []
    if len(split["loops"]) == 1:
        blocks.append(Paragraph("One loop takes the whole flow: there is nothing to balance."))
    else:
        starved = judged["min_share_loop"]
        if (at := as_it_runs(split)) is not None:
            told = f"{'within' if at['within_tolerance'] else 'outside'} the tolerance"
            blocks.append(
                Paragraph(
                    f"With the pump that is put in the spread is "
                    f"{quantity(at, 'spread_percent', per_cent)}, {told}. What follows is of the "
                    "duty."
                )
            )
        blocks.append(
            Facts(
                (
                    ("Within tolerance, at the duty", _within(answer, judged)),
                    (
                        "Tolerance",
                        f"±{given(judged['max_deviation_percent'])} % of {_target(split)}",
                    ),
                    (
                        "Spread, largest less smallest deviation",
                        quantity(judged, "spread_percent", per_cent),
                    ),
                    ("Loop with the least of its share", starved),
                    ("Index loop, which would need the most head", judged["index_loop"]),
                )
            )
        )
        for title, items in (("Causes", judged["causes"]), ("Remedies", judged["remedies"])):
            if items:
                blocks += [Subheading(title), Bullets(tuple(map(sentence, items)))]
    if "pressure_profile" in pictures:
        blocks.append(pictures["pressure_profile"])
    return tuple(blocks)


def _duty(answer: Mapping[str, Any], pictures: Mapping[str, Picture]) -> tuple[Block, ...]:
    split = answer["split"]
    duty = split["pump"]
    parts = duty["drops"]
    blocks: list[Block] = [
        Facts(
            (
                ("Flow", f"{quantity(duty, 'flow_l_s')} = {number(duty['flow_l_s'] * 3.6)} m³/h"),
                ("Mass flow", quantity(duty, "mass_flow_kg_s")),
                ("Head", f"{quantity(duty, 'head_m')} of the mixture"),
                ("Pressure", quantity(duty, "head_kpa")),
                ("of it the array", quantity(parts, "array_drop_kpa")),
                ("of it routes and fittings of the plant", quantity(parts, "runs_drop_kpa")),
                ("of it the heat exchanger", quantity(parts, "heat_exchanger_drop_kpa")),
                (
                    "The pump is to give this too (transition, viscosity)",
                    quantity(duty, "head_high_kpa"),
                ),
                ("Hydraulic power", quantity(duty, "hydraulic_power_w")),
                ("Heat from the ground", quantity(duty, "heat_kw")),
            )
        )
    ]
    if "running" in split:
        blocks += [Subheading("The pump that runs"), *running(answer)]
    if "system_curve" in pictures:
        blocks.append(pictures["system_curve"])
    if split["system_curve"]:
        blocks.append(
            table(
                "System curve: array and plant solved again at each flow, at the same "
                "temperatures.",
                split["system_curve"],
                measured("Flow", "flow_l_s"),
                measured("Head", "head_m"),
                measured("Pressure", "head_kpa"),
                measured("Spread", "spread_percent"),
            )
        )
    return (*blocks, _fluids(split))


def _target(split: Object) -> str:
    """What the loops' flows are compared with."""
    target = split["imbalance"]["target"] if "imbalance" in split else "even"
    return {
        "even": "an even share",
        "by_length": "a share by length",
        "shares": "the share asked for",
    }[target]


def _put_in(answer: Mapping[str, Any]) -> tuple[Block, ...]:
    blocks = tuple(put_in(answer))
    return (Subheading("Put in to balance"), *blocks) if blocks else ()


def _fluids(split: Object) -> Table:
    places = {"to_ground": "to the ground", "in_loops": "in the loops",
              "from_ground": "from the ground"}  # fmt: skip
    return table(
        "The mixture where it is, at the duty.",
        [{"where": words, **split["fluid"][place]} for place, words in places.items()],
        text("Where", "where", 1.6),
        measured("Temperature", "temperature_c", degrees),
        measured("Density", "density_kg_m3"),
        measured("Viscosity", "viscosity_mpa_s"),
        measured("Specific heat", "specific_heat_kj_kg_k"),
        measured("Conductivity", "conductivity_w_m_k"),
        measured("Freezes at", "freezing_point_c", degrees),
    )


# ------------------------------------------------------------------------------- check by hand


_OF_PIPE: Final[tuple[Shown, ...]] = (
    measured("L", "length_m"),
    measured("d", "bore_mm", given),
    measured("ρ", "density_kg_m3"),
    measured("μ", "viscosity_mpa_s"),
    measured("v", "velocity_m_s"),
    measured("Re", "reynolds", whole_number),
    measured("f", "friction_factor"),
    measured("Δp", "drop_kpa"),
)


def _hand_check(answer: Mapping[str, Any]) -> tuple[Block, ...]:
    made = answer["hand_check"]
    fittings, pipes = made["fittings"], made["pipes"]
    drop = quantity(made, "loop_drop_kpa")
    rows = [
        ("Roughness of the loop's pipe", quantity(pipes[0], "roughness_mm", given)),
        ("Mass flow of the loop", quantity(pipes[0], "mass_flow_kg_s")),
    ]
    if fittings["loss_coefficient"] or fittings["low_reynolds_coefficient"]:
        rows.append(
            (
                f"Fittings, on {given(fittings['bore_mm'])} mm bore",
                f"({number(fittings['low_reynolds_coefficient'])}/"
                f"{whole_number(fittings['reynolds'])} + {number(fittings['loss_coefficient'])}) "
                f"× {quantity(fittings, 'density_kg_m3')} × "
                f"({quantity(fittings, 'velocity_m_s')})² / 2 = {quantity(fittings, 'drop_kpa')}",
            )
        )
    sum_of = " + ".join(number(each["drop_kpa"]) for each in (*pipes, fittings))
    blocks: list[Block] = [
        Paragraph(
            f"Everything that makes the drop of loop {made['loop']} at the duty and, with it, the "
            "head of the pump. Each Δp of pipe is f (L/d) ρ v²/2. The solver reads f from a "
            "table of the same law, so that the last digit may differ."
        ),
        table(f"Pipes of loop {made['loop']}.", pipes, text("Pipe", _loop_pipe, 1.7), *_OF_PIPE),
        Facts((*rows, ("Drop of the loop", f"{sum_of} = {drop}"))),
    ]
    if made["runs"]:
        blocks.append(
            table(
                "Routes between plant and array, out (cold) and back (warm).",
                [{"way": "back" if i % 2 else "out", **run} for i, run in enumerate(made["runs"])],
                text("Pipe", "way", 1.7),
                *_OF_PIPE,
            )
        )
    runs = sum(pipe["drop_kpa"] for pipe in made["runs"])
    blocks.append(
        Facts(
            (
                ("Drop of the loop", drop),
                (
                    "Headers, routes, valves and fittings on the way to it",
                    quantity(made, "headers_drop_kpa"),
                ),
                ("Routes between plant and array", f"{number(runs)} kPa"),
                ("Fittings of the plant", quantity(made, "fittings_drop_kpa")),
                ("Heat exchanger", quantity(made, "heat_exchanger_drop_kpa")),
                ("Pressure of the pump, their sum", quantity(made, "head_kpa")),
            )
        )
    )
    return tuple(blocks)


def _loop_pipe(pipe: Object) -> str:
    shape = (
        f"coil D {given(pipe['coil_diameter_m'])} m" if "coil_diameter_m" in pipe else "straight"
    )
    return f"{shape}, {given(pipe['parallel'])} parallel" if pipe["parallel"] > 1 else shape


# ------------------------------------------------------------------------------------------ method


def _method(answer: Mapping[str, Any]) -> tuple[Block, ...]:
    split = answer["split"]
    method, residuals = split["method"], split["residuals"]
    return (
        table(
            "Relations that the numbers can be checked by.",
            answer["formulas"],
            text("What", "subject", 1.3),
            text("Relation", "formula", 2.0),
            text("In words", "words", 3.2),
            text("Source", "source", 2.2),
        ),
        Facts(
            (
                ("Friction", method["friction"]),
                ("Fluid properties", method["properties"]),
                (
                    "Solution",
                    "The flows are the one solution of a convex problem: every loop between the "
                    "same two connections drops alike, and mass is conserved at each.",
                ),
                ("Worst mass balance, over the total flow", _tiny(residuals["mass_relative"])),
                (
                    "Worst pressure balance, over the pump's head",
                    f"{_tiny(residuals['energy_relative'])}, at "
                    f"{place_words(answer, residuals['max_residual_where'])}",
                ),
                ("Steps that the solution took", number(residuals["iterations"])),
                ("Version of the program", f"Evenloop {answer['version']}"),
                ("SHA-256 of the job, written by RFC 8785", answer["body_sha256"]),
            )
        ),
    )


def _tiny(value: float) -> str:
    """A residual: one digit and its power of ten."""
    if value == 0.0:
        return "0"
    mantissa, exponent = f"{value:.0e}".split("e")
    return f"{mantissa} × 10{raised(int(exponent))}"
