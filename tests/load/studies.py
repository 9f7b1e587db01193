"""Studies on a Dask cluster and PostgreSQL, with each part killed in mid-study.

    python -m tests.load.studies --cases 20000

needs root, PostgreSQL's programs (Debian's package `postgresql`) and the extra `postgresql`; all
is on loopback. A study runs undisturbed, then another of the same cases while a worker, the service
and the scheduler are killed (SIGKILL) and the database is stopped and started. Their rows must be
equal. Dask's workers end with their scheduler: whoever supervises them starts them again, as is
done here.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from api.settings import Settings
from api.studies.rows import computed
from tests.api.conftest import SMALLEST

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
_PATIENCE = 1_800.0  # s
LENGTH = "/array/branches/0/loop/legs/0/straight/length_m"


def study_of(cases: int) -> dict[str, Any]:
    """Splits of two loops, 1 in 100 of them with a strength that no correlation reaches."""
    return {
        "calculation": "split",
        "job": SMALLEST,
        "variations": [
            {"range": {"at": LENGTH, "min": 100, "max": 300, "count": cases // 100}},
            {
                "listed": {
                    "at": "/antifreeze/concentration_percent",
                    "values": [*(20 + n / 10 for n in range(99)), 99],
                }
            },
        ],
        "results": ["/pump/head_kpa", "/imbalance/spread_percent", "/loops/0/reynolds"],
    }


def free_port() -> int:
    """A port of loopback that nobody listens on."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


class Part:
    """A process that can be killed and started again."""

    def __init__(self, words: list[str], environment: dict[str, str], log: Path) -> None:
        self.words, self.environment, self.log = words, environment, log
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> None:
        """Start it, in a group of its own."""
        with self.log.open("ab") as out:
            self.process = subprocess.Popen(
                self.words, env=self.environment, stdout=out, stderr=out, start_new_session=True
            )

    def kill(self) -> None:
        """SIGKILL to it and what it started."""
        assert self.process is not None
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


