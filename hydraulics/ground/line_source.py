"""How much does a line or a cylinder giving steady heat change the ground's temperature?

Every response here is the temperature change per unit heat rate per metre, K/(W/m), after a step of
heat that starts at time 0. Ground is homogeneous and conducts only: no groundwater flow, no
freezing. Multiply by the heat *extracted* per metre to get the fall in temperature.
"""

from __future__ import annotations

import numpy as np
import scipy as sp
from numpy.typing import ArrayLike, NDArray

from hydraulics.checks import require_not_negative, require_positive

# exp(-x^2) with x = 6.1 is 7e-17: beyond it the integrands are below rounding.
NEGLIGIBLE_ARGUMENT = 6.1
_UNDERFLOWS = 750.0  # E1 of it is 0: not worked out where rows of trenches lie far off
_POINTS_PER_PANEL = 12
_PANEL_POINTS, _PANEL_WEIGHTS = np.polynomial.legendre.leggauss(_POINTS_PER_PANEL)
# The integrand must be close to a polynomial of degree 11 in each panel (tested to 1e-9).
_PANEL_WIDTH = 0.75


def infinite_line_source(
    time: ArrayLike, radius: ArrayLike, conductivity: float, diffusivity: float
) -> NDArray[np.float64]:
    r"""Response of unbounded ground to an infinite line of steady heat.

    Parameters
    ----------
    time
        Time since the step began, s, 0 or more; broadcasts with ``radius``.
    radius
        Distance from the line, m, more than 0.
    conductivity
        Ground thermal conductivity, W/(m K).
    diffusivity
        Ground thermal diffusivity, m2/s.

    Returns
    -------
    ndarray
        Temperature change per heat rate, K/(W/m).

    Notes
    -----
    :math:`E_1(r^2 / 4 \alpha t) / (4 \pi k)`. At a borehole's wall it is too low for
    :math:`t < 5 r^2/\alpha` (hours), where the cylinder matters: see
    :func:`cylindrical_source_correction`; and too high after :math:`H^2/(90 \alpha)` (years), where
    the borehole's ends matter: see :mod:`hydraulics.boreholes.field`.

    References
    ----------
    Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, section 10.4.
    """
    require_not_negative(time=time)
    require_positive(radius=radius, conductivity=conductivity, diffusivity=diffusivity)
    t, r = np.broadcast_arrays(np.asarray(time, dtype=float), np.asarray(radius, dtype=float))
    argument = np.full(t.shape, np.inf)
    np.divide(r**2, 4.0 * diffusivity * t, out=argument, where=np.asarray(t > 0.0))
    felt = argument < _UNDERFLOWS
    response = np.zeros(t.shape)
    response[felt] = sp.special.exp1(argument[felt]) / (4.0 * np.pi * conductivity)
    return response


def infinite_cylindrical_source(
    time: ArrayLike, radius: float, conductivity: float, diffusivity: float
) -> NDArray[np.float64]:
    r"""Response at the wall of an infinite cylinder that gives steady heat to the ground outside.

    Parameters
    ----------
    time
        Time since the step began, s, 0 or more.
    radius
        Radius of the cylinder (of the borehole), m.
    conductivity
        Ground thermal conductivity, W/(m K).
    diffusivity
        Ground thermal diffusivity, m2/s.

    Returns
    -------
    ndarray
        Temperature change of the wall per heat rate, K/(W/m).

    Notes
    -----
    :math:`\frac{2}{\pi^3 k}\int_0^\infty
    \frac{1 - e^{-\beta^2 Fo}}{\beta^3 (J_1^2(\beta) + Y_1^2(\beta))} d\beta`,
    :math:`Fo = \alpha t / r^2`. The trapezoid rule in :math:`\ln\beta` converges geometrically
    because the integrand is analytic and dies off at both ends.

    References
    ----------
    Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., 1959, section 13.5.
    Ingersoll, Zobel and Ingersoll, Heat Conduction, 1954.
    """
    require_not_negative(time=time)
    require_positive(radius=radius, conductivity=conductivity, diffusivity=diffusivity)
    t = np.asarray(time, dtype=float)
    fourier = (diffusivity / radius**2) * t.reshape(-1)
    longest = max(1.0, float(fourier.max(initial=0.0)))
    # The integrand falls as beta^2 below 1/sqrt(Fo) and as 1/beta above 1; the ends leave out 1e-10
    # of the integral each.
    beta_log, step = np.linspace(
        -0.5 * np.log(longest) - 12.0, 24.0, int(30 + 5 * np.log(longest)) * 10, retstep=True
    )
    beta = np.exp(beta_log)
    weight = 1.0 / (beta**2 * (sp.special.j1(beta) ** 2 + sp.special.y1(beta) ** 2))
    integral = -np.expm1(-np.outer(fourier, beta**2)) @ weight * step
    return np.asarray(2.0 / (np.pi**3 * conductivity) * integral).reshape(t.shape)


