"""The server under the application, and the commands that start it."""

import contextlib
import errno
import gc
import json
import os
import re
import socket
import tempfile
import threading
import time
import weakref
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest
from click.testing import CliRunner
from waitress.channel import HTTPChannel

from api import create_app
from api.command.cli import main
from api.service import production
from api.service.http_server import make_server
from api.service.keys import hash_of
from api.settings import Settings

POST = b"POST /v1/split HTTP/1.1\r\nHost: x\r\n"
HEALTH = b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"


@contextlib.contextmanager
def served(**settings: Any) -> Iterator[int]:
    """Port of a service in a thread of its own."""
    kept = Settings(**settings)
    server = make_server(create_app(kept), kept, address=("127.0.0.1", 0))
    threading.Thread(target=server.run, daemon=True).start()
    yield server.effective_port
    server.close()


def test_a_short_answer_is_handed_over_with_its_head(monkeypatch: pytest.MonkeyPatch) -> None:
    pieces: list[bytes] = []
    before = HTTPChannel.write_soon

    def write_soon(self: HTTPChannel, data: bytes) -> Any:
        pieces.append(data)
        return before(self, data)

    monkeypatch.setattr(HTTPChannel, "write_soon", write_soon)
    with served() as port:
        asked = {"answer": exchange(port, HEALTH), "refusal": exchange(port, b"GARBAGE\r\n\r\n")}
    assert [piece.partition(b"\r\n\r\n")[2] for piece in pieces if piece] == [
        body for _, _, body in asked.values()
    ]
    assert all(len(body) == int(head["content-length"]) > 0 for _, head, body in asked.values())


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    with served(max_body_bytes=2_000, idle_seconds=1) as found:
        yield found