class Postgres:
    """A PostgreSQL of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, free_port()
        folder.mkdir()
        subprocess.run(["chown", "postgres", str(folder)], check=True)
        self._run("initdb", "-D", f"{folder}/data", "-A", "trust", "-E", "UTF8")
        self.start()
        self._run("createdb", "-h", "127.0.0.1", "-p", str(self.port), "evenloop")

    def _run(self, program: str, *words: str) -> None:
        whole = ["runuser", "-u", "postgres", "--", str(PROGRAMS[-1] / program), *words]
        subprocess.run(whole, check=True, stdout=subprocess.DEVNULL, cwd=self.folder)

    def start(self) -> None:
        """Start it, and wait until it answers."""
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -k {self.folder}"
        log = str(self.folder / "log")
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-l", log, "-w", "-o", options, "start")

    def stop(self) -> None:
        """Stop it at once, as a crash does."""
        self._run("pg_ctl", "-D", f"{self.folder}/data", "-m", "immediate", "stop")

    @property
    def url(self) -> str:
        """For the setting."""
        return f"postgresql+psycopg://postgres@127.0.0.1:{self.port}/evenloop"


class Service:
    """A caller of the service who tries again until it answers."""

    def __init__(self, port: int) -> None:
        self.root = f"http://127.0.0.1:{port}"

    def ask(self, path: str, body: Any = None) -> bytes:
        """Answer of an address, waited for while the service or its store is away."""
        until = time.monotonic() + _PATIENCE
        while True:
            headers = {"Content-Type": "application/json", "Idempotency-Key": hashlib.sha256(
                json.dumps(body).encode()).hexdigest() + str(os.getpid())}  # fmt: skip
            data = None if body is None else json.dumps(body).encode()
            request = urllib.request.Request(self.root + path, data=data, headers=headers)
            try:
                with urllib.request.urlopen(request, timeout=60) as answer:
                    found: bytes = answer.read()
                    return found
            except (OSError, urllib.error.URLError):
                if time.monotonic() > until:
                    raise
                time.sleep(0.5)

    def state(self, study: str) -> dict[str, Any]:
        """How far a study is."""
        found: dict[str, Any] = json.loads(self.ask(f"/v1/studies/{study}"))
        return found

    def run(self, body: Any, meanwhile: dict[float, Callable[[], None]]) -> tuple[float, bytes]:
        """Seconds that a study takes, and its rows; what is done at which share of it."""
        began = time.monotonic()
        study = json.loads(self.ask("/v1/studies", body))["study"]
        todo = sorted(meanwhile.items(), key=lambda each: each[0])
        while True:
            state = self.state(study)
            if todo and state["done"] >= todo[0][0] * state["cases"]:
                _, action = todo.pop(0)
                action()
            if state["state"] == "finished":
                assert not todo, "it was over before all was killed"
                return time.monotonic() - began, self.ask(f"/v1/studies/{study}/results.csv")
            assert time.monotonic() < began + _PATIENCE, state
            time.sleep(0.2)


@contextlib.contextmanager
def everything(folder: Path, workers: int = 2) -> Iterator[tuple[Service, dict[str, Any]]]:
    """Database, scheduler, workers and service."""
    database = Postgres(folder / "postgres")
    at, port = free_port(), free_port()
    environment = {
        **os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
        "EVENLOOP_DASK_SCHEDULER": f"tcp://127.0.0.1:{at}", "EVENLOOP_DATABASE_URL": database.url,
        "EVENLOOP_STUDIES_FOLDER": str(folder / "studies"), "EVENLOOP_WORKERS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }  # fmt: skip
    dask = [sys.executable, "-m", "dask"]
    parts: dict[str, Any] = {"database": database}
    parts["scheduler"] = Part(
        [*dask, "scheduler", "--host", "127.0.0.1", "--port", str(at), "--no-dashboard"],
        environment, folder / "scheduler.log",
    )  # fmt: skip
    for number in range(workers):
        parts[f"worker {number}"] = Part(
            [*dask, "worker", f"tcp://127.0.0.1:{at}", "--nthreads", "1", "--no-dashboard",
             "--host", "127.0.0.1", "--no-nanny", "--local-directory", str(folder)],
            environment, folder / f"worker-{number}.log",
        )  # fmt: skip
    parts["service"] = Part(
        [sys.executable, "-m", "api.command.cli", "serve", "--production", "--port", str(port)],
        environment, folder / "service.log",
    )  # fmt: skip
    try:
        yield Service(port), parts
    finally:
        for part in parts.values():
            if isinstance(part, Part):
                part.kill()
        with contextlib.suppress(subprocess.CalledProcessError):
            database.stop()


def main() -> None:
    """Run both studies and print the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=20_000)
    cases = asked.parse_args().cases
    body = study_of(cases)
    with tempfile.TemporaryDirectory(prefix="evenloop-studies-") as name:
        folder = Path(name)
        folder.chmod(0o755)  # the database is another user's
        with everything(folder) as (service, parts):

            def again(*names: str) -> Callable[[], None]:
                def act() -> None:
                    for name in names:
                        parts[name].kill()
                    time.sleep(1.0)
                    for name in names:
                        parts[name].start()
                    print(f"killed and started: {', '.join(names)}", flush=True)

                return act

            def database() -> None:
                parts["database"].stop()
                time.sleep(3.0)
                parts["database"].start()
                print("stopped and started: the database", flush=True)

            calm, rows = service.run({**body, "name": "undisturbed"}, {})
            print(f"undisturbed: {cases:,} cases in {calm:.1f} s, {cases / calm:.0f} a second")
            disturbed, others = service.run(
                {**body, "name": "disturbed"},
                {
                    0.15: again("worker 0"),
                    0.35: again("service"),
                    0.55: again("scheduler", "worker 0", "worker 1"),
                    0.75: database,
                },
            )
            print(f"disturbed: {disturbed:.1f} s")
    text = json.dumps(body).encode()
    began = time.process_time()
    computed(text, 0, 500, Settings())
    print(f"the engine alone: {2.0 * (time.process_time() - began):.2f} CPU ms a case")
    count = rows.count(b"\r\n") - 1
    print(f"{count:,} rows; equal, row for row: {rows == others}")
    assert (count, rows) == (cases, others)


if __name__ == "__main__":
    main()
