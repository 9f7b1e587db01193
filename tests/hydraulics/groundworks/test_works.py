import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad

from hydraulics.boreholes.shapes import (
    perimeter_field,
    rectangle_field,
    rows_field,
)
from hydraulics.errors import InputError
from hydraulics.groundworks.excavation import BULKING, HeaderTrench, Trench, excavation
from hydraulics.groundworks.works import Groundworks, Works, groundworks
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.pipe import pe_bend_radius, pe_pipe
from hydraulics.plot.plot import Plot

P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")
FLAT, NARROW = Trench(1.2, 1.2), Trench(0.4, 2.0)
STRAIGHT = Trench(0.6, 1.2)
CLAY = Works(soil="clay")


def array(*legs: Leg, count: int = 1) -> Circuit:
    return Circuit("manifold", (Branch(Loop("T", P32, tuple(legs)), count=count),))


def slinky(count: int = 1, coil: float = 1.0, tail: float = 10.0) -> Circuit:
    return array(Straight(tail), Slinky(30, coil, 1.0), Straight(tail), count=count)


UPRIGHT = array(Slinky(30, 1.0, 1.0, upright=True))
MATS = array(PondMat(0.6, 2.0, 0.3, 3), count=3)
ANYWHERE = Plot()


def codes(found: Groundworks) -> set[str]:
    return {finding.code for finding in found.findings}


# ------------------------------------------------------------------------------------- excavation


def test_thirty_metres_of_flat_trench_by_hand() -> None:
    found = groundworks(slinky(), CLAY, FLAT)
    pipe = 0.25 * math.pi * 0.032**2 * 30 * (math.pi + 2.0)
    bedding = 30 * 1.2 * (0.1 + 0.064 + 0.1) - pipe  # two pipes high: coils cross
    assert found.loops.length == pytest.approx(30.0)
    assert found.loops.dug == pytest.approx(30 * 1.2 * 1.2)
    assert found.loops.heaped == pytest.approx(30 * 1.2 * 1.2 * 1.3)
    assert found.loops.bedding == pytest.approx(bedding)
    assert found.loops.away_loose == pytest.approx((bedding + pipe) * 1.3)
    assert found.lorries == math.ceil((bedding + pipe) * 1.3 / 10.0)
    assert found.digger_hours == pytest.approx(30.0 / 40.0 * 6.0)


def test_an_upright_coil_stands_in_its_bedding() -> None:
    found = groundworks(UPRIGHT, CLAY, NARROW)
    around = 30 * 0.4 * (0.1 + 1.0 + 0.032 + 0.1)
    assert found.loops.bedding + found.loops.pipe == pytest.approx(around)


def test_bedding_sieved_from_the_spoil_leaves_only_the_pipes_volume_to_go() -> None:
    found = groundworks(slinky(), Works(soil="clay", bedding_imported=False), FLAT)
    assert found.loops.away == pytest.approx(found.loops.pipe)
    assert found.bedding_loads == 0


@given(st.floats(0.3, 3.0), st.floats(0.8, 4.0), st.floats(0.0, 2.0), st.floats(1.0, 300.0))
def test_soil_is_neither_made_nor_lost(
    width: float, depth: float, slope: float, length: float
) -> None:
    dug = excavation(Trench(width, depth, slope), length, 0.3, 0.01 * length, 0.25)
    assert dug.backfill + dug.bedding + dug.pipe == pytest.approx(dug.dug)
    assert dug.backfill + dug.away == pytest.approx(dug.dug)


