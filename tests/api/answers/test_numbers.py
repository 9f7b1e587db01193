"""How numbers are rounded, and what is never sent as one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from api.answers.numbers import exact, known, one_percent, percent, round_one, rounded

# (number, six significant digits of it): worked out by hand.
ROUNDED = [
    (0.0, 0.0), (-0.0, 0.0), (1 / 3, 0.333333), (-2 / 3, -0.666667), (123456789.0, 123457000.0),
    (1e-12 / 3, 3.33333e-13), (999999.5, 1e6), (0.1 + 0.2, 0.3), (1e300, 1e300),
]  # fmt: skip


@pytest.mark.parametrize(("value", "expected"), ROUNDED)
def test_numbers_are_rounded_to_six_significant_digits(value: float, expected: float) -> None:
    for result in (rounded([value])[0], round_one(value)):
        assert result == expected
        assert math.copysign(1, result) == 1 or result < 0


def test_what_is_too_small_for_any_quantity_is_nothing() -> None:
    assert rounded([5e-324]) == [0.0]


def test_lists_are_as_deep_as_they_were() -> None:
    assert rounded([[1 / 3, 2.0], [3.0, 4.0]]) == [[0.333333, 2.0], [3.0, 4.0]]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_not_rounded_away(value: float) -> None:
    with pytest.raises(FloatingPointError):
        rounded([1.0, value])
    with pytest.raises(FloatingPointError):
        round_one(value)


def test_what_is_decided_keeps_twelve_digits_and_loses_the_rounding_of_conversions() -> None:
    assert exact(0.1 + 0.2) == 0.3
    assert exact(100 / 3) == 33.3333333333
    assert math.copysign(1, exact(-0.0)) == 1


def test_what_is_not_known_is_left_out() -> None:
    assert known({"a": 1 / 3, "b": None, "c": math.inf, "d": 0.0}) == {"a": 0.333333, "d": 0.0}


def test_the_rounding_of_a_solver_is_no_deviation() -> None:
    assert percent(np.array([1e-10, -1e-10, 0.123456789])).tolist() == [0.0, 0.0, 12.345679]
    assert one_percent(1e-10) == 0.0
    assert one_percent(0.123456789) == 12.3457
