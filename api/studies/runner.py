"""Who computes the cases of the studies that are waiting? A process beside the service's workers.

It takes hold of one study after the other, hands parts of it to the engine (Dask: in this process,
or the cluster that the settings name) and writes each part's rows in one transaction. Whatever is
killed, what lacks a row is computed again by whoever takes the study next.
"""

from __future__ import annotations

import fcntl
import logging
import os
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import IO, Final

from sqlalchemy.exc import SQLAlchemyError

from api.settings import Settings, settings_from_environment
from api.studies.engines import Engine, EngineLostError, engine_of, took_down
from api.studies.folder import LOCK, folder_of
from api.studies.rows import Computed
from api.studies.store import HoldLostError, Store, Study, runner_name

_log = logging.getLogger("evenloop.studies")

HOLD: Final = 15.0
"""How long a study stays a runner's that gives no sign of life [s]."""
_PART: Final = 1.5  # s of one process that a part of a study is to take
_FIRST: Final = 8  # cases of a part while their cost is not known
_MOST: Final = 20_000  # cases of a part
_AHEAD: Final = 2  # parts under way for each thread of the engine
_IDLE: Final = 20.0  # s without work after which a runner ends
_MINUTE: Final = 60.0
_LONGEST_WAIT: Final = 30.0  # s between tries where store or cluster cannot be reached


