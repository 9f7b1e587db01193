"""Pictures of a study: the front among all cases, and what results depend on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from api.drawings.style import (
    BLUE,
    EVEN,
    INK,
    LINE,
    VERMILLION,
    axes,
    key,
    label,
    sheet,
    shortened,
    shown,
    spoken,
)

_MOST_POINTS: Final = 4_000
_BAR: Final = 0.22  # inches
_TOLD: Final = 6


@dataclass(frozen=True, slots=True)
class Axis:
    """What one axis shows, and whether less (``min``) or more (``max``) of it is better."""

    words: str
    towards: str

    def own(self, costs: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values as they are of costs, of which less is better."""
        return -costs if self.towards == "max" else costs


def front_figure(
    across: Axis, up: Axis, costs: NDArray[np.float64], on: NDArray[np.bool_], *, title: str = ""
) -> Figure:
    """Draw all cases as points, those of the front marked and joined.

    Parameters
    ----------
    across, up
        The axes.
    costs
        What both goals come to, by goal and case, less being better.
    on
        Whether a case is on the front.
    title
        Name of the study.
    """
    others = np.flatnonzero(~on)
    step = max(1, -(-others.size // _MOST_POINTS))
    told = f"{on.sum():,} of {on.size:,} cases are bettered by no other"
    if step > 1:
        told += f"; of the rest one in {step} is drawn"
    figure = sheet(6.6, 5.0, title or "Front of a study", told)
    ax = axes(figure, left=0.85, right=0.3, top=0.85, bottom=0.95)
    x, y = across.own(costs[0]), up.own(costs[1])
    few = others[::step]
    ax.plot(x[few], y[few], ".", color=EVEN, markersize=3.0, zorder=1)
    order = np.flatnonzero(on)[np.argsort(x[on], kind="stable")]
    ax.plot(
        x[order], y[order], "-o", color=VERMILLION, markeredgecolor=INK, markeredgewidth=0.5,
        markersize=4.5, linewidth=0.8, zorder=3,
    )  # fmt: skip
    ax.grid(color=LINE, linewidth=0.5)
    for axis, text in ((across, ax.xaxis.label), (up, ax.yaxis.label)):
        label(text, f"{shortened(axis.words, 60)} ({_better(axis)})", 80)
    handles = [
        Line2D([], [], color=VERMILLION, marker="o", markersize=4.5, linewidth=0.8, label="front"),
        Line2D([], [], color=EVEN, marker=".", linestyle="", label="other cases"),
    ]
    key(figure, handles, at=0.1)
    return figure


def _better(axis: Axis) -> str:
    return "more is better" if axis.towards == "max" else "less is better"


def front_text(across: Axis, up: Axis, costs: NDArray[np.float64], on: NDArray[np.bool_]) -> str:
    """Text alternative of :func:`front_figure`, with the ends of the front."""
    if not on.any():
        return "Front of a study: no case has both results and keeps all limits."
    x, y = across.own(costs[0])[on], up.own(costs[1])[on]
    left, right = int(np.argmin(x)), int(np.argmax(x))
    return (
        f"Front of a study: {on.sum()} of {on.size} cases are bettered by no other, from "
        f"{across.words} {spoken(float(x[left]))} with {up.words} {spoken(float(y[left]))} to "
        f"{spoken(float(x[right]))} with {spoken(float(y[right]))}."
    )


def influence_figure(results: list[dict[str, Any]], *, title: str = "") -> Figure:
    """Draw for each result a bar for each quantity that was varied, the longest first.

    Parameters
    ----------
    results
        As POST /v1/studies/{study}/sensitivity answers them.
    title
        Name of the study.
    """
    results = results[:_TOLD]
    rows = sum(len(each["quantities"]) + 2 for each in results)
    figure = sheet(7.6, 1.2 + _BAR * rows, title or "Sensitivity", "What results depend on")
    ax = axes(figure, left=3.6, right=0.55, top=0.7, bottom=0.5)
    beside = ax.get_yaxis_transform()  # across by the axes, down by the bars
    at = 0.0
    for result in results:
        kind, bars = _bars(result)
        text = ax.text(-0.9, at, "", fontsize=8.5, fontweight="bold", va="center", transform=beside)
        label(text, f"{_end_of(result['at'], 60)}: {kind}", 90)
        for name, value in bars:
            at += 1.0
            length = value if np.isfinite(value) else 0.0
            ax.barh(
                at, length, height=0.7, color=VERMILLION if length < 0.0 else BLUE,
                hatch="////" if length < 0.0 else "", edgecolor=INK, linewidth=0.6,
            )  # fmt: skip
            told = shown(round(value, 2)) if np.isfinite(value) else "no number"
            ax.text(max(length, 0.0) + 0.02, at, told, va="center", fontsize=8)
            text = ax.text(-0.02, at, "", fontsize=8, va="center", ha="right", transform=beside)
            label(text, _end_of(name, 46), 46)
        at += 2.0
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.set_ylim(at - 0.4, -0.8)
    ax.set_xlim(min(0.0, *(float(bar.get_width()) for bar in ax.patches)) - 0.02, 1.1)  # type: ignore[attr-defined]
    ax.axvline(0.0, color=INK, linewidth=0.8)
    return figure


def _bars(result: dict[str, Any]) -> tuple[str, list[tuple[str, float]]]:
    """What the bars of a result show, and each, the longest first."""
    field, kind = "rank_correlation", "rank correlation"
    if any("total" in each for each in result["quantities"]):
        field, kind = "total", "total Sobol index"
    bars = [(each["at"], each.get(field, float("nan"))) for each in result["quantities"]]
    return kind, sorted(bars, key=lambda bar: -abs(bar[1]) if np.isfinite(bar[1]) else 1.0)


def influence_text(results: list[dict[str, Any]]) -> str:
    """Text alternative of :func:`influence_figure`: of each result the three longest bars."""
    told = []
    for result in results[:_TOLD]:
        kind, bars = _bars(result)
        few = [f"{name} {spoken(round(v, 2))}" for name, v in bars[:3] if np.isfinite(v)]
        told.append(f"{result['at']} by {kind}: {', '.join(few) or 'nothing'}.")
    return "What results depend on. " + " ".join(told)


def _end_of(name: str, most: int) -> str:
    """A long pointer by its end, which tells more than its beginning."""
    return name if len(name) <= most else "…" + name[1 - most :]
