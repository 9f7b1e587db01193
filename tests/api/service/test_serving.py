"""The server under the application, and the commands that start it."""

import contextlib
import json
import re
import socket
import threading
from collections.abc import Iterator

import pytest
from click.testing import CliRunner

from api import create_app
from api.command.cli import main
from api.service.http_server import make_server
from api.service.keys import hash_of
from api.settings import Settings


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    settings = Settings(max_body_bytes=2_000, idle_seconds=1)
    server = make_server(create_app(settings), settings, address=("127.0.0.1", 0))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield server.effective_port
    server.close()


def exchange(port: int, sent: bytes) -> tuple[str, dict[str, str], bytes]:
    """Status line, headers and body of the answer to some bytes."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as client:
        client.sendall(sent)
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
        (b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"y" * 300_000 + b"\r\n\r\n", 431),
        (b"POST /v1/split HTTP/1.1\r\nHost: x\r\nContent-Length: 999999\r\n\r\n", 413),
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
