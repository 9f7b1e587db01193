"""Picture: the flow of every loop against its target and tolerance."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from api.drawings.style import (
    BAND,
    INK,
    LINE,
    SOFT,
    STATES,
    axes,
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
from hydraulics.findings import TOLERANCE
from hydraulics.split.result import FlowSplit

Array = NDArray[np.float64]

MOST_BARS: Final = 40
"""More loops than this are drawn as a strip."""


def flows_figure(result: FlowSplit, *, title: str = "") -> Figure:
    """Draw each loop's flow: bars to 40 loops, beyond that one stem a loop on a strip.

    Parameters
    ----------
    result
        The flow split.
    title
        Name of the job.

    Returns
    -------
    Figure
        The picture.
    """
    flow, aim, deviation = _against(result)
    if flow.size <= MOST_BARS:
        return _bars(result, title, flow, aim, deviation)
    return _strip(result, title, flow, aim, deviation)


def flows_text(result: FlowSplit, *, title: str = "") -> str:
    """Text alternative of :func:`flows_figure`, with its numbers."""
    flow, aim, deviation = _against(result)
    start = f"Flow of each of {flow.size} loops" + (f" of {shortened(title, 60)}" if title else "")
    if flow.size == 1:
        name = shortened(result.loops.names[0], 40)
        return f"{start.replace('each of 1 loops', 'the only loop')}: {name} {spoken(flow[0])} L/s."
    if not flow.any():
        return f"{start}: nothing flows."
    tolerance = _tolerance(result)
    outside = int(np.count_nonzero(states_of(deviation, tolerance) != 1))
    low, high = int(deviation.argmin()), int(deviation.argmax())
    verdict = f"{outside} of {flow.size} are" if outside != 1 else f"1 of {flow.size} is"
    goal = f"{spoken(aim[0])} L/s each" if np.ptp(aim) <= 1e-9 * aim[0] else "one for each loop"
    return (
        f"{start}; target {goal}. {verdict if outside else 'None is'} outside "
        f"the tolerance of {tolerance * 100:g} per cent. {_told(result, flow, deviation, low)}; "
        f"{_told(result, flow, deviation, high)}."
    )


def _told(result: FlowSplit, flow: Array, deviation: Array, loop: int) -> str:
    name = shortened(result.loops.names[loop], 40)
    return f"{name} has {spoken(flow[loop])} L/s, {spoken_percent(float(deviation[loop]))}"


def _tolerance(result: FlowSplit) -> float:
    return result.imbalance.tolerance if result.imbalance else TOLERANCE


def _against(result: FlowSplit) -> tuple[Array, Array, Array]:
    """Flow and target of each loop [L/s], and the deviation as a fraction."""
    loops = result.loops
    return loops.volume_flow * 1e3, loops.target_flow * 1e3, loops.deviation


def _verdict(result: FlowSplit, deviation: Array, aim: Array) -> str:
    if not result.imbalance:
        return "Flow of each loop. Nothing flows."
    tolerance = _tolerance(result)
    states = states_of(deviation, tolerance)
    starved, above = int((states == 0).sum()), int((states == 2).sum())
    goal = f" {shown(aim[0])} L/s" if np.ptp(aim) <= 1e-9 * aim.max() else ""
    band = f"±{tolerance * 100:g} % of the target{goal}"
    if not starved and not above:
        return f"Flow of each loop. All {deviation.size} are within {band}."
    told = f"{starved} of {deviation.size} starved, {above} above"
    return f"Flow of each loop. {told}; tolerance {band}."


def _bars(result: FlowSplit, title: str, flow: Array, aim: Array, deviation: Array) -> Figure:
    names = result.loops.names
    count, tolerance = flow.size, _tolerance(result)
    pitch = 0.34 if count <= 12 else 0.23
    longest = max(room(shortened(name, 28)) for name in names)
    left = 0.35 + 0.078 * longest
    height = 1.76 + pitch * count
    figure = sheet(7.2, height, title or "Ground array", _verdict(result, deviation, aim))
    ax = axes(figure, left=left, right=1.75, top=0.86, bottom=0.9)
    place = np.arange(count, dtype=np.float64)
    ax.set_ylim(count - 0.45, -0.55)
    low = min(0.0, float(flow.min()))
    high = max(float(flow.max()), float((aim * (1 + tolerance)).max()), 1e-12)
    ax.set_xlim(1.06 * low, 1.06 * high)
    _tolerance_boxes(ax, place, aim, tolerance, along_x=True)
    states = states_of(deviation, tolerance)
    for index, state in enumerate(STATES):
        here = np.flatnonzero(states == index)
        ax.barh(
            place[here], flow[here], height=0.56, color=state.colour, hatch=state.hatch,
            edgecolor=INK, linewidth=0.6, zorder=2,
        )  # fmt: skip
    marks = [
        [(a, y - 0.42), (a, y + 0.42)] for y, a in zip(place.tolist(), aim.tolist(), strict=True)
    ]
    # A white casing keeps the target in sight on a hatched bar.
    ax.add_collection(LineCollection(marks, colors="white", linewidths=3.2, zorder=3))
    ax.add_collection(LineCollection(marks, colors=INK, linewidths=1.5, zorder=4))
    ax.set_yticks(place, [""] * count, minor=False)
    ax.tick_params(axis="y", length=0)
    ax.xaxis.set_major_locator(MaxNLocator(6))
    ax.set_xlabel("Flow, L/s")
    if low < 0.0:
        ax.axvline(0.0, color=INK, linewidth=0.8)
    width = figure.get_size_inches()[0]
    inside = width - left - 1.75
    for index, name in enumerate(names):
        state = STATES[states[index]]
        heavy = "bold" if states[index] == 0 else "normal"
        label(
            ax.text(-0.1 / inside, index, "", ha="right", va="center", fontsize=8.5,
                    fontweight=heavy, transform=ax.get_yaxis_transform()), name,
        )  # fmt: skip
        # Text beside the axes, in columns: it never lies on a bar.
        ax.text(1 + 0.72 / inside, index, shown(flow[index]), ha="right", va="center",
                fontsize=8.5, transform=ax.get_yaxis_transform())  # fmt: skip
        ax.text(1 + 1.5 / inside, index, percent(float(deviation[index])), ha="right",
                va="center", fontsize=8.5, fontweight=heavy,
                transform=ax.get_yaxis_transform())  # fmt: skip
        ax.plot([1 + 0.15 / inside], [index], marker=state.marker, markersize=5.5,
                markerfacecolor=state.colour, markeredgecolor=INK, markeredgewidth=0.6,
                clip_on=False, transform=ax.get_yaxis_transform())  # fmt: skip
    for words, at in (("L/s", 0.72), ("off target", 1.5)):
        ax.text(1 + at / inside, 1 + 0.05 / (pitch * count), words, ha="right", va="bottom",
                fontsize=8, color=SOFT, transform=ax.transAxes)  # fmt: skip
    key(figure, _handles(states, tolerance), at=0.1, columns=5)
    return figure


def _strip(result: FlowSplit, title: str, flow: Array, aim: Array, deviation: Array) -> Figure:
    names = result.loops.names
    count, tolerance = flow.size, _tolerance(result)
    figure = sheet(10.0, 4.4, title or "Ground array", _verdict(result, deviation, aim))
    ax = axes(figure, left=0.75, right=0.25, top=0.85, bottom=0.95)
    place = np.arange(1, count + 1, dtype=np.float64)
    _tolerance_boxes(ax, place, aim, tolerance, along_x=False)
    states = states_of(deviation, tolerance)
    ax.add_collection(
        LineCollection(
            [[(x, a), (x, q)] for x, a, q in zip(place, aim, flow, strict=True)],
            colors=[(STATES[s].colour if s != 1 else SOFT) for s in states],
            linewidths=min(2.0, 320.0 / count),
            zorder=2,
        )
    )
    ax.step(place, aim, where="mid", color=INK, linewidth=1.0, zorder=3)
    size = float(np.clip(700.0 / count, 2.2, 5.5))
    for index, state in enumerate(STATES):
        here = states == index
        ax.plot(place[here], flow[here], linestyle="", marker=state.marker, markersize=size,
                markerfacecolor=state.colour, markeredgecolor=INK,
                markeredgewidth=0.1 * size, zorder=4)  # fmt: skip
    low = min(float(flow.min()), float((aim * (1 - tolerance)).min()))
    high = max(float(flow.max()), float((aim * (1 + tolerance)).max()))
    margin = 0.16 * max(high - low, 1e-12)
    floor = low - margin if low < 0.0 else max(low - margin, -0.05 * high)
    ax.set_ylim(floor, high + margin)
    ax.set_xlim(0.0, count + 1.0)
    ax.xaxis.set_major_locator(MaxNLocator(10, integer=True, min_n_ticks=3))
    ax.set_xlabel("Loop, in the order of the layout")
    ax.set_ylabel("Flow, L/s")
    for loop, up in ((int(deviation.argmin()), False), (int(deviation.argmax()), True)):
        side = "left" if place[loop] < 0.5 * count else "right"
        words = f"{shortened(names[loop], 28)}: {percent(float(deviation[loop]))}"
        label(
            ax.annotate("", (place[loop], flow[loop]), xytext=(0, 7 if up else -7),
                        textcoords="offset points", ha=side, va="bottom" if up else "top",
                        fontsize=8.5, fontweight="bold"), words, 40,
        )  # fmt: skip
    key(figure, _handles(states, tolerance), at=0.1, columns=5)
    return figure


def _tolerance_boxes(
    ax: Axes, place: Array, aim: Array, tolerance: float, *, along_x: bool
) -> None:
    """Band about each loop's target; neighbours with one target make one band."""
    lo, hi = aim * (1 - tolerance), aim * (1 + tolerance)
    cuts = np.flatnonzero(np.abs(np.diff(aim)) > 1e-9 * np.abs(aim[1:])) + 1
    boxes = []
    for part in np.split(np.arange(aim.size), cuts):
        first, last = place[part[0]] - 0.5, place[part[-1]] + 0.5
        a, b = float(lo[part[0]]), float(hi[part[0]])
        box = [(a, first), (b, first), (b, last), (a, last)]
        boxes.append(box if along_x else [(y, x) for x, y in box])
    ax.add_collection(
        PolyCollection(boxes, facecolors=BAND, edgecolors=LINE, linewidths=0.8, zorder=0)
    )


def _handles(states: NDArray[np.intp], tolerance: float) -> list[Artist]:
    found: list[Artist] = [
        mark_of(each) for index, each in enumerate(STATES) if (states == index).any()
    ]
    found.append(Line2D([], [], color=INK, linewidth=1.4, label="target"))
    found.append(Patch(facecolor=BAND, edgecolor=LINE, label=f"±{tolerance * 100:g} %"))
    return found
