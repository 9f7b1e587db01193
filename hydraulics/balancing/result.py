"""The ways to balance an array side by side, as values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hydraulics.balancing.other_pipe import Tried
from hydraulics.balancing.valves import ValveSettings
from hydraulics.findings import COMMON_PRACTICE, Finding, figures
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.contents import Part
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.imbalance import Imbalance
from hydraulics.split.reached import Reached
from hydraulics.split.result import CirculatingDuty, FlowSplit

Array = NDArray[np.float64]
WayKind = Literal[
    "regulating_valves", "spare_pipe", "reverse_return", "larger_headers", "other_loop_pipe"
]
Verdict = Literal["reaches", "misses", "not_possible"]
Disturbance = Literal["valves_at_ports", "loop_ends_opened", "headers_laid_anew", "loops_laid_anew"]


@dataclass(frozen=True, slots=True)
class PipeTaken:
    """Pipe that a way adds to the array, or (negative) no longer needs.

    Attributes
    ----------
    part
        ``"loops"``, ``"headers"`` or ``"runs"``.
    pipe
        The pipe.
    length
        [m]
    """

    part: Part
    pipe: Pipe
    length: float


@dataclass(frozen=True, slots=True)
class Way:
    """One way to make every loop reach its target flow.

    Attributes
    ----------
    kind
        Which way.
    verdict
        ``reaches``: every loop within tolerance; ``misses``: solved, but not so; ``not_possible``:
        does not apply to this array.
    reason
        One sentence: why it misses or is not possible, or what it comes to.
    reached
        Flows, spread and duty with it; None where it is not possible.
    power_change
        Hydraulic power with it less before [W].
    energy_change
        Electricity in a year with it less before [J].
    valves
        Valves needed.
    pipes
        Pipe needed and no longer needed.
    volume_change
        Contents with it less before [m³].
    settings
        Of regulating valves.
    kv_before
        Kv [m³/h] to which each loop's valve is set as the array is; infinite where it has none.
    exact
        Regulating valves from a table: what the exact settings would reach.
    spare_length
        Pipe added to each loop [m].
    candidates
        Pipes tried, in the order tried.
    circuit
        The changed array, to work on with; None where it is the same.
    findings
        What to know before choosing it.
    disturbs, disturbs_what
        What of the array, once laid, it disturbs, and how much of it in words.
    heat_gained
        Heat exchanged with it more than before, at one entering temperature and ground [W]; None
        where the ground is not told.
    rank, rank_reason
        Its place among the ways that reach and can be laid, and why, in words; None and empty for
        the others.
    """

    kind: WayKind
    verdict: Verdict
    reason: str
    reached: Reached | None = None
    power_change: float = 0.0
    energy_change: float = 0.0
    valves: int = 0
    pipes: tuple[PipeTaken, ...] = ()
    volume_change: float = 0.0
    settings: ValveSettings | None = None
    kv_before: Array | None = None
    exact: Reached | None = None
    spare_length: Array | None = None
    candidates: tuple[Tried, ...] = ()
    circuit: Circuit | None = None
    findings: tuple[Finding, ...] = ()
    disturbs: Disturbance | None = None
    disturbs_what: str = ""
    heat_gained: float | None = None
    rank: int | None = None
    rank_reason: str = ""

    @property
    def pipe_added(self) -> float:
        """Pipe needed, that which is no longer needed not taken off [m]."""
        return sum(each.length for each in self.pipes if each.length > 0.0)


def not_needed(judged: Imbalance, then: str, *, warns: bool = False) -> Finding:
    """Tell that every loop is within its tolerance as it is, and what is done of ways, in words."""
    return Finding(
        "balancing_not_needed",
        "warning" if warns else "info",
        f"Every loop is within {figures(judged.tolerance * 100.0)} % of its target (spread "
        f"{figures(judged.spread * 100.0)} %): no balancing is needed. {then}.",
        COMMON_PRACTICE,
    )


@dataclass(frozen=True, slots=True)
class Balancing:
    """The ways to balance an array, side by side.

    Attributes
    ----------
    names, places
        Of the loops, in the order of every array of results.
    target
        Mass flow that each loop should have [kg/s].
    tolerance
        Allowed deviation from it, as a fraction.
    ways
        One for each kind, whether possible or not.
    pump_efficiency, run_hours
        What energy is reckoned with [-], [h a year].
    method
        In words.
    split
        The flow split of the array as it is.
    heat_from
        Where the ground that heat is reckoned with is from, in words.
    """

    names: tuple[str, ...]
    places: tuple[tuple[int, ...], ...]
    target: Array
    tolerance: float
    ways: tuple[Way, ...]
    pump_efficiency: float
    run_hours: float
    method: str
    split: FlowSplit
    heat_from: str

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Those of the split, and that no way is needed where it is even as it is."""
        judged = self.split.imbalance
        if judged is None or not judged.within_tolerance:
            return self.split.findings
        then = "The ways are compared all the same, and what they leave may be less even"
        return (*self.split.findings, not_needed(judged, then))

    def yearly_energy(self, duty: CirculatingDuty) -> float:
        """Electricity of a year for a duty [J]: hydraulic power by run hours over efficiency."""
        return duty.hydraulic_power * self.run_hours * 3600.0 / self.pump_efficiency
