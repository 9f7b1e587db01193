"""How far is every checked number from its outside source? A plugin that prints a table.

    python -m pytest -p tests.measured tests/published

Each test of tests/published says by what tolerance it may miss; this prints by how much it does:
the largest difference of each test, relative and absolute, over all values that it compared by
``pytest.approx`` or NumPy's ``assert_allclose``. docs/validation.md takes its figures from here.
"""

from __future__ import annotations

import os
from typing import Any

import numpy as np
import pytest

_approx: Any = pytest.approx
_assert_allclose: Any = np.testing.assert_allclose
_worst: dict[tuple[str, str], tuple[float, float, int]] = {}


class _Approx:
    """What ``pytest.approx`` returns, noting every comparison."""

    __array_ufunc__ = None  # so that NumPy leaves the comparison to us
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, expected: Any, *args: Any, **options: Any) -> None:
        self.expected = expected
        self.inner = _approx(expected, *args, **options)

    def __eq__(self, actual: object) -> bool:
        _note(actual, self.expected)
        return bool(actual == self.inner)

    def __repr__(self) -> str:
        return repr(self.inner)


def _numbers(value: Any) -> list[float]:
    if isinstance(value, dict):
        return [number for key in sorted(value) for number in _numbers(value[key])]
    if isinstance(value, list | tuple):
        return [number for item in value for number in _numbers(item)]
    try:
        return [float(item) for item in np.asarray(value, dtype=float).ravel()]
    except (TypeError, ValueError):
        return []


def _note(actual: Any, expected: Any) -> None:
    ours, theirs = _numbers(actual), _numbers(expected)
    if not ours or len(ours) != len(theirs):
        return
    file, _, name = os.environ.get("PYTEST_CURRENT_TEST", "").partition("::")
    key = file.rsplit("/", 1)[-1], name.split(" ")[0].split("[")[0]
    relative, absolute, count = _worst.get(key, (0.0, 0.0, 0))
    for a, b in zip(ours, theirs, strict=True):
        relative = max(relative, abs(a - b) / abs(b) if b else 0.0)
        absolute = max(absolute, abs(a - b))
        count += 1
    _worst[key] = relative, absolute, count


def _noted_allclose(actual: Any, desired: Any, *args: Any, **options: Any) -> None:
    _note(actual, desired)
    _assert_allclose(actual, desired, *args, **options)


pytest.approx = _Approx  # type: ignore[assignment]
np.testing.assert_allclose = _noted_allclose


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the table after the run."""
    terminalreporter.section("largest difference from the source, test by test")
    for (file, name), (relative, absolute, count) in _worst.items():
        terminalreporter.write_line(
            f"{file:44} {100 * relative:10.3g} %  {absolute:10.3g} abs  {count:4d} values  {name}"
        )
