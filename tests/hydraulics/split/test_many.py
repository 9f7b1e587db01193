"""Many arrays at once against each by itself, and against arrays that are built anew."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.fluid.mixture import Fluid, fluid, mixture
from hydraulics.layout.circuit import ARRANGEMENTS, Arrangement, Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import Slinky, Straight
from hydraulics.pipework.fittings import Fitting
from hydraulics.pipework.pipe import Pipe, pe_pipe
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.many import joined_alike, solve_many, stacked, varied
from hydraulics.split.solver import solve
from tests.hydraulics.random_arrays import WildArrays, named_apart

P63 = pe_pipe("PE100 SDR11 63")
Three = tuple[Fluid, Fluid, Fluid]


def brine(strength: float, mean: float) -> Three:
    """To the ground, in the loops, from the ground."""
    mix = mixture("propylene_glycol", strength, "mass")
    return fluid(mix, mean - 2.0), fluid(mix, mean), fluid(mix, mean + 2.0)


FLUIDS, THICK = brine(0.25, -1.0), brine(0.35, -4.0)


def array(
    arrangement: Arrangement, lengths: list[float], bore: float = 0.026, count: int = 2
) -> Circuit:
    """Loops of straight pipe and a slinky, one on a run, valves on the first."""
    header = None if arrangement == "manifold" else P63
    pipe = Pipe("P", bore, bore + 0.006)
    loops = [
        Loop(f"T{i}", pipe, (Straight(length), Slinky(20, 1.0, 0.8)))
        for i, length in enumerate(lengths)
    ]
    ball = Fitting(coefficient=2.0, count=count).loss(bore)
    route = (Run(P63, 12.0, Fitting(coefficient=0.4, count=4).loss(P63.bore)),)
    return Circuit(
        arrangement,
        (
            Branch(loops[0], 3.0 if header else 0.0, fittings=ball),
            *(Branch(each, 4.0 if header else 0.0) for each in loops[1:-1]),
            Branch(loops[-1], 4.0 if header else 0.0, runs=route),
        ),
        header,
    )


def assert_each_as_alone(networks: list[Network], totals: list[float]) -> None:
    many = solve_many(stacked(networks), np.asarray(totals))
    for number, (network, total) in enumerate(zip(networks, totals, strict=True)):
        alone, one = solve(network, total), many.one(number)
        scale = max(total, 1e-300)
        assert one.flow == pytest.approx(alone.flow, rel=1e-9, abs=1e-9 * scale)
        assert one.array_drop == pytest.approx(alone.array_drop, rel=1e-9)
        assert one.run_drop == pytest.approx(alone.run_drop, rel=1e-9)
        assert one.element_drop == pytest.approx(
            alone.element_drop, rel=1e-9, abs=1e-9 * alone.array_drop
        )
        assert one.energy_residual <= 1e-6
        assert one.mass_residual <= 1e-9
        assert one.iterations == alone.iterations


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_many_arrays_at_once_are_each_as_alone(arrangement: Arrangement) -> None:
    draw = np.random.default_rng(5)
    networks, totals = [], []
    for number in range(30):
        lengths = draw.uniform(1.0, 400.0, 7).tolist()
        circuit = array(arrangement, lengths, draw.uniform(0.01, 0.05), int(draw.integers(1, 90)))
        networks.append(assemble(circuit, Plant(), THICK if number % 3 else FLUIDS))
        totals.append(0.0 if number == 4 else float(10 ** draw.uniform(-6.0, 1.5)))
    assert len({joined_alike(each) for each in networks}) == 1
    assert_each_as_alone(networks, totals)


@given(st.integers(0, 100_000))
@settings(max_examples=25)
def test_nested_arrays_with_other_flows_are_each_as_alone(seed: int) -> None:
    circuit = named_apart(WildArrays(seed).circuit(2))
    network = assemble(circuit, Plant(), FLUIDS)
    usual = 2e-4 * len(network.loops) * FLUIDS[1].density
    totals = [factor * usual for factor in (0.01, 1.0, 0.3, 4.0)]
    other = replace(network, laminar=network.laminar * 1.2)
    try:
        for each in (network, other):
            for total in totals:
                solve(each, total)
    except Exception:
        return
    assert_each_as_alone([network, other, network, other], totals)


def test_an_array_does_not_depend_on_those_beside_it() -> None:
    draw = np.random.default_rng(2)
    network = assemble(array("reverse_return", [50.0, 80.0, 60.0, 90.0]), Plant(), FLUIDS)
    totals = 10 ** draw.uniform(-4.0, 1.0, 700)  # more than are solved at once
    lengths = network.length * draw.uniform(0.5, 2.0, (700, network.length.size))
    first = solve_many(varied(network, lengths=lengths), totals)
    order = draw.permutation(700)
    second = solve_many(varied(network, lengths=lengths[order]), totals[order])
    assert second.flow == pytest.approx(first.flow[order], rel=1e-12, abs=1e-12 * totals.max())
    assert (second.iterations == first.iterations[order]).all()
    assert len(set(first.iterations.tolist())) > 1


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_variants_are_the_arrays_built_anew(arrangement: Arrangement) -> None:
    lengths = [60.0, 75.0, 70.0]
    network = assemble(array(arrangement, lengths), Plant(), FLUIDS)
    wide, narrow = network.bore.copy(), network.bore.copy()
    in_loops = slice(0, network.loop_of.size)
    wide[in_loops], narrow[in_loops] = 0.030, 0.022
    more = np.ones(network.square.size)
    more[network.loop_rows[0]] = 3.0
    other_lengths = network.length.copy()
    of_tails = np.flatnonzero(~network.coiled[in_loops])
    other_lengths[of_tails] += [40.0, -5.0, 11.0]

    changed = varied(
        network,
        fluids=[FLUIDS, THICK],
        fluid_of=np.asarray([0, 1, 0, 0, 0]),
        lengths=np.stack([network.length, network.length, other_lengths, *[network.length] * 2]),
        bores=np.stack([network.bore, network.bore, network.bore, wide, narrow]),
        losses=np.stack([np.ones_like(more)] * 4 + [more]),
    )
    totals = np.asarray([0.4, 0.5, 0.6, 0.9, 0.3])
    found = solve_many(changed, totals)
    # Loss coefficients of the valve are told for its bore: written anew for the wider pipe they
    # would be others, so that arrays of another bore are told the same Pa at the same flow.
    anew = [
        (array(arrangement, lengths), FLUIDS),
        (array(arrangement, lengths), THICK),
        (array(arrangement, [100.0, 70.0, 81.0]), FLUIDS),
        (_of_bore(array(arrangement, lengths), 0.030), FLUIDS),
        (_of_bore(array(arrangement, lengths, count=6), 0.022), FLUIDS),
    ]
    for number, (circuit, fluids) in enumerate(anew):
        alone = solve(assemble(circuit, Plant(), fluids), float(totals[number]))
        one = found.one(number)
        assert one.flow == pytest.approx(alone.flow, rel=1e-9, abs=1e-12)
        assert one.array_drop == pytest.approx(alone.array_drop, rel=1e-9)


def _of_bore(circuit: Circuit, bore: float) -> Circuit:
    """The same array, its losses too, with loops of another bore."""
    branches = []
    for branch in circuit.branches:
        loop = branch.item
        assert isinstance(loop, Loop)
        pipe = replace(loop.pipe, bore=bore)
        branches.append(replace(branch, item=Loop(loop.name, pipe, loop.legs)))
    return replace(circuit, branches=tuple(branches))


def test_arrays_that_are_joined_otherwise_are_not_alike() -> None:
    kinds = [
        array("manifold", [50.0, 60.0]),
        array("manifold", [50.0, 60.0, 70.0]),
        array("direct_return", [50.0, 60.0]),
        array("reverse_return", [50.0, 60.0]),
        Circuit("manifold", (Branch(array("manifold", [50.0, 60.0])),)),
    ]
    assert len({joined_alike(assemble(each, Plant(), FLUIDS)) for each in kinds}) == len(kinds)
