"""What is buried: legs make a loop, loops and circuits make a circuit, a circuit makes an array.

Nothing here computes a flow. A loop knows its pipe lengths, from the geometry of its legs; a
circuit knows how its branches are joined. What is not named is not there: no fitting, port or
margin is added.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from hydraulics.errors import Fault, InputError
from hydraulics.exchanger import Exchanger
from hydraulics.fittings import NO_LOSS, Loss
from hydraulics.friction import LARGEST_CURVATURE
from hydraulics.pipe import Pipe

Arrangement = Literal["manifold", "direct_return", "reverse_return"]
ARRANGEMENTS: Final[tuple[Arrangement, ...]] = ("manifold", "direct_return", "reverse_return")
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


def _zero_or_more(name: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(Fault(name, "must be 0 or more", value, "0 or more"))


def _one_or_more(name: str, value: int) -> None:
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
        _zero_or_more("straight_m", self.length)

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
        _one_or_more("coils", self.coils)
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
        _zero_or_more("coiled_m", self.length)
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
        _one_or_more("passes", self.passes)
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
        _one_or_more("mats", self.mats)
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


def _merged(sections: Iterator[Section]) -> tuple[Section, ...]:
    """One section for each pipe, coil diameter and parallel count, lengths added."""
    found: dict[tuple[int, float, int], Section] = {}
    for section in sections:
        key = (id(section.pipe), section.coil_diameter, section.parallel)
        if (same := found.get(key)) is not None:
            section = Section(  # noqa: PLW2901
                section.pipe, same.length + section.length, section.coil_diameter, section.parallel
            )
        found[key] = section
    return tuple(found.values())


@dataclass(frozen=True, slots=True)
class Loop:
    """A run of buried pipe from a flow port to a return port.

    Attributes
    ----------
    name
        What people call it.
    pipe
        The pipe of every leg that names none.
    legs
        Legs in the order of flow, at least one.
    fittings
        Loss of the loop's own fittings.
    sections
        The legs as sections, equal ones merged.
    main_section
        Index of the longest section, which stands for the loop where one must.
    length, coiled_length
        Pipe length that one particle of fluid passes, and the coiled part of it [m].
    """

    name: str
    pipe: Pipe
    legs: tuple[Leg, ...]
    fittings: Loss = NO_LOSS
    sections: tuple[Section, ...] = field(init=False, repr=False, compare=False)
    main_section: int = field(init=False, repr=False, compare=False)
    length: float = field(init=False, repr=False, compare=False)
    coiled_length: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.legs:
            raise InputError(Fault("legs", "a loop needs at least one leg", None, "1 or more legs"))
        legs = self.legs
        sections = legs[0].sections(self.pipe)
        if len(legs) > 1 or len(sections) > 1:
            sections = _merged(s for leg in legs for s in leg.sections(self.pipe))
        length = sum(section.length for section in sections)
        if length <= 0.0:
            raise InputError(
                Fault("legs", "a loop needs some length of pipe", length, "more than 0 m")
            )
        for section in sections:
            if section.curvature > LARGEST_CURVATURE:
                raise InputError(
                    Fault(
                        "coil_diameter_m",
                        "the coil is too tight for the pipe; coil friction is published for coils "
                        "of 7 bores and more",
                        section.coil_diameter,
                        f"{section.pipe.bore / LARGEST_CURVATURE:.3g} m or more",
                    )
                )
        object.__setattr__(self, "sections", sections)
        longest = 0
        if len(sections) > 1:
            longest = max(range(len(sections)), key=lambda i: sections[i].length)
        object.__setattr__(self, "main_section", longest)
        object.__setattr__(self, "length", length)
        coiled = sum(s.length for s in sections if s.coil_diameter < STRAIGHT)
        object.__setattr__(self, "coiled_length", coiled)

    @property
    def straight_length(self) -> float:
        """Length of straight pipe [m]."""
        return self.length - self.coiled_length

    @property
    def pipe_length(self) -> float:
        """Length of pipe to buy [m]: parallel pipes counted each."""
        return sum(s.length * s.parallel for s in self.sections)

    @property
    def volume(self) -> float:
        """Contents [m³]."""
        return sum(s.volume for s in self.sections)


@dataclass(frozen=True, slots=True)
class Run:
    """A route of a flow pipe and a return pipe, side by side.

    Attributes
    ----------
    pipe
        Pipe of both.
    length
        Length of the route, one way [m]; the pipe is laid twice, out and back.
    fittings
        Loss of the fittings on the route, out and back together.
    """

    pipe: Pipe
    length: float
    fittings: Loss = NO_LOSS

    def __post_init__(self) -> None:
        _zero_or_more("length_m", self.length)


@dataclass(frozen=True, slots=True)
class Branch:
    """A loop or a circuit, and how it hangs on the circuit around it.

    Attributes
    ----------
    item
        The loop or circuit.
    header_length
        Distance along the header from the branch before, or from the circuit's start [m].
    header_pipe
        Flow header from here on where it steps to another size; None: as before.
    return_header_pipe
        Return header of the stretch beside that one; None: see :class:`Circuit`.
    runs
        Route from the header or port to the item, out and back.
    fittings
        Loss of ports, valves and other fittings of this branch.
    count
        Equal branches one after the other, each ``header_length`` from the one before.
    """

    item: Loop | Circuit
    header_length: float = 0.0
    header_pipe: Pipe | None = None
    return_header_pipe: Pipe | None = None
    runs: tuple[Run, ...] = ()
    fittings: Loss = NO_LOSS
    count: int = 1

    def __post_init__(self) -> None:
        _zero_or_more("header_m", self.header_length)
        _one_or_more("count", self.count)


@dataclass(frozen=True, slots=True)
class Circuit:
    """Branches joined in parallel between one flow and one return connection.

    Attributes
    ----------
    arrangement
        ``manifold``: every branch on its own port, no header between the ports.
        ``direct_return``: the return header runs beside the flow header; the first branch out is
        the first branch back.
        ``reverse_return``: the return header starts at the first branch, runs on past the last and
        comes back by ``closing_length``; the first branch out is the last branch back.
    branches
        Branches in order along the flow header, at least one.
    header_pipe
        Pipe of the headers; not allowed in a manifold.
    closing_length
        Length of the return header from the last branch back to the circuit's start [m]; in
        reverse return only.
    name
        What people call it; prefixed to the names of its loops.

    Notes
    -----
    Where the flow header of a reverse return steps down, the return header is taken as its mirror
    image (it steps up where it gathers as many branches), unless ``return_header_pipe`` says
    otherwise. In direct return the return header is as its flow header beside it.
    """

    arrangement: Arrangement
    branches: tuple[Branch, ...]
    header_pipe: Pipe | None = None
    closing_length: float = 0.0
    name: str = ""

    def __post_init__(self) -> None:
        if self.arrangement not in ARRANGEMENTS:
            raise InputError(
                Fault(
                    "arrangement", "no such arrangement", self.arrangement, ", ".join(ARRANGEMENTS)
                )
            )
        if not self.branches:
            raise InputError(
                Fault("branches", "a circuit needs at least one branch", None, "1 or more")
            )
        _zero_or_more("closing_m", self.closing_length)
        if self.closing_length and self.arrangement != "reverse_return":
            raise InputError(
                Fault(
                    "closing_m",
                    f"a {self.arrangement} has no closing run; leave it out",
                    self.closing_length,
                    "reverse_return only",
                )
            )
        if self.arrangement == "manifold":
            self._refuse_headers()
        # The first branch may name the pipe; a later one may not, since the stretches before it,
        # out or back, would then have a length and no pipe.
        elif (self.header_pipe or self.branches[0].header_pipe) is None and (
            self.closing_length or any(b.header_length for b in self.branches)
        ):
            raise InputError(
                Fault(
                    "header_pipe",
                    f"a {self.arrangement} with header lengths needs a header pipe",
                    None,
                    "a pipe such as 'PE100 SDR11 63'",
                )
            )

    def _refuse_headers(self) -> None:
        if self.header_pipe is not None:
            raise InputError(
                Fault("header_pipe", "a manifold has no header between its ports; leave it out",
                      self.header_pipe.name, "direct_return and reverse_return only")
            )  # fmt: skip
        for number, branch in enumerate(self.branches):
            for name, value in (
                ("header_m", branch.header_length),
                ("header_pipe", branch.header_pipe),
                ("return_header_pipe", branch.return_header_pipe),
            ):
                if value:
                    raise InputError(
                        Fault(
                            f"branches.{number}.{name}",
                            "a manifold has no header between its ports; give the route from port "
                            "to loop as runs or as a leg of the loop",
                            value.name if isinstance(value, Pipe) else value,
                            "direct_return and reverse_return only",
                        )
                    )


@dataclass(frozen=True, slots=True)
class Plant:
    """What lies between the array and the pump: the heat exchanger and the runs to the array.

    Attributes
    ----------
    exchanger
        The heat pump's brine side; None where its drop is not to be counted.
    runs
        Routes between plant and array.
    fittings
        Loss of the plant's fittings.
    """

    exchanger: Exchanger | None = None
    runs: tuple[Run, ...] = ()
    fittings: Loss = NO_LOSS


def return_header_pipes(circuit: Circuit, flow: list[Pipe | None]) -> list[Pipe | None]:
    """Pipe of each stretch of return header.

    Parameters
    ----------
    circuit
        The circuit.
    flow
        Pipe of the flow header before each branch, equal branches one by one.

    Returns
    -------
    list of Pipe or None
        In direct return beside each flow stretch; in reverse return after each branch, the closing
        run last. See :class:`Circuit` for what holds where nothing is named.
    """
    if all(branch.return_header_pipe is None for branch in circuit.branches):
        # The stretch after branch r of a reverse return gathers r branches, as does the flow
        # header's stretch counted from its far end: the mirror image.
        return flow if circuit.arrangement == "direct_return" else flow[::-1]
    beside: list[Pipe | None] = []
    pipe = circuit.header_pipe or flow[0]
    for branch in circuit.branches:
        pipe = branch.return_header_pipe or pipe
        beside.extend([pipe] * branch.count)
    if circuit.arrangement == "direct_return":
        return beside
    return [*beside[1:], pipe]  # the closing run is as the last stretch


def loop_count(circuit: Circuit) -> int:
    """Number of loops in a circuit, equal ones counted each."""
    return sum(
        branch.count * (1 if isinstance(branch.item, Loop) else loop_count(branch.item))
        for branch in circuit.branches
    )
