"""Which kind of array is to be sized, in what ground and how long a loop may be?"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import ClassVar, Final, Literal, get_args

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.ground.soil import (
    ROUNDED,
    SOILS,
    WATER_DENSITY,
    Ground,
    most_water,
    soil_properties,
)
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.layout.legs import BoreholeU, PondMat, Slinky, TrenchPasses
from hydraulics.pipework.pipe import COIL_DIAMETERS, Pipe
from hydraulics.plot.plot import BOREHOLE_SPACING, Plot
from hydraulics.shallow.freezing import FreezingGround

Metre = Literal["trench", "borehole", "pipe"]
"""Metre of what an array is counted in: of trench, of active borehole, of mat pipe."""

MOST_LOOPS = 5000
MOST_IN_LINE: Final = 8
"""Most boreholes that stand in one line unasked; a line draws on the most ground of all shapes."""


@dataclass(frozen=True, slots=True)
class GroundConditions(Ground):
    """The ground of the site: what it conducts, and as follows.

    Attributes
    ----------
    surface
        Yearly mean, swing and coldest day of the surface.
    geothermal_gradient
        Warming with depth [K/m], for boreholes; 0 is on the safe side.
    undisturbed
        Mean over a borehole's depth, as a thermal response test measures it [degC]; None where
        nobody did.
    profile
        Or temperatures by depth, as measured in a borehole [m, degC], deeper and deeper.
    freezing
        What the ground gives by freezing, for trenches; None: left out, on the safe side.
    water
        Most water that it can hold [kg/m3], which `freezing` may not exceed; None: as its
        conductivity and heat capacity let (:func:`hydraulics.ground.soil.most_water`).
    unfrozen
        Share of its water that usually stays liquid below 0 degC; 0 also where not known.
    warnings
        What is doubtful about these values.
    """

    surface: SurfaceTemperature
    geothermal_gradient: float = 0.0
    warnings: tuple[str, ...] = ()
    undisturbed: float | None = None
    profile: tuple[tuple[float, float], ...] = ()
    freezing: FreezingGround | None = None
    water: float | None = None
    unfrozen: float = 0.0

    def __post_init__(self) -> None:
        Ground.__post_init__(self)
        if self.water is None:  # told once: other conductivities that are tried hold the same
            most = most_water(self.heat_capacity, self.conductivity)
            object.__setattr__(self, "water", most)
        gradient, depths = self.geothermal_gradient, [depth for depth, _ in self.profile]
        frozen = None if self.freezing is None else self.freezing.conductivity
        refuse(
            Fault(
                "freezing.conductivity",
                f"is {frozen:g} W/m K, less than the {self.conductivity:g} W/m K of the ground "
                "unfrozen; ice conducts four times as well as water: check both, or leave it out",
                frozen,
                f"{self.conductivity:g} W/m K or more",
            )
            if frozen is not None and frozen < self.conductivity * (1.0 - 1e-9)
            else None,
            self._too_much_ice(),
            number_fault("geothermal_gradient", gradient, "K/m", at_least=0.0),
            number_fault("undisturbed", self.undisturbed, "°C", at_least=-20.0),
            *(
                Fault(
                    f"profile.{i + 1}.depth",
                    f"is {below:g} m, no deeper than the one before; give each depth once, deeper "
                    "and deeper",
                    below,
                    f"more than {above:g} m",
                )
                if below <= above
                else None
                for i, (above, below) in enumerate(pairwise(depths))
            ),
        )

    def _too_much_ice(self) -> Fault | None:
        """More freezes than water is there; the most is rounded down, so that it is allowed."""
        assert self.water is not None
        if self.freezing is None or self.freezing.water <= self.water * (1.0 + ROUNDED):
            return None
        most = math.floor(self.water)
        return Fault(
            "freezing.water",
            f"is {self.freezing.water:g} kg/m³, and this ground holds at most {most} kg/m³ of "
            "water by its class, density and moisture, or by its heat capacity where that was "
            "measured; give what of that freezes, or the ground as wet as it is, or leave this "
            "out (safe side)",
            self.freezing.water,
            f"at most {most} kg/m³" if most >= 1 else "nothing in ground so dry",
        )


def ground_as_measured(
    conductivity: float,
    heat_capacity: float,
    surface: SurfaceTemperature,
    *,
    soil: str | None = None,
    geothermal_gradient: float = 0.0,
) -> GroundConditions:
    """Return ground whose conduction was measured.

    Parameters
    ----------
    conductivity, heat_capacity
        [W/m K], [J/m3 K]
    surface
        The year at the surface.
    soil
        Its class, which bounds the water that may freeze; None: not known.
    geothermal_gradient
        [K/m]
    """
    kind = SOILS.get(soil or "")
    return GroundConditions(
        conductivity,
        heat_capacity,
        surface,
        geothermal_gradient,
        water=most_water(heat_capacity, conductivity, soil),
        unfrozen=0.0 if kind is None else kind.unfrozen,
    )


def ground_of_soil(
    soil: str,
    surface: SurfaceTemperature,
    *,
    water_content: float | None = None,
    dry_density: float | None = None,
    geothermal_gradient: float = 0.0,
) -> GroundConditions:
    """Return the ground of a soil class: :func:`hydraulics.ground.soil.soil_properties`.

    Parameters
    ----------
    soil
        A key of :data:`hydraulics.ground.soil.SOILS`.
    surface
        The year at the surface.
    water_content, dry_density
        [kg/kg], [kg/m3]; the class's usual ones if not given.
    geothermal_gradient
        [K/m]
    """
    found = soil_properties(soil, water_content, dry_density)
    spread = (
        f"Conductivity is from the soil class: {found.conductivity_low:.2f} to "
        f"{found.conductivity_high:.2f} W/m K is usual; measure where the size matters"
    )
    return GroundConditions(
        found.conductivity,
        found.heat_capacity,
        surface,
        geothermal_gradient,
        (spread, *found.warnings),
        water=found.saturation * found.porosity * WATER_DENSITY,
        unfrozen=SOILS[soil].unfrozen,
    )


@dataclass(frozen=True, slots=True)
class LoopLimits:
    """What makes a loop practical.

    Attributes
    ----------
    loops
        Number of equal loops; None: the fewest that keep the limits below, or of mats the least
        pipe.
    longest_pipe
        Longest pipe of one loop [m]; None: not limited.
    largest_drop
        Largest pressure drop of one loop at the peak's flow [Pa]; 30 kPa is common practice, no
        source.
    largest_velocity
        In a loop [m/s]; common practice, no source.
    tail
        Pipe from the manifold to where the heat is gathered, one way [m]; laid out and back, in
        every loop alike, and not counted as gathering heat.
    most_loops
        No more than so many are looked for.
    in_series
        Boreholes of each loop, one after the other, where `loops` counts them one by one; the mean,
        where loops differ.
    """

    loops: int | None = None
    longest_pipe: float | None = None
    largest_drop: float = 30e3
    largest_velocity: float = 1.5
    tail: float = 0.0
    most_loops: int = MOST_LOOPS
    in_series: float = 1.0

    def __post_init__(self) -> None:
        refuse(
            number_fault("loops", self.loops, "loops", at_least=1),
            # Of a number that is told a finding says that its tails are too long.
            number_fault(
                "longest_pipe",
                self.longest_pipe,
                "m",
                above=2.0 * self.tail if self.loops is None else 0.0,
            ),
            number_fault("largest_drop", self.largest_drop, "Pa", above=0.0),
            number_fault("largest_velocity", self.largest_velocity, "m/s", above=0.0),
            number_fault("tail", self.tail, "m", at_least=0.0),
            number_fault("most_loops", self.most_loops, "loops", at_least=1),
            number_fault("in_series", self.in_series, "boreholes", at_least=1),
            Fault(
                "loops",
                f"is {self.loops}, more than the {self.most_loops} that are looked for",
                self.loops,
                f"1 to {self.most_loops}",
            )
            if self.loops is not None and self.loops > self.most_loops
            else None,
        )


@dataclass(frozen=True, slots=True)
class SlinkyArray:
    """Slinkies, one to a trench, laid flat or stood upright.

    Attributes
    ----------
    pipe
        The pipe.
    depth
        Of the coils' centres [m].
    coil_diameter, pitch
        Of a coil, and from one to the next [m].
    upright
        Stood upright; else laid flat.
    """

    pipe: Pipe
    depth: float
    coil_diameter: float = 1.0
    pitch: float = 1.0
    upright: bool = False
    metre: ClassVar[Metre] = "trench"
    letter: ClassVar[str] = "T"

    @property
    def kind(self) -> str:
        """Name in requests."""
        return "slinky_upright" if self.upright else "slinky_flat"

    @property
    def step(self) -> float:
        """Whole coils: length of trench [m]."""
        return self.pitch

    @property
    def gathering_pipe(self) -> float:
        """Pipe that gathers heat, per metre [m/m]: coils, their advance and the return pipe."""
        return math.pi * self.coil_diameter / self.pitch + 2.0

    def leg(self, length: float) -> Slinky:
        """What lies in a trench of so much length [m]."""
        coils = round(length / self.pitch)
        return Slinky(coils, self.coil_diameter, self.pitch, upright=self.upright, depth=self.depth)


@dataclass(frozen=True, slots=True)
class StraightArray:
    """Straight pipe, several passes to a trench.

    Attributes
    ----------
    pipe
        The pipe.
    depth
        Of the pipes [m].
    passes
        Runs of pipe in one trench, one after the other in flow; even, so that it comes back.
    spacing
        Between passes [m].
    """

    pipe: Pipe
    depth: float
    passes: int = 2
    spacing: float = 0.4
    kind: str = field(default="trench", init=False)
    metre: ClassVar[Metre] = "trench"
    letter: ClassVar[str] = "T"
    step: ClassVar[float] = 0.1  # decimetres

    def __post_init__(self) -> None:
        if self.passes < 2 or self.passes % 2:
            raise InputError(
                Fault(
                    "passes",
                    f"is {self.passes}; pipe that goes out must come back in the trench",
                    self.passes,
                    "2, 4, 6 ...",
                )
            )

    @property
    def gathering_pipe(self) -> float:
        """Pipe that gathers heat, per metre [m/m]."""
        return float(self.passes)

    def leg(self, length: float) -> TrenchPasses:
        """What lies in a trench of so much length [m]."""
        # No tighter than the pipe may be bent, though its passes lie closer: the turn bulges out.
        turn = max(self.spacing, COIL_DIAMETERS * self.pipe.outside_diameter)
        return TrenchPasses(length, self.passes, turn, spacing=self.spacing, depth=self.depth)


@dataclass(frozen=True, slots=True)
class PondArray:
    """Spiral mats of pipe in open water.

    Attributes
    ----------
    pipe
        The pipe.
    coldest_water
        Coldest water at the mats [degC].
    inner_diameter, outer_diameter, spacing
        Of a mat's first and last turn, and between turns [m].
    """

    pipe: Pipe
    coldest_water: float
    inner_diameter: float = 0.6
    outer_diameter: float = 2.0
    spacing: float = 0.1
    kind: str = field(default="pond_mat", init=False)
    metre: ClassVar[Metre] = "pipe"
    letter: ClassVar[str] = "M"
    gathering_pipe: ClassVar[float] = 1.0

    def mats(self, count: int) -> PondMat:
        """That many mats one after the other."""
        return PondMat(self.inner_diameter, self.outer_diameter, self.spacing, count)

    def leg(self, length: float) -> PondMat:
        """Mats of so much pipe [m]."""
        return self.mats(round(length / self.step))

    @property
    def mean_diameter(self) -> float:
        """Of a mat's turns [m]."""
        return 0.5 * (self.inner_diameter + self.outer_diameter)

    @property
    def step(self) -> float:
        """Whole mats: pipe in one [m]."""
        return sum(section.length for section in self.mats(1).sections(self.pipe))


