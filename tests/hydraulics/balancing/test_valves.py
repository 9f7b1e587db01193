"""Regulating valves: settings that give every loop its flow."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.balancing.valves import (
    ValveTable,
    valve_findings,
    valve_settings,
    with_valves,
)
from hydraulics.errors import InputError
from hydraulics.layout.circuit import Branch, Circuit, Plant
from hydraulics.layout.edit import one_by_one
from hydraulics.pipework.fittings import Loss, kv_from_loss, loss_from_kv
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.duty import duty_fluids
from hydraulics.split.solver import solve
from hydraulics.split.target import Target, target_flows
from tests.hydraulics.arrays import (
    BRINE,
    P40,
    arrays,
    direct_return,
    flow,
    manifold,
    nested,
    straight_loop,
)

TABLE = ValveTable((0.5, 1.0, 2.0, 3.0, 4.0), (0.4, 0.9, 1.8, 2.9, 3.6))  # invented
# Newton stops at 1e-10 of the array's drop; flow errors are of that order.
SOLVER = 1e-8


def assembled(circuit: Circuit, litres: float = 1.0) -> tuple[Network, float]:
    fluids = duty_fluids(BRINE, flow(litres))
    return assemble(circuit, Plant(), fluids), litres / 1e3 * fluids[1].density


@settings(max_examples=40, deadline=None)
@given(circuit=arrays, litres=st.floats(0.1, 4.0), target=st.sampled_from(["even", "length"]))
def test_with_exact_settings_every_loop_reaches_its_flow_from_any_start(
    circuit: Circuit, litres: float, target: Target
) -> None:
    network, total = assembled(circuit, litres)
    wanted = target_flows(network, total, target)
    found = valve_settings(network, wanted)
    # From the usual first guess, so that the solver must find the flows by itself.
    solution = solve(with_valves(network, found.square), total)
    assert solution.flow[network.loop_rows] == pytest.approx(wanted, rel=SOLVER)


@settings(max_examples=40, deadline=None)
@given(circuit=arrays, litres=st.floats(0.1, 4.0))
def test_the_index_loop_keeps_its_valve_open_and_no_valve_gives_pressure(
    circuit: Circuit, litres: float
) -> None:
    network, total = assembled(circuit, litres)
    found = valve_settings(network, target_flows(network, total, "even"))
    assert found.drop[found.index_loop] == 0.0
    assert found.kv[found.index_loop] == np.inf
    assert found.authority[found.index_loop] == 0.0
    assert (found.drop >= 0.0).all()


def test_nested_circuits_with_counts_reach_given_shares() -> None:
    network, total = assembled(nested(), 1.5)
    shares = {name: float(n) for n, name in enumerate(network.names, 1)}
    wanted = target_flows(network, total, shares)
    found = valve_settings(network, wanted)
    solution = solve(with_valves(network, found.square), total)
    assert solution.flow[network.loop_rows] == pytest.approx(wanted, rel=SOLVER)


def test_valves_on_the_assembled_array_are_as_fittings_in_the_layout() -> None:
    circuit = direct_return((80.0, 120.0, 160.0))
    network, total = assembled(circuit)
    found = valve_settings(network, target_flows(network, total, "even"))
    fitted = replace(
        circuit,
        branches=tuple(
            replace(branch, fittings=Loss(square))
            for branch, square in zip(circuit.branches, found.square.tolist(), strict=True)
        ),
    )
    again, _ = assembled(fitted)
    by_layout = solve(again, total)
    by_network = solve(with_valves(network, found.square), total)
    assert by_layout.flow == pytest.approx(by_network.flow, rel=SOLVER)
    assert by_layout.array_drop == pytest.approx(by_network.array_drop, rel=SOLVER)


def test_equal_loops_need_no_valves() -> None:
    network, total = assembled(manifold([100.0] * 5))
    found = valve_settings(network, target_flows(network, total, "even"))
    assert (found.drop == 0.0).all()
    assert not valve_findings(network, found, None)


def test_kv_coefficient_and_drop_tell_the_same_loss() -> None:
    network, total = assembled(direct_return((60.0, 120.0, 180.0)))
    wanted = target_flows(network, total, "even")
    found = valve_settings(network, wanted)
    density = network.fluids[1].density
    short = 0
    volume = wanted[short] / density
    # Kv: Q = Kv √(Δp / 1 bar · 1000 / ρ); K: Δp = K ρ v² / 2 (definitions).
    bar = found.drop[short] / 1e5
    assert found.kv[short] == pytest.approx(3600 * volume / np.sqrt(bar * 1000 / density))
    velocity = volume / (np.pi / 4 * 0.026**2)
    assert found.coefficient[short] * density * velocity**2 / 2 == pytest.approx(found.drop[short])
    assert kv_from_loss(Loss(found.square[short])) == pytest.approx(found.kv[short])
    assert loss_from_kv(found.kv[0]).square == pytest.approx(found.square[0])


def test_the_opening_is_the_sharp_edged_hole_that_passes_as_much() -> None:
    network, total = assembled(direct_return((60.0, 120.0, 180.0)))
    found = valve_settings(network, target_flows(network, total, "even"))
    # Q = 0.61 A sqrt(2 Δp / ρ) through a sharp-edged orifice (White, Fluid Mechanics, from memory).
    area = np.pi / 4 * found.opening[0] ** 2
    density = network.fluids[1].density
    volume = 0.61 * area * np.sqrt(2 * found.drop[0] / density)
    assert volume == pytest.approx(total / 3 / density)


def test_fittings_of_loops_and_ports_count_in_the_path() -> None:
    circuit = manifold((100.0, 100.0))
    first, second = circuit.branches
    # Equal loops, one with a fitting of Kv 2: the other's valve must match that fitting.
    fitted = replace(circuit, branches=(replace(first, fittings=loss_from_kv(2.0)), second))
    network, total = assembled(fitted)
    found = valve_settings(network, target_flows(network, total, "even"))
    assert found.index_loop == 0
    assert found.kv[1] == pytest.approx(2.0)


def test_with_a_table_the_index_valve_has_its_fully_open_kv() -> None:
    network, total = assembled(direct_return((60.0, 120.0, 180.0)))
    wanted = target_flows(network, total, "even")
    found = valve_settings(network, wanted, TABLE)
    assert found.index_loop == 2
    assert found.kv[2] == pytest.approx(3.6)
    assert (found.kv[:2] < 3.6).all()
    solution = solve(with_valves(network, found.square), total)
    assert solution.flow[network.loop_rows] == pytest.approx(wanted, rel=SOLVER)


def test_the_nearest_row_of_the_table_is_the_nearest_by_ratio() -> None:
    network, total = assembled(direct_return((60.0, 120.0, 180.0)))
    found = valve_settings(network, target_flows(network, total, "even"), TABLE)
    assert found.position is not None
    assert found.position_kv is not None
    for kv, position, chosen in zip(found.kv, found.position, found.position_kv, strict=True):
        assert TABLE.kvs[TABLE.positions.index(position)] == chosen
        off = [abs(np.log(row / kv)) for row in TABLE.kvs]
        assert abs(np.log(chosen / kv)) == min(off)


def test_authority_is_the_valves_part_of_valve_and_loop() -> None:
    network, total = assembled(manifold((100.0, 200.0)))
    found = valve_settings(network, target_flows(network, total, "even"))
    # At one flow the drop goes with length: the short loop's valve takes as much as the loop.
    assert found.authority[0] == pytest.approx(0.5, abs=1e-9)


@pytest.mark.parametrize(
    ("lengths", "litres", "table", "code"),
    [
        ((20.0, 300.0), 0.004, None, "valve_clogging"),
        ((50.0, 300.0), 1.0, None, "valve_authority_high"),
        ((20.0, 300.0), 0.02, TABLE, "valve_below_table"),
        ((99.0, 100.0), 1.0, None, "valve_signal_small"),
        ((80.0, 100.0), 1.0, None, "valve_not_turbulent"),
    ],
)
def test_settings_that_are_not_sane_are_told(
    lengths: tuple[float, ...], litres: float, table: ValveTable | None, code: str
) -> None:
    network, total = assembled(manifold(lengths), litres)
    found = valve_settings(network, target_flows(network, total, "even"), table)
    told = {finding.code: finding for finding in valve_findings(network, found, table)}
    assert code in told
    assert told[code].place == (0,)
    assert told[code].message.startswith("L1: ")


def test_one_metre_of_difference_raises_no_alarm_about_authority_or_clogging() -> None:
    network, total = assembled(manifold((99.0, 100.0)))
    found = valve_settings(network, target_flows(network, total, "even"))
    codes = {finding.code for finding in valve_findings(network, found, None)}
    assert not codes & {"valve_clogging", "valve_authority_high", "valve_below_table"}


@pytest.mark.parametrize(
    ("positions", "kvs", "field"),
    [
        ((), (), "positions"),
        ((1.0, 2.0), (1.0,), "positions"),
        ((1.0, 1.0), (1.0, 2.0), "positions.1.position"),
        ((1.0, 2.0), (2.0, 1.0), "positions.1.kv"),
        ((1.0, 2.0), (0.0, 1.0), "positions.0.kv"),
        ((1.0, 2.0), (1.0, float("inf")), "positions.1.kv"),
        ((float("nan"), 2.0), (1.0, 2.0), "positions.0.position"),
    ],
)
def test_a_valve_table_that_cannot_be_is_refused(
    positions: tuple[float, ...], kvs: tuple[float, ...], field: str
) -> None:
    with pytest.raises(InputError) as error:
        ValveTable(positions, kvs)
    assert field in [fault.field for fault in error.value.faults]


def test_equal_branches_may_be_written_out_without_changing_anything() -> None:
    network, total = assembled(nested(), 1.5)
    single, _ = assembled(one_by_one(nested()), 1.5)
    assert single.names == network.names
    assert solve(single, total).flow == pytest.approx(solve(network, total).flow, rel=SOLVER)
    assert len(set(single.places)) == len(single.places)


def test_a_loop_kept_by_a_count_has_a_valve_of_its_own() -> None:
    branch = Branch(straight_loop("L", 90.0), header_length=10.0, count=3)
    circuit = Circuit("direct_return", (branch,), header_pipe=P40)
    network, total = assembled(circuit)
    found = valve_settings(network, target_flows(network, total, "even"))
    assert found.drop[0] > found.drop[1] > found.drop[2] == 0.0