@given(
    st.floats(0.3, 3.0), st.floats(0.8, 4.0), st.floats(0.0, 2.0), st.floats(1.0, 300.0),
    st.floats(0.0, 1.2),
)  # fmt: skip
def test_a_trench_is_as_its_slices_with_ends_as_its_sides(
    width: float, depth: float, slope: float, length: float, tread: float
) -> None:
    """Volume as the integral of the slices' areas, by SciPy, of sloped and of benched trenches."""
    sloped = Trench(width, depth, slope)
    found = excavation(sloped, length, 0.3, 0.0, 0.25, ended=1)
    wider, _ = quad(lambda z: (width + 2 * slope * z) * (length + 2 * slope * z), 0.0, depth)
    assert found.dug == pytest.approx(wider, rel=1e-6)  # of SciPy's quadrature
    if tread > 0.01:
        benched = Trench(width, depth, bench_height=0.6, bench_width=tread)
        steps = [(min(0.6, depth - 0.6 * n), 2 * n * tread) for n in range(math.ceil(depth / 0.6))]
        by_step = sum(rise * (width + more) * (length + more) for rise, more in steps)
        dug = excavation(benched, length, 0.3, 0.0, 0.25, ended=1).dug
        assert dug == pytest.approx(by_step, rel=1e-9)


@given(st.floats(1.0, 3.0), st.floats(0.01, 2.0), st.floats(0.0, 1.5))
def test_a_deeper_trench_digs_more(depth: float, more: float, slope: float) -> None:
    shallow, deep = (
        groundworks(slinky(), CLAY, Trench(1.2, d, slope)).loops for d in (depth, depth + more)
    )
    assert deep.dug > shallow.dug
    assert deep.heaped > shallow.heaped
    assert deep.bedding == pytest.approx(shallow.bedding)


@given(st.integers(1, 30), st.integers(1, 30))
def test_volumes_of_arrays_add_up(first: int, second: int) -> None:
    one, two, both = (
        groundworks(slinky(n), CLAY, FLAT).loops.dug for n in (first, second, first + second)
    )
    assert one + two == pytest.approx(both)


@given(st.floats(0.5, 6.0), st.floats(0.3, 2.0), st.floats(0.2, 1.2), st.floats(0.2, 1.2))
def test_benches_are_the_sum_of_their_steps(
    depth: float, width: float, step: float, tread: float
) -> None:
    assume(step < depth and abs(depth / step - round(depth / step)) > 1e-6)
    benched = Trench(width, depth, bench_height=step, bench_width=tread)
    area, height, number = 0.0, 0.0, 0
    while height < depth:
        rise = min(step, depth - height)
        area += rise * (width + 2 * number * tread)
        height, number = height + rise, number + 1
    assert benched.area(depth) == pytest.approx(area)
    assert benched.top_width == pytest.approx(width + 2 * (number - 1) * tread)


def test_tails_headers_and_runs_lie_in_the_header_trench() -> None:
    found = groundworks(slinky(count=4), CLAY, FLAT, HeaderTrench(length=25.0))
    assert found.header.pipe == pytest.approx(4 * 20.0 * 0.25 * math.pi * 0.032**2)
    assert found.header.dug == pytest.approx(25.0 * 0.5 * 1.2)
    assert found.total.length == pytest.approx(4 * 30.0 + 25.0)


def test_a_header_trench_without_a_length_runs_along_the_rows_foot() -> None:
    found = groundworks(slinky(count=4), CLAY, FLAT, HeaderTrench())
    assert found.header.length == pytest.approx(15.0)  # four trenches at 5 m centres


def test_passes_share_a_trench() -> None:
    found = groundworks(array(TrenchPasses(60.0, 4)), CLAY, STRAIGHT)
    assert found.loops.length == pytest.approx(60.0)
    assert found.loops.pipe == pytest.approx(240.0 * 0.25 * math.pi * 0.032**2)


def test_a_loop_of_straight_pipe_lies_in_a_trench_of_its_own() -> None:
    alone = groundworks(array(Straight(240.0)), CLAY, STRAIGHT)
    there_and_back = groundworks(array(Straight(240.0)), CLAY, Trench(0.6, 1.2, passes=2))
    assert alone.loops.length == pytest.approx(240.0)
    assert there_and_back.loops.length == pytest.approx(120.0)


# --------------------------------------------------------------------------------- bores and mats


def test_grout_fills_what_the_pipes_leave() -> None:
    works = Works(soil="sand")
    hole = BoreholeU(80.0, 2, P40, diameter=0.15)
    circuit = array(Straight(5.0), hole, Straight(5.0), count=3)
    drilled = groundworks(circuit, works).drilling
    assert drilled is not None
    assert (drilled.holes, drilled.metres) == (3, 240.0)
    ring = 0.25 * math.pi * (0.15**2 - 4 * 0.040**2)
    assert drilled.grout == pytest.approx(240.0 * ring)
    assert drilled.spoil_loose == pytest.approx(240.0 * 0.25 * math.pi * 0.15**2 * 1.125)


