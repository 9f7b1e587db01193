"""Where does everything lie? The plan that split, groundworks, pipe order and drawing read.

Nothing is stored twice: the tail of a loop is the length of its route, the header trench that is
dug is the sum of the stretches in the ground, and the pipes of a stretch follow from what lies in
it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import shapely

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.findings import Finding
from hydraulics.layout.heights import lies_at
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.site import TOUCHING, Point, SitePlot, coordinate_faults

End = Literal["first", "last", "either"]
Medium = Literal["ground", "water"]
Place = Literal["least_pipe", "least_digging", "most_even"]
TOLD_TO: Final = 6  # decimals of a metre that places are told to where they are given on
CHAMBER_SIDE: Final = 1.0  # m, of a chamber taken as square; common practice, no source
HAIR: Final = 5e-3  # m, half of the last figure that is told
LAYERS_APART: Final = 0.3  # m, return on the floor and flow above it; common practice, no source


def length_of(line: tuple[Point, ...]) -> float:
    """Length of a line [m]."""
    return sum(math.dist(a, b) for a, b in pairwise(line))


@dataclass(frozen=True, slots=True)
class Trench:
    """A loop's trench by its centre line [m].

    Attributes
    ----------
    loop
        Name of the loop in it.
    line
        Centre line: two points, or more where it bends.
    width, top_width
        At the floor, and at the surface where its sides are battered [m].
    depth
        Of the floor [m].
    tails_from
        The end that its tails leave from; either: whichever is nearer by way.
    pipe_depth
        Of its lowest pipe [m]; None for what lies on the usual bedding.
    rise
        From its lowest pipe up to its highest [m]: upright coils stand in it.
    """

    loop: str
    line: tuple[Point, ...]
    width: float = 1.2
    top_width: float | None = None
    depth: float = 1.2
    tails_from: End = "either"
    pipe_depth: float | None = None
    rise: float = 0.0

    def __post_init__(self) -> None:
        refuse(
            Fault("line", "a trench needs two points", len(self.line), "2 or more points")
            if len(self.line) < 2
            else None,
            *coordinate_faults("line", self.line),
            number_fault("width", self.width, "m", above=0.0),
            number_fault("depth", self.depth, "m", above=0.0),
            number_fault("top_width", self.top_width, "m", at_least=self.width),
        )

    @property
    def length(self) -> float:
        """Length of trench [m]."""
        return length_of(self.line)

    @property
    def lies(self) -> float:
        """Depth of its lowest pipe [m]."""
        return lies_at(self.depth) if self.pipe_depth is None else self.pipe_depth

    @property
    def half_top(self) -> float:
        """From the centre line to its edge at the surface [m]."""
        return (self.width if self.top_width is None else self.top_width) / 2.0


@dataclass(frozen=True, slots=True)
class Bore:
    """A borehole: its loop, axis [m] and depth [m]."""

    loop: str
    at: Point
    depth: float = 100.0

    def __post_init__(self) -> None:
        refuse(
            *coordinate_faults("at", (self.at,)),
            number_fault("depth", self.depth, "m", above=0.0),
        )


@dataclass(frozen=True, slots=True)
class Mat:
    """A pond mat: its loop, centre [m] and outer diameter [m]."""

    loop: str
    at: Point
    diameter: float = 2.0

    def __post_init__(self) -> None:
        refuse(
            *coordinate_faults("at", (self.at,)),
            number_fault("diameter", self.diameter, "m", above=0.0),
        )


def loops_of(
    trenches: tuple[Trench, ...], bores: tuple[Bore, ...], mats: tuple[Mat, ...]
) -> tuple[str, ...]:
    """Names of the loops in order."""
    return (*(t.loop for t in trenches), *(b.loop for b in bores), *(m.loop for m in mats))


@dataclass(frozen=True, slots=True)
class Chamber:
    """A manifold chamber: its name, place [m] and most loops (12: common practice, no source)."""

    name: str
    at: Point
    largest: int = 12

    def __post_init__(self) -> None:
        refuse(
            *coordinate_faults("at", (self.at,)),
            Fault("largest", f"is {self.largest}; give 1 or more", self.largest, "1 or more")
            if self.largest < 1
            else None,
        )


@dataclass(frozen=True, slots=True)
class Route:
    """The way of a flow and a return pipe side by side: a loop's tail, or a chamber's run.

    Attributes
    ----------
    name
        The loop's, or the chamber's.
    loop
        Name of the loop; None for the run from a chamber to the plant room.
    chamber
        The chamber that it leads to, or from.
    line
        From the loop to the chamber, or from the chamber to the plant room [m].
    """

    name: str
    loop: str | None
    chamber: str
    line: tuple[Point, ...]

    @property
    def length(self) -> float:
        """Length one way [m]; the pipe is laid twice, out and back."""
        return length_of(self.line)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of header trench, or of a way through water, in which the same pipes lie.

    Attributes
    ----------
    line
        Centre line [m].
    medium
        Ground, which is dug, or water, which is not.
    loops, runs
        Names of the loops and of the chambers whose pairs lie in it.
    """

    line: tuple[Point, ...]
    medium: Medium
    loops: tuple[str, ...]
    runs: tuple[str, ...]

    @property
    def length(self) -> float:
        """Length [m]."""
        return length_of(self.line)

    @property
    def pairs(self) -> int:
        """Pairs of flow and return in it."""
        return len(self.loops) + len(self.runs)

    @property
    def pipes(self) -> int:
        """Pipes in it, half of them flow and half return."""
        return 2 * self.pairs


