"""Settings for all tests.

Hypothesis measures no time, since a loaded machine is no fault. It draws new examples on every run
but in CI, where a submission is judged by the same examples every time.
"""

from __future__ import annotations

import gc
import os
import tempfile
from collections.abc import Generator

# Before NumPy is loaded: the engine's matrices are small, and threads of BLAS that fight over two
# cores make them many times slower.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Studies of applications that name no folder are kept here, and thrown away at the end.
os.environ["XDG_STATE_HOME"] = tempfile.mkdtemp(prefix="evenloop-tests-")

import pytest
from hypothesis import settings

settings.register_profile(
    "evenloop", deadline=None, max_examples=40, print_blob=True, derandomize="CI" in os.environ
)
settings.load_profile("evenloop")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Keep the collector of garbage from looking through thousands of tests that all stay.

    It took a third of the time that making them takes.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put what waits for a browser or a service first, so that the other workers compute meanwhile.

    Each worker begins with its own part of the list and takes of the other's end when it is done.
    """
    items.sort(key=lambda item: not item.nodeid.startswith(("tests/browser/", "tests/load/")))
