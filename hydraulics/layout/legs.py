"""What is a loop made of: straight pipe, coils, trench passes, mats, boreholes?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from hydraulics.errors import Fault, InputError
from hydraulics.pipework.pipe import Pipe

STRAIGHT: Final = math.inf  # the coil diameter of straight pipe


@dataclass(frozen=True, slots=True)
class Section:
    """A length of one pipe at one coil diameter: all that friction needs to know.

    Attributes
    ----------
    pipe
        The pipe.
    length
        Length of pipe that one particle of fluid passes [m].
    coil_diameter
        Mean diameter of the coil [m], infinite for straight pipe.
    parallel
        Equal pipes side by side between which the flow divides (2 in a double U-tube).
    """

    pipe: Pipe
    length: float
    coil_diameter: float = STRAIGHT
    parallel: int = 1

    @property
    def curvature(self) -> float:
        """Bore over coil diameter [-], 0 for straight pipe."""
        return self.pipe.bore / self.coil_diameter

    @property
    def volume(self) -> float:
        """Contents [m³], of all parallel pipes."""
        return self.length * self.parallel * self.pipe.bore_area


def _more_than_zero(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise InputError(Fault(name, "must be more than 0", value, "more than 0"))


def zero_or_more(name: str, value: float) -> None:
    """Refuse a number below 0."""
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(Fault(name, "must be 0 or more", value, "0 or more"))


def one_or_more(name: str, value: int) -> None:
    """Refuse a count below 1."""
    if value < 1:
        raise InputError(Fault(name, "must be 1 or more", value, "1 or more"))


@dataclass(frozen=True, slots=True)
class Straight:
    """Straight pipe.

    Attributes
    ----------
    length
        Length of pipe [m].
    pipe
        Pipe of this leg where it differs from the loop's.
    """

    length: float
    pipe: Pipe | None = None

    def __post_init__(self) -> None:
        zero_or_more("straight_m", self.length)

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg."""
        return (Section(self.pipe or pipe, self.length),)


@dataclass(frozen=True, slots=True)
class Slinky:
    """Coils spread along a trench and the straight pipe that returns beside them.

    Each coil takes a full turn and the pitch that it advances, π D + p; the return takes p more.
    1 m coils at 1 m pitch so use 5.14 m of pipe per metre of trench (common practice, no source:
    just over 5 m). The advance is counted as coiled, which errs on the side of more friction.

    Attributes
    ----------
    coils
        Number of coils.
    coil_diameter
        Diameter of a coil, pipe centre to pipe centre [m].
    pitch
        Distance from one coil to the next along the trench [m].
    returns_alongside
        True where the pipe comes straight back in the same trench; False where it does not (the
        trench runs in a ring, or the return is given as a leg of its own).
    pipe
        Pipe of this leg where it differs from the loop's.
    """

    coils: int
    coil_diameter: float
    pitch: float
    returns_alongside: bool = True
    pipe: Pipe | None = None

    def __post_init__(self) -> None:
        one_or_more("coils", self.coils)
        _more_than_zero("coil_diameter_m", self.coil_diameter)
        _more_than_zero("pitch_m", self.pitch)

    @property
    def trench_length(self) -> float:
        """Length of trench that the coils take [m]."""
        return self.coils * self.pitch

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg: the coils, then the return."""
        own = self.pipe or pipe
        coiled = Section(
            own, self.coils * (math.pi * self.coil_diameter + self.pitch), self.coil_diameter
        )
        return (coiled, Section(own, self.trench_length)) if self.returns_alongside else (coiled,)


@dataclass(frozen=True, slots=True)
class Coiled:
    """Pipe left in coils of one diameter: a spare tail, or the bundles of a pond mat.

    Attributes
    ----------
    length
        Length of pipe [m].
    coil_diameter
        Diameter of the coil [m].
    pipe
        Pipe of this leg where it differs from the loop's.
    """

    length: float
    coil_diameter: float
    pipe: Pipe | None = None

    def __post_init__(self) -> None:
        zero_or_more("coiled_m", self.length)
        _more_than_zero("coil_diameter_m", self.coil_diameter)

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg."""
        return (Section(self.pipe or pipe, self.length, self.coil_diameter),)