def test_boreholes_need_a_diameter_that_takes_the_pipes() -> None:
    with pytest.raises(InputError, match="diameter is not told"):
        groundworks(array(BoreholeU(80.0)), Works(soil="sand"))


# Packing of equal circles in a circle: two take 2 diameters, four 1 + sqrt(2) (geometry).
@pytest.mark.parametrize(("u_tubes", "across"), [(1, 2.0), (2, 1.0 + math.sqrt(2.0))])
def test_a_borehole_takes_its_pipes_side_by_side(u_tubes: int, across: float) -> None:
    least = across * 0.032
    assert array(BoreholeU(80.0, u_tubes, diameter=least))
    with pytest.raises(InputError, match="side by side") as caught:
        array(Straight(2.0), BoreholeU(80.0, u_tubes, diameter=least - 1e-5))
    (fault,) = caught.value.faults
    assert fault.field == "legs.1.diameter"
    assert fault.allowed == f"{1e3 * least:.4g} mm or more"
    assert array(BoreholeU(80.0, u_tubes))  # nothing told, nothing to hold it against


def test_mats_dig_nothing() -> None:
    found = groundworks(array(Straight(20.0), PondMat(0.6, 2.4, 0.3, 3), count=2), CLAY)
    assert found.mats is not None
    assert found.mats.number == 6
    assert found.mats.area == pytest.approx(6 * 2.4**2)
    assert found.total.dug == 0.0
    assert found.digger_hours == 0.0
    assert found.plan is not None
    assert len(found.plan.circles) == 6


# ------------------------------------------------------------------------------------ ground rules


def test_the_common_array_on_a_large_plot_breaks_no_rule() -> None:
    found = groundworks(
        slinky(count=6), CLAY, FLAT, HeaderTrench(separation=0.3), plot=Plot(50.0, 40.0)
    )
    # What is left: coils are always below the cold-bending radius of straight pipe.
    assert {f.code for f in found.findings if f.severity != "info"} == {"bend_below_cold_limit"}


@pytest.mark.parametrize(
    ("circuit", "plot", "trench", "header", "code"),
    [
        (slinky(), Plot(spacing=3.0), FLAT, None, "trench_centres_close"),
        (slinky(), Plot(border=1.0), FLAT, None, "border_small"),
        (slinky(2), Plot(spacing=3.0), Trench(1.2, 1.2, 0.8), None, "trench_tops_overlap"),
        (MATS, Plot(spacing=1.0), FLAT, None, "mats_overlap"),
        (slinky(coil=0.5), ANYWHERE, FLAT, None, "bend_too_tight"),
        (slinky(coil=1.2), ANYWHERE, FLAT, None, "trench_too_narrow"),
        (slinky(), ANYWHERE, Trench(1.2, 0.8), None, "cover_shallow"),
        (UPRIGHT, ANYWHERE, NARROW, None, "trench_needs_protection"),
        (slinky(), ANYWHERE, Trench(1.2, 7.0), None, "trench_needs_engineer"),
        (slinky(), ANYWHERE, Trench(1.2, 2.0, 1.5), None, "trench_slope"),
        (slinky(), ANYWHERE, FLAT, HeaderTrench(9.0, depth=0.6), "header_shallow"),
        (slinky(), ANYWHERE, FLAT, HeaderTrench(9.0, separation=0.1), "separation_small"),
        (slinky(), ANYWHERE, FLAT, HeaderTrench(9.0, separation=0.6), "separation_exceeds_trench"),
        (slinky(), ANYWHERE, FLAT, HeaderTrench(9.0), "separation_not_given"),
        (slinky(2), ANYWHERE, FLAT, HeaderTrench(depth=3, side_slope=1.5), "header_edge_crosses"),
    ],
)
def test_a_rule_that_is_broken_is_found(
    circuit: Circuit, plot: Plot, trench: Trench, header: HeaderTrench | None, code: str
) -> None:
    assert code in codes(groundworks(circuit, CLAY, trench, header, plot=plot))


