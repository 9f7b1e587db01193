"""Starts the service in processes of its own on a free loopback port, and stops it."""

from __future__ import annotations

import contextlib
import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from api.service import production
from api.service.metrics import FOLDER
from tests.load.bodies import HOST


@dataclass(frozen=True, slots=True)
class Service:
    """A running service.

    Attributes
    ----------
    port
        Where it listens.
    process
        Its first process: the supervisor in production.
    """

    port: int
    process: subprocess.Popen[bytes]

    def workers(self) -> list[int]:
        """Process ids of the workers."""
        task = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        return [int(each) for each in task.read_text("ascii").split()]

    def connections_of(self, worker: int) -> int:
        """Connections that a worker holds, as the kernel lists them."""
        listed = Path("/proc/net/tcp").read_text("ascii").splitlines()[1:]
        rows = [line.split() for line in listed]
        ours = {row[9] for row in rows if row[1].endswith(f":{self.port:04X}") and row[3] == "01"}
        held = 0
        for each in Path(f"/proc/{worker}/fd").iterdir():
            with contextlib.suppress(OSError):
                held += str(each.readlink()).removeprefix("socket:[").removesuffix("]") in ours
        return held

    def get(self, path: str, *, source: str = HOST) -> tuple[int, bytes]:
        """GET on a connection of its own, from an address of loopback."""
        return self._exchange(source, "GET", path)

    def post(self, path: str, body: bytes) -> tuple[int, bytes]:
        """POST of JSON on a connection of its own."""
        return self._exchange(HOST, "POST", path, body, {"Content-Type": "application/json"})

    def _exchange(self, source: str, *request: Any) -> tuple[int, bytes]:
        connection = http.client.HTTPConnection(
            HOST, self.port, timeout=60, source_address=(source, 0)
        )
        with contextlib.closing(connection):
            connection.request(*request)
            answer = connection.getresponse()
            return answer.status, answer.read()


def free_port() -> int:
    """A port that is free now."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def running(
    settings: Mapping[str, str] | None = None,
    *,
    log: str = os.devnull,
    command: list[str] | None = None,
) -> Iterator[Service]:
    """Run the service in production until the with statement ends.

    Parameters
    ----------
    settings
        EVENLOOP_* variables.
    log
        File that its log goes to.
    command
        Command line with ``{port}`` in it; None for what ``evenloop serve --production`` runs.
    """
    port = free_port()
    environment = {**os.environ, **(settings or {})}
    if command is None:
        command, own = production.command(HOST, port)
        environment = {**own, **environment, FOLDER: own[FOLDER]}
    arguments = [each.replace("{port}", str(port)) for each in command]
    with Path(log).open("wb") as sink:
        process = subprocess.Popen(arguments, stdout=sink, stderr=sink, env=environment)
    service = Service(port, process)
    try:
        _wait_until_ready(service)
        yield service
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(40)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(10)


def _wait_until_ready(service: Service) -> None:
    for _ in range(300):
        if service.process.poll() is not None:
            raise RuntimeError(f"the service ended with {service.process.returncode}")
        with contextlib.suppress(OSError):
            if service.get("/healthz")[0] == 200:
                return
        time.sleep(0.2)
    raise RuntimeError("the service did not begin to answer")


BY_COMMAND = [sys.executable, "-m", "api.command.cli", "serve", "--production", "--port", "{port}"]
"""The command line of people, which checks the settings and then runs the same."""
