"""How high do plant, gauge and pipe lie, and how much does the fluid between them weigh?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from scipy.constants import g

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, figures
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.contents import gathers_straight
from hydraulics.layout.legs import Leg
from hydraulics.layout.walk import circuits_of, headers_of, loops_of, standings
from hydraulics.pipework.pipe import Pipe

BEDDING: Final = 0.1  # m of fine material below and above pipe; common practice, no source
WATER_DENSITY: Final = 1000.0  # kg/m3, water at its densest (4 degC): the safe side of a column


@dataclass(frozen=True, slots=True)
class Heights:
    """Levels above one reference of the site, any; None where not told.

    Attributes
    ----------
    min_ground_level, max_ground_level
        Lowest and highest ground (or bed of a water) that the array lies under [m].
    plant_level
        Of circulating pump and expansion vessel [m].
    gauge_level
        Of the gauge that a pressure test is read at [m].
    trench_depth, header_depth
        How deep below the ground pipe lies in the loops' trenches, and headers, runs and tails in
        theirs [m]; see :func:`lies_at`.
    lowest_pipe, lowest_loop
        Level of the lowest pipe of a plan on surveyed ground [m], and the loop that it is of, empty
        where it is of none: the deepest may lie elsewhere than under the lowest ground.
    anywhere
        Whether that ground is all of a plot on which the array has no place yet.
    surveyed
        Lowest and highest ground by the levels of a plan [m]; None where there is no such.
    """

    min_ground_level: float | None = None
    max_ground_level: float | None = None
    plant_level: float | None = None
    gauge_level: float | None = None
    trench_depth: float | None = None
    header_depth: float | None = None
    lowest_pipe: float | None = None
    lowest_loop: str = ""
    anywhere: bool = False
    surveyed: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        low, high = self.min_ground_level, self.max_ground_level
        refuse(
            number_fault("min_ground_level", low, "m"),
            number_fault("max_ground_level", high, "m"),
            number_fault("plant_level", self.plant_level, "m"),
            number_fault("gauge_level", self.gauge_level, "m"),
            Fault(
                "max_ground_level",
                f"is {high:g} m, below the lowest ground, {low:g} m; give the higher level here",
                high,
                f"at least {low:g} m",
            )
            if low is not None and high is not None and high < low
            else None,
        )


NOWHERE: Final = Heights()


def on_ground(told: Heights, surveyed: Heights) -> Heights:
    """Heights as told, and lowest and highest ground that are not told as surveyed.

    Depths count from the lowest ground where that is told as low as it is surveyed; the lowest pipe
    of a plan is taken where it is not.

    Raises
    ------
    InputError
        What is told of the one lies beyond what is surveyed of the other.
    """
    low, high = told.min_ground_level, told.max_ground_level
    least, most = surveyed.min_ground_level, surveyed.max_ground_level
    if least is not None and most is not None and not surveyed.anywhere:
        told = replace(told, surveyed=(least, most))
        if low is None or low > least:
            told = replace(told, lowest_pipe=surveyed.lowest_pipe, lowest_loop=surveyed.lowest_loop)
    if low is not None and high is not None:
        return told
    where = "that the plot's levels tell of the array: tell all of one reference, or both"
    if low is not None and most is not None and low > most:
        bound = math.floor(most * 100.0) / 100.0
        text = f"is {low:g} m, above the highest ground, {bound:.2f} m, {where} levels here"
        raise InputError(Fault("min_ground_level", text, low, f"at most {bound:.2f} m"))
    if high is not None and least is not None and high < least:
        bound = math.ceil(least * 100.0) / 100.0
        text = f"is {high:g} m, below the lowest ground, {bound:.2f} m, {where} levels here"
        raise InputError(Fault("max_ground_level", text, high, f"at least {bound:.2f} m"))
    return replace(
        told,
        min_ground_level=least if low is None else low,
        max_ground_level=most if high is None else high,
        anywhere=surveyed.anywhere,
    )


ANYWHERE: Final = (
    "The array has no place on the plot yet, and is taken to lie under any of its ground"
)
_GAUGE: Final = "The test's gauge is taken as high as the lowest ground"
_GAUGE_APART: Final = (
    " for what a test proves, and as the highest of ground and plant, {:.2f} m, for what pipe"
    " bears: tell its level"
)
LEVELS_AGREE: Final = 0.1  # m, 0.01 bar; common practice, no source
UNTOLD_DEPTH: Final = 2.0  # m; deeper than most trenches for pipe: common practice, no source


@dataclass(frozen=True, slots=True)
class Bottom:
    """The lowest that a pipe lies.

    Attributes
    ----------
    pipe
        The pipe.
    where
        What part of the array it is the bottom of, in words.
    level
        [m]
    hole
        Depth of the borehole that it hangs in [m]; 0 where it hangs in none.
    """

    pipe: Pipe
    where: str
    level: float
    hole: float = 0.0


@dataclass(frozen=True, slots=True)
class Levels:
    """Levels that pressures are reckoned with [m above the reference].

    Attributes
    ----------
    plant, gauge
        Of circulating pump and vessel, and of the test's gauge: the lowest that it may stand.
    highest_gauge
        The highest that it may stand, for what pipe bears of a test.
    ground
        Highest ground over the pipe.
    bottoms
        Lowest place of each pipe; in boreholes and outside them apart.
    reached
        Level that some pipe surely reaches, with the ground's surface where no depth is told: what
        a test must not count on more than. As the lowest where all is told.
    assumed
        What was not told and is taken so, in sentences.
    """

    plant: float
    gauge: float
    highest_gauge: float
    ground: float
    bottoms: tuple[Bottom, ...]
    reached: float
    assumed: tuple[str, ...] = ()

    @property
    def in_service(self) -> tuple[str, ...]:
        """What is assumed of it where no test is read at a gauge."""
        return tuple(each for each in self.assumed if not each.startswith(_GAUGE))

    @property
    def lowest(self) -> float:
        """Lowest level of any pipe [m]; the plant's where there is none."""
        return min((each.level for each in self.bottoms), default=self.plant)

    @property
    def top(self) -> float:
        """Highest level that the circuit reaches in service [m]."""
        return max(self.ground, self.plant)