def test_bores_too_close_are_found_by_their_depth() -> None:
    plot = Plot(spacing=5.5)
    for depth, close in ((50.0, False), (90.0, True)):
        circuit = array(BoreholeU(depth, diameter=0.15))
        found = groundworks(circuit, Works(soil="sand"), plot=plot)
        assert ("bore_centres_close" in codes(found)) is close


def test_a_plot_too_small_is_found() -> None:
    small = groundworks(slinky(count=6), CLAY, FLAT, plot=Plot(area=500.0))
    assert "site_too_small" in codes(small)
    assert "does_not_fit_site" in codes(
        groundworks(slinky(count=6), CLAY, FLAT, plot=Plot(30.0, 30.0))
    )


def test_a_spare_tail_wound_too_tight_is_found() -> None:
    circuit = array(Slinky(30, 1.0, 1.0), Coiled(20.0, 0.5))
    assert "bend_too_tight" in codes(groundworks(circuit, CLAY, FLAT))


@given(st.floats(-10.0, 40.0), st.floats(0.1, 20.0))
def test_warmer_pipe_never_needs_a_wider_bend(temperature: float, more: float) -> None:
    assert pe_bend_radius(0.04, temperature + more) <= pe_bend_radius(0.04, temperature)


@pytest.mark.parametrize("soil", BULKING)
def test_the_middle_of_a_soils_bulking_is_used_and_its_spread_told(soil: str) -> None:
    found = groundworks(slinky(), Works(soil=soil), FLAT)
    assert found.bulking == pytest.approx(sum(BULKING[soil]) / 2)
    assert "bulking_range" in codes(found)


# ---------------------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("circuit", "trench", "field"),
    [
        (slinky(), None, "trench"),
        (UPRIGHT, Trench(0.4, 1.0), "trench.depth"),
        (array(TrenchPasses(10.0, 400)), Trench(0.1, 1.2), "trench.width"),
    ],
)
def test_a_loop_that_does_not_lie_in_the_trench_is_refused(
    circuit: Circuit, trench: Trench | None, field: str
) -> None:
    with pytest.raises(InputError) as caught:
        groundworks(circuit, CLAY, trench)
    assert caught.value.faults[0].field == field


@pytest.mark.parametrize("bad", [math.nan, math.inf, 0.0, -1.0])
def test_a_trench_without_a_size_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="width"):
        Trench(bad, 1.2)
    with pytest.raises(InputError, match="depth"):
        Trench(1.2, bad)
    with pytest.raises(InputError, match="lorry"):
        Works(soil="clay", lorry=bad)


def test_soil_or_bulking_must_be_given_and_known() -> None:
    with pytest.raises(InputError, match="soil"):
        groundworks(slinky(), Works(), FLAT)
    with pytest.raises(InputError, match="cheese"):
        Works(soil="cheese")


# ------------------------------------------------------------------------------- what trenches hold


@pytest.mark.parametrize(("width", "narrow"), [(1.0, True), (3.6, True), (3.64, False)])
def test_passes_at_their_spacing_need_their_width_of_floor(width: float, narrow: bool) -> None:
    # By hand: three gaps of 1.2 m and half a pipe of 32 mm on either side are 3.632 m.
    circuit = array(TrenchPasses(50.0, 4, spacing=1.2))
    found = groundworks(circuit, CLAY, Trench(width, 1.2))
    assert ("trench_too_narrow" in codes(found)) is narrow
    assert found.plan is not None
    pipes = sorted(line.points[0][0] for line in found.plan.lines if line.kind == "pipe")
    assert [b - a for a, b in itertools.pairwise(pipes)] == pytest.approx([1.2] * 3)


def test_dug_tops_that_stay_apart_are_not_said_to_overlap() -> None:
    found = groundworks(slinky(2), CLAY, Trench(1.2, 1.2, 0.7), plot=Plot(spacing=3.0))
    assert "trench_tops_overlap" not in codes(found)  # 1.2 + 2 · 0.7 · 1.2 = 2.88 m


