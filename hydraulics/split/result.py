"""The result of the main job, as values: loops, imbalance, pump duty, system curve, findings."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.findings import Finding
from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Circuit
from hydraulics.split.assembly import Network
from hydraulics.split.head_high import HeadHigh
from hydraulics.split.header_stretches import HeaderStretches, header_stretches
from hydraulics.split.imbalance import Imbalance
from hydraulics.split.state import Solution
from hydraulics.split.system_curve import Around, Curve, system_curve
from hydraulics.split.target import Target

Array = NDArray[np.float64]

REGIMES: Final = ("laminar", "transitional", "turbulent")


@dataclass(frozen=True, slots=True)
class LoopTable:
    """Results of all loops, one array a quantity, in the order of the layout.

    Attributes
    ----------
    names, places
        Name, and branch numbers from the outermost circuit inwards.
    length, coiled_length
        Pipe length that the fluid passes, and the coiled part of it [m].
    mass_flow, volume_flow
        [kg/s] and, at the loops' temperature, [m³/s].
    target_flow
        Volume flow that the loop should have [m³/s].
    share
        Of the total flow [-].
    deviation
        From the target flow, as a fraction of it [-].
    deviation_by_length
        From a share in proportion to length, as a fraction of it [-].
    velocity, reynolds, regime
        In the pipe that gathers the loop's heat, its longest where none does [m/s], [-], index into
        :data:`REGIMES`.
    drop
        Of the loop with its port: straight + coil + fittings [Pa].
    straight_drop, coil_drop, fittings_drop
        Parts of ``drop`` [Pa].
    header_drop
        From the array's connections to the loop's port and back [Pa].
    """

    names: tuple[str, ...]
    places: tuple[tuple[int, ...], ...]
    length: Array
    coiled_length: Array
    mass_flow: Array
    volume_flow: Array
    target_flow: Array
    share: Array
    deviation: Array
    deviation_by_length: Array
    velocity: Array
    reynolds: Array
    regime: NDArray[np.intp]
    drop: Array
    straight_drop: Array
    coil_drop: Array
    fittings_drop: Array
    header_drop: Array


@dataclass(frozen=True, slots=True)
class CirculatingDuty:
    """What the circulating pump must do.

    Attributes
    ----------
    mass_flow, volume_flow
        [kg/s] and, at the mean temperature, [m³/s].
    pressure, head
        [Pa] and [m of the mixture].
    hydraulic_power
        [W]
    array_drop, run_drop, exchanger_drop
        Parts of ``pressure``: the array; the plant's runs and fittings; the heat exchanger [Pa].
    """

    mass_flow: float
    volume_flow: float
    pressure: float
    head: float
    hydraulic_power: float
    array_drop: float
    run_drop: float
    exchanger_drop: float


@dataclass(frozen=True, slots=True)
class Residuals:
    """How exactly the equations are met.

    Attributes
    ----------
    mass
        Largest error of flow at a connection over the total [-].
    energy
        Largest disagreement of drop between two paths over the array's drop [-].
    worst_branch
        Branch numbers of the worst pair's first, from the outermost circuit inwards.
    iterations
        Newton steps taken.
    """

    mass: float
    energy: float
    worst_branch: tuple[int, ...]
    iterations: int


@dataclass(frozen=True, slots=True)
class Solved:
    """An array that was solved together with others, at the duty and around it."""

    network: Network
    solution: Solution
    high: HeadHigh
    around: Around | None


@dataclass(frozen=True)
class FlowSplit:
    """Result of the main job.

    Attributes
    ----------
    fluids
        Brine to the ground, in the loops, from the ground.
    target
        What flow each loop should have.
    tolerance
        Allowed deviation from it, as a fraction.
    loops
        Table of all loops.
    imbalance
        Verdict and causes; None where nothing flows.
    pump
        Circulating duty.
    high
        Its pressure at the upper edge of what is known.
    heat
        Heat drawn from the ground [W], where the duty tells it; else from flow and temperatures.
    residuals
        How exactly the equations are met.
    findings, cautions
        What else the reader should know.
    circuit, network, solution
        What it was computed from, for further work without solving again.
    around
        The array at flows around the duty's, where they were solved with it.
    """

    fluids: tuple[Fluid, Fluid, Fluid]
    target: Target
    tolerance: float
    loops: LoopTable
    imbalance: Imbalance | None
    pump: CirculatingDuty
    high: HeadHigh
    heat: float
    residuals: Residuals
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    circuit: Circuit
    network: Network
    solution: Solution
    around: Around | None = None

    @cached_property
    def curve(self) -> Curve:
        """System curve, solved when first asked for."""
        wanted = self.loops.target_flow
        return system_curve(
            self.network, self.solution, wanted / max(wanted.sum(), 1e-300), self.around
        )

    @cached_property
    def headers(self) -> HeaderStretches:
        """Headers stretch by stretch, listed when first asked for."""
        return header_stretches(self.circuit, self.network, self.solution)
