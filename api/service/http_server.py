"""The HTTP server of one process: waitress, with this service's limits and shape of errors.

Requests are read and answers sent by one thread for all connections, so that a slow client holds
no worker thread; a thread is taken only for a request that has arrived whole.
"""

from __future__ import annotations

import gc
import json
import socket
from collections.abc import Callable
from typing import Any, Final, cast

from flask import Flask
from waitress.channel import HTTPChannel
from waitress.server import create_server
from waitress.task import ErrorTask

from api.service.problem_types import PROBLEM_TYPES
from api.service.problems import MEDIA_TYPE
from api.settings import Settings

_SPARE_THREADS: Final = 4  # for what takes no turn: reference data, health, being turned away
_SPARE_BYTES: Final = 65_536  # over the largest body, so that the application can say so itself
_SLUGS: Final = {413: "body-too-large", 500: "internal-error"}


class _ProblemTask(ErrorTask):
    """Answers what is no HTTP, or breaks a limit of the server, with a problem."""

    def execute(self) -> None:
        error: Any = cast(Any, self.request).error
        kind = PROBLEM_TYPES.get(_SLUGS.get(error.code, ""))
        problem = {
            "type": kind.uri if kind else "about:blank",
            "title": kind.title if kind else error.reason,
            "status": error.code,
            "detail": f"The server could not read the request: {str(error.body)[:200]}.",
        }
        body = json.dumps(problem).encode()
        self.status = f"{error.code} {error.reason}"
        self.response_headers = [
            ("Content-Type", MEDIA_TYPE),
            ("Content-Length", str(len(body))),
            ("Cache-Control", "no-store"),
        ]
        self.set_close_on_finish()
        self.content_length = len(body)
        self.write(body)


class _Channel(HTTPChannel):
    error_task_class = _ProblemTask


def make_server(
    app: Flask | Callable[..., Any],
    settings: Settings,
    *,
    address: tuple[str, int] | None = None,
    sockets: list[socket.socket] | None = None,
) -> Any:  # noqa: ANN401 (one server, or several behind the same methods)
    """Make a server that listens and does not run yet.

    Parameters
    ----------
    app
        The application.
    settings
        Its settings.
    address
        Host and port to listen on.
    sockets
        Sockets that listen already, instead.

    Returns
    -------
    TcpWSGIServer or MultiSocketServer
        The server; ``run()`` serves.
    """
    place: dict[str, Any] = {"sockets": sockets}
    if address is not None:
        place = {"host": address[0], "port": address[1]}
    server: Any = create_server(
        app,
        threads=settings.max_calculations + settings.max_waiting + _SPARE_THREADS,
        connection_limit=settings.max_connections,
        channel_timeout=settings.idle_seconds,
        cleanup_interval=min(30, settings.idle_seconds),
        backlog=settings.backlog,
        max_request_body_size=settings.max_body_bytes + _SPARE_BYTES,
        clear_untrusted_proxy_headers=settings.trusted_proxies == 0,
        asyncore_use_poll=True,
        ident=None,
        **place,
    )
    for each in listeners(server):
        each.channel_class = _Channel
    # A request of a thousand loops makes some 50,000 objects, none of them in cycles: looking for
    # cycles every 700 objects, through all that was loaded at start, takes a quarter of its time.
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    return server


def listeners(server: Any) -> list[Any]:  # noqa: ANN401
    """Listening parts of a server."""
    parts = getattr(server, "map", None) or getattr(server, "_map", {})
    return [each for each in parts.values() if hasattr(each, "channel_class")]
