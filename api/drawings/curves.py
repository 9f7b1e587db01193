"""Lines of the system-curve picture, from the engine's systems, pumps and selections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.pumps.benchmarks import Tolerance
from hydraulics.pumps.running import RunningPumps, SystemCurve, running
from hydraulics.pumps.selection import Condition, Selection, tolerance_head
from hydraulics.split.duty import Duty, HeadCurve, PumpDriven
from hydraulics.split.result import FlowSplit

Array = NDArray[np.float64]

_SAMPLES: Final = 60


@dataclass(frozen=True, slots=True, eq=False)
class SystemLine:
    """What head a system takes.

    Attributes
    ----------
    name
        ``cold``, ``warm`` or another.
    flow, head
        [m³/s], [m of the mixture].
    """

    name: str
    flow: Array
    head: Array


@dataclass(frozen=True, slots=True)
class Point:
    """A flow [m³/s] and a head [m], and what they are."""

    name: str
    flow: float
    head: float


@dataclass(frozen=True, slots=True, eq=False)
class PumpLine:
    """What head pumps give, and where they meet systems.

    Attributes
    ----------
    name
        What to call them.
    flow, head
        [m³/s], [m].
    points
        Operating points.
    low, high
        Head at the edges of the tolerance at the same flows [m]; None where there is none.
    tolerance
        What the edges are, for the key.
    """

    name: str
    flow: Array
    head: Array
    points: tuple[Point, ...] = ()
    low: Array | None = None
    high: Array | None = None
    tolerance: str = ""


def system_line(name: str, flow: Array, head: Array) -> SystemLine:
    """Line through solved points of a system, drawn as the pump selection reads them.

    Parameters
    ----------
    name
        What to call it.
    flow, head
        Solved points: volume flow [m³/s] and head [m], rising.

    Returns
    -------
    SystemLine
        Densely sampled between the first and the last point, never beyond; from rest where the
        points begin there.
    """
    if flow.size < 4 or not head[-1] > head[0]:
        return SystemLine(name, flow, head)
    curve = SystemCurve(flow, head)
    dense = np.linspace(float(flow[0]), float(flow[-1]), _SAMPLES)
    return SystemLine(name, dense, np.asarray([curve.head_at(q) for q in dense.tolist()]))


def pump_line(
    name: str, pumps: RunningPumps, points: Sequence[Point] = (), grade: Tolerance | None = None
) -> PumpLine:
    """Line of running pumps with the band in which a delivered pump may lie.

    Parameters
    ----------
    name
        What to call them.
    pumps
        As they run.
    points
        Where they meet systems.
    grade
        Tolerance of acceptance; None for no band.

    Returns
    -------
    PumpLine
        From end to end of the pump's table.
    """
    flow, head, _ = pumps.sample(_SAMPLES)
    if grade is None:
        return PumpLine(name, flow, head, tuple(points))
    low, high = (
        np.asarray([tolerance_head(pumps, grade, q, upper=upper) for q in flow.tolist()])
        for upper in (False, True)
    )
    words = (
        f"tolerance: head −{100 * grade.head_low:g}/+{100 * grade.head_high:g} %, "
        f"flow −{100 * grade.flow_low:g}/+{100 * grade.flow_high:g} %"
    )
    return PumpLine(name, flow, head, tuple(points), np.maximum(low, 0.0), high, words)


def lines_of_split(
    result: FlowSplit, duty: Duty
) -> tuple[tuple[SystemLine, ...], tuple[PumpLine, ...], tuple[Point, ...]]:
    """Lines of a flow split: its system curve, the pump where the duty names one, the duty's point.

    Parameters
    ----------
    result, duty
        The flow split and what was asked of it.

    Returns
    -------
    tuple
        Arguments of :func:`system_curve_figure`.
    """
    curve, pump = result.curve, result.pump
    systems = (system_line("system", curve.volume_flow, curve.head),) if curve.head.size else ()
    point = Point("duty", pump.volume_flow, pump.head)
    if not isinstance(duty, PumpDriven):
        return systems, (), (point,)
    given = HeadCurve(duty.flows, duty.heads)
    flow = np.linspace(duty.flows[0], duty.flows[-1], _SAMPLES)
    head = np.asarray([given.head(q)[0] for q in flow.tolist()])
    driven = Point("operating point", pump.volume_flow, pump.head)
    return systems, (PumpLine("pump as given", flow, head, (driven,)),), ()


def lines_of_selection(
    chosen: Sequence[Selection], conditions: Sequence[Condition]
) -> tuple[tuple[SystemLine, ...], tuple[PumpLine, ...], tuple[Point, ...]]:
    """Lines of a pump selection: a system curve for each condition, a curve for each pump.

    Parameters
    ----------
    chosen
        Pumps to draw, at most four for a picture that can be read.
    conditions
        Those of the selection, in the same order.

    Returns
    -------
    tuple
        Arguments of :func:`system_curve_figure`. A pump without any operating point is left out.
    """
    systems = tuple(system_line(c.name, c.system.flow, c.system.head) for c in conditions)
    pumps = []
    for selection in chosen:
        held = [(c, r.point) for c, r in zip(conditions, selection.conditions, strict=True)
                if r.point is not None]  # fmt: skip
        if not held:
            continue
        candidate = selection.candidate
        condition, first = held[0]
        runs = running(
            candidate.pump, first.speed, parallel=candidate.parallel, series=candidate.series,
            fluid=condition.fluid,
        )  # fmt: skip
        points = [Point(c.name, point.flow, point.head) for c, point in held]
        # A held head has no band: the control makes up for the pump.
        grade = selection.tolerance if not first.state.startswith("holding") else None
        pumps.append(pump_line(candidate.pump.name, runs, points, grade))
    return systems, tuple(pumps), ()
