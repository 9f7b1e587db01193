"""Does the record of a pressure test show that the pipe is tight?"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from hydraulics.checks import number_fault, refuse
from hydraulics.commissioning.pressure_test import (
    DOUBT,
    EN_805,
    HELD,
    MINUTE,
    PE100_MODULUS,
    STAGES,
    PlannedStage,
    Procedure,
    Stage,
    en805_allowable_loss,
    let_down_range,
    planned_stages,
)
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding
from hydraulics.layout.contents import PipeContents

Verdict = Literal["pass", "fail", "undetermined"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One line of the test record.

    Attributes
    ----------
    stage
        Stage during which, or at the end of which, it was read.
    time
        Since the record began [s].
    pressure
        [Pa gauge], at the same point of the pipe throughout.
    drawn_off
        Water drawn off so far in letting down [m³]; None where not measured.
    """

    stage: Stage
    time: float
    pressure: float
    drawn_off: float | None = None


@dataclass(frozen=True, slots=True)
class StageResult:
    """How one stage went: whether it was met, and why, with the numbers."""

    stage: Stage
    verdict: Verdict
    reason: str


@dataclass(frozen=True, slots=True)
class TestResult:
    """Verdict on a test.

    Attributes
    ----------
    verdict
        ``"pass"`` when every stage passed; ``"fail"`` at the first stage that failed;
        ``"undetermined"`` where readings are missing or too short to say.
    stages
        Stages judged, in order; none after one that failed.
    allowable_loss
        ΔV_max for the let-down measured [m³]; None where there was none.
    over_pressed
        Highest pressure on record [Pa gauge] where it is above what the plan allows in any stage;
        None where it never was.
    """

    __test__ = False  # not a test case, whatever its name begins with

    verdict: Verdict
    stages: tuple[StageResult, ...]
    allowable_loss: float | None
    over_pressed: float | None = None


def _check_readings(readings: Sequence[Reading]) -> None:
    faults: list[Fault | None] = []
    for number, reading in enumerate(readings):
        at = f"readings.{number}"
        if reading.stage not in STAGES:
            faults.append(Fault(f"{at}.stage", "no such stage", reading.stage, ", ".join(STAGES)))
        faults.append(number_fault(f"{at}.time", reading.time / MINUTE, "min", at_least=0.0))
        faults.append(number_fault(f"{at}.pressure", reading.pressure / 1e3, "kPa", at_least=0.0))
        if reading.drawn_off is not None:
            faults.append(
                number_fault(f"{at}.drawn_off", reading.drawn_off * 1e3, "L", at_least=0.0)
            )
    refuse(*faults)
    for number, (before, after) in enumerate(itertools.pairwise(readings), 1):
        if after.time < before.time or STAGES.index(after.stage) < STAGES.index(before.stage):
            raise InputError(
                Fault(
                    f"readings.{number}",
                    "readings must be in order of time and of stage",
                    f"{after.stage} at {after.time / MINUTE:g} min",
                    f"{before.stage} or later, at {before.time / MINUTE:g} min or later",
                )
            )


@dataclass(frozen=True, slots=True)
class _Record:
    """The readings of one stage, and the last of the stage that comes before it, if read."""

    stage: Stage
    readings: tuple[Reading, ...]
    before: Reading | None

    @property
    def start(self) -> Reading:
        return self.before or self.readings[0]

    @property
    def end(self) -> Reading:
        return self.readings[-1]

    @property
    def minutes(self) -> float:
        return (self.end.time - self.start.time) / MINUTE

    @property
    def lone(self) -> bool:
        """Whether one reading is all there is, so that nothing is known of how it began."""
        return self.before is None and len(self.readings) < 2

    @property
    def fall(self) -> tuple[float, float]:
        """Between which pressures it fell furthest from the highest before [Pa gauge]."""
        pressures = [self.start.pressure, *(reading.pressure for reading in self.readings)]
        tops = itertools.accumulate(pressures, max)
        return max(zip(tops, pressures, strict=True), key=lambda pair: pair[0] - pair[1])

    def found(self, verdict: Verdict, reason: str) -> StageResult:
        return StageResult(self.stage, verdict, reason)


