"""Picture: the array as a diagram, every pipe as wide as its flow asks.

The headers run down the page, flow and return side by side as in their trench; every branch leaves
them to the right. Coordinates are inches on the sheet, downwards.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from api.drawings.style import (
    INK,
    SOFT,
    STATES,
    WITHIN,
    key,
    label,
    mark_of,
    percent,
    room,
    sheet,
    shortened,
    shown,
    spoken,
    spoken_percent,
    states_of,
)
from api.drawings.tree import Placed, placed
from hydraulics.findings import TOLERANCE
from hydraulics.layout.circuit import Circuit
from hydraulics.split.assembly import IN_LOOP
from hydraulics.split.header_pressures import HeaderPressures, header_pressures
from hydraulics.split.result import FlowSplit

MOST_NAMED: Final = 40
"""More loops than this have no room for their names."""

_RETURN: Final = "#978b79"
_LOOP: Final = "#7d7263"
_TOP: Final = 0.95  # inches above the drawing
_FOOT: Final = 0.75
_LEFT: Final = 1.0
_TALLEST: Final = 10.5

Line = list[tuple[float, float]]


@dataclass(slots=True)
class _Pen:
    """Lines gathered in layers, to be drawn with one call each."""

    lines: list[Line] = field(default_factory=list)
    widths: list[float] = field(default_factory=list)
    colours: list[str] = field(default_factory=list)

    def line(self, points: Line, width: float, colour: str) -> None:
        self.lines.append(points)
        self.widths.append(width)
        self.colours.append(colour)

    def draw(self, ax: Axes, order: float, *, casing: float = 0.0) -> None:
        if not self.lines:
            return
        if casing:
            wide = [width + casing for width in self.widths]
            ax.add_collection(
                LineCollection(self.lines, colors="white", linewidths=wide, zorder=order - 0.1),
                autolim=False,
            )
        ax.add_collection(
            LineCollection(self.lines, colors=self.colours, linewidths=self.widths, zorder=order,
                           capstyle="projecting", joinstyle="round"), autolim=False,
        )  # fmt: skip


@dataclass(slots=True)
class _Sheet:
    """Sizes of one drawing and its layers, the lowest first."""

    total: float
    pitch: float
    column: float
    right: float
    fine: float
    returns: _Pen = field(default_factory=_Pen)
    headers: _Pen = field(default_factory=_Pen)
    flows: _Pen = field(default_factory=_Pen)
    loops: _Pen = field(default_factory=_Pen)

    @property
    def apart(self) -> float:
        """Half the distance between the two pipes of a branch."""
        return min(0.065, 0.27 * self.pitch)

    @property
    def gap(self) -> float:
        """Distance between headers side by side."""
        return min(0.17, 0.3 * self.column)

    def entry(self, depth: int) -> float:
        """Half the distance between the two pipes that enter a circuit."""
        return self.apart if depth else 0.065

    def width(self, flow: float) -> float:
        """Points, by the root of the flow, so that a loop is still seen beside a header."""
        return self.fine + 5.4 * math.sqrt(abs(flow) / self.total) if self.total else self.fine


def schematic_figure(result: FlowSplit, circuit: Circuit, *, title: str = "") -> Figure:
    """Draw the array: headers, manifolds, nested circuits and loops, with their flow.

    Parameters
    ----------
    result
        The flow split.
    circuit
        The array that it was computed from.
    title
        Name of the job.

    Returns
    -------
    Figure
        Loops out of tolerance are marked by shape and colour; to 40 loops all are named.
    """
    circuits = header_pressures(circuit, result.network, result.solution)
    count, names = len(result.loops.names), result.loops.names
    pitch = 0.36 if count <= 12 else 0.25 if count <= MOST_NAMED else 7.5 / count
    few = len(circuits) <= 16
    places, last = placed(circuits, pitch=pitch, gap=0.3 if few else 2.0 * pitch)
    squeeze = min(1.0, (_TALLEST - _TOP - _FOOT) / last) if count > MOST_NAMED else 1.0
    for each in places:
        each.branches = [squeeze * y for y in each.branches]
        each.entry, each.start = squeeze * each.entry, squeeze * each.start
    pitch, last = pitch * squeeze, last * squeeze
    depth = 1 + max(each.depth for each in circuits)
    height = _TOP + last + 0.35 + _FOOT
    width = 8.4
    words = 0.08 * max(room(shortened(n, 26)) for n in names) if count <= MOST_NAMED else 1.6
    on = _Sheet(
        total=result.solution.total, pitch=pitch, column=min(1.15, 2.9 / depth),
        right=width - words - (1.75 if count <= MOST_NAMED else 0.5),
        fine=min(0.9, 24.0 * pitch),
    )  # fmt: skip
    figure = sheet(width, height, title or "Ground array", _heading(result, circuits))
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_axis_off()
    ax.set_xlim(0.0, width)
    ax.set_ylim(height - _TOP, -_TOP)
    tolerance = result.imbalance.tolerance if result.imbalance else TOLERANCE
    states = states_of(result.loops.deviation, tolerance)
    for here in places:
        _draw_circuit(ax, on, here, states.tolist())
        if few and (here.made.parent >= 0):
            _name_circuit(ax, on, here)
    _draw_plant(ax, on, result, places[0])
    _join_circuits(on, places)
    on.returns.draw(ax, 1.0)
    on.headers.draw(ax, 2.0, casing=1.6)
    on.flows.draw(ax, 3.0, casing=0.0)
    on.loops.draw(ax, 4.0)
    _mark_loops(ax, on, result, places, states.tolist())
    ladders = any(each.circuit.arrangement != "manifold" for each in circuits)
    _draw_key(figure, on, result, states.tolist(), headers=ladders)
    return figure


def schematic_text(result: FlowSplit, circuit: Circuit, *, title: str = "") -> str:
    """Text alternative of :func:`schematic_figure`, with its numbers."""
    circuits = header_pressures(circuit, result.network, result.solution)
    start = "Diagram" + (f" of {shortened(title, 60)}" if title else " of the array")
    names, deviation = result.loops.names, result.loops.deviation
    total = spoken(result.pump.volume_flow * 1e3)
    words = (
        f"{start}: {_kind(circuits[0].circuit)} of {len(names)} loop{'s' * (len(names) > 1)}"
        f"{_left_out(result)} in "
        f"{len(circuits)} circuit{'s' * (len(circuits) > 1)}, {total} L/s in all."
    )
    if not result.imbalance or len(names) == 1:
        return words
    starved = np.flatnonzero(states_of(deviation, result.imbalance.tolerance) == 0)
    if not starved.size:
        return f"{words} No loop is starved."
    worst = starved[np.argsort(deviation[starved], kind="stable")][:4]
    told = ", ".join(
        f"{shortened(names[i], 40)} {spoken_percent(float(deviation[i]))}" for i in worst.tolist()
    )
    more = f" and {starved.size - worst.size} more" if starved.size > worst.size else ""
    return f"{words} Starved: {told}{more}."


def _kind(circuit: Circuit) -> str:
    return circuit.arrangement.replace("_", " ")


def _heading(result: FlowSplit, circuits: tuple[HeaderPressures, ...]) -> str:
    inner = len(circuits) - 1
    nested = f" with {inner} nested circuit{'s' * (inner > 1)}" if inner else ""
    count = len(result.loops.names)
    return (
        f"Diagram, not to scale: {_kind(circuits[0].circuit)}{nested}, {count} "
        f"loop{'s' * (count > 1)}{_left_out(result)}, "
        f"{shown(result.pump.volume_flow * 1e3)} L/s."
    )


def _left_out(result: FlowSplit) -> str:
    """How many loops carry nothing since a valve shuts them: the picture is of the others."""
    closed = len(result.network.closed)
    return f" and {closed} closed (not drawn)" if closed else ""


def _header_at(on: _Sheet, depth: int) -> float:
    """Where the flow header or manifold of a circuit stands."""
    return _LEFT + 0.45 + depth * on.column


def _draw_circuit(ax: Axes, on: _Sheet, here: Placed, states: list[int]) -> None:
    if here.made.circuit.arrangement == "manifold":
        _draw_manifold(ax, on, here, states)
    else:
        _draw_ladder(ax, on, here, states)


def _draw_branch(  # noqa: PLR0917 (internal)
    on: _Sheet, here: Placed, branch: int, start: tuple[float, float], bend: float,
    states: list[int],
) -> None:  # fmt: skip
    """One branch: a hairpin for a loop; where a circuit hangs, it joins the lines itself.

    ``start`` is where its flow pipe leaves (x, y), ``bend`` where both pipes are level.
    """
    loop = int(here.made.loops[branch])
    if loop < 0:
        return
    y, apart = here.branches[branch], on.apart
    width = on.width(float(here.made.flow[branch]))
    colour = _LOOP if states[loop] == 1 else STATES[states[loop]].colour
    x0, y0 = start
    end = on.right
    if on.pitch * 72.0 < 5.0:  # too close for two lines: one stands for the pair
        on.flows.line([(x0, y0), (bend, y), (end, y)], width, colour)
        return
    on.flows.line([(x0, y0 - apart), (bend, y - apart)], width, colour)
    on.returns.line([(x0 - on.gap, y0 + apart), (x0, y0 + apart), (bend, y + apart)], width, colour)
    turn = np.linspace(-0.5 * math.pi, 0.5 * math.pi, 9)
    arc = [(end + apart * math.cos(a), y + apart * math.sin(a)) for a in turn.tolist()]
    on.loops.line([(bend, y - apart), *arc, (bend, y + apart)], width, colour)


def _draw_ladder(ax: Axes, on: _Sheet, here: Placed, states: list[int]) -> None:
    made, x, apart = here.made, _header_at(on, here.made.depth), on.apart
    reverse = made.circuit.arrangement == "reverse_return"
    back = x - on.gap
    entry = on.entry(made.depth)
    top, above, beneath = here.entry, here.entry - entry, here.entry + entry
    y = [top, *here.branches]
    for branch, (begin, end) in enumerate(itertools.pairwise(y)):
        _draw_branch(on, here, branch, (x, end), x, states)
        first = above if branch == 0 else begin - apart
        on.headers.line(
            [(x, first), (x, end - apart)], on.width(float(made.supply_flow[branch])), INK
        )
        if not reverse:
            first = beneath if branch == 0 else begin + apart
            on.headers.line(
                [(back, first), (back, end + apart)],
                on.width(float(made.return_flow[branch])), _RETURN,
            )  # fmt: skip
    if reverse:
        foot = y[-1] + max(0.5 * on.pitch, apart + 0.05)
        for branch, (begin, end) in enumerate(itertools.pairwise(y[1:])):
            on.headers.line(
                [(back, begin + apart), (back, end + apart)],
                on.width(float(made.return_flow[branch])), _RETURN,
            )  # fmt: skip
        closing = x - 2 * on.gap
        on.headers.line(
            [(back, y[-1] + apart), (back, foot), (closing, foot), (closing, beneath)],
            on.width(float(made.return_flow[-1])), _RETURN,
        )  # fmt: skip
    size = 4.5 if on.pitch > 0.15 else 3.5
    middle = 0.5 * (y[0] + y[1]) if len(y) < 3 else 0.5 * (y[1] + y[2])
    _arrow(ax, x, middle, 180.0, size)
    _arrow(ax, back, middle, 180.0 if reverse else 0.0, size)
    if reverse:
        _arrow(ax, x - 2 * on.gap, middle, 0.0, size)


def _arrow(ax: Axes, x: float, y: float, angle: float, size: float) -> None:
    """Direction of flow, white on its pipe; angle 0 points up the page."""
    ax.plot([x], [y], marker=(3, 0, angle), markersize=size + 2.5, markerfacecolor="white",
            markeredgecolor=INK, markeredgewidth=0.7, zorder=6)  # fmt: skip


def _draw_manifold(ax: Axes, on: _Sheet, here: Placed, states: list[int]) -> None:
    x, apart = _header_at(on, here.made.depth), on.apart
    y = here.branches
    spread = 0.5 * max(y[-1] - y[0], 0.0)
    count = len(y)
    ports = np.linspace(here.entry - 0.5 * spread, here.entry + 0.5 * spread, count).tolist()
    if count == 1:
        ports = list(y)
    for branch, port in enumerate(ports):
        _draw_branch(on, here, branch, (x, port), x + 0.55 * on.column, states)
    ends = (ports[0] - apart - 0.1, ports[-1] + apart + 0.1)
    for at, face in ((x, INK), (x - on.gap, "white")):
        ax.add_patch(
            Rectangle((at - 0.045, ends[0]), 0.09, ends[1] - ends[0], facecolor=face,
                      edgecolor=INK, linewidth=1.0, zorder=5)
        )  # fmt: skip


def _join_circuits(on: _Sheet, places: list[Placed]) -> None:
    """Pipes between a branch and the circuit that hangs on it."""
    for here in places:
        made = here.made
        if made.parent < 0:
            continue
        above = places[made.parent]
        x0, y0 = _header_at(on, above.made.depth), here.entry
        if above.made.circuit.arrangement == "manifold":
            y = above.branches
            spread, count = 0.5 * (y[-1] - y[0]), len(y)
            if count > 1:
                y0 = above.entry - 0.5 * spread + spread * made.parent_branch / (count - 1)
        width = on.width(float(above.made.flow[made.parent_branch]))
        bend = x0 + 0.3 * on.column
        _pair(on, (x0, y0), bend, here, width)


def _pair(on: _Sheet, start: tuple[float, float], bend: float, here: Placed, width: float) -> None:
    (x0, y0), apart = start, on.apart
    x1, y1 = _header_at(on, here.made.depth), here.entry
    kind = here.made.circuit.arrangement
    home = x1 - (2 * on.gap if kind == "reverse_return" else on.gap)
    on.flows.line([(x0, y0 - apart), (bend, y1 - apart), (x1, y1 - apart)], width, INK)
    on.returns.line(
        [(home, y1 + apart), (bend, y1 + apart), (x0, y0 + apart), (x0 - on.gap, y0 + apart)],
        width, _RETURN,
    )  # fmt: skip


def _draw_plant(ax: Axes, on: _Sheet, result: FlowSplit, root: Placed) -> None:
    y, apart = root.entry, on.entry(0)
    width = on.width(on.total)
    x1 = _header_at(on, 0)
    home = x1 - (2 * on.gap if root.made.circuit.arrangement == "reverse_return" else on.gap)
    on.flows.line([(_LEFT - 0.15, y - apart), (x1, y - apart)], width, INK)
    on.returns.line([(_LEFT - 0.15, y + apart), (home, y + apart)], width, _RETURN)
    ax.add_patch(
        Rectangle((0.18, y - 0.24), _LEFT - 0.33, 0.48, facecolor="white", edgecolor=INK,
                  linewidth=1.0, zorder=5)
    )  # fmt: skip
    middle = 0.5 * (0.18 + _LEFT - 0.15)
    ax.text(middle, y - 0.02, "plant", ha="center", va="bottom", fontsize=8.5, zorder=6)
    ax.text(middle, y + 0.02, f"{shown(result.pump.volume_flow * 1e3)} L/s", ha="center",
            va="top", fontsize=8, zorder=6)  # fmt: skip


def _name_circuit(ax: Axes, on: _Sheet, here: Placed) -> None:
    made = here.made
    flow = shown(float(made.flow.sum()) / on.total * 100.0) if on.total else "0"
    words = f"{made.name or _kind(made.circuit)}, {flow} % of the flow"
    top = here.start + (0.05 if made.circuit.arrangement == "manifold" else -0.02)
    text = ax.text(_header_at(on, made.depth) + 0.12, top, "", va="bottom", fontsize=8,
                   color=SOFT, zorder=7)  # fmt: skip
    label(text, words, 48)


def _mark_loops(
    ax: Axes, on: _Sheet, result: FlowSplit, places: list[Placed], states: list[int]
) -> None:
    """State of each loop at its far end, and its name and flow where there is room."""
    table = result.loops
    count = len(states)
    at = {
        loop: y
        for here in places
        for y, loop in zip(here.branches, here.made.loops.tolist(), strict=True)
        if loop >= 0
    }
    x = on.right + 0.2
    size = 6.0 if count <= MOST_NAMED else float(np.clip(700.0 / count, 2.0, 5.0))
    for index, state in enumerate(STATES):
        y_of = [y for loop, y in at.items() if states[loop] == index]
        if y_of and (index != 1 or count <= MOST_NAMED):
            # Beyond 40 loops the two kinds of mark stand in columns of their own.
            shift = 0.0 if count <= MOST_NAMED or index == 0 else 0.14
            ax.plot([x + shift] * len(y_of), y_of, linestyle="", marker=state.marker,
                    markersize=size, markerfacecolor=state.colour, markeredgecolor=INK,
                    markeredgewidth=0.1 * size, zorder=6)  # fmt: skip
    named = range(count) if count <= MOST_NAMED else _extremes(result)
    for loop in named:
        heavy = "bold" if states[loop] == 0 else "normal"
        y, deviation = at[loop], percent(float(table.deviation[loop]))
        if count > MOST_NAMED:
            text = ax.text(x + 0.3, y, "", va="center", fontsize=8, fontweight=heavy)
            label(text, f"{shortened(table.names[loop], 16)} {deviation}", 40)
            continue
        text = ax.text(x + 0.15, y, "", va="center", fontsize=8.5, fontweight=heavy)
        label(text, table.names[loop], 26)
        end = ax.get_xlim()[1] - 0.15
        ax.text(end - 0.62, y, shown(float(table.volume_flow[loop]) * 1e3), ha="right",
                va="center", fontsize=8.5)  # fmt: skip
        ax.text(end, y, deviation, ha="right", va="center", fontsize=8.5, fontweight=heavy)
    if count <= MOST_NAMED:
        end, top = ax.get_xlim()[1] - 0.15, min(at.values()) - 0.6 * on.pitch
        for words, where in (("L/s", end - 0.62), ("off target", end)):
            ax.text(where, top, words, ha="right", va="center", fontsize=8, color=SOFT)


def _extremes(result: FlowSplit) -> list[int]:
    """Loops with the least and the most flow."""
    deviation = result.loops.deviation
    return sorted({int(deviation.argmin()), int(deviation.argmax())})


def _draw_key(
    figure: Figure, on: _Sheet, result: FlowSplit, states: list[int], *, headers: bool
) -> None:
    density = result.network.fluids[IN_LOOP].density
    whole, mean = on.total / density * 1e3, on.total / density * 1e3 / len(states)
    handles = [
        Line2D([], [], color=colour, linewidth=on.width(flow), label=words, solid_capstyle="butt")
        for colour, flow, words in (
            (INK, on.total, f"flow, {shown(whole)} L/s"),
            (_RETURN, on.total, "return"),
            (_LOOP, on.total / len(states), f"loop, {shown(mean)} L/s"),
        )
    ]
    if headers:
        handles.append(
            Line2D([], [], linestyle="", marker=(3, 0, -90), markersize=7, markerfacecolor="white",
                   markeredgecolor=INK, markeredgewidth=0.7, label="direction")
        )  # fmt: skip
    few = len(states) <= MOST_NAMED
    handles += [
        mark_of(state)
        for index, state in enumerate(STATES)
        if index in states and (few or state is not WITHIN)
    ]
    key(figure, handles, at=0.1, columns=4)
