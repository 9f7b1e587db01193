"""What pumps on an array tell: at the flow that they drive, and as far as their tables go."""

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from hydraulics.errors import InputError
from hydraulics.findings import FINDING_CODES, Finding, figures
from hydraulics.fluid.mixture import freezing_margin, freezing_spread, mixture
from hydraulics.layout.circuit import Plant, Run
from hydraulics.pumps.checks import (
    NPSH_MARGIN,
    least_inlet,
    most_power,
    of_best,
    vapour_pressure,
)
from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.findings import gives_at_high
from hydraulics.pumps.on_array import PumpChoicePlan, Warm, pumps_on_array
from hydraulics.pumps.result import PumpsOnArray
from hydraulics.pumps.running import Control
from hydraulics.pumps.selection import Candidate
from hydraulics.split.duty import Duty, FlowDuty, HeatDuty
from hydraulics.split.flow_split import flow_split
from tests.hydraulics.arrays import BRINE, P40, manifold

ARRAY = manifold((150.0, 150.0, 180.0))
PLANT = Plant(runs=(Run(P40, 20.0),))
HEAT = HeatDuty(6000.0, 3.0, -3.0)


def pump(
    flows: list[float],
    heads: list[float],
    control: Control = "constant_speed",
    set_head: float | None = None,
) -> Candidate:
    watts = np.linspace(600.0, 900.0, len(flows))
    curve = PumpCurve(np.asarray(flows) / 1e3, np.asarray(heads), watts, 2800.0)
    return Candidate(Pump("P", (curve,), min_speed=1000.0), control, set_head=set_head)


def judged(
    *candidates: Candidate,
    duty: Duty = HEAT,
    warm: Warm | None = None,
    margin: float = 3.0,
    take: str | None = None,
) -> PumpsOnArray:
    split = flow_split(ARRAY, PLANT, BRINE, duty)
    plan = PumpChoicePlan(candidates, take=take)
    return pumps_on_array(
        split, ARRAY, PLANT, mixture=BRINE, duty=duty, plan=plan, warm=warm, margin=margin
    )


def told(result: PumpsOnArray) -> dict[str, Finding]:
    assert {each.code for each in result.findings} <= FINDING_CODES.keys()
    return {each.code: each for each in result.findings}


def test_a_weak_pump_is_held_against_freezing_at_its_own_flow() -> None:
    # By definition: the change of temperature is heat over flow and specific heat; the brine comes
    # back at 0 °C as planned.
    weak = pump([0.0, 0.15, 0.3, 0.45], [0.8, 0.7, 0.5, 0.1])
    result = judged(weak, margin=10.0)
    point = result.selections[0].conditions[0].point
    assert point is not None
    brine = result.split.fluids[1]
    change = 6000.0 / (point.flow * brine.density * brine.specific_heat)
    assert change > 3.5
    finding = told(result)["freezing_margin_thin"]
    assert finding.severity == "warning"
    above, spread = freezing_margin(BRINE, -change), freezing_spread(BRINE)
    assert f"{change:.1f} K, where 3.0 K are planned" in finding.message
    assert f"{above:.1f} K above" in finding.message
    assert "freezing_margin_thin" not in told(judged(weak, margin=above - spread - 0.01))


def test_a_pump_so_weak_that_the_brine_freezes_is_an_error() -> None:
    trickle = pump([0.0, 0.03, 0.06, 0.12], [0.1, 0.08, 0.05, 0.01])
    finding = told(judged(trickle))["freezing_margin_thin"]
    assert finding.severity == "error"
    assert "it freezes" in finding.message


def test_a_strong_pump_is_held_against_velocity_and_regime_at_its_own_flow() -> None:
    strong = pump([0.0, 1.0, 2.0, 3.0], [60.0, 55.0, 40.0, 10.0])
    result = judged(strong)
    point = result.selections[0].conditions[0].point
    assert point is not None
    codes = {each.code for each in result.split.findings}
    assert "laminar_loop" in codes
    assert "velocity_high" not in codes
    # The same array with that flow as its duty, solved by itself.
    alone = flow_split(ARRAY, PLANT, BRINE, FlowDuty(point.flow, -3.0, 0.0))
    now = {each.code: each.message for each in alone.findings}
    found = told(result)
    assert "laminar_loop" not in now
    assert "no loop is laminar" in found["pump_regime_otherwise"].message
    assert found["velocity_high"].message.endswith(now["velocity_high"])
    assert f"at its {point.flow * 1e3:.3g} L/s" in found["velocity_high"].message


