"""The friction law as a table of cubics, so that a solver can afford it for thousands of pipes.

The table holds T(x) = ln(G/Re) against x = ln Re for one relative roughness and one curvature, as
a piecewise cubic that meets the law in value and slope at every knot. Knots fall on the edges of
the straight pipe's transition band, where the law's own second derivative jumps. Against the law
itself (tests/hydraulics/pipework/test_friction_table.py) the table is within 1e-9 for straight
pipe, 1e-6 for coils of PE pipe up to 110 bores wide and 1e-3 for any coil: in a coil that is nearly
straight the branches cross more sharply than the knots can follow. Its slope is the exact slope of
its own value, which is what Newton's method needs. Below Re 0.001 T is constant: pressure is then
proportional to flow, and zero flow has a finite slope.

Beside it stands a second table, of the law where flow is turbulent
(:func:`hydraulics.pipework.friction.upper_friction_number`), from as many blocks on as tell UPPER.

A table is made block by block, where it is first read; the knots are the same whoever reads first.
"""

from __future__ import annotations

from collections.abc import Sequence
from threading import Lock
from typing import Final
from weakref import WeakValueDictionary

import numpy as np
from numpy.typing import NDArray

from hydraulics.pipework.friction import (
    LAMINAR_LIMIT,
    LARGEST_REYNOLDS,
    TURBULENT_LIMIT,
    friction_number,
    upper_friction_number,
)

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_STEPS_IN_BAND: Final = 64
_STEP: Final = float(np.log(TURBULENT_LIMIT / LAMINAR_LIMIT)) / _STEPS_IN_BAND
_BELOW: Final = int(np.ceil(np.log(LAMINAR_LIMIT / 0.001) / _STEP))
_ABOVE: Final = int(np.ceil(np.log(10.0 * LARGEST_REYNOLDS / LAMINAR_LIMIT) / _STEP))
INTERVALS: Final = _BELOW + _ABOVE
LOWEST: Final = float(np.log(LAMINAR_LIMIT)) - _BELOW * _STEP  # ln Re at the first knot
REYNOLDS_FLOOR: Final = float(np.exp(LOWEST))
PER_STEP: Final = 1.0 / _STEP

