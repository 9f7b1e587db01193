"""Chapters of the report on balancing and on pumps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any, Final

from api.answers.numbers import given, number, signed
from api.report.blocks import Block, Bullets, Facts, Paragraph, Subheading, Table
from api.report.parts import (
    DASH,
    PARTS,
    Object,
    Whole,
    by_loop,
    degrees,
    findings_block,
    measured,
    per_cent,
    quantity,
    table,
    text,
    three,
)
from api.report.words import capital, plain, sentence
from api.schemas.objects import schema_of
from api.schemas.pumps import PumpSchema
from hydraulics.findings import counted

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
            (
                "Spread as it is",
                quantity(before["imbalance"], "spread_percent", per_cent),
            ),
            ("Pump as it is", f"{quantity(duty, 'head_m')}, {quantity(duty, 'energy_kwh')}/a"),
            (
                "Energy reckoned with",
                f"{quantity(content, 'run_h', given)}/a at "
                f"{quantity(content, 'pump_efficiency_percent', given)} pump efficiency",
            ),
        )
    )
    yield table(
        "Ways to balance, each solved again at the job's duty. Spread is what is left; "
        "changes are against the array as it is.",
        ways,
        text("Rank", lambda way: str(way.get("rank", DASH)), 0.6),
        text("Way", lambda way: capital(plain(way["way"])), 1.6),
        text("Verdict", _verdict, 1.2),
        measured("Spread", "spread_percent", per_cent),
        measured("Head", "pump.head_m"),
        measured("Power", "power_change_w", partial(signed, places=2)),
        measured("Energy", "energy_change_kwh", signed, unit="kWh/a"),
        text("Takes", lambda way: _takes(way) if "pump" in way else DASH, 2.2),
        mark=lambda way: "strong" if _verdict(way) == _VERDICTS["reaches"] else "",
    )
    fit = [way for way in ways if way["verdict"] != "not_possible"]
    if reasons := [
        f"{capital(plain(way['way']))} does not apply: {way['reason']}"
        for way in ways
        if way not in fit
    ]:
        yield Bullets(tuple(map(sentence, reasons)))
    for way in fit:
        yield Subheading(capital(plain(way["way"])))
        yield Paragraph(sentence(way["reason"]))
        if "rank" in way:
            yield Paragraph(sentence(f"rank {way['rank']}: {way['rank_reason']}"))
        if "disturbs" in way:
            yield Paragraph(sentence(f"once laid it disturbs: {way['disturbs']['extent']}"))
        yield from _settings(way)
        if way["findings"]:
            yield findings_block(way["findings"], whole.answer)
    if (cost := content.get("heat_cost")) is not None:
        yield from _heat_cost(cost)


def _verdict(way: Object) -> str:
    """What a way comes to: one that brings an error reaches nothing that could be built."""
    errors = sum(each["severity"] == "error" for each in way["findings"])
    return counted(errors, "error") if errors else _VERDICTS[way["verdict"]]


def _target(target: str) -> str:
    return {"even": "an even share for every loop", "by_length": "in proportion to length",
            "shares": "the shares given"}[target]  # fmt: skip


def _takes(way: Object) -> str:
    told = [f"{number(way['valves'])} valves"] if way["valves"] else []
    told += [
        f"{signed(each['length_m'], 1)} m {each['pipe']} ({PARTS[each['part']].lower()})"
        for each in way["pipes"]
    ]
    return "; ".join(told) or "nothing"


def _settings(way: Object) -> Iterable[Block]:
    if "settings" in way:
        yield from by_loop(
            "Setting of every loop's valve. K refers to the bore of the loop; authority is the "
            "valve's share in the drop of valve, loop and route.",
            way["settings"],
            "authority_percent",
            text("Loop", "loop", 1.8),
            measured("Kv", "kv_m3_h", absent="open"),
            measured("K", "loss_coefficient"),
            measured("Drop", "drop_kpa"),
            measured("Authority", "authority_percent", three),
            *(
                (measured("Kv now", "kv_before_m3_h"),)
                if any("kv_before_m3_h" in each for each in way["settings"])
                else ()
            ),
            text("Position", _position, 1.3),
        )
    yield from _spare_pipe(way)


def _spare_pipe(way: Object) -> Iterable[Block]:
    if "spare_pipe" in way:
        yield from by_loop(
            "Pipe to add, in coils, of the loop's own pipe; loops not named get none.",
            [each for each in way["spare_pipe"] if each["length_m"] > 0],
            "length_m",
            text("Loop", "loop", 2.0),
            measured("Length", "length_m"),
        )


def _position(setting: Object) -> str:
    if setting["fully_open"]:
        return "fully open"
    if "position" not in setting:
        return "set by Kv"
    return f"{given(setting['position'])} (Kv {three(setting['position_kv_m3_h'])})"


def _heat_cost(cost: Object) -> Iterable[Block]:
    yield Subheading("What the imbalance costs in heat")
    lost = f"{quantity(cost, 'heat_lost_w')} = {quantity(cost, 'heat_lost_percent', per_cent)}"
    yield Facts(
        (
            ("Heat as it is", quantity(cost, "heat_as_it_is_w")),
            ("Heat at the target flows", quantity(cost, "heat_at_target_w")),
            ("Heat lost", lost),
            ("Brine must go out further from the ground's temperature by",
             quantity(cost, "colder_k", three)),
            ("Brine from the ground, mixed, as it is", quantity(cost, "from_ground_c", degrees)),
            ("Brine from the ground, mixed, at the target",
             quantity(cost, "from_ground_at_target_c", degrees)),
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
        yield from by_loop(
            "Regulating valves of the array, as they are to be set.",
            valves,
            "kv_m3_h",
            text("Loop", "loop", 1.8),
            text("Valve", "valve", 2.2),
            measured("Kv", "kv_m3_h"),
            measured("Position", "position", given),
        )


# ------------------------------------------------------------------------------------------- pumps


def pump_put_in(answer: Mapping[str, Any]) -> str:
    """The pump that runs, with its setting: as given or, where it is left open, as found."""
    pump, name = _own(answer), _name_of_own(answer)
    if pump["control"] == "constant_speed":
        return name
    if pump["control"] == "constant_temperature_difference":
        changes = (x.get("temperature_change_k") for x in answer["split"]["running"])
        found = pump.get("set_change_k", next(filter(None, changes), None))
        return name + ("" if found is None else f", set to {number(found)} K")
    held = pump.get("set_head_m", answer["split"]["pump"]["head_m"])
    return f"{name}, set to {number(held)} m"


def _own(answer: Mapping[str, Any]) -> Object:
    """The pump that runs, with what it leaves out."""
    return {**schema_of(PumpSchema).defaults, **answer["job"]["pump"]}


def _name_of_own(answer: Mapping[str, Any]) -> str:
    """What the pump that runs is called among those that were judged."""
    pump = _own(answer)
    if pump["control"] == "constant_speed":
        speeds = [x["speed_rpm"] for x in answer["split"]["running"] if "speed_rpm" in x]
        pump = {**dict(zip(("speed_rpm",), speeds, strict=False)), **pump}
    return _pump_name(pump)


def running(answer: Mapping[str, Any]) -> Iterable[Block]:
    """What the pump that runs drives; nothing where none is put in."""
    conditions = answer["split"].get("running")
    if conditions is None:
        return
    yield Facts((("Pump", pump_put_in(answer)),))
    yield table(
        "What the pump drives, by its own curve on this brine.",
        conditions,
        text("Condition", "condition", 1.2),
        measured("Flow", "flow_l_s"),
        measured("Head", "head_m"),
        measured("Power", "power_w"),
        measured("Speed", "speed_rpm"),
        measured("Energy", "energy_kwh", unit="kWh/a"),
        measured("Change", "temperature_change_k"),
        measured("Spread", "spread_percent", per_cent),
    )
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
            ("Flow of the duty", quantity(duty, "flow_l_s")),
            ("Head that it takes, cold", quantity(duty, "head_m")),
        )
    )
    yield table(
        "Conditions that every pump is judged in.",
        content["conditions"],
        text("Condition", "condition", 1.2),
        measured("To ground", "to_ground_c", degrees),
        measured("From ground", "from_ground_c", degrees),
        measured("Density", "fluid.density_kg_m3"),
        measured("Viscosity", "kinematic_viscosity_mm2_s", three),
        measured("Head at duty", "duty_head_m"),
        measured("Hours", "run_h", unit="h/a"),
    )
    if "pumps" in whole.pictures:
        yield whole.pictures["pumps"]
    yield _ranking(content, _name_of_own(whole.answer) if "pump" in whole.answer["job"] else None)
    yield from _limits(content["pumps"])
    yield from _missed(content["pumps"])
    if aside := content["set_aside"]:
        yield Subheading("Pumps set aside")
        yield Bullets(tuple(f"{each['name']}: {'; '.join(each['reasons'])}." for each in aside))
    for each in content["pumps"][0].get("splits", ()) if content["pumps"] else ():
        yield Paragraph(
            f"With {content['pumps'][0]['name']}, {each['condition']}, the array takes "
            f"{quantity(each, 'flow_l_s')} at {quantity(each, 'head_m')}; the split is "
            f"{'within' if each['within_tolerance'] else 'outside'} tolerance, its spread "
            f"{quantity(each, 'spread_percent', per_cent)}."
        )
    tolerance = content["acceptance"]
    bands = {pump["benchmark"]["source"] for pump in content["pumps"] if "benchmark" in pump}
    yield Paragraph(
        f"Method. {content['method']['pumps']} "
        f"Tolerance of a delivered pump: flow −{given(tolerance['min_flow_percent'])}/"
        f"+{given(tolerance['max_flow_percent'])} %, head −{given(tolerance['min_head_percent'])}/"
        f"+{given(tolerance['max_head_percent'])} %. {tolerance['source']}"
        + "".join(f". Power per heat: {source}" for source in bands),
        soft=True,
    )


def _ranking(content: Object, own: str | None) -> Table:
    ranked = [
        {"rank": rank, "cold": pump["conditions"][0], **pump}
        for rank, pump in enumerate(content["pumps"], 1)
    ]
    return table(
        "Pumps in order: those that meet the duty in every condition, by energy; then the others. "
        "Flow, head, power and margin of flow are those in the cold.",
        ranked,
        measured("No", "rank", width=0.5),
        text("Pump", _pump_name, 2.6),
        text("Duty", lambda pump: "meets" if pump["meets_duty"] else "misses", 0.9),
        *(
            [text("Put in", lambda pump: "this one" if _pump_name(pump) == own else "", 0.9)]
            if own
            else ()
        ),
        measured("Flow", "cold.flow_l_s"),
        measured("Head", "cold.head_m"),
        measured("Power", "cold.power_w"),
        measured("Margin", "cold.flow_margin_percent", signed),
        measured("Energy", "energy_kwh", unit="kWh/a"),
        measured("Per heat", "benchmark.power_per_heat_w_kw", three),
        mark=lambda pump: "strong" if pump["meets_duty"] and pump["rank"] == 1 else "",
    )


def _limits(pumps: list[Object]) -> Iterable[Block]:
    """Between which flows each pump may run, and what it may ask of motor and inlet there."""
    runs = [
        {**each, "rank": rank}
        for rank, pump in enumerate(pumps, 1)
        for each in pump["conditions"]
        if "flow_l_s" in each
    ]
    inlet = measured("Inlet needs", "min_inlet_kpa", three)
    if runs:
        yield table(
            "What each pump may come to within the tolerance, by its number: least and most flow, "
            "flow over that of best efficiency, most power, and least pressure over the atmosphere "
            "at its inlet where its tables tell it.",
            runs,
            measured("No", "rank", width=0.5),
            text("Condition", "condition", 1.2),
            measured("Least flow", "min_flow_l_s"),
            measured("Most flow", "max_flow_l_s"),
            measured("Of best flow", "of_best_flow_percent", three),
            measured("Most power", "max_power_w"),
            *([inlet] if any("min_inlet_kpa" in each for each in runs) else []),
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
    told = {
        f"{_pump_name(pump)}: {'; '.join(pump['reasons'])}.": ""
        for pump in pumps
        if pump["reasons"]
    }
    if told:
        yield Subheading("Why pumps miss the duty")
        yield Bullets(tuple(told))
