"""Chapter of the report to take to the site: filling, purging, testing, meters."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from api.answers.numbers import given
from api.answers.parts import as_it_runs
from api.report.blocks import Block, Facts, Mark, Paragraph, Subheading
from api.report.parts import (
    MOST_ROWS,
    PARTS,
    Object,
    Whole,
    by_loop,
    degrees,
    measured,
    quantity,
    table,
    text,
    three,
)
from api.report.pumps_and_balance import pump_put_in, put_in
from api.report.words import plain

_BLANK: Final = "………………"  # to be filled in on site
_SHORT_BLANK: Final = "…………"


def commissioning(content: Object, whole: Whole) -> Iterable[Block]:
    """Sections of the sheet."""
    yield from _as_decided(whole.answer)
    told = whole.answer["job"]["commissioning"]
    yield from _filling(content, told.get("sample"))
    yield from _heights(content["heights"])
    if (purge := content.get("purge")) is not None:
        yield from _purge(purge)
    if (test := content.get("pressure_test")) is not None:
        yield from _pressure_test(test, told["pressure_test"].get("readings", []))
    if (vessel := content.get("vessel")) is not None:
        yield Subheading("Expansion vessel")
        names = ("expansion_l", "contraction_l", "reserve_l")
        free = ("expansion_free_pipe_l", "contraction_free_pipe_l")
        sold = quantity(vessel, "sold_volume_l", given)
        if vessel["sold_count"] > 1:
            sold = f"{vessel['sold_count']} × {sold}"
        yield Facts(
            (
                ("Vessel to buy", sold),
                ("Fill that to", quantity(vessel, "sold_filling_pressure_kpa", three)),
                (
                    "Smallest nominal volume",
                    f"{quantity(vessel, 'volume_l', three)}; one of just that would be filled to "
                    f"{quantity(vessel, 'filling_pressure_kpa')}",
                ),
                ("Gas pressure of the empty vessel", quantity(vessel, "precharge_pressure_kpa")),
                ("Highest pressure at the vessel", quantity(vessel, "max_pressure_kpa")),
                (
                    "Expansion, contraction, reserve",
                    ", ".join(quantity(vessel, name, three) for name in names),
                ),
                (
                    "For rigid or free pipe, an outer bound",
                    quantity(vessel, "volume_free_pipe_l", three),
                ),
                (
                    "Expansion, contraction with rigid or free pipe, whichever is more",
                    ", ".join(quantity(vessel, name, three) for name in free),
                ),
                (
                    "Least gas pressure for the height",
                    quantity(vessel, "min_precharge_pressure_kpa", three),
                ),
                (
                    "Least at the highest point",
                    quantity(vessel, "min_pressure_at_top_kpa", three),
                ),
                (
                    "Most at the lowest pipe, a safety valve at its set pressure, pump included",
                    quantity(vessel, "max_pressure_at_bottom_kpa"),
                ),
                ("Method", vessel["source"]),
            )
        )
    yield from _meters(content, whole.answer)
    yield Subheading("Signed")
    names = ("Filled, purged and tested by", "Date", "Signature")
    yield Facts(tuple((name, _BLANK * 3) for name in names))


def _pump(answer: Mapping[str, Any]) -> str:
    """The pump whose flow the meters show; empty where it is the duty's."""
    return "" if as_it_runs(answer["split"]) is None else pump_put_in(answer)


def _as_decided(answer: Mapping[str, Any]) -> Iterable[Block]:
    """Valves to set, pipe put in, the pump and its setting."""
    blocks = list(put_in(answer))
    if pump := _pump(answer):
        at = answer["split"]["running"][0]
        gives = f"{quantity(at, 'flow_l_s')} at {quantity(at, 'head_m')}, cold"
        blocks.append(Facts((("Pump", pump), ("It gives", gives), ("Setting found", _BLANK))))
    if blocks:
        yield Subheading("Before filling: what is put in, and its setting")
        yield from blocks


