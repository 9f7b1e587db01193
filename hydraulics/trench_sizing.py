"""How many metres of trench carry the heat pump through its coldest hour, in every year?

Undisturbed ground, less what the months before have drawn, less what the peak draws, less the drop
through pipe and film, plus half the brine's own temperature change: that is the return temperature,
and the array is long enough when it never falls below its limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.antifreeze import Fluid
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.ground_checks import number_fault, refuse
from hydraulics.ground_temperature import (
    DAYS_PER_YEAR,
    SECONDS_PER_DAY,
    SurfaceTemperature,
    kusuda_achenbach,
)
from hydraulics.load_aggregation import wall_temperature_history
from hydraulics.pipe import Pipe
from hydraulics.pipe_heat import film_resistance, nusselt, wall_resistance
from hydraulics.shallow_ground import (
    Ground,
    SlinkyTrench,
    StraightTrench,
    Trench,
    step_response,
    superpose,
    surface_energy,
)

Floats = NDArray[np.float64]

MONTH_SECONDS = DAYS_PER_YEAR * SECONDS_PER_DAY / 12.0
_MONTH_DAYS = DAYS_PER_YEAR / 12.0
_MOST_TRENCHES = 2000
# Angles over a ring at which the undisturbed temperature is averaged, equal weights.
_RING_HEIGHTS = np.cos(np.pi * (np.arange(12) + 0.5) / 12)

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
class GroundLoad:
    """What the heat pump takes from the ground.

    Attributes
    ----------
    monthly
        Mean heat flow of each month, January first, 12 numbers [W]; positive when heat is taken.
    peak
        Greatest steady draw [W]: one number for every month that takes heat, or 12.
    peak_hours
        How long that draw lasts without rest [h].
    temperature_change
        Rise of the brine through the ground while the greatest peak is drawn [K]; the flow is
        taken to stay the same at lesser draws.
    first_month
        Month in which operation begins, 1 to 12.
    """

    monthly: tuple[float, ...]
    peak: float | tuple[float, ...]
    peak_hours: float
    temperature_change: float
    first_month: int = 1

    def __post_init__(self) -> None:
        faults = [
            number_fault("peak_hours", self.peak_hours, "h", above=0.0),
            number_fault("temperature_change", self.temperature_change, "K", above=0.0),
        ]
        if not self.peak_hours <= MONTH_SECONDS / 3600.0:
            faults.append(
                Fault(
                    "peak_hours",
                    f"is {self.peak_hours:g} h, longer than a month",
                    self.peak_hours,
                    "at most 730 h",
                )
            )
        if not 1 <= self.first_month <= 12:
            faults.append(
                Fault(
                    "first_month",
                    f"is {self.first_month}; give 1 to 12",
                    self.first_month,
                    "1 to 12",
                )
            )
        if len(self.monthly) != 12:
            faults.append(
                Fault(
                    "monthly",
                    f"has {len(self.monthly)} values; give 12",
                    len(self.monthly),
                    "12 values",
                )
            )
        peaks = self.peak if isinstance(self.peak, tuple) else (self.peak,) * 12
        if len(peaks) != 12:
            faults.append(
                Fault(
                    "peak", f"has {len(peaks)} values; give 1 or 12", len(peaks), "1 or 12 values"
                )
            )
        for i, mean in enumerate(self.monthly):
            faults.append(number_fault(f"monthly.{i}", mean, "W"))
        for i, (mean, peak) in enumerate(zip(self.monthly, peaks, strict=False)):
            faults.append(number_fault(f"peak.{i}", peak, "W", at_least=0.0))
            if mean > peak:
                faults.append(
                    Fault(
                        f"peak.{i}",
                        f"is {peak:g} W, less than that month's mean of {mean:g} W",
                        peak,
                        f"at least {mean:g} W",
                    )
                )
        if not any(mean > 0.0 for mean in self.monthly):
            faults.append(
                Fault(
                    "monthly",
                    "takes no heat in any month; nothing limits the array",
                    0.0,
                    "more than 0 W in some month",
                )
            )
        refuse(*faults)

    @property
    def peaks(self) -> Floats:
        """Draw for which each month is checked [W], January first; 0 where no heat is taken."""
        peak = np.broadcast_to(np.asarray(self.peak, dtype=float), 12)
        given = isinstance(self.peak, tuple)
        return np.where((np.asarray(self.monthly) > 0.0) | given, peak, 0.0)


@dataclass(frozen=True, slots=True)
class LimitingLoad:
    """What sets the length: the coldest return, taken apart.

    Attributes
    ----------
    year, month
        Year of operation from 1, and month of the calendar from 1.
    undisturbed
        Ground temperature without the array [degC].
    fall_from_months
        Fall of the pipe's outside owing to all monthly draws so far [K].
    fall_from_peak
        Further fall owing to the peak [K].
    fall_through_pipe
        Drop through pipe wall and film [K].
    rise_of_brine
        Half the brine's temperature change [K].
    """

    year: int
    month: int
    undisturbed: float
    fall_from_months: float
    fall_from_peak: float
    fall_through_pipe: float
    rise_of_brine: float

    @property
    def governs(self) -> str:
        """Return the larger of the falls, as ``"monthly_draw"``, ``"peak"`` or ``"pipe"``."""
        falls = {
            "monthly_draw": self.fall_from_months,
            "peak": self.fall_from_peak,
            "pipe": self.fall_through_pipe,
        }
        return max(falls, key=lambda name: falls[name])


@dataclass(frozen=True, slots=True)
class PipeResistance:
    """From brine to the pipe's outside.

    Attributes
    ----------
    reynolds, nusselt
        In a loop at the greatest peak's flow [-].
    film, wall
        Resistances per metre of pipe [m K/W].
    per_trench
        Both, per metre of trench [m K/W].
    """

    reynolds: float
    nusselt: float
    film: float
    wall: float
    per_trench: float


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


@dataclass(frozen=True, slots=True)
class Life:
    """All months of the design life in order of operation, for one metre of trench in all.

    Attributes
    ----------
    first_month
        Month in which operation begins, 1 to 12.
    undisturbed
        Least ground temperature within each month without the array [degC].
    draws, peaks
        Mean draw of each month, and the draw for which it is checked [W].
    from_months, from_peak
        Falls of the pipe's outside [K m], to be divided by the total trench.
    half_rise
        Half the brine's temperature change [K].
    """

    first_month: int
    undisturbed: Floats
    draws: Floats
    peaks: Floats
    from_months: Floats
    from_peak: Floats
    half_rise: Floats

    def falls(self, resistance: PipeResistance) -> Floats:
        """Fall from undisturbed ground to the brine's mean [K m]."""
        return self.from_months + self.from_peak + self.peaks * resistance.per_trench

    def at(self, total: float, resistance: PipeResistance) -> TrenchHistory:
        """Temperatures with so much trench in all [m]."""
        returning = self.undisturbed - self.falls(resistance) / total + self.half_rise
        wall = self.undisturbed - (self.from_months + self.from_peak) / total
        worst = int(np.argmin(np.where(self.peaks > 0.0, returning, np.inf)))
        return TrenchHistory(
            returning=returning.reshape(-1, 12),
            going=(returning - 2.0 * self.half_rise).reshape(-1, 12),
            pipe=resistance,
            limiting=LimitingLoad(
                year=worst // 12 + 1,
                month=(worst + self.first_month - 1) % 12 + 1,
                undisturbed=float(self.undisturbed[worst]),
                fall_from_months=float(self.from_months[worst]) / total,
                fall_from_peak=float(self.from_peak[worst]) / total,
                fall_through_pipe=float(self.peaks[worst]) * resistance.per_trench / total,
                rise_of_brine=float(self.half_rise[worst]),
            ),
            coldest_return=float(returning[worst]),
            coldest_ground=float(wall.min()),
        )


