"""Limits of the verdict on a pressure test, each from just within to just beyond, and its words."""

import pytest

from hydraulics.commissioning.pressure_test import EN_805, MINUTE, W_400_2, planned_stages
from hydraulics.commissioning.pressure_verdict import (
    Reading,
    TestResult,
    evaluate_pe_test,
    over_pressed_findings,
)
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
        Reading(stage, minute * MINUTE, pressure * 1e3, 1e-5 if stage == "letting_down" else None)  # type: ignore[arg-type, operator]
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
    (told,) = over_pressed_findings(result, SMALL_STP)
    assert told.severity == "error"
    assert "at most 472.5 kPa" in told.message
    assert "competent person inspect" in told.message


@pytest.mark.parametrize(("kpa", "passes"), [(472.5, True), (472.6, False)])
def test_a_pipe_is_over_pressed_beyond_a_twentieth(kpa: float, passes: bool) -> None:
    result = small((2, kpa), (3, kpa), (4, kpa))
    assert (verdict_of(result, "pressurising") == "pass") is passes
    assert (result.over_pressed is None) is passes
    assert (list(over_pressed_findings(result, SMALL_STP)) == []) is passes


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
    for kpa, verdict in ((450.0, "pass"), (450.1, "undetermined")):
        result = small((9, kpa))
        assert verdict_of(result, "main") == verdict
        assert result.verdict == verdict
    assert "rose to 450.1 kPa, above the plan's 450 kPa" in reason_of(result, "main")


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
