"""Pumps judged on an array, cold and warm."""

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from hydraulics.errors import InputError, RangeError
from hydraulics.findings import FINDING_CODES
from hydraulics.fluid.mixture import Mixture, mixture
from hydraulics.layout.circuit import Branch, Circuit, Plant, Run
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.examples import demo_pumps
from hydraulics.pumps.on_array import (
    PumpChoicePlan,
    Warm,
    array_system_curve,
    candidate_curve,
    pumps_on_array,
)
from hydraulics.pumps.result import PumpsOnArray
from hydraulics.pumps.running import Control, PumpedFluid, running
from hydraulics.pumps.selection import Candidate
from hydraulics.split.duty import Duty, FlowDuty, HeatDuty, PumpDriven
from hydraulics.split.flow_split import flow_split
from tests.hydraulics.arrays import BRINE, P40, direct_return, flow, manifold

DEMO_PUMPS = demo_pumps()

ARRAY = manifold((150.0, 150.0, 180.0))
PLANT = Plant(runs=(Run(P40, 20.0),))
DUTY = flow(0.8)
WARM = Warm(6.0, 9.0)
MIDDLE = Candidate(DEMO_PUMPS[2])


def on_array(
    circuit: Circuit,
    plant: Plant,
    brine: Mixture,
    duty: Duty,
    candidates: Sequence[Candidate],
    *,
    warm: Warm | None = None,
) -> PumpsOnArray:
    return pumps_on_array(
        flow_split(circuit, plant, brine, duty), circuit, plant,
        mixture=brine, duty=duty, plan=PumpChoicePlan(tuple(candidates)), warm=warm,
    )  # fmt: skip


def judged(*candidates: Candidate, warm: Warm | None = WARM) -> PumpsOnArray:
    return on_array(ARRAY, PLANT, BRINE, DUTY, candidates, warm=warm)


def codes(result: PumpsOnArray) -> set[str]:
    found = {each.code for each in result.findings}
    assert found <= FINDING_CODES.keys()
    return found


def test_the_flow_split_at_the_flow_of_the_pump_takes_the_head_that_the_pump_gives() -> None:
    # An independent full solution at the operating flow; the curve between its points is within
    # 0.4 % of head, as measured on the examples.
    result = judged(MIDDLE)
    for condition, judged_at in zip(
        result.conditions, result.selections[0].conditions, strict=True
    ):
        assert judged_at.point is not None
        assert condition.at_pump is not None
        duty = FlowDuty(
            judged_at.point.flow,
            condition.to_ground_temperature,
            condition.from_ground_temperature,
        )
        split = flow_split(ARRAY, PLANT, BRINE, duty)
        assert judged_at.point.head == pytest.approx(split.pump.head, rel=0.004)
        # Both are solutions of the same network; the second was stopped at 1e-7.
        assert condition.at_pump.mass_flow == pytest.approx(split.loops.mass_flow, rel=1e-5)


def test_a_pump_through_its_curve_drives_the_same_flow_as_the_solver_finds_with_that_curve() -> (
    None
):
    # The solver intersects curve and network by itself; on water, so that no correction enters.
    water = mixture("water", 0.0, "mass")
    warm_water = FlowDuty(0.8e-3, 18.0, 22.0)
    result = on_array(ARRAY, PLANT, water, warm_water, [MIDDLE])
    point = result.selections[0].conditions[0].point
    assert point is not None
    fluid = result.conditions[0].condition.fluid
    pumps = running(DEMO_PUMPS[2], fluid=PumpedFluid(fluid.density, fluid.viscosity))
    flows = np.linspace(0.1e-3, 2.4e-3, 40)
    heads = tuple(pumps.head_at(each) for each in flows.tolist())
    driven = flow_split(ARRAY, PLANT, water, PumpDriven(tuple(flows.tolist()), heads, 18.0, 22.0))
    assert point.flow == pytest.approx(driven.pump.volume_flow, rel=0.002)  # 0.4 % of head


