"""Chapters that a report has only where they were asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final

from api.answers.numbers import given, number
from api.answers.parts import gravity_of
from api.report.blocks import (
    Block,
    Bullets,
    Cautions,
    Facts,
    Paragraph,
    Section,
    Subheading,
)
from api.report.commissioning_sheet import commissioning
from api.report.parts import (
    Object,
    Shown,
    Whole,
    Writer,
    degrees,
    findings_block,
    measured,
    quantity,
    table,
    text,
    three,
    whole_number,
)
from api.report.pumps_and_balance import balancing, pumps, way_taken
from api.report.words import capital, day_in_words, plain, sentence

_GRAVEST: Final = 3
"""Findings that stand on the first page."""

FINDINGS: Final = "Findings"
"""Title of the section on the flow split's findings, and on how the chapters hang together."""


def findings_by_section(answer: Mapping[str, Any]) -> dict[str, list[Object]]:
    """Findings by the title of the section that tells them; what the split tells, it alone.

    What was found of an array before it was balanced is no finding of the array in the document.
    """
    split = answer["split"]["findings"]
    told = {_key(each) for each in split}
    return {
        FINDINGS: [*split, *answer.get("findings", ())],
        **{
            title: [x for x in answer.get(name, {}).get("findings", ()) if _key(x) not in told]
            for name, title, _ in _CHAPTERS
            if name != "balancing" or way_taken(answer) is None
        },
    }


def gravest(answer: Mapping[str, Any]) -> list[Object]:
    """The errors and warnings that stand on the first page, and there alone."""
    every = [each for findings in findings_by_section(answer).values() for each in findings]
    return sorted((each for each in every if each["severity"] != "info"), key=gravity_of)[:_GRAVEST]


def told_in(section: str, answer: Mapping[str, Any]) -> tuple[Block, ...]:
    """Findings that a section tells: what stands on the first page is not told again."""
    first = set(map(_key, gravest(answer)))
    findings = findings_by_section(answer)[section]
    rest = [each for each in findings if _key(each) not in first]
    block = findings_block(rest, answer) if rest or not findings else None
    told = f"On the first page: {len(findings) - len(rest)} of this section's findings."
    return (
        *([Paragraph(told)] if len(rest) < len(findings) else ()),
        *([block] if block else ()),
    )


def _key(finding: Object) -> tuple[str, ...]:
    return (finding["code"], finding.get("where", ""), finding["message"])


def chapter_sections(whole: Whole) -> Iterable[Section]:
    """Sections of the chapters asked for, in the order of the work."""
    answer = whole.answer
    findings = findings_by_section(answer)
    told_before = answer["split"]["cautions"]
    for name, title, write in _CHAPTERS:
        if (content := answer.get(name)) is None:
            continue
        own = tuple(each for each in content["cautions"] if each not in told_before)
        blocks = [*([Cautions(own)] if own else []), *write(content, whole)]
        if title not in findings:
            of_before = findings_block(content["findings"], answer)
            blocks += [Subheading("Findings of the array as it was"), of_before]
        elif findings[title]:
            blocks += [Subheading("Findings of this chapter"), *told_in(title, answer)]
        yield Section(name.replace("_", "-"), title, tuple(blocks))


# ------------------------------------------------------------------------------------------ sizing


_WERE: Final = {
    "ground_conductivity": "the ground's conductivity 20 % less or more",
    "water_film": "the water's film 30 % weaker",
    "ground_temperature": "ground or water 1 K to the worse side, water no colder than 0.02 °C",
    "load": "the load 10 % more",
    "together": "all of these",
}


def _were(each: Object) -> str:
    return "the load 10 % less" if each.get("less_load") else _WERE[each["input"]]


