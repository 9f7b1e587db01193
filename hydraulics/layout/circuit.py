"""What is buried: legs make a loop, loops and circuits make a circuit, a circuit makes an array.

Nothing here computes a flow. A loop knows its pipe lengths, from the geometry of its legs; a
circuit knows how its branches are joined. What is not named is not there: no fitting, port or
margin is added.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from hydraulics.checks import count_fault, number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import figures
from hydraulics.layout.legs import STRAIGHT, Leg, Section
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import NO_LOSS, Loss
from hydraulics.pipework.friction import LARGEST_CURVATURE
from hydraulics.pipework.pipe import Pipe, bore_fault

Arrangement = Literal["manifold", "direct_return", "reverse_return"]
RUN_HOURS: Final = 2400.0  # h a year; VDI 4640-2 (2001): heating and hot water
YEAR_HOURS: Final = 8784.0  # h, of a leap year
ARRANGEMENTS: Final[tuple[Arrangement, ...]] = ("manifold", "direct_return", "reverse_return")


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
        Loss of all fittings in its legs.
    sections
        The legs as sections, equal ones merged.
    main_section
        Index of the longest section.
    gathering_section
        Index of that whose film stands for the loop's: the one of which most lies where heat is
        gathered; without such the longest, heaps of spare pipe last.
    gathers
        Length of each section that gathers heat [m]: in that order what lies where heat is
        gathered, all but heaps, or all.
    length, coiled_length
        Pipe length that one particle of fluid passes, and the coiled part of it [m].
    """

    name: str
    pipe: Pipe
    legs: tuple[Leg, ...]
    fittings: Loss = field(init=False, repr=False, compare=False)
    sections: tuple[Section, ...] = field(init=False, repr=False, compare=False)
    main_section: int = field(init=False, repr=False, compare=False)
    gathering_section: int = field(init=False, repr=False, compare=False)
    gathers: tuple[float, ...] = field(init=False, repr=False, compare=False)
    length: float = field(init=False, repr=False, compare=False)
    coiled_length: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.legs:
            raise InputError(Fault("legs", "a loop needs at least one leg", None, "1 or more legs"))
        merged: dict[tuple[int, float, int, bool], Section] = {}
        gathers: dict[tuple[int, float, int, bool], float] = {}
        fittings = NO_LOSS
        for leg in self.legs:
            for section in leg.sections(self.pipe):
                kind = (
                    id(section.pipe), section.coil_diameter, section.parallel, section.heaped
                )  # fmt: skip
                same = merged.get(kind)
                merged[kind] = section if same is None else same.longer(section.length)
                if not leg.is_tail:
                    gathers[kind] = gathers.get(kind, 0.0) + section.length
            if leg.fittings is not NO_LOSS:
                fittings += leg.loss
        refuse(*self._bores_too_narrow(), *self._overlapping_pipe())
        sections = tuple(merged.values())
        lengths = [section.length for section in sections]
        length, coiled = sum(lengths, 0.0), 0.0
        for section in sections:
            if section.coil_diameter < STRAIGHT:
                coiled += section.length
                if section.curvature > LARGEST_CURVATURE:
                    self._refuse_bends()
        if length <= 0.0:
            raise InputError(
                Fault("legs", "a loop needs some length of pipe", length, "more than 0 m")
            )
        object.__setattr__(self, "fittings", fittings)
        object.__setattr__(self, "sections", sections)
        own = [gathers.get(kind, 0.0) for kind in merged]
        if not any(own):
            unheaped = [0.0 if section.heaped else section.length for section in sections]
            own = unheaped if any(unheaped) else lengths
        most = list(zip(own, lengths, strict=True))
        object.__setattr__(self, "gathers", tuple(own))
        object.__setattr__(self, "main_section", lengths.index(max(lengths)))
        object.__setattr__(self, "gathering_section", most.index(max(most)))
        object.__setattr__(self, "length", length)
        object.__setattr__(self, "coiled_length", coiled)

    def _bores_too_narrow(self) -> Iterator[Fault | None]:
        for number, leg in enumerate(self.legs):
            hole = leg.borehole
            if hole is not None and hole.diameter is not None:
                outside = (leg.pipe or self.pipe).outside_diameter
                field = f"legs.{number}.diameter"
                yield bore_fault(field, hole.diameter, 2 * hole.u_tubes, outside)

    def _overlapping_pipe(self) -> Iterator[Fault | None]:
        """Passes, coils or turns closer than the pipe is thick: no pipe lies within another."""
        for number, leg in enumerate(self.legs):
            if (centres := leg.centres) is None:
                continue
            own = leg.pipe or self.pipe
            if centres < own.outside_diameter * (1.0 - 1e-9):
                yield Fault(
                    f"legs.{number}.{leg.centres_name}",
                    f"is {centres:g} m, closer than the {own.outside_diameter:g} m that "
                    f"{own.name} is thick: the pipe would overlap itself; lay it wider",
                    centres,
                    f"{own.outside_diameter:g} m or more",
                )

    def _refuse_bends(self) -> None:
        raise InputError(
            *(
                Fault(
                    f"legs.{number}.{leg.bend_name}",
                    "the coil is too tight for the pipe; coil friction is published for coils of "
                    "7 bores and more",
                    leg.bend,
                    f"{figures(own.bore / LARGEST_CURVATURE)} m or more",
                )
                for number, leg in enumerate(self.legs)
                for own in (leg.pipe or self.pipe,)
                if any(s.curvature > LARGEST_CURVATURE for s in leg.sections(self.pipe))
            )
        )

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
        refuse(number_fault("length", self.length, "m", at_least=0.0))


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
        Return header of the stretch beside that one only; of the first branch of a reverse return,
        the closing run. None: see :class:`Circuit`.
    runs
        Route from the header or port to the item, out and back.
    fittings
        Loss of ports, valves and other fittings of this branch.
    count
        Equal branches one after the other, each ``header_length`` from the one before.
    closed
        Whether a valve shuts it, all copies alike: it is laid and filled, and nothing flows in it.
    """

    item: Loop | Circuit
    header_length: float = 0.0
    header_pipe: Pipe | None = None
    return_header_pipe: Pipe | None = None
    runs: tuple[Run, ...] = ()
    fittings: Loss = NO_LOSS
    count: int = 1
    closed: bool = False

    def __post_init__(self) -> None:
        refuse(
            number_fault("header_length", self.header_length, "m", at_least=0.0),
            count_fault("count", self.count),
        )

    @property
    def flows(self) -> bool:
        """Whether anything can flow in it: it is open, and so is some loop that hangs on it."""
        return not self.closed and (
            isinstance(self.item, Loop) or any(each.flows for each in self.item.branches)
        )


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
        comes back by ``closing_run``; the first branch out is the last branch back.
    branches
        Branches in order along the flow header, at least one.
    header_pipe
        Pipe of the headers; not allowed in a manifold.
    closing_length
        Length of the return header from the last branch back to the circuit's start [m]; in
        reverse return only. None: as long as the header, which the return must come back beside
        (the safe side for the pump).
    name
        What people call it; prefixed to the names of its loops.

    Notes
    -----
    Where the flow header of a reverse return steps down, the return header is taken as its mirror
    image (it steps up where it gathers as many branches), but for the stretches that name a
    ``return_header_pipe``. In direct return the return header is as its flow header beside it.
    """

    arrangement: Arrangement
    branches: tuple[Branch, ...]
    header_pipe: Pipe | None = None
    closing_length: float | None = None
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
        if self.closing_length is not None:
            refuse(number_fault("closing_length", self.closing_length, "m", at_least=0.0))
        if self.closing_length and self.arrangement != "reverse_return":
            raise InputError(
                Fault(
                    "closing_length",
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

    @property
    def header_length(self) -> float:
        """Length of the flow header from the circuit's start to its last branch [m]."""
        return sum(branch.header_length * branch.count for branch in self.branches)

    @property
    def closing_run(self) -> float:
        """Length of the return header from the last branch back to the start [m]."""
        if self.arrangement != "reverse_return":
            return 0.0
        return self.header_length if self.closing_length is None else self.closing_length

    def _refuse_headers(self) -> None:
        if self.header_pipe is not None:
            raise InputError(
                Fault("header_pipe", "a manifold has no header between its ports; leave it out",
                      self.header_pipe.name, "direct_return and reverse_return only")
            )  # fmt: skip
        for number, branch in enumerate(self.branches):
            for name, value in (
                ("header_length", branch.header_length),
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
        Loss of the plant's other fittings.
    volume
        Contents of heat exchanger, buffer and pump group [m³].
    run_hours
        Hours in a year that its circulating pump runs [h].
    """

    exchanger: Exchanger | None = None
    runs: tuple[Run, ...] = ()
    fittings: Loss = NO_LOSS
    volume: float = 0.0
    run_hours: float = RUN_HOURS

    def __post_init__(self) -> None:
        refuse(
            number_fault("volume", self.volume, "m³", at_least=0.0),
            None
            if 0.0 <= self.run_hours <= YEAR_HOURS
            else Fault(
                "run_hours",
                f"a year has {YEAR_HOURS:g} hours at most",
                self.run_hours,
                f"0 to {YEAR_HOURS:g} h",
            ),
        )