@pytest.mark.parametrize("litres", [0.3, 0.8, 2.0])
def test_the_system_curve_holds_between_its_points(litres: float) -> None:
    ladder = direct_return([120.0] * 6, apart=15.0)
    split = flow_split(ladder, Plant(), BRINE, flow(litres))
    duty = split.pump
    curve = array_system_curve(split.network, split.solution, 5 * duty.volume_flow, 6 * duty.head)
    for share in (0.3, 0.55, 0.9, 1.07, 1.4, 1.9):
        at = flow_split(ladder, Plant(), BRINE, flow(litres * share)).pump
        # Between points 8 % apart, transition included: stated accuracy.
        assert curve.head_at(at.volume_flow) == pytest.approx(at.head, rel=0.004)


def test_the_system_curve_ends_where_no_pump_reaches() -> None:
    split = flow_split(ARRAY, PLANT, BRINE, DUTY)
    low = array_system_curve(split.network, split.solution, 1.0, 1.5 * split.pump.head)
    assert 1.5 * split.pump.head < low.head[-1] < 3.0 * split.pump.head
    short = array_system_curve(split.network, split.solution, 1.2e-3, 1e6)
    assert 1.2e-3 <= short.flow[-1] < 2e-3


def test_no_pump_is_told_to_run_where_nothing_is_told_of_the_heat_exchanger() -> None:
    # Data at 0.7 L/s serve to 1.05 L/s; the pump would run beyond that, cold and warm.
    near = Plant(Exchanger((0.7e-3,), (9e3,)), PLANT.runs)
    result = on_array(ARRAY, near, BRINE, DUTY, [_strong(1.5)], warm=WARM)
    for each, told in zip(result.conditions, result.selections[0].conditions, strict=True):
        assert each.condition.system.flow[-1] == pytest.approx(1.05e-3, rel=1e-12)
        assert told.point is None
        assert "1.5 times as far as the heat exchanger's data" in told.reason
        assert told.short is False
    # A split at such a flow is refused: one rule.
    with pytest.raises(RangeError, match=r"the heat exchanger's data end at 0\.7 L/s"):
        flow_split(ARRAY, near, BRINE, flow(1.06))
    assert result.split.curve.volume_flow[-1] == pytest.approx(1.05e-3, rel=1e-12)
    # With an exponent all is told, and at the flow that is furthest beyond the data.
    law = Plant(Exchanger((0.7e-3,), (9e3,), 2.0), PLANT.runs)
    known = on_array(ARRAY, law, BRINE, DUTY, [_strong(1.5)], warm=WARM)
    cold, warm = (each.point for each in known.selections[0].conditions)
    assert cold is not None
    assert warm is not None
    assert warm.flow > cold.flow > 1.05e-3
    (told_of,) = (f for f in known.findings if f.code == "heat_exchanger_beyond_data")
    assert f"warm, at its {warm.flow * 1e3:.3g} L/s" in told_of.message


def test_a_held_head_beyond_the_heat_exchangers_data_is_told_as_that() -> None:
    near = Plant(Exchanger((0.7e-3,), (9e3,)), PLANT.runs)
    system = on_array(ARRAY, near, BRINE, DUTY, [_strong(2.0)]).conditions[0].condition.system
    most = float(system.head[-1])
    held = replace(_strong(2.0), control="constant_differential_pressure", set_head=1.02 * most)
    told = on_array(ARRAY, near, BRINE, DUTY, [held]).selections[0].conditions[0]
    assert told.point is None
    assert "the system curve ends, 1.5 times as far as the heat exchanger's data" in told.reason


