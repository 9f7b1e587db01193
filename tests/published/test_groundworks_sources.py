"""Groundworks against OSHA's slopes, published bulking and bend limits; purge against 2 ft/s."""

import math

import pytest

from hydraulics.commissioning.purge import flow_for_velocity
from hydraulics.groundworks.excavation import BULKING, Trench, excavation
from hydraulics.groundworks.rules import OSHA_SLOPES, SUPPORT_DEPTH
from hydraulics.pipework.pipe import pe_bend_radius, pe_pipe

FOOT = 0.3048  # m, by definition


# OSHA 29 CFR 1926 Subpart P, Appendix B, table B-1 (read in a reproduction): A 53, B 45, C 34 deg.
@pytest.mark.parametrize(("soil", "degrees"), [("A", 53.0), ("B", 45.0), ("C", 34.0)])
def test_slopes_are_those_of_osha(soil: str, degrees: float) -> None:
    # The table rounds to whole degrees.
    assert math.degrees(math.atan(1.0 / OSHA_SLOPES[soil])) == pytest.approx(degrees, abs=0.5)


def test_protection_is_asked_for_from_five_feet() -> None:
    assert pytest.approx(5 * FOOT) == SUPPORT_DEPTH  # 29 CFR 1926.652(a)(1)(ii) (read)


def test_section_of_a_sloped_trench() -> None:
    # By hand: 1.5 m deep, 0.6 m wide, type C: 0.6 · 1.5 + 1.5 · 1.5² = 4.275 m² .
    assert Trench(0.6, 1.5, OSHA_SLOPES["C"]).area(1.5) == pytest.approx(4.275)


def test_heap_of_a_published_excavation() -> None:
    # Worked example on swell (read): 200 m by 20 m by 2 m at 40 % swell: 8000 m³ -> 11200 m³.
    dug = excavation(Trench(20.0, 2.0), 200.0, 0.0, 0.0, 0.40)
    assert dug.dug == pytest.approx(8000.0)
    assert dug.heaped == pytest.approx(11200.0)


# Swell tables (read): Alaska DOT (1983) sand 5 %, sandy gravel 5 %, silt 35 %; another author dry
# gravel 15 %, dry clay 35 %, damp clay 40 %; a landscape works sheet sand and gravel 15 %, clay of
# low plasticity 30 %. Independent of the classes that the ranges come from.
@pytest.mark.parametrize(
    ("soil", "swell"),
    [("sand", 0.05), ("gravel", 0.05), ("gravel", 0.15), ("sand", 0.15), ("silt", 0.35),
     ("clay", 0.30), ("clay", 0.35), ("clay", 0.40)],
)  # fmt: skip
def test_bulking_ranges_hold_other_authors_values(soil: str, swell: float) -> None:
    low, high = BULKING[soil]
    assert low <= swell <= high


# A pipe maker's table (read): PE 80 and PE 100, smallest radius over outside diameter.
@pytest.mark.parametrize(("temperature", "diameters"), [(20.0, 20), (10.0, 35), (0.0, 50)])
def test_bend_limits_are_the_tables(temperature: float, diameters: int) -> None:
    assert pe_bend_radius(0.040, temperature) == pytest.approx(0.040 * diameters)


def test_bend_limit_agrees_with_the_usual_20_to_25_diameters() -> None:
    # Trade texts (read): 20 to 25 diameters, straight PE at ordinary temperatures.
    assert 20 <= pe_bend_radius(1.0, 18.0) <= 25


# Flow at 2 ft/s, by definition of the foot and bores of EN 12201-2 (L/s, computed elsewhere).
@pytest.mark.parametrize(
    ("size", "litres_per_second"),
    [(20, 0.123), (25, 0.199), (32, 0.324), (40, 0.509), (50, 0.797), (63, 1.265), (110, 3.878)],
)
def test_flow_at_two_feet_per_second(size: int, litres_per_second: float) -> None:
    flow = flow_for_velocity(pe_pipe(f"PE100 SDR11 {size}"), 2 * FOOT)
    assert flow * 1e3 == pytest.approx(litres_per_second, abs=0.0006)
