"""Behaviour of the viscosity correction; its published values are in tests/published."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError, RangeError
from hydraulics.pumps.viscosity import ansi_hi_9_6_7, correction_from_water


def test_water_like_fluids_need_no_correction() -> None:
    correction = ansi_hi_9_6_7(1e-6, 0.05, 30.0, 2900.0)
    assert correction.parameter_b < 1.0
    assert correction.flow_factor == correction.efficiency_factor == 1.0
    assert correction.within_range
    assert correction.note == ""


@pytest.mark.parametrize("nu", [0.4e-6, 1.0e-6, 1.004e-6])
def test_a_small_pump_on_water_gives_what_its_table_on_water_says(nu: float) -> None:
    # B is 2.4 at 20 °C; by definition of the table nothing is to be corrected.
    assert ansi_hi_9_6_7(1.004e-6, 0.3e-3, 3.0, 2700.0).efficiency_factor < 0.95
    found = correction_from_water(nu, 0.3e-3, 3.0, 2700.0)
    assert found.flow_factor == found.best_head_factor == found.efficiency_factor == 1.0
    assert found.note == ""
    near = correction_from_water(1.005e-6, 0.3e-3, 3.0, 2700.0)
    assert near.efficiency_factor == pytest.approx(1.0, abs=1e-3)  # without a jump
    # A large pump has B below 1 on water: the standard's own factors.
    large = (1e-4, 0.05, 30.0, 2900.0)
    assert correction_from_water(*large) == ansi_hi_9_6_7(*large)


@given(st.floats(1e-6, 4e-5), st.floats(1.01, 2.0))
def test_more_viscosity_never_raises_a_factor(nu: float, more: float) -> None:
    thin, thick = (ansi_hi_9_6_7(v, 1e-3, 8.0, 2900.0) for v in (nu, nu * more))
    assert thick.flow_factor <= thin.flow_factor <= 1.0
    assert thick.efficiency_factor <= thin.efficiency_factor <= 1.0


def test_head_at_no_flow_is_untouched_and_at_best_flow_takes_the_flow_factor() -> None:
    correction = ansi_hi_9_6_7(1e-5, 1e-3, 8.0, 2900.0)
    assert correction.head_factor(0.0) == 1.0
    assert correction.head_factor(1e-3) == pytest.approx(correction.flow_factor, rel=1e-14)


def test_a_small_circulator_is_corrected_but_said_to_be_outside_the_tests() -> None:
    correction = ansi_hi_9_6_7(5e-6, 0.5e-3, 4.0, 2700.0)
    assert not correction.within_range
    assert "1.8 m³/h, tested 3 to 259" in correction.note
    assert "4 m, tested 6.1 to 131" in correction.note


def test_a_table_that_ends_before_best_efficiency_is_said() -> None:
    correction = ansi_hi_9_6_7(5e-6, 2e-3, 9.0, 2900.0, best_point_at_end_of_table=True)
    assert not correction.within_range
    assert "best efficiency" in correction.note


def test_beyond_b_of_40_the_method_refuses() -> None:
    with pytest.raises(RangeError, match="ask its maker"):
        ansi_hi_9_6_7(2e-3, 0.5e-3, 4.0, 2700.0)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize("index", range(4))
def test_each_input_must_be_positive_and_finite(bad: float, index: int) -> None:
    given_values = [5e-6, 1e-3, 8.0, 2900.0]
    given_values[index] = bad
    with pytest.raises(InputError) as caught:
        ansi_hi_9_6_7(*given_values)
    names = ("viscosity", "best_flow", "best_head", "speed")
    assert caught.value.faults[0].field == names[index]
