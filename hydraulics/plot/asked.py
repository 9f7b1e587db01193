"""What is to be laid on the plot, by which rules, and what does a metre cost?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from hydraulics.checks import count_fault, number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.layout.heights import lies_at
from hydraulics.plot.plot import (
    BOREHOLE_SPACING,
    HEADER_DEPTH,
    HEADER_WIDTH,
    TRENCH_SPACING,
)
from hydraulics.plot.site_plan import Bore, Mat, Place, Trench, loops_of

MOST_LOOPS: Final = 500  # a bound on the search
LEAST_GROUND: Final = 0.5  # m left between two trenches' edges; common practice, no source
LEAST_LANE: Final = (
    0.4  # m of water between mats, that tails are laid in; common practice, no source
)
WHOLE: Final = 1e-9  # of a step that a length may miss it by
STUB: Final = 1.0  # m, from a trench's end to the header; common practice, no source
END_GAP: Final = 2.0  # m between the ends of trenches in line, two stubs: common practice
Pattern = Literal["square", "triangular", "either"]
Choose = Literal["compact", "spread"]


def loops_fault(field: str, count: int) -> Fault | None:
    """Fault of a number of loops that no search is made for."""
    if count > MOST_LOOPS:
        return Fault(
            field,
            f"is {count}; divide the array into plots",
            count,
            f"1 to {MOST_LOOPS}",
        )
    return count_fault(field, count)


@dataclass(frozen=True, slots=True)
class HeaderRules:
    """How header trenches lie; all of it common practice, no source.

    Attributes
    ----------
    border
        From the boundary to the header trench's centre line [m].
    width, depth
        Of the header trench [m]; more width where more pipes lie in it, see `floor_width`.
    side_slope
        Horizontal over vertical of its sides [-].
    clear
        Ground left between a header trench and a loop's trench, edge to edge at the surface [m].
    stub
        From a trench's end straight on to the header line [m]; `around` at the least, where there
        are trenches. None for 1 m and the batter of a side, or `around` where that is more.
    """

    border: float = 1.0
    width: float = HEADER_WIDTH
    depth: float = HEADER_DEPTH
    clear: float = 0.5
    stub: float | None = None
    side_slope: float = 0.0

    def __post_init__(self) -> None:
        refuse(
            number_fault("border", self.border, "m", at_least=0.0),
            number_fault("width", self.width, "m", above=0.0),
            number_fault("depth", self.depth, "m", above=0.0),
            number_fault("clear", self.clear, "m", at_least=0.0),
            number_fault("stub", self.stub, "m", above=0.0),
            number_fault("side_slope", self.side_slope, "m/m", at_least=0.0),
        )

    def stub_faults(self) -> Iterator[Fault]:
        """Yield what is wrong with the stub, where loops lie in trenches."""
        least = self.around
        if self.straight_on < least * (1.0 - 1e-9):
            yield Fault(
                "stub",
                f"is {self.straight_on:g} m; the header trench, {2.0 * self.half_width:g} m wide "
                "at the surface, would come nearer to the loop's trench than the "
                f"{self.clear:g} m of ground to be left",
                self.stub,
                f"{least:g} m or more",
            )

    @property
    def lies(self) -> float:
        """Depth of the lowest pipe in it [m]."""
        return lies_at(self.depth)

    @property
    def half_width(self) -> float:
        """From the centre line of a header trench to its edge at the surface [m]."""
        return self.width / 2.0 + self.batter

    @property
    def batter(self) -> float:
        """From the edge of a header trench's floor to that at the surface, across [m]."""
        return self.side_slope * self.depth

    @property
    def straight_on(self) -> float:
        """From a trench's end straight on to the header line [m]."""
        return max(STUB + self.batter, self.around) if self.stub is None else self.stub

    @property
    def around(self) -> float:
        """From a loop's trench, at its edge, to the centre line of a header trench [m]."""
        return self.clear + self.half_width


