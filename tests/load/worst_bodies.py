"""What does the worst body cost that the service reads, on each address that takes one?

    python -m tests.load.worst_bodies

Each in a process of its own: CPU time, memory over what was in use before, size of the answer.
`SPOILT` are no jobs at all; `heavy` is one with as many unlike loops as the service takes, and
`unlike` the same with unlike pipes along one header and a valve of many positions.
"""

from __future__ import annotations

import copy
import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any, Final

from api import create_app
from api.contract.examples import examples_in_repository
from api.contract.operations import OPERATIONS
from api.settings import Settings

MOST = 4_000_000  # bytes, a little below what the service reads by default
ADDRESSES = tuple(
    each.path
    for each in OPERATIONS
    if each.body is not None or each.takes
    if "{" not in each.path and not each.path.startswith(("/v1/splits", "/v1/studies"))
)


def _filled(piece: bytes, before: bytes = b"[", after: bytes = b"]") -> bytes:
    return before + b",".join([piece] * (MOST // (len(piece) + 1))) + after


def _array(branches: Any) -> bytes:
    return json.dumps({"array": {"arrangement": "manifold", "branches": branches}}).encode()


def _unknown_pipes() -> bytes:
    leg = {"straight": {"length_m": 2}}
    return _array([
        {"loop": {"name": f"L{n}", "pipe": f"PE100 SDR11 3{n}x", "legs": [leg]}}
        for n in range(MOST // 105)
    ])  # fmt: skip


def _unknown_legs() -> bytes:
    return _array([{"loop": {"name": "a", "pipe": "x", "legs": [{"a": 1}] * 400_000}}])


# Bodies that cannot be a job, each nearly as long as the service reads, by what they are.
SPOILT: Final[dict[str, Callable[[], bytes]]] = {
    "one name again and again": lambda: _filled(b'"k":1', b"{", b"}"),
    "every name twice": lambda: (
        b"{%s}" % b",".join(b'"k%d":1' % (n // 2) for n in range(MOST // 12))
    ),
    "NaN": lambda: _filled(b"NaN"),
    "integers of 300 digits": lambda: _filled(b"1" * 300),
    "half surrogates": lambda: b'{"name":"%s"}' % (b"\\ud800" * (MOST // 6 - 9)),
    "brackets": lambda: b"[" * MOST,
    "unknown pipes": _unknown_pipes,
    "empty branches": lambda: _array([{}] * (MOST // 4 - 60)),
    "unknown legs": _unknown_legs,
    "one unknown field": lambda: b'{"%s":1}' % (b"k" * (MOST - 9)),
    "unknown fields": lambda: json.dumps({f"{n:x}": 1 for n in range(MOST // 12)}).encode(),
}


def heavy(loops: int) -> bytes:
    """A job of every chapter with many loops, each another (invented)."""
    whole = [each for each in examples_in_repository() if "report" in each.calculations]
    job = copy.deepcopy(next(e.job for e in whole if e.name == "quince-barn-short-tail"))
    branch = job["array"]["branches"][0]
    branches = []
    for number in range(loops):
        each = copy.deepcopy(branch) | {"count": 1}
        each["loop"]["name"] = f"L{number}"
        each["loop"]["legs"][0]["straight"]["length_m"] += number % 97 / 10
        branches.append(each)
    job["array"] = {"arrangement": "manifold", "branches": branches}
    job["duty"]["heat_kw"] *= loops / 10
    job["plant"]["heat_exchanger"][0]["flow_l_s"] *= loops / 3
    del job["plant"]["runs"]  # of a pipe for three loops
    return json.dumps(job).encode()


def unlike(loops: int) -> bytes:
    """That job along one header, each loop of a pipe of its own, its valves of 1,000 positions."""
    job = json.loads(heavy(loops))
    kinds = min(loops, 999)
    job["pipes"] = [
        {"name": f"P{n}", "bore_mm": 26 + n / 100, "outside_diameter_mm": 32 + n / 100}
        for n in range(kinds)
    ] + [{"name": "header", "bore_mm": 290, "outside_diameter_mm": 315}]
    for number, branch in enumerate(job["array"]["branches"]):
        branch.pop("runs", None)
        branch["loop"]["pipe"] = f"P{number % kinds}"
        branch["header_m"] = 1 + number % 97 / 1_000
    job["array"] |= {"arrangement": "direct_return", "header_pipe": "header"}
    positions = [{"position": n, "kv_m3_h": 0.3 + n / 100} for n in range(1_000)]
    job["balancing"] = {"target": "even", "valve": {"name": "V", "positions": positions}}
    return json.dumps(job).encode()


def repeated(legs: int, fittings: int, copies: int) -> bytes:
    """A short job of two loops, each with many unlike legs and fittings, and copies of both."""
    job = json.loads(heavy(2))
    for number, branch in enumerate(job["array"]["branches"]):
        branch.pop("fittings", None)
        branch["count"] = copies
        branch["loop"]["legs"] = [
            {
                "slinky": {
                    "coils": 1 + number,
                    "coil_diameter_m": 1 + leg / 1_000,
                    "pitch_m": 1,
                },
                "fittings": [{"loss_coefficient": 0.01 + n / 1_000} for n in range(fittings)],
            }
            for leg in range(legs)
        ]
    job["duty"]["heat_kw"] *= copies / 10
    job["plant"]["heat_exchanger"][0]["flow_l_s"] *= copies
    return json.dumps(job).encode()


HEAVY: Final[dict[str, Callable[[int], bytes]]] = {"heavy": heavy, "unlike": unlike}


def cost(path: str, body: bytes) -> dict[str, Any]:
    """Post a body in this process: status, bytes, CPU time [s], peak of memory over before [MB]."""
    # On a busy machine the CPU time that is measured may be long in coming.
    client = create_app(Settings(max_seconds=600)).test_client()
    client.post(path, data=heavy(2), content_type="application/json")  # loads what is loaded late
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.process_time()
    answer = client.post(path, data=body, content_type="application/json")
    took = time.process_time() - began
    more = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    return {"status": answer.status_code, "bytes_in": len(body), "bytes_out": len(answer.data),
            "cpu_s": round(took, 2), "more_mb": round(more)}  # fmt: skip


def main() -> None:
    """Print a table, or one row where an address and a body are named."""
    if len(sys.argv) == 3:
        path, name = sys.argv[1:]
        body = HEAVY[name](Settings().max_loops) if name in HEAVY else SPOILT[name]()
        print(
            f"| {path} | {name} | {' | '.join(map(str, cost(path, body).values()))} |", flush=True
        )
        return
    print("| address | body | status | bytes in | bytes out | CPU s | MB |\n" + 7 * "|---" + "|")
    cases = [("/v1/split", name) for name in SPOILT]
    cases += [(path, name) for name in HEAVY for path in ADDRESSES]
    for path, name in cases:
        subprocess.run([sys.executable, "-m", "tests.load.worst_bodies", path, name], check=False)


if __name__ == "__main__":
    main()
