"""Spare pipe: lengths that even out the loops without cutting any."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.balancing.spare_pipe import spare_lengths, with_spare_pipe
from hydraulics.errors import InputError
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.duty import duty_fluids
from hydraulics.split.solver import solve
from hydraulics.split.target import target_flows
from tests.hydraulics.arrays import BRINE, arrays, direct_return, flow, manifold, nested

# The solver reads friction from a table of cubics, the lengths from the law itself: they agree
# within 1e-6, which the square root of a drop halves.
TABLE = 2e-6
SHARES = dict(zip(("ladder-1/A-1", "ladder-1/A-2", "ladder-1/B", "ladder-2/A-1", "ladder-2/A-2",
                   "ladder-2/B", "chamber/C"), range(7, 14), strict=True))  # fmt: skip


def assembled(circuit: Circuit, litres: float = 1.0) -> tuple[Network, float]:
    fluids = duty_fluids(BRINE, flow(litres))
    return assemble(circuit, Plant(), fluids), litres / 1e3 * fluids[1].density


@settings(max_examples=40, deadline=None)
@given(circuit=arrays, litres=st.floats(0.1, 4.0), coil=st.floats(0.3, 3.0))
def test_added_pipe_evens_out_the_array_and_never_shortens_a_loop(
    circuit: Circuit, litres: float, coil: float
) -> None:
    network, total = assembled(circuit, litres)
    added, _ = spare_lengths(network, "even", total, coil)
    assert (added >= 0.0).all()
    assert added.min() == 0.0
    longer, _ = assembled(with_spare_pipe(circuit, added, coil), litres)
    assert longer.names == network.names
    after = np.asarray([loop.length for loop in longer.loops])
    before = np.asarray([loop.length for loop in network.loops])
    assert after == pytest.approx(before + added)
    reached = solve(longer, total).flow[longer.loop_rows]
    assert reached == pytest.approx(np.full(len(added), total / len(added)), rel=TABLE)


@settings(max_examples=40, deadline=None)
@given(circuit=arrays, litres=st.floats(0.1, 4.0), coil=st.floats(0.3, 3.0))
def test_flow_by_length_counts_the_pipe_that_is_added(
    circuit: Circuit, litres: float, coil: float
) -> None:
    network, total = assembled(circuit, litres)
    added, found = spare_lengths(network, "length", total, coil)
    assert found
    assert (added >= 0.0).all()
    longer, _ = assembled(with_spare_pipe(circuit, added, coil), litres)
    reached = solve(longer, total).flow[longer.loop_rows]
    assert reached == pytest.approx(target_flows(longer, total, "length"), rel=TABLE)


def test_flow_by_length_is_found_where_a_coil_is_between_laminar_and_turbulent() -> None:
    # Friction rises steeply there: half steps ran past the lengths and never came near them.
    circuit = direct_return((300.0, 300.0, 23.84, 20.0, 20.0, 26.69), apart=15.0)
    network, total = assembled(circuit, 1.8190579646)
    added, found = spare_lengths(network, "length", total, 0.44631554)
    assert found
    longer, _ = assembled(with_spare_pipe(circuit, added, 0.44631554), 1.8190579646)
    reached = solve(longer, total).flow[longer.loop_rows]
    assert reached == pytest.approx(target_flows(longer, total, "length"), rel=TABLE)


def test_nested_circuits_with_counts_get_lengths_of_their_own() -> None:
    network, total = assembled(nested(), 1.5)
    wanted = target_flows(network, total, SHARES)
    added, _ = spare_lengths(network, SHARES, total, 1.0)
    longer, _ = assembled(with_spare_pipe(nested(), added, 1.0), 1.5)
    assert longer.names == network.names
    assert solve(longer, total).flow[longer.loop_rows] == pytest.approx(wanted, rel=TABLE)


def test_a_coil_takes_less_pipe_than_straight_spare_would() -> None:
    network, total = assembled(manifold((60.0, 120.0)), 0.5)
    added, _ = spare_lengths(network, "even", total, 1.0)
    # Straight pipe would need 60 m; the coil drops more per metre.
    assert 20.0 < added[0] < 60.0
    wide, _ = spare_lengths(network, "even", total, 1e6)
    assert wide[0] == pytest.approx(60.0, rel=1e-3)  # a coil of 1000 km is straight


def test_lengths_may_be_rounded_to_what_is_cut() -> None:
    network, total = assembled(direct_return((60.0, 90.0, 120.0)))
    exact, _ = spare_lengths(network, "even", total, 1.0)
    cut, _ = spare_lengths(network, "even", total, 1.0, 5.0)
    assert cut % 5.0 == pytest.approx(np.zeros(3))
    assert np.abs(cut - exact).max() <= 2.5


@pytest.mark.parametrize(
    ("coil", "step", "field"),
    [
        (0.1, 0.0, "coil_diameter"),
        (float("nan"), 0.0, "coil_diameter"),
        (float("inf"), 0.0, "coil_diameter"),
        (1.0, -1.0, "length_step"),
        (1.0, float("nan"), "length_step"),
    ],
)
def test_a_coil_or_step_that_cannot_be_is_refused(coil: float, step: float, field: str) -> None:
    network, total = assembled(manifold((60.0, 120.0)))
    with pytest.raises(InputError) as error:
        spare_lengths(network, "even", total, coil, step)
    assert error.value.faults[0].field == field


def test_spare_pipe_too_short_to_cut_is_none() -> None:
    # Loops that differ by a hundredth of a millimetre, and by a nanometre.
    for differ, added in ((1e-5, True), (1e-9, False)):
        network, total = assembled(manifold([100.0, 100.0 + differ]))
        assert bool(spare_lengths(network, "even", total, 1.0)[0][0] > 0.0) is added
