import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.commissioning.pressure_test import (
    EN_805,
    MINUTE,
    STAGES,
    W_400_2,
    Procedure,
    en805_allowable_loss,
    planned_stages,
    pressure_test_findings,
)
from hydraulics.commissioning.pressure_verdict import Reading, TestResult, evaluate_pe_test
from hydraulics.errors import InputError
from hydraulics.layout.contents import PipeContents
from hydraulics.layout.heights import Bottom, Levels
from hydraulics.pipework.pipe import Pipe, pe_pipe

PIPE = pe_pipe("PE100 SDR11 40")
CONTENTS = (PipeContents("loops", PIPE, 400.0, 400.0 * PIPE.bore_area),)
STP = 9e5
ALLOWED = en805_allowable_loss(CONTENTS, 1.2e5, pipe_modulus=1.2e9)

# A record that meets EN 805: pressure [kPa], time [min], stage, water drawn off [L].
GOOD = (
    Reading("relaxation", 0.0, 5e3),
    Reading("relaxation", 60 * MINUTE, 5e3),
    Reading("pressurising", 68 * MINUTE, STP),
    Reading("holding", 98 * MINUTE, STP),
    Reading("resting", 128 * MINUTE, 8.2e5),
    Reading("resting", 158 * MINUTE, 7.9e5),
    Reading("letting_down", 159 * MINUTE, 6.7e5, 0.8 * ALLOWED),
    Reading("main", 169 * MINUTE, 6.75e5),
    Reading("main", 179 * MINUTE, 6.80e5),
    Reading("main", 189 * MINUTE, 6.82e5),
)


def judge(readings: tuple[Reading, ...], procedure: Procedure = EN_805) -> TestResult:
    return evaluate_pe_test(readings, CONTENTS, STP, procedure=procedure, sdr=11.0)


def changed(number: int, **changes: object) -> tuple[Reading, ...]:
    return (*GOOD[:number], replace(GOOD[number], **changes), *GOOD[number + 1 :])  # type: ignore[arg-type]


def verdict_of(result: TestResult, stage: str) -> str:
    return next(each.verdict for each in result.stages if each.stage == stage)


def test_a_tight_pipe_passes_every_stage() -> None:
    result = judge(GOOD)
    assert result.verdict == "pass"
    assert [each.stage for each in result.stages] == list(STAGES)
    assert result.allowable_loss == pytest.approx(ALLOWED)


def test_a_fall_at_rest_beyond_the_limit_fails_and_stops() -> None:
    result = judge(changed(5, pressure=0.69 * STP))
    assert result.verdict == "fail"
    assert result.stages[-1].stage == "resting"


def test_too_much_water_drawn_off_means_air() -> None:
    result = judge(changed(6, drawn_off=1.01 * ALLOWED))
    assert result.verdict == "fail"
    assert "air" in result.stages[-1].reason


def test_a_pressure_that_falls_in_the_main_test_fails() -> None:
    falling = (
        *GOOD[:7],
        Reading("main", 179 * MINUTE, 6.5e5),
        Reading("main", 189 * MINUTE, 6.3e5),
    )
    assert judge(falling).verdict == "fail"


def test_a_slight_fall_is_in_doubt_until_the_extended_time() -> None:
    doubtful = (*GOOD[:9], Reading("main", 189 * MINUTE, 6.7e5))
    assert verdict_of(judge(doubtful), "main") == "undetermined"
    extended = (*doubtful, Reading("main", 249 * MINUTE, 6.6e5))
    assert judge(extended).verdict == "pass"
    leaking = (*doubtful, Reading("main", 249 * MINUTE, 6.5e5))
    assert judge(leaking).verdict == "fail"


@pytest.mark.parametrize("stage", STAGES)
def test_a_missing_stage_leaves_the_test_undetermined(stage: str) -> None:
    assert judge(tuple(r for r in GOOD if r.stage != stage)).verdict != "pass"


@pytest.mark.parametrize(
    ("number", "changes"),
    [
        (1, {"time": 50 * MINUTE}),  # relaxed too briefly
        (0, {"pressure": 2e5}),  # not relaxed at all
        (2, {"pressure": 8e5}),  # test pressure not reached
        (2, {"time": 75 * MINUTE}),  # raised too slowly
        (3, {"pressure": 8e5}),  # not held
        (6, {"drawn_off": None}),  # not measured
        (6, {"pressure": 6.4e5}),  # let down too far
        (9, {"time": 180 * MINUTE}),  # main test too short
    ],
)
def test_a_stage_not_done_as_it_should_leaves_the_test_undetermined(
    number: int, changes: dict[str, object]
) -> None:
    assert judge(changed(number, **changes)).verdict == "undetermined"


def test_the_contraction_method_refuses_a_rest_that_falls_too_little() -> None:
    stiff = changed(5, pressure=0.95 * STP)
    result = judge(tuple(replace(r, pressure=max(r.pressure, 8.6e5)) if r.stage == "resting" else r
                         for r in stiff), W_400_2)  # fmt: skip
    assert result.verdict == "fail"
    assert "air" in result.stages[-1].reason


