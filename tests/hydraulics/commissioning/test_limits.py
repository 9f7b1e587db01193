"""Limits of commissioning at their edges, and what a tester reads, in the units of the gauge."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from hydraulics.commissioning.filling import filling, strength_from_density
from hydraulics.commissioning.meters import MeterReading, expected_readings, judge_readings
from hydraulics.commissioning.pressure_test import (
    EN_805,
    MINUTE,
    W_400_2,
    Procedure,
    air_test_energy,
    en805_allowable_loss,
    en805_system_test_pressure,
    let_down_range,
    pipe_sdr,
    planned_stages,
    pressure_test_findings,
    water_test_energy,
)
from hydraulics.commissioning.pressure_verdict import Reading, TestResult, evaluate_pe_test
from hydraulics.commissioning.vessel import (
    en12828_final_pressure,
    en12828_reserve,
    en12828_vessel_volume,
    expansion_vessel,
    filling_pressure,
    vessel_findings,
)
from hydraulics.errors import InputError, RangeError
from hydraulics.fluid.mixture import mixture
from hydraulics.layout.contents import PipeContents
from hydraulics.layout.heights import Bottom, Levels
from hydraulics.pipework.pipe import Pipe, pe_pipe

PIPE = pe_pipe("PE100 SDR11 40")
CONTENTS = (PipeContents("loops", PIPE, 400.0, 0.33388),)
HAIR = 1e-6

# A record at a test pressure of 1000 kPa: stage, minute, kPa, litres drawn off. 0.921 L may be
# drawn off 400 m of 40 x 3.7 mm at a let-down of 200 kPa and a wall of 0.8 GPa (the worked case of
# the published formula), so 0.552 L at 120 kPa.
RECORD: tuple[tuple[Any, float, float, float | None], ...] = (
    ("relaxation", 0.0, 5.0, None),
    ("relaxation", 60.0, 5.0, None),
    ("pressurising", 68.0, 1000.0, None),
    ("holding", 98.0, 1000.0, None),
    ("resting", 158.0, 850.0, None),
    ("letting_down", 159.5, 730.0, 0.5),
    ("main", 169.5, 735.0, None),
    ("main", 179.5, 738.0, None),
    ("main", 189.5, 740.0, None),
)


def judged(
    *changes: tuple[int, dict[str, Any]],
    procedure: Procedure = EN_805,
    more: tuple[Reading, ...] = (),
    **over: Any,
) -> TestResult:
    readings = [
        Reading(stage, minute * MINUTE, kpa * 1e3, None if litres is None else litres / 1e3)
        for stage, minute, kpa, litres in RECORD
    ]
    for number, change in changes:
        readings[number] = replace(readings[number], **change)
    return evaluate_pe_test(
        (*readings, *more), CONTENTS, 1e6, procedure=procedure, pipe_modulus=0.8e9, **over
    )


def stage_of(result: TestResult, name: str) -> tuple[str, str]:
    return next((s.verdict, s.reason) for s in result.stages if s.stage == name)


def test_the_record_passes_and_every_stage_says_how_it_went() -> None:
    result = judged()
    assert result.verdict == "pass"
    assert [stage.reason for stage in result.stages] == [
        "relaxed for 60 min",
        "raised in 8 min",
        "held for 30 min",
        "pressure fell by 15 % of the test pressure in 60 min",
        "let down by 120 kPa in 1.5 min, 0.5 L drawn off of 0.552 L allowed",
        "largest fall from the highest reading 0 kPa in 30 min: no falling trend",
    ]
    assert result.allowable_loss == pytest.approx(0.921e-3 * 0.6, rel=1e-3)  # three digits


# Limits of EN 805, A.27 as its procedure tells them, from memory where that says so; 2 % below the
# test pressure is reached, 5 % below is held, and 20 kPa is relaxed: common practice, no source.
@pytest.mark.parametrize(
    ("number", "change", "stage", "verdict"),
    [
        (1, {"pressure": 20e3}, "relaxation", "pass"),
        (1, {"pressure": 20e3 + 1.0}, "relaxation", "undetermined"),
        (1, {"time": 59.9 * MINUTE}, "relaxation", "undetermined"),
        (2, {"pressure": 980e3}, "pressurising", "pass"),
        (2, {"pressure": 980e3 - 1.0}, "pressurising", "undetermined"),
        (2, {"time": 70.0 * MINUTE}, "pressurising", "pass"),
        (2, {"time": 70.1 * MINUTE}, "pressurising", "undetermined"),
        (3, {"pressure": 950e3}, "holding", "pass"),
        (3, {"pressure": 950e3 - 1.0}, "holding", "undetermined"),
        (3, {"time": 97.9 * MINUTE}, "holding", "undetermined"),
        (4, {"pressure": 700e3}, "resting", "pass"),
        (4, {"pressure": 700e3 - 1.0}, "resting", "fail"),
        (4, {"pressure": 999e3}, "resting", "pass"),  # a step of the gauge
        (4, {"pressure": 999e3 + 1.0}, "resting", "undetermined"),  # it did not move
        (4, {"pressure": 1000e3}, "resting", "undetermined"),
        (4, {"pressure": 1000e3 + 1.0}, "resting", "fail"),
        (4, {"time": 157.9 * MINUTE}, "resting", "undetermined"),
        (5, {"pressure": 750e3}, "letting_down", "fail"),  # more water than that pressure lets go
        (5, {"pressure": 750e3, "drawn_off": 4e-4}, "letting_down", "pass"),  # 10 % of the test's
        (5, {"pressure": 751e3, "drawn_off": 4e-4}, "letting_down", "undetermined"),
        (5, {"pressure": 700e3}, "letting_down", "pass"),  # 15 %
        (5, {"pressure": 699e3}, "letting_down", "undetermined"),
        (5, {"time": 160.0 * MINUTE}, "letting_down", "pass"),
        (5, {"time": 160.1 * MINUTE}, "letting_down", "undetermined"),
        (8, {"time": 189.4 * MINUTE}, "main", "undetermined"),
        (8, {"pressure": 738e3}, "main", "pass"),
        (8, {"pressure": 737e3}, "main", "pass"),  # what the gauge shows
        (8, {"pressure": 736.9e3}, "main", "undetermined"),
        (8, {"pressure": 713e3}, "main", "undetermined"),
        (8, {"pressure": 712.9e3}, "main", "fail"),  # more than 25 kPa below the highest
    ],
)
def test_a_stage_is_judged_at_its_limit(
    number: int, change: dict[str, Any], stage: str, verdict: str
) -> None:
    assert stage_of(judged((number, change)), stage)[0] == verdict


def test_every_stage_that_goes_wrong_says_what_was_read_and_what_was_asked() -> None:
    for number, change, stage, words in (
        (1, {"pressure": 30e3}, "relaxation", "was at 30 kPa"),
        (1, {"time": 45 * MINUTE}, "relaxation", "covers 45 min of the 60 min required"),
        (2, {"pressure": 900e3}, "pressurising", "900 kPa was reached of the 1000 kPa required"),
        (2, {"time": 72 * MINUTE}, "pressurising", "raising took 12 min, more than 10 min"),
        (3, {"pressure": 900e3}, "holding", "pressure fell to 900 kPa"),
        (4, {"pressure": 600e3}, "resting", "fell by 40 % of the test pressure in 60 min, more "
         "than 30 %"),
        (5, {"pressure": 800e3}, "letting_down", "let down by 50 kPa in 1.5 min; the procedure "
         "asks for 100 to 150 kPa"),
        (5, {"time": 161 * MINUTE}, "letting_down", "in 3 min, longer than 2 min"),
        (5, {"drawn_off": 6e-4}, "letting_down", "0.6 L drawn off of 0.552 L allowed: too much"),
        (8, {"pressure": 735e3}, "main", "3 kPa in 30 min: in doubt; go on to 90 min, then at "
         "most 25 kPa"),
        (8, {"pressure": 700e3}, "main", "38 kPa in 30 min, more than 25 kPa: the pipe leaks"),
    ):  # fmt: skip
        assert words in stage_of(judged((number, change)), stage)[1]


def test_the_extended_main_test_takes_ninety_minutes() -> None:
    falling = (8, {"pressure": 735e3})
    for minute, verdict in ((249.4, "undetermined"), (249.5, "pass")):
        end = Reading("main", minute * MINUTE, 730e3)
        assert stage_of(judged(falling, more=(end,)), "main")[0] == verdict


def test_a_coarser_gauge_shows_no_trend_within_its_step() -> None:
    falling = (8, {"pressure": 733e3})
    assert stage_of(judged(falling), "main")[0] == "undetermined"
    assert stage_of(judged(falling, gauge_resolution=5e3), "main")[0] == "pass"
    # W 400-2 takes 30 mbar for no trend whatever the gauge.
    rest = (4, {"pressure": 850e3})
    down = (5, {"pressure": 738e3 - 218e3, "drawn_off": 1e-4})
    main = [(6, {"pressure": 530e3}), (7, {"pressure": 533e3})]
    for kpa, verdict in ((530.0, "pass"), (529.9, "undetermined")):
        found = judged(rest, down, *main, (8, {"pressure": kpa * 1e3}), procedure=W_400_2, sdr=11.0)
        assert stage_of(found, "main")[0] == verdict


def test_two_readings_show_no_trend() -> None:
    few = tuple(
        Reading(s, m * MINUTE, p * 1e3, None if v is None else v / 1e3)
        for s, m, p, v in (*RECORD[:6], RECORD[6], RECORD[8])
    )
    found = evaluate_pe_test(few, CONTENTS, 1e6, pipe_modulus=0.8e9)
    assert stage_of(found, "main") == (
        "undetermined", "too few readings to show a trend; take one every 5 min",
    )  # fmt: skip


def test_the_start_of_pumping_must_be_on_record() -> None:
    alone = Reading("pressurising", 68 * MINUTE, 1e6)
    found = evaluate_pe_test((alone,), CONTENTS, 1e6)
    assert "start of pumping" in stage_of(found, "pressurising")[1]
    two = (Reading("pressurising", 60 * MINUTE, 0.0), alone)
    assert stage_of(evaluate_pe_test(two, CONTENTS, 1e6), "pressurising")[0] == "pass"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"time": -1.0}, "readings.3.time"),
        ({"pressure": -1.0}, "readings.3.pressure"),
        ({"drawn_off": -1e-9}, "readings.3.drawn_off"),
        ({"time": 67 * MINUTE}, "readings.3"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(change: dict[str, float], field: str) -> None:
    with pytest.raises(InputError) as caught:
        judged((3, change))
    assert field in [fault.field for fault in caught.value.faults]


@pytest.mark.parametrize("step", [0.0, -1.0, math.nan])
def test_a_gauge_has_a_step(step: float) -> None:
    with pytest.raises(InputError, match="gauge_resolution"):
        judged(gauge_resolution=step)


# -------------------------------------------------------------------------------- plan of the test


def test_the_plan_gives_times_and_pressures_of_every_stage() -> None:
    # By hand from EN 805, A.27, at 9 bar: at most 30 % lost at rest, 10 to 15 % let down, 25 kPa
    # lost in the extended main test; raised to 98 %, held within 5 %: common practice, no source.
    plan = planned_stages(EN_805, 9e5)
    assert [(s.duration / MINUTE, s.at_most) for s in plan] == [
        (60, False), (10, True), (30, False), (60, False), (2, True), (30, False),
    ]  # fmt: skip
    assert [s.pressure for s in plan] == [0.0, 9e5, 9e5, 9e5, None, None]
    assert [(s.lowest / 1e3, s.highest / 1e3) for s in plan] == [
        pytest.approx(ends)
        for ends in ((0, 20), (882, 945), (855, 945), (630, 900), (495, 810), (470, 900))
    ]
    assert "Raise steadily to 9.00 bar." in plan[1].instruction
    assert "Bleed 0.90 to 1.35 bar off" in plan[4].instruction


def test_the_contraction_method_lets_down_by_sdr() -> None:
    # DVGW W 400-2 (read): 3.2 bar at SDR 11, 2.0 bar at SDR 17; a hand valve hits it within a
    # tenth (no source). Walls are rounded up, so 32 x 3.0 mm is SDR 10.67.
    assert let_down_range(W_400_2, 1e6, 11.0) == pytest.approx((2.88e5, 3.52e5))
    assert let_down_range(W_400_2, 1e6, 17.0) == pytest.approx((1.8e5, 2.2e5))
    assert let_down_range(W_400_2, 1e6, pipe_sdr(pe_pipe("PE100 SDR11 32")))[0] == 2.88e5
    assert pipe_sdr(PIPE) == pytest.approx(40 / 3.7)
    for sdr in (None, 9.9, 12.4, 13.6, 15.2, 17.6, 21.0):
        with pytest.raises(InputError, match="SDR 11 or SDR 17"):
            let_down_range(W_400_2, 1e6, sdr)
    # 352 kPa must be left of 80 % of the test pressure: more than 440 kPa.
    let_down_range(W_400_2, 440.1e3, 11.0)
    with pytest.raises(InputError) as caught:
        let_down_range(W_400_2, 440e3, 11.0)
    assert caught.value.faults[0].allowed == "more than 440 kPa"
    assert let_down_range(EN_805, 1e6, None) == (1e5, 1.5e5)


def test_a_test_needs_a_pressure() -> None:
    for wrong in (0.0, -1.0, math.nan):
        for call in (en805_system_test_pressure, lambda p: planned_stages(EN_805, p)):
            with pytest.raises(InputError):
                call(wrong)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"drop": -1.0}, "pressure_drop"),
        ({"pipe_modulus": 0.0}, "pipe_modulus"),
        ({"water_modulus": 0.0}, "water_modulus"),
        ({"air_factor": 1.0 - HAIR}, "air_factor"),
    ],
)
def test_a_loss_needs_numbers_that_can_be(change: dict[str, float], field: str) -> None:
    given = {"drop": 0.0, "pipe_modulus": 1e-3, "water_modulus": 1e-3, "air_factor": 1.0}
    assert en805_allowable_loss(CONTENTS, **given) == 0.0
    with pytest.raises(InputError) as caught:
        en805_allowable_loss(CONTENTS, **{**given, **change})
    assert [fault.field for fault in caught.value.faults] == [field]


def test_water_and_wall_store_half_of_pressure_times_what_they_give() -> None:
    # By hand: 0.33388 m³ · 9 bar · (1/2.1 + 32.6/(3.7 · 1.2))/1e9 Pa = 2.349 L give 1057 J.
    assert water_test_energy(CONTENTS, 9e5) == pytest.approx(1057, abs=1)


def said(contents: Any, pressure: float, warm: float | None = None) -> dict[str, tuple[str, str]]:
    bottoms = tuple(Bottom(each.pipe, "the pipe", 0.0) for each in contents)
    found = pressure_test_findings(
        contents, Levels(0.0, 0.0, 0.0, 0.0, bottoms, 0.0), pressure, warm
    )
    return {each.code: (each.severity, each.message) for each in found}


def test_pipe_is_tested_up_to_its_class_and_with_a_word_up_to_its_site_limit() -> None:
    # EN 805 (from memory): a component bears 1.5 PFA or PFA + 5 bar. PE100 SDR 11: 16 bar, 21 bar.
    beyond = "test_pressure_above_class"
    for bar, code in (
        (16.0, None),
        (16.01, beyond),
        (21.0, beyond),
        (21.01, "test_pressure_above_pipe"),
    ):
        codes = set(said(CONTENTS, bar * 1e5)) - {"never_test_with_air"}
        assert codes == ({code} if code else set())
    severity, message = said(CONTENTS, 22e5)["test_pressure_above_pipe"]
    assert severity == "error"
    assert "22.00 bar is above the allowable site test pressure 21.0 bar" in message
    severity, message = said(CONTENTS, 18e5)["test_pressure_above_class"]
    assert severity == "warning"
    assert "18.00 bar" in message
    assert "PE100 SDR11 40, 16.0 bar" in message
    # A weak pipe bears half as much again: PE80 SDR 17 is 8 bar, so 12 and not 13.
    weak = (replace(CONTENTS[0], pipe=pe_pipe("PE80 SDR17 63")),)
    assert "test_pressure_above_class" in said(weak, 12e5)
    assert "site test pressure 12.0 bar" in said(weak, 12.1e5)["test_pressure_above_pipe"][1]
    odd = (replace(CONTENTS[0], pipe=Pipe("odd", 0.03, 0.036)),)
    assert "bears 9.00 bar" in said(odd, 9e5)["pressure_class_unknown"][1]


def test_pipe_is_tested_up_to_twenty_degrees() -> None:
    # A waterworks standard of 2009 (read).
    assert "pipe_warm" not in said(CONTENTS, 9e5, 20.0)
    assert "pipe_warm" not in said(CONTENTS, 9e5)
    assert "at 20.5 °C" in said(CONTENTS, 9e5, 20.5)["pipe_warm"][1]


def test_how_much_more_air_stores_is_told() -> None:
    # ASME PCC-2 (from memory), E = 2.5 P V (1 - (Pa/P)^(2/7)): 0.33388 m³ at 9 bar gauge.
    air = 2.5 * 1.001325e6 * 0.33388 * (1.0 - (0.101325 / 1.001325) ** (2 / 7))
    assert air_test_energy(0.33388, 9e5) == pytest.approx(air, rel=1e-9)
    message = said(CONTENTS, 9e5)["never_test_with_air"][1]
    assert "9.00 bar" in message
    assert f"{air / 1e3:.3g} kJ" in message
    assert f"{air / 1057:.0f} times" in message
    empty = (replace(CONTENTS[0], length=0.0, volume=0.0),)
    assert "never_test_with_air" not in said(empty, 9e5)


# ------------------------------------------------------------------------------------------ meters


def test_a_band_by_hand() -> None:
    # 10 % of tolerance, 5 % of the reading: 15 L/min reads 0.9/0.95 to 1.1/1.05 of it.
    (band,) = expected_readings(["T"], [0.25e-3], [0.25e-3])
    assert band.expected_l_min == pytest.approx(15.0)
    assert band.lowest * 60e3 == pytest.approx(13.5 / 0.95)
    assert band.highest * 60e3 == pytest.approx(16.5 / 1.05)


def test_a_reading_on_the_edge_of_its_band_is_within() -> None:
    bands = [MeterReading(name, 1.0, 0.9, 1.1, 0.05) for name in "TU"]
    for reading, judgment in ((0.9, "within"), (0.9 - HAIR, "low"), (1.1, "within"),
                              (1.1 + HAIR, "high"), (0.0, "low")):  # fmt: skip
        assert judge_readings(bands, [reading, 2.0 - reading])[0] == judgment
    with pytest.raises(InputError, match="reading"):
        judge_readings(bands, [-HAIR, 1.0])
    # What conversions round is no error of the meter.
    assert judge_readings(bands, [0.9 * (1.0 - 1e-12), 1.1])[0] == "within"
    assert judge_readings(bands, [1.1 * (1.0 + 1e-12), 0.9])[0] == "within"


def test_a_meter_is_finer_than_what_it_is_to_prove() -> None:
    # At 25 % of the reading just the expected flow would prove a tolerance of 25 %.
    expected_readings(["T"], [1e-4], [1e-4], tolerance=0.25, meter_accuracy=0.25 - HAIR)
    expected_readings(["T"], [1e-4], [1e-4], tolerance=0.25, meter_accuracy=0.0)
    for wrong in ({"tolerance": 0.25, "meter_accuracy": 0.25}, {"tolerance": 1.0}):
        with pytest.raises(InputError) as caught:
            expected_readings(["T"], [1e-4], [1e-4], **wrong)  # type: ignore[arg-type]
        assert caught.value.faults[0].field == "meter_accuracy"
    for field, value in (("tolerance", 0.0), ("meter_accuracy", -HAIR)):
        with pytest.raises(InputError) as caught:
            expected_readings(["T"], [1e-4], [1e-4], **{field: value})  # type: ignore[arg-type]
        assert field in [fault.field for fault in caught.value.faults]


# ------------------------------------------------------------------------------------------ vessel

# EN 12828 (from memory): reserve 0.5 % of the system, 3 L at least; final pressure 0.5 bar or a
# tenth below the safety valve.


def test_the_reserve_is_three_litres_up_to_six_hundred() -> None:
    for litres, reserve in ((100, 3.0), (600, 3.0), (1000, 5.0)):
        assert en12828_reserve(litres / 1e3) * 1e3 == pytest.approx(reserve)


def test_a_valve_above_five_bar_is_kept_a_tenth_below() -> None:
    for valve, final in ((3.0, 2.5), (5.0, 4.5), (6.0, 5.4), (10.0, 9.0)):
        assert en12828_final_pressure(valve * 1e5) == pytest.approx(final * 1e5)
    en12828_final_pressure(50e3 + 1.0)
    with pytest.raises(InputError, match="safety_valve"):
        en12828_final_pressure(50e3)


@pytest.mark.parametrize("name", ["expansion", "reserve", "precharge"])
def test_a_vessel_takes_nothing_less_than_nothing(name: str) -> None:
    given = {"expansion": 1e-3, "reserve": 3e-3, "precharge": 1e5, "final_pressure": 2e5}
    en12828_vessel_volume(**{**given, name: 0.0})
    with pytest.raises(InputError) as caught:
        en12828_vessel_volume(**{**given, name: -1e-9})
    assert [fault.field for fault in caught.value.faults] == [name]


def test_final_and_precharge_pressures_part() -> None:
    en12828_vessel_volume(0.0, 0.0, 0.0, HAIR)
    with pytest.raises(InputError) as caught:
        en12828_vessel_volume(0.0, 0.0, 1.5e5, 1.5e5)
    fault = caught.value.faults[0]
    assert (fault.field, fault.value, fault.allowed) == (
        "final_pressure", pytest.approx(150.0), "more than 150 kPa",
    )  # fmt: skip
    with pytest.raises(InputError):
        en12828_vessel_volume(0.0, 0.0, 0.0, -1.0)


def test_gas_is_compressed_by_what_a_vessel_holds() -> None:
    # Boyle: 12 L at 1.5 bar absolute hold 4 L at 2.25 bar absolute.
    assert filling_pressure(12e-3, 4e-3, 0.5e5) == pytest.approx(1.25e5)
    assert filling_pressure(12e-3, 0.0, 0.5e5) == pytest.approx(0.5e5)
    for held in (12e-3, -1e-9):
        with pytest.raises(InputError) as caught:
            filling_pressure(12e-3, held, 0.5e5)
        assert caught.value.faults[0].value == pytest.approx(12.0)
    with pytest.raises(InputError, match=r"hold 13\.0 L"):
        filling_pressure(12e-3, 13e-3, 0.5e5)


WATER_20 = mixture("water", 0.0, "mass")


def vessel(**over: float) -> Any:
    given = {"filling": 20.0, "coldest": 4.0, "warmest": 40.0, "precharge": 0.5e5,
             "final_pressure": 2.5e5}  # fmt: skip
    volume = over.pop("system_volume", 1.0)
    return expansion_vessel(WATER_20, volume, **{**given, **over})


def test_a_cubic_metre_of_water_by_printed_densities() -> None:
    # Density of water (CRC Handbook, from memory): 999.97 at 4, 998.21 at 20, 992.22 kg/m³ at
    # 40 °C. Expansion 6.04 L, contraction 1.76 L, reserve 5 L: 12.8 L · 3.5/2 = 22.4 L.
    found = vessel()
    assert found.expansion * 1e3 == pytest.approx(6.04, abs=0.02)
    assert found.contraction * 1e3 == pytest.approx(1.76, abs=0.02)
    assert found.reserve * 1e3 == pytest.approx(5.0)
    assert found.volume * 1e3 == pytest.approx(22.4, abs=0.1)
    # 6.76 L of it are held at filling: 1.5 bar absolute times 22.4/15.64.
    assert found.filling_pressure == pytest.approx(1.148e5, rel=5e-3)
    assert (found.precharge, found.final_pressure) == (0.5e5, 2.5e5)
    assert vessel_findings(found) == ()


def test_filling_may_be_the_coldest_or_the_warmest() -> None:
    assert vessel(filling=4.0).contraction == pytest.approx(0.0, abs=1e-6)
    assert vessel(filling=40.0).expansion == pytest.approx(0.0, abs=1e-12)
    for wrong in (3.99, 40.01):
        with pytest.raises(InputError) as caught:
            vessel(filling=wrong)
        assert caught.value.faults[0].allowed == "4 to 40 °C"
    for name, value in (("system_volume", 0.0), ("pipe_volume", -1e-9)):
        with pytest.raises(InputError):
            vessel(**{name: value})


def test_a_vessel_that_free_pipe_fills_is_told_with_its_numbers() -> None:
    # A cubic metre of free pipe filled at 40 °C shrinks by 3 · 1.8e-4 · 36 K (from memory), 19.4 L,
    # water by 7.7 L: 11.7 L squeezed into the 9.6 L of gas that are left.
    found = vessel(filling=40.0, pipe_volume=1.0)
    assert math.isinf(found.highest_free_pipe)
    (finding,) = vessel_findings(found)
    assert "beyond any pressure, above 250 kPa" in finding.message
    assert f"a vessel of just {found.volume * 1e3:.1f} L" in finding.message
    # Half of it stays within reach.
    half = vessel(filling=40.0, pipe_volume=0.6)
    assert found.volume_free_pipe > half.volume_free_pipe > half.volume
    (finding,) = vessel_findings(half)
    gas = half.volume - half.reserve - half.contraction
    squeezed = 0.6 * 3 * 1.8e-4 * 36.0 - half.contraction
    highest = (half.filling_pressure + 1e5) * gas / (gas - squeezed) - 1e5
    assert half.highest_free_pipe == pytest.approx(highest, rel=1e-2)  # 81 temperatures
    assert f"Filled to {half.filling_pressure / 1e3:.0f} kPa" in finding.message


# ----------------------------------------------------------------------------------------- filling


def test_a_filling_adds_up_in_mass_and_by_the_density_of_water() -> None:
    # Ethylene glycol, 30 % by mass, at 20 °C: 1.036 to 1.040 in published tables.
    found = filling(mixture("ethylene_glycol", 0.3, "mass"), 0.1, 20.0)
    assert found.mass == pytest.approx(103.8, rel=3e-3)
    assert found.antifreeze_mass == pytest.approx(0.3 * found.mass)
    assert found.antifreeze_mass + found.water_mass == pytest.approx(found.mass)
    assert found.water_volume == pytest.approx(found.water_mass / 998.2, rel=1e-4)
    # Pure ethylene glycol at 20 °C: 1113 kg/m³ (CRC Handbook, from memory).
    assert found.antifreeze_volume == pytest.approx(found.antifreeze_mass / 1113.0, rel=1e-3)
    salt = filling(mixture("potassium_formate", 0.3, "mass"), 0.1, 20.0)
    assert salt.antifreeze_volume is None
    with pytest.raises(InputError, match="volume"):
        filling(mixture("water", 0.0, "mass"), -1e-9, 20.0)
    assert filling(mixture("water", 0.0, "mass"), 0.0, 20.0).mass == 0.0


@pytest.mark.parametrize("percent", [5.0, 25.0, 55.0])
def test_a_strength_is_found_again_from_its_density(percent: float) -> None:
    sample = filling(mixture("ethylene_glycol", percent / 100.0, "mass"), 1.0, 20.0).mass
    found = strength_from_density("ethylene_glycol", sample, 20.0)
    assert 100.0 * found.mass_fraction == pytest.approx(percent, abs=1e-5)


def test_a_sample_is_one_of_its_kind_and_no_ice() -> None:
    strength_from_density("ethylene_glycol", 1030.0, 1.0)
    with pytest.raises(InputError, match="temperature"):
        strength_from_density("ethylene_glycol", 1030.0, 1.0 - HAIR)
    with pytest.raises(InputError, match="density"):
        strength_from_density("ethylene_glycol", 0.0, 20.0)
    with pytest.raises(RangeError) as caught:
        strength_from_density("ethylene_glycol", 1200.0, 20.0)
    assert "at 20 °C" in caught.value.faults[0].allowed
    with pytest.raises(RangeError, match="does not tell strengths"):
        strength_from_density("water", 998.0, 20.0)
    with pytest.raises(InputError, match="ethylene_glycol"):
        strength_from_density("ethylene_glycl", 1030.0, 20.0)


def test_the_contraction_method_says_how_much_it_lets_down() -> None:
    # A tenth more than 3.2 bar; at 20 % lost at rest no less than 440 kPa may be tested.
    with pytest.raises(InputError) as caught:
        let_down_range(W_400_2, 440e3, 11.0)
    (fault,) = caught.value.faults
    assert "lets down by up to 352 kPa" in fault.message
    assert fault.value == pytest.approx(440.0)


def test_readings_out_of_order_are_told_in_minutes() -> None:
    with pytest.raises(InputError) as caught:
        judged((3, {"time": 67 * MINUTE}))
    (fault,) = caught.value.faults
    assert fault.value == "holding at 67 min"
    assert fault.allowed == "pressurising or later, at 68 min or later"


def test_what_may_be_drawn_off_goes_with_the_fall_and_is_nothing_where_it_rises() -> None:
    # 0.921 L at 200 kPa (the published formula's worked case), so 2.072 L at 450 kPa.
    fell = judged((5, {"pressure": 400e3}))
    assert fell.allowable_loss == pytest.approx(0.921e-3 * 450 / 200, rel=1e-3)
    assert judged((5, {"pressure": 860e3})).allowable_loss == 0.0


def test_a_flow_so_near_its_edge_that_no_meter_proves_it_is_told_of() -> None:
    # 10 % and meters of 5 %: by hand the band is 0.9/0.95 to 1.1/1.05 of the target.
    def of(flow: float, target: float) -> bool:
        (found,) = expected_readings(["A"], [flow], [target])
        return found.proves_itself

    assert [of(share, 1.0) for share in (0.9, 0.947, 0.948, 1.0, 1.047, 1.048, 1.1)] == [
        False, False, True, True, True, False, False,
    ]  # fmt: skip
