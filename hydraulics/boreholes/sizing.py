"""How deep must the boreholes of a field be, that the fluid never comes back too cold?

Month by month over the whole life: superposition in space (:mod:`hydraulics.boreholes.field`) and
in time (:mod:`hydraulics.ground.load_history`), a peak at the end of every month, borehole
resistance, and the fluid's temperature change. Heat extraction is positive throughout.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from hydraulics.boreholes.field import (
    Boundary,
    FieldResponse,
    distance_classes,
    prepare_field_response,
)
from hydraulics.checks import require_finite, require_not_negative, require_positive
from hydraulics.errors import Fault, InputError, NoSolutionError
from hydraulics.ground.line_source import cylindrical_source_correction
from hydraulics.ground.load_history import wall_temperature_history

MONTH = 365.25 / 12.0 * 86_400.0  # s, mean calendar month (365.25 days a year)

# Given as one number, or as a function of the active depth in metres.
OfDepth = float | Callable[[float], float]


@dataclass(frozen=True, slots=True)
class BorefieldGround:
    """Ground of a borefield.

    Attributes
    ----------
    conductivity
        Thermal conductivity, W/(m K).
    volumetric_heat_capacity
        J/(m3 K).
    undisturbed_temperature
        Mean over the active depth, degC; a number, or a function of the active depth (m) where the
        ground warms downwards.
    """

    conductivity: float
    volumetric_heat_capacity: float
    undisturbed_temperature: OfDepth

    def __post_init__(self) -> None:
        require_positive(
            conductivity=self.conductivity, volumetric_heat_capacity=self.volumetric_heat_capacity
        )
        if not callable(self.undisturbed_temperature):
            require_finite(undisturbed_temperature=self.undisturbed_temperature)

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity, m2/s."""
        return self.conductivity / self.volumetric_heat_capacity


@dataclass(frozen=True, slots=True)
class BorefieldLoads:
    """What the heat pump takes from the ground in a year; every year is alike.

    Attributes
    ----------
    monthly_mean
        Mean heat extracted in each of twelve months, W for the whole field, shape (12,); the first
        is the month in which the plant starts. Negative where heat is put back.
    monthly_peak
        Greatest heat extraction in each month, W, shape (12,); at least the month's mean.
    peak_duration
        How long each month's peak lasts, s, shape (12,) or one number; at most a month.
    capacity_flow
        Mass flow times specific heat of the whole field's fluid, W/K. With a fluid temperature
        change dT at the design peak, it is that peak divided by dT.
    """

    monthly_mean: NDArray[np.float64]
    monthly_peak: NDArray[np.float64]
    peak_duration: NDArray[np.float64]
    capacity_flow: float

    def __post_init__(self) -> None:
        for field in ("monthly_mean", "monthly_peak", "peak_duration"):
            values = np.asarray(getattr(self, field), dtype=float)
            if field == "peak_duration" and values.ndim == 0:
                values = np.full(12, float(values))
            if values.shape != (12,):
                raise InputError(
                    Fault(
                        field,
                        f"{field} has shape {values.shape}; give one value for each of twelve"
                        " months.",
                        value=list(values.shape),
                        allowed="12 values",
                    )
                )
            object.__setattr__(self, field, values)
        require_finite(monthly_mean=self.monthly_mean, monthly_peak=self.monthly_peak)
        require_positive(peak_duration=self.peak_duration, capacity_flow=self.capacity_flow)
        self._check_peaks()

    def _check_peaks(self) -> None:
        faults = [
            Fault(
                f"monthly_peak.{month}",
                f"the peak of month {month + 1} is {peak:g} W, its mean {mean:g} W; a peak is at"
                " least the month's mean.",
                value=float(peak),
                allowed=f"{mean:g} W or more",
            )
            for month, (mean, peak) in enumerate(
                zip(self.monthly_mean, self.monthly_peak, strict=True)
            )
            if peak < mean
        ]
        faults += [
            Fault(
                f"peak_duration.{month}",
                f"the peak of month {month + 1} lasts {duration / 3600.0:g} h, longer than the"
                " month.",
                value=float(duration),
                allowed=f"at most {MONTH:g} s",
            )
            for month, duration in enumerate(self.peak_duration)
            if duration > MONTH
        ]
        if faults:
            raise InputError(*faults)
        if max(self.monthly_peak.max(), self.monthly_mean.max()) <= 0.0:
            raise InputError(
                Fault(
                    "monthly_peak",
                    "no month takes heat from the ground; give at least one extraction load.",
                    allowed="one month above 0 W",
                )
            )


