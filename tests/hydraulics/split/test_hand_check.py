"""The numbers of the hand check make the drop again, by formulas from outside this project."""

import math

import pytest
from fluids.friction import Colebrook, helical_laminar_fd_White
from hypothesis import given, settings

from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Straight
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import Fitting, loss_from_coefficient, loss_of_kind
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.hand_check import HandCheck, hand_check
from hydraulics.split.result import FlowSplit
from tests.hydraulics.arrays import BRINE, P25, P32, P50, arrays, flow, manifold, nested

NONE = Plant()


def checked(circuit: Circuit, litres: float, loop: int = 0, plant: Plant = NONE) -> HandCheck:
    result = flow_split(circuit, plant, BRINE, flow(litres))
    return hand_check(result.network, result.solution, loop)


def darcy_weisbach(factor: float, length: float, bore: float, density: float, v: float) -> float:
    """Δp = f (L/d) ρ v²/2, as any textbook has it."""
    return factor * length / bore * 0.5 * density * v * v


def test_a_laminar_loop_is_hagen_and_poiseuilles() -> None:
    made = checked(manifold([150.0, 150.0]), 0.2)
    (pipe,) = made.pipes
    assert pipe.reynolds < 2300
    # Δp = 128 μ L Q / (π d⁴): Poiseuille's own form, no friction factor in it.
    flow_each = 0.1e-3
    expected = 128 * pipe.viscosity * 150.0 * flow_each / (math.pi * P32.bore**4)
    assert pipe.drop == pytest.approx(expected, rel=1e-9)
    assert pipe.friction_factor == pytest.approx(64 / pipe.reynolds, rel=1e-12)


def test_a_turbulent_loop_is_colebrooks_by_the_fluids_library() -> None:
    made = checked(manifold([100.0, 100.0]), 2.4)
    (pipe,) = made.pipes
    assert pipe.reynolds > 4000
    factor = Colebrook(pipe.reynolds, pipe.relative_roughness)
    assert pipe.friction_factor == pytest.approx(factor, rel=1e-9)
    expected = darcy_weisbach(factor, pipe.length, pipe.bore, pipe.density, pipe.velocity)
    assert pipe.drop == pytest.approx(expected, rel=1e-4)  # the solver's table


def test_a_laminar_coil_is_whites_by_the_fluids_library() -> None:
    circuit = Circuit("manifold", (Branch(Loop("C", P32, (Coiled(120.0, 1.0),))),))
    made = checked(circuit, 0.12)
    (pipe,) = made.pipes
    assert pipe.coil_diameter == pytest.approx(1.0, rel=1e-12)
    factor = helical_laminar_fd_White(pipe.reynolds, P32.bore, 1.0)
    # At Re 850 the turbulent branch of the blend still adds a little: under 1 %.
    assert pipe.friction_factor == pytest.approx(factor, rel=0.01)
    assert pipe.friction_factor >= factor


def test_fittings_come_back_by_their_three_constants() -> None:
    # Three-constant method (Silverberg & Darby 1999): K = K1/Re + Ki (1 + Kd/DN^0.3), DN in
    # inches; a flanged 90° elbow has K1 800, Ki 0.091, Kd 4 (as in the fluids library).
    fittings = Fitting("elbow_90", count=6).loss(P32.bore) + loss_from_coefficient(2.5, P32.bore)
    circuit = Circuit("manifold", (Branch(Loop("A", P32, (Straight(80.0, fittings=fittings),))),))
    made = checked(circuit, 0.3)
    port = made.fittings
    k = 6 * 0.091 * (1 + 4 / (P32.bore / 0.0254) ** 0.3) + 2.5
    assert port.coefficient == pytest.approx(k, rel=1e-9)
    assert port.low_reynolds == pytest.approx(6 * 800, rel=1e-9)
    by_hand = (port.low_reynolds / port.reynolds + port.coefficient) * 0.5
    by_hand *= port.density * port.velocity**2
    assert port.drop == pytest.approx(by_hand, rel=1e-9)


