"""What is a loop made of: straight pipe, coils, trench passes, mats, boreholes?

A leg tells about itself: what friction needs of it, its bends, and the trench, borehole or water
that it lies in. A new kind of leg is a class here and in `Leg`, a schema in the request and a way
to write it back; nothing else asks what kind a leg is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Final, NamedTuple

from hydraulics.checks import count_fault, number_fault, refuse
from hydraulics.errors import Fault
from hydraulics.pipework.fittings import NO_LOSS, Loss
from hydraulics.pipework.pipe import Pipe

STRAIGHT: Final = math.inf  # the coil diameter of straight pipe


class Section(NamedTuple):
    """A length of one pipe at one coil diameter: all that friction needs to know.

    A tuple, since several are made for every leg of every loop.

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
    heaped
        Whether it lies in a heap of its own, whose ground its turns share: of heat it is counted
        to gather nothing.
    """

    pipe: Pipe
    length: float
    coil_diameter: float = STRAIGHT
    parallel: int = 1
    heaped: bool = False

    def longer(self, by: float) -> Section:
        """The same with more length [m]."""
        return Section(self.pipe, self.length + by, self.coil_diameter, self.parallel, self.heaped)

    @property
    def curvature(self) -> float:
        """Bore over coil diameter [-], 0 for straight pipe."""
        return self.pipe.bore / self.coil_diameter

    @property
    def volume(self) -> float:
        """Contents [m³], of all parallel pipes."""
        return self.length * self.parallel * self.pipe.bore_area


@dataclass(frozen=True, slots=True)
class InTrench:
    """What a leg asks of the trench that it lies in.

    Attributes
    ----------
    length
        Of trench [m].
    coils, coil_diameter, pitch
        Of a slinky [-], [m], [m]; 0 for straight pipe.
    upright
        Whether the coils stand.
    pipes
        Straight pipes side by side, a slinky's return counted.
    depth
        Of the pipes, or of the coils' centres [m]; None where it is not told.
    spacing
        Of the straight pipes, centre to centre [m]; None where it is not told.
    turn
        Diameter of the half-turns between them [m]; 0 where there are none.
    """

    length: float
    coils: int = 0
    coil_diameter: float = 0.0
    pitch: float = 0.0
    upright: bool = False
    pipes: int = 0
    depth: float | None = None
    spacing: float | None = None
    turn: float = 0.0

    @property
    def is_one_way(self) -> bool:
        """Whether its pipe ends at the far end of the trench."""
        return ((self.coils > 0) + self.pipes) % 2 == 1

    @property
    def lowest(self) -> float | None:
        """Depth of its lowest pipe [m]: of upright coils half of one below the centres."""
        if self.depth is None:
            return None
        return self.depth + 0.5 * self.rise

    @property
    def rise(self) -> float:
        """From its lowest pipe up to its highest [m]: upright coils stand in the trench."""
        return self.coil_diameter if self.upright else 0.0


@dataclass(frozen=True, slots=True)
class InBorehole:
    """What a leg asks of its borehole: depth [m], U-tubes, diameter [m] where it is told."""

    depth: float
    u_tubes: int
    diameter: float | None = None


@dataclass(frozen=True, slots=True)
class InWater:
    """What a leg lays into water: so many mats of one diameter [m]."""

    mats: int
    diameter: float


class _Told:
    """What a leg tells about itself; a kind of leg overrides what it has.

    Attributes
    ----------
    pipe
        Pipe of this leg where it differs from the loop's.
    fittings
        Loss of the fittings in it.
    """

    __slots__ = ()

    pipe: Pipe | None
    fittings: Loss

    @property
    def loss(self) -> Loss:
        """Loss of its fittings by the loop's flow."""
        return self.fittings

    bend_name: ClassVar[str] = ""
    """Attribute that its tightest bend follows from."""

    @property
    def bend(self) -> float | None:
        """Diameter of its tightest bend [m]; None where it is straight."""
        return None

    centres_name: ClassVar[str] = ""
    """Attribute that says how close its pipe lies to itself."""

    @property
    def centres(self) -> float | None:
        """Least distance of its pipe from itself, centre to centre [m]; None where not told."""
        return None

    @property
    def trench(self) -> InTrench | None:
        """The trench that it lies in; None for a tail, which lies in the header trench."""
        return None

    @property
    def borehole(self) -> InBorehole | None:
        """The borehole that it hangs in."""
        return None

    @property
    def water(self) -> InWater | None:
        """The mats that it sinks."""
        return None

    is_tail: ClassVar[bool] = True
    """Whether it only leads to where heat is gathered: no trench, borehole or water is its own."""


