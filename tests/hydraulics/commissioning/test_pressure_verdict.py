"""Limits of the verdict on a pressure test, each from just within to just beyond, and its words."""

from typing import Any

import pytest

from hydraulics.commissioning.pressure_test import (
    EN_805,
    MINUTE,
    W_400_2,
    Stage,
    en805_system_test_pressure,
    planned_stages,
)
from hydraulics.commissioning.pressure_verdict import (
    Reading,
    TestResult,
    evaluate_pe_test,
    over_pressed_findings,
    record_findings,
    still_record_findings,
)
from hydraulics.errors import InputError
from tests.hydraulics.commissioning.test_pressure_test import (
    CONTENTS,
    GOOD,
    changed,
    judge,
    verdict_of,
)


# EN 805, A.27.4 (from memory): where the main test is extended to 90 min, the fall over it must
# not exceed 25 kPa.
@pytest.mark.parametrize(("fall", "verdict"), [(24.9e3, "pass"), (25.1e3, "fail")])
def test_an_extended_main_test_may_fall_by_25_kpa(fall: float, verdict: str) -> None:
    highest = max(each.pressure for each in GOOD if each.stage == "main")
    extended = (*GOOD, Reading("main", 249 * MINUTE, highest - fall))
    assert verdict_of(judge(extended), "main") == verdict


# DVGW W 400-2 lets down within two minutes (from memory); EN 805 says "rapidly" and names no time.
@pytest.mark.parametrize(("minutes", "verdict"), [(1.9, "pass"), (2.1, "undetermined")])
def test_a_let_down_slower_than_two_minutes_spoils_the_volume(minutes: float, verdict: str) -> None:
    slower = changed(6, time=(158 + minutes) * MINUTE)
    assert verdict_of(judge(slower), "letting_down") == verdict


# ------------------------------------------------------- records that do not keep to their own plan

SMALL_STP = 450e3
# Stage, minute, kPa; 400 m of the pipe at 450 kPa may give 0.15 L or so at 50 kPa.
SMALL = (
    ("relaxation", 0, 0), ("relaxation", 60, 5), ("pressurising", 68, 452), ("holding", 99, 450),
    ("resting", 100, 450), ("resting", 160, 400), ("letting_down", 161, 350), ("main", 171, 352),
    ("main", 181, 354), ("main", 191, 355),
)  # fmt: skip


def small(*kpa: tuple[int, float], without: tuple[str, ...] = ()) -> TestResult:
    """Verdict on that record with other pressures [kPa] in some lines, or stages left out."""
    lines = [list(line) for line in SMALL]
    for number, pressure in kpa:
        lines[number][2] = pressure
    readings = tuple(
        Reading(stage, minute * MINUTE, pressure * 1e3, 1e-4 if stage == "letting_down" else None)  # type: ignore[arg-type, operator]
        for stage, minute, pressure in lines
        if stage not in without
    )
    return evaluate_pe_test(readings, CONTENTS, SMALL_STP)


def reason_of(result: TestResult, stage: str) -> str:
    return next(each.reason for each in result.stages if each.stage == stage)


def test_a_record_that_keeps_to_its_plan_passes() -> None:
    assert small().verdict == "pass"


# EN 805, A.27: "if the pressure falls by more than 30 % of STP" after STP was kept up for 30 min
# (read in a published translation): 0.7 · 450 kPa = 315 kPa is left. The fall from the highest
# reading at rest, at most 135 kPa, is this project's reading of it, to be on the safe side.
@pytest.mark.parametrize(
    ("held", "begun", "ended", "verdict"),
    [
        (428.0, 450.0, 310.0, "fail"),  # below the limit, though only 118 kPa below the holding
        (428.0, 428.0, 314.9, "fail"),
        (428.0, 428.0, 315.0, "pass"),
        (470.0, 470.0, 320.0, "fail"),  # above the limit, but 150 kPa lost
        (470.0, 470.0, 334.9, "fail"),
        (470.0, 470.0, 335.0, "pass"),
        (428.0, 470.0, 334.9, "fail"),  # pumped up again after the holding
    ],
)
def test_a_rest_is_judged_by_its_plan_and_by_its_fall(
    held: float, begun: float, ended: float, verdict: str
) -> None:
    down = ended - 50.0
    main = [(number, down + 2.0 * (number - 6)) for number in (7, 8, 9)]
    result = small((3, held), (4, begun), (5, ended), (6, down), *main)
    assert verdict_of(result, "resting") == verdict
    assert result.verdict == verdict


