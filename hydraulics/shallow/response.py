"""How much colder does the pipe of a shallow array get, how long after heat is drawn from it?

Straight pipe is a row of line sources, coiled pipe (a slinky, flat or upright) a row of ring
sources; each has a mirror image of opposite sign above the surface, which holds the surface at its
undisturbed temperature. All answers are K per (W/m of trench): a resistance that grows with time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import scipy as sp
from numpy.typing import ArrayLike

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.ground.line_source import cylindrical_source_correction, infinite_line_source
from hydraulics.ground.load_history import Floats
from hydraulics.ground.soil import Ground
from hydraulics.shallow.neighbours import Line, Seen, as_they_lie, in_rows

# Where exp(-x) is left out of a sum: e-50 is far below rounding in any result.
_NEGLIGIBLE = 50.0
# Step of ln(time) between tabulated points; Gauss points within a step (errors below 1e-6, tested).
_LOG_STEP = 0.3
_STEPS = 8  # a table is so many steps long, or a multiple
_GAUSS_NODES, _GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(4)
# Equal-weight Chebyshev angles on which a coil's width is sampled towards other rows.
_ACROSS = np.cos(np.pi * (np.arange(10) + 0.5) / 10)


@dataclass(frozen=True, slots=True)
class StraightTrench:
    """Straight pipes along a trench, all carrying the same heat per metre.

    Attributes
    ----------
    pipes
        One (across, depth) per pipe in the trench's cross-section [m]: distance from the trench's
        centre line, and depth of the pipe's axis.
    pipe_diameter
        Outside diameter of the pipe [m].
    """

    pipes: tuple[tuple[float, float], ...]
    pipe_diameter: float

    def __post_init__(self) -> None:
        faults = [number_fault("pipe_diameter", self.pipe_diameter, "m", above=0.0)]
        if not self.pipes:
            faults.append(Fault("pipes", "is empty; give at least one pipe", 0, "1 or more"))
        for i, (across, depth) in enumerate(self.pipes):
            faults.append(number_fault(f"pipes.{i}.across", across, "m"))
            faults.append(number_fault(f"pipes.{i}.depth", depth, "m", above=self.pipe_diameter))
            for j, other in enumerate(self.pipes[:i]):
                gap = math.dist((across, depth), other)
                if gap < 0.999 * self.pipe_diameter:
                    message = f"lies {gap:g} m from pipes.{j}; pipes must not overlap"
                    least = f"at least {self.pipe_diameter:g} m apart"
                    faults.append(Fault(f"pipes.{i}", message, gap, least))
        refuse(*faults)

    @property
    def exchanging_length(self) -> float:
        """Pipe that draws heat, per metre of trench [m/m]."""
        return float(len(self.pipes))


def pipe_row(passes: int, spacing: float, depth: float, pipe_diameter: float) -> StraightTrench:
    """Return a trench with `passes` pipes side by side, `spacing` [m] apart, at one depth [m]."""
    refuse(
        number_fault("passes", passes, "pipes", at_least=1),
        number_fault("spacing", spacing, "m", above=0.0) if passes > 1 else None,
    )
    across = (np.arange(passes) - (passes - 1) / 2) * (spacing if passes > 1 else 0.0)
    return StraightTrench(tuple((float(x), depth) for x in across), pipe_diameter)


@dataclass(frozen=True, slots=True)
class SlinkyTrench:
    """A flattened coil along a trench, laid flat or stood upright, as a row of rings.

    Attributes
    ----------
    coil_diameter
        Diameter of a ring, between the pipe's centre lines [m].
    pitch
        Distance along the trench from one ring's centre to the next [m].
    depth
        Depth of the rings' centres [m].
    pipe_diameter
        Outside diameter of the pipe [m].
    upright
        True when the rings stand in the trench's vertical plane, False when they lie flat.
    """

    coil_diameter: float
    pitch: float
    depth: float
    pipe_diameter: float
    upright: bool = False

    def __post_init__(self) -> None:
        least = (self.coil_diameter / 2 if self.upright else 0.0) + self.pipe_diameter
        refuse(
            number_fault("pipe_diameter", self.pipe_diameter, "m", above=0.0),
            number_fault("coil_diameter", self.coil_diameter, "m", above=4 * self.pipe_diameter),
            number_fault("pitch", self.pitch, "m", at_least=self.pipe_diameter),
            number_fault("depth", self.depth, "m", above=least),
        )

    @property
    def exchanging_length(self) -> float:
        """Ring pipe, per metre of trench [m/m]: the rings are taken to draw all the heat."""
        return math.pi * self.coil_diameter / self.pitch


Trench = StraightTrench | SlinkyTrench

# Angles over a ring, equal weights.
_RING_HEIGHTS = np.cos(np.pi * (np.arange(12) + 0.5) / 12)


def deepened(trench: Trench, by: float) -> Trench:
    """Return the same trench so much deeper [m]."""
    if isinstance(trench, StraightTrench):
        return replace(trench, pipes=tuple((x, depth + by) for x, depth in trench.pipes))
    return replace(trench, depth=trench.depth + by)


def depths_of(trench: Trench) -> Floats:
    """Depths of equal parts of a trench's pipe [m]."""
    if isinstance(trench, StraightTrench):
        return np.array([depth for _, depth in trench.pipes])
    return trench.depth + trench.coil_diameter / 2 * (
        _RING_HEIGHTS if trench.upright else np.zeros(1)
    )


