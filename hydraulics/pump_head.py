"""The head of a pump known only by points of flow and head, for use inside the solver."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

from scipy.interpolate import PchipInterpolator

from hydraulics.errors import Fault, InputError


@dataclass(frozen=True, slots=True)
class HeadCurve:
    """Head against flow by monotone interpolation (PCHIP).

    Attributes
    ----------
    flows
        Volume flows [m³/s], increasing, the first 0 or more; two points or more.
    heads
        Heads [m of the fluid pumped], strictly decreasing, none negative.

    Notes
    -----
    Beyond either end the curve goes on along the chord of its last pair, so that a solver's trial
    flow always finds a falling head; whoever uses it checks that the answer lies inside.
    """

    flows: tuple[float, ...]
    heads: tuple[float, ...]
    _curve: PchipInterpolator = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        faults = []
        if len(self.flows) < 2 or len(self.flows) != len(self.heads):
            faults.append(Fault("duty.pump.points", "give at least two points", len(self.flows)))
        for number, (flow, head) in enumerate(zip(self.flows, self.heads, strict=False)):
            if not (math.isfinite(flow) and flow >= 0.0):
                faults.append(
                    Fault(f"duty.pump.points.{number}.flow_l_s", "must be 0 or more", flow * 1e3)
                )
            if not (math.isfinite(head) and head >= 0.0):
                faults.append(Fault(f"duty.pump.points.{number}.head_m", "must be 0 or more", head))
        if not faults:
            for number, (first, second) in enumerate(itertools.pairwise(self.flows)):
                if second <= first:
                    faults.append(
                        Fault(
                            f"duty.pump.points.{number + 1}.flow_l_s",
                            "flows must rise from point to point",
                            second * 1e3,
                        )
                    )
            for number, (first, second) in enumerate(itertools.pairwise(self.heads)):
                if second >= first:
                    faults.append(
                        Fault(
                            f"duty.pump.points.{number + 1}.head_m",
                            "head must fall from point to point; leave out a rising part at low "
                            "flow, where a pump does not run steadily",
                            second,
                        )
                    )
        if faults:
            raise InputError(*faults)
        object.__setattr__(self, "_curve", PchipInterpolator(self.flows, self.heads))

    def head(self, flow: float) -> tuple[float, float]:
        """Head [m] and its slope [s/m²] at a volume flow [m³/s]."""
        for edge, (a, b) in ((0, (0, 1)), (-1, (-2, -1))):
            outside = flow < self.flows[0] if edge == 0 else flow > self.flows[-1]
            if outside:
                chord = (self.heads[b] - self.heads[a]) / (self.flows[b] - self.flows[a])
                return self.heads[edge] + chord * (flow - self.flows[edge]), chord
        return float(self._curve(flow)), min(float(self._curve(flow, 1)), 0.0)
