"""POST /v1/split against a bare Flask + marshmallow echo of the same body, in one run.

The echo reads the same JSON through plain marshmallow schemas of the same shape (stock fields, no
checks beyond type) and dumps what it read. Both are called through the same kind of server
(waitress, in threads of this process) over one kept connection, and through Flask's test client.
The cache of identical answers is off: every call is computed. Every body brings three kinds of pipe
that no call had before. Calls of both sides take turns; times are those of the CPU, client and all,
and the ratio of wall times stands beside.

    python -m tests.benchmarks.http_vs_echo [--json]
"""

from __future__ import annotations

import http.client
import json
import sys
import threading
import time
from collections.abc import Callable, Iterator
from itertools import count
from typing import Any, Final

from flask import Flask, request
from marshmallow import Schema, fields
from waitress.server import create_server

from api import create_app
from api.settings import Settings

Json = dict[str, Any]
PATH = "/v1/split"


class Fitting(Schema):
    """A fitting, shape only."""

    kind = fields.String()
    count = fields.Integer()


class Straight(Schema):
    """Straight pipe, shape only."""

    length_m = fields.Float()


class Slinky(Schema):
    """A slinky, shape only."""

    coils = fields.Integer()
    coil_diameter_m = fields.Float()
    pitch_m = fields.Float()


class Leg(Schema):
    """A leg, shape only."""

    straight = fields.Nested(Straight)
    slinky = fields.Nested(Slinky)


class Loop(Schema):
    """A loop, shape only."""

    name = fields.String()
    pipe = fields.String()
    legs = fields.List(fields.Nested(Leg))


class Branch(Schema):
    """A branch, shape only."""

    loop = fields.Nested(Loop)
    fittings = fields.List(fields.Nested(Fitting))


class Circuit(Schema):
    """A circuit, shape only."""

    arrangement = fields.String()
    branches = fields.List(fields.Nested(Branch))


class Antifreeze(Schema):
    """A mixture, shape only."""

    kind = fields.String()
    concentration_percent = fields.Float()
    basis = fields.String()


class Duty(Schema):
    """A duty, shape only."""

    to_ground_c = fields.Float()
    from_ground_c = fields.Float()
    heat_kw = fields.Float()


class Pipe(Schema):
    """A pipe, shape only."""

    name = fields.String()
    bore_mm = fields.Float()
    outside_diameter_mm = fields.Float()


class Echo(Schema):
    """The job, shape only."""

    name = fields.String()
    pipes = fields.List(fields.Nested(Pipe))
    antifreeze = fields.Nested(Antifreeze)
    duty = fields.Nested(Duty)
    array = fields.Nested(Circuit)


def echo_app() -> Flask:
    """Build the reference: read by schema, write by schema."""
    app = Flask("echo")
    schema = Echo()

    @app.post(PATH)
    def echo() -> Json:
        return dict(schema.dump(schema.load(request.get_json())))

    return app


_NEW: Final = count()


def body(loops: int) -> bytes:
    """Write a request of unequal slinky loops on one manifold (invented), of pipes all new."""
    pipes = [
        {"name": f"P{kind}", "bore_mm": 26.0 + 1e-4 * next(_NEW), "outside_diameter_mm": 32.0}
        for kind in range(3)
    ]
    branches = [
        {
            "loop": {
                "name": f"T{number}",
                "pipe": f"P{number % 3}",
                "legs": [
                    {"straight": {"length_m": 20 + number % 7}},
                    {"slinky": {"coils": 30, "coil_diameter_m": 1.0, "pitch_m": 1.0}},
                    {"straight": {"length_m": 20}},
                ],
            },
            "fittings": [{"kind": "ball_valve", "count": 2}],
        }
        for number in range(loops)
    ]
    request_body = {
        "name": "Benchmark (invented)",
        "pipes": pipes,
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"to_ground_c": -3.0, "from_ground_c": 0.5, "heat_kw": 2.5 * loops},
        "array": {"arrangement": "manifold", "branches": branches},
    }
    return json.dumps(request_body).encode()


Call = Callable[[bytes], None]


def in_turns(calls: tuple[Call, Call], bodies: Iterator[bytes]) -> list[tuple[float, float]]:
    """Least CPU and wall time of one call of each [s], after a warm-up."""
    best = [(float("inf"), float("inf"))] * len(calls)
    for data in bodies:
        for number, call in enumerate(calls):
            cpu, wall = time.process_time(), time.perf_counter()
            call(data)
            took = time.process_time() - cpu, time.perf_counter() - wall
            best[number] = min(best[number][0], took[0]), min(best[number][1], took[1])
    return best


def through_client(app: Flask) -> Call:
    """Call through Flask's test client."""
    client = app.test_client()

    def call(data: bytes) -> None:
        response = client.post(PATH, data=data, content_type="application/json")
        assert response.status_code == 200, response.data[:300]

    return call


def through_socket(app: Flask) -> Call:
    """Call through a server on a loopback port, one kept connection."""
    server: Any = create_server(app, host="127.0.0.1", port=0)
    threading.Thread(target=server.run, daemon=True).start()
    connection = http.client.HTTPConnection("127.0.0.1", server.effective_port)

    def call(data: bytes) -> None:
        connection.request("POST", PATH, data, {"Content-Type": "application/json"})
        response = connection.getresponse()
        answer = response.read()
        assert response.status == 200, answer[:300]

    return call


def main() -> None:
    """Measure and print."""
    rows = []
    for loops in (10, 100, 1000):
        repeats = 200 if loops <= 100 else 20
        for way, call in (("test client", through_client), ("HTTP", through_socket)):
            calls = call(create_app(Settings(cache_bytes=0))), call(echo_app())
            bodies = (body(loops) for _ in range(repeats))
            ours, echo = in_turns(calls, bodies)
            rows.append({"loops": loops, "way": way, "ours_ms": 1e3 * ours[0],
                         "echo_ms": 1e3 * echo[0], "ratio": ours[0] / echo[0],
                         "ratio_of_wall": ours[1] / echo[1]})  # fmt: skip
    if "--json" in sys.argv:
        print(json.dumps(rows, indent=2))
        return
    print("loops  way          split ms  echo ms  ratio  (wall)")
    for row in rows:
        print(f"{row['loops']:5d}  {row['way']:<11}  {row['ours_ms']:8.2f}  "
              f"{row['echo_ms']:7.2f}  {row['ratio']:5.2f}  "
              f"{row['ratio_of_wall']:6.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
