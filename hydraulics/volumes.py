"""How much pipe and fluid does an array hold, part by part, and what goes into the filling tank?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy.optimize import brentq

from hydraulics.antifreeze import KINDS, Mixture, fluid, mixture
from hydraulics.errors import Fault, RangeError
from hydraulics.ground_checks import number_fault, refuse
from hydraulics.layout import Circuit, Loop, Plant, return_header_pipes
from hydraulics.pipe import Pipe

Part = Literal["loops", "headers", "runs", "plant_runs"]
PARTS: Final[tuple[Part, ...]] = ("loops", "headers", "runs", "plant_runs")

_WATER_C: Final = 20.0  # degC at which volumes before mixing are measured, as in antifreeze.py

REFRACTOMETER: Final = (
    "No refractometer relation is given: refractive index against mass % is tabulated at 20 °C in"
    " the CRC Handbook (concentrative properties of aqueous solutions) for ethylene glycol,"
    " glycerol, ethanol, methanol, potassium carbonate and calcium chloride, but its numbers were"
    " not read. Use the"
    " refractometer scale that belongs to the very product, or the density (hydrometer) relation"
    " here; alcohols bend light too little and not steadily, so a glycol scale misreads them."
)
"""Why a strength cannot be had here from a refractometer reading, in words."""


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


def header_stretches(
    circuit: Circuit,
) -> tuple[list[tuple[Pipe | None, float]], list[tuple[Pipe | None, float]]]:
    """Flow and return header of one circuit, stretch by stretch; both empty for a manifold.

    Returns
    -------
    flow, back
        Pipe and length [m]: of the flow header before each branch; of the return header beside it
        (direct return) or after each branch (reverse return).
    """
    if circuit.arrangement == "manifold":
        return [], []
    pipes: list[Pipe | None] = []
    lengths: list[float] = []
    pipe = circuit.header_pipe
    for branch in circuit.branches:
        pipe = branch.header_pipe or pipe
        pipes.extend([pipe] * branch.count)
        lengths.extend([branch.header_length] * branch.count)
    back = lengths
    if circuit.arrangement == "reverse_return":
        back = [*lengths[1:], circuit.closing_length]
    returns = return_header_pipes(circuit, pipes)
    return list(zip(pipes, lengths, strict=True)), list(zip(returns, back, strict=True))


def circuits_of(circuit: Circuit) -> Iterator[tuple[Circuit, int, str]]:
    """Every circuit of an array, how many there are of it, and the prefix of its loops' names."""
    waiting = [(circuit, 1, "")]
    while waiting:
        here, times, prefix = waiting.pop()
        yield here, times, prefix
        for branch in reversed(here.branches):
            if isinstance(branch.item, Circuit):
                below = f"{prefix}{branch.item.name}/" if branch.item.name else prefix
                waiting.append((branch.item, times * branch.count, below))


def loops_of(circuit: Circuit) -> Iterator[tuple[str, Loop, int]]:
    """Every loop of an array once: its name, the loop and how many there are of it."""
    for here, times, prefix in circuits_of(circuit):
        for branch in here.branches:
            if isinstance(branch.item, Loop):
                yield prefix + branch.item.name, branch.item, times * branch.count


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


@dataclass(frozen=True, slots=True)
class Filling:
    """What to pour together to fill a volume with a mixture.

    Attributes
    ----------
    mix
        The mixture.
    temperature_c
        Temperature of the fluid when it fills the volume [degC].
    volume, mass
        Of the mixture at that temperature [m³; kg].
    antifreeze_mass, water_mass
        [kg]; they add up to the mass.
    antifreeze_volume, water_volume
        Before mixing, at 20 degC [m³]; the antifreeze's is None for a salt, which is weighed. They
        add up to more or less than the volume: mixtures shrink, and the filling temperature is
        another.
    freezing_point_c
        Of the mixture [degC].
    """

    mix: Mixture
    temperature_c: float
    volume: float
    mass: float
    antifreeze_mass: float
    water_mass: float
    antifreeze_volume: float | None
    water_volume: float
    freezing_point_c: float


