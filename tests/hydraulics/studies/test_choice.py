"""The case chosen is the one that going through all of them finds."""

from __future__ import annotations

from itertools import compress

import numpy as np
import pytest

from hydraulics.studies.choice import chosen


@pytest.mark.parametrize("seed", range(10))
def test_the_choice_is_that_of_an_exhaustive_search(seed: int) -> None:
    random = np.random.default_rng(seed)
    costs = random.integers(0, 30, 60).astype(float)
    costs[random.random(60) < 0.1] = np.nan
    kept = [random.random(60) < 0.5 for _ in range(3)]

    def best(limits: list[np.ndarray]) -> list[int]:
        able = [n for n in range(60) if costs[n] == costs[n] and all(each[n] for each in limits)]
        return sorted(able, key=lambda case: (costs[case], case))

    found = chosen(costs, kept)
    assert found.order.tolist() == best(kept)
    for number, without in enumerate(found.without):
        others = best(list(compress(kept, [n != number for n in range(3)])))
        assert without == (others[0] if others else None)
    assert found.kept == tuple(int(each.sum()) for each in kept)


def test_nothing_is_chosen_where_no_case_keeps_all_limits() -> None:
    found = chosen([1.0, 2.0], [np.array([True, False]), np.array([False, True])])
    assert found.order.size == 0
    assert found.without == (1, 0)
    assert chosen([np.nan], []).order.size == 0
