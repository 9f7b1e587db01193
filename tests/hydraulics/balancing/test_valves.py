"""Regulating valves: settings that give every loop its flow."""

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from fluids.control_valve import Reynolds_factor, Reynolds_valve
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from hydraulics.balancing import positions, valves
from hydraulics.balancing.valves import (
    ValveSettings,
    ValveTable,
    en_60534_valve_flow,
    nearer_positions,
    valve_findings,
    valve_settings,
    with_settings,
    with_valves,
)
from hydraulics.errors import InputError
from hydraulics.findings import HEAD_LIMIT
from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Branch, Circuit, Plant
from hydraulics.layout.edit import one_by_one
from hydraulics.pipework.fittings import Loss, kv_from_loss, loss_from_kv
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.drops import branch_flows, drops_at
from hydraulics.split.duty import FlowDuty, duty_fluids
from hydraulics.split.reached import path_drops, solve_near
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

Array = NDArray[np.float64]
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
    wanted = target_flows(network, total, "even")
    found = valve_settings(network, wanted)
    assert (found.drop == 0.0).all()
    assert found.fully_open.all()
    assert not valve_findings(network, wanted, found, None)


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
    solution = solve(with_valves(network, found.wanted), total)
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


def test_of_more_positions_than_any_search_gets_through_the_nearest_are_taken_and_no_proof_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    network, total = assembled(direct_return((60.0, 120.0, 180.0)))
    wanted = target_flows(network, total, "even")
    found = valve_settings(network, wanted, DOUBLING)
    _, proved = nearer_positions(network, wanted, found, DOUBLING, 0.01)
    assert proved
    monkeypatch.setattr(positions, "MOST_PLACES", 11)  # of three loops with four each
    same, proved = nearer_positions(network, wanted, found, DOUBLING, 0.01)
    assert same is found
    assert not proved


DOUBLING = ValveTable((1.0, 2.0, 3.0, 4.0), (0.6, 1.2, 2.4, 4.8))  # invented, coarse


def with_kvs(network: Network, wanted: Array, kvs: Array) -> tuple[float, float]:
    """Largest deviation from the flows wanted with valves of these Kv, and the duty [Pa]."""
    squares = np.asarray([loss_from_kv(kv).square for kv in kvs.tolist()])
    found = solve_near(with_valves(network, squares), wanted, 0.1)
    return float(np.abs(found.deviation).max()), found.duty.pressure


def off(network: Network, wanted: Array, kvs: Array) -> float:
    """Largest deviation from the flows wanted with valves of these Kv."""
    return with_kvs(network, wanted, kvs)[0]


@pytest.mark.parametrize(
    ("lengths", "tolerance", "position"),
    [
        # Two arrays of which every combination of positions was solved one by one: these reach.
        ((200.0, 80.0, 160.0), 0.10, [4.0, 3.0, 4.0]),
        ((120.0, 240.0, 200.0), 0.09, [3.0, 4.0, 4.0]),
    ],
)
def test_where_the_nearest_positions_miss_their_neighbours_are_tried(
    lengths: tuple[float, ...], tolerance: float, position: list[float]
) -> None:
    fluids = duty_fluids(mixture("propylene_glycol", 0.25, "volume"), FlowDuty(1.2e-3, -3.0, 0.5))
    network = assemble(manifold(lengths), Plant(), fluids)
    wanted = target_flows(network, 1.2e-3 * fluids[1].density, "even")
    nearest = valve_settings(network, wanted, DOUBLING)
    assert nearest.position_kv is not None
    assert off(network, wanted, nearest.position_kv) > tolerance
    nearer, _ = nearer_positions(network, wanted, nearest, DOUBLING, tolerance)
    assert nearer.position is not None
    assert nearer.position_kv is not None
    assert nearer.position.tolist() == position
    assert off(network, wanted, nearer.position_kv) <= tolerance
    assert nearer.fully_open.tolist() == [each == 4.0 for each in position]


