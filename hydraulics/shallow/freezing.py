"""How much warmer does ground stay that freezes around the pipe, by the heat of its water?

The rest of the ground conducts as everywhere here, by superposition; the freezing water of a ring
around the pipe is a source of heat in it, as strong as the ring grows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy as sp

from hydraulics.checks import number_fault, refuse
from hydraulics.ground.load_history import Floats
from hydraulics.ground.temperature import MONTH_SECONDS

FUSION: Final = 334e3  # J/kg of ice at 0 degC


@dataclass(frozen=True, slots=True)
class FreezingGround:
    """What ground gives by freezing.

    Attributes
    ----------
    water
        Water that freezes at 0 degC [kg/m3 of ground]: fine soils keep a good part of theirs
        unfrozen.
    conductivity
        Of frozen ground [W/m K]; None: no better than unfrozen, which is on the safe side.
    """

    water: float
    conductivity: float | None = None

    def __post_init__(self) -> None:
        refuse(
            number_fault("water", self.water, "kg/m3", above=0.0),
            number_fault("conductivity", self.conductivity, "W/m K", above=0.0),
        )


@dataclass(frozen=True, slots=True)
class Ring:
    """Where ground may freeze, per metre of array.

    Attributes
    ----------
    pipe
        Pipe that draws heat [m/m].
    inner, outer
        Radius of the pipe, and the greatest that its ice is counted to [m]: nearer to the next
        pipe's it would be counted twice.
    conductivity, frozen_conductivity
        Of the ground [W/m K].
    latent
        Heat of its freezing [J/m3].
    """

    pipe: float
    inner: float
    outer: float
    conductivity: float
    frozen_conductivity: float
    latent: float

    def resistance(self, radius: float, *, frozen: bool = False) -> float:
        """From the pipe's outside to a radius [m], of one metre of array [m K/W]."""
        conducts = self.frozen_conductivity if frozen else self.conductivity
        return math.log(radius / self.inner) / (math.tau * conducts * self.pipe)

    def heat(self, radius: float) -> float:
        """Given by freezing out to a radius [m], of one metre of array [J/m]."""
        return self.pipe * self.latent * math.pi * (radius**2 - self.inner**2)


@dataclass(frozen=True, slots=True)
class Pulse:
    """A peak: how long it lasts [s], and the unit response of the pipe's outside to it [K m/W]."""

    seconds: float
    response: float


def outside_with_ice(  # noqa: PLR0917 (a life without ice, and its peak)
    ring: Ring, outside: Floats, draws: Floats, response: Floats, pulse: Pulse, peaks: Floats
) -> tuple[Floats, Floats]:
    """Temperature of the pipe's outside with freezing, at each month's end and at its peak [degC].

    Parameters
    ----------
    ring
        Where ground may freeze.
    outside
        At each month's end without it [degC], shape (months,).
    draws, peaks
        Mean draw of each month, and that at its end [W/m].
    response
        Unit response of the pipe's outside at the end of each month [K m/W].
    pulse
        The peak.

    Notes
    -----
    Month by month the radius s of the ice is that at which the ground would be at 0 degC: without
    ice it is there warmer than the pipe's outside by the ring's steady drop, and the heat of the
    ice's growth, spread over the month, warms it as that much less draw would, at s. Ice that
    melts takes its heat back. Within the ring the drop is that of frozen ground. A peak grows the
    ring further in the same way; what it freezes is not carried on.

    Against finite volumes with freezing it is within 0.1 K in the coldest months down to -5 degC,
    up to 0.5 K too cold while ground thaws, and within 0.15 K at peaks of two days; a slinky's
    peaks below -2.4 degC are up to 0.5 K too cold, and 1.9 K where the ice of its rings has met
    (tests/published/test_freezing_finite_volumes.py).
    """
    steps = np.diff(response, prepend=0.0)
    released = np.zeros(outside.size)
    found, at_peak = outside.copy(), outside.copy()
    stored = 0.0  # J/m in the ice so far
    for month in range(outside.size):
        bare = float(outside[month]) + float(released[:month] @ steps[month:0:-1])
        draw, peak = float(draws[month]), float(peaks[month])
        mean = Pulse(MONTH_SECONDS, float(steps[0]))
        found[month], grown = _grown(ring, bare, draw, stored, mean)
        released[month] = (grown - stored) / MONTH_SECONDS
        stored = grown
        warmth = bare + released[month] * mean.response
        dip = warmth - (peak - draw) * pulse.response
        at_peak[month] = _grown(ring, dip, peak, stored, pulse)[0] if peak > draw else found[month]
    return found, at_peak


def _grown(ring: Ring, bare: float, draw: float, stored: float, over: Pulse) -> tuple[float, float]:
    """Temperature of the pipe's outside [degC], and heat given by all ice by then [J/m]."""
    if bare >= 0.0 and stored == 0.0:
        return bare, 0.0

    def front(radius: float) -> float:
        growth = (ring.heat(radius) - stored) / over.seconds
        within = ring.resistance(radius)
        return bare + draw * within + growth * max(over.response - within, 0.0)

    radius = ring.inner
    if front(radius) < 0.0:
        radius = ring.outer
        if front(radius) > 0.0:
            radius = float(sp.optimize.brentq(front, ring.inner, ring.outer, xtol=1e-6))
    return front(radius) - draw * ring.resistance(radius, frozen=True), ring.heat(radius)