def test_lorries_bring_bedding_loose() -> None:
    # Sand gains 5 to 20 %: the middle of the class that the table of bulking gives.
    found = groundworks(slinky(count=4), Works(soil="clay", lorry=1.0), FLAT)
    assert found.bedding_loads == math.ceil(found.total.bedding * 1.125)


def test_land_reaches_the_outer_edges_of_mats_and_trenches() -> None:
    # Nine mats of 2 m edge to edge, three by three.
    found = groundworks(MATS, CLAY, plot=Plot(7.0, 7.0, border=0.0))
    assert found.block is not None
    assert found.plan is not None
    assert (found.block.width, found.block.length, found.block.fits) == (6.0, 6.0, True)
    assert min(c.x - c.diameter / 2 for c in found.plan.circles) == pytest.approx(0.0)
    assert max(c.y + c.diameter / 2 for c in found.plan.circles) == pytest.approx(6.0)
    small = groundworks(MATS, CLAY, plot=Plot(5.0, 5.0, border=0.0))
    assert "does_not_fit_site" in codes(small)
    # One trench 1.2 m wide with sides 1 to 1, 1.2 m deep: 3.6 m at the surface, and 1.2 m more at
    # either end.
    alone = groundworks(slinky(), CLAY, Trench(1.2, 1.2, 1.0), plot=Plot(border=0.0))
    assert alone.block is not None
    assert alone.block.area == pytest.approx(3.6 * 32.4)


def test_mats_asked_for_closer_than_they_are_wide_lie_edge_to_edge() -> None:
    found = groundworks(MATS, CLAY, plot=Plot(spacing=1.0, border=0.0))
    assert found.block is not None
    assert found.block.area == pytest.approx(36.0)


@pytest.mark.parametrize(
    ("header", "told"), [(HeaderTrench(), True), (HeaderTrench(40.0), False), (None, True)]
)
def test_runs_that_the_header_trench_does_not_count_are_named(
    header: HeaderTrench | None, told: bool
) -> None:
    plant = Plant(runs=(Run(P40, 25.0),))
    found = groundworks(slinky(count=2), CLAY, FLAT, header, plant=plant)
    said = [each.message for each in found.findings if each.code == "run_not_dug"]
    assert bool(said) is told
    assert all("25 m long" in each for each in said)
    if header is not None:  # 10 m along the rows that are drawn, and the run's 25 m elsewhere
        assert all("whole length, 35 m or more" in each for each in said)


# 25 m from the heat pump to the manifold, and on from there 8 m to one loop and 5 m to the other:
# both ways may lie in one trench, which is then 33 m long at the least.
@pytest.mark.parametrize(("length", "short"), [(33.0, 0.0), (32.5, 0.5), (1.2, 31.8)])
def test_a_header_trench_shorter_than_the_way_of_its_runs_is_told(
    length: float, short: float
) -> None:
    loop = Loop("T", P32, (Slinky(30, 1.0, 1.0),))
    inner = Circuit("manifold", (Branch(loop, runs=(Run(P32, 3.0),)),))
    circuit = Circuit(
        "manifold", (Branch(inner, runs=(Run(P40, 5.0),)), Branch(loop, runs=(Run(P32, 5.0),)))
    )
    plant = Plant(runs=(Run(P40, 10.0), Run(P40, 15.0)))
    found = groundworks(circuit, CLAY, FLAT, HeaderTrench(length), plant=plant)
    said = [each for each in found.findings if each.code == "run_not_dug"]
    assert [each.severity for each in said] == ["warning"] * (short > 0.0)
    assert all(f"{length:g} m long, as given" in each.message for each in said)
    assert all(f"{short:g} m of trench or more are not counted" in each.message for each in said)
    assert all("33 m or more" in each.message for each in said)