def test_a_held_change_of_temperature_is_that_of_the_duty_cold_and_warm() -> None:
    # Warm brine carries the same heat at the same change with a little less flow: Q = P/(ρ c ΔT).
    held = Candidate(DEMO_PUMPS[2], "constant_temperature_difference")
    result = on_array(ARRAY, PLANT, BRINE, DUTY, [held, _strong(2.0)], warm=WARM)
    (pump,) = (e for e in result.selections if e.candidate is held)
    heat = result.split.heat
    for each, told in zip(result.conditions, pump.conditions, strict=True):
        assert told.point is not None
        assert told.point.state == "holding_set_change"
        assert each.condition.capacity is not None
        assert told.point.flow == pytest.approx(heat / (each.condition.capacity * 3.0), rel=1e-9)
    warm = pump.conditions[1]
    assert warm.flow_margin_percent is not None
    assert warm.flow_margin_percent < -0.1
    assert pump.meets_duty
    assert [each.short for each in pump.conditions] == [False, False]
    assert "no_pump_meets_duty" not in codes(result)
    # Set to hold a larger change it gives less than carries the duty's heat at its own.
    (other,) = on_array(
        ARRAY, PLANT, BRINE, DUTY, [replace(held, set_change=3.1)], warm=WARM
    ).selections
    assert not other.meets_duty


def test_warm_brine_takes_less_head_where_it_stays_laminar() -> None:
    # Where warming carries the loops into transition, the head can rise instead.
    result = on_array(ARRAY, Plant(), BRINE, flow(0.3), [MIDDLE], warm=WARM)
    cold, warm = (each.condition for each in result.conditions)
    ratio = warm.system.head_at(0.3e-3) / cold.system.head_at(0.3e-3)
    # Hagen-Poiseuille: head goes with kinematic viscosity, in every pipe of this array.
    assert ratio == pytest.approx(warm.fluid.viscosity / cold.fluid.viscosity, rel=1e-6)


def test_hours_are_shared_between_cold_and_warm() -> None:
    warm = replace(WARM, share=0.25)
    plant = replace(PLANT, run_hours=1000.0)
    result = on_array(ARRAY, plant, BRINE, DUTY, [MIDDLE], warm=warm)
    assert [each.condition.run_hours for each in result.conditions] == [750.0, 250.0]
    alone = judged(MIDDLE, warm=None)
    assert [each.condition.name for each in alone.conditions] == ["cold"]
    assert alone.conditions[0].condition.run_hours == 2400.0


def test_selections_know_their_place_in_the_list_of_candidates() -> None:
    candidates = [Candidate(each) for each in DEMO_PUMPS]
    result = judged(*candidates)
    for selection, place in zip(result.selections, result.places, strict=True):
        assert selection.candidate is candidates[place]


def test_a_pump_too_small_by_its_table_says_so() -> None:
    (missed,) = on_array(
        ARRAY, PLANT, BRINE, flow(1.2), [Candidate(DEMO_PUMPS[0], speed=1700)]
    ).selections
    assert not missed.meets_duty
    (trickle,) = on_array(
        manifold([30.0] * 12), Plant(), BRINE, flow(3.0), [Candidate(DEMO_PUMPS[0])]
    ).selections
    assert "its table ends at" in trickle.reasons[0]
    assert "short of the 3 L/s of the duty" in trickle.reasons[0]


def test_the_curve_of_a_candidate_lies_within_its_tolerance() -> None:
    result = judged(MIDDLE)
    curve = candidate_curve(result.selections[0], result.conditions[0].condition)
    assert (curve.low <= curve.head).all()
    assert (curve.head <= curve.high).all()
    assert (np.diff(curve.head) < 0.0).all()


def _strong(factor: float, hunger: float = 1.0) -> Candidate:
    base = DEMO_PUMPS[2].curves[0]
    curve = PumpCurve(base.flow * factor, base.head, hunger * base.power, 3600)
    return Candidate(Pump("Strong (invented)", (curve,)))