_BITS: Final = 4
_BLOCK: Final = 1 << _BITS  # intervals that are made together: a tenth more Reynolds number
BLOCKS: Final = -(-INTERVALS // _BLOCK)
UPPER: Final = BLOCKS  # blocks from a kind's first to the first of its upper table
_OF_KIND: Final = 2 * BLOCKS
_ABSENT: Final = int(np.iinfo(np.int32).max) // 2  # place of a block that is not made: past any end
_KINDS_AT_MOST: Final = 1024  # in one bank; more at once get one of their own
_ROWS_AT_MOST: Final = 1 << 18  # of cubics, 8 MB, held at once
_ROWS_OF_KIND: Final = 8 * _BLOCK  # of cubics for each kind, where that is more


def _knots() -> Array:
    reynolds: Array = np.exp(LOWEST + _STEP * np.arange(BLOCKS * _BLOCK + 1))
    # ln and exp do not return the band's edges exactly; pin them so that both knots see the edge.
    reynolds[_BELOW], reynolds[_BELOW + _STEPS_IN_BAND] = LAMINAR_LIMIT, TURBULENT_LIMIT
    return reynolds


_KNOTS: Final = _knots()


class Bank:
    """Tables of several kinds of pipe, of which only blocks that were read are made.

    Threads may read it together: what was made stays as it is for who reads it. Where more than
    a bound would be held, all are made anew, where they are read.
    """

    def __init__(self, capacity: int = _KINDS_AT_MOST) -> None:
        self._lock = Lock()
        self._numbers: dict[tuple[float, float], int] = {}
        self._kinds = np.zeros((capacity, 2))
        self._tables = self._none()
        self._made = 0

    def _none(self) -> tuple[NDArray[np.int32], Array]:
        """Where each block begins, and the cubics: read both at once, since both are replaced."""
        places = np.full(len(self._kinds) * _OF_KIND, _ABSENT, dtype=np.int32)
        return places, np.empty((64 * _BLOCK, 4))

    def blocks_of(self, kinds: Sequence[tuple[float, float]]) -> Index | None:
        """First block of each kind's table; None where there is no room for them."""
        try:
            numbers = [self._numbers[kind] for kind in kinds]
        except KeyError:
            with self._lock:
                new = [kind for kind in dict.fromkeys(kinds) if kind not in self._numbers]
                begin = len(self._numbers)
                if begin + len(new) > len(self._kinds):
                    return None
                self._kinds[begin : begin + len(new)] = new
                self._numbers.update({kind: begin + more for more, kind in enumerate(new)})
            numbers = [self._numbers[kind] for kind in kinds]
        return np.asarray(numbers, dtype=np.intp) * _OF_KIND

    def cubics(self, row: Index, first_block: Index | int) -> Array:
        """Coefficients of some rows of some tables, highest power first, in 0 ≤ t < 1."""
        block = row >> _BITS
        block += first_block
        shift, cubics = self._tables
        try:
            return cubics.take(shift.take(block) + row, axis=0)
        except IndexError:
            shift, cubics = self._make(np.unique(block))
        return cubics.take(shift.take(block) + row, axis=0)

    def _make(self, wanted: Index) -> tuple[NDArray[np.int32], Array]:
        """Make blocks that are not there, all in one call of the law."""
        with self._lock:
            shift, cubics = self._tables
            new = wanted[shift[wanted] == _ABSENT]
            if self._made + new.size * _BLOCK > max(
                _ROWS_AT_MOST, _ROWS_OF_KIND * len(self._kinds)
            ):
                (shift, cubics), self._made, new = self._none(), 0, wanted
            kind, part = np.divmod(new, _OF_KIND)
            upper, part = np.divmod(part, BLOCKS)
            rough, bend = self._kinds[kind, :, None].swapaxes(0, 1)
            reynolds = _KNOTS[part[:, None] * _BLOCK + np.arange(_BLOCK + 1)]
            number, slope = friction_number(reynolds, rough, bend)
            if upper.any():
                above = upper_friction_number(reynolds, rough, bend)
                number = np.where(upper[:, None], above[0], number)
                slope = np.where(upper[:, None], above[1], slope)
            value = np.log(number / reynolds)
            rate = (reynolds * slope / number - 1.0) * _STEP
            rate[part == 0, 0] = 0.0  # meets the constant below the first knot
            rise = np.diff(value)
            first, last = rate[:, :-1], rate[:, 1:]
            begin, end = self._made, self._made + new.size * _BLOCK
            if end > len(cubics):  # what others read now stays a pair
                wider = np.empty((max(2 * len(cubics), end), 4))
                wider[:begin] = cubics[:begin]
                shift, cubics = shift.copy(), wider
            made = cubics[begin:end].reshape(new.size, _BLOCK, 4)
            made[:, :, 0] = first + last - 2.0 * rise
            made[:, :, 1] = 3.0 * rise - 2.0 * first - last
            made[:, :, 2] = first
            made[:, :, 3] = value[:, :-1]
            self._made = end
            # Last, so that whoever finds a block finds it made.
            shift[new] = begin + (np.arange(new.size) - part) * _BLOCK
            self._tables = shift, cubics
            return shift, cubics


_current = Bank()
_large: WeakValueDictionary[str, Bank] = WeakValueDictionary()  # "newest": for more kinds than that


def bank_for(kinds: Sequence[tuple[float, float]]) -> tuple[Bank, Index]:
    """Tables of some kinds of pipe.

    Parameters
    ----------
    kinds
        (relative roughness, curvature) of each.

    Returns
    -------
    bank, first_block
        The tables, and where that of each kind begins in them.
    """
    global _current  # noqa: PLW0603  a full bank lives on as long as the networks that read it
    few = len(kinds) <= _KINDS_AT_MOST
    bank = _current if few else _large.get("newest")
    blocks = None if bank is None else bank.blocks_of(kinds)
    if bank is None or blocks is None:
        bank = Bank(_KINDS_AT_MOST if few else len(kinds) + _KINDS_AT_MOST)
        blocks = bank.blocks_of(kinds)
        if few:
            _current = bank
        else:  # kept no longer than the networks that read it
            _large["newest"] = bank
    assert blocks is not None
    return bank, blocks


def friction_per_reynolds(
    reynolds: Array, bank: Bank, first_block: Index | int
) -> tuple[Array, Array]:
    """G/Re and d ln G/d ln Re by the table.

    Parameters
    ----------
    reynolds
        Reynolds number of each pipe [-], 0 or more.
    bank, first_block
        Tables and where each pipe's begins, from :func:`bank_for`.

    Returns
    -------
    number, slope
        G/Re [-] and d ln G / d ln Re [-], at least 1.
    """
    place = np.log(np.maximum(reynolds, REYNOLDS_FLOOR))
    place -= LOWEST
    place *= PER_STEP
    row = place.astype(np.intp)
    np.minimum(row, INTERVALS - 1, out=row)
    t = place - row
    cubic = bank.cubics(row, first_block)
    a, b, c, d = cubic[..., 0], cubic[..., 1], cubic[..., 2], cubic[..., 3]
    rate = a * t  # Horner's scheme, of value and slope at once
    value = rate + b
    rate += value
    rate *= t
    value *= t
    value += c
    rate += value
    value *= t
    value += d
    rate *= PER_STEP
    rate += 1.0
    return np.exp(value), rate
