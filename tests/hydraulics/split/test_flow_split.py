"""The main job end to end in the core: duty, temperatures, pump, curve, table, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from hydraulics.errors import InputError, NoSolutionError, RangeError
from hydraulics.findings import GENERAL_CAUTIONS
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Slinky, Straight
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import Fitting, loss_from_kv
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import assemble
from hydraulics.split.duty import Duty, FlowDuty, HeatDuty, PumpDriven, duty_fluids
from hydraulics.split.flow_split import flow_split
from hydraulics.split.result import REGIMES, FlowSplit
from hydraulics.split.solver import solve
from hydraulics.split.system_curve import SPAN
from tests.hydraulics.arrays import manifold
from tests.hydraulics.random_arrays import P32, P40, P63, circuits, named_apart

BRINE = mixture("propylene_glycol", 0.25, "mass")
GRAVITY = 9.80665  # m/s2, standard gravity (definition)


def slinky(name: str, tail: float = 25.0) -> Loop:
    return Loop(name, P32, (Straight(tail), Slinky(30, 1.0, 1.0), Straight(tail)))


THREE = Circuit("manifold", (Branch(slinky("T1")), Branch(slinky("T2")), Branch(slinky("T3", 9.0))))
PLANT = Plant(
    Exchanger((6.5e-4,), (14e3,)), (Run(P40, 24.0, Fitting("elbow_90", count=8).loss(P40.bore)),)
)
FLOW = FlowDuty(6.5e-4, -3.5, 0.0)


def split(circuit: Circuit = THREE, duty: Duty = FLOW, plant: Plant = PLANT) -> FlowSplit:
    return flow_split(circuit, plant, BRINE, duty)


# ------------------------------------------------------------------------------------------ duty


def test_heat_and_the_flow_that_carries_it_give_one_answer() -> None:
    by_heat = split(duty=HeatDuty(8400.0, 3.5, -3.5))
    by_flow = split(duty=FlowDuty(by_heat.pump.volume_flow, -3.5, 0.0))
    assert by_heat.heat == pytest.approx(8400.0)
    assert by_flow.heat == pytest.approx(8400.0, rel=1e-9)
    assert by_flow.pump.pressure == pytest.approx(by_heat.pump.pressure, rel=1e-9)
    assert by_flow.loops.mass_flow == pytest.approx(by_heat.loops.mass_flow, rel=1e-9)


def test_twice_the_heat_takes_twice_the_flow() -> None:
    one, two = split(duty=HeatDuty(4000.0, 3.5, -3.5)), split(duty=HeatDuty(8000.0, 3.5, -3.5))
    assert two.pump.mass_flow == pytest.approx(2 * one.pump.mass_flow)
    assert two.pump.pressure > 2 * one.pump.pressure


def test_flow_pressure_head_and_power_belong_together() -> None:
    result = split()
    pump, density = result.pump, fluid(BRINE, -1.75).density
    assert pump.mass_flow == pytest.approx(6.5e-4 * density)
    assert pump.pressure == pytest.approx(pump.array_drop + pump.run_drop + pump.exchanger_drop)
    assert pump.exchanger_drop == pytest.approx(14e3)
    assert pump.head == pytest.approx(pump.pressure / (density * GRAVITY))
    assert pump.hydraulic_power == pytest.approx(pump.pressure * 6.5e-4)


def test_the_plants_runs_take_what_their_two_pipes_and_fittings_take() -> None:
    plain = Plant(None, (Run(P40, 24.0),))
    alone = Circuit("manifold", (Branch(Loop("X", P40, (Straight(24.0),))),))
    out, back = fluid(BRINE, -3.5), fluid(BRINE, 0.0)
    total = split(plant=plain).pump.mass_flow
    each = [solve(assemble(alone, Plant(), (f, f, f)), total).array_drop for f in (out, back)]
    assert split(plant=plain).pump.run_drop == pytest.approx(sum(each), rel=1e-9)
    assert split(plant=Plant()).pump.run_drop == 0.0
    assert split(plant=Plant()).pump.exchanger_drop == 0.0
    valve = replace(plain, fittings=loss_from_kv(10.0))
    more = split(plant=valve).pump.run_drop - split(plant=plain).pump.run_drop
    # Kv by its definition: 1 bar of a fluid of 1000 kg/m3 at 10 m3/h.
    density = fluid(BRINE, -1.75).density
    assert more == pytest.approx(1e5 * density / 1000 * (6.5e-4 * 3600 / 10.0) ** 2, rel=1e-9)


def test_standing_still_is_answered() -> None:
    result = split(duty=FlowDuty(0.0, -3.5, 0.0))
    assert result.imbalance is None
    assert result.pump.pressure == 0.0
    assert result.pump.hydraulic_power == 0.0
    assert len(result.curve.pressure) == 0
    assert result.loops.deviation.tolist() == [0.0, 0.0, 0.0]
    assert [f.code for f in result.findings if f.code == "no_flow"] == ["no_flow"]


# ---------------------------------------------------------------------------------- temperatures

FIELD = Circuit(
    "direct_return",
    (Branch(slinky("T1"), 10.0), Branch(slinky("T2"), 10.0, runs=(Run(P40, 8.0),))),
    P40,
)


def test_a_warmer_return_thins_the_return_side_and_half_as_much_the_loops() -> None:
    # Laminar: in transition a thinner brine can take more.
    cold, warm = split(FIELD, FlowDuty(2e-4, -3.0, -1.0)), split(FIELD, FlowDuty(2e-4, -3.0, 3.0))
    assert (warm.loops.header_drop < cold.loops.header_drop).all()
    assert (warm.loops.drop < cold.loops.drop).all()
    assert warm.pump.run_drop < cold.pump.run_drop
    assert warm.fluids[0] == cold.fluids[0]


def test_each_side_counts_alone() -> None:
    # Out and back swapped: the same loops, and headers that take the same in sum.
    one, other = split(FIELD, FlowDuty(5e-4, -3.0, 1.0)), split(FIELD, FlowDuty(5e-4, 1.0, -3.0))
    assert one.fluids == other.fluids[::-1]
    # Flow header and return header are alike in direct return; so are out and back of runs.
    assert other.pump.mass_flow == pytest.approx(one.pump.mass_flow, rel=1e-12)
    assert other.pump.pressure == pytest.approx(one.pump.pressure, rel=1e-9)
    assert other.heat == pytest.approx(-one.heat)


def test_stronger_or_colder_mixtures_take_more() -> None:
    weak = flow_split(THREE, PLANT, mixture("propylene_glycol", 0.20, "mass"), FLOW)
    strong = flow_split(THREE, PLANT, mixture("propylene_glycol", 0.35, "mass"), FLOW)
    assert strong.pump.array_drop > split().pump.array_drop > weak.pump.array_drop
    assert split(duty=FlowDuty(6.5e-4, -6.0, -2.5)).pump.array_drop > split().pump.array_drop


def test_brine_below_freezing_is_refused_with_the_field() -> None:
    with pytest.raises(RangeError, match="freez"):
        split(duty=FlowDuty(6.5e-4, -12.0, 0.0))


# ------------------------------------------------------------------------------------------ pump

PUMP = PumpDriven((0.0, 3e-4, 6e-4, 9e-4, 12e-4), (7.5, 7.2, 6.2, 4.5, 2.0), -3.5, 0.0)


def test_the_pump_runs_where_its_curve_meets_the_systems() -> None:
    driven = split(duty=PUMP)
    flow = driven.pump.volume_flow
    assert 3e-4 < flow < 12e-4
    # On the system's curve: the same flow given outright takes the same pressure.
    given_flow = split(duty=FlowDuty(flow, -3.5, 0.0))
    assert given_flow.pump.pressure == pytest.approx(driven.pump.pressure, rel=1e-7)
    # On the pump's curve: a straight line between points through a fine table of its own.
    from scipy.interpolate import PchipInterpolator

    assert driven.pump.head == pytest.approx(
        float(PchipInterpolator(PUMP.flows, PUMP.heads)(flow)), rel=1e-7
    )
    assert driven.heat == pytest.approx(given_flow.heat)


def test_a_pump_given_by_a_line_meets_the_system_where_a_bisection_says() -> None:
    from scipy.optimize import brentq

    line = PumpDriven((0.0, 2e-3), (8.0, 0.0), -3.5, 0.0)

    def short(flow: float) -> float:
        return split(duty=FlowDuty(flow, -3.5, 0.0)).pump.head - 8.0 * (1 - flow / 2e-3)

    expected = float(brentq(short, 1e-5, 9e-4, xtol=1e-12))
    assert split(duty=line).pump.volume_flow == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("flows", "heads", "end"),
    [((0.0, 1e-4), (7.5, 7.0), "last"), ((11e-4, 14e-4), (3.0, 1.0), "first")],
)
def test_a_pump_curve_that_does_not_reach_the_system_is_refused(
    flows: tuple[float, ...], heads: tuple[float, ...], end: str
) -> None:
    with pytest.raises(NoSolutionError) as refused:
        split(duty=PumpDriven(flows, heads, -3.5, 0.0))
    fault = refused.value.faults[0]
    assert fault.field == "duty.points"
    assert f"beyond the {end} point" in fault.message


def test_a_pump_curve_that_rises_is_refused() -> None:
    with pytest.raises(InputError, match="head must fall"):
        split(duty=PumpDriven((0.0, 1e-3), (5.0, 6.0), -3.5, 0.0))


# ----------------------------------------------------------------------------------------- curve


@pytest.mark.parametrize("circuit", [THREE, FIELD], ids=["manifold", "direct return"])
def test_each_point_of_the_system_curve_is_a_solution_of_its_own(circuit: Circuit) -> None:
    result = split(circuit)
    curve = result.curve
    assert curve.volume_flow[0] == pytest.approx(SPAN[0] * 6.5e-4)
    assert curve.volume_flow[-1] == pytest.approx(SPAN[1] * 6.5e-4)
    columns = (curve.volume_flow, curve.pressure, curve.head, curve.spread)
    for flow, pressure, head, spread in zip(*columns, strict=True):
        alone = split(circuit, FlowDuty(float(flow), -3.5, 0.0))
        assert pressure == pytest.approx(alone.pump.pressure, rel=1e-6)  # solved to 1e-7
        assert head == pytest.approx(alone.pump.head, rel=1e-6)
        assert alone.imbalance is not None
        assert spread == pytest.approx(alone.imbalance.spread, abs=1e-6)


def test_at_part_flow_laminar_loops_divide_by_length() -> None:
    # Hagen-Poiseuille: flows go with one over length, at any flow that leaves all loops laminar.
    lengths = np.asarray([100.0, 150.0])
    found = split(manifold(tuple(lengths)), FlowDuty(2e-4, -3.5, 0.0))
    share = (1.0 / lengths) / (1.0 / lengths).sum()
    assert found.curve.spread == pytest.approx(np.ptp(2.0 * share), rel=1e-6)


def test_the_duty_is_a_point_of_the_system_curve() -> None:
    result = split(FIELD)
    at = result.curve.volume_flow.tolist().index(result.pump.volume_flow)
    assert result.curve.pressure[at] == result.pump.pressure
    assert result.curve.head[at] == pytest.approx(result.pump.head, rel=1e-12)
    assert result.imbalance is not None
    assert result.curve.spread[at] == pytest.approx(result.imbalance.spread, abs=1e-12)
    assert len(result.curve.volume_flow) == 10


def test_the_system_curve_rises() -> None:
    assert (np.diff(split().curve.pressure) > 0).all()


# ----------------------------------------------------------------------------------------- table


@given(circuits())
@settings(max_examples=40)
def test_the_parts_of_every_loop_add_up(circuit: Circuit) -> None:
    result = split(named_apart(circuit), FlowDuty(9e-4, -3.5, 0.0))
    loops, pump = result.loops, result.pump
    assert loops.drop == pytest.approx(loops.straight_drop + loops.coil_drop + loops.fittings_drop)
    assert loops.drop + loops.header_drop == pytest.approx(pump.array_drop, rel=1e-6)
    assert loops.share.sum() == pytest.approx(1.0, rel=1e-9)
    assert loops.mass_flow.sum() == pytest.approx(pump.mass_flow, rel=1e-9)
    assert loops.deviation.mean() == pytest.approx(0.0, abs=1e-9)
    # From a share in proportion to length: shares weighted so add up to nothing too.
    weight = loops.length / loops.length.sum()
    assert (loops.deviation_by_length * weight).sum() == pytest.approx(0.0, abs=1e-9)


def test_velocity_and_reynolds_are_those_of_the_longest_section() -> None:
    mixed = Loop("M", P32, (Straight(20.0, pipe=P63), BoreholeU(60.0, u_tubes=2)))
    result = split(Circuit("manifold", (Branch(mixed),)), plant=Plant())
    brine = fluid(BRINE, -1.75)
    velocity = 6.5e-4 / 2 / (np.pi / 4 * 0.026**2)  # two U-tubes of 26.0 mm share the flow
    assert result.loops.velocity[0] == pytest.approx(velocity)
    assert result.loops.reynolds[0] == pytest.approx(
        velocity * 0.026 * brine.density / brine.viscosity
    )


def test_regimes_follow_straight_pipe_and_coil_each_by_its_own_limit() -> None:
    straight = Circuit("manifold", (Branch(Loop("S", P32, (Straight(100.0),))),))
    coiled = Circuit("manifold", (Branch(Loop("K", P32, (Slinky(30, 1.0, 1.0),))),))
    brine = fluid(BRINE, -1.75)

    def regime(circuit: Circuit, reynolds: float) -> str:
        flow = reynolds * np.pi / 4 * 0.026 * brine.viscosity / brine.density
        result = split(circuit, FlowDuty(flow, -3.5, 0.0), Plant())
        assert result.loops.reynolds[0] == pytest.approx(reynolds, rel=1e-9)
        return REGIMES[result.loops.regime[0]]

    # Straight: 2000 and 3000 (tests/published/test_transition.py). Coil of 1 m: laminar
    # to 6220 (Ito 1959).
    assert [regime(straight, re) for re in (1990, 2010, 2990, 3010)] == [
        "laminar", "transitional", "transitional", "turbulent",
    ]  # fmt: skip
    assert [regime(coiled, re) for re in (6200, 6240, 7200, 7250)] == [
        "laminar", "transitional", "transitional", "turbulent",
    ]  # fmt: skip


def test_loops_stand_in_the_order_of_the_layout() -> None:
    chamber = Circuit("manifold", (Branch(slinky("A")), Branch(slinky("B"))), name="C")
    result = split(
        Circuit("manifold", (Branch(slinky("1")), Branch(chamber, count=2), Branch(slinky("9"))))
    )
    assert result.loops.names == ("1", "C-1/A", "C-1/B", "C-2/A", "C-2/B", "9")
    assert result.loops.places == ((0,), (1, 0), (1, 1), (1, 0), (1, 1), (2,))
    fewer = split(Circuit("manifold", (Branch(slinky("T"), count=2),)))
    assert fewer.loops.names == ("T-1", "T-2")


def test_residuals_are_reported_and_small() -> None:
    residuals = split(FIELD).residuals
    assert residuals.mass <= 1e-9
    assert residuals.energy <= 1e-6
    assert residuals.iterations > 0
    assert residuals.worst_branch in ((0,), (1,))


def test_the_general_cautions_and_the_antifreezes_own_are_given() -> None:
    methanol = flow_split(THREE, PLANT, mixture("methanol", 0.20, "mass"), FLOW)
    assert methanol.cautions[: len(GENERAL_CAUTIONS)] == GENERAL_CAUTIONS
    assert "poisonous" in methanol.cautions[-1].lower()


# -------------------------------------------------------------------------------------- refusals


def test_equal_names_are_refused_each_with_its_place() -> None:
    chamber = Circuit("manifold", (Branch(slinky("A")), Branch(slinky("A"))))
    with pytest.raises(InputError) as refused:
        split(Circuit("manifold", (Branch(slinky("1")), Branch(chamber))))
    (fault,) = refused.value.faults
    assert fault.field == "circuit.branches.1.item.branches.1.item.name"
    assert fault.value == "A"


def test_a_million_equal_names_do_not_make_a_million_faults() -> None:
    with pytest.raises(InputError) as refused:
        split(Circuit("manifold", tuple(Branch(slinky("A")) for _ in range(500))))
    assert len(refused.value.faults) == 20


@pytest.mark.parametrize("tolerance", [0.0, -0.1, 1.01, float("nan")])
def test_a_tolerance_out_of_range_is_refused(tolerance: float) -> None:
    with pytest.raises(InputError, match="deviation"):
        flow_split(THREE, PLANT, BRINE, FLOW, tolerance=tolerance)


@pytest.mark.parametrize("margin", [-0.1, 51.0, float("nan")])
def test_a_freezing_margin_out_of_range_is_refused(margin: float) -> None:
    with pytest.raises(InputError, match="freezing_margin"):
        flow_split(THREE, PLANT, BRINE, FLOW, margin=margin)


def test_reynolds_numbers_beyond_the_law_are_refused() -> None:
    hose = Circuit("manifold", (Branch(Loop("H", Pipe("hose", 0.01, 0.012), (Straight(1.0),))),))
    with pytest.raises(RangeError, match="Reynolds"):
        split(hose, FlowDuty(10.0, -3.5, 0.0), Plant())


def test_the_curve_does_not_run_beyond_the_law_where_the_duty_is_near_its_end() -> None:
    wide = Circuit("manifold", (Branch(Loop("W", Pipe("w", 1.0, 1.1), (Straight(1.0),))),))
    brine = duty_fluids(BRINE, FLOW)[1]
    flow = 0.9e8 * np.pi / 4 * brine.viscosity / brine.density
    result = split(wide, FlowDuty(flow, -3.5, 0.0), Plant())
    assert result.curve.volume_flow[-1] == pytest.approx(flow / 0.9, rel=1e-6)


def test_a_pump_curve_that_ends_short_says_where_it_would_meet_the_system() -> None:
    # Goes on along its last chord: 7.5 m less 5 m per L/s and more, so somewhere within 1.5 L/s.
    with pytest.raises(NoSolutionError) as refused:
        split(duty=PumpDriven((0.0, 1e-4), (7.5, 7.0), -3.5, 0.0))
    (fault,) = refused.value.faults
    assert fault.value == pytest.approx(0.1)  # L/s
    met = float(fault.message.split("system's at ")[1].split(" L/s")[0])
    assert 0.1 < met < 1.5
    again = split(duty=FlowDuty(met / 1e3, -3.5, 0.0)).pump.head
    assert again == pytest.approx(7.5 - 5.0 * met, rel=0.05)  # three digits of a steep chord
