r"""Finite line sources that give the same heat in every metre, after Claesson and Javed (2011).

What sizing takes lets heat vary with depth; this is the closed form beside which its kernels, sums
and integrals can be checked: Claesson and Javed, An analytical method to calculate borehole fluid
temperatures for time scales from minutes to decades, ASHRAE Transactions 117(2), 2011.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

from hydraulics.boreholes.field import FieldResponse
from hydraulics.ground.line_source import NEGLIGIBLE_ARGUMENT

_POINTS_PER_PANEL = 12
_PANELS = 24


def _erf_integral(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(x * erf(x) + np.expm1(-(x**2)) / np.sqrt(np.pi))


def line_pair_kernel(s: NDArray[np.float64], depth: float, buried: float) -> NDArray[np.float64]:
    r"""Depth factor :math:`I(Hs, Ds)/(H s)` of two equal vertical lines under the surface.

    As :func:`hydraulics.ground.line_source.segment_pair_kernel` of one segment, dimensionless.
    """
    h = depth * s
    d = buried * s
    pair = (
        2.0 * _erf_integral(h)
        + 2.0 * _erf_integral(h + 2.0 * d)
        - _erf_integral(2.0 * h + 2.0 * d)
        - _erf_integral(2.0 * d)
    )
    return np.asarray(pair / h)


def finite_line_source_claesson_javed(
    time: ArrayLike,
    radius: ArrayLike,
    *,
    depth: float,
    buried: float,
    conductivity: float,
    diffusivity: float,
) -> NDArray[np.float64]:
    r"""Mean response along one vertical line to steady heat along another equal one, K/(W/m).

    Notes
    -----
    :math:`\frac{1}{4\pi k}\int_{1/\sqrt{4\alpha t}}^\infty e^{-r^2 s^2}
    \frac{I(Hs, Ds)}{H s^2} ds`, the ground's surface held at its undisturbed temperature by a
    mirror image. Composite Gauss-Legendre in :math:`\ln s`, to about 1e-10 of the value.
    """
    t, r = np.broadcast_arrays(np.asarray(time, dtype=float), np.asarray(radius, dtype=float))
    shape = t.shape
    t, r = t.reshape(-1), r.reshape(-1)
    upper = np.log(NEGLIGIBLE_ARGUMENT / r)
    lower = np.minimum(-0.5 * np.log(4.0 * diffusivity * t), upper)
    points, weights = np.polynomial.legendre.leggauss(_POINTS_PER_PANEL)
    fraction = ((points + 1.0) / 2.0 + np.arange(_PANELS)[:, None]).reshape(-1) / _PANELS
    span = (upper - lower)[..., None]
    s = np.exp(lower[..., None] + span * fraction)
    integrand = np.exp(-((r[..., None] * s) ** 2)) * line_pair_kernel(s, depth, buried)
    weight = np.tile(weights / (2.0 * _PANELS), _PANELS)
    mean = (integrand @ weight) * span[:, 0] / (4.0 * np.pi * conductivity)
    return np.asarray(mean).reshape(shape)


def uniform_heat(field: FieldResponse, depth: float, buried: float) -> NDArray[np.float64]:
    """Mean response of a field's walls where every metre of it gives the same heat."""
    kernel = line_pair_kernel(field.nodes, depth, buried)
    scale = 4.0 * np.pi * field.conductivity
    return np.asarray(field.integrate @ (field.pair_sum * kernel) / scale)