GAP = Pump(  # nothing is known between its two speeds: as far as the tables go they share no flow
    "P",
    (
        PumpCurve(np.array([0.0, 1e-4, 2e-4, 3e-4]), np.array([9.0, 8.0, 6.0, 1.0]),
                  np.array([300.0, 350.0, 400.0, 450.0]), 1500.0),
        PumpCurve(np.array([1e-3, 1.5e-3, 2e-3, 3e-3]), np.array([60.0, 55.0, 40.0, 10.0]),
                  np.array([1200.0, 1400.0, 1600.0, 1800.0]), 3000.0),
    ),
)  # fmt: skip


def test_advice_that_cannot_be_solved_is_left_out_and_refuses_nothing() -> None:
    # The head of the duty is held between the two speeds: this pump at full speed is judged all
    # the same, with words that promise no number.
    found = told(judged(Candidate(GAP, speed=3000.0)))["pump_margin_large"]
    assert found.message.endswith("a smaller pump may take less power; judge one beside it")


def test_watts_of_a_large_pump_are_written_out() -> None:
    watts = np.array([2200.0, 2600.0, 3000.0, 3200.0])
    curve = PumpCurve(np.array([0.0, 1e-3, 2e-3, 3e-3]), np.array([60.0, 55.0, 40.0, 10.0]),
                      watts, 2800.0)  # fmt: skip
    found = told(judged(Candidate(Pump("P", (curve,), min_speed=2400.0))))["pump_margin_large"]
    numbers = re.findall(r"(\S+) W", found.message)
    assert len(numbers) == 2
    assert all(1000 < int(each) < 4000 for each in numbers)
    # Its drive goes down to 2400 rpm, where by affinity 60 m (2400/2800)² = 44 m at no flow are
    # far more than the duty's: it does not hold that head.
    assert "at its least speed of 2400 rpm" in found.message


def test_a_head_held_between_tables_that_share_no_flow_is_a_miss_among_others() -> None:
    fits = pump([0.0, 0.5, 1.0, 1.5], [6.0, 5.0, 3.5, 1.0])
    result = judged(Candidate(GAP, "constant_differential_pressure"), fits)
    assert result.selections[0].meets_duty
    assert "share no flow" in result.selections[1].reasons[0]


def test_a_pump_set_to_less_than_the_duty_is_not_said_to_give_no_less() -> None:
    # Two fifths of its head, held below where the table begins: full speed gives the duty.
    late = ends(begin=0.98, end=2.0, factor=1.15)
    less = 0.4 * flow_split(ARRAY, PLANT, BRINE, HEAT).pump.head
    held = replace(late, control="constant_differential_pressure", set_head=less)
    held = replace(held, pump=replace(held.pump, min_speed=None))
    message = told(judged(held))["no_pump_meets_duty"].message
    assert message.startswith("P is not known to give the ")


def test_at_the_duty_nothing_is_told_twice() -> None:
    split = flow_split(ARRAY, PLANT, BRINE, HEAT)
    just = pump([0.0, 0.5, 1.0, 1.5], [6.0, 5.0, 3.5, 1.0], "constant_differential_pressure")
    result = judged(just)
    point = result.selections[0].conditions[0].point
    assert point is not None
    assert point.flow == pytest.approx(split.pump.volume_flow, rel=1e-3)
    assert not told(result).keys() & {each.code for each in split.findings}
    assert "pump_regime_otherwise" not in told(result)


def ends(*, begin: float, end: float, factor: float) -> Candidate:
    """A table of heads about those of the array, from and to shares of the flow of the duty."""
    duty = flow_split(ARRAY, PLANT, BRINE, HEAT).pump
    flows = np.linspace(begin, end, 6)
    heads = factor * duty.head * (1.5 - 0.5 * flows)
    return pump((flows * duty.volume_flow * 1e3).tolist(), heads.tolist())


