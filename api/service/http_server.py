"""The HTTP server of one process: waitress, with this service's limits and shape of errors.

Requests are read and answers sent by one thread for all connections, so that a slow client holds
no worker thread; a thread is taken only for a request that has arrived whole. What need not be read
is refused when its head has come: doubtful framing, a body too long, a caller without a key.
Where connections run out, whoever has waited longest without sending a whole request gives way.
"""

from __future__ import annotations

import contextlib
import gc
import json
import re
import socket
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from socket import SHUT_WR
from typing import Any, Final, cast

from flask import Flask
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.receiver import ChunkedReceiver
from waitress.server import create_server
from waitress.task import ErrorTask, Task, WSGITask
from waitress.utilities import BadRequest, Error, ServerNotImplemented

from api.service.keys import NO_KEY, WITHOUT_KEY, name_of, parse_keys
from api.service.problem_types import PROBLEM_TYPES
from api.service.problems import MEDIA_TYPE, too_large
from api.settings import Settings

_SPARE_THREADS: Final = 4  # for what takes no turn: reference data, health, being turned away
_BY_STATUS: Final = {413: "body-too-large", 500: "internal-error"}
_LINGER: Final = 5.0
"""Time that a refused caller may go on sending, so that the refusal reaches it [s]."""
_TOGETHER: Final = 2**16
"""Longest body that is handed over with its head [bytes]."""
_IN_MEMORY: Final = 2**26
"""Longest answer that is never put into a file while it is sent [bytes]."""

_FOLDED: Final = re.compile(rb"\r\n[ \t]")
_HOST: Final = re.compile(rb"(?im)^host[ \t]*:[ \t]*(.*?)[ \t]*\r?$")
_HOST_VALUE: Final = re.compile(rb"(?:[A-Za-z0-9._~-]{1,253}|\[[0-9A-Fa-f:.]{2,45}\])(?::\d{0,5})?")
_LONG: Final = re.compile(rb"(?im)^content-length[ \t]*:[ \t]*[0-9]{1000}")
_LENGTH: Final = re.compile(rb"(?im)^content-length[ \t]*:")
_NEWER: Final = re.compile(rb"\A([^\r\n]* HTTP/1)\.[2-9](?=\r\n)")
_BARE: Final = re.compile(rb"(?<!\r)\n")
_LONGEST_LINE: Final = 1_000
"""Longest line of a chunk's size [bytes]."""
_ENCODING: Final = re.compile(rb"(?im)^transfer-encoding[ \t]*:[ \t]*(.*?)[ \t]*\r?$")


@dataclass(frozen=True, slots=True)
class _Refused:
    """Why the server itself refuses a request; waitress reads `code`, `reason` and `body`."""

    slug: str
    detail: str
    headers: tuple[tuple[str, str], ...] = ()

    @property
    def code(self) -> int:
        return PROBLEM_TYPES[self.slug].status

    @property
    def reason(self) -> str:
        return PROBLEM_TYPES[self.slug].title

    @property
    def body(self) -> str:
        return self.detail


def _doubt(head: bytes) -> str:
    """What two readers could understand differently in a request's head; empty where nothing."""
    hosts, encodings = _HOST.findall(head), _ENCODING.findall(head)
    new = b" HTTP/1.1" in head.split(b"\r\n", 1)[0]
    doubts = {
        "a header is folded over two lines (RFC 9112, 5.2)": _FOLDED.search(head),
        f"it has {len(hosts)} Host headers, and must have one (RFC 9112, 3.2)": (
            len(hosts) > 1 or (new and not hosts)
        ),
        "its Host is no host (RFC 9112, 3.2)": any(
            each and not _HOST_VALUE.fullmatch(each) for each in hosts
        ),
        "Transfer-Encoding needs HTTP/1.1 (RFC 9112, 6.1)": encodings and not new,
        "it has both Content-Length and Transfer-Encoding (RFC 9112, 6.3)": (
            encodings and _LENGTH.search(head)
        ),
        "its Content-Length is longer than any number": _LONG.search(head),
        "it is chunked more than once (RFC 9112, 6.1)": (
            b",".join(encodings).lower().count(b"chunked") > 1
        ),
    }
    return next((doubt for doubt, found in doubts.items() if found), "")


