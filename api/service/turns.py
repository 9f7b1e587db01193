"""Lets a few calculations run at once, a few more wait, and turns the rest away at once.

Short calculations go one after the other: two at once would share one core and slow each other
down. Only beside one that takes longer may others begin. A longer queue would only answer those who
have given up.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from api.service.metrics import TURNED_AWAY, UNDER_WAY
from api.service.problems import ProblemError

_SHORT: Final = 0.25
"""Time that whoever comes next waits before another calculation may begin beside it [s]."""


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
        self._next = threading.Semaphore(1)
        self._beside = threading.Semaphore(at_once - 1)
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
                raise self._refusal(
                    f"{self._most:,} calculations are under way or waiting in this worker, which is"
                    " all it takes on"
                )
            self._present += 1
        try:
            turn = self._wait()
            if turn is None:
                raise self._refusal(
                    f"No turn came within {self._longest_wait:g} s, which is the longest wait"
                )
            try:
                UNDER_WAY.inc()
                yield
            finally:
                UNDER_WAY.dec()
                turn.release()
        finally:
            with self._lock:
                self._present -= 1

    def _wait(self) -> threading.Semaphore | None:
        """Wait for a turn; None where none came in time."""
        end = time.monotonic() + self._longest_wait
        while (left := end - time.monotonic()) > 0.0:
            if self._next.acquire(timeout=min(left, _SHORT)):
                return self._next
            if self._beside.acquire(blocking=False):
                return self._beside
        return None

    @staticmethod
    def _refusal(why: str) -> ProblemError:
        TURNED_AWAY.labels("too-busy").inc()
        return ProblemError(
            "too-busy", f"{why}; this calculation was not begun.", headers={"Retry-After": "1"}
        )