def test_a_rest_that_fails_is_told_in_the_words_of_the_plan() -> None:
    plan = planned_stages(EN_805, SMALL_STP)[3]
    assert "fall by 30 % of the test pressure at most, 1.35 bar" in plan.instruction
    assert "no less than 3.15 bar" in plan.instruction
    high = reason_of(small((3, 470.0), (4, 470.0), (5, 320.0)), "resting")
    assert "fell by 33.3 % of the test pressure in 61 min, more than 30 %" in high
    assert "from 470 kPa to 320 kPa, where 135 kPa is allowed" in high
    assert "below the plan" not in high
    low = reason_of(small((3, 428.0), (4, 428.0), (5, 310.0)), "resting")
    assert "to 310 kPa, below the plan's 315 kPa" in low
    assert "more than" not in low


# DVGW W 400-2 (read on public pages): a fall of 10 to 20 % of STP. Of 450 kPa 0.1 kPa is 0.022 %.
@pytest.mark.parametrize(
    ("ended", "words"),
    [
        (359.9, "fell by 20.02 % of the test pressure in 61 min, more than 20 %"),
        (359.99, "fell by 20.002 % of the test pressure in 61 min, more than 20 %"),
        (405.1, "fell by 9.98 % of the test pressure in 61 min, less than 10 %"),
        (405.01, "fell by 9.998 % of the test pressure in 61 min, less than 10 %"),
        (360.0, "fell by 20 % of the test pressure in 61 min"),
        (405.0, "fell by 10 % of the test pressure in 61 min"),
    ],
)
def test_a_fall_just_beyond_its_limit_is_told_as_beyond_it(ended: float, words: str) -> None:
    readings = [
        Reading("holding", 99 * MINUTE, 450e3),
        Reading("resting", 100 * MINUTE, 450e3),
        Reading("resting", 160 * MINUTE, ended * 1e3),
    ]
    result = evaluate_pe_test(readings, CONTENTS, SMALL_STP, procedure=W_400_2, sdr=11.0)
    assert words in reason_of(result, "resting")
    assert verdict_of(result, "resting") == ("fail" if " than " in words else "pass")


def test_times_and_falls_just_beyond_their_limits_are_told_as_beyond_them() -> None:
    # By EN 805 a main test falls by 25 kPa at most (from memory), the let-down takes 2 min at most.
    fell = small((8, 352.0 - 25.04), (9, 352.0 - 25.04))
    assert "fall from the highest reading 25.04 kPa" in reason_of(fell, "main")
    slow = judge(changed(6, time=160.004 * MINUTE))
    assert "in 2.004 min, longer than 2 min" in reason_of(slow, "letting_down")


# The plan's own upper limits: at most 1.05 · 450 = 472.5 kPa in any stage; common practice.
@pytest.mark.parametrize("number", range(len(SMALL)))
def test_a_pipe_that_was_over_pressed_in_any_stage_does_not_pass(number: int) -> None:
    result = small((number, 1600.0))
    assert result.verdict == "fail"
    assert result.over_pressed == 1600e3
    stage = SMALL[number][0]
    assert verdict_of(result, stage) == "fail"
    assert "over-pressed: 1600 kPa, where at most 472.5 kPa" in reason_of(result, stage)
    (told,) = over_pressed_findings(result)
    assert told.severity == "error"
    assert "at most 472.5 kPa" in told.message
    assert "competent person inspect" in told.message


