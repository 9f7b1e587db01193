"""How much of each other, and of themselves where they turn back, do trenches see as they lie?

A stretch beside a place is part of an endless line at its distance: as much of it as heat reaches
by a time, (erf(b/s) - erf(a/s))/2 between the stretch's ends a and b along the line, s² = 4at. Mean
over all metres of trench, so that trenches near each other over half their length count as half.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise
from typing import Final

import numpy as np
import scipy as sp
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Line = tuple[tuple[float, float], ...]

_PLACES: Final = 400  # at which all trench is sampled
_PER_TRENCH: Final = (1.0 + math.sqrt(5.0)) / 2.0  # at least, so that many fall all along them
_STEP: Final = 0.25  # m, no nearer to each other
# Distances that are told apart: all where they are few, else in steps of a ninth. What lies between
# two counts to both, and a response that falls ever slower is then overstated (safe side).
_APART: Final = 48
_NEAREST, _GROWTH = 0.1, 1.12
_REACHES = np.geomspace(0.1, 200.0, 24)  # m, s above


@dataclass(frozen=True, slots=True)
class Seen:
    """What a metre of trench sees of others, in the mean.

    Attributes
    ----------
    offsets
        Distances to lines [m].
    shares
        How much of an endless line it sees at each, one column a reach; below 0 at distance 0 by
        what a trench that turns does not have ahead.
    """

    offsets: Floats
    shares: Floats


def in_rows(trenches: int, centres: float) -> Seen:
    """What equal parallel trenches, so far apart [m], see of each other."""
    steps = np.arange(1, trenches, dtype=float)
    return Seen(steps * centres, 2.0 * (trenches - steps)[:, None] / trenches)


def as_they_lie(lines: tuple[Line, ...], trenches: int, centres: float, reaches: Floats) -> Seen:
    """What trenches that have their place see.

    Parameters
    ----------
    lines
        Corners of each trench's centre line [m], at least one.
    trenches
        How many there are; those without a place stand on beside the others in a row. Where there
        are fewer than places, all places count (safe side).
    centres
        Of that row [m].
    reaches
        The root of 4at, for each time [m].

    Notes
    -----
    As trenches are taken without ends, a stretch at a trench's end that lies beside a place goes on
    beside it (safe side). What a trench sees of itself is that less what it would see ahead if it
    were straight, as its own endless line counts by itself.
    """
    drawn = _drawn(lines)
    at = np.log(np.clip(reaches, _REACHES[0], _REACHES[-1]))
    shares = sp.interpolate.CubicSpline(np.log(_REACHES), drawn.shares, axis=1)(at)
    if trenches <= len(lines):
        return Seen(drawn.offsets, shares)
    all_in_row, as_many = in_rows(trenches, centres), in_rows(len(lines), centres)
    further = all_in_row.shares * trenches
    further[: len(lines) - 1] -= as_many.shares * len(lines)
    shares = np.concatenate((len(lines) * shares, np.tile(further, reaches.size))) / trenches
    return Seen(np.concatenate((drawn.offsets, all_in_row.offsets)), shares)


@lru_cache(maxsize=8)  # each length that is tried asks for it
def nearest_two(lines: tuple[Line, ...]) -> float:
    """From one trench to another beside it [m]; infinite where none is.

    Where one ends and another goes on in its line they are not beside one another: it is measured
    at a quarter, half and three quarters of each.
    """
    if len(lines) < 2:
        return np.inf
    drawn = np.array([shapely.LineString(line) for line in lines])
    at = shapely.line_interpolate_point(drawn[:, None], [0.25, 0.5, 0.75], normalized=True)
    apart = shapely.distance(at[:, :, None], drawn)
    own = np.arange(len(drawn))
    apart[own, :, own] = np.inf
    return float(apart.min())


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A straight part of a trench: its start, its direction, how far along the trench it begins."""

    trench: int
    start: Floats
    along: Floats
    length: float
    begins: float
    is_first: bool
    is_last: bool

    def seen_from(self, at: Floats) -> tuple[Floats, Floats]:
        """How far along its line, and from it, places lie [m], the latter to the millimetre."""
        to = at - self.start
        aside = to[:, 0] * self.along[1] - to[:, 1] * self.along[0]
        return to @ self.along, np.round(np.abs(aside), 3)


