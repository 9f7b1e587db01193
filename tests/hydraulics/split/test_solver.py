"""The solver: closes mass and energy, unique, ordered, symmetric, robust, linear in size."""

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from hydraulics.errors import NoSolutionError
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import ARRANGEMENTS, Arrangement, Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import Slinky, Straight
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import loss_from_kv
from hydraulics.pipework.pipe import Pipe, pe_pipes
from hydraulics.split.assembly import IN_LOOP, Network, assemble
from hydraulics.split.drops import drops_at, header_drops, port_drops
from hydraulics.split.many import pressures_at
from hydraulics.split.solver import first_guess, solve, solve_at
from hydraulics.split.state import Solution
from tests.hydraulics.random_arrays import (
    P32,
    P40,
    P63,
    WildArrays,
    circuits,
    flows_per_loop,
    loops,
)

BRINE = mixture("propylene_glycol", 0.25, "mass")
SIDES = (fluid(BRINE, -3.0), fluid(BRINE, -1.5), fluid(BRINE, 0.0))
MASS, ENERGY = 1e-9, 1e-6  # of the total flow and the array's drop: the design's bars

arrangements = st.sampled_from(ARRANGEMENTS)


def solved(circuit: Circuit, total: float) -> tuple[Network, Solution, NDArray[np.float64]]:
    network = assemble(circuit, Plant(), SIDES)
    solution = solve(network, total)
    return network, solution, solution.flow[network.loop_rows]


def straight(name: str, length: float, pipe: Pipe = P32) -> Loop:
    return Loop(name, pipe, (Straight(length),))


def field(
    arrangement: Arrangement, own: list[Loop], spacing: float = 5.0, header: Pipe = P63
) -> Circuit:
    headers = arrangement != "manifold"
    return Circuit(
        arrangement,
        tuple(Branch(loop, header_length=spacing if headers else 0.0) for loop in own),
        header if headers else None,
        spacing if arrangement == "reverse_return" else 0.0,
    )


def path_drops(network: Network, solution: Solution) -> NDArray[np.float64]:
    """Drop from the array's start to its end by way of each loop, from the parts of the result."""
    inside = np.where(network.side == IN_LOOP, solution.element_drop, 0.0)
    pipes = np.bincount(network.owner, inside, 3 * network.rows + 1)[: network.rows]
    whole = pipes + port_drops(network, solution) + header_drops(network, solution)
    return np.asarray(whole[network.loop_rows])


def assert_closed(network: Network, solution: Solution) -> None:
    assert solution.mass_residual <= MASS
    assert solution.energy_residual <= ENERGY
    # The same from the results, not from the solver's own residuals.
    flow = solution.flow[network.loop_rows]
    assert abs(flow.sum() - solution.total) <= MASS * solution.total
    paths = path_drops(network, solution)
    assert np.abs(paths - solution.array_drop).max() <= ENERGY * solution.array_drop


# --------------------------------------------------------------------------------- conservation


@given(circuits(), flows_per_loop)
def test_mass_and_energy_close_by_way_of_every_loop(circuit: Circuit, per_loop: float) -> None:
    network = assemble(circuit, Plant(), SIDES)
    solution = solve(network, per_loop * len(network.loops))
    assert_closed(network, solution)


@pytest.mark.parametrize("seed", range(4))
def test_hundreds_of_wild_nested_arrays_all_converge(seed: int) -> None:
    print(f"seed {seed}")  # shown by pytest where the test fails
    arrays = WildArrays(seed)
    most = 0
    for number in range(60):
        circuit = arrays.circuit(arrays.draw.randint(0, 4))
        total = 10 ** arrays.draw.uniform(-4, 2)
        network = assemble(circuit, Plant(), SIDES)
        solution = solve(network, total)
        assert solution.mass_residual <= MASS, number
        assert solution.energy_residual <= ENERGY, number
        paths = path_drops(network, solution)
        assert np.abs(paths / solution.array_drop - 1.0).max() <= 2 * ENERGY, number
        most = max(most, solution.iterations)
    assert most <= 60  # far from the solver's own end at 200


