"""Where do the boreholes of a field in rows, or along a rectangle's sides, stand?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hydraulics.checks import count_fault, refuse, require_positive

Floats = NDArray[np.float64]


def rows_field(bores: int, across: int, spacing: float) -> Floats:
    """Coordinates of boreholes in equal rows, the last of which may be shorter.

    Parameters
    ----------
    bores
        How many, 1 or more.
    across
        Boreholes in a full row, along x, 1 or more.
    spacing
        Distance between boreholes, m.

    Returns
    -------
    ndarray
        Coordinates from the field's corner, m, shape (bores, 2), row by row.
    """
    refuse(count_fault("bores", bores), count_fault("across", across))
    require_positive(spacing=spacing)
    row, column = np.divmod(np.arange(bores), across)
    return spacing * np.column_stack([column, row]).astype(float)


def rectangle_field(columns: int, rows: int, spacing: float) -> Floats:
    """Coordinates of a full rectangle of boreholes, m, shape (columns * rows, 2)."""
    refuse(count_fault("columns", columns), count_fault("rows", rows))
    return rows_field(columns * rows, columns, spacing)


def perimeter_field(bores: int, rows: int | None, spacing: float) -> Floats:
    """Coordinates of boreholes along the sides of the smallest rectangle that takes them.

    Parameters
    ----------
    bores
        How many, 1 or more.
    rows
        Of the rectangle, 1 or more; None: about square.
    spacing
        Distance between boreholes, m.

    Returns
    -------
    ndarray
        Coordinates from the field's corner, m, shape (bores, 2), once round; the places that are
        left over (:func:`empty_places`) stand empty beside the first.
    """
    refuse(count_fault("bores", bores))
    return perimeter_places(bores, rows, spacing)[:bores]


def empty_places(bores: int, rows: int | None, spacing: float) -> Floats:
    """Places of :func:`perimeter_field` that stay empty, m, shape (number, 2)."""
    return perimeter_places(bores, rows, spacing)[bores:]


def perimeter_places(bores: int, rows: int | None, spacing: float) -> Floats:
    """All places round the rectangle of :func:`perimeter_field`, m, shape (number, 2)."""
    refuse(count_fault("bores", bores), count_fault("rows", 1 if rows is None else rows))
    require_positive(spacing=spacing)
    sides = -(-(bores + 4) // 2)  # columns and rows together: corners count in both
    rows = rows or sides // 2
    columns = bores if rows == 1 else max(1 if bores <= rows else 2, sides - rows)
    right, top = columns - 1, rows - 1
    once = [(x, 0) for x in range(columns)] + [(right, y) for y in range(1, rows)]
    if right and top:
        once += [(x, top) for x in range(right - 1, -1, -1)]
        once += [(0, y) for y in range(top - 1, 0, -1)]
    return spacing * np.array(once, dtype=float)
