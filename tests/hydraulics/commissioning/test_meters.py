import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.commissioning.meters import (
    coarse_finding,
    expected_readings,
    judge_readings,
    outside_findings,
)
from hydraulics.errors import InputError

FLOW = 0.25e-3  # m3/s, 15 L/min


def test_the_reading_is_in_litres_per_minute() -> None:
    (reading,) = expected_readings(["T1"], [FLOW], [FLOW])
    assert reading.expected_l_min == pytest.approx(15.0)


@given(st.floats(1e-5, 1e-2), st.floats(0.02, 0.5), st.floats(0.0, 0.99), st.floats(-1.0, 1.0))
def test_a_reading_in_the_band_proves_the_flow(
    flow: float, tolerance: float, part: float, at: float
) -> None:
    accuracy = tolerance * part
    (band,) = expected_readings(["T"], [flow], [flow], tolerance=tolerance, meter_accuracy=accuracy)
    assert band.lowest < band.expected < band.highest
    reading = band.lowest + 0.5 * (1.0 + at) * (band.highest - band.lowest)
    for error in (-accuracy, accuracy):
        true = reading * (1.0 + error)  # an error of the reading
        assert (1.0 - tolerance) * flow * (1 - 1e-9) <= true
        assert true <= (1.0 + tolerance) * flow * (1 + 1e-9)


def test_readings_are_judged_by_their_shares() -> None:
    bands = expected_readings(["A", "B"], [FLOW, FLOW], [FLOW, FLOW])
    assert judge_readings(bands, [0.8 * FLOW, 1.2 * FLOW]) == ("low", "high")
    assert judge_readings(bands, [3.0 * FLOW, 3.0 * FLOW]) == ("within", "within")
    assert judge_readings(bands, [0.0, 0.0]) == ("low", "low")


# By hand, of ±10 % with meters of 5 %: 0.8 read is at most 0.84 and 1.2 at least 1.14, both off;
# 1.07 read is 1.017 to 1.124, off or not. Formerly nothing was found of either.
@pytest.mark.parametrize(
    ("read", "severity", "names"),
    [((1.0, 1.02, 0.98), None, ()), ((0.8, 1.2, 1.0), "error", ("A has 20 % too little",)),
     ((0.8, 1.2, 1.0), "error", ("B has 20 % too much",)),
     ((1.07, 1.0, 0.93), "warning", ("A has 7 % too much", "C has 7 % too little"))],
)  # fmt: skip
def test_a_share_outside_its_band_is_an_error_where_no_meter_could_be_so_wrong(
    read: tuple[float, ...], severity: str | None, names: tuple[str, ...]
) -> None:
    bands = expected_readings(["A", "B", "C"], [FLOW] * 3, [FLOW] * 3)
    verdicts = judge_readings(bands, [each * FLOW for each in read])
    offs = [each - 1.0 for each in read]
    found = list(outside_findings(bands, verdicts, offs, tolerance=0.1, accuracy=0.05))
    assert [each.severity for each in found] == ([severity] if severity else [])
    for name in names:
        assert name in found[0].message


@pytest.mark.parametrize(
    ("shares", "times"),
    [([1.0, 4.0], 1.13), ([15.0, 15.0, 70.0], 1.11), ([1.0, 1.0, 1.0], 1.0), ([1.0], 1.0)],
)
def test_the_band_of_a_share_that_is_less_certain_is_narrower(
    shares: list[float], times: float
) -> None:
    flows = [FLOW * each for each in shares]
    band, *_ = expected_readings([str(n) for n in range(len(shares))], flows, flows)
    assert band.lowest == pytest.approx(0.9 / (1.0 - 0.05 * times) * flows[0], rel=5e-4)
    assert band.highest == pytest.approx(1.1 / (1.0 + 0.05 * times) * flows[0], rel=5e-4)
    # By trial: what a share is off by over what one reading is, of readings off at random.
    true = np.asarray(flows)
    read = true * (1.0 + np.random.default_rng(7).normal(0.0, 0.01, (100_000, true.size)))
    off = (read / read.sum(axis=1, keepdims=True))[:, 0] / (true[0] / true.sum()) - 1.0
    assert float(off.std()) / 0.01 <= times * 1.01  # of the trial's own scatter


def test_shares_that_the_meters_cannot_show_have_no_band() -> None:
    flows = [FLOW, 4.0 * FLOW]
    bands = expected_readings(["A", "B"], flows, flows, tolerance=0.1, meter_accuracy=0.095)
    assert [each.has_band for each in bands] == [False, True]
    told = coarse_finding(bands, 0.095, 0.1).message
    assert "error of 9.5 % of its reading shows the share of A by 10.7 % only" in told


def test_a_meter_coarser_than_the_tolerance_is_refused() -> None:
    with pytest.raises(InputError, match="meter_accuracy"):
        expected_readings(["T"], [FLOW], [FLOW], tolerance=0.05, meter_accuracy=0.05)


@pytest.mark.parametrize("bad", [0.0, -1e-4, math.nan, math.inf])
def test_a_flow_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match=r"flows\.1"):
        expected_readings(["A", "B"], [FLOW, bad], [FLOW, FLOW])


def test_every_loop_needs_a_flow() -> None:
    with pytest.raises(InputError, match="one flow for every loop"):
        expected_readings(["A", "B"], [FLOW], [FLOW])
