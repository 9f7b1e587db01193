"""Which server serves a 10-loop split fastest, and which bears slow clients?

    python -m tests.load.compare_servers [--seconds 10]

Each server runs the same application with the same workers, the cache off and its log to nowhere;
the load comes from a second process. A slow client sends its request a byte at a time.
"""

from __future__ import annotations

import argparse
import json
import socket
import subprocess
import sys
import time

from tests.load.bodies import HOST
from tests.load.service import Service, running

PY = sys.executable
GUNICORN = [PY, "-m", "gunicorn", "-b", f"{HOST}:{{port}}", "-w", "2", "--preload", "--log-level",
            "error", "--no-control-socket"]  # fmt: skip
SERVERS = {
    "gunicorn sync, 2 workers": [*GUNICORN, "-k", "sync", "api:create_app()"],
    "gunicorn gthread, 2 workers x 8 threads": [
        *GUNICORN, "-k", "gthread", "--threads", "8", "api:create_app()",
    ],
    "waitress, 1 process x 46 threads": [PY, "-m", "api.command.cli", "serve", "--port", "{port}"],
    "gunicorn supervising waitress, 2 workers": None,
}  # fmt: skip
SETTINGS = {
    "EVENLOOP_CACHE_BYTES": "0",
    "EVENLOOP_LOG_LEVEL": "warning",
    "EVENLOOP_WORKERS": "2",
    "EVENLOOP_MAX_WAITING": "80",
}


def load(service: Service, connections: int, seconds: float) -> dict[str, object]:
    """Load from another process."""
    arguments = [PY, "-m", "tests.load.load", "--port", str(service.port), "--connections",
                 str(connections), "--seconds", str(seconds)]  # fmt: skip
    done = subprocess.run(arguments, check=True, capture_output=True, timeout=seconds + 120)
    found: dict[str, object] = json.loads(done.stdout)
    return found


def with_slow_clients(service: Service, number: int) -> float:
    """Time that a health check takes [ms] while slow clients are sending; -1 where it fails."""
    slow = []
    for _ in range(number):
        client = socket.create_connection((HOST, service.port), timeout=10)
        client.sendall(b"POST /v1/split HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n")
        slow.append(client)
    time.sleep(0.5)
    began = time.perf_counter()
    try:
        with socket.create_connection((HOST, service.port), timeout=5) as client:
            client.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            answered = client.recv(12) == b"HTTP/1.1 200"
    except OSError:
        answered = False
    took = 1e3 * (time.perf_counter() - began)
    for client in slow:
        client.close()
    return round(took, 1) if answered else -1.0


def main() -> None:
    """Measure and print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=10.0)
    seconds = parser.parse_args().seconds
    print("| server | connections | per second | p50 ms | p99 ms | answers | health, 40 slow |")
    print("|---|---|---|---|---|---|---|")
    for name, command in SERVERS.items():
        with running(SETTINGS, command=command) as service:
            load(service, 8, 1.0)
            for connections in (1, 8, 64):
                seen = load(service, connections, seconds)
                slow = ""
                if connections == 64:
                    took = with_slow_clients(service, 40)
                    slow = f"{took} ms" if took >= 0 else "none within 5 s"
                print(f"| {name} | {connections} | {seen['per_second']} | {seen['p50_ms']} | "
                      f"{seen['p99_ms']} | {seen['statuses']} | {slow} |", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
