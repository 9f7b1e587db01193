"""How much pipe and fluid does an array hold, part by part, and what goes into the filling tank?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from hydraulics.checks import number_fault, refuse
from hydraulics.layout.circuit import Circuit, Loop, Plant
from hydraulics.layout.walk import circuits_of, header_stretches
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


def array_contents(
    circuit: Circuit, plant: Plant | None = None, plant_volume: float = 0.0
) -> Contents:
    """Pipe lengths and contents of an array and its plant.

    Parameters
    ----------
    circuit
        The array.
    plant
        The runs between plant and array; None where there are none.
    plant_volume
        Contents of everything that is not pipe of the layout (heat exchanger, buffer, pump group)
        [m³], 0 or more.

    Returns
    -------
    Contents
        By part and pipe. Bores are the largest that the standard allows, so contents are too.

    Raises
    ------
    InputError
        The plant's volume is negative or not finite.
    """
    refuse(number_fault("plant_volume_l", plant_volume * 1e3, "L", at_least=0.0))
    tally: dict[tuple[Part, Pipe], tuple[float, float]] = {}

    def add(part: Part, pipe: Pipe | None, length: float, volume: float | None = None) -> None:
        if pipe is not None and length > 0.0:
            held = tally.get((part, pipe), (0.0, 0.0))
            inside = pipe.bore_area * length if volume is None else volume
            tally[part, pipe] = (held[0] + length, held[1] + inside)

    for here, times, _ in circuits_of(circuit):
        for stretches in header_stretches(here):
            for pipe, length in stretches:
                add("headers", pipe, times * length)
        for branch in here.branches:
            number = times * branch.count
            for run in branch.runs:
                add("runs", run.pipe, 2.0 * run.length * number)
            if isinstance(branch.item, Loop):
                for section in branch.item.sections:
                    laid = section.length * section.parallel * number
                    add("loops", section.pipe, laid, section.volume * number)
    for run in plant.runs if plant is not None else ():
        add("plant_runs", run.pipe, 2.0 * run.length)
    entries = sorted(tally.items(), key=lambda item: PARTS.index(item[0][0]))
    return Contents(
        tuple(PipeContents(*key, length, volume) for key, (length, volume) in entries),
        plant_volume,
    )