@pytest.mark.parametrize(("kpa", "passes"), [(472.5, True), (472.6, False)])
def test_a_pipe_is_over_pressed_beyond_a_twentieth(kpa: float, passes: bool) -> None:
    result = small((2, kpa), (3, kpa), (4, kpa))
    assert (verdict_of(result, "pressurising") == "pass") is passes
    assert (result.over_pressed is None) is passes
    assert (list(over_pressed_findings(result)) == []) is passes


def test_a_rest_that_ends_above_its_plan_does_not_pass() -> None:
    # EN 805 has no upper limit but the test pressure itself.
    result = small(
        (3, 470.0), (4, 470.0), (5, 451.0), (6, 400.0), (7, 402.0), (8, 404.0), (9, 405.0)
    )
    assert verdict_of(result, "resting") == "undetermined"
    assert "ended at 451 kPa, above the plan's 450 kPa" in reason_of(result, "resting")
    assert result.verdict == "undetermined"
    assert verdict_of(small((3, 470.0), (4, 470.0), (5, 450.0)), "resting") == "pass"


def test_a_main_test_that_rises_above_the_rest_does_not_pass() -> None:
    # A pipe that contracts regains no more than it lost with the water that was let out: 400 kPa
    # at the end of the rest, and the gauge's step of 1 kPa.
    for kpa, verdict in ((401.0, "pass"), (401.1, "undetermined"), (450.1, "undetermined")):
        result = small((9, kpa))
        assert verdict_of(result, "main") == verdict
        assert result.verdict == verdict
    assert "rose to 450.1 kPa, above the end of the rest, 400 kPa" in reason_of(result, "main")
    unread = small((9, 450.1), without=("resting",))
    assert "above the plan's 450 kPa" in reason_of(unread, "main")


def test_a_rest_that_rises_is_told_as_rising() -> None:
    result = small((3, 440.0), (4, 440.0), (5, 445.0))
    assert verdict_of(result, "resting") == "fail"
    reason = reason_of(result, "resting")
    assert "pressure rose from 440 kPa to 445 kPa" in reason
    assert "temperature" in reason
    assert "a valve lets by" in reason
    assert "fell" not in reason
    assert "air" not in reason


def test_a_let_down_that_rises_is_told_as_rising() -> None:
    reason = reason_of(small((6, 410.0)), "letting_down")
    assert reason.startswith("pressure rose, instead of being let down, by 10 kPa")


def test_a_stage_is_not_counted_from_any_stage_but_the_one_before_it() -> None:
    # One line of the rest after the relaxation: nothing tells from where it fell.
    readings = (
        Reading("relaxation", 0.0, 0.0), Reading("relaxation", 60 * MINUTE, 0.0),
        Reading("resting", 158 * MINUTE, 380e3),
    )  # fmt: skip
    result = evaluate_pe_test(readings, CONTENTS, SMALL_STP)
    assert result.verdict == "undetermined"
    assert reason_of(result, "resting").startswith("the start of the rest was not recorded")
    # Without the let-down the main test has not fallen by it, nor has a let-down without the rest.
    assert verdict_of(small(without=("letting_down",)), "main") != "fail"
    lone = small(without=("resting",))
    assert reason_of(lone, "letting_down").startswith("the pressure before the let-down was not")
    assert lone.allowable_loss is None
    assert lone.verdict == "undetermined"
    # Two lines of the rest are enough to see it fall too far.
    assert small((5, 300.0), without=("holding",)).verdict == "fail"


# ------------------------------------------------------- records that show what no tight pipe does

Line = tuple[Stage, float, float] | tuple[Stage, float, float, float]
START: tuple[Line, ...] = (
    ("relaxation", 0, 0), ("relaxation", 60, 5), ("pressurising", 68, 450), ("holding", 100, 450),
)  # fmt: skip
REST: tuple[Line, ...] = (("resting", 100, 450), ("resting", 160, 400))
DOWN: tuple[Line, ...] = (("letting_down", 161, 350, 0.1),)
MAIN: tuple[Line, ...] = (("main", 171, 352), ("main", 181, 354), ("main", 191, 355))