def test_pipe_that_no_header_trench_so_short_can_hold_is_refused_at_its_length() -> None:
    # By hand: four tails of 45 m of 32 mm are 0.1448 m³. In bedding of twice that, 0.5 m wide and
    # 1 m high (1.2 m less 0.1 m below and above), they need 0.579 m; but a tail leads 45 m.
    short = HeaderTrench(0.55)
    circuit = array(Straight(45.0), Slinky(30, 1.0, 1.0), Straight(45.0), count=2)
    with pytest.raises(InputError, match=r"even 1\.2 m deep") as caught:
        groundworks(circuit, CLAY, FLAT, short)
    (fault,) = caught.value.faults
    assert (fault.field, fault.value, fault.allowed) == ("header.length", 0.55, "45 m or more")
    assert groundworks(circuit, CLAY, FLAT, HeaderTrench(0.58)).header.length == 0.58
    with pytest.raises(InputError) as caught:
        groundworks(circuit, CLAY, FLAT, short, plant=Plant(runs=(Run(P40, 24.0),)))
    assert caught.value.faults[0].allowed == "69 m or more"
    # A hundred times as many in a trench as long as the tails: the pipe takes 57.906 m.
    many = array(Straight(45.0), Slinky(30, 1.0, 1.0), Straight(45.0), count=200)
    with pytest.raises(InputError) as caught:
        groundworks(many, CLAY, FLAT, HeaderTrench(45.0), plot=Plot(spacing=0.2))
    assert caught.value.faults[0].allowed == "57.91 m or more"
    # In a trench shallower than usual that is long enough, the depth is at fault.
    with pytest.raises(InputError) as caught:
        groundworks(circuit, CLAY, FLAT, HeaderTrench(30.0, depth=0.15))
    assert caught.value.faults[0].field == "header.depth"


SAND = Works(soil="sand")


@pytest.mark.parametrize(
    ("centres", "width", "length"),
    [
        (rows_field(6, 6, 6.0), 30.0, 0.0),
        (rows_field(7, 3, 6.0), 12.0, 12.0),
        (perimeter_field(10, 3, 6.0), 18.0, 12.0),
        (perimeter_field(9, 3, 6.0), 18.0, 12.0),
        (rectangle_field(3, 2, 6.0), 12.0, 6.0),
    ],
)
def test_boreholes_stand_in_the_field_that_they_were_sized_in(
    centres: NDArray[np.float64], width: float, length: float
) -> None:
    circuit = array(BoreholeU(80.0, diameter=0.15), count=len(centres))
    where = [(float(x), float(y)) for x, y in centres]
    plot = Plot(60.0, 60.0, border=3.0)
    found = groundworks(circuit, SAND, header=HeaderTrench(), plot=plot, field_centres=where)
    assert found.block is not None
    assert found.plan is not None
    assert (found.block.width, found.block.length) == (width + 6.0, length + 6.0)
    assert found.block.fits
    stand = np.array([(c.x - 3.0, c.y - 3.0) for c in found.plan.circles])
    assert stand == pytest.approx(centres)
    # Every borehole is joined to the next, 6 m away.
    drawn = sum(math.dist(*line.points) for line in found.plan.lines)
    assert drawn == pytest.approx(6.0 * (len(where) - 1)) == found.header.length
    assert "field_not_as_sized" not in codes(found)


def test_boreholes_that_do_not_make_the_field_that_was_sized_are_found() -> None:
    circuit = array(BoreholeU(80.0, diameter=0.15), count=7)
    where = [(float(x), float(y)) for x, y in perimeter_field(8, 3, 6.0)]
    found = groundworks(circuit, SAND, field_centres=where)
    assert "field_not_as_sized" in codes(found)


@pytest.mark.parametrize(
    ("given", "circuit", "counted", "severity"),
    [
        (60.0, slinky(count=4), 60.0, "info"),  # four trenches at 5 m centres: 15 m are drawn
        (10.0, slinky(count=4), 10.0, "warning"),
        (None, MATS, 0.0, "warning"),  # none is dug into a pond
    ],
)
def test_a_header_trench_that_is_not_drawn_as_it_is_counted_is_told(
    given: float | None, circuit: Circuit, counted: float, severity: str
) -> None:
    found = groundworks(circuit, CLAY, FLAT, HeaderTrench(given))
    assert found.header.length == counted
    (told,) = (each for each in found.findings if each.code == "header_trench_differs")
    assert told.severity == severity
    assert given is None or (f"{given:g} m" in told.message and "15 m" in told.message)


