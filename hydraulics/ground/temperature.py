"""How cold is the undisturbed ground at a depth on a day of the year?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault

DAYS_PER_YEAR = 365.25  # mean year, so that decades of months do not drift against the season
SECONDS_PER_DAY = 86_400.0
USUAL_GRADIENT = 0.03  # K/m, of a usual heat flow from below; more in young rock (from memory)
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
    depth
        Where that wave was measured [m]; 0 for the surface itself.
    film
        What passes from the surface to the air above it [W/m2 K]: grass, snow or paving that hold
        heat back; None for a surface that keeps its temperature whatever is drawn below it.
    months
        Monthly means of the air, January first, where they are known [degC]; else empty.
    """

    mean: float
    swing: float
    coldest_day: float = 35.0
    depth: float = 0.0
    film: float | None = None
    months: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        refuse(
            number_fault("mean", self.mean, "°C", at_least=-40.0),
            number_fault("swing", self.swing, "K", at_least=0.0),
            number_fault("coldest_day", self.coldest_day, "d"),
            number_fault("depth", self.depth, "m", at_least=0.0),
            number_fault("film", self.film, "W/m2 K", above=0.0),
        )

    def screened(self, conductivity: float) -> float:
        """Metres of ground [m] that hold back as much as the film above the surface.

        Notes
        -----
        k/h: held at its temperature that far above the surface, ground answers as one that passes
        heat on by a film (extrapolated boundary). The steady fall of a line at 1.2 m under 8 W/m2 K
        differs by 0.02 % from the exact one (tested).
        """
        return 0.0 if self.film is None else conductivity / self.film

    def at_surface(self, diffusivity: float) -> SurfaceTemperature:
        """The wave carried up to the surface from where it was measured.

        Parameters
        ----------
        diffusivity
            Thermal diffusivity of the ground [m2/s].
        """
        up = self.depth / damping_depth(diffusivity)
        return replace(
            self,
            swing=self.swing * math.exp(up),
            coldest_day=self.coldest_day - up * DAYS_PER_YEAR / (2.0 * math.pi),
            depth=0.0,
        )


def wave_of_air(months: Sequence[float], film: float | None = None) -> SurfaceTemperature:
    """Return the surface's year from monthly means of the air [degC], January first.

    Parameters
    ----------
    months
        12 means.
    film
        As in :class:`SurfaceTemperature`.

    Notes
    -----
    The first harmonic of the means, made up for what a mean over a month levels (1.1 %). Ground is
    usually warmer than the air by about 1 K in the mean (1.1 K at the one station looked at,
    docs/validation.md): the safe side for heat drawn, not for heat put back.
    """
    refuse(
        *(number_fault(f"months.{i}", value, "°C", at_least=-60.0) for i, value
          in enumerate(months)),
        Fault("months", f"has {len(months)} values; give 12", len(months), "12 values")
        if len(months) != 12
        else None,
    )  # fmt: skip
    turn = np.exp(2.0j * math.pi * (np.arange(12) + 0.5) / 12.0)
    wave = complex(np.mean(np.asarray(months) * turn)) * 2.0 / np.sinc(1.0 / 12.0)
    # Coldest where the wave's angle is half a turn from its warmest.
    coldest = (np.angle(wave) + math.pi) % (2.0 * math.pi) / (2.0 * math.pi) * DAYS_PER_YEAR
    return SurfaceTemperature(
        float(np.mean(months)), abs(wave), 1.0 + float(coldest), film=film, months=tuple(months)
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
    ratio = (z - surface.depth) / damping_depth(diffusivity)
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
    mean_wave = np.exp(-c * (top - surface.depth)) - np.exp(-c * (bottom - surface.depth))
    mean_wave /= c * (bottom - top)
    turning = np.exp(2.0j * math.pi * (t - surface.coldest_day) / DAYS_PER_YEAR)
    return np.asarray(surface.mean - surface.swing * np.real(turning * mean_wave))


def profile_means(
    profile: Sequence[tuple[float, float]],
    surface: SurfaceTemperature,
    diffusivity: float,
    gradient: float,
    *,
    top: float,
    bottom: float,
) -> tuple[float, float]:
    """Return the least and the most that measured temperatures tell from `top` to `bottom` [degC].

    Parameters
    ----------
    profile
        Depth and temperature of each point [m, degC], one or more, deeper and deeper.
    surface, diffusivity
        The year, of which a point near the surface has its share: :func:`kusuda_achenbach`.
    gradient
        Warming with depth beyond the points, above and below [K/m]; 0: not known, and whichever is
        the further of none and :data:`USUAL_GRADIENT`.
    top, bottom
        Depths [m], bottom below top.

    Notes
    -----
    The day of a measurement is not known: a point may be as much too warm or too cold as the year's
    wave is at its depth; between those, it is what the gradient makes of the point below.
    """
    refuse(number_fault("bottom", bottom, "m", above=top))
    depths, measured = np.array(profile, dtype=float).T
    wave = surface.swing * np.exp((surface.depth - depths) / damping_depth(diffusivity))

    def mean(side: float, up: float, down: float) -> float:
        read = measured.copy()
        read[-1] += side * wave[-1]
        for i in range(len(read) - 2, -1, -1):
            by_gradient = read[i + 1] - up * (depths[i + 1] - depths[i])
            read[i] = np.clip(by_gradient, read[i] - wave[i], read[i] + wave[i])
        within = depths[(depths > top) & (depths < bottom)]
        at = np.concatenate(([top], within, [bottom]))
        values = np.interp(at, depths, read)
        values -= up * np.maximum(depths[0] - at, 0.0)
        values += down * np.maximum(at - depths[-1], 0.0)
        return float(np.trapezoid(values, at) / (bottom - top))

    most = gradient or USUAL_GRADIENT
    return mean(-1.0, most, gradient), mean(1.0, gradient, most)