@dataclass(frozen=True, slots=True)
class Straight(_Told):
    """Straight pipe.

    Attributes
    ----------
    length
        Length of pipe [m].
    """

    length: float
    pipe: Pipe | None = None
    fittings: Loss = NO_LOSS

    def __post_init__(self) -> None:
        refuse(number_fault("length", self.length, "m", at_least=0.0))

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg."""
        return (Section(self.pipe or pipe, self.length),)


@dataclass(frozen=True, slots=True)
class Slinky(_Told):
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
    upright
        Whether the coils stand in the trench; they lie flat otherwise.
    depth
        Of the coils' centres [m]; None where it is not told.
    """

    bend_name: ClassVar[str] = "coil_diameter"
    centres_name: ClassVar[str] = "pitch"
    is_tail: ClassVar[bool] = False

    coils: int
    coil_diameter: float
    pitch: float
    returns_alongside: bool = True
    pipe: Pipe | None = None
    fittings: Loss = NO_LOSS
    upright: bool = False
    depth: float | None = None

    def __post_init__(self) -> None:
        refuse(
            count_fault("coils", self.coils),
            number_fault("coil_diameter", self.coil_diameter, "m", above=0.0),
            number_fault("pitch", self.pitch, "m", above=0.0),
            number_fault("depth", self.depth, "m", above=0.0),
        )

    @property
    def trench_length(self) -> float:
        """Length of trench that the coils take [m]."""
        return self.coils * self.pitch

    @property
    def bend(self) -> float:
        """Diameter of its tightest bend [m]."""
        return self.coil_diameter

    @property
    def centres(self) -> float | None:
        """From one coil to the next [m]; None for one coil."""
        return self.pitch if self.coils > 1 else None

    @property
    def trench(self) -> InTrench:
        """The trench that it lies in."""
        return InTrench(
            self.trench_length, self.coils, self.coil_diameter, self.pitch, self.upright,
            1 if self.returns_alongside else 0, self.depth,
        )  # fmt: skip

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg: the coils, then the return."""
        own = self.pipe or pipe
        coiled = Section(
            own, self.coils * (math.pi * self.coil_diameter + self.pitch), self.coil_diameter
        )
        return (coiled, Section(own, self.trench_length)) if self.returns_alongside else (coiled,)


@dataclass(frozen=True, slots=True)
class Coiled(_Told):
    """Pipe left in coils of one diameter: a spare tail.

    Attributes
    ----------
    length
        Length of pipe [m].
    coil_diameter
        Diameter of the coil [m].
    """

    bend_name: ClassVar[str] = "coil_diameter"

    length: float
    coil_diameter: float
    pipe: Pipe | None = None
    fittings: Loss = NO_LOSS

    def __post_init__(self) -> None:
        refuse(
            number_fault("length", self.length, "m", at_least=0.0),
            number_fault("coil_diameter", self.coil_diameter, "m", above=0.0),
        )

    @property
    def bend(self) -> float:
        """Diameter of its tightest bend [m]."""
        return self.coil_diameter

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg."""
        return (Section(self.pipe or pipe, self.length, self.coil_diameter, heaped=True),)


