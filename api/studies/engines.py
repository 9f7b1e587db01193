"""What computes parts of studies: Dask within this process, or on a cluster."""

from __future__ import annotations

from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, ThreadPoolExecutor, wait
from contextlib import suppress
from typing import Any, Final, Protocol

import orjson

from api.service.problems import fault_of_service
from api.settings import Settings
from api.studies.rows import Computed, computed

# Dask is loaded where studies are run.
# ruff: noqa: PLC0415

Part = tuple[int, int]
"""The first case, from 0, and how many."""

_REACHED: Final = "10s"


class EngineLostError(Exception):
    """The engine cannot be reached, or forgot what it was to compute."""


class Engine(Protocol):
    """Computes parts of a study, several at once."""

    @property
    def threads(self) -> int:
        """Parts that are computed at once."""

    def begin(self, text: bytes, part: Part, limits: Settings) -> None:
        """Have a part of a study computed."""

    def done(self, seconds: float) -> list[tuple[Part, Computed | None]]:
        """Parts that are done, waited for no longer than a while [s].

        None in place of rows: to be tried again in smaller parts.
        """

    def drop(self) -> None:
        """Forget what was begun."""

    def close(self) -> None:
        """Let go of everything."""


class Here:
    """Dask within this process, in a thread of its own."""

    threads = 1

    def __init__(self) -> None:
        self._thread = ThreadPoolExecutor(1)
        self._begun: dict[Future[Computed], Part] = {}

    def begin(self, text: bytes, part: Part, limits: Settings) -> None:
        """As :class:`Engine`."""
        self._begun[self._thread.submit(_by_dask, text, part, limits)] = part

    def done(self, seconds: float) -> list[tuple[Part, Computed | None]]:
        """As :class:`Engine`."""
        ended, _ = wait(self._begun, seconds, FIRST_COMPLETED)
        return [(self._begun.pop(each), each.result()) for each in ended]

    def drop(self) -> None:
        """As :class:`Engine`."""
        for each in self._begun:
            each.cancel()
        self._begun.clear()

    def close(self) -> None:
        """As :class:`Engine`."""
        self._thread.shutdown(wait=False, cancel_futures=True)


def _by_dask(text: bytes, part: Part, limits: Settings) -> Computed:
    from dask.delayed import delayed

    asked = delayed(computed, pure=False)(text, *part, limits)
    found: Computed = asked.compute(scheduler="synchronous")
    return found


class Cluster:
    """A Dask cluster.

    Parameters
    ----------
    scheduler
        Its address.

    Raises
    ------
    EngineLostError
        It cannot be reached; every method may raise it.
    """

    def __init__(self, scheduler: str) -> None:
        from distributed import Client

        try:
            self._client = Client(scheduler, timeout=_REACHED, set_as_default=False)
        except (OSError, TimeoutError) as error:
            raise EngineLostError(str(error)) from error
        self._begun: dict[Any, Part] = {}

    @property
    def threads(self) -> int:
        """As :class:`Engine`."""
        return max(1, int(sum(self._client.nthreads().values())))

    def begin(self, text: bytes, part: Part, limits: Settings) -> None:
        """As :class:`Engine`."""
        asked = self._client.submit(computed, text, *part, limits, pure=False)
        self._begun[asked] = part

    def done(self, seconds: float) -> list[tuple[Part, Computed | None]]:
        """As :class:`Engine`."""
        from distributed import wait as wait_for

        if self._client.status != "running":
            raise EngineLostError(f"the cluster is {self._client.status}")
        try:
            with self._client.as_current():
                wait_for(list(self._begun), timeout=seconds, return_when="FIRST_COMPLETED")
        except TimeoutError:
            return []
        except CancelledError as error:  # the scheduler is gone, and all that it knew of
            raise EngineLostError(str(error)) from error
        ended = [each for each in self._begun if each.done()]
        return [(self._begun.pop(each), _result(each)) for each in ended]

    def drop(self) -> None:
        """As :class:`Engine`."""
        with suppress(Exception):  # what is lost is dropped already
            self._client.cancel(list(self._begun), force=True)
        self._begun.clear()

    def close(self) -> None:
        """As :class:`Engine`."""
        with suppress(Exception):
            self._client.close(timeout=2)


def _result(future: Any) -> Computed | None:  # noqa: ANN401 (Dask has no types)
    from distributed import KilledWorker

    if future.status in ("cancelled", "lost"):
        raise EngineLostError(future.status)
    error = future.exception()
    if error is None:
        found: Computed = future.result()
        return found
    if isinstance(error, KilledWorker):
        return None
    raise EngineLostError(repr(error)) from error


def took_down(error: Exception) -> Computed:
    """The row of a case that takes down whatever process computes it."""
    problem = fault_of_service(error)
    return Computed([(problem["status"], orjson.dumps(problem))], 0.0)


def engine_of(settings: Settings) -> Engine:
    """The engine that the settings name."""
    return Cluster(settings.dask_scheduler) if settings.dask_scheduler else Here()
