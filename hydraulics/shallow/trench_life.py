"""How cold does the brine of a trench array become, month by month through its life?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.pipe_heat import film_resistance, nusselt, wall_resistance
from hydraulics.ground.temperature import (
    DAYS_PER_YEAR,
    SECONDS_PER_DAY,
    SurfaceTemperature,
    kusuda_achenbach,
)
from hydraulics.pipework.pipe import Pipe
from hydraulics.shallow.response import (
    Ground,
    SlinkyTrench,
    StraightTrench,
    Trench,
    step_response,
    superpose,
)

Floats = NDArray[np.float64]

MONTH_SECONDS = DAYS_PER_YEAR * SECONDS_PER_DAY / 12.0
_MONTH_DAYS = DAYS_PER_YEAR / 12.0


@dataclass(frozen=True, slots=True)
class GroundLoad:
    """What the heat pump takes from the ground.

    Attributes
    ----------
    monthly
        Mean heat flow of each month, January first, 12 numbers [W]; positive when heat is taken.
    peak
        Greatest steady draw [W]: one number for every month that takes heat, or 12.
    peak_hours
        How long that draw lasts without rest [h].
    temperature_change
        Rise of the brine through the ground while the greatest peak is drawn [K]; the flow is
        taken to stay the same at lesser draws.
    first_month
        Month in which operation begins, 1 to 12.
    """

    monthly: tuple[float, ...]
    peak: float | tuple[float, ...]
    peak_hours: float
    temperature_change: float
    first_month: int = 1

    def __post_init__(self) -> None:
        faults = [
            number_fault("peak_hours", self.peak_hours, "h", above=0.0),
            number_fault("temperature_change", self.temperature_change, "K", above=0.0),
        ]
        if not self.peak_hours <= MONTH_SECONDS / 3600.0:
            faults.append(
                Fault(
                    "peak_hours",
                    f"is {self.peak_hours:g} h, longer than a month",
                    self.peak_hours,
                    "at most 730 h",
                )
            )
        if not 1 <= self.first_month <= 12:
            faults.append(
                Fault(
                    "first_month",
                    f"is {self.first_month}; give 1 to 12",
                    self.first_month,
                    "1 to 12",
                )
            )
        if len(self.monthly) != 12:
            faults.append(
                Fault(
                    "monthly",
                    f"has {len(self.monthly)} values; give 12",
                    len(self.monthly),
                    "12 values",
                )
            )
        peaks = self.peak if isinstance(self.peak, tuple) else (self.peak,) * 12
        if len(peaks) != 12:
            faults.append(
                Fault(
                    "peak", f"has {len(peaks)} values; give 1 or 12", len(peaks), "1 or 12 values"
                )
            )
        for i, mean in enumerate(self.monthly):
            faults.append(number_fault(f"monthly.{i}", mean, "W"))
        for i, (mean, peak) in enumerate(zip(self.monthly, peaks, strict=False)):
            faults.append(number_fault(f"peak.{i}", peak, "W", at_least=0.0))
            if mean > peak:
                faults.append(
                    Fault(
                        f"peak.{i}",
                        f"is {peak:g} W, less than that month's mean of {mean:g} W",
                        peak,
                        f"at least {mean:g} W",
                    )
                )
        if not any(mean > 0.0 for mean in self.monthly):
            faults.append(
                Fault(
                    "monthly",
                    "takes no heat in any month; nothing limits the array",
                    0.0,
                    "more than 0 W in some month",
                )
            )
        refuse(*faults)

    @property
    def peaks(self) -> Floats:
        """Draw for which each month is checked [W], January first; 0 where no heat is taken."""
        peak = np.broadcast_to(np.asarray(self.peak, dtype=float), 12)
        given = isinstance(self.peak, tuple)
        return np.where((np.asarray(self.monthly) > 0.0) | given, peak, 0.0)


@dataclass(frozen=True, slots=True)
class LimitingLoad:
    """What sets the length: the coldest return, taken apart.

    Attributes
    ----------
    year, month
        Year of operation from 1, and month of the calendar from 1.
    undisturbed
        Ground temperature without the array [degC].
    fall_from_months
        Fall of the pipe's outside owing to all monthly draws so far [K].
    fall_from_peak
        Further fall owing to the peak [K].
    fall_through_pipe
        Drop through pipe wall and film [K].
    rise_of_brine
        Half the brine's temperature change [K].
    """

    year: int
    month: int
    undisturbed: float
    fall_from_months: float
    fall_from_peak: float
    fall_through_pipe: float
    rise_of_brine: float

    @property
    def governs(self) -> str:
        """Return the larger of the falls, as ``"monthly_draw"``, ``"peak"`` or ``"pipe"``."""
        falls = {
            "monthly_draw": self.fall_from_months,
            "peak": self.fall_from_peak,
            "pipe": self.fall_through_pipe,
        }
        return max(falls, key=lambda name: falls[name])


@dataclass(frozen=True, slots=True)
class PipeResistance:
    """From brine to the pipe's outside.

    Attributes
    ----------
    reynolds, nusselt
        In a loop at the greatest peak's flow [-].
    film, wall
        Resistances per metre of pipe [m K/W].
    per_trench
        Both, per metre of trench [m K/W].
    """

    reynolds: float
    nusselt: float
    film: float
    wall: float
    per_trench: float


@dataclass(frozen=True, slots=True)
class TrenchHistory:
    """Temperatures over the life of a trench array.

    Attributes
    ----------
    returning, going
        Brine from and to the ground at each month's peak [degC], shape (years, 12), months in
        order of operation.
    pipe
        Resistance between brine and ground.
    limiting
        The coldest month that draws heat, taken apart.
    coldest_return
        [degC]
    coldest_ground
        Least temperature of the pipe's outside [degC].
    """

    returning: Floats
    going: Floats
    pipe: PipeResistance
    limiting: LimitingLoad
    coldest_return: float
    coldest_ground: float


@dataclass(frozen=True, slots=True)
class Life:
    """All months of the design life in order of operation, for one metre of trench in all.

    Attributes
    ----------
    first_month
        Month in which operation begins, 1 to 12.
    undisturbed
        Least ground temperature within each month without the array [degC].
    draws, peaks
        Mean draw of each month, and the draw for which it is checked [W].
    from_months, from_peak
        Falls of the pipe's outside [K m], to be divided by the total trench.
    half_rise
        Half the brine's temperature change [K].
    """

    first_month: int
    undisturbed: Floats
    draws: Floats
    peaks: Floats
    from_months: Floats
    from_peak: Floats
    half_rise: Floats

    def falls(self, resistance: PipeResistance) -> Floats:
        """Fall from undisturbed ground to the brine's mean [K m]."""
        return self.from_months + self.from_peak + self.peaks * resistance.per_trench

    def at(self, total: float, resistance: PipeResistance) -> TrenchHistory:
        """Temperatures with so much trench in all [m]."""
        returning = self.undisturbed - self.falls(resistance) / total + self.half_rise
        wall = self.undisturbed - (self.from_months + self.from_peak) / total
        worst = int(np.argmin(np.where(self.peaks > 0.0, returning, np.inf)))
        return TrenchHistory(
            returning=returning.reshape(-1, 12),
            going=(returning - 2.0 * self.half_rise).reshape(-1, 12),
            pipe=resistance,
            limiting=LimitingLoad(
                year=worst // 12 + 1,
                month=(worst + self.first_month - 1) % 12 + 1,
                undisturbed=float(self.undisturbed[worst]),
                fall_from_months=float(self.from_months[worst]) / total,
                fall_from_peak=float(self.from_peak[worst]) / total,
                fall_through_pipe=float(self.peaks[worst]) * resistance.per_trench / total,
                rise_of_brine=float(self.half_rise[worst]),
            ),
            coldest_return=float(returning[worst]),
            coldest_ground=float(wall.min()),
        )


