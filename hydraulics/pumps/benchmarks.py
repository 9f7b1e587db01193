"""Benchmarks of pumps: energy efficiency index, pumping power per heat, test tolerances.

Every table here says of each number whether it was read in a public source or quoted from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from scipy.constants import g

from hydraulics.errors import Fault, InputError

HORSEPOWER_W = 745.6998715822702  # W, 550 ft lbf/s (definition)
TON_W = 3516.8528420667  # W, ton of refrigeration, 12000 Btu(IT)/h (definition)

Source = Literal["read", "from memory"]


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far a delivered pump may lie from its guaranteed point, as fractions.

    Attributes
    ----------
    grade
        Name of the acceptance grade.
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
    w_per_kw
        Electrical pumping power per heat [W/kW].
    hp_per_100_tons
        The same in the unit of the benchmark.
    grade
        A (best), B, C, D or F.
    source
        Origin of the grade's limits.
    """

    w_per_kw: float
    hp_per_100_tons: float
    grade: str
    source: str


_GRADES: tuple[tuple[float, str, Source], ...] = (  # upper limit in hp per 100 tons
    (5.0, "A", "read"),
    (7.5, "B", "read"),
    (10.0, "C", "from memory"),
    (15.0, "D", "from memory"),
    (math.inf, "F", "from memory"),
)
_GRADE_SOURCE = (
    "Kavanaugh & Rafferty, Geothermal Heating and Cooling (ASHRAE, 2014). 5 hp per 100 tons as "
    "high performance and 7.5 as acceptable were read in a public note on Meline & Kavanaugh, "
    "ASHRAE Transactions 125(2), 2019; the limits 10 and 15 are from memory. The benchmark counts "
    "pump motor power per cooling capacity; here electrical power per heat, which is no kinder."
)


def kavanaugh_rafferty_grade(pump_power: float, heat: float) -> PumpingBenchmark:
    """Grade the pumping power of a ground loop against its heat.

    Parameters
    ----------
    pump_power
        Electrical power of all circulating pumps [W].
    heat
        Heat delivered or taken by the heat pumps [W].

    Returns
    -------
    PumpingBenchmark
        Ratio, grade and source.
    """
    for name, value in (("pump_power_w", pump_power), ("heat_w", heat)):
        if not (math.isfinite(value) and value > 0):
            raise InputError(Fault(name, "must be more than 0 W", value, "more than 0 W"))
    ratio = pump_power / heat
    in_hp = ratio * 100 * TON_W / HORSEPOWER_W
    grade = next(name for limit, name, _ in _GRADES if in_hp <= limit)
    return PumpingBenchmark(1e3 * ratio, in_hp, grade, _GRADE_SOURCE)


def eu_641_2009_reference_power(hydraulic_power: float) -> float:
    """Reference power of a circulator [W] at its largest hydraulic power.

    P_ref = 1.7 P_hyd + 17 (1 - exp(-0.3 P_hyd)), P_hyd from 1 to 2500 W.

    References
    ----------
    Regulation (EC) 641/2009 as amended by 622/2012; EN 16297-1. Formula read on a public page.
    """
    if not (math.isfinite(hydraulic_power) and 1.0 <= hydraulic_power <= 2500.0):
        text = "the index is defined for circulators of 1 to 2500 W hydraulic power"
        raise InputError(Fault("hydraulic_power", text, hydraulic_power, "1 to 2500 W"))
    return 1.7 * hydraulic_power + 17.0 * (1.0 - math.exp(-0.3 * hydraulic_power))


_LOAD_SHARE = (0.06, 0.15, 0.35, 0.44)  # share of time at 100, 75, 50, 25 % flow (641/2009)
_CALIBRATION = 0.49  # C_20%: makes 20 % of circulators meet an index of 0.20


def eu_641_2009_index(
    flow_100: float,
    head_100: float,
    power: Sequence[float],
    head: Sequence[float],
    density: float = 998.2,
) -> float:
    """Energy efficiency index (EEI) of a glandless circulator [-].

    Parameters
    ----------
    flow_100, head_100
        Flow [m3/s] and head [m] where the hydraulic power on the largest setting is greatest.
    power, head
        Measured electrical power [W] and head [m] at 100, 75, 50 and 25 % of ``flow_100``.
    density
        Water [kg/m3].

    Returns
    -------
    float
        P_L,avg / P_ref x 0.49. Allowed at most 0.27 from 2013 and 0.23 from August 2015.

    Notes
    -----
    The reference line runs from (Q100, H100) to (0, H100/2). Where the measured head is at most
    the reference, power is raised by H_ref/H_meas; where it is more, power is taken as measured.

    References
    ----------
    As `eu_641_2009_reference_power`.
    """
    if len(power) != 4 or len(head) != 4:
        text = "give power and head at 100, 75, 50 and 25 % flow"
        raise InputError(Fault("power", text, len(power), "four powers and four heads"))
    faults = [
        Fault(f"{name}.{i}", "must be more than 0", value, "more than 0")
        for name, values in (("power_w", power), ("head_m", head))
        for i, value in enumerate(values)
        if not (math.isfinite(value) and value > 0)
    ]
    if faults:
        raise InputError(*faults)
    reference = eu_641_2009_reference_power(density * g * flow_100 * head_100)
    average = 0.0
    for share, part, p, h in zip(_LOAD_SHARE, (1.0, 0.75, 0.5, 0.25), power, head, strict=True):
        target = head_100 * (0.5 + 0.5 * part)
        average += share * (p * target / h if h <= target else p)
    return average / reference * _CALIBRATION
