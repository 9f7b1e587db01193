"""How many metres of trench carry the heat pump through its coldest hour, in every year?

Undisturbed ground, less what the months before have drawn, less what the peak draws, less the drop
through pipe and film, plus half the brine's own temperature change: that is the return temperature,
and the array is long enough when it never falls below its limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.load_history import wall_temperature_history
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import Pipe
from hydraulics.shallow.response import Ground, SlinkyTrench, StraightTrench, Trench, surface_energy
from hydraulics.shallow.trench_life import (
    MONTH_SECONDS,
    RING_HEIGHTS,
    Floats,
    GroundLoad,
    Life,
    LimitingLoad,
    PipeResistance,
    life_of_trenches,
    loop_flow,
    pipe_resistance,
)

_MOST_TRENCHES = 2000

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
class TrenchArray:
    """A sized array of equal trenches, one loop in each.

    Attributes
    ----------
    trenches, trench_length
        How many, and how long each is dug [m].
    needed_length
        Total trench that just meets the limit, before rounding up [m].
    total_length
        Total trench as dug [m].
    loop_length
        Pipe in each loop within its trench, return pipe of a slinky included [m].
    coils
        Rings in each loop; 0 for straight pipe.
    loop_flow
        Mass flow in each loop [kg/s].
    pipe
        Resistance between brine and ground.
    peak_per_metre
        Greatest draw per metre of trench [W/m].
    annual_per_metre
        Heat taken in a year per metre of trench [kWh/m].
    return_temperature, going_temperature
        Brine from and to the ground, at each month's peak or mean draw [degC]; shape (years, 12),
        months in order of operation from `first_month`.
    coldest_return
        Least of all [degC].
    margin
        `coldest_return` above its limit [K].
    limiting
        The month that sets the length, taken apart, for the array as dug.
    coldest_ground
        Least temperature of the pipe's outside [degC]; below 0 the soil freezes around the pipe.
    surface_energy, store_energy
        Of one year's net draw in the last year, what comes through the surface above the array
        and what from the store [J]; they add up to the year's load.
    width, area
        Across the outermost trench centre lines, and that times the trench length [m, m2].
    length_if_less_conductive, length_if_more_conductive
        `needed_length` with 20 % less and 20 % more conductivity [m]; inf where the limit could
        not be met at all.
    warnings
        About this array.
    notes
        What the model leaves out.
    """

    trenches: int
    trench_length: float
    needed_length: float
    total_length: float
    loop_length: float
    coils: int
    loop_flow: float
    pipe: PipeResistance
    peak_per_metre: float
    annual_per_metre: float
    return_temperature: Floats
    going_temperature: Floats
    coldest_return: float
    margin: float
    limiting: LimitingLoad
    coldest_ground: float
    surface_energy: float
    store_energy: float
    width: float
    area: float
    length_if_less_conductive: float
    length_if_more_conductive: float
    warnings: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def coldest_return_by_year(self) -> Floats:
        """Least return temperature of each year [degC], shape (years,)."""
        return np.asarray(self.return_temperature.min(axis=1))


def size_trench_array(  # noqa: PLR0917 (each is another subject)
    ground: Ground,
    surface: SurfaceTemperature,
    trench: Trench,
    load: GroundLoad,
    pipe: Pipe,
    brine: Fluid,
    *,
    trenches: int | None = None,
    longest_trench: float | None = None,
    centres: float = 5.0,
    least_return: float = 0.0,
    years: int = 20,
) -> TrenchArray:
    """Return the shortest array of equal trenches that keeps the return above its limit.

    Parameters
    ----------
    ground
        Soil conductivity and heat capacity.
    surface
        Yearly surface temperature.
    trench
        Cross-section: straight pipes, or a slinky flat or upright.
    load
        Monthly draws, peak and the brine's temperature change.
    pipe
        Its outside diameter must be that of `trench`.
    brine
        Properties at about the coldest mean brine temperature.
    trenches, longest_trench
        Give one: the number of trenches, or the greatest length of one [m], for which the least
        number is found.
    centres
        Distance between trench centre lines [m]; 5 m for slinkies is common practice, no source.
    least_return
        Limit on the brine coming from the ground [degC]; 0 is common practice, no source.
    years
        Design life [years], 1 to 100.

    Returns
    -------
    TrenchArray

    Raises
    ------
    InputError
        When a number is not usable.
    NoSolutionError
        When the undisturbed ground is too cold for the limit however long the array is.

    Notes
    -----
    Return = undisturbed - fall from months - fall from peak - drop through pipe + half the rise.
    All falls go as 1/length, so each month has its own closed-form length and the longest counts.
    A peak comes at the end of its month, on top of that month's mean; the undisturbed temperature
    is the lowest within that month. Monthly loads are superposed exactly over the whole life.

    A slinky's rings carry all heat (see :func:`hydraulics.shallow.response.slinky_coils`). Latent
    heat of freezing soil is left out, on the safe side.
    """
    _check(trench, pipe, trenches, longest_trench, least_return, years)

    def needed(count: int, soil: Ground) -> tuple[Life, PipeResistance, float]:
        life = life_of_trenches(soil, surface, trench, load, count, centres, years)
        resistance = pipe_resistance(trench, pipe, brine, loop_flow(load, brine, count))
        return life, resistance, _needed_length(life, resistance, least_return)

    count = 1 if trenches is None else trenches
    life, resistance, length = needed(count, ground)
    if longest_trench is not None:
        while length > count * longest_trench * (1.0 + 1e-12):
            count = max(count + 1, math.ceil(length / longest_trench - 1e-9))
            if count > _MOST_TRENCHES:
                raise NoSolutionError(
                    Fault(
                        "longest_trench",
                        f"of {longest_trench:g} m asks for more than {_MOST_TRENCHES} trenches",
                        longest_trench,
                        "longer trenches",
                    )
                )
            life, resistance, length = needed(count, ground)

    def changed(factor: float) -> float:
        soil = replace(ground, conductivity=factor * ground.conductivity)
        try:
            return needed(count, soil)[2]
        except NoSolutionError:
            return math.inf

    each, coils = _rounded(trench, length / count)
    total = count * each
    history = life.at(total, resistance)
    from_surface, from_store = _last_year_energy(ground, trench, life.draws)
    width = (count - 1) * centres if count > 1 else 0.0
    months_heat = float(np.maximum(load.monthly, 0.0).sum()) * MONTH_SECONDS / 3.6e6
    return TrenchArray(
        trenches=count,
        trench_length=each,
        needed_length=length,
        total_length=total,
        loop_length=_loop_pipe(trench, each),
        coils=coils,
        loop_flow=loop_flow(load, brine, count),
        pipe=resistance,
        peak_per_metre=float(load.peaks.max()) / total,
        annual_per_metre=months_heat / total,
        return_temperature=history.returning,
        going_temperature=history.going,
        coldest_return=history.coldest_return,
        margin=history.coldest_return - least_return,
        limiting=history.limiting,
        coldest_ground=history.coldest_ground,
        surface_energy=from_surface,
        store_energy=from_store,
        width=width,
        area=width * each,
        length_if_less_conductive=changed(0.8),
        length_if_more_conductive=changed(1.2),
        warnings=_warnings(trench, resistance, history.coldest_ground, each),
        notes=(*NOTES, SLINKY_NOTE) if isinstance(trench, SlinkyTrench) else NOTES,
    )


def _check(  # noqa: PLR0917 (each is another subject)
    trench: Trench,
    pipe: Pipe,
    trenches: int | None,
    longest_trench: float | None,
    least_return: float,
    years: int,
) -> None:
    faults = [number_fault("least_return", least_return, "degC")]
    if (trenches is None) == (longest_trench is None):
        faults.append(
            Fault(
                "trenches",
                "give either the number of trenches or the greatest length of one, not both",
                trenches,
                "one of the two",
            )
        )
    if trenches is not None and not 1 <= trenches <= _MOST_TRENCHES:
        faults.append(
            Fault(
                "trenches",
                f"is {trenches}; give 1 to {_MOST_TRENCHES}",
                trenches,
                f"1 to {_MOST_TRENCHES}",
            )
        )
    if longest_trench is not None:
        faults.append(number_fault("longest_trench", longest_trench, "m", above=0.0))
    if not 1 <= years <= 100:
        faults.append(Fault("years", f"is {years}; give 1 to 100", years, "1 to 100"))
    if abs(pipe.outside_diameter - trench.pipe_diameter) > 1e-6:
        faults.append(
            Fault(
                "pipe",
                f"is {pipe.outside_diameter * 1e3:g} mm outside, but the trench holds "
                f"{trench.pipe_diameter * 1e3:g} mm pipe; give both alike",
                pipe.outside_diameter,
                f"{trench.pipe_diameter:g} m",
            )
        )
    refuse(*faults)


def _needed_length(life: Life, resistance: PipeResistance, least_return: float) -> float:
    """Return the total trench at which the coldest return just meets its limit [m]."""
    draw = life.peaks > 0.0
    fall = life.falls(resistance)
    room = life.undisturbed + life.half_rise - least_return
    hopeless = draw & (fall > 0.0) & (room <= 0.0)
    if hopeless.any():
        k = int(np.argmin(np.where(hopeless, room, np.inf)))
        raise NoSolutionError(
            Fault(
                "least_return",
                f"of {least_return:g} degC cannot be kept: undisturbed ground "
                f"at the pipe falls to {life.undisturbed[k]:.2f} degC and half the brine's "
                f"change adds {life.half_rise[k]:.2f} K; lay deeper, widen the temperature "
                "change or lower the limit",
                least_return,
                f"below {life.undisturbed[k] + life.half_rise[k]:.2f} degC",
            )
        )
    return float(np.max(np.where(draw, fall / np.where(room > 0.0, room, 1.0), 0.0)))


def _rounded(trench: Trench, length: float) -> tuple[float, int]:
    """Return a trench's length as dug and its rings: whole rings, or decimetres."""
    if isinstance(trench, SlinkyTrench):
        coils = max(1, math.ceil(length / trench.pitch - 1e-9))
        return coils * trench.pitch, coils
    return math.ceil(length * 10.0 - 1e-9) / 10.0, 0


