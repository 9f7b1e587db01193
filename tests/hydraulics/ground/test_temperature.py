import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from hydraulics.errors import InputError
from hydraulics.ground.temperature import (
    SurfaceTemperature,
    damping_depth,
    kusuda_achenbach,
    mean_over_depth,
    profile_means,
    wave_of_air,
)

SURFACE = SurfaceTemperature(mean=10.0, swing=8.0, coldest_day=35.0)


def test_depth_and_day_broadcast() -> None:
    days = np.arange(365.0)
    depths = np.array([[0.5], [1.0], [2.0]])
    assert kusuda_achenbach(SURFACE, 1e-6, depths, days).shape == (3, 365)


@given(depth=st.floats(0.0, 20.0), alpha=st.floats(1e-7, 3e-6), day=st.floats(-1000.0, 10000.0))
def test_the_ground_never_leaves_the_surface_range(depth: float, alpha: float, day: float) -> None:
    t = float(kusuda_achenbach(SURFACE, alpha, depth, day))
    assert 2.0 - 1e-9 <= t <= 18.0 + 1e-9


def test_the_wave_satisfies_the_heat_equation() -> None:
    alpha, z, t, dz, dt = 0.8e-6, 1.3, 100.0, 1e-3, 1e-3
    rate = np.diff(kusuda_achenbach(SURFACE, alpha, z, [t - dt, t + dt]))[0] / (2 * dt * 86400.0)
    low, mid, high = kusuda_achenbach(SURFACE, alpha, [z - dz, z, z + dz], t)
    assert rate == pytest.approx(alpha * (low - 2 * mid + high) / dz**2, rel=1e-3)


@given(depth=st.floats(0.0, 3.0), below=st.floats(0.0, 10.0), day=st.floats(0.0, 365.0))
def test_a_wave_measured_at_depth_is_the_same_carried_up(
    depth: float, below: float, day: float
) -> None:
    measured = SurfaceTemperature(10.0, 3.0, 60.0, depth)
    ground = [kusuda_achenbach(each, 8e-7, below, day)
              for each in (measured, measured.at_surface(8e-7))]  # fmt: skip
    assert ground[0] == pytest.approx(ground[1], abs=1e-9)  # rounding


def test_the_mean_over_depth_is_the_integral() -> None:
    mean = float(mean_over_depth(SURFACE, 0.7e-6, 0.6, 1.9, 60.0))
    area = quad(lambda z: float(kusuda_achenbach(SURFACE, 0.7e-6, z, 60.0)), 0.6, 1.9)[0]
    assert mean == pytest.approx(area / 1.3, abs=1e-9)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0])
def test_a_depth_that_is_not_usable_is_refused_by_name(bad: float) -> None:
    with pytest.raises(InputError) as caught:
        kusuda_achenbach(SURFACE, 1e-6, bad, 10.0)
    assert caught.value.faults[0].field == "depth"


def test_diffusivity_must_be_positive() -> None:
    with pytest.raises(InputError):
        damping_depth(0.0)


def test_a_swing_below_zero_is_refused() -> None:
    with pytest.raises(InputError):
        SurfaceTemperature(10.0, -1.0)


@given(depth=st.floats(0.0, 2.0), day=st.floats(0.0, 365.0), below=st.floats(0.0, 10.0))
def test_a_wave_measured_at_a_depth_is_the_wave_of_the_surface_above_it(
    depth: float, day: float, below: float
) -> None:
    """By hand: at a depth the swing is damped by exp(-z/d) and late by z/d of a radian."""
    alpha = 0.6e-6
    damped = depth / damping_depth(alpha)
    there = SurfaceTemperature(
        10.0, 8.0 * math.exp(-damped), 35.0 + damped / (2.0 * math.pi) * 365.25, depth
    )
    at = kusuda_achenbach(there, alpha, below, day)
    assert at == pytest.approx(kusuda_achenbach(SURFACE, alpha, below, day), abs=1e-9)
    mean = mean_over_depth(there, alpha, below, below + 5.0, day)
    assert mean == pytest.approx(mean_over_depth(SURFACE, alpha, below, below + 5.0, day), abs=1e-9)


@given(coldest=st.floats(1.0, 365.0), swing=st.floats(0.1, 20.0))
def test_the_months_of_a_wave_give_the_wave_back(coldest: float, swing: float) -> None:
    wave = SurfaceTemperature(9.0, swing, coldest)
    ends = 1.0 + np.arange(13) * 365.25 / 12.0
    hours = [np.linspace(a, b, 721) for a, b in itertools.pairwise(ends)]
    months = [float(np.trapezoid(kusuda_achenbach(wave, 1e-6, 0.0, t), t) / (t[-1] - t[0]))
              for t in hours]  # fmt: skip
    found = wave_of_air(months)
    assert found.mean == pytest.approx(9.0, abs=1e-4)
    assert found.swing == pytest.approx(swing, rel=1e-5)
    away = (found.coldest_day - coldest + 182.0) % 365.25 - 182.0
    assert away == pytest.approx(0.0, abs=1e-3)


def test_months_that_are_no_year_are_refused() -> None:
    with pytest.raises(InputError, match="give 12"):
        wave_of_air([1.0] * 11)
    with pytest.raises(InputError):
        wave_of_air([float("nan"), *[1.0] * 11])


def test_a_measured_profile_is_averaged_point_to_point_and_goes_on_by_the_gradient() -> None:
    # By hand: 10 at 10 m, 12 at 30 m, by 0.02 K/m 9.8 at 0 m and 12.4 at 50 m.
    still, ground = SurfaceTemperature(9.0, 0.0), (7e-7, 0.02)
    profile = ((10.0, 10.0), (30.0, 12.0))
    means = profile_means(profile, still, *ground, top=0.0, bottom=50.0)
    assert means == pytest.approx(((10 * 9.9 + 20 * 11 + 20 * 12.2) / 50,) * 2)
    # One deep point tells what the gradient makes of it.
    means = profile_means(((300.0, 16.0),), still, *ground, top=0.0, bottom=100.0)
    assert means == pytest.approx((16.0 - 0.02 * 250.0,) * 2)
    # No gradient told: the further of none and 0.03 K/m, upwards and downwards.
    means = profile_means(((20.0, 11.0),), still, 7e-7, 0.0, top=0.0, bottom=50.0)
    assert means == pytest.approx((11.0 - 0.03 * 20**2 / 2 / 50, 11.0 + 0.03 * 30**2 / 2 / 50))


def test_a_point_that_the_year_reaches_may_be_as_much_too_warm_or_cold() -> None:
    year, diffusivity = SurfaceTemperature(10.0, 8.0), 7e-7

    def means(*profile: tuple[float, float]) -> tuple[float, float]:
        return profile_means(profile, year, diffusivity, 0.02, top=1.0, bottom=61.0)

    # By the wave itself, whatever the day: what is measured at 1 m lies within it.
    true = 10.0 + 0.02 * 31.0
    for day in range(0, 360, 30):
        at = [float(kusuda_achenbach(year, diffusivity, z, day)) + 0.02 * z for z in (1.0, 6.0)]
        least, most = means((1.0, at[0]))
        assert least <= true + 1e-9
        assert most >= true - 1e-9
        # A deep point beside it tells nearly all.
        assert means((6.0, at[1]), (40.0, 10.8)) == pytest.approx((true, true), abs=0.35)
        both = means((1.0, at[0]), (15.0, 10.3), (40.0, 10.8))
        assert both == pytest.approx((true, true), abs=0.05)
