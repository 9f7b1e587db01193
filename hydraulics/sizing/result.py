"""What a sized array is: metres, loops, temperatures through its life, land, certainty."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from hydraulics.findings import Finding
from hydraulics.fluid.mixture import Mixture
from hydraulics.ground.load_history import GroundLoad, History, Limit
from hydraulics.layout.circuit import Circuit, Loop
from hydraulics.sizing.choice import Metre
from hydraulics.sizing.loops import LoopHydraulics
from hydraulics.sizing.site import SiteUse
from hydraulics.split.duty import HeatDuty


@dataclass(frozen=True, slots=True)
class GroundResistance:
    """From brine at its coldest, as laid, to the pipe's outside, or to the borehole's wall.

    Attributes
    ----------
    film, wall
        Per metre of one pipe [m K/W].
    borehole_local, borehole_effective
        Brine to wall at one depth, and over the whole depth with heat passing from leg to leg
        [m K/W]; None for other kinds.
    water_film
        Outside a pond mat's pipe [m K/W]; None for other kinds.
    """

    film: float
    wall: float
    borehole_local: float | None = None
    borehole_effective: float | None = None
    water_film: float | None = None


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What an uncertain input does to the length of the same loops.

    Attributes
    ----------
    of
        ``"ground_conductivity"``: 20 % less and more; ``"water_film"``: 30 % weaker, for a pond;
        ``"ground_temperature"``: ground or water 1 K to the worse side of each limit, the longer,
        water no colder than it is liquid;
        ``"load"``: 10 % more heat and cold at the same flow, recharge as it is, or 10 % less where
        that needs more; ``"together"``: the worst of all.
    lengths
        Needed then [m]; infinite where the limit could not be kept. More conductivity is not
        always better: winter then reaches deeper.
    less_load
        Whether the load is 10 % less, not more.
    """

    of: Literal["ground_conductivity", "water_film", "ground_temperature", "load", "together"]
    lengths: tuple[float, ...]
    less_load: bool = False

    @property
    def longest(self) -> float:
        """Longest length needed [m]; infinite where the limit could not be kept."""
        return max(self.lengths)

    @property
    def shortest(self) -> float | None:
        """Shortest length needed [m]; None where only one was asked for."""
        return min(self.lengths) if len(self.lengths) > 1 else None


@dataclass(frozen=True, slots=True)
class ReturnLimit:
    """What another limit on the coldest return would mean.

    Attributes
    ----------
    limit
        [degC]
    length
        Needed, with the job's mixture or where that is too weak with `mixture` [m]; infinite where
        none is enough.
    loops, reynolds
        How many, as they would be proposed at that limit (of mats, the same), and the flow in each
        with brine at its coldest that the limit allows: a stronger mixture is thicker, and where it
        flows laminar a colder limit may take more length; None where none is enough.
    mixture
        Weakest of the job's kind that keeps the margin above freezing; None where none does.
    performance
        Change of the heat pump's performance against the limit asked for [-]; None: not known, as
        where the upper limit sets the length, or all of it by a slope that does not hold so far.
    """

    limit: float
    length: float
    loops: int | None
    reynolds: float | None
    mixture: Mixture | None
    performance: float | None

    @property
    def strength(self) -> float | None:
        """Of that mixture, by mass [-]."""
        return None if self.mixture is None else self.mixture.mass_fraction


@dataclass(frozen=True, slots=True)
class Published:
    """What a rule or method that others published would take.

    Attributes
    ----------
    rule, source
        In words.
    differs
        Why ours differs.
    length, area
        Of borehole [m], or of land [m2]; the other None.
    """

    rule: str
    source: str
    differs: str
    length: float | None = None
    area: float | None = None


@dataclass(frozen=True, slots=True)
class StaysLaminar:
    """What a film that may be laminar asks for.

    Attributes
    ----------
    length
        Needed then, more than the array has [m]; infinite where no length of so many loops does.
    reynolds, limit
        Of the flow in transition with brine at this limit on it.
    """

    length: float
    reynolds: float
    limit: Limit


