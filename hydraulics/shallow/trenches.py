"""How cold and warm does the brine of a trench array become, and how many metres keep its limits?

Undisturbed ground, less what the months before have drawn, less what the peak draws, less the drop
through pipe and film: that is the brine's mean along the pipe. It nears the ground on its way, and
the array is long enough when what comes back never falls below its limit; with heat put back, nor
rises above the other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import scipy as sp
from numpy.typing import NDArray

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.load_history import (
    BrineLimits,
    Floats,
    GroundLoad,
    History,
    Life,
    OfTemperature,
    Side,
    fall_at_end,
    length_to_end,
    life_of,
    loaded_months,
    wall_temperature_history,
)
from hydraulics.ground.pipe_heat import film_and_wall
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import (
    DAYS_PER_YEAR,
    MONTH_SECONDS,
    SurfaceTemperature,
    kusuda_achenbach,
)
from hydraulics.pipework.pipe import Pipe
from hydraulics.shallow.freezing import FUSION, FreezingGround, Pulse, Ring, outside_with_ice
from hydraulics.shallow.neighbours import Line
from hydraulics.shallow.response import (
    SlinkyTrench,
    Trench,
    deepened,
    depths_of,
    step_response,
    surface_energy,
)

_MONTH_DAYS = DAYS_PER_YEAR / 12.0

NOTES = (
    "The surface keeps its undisturbed yearly temperature, but for a film that is given; no snow, "
    "shade or groundwater flow is taken into account.",
    "Trenches are long against their depth; what their ends gain is left out (safe side).",
    "The heat held by brine and pipe is left out, so that peaks of a few hours look somewhat worse "
    "than they are (safe side).",
    "Every metre of the array draws alike. The undisturbed temperature carries about 1 to 2 K of "
    "uncertainty of its own (common practice, no source).",
)
LATENT_NOTES = {
    False: "Latent heat of freezing soil is left out: real ground that freezes around the pipe "
    "stays warmer than shown, so this is on the safe side. Ground that freezes can heave.",
    True: "Soil that freezes around the pipe is counted by the month, with the water given, out to "
    "half way to the next pipe. Ground that freezes heaves.",
}
SLINKY_NOTE = (
    "A slinky is taken as rings that draw all the heat; the pipe from ring to ring and the return "
    "pipe are left out: 1 to 10 % on the safe side for pitches up to the coil diameter, and as "
    "much again where a return pipe lies beside the coil."
)


@dataclass(frozen=True, slots=True)
class TrenchLife(Life):
    """A life of trenches.

    Attributes
    ----------
    film, wall
        Resistances per metre of pipe at the greatest peak's flow [m K/W].
    response
        Unit response of the pipe's outside at the end of each month [K m/W].
    pulse
        The peak of heat.
    ring
        Where ground freezes around the pipe; None where its latent heat is left out.
    """

    film: float
    wall: float
    response: Floats
    pulse: Pulse
    ring: Ring | None = None

    def at(self, total: float, limits: BrineLimits) -> History:
        """Temperatures with so much trench in all, more than 0 [m]."""
        return Life.at(self._with_ice(total), total, limits)

    def at_own_film(self, total: float, limits: BrineLimits, resistance: OfTemperature) -> History:
        """Temperatures with so many metres, each month with the film of its own brine."""
        return Life.at_own_film(self._with_ice(total), total, limits, resistance)

    def _with_ice(self, total: float) -> TrenchLife:
        """What so much trench [m] has by freezing, as falls."""
        if self.ring is None:
            return self
        ground, cold = self.cold.undisturbed, self.cold
        iced, dips = outside_with_ice(
            self.ring,
            ground - self.from_months / total,
            self.draws / total,
            self.response,
            self.pulse,
            cold.draw / total,
        )
        return replace(
            self,
            from_months=(ground - iced) * total,
            cold=replace(cold, from_peak=(iced - dips) * total),
            ring=None,
        )

    def needed_length(self, limits: BrineLimits) -> float:
        """Total trench at which the brine just stays between its limits [m].

        Parameters
        ----------
        limits
            On the brine coming from the ground.

        Raises
        ------
        NoSolutionError
            When the undisturbed ground is too cold or too warm for a limit however long the array
            is, or heat put back in one month would be needed in another.

        Notes
        -----
        All mean falls go as 1/length, so each month has its own length, in closed form but where
        other months help it, and the longest counts. Where ground freezes it is shortened until
        the limits are just kept.
        """
        without_ice = self._needed_without_ice(limits)
        shortest = 0.3 * without_ice

        def margin(total: float) -> float:
            return self.at(total, limits).margin

        if self.ring is None or margin(without_ice) <= 0.0 or margin(shortest) >= 0.0:
            return without_ice
        return float(sp.optimize.brentq(margin, shortest, without_ice, xtol=1e-4))

    def _needed_without_ice(self, limits: BrineLimits) -> float:
        least, most = 0.0, np.inf
        for side, limit, sign in ((self.cold, limits.lower, 1.0), (self.warm, limits.upper, -1.0)):
            checked = sign * side.draw > 0.0
            rise = sign * side.change
            months, own = sign * self.from_months, sign * (side.from_peak + side.through_pipe)
            # Brine comes from the ground no warmer than the ground is, whatever its rise.
            room = sign * (side.undisturbed - limit)
            hopeless = checked & (months + own > 0.0) & (room <= 0.0)
            if hopeless.any():
                raise _no_room(side, limit, int(np.argmin(np.where(hopeless, room, np.inf))), sign)
            if not np.isfinite(limit):
                continue
            plain = checked & (months >= 0.0) & (room > 0.0)
            if plain.any():
                lengths = length_to_end((months + own)[plain], rise[plain], room[plain])
                least = max(least, float(lengths.max()))
            # Ground that the months before have changed the other way helps, and must not be
            # spread too thin where it alone keeps the limit.
            helped = checked & (months < 0.0) & (room > 0.0)
            least = _furthest(helped, months, own, rise, room, least)
            beyond = checked & (room < 0.0)
            most = _furthest(beyond, months, own, rise, room, most)
        if least > most:
            raise NoSolutionError(
                Fault(
                    "least_return",
                    f"cannot be kept: {least:.0f} m are needed, and in a month in which the ground "
                    f"itself is beyond the limit only what other months left within {most:.0f} m "
                    "keeps it; lay deeper or relax the limits",
                    limits.lower,
                )
            )
        return least


def _furthest(  # noqa: PLR0917 (a month's falls and room)
    these: NDArray[np.bool_], months: Floats, own: Floats, rise: Floats, room: Floats, total: float
) -> float:
    """The longest length that ground with room asks for, or the shortest beyond a limit [m].

    Which is `total` where these months are content with that. Fall less room, times the length, is
    convex in it and begins below zero where there is no room, and sinks from above where there is:
    each month has one length, those that miss their limit at this one have theirs on its other
    side, and few have to be solved.
    """
    months, own, rise, room = (each[these] for each in (months, own, rise, room))
    while months.size:
        at = total if 0.0 < total < math.inf else _beside(months, own, rise, room)
        missed = fall_at_end(months / at, own / at, rise) - room
        worst = int(np.argmax(missed))
        if missed[worst] <= 0.0:
            break
        found = _length_with_help(*(float(each[worst]) for each in (months, own, rise, room)))
        better = found > total if room[worst] > 0.0 else found < total
        if not better:
            break
        total = found
    return total


def _beside(months: Floats, own: Floats, rise: Floats, room: Floats) -> float:
    """A length [m] before, or without room beyond, that of any of these months."""
    if room[0] > 0.0:
        return 1e-9 * float(length_to_end(own, rise, room).max())
    return 2.0 * float((months / room).max())


def _length_with_help(months: float, own: float, rise: float, room: float) -> float:
    """Length from which, or without room up to which, ground that is helped keeps a limit [m]."""

    def short(total: float) -> float:
        return float(fall_at_end(months / total, own / total, rise)) - room

    if room > 0.0:
        enough = float(length_to_end(own, rise, room))
        least = 1e-9 * enough
        return (
            0.0
            if short(least) <= 0.0
            else float(sp.optimize.brentq(short, least, enough, xtol=1e-9))
        )
    if room == 0.0:
        return math.inf
    most = months / room
    return float(sp.optimize.brentq(short, 1e-9 * most, most, xtol=1e-9))


def _no_room(side: Side, limit: float, month: int, sign: float) -> NoSolutionError:
    ground = float(side.undisturbed[month])
    if sign > 0.0:
        field, moves, than, reach = "least_return", "falls", "warmer", "below"
        remedy = "lower the limit"
    else:
        field, moves, than, reach = "most_return", "rises", "colder", "above"
        remedy = "raise the limit"
    return NoSolutionError(
        Fault(
            field,
            f"of {limit:g} °C cannot be kept: undisturbed ground at the pipe {moves} to "
            f"{ground:.2f} °C, and brine comes from it no {than} than that; lay deeper or "
            f"{remedy}",
            limit,
            f"{reach} {ground:.2f} °C",
        )
    )


def life_of_trenches(  # noqa: PLR0917 (each is another subject)
    ground: Ground,
    surface: SurfaceTemperature,
    trench: Trench,
    load: GroundLoad,
    pipe: Pipe,
    brine: Fluid,
    *,
    temperature_change: float,
    trenches: int,
    centres: float,
    years: int,
    freezing: FreezingGround | None = None,
    warm_brine: Fluid | None = None,
    lines: tuple[Line, ...] = (),
) -> TrenchLife:
    """Return every month of the life from the first month of operation.

    Parameters
    ----------
    trench
        Cross-section of each: straight pipes, or a slinky flat or upright, of that pipe.
    brine
        Properties at about the coldest mean brine temperature.
    temperature_change
        Of the brine through the ground at the greater of both peaks [K]; the flow is taken to stay
        the same at lesser draws.
    trenches, centres
        Equal trenches, one loop in each, and the distance between their centre lines [m].
    years
        Design life [years], 1 or more.
    freezing
        What the ground gives by freezing; None: left out, on the safe side.
    warm_brine
        Properties at about the warmest mean, where heat is put back; None: as at the coldest.
    lines
        Of the trenches that have their place [m]; none: parallel.

    Raises
    ------
    InputError
        When a number is not usable.

    Notes
    -----
    The undisturbed temperature is the lowest within each month for the lower limit, the highest for
    the upper. Monthly loads are superposed exactly over the whole life.

    A slinky's rings carry all heat (see :func:`hydraulics.shallow.response.slinky_coils`). Latent
    heat of freezing soil is left out, on the safe side.
    """
    refuse(
        number_fault("temperature_change", temperature_change, "K", above=0.0),
        number_fault("years", years, "years", at_least=1),
    )
    under = deepened(trench, surface.screened(ground.conductivity))
    longest = (12 * years + 1) * MONTH_SECONDS
    response = step_response(ground, under, trenches, centres, longest, lines=lines)
    months = np.arange(12)[:, None] + np.array([0.0, 0.5, 1.0])
    days = (load.first_month - 1 + months) * _MONTH_DAYS + 1.0
    at_pipe = kusuda_achenbach(
        surface, ground.diffusivity, depths_of(trench), days[..., None]
    ).mean(axis=-1)
    flow = load.greatest / (brine.specific_heat * temperature_change * trenches)
    curvature = pipe.bore / trench.coil_diameter if isinstance(trench, SlinkyTrench) else 0.0
    film, wall = film_and_wall(pipe, brine, flow, curvature)
    warm_film, _ = film_and_wall(pipe, warm_brine or brine, flow, curvature)
    peaks = response(np.array([load.peak_hours, load.cold_hours]) * 3600.0)
    months = response(MONTH_SECONDS * np.arange(1, 12 * years + 1))
    loaded = loaded_months(load, years, temperature_change)
    life = life_of(
        loaded,
        wall_temperature_history(loaded.draws, months),
        (float(peaks[0]), float(peaks[1])),
        (
            (film + wall) / trench.exchanging_length,
            (warm_film + wall) / trench.exchanging_length,
        ),
        (at_pipe.min(axis=1), at_pipe.max(axis=1)),
        along_pipe=True,
    )
    ring = None
    if freezing is not None:
        ring = Ring(
            trench.exchanging_length,
            pipe.outside_diameter / 2.0,
            _ice_reach(trench),
            ground.conductivity,
            freezing.conductivity or ground.conductivity,
            freezing.water * FUSION,
        )
    return TrenchLife(
        life.first_month, life.draws, life.from_months, life.cold, life.warm, life.along_pipe,
        film, wall, months, Pulse(load.peak_hours * 3600.0, float(peaks[0])), ring,
    )  # fmt: skip


def _ice_reach(trench: Trench) -> float:
    """Radius to which ice is counted around each pipe [m]: half way to the next, or to the top.

    A slinky's pipe is taken as spread evenly over its sheet.
    """
    reach = 0.5 * float(depths_of(trench).min())
    if isinstance(trench, SlinkyTrench):
        return max(min(reach, trench.pitch / math.tau), 1.01 * trench.pipe_diameter)
    gaps = [math.dist(a, b) for a, b in combinations(trench.pipes, 2)]
    return min(reach, *(0.5 * gap for gap in gaps)) if gaps else reach


def last_year_energy(
    ground: Ground, surface: SurfaceTemperature, trench: Trench, draws: Floats
) -> tuple[float, float]:
    """Last year's net draw as it came through the surface and out of the store [J].

    Parameters
    ----------
    draws
        Mean draw of each month of the life, in order of operation [W].

    Notes
    -----
    Under a film as under as much more ground: after ten years within 1 % of the exact (tested).
    """
    ends = MONTH_SECONDS * np.arange(1, draws.size + 1)
    depths = depths_of(trench) + surface.screened(ground.conductivity)
    unit = np.mean([surface_energy(ground.diffusivity, z, ends) for z in depths], axis=0)
    so_far = wall_temperature_history(draws, unit)
    through = float(so_far[-1] - (so_far[-13] if draws.size > 12 else 0.0))
    return through, float(draws[-12:].sum()) * MONTH_SECONDS - through
