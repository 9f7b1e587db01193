"""Refusals of the benchmark functions; their published values are in tests/published."""

import math

import pytest

from hydraulics.errors import InputError
from hydraulics.pumps.benchmarks import (
    TOLERANCES,
    pumping_benchmark,
    tolerance,
)


def test_an_unknown_tolerance_grade_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError) as caught:
        tolerance("4B")
    assert "up_to_10_kw" in caught.value.faults[0].allowed


def test_every_tolerance_says_where_it_comes_from() -> None:
    for grade in TOLERANCES.values():
        assert ("read" in grade.source) or ("from memory" in grade.source)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_power_and_heat_of_the_benchmark_must_be_positive(bad: float) -> None:
    with pytest.raises(InputError):
        pumping_benchmark(bad, 8000.0)
    with pytest.raises(InputError):
        pumping_benchmark(80.0, bad)
