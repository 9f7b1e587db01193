"""Does the array have room on its site?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydraulics.plot.plot import TRENCH_SPACING, Plot
from hydraulics.sizing.choice import ArrayChoice, BoreholeArray, PondArray


@dataclass(frozen=True, slots=True)
class SiteUse:
    """Land needed against land available.

    Attributes
    ----------
    length, width
        Of the rectangle that the array needs, borders included [m].
    area_needed, area_available
        [m2]; None where the site's area was not given.
    trench_needed, trench_available
        [m]; None where not given or not trenches.
    fits
        None where nothing was given to check against.
    """

    length: float
    width: float
    area_needed: float
    area_available: float | None
    trench_needed: float | None
    trench_available: float | None
    fits: bool | None


def site_use(
    plot: Plot,
    choice: ArrayChoice,
    loops: int,
    each: float,
    coordinates: NDArray[np.float64] | None,
) -> SiteUse:
    """Return the land that equal parallel trenches, mats or boreholes need.

    Parameters
    ----------
    plot
        What is available.
    choice
        Kind of array.
    loops, each
        Number of loops, and trench or mat pipe of each [-, m].
    coordinates
        Of the boreholes in plan [m]; None for other kinds.
    """
    trench = None
    if isinstance(choice, BoreholeArray):
        assert coordinates is not None
        x, y = (float(v) for v in np.ptp(coordinates, axis=0))
    elif isinstance(choice, PondArray):
        # Mats in a row for each loop, edge to edge.
        mats = round(each / choice.mat_pipe)
        x, y = mats * choice.outer_diameter, loops * choice.outer_diameter
    else:
        x, y, trench = each, (loops - 1) * (plot.spacing or TRENCH_SPACING), loops * each
    length, width = x + 2.0 * plot.border, y + 2.0 * plot.border
    checks = []
    available = plot.area
    if plot.length is not None and plot.width is not None:
        available = plot.length * plot.width if available is None else available
        long, short = max(length, width), min(length, width)
        turned = long <= max(plot.length, plot.width) and short <= min(plot.length, plot.width)
        checks.append(turned)
    if available is not None:
        checks.append(length * width <= available * (1.0 + 1e-9))
    if plot.max_trench is not None and trench is not None:
        checks.append(trench <= plot.max_trench * (1.0 + 1e-9))
    return SiteUse(
        length=length,
        width=width,
        area_needed=length * width,
        area_available=available,
        trench_needed=trench,
        trench_available=plot.max_trench,
        fits=all(checks) if checks and math.isfinite(length) else None,
    )
