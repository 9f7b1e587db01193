"""What is drawn, superposition in time, and brine along a pipe: fast forms are the plain ones."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from hydraulics.errors import InputError
from hydraulics.ground.line_source import infinite_line_source
from hydraulics.ground.load_history import (
    BrineLimits,
    GroundLoad,
    Life,
    LimitingLoad,
    fall_at_end,
    length_to_end,
    life_of,
    loaded_months,
    wall_temperature_history,
)


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


def test_peaks_of_both_seasons_fall_in_their_own_months() -> None:
    load = GroundLoad(
        MONTHLY, 6000.0, 24.0, peak_months=(1, 12), cold_peak=1500.0, cold_months=(6, 12)
    )
    assert load.checked.tolist() == [6000.0, 2000.0, 2000.0, *[900.0] * 8, 6000.0]
    assert load.checked_warm[[0, 5, 11]].tolist() == [2000.0, -1500.0, -1500.0]
    assert (np.delete(load.checked_warm, [5, 11]) == np.delete(load.monthly, [5, 11])).all()


def test_a_mean_that_puts_back_more_than_the_peak_of_cold_stands_for_it() -> None:
    load = GroundLoad(MONTHLY, 6000.0, 24.0, cold_peak=100.0, cold_months=(12,))
    assert load.checked_warm[-1] == -300.0


SEASONS = st.lists(st.floats(-3000.0, 3000.0), min_size=12, max_size=12)


@given(
    monthly=SEASONS, peak=st.floats(3000.0, 9e3), cold=st.floats(3000.0, 9e3), along=st.booleans()
)
def test_heat_and_cold_are_mirror_images(
    monthly: list[float], peak: float, cold: float, along: bool
) -> None:
    """What is drawn put in instead, in ground as far from the other limit: the same margin."""
    monthly[0], monthly[6] = 1000.0, -1000.0
    response = 0.3 * np.log1p(np.arange(1, 37))

    def life(sign: float, most: float, other: float) -> Life:
        load = GroundLoad(
            tuple(sign * each for each in monthly), most, 24.0,
            peak_months=(1,) if sign > 0.0 else (7,),
            cold_peak=other, cold_months=(7,) if sign > 0.0 else (1,),
        )  # fmt: skip
        # One flow: the greater peak's, whichever it is.
        months = loaded_months(load, 3, 3.0)
        falls = wall_temperature_history(months.draws, response)
        return life_of(months, falls, (0.2, 0.2), (0.1, 0.1), (10.0, 10.0), along_pipe=along)

    one = life(1.0, peak, cold).at(200.0, BrineLimits(2.0, 18.0))
    other = life(-1.0, cold, peak).at(200.0, BrineLimits(2.0, 18.0))
    assert one.margin == pytest.approx(other.margin, abs=1e-9)
    assert one.warmest_return == pytest.approx(20.0 - other.coldest_return, abs=1e-9)
    assert one.drift == pytest.approx(-other.drift, abs=1e-9)
    assert one.limiting.month == other.limiting.month


@pytest.mark.parametrize("along", [True, False])
def test_brine_between_two_films_is_told_with_the_worse(along: bool) -> None:
    """A film that gives way between 11 and 12 degC: warm brine would have it thin, and then thick.

    By hand: 100 m, the month's 1 kW and no peak; brine's mean is 10 - 10 R and 10 + 10 R.
    """
    load = GroundLoad((1000.0,) * 6 + (-1000.0,) * 6, 1000.0, 24.0, cold_peak=1000.0,
                      cold_months=tuple(range(7, 13)))  # fmt: skip
    months = loaded_months(load, 1, 2.0)
    life = life_of(months, np.zeros(12), (0.0, 0.0), (0.1, 0.1), (10.0, 10.0), along_pipe=along)

    def film(mean: np.ndarray) -> np.ndarray:
        return np.asarray(np.interp(mean, [11.49, 11.51], [0.2, 0.1]))

    found = life.at_own_film(100.0, BrineLimits(0.0, 30.0), film)
    thick = life_of(months, np.zeros(12), (0.0, 0.0), (0.2, 0.2), (10.0, 10.0), along_pipe=along)
    worst = thick.at(100.0, BrineLimits(0.0, 30.0))
    assert found.coldest_return == pytest.approx(worst.coldest_return, abs=1e-9)
    assert found.warmest_return == pytest.approx(worst.warmest_return, abs=1e-9)


def test_the_part_that_governs_is_the_largest_whichever_way_it_goes() -> None:
    part = LimitingLoad("upper", 1, 7, 10.0, -3.0, -8.0, -5.0, -1.5)
    assert part.governs == "peak"


@pytest.mark.parametrize("change", [-8.0, -0.5, 0.5, 3.0, 12.0])
@pytest.mark.parametrize("mean", [0.8, 2.0, 7.0])
def test_brine_at_a_pipe_s_end_is_that_of_its_equation_integrated(
    change: float, mean: float
) -> None:
    # Source: dT/dx = (ground - T) / r along a pipe of length 1, integrated by SciPy from an inlet
    # that is sought until the brine changes by `change`; r then gives the mean below the ground.
    sign = math.copysign(1.0, change)

    def along(number: float) -> tuple[float, float]:
        inlet = abs(change) / -math.expm1(-number)  # below ground, so that the change is met
        course = solve_ivp(
            lambda _, t: [-number * t[0], t[0]], (0.0, 1.0), [inlet, 0.0], rtol=1e-10, atol=1e-12
        )
        end, area = course.y[:, -1]
        assert inlet - end == pytest.approx(abs(change), rel=1e-8)
        return float(end), float(area)

    number = brentq(lambda n: along(n)[1] - mean, 1e-3, 60.0)
    end = along(number)[0]
    assert fall_at_end(0.0, sign * mean, change) == pytest.approx(sign * end, abs=1e-7)
    # Months and peak share the mean; months that help are the same everywhere along the pipe.
    assert fall_at_end(sign * 0.3, sign * (mean - 0.3), change) == pytest.approx(
        sign * end, abs=1e-7
    )
    assert fall_at_end(-sign * 0.3, sign * mean, change) == pytest.approx(
        sign * (end - 0.3), abs=1e-7
    )
    assert length_to_end(mean, abs(change), end) == pytest.approx(1.0, rel=1e-6)


def test_brine_that_changes_little_ends_at_half_its_change_over_the_mean() -> None:
    assert fall_at_end(1.0, 2.0, 0.0) == 3.0
    assert fall_at_end(1.0, 2.0, 1e-3) == pytest.approx(3.0 - 0.5e-3, abs=1e-6)
    assert fall_at_end(0.0, 0.001, 12.0) == pytest.approx(0.0, abs=1e-12)
    assert fall_at_end(0.0, 0.0, 3.0) == 0.0