def _stretches(lines: tuple[Line, ...]) -> list[_Stretch]:
    found = []
    for number, line in enumerate(lines):
        corners, begins = [here for here, _ in groupby(line)], 0.0
        for part, (a, b) in enumerate(pairwise(np.array(corners))):
            length = float(np.hypot(*(b - a)))
            ends = part == 0, part == len(corners) - 2
            found.append(_Stretch(number, a, (b - a) / length, length, begins, *ends))
            begins += length
    return found


@lru_cache(maxsize=8)  # each length that is tried asks for it
def _drawn(lines: tuple[Line, ...]) -> Seen:
    """What a metre sees of the stretches of all trenches, at the reaches above."""
    stretches = _stretches(lines)
    if len(stretches) < 2:
        return Seen(np.empty(0), np.empty((0, _REACHES.size)))
    ends = np.cumsum([each.length for each in stretches])
    total = float(ends[-1])
    count = math.ceil(min(max(_PLACES, _PER_TRENCH * len(lines)), total / _STEP))
    far = (np.arange(count) + 0.5) * total / count
    on = np.searchsorted(ends, far)
    past = far - np.concatenate(([0.0], ends[:-1]))[on]
    own = np.array([each.trench for each in stretches])[on]
    at = np.array([each.start for each in stretches])[on]
    at = at + past[:, None] * np.array([each.along for each in stretches])[on]
    along_own = np.array([each.begins for each in stretches])[on] + past

    offsets, farthest = np.array((0.0, _NEAREST)), 0.0
    for each in stretches:
        _, apart = each.seen_from(at)
        farthest = max(farthest, float(apart.max()))
        if offsets.size <= _APART:
            offsets = np.union1d(offsets, apart)
    if offsets.size > _APART:
        steps = math.ceil(math.log(max(farthest / _NEAREST, _GROWTH), _GROWTH))
        offsets = np.append(0.0, _NEAREST * _GROWTH ** np.arange(steps + 1))

    shares = np.zeros((offsets.size, _REACHES.size))
    for part, each in enumerate(stretches):
        others = np.flatnonzero(on != part)
        foot, apart = each.seen_from(at[others])
        a, b = -foot, each.length - foot
        beside = (a <= 0.0) & (b >= 0.0)
        seen = _between(
            np.where(beside & each.is_first, -np.inf, a),
            np.where(beside & each.is_last, np.inf, b),
        )
        upper = np.clip(np.searchsorted(offsets, apart), 1, offsets.size - 1)
        low, high = offsets[upper - 1], offsets[upper]
        weight = (apart - low) / (high - low)
        columns = np.arange(others.size)
        spread = sp.sparse.coo_array(
            (
                np.concatenate((1.0 - weight, weight)),
                (np.concatenate((upper - 1, upper)), np.concatenate((columns, columns))),
            ),
            shape=(offsets.size, others.size),
        )
        shares += spread @ seen
        same = others[own[others] == each.trench]
        ahead = each.begins - along_own[same]
        shares[0] -= _between(ahead, ahead + each.length).sum(axis=0)
    kept = np.abs(shares).max(axis=1) > 0.0
    shares = shares[kept] / count
    shares.flags.writeable = False
    return Seen(offsets[kept], shares)


def _between(a: Floats, b: Floats) -> Floats:
    """Share of an endless line that lies from a to b along it [m], at every reach."""
    return np.asarray(
        0.5 * (sp.special.erf(b[:, None] / _REACHES) - sp.special.erf(a[:, None] / _REACHES))
    )
