"""How cold is the undisturbed ground at a depth on a day of the year?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.checks import number_fault, refuse

DAYS_PER_YEAR = 365.25  # mean year, so that decades of months do not drift against the season
SECONDS_PER_DAY = 86_400.0
MONTH_SECONDS = DAYS_PER_YEAR * SECONDS_PER_DAY / 12.0


@dataclass(frozen=True, slots=True)
class SurfaceTemperature:
    """The year at the ground's surface, as one harmonic.

    Attributes
    ----------
    mean
        Annual mean of the surface temperature [degC].
    swing
        Amplitude: half of warmest less coldest [K].
    coldest_day
        Day of the year on which the surface is coldest [d], 1 January being day 1.
    """

    mean: float
    swing: float
    coldest_day: float = 35.0

    def __post_init__(self) -> None:
        refuse(
            number_fault("mean", self.mean, "degC", at_least=-40.0),
            number_fault("swing", self.swing, "K", at_least=0.0),
            number_fault("coldest_day", self.coldest_day, "d"),
        )


def damping_depth(diffusivity: float) -> float:
    """Return the depth at which the year's swing has fallen to 1/e [m].

    Parameters
    ----------
    diffusivity
        Thermal diffusivity of the ground [m2/s].

    Notes
    -----
    d = sqrt(2 a / w) = sqrt(a P / pi), w = 2 pi / P, P a year (Carslaw & Jaeger, Conduction of
    Heat in Solids, periodic surface temperature).
    """
    refuse(number_fault("diffusivity", diffusivity, "m2/s", above=0.0))
    return math.sqrt(diffusivity * DAYS_PER_YEAR * SECONDS_PER_DAY / math.pi)


def kusuda_achenbach(
    surface: SurfaceTemperature, diffusivity: float, depth: ArrayLike, day: ArrayLike
) -> NDArray[np.float64]:
    """Return the undisturbed ground temperature [degC], `depth` and `day` broadcast together.

    Parameters
    ----------
    surface
        The year at the surface.
    diffusivity
        Thermal diffusivity [m2/s], the same at every depth.
    depth
        Depth below the surface [m], 0 or more.
    day
        Day of the year [d]; may run past a year.

    Raises
    ------
    InputError
        When a depth is negative or anything is not finite.

    Notes
    -----
    T = Tm - A exp(-z/d) cos(2 pi (t - t0)/P - z/d), d = sqrt(a P/pi) the damping depth. One
    harmonic, no snow, frost, groundwater flow or geothermal gradient; days within about 2 K of
    measurement are usual at 1 to 2 m (common practice, no source).

    References
    ----------
    Kusuda T., Achenbach P. R., Earth temperature and thermal diffusivity at selected stations in
    the United States, ASHRAE Transactions 71(1), 1965.
    """
    z = np.asarray(depth, dtype=float)
    t = np.asarray(day, dtype=float)
    refuse(
        *(
            number_fault("depth", v, "m", at_least=0.0)
            for v in (float(np.min(z)), float(np.max(z)))
        ),
        *(number_fault("day", v, "d") for v in (float(np.min(t)), float(np.max(t)))),
    )
    ratio = z / damping_depth(diffusivity)
    phase = 2.0 * math.pi * (t - surface.coldest_day) / DAYS_PER_YEAR - ratio
    return np.asarray(surface.mean - surface.swing * np.exp(-ratio) * np.cos(phase))


def mean_over_depth(
    surface: SurfaceTemperature, diffusivity: float, top: float, bottom: float, day: ArrayLike
) -> NDArray[np.float64]:
    """Return the undisturbed temperature averaged from `top` to `bottom` [degC].

    Parameters
    ----------
    surface, diffusivity, day
        As in :func:`kusuda_achenbach`.
    top, bottom
        Depths [m], bottom below top.

    Notes
    -----
    Exact integral of the Kusuda & Achenbach (1965) form: with c = (1 + i)/d the swing is the real
    part of A exp(i w (t - t0)) exp(-c z).
    """
    refuse(
        number_fault("top", top, "m", at_least=0.0),
        number_fault("bottom", bottom, "m", above=top),
    )
    t = np.asarray(day, dtype=float)
    c = (1.0 + 1.0j) / damping_depth(diffusivity)
    mean_wave = (np.exp(-c * top) - np.exp(-c * bottom)) / (c * (bottom - top))
    turning = np.exp(2.0j * math.pi * (t - surface.coldest_day) / DAYS_PER_YEAR)
    return np.asarray(surface.mean - surface.swing * np.real(turning * mean_wave))