def undisturbed_at_trench(
    surface: SurfaceTemperature, diffusivity: float, trench: Trench, day: ArrayLike
) -> Floats:
    """Return the undisturbed temperature averaged over a trench's pipe [degC], shape of `day`."""
    if isinstance(trench, StraightTrench):
        depths = np.array([depth for _, depth in trench.pipes])
    elif trench.upright:
        depths = trench.depth + trench.coil_diameter / 2 * _RING_HEIGHTS
    else:
        depths = np.array([trench.depth])
    days = np.asarray(day, dtype=float)
    return np.asarray(kusuda_achenbach(surface, diffusivity, depths, days[..., None]).mean(axis=-1))


def pipe_resistance(trench: Trench, pipe: Pipe, brine: Fluid, loop_flow: float) -> PipeResistance:
    """Return the resistance from the brine to the pipe's outside.

    Parameters
    ----------
    trench
        What lies in the trench: straight pipe has a straight film, a slinky a coil's.
    pipe
        Bore and outside diameter.
    brine
        Properties at the brine's mean temperature.
    loop_flow
        Mass flow in one loop [kg/s].
    """
    reynolds = 4.0 * loop_flow / (math.pi * pipe.bore * brine.viscosity)
    coiled = isinstance(trench, SlinkyTrench)
    curvature = pipe.bore / trench.coil_diameter if isinstance(trench, SlinkyTrench) else 0.0
    number = float(nusselt(reynolds, brine.prandtl, curvature if coiled else 0.0))
    film = float(film_resistance(number, brine.conductivity))
    wall = wall_resistance(pipe.outside_diameter, pipe.bore)
    return PipeResistance(reynolds, number, film, wall, (film + wall) / trench.exchanging_length)


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

    A slinky's rings carry all heat (see :func:`hydraulics.shallow_ground.slinky_coils`). Latent
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