def column(height: float, density: float) -> float:
    """Pressure of a standing fluid [Pa]: of so many metres at a density [kg/m³]."""
    return density * g * height


def standing(fluid: str, pressure: float, where: str, lower: float, digits: int = 3) -> str:
    """Say what a column does to a pressure where pipe lies.

    Parameters
    ----------
    fluid
        What stands there.
    pressure
        Of the column [Pa]; less than 0 where the pipe lies higher.
    where
        What part of the array the pipe is of.
    lower
        How much lower it lies [m].
    digits
        Of the pressure.
    """
    bar, metres = figures(abs(pressure) / 1e5, digits), figures(abs(lower), 4)
    if pressure < 0.0:
        lie = "lie" if where in ("the headers", "the plant's runs") else "lies"
        return f"less {bar} bar of {fluid}, since {where} {lie} {metres} m higher,"
    return f"with {bar} bar of {fluid} that stands on {where}, {metres} m lower,"


def lies_at(floor: float, bedding: float = BEDDING) -> float:
    """Depth of the lowest pipe in a trench [m] by the depth of its floor and what it is bedded on.

    Pressures, levels of a plan and the rules of the digging go by it.
    """
    return max(floor - bedding, 0.0)


def levels_of(circuit: Circuit, plant: Plant | None = None, heights: Heights = NOWHERE) -> Levels:
    """Levels of an array and its plant.

    Parameters
    ----------
    circuit, plant
        What is laid.
    heights
        What is told. Ground that is not told is taken as level, and plant and gauge that are not
        told as lying at the lowest ground, that gauge for what pipe bears as high as the highest of
        ground and plant. Where a plan's ground reaches farther than is told, pipe
        bears what it does under the lower of both, lift goes by the higher, and a test counts on
        what is told. Pipe whose own depth is not told lies as deep as its
        trench, straight pipe of a loop that has nothing else to gather heat too; tails, headers and
        runs whose trench is not told, as deep as the deepest trench that is; and where none is,
        `UNTOLD_DEPTH`, the safe side for what a pipe bears. All lies under
        the lowest ground, but none lower than the lowest pipe that is told.
    """
    ground = (heights.min_ground_level, heights.max_ground_level)
    known = (*ground, heights.plant_level, heights.gauge_level)
    low = next((level for level in known if level is not None), 0.0)
    plant_at = low if heights.plant_level is None else heights.plant_level
    ground_level = max(low, low if heights.max_ground_level is None else heights.max_ground_level)
    lower = low
    if heights.surveyed is not None:
        lower, ground_level = min(low, heights.surveyed[0]), max(ground_level, heights.surveyed[1])
    gauge, high = low, max(ground_level, plant_at)
    if heights.gauge_level is not None:
        gauge = high = heights.gauge_level
    assumed = [
        f"{text}."
        for text, taken in (
            ("All ground over the array is taken as level", None in ground),
            ("Pump and vessel are taken as high as the lowest ground", heights.plant_level is None),
            (
                _GAUGE + (_GAUGE_APART.format(high) if high - low > LEVELS_AGREE else ""),
                heights.gauge_level is None,
            ),
        )
        if taken
    ]
    depths = _depths(circuit, heights)
    floor = -math.inf if heights.lowest_pipe is None else heights.lowest_pipe
    name = heights.lowest_loop
    lowest = f"loop {name}"
    bottoms: dict[tuple[Pipe, bool], Bottom] = {}
    reached: list[float] = []
    for bottom, surely, said in _bottoms(circuit, plant, lower, plant_at, depths, name=name):
        kind, here = (bottom.pipe, bottom.hole > 0.0), max(bottom.level, floor)
        other = bottoms[kind].level if kind in bottoms else math.inf
        if here < other or (here == other and bottom.where == lowest):
            bottoms[kind] = replace(bottom, level=here)
        reached.append(max(surely, floor))
        if said and said not in assumed:
            assumed.append(said)
    surely_under = ground_level if heights.anywhere else low
    if surely_under > lower:  # no pipe surely lies lower than there
        highest = _bottoms(circuit, plant, surely_under, plant_at, depths, name=name)
        reached = [max(surely, floor) for _, surely, _ in highest]
    if heights.anywhere:
        assumed.append(f"{ANYWHERE}.")
    return Levels(
        plant=plant_at,
        gauge=gauge,
        highest_gauge=high,
        ground=ground_level,
        bottoms=tuple(bottoms.values()),
        reached=min(reached, default=plant_at),
        assumed=tuple(assumed),
    )


