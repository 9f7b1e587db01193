"""What is sized, and what one way to size it comes to: the values that pass between the kinds."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from hydraulics.errors import Fault, InputError, NoSolutionError, RangeError
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Fluid, Mixture, fluid, freezing_point
from hydraulics.ground.load_history import BrineLimits, Floats, GroundLoad, History, Limit
from hydraulics.ground.pipe_heat import MOST_PRANDTL
from hydraulics.groundworks.excavation import Trench
from hydraulics.pipework.pipe import STANDARD_COILS
from hydraulics.plot.plot import Plot
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    PondArray,
)
from hydraulics.sizing.loops import rounded_up
from hydraulics.sizing.result import GroundResistance, Published

_BRINES = 24  # temperatures of a mixture, some 2 K apart
_HOT = 40.0  # degC that polyethylene is not used beyond


@dataclass(frozen=True, slots=True)
class Fit:
    """So many loops, and how long they must be.

    Attributes
    ----------
    count
        Equal loops.
    needed
        Trench, bore or mat pipe in all that meets the limit, or infinite [m].
    each
        Of each loop, as it can be made [m].
    sized
        Everything else about them.
    """

    count: int
    needed: float
    each: float
    sized: Callable[[], Sized]


@dataclass(frozen=True, slots=True)
class Sized:
    """What every kind's model says of a number of loops and the length of each."""

    count: int
    needed: float
    each: float
    resistance: GroundResistance
    coldest_return: float
    coldest_ground: float
    notes: tuple[str, ...]
    history: History | None = None
    energy: tuple[float, float] | None = None
    coordinates: Floats | None = None
    by_hand: Published | None = None
    set_by: Limit = "lower"
    nearest: float | None = None


def or_infinite(length: Callable[[], float]) -> float:
    """Length, or infinity where no length does."""
    try:
        return length()
    except NoSolutionError:
        return math.inf


