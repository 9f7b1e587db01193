"""How cold does the brine of a trench array become, and how many metres keep it above a limit?

Undisturbed ground, less what the months before have drawn, less what the peak draws, less the drop
through pipe and film, plus half the brine's own temperature change: that is the return temperature,
and the array is long enough when it never falls below its limit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.load_history import (
    Floats,
    GroundLoad,
    History,
    LimitingLoad,
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
from hydraulics.shallow.response import (
    SlinkyTrench,
    Trench,
    depths_of,
    step_response,
    surface_energy,
)

_MONTH_DAYS = DAYS_PER_YEAR / 12.0

NOTES = (
    "Latent heat of freezing soil is left out: real ground that freezes around the pipe stays "
    "warmer than shown, so this is on the safe side. Ground that freezes can heave.",
    "The surface keeps its undisturbed yearly temperature; no snow, paving, shade or groundwater "
    "flow is taken into account.",
    "Trenches are long against their depth; what their ends gain is left out (safe side).",
    "The heat held by brine and pipe is left out, so that peaks of a few hours look somewhat worse "
    "than they are (safe side).",
    "Every metre of the array draws alike. The undisturbed temperature carries about 1 to 2 K of "
    "uncertainty of its own (common practice, no source).",
)
SLINKY_NOTE = (
    "A slinky is taken as rings that draw all the heat; the pipe from ring to ring and the return "
    "pipe are left out: 1 to 10 % on the safe side for pitches up to the coil diameter, and as "
    "much again where a return pipe lies beside the coil."
)


@dataclass(frozen=True, slots=True)
class Life:
    """All months of the design life in order of operation, for one metre of trench in all.

    Attributes
    ----------
    first_month
        Month in which operation begins, 1 to 12.
    undisturbed
        Least ground temperature within each month without the array [degC].
    draws, checked
        Mean draw of each month, and the draw for which it is checked [W].
    from_months, from_peak, through_pipe
        Falls of the pipe's outside, and from there to the brine [K m], to be divided by the total
        trench.
    half_rise
        Half the brine's temperature change [K].
    film, wall
        Resistances per metre of pipe at the greatest peak's flow [m K/W].
    """

    first_month: int
    undisturbed: Floats
    draws: Floats
    checked: Floats
    from_months: Floats
    from_peak: Floats
    through_pipe: Floats
    half_rise: Floats
    film: float
    wall: float

    @property
    def _falls(self) -> Floats:
        return self.from_months + self.from_peak + self.through_pipe

    def at(self, total: float) -> History:
        """Temperatures with so much trench in all, more than 0 [m]."""
        returning = self.undisturbed - self._falls / total + self.half_rise
        outside = self.undisturbed - (self.from_months + self.from_peak) / total
        worst = int(np.argmin(np.where(self.checked > 0.0, returning, np.inf)))
        return History(
            returning=returning.reshape(-1, 12),
            going=(returning - 2.0 * self.half_rise).reshape(-1, 12),
            limiting=LimitingLoad(
                year=worst // 12 + 1,
                month=(worst + self.first_month - 1) % 12 + 1,
                undisturbed=float(self.undisturbed[worst]),
                fall_from_months=float(self.from_months[worst]) / total,
                fall_from_peak=float(self.from_peak[worst]) / total,
                fall_through_pipe=float(self.through_pipe[worst]) / total,
                rise_of_brine=float(self.half_rise[worst]),
            ),
            coldest_return=float(returning[worst]),
            coldest_ground=float(outside.min()),
        )

    def needed_length(self, least_return: float) -> float:
        """Total trench at which the coldest return just meets its limit [m].

        Parameters
        ----------
        least_return
            Limit on the brine coming from the ground [degC].

        Raises
        ------
        NoSolutionError
            When the undisturbed ground is too cold for the limit however long the array is.

        Notes
        -----
        All falls go as 1/length, so each month has its own closed-form length and the longest
        counts.
        """
        draw, fall = self.checked > 0.0, self._falls
        room = self.undisturbed + self.half_rise - least_return
        hopeless = draw & (fall > 0.0) & (room <= 0.0)
        if hopeless.any():
            k = int(np.argmin(np.where(hopeless, room, np.inf)))
            raise NoSolutionError(
                Fault(
                    "least_return",
                    f"of {least_return:g} degC cannot be kept: undisturbed ground "
                    f"at the pipe falls to {self.undisturbed[k]:.2f} degC and half the brine's "
                    f"change adds {self.half_rise[k]:.2f} K; lay deeper, widen the temperature "
                    "change or lower the limit",
                    least_return,
                    f"below {self.undisturbed[k] + self.half_rise[k]:.2f} degC",
                )
            )
        return float(np.max(np.where(draw, fall / np.where(room > 0.0, room, 1.0), 0.0)))


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
) -> Life:
    """Return every month of the life from the first month of operation.

    Parameters
    ----------
    trench
        Cross-section of each: straight pipes, or a slinky flat or upright, of that pipe.
    brine
        Properties at about the coldest mean brine temperature.
    temperature_change
        Rise of the brine through the ground while the peak is drawn [K]; the flow is taken to stay
        the same at lesser draws.
    trenches, centres
        Equal trenches, one loop in each, and the distance between their centre lines [m].
    years
        Design life [years], 1 or more.

    Raises
    ------
    InputError
        When a number is not usable.

    Notes
    -----
    A peak comes at the end of its month, on top of that month's mean; the undisturbed temperature
    is the lowest within that month. Monthly loads are superposed exactly over the whole life.

    A slinky's rings carry all heat (see :func:`hydraulics.shallow.response.slinky_coils`). Latent
    heat of freezing soil is left out, on the safe side.
    """
    refuse(
        number_fault("temperature_change", temperature_change, "K", above=0.0),
        number_fault("years", years, "years", at_least=1),
    )
    response = step_response(ground, trench, trenches, centres, (12 * years + 1) * MONTH_SECONDS)
    draws, checked = np.tile(load.draws, years), np.tile(load.checked, years)
    months = np.arange(12)[:, None] + np.array([0.0, 0.5, 1.0])
    days = (load.first_month - 1 + months) * _MONTH_DAYS + 1.0
    at_pipe = kusuda_achenbach(surface, ground.diffusivity, depths_of(trench), days[..., None])
    film, wall = film_and_wall(
        pipe,
        brine,
        load.peak / (brine.specific_heat * temperature_change * trenches),
        pipe.bore / trench.coil_diameter if isinstance(trench, SlinkyTrench) else 0.0,
    )
    ends = MONTH_SECONDS * np.arange(1, draws.size + 1)
    return Life(
        first_month=load.first_month,
        undisturbed=np.tile(at_pipe.mean(axis=-1).min(axis=1), years),
        draws=draws,
        checked=checked,
        from_months=wall_temperature_history(draws, response(ends)),
        from_peak=(checked - draws) * float(response(load.peak_hours * 3600.0)),
        through_pipe=checked * (film + wall) / trench.exchanging_length,
        half_rise=0.5 * temperature_change * checked / load.peak,
        film=film,
        wall=wall,
    )


def last_year_energy(ground: Ground, trench: Trench, draws: Floats) -> tuple[float, float]:
    """Last year's net draw as it came through the surface and out of the store [J].

    Parameters
    ----------
    draws
        Mean draw of each month of the life, in order of operation [W].
    """
    ends = MONTH_SECONDS * np.arange(1, draws.size + 1)
    unit = np.mean([surface_energy(ground.diffusivity, z, ends) for z in depths_of(trench)], axis=0)
    so_far = wall_temperature_history(draws, unit)
    surface = float(so_far[-1] - (so_far[-13] if draws.size > 12 else 0.0))
    return surface, float(draws[-12:].sum()) * MONTH_SECONDS - surface
