"""What can happen to a service in use: load, overload, a killed worker, slow clients, odd bytes.

Run large by hand, one after the other (about six minutes)::

    python -m tests.load.scenarios [--seconds 60] [--requests 100000]

and small by pytest. All of it stays on loopback and is bounded in time and number.
"""

from __future__ import annotations

import argparse
import contextlib
import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from api.contract.examples import examples_in_repository
from api.contract.operations import OPERATIONS
from api.schemas.job import JobSchema
from api.service.memory import own_memory
from tests.load.bodies import HOST, array
from tests.load.load import PATH, drive
from tests.load.service import Service, running

Figures = dict[str, Any]
PLENTY = {
    "EVENLOOP_CACHE_BYTES": "0",
    "EVENLOOP_MAX_WAITING": "80",
    "EVENLOOP_MAX_WAIT_SECONDS": "60",
}
TIGHT = {**PLENTY, "EVENLOOP_MAX_WAITING": "6", "EVENLOOP_MAX_CALCULATIONS": "1",
         "EVENLOOP_MAX_WAIT_SECONDS": "5"}  # fmt: skip


def from_another_process(service: Service, connections: int, seconds: float, rate: float = 0.0
                         ) -> Figures:  # fmt: skip
    """Load by tests.load.load, in a process of its own."""
    arguments = [sys.executable, "-m", "tests.load.load", "--port", str(service.port),
                 "--connections", str(connections), "--seconds", str(seconds),
                 "--rate", str(rate)]  # fmt: skip
    done = subprocess.run(arguments, check=True, capture_output=True, timeout=seconds + 120)
    found: Figures = json.loads(done.stdout)
    return found


def overload(service: Service, seconds: float, times: float = 4.0) -> Figures:
    """Ask for several times what the service can do, then see when it is itself again."""
    capacity = from_another_process(service, 4, max(1.0, seconds / 3))["per_second"]
    during = from_another_process(service, 100, seconds, rate=times * capacity)
    ended = time.perf_counter()
    tries = 0
    while True:
        tries += 1
        alone = drive(service.port, 1, 0.0, bodies=1)
        if alone.statuses["200"] and service.get("/readyz")[0] == 200:
            break
        if time.perf_counter() - ended > 30.0:
            raise RuntimeError("the service did not recover")
    return {**during, "capacity": capacity, "offered": round(times * capacity),
            "recovered_after_s": round(time.perf_counter() - ended, 2), "tries": tries}  # fmt: skip


def killed_worker(service: Service, seconds: float, connections: int = 8) -> Figures:
    """Kill -9 one worker in the middle of a load; see what the callers see."""
    before = service.workers()
    victim = random.Random(1).choice(before)
    killer = threading.Timer(seconds / 2, os.kill, (victim, signal.SIGKILL))
    killer.start()
    tally = drive(service.port, connections, seconds, bodies=50, expected={})
    killer.join()
    end = time.perf_counter() + 15.0
    while time.perf_counter() < end:
        after = service.workers()
        if len(after) == len(before) and victim not in after:
            break
        time.sleep(0.1)
    return {**tally.summary(), "connections": connections, "workers_before": len(before),
            "workers_after": len(service.workers()), "replaced": victim not in after}  # fmt: skip


def slow_clients(service: Service, number: int, seconds: float) -> Figures:
    """Send requests a byte at a time on many connections while others go about their work."""
    clients = [socket.create_connection((HOST, service.port), timeout=10) for _ in range(number)]
    head = f"POST {PATH} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n".encode()
    stop = threading.Event()

    def drip() -> None:
        for at in range(len(head)):
            if stop.wait(seconds / len(head)):
                return
            for client in clients:
                with contextlib.suppress(OSError):
                    client.send(head[at : at + 1])

    thread = threading.Thread(target=drip)
    thread.start()
    tally = drive(service.port, 2, seconds, bodies=200)
    stop.set()
    thread.join()
    for client in clients:
        client.close()
    return {**tally.summary(), "slow_clients": number}


