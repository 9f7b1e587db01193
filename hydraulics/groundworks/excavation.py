"""How much soil does one trench take out, how much goes back and how much goes away?"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import astuple, dataclass, replace
from types import MappingProxyType
from typing import Final

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import up_to_centimetre
from hydraulics.layout.circuit import Loop
from hydraulics.layout.contents import gathers_straight, joined_by, laid_back
from hydraulics.layout.heights import BEDDING, lies_at
from hydraulics.layout.legs import InTrench, Leg
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.plot import HEADER_DEPTH, HEADER_WIDTH

LEAST_BENCH: Final = 0.01  # m; below it the sides are a slope, which is given as one
BULKING: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "gravel": (0.05, 0.20),
        "sand": (0.05, 0.20),
        "silt": (0.20, 0.40),
        "clay": (0.20, 0.40),
        "peat": (0.20, 0.40),
        "weak_rock": (0.40, 0.55),
    }
)
"""Range of bulking by soil class: the gain of volume when dug."""
BULKING_SOURCE: Final = (
    "Bulking classes of soils in engineering-geological mapping (sand, gravel and very soft clay or"
    " silt 5 to 20 %; firm clay, silt and peat 20 to 40 %; weak rock 40 to 55 %), read in a"
    " reproduction without its author; tables of swell after Alaska DOT (1983) and others agree"
    " (sand and sandy gravel 5 %, dry gravel 15 %, silt 35 %, clay 35 to 40 %; read)"
)


@dataclass(frozen=True, slots=True)
class Trench:
    """The cross-section of a trench.

    Attributes
    ----------
    width
        Of the floor [m].
    depth
        To the floor [m].
    side_slope
        Horizontal over vertical of the sides [-], 0 for vertical; see :data:`OSHA_SLOPES`.
    bench_height, bench_width
        For a benched trench: height of each step and its tread on each side [m]; both 0 for none.
    bedding_below, bedding_above
        Fine material below and above the pipe [m].
    passes
        Pipes side by side in the trench of a loop that gathers heat by straight pipe only.
    """

    width: float
    depth: float
    side_slope: float = 0.0
    bench_height: float = 0.0
    bench_width: float = 0.0
    bedding_below: float = BEDDING
    bedding_above: float = BEDDING
    passes: int = 1

    def __post_init__(self) -> None:
        refuse(
            number_fault("width", self.width, "m", above=0.0),
            number_fault("depth", self.depth, "m", above=0.0),
            number_fault("side_slope", self.side_slope, "m/m", at_least=0.0),
            *(
                number_fault(name, getattr(self, name), "m", at_least=0.0)
                for name in ("bench_height", "bench_width", "bedding_below", "bedding_above")
            ),
            number_fault("passes", self.passes, "pipes", at_least=1.0),
        )
        step, fault = self.bench_height, None
        if (step > 0.0) != (self.bench_width > 0.0):
            text = "a bench needs a height and a width"
            fault = Fault("bench_height", text, step, "both more than 0, or neither")
        elif step >= self.depth * (1.0 - 1e-9) and step > 0.0:
            text = f"a bench so high leaves no bench in a trench {self.depth:g} m deep; give it"
            text += " less, or leave benches out"
            fault = Fault("bench_height", text, step, f"less than {self.depth:g} m")
        elif 0.0 < step < LEAST_BENCH:
            text, allowed = f"a bench is {LEAST_BENCH:g} m high or more", f"{LEAST_BENCH:g} m"
            fault = Fault("bench_height", text, step, f"0, or {allowed} or more")
        elif step > 0.0 and self.side_slope > 0.0:
            fault = Fault("side_slope", "give either benches or a slope", self.side_slope, "0")
        refuse(fault)

    def area(self, height: float) -> float:
        """Area of the section from the floor up to a height [m²]."""
        if self.bench_height > 0.0:
            steps = math.floor(height / self.bench_height)
            # Each step is two treads wider than the one below.
            full = self.bench_height * steps * (self.width + (steps - 1) * self.bench_width)
            rest = height - steps * self.bench_height
            return full + rest * (self.width + 2.0 * steps * self.bench_width)
        return self.width * height + self.side_slope * height * height

    def both_ends(self, height: float) -> float:
        """Volume up to a height of what both ends take beyond the floor's length [m³].

        They rise as the sides do, so that the surface is as much longer as it is wider.
        """
        if self.bench_height > 0.0:
            steps = math.floor(height / self.bench_height)
            rises = [*(self.bench_height,) * steps, height - steps * self.bench_height]
            wider = [2.0 * step * self.bench_width for step in range(steps + 1)]
            return math.fsum(
                rise * (self.width + more) * more for rise, more in zip(rises, wider, strict=True)
            )
        out = self.side_slope * height
        return height * out * (self.width + 4.0 / 3.0 * out)

    @property
    def lies(self) -> float:
        """Depth of the lowest pipe in it [m]."""
        return lies_at(self.depth, self.bedding_below)

    @property
    def top_width(self) -> float:
        """Width at the surface [m]."""
        if self.bench_height > 0.0:
            steps = math.ceil(self.depth / self.bench_height - 1e-9) - 1
            return self.width + 2.0 * steps * self.bench_width
        return self.width + 2.0 * self.side_slope * self.depth

    @property
    def ends(self) -> float:
        """What both battered ends take beyond the floor's length [m]: as far out as the sides."""
        return self.top_width - self.width

    @property
    def overall_slope(self) -> float:
        """Horizontal over vertical of each side from its foot to the surface [-]."""
        return 0.5 * (self.top_width - self.width) / self.depth