def _sizing(content: Object, whole: Whole) -> Iterable[Block]:
    draw, loop, metre = content["ground_draw"], content["each_loop"], content["per"]
    extraction, warmed = content["extraction"], "max_from_ground_c" in content
    rows = [
        ("Kind of array", capital(plain(content["kind"]))),
        (
            "Heat from the ground",
            f"{quantity(draw, 'peak_kw')} at the peak, for {quantity(draw, 'peak_h', given)}; "
            f"{quantity(draw, 'annual_draw_kwh')}/a",
        ),
        *_put_back(draw),
        ("Size set by", plain(content["sized_by"])),
        (
            "Proposed",
            f"{number(content['loop_count'])} equal loops of {quantity(loop, 'length_m')} of "
            f"{metre}, {quantity(content, 'length_m')} in all",
        ),
        ("Pipe", f"{quantity(loop, 'pipe_m')} a loop, {quantity(content, 'pipe_m')} in all"),
    ]
    if "needed_m" in content:
        rows.append(("Needed by conduction", f"{quantity(content, 'needed_m')} of {metre}"))
    rows += [
        (
            f"From each metre of {metre}",
            f"{quantity(extraction, 'peak_w_m', three)} at the peak, "
            f"{quantity(extraction, 'annual_kwh_m', three)} a year",
        ),
        (
            "Coldest brine in the life of the array",
            f"{quantity(content, 'min_from_ground_c', three)} from the ground, "
            f"{quantity(content, 'min_to_ground_c', three)} to it",
        ),
        (
            f"Limit on the {'coldest ' if warmed else ''}brine from the ground, and margin",
            f"{quantity(content, 'from_ground_limit_c', given)}, "
            f"{number(content['from_ground_margin_k'], 2)} K",
        ),
        *(_warmest(content) if warmed else ()),
        (
            "A loop at the peak",
            f"{quantity(loop, 'flow_l_s', three)}, Re {whole_number(loop['reynolds'])}, "
            f"{quantity(loop, 'drop_kpa', three)} without headers",
        ),
        ("Land needed", _land(content["land"])),
    ]
    own = "The array of this document is the one that is proposed here."
    if "laid_m" in content:
        own = (
            f"The array of this document has {quantity(content, 'laid_m')} of {metre}, as its "
            "trenches are drawn on the plot, not what is proposed here: pipe, coils and brine "
            "below are of the proposal."
        )
    yield Paragraph(
        own
        if whole.answer["job"]["array"] == content["decides"]["array"]
        else "An array sized for the load of this chapter; the array of this document is the one "
        "described under the inputs, and the two need not be the same."
    )
    yield Facts(tuple(rows))
    yield table(
        "How sure the length is: needed where these were worse (or, of the conductivity, better).",
        content["sensitivity"],
        text("Were", _were, width=3.0),
        measured("Longest", "max_length_m", absent="none would do"),
        measured("Shortest", "min_length_m"),
    )
    yield table(
        "At other limits on the coldest brine from the ground.",
        content["return_limits"],
        measured("Limit", "from_ground_c", given),
        measured("Needed", "length_m", absent="none would do"),
        measured("Loops", "loop_count", given),
        measured("Reynolds number in them", "reynolds", three),
        measured(
            "Antifreeze by mass, at least", "concentration_percent", three, absent="none would do"
        ),
        measured("Heat pump's performance", "performance_percent", three),
    )
    if content["published"]:
        yield table(
            "What published rules and a check by hand would take; none is called right.",
            content["published"],
            text("Rule", lambda each: each["rule"], width=5.0),
            measured("Borehole", "length_m"),
            measured("Land", "area_m2"),
            text("Source", lambda each: each["source"], width=2.4),
        )
        differs = dict.fromkeys(each["differs"] for each in content["published"])
        yield Paragraph(f"Why the sizing differs. {' '.join(differs)}", soft=True)
    if "life" in whole.pictures:
        yield whole.pictures["life"]
    brine: tuple[Shown, ...] = (
        measured("From ground", "from_ground_c", degrees),
        measured("To ground", "to_ground_c", degrees),
    )
    warm = " and warmest" if warmed else ""
    if warmed:
        brine += (
            measured("Warmest from ground", "max_from_ground_c", degrees),
            measured("Warmest to ground", "max_to_ground_c", degrees),
        )
    if "by_month" in content:
        drawn = draw["monthly_draw_kwh"]
        yield table(
            f"Coldest{warm} brine of each month over the whole life, and the heat drawn in it.",
            [{**x, "kwh": kwh} for x, kwh in zip(content["by_month"], drawn, strict=True)],
            measured("Month", "month"),
            measured("Drawn", "kwh", unit="kWh"),
            *brine,
        )
    if "by_year" in content:
        years = content["by_year"]
        step = max(len(years) // 10, 1)
        shown = [y for y in years if y["year"] in (1, len(years)) or y["year"] % step == 0]
        yield table(f"Coldest{warm} brine of some years.", shown, measured("Year", "year"), *brine)
    yield Paragraph(f"Model. {content['method']['sizing']}", soft=True)
    yield Bullets(tuple(sentence(note) for note in content["notes"]))


def _put_back(draw: Object) -> Iterable[tuple[str, str]]:
    """Heat that goes into the ground, where any does: its peak is cold's, recharge has none."""
    if "annual_return_kwh" in draw:
        told = f"{quantity(draw, 'annual_return_kwh')}/a"
        if "cooling_peak_kw" in draw:
            told = f"{quantity(draw, 'cooling_peak_kw')} at the peak; {told}"
        yield "Heat into the ground", told


def _warmest(content: Object) -> Iterable[tuple[str, str]]:
    """The warm side of an array that heat is put into, and which limit its length is of."""
    yield (
        "Warmest brine in the life of the array",
        f"{quantity(content, 'max_from_ground_c', three)} from the ground, "
        f"{quantity(content, 'max_to_ground_c', three)} to it",
    )
    yield (
        "Limit on the warmest brine from the ground, and margin",
        f"{quantity(content, 'max_from_ground_limit_c', given)}, "
        f"{number(content['max_from_ground_margin_k'], 2)} K",
    )
    month = content["limiting_load"]
    warmest = "warmest" if month["limit"] == "upper" else "coldest"
    yield (
        "Limit that governs",
        f"that on the {warmest} brine, in month {month['month']} of year {month['year']}",
    )


def _sides(land: Object, write: Writer = number) -> str:
    along, across = quantity(land, "length_m", write), quantity(land, "width_m", write)
    return f"{along} × {across} = {quantity(land, 'area_m2')}"


def _land(land: Object) -> str:
    told = _sides(land, three)
    if "plot_m2" in land:
        told += f" of {quantity(land, 'plot_m2')}"
    if "fits" in land:
        told += "; fits" if land["fits"] else "; does not fit"
    return told


# ------------------------------------------------------------------------------------- setting out


def _setting_out(content: Object, whole: Whole) -> Iterable[Block]:
    yield Paragraph(
        "The array of this document has the tails and runs of this plan, whatever the job told."
        if "array" in content["decides"]
        else "Not all of the array has a place and a way on the plot: the array of this document "
        "has the tails and runs that the job tells."
    )
    totals = content["totals"]
    rows = [
        ("Header trench", quantity(totals, "header_dug_m")),
        (
            "Tails, one way",
            f"{quantity(totals, 'min_tail_m')} to {quantity(totals, 'max_tail_m')}",
        ),
        ("Runs, one way", quantity(totals, "runs_m")),
    ]
    if totals["trench_m"]:
        rows.insert(0, ("Trenches of the loops", quantity(totals, "trench_m")))
    if totals["drilled_m"]:
        rows.insert(0, ("Boreholes", f"{quantity(totals, 'drilled_m')} drilled"))
    rows += [
        (
            f"Crossing of {each['keep_out']}",
            f"at {number(each['x_m'])}, {number(each['y_m'])} m by {each['pipe_count']} pipes",
        )
        for each in content["crossings"]
    ]
    yield Facts(tuple(rows))
    if "plan" in whole.pictures:
        yield whole.pictures["plan"]


# -------------------------------------------------------------------------------------- groundworks


def _groundworks(content: Object, whole: Whole) -> Iterable[Block]:
    trenches = {"Loops' trenches": "loop_trenches", "Header trench": "header_trench",
                "All": "total"}  # fmt: skip
    yield table(
        "Digging. Heaped and loose volumes are bulked; spoil is what leaves the site.",
        [{"trench": label, **content[name]} for label, name in trenches.items()],
        text("Trench", "trench", 1.6),
        measured("Length", "length_m"),
        measured("Dug", "dug_m3"),
        measured("Heaped", "heaped_m3"),
        measured("Bedding", "bedding_m3"),
        measured("Backfill", "backfill_m3"),
        measured("Spoil", "spoil_m3"),
        measured("Spoil, loose", "spoil_loose_m3"),
        mark=lambda each: "strong" if each["trench"] == "All" else "",
    )
    yield Facts(tuple(_digging_facts(content)))
    if "plan" in whole.pictures and "setting_out" not in whole.answer:
        yield whole.pictures["plan"]
    order = content["pipe_order"]
    rows = [
        ("Headers, routes and tails", f"{quantity(each, 'length_m')} of {each['pipe']}")
        for each in order["routes"]
    ]
    yield Facts((*rows, ("Pipe over", quantity(order, "leftover_m"))))
    yield from _bill(content["bill"])


def _money(amount: float) -> str:
    return f"{amount:,.2f}"


def _price(price: float) -> str:
    """A price with the cents that it has, or with all of its places where they are more."""
    return _money(price) if round(price, 2) == price else given(price)


def _bill(bill: Object) -> Iterable[Block]:
    """The bill of quantities; with prices, what it comes to and until when."""
    shown = [text("Item", "item", 2.4), measured("Quantity", "quantity"), text("Unit", "unit", 0.6)]
    caption = "Bill of quantities, without prices."
    if "currency" in bill:
        money = bill["currency"]
        shown += [measured("Price", "price", _price), measured("Amount", "amount", _money)]
        caption = f"Bill of quantities, at the prices given, in {money}."
    shown.append(text("Note", "detail", 2.0))
    yield table(caption, bill["items"], *shown)
    facts = []
    if "total" in bill:
        facts.append(("Sum of what has a price", f"{_money(bill['total'])} {bill['currency']}"))
        until = day_in_words(bill["valid_until"]) if "valid_until" in bill else "not told"
        facts.append(("Prices hold until", until))
        yield Facts(tuple(facts))
    yield Paragraph(f"Not in it: {'; '.join(bill['left_out'])}.")


def _digging_facts(content: Object) -> Iterable[tuple[str, str]]:
    yield "Bulking", quantity(content, "bulking_percent", given)
    if (drilling := content.get("drilling")) is not None:
        yield (
            "Drilling",
            f"{number(drilling['count'])} borehole{'s' * (drilling['count'] != 1)}, "
            f"{quantity(drilling, 'drilled_m')}; grout "
            f"{quantity(drilling, 'grout_m3', three)}; spoil "
            f"{quantity(drilling, 'spoil_loose_m3', three)} loose",
        )
    if (mats := content.get("pond_mats")) is not None:
        yield "Pond mats", f"{number(mats['count'])}, {quantity(mats, 'area_m2')} of bed"
    if (land := content.get("land")) is not None:
        border = quantity(land, "border_m", given)
        yield "Ground taken", f"{_sides(land)}, borders of {border} included"
        if "plot_m2" in land:
            yield "Ground available", quantity(land, "plot_m2")
        if "fits" in land:
            yield "Fits the plot", "yes" if land["fits"] else "no"


_Chapter = Callable[[Object, Whole], Iterable[Block]]
_CHAPTERS: Final[tuple[tuple[str, str, _Chapter], ...]] = (
    ("sizing", "Size of the array", _sizing),
    ("setting_out", "Setting out", _setting_out),
    ("balancing", "Ways to balance", balancing),
    ("pump_choice", "Pumps", pumps),
    ("groundworks", "Groundworks", _groundworks),
    ("commissioning", "Commissioning sheet", commissioning),
)
