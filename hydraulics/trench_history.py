"""How cold does the brine of a trench array of given length get, month by month?

The inverse of :mod:`hydraulics.trench_sizing`: there a limit gives the length, here a length gives
the temperatures. Same ground, same superposition.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydraulics.antifreeze import Fluid
from hydraulics.ground_checks import number_fault, refuse
from hydraulics.ground_temperature import DAYS_PER_YEAR, SurfaceTemperature
from hydraulics.pipe import Pipe
from hydraulics.shallow_ground import Ground, Trench, step_response, superpose
from hydraulics.trench_sizing import (
    MONTH_SECONDS,
    GroundLoad,
    LimitingLoad,
    PipeResistance,
    pipe_resistance,
    undisturbed_at_trench,
)

Floats = NDArray[np.float64]


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
        As :func:`hydraulics.trench_sizing.size_trench_array`.
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
    total = trenches * trench_length
    start = load.first_month - 1
    draws = np.tile(np.roll(np.asarray(load.monthly, dtype=float), -start), years)
    greatest = np.tile(np.roll(load.peaks, -start), years)
    peaks = np.where(greatest > 0.0, greatest, draws)
    ends = (start + np.arange(12)[:, None] + np.array([0.0, 0.5, 1.0])) * DAYS_PER_YEAR / 12 + 1.0
    coldest_in_month = undisturbed_at_trench(surface, ground.diffusivity, trench, ends).min(axis=1)
    undisturbed = np.tile(coldest_in_month, years)
    response = step_response(
        ground,
        trench,
        trenches,
        centres if trenches > 1 else math.inf,
        (12 * years + 1) * MONTH_SECONDS,
    )
    flow = float(load.peaks.max()) / (brine.specific_heat * load.temperature_change)
    resistance = pipe_resistance(trench, pipe, brine, flow / trenches)
    from_months = superpose(response, draws, MONTH_SECONDS) / total
    from_peak = (peaks - draws) * float(response(load.peak_hours * 3600.0)) / total
    through = peaks * resistance.per_trench / total
    rise = 0.5 * load.temperature_change * peaks / float(load.peaks.max())
    wall = undisturbed - from_months - from_peak
    returning = wall - through + rise
    worst = int(np.argmin(np.where(peaks > 0.0, returning, np.inf)))
    return TrenchHistory(
        returning=returning.reshape(years, 12),
        going=(returning - 2.0 * rise).reshape(years, 12),
        pipe=resistance,
        limiting=LimitingLoad(
            year=worst // 12 + 1,
            month=(worst + start) % 12 + 1,
            undisturbed=float(undisturbed[worst]),
            fall_from_months=float(from_months[worst]),
            fall_from_peak=float(from_peak[worst]),
            fall_through_pipe=float(through[worst]),
            rise_of_brine=float(rise[worst]),
        ),
        coldest_return=float(returning[worst]),
        coldest_ground=float(wall.min()),
    )