def test_headers_longer_than_the_trench_that_the_rows_give_are_told() -> None:
    loop = Loop("T", P32, (TrenchPasses(60.0, 4),))
    branches = Branch(loop, header_length=20.0, count=3)
    far = Circuit("direct_return", (branches,), P40)
    found = groundworks(far, CLAY, STRAIGHT, HeaderTrench())
    (told,) = (each for each in found.findings if each.code == "header_trench_differs")
    # Three stretches of 20 m, the first on the way there; three trenches at 5 m centres.
    assert "headers are 40 m long" in told.message
    assert "counted 10 m long, as drawn along the rows" in told.message
    near = Circuit("direct_return", (Branch(loop, header_length=3.0, count=3),), P40)
    assert "header_trench_differs" not in codes(groundworks(near, CLAY, STRAIGHT, HeaderTrench()))


def tailed(out: float, back: float) -> Circuit:
    return array(Straight(out), Slinky(30, 1.0, 1.0), Straight(back), count=2)


def told_ways(found: Groundworks) -> list[tuple[str, str]]:
    return [
        (f.code, f.message) for f in found.findings if f.code in ("run_not_dug", "tail_not_dug")
    ]


# A tail's trench is as long as half of what goes out and comes back. Two trenches at 5 m centres
# make a header trench of 5 m along the rows.
@pytest.mark.parametrize(("out", "back", "way"), [(50.0, 50.0, 50.0), (60.0, 20.0, 40.0)])
def test_a_header_trench_shorter_than_tails_is_found_and_the_default_is_as_long(
    out: float, back: float, way: float
) -> None:
    circuit = tailed(out, back)
    ((code, said),) = told_ways(groundworks(circuit, CLAY, FLAT, HeaderTrench(way - 3.0)))
    assert code == "tail_not_dug"
    assert "to loop T," in said
    assert "3 m of trench or more are not counted" in said
    assert f"{way:g} m or more" in said
    assert not told_ways(groundworks(circuit, CLAY, FLAT, HeaderTrench(way)))
    drawn = groundworks(circuit, CLAY, FLAT, HeaderTrench())
    assert drawn.header.length == way
    assert not told_ways(drawn)
    (differs,) = [f for f in drawn.findings if f.code == "header_trench_differs"]
    assert differs.severity == "info"
    assert f"{way:g} m long, as the longest tail is; the plan draws the 5 m" in differs.message
    short = groundworks(tailed(4.0, 4.0), CLAY, FLAT, HeaderTrench())
    assert (short.header.length, "header_trench_differs" in codes(short)) == (5.0, False)


@pytest.mark.parametrize("length", [None, 0.0, 1.0, 23.0, 30.0, 68.0])
def test_what_is_advised_of_runs_and_tails_satisfies_both(length: float | None) -> None:
    # 24 m to the manifold and 45 m on along the tails.
    plant = Plant(runs=(Run(P40, 24.0),))
    circuit = tailed(45.0, 45.0)
    if length == 0.0 or length is None or length > 20.0:
        ((code, said),) = told_ways(
            groundworks(circuit, CLAY, FLAT, HeaderTrench(length), plant=plant)
        )
        assert code == ("tail_not_dug" if length is not None and length >= 24.0 else "run_not_dug")
        assert "69 m or more" in said
    followed = groundworks(circuit, CLAY, FLAT, HeaderTrench(69.0), plant=plant)
    assert not told_ways(followed)
    assert not [f for f in followed.findings if f.severity == "warning" and "header" in f.code]


