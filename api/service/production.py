"""Serving on all cores: gunicorn supervises the workers, each of which is a waitress server.

The supervisor binds the socket, starts a worker on each core, replaces one that dies, gets stuck or
has served its share, and stops all of them gracefully. It can be used as it is::

    gunicorn -c python:api.service.production "api.app:create_proven_app()"

``evenloop serve --production`` does that, after checking the settings and making the folder for
PROMETHEUS_MULTIPROC_DIR, which must be set before anything of the service is loaded. Which server
and why is in docs/reliability.md.

Each worker has a place of its own, which its replacement takes over: a number, under which its
metrics are counted and its open connections are told to the others.
"""

from __future__ import annotations

import gc
import logging
import mmap
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Final, cast

from gunicorn.glogging import Logger
from gunicorn.workers.base import Worker
from waitress import wasyncore

from api.service.deadline import interruptions, overrun
from api.service.http_server import connections, listeners, make_server
from api.service.memory import LOOK, ONE_POOL, TIDY, give_back, own_memory
from api.service.metrics import FOLDER as METRICS_FOLDER
from api.service.metrics import files_of, take_place
from api.service.request_log import start_logging
from api.settings import Settings, settings_from_environment

_OWN: Final = "evenloop-metrics-"
_POLL: Final = 0.5  # s
_WAIT: Final = 0.02  # s; until a worker that leaves new connections to others looks again
_ARRIVING: Final = 1.0  # s; for the first request of a connection that was just taken on
_SENDING: Final = 10.0  # s; for the answers of a worker that is replaced
_MORE: Final = 1.25
_FEW: Final = 4
"""A worker takes on another connection while it has fewer than `_MORE` times those of the worker
with the fewest, and `_FEW` besides."""
_METRICS_BYTES: Final = 2**19
"""Room for one file of metrics: several times what all routes, methods and statuses fill."""
_MOST_PLACES: Final = 1_024
_PAGE: Final = mmap.mmap(-1, 4 * _MOST_PLACES)
_OPEN: Final = memoryview(_PAGE).cast("i")
"""Open connections of each worker by its place, in memory that all share; -1: none is there."""
_OPEN[:] = memoryview(bytes(b"\xff" * 4 * _MOST_PLACES)).cast("i")


class WaitressWorker(Worker):
    """A gunicorn worker that serves by waitress."""

    place = 0
    looked = within = 0.0  # when its memory was looked at, and was last within its limit

    def run(self) -> None:
        """Serve until told to stop, then finish what has begun."""
        settings = settings_from_environment()
        server = make_server(
            self._counted(self.wsgi),
            settings,
            sockets=[each.sock for each in cast(Any, self.sockets)],
        )
        channels = getattr(server, "map", None) or server._map
        while self.alive and os.getppid() == self.ppid:
            if not overrun():  # a calculation that cannot be ended: let the supervisor end us
                self.notify()
            if interruptions():
                self.log.info("worker %d ended a calculation, is replaced", self.pid)
                break
            if self.nr >= self.max_requests:
                self.log.info("worker %d has served %d requests, is replaced", self.pid, self.nr)
                break
            if settings.max_worker_mb and self._is_too_large(settings):
                self.log.info("worker %d keeps too much memory, is replaced", self.pid)
                break
            pause = _POLL if self._share(server, connections(channels)) else _WAIT
            wasyncore.loop(timeout=pause, use_poll=True, map=channels, count=1)
        _OPEN[self.place] = -1
        self._drain(server, channels, settings)

    def _share(self, server: Any, own: int) -> bool:  # noqa: ANN401
        """Whether to take on more; else who has fewer does, as kept ones stay where they are."""
        _OPEN[self.place] = own
        fewest = min((each for each in _OPEN[: _places()] if each >= 0), default=own)
        more = own < _MORE * fewest + _FEW
        for each in listeners(server):
            each.accepting = more
        return more

    def _is_too_large(self, settings: Settings) -> bool:
        """Whether it holds more than its limit, and that for longer than one request may."""
        now = time.monotonic()
        if now - self.looked > LOOK:
            self.looked = now
            limit = settings.max_worker_mb * 1e6
            if own_memory() > TIDY * limit:
                give_back()
            if own_memory() < limit or not self.within:
                self.within = now
        return now - self.within > settings.max_seconds + LOOK

    def _counted(self, app: Any) -> Any:  # noqa: ANN401 (WSGI)
        def counted(environ: Any, start_response: Any) -> Any:  # noqa: ANN401
            self.nr += 1
            return app(environ, start_response)

        return counted

    def _drain(self, server: Any, channels: dict[int, Any], settings: Settings) -> None:  # noqa: ANN401
        """Accept nothing more, answer what has arrived, close what is idle.

        The first request of a connection that was just taken on is still on its way. A worker that
        is replaced stays for as long as what it has in hand may wait, compute and be sent; one
        that is stopped, for `stop_seconds`.
        """
        now, stopped = time.monotonic(), False
        until = now + settings.max_wait_seconds + settings.max_seconds + _SENDING
        arriving = now + _ARRIVING
        for each in listeners(server):
            each.accepting = False
            wasyncore.dispatcher.del_channel(each, channels)
            each.socket.close()
        while time.monotonic() < until:
            if not (stopped or self.alive):
                stopped, until = True, time.monotonic() + settings.stop_seconds
            open_channels = [each for each in channels.values() if hasattr(each, "requests")]
            for each in open_channels:
                if each.unused and time.monotonic() < arriving:
                    continue
                if not each.requests and not each.total_outbufs_len:
                    each.will_close = True
            if not open_channels:
                break
            self.notify()
            wasyncore.loop(timeout=_POLL / 10, use_poll=True, map=channels, count=1)


