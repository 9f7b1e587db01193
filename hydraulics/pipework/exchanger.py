"""What the heat pump's brine side takes at a given flow, from its data sheet."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import scipy as sp

from hydraulics.errors import Fault, InputError

FURTHEST: Final = 1.5  # of the last point's flow, without an exponent; this project's own limit


@dataclass(frozen=True, slots=True)
class Exchanger:
    """A heat exchanger by one or more points of flow and pressure drop, of the fluid in use.

    One point gives a power law through it. Two or more give the monotone curve through the origin
    and the points (PCHIP), continued beyond the last point by a power law through it.

    Attributes
    ----------
    flows
        Volume flows [m³/s], increasing, more than 0.
    drops
        Pressure drops [Pa], increasing, more than 0 (a single one may be 0).
    exponent
        Power of the flow with which the drop goes beyond the last point, 1 (laminar) to 2; None:
        not told, and 2 is taken, which is the safe side, as far as :data:`FURTHEST`.
    """

    flows: tuple[float, ...]
    drops: tuple[float, ...]
    exponent: float | None = None
    _curve: sp.interpolate.PchipInterpolator | None = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.flows or len(self.flows) != len(self.drops):
            raise InputError(Fault("heat_exchanger", "give as many drops as flows, at least one"))
        if not all(math.isfinite(v) for v in (*self.flows, *self.drops)):
            raise InputError(Fault("heat_exchanger", "flows and drops must be finite numbers"))
        if self.flows[0] <= 0.0 or self.drops[0] < 0.0:
            raise InputError(
                Fault("heat_exchanger", "the flow must be more than 0 and the drop 0 or more")
            )
        rising = all(
            b > a for pair in (self.flows, self.drops) for a, b in itertools.pairwise(pair)
        )
        if not rising or (len(self.flows) > 1 and self.drops[0] <= 0.0):
            raise InputError(
                Fault(
                    "heat_exchanger", "in a table both flow and drop must rise from point to point"
                )
            )
        if self.exponent is not None and not 1.0 <= self.exponent <= 2.0:
            raise InputError(
                Fault(
                    "exponent",
                    "drop rises with a power of the flow from 1 (laminar) to 2 (fully turbulent)",
                    self.exponent,
                    "1 to 2",
                )
            )
        curve = None
        if len(self.flows) > 1:
            curve = sp.interpolate.PchipInterpolator((0.0, *self.flows), (0.0, *self.drops))
        object.__setattr__(self, "_curve", curve)

    def drop(self, flow: float) -> tuple[float, float]:
        """Pressure drop [Pa] and its slope [Pa s/m³] at a volume flow [m³/s] of either sign."""
        size = abs(flow)
        if self._curve is None or size > self.flows[-1]:
            power = 2.0 if self.exponent is None else self.exponent
            ratio = (size / self.flows[-1]) ** (power - 1.0)  # no division at rest
            slope = self.drops[-1] / self.flows[-1] * ratio
            return slope * flow, power * slope
        return (
            math.copysign(float(self._curve(size)), flow),
            float(np.maximum(self._curve(size, 1), 0.0)),
        )

    @property
    def furthest(self) -> float:
        """Flow [m³/s] beyond which nothing is told of it; infinite with an exponent."""
        return math.inf if self.exponent is not None else FURTHEST * self.flows[-1]

    def beyond(self, flow: float) -> float:
        """How many times the last point's flow a flow [m³/s] is; within the points up to 1."""
        return abs(flow) / self.flows[-1]
