"""Does the record of a pressure test show that the pipe is tight?"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, NamedTuple

from hydraulics.checks import number_fault, refuse
from hydraulics.commissioning.pressure_test import (
    AIR_FACTOR,
    DOUBT,
    EN_805,
    HELD,
    MINUTE,
    PE100_MODULUS,
    STAGES,
    WARMEST,
    Borne,
    PlannedStage,
    Procedure,
    Stage,
    en805_allowable_loss,
    let_down_range,
    pipe_sdr,
    planned_stages,
    standard_sdr,
)
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, figures
from hydraulics.layout.contents import PipeContents
from hydraulics.pipework.pipe import WARMEST_CLASS, site_test_pressure

Verdict = Literal["pass", "fail", "undetermined"]
LEAST_DRAWN: Final = 0.5
"""Of the water that an airless pipe gives up; less was not measured whole. The wall's modulus, 0.8
to 1.2 GPa by its time under load, and the walls that EN 12201-2 allows leave more than that: this
project's own margin, no source."""
_INSPECT: Final = (
    "let down slowly and have a competent person inspect pipe and joints before it is tested again"
    " or used"
)


class Most(NamedTuple):
    """Highest pressure that a record may show [Pa gauge], and what it is so by."""

    pressure: float
    why: str


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
    """How one stage went: whether it was met, and why, with the numbers.

    `still` is True where the gauge did not move though a tight pipe's would.
    """

    stage: Stage
    verdict: Verdict
    reason: str
    still: bool = False


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
    most
        What no reading may be above: by the plan, or by what the weakest pipe bears.
    over_pressed
        Highest pressure on record [Pa gauge] where it is above that in any stage; None where it
        never was.
    """

    __test__ = False  # not a test case, whatever its name begins with

    verdict: Verdict
    stages: tuple[StageResult, ...]
    allowable_loss: float | None
    most: Most
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
    drawn = 0.0
    for number, reading in enumerate(readings):
        now = reading.drawn_off if reading.drawn_off is not None else drawn
        if now < drawn * (1.0 - 1e-9):
            raise InputError(
                Fault(
                    f"readings.{number}.drawn_off",
                    f"is {now * 1e3:g} L after {drawn * 1e3:g} L: it counts all that was drawn off"
                    " so far, which cannot become less; add up, or mend the record",
                    now * 1e3,
                    f"at least {drawn * 1e3:g} L",
                )
            )
        drawn = now


@dataclass(frozen=True, slots=True)
class _Record:
    """The readings of one stage, and the last of the stage that comes before it, if read.

    `drawn` is what was drawn off before the stage [m³].
    """

    stage: Stage
    readings: tuple[Reading, ...]
    before: Reading | None
    drawn: float = 0.0

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

    @property
    def rise(self) -> tuple[float, float]:
        """Between which pressures it rose furthest from the lowest before [Pa gauge]."""
        pressures = [self.start.pressure, *(reading.pressure for reading in self.readings)]
        bottoms = itertools.accumulate(pressures, min)
        return max(zip(bottoms, pressures, strict=True), key=lambda pair: pair[1] - pair[0])

    def still(self, step: float) -> bool:
        """Whether no two of its pressures are a step [Pa] apart."""
        pressures = [self.start.pressure, *(reading.pressure for reading in self.readings)]
        return max(pressures) - min(pressures) < step * (1.0 - 1e-9)

    def pumped(self, step: float) -> bool:
        """Whether it fell by more than a step [Pa] and then rose by more than one again."""
        top, trough = self.start.pressure, math.inf
        for reading in self.readings:
            if reading.pressure - trough > step:
                return True
            top = max(top, reading.pressure)
            if top - reading.pressure > step:
                trough = min(trough, reading.pressure)
        return False

    @property
    def drawn_off(self) -> float:
        """What was drawn off by its end [m³]; readings without it tell of no more."""
        return max((each.drawn_off or 0.0 for each in self.readings), default=0.0)

    @property
    def lowest(self) -> float:
        """Lowest of its readings [Pa gauge]."""
        return min(reading.pressure for reading in self.readings)

    def found(self, verdict: Verdict, reason: str) -> StageResult:
        return StageResult(self.stage, verdict, reason)


def _stood_still(record: _Record, test: _Test) -> StageResult | None:
    """Undetermined where the gauge stood still over a stage in which PE moves it."""
    if not record.still(test.resolution):
        return None
    what, moves = (
        ("rest", "stretches and its pressure falls")
        if record.stage == "resting"
        else ("main test", "contracts after it was let down and its pressure rises")
    )
    return StageResult(
        record.stage,
        "undetermined",
        f"the gauge did not move by a step of {test.resolution / 1e3:g} kPa in the"
        f" {figures(record.minutes)} min of {what}, in which a PE pipe {moves}: it is shut off from"
        " the pipe, it sticks, its steps are too coarse or the pipe was pumped, so that it proves "
        "nothing; put that right, relax and start again",
        still=True,
    )


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
            f"the pipe was at {figures(worst / 1e3)} kPa while it should relax; start again",
        )
    return _short(record, plan.duration) or record.found(
        "pass", f"relaxed for {figures(record.minutes)} min"
    )


def _pressurising(record: _Record, plan: PlannedStage, test_pressure: float) -> StageResult:
    reached = record.end.pressure
    if reached < plan.lowest:
        return record.found(
            "undetermined",
            f"{_told(reached / 1e3, test_pressure / 1e3, 4)} kPa was reached of the"
            f" {figures(test_pressure / 1e3, 4)} kPa required",
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
    return record.found("pass", f"raised in {figures(record.minutes)} min")


def _holding(record: _Record, plan: PlannedStage) -> StageResult:
    if record.lowest < plan.lowest:
        return record.found(
            "undetermined",
            f"pressure fell to {figures(record.lowest / 1e3, 4)} kPa while it was to be held; if "
            "pumping could not hold it, look for a leak",
        )
    return _short(record, plan.duration) or record.found(
        "pass", f"held for {figures(record.minutes)} min"
    )


def _from_shut_off(record: _Record, resolution: float) -> _Record:
    """The rest from its own first reading, where the pipe was pumped up after the holding."""
    pumped = (
        record.before is not None
        and len(record.readings) > 1
        and record.readings[0].pressure - record.before.pressure > resolution
    )
    return replace(record, before=None) if pumped else record


def _resting(record: _Record, plan: PlannedStage, test: _Test) -> StageResult:
    procedure, test_pressure = test.procedure, test.test_pressure
    if record.lone:
        return record.found(
            "undetermined", "the start of the rest was not recorded, so that no fall can be told"
        )
    top, bottom = record.fall
    lowest = record.lowest
    share, most = (top - bottom) / test_pressure, procedure.rest_fall_most
    least = procedure.rest_fall_least
    near = most if share > 0.5 * (least + most) else least
    fell = _told(100 * share, 100 * near)
    text = f"pressure fell by {fell} % of the test pressure in {figures(record.minutes)} min"
    beyond = []
    if share > most * (1.0 + 1e-9):
        beyond.append(
            f"more than {100 * most:g} % (from {figures(top / 1e3, 6)} kPa to "
            f"{figures(bottom / 1e3, 6)} kPa, where {figures(most * test_pressure / 1e3, 6)} kPa "
            "is allowed)"
        )
    if lowest < plan.lowest * (1.0 - 1e-9):
        ended_at = _told(lowest / 1e3, plan.lowest / 1e3, 6)
        beyond.append(f"to {ended_at} kPa, below the plan's {figures(plan.lowest / 1e3, 6)} kPa")
    if beyond:
        return record.found(
            "fail",
            f"{text}, {' and '.join(beyond)}: a leak, or the pipe warmed; let"
            " down, find the cause, relax and start again",
        )
    low, high = record.rise
    if high - low > test.resolution * (1.0 + 1e-9) or record.end.pressure > record.start.pressure:
        return record.found(
            "fail",
            f"pressure rose from {figures(low / 1e3, 6)} kPa to {figures(high / 1e3, 6)} kPa in the"
            f" {figures(record.minutes)} min of rest, where a pipe that stretches loses "
            "pressure: its temperature changed, a valve lets by, or it was pumped; find the "
            "cause, relax and start again",
        )
    return (
        _short(record, plan.duration)
        or _stood_still(record, test)
        or _rested(record, plan, procedure, share, text)
    )


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
            f"{text}, but ended at {figures(ended / 1e3, 6)} kPa, above the plan's"
            f" {figures(plan.highest / 1e3, 6)} kPa; relax and start again, held at the test "
            "pressure",
        )
    return record.found("pass", text)


def _letting_down(record: _Record, plan: PlannedStage, test: _Test) -> StageResult:
    if record.lone:
        return record.found("undetermined", "the pressure before the let-down was not recorded")
    fall = record.start.pressure - record.lowest
    drawn = record.end.drawn_off
    small, large = test.let_down
    did = "let down" if fall >= 0.0 else "pressure rose, instead of being let down,"
    minutes = _told(record.minutes, plan.duration / MINUTE)
    text = f"{did} by {figures(abs(fall) / 1e3, 4)} kPa in {minutes} min"
    if not small * 0.999 <= fall <= large * 1.001:
        return record.found(
            "undetermined",
            f"{text}; the procedure asks for {figures(small / 1e3, 4)} to "
            f"{figures(large / 1e3, 4)} kPa",
        )
    low, high = record.rise
    if high - low > test.resolution * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"{text}, but pressure rose again from {figures(low / 1e3, 6)} kPa to "
            f"{figures(high / 1e3, 6)} kPa: pumped, or the main test was read as let-down; relax "
            "and start again",
        )
    if drawn is not None and record.minutes * MINUTE <= plan.duration * (1.0 + 1e-9):
        return _drawn_off(record, text, drawn, test.per_pressure * fall)
    if drawn is None:
        return record.found("undetermined", f"{text}, but the water drawn off was not measured")
    return record.found(
        "undetermined",
        f"{text}, longer than {plan.duration / MINUTE:g} min: creep spoils the volume",
    )


def _drawn_off(record: _Record, text: str, drawn: float, allowed: float) -> StageResult:
    """Whether the water drawn off [m³] is that of a pipe without air."""
    may = _told(allowed * 1e3, drawn * 1e3)
    text += f", {_told(drawn * 1e3, float(may))} L drawn off of {may} L allowed"
    if drawn > allowed * (1.0 + 1e-9):  # rounding is no air
        return record.found("fail", f"{text}: too much air in the pipe; purge and start again")
    airless = allowed / AIR_FACTOR
    if drawn < LEAST_DRAWN * airless * (1.0 - 1e-9):
        return record.found(
            "undetermined",
            f"{text}, less than half of the {figures(airless * 1e3)} L that the pipe gives up "
            "without any air: the volume was not measured whole, or the water left by a leak; "
            "find out which, relax and start again",
        )
    return record.found("pass", text)


def _main(record: _Record, plan: PlannedStage, test: _Test, rested: float | None) -> StageResult:
    top, bottom = record.fall
    fall = top - bottom
    text = f"largest fall from the highest reading {_told(fall / 1e3, DOUBT / 1e3)} kPa"
    text += f" in {figures(record.minutes)} min"
    if fall > DOUBT:
        return record.found("fail", f"{text}, more than {DOUBT / 1e3:g} kPa: the pipe leaks")
    highest = max(reading.pressure for reading in record.readings)
    most = min(plan.highest, math.inf if rested is None else rested + test.resolution)
    if highest > most * (1.0 + 1e-9):
        above = "the plan's" if most == plan.highest else "the end of the rest,"
        return record.found(
            "undetermined",
            f"pressure rose to {figures(highest / 1e3, 6)} kPa, above {above}"
            f" {figures(min(plan.highest, rested or math.inf) / 1e3, 6)} kPa, though water was "
            "let out: its temperature changed, a valve lets by, or it was pumped; find the cause "
            "and start again",
        )
    return _short(record, plan.duration) or _trend(record, test, fall, text)


def _trend(record: _Record, test: _Test, fall: float, text: str) -> StageResult:
    """Whether a main test that took its time shows that the pressure falls."""
    procedure, resolution = test.procedure, test.resolution
    if len(record.readings) < 3:
        return record.found(
            "undetermined", "too few readings to show a trend; take one every 5 min"
        )
    if resolution > procedure.gauge_step * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"{text}: a gauge that shows steps of {resolution / 1e3:g} kPa cannot tell whether that"
            f" is a fall; test with one that shows {procedure.gauge_step / 1e3:g} kPa or finer",
        )
    if (still := _stood_still(record, test)) is not None:
        return still
    trend = max(procedure.main_fall, resolution)
    if record.pumped(trend):
        return record.found(
            "undetermined",
            f"{text}, after which it rose again, which a pipe that contracts does not: it was"
            " pumped, or its temperature changed; find the cause, relax and start again",
        )
    if fall <= trend:
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


def _most(test_pressure: float, bears: Borne) -> Most:
    """What no reading may be above."""
    by_plan = HELD[1] * test_pressure
    if bears.pressure < by_plan:
        return Most(bears.pressure, f"is borne by {bears.pipe} in a test on site")
    return Most(by_plan, "is allowed")


def _unproved(
    test_pressure: float, most: Most, pipe_temperature: float | None, other_series: str
) -> str:
    """Why a test done so proves nothing whatever its readings; empty where it may."""
    if test_pressure > most.pressure * (1.0 + 1e-9):
        return (
            f"the test pressure of {figures(test_pressure / 1e3, 6)} kPa is too high, since at most"
            f" {figures(most.pressure / 1e3, 6)} kPa {most.why}; {_INSPECT}"
        )
    if pipe_temperature is not None and pipe_temperature > WARMEST:
        wait = f"let down slowly, and test again once the pipe is at {WARMEST:g} °C or less"
        return (
            f"the pipe was at {pipe_temperature:g} °C, where at most {WARMEST:g} °C is allowed: PE"
            f" loses strength and creeps more, so that no reading tells;"
            f" {_INSPECT if pipe_temperature > WARMEST_CLASS else wait}"
        )
    return other_series


def _other_series(procedure: Procedure, sdr: float | None, contents: Sequence[PipeContents]) -> str:
    """Why a let-down for another series of pipe than is laid proves nothing; empty where alike."""
    laid = {standard_sdr(pipe_sdr(each.pipe)) for each in contents}
    if procedure.let_down is not None or sdr is None or standard_sdr(sdr) in laid:
        return ""
    return (
        f"it lets down as for SDR {sdr:g}, and the pipes are"
        f" {' and '.join(f'SDR {each:g}' for each in sorted(laid))}: how far the pressure comes "
        "back does not tell then; find out which is laid, relax and test as for that"
    )


def _over_pressed(readings: Sequence[Reading], most: float) -> float | None:
    """Highest of the readings [Pa gauge] where it is above the most that it may be."""
    highest = max((reading.pressure for reading in readings), default=0.0)
    return highest if highest > most * (1.0 + 1e-9) else None


@dataclass(frozen=True, slots=True)
class _Test:
    """What every stage is judged by; `per_pressure` is water let go a pascal [m³/Pa]."""

    procedure: Procedure
    test_pressure: float
    planned: Mapping[Stage, PlannedStage]
    let_down: tuple[float, float]
    per_pressure: float
    resolution: float
    most: Most
    unproved: str
    stands: float


def _judged(record: _Record, test: _Test, rested: float | None) -> StageResult:
    """Judge a stage that was read; `rested` is where the rest ended [Pa gauge], if it was."""
    worst = _over_pressed(record.readings, test.most.pressure)
    if worst is not None:
        return record.found(
            "fail",
            f"the pipe was over-pressed: {figures(worst / 1e3, 6)} kPa, where at most"
            f" {figures(test.most.pressure / 1e3, 6)} kPa {test.most.why}; {_INSPECT}",
        )
    if record.stage != "relaxation" and record.end.pressure < test.stands * (1.0 - 1e-9):
        return record.found(
            "undetermined",
            f"the gauge showed {figures(record.end.pressure / 1e3, 6)} kPa, less than the"
            f" {figures(test.stands / 1e3, 4)} kPa of water that stands above it: the highest "
            "pipe was drawn empty; fill, vent and start again",
        )
    if record.stage in ("resting", "main") and record.drawn_off > record.drawn * (1.0 + 1e-9):
        return record.found(
            "undetermined",
            f"{figures((record.drawn_off - record.drawn) * 1e3)} L were drawn off, so that the "
            "pressure is not the pipe's own; relax and start again",
        )
    plan = test.planned[record.stage]
    match record.stage:
        case "relaxation":
            result = _relaxation(record, plan)
        case "pressurising":
            result = _pressurising(record, plan, test.test_pressure)
            if test.unproved and result.verdict == "pass":
                result = record.found("undetermined", test.unproved)
        case "holding":
            result = _holding(record, plan)
        case "resting":
            result = _resting(_from_shut_off(record, test.resolution), plan, test)
        case "letting_down":
            result = _letting_down(record, plan, test)
        case "main":
            result = _main(record, plan, test, rested)
    return result


def over_pressed_findings(result: TestResult) -> Iterator[Finding]:
    """Tell of a record whose pressure was above what plan and pipe allow in any stage."""
    if result.over_pressed is not None:
        yield Finding(
            "over_pressed_in_test", "error",
            f"The record shows {figures(result.over_pressed / 1e3, 6)} kPa, where at most"
            f" {figures(result.most.pressure / 1e3, 6)} kPa {result.most.why}: the pipe was "
            "over-pressed. Let the pressure down slowly, keep away from it, and have a competent "
            "person inspect pipe, joints and whatever else was under that pressure before it is "
            "tested again or used.",
            COMMON_PRACTICE,
        )  # fmt: skip


_IN_WORDS: Final[Mapping[Stage, str]] = {
    "relaxation": "the relaxation", "pressurising": "the raising of the pressure",
    "holding": "the holding", "resting": "the rest", "letting_down": "the let-down",
    "main": "the main test",
}  # fmt: skip


def record_findings(result: TestResult) -> Iterator[Finding]:
    """Tell of a record that fails, or that proves nothing yet, by the stage that it turns on.

    What fails since the pipe was over-pressed, and what stood still, have findings of their own.
    """
    for each in result.stages:
        if each.verdict == "fail" and _INSPECT not in each.reason:
            yield Finding(
                "pressure_test_failed", "error",
                f"The record of the pressure test fails in {_IN_WORDS[each.stage]}: {each.reason}."
                " The array is not shown to be tight: it is not to be covered, filled or put into"
                " use before a test is passed.",
                COMMON_PRACTICE,
            )  # fmt: skip
    open_ones = [each for each in result.stages if each.verdict == "undetermined"]
    if result.verdict == "undetermined" and not all(each.still for each in open_ones):
        first = next(each for each in open_ones if not each.still)
        yield Finding(
            "pressure_test_not_proved", "warning",
            f"The record of the pressure test proves nothing yet, first in "
            f"{_IN_WORDS[first.stage]}: {first.reason}. Until a whole record passes the array is "
            "not shown to be tight.",
            COMMON_PRACTICE,
        )  # fmt: skip


def still_record_findings(result: TestResult) -> Iterator[Finding]:
    """Tell of a record in which the gauge stands still where a tight pipe would move it."""
    still = [each.stage for each in result.stages if each.still]
    if still:
        stages = " and ".join(
            "the rest" if each == "resting" else "the main test" for each in still
        )
        yield Finding(
            "record_stands_still", "warning",
            f"The record does not move in {stages}, where the pressure of a tight PE pipe does: it "
            "is no proof that the pipe is tight. See that the valve between gauge and pipe is "
            "open, that the gauge falls when a little water is let out, and that what was written "
            "down was read at its own time; then relax and test again.",
            "UK Water Industry, IGN 4-01-03: creep dominates the fall of a PE pipe's pressure until"
            " 24 to 36 h after it was raised (read in an excerpt); EN 805, A.27: it stretches in "
            "the hour of rest (read in a published translation) and its pressure rises in the "
            "main test (from memory)",
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
    pipe_temperature: float | None = None,
    bears: Borne | None = None,
    stands: float = 0.0,
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
        Smallest step that the gauge shows [Pa]; a fall within it is no trend, and one coarser than
        the procedure's `gauge_step` tells none.
    pipe_temperature
        Of the pipe's wall [degC]; None where not known.
    bears
        Most that the pipes bear, at the gauge; None where they all lie level with it.
    stands
        Water that stands above the gauge up to the highest pipe [Pa].

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
    if bears is None:
        bears = min(
            Borne(site_test_pressure(each.pipe, pipe_temperature), each.pipe.name)
            for each in contents
        )
    most = _most(test_pressure, bears)
    planned = planned_stages(procedure, test_pressure, sdr, bears.pressure, stands)
    test = _Test(
        procedure=procedure,
        test_pressure=test_pressure,
        planned={each.stage: each for each in planned},
        let_down=let_down_range(procedure, test_pressure, sdr),
        per_pressure=en805_allowable_loss(contents, 1.0, pipe_modulus=pipe_modulus),
        resolution=gauge_resolution,
        most=most,
        unproved=_unproved(
            test_pressure, most, pipe_temperature, _other_series(procedure, sdr, contents)
        ),
        stands=stands,
    )
    results: list[StageResult] = []
    allowable: float | None = None
    before: Reading | None = None
    rested: float | None = None
    drawn = 0.0
    for stage in STAGES:
        own = tuple(reading for reading in readings if reading.stage == stage)
        record, before = _Record(stage, own, before, drawn), own[-1] if own else None
        drawn = max(drawn, record.drawn_off)
        if not own:
            results.append(StageResult(stage, "undetermined", "no readings of this stage"))
            continue
        results.append(_judged(record, test, rested))
        if stage == "resting":
            rested = record.end.pressure
        if stage == "letting_down" and not record.lone:
            allowable = test.per_pressure * max(record.start.pressure - record.lowest, 0.0)
        if results[-1].verdict == "fail":
            break
    verdicts = {result.verdict for result in results}
    verdict: Verdict = (
        "fail" if "fail" in verdicts else "undetermined" if "undetermined" in verdicts else "pass"
    )
    worst = _over_pressed(readings, most.pressure)
    return TestResult(verdict, tuple(results), allowable, most, worst)
