"""Line and cylindrical sources: invariants of conduction. Published values: tests/published."""

import numpy as np
import pytest

from hydraulics.errors import InputError
from hydraulics.ground.line_source import (
    cylindrical_source_correction,
    infinite_cylindrical_source,
    infinite_line_source,
    segment_pair_kernel,
    tail_integrals,
)
from tests.published.finite_line import line_pair_kernel

YEAR = 365.25 * 86_400.0


def test_all_heat_given_by_the_line_is_found_in_the_ground() -> None:
    # Energy: the integral of (rho c) dT over the plane is the heat given so far, q t.
    k, alpha, t = 2.0, 1.0e-6, 30.0 * 86_400.0
    log_r, step = np.linspace(np.log(1e-6), np.log(100.0), 4001, retstep=True)
    r = np.exp(log_r)
    per_ring = 2.0 * np.pi * r**2 * infinite_line_source(t, r, k, alpha)
    stored = k / alpha * per_ring.sum() * step
    assert stored == pytest.approx(t, rel=1e-6)  # trapezoid in ln r: geometric convergence


def test_nothing_is_felt_at_time_zero() -> None:
    assert infinite_line_source(0.0, 0.06, 2.0, 1e-6) == 0.0


def test_the_cylinder_matters_for_hours_and_not_for_years() -> None:
    time = np.array([6.0 * 3600.0, YEAR, 50.0 * YEAR])
    extra = cylindrical_source_correction(time, 0.06, 2.0, 1e-6) / infinite_line_source(
        time, 0.06, 2.0, 1e-6
    )
    assert 0.05 < extra[0] < 0.12
    assert np.abs(extra[1:]).max() < 1e-4


def test_segments_together_make_the_whole_line() -> None:
    s = np.geomspace(1e-3, 50.0, 40)
    edges = np.array([2.0, 5.0, 40.0, 90.0, 102.0])
    share = np.diff(edges) / 100.0
    whole = np.einsum("u,muv->m", share, segment_pair_kernel(s, edges))
    assert whole == pytest.approx(line_pair_kernel(s, 100.0, 2.0), rel=1e-9)


def test_tail_integrals_match_a_known_antiderivative() -> None:
    lower = np.array([-8.0, -3.3, 0.0, 1.9, 2.0, 5.0])
    nodes, matrix = tail_integrals(lower, 2.0)
    exact = np.exp(2.0) - np.exp(np.minimum(lower, 2.0))
    assert matrix @ np.exp(nodes) == pytest.approx(exact, abs=1e-12)  # degree 11 in each panel


@pytest.mark.parametrize("radius", [0.0, -1.0, np.nan, np.inf])
def test_an_impossible_radius_is_refused_by_name(radius: float) -> None:
    with pytest.raises(InputError, match="radius") as refused:
        infinite_line_source(1.0, radius, 2.0, 1e-6)
    assert refused.value.faults[0].field == "radius"


@pytest.mark.parametrize("fourier", [1e4, 1e6, 1e8, 1e10])
def test_from_afar_in_time_a_cylinder_is_a_line(fourier: float) -> None:
    # Carslaw and Jaeger, 13.5: for large times the cylinder's wall follows the line source, to
    # ln(Fo)/(2 Fo) or so. Each time by itself, so that the integral ends where that time asks.
    r, k, alpha = 0.06, 2.0, 1e-6
    time = fourier * r**2 / alpha
    ratio = infinite_cylindrical_source(time, r, k, alpha) / infinite_line_source(time, r, k, alpha)
    assert ratio == pytest.approx(1.0, abs=max(1e-7, 3.0 * np.log(fourier) / fourier))


@pytest.mark.parametrize("fourier", [1e-8, 1e-6, 1e-5])
def test_at_first_a_cylinder_is_a_plane(fourier: float) -> None:
    # Carslaw and Jaeger, 2.9: 2 q/k sqrt(alpha t/pi) under a steady heat flux q, here a watt per
    # metre over 2 pi r; what the curvature takes off is of the order of sqrt(Fo).
    r, k, alpha = 0.06, 2.0, 1e-6
    time = fourier * r**2 / alpha
    plane = 2.0 / (2.0 * np.pi * r) / k * np.sqrt(alpha * time / np.pi)
    found = infinite_cylindrical_source(time, r, k, alpha)
    assert found == pytest.approx(plane, rel=np.sqrt(fourier))


def test_a_wall_that_was_not_heated_yet_is_as_it_was() -> None:
    assert infinite_cylindrical_source([0.0, 1.0], 0.06, 2.0, 1e-6)[0] == 0.0
