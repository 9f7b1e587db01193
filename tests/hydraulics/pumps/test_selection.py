"""Choosing among pumps."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.pumps.benchmarks import TOLERANCES
from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.examples import demo_pumps
from hydraulics.pumps.running import PumpedFluid, SystemCurve, running
from hydraulics.pumps.selection import (
    Candidate,
    Condition,
    Selection,
    select,
    tolerance_flows,
    tolerance_head,
)

DEMO_PUMPS = demo_pumps()

DUTY = 0.5e-3


def condition(name: str, head_m: float, nu: float, hours: float = 1000.0) -> Condition:
    flow = np.geomspace(1e-5, 1e-2, 30)
    curve = SystemCurve(flow, head_m * (flow / DUTY) ** 1.75)
    return Condition(name, curve, PumpedFluid(1030.0, nu), hours)


COLD = condition("cold", 5.0, 5.4e-6)
WARM = condition("warm", 4.2, 3.0e-6)


def ranked_by(*asked: Any, **more: Any) -> tuple[Selection, ...]:
    """Those that are judged."""
    return select(*asked, **more)[0]


def test_pumps_that_meet_the_duty_come_first_and_by_energy() -> None:
    chosen = ranked_by([Candidate(p) for p in DEMO_PUMPS], DUTY, 5.0, [COLD, WARM], heat=8000.0)
    meets = [s.meets_duty for s in chosen]
    assert meets == sorted(meets, reverse=True)
    assert 1 < sum(meets) < 5
    energies = [s.energy_kwh for s in chosen if s.meets_duty]
    assert None not in energies
    assert energies == sorted(energies, key=lambda e: e or 0.0)


def test_a_pump_that_misses_the_duty_says_why() -> None:
    (missed,) = ranked_by([Candidate(DEMO_PUMPS[0])], DUTY, 5.0, [COLD, WARM])
    assert not missed.meets_duty
    assert missed.reasons[0].startswith("cold: gives 8.")
    assert "less than the flow of the duty" in missed.reasons[0]


def test_a_pump_beyond_its_table_is_a_miss_with_its_reason_and_does_not_stop_the_others() -> None:
    easy = condition("cold", 0.05, 5.4e-6)
    chosen = ranked_by([Candidate(DEMO_PUMPS[1]), Candidate(DEMO_PUMPS[4])], DUTY, 5.0, [easy])
    assert [s.meets_duty for s in chosen] == [True, False]
    assert "beyond the last point of its table" in chosen[1].reasons[0]


def test_a_fluid_beyond_the_viscosity_correction_is_a_miss() -> None:
    (missed,) = ranked_by([Candidate(DEMO_PUMPS[0])], DUTY, 5.0, [condition("cold", 5.0, 9e-4)])
    assert "ANSI/HI 9.6.7" in missed.reasons[0]


@pytest.mark.parametrize("min_speed", [30.0, 100.0, 700.0])
def test_a_slow_drive_on_viscous_brine_is_judged_as_one_that_need_not_go_so_slow(
    min_speed: float,
) -> None:
    # At 30 and 100 rpm the correction of ANSI/HI 9.6.7 has ended (B of 84 and 46); the pump holds
    # its head at some 2,000 rpm, and by affinity could not hold it at any of the three speeds.
    curve = PumpCurve(np.array([0.0, 3e-4, 6e-4, 9e-4]), np.array([9.0, 8.0, 6.0, 1.0]),
                      np.array([60.0, 70.0, 80.0, 90.0]), 2800.0)  # fmt: skip
    assert 9.0 * (700.0 / 2800.0) ** 2 < 4.0
    viscous = condition("cold", 5.0, 20e-6)
    held = Candidate(
        Pump("P", (curve,), min_speed=min_speed), "constant_differential_pressure", set_head=4.0
    )
    (chosen,) = ranked_by([held], DUTY, 5.0, [viscous])
    # By hand: 5 m (Q/Q0)^1.75 = 4 m.
    flow = DUTY * 0.8 ** (1 / 1.75)
    assert chosen.conditions[0].flow_band == pytest.approx((flow, flow))


def test_the_lowest_sufficient_speed_is_taken() -> None:
    easy = condition("cold", 2.0, 1.2e-6)
    (chosen,) = ranked_by([Candidate(DEMO_PUMPS[0])], DUTY, 2.0, [easy])
    assert chosen.meets_duty
    assert chosen.speed == 2250
    (named,) = ranked_by([Candidate(DEMO_PUMPS[0], speed=2700)], DUTY, 5.0, [easy])
    assert named.speed == 2700
    assert (named.energy_kwh or 0) > (chosen.energy_kwh or 0)


def test_a_held_head_equal_to_the_duty_gives_the_duty_flow_and_less_energy() -> None:
    fixed, held = (
        ranked_by([Candidate(DEMO_PUMPS[2], c)], DUTY, 5.0, [COLD])[0]
        for c in ("constant_speed", "constant_differential_pressure")
    )
    assert held.meets_duty
    assert held.conditions[0].flow_margin_percent == pytest.approx(0.0, abs=1e-6)  # root finder
    assert (held.energy_kwh or 0) < (fixed.energy_kwh or 0)


def test_energy_is_power_times_hours_summed_over_the_conditions() -> None:
    half = condition("warm", 4.2, 3.0e-6, hours=500.0)
    (chosen,) = ranked_by([Candidate(DEMO_PUMPS[1])], DUTY, 5.0, [COLD, half])
    cold, warm = (c.point for c in chosen.conditions)
    assert cold is not None
    assert warm is not None
    assert chosen.energy_kwh == pytest.approx(cold.power * 1.0 + warm.power * 0.5, rel=1e-12)


def test_wrong_data_of_candidates_is_refused_for_all_of_them_at_once() -> None:
    wrong = [
        Candidate(DEMO_PUMPS[0]),
        Candidate(DEMO_PUMPS[0], parallel=0),
        Candidate(DEMO_PUMPS[0], series=0),
    ]
    with pytest.raises(InputError) as caught:
        ranked_by(wrong, DUTY, 5.0, [COLD])
    fields = [f.field for f in caught.value.faults]
    assert fields == ["candidates.1.parallel", "candidates.2.series"]


@pytest.mark.parametrize("flow", [0.0, -1e-3, math.nan, math.inf])
def test_a_duty_without_flow_is_refused(flow: float) -> None:
    with pytest.raises(InputError) as caught:
        ranked_by([Candidate(DEMO_PUMPS[0])], flow, 5.0, [COLD])
    assert caught.value.faults[0].field == "duty"


def test_no_candidates_are_no_choice_and_an_unknown_grade_is_refused() -> None:
    with pytest.raises(InputError, match="grade"):
        ranked_by([], DUTY, 5.0, [COLD], tolerance_grade="4B")
    assert ranked_by([], DUTY, 5.0, [COLD]) == ()


@settings(deadline=None)
@given(st.sampled_from(sorted(TOLERANCES)), st.sampled_from(DEMO_PUMPS))
def test_the_tolerance_band_holds_the_curve_and_the_operating_flow(name: str, pump: Pump) -> None:
    grade, pumps = TOLERANCES[name], running(pump)
    for flow in np.linspace(0, pumps.flow_max, 20).tolist():
        low, high = (tolerance_head(pumps, grade, flow, upper=u) for u in (False, True))
        assert low <= pumps.head_at(flow) + 1e-12
        assert high >= pumps.head_at(flow) - 1e-12
    flow = np.geomspace(1e-6, 3 * pumps.flow_max, 30)
    middle = 0.5 * pumps.flow_max
    required = SystemCurve(flow, pumps.head_at(middle) * (flow / middle) ** 1.8)
    weak, strong = tolerance_flows(pumps, required, grade)
    assert weak is not None
    assert strong is not None
    assert weak <= middle * (1 + 1e-8)
    assert strong >= middle * (1 - 1e-8)


def test_the_upper_edge_at_zero_flow_is_the_head_tolerance_alone() -> None:
    pumps = running(DEMO_PUMPS[2])
    edge = tolerance_head(pumps, TOLERANCES["up_to_10_kw"], 0.0, upper=True)
    assert edge == pytest.approx(1.08 * 12.5, rel=1e-12)


def test_the_same_pump_with_more_power_costs_more_energy() -> None:
    base = DEMO_PUMPS[3].curves[0]
    hungry = Pump("hungry", (PumpCurve(base.flow, base.head, 1.2 * base.power, 2850),), impellers=2)
    chosen = ranked_by([Candidate(hungry), Candidate(DEMO_PUMPS[3])], DUTY, 5.0, [COLD])
    assert [s.candidate.pump.name for s in chosen][-1] == "hungry"
    ratio = (chosen[1].energy_kwh or 0) / (chosen[0].energy_kwh or 1)
    assert ratio == pytest.approx(1.2, rel=1e-9)


def test_margins_are_of_the_duty_in_per_cent() -> None:
    (chosen,) = ranked_by([Candidate(DEMO_PUMPS[2])], DUTY, 5.0, [COLD], heat=8000.0)
    (cold,) = chosen.conditions
    assert cold.point is not None
    assert cold.flow_margin_percent == pytest.approx(100 * (cold.point.flow - DUTY) / DUTY)
    pumps = running(DEMO_PUMPS[2], fluid=COLD.fluid)
    assert cold.head_margin_percent == pytest.approx(100 * (pumps.head_at(DUTY) - 5.0) / 5.0)
    assert chosen.benchmark is not None
    assert chosen.benchmark.power_per_heat == pytest.approx(cold.point.power / 8000.0)
    assert ranked_by([Candidate(DEMO_PUMPS[2])], DUTY, 5.0, [COLD])[0].benchmark is None


def test_the_head_margin_is_told_within_the_tables_alone() -> None:
    # Pump A ends at 0.95 L/s; a duty beyond has no head in its table.
    easy = condition("cold", 0.5, 1.2e-6)
    (beyond,) = ranked_by([Candidate(DEMO_PUMPS[0])], 1.2e-3, 5.0, [easy])
    assert beyond.conditions[0].head_margin_percent is None
    ends = Condition("cold", SystemCurve(np.geomspace(1e-5, 0.9e-3, 30),
                     5.0 * np.geomspace(0.02, 1.8, 30) ** 1.75), COLD.fluid, 1000.0)  # fmt: skip
    (short,) = ranked_by([Candidate(DEMO_PUMPS[1])], 1e-3, 5.0, [ends])
    assert short.conditions[0].head_margin_percent is None


def test_edges_of_the_tolerance_by_hand() -> None:
    # Grade 2B (ISO 9906:2012, from memory): 8 % of flow, 5 % of head. On a straight curve of
    # 10 m - 4 m per L/s at 1 L/s: 6 m. In head: 5.7 to 6.3 m; in flow: 10 - 4/0.92, 10 - 4/1.08.
    flow = np.linspace(0.0, 2e-3, 21)
    pumps = running(Pump("P", (PumpCurve(flow, 10.0 - 4e3 * flow, np.full(21, 70.0)),)))
    grade = TOLERANCES["2B"]
    assert tolerance_head(pumps, grade, 1e-3, upper=False) == pytest.approx(10 - 4 / 0.92)
    assert tolerance_head(pumps, grade, 1e-3, upper=True) == pytest.approx(6.3)
    required = SystemCurve(flow[1:], 6e3 * flow[1:])  # meets the curve at 1 L/s
    weak, strong = tolerance_flows(pumps, required, grade)
    assert weak is not None
    assert strong is not None
    assert 6.0 * weak * 1e3 == pytest.approx(10 - 4 * weak * 1e3 / 0.92)
    assert 6.0 * strong * 1e3 == pytest.approx(10 - 4 * strong * 1e3 / 1.08)
    # A system that takes hardly anything is met beyond the tables, at either edge.
    easy = SystemCurve(flow[1:], 10.0 * flow[1:])
    assert tolerance_flows(pumps, easy, grade) == (None, None)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"control": "held"}, "control"),
        ({"set_head": 3.0}, "set_head"),
        ({"control": "constant_differential_pressure", "speed": 2000.0}, "speed"),
        ({"speed": 2700.1}, "speed"),
    ],
)
def test_a_candidate_that_cannot_be_is_refused(wrong: dict[str, Any], field: str) -> None:
    Candidate(DEMO_PUMPS[0], speed=2700.0)
    with pytest.raises(InputError) as caught:
        Candidate(DEMO_PUMPS[0], **wrong)
    assert [fault.field for fault in caught.value.faults] == [field]


def test_pumps_that_miss_come_by_how_near_they_are() -> None:
    weak = Candidate(DEMO_PUMPS[0], speed=1700)
    near = Candidate(DEMO_PUMPS[0], speed=2700)
    none = Candidate(DEMO_PUMPS[4])  # its table is too wide for so easy a system
    hard = condition("cold", 7.0, 5.4e-6)
    assert [s.candidate for s in ranked_by([weak, near], DUTY, 5.0, [hard])] == [near, weak]
    easy = condition("cold", 0.05, 5.4e-6)
    ranked = ranked_by([none, weak], 20e-3, 5.0, [easy])
    assert not any(each.meets_duty for each in ranked)


@pytest.mark.parametrize("grade", ["1B", "2B", "3B"])
def test_a_weak_pump_holds_a_head_as_far_as_full_speed_gives_it(grade: str) -> None:
    # The same pump at constant full speed: the weak one gives less, and no control adds to it.
    pump = DEMO_PUMPS[2]
    full = running(pump).flow_max
    for share in (0.3, 0.6):
        flow = share * full
        head = running(pump).head_at(flow)
        curve = np.geomspace(1e-5, 3 * full, 40)
        alone = Condition(
            "cold",
            SystemCurve(curve, head * (curve / flow) ** 1.75),
            PumpedFluid(1000.0, 1e-6),
            1.0,
        )
        for room, falls_short in ((0.999, True), (0.5, False)):
            held = Candidate(pump, "constant_differential_pressure", set_head=room * head)
            (chosen,) = ranked_by([held], 0.5 * flow, head, [alone], tolerance_grade=grade)
            (result,) = chosen.conditions
            assert result.point is not None
            assert result.point.state == "holding_set_head"
            weak, strong = result.flow_band
            fast = Candidate(pump, speed=pump.full_speed)
            (constant,) = ranked_by([fast], 0.5 * flow, head, [alone], tolerance_grade=grade)
            least, most = constant.conditions[0].flow_band
            assert strong == result.point.flow  # a strong one is slowed down to the head held
            assert weak is not None
            assert least is not None
            assert weak == pytest.approx(least if falls_short else result.point.flow, rel=1e-9)
            # Set beyond what it gives: it runs at full speed, and the strong one is still held.
            beyond = Candidate(pump, "constant_differential_pressure", set_head=1.01 * head)
            (short,) = ranked_by([beyond], 0.5 * flow, head, [alone], tolerance_grade=grade)
            assert short.conditions[0].point is not None
            assert short.conditions[0].point.state == "at_full_speed"
            assert short.conditions[0].flow_band[0] == pytest.approx(least, rel=1e-9)
            assert most is not None
            held_flow = flow * 1.01 ** (1 / 1.75)
            assert short.conditions[0].flow_band[1] == pytest.approx(min(most, held_flow), rel=1e-6)


@pytest.mark.parametrize("digits", [3, 4])
def test_a_head_typed_as_printed_still_meets_the_duty(digits: int) -> None:
    # A head printed to so many digits (5.97, 5.972) is off by half of the last at most, here
    # by 0.034 %, and the flow by less, which goes with its root.
    printed = float(f"{5.97204:.{digits}g}")
    held = Candidate(DEMO_PUMPS[3], "constant_differential_pressure", set_head=printed)
    system = condition("cold", 5.97204, 5.4e-6)
    (typed,) = ranked_by([held], DUTY, 5.97204, [system])
    assert typed.meets_duty, typed.reasons


def test_a_speed_below_the_least_of_the_drive_is_refused_naming_both() -> None:
    curve = DEMO_PUMPS[0].curves[-1]
    pump = Pump("driven", (curve,), min_speed=0.8 * curve.speed)
    with pytest.raises(InputError) as refused:
        Candidate(pump, speed=0.7 * curve.speed)
    assert {fault.field for fault in refused.value.faults} == {"speed", "min_speed"}
    assert Candidate(pump, speed=0.8 * curve.speed).speed == pytest.approx(0.8 * curve.speed)
