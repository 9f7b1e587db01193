"""How high does the ground lie, and what does the height of the brine add to its pressure?"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
import scipy as sp
from numpy.typing import NDArray

from hydraulics.plot.site import Level, Point, SitePlot

GRAVITY: Final = 9.80665  # m/s², standard
FLAT: Final = 1e-9  # of the extent: levels nearer to one line than that make no triangle


class Surface(NamedTuple):
    """Ground through surveyed points.

    Attributes
    ----------
    points, levels
        Surveyed [m], shape (n, 2) and (n,).
    triangles
        Between them; None where there are fewer than 3 or all lie in a line.
    plane
        Level at (0, 0) and slopes east and north of the plane of best fit [m], [-].
    """

    points: NDArray[np.float64]
    levels: NDArray[np.float64]
    triangles: sp.spatial.Delaunay | None
    plane: tuple[float, float, float]

    @property
    def contour(self) -> float | None:
        """Angle of the contour lines, anticlockwise from east [rad]; None where it is level."""
        _, east, north = self.plane
        return float(np.arctan2(east, -north)) if np.hypot(east, north) > 1e-6 else None


@lru_cache(maxsize=8)
def surface(levels: tuple[Level, ...]) -> Surface | None:
    """The ground through surveyed points; None where there are none."""
    if not levels:
        return None
    given = np.array(levels, dtype=float)
    points, z = given[:, :2], given[:, 2]
    away = points - points.mean(axis=0)
    spread = np.linalg.svd(away, compute_uv=False)
    if len(points) < 3 or spread[1] <= FLAT * spread[0]:
        return Surface(points, z, None, (float(z.mean()), 0.0, 0.0))
    columns = np.column_stack([np.ones(len(points)), away])
    (mean, east, north), *_ = np.linalg.lstsq(columns, z, rcond=None)
    middle = points.mean(axis=0)
    at_zero = float(mean - east * middle[0] - north * middle[1])
    return Surface(points, z, sp.spatial.Delaunay(points), (at_zero, float(east), float(north)))


def contour_of(plot: SitePlot) -> float | None:
    """Angle of the plot's contour lines [rad]; None where none are known or it is level."""
    ground = surface(plot.levels)
    return ground.contour if ground is not None else None


def level_at(ground: Surface, point: Point) -> tuple[float, bool]:
    """Level of the ground [m], and whether it lies between surveyed points.

    Notes
    -----
    Between surveyed points on the triangles between them; outside on the plane of best fit; with
    fewer than 3 points, or all in a line, their mean.
    """
    at_zero, east, north = ground.plane
    if ground.triangles is not None:
        triangle = int(ground.triangles.find_simplex(np.array([point]), tol=1e-9)[0])
        if triangle >= 0:
            corners = ground.triangles.simplices[triangle]
            matrix = np.column_stack([np.ones(3), ground.points[corners]])
            fit = np.linalg.solve(matrix, ground.levels[corners])
            return float(fit @ np.array([1.0, *point])), True
    return at_zero + east * point[0] + north * point[1], False


def static_pressure(density: float, gauge_level: float, pipe_level: float) -> float:
    """Pressure that the brine's height adds at a pipe, over what the gauge reads [Pa].

    Parameters
    ----------
    density
        Of the brine [kg/m³].
    gauge_level, pipe_level
        Of the gauge and of the pipe [m]; a pipe above the gauge has less pressure than it reads.
    """
    return density * GRAVITY * (gauge_level - pipe_level)
