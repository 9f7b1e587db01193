"""What is drawn from the ground, and how does its temperature follow years of it?

Loads are constant over equal steps; the change at the end of each step is the superposition in time
of the unit response to each earlier change of load. By fast Fourier transform the cost grows as
n log n with the number of steps, where direct summation grows as n squared, with the same result.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.checks import number_fault, refuse, require_finite
from hydraulics.errors import Fault, InputError
from hydraulics.ground.convolution import convolved
from hydraulics.ground.temperature import MONTH_SECONDS

Floats = NDArray[np.float64]
OfTemperature = Callable[[Floats], Floats]
Limit = Literal["lower", "upper"]
"""Of the brine from the ground: for the coldest return, or for the warmest."""
_TURNS, _SETTLED = 30, 1e-5  # of brine and its film, and how closely they meet [K]


@dataclass(frozen=True, slots=True)
class BrineLimits:
    """Between which temperatures the brine from the ground must stay [degC]."""

    lower: float
    upper: float = math.inf


@dataclass(frozen=True, slots=True)
class GroundLoad:
    """What the heat pump takes from the ground and puts into it in a year; every year is alike.

    Attributes
    ----------
    monthly
        Mean heat drawn in each month, January first, 12 numbers [W]; negative where more is put
        back than drawn.
    peak
        Greatest steady draw, at the end of every month in which it may fall [W].
    peak_hours
        How long that lasts without rest [h].
    first_month
        Month in which operation begins, 1 to 12.
    profile
        Where the sharing over months comes from.
    peak_months
        Months of the calendar in which the peak may fall; None: every month that draws.
    cold_peak, cold_hours, cold_months
        Greatest steady heat put into the ground by cooling [W], for how long [h], and the months in
        which it may fall.
    put_back
        Of the year's heat, what is put into the ground [J]; `monthly` is what is left of the draw.
    recharge
        Mean heat in each month, January first, that other means than cooling put back [W], within
        `put_back`; none: nothing.
    """

    monthly: tuple[float, ...]
    peak: float
    peak_hours: float
    first_month: int = 1
    profile: str = "as given"
    peak_months: tuple[int, ...] | None = None
    cold_peak: float = 0.0
    cold_hours: float = 24.0
    cold_months: tuple[int, ...] = ()
    put_back: float = 0.0
    recharge: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        count, most = len(self.monthly), max(self.monthly, default=0.0)
        never = most <= 0.0 if self.peak_months is None else not self.peak_months
        refuse(
            *peak_faults(self.peak_hours, self.first_month),
            *peak_faults(self.cold_hours, 1, "cold_hours"),
            Fault("monthly", f"has {count} values; give 12", count, "12 values")
            if count != 12
            else None,
            *(number_fault(f"monthly.{i}", mean, "W") for i, mean in enumerate(self.monthly)),
            number_fault("peak", self.peak, "W", at_least=max(most, 0.0)),
            number_fault("cold_peak", self.cold_peak, "W", at_least=0.0),
            Fault("monthly", "takes no heat in any month", most, "more than 0 W in some month")
            if never
            else None,
        )

    def with_more(self, factor: float) -> GroundLoad:
        """So many times as much heat and cold, with the recharge that there is."""
        kept = self.recharge or (0.0,) * 12
        still = sum(kept) * MONTH_SECONDS
        return replace(
            self,
            monthly=tuple(
                factor * (mean + back) - back for mean, back in zip(self.monthly, kept, strict=True)
            ),
            peak=factor * self.peak,
            cold_peak=factor * self.cold_peak,
            put_back=factor * (self.put_back - still) + still,
        )

    @property
    def limits(self) -> tuple[Limit, ...]:
        """Limits that the brine can come to: the upper only where some month puts heat back."""
        return ("lower", "upper") if (self.checked_warm < 0.0).any() else ("lower",)

    @property
    def annual(self) -> float:
        """Heat drawn in a year, less what is put back [J]."""
        return sum(self.monthly) * MONTH_SECONDS

    @property
    def greatest(self) -> float:
        """The greater of both peaks, which sets the flow [W]."""
        return max(self.peak, self.cold_peak)

    @property
    def drawn(self) -> float:
        """Heat drawn in a year [J]."""
        return self.annual + self.put_back

    @property
    def full_hours(self) -> float:
        """Hours at peak that would draw the year's heat [h]."""
        return self.drawn / self.peak / 3600.0

    @property
    def draws(self) -> Floats:
        """Mean draw of each month, in order of operation [W]."""
        return self._in_order(np.asarray(self.monthly, dtype=float))

    @property
    def checked(self) -> Floats:
        """Draw for which each month is held against the lower limit, in order of operation [W].

        In a month without a peak the brine follows that month's mean.
        """
        return self._in_order(np.where(self._peaks, self.peak, self.monthly))

    @property
    def checked_warm(self) -> Floats:
        """Draw for which each month is held against the upper limit, in order of operation [W]."""
        means = np.asarray(self.monthly, dtype=float)
        cold = np.isin(np.arange(1, 13), self.cold_months)
        return self._in_order(np.where(cold, np.minimum(means, -self.cold_peak), means))

    @property
    def _peaks(self) -> NDArray[np.bool_]:
        if self.peak_months is None:
            return np.asarray(self.monthly) > 0.0
        return np.isin(np.arange(1, 13), self.peak_months)

    def _in_order(self, of_calendar: Floats) -> Floats:
        return np.roll(of_calendar, 1 - self.first_month)