@dataclass(frozen=True, slots=True)
class FluidHistory:
    """Temperatures over the life of a borefield, degC, arrays of shape (years, 12).

    ``mean`` is the mean of what goes down and what comes up; ``returning`` is what comes back from
    the ground to the heat pump, ``going`` what is sent down; ``wall`` is the boreholes' wall.
    ``month_...`` hold at the end of the month under its mean load, ``peak_...`` at the end of the
    month's peak: the coldest.
    """

    month_wall: NDArray[np.float64]
    peak_wall: NDArray[np.float64]
    month_mean: NDArray[np.float64]
    month_returning: NDArray[np.float64]
    month_going: NDArray[np.float64]
    peak_mean: NDArray[np.float64]
    peak_returning: NDArray[np.float64]
    peak_going: NDArray[np.float64]

    @property
    def coldest_returning(self) -> float:
        """Coldest fluid that comes back from the ground in the whole life, degC."""
        return float(min(self.peak_returning.min(), self.month_returning.min()))


@dataclass(frozen=True, slots=True)
class BorefieldSizing:
    """A field sized to just meet its limit.

    Attributes
    ----------
    depth
        Active depth of each borehole, m.
    bores
        Number of boreholes.
    total_length
        Active length of all boreholes together, m.
    coldest_returning
        Coldest fluid that comes back from the ground, degC: the limit, to within 1e-4 K.
    coldest_year, coldest_month
        When, counted from 1.
    peak_per_metre
        Peak heat extraction per metre of borehole, W/m.
    heat_per_metre
        Net heat extracted in a year per metre of borehole, J/m.
    undisturbed_temperature
        Of the ground, mean over the depth, degC.
    borehole_resistance
        Effective, at this depth, m K/W.
    history
        Temperatures of every month.
    warnings
        Where a model is used outside the range in which it is known to hold.
    """

    depth: float
    bores: int
    total_length: float
    coldest_returning: float
    coldest_year: int
    coldest_month: int
    peak_per_metre: float
    heat_per_metre: float
    undisturbed_temperature: float
    borehole_resistance: float
    history: FluidHistory
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Field:
    """A field over its life, prepared so that any depth can be tried quickly."""

    response: FieldResponse
    at_wall: NDArray[np.float64]  # cylinder's correction at the same times
    bores: int
    months: int
    buried: float
    ground: BorefieldGround
    resistance: OfDepth
    loads: BorefieldLoads
    boundary: Boundary


def _value_at(depth: float, quantity: OfDepth) -> float:
    return float(quantity(depth)) if callable(quantity) else float(quantity)


def _prepare(
    ground: BorefieldGround,
    coordinates: ArrayLike,
    loads: BorefieldLoads,
    *,
    borehole_radius: float,
    buried: float,
    borehole_resistance: OfDepth,
    years: int,
    boundary: Boundary,
) -> _Field:
    require_not_negative(buried=buried)
    if not callable(borehole_resistance):
        require_not_negative(borehole_resistance=borehole_resistance)
    if years != int(years) or years < 1:
        raise InputError(
            Fault(
                "years",
                f"the design life is {years} years; give a whole number of years.",
                value=years,
                allowed="1 or more",
            )
        )
    classes = distance_classes(coordinates, borehole_radius)
    months = 12 * int(years)
    times = np.concatenate([np.arange(1, months + 1) * MONTH, loads.peak_duration])
    k, alpha = ground.conductivity, ground.diffusivity
    return _Field(
        prepare_field_response(classes, borehole_radius, k, alpha, times),
        cylindrical_source_correction(times, borehole_radius, k, alpha),
        classes.bores,
        months,
        buried,
        ground,
        borehole_resistance,
        loads,
        boundary,
    )