@dataclass(frozen=True, slots=True)
class HeaderTrench:
    """The trench that headers, runs and tails lie in.

    Attributes
    ----------
    length
        [m]; None to take it from the plan (along the foot of every row and between rows), or as
        long as the longest tail where that is more.
    width, depth
        [m]
    side_slope
        Horizontal over vertical [-].
    separation
        Distance kept between flow and return pipes [m]; None where not decided.
    """

    length: float | None = None
    width: float = HEADER_WIDTH
    depth: float = HEADER_DEPTH
    side_slope: float = 0.0
    separation: float | None = None

    def __post_init__(self) -> None:
        refuse(
            None if self.length is None else number_fault("length", self.length, "m", at_least=0.0),
            number_fault("width", self.width, "m", above=0.0),
            number_fault("depth", self.depth, "m", above=0.0),
            number_fault("side_slope", self.side_slope, "m/m", at_least=0.0),
            None
            if self.separation is None
            else number_fault("separation", self.separation, "m", at_least=0.0),
        )

    @property
    def section(self) -> Trench:
        """Its cross-section."""
        return Trench(self.width, self.depth, self.side_slope)


@dataclass(frozen=True, slots=True)
class Excavation:
    """Volumes of one or all trenches or bores [m³].

    Attributes
    ----------
    length
        Metres dug or drilled [m].
    dug
        In the ground, before it bulks.
    heaped
        The same when dug and loose.
    bedding
        Fine material around the pipe, compacted, less the pipe.
    pipe
        Outside volume of the pipe laid in it.
    backfill
        Dug soil that goes back, as it lay in the ground.
    away
        Soil that does not go back, as it lay in the ground: dug = backfill + away, save that
        bedding sieved from the spoil goes back too.
    away_loose
        The same when loose: what lorries carry.
    """

    length: float
    dug: float
    heaped: float
    bedding: float
    pipe: float
    backfill: float
    away: float
    away_loose: float

    def __add__(self, other: Excavation) -> Excavation:
        return Excavation(
            *(mine + more for mine, more in zip(astuple(self), astuple(other), strict=True))
        )


