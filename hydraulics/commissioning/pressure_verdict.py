"""Does the record of a pressure test show that the pipe is tight?"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from hydraulics.checks import number_fault, refuse
from hydraulics.commissioning.pressure_test import (
    DOUBT,
    EN_805,
    MINUTE,
    PE100_MODULUS,
    STAGES,
    ZERO_PRESSURE,
    Procedure,
    Stage,
    en805_allowable_loss,
    let_down_range,
)
from hydraulics.errors import Fault, InputError
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
    """

    __test__ = False  # not a test case, whatever its name begins with

    verdict: Verdict
    stages: tuple[StageResult, ...]
    allowable_loss: float | None


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
    """The readings of one stage, and what was read just before it."""

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

    def found(self, verdict: Verdict, reason: str) -> StageResult:
        return StageResult(self.stage, verdict, reason)


def _short(record: _Record, needed: float) -> StageResult | None:
    """Undetermined where a stage that needs its time did not get it."""
    if record.minutes * MINUTE >= needed * (1.0 - 1e-9):
        return None
    return record.found(
        "undetermined",
        f"the record covers {record.minutes:.3g} min of the {needed / MINUTE:g} min required",
    )


def _relaxation(record: _Record, plan: Procedure) -> StageResult:
    worst = max(reading.pressure for reading in record.readings)
    if worst > ZERO_PRESSURE:
        return record.found(
            "undetermined",
            f"the pipe was at {worst / 1e3:.3g} kPa while it should relax; start again",
        )
    return _short(record, plan.relaxation) or record.found(
        "pass", f"relaxed for {record.minutes:.3g} min"
    )


def _pressurising(record: _Record, plan: Procedure, test_pressure: float) -> StageResult:
    reached = record.end.pressure
    if reached < 0.98 * test_pressure:
        return record.found(
            "undetermined",
            f"{reached / 1e3:.4g} kPa was reached of the {test_pressure / 1e3:.4g} kPa required",
        )
    if record.before is None and len(record.readings) < 2:
        return record.found("undetermined", "the start of pumping was not recorded")
    if record.minutes * MINUTE > plan.pressurising * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"raising took {record.minutes:.3g} min, more than {plan.pressurising / MINUTE:g} min:"
            " too slow for the pipe's creep to be judged; relax and start again",
        )
    return record.found("pass", f"raised in {record.minutes:.3g} min")


def _holding(record: _Record, plan: Procedure, test_pressure: float) -> StageResult:
    lowest = min(reading.pressure for reading in record.readings)
    if lowest < 0.95 * test_pressure:
        return record.found(
            "undetermined",
            f"pressure fell to {lowest / 1e3:.4g} kPa while it was to be held; if pumping could"
            " not hold it, look for a leak",
        )
    return _short(record, plan.holding) or record.found(
        "pass", f"held for {record.minutes:.3g} min"
    )


def _resting(record: _Record, plan: Procedure, test_pressure: float) -> StageResult:
    fall = (record.start.pressure - record.end.pressure) / test_pressure
    text = f"pressure fell by {100 * fall:.3g} % of the test pressure in {record.minutes:.3g} min"
    if fall > plan.rest_fall_most:
        return record.found(
            "fail",
            f"{text}, more than {100 * plan.rest_fall_most:g} %: a leak, or the pipe warmed; let"
            " down, find the cause, relax and start again",
        )
    short = _short(record, plan.resting)
    if short is not None:
        return short
    if fall < plan.rest_fall_least:
        return record.found(
            "fail",
            f"{text}, less than {100 * plan.rest_fall_least:g} %: too much air in the pipe; purge"
            " and start again",
        )
    return record.found("pass", text)


def _letting_down(
    record: _Record,
    plan: Procedure,
    let_down: tuple[float, float],
    loss_per_pressure: float,
) -> StageResult:
    fall = record.start.pressure - record.end.pressure
    drawn = record.end.drawn_off
    small, large = let_down
    text = f"let down by {fall / 1e3:.4g} kPa in {record.minutes:.3g} min"
    if not small * 0.999 <= fall <= large * 1.001:
        return record.found(
            "undetermined",
            f"{text}; the procedure asks for {small / 1e3:.4g} to {large / 1e3:.4g} kPa",
        )
    if drawn is None:
        return record.found("undetermined", f"{text}, but the water drawn off was not measured")
    if record.minutes * MINUTE > plan.letting_down * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"{text}, longer than {plan.letting_down / MINUTE:g} min: creep spoils the volume",
        )
    allowed = loss_per_pressure * fall
    text += f", {drawn * 1e3:.3g} L drawn off of {allowed * 1e3:.3g} L allowed"
    if drawn > allowed * (1.0 + 1e-9):  # rounding is no air
        return record.found("fail", f"{text}: too much air in the pipe; purge and start again")
    return record.found("pass", text)


def _main(record: _Record, plan: Procedure, resolution: float) -> StageResult:
    pressures = [record.start.pressure, *(reading.pressure for reading in record.readings)]
    tops = itertools.accumulate(pressures, max)
    fall = max(top - here for top, here in zip(tops, pressures, strict=True))
    text = f"largest fall from the highest reading {fall / 1e3:.3g} kPa in {record.minutes:.3g} min"
    if fall > DOUBT:
        return record.found("fail", f"{text}, more than {DOUBT / 1e3:g} kPa: the pipe leaks")
    short = _short(record, plan.main)
    if short is not None:
        return short
    if len(record.readings) < 3:
        return record.found(
            "undetermined", "too few readings to show a trend; take one every 5 min"
        )
    if fall <= max(plan.main_fall, resolution):
        return record.found("pass", f"{text}: no falling trend")
    if record.minutes * MINUTE < plan.extended * (1.0 - 1e-9):
        return record.found(
            "undetermined",
            f"{text}: in doubt; go on to {plan.extended / MINUTE:g} min, then at most"
            f" {DOUBT / 1e3:g} kPa",
        )
    return record.found("pass", f"{text}, within {DOUBT / 1e3:g} kPa over the extended time")


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
        before it.
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
    per_pressure = en805_allowable_loss(contents, 1.0, pipe_modulus=pipe_modulus)
    results: list[StageResult] = []
    allowable: float | None = None
    before: Reading | None = None
    for stage in STAGES:
        own = tuple(reading for reading in readings if reading.stage == stage)
        if not own:
            results.append(StageResult(stage, "undetermined", "no readings of this stage"))
            continue
        record = _Record(stage, own, before)
        before = own[-1]
        match stage:
            case "relaxation":
                result = _relaxation(record, procedure)
            case "pressurising":
                result = _pressurising(record, procedure, test_pressure)
            case "holding":
                result = _holding(record, procedure, test_pressure)
            case "resting":
                result = _resting(record, procedure, test_pressure)
            case "letting_down":
                allowable = per_pressure * max(record.start.pressure - record.end.pressure, 0.0)
                result = _letting_down(record, procedure, let_down, per_pressure)
            case "main":
                result = _main(record, procedure, gauge_resolution)
        results.append(result)
        if result.verdict == "fail":
            break
    verdicts = {result.verdict for result in results}
    verdict: Verdict = (
        "fail" if "fail" in verdicts else "undetermined" if "undetermined" in verdicts else "pass"
    )
    return TestResult(verdict, tuple(results), allowable)