def cylindrical_source_correction(
    time: ArrayLike, radius: float, conductivity: float, diffusivity: float
) -> NDArray[np.float64]:
    r"""How much more a cylinder's wall changes than a line source says at the same radius.

    Add it to a (finite) line source's response at the borehole's wall: the ends matter after years,
    the cylinder matters for hours, so the two effects do not meet.

    Parameters
    ----------
    time
        Time since the step began, s, 0 or more.
    radius
        Borehole radius, m.
    conductivity
        Ground thermal conductivity, W/(m K).
    diffusivity
        Ground thermal diffusivity, m2/s.

    Returns
    -------
    ndarray
        :func:`infinite_cylindrical_source` less :func:`infinite_line_source`, K/(W/m).

    Notes
    -----
    At :math:`Fo = 6` (a 6 h pulse on a 120 mm borehole in common ground) it is 9 % of the line
    source's response, at :math:`Fo = 1000` below 0.1 %. The heat held by grout and fluid is left
    out, which makes short pulses look somewhat worse than they are: the safe side.
    """
    return infinite_cylindrical_source(
        time, radius, conductivity, diffusivity
    ) - infinite_line_source(time, radius, conductivity, diffusivity)


def _erf_integral(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(x * sp.special.erf(x) + np.expm1(-(x**2)) / np.sqrt(np.pi))


def segment_pair_kernel(s: NDArray[np.float64], edges: NDArray[np.float64]) -> NDArray[np.float64]:
    r"""Depth factor between the segments of two equal vertical lines under the surface.

    Parameters
    ----------
    s
        Integration variable, 1/m, shape (m,).
    edges
        Depths of the ends of the segments below the surface, m, rising, shape (v + 1,).

    Returns
    -------
    ndarray
        The factor by which :math:`\exp(-r^2 s^2)` is multiplied in the integral over :math:`\ln s`
        to give the mean over segment u of the response to heat given along segment v,
        dimensionless, shape (m, v, v).

    References
    ----------
    Claesson and Javed, An analytical method to calculate borehole fluid temperatures for time
    scales from minutes to decades, ASHRAE Transactions 117(2), 2011 (one segment).
    Cimmino and Bernier, A semi-analytical method to generate g-functions for geothermal bore
    fields, International Journal of Heat and Mass Transfer 70, 2014, 641-650.
    """
    # Lines without end from one edge, seen from another, and their mirror images above the surface:
    # alike either way.
    apart = np.abs(edges - edges[:, None])
    mirrored = edges + edges[:, None]
    # Edges stand the same distance apart many times; a nanometre brings equal ones together.
    lengths, which = np.unique(np.round(np.stack((apart, mirrored)), 9), return_inverse=True)
    of_length = _erf_integral(np.multiply.outer(s, lengths))
    which = which.reshape(2, -1)
    between = of_length[:, which[0]]
    between += of_length[:, which[1]]
    between = between.reshape(s.size, edges.size, edges.size)
    pair = -np.diff(np.diff(between, axis=1), axis=2)
    return np.asarray(pair / (s[:, None, None] * np.diff(edges)[:, None]))


def tail_integrals(
    lower: NDArray[np.float64], upper: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    r"""Nodes and weights that integrate one smooth function from many lower limits at once.

    Parameters
    ----------
    lower
        Lower limits :math:`a_i`; one at or above ``upper`` gives an integral of 0.
    upper
        Common upper limit :math:`b`.

    Returns
    -------
    nodes, matrix
        ``matrix @ f(nodes)`` is :math:`\int_{a_i}^b f(u)\,du` for every i. The cost of f does not
        grow with the number of limits: the Legendre series in a panel is integrated exactly from
        the limit to the panel's end.
    """
    start = min(float(lower.min(initial=upper)), upper - _PANEL_WIDTH)
    panels = int(np.ceil((upper - start) / _PANEL_WIDTH))
    half = (upper - start) / panels / 2.0
    points, weights = _PANEL_POINTS, _PANEL_WEIGHTS
    nodes = start + half * (points + 1.0 + 2.0 * np.arange(panels)[:, None])

    limits = np.minimum(lower, upper)
    inside = np.clip(((limits - start) // (2.0 * half)).astype(int), 0, panels - 1)
    x = np.clip((limits - start) / half - 2.0 * inside - 1.0, -1.0, 1.0)
    order = np.arange(_POINTS_PER_PANEL)
    legendre_at_points = np.polynomial.legendre.legvander(points, _POINTS_PER_PANEL - 1)
    to_series = (2.0 * order[:, None] + 1.0) / 2.0 * legendre_at_points.T * weights
    p = np.polynomial.legendre.legvander(x, _POINTS_PER_PANEL)
    tail = np.empty((limits.size, _POINTS_PER_PANEL))
    tail[:, 0] = 1.0 - x
    tail[:, 1:] = (p[:, :-2] - p[:, 2:]) / (2.0 * order[1:] + 1.0)

    matrix = np.where(np.arange(panels)[None, :, None] > inside[:, None, None], weights, 0.0)
    matrix[np.arange(limits.size), inside] = tail @ to_series
    return nodes.reshape(-1), half * matrix.reshape(limits.size, -1)