def half_sent(service: Service, number: int) -> Figures:
    """Leave requests half sent on many connections, and ask for health and splits beside them."""
    head = f"POST {PATH} HTTP/1.1\r\nHost: x\r\nContent-Le".encode()
    statuses: Counter[str] = Counter()
    took = []
    with contextlib.ExitStack() as kept:
        for _ in range(number):
            client = socket.create_connection((HOST, service.port), timeout=30)
            kept.enter_context(client)
            with contextlib.suppress(OSError):
                client.sendall(head)
        for place in 10 * ["127.0.0.2", HOST]:
            began = time.perf_counter()
            statuses[str(service.get("/healthz", source=place)[0])] += 1
            statuses[str(service.post(PATH, array(10))[0])] += 1
            took.append(1e3 * (time.perf_counter() - began))
    return {"half_sent": number, "statuses": dict(statuses), "slowest_ms": round(max(took), 1)}


def kept_connections(service: Service, number: int) -> list[int]:
    """Connections that each worker has after many were opened at once and are kept."""
    clients = [socket.create_connection((HOST, service.port), timeout=30) for _ in range(number)]
    for client in clients:
        client.sendall(b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n")
    for client in clients:
        client.recv(65_536)
    spread = [service.connections_of(each) for each in service.workers()]
    for client in clients:
        client.close()
    return spread


def mixed(service: Service, number: int, connections: int = 8) -> Figures:
    """Ask for all kinds of answers at once; what the largest worker then holds of its own [MB]."""
    jobs = [each.job for each in examples_in_repository()]
    paths = [each.path for each in OPERATIONS if each.body is JobSchema and "{" not in each.path]
    chance = random.Random(1)
    # Most requests are splits of arrays that none had before.
    asked = [
        (chance.choice(paths), json.dumps(chance.choice(jobs)).encode())
        if chance.random() < 0.1
        else (PATH, array(chance.randrange(2, 40), turn))
        for turn in range(number)
    ]
    held: list[float] = []
    done = threading.Event()

    def look() -> None:
        while not done.wait(0.5):
            held.extend(own_memory(each) / 1e6 for each in service.workers())

    looking = threading.Thread(target=look)
    looking.start()
    with ThreadPoolExecutor(connections) as pool:
        statuses = Counter(str(s) for s, _ in pool.map(lambda each: service.post(*each), asked))
    done.set()
    looking.join()
    at_end = [own_memory(each) / 1e6 for each in service.workers()]
    return {"requests": number, "statuses": dict(statuses), "most_mb": round(max(held + at_end)),
            "at_end_mb": round(max(at_end)), "looks": len(held)}  # fmt: skip


def odd_bytes(chance: random.Random) -> tuple[str, str, bytes, dict[str, str]]:
    """Method, path, body and headers of a request that nobody should send."""
    paths = (PATH, PATH, PATH, "/v1/splits", "/v1/fluid-properties", "/v1/pipes", "/v1",
             "/v1/problems/x", "/metrics", "/readyz", "/%00", "/v1/split?a=b")  # fmt: skip
    body = bytearray(array(chance.choice((1, 2, 5)), chance.randrange(1_000)))
    if chance.random() < 0.2:
        body = bytearray(b'{"jobs":[' + bytes(body) + b"," + bytes(body) + b"]}")
    for _ in range(chance.choice((0, 1, 1, 2, 5, 20))):
        act, at = chance.random(), chance.randrange(len(body))
        if act < 0.4:
            body[at] = chance.randrange(256)
        elif act < 0.6:
            del body[at : at + chance.randrange(1, 40)]
        elif act < 0.8:
            odd = (b"1e999", b"-1", b"NaN", b"null", b"{", b"[", b'"', b"\\ud800", b"1e-320", b"0")
            body[at:at] = chance.choice(odd)
        else:
            body[at:at] = body[at : at + 30] * chance.randrange(3)
        if not body:
            body = bytearray(b"{}")
    headers = {"Content-Type": chance.choice(("application/json",) * 8 + ("text/plain", "a", ""))}
    if chance.random() < 0.2:
        headers["Accept"] = chance.choice(("text/csv", "image/svg+xml", "*/*;q=0", "x", "text/*"))
    if chance.random() < 0.1:
        headers["X-Request-Id"] = "".join(chance.choices("ab<>;\"'%\\ \t", k=20)).strip() or "a"
    if chance.random() < 0.1:
        headers["Accept-Encoding"] = chance.choice(("gzip", "gzip;q=0", "*", "br;q=x", ";;,"))
    if chance.random() < 0.05:
        headers["If-None-Match"] = chance.choice(("*", '"', 'W/"x"', "\\"))
    if chance.random() < 0.05:
        headers["Authorization"] = chance.choice(("Bearer", "Bearer x", "Basic ====", "\\"))
    method = chance.choice(("POST",) * 12 + ("GET", "PUT", "OPTIONS", "HEAD", "DELETE", "BREW"))
    return method, chance.choice(paths), bytes(body), headers


def fuzz(service: Service, number: int, connections: int, seed: int = 1) -> Figures:
    """Send odd requests; ``bad`` holds those that were answered with a 5xx or not at all."""
    statuses: Counter[str] = Counter()
    bad: list[str] = []
    lock = threading.Lock()

    def run(part: int) -> None:
        chance = random.Random(seed * 1_000 + part)
        connection = http.client.HTTPConnection(HOST, service.port, timeout=60)
        for _ in range(number // connections):
            method, path, body, headers = odd_bytes(chance)
            try:
                connection.request(method, path, body, headers)
                answer = connection.getresponse()
                answer.read()
                status = str(answer.status)
            except (OSError, http.client.HTTPException) as error:
                status = type(error).__name__
                connection.close()
            with lock:
                statuses[status] += 1
                if not status.isdigit() or status >= "500":
                    bad.append(f"{status}: {method} {path} {headers} {body[:300]!r}")
        connection.close()

    threads = [threading.Thread(target=run, args=(part,)) for part in range(connections)]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return {"seconds": round(time.perf_counter() - began, 1), "statuses": dict(statuses),
            "bad": bad[:20], "seed": seed}  # fmt: skip


def stopped_under_load(service: Service, connections: int = 4) -> Figures:
    """Stop the service while requests are under way: each that was begun is answered."""
    stop = threading.Timer(1.0, service.process.send_signal, (signal.SIGTERM,))
    stop.start()
    tally = drive(service.port, connections, 1.4, loops=100, bodies=20)
    stop.join()
    code = service.process.wait(40)
    return {**tally.summary(), "exit_code": code}


def main() -> None:
    """Run all and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--requests", type=int, default=100_000)
    given = parser.parse_args()

    def show(what: str, figures: Figures) -> None:
        print(f"{what}: {json.dumps(figures)}", flush=True)

    with running(PLENTY) as service:
        for connections in (1, 8, 64):
            show(
                f"closed loop, {connections} connections",
                from_another_process(service, connections, given.seconds),
            )
        show("kill -9 of a worker", killed_worker(service, min(20.0, given.seconds)))
        show("200 slow clients", slow_clients(service, 200, min(20.0, given.seconds)))
        show("1,100 half-sent requests", half_sent(service, 1_100))
        show("memory after 10,000 mixed requests [MB]", mixed(service, 10_000))
        show("spread of 64 connections", {"workers": kept_connections(service, 64)})
        show("stopped under load", stopped_under_load(service))
    with running(TIGHT) as service:
        show("overload", overload(service, min(20.0, given.seconds)))
    with running(PLENTY, log="/dev/full") as service:
        show("log to a full disk", from_another_process(service, 8, min(10.0, given.seconds)))
    with running(PLENTY) as service:
        show("fuzz", fuzz(service, given.requests, 4))


if __name__ == "__main__":
    main()
