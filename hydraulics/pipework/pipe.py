"""Which PE pipe is meant: outside diameter, wall, bore, roughness, pressure class by name."""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from hydraulics.errors import Fault, InputError
from hydraulics.findings import Finding
from hydraulics.pipework.friction import LARGEST_RELATIVE_ROUGHNESS

COIL_DIAMETERS: Final = 18.0  # least coil diameter over outside diameter, EN 12201-2 (from memory)

PE_BEND_LIMITS: Final = ((0.0, 50.0), (10.0, 35.0), (20.0, 20.0))
"""Smallest bend radius of PE pipe over its outside diameter at laying temperatures [degC]."""
PE_BEND_SOURCE: Final = (
    "PE 80 and PE 100, SDR 17 and thicker: 20 d at 20 °C, 35 d at 10 °C, 50 d at 0 °C, between them"
    " in proportion (read in a pipe table, maker unnamed)"
)

STANDARD_COILS: Final = (50.0, 100.0, 150.0, 200.0, 300.0)
"""Coil lengths offered where none are given [m] (common practice, no source; pipe of 75 mm and more
often comes in straight lengths instead: ask the supplier)."""


def pe_bend_radius(outside_diameter: float, temperature_c: float) -> float:
    """Smallest radius that PE pipe may be bent to cold [m]; see :data:`PE_BEND_SOURCE`.

    Parameters
    ----------
    outside_diameter
        [m]
    temperature_c
        Of the pipe when laid [degC], as :func:`bend_temperature` takes it.
    """
    temperatures, limits = zip(*PE_BEND_LIMITS, strict=True)
    return outside_diameter * float(np.interp(temperature_c, temperatures, limits))


def told_bend(pipe: str, outside_diameter: float, bend: float, loop: str) -> str:
    """How tight a pipe is bent in a loop, in words; diameters in m."""
    return (
        f"{pipe} is bent to a radius of {0.5 * bend:.2f} m ({0.5 * bend / outside_diameter:.1f}"
        f" diameters) in loop {loop}"
    )


def tight_bend(pipe: str, outside_diameter: float, bend: float, loop: str) -> Finding | None:
    """The error of a bend tighter than the coil that the pipe is delivered in, or None.

    Parameters
    ----------
    pipe, loop
        What they are called.
    outside_diameter
        Of the pipe [m].
    bend
        Diameter of the bend [m].
    """
    least = COIL_DIAMETERS * outside_diameter
    if bend >= least * (1.0 - 1e-9):
        return None
    return Finding(
        "bend_too_tight",
        "error",
        f"{told_bend(pipe, outside_diameter, bend, loop)}; it is tighter than the coil it is"
        f" delivered in ({0.5 * least:.2f} m) and may kink. Use a larger coil.",
        "EN 12201-2: coils of 18 diameters and more (from memory)",
    )


def bend_temperature(temperature_c: float) -> float:
    """Temperature that the bend limit of a pipe is told at [degC]: what the source covers.

    Below it PE should not be bent at all without its maker's word.
    """
    return min(max(temperature_c, PE_BEND_LIMITS[0][0]), PE_BEND_LIMITS[-1][0])


def bundle(pipes: int, outside_diameter: float) -> float:
    """Diameter of the circle around 2 or 4 equal pipes that touch in a ring [m]."""
    return outside_diameter * (1.0 + 1.0 / math.sin(math.pi / pipes))


def bore_fault(field: str, diameter: float, pipes: int, outside_diameter: float) -> Fault | None:
    """Return the fault of a borehole that is too narrow for its U-tubes, or None.

    Parameters
    ----------
    field
        Name of the borehole's diameter, as the caller knows it.
    diameter
        Of the borehole [m].
    pipes
        2 or 4 equal pipes, which take the least room where they touch in a ring: 2 and 2.414
        pipe diameters (geometry, packing of equal circles in a circle).
    outside_diameter
        Of each pipe [m].
    """
    least = bundle(pipes, outside_diameter)
    if diameter >= least * (1.0 - 1e-6):  # they may touch despite rounding
        return None
    text = (
        f"a borehole of {diameter * 1e3:g} mm does not take {pipes} pipes of"
        f" {outside_diameter * 1e3:g} mm side by side: {least * 1e3:.4g} mm at the least, and more"
        " for grout around them; give a wider borehole or smaller pipe"
    )
    return Fault(field, text, diameter, f"{least * 1e3:.4g} mm or more")


PE_ROUGHNESS: Final = 1.5e-6
"""Roughness of new plastic pipe [m]: White, Fluid Mechanics, table 6.1 (from memory). Design guides
use up to 0.01 mm, which raises friction by 1.0 to 1.6 % at Re 10,000 in 26 mm bore."""