@pytest.mark.parametrize(
    ("table", "said", "why"),
    [
        # Begins beyond the duty, and meets the array's curve before that.
        (ends(begin=1.3, end=2.0, factor=1.05), "is not known to give", "its table begins at"),
        # Ends before the duty, with head to spare.
        (ends(begin=0.0, end=0.5, factor=1.5), "is not known to give", "its table ends at"),
        # Ends beyond the duty, with head to spare: it gives more.
        (ends(begin=0.0, end=1.2, factor=3.0), "gives no less than", "beyond the last point"),
        # Begins before the duty, and is too weak even there.
        (ends(begin=0.8, end=1.5, factor=0.3), "does not give", "it runs at less"),
        (ends(begin=0.0, end=1.5, factor=0.6), "does not give", "% less than the flow"),
    ],
)
def test_a_table_that_begins_late_or_ends_early_is_told_as_that(
    table: Candidate, said: str, why: str
) -> None:
    message = told(judged(table))["no_pump_meets_duty"].message
    assert message.startswith(f"P {said} the ")
    assert ("where it runs is not known" in message) is (said == "gives no less than")
    assert why in message
    assert "stronger pump" not in message or said == "does not give"


@pytest.mark.parametrize(
    ("table", "words"),
    [
        # Just enough: a weak one runs below the duty, where the table tells, or it ends too early.
        (ends(begin=0.95, end=2.0, factor=1.08), "would miss"),
        (ends(begin=0.0, end=1.1, factor=1.08), "may miss"),
        (ends(begin=0.0, end=1.3, factor=1.08), "would miss"),
        (ends(begin=0.0, end=2.0, factor=1.5), ""),
    ],
)
def test_a_weak_pump_is_judged_as_far_as_its_table_tells(table: Candidate, words: str) -> None:
    result = judged(table)
    assert result.selections[0].meets_duty
    found = told(result).get("pump_tolerance_short")
    assert (found is not None) == bool(words)
    if found is not None:
        assert words in found.message


def test_a_weak_pump_whose_table_ends_too_early_may_run_below_the_least_flow() -> None:
    whole, cut = (ends(begin=0.0, end=end, factor=1.08) for end in (1.3, 1.1))
    (runs,) = judged(whole).selections[0].conditions
    assert runs.point is not None
    weak = runs.flow_band[0]
    assert weak is not None

    def said(table: Candidate, least: float) -> str:
        limit = replace(table, pump=replace(table.pump, min_flow=least))
        found = told(judged(limit)).get("pump_below_min_flow")
        return "" if found is None else found.message

    # The two tables are of one line of heads: below what the short one tells they are alike.
    between = 0.5 * (weak + runs.point.flow)
    assert "its weak edge runs at" in said(whole, between)
    assert "its table is too short to tell (cold)" in said(cut, between)
    assert said(whole, 0.95 * weak) == said(cut, 0.95 * weak) == ""