@given(circuits(), flows_per_loop, st.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_the_answer_does_not_depend_on_where_the_search_starts(
    circuit: Circuit, per_loop: float, seed: int
) -> None:
    network = assemble(circuit, Plant(), SIDES)
    total = per_loop * len(network.loops)
    usual = solve(network, total)
    rng = np.random.default_rng(seed)
    start = first_guess(network, total)
    for level in network.levels:  # any flows that conserve mass, some backwards
        for first, count in zip(level.starts, level.counts, strict=True):
            rows = slice(level.lo + first, level.lo + first + count)
            due = total
            if level.parents.size:
                due = start[level.parents[list(level.starts).index(first)]]
            start[rows] = rng.normal(0.0, 2.0, count) * per_loop
            start[rows.stop - 1] += due - start[rows].sum()
    other = solve(network, total, start=start)
    assert other.flow[: network.rows] == pytest.approx(
        usual.flow[: network.rows], rel=1e-6, abs=1e-9 * total
    )


# ------------------------------------------------------------------------------ what must follow


@given(arrangements, loops(), st.integers(1, 40), flows_per_loop)
def test_equal_loops_at_a_manifold_get_equal_flow(
    arrangement: Arrangement, loop: Loop, number: int, per_loop: float
) -> None:
    # Equal in any arrangement where the headers have no length.
    circuit = field(arrangement, [loop] * number, spacing=0.0)
    _, _, flows = solved(circuit, per_loop * number)
    assert flows == pytest.approx(per_loop, rel=1e-9)


@given(arrangements, st.lists(loops(), min_size=2, max_size=6), st.data(), flows_per_loop)
def test_lengthening_a_loop_never_raises_its_flow(
    arrangement: Arrangement, own: list[Loop], data: st.DataObject, per_loop: float
) -> None:
    which = data.draw(st.integers(0, len(own) - 1))
    more = data.draw(st.floats(0.1, 200.0))
    total = per_loop * len(own)
    _, before, flows = solved(field(arrangement, own), total)
    longer = list(own)
    longer[which] = replace(own[which], legs=(*own[which].legs, Straight(more)))
    _, after, new_flows = solved(field(arrangement, longer), total)
    assert new_flows[which] < flows[which]
    assert after.array_drop > before.array_drop


@given(st.lists(loops(), min_size=2, max_size=8), st.randoms(), flows_per_loop)
def test_the_order_of_branches_in_a_manifold_does_not_matter(
    own: list[Loop], shuffle: random.Random, per_loop: float
) -> None:
    order = list(range(len(own)))
    shuffle.shuffle(order)
    total = per_loop * len(own)
    _, one, flows = solved(field("manifold", own), total)
    _, other, shuffled = solved(field("manifold", [own[i] for i in order]), total)
    assert shuffled == pytest.approx(flows[order], rel=1e-8)
    assert other.array_drop == pytest.approx(one.array_drop, rel=1e-9)


@given(circuits(), flows_per_loop)
def test_equal_branches_given_by_count_are_as_if_written_out(
    circuit: Circuit, per_loop: float
) -> None:
    def written_out(of: Circuit) -> Circuit:
        branches: list[Branch] = []
        for branch in of.branches:
            item = branch.item
            item = written_out(item) if isinstance(item, Circuit) else item
            branches += [replace(branch, item=item, count=1)] * branch.count
        return replace(of, branches=tuple(branches))

    one = assemble(circuit, Plant(), SIDES)
    other = assemble(written_out(circuit), Plant(), SIDES)
    total = per_loop * len(one.loops)
    assert len(one.loops) == len(other.loops)
    a, b = solve(one, total), solve(other, total)
    assert a.flow[one.loop_rows] == pytest.approx(b.flow[other.loop_rows], rel=1e-9)
    assert a.array_drop == pytest.approx(b.array_drop, rel=1e-9)


@given(st.lists(loops(), min_size=1, max_size=6), flows_per_loop)
def test_twice_the_loops_at_a_manifold_with_twice_the_flow_drop_the_same(
    own: list[Loop], per_loop: float
) -> None:
    total = per_loop * len(own)
    _, one, flows = solved(field("manifold", own), total)
    _, two, doubled = solved(field("manifold", own + own), 2 * total)
    assert two.array_drop == pytest.approx(one.array_drop, rel=1e-9)
    assert doubled == pytest.approx(np.tile(flows, 2), rel=1e-8)


@given(loops(), st.integers(2, 12), st.floats(0.5, 20.0), flows_per_loop)
def test_a_reverse_return_of_equal_loops_is_symmetric_end_to_end(
    loop: Loop, number: int, spacing: float, per_loop: float
) -> None:
    # Only with one fluid on both sides.
    circuit = field("reverse_return", [loop] * number, spacing)
    network = assemble(circuit, Plant(), (SIDES[1],) * 3)
    solution = solve(network, per_loop * number)
    flows = solution.flow[network.loop_rows]
    assert flows == pytest.approx(flows[::-1], rel=1e-8, abs=1e-10 * solution.total)
    # The middle is starved, the ends are not.
    assert flows[number // 2] <= flows[0] * (1 + 1e-9)


@given(st.integers(2, 15), flows_per_loop)
def test_direct_return_of_equal_loops_starves_each_loop_more_than_the_one_before(
    number: int, per_loop: float
) -> None:
    _, _, flows = solved(field("direct_return", [straight("T", 100.0)] * number), per_loop * number)
    assert (np.diff(flows) < 0).all()


@given(circuits(), flows_per_loop, st.floats(1.001, 3.0))
def test_more_flow_takes_more_pressure(circuit: Circuit, per_loop: float, more: float) -> None:
    network = assemble(circuit, Plant(), SIDES)
    total = per_loop * len(network.loops)
    here, there = solve(network, total), solve(network, more * total)
    # Pressure rises at least as flow does, and at most as the steepest law, the power 3.5
    # at which smooth pipe goes through transition.
    ratio = there.array_drop / here.array_drop
    assert more * (1 - 1e-8) <= ratio <= more**3.6


# ----------------------------------------------------------------------------- each input counts

VALVE = loss_from_kv(9.0)
BASE = Circuit(
    "direct_return",
    (
        Branch(
            Loop("A", P32, (Straight(40.0, fittings=VALVE), Slinky(20, 1.0, 1.0))),
            header_length=8.0,
            runs=(Run(P40, 6.0, loss_from_kv(20.0)),),
            fittings=loss_from_kv(15.0),
        ),
        Branch(straight("B", 90.0), header_length=12.0),
    ),
    P63,
)
ROUGH = replace(P32, roughness=5e-4)


def first_branch(**changes: object) -> Circuit:
    return replace(BASE, branches=(replace(BASE.branches[0], **changes), BASE.branches[1]))  # type: ignore[arg-type]


def first_loop(**changes: object) -> Circuit:
    return first_branch(item=replace(BASE.branches[0].item, **changes))  # type: ignore[arg-type]


VARIED = {
    "bore": first_loop(pipe=P40),
    "roughness": first_loop(pipe=ROUGH),
    "straight length": first_loop(legs=(Straight(41.0, fittings=VALVE), Slinky(20, 1.0, 1.0))),
    "coils": first_loop(legs=(Straight(40.0, fittings=VALVE), Slinky(21, 1.0, 1.0))),
    "coil diameter": first_loop(legs=(Straight(40.0, fittings=VALVE), Slinky(20, 1.1, 1.0))),
    "pitch": first_loop(legs=(Straight(40.0, fittings=VALVE), Slinky(20, 1.0, 1.1))),
    "return alongside": first_loop(
        legs=(Straight(40.0, fittings=VALVE), Slinky(20, 1.0, 1.0, False))
    ),
    "loop fittings": first_loop(
        legs=(Straight(40.0, fittings=loss_from_kv(8.0)), Slinky(20, 1.0, 1.0))
    ),
    "port fittings": first_branch(fittings=loss_from_kv(14.0)),
    "run length": first_branch(runs=(Run(P40, 7.0, loss_from_kv(20.0)),)),
    "run pipe": first_branch(runs=(Run(P63, 6.0, loss_from_kv(20.0)),)),
    "run fittings": first_branch(runs=(Run(P40, 6.0, loss_from_kv(18.0)),)),
    "header length": first_branch(header_length=9.0),
    "header pipe": first_branch(header_pipe=P40),
    "return header pipe": first_branch(return_header_pipe=P40),
    "count": first_branch(count=2),
    "arrangement": replace(BASE, arrangement="reverse_return"),
    "closing length": replace(BASE, arrangement="reverse_return", closing_length=30.0),
}


@pytest.mark.parametrize("name", VARIED)
def test_every_input_of_a_layout_moves_the_drop(name: str) -> None:
    # Turbulent everywhere, so that roughness counts: 1.4 kg/s through two loops.
    warm = (fluid(BRINE, 20.0),) * 3
    before = solve(assemble(BASE, Plant(), warm), 1.4).array_drop
    if name == "closing length":
        before = solve(assemble(VARIED["arrangement"], Plant(), warm), 1.4).array_drop
    after = solve(assemble(VARIED[name], Plant(), warm), 1.4).array_drop
    assert abs(after / before - 1.0) > 1e-5


@pytest.mark.parametrize("side", [0, 1, 2])
def test_the_temperature_of_each_side_moves_the_drop_of_that_side(side: int) -> None:
    fluids = list(SIDES)
    fluids[side] = fluid(BRINE, 8.0)
    one, other = assemble(BASE, Plant(), SIDES), assemble(BASE, Plant(), tuple(fluids))  # type: ignore[arg-type]
    branch = np.array([0.4, 0.3])
    before = drops_at(one, branch, 0.7).element_drop
    after = drops_at(other, branch, 0.7).element_drop
    moved = before != after
    assert moved.any()
    assert (moved == (one.side == side)).all()


# ------------------------------------------------------------------------------------- extremes


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_nothing_flows_at_no_flow(arrangement: Arrangement) -> None:
    network, solution, flows = solved(field(arrangement, [straight("A", 9), straight("B", 5)]), 0.0)
    assert flows.tolist() == [0.0, 0.0]
    assert solution.array_drop == 0.0
    # From nothing on, pressure is in proportion to flow: no limit is divided by zero.
    tiny, less = solve(network, 1e-12), solve(network, 1e-200)
    assert tiny.array_drop > 0.0
    assert less.array_drop == pytest.approx(tiny.array_drop * 1e-188, rel=1e-9)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_one_loop_takes_all(arrangement: Arrangement) -> None:
    network, solution, flows = solved(field(arrangement, [straight("A", 100.0)]), 0.3)
    assert flows.tolist() == [0.3]
    assert_closed(network, solution)


@pytest.mark.parametrize("total", [1e-9, 1e-3, 1.0, 100.0])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_a_two_millimetre_bore_beside_a_hundred_millimetre_one(
    arrangement: Arrangement, total: float
) -> None:
    own = [
        straight("thin", 500.0, Pipe("2 mm", 0.002, 0.004)),
        straight("wide", 0.5, Pipe("100 mm", 0.1, 0.11)),
        straight("thin too", 500.0, Pipe("2 mm", 0.002, 0.004)),
    ]
    network, solution, flows = solved(field(arrangement, own), total)
    assert_closed(network, solution)
    assert flows[1] > 0.99 * total
    assert (flows > 0).all()


@pytest.mark.parametrize("length", [0.0, 40.0, 400.0])
def test_flows_behind_a_long_run_are_known_as_well_as_without_it(length: float) -> None:
    # The run takes up to 99 % of the array's drop, by which alone the flows would be known to 1e-8.
    draw = random.Random(7)
    for _ in range(40):
        own = [
            straight(f"T{i}", draw.uniform(5.0, 60.0), draw.choice([P32, P40])) for i in range(3)
        ]
        inner = Circuit("manifold", tuple(Branch(each) for each in own))
        network = assemble(
            Circuit("manifold", (Branch(inner, runs=(Run(P40, length),)),)), Plant(), SIDES
        )
        total = draw.uniform(0.2, 4.0)
        stopped, exact = solve(network, total), solve(network, total, tolerance=1e-14)
        assert stopped.flow[network.loop_rows] == pytest.approx(
            exact.flow[network.loop_rows], rel=1e-9
        )


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_ten_thousand_loops(arrangement: Arrangement) -> None:
    own = [straight(f"T{i}", 100.0 + i % 7) for i in range(10_000)]
    wide = Pipe("wide", 1.5, 1.6)
    network, solution, flows = solved(field(arrangement, own, 0.5, wide), 3000.0)
    assert_closed(network, solution)
    assert solution.iterations < 30
    assert len(flows) == 10_000


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_headers_far_too_small_still_solve(arrangement: Arrangement) -> None:
    own = [straight(f"T{i}", 20.0) for i in range(200)]
    network, solution, flows = solved(field(arrangement, own, 10.0, P32), 20.0)
    assert_closed(network, solution)
    # The far loops get nothing but rounding.
    assert (flows > -1e-12 * 20.0).all()


def test_circuits_in_circuits_eight_deep() -> None:
    item: Loop | Circuit = straight("core", 50.0)
    for depth in range(8):
        arrangement = ARRANGEMENTS[depth % 3]
        beside = Branch(straight(f"T{depth}", 80.0), header_length=5.0 * (depth % 3 > 0))
        item = Circuit(
            arrangement,
            (Branch(item, runs=(Run(P40, 3.0),)), beside),
            P63 if depth % 3 else None,
            name=f"D{depth}",
        )
    assert isinstance(item, Circuit)
    network, solution, flows = solved(item, 2.0)
    assert len(network.levels) == 8
    assert len(flows) == 9
    assert_closed(network, solution)


def test_another_loop_of_a_pipe_that_no_other_has_leaves_the_answer_as_it_is() -> None:
    kinds = [pipe for pipe in pe_pipes() if "PE100" in pipe.name][:12]
    few = [
        Loop(f"T{i}", pipe, (Straight(60.0), Slinky(5, 1.3, 1.0))) for i, pipe in enumerate(kinds)
    ]
    _, without, flows = solved(field("manifold", few), 6.0)
    # It carries next to nothing: laminar, (1e-4/0.02)⁴ of what a loop of 20 mm bore would.
    needle = Loop("needle", Pipe("needle", 1e-4, 1e-3), (Straight(1000.0),))
    network, solution, more = solved(field("manifold", [*few, needle]), 6.0)
    assert more[:-1] == pytest.approx(flows, rel=1e-8)
    assert solution.array_drop == pytest.approx(without.array_drop, rel=1e-8)
    assert_closed(network, solution)
    assert solve(network, 0.0).array_drop == 0.0


def test_flow_runs_backwards_where_a_header_drops_more_than_a_loop() -> None:
    # An H between two fat loops: the branch between unequal headers may run either way, and the
    # solution must say so rather than stop. Reverse return whose return header is a needle.
    needle = Pipe("needle", 0.004, 0.006)
    circuit = Circuit(
        "reverse_return",
        (
            Branch(straight("A", 1.0), 1.0),
            Branch(straight("B", 300.0, needle), 40.0, return_header_pipe=needle),
            Branch(straight("C", 1.0), 40.0, return_header_pipe=P63),
        ),
        P63,
        1.0,
    )
    network, solution, flows = solved(circuit, 0.5)
    assert_closed(network, solution)
    assert flows.sum() == pytest.approx(0.5)


# ------------------------------------------------------------------------- the ring and the curve


@given(circuits(), st.floats(100.0, 2e5))
def test_closing_the_ring_with_a_pressure_finds_the_flow_that_takes_it(
    circuit: Circuit, pressure: float
) -> None:
    network = assemble(circuit, Plant(), SIDES)
    ring = solve(network, 0.1, outer=lambda _: (-pressure, 0.0))
    assert ring.array_drop == pytest.approx(pressure, rel=1e-8)
    again = solve(network, ring.total)
    assert again.array_drop == pytest.approx(pressure, rel=1e-7)


@given(circuits(), flows_per_loop)
@settings(max_examples=40)
def test_solving_along_a_curve_is_as_solving_each_point_alone(
    circuit: Circuit, per_loop: float
) -> None:
    network = assemble(circuit, Plant(), SIDES)
    total = per_loop * len(network.loops)
    totals = [0.9 * total, 0.6 * total, 0.2 * total, 1.5 * total]
    along = solve_at(network, totals, solve(network, total))
    for at, found in zip(totals, along, strict=True):
        alone = solve(network, at)
        assert found.array_drop == pytest.approx(alone.array_drop, rel=1e-6)  # stops at 1e-7
        assert found.total == at


PLANT = Plant(Exchanger((1e-3,), (12e3,)), (Run(P40, 12.0),))


@pytest.mark.parametrize("seed", range(40))
def test_many_flows_at_once_are_as_each_alone(seed: int) -> None:
    network = assemble(WildArrays(seed).circuit(seed % 4), PLANT, SIDES)
    total = 0.1 * len(network.loops)
    totals = total * np.linspace(0.2, 1.5, 5)
    together, flows = pressures_at(network, totals, solve(network, total))
    for at, pressure, flow in zip(totals.tolist(), together.tolist(), flows, strict=True):
        alone = solve(network, at)
        assert flow == pytest.approx(alone.flow[network.loop_rows], abs=1e-5 * at)
        expected = alone.array_drop + alone.run_drop + alone.exchanger_drop
        assert pressure == pytest.approx(expected, rel=2e-6)  # stops at 1e-7 of the least drop


def test_large_arrays_are_solved_at_one_flow_after_the_other_to_the_same_end() -> None:
    network = assemble(field("direct_return", [straight(f"T{i}", 90.0 + i % 9) for i in range(900)],
                             0.1), PLANT, SIDES)  # fmt: skip
    totals = np.asarray([40.0, 90.0, 60.0, 120.0, 20.0])
    together, flows = pressures_at(network, totals, solve(network, 80.0))
    for at, pressure, flow in zip(totals.tolist(), together.tolist(), flows, strict=True):
        alone = solve(network, at)
        assert flow == pytest.approx(alone.flow[network.loop_rows], abs=1e-5 * at)
        expected = alone.array_drop + alone.run_drop + alone.exchanger_drop
        assert pressure == pytest.approx(expected, rel=2e-6)


@pytest.mark.parametrize("length", [1e-12, 1e-100, 1e-300])
def test_pipes_that_differ_without_measure_are_solved_or_refused_but_never_answered_wrong(
    length: float,
) -> None:
    circuit = field("manifold", [straight("A", 1.0), straight("B", length)])
    network = assemble(circuit, Plant(), SIDES)
    refused = ""
    try:
        assert_closed(network, solve(network, 1.0))
    except NoSolutionError as error:
        refused = str(error)
    assert not refused or "double precision" in refused