@dataclass(frozen=True, slots=True)
class Prices:
    """What a metre costs, of which only the proportions count; common practice, no source.

    Attributes
    ----------
    dig
        A metre of header trench.
    loop_pipe, run_pipe
        A metre of the pair of a loop's tails, or of a chamber's run.
    bend
        A bend or joint of header trenches; half of it is added to every piece, one and a half
        times where the piece lies askew to the trenches.
    """

    dig: float = 5.0
    loop_pipe: float = 1.0
    run_pipe: float = 3.0
    bend: float = 2.0

    def __post_init__(self) -> None:
        refuse(
            number_fault("dig", self.dig, "a metre", at_least=0.0),
            number_fault("loop_pipe", self.loop_pipe, "a metre", above=0.0),
            number_fault("run_pipe", self.run_pipe, "a metre", above=0.0),
            number_fault("bend", self.bend, "each", at_least=0.0),
        )


@dataclass(frozen=True, slots=True)
class ChamberRule:
    """Chambers to be placed.

    Attributes
    ----------
    largest
        Most loops of a chamber.
    place
        By least pipe, least digging, or tails as even as can be.
    """

    largest: int = 12
    place: Place = "most_even"

    def __post_init__(self) -> None:
        refuse(count_fault("largest", self.largest))


@dataclass(frozen=True, slots=True)
class ParallelTrenches:
    """Equal straight trenches beside and behind one another.

    Attributes
    ----------
    count, length
        So many trenches, each so long [m]; without `length` as long as so many can be, without
        `count` as many as fit.
    total_length
        Instead of both: fewest trenches that are together so long [m].
    longest_loop
        Longest trench of a loop, where `total_length` is given [m].
    centres
        Centre to centre [m].
    end_gap
        Between the ends of two trenches in line [m]: two stubs, so that they share a header.
    width, top_width, depth, pipe_depth, rise
        Of a trench [m], see :class:`~hydraulics.plot.site_plan.Trench`.
    names
        Of their loops in order; T1, T2 and so on beyond.
    step
        Lengths that are looked for are whole multiples of it [m]: a coil's pitch, as an example.
        0 for any.
    """

    count: int | None = None
    length: float | None = None
    total_length: float | None = None
    longest_loop: float = math.inf
    centres: float = TRENCH_SPACING
    end_gap: float = END_GAP
    width: float = 1.2
    top_width: float | None = None
    depth: float = 1.2
    names: tuple[str, ...] = ()
    pipe_depth: float | None = None
    step: float = 0.0
    rise: float = 0.0

    def __post_init__(self) -> None:
        refuse(
            Fault(
                "count",
                "give a number of trenches, their length or a total length",
                self.count,
                "count, length, count and length, or total_length",
            )
            if self.count is None and self.length is None and self.total_length is None
            else None,
            Fault("count", "a total length finds the number of trenches", self.count, "none")
            if self.count is not None and self.total_length is not None
            else None,
            Fault("length", "a total length finds the trenches' length", self.length, "none")
            if self.length is not None and self.total_length is not None
            else None,
            loops_fault("count", self.count) if self.count is not None else None,
            number_fault("length", self.length, "m", above=0.0),
            number_fault("total_length", self.total_length, "m", above=0.0),
            number_fault("centres", self.centres, "m", above=0.0),
            number_fault("end_gap", self.end_gap, "m", at_least=0.0),
            number_fault("width", self.width, "m", above=0.0),
            number_fault("top_width", self.top_width, "m", at_least=self.width),
            number_fault("depth", self.depth, "m", above=0.0),
        )

    @property
    def half_top(self) -> float:
        """From the centre line to its edge at the surface [m]."""
        return (self.width if self.top_width is None else self.top_width) / 2.0

    def whole(self, length: float) -> float:
        """The longest trench of whole steps that is no longer [m]; the length where none is."""
        if not self.step or math.isinf(length):
            return length
        return round(math.floor(length / self.step + WHOLE) * self.step, 9) or length

    def each(self, total: float, count: int) -> float:
        """The shortest trench of whole steps of which so many reach a total [m]."""
        length = total / count
        if not self.step:
            return length
        return round(math.ceil(length / self.step - WHOLE) * self.step, 9)

    @property
    def kept_centres(self) -> float:
        """Centre to centre as it is laid [m]: wider where the tops would meet."""
        return max(self.centres, 2.0 * self.half_top + LEAST_GROUND)