def test_advice_on_a_large_pump_is_solved_before_it_is_given() -> None:
    split = flow_split(ARRAY, PLANT, BRINE, HEAT)
    flows, heads = [0.0, 1.0, 2.0, 3.0], [12.0, 11.0, 8.0, 2.0]
    high = pump(flows, heads, "constant_differential_pressure", set_head=2.5 * split.pump.head)
    # Its maker wants 30 % more flow than the duty has, below which the duty's head would take it.
    (curve,) = high.pump.curves
    least = 1.3 * split.pump.volume_flow
    wide = replace(high, pump=Pump("P", (curve,), min_speed=1000.0, min_flow=least))
    # A head of the same number that falls with the flow is less: the control is told with it.
    falling = replace(high, control="proportional_pressure")
    for large, words in (
        (pump(flows, heads), "with a drive that holds "),
        (high, "in every condition; set to hold "),  # it has a drive
        (falling, "in every condition; set to hold "),
        (wide, "in every condition; set to hold "),
    ):
        message = told(judged(large))["pump_margin_large"].message
        under = " under constant differential pressure" if large is falling else ""
        advised = re.search(
            words + rf"([0-9.]+) m{under} it does, cold, for ([0-9.]+) W in", message
        )
        assert advised is not None, message
        # Followed, the advice gives the duty, at the high head too, at the power that it names.
        held = replace(large, control="constant_differential_pressure", set_head=float(advised[1]))
        result = judged(held)
        (followed,) = result.selections
        point = followed.conditions[0].point
        assert point is not None
        assert followed.meets_duty
        assert gives_at_high(followed, split)
        assert not told(result).keys() & {"pump_short_at_high_head", "pump_below_min_flow"}
        assert point.flow >= (least if large is wide else split.pump.volume_flow)
        assert f"{point.power:.3g}" == advised[2]
    # A drive that turns no slower than the table gives no way down: nothing is promised.
    (curve,) = pump(flows, heads).pump.curves
    stiff = Candidate(Pump("P", (curve,), min_speed=2800.0))
    assert "judge one beside it" in told(judged(stiff))["pump_margin_large"].message


def test_a_head_that_is_advised_to_be_held_gives_the_duty_as_it_is_printed() -> None:
    # A head read from a sentence has three digits: rounded down it is up to 0.5 % short. Turbulent
    # water has no higher head that the duty may take.
    water, large, tried = (
        mixture("water", 0.0, "mass"),
        pump([0.0, 1.0, 2.0, 3.0], [12.0, 11.0, 8.0, 2.0]),
        0,
    )
    for watts in np.linspace(18e3, 24e3, 13).tolist():
        duty = HeatDuty(watts, 9.0, 5.0)

        def first(candidate: Candidate, duty: Duty = duty) -> PumpsOnArray:
            split, plan = flow_split(ARRAY, PLANT, water, duty), PumpChoicePlan((candidate,))
            return pumps_on_array(
                split, ARRAY, PLANT, mixture=water, duty=duty, plan=plan, margin=3.0
            )

        found = told(first(large)).get("pump_margin_large")
        said = "" if found is None else found.message
        if advised := re.search(r"a drive that holds (?:the )?([0-9.]+) m", said):
            so = replace(
                large, control="constant_differential_pressure", set_head=float(advised[1])
            )
            assert first(so).selections[0].meets_duty, said
            tried += 1
    assert tried > 3


def limited(
    inlet: float | None = None, min_flow: float | None = None, rated_power: float | None = None
) -> Candidate:
    """A pump of 12 m at rest and 2 m at 3 L/s with 3 m of NPSH at rest and 6 m at 3 L/s."""
    flow, head = np.array([0.0, 1.0, 2.0, 3.0]) / 1e3, np.array([12.0, 11.0, 8.0, 2.0])
    watts, npsh = np.array([600.0, 700.0, 800.0, 900.0]), np.array([3.0, 4.0, 5.0, 6.0])
    curve = PumpCurve(flow, head, watts, 2800.0, "", npsh)
    return Candidate(
        Pump("L", (curve,), min_flow=min_flow, rated_power=rated_power), inlet_pressure=inlet
    )


