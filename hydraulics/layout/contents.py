"""How much pipe and fluid does an array hold, part by part, and what goes into the filling tank?"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from hydraulics.layout.circuit import Circuit, Loop, Plant
from hydraulics.layout.legs import Straight
from hydraulics.layout.walk import Place, every_loop, headers_of, standings
from hydraulics.pipework.pipe import Pipe

Part = Literal["loops", "headers", "runs", "plant_runs"]
PARTS: Final[tuple[Part, ...]] = ("loops", "headers", "runs", "plant_runs")


@dataclass(frozen=True, slots=True)
class PipeContents:
    """All pipe of one size in one part of an array.

    Attributes
    ----------
    part
        ``"loops"``, ``"headers"``, ``"runs"`` (within the array) or ``"plant_runs"``.
    pipe
        The pipe.
    length
        Length of pipe laid [m], parallel pipes and return pipes counted each.
    volume
        Contents [m³].
    """

    part: Part
    pipe: Pipe
    length: float
    volume: float


class Stretch(NamedTuple):
    """One stretch of pipe: its part, where it is in the array, pipe, length [m], contents [m³]."""

    part: Part
    at: tuple[Hashable, ...]
    pipe: Pipe
    length: float
    volume: float


@dataclass(frozen=True, slots=True)
class Contents:
    """What an array and its plant hold.

    Attributes
    ----------
    pipes
        One entry for each part and pipe.
    plant
        Contents of the heat pump's brine side, buffer and pump group as given [m³].
    """

    pipes: tuple[PipeContents, ...]
    plant: float = 0.0

    @property
    def volume(self) -> float:
        """All contents [m³]."""
        return self.plant + sum(each.volume for each in self.pipes)

    def volume_of(self, part: Part) -> float:
        """Contents of one part [m³]."""
        return sum(each.volume for each in self.pipes if each.part == part)

    def length_of(self, part: Part) -> float:
        """Pipe laid in one part [m]."""
        return sum(each.length for each in self.pipes if each.part == part)


def gathers_straight(loop: Loop) -> bool:
    """Whether its straight pipe gathers the heat itself, since nothing else in it does."""
    return all(leg.is_tail for leg in loop.legs)


def within_tails(loop: Loop) -> tuple[int, int]:
    """First of the legs that gather heat, and that after the last: tails lie before and behind."""
    first, last = 0, len(loop.legs)
    while first < last and loop.legs[first].is_tail:
        first += 1
    while last > first and loop.legs[last - 1].is_tail:
        last -= 1
    return first, last


def joined_by(loop: Loop) -> list[tuple[Pipe, float]]:
    """Straight pipe between legs that lie in trenches, each pipe with its length [m].

    On a plan, where a loop has one trench, it lies there too.
    """
    if not any(leg.trench is not None for leg in loop.legs):
        return []
    first, last = within_tails(loop)
    return [
        (leg.pipe or loop.pipe, leg.length)
        for leg in loop.legs[first:last]
        if isinstance(leg, Straight) and leg.length > 0.0
    ]


def laid_back(loop: Loop) -> float:
    """Pipe from the far end of a loop's trench back to where its tails leave [m]."""
    lies = [leg.trench for leg in loop.legs if leg.trench is not None]
    back = sum(each.length for each in lies if each.is_one_way)
    return back + sum(length for _, length in joined_by(loop)) if back else 0.0


def has_probe(loop: Loop) -> bool:
    """Whether a loop has a factory-made U-tube in it, to which its tails are welded."""
    return any(leg.borehole is not None for leg in loop.legs)


def lies_in_water(circuit: Circuit) -> bool:
    """Whether any pipe of an array lies in open water."""
    return any(leg.water is not None for loop in every_loop(circuit) for leg in loop.legs)


def hangs_in_boreholes(circuit: Circuit) -> bool:
    """Whether any pipe of an array hangs in a borehole."""
    return any(leg.borehole is not None for loop in every_loop(circuit) for leg in loop.legs)


def pieces_of(loop: Loop) -> list[tuple[Pipe, float]]:
    """Stretches of a loop that are one pipe from end to end; U-tubes come made up, so they part.

    Returns
    -------
    list of (Pipe, float)
        Pipe and length [m] of each, in the order of flow.
    """
    pieces: list[tuple[Pipe, float]] = []
    open_piece = False
    for leg in loop.legs:
        if leg.borehole is not None:
            open_piece = False
            continue
        pipe = leg.pipe or loop.pipe
        length = sum(section.length for section in leg.sections(loop.pipe))
        if open_piece and pieces[-1][0] == pipe:
            pieces[-1] = (pipe, pieces[-1][1] + length)
        elif length > 0.0:
            pieces.append((pipe, length))
            open_piece = True
    return pieces


def stretches(circuit: Circuit, *, shut: bool = True) -> Iterator[Stretch]:
    """Every stretch of pipe of an array with some length, equal branches' together.

    A return header's stretches stand where they lie, beside those of the flow header; the closing
    run of a reverse return where the first begins, to which it leads.
    """

    def headers(here: Circuit, place: Place, times: int) -> Iterator[Stretch]:
        found = headers_of(here)
        shift = here.arrangement == "reverse_return"
        for side, made in enumerate((found.flow, found.back)):
            for number, (pipe, length) in enumerate(made):
                if pipe is not None and length > 0.0:
                    at = (number + side * shift) % len(made)
                    long = times * length
                    yield Stretch("headers", (place, side, at), pipe, long, pipe.bore_area * long)

    yield from headers(circuit, (), 1)
    for each in standings(circuit):
        if each.is_shut and not shut:
            continue
        place, count = each.place, each.count
        if isinstance(each.branch.item, Circuit):
            yield from headers(each.branch.item, place, count)
        for number, run in enumerate(each.branch.runs):
            if run.length > 0.0:
                long = 2.0 * run.length * count
                yield Stretch("runs", (place, number), run.pipe, long, run.pipe.bore_area * long)
        if each.loop is None:
            continue
        for number, leg in enumerate(each.loop.legs):
            for part, section in enumerate(leg.sections(each.loop.pipe)):
                if section.length > 0.0:
                    long, inside = section.length * section.parallel * count, section.volume * count
                    yield Stretch("loops", (place, number, part), section.pipe, long, inside)


def array_contents(circuit: Circuit, plant: Plant | None = None, *, shut: bool = True) -> Contents:
    """Pipe lengths and contents of an array, and of its plant where there is one.

    Bores are the largest that the standard allows, so contents are too. What lies behind shut
    valves counts where `shut` says so; a header that leads to nothing else lies before them.
    """
    tally: dict[tuple[Part, Pipe], tuple[float, float]] = {}
    for each in stretches(circuit, shut=shut):
        held = tally.get((each.part, each.pipe), (0.0, 0.0))
        tally[each.part, each.pipe] = (held[0] + each.length, held[1] + each.volume)
    for run in plant.runs if plant is not None else ():
        length = 2.0 * run.length
        if length > 0.0:
            held = tally.get(("plant_runs", run.pipe), (0.0, 0.0))
            inside = run.pipe.bore_area * length
            tally["plant_runs", run.pipe] = (held[0] + length, held[1] + inside)
    entries = sorted(tally.items(), key=lambda item: PARTS.index(item[0][0]))
    return Contents(
        tuple(PipeContents(*key, length, volume) for key, (length, volume) in entries),
        plant.volume if plant is not None else 0.0,
    )