@dataclass(frozen=True, slots=True)
class BoreField:
    """Boreholes.

    Attributes
    ----------
    count, depth
        So many, each so deep [m]; without `count` as many as fit.
    spacing
        Between axes, at least [m].
    pattern
        Square or triangular grid, or whichever is the shorter to join.
    choose
        Compact: close together, little to dig; spread: as far apart as the plot lets them.
    names
        Of their loops in order; B1, B2 and so on beyond.
    """

    count: int | None = None
    depth: float = 100.0
    spacing: float = BOREHOLE_SPACING
    pattern: Pattern = "either"
    choose: Choose = "compact"
    names: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        refuse(
            loops_fault("count", self.count) if self.count is not None else None,
            number_fault("depth", self.depth, "m", above=0.0),
            number_fault("spacing", self.spacing, "m", above=0.0),
            Fault("count", "boreholes are spread by their number", None, f"1 to {MOST_LOOPS}")
            if self.count is None and self.choose == "spread"
            else None,
        )


@dataclass(frozen=True, slots=True)
class PondMats:
    """Mats on a square grid in water.

    Attributes
    ----------
    count, outer_diameter
        So many, each so wide [m].
    gap
        Of water between two mats' edges [m], which tails lie in.
    bank
        From the water's edge to a mat's edge [m].
    names
        Of their loops in order; M1, M2 and so on beyond.
    """

    count: int
    outer_diameter: float
    gap: float = 1.0
    bank: float = 1.0
    names: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        refuse(
            loops_fault("count", self.count),
            number_fault("outer_diameter", self.outer_diameter, "m", above=0.0),
            number_fault("gap", self.gap, "m", at_least=LEAST_LANE),
            number_fault("bank", self.bank, "m", at_least=0.0),
        )

    @property
    def spacing(self) -> float:
        """Centre to centre [m]."""
        return self.outer_diameter + self.gap


@dataclass(frozen=True, slots=True)
class AsDrawn:
    """Trenches, bores and mats where somebody drew them.

    Attributes
    ----------
    trenches, bores, mats
        In the order of the loops.
    centres
        Least distance between centre lines of trenches [m].
    spacing
        Least distance between bores [m].
    gap
        Least water between the edges of mats [m]: room for tails.
    """

    trenches: tuple[Trench, ...] = ()
    bores: tuple[Bore, ...] = ()
    mats: tuple[Mat, ...] = ()
    centres: float = TRENCH_SPACING
    spacing: float = BOREHOLE_SPACING
    gap: float = LEAST_LANE

    def __post_init__(self) -> None:
        names = loops_of(self.trenches, self.bores, self.mats)
        twice = next((name for name in names if names.count(name) > 1), None)
        refuse(
            Fault("trenches", "nothing is drawn", 0, "a trench, a bore or a mat")
            if not names
            else loops_fault("trenches", len(names)),
            Fault("trenches", f"two loops are called {twice!r}", twice, "a name of its own each")
            if twice is not None
            else None,
            number_fault("gap", self.gap, "m", at_least=0.0),
            number_fault("centres", self.centres, "m", above=0.0),
            number_fault("spacing", self.spacing, "m", above=0.0),
        )


def name_of(lay: ParallelTrenches | BoreField | PondMats, number: int) -> str:
    """Name of a loop by its number from 0."""
    if number < len(lay.names):
        return lay.names[number]
    letter = {ParallelTrenches: "T", BoreField: "B", PondMats: "M"}[type(lay)]
    return f"{letter}{number + 1}"


Lay = ParallelTrenches | BoreField | PondMats | AsDrawn
