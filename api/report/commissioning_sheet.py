"""Chapter of the report to take to the site: filling, purging, testing, meters."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from api.answers.numbers import given, number
from api.report.blocks import (
    Block,
    Column,
    Facts,
    Paragraph,
    Subheading,
    Table,
)
from api.report.parts import DASH, PARTS, Object, Whole, chosen
from api.report.pumps_and_balance import pump_put_in, put_in
from api.report.words import plain

_BLANK: Final = "………………"  # to be filled in on site


# ------------------------------------------------------------------------------------ commissioning


def commissioning(content: Object, whole: Whole) -> Iterable[Block]:
    """Sections of the sheet."""
    yield from _as_decided(whole.answer)
    yield from _filling(content)
    if (purge := content.get("purge")) is not None:
        yield from _purge(purge)
    if (test := content.get("pressure_test")) is not None:
        yield from _pressure_test(test)
    if (vessel := content.get("vessel")) is not None:
        yield Subheading("Expansion vessel")
        yield Facts(
            (
                ("Smallest nominal volume", f"{number(vessel['volume_l'], 3)} L"),
                (
                    "Gas pressure of the empty vessel",
                    f"{number(vessel['precharge_pressure_kpa'])} kPa",
                ),
                ("Fill to", f"{number(vessel['filling_pressure_kpa'])} kPa"),
                ("Highest pressure", f"{number(vessel['max_pressure_kpa'])} kPa"),
                (
                    "Expansion, contraction, reserve",
                    f"{number(vessel['expansion_l'], 3)} L, {number(vessel['contraction_l'], 3)} "
                    f"L, {number(vessel['reserve_l'], 3)} L",
                ),
                (
                    "For rigid or free pipe, an outer bound",
                    f"{number(vessel['volume_free_pipe_l'], 3)} L",
                ),
                ("Method", vessel["source"]),
            )
        )
    yield from _meters(content, whole.answer)
    yield Subheading("Signed")
    yield Facts(
        (
            ("Filled, purged and tested by", _BLANK * 3),
            ("Date", _BLANK * 3),
            ("Signature", _BLANK * 3),
        )
    )


def _pump(answer: Mapping[str, Any]) -> str:
    """The pump whose flow the meters show; empty where it is the duty's."""
    if "flow_l_s" not in answer["split"].get("running", [{}])[0]:
        return ""
    return pump_put_in(answer["job"]["pump"])


def _as_decided(answer: Mapping[str, Any]) -> Iterable[Block]:
    """Valves to set, pipe put in, the pump and its setting."""
    blocks = list(put_in(answer))
    if pump := _pump(answer):
        at = answer["split"]["running"][0]
        gives = f"{number(at['flow_l_s'])} L/s at {number(at['head_m'])} m, cold"
        blocks.append(Facts((("Pump", pump), ("It gives", gives), ("Setting found", _BLANK))))
    if blocks:
        yield Subheading("Before filling: what is put in, and its setting")
        yield from blocks


def _filling(content: Object) -> Iterable[Block]:
    contents, fill = content["contents"], content["filling"]
    yield Subheading("Contents and filling")
    yield Table(
        "What the array holds.",
        (Column("Part", width=2.0, number=False), Column("Pipe", "m"), Column("Contents", "L")),
        (
            *(
                (PARTS[each["part"]], number(each["length_m"]), number(each["volume_l"]))
                for each in contents["parts"]
                if each["length_m"]
            ),
            ("Plant", DASH, number(contents["plant_l"])),
            ("All", DASH, number(contents["volume_l"])),
        ),
    )
    rows = [
        (
            "Mixture to make up",
            f"{number(fill['volume_l'])} L = {number(fill['mixture_kg'])} kg at "
            f"{given(fill['filling_c'])} °C, spare included",
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
        f"Duty of the purge pump so that every pipe reaches {given(purge['min_velocity_m_s'])} m/s "
        f"with {purge['fluid']} at {given(purge['filling_c'])} °C; hoses and strainer come on "
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
                number(each["drop_kpa"], 3),
                number(each["head_m"], 3),
                number(each["min_velocity_m_s"], 3),
                number(each["turnover_min"], 3),
            )
            for each in (*duties, *single)
        ),
    )
    rows = [
        (
            "Pump, loop by loop",
            f"{number(purge['max_flow_l_s'], 3)} L/s at {number(purge['max_drop_kpa'], 3)} kPa",
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
                f"{'≤' if each['duration_is_max'] else '≥'} {number(each['duration_min'], 3)}",
                number(each["min_pressure_kpa"]),
                number(each["max_pressure_kpa"]),
                "…………",
                "…………",
            )
            for each in test["stages"]
        ),
    )
    rows = [
        (
            "Water that may be drawn off in letting down",
            f"{number(test['min_drawn_off_l'], 3)} to "
            f"{number(test['max_drawn_off_l'], 3)} L, by how far it is let down",
        ),
        ("Water drawn off on site", _BLANK),
    ]
    if (result := test.get("verdict_of_record")) is not None:
        rows.append(("Verdict on the record posted", result["verdict"]))
        rows += [
            (f"Stage {plain(each['stage'])}", f"{each['verdict']}: {each['reason']}")
            for each in result["stages"]
        ]
    yield Facts((*rows, ("Source", test["source"])))


def _meters(content: Object, answer: Mapping[str, Any]) -> Iterable[Block]:
    yield Subheading("Proof of the balance: flow meters")
    meters, left_out = chosen(content["flow_meters"], "expected_l_min")
    if left_out:
        yield Paragraph(left_out)
    pump = _pump(answer)
    read = {"low": "too low", "within": "within", "high": "too high"}
    yield Table(
        f"What every loop's meter should show, cold, with the pump that is put in: {pump}."
        if pump
        else "What every loop's meter should show with the circulating pump at its duty.",
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
                number(each["min_flow_l_min"], 3),
                number(each["max_flow_l_min"], 3),
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