def undisturbed_at_trench(
    surface: SurfaceTemperature, diffusivity: float, trench: Trench, day: ArrayLike
) -> Floats:
    """Return the undisturbed temperature averaged over a trench's pipe [degC], shape of `day`."""
    if isinstance(trench, StraightTrench):
        depths = np.array([depth for _, depth in trench.pipes])
    elif trench.upright:
        depths = trench.depth + trench.coil_diameter / 2 * RING_HEIGHTS
    else:
        depths = np.array([trench.depth])
    days = np.asarray(day, dtype=float)
    return np.asarray(kusuda_achenbach(surface, diffusivity, depths, days[..., None]).mean(axis=-1))


def loop_flow(load: GroundLoad, brine: Fluid, loops: int) -> float:
    """Return the mass flow in each of some equal loops at the greatest peak [kg/s]."""
    return float(load.peaks.max()) / (brine.specific_heat * load.temperature_change * loops)


def life_of_trenches(  # noqa: PLR0917 (each is another subject)
    ground: Ground,
    surface: SurfaceTemperature,
    trench: Trench,
    load: GroundLoad,
    trenches: int,
    centres: float,
    years: int,
) -> Life:
    """Return every month of the life from the first month of operation.

    Parameters
    ----------
    ground, surface, trench, load, centres, years
        As :func:`size_trench_array`.
    trenches
        How many.
    """
    apart = centres if trenches > 1 else math.inf
    response = step_response(ground, trench, trenches, apart, (12 * years + 1) * MONTH_SECONDS)
    start = load.first_month - 1
    draws = np.tile(np.roll(np.asarray(load.monthly, dtype=float), -start), years)
    peaks = np.tile(np.roll(load.peaks, -start), years)
    months = np.arange(12)
    within = np.array([0.0, 0.5, 1.0])
    days = (start + months[:, None] + within) * _MONTH_DAYS + 1.0
    cold = undisturbed_at_trench(surface, ground.diffusivity, trench, days).min(axis=1)
    # In a month that takes no heat the brine follows that month's mean (cooling, or none).
    checked = np.where(peaks > 0.0, peaks, draws)
    pulse = float(response(load.peak_hours * 3600.0))
    return Life(
        first_month=load.first_month,
        undisturbed=np.tile(cold, years),
        draws=draws,
        peaks=checked,
        from_months=superpose(response, draws, MONTH_SECONDS),
        from_peak=(checked - draws) * pulse,
        half_rise=0.5 * load.temperature_change * checked / float(load.peaks.max()),
    )


