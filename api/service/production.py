"""Serving on all cores: gunicorn supervises the workers, each of which is a waitress server.

The supervisor binds the socket, starts a worker on each core, replaces one that dies, gets stuck or
has served its share, and stops all of them gracefully. It can be used as it is::

    gunicorn -c python:api.service.production "api:create_app()"

``evenloop serve --production`` does that, after checking the settings and making the folder for
PROMETHEUS_MULTIPROC_DIR, which must be set before anything of the service is loaded. Which server
and why is in docs/reliability.md.
"""

from __future__ import annotations

import logging
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Final, cast

from gunicorn.glogging import Logger
from gunicorn.workers.base import Worker
from prometheus_client import multiprocess
from waitress import wasyncore

from api.service.deadline import overrun
from api.service.http_server import listeners, make_server
from api.service.request_log import start_logging
from api.settings import Settings, settings_from_environment

METRICS_FOLDER: Final = "PROMETHEUS_MULTIPROC_DIR"
_OWN: Final = "evenloop-metrics-"
_POLL: Final = 0.5  # s


class WaitressWorker(Worker):
    """A gunicorn worker that serves by waitress."""

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
            wasyncore.loop(timeout=_POLL, use_poll=True, map=channels, count=1)
        self._drain(server, channels, time.monotonic() + settings.stop_seconds)

    def _counted(self, app: Any) -> Any:  # noqa: ANN401 (WSGI)
        def counted(environ: Any, start_response: Any) -> Any:  # noqa: ANN401
            self.nr += 1
            if self.nr == self.max_requests:
                self.log.info("worker %d has served %d requests, is replaced", self.pid, self.nr)
                self.alive = False
            return app(environ, start_response)

        return counted

    def _drain(self, server: Any, channels: dict[int, Any], until: float) -> None:  # noqa: ANN401
        """Accept nothing more, answer what has arrived, close what is idle."""
        for each in listeners(server):
            each.accepting = False
            wasyncore.dispatcher.del_channel(each, channels)
            each.socket.close()
        while time.monotonic() < until:
            open_channels = [each for each in channels.values() if hasattr(each, "requests")]
            for each in open_channels:
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


def child_exit(server: Any, worker: Any) -> None:  # noqa: ANN401
    """Take a dead worker's gauges out of the metrics."""
    if METRICS_FOLDER in os.environ:
        multiprocess.mark_process_dead(worker.pid)  # type: ignore[no-untyped-call]


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
    environment = dict(os.environ)
    environment.setdefault(METRICS_FOLDER, tempfile.mkdtemp(prefix=_OWN))
    bind = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    program = [sys.executable, "-m", "gunicorn", "-c", "python:api.service.production", "-b", bind]
    return [*program, "api:create_app()"], environment


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