@pytest.mark.parametrize("seed", [8, 9, 12])
def test_positions_are_found_wherever_any_combination_of_them_reaches(seed: int) -> None:
    # Arrays of two to four loops, equal ones among them: every combination is solved beside them.
    random = np.random.default_rng(seed)
    reachable = 0
    for _ in range(40):
        lengths = random.choice([60.0, 90.0, 130.0, 200.0], random.integers(2, 5))
        network, total = assembled(direct_return(lengths.tolist()), 0.3 * len(lengths))
        wanted = target_flows(network, total, "even")
        nearest = valve_settings(network, wanted, DOUBLING)
        assert nearest.position_kv is not None
        if off(network, wanted, nearest.position_kv) <= 0.1:
            continue
        every = itertools.product(DOUBLING.kvs, repeat=len(lengths))
        solved = [with_kvs(network, wanted, np.asarray(kvs)) for kvs in every]
        highest = max(HEAD_LIMIT, with_kvs(network, wanted, nearest.kv)[1])
        best = min(deviation for deviation, _ in solved)
        lower = min(deviation for deviation, head in solved if head <= highest)
        found, proved = nearer_positions(network, wanted, nearest, DOUBLING, 0.1)
        assert proved
        assert found.position_kv is not None
        reached, head = with_kvs(network, wanted, found.position_kv)
        assert (reached <= 0.1) == (best <= 0.1)
        if lower <= 0.1:  # at no more than an ordinary head
            assert head <= highest
        if best > 0.1:  # nearest to a thousandth of a flow, which the search says of itself
            assert reached <= lower + 1e-3
        reachable += best <= 0.1
    assert reachable


def test_more_positions_on_offer_take_none_of_the_others_away() -> None:
    # One position reaches by itself, all loops in it; a second one, wide open, must not hide that.
    network, total = assembled(manifold((100.0, 130.0)), 0.6)
    wanted = target_flows(network, total, "even")
    for kvs in ((1.1,), (1.1, 4.7)):
        table = ValveTable(tuple(range(len(kvs))), kvs)
        exact = valve_settings(network, wanted, table)
        found, _ = nearer_positions(network, wanted, exact, table, 0.02)
        assert found.position_kv is not None
        assert off(network, wanted, found.position_kv) <= 0.02
        assert found.position_kv.tolist() == [1.1, 1.1]


@settings(max_examples=40, deadline=None)
@given(
    lengths=st.lists(st.floats(40.0, 250.0), min_size=2, max_size=4),
    apart=st.sampled_from([0.0, 5.0, 20.0]),
    kvs=st.lists(st.floats(0.4, 8.0), min_size=1, max_size=4, unique=True),
    more=st.floats(0.4, 8.0),
    tolerance=st.sampled_from([0.03, 0.1]),
)
def test_a_further_position_never_makes_it_worse(
    lengths: list[float], apart: float, kvs: list[float], more: float, tolerance: float
) -> None:
    array = direct_return(lengths, apart) if apart else manifold(lengths)
    network, total = assembled(array, 0.25 * len(lengths))
    wanted = target_flows(network, total, "even")
    reached = []
    for offer in (kvs, {*kvs, more}):
        rising = tuple(sorted(offer))
        table = ValveTable(tuple(range(len(rising))), rising)
        exact = valve_settings(network, wanted, table)
        found, _ = nearer_positions(network, wanted, exact, table, tolerance)
        assert found.position_kv is not None
        reached.append(with_kvs(network, wanted, found.position_kv))
    # Where none reaches, the nearest of many positions may lie beyond the bounds of the search.
    (few, _), (many, _) = reached
    if few <= tolerance:
        assert many <= tolerance * (1.0 + 1e-9)


def test_where_the_search_ends_early_the_nearest_that_was_solved_is_taken() -> None:
    # Of a case that the test above found: all 256 combinations are solved on the way, and the
    # search ends since it may not look at more. The nearest of them, by trying each:
    network, total = assembled(direct_return([40.0] * 4, 20.0), 1.0)
    wanted = target_flows(network, total, "even")
    table = ValveTable((0, 1, 2, 3), (5.16, 5.51, 6.11, 6.79))
    exact = valve_settings(network, wanted, table)
    found, _ = nearer_positions(network, wanted, exact, table, 0.03)
    assert found.position_kv is not None
    nearest = min(
        with_kvs(network, wanted, np.array(each))[0]
        for each in itertools.product(table.kvs, repeat=4)
    )
    assert with_kvs(network, wanted, found.position_kv)[0] <= nearest + 1e-3


