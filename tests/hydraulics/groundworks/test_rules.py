"""Every rule of the trade at its edge: kept there, broken a hair beyond."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from hydraulics.errors import InputError
from hydraulics.groundworks.excavation import (
    BULKING,
    DugTrench,
    HeaderTrench,
    Trench,
    excavation,
)
from hydraulics.groundworks.pipe_order import pack_pieces, pipe_order
from hydraulics.groundworks.plan import point_plan, set_out, trench_plan
from hydraulics.groundworks.rules import bore_centres, depth_rules
from hydraulics.groundworks.works import Groundworks, Works, groundworks
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import (
    BoreholeU,
    Coiled,
    InTrench,
    Leg,
    PondMat,
    Slinky,
    Straight,
    TrenchPasses,
)
from hydraulics.layout.walk import walk
from hydraulics.pipework.pipe import STANDARD_COILS, pe_pipe
from hydraulics.plot.plot import Plot

P32, P40, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 63))
CLAY = Works(soil="clay")
FLAT = Trench(1.2, 1.2)
FOOT = 0.3048  # m, by definition
HAIR = 1e-6

# Sections of pipe from its outside diameter [m²]: pi/4 d² in four digits.
SECTION = {32: 8.0425e-4, 40: 1.25664e-3, 63: 3.11725e-3}


def array(*legs: Leg, count: int = 1) -> Circuit:
    return Circuit("manifold", (Branch(Loop("T", P32, tuple(legs)), count=count),))


def slinky(coil: float = 1.0, depth: float | None = None, count: int = 1) -> Circuit:
    return array(Straight(10.0), Slinky(30, coil, 1.0, depth=depth), Straight(10.0), count=count)


def codes(found: Groundworks) -> set[str]:
    return {finding.code for finding in found.findings}


def dig(circuit: Circuit | None = None, trench: Trench = FLAT, **over: Any) -> Groundworks:
    return groundworks(slinky() if circuit is None else circuit, CLAY, trench, **over)


# --------------------------------------------------------------------------------------- distances

# Centres of trenches 5 m and borders of 2.5 m: common practice, no source.


@pytest.mark.parametrize(
    ("centres", "close"), [(5.0, False), (4.996, False), (4.99, True), (None, False)]
)
def test_trenches_lie_five_metres_apart(centres: float | None, close: bool) -> None:
    # A turned plan's places, told to the millimetre, are up to some of them nearer than 5 m.
    found = dig(slinky(count=2), plot=Plot(spacing=centres))
    assert ("trench_centres_close" in codes(found)) is close


@pytest.mark.parametrize(("border", "small"), [(2.5, False), (2.5 - HAIR, True)])
def test_the_boundary_is_two_and_a_half_metres_off(border: float, small: bool) -> None:
    assert ("border_small" in codes(dig(plot=Plot(border=border)))) is small
    assert Plot().border == 2.5


def test_unless_told_trenches_are_set_out_at_the_usual_distances() -> None:
    found = dig(slinky(count=3))
    assert found.block is not None
    # Two gaps of 5 m, a trench 1.2 m wide, two borders of 2.5 m; 30 m long.
    assert (found.block.width, found.block.length) == (16.2, 35.0)


def test_boreholes_stand_five_metres_apart_to_fifty_metres_and_six_beyond() -> None:
    # VDI 4640-2:2001 (read in a reproduction).
    assert [bore_centres(depth) for depth in (20.0, 50.0, 50.0 + HAIR, 100.0)] == [5, 5, 6, 6]
    less = 0.01  # m; classes of distance of a large field are 0.2 % wide
    for depth, centres, close in (
        (50.0, 5.0, False),
        (50.0, 5.0 - less, True),
        (60.0, 6.0, False),
        (60.0, 6.0 - less, True),
        (60.0, None, False),
    ):
        circuit = array(BoreholeU(depth, diameter=0.15), count=2)
        found = groundworks(circuit, CLAY, plot=Plot(spacing=centres))
        assert ("bore_centres_close" in codes(found)) is close


def test_boreholes_at_given_places_are_as_close_as_the_nearest_two() -> None:
    circuit = array(BoreholeU(65.0, diameter=0.15), count=3)
    for apart, close in ((2.0, True), (7.0, False)):
        where = [(0.0, 0.0), (apart, 0.0), (apart + 1.0, 9.0)]
        found = groundworks(circuit, CLAY, plot=Plot(spacing=3.0), field_centres=where)
        told = [each.message for each in found.findings if each.code == "bore_centres_close"]
        assert bool(told) is close
        assert all(f"at {apart:g} m centres" in each for each in told)
        assert found.block is not None
        assert (found.block.across, found.block.rows) == (2, 2)


def test_boreholes_that_were_not_sized_stand_at_those_centres() -> None:
    circuit = array(BoreholeU(80.0, diameter=0.15), count=4)
    found = groundworks(circuit, CLAY)
    assert found.block is not None
    assert (found.block.width, found.block.length) == (11.0, 11.0)  # a square of 6 m and borders


def test_mats_may_touch() -> None:
    mats = array(PondMat(0.6, 2.0, 0.3, 2))
    assert "mats_overlap" not in codes(groundworks(mats, CLAY, plot=Plot(spacing=2.0)))
    assert "mats_overlap" in codes(groundworks(mats, CLAY, plot=Plot(spacing=2.0 - HAIR)))
    assert "mats_overlap" not in codes(groundworks(mats, CLAY))


@pytest.mark.parametrize(
    ("plot", "count", "top", "over"),
    [  # by hand: half the width at the surface against the room beside the line that is drawn
        (Plot(spacing=5.0), 2, 5.0, False),  # one row: the border of 2.5 m
        (Plot(spacing=5.0), 2, 5.0 + HAIR, True),
        (Plot(38.0, 20.0, spacing=5.0), 2, 5.0 + HAIR, True),
        # Two rows: the line between them runs half a border beside the first trenches.
        (Plot(80.0, 11.2, spacing=5.0), 4, 2.5, False),
        (Plot(80.0, 11.2, spacing=5.0), 4, 2.5 + HAIR, True),
    ],
)
def test_the_header_trench_stays_within_the_border(
    plot: Plot, count: int, top: float, over: bool
) -> None:
    header = HeaderTrench(width=top, separation=0.3)
    found = dig(slinky(count=count), plot=plot, header=header)
    assert ("header_edge_crosses" in codes(found)) is over
    assert found.block is not None
    assert (found.block.fits is False) is over
    # As wide by its sides as by its floor.
    sloped = HeaderTrench(width=0.5, depth=1.0, side_slope=0.5 * (top - 0.5), separation=0.3)
    assert (
        "header_edge_crosses" in codes(dig(slinky(count=count), plot=plot, header=sloped))
    ) is over


def test_dug_tops_may_touch() -> None:
    # 1.2 m of floor and sides 1 to 1 on 1.2 m: 3.6 m at the surface.
    sloped = Trench(1.2, 1.2, 1.0)
    assert sloped.top_width == pytest.approx(3.6)
    two = slinky(count=2)
    assert "trench_tops_overlap" not in codes(dig(two, sloped, plot=Plot(spacing=3.6)))
    assert "trench_tops_overlap" in codes(dig(two, sloped, plot=Plot(spacing=3.6 - HAIR)))
    assert "trench_tops_overlap" not in codes(dig(slinky(), sloped, plot=Plot(spacing=3.0)))
    (said,) = [
        each
        for each in dig(two, sloped, plot=Plot(60.0, 60.0, spacing=3.0)).findings
        if each.code == "trench_tops_overlap"
    ]
    assert said.severity == "error"


@pytest.mark.parametrize(
    ("second", "slope", "spacing", "told", "close"),
    [
        # 7.2 m wide at the surface, upright 1.2 m; no trench here lies at the usual 5 m.
        (((8.0, 30.0), (38.0, 30.0)), 1.5, None, "", False),  # 20 m apart
        (((8.0, 30.0), (38.0, 30.0)), 1.5, 4.0, "", False),
        (((8.0, 16.0), (38.0, 16.0)), 1.5, None, "run up to 1.20 m into one another:", False),
        (((8.0, 14.5), (38.0, 14.5)), 0.0, 10.0, "", True),
        (((20.0, 5.0), (20.0, 35.0)), 1.5, None, "cross and run up to 7.20 m into", False),
    ],
)  # fmt: skip
def test_trenches_that_have_their_places_are_judged_by_them_without_a_plan(
    second: tuple[tuple[float, float], ...],
    slope: float,
    spacing: float | None,
    told: str,
    close: bool,
) -> None:
    lines = (((8.0, 10.0), (38.0, 10.0)), second)
    plot = Plot(spacing=spacing, trenches=lines, trench_loops=("T1", "T2"))
    found = dig(slinky(count=2), Trench(1.2, 2.0, slope), plot=plot)
    said = [each.message for each in found.findings if each.code == "trench_tops_overlap"]
    assert len(said) == bool(told)
    assert all(told in each for each in said)
    assert ("trench_centres_close" in codes(found)) is close


def test_boreholes_and_mats_that_have_their_places_are_not_set_out_in_rows() -> None:
    two = array(BoreholeU(90.0, diameter=0.15), count=2)
    for second, close in ((1.0, True), (20.0, False)):
        plot = Plot(60.0, 40.0, bores=((10.0, 10.0), (10.0, 10.0 + second)))
        found = groundworks(two, CLAY, plot=plot)
        assert found.block is None
        assert found.plan is None
        assert "places_not_judged" in codes(found)
        assert "bore_centres_usual" not in codes(found)
        assert ("bore_centres_close" in codes(found)) is close
    told = groundworks(two, CLAY, plot=Plot(60.0, 40.0, bores=((10.0, 10.0),)))
    assert told.block is not None  # one of two has a place
    (said,) = [each.message for each in told.findings if each.code == "places_not_judged"]
    assert "places for 1 of 2, and they are not kept" in said
    assert "places_not_judged" not in codes(groundworks(two, CLAY, plot=Plot(60.0, 40.0)))
    mats = groundworks(
        array(PondMat(0.6, 2.0, 0.3)), CLAY, plot=Plot(60.0, 40.0, mats=((9.0, 9.0),))
    )
    assert mats.block is None
    assert "places_not_judged" in codes(mats)


def test_places_of_some_trenches_leave_the_others_to_the_spacing() -> None:
    plot = Plot(trenches=(((8.0, 10.0), (38.0, 10.0)), ((8.0, 30.0), (38.0, 30.0))))
    found = dig(slinky(count=3), Trench(1.2, 2.0, 1.5), plot=plot)
    (said,) = [each.message for each in found.findings if each.code == "trench_tops_overlap"]
    assert "lie at 5 m centres" in said


def test_no_battered_edge_crosses_the_border() -> None:
    # The issue: 1 to 1.5 at 2 m deep and 1.2 m of floor are 7.2 m wide at the surface; by hand one
    # trench of 30 m takes 7.2 m by 36 m of dug edge, with borders of 2.5 m 12.2 m by 41 m.
    flat = Trench(1.2, 2.0, 1.5)
    assert flat.top_width == pytest.approx(7.2)
    for length, width, fits in ((41.0, 12.2, True), (40.9, 12.2, False), (41.0, 12.1, False)):
        found = dig(slinky(), flat, plot=Plot(length, width))
        assert found.block is not None
        assert found.block.fits is fits
        assert ("does_not_fit_site" in codes(found)) is not fits


def test_mats_in_water_have_no_neighbours_ground() -> None:
    mats = array(PondMat(0.5, 2.0, 0.1, 2))
    assert "border_small" not in codes(groundworks(mats, CLAY, plot=Plot(border=1.0)))


@pytest.mark.parametrize(("border", "small"), [(2.5, False), (1.0, True)])
def test_straight_pipe_in_its_own_trench_has_neighbours_ground(border: float, small: bool) -> None:
    # 80 m up and down a trench of two passes: 40 m of trench that gathers heat along its length.
    straight, two = array(Straight(80.0)), Trench(1.5, 1.2, passes=2)
    found = dig(straight, two, plot=Plot(spacing=7.0, border=border))
    assert found.loops.length == pytest.approx(40.0)
    assert ("border_small" in codes(found)) is small


def test_land_may_be_all_that_there_is() -> None:
    # One trench: 1.2 m and borders by 30 m and borders, 6.2 x 35 m.
    assert "site_too_small" not in codes(dig(plot=Plot(area=6.2 * 35.0)))
    small = dig(plot=Plot(area=6.2 * 35.0 - 0.01))
    (finding,) = [each for each in small.findings if each.code == "site_too_small"]
    assert "takes 217 m² with borders; 217 m² are available" in finding.message
    assert "does_not_fit_site" not in codes(dig(plot=Plot(35.0, 6.2)))
    assert "does_not_fit_site" in codes(dig(plot=Plot(35.0, 6.2 - HAIR)))


# ---------------------------------------------------------------------------------- depth of trench

# US OSHA 29 CFR 1926.651(c)(2), .652(a)(1) and .652(b), as read in a contractors' summary: a way
# out from 4 ft, protection from 5 ft, an engineer beyond 20 ft.


def told(depth: float, slope: float = 0.0, bench: tuple[float, float] = (0, 0)) -> dict[str, str]:
    trench = Trench(0.6, depth, slope, *bench)
    return {each.code: each.severity for each in depth_rules("trench", trench)}


def test_a_trench_needs_a_way_out_from_four_feet() -> None:
    assert "trench_way_out" not in told(4 * FOOT - HAIR)
    assert "trench_way_out" in told(4 * FOOT)


def test_a_trench_needs_protection_from_five_feet_unless_it_is_sloped() -> None:
    assert "trench_needs_protection" not in told(5 * FOOT - HAIR)
    assert "trench_needs_protection" in told(5 * FOOT)
    assert "trench_needs_protection" not in told(5 * FOOT, slope=0.75)
    assert "trench_needs_protection" in told(5 * FOOT, slope=0.75 - HAIR)
    assert "trench_slope" not in told(5 * FOOT - HAIR, slope=0.5)


# OSHA, Appendix B, figures B-1 (from memory): faces of 4 ft at the most, and from foot to surface
# no steeper than a slope of the soil may be; 2.4 m in two faces of 1.2 m, one tread between them.
@pytest.mark.parametrize(
    ("depth", "bench", "stands"),
    [
        (2.4, (1.2, 0.75 * 2.4), True),
        (2.4, (1.2, 0.75 * 2.4 - 1e-3), False),
        (8 * FOOT, (4 * FOOT, 8 * FOOT), True),
        (8 * FOOT, (4 * FOOT + 1e-3, 8 * FOOT), False),
        (2.5, (2.4, 0.01), False),
        (5 * FOOT, (1.5, 5.0), False),
        (5 * FOOT - HAIR, (1.5, 0.01), True),
    ],
)
def test_benches_stand_for_a_support_where_faces_are_low_and_treads_wide(
    depth: float, bench: tuple[float, float], stands: bool
) -> None:
    found = told(depth, bench=bench)
    assert ("trench_needs_protection" not in found) is stands
    assert ("trench_slope" in found) is (stands and depth >= 5 * FOOT)


@pytest.mark.parametrize("high", [2.5, 5.0])
def test_a_bench_as_high_as_the_trench_is_none_and_refused(high: float) -> None:
    with pytest.raises(InputError, match="leaves no bench") as caught:
        Trench(1.2, 2.5, bench_height=high, bench_width=0.5)
    (fault,) = caught.value.faults
    assert (fault.field, fault.allowed) == ("bench_height", "less than 2.5 m")


def test_a_trench_needs_an_engineer_beyond_twenty_feet() -> None:
    assert "trench_needs_engineer" not in told(20 * FOOT)
    assert told(20 * FOOT + HAIR)["trench_needs_engineer"] == "error"


# Table B-1 of Appendix B: type A 3/4 to 1, B 1 to 1, C 1 1/2 to 1.
@pytest.mark.parametrize(
    ("slope", "soils"),
    [
        (0.75, "OSHA soil type A;"),
        (1.0 - HAIR, "OSHA soil type A;"),
        (1.0, "OSHA soil type A, B;"),
        (1.5, "OSHA soil type A, B, C;"),
    ],
)
def test_a_slope_is_flat_enough_for_the_soils_of_the_table(slope: float, soils: str) -> None:
    trench = Trench(0.6, 2.0, slope)
    (found,) = [r for r in depth_rules("trench", trench) if r.code == "trench_slope"]
    assert found.severity == "info"
    assert soils in found.message
    # By hand, 2 m deep at 1.5 to 1 over 0.6 m of floor: 6.6 m.
    assert ("6.60 m wide" in found.message) is (slope < 1.5)


# The same table by what Appendix A makes of a soil (read in a reproduction): gravel and sand C,
# silt B, clay A at the best, rock that is not stable B, what is submerged C. Peat, no class of it,
# as soft soil, C. 2 m deep over 0.6 m of floor is by hand 6.6 m wide at 1.5 to 1 (34 degrees),
# 4.6 m at 1 to 1 (45), 3.6 m at 0.75 to 1 (53).
@pytest.mark.parametrize(
    ("soil", "wet", "flat", "said"),
    [
        ("sand", False, 1.5, "In sand, OSHA soil type C, sides are 1.5 to 1 (34 degrees)"),
        ("gravel", False, 1.5, "6.60 m wide"),
        ("peat", False, 1.5, "6.60 m wide"),
        ("silt", False, 1.0, "type B at the best, sides are 1 to 1 (45 degrees)"),
        ("weak_rock", False, 1.0, "In weak rock, OSHA soil type B at the best"),
        ("weak_rock", False, 1.0, "4.60 m wide"),
        ("clay", False, 0.75, "sides are 0.75 to 1 (53 degrees) or flatter: 3.60 m wide"),
        ("clay", True, 1.5, "In clay full of water, OSHA soil type C, sides are 1.5 to 1"),
        ("silt", True, 1.5, "6.60 m wide"),
        (None, False, 0.75, "0.75 to 1 in A, 1 to 1 in B, 1.5 to 1 in C"),
        (None, False, 0.75, "3.60 m, 4.60 m, 6.60 m wide"),
    ],
)
def test_sides_steeper_than_the_told_ground_bears_need_a_support(
    soil: str | None, wet: bool, flat: float, said: str
) -> None:
    for slope in (0.0, 0.5, flat - HAIR, flat, 2.0):
        works = Works(bulking=0.2, soil=soil, wet=wet)
        found = groundworks(slinky(), works, Trench(0.6, 2.0, slope)).findings
        told = [f for f in found if f.code == "trench_needs_protection"]
        assert len(told) == (slope < flat)
        assert all(f.severity == "warning" and said in f.message for f in told)
        assert ("trench_slope" in {f.code for f in found}) is (slope >= flat)


# Appendix B, figures (from memory): benches in cohesive soil only, and none in type C.
@pytest.mark.parametrize("wide", [0.9, 5.0])
@pytest.mark.parametrize(
    ("soil", "wet", "stands"),
    [
        ("clay", False, True),
        ("clay", True, False),
        ("silt", False, False),
        ("weak_rock", False, False),
        ("peat", False, False),
        ("gravel", False, False),
        ("sand", False, False),
    ],
)
def test_benches_stand_in_clay_alone(soil: str, wet: bool, stands: bool, wide: float) -> None:
    benched = Trench(0.6, 2.4, bench_height=1.2, bench_width=2.0 * wide)
    found = groundworks(slinky(), Works(soil=soil, wet=wet), benched).findings
    told = [f.message for f in found if f.code == "trench_needs_protection"]
    assert bool(told) is not stands
    if soil == "sand":  # by hand 0.6 + 2 x 1.5 x 2.4 m
        assert "benches stand in cohesive ground alone, which sand is not taken for" in told[0]
        assert "7.80 m wide" in told[0]


def test_a_header_trench_is_sloped_as_its_ground_bears() -> None:
    deep = HeaderTrench(20.0, depth=2.0, side_slope=1.0)
    for soil, bears in (("clay", True), ("sand", False)):
        found = groundworks(slinky(), Works(soil=soil), FLAT, deep).findings
        told = [f.message for f in found if f.code == "trench_needs_protection"]
        assert bool(told) is not bears
        assert all("The header trench is 2.00 m deep, its sides at 1 to 1" in f for f in told)


def test_a_pipe_is_covered_by_three_quarters_of_a_metre() -> None:
    # UK rule for water services, 0.75 m. Coils cross: two pipes of 32 mm and 100 mm
    # of bedding below.
    least = 0.1 + 2 * 0.032 + 0.75
    assert "cover_shallow" not in codes(dig(trench=Trench(1.2, least + HAIR)))
    assert "cover_shallow" in codes(dig(trench=Trench(1.2, least - HAIR)))
    # One pipe high where none crosses.
    passes = array(TrenchPasses(30.0, 2))
    assert "cover_shallow" not in codes(dig(passes, Trench(1.2, 0.882 + HAIR)))
    assert "cover_shallow" in codes(dig(passes, Trench(1.2, 0.882 - HAIR)))


def test_a_leg_lies_where_its_trench_puts_it_to_15_centimetres() -> None:
    # 100 mm of bedding below: 1.1 m deep in a trench of 1.2 m. Slack: common practice, no source.
    for depth, told_apart in ((1.1, False), (1.249, False), (1.251, True), (0.949, True)):
        found = codes(dig(slinky(depth=depth)))
        assert ("depth_contradicts_trench" in found) is told_apart
    # A coil that stands lies by its middle: half a metre higher.
    standing = array(Slinky(30, 1.0, 1.0, upright=True, depth=1.4))
    assert "depth_contradicts_trench" not in codes(dig(standing, Trench(0.4, 2.0)))
    standing = array(Slinky(30, 1.0, 1.0, upright=True, depth=1.9))
    assert "depth_contradicts_trench" in codes(dig(standing, Trench(0.4, 2.0)))


def test_a_coil_takes_its_diameter_and_a_pipe_of_floor() -> None:
    assert "trench_too_narrow" not in codes(dig(trench=Trench(1.032, 1.2)))
    narrow = dig(trench=Trench(1.032 - HAIR, 1.2))
    (said,) = [each.message for each in narrow.findings if each.code == "trench_too_narrow"]
    assert "is 1.04 m across" in said  # up: as wide as is told it fits


# ------------------------------------------------------------------------------------ header trench

# 1 m deep, 0.5 m wide, 0.3 m between flow and return: common practice, no source.


def header_codes(**over: Any) -> set[str]:
    return codes(dig(header=HeaderTrench(9.0, **over)))


def test_a_header_trench_is_120_centimetres_deep_and_half_a_metre_wide() -> None:
    found = dig(header=HeaderTrench(9.0)).header
    assert (found.length, found.dug) == pytest.approx((9.0, 9.0 * 0.5 * 1.2))
    assert "header_shallow" not in header_codes(depth=1.2)
    assert "header_shallow" in header_codes(depth=1.2 - HAIR)


def test_flow_and_return_lie_30_centimetres_apart() -> None:
    assert not {"separation_small", "separation_not_given"} & header_codes(separation=0.3)
    assert "separation_small" in header_codes(separation=0.3 - HAIR)


# By hand, in 20 m of trench: k pipes of 32 mm, 50 mm between and 100 mm beside them, take
# 0.05 + 0.082 k m of floor as one of two layers, and side by side twice that and what is told to
# be between flow and return. 20 m out and back for each of four loops: 0.478 m, and 0.956 m more.
@pytest.mark.parametrize(
    ("wide", "apart", "high", "code"),
    [
        (0.25, 0.0, 0.264, "header_too_narrow"),  # return, flow on it: 0.1 + 2 x 0.032 + 0.1
        (0.478 - HAIR, 0.3, 0.532, "header_too_narrow"),
        (0.478, 0.0, 0.264, None),
        (0.478, 0.3, 0.532, None),
        (0.5, 0.6, 0.832, "separation_exceeds_trench"),
        (0.956 - HAIR, 0.0, 0.264, None),
        (0.956, 0.0, 0.232, None),
        (1.256, 0.3, 0.232, None),
        (1.256, 0.3 + HAIR, 0.532, "separation_exceeds_trench"),
        (1.256, None, 0.232, None),
        (1.556, 0.6, 0.232, None),
        (1.556 - HAIR, 0.6, 0.832, "separation_exceeds_trench"),
    ],
)
def test_layers_of_a_header_trench_follow_the_separation_that_is_told(
    wide: float, apart: float | None, high: float, code: str | None
) -> None:
    tails = array(Straight(20.0), Slinky(30, 1.0, 1.0), Straight(20.0), count=4)
    found = groundworks(tails, CLAY, FLAT, HeaderTrench(20.0, width=wide, separation=apart))
    assert found.header.bedding + found.header.pipe == pytest.approx(20.0 * wide * high, rel=1e-4)
    told = codes(found) & {"header_too_narrow", "separation_exceeds_trench"}
    assert told == ({code} if code else set())


def test_floor_that_is_too_narrow_is_told_with_the_width_that_is_not() -> None:
    # By hand: two loops' tails of 32 mm and a run of 63 mm, each out and back: 0.2 + 2 x 0.05 +
    # 2 x 0.032 + 0.063 = 0.427 m.
    loop = Loop("T", P32, (Straight(20.0), Slinky(30, 1.0, 1.0), Straight(20.0)))
    circuit = Circuit("manifold", (Branch(loop, count=2),))
    for wide, narrow in ((0.42, True), (0.43, False)):
        dug = groundworks(
            circuit, CLAY, FLAT, HeaderTrench(20.0, width=wide), plant=Plant(runs=(Run(P63, 20.0),))
        )
        told = [f.message for f in dug.findings if f.code == "header_too_narrow"]
        assert bool(told) is narrow
        assert all("3 pairs" in each and "0.43 m of floor" in each for each in told)


def test_all_pipe_that_is_no_loop_lies_in_the_header_trench() -> None:
    # Per loop two tails of 10 m of 32 mm, a route of 8 m of 40 mm out and back; 25 m of 63 mm out
    # and back to the plant.
    loop = Loop("T", P32, (Straight(10.0), Slinky(30, 1.0, 1.0), Straight(10.0)))
    circuit = Circuit("manifold", (Branch(loop, runs=(Run(P40, 8.0),), count=4),))
    plant = Plant(runs=(Run(P63, 25.0),))
    found = groundworks(circuit, CLAY, FLAT, HeaderTrench(40.0), plant=plant)
    pipe = 80.0 * SECTION[32] + 64.0 * SECTION[40] + 50.0 * SECTION[63]
    assert found.header.pipe == pytest.approx(pipe, rel=1e-5)
    # 100 mm of bedding below the return and above the top of the largest, 63 mm, 0.3 m above it.
    layer = 40.0 * 0.5 * 0.563
    assert found.header.bedding + found.header.pipe == pytest.approx(layer, rel=1e-5)


def test_bedding_of_a_header_trench_reaches_above_the_top_of_its_pipe() -> None:
    # By hand: 20 m of trench, 0.5 m wide, 100 mm, return, flow 0.3 m above it and 32 mm thick, and
    # 100 mm are 5.32 m³. Side by side, 0.3 m apart with 0.1 m beside each, they take 0.764 m, and
    # 100 mm + 32 mm + 100 mm.
    tails = array(Straight(20.0), Slinky(30, 1.0, 1.0), Straight(20.0))
    for wide, high in ((0.5, 0.532), (0.763, 0.532), (0.764, 0.232), (1.0, 0.232)):
        header = groundworks(tails, CLAY, FLAT, HeaderTrench(20.0, width=wide)).header
        assert header.bedding + header.pipe == pytest.approx(20.0 * wide * high)
    for apart, high in ((0.0, 0.232), (0.2, 0.432), (0.4, 0.632)):
        header = groundworks(tails, CLAY, FLAT, HeaderTrench(20.0, separation=apart)).header
        assert header.bedding + header.pipe == pytest.approx(20.0 * 0.5 * high)
    # Where pipe is more than one layer, half of it is pipe: 24 tails of 20 m in 1 m of trench.
    many = array(Straight(20.0), Slinky(30, 1.0, 1.0), Straight(20.0), count=6)
    header = groundworks(many, CLAY, FLAT, HeaderTrench(1.0)).header
    assert header.bedding + header.pipe == pytest.approx(0.1 + 2 * 240 * SECTION[32], rel=1e-4)


# By hand: 100 mm of bedding, flow as far above the return as told (left out, 0.3 m), its 32 mm, and
# 0.75 m of ground; side by side in a wide trench it is 100 mm, 32 mm and 0.75 m. So a trench of
# 1.2 m with 0.6 m between leaves 0.468 m, which is 0.29 m short, one of 0.95 m leaves 0.218 m.
@pytest.mark.parametrize(
    ("header", "said"),
    [
        (HeaderTrench(20.0, depth=1.182 + HAIR), None),
        (HeaderTrench(20.0, depth=1.182 - HAIR), "0.3 m above the return: dig it 0.01 m deeper"),
        (HeaderTrench(20.0, depth=1.082 + HAIR, separation=0.2), None),
        (HeaderTrench(20.0, depth=1.082 - HAIR, separation=0.2, width=0.4), "0.2 m above"),
        (HeaderTrench(20.0, depth=1.2, separation=0.6), "0.6 m above the return: dig it 0.29 m"),
        (HeaderTrench(20.0, depth=1.2, separation=0.6), "Only 0.47 m of ground cover the flow"),
        (HeaderTrench(20.0, depth=0.95, separation=0.6), "Only 0.22 m of ground cover the flow"),
        (HeaderTrench(20.0, width=2.0, depth=0.882 + HAIR), None),
        (HeaderTrench(20.0, width=2.0, depth=0.882 - HAIR), "cover the pipes of the header"),
    ],
)
def test_flow_pipes_above_the_return_are_covered_too(
    header: HeaderTrench, said: str | None
) -> None:
    tails = array(Straight(20.0), Slinky(30, 1.0, 1.0), Straight(20.0))
    found = groundworks(tails, CLAY, FLAT, header)
    covers = [each.message for each in found.findings if each.code == "cover_shallow"]
    assert len(covers) == (said is not None)
    assert all(str(said) in each for each in covers)


def test_headers_lie_in_the_header_trench_by_their_outside() -> None:
    loop = Loop("T", P32, (Straight(10.0), Slinky(30, 1.0, 1.0), Straight(10.0)))
    circuit = Circuit("direct_return", (Branch(loop, header_length=5.0, count=3),), P63)
    found = groundworks(circuit, CLAY, FLAT, HeaderTrench(15.0))
    assert found.header.pipe == pytest.approx(60.0 * SECTION[32] + 30.0 * SECTION[63], rel=1e-5)


def test_spare_pipe_left_in_coils_is_pipe_of_the_header_trench() -> None:
    # Common practice, no source: a spare tail is coiled beside the manifold.
    coiled = array(Slinky(30, 1.0, 1.0), Coiled(20.0, 1.0))
    found = groundworks(coiled, CLAY, FLAT, HeaderTrench(9.0))
    assert found.header.pipe == pytest.approx(20.0 * SECTION[32], rel=1e-5)


# -------------------------------------------------------------------------------------------- bends


def test_pipe_is_wound_no_tighter_than_the_coil_it_comes_in() -> None:
    # EN 12201-2: a coil of 18 diameters at least (from memory): 0.576 m of 32 mm pipe.
    assert "bend_too_tight" not in codes(dig(slinky(coil=0.576)))
    assert "bend_too_tight" in codes(dig(slinky(coil=0.576 - HAIR)))


def test_pipe_is_bent_cold_to_twenty_diameters_at_20_degrees() -> None:
    # A pipe maker's table (read): a radius of 20 d at 20 °C and of 35 d at 10 °C.
    for warm, widest in ((20.0, 1.28), (10.0, 2.24)):
        works = Works(soil="clay", laying_temperature=warm)
        for coil, below in ((widest, False), (widest - HAIR, True)):
            found = groundworks(slinky(coil=coil), works, Trench(3.0, 1.2))
            assert ("bend_below_cold_limit" in codes(found)) is below
    assert Works(soil="clay").laying_temperature == 20.0


@pytest.mark.parametrize(
    ("laid", "said"),
    [
        (-20.0, "at 0 °C, the coldest that the limit is published for (this pipe is at -20 °C"),
        (0.0, "to 1.60 m at 0 °C. "),
        (10.0, "to 1.12 m at 10 °C. "),
        (60.0, "to 0.64 m at 20 °C and warmer. "),
    ],
)
def test_a_bend_limit_is_told_at_a_temperature_that_its_source_covers(
    laid: float, said: str
) -> None:
    # A pipe maker's table (read): 50 d at 0 °C, 35 d at 10 °C, 20 d at 20 °C, of 32 mm pipe.
    found = groundworks(slinky(), Works(soil="clay", laying_temperature=laid), FLAT)
    (told,) = [each.message for each in found.findings if each.code == "bend_below_cold_limit"]
    assert said in told


def test_no_bend_is_wide_enough_in_frost() -> None:
    wide = slinky(coil=4.0)  # 62 d
    for laid, told in ((0.0, False), (-0.1, True)):
        found = groundworks(wide, Works(soil="clay", laying_temperature=laid), Trench(5.0, 1.2))
        assert ("bend_below_cold_limit" in codes(found)) is told


def test_turns_between_passes_take_their_diameter_and_a_pipe_of_floor() -> None:
    # Geometry: a half-turn of 1.6 m between pipe centres is 1.632 m across.
    turning = array(TrenchPasses(50.0, 4, 1.6, spacing=0.3))
    assert "trench_too_narrow" not in codes(dig(turning, Trench(1.632, 1.2)))
    narrow = dig(turning, Trench(1.632 - 1e-4, 1.2))
    (said,) = [each.message for each in narrow.findings if each.code == "trench_too_narrow"]
    assert said.startswith("A turn between passes of loop T is 1.64 m across")
    assert "make the turns of fittings" in said
    one = array(TrenchPasses(50.0, 1, 1.6), TrenchPasses(50.0, 1, 1.6))
    assert "trench_too_narrow" not in codes(dig(one, Trench(0.5, 1.2)))


def test_turns_made_as_wide_as_is_advised_fit_the_floor_that_is_advised() -> None:
    tight = dig(array(TrenchPasses(50.0, 2, 0.75)), Trench(1.0, 1.2))
    (said,) = [each.message for each in tight.findings if each.code == "bend_below_cold_limit"]
    # 20 d of 32 mm: turns of 1.28 m, and a pipe.
    assert "to 0.64 m" in said
    assert "the trench's floor with them (1.32 m at the least)" in said
    wide = array(TrenchPasses(50.0, 2, 1.28))
    assert "trench_too_narrow" in codes(dig(wide, Trench(1.0, 1.2)))
    assert not {"trench_too_narrow", "bend_below_cold_limit"} & codes(dig(wide, Trench(1.312, 1.2)))


def test_what_is_advised_of_a_bend_is_of_the_leg_that_has_it() -> None:
    def advice(*legs: Leg) -> list[str]:
        found = groundworks(array(*legs), CLAY, Trench(3.0, 1.2))
        return [each.message for each in found.findings if each.code == "bend_below_cold_limit"]

    turns, coils, mat, spare = (
        TrenchPasses(25.0, 2, 0.9), Slinky(10, 1.0, 1.0), PondMat(0.8, 2.0, 0.3), Coiled(9.0, 1.1),
    )  # fmt: skip
    for leg in (turns, mat, spare):
        (said,) = advice(leg)
        assert "slink" not in said
        assert "ask the pipe maker, and do not lay in frost." in said
    assert "turns between passes" in advice(turns)[0]
    assert "slinkies are laid so" in advice(coils)[0]
    both = advice(coils, turns)
    assert len(both) == 2  # each tightest bend of its kind
    assert "0.50 m" in both[0]
    assert "0.45 m" in both[1]


def test_passes_take_four_diameters_of_floor_whatever_their_spacing() -> None:
    # Geometry: four pipes of 32 mm that touch are 128 mm across.
    for legs in ((Straight(240.0),), (TrenchPasses(60.0, 4),)):
        kept, broken = (
            dig(array(*legs), Trench(width, 1.2, passes=4)) for width in (0.128, 0.128 - 1e-4)
        )
        assert "trench_too_narrow" not in codes(kept)
        assert "trench_too_narrow" in codes(broken)
    (said,) = [each.message for each in broken.findings if each.code == "trench_too_narrow"]
    assert said.startswith("4 passes of loop T side by side are 0.13 m across")
    upright = array(Slinky(30, 1.0, 1.0, upright=True))
    assert "trench_too_narrow" not in codes(dig(upright, Trench(0.1, 2.0)))
    # Each ring is closed by pipe that crosses pipe: two of 32 mm.
    assert "trench_too_narrow" in codes(dig(upright, Trench(0.06, 2.0)))
    assert "trench_too_narrow" not in codes(dig(upright, Trench(0.065, 2.0)))


# ------------------------------------------------------------------------------- volumes and hours


def test_a_digger_makes_forty_metres_in_six_hours() -> None:
    # Common practice, no source. A rate that was given is no assumption.
    assert dig().digger_hours == pytest.approx(4.5)  # 30 m
    assert "digger_rate_assumed" in codes(dig())
    quick = groundworks(slinky(), Works(soil="clay", metres_per_hour=10.0), FLAT)
    assert quick.digger_hours == pytest.approx(3.0)
    assert "digger_rate_assumed" not in codes(quick)
    mats = groundworks(array(PondMat(0.6, 2.0, 0.3, 1)), CLAY)
    assert "digger_rate_assumed" not in codes(mats)


def test_a_large_trench_takes_as_long_as_its_volume() -> None:
    # Common practice, no source: the rate is that of 2 m³ a metre and 1.5 m of depth at the most.
    def rate(found: Groundworks) -> tuple[str, str]:
        (said,) = [each for each in found.findings if each.code == "digger_rate_assumed"]
        return said.severity, said.message

    small, large, deep = (
        dig(trench=trench) for trench in (Trench(1.2, 1.5), Trench(1.6, 1.5), Trench(1.0, 1.6))
    )
    assert small.digger_hours == pytest.approx(4.5)  # 30 m; 1.8 m³ a metre
    assert large.digger_hours == pytest.approx(4.5 * 1.6 * 1.5 / 2.0)
    assert deep.digger_hours == pytest.approx(4.5 * 1.6 / 1.5)  # 1.6 m³ a metre, 1.6 m deep
    assert [rate(each)[0] for each in (small, large, deep)] == ["info", "warning", "warning"]
    assert "to 1.5 m deep and 2 m³ a metre" in rate(small)[1]
    assert "up to 1.60 m deep and 1.6 m³ a metre" in rate(deep)[1]
    # 7 m deep with sides of 1.5 to 1: 1.2 · 7 + 1.5 · 7² = 81.9 m³ a metre; its ends rise
    # as its sides do: 7 · 10.5 · (1.2 + 4/3 · 10.5) = 1117.2 m³. By hand.
    pit = dig(trench=Trench(1.2, 7.0, 1.5))
    assert pit.loops.dug == pytest.approx(30.0 * 81.9 + 1117.2)
    assert pit.digger_hours == pytest.approx(
        (30.0 * 81.9 + 1117.2) / 2.0 / (40.0 / 6.0) * 7.0 / 1.5
    )
    assert "7.00 m deep and 119.1 m³ a metre" in rate(pit)[1]
    # A rate that was given is one of that trench.
    given = groundworks(slinky(), Works(soil="clay", metres_per_hour=1.0), Trench(1.2, 7.0, 1.5))
    assert given.digger_hours == pytest.approx(30.0)
    headers = dig(header=HeaderTrench(10.0, depth=1.6))
    assert rate(headers)[0] == "warning"


# Classes of engineering-geological mapping (read in a reproduction), per cent.
@pytest.mark.parametrize(
    ("soil", "low", "high", "half_range"),
    [
        ("gravel", 5, 20, 7), ("sand", 5, 20, 7), ("silt", 20, 40, 8), ("clay", 20, 40, 8),
        ("peat", 20, 40, 8), ("weak_rock", 40, 55, 5),
    ],
)  # fmt: skip
def test_bulking_is_that_of_the_class_and_its_doubt_is_told(
    soil: str, low: int, high: int, half_range: int
) -> None:
    assert BULKING[soil] == pytest.approx((low / 100, high / 100))
    found = groundworks(slinky(), Works(soil=soil), FLAT)
    (said,) = [each.message for each in found.findings if each.code == "bulking_range"]
    assert f"{low} to {high} %" in said
    assert f"{(low + high) / 2:.1f} % was used" in said
    # Half of the range over the volume at its middle.
    assert f"uncertain by {half_range} %" in said
    given = groundworks(slinky(), Works(soil=soil, bulking=0.25), FLAT)
    assert given.bulking == 0.25
    assert "bulking_range" not in codes(given)


def test_lorries_take_ten_cubic_metres_and_the_last_goes_part_full() -> None:
    # Common practice, no source. 28.8 m³ of bedding and pipe times 1.3 at most.
    found = dig()
    assert found.lorries == math.ceil(found.loops.away_loose / 10.0)
    exact = Works(bulking=0.0, lorry=dig().loops.away / 2.0)
    assert groundworks(slinky(), exact, FLAT).lorries == 2
    more = Works(bulking=0.0, lorry=dig().loops.away / 2.0 * (1.0 - 1e-6))
    assert groundworks(slinky(), more, FLAT).lorries == 3


def test_volumes_of_a_trench_by_hand() -> None:
    # 10 m of 1 m by 2 m; 0.5 m of bedding with 0.8 m³ of pipe; 25 % bulking.
    found = excavation(Trench(1.0, 2.0), 10.0, 0.5, 0.8, 0.25)
    assert (found.dug, found.heaped) == (20.0, 25.0)
    assert (found.bedding, found.pipe) == pytest.approx((4.2, 0.8))
    assert found.backfill == pytest.approx(15.0)
    assert (found.away, found.away_loose) == pytest.approx((5.0, 6.25))
    twice = found + found
    assert (twice.length, twice.dug, twice.heaped) == (20.0, 40.0, 50.0)
    assert (twice.bedding, twice.pipe) == pytest.approx((8.4, 1.6))
    assert (twice.backfill, twice.away) == pytest.approx((30.0, 10.0))
    assert twice.away_loose == pytest.approx(12.5)


def test_bedding_may_fill_the_trench_and_pipe_the_bedding() -> None:
    full = excavation(Trench(1.0, 2.0), 10.0, 2.0, 20.0, 0.0)
    assert (full.backfill, full.bedding) == (0.0, 0.0)


def test_benches_and_slopes_by_hand() -> None:
    # Steps of 1 m with treads of 0.5 m on either side: 1 m, 2 m and 3 m wide.
    benched = Trench(1.0, 3.0, bench_height=1.0, bench_width=0.5)
    assert benched.area(3.0) == pytest.approx(1.0 + 2.0 + 3.0)
    assert benched.area(1.5) == pytest.approx(1.0 + 0.5 * 2.0)
    assert benched.top_width == pytest.approx(3.0)
    assert Trench(1.0, 2.0, 0.5).area(2.0) == pytest.approx(4.0)
    assert Trench(1.0, 2.0, 0.5).top_width == pytest.approx(3.0)


# ------------------------------------------------------------------------------------------- plans


def test_coils_and_passes_are_drawn_where_they_lie() -> None:
    block = set_out(1, 3.0, 5.0, 2.5, body=1.2)
    dug = DugTrench("T", InTrench(3.0, coils=3, coil_diameter=1.0, pitch=1.0), 1, 0.0, 0.032)
    plan = trench_plan(block, [dug], ["T"], 1.2, None)
    # The trench's middle is a border and half its width in.
    assert len(plan.circles) == 3
    for circle, y in zip(plan.circles, (3.0, 4.0, 5.0), strict=True):
        assert (circle.x, circle.y, circle.diameter) == pytest.approx((3.1, y, 1.0))
    (trench,) = [r for r in plan.rectangles if r.kind == "trench"]
    assert (trench.x, trench.y, trench.width, trench.height) == (2.5, 2.5, 1.2, 3.0)
    upright = replace(dug, lies=replace(dug.lies, upright=True))
    seen = trench_plan(block, [upright], ["T"], 1.2, None)
    (pipe,) = [line for line in seen.lines if line.kind == "pipe"]
    assert [*pipe.points[0], *pipe.points[1]] == pytest.approx([3.1, 2.5, 3.1, 5.5])
    assert not seen.circles
    (label,) = plan.texts
    assert (label.x, label.y) == pytest.approx((3.1, 5.5))
    assert label.text == "T"


def test_passes_of_untold_spacing_are_spread_over_the_floor() -> None:
    block = set_out(1, 30.0, 5.0, 2.5, body=1.2)
    dug = DugTrench("T", InTrench(30.0, pipes=4), 1, 0.0, 0.032)
    plan = trench_plan(block, [dug], ["T"], 1.2, None)
    at = [line.points[0][0] - 3.1 for line in plan.lines if line.kind == "pipe"]
    assert at == pytest.approx([-0.45, -0.15, 0.15, 0.45])


@pytest.mark.parametrize(("trenches", "drawn"), [(100, True), (101, False)])
def test_three_thousand_coils_are_drawn_and_no_more(trenches: int, drawn: bool) -> None:
    block = set_out(trenches, 30.0, 5.0, 2.5)
    lies = InTrench(30.0, coils=30, coil_diameter=1.0, pitch=1.0)
    dug = DugTrench("T", lies, trenches, 0.0, 0.032)
    assert bool(trench_plan(block, [dug], ["T"] * trenches, 1.2, None).circles) is drawn


@pytest.mark.parametrize(("count", "drawn"), [(5000, True), (5001, False)])
def test_five_thousand_places_are_drawn_and_no_more(count: int, drawn: bool) -> None:
    for circuit in (array(Straight(20.0), count=count),
                    array(BoreholeU(60.0, diameter=0.15), count=count)):  # fmt: skip
        found = groundworks(circuit, CLAY, Trench(0.6, 1.2))
        assert (found.plan is not None) is drawn
        assert found.block is not None


def test_points_lie_in_as_square_a_grid_as_can_be() -> None:
    for places, across, rows in ((1, 1, 1), (2, 2, 1), (5, 3, 2), (9, 3, 3), (10, 4, 3)):
        block = set_out(places, 0.0, 6.0, 2.5)
        assert (block.across, block.rows) == (across, rows)
    plan = point_plan(set_out(2, 0.0, 6.0, 2.5), ["A", "B"], 0.15, "borehole", None)
    assert [(c.x, c.y, c.diameter, c.label) for c in plan.circles] == [
        (2.5, 2.5, 0.15, "A"),
        (8.5, 2.5, 0.15, "B"),
    ]


def test_a_loop_of_several_trenches_is_labelled_trench_by_trench() -> None:
    found = dig(slinky(count=2))
    assert found.plan is not None
    assert [text.text for text in found.plan.texts] == ["T-1", "T-2"]
    alone = dig(slinky())
    assert alone.plan is not None
    assert [text.text for text in alone.plan.texts] == ["T"]


@pytest.mark.parametrize(
    "leg", [Slinky(6, 0.8, 0.8), BoreholeU(60.0, diameter=0.15), PondMat(1.0, 2.6, 0.05)]
)
def test_a_plan_calls_loops_of_equal_chambers_as_the_split_does(leg: Leg) -> None:
    # They were numbered on through all chambers: C/a-1 to C/a-4.
    inner = Circuit("manifold", (Branch(Loop("a", P32, (leg,)), count=2),), name="C")
    circuit = Circuit("manifold", (Branch(inner, count=2), Branch(Loop("b", P32, (leg,)))))
    found = groundworks(circuit, CLAY, Trench(1.2, 1.4))
    assert found.plan is not None
    names = [text.text for text in found.plan.texts]
    assert names == ["C-1/a-1", "C-1/a-2", "C-2/a-1", "C-2/a-2", "b"]
    assert names == walk(circuit).names


# -------------------------------------------------------------------------------------------- order


def test_coils_come_in_the_usual_lengths() -> None:
    # Common practice, no source.
    assert STANDARD_COILS == (50.0, 100.0, 150.0, 200.0, 300.0)


def test_every_route_is_ordered_out_and_back_for_each_of_its_branches() -> None:
    loop = Loop("T", P32, (Straight(90.0),))
    circuit = Circuit("manifold", (Branch(loop, runs=(Run(P40, 20.0),), count=3),))
    order = pipe_order(circuit, Plant(runs=(Run(P63, 30.0), Run(P63, 0.0))))
    # Six pieces of 20 m of 40 mm from three coils of 50 m (two to each) or one of 150 m, which is
    # as much pipe in fewer pieces; two of 30 m of 63 mm from a coil of 100 m.
    assert dict(order.route_lengths) == {P40: 120.0, P63: 60.0}
    assert [(line.pipe, line.coil, line.loops, line.routes) for line in order.lines] == [
        (P32, 100.0, 3, 0),
        (P40, 150.0, 0, 1),
        (P63, 100.0, 0, 1),
    ]
    assert order.leftover == pytest.approx(3 * 10.0 + 30.0 + 40.0)


def test_headers_and_tails_of_boreholes_are_ordered_for_each_circuit() -> None:
    bore = Loop("B", P40, (Straight(6.0), BoreholeU(60.0), Straight(4.0)))
    inner = Circuit("direct_return", (Branch(bore, header_length=7.0, count=2),), P63)
    order = pipe_order(Circuit("manifold", (Branch(inner, count=3),)))
    # Six bores of 10 m of tails; three circuits with two stretches of 7 m out and back.
    assert dict(order.route_lengths) == {P40: 60.0, P63: 84.0}
    assert [(probe.depth, probe.count) for probe in order.probes] == [(60.0, 6)]


def test_pieces_are_cut_to_the_last_centimetre() -> None:
    assert pack_pieces([50.0, 50.0], 100.0) == 1
    assert pack_pieces([50.0, 50.01], 100.0) == 2
    assert pack_pieces([100.0], 100.0) == 1
    assert pack_pieces([300.0], 100.0) == 3
    assert pack_pieces([300.5, 99.5], 100.0) == 4


def test_a_route_of_a_whole_coil_is_not_jointed_and_a_longer_one_is() -> None:
    loop = Loop("T", P32, (Straight(50.0),))
    for length, jointed in ((300.0, False), (300.1, True)):
        circuit = Circuit("manifold", (Branch(loop, runs=(Run(P63, length),)),))
        found = [each.code for each in pipe_order(circuit).findings]
        assert ("route_jointed" in found) is jointed


def test_rules_of_bends_and_bores_tell_their_sizes() -> None:
    # 0.5 m coils of 32 mm pipe: a radius of 0.25 m, 7.8 diameters; delivered at 18, 0.29 m.
    found = dig(slinky(coil=0.5))
    (said,) = [each.message for each in found.findings if each.code == "bend_too_tight"]
    assert "to a radius of 0.25 m (7.8 diameters)" in said
    assert "(0.29 m)" in said
    with pytest.raises(InputError, match="borehole of 50 mm"):
        groundworks(array(BoreholeU(80.0, 2, diameter=0.05)), CLAY)
