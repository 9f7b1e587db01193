"""How deep must the boreholes of a field be, that the brine never comes back too cold or warm?

Month by month over the whole life: superposition in space (:mod:`hydraulics.boreholes.field`) and
in time (:mod:`hydraulics.ground.load_history`), peaks of heat and cold at the end of a month,
borehole resistance, and the fluid's temperature change. Heat extraction is positive throughout.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise

import numpy as np
import scipy as sp

from hydraulics.boreholes.field import DistanceClasses, FieldResponse, prepare_field_response
from hydraulics.checks import number_fault, refuse, require_not_negative, require_positive
from hydraulics.errors import Fault, NoDepthError, NoSolutionError
from hydraulics.findings import beyond as beyond_limit
from hydraulics.ground.convolution import convolved
from hydraulics.ground.line_source import cylindrical_source_correction
from hydraulics.ground.load_history import (
    BrineLimits,
    Floats,
    GroundLoad,
    History,
    Life,
    LoadedMonths,
    life_of,
    loaded_months,
)
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import MONTH_SECONDS

# Step of ln(time) between computed points of a response (error below 1e-6 of it, tested).
_STEP = 0.2
_MET = 1e-5  # K within which a limit is met
_NEAR = 2e-3  # K from which the straight line through two depths meets it as closely
_CHASES = 10  # some 5 find a depth
OfDepth = Callable[[float], float]
"""A quantity that depends on the active depth [m]."""


@dataclass(frozen=True, slots=True)
class Borefield:
    """A field over its life, prepared so that any depth can be tried quickly (:func:`borefield`).

    Attributes
    ----------
    response, at_wall
        Of the field's walls to a step of heat at some times of the life, after a peak of heat and
        after one of cold; the cylinder's correction at the same times.
    superpose
        What the response at the times of the life, but for the peaks, makes of all monthly draws
        [W], shape (months, times).
    bores
        Number of boreholes.
    buried
        Depth of the top of the active part below what keeps its temperature [m].
    months
        What is drawn through the life.
    undisturbed, warmest
        Ground temperature, mean over the active depth, on the year's coldest and warmest day
        [degC].
    resistance, warm_resistance
        Effective, of a borehole with brine at its coldest and its warmest [m K/W].
    """

    response: FieldResponse
    at_wall: Floats
    superpose: Floats
    bores: int
    buried: float
    months: LoadedMonths
    undisturbed: OfDepth
    warmest: OfDepth
    resistance: OfDepth
    warm_resistance: OfDepth

    def at(self, depth: float, limits: BrineLimits) -> History:
        """Temperatures with boreholes of an active depth, more than 0 [m]."""
        return self.life(depth).at(self.bores * depth, limits)

    def life(self, depth: float) -> Life:
        """All months with boreholes of an active depth, more than 0 [m]."""
        response = self.response.at_depth(depth, self.buried) + self.at_wall
        return life_of(
            self.months,
            self.superpose @ response[:-2],
            (float(response[-2]), float(response[-1])),
            (self.resistance(depth), self.warm_resistance(depth)),
            (self.undisturbed(depth), self.warmest(depth)),
            along_pipe=False,
        )

    def shallowest(
        self,
        limits: BrineLimits,
        depth_range: tuple[float, float] = (10.0, 500.0),
        near: float | None = None,
    ) -> float:
        """Shallowest active depth at which the brine stays between its limits [m].

        Parameters
        ----------
        limits
            On the brine that returns from the ground; met to within 1e-4 K, or kept at the
            shallowest depth searched.
        depth_range
            Depths to search [m].
        near
            Where to begin [m]; None: at the shallowest.

        Raises
        ------
        NoSolutionError
            If no depth in the range meets the limits.

        Notes
        -----
        Depth is about inversely proportional to conductivity where peaks decide: allow for the
        error of the conductivity by sizing again with its lower bound.
        """
        require_positive(depth_range=depth_range)
        found = self._chased(limits, depth_range, near or depth_range[0])
        return found or self._searched(limits, depth_range)

    def _chased(
        self, limits: BrineLimits, depth_range: tuple[float, float], depth: float
    ) -> float | None:
        """The depth, found from falls that go about as 1/depth; None where it is not near that."""
        shallowest, deepest = depth_range
        last: tuple[float, float] | None = None
        for _ in range(_CHASES):
            found = self.at(depth, limits)
            margin, inverse = found.margin, 1.0 / depth
            if abs(margin) < _MET or (margin > 0.0 and depth == shallowest):
                return depth
            following = _guess(found, depth, limits)
            if last is not None and inverse != last[0]:
                slope = (margin - last[1]) / (inverse - last[0])
                if slope >= 0.0:
                    return None  # counterflow outweighs what more depth gains
                if 0.5 < last[0] * depth < 2.0:
                    following = 1.0 / max(inverse - margin / slope, 1.0 / deepest)
                    if abs(margin) < _NEAR and following > shallowest:
                        return following
            last, depth = (inverse, margin), min(max(following, shallowest), deepest)
        return None

    def _searched(self, limits: BrineLimits, depth_range: tuple[float, float]) -> float:
        """The depth by bisection of a grid, or why there is none.

        Margin rises with depth until counterflow in a very deep borehole outweighs it.
        """
        grid = np.geomspace(*depth_range, 16)

        @cache
        def margin(depth: float) -> float:
            return self.at(depth, limits).margin

        if margin(float(grid[0])) >= 0.0:
            return float(grid[0])
        for shallow, deep in pairwise(grid.tolist()):
            if margin(deep) >= 0.0:
                return float(sp.optimize.brentq(margin, shallow, deep, xtol=1e-5))
        best = float(max(grid, key=lambda depth: margin(float(depth))))
        nearest = self.at(best, limits)
        if (beyond := self._ground_beyond(limits, best, nearest)) is not None:
            raise NoSolutionError(beyond)
        if nearest.limiting.limit == "upper":
            limit, found, word = limits.upper, nearest.warmest_return, "coolest"
            change = -self.months.change_per_watt * float(self.months.warm_draw.min())
            less = f"more flow (it changes by {change:.1f} K at the peak of cold), less cold, or "
            less += "draw heat"
        else:
            limit, found, word = limits.lower, nearest.coldest_return, "warmest"
            less = "less heat, or put heat back"
        # What neighbours do to one another helps where the year's balance is of the other season.
        balance = float(self.months.draws.sum()) * (
            1.0 if nearest.limiting.limit == "lower" else -1
        )
        wider = "wider spacing, " if balance > 0.0 and self.bores > 1 else ""
        nearly = limit if found is None else found
        raise NoDepthError(
            Fault(
                "depth_range",
                f"no depth from {grid[0]:g} to {grid[-1]:g} m keeps the returning fluid at"
                f" {limit:g} °C; the {word} is {beyond_limit(nearly, limit, 1)} °C at"
                f" {best:.0f} m. Use more boreholes, {wider}{less} in the other season.",
                value=list(depth_range),
            ),
            depth=best,
            coldest_return=nearest.coldest_return,
        )

    def _ground_beyond(self, limits: BrineLimits, depth: float, nearest: History) -> Fault | None:
        """Where the ground itself is beyond the limit, more boreholes bring the brine no nearer.

        Where nothing is put back, deeper ground may still be warmer, in more boreholes.
        """
        if nearest.limiting.limit == "upper":
            ground, limit, found = self.warmest(depth), limits.upper, nearest.warmest_return
            field, reach, spread = "most_return", "above", "drawn"
            beyond, remedy = ground >= limit, "raise the limit, or draw more heat"
        else:
            ground, limit, found = self.undisturbed(depth), limits.lower, nearest.coldest_return
            field, reach, spread = "least_return", "below", "put back"
            put_back = bool((self.months.draws < 0.0).any())
            beyond, remedy = put_back and ground <= limit, "lower the limit, or put more back"
        if not beyond:
            return None
        return Fault(
            field,
            f"of {limit:g} °C cannot be kept: undisturbed ground is at {ground:.2f} °C, and with"
            f" the heat {spread} the brine comes to {found:.1f} °C at best ({depth:.0f} m in each"
            f" borehole). More boreholes spread that thinner; {remedy}",
            limit,
            f"{reach} {ground:.2f} °C",
        )


def _guess(found: History, depth: float, limits: BrineLimits) -> float:
    """Depth at which the limiting return would be at its limit, were all falls to go as 1/depth."""
    part = found.limiting
    limit = limits.upper if part.limit == "upper" else limits.lower
    falls = part.fall_from_months + part.fall_from_peak + part.fall_through_pipe
    room = part.undisturbed + part.rise_of_brine - limit
    return depth * falls / room if falls * room > 0.0 else math.inf


def _knots(years: int) -> Floats:
    """Times of a life at which a response is computed [s]; it is smooth over their logarithm."""
    months = 12 * years
    return np.geomspace(1.0, months, math.ceil(math.log(months) / _STEP) + 1) * MONTH_SECONDS


@lru_cache(maxsize=8)  # limits, loads and temperatures are tried for one field in one ground
def _responses(
    classes: DistanceClasses,
    radius: float,
    conductivity: float,
    diffusivity: float,
    at: tuple[float, ...],
) -> tuple[FieldResponse, Floats]:
    """Response of a field at some times [s], and the cylinder's correction."""
    times = np.asarray(at)
    return (
        prepare_field_response(classes, radius, conductivity, diffusivity, times),
        cylindrical_source_correction(times, radius, conductivity, diffusivity),
    )


