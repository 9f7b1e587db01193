"""Ends a calculation that takes too long, and leaves the thread that ran it fit for the next.

A watch thread raises TimeLimitError in the thread of the overdue calculation, between two of its
instructions in Python. The engine's compiled parts run for milliseconds at a time, so this meets
it soon; one that never came back would be seen by :func:`overrun`, on which a production worker
stops reporting to its supervisor and is replaced. So is one in which a calculation was ended, once
it has answered what it has in hand: the end may have fallen anywhere, into a library too.
"""

from __future__ import annotations

import ctypes
import os
import threading
import time
from types import TracebackType
from typing import Final

_GRACE: Final = 2.0
"""Times its limit that a calculation may take before its worker counts as stuck."""

_TICK: Final = 0.1  # s; how exactly a limit is kept


class TimeLimitError(BaseException):
    """A calculation was ended; no Exception, so that no handler on the way takes it for its own."""


class time_limit:  # noqa: N801 (read as a statement: with time_limit(30.0): ...)
    """Raise TimeLimitError in the body of a with statement when it takes too long.

    Parameters
    ----------
    seconds
        How long the body may take [s].
    """

    __slots__ = ("due", "overdue", "seconds", "thread")

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.overdue = False

    def __enter__(self) -> None:
        self.thread = threading.get_ident()
        self.due = time.monotonic() + self.seconds
        _WATCH.add(self)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        _WATCH.remove(self)
        if self.overdue:
            # From here on the watch raises nothing more. What it raised and did not arrive yet is
            # called back, so that it cannot hit the next request of this thread.
            _raise_in(self.thread, None)
            if kind is not TimeLimitError:
                raise TimeLimitError


def _raise_in(thread: int, error: type[BaseException] | None) -> None:
    """Raise an error in another thread before its next instruction; None calls that back."""
    ctypes.pythonapi.PyThreadState_SetAsyncExc(
        ctypes.c_ulong(thread), None if error is None else ctypes.py_object(error)
    )


class _Watch:
    """The calculations under way, and the thread that looks at the clock."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._under_way: set[time_limit] = set()
        self._looking = False
        self.interruptions = 0

    def forget(self) -> None:
        """Begin anew in a forked process, where the parent's threads are not."""
        self.__init__()  # type: ignore[misc]

    def add(self, limit: time_limit) -> None:
        with self._lock:
            self._under_way.add(limit)
            if not self._looking:
                self._looking = True
                threading.Thread(target=self._look, name="time limit", daemon=True).start()

    def remove(self, limit: time_limit) -> None:
        with self._lock:
            self._under_way.discard(limit)

    def _look(self) -> None:
        while True:
            time.sleep(_TICK)
            now = time.monotonic()
            with self._lock:
                for each in self._under_way:
                    if now > each.due and not each.overdue:
                        each.overdue = True
                        self.interruptions += 1
                        _raise_in(each.thread, TimeLimitError)

    def overrun(self) -> bool:
        now = time.monotonic()
        with self._lock:
            return any(now > each.due + (_GRACE - 1.0) * each.seconds for each in self._under_way)


_WATCH: Final = _Watch()
os.register_at_fork(after_in_child=_WATCH.forget)


def interruptions() -> int:
    """Calculations of this process that were ended where they happened to be."""
    return _WATCH.interruptions


def overrun() -> bool:
    """Tell whether some calculation of this process goes on long after it should have ended."""
    return _WATCH.overrun()