def test_a_pump_is_held_against_its_makers_limits() -> None:
    plain = judged(limited())
    (result,) = plain.selections[0].conditions
    (each,) = plain.conditions
    assert result.point is not None
    flow, brine = result.point.flow, each.network.fluids[1]
    for code in ("pump_below_min_flow", "pump_motor_overloaded", "pump_inlet_low"):
        assert code not in told(plain)

    # The weak edge runs at less than the pump; between the two it alone is below.
    weak = result.flow_band[0]
    assert weak is not None
    assert "pump_below_min_flow" not in told(judged(limited(min_flow=0.99 * weak)))
    assert "its weak edge" in told(judged(limited(min_flow=0.5 * (weak + flow))))[
        "pump_below_min_flow"].message  # fmt: skip
    low = told(judged(limited(min_flow=1.01 * flow)))["pump_below_min_flow"].message
    assert "it runs at" in low
    # A lower speed, solved, is no way out: the finding advises none.
    slower = judged(replace(limited(), speed=2500.0)).selections[0].conditions[0].point
    assert slower is not None
    assert slower.flow < flow
    assert "L/s or less: at a lower speed this one moves less" in low
    assert "and its weak edge at" in low

    # By hand: the table's power is straight, 600 W + 100 W per L/s on water of 998.2 kg/m3; the
    # strong edge of up_to_10_kw gives 8 % more head. Viscosity only adds to it.
    strong = result.flow_band[1]
    assert strong is not None
    least = (600.0 + 1e5 * strong) * brine.density / 998.2 * 1.08
    most = most_power(plain.selections[0], result, each)
    assert most is not None
    assert least < most < 1.25 * least
    assert "pump_motor_overloaded" not in told(judged(limited(rated_power=1.001 * most)))
    rated = 0.999_99 * most
    words = told(judged(limited(rated_power=rated)))["pump_motor_overloaded"].message
    takes, may = re.findall(r"(\S+) W", words)
    assert float(takes) > float(may)  # the digits show which is the larger
    assert "take a larger motor" in words

    # By hand: NPSH on water 3 m + 1 m per L/s; the flow factor of viscosity moves it by per cents.
    needs = least_inlet(plain.selections[0], result, each)
    assert needs is not None
    metres = 3.0 + 1e3 * strong + NPSH_MARGIN
    by_hand = brine.density * 9.80665 * metres + vapour_pressure(3.0) - 89_875.0
    assert needs == pytest.approx(by_hand, abs=brine.density * 9.80665 * 0.2)
    assert "pump_inlet_low" not in told(judged(limited(inlet=needs + 10.0)))
    assert (
        "it would cavitate" in told(judged(limited(inlet=needs - 10.0)))["pump_inlet_low"].message
    )


def test_what_inlet_and_motor_need_beyond_the_table_is_told_with_the_points_wanted() -> None:
    flow = np.linspace(0.0, 3.0e-3, 151)
    head, npsh = 12.0 - 1.1e6 * flow**2, 1.0 + 5.0 * (flow / 1e-3) ** 4

    def table(end: float, rated: float | None = None) -> Candidate:
        kept = flow <= end
        curve = PumpCurve(flow[kept], head[kept], 600.0 + 1e5 * flow[kept], 2800.0, "", npsh[kept])
        return Candidate(Pump("L", (curve,), rated_power=rated))

    whole = judged(table(3.0e-3, 5000.0))
    (runs,) = whole.selections[0].conditions
    assert runs.point is not None
    assert runs.flow_band[1] is not None
    assert "pump_needs_beyond_table" not in told(whole)
    full = whole.selections[0].candidate.at(2800.0, whole.conditions[0].condition.fluid)
    between = 0.5 * (runs.point.flow + runs.flow_band[1]) / full.flow_max * 3.0e-3
    short = judged(table(between))
    said = told(short)["pump_needs_beyond_table"].message
    assert "where what its inlet needs (cold) is not known" in said
    words = told(judged(table(between, 5000.0)))["pump_needs_beyond_table"].message
    assert "what its inlet needs (cold) and what its motor takes (cold)" in words
    # What it is told is on the safe side of the whole table's, and obeyed the finding goes.
    needs = [
        least_inlet(each.selections[0], each.selections[0].conditions[0], each.conditions[0])
        for each in (short, whole)
    ]
    assert needs[0] is not None
    assert needs[1] is not None
    assert needs[1] < needs[0] < needs[1] + 5e3
    wanted = re.search(r"as far as (\d+) %", said)
    assert wanted is not None
    last = float(flow[flow <= between][-1]) * (1.0 + float(wanted[1]) / 100.0)
    assert "pump_needs_beyond_table" not in told(judged(table(last + 0.02e-3)))  # the next point


