"""How deep must the boreholes of a field be, that the brine never comes back too cold or warm?

Month by month over the whole life: superposition in space (:mod:`hydraulics.boreholes.field`) and
in time (:mod:`hydraulics.ground.load_history`), peaks of heat and cold at the end of a month,
borehole resistance, and the fluid's temperature change. Heat extraction is positive throughout.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

from hydraulics.boreholes.field import FieldResponse, distance_classes, prepare_field_response
from hydraulics.checks import number_fault, refuse, require_not_negative, require_positive
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.ground.line_source import cylindrical_source_correction
from hydraulics.ground.load_history import (
    BrineLimits,
    Floats,
    GroundLoad,
    History,
    life_of,
)
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import MONTH_SECONDS

# Step of ln(time) between computed points of a response (error below 1e-6 of it, tested).
_STEP = 0.2
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
    knots, months
        Natural logarithm of those times, and of the end of every month [ln s]: the response is
        smooth over it.
    bores
        Number of boreholes.
    buried
        Depth of the top of the active part below what keeps its temperature [m].
    load, temperature_change
        What is drawn, and the brine's change at the greater of both peaks [K].
    undisturbed, warmest
        Ground temperature, mean over the active depth, on the year's coldest and warmest day
        [degC].
    resistance
        Effective, of a borehole [m K/W].
    """

    response: FieldResponse
    at_wall: Floats
    knots: Floats
    months: Floats
    bores: int
    buried: float
    load: GroundLoad
    temperature_change: float
    undisturbed: OfDepth
    warmest: OfDepth
    resistance: OfDepth

    def at(self, depth: float, limits: BrineLimits) -> History:
        """Temperatures with boreholes of an active depth, more than 0 [m]."""
        response = self.response.at_depth(depth, self.buried) + self.at_wall
        life = life_of(
            self.load,
            CubicSpline(self.knots, response[:-2])(self.months),
            (float(response[-2]), float(response[-1])),
            self.resistance(depth),
            (self.undisturbed(depth), self.warmest(depth)),
            self.temperature_change,
            along_pipe=False,
        )
        return life.at(self.bores * depth, limits)

    def shallowest(
        self, limits: BrineLimits, depth_range: tuple[float, float] = (10.0, 500.0)
    ) -> float:
        """Shallowest active depth at which the brine stays between its limits [m].

        Parameters
        ----------
        limits
            On the brine that returns from the ground; met to within 1e-4 K.
        depth_range
            Depths to search [m].

        Raises
        ------
        NoSolutionError
            If no depth in the range meets the limits, or every one does.

        Notes
        -----
        Depth is about inversely proportional to conductivity where peaks decide: allow for the
        error of the conductivity by sizing again with its lower bound.
        """
        require_positive(depth_range=depth_range)
        # Margin rises with depth until counterflow in a very deep borehole outweighs it: the first
        # crossing is found from where the falls at the shallowest, were they to go as 1/depth,
        # would put it, down a grid and up again.
        grid = np.geomspace(*depth_range, 16)

        @cache
        def margin(depth: float) -> float:
            return self.at(depth, limits).margin

        first = self.at(float(grid[0]), limits)
        if first.margin >= 0.0:
            raise NoSolutionError(
                Fault(
                    "depth_range",
                    f"at {grid[0]:g} m, the shallowest depth searched, the fluid still returns"
                    f" {first.margin:.1f} K within its limit. Use fewer boreholes.",
                    value=float(grid[0]),
                )
            )
        at = int(np.clip(np.searchsorted(grid, _guess(first, grid[0], limits)), 1, grid.size - 1))
        while at > 1 and margin(float(grid[at - 1])) >= 0.0:
            at -= 1
        for shallow, deep in pairwise(grid[at - 1 :]):
            if margin(float(deep)) >= 0.0:
                return float(brentq(margin, float(shallow), float(deep), xtol=1e-5))
        best = float(max(grid, key=lambda depth: margin(float(depth))))
        nearest = self.at(best, limits)
        if nearest.limiting.limit == "upper":
            limit, found, word = limits.upper, nearest.warmest_return, "coolest"
            change = self.temperature_change * self.load.cold_peak / self.load.greatest
            less = f"more flow (it changes by {change:.1f} K at the peak of cold), less cold, or "
            less += "draw heat"
        else:
            limit, found, word = limits.lower, nearest.coldest_return, "warmest"
            less = "less heat, or put heat back"
        raise NoSolutionError(
            Fault(
                "depth_range",
                f"no depth from {grid[0]:g} to {grid[-1]:g} m keeps the returning fluid at"
                f" {limit:g} °C; the {word} is {found:.1f} °C at"
                f" {best:.0f} m. Use more boreholes, wider spacing, {less} in the other season.",
                value=list(depth_range),
            )
        )


def _guess(found: History, depth: float, limits: BrineLimits) -> float:
    """Depth at which the limiting return would be at its limit, were all falls to go as 1/depth."""
    part = found.limiting
    limit = limits.upper if part.limit == "upper" else limits.lower
    falls = part.fall_from_months + part.fall_from_peak + part.fall_through_pipe
    room = part.undisturbed + part.rise_of_brine - limit
    return depth * falls / room if falls * room > 0.0 else math.inf


def borefield(
    ground: Ground,
    coordinates: ArrayLike,
    load: GroundLoad,
    *,
    temperature_change: float,
    borehole_radius: float,
    buried: float,
    undisturbed: OfDepth,
    resistance: OfDepth,
    years: int,
    warmest: OfDepth | None = None,
) -> Borefield:
    """Prepare a field of boreholes over its life.

    Parameters
    ----------
    coordinates
        Plan position of each borehole [m], shape (n, 2).
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
    classes = distance_classes(coordinates, borehole_radius)
    peaks = [load.peak_hours * 3600.0, load.cold_hours * 3600.0]
    months = MONTH_SECONDS * np.arange(1, 12 * years + 1)
    knots = np.geomspace(months[0], months[-1], math.ceil(math.log(months.size) / _STEP) + 1)
    times = np.append(knots, peaks)
    k, alpha = ground.conductivity, ground.diffusivity
    return Borefield(
        prepare_field_response(classes, borehole_radius, k, alpha, times),
        cylindrical_source_correction(times, borehole_radius, k, alpha),
        np.log(knots),
        np.log(months),
        classes.bores,
        buried,
        load,
        temperature_change,
        undisturbed,
        warmest or undisturbed,
        resistance,
    )