def _doubt_of_chunk(chunks: ChunkedReceiver) -> str:
    """Why what has come of a chunk's frame can become none; empty where it still can."""
    if _BARE.search(chunks.control_line + chunks.trailer) or chunks.chunk_end[:1] == b"\n":
        return "a line of its chunks ends without a carriage return (RFC 9112, 7.1)"
    if max(len(chunks.control_line), len(chunks.trailer)) > _LONGEST_LINE:
        return f"a line of its chunks is longer than {_LONGEST_LINE:,} bytes"
    return ""


class _WrongVersionError(Error):
    """Another HTTP than this server speaks (RFC 9110, 15.6.6)."""

    code = 505
    reason = "HTTP Version Not Supported"


class _Parser(HTTPRequestParser):
    """Reads a request, and stops where it will be refused anyway.

    `adj` carries this service's own limits beside those of waitress; see `make_server`.
    """

    adj: Any
    command: Any
    empty: bool
    error: Any

    def parse_header(self, header_plus: bytes) -> None:
        # What is newer in the second number is read as the newest known (RFC 9110, 2.5).
        head = _NEWER.sub(rb"\1.1", header_plus)
        doubt = _doubt(head)
        if doubt:
            # Waitress closes the connection of a request that it does not understand.
            raise ParsingError(doubt)
        super().parse_header(head)

    def received(self, data: bytes) -> int:
        head = not self.headers_finished
        try:
            consumed: int = super().received(data)
        except OSError:  # a long body lies in a file, and there is no room for it
            self.error = _Refused(
                "no-room", "There is no room to hold the body.", (("Retry-After", "10"),)
            )
            consumed = len(data)
        # A line that is empty may stand before a request (RFC 9112, 2.2), and is none.
        if head and self.headers_finished and self.error is None and not self.empty:
            self.error = self._refused_by_its_head()
        if self.error is None and not self.completed:
            self.error = self._refused_before_its_end(data)
        if self.error is not None:
            self.completed, self.expect_continue = True, False
        return consumed

    def _refused_before_its_end(self, data: bytes) -> _Refused | Error | None:
        """Why what has come will not become a request, so that nobody waits for its end."""
        if not self.headers_finished:
            # A head that has not ended holds all of the data, after what was looked through.
            if _BARE.search(self.header_plus, len(self.header_plus) - len(data)):
                return BadRequest("a line of its head ends without a carriage return")
        elif isinstance(chunks := self.body_rcv, ChunkedReceiver):
            if len(chunks) + chunks.chunk_remainder > self.adj.most_body:
                return _Refused("body-too-large", too_large(self.adj.most_body))
            if doubt := _doubt_of_chunk(chunks):
                return BadRequest(doubt)
        return None

    def _refused_by_its_head(self) -> _Refused | Error | None:
        if self.version not in ("1.0", "1.1"):
            return _WrongVersionError("it must be HTTP/1.0 or HTTP/1.1")
        if self.command == "CONNECT":
            return ServerNotImplemented("CONNECT asks for a tunnel, and this is no proxy")
        keys = self.adj.keys
        if self.content_length > self.adj.most_body:
            return _Refused("body-too-large", too_large(self.adj.most_body))
        asks = self.command == "POST" and self.body_rcv is not None
        if keys and asks and name_of(self.headers.get("AUTHORIZATION", ""), keys) is None:
            return _Refused("key-required", WITHOUT_KEY, tuple(NO_KEY.items()))
        return None

    def close(self) -> None:
        with contextlib.suppress(OSError):  # what was not written for want of room
            super().close()


class _Whole(Task):
    """Hands a short answer over in one piece: where a process ends, none has a head alone."""

    def write(self, data: bytes) -> None:
        whole = self.content_length == len(data) <= _TOGETHER
        if self.wrote_header or not (data and whole and self.has_body):
            super().write(data)
            return
        head = self.build_response_header()
        self.wrote_header = True
        self.content_bytes_written = len(data)
        self.channel.write_soon(head + data)


class _AppTask(_Whole, WSGITask):
    """Answers by the application."""


class _ProblemTask(_Whole, ErrorTask):
    """Answers what is no HTTP, or breaks a limit of the server, with a problem."""

    def execute(self) -> None:
        error: Any = cast(Any, self.request).error
        detail = f"The server could not read the request: {str(error.body)[:200]}."
        slug = _BY_STATUS.get(error.code, "")
        if isinstance(error, _Refused):
            slug, detail = error.slug, error.detail
        elif slug == "body-too-large":  # a body in chunks, which shows its length as it comes
            detail = too_large(cast(Any, self.channel).adj.most_body)
        kind = PROBLEM_TYPES.get(slug)
        problem = {
            "type": kind.uri if kind else "about:blank",
            "title": kind.title if kind else error.reason,
            "status": error.code,
            "detail": detail,
        }
        body = json.dumps(problem).encode()
        self.status = f"{error.code} {error.reason}"
        self.response_headers = [
            ("Content-Type", MEDIA_TYPE),
            ("Content-Length", str(len(body))),
            ("Cache-Control", "no-store"),
            *getattr(error, "headers", ()),
        ]
        self.set_close_on_finish()
        self.content_length = len(body)
        cast(Any, self.channel).lingers = True
        self.write(body)