@dataclass(frozen=True, slots=True)
class TrenchPasses:
    """Straight pipe laid up and down one trench.

    Attributes
    ----------
    trench_length
        Length of the trench [m].
    passes
        Runs of pipe side by side, one after the other in flow.
    turn_diameter
        Diameter of the half-turns between passes [m]; None where fittings make them and are given
        as such.
    pipe
        Pipe of this leg where it differs from the loop's.
    """

    trench_length: float
    passes: int
    turn_diameter: float | None = None
    pipe: Pipe | None = None

    def __post_init__(self) -> None:
        _more_than_zero("trench_m", self.trench_length)
        one_or_more("passes", self.passes)
        if self.turn_diameter is not None:
            _more_than_zero("turn_diameter_m", self.turn_diameter)

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg: the straight passes, then the turns."""
        own = self.pipe or pipe
        straight = Section(own, self.trench_length * self.passes)
        if self.turn_diameter is None or self.passes == 1:
            return (straight,)
        turns = 0.5 * math.pi * self.turn_diameter * (self.passes - 1)
        return (straight, Section(own, turns, self.turn_diameter))


@dataclass(frozen=True, slots=True)
class PondMat:
    """A flat spiral of pipe tied to a mat.

    The spiral fills the ring between two diameters at one spacing, so its length is the ring's
    area over the spacing. Curvature changes along it; friction takes it as four bands of equal
    width, each at its mean diameter.

    Attributes
    ----------
    inner_diameter, outer_diameter
        Diameters of the first and the last turn [m].
    spacing
        Pipe centre to pipe centre [m].
    mats
        Equal mats one after the other in flow.
    pipe
        Pipe of this leg where it differs from the loop's.
    """

    inner_diameter: float
    outer_diameter: float
    spacing: float
    mats: int = 1
    pipe: Pipe | None = None

    def __post_init__(self) -> None:
        _more_than_zero("mat_inner_diameter_m", self.inner_diameter)
        _more_than_zero("mat_spacing_m", self.spacing)
        one_or_more("mats", self.mats)
        if not (math.isfinite(self.outer_diameter) and self.outer_diameter > self.inner_diameter):
            raise InputError(
                Fault(
                    "mat_outer_diameter_m",
                    "the outer diameter must exceed the inner one",
                    self.outer_diameter,
                    f"more than {self.inner_diameter:g} m",
                )
            )

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg: four bands of the spiral, inside to outside."""
        own = self.pipe or pipe
        width = (self.outer_diameter - self.inner_diameter) / 4.0
        bands = []
        for band in range(4):
            mean = self.inner_diameter + (band + 0.5) * width
            length = math.pi * mean * 0.5 * width / self.spacing
            bands.append(Section(own, self.mats * length, mean))
        return tuple(bands)


@dataclass(frozen=True, slots=True)
class BoreholeU:
    """One or two U-tubes in a borehole.

    Attributes
    ----------
    depth
        Depth of the U-tube's foot below the borehole's head [m]; the pipe goes down and up.
    u_tubes
        1 (single U) or 2 (double U: two U-tubes in parallel, each with half the flow).
    pipe
        Pipe of this leg where it differs from the loop's.
    """

    depth: float
    u_tubes: int = 1
    pipe: Pipe | None = None

    def __post_init__(self) -> None:
        _more_than_zero("borehole_depth_m", self.depth)
        if self.u_tubes not in (1, 2):
            raise InputError(
                Fault("u_tubes", "a borehole has 1 or 2 U-tubes", self.u_tubes, "1 or 2")
            )

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg."""
        return (Section(self.pipe or pipe, 2.0 * self.depth, parallel=self.u_tubes),)


Leg = Straight | Slinky | Coiled | TrenchPasses | PondMat | BoreholeU