def _told(value: float, limit: float, digits: int = 3) -> str:
    """A number in so many digits, or in as many as show on which side of a limit it lies."""
    text = f"{value:.{digits}g}"
    if digits >= 15 or math.isclose(value, limit, rel_tol=1e-9):
        return text
    shown = float(text)
    if (shown > limit, shown < limit) == (value > limit, value < limit):
        return text
    return _told(value, limit, digits + 1)


def _short(record: _Record, needed: float) -> StageResult | None:
    """Undetermined where a stage that needs its time did not get it."""
    if record.minutes * MINUTE >= needed * (1.0 - 1e-9):
        return None
    return record.found(
        "undetermined",
        f"the record covers {_told(record.minutes, needed / MINUTE)} min of the"
        f" {needed / MINUTE:g} min required",
    )


def _relaxation(record: _Record, plan: PlannedStage) -> StageResult:
    worst = max(reading.pressure for reading in record.readings)
    if worst > plan.highest:
        return record.found(
            "undetermined",
            f"the pipe was at {worst / 1e3:.3g} kPa while it should relax; start again",
        )
    return _short(record, plan.duration) or record.found(
        "pass", f"relaxed for {record.minutes:.3g} min"
    )


def _pressurising(record: _Record, plan: PlannedStage, test_pressure: float) -> StageResult:
    reached = record.end.pressure
    if reached < plan.lowest:
        return record.found(
            "undetermined",
            f"{_told(reached / 1e3, test_pressure / 1e3, 4)} kPa was reached of the"
            f" {test_pressure / 1e3:.4g} kPa required",
        )
    if record.lone:
        return record.found("undetermined", "the start of pumping was not recorded")
    if record.minutes * MINUTE > plan.duration * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"raising took {_told(record.minutes, plan.duration / MINUTE)} min, more than"
            f" {plan.duration / MINUTE:g} min: too slow for the pipe's creep to be judged; relax"
            " and start again",
        )
    return record.found("pass", f"raised in {record.minutes:.3g} min")


def _holding(record: _Record, plan: PlannedStage) -> StageResult:
    lowest = min(reading.pressure for reading in record.readings)
    if lowest < plan.lowest:
        return record.found(
            "undetermined",
            f"pressure fell to {lowest / 1e3:.4g} kPa while it was to be held; if pumping could"
            " not hold it, look for a leak",
        )
    return _short(record, plan.duration) or record.found(
        "pass", f"held for {record.minutes:.3g} min"
    )


def _resting(
    record: _Record, plan: PlannedStage, procedure: Procedure, test_pressure: float
) -> StageResult:
    if record.lone:
        return record.found(
            "undetermined", "the start of the rest was not recorded, so that no fall can be told"
        )
    begun, ended = record.start.pressure, record.end.pressure
    top, bottom = record.fall
    lowest = min(reading.pressure for reading in record.readings)
    share, most = (top - bottom) / test_pressure, procedure.rest_fall_most
    least = procedure.rest_fall_least
    near = most if share > 0.5 * (least + most) else least
    fell = _told(100 * share, 100 * near)
    text = f"pressure fell by {fell} % of the test pressure in {record.minutes:.3g} min"
    beyond = []
    if share > most * (1.0 + 1e-9):
        beyond.append(
            f"more than {100 * most:g} % (from {top / 1e3:.6g} kPa to {bottom / 1e3:.6g} kPa,"
            f" where {most * test_pressure / 1e3:.6g} kPa is allowed)"
        )
    if lowest < plan.lowest * (1.0 - 1e-9):
        ended_at = _told(lowest / 1e3, plan.lowest / 1e3, 6)
        beyond.append(f"to {ended_at} kPa, below the plan's {plan.lowest / 1e3:.6g} kPa")
    if beyond:
        return record.found(
            "fail",
            f"{text}, {' and '.join(beyond)}: a leak, or the pipe warmed; let"
            " down, find the cause, relax and start again",
        )
    if ended > begun:
        return record.found(
            "fail",
            f"pressure rose from {begun / 1e3:.6g} kPa to {ended / 1e3:.6g} kPa in"
            f" {record.minutes:.3g} min of rest, where a pipe that stretches loses pressure: its"
            " temperature changed, a valve lets by, or it was pumped; find the cause, relax and"
            " start again",
        )
    return _short(record, plan.duration) or _rested(record, plan, procedure, share, text)