@dataclass(frozen=True, slots=True)
class StepResponse:
    """Temperature fall of the pipe's outside after a steady draw begins, tabulated over time.

    Attributes
    ----------
    log_times
        Natural logarithm of time [ln s], evenly spaced.
    resistance
        Mean temperature fall of the pipe's outside [K per W/m of trench] at those times.
    """

    log_times: Floats
    resistance: Floats

    @property
    def earliest(self) -> float:
        """First tabulated time [s], 2 s for 32 mm pipe; before it the answer is taken as 0."""
        return math.exp(float(self.log_times[0]))

    @property
    def latest(self) -> float:
        """Last tabulated time [s]."""
        return math.exp(float(self.log_times[-1]))

    def __call__(self, seconds: ArrayLike) -> Floats:
        """Return the temperature fall [K per W/m of trench] at `seconds`, same shape.

        Raises
        ------
        InputError
            For a time that is not finite or later than the last tabulated one.
        """
        t = np.asarray(seconds, dtype=float)
        bad = t[~(t <= self.latest * (1.0 + 1e-9))]
        if bad.size:
            allowed = f"at most {self.latest:.4g} s"
            raise InputError(
                Fault(
                    "seconds",
                    f"is {bad[0]:g}; the response is tabulated for {allowed}",
                    float(bad[0]),
                    allowed,
                )
            )
        spline = sp.interpolate.CubicSpline(self.log_times, self.resistance)
        log_t = np.log(np.maximum(t, self.earliest))
        return np.where(t > self.earliest, spline(np.minimum(log_t, self.log_times[-1])), 0.0)