def test_a_weak_pump_that_its_drive_turns_faster_needs_more_at_its_inlet() -> None:
    held = replace(limited(), control="constant_differential_pressure", set_head=5.0)
    result = judged(held)
    (at,), (each,) = result.selections[0].conditions, result.conditions
    assert at.point is not None
    assert at.point.state == "holding_set_head"
    flow = at.point.flow
    head = PchipInterpolator([0.0, 1e-3, 2e-3, 3e-3], [12.0, 11.0, 8.0, 2.0])

    # By hand on water: the grade accepts 8 % less head or 10 % less flow; H ~ n^2, Q ~ n.
    def short(n: float) -> float:
        return float(5.0 - min(0.92 * n * n * head(flow / n), n * n * head(flow / 0.9 / n)))

    n = brentq(short, 0.5, 1.0)
    assert n > 1.02 * at.point.speed / 2800.0
    assert n < 0.95
    needs = least_inlet(result.selections[0], at, each)
    assert needs is not None
    brine = each.network.fluids[1].density * 9.80665
    metres = n * n * (3.0 + 1e3 * flow / n) + NPSH_MARGIN
    by_hand = brine * metres + vapour_pressure(each.from_ground_temperature) - 89_875.0
    # Brine, more viscous than water, turns the pump some per cent faster still.
    assert by_hand < needs < by_hand + brine * 0.05 * metres


@pytest.mark.parametrize("control", ["constant_differential_pressure", "proportional_pressure"])
def test_a_pump_with_head_to_spare_is_told_to_be_set_higher(control: Control) -> None:
    flows, heads = [0.0, 1.0, 2.0, 3.0], [12.0, 11.0, 8.0, 2.0]
    message = told(judged(pump(flows, heads, control)))["pump_short_at_high_head"].message
    advised = re.search(r"; set to ([0-9.]+) m it does$", message)
    assert advised is not None
    followed = judged(pump(flows, heads, control, set_head=float(advised[1])))
    assert "pump_short_at_high_head" not in told(followed)
    # One that runs at full speed for the duty has none to spare.
    split = flow_split(ARRAY, PLANT, BRINE, HEAT)
    point = judged(pump(flows, heads, control)).selections[0].conditions[0].point
    assert point is not None
    factor = (point.speed / 2800.0) ** 2
    weak = pump([q * factor**0.5 for q in flows], [h * factor * 0.99 for h in heads], control)
    (judged_so,) = judged(weak).selections
    assert judged_so.meets_duty
    assert gives_at_high(judged_so, split) is False
    assert "take one that gives that too" in told(judged(weak))["pump_short_at_high_head"].message


def test_a_pump_that_holds_the_change_is_judged_at_the_high_head_by_its_full_speed() -> None:
    # It holds the flow and turns up: at the 5 m or so of the duty, 12 m at rest are far more.
    held = replace(limited(), control="constant_temperature_difference")
    split = flow_split(ARRAY, PLANT, BRINE, HEAT)
    (first,) = judged(held).selections
    assert first.conditions[0].head_margin_percent == pytest.approx(0.0, abs=0.1)
    assert gives_at_high(first, split)
    assert "pump_short_at_high_head" not in told(judged(held))
    # Just strong enough at full speed for the duty, it has nothing to turn up to.
    point = first.conditions[0].point
    assert point is not None
    curve = limited().pump.curves[0]
    factor = 0.97 * (point.speed / curve.speed) ** 2
    weak = Pump("L", (replace(curve, flow=curve.flow * factor**0.5, head=curve.head * factor),))
    (short,) = judged(replace(held, pump=weak)).selections
    assert gives_at_high(short, split) is False


def test_a_pump_that_misses_the_duty_does_not_give_it_at_the_high_head() -> None:
    # By hand: twice the change of temperature carries the same heat with half the flow, which it
    # holds however strong it is.
    held = replace(limited(), control="constant_temperature_difference", set_change=6.0)
    split = flow_split(ARRAY, PLANT, BRINE, HEAT)
    (first,) = judged(held).selections
    assert first.conditions[0].flow_margin_percent == pytest.approx(-50.0, abs=1.0)
    assert not first.meets_duty
    assert gives_at_high(first, split) is False


