"""The heat exchanger's drop: through its points, monotone, odd, with the exact slope."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.pipework.exchanger import Exchanger

RATED = Exchanger((6.5e-4,), (14e3,))
TABLE = Exchanger((2e-4, 4e-4, 6e-4, 9e-4), (1.5e3, 5.5e3, 12e3, 26e3))
flows = st.floats(-3e-3, 3e-3)


def test_one_point_gives_the_square_law() -> None:
    assert RATED.drop(6.5e-4)[0] == pytest.approx(14e3)
    assert RATED.drop(3.25e-4)[0] == pytest.approx(14e3 / 4)
    assert RATED.drop(13e-4)[0] == pytest.approx(14e3 * 4)


def test_a_table_is_met_at_every_point() -> None:
    for flow, drop in zip(TABLE.flows, TABLE.drops, strict=True):
        assert TABLE.drop(flow)[0] == pytest.approx(drop, rel=1e-12)


def test_beyond_the_last_point_the_square_law_goes_on_from_it() -> None:
    assert TABLE.drop(18e-4)[0] == pytest.approx(26e3 * 4)
    just = TABLE.drop(9e-4 * (1 + 1e-12))[0]
    assert just == pytest.approx(26e3, rel=1e-9)


def test_an_exponent_takes_the_place_of_the_square() -> None:
    # By definition: twice the flow, 2^1.8 times the drop.
    law = Exchanger(TABLE.flows, TABLE.drops, 1.8)
    drop, slope = law.drop(-18e-4)
    assert drop == pytest.approx(-26e3 * 2**1.8)
    assert slope == pytest.approx(1.8 * drop / -18e-4)
    assert law.drop(6e-4) == TABLE.drop(6e-4)
    assert Exchanger((1e-3,), (8e3,), 1.0).drop(0.5e-3)[0] == pytest.approx(4e3)
    assert Exchanger((1e-3,), (8e3,), 1.5).drop(0.0) == (0.0, 0.0)


@pytest.mark.parametrize("exponent", [0.99, 2.01, math.nan])
def test_an_exponent_that_no_flow_has_is_refused(exponent: float) -> None:
    with pytest.raises(InputError, match="from 1"):
        Exchanger((1e-3,), (8e3,), exponent)


@pytest.mark.parametrize("exchanger", [RATED, TABLE])
def test_drop_rises_with_flow(exchanger: Exchanger) -> None:
    drops = [exchanger.drop(q)[0] for q in np.linspace(0.0, 2e-3, 500)]
    assert (np.diff(drops) > 0).all()


@given(flows)
def test_drop_is_odd_and_slope_even(flow: float) -> None:
    for exchanger in (RATED, TABLE):
        there, back = exchanger.drop(flow), exchanger.drop(-flow)
        assert there[0] == -back[0]
        assert there[1] == back[1] >= 0.0


@given(st.floats(1e-5, 8.9e-4))
def test_slope_is_that_of_finite_differences(flow: float) -> None:
    step = 1e-9
    for exchanger in (RATED, TABLE):
        measured = (exchanger.drop(flow + step)[0] - exchanger.drop(flow - step)[0]) / (2 * step)
        # second derivative up to 1e12 across a knot times the step
        assert exchanger.drop(flow)[1] == pytest.approx(measured, rel=1e-4, abs=1e3)


def test_nothing_flows_nothing_drops() -> None:
    assert RATED.drop(0.0) == (0.0, 0.0)
    assert TABLE.drop(0.0)[0] == 0.0


def test_an_exchanger_without_resistance_is_allowed() -> None:
    assert Exchanger((1e-3,), (0.0,)).drop(5e-3) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("points", "drops"),
    [
        ((), ()),
        ((1e-3,), (1e3, 2e3)),
        ((0.0,), (1e3,)),
        ((-1e-3,), (1e3,)),
        ((1e-3,), (-1.0,)),
        ((math.nan,), (1e3,)),
        ((1e-3,), (math.inf,)),
        ((1e-3, 1e-3), (1e3, 2e3)),
        ((1e-3, 2e-3), (2e3, 1e3)),
        ((1e-3, 2e-3), (0.0, 1e3)),
    ],
)
def test_points_that_cannot_be_are_refused(
    points: tuple[float, ...], drops: tuple[float, ...]
) -> None:
    with pytest.raises(InputError, match="heat_exchanger"):
        Exchanger(points, drops)
