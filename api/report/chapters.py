"""Chapters that a report has only where they were asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from api.answers.numbers import given, number
from api.report.blocks import (
    Block,
    Bullets,
    Cautions,
    Column,
    Facts,
    Paragraph,
    Section,
    Subheading,
    Table,
)
from api.report.commissioning_sheet import commissioning
from api.report.parts import Object, Whole, findings_block
from api.report.pumps_and_balance import balancing, pumps
from api.report.words import capital, plain, sentence

_VOLUMES: Final = (
    ("Length", "m", "length_m"),
    ("Dug", "m³", "dug_m3"),
    ("Heaped", "m³", "heaped_m3"),
    ("Bedding", "m³", "bedding_m3"),
    ("Backfill", "m³", "backfill_m3"),
    ("Spoil", "m³", "spoil_m3"),
    ("Spoil, loose", "m³", "spoil_loose_m3"),
)


def chapter_sections(whole: Whole) -> list[Section]:
    """Sections of the chapters asked for.

    Parameters
    ----------
    whole
        The report as data, and its pictures.

    Returns
    -------
    list of Section
        In the order of the work.
    """
    answer = whole.answer
    told_before = set(answer["split"]["cautions"])
    found = []
    for name, title, write in _CHAPTERS:
        content = answer.get(name)
        if content is None:
            continue
        own = tuple(each for each in content["cautions"] if each not in told_before)
        blocks = list(write(content, whole))
        if own:
            blocks.insert(0, Cautions(own))
        split_findings = {_key(each) for each in answer["split"]["findings"]}
        new = [each for each in content["findings"] if _key(each) not in split_findings]
        if new:
            blocks += [Subheading("Findings of this chapter"), findings_block(new)]
        found.append(Section(name.replace("_", "-"), title, tuple(blocks)))
    return found


def _key(finding: Object) -> tuple[str, ...]:
    return (finding["code"], finding.get("where", ""), finding["message"])


# ------------------------------------------------------------------------------------------ sizing


def _sizing(content: Object, whole: Whole) -> Iterable[Block]:
    draw, loop, metre = content["ground_draw"], content["each_loop"], content["per"]
    extraction, sensitivity = content["extraction"], content["sensitivity"]
    rows = [
        ("Kind of array", capital(plain(content["kind"]))),
        (
            "Heat from the ground",
            f"{number(draw['peak_kw'])} kW at the peak, for {given(draw['peak_h'])} h; "
            f"{number(draw['annual_draw_kwh'])} kWh/a",
        ),
        ("Size set by", plain(content["sized_by"])),
        (
            "Proposed",
            f"{number(content['loop_count'])} equal loops of {number(loop['length_m'])} m of "
            f"{metre}, {number(content['length_m'])} m in all",
        ),
        (
            "Pipe",
            f"{number(loop['pipe_m'])} m a loop, {number(content['pipe_m'])} m in all",
        ),
    ]
    if "needed_m" in content:
        rows.append(("Needed by conduction", f"{number(content['needed_m'])} m of {metre}"))
    rows += [
        (
            f"From each metre of {metre}",
            f"{number(extraction['peak_w_m'], 3)} W/m at the peak, "
            f"{number(extraction['annual_kwh_m'], 3)} kWh/m a year",
        ),
        (
            "Coldest brine in the life of the array",
            f"{number(content['min_from_ground_c'], 3)} °C from the ground, "
            f"{number(content['min_to_ground_c'], 3)} °C to it",
        ),
        (
            "Limit on the brine from the ground, and margin",
            f"{given(content['from_ground_limit_c'])} °C, "
            f"{number(content['from_ground_margin_k'], 2)} K",
        ),
        (
            "A loop at the peak",
            f"{number(loop['flow_l_s'], 3)} L/s, Re {number(round(loop['reynolds']))}, "
            f"{number(loop['drop_kpa'], 3)} kPa without headers",
        ),
        ("Land needed", _land(content["land"])),
        (
            "Were the ground's conductivity 20 % less or more"
            if sensitivity["input"] == "ground_conductivity"
            else "Were the water's film 30 % weaker",
            " or ".join(
                f"{number(sensitivity[name])} m"
                for name in ("max_length_m", "min_length_m")
                if name in sensitivity
            )
            or "no length would keep the limit",
        ),
    ]
    yield Paragraph(
        "The array of this document is the one that is proposed here."
        if whole.answer["job"]["array"] == content["decides"]["array"]
        else "An array sized for the load of this chapter; the array of this document is the one "
        "described under the inputs, and the two need not be the same."
    )
    yield Facts(tuple(rows))
    if "by_month" in content:
        yield Table(
            "Coldest brine of each month over the whole life, and the heat drawn in it.",
            (
                Column("Month"),
                Column("Drawn", "kWh"),
                Column("From ground", "°C"),
                Column("To ground", "°C"),
            ),
            tuple(
                (number(each["month"]), number(drawn), number(each["from_ground_c"], 3),
                 number(each["to_ground_c"], 3))
                for each, drawn in zip(content["by_month"], draw["monthly_draw_kwh"], strict=True)
            ),
        )  # fmt: skip
    if "by_year" in content:
        years = content["by_year"]
        step = max(len(years) // 10, 1)
        shown = [y for y in years if y["year"] in (1, len(years)) or y["year"] % step == 0]
        yield Table(
            "Coldest brine of some years.",
            (Column("Year"), Column("From ground", "°C"), Column("To ground", "°C")),
            tuple(
                (number(y["year"]), number(y["from_ground_c"], 3), number(y["to_ground_c"], 3))
                for y in shown
            ),
        )
    yield Paragraph(f"Model. {content['method']['sizing']}", soft=True)
    yield Bullets(tuple(sentence(note) for note in content["notes"]))


def _land(site: Object) -> str:
    told = (
        f"{number(site['length_m'], 3)} m × {number(site['width_m'], 3)} m = "
        f"{number(site['area_m2'])} m²"
    )
    if "plot_m2" in site:
        told += f" of {number(site['plot_m2'])} m²"
    if "fits" in site:
        told += "; fits" if site["fits"] else "; does not fit"
    return told


# -------------------------------------------------------------------------------------- groundworks


def _groundworks(content: Object, whole: Whole) -> Iterable[Block]:
    places = (("Loops' trenches", "loop_trenches"), ("Header trench", "header_trench"),
              ("All", "total"))  # fmt: skip
    yield Table(
        "Digging. Heaped and loose volumes are bulked; spoil is what leaves the site.",
        (
            Column("Trench", width=1.6, number=False),
            *(Column(head, unit) for head, unit, _ in _VOLUMES),
        ),
        tuple(
            (label, *(number(content[name][field]) for _, _, field in _VOLUMES))
            for label, name in places
        ),
        ("", "", "strong"),
    )
    yield Facts(tuple(_digging_facts(content)))
    if "plan" in whole.pictures:
        yield whole.pictures["plan"]
    order = content["pipe_order"]
    if order["coils"]:
        yield Table(
            "Pipe to order, in coils; no loop is jointed and what is over stays coiled, uncut.",
            (
                Column("Pipe", width=2.0, number=False),
                Column("Coil", "m"),
                Column("Coils"),
                Column("For loops"),
                Column("For routes"),
            ),
            tuple(
                (each["pipe"], number(each["coil_m"]), number(each["count"]),
                 number(each["for_loops"]), number(each["for_routes"]))
                for each in order["coils"]
            ),
        )  # fmt: skip
    if order["loops"]:
        yield _loop_coils(order["loops"])
    rows = [
        ("U-tubes", f"{number(each['count'])} × {each['pipe']}, {given(each['depth_m'])} m deep")
        for each in order["probes"]
    ]
    rows += [
        ("Headers, routes and tails", f"{number(each['length_m'])} m of {each['pipe']}")
        for each in order["routes"]
    ]
    yield Facts((*rows, ("Pipe over", f"{number(order['leftover_m'])} m")))


def _digging_facts(content: Object) -> Iterable[tuple[str, str]]:
    yield "Bulking", f"{given(content['bulking_percent'])} %"
    yield "Lorries of spoil off the site", number(content["spoil_loads"])
    yield "Lorries of bedding", number(content["bedding_loads"])
    yield "Digger", f"{number(content['digger_h'], 3)} h"
    if (drilling := content.get("drilling")) is not None:
        yield (
            "Drilling",
            f"{number(drilling['count'])} boreholes, {number(drilling['drilled_m'])} m; grout "
            f"{number(drilling['grout_m3'], 3)} m³; spoil {number(drilling['spoil_loose_m3'], 3)} "
            "m³ loose",
        )
    if (mats := content.get("pond_mats")) is not None:
        yield "Pond mats", f"{number(mats['count'])}, {number(mats['area_m2'])} m² of bed"
    if (land := content.get("land")) is not None:
        yield (
            "Ground taken",
            f"{number(land['width_m'])} m × {number(land['length_m'])} m = "
            f"{number(land['area_m2'])} m², borders of {given(land['border_m'])} m included",
        )
        if "plot_m2" in land:
            yield "Ground available", f"{number(land['plot_m2'])} m²"
        if "fits" in land:
            yield "Lies within the plot", "yes" if land["fits"] else "no"


def _loop_coils(loops: list[Object]) -> Table:
    return Table(
        "Coil that each loop is laid from, in one piece.",
        (
            Column("Loop", width=2.0, number=False),
            Column("Pipe", width=1.6, number=False),
            Column("Loops"),
            Column("Needed", "m"),
            Column("Coil", "m"),
            Column("Over", "m"),
        ),
        tuple(
            (
                each["loop"],
                each["pipe"],
                number(each["count"]),
                number(each["needed_m"]),
                number(each["coil_m"]) if "coil_m" in each else "none long enough",
                number(each["leftover_m"]),
            )
            for each in loops[:1_000]
        ),
    )


_Writer = Callable[[Object, Whole], Iterable[Block]]
_CHAPTERS: Final[tuple[tuple[str, str, _Writer], ...]] = (
    ("sizing", "Size of the array", _sizing),
    ("balancing", "Ways to balance", balancing),
    ("pump_choice", "Pumps", pumps),
    ("groundworks", "Groundworks", _groundworks),
    ("commissioning", "Commissioning sheet", commissioning),
)
