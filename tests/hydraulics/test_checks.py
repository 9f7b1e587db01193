"""Numbers that cannot be used are told with their unit and what is allowed."""

import math

import pytest

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import InputError


@pytest.mark.parametrize(
    ("value", "unit", "limits", "said"),
    [
        (0.0, "m", {"above": 0.0}, "is 0 m; give more than 0 m"),
        (-1.0, "m", {"at_least": 0.0}, "is -1 m; give at least 0 m"),
        (1.0, "", {"above": 1.0}, "is 1; give more than 1"),
        (math.inf, "K", {}, "is inf K; give a finite number"),
        (math.nan, "m", {"at_least": 0.0}, "is nan m; give at least 0 m"),
    ],
)
def test_a_number_beyond_its_limit_is_told(
    value: float, unit: str, limits: dict[str, float], said: str
) -> None:
    fault = number_fault("length", value, unit, **limits)
    assert fault is not None
    assert fault.message == said


def test_a_number_at_its_limit_and_one_not_told_are_no_faults() -> None:
    assert number_fault("length", 0.0, "m", at_least=0.0) is None
    assert number_fault("length", None, "m", above=0.0) is None


def test_all_faults_are_told_at_once() -> None:
    with pytest.raises(InputError) as caught:
        refuse(
            number_fault("a", -1.0, "m", above=0.0), None, number_fault("b", -1.0, "m", above=0.0)
        )
    assert [fault.field for fault in caught.value.faults] == ["a", "b"]