@lru_cache(maxsize=4)  # fields and grounds that are tried for one load share it
def _superposition(load: GroundLoad, years: int) -> Floats:
    """Fall at the end of every month by the response at each knot: spline and superposition [W]."""
    knots, months = np.log(_knots(years)), MONTH_SECONDS * np.arange(1, 12 * years + 1)
    unit = sp.interpolate.CubicSpline(knots, np.eye(knots.size))(np.log(months))
    draws = np.tile(load.draws, years)
    steps = np.diff(unit, axis=0, prepend=0.0)
    return convolved(draws[:, None], steps)[: months.size]


def borefield(
    ground: Ground,
    classes: DistanceClasses,
    load: GroundLoad,
    *,
    temperature_change: float,
    borehole_radius: float,
    buried: float,
    undisturbed: OfDepth,
    resistance: OfDepth,
    years: int,
    warmest: OfDepth | None = None,
    warm_resistance: OfDepth | None = None,
) -> Borefield:
    """Prepare a field of boreholes over its life.

    Parameters
    ----------
    classes
        How far apart they stand: :func:`hydraulics.boreholes.field.distance_classes`.
    load
        What is drawn from the whole field.
    temperature_change
        Of the brine through the ground at the greater of both peaks [K]; the flow stays the same
        at less.
    borehole_radius, buried
        And depth of the top of the active part below the surface, or below what stands for it
        [m].
    undisturbed, resistance
        Ground temperature [degC], mean over the active depth, and effective resistance [m K/W],
        at an active depth [m].
    years
        Design life, 1 or more.
    warmest
        Ground temperature on the year's warmest day, held against the upper limit; None: the same.
    warm_resistance
        With the brine of the upper limit; None: the same.

    Raises
    ------
    InputError
        Naming the quantity that is out of bounds.

    Notes
    -----
    Left out, on the safe side: latent heat where the ground freezes, groundwater flow, heat held in
    grout and fluid, and the outer boreholes' larger share of the heat. A peak comes on top of its
    month's mean, at the month's end. The cylinder's correction is added to the line source at the
    wall.
    """
    require_not_negative(buried=buried)
    refuse(
        number_fault("temperature_change", temperature_change, "K", above=0.0),
        number_fault("years", years, "years", at_least=1),
    )
    peaks = (load.peak_hours * 3600.0, load.cold_hours * 3600.0)
    times = (*_knots(years).tolist(), *peaks)
    return Borefield(
        *_responses(classes, borehole_radius, ground.conductivity, ground.diffusivity, times),
        _superposition(load, years),
        classes.bores,
        buried,
        loaded_months(load, years, temperature_change),
        undisturbed,
        warmest or undisturbed,
        resistance,
        warm_resistance or resistance,
    )
