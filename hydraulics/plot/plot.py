"""How large is the plot, and what distances are kept on it?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault

TRENCH_SPACING: Final = 5.0  # m, trench centre to trench centre; common practice, no source
BOREHOLE_SPACING: Final = 6.0  # m, between boreholes; common practice, no source
BORDER: Final = 2.5  # m, from a trench, mat or borehole to the boundary; common practice, no source
HEADER_WIDTH: Final = 0.5  # m, of a header trench's floor; common practice, no source
HEADER_DEPTH: Final = 1.2
"""To a header trench's floor [m]. Bedding of 0.1 m, return, and flow of up to 50 mm 0.3 m above it
leave 0.75 m of cover; from 1.22 m on a trench wants a ladder (OSHA, 4 ft). Common practice."""


@dataclass(frozen=True, slots=True)
class Plot:
    """The ground available. What is not given is not checked.

    Attributes
    ----------
    length, width
        Sides of a rectangular plot [m], both or neither; trenches run along its length.
    area
        Area [m²], where the sides are not known.
    max_trench
        Trench of loops that can be dug in all [m]; the header trench is not counted.
    spacing
        Centre to centre of trenches, boreholes or mats [m]; None for the usual.
    border
        From a trench, mat or borehole to the boundary [m].
    bores
        Where boreholes have their place (x, y) [m]; empty where none is told.
    mats
        Where pond mats have theirs.
    trenches
        Lines of the trenches that have theirs [m].
    trench_loops
        Names of those trenches' loops, in their order; by number where none is told.
    """

    length: float | None = None
    width: float | None = None
    area: float | None = None
    max_trench: float | None = None
    spacing: float | None = None
    border: float = BORDER
    bores: tuple[tuple[float, float], ...] = ()
    mats: tuple[tuple[float, float], ...] = ()
    trenches: tuple[tuple[tuple[float, float], ...], ...] = ()
    trench_loops: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        given = (
            ("area", self.area, "m²"),
            ("length", self.length, "m"),
            ("width", self.width, "m"),
            ("max_trench", self.max_trench, "m"),
            ("spacing", self.spacing, "m"),
        )
        refuse(
            *(number_fault(n, v, unit, above=0.0) for n, v, unit in given if v is not None),
            number_fault("border", self.border, "m", at_least=0.0),
            Fault(
                "length",
                "the borders at both ends leave nothing of the plot",
                self.length,
                f"more than twice the border of {self.border:g} m",
            )
            if self.length is not None and 0.0 < self.length <= 2.0 * self.border < math.inf
            else None,
            Fault("width", "and length of the plot must be given together", self.width, "both")
            if (self.length is None) != (self.width is None)
            else None,
        )

    @property
    def square_metres(self) -> float | None:
        """Area available [m²], None where not known."""
        if self.length is not None and self.width is not None:
            return self.length * self.width
        return self.area

    def trench_shortage(self, metres: float) -> str:
        """Say that so many metres of loops' trenches cannot be dug; empty where they can be."""
        # To a centimetre: trenches on a plan lie at places that are rounded.
        if self.max_trench is None or round(metres, 2) <= self.max_trench:
            return ""
        return f"The array takes {metres:.1f} m of trench, and {self.max_trench:g} m can be dug"
