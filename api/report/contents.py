"""From the design report as data to the blocks of a document: an order, words, rounded numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from api.answers.numbers import given, number, raised, signed
from api.report.blocks import (
    Block,
    Bullets,
    Cautions,
    Column,
    Facts,
    Figures,
    Findings,
    Mark,
    Paragraph,
    Picture,
    Report,
    Section,
    Subheading,
    Table,
)
from api.report.chapters import chapter_sections
from api.report.inputs import inputs_blocks, parts_blocks, read_job
from api.report.parts import PARTS, Whole, chosen, findings_block, place_words
from api.report.pumps_and_balance import put_in, running
from api.report.words import sentence

Object = dict[str, Any]


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
    split, read = answer["split"], read_job(answer["job"])
    sections = [
        Section("inputs", "Inputs as used", inputs_blocks(read, _pipes(answer))),
        Section("loops", "Every loop", _loops(split, pictures)),
        Section(
            "imbalance",
            "Balance",
            (*_imbalance(split, pictures), *_put_in(answer)),
        ),
        Section("pump-duty", "Pump duty and system curve", _duty(answer, pictures)),
        Section("findings", "Findings", _findings(answer)),
    ]
    sections += chapter_sections(Whole(answer, pictures))
    sections += [
        Section("hand-check", "Check by hand", _hand_check(answer)),
        Section("method", "Method and sources", _method(answer, read["array"])),
    ]
    if others := parts_blocks(read):
        sections.append(Section("chapter-inputs", "Other parts of the job as used", others))
    summary = answer["summary"]
    opening: list[Block] = [
        Figures(_figures(answer)),
        *(Paragraph(text) for text in summary["sentences"]),
    ]
    opening.append(Cautions(tuple(split["cautions"])))
    if len(answer["cautions"]) > len(split["cautions"]):
        opening.append(Paragraph("The chapters for work on site begin with cautions of their own."))
    if "schematic" in pictures:
        opening.append(pictures["schematic"])
    if "pictures" not in answer:
        opening.append(
            Paragraph(
                f"The array has {len(split['loops']):,} loops, more than this service is set to "
                "draw; the document holds no pictures."
            )
        )
    if header.get("notes"):
        opening += [Subheading("Notes"), *(Paragraph(note) for note in header["notes"])]
    names = (("Prepared for", "prepared_for"), ("Prepared by", "prepared_by"), ("Date", "date"))
    rows = tuple((label, header[name]) for label, name in names if name in header)
    if "reference" in answer:
        rows = (*rows, ("Reference", answer["reference"]))
    if read.get("name") not in (None, answer["title"]):
        rows = (("Job", read["name"]), *rows)
    return Report(
        title=answer["title"],
        kicker="Ground array · design report",
        author=header.get("prepared_by", ""),
        header=rows,
        verdict=summary["headline"],
        even={"even": True, "as_asked": True, "uneven": False}.get(summary["verdict"]),
        opening=tuple(opening),
        sections=tuple(_in_words(section, read["array"]) for section in sections),
        version=answer["version"],
    )


def _in_words(section: Section, array: Object) -> Section:
    """A section whose findings name loops, not places in the job."""
    return replace(
        section,
        blocks=tuple(
            Findings(
                tuple(
                    replace(each, where=place_words(array, each.where)) if each.where else each
                    for each in block.items
                )
            )
            if isinstance(block, Findings)
            else block
            for block in section.blocks
        ),
    )


def _figures(answer: Mapping[str, Any]) -> tuple[tuple[str, str, str], ...]:
    split = answer["split"]
    duty, loops = split["pump"], split["loops"]
    pipe = sum(each["length_m"] for each in answer["pipes"])
    judged = split.get("imbalance")
    items = [
        ("Pump flow", f"{number(duty['flow_l_s'], 3)} L/s", f"{_m3_h(duty)} m³/h"),
        ("Pump head", f"{number(duty['head_m'], 3)} m", f"{number(duty['head_kpa'], 3)} kPa"),
        ("Loops", number(len(loops)), f"{number(round(pipe))} m of pipe in all"),
    ]
    if judged is not None and len(loops) > 1:
        items.append(
            (
                "Spread of flow",
                f"{number(judged['spread_percent'], 3)} %",
                f"tolerance ±{given(judged['max_deviation_percent'])} %",
            )
        )
    return tuple(items)


def _findings(answer: Mapping[str, Any]) -> tuple[Block, ...]:
    """Findings of the split, and of how the chapters hang together."""
    return (findings_block([*answer["split"]["findings"], *answer.get("findings", ())]),)


def _m3_h(duty: Object) -> str:
    return number(duty["flow_l_s"] * 3.6, 3)


def _pipes(answer: Mapping[str, Any]) -> list[Object]:
    return [
        {**each, "pipe": f"{each['pipe']}, {PARTS[each['part']].lower()}"}
        for each in answer["pipes"]
    ]


# ------------------------------------------------------------------------------------ the split


def _mark_of(loop: Object, tolerance: float) -> Mark:
    edge = tolerance * (1.0 + 1e-9)
    off = loop["deviation_percent"]
    return "low" if off < -edge else "high" if off > edge else ""


def _loops(split: Object, pictures: Mapping[str, Picture]) -> tuple[Block, ...]:
    judged = split.get("imbalance")
    tolerance = judged["max_deviation_percent"] if judged else 1e9
    loops, left_out = chosen(split["loops"])
    marks = tuple(_mark_of(loop, tolerance) for loop in loops)
    words = {"low": "too little", "high": "too much", "": "within"}
    blocks: list[Block] = [Paragraph(left_out)] if left_out else []
    if "flows" in pictures:
        blocks.append(pictures["flows"])
    blocks.append(
        Table(
            f"Flow of every loop, at the mean temperature; deviation from {_target(split)}.",
            (
                Column("Loop", width=1.7, number=False),
                Column("Pipe", "m"),
                Column("Flow", "L/s"),
                Column("Flow", "L/min"),
                Column("Deviation", "%", width=1.25),
                Column("Verdict", width=1.2, number=False),
                Column("Velocity", "m/s"),
                Column("Re"),
                Column("Regime", width=1.4, number=False),
            ),
            tuple(
                (
                    loop["loop"],
                    number(loop["length_m"]),
                    number(loop["flow_l_s"]),
                    number(loop["flow_l_s"] * 60.0, 3),
                    signed(loop["deviation_percent"]),
                    words[mark] if judged else "—",
                    number(loop["velocity_m_s"], 3),
                    number(round(loop["reynolds"])),
                    loop["regime"],
                )
                for loop, mark in zip(loops, marks, strict=True)
            ),
            marks,
        )
    )
    blocks.append(
        Table(
            "Where the pressure of every loop goes. The path is the loop with the headers and "
            "routes that lead to it; all paths of an array drop alike.",
            (
                Column("Loop", width=1.9, number=False),
                Column("Straight", "kPa"),
                Column("Coils", "kPa"),
                Column("Fittings", "kPa"),
                Column("Loop", "kPa"),
                Column("Headers", "kPa"),
                Column("Path", "kPa"),
            ),
            tuple(
                (
                    loop["loop"],
                    number(loop["drops"]["straight_drop_kpa"]),
                    number(loop["drops"]["coil_drop_kpa"]),
                    number(loop["drops"]["fittings_drop_kpa"]),
                    number(loop["drop_kpa"]),
                    number(loop["drops"]["headers_drop_kpa"]),
                    number(loop["path_drop_kpa"]),
                )
                for loop in loops
            ),
            marks,
        )
    )
    return tuple(blocks)


def _imbalance(split: Object, pictures: Mapping[str, Picture]) -> tuple[Block, ...]:
    judged = split.get("imbalance")
    if judged is None:
        return (Paragraph("Nothing flows; there is no balance to judge."),)
    blocks: list[Block] = []
    if len(split["loops"]) == 1:
        blocks.append(Paragraph("The array has one loop, so that there is nothing to balance."))
    else:
        starved = judged["min_share_loop"]
        blocks.append(
            Facts(
                (
                    ("Within tolerance", "yes" if judged["within_tolerance"] else "no"),
                    (
                        "Tolerance",
                        f"±{given(judged['max_deviation_percent'])} % of {_target(split)}",
                    ),
                    (
                        "Spread, largest less smallest deviation",
                        f"{number(judged['spread_percent'])} %",
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
                ("Flow", f"{number(duty['flow_l_s'])} L/s = {number(duty['flow_l_s'] * 3.6)} m³/h"),
                ("Mass flow", f"{number(duty['mass_flow_kg_s'])} kg/s"),
                ("Head", f"{number(duty['head_m'])} m of the mixture"),
                ("Pressure", f"{number(duty['head_kpa'])} kPa"),
                ("of it the array", f"{number(parts['array_drop_kpa'])} kPa"),
                ("of it routes and fittings of the plant", f"{number(parts['runs_drop_kpa'])} kPa"),
                ("of it the heat exchanger", f"{number(parts['heat_exchanger_drop_kpa'])} kPa"),
                ("Hydraulic power", f"{number(duty['hydraulic_power_w'])} W"),
                ("Heat from the ground", f"{number(duty['heat_kw'])} kW"),
            )
        )
    ]
    if "running" in split:
        blocks += [Subheading("The pump that runs"), *running(answer)]
    if "system_curve" in pictures:
        blocks.append(pictures["system_curve"])
    if split["system_curve"]:
        blocks.append(
            Table(
                "System curve: array and plant solved again at each flow, at the same "
                "temperatures.",
                (Column("Flow", "L/s"), Column("Head", "m"), Column("Pressure", "kPa")),
                tuple(
                    (number(p["flow_l_s"]), number(p["head_m"]), number(p["head_kpa"]))
                    for p in split["system_curve"]
                ),
            )
        )
    blocks.append(_fluids(split))
    return tuple(blocks)


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
    states = (("to the ground", "to_ground"), ("in the loops", "in_loops"),
              ("from the ground", "from_ground"))  # fmt: skip
    return Table(
        "The mixture where it is.",
        (
            Column("Where", width=1.6, number=False),
            Column("Temperature", "°C"),
            Column("Density", "kg/m³"),
            Column("Viscosity", "mPa·s"),
            Column("Specific heat", "kJ/(kg·K)"),
            Column("Conductivity", "W/(m·K)"),
            Column("Freezes at", "°C"),
        ),
        tuple(
            (
                where,
                number(split["fluid"][name]["temperature_c"], 3),
                number(split["fluid"][name]["density_kg_m3"]),
                number(split["fluid"][name]["viscosity_mpa_s"]),
                number(split["fluid"][name]["specific_heat_kj_kg_k"]),
                number(split["fluid"][name]["conductivity_w_m_k"]),
                number(split["fluid"][name]["freezing_point_c"], 3),
            )
            for where, name in states
        ),
    )


# ------------------------------------------------------------------------------- check by hand


def _hand_check(answer: Mapping[str, Any]) -> tuple[Block, ...]:
    made = answer["hand_check"]
    fittings = made["fittings"]
    columns = (
        Column("Pipe", width=1.7, number=False),
        Column("L", "m"),
        Column("d", "mm"),
        Column("ρ", "kg/m³"),
        Column("μ", "mPa·s"),
        Column("v", "m/s"),
        Column("Re"),
        Column("f"),
        Column("Δp", "kPa"),
    )
    total = made["loop_drop_kpa"]
    blocks: list[Block] = [
        Paragraph(
            f"Everything that makes the drop of loop {made['loop']} and, with it, the head of the "
            "pump. Each Δp of pipe is f (L/d) ρ v²/2. The solver reads f from a table of the same "
            "law, so that the last digit may differ."
        ),
        Table(
            f"Pipes of loop {made['loop']}.",
            columns,
            tuple(_pipe_row(pipe, _loop_pipe(pipe)) for pipe in made["pipes"]),
        ),
    ]
    rows = [
        ("Roughness of the loop's pipe", f"{given(made['pipes'][0]['roughness_mm'])} mm"),
        (
            "Mass flow of the loop",
            f"{number(made['pipes'][0]['mass_flow_kg_s'])} kg/s",
        ),
    ]
    if fittings["loss_coefficient"] or fittings["low_reynolds_coefficient"]:
        rows.append(
            (
                f"Fittings, on {given(fittings['bore_mm'])} mm bore",
                f"({number(fittings['low_reynolds_coefficient'])}/"
                f"{number(round(fittings['reynolds']))} + {number(fittings['loss_coefficient'])}) "
                f"× {number(fittings['density_kg_m3'])} kg/m³ × "
                f"({number(fittings['velocity_m_s'])} m/s)² / 2 = "
                f"{number(fittings['drop_kpa'])} kPa",
            )
        )
    pipes = " + ".join(number(pipe["drop_kpa"]) for pipe in made["pipes"])
    rows += [
        (
            "Drop of the loop",
            f"{pipes} + {number(fittings['drop_kpa'])} = {number(total)} kPa",
        ),
    ]
    blocks.append(Facts(tuple(rows)))
    if made["runs"]:
        blocks.append(
            Table(
                "Routes between plant and array, out (cold) and back (warm).",
                columns,
                tuple(
                    _pipe_row(pipe, "back" if index % 2 else "out")
                    for index, pipe in enumerate(made["runs"])
                ),
            )
        )
    runs = sum(pipe["drop_kpa"] for pipe in made["runs"])
    blocks.append(
        Facts(
            (
                ("Drop of the loop", f"{number(total)} kPa"),
                ("Headers and routes on the way to it", f"{number(made['headers_drop_kpa'])} kPa"),
                ("Routes between plant and array", f"{number(runs)} kPa"),
                ("Fittings of the plant", f"{number(made['fittings_drop_kpa'])} kPa"),
                ("Heat exchanger", f"{number(made['heat_exchanger_drop_kpa'])} kPa"),
                ("Pressure of the pump, their sum", f"{number(made['head_kpa'])} kPa"),
            )
        )
    )
    return tuple(blocks)


def _loop_pipe(pipe: Object) -> str:
    shape = (
        f"coil D {given(pipe['coil_diameter_m'])} m" if "coil_diameter_m" in pipe else "straight"
    )
    return f"{shape}, {given(pipe['parallel'])} parallel" if pipe["parallel"] > 1 else shape


def _pipe_row(pipe: Object, what: str) -> tuple[str, ...]:
    return (
        what,
        number(pipe["length_m"]),
        given(pipe["bore_mm"]),
        number(pipe["density_kg_m3"]),
        number(pipe["viscosity_mpa_s"]),
        number(pipe["velocity_m_s"]),
        number(round(pipe["reynolds"])),
        number(pipe["friction_factor"]),
        number(pipe["drop_kpa"]),
    )


# ------------------------------------------------------------------------------------------ method


def _method(answer: Mapping[str, Any], array: Object) -> tuple[Block, ...]:
    split = answer["split"]
    method, residuals = split["method"], split["residuals"]
    return (
        Table(
            "Relations that the numbers can be checked by.",
            (
                Column("What", width=1.5, number=False),
                Column("Relation", width=2.2, number=False),
                Column("In words", width=2.4, number=False),
                Column("Source", width=1.9, number=False),
            ),
            tuple(
                (each["subject"], each["formula"], each["words"], each["source"])
                for each in answer["formulas"]
            ),
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
                    f"{place_words(array, residuals['max_residual_where'])}",
                ),
                ("Steps that the solution took", number(residuals["iterations"])),
                ("Version of the program", f"Evenloop {answer['version']}"),
            )
        ),
    )


def _tiny(value: float) -> str:
    """A residual: one digit and its power of ten."""
    if value == 0.0:
        return "0"
    mantissa, exponent = f"{value:.0e}".split("e")
    return f"{mantissa} × 10{raised(int(exponent))}"
