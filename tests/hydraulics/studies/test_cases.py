"""Cases follow from their number, and samples from their seed."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from hydraulics.errors import InputError
from hydraulics.studies.cases import Method, Sample, case_count, rows_of


def test_cases_of_a_grid_are_the_product_of_its_axes() -> None:
    sizes = (3, 1, 4)
    every = list(product(*map(range, sizes)))
    assert case_count(sizes) == len(every) == 12
    assert rows_of(range(12), sizes).tolist() == [list(each) for each in every]
    assert rows_of([7, 2, 9], sizes).tolist() == [list(every[each]) for each in (7, 2, 9)]


def test_a_latin_hypercube_has_one_point_in_every_layer_of_every_quantity() -> None:
    drawn = Sample("latin_hypercube", 50, 3, seed=4).drawn()
    for column in drawn.T:
        assert sorted(np.floor(column * 50).astype(int)) == list(range(50))


def test_a_sobol_sample_has_one_point_in_every_layer_of_a_power_of_two() -> None:
    drawn = Sample("sobol", 64, 3, seed=4).drawn()
    for column in drawn.T:
        assert sorted(np.floor(column * 64).astype(int)) == list(range(64))


def test_rows_of_a_sensitivity_sample_change_one_quantity_at_a_time() -> None:
    sample = Sample("sensitivity", 8, 3, seed=1)
    blocks = sample.drawn().reshape(5, 8, 3)
    a, b = blocks[:2]
    assert sample.rows == 40
    assert not np.any(a == b)
    for quantity, mixed in enumerate(blocks[2:]):
        expected = a.copy()
        expected[:, quantity] = b[:, quantity]
        assert np.array_equal(mixed, expected)


@pytest.mark.parametrize("method", ["latin_hypercube", "sobol", "sensitivity"])
def test_a_seed_gives_one_sample_and_another_seed_another(method: Method) -> None:
    one, again, other = (Sample(method, 16, 2, seed).drawn() for seed in (7, 7, 8))
    assert np.array_equal(one, again)
    assert not np.any(one == other)
    assert one.min() >= 0.0
    assert one.max() < 1.0


def test_a_sequence_that_would_be_uneven_is_refused_with_the_nearest_that_is_not() -> None:
    with pytest.raises(InputError, match="a power of two, as 1,024"):
        Sample("sobol", 1_000, 2, seed=1)
    with pytest.raises(InputError, match="give 1 or more"):
        Sample("latin_hypercube", 0, 2, seed=1)