def test_the_search_for_positions_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    # A hundred loops, and a tolerance that no positions keep.
    lengths = np.random.default_rng(3).uniform(60.0, 240.0, 100)
    network, total = assembled(manifold(lengths.tolist()), 30.0)
    wanted = target_flows(network, total, "even")
    nearest = valve_settings(network, wanted, DOUBLING)
    solved = []

    def counted(*given: Any) -> object:
        solved.append(given)
        return solve_near(*given)

    monkeypatch.setattr(valves, "solve_near", counted)
    found, _ = nearer_positions(network, wanted, nearest, DOUBLING, 1e-4)
    assert len(solved) <= 1 + positions.MOST_SOLVED
    assert nearest.position_kv is not None
    assert found.position_kv is not None
    assert off(network, wanted, found.position_kv) <= off(network, wanted, nearest.position_kv)


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
    wanted = target_flows(network, total, "even")
    found = valve_settings(network, wanted, table)
    told = {finding.code: finding for finding in valve_findings(network, wanted, found, table)}
    assert code in told
    assert told[code].place == (0,)
    assert told[code].message.startswith("L1: ")


def test_one_metre_of_difference_raises_no_alarm_about_authority_or_clogging() -> None:
    network, total = assembled(manifold((99.0, 100.0)))
    wanted = target_flows(network, total, "even")
    found = valve_settings(network, wanted)
    codes = {finding.code for finding in valve_findings(network, wanted, found, None)}
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


def settings_of(**over: Any) -> ValveSettings:
    """Settings of two loops, the second the index loop; each number as told, else harmless."""
    one = {"drop": 5e3, "square": 1e12, "wanted": 1e12, "kv": 2.0, "coefficient": 9.0,
           "bore": 0.026, "authority": 0.3, "opening": 6e-3,
           "reynolds": 2e4, "reynolds_factor": 1.0}  # fmt: skip
    index = {**one, "drop": 0.0, "square": 0.0, "wanted": 0.0, "kv": np.inf, "coefficient": 0.0,
             "authority": 0.0, "opening": np.inf, "reynolds": np.inf}  # fmt: skip
    rows = {name: np.array([over.get(name, value), index[name]]) for name, value in one.items()}
    return ValveSettings(
        index_loop=1, open_kv=np.full(2, np.inf), position=None, position_kv=None, **rows
    )


# Common practice, no source: 3 mm of opening, half of the drop, 1 kPa to read. EN 60534-2-1: Kv
# holds from a valve Reynolds number of 10,000; 5 % below its Kv a valve is told.
@pytest.mark.parametrize(
    ("code", "within", "beyond", "words"),
    [
        ("valve_clogging", {"opening": 3e-3},
         {"opening": 2.99e-3, "square": 1e2 * (3600.0 / 0.412) ** 2},
         "Kv down to 0.41 m³/h is a gap like a hole of 3.0 mm"),
        ("valve_authority_high", {"authority": 0.5}, {"authority": 0.6251},
         "takes up to 63 % of its loop's drop"),
        ("valve_signal_small", {"drop": 1000.0}, {"drop": 994.0}, "drops down to 0.99 kPa"),
        ("valve_not_turbulent", {"reynolds_factor": 0.95},
         {"reynolds_factor": 0.913, "reynolds": 2314.0},
         "Reynolds numbers down to 2314: in this brine a valve acts as one of 0.91 of its Kv"),
        ("valve_below_table", {"kv": 0.4}, {"kv": 0.3126},
         "Kv 0.31 m³/h would give it just its flow and the table ends at 0.4;"),
    ],
)  # fmt: skip
def test_a_setting_is_told_beyond_its_limit_and_not_at_it(
    code: str, within: dict[str, float], beyond: dict[str, float], words: str
) -> None:
    network, total = assembled(manifold((100.0, 120.0)))
    wanted = target_flows(network, total, "even")
    for over, told in ((within, False), (beyond, True)):
        findings = valve_findings(network, wanted, settings_of(**over), TABLE)
        found = {f.code: f.message for f in findings}
        assert (code in found) is told
    assert words in found[code]
    assert found[code].startswith("L1: ")