@dataclass(frozen=True, slots=True)
class TrenchPasses(_Told):
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
    spacing
        Between passes, centre to centre [m]; None where it is not told.
    depth
        Of the pipes [m]; None where it is not told.
    """

    bend_name: ClassVar[str] = "turn_diameter"
    centres_name: ClassVar[str] = "spacing"
    is_tail: ClassVar[bool] = False

    trench_length: float
    passes: int
    turn_diameter: float | None = None
    pipe: Pipe | None = None
    fittings: Loss = NO_LOSS
    spacing: float | None = None
    depth: float | None = None

    def __post_init__(self) -> None:
        refuse(
            number_fault("trench_length", self.trench_length, "m", above=0.0),
            count_fault("passes", self.passes),
            number_fault("turn_diameter", self.turn_diameter, "m", above=0.0),
            number_fault("spacing", self.spacing, "m", above=0.0),
            number_fault("depth", self.depth, "m", above=0.0),
        )

    @property
    def bend(self) -> float | None:
        """Diameter of its turns [m]; None where fittings make them."""
        return self.turn_diameter

    @property
    def centres(self) -> float | None:
        """From one pass to the next [m]; None where it is not told, or one pass."""
        return self.spacing if self.passes > 1 else None

    @property
    def trench(self) -> InTrench:
        """The trench that it lies in."""
        return InTrench(
            self.trench_length,
            pipes=self.passes,
            depth=self.depth,
            spacing=self.spacing,
            turn=(self.turn_diameter or 0.0) if self.passes > 1 else 0.0,
        )

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg: the straight passes, then the turns."""
        own = self.pipe or pipe
        straight = Section(own, self.trench_length * self.passes)
        if self.turn_diameter is None or self.passes == 1:
            return (straight,)
        turns = 0.5 * math.pi * self.turn_diameter * (self.passes - 1)
        return (straight, Section(own, turns, self.turn_diameter))


@dataclass(frozen=True, slots=True)
class PondMat(_Told):
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
    """

    bend_name: ClassVar[str] = "inner_diameter"
    centres_name: ClassVar[str] = "spacing"
    is_tail: ClassVar[bool] = False

    inner_diameter: float
    outer_diameter: float
    spacing: float
    mats: int = 1
    pipe: Pipe | None = None
    fittings: Loss = NO_LOSS

    def __post_init__(self) -> None:
        wider = math.isfinite(self.outer_diameter) and self.outer_diameter > self.inner_diameter
        refuse(
            number_fault("inner_diameter", self.inner_diameter, "m", above=0.0),
            number_fault("spacing", self.spacing, "m", above=0.0),
            count_fault("mats", self.mats),
            None
            if wider
            else Fault(
                "outer_diameter",
                "the outer diameter must exceed the inner one",
                self.outer_diameter,
                f"more than {self.inner_diameter:g} m",
            ),
        )

    @property
    def bend(self) -> float:
        """Diameter of its tightest bend [m]."""
        return self.inner_diameter

    @property
    def centres(self) -> float:
        """From one turn to the next [m]."""
        return self.spacing

    @property
    def water(self) -> InWater:
        """The mats that it sinks."""
        return InWater(self.mats, self.outer_diameter)

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
class BoreholeU(_Told):
    """One or two U-tubes in a borehole.

    Attributes
    ----------
    depth
        Depth of the U-tube's foot below the borehole's head [m]; the pipe goes down and up.
    u_tubes
        1 (single U) or 2 (double U: two U-tubes in parallel, each with half the flow).
    fittings
        Of each U-tube, as the bend at its foot.
    diameter
        Of the borehole [m]; None where it is not told.
    """

    is_tail: ClassVar[bool] = False

    depth: float
    u_tubes: int = 1
    pipe: Pipe | None = None
    fittings: Loss = NO_LOSS
    diameter: float | None = None

    def __post_init__(self) -> None:
        refuse(
            number_fault("depth", self.depth, "m", above=0.0),
            None
            if self.u_tubes in (1, 2)
            else Fault("u_tubes", "a borehole has 1 or 2 U-tubes", self.u_tubes, "1 or 2"),
            number_fault("diameter", self.diameter, "m", above=0.0),
        )

    @property
    def borehole(self) -> InBorehole:
        """The borehole that it hangs in."""
        return InBorehole(self.depth, self.u_tubes, self.diameter)

    @property
    def loss(self) -> Loss:
        """Loss of its fittings, of which every U-tube has as many, by the loop's flow."""
        return self.fittings if self.u_tubes == 1 else self.fittings.in_each(self.u_tubes)

    def sections(self, pipe: Pipe) -> tuple[Section, ...]:
        """Sections of this leg."""
        return (Section(self.pipe or pipe, 2.0 * self.depth, parallel=self.u_tubes),)


Leg = Straight | Slinky | Coiled | TrenchPasses | PondMat | BoreholeU
