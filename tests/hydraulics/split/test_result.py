"""The result's shape: one value a loop in every column, and nothing that can be changed."""

from dataclasses import FrozenInstanceError, fields

import pytest

from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import Straight
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.result import REGIMES
from tests.hydraulics.random_arrays import P32

CIRCUIT = Circuit("manifold", (Branch(Loop("T", P32, (Straight(50.0),)), count=4),))
RESULT = flow_split(CIRCUIT, Plant(), mixture("ethanol", 0.2, "mass"), FlowDuty(8e-4, -2.0, 1.0))


def test_every_column_of_the_table_has_one_value_a_loop() -> None:
    for column in fields(RESULT.loops):
        assert len(getattr(RESULT.loops, column.name)) == 4, column.name


def test_regimes_are_numbered_by_rising_reynolds_number() -> None:
    assert REGIMES == ("laminar", "transitional", "turbulent")


def test_a_result_is_a_value() -> None:
    with pytest.raises(FrozenInstanceError):
        RESULT.heat = 0.0  # type: ignore[misc]