def _rested(
    record: _Record, plan: PlannedStage, procedure: Procedure, share: float, text: str
) -> StageResult:
    ended = record.end.pressure
    if share < procedure.rest_fall_least * (1.0 - 1e-9):
        return record.found(
            "fail",
            f"{text}, less than {100 * procedure.rest_fall_least:g} %: too much air in the pipe;"
            " purge and start again",
        )
    if ended > plan.highest * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"{text}, but ended at {ended / 1e3:.6g} kPa, above the plan's"
            f" {plan.highest / 1e3:.6g} kPa; relax and start again, held at the test pressure",
        )
    return record.found("pass", text)


def _letting_down(
    record: _Record,
    plan: PlannedStage,
    let_down: tuple[float, float],
    loss_per_pressure: float,
) -> StageResult:
    if record.lone:
        return record.found("undetermined", "the pressure before the let-down was not recorded")
    fall = record.start.pressure - record.end.pressure
    drawn = record.end.drawn_off
    small, large = let_down
    did = "let down" if fall >= 0.0 else "pressure rose, instead of being let down,"
    minutes = _told(record.minutes, plan.duration / MINUTE)
    text = f"{did} by {abs(fall) / 1e3:.4g} kPa in {minutes} min"
    if not small * 0.999 <= fall <= large * 1.001:
        return record.found(
            "undetermined",
            f"{text}; the procedure asks for {small / 1e3:.4g} to {large / 1e3:.4g} kPa",
        )
    if drawn is None:
        return record.found("undetermined", f"{text}, but the water drawn off was not measured")
    if record.minutes * MINUTE > plan.duration * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"{text}, longer than {plan.duration / MINUTE:g} min: creep spoils the volume",
        )
    allowed = loss_per_pressure * fall
    may = _told(allowed * 1e3, drawn * 1e3)
    text += f", {_told(drawn * 1e3, float(may))} L drawn off of {may} L allowed"
    if drawn > allowed * (1.0 + 1e-9):  # rounding is no air
        return record.found("fail", f"{text}: too much air in the pipe; purge and start again")
    return record.found("pass", text)


def _main(
    record: _Record, plan: PlannedStage, procedure: Procedure, resolution: float
) -> StageResult:
    top, bottom = record.fall
    fall = top - bottom
    text = f"largest fall from the highest reading {_told(fall / 1e3, DOUBT / 1e3)} kPa"
    text += f" in {record.minutes:.3g} min"
    if fall > DOUBT:
        return record.found("fail", f"{text}, more than {DOUBT / 1e3:g} kPa: the pipe leaks")
    highest = max(reading.pressure for reading in record.readings)
    if highest > plan.highest * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"pressure rose to {highest / 1e3:.6g} kPa, above the plan's"
            f" {plan.highest / 1e3:.6g} kPa: its temperature changed, a valve lets by, or it was"
            " pumped; find the cause and start again",
        )
    short = _short(record, plan.duration)
    if short is not None:
        return short
    if len(record.readings) < 3:
        return record.found(
            "undetermined", "too few readings to show a trend; take one every 5 min"
        )
    if fall <= max(procedure.main_fall, resolution):
        text += ": no falling trend"
    elif record.minutes * MINUTE < procedure.extended * (1.0 - 1e-9):
        return record.found(
            "undetermined",
            f"{text}: in doubt; go on to {procedure.extended / MINUTE:g} min, then at most"
            f" {DOUBT / 1e3:g} kPa",
        )
    else:
        text += f", within {DOUBT / 1e3:g} kPa over the extended time"
    return record.found("pass", text)


def _over_pressed(readings: Sequence[Reading], most: float) -> float | None:
    """Highest of the readings [Pa gauge] where it is above the most that the plan allows."""
    highest = max((reading.pressure for reading in readings), default=0.0)
    return highest if highest > most * (1.0 + 1e-9) else None


