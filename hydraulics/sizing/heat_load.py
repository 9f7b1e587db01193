"""How much heat passes to and from the ground, month by month and at the peaks of both seasons?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.ground.load_history import Floats, GroundLoad, peak_faults
from hydraulics.ground.temperature import DAYS_PER_YEAR, MONTH_SECONDS, SurfaceTemperature

PEAK_HOURS = 24.0
"""How long the peak is drawn without rest [h]; common practice, no source."""
HEATING_BASE = 15.5
"""Outdoor temperature above which a house asks no heat [degC]; the usual base in the UK (CIBSE
TM41, from memory)."""
_HITCHIN_K = 0.71  # 1/K, CIBSE TM41, from memory


@dataclass(frozen=True, slots=True)
class Cooling:
    """Cold that the heat pump gives, whose heat goes into the ground.

    Attributes
    ----------
    monthly
        Cold given in each month, January first, 12 numbers [J]; the peak may fall in those that
        have some.
    output
        Greatest cold given, which sets the peak [W].
    performance
        Cold given over electricity taken [-], more than 1; at the peak as well.
    peak_hours
        How long the peak lasts without rest [h].
    """

    monthly: tuple[float, ...]
    output: float
    performance: float
    peak_hours: float = PEAK_HOURS

    def __post_init__(self) -> None:
        most = max(self.monthly, default=0.0)
        hours = most / self.output / 3600.0 if self.output > 0.0 else 0.0
        refuse(
            *_months_faults("monthly", self.monthly),
            number_fault("output", self.output, "W", above=0.0),
            number_fault("performance", self.performance, "", above=1.0),
            *peak_faults(self.peak_hours, 1),
            Fault("monthly", "gives no cold in any month; leave cooling out", 0.0, "more than 0")
            if self.monthly and most <= 0.0
            else None,
            Fault(
                "output",
                f"gives the cold of a month in {hours:.0f} h, more than the month has",
                self.output,
                f"at least {most / MONTH_SECONDS / 1e3:.3g} kW",
            )
            if hours > MONTH_SECONDS / 3600.0 * (1.0 + 1e-9)
            else None,
            Fault(
                "peak_hours",
                f"is {self.peak_hours:g} h at the greatest output, more than the cold of any month",
                self.peak_hours,
                f"at most {math.floor(100.0 * hours) / 100.0:g} h",
            )
            if 0.0 < hours < self.peak_hours * (1.0 - 1e-9)
            else None,
        )

    @property
    def rejected(self) -> float:
        """Heat put into the ground over cold given [-]."""
        return 1.0 + 1.0 / self.performance


@dataclass(frozen=True, slots=True, kw_only=True)
class _Year:
    """What both ways to tell the heat have in common.

    Attributes
    ----------
    cooling
        Cold given; None where there is none.
    recharge
        Heat put back in each month by other means: sun, free cooling, waste heat; January first, 12
        numbers [J], or none.
    peak_months
        Months of the calendar in which the peak may fall; none: all that take heat.
    performance_slope
        By how much the heat pump's performance changes per kelvin of brine [1/K], where known.
    """

    cooling: Cooling | None = None
    recharge: tuple[float, ...] = ()
    peak_months: tuple[int, ...] = ()
    performance_slope: float | None = None

    def faults(self) -> tuple[Fault | None, ...]:
        """What is wrong with them."""
        months = enumerate(self.peak_months)
        return (
            *(_months_faults("recharge", self.recharge) if self.recharge else ()),
            *(
                Fault(f"peak_months.{i}", f"is {month}; give 1 to 12", month, "1 to 12")
                if not 1 <= month <= 12
                else None
                for i, month in months
            ),
        )


def _months_faults(field: str, heat: tuple[float, ...]) -> tuple[Fault | None, ...]:
    return (
        Fault(field, f"has {len(heat)} values; give 12", len(heat), "12 values")
        if len(heat) != 12
        else None,
        *(number_fault(f"{field}.{i}", each, "J", at_least=0.0) for i, each in enumerate(heat)),
    )


@dataclass(frozen=True, slots=True)
class AnnualHeat(_Year):
    """A heat pump's year by its output, run hours and seasonal performance.

    Attributes
    ----------
    output
        Heat given at design [W].
    seasonal_performance
        Heat given over electricity taken, heating season [-], more than 1.
    heating_hours
        Hours a year at that output that give the year's space heat [h].
    hot_water
        Heat given to hot water in a year, on top of the heating hours [J].
    hot_water_performance
        Seasonal performance on hot water [-]; None: as heating.
    design_performance
        COP at design [-], which sets the peak; None: the seasonal one, which is usually higher and
        so draws more (safe side).
    peak_hours
        How long the design draw lasts without rest [h].
    first_month
        Month in which operation begins, 1 to 12.
    """

    output: float
    seasonal_performance: float
    heating_hours: float
    hot_water: float = 0.0
    hot_water_performance: float | None = None
    design_performance: float | None = None
    peak_hours: float = PEAK_HOURS
    first_month: int = 1

    def __post_init__(self) -> None:
        refuse(
            number_fault("output", self.output, "W", above=0.0),
            number_fault("seasonal_performance", self.seasonal_performance, "", above=1.0),
            number_fault("heating_hours", self.heating_hours, "h", at_least=0.0),
            number_fault("hot_water", self.hot_water, "J", at_least=0.0),
            number_fault("hot_water_performance", self.hot_water_performance, "", above=1.0),
            number_fault("design_performance", self.design_performance, "", above=1.0),
            *peak_faults(self.peak_hours, self.first_month),
            *self.faults(),
            Fault(
                "heating_hours",
                "and hot_water are both 0; nothing is drawn from the ground",
                0.0,
                "more than 0 in one of the two",
            )
            if self.heating_hours == 0.0 and self.hot_water == 0.0
            else None,
        )


@dataclass(frozen=True, slots=True)
class MonthlyHeat(_Year):
    """A heat pump's year by the heat that it gives in each month.

    Attributes
    ----------
    monthly
        Heat given in each month, January first, 12 numbers [J].
    seasonal_performance
        Heat given over electricity taken [-], more than 1.
    output
        Greatest heat given, which sets the peak [W].
    design_performance
        COP at that output [-]; None: the seasonal one (safe side).
    peak_hours
        How long the peak lasts without rest [h].
    first_month
        Month in which operation begins, 1 to 12.
    """

    monthly: tuple[float, ...]
    seasonal_performance: float
    output: float
    design_performance: float | None = None
    peak_hours: float = PEAK_HOURS
    first_month: int = 1

    def __post_init__(self) -> None:
        refuse(
            number_fault("output", self.output, "W", above=0.0),
            number_fault("seasonal_performance", self.seasonal_performance, "", above=1.0),
            number_fault("design_performance", self.design_performance, "", above=1.0),
            *peak_faults(self.peak_hours, self.first_month),
            *self.faults(),
            *_months_faults("monthly", self.monthly),
            Fault(
                "monthly",
                "gives no heat in any month; nothing is drawn from the ground",
                0.0,
                "more than 0 in some month",
            )
            if len(self.monthly) == 12 and not any(heat > 0.0 for heat in self.monthly)
            else None,
        )


HeatLoad = AnnualHeat | MonthlyHeat


def hitchin_1983(mean: Floats) -> Floats:
    """Return heating degrees, the month's degree-days over its days, from its mean temperature [K].

    Parameters
    ----------
    mean
        Monthly mean outdoor temperatures [degC].

    Notes
    -----
    (Tb - T)/(1 - exp(-k (Tb - T))), k = 0.71 1/K; about base less mean in winter, a small rest in
    months about as warm as the base. Hitchin E. R., Building Services Engineering Research and
    Technology 4 (1983) 159-162; CIBSE TM41 (from memory). About 5 % in heating months.
    """
    x = _HITCHIN_K * (HEATING_BASE - np.asarray(mean, dtype=float))
    # x / (1 - exp(-x)) tends to 1 at x = 0.
    near = np.abs(x) < 1e-6
    safe = np.where(near, 1.0, x)
    return np.asarray(np.where(near, 1.0 + x / 2.0, safe / -np.expm1(-safe)) / _HITCHIN_K)


def heating_shares(surface: SurfaceTemperature) -> Floats:
    """Return each month's share of the year's space heat, January first, shape (12,) [-].

    Notes
    -----
    In proportion to degree-days (:func:`hitchin_1983`) of the air's monthly means where they are
    known, else of the surface's own yearly wave, which stands in for the outdoor air.
    """
    if surface.months:
        degrees = hitchin_1983(np.asarray(surface.months))
        return np.asarray(degrees / degrees.sum())
    middle = (np.arange(12) + 0.5) * DAYS_PER_YEAR / 12.0 + 1.0
    phase = 2.0 * math.pi * (middle - surface.coldest_day) / DAYS_PER_YEAR
    degrees = hitchin_1983(surface.mean - surface.swing * np.cos(phase))
    return np.asarray(degrees / degrees.sum())


def ground_draw(load: HeatLoad, surface: SurfaceTemperature) -> GroundLoad:
    """Return the heat drawn from the ground: Q (1 - 1/SPF) each month, Q (1 - 1/COP) at the peak.

    Cold puts Q (1 + 1/EER) into it, each month and at its own peak, and recharge all of its heat.

    Parameters
    ----------
    load
        What the heat pump gives.
    surface
        The year at the surface; shares the heating over months where only run hours are given.

    Returns
    -------
    GroundLoad

    Raises
    ------
    InputError
        Where a month's mean would exceed the peak (more run hours than the month has), or where
        no month has the heat of a single peak.
    """
    part = 1.0 - 1.0 / load.seasonal_performance
    if isinstance(load, AnnualHeat):
        heating = load.output * 3600.0 * load.heating_hours * heating_shares(surface) * part
        water_part = 1.0 - 1.0 / (load.hot_water_performance or load.seasonal_performance)
        water = load.hot_water * water_part / 12.0
        drawn = heating + water
        air = "the months of the air" if surface.months else "the surface's yearly wave"
        profile = (
            f"space heat by degree-days to {HEATING_BASE:g} °C of {air} (Hitchin 1983), "
            "hot water evenly over the year (common practice)"
        )
    else:
        drawn = np.asarray(load.monthly) * part
        profile = "as given, month by month"
    peak, cold_peak = peaks(load)
    means = drawn / MONTH_SECONDS
    worst = int(means.argmax())
    if means[worst] > peak:
        parts = (
            (
                _Drawn("heating_hours", float(heating[worst]), load.heating_hours, 1.0, "h"),
                _Drawn("hot_water", water, load.hot_water, 3.6e6, "kWh"),
            )
            if isinstance(load, AnnualHeat)
            else (
                _Drawn(f"monthly.{worst}", float(drawn[worst]), load.monthly[worst], 3.6e6, "kWh"),
            )
        )
        refuse(*_too_much(peak, worst, parts))
    most = means[worst] / peak * MONTH_SECONDS / 3600.0
    refuse(
        Fault(
            "peak_hours",
            f"is {load.peak_hours:g} h of the design draw, more than the heat of any month: month "
            f"{worst + 1} draws most and has {most:.3g} h of it; give fewer hours, or more heat",
            load.peak_hours,
            f"at most {math.floor(100.0 * most) / 100.0:g} h",
        )
        if load.peak_hours > most * (1.0 + 1e-9)
        else None
    )
    put, cooling = _put_back(load), load.cooling
    return GroundLoad(
        monthly=tuple(float(mean) for mean in means - put / MONTH_SECONDS),
        peak=peak,
        peak_hours=load.peak_hours,
        first_month=load.first_month,
        profile=profile,
        peak_months=_peak_months(load, means),
        cold_peak=cold_peak,
        cold_hours=PEAK_HOURS if cooling is None else cooling.peak_hours,
        cold_months=()
        if cooling is None
        else tuple(month for month in range(1, 13) if cooling.monthly[month - 1] > 0.0),
        put_back=float(put.sum()),
        recharge=tuple(heat / MONTH_SECONDS for heat in load.recharge),
    )


class _Drawn(NamedTuple):
    """Heat that a month draws by one field of the load: [J], of a value in so many of a unit."""

    field: str
    heat: float
    value: float
    size: float
    unit: str


def _too_much(peak: float, month: int, parts: tuple[_Drawn, ...]) -> Iterator[Fault]:
    """Parts that are more than a month of the peak [W]; where none alone is, all together."""
    whole = peak * MONTH_SECONDS
    alone = [part for part in parts if part.heat > whole]
    for part in alone or parts:
        others = sum(each.heat for each in parts if each != part and each not in alone)
        hours = (part.heat + others) / peak / 3600.0
        most = math.floor(part.value / part.size * (whole - others) / part.heat)
        beside = ", with the rest of the heat," if others else ""
        yield Fault(
            part.field,
            f"asks the ground{beside} for {hours:.0f} h of the design draw in month {month + 1}, "
            "more than the month has; give a larger output or less heat",
            part.value,
            f"at most {most} {part.unit}",
        )


def rise_at_peak(load: HeatLoad, temperature_change: float) -> float:
    """Rise of the brine at the peak of heat [K], by its change at the greater peak [K]."""
    peak, cold_peak = peaks(load)
    return temperature_change * peak / max(peak, cold_peak)


def peaks(load: HeatLoad) -> tuple[float, float]:
    """Greatest heat drawn from the ground, and greatest put into it by cooling [W]."""
    part = 1.0 - 1.0 / (load.design_performance or load.seasonal_performance)
    cooling = load.cooling
    return load.output * part, 0.0 if cooling is None else cooling.output * cooling.rejected


def _put_back(load: HeatLoad) -> Floats:
    """Heat put into the ground in each month by cooling and recharge, January first [J]."""
    put, cooling = np.zeros(12), load.cooling
    if load.recharge:
        put += np.asarray(load.recharge)
    if cooling is not None:
        put += np.asarray(cooling.monthly) * cooling.rejected
    return put


def _peak_months(load: HeatLoad, means: Floats) -> tuple[int, ...]:
    """Months in which the peak may fall: as told, or all that take heat."""
    drawing = [month for month in range(1, 13) if means[month - 1] > 0.0]
    refuse(
        *(
            Fault(
                f"peak_months.{i}",
                f"is {month}, and no heat is taken in that month",
                month,
                ", ".join(map(str, drawing)),
            )
            if month not in drawing
            else None
            for i, month in enumerate(load.peak_months)
        )
    )
    return load.peak_months or tuple(drawing)
