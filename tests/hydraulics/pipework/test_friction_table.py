"""The table of the friction law against the law itself."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.pipework.friction import (
    LAMINAR_LIMIT,
    LARGEST_CURVATURE,
    LARGEST_RELATIVE_ROUGHNESS,
    TURBULENT_LIMIT,
    friction_number,
)
from hydraulics.pipework.friction_table import (
    INTERVALS,
    REYNOLDS_FLOOR,
    cubic_bank,
    friction_cubics,
    friction_per_reynolds,
)

DENSE = np.geomspace(1e-3, 1e8, 120_001)


def table_error(roughness: float, curvature: float) -> float:
    number, _ = friction_per_reynolds(DENSE, cubic_bank(((roughness, curvature),)), 0)
    law, _ = friction_number(DENSE, roughness, curvature)
    return float(np.abs(number * DENSE / law - 1.0).max())


@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, 1e-3, LARGEST_RELATIVE_ROUGHNESS])
def test_straight_pipe_by_table_is_the_law_to_nine_digits(roughness: float) -> None:
    assert table_error(roughness, 0.0) < 1e-9


@pytest.mark.parametrize("curvature", [0.009, 0.013, 0.026, 0.05, 0.1, LARGEST_CURVATURE])
@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, 1e-4])
def test_smooth_coils_of_110_bores_and_less_by_table_are_the_law_within_1e_6(
    roughness: float, curvature: float
) -> None:
    assert table_error(roughness, curvature) < 1e-6


@pytest.mark.parametrize("curvature", np.geomspace(1e-6, LARGEST_CURVATURE, 25).tolist())
@pytest.mark.parametrize("roughness", [0.0, 1e-3, LARGEST_RELATIVE_ROUGHNESS])
def test_any_coil_by_table_is_the_law_within_a_thousandth(
    roughness: float, curvature: float
) -> None:
    # A hundredth of what the correlations themselves are known to.
    assert table_error(roughness, curvature) < 1e-3


@pytest.mark.parametrize("curvature", [0.0, 1e-5, 1e-4, 1e-3, 0.005, 0.026, 0.1])
@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, LARGEST_RELATIVE_ROUGHNESS])
def test_pressure_by_table_rises_strictly_with_flow(roughness: float, curvature: float) -> None:
    reynolds = np.geomspace(1e-9, 1e9, 100_001)
    number, slope = friction_per_reynolds(reynolds, cubic_bank(((roughness, curvature),)), 0)
    assert (np.diff(number * reynolds) > 0.0).all()
    assert slope.min() > 1.0 - 1e-9  # rounding


@given(
    st.floats(-5.0, 8.0).map(lambda power: 10.0**power),
    st.sampled_from([0.0, 5.8e-5, 0.05]),
    st.sampled_from([0.0, 1e-4, 0.005, 0.026, 0.1]),
)
def test_the_slope_is_exactly_that_of_the_table(
    reynolds: float, roughness: float, curvature: float
) -> None:
    bank = cubic_bank(((roughness, curvature),))
    step = 1e-6
    around = np.array([reynolds * np.exp(-step), reynolds, reynolds * np.exp(step)])
    number, slope = friction_per_reynolds(around, bank, 0)
    measured = np.log(number[2] * around[2] / (number[0] * around[0])) / (2 * step)
    # Rounding over the step, and the change of slope across it where a coil turns sharply.
    assert abs(measured - slope[1]) <= 1e-8 + abs(slope[2] - slope[0])


def test_zero_flow_has_the_laminar_value_and_slope() -> None:
    reynolds = np.array([0.0, 1e-30, 1e-9, 0.5 * REYNOLDS_FLOOR, REYNOLDS_FLOOR])
    for curvature in (0.0, 0.026):
        number, slope = friction_per_reynolds(reynolds, cubic_bank(((0.0, curvature),)), 0)
        assert number == pytest.approx(64.0, rel=1e-6)  # the excess of coils at Re 0.001
        assert slope == pytest.approx(1.0, abs=1e-6)


def test_value_and_slope_meet_where_the_table_begins_and_at_the_band_of_transition() -> None:
    for edge in (REYNOLDS_FLOOR, LAMINAR_LIMIT, TURBULENT_LIMIT):
        for curvature in (0.0, 0.026):
            around = np.array([edge * (1 - 1e-12), edge * (1 + 1e-12)])
            number, slope = friction_per_reynolds(around, cubic_bank(((1e-4, curvature),)), 0)
            assert number[0] == pytest.approx(number[1], rel=1e-10)
            assert slope[0] == pytest.approx(slope[1], rel=1e-8)


def test_tables_stacked_in_one_bank_do_not_mix() -> None:
    kinds = ((0.0, 0.0), (1e-3, 0.0), (5.8e-5, 0.026))
    bank = cubic_bank(kinds)
    reynolds = np.array([8000.0, 8000.0, 8000.0])
    number, _ = friction_per_reynolds(reynolds, bank, np.arange(3) * INTERVALS)
    law = [float(friction_number(reynolds[:1], *kind)[0][0]) / 8000.0 for kind in kinds]
    assert number.tolist() == pytest.approx(law, rel=1e-9)


def test_a_table_cannot_be_changed_by_whoever_uses_it() -> None:
    with pytest.raises(ValueError, match="read-only"):
        friction_cubics(0.0, 0.0)[0, 0] = 1.0
