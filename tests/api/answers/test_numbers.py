"""How numbers are rounded, and what is never sent as one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from api.answers.numbers import (
    exact,
    given,
    known,
    limits,
    number,
    one_percent,
    percent,
    raised,
    round_one,
    rounded,
    short,
    signed,
)

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


# Written out by hand: thousands parted by commas, a true minus (U+2212), trailing zeros kept.
@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.0, 4, "0"), (0, 4, "0"), (1234, 2, "1,234"), (-1234, 2, "−1,234"),
        (1234.5, 4, "1,234"), (1234.5, 5, "1,234.5"), (0.0123449, 4, "0.01234"),
        (-3.5, 2, "−3.5"), (3.5, 4, "3.500"), (99.99, 3, "100.0"), (12.0, 1, "12"),
        (1e-5, 3, "0.0000100"), (9.99e-6, 3, "9.99 × 10⁻⁶"), (-2.5e-7, 2, "−2.5 × 10⁻⁷"),
        (999999999.0, 4, "1,000,000,000"), (26145400.0, 4, "26,150,000"),
        (1e9, 4, "1.000 × 10⁹"), (1.25e12, 3, "1.25 × 10¹²"),
    ],
)  # fmt: skip
def test_numbers_are_written_to_significant_digits(value: float, digits: int, text: str) -> None:
    assert number(value, digits) == text


def test_four_digits_are_usual() -> None:
    assert number(1 / 3) == "0.3333"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"), (25, "25"), (-25, "−25"), (25.0, "25"), (0.5, "0.5"), (-0.25, "−0.25"),
        (1234.5, "1,234.5"), (0.1 + 0.2, "0.3"), (1 / 3, "0.333333"), (1e6, "1,000,000"),
        (2e-9, "0.000000002"), (1e-9, "1e−09"), (-3e-12, "−3e−12"), (1e15, "1e+15"),
        (9e14, "900,000,000,000,000"),
    ],
)  # fmt: skip
def test_a_number_is_repeated_as_it_was_given(value: float, text: str) -> None:
    assert given(value) == text


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(3.5, 3, "3.5"), (3.0, 3, "3"), (0.300, 3, "0.3"), (1234.5, 3, "1,234"), (120.0, 3, "120"),
     (2.5e-7, 3, "2.50 × 10⁻⁷"), (-0.1, 2, "−0.1"), (100, 3, "100")],
)  # fmt: skip
def test_in_a_sentence_trailing_zeros_go(value: float, digits: int, text: str) -> None:
    assert short(value, digits) == text
    assert short(0.12345) == "0.123"


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [(1.25, 1, "+1.2"), (-1.26, 1, "−1.3"), (0.04, 1, "0.0"), (-0.04, 1, "0.0"), (0.4, 0, "0"),
     (-0.6, 0, "−1"), (0.004, 2, "0.00"), (12.0, 2, "+12.00")],
)  # fmt: skip
def test_a_deviation_is_written_with_its_sign(value: float, places: int, text: str) -> None:
    assert signed(value, places) == text
    assert signed(2.0) == "+2.0"


def test_exponents_are_raised() -> None:
    assert raised(-1234567890) == "⁻¹²³⁴⁵⁶⁷⁸⁹⁰"


def test_very_large_and_very_small_numbers_round_too() -> None:
    assert rounded([123456789e12, -1.23456789e-16]) == [1.23457e20, -1.23457e-16]
    assert round_one(1.2345649e-300) == 1.23456e-300


def test_minus_one_is_given_as_minus_one() -> None:
    assert (given(-1.0), number(-1.0), short(-1.0)) == ("−1", "−1.000", "−1")
    assert given(-0.0) == "0"


# By hand: up for the lower, down for the higher, to so many significant digits.
@pytest.mark.parametrize(
    ("low", "high", "digits", "expected"),
    [
        (10.85425, 11.7, 6, (10.8543, 11.7)),
        (10.85421, 11.99999, 3, (10.9, 11.9)),
        (14.2, 15.7, 3, (14.2, 15.7)),
        (0.1 + 0.2, 1.1 * 3.0, 6, (0.3, 3.3)),
        (10.01, 10.03, 3, (10.01, 10.03)),  # three digits would leave nothing between
    ],
)
def test_limits_are_rounded_inwards(
    low: float, high: float, digits: int, expected: tuple[float, float]
) -> None:
    assert limits(low, high, digits) == expected