def over_pressed_findings(result: TestResult, test_pressure: float) -> Iterator[Finding]:
    """Tell of a record whose pressure was above what the plan allows in any stage.

    Parameters
    ----------
    test_pressure
        STP [Pa gauge].
    """
    if result.over_pressed is not None:
        yield Finding(
            "over_pressed_in_test", "error",
            f"The record shows {result.over_pressed / 1e3:.6g} kPa, where the test allows at most"
            f" {HELD[1] * test_pressure / 1e3:.6g} kPa: the pipe was over-pressed. Let the pressure"
            " down slowly, keep away from it, and have a competent person inspect pipe, joints and"
            " whatever else was under that pressure before it is tested again or used.",
            COMMON_PRACTICE,
        )  # fmt: skip


def evaluate_pe_test(
    readings: Sequence[Reading],
    contents: Sequence[PipeContents],
    test_pressure: float,
    *,
    procedure: Procedure = EN_805,
    pipe_modulus: float = PE100_MODULUS,
    sdr: float | None = None,
    gauge_resolution: float = 1e3,
) -> TestResult:
    """Judge the record of a pressure test of PE pipe.

    Parameters
    ----------
    readings
        In order of time; each names its stage. A stage begins at the last reading of the stage
        just before it, or at its own first where that one was not read.
    contents
        Pipes under test.
    test_pressure
        STP at the gauge [Pa gauge].
    procedure
        :data:`EN_805` or :data:`W_400_2`.
    pipe_modulus
        Wall modulus for the let-down [Pa]; a lower one allows more water and hides more air.
    sdr
        Of the pipe, where the procedure's let-down depends on it.
    gauge_resolution
        Smallest step that the gauge shows [Pa]; a fall within it is no trend.

    Returns
    -------
    TestResult
        Verdict with the reason of every stage. It judges the numbers given: whoever signs the
        test decides.

    Raises
    ------
    InputError
        Readings out of order, numbers out of range or no pipe under test.
    """
    _check_readings(readings)
    refuse(
        number_fault("gauge_resolution", gauge_resolution / 1e3, "kPa", above=0.0),
        number_fault("test_pressure", test_pressure / 1e3, "kPa", above=0.0),
    )
    if not contents:
        raise InputError(Fault("array", "a test needs pipe to test", None, "1 or more pipes"))
    let_down = let_down_range(procedure, test_pressure, sdr)
    planned = {each.stage: each for each in planned_stages(procedure, test_pressure, sdr)}
    most = HELD[1] * test_pressure
    per_pressure = en805_allowable_loss(contents, 1.0, pipe_modulus=pipe_modulus)
    results: list[StageResult] = []
    allowable: float | None = None
    before: Reading | None = None
    for stage in STAGES:
        own = tuple(reading for reading in readings if reading.stage == stage)
        record, before = _Record(stage, own, before), own[-1] if own else None
        if not own:
            results.append(StageResult(stage, "undetermined", "no readings of this stage"))
            continue
        plan = planned[stage]
        match stage:
            case _ if (worst := _over_pressed(own, most)) is not None:
                result = record.found(
                    "fail",
                    f"the pipe was over-pressed: {worst / 1e3:.6g} kPa, where at most"
                    f" {most / 1e3:.6g} kPa is allowed; let down slowly and have a competent"
                    " person inspect pipe and joints before it is tested again or used",
                )
            case "relaxation":
                result = _relaxation(record, plan)
            case "pressurising":
                result = _pressurising(record, plan, test_pressure)
            case "holding":
                result = _holding(record, plan)
            case "resting":
                result = _resting(record, plan, procedure, test_pressure)
            case "letting_down":
                if not record.lone:
                    fell = record.start.pressure - record.end.pressure
                    allowable = per_pressure * max(fell, 0.0)
                result = _letting_down(record, plan, let_down, per_pressure)
            case "main":
                result = _main(record, plan, procedure, gauge_resolution)
        results.append(result)
        if result.verdict == "fail":
            break
    verdicts = {result.verdict for result in results}
    verdict: Verdict = (
        "fail" if "fail" in verdicts else "undetermined" if "undetermined" in verdicts else "pass"
    )
    return TestResult(verdict, tuple(results), allowable, _over_pressed(readings, most))