# Minimum wall [mm] by SDR and nominal outside diameter [mm]: EN 12201-2 and ISO 4427-2. Read in
# reproductions of the ISO 4427 table (90 to 180 mm) and of a public wall table for PE100 pipe (20
# to 180 mm), not in the standards themselves.
_WALLS_MM: Final[dict[str, dict[int, float]]] = {
    "9": {20: 2.3, 25: 3.0, 32: 3.6, 40: 4.5, 50: 5.6, 63: 7.1, 75: 8.4, 90: 10.1, 110: 12.3,
          125: 14.0, 140: 15.7, 160: 17.9, 180: 20.1},
    "11": {20: 2.0, 25: 2.3, 32: 3.0, 40: 3.7, 50: 4.6, 63: 5.8, 75: 6.8, 90: 8.2, 110: 10.0,
           125: 11.4, 140: 12.7, 160: 14.6, 180: 16.4},
    "13.6": {25: 2.0, 32: 2.4, 40: 3.0, 50: 3.7, 63: 4.7, 75: 5.6, 90: 6.7, 110: 8.1, 125: 9.2,
             140: 10.3, 160: 11.8, 180: 13.3},
    "17": {32: 2.0, 40: 2.4, 50: 3.0, 63: 3.8, 75: 4.5, 90: 5.4, 110: 6.6, 125: 7.4, 140: 8.3,
           160: 9.5, 180: 10.7},
}  # fmt: skip
WALL_SOURCE: Final = (
    "Minimum walls of EN 12201-2 / ISO 4427-2, read in public reproductions; bore is the nominal "
    "outside diameter less two minimum walls, the largest that the standard lets a pipe have"
)
_STRENGTH_MPA: Final = {"PE80": 8.0, "PE100": 10.0}  # MRS, ISO 12162
_DESIGN_FACTOR: Final = 1.25  # EN 12201 for water
_MARKED_PN: Final = (25.0, 20.0, 16.0, 12.5, 10.0, 8.0)  # bar; EN 12201, read but 8 and 25
CLASS_FACTORS: Final = ((20.0, 1.0), (30.0, 0.87), (40.0, 0.74))
"""What is left of the class of PE pipe at a temperature [degC]; see :data:`CLASS_SOURCE`."""
WARMEST_CLASS: Final = CLASS_FACTORS[-1][0]
CLASS_SOURCE: Final = (
    "EN 12201: class at 20 °C with water; EN 12201-1, table A.1, reduces it above 20 °C up to 40 °C"
    " (that it does: read in a public summary; 0.87 at 30 °C and 0.74 at 40 °C: from memory)"
)
_NAME = re.compile(r"(PE80|PE100) SDR(9|11|13\.6|17) (\d{2,3})")


@dataclass(frozen=True, slots=True)
class Pipe:
    """A pipe by its bore.

    Attributes
    ----------
    name
        How reports call it.
    bore
        Inside diameter [m].
    outside_diameter
        Outside diameter [m].
    roughness
        Equivalent sand roughness of the inside [m].
    pressure_class
        Allowable operating pressure with water at 20 °C [Pa]; None where not known.
    """

    name: str
    bore: float
    outside_diameter: float
    roughness: float = PE_ROUGHNESS
    pressure_class: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.bore) and self.bore > 0.0):
            raise InputError(
                Fault("bore", "a bore must be more than 0", self.bore, "more than 0 mm")
            )
        if not (math.isfinite(self.outside_diameter) and self.outside_diameter > self.bore):
            raise InputError(
                Fault(
                    "outside_diameter",
                    f"the outside diameter must exceed the bore, {self.bore * 1e3:g} mm",
                    self.outside_diameter,
                    "more than the bore",
                )
            )
        if not 0.0 <= self.roughness <= LARGEST_RELATIVE_ROUGHNESS * self.bore:
            raise InputError(
                Fault(
                    "roughness",
                    "roughness must be between 0 and 5 % of the bore, the end of Moody's chart",
                    self.roughness,
                    f"0 to {LARGEST_RELATIVE_ROUGHNESS * self.bore * 1e3:.3g} mm",
                )
            )

    @property
    def outside_area(self) -> float:
        """Area of the section, wall included [m²]."""
        return 0.25 * math.pi * self.outside_diameter**2

    @property
    def wall(self) -> float:
        """Wall thickness [m]."""
        return 0.5 * (self.outside_diameter - self.bore)

    @property
    def bore_area(self) -> float:
        """Area of the bore [m²], which is also the contents [m³/m]."""
        return 0.25 * math.pi * self.bore**2


def pressure_class(material: str, sdr: float) -> float:
    """Allowable operating pressure of PE pipe with water at 20 °C, 2 MRS / (C (SDR - 1)).

    Parameters
    ----------
    material
        ``"PE80"`` or ``"PE100"`` (MRS 8 and 10 MPa, ISO 12162).
    sdr
        Standard dimension ratio.

    Returns
    -------
    float
        Pressure [Pa], rounded down to the PN that the pipe is marked with (PE80 SDR 11: 12.5 bar).
    """
    exact = 2.0e6 * _STRENGTH_MPA[material] / (_DESIGN_FACTOR * (sdr - 1.0))
    return next((1e5 * pn for pn in _MARKED_PN if 1e5 * pn <= exact * (1.0 + 1e-9)), exact)