def straight_pipes(
    ground: Ground, trench: StraightTrench, trenches: int, centres: float, seconds: ArrayLike
) -> Floats:
    """Return the mean temperature fall over all pipes of parallel trenches [K per W/m of trench].

    Parameters
    ----------
    ground, trench
        The soil, and the cross-section of every trench.
    trenches
        Number of equal parallel trenches.
    centres
        Distance between trench centre lines [m]; not used for one trench.
    seconds
        Times since the draw began [s], one axis, all more than 0.

    Returns
    -------
    numpy.ndarray
        One value per time.

    Notes
    -----
    Infinite line sources with images of opposite sign; a pipe's effect on itself is that of a
    cylinder of its radius (Carslaw & Jaeger 13.5), which matters for the first hours. Trenches are
    long against their depth: what their ends gain is left out (safe side).
    """
    pipes = np.array(trench.pipes)
    spread = pipes[:, None, 0] - pipes[None, :, 0]
    same_side = (pipes[:, None, 1] - pipes[None, :, 1]) ** 2
    mirrored = (pipes[:, None, 1] + pipes[None, :, 1]) ** 2
    seen = in_rows(trenches, centres)
    offsets, shares = np.append(0.0, seen.offsets), np.append(1.0, seen.shares)
    # Offsets either way are equal in the mean over all pairs, so one side stands for both.
    across = (spread[None] + offsets[:, None, None]) ** 2
    real = np.sqrt(across + same_side).reshape(len(offsets), -1)
    real[0] = np.maximum(real[0], trench.pipe_diameter / 2)
    image = np.sqrt(across + mirrored).reshape(len(offsets), -1)
    count = len(pipes)
    weights = np.repeat(shares, count * count) / count**2
    distances, where = np.unique(
        np.round(np.concatenate((real.ravel(), image.ravel())), 12), return_inverse=True
    )
    strengths = np.bincount(where, weights=np.concatenate((weights, -weights)))
    t = np.asarray(seconds, dtype=float)
    lines = infinite_line_source(
        t[None, :], distances[:, None], ground.conductivity, ground.diffusivity
    )
    return np.asarray(strengths @ lines) + _cylinder(ground, trench, t)


def ring_pair(radius: float, apart: ArrayLike, spread: ArrayLike) -> Floats:
    """Return the in-plane part of the heat kernel averaged over two equal rings [1/m2].

    Parameters
    ----------
    radius
        Radius of both rings [m], lying in one plane or in parallel planes.
    apart
        Distance between their centres, measured in that plane [m].
    spread
        4at, of the time t since the instantaneous source [m2]; broadcast against `apart`.

    Notes
    -----
    The two rings' points differ by a vector of evenly spread direction and of length
    w = 2 R sin(f/2), f evenly spread over 0 to pi, so that the double average over both rings of
    exp(-d^2/4at) is one average over f of exp(-(s - w)^2/4at) I0e(s w/2at). The idea
    of ring sources for slinky coils: Xiong Z., Fisher D. E., Spitler J. D., Applied Energy 141
    (2015) 57-69 (abstract read; the integral here is derived afresh and tested point by point).
    """
    s = np.asarray(apart, dtype=float)[..., None]
    spread = np.asarray(spread, dtype=float)[..., None]
    count = 160
    w = 2.0 * radius * np.sin(np.pi * (np.arange(count) + 0.5) / (2 * count))
    kernel = np.exp(-((s - w) ** 2) / spread) * sp.special.i0e(2.0 * s * w / spread)
    return np.asarray(kernel.mean(axis=-1) / (math.pi * spread[..., 0]))


