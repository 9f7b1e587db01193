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
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from hydraulics.boreholes.field import FieldResponse, distance_classes, prepare_field_response
from hydraulics.checks import number_fault, refuse, require_not_negative, require_positive
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.ground.line_source import cylindrical_source_correction
from hydraulics.ground.load_history import (
    Floats,
    GroundLoad,
    History,
    LimitingLoad,
    wall_temperature_history,
)
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import MONTH_SECONDS

OfDepth = Callable[[float], float]
"""A quantity that depends on the active depth [m]."""


@dataclass(frozen=True, slots=True)
class Borefield:
    """A field over its life, prepared so that any depth can be tried quickly (:func:`borefield`).

    Attributes
    ----------
    response, at_wall
        Of the field's walls to a step of heat at the end of every month and after a peak; the
        cylinder's correction at the same times.
    bores
        Number of boreholes.
    buried
        Depth of the top of the active part [m].
    load, temperature_change
        What is drawn, and the brine's rise while the peak is [K].
    undisturbed
        Ground temperature, mean over the active depth [degC].
    resistance
        Effective, of a borehole [m K/W].
    """

    response: FieldResponse
    at_wall: Floats
    bores: int
    buried: float
    load: GroundLoad
    temperature_change: float
    undisturbed: OfDepth
    resistance: OfDepth

    def at(self, depth: float) -> History:
        """Temperatures with boreholes of an active depth, more than 0 [m]."""
        response = self.response.at_depth(depth, self.buried) + self.at_wall
        months, pulse = response[:-1], response[-1]
        load, length = self.load, self.bores * depth
        mean, peak = load.draws / length, load.checked / length
        resistance, undisturbed = self.resistance(depth), self.undisturbed(depth)

        fall = wall_temperature_history(np.tile(mean, months.size // 12), months)
        month_wall = (undisturbed - fall).reshape(-1, 12)
        peak_wall = month_wall - (peak - mean) * pulse
        month_mean, peak_mean = month_wall - mean * resistance, peak_wall - peak * resistance
        half = self.temperature_change / (2.0 * load.peak)
        month_half, peak_half = half * load.draws, half * load.checked
        peak_returning = peak_mean + peak_half
        returning = np.minimum(peak_returning, month_mean + month_half)
        year, month = divmod(int(peak_returning.argmin()), 12)
        return History(
            returning=returning,
            going=np.minimum(peak_mean - peak_half, month_mean - month_half),
            limiting=LimitingLoad(
                year=year + 1,
                month=(month + load.first_month - 1) % 12 + 1,
                undisturbed=undisturbed,
                fall_from_months=undisturbed - float(month_wall[year, month]),
                fall_from_peak=float(month_wall[year, month] - peak_wall[year, month]),
                fall_through_pipe=float(peak_wall[year, month] - peak_mean[year, month]),
                rise_of_brine=float(peak_half[month]),
            ),
            coldest_return=float(returning.min()),
            coldest_ground=float(min(month_wall.min(), peak_wall.min())),
        )

    def shallowest(self, limit: float, depth_range: tuple[float, float] = (10.0, 500.0)) -> float:
        """Shallowest active depth at which the fluid never comes back colder than a limit [m].

        Parameters
        ----------
        limit
            On the fluid that returns from the ground [degC]; met to within 1e-4 K.
        depth_range
            Depths to search [m].

        Raises
        ------
        NoSolutionError
            If no depth in the range meets the limit, or every one does.

        Notes
        -----
        Depth is about inversely proportional to conductivity where peaks decide: allow for the
        error of the conductivity by sizing again with its lower bound.
        """
        require_positive(depth_range=depth_range)
        # Margin rises with depth until counterflow in a very deep borehole outweighs it, so a grid
        # finds the first crossing; between its points there is one root.
        grid = np.geomspace(*depth_range, 16)

        def margin(depth: float) -> float:
            return self.at(depth).coldest_return - limit

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
                f" {grid[best]:.0f} m. Use more boreholes, wider spacing, less heat, or put heat"
                " back in summer.",
                value=list(depth_range),
            )
        )


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
) -> Borefield:
    """Prepare a field of boreholes over its life.

    Parameters
    ----------
    coordinates
        Plan position of each borehole [m], shape (n, 2).
    load
        What is drawn from the whole field.
    temperature_change
        Rise of the brine through the ground at the peak [K]; the flow stays the same at less.
    borehole_radius, buried
        And depth of the top of the active part below the surface [m].
    undisturbed, resistance
        Ground temperature [degC], mean over the active depth, and effective resistance [m K/W],
        at an active depth [m].
    years
        Design life, 1 or more.

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
    times = np.append(MONTH_SECONDS * np.arange(1, 12 * years + 1), load.peak_hours * 3600.0)
    k, alpha = ground.conductivity, ground.diffusivity
    return Borefield(
        prepare_field_response(classes, borehole_radius, k, alpha, times),
        cylindrical_source_correction(times, borehole_radius, k, alpha),
        classes.bores,
        buried,
        load,
        temperature_change,
        undisturbed,
        resistance,
    )
