"""Levels of plant, gauge and pipe, and what stands between them."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.heights import NOWHERE, Heights, column, levels_of, place_findings
from hydraulics.layout.legs import BoreholeU, Leg, PondMat, Straight, TrenchPasses
from hydraulics.layout.pressure_class import class_findings, unknown_findings
from hydraulics.pipework.pipe import Pipe, pe_pipe, temperature_factor

P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR17 40")
BORES = Circuit(
    "manifold",
    (
        Branch(Loop("B1", P40, (Straight(5.0), BoreholeU(90.0)))),
        Branch(Loop("B2", P40, (Straight(5.0), BoreholeU(110.0)))),
    ),
)


def test_a_column_of_water_of_110_m_is_10_8_bar() -> None:
    # By hand: 1000 kg/m³ x 9.80665 m/s² x 110 m = 1,078,732 Pa.
    assert column(110.0, 1000.0) == pytest.approx(1_078_732, abs=1)
    # The guide for setting out: 1030 x 9.80665 x 1.2 = 12.12 kPa.
    assert column(1.2, 1030.0) == pytest.approx(12.12e3, abs=5)


def test_the_lowest_pipe_is_the_deepest_borehole_below_the_lowest_ground() -> None:
    levels = levels_of(BORES, Plant(), Heights(48.0, 52.0, 53.5, 50.5))
    assert levels.lowest == 48.0 - 110.0
    assert (levels.plant, levels.gauge, levels.ground, levels.top) == (53.5, 50.5, 52.0, 53.5)
    (foot,) = (each for each in levels.bottoms if each.hole)
    assert (foot.where, foot.hole) == ("loop B2", 110.0)


def test_pipe_in_trenches_lies_as_deep_as_it_is_told_and_mats_on_the_bed() -> None:
    passes = Loop("T", P32, (TrenchPasses(40.0, 2, depth=1.4), Straight(5.0)))
    level = Heights(10.0, 10.0, 10.0, 10.0)
    levels = levels_of(Circuit("manifold", (Branch(passes),)), None, level)
    assert levels.lowest == pytest.approx(8.6)
    assert levels.reached == pytest.approx(8.6)
    mat = Loop("M", P32, (PondMat(1.0, 3.0, 0.1, 2),))
    wet = levels_of(Circuit("manifold", (Branch(mat),)), None, Heights(3.0, 10.0, 12.0, 12.0))
    assert wet.lowest == 3.0
    assert not wet.assumed


def test_depths_that_are_not_told_are_taken_from_what_is_and_else_from_the_safe_side() -> None:
    level = Heights(10.0, 10.0, 10.0, 10.0)
    own = Circuit("manifold", (Branch(Loop("T", P32, (TrenchPasses(40.0, 2, depth=1.4),))),))
    plant = Plant(runs=(Run(P40, 8.0),))
    levels = levels_of(own, plant, level)
    # Runs lie as deep as the loops' trenches, 1.4 m; that they do is told, and not counted on.
    assert [each.level for each in levels.bottoms] == pytest.approx([8.6, 8.6])
    assert levels.assumed == (
        "Headers, runs and tails are taken to lie 1.4 m deep, as the loops' trenches.",
    )
    bare = Circuit("manifold", (Branch(Loop("T", P32, (TrenchPasses(40.0, 2), Straight(5.0)))),))
    untold = levels_of(bare, plant, level)
    # 2 m: common practice, no source.
    assert untold.lowest == 8.0
    assert untold.reached == 10.0
    assert "2 m deep" in " ".join(untold.assumed)
    dug = levels_of(bare, plant, replace(level, trench_depth=1.6, header_depth=0.9))
    assert {each.pipe: each.level for each in dug.bottoms} == {P32: 8.4, P40: 9.1}
    assert not dug.assumed
    trench = levels_of(bare, plant, replace(level, trench_depth=1.6))
    assert {each.level for each in trench.bottoms} == {8.4}


def test_straight_pipe_lies_in_the_loops_trench_where_nothing_else_gathers_heat() -> None:
    # As the digging has it: beside coils straight pipe is tails, which lie in the header trench.
    heights = Heights(trench_depth=1.8, header_depth=0.8)
    for legs, lowest in (
        ((Straight(200.0),), -1.8),
        ((TrenchPasses(40.0, 2, depth=0.6), Straight(5.0)), -0.8),
    ):
        circuit = Circuit("manifold", (Branch(Loop("T", P32, legs)),))
        assert levels_of(circuit, None, heights).lowest == lowest


def test_what_a_trench_may_bear_and_what_a_test_proves_err_on_two_sides() -> None:
    # By hand: 2 m of 1000 kg/m³ are 0.196 bar, so that SDR 17 at 10 bar does not bear 9.9 bar.
    bare = Circuit("manifold", (Branch(Loop("T", P40, (TrenchPasses(40.0, 2),))),))
    (found,) = class_findings(levels_of(bare), 9.9e5, "the pressure", density=1000.0)
    assert found.code == "pressure_above_class"
    assert "10.1 bar there" in found.message
    told = levels_of(bare, None, Heights(trench_depth=0.5))
    assert not class_findings(told, 9.9e5, "the pressure", density=1000.0)


def test_pipe_above_the_plant_bears_less_and_what_runs_has_no_test_gauge() -> None:
    # 20 m of 1000 kg/m³ up to the array are 1.96 bar by hand: of 14 bar 12.04 are left, SDR 17
    # bears 10. No number of it is below nought.
    bare = Circuit("manifold", (Branch(Loop("T", P40, (TrenchPasses(40.0, 2),))),))
    low = levels_of(bare, None, Heights(22.0, 22.0, 0.0, trench_depth=2.0))
    (found,) = class_findings(low, 14e5, "the pressure", density=1000.0)
    assert "14 bar, less 1.96 bar of fluid, since loop T lies 20 m higher, is 12.04 bar" in (
        found.message
    )
    assert "-" not in found.message
    untold = levels_of(bare, None, Heights(22.0, 22.0, 0.0))
    assert any("gauge" in each for each in untold.assumed)
    (found,) = class_findings(untold, 14e5, "the pressure", density=1000.0)
    assert "2 m deep" in found.message
    assert "gauge" not in found.message


def test_of_ground_told_and_surveyed_each_use_takes_the_safe_side() -> None:
    # By hand: 1.4 m under the lower of 50 and 53 m for what pipe bears, the higher of 53.5 and
    # 54 m for lift, and 1.4 m under the 53 m told for what a test may count on.
    trench = Circuit("manifold", (Branch(Loop("T", P32, (TrenchPasses(40.0, 2, depth=1.4),))),))
    heights = Heights(53.0, 53.5, 53.0, 53.0, surveyed=(50.0, 54.0))
    levels = levels_of(trench, None, heights)
    assert levels.lowest == pytest.approx(48.6)
    assert levels.reached == pytest.approx(51.6)
    assert levels.ground == 54.0
    (found,) = place_findings(heights)
    assert found.code == "levels_not_as_told"


def test_runs_of_a_plant_below_the_ground_lie_as_low_as_it() -> None:
    plant = Plant(runs=(Run(P40, 8.0),))
    assert levels_of(BORES, plant, Heights(10.0, 10.0, -150.0, 10.0)).lowest == -150.0


def test_what_is_not_told_is_said_to_be_taken() -> None:
    nothing = levels_of(BORES, Plant(), NOWHERE)
    assert (nothing.plant, nothing.gauge, nothing.lowest) == (0.0, 0.0, -110.0)
    text = " ".join(nothing.assumed)
    for word in ("ground over the array is taken as level", "Pump and vessel", "gauge", "surface"):
        assert word in text
    partly = levels_of(BORES, Plant(), Heights(20.0, 24.0, 26.0))
    assert partly.gauge == 20.0
    assert [each for each in partly.assumed if "gauge" in each]
    assert not [each for each in partly.assumed if "Pump" in each or "as level." in each]


def test_what_lies_lowest_is_named_with_words_for_what_has_no_name() -> None:
    # A plan's lowest pipe is at the foot of the second of two bores of 90 m, on lower ground.
    two = tuple(Branch(Loop(each, P40, (BoreholeU(90.0),))) for each in ("A", "B"))
    plan = Heights(80.0, 97.0, 90.0, 90.0, lowest_pipe=-8.0, lowest_loop="B")
    (foot,) = levels_of(Circuit("manifold", two), None, plan).bottoms
    assert (foot.where, foot.level) == ("loop B", -8.0)
    chamber = Branch(Circuit("manifold", two), runs=(Run(P32, 12.0),))
    run, _ = levels_of(Circuit("manifold", (chamber,)), None, plan).bottoms
    assert run.where == "the run to an unnamed circuit"
    # Both grounds told: no other is named before the sentence of the gauge.
    (gauge,) = levels_of(Circuit("manifold", two), None, Heights(80.0, 97.0, 90.0)).assumed
    assert gauge == (
        "The test's gauge is taken as high as the lowest ground for what a test proves, and as the"
        " highest of ground and plant, 97.00 m, for what pipe bears: tell its level."
    )
    levels = levels_of(Circuit("manifold", two), None, Heights(80.0, 97.0, 99.0))
    assert (levels.gauge, levels.highest_gauge) == (80.0, 99.0)
    levels = levels_of(Circuit("manifold", two), None, Heights(80.0, 97.0, 99.0, 85.0))
    assert (levels.gauge, levels.highest_gauge) == (85.0, 85.0)
    (gauge,) = levels_of(Circuit("manifold", two), None, Heights(80.0, 80.0, 80.0)).assumed
    assert gauge == "The test's gauge is taken as high as the lowest ground."


def test_the_highest_ground_is_not_below_the_lowest() -> None:
    with pytest.raises(InputError) as caught:
        Heights(52.0, 50.0)
    (fault,) = caught.value.faults
    assert fault.field == "max_ground_level"
    assert "at least 52 m" in str(fault.allowed)


def test_what_is_left_of_a_class_in_warmth() -> None:
    # EN 12201-1, table A.1 (from memory): 1 at 20 °C, 0.87 at 30 °C, 0.74 at 40 °C.
    for temperature, factor in ((-5, 1.0), (20, 1.0), (25, 0.935), (30, 0.87), (40, 0.74), (41, 0)):
        assert temperature_factor(temperature) == pytest.approx(factor)


def test_a_pipe_is_judged_where_it_lies_lowest() -> None:
    # PE100 SDR 17 bears 10 bar at 20 °C (2 x 10 MPa / (1.25 x 16)); by hand: brine of 1030 kg/m³
    # makes 11.11 bar at 110 m, which with 1 bar is 12.11 bar there.
    levels = levels_of(BORES)
    (found,) = class_findings(levels, 1e5, "the pressure", density=1030.0)
    assert (found.code, found.severity) == ("pressure_at_foot", "warning")
    assert "11.1 bar of fluid that stands on loop B2, 110 m lower" in found.message
    assert "12.11 bar there" in found.message
    assert "10 bar at 20 °C" in found.message
    assert "support of grout and groundwater around it is not counted" in found.message
    assert "taken as level" in found.message
    # Where the pressure alone is too much, outside support would not save it.
    (grave,) = class_findings(levels, 10.5e5, "the pressure", density=1030.0)
    assert (grave.code, grave.severity) == ("pressure_above_class", "error")
    # By itself it bears 15 bar in a site test (EN 805, PEA, from memory): 3.8 bar and 11.11 bar.
    (warned,) = class_findings(levels, 3.8e5, "the pressure", density=1030.0)
    (beyond,) = class_findings(levels, 3.95e5, "the pressure", density=1030.0)
    assert (warned.code, warned.severity) == ("pressure_at_foot", "warning")
    assert (beyond.code, beyond.severity) == ("pressure_at_foot", "error")
    assert "the class that the probe's maker states" in beyond.message
    # Groundwater outside is no heavier than water: 10.79 bar of the 11.11 bar.
    (grave,) = class_findings(levels, 9.8e5, "the pressure", density=1030.0)
    assert (grave.code, grave.severity) == ("pressure_above_class", "error")
    # 1 bar in the class to spare, and 5 m lower.
    assert not class_findings(levels, -2e5, "the pressure", density=1030.0)


def test_a_slope_without_boreholes_has_nothing_that_supports_it() -> None:
    # 0.85 bar left of SDR 17 at 30 °C (8.7 bar): by hand 100 m of 1000 kg/m³ is 9.807 bar.
    passes = Loop("T", P40, (TrenchPasses(40.0, 2, depth=1.0),))
    circuit = Circuit("manifold", (Branch(passes),))
    levels = levels_of(circuit, None, Heights(0.0, 99.0, 99.0))
    (found,) = class_findings(levels, 0.0, "the pressure", density=1000.0, temperature=30.0)
    assert (found.code, found.severity) == ("pressure_above_class", "error")
    assert "8.7 bar at 30 °C" in found.message
    assert "100 m lower, is 9.807 bar there" in found.message
    assert not class_findings(levels, 0.0, "the pressure", density=1000.0)
    (hot,) = class_findings(levels, 0.0, "the pressure", density=1000.0, temperature=45.0)
    assert "nothing that is published above 40 °C" in hot.message


def test_fluid_that_stands_above_a_pipes_class_is_mended_by_no_less_flow() -> None:
    # By hand: 1030 x 9.80665 x 112 Pa = 11.3 bar, where SDR 17 bears 10 bar.
    loop = Loop("A", pe_pipe("PE100 SDR17 40"), (TrenchPasses(60.0, 2, depth=2.0),))
    circuit = Circuit("manifold", (Branch(loop),))
    for plant, words in ((110.0, "by itself more than that"), (90.0, "less flow")):
        levels = levels_of(circuit, heights=Heights(0.0, 0.0, plant))
        (found,) = class_findings(levels, 2e5, "the pressure", density=1030.0)
        assert words in found.message
    # EN 12201-1 rates no PE above 40 °C: neither does a higher class.
    (found,) = class_findings(levels, 1e4, "the pressure", density=1030.0, temperature=46.0)
    assert "less flow, wider" not in found.message
    assert "40 °C or less" in found.message


def test_fluid_in_a_bore_above_a_pipes_class_is_mended_by_no_less_flow() -> None:
    # By hand: 1030 x 9.80665 x 185 Pa = 18.7 bar at the foot of 90 m, of which 95 m or 9.6 bar are
    # at the collar, where 1 bar more is beyond the 10 bar of SDR 17; at 60 + 30 m it is 9.1 bar.
    for depth, plant, pressure, stands in ((90.0, 95.0, 1e5, True), (60.0, 30.0, 8e5, False)):
        loop = Loop("A", pe_pipe("PE100 SDR17 32"), (BoreholeU(depth),))
        circuit = Circuit("manifold", (Branch(loop),))
        levels = levels_of(circuit, heights=Heights(0.0, 0.0, plant))
        found = class_findings(levels, pressure, "the pressure", density=1030.0)
        (grave,) = (each for each in found if each.code == "pressure_above_class")
        assert ("less flow" in grave.message) is not stands
        assert ("by itself more than that" in grave.message) is stands
        assert ("drill less deep, let the plant lie lower" in grave.message) is stands


def test_one_pressure_beyond_a_class_does_not_hide_that_at_a_boreholes_foot() -> None:
    # By hand: 10.5 bar on a run of SDR 17 (10 bar), and 10.5 + 6.06 bar at the foot of 60 m of
    # SDR 11 (16 bar), which grout and groundwater outside may bear.
    loop = Loop("A", pe_pipe("PE100 SDR11 40"), (BoreholeU(60.0),))
    runs = (Run(pe_pipe("PE100 SDR17 63"), 20.0),)
    levels = levels_of(Circuit("manifold", (Branch(loop, runs=runs),)), heights=Heights(0.0, 0.0))
    found = class_findings(levels, 10.5e5, "the pressure", density=1030.0)
    assert [each.code for each in found] == ["pressure_above_class", "pressure_at_foot"]


def test_pipe_of_unknown_class_is_told_with_what_it_must_bear() -> None:
    loop = Loop("A", Pipe("thin", 0.028, 0.030), (TrenchPasses(60.0, 2, depth=2.0),))
    levels = levels_of(Circuit("manifold", (Branch(loop),)), heights=Heights(0.0, 0.0, 98.0))
    (found,) = unknown_findings(levels, 2e5, "the pressure", density=1000.0)
    assert found.code == "pressure_class_unknown"
    assert "11.81 bar in loop A" in found.message  # 2 bar + 1000 x 9.80665 x 100 Pa
    known = replace(loop, pipe=pe_pipe("PE100 SDR11 32"))
    levels = levels_of(Circuit("manifold", (Branch(known),)), heights=Heights(0.0, 0.0, 98.0))
    assert not unknown_findings(levels, 2e5, "the pressure", density=1000.0)


LEGS = st.sampled_from(
    [Straight(9.0), BoreholeU(90.0), BoreholeU(110.0), TrenchPasses(20.0, 2, depth=1.4),
     TrenchPasses(30.0, 2, depth=1.6), PondMat(1.0, 3.0, 0.1)]
)  # fmt: skip


@given(
    st.lists(
        st.tuples(st.sampled_from([P32, P40]), st.lists(LEGS, min_size=1, max_size=4)),
        min_size=1, max_size=6,
    ),
    st.sampled_from(["", "L0", "L3"]),
)  # fmt: skip
def test_an_array_lies_as_low_as_the_lowest_of_its_loops_each_alone(
    laid: list[tuple[Pipe, list[Leg]]], named: str
) -> None:
    heights = Heights(10.0, 10.0, 10.0, 10.0, 1.5, 0.8, lowest_loop=named)
    loops = [Loop(f"L{at}", pipe, tuple(legs)) for at, (pipe, legs) in enumerate(laid)]
    alone = [levels_of(Circuit("manifold", (Branch(each),)), None, heights) for each in loops]
    whole = levels_of(Circuit("manifold", tuple(Branch(each) for each in loops)), None, heights)
    assert whole.reached == min(each.reached for each in alone)
    lowest = {(each.pipe, each.hole > 0.0): each for each in whole.bottoms}
    for kind, bottom in lowest.items():
        every = [b for each in alone for b in each.bottoms if (b.pipe, b.hole > 0.0) == kind]
        assert bottom.level == min(each.level for each in every)
        # Of several that lie so, the loop that is named, else the first.
        so = [each.where for each in every if each.level == bottom.level]
        assert bottom.where == (f"loop {named}" if f"loop {named}" in so else so[0])
