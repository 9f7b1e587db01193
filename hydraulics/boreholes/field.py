"""How does a field of boreholes respond, all of them together, to heat taken from it?

The mean response of the field's walls is the sum of finite line sources over every pair of
boreholes, with the same profile of heat with depth in every borehole, such that the wall's
temperature does not vary with depth: :meth:`FieldResponse.at_depth`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy as sp
from numpy.typing import ArrayLike, NDArray

from hydraulics.checks import require_finite, require_not_negative, require_positive
from hydraulics.errors import Fault, InputError
from hydraulics.ground.convolution import convolved
from hydraulics.ground.line_source import (
    NEGLIGIBLE_ARGUMENT,
    segment_pair_kernel,
    tail_integrals,
)

# Grids up to this many cells are counted by FFT: some 0.3 s and 100 MB at the limit.
_MOST_CELLS = 1_000_000
# Irregular fields up to this many boreholes keep every distance; above, 0.2 % classes (the error of
# the sum is of second order, below 1e-6).
_MOST_EXACT_BORES = 150
_CLASS_WIDTH = 0.002
_FEW_BORES = 12  # whose pairs are sooner counted one by one
_ROWS_AT_ONCE = 500
# 8 graded segments are within 0.1 % of Eskilson's boundary for one borehole; more cost more.
_SEGMENTS = 8


@dataclass(frozen=True, slots=True, eq=False)  # one field is itself alone
class DistanceClasses:
    """Distances between boreholes, equal ones counted together.

    Attributes
    ----------
    bores
        Number of boreholes.
    distance
        Distinct distances between two boreholes, m, shape (c,).
    neighbours
        How many other boreholes lie at that distance, averaged over the field, shape (c,); they sum
        to ``bores - 1``.
    """

    bores: int
    distance: NDArray[np.float64]
    neighbours: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FieldResponse:
    """A field and a set of times, prepared so that any depth costs next to nothing.

    The sum over pairs does not depend on depth: :func:`prepare_field_response` computes it once,
    :meth:`at_depth` integrates it.

    Attributes
    ----------
    nodes
        Integration variable s, 1/m.
    integrate
        Weights: one row per time.
    pair_sum
        Sum over a borehole's neighbours and itself of exp(-d^2 s^2), averaged over the field.
    conductivity
        Ground thermal conductivity, W/(m K).
    """

    nodes: NDArray[np.float64]
    integrate: NDArray[np.float64]
    pair_sum: NDArray[np.float64]
    conductivity: float

    def at_depth(self, depth: float, buried: float) -> NDArray[np.float64]:
        r"""Mean response of all walls to a step of heat, K/(W/m), one value per time.

        Parameters
        ----------
        depth
            Active depth of each borehole, m.
        buried
            Depth of the top of the active part below the surface, m, 0 or more.

        Returns
        -------
        ndarray
            Temperature change per mean heat rate per metre of borehole, K/(W/m), shape (t,).
            Eskilson's dimensionless g is this times :math:`2\pi k`.

        Notes
        -----
        :math:`\frac{1}{n}\sum_i\sum_j h(d_{ij}, t)`, h the finite line source of Claesson and
        Javed, :math:`d_{ii} = r_b`. The sum over distances is taken inside the integral, and equal
        distances once: a grid costs about as much as one borehole does.

        Eskilson's g-functions hold the walls of all boreholes at one temperature; heat then moves
        to the outer boreholes and to the ends. Here heat varies with depth only, and as if it had
        always been shared as it is at the time looked at: -2 to +9 % of the yearly imbalance's
        effect against one temperature for all walls (from a dense solution with 12 segments in
        every borehole and their whole history; finer segments add up to 1.5; the table stands in
        docs/theory/ground.md). Months and peaks agree. Real boreholes, fed in parallel with fluid
        of one temperature, lie near one temperature (Cimmino, International Journal of Heat and
        Mass Transfer 91, 2015, 1119-1127, from memory).

        References
        ----------
        Eskilson, Thermal Analysis of Heat Extraction Boreholes, thesis, Lund University, 1987.
        Claesson and Javed 2011, Cimmino and Bernier 2014 (see
        :func:`hydraulics.ground.line_source.segment_pair_kernel`).
        """
        require_positive(depth=depth)
        require_not_negative(buried=buried)
        scale = 4.0 * np.pi * self.conductivity
        # Finer towards the ends, where the heat flow per metre varies most.
        share = (1.0 - np.cos(np.pi * np.arange(_SEGMENTS + 1) / _SEGMENTS)) / 2.0
        kernels = segment_pair_kernel(self.nodes, buried + depth * share)
        integrand = (self.pair_sum[:, None, None] * kernels).reshape(self.nodes.size, -1)
        coupling = (self.integrate @ integrand / scale).reshape(-1, _SEGMENTS, _SEGMENTS)
        response = np.zeros(len(coupling))
        # Within the first minutes no heat has arrived and the segments are uncoupled.
        felt = np.diagonal(coupling, axis1=1, axis2=2).min(axis=1) > 0.0
        heat = np.linalg.solve(coupling[felt], np.ones((int(felt.sum()), _SEGMENTS, 1)))[..., 0]
        response[felt] = 1.0 / (heat @ np.diff(share))
        return response


def _grid_index(values: NDArray[np.float64]) -> tuple[NDArray[np.int64], float] | None:
    """Position on an even grid and the grid's step, or None where the values form no grid."""
    offsets = values - values.min()
    steps = np.diff(np.unique(np.round(offsets, 6)))
    if steps.size == 0:
        return np.zeros(values.size, dtype=np.int64), 1.0
    step = float(offsets.max() / np.round(offsets.max() / steps.min()))
    index = np.round(offsets / step)
    if np.abs(offsets - index * step).max() > 1e-6:
        return None
    return index.astype(np.int64), step