def temperature_factor(temperature: float) -> float:
    """What is left of the pressure class of PE pipe at a temperature [degC], as a fraction.

    1 up to 20 °C, between the points of :data:`CLASS_FACTORS` in proportion, and 0 above the last,
    where no class is published.
    """
    if temperature > WARMEST_CLASS * (1.0 + 1e-9):
        return 0.0
    temperatures, factors = zip(*CLASS_FACTORS, strict=True)
    return float(np.interp(temperature, temperatures, factors))


def site_test_pressure(pipe: Pipe, temperature: float | None = None) -> float:
    """Most that a pipe bears in a site test [Pa gauge]; infinite where its class is not known.

    EN 805: PEA of a component as the lower of 1.5 PFA and PFA + 5 bar (from memory); less where it
    is warmer than 20 °C, see :func:`temperature_factor`.
    """
    if pipe.pressure_class is None:
        return math.inf
    rated = pipe.pressure_class
    if temperature is not None:  # no record that is warmer than that passes
        rated *= temperature_factor(min(temperature, WARMEST_CLASS))
    return min(1.5 * rated, rated + 5e5)


@lru_cache(maxsize=256)
def pe_pipe(name: str) -> Pipe:
    """Standard PE pipe by name, such as ``"PE100 SDR11 32"``.

    Parameters
    ----------
    name
        Material, SDR and outside diameter in mm.

    Returns
    -------
    Pipe
        Bore from the outside diameter less two minimum walls.

    Raises
    ------
    InputError
        The name is none of those that :func:`pe_pipes` lists; the message suggests the nearest.
    """
    match = _NAME.fullmatch(name)
    wall = _WALLS_MM[match[2]].get(int(match[3])) if match else None
    if match is None or wall is None:
        near = nearest_name(name)
        hint = f"; did you mean '{near}'?" if near else ""
        raise InputError(
            Fault(
                "pipe",
                f"no standard pipe is called '{name[:60]}'{hint}",
                name[:60],
                "material, SDR and outside diameter as in 'PE100 SDR11 32', or a pipe by its bore",
            )
        )
    outside = int(match[3])
    return Pipe(
        name=name,
        bore=round(outside - 2.0 * wall, 3) / 1e3,
        outside_diameter=outside / 1e3,
        pressure_class=pressure_class(match[1], float(match[2])),
    )


def nearest_name(name: str) -> str:
    """The standard name that was probably meant: by what it tells of the pipe, else by spelling.

    Parameters
    ----------
    name
        Any; of it are read, in any order, material (PE100 where none is told), SDR or PN, and the
        outside diameter, or that and the wall, as in ``32x2.9``.

    Returns
    -------
    str
        The standard pipe of that series whose diameter is nearest; of a diameter and a wall, that
        of the nearest wall. Empty where so little is told that it would be a guess.
    """
    said = name[:60].upper().replace(",", ".")
    strength = re.search(r"PE[ -]?(80|100)(?!\d)", said)
    material = f"PE{strength[1]}" if strength else "PE100"
    series = re.search(r"SDR[ -]?(9|11|13\.6|17)(?:\.0)?(?![\d.])", said)
    rated = re.search(r"PN[ -]?(\d+(?:\.\d+)?)", said)
    left = re.sub(r"PE[ -]?(?:80|100)(?!\d)|(?:SDR|PN)[ -]?[\d.]+", " ", said)
    sized = re.search(r"(\d{2,3}) ?[X×/*] ?(\d{1,2}(?:\.\d+)?)(?![\d.])", left)
    sizes = re.findall(r"(?<![\d.])\d{1,4}(?![\d.])", left)
    outside = int(sized[1]) if sized else int(sizes[0]) if len(sizes) == 1 else 0
    sdr = series[1] if series else ""
    if not sdr and outside and rated:
        classes = {each: pressure_class(material, float(each)) for each in _WALLS_MM}
        sdr = min(classes, key=lambda each: abs(classes[each] - 1e5 * float(rated[1])))
    elif not sdr and sized and outside:
        walls = {each: of[outside] for each, of in _WALLS_MM.items() if outside in of}
        sdr = min(walls, key=lambda each: abs(walls[each] - float(sized[2])), default="")
    if sdr and outside and re.search(r"PE(?!X|-?RT)", said):
        size = min(_WALLS_MM[sdr], key=lambda each: abs(each - outside))
        return f"{material} SDR{sdr} {size}"
    near = difflib.get_close_matches(name[:60], pipe_names(), n=1, cutoff=0.9)
    return near[0] if near else ""


@lru_cache(maxsize=1)
def pipe_names() -> tuple[str, ...]:
    """Names of all standard pipes."""
    return tuple(
        f"{material} SDR{sdr} {outside}"
        for material in _STRENGTH_MPA
        for sdr, walls in _WALLS_MM.items()
        for outside in walls
    )


def pe_pipes() -> tuple[Pipe, ...]:
    """All standard pipes, by material, SDR and size."""
    return tuple(pe_pipe(name) for name in pipe_names())