def test_a_double_u_tube_shares_the_flow_between_its_pipes() -> None:
    circuit = Circuit("manifold", (Branch(Loop("B", P32, (BoreholeU(100.0, 2),))),))
    made = checked(circuit, 0.6)
    (pipe,) = made.pipes
    assert pipe.parallel == 2
    assert pipe.velocity == pytest.approx(0.3e-3 / P32.bore_area, rel=1e-9)


def test_each_tube_of_a_double_u_has_its_own_fittings_at_half_the_flow() -> None:
    # K ρ v²/2 by definition, v in one tube; a bend by kind has the same three constants there.
    five = loss_from_coefficient(5.0, P32.bore) + loss_of_kind("return_bend", P32.bore)
    double, single = (
        checked(Circuit("manifold", (Branch(Loop("B", P32, (leg,))),)), flow).fittings
        for leg, flow in (
            (BoreholeU(60.0, 2, None, five), 0.6),
            (BoreholeU(60.0, 1, None, five), 0.3),
        )
    )
    assert double.velocity == pytest.approx(0.3e-3 / P32.bore_area, rel=1e-9)
    assert double.coefficient == pytest.approx(single.coefficient, rel=1e-12)
    assert double.low_reynolds == pytest.approx(single.low_reynolds, rel=1e-12)
    assert double.drop == pytest.approx(single.drop, rel=1e-9)


def test_parts_add_up_to_the_loop_the_path_and_the_head() -> None:
    plant = Plant(
        Exchanger((0.65e-3,), (14e3,)),
        (Run(P50, 24.0, Fitting("elbow_90", count=8).loss(P50.bore)), Run(P25, 1.0)),
        loss_from_coefficient(3.0, P50.bore),
    )
    result = flow_split(nested(), plant, BRINE, flow(0.6))
    for loop in range(len(result.loops.names)):
        made = hand_check(result.network, result.solution, loop)
        assert made.loop_drop == pytest.approx(result.loops.drop[loop], rel=1e-12)
        assert made.header_drop == pytest.approx(result.loops.header_drop[loop], rel=1e-12)
        plant_drop = sum(p.drop for p in made.runs) + made.run_fittings + made.exchanger_drop
        total = made.loop_drop + made.header_drop + plant_drop
        assert made.head == pytest.approx(result.pump.pressure, rel=1e-12)
        assert total == pytest.approx(made.head, rel=1e-6)  # the solver's energy residual
    assert [p.length for p in made.runs] == [24.0, 24.0, 1.0, 1.0]
    out, back = made.runs[0], made.runs[1]
    assert out.viscosity > back.viscosity  # brine goes out colder than it comes back
    assert made.run_fittings > 0


@given(arrays)
@settings(max_examples=30, deadline=None)
def test_darcy_weisbach_with_the_numbers_given_makes_every_pipes_drop(circuit: Circuit) -> None:
    result: FlowSplit = flow_split(circuit, NONE, BRINE, flow(0.9))
    for loop in range(len(result.loops.names)):
        for pipe in hand_check(result.network, result.solution, loop).pipes:
            by_hand = darcy_weisbach(
                pipe.friction_factor, pipe.length, pipe.bore, pipe.density, pipe.velocity
            )
            assert pipe.drop == pytest.approx(by_hand, rel=1e-4)


def test_nothing_flows_and_nothing_drops() -> None:
    result = flow_split(manifold([50.0]), NONE, BRINE, FlowDuty(0.0, -3.0, 0.0))
    made = hand_check(result.network, result.solution, 0)
    assert (made.loop_drop, made.head, made.pipes[0].friction_factor) == (0.0, 0.0, 0.0)


def test_a_loop_that_is_not_there_is_refused() -> None:
    result = flow_split(manifold([50.0]), NONE, BRINE, flow(0.2))
    for loop in (-1, 1):
        with pytest.raises(IndexError, match="no loop"):
            hand_check(result.network, result.solution, loop)