def record(*lines: Line, pressure: float = SMALL_STP, **over: Any) -> TestResult:
    """Verdict on lines of stage, minute, kPa and litres drawn off."""
    readings = tuple(
        Reading(line[0], line[1] * MINUTE, line[2] * 1e3, line[3] / 1e3 if len(line) == 4 else None)
        for line in lines
    )
    return evaluate_pe_test(readings, CONTENTS, pressure, **over)


def test_the_record_that_these_are_made_of_passes() -> None:
    assert record(*START, *REST, *DOWN, *MAIN).verdict == "pass"


# EN 805, A.27: the pipe is at rest for an hour, without pumping, and stretches, so that its
# pressure falls (read in a published translation). Within a gauge's step a rise is not seen.
@pytest.mark.parametrize(
    ("rest", "verdict"),
    [
        ((("resting", 130, 420), ("resting", 140, 421), ("resting", 160, 400)), "pass"),
        ((("resting", 130, 420), ("resting", 140, 421.1), ("resting", 160, 400)), "fail"),
        ((("resting", 130, 330), ("resting", 131, 448), ("resting", 160, 400)), "fail"),
        ((("resting", 130, 360), ("resting", 160, 440)), "fail"),
    ],
)
def test_a_rest_in_which_the_pressure_rises_is_none(rest: tuple[Line, ...], verdict: str) -> None:
    result = record(*START, REST[0], *rest, *DOWN, *MAIN)
    assert verdict_of(result, "resting") == verdict
    if verdict == "fail":
        assert result.verdict == "fail"
        assert "it was pumped" in reason_of(result, "resting")


def test_a_rest_after_pumping_begins_when_it_is_shut_off() -> None:
    # Held until minute 100, pumped up again at 130: by 160 it rested half an hour of the hour.
    late = record(*START, ("resting", 130, 460), ("resting", 160, 410), *DOWN, *MAIN)
    assert verdict_of(late, "resting") == "undetermined"
    assert "covers 30 min of the 60 min" in reason_of(late, "resting")
    at_once = record(*START, ("resting", 100, 460), ("resting", 160, 400), *DOWN, *MAIN)
    assert at_once.verdict == "pass"


# EN 805, A.27 (from memory): let down by 10 to 15 % of STP, 45 to 67.5 kPa, and no further.
def test_a_pipe_let_down_too_far_and_pumped_up_again_does_not_pass() -> None:
    far = record(*START, *REST, ("letting_down", 160.5, 300, 0.1), *DOWN, *MAIN)
    assert verdict_of(far, "letting_down") == "undetermined"
    assert "let down by 100 kPa" in reason_of(far, "letting_down")
    again = record(*START, *REST, ("letting_down", 160.5, 340, 0.1), *DOWN, *MAIN)
    assert verdict_of(again, "letting_down") == "undetermined"
    assert "rose again from 340 kPa to 350 kPa" in reason_of(again, "letting_down")
    within = record(*START, *REST, ("letting_down", 160.5, 349, 0.1), *DOWN, *MAIN)
    assert within.verdict == "pass"


def test_water_drawn_off_so_far_cannot_become_less() -> None:
    # Of the words alone: a running total does not fall.
    with pytest.raises(InputError) as caught:
        record(*START, *REST, ("letting_down", 160.5, 380, 0.2), *DOWN, *MAIN)
    (fault,) = caught.value.faults
    assert fault.field == "readings.7.drawn_off"
    assert fault.value == pytest.approx(0.1)
    assert fault.allowed == "at least 0.2 L"
    assert "is 0.1 L after 0.2 L" in fault.message


