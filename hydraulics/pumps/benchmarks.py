"""How good is a pump: power for the heat that it moves, and how far may it lie from its table?

Every table here says of each number whether it was read in a public source or quoted from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError

HORSEPOWER_W = 745.6998715822702  # W, 550 ft lbf/s (definition)
TON_W = 3516.8528420667  # W, ton of refrigeration, 12000 Btu(IT)/h (definition)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a delivered pump may lie from its guaranteed point, as fractions.

    Attributes
    ----------
    flow_low, flow_high, head_low, head_high
        Allowed fall and rise of flow and head at the guaranteed point [-].
    source
        Where the numbers come from, and whether they were read.
    """

    grade: str
    flow_low: float
    flow_high: float
    head_low: float
    head_high: float
    source: str


_HI = "ANSI/HI 14.6, harmonised with ISO 9906:2012; read on a public page about it"
_OLD = "ISO 9906:1999; read on a public lexicon page"
_MEMORY = "ISO 9906:2012, Table 8; from memory, not read"

# Circulators of ground arrays take far below 10 kW, so the first is the one to use for them.
TOLERANCES: dict[str, Tolerance] = {
    t.grade: t
    for t in (
        Tolerance("up_to_10_kw", 0.10, 0.10, 0.08, 0.08, _HI),
        Tolerance("1999_class_1", 0.045, 0.045, 0.03, 0.03, _OLD),
        Tolerance("1999_class_2", 0.08, 0.08, 0.05, 0.05, _OLD),
        Tolerance("1B", 0.05, 0.05, 0.03, 0.03, _MEMORY),
        Tolerance("1E", 0.05, 0.05, 0.03, 0.03, _MEMORY),
        Tolerance("1U", 0.0, 0.10, 0.0, 0.06, _MEMORY),
        Tolerance("2B", 0.08, 0.08, 0.05, 0.05, _MEMORY),
        Tolerance("2U", 0.0, 0.16, 0.0, 0.10, _MEMORY),
        Tolerance("3B", 0.09, 0.09, 0.07, 0.07, _MEMORY),
    )
}


def tolerance(grade: str) -> Tolerance:
    """Return the tolerance of a grade by name; InputError naming the grades when unknown."""
    if grade not in TOLERANCES:
        text = f"the acceptance grade '{grade}' is not known"
        raise InputError(Fault("grade", text, grade, ", ".join(TOLERANCES)))
    return TOLERANCES[grade]


@dataclass(frozen=True, slots=True)
class PumpingBenchmark:
    """Pumping power for the heat it moves.

    Attributes
    ----------
    power_per_heat
        Electrical pumping power per heat [-].
    hp_per_100_tons
        The same in the unit that the benchmark is named in.
    source
        What is published of it, and where.
    """

    power_per_heat: float
    hp_per_100_tons: float
    source: str

    @property
    def is_high(self) -> bool:
        """Whether it is twice what is published as high performance, or more."""
        return self.hp_per_100_tons > 2.0 * HIGH_PERFORMANCE


HIGH_PERFORMANCE: Final = 5.0  # hp per 100 tons; read, as the source says
ACCEPTABLE: Final = 7.5  # the same


def in_w_kw(hp_per_100_tons: float) -> float:
    """Pumping power for heat [W/kW]."""
    return 1e3 * hp_per_100_tons * HORSEPOWER_W / (100.0 * TON_W)


_BANDS_SOURCE = (
    "Kavanaugh & Rafferty, Geothermal Heating and Cooling (ASHRAE, 2014), of motor power per "
    f"cooling capacity: up to {in_w_kw(HIGH_PERFORMANCE):.1f} W/kW ({HIGH_PERFORMANCE:g} hp per "
    f"100 tons) is high performance, up to {in_w_kw(ACCEPTABLE):.1f} ({ACCEPTABLE:g}) acceptable, "
    f"both read in a public note; limits of {in_w_kw(10.0):.1f} (10) and {in_w_kw(15.0):.1f} (15) "
    "are from memory. Here it is electrical power per heat, which is no kinder."
)


def pumping_benchmark(pump_power: float, heat: float) -> PumpingBenchmark:
    """Pumping power of a ground loop against its heat.

    Parameters
    ----------
    pump_power
        Electrical power of all circulating pumps [W].
    heat
        Heat delivered or taken by the heat pumps [W].
    """
    refuse(
        number_fault("pump_power", pump_power, "W", above=0.0),
        number_fault("heat", heat, "W", above=0.0),
    )
    ratio = pump_power / heat
    return PumpingBenchmark(ratio, ratio * 100 * TON_W / HORSEPOWER_W, _BANDS_SOURCE)
