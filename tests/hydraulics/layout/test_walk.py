"""Names of loops, one by one and of equal ones together."""

from hypothesis import given, settings

from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import standings, walk
from tests.hydraulics.random_arrays import circuits


@given(circuits())
@settings(max_examples=50, deadline=None)
def test_names_of_equal_loops_are_those_of_the_walk(circuit: Circuit) -> None:
    names = [name for each in standings(circuit) if each.loop for name in each.names]
    assert sorted(names) == sorted(walk(circuit).names)