def test_the_contraction_method_lets_down_by_its_own_pressure() -> None:
    stages = planned_stages(W_400_2, STP, 11.0)
    down = next(each for each in stages if each.stage == "letting_down")
    assert (
        "2.88 to 3.52 bar off, counted from the reading at the end of the rest" in down.instruction
    )
    assert down.pressure is None
    # Rested to 80 % of STP at the lowest, no more than that can be bled off: 352 kPa / 0.8.
    stages = planned_stages(W_400_2, 441e3, 11.0)
    assert stages[4].lowest > 0.0
    (rest,) = [each for each in stages if each.stage == "resting"]
    # W 400-2: the rest takes a fifth of STP at the most, and never none.
    assert rest.lowest == pytest.approx(0.8 * 441e3)
    assert rest.lowest < rest.highest < 441e3
    with pytest.raises(InputError, match="use the EN 805 procedure"):
        planned_stages(W_400_2, 439e3, 11.0)
    with pytest.raises(InputError, match="sdr"):
        planned_stages(W_400_2, STP, 13.6)


@given(st.floats(0.0, 5e5), st.floats(1.0, 5.0))
def test_allowable_loss_is_proportional_to_the_fall(drop: float, factor: float) -> None:
    one = en805_allowable_loss(CONTENTS, drop, pipe_modulus=1e9)
    assert en805_allowable_loss(CONTENTS, factor * drop, pipe_modulus=1e9) == pytest.approx(
        factor * one
    )


@given(st.floats(1.0, 500.0), st.floats(1.0, 500.0))
def test_allowable_loss_of_two_pipes_adds_up(first: float, second: float) -> None:
    wide = pe_pipe("PE100 SDR11 63")
    a = PipeContents("loops", PIPE, first, first * PIPE.bore_area)
    b = PipeContents("headers", wide, second, second * wide.bore_area)
    together = en805_allowable_loss((a, b), 1e5, pipe_modulus=1e9)
    apart = sum(en805_allowable_loss((each,), 1e5, pipe_modulus=1e9) for each in (a, b))
    assert together == pytest.approx(apart)


@given(st.floats(0.3e9, 1.2e9), st.floats(1.01, 2.0))
def test_a_stiffer_pipe_may_lose_less(modulus: float, factor: float) -> None:
    soft = en805_allowable_loss(CONTENTS, 1e5, pipe_modulus=modulus)
    assert en805_allowable_loss(CONTENTS, 1e5, pipe_modulus=factor * modulus) < soft


@given(st.floats(0.0, 1.0))
def test_drawing_off_less_never_turns_a_pass_into_a_failure(share: float) -> None:
    # Half of what the formula gives without its 1.2 for air is this project's own margin.
    measured = share >= 0.5 / 1.2
    verdict = judge(changed(6, drawn_off=share * ALLOWED)).verdict
    assert verdict == ("pass" if measured else "undetermined")


def test_readings_out_of_order_are_refused() -> None:
    with pytest.raises(InputError, match="order"):
        judge((GOOD[1], GOOD[0], *GOOD[2:]))
    with pytest.raises(InputError, match="order"):
        judge((*GOOD, Reading("holding", 200 * MINUTE, STP)))


def test_every_bad_reading_is_named() -> None:
    bad = (Reading("relaxation", math.nan, 0.0), Reading("soaking", 60.0, -1.0))  # type: ignore[arg-type]
    with pytest.raises(InputError) as caught:
        judge(bad)
    assert {fault.field for fault in caught.value.faults} == {
        "readings.0.time", "readings.1.stage", "readings.1.pressure",
    }  # fmt: skip


def test_no_pipe_is_no_test() -> None:
    with pytest.raises(InputError, match="pipe to test"):
        evaluate_pe_test(GOOD, (), STP)


def level(*contents: PipeContents) -> Levels:
    """Pipe that lies level with the gauge."""
    return Levels(
        0.0, 0.0, 0.0, 0.0, tuple(Bottom(each.pipe, "the pipe", 0.0) for each in contents), 0.0
    )


def test_pipe_that_cannot_bear_the_test_is_found() -> None:
    weak = replace(CONTENTS[0], pipe=pe_pipe("PE80 SDR17 63"))
    unknown = replace(CONTENTS[0], pipe=Pipe("odd", 0.03, 0.036))
    both = level(weak, unknown)
    codes = [f.code for f in pressure_test_findings((weak, unknown), both, 15e5, 25.0)]
    assert codes == [
        "test_pressure_above_pipe", "pressure_class_unknown", "pipe_warm", "never_test_with_air",
    ]  # fmt: skip
    (first, *_) = pressure_test_findings((weak,), level(weak), 9e5)
    assert first.code == "test_pressure_above_class"


def test_air_stores_hundreds_of_times_the_energy_of_water() -> None:
    message = [*pressure_test_findings(CONTENTS, level(*CONTENTS), STP)][-1].message
    assert int(message.split(" times")[0].split()[-1]) > 100