@pytest.mark.parametrize("side_by_side", [1, 2])
@pytest.mark.parametrize("asked", [1.001, 1.3, 2.0])
@pytest.mark.parametrize("warm", [None, Warm(6.0, 9.0)])
def test_a_pump_whose_least_flow_is_as_low_as_is_advised_keeps_it(
    side_by_side: int, asked: float, warm: Warm | None
) -> None:
    many = replace(limited(), parallel=side_by_side)
    runs = judged(many, warm=warm).selections[0].conditions
    flow = min(each.point.flow for each in runs if each.point is not None) / side_by_side
    low = told(judged(replace(limited(min_flow=asked * flow), parallel=side_by_side), warm=warm))
    advised = re.search(r"may run at ([0-9.]+) L/s or less", low["pump_below_min_flow"].message)
    assert advised is not None
    so = replace(limited(min_flow=float(advised[1]) / 1e3), parallel=side_by_side)
    assert "pump_below_min_flow" not in told(judged(so, warm=warm))


def test_fewer_pumps_are_advised_where_they_were_solved_to_do() -> None:
    def text(least: float, many: int) -> str:
        low = told(judged(replace(limited(min_flow=least), parallel=many)))
        return low["pump_below_min_flow"].message

    (one,) = judged(limited()).selections[0].conditions
    weak = one.flow_band[0]
    assert weak is not None
    # What one alone, at the weak edge too, runs at is no less: followed, nothing is below.
    least = 0.99 * weak
    assert text(least, 2).endswith("; one alone gives the duty and keeps the least flow")
    assert "pump_below_min_flow" not in told(judged(limited(min_flow=least)))
    assert f"{figures(2e3 * least)} L/s that its maker lets the 2 of them run at" in text(least, 2)
    # A little more, and one alone is below too; nor is a single pump told of fewer.
    assert "the least flow" not in text(1.01 * weak, 2)
    assert "the least flow" not in text(3e-3, 1)
    # Two that are needed for the duty are not told to be one.
    split = flow_split(ARRAY, PLANT, BRINE, HEAT)
    heads = [share * split.pump.head for share in (1.6, 1.4, 1.0, 0.3)]
    weaker = pump([0.0, 0.2, 0.4, 0.6], heads)
    pair = replace(weaker, pump=replace(weaker.pump, min_flow=0.5e-3), parallel=2)
    alone = judged(replace(weaker, parallel=1)).selections[0]
    assert judged(pair).selections[0].meets_duty
    assert not alone.meets_duty
    assert "the least flow" not in told(judged(pair))["pump_below_min_flow"].message


def test_the_flow_is_held_against_that_of_best_efficiency() -> None:
    result = judged(limited())
    first, (each,) = result.selections[0], result.conditions
    (at,) = first.conditions
    assert at.point is not None
    # Independent: flow x head / power of the straight table between its points, in steps of 1 mL/s.
    flow = np.linspace(0.0, 3e-3, 3001)
    heads = PchipInterpolator([0.0, 1e-3, 2e-3, 3e-3], [12.0, 11.0, 8.0, 2.0])(flow)
    best = flow[np.argmax(flow * heads / (600.0 + 1e5 * flow))]
    ratio = of_best(first, at, each)
    assert ratio is not None
    runs = first.candidate.at(2800.0, each.condition.fluid)
    assert runs.correction is not None
    expected = at.point.flow / (best * runs.correction.flow_factor)
    assert ratio == pytest.approx(expected, rel=0.015)  # 65 points over the table
    assert ("pump_off_best_flow" in told(result)) == (not 0.7 <= ratio <= 1.2)
    # A pump of far larger flow runs left of the preferred region.
    flow, head = np.array([0.0, 4.0, 8.0, 12.0]) / 1e3, np.array([6.0, 5.5, 4.0, 1.0])
    curve = PumpCurve(flow, head, np.array([600.0, 700.0, 800.0, 900.0]), 2800.0)
    wide = judged(Candidate(Pump("W", (curve,))))
    found = told(wide)["pump_off_best_flow"]
    assert "ANSI/HI 9.6.3" in found.source


