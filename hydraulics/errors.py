"""Errors that a calculation raises: what is wrong, where, what was given, what is allowed.

A calculation never clamps a value in silence and never returns a wrong number; it raises one of
these. Each carries the parts of a good message as fields, so that whoever shows it (HTTP, command
line) can point at the input without parsing text.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Fault:
    """One thing wrong with the input.

    Attributes
    ----------
    field
        Name of the quantity at fault, dotted where nested (``"concentration_percent"``,
        ``"legs.0.straight_m"``); empty when the input as a whole is at fault.
    message
        One sentence: what is wrong and what to do.
    value
        The value given, or None when something is missing.
    allowed
        What would be accepted, in words (``"0 to 60 %"``).
    """

    field: str
    message: str
    value: Any = None
    allowed: str = ""


class HydraulicsError(Exception):
    """Base of every error that the engine raises on purpose."""

    def __init__(self, *faults: Fault) -> None:
        super().__init__(
            "; ".join(f"{f.field}: {f.message}" if f.field else f.message for f in faults)
        )
        self.faults: tuple[Fault, ...] = faults


class InputError(HydraulicsError):
    """The input cannot describe a real case (a negative length, an unknown pipe)."""


class RangeError(InputError):
    """The input is real but outside the range in which a correlation is published."""


class NoSolutionError(HydraulicsError):
    """The input is well formed, but no flow or no array does what it asks."""


class NoDepthError(NoSolutionError):
    """No depth of so many boreholes keeps the brine between its limits.

    Attributes
    ----------
    depth, coldest_return
        The best of those that were tried [m], and how the brine comes back then [degC].
    """

    def __init__(
        self, *faults: Fault, depth: float = math.nan, coldest_return: float = math.nan
    ) -> None:
        super().__init__(*faults)
        self.depth, self.coldest_return = depth, coldest_return