def loop_flow(load: GroundLoad, brine: Fluid, loops: int) -> float:
    """Return the mass flow in each of some equal loops at the greatest peak [kg/s]."""
    return float(load.peaks.max()) / (brine.specific_heat * load.temperature_change * loops)


def life_of_trenches(  # noqa: PLR0917 (each is another subject)
    ground: Ground,
    surface: SurfaceTemperature,
    trench: Trench,
    load: GroundLoad,
    trenches: int,
    centres: float,
    years: int,
) -> Life:
    """Return every month of the life from the first month of operation.

    Parameters
    ----------
    ground, surface, trench, load, centres, years
        As :func:`size_trench_array`.
    trenches
        How many.
    """
    apart = centres if trenches > 1 else math.inf
    response = step_response(ground, trench, trenches, apart, (12 * years + 1) * MONTH_SECONDS)
    start = load.first_month - 1
    draws = np.tile(np.roll(np.asarray(load.monthly, dtype=float), -start), years)
    peaks = np.tile(np.roll(load.peaks, -start), years)
    months = np.arange(12)
    within = np.array([0.0, 0.5, 1.0])
    days = (start + months[:, None] + within) * _MONTH_DAYS + 1.0
    cold = undisturbed_at_trench(surface, ground.diffusivity, trench, days).min(axis=1)
    # In a month that takes no heat the brine follows that month's mean (cooling, or none).
    checked = np.where(peaks > 0.0, peaks, draws)
    pulse = float(response(load.peak_hours * 3600.0))
    return Life(
        first_month=load.first_month,
        undisturbed=np.tile(cold, years),
        draws=draws,
        peaks=checked,
        from_months=superpose(response, draws, MONTH_SECONDS),
        from_peak=(checked - draws) * pulse,
        half_rise=0.5 * load.temperature_change * checked / float(load.peaks.max()),
    )


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
        else trench.depth + trench.coil_diameter / 2 * _RING_HEIGHTS * trench.upright
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