def test_a_head_without_a_heat_exchanger_is_told_before_a_pump_is_chosen_by_it() -> None:
    def told(plant: Plant) -> list[str]:
        findings = on_array(ARRAY, plant, BRINE, DUTY, [MIDDLE]).findings
        return [each.message for each in findings if each.code == "plant_not_counted"]

    assert "no pipe or fitting" not in told(PLANT)[0]
    assert "no drop of the heat pump's heat exchanger, and no pipe or fitting" in told(Plant())[0]
    assert told(Plant(Exchanger((0.8e-3,), (15e3,)))) == []
    # A plan's array has the run from the plant room in it, before its chamber.
    run = Run(P40, 20.0)
    chamber = Circuit("manifold", (Branch(ARRAY, runs=(run,)),))
    findings = on_array(chamber, Plant(), BRINE, DUTY, [MIDDLE]).findings
    (message,) = (each.message for each in findings if each.code == "plant_not_counted")
    assert "no pipe or fitting" not in message


def test_heads_that_differ_are_told_by_digits_that_do() -> None:
    # At a trickle the head of the duty and the highest it may be differ by hundredths of a kPa.
    base = DEMO_PUMPS[2].curves[0]
    curve = PumpCurve(base.flow * 0.5, base.head * 0.2, base.power * 0.1, 2700.0)
    held = Candidate(Pump("Small (invented)", (curve,)), "constant_differential_pressure")
    result = on_array(manifold((10.0, 10.0, 12.0)), Plant(), BRINE, flow(0.2), [held])
    (message,) = (
        each.message for each in result.findings if each.code == "pump_short_at_high_head"
    )
    figures = re.search(r"at ([\d.]+) kPa, not at the ([\d.]+) kPa", message)
    assert figures is not None, message
    assert f"{float(figures[1]):.1f}" == f"{float(figures[2]):.1f}"
    assert float(figures[1]) < float(figures[2])


def test_findings_tell_what_is_odd_about_the_first_pump() -> None:
    assert "invented_pumps" in codes(judged(MIDDLE))
    assert "pump_margin_large" in codes(judged(_strong(2.0)))
    assert "pumping_power_high" in codes(judged(_strong(1.0, hunger=3.0)))
    assert "no_pump_meets_duty" in codes(judged(Candidate(DEMO_PUMPS[0])))
    held = Candidate(DEMO_PUMPS[2], "constant_differential_pressure")
    assert {"pump_speed_below_table", "pump_viscosity_untested"} <= codes(judged(held))
    unlike = on_array(manifold((60.0, 200.0)), PLANT, BRINE, DUTY, [MIDDLE])
    assert "pump_flow_uneven" in codes(unlike)


def test_a_pump_that_just_meets_the_duty_may_miss_it_at_the_edge_of_its_tolerance() -> None:
    plain = judged(MIDDLE, warm=None)
    point = plain.selections[0].conditions[0].point
    assert point is not None
    duty = FlowDuty(point.flow * 0.999, -3.0, 0.0)
    just = on_array(ARRAY, PLANT, BRINE, duty, [MIDDLE])
    assert just.selections[0].meets_duty
    assert "pump_tolerance_short" in codes(just)


def test_heat_serves_the_benchmark() -> None:
    heat = HeatDuty(9000.0, 3.0, -3.0)
    result = on_array(ARRAY, PLANT, BRINE, heat, [MIDDLE])
    benchmark, point = result.selections[0].benchmark, result.selections[0].conditions[0].point
    assert benchmark is not None
    assert point is not None
    assert benchmark.power_per_heat == pytest.approx(point.power / 9000.0, rel=1e-9)


@pytest.mark.parametrize(
    ("warm", "field"),
    [
        (Warm(-3.0, 0.0), "warm"),
        (Warm(-5.0, -2.0), "warm"),
        (Warm(5.0, 8.0, 1.5), "warm.share"),
    ],
)
def test_conditions_that_cannot_be_are_refused(warm: Warm, field: str) -> None:
    with pytest.raises(InputError) as caught:
        on_array(ARRAY, PLANT, BRINE, DUTY, [MIDDLE], warm=warm)
    assert field in [fault.field for fault in caught.value.faults]


def test_no_pump_and_no_flow_are_refused() -> None:
    with pytest.raises(InputError, match="at least one pump"):
        on_array(ARRAY, PLANT, BRINE, DUTY, [])
    with pytest.raises(InputError, match="nothing flows"):
        on_array(ARRAY, PLANT, BRINE, flow(0.0), [MIDDLE])