def slinky_coils(
    ground: Ground,
    trench: SlinkyTrench,
    trenches: int,
    centres: float,
    longest: float,
    *,
    lines: tuple[Line, ...] = (),
) -> StepResponse:
    """Return the response of rows of rings, tabulated up to `longest` [s].

    Parameters
    ----------
    ground, trench
        The soil, and the coil in every trench.
    trenches
        Number of equal parallel trenches.
    centres
        Distance between trench centre lines [m]; not used for one trench.
    longest
        Last time wanted [s].
    lines
        Of the trenches that have their place [m]; none: parallel rows.

    Notes
    -----
    The heat kernel of a point is the product of one factor in the rings' plane and one across it,
    so the mean fall over all rings is the integral over time of (in plane) x (across). Rows are
    endless; after about 0.4 p^2/a the pitch no longer shows, and a row acts as a strip with the
    coil's own spread across its width. The pipe's radius stands as a distance out of the plane,
    which equals the mean of inside and outside of the ring to second order in radius/coil radius.
    A ring's effect on itself has the cylinder's correction of a straight pipe, felt only while heat
    stays near the pipe. The pipe between rings and the return pipe are left out. Against the true
    looping curve of the pipe, integrated point by point, rings read 1 to 6 % high from a month on
    and up to 10 % high after two days, for pitches up to the coil diameter; a return pipe beside
    the coil would warm it by as much again. Coils pulled out to a pitch above their diameter bunch
    into narrower loops, and rings then read up to 10 % low unless they are laid as full circles.

    References
    ----------
    Xiong Z., Fisher D. E., Spitler J. D., Development and validation of a slinky ground heat
    exchanger model, Applied Energy 141 (2015) 57-69. Li H., Nagano K., Lai Y., A new model and
    solutions for a spiral heat exchanger and its experimental validation, Int. J. Heat and Mass
    Transfer 55 (2012) 4404-4414.
    """
    pipe_radius = trench.pipe_diameter / 2
    log_times = _log_grid(pipe_radius, ground.diffusivity, longest)
    spread, step = _spread_grid(pipe_radius, log_times.size - 1)
    size = (trench.coil_diameter / 2, trench.pitch, pipe_radius, log_times.size - 1)
    seen = _seen(lines, trenches, centres, pipe_radius, log_times.size - 1)
    out_of_plane = np.exp(-(pipe_radius**2) / spread) / np.sqrt(math.pi * spread)
    height = 2.0 * trench.depth
    if trench.upright:
        neighbours = seen.shares * np.exp(-(seen.offsets[:, None] ** 2) / spread)
        across = out_of_plane * (1.0 + neighbours.sum(axis=0))
        kernel = across * (_row(*size, 0.0) - _row(*size, height))
    else:
        rows = sum(
            (
                share * _row(*size, float(offset))
                for offset, share in zip(seen.offsets, seen.shares, strict=True)
            ),
            start=_row(*size, 0.0),
        )
        kernel = out_of_plane * -np.expm1(-(height**2) / spread) * rows
    rate = (kernel * step).reshape(-1, _GAUSS_NODES.size).sum(axis=1) / (4.0 * ground.diffusivity)
    # One W per metre of trench is `pitch` W per ring.
    rise = np.concatenate(([0.0], np.cumsum(rate))) * trench.pitch / ground.heat_capacity
    return StepResponse(log_times, rise + _cylinder(ground, trench, np.exp(log_times)))


def step_response(
    ground: Ground,
    trench: Trench,
    trenches: int = 1,
    centres: float = math.inf,
    longest: float = 1.6e9,
    *,
    lines: tuple[Line, ...] = (),
) -> StepResponse:
    """Return how an array of equal trenches answers to a steady draw from time 0.

    Parameters
    ----------
    ground
        The soil.
    trench
        Straight pipes or a slinky.
    trenches
        Number of trenches, 1 or more.
    centres
        Distance between the centre lines of those that are parallel [m].
    longest
        Last time to tabulate [s]; 1.6e9 s is 50 years.
    lines
        Corners of the centre lines of those that have their place [m], which are taken as they lie
        (:func:`hydraulics.shallow.neighbours.as_they_lie`).

    Returns
    -------
    StepResponse
        Mean temperature fall of the pipe's outside, K per W drawn per metre of trench, with every
        metre of the array drawing alike. A draw of changing size is superposed by
        :func:`hydraulics.ground.load_history.wall_temperature_history`.

    Raises
    ------
    InputError
        When the trenches overlap or a number is not usable.

    Notes
    -----
    Conduction only: no freezing, no moisture movement, no groundwater flow. The surface keeps its
    undisturbed temperature (isothermal image), as if well stirred by weather; a surface that
    answers less freely (snow, paving) makes the true array colder in its long-term part.
    """
    refuse(
        number_fault("trenches", trenches, "trenches", at_least=1),
        number_fault("longest", longest, "s", above=3600.0),
        number_fault("centres", centres, "m", above=width(trench)) if trenches > 1 else None,
    )
    if isinstance(trench, SlinkyTrench):
        return slinky_coils(ground, trench, trenches, centres, longest, lines=lines)
    log_times = _log_grid(trench.pipe_diameter / 2, ground.diffusivity, longest)
    t = np.exp(log_times)
    if not lines:
        return StepResponse(log_times, straight_pipes(ground, trench, trenches, centres, t))
    _, step = _spread_grid(trench.pipe_diameter / 2, log_times.size - 1)
    beside = _beside(trench, lines, trenches, centres, log_times.size - 1)
    rate = (beside * step).reshape(-1, _GAUSS_NODES.size).sum(axis=1)
    rise = np.append(0.0, np.cumsum(rate)) / (4.0 * math.pi * ground.conductivity)
    return StepResponse(log_times, straight_pipes(ground, trench, 1, math.inf, t) + rise)


