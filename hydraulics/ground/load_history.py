"""What is drawn from the ground, and how does its temperature follow years of it?

Loads are constant over equal steps; the change at the end of each step is the superposition in time
of the unit response to each earlier change of load. By fast Fourier transform the cost grows as
n log n with the number of steps, where direct summation grows as n squared, with the same result.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal import fftconvolve

from hydraulics.checks import number_fault, refuse, require_finite
from hydraulics.errors import Fault, InputError
from hydraulics.ground.temperature import MONTH_SECONDS

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class GroundLoad:
    """What the heat pump takes from the ground in a year; every year is alike.

    Attributes
    ----------
    monthly
        Mean heat drawn in each month, January first, 12 numbers [W]; negative where heat is put
        back.
    peak
        Greatest steady draw, at the end of every month that takes heat [W].
    peak_hours
        How long that lasts without rest [h].
    first_month
        Month in which operation begins, 1 to 12.
    profile
        Where the sharing over months comes from.
    """

    monthly: tuple[float, ...]
    peak: float
    peak_hours: float
    first_month: int = 1
    profile: str = "as given"

    def __post_init__(self) -> None:
        count, most = len(self.monthly), max(self.monthly, default=0.0)
        refuse(
            *peak_faults(self.peak_hours, self.first_month),
            Fault("monthly", f"has {count} values; give 12", count, "12 values")
            if count != 12
            else None,
            *(number_fault(f"monthly.{i}", mean, "W") for i, mean in enumerate(self.monthly)),
            number_fault("peak", self.peak, "W", at_least=most),
            Fault("monthly", "takes no heat in any month", most, "more than 0 W in some month")
            if most <= 0.0
            else None,
        )

    @property
    def annual(self) -> float:
        """Heat drawn in a year [J]."""
        return sum(self.monthly) * MONTH_SECONDS

    @property
    def full_hours(self) -> float:
        """Hours at peak that would draw the year's heat [h]."""
        return self.annual / self.peak / 3600.0

    @property
    def draws(self) -> Floats:
        """Mean draw of each month, in order of operation [W]."""
        return np.roll(np.asarray(self.monthly, dtype=float), 1 - self.first_month)

    @property
    def checked(self) -> Floats:
        """Draw for which each month is checked, in order of operation [W].

        In a month that takes no heat the brine follows that month's mean.
        """
        return np.where(self.draws > 0.0, self.peak, self.draws)


def peak_faults(hours: float, first_month: int) -> tuple[Fault | None, ...]:
    """What is wrong with how long a peak lasts [h], and with the first month of operation."""
    longest = MONTH_SECONDS / 3600.0
    return (
        number_fault("peak_hours", hours, "h", above=0.0),
        Fault("peak_hours", f"is {hours:g} h, longer than a month", hours, f"at most {longest:g} h")
        if hours > longest
        else None,
        Fault("first_month", f"is {first_month}; give 1 to 12", first_month, "1 to 12")
        if not 1 <= first_month <= 12
        else None,
    )


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
        Fall of the pipe's outside, or of the borehole's wall, owing to all monthly draws so far
        [K].
    fall_from_peak
        Further fall owing to the peak [K].
    fall_through_pipe
        Drop through film, pipe and grout [K].
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
class History:
    """Temperatures over the life of an array.

    Attributes
    ----------
    returning, going
        Coldest brine from and to the ground in each month [degC], shape (years, 12), months in
        order of operation.
    limiting
        The coldest month that draws heat, taken apart.
    coldest_return
        [degC]
    coldest_ground
        Least temperature of the pipe's outside, or of the borehole's wall [degC].
    """

    returning: Floats
    going: Floats
    limiting: LimitingLoad
    coldest_return: float
    coldest_ground: float


def wall_temperature_history(step_loads: ArrayLike, response: ArrayLike) -> NDArray[np.float64]:
    r"""Temperature fall of the wall at the end of every step, for loads constant over each step.

    Parameters
    ----------
    step_loads
        Heat extracted in each step, W/m (negative where heat is put back), shape (n,).
    response
        Unit response at the ends of steps 1 ... n after a step load begins, K/(W/m), shape (n,).

    Returns
    -------
    ndarray
        Fall of temperature at the end of each step, K, shape (n,); negative where it has risen.

    Raises
    ------
    InputError
        If the two differ in length, are not one-dimensional, or hold a number that is not finite.

    Notes
    -----
    :math:`\Delta T_i = \sum_{j \le i} q_j [R_{i-j+1} - R_{i-j}]`, :math:`R_0 = 0`, as a
    convolution by FFT (rounding about 1e-15 of the largest term).

    References
    ----------
    Duhamel's theorem: Carslaw and Jaeger, 1959, section 1.14. Marcotte and Pasquier, Fast fluid and
    ground temperature computation for geothermal ground-loop heat exchanger systems, Geothermics
    37(6), 2008, 651-665 (the same sum by FFT).
    """
    require_finite(step_loads=step_loads, response=response)
    loads = np.asarray(step_loads, dtype=float)
    unit = np.asarray(response, dtype=float)
    if loads.ndim != 1 or loads.shape != unit.shape:
        raise InputError(
            Fault(
                "response",
                f"response has shape {unit.shape}, step_loads {loads.shape}; give one response for"
                " the end of each step.",
                value=list(unit.shape),
                allowed=f"shape ({loads.size},)",
            )
        )
    return np.asarray(fftconvolve(loads, np.diff(unit, prepend=0.0))[: loads.size])