def place_findings(heights: Heights) -> Iterator[Finding]:
    """Yield that a plot's levels count as those of all its ground, or that others are told."""
    low, high = heights.min_ground_level, heights.max_ground_level
    if low is not None and high is not None and heights.surveyed is not None:
        least, most = heights.surveyed
        if low - least > LEVELS_AGREE or most - high > LEVELS_AGREE:
            yield Finding(
                "levels_not_as_told",
                "warning",
                f"Heights tell ground of {low:.2f} to {high:.2f} m, and the plan's lies at "
                f"{least:.2f} to {most:.2f} m by the surveyed levels, every metre of which is 0.1 "
                "bar: pressures on pipe go by the lower of both, lift and precharge by the higher, "
                "and a test counts on heights. Leave the ground out of heights, or correct the "
                "levels.",
                COMMON_PRACTICE,
            )
    if heights.anywhere and low is not None and high is not None:
        yield Finding(
            "levels_not_placed",
            "info",
            f"{ANYWHERE}, {low:.2f} to {high:.2f} m as surveyed or told: pressures, lift and "
            "precharge are on the safe side. Set the array out and go on with what that decides, "
            "or tell how high the ground over it lies.",
            COMMON_PRACTICE,
        )


@dataclass(frozen=True, slots=True)
class _Depth:
    """Depth of pipe that does not tell its own: taken, surely reached [m], and what is said."""

    taken: float
    surely: float
    said: str


