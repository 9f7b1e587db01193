"""Pressures along headers: they close with the drops of loops, by whichever way they are taken."""

from __future__ import annotations

import numpy as np
import pytest

from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import Straight
from hydraulics.pipework.fittings import loss_from_coefficient
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.header_pressures import header_pressures
from hydraulics.split.result import FlowSplit

PIPE, HEADER = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 63")
PORT = loss_from_coefficient(2.0, PIPE.bore)
ELBOWS = loss_from_coefficient(3.0, HEADER.bore)


def loops(count: int, prefix: str = "L") -> tuple[Branch, ...]:
    return tuple(
        Branch(Loop(f"{prefix}{i}", PIPE, (Straight(90.0 + 10.0 * i),)), 5.0 + i, fittings=PORT)
        for i in range(count)
    )


def solved(circuit: Circuit) -> FlowSplit:
    brine = mixture("propylene_glycol", 0.25, "mass")
    return flow_split(circuit, Plant(), brine, FlowDuty(8e-4, -3.0, 0.0))


def nested() -> Circuit:
    chamber = Circuit("direct_return", loops(3), HEADER, name="Chamber")
    run = Run(HEADER, 20.0, ELBOWS)
    return Circuit(
        "reverse_return",
        (
            Branch(chamber, 8.0, runs=(run,), fittings=ELBOWS, count=2),
            Branch(Loop("Own", PIPE, (Straight(150.0),)), 9.0, runs=(run,), fittings=PORT),
        ),
        HEADER,
        closing_length=30.0,
    )


@pytest.mark.parametrize(
    "circuit",
    [
        Circuit("direct_return", loops(5), HEADER),
        Circuit("reverse_return", loops(5), HEADER, closing_length=40.0),
        nested(),
    ],
    ids=["direct", "reverse", "nested"],
)
def test_pressure_across_every_loop_is_that_loops_own_drop(circuit: Circuit) -> None:
    result = solved(circuit)
    seen = []
    for each in header_pressures(circuit, result.network, result.solution):
        on = each.loops >= 0
        across = (each.far_supply - each.far_back)[on]
        # The split balances pressures to 1e-10 of the array's drop.
        assert across == pytest.approx(result.loops.drop[each.loops[on]], rel=1e-8)
        seen += each.loops[on].tolist()
    assert sorted(seen) == list(range(len(result.loops.names)))


def test_direct_return_loses_supply_and_gains_back_pressure_branch_by_branch() -> None:
    circuit = Circuit("direct_return", loops(5), HEADER)
    result = solved(circuit)
    (only,) = header_pressures(circuit, result.network, result.solution)
    assert (np.diff(only.supply) < 0.0).all()
    assert (np.diff(only.back) > 0.0).all()
    assert only.inlet == result.solution.array_drop
    assert only.supply_flow[0] == pytest.approx(result.solution.total, rel=1e-12)
    assert only.distance.tolist() == [5.0, 11.0, 18.0, 26.0, 35.0]


def test_reverse_return_loses_pressure_along_both_headers() -> None:
    circuit = Circuit("reverse_return", loops(5), HEADER, closing_length=40.0)
    result = solved(circuit)
    (only,) = header_pressures(circuit, result.network, result.solution)
    assert (np.diff(only.supply) < 0.0).all()
    assert (np.diff(only.back) < 0.0).all()
    assert only.back[-1] > 0.0  # the closing run
    assert only.return_flow[-1] == pytest.approx(result.solution.total, rel=1e-12)


def test_nested_circuits_stand_between_the_pressures_of_their_branch() -> None:
    circuit = nested()
    result = solved(circuit)
    root, first, second = header_pressures(circuit, result.network, result.solution)
    assert [first.name, second.name] == ["Chamber-1", "Chamber-2"]
    for number, each in enumerate((first, second)):
        assert (each.parent, each.parent_branch, each.depth) == (0, number, 1)
        assert root.supply[number] > each.inlet > each.outlet > root.back[number]
        assert each.flow.sum() == pytest.approx(root.flow[number], rel=1e-9)