def exchange(port: int, sent: bytes) -> tuple[str, dict[str, str], bytes]:
    """Status line, headers and body of the answer to some bytes."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as client:
        client.sendall(sent)
        return answer_on(client)


def answer_on(client: socket.socket) -> tuple[str, dict[str, str], bytes]:
    """Status line, headers and body of what comes until the connection ends."""
    received = b""
    with contextlib.suppress(ConnectionResetError):
        while part := client.recv(65_536):
            received += part
    head, _, body = received.partition(b"\r\n\r\n")
    status, *lines = head.decode("latin-1").split("\r\n")
    return status, {k.lower(): v for k, v in (line.split(": ", 1) for line in lines)}, body


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (b"GARBAGE\r\n\r\n", 400),
        (b"GET / HTTP/1.1\r\nBad Header: x\r\n\r\n", 400),
        (b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: -5\r\n\r\n", 400),
        # Two ways to tell where a body ends: RFC 9112, section 6.3, request smuggling.
        (b"POST / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: gzip\r\n\r\n", 501),
        (POST + b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", 400),
        (POST + b"Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}", 400),
        # Section 6.1: chunked once, and the last of all; and not in HTTP/1.0.
        (POST + b"Transfer-Encoding: chunked, chunked\r\n\r\n0\r\n\r\n", 400),
        (POST + b"Transfer-Encoding: chunked\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", 400),
        (b"POST / HTTP/1.0\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", 400),
        # Section 5.2: no header over two lines. Section 3.2: one Host, and a host.
        (POST + b"X: a\r\n b\r\n\r\n", 400),
        (b"GET /healthz HTTP/1.1\r\n\r\n", 400),
        (b"GET /healthz HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n", 400),
        (b"GET /healthz HTTP/1.1\r\nHost: a b/<x>\r\n\r\n", 400),
        (b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"y" * 300_000 + b"\r\n\r\n", 431),
        (b"POST /v1/split HTTP/1.1\r\nHost: x\r\nContent-Length: 999999\r\n\r\n", 413),
        # RFC 9110, 15.6.6 and 9.1: another version, a method of proxies.
        (b"GET /healthz HTTP/2.0\r\nHost: x\r\n\r\n", 505),
        (b"GET /healthz HTTP/0.9\r\nHost: x\r\n\r\n", 505),
        (b"CONNECT x:80 HTTP/1.1\r\nHost: x:80\r\n\r\n", 501),
    ],
)
def test_what_is_no_http_is_answered_with_a_problem(port: int, sent: bytes, status: int) -> None:
    line, headers, body = exchange(port, sent)
    assert line.split()[1] == str(status)
    assert headers["content-type"] == "application/problem+json"
    problem = json.loads(body)
    assert problem["status"] == status
    assert {"type", "title", "detail"} <= set(problem)
    assert "server" not in headers


CHUNKED = POST + b"Transfer-Encoding: chunked\r\n\r\n"


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        # RFC 9112, 7.1: the size of a chunk is hexadecimal, of any length; lines end in CRLF.
        (CHUNKED + b"7d1\r\n{", 413),  # 2,001 bytes
        (CHUNKED + b"7d0\r\n" + b" " * 2_000 + b"\r\n1\r\n", 413),
        (CHUNKED + b"f" * 16 + b"\r\n{}", 413),
        (CHUNKED + b"f" * 40 + b"\r\n{}", 413),
        (CHUNKED + b"1" * 100_000 + b"\r\n{}", 413),  # longer by itself than any body
        (CHUNKED + b"1" * 1_500, 400),
        (CHUNKED + b"2;" + b"x" * 1_500, 400),
        (CHUNKED + b"2\n{}\n0\n\n", 400),
        (CHUNKED + b"2\r\n{}\n", 400),
        (CHUNKED + b"2\r\n{}\r\n0\r\n\n", 400),
        (CHUNKED + b"2\r\n{}\r\n0\r\nX: " + b"y" * 1_500, 400),
        (b"GET /healthz HTTP/1.1\nHost: x\n\n", 400),
        (b"GET /healthz HTTP/1.1\r\nHost: x\n", 400),
    ],
)
def test_what_can_become_no_request_is_refused_before_its_end(sent: bytes, status: int) -> None:
    with served(max_body_bytes=2_000, idle_seconds=30) as port:
        for pieces in ((sent,), (sent[:-1], sent[-1:])):
            with socket.create_connection(("127.0.0.1", port), timeout=20) as client:
                for piece in pieces:
                    with contextlib.suppress(OSError):  # refused by its first piece
                        client.sendall(piece)
                        time.sleep(0.05)
                client.settimeout(20)  # shorter than the server's patience
                start = client.recv(12)
            assert start[5:] in (f"1.{minor} {status}".encode() for minor in (0, 1))


def test_whole_requests_in_whatever_pieces_are_taken(port: int) -> None:
    sent = (
        b"\r\nPOST /v1/split HTTP/1.9\r\nHost: x\r\nContent-Type: application/json\r\n"
        b"Connection: close\r\nTransfer-Encoding: chunked\r\n\r\n"
        b"1;a=b\r\n{\r\n1\r\n}\r\n0\r\nX: y\r\n\r\n"
    )
    with socket.create_connection(("127.0.0.1", port), timeout=20) as client:
        client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        for each in sent:
            client.sendall(bytes([each]))
        line, _, body = answer_on(client)
    assert line.split()[1] == "422", body  # an empty job, and no doubt of its framing


def test_a_body_a_little_over_the_limit_gets_the_applications_own_problem(port: int) -> None:
    sent = (
        b"POST /v1/split HTTP/1.1\r\nHost: x\r\nConnection: close\r\n"
        b"Content-Type: application/json\r\nContent-Length: 2001\r\n\r\n" + b" " * 2_001
    )
    line, _, body = exchange(port, sent)
    assert line.split()[1] == "413"
    assert "2,000 bytes" in json.loads(body)["detail"]


def test_a_header_cannot_be_put_into_the_answer(port: int) -> None:
    sent = (
        b"GET /v1/pipes%0d%0aX-Bad:%201 HTTP/1.1\r\nHost: x\r\nConnection: close\r\n"
        b"X-Request-Id: a%0d%0aX-Bad: 1\r\n\r\n"
    )
    line, headers, _ = exchange(port, sent)
    assert line.split()[1] == "404"
    assert "x-bad" not in headers


def test_a_connection_on_which_nothing_comes_is_closed(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=20) as client:
        assert client.recv(1) == b""  # closed by the server, not by the time-out


def test_a_request_that_does_not_come_whole_in_time_is_closed_however_busy(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=20) as client:
        client.sendall(POST + b"Content-Length: 2000\r\n\r\n")
        began = time.monotonic()
        with contextlib.suppress(OSError):
            while time.monotonic() - began < 10:  # a byte every tenth of a second: never idle
                client.sendall(b" ")
                time.sleep(0.1)
        assert time.monotonic() - began < 5  # 1 s and what looking for it and closing take


def test_a_refusal_reaches_who_is_still_sending(port: int) -> None:
    # RFC 9112, 9.6: a server that closes while the caller sends resets the connection, and the
    # caller never sees why.
    with socket.create_connection(("127.0.0.1", port), timeout=20) as client:
        client.sendall(POST + b"Content-Length: 9000000\r\n\r\n" + b" " * 9_000_000)
        client.shutdown(socket.SHUT_WR)
        line, _, body = answer_on(client)
    assert line.split()[1] == "413"
    assert "2,000 bytes" in json.loads(body)["detail"]


def test_a_body_in_chunks_that_gets_too_long_is_told_the_limit(port: int) -> None:
    sent = POST + b"Transfer-Encoding: chunked\r\n\r\n" + b"3e8\r\n" + b" " * 1_000 + b"\r\n"
    line, _, body = exchange(port, sent + 3 * (b"3e8\r\n" + b" " * 1_000 + b"\r\n"))
    assert line.split()[1] == "413"
    assert "2,000 bytes" in json.loads(body)["detail"]


def test_a_key_is_asked_for_before_the_body_is_read() -> None:
    key = f"office={hash_of('right')}"
    with served(api_keys=key) as port:
        for sent in (b"", b"Authorization: Bearer wrong\r\n", b"Expect: 100-continue\r\n"):
            # The body is not sent at all: who waited for it would never answer.
            line, headers, _ = exchange(port, POST + sent + b"Content-Length: 4000000\r\n\r\n")
            assert line.split()[1] == "401"
            assert headers["www-authenticate"].startswith("Bearer")
        right = b"Authorization: Bearer right\r\nConnection: close\r\nContent-Length: 2\r\n\r\n{}"
        assert exchange(port, POST + right)[0].split()[1] == "415"


def test_half_sent_requests_of_one_address_leave_room_for_others_and_itself() -> None:
    with served(max_connections=20, max_of_address=10) as port, contextlib.ExitStack() as open_:
        half = [
            open_.enter_context(socket.create_connection(("127.0.0.1", port), timeout=20))
            for _ in range(60)
        ]
        for each in half:
            with contextlib.suppress(OSError):
                each.sendall(POST)
        for source in ("127.0.0.2", "127.0.0.1"):
            with socket.create_connection(
                ("127.0.0.1", port), timeout=5, source_address=(source, 0)
            ) as client:
                client.sendall(HEALTH)
                assert answer_on(client)[0].split()[1] == "200"


def test_half_sent_requests_of_many_addresses_give_way() -> None:
    with served(max_connections=10) as port, contextlib.ExitStack() as open_:
        for number in range(40):
            place = (f"127.0.1.{number % 8 + 1}", 0)
            client = socket.create_connection(("127.0.0.1", port), 20, source_address=place)
            open_.enter_context(client).sendall(POST)
        assert exchange(port, HEALTH)[0].split()[1] == "200"


def test_a_full_disk_refuses_long_bodies_clearly_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full(*_: object, **__: object) -> NoReturn:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(tempfile, "TemporaryFile", full)  # as the server makes it
    with served() as port:
        long = b"Content-Length: 3000000\r\n\r\n" + b" " * 3_000_000
        line, headers, body = exchange(port, POST + long)
        assert line.split()[1] == "503"
        assert headers["retry-after"]
        assert json.loads(body)["type"].endswith("/no-room")
        assert exchange(port, HEALTH)[0].split()[1] == "200"


@pytest.mark.parametrize("lines", [1, 2, 40])
def test_empty_lines_before_a_request_are_passed_over(lines: int) -> None:
    # RFC 9112, 2.2: a server should ignore at least one.
    with served() as port:
        assert exchange(port, b"\r\n" * lines + HEALTH)[0].split()[1] == "200"


def test_a_length_of_thousands_of_digits_is_refused() -> None:
    with served() as port:
        told = exchange(port, POST + b"Content-Length: " + b"9" * 5_000 + b"\r\n\r\n")
    assert told[0].split()[1] == "400"
    assert "Content-Length" in json.loads(told[2])["detail"]


def test_room_for_metrics_is_taken_before_the_workers_start(tmp_path: Path) -> None:
    production.reserve(tmp_path, 2)
    files = list(tmp_path.iterdir())
    assert len(files) == 9  # the supervisor counts, too
    assert sum(f"_{os.getpid()}.db" in each.name for each in files) == 3
    for each in files:  # allocated, not merely as long: a hole would need room when written
        assert each.stat().st_blocks * 512 >= each.stat().st_size > 100_000


@pytest.mark.parametrize(("holds", "tidied"), [(50e6, False), (140e6, True), (250e6, True)])
def test_a_worker_gives_back_what_lies_in_circles_before_it_is_replaced(
    monkeypatch: pytest.MonkeyPatch, holds: float, *, tidied: bool
) -> None:
    class Circle:
        def __init__(self) -> None:
            self.itself = self

    worker = object.__new__(production.WaitressWorker)
    # What a document left in circles is all that it holds beyond 40 MB.
    left = weakref.ref(Circle())
    monkeypatch.setattr(production, "own_memory", lambda: holds if left() else 40e6)
    gc.disable()
    try:
        for now in (10.0, 20.0, 200.0):
            monkeypatch.setattr(time, "monotonic", lambda now=now: now)
            assert not worker._is_too_large(Settings(max_worker_mb=160))
        assert (left() is None) == tidied
    finally:
        gc.enable()


def test_a_worker_that_keeps_too_much_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    worker = object.__new__(production.WaitressWorker)
    kept = Settings(max_worker_mb=160)
    holds = iter((40e6, 40e6, *[200e6] * 9))
    monkeypatch.setattr(production, "own_memory", lambda: next(holds))
    found = []
    for now in (10.0, 20.0, 30.0, 30.0 + kept.max_seconds):
        monkeypatch.setattr(time, "monotonic", lambda now=now: now)
        found.append(worker._is_too_large(kept))
    assert found == [False, False, False, True]


def test_a_key_is_printed_with_its_hash() -> None:
    result = CliRunner().invoke(main, ["make-key", "office"])
    key = re.search(r"Bearer (\S{43})$", result.output, re.MULTILINE)
    assert key
    setting = f"office={hash_of(key[1])}"
    assert setting in result.output
    Settings(api_keys=setting)


@pytest.mark.parametrize("name", ["a b", "", "a=b", "x" * 41, "é"])
def test_a_key_needs_a_plain_name(name: str) -> None:
    result = CliRunner().invoke(main, ["make-key", name])
    assert result.exit_code == 1
    assert "Bearer" not in result.output


@pytest.mark.parametrize("how", [[], ["--production"]])
def test_a_wrong_setting_stops_the_start_in_one_line(
    monkeypatch: pytest.MonkeyPatch, how: list[str]
) -> None:
    monkeypatch.setenv("EVENLOOP_WORKERS", "all")
    result = CliRunner().invoke(main, ["serve", "--port", "0", *how])
    assert result.exit_code == 1
    assert "EVENLOOP_WORKERS is 'all'; it must be a whole number from 0 to 256" in result.output
    assert "Traceback" not in result.output