def _depths(circuit: Circuit, heights: Heights) -> tuple[_Depth, _Depth]:
    """Of pipe in the loops' trenches, and of headers, runs and tails."""
    own = [
        lowest
        for _, loop, _ in loops_of(circuit)
        for leg in loop.legs
        if leg.trench is not None and (lowest := leg.trench.lowest) is not None
    ]
    told = own if heights.trench_depth is None else [*own, heights.trench_depth]
    untold = _Depth(
        UNTOLD_DEPTH,
        0.0,
        f"Pipe in trenches whose depth is not told is taken to lie {UNTOLD_DEPTH:g} m deep for what"
        " it has to bear, and at the surface for what a test proves: every metre is 0.1 bar.",
    )
    deepest = max(told, default=0.0)
    if heights.trench_depth is not None:
        trench = _Depth(heights.trench_depth, heights.trench_depth, "")
    elif told:
        said = f"Loops whose depth is not told are taken to lie {deepest:g} m deep, as others do."
        trench = _Depth(deepest, 0.0, said)
    else:
        trench = untold
    if heights.header_depth is not None:
        return trench, _Depth(heights.header_depth, heights.header_depth, "")
    if not told:
        return trench, untold
    said = f"Headers, runs and tails are taken to lie {deepest:g} m deep, as the loops' trenches."
    return trench, _Depth(deepest, 0.0, said)


def _bottoms(
    circuit: Circuit,
    plant: Plant | None,
    ground: float,
    plant_at: float,
    depths: tuple[_Depth, _Depth],
    *,
    name: str,
) -> Iterator[tuple[Bottom, float, str]]:
    """Every pipe's lowest place, part by part, the level surely reached, and what is to be said.

    Pipe that lies alike is told once, of the first loop, and of the loop of a name.
    """
    trench, header = depths
    seen: set[tuple[int, _Depth | float]] = set()

    def laid(
        pipe: Pipe, where: str, depth: _Depth, lowest: float = ground
    ) -> tuple[Bottom, float, str]:
        level, surely = (min(ground - each, lowest) for each in (depth.taken, depth.surely))
        return Bottom(pipe, where, level), surely, depth.said

    for here, _ in circuits_of(circuit):
        headers = headers_of(here)
        laid_there = [pipe for pipe, length in (*headers.flow, *headers.back) if length > 0.0]
        for pipe in {id(each): each for each in laid_there}.values():
            if pipe is not None:
                yield laid(pipe, "the headers", header)
    for each in standings(circuit):
        for run in each.branch.runs:
            named = bool(each.branch.item.name)
            to = each.name if named else "an unnamed circuit"
            yield laid(run.pipe, f"the run to {to}", header)
        if each.loop is None:
            continue
        straight = gathers_straight(each.loop)
        for leg in each.loop.legs:
            pipe = leg.pipe or each.loop.pipe
            lies: _Depth | float = trench if straight else header
            if not leg.is_tail:
                lies = _own_depth(leg, trench)
            if (kind := (id(pipe), lies)) in seen and each.name != name:
                continue
            seen.add(kind)
            where = f"loop {each.name}"
            if isinstance(lies, _Depth):
                yield laid(pipe, where, lies)
            else:
                yield Bottom(pipe, where, ground - lies, lies), ground - lies, ""
    for run in plant.runs if plant is not None else ():
        yield laid(run.pipe, "the plant's runs", header, min(ground, plant_at))


def _own_depth(leg: Leg, trench: _Depth) -> _Depth | float:
    """How deep a leg lies that is no tail: in its trench, or below ground in hole or water [m]."""
    if leg.borehole is not None:
        return leg.borehole.depth
    if leg.trench is None:
        return 0.0  # mats lie on the bed
    own = leg.trench.lowest
    return trench if own is None else _Depth(own, own, "")
