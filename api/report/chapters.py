"""Chapters that a report has only where they were asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final

from api.report.blocks import (
    Block,
    Bullets,
    Cautions,
    Column,
    Facts,
    Mark,
    Paragraph,
    Picture,
    Section,
    Subheading,
    Table,
)
from api.report.parts import Object, chosen, findings_block, sentence
from api.report.words import given, number, plain, signed

_BLANK: Final = "………………"  # to be filled in on site
_DASH: Final = "—"
_Pictures = Mapping[str, Picture]

_PARTS: Final = {
    "loops": "Loops", "headers": "Headers", "runs": "Routes in the array",
    "plant_runs": "Routes to the plant",
}  # fmt: skip
_VERDICTS: Final = {"reaches": "reaches", "misses": "misses", "not_possible": "does not apply"}
_VOLUMES: Final = (
    ("Length", "m", "length_m"),
    ("Dug", "m³", "dug_m3"),
    ("Heaped", "m³", "heaped_m3"),
    ("Bedding", "m³", "bedding_m3"),
    ("Backfill", "m³", "backfill_m3"),
    ("Spoil", "m³", "spoil_m3"),
    ("Spoil, loose", "m³", "spoil_loose_m3"),
)


def chapter_sections(answer: Mapping[str, Any], pictures: _Pictures) -> list[Section]:
    """Sections of the chapters asked for.

    Parameters
    ----------
    answer
        Object of DesignReportResponseSchema.
    pictures
        Drawn pictures by name.

    Returns
    -------
    list of Section
        In the order of the work.
    """
    told_before = set(answer["flow_split"]["cautions"])
    found = []
    for name, title, write in _CHAPTERS:
        content = answer.get(name)
        if content is None:
            continue
        own = tuple(each for each in content["cautions"] if each not in told_before)
        blocks = list(write(content, pictures))
        if own:
            blocks.insert(0, Cautions(own))
        split_findings = {_key(each) for each in answer["flow_split"]["findings"]}
        new = [each for each in content["findings"] if _key(each) not in split_findings]
        if new:
            blocks += [Subheading("Findings of this chapter"), findings_block(new)]
        found.append(Section(name.replace("_", "-"), title, tuple(blocks)))
    return found


def _key(finding: Object) -> tuple[str, ...]:
    return (finding["code"], finding.get("where", ""), finding["message"])


# ------------------------------------------------------------------------------------------ sizing


def _sizing(content: Object, _pictures: _Pictures) -> Iterable[Block]:
    draw, loop, metre = content["ground_draw"], content["loop"], content["metre"]
    extraction, sensitivity = content["extraction"], content["sensitivity"]
    rows = [
        ("Kind of array", _capital(plain(content["kind"]))),
        (
            "Heat from the ground",
            f"{number(draw['peak_kw'])} kW at the peak, for {given(draw['peak_hours'])} h; "
            f"{number(draw['annual_kwh'])} kWh/a",
        ),
        ("Size set by", plain(content["basis"])),
        (
            "Proposed",
            f"{number(content['loops'])} equal loops of {number(loop['length_m'])} m of {metre}, "
            f"{number(content['total_length_m'])} m in all",
        ),
        (
            "Pipe",
            f"{number(loop['pipe_m'])} m a loop, {number(content['pipe_total_m'])} m in all",
        ),
    ]
    if "needed_length_m" in content:
        rows.append(("Needed by conduction", f"{number(content['needed_length_m'])} m of {metre}"))
    rows += [
        (
            f"From each metre of {metre}",
            f"{number(extraction['peak_w_m'], 3)} W/m at the peak, "
            f"{number(extraction['annual_kwh_m'], 3)} kWh/m a year",
        ),
        (
            "Coldest brine in the life of the array",
            f"{number(content['coldest_return_c'], 3)} °C from the ground, "
            f"{number(content['coldest_going_c'], 3)} °C to it",
        ),
        (
            "Limit on the brine from the ground, and margin",
            f"{given(content['least_return_c'])} °C, {number(content['margin_k'], 2)} K",
        ),
        (
            "A loop at the peak",
            f"{number(loop['flow_l_s'], 3)} L/s, Re {number(round(loop['reynolds']))}, "
            f"{number(loop['pressure_drop_kpa'], 3)} kPa without headers",
        ),
        ("Land needed", _land(content["site"])),
        (
            "Were the ground's conductivity 20 % less or more"
            if sensitivity["of"] == "ground_conductivity"
            else "Were the water's film 30 % weaker",
            " or ".join(
                f"{number(sensitivity[name])} m"
                for name in ("length_if_worse_m", "length_if_better_m")
                if name in sensitivity
            )
            or "no length would keep the limit",
        ),
    ]
    yield Paragraph(
        "An array sized for the load of this chapter; the array of this document is the one "
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
                (number(each["month"]), number(drawn), number(each["return_c"], 3),
                 number(each["going_c"], 3))
                for each, drawn in zip(content["by_month"], draw["monthly_kwh"], strict=True)
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
                (number(y["year"]), number(y["return_c"], 3), number(y["going_c"], 3))
                for y in shown
            ),
        )
    yield Paragraph(f"Model. {content['method']['sizing']}", soft=True)
    yield Bullets(tuple(sentence(note) for note in content["notes"]))


def _land(site: Object) -> str:
    told = (
        f"{number(site['length_m'], 3)} m × {number(site['width_m'], 3)} m = "
        f"{number(site['area_needed_m2'])} m²"
    )
    if "area_available_m2" in site:
        told += f" of {number(site['area_available_m2'])} m²"
    if "fits" in site:
        told += "; fits" if site["fits"] else "; does not fit"
    return told


# --------------------------------------------------------------------------------------- balancing


def _balancing(content: Object, _pictures: _Pictures) -> Iterable[Block]:
    before = content["as_it_is"]
    duty = before["pump_duty"]
    ways = content["ways"]
    yield Facts(
        (
            ("Target", _target(content["target"])),
            ("Tolerance", f"±{given(content['tolerance_percent'])} % of the target"),
            ("Spread as it is", f"{number(before['spread_percent'])} %"),
            ("Pump as it is", f"{number(duty['head_m'])} m, {number(duty['energy_kwh'])} kWh/a"),
            (
                "Energy reckoned with",
                f"{given(content['run_hours'])} h/a at {given(content['pump_efficiency_percent'])}"
                " % pump efficiency",
            ),
        )
    )
    yield Table(
        "Ways to balance, each solved again at the same total flow. Spread is what is left; "
        "changes are against the array as it is.",
        (
            Column("Way", width=1.6, number=False),
            Column("Verdict", width=1.2, number=False),
            Column("Spread", "%"),
            Column("Head", "m"),
            Column("Power", "W"),
            Column("Energy", "kWh/a"),
            Column("Takes", width=2.2, number=False),
        ),
        tuple(_way_row(way) for way in ways),
        tuple("strong" if way["verdict"] == "reaches" else "" for way in ways),
    )
    for way in ways:
        yield Subheading(_capital(plain(way["way"])))
        yield Paragraph(sentence(way["reason"]))
        yield from _settings(way)
        if way["findings"]:
            yield findings_block(way["findings"])
    if (cost := content.get("heat_cost")) is not None:
        yield from _heat_cost(cost)


def _target(target: str) -> str:
    return {"even": "an even share for every loop", "by_length": "in proportion to length",
            "shares": "the shares given"}[target]  # fmt: skip


def _way_row(way: Object) -> tuple[str, ...]:
    name, verdict = _capital(plain(way["way"])), _VERDICTS[way["verdict"]]
    if "pump_duty" not in way:
        return (name, verdict, _DASH, _DASH, _DASH, _DASH, _DASH)
    return (
        name,
        verdict,
        number(way["spread_percent"], 3),
        number(way["pump_duty"]["head_m"]),
        signed(way["power_change_w"], 2),
        signed(way["energy_change_kwh"], 1),
        _takes(way),
    )


def _takes(way: Object) -> str:
    told = [f"{number(way['valves'])} valves"] if way["valves"] else []
    told += [
        f"{signed(each['length_m'], 1)} m {each['pipe']} ({_PARTS[each['part']].lower()})"
        for each in way["pipes"]
    ]
    return "; ".join(told) or "nothing"


def _settings(way: Object) -> Iterable[Block]:
    if "settings" in way:
        rows, left_out = chosen(way["settings"], "authority_percent")
        if left_out:
            yield Paragraph(left_out)
        yield Table(
            "Setting of every loop's valve. K refers to the bore of the loop; authority is the "
            "valve's share in the drop of valve, loop and route.",
            (
                Column("Loop", width=1.8, number=False),
                Column("Kv", "m³/h"),
                Column("K"),
                Column("Drop", "kPa"),
                Column("Authority", "%"),
                Column("Position", width=1.3, number=False),
            ),
            tuple(
                (
                    each["loop"],
                    number(each["kv_m3_h"]) if "kv_m3_h" in each else "open",
                    number(each["loss_coefficient"]),
                    number(each["pressure_drop_kpa"]),
                    number(each["authority_percent"], 3),
                    _position(each),
                )
                for each in rows
            ),
        )
    if "spare_pipe" in way:
        rows, left_out = chosen(way["spare_pipe"], "length_m")
        if left_out:
            yield Paragraph(left_out)
        yield Table(
            "Pipe to add, in coils, of the loop's own pipe.",
            (Column("Loop", width=2.0, number=False), Column("Length", "m")),
            tuple((each["loop"], number(each["length_m"])) for each in rows),
        )


def _position(setting: Object) -> str:
    if setting["fully_open"]:
        return "fully open"
    if "position" not in setting:
        return "set by Kv"
    return f"{given(setting['position'])} (Kv {number(setting['position_kv_m3_h'], 3)})"


def _heat_cost(cost: Object) -> Iterable[Block]:
    yield Subheading("What the imbalance costs in heat")
    yield Facts(
        (
            ("Heat as it is", f"{number(cost['heat_as_it_is_w'])} W"),
            ("Heat at the target flows", f"{number(cost['heat_at_target_w'])} W"),
            (
                "Heat lost",
                f"{number(cost['heat_lost_w'])} W = {number(cost['heat_lost_percent'], 3)} %",
            ),
            ("Brine must go out further from the ground's temperature by",
             f"{number(cost['temperature_cost_k'], 3)} K"),
            ("Mixed return as it is", f"{number(cost['return_temperature_c'], 3)} °C"),
            ("Mixed return at the target",
             f"{number(cost['return_temperature_at_target_c'], 3)} °C"),
            ("Model", cost["model"]),
        )
    )  # fmt: skip
    yield Bullets(tuple(sentence(each) for each in cost["limits"]))


# ------------------------------------------------------------------------------------------- pumps


def _pumps(content: Object, pictures: _Pictures) -> Iterable[Block]:
    duty = content["pump_duty"]
    if any(each["invented"] for each in content["pumps"]):
        yield Paragraph(
            "Some of these pumps are invented, for demonstration: no maker sells them and nothing "
            "may be chosen by them."
        )
    yield Facts(
        (
            ("Flow of the duty", f"{number(duty['flow_l_s'])} L/s"),
            ("Head that it takes, cold", f"{number(duty['head_m'])} m"),
        )
    )
    yield Table(
        "Conditions that every pump is judged in.",
        (
            Column("Condition", width=1.2, number=False),
            Column("To ground", "°C"),
            Column("From ground", "°C"),
            Column("Density", "kg/m³"),
            Column("Viscosity", "mm²/s"),
            Column("Head at duty", "m"),
            Column("Hours", "h/a"),
        ),
        tuple(
            (
                each["condition"],
                number(each["to_ground_temperature_c"], 3),
                number(each["from_ground_temperature_c"], 3),
                number(each["fluid"]["density_kg_m3"]),
                number(each["kinematic_viscosity_mm2_s"], 3),
                number(each["head_at_duty_m"]),
                number(each["run_hours"]),
            )
            for each in content["conditions"]
        ),
    )
    if "pumps" in pictures:
        yield pictures["pumps"]
    yield _ranking(content)
    yield from _missed(content["pumps"])
    for each in content["at_first_pump"]:
        yield Paragraph(
            f"With {content['pumps'][0]['pump']}, {each['condition']}, the array takes "
            f"{number(each['flow_l_s'])} L/s at {number(each['head_m'])} m; the split is "
            f"{'within' if each['within_tolerance'] else 'outside'} tolerance, its spread "
            f"{number(each['spread_percent'], 3)} %."
        )
    yield Paragraph(f"Method. {content['method']['pumps']}", soft=True)
    tolerance = content["tolerance"]
    yield Paragraph(
        f"Tolerance of a delivered pump: flow −{given(tolerance['flow_low_percent'])}/"
        f"+{given(tolerance['flow_high_percent'])} %, head −{given(tolerance['head_low_percent'])}/"
        f"+{given(tolerance['head_high_percent'])} %. {tolerance['source']}",
        soft=True,
    )


def _ranking(content: Object) -> Table:
    rows = []
    marks: list[Mark] = []
    for rank, pump in enumerate(content["pumps"], 1):
        cold = pump["conditions"][0]
        margin = cold.get("flow_margin_percent")
        rows.append(
            (
                number(rank),
                _pump_name(pump),
                "meets" if pump["meets_duty"] else "misses",
                _or_dash(cold, "flow_l_s"),
                _or_dash(cold, "head_m"),
                _or_dash(cold, "power_w"),
                _DASH if margin is None else signed(margin),
                _or_dash(pump, "energy_kwh"),
                pump["benchmark"]["grade"] if "benchmark" in pump else _DASH,
            )
        )
        marks.append("strong" if pump["meets_duty"] and rank == 1 else "")
    return Table(
        "Pumps in order: those that meet the duty in every condition, by energy; then the others. "
        "Flow, head, power and margin of flow are those in the cold.",
        (
            Column("No", width=0.5),
            Column("Pump", width=2.6, number=False),
            Column("Duty", width=0.9, number=False),
            Column("Flow", "L/s"),
            Column("Head", "m"),
            Column("Power", "W"),
            Column("Margin", "%"),
            Column("Energy", "kWh/a"),
            Column("Grade", width=0.7, number=False),
        ),
        tuple(rows),
        tuple(marks),
    )


def _pump_name(pump: Object) -> str:
    told = [pump["pump"], plain(pump["control"])]
    if pump["parallel"] > 1:
        told.append(f"{pump['parallel']} in parallel")
    if pump["series"] > 1:
        told.append(f"{pump['series']} in series")
    if "setting_percent" in pump:
        told.append(f"at {number(pump['setting_percent'], 3)} %")
    elif "setting_rpm" in pump:
        told.append(f"at {number(pump['setting_rpm'], 4)} rpm")
    return ", ".join(told)


def _or_dash(read: Object, name: str) -> str:
    return number(read[name]) if name in read else _DASH


def _missed(pumps: list[Object]) -> Iterable[Block]:
    told = tuple(
        f"{pump['pump']}: {'; '.join(pump['misses_because'])}."
        for pump in pumps
        if pump["misses_because"]
    )
    if told:
        yield Subheading("Why pumps miss the duty")
        yield Bullets(told)


# -------------------------------------------------------------------------------------- groundworks


def _groundworks(content: Object, pictures: _Pictures) -> Iterable[Block]:
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
    if "plan" in pictures:
        yield pictures["plan"]
    order = content["pipe_order"]
    if order["lines"]:
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
                for each in order["lines"]
            ),
        )  # fmt: skip
    if order["loops"]:
        yield _loop_coils(order["loops"])
    rows = [
        ("U-tubes", f"{number(each['count'])} × {each['pipe']}, {given(each['depth_m'])} m deep")
        for each in order["u_tubes"]
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
            f"{number(drilling['holes'])} boreholes, {number(drilling['drilled_m'])} m; grout "
            f"{number(drilling['grout_m3'], 3)} m³; spoil {number(drilling['spoil_loose_m3'], 3)} "
            "m³ loose",
        )
    if (mats := content.get("mats")) is not None:
        yield "Pond mats", f"{number(mats['mats'])}, {number(mats['area_m2'])} m² of bed"
    if (land := content.get("land")) is not None:
        yield (
            "Ground taken",
            f"{number(land['width_m'])} m × {number(land['length_m'])} m = "
            f"{number(land['area_m2'])} m², borders of {given(land['border_m'])} m included",
        )
        if "available_m2" in land:
            yield "Ground available", f"{number(land['available_m2'])} m²"
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


# ------------------------------------------------------------------------------------ commissioning


def _commissioning(content: Object, _pictures: _Pictures) -> Iterable[Block]:
    yield from _filling(content)
    if (purge := content.get("purge")) is not None:
        yield from _purge(purge)
    if (test := content.get("pressure_test")) is not None:
        yield from _pressure_test(test)
    if (vessel := content.get("expansion_vessel")) is not None:
        yield Subheading("Expansion vessel")
        yield Facts(
            (
                ("Smallest nominal volume", f"{number(vessel['volume_l'], 3)} L"),
                ("Gas pressure of the empty vessel", f"{number(vessel['precharge_kpa'])} kPa"),
                ("Fill to", f"{number(vessel['filling_pressure_kpa'])} kPa"),
                ("Highest pressure", f"{number(vessel['final_pressure_kpa'])} kPa"),
                (
                    "Expansion, contraction, reserve",
                    f"{number(vessel['expansion_l'], 3)} L, {number(vessel['contraction_l'], 3)} "
                    f"L, {number(vessel['reserve_l'], 3)} L",
                ),
                ("Were all pipe free to shrink", f"{number(vessel['volume_free_pipe_l'], 3)} L"),
                ("Method", vessel["source"]),
            )
        )
    yield from _meters(content)
    yield Subheading("Signed")
    yield Facts(
        (
            ("Filled, purged and tested by", _BLANK * 3),
            ("Date", _BLANK * 3),
            ("Signature", _BLANK * 3),
        )
    )


def _filling(content: Object) -> Iterable[Block]:
    contents, fill = content["contents"], content["filling"]
    yield Subheading("Contents and filling")
    yield Table(
        "What the array holds.",
        (Column("Part", width=2.0, number=False), Column("Pipe", "m"), Column("Contents", "L")),
        (
            *(
                (_PARTS[each["part"]], number(each["length_m"]), number(each["volume_l"]))
                for each in contents["parts"]
                if each["length_m"]
            ),
            ("Plant", _DASH, number(contents["plant_l"])),
            ("All", _DASH, number(contents["volume_l"])),
        ),
    )
    rows = [
        (
            "Mixture to make up",
            f"{number(fill['volume_l'])} L = {number(fill['mixture_kg'])} kg at "
            f"{given(fill['temperature_c'])} °C, spare included",
        ),
    ]
    antifreeze = f"{number(fill['antifreeze_kg'])} kg"
    if "antifreeze_l" in fill:
        antifreeze = f"{number(fill['antifreeze_l'])} L = {antifreeze}"
    rows += [
        ("Antifreeze", f"{antifreeze}, before mixing at 20 °C"),
        ("Water", f"{number(fill['water_l'])} L = {number(fill['water_kg'])} kg"),
        ("Freezing point", f"{number(fill['freezing_point_c'], 3)} °C"),
        ("A hydrometer should show", f"{number(fill['density_kg_m3'])} kg/m³"),
        ("Hydrometer read on site", _BLANK),
    ]
    if (sample := content.get("sample")) is not None:
        rows.append(
            (
                "The sample",
                f"{number(sample['mass_percent'], 3)} % by mass, freezes at "
                f"{number(sample['freezing_point_c'], 3)} °C",
            )
        )
    rows.append(("Strength on site", content["method"]["strength"]))
    yield Facts(tuple(rows))


def _purge(purge: Object) -> Iterable[Block]:
    yield Subheading("Purging the air")
    duties = [purge["all_at_once"]] if "all_at_once" in purge else []
    single = purge["loop_by_loop"][:1_000]
    yield Table(
        f"Duty of the purge pump so that every pipe reaches {given(purge['velocity_m_s'])} m/s "
        f"with {purge['fluid']} at {given(purge['temperature_c'])} °C; hoses and strainer come on "
        "top.",
        (
            Column("What is open", width=1.9, number=False),
            Column("Times", width=0.7),
            Column("Flow", "L/s"),
            Column("Drop", "kPa"),
            Column("Head", "m"),
            Column("Slowest", "m/s"),
            Column("Turnover", "min"),
        ),
        tuple(
            (
                each["name"],
                number(each["count"]),
                number(each["flow_l_s"], 3),
                number(each["pressure_drop_kpa"], 3),
                number(each["head_m"], 3),
                number(each["slowest_m_s"], 3),
                number(each["turnover_min"], 3),
            )
            for each in (*duties, *single)
        ),
    )
    rows = [
        (
            "Pump, loop by loop",
            f"{number(purge['pump_flow_l_s'], 3)} L/s at {number(purge['pump_pressure_kpa'], 3)} "
            "kPa",
        ),
    ]
    if purge["uncleared_pipes"]:
        rows.append(
            (
                "Not cleared by single loops",
                f"{', '.join(purge['uncleared_pipes'])}: open all loops, "
                f"{number(purge['shared_flow_l_s'], 3)} L/s",
            )
        )
    yield Facts((*rows, ("Source", purge["source"])))


def _pressure_test(test: Object) -> Iterable[Block]:
    yield Subheading("Pressure test")
    yield Paragraph(
        f"{test['procedure']}; test pressure {number(test['test_pressure_kpa'])} kPa at the gauge. "
        "With water only; never with air."
    )
    yield Table(
        "Stages. The last two columns are filled in on site.",
        (
            Column("Stage", width=1.1, number=False),
            Column("What to do", width=3.3, number=False),
            Column("Time", "min"),
            Column("Above", "kPa"),
            Column("Below", "kPa"),
            Column("Read", "kPa", width=1.1, number=False),
            Column("Time of day", width=1.1, number=False),
        ),
        tuple(
            (
                plain(each["stage"]),
                each["instruction"],
                f"{'≤' if each['at_most'] else '≥'} {number(each['duration_min'], 3)}",
                number(each["lowest_kpa"]),
                number(each["highest_kpa"]),
                "…………",
                "…………",
            )
            for each in test["stages"]
        ),
    )
    rows = [
        (
            "Water that may be drawn off in letting down",
            f"{number(test['allowable_drawn_off_least_l'], 3)} to "
            f"{number(test['allowable_drawn_off_most_l'], 3)} L, by how far it is let down",
        ),
        ("Water drawn off on site", _BLANK),
    ]
    if (result := test.get("result")) is not None:
        rows.append(("Verdict on the record posted", result["verdict"]))
        rows += [
            (f"Stage {plain(each['stage'])}", f"{each['verdict']}: {each['reason']}")
            for each in result["stages"]
        ]
    yield Facts((*rows, ("Source", test["source"])))


def _meters(content: Object) -> Iterable[Block]:
    yield Subheading("Proof of the balance: flow meters")
    meters, left_out = chosen(content["flow_meters"], "expected_l_min")
    if left_out:
        yield Paragraph(left_out)
    read = {"low": "too low", "within": "within", "high": "too high"}
    yield Table(
        "What every loop's meter should show with the circulating pump at its duty.",
        (
            Column("Loop", width=2.0, number=False),
            Column("Expected", "L/min"),
            Column("At least", "L/min"),
            Column("At most", "L/min"),
            Column("Read on site", "L/min", width=1.4, number=False),
            Column("Verdict", width=1.2, number=False),
        ),
        tuple(
            (
                each["loop"],
                number(each["expected_l_min"], 3),
                number(each["lowest_l_min"], 3),
                number(each["highest_l_min"], 3),
                number(each["reading_l_min"], 3) if "reading_l_min" in each else _BLANK,
                read[each["verdict"]] if "verdict" in each else "…………",
            )
            for each in meters
        ),
        tuple("low" if each.get("verdict") in ("low", "high") else "" for each in meters),
    )
    if "balance_proved" in content:
        yield Paragraph(
            "Every meter was read and is within: the balance is proved."
            if content["balance_proved"]
            else "The balance is not proved: a meter is outside, or was not read."
        )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


_Writer = Callable[[Object, _Pictures], Iterable[Block]]
_CHAPTERS: Final[tuple[tuple[str, str, _Writer], ...]] = (
    ("array_sizing", "Size of the array", _sizing),
    ("balancing", "Ways to balance", _balancing),
    ("pump_selection", "Pumps", _pumps),
    ("groundworks", "Groundworks", _groundworks),
    ("commissioning", "Commissioning sheet", _commissioning),
)
