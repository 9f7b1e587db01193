"""A borehole that is heated, cooled and recharged, against finite volumes.

Rings of ground around the borehole's wall, heat balanced implicitly in each: those of
`test_freezing_finite_volumes`, written for it, without water that freezes. They know no line source
and no superposition. The borehole is 300 m deep, so that its ends draw little in three years.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.boreholes.field import distance_classes
from hydraulics.boreholes.sizing import borefield
from hydraulics.ground.load_history import BrineLimits, GroundLoad, History
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import MONTH_SECONDS
from tests.published.test_freezing_finite_volumes import (
    CAPACITY,
    CONDUCTIVITY,
    GROUND,
    PEAK_HOURS,
    Volumes,
)

Floats = NDArray[np.float64]
DEPTH, RADIUS, RESISTANCE, CHANGE, YEARS = 300.0, 0.065, 0.1, 4.0, 3
# Mean draw of each month [W], January first: heated in winter, cooled in summer; invented.
HEATED = np.array([5200, 4700, 3600, 1900, 600, 0, 0, 0, 400, 1800, 3500, 4800], dtype=float)
COOLED = np.array([0, 0, 0, 0, 800, 1900, 2600, 2400, 900, 0, 0, 0], dtype=float)
RECHARGE = np.array([0, 0, 0, 1200, 1500, 1600, 1600, 1400, 900, 0, 0, 0], dtype=float)
PEAK, COLD_PEAK = 9000.0, 6000.0  # W
PEAK_MONTHS, COLD_MONTHS = (12, 1, 2), (6, 7, 8)


def ours(recharge: Floats) -> History:
    put_back = float((COOLED + recharge).sum()) * MONTH_SECONDS
    load = GroundLoad(
        tuple(HEATED - COOLED - recharge), PEAK, PEAK_HOURS, peak_months=PEAK_MONTHS,
        cold_peak=COLD_PEAK, cold_hours=PEAK_HOURS, cold_months=COLD_MONTHS, put_back=put_back,
        recharge=tuple(recharge),
    )  # fmt: skip
    return borefield(
        Ground(CONDUCTIVITY, CAPACITY),
        distance_classes([[0.0, 0.0]], RADIUS),
        load,
        temperature_change=CHANGE,
        borehole_radius=RADIUS,
        buried=2.0,
        undisturbed=lambda _: GROUND,
        resistance=lambda _: RESISTANCE,
        years=YEARS,
    ).at(DEPTH, BrineLimits(-20.0, 60.0))


def finite_volumes(recharge: Floats) -> tuple[Floats, Floats]:
    """Brine back at each month's peak of heat, and of cold [degC]; NaN in a month without."""
    rings = Volumes(0.0, CONDUCTIVITY, radius=RADIUS)
    t = np.full(rings.middle.size, GROUND)
    found = np.full((2, YEARS * 12), np.nan)
    for month, draw in enumerate(np.tile((HEATED - COOLED - recharge) / DEPTH, YEARS)):
        t, _ = rings.after(t, draw, MONTH_SECONDS / 3600.0 - PEAK_HOURS, 115)
        peaks = ((PEAK_MONTHS, PEAK), (COLD_MONTHS, -COLD_PEAK))
        for season, (months, peak) in enumerate(peaks):
            if month % 12 + 1 in months:
                wall = rings.after(t, peak / DEPTH, PEAK_HOURS, 48)[1]
                brine = wall - RESISTANCE * peak / DEPTH
                found[season, month] = brine + 0.5 * CHANGE * peak / PEAK
        t, _ = rings.after(t, draw, PEAK_HOURS, 8)
    return found[0], found[1]


@pytest.mark.parametrize("more", [0.0, 1.0, 1.5])
def test_a_recharged_borehole_follows_the_finite_volumes(more: float) -> None:
    """Within 0.03 K, which is what the ends are worth in three years.

    Between none and half as much again recharge moves winter's brine by up to 0.5 K, summer's by 2.
    """
    history = ours(more * RECHARGE)
    cold, warm = finite_volumes(more * RECHARGE)
    for found, exact in ((history.returning, cold), (history.warm_returning, warm)):
        at = np.isfinite(exact)
        assert found.ravel()[at] == pytest.approx(exact[at], abs=0.03)
