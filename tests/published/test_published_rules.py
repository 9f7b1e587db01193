"""Rules that stand beside a size, against the pages on which they were read.

Boreholes: VDI 4640 part 2 (2001), general values, as the geological survey of Saxony-Anhalt prints
them (read). Land: the same guideline's table for pipes 0.8 m apart, 10 and 40 W/m2 at 1800 h on a
consumers' page (read), the others in another reproduction (read).
"""

from dataclasses import replace

import pytest

from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.sizing.array import size_array
from hydraulics.sizing.choice import GroundConditions, LoopLimits
from hydraulics.sizing.heat_load import AnnualHeat, Cooling
from hydraulics.sizing.result import ArraySizing
from tests.hydraulics.sizing.test_array import BORE, BRINE, KINDS

# 4 kW from the ground at the peak: 6 kW given at a performance of 3.
LOAD = AnnualHeat(6000.0, 3.0, 1800.0)


def sized(kind: str, hours: float, conductivity: float = 2.0) -> ArraySizing:
    ground = GroundConditions(conductivity, 2.2e6, SurfaceTemperature(10.0, 8.0))
    choice = replace(BORE, deepest=300.0) if kind == "borehole" else KINDS[kind]
    limits = LoopLimits(loops=3, largest_drop=1e6)
    load = replace(LOAD, heating_hours=hours)
    return size_array(load, ground, choice, BRINE, 3.5, limits=limits)


@pytest.mark.parametrize(
    ("conductivity", "hours", "rate"),
    [(1.4, 1800, 25), (1.4, 2400, 20), (1.5, 1800, 60), (2.9, 2400, 50), (3.0, 1800, 60),
     (3.1, 1800, 84), (3.5, 2400, 70), (2.0, 2100, 55)],
)  # fmt: skip
def test_boreholes_by_the_general_values(conductivity: float, hours: float, rate: float) -> None:
    rule, _ = sized("borehole", hours, conductivity).published
    assert rule.length == pytest.approx(4000.0 / rate)
    assert rule.area is None


@pytest.mark.parametrize("kind", ["slinky_flat", "slinky_upright", "trench"])
@pytest.mark.parametrize(
    ("hours", "rates"), [(1800, (10, 25, 40)), (2400, (8, 20, 32)), (2100, (9, 22.5, 36))]
)
def test_land_by_soil(kind: str, hours: float, rates: tuple[float, ...]) -> None:
    rules = sized(kind, hours).published
    assert [each.area for each in rules] == pytest.approx([4000.0 / rate for rate in rates])
    assert all(each.length is None for each in rules)


def test_a_rule_is_not_continued_in_silence() -> None:
    for hours, words in ((3000, "ends at 2400 h"), (1200, "begins at 1800 h")):
        rule, *_ = sized("trench", hours).published
        assert words in rule.differs
        assert f"{min(max(hours, 1800), 2400)} full hours" in rule.rule
    for hours in (2410, 2800):  # 2424 h were told as if the rule were for them
        rule, *_ = sized("trench", hours).published
        assert rule.rule.endswith(f"for 2400 full hours a year, and none for this load's {hours} h")
        assert f"does not cover this load's {hours} h" in rule.differs
    cold = Cooling((0.0,) * 6 + (2e9, 2e9) + (0.0,) * 4, 5000.0, 4.0)
    ground = GroundConditions(2.0, 2.2e6, SurfaceTemperature(10.0, 8.0))
    both = size_array(replace(LOAD, cooling=cold), ground, KINDS["borehole"], BRINE, 3.5)
    assert "no heat that is put back" in both.published[0].differs
    assert not size_array(LOAD, ground, KINDS["pond_mat"], BRINE, 3.5).published