def test_the_valve_reynolds_number_and_factor_by_the_standards_formula() -> None:
    # EN 60534-2-1 (from memory): Re_v = N4 Fd Q / (nu sqrt(C FL)) (FL^2 C^2 / (N2 d^4) + 1)^(1/4),
    # N2 1.6e-3, N4 7.07e-2, Q in m3/h, nu in m2/s, C as Kv, d in mm. One valve of Kv 2 in 26 mm.
    flow_m3_h, nu, kv, size = 1.2, 4e-6, 2.0, 26.0
    widen = (0.9**2 * kv**2 / (1.6e-3 * size**4) + 1.0) ** 0.25
    expected = 7.07e-2 * 0.46 * flow_m3_h / (nu * np.sqrt(kv * 0.9)) * widen
    reynolds, factor = en_60534_valve_flow(
        np.array([flow_m3_h / 3600.0, 1e-4]), np.array([kv, np.inf]), np.full(2, size / 1e3), nu
    )
    assert reynolds[0] == pytest.approx(expected, rel=0.02)  # constants are rounded
    assert (reynolds[1], factor[1]) == (np.inf, 1.0)
    assert 0.5 < factor[0] < 1.0
    _, turbulent = en_60534_valve_flow(np.array([2e-3]), np.array([kv]), np.array([0.026]), 1e-6)
    assert turbulent[0] == 1.0


def test_settings_are_put_in_as_valves_of_their_kv_and_position() -> None:
    circuit = manifold((60.0, 120.0, 180.0))
    network, total = assembled(circuit)
    found = valve_settings(network, target_flows(network, total, "even"), TABLE)
    fitted = with_settings(circuit, found, TABLE)
    put = [branch.fittings.fittings[0] for branch in fitted.branches]
    assert found.position is not None
    assert found.position_kv is not None
    assert [each.kv for each in put] == found.position_kv.tolist()
    assert [each.position for each in put] == found.position.tolist()
    assert {each.valve for each in put} == {"regulating valve"}
    named = with_settings(circuit, found, replace(TABLE, name="V (invented)"))
    assert named.branches[0].fittings.fittings[0].valve == "V (invented)"
    # Without a table the index loop's valve takes nothing, and is none.
    exact = valve_settings(network, target_flows(network, total, "even"))
    bare = with_settings(circuit, exact, None)
    assert [len(branch.fittings.fittings) for branch in bare.branches] == [1, 1, 0]
    assert bare.branches[0].fittings.fittings[0].kv == pytest.approx(exact.kv[0])
    assert bare.branches[0].fittings.fittings[0].position is None


def test_what_is_told_of_positions_at_a_higher_head_is_of_those_positions() -> None:
    # Kv by its definition (EN 60534-1): Δp = 1 bar · (Q/Kv)² · ρ/1000, Q in m³/h.
    table = ValveTable((1.0, 2.0, 3.0), (0.2, 0.8, 4.0))
    fluids = duty_fluids(mixture("propylene_glycol", 0.25, "volume"), FlowDuty(2e-4, -3.0, 0.0))
    network = assemble(manifold((60.0, 100.0, 150.0, 180.0)), Plant(), fluids)
    wanted = target_flows(network, 2e-4 * fluids[1].density, "even")
    exact = valve_settings(network, wanted, table)
    found, _ = nearer_positions(network, wanted, exact, table, 0.1)
    assert found.position_kv is not None
    assert found.position_kv.tolist() == [0.2] * 4
    assert found.kv.tolist() == exact.kv.tolist()
    by_kv = 1e5 * (3600.0 * 5e-5 / 0.2) ** 2 * fluids[1].density / 1000.0
    assert found.drop == pytest.approx(np.full(4, by_kv), rel=1e-9)
    findings = valve_findings(network, wanted, found, table)
    told = {each.code: each for each in findings}
    assert "L1, L2, L3 and L4" in told["valve_clogging"].message
    high = {each.message for each in findings if each.code == "valve_authority_high"}
    assert {each.partition(":")[0] for each in high} == {"L1", "L2, L3 and L4"}
    assert "valve_signal_small" not in told