def test_water_drawn_off_in_the_rest_or_the_main_test_leaves_no_verdict() -> None:
    # EN 805, A.27: the pipe is shut off in both (read in a published translation).
    bled = record(*START, REST[0], ("resting", 160, 400, 0.05), *DOWN, *MAIN)
    assert verdict_of(bled, "resting") == "undetermined"
    assert "0.05 L were drawn off" in reason_of(bled, "resting")
    late = record(*START, *REST, *DOWN, *MAIN[:2], ("main", 191, 354, 0.13))
    assert verdict_of(late, "main") == "undetermined"
    assert "0.03 L were drawn off" in reason_of(late, "main")
    again = record(*START, *REST, *DOWN, *MAIN[:2], ("main", 191, 354, 0.1))  # the same total
    assert again.verdict == "pass"


# By hand: 400 m of 32.6 mm bore at 50 kPa give up 0.33388 · 5e4 · (1/2.1 + 32.6/(3.7 · 1.2))/1e9
# = 0.1305 L without air (EN 805, A.27, from memory); half of that is 0.0653 L.
@pytest.mark.parametrize(
    ("litres", "verdict"),
    [(0.0, "undetermined"), (0.065, "undetermined"), (0.0655, "pass"), (0.156, "pass"),
     (0.157, "fail")],
)  # fmt: skip
def test_less_water_than_an_airless_pipe_gives_up_was_not_measured(
    litres: float, verdict: str
) -> None:
    result = record(*START, *REST, ("letting_down", 161, 350, litres), *MAIN)
    assert verdict_of(result, "letting_down") == verdict
    assert result.verdict == verdict
    if verdict == "undetermined":
        reason = reason_of(result, "letting_down")
        assert "less than half of the 0.131 L" in reason
        assert "leak" in reason


def test_a_gauge_too_coarse_for_the_main_test_proves_nothing() -> None:
    falling: tuple[Line, ...] = (("main", 171, 342), ("main", 181, 335), ("main", 191, 331))
    for step, verdict in ((25e3, "undetermined"), (5.1e3, "undetermined"), (5e3, "pass")):
        lines = MAIN if verdict == "pass" else falling
        result = record(*START, *REST, *DOWN, *lines, gauge_resolution=step)
        assert verdict_of(result, "main") == verdict
    coarse = record(*START, *REST, *DOWN, *falling, gauge_resolution=25e3)
    assert coarse.verdict == "undetermined"
    assert "one that shows 5 kPa or finer" in reason_of(coarse, "main")
    # DVGW W 400-2 (read): 30 mbar is a fall, so a step of more hides one.
    for step, verdict in ((3e3, "pass"), (3.1e3, "undetermined")):
        result = record(
            ("letting_down", 161, 500, 0.5), ("main", 171, 505), ("main", 181, 507),
            ("main", 191, 506), pressure=1e6, procedure=W_400_2, sdr=11.0, gauge_resolution=step,
        )  # fmt: skip
        assert verdict_of(result, "main") == verdict
    assert "one that shows 3 kPa or finer" in reason_of(result, "main")


# Creep moves the pressure of a PE pipe: it falls for 24 to 36 h after it was raised (UK Water
# Industry, IGN 4-01-03, read in an excerpt), and rises once let down (EN 805, A.27, from memory).
# How much, in the hour after half an hour of holding: by p ~ t^-0.04 (the same note's exponent of a
# tight pipe, from memory) from minute 32 to 92, 4 % or 18 kPa of 450, many steps of a gauge.
def test_a_record_in_which_nothing_moves_is_no_proof() -> None:
    stuck: tuple[Line, ...] = tuple(("resting", minute, 450) for minute in (100, 130, 160))
    lowered: tuple[Line, ...] = (("letting_down", 161, 400, 0.1),)
    flat: tuple[Line, ...] = tuple(("main", minute, 400) for minute in (171, 181, 191))
    both = record(*START, *stuck, *lowered, *flat)
    assert both.verdict == "undetermined"
    assert [each.stage for each in both.stages if each.still] == ["resting", "main"]
    assert "did not move by a step of 1 kPa in the 60 min of rest" in reason_of(both, "resting")
    (told,) = still_record_findings(both)
    assert (told.code, told.severity) == ("record_stands_still", "warning")
    assert "in the rest and the main test," in told.message

    rested = record(*START, *REST, *DOWN, *(("main", m, 350) for m in (171, 181, 191)))
    assert rested.verdict == "undetermined"
    assert [each.stage for each in rested.stages if each.still] == ["main"]


