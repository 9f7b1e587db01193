"""Where do the boreholes of a field stand, and does the array have room on its site?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hydraulics.boreholes.shapes import perimeter_field, rows_field
from hydraulics.findings import counted
from hydraulics.groundworks.excavation import DugTrench, Trench
from hydraulics.groundworks.plan import Block, set_out
from hydraulics.plot.plot import TRENCH_SPACING, Plot
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    PondArray,
    SlinkyArray,
    StraightArray,
)

Sides = tuple[float, float]
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class SiteUse:
    """Land needed against land available.

    Attributes
    ----------
    length, width
        Of the rectangle that the array needs, borders included [m].
    area_needed, area_available
        [m2]; None where the site's area was not given.
    trench_needed, trench_available
        [m]; None where not given or not trenches.
    fits
        None where nothing tells: the plot's sides are not known, and nothing is too small.
    shortages
        What there is not enough of, in words.
    """

    length: float
    width: float
    area_needed: float
    area_available: float | None
    trench_needed: float | None
    trench_available: float | None
    fits: bool | None
    shortages: tuple[str, ...]


def field_of(choice: BoreholeArray, plot: Plot, bores: int) -> NDArray[np.float64]:
    """Where so many boreholes stand, from the field's corner [m], shape (bores, 2).

    Parameters
    ----------
    choice
        Where each stands, or in what rows.
    plot
        Its sides, where known, tell the rows that are not given.
    bores
        How many; of a field with given positions, as many as those.
    """
    if choice.positions:
        places = np.array(choice.positions, dtype=float)
        return np.asarray(places - places.min(axis=0))
    if choice.perimeter:
        return perimeter_field(bores, choice.rows, choice.spacing)
    if choice.rows is not None:
        return rows_field(bores, -(-bores // choice.rows), choice.spacing)
    if plot.length is None or plot.width is None:
        return rows_field(bores, bores, choice.spacing)
    block = set_out(bores, 0.0, choice.spacing, plot.border, plot)
    return rows_field(bores, block.across, choice.spacing)


def site_use(
    plot: Plot,
    choice: ArrayChoice,
    loops: int,
    each: float,
    coordinates: NDArray[np.float64] | None,
    *,
    dug: Trench | None = None,
) -> SiteUse:
    """Return the land that equal parallel trenches, mats or boreholes need.

    Trenches and mats are set out as for the digging; boreholes in the field that they were sized
    in, as others would draw on other ground.

    Parameters
    ----------
    plot
        What is available.
    choice
        Kind of array.
    loops, each
        Number of loops, and trench or mat pipe of each [-, m].
    coordinates
        Of the boreholes in plan [m]; None for other kinds.
    dug
        Cross-section of each trench as dug, of which the plot holds sides and ends; None where it
        is not known, and each is as wide as what lies in it.
    """
    trench, advice = None, ""
    if isinstance(choice, BoreholeArray):
        assert coordinates is not None
        x, y = (float(v) for v in np.ptp(coordinates, axis=0))
        length, width = x + 2.0 * plot.border, y + 2.0 * plot.border
        take = "takes" if loops == 1 else "take"
        how = f"As sized, {counted(loops, 'borehole')} in one field {take}"
        advice = _rectangle(set_out(loops, 0.0, choice.spacing, plot.border, plot))
        advice = advice or _deeper(plot, choice.spacing)
    else:
        if isinstance(choice, PondArray):
            places = loops * round(each / choice.step)
            pitch = max(plot.spacing or 0.0, choice.outer_diameter)
            block, what = (
                set_out(places, 0.0, pitch, plot.border, plot, body=choice.outer_diameter),
                "mat",
            )
        else:
            pitch, trench = plot.spacing or TRENCH_SPACING, loops * each
            body, ends = (dug.top_width, dug.ends) if dug is not None else (0.0, 0.0)
            body = max(body, _lies_across(choice))
            block = set_out(loops, each, pitch, plot.border, plot, body=body, ends=ends)
            what = "trench"
        length, width = block.length, block.width
        rows = "1 row" if block.rows == 1 else f"{block.rows} rows of up to {block.across}"
        take = "takes" if block.places == 1 else "take"
        how = f"{counted(block.places, what, 'trenches' if trench else '')} in {rows} {take}"
    area, available = length * width, plot.square_metres
    shortages = []
    if plot.length is not None and plot.width is not None:
        over = _overrun((length, width), (plot.length, plot.width))
        if over:
            shortages.append(f"{how} {length:.1f} x {width:.1f} m with borders: {over}{advice}")
    elif available is not None and area > available * (1.0 + _SLACK):
        shortages.append(
            f"{how} {length:.1f} x {width:.1f} m with borders, {area:.0f} m², and {available:.0f} "
            f"m² are available{advice}"
        )
    if trench is not None and (short := plot.trench_shortage(trench)):
        shortages.append(short)
    # An area or metres of trench may be too few; only sides tell where all of it lies.
    fits = None if plot.length is None or plot.width is None else True
    return SiteUse(
        length=length,
        width=width,
        area_needed=area,
        area_available=available,
        trench_needed=trench,
        trench_available=plot.max_trench,
        fits=False if shortages else fits,
        shortages=tuple(shortages),
    )


def _lies_across(choice: SlinkyArray | StraightArray) -> float:
    """Width of floor that what lies in a trench takes at the least [m]."""
    lies = choice.leg(choice.step).trench
    return DugTrench("", lies, 1, 0.0, choice.pipe.outside_diameter).across


def _overrun(needed: Sides, given: Sides) -> str:
    """Which sides do not fit, the plot taken the way round that fits best; empty where all do."""
    ways = [
        [(n, g) for n, g in zip(needed, turned, strict=True) if n > g + _SLACK]
        for turned in (given, given[::-1])
    ]
    over = min(ways, key=lambda sides: (len(sides), sum(n - g for n, g in sides)))
    return " and ".join(
        f"their side of {n:.1f} m is {n - g:.2f} m longer than the plot's {g:g} m" for n, g in over
    )


def _rectangle(block: Block) -> str:
    """What to do where a field does not fit but rows of as many boreholes would."""
    if not block.fits:
        return ""
    return (
        f"; {block.rows} rows, up to {block.across} in each, would fit: size the field so, as it "
        "needs other depths"
    )


def _deeper(plot: Plot, spacing: float) -> str:
    """What to do where no rows of so many boreholes fit: so many as do, or more ground."""
    if plot.length is None or plot.width is None:
        return "; take fewer and deeper boreholes, or more ground"
    sides = [side - 2.0 * plot.border for side in (plot.length, plot.width)]
    if min(sides) < 0.0:
        return "; not even one has room within its borders: take more ground"
    most = math.prod(math.floor(side / spacing + _SLACK) + 1 for side in sides)
    return (
        f"; in rows {counted(most, 'borehole')} at {spacing:g} m would fit: take more ground, or "
        "size so many, which are deeper, and see whether they can be drilled so deep"
    )
