"""Picture: system curve, cold and warm, over pump curves, with operating points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator
from matplotlib.typing import LineStyleType

from api.drawings.curves import Point, PumpLine, SystemLine
from api.drawings.style import (
    BAND,
    BLUE,
    GREEN,
    INK,
    LINE,
    PURPLE,
    SOFT,
    VERMILLION,
    axes,
    key,
    label,
    sheet,
    shortened,
    shown,
    spoken,
)

_MOST_TOLD: Final = 4  # more operating points than this would write over each other


@dataclass(frozen=True, slots=True)
class _Style:
    colour: str
    dash: LineStyleType
    marker: str = ""


_SYSTEM_STYLES: Final = (
    _Style(INK, "-"),
    _Style(SOFT, "--"),
    _Style(SOFT, ":"),
    _Style(SOFT, "-."),
)
_PUMP_STYLES: Final = (
    _Style(BLUE, "-", "o"),
    _Style(VERMILLION, "--", "s"),
    _Style(GREEN, "-.", "D"),
    _Style(PURPLE, ":", "P"),
)
_DUTY: Final = _Style(VERMILLION, "", "o")


def system_curve_figure(
    systems: Sequence[SystemLine],
    pumps: Sequence[PumpLine] = (),
    points: Sequence[Point] = (),
    *,
    title: str = "",
) -> Figure:
    """Draw system curves, pump curves and where they meet.

    Parameters
    ----------
    systems
        Cold first, then warmer ones.
    pumps
        Pumps to compare.
    points
        Duties to mark beside the pumps' own operating points.
    title
        Name of the job.

    Returns
    -------
    Figure
        The picture.
    """
    rows = -(-(len(systems) + len(pumps) + 1) // 2)
    figure = sheet(7.2, 4.7 + 0.2 * rows, title or "Ground array", _heading(systems, pumps, points))
    ax = axes(figure, left=0.7, right=0.35, top=0.8, bottom=0.75 + 0.2 * rows)
    handles: list[Artist] = []
    for index, pump in enumerate(pumps):
        style = _PUMP_STYLES[index % len(_PUMP_STYLES)]
        if pump.low is not None and pump.high is not None:
            ax.fill_between(pump.flow * 1e3, pump.low, pump.high, facecolor=BAND, edgecolor=LINE,
                            linewidth=0.6, zorder=1)  # fmt: skip
            if not any(isinstance(handle, Patch) for handle in handles):
                handles.append(Patch(facecolor=BAND, edgecolor=LINE, label=pump.tolerance))
        ax.plot(pump.flow * 1e3, pump.head, color=style.colour, linestyle=style.dash,
                linewidth=1.6, zorder=3)  # fmt: skip
        sample = Line2D([], [], color=style.colour, linestyle=style.dash, linewidth=1.6,
                        marker=style.marker, markeredgecolor=INK)  # fmt: skip
        handles.append(_named(sample, pump.name))
    for index, line in enumerate(systems):
        style = _SYSTEM_STYLES[index % len(_SYSTEM_STYLES)]
        sample = Line2D([], [], color=style.colour, linestyle=style.dash, linewidth=2.0)
        ax.plot(line.flow * 1e3, line.head, color=style.colour, linestyle=style.dash,
                linewidth=2.0, zorder=3)  # fmt: skip
        handles.append(
            _named(sample, line.name if line.name == "system" else f"system, {line.name}")
        )
    told = [(p, _PUMP_STYLES[i % len(_PUMP_STYLES)]) for i, pump in enumerate(pumps)
            for p in pump.points]  # fmt: skip
    told += [(point, _DUTY) for point in points]
    lines: list[SystemLine | PumpLine] = [*systems, *pumps]
    flows = [float(line.flow[-1]) for line in lines if line.flow.size]
    heads = [float(line.head.max()) for line in lines if line.head.size]
    ax.set_xlim(0.0, 1.06e3 * max([*flows, *(p.flow for p, _ in told)], default=0.0) or 1.0)
    ax.set_ylim(0.0, 1.06 * max([*heads, *(p.head for p, _ in told)], default=0.0) or 1.0)
    for point, style in told:
        ax.plot([point.flow * 1e3], [point.head], marker=style.marker, markersize=7.5,
                linestyle="", markerfacecolor=style.colour, markeredgecolor="white",
                markeredgewidth=1.2, zorder=6, clip_on=False)  # fmt: skip
    if len(told) <= _MOST_TOLD:
        for index, (point, _) in enumerate(told):
            # Curves cross like an X: above and below the crossing there is room for words.
            _tell(ax, point, (0.0, 46.0 if index % 2 == 0 else -46.0) if pumps else (-10.0, 8.0))
    ax.grid(color=LINE, linewidth=0.5)
    ax.xaxis.set_major_locator(MaxNLocator(8))
    ax.yaxis.set_major_locator(MaxNLocator(7))
    ax.set_xlabel("Flow, L/s")
    ax.set_ylabel("Head, m of the mixture")
    key(figure, handles, at=0.1, columns=2)
    return figure


def _named(sample: Line2D, words: str) -> Line2D:
    sample.set_label(shortened(words, 48))
    return sample


def _tell(ax: Axes, point: Point, offset: tuple[float, float]) -> None:
    """Write a point's name, flow and head beside it."""
    words = f"{point.name}: {shown(point.flow * 1e3)} L/s, {shown(point.head)} m"
    dx, dy = offset
    text = ax.annotate(
        "", (point.flow * 1e3, point.head), xytext=offset, textcoords="offset points",
        ha="center" if dx == 0.0 else "right", va="bottom" if dy > 0.0 else "top",
        fontsize=8.5, fontweight="bold", zorder=7,
        arrowprops={"arrowstyle": "-", "color": SOFT, "linewidth": 0.7, "shrinkB": 5.0}
        if dx == 0.0
        else None,
    )  # fmt: skip
    label(text, words, 60)


