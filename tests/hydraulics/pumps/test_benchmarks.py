"""Refusals of the benchmark functions; their published values are in tests/published."""

import math

import pytest

from hydraulics.errors import InputError
from hydraulics.pumps.benchmarks import (
    TOLERANCES,
    eu_641_2009_index,
    eu_641_2009_reference_power,
    kavanaugh_rafferty_grade,
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
        kavanaugh_rafferty_grade(bad, 8000.0)
    with pytest.raises(InputError):
        kavanaugh_rafferty_grade(80.0, bad)


@pytest.mark.parametrize("bad", [0.5, 2501.0, math.nan])
def test_the_index_is_refused_outside_the_powers_of_the_regulation(bad: float) -> None:
    with pytest.raises(InputError, match="1 to 2500 W"):
        eu_641_2009_reference_power(bad)


def test_the_index_needs_four_positive_powers_and_heads() -> None:
    with pytest.raises(InputError, match="100, 75, 50 and 25"):
        eu_641_2009_index(1e-3, 5.0, [80.0], [5.0])
    with pytest.raises(InputError) as caught:
        eu_641_2009_index(1e-3, 5.0, [80.0, 70, 60, 0], [5.0, 4, 3, math.nan])
    assert [f.field for f in caught.value.faults] == ["power_w.3", "head_m.3"]
