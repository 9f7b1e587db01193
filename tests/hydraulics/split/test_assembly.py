"""A layout as rows, carriers and elements: nothing lost, nothing added."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import Arrangement, Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Slinky, Straight
from hydraulics.layout.walk import headers_of, loop_count
from hydraulics.pipework.fittings import loss_from_kv
from hydraulics.split.assembly import FROM_GROUND, IN_LOOP, TO_GROUND, assemble
from tests.hydraulics.random_arrays import P32, P40, P50, P63, circuits
from tests.reference_networks import pipes_of

BRINE = mixture("propylene_glycol", 0.25, "mass")
SIDES = (fluid(BRINE, -3.0), fluid(BRINE, -1.5), fluid(BRINE, 0.0))


def loop(name: str = "T") -> Loop:
    return Loop(name, P32, (Straight(10.0),))


@given(circuits())
def test_every_pipe_that_a_second_reader_finds_is_there_once(circuit: Circuit) -> None:
    network = assemble(circuit, Plant(), SIDES)
    links, _ = pipes_of(circuit)
    for side in (TO_GROUND, IN_LOOP, FROM_GROUND):
        ours = zip(network.bore, network.length, network.curvature, network.side, strict=True)
        mine = sorted((b, x, c) for b, x, c, s in ours if s == side and x > 0.0)
        theirs = sorted(
            (k.pipe.bore, k.length, k.pipe.bore / k.coil_diameter)
            for k in links
            if k.side == side and k.length > 0.0
        )
        assert len(mine) == len(theirs)
        assert np.asarray(mine) == pytest.approx(np.asarray(theirs))


@given(circuits())
def test_there_are_as_many_rows_loops_and_places_as_branches(circuit: Circuit) -> None:
    network = assemble(circuit, Plant(), SIDES)
    assert len(network.loops) == loop_count(circuit)
    assert len(network.names) == len(network.places) == len(network.loop_rows)
    assert len(set(network.loop_rows.tolist())) == len(network.loops)
    assert network.levels[0].lo == 0
    assert network.levels[-1].hi == network.rows
    assert int(network.owner.max()) <= 3 * network.rows


def test_reynolds_and_laminar_drop_are_those_of_the_side_and_the_parallel_pipes() -> None:
    double = Loop("D", P32, (BoreholeU(50.0, u_tubes=2),))
    network = assemble(
        Circuit("manifold", (Branch(double, runs=(Run(P40, 6.0),)),)), Plant(), SIDES
    )
    flow = 0.02
    for element in range(3):
        brine = SIDES[network.side[element]]
        each = flow / network.parallel[element]
        bore = network.bore[element]
        # Definitions: Re = 4 m/(pi d mu), Hagen-Poiseuille dp = 128 mu L Q/(pi d^4).
        assert network.reynolds_per_flow[element] * flow == pytest.approx(
            4 * each / (np.pi * bore * brine.viscosity)
        )
        assert network.laminar[element] * flow * 64.0 == pytest.approx(
            128 * brine.viscosity * network.length[element] * (each / brine.density)
            / (np.pi * bore**4)
        )  # fmt: skip


def test_fittings_of_loops_and_ports_are_told_from_those_of_runs() -> None:
    valve, port, run, plant = (loss_from_kv(kv) for kv in (4.0, 6.0, 9.0, 12.0))
    item = Loop("T", P32, (Straight(10.0, fittings=valve),))
    circuit = Circuit("manifold", (Branch(item, runs=(Run(P40, 6.0, run),), fittings=port),))
    network = assemble(circuit, Plant(None, (Run(P50, 1.0, run),), plant), SIDES)
    density = SIDES[1].density
    assert network.loop_square[0] == pytest.approx((valve.square + port.square) / density)
    assert network.square[0] == pytest.approx((valve.square + port.square + run.square) / density)
    assert network.square[3] == pytest.approx((run.square + plant.square) / density)


def returns(circuit: Circuit) -> dict[int, tuple[float, float]]:
    """Bore and length of each stretch of return header of a single-level circuit."""
    network = assemble(circuit, Plant(), SIDES)
    first = network.rows if circuit.arrangement == "direct_return" else 2 * network.rows
    return {
        int(owner) - first: (float(bore), float(length))
        for owner, bore, length, side in zip(
            network.owner, network.bore, network.length, network.side, strict=True
        )
        if side == FROM_GROUND
    }


STEPPED = (
    Branch(loop("A"), 10.0),
    Branch(loop("B"), 5.0, header_pipe=P50),
    Branch(loop("C"), 6.0, header_pipe=P40),
)


def test_the_return_beside_a_stepped_direct_return_steps_with_it() -> None:
    assert returns(Circuit("direct_return", STEPPED, P63)) == {
        0: (P63.bore, 10.0), 1: (P50.bore, 5.0), 2: (P40.bore, 6.0),
    }  # fmt: skip


def test_the_return_of_a_stepped_reverse_return_is_its_mirror_image() -> None:
    # The stretch after A gathers one branch and is as the stretch before C, which feeds one.
    assert returns(Circuit("reverse_return", STEPPED, P63, 25.0)) == {
        0: (P40.bore, 5.0), 1: (P50.bore, 6.0), 2: (P63.bore, 25.0),
    }  # fmt: skip


def test_a_named_return_pipe_is_that_of_one_stretch() -> None:
    named = (STEPPED[0], Branch(loop("B"), 5.0, return_header_pipe=P40), Branch(loop("C"), 6.0))
    assert returns(Circuit("direct_return", named, P63)) == {
        0: (P63.bore, 10.0), 1: (P40.bore, 5.0), 2: (P63.bore, 6.0),
    }  # fmt: skip
    # Beside the stretch to B lies the one after A; the closing run is named with A.
    assert returns(Circuit("reverse_return", named, P63, 9.0)) == {
        0: (P40.bore, 5.0), 1: (P63.bore, 6.0), 2: (P63.bore, 9.0),
    }  # fmt: skip
    closing = (Branch(loop("A"), 10.0, return_header_pipe=P40), *named[1:])
    assert returns(Circuit("reverse_return", closing, P63, 9.0))[2] == (P40.bore, 9.0)


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_naming_the_return_pipe_that_is_implied_changes_nothing(arrangement: Arrangement) -> None:
    closing = 9.0 if arrangement == "reverse_return" else 0.0
    plain = Circuit(arrangement, STEPPED, P63, closing)
    implied = [pipe for pipe, _ in headers_of(plain).back]
    if arrangement == "reverse_return":
        implied = [implied[-1], *implied[:-1]]
    for number, pipe in enumerate(implied):
        branches = list(STEPPED)
        branches[number] = replace(branches[number], return_header_pipe=pipe)
        assert headers_of(Circuit(arrangement, tuple(branches), P63, closing)) == headers_of(plain)


def test_no_stretch_of_return_goes_missing_where_only_branches_name_the_pipe() -> None:
    named = (
        Branch(loop("A"), 10.0, header_pipe=P63),
        Branch(loop("B"), 5.0, return_header_pipe=P40),
        Branch(loop("C"), 6.0),
    )
    assert returns(Circuit("direct_return", named)) == {
        0: (P63.bore, 10.0), 1: (P40.bore, 5.0), 2: (P63.bore, 6.0),
    }  # fmt: skip
    assert set(returns(Circuit("reverse_return", named, None, 9.0))) == {0, 1, 2}


def test_a_header_length_stands_before_every_copy_of_a_counted_branch() -> None:
    circuit = Circuit("direct_return", (Branch(loop(), 4.0, count=3),), P63)
    network = assemble(circuit, Plant(), SIDES)
    ahead = network.length[(network.owner >= 3) & (network.side == TO_GROUND)]
    assert ahead.tolist() == [4.0, 4.0, 4.0]
    assert network.names == ("T-1", "T-2", "T-3")


def test_equal_pipes_share_a_friction_table_and_others_have_their_own() -> None:
    alike = Circuit("manifold", (Branch(loop(), count=50),))
    assert len(set(assemble(alike, Plant(), SIDES).first_block.tolist())) == 1
    coils = [
        Branch(Loop(f"K{i}", P32, (Slinky(5, 1.0 + 0.01 * i, 1.0, False),))) for i in range(25)
    ]
    unlike = assemble(Circuit("manifold", tuple(coils)), Plant(), SIDES)
    assert len(set(unlike.first_block.tolist())) == 25