def peak_faults(
    hours: float, first_month: int, field: str = "peak_hours"
) -> tuple[Fault | None, ...]:
    """What is wrong with how long a peak lasts [h], and with the first month of operation."""
    longest = MONTH_SECONDS / 3600.0
    return (
        number_fault(field, hours, "h", above=0.0),
        Fault(field, f"is {hours:g} h, longer than a month", hours, f"at most {longest:g} h")
        if hours > longest
        else None,
        Fault("first_month", f"is {first_month}; give 1 to 12", first_month, "1 to 12")
        if not 1 <= first_month <= 12
        else None,
    )


@dataclass(frozen=True, slots=True)
class LimitingLoad:
    """What sets the length: the return that is nearest its limit, taken apart.

    Attributes
    ----------
    limit
        ``"lower"`` for the coldest return, ``"upper"`` for the warmest.
    year, month
        Year of operation from 1, and month of the calendar from 1.
    undisturbed
        Ground temperature without the array [degC].
    fall_from_months
        Fall of the pipe's outside, or of the borehole's wall, owing to all monthly draws so far;
        negative where it rises, as the following [K].
    fall_from_peak
        Further fall owing to the peak [K].
    fall_through_pipe
        Drop through film, pipe and grout [K].
    rise_of_brine
        By how much the brine comes back warmer than it is on average along the pipe: half its
        change for boreholes, less where it nears the ground's temperature on its way [K].
    """

    limit: Limit
    year: int
    month: int
    undisturbed: float
    fall_from_months: float
    fall_from_peak: float
    fall_through_pipe: float
    rise_of_brine: float

    @property
    def falls(self) -> float:
        """All falls from undisturbed ground to the mean brine [K]."""
        return self.fall_from_months + self.fall_from_peak + self.fall_through_pipe

    @property
    def governs(self) -> str:
        """Return the larger of the falls, as ``"monthly_draw"``, ``"peak"`` or ``"pipe"``."""
        falls = {
            "monthly_draw": self.fall_from_months,
            "peak": self.fall_from_peak,
            "pipe": self.fall_through_pipe,
        }
        return max(falls, key=lambda name: abs(falls[name]))