@lru_cache(maxsize=16)
def _seen(
    lines: tuple[Line, ...], trenches: int, centres: float, pipe_radius: float, steps: int
) -> Seen:
    """What a metre of trench sees of others, at the points of :func:`_spread_grid`."""
    if not lines:
        return in_rows(trenches, centres)
    spread, _ = _spread_grid(pipe_radius, steps)
    return as_they_lie(lines, trenches, centres, np.sqrt(spread))


@lru_cache(maxsize=16)
def _beside(
    trench: StraightTrench, lines: tuple[Line, ...], trenches: int, centres: float, steps: int
) -> Floats:
    """Kernel between a pipe of a trench and all pipes that it sees of others [1/m2].

    At the points of :func:`_spread_grid`; whatever the soil.
    """
    spread, _ = _spread_grid(trench.pipe_diameter / 2, steps)
    seen = _seen(lines, trenches, centres, trench.pipe_diameter / 2, steps)
    pipes = np.array(trench.pipes)
    apart = pipes[:, None] - pipes[None]
    sums = pipes[:, None, 1] + pipes[None, :, 1]
    pairs = np.stack((apart[..., 0], apart[..., 1] ** 2, sums**2), axis=-1).reshape(-1, 3)
    kernel = np.zeros_like(spread)
    for (aside, level, mirrored), count in zip(
        *np.unique(pairs, axis=0, return_counts=True), strict=True
    ):
        across = (seen.offsets[:, None] + aside) ** 2
        real = np.exp(-np.maximum(across + level, trench.pipe_diameter**2 / 4) / spread)
        felt = seen.shares * (real - np.exp(-(across + mirrored) / spread))
        kernel += count * felt.sum(axis=0)
    kernel /= len(pipes) ** 2 * spread
    kernel.flags.writeable = False
    return kernel


def surface_energy(diffusivity: float, depth: float, seconds: ArrayLike) -> Floats:
    """Return how much of 1 W drawn from time 0 has come in through the surface by `seconds` [J].

    Parameters
    ----------
    diffusivity
        Of the ground [m2/s].
    depth
        Of the source [m].
    seconds
        Since the draw began [s], more than 0.

    Notes
    -----
    The flow through the whole surface is erfc(h), h = z/sqrt(4at), whatever the source's shape at
    its depth: added up over the plane it equals that of a plane source (Carslaw & Jaeger 2.4).
    This is its integral, 4 t i2erfc(h). The rest of the draw has come out of the store.
    """
    t = np.asarray(seconds, dtype=float)
    h = depth / np.sqrt(4.0 * diffusivity * t)
    return np.asarray(
        t
        * ((1.0 + 2.0 * h**2) * sp.special.erfc(h) - 2.0 / math.sqrt(math.pi) * h * np.exp(-(h**2)))
    )


def _cylinder(ground: Ground, trench: Trench, seconds: Floats) -> Floats:
    """Return what a round pipe's wall falls more than a line source says [K per W/m of trench]."""
    radius = trench.pipe_diameter / 2
    more = np.zeros_like(seconds)
    # At a t = 1e6 r^2 (12 years for 32 mm pipe) the difference is below 1e-6 of the response.
    early = seconds < 1e6 * radius**2 / ground.diffusivity
    more[early] = cylindrical_source_correction(
        seconds[early], radius, ground.conductivity, ground.diffusivity
    )
    return more / trench.exchanging_length