@pytest.mark.parametrize(
    ("ended", "step", "still"), [(449, 1e3, False), (449.1, 1e3, True), (445, 5e3, False)]
)
def test_a_gauge_moves_from_one_step_on(ended: float, step: float, still: bool) -> None:
    rest: tuple[Line, ...] = (("resting", 100, 450), ("resting", 160, ended))
    result = record(*START, *rest, gauge_resolution=step)
    assert result.stages[3].still is still
    assert bool(list(still_record_findings(result))) is still


def test_a_record_that_fails_is_an_error_and_one_that_does_not_tell_a_warning() -> None:
    # Half of the pressure lost in the rest; the limit of the rest's fall has a test of its own.
    fails = small((5, 225))
    assert fails.verdict == "fail"
    (found,) = record_findings(fails)
    assert (found.code, found.severity) == ("pressure_test_failed", "error")
    assert "fails in the rest: " in found.message
    assert reason_of(fails, "resting") in found.message
    assert list(record_findings(small())) == []  # it passes
    (found,) = record_findings(small(without=("letting_down",)))
    assert (found.code, found.severity) == ("pressure_test_not_proved", "warning")
    assert "first in the let-down: no readings of this stage" in found.message
    # What was over-pressed has an error of its own, that the pipe is to be inspected.
    over = small((4, 900))
    assert over.verdict == "fail"
    assert list(record_findings(over)) == []
    (found,) = over_pressed_findings(over)
    assert found.severity == "error"


# DVGW W 400-2 (read): 3.2 bar are let down at SDR 11 and 2.0 bar at SDR 17, since a thinner wall
# gives more. 32.6 mm of bore in 40 mm outside are SDR 11.
def test_a_let_down_for_another_series_than_is_laid_proves_nothing() -> None:
    lines: list[Line] = [
        ("relaxation", 0, 0), ("relaxation", 60, 5), ("pressurising", 68, 1000),
        ("holding", 100, 1000), ("resting", 100, 1000), ("resting", 160, 850),
    ]  # fmt: skip
    for sdr, drop, litres, verdict in ((11.0, 320, 1.0, "pass"), (17.0, 200, 0.6, "undetermined")):
        down = 850 - drop
        main: list[Line] = [
            ("main", 170, down + 2),
            ("main", 181, down + 4),
            ("main", 192, down + 5),
        ]
        rest: list[Line] = [*lines, ("letting_down", 161, down, litres), *main]
        result = record(*rest, pressure=1e6, procedure=W_400_2, sdr=sdr)
        assert [each.verdict for each in result.stages].count("pass") >= 5
        assert result.verdict == verdict
    assert "as for SDR 17, and the pipes are SDR 11" in reason_of(result, "pressurising")


def test_a_rest_too_short_to_tell_is_told_as_short() -> None:
    result = record(*START, ("resting", 100, 450), ("resting", 120, 450))
    assert "20 min of the 60 min required" in reason_of(result, "resting")
    assert list(still_record_findings(result)) == []


def test_a_main_test_that_is_pumped_up_when_it_has_fallen_does_not_pass() -> None:
    # 20 kPa lost twice, pumped up between: each is less than the 25 kPa of the extended test.
    saw: tuple[Line, ...] = (
        ("main", 181, 330), ("main", 191, 350), ("main", 221, 330), ("main", 252, 330),
    )  # fmt: skip
    result = record(*START, *REST, *DOWN, *saw)
    assert verdict_of(result, "main") == "undetermined"
    assert "it rose again" in reason_of(result, "main")
    # The same two falls without pumping are 40 kPa.
    fell = record(*START, *REST, *DOWN, ("main", 181, 330), ("main", 252, 310))
    assert fell.verdict == "fail"