def test_a_pump_alone_is_named_in_what_it_misses() -> None:
    weak, others = Candidate(DEMO_PUMPS[0]), [Candidate(DEMO_PUMPS[0], speed=1700)]
    alone, among = (
        next(each.message for each in found.findings if each.code == "no_pump_meets_duty")
        for found in (judged(weak), judged(weak, *others))
    )
    assert alone.startswith("Invented pump A: small wet-rotor, three speeds does not give the 0.8")
    assert among.startswith("None of the candidates gives")


def test_a_name_that_several_pumps_have_cannot_be_taken() -> None:
    held = Candidate(DEMO_PUMPS[2], "constant_differential_pressure")
    plan = PumpChoicePlan((MIDDLE, Candidate(DEMO_PUMPS[1]), held), own=2, take=DEMO_PUMPS[1].name)
    assert plan.take == DEMO_PUMPS[1].name
    with pytest.raises(InputError) as caught:
        PumpChoicePlan((MIDDLE, held), own=2, take=MIDDLE.pump.name)
    (fault,) = caught.value.faults
    assert fault.field == "take"
    for place in ("candidates.0 (constant_speed)", "candidates.1 (constant_differential"):
        assert place in fault.message
    with pytest.raises(InputError, match="an invented one"):
        PumpChoicePlan((MIDDLE, held), own=1, take=MIDDLE.pump.name)


def test_a_name_that_no_pump_has_cannot_be_taken() -> None:
    with pytest.raises(InputError) as caught:
        PumpChoicePlan((MIDDLE, Candidate(DEMO_PUMPS[1])), own=2, take="Pump of another job")
    (fault,) = caught.value.faults
    assert fault.field == "take"
    assert fault.value == "Pump of another job"
    assert MIDDLE.pump.name in str(fault.allowed)
    assert DEMO_PUMPS[1].name in str(fault.allowed)


def test_a_pump_that_bursts_the_pipe_is_an_error() -> None:
    # PE100 SDR 11 bears 16 bar at 20 °C (EN 12201-2, from memory), 163 m of water.
    base = DEMO_PUMPS[2].curves[0]
    strong = Pump("S (invented)", (PumpCurve(base.flow * 10, base.head * 60, base.power * 600),))
    small = Pump("T (invented)", (PumpCurve(base.flow * 6, base.head * 3, base.power * 18),))
    found = {each.code: each.severity for each in judged(Candidate(strong), warm=None).findings}
    assert found["pressure_above_class"] == "error"
    assert "pressure_above_class" not in codes(judged(Candidate(small), warm=None))


def test_a_pump_without_an_operating_point_is_judged_by_the_most_of_its_tables() -> None:
    # Its tables end with head to spare: counted as 0 bar it passed.
    base = DEMO_PUMPS[2].curves[0]
    short = Pump("S (invented)", (PumpCurve(base.flow, base.head * 60, base.power * 60),))
    found = judged(Candidate(short), warm=None)
    assert found.selections[0].conditions[0].point is None
    (told,) = [each for each in found.findings if each.code == "pressure_above_class"]
    assert told.severity == "error"
    assert "no operating point" in told.message
    density = found.conditions[0].network.fluids[1].density
    # Viscous brine takes a little off the head of the table on water (ANSI/HI 9.6.7).
    bar = float(re.search(r"([0-9.]+) bar, with", told.message)[1])  # type: ignore[index]
    assert bar == pytest.approx(density * 9.80665 * 60 * base.head.max() / 1e5, rel=0.1)


def test_a_flow_at_the_end_of_the_friction_law_still_has_a_curve() -> None:
    split = flow_split(manifold((2.0,)), Plant(), BRINE, flow(2000.0))
    curve = array_system_curve(split.network, split.solution, 10.0, 1e12)
    assert curve.flow[-1] >= split.pump.volume_flow