@pytest.mark.parametrize(("kv", "full"), [(20.0, True), (2.0, False)])
def test_the_factor_is_of_full_trim_where_kv_is_large_for_the_bore(kv: float, full: bool) -> None:
    # EN 60534-2-1 by the fluids library: full trim where Kv/d² > 0.016, d in mm; here 0.030, 0.003.
    flow, bore, viscosity = 0.05e-3, 0.026, 6e-6
    _, factor = en_60534_valve_flow(np.array([flow]), np.array([kv]), np.array([bore]), viscosity)
    reynolds = Reynolds_valve(viscosity, flow * 3600.0, 26.0, 0.9, 0.46, kv)
    expected, other = (Reynolds_factor(0.9, kv, 26.0, reynolds, each) for each in (full, not full))
    assert factor[0] == pytest.approx(expected, rel=1e-9)
    assert abs(other - expected) > 1e-3


def test_the_index_loop_is_the_one_that_takes_most_with_its_valve_open() -> None:
    # Twice the flow through an open valve takes four times as much (EN 60534-1): of two paths the
    # smaller one without valves is the larger with them.
    network, total = assembled(manifold((100.0, 40.0)), 0.3)
    wanted = target_flows(network, total, {"L1": 1.0, "L2": 2.0})
    first, second = path_drops(
        network, drops_at(network, branch_flows(network, wanted), float(wanted.sum()))
    )
    assert first > second
    litres_h = 3600.0 * wanted[0] / network.fluids[1].density
    # Of that Kv the first open valve takes what the paths differ by, the second four times that.
    kv = float(litres_h / np.sqrt((first - second) / 1e5 / (network.fluids[1].density / 1000.0)))
    found = valve_settings(network, wanted, ValveTable((1.0, 2.0), (0.5 * kv, kv)))
    assert found.index_loop == 1
    assert found.drop[1] == pytest.approx(4.0 * (first - second), rel=1e-9)
    per_square = network.fluids[1].density * (wanted[0] / network.fluids[1].density) ** 2
    needed = found.wanted[0] * per_square
    assert needed == pytest.approx(found.drop[1] - (first - second), rel=1e-9)


def test_all_that_is_told_of_a_nearest_position_is_of_that_position() -> None:
    # Kv by its definition (EN 60534-1): Δp = 1 bar · (Q/Kv)² · ρ/1000, Q in m³/h; a sharp-edged
    # hole passes 0.61 A sqrt(2 Δp/ρ) (White, from memory).
    table = ValveTable((1.0, 2.0, 3.0), (0.15, 0.5, 3.0))
    fluids = duty_fluids(mixture("propylene_glycol", 0.25, "volume"), FlowDuty(7e-5, -3.0, 0.5))
    network = assemble(manifold((20.0, 250.0)), Plant(), fluids)
    wanted = target_flows(network, 7e-5 * fluids[1].density, "even")
    found = valve_settings(network, wanted, table)
    assert found.position_kv is not None
    kv = found.position_kv
    assert abs(found.kv[0] / kv[0] - 1.0) > 0.1  # another than is wanted
    by_kv = 1e5 * (3600.0 * 3.5e-5 / kv) ** 2 * fluids[1].density / 1000.0
    assert found.drop == pytest.approx(by_kv, rel=1e-9)
    area = kv / 3600.0 / (0.61 * np.sqrt(2e5 / 1000.0))
    assert found.opening == pytest.approx(np.sqrt(4.0 / np.pi * area), rel=1e-9)


def test_a_coarse_table_is_not_told_as_a_small_valve() -> None:
    # Kv 40 is not small for 0.2 L/s: it drops 1 bar · (0.72/40)² = 0.03 kPa (EN 60534-1).
    coarse = ValveTable((1.0, 2.0), (1.0, 40.0))
    network, total = assembled(manifold((150.0, 162.0)), 0.4)
    wanted = target_flows(network, total, "even")
    found, _ = nearer_positions(
        network, wanted, valve_settings(network, wanted, coarse), coarse, 0.02
    )
    assert found.position is not None
    assert found.position.tolist() == [1.0, 1.0]
    told = {f.code: f.message for f in valve_findings(network, wanted, found, coarse)}
    assert "small" not in told["valve_authority_high"]
    assert "choose a valve with finer ones" in told["valve_authority_high"]
