"""Pump tables, speeds, sets of pumps and operating points."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.errors import InputError, NoSolutionError
from hydraulics.pumps.curve import Pump, PumpCurve, UnlikePumpError
from hydraulics.pumps.examples import demo_pumps
from hydraulics.pumps.running import (
    Aim,
    OperatingPoint,
    PumpedFluid,
    SystemCurve,
    controlled_point,
    operating_point,
    running,
)

DEMO_PUMPS = demo_pumps()


def constant_head_point(
    pump: Pump, set_head: float, system: SystemCurve, fluid: PumpedFluid | None = None
) -> OperatingPoint:
    return controlled_point(pump, Aim(set_head), system, fluid=fluid)


COLD_BRINE = PumpedFluid(1030.0, 5.4e-6)


def table(shutoff: float = 8.0, run_out: float = 1e-3, speed: float = 2900.0) -> PumpCurve:
    flow = np.linspace(0.0, run_out, 7)
    fall = shutoff * (1 - 0.95 * (flow / run_out) ** 1.8)
    # about 40 % wire to water at best, whatever the size
    size = 998.2 * 9.80665 * run_out * shutoff
    return PumpCurve(flow, fall, size * (0.5 + 0.5 * np.sqrt(flow / run_out)), speed)


def system(flow: float, head_m: float, exponent: float = 1.8) -> SystemCurve:
    flows = np.geomspace(1e-3 * flow, 30 * flow, 40)
    return SystemCurve(flows, head_m * (flows / flow) ** exponent)


tables = st.builds(table, st.floats(2.0, 20.0), st.floats(2e-4, 5e-3), st.floats(1400.0, 4000.0))
systems = st.builds(system, st.floats(1e-4, 2e-3), st.floats(2.0, 15.0), st.floats(1.0, 2.0))


def test_the_interpolation_passes_through_every_point_of_the_table() -> None:
    curve = table()
    for flow, height, watts in zip(curve.flow, curve.head, curve.power, strict=True):
        assert curve.head_at(float(flow)) == pytest.approx(height, rel=1e-12)  # rounding
        assert curve.power_at(float(flow)) == pytest.approx(watts, rel=1e-12)


@given(tables)
def test_head_falls_strictly_with_flow_inside_and_beyond_the_table(curve: PumpCurve) -> None:
    pumps = running(Pump("P", (curve,)))
    flow = np.linspace(0, 2 * curve.flow[-1], 400)
    assert np.all(np.diff([pumps.head_at(q) for q in flow.tolist()]) < 0)


def test_a_table_that_ends_level_is_still_continued_downward() -> None:
    curve = PumpCurve(
        np.array([0, 1e-3, 1.1e-3, 2e-3]),
        np.array([9.0, 8.0, 4.0, 3.999]),
        np.full(4, 90.0),
        2900,
    )
    assert curve.end_slope < 0
    assert running(Pump("P", (curve,))).head_at(3e-3) < 3.999


@pytest.mark.parametrize(
    ("column", "row", "value", "field"),
    [
        ("head", 3, 9.0, "points.3.head"),
        ("head", 6, -1.0, "points.6.head"),
        ("flow", 2, 1e-4, "points.2.flow"),
        ("flow", 0, -1.0, "points.0.flow"),
        ("power", 1, 0.0, "points.1.power"),
        ("power", 1, math.nan, "points.1.power"),
        ("head", 2, math.inf, "points.2.head"),
    ],
)
def test_a_wrong_point_is_named(column: str, row: int, value: float, field: str) -> None:
    good = table()
    columns = {n: np.array(getattr(good, n)) for n in ("flow", "head", "power")}
    columns[column][row] = value
    with pytest.raises(InputError) as caught:
        PumpCurve(columns["flow"], columns["head"], columns["power"], 2900.0)
    assert field in [f.field for f in caught.value.faults]


def test_two_points_unequal_columns_and_a_zero_speed_are_refused() -> None:
    two = np.array([1.0, 2.0])
    with pytest.raises(InputError, match="at least 3 points"):
        PumpCurve(two, two[::-1], two)
    with pytest.raises(InputError, match="one value each"):
        PumpCurve(np.arange(3.0), two[::-1], two)
    with pytest.raises(InputError, match="more than 0"):
        table(speed=0.0)


def test_a_pump_without_name_or_curves_or_with_twice_the_same_speed_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        Pump(" ", (), min_speed=-1.0, impellers=0)
    assert {f.field for f in caught.value.faults} == {"name", "curves", "impellers", "min_speed"}
    with pytest.raises(InputError, match="same speed"):
        Pump("P", (table(), table()))
    with pytest.raises(InputError, match="above the highest"):
        Pump("P", (table(),), min_speed=3000.0)


@pytest.mark.parametrize("speed", [0.0, -1.0, 3000.0, math.nan])
def test_no_speed_above_the_table_or_at_rest(speed: float) -> None:
    with pytest.raises(InputError) as caught:
        running(Pump("P", (table(),)), speed)
    assert caught.value.faults[0].field == "speed"


def test_counts_of_pumps_below_one_are_refused() -> None:
    with pytest.raises(InputError) as caught:
        running(Pump("P", (table(),)), parallel=0, series=-1)
    assert [f.field for f in caught.value.faults] == ["parallel", "series"]


def affinity(curve: PumpCurve, speed: float) -> PumpCurve:
    """Q ~ n, H ~ n², P ~ n³ (White, Fluid Mechanics, chapter 11)."""
    n = speed / curve.speed
    return PumpCurve(n * curve.flow, n**2 * curve.head, n**3 * curve.power, speed)


@given(tables, st.floats(0.3, 1.0))
def test_a_scaled_table_and_a_pump_run_at_that_speed_agree(curve: PumpCurve, n: float) -> None:
    scaled = affinity(curve, n * curve.speed)
    pumps = running(Pump("P", (curve,)), n * curve.speed)
    for flow in np.linspace(pumps.flow_min, pumps.flow_max, 9).tolist():
        # two routes to one number: rounding only
        assert pumps.head_at(flow) == pytest.approx(scaled.head_at(flow), rel=1e-9)
        assert pumps.power_at(flow) == pytest.approx(scaled.power_at(flow), rel=1e-9)


@given(st.floats(0.61, 0.99))
def test_between_two_tables_that_obey_affinity_the_blend_obeys_it_too(n: float) -> None:
    full = table()
    pump = Pump("P", (full, affinity(full, 0.6 * full.speed)))
    blend = running(pump, n * full.speed)
    alone = running(Pump("P", (full,)), n * full.speed)
    flow = 0.7 * blend.flow_max
    assert blend.head_at(flow) == pytest.approx(alone.head_at(flow), rel=1e-9)
    assert blend.power_at(flow) == pytest.approx(alone.power_at(flow), rel=1e-9)
    assert blend.flow_max == pytest.approx(alone.flow_max, rel=1e-12)


def test_at_a_tabulated_speed_the_table_itself_comes_out_whatever_the_other_tables() -> None:
    pump = DEMO_PUMPS[0]
    for curve in pump.curves:
        pumps = running(pump, curve.speed)
        for flow, height in zip(curve.flow.tolist(), curve.head.tolist(), strict=True):
            assert pumps.head_at(flow) == pytest.approx(height, rel=1e-9)


def test_the_head_changes_gradually_as_the_speed_passes_a_tabulated_one() -> None:
    pump = DEMO_PUMPS[0]
    flow, speed = 0.3e-3, pump.curves[1].speed
    below, at, above = (running(pump, speed * f).head_at(flow) for f in (0.9999, 1.0, 1.0001))
    assert below < at < above
    assert above - below < 0.001 * at


@settings(deadline=None)
@given(tables, systems, st.integers(1, 3), st.integers(1, 3))
def test_the_operating_point_lies_on_both_curves(
    curve: PumpCurve, required: SystemCurve, parallel: int, series: int
) -> None:
    pumps = running(Pump("P", (curve,)), parallel=parallel, series=series)
    try:
        point = operating_point(pumps, required)
    except NoSolutionError:
        # Only when the pump is stronger than the system at the end of its table.
        end = min(pumps.flow_max, float(required.flow[-1]))
        assert pumps.head_at(end) > required.head_at(end)
        return
    # the flow is found to 1e-10 of the range, the head is less exact by the slope
    assert required.head_at(point.flow) == pytest.approx(point.head, rel=1e-6, abs=1e-7)
    one = curve.head_at(point.flow / parallel) * series
    assert point.head == pytest.approx(one, rel=1e-9)
    assert 0 < point.efficiency < 1


@settings(deadline=None)
@given(tables, st.floats(0.4, 0.99))
def test_a_faster_speed_never_lowers_the_flow(curve: PumpCurve, n: float) -> None:
    required = system(0.5 * curve.flow[-1], 0.9 * curve.head[0])
    pump = Pump("P", (curve,))
    slow = operating_point(running(pump, n * curve.speed), required)
    fast = operating_point(running(pump), required)
    assert fast.flow > slow.flow
    assert fast.power > slow.power


@settings(deadline=None)
@given(tables)
def test_more_pumps_in_parallel_or_in_series_never_lower_the_flow(curve: PumpCurve) -> None:
    required = system(0.3 * curve.flow[-1], 2.5 * curve.head[0])
    pump = Pump("P", (curve,))
    one, two, three = (operating_point(running(pump, parallel=n), required) for n in (1, 2, 3))
    assert one.flow < two.flow < three.flow
    doubled = operating_point(running(pump, series=2), required)
    assert one.flow < doubled.flow


@settings(deadline=None)
@given(tables, st.floats(2e-6, 3e-5))
def test_a_more_viscous_fluid_never_raises_the_flow_nor_the_efficiency(
    curve: PumpCurve, nu: float
) -> None:
    required = system(0.5 * curve.flow[-1], 0.9 * curve.head[0])
    pump = Pump("P", (curve,))
    water = operating_point(running(pump), required)
    thick = operating_point(running(pump, fluid=PumpedFluid(998.2, nu)), required)
    assert thick.flow <= water.flow
    assert thick.correction is not None
    assert thick.correction.efficiency_factor <= 1.0


def test_density_leaves_head_and_flow_and_scales_the_power() -> None:
    pump = Pump("P", (table(run_out=3e-3),))
    required = system(1e-3, 5.0)
    # So little viscosity that B is below 1 and only density acts.
    light, heavy = (
        operating_point(running(pump, fluid=PumpedFluid(rho, 1e-7)), required)
        for rho in (998.2, 2 * 998.2)
    )
    assert heavy.flow == pytest.approx(light.flow, rel=1e-12)
    assert heavy.power == pytest.approx(2 * light.power, rel=1e-12)


def test_a_pump_too_large_for_the_system_is_no_solution_rather_than_a_guess() -> None:
    with pytest.raises(NoSolutionError, match="beyond the last point of its table"):
        operating_point(running(Pump("P", (table(),))), system(1e-3, 0.01))


def test_a_pump_that_is_too_weak_at_the_first_flow_of_its_table_is_no_solution() -> None:
    full = table()
    late = PumpCurve(full.flow[3:], full.head[3:], full.power[3:], 2900.0)
    with pytest.raises(NoSolutionError, match="it runs at less, where nothing is known"):
        operating_point(running(Pump("P", (late,))), system(1e-4, 9.0))


def test_a_system_curve_that_ends_too_early_says_so() -> None:
    flow = np.geomspace(1e-5, 2e-4, 8)
    short = SystemCurve(flow, 5 * (flow / 1e-3) ** 1.8)
    with pytest.raises(NoSolutionError, match="solve the system at larger flows"):
        operating_point(running(Pump("P", (table(),))), short)
    with pytest.raises(NoSolutionError):
        short.head_at(3e-4)


def test_a_table_in_wrong_units_that_makes_energy_is_refused() -> None:
    curve = table()
    with pytest.raises(UnlikePumpError, match="check the units") as caught:
        PumpCurve(curve.flow, curve.head, curve.power / 1e3, 2900)
    # At no flow nothing is given: its power may be anything above 0.
    assert caught.value.faults[0].field == "points.1.power"


@given(st.floats(1e-6, 2.9e-2), st.floats(1.0, 2.0))
def test_a_system_curve_reproduces_any_power_law_between_its_points(q: float, m: float) -> None:
    curve = system(1e-3, 5.0, m)
    if q >= curve.flow[0]:
        assert curve.head_at(q) == pytest.approx(5.0 * (q / 1e-3) ** m, rel=1e-9)


def test_the_system_curve_rises_strictly_from_rest() -> None:
    curve = system(1e-3, 5.0)
    heads = [curve.head_at(q) for q in np.linspace(0, curve.flow[-1], 500).tolist()]
    assert heads[0] == 0.0
    assert np.all(np.diff(heads) > 0)


@pytest.mark.parametrize(
    ("flow", "heads", "field"),
    [
        ([1, 2, 3], [1, 2, 3], "flow"),
        ([0, 1, 2, 3], [1, 2, 3, 4], "flow.0"),
        ([1, 2, 3, 3], [1, 2, 3, 4], "flow.3"),
        ([1, 2, 3, 4], [1, 2, 2, 4], "head.2"),
        ([1, 2, 3, 4], [0, 1, 2, 3], "head.0"),
        ([1, 2, 3, 4], [1, 2, math.nan, 4], "head.2"),
    ],
)
def test_a_system_curve_that_is_no_system_is_refused(
    flow: list[float], heads: list[float], field: str
) -> None:
    with pytest.raises(InputError) as caught:
        SystemCurve(np.array(flow, float), np.array(heads, float))
    assert field in [f.field for f in caught.value.faults]


@settings(deadline=None)
@given(tables, st.floats(0.15, 0.85))
def test_a_held_head_is_held_while_the_pump_can(curve: PumpCurve, part: float) -> None:
    required = system(0.4 * curve.flow[-1], 0.8 * curve.head[0])
    pump = Pump("P", (curve,))
    full = operating_point(running(pump), required)
    point = constant_head_point(pump, part * full.head, required)
    assert point.state == "holding_set_head"
    assert point.head == pytest.approx(part * full.head, rel=1e-6)
    assert required.head_at(point.flow) == pytest.approx(part * full.head, rel=1e-6)
    assert point.speed < pump.full_speed
    assert point.power < full.power


def test_a_head_beyond_the_pump_leaves_it_at_full_speed() -> None:
    pump, required = Pump("P", (table(),)), system(0.5e-3, 6.0)
    point = constant_head_point(pump, 7.9, required)
    assert point.state == "at_full_speed"
    assert point.flow == pytest.approx(operating_point(running(pump), required).flow, rel=1e-12)


def test_a_drive_that_cannot_turn_slowly_stays_at_its_min_speed() -> None:
    pump = Pump("P", (table(),), min_speed=2000.0)
    point = constant_head_point(pump, 0.5, system(0.5e-3, 6.0))
    assert (point.state, point.speed) == ("at_minimum_speed", 2000.0)
    assert point.head > 0.5


def test_power_by_affinity_below_the_lowest_table_carries_a_note() -> None:
    point = constant_head_point(Pump("P", (table(),)), 2.0, system(0.5e-3, 6.0))
    assert "true power is higher" in point.notes[0]


@pytest.mark.parametrize("set_head", [0.0, -1.0, math.nan])
def test_a_set_head_must_be_positive(set_head: float) -> None:
    with pytest.raises(InputError) as caught:
        constant_head_point(Pump("P", (table(),)), set_head, system(0.5e-3, 6.0))
    assert caught.value.faults[0].field == "set_head"


def test_a_set_head_that_drives_the_pump_beyond_its_table_is_no_solution() -> None:
    with pytest.raises(NoSolutionError):
        constant_head_point(Pump("P", (table(),)), 3.0, system(1e-3, 0.3))


def test_the_invented_pumps_are_sensible_and_say_that_they_are_invented() -> None:
    assert len(DEMO_PUMPS) == 5
    for pump in DEMO_PUMPS:
        assert pump.name.startswith("Invented pump")
        top = pump.curves[-1]
        best = 998.2 * 9.80665 * top.best_flow * top.best_head / top.power_at(top.best_flow)
        assert 0.15 < best < 0.56
        assert not top.best_at_end


def test_a_sample_for_a_plot_spans_the_flows_of_the_table() -> None:
    pumps = running(DEMO_PUMPS[2], parallel=2, fluid=COLD_BRINE)
    flow, heads, powers = pumps.sample(30)
    assert (flow[0], flow[-1]) == (pumps.flow_min, pumps.flow_max)
    assert np.all(np.diff(heads) < 0)
    assert np.all(powers > 0)


@pytest.mark.parametrize("part", [0.2, 0.5, 0.8])
def test_viscous_efficiency_is_that_on_water_times_the_factor_of_ansi_hi_9_6_7(part: float) -> None:
    # ANSI/HI 9.6.7 at corresponding points: Q = C_Q Q_w, H = C_H H_w, eta = C_eta eta_w.
    pump = Pump("P", (table(),))
    water, thick = running(pump), running(pump, fluid=PumpedFluid(1030.0, 1.5e-5))
    correction = thick.correction
    assert correction is not None
    on_water = part * water.flow_max
    flow = correction.flow_factor * on_water
    height = correction.head_factor(on_water) * water.head_at(on_water)
    assert thick.head_at(flow) == pytest.approx(height, rel=1e-12)
    efficiency = 998.2 * 9.80665 * on_water * water.head_at(on_water) / water.power_at(on_water)
    found = 1030.0 * 9.80665 * flow * height / thick.power_at(flow)
    assert found == pytest.approx(correction.efficiency_factor * efficiency, rel=1e-12)


def test_between_two_speeds_only_flows_that_both_tables_cover_are_used() -> None:
    full = table()
    short = PumpCurve(full.flow[:4] * 0.6, full.head[:4] * 0.36, full.power[:4] * 0.216, 1740.0)
    pumps = running(Pump("P", (short, full)), 2320.0)
    assert pumps.flow_max == pytest.approx(float(full.flow[3]) * 0.8, rel=1e-12)


def test_the_viscosity_correction_works_with_the_head_of_one_stage() -> None:
    one, two = (
        running(Pump("P", (table(),), impellers=n), fluid=COLD_BRINE).correction for n in (1, 2)
    )
    assert one is not None
    assert two is not None
    # B goes with head per stage to the power 0.0625
    assert two.parameter_b / one.parameter_b == pytest.approx(0.5**0.0625, rel=1e-12)


def test_a_head_is_held_in_thick_brine_by_a_drive_of_no_least_speed() -> None:
    # The viscosity correction ends at low speed (B of 40, ANSI/HI 9.6.7): no speed need be tried
    # below the one whose head at no flow is the head that is held.
    pump, required = Pump("P", (table(),)), system(0.5e-3, 6.0)
    point = constant_head_point(pump, 2.0, required, fluid=COLD_BRINE)
    assert point.state == "holding_set_head"
    assert point.head == pytest.approx(2.0, rel=1e-6)
    assert required.head_at(point.flow) == pytest.approx(2.0, rel=1e-6)
    # Head at no flow goes with the square of the speed: 8 m at 2900 rpm.
    assert point.speed > 2900.0 * math.sqrt(2.0 / 8.0)


def test_pumps_side_by_side_add_flows_and_in_line_heads_and_all_take_power() -> None:
    pump = Pump("P", (table(),))
    one, set_of = running(pump), running(pump, parallel=2, series=3)
    flow = 0.4e-3
    assert set_of.head_at(2 * flow) == pytest.approx(3 * one.head_at(flow), rel=1e-12)
    assert set_of.power_at(2 * flow) == pytest.approx(6 * one.power_at(flow), rel=1e-12)
    assert (set_of.flow_min, set_of.flow_max) == pytest.approx((0.0, 2e-3))
    # Continued beyond the table: six pumps' worth of one pump's chord.
    beyond = (set_of.head_at(2.4e-3) - set_of.head_at(2e-3)) / 3
    assert beyond == pytest.approx(one.head_at(1.2e-3) - one.head_at(1e-3), rel=1e-3)


def test_power_outside_the_table_is_no_less_than_at_its_end() -> None:
    flow = np.array([0.2e-3, 0.5e-3, 1e-3])
    pumps = running(Pump("P", (PumpCurve(flow, np.array([8.0, 6, 2]), np.array([40.0, 60, 70])),)))
    assert pumps.power_at(0.0) == pytest.approx(40.0)
    assert pumps.power_at(5e-3) == pytest.approx(150.0)  # straight on by the last chord
    assert pumps.head_at(0.0) == pytest.approx(8.0)


def test_an_operating_point_gives_its_water_power_by_its_parts() -> None:
    # rho g Q H, and efficiency as its share of the electricity (definitions).
    point = operating_point(running(Pump("P", (table(),))), system(0.5e-3, 5.0))
    assert point.hydraulic_power == pytest.approx(998.2 * 9.80665 * point.flow * point.head)
    assert point.efficiency == pytest.approx(point.hydraulic_power / point.power)
    assert (point.speed, point.state) == (2900.0, "constant_speed")
    assert point.correction is None
    assert point.notes == ()


def test_speeds_between_two_tables_are_blended_by_their_distance() -> None:
    # At no flow a table at n gives n² of its head: 1500 rpm from 1000 (2 m) and 2000 rpm (6 m),
    # each moved to 1500: 4.5 m and 3.375 m, half of each.
    flow = np.array([0.0, 1e-3, 2e-3])
    slow = PumpCurve(flow, np.array([2.0, 1.0, 0.5]), np.array([20.0, 25, 30]), 1000.0)
    fast = PumpCurve(2 * flow, np.array([6.0, 4.0, 1.0]), np.array([90.0, 120, 150]), 2000.0)
    pumps = running(Pump("P", (fast, slow)), 1500.0)
    assert pumps.head_at(0.0) == pytest.approx(0.5 * 4.5 + 0.5 * 3.375)
    assert pumps.power_at(0.0) == pytest.approx(0.5 * 20 * 3.375 + 0.5 * 90 * 0.421875)
    assert pumps.flow_max == pytest.approx(3e-3)
    # Below the slowest table it alone is moved, above none is.
    assert running(Pump("P", (fast, slow)), 500.0).head_at(0.0) == pytest.approx(0.5)
    # A quarter of the way from slow to fast.
    quarter = running(Pump("P", (fast, slow)), 1250.0)
    assert quarter.head_at(0.0) == pytest.approx(0.75 * 2 * 1.25**2 + 0.25 * 6 * 0.625**2)


def test_the_best_point_of_a_table_is_where_flow_times_head_over_power_is_greatest() -> None:
    # By hand: head 10 - 4 q (q in L/s) on constant power is best at q = 1.25, at 5 m.
    flow = np.linspace(0.0, 2e-3, 21)
    curve = PumpCurve(flow, 10.0 - 4e3 * flow, np.full(21, 70.0))
    assert curve.best_flow == pytest.approx(1.25e-3, abs=2e-5)  # 65 points over the table
    assert curve.best_head == pytest.approx(5.0, abs=0.1)
    assert not curve.best_at_end
    short = PumpCurve(flow[:11], 10.0 - 4e3 * flow[:11], np.full(11, 70.0))
    assert short.best_at_end
    assert short.best_flow == pytest.approx(1e-3)


def test_invented_tables_are_smooth_as_measured_ones_are() -> None:
    # A slip of a digit in a table shows as a kink. Rotodynamic pumps: head falls ever faster, power
    # rises ever slower (White, Fluid Mechanics, chapter 11, figures), both in even steps of flow.
    for pump in DEMO_PUMPS:
        for curve in pump.curves:
            step = np.diff(curve.flow)
            assert step == pytest.approx(step.mean(), rel=0.07)
            fall = np.diff(curve.head) / step
            assert (np.diff(fall) < 0).all(), (pump.name, curve.label)
            # Within a watt of a smooth curve, and head within 2 % of the head at no flow.
            for values, digits in ((curve.head, 0.02 * curve.head[0]), (curve.power, 0.015
                                   * curve.power.max())):  # fmt: skip
                fit = np.polynomial.Polynomial.fit(curve.flow, values, 3)
                assert np.abs(fit(curve.flow) - values).max() < digits, (pump.name, curve.label)


def test_what_the_pump_and_the_system_give_is_told_in_litres_and_metres() -> None:
    pump = Pump("P", (table(),))
    flow = np.geomspace(1e-5, 2e-4, 8)
    for call, words in (
        (lambda: operating_point(running(pump), SystemCurve(flow, 5 * (flow / 1e-3) ** 1.8)),
         "ends at 0.2 L/s, where pump 'P' still has "),
        (lambda: operating_point(running(pump), system(1e-3, 0.01)), "of its table (1 L/s)"),
        (lambda: constant_head_point(pump, 0.3, system(1e-3, 0.2)),
         "less than the set head of 0.3 m up to 1 L/s"),
        (lambda: system(1e-3, 5.0).head_at(4e-2), "runs from 0 to 30 L/s; it has no head at 40"),
    ):  # fmt: skip
        with pytest.raises(NoSolutionError) as caught:
            call()
        assert words in str(caught.value)


def test_what_a_table_wants_is_told_in_its_units() -> None:
    good = table()
    flow, heads = np.array(good.flow), np.array(good.head)
    flow[2] = flow[1]
    heads[4] = heads[3]
    allowed: dict[str, str] = {}
    for columns in ((flow, good.head), (good.flow, heads)):
        with pytest.raises(InputError) as caught:
            PumpCurve(*columns, np.array(good.power), 2900.0)
        allowed |= {fault.field: fault.allowed for fault in caught.value.faults}
    least = float(allowed["points.2.flow"].removeprefix("more than ").removesuffix(" L/s"))
    assert least == pytest.approx(1.0 / 6.0, rel=2e-3)  # L/s, a little more than the point before
    assert allowed["points.4.head"] == f"less than {heads[3]:.6g} m"


def test_two_tables_that_share_no_flow_are_refused_between_them() -> None:
    flow, heads, power = np.array([0.0, 1e-4, 2e-4]), np.array([9.0, 8, 7]), np.full(3, 90.0)
    slow = PumpCurve(flow, heads / 4, power / 8, 1000.0)
    fast = PumpCurve(flow + 1e-3, heads, power, 2000.0)
    with pytest.raises(InputError, match="beside speed 1500 share no flow"):
        running(Pump("P", (slow, fast)), 1500.0)


def test_a_head_that_no_speed_holds_inside_the_tables_is_no_solution() -> None:
    # The table begins at 0.8 L/s: held low, the pump would run at a flow below what it covers.
    flow = np.array([0.8e-3, 1.0e-3, 1.2e-3])
    pump = Pump("P", (PumpCurve(flow, np.array([8.0, 7.5, 7.0]), np.full(3, 150.0)),))
    with pytest.raises(NoSolutionError) as caught:
        constant_head_point(pump, 6.0, system(0.5e-3, 6.0))
    (fault,) = caught.value.faults
    assert "holding 6 m, pump 'P' would run at 0.5 L/s" in fault.message


@pytest.mark.parametrize("power", [1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("factor", [0.5, 10.0])
def test_suction_head_and_power_beyond_a_table_are_no_less_than_those_of_a_longer_one(
    power: float, factor: float
) -> None:
    flow = np.linspace(0.0, 1.2e-3, 7)
    head, watts = 8.0 - 4.0 * (flow / 1e-3) ** 1.8, 60.0 + 90.0 * (flow / 1e-3) ** power
    npsh = 1.0 + factor * (flow / 1e-3) ** power
    cut = slice(None, -1)
    whole, short = (
        running(Pump("P", (PumpCurve(flow[end], head[end], watts[end], 2900.0, npsh=npsh[end]),)))
        for end in (slice(None), cut)
    )
    for beyond in (1.02e-3, 1.1e-3, 1.16e-3):  # 16 % is the widest tolerance
        assert short.flow_max < beyond < whole.flow_max
        asked, truly = short.npsh_at(beyond), 1.0 + factor * (beyond / 1e-3) ** power
        assert asked is not None
        # By the curves that the tables are of; twice the step and the square of it is plenty.
        assert truly * (1.0 - 1e-9) <= asked <= max(1.0 + factor, truly) + 2.0 * (truly - 1.0)
        takes, truly = short.power_at(beyond), 60.0 + 90.0 * (beyond / 1e-3) ** power
        assert truly * (1.0 - 1e-9) <= takes <= 1.5 * truly


def test_suction_head_that_falls_or_was_level_is_carried_on_without_leaps() -> None:
    flow, head = np.array([0.0, 0.4, 0.8, 1.0]) / 1e3, np.array([9.0, 8.0, 6.0, 4.0])
    watts = np.array([60.0, 90.0, 110.0, 120.0])
    falls, level = np.array([4.0, 3.5, 3.0, 2.8]), np.array([2.0, 2.0, 2.0, 2.5])
    asked = [
        running(Pump("P", (PumpCurve(flow, head, watts, 2900.0, npsh=npsh),))).npsh_at(1.1e-3)
        for npsh in (falls, level)
    ]
    assert asked[0] == pytest.approx(2.8 * 1.21)  # the square of the flow
    assert asked[1] is not None
    assert 2.5 * 1.21 <= asked[1] < 4.0