def test_findings_of_pumps_tell_their_numbers() -> None:
    large = judged(_strong(2.0))
    margin = min(each.flow_margin_percent or 0.0 for each in large.selections[0].conditions)
    messages = {each.code: each.message for each in large.findings}
    assert f"gives {margin:.0f} % more than the flow of the duty" in messages["pump_margin_large"]
    weak = {each.code: each.message for each in judged(Candidate(DEMO_PUMPS[0])).findings}
    assert "the 0.8 L/s of the duty" in weak["no_pump_meets_duty"]
    assert "1 of the 1 candidates are invented" in weak["invented_pumps"]
    hungry = judged(_strong(1.0, hunger=3.0))
    point = hungry.selections[0].conditions[0].point
    assert point is not None
    per_heat = 1e3 * point.power / abs(hungry.split.heat)
    text = {each.code: each.message for each in hungry.findings}["pumping_power_high"]
    assert f"takes {per_heat:.0f} W per kW of heat; up to 10.6 W per kW are published" in text
    unlike = on_array(manifold((60.0, 200.0)), PLANT, BRINE, DUTY, [MIDDLE])
    worst = max(
        float(np.abs(each.at_pump.deviation).max())
        for each in unlike.conditions
        if each.at_pump is not None
    )
    text = {each.code: each.message for each in unlike.findings}["pump_flow_uneven"]
    assert f"up to {100 * worst:.0f} % off an even share" in text


def test_a_pressure_beyond_a_pipes_class_is_told_in_bar() -> None:
    base = DEMO_PUMPS[2].curves[0]
    strong = Pump("S (invented)", (PumpCurve(base.flow * 10, base.head * 60, base.power * 600),))
    found = judged(Candidate(strong), warm=None)
    text = next(each.message for each in found.findings if each.code == "pressure_above_class")
    point = found.selections[0].conditions[0].point
    assert point is not None
    density = found.conditions[0].network.fluids[1].density
    assert f"{density * 9.80665 * point.head / 1e5:.4g} bar, with" in text
    assert "more than PE100 SDR11" in text
    assert "16 bar at 20 °C" in text


@pytest.mark.parametrize("control", ["constant_speed", "constant_differential_pressure"])
def test_a_pump_far_below_the_duty_runs_on_the_curve_of_the_array(control: Control) -> None:
    # An independent full solution at the operating flow, as above: within 0.5 % of head.
    held = 0.4 if control != "constant_speed" else None
    small = Candidate(DEMO_PUMPS[0], control, set_head=held)
    result = on_array(ARRAY, PLANT, BRINE, flow(6.0), [small])
    point = result.selections[0].conditions[0].point
    assert point is not None
    assert point.flow < 0.2 * 6.0e-3
    split = flow_split(ARRAY, PLANT, BRINE, FlowDuty(point.flow, -3.0, 0.0))
    assert point.head == pytest.approx(split.pump.head, rel=0.005)


def test_a_table_that_ends_is_no_miss_of_a_weak_pump() -> None:
    # The table ends 2 % beyond the flow of the duty: of a pump 9 % weaker in flow (ISO 9906, grade
    # 3B, from memory) it then says nothing there.
    whole = DEMO_PUMPS[2].curves[-1]
    point = judged(Candidate(DEMO_PUMPS[2], speed=whole.speed), warm=None).selections[0]
    at = point.conditions[0].point
    assert at is not None
    ends = np.append(whole.flow[whole.flow < 0.98 * at.flow], 1.02 * at.flow)
    rows = np.asarray([[whole.head_at(q), whole.power_at(q)] for q in ends.tolist()]).T
    short = Pump("short", (PumpCurve(ends, rows[0], rows[1], whole.speed),))
    result = on_array(ARRAY, PLANT, BRINE, FlowDuty(0.8 * at.flow, -3.0, 0.0), [Candidate(short)])
    (only,) = result.selections
    assert only.meets_duty
    assert only.conditions[0].flow_band[0] is None
    assert "pump_tolerance_short" not in codes(result)
