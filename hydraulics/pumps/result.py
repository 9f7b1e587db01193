"""Pumps judged on an array, as values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydraulics.findings import Finding
from hydraulics.pumps.selection import Condition, Selection, SetAside
from hydraulics.split.assembly import Network
from hydraulics.split.reached import Reached
from hydraulics.split.result import FlowSplit
from hydraulics.split.state import Solution

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class ArrayCondition:
    """The array at one temperature.

    Attributes
    ----------
    condition
        System curve, brine and hours, as the pumps see them.
    to_ground_temperature, from_ground_temperature
        [°C]
    network, solution
        The array with this brine, solved at the flow of the duty.
    at_pump
        The flow split at the flow of the pump ranked first; None where it has no operating point.
    """

    condition: Condition
    to_ground_temperature: float
    from_ground_temperature: float
    network: Network
    solution: Solution
    at_pump: Reached | None = None

    @property
    def at_pump_temperatures(self) -> tuple[float, float] | None:
        """Brine out and back at the pump's flow [°C]; None where nothing flows.

        The heat of the duty's flow changes less brine by more. It is taken to come back as it was
        designed to, and to go out colder (of heat put back: warmer) by the whole difference: where
        the ground holds the mean of the two, half of it.
        """
        if self.at_pump is None or self.at_pump.solution.total <= 0.0:
            return None
        change = self.from_ground_temperature - self.to_ground_temperature
        change *= self.solution.total / self.at_pump.solution.total
        return self.from_ground_temperature - change, self.from_ground_temperature


@dataclass(frozen=True, slots=True, eq=False)
class PumpsOnArray:
    """Pumps judged on an array.

    Attributes
    ----------
    split
        The array at the duty, cold.
    conditions
        Cold, and warm where it is given.
    selections
        Ranked: those that meet the duty by energy, then the others.
    places
        Position of each selection's candidate in the list of candidates.
    own
        How many of those candidates are the caller's; the rest are invented.
    set_aside
        Candidates that are not judged, in their order.
    findings
        Of the choice.
    """

    split: FlowSplit
    conditions: tuple[ArrayCondition, ...]
    selections: tuple[Selection, ...]
    places: tuple[int, ...]
    own: int
    set_aside: tuple[SetAside, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class CandidateCurve:
    """A candidate's curve on the brine of one condition, with the edges of its tolerance.

    Attributes
    ----------
    flow, head, power
        [m³/s], [m of the brine], [W]
    low, high
        Head of the weakest and of the strongest pump that the tolerance accepts [m].
    """

    flow: Array
    head: Array
    power: Array
    low: Array
    high: Array
