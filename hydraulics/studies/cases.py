"""Which row of each of its axes does a case of a study take, and what are the sampled rows?

A study is a grid of axes, each a table of so many rows: a list of values, a range, values in pairs,
or a sample of several quantities together. A case is a number, from which its rows follow, so that
a million cases are never held at once.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.errors import Fault, InputError

Method = Literal["latin_hypercube", "sobol", "sensitivity"]
METHODS: Final[tuple[Method, ...]] = ("latin_hypercube", "sobol", "sensitivity")


@dataclass(frozen=True, slots=True)
class Sample:
    """Random points, the same for the same seed.

    Attributes
    ----------
    method
        ``latin_hypercube``: one point in each of `points` equal layers of every quantity (McKay,
        Beckman and Conover 1979); ``sobol``: the scrambled sequence of Sobol' (1967; Owen 1998);
        ``sensitivity``: two such samples and, for each quantity, the first with that quantity of
        the second (Saltelli et al. 2010), from which Sobol' indices follow.
    points
        Points; of both sequences a power of two, by which they are balanced.
    quantities
        Quantities that are sampled together.
    seed
        Of the random numbers.

    Raises
    ------
    InputError
        No point, no quantity, or a number that is no power of two where one is needed.
    """

    method: Method
    points: int
    quantities: int
    seed: int

    def __post_init__(self) -> None:
        if self.points < 1 or self.quantities < 1:
            raise InputError(Fault("points", "is less than 1; give 1 or more", self.points))
        if self.method != "latin_hypercube" and self.points & (self.points - 1):
            near = 2 ** round(math.log2(self.points))
            raise InputError(
                Fault(
                    "points",
                    f"is {self.points:,}; a Sobol' sequence is even over its ranges only where "
                    f"that is a power of two, as {near:,}",
                    self.points,
                    "a power of two",
                )
            )

    @property
    def rows(self) -> int:
        """Rows of the sample."""
        return self.points * (self.quantities + 2 if self.method == "sensitivity" else 1)

    def drawn(self) -> NDArray[np.float64]:
        """The sample, each number from 0 up to 1, by row and quantity.

        The rows of ``sensitivity`` stand in blocks of `points`: A, B, then A with one quantity of B
        after the other.
        """
        from scipy.stats import qmc  # noqa: PLC0415 (takes long to load, and few ask for it)

        if self.method == "latin_hypercube":
            return np.asarray(
                qmc.LatinHypercube(self.quantities, rng=self.seed).random(self.points)
            )
        if self.method == "sobol":
            return np.asarray(qmc.Sobol(self.quantities, rng=self.seed).random(self.points))
        both = qmc.Sobol(2 * self.quantities, rng=self.seed).random(self.points)
        a, b = both[:, : self.quantities], both[:, self.quantities :]
        mixed = np.broadcast_to(a, (self.quantities, *a.shape)).copy()
        each = np.arange(self.quantities)
        mixed[each, :, each] = b.T
        return np.concatenate([a, b, *mixed])


def case_count(sizes: Sequence[int]) -> int:
    """Cases of a grid of axes of so many rows each."""
    return math.prod(sizes)


def rows_of(cases: ArrayLike, sizes: Sequence[int]) -> NDArray[np.int64]:
    """Row of each axis that cases take, by case and axis; the last axis changes first.

    Parameters
    ----------
    cases
        Their numbers, counted from 0.
    sizes
        Rows of each axis.
    """
    numbers = np.asarray(cases, dtype=np.int64)
    return np.stack(np.unravel_index(numbers, tuple(sizes)), axis=1).astype(np.int64)
