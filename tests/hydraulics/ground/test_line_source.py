"""Line and cylindrical sources: invariants of conduction. Published values: tests/published."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.ground.line_source import (
    cylindrical_source_correction,
    finite_line_source_claesson_javed,
    infinite_line_source,
    line_pair_kernel,
    segment_pair_kernel,
    tail_integrals,
)

YEAR = 365.25 * 86_400.0
sizes = st.floats(0.05, 50.0)


def test_all_heat_given_by_the_line_is_found_in_the_ground() -> None:
    # Energy: the integral of (rho c) dT over the plane is the heat given so far, q t.
    k, alpha, t = 2.0, 1.0e-6, 30.0 * 86_400.0
    log_r, step = np.linspace(np.log(1e-6), np.log(100.0), 4001, retstep=True)
    r = np.exp(log_r)
    per_ring = 2.0 * np.pi * r**2 * infinite_line_source(t, r, k, alpha)
    stored = k / alpha * per_ring.sum() * step
    assert stored == pytest.approx(t, rel=1e-6)  # trapezoid in ln r: geometric convergence


@given(radius=sizes, first=st.floats(1e3, 1e9), factor=st.floats(1.0, 100.0))
def test_response_never_falls_with_time(radius: float, first: float, factor: float) -> None:
    pair = finite_line_source_claesson_javed(
        [first, first * factor], radius, depth=100.0, buried=2.0, conductivity=2.0, diffusivity=1e-6
    )
    assert pair[1] >= pair[0] - 1e-12  # rounding of the quadrature


@given(radius=sizes, farther=st.floats(1.0, 10.0), time=st.floats(1e3, 1e9))
def test_response_never_rises_with_distance(radius: float, farther: float, time: float) -> None:
    pair = finite_line_source_claesson_javed(
        time,
        [radius, radius * farther],
        depth=100.0,
        buried=2.0,
        conductivity=2.0,
        diffusivity=1e-6,
    )
    assert pair[1] <= pair[0] + 1e-12


@given(depth=st.floats(10.0, 500.0), radius=sizes, time=st.floats(1e3, 3e9))
def test_a_finite_line_never_exceeds_an_infinite_one(
    depth: float, radius: float, time: float
) -> None:
    finite = finite_line_source_claesson_javed(
        time, radius, depth=depth, buried=0.0, conductivity=2.0, diffusivity=1e-6
    )
    assert finite <= infinite_line_source(time, radius, 2.0, 1e-6) + 1e-12


def test_a_very_deep_line_is_an_infinite_line() -> None:
    time = np.array([1.0, 30.0, 365.0]) * 86_400.0
    deep = finite_line_source_claesson_javed(
        time, 0.06, depth=1e6, buried=1e4, conductivity=2.0, diffusivity=1e-6
    )
    # The ends reach in by sqrt(alpha t), 6 m in 1e6 m.
    assert deep == pytest.approx(infinite_line_source(time, 0.06, 2.0, 1e-6), rel=2e-5)


def test_nothing_is_felt_at_time_zero() -> None:
    assert infinite_line_source(0.0, 0.06, 2.0, 1e-6) == 0.0
    assert (
        finite_line_source_claesson_javed(
            0.0, 0.06, depth=100.0, buried=2.0, conductivity=2.0, diffusivity=1e-6
        )
        == 0.0
    )


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
