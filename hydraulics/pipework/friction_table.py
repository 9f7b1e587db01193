"""The friction law as a table of cubics, so that a solver can afford it for thousands of pipes.

The table holds T(x) = ln(G/Re) against x = ln Re for one relative roughness and one curvature, as
a piecewise cubic that meets the law in value and slope at every knot. Knots fall on the edges of
the straight pipe's transition band, where the law's own second derivative jumps. Against the law
itself (tests/hydraulics/test_friction_table.py) the table is within 1e-9 for straight pipe, 1e-6
for coils of PE pipe up to 110 bores wide and 1e-3 for any coil: in a coil that is nearly straight
the branches cross more sharply than the knots can follow. Its slope is the exact slope of its own
value, which is what Newton's method needs. Below Re 0.001 T is constant: pressure is then
proportional to flow, and zero flow has a finite slope.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.pipework.friction import (
    LAMINAR_LIMIT,
    LARGEST_REYNOLDS,
    TURBULENT_LIMIT,
    friction_number,
)

Array = NDArray[np.float64]

_STEPS_IN_BAND: Final = 64
_STEP: Final = float(np.log(TURBULENT_LIMIT / LAMINAR_LIMIT)) / _STEPS_IN_BAND
_BELOW: Final = int(np.ceil(np.log(LAMINAR_LIMIT / 0.001) / _STEP))
_ABOVE: Final = int(np.ceil(np.log(10.0 * LARGEST_REYNOLDS / LAMINAR_LIMIT) / _STEP))
INTERVALS: Final = _BELOW + _ABOVE
LOWEST: Final = float(np.log(LAMINAR_LIMIT)) - _BELOW * _STEP  # ln Re at the first knot
REYNOLDS_FLOOR: Final = float(np.exp(LOWEST))
PER_STEP: Final = 1.0 / _STEP


@lru_cache(maxsize=256)
def friction_cubics(relative_roughness: float, curvature: float) -> Array:
    """Cubic coefficients of T(x) = ln(G/Re) for one kind of pipe.

    Parameters
    ----------
    relative_roughness
        Roughness over bore [-].
    curvature
        Bore over coil diameter d/D [-], 0 for straight pipe.

    Returns
    -------
    Array
        Shape (INTERVALS, 4), highest power first, in the local variable
        t = (ln Re - LOWEST)/step - i, 0 ≤ t < 1.
    """
    reynolds = np.exp(LOWEST + _STEP * np.arange(INTERVALS + 1))
    # ln and exp do not return the band's edges exactly; pin them so that both knots see the edge.
    reynolds[_BELOW], reynolds[_BELOW + _STEPS_IN_BAND] = LAMINAR_LIMIT, TURBULENT_LIMIT
    number, slope = friction_number(reynolds, relative_roughness, curvature)
    value = np.log(number / reynolds)
    rate = (reynolds * slope / number - 1.0) * _STEP
    rate[0] = 0.0  # meets the constant below the first knot
    rise = np.diff(value)
    cubic = np.empty((INTERVALS, 4))
    cubic[:, 0] = rate[:-1] + rate[1:] - 2.0 * rise
    cubic[:, 1] = 3.0 * rise - 2.0 * rate[:-1] - rate[1:]
    cubic[:, 2] = rate[:-1]
    cubic[:, 3] = value[:-1]
    cubic.setflags(write=False)
    return cubic


@lru_cache(maxsize=32)
def _stacked(kinds: tuple[tuple[float, float], ...]) -> Array:
    stack = np.concatenate([friction_cubics(*kind) for kind in kinds])
    stack.setflags(write=False)
    return stack


def cubic_bank(kinds: tuple[tuple[float, float], ...]) -> Array:
    """Tables of several kinds of pipe, one below the other.

    Parameters
    ----------
    kinds
        (relative roughness, curvature) of each kind.

    Returns
    -------
    Array
        Shape (len(kinds) · INTERVALS, 4); kind k starts at row k · INTERVALS.
    """
    if len(kinds) == 1:
        return friction_cubics(*kinds[0])
    return _stacked(kinds)


def friction_per_reynolds(
    reynolds: Array, bank: Array, first_row: NDArray[np.intp] | int
) -> tuple[Array, Array]:
    """G/Re and d ln G/d ln Re by the table.

    Parameters
    ----------
    reynolds
        Reynolds number of each pipe [-], 0 or more.
    bank
        Tables from :func:`cubic_bank`.
    first_row
        Row of the bank at which each pipe's table starts.

    Returns
    -------
    number, slope
        G/Re [-] and d ln G / d ln Re [-], at least 1.
    """
    place = np.log(np.maximum(reynolds, REYNOLDS_FLOOR))
    place -= LOWEST
    place *= PER_STEP
    row = place.astype(np.intp)
    np.minimum(row, INTERVALS - 1, out=row)
    t = place - row
    row += first_row
    a, b, c, d = bank.take(row, axis=0).T
    number = np.exp(((a * t + b) * t + c) * t + d)
    slope = 1.0 + ((3.0 * a * t + 2.0 * b) * t + c) * PER_STEP
    return number, slope
