"""Picture: pressure along the flow and return headers of every circuit."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from api.drawings.style import (
    BAND,
    EVEN,
    INK,
    LINE,
    SOFT,
    STATES,
    axes,
    key,
    label,
    mark_of,
    room,
    sheet,
    shortened,
    shown,
    spoken,
    states_of,
)
from api.drawings.tree import Placed, placed
from hydraulics.findings import TOLERANCE
from hydraulics.layout.circuit import Circuit
from hydraulics.split.header_pressures import HeaderPressures, header_pressures
from hydraulics.split.result import FlowSplit

_MOST_NAMED: Final = 24  # more names than this would write over each other
_MOST_MARKED: Final = 80


def pressure_profile_figure(result: FlowSplit, circuit: Circuit, *, title: str = "") -> Figure:
    """Draw the pressure above the array's return connection along the headers.

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
        Against distance along the flow header where the array is one circuit with headers; else
        against the loops in their order.
    """
    circuits = header_pressures(circuit, result.network, result.solution)
    along = _by_distance(circuits)
    named = not along and len(result.loops.names) <= _MOST_NAMED
    foot = (
        min(0.062 * max(room(shortened(n, 20)) for n in result.loops.names), 1.4) if named else 0.0
    )
    wide = 7.2 if len(result.loops.names) <= 40 else 10.0
    figure = sheet(
        wide, (4.3 if named else 4.6) + foot, title or "Ground array", _heading(result, circuits)
    )
    ax = axes(figure, left=0.75, right=0.35, top=0.85, bottom=(0.7 if named else 1.0) + foot)
    places, last = placed(circuits)
    for each in places:
        if along:
            each.branches, each.start = each.made.distance.tolist(), 0.0
            last = each.branches[-1]
        _draw_circuit(ax, each, last)
    _draw_loops(ax, result, places)
    top = max(result.solution.array_drop / 1e3, 1e-9)
    ax.set_ylim(min(0.0, *(float(c.back.min()) / 1e3 for c in circuits)) - 0.03 * top, 1.12 * top)
    ax.set_xlim(-0.02 * last, 1.04 * last if along else last + 0.6)
    ax.set_ylabel("Pressure above return connection, kPa")
    ax.grid(axis="y", color=LINE, linewidth=0.5)
    ax.xaxis.set_major_locator(MaxNLocator(9, integer=not along))
    ax.set_xlabel("Distance along the flow header, m" if along else "Loop, in layout order")
    if named:
        _name_loops(ax, result, places)
    _draw_key(figure, result, circuits)
    return figure


def pressure_profile_text(result: FlowSplit, circuit: Circuit, *, title: str = "") -> str:
    """Text alternative of :func:`pressure_profile_figure`, with its numbers."""
    start = "Pressure along the headers" + (f" of {shortened(title, 60)}" if title else "")
    if not result.solution.total:
        return f"{start}: nothing flows, so there is no pressure difference."
    circuits = header_pressures(circuit, result.network, result.solution)
    names, drop = result.loops.names, result.loops.drop / 1e3
    low, high = int(drop.argmin()), int(drop.argmax())
    connections = (
        f"{start}, {_kind(circuits)}: {spoken(result.solution.array_drop / 1e3)} kPa between the "
        "array's connections."
    )
    if spoken(drop[low]) == spoken(drop[high]):
        return f"{connections} {spoken(drop[low])} kPa across every loop."
    return (
        f"{connections} Least across {shortened(names[low], 40)}, {spoken(drop[low])} kPa; "
        f"most across {shortened(names[high], 40)}, {spoken(drop[high])} kPa."
    )


def _by_distance(circuits: tuple[HeaderPressures, ...]) -> bool:
    only = circuits[0]
    return len(circuits) == 1 and float(only.distance[-1]) > 0.0


def _kind(circuits: tuple[HeaderPressures, ...]) -> str:
    kind = circuits[0].circuit.arrangement.replace("_", " ")
    inner = len(circuits) - 1
    return f"{kind} with {inner} nested circuit{'s' * (inner > 1)}" if inner else kind


def _heading(result: FlowSplit, circuits: tuple[HeaderPressures, ...]) -> str:
    if not result.solution.total:
        return "Nothing flows; there is no pressure difference."
    drop = result.loops.drop / 1e3
    low, high = shown(drop.min()), shown(drop.max())
    span = f"{low} kPa across every loop" if low == high else f"{low} to {high} kPa across loops"
    return f"Pressure along the headers, {_kind(circuits)}. {span}."


def _draw_circuit(ax: Axes, here: Placed, last: float) -> None:
    """Headers of one circuit; the outer the circuit, the heavier its lines."""
    made, x = here.made, np.asarray(here.branches)
    width = max(2.4 - 0.7 * made.depth, 0.9)
    begin = here.start if made.depth == 0 else here.entry
    if made.depth and made.circuit.arrangement == "manifold":
        begin = float(x[0])
    supply = np.concatenate(([made.inlet], made.supply)) / 1e3
    if (made.loops >= 0).all():
        ax.fill_between(x, made.back / 1e3, made.supply / 1e3, facecolor=BAND, edgecolor="none",
                        zorder=0)  # fmt: skip
    ax.plot(np.concatenate(([begin], x)), supply, color=INK, linewidth=width, zorder=4,
            drawstyle="default", solid_joinstyle="round")  # fmt: skip
    back = made.back / 1e3
    style: dict[str, Any] = {
        "color": SOFT, "linewidth": width, "linestyle": (0, (4, 1.6)), "zorder": 4,
    }  # fmt: skip
    if made.circuit.arrangement == "reverse_return":
        ax.plot(x, back, **style)
        ax.plot([x[-1], begin], [back[-1], made.outlet / 1e3], color=SOFT, linewidth=1.0,
                linestyle=(0, (1, 2)), zorder=4)  # fmt: skip
    else:
        ax.plot(np.concatenate(([begin], x)), np.concatenate(([made.outlet / 1e3], back)), **style)
    # Runs from the header to loop or inner circuit.
    for near, far in ((made.supply, made.far_supply), (made.back, made.far_back)):
        runs = [
            [(a, p / 1e3), (a, q / 1e3)] for a, p, q in zip(x, near, far, strict=True) if p != q
        ]
        if runs:
            ax.add_collection(
                LineCollection(runs, colors=SOFT, linewidths=0.9, linestyles=(0, (1, 1.5)),
                               zorder=3), autolim=False,
            )  # fmt: skip


def _draw_loops(ax: Axes, result: FlowSplit, places: list[Placed]) -> None:
    """Pressure across every loop as an upright line, marked where the loop is out of tolerance."""
    tolerance = result.imbalance.tolerance if result.imbalance else TOLERANCE
    states = states_of(result.loops.deviation, tolerance)
    count = states.size
    lines, colours = [], []
    marks: dict[int, list[tuple[float, float]]] = {0: [], 1: [], 2: []}
    for here in places:
        made = here.made
        for x, loop, up, down in zip(
            here.branches, made.loops.tolist(), made.far_supply / 1e3, made.far_back / 1e3,
            strict=True,
        ):  # fmt: skip
            if loop < 0:
                continue
            state = int(states[loop])
            lines.append([(x, up), (x, down)])
            colours.append(EVEN if state == 1 else STATES[state].colour)
            marks[state].append((x, 0.5 * (up + down)))
    width = float(np.clip(160.0 / count, 0.5, 2.0))
    ax.add_collection(
        LineCollection(lines, colors=colours, linewidths=width, zorder=2), autolim=False
    )
    for index, kind in enumerate(STATES):
        if marks[index] and (index != 1 or count <= _MOST_MARKED):
            at = np.asarray(marks[index])
            ax.plot(at[:, 0], at[:, 1], linestyle="", marker=kind.marker,
                    markersize=float(np.clip(500.0 / count, 2.2, 6.5)),
                    markerfacecolor=kind.colour, markeredgecolor=INK, markeredgewidth=0.5,
                    zorder=5)  # fmt: skip


def _name_loops(ax: Axes, result: FlowSplit, places: list[Placed]) -> None:
    ax.set_xticks([])
    ax.set_xlabel("")
    for here in places:
        for x, loop in zip(here.branches, here.made.loops.tolist(), strict=True):
            if loop >= 0:
                text = ax.text(
                    x, -0.03, "", rotation=90, rotation_mode="anchor", ha="right", va="center",
                    fontsize=8, transform=ax.get_xaxis_transform(),
                )  # fmt: skip
                label(text, result.loops.names[loop], 20)


def _draw_key(figure: Figure, result: FlowSplit, circuits: tuple[HeaderPressures, ...]) -> None:
    tolerance = result.imbalance.tolerance if result.imbalance else TOLERANCE
    states = states_of(result.loops.deviation, tolerance)
    handles = [
        Line2D([], [], color=INK, linewidth=2.2, label="flow header"),
        Line2D([], [], color=SOFT, linewidth=2.2, linestyle=(0, (4, 1.6)), label="return header"),
    ]
    if any(c.circuit.arrangement == "reverse_return" for c in circuits):
        handles.append(
            Line2D([], [], color=SOFT, linewidth=1.0, linestyle=(0, (1, 2)), label="closing run")
        )
    if any((c.supply != c.far_supply).any() for c in circuits):
        handles.append(
            Line2D([], [], color=SOFT, linewidth=0.9, linestyle=(0, (1, 1.5)), label="runs")
        )
    handles += [mark_of(state) for index, state in enumerate(STATES) if (states == index).any()]
    key(figure, handles, at=0.1, columns=4)
