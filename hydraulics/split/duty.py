"""What the heat pump asks of the array: a flow, directly or through heat or a pump's curve."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field

import scipy as sp

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.fluid.mixture import Fluid, Mixture, fluid


@dataclass(frozen=True, slots=True)
class HeatDuty:
    """Heat drawn from the ground at a given temperature change.

    Attributes
    ----------
    heat
        Heat taken up by the brine in the ground [W].
    temperature_change
        How much warmer the brine returns [K].
    to_ground_temperature
        Brine on its way to the ground [°C].
    """

    heat: float
    temperature_change: float
    to_ground_temperature: float

    def __post_init__(self) -> None:
        refuse(number_fault("heat", self.heat, "W", above=0.0))
        refuse(number_fault("temperature_change", self.temperature_change, "K", above=0.0))
        refuse(number_fault("to_ground_temperature", self.to_ground_temperature, "°C"))

    @property
    def from_ground_temperature(self) -> float:
        """Brine on its way back [°C]."""
        return self.to_ground_temperature + self.temperature_change


@dataclass(frozen=True, slots=True)
class FlowDuty:
    """A flow as given.

    Attributes
    ----------
    volume_flow
        Flow of the whole array at the mean temperature [m³/s], 0 or more.
    to_ground_temperature, from_ground_temperature
        Brine on its way out and back [°C].
    """

    volume_flow: float
    to_ground_temperature: float
    from_ground_temperature: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.volume_flow) and self.volume_flow >= 0.0):
            raise InputError(
                Fault("volume_flow", "must be 0 or more", self.volume_flow * 1e3, "0 or more")
            )
        refuse(number_fault("to_ground_temperature", self.to_ground_temperature, "°C"))
        refuse(number_fault("from_ground_temperature", self.from_ground_temperature, "°C"))


@dataclass(frozen=True, slots=True)
class PumpDriven:
    """The flow that a pump drives.

    Attributes
    ----------
    flows
        Volume flows of the pump's curve [m³/s], increasing.
    heads
        Heads at those flows [m of the fluid pumped], decreasing.
    to_ground_temperature, from_ground_temperature
        Brine on its way out and back [°C].
    """

    flows: tuple[float, ...]
    heads: tuple[float, ...]
    to_ground_temperature: float
    from_ground_temperature: float

    def __post_init__(self) -> None:
        refuse(number_fault("to_ground_temperature", self.to_ground_temperature, "°C"))
        refuse(number_fault("from_ground_temperature", self.from_ground_temperature, "°C"))


Duty = HeatDuty | FlowDuty | PumpDriven


def duty_fluids(mixture: Mixture, duty: Duty) -> tuple[Fluid, Fluid, Fluid]:
    """Brine on its way to the ground, in the loops (at the mean temperature) and on its way back.

    Parameters
    ----------
    mixture
        Antifreeze and strength.
    duty
        The duty.

    Returns
    -------
    tuple of Fluid
        To the ground, in the loops, from the ground.

    Raises
    ------
    RangeError
        A temperature is at or below the freezing point or outside the mixture's correlation.
    """
    out, back = duty.to_ground_temperature, duty.from_ground_temperature
    return fluid(mixture, out), fluid(mixture, 0.5 * (out + back)), fluid(mixture, back)


def heat_flow(duty: HeatDuty, brine: Fluid) -> float:
    """Mass flow that carries the heat, Q / (c ΔT) [kg/s], c at the mean temperature.

    Parameters
    ----------
    duty
        Heat and temperature change.
    brine
        Brine at the mean temperature.

    Returns
    -------
    float
        Mass flow [kg/s].
    """
    return duty.heat / (brine.specific_heat * duty.temperature_change)


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
    _curve: sp.interpolate.PchipInterpolator = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        faults = []
        if len(self.flows) < 2 or len(self.flows) != len(self.heads):
            faults.append(Fault("points", "give at least two points", len(self.flows)))
        for number, (flow, head) in enumerate(zip(self.flows, self.heads, strict=False)):
            if not (math.isfinite(flow) and flow >= 0.0):
                faults.append(Fault(f"points.{number}.flow", "must be 0 or more", flow * 1e3))
            if not (math.isfinite(head) and head >= 0.0):
                faults.append(Fault(f"points.{number}.head", "must be 0 or more", head))
        if not faults:
            for number, (first, second) in enumerate(itertools.pairwise(self.flows)):
                if second <= first:
                    faults.append(
                        Fault(
                            f"points.{number + 1}.flow",
                            "flows must rise from point to point",
                            second * 1e3,
                        )
                    )
            for number, (first, second) in enumerate(itertools.pairwise(self.heads)):
                if second >= first:
                    faults.append(
                        Fault(
                            f"points.{number + 1}.head",
                            "head must fall from point to point; leave out a rising part at low "
                            "flow, where a pump does not run steadily",
                            second,
                        )
                    )
        if faults:
            raise InputError(*faults)
        object.__setattr__(self, "_curve", sp.interpolate.PchipInterpolator(self.flows, self.heads))

    def head(self, flow: float) -> tuple[float, float]:
        """Head [m] and its slope [s/m²] at a volume flow [m³/s]."""
        for edge, (a, b) in ((0, (0, 1)), (-1, (-2, -1))):
            outside = flow < self.flows[0] if edge == 0 else flow > self.flows[-1]
            if outside:
                chord = (self.heads[b] - self.heads[a]) / (self.flows[b] - self.flows[a])
                return self.heads[edge] + chord * (flow - self.flows[edge]), chord
        return float(self._curve(flow)), min(float(self._curve(flow, 1)), 0.0)