def test_headers_lead_on_to_tails_and_a_mats_tails_may_lie_in_water() -> None:
    # The third branch hangs 3 x 5 m along the header, its tail leads 10 m on.
    loop = Loop("T", P32, (Straight(10.0), Slinky(30, 1.0, 1.0), Straight(10.0)))
    circuit = Circuit("direct_return", (Branch(loop, header_length=5.0, count=3),), P40)
    assert [code for code, _ in told_ways(groundworks(circuit, CLAY, FLAT, HeaderTrench(24.9)))]
    assert not told_ways(groundworks(circuit, CLAY, FLAT, HeaderTrench(25.0)))
    pond = array(Straight(50.0), PondMat(0.6, 2.0, 0.3), Straight(50.0))
    found = groundworks(pond, CLAY, header=HeaderTrench(10.0))
    assert not told_ways(found)
    (differs,) = [f.message for f in found.findings if f.code == "header_trench_differs"]
    assert "draws none of it" in differs


@pytest.mark.parametrize(("most", "fits"), [(60.0 - 1e-6, False), (60.0, True), (None, True)])
def test_more_trench_than_can_be_dug_does_not_fit(most: float | None, fits: bool) -> None:
    # Two slinkies of 30 coils at 1 m pitch take 60 m; the header trench is not counted.
    plot = Plot(60.0, 40.0, max_trench=most)
    found = groundworks(slinky(count=2), CLAY, FLAT, HeaderTrench(30.0), plot=plot)
    assert found.block is not None
    assert found.block.fits is fits
    said = [f for f in found.findings if f.code == "site_too_small"]
    assert [f.severity for f in said] == ["error"] * (not fits)
    assert all("takes 60.0 m of trench, and 60 m can be dug" in f.message for f in said)
    assert "does_not_fit_site" not in codes(found)


def test_an_array_larger_than_the_plots_area_does_not_fit() -> None:
    found = groundworks(slinky(count=6), CLAY, FLAT, plot=Plot(area=500.0))
    assert found.block is not None
    assert found.block.fits is False


DIGGING, DRILLING, WATER = "Trenches collapse", "Boreholes and deep", "Open water drowns"


@pytest.mark.parametrize(
    ("circuit", "header", "told", "not_told"),
    [
        (slinky(), None, (DIGGING, "buried services"), (WATER, "foot of a borehole")),
        (MATS, None, (WATER, "ice"), (DIGGING, DRILLING, "buried services")),
        (MATS, HeaderTrench(20.0), (WATER, DIGGING, "buried services"), ("foot of a borehole",)),
        (array(Straight(9.0), PondMat(0.6, 2.0, 0.3, 3)), None, (WATER, DIGGING), ()),
        (array(BoreholeU(80.0, diameter=0.15)), None, (DRILLING, "buried services", "24.5 bar"),
         (WATER, DIGGING)),
    ],
)  # fmt: skip
def test_cautions_are_of_the_work_that_there_is(
    circuit: Circuit, header: HeaderTrench | None, told: tuple[str, ...], not_told: tuple[str, ...]
) -> None:
    text = " ".join(groundworks(circuit, CLAY, FLAT, header).cautions)
    assert all(each in text for each in told)
    assert not any(each in text for each in not_told)


def test_a_column_of_brine_is_as_heavy_as_its_caution_says() -> None:
    # Water of 1000 kg/m³ under standard gravity, 9.80665 m/s² (CGPM 1901).
    cautions = groundworks(array(BoreholeU(250.0, diameter=0.15)), CLAY).cautions
    (caution,) = [each for each in cautions if "bar" in each]
    assert f"{1000 * 9.80665 * 250 / 1e5:.1f} bar at 250 m" in caution
    assert f"1 bar more for every {1e5 / 9806.65:.1f} m" in caution


def test_boreholes_of_which_nothing_tells_how_they_stand_are_told_of() -> None:
    circuit = array(BoreholeU(80.0, diameter=0.15), count=4)
    (told,) = (
        each for each in groundworks(circuit, SAND).findings if each.code == "bore_centres_usual"
    )
    assert "at 6 m centres" in told.message  # VDI 4640-2:2001: 6 m beyond 50 m deep (read)
    assert "bore_centres_usual" not in codes(groundworks(circuit, SAND, plot=Plot(spacing=7.0)))
    where = [(float(x), float(y)) for x, y in rectangle_field(4, 1, 7.0)]
    assert "bore_centres_usual" not in codes(groundworks(circuit, SAND, field_centres=where))
