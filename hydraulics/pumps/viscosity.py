"""Viscosity correction: what a viscous fluid takes from a pump that was tested on water.

The empirical method of ANSI/HI 9.6.7 (the same as ISO/TR 17766:2005): one parameter B, made
from viscosity, speed and the best efficiency point on water, gives factors for flow, head and
efficiency. It was fitted to tests of conventional radial-flow pumps; small circulators lie at or
outside the edge of those tests, which the result says.

References
----------
ANSI/HI 9.6.7, Rotodynamic pumps - Guideline for effects of liquid viscosity on performance.
ISO/TR 17766:2005, Centrifugal pumps handling viscous liquids - Performance corrections.
Formulae and tested ranges read on public pages that reproduce them, not in the standard itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from hydraulics.checks import require_positive
from hydraulics.errors import Fault, RangeError
from hydraulics.findings import figures

TESTED_FLOW_M3_H = (3.0, 259.0)  # 13 to 1140 US gpm at best efficiency, as read
TESTED_HEAD_M = (6.1, 131.0)  # 20 to 430 ft per stage at best efficiency, as read
TESTED_VISCOSITY_MM2_S = (1.0, 3000.0)  # 1 to 3000 cSt, as read
WATER_VISCOSITY = 1.004e-6  # m2/s, of the water at 20 degC that pumps are tested on (IAPWS)
Outside = tuple[str, float, tuple[float, float], str]
LARGEST_B = 40.0  # beyond, the standard calls for a loss analysis instead


@dataclass(frozen=True, slots=True)
class ViscosityCorrection:
    """Factors from water to viscous performance.

    Attributes
    ----------
    parameter_b
        The parameter B [-].
    flow_factor
        C_Q [-], viscous over water flow at corresponding points.
    best_head_factor
        C_H at the best efficiency point [-], equal to C_Q.
    efficiency_factor
        C_eta [-].
    best_flow
        Water flow at best efficiency [m3/s] that B was made with.
    outside
        What lies outside the tested ranges: in words, its value, the range and the unit.
    best_at_end
        The best efficiency point was taken at the end of a table in which it still rises.
    """

    parameter_b: float
    flow_factor: float
    best_head_factor: float
    efficiency_factor: float
    best_flow: float
    outside: tuple[Outside, ...] = ()
    best_at_end: bool = False

    @property
    def within_range(self) -> bool:
        """Whether all lies in the tested ranges and the best efficiency point is known."""
        return not self.outside and not self.best_at_end

    @property
    def note(self) -> str:
        """One sentence when a reader must be told something, else empty."""
        if self.within_range:
            return ""
        found = [
            f"{text} {figures(value)} {unit}, tested {low:g} to {high:g}"
            for text, value, (low, high), unit in self.outside
        ]
        if self.best_at_end:
            found.append("best efficiency is not reached within the pump's table")
        return f"Viscosity correction by ANSI/HI 9.6.7 used outside its tests: {'; '.join(found)}."

    def head_factor(self, water_flow: float) -> float:
        """C_H [-] at a flow of the water curve [m3/s]: 1 - (1 - C_H,BEP) (Q/Q_BEP)^0.75."""
        ratio = max(water_flow, 0.0) / self.best_flow
        return float(1.0 - (1.0 - self.best_head_factor) * ratio**0.75)

    def power_factor(self, water_flow: float) -> float:
        """Viscous over water power at equal density [-]: C_Q C_H / C_eta."""
        return self.flow_factor * self.head_factor(water_flow) / self.efficiency_factor


def ansi_hi_9_6_7_parameter(
    viscosity: float, best_flow: float, best_head: float, speed: float
) -> float:
    """Parameter B of ANSI/HI 9.6.7.

    B = 16.5 nu^0.5 H^0.0625 / (Q^0.375 N^0.25), nu in mm2/s, H in m per stage, Q in m3/h.

    Parameters
    ----------
    viscosity
        Kinematic viscosity of the fluid [m2/s].
    best_flow, best_head
        Flow [m3/s] and head per stage [m] at best efficiency on water.
    speed
        Shaft speed [1/min].
    """
    require_positive(viscosity=viscosity, best_flow=best_flow, best_head=best_head, speed=speed)
    numerator = 16.5 * math.sqrt(viscosity * 1e6) * best_head**0.0625
    return float(numerator / ((best_flow * 3600.0) ** 0.375 * speed**0.25))


def ansi_hi_9_6_7(
    viscosity: float,
    best_flow: float,
    best_head: float,
    speed: float,
    *,
    best_point_at_end_of_table: bool = False,
) -> ViscosityCorrection:
    """Correct a pump's performance on water for viscosity by ANSI/HI 9.6.7.

    No correction up to B = 1. For 1 < B < 40: C_Q = C_H,BEP = 2.71^(-0.165 (log10 B)^3.15),
    C_eta = B^(-0.0547 B^0.69).

    Parameters
    ----------
    viscosity, best_flow, best_head, speed
        As in `ansi_hi_9_6_7_parameter`.
    best_point_at_end_of_table
        The best efficiency point was taken at the last point of a table in which the efficiency
        still rises; the note then says so.

    Returns
    -------
    ViscosityCorrection
        Factors, with ``within_range`` False and a note outside the tested ranges.

    Raises
    ------
    RangeError
        B of 40 or more, where the method ends.
    """
    b = ansi_hi_9_6_7_parameter(viscosity, best_flow, best_head, speed)
    if b >= LARGEST_B:
        text = (
            f"the pump is too small or the fluid too viscous for the correction of ANSI/HI 9.6.7 "
            f"(B = {figures(b)}); ask its maker for a curve on this fluid"
        )
        raise RangeError(Fault("viscosity", text, viscosity, "B below 40"))
    flow_factor, efficiency_factor = _factors(b)
    return ViscosityCorrection(
        parameter_b=b,
        flow_factor=flow_factor,
        best_head_factor=flow_factor,
        efficiency_factor=efficiency_factor,
        best_flow=best_flow,
        outside=_outside(viscosity, best_flow, best_head),
        best_at_end=best_point_at_end_of_table,
    )


def _factors(b: float) -> tuple[float, float]:
    """C_Q, which C_H,BEP equals, and C_eta [-] of a parameter B."""
    if b <= 1.0:
        return 1.0, 1.0
    return 2.71 ** (-0.165 * math.log10(b) ** 3.15), b ** (-0.0547 * b**0.69)


def correction_from_water(
    viscosity: float,
    best_flow: float,
    best_head: float,
    speed: float,
    *,
    best_point_at_end_of_table: bool = False,
) -> ViscosityCorrection:
    """Correct a table measured on water: the factors of ANSI/HI 9.6.7 over those on that water.

    B of a small pump is above 1 on water too, but what water's own viscosity takes is in the table
    already. On water all factors are 1, and they fall from there without a jump.

    Parameters
    ----------
    viscosity, best_flow, best_head, speed, best_point_at_end_of_table
        As in :func:`ansi_hi_9_6_7`, which raises the same.
    """
    at = best_flow, best_head, speed
    found = ansi_hi_9_6_7(viscosity, *at, best_point_at_end_of_table=best_point_at_end_of_table)
    thin = viscosity <= WATER_VISCOSITY
    flow_factor, efficiency_factor = _factors(
        found.parameter_b if thin else ansi_hi_9_6_7_parameter(WATER_VISCOSITY, *at)
    )
    return ViscosityCorrection(
        parameter_b=found.parameter_b,
        flow_factor=found.flow_factor / flow_factor,
        best_head_factor=found.best_head_factor / flow_factor,
        efficiency_factor=found.efficiency_factor / efficiency_factor,
        best_flow=best_flow,
        outside=() if thin else found.outside,
        best_at_end=found.best_at_end and not thin,
    )


def _outside(viscosity: float, best_flow: float, best_head: float) -> tuple[Outside, ...]:
    flow, thick = best_flow * 3600.0, viscosity * 1e6
    found: tuple[Outside, ...] = ()
    if not TESTED_FLOW_M3_H[0] <= flow <= TESTED_FLOW_M3_H[1]:
        found += (("flow at best efficiency", flow, TESTED_FLOW_M3_H, "m³/h"),)
    if not TESTED_HEAD_M[0] <= best_head <= TESTED_HEAD_M[1]:
        found += (("head per stage at best efficiency", best_head, TESTED_HEAD_M, "m"),)
    if not TESTED_VISCOSITY_MM2_S[0] <= thick <= TESTED_VISCOSITY_MM2_S[1]:
        found += (("viscosity", thick, TESTED_VISCOSITY_MM2_S, "mm2/s"),)
    return found