def _loop_pipe(trench: Trench, length: float) -> float:
    """Return the pipe in one trench [m]; a slinky takes pi D + p a ring, and a return beside it."""
    if isinstance(trench, SlinkyTrench):
        return (math.pi * trench.coil_diameter / trench.pitch + 2.0) * length
    return len(trench.pipes) * length


def _last_year_energy(ground: Ground, trench: Trench, draws: Floats) -> tuple[float, float]:
    """Return the last year's net draw as it came through the surface and out of the store [J]."""
    depths = (
        [depth for _, depth in trench.pipes]
        if isinstance(trench, StraightTrench)
        else trench.depth + trench.coil_diameter / 2 * RING_HEIGHTS * trench.upright
    )
    ends = MONTH_SECONDS * np.arange(1, draws.size + 1)
    unit = np.mean([surface_energy(ground.diffusivity, float(z), ends) for z in depths], axis=0)
    so_far = wall_temperature_history(draws, unit)
    surface = float(so_far[-1] - (so_far[-13] if draws.size > 12 else 0.0))
    return surface, float(draws[-12:].sum()) * MONTH_SECONDS - surface


def _warnings(
    trench: Trench,
    resistance: PipeResistance,
    coldest_ground: float,
    each: float,
) -> tuple[str, ...]:
    found = []
    if coldest_ground < 0.0:
        found.append(
            f"the pipe's outside falls to {coldest_ground:.1f} degC: the soil freezes around it "
            "at times and may heave; keep clear of buildings, drains and water pipes"
        )
    if resistance.reynolds < 2300.0:
        found.append(
            f"flow in the loops is laminar (Reynolds number {resistance.reynolds:.0f}); the film "
            f"takes {resistance.film / (resistance.film + resistance.wall):.0%} of the drop "
            "through the pipe"
        )
    if isinstance(trench, SlinkyTrench) and trench.pitch > 1.001 * trench.coil_diameter:
        found.append(
            f"pitch {trench.pitch:g} m is more than the coil diameter: unless every coil is laid "
            "as a full circle its loops narrow, and the array is up to 10 % short"
        )
    depth = (
        trench.depth
        if isinstance(trench, SlinkyTrench)
        else max(depth for _, depth in trench.pipes)
    )
    if each < 10.0 * depth:
        found.append(
            f"trenches of {each:g} m are short against their depth; the model takes them as long "
            "(safe side)"
        )
    return tuple(found)
