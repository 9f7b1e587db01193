"""Picture: what makes up the limiting temperature of a sized array, and its life's brine."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from api.drawings.style import (
    BLUE,
    EVEN,
    INK,
    LINE,
    SOFT,
    VERMILLION,
    axes,
    key,
    sheet,
    shortened,
    shown,
)
from hydraulics.ground.load_history import History
from hydraulics.sizing.result import ArraySizing

_PARTS: Final = ("undisturbed", "months", "peak", "film, wall", "brine's rise", "return")


def life_figure(sized: ArraySizing, history: History, *, title: str = "") -> Figure:
    """Draw the parts of the limiting return as bars, and the brine of every month.

    Parameters
    ----------
    sized
        The sized array.
    history
        Its own.
    title
        Name of the job.
    """
    figure = sheet(8.6, 3.9, title or "Ground array", _heading(sized, history))
    _draw_parts(axes(figure, left=0.65, right=5.0, top=0.85, bottom=1.05), history)
    life = axes(figure, left=4.45, right=0.25, top=0.85, bottom=1.05)
    _draw_life(life, sized, history)
    handles = [
        Line2D([], [], color=INK, linewidth=1.0, label="coldest from ground"),
        Line2D([], [], color=SOFT, linewidth=1.0, linestyle=(0, (4, 1.6)), label="limit"),
    ]
    if history.warmest_return is not None:
        handles.insert(1, Line2D([], [], color=VERMILLION, linewidth=1.0, label="warmest"))
    key(figure, handles, at=0.1, columns=3)
    return figure


def life_text(sized: ArraySizing, history: History, *, title: str = "") -> str:
    """Text alternative of :func:`life_figure`, with its numbers."""
    part, (start, *steps, end) = history.limiting, _levels(history)
    names = ("the months so far", "the peak", "film and wall", "the brine's rise")
    moves = np.diff([start, *steps])
    told = ", ".join(
        f"{_told(abs(move))} K {'colder' if move < 0.0 else 'warmer'} by {name}"
        for name, move in zip(names, moves.tolist(), strict=True)
    )
    first, last = history.coldest_by_year[0][[0, -1]]
    of = f" of {shortened(title, 60)}" if title else ""
    return (
        f"Limiting temperature{of}: month {part.month} of year {part.year}, ground at "
        f"{_told(start)} °C, {told}: brine from the ground at {_told(end)} °C, limit "
        f"{_told(_limit(sized, history))} °C. Coldest brine {_told(first)} °C in the first year, "
        f"{_told(last)} °C in the last."
    )


def _told(value: float) -> str:
    """To 0.01 K: what is beyond is no one's."""
    return shown(round(value, 2))


def _limit(sized: ArraySizing, history: History) -> float:
    return sized.most if history.limiting.limit == "upper" else sized.limit


def _levels(history: History) -> tuple[float, ...]:
    """Temperatures from undisturbed ground down to the return [degC], and the return."""
    part = history.limiting
    moves = [
        -part.fall_from_months,
        -part.fall_from_peak,
        -part.fall_through_pipe,
        part.rise_of_brine,
    ]
    levels = np.cumsum([part.undisturbed, *moves]).tolist()
    return (*levels, levels[-1])


def _heading(sized: ArraySizing, history: History) -> str:
    part = history.limiting
    return (
        f"What makes the limiting {_told(_levels(history)[-1])} °C (limit "
        f"{_told(_limit(sized, history))} °C), month {part.month} of year {part.year}; every month."
    )


def _draw_parts(ax: Axes, history: History) -> None:
    levels = _levels(history)
    spans = [(0.0, levels[0]), *pairwise(levels[:-1]), (0.0, levels[-1])]
    for at, (begin, end) in enumerate(spans):
        whole = at in (0, len(spans) - 1)
        fall = end < begin
        ax.bar(
            at, abs(end - begin), bottom=min(begin, end), width=0.72,
            color=EVEN if whole else BLUE if fall else VERMILLION,
            hatch="" if whole else "xxx" if fall else "////",
            edgecolor=INK, linewidth=0.6, zorder=2,
        )  # fmt: skip
        told = _told(end) if whole else f"{'−' if fall else '+'}{_told(abs(end - begin))}"
        ax.text(at, max(begin, end), told, ha="center", va="bottom", fontsize=8, zorder=3)
    ax.set_xticks(range(len(spans)), _PARTS, rotation=35, ha="right", rotation_mode="anchor")
    low, high = min(0.0, *levels), max(0.0, *levels)
    ax.set_ylim(low - 0.04 * (high - low), high + 0.14 * (high - low))
    ax.set_ylabel("°C")
    ax.axhline(0.0, color=LINE, linewidth=0.8, zorder=1)


def _draw_life(ax: Axes, sized: ArraySizing, history: History) -> None:
    coldest = history.returning.ravel()
    years = (np.arange(coldest.size) + 1.0) / 12.0
    ax.plot(years, coldest, color=INK, linewidth=0.9, zorder=3)
    if history.warmest_return is not None:
        ax.plot(years, history.warm_returning.ravel(), color=VERMILLION, linewidth=0.9, zorder=2)
        ax.axhline(sized.most, color=SOFT, linewidth=1.0, linestyle=(0, (4, 1.6)))
    ax.axhline(sized.limit, color=SOFT, linewidth=1.0, linestyle=(0, (4, 1.6)))
    ax.set_xlim(0.0, float(years[-1]))
    ax.grid(axis="y", color=LINE, linewidth=0.5)
    ax.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    ax.set_xlabel("Year of operation")
    ax.set_ylabel("Brine from the ground, °C")