def _history(field: _Field, depth: float) -> FluidHistory:
    response = field.response.at_depth(depth, field.buried, field.boundary)
    response += field.at_wall
    month_response, pulse_response = np.split(response, [field.months])
    length = field.bores * depth
    loads, flow = field.loads, field.loads.capacity_flow
    resistance = _value_at(depth, field.resistance)
    mean, peak = loads.monthly_mean / length, loads.monthly_peak / length

    fall = wall_temperature_history(np.tile(mean, field.months // 12), month_response)
    undisturbed = _value_at(depth, field.ground.undisturbed_temperature)
    wall = (undisturbed - fall).reshape(-1, 12)
    month_mean = wall - mean * resistance
    peak_wall = wall - (peak - mean) * pulse_response
    peak_mean = peak_wall - peak * resistance
    month_half = loads.monthly_mean / (2.0 * flow)
    peak_half = loads.monthly_peak / (2.0 * flow)
    return FluidHistory(
        wall,
        peak_wall,
        month_mean,
        month_mean + month_half,
        month_mean - month_half,
        peak_mean,
        peak_mean + peak_half,
        peak_mean - peak_half,
    )


def simulate_borefield(
    ground: BorefieldGround,
    coordinates: ArrayLike,
    loads: BorefieldLoads,
    *,
    depth: float,
    borehole_radius: float,
    buried: float,
    borehole_resistance: OfDepth,
    years: int,
    boundary: Boundary = "uniform_wall",
) -> FluidHistory:
    """Fluid temperatures of a borefield of given depth over its life.

    Parameters
    ----------
    ground
        Conductivity, heat capacity and undisturbed temperature.
    coordinates
        Plan position of each borehole, m, shape (n, 2).
    loads
        Twelve monthly means and peaks, and the fluid's capacity flow.
    depth
        Active depth of each borehole, m.
    borehole_radius
        Radius of the boreholes, m.
    buried
        Depth of the top of the active part below the surface, m.
    borehole_resistance
        Effective resistance, m K/W; a number or a function of the active depth in metres.
    years
        Years to simulate.
    boundary
        How heat is shared over the field: :func:`hydraulics.boreholes.field.borefield_response`.

    Returns
    -------
    FluidHistory
        Temperatures of every month.

    Raises
    ------
    InputError
        Naming the quantity that is out of bounds.

    Notes
    -----
    See :func:`size_borefield`.
    """
    require_positive(depth=depth)
    field = _prepare(
        ground,
        coordinates,
        loads,
        borehole_radius=borehole_radius,
        buried=buried,
        borehole_resistance=borehole_resistance,
        years=years,
        boundary=boundary,
    )
    return _history(field, depth)


def size_borefield(
    ground: BorefieldGround,
    coordinates: ArrayLike,
    loads: BorefieldLoads,
    *,
    borehole_radius: float,
    buried: float,
    borehole_resistance: OfDepth,
    years: int,
    coldest_returning: float = 0.0,
    boundary: Boundary = "uniform_wall",
    depth_range: tuple[float, float] = (10.0, 500.0),
) -> BorefieldSizing:
    """Shallowest depth at which the fluid never comes back colder than the limit.

    Parameters
    ----------
    ground
        Conductivity, heat capacity and undisturbed temperature.
    coordinates
        Plan position of each borehole, m, shape (n, 2).
    loads
        Twelve monthly means and peaks, and the fluid's capacity flow.
    borehole_radius
        Radius of the boreholes, m.
    buried
        Depth of the top of the active part below the surface, m.
    borehole_resistance
        Effective resistance, m K/W; a number or a function of the active depth in metres.
    years
        Design life.
    coldest_returning
        Limit on the fluid that returns from the ground, degC; 0 is common practice, no source.
    boundary
        How heat is shared over the field: :func:`hydraulics.boreholes.field.borefield_response`.
        Uniform heat gives an upper bound of the depth.
    depth_range
        Depths to search, m.

    Returns
    -------
    BorefieldSizing
        Depth, and the temperatures of every month of the life.

    Raises
    ------
    InputError
        Naming the quantity that is out of bounds.
    NoSolutionError
        If no depth in the range meets the limit, or every one does.

    Notes
    -----
    Left out, on the safe side: latent heat where the ground freezes, groundwater flow, heat held in
    grout and fluid, and the outer boreholes' larger share of the heat. A peak comes on top of its
    month's mean, at the month's end. The cylinder's correction is added to the line source at the
    wall.

    Depth is about inversely proportional to conductivity where peaks decide: allow for the error of
    the conductivity by sizing again with its lower bound.
    """
    require_finite(coldest_returning=coldest_returning)
    require_positive(depth_range=depth_range)
    field = _prepare(
        ground,
        coordinates,
        loads,
        borehole_radius=borehole_radius,
        buried=buried,
        borehole_resistance=borehole_resistance,
        years=years,
        boundary=boundary,
    )

    def margin(depth: float) -> float:
        return _history(field, depth).coldest_returning - coldest_returning

    depth = _shallowest_root(margin, depth_range, coldest_returning)
    history = _history(field, depth)
    coldest = np.minimum(history.peak_returning, history.month_returning)
    year, month = np.unravel_index(int(coldest.argmin()), coldest.shape)
    length = field.bores * depth
    return BorefieldSizing(
        depth,
        field.bores,
        length,
        history.coldest_returning,
        int(year) + 1,
        int(month) + 1,
        float(loads.monthly_peak.max()) / length,
        float(loads.monthly_mean.sum()) * MONTH / length,
        _value_at(depth, ground.undisturbed_temperature),
        _value_at(depth, borehole_resistance),
        history,
        _warnings(ground, borehole_radius, loads, history),
    )


def _shallowest_root(
    margin: Callable[[float], float], depth_range: tuple[float, float], limit: float
) -> float:
    # Margin rises with depth until counterflow in a very deep borehole outweighs it, so a grid
    # finds the first crossing; between its points there is one root.
    grid = np.geomspace(*depth_range, 16)
    margins = [margin(float(grid[0]))]
    if margins[0] >= 0.0:
        raise NoSolutionError(
            Fault(
                "depth_range",
                f"at {grid[0]:g} m, the shallowest depth searched, the fluid still returns"
                f" {margins[0]:.1f} K above the limit. Use fewer boreholes.",
                value=float(grid[0]),
            )
        )
    for shallow, deep in pairwise(grid):
        margins.append(margin(float(deep)))
        if margins[-1] >= 0.0:
            return float(brentq(margin, shallow, deep, xtol=1e-6))
    best = int(np.argmax(margins))
    raise NoSolutionError(
        Fault(
            "depth_range",
            f"no depth from {grid[0]:g} to {grid[-1]:g} m keeps the returning fluid at"
            f" {limit:g} degC; the warmest is {limit + margins[best]:.1f} degC at"
            f" {grid[best]:.0f} m. Use more boreholes, wider spacing, less heat, or put heat back"
            " in summer.",
            value=list(depth_range),
        )
    )


def _warnings(
    ground: BorefieldGround, borehole_radius: float, loads: BorefieldLoads, history: FluidHistory
) -> tuple[str, ...]:
    found = []
    shortest = 5.0 * borehole_radius**2 / ground.diffusivity
    if loads.peak_duration.min() < shortest:
        found.append(
            f"A peak of {loads.peak_duration.min() / 3600.0:.1f} h is shorter than 5 r2/a"
            f" ({shortest / 3600.0:.1f} h; Eskilson 1987): the heat held in grout and fluid, left"
            " out here, makes the true temperature dip smaller."
        )
    coldest_wall = min(history.month_wall.min(), history.peak_wall.min())
    if coldest_wall < 0.0:
        found.append(
            f"The borehole's wall falls to {coldest_wall:.1f} degC: ground water there"
            " freezes. Latent heat is left out (safe for temperature), but frost can heave the"
            " ground and damage grout and pipe."
        )
    return tuple(found)
