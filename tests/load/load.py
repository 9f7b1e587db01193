"""Closed-loop and open-loop load on POST /v1/split from a process of its own.

    python -m tests.load.load --port 8080 --connections 8 --seconds 10
    python -m tests.load.load --port 8080 --connections 200 --seconds 5 --rate 1600

Every request is another array, so that no answer comes from the cache, and every answer is checked
for its name. Prints one JSON object.
"""

from __future__ import annotations

import argparse
import http.client
import json
import threading
import time
from collections import Counter
from dataclasses import dataclass, field

from tests.load.bodies import HOST, array

PATH = "/v1/split"


@dataclass(slots=True)
class Tally:
    """What one run saw.

    Attributes
    ----------
    seconds
        Length of the run [s].
    statuses
        Answers by status; ``broken`` for connections that broke, ``wrong`` for wrong answers.
    milliseconds
        Time of each answer of 200 [ms], sorted.
    refusals_ms
        Time of each 429 or 503 [ms], sorted.
    """

    seconds: float = 0.0
    statuses: Counter[str] = field(default_factory=Counter)
    milliseconds: list[float] = field(default_factory=list)
    refusals_ms: list[float] = field(default_factory=list)

    def summary(self) -> dict[str, object]:
        """Figures for a table."""
        good = self.statuses["200"]
        return {
            "seconds": round(self.seconds, 1),
            "statuses": dict(self.statuses),
            "per_second": round(good / self.seconds, 1) if self.seconds else 0.0,
            "p50_ms": percentile(self.milliseconds, 50),
            "p99_ms": percentile(self.milliseconds, 99),
            "refusal_p50_ms": percentile(self.refusals_ms, 50),
            "refusal_p99_ms": percentile(self.refusals_ms, 99),
        }


def percentile(ordered: list[float], share: int) -> float:
    """Value that a share of the values does not exceed; 0 where there are none."""
    if not ordered:
        return 0.0
    return round(ordered[min(len(ordered) - 1, len(ordered) * share // 100)], 1)


def drive(
    port: int,
    connections: int,
    seconds: float,
    *,
    loops: int = 10,
    rate: float = 0.0,
    bodies: int = 2_000,
    expected: dict[str, object] | None = None,
) -> Tally:
    """Send requests over kept connections, each as soon as its connection is free.

    Parameters
    ----------
    port
        Where the service listens on loopback.
    connections
        Connections, each with one request under way.
    seconds
        How long [s].
    loops
        Loops of each array.
    rate
        Requests a second of all connections together; 0 for as many as go.
    bodies
        Different arrays; after them it begins again.
    expected
        Pump duty by name, filled in by what comes first and compared with what comes after.

    Returns
    -------
    Tally
        What came of it.
    """
    tally, lock = Tally(), threading.Lock()
    numbers = iter(range(10**9))
    prepared = [array(loops, seed) for seed in range(bodies)]
    start = time.perf_counter() + 0.1

    def run() -> None:
        connection = http.client.HTTPConnection(HOST, port, timeout=60)
        while True:
            with lock:
                number = next(numbers)
            due = start + (number / rate if rate else 0.0)
            now = time.perf_counter()
            if max(due, now) - start > seconds:
                break
            if due > now:
                time.sleep(due - now)
            body = prepared[number % bodies]
            sent = time.perf_counter()
            try:
                connection.request("POST", PATH, body, {"Content-Type": "application/json"})
                answer = connection.getresponse()
                content = answer.read()
                status = str(answer.status)
                if status == "200" and not right(content, number % bodies, loops, expected, lock):
                    status = "wrong"
            except (OSError, http.client.HTTPException):
                status = "broken"
                connection.close()
            took = 1e3 * (time.perf_counter() - sent)
            with lock:
                tally.statuses[status] += 1
                if status == "200":
                    tally.milliseconds.append(took)
                elif status in {"429", "503"}:
                    tally.refusals_ms.append(took)
        connection.close()

    threads = [threading.Thread(target=run) for _ in range(connections)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    tally.seconds = time.perf_counter() - start
    tally.milliseconds.sort()
    tally.refusals_ms.sort()
    return tally


def right(
    content: bytes, seed: int, loops: int, expected: dict[str, object] | None, lock: threading.Lock
) -> bool:
    """Tell whether an answer is that to its request, and the same as before."""
    if f'"Load {seed} (invented)"'.encode() not in content[:200]:
        return False
    if expected is None:
        return True
    read = json.loads(content)
    with lock:
        known = expected.setdefault(read["name"], read["pump"])
    return known == read["pump"] and len(read["loops"]) == loops


def main() -> None:
    """Run once and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--connections", type=int, default=8)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--loops", type=int, default=10)
    parser.add_argument("--rate", type=float, default=0.0)
    given = parser.parse_args()
    tally = drive(given.port, given.connections, given.seconds, loops=given.loops, rate=given.rate)
    print(json.dumps({**tally.summary(), "connections": given.connections}))


if __name__ == "__main__":
    main()
