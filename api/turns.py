"""Lets a few calculations run at once, a few more wait, and turns the rest away at once.

More at once would only make all of them slower, since they share one core; a longer queue would
only answer those who have given up.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from api.metrics import TURNED_AWAY, UNDER_WAY
from api.problems import ProblemError


class Turns:
    """Turns of one worker process.

    Parameters
    ----------
    at_once
        Calculations under way at once.
    waiting
        Calculations that may wait.
    longest_wait
        Longest wait for a turn [s].
    """

    def __init__(self, at_once: int, waiting: int, longest_wait: float) -> None:
        self._free = threading.Semaphore(at_once)
        self._lock = threading.Lock()
        self._most = at_once + waiting
        self._present = 0
        self._longest_wait = longest_wait

    @property
    def full(self) -> bool:
        """Whether one more would be turned away now."""
        return self._present >= self._most

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for a turn and hold it; raises ProblemError (too-busy) where there is none."""
        with self._lock:
            if self.full:
                raise self._refusal()
            self._present += 1
        try:
            if not self._free.acquire(timeout=self._longest_wait):
                raise self._refusal()
            try:
                UNDER_WAY.inc()
                yield
            finally:
                UNDER_WAY.dec()
                self._free.release()
        finally:
            with self._lock:
                self._present -= 1

    def _refusal(self) -> ProblemError:
        TURNED_AWAY.labels("too-busy").inc()
        return ProblemError(
            "too-busy",
            f"{self._most:,} calculations are under way or waiting in this worker, which is all it "
            "takes on; this one was not begun.",
            headers={"Retry-After": "1"},
        )