@dataclass(frozen=True, slots=True)
class Case:
    """The inputs, and what follows from them at once.

    Attributes, but for those of :func:`hydraulics.sizing.array.size_array`
    ----------
    near
        Total length about which one is looked for [m]; None: not known.
    laid
        Total length that there is, to be judged as it is [m]; None: as it is found.
    measured_at
        Flow of the whole array at which a measured resistance holds [kg/s]; None: at its own.
    water_film
        Share of the correlation's heat transfer from water to a pond's mats.
    thicker_warm
        How much thicker warm brine is taken than it is, so that its film is laminar.
    """

    draw: GroundLoad
    ground: GroundConditions
    choice: ArrayChoice
    mixture: Mixture
    brine: Fluid
    change: float
    plot: Plot
    limits: LoopLimits
    years: int
    limit: float
    most: float
    rate: ExtractionRate | None
    coils: tuple[float, ...] = STANDARD_COILS
    dug: Trench | None = None
    near: float | None = None
    laid: float | None = None
    measured_at: float | None = None
    water_film: float = 1.0
    thicker_warm: float = 1.0

    @property
    def longest_pipe(self) -> float:
        """Longest pipe of one loop: as given, and cut from one coil on offer [m].

        Boreholes come made up; tails that no coil holds leave nothing to keep.
        """
        given, coil = self.limits.longest_pipe or math.inf, max(self.coils)
        if isinstance(self.choice, BoreholeArray) or 2.0 * self.limits.tail >= coil:
            return given
        return min(given, coil)

    @property
    def between(self) -> BrineLimits:
        """Between what the brine from the ground must stay."""
        return BrineLimits(self.limit, self.most)

    @property
    def held_limits(self) -> tuple[Limit, ...]:
        """Limits that can set the length; the year of a pond, and so its warmest, is not known."""
        return ("lower",) if isinstance(self.choice, PondArray) else self.draw.limits

    @property
    def warm_brine(self) -> Fluid:
        """Brine at its warmest mean that the limit allows, or as cold as ever (safe side).

        Along trenches it nears the ground: its mean is hardly above what comes back.
        """
        rise = self.change * self.draw.cold_peak / self.draw.greatest
        above = rise / 2.0 if isinstance(self.choice, BoreholeArray) else 0.0
        try:
            found = fluid(self.mixture, self.most + above)
        except RangeError:
            found = self.brine
        return replace(found, viscosity=self.thicker_warm * found.viscosity)

    def set_by(
        self, laid: History, at: Callable[[float, BrineLimits], History], needed: float
    ) -> Limit:
        """Limit that sets a needed length [m]; where no length does, the one missed most as laid.

        `at` tells the life of so many metres with the films of the limits, as the length was found.
        """
        if len(self.held_limits) == 1:
            return "lower"
        found = at(needed, self.between) if math.isfinite(needed) else laid
        return found.limiting.limit

    def brine_at(self, limit: Limit) -> Fluid:
        """Brine at its coldest or its warmest mean that a limit allows."""
        return self.warm_brine if limit == "upper" else self.brine

    def value_of(self, limit: Limit) -> float:
        """A limit on the brine from the ground [degC]."""
        return self.most if limit == "upper" else self.limit

    def thicker(self, limit: Limit, factor: float) -> Case:
        """The same with brine at one limit so many times as thick."""
        if limit == "upper":
            return replace(self, thicker_warm=factor * self.thicker_warm)
        return replace(self, brine=replace(self.brine, viscosity=factor * self.brine.viscosity))

    @property
    def brines(self) -> tuple[Fluid, ...]:
        """The mixture from its freezing point to the warmest that may be, coldest first.

        Brine too thick for the film's correlations is left out: laminar, it has much the same.
        """
        coldest = freezing_point(self.mixture) + 0.01
        warmest = min(
            max(self.most, _HOT) + self.change, KINDS[self.mixture.kind].max_temperature_c
        )
        between = np.linspace(coldest, warmest, _BRINES).tolist()
        told = {self.brine.temperature_c, self.warm_brine.temperature_c}
        every = (fluid(self.mixture, at) for at in sorted({*between, *told}))
        return tuple(each for each in every if each.prandtl <= MOST_PRANDTL)

    @property
    def mass_flow(self) -> float:
        """Of the whole array at the greater of both peaks [kg/s]."""
        return self.draw.greatest / (self.brine.specific_heat * self.change)

    def reynolds(self, loops: int, limit: Limit) -> float:
        """Reynolds number in the pipe of one of so many loops, with the brine of a limit."""
        tubes = self.choice.u_tubes if isinstance(self.choice, BoreholeArray) else 1
        each = self.mass_flow / loops * self.limits.in_series / tubes
        return 4.0 * each / (math.pi * self.choice.pipe.bore * self.brine_at(limit).viscosity)

    @property
    def rise(self) -> float:
        """Of the brine at the peak of heat [K]: less than `change` where cold's peak is greater."""
        return self.change * self.draw.peak / self.draw.greatest

    def brine_from(self, coldest_return: float) -> Fluid:
        """Brine of an array that comes back so cold [degC]: as its duty has it, if not frozen.

        A bold rate leaves it colder than at the limit, whole mats warmer.
        """
        coldest_going = coldest_return - self.rise
        if freezing_point(self.mixture) < coldest_going:
            return fluid(self.mixture, coldest_going + self.rise / 2.0)
        return self.brine

    def coil_of(self, pipe: float) -> float | None:
        """Shortest coil on offer that holds so much pipe [m]; None: none does, or none is cut."""
        if isinstance(self.choice, BoreholeArray):
            return None
        return min((coil for coil in self.coils if coil >= pipe * (1.0 - 1e-9)), default=None)

    def each(self, count: int, needed: float) -> float:
        """Length of each of so many loops: as laid, or as by rate or need it can be made [m]."""
        if self.laid is not None:
            return self.laid / count
        return rounded_up(self.choice, (self.by_rate or needed) / count)

    @property
    def loops(self) -> int | None:
        """Number of loops that is asked for, or that given places of boreholes make."""
        places = len(self.choice.positions) if isinstance(self.choice, BoreholeArray) else 0
        asked = self.limits.loops
        if places and asked is not None and asked != places:
            raise InputError(
                Fault(
                    "loops",
                    f"is {asked}, and {places} places are given for boreholes; leave it out or "
                    "give as many places",
                    asked,
                    f"{places}",
                )
            )
        return places or asked

    @property
    def longest(self) -> float:
        """Longest trench, bore or mat pipe of one loop [m]."""
        if isinstance(self.choice, BoreholeArray):
            return self.choice.deepest
        if isinstance(self.choice, PondArray) or self.plot.length is None:
            return math.inf
        sides = (self.plot.length, self.plot.width or 0.0)  # it may be set out either way round
        ends = 0.0 if self.dug is None else self.dug.ends
        return max(sides) - 2.0 * self.plot.border - ends

    @property
    def by_rate(self) -> float | None:
        """Total length that the caller's extraction rate asks for, or that is laid [m]."""
        if self.laid is not None:
            return self.laid
        if self.rate is None:
            return None
        metres = self.draw.peak / self.rate.rate
        if self.rate.per == self.choice.metre:
            return metres
        if self.rate.per == "pipe":
            return metres / self.choice.gathering_pipe
        ways = " or ".join(dict.fromkeys((self.choice.metre, "pipe")))
        raise InputError(
            Fault(
                "per",
                f"is {self.rate.per}, but an array of the kind {self.choice.kind} is counted per "
                f"metre of {self.choice.metre}; give the rate per metre of {ways}",
                self.rate.per,
                ways,
            )
        )
