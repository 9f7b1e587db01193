"""How high do plant, gauge and pipe lie, and how much does the fluid between them weigh?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from scipy.constants import g

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.walk import circuits_of, headers_of, standings
from hydraulics.pipework.pipe import Pipe

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
    """

    min_ground_level: float | None = None
    max_ground_level: float | None = None
    plant_level: float | None = None
    gauge_level: float | None = None

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
_AT_SURFACE: Final = (
    "Pipe in trenches whose depth is not told is taken to lie at the surface of the ground: every"
    " metre deeper is 0.1 bar more."
)


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
        Of circulating pump and vessel, and of the test's gauge.
    ground
        Highest ground over the pipe.
    bottoms
        Lowest place of each pipe; in boreholes and outside them apart.
    assumed
        What was not told and is taken so, in sentences.
    """

    plant: float
    gauge: float
    ground: float
    bottoms: tuple[Bottom, ...]
    assumed: tuple[str, ...] = ()

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


def levels_of(circuit: Circuit, plant: Plant | None = None, heights: Heights = NOWHERE) -> Levels:
    """Levels of an array and its plant.

    Parameters
    ----------
    circuit, plant
        What is laid.
    heights
        What is told. Ground that is not told is taken as level, and plant and gauge that are not
        told as lying at the lowest ground; pipe whose depth is not told, at the surface.
    """
    ground = (heights.min_ground_level, heights.max_ground_level)
    known = (*ground, heights.plant_level, heights.gauge_level)
    low = next((level for level in known if level is not None), 0.0)
    plant_at = low if heights.plant_level is None else heights.plant_level
    assumed = [
        f"{text}."
        for text, taken in (
            ("All ground over the array is taken as level", None in ground),
            ("Pump and vessel are taken as high as that ground", heights.plant_level is None),
            ("The test's gauge is taken as high as that ground", heights.gauge_level is None),
        )
        if taken
    ]
    bottoms: dict[tuple[Pipe, bool], Bottom] = {}
    for bottom, depth_told in _bottoms(circuit, plant, low, min(low, plant_at)):
        kind = bottom.pipe, bottom.hole > 0.0
        if kind not in bottoms or bottom.level < bottoms[kind].level:
            bottoms[kind] = bottom
        if not depth_told and _AT_SURFACE not in assumed:
            assumed.append(_AT_SURFACE)
    return Levels(
        plant=plant_at,
        gauge=low if heights.gauge_level is None else heights.gauge_level,
        ground=max(level for level in (low, heights.max_ground_level) if level is not None),
        bottoms=tuple(bottoms.values()),
        assumed=tuple(assumed),
    )


def _bottoms(
    circuit: Circuit, plant: Plant | None, ground: float, lowest_run: float
) -> Iterator[tuple[Bottom, bool]]:
    """Every pipe's lowest place, part by part, and whether its depth is told."""
    for here, _ in circuits_of(circuit):
        headers = headers_of(here)
        for pipe, length in (*headers.flow, *headers.back):
            if pipe is not None and length > 0.0:
                yield Bottom(pipe, "the headers", ground), False
    for each in standings(circuit):
        for run in each.branch.runs:
            yield Bottom(run.pipe, f"the run to {each.name}", ground), False
        if each.loop is None:
            continue
        where = f"loop {each.name}"
        for leg in each.loop.legs:
            pipe = leg.pipe or each.loop.pipe
            if leg.borehole is not None:
                deep = leg.borehole.depth
                yield Bottom(pipe, where, ground - deep, deep), True
            else:
                depth = leg.trench.depth if leg.trench is not None else None
                told = depth is not None or leg.water is not None  # mats lie on the bed
                yield Bottom(pipe, where, ground - (depth or 0.0)), told
    for run in plant.runs if plant is not None else ():
        yield Bottom(run.pipe, "the plant's runs", lowest_run), False