NOTHING_DUG: Final = Excavation(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class DugTrench:
    """A trench, or several equal ones.

    Attributes
    ----------
    loop
        Loop that it belongs to.
    lies
        What lies in it.
    count
        Equal trenches.
    pipe_volume
        Outside volume of the pipe in it [m³].
    outside_diameter
        Of the pipe [m].
    """

    loop: str
    lies: InTrench
    count: int
    pipe_volume: float
    outside_diameter: float

    @property
    def length(self) -> float:
        """Length of one of them [m]."""
        return self.lies.length

    @property
    def across(self) -> float:
        """Width of floor that what lies in it takes at the least [m].

        Passes whose spacing is not told touch; an upright coil is two pipes wide, where its pipe
        crosses itself. Half-turns that are wider than all passes bulge out beside them.
        """
        lies, outside = self.lies, self.outside_diameter
        if lies.coils:
            return (outside if lies.upright else lies.coil_diameter) + outside
        apart = outside if lies.spacing is None else lies.spacing
        return max((lies.pipes - 1) * apart, lies.turn) + outside


def excavation(
    trench: Trench,
    length: float,
    zone: float,
    pipe_volume: float,
    bulking: float,
    *,
    bedding_imported: bool = True,
    ended: int = 0,
) -> Excavation:
    """Volumes of a trench, or of equal ones.

    Parameters
    ----------
    zone
        Height of fine material from the floor [m], pipe included; not above the depth.
    pipe_volume
        Outside volume of the pipe in the zone [m³].
    bulking
        Gain of volume when dug [-].
    bedding_imported
        Whether the fine material is brought in.
    ended
        Trenches whose ends rise as their sides do, of which `length` is the sum of the floors (a
        pit is one as long as it is wide); 0 for a stretch that leads on into others.

    Returns
    -------
    Excavation
        Backfill is taken as going back to the volume it had in the ground, once it has settled.

    Raises
    ------
    InputError
        The zone does not fit into the trench, or the pipe not into the zone.
    """
    if zone > trench.depth:
        least = up_to_centimetre(zone)  # what is asked for must be enough
        text = f"pipe and bedding take {least:.2f} m, more than the trench is deep; dig deeper"
        raise InputError(Fault("depth", text, trench.depth, f"{least:.2f} m or more"))

    def below(height: float) -> float:
        return trench.area(height) * length + ended * trench.both_ends(height)

    dug, around = below(trench.depth), below(zone)
    if pipe_volume > around:
        text = f"{pipe_volume:.2f} m³ of pipe does not fit into {around:.2f} m³ of bedding; check "
        text += "width and passes"
        raise InputError(Fault("width", text, trench.width, "a wider trench"))
    bedding = around - pipe_volume
    away = pipe_volume + (bedding if bedding_imported else 0.0)
    return Excavation(
        length=length,
        dug=dug,
        heaped=dug * (1.0 + bulking),
        bedding=bedding,
        pipe=pipe_volume,
        backfill=dug - pipe_volume - bedding,
        away=away,
        away_loose=away * (1.0 + bulking),
    )


@dataclass(frozen=True, slots=True)
class SpareCoil:
    """Pipe left in one coil, or several equal ones: each lies flat in a pit of its own.

    Attributes
    ----------
    loop
        Loop that it belongs to.
    count
        Equal coils.
    length
        Of pipe in each [m].
    coil_diameter
        Mean diameter [m].
    pipe
        The pipe.
    """

    loop: str
    count: int
    length: float
    coil_diameter: float
    pipe: Pipe

    def pit(self, depth: float, side_slope: float) -> tuple[Trench, float]:
        """Section of its square pit, as deep as a header trench, and the bundle's height [m]."""
        across, height = self.bundle(depth - 2.0 * BEDDING)
        return Trench(across, depth, side_slope), height

    def bundle(self, room: float) -> tuple[float, float]:
        """Outer diameter and height [m] of its turns, tied in a bundle as high as it is wide.

        In less room [m] it is wider, one turn high at the least (common practice, no source).
        """
        outside = self.pipe.outside_diameter
        turns = math.ceil(self.length / (math.pi * self.coil_diameter))
        high = max(min(math.ceil(math.sqrt(turns)), math.floor(room / outside)), 1)
        return self.coil_diameter + math.ceil(turns / high) * outside, high * outside


def _laid(leg: Leg, loop: Loop) -> float:
    return sum(section.length for section in leg.sections(loop.pipe))


def _straight(loop: Loop) -> list[tuple[Pipe, float]]:
    """Straight pipe that leads nowhere but along a trench: each pipe with its length [m]."""
    return [
        (leg.pipe or loop.pipe, length)
        for leg in loop.legs
        if leg.is_tail and leg.bend is None and (length := _laid(leg, loop)) > 0.0
    ]


def loop_trenches(name: str, loop: Loop, count: int, passes: int) -> list[DugTrench]:
    """Trenches that the legs of one loop lie in.

    Straight pipe of a loop that has no other legs than straight and coiled ones lies in a trench
    of its own, in so many ``passes``. Beside other legs it is tails: see :func:`loop_tails`.
    Coiled pipe is spare wherever it is: see :func:`spare_coils`.
    """
    if gathers_straight(loop):
        straight = _straight(loop)
        if not straight:
            return []
        volume = sum(pipe.outside_area * length for pipe, length in straight)
        lies = InTrench(sum(length for _, length in straight) / passes, pipes=passes)
        widest = max(pipe.outside_diameter for pipe, _ in straight)
        return [DugTrench(name, lies, count, volume, widest)]
    found: list[DugTrench] = []
    for leg in loop.legs:
        if (lies_in := leg.trench) is not None:
            pipe = leg.pipe or loop.pipe
            volume = pipe.outside_area * _laid(leg, loop)
            found.append(DugTrench(name, lies_in, count, volume, pipe.outside_diameter))
    return found


def on_plan(name: str, known: Collection[str]) -> str | None:
    """What a plan calls a loop of its array: its name without that of the chamber before it.

    None where it knows no such loop.
    """
    while name not in known:
        _, inner, name = name.partition("/")
        if not inner:
            return None
    return name


def as_placed(
    trenches: list[DugTrench], loop: Loop, placed: Mapping[str, float]
) -> list[DugTrench]:
    """Trenches of one loop, as long together as its trench on a plan: the last takes the rest.

    Straight pipe that joins what lies in them lies there too, and so does pipe that is laid back
    along them.

    Parameters
    ----------
    trenches
        By what lies in them.
    loop
        The loop.
    placed
        Length of the loops' trenches [m], by the names that the plan has: those of the array
        without the chambers that the plan puts before them.
    """
    if not trenches:
        return trenches
    name, last = on_plan(trenches[0].loop, placed), trenches[-1]
    if name is None:
        return trenches
    joined = [
        replace(
            last,
            lies=InTrench(length, pipes=1),
            pipe_volume=pipe.outside_area * length,
            outside_diameter=pipe.outside_diameter,
        )
        for pipe, length in joined_by(loop)
    ]
    before = [*trenches[:-1], *joined]
    left = placed[name] - math.fsum(each.length for each in before)
    back = (loop.legs[-1].pipe or loop.pipe).outside_area * laid_back(loop)
    volume = last.pipe_volume + back
    return [*before, replace(last, lies=replace(last.lies, length=left), pipe_volume=volume)]


def loop_tails(loop: Loop) -> list[tuple[Pipe, float]]:
    """Straight pipe that leads to a loop's other legs, in the header trench: with lengths [m]."""
    return [] if gathers_straight(loop) else _straight(loop)


def tail_way(loop: Loop) -> float:
    """Trench that a loop's tails lead along [m]: half of what goes out and comes back.

    Of a loop that is all mats and tails, which may lie in the water, it is 0.
    """
    if in_water(loop):
        return 0.0
    return 0.5 * sum(length for _, length in loop_tails(loop))


def in_water(loop: Loop) -> bool:
    """Whether nothing but mats gathers a loop's heat."""
    told = [leg.water for leg in loop.legs if not leg.is_tail]
    return bool(told) and all(told)


def spare_coils(name: str, loop: Loop, count: int) -> list[SpareCoil]:
    """Pipe of a loop that is left in coils."""
    return [
        SpareCoil(name, count, length, leg.bend, leg.pipe or loop.pipe)
        for leg in loop.legs
        if leg.is_tail and leg.bend is not None and (length := _laid(leg, loop)) > 0.0
    ]


def bedding_zone(trench: Trench, dug: DugTrench) -> float:
    """Height of bedding with the pipe in it [m]: an upright coil stands in all of it."""
    body = dug.outside_diameter
    if dug.lies.coils:  # those laid flat cross over one another and over the return
        body += dug.lies.coil_diameter if dug.lies.upright else body
    return trench.bedding_below + body + trench.bedding_above
