"""The convolution is that of the sums that define it, and needs no package for signals."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from scipy.signal import convolve

from hydraulics.ground.convolution import convolved

RNG = np.random.default_rng(5)


@pytest.mark.parametrize(("one", "other"), [(1, 1), (1, 7), (5, 3), (600, 600), (1_201, 13)])
def test_numbers_in_a_row_are_multiplied_and_added(one: int, other: int) -> None:
    # Against NumPy's sums, which use no transform.
    a, b = RNG.normal(size=one), RNG.normal(size=other)
    scale = np.abs(a).sum() * np.abs(b).max()
    assert convolved(a, b) == pytest.approx(np.convolve(a, b), abs=1e-14 * scale)


def test_columns_have_a_row_in_common() -> None:
    a, b = RNG.normal(size=(24, 1)), RNG.normal(size=(24, 5))
    by_column = np.stack([np.convolve(a[:, 0], column) for column in b.T], axis=1)
    assert convolved(a, b) == pytest.approx(by_column, abs=1e-12)


@pytest.mark.parametrize("shape", [(1, 9), (9, 1), (6, 11)])
def test_a_plane_is_convolved_both_ways(shape: tuple[int, int]) -> None:
    # Against SciPy's direct sums.
    a = RNG.integers(0, 2, shape).astype(float)
    b = a[::-1, ::-1]
    assert convolved(a, b, (0, 1)) == pytest.approx(convolve(a, b, method="direct"), abs=1e-11)


def test_sizing_a_field_loads_no_package_for_signals() -> None:
    code = """
import json, sys
from api import create_app
from api.contract.examples import FOLDER
job = json.loads((FOLDER / "examples" / "slate-row-from-load.json").read_text("utf-8"))
assert create_app().test_client().post("/v1/sizing", json=job).status_code == 200
assert not {"scipy.signal", "scipy.stats"} & set(sys.modules)
"""
    subprocess.run([sys.executable, "-c", code], check=True)