@dataclass(frozen=True, slots=True)
class AtFlow:
    """An array's loops at another flow, or with another length in all.

    Attributes
    ----------
    needed_length
        With that flow, to keep the limits [m]; infinite where no length of so many loops does.
    coldest_return
        Coldest brine from the ground [degC].
    coldest_ground, resistance
        As of a sized array.
    history
        Brine and ground month by month; None for a pond.
    laminar
        Tells what is needed where flow is in transition with brine at a limit, or at any that can
        set the length, and may as well be laminar; None where the array is enough.
    """

    needed_length: float
    coldest_return: float
    coldest_ground: float
    resistance: GroundResistance
    history: History | None
    laminar: Callable[[Limit | None], StaysLaminar | None] = lambda limit: None


@dataclass(frozen=True, slots=True)
class ArraySizing:
    """A sized array.

    Attributes
    ----------
    kind
        slinky_flat, slinky_upright, straight, pond_mat or borehole.
    basis
        ``"conduction"``, or ``"extraction_rate"`` where the caller's rate set the size.
    draw
        What the ground has to give.
    metre
        Metre of what the lengths below are: trench, bore (active depth) or pipe (of mats).
    needed_length
        That the conduction model needs to just meet the limit, before rounding up [m]; infinite
        where an extraction rate was followed and no length of that many loops would do.
    total_length, loops, length_each
        As proposed: in all, equal loops, and in each loop [m, -, m].
    loop
        Each loop's legs and pipe.
    pipe_total
        Pipe in all loops, tails included [m].
    coil
        Shortest coil on offer that a loop is cut from [m]; None where none is long enough, and for
        boreholes, which come made up.
    hydraulics
        One loop at the peak's flow.
    peak_per_metre, annual_per_metre
        Draw per metre of trench, bore or mat pipe: [W/m], [J/m a year].
    peak_per_metre_of_pipe, annual_per_metre_of_pipe
        The same per metre of pipe that gathers heat, tails left out [W/m], [J/m].
    resistance
        Between brine and ground.
    history
        Brine and ground month by month, in order of operation from `draw.first_month`; None for a
        pond, whose year is not modelled.
    coldest_return, coldest_going, limit, margin
        [degC, degC, degC, K]
    most
        Limit on the warmest return, in months that put heat back [degC].
    coldest_ground
        Least temperature of the pipe's outside, or of the borehole's wall [degC].
    surface_energy, store_energy
        Of the last year's draw, what came through the surface and what from the store [J]; None
        where not modelled.
    site
        Land needed against land available.
    sensitivities
        What uncertain inputs do to the length; the ground's, or the water's, first.
    return_limits
        The length at other limits on the return, warmest first.
    published
        What published rules and hand methods would take.
    circuit, duty
        The array and its duty, for the flow split: brine at its coldest, though it be frozen.
    at_change
        The loops at the flow with which the brine changes by so much at the greater of both peaks
        [K]: as sized, or so many of a length in all as laid [-, m].
    set_by
        Limit that sets `needed_length`; an array that a rate lays may come nearer to the other.
    nearest
        Least distance between two boreholes [m]; None where there are none.
    laid
        Trench of `circuit` in all where it is drawn on the plot, and not as long as is proposed
        [m]; else None.
    cautions, notes, findings
        For people's safety; what the model leaves out; about this array.
    """

    kind: str
    basis: Literal["conduction", "extraction_rate"]
    draw: GroundLoad
    metre: Metre
    needed_length: float
    total_length: float
    loops: int
    length_each: float
    loop: Loop
    pipe_total: float
    coil: float | None
    hydraulics: LoopHydraulics
    peak_per_metre: float
    annual_per_metre: float
    peak_per_metre_of_pipe: float
    annual_per_metre_of_pipe: float
    resistance: GroundResistance
    history: History | None
    coldest_return: float
    coldest_going: float
    limit: float
    most: float
    margin: float
    coldest_ground: float
    surface_energy: float | None
    store_energy: float | None
    site: SiteUse
    sensitivities: tuple[Sensitivity, ...]
    return_limits: tuple[ReturnLimit, ...]
    published: tuple[Published, ...]
    circuit: Circuit
    duty: HeatDuty
    at_change: Callable[..., AtFlow] = field(compare=False, repr=False)
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    set_by: Limit = "lower"
    nearest: float | None = None
    laid: float | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def warm_margin(self) -> float | None:
        """Warmest return below its limit [K]; None where no heat is put back."""
        warmest = None if self.history is None else self.history.warmest_return
        return None if warmest is None else self.most - warmest

    @property
    def governing_limit(self) -> float:
        """Limit on the return that sets the needed length: on cold brine, or on warm [degC]."""
        return self.most if self.set_by == "upper" else self.limit
