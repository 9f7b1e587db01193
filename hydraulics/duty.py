"""What the heat pump asks of the array: a flow, directly or through heat or a pump's curve."""

from __future__ import annotations

import math
from dataclasses import dataclass

from hydraulics.antifreeze import Fluid, Mixture, fluid
from hydraulics.errors import Fault, InputError


def _finite(name: str, value: float) -> None:
    if not math.isfinite(value):
        raise InputError(Fault(name, "must be a finite number", value, "a number"))


def _more_than_zero(name: str, value: float) -> None:
    """Refuse a value, in the unit of the field's name, that is not more than 0."""
    if not (math.isfinite(value) and value > 0.0):
        raise InputError(Fault(name, "must be more than 0", value, "more than 0"))


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
        _more_than_zero("duty.heat_from_ground_kw", self.heat / 1e3)
        _more_than_zero("duty.temperature_change_k", self.temperature_change)
        _finite("duty.to_ground_temperature_c", self.to_ground_temperature)

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
                Fault("duty.flow_l_s", "must be 0 or more", self.volume_flow * 1e3, "0 or more")
            )
        _finite("duty.to_ground_temperature_c", self.to_ground_temperature)
        _finite("duty.from_ground_temperature_c", self.from_ground_temperature)


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
        _finite("duty.to_ground_temperature_c", self.to_ground_temperature)
        _finite("duty.from_ground_temperature_c", self.from_ground_temperature)


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