def _classes_on_grid(coordinates: NDArray[np.float64]) -> DistanceClasses | None:
    """Count displacements on an even grid as the autocorrelation of its occupancy, by FFT."""
    x, y = _grid_index(coordinates[:, 0]), _grid_index(coordinates[:, 1])
    if x is None or y is None:
        return None
    shape = (int(x[0].max()) + 1, int(y[0].max()) + 1)
    if shape[0] * shape[1] > _MOST_CELLS:
        return None
    occupied = np.zeros(shape)
    occupied[x[0], y[0]] = 1.0
    pairs = np.round(convolved(occupied, occupied[::-1, ::-1], (0, 1)))
    along_x = x[1] * (np.arange(pairs.shape[0]) - shape[0] + 1)
    along_y = y[1] * (np.arange(pairs.shape[1]) - shape[1] + 1)
    apart = np.hypot(along_x[:, None], along_y[None, :])
    taken = (pairs > 0.0) & (apart > 0.0)
    return _merge(len(coordinates), apart[taken], pairs[taken])


def _merge(
    bores: int, distance: NDArray[np.float64], pairs: NDArray[np.float64]
) -> DistanceClasses:
    # Equal distances differ by rounding: a nanometre brings them together.
    distinct, inverse = np.unique(np.round(distance, 9), return_inverse=True)
    counts = np.bincount(inverse.ravel(), weights=pairs.ravel(), minlength=distinct.size)
    return DistanceClasses(bores, distinct, counts / bores)


def _classes_of_pairs(coordinates: NDArray[np.float64], nearest: float) -> DistanceClasses:
    """Count every pair; many boreholes in classes of nearly equal distance."""
    bores = len(coordinates)
    if bores <= _MOST_EXACT_BORES:
        apart = np.hypot(*(coordinates[:, None, :] - coordinates[None, :, :]).transpose(2, 0, 1))
        others = apart[~np.eye(bores, dtype=bool)]
        return _merge(bores, others, np.ones(others.size))
    span = float(np.hypot(*np.ptp(coordinates, axis=0)))
    bins = int(np.log(span / nearest) / _CLASS_WIDTH) + 2
    count, square = np.zeros(bins), np.zeros(bins)
    for start in range(0, bores, _ROWS_AT_ONCE):
        block = coordinates[start : start + _ROWS_AT_ONCE]
        squared = ((block[:, None, :] - coordinates[None, :, :]) ** 2).sum(axis=2)
        rows = np.arange(len(block))
        squared[rows, start + rows] = np.nan
        squared = squared[~np.isnan(squared)]
        index = (0.5 * np.log(squared / nearest**2) / _CLASS_WIDTH).astype(int)
        index = np.clip(index, 0, bins - 1)
        count += np.bincount(index, minlength=bins)
        square += np.bincount(index, weights=squared, minlength=bins)
    used = count > 0
    return DistanceClasses(bores, np.sqrt(square[used] / count[used]), count[used] / bores)


