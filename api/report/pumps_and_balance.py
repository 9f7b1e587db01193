"""Chapters of the report on balancing and on pumps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from api.answers.numbers import given, number, signed
from api.report.blocks import (
    Block,
    Bullets,
    Column,
    Facts,
    Mark,
    Paragraph,
    Subheading,
    Table,
)
from api.report.parts import (
    DASH,
    PARTS,
    Object,
    Whole,
    chosen,
    findings_block,
    or_dash,
)
from api.report.words import capital, plain, sentence

_VERDICTS: Final = {"reaches": "reaches", "misses": "misses", "not_possible": "does not apply"}


# --------------------------------------------------------------------------------------- balancing


def balancing(content: Object, whole: Whole) -> Iterable[Block]:
    """Sections of the chapter on balancing."""
    before = content["before"]
    duty = before["pump"]
    ways = content["ways"]
    if (taken := way_taken(whole.answer)) is not None:
        yield Paragraph(
            f"Put in: {plain(taken['way'])}. Every other chapter is of the array so balanced; "
            "this one compares with the array as it was before."
        )
    yield Facts(
        (
            ("Target", _target(content["target"])),
            ("Tolerance", f"±{given(content['max_deviation_percent'])} % of the target"),
            ("Spread as it is", f"{number(before['imbalance']['spread_percent'])} %"),
            ("Pump as it is", f"{number(duty['head_m'])} m, {number(duty['energy_kwh'])} kWh/a"),
            (
                "Energy reckoned with",
                f"{given(content['run_h'])} h/a at {given(content['pump_efficiency_percent'])}"
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
        yield Subheading(capital(plain(way["way"])))
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
    name, verdict = capital(plain(way["way"])), _VERDICTS[way["verdict"]]
    if "pump" not in way:
        return (name, verdict, DASH, DASH, DASH, DASH, DASH)
    return (
        name,
        verdict,
        number(way["spread_percent"], 3),
        number(way["pump"]["head_m"]),
        signed(way["power_change_w"], 2),
        signed(way["energy_change_kwh"], 1),
        _takes(way),
    )


def _takes(way: Object) -> str:
    told = [f"{number(way['valves'])} valves"] if way["valves"] else []
    told += [
        f"{signed(each['length_m'], 1)} m {each['pipe']} ({PARTS[each['part']].lower()})"
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
                    number(each["drop_kpa"]),
                    number(each["authority_percent"], 3),
                    _position(each),
                )
                for each in rows
            ),
        )
    yield from _spare_pipe(way)


def _spare_pipe(way: Object) -> Iterable[Block]:
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
             f"{number(cost['colder_k'], 3)} K"),
            ("Brine from the ground, mixed, as it is", f"{number(cost['from_ground_c'], 3)} °C"),
            ("Brine from the ground, mixed, at the target",
             f"{number(cost['from_ground_at_target_c'], 3)} °C"),
            ("Model", cost["model"]),
        )
    )  # fmt: skip
    yield Bullets(tuple(sentence(each) for each in cost["leaves_out"]))


def way_taken(answer: Mapping[str, Any]) -> Object | None:
    """The way to balance that was put into the array; None where none was."""
    for way in answer.get("balancing", {}).get("ways", ()):
        if "decides" in way and way["decides"]["array"] == answer["job"]["array"]:
            found: Object = way
            return found
    return None


def put_in(answer: Mapping[str, Any]) -> Iterable[Block]:
    """What was put into the array to balance it, as the fitter needs it."""
    way = way_taken(answer)
    if way is not None:
        yield Paragraph(f"Way to balance: {plain(way['way'])} ({_takes(way)}).")
        yield from _spare_pipe(way)
    if valves := answer.get("valves"):
        rows, left_out = chosen(valves, "kv_m3_h")
        if left_out:
            yield Paragraph(left_out)
        yield Table(
            "Regulating valves of the array, as they are to be set.",
            (
                Column("Loop", width=1.8, number=False),
                Column("Valve", width=2.2, number=False),
                Column("Kv", "m³/h"),
                Column("Position"),
            ),
            tuple(
                (
                    each["loop"],
                    each.get("valve", DASH),
                    number(each["kv_m3_h"]),
                    given(each["position"]) if "position" in each else DASH,
                )
                for each in rows
            ),
        )


# ------------------------------------------------------------------------------------------- pumps


def pump_put_in(pump: Object) -> str:
    """The pump that runs, with its setting."""
    told = _pump_name({"parallel": 1, "series": 1, **pump})
    return f"{told}, set to {number(pump['set_head_m'])} m" if "set_head_m" in pump else told


def running(answer: Mapping[str, Any]) -> Iterable[Block]:
    """What the pump that runs drives; nothing where none is put in."""
    conditions = answer["split"].get("running")
    if conditions is None:
        return
    yield Facts((("Pump", pump_put_in(answer["job"]["pump"])),))
    yield Table(
        "What the pump drives, by its own curve on this brine.",
        (
            Column("Condition", width=1.2, number=False),
            Column("Flow", "L/s"),
            Column("Head", "m"),
            Column("Power", "W"),
            Column("Speed", "1/min"),
            Column("Energy", "kWh/a"),
            Column("Change", "K"),
            Column("Spread", "%"),
        ),
        tuple(
            (
                each["condition"],
                *(
                    or_dash(each, name)
                    for name in (
                        "flow_l_s", "head_m", "power_w", "speed_rpm", "energy_kwh",
                        "temperature_change_k", "spread_percent",
                    )
                ),
            )
            for each in conditions
        ),
    )  # fmt: skip
    if reasons := [f"{x['condition']}: {x['reason']}" for x in conditions if "reason" in x]:
        yield Bullets(tuple(map(sentence, reasons)))


def pumps(content: Object, whole: Whole) -> Iterable[Block]:
    """Sections of the chapter on pumps."""
    duty = content["pump"]
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
                number(each["to_ground_c"], 3),
                number(each["from_ground_c"], 3),
                number(each["fluid"]["density_kg_m3"]),
                number(each["kinematic_viscosity_mm2_s"], 3),
                number(each["duty_head_m"]),
                number(each["run_h"]),
            )
            for each in content["conditions"]
        ),
    )
    if "pumps" in whole.pictures:
        yield whole.pictures["pumps"]
    yield _ranking(content)
    yield from _missed(content["pumps"])
    for each in content["pumps"][0].get("splits", ()) if content["pumps"] else ():
        yield Paragraph(
            f"With {content['pumps'][0]['name']}, {each['condition']}, the array takes "
            f"{number(each['flow_l_s'])} L/s at {number(each['head_m'])} m; the split is "
            f"{'within' if each['within_tolerance'] else 'outside'} tolerance, its spread "
            f"{number(each['spread_percent'], 3)} %."
        )
    yield Paragraph(f"Method. {content['method']['pumps']}", soft=True)
    tolerance = content["acceptance"]
    yield Paragraph(
        f"Tolerance of a delivered pump: flow −{given(tolerance['min_flow_percent'])}/"
        f"+{given(tolerance['max_flow_percent'])} %, head −{given(tolerance['min_head_percent'])}/"
        f"+{given(tolerance['max_head_percent'])} %. {tolerance['source']}",
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
                or_dash(cold, "flow_l_s"),
                or_dash(cold, "head_m"),
                or_dash(cold, "power_w"),
                DASH if margin is None else signed(margin),
                or_dash(pump, "energy_kwh"),
                pump["benchmark"]["grade"] if "benchmark" in pump else DASH,
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
    told = [pump["name"], plain(pump["control"])]
    if pump["parallel"] > 1:
        told.append(f"{pump['parallel']} in parallel")
    if pump["series"] > 1:
        told.append(f"{pump['series']} in series")
    if "speed_rpm" in pump:
        told.append(f"at {number(pump['speed_rpm'])} rpm")
    return ", ".join(told)


def _missed(pumps: list[Object]) -> Iterable[Block]:
    told = tuple(
        f"{pump['name']}: {'; '.join(pump['reasons'])}." for pump in pumps if pump["reasons"]
    )
    if told:
        yield Subheading("Why pumps miss the duty")
        yield Bullets(told)
