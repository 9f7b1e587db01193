"""Borefield response by dense superposition of finite line segments, stepped through history.

Written for the tests, apart from the integrals that it checks: point sources integrated over both
segments in closed form and over time numerically, every segment of every borehole (those alike by
symmetry once) with a heat of its own in every time step, and one dense linear solve a step. With
one temperature for all walls this is the boundary of Eskilson's g-functions (thesis, Lund
University, 1987; the method: Cimmino and Bernier, International Journal of Heat and Mass Transfer
70, 2014, 641-650).
"""

from itertools import pairwise

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.special import erf

Floats = NDArray[np.float64]

_PANEL = 0.25  # of ln(time), Gauss points in each
_NODES, _WEIGHTS = leggauss(6)


def _twice_integrated(x: Floats, spread: float) -> Floats:
    """Second integral of the heat kernel exp(-x^2/4at)/sqrt(4 pi at), spread = sqrt(4at)."""
    u = x / spread
    return np.asarray(spread / 2.0 * (u * erf(u) + np.exp(-(u**2)) / np.sqrt(np.pi)))


def _vertical(edges: Floats, spread: float) -> Floats:
    """Heat kernel along the depth integrated over two segments, less the image's, shape (s, s)."""
    top, bottom = edges[:-1, None], edges[1:, None]

    def over(other_top: Floats, other_bottom: Floats) -> Floats:
        return np.asarray(
            _twice_integrated(bottom - other_top, spread)
            - _twice_integrated(bottom - other_bottom, spread)
            - _twice_integrated(top - other_top, spread)
            + _twice_integrated(top - other_bottom, spread)
        )

    return over(top.T, bottom.T) - over(-bottom.T, -top.T)


def alike(coordinates: Floats) -> NDArray[np.intp]:
    """Class of each borehole: those with the same distances to all others are alike."""
    apart = np.sort(np.hypot(*(coordinates[:, None] - coordinates[None]).transpose(2, 0, 1)))
    return np.unique(apart.round(6), axis=0, return_inverse=True)[1].ravel()


def segment_responses(
    coordinates: Floats, edges: Floats, radius: float, diffusivity: float, span: tuple[float, float]
) -> tuple[Floats, Floats]:
    """Even ln(time) over `span`, s, and each wall segment's fall then, where 2 pi k = 1.

    Shape (t, c s, c s) for c classes of boreholes alike and s segments, per heat per metre of the
    other segment; columns add up all boreholes of a class.
    """
    first, last = span
    kind = alike(coordinates)
    classes, segments = int(kind.max()) + 1, edges.size - 1
    chosen = [int(np.flatnonzero(kind == c)[0]) for c in range(classes)]
    apart = np.hypot(*(coordinates[chosen][:, None] - coordinates[None]).transpose(2, 0, 1))
    squared = np.maximum(apart, radius) ** 2
    member = np.eye(classes)[kind]
    # Nothing reaches the wall before at = r^2/120: exp(-r^2/4at) is below 1e-13.
    begin = np.log(min(radius**2 / (120.0 * diffusivity), first / 2.0))
    count = int((np.log(last) - begin) / _PANEL) + 2
    ends = np.linspace(begin, np.log(last), count)
    half = (ends[1] - ends[0]) / 2.0
    total = np.zeros((classes * classes, segments * segments))
    kept, found = [], []
    for start, end in pairwise(ends):
        four_at = 4.0 * diffusivity * np.exp(start + half * (1.0 + _NODES))
        across = np.array([(np.exp(-squared / x) @ member).ravel() for x in four_at])
        along = np.array([(_vertical(edges, np.sqrt(x))).ravel() for x in four_at])
        # Point source per time: exp(-d^2/4at)/(4 pi at) across; dt = t d(ln t).
        total = total + (across * (half / 2.0 * _WEIGHTS[:, None])).T @ along
        if end > np.log(first) - 3.0 * _PANEL:
            walls = total.reshape(classes, classes, segments, segments).transpose(0, 2, 1, 3)
            walls = walls / np.diff(edges)[None, :, None, None]
            kept.append(end)
            found.append(walls.reshape(classes * segments, -1))
    return np.array(kept), np.array(found)


def _four_points(log_times: Floats, most: int, time: float) -> tuple[int, Floats]:
    """First of the four points of a table nearest to a time, and the weights of a cubic there."""
    place = (np.log(time) - log_times[0]) / (log_times[1] - log_times[0])
    first = int(np.clip(np.floor(place) - 1, 0, most - 4))
    x = place - first - np.arange(4.0)
    weights = np.array([np.prod(np.delete(x, i)) for i in range(4)])
    return first, weights / np.array([-6.0, 2.0, -2.0, 6.0])


def one_wall_temperature(
    coordinates: Floats,
    times: Floats,
    *,
    depth: float,
    buried: float,
    radius: float,
    diffusivity: float,
    segments: int = 12,
    steps: int = 24,
) -> Floats:
    """Eskilson's g: all walls at one temperature that changes with time, 1 W/m in the mean."""
    share = (1.0 - np.cos(np.pi * np.arange(segments + 1) / segments)) / 2.0
    edges = buried + depth * share
    at = np.unique(np.concatenate([times, np.geomspace(times[0] / 4.0, times[-1], steps)]))
    shortest = float(np.diff(at, prepend=0.0).min())
    log_times, table = segment_responses(
        coordinates, edges, radius, diffusivity, (shortest, 1.01 * float(at[-1]))
    )
    count = np.bincount(alike(coordinates))
    weight = np.kron(count, np.diff(edges)) / (depth * count.sum())
    starts = np.concatenate([[0.0], at[:-1]])
    heat = np.zeros((len(at), len(weight)))
    found = []
    for k, now in enumerate(at):
        past = np.zeros(len(weight))
        # Each change of heat has acted since its step began, up to the last known heat.
        changes = np.diff(heat[:k], axis=0, prepend=0.0)
        for j in range(k):
            first, four = _four_points(log_times, len(table), now - starts[j])
            for point, part in enumerate(four, first):
                past += table[point] @ (part * changes[j])
        first, four = _four_points(log_times, len(table), now - starts[k])
        own = np.tensordot(four, table[first : first + 4], axes=1)
        before = heat[k - 1] if k else np.zeros(len(weight))
        system = np.block([[own, -np.ones((len(weight), 1))], [weight[None], np.zeros((1, 1))]])
        solved = np.linalg.solve(system, np.concatenate([own @ before - past, [1.0]]))
        heat[k] = solved[:-1]
        found.append(solved[-1])
    return np.asarray(found)[np.searchsorted(at, times)]


def one_heat(
    coordinates: Floats,
    times: Floats,
    *,
    depth: float,
    buried: float,
    radius: float,
    diffusivity: float,
) -> Floats:
    """The same heat in every metre of every borehole: mean fall of all walls."""
    edges = np.array([buried, buried + depth])
    count = np.bincount(alike(coordinates))
    log_times, table = segment_responses(
        coordinates, edges, radius, diffusivity, (float(times[0]), 1.01 * float(times[-1]))
    )
    mean = np.tensordot(table.sum(axis=2), count / count.sum(), axes=(1, 0))
    return np.asarray(CubicSpline(log_times, mean)(np.log(times)))