def distance_classes(coordinates: ArrayLike, borehole_radius: float) -> DistanceClasses:
    """Distances between the boreholes of a field, equal ones counted together.

    Parameters
    ----------
    coordinates
        Plan position of each borehole, m, shape (n, 2), n at least 1.
    borehole_radius
        Radius of the boreholes, m.

    Returns
    -------
    DistanceClasses
        Exact for a field on an even grid (any shape: rectangle, line, L, U, open rectangle), where
        the cost grows as n log n, and for irregular fields of up to 150 boreholes. Larger irregular
        fields are counted pair by pair into classes 0.2 % wide.

    Raises
    ------
    InputError
        If the coordinates do not have the shape (n, 2), are not finite, or two boreholes overlap.
    """
    require_positive(borehole_radius=borehole_radius)
    require_finite(coordinates=coordinates)
    xy = np.asarray(coordinates, dtype=float)
    if xy.ndim != 2 or xy.shape[1] != 2 or not len(xy):
        raise InputError(
            Fault(
                "coordinates",
                f"coordinates have shape {xy.shape}; give one pair x, y in metres per borehole.",
                value=list(xy.shape),
                allowed="shape (n, 2)",
            )
        )
    if len(xy) == 1:
        return DistanceClasses(1, np.empty(0), np.empty(0))
    nearest_each = np.asarray(sp.spatial.KDTree(xy).query(xy, k=2)[0])[:, 1]
    nearest = float(nearest_each.min())
    if nearest < 2.0 * borehole_radius:
        bore = int(nearest_each.argmin())
        raise InputError(
            Fault(
                f"coordinates.{bore}",
                f"the borehole at ({xy[bore, 0]:g}, {xy[bore, 1]:g}) m is {nearest:g} m from"
                f" another; boreholes of radius {borehole_radius:g} m would overlap. Move it.",
                value=nearest,
                allowed=f"{2.0 * borehole_radius:g} m or more between centres",
            )
        )
    on_grid = None if len(xy) <= _FEW_BORES else _classes_on_grid(xy)
    return on_grid or _classes_of_pairs(xy, nearest)


def prepare_field_response(
    classes: DistanceClasses,
    borehole_radius: float,
    conductivity: float,
    diffusivity: float,
    times: ArrayLike,
) -> FieldResponse:
    """Do the part of a field's response that does not depend on depth.

    Parameters
    ----------
    classes
        Distances between the boreholes: :func:`distance_classes`.
    borehole_radius
        Radius of the boreholes, m.
    conductivity, diffusivity
        Of the ground, W/(m K) and m2/s.
    times
        Times since a step of heat began, s, shape (t,), 0 or more.

    Returns
    -------
    FieldResponse
        Its ``at_depth(depth, buried)`` gives the responses.
    """
    require_not_negative(times=times)
    require_positive(
        borehole_radius=borehole_radius, conductivity=conductivity, diffusivity=diffusivity
    )
    t = np.atleast_1d(np.asarray(times, dtype=float))
    lower = np.full(t.shape, np.inf)
    np.log(4.0 * diffusivity * t, out=lower, where=t > 0.0)
    lower = np.where(t > 0.0, -0.5 * lower, np.inf)
    log_s, integrate = tail_integrals(lower, float(np.log(NEGLIGIBLE_ARGUMENT / borehole_radius)))
    s = np.exp(log_s)
    pair_sum = np.exp(-((borehole_radius * s) ** 2))
    pair_sum += np.exp(-np.outer(s**2, classes.distance**2)) @ classes.neighbours
    return FieldResponse(s, integrate, pair_sum, conductivity)