@pytest.mark.parametrize(
    ("temperature", "water"), [(0.01, 611.66), (20.0, 2339.3), (50.0, 12352.0), (90.0, 70182.0)]
)
def test_the_vapour_pressure_is_on_the_safe_side(temperature: float, water: float) -> None:
    # IAPWS saturation pressure of water (release of 1992, as tabulated; from memory). Ethanol at
    # 20 degC 5.9 kPa and methanol 13.0 kPa (common tables, from memory).
    found = vapour_pressure(temperature)
    assert found > water
    if temperature == 20.0:
        assert found == pytest.approx(2339.0 + 5900.0 + 13000.0, rel=0.02)


def test_a_head_that_no_speed_holds_is_told_with_what_the_pump_gives() -> None:
    flows, heads = [0.0, 1.0, 2.0, 3.0], [12.0, 11.0, 8.0, 2.0]
    high = judged(pump(flows, heads, "constant_differential_pressure", set_head=20.0))
    point = high.selections[0].conditions[0].point
    assert point is not None
    message = told(high)["pump_setting_not_held"].message
    assert f"the 20 m that are set: cold it gives {point.head:.4g} m at full speed" in message
    assert "no more than 12 m" in message
    # At 1000 of 2800 rpm the table gives 12 (1000/2800)^2 = 1.53 m at no flow (affinity laws).
    low = judged(pump(flows, heads, "constant_differential_pressure", set_head=0.3))
    assert "at its least speed" in told(low)["pump_setting_not_held"].message
    assert "no more than" not in told(low)["pump_setting_not_held"].message
    able = judged(pump(flows, heads, "constant_differential_pressure", set_head=3.0))
    assert "pump_setting_not_held" not in told(able)


def test_a_proportional_pressure_that_is_not_held_is_told_beside_its_line() -> None:
    # The line is H = H_set (1 + Q/Q_duty)/2: at a larger flow it asks for more than is set, and the
    # pump may give more than is set and still less than that.
    flows, heads = [0.0, 1.0, 2.0, 3.0], [12.0, 11.0, 8.0, 2.0]
    result = judged(pump(flows, heads, "proportional_pressure", set_head=20.0))
    point = result.selections[0].conditions[0].point
    assert point is not None
    line = 20.0 * 0.5 * (1.0 + point.flow / result.split.pump.volume_flow)
    assert point.head < line
    assert (
        "does not hold the 20 m that are set for the flow of the duty: cold it gives "
        f"{point.head:.4g} m where its line asks for {line:.4g} m at {point.flow * 1e3:.4g} L/s, "
        "at full speed"
    ) in told(result)["pump_setting_not_held"].message


def test_a_table_that_goes_on_after_no_head_says_to_end_it() -> None:
    with pytest.raises(InputError) as caught:
        pump([0.0, 1.0, 2.0, 3.0], [5.0, 2.0, 0.0, 0.0])
    (fault,) = caught.value.faults
    assert fault.field == "points.3.head"
    assert "end the table with that point" in fault.message
    assert "less than 0 m" not in str(fault.allowed)


def test_a_pump_of_more_than_its_own_power_is_set_aside_and_the_others_are_judged() -> None:
    # By definition no machine gives more power than it takes. Each point of this table takes more
    # than it gives, but between two of them it gives more: 998.2 kg/m3 x 9.80665 x Q x H.
    flows, heads = [0.0, 1.0, 2.0, 3.0], [12.0, 11.0, 8.0, 2.0]
    able = pump(flows, heads)
    flow, head = np.array([0.0, 0.3e-3, 3e-3]), np.array([12.0, 11.9, 2.0])
    gives = 998.2 * 9.80665 * flow * head
    false = Candidate(Pump("False", (PumpCurve(flow, head, gives + 0.1),)))
    result = judged(false, able)
    assert [each.candidate.pump.name for each in result.selections] == ["P"]
    assert result.places == (1,)
    assert result.selections[0].meets_duty
    (aside,) = result.set_aside
    assert (aside.place, aside.name) == (0, "False")
    assert "check the units of its table" in aside.reasons[0]
    with pytest.raises(InputError, match="check the units"):
        judged(false)
    with pytest.raises(InputError, match="set aside and cannot be taken") as caught:
        judged(false, able, take="False")
    assert caught.value.faults[0].field == "take"