def filling(mix: Mixture, volume: float, temperature_c: float) -> Filling:
    """Antifreeze and water for a volume of mixture at the filling temperature.

    Parameters
    ----------
    mix
        The mixture.
    volume
        Volume to fill [m³], 0 or more. No margin is added: put losses into it.
    temperature_c
        Filling temperature [degC].

    Returns
    -------
    Filling
        Masses and volumes of both.

    Raises
    ------
    InputError
        The volume is negative or not finite.
    RangeError
        The temperature is outside the mixture's range.
    """
    refuse(number_fault("volume_l", volume * 1e3, "L", at_least=0.0))
    state = fluid(mix, temperature_c)
    mass = state.density * volume
    water_mass = mass * (1.0 - mix.mass_fraction)
    water_volume = water_mass / fluid(mixture("water", 0.0, "mass"), _WATER_C).density
    share = mix.volume_fraction
    return Filling(
        mix=mix,
        temperature_c=temperature_c,
        volume=volume,
        mass=mass,
        antifreeze_mass=mass * mix.mass_fraction,
        water_mass=water_mass,
        # The volume fraction is of the parts before mixing, so their ratio follows from it.
        antifreeze_volume=None if share is None else water_volume * share / (1.0 - share),
        water_volume=water_volume,
        freezing_point_c=state.freezing_point_c,
    )


def strength_from_density(kind: str, density: float, temperature_c: float) -> Mixture:
    """Strength of a sample from its density, as a hydrometer gives it.

    Parameters
    ----------
    kind
        A key of `KINDS`, not water.
    density
        Density of the sample [kg/m³].
    temperature_c
        Temperature of the sample when its density was taken [degC], at least 1.

    Returns
    -------
    Mixture
        The mixture of that density. A hydrometer read to 1 kg/m³ gives glycols within about 1 % by
        mass, salts within 0.2 %. Published densities differ by more: for propylene glycol, Lange's
        Handbook gives 20 to 40 % by volume densities that read 1 to 5 points less here, and
        inhibitors add a few kg/m³. Trust the product's own table first.

    Raises
    ------
    InputError
        Unknown kind or a number that is not finite.
    RangeError
        The density belongs to no strength of this kind, or density does not tell its strengths
        apart at this temperature.
    """
    refuse(
        number_fault("density_kg_m3", density, "kg/m³", above=0.0),
        number_fault("sample_temperature_c", temperature_c, "°C", at_least=1.0),
    )
    known = KINDS.get(kind)
    low, high = (known.min_mass_fraction, known.max_mass_fraction) if known else (0.0, 0.0)
    mixture(kind, low, "mass")  # refuses an unknown kind with the nearest names

    def density_of(fraction: float) -> float:
        return fluid(mixture(kind, fraction, "mass"), temperature_c).density

    fractions = np.linspace(low, high, 41)
    steps = np.diff([density_of(float(x)) for x in fractions])
    if not (np.all(steps > 0.0) or np.all(steps < 0.0)):
        raise RangeError(
            Fault(
                "antifreeze.kind",
                f"density does not tell strengths of {kind} apart at {temperature_c:g} °C",
                kind,
                "a kind whose density rises or falls all the way with strength",
            )
        )
    ends = sorted((density_of(low), density_of(high)))
    if not ends[0] <= density <= ends[1]:
        allowed = f"{ends[0]:.1f} to {ends[1]:.1f} kg/m³ at {temperature_c:g} °C"
        raise RangeError(
            Fault(
                "density_kg_m3",
                f"no strength of {kind} within its correlation has this density; it spans"
                f" {allowed}. Check the sample's temperature and what is in it.",
                density,
                allowed,
            )
        )
    found = brentq(lambda x: density_of(x) - density, low, high, xtol=1e-9)
    return mixture(kind, min(max(float(found), low), high), "mass")
