"""Correlations and indices against SciPy's, and against a function whose indices are known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from hydraulics.errors import InputError
from hydraulics.studies.cases import Sample
from hydraulics.studies.sensitivity import rank_correlation, sobol_indices


def ishigami(x: np.ndarray) -> np.ndarray:
    """Ishigami and Homma 1990, with a = 7 and b = 0.1, over -pi to pi."""
    return np.asarray(
        np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    )


def test_indices_of_the_ishigami_function_are_those_of_its_closed_form() -> None:
    # Its variance by parts, integrated by hand over the uniform distribution of each x:
    # V1 = (1 + b pi^4 / 5)^2 / 2, V2 = a^2 / 8, V13 = b^2 pi^8 (1/18 - 1/50), the rest 0.
    a, b = 7.0, 0.1
    v1 = 0.5 * (1.0 + b * np.pi**4 / 5.0) ** 2
    v2 = a**2 / 8.0
    v13 = b**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    whole = v1 + v2 + v13
    drawn = Sample("sensitivity", 4_096, 3, seed=1).drawn()
    found = sobol_indices(ishigami((2.0 * drawn - 1.0) * np.pi), 3)
    # Of 4,096 points the estimators err by some hundredths.
    assert found.first_order == pytest.approx([v1 / whole, v2 / whole, 0.0], abs=0.02)
    assert found.total == pytest.approx([(v1 + v13) / whole, v2 / whole, v13 / whole], abs=0.02)


def test_indices_are_those_of_scipy_of_the_same_rows() -> None:
    drawn = Sample("sensitivity", 256, 3, seed=5).drawn()
    values = ishigami((2.0 * drawn - 1.0) * np.pi)
    blocks = values.reshape(5, 1, 256)
    told: Any = {"f_A": blocks[0], "f_B": blocks[1], "f_AB": blocks[2:]}
    theirs = stats.sobol_indices(func=told, n=256)
    found = sobol_indices(values, 3)
    assert found.first_order == pytest.approx(np.ravel(theirs.first_order), rel=1e-9)
    assert found.total == pytest.approx(np.ravel(theirs.total_order), rel=1e-9)


def test_a_result_that_never_changes_depends_on_nothing() -> None:
    found = sobol_indices(np.full(40, 2.5), 3)
    assert np.isnan(found.first_order).all()
    assert np.isnan(found.total).all()
    assert np.isnan(rank_correlation(np.random.default_rng(1).random((9, 2)), np.ones(9))).all()


def test_indices_want_the_result_of_every_case() -> None:
    values = np.ones(40)
    values[[3, 7]] = np.nan
    with pytest.raises(InputError, match="2 of 40 cases"):
        sobol_indices(values, 3)


def test_rank_correlation_is_that_of_scipy_with_ties_and_without_cases_that_failed() -> None:
    random = np.random.default_rng(2)
    inputs = random.integers(0, 5, (80, 3)).astype(float)
    result = inputs @ [2.0, -1.0, 0.0] + random.normal(0.0, 1.0, 80)
    result[::7] = np.nan
    there = np.isfinite(result)
    found = rank_correlation(inputs, result)
    for quantity in range(3):
        theirs = stats.spearmanr(inputs[there, quantity], result[there]).statistic
        assert found[quantity] == pytest.approx(theirs, abs=1e-12)


def test_one_case_correlates_with_nothing() -> None:
    assert np.isnan(rank_correlation([[1.0, 2.0]], [3.0])).all()