class _JsonLogger(Logger):
    """Gunicorn's own messages in the service's log."""

    def setup(self, cfg: Any) -> None:  # noqa: ANN401
        self.cfg = cfg
        self._access_log_enabled = False
        start_logging(_settings)
        self.error_log = logging.getLogger("evenloop.supervisor")
        self.access_log = logging.getLogger("evenloop.unused")


def cores() -> int:
    """Cores that this process may run on."""
    return len(os.sched_getaffinity(0))


def when_ready(server: Any) -> None:  # noqa: ANN401
    """Say where the service listens."""
    server.log.info("ready with %d workers", server.num_workers)


def _places() -> int:
    """Places in use: twice the workers, as both generations are there while one reloads."""
    return min(2 * workers, _MOST_PLACES)


def pre_fork(server: Any, worker: Any) -> None:  # noqa: ANN401
    """Give a worker the first place that is free, and keep what is loaded shared with it."""
    # A worker that looked through it for cycles would write to all of it, and so copy it.
    gc.collect()
    gc.freeze()
    taken = {each.place for each in server.WORKERS.values()}
    worker.place = next(each for each in range(_MOST_PLACES) if each not in taken)


def post_fork(server: Any, worker: Any) -> None:  # noqa: ANN401
    """Count under the worker's own place."""
    take_place(worker.place)


def child_exit(server: Any, worker: Any) -> None:  # noqa: ANN401
    """Let the others know that a worker is gone."""
    _OPEN[worker.place] = -1


def on_exit(server: Any) -> None:  # noqa: ANN401
    """Remove the folder of the metrics, where it is our own."""
    folder = Path(os.environ.get(METRICS_FOLDER, ""))
    if folder.name.startswith(_OWN):
        shutil.rmtree(folder, ignore_errors=True)


def command(host: str, port: int) -> tuple[list[str], dict[str, str]]:
    """Command line and environment that serve on all cores.

    Parameters
    ----------
    host, port
        Where to listen.

    Returns
    -------
    tuple
        Arguments, the program first, and environment; to be handed to ``os.execvpe``.
    """
    environment = ONE_POOL | dict(os.environ)
    if METRICS_FOLDER not in environment:
        folder = Path(tempfile.mkdtemp(prefix=_OWN))
        reserve(folder, _places())
        environment[METRICS_FOLDER] = str(folder)
    bind = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    program = [sys.executable, "-m", "gunicorn", "-c", "python:api.service.production", "-b", bind]
    return [*program, "api.app:create_proven_app()"], environment


def reserve(folder: Path, places: int) -> None:
    """Take the room that the metrics need, so that a disk that fills up later cannot touch them.

    Parameters
    ----------
    folder
        Where they are counted.
    places
        Workers that count. So does this process, which becomes their supervisor.

    Raises
    ------
    OSError
        There is no room now.
    """
    try:
        for place in (None, *range(places)):
            for name in files_of(place):
                with (folder / name).open("xb") as file:
                    os.posix_fallocate(file.fileno(), 0, _METRICS_BYTES)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise


# ------------------------------------------------------- gunicorn reads the names from here on

_settings: Final[Settings] = settings_from_environment()

workers = _settings.workers or cores()
worker_class = WaitressWorker
preload_app = True  # one copy in memory; a fault at start is seen before any worker runs
backlog = _settings.backlog
timeout = 15  # s without a sign of life; a worker gives one at least every half second
graceful_timeout = _settings.stop_seconds + 5
max_requests = _settings.recycle_after
max_requests_jitter = _settings.recycle_after // 10
logger_class = _JsonLogger
proc_name = "evenloop"
control_socket_disable = True
