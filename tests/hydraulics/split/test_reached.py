"""Target flows and how near an array comes to them."""

import numpy as np
import pytest

from hydraulics.errors import InputError
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.drops import branch_flows
from hydraulics.split.duty import duty_fluids
from hydraulics.split.reached import path_drops, reached, solve_near
from hydraulics.split.solver import solve
from hydraulics.split.target import target_flows
from tests.hydraulics.arrays import BRINE, direct_return, flow, manifold, nested


def assembled(circuit: Circuit) -> tuple[Network, float]:
    fluids = duty_fluids(BRINE, flow(1.0))
    return assemble(circuit, Plant(), fluids), fluids[1].density / 1e3


def test_even_flows_are_alike_and_add_up() -> None:
    network, total = assembled(nested())
    wanted = target_flows(network, total, "even")
    assert wanted == pytest.approx(np.full(7, total / 7))


def test_flows_by_length_go_with_the_length_of_pipe() -> None:
    network, total = assembled(manifold((50.0, 100.0, 150.0)))
    assert target_flows(network, total, "length") == pytest.approx(total * np.array([1, 2, 3]) / 6)


def test_given_shares_need_not_add_up_to_one() -> None:
    network, total = assembled(manifold((50.0, 100.0)))
    assert target_flows(network, total, {"L1": 30.0, "L2": 10.0}) == pytest.approx(
        [0.75 * total, 0.25 * total]
    )


@pytest.mark.parametrize(
    ("shares", "why"),
    [
        ({"L1": 1.0}, "no share for loop L2"),
        ({"L1": 1.0, "L2": 2.0, "L3": 3.0}, "no loop 'L3'"),
        ({"L1": 1.0, "L2": 0.0}, "share of loop L2"),
        ({"L1": -1.0, "L2": 1.0}, "share of loop L1"),
        ({"L1": 1.0, "L2": float("nan")}, "share of loop L2"),
        ("uneven", "no such target"),
    ],
)
def test_shares_that_cannot_be_are_refused(shares: object, why: str) -> None:
    network, total = assembled(manifold((50.0, 100.0)))
    with pytest.raises(InputError) as error:
        target_flows(network, total, shares)  # type: ignore[arg-type]
    assert error.value.faults[0].field == "balancing.target"
    assert why in str(error.value)


@pytest.mark.parametrize("circuit", [direct_return((60.0, 90.0, 200.0)), nested()])
def test_every_path_through_a_solved_array_drops_as_the_array_does(circuit: Circuit) -> None:
    network, total = assembled(circuit)
    solution = solve(network, total)
    paths = path_drops(network, solution)
    # Within the solver's own tolerance, 1e-10 of the drop, over several levels.
    assert paths == pytest.approx(np.full(len(paths), solution.array_drop), rel=1e-9)


def test_branch_flows_of_a_solution_are_those_of_its_loops_summed() -> None:
    network, total = assembled(nested())
    solution = solve(network, total)
    rebuilt = branch_flows(network, solution.flow[network.loop_rows])
    assert rebuilt == pytest.approx(solution.flow[: network.rows])


def test_reached_tells_deviation_spread_and_verdict() -> None:
    network, total = assembled(manifold((50.0, 100.0)))
    solution = solve(network, total)
    wanted = target_flows(network, total, "even")
    result = reached(network, solution, wanted, 0.10)
    assert result.deviation.sum() == pytest.approx(0.0, abs=1e-9)
    assert result.spread == pytest.approx(result.deviation[0] - result.deviation[1])
    assert not result.within_tolerance
    assert reached(network, solution, wanted, 0.99).within_tolerance
    assert result.duty.pressure == pytest.approx(solution.array_drop)


def test_solving_from_the_target_gives_the_same_as_from_anywhere() -> None:
    network, total = assembled(direct_return((60.0, 90.0, 200.0)))
    near = solve_near(network, target_flows(network, total, "even"), 0.1)
    assert near.mass_flow == pytest.approx(solve(network, total).flow[network.loop_rows], rel=1e-8)
