"""Losses add up, scale with count, and bad coefficients are refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.pipework.fittings import (
    FITTING_KINDS,
    NO_LOSS,
    Fitting,
    Loss,
    darby_constants,
    kv_from_loss,
    loss_from_coefficient,
    loss_from_kv,
    loss_of_kind,
)

sizes = st.floats(0.0, 1e9)


@given(sizes, sizes, sizes, sizes)
def test_losses_in_series_add_up_in_both_terms(a: float, b: float, c: float, d: float) -> None:
    both = Loss(a, b) + Loss(c, d)
    assert (both.square, both.linear) == (a + c, b + d)


def test_eight_elbows_are_eight_times_one() -> None:
    one = loss_of_kind("elbow_90", 0.026)
    eight = NO_LOSS
    for _ in range(8):
        eight = eight + one
    counted = Fitting("elbow_90", count=8).loss(0.026)
    assert counted.square == pytest.approx(eight.square)
    assert counted.linear == pytest.approx(eight.linear)


def test_kv_of_valves_in_series_follows_the_usual_rule() -> None:
    # 1/Kv^2 adds up in series (from the definition of Kv).
    together = kv_from_loss(loss_from_kv(4.0) + loss_from_kv(3.0))
    assert together == pytest.approx((4.0**-2 + 3.0**-2) ** -0.5)


def test_no_loss_has_an_infinite_kv() -> None:
    assert kv_from_loss(NO_LOSS) == math.inf


@pytest.mark.parametrize("kind", FITTING_KINDS)
def test_a_smaller_bore_takes_more_at_the_same_flow(kind: str) -> None:
    small, large = loss_of_kind(kind, 0.020), loss_of_kind(kind, 0.026)
    assert small.square > large.square > 0.0
    assert small.linear >= large.linear >= 0.0


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_a_coefficient_that_cannot_be_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="coefficient"):
        loss_from_coefficient(bad, 0.026)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_kv_that_cannot_be_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="kv"):
        loss_from_kv(bad)


def test_an_unknown_kind_is_refused_with_the_nearest() -> None:
    with pytest.raises(InputError) as refused:
        darby_constants("elbow90")
    fault = refused.value.faults[0]
    assert fault.field == "kind"
    assert "did you mean 'elbow_90'" in fault.message
    assert "globe_valve" in fault.allowed


def test_each_of_equal_pipes_takes_its_share_of_the_flow() -> None:
    # Δp = a Q² + b Q at the flow of one of three pipes, told by the flow of all.
    one = Loss(7.0, 5.0)
    shared = one.in_each(3)
    for flow in (0.6, 2.4):
        assert shared.square * flow**2 + shared.linear * flow == pytest.approx(
            one.square * (flow / 3) ** 2 + one.linear * (flow / 3)
        )
