"""Ways to balance random nested arrays: what each writes out is what it solved."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from hydraulics.balancing.valves import valve_settings
from hydraulics.balancing.ways import BalancingPlan, balance
from hydraulics.layout.circuit import Branch, Circuit, Plant, Run
from hydraulics.layout.edit import one_by_one
from hydraulics.layout.walk import walk
from hydraulics.split.flow_split import flow_split
from hydraulics.split.target import target_flows
from tests.hydraulics.arrays import BRINE, P40, flow, manifold
from tests.hydraulics.random_arrays import circuits, named_apart

# Newton stops at 1e-10 of the array's drop; a second solution from another start differs by that.
# A loop that takes little of it is known to a fraction of the whole flow, not of its own.
SOLVER = 1e-9
Array = NDArray[np.float64]


def alike(flows: Array, *, rel: float = SOLVER) -> object:
    return pytest.approx(flows, rel=rel, abs=SOLVER * flows.sum())


# Lengths of spare pipe come from the law itself, flows from its table of cubics: they agree within
# 1e-6, which the square root of a drop halves.
TABLE = 2e-6


@settings(max_examples=30, deadline=None)
@given(circuit=circuits().map(named_apart), litres=st.floats(0.2, 4.0))
def test_every_way_written_out_and_split_by_itself_gives_its_flows(
    circuit: Circuit, litres: float
) -> None:
    split = flow_split(circuit, Plant(), BRINE, flow(litres))
    result = balance(split, circuit, Plant(), flow(litres), BalancingPlan())
    # The order of the layout: equal branches written out, by branch number from the outside in.
    single = walk(one_by_one(circuit))
    assert single.places == sorted(single.places)
    assert tuple(single.names) == result.names
    for way in result.ways:
        if way.reached is None:
            continue
        assert way.circuit is not None
        again = flow_split(way.circuit, Plant(), BRINE, flow(litres)).loops
        assert again.mass_flow == alike(way.reached.mass_flow)
        if way.kind in ("regulating_valves", "spare_pipe"):
            # A circuit that stands before a loop must not push the loops' order about.
            assert again.names == result.names
            tolerance = SOLVER if way.kind == "regulating_valves" else TABLE
            assert again.mass_flow == alike(result.target, rel=tolerance)


def test_authority_leaves_out_what_loops_share() -> None:
    # Authority by its definition: the valve's drop over that of the valve and of what it controls.
    # At one flow in each, the valve of the loop of half the length takes as much as that loop,
    # however long the run that both share.
    shared = Circuit("manifold", (Branch(manifold((100.0, 200.0)), runs=(Run(P40, 200.0),)),))
    network = flow_split(shared, Plant(), BRINE, flow(1.0)).network
    total = 1e-3 * network.fluids[1].density
    found = valve_settings(network, target_flows(network, total, "even"))
    assert np.asarray(found.authority) == pytest.approx(np.asarray([0.5, 0.0]), abs=1e-9)
