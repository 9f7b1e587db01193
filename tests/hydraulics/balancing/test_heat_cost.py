"""What an uneven split costs in heat."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.balancing.heat_cost import imbalance_heat, loop_heat, uneven_cost
from hydraulics.errors import InputError
from hydraulics.ground.pipe_heat import NUSSELT_UNIFORM_FLUX, PE_CONDUCTIVITY
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, Straight, TrenchPasses
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.duty import duty_fluids
from hydraulics.split.flow_split import flow_split
from tests.hydraulics.arrays import BRINE, P32, direct_return, flow, manifold, nested

GROUND: dict[str, Any] = {
    "entering_temperature": -3.0,
    "ground_temperature": 8.0,
    "ground_resistance": 0.25,
}


def assembled(circuit: Circuit, litres: float = 1.0) -> Network:
    return assemble(circuit, Plant(), duty_fluids(BRINE, flow(litres)))


def test_more_flow_brings_more_heat_and_a_colder_outlet() -> None:
    network = assembled(manifold((150.0, 150.0)))
    heat = loop_heat(network, np.array([0.1, 0.3]), **GROUND)
    assert heat.heat[1] > heat.heat[0]
    assert heat.leaving_temperature[1] < heat.leaving_temperature[0]
    assert (heat.leaving_temperature < 8.0).all()
    assert (heat.leaving_temperature > -3.0).all()


def test_heat_of_the_loops_is_that_of_the_mixed_return() -> None:
    network = assembled(nested())
    flows = np.linspace(0.1, 0.4, 7)
    heat = loop_heat(network, flows, **GROUND)
    c = network.fluids[1].specific_heat
    assert heat.total_heat == pytest.approx(flows.sum() * c * (heat.return_temperature + 3.0))
    assert heat.return_temperature == pytest.approx(
        (flows * heat.leaving_temperature).sum() / flows.sum()
    )


def test_a_laminar_loop_conducts_less_per_metre_and_is_marked() -> None:
    network = assembled(manifold((150.0, 150.0)))
    # Re about 800 and 8000 in 26 mm bore at -1.5 °C.
    heat = loop_heat(network, np.array([0.1, 1.0]), **GROUND)
    assert heat.laminar.tolist() == [True, False]
    assert heat.conductance_per_metre[0] < 0.9 * heat.conductance_per_metre[1]


def test_conductance_of_a_laminar_loop_by_hand() -> None:
    network = assembled(manifold((150.0,)))
    heat = loop_heat(network, np.array([0.1]), **GROUND)
    brine = network.fluids[1]
    film = 1.0 / (np.pi * brine.conductivity * NUSSELT_UNIFORM_FLUX)
    wall = np.log(32.0 / 26.0) / (2 * np.pi * PE_CONDUCTIVITY)
    assert heat.conductance[0] == pytest.approx(150.0 / (0.25 + wall + film))
    assert heat.ntu[0] == pytest.approx(heat.conductance[0] / (0.1 * brine.specific_heat))


def test_tails_gather_no_heat_where_something_else_does() -> None:
    """As the sizing has it; without anything else straight pipe gathers, and heaps last of all."""

    def conducts(*legs: Leg) -> float:
        circuit = Circuit("manifold", (Branch(Loop("L", P32, legs)),))
        return float(loop_heat(assembled(circuit), np.array([0.1]), **GROUND).conductance[0])

    alone = conducts(BoreholeU(100.0, 2))
    assert conducts(Straight(250.0), BoreholeU(100.0, 2), Straight(250.0)) == alone
    straight = conducts(TrenchPasses(50.0, 2))  # whose pipe is as straight as the tails'
    assert conducts(Straight(30.0), TrenchPasses(50.0, 2), Straight(30.0)) == straight
    assert conducts(Straight(60.0), Coiled(50.0, 1.0)) == pytest.approx(0.6 * straight)
    assert conducts(Coiled(50.0, 1.0)) > 0.0


def test_a_double_u_tube_conducts_through_both_tubes() -> None:
    def bore(tubes: int) -> Circuit:
        return Circuit("manifold", (Branch(Loop("B", P32, (BoreholeU(100.0, tubes),))),))

    # Laminar in both, so the film does not know that the flow is shared.
    single = loop_heat(assembled(bore(1)), np.array([0.1]), **GROUND)
    double = loop_heat(assembled(bore(2)), np.array([0.1]), **GROUND)
    assert double.conductance[0] == pytest.approx(2.0 * single.conductance[0])


def test_the_film_in_a_double_u_tube_is_that_of_half_the_flow() -> None:
    legs = (BoreholeU(100.0, 2),)
    double = assembled(Circuit("manifold", (Branch(Loop("B", P32, legs)),)))
    single = assembled(manifold((200.0,)))
    # Turbulent, where the film follows the Reynolds number.
    both = loop_heat(double, np.array([1.2]), **GROUND).conductance[0]
    one = loop_heat(single, np.array([0.6]), **GROUND).conductance[0]
    assert both == pytest.approx(2.0 * one)


def test_a_loop_that_stands_still_reaches_ground_temperature_and_gives_nothing() -> None:
    heat = loop_heat(assembled(manifold((150.0, 150.0))), np.array([0.0, 0.3]), **GROUND)
    assert heat.heat[0] == 0.0
    assert heat.leaving_temperature[0] == 8.0
    assert heat.effectiveness[0] == 1.0
    assert heat.return_temperature == pytest.approx(heat.leaving_temperature[1])


@settings(max_examples=60, deadline=None)
@given(
    parts=st.lists(st.floats(0.05, 1.0), min_size=2, max_size=8),
    length=st.floats(20.0, 400.0),
    resistance=st.floats(0.0, 1.0),
    ground=st.floats(-2.5, 30.0),
)
def test_equal_loops_in_one_regime_give_most_heat_when_their_flows_are_even(
    parts: list[float], length: float, resistance: float, ground: float
) -> None:
    # All laminar (the largest share is 0.1 kg/s, Re 800), so that UA does not change with flow.
    network = assembled(manifold([length] * len(parts)))
    uneven = np.asarray(parts) * 0.1
    even = np.full(len(parts), uneven.mean())
    given_ground = {**GROUND, "ground_temperature": ground, "ground_resistance": resistance}
    most = loop_heat(network, even, **given_ground).total_heat
    got = loop_heat(network, uneven, **given_ground).total_heat
    assert got <= most * (1.0 + 1e-12)


@settings(max_examples=60, deadline=None)
@given(factor=st.floats(1.01, 5.0), start=st.floats(0.02, 0.5))
def test_more_flow_never_means_less_heat(factor: float, start: float) -> None:
    network = assembled(manifold((120.0,)))
    less, more = (
        loop_heat(network, np.array([m]), **GROUND).total_heat for m in (start, start * factor)
    )
    assert more > less


@pytest.mark.parametrize("litres", [0.6, 6.0])  # laminar in every loop; turbulent in every loop
def test_imbalance_costs_heat_and_colder_brine(litres: float) -> None:
    split = flow_split(direct_return([120.0] * 6, apart=15.0), Plant(), BRINE, flow(litres))
    cost = imbalance_heat(split, **GROUND)
    assert cost.heat_lost > 0.0
    assert 0.0 < cost.share_lost < 0.2
    assert cost.actual.mass_flow == pytest.approx(split.loops.mass_flow)
    assert cost.heat_lost == pytest.approx(cost.target.total_heat - cost.actual.total_heat)
    # Brine colder by the cost takes from the same flows what an even split would have taken.
    again = imbalance_heat(
        split,
        entering_temperature=-3.0 - cost.temperature_cost,
        ground_temperature=8.0,
        ground_resistance=0.25,
    )
    assert again.actual.total_heat == pytest.approx(cost.target.total_heat)


def test_heat_put_into_the_ground_is_lost_with_the_same_sign() -> None:
    split = flow_split(direct_return([120.0] * 6, apart=15.0), Plant(), BRINE, flow(0.6))
    cost = imbalance_heat(
        split, entering_temperature=30.0, ground_temperature=12.0, ground_resistance=0.25
    )
    assert cost.actual.total_heat < 0.0
    assert cost.heat_lost > 0.0
    assert cost.share_lost > 0.0
    assert cost.temperature_cost > 0.0


def test_an_even_array_loses_nothing() -> None:
    split = flow_split(manifold([120.0] * 4), Plant(), BRINE, flow(1.0))
    cost = imbalance_heat(split, **GROUND)
    assert cost.heat_lost == pytest.approx(0.0, abs=1e-6)
    assert cost.temperature_cost == pytest.approx(0.0, abs=1e-9)


def test_where_an_even_split_is_laminar_throughout_an_uneven_one_can_carry_more() -> None:
    # In a good ground the film counts: past transition it gains more than the spread loses.
    network = assembled(manifold((60.0, 60.0)))
    even = loop_heat(network, np.array([0.26, 0.26]), **{**GROUND, "ground_resistance": 0.0})
    uneven = loop_heat(network, np.array([0.12, 0.40]), **{**GROUND, "ground_resistance": 0.0})
    assert even.laminar.all()
    assert uneven.laminar.tolist() == [True, False]
    assert uneven.total_heat > even.total_heat


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"ground_resistance": -0.1}, "ground_resistance"),
        ({"ground_resistance": float("nan")}, "ground_resistance"),
        ({"ground_temperature": float("inf")}, "ground_temperature_c"),
        ({"ground_temperature": -3.0}, "ground_temperature_c"),
        ({"entering_temperature": float("nan")}, "to_ground_temperature_c"),
        ({"pipe_conductivity": 0.0}, "pipe_conductivity"),
    ],
)
def test_a_number_that_cannot_be_is_refused_by_name(wrong: dict[str, Any], field: str) -> None:
    split = flow_split(manifold((100.0, 120.0)), Plant(), BRINE, flow(0.6))
    with pytest.raises(InputError) as error:
        imbalance_heat(split, **{**GROUND, **wrong})
    assert error.value.faults[0].field == field


def test_an_array_that_stands_still_has_no_heat_to_lose() -> None:
    split = flow_split(manifold((100.0, 120.0)), Plant(), BRINE, flow(0.0))
    with pytest.raises(InputError, match="nothing flows"):
        imbalance_heat(split, **GROUND)


def test_uneven_loops_cost_what_mixing_their_brine_by_hand_makes_it() -> None:
    """Laminar in every loop: 1 - exp(-UA/(m c)) of Kays & London, mixed by flow."""
    network = assembled(manifold((150.0, 150.0)))
    flow = np.array([0.03, 0.09])
    brine = network.fluids[1]
    film = 1.0 / (np.pi * brine.conductivity * NUSSELT_UNIFORM_FLUX)
    wall = np.log(32.0 / 26.0) / (2 * np.pi * PE_CONDUCTIVITY)
    units = 150.0 / (0.25 + wall + film) / (flow * brine.specific_heat)
    mixed = ((1.0 - np.exp(-units)) * flow).sum() / flow.sum()
    even = 1.0 - np.exp(-units[0] * flow[0] / 0.06)
    cost = uneven_cost(network, flow, **GROUND)
    assert cost == pytest.approx((8.0 - -3.0) * (even / mixed - 1.0))
    assert uneven_cost(network, np.array([0.06, 0.06]), **GROUND) == 0.0
    # Flow by length is as good as even flow of equal loops; even flow of unlike ones is not.
    unlike = assembled(manifold((50.0, 250.0)))
    by_length = uneven_cost(unlike, np.array([0.02, 0.10]), **GROUND)
    assert by_length == pytest.approx(0.0, abs=1e-9)
    assert uneven_cost(unlike, np.array([0.06, 0.06]), **GROUND) > 0.1


@settings(max_examples=60, deadline=None)
@given(
    parts=st.lists(st.one_of(st.just(0.0), st.floats(1e-3, 1.0)), min_size=2, max_size=8).filter(
        any
    ),
    lengths=st.lists(st.floats(20.0, 400.0), min_size=8, max_size=8),
)
def test_uneven_loops_never_gain(parts: list[float], lengths: list[float]) -> None:
    # Through laminar, transitional and turbulent flow: a better film is not credited.
    network = assembled(manifold(lengths[: len(parts)]))
    assert uneven_cost(network, np.asarray(parts), **GROUND) >= 0.0
