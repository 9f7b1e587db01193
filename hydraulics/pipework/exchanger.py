"""What the heat pump's brine side takes at a given flow, from its data sheet."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import PchipInterpolator

from hydraulics.errors import Fault, InputError


@dataclass(frozen=True, slots=True)
class Exchanger:
    """A heat exchanger by one or more points of flow and pressure drop, of the fluid in use.

    One point gives the square law through it. Two or more give the monotone curve through the
    origin and the points (PCHIP), continued beyond the last point by the square law through it.

    Attributes
    ----------
    flows
        Volume flows [m³/s], increasing, more than 0.
    drops
        Pressure drops [Pa], increasing, more than 0 (a single one may be 0).
    """

    flows: tuple[float, ...]
    drops: tuple[float, ...]
    _curve: PchipInterpolator | None = field(init=False, repr=False, compare=False)

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
        curve = None
        if len(self.flows) > 1:
            curve = PchipInterpolator((0.0, *self.flows), (0.0, *self.drops))
        object.__setattr__(self, "_curve", curve)

    def drop(self, flow: float) -> tuple[float, float]:
        """Pressure drop [Pa] and its slope [Pa s/m³] at a volume flow [m³/s] of either sign."""
        size = abs(flow)
        if self._curve is None or size > self.flows[-1]:
            square = self.drops[-1] / self.flows[-1] ** 2
            return square * flow * size, 2.0 * square * size
        return (
            math.copysign(float(self._curve(size)), flow),
            float(np.maximum(self._curve(size, 1), 0.0)),
        )
