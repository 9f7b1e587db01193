"""Line and cylindrical sources against published values and an independent integration."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import erfc

from hydraulics.ground.line_source import infinite_cylindrical_source, infinite_line_source
from tests.published.finite_line import finite_line_source_claesson_javed


@pytest.mark.parametrize(
    ("argument", "e1"),
    # Abramowitz and Stegun, Handbook of Mathematical Functions, Table 5.1 (from memory).
    [(0.001, 6.3315), (0.01, 4.0379), (0.1, 1.8229), (1.0, 0.21938)],
)
def test_infinite_line_reproduces_tabulated_exponential_integrals(
    argument: float, e1: float
) -> None:
    alpha, radius = 1e-6, 0.06
    time = radius**2 / (4.0 * alpha * argument)
    response = infinite_line_source(time, radius, 1.0, alpha)
    assert 4.0 * np.pi * response == pytest.approx(e1, rel=3e-5)  # five figures printed


def _two_lines_of_point_sources(
    time: float, radius: float, depth: float, buried: float, alpha: float
) -> float:
    """2 pi k times the mean response, by adding up point sources and their images (Eskilson).

    The mean over both lines of a function of z - z' is one integral weighted by depth - |z - z'|,
    and of z + z' one weighted by a triangle; nothing of Claesson and Javed's form is used.
    """
    reach = np.sqrt(4.0 * alpha * time)

    def point(vertical: float) -> float:
        apart = np.hypot(radius, vertical)
        return float(erfc(apart / reach) / apart)

    cuts = [radius, 10.0 * radius, min(depth / 2.0, reach)]
    direct = quad(
        lambda z: (depth - z) * point(z), 0.0, depth, points=cuts, limit=400, epsabs=1e-9
    )[0]
    image = quad(
        lambda z: min(z, 2.0 * depth - z) * point(z + 2.0 * buried),
        0.0,
        2.0 * depth,
        points=[depth],
        limit=400,
        epsabs=1e-9,
    )[0]
    return (2.0 * direct - image) / (2.0 * depth)


@pytest.mark.parametrize("log_time", [-8.0, -6.0, -4.0, -2.0, 0.0, 2.0, 4.0])
@pytest.mark.parametrize(("radius", "buried"), [(0.05, 4.0), (6.0, 4.0), (0.075, 0.0)])
def test_finite_line_agrees_with_a_sum_of_point_sources(
    log_time: float, radius: float, buried: float
) -> None:
    depth, alpha = 100.0, 1e-6
    time = depth**2 / (9.0 * alpha) * np.exp(log_time)
    ours = finite_line_source_claesson_javed(
        time,
        radius,
        depth=depth,
        buried=buried,
        conductivity=1.0 / (2.0 * np.pi),
        diffusivity=alpha,
    )
    independent = _two_lines_of_point_sources(time, radius, depth, buried, alpha)
    assert ours == pytest.approx(independent, rel=1e-7, abs=1e-10)  # quad's own tolerance


@pytest.mark.parametrize(
    ("log_time", "g"),
    # Computed before this code by integral and by direct double integration of point sources, the
    # two agreeing to five decimals: H 100 m, buried 4 m, radius 0.05 m.
    [(-8, 2.90127), (-6, 3.88871), (-4, 4.85574), (-2, 5.75264), (0, 6.43249), (4, 6.71525)],
)
def test_finite_line_reproduces_reference_points(log_time: float, g: float) -> None:
    time = 100.0**2 / 9e-6 * np.exp(log_time)
    ours = finite_line_source_claesson_javed(
        time, 0.05, depth=100.0, buried=4.0, conductivity=1.0 / (2.0 * np.pi), diffusivity=1e-6
    )
    assert ours == pytest.approx(g, abs=1e-5)


def test_steady_limit_lies_a_little_under_eskilsons() -> None:
    # Eskilson 1987: g -> ln(H / 2 r_b) for one borehole (from memory). His boundary is one wall
    # temperature and his borehole starts at the surface's reach; the mean at uniform heat with 4 m
    # of cover is 3 % lower.
    steady = finite_line_source_claesson_javed(
        1e14, 0.05, depth=100.0, buried=4.0, conductivity=1.0 / (2.0 * np.pi), diffusivity=1e-6
    )
    assert 0.96 < steady / np.log(100.0 / 0.1) < 1.0


def test_cylinder_tends_to_its_published_series_at_short_and_long_times() -> None:
    # Carslaw and Jaeger, 2nd ed., section 13.5 (from memory), 2 pi k R with tau = a t / r^2. Short:
    # 2 sqrt(tau / pi) - tau / 2 + tau^1.5 / (2 sqrt(pi)). Long, with L = ln(4 tau) - 0.57722:
    # L / 2 + (L + 1) / (4 tau).
    radius, alpha = 0.06, 1e-6
    tau = np.array([1e-5, 1e-4, 100.0, 1000.0])
    ours = infinite_cylindrical_source(tau * radius**2 / alpha, radius, 1.0 / (2.0 * np.pi), alpha)
    short = 2.0 * np.sqrt(tau / np.pi) - tau / 2.0 + tau**1.5 / (2.0 * np.sqrt(np.pi))
    late = np.log(4.0 * tau) - 0.5772156649
    long = late / 2.0 + (late + 1.0) / (4.0 * tau)
    assert ours[:2] == pytest.approx(short[:2], rel=1e-6)  # next term is of order tau^2
    assert ours[2:] == pytest.approx(long[2:], rel=1e-4)  # next term is of order tau^-2