def _filling(content: Object, sample_read: Object | None) -> Iterable[Block]:
    contents, fill = content["contents"], content["filling"]
    yield Subheading("Contents and filling")
    laid = [each | {"name": PARTS[each["part"]]} for each in contents["parts"] if each["length_m"]]
    plant = {"name": "Plant", "volume_l": contents["plant_l"]}
    yield table(
        "What the array holds.",
        [*laid, plant, {"name": "All", "volume_l": contents["volume_l"]}],
        text("Part", "name", 2.0),
        measured("Pipe", "length_m"),
        measured("Contents", "volume_l"),
    )
    antifreeze = quantity(fill, "antifreeze_kg")
    if "antifreeze_l" in fill:
        antifreeze = f"{quantity(fill, 'antifreeze_l')} = {antifreeze}"
    buy = [
        (
            "To buy",
            ", ".join(
                f"{each['count']} × {quantity(each, 'size_l', given)}"
                for each in fill["containers"]
            )
            + f"; {quantity(fill, 'left_over_l')} left over",
        )
    ] * bool(fill["containers"])
    rows = [
        (
            "Mixture to make up",
            f"{quantity(fill, 'volume_l')} = {quantity(fill, 'mixture_kg')} at "
            f"{quantity(fill, 'filling_c', given)}, spare included",
        ),
        *(
            [
                (
                    "Antifreeze",
                    f"{antifreeze} of {quantity(fill, 'bought_mass_percent', three)} by mass, "
                    "before mixing at 20 °C",
                )
            ]
            if fill["antifreeze_kg"]
            else []
        ),
        *buy,
        (
            "Water to it" if fill["antifreeze_kg"] else "Water",
            f"{quantity(fill, 'water_l')} = {quantity(fill, 'water_kg')}",
        ),
        ("Freezing point", quantity(fill, "freezing_point_c", degrees)),
        ("A hydrometer should show", quantity(fill, "density_kg_m3")),
        ("Hydrometer read on site", _hydrometer(sample_read)),
    ]
    if (sample := content.get("sample")) is not None:
        told = (
            f"{quantity(sample, 'mass_percent', three)} by mass, freezes at "
            f"{quantity(sample, 'freezing_point_c', three)}"
        )
        rows.append(("The sample", told))
    yield Facts((*rows, ("Strength on site", content["method"]["strength"])))


def _hydrometer(read: Object | None) -> str:
    if read is None:
        return _BLANK
    return f"{quantity(read, 'density_kg_m3', given)} at {quantity(read, 'sample_c', given)}"


def _heights(heights: Object) -> Iterable[Block]:
    yield Subheading("Heights that pressures are reckoned with")
    rows = [
        ("Pump and vessel", quantity(heights, "plant_level_m", given)),
        ("Gauge of the pressure test", quantity(heights, "gauge_level_m", given)),
        ("Highest ground over the array", quantity(heights, "max_ground_level_m", given)),
        ("Lowest pipe", quantity(heights, "min_pipe_level_m", given)),
    ]
    yield Facts((*rows, *((("Taken so", " ".join(said)),) if (said := heights["assumed"]) else ())))


def _purge(purge: Object) -> Iterable[Block]:
    yield Subheading("Purging the air")
    yield table(
        "Steps, in order: what is not named is shut. Each the one way and then the other, so that "
        f"every pipe reaches {quantity(purge, 'min_velocity_m_s', given)} with {purge['fluid']} at "
        f"{quantity(purge, 'filling_c', given)}. Pressure is at the connections, lift to the "
        "highest ground included; hoses and strainer come on top.",
        purge["steps"][:MOST_ROWS],
        text("What is open", "name", 1.9),
        measured("Times", "count", width=0.7),
        measured("Flow", "flow_l_s", three),
        measured("Pressure", "pressure_kpa", three),
        measured("Head", "head_m", three),
        measured("Slowest", "min_velocity_m_s", three),
        measured("Fastest", "max_velocity_m_s", three),
        measured("At least", "time_min", three),
    )
    covers = f"{quantity(purge, 'max_flow_l_s', three)} at "
    covers += quantity(purge, "max_pressure_kpa", three) + " at the connections"
    yield Facts(
        (
            ("Purge pump for all steps", covers),
            ("Open tank, at least", quantity(purge, "min_tank_l", three)),
            ("Time in all, at least", quantity(purge, "time_min", three)),
            ("Source", purge["source"]),
        )
    )


def _time(stage: Object) -> str:
    return f"{'≤' if stage['duration_is_max'] else '≥'} {three(stage['duration_min'])}"