def _heading(
    systems: Sequence[SystemLine], pumps: Sequence[PumpLine], points: Sequence[Point]
) -> str:
    if not systems:
        return "Nothing flows; there is no system curve."
    parts = ["System curve" + ("s" if len(systems) > 1 else "")]
    if pumps:
        parts.append(f"{len(pumps)} pump curve{'s' * (len(pumps) > 1)}")
    met = [*points, *(point for pump in pumps for point in pump.points)]
    if len(met) == 1:
        parts.append(f"{met[0].name} {shown(met[0].flow * 1e3)} L/s at {shown(met[0].head)} m")
    return ", ".join(parts) + "."


def system_curve_text(
    systems: Sequence[SystemLine],
    pumps: Sequence[PumpLine] = (),
    points: Sequence[Point] = (),
    *,
    title: str = "",
) -> str:
    """Text alternative of :func:`system_curve_figure`, with its numbers."""
    start = "Head against flow" + (f" of {shortened(title, 60)}" if title else "")
    if not systems:
        return f"{start}: nothing flows, so there is no system curve."
    told = []
    for line in systems[:_MOST_TOLD]:
        name = "" if line.name == "system" else f", {shortened(line.name, 40)},"
        if not line.flow.size:
            told.append(f"system curve{name} outside the picture")
            continue
        ends = [_spoken(line.flow[i], line.head[i]) for i in (0, -1)]
        told.append(f"system curve{name} from {ends[0]} to {ends[1]}")
    told += [f"{point.name} at {_spoken(point.flow, point.head)}" for point in points[:_MOST_TOLD]]
    for pump in pumps[:_MOST_TOLD]:
        met = ", ".join(f"{p.name} at {_spoken(p.flow, p.head)}" for p in pump.points[:_MOST_TOLD])
        told.append(f"{shortened(pump.name, 60)}: {met or 'meets no system'}")
    return f"{start}. " + "; ".join(told) + "."


def _spoken(flow: float, head: float) -> str:
    return f"{spoken(float(flow) * 1e3)} L/s and {spoken(float(head))} m"
