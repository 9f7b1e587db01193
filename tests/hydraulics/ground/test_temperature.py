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