def _pressure_test(test: Object, readings: list[Object]) -> Iterable[Block]:
    last = {each["stage"]: each for each in readings}  # they are in order of time
    drawn = [each for each in readings if "drawn_off_l" in each]

    yield Subheading("Pressure test")
    yield Paragraph(
        f"{test['procedure']}; test pressure {quantity(test, 'test_pressure_kpa')} at the gauge. "
        "With water only; never with air."
    )
    yield table(
        "Stages. The last two columns tell the last reading of the stage on the record that the "
        "job holds, and when it was read since that began."
        if readings
        else "Stages. The last two columns are filled in on site.",
        test["stages"],
        text("Stage", lambda each: plain(each["stage"]), 1.1),
        text("What to do", "instruction", 3.3),
        text("Time", _time, unit="min"),
        measured("Above", "min_pressure_kpa"),
        measured("Below", "max_pressure_kpa"),
        text("Read", lambda each: _read(last, each, "pressure_kpa"), 1.1, unit="kPa"),
        text("After", lambda each: _read(last, each, "time_min"), 1.1, unit="min")
        if readings
        else text("Time of day", lambda _: _SHORT_BLANK, 1.1),
    )
    if readings:
        yield table(
            "The record that the job holds.",
            readings[:MOST_ROWS],
            text("Stage", lambda each: plain(each["stage"]), 1.6),
            measured("Since it began", "time_min", given),
            measured("Pressure", "pressure_kpa", given),
            measured("Drawn off so far", "drawn_off_l", given),
        )
    rows = [
        ("At the lowest pipe it makes", quantity(test, "test_pressure_at_bottom_kpa")),
        (
            "Design pressure at the lowest pipe, and at the gauge",
            f"{quantity(test, 'design_pressure_kpa')}, "
            f"{quantity(test, 'design_pressure_at_gauge_kpa')}",
        ),
        *(
            [
                (
                    "Most that every pipe of known class bears, at the gauge",
                    quantity(test, "max_at_gauge_kpa"),
                )
            ]
            if "max_at_gauge_kpa" in test
            else []
        ),
        (
            "Water that may be drawn off in letting down",
            f"{three(test['min_drawn_off_l'])} to {quantity(test, 'max_drawn_off_l', three)}, by "
            "how far it is let down",
        ),
        (
            "Water drawn off on site",
            quantity(drawn[-1], "drawn_off_l", given) if drawn else _BLANK,
        ),
    ]
    if (result := test.get("verdict_of_record")) is not None:
        rows.append(("Verdict on the record posted", result["verdict"]))
        rows += [
            (f"Stage {plain(each['stage'])}", f"{each['verdict']}: {each['reason']}")
            for each in result["stages"]
        ]
    yield Facts((*rows, ("Source", test["source"])))


def _read(last: Mapping[str, Object], stage: Object, name: str) -> str:
    """What was read last in a stage, or a blank for it."""
    read = last.get(stage["stage"])
    return _SHORT_BLANK if read is None else given(read[name])


def _meters(content: Object, answer: Mapping[str, Any]) -> Iterable[Block]:
    yield Subheading("Proof of the balance: flow meters")
    pump = _pump(answer)
    words = {"low": "too low", "within": "within", "high": "too high"}

    def mark(each: Object) -> Mark:
        return "low" if each.get("verdict") in ("low", "high") else ""

    yield from by_loop(
        f"What every loop's meter should show, cold, with the pump that is put in: {pump}."
        if pump
        else "What every loop's meter should show with the circulating pump at its duty.",
        content["flow_meters"],
        "expected_l_min",
        text("Loop", "loop", 2.0),
        measured("Expected", "expected_l_min", three),
        measured("At least", "min_flow_l_min", given),
        measured("At most", "max_flow_l_min", given),
        measured("Read on site", "reading_l_min", given, width=1.4, absent=_BLANK),
        text("Verdict", lambda each: words.get(each.get("verdict", ""), _SHORT_BLANK), 1.2),
        mark=mark,
    )
    if "balance_proved" in content:
        yield Paragraph(_proof(content))


def _proof(content: Object) -> str:
    """What the meters' readings prove."""
    if content["balance_proved"]:
        return "Every loop's share of all readings is within: the balance is proved."
    if any("reading_l_min" not in each for each in content["flow_meters"]):
        return "The balance is not proved: not every meter was read."
    if any("verdict" not in each for each in content["flow_meters"]):
        return "The balance is not proved: the meters are too coarse for what is asked."
    if any(each["verdict"] != "within" for each in content["flow_meters"]):
        return "The balance is not proved: some loop's share of all readings is outside its band."
    return (
        "Every loop's share of all readings is within, but the balance is not proved: the findings "
        "tell why."
    )