@dataclass(frozen=True, slots=True)
class History:
    """Temperatures over the life of an array.

    Attributes
    ----------
    first_month
        Month of the calendar in which it begins, 1 to 12.
    returning, going
        Coldest brine from and to the ground in each month [degC], shape (years, 12), months in
        order of operation.
    warm_returning, warm_going
        The warmest; in a month without a peak of cold it follows that month's mean.
    limiting
        The month nearest a limit, taken apart.
    coldest
        The month of the coldest return, taken apart; the same where the lower limit is nearer.
    warmest
        That of the warmest; None where no heat is put back.
    coldest_return, warmest_return
        In months that draw heat, and in months that put heat back; the latter None where none does
        [degC].
    coldest_ground
        Least temperature of the pipe's outside, or of the borehole's wall [degC].
    ground_by_year
        Mean of that over each year, but for the peaks, less its undisturbed mean [K].
    margin
        By how much the nearest limit is kept [K].
    """

    first_month: int
    returning: Floats
    going: Floats
    warm_returning: Floats
    warm_going: Floats
    limiting: LimitingLoad
    coldest: LimitingLoad
    warmest: LimitingLoad | None
    coldest_return: float
    warmest_return: float | None
    coldest_ground: float
    ground_by_year: Floats
    margin: float

    @property
    def coldest_by_month(self) -> tuple[Floats, Floats]:
        """Coldest brine from and to the ground in each month of the calendar [degC]."""
        return self._of_calendar(self.returning.min(0)), self._of_calendar(self.going.min(0))

    @property
    def warmest_by_month(self) -> tuple[Floats, Floats]:
        """Warmest brine from and to the ground in each month of the calendar [degC]."""
        warm, out = self.warm_returning.max(0), self.warm_going.max(0)
        return self._of_calendar(warm), self._of_calendar(out)

    @property
    def coldest_by_year(self) -> tuple[Floats, Floats]:
        """Coldest brine from and to the ground in each year [degC]."""
        return self.returning.min(1), self.going.min(1)

    @property
    def warmest_by_year(self) -> tuple[Floats, Floats]:
        """Warmest brine from and to the ground in each year [degC]."""
        return self.warm_returning.max(1), self.warm_going.max(1)

    @property
    def drift(self) -> float:
        """Change of the ground's yearly mean at the pipe or wall, last year less first [K]."""
        return float(self.ground_by_year[-1] - self.ground_by_year[0])

    @property
    def last_drift(self) -> float:
        """The same in the last year against the one before [K]; 0 for a life of one year."""
        return float(self.ground_by_year[-1] - self.ground_by_year[-2:][0])

    def _of_calendar(self, in_order: Floats) -> Floats:
        return np.roll(in_order, self.first_month - 1)


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a life: what is held against the lower limit, or against the upper.

    Attributes
    ----------
    draw
        For which each month of the life is checked [W], shape (months,).
    undisturbed
        Ground temperature without the array, the least or the most within each month [degC].
    from_peak, through_pipe
        Fall of the pipe's outside or the wall owing to the peak, and from there to the brine [K m].
    change
        The brine's temperature change [K].
    """

    draw: Floats
    undisturbed: Floats
    from_peak: Floats
    through_pipe: Floats
    change: Floats


@dataclass(frozen=True, slots=True)
class Life:
    """All months of a life in order of operation, for one metre of array in all.

    Attributes
    ----------
    first_month
        Month in which operation begins, 1 to 12.
    draws
        Mean draw of each month [W].
    from_months
        Fall of the pipe's outside, or of the wall, owing to them [K m], to be divided by the total
        length.
    cold, warm
        What is held against the lower and the upper limit.
    along_pipe
        Whether the brine passes the ground once and nears its temperature on its way (trenches).
        Else the resistance is one between the ground and the mean of going and coming brine
        (boreholes), which has that in it already.
    """

    first_month: int
    draws: Floats
    from_months: Floats
    cold: Side
    warm: Side
    along_pipe: bool

    def at(self, total: float, limits: BrineLimits) -> History:
        """Temperatures with so many metres in all, more than 0 [m]."""
        cold, warm = self.cold, self.warm
        returning, warmest = (
            side.undisturbed - self.fall_of_return(side, total) for side in (cold, warm)
        )
        outside = cold.undisturbed - (self.from_months + cold.from_peak) / total
        low = int(np.argmin(np.where(cold.draw > 0.0, returning, np.inf)))
        high = int(np.argmax(np.where(warm.draw < 0.0, warmest, -np.inf)))
        warmed = bool(warm.draw[high] < 0.0)
        margin = float(returning[low]) - limits.lower
        above = limits.upper - float(warmest[high]) if warmed else np.inf
        coldest = self._part("lower", cold, low, total)
        hottest = self._part("upper", warm, high, total) if warmed else None
        return History(
            first_month=self.first_month,
            returning=returning.reshape(-1, 12),
            going=(returning - cold.change).reshape(-1, 12),
            warm_returning=warmest.reshape(-1, 12),
            warm_going=(warmest - warm.change).reshape(-1, 12),
            limiting=coldest if hottest is None or margin <= above else hottest,
            coldest=coldest,
            warmest=hottest,
            coldest_return=float(returning[low]),
            warmest_return=float(warmest[high]) if warmed else None,
            coldest_ground=float(outside.min()),
            ground_by_year=-self.from_months.reshape(-1, 12).mean(axis=1) / total,
            margin=min(margin, above),
        )

    def fall_of_return(self, side: Side, total: float) -> Floats:
        """Fall of the brine that comes back below undisturbed ground in each month [K]."""
        months, own = self.from_months / total, (side.from_peak + side.through_pipe) / total
        if not self.along_pipe:
            return months + own - 0.5 * side.change
        return fall_at_end(months, own, side.change)

    def at_own_film(self, total: float, limits: BrineLimits, resistance: OfTemperature) -> History:
        """Temperatures with so many metres in all, each month with the film of its own brine.

        Parameters
        ----------
        resistance
            From the pipe's outside, or the wall, to brine of a mean temperature; less the warmer.

        Notes
        -----
        Brine and film are found by turns. Where they go on taking turns, in transition, the film of
        the colder of the last two stands: then brine that draws is told too cold, and brine that
        gives too warm.
        """

        def own(side: Side) -> Side:
            mean = self._film_mean(side, total)
            for _ in range(_TURNS):
                side = replace(side, through_pipe=side.draw * resistance(mean))
                last, mean = mean, self._film_mean(side, total)
                if np.abs(mean - last).max() < _SETTLED:
                    break
            return replace(side, through_pipe=side.draw * resistance(np.minimum(mean, last)))

        return replace(self, cold=own(self.cold), warm=own(self.warm)).at(total, limits)

    def _film_mean(self, side: Side, total: float) -> Floats:
        """Mean brine of each month, or less: along a pipe, and of what goes and comes [degC]."""
        along = self.from_months + side.from_peak + side.through_pipe
        ends = self.fall_of_return(side, total) + 0.5 * side.change
        return np.asarray(side.undisturbed - np.maximum(along / total, ends))

    def _part(self, limit: Limit, side: Side, month: int, total: float) -> LimitingLoad:
        falls = (self.from_months + side.from_peak + side.through_pipe)[month] / total
        return LimitingLoad(
            limit=limit,
            year=month // 12 + 1,
            month=(month + self.first_month - 1) % 12 + 1,
            undisturbed=float(side.undisturbed[month]),
            fall_from_months=float(self.from_months[month]) / total,
            fall_from_peak=float(side.from_peak[month]) / total,
            fall_through_pipe=float(side.through_pipe[month]) / total,
            rise_of_brine=float(falls - self.fall_of_return(side, total)[month]),
        )


@dataclass(frozen=True, slots=True)
class LoadedMonths:
    """A load over all months of a life in order of operation: :func:`loaded_months`.

    Attributes
    ----------
    first_month
        Month in which operation begins, 1 to 12.
    draws, cold_draw, warm_draw
        Mean draw of each month, and for which it is held against the lower and the upper limit [W].
    change_per_watt
        The brine's temperature change [K/W]; the flow is the same at all draws.
    """

    first_month: int
    draws: Floats
    cold_draw: Floats
    warm_draw: Floats
    change_per_watt: float


def loaded_months(load: GroundLoad, years: int, temperature_change: float) -> LoadedMonths:
    """Lay a load out over a life of so many years.

    Parameters
    ----------
    temperature_change
        Of the brine at the greater of both peaks [K].
    """
    return LoadedMonths(
        load.first_month,
        np.tile(load.draws, years),
        np.tile(load.checked, years),
        np.tile(load.checked_warm, years),
        temperature_change / load.greatest,
    )


def life_of(
    load: LoadedMonths,
    from_months: Floats,
    pulses: tuple[float, float],
    resistances: tuple[float, float],
    undisturbed: tuple[ArrayLike, ArrayLike],
    *,
    along_pipe: bool,
) -> Life:
    """Put the falls of a life together.

    Parameters
    ----------
    from_months
        Fall owing to the months so far, at the end of each [K m]: :func:`wall_temperature_history`.
    pulses
        Unit response after a peak of heat and after one of cold [K m/W].
    resistances
        From the pipe's outside, or the wall, to the brine at its coldest and its warmest [m K/W].
    undisturbed
        Ground temperature without the array [degC]: the least and the most, of the life or of each
        month of a year in order of operation.
    along_pipe
        As of :class:`Life`.

    Notes
    -----
    A peak comes at the end of its month, on top of that month's mean.
    """
    years = load.draws.size // 12

    def side(draw: Floats, pulse: float, resistance: float, ground: ArrayLike) -> Side:
        return Side(
            draw=draw,
            undisturbed=np.tile(np.broadcast_to(np.asarray(ground, dtype=float), 12), years),
            from_peak=(draw - load.draws) * pulse,
            through_pipe=draw * resistance,
            change=load.change_per_watt * draw,
        )

    return Life(
        first_month=load.first_month,
        draws=load.draws,
        from_months=from_months,
        cold=side(load.cold_draw, pulses[0], resistances[0], undisturbed[0]),
        warm=side(load.warm_draw, pulses[1], resistances[1], undisturbed[1]),
        along_pipe=along_pipe,
    )


def fall_at_end(months: ArrayLike, own: ArrayLike, change: ArrayLike) -> Floats:
    r"""Fall of brine below undisturbed ground where it leaves a pipe that it passes once [K].

    Parameters
    ----------
    months
        Fall of the ground at the pipe owing to the months so far, mean along the pipe [K].
    own
        Further fall to the brine's mean, in proportion to what the pipe draws; of the sign of
        `change` [K].
    change
        Of the brine along the pipe [K]; negative where heat is put back.

    Notes
    -----
    Each metre draws in proportion to how much colder its brine is than the ground, so the brine
    nears the ground exponentially: of a mean fall :math:`\theta` and a change c,
    :math:`c / (e^{c/\theta} - 1)` is left at the end (the logarithmic mean difference turned
    round), which is more than :math:`\theta - c/2`, and never less than nothing. Months that have
    changed the ground the other way are taken as the same along the pipe.

    References
    ----------
    VDI Heat Atlas, section C1, a stream against one temperature (from memory); derived anew.
    """
    months, own, change = (np.asarray(each, dtype=float) for each in (months, own, change))
    sign = np.where(change < 0.0, -1.0, 1.0)
    helped = np.minimum(sign * months, 0.0)
    mean, rise = sign * (months + own) - helped, np.abs(change)
    ratio = np.minimum(rise / np.maximum(mean, 1e-300), 700.0)
    left = mean * np.where(ratio > 1e-12, ratio / np.expm1(np.maximum(ratio, 1e-12)), 1.0)
    return np.asarray(sign * (helped + left))


def length_to_end(own: ArrayLike, change: ArrayLike, room: ArrayLike) -> Floats:
    """Length at which brine of a mean fall `own` / length [K m] leaves a pipe `room` below [m].

    The inverse of :func:`fall_at_end` without other months: `change` and `room` more than 0 [K].
    """
    own, change, room = (np.asarray(each, dtype=float) for each in (own, change, room))
    return np.asarray(own * np.log1p(change / room) / change)


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
    return convolved(loads, np.diff(unit, prepend=0.0))[: loads.size]