def _log_grid(pipe_radius: float, diffusivity: float, longest: float) -> Floats:
    """Return evenly spaced ln(time), from before the pipe's wall feels anything to `longest`.

    And up to :data:`_STEPS` further, so that soils alike have one grid of 4at.
    """
    first = math.log(pipe_radius**2 / (4.0 * diffusivity * _NEGLIGIBLE))
    steps = _STEPS * math.ceil((math.log(longest) - first) / (_STEPS * _LOG_STEP))
    return np.asarray(first + _LOG_STEP * np.arange(steps + 1), dtype=float)


@lru_cache(maxsize=16)
def _spread_grid(pipe_radius: float, steps: int) -> tuple[Floats, Floats]:
    """Return 4at at the Gauss points of all steps of the grid, and d(4at) of each [m2]."""
    middle = _LOG_STEP * (np.arange(steps) + 0.5)
    nodes = (middle[:, None] + 0.5 * _LOG_STEP * _GAUSS_NODES).ravel()
    spread = pipe_radius**2 / _NEGLIGIBLE * np.exp(nodes)
    return spread, spread * np.tile(0.5 * _LOG_STEP * _GAUSS_WEIGHTS, steps)


def width(trench: Trench) -> float:
    """Return the width that a trench's pipe takes [m]; centres must be more than this."""
    if isinstance(trench, SlinkyTrench):
        return trench.pipe_diameter if trench.upright else trench.coil_diameter
    across = [x for x, _ in trench.pipes]
    return max(across) - min(across) + trench.pipe_diameter


@lru_cache(maxsize=4096)  # of some 2 kB: loops tried one after the other share theirs, all of them
def _row(radius: float, pitch: float, pipe_radius: float, steps: int, offset: float) -> Floats:
    """Return the in-plane kernel between a ring and a whole row of rings at `offset` [1/m2].

    At the points of :func:`_spread_grid`; whatever the soil.
    """
    spread, _ = _spread_grid(pipe_radius, steps)
    kernel = np.zeros_like(spread)
    # Ripples of the pitch fall as exp(-(pi/p)^2 4at) : below 1e-6 from 4at = 1.4 p^2 on. Rows
    # further off than two pitches never show it, because heat arrives from there too late.
    smooth = spread > 1.48 * pitch**2
    if offset > 2.0 * radius + 2.0 * pitch:
        smooth[:] = True
    felt = smooth & (max(offset - 2 * radius, 0.0) ** 2 / spread < _NEGLIGIBLE)
    kernel[felt] = _strip(radius, offset, spread[felt]) / pitch
    sharp = np.flatnonzero(~smooth)
    for m in range(math.ceil(2 * radius / pitch) + 9):
        apart = math.hypot(m * pitch, offset)
        if apart == 0.0:
            # Self: mean of exp(-2 R^2 (1 - cos f)/4at) over f is exp(-x) I0(x), x = R^2/2at.
            kernel[sharp] = sp.special.i0e(2 * radius**2 / spread[sharp]) / (
                math.pi * spread[sharp]
            )
            continue
        near = sharp[max(apart - 2 * radius, 0.0) ** 2 / spread[sharp] < _NEGLIGIBLE]
        if not near.size:  # nor any further on
            break
        kernel[near] += (1.0 if m == 0 else 2.0) * ring_pair(radius, apart, spread[near])
    kernel.flags.writeable = False
    return kernel


def _strip(radius: float, offset: float, spread: Floats) -> Floats:
    """Return the kernel between a ring and a row smeared along the trench [1/m]."""
    if offset == 0.0:
        count = 160
        w = 2.0 * radius * np.sin(np.pi * (np.arange(count) + 0.5) / (2 * count))
        mean = sp.special.i0e(w**2 / (2.0 * spread[:, None])).mean(axis=1)
    else:
        gap = offset + radius * (_ACROSS[:, None] - _ACROSS[None, :]).ravel()
        mean = np.exp(-(gap**2) / spread[:, None]).mean(axis=1)
    return np.asarray(mean / np.sqrt(math.pi * spread))