@dataclass(frozen=True, slots=True)
class Pit:
    """A square pit for a coil of spare pipe, beside its loop's header trench.

    Attributes
    ----------
    loop
        Name of the loop.
    corners
        Of the pit at the surface [m].
    """

    loop: str
    corners: tuple[Point, ...]

    @property
    def side(self) -> float:
        """Of the square [m]."""
        return math.dist(self.corners[0], self.corners[1])

    @property
    def shape(self) -> shapely.Polygon:
        """Its outline."""
        return shapely.Polygon(self.corners)


@dataclass(frozen=True, slots=True)
class Capacity:
    """What fits by the search made, which is a bound from below.

    Attributes
    ----------
    most
        Trenches, bores or mats of the size asked for.
    family
        How those lie that fit: spine or staggered trenches, square or triangular grid, spread.
    longest
        Longest equal trench for the number asked for [m]; None where not worked out.
    fewest
        Fewest loops that reach the total length asked for, more than those asked for where such
        do; None where none do.
    centres
        Centres at which the number asked for would fit [m]; None where not worked out.
    """

    most: int
    family: str
    longest: float | None = None
    fewest: int | None = None
    centres: float | None = None


@dataclass(frozen=True, slots=True)
class PlacedBy:
    """What a plan would take whose chambers are placed by one objective.

    Attributes
    ----------
    place
        The objective.
    header_dug, tails, runs
        Header trench to dig, and the sums of tails and of runs one way [m].
    shortest, longest
        Tail [m].
    chambers
        Where they stand.
    """

    place: Place
    header_dug: float
    tails: float
    runs: float
    shortest: float
    longest: float
    chambers: tuple[Chamber, ...] = ()


@dataclass(frozen=True, slots=True)
class SitePlan:
    """Everything with its place.

    Attributes
    ----------
    plot
        The ground.
    trenches, bores, mats
        What gathers heat, in the order of the loops.
    chambers
        In order along the plan.
    loop_chamber
        Name of the chamber of every loop that is reached.
    routes
        Tails in the order of the loops, then runs in the order of the chambers.
    stretches
        The union of the routes, each piece once.
    direction_deg
        Of the trenches, anticlockwise from east [°].
    capacity
        What fits; None where everything was drawn by hand.
    findings
        What the reader should know.
    placed_by
        What each objective of placing chambers takes, that of the plan too; empty where chambers
        are given.
    pits
        Of spare pipe that is left in coils, where they have room.
    without_pit
        Loops whose spare pipe finds no room for its pit.
    """

    plot: SitePlot
    trenches: tuple[Trench, ...]
    bores: tuple[Bore, ...]
    mats: tuple[Mat, ...]
    chambers: tuple[Chamber, ...]
    loop_chamber: Mapping[str, str]
    routes: tuple[Route, ...]
    stretches: tuple[Stretch, ...]
    direction_deg: float
    capacity: Capacity | None = None
    findings: tuple[Finding, ...] = ()
    placed_by: tuple[PlacedBy, ...] = ()
    pits: tuple[Pit, ...] = ()
    without_pit: tuple[str, ...] = ()

    @property
    def loops(self) -> tuple[str, ...]:
        """Names of the loops in order."""
        return loops_of(self.trenches, self.bores, self.mats)

    @property
    def tails(self) -> dict[str, float]:
        """Length of the tail of every loop that is reached [m], one way."""
        return {r.loop: r.length for r in self.routes if r.loop is not None}

    @property
    def tail_lines(self) -> dict[str, tuple[Point, ...]]:
        """Centre line of the tail of every loop that is reached, from the loop on [m]."""
        return {r.loop: r.line for r in self.routes if r.loop is not None}

    @property
    def runs(self) -> dict[str, float]:
        """Length of the run from every chamber to the plant room [m], one way."""
        return {r.chamber: r.length for r in self.routes if r.loop is None}

    @property
    def way_out(self) -> tuple[Point, ...]:
        """The last straight of all that is led to the plant room: where pipes leave its wall."""
        plant = self.plot.plant
        led = (r.line[-2:] for r in self.routes if math.dist(r.line[-1], plant) < TOUCHING)
        return next((line for line in led if line[0] != line[1]), ())

    def held_by(self, chamber: str) -> tuple[str, ...]:
        """Loops that are reached from a chamber, in their order."""
        at = self.loop_chamber
        return tuple(name for name in self.loops if at.get(name) == chamber)

    def _metres(self, medium: Medium) -> float:
        return sum(each.length for each in self.stretches if each.medium == medium)

    @property
    def header_dug(self) -> float:
        """Header trench to dig [m], each piece once."""
        return self._metres("ground")

    @property
    def in_water(self) -> float:
        """Ways of tails through water [m], which nobody digs."""
        return self._metres("water")

    @property
    def trench_dug(self) -> float:
        """Trench of the loops to dig [m]."""
        return sum(each.length for each in self.trenches)