@dataclass(frozen=True, slots=True)
class BoreholeArray:
    """A field of equal boreholes, one loop in each.

    Attributes
    ----------
    pipe
        The pipe.
    borehole_radius
        [m]
    half_shank_spacing
        Borehole centre to pipe centre [m]; None where the resistance is measured.
    grout_conductivity
        [W/m K]; None where the resistance is measured.
    u_tubes
        1 or 2.
    rows
        Rows in which they stand; None: as few as the plot's sides allow, and where those are not
        known one line, of at most :data:`MOST_IN_LINE`.
    spacing
        Between boreholes [m].
    buried
        Depth of the top of the active part [m].
    deepest
        Greatest active depth [m]; more boreholes are taken where it would be passed. 150 m is
        common practice, no source.
    perimeter
        Along the sides of the rectangle only; without `rows` about square.
    resistance
        From brine to wall over the whole depth, as a thermal response test measures it [m K/W],
        instead of that computed from grout and pipe.
    own_film
        True where that holds the film of this array's brine and flow, not the test's.
    positions
        Where each borehole stands in plan (x, y) [m], instead of rows: so many are sized.
    """

    pipe: Pipe
    borehole_radius: float
    half_shank_spacing: float | None
    grout_conductivity: float | None
    u_tubes: int = 1
    rows: int | None = None
    spacing: float = BOREHOLE_SPACING
    buried: float = 1.0
    deepest: float = 150.0
    perimeter: bool = False
    positions: tuple[tuple[float, float], ...] = ()
    resistance: float | None = None
    own_film: bool = False
    kind: str = field(default="borehole", init=False)
    metre: ClassVar[Metre] = "borehole"
    letter: ClassVar[str] = "B"
    step: ClassVar[float] = 1.0  # whole metres

    def is_told(self, plot: Plot) -> bool:
        """Whether it is told how any number of boreholes stands, by the field or the plot."""
        told = self.rows is not None or self.perimeter or bool(self.positions)
        return told or (plot.length is not None and plot.width is not None)

    def __post_init__(self) -> None:
        refuse(
            number_fault("deepest", self.deepest, "m", above=10.0),
            number_fault("buried", self.buried, "m", at_least=0.0),
            number_fault("resistance", self.resistance, "m K/W", above=0.0),
            Fault("grout_conductivity", "and where the pipes stand are missing", None, "both")
            if self.resistance is None
            and (self.grout_conductivity is None or self.half_shank_spacing is None)
            else None,
            Fault("u_tubes", "a borehole has 1 or 2 U-tubes", self.u_tubes, "1 or 2")
            if self.u_tubes not in (1, 2)
            else None,
            number_fault("rows", self.rows, "rows", at_least=1),
            *(
                number_fault(f"positions.{number}.{axis}", value, "m")
                for number, place in enumerate(self.positions)
                for axis, value in zip("xy", place, strict=True)
            ),
        )

    @property
    def gathering_pipe(self) -> float:
        """Pipe that gathers heat, per metre of active depth [m/m]."""
        return 2.0 * self.u_tubes

    def leg(self, length: float) -> BoreholeU:
        """A borehole of so much active depth [m]."""
        return BoreholeU(self.buried + length, self.u_tubes, diameter=2.0 * self.borehole_radius)


ArrayChoice = SlinkyArray | StraightArray | PondArray | BoreholeArray


@dataclass(frozen=True, slots=True)
class ExtractionRate:
    """A rate from the local standard's table, which the sizing then follows.

    Attributes
    ----------
    rate
        Heat drawn at the peak per metre [W/m].
    per
        Metre of what: ``"trench"``, ``"borehole"`` or ``"pipe"``.
    hours
        Full hours a year for which the table gives it [h]; None where it does not say.
    source
        The table, in the caller's words.
    """

    rate: float
    per: Metre
    hours: float | None = None
    source: str = "given by the caller"

    def __post_init__(self) -> None:
        refuse(
            number_fault("rate", self.rate, "W/m", above=0.0),
            number_fault("hours", self.hours, "h", above=0.0),
            Fault("per", f"{self.per!r} is not known", self.per, ", ".join(get_args(Metre)))
            if self.per not in get_args(Metre)
            else None,
        )
