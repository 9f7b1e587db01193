"""What is drawn, and superposition in time: the fast sum is the plain sum."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.ground.line_source import infinite_line_source
from hydraulics.ground.load_history import GroundLoad, wall_temperature_history


def _response(steps: int) -> np.ndarray:
    return infinite_line_source(np.arange(1, steps + 1) * 2.6e6, 0.06, 2.0, 1e-6)


def _direct(loads: np.ndarray, response: np.ndarray) -> np.ndarray:
    """Every change of load, each with its own age: nothing is convolved."""
    fall = np.zeros(loads.size)
    changes = np.diff(loads, prepend=0.0)
    for end in range(loads.size):
        for begun in range(end + 1):
            fall[end] += changes[begun] * response[end - begun]
    return fall


def test_the_fast_sum_equals_the_direct_sum_of_fifty_years_of_months() -> None:
    loads = np.random.default_rng(7).normal(10.0, 30.0, 600)
    response = _response(600)
    # Rounding only: 600 terms of some 30 W/m times 0.5 K/(W/m).
    assert wall_temperature_history(loads, response) == pytest.approx(
        _direct(loads, response), abs=1e-10
    )


@given(
    st.lists(st.floats(-100.0, 100.0), min_size=24, max_size=24),
    st.lists(st.floats(-100.0, 100.0), min_size=24, max_size=24),
    st.floats(-3.0, 3.0),
)
def test_temperatures_add_as_loads_add(one: list[float], two: list[float], factor: float) -> None:
    response = _response(24)
    together = wall_temperature_history(np.array(one) + factor * np.array(two), response)
    apart = wall_temperature_history(one, response) + factor * wall_temperature_history(
        two, response
    )
    assert together == pytest.approx(apart, abs=1e-9)


def test_a_constant_load_gives_the_step_response_itself() -> None:
    response = _response(240)
    assert wall_temperature_history(np.full(240, 20.0), response) == pytest.approx(
        20.0 * response, rel=1e-10
    )


def test_a_load_does_not_act_before_it_begins() -> None:
    loads = np.zeros(36)
    loads[12] = 50.0
    fall = wall_temperature_history(loads, _response(36))
    assert fall[:12] == pytest.approx(0.0, abs=1e-12)
    assert fall[12] > 1.0


def test_unequal_lengths_are_refused() -> None:
    with pytest.raises(InputError) as refused:
        wall_temperature_history([1.0, 2.0], [0.1, 0.2, 0.3])
    assert refused.value.faults[0].field == "response"


def test_a_load_that_is_not_finite_is_refused() -> None:
    with pytest.raises(InputError, match="step_loads"):
        wall_temperature_history([1.0, np.inf], [0.1, 0.2])


MONTHLY = (2000.0,) * 3 + (900.0,) * 8 + (-300.0,)


def test_months_come_in_order_of_operation_and_are_checked_at_the_peak() -> None:
    load = GroundLoad(MONTHLY, 6000.0, 24.0, 12)
    assert load.draws.tolist() == [-300.0, *[2000.0] * 3, *[900.0] * 8]
    assert load.checked.tolist() == [-300.0, *[6000.0] * 11]
    # A mean year of 8766 h, 12900 / 12 W throughout.
    assert load.full_hours == pytest.approx(8766.0 * 12900.0 / 12.0 / 6000.0)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: GroundLoad(MONTHLY[:11], 6000.0, 48.0), "monthly"),
        (lambda: GroundLoad((), 6000.0, 48.0), "monthly"),
        (lambda: GroundLoad((math.nan, *MONTHLY[1:]), 6000.0, 48.0), "monthly.0"),
        (lambda: GroundLoad(MONTHLY, 1999.0, 48.0), "peak"),
        (lambda: GroundLoad(MONTHLY, math.inf, 48.0), "peak"),
        (lambda: GroundLoad(MONTHLY, 6000.0, 1000.0), "peak_hours"),
        (lambda: GroundLoad((-1.0,) * 12, 6000.0, 48.0), "monthly"),
        (lambda: GroundLoad(MONTHLY, 6000.0, 48.0, 13), "first_month"),
    ],
)
def test_a_load_that_cannot_be_is_refused_by_name(make: Callable[[], object], field: str) -> None:
    with pytest.raises(InputError) as refused:
        make()
    assert field in [fault.field for fault in refused.value.faults]