@dataclass(slots=True)
class _Pace:
    """What cases cost, and how many were done of late."""

    cost: float = 0.0  # s a case
    done: int = 0
    last: deque[tuple[float, int]] = field(default_factory=lambda: deque([(time.monotonic(), 0)]))

    def count(self, part: Computed) -> float:
        """Take note of a part, and tell the rate [cases/s]."""
        each = part.seconds / max(1, len(part.rows))
        self.cost = each if self.cost == 0.0 else 0.5 * (self.cost + each)
        self.done += len(part.rows)
        now = time.monotonic()
        self.last.append((now, self.done))
        while now - self.last[0][0] > _MINUTE and len(self.last) > 2:
            self.last.popleft()
        began, before = self.last[0]
        return (self.done - before) / max(now - began, 1e-3)

    def size(self, left: int, threads: int) -> int:
        """Cases of the next part: so many as take a second or two, with some left for all."""
        if self.cost == 0.0:
            return _FIRST
        fair = -(-left // (2 * threads))
        return max(1, min(int(_PART / self.cost), _MOST, fair))


def run_study(  # noqa: PLR0917
    store: Store,
    study: Study,
    engine: Engine,
    runner: str,
    limits: Settings,
    told: Callable[[int, int], None] = lambda _done, _failed: None,
    hold: float = HOLD,
) -> None:
    """Compute what a study lacks, and finish it.

    Parameters
    ----------
    store, study
        The study, which the runner has taken hold of.
    engine
        What computes it.
    runner
        Name of the runner.
    limits
        The service's settings.
    told
        Called with the cases done and failed after each part that was kept.
    hold
        How long the hold lasts without a sign of life [s].

    Raises
    ------
    HoldLostError
        The study was cancelled or deleted, or is another runner's.
    EngineLostError
        The engine was lost.
    """
    # Only the limits travel to the cluster, nothing that is to be kept to the service.
    limits = replace(limits, api_keys="", database_url="", dask_scheduler="")
    gaps = deque(store.lacking(study))
    left = sum(count for _, count in gaps)
    pace, under_way, threads = _Pace(), 0, engine.threads
    rate: float | None = None
    renewed = time.monotonic()
    try:
        while left:
            while gaps and under_way < _AHEAD * threads:
                first, count = gaps.popleft()
                some = min(count, pace.size(left, threads))
                if some < count:
                    gaps.appendleft((first + some, count - some))
                engine.begin(study.document, (first, some), limits)
                under_way += 1
            for (first, count), found in engine.done(hold / 5.0):
                under_way -= 1
                if found is None and count > 1:  # smaller, until what takes it down is alone
                    gaps += [(first, count // 2), (first + count // 2, count - count // 2)]
                    continue
                part = found or took_down(RuntimeError("the case took its process down"))
                rate = pace.count(part)
                store.keep(study, runner, hold, rate, first, part.rows)
                renewed = time.monotonic()
                left -= count
                told(count, sum(status != 200 for status, _ in part.rows))
            if time.monotonic() - renewed > hold / 3.0:
                store.keep(study, runner, hold, rate, 0, ())
                renewed, threads = time.monotonic(), engine.threads
        store.finish(study, runner)
    finally:
        engine.drop()


def run(settings: Settings, idle: float = _IDLE, hold: float = HOLD) -> None:
    """Run studies until there are none to run.

    Parameters
    ----------
    settings
        The service's settings.
    idle
        How long it waits for another study before it ends [s].
    hold
        How long a hold lasts without a sign of life [s].
    """
    store: Store | None = None
    engine: Engine | None = None
    faults = 0
    until = time.monotonic() + idle
    while True:
        try:
            if store is None:
                store = Store(settings)
                store.forget_old()
            me = runner_name(store.folder)
            study = store.take(me, hold)
            if study is None:
                # Another may have one; if it dies, its hold ends and the study is this one's.
                if time.monotonic() > until and not store.is_waited_for():
                    break
                time.sleep(min(0.5, hold / 5.0))
                continue
            if engine is None:
                engine = engine_of(settings)
            _log.info("study begins", extra={"study": study.id, "cases": study.cases - study.done})
            run_study(store, study, engine, me, settings, hold=hold)
            _log.info("study is finished", extra={"study": study.id})
            faults = 0
            until = time.monotonic() + idle
        except HoldLostError:
            continue
        except Exception as error:
            faults += 1
            expected = isinstance(error, (SQLAlchemyError, OSError, EngineLostError))
            said = "studies wait, to be tried again: %s"
            _log.warning(said, str(error)[:500], exc_info=None if expected else error)
            store, engine = _closed(store, engine)
            time.sleep(min(0.25 * 2.0**faults, _LONGEST_WAIT))
    _closed(store, engine)


def _closed(store: Store | None, engine: Engine | None) -> tuple[None, None]:
    for each in (store, engine):
        if each is not None:
            each.close()
    return None, None


def main(service: int, beginning: int | None = None) -> None:
    """Be the one runner of this machine's folder of studies, while the service lives.

    Parameters
    ----------
    service
        Process of the service.
    beginning
        Open file that keeps others from beginning a runner, until this one looks for studies.
    """
    from api.service.request_log import start_logging  # noqa: PLC0415

    settings = settings_from_environment()
    start_logging(settings)
    logging.getLogger("distributed").setLevel("ERROR")
    os.nice(10)

    threading.Thread(target=_end_with, args=(service,), daemon=True).start()
    folder = folder_of(settings)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if beginning is not None:
        os.close(beginning)
    while True:
        with (folder / LOCK).open("a", encoding="utf-8") as lock:
            if not _taken(lock):
                return  # another runs them, and looks once more before it ends
            run(settings)
        # Accepted between the last look and now: whoever began a runner for it found the lock held.
        store = Store(settings)
        waited_for = store.is_waited_for()
        store.close()
        if not waited_for:
            return


def _taken(lock: IO[str]) -> bool:
    """Whether the lock is this process's; who only looks whether it is held lets go at once."""
    for _ in range(5):
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            time.sleep(0.05)
        else:
            return True
    return False


def _end_with(service: int) -> None:
    """End this process once the service is gone; what it had under way is computed again."""
    while True:
        time.sleep(1.0)
        try:
            os.kill(service, 0)
        except ProcessLookupError:
            os._exit(0)
        except PermissionError:  # it lives, as another user's
            continue


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