# EN 805 (from memory): a component bears 1.5 PFA or PFA + 5 bar in a site test; PE100 SDR 11 is
# of 16 bar, so 21 bar.
def test_a_pipe_tested_beyond_what_it_bears_does_not_pass() -> None:
    def at(kpa: float, share: float = 1.0) -> TestResult:
        return record(
            *START[:2],
            *((line[0], line[1], share * kpa * line[2] / 450) for line in (*START[2:], *REST)),
            ("letting_down", 161, share * kpa * 350 / 450, 0.1 * kpa / 450),
            *((line[0], line[1], share * kpa * line[2] / 450) for line in MAIN),
            pressure=kpa * 1e3,
        )  # fmt: skip

    assert at(2100.0).verdict == "pass"
    above = at(2700.0)
    assert above.verdict == "fail"
    assert above.over_pressed == pytest.approx(2700e3)
    reason = reason_of(above, "pressurising")
    assert "at most 2100 kPa is borne by PE100 SDR11 40" in reason
    assert "competent person inspect" in reason
    (told,) = over_pressed_findings(above)
    assert "at most 2100 kPa is borne by PE100 SDR11 40" in told.message
    # Raised to 98 % of a test pressure that is too high, every reading is borne.
    short = at(2130.0, 0.985)
    assert short.over_pressed is None
    assert short.verdict == "undetermined"
    assert "test pressure of 2130 kPa is too high" in reason_of(short, "pressurising")
    assert "competent person inspect" in reason_of(short, "pressurising")


def test_the_plan_allows_no_more_than_the_pipe_bears() -> None:
    held = planned_stages(EN_805, 2100e3, None, 2100e3)[2]
    assert held.highest == pytest.approx(2100e3)
    assert planned_stages(EN_805, 450e3, None, 2100e3)[2].highest == pytest.approx(472.5e3)


# A waterworks standard of 2009 (read): at most 20 °C.
@pytest.mark.parametrize(
    ("warm", "verdict"), [(20.0, "pass"), (20.5, "undetermined"), (80.0, "undetermined")]
)
def test_a_pipe_too_warm_for_a_test_does_not_pass(warm: float, verdict: str) -> None:
    result = record(*START, *REST, *DOWN, *MAIN, pipe_temperature=warm)
    assert result.verdict == verdict
    if verdict == "undetermined":
        reason = reason_of(result, "pressurising")
        assert f"was at {warm:g} °C, where at most 20 °C" in reason
        # Above 40 °C no class holds (EN 12201, from memory); up to there the pipe is not hurt.
        assert ("competent person inspect" in reason) == (warm > 40.0)
        assert ("test again once the pipe is at 20 °C or less" in reason) == (warm <= 40.0)


def test_a_test_at_the_pressure_of_a_relaxed_pipe_is_refused() -> None:
    # 20 kPa is relaxed, and twice 5 % of 100 kPa far from it: common practice, no source.
    assert planned_stages(EN_805, 100e3)[0].highest < 0.95 * 100e3
    with pytest.raises(InputError) as caught:
        planned_stages(EN_805, 99.9e3)
    (fault,) = caught.value.faults
    assert (fault.field, fault.value) == ("test_pressure", pytest.approx(99.9))
    assert "test at 100 kPa or more" in fault.message
    # EN 805, 11.3.2 (read in reproductions): 1.5 times the design pressure.
    assert en805_system_test_pressure(66.67e3) == pytest.approx(100e3, rel=1e-3)
    with pytest.raises(InputError) as caught:
        en805_system_test_pressure(10e3)
    (fault,) = caught.value.faults
    assert (fault.field, fault.value) == ("design_pressure", pytest.approx(10.0))
    assert "a test at 15 kPa proves nothing" in fault.message
