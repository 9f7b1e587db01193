"""Where do the boreholes of a field of a named shape stand?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydraulics.checks import count_fault, refuse, require_positive


def rectangle_field(columns: int, rows: int, spacing: float) -> NDArray[np.float64]:
    """Coordinates of a full rectangle of boreholes.

    Parameters
    ----------
    columns, rows
        Boreholes along x and along y, 1 or more.
    spacing
        Distance between boreholes, m.

    Returns
    -------
    ndarray
        Coordinates, m, shape (columns * rows, 2).
    """
    refuse(count_fault("columns", columns), count_fault("rows", rows))
    require_positive(spacing=spacing)
    x, y = np.meshgrid(np.arange(columns) * spacing, np.arange(rows) * spacing)
    return np.column_stack([x.ravel(), y.ravel()])


def line_field(bores: int, spacing: float) -> NDArray[np.float64]:
    """Coordinates of one straight line of boreholes, m, shape (bores, 2)."""
    return rectangle_field(bores, 1, spacing)


def l_field(columns: int, rows: int, spacing: float) -> NDArray[np.float64]:
    """Coordinates of an L: one row and one column that share the corner borehole.

    Parameters
    ----------
    columns, rows
        Boreholes along each arm, the corner counted in both.
    spacing
        Distance between boreholes, m.

    Returns
    -------
    ndarray
        Coordinates, m, shape (columns + rows - 1, 2).
    """
    full = rectangle_field(columns, rows, spacing)
    return np.asarray(full[(full[:, 0] == 0.0) | (full[:, 1] == 0.0)])


def u_field(columns: int, rows: int, spacing: float) -> NDArray[np.float64]:
    """Coordinates of a U: a rectangle's edge without its top side, m, shape (n, 2)."""
    full = rectangle_field(columns, rows, spacing)
    x, y = full.T
    return np.asarray(full[(x == 0.0) | (x == x.max()) | (y == 0.0)])


def open_rectangle_field(columns: int, rows: int, spacing: float) -> NDArray[np.float64]:
    """Coordinates of an open rectangle: boreholes on its four sides only, m, shape (n, 2)."""
    full = rectangle_field(columns, rows, spacing)
    x, y = full.T
    return np.asarray(full[(x == 0.0) | (x == x.max()) | (y == 0.0) | (y == y.max())])
