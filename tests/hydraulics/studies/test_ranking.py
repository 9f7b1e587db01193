"""The front is what no other case betters, as going through all pairs finds it."""

from __future__ import annotations

import numpy as np
import pytest

from hydraulics.studies.ranking import pareto_front, ranked


def bettered(costs: np.ndarray, case: int) -> bool:
    """The definition of dominance, pair by pair."""
    return any(all(other <= costs[case]) and any(other < costs[case]) for other in costs)


@pytest.mark.parametrize("columns", [1, 2, 3, 5])
@pytest.mark.parametrize("steps", [4, 1_000])  # with many equal values, and with next to none
def test_the_front_is_what_no_other_betters(columns: int, steps: int) -> None:
    costs = np.random.default_rng(columns).integers(0, steps, (120, columns)) / 7.0
    expected = [not bettered(costs, case) for case in range(len(costs))]
    assert pareto_front(costs).tolist() == expected


def test_a_case_without_a_result_is_not_on_the_front_and_betters_none() -> None:
    costs = [[1.0, np.nan], [2.0, 2.0], [np.nan, 0.0], [3.0, 3.0]]
    assert pareto_front(costs).tolist() == [False, True, False, False]
    assert not pareto_front([[np.nan, 1.0]]).any()


def test_scaling_a_cost_does_not_change_the_front() -> None:
    costs = np.random.default_rng(3).random((200, 3))
    assert np.array_equal(pareto_front(costs), pareto_front(costs * [1e-9, 1.0, 1e12]))


def test_the_best_comes_first_and_equal_cases_in_their_order() -> None:
    values = [3.0, np.nan, 1.0, 3.0, 2.0]
    assert ranked(values).tolist() == [2, 4, 0, 3]
    assert ranked(values, most_first=True).tolist() == [0, 3, 4, 2]