class _Channel(HTTPChannel):
    """A connection: its request must come whole in time; a refusal reaches who still sends."""

    task_class = _AppTask
    error_task_class = _ProblemTask
    parser_class = _Parser
    socket: Any
    _flush_exception: Any
    _flush_some: Any
    lingers = False  # a refusal is on its way to a caller who may still be sending
    discards = False  # it has been sent; what still comes is thrown away
    began = 0.0  # when the request began that has not come whole
    unused = True  # no request of it has come whole yet

    @property
    def waits(self) -> bool:
        """Whether nobody works on a request of this connection."""
        return not (self.requests or self.will_close)

    def received(self, data: bytes) -> bool:
        if self.request is None:
            self.began = time.time()
        taken: bool = super().received(data)
        self.unused = self.unused and not self.requests
        if self.request is not None:
            # Not whole yet: its time counts from its beginning, not from its last byte.
            self.last_activity = self.began
        return taken

    def readable(self) -> bool:
        return self.discards or bool(super().readable())

    def writable(self) -> bool:
        return bool(self.will_close if self.discards else super().writable())

    def handle_read(self) -> None:
        if not self.discards:
            super().handle_read()
            return
        try:
            self.recv(self.adj.recv_bytes)  # closes at the end of what the caller sends
        except OSError:
            self.will_close = True

    def handle_write(self) -> None:
        if not (self.lingers and self.close_when_flushed) or self.will_close:
            super().handle_write()
            return
        self._flush_exception(self._flush_some)
        if not self.total_outbufs_len and not self.will_close:
            # To close now would reset the connection and throw the refusal away with what is
            # unread (RFC 9112, 9.6).
            self.close_when_flushed, self.discards = False, True
            self.last_activity = time.time() - self.adj.channel_timeout + _LINGER
            with contextlib.suppress(OSError):
                self.socket.shutdown(SHUT_WR)


def _open_channels(map: dict[int, Any]) -> list[_Channel]:
    return [each for each in map.values() if isinstance(each, _Channel) and not each.will_close]


def connections(map: dict[int, Any]) -> int:
    """Connections that are open among the parts of a server."""
    return len(_open_channels(map))


def _open(
    server: Any,  # noqa: ANN401 (untyped)
    connection: socket.socket,
    address: tuple[Any, ...],
    adj: Any,  # noqa: ANN401
    map: dict[int, Any],
) -> None:
    """Take a connection on; where there are too many, another gives way."""
    taken = _open_channels(map)
    own = [each for each in taken if each.addr[0] == address[0]]
    giving: list[_Channel] | None = None
    if adj.most_of_address and len(own) >= adj.most_of_address:
        giving = own
    elif len(taken) >= adj.most_connections:
        most = Counter(each.addr[0] for each in taken).most_common(1)[0][0]
        giving = [each for each in taken if each.addr[0] == most]
    if giving is not None:
        waiting = [each for each in giving if each.waits]
        if not waiting:
            connection.close()
            return
        min(waiting, key=lambda each: float(each.last_activity)).will_close = True
    _Channel(server, connection, address, adj, map=map)


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
        connection_limit=2**30,  # kept by `_open`, which makes room instead of not accepting
        channel_timeout=settings.idle_seconds,
        cleanup_interval=1,
        backlog=settings.backlog,
        max_request_body_size=settings.max_body_bytes + 1,
        outbuf_overflow=_IN_MEMORY,
        clear_untrusted_proxy_headers=settings.trusted_proxies == 0,
        asyncore_use_poll=True,
        ident=None,
        **place,
    )
    for each in listeners(server):
        each.channel_class = _open
        each.adj.most_body = settings.max_body_bytes
        each.adj.keys = parse_keys(settings.api_keys)
        each.adj.most_connections = settings.max_connections
        # All callers behind a proxy have its address.
        behind_proxy = settings.trusted_proxies > 0
        each.adj.most_of_address = 0 if behind_proxy else settings.max_of_address
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