def floor_width(
    pairs: int,
    pipe_diameter: float,
    least: float,
    layers: Literal[1, 2] = 2,
    apart: float = LAYERS_APART,
) -> float:
    """Width of a header trench's floor for the pipes in it [m].

    Parameters
    ----------
    pairs
        Pairs of pipes, flow and return.
    pipe_diameter
        Outside diameter, of unlike pipes in the mean [m].
    least
        Width that is dug for fewer pipes [m].
    layers
        2: return on the floor and flow above it after part backfill; 1: side by side, flow and
        return apart.
    apart
        Of flow and return that lie side by side, from the bedding of the one to the other's [m].

    Notes
    -----
    ``max(least, k d + (k - 1) 0.05 + 0.2)`` for k pipes of a layer; common practice, no source.
    """
    side = pairs * pipe_diameter + max(pairs - 1, 0) * 0.05 + 0.2
    return max(least, side if layers == 2 else 2.0 * side + apart)


@dataclass(frozen=True, slots=True)
class HeaderPipes:
    """Which pipes header trenches hold.

    Attributes
    ----------
    tails
        Of every loop's tails, flow and return.
    run
        Of the chambers' runs.
    """

    tails: Mapping[str, tuple[Pipe, Pipe]]
    run: Pipe

    def within(self, stretch: Stretch) -> Iterator[Pipe]:
        """Every pipe of a stretch, flow and return of each pair one after the other."""
        for loop in stretch.loops:
            yield from self.tails[loop]
        for _ in stretch.runs:
            yield from (self.run, self.run)

    def across(self, stretch: Stretch) -> float:
        """Outside diameters of a stretch's flow or return pipes together, the wider layer's [m]."""
        own = [pipe.outside_diameter for pipe in self.within(stretch)]
        return max(sum(own[::2]), sum(own[1::2]))

    def thickest(self, stretch: Stretch) -> float:
        """Outside diameter of a stretch's thickest pipe [m]."""
        return max(pipe.outside_diameter for pipe in self.within(stretch))


def floor_of(
    stretch: Stretch, pipes: HeaderPipes, least: float, layers: Literal[1, 2] = 2
) -> float:
    """Width of a stretch's floor [m], each pipe as thick as it is.

    Parameters
    ----------
    stretch
        What lies in it.
    pipes
        Of tails and runs.
    least, layers
        See `floor_width`.
    """
    return floor_width(stretch.pairs, pipes.across(stretch) / stretch.pairs, least, layers)


def places(plan: SitePlan) -> Iterator[tuple[str, Point]]:
    """Every loop and a point that it lies at: a trench's middle, a bore's axis, a mat's centre."""
    for trench in plan.trenches:
        (ax, ay), (bx, by) = trench.line[0], trench.line[-1]
        yield trench.loop, ((ax + bx) / 2.0, (ay + by) / 2.0)
    for bore in plan.bores:
        yield bore.loop, bore.at
    for mat in plan.mats:
        yield mat.loop, mat.at