__all__ = ["TrenchHistory", "trench_history"]


def trench_history(  # noqa: PLR0917 (each is another subject)
    ground: Ground,
    surface: SurfaceTemperature,
    trench: Trench,
    load: GroundLoad,
    pipe: Pipe,
    brine: Fluid,
    *,
    trenches: int,
    trench_length: float,
    centres: float = 5.0,
    years: int = 20,
) -> TrenchHistory:
    """Return the brine temperatures of an array of equal trenches of given length.

    Parameters
    ----------
    ground, surface, trench, load, pipe, brine, centres, years
        As :func:`hydraulics.shallow.trench_sizing.size_trench_array`.
    trenches, trench_length
        How many, and the length of each [m].

    Returns
    -------
    TrenchHistory

    Raises
    ------
    InputError
        When a number is not usable.
    """
    refuse(
        number_fault("trenches", trenches, "trenches", at_least=1),
        number_fault("trench_length", trench_length, "m", above=0.0),
        number_fault("years", years, "years", at_least=1),
    )
    life = life_of_trenches(ground, surface, trench, load, trenches, centres, years)
    resistance = pipe_resistance(trench, pipe, brine, loop_flow(load, brine, trenches))
    return life.at(trenches * trench_length, resistance)


# Angles over a ring at which the undisturbed temperature is averaged, equal weights.
RING_HEIGHTS = np.cos(np.pi * (np.arange(12) + 0.5) / 12)


def pipe_resistance(trench: Trench, pipe: Pipe, brine: Fluid, loop_flow: float) -> PipeResistance:
    """Return the resistance from the brine to the pipe's outside.

    Parameters
    ----------
    trench
        What lies in the trench: straight pipe has a straight film, a slinky a coil's.
    pipe
        Bore and outside diameter.
    brine
        Properties at the brine's mean temperature.
    loop_flow
        Mass flow in one loop [kg/s].
    """
    reynolds = 4.0 * loop_flow / (math.pi * pipe.bore * brine.viscosity)
    coiled = isinstance(trench, SlinkyTrench)
    curvature = pipe.bore / trench.coil_diameter if isinstance(trench, SlinkyTrench) else 0.0
    number = float(nusselt(reynolds, brine.prandtl, curvature if coiled else 0.0))
    film = float(film_resistance(number, brine.conductivity))
    wall = wall_resistance(pipe.outside_diameter, pipe.bore)
    return PipeResistance(reynolds, number, film, wall, (film + wall) / trench.exchanging_length)
