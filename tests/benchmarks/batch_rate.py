"""POST /v1/splits against the engine called in a plain loop on the same arrays, in one run.

    python -m tests.benchmarks.batch_rate [--json]

The loop builds each array in the engine's own description, as whoever calls the engine must, and
solves it; "solve only" has them built beforehand. The batch reads JSON, checks, builds, solves and
writes JSON. All in this process, without a socket; the cache is off.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from dataclasses import replace

from api import create_app
from api.requests.job import job_from
from api.settings import Settings
from hydraulics.job import Chapters, Job
from hydraulics.layout.circuit import Circuit, Loop
from tests.load.bodies import array

ARRAYS = 200


def best_of(call: Callable[[], None], repeats: int) -> float:
    """Least CPU time of one call [s], after a warm-up."""
    call()
    times = []
    for _ in range(repeats):
        start = time.process_time()
        call()
        times.append(time.process_time() - start)
    return min(times)


def rebuilt(circuit: Circuit) -> Circuit:
    """Build an array of loops anew, leg by leg."""
    branches = []
    for branch in circuit.branches:
        loop = branch.item
        assert isinstance(loop, Loop)
        legs = tuple(replace(leg) for leg in loop.legs)
        branches.append(replace(branch, item=Loop(loop.name, loop.pipe, legs)))
    return replace(circuit, branches=tuple(branches))


def main() -> None:
    """Measure and print."""
    rows = []
    app = create_app(Settings(cache_bytes=0, max_loops=10_000))
    client = app.test_client()
    for loops in (3, 10, 40):
        bodies = [json.loads(array(loops, seed)) for seed in range(ARRAYS)]
        data = json.dumps({"jobs": bodies}).encode()
        jobs = [job_from(body, "split", loops) for body in bodies]

        def engine(jobs: list[Job] = jobs) -> None:
            for job in jobs:
                assert job.circuit is not None
                assert Chapters(replace(job, circuit=rebuilt(job.circuit))).split

        def solve_only(jobs: list[Job] = jobs) -> None:
            for job in jobs:
                assert Chapters(job).split

        def batch(data: bytes = data) -> None:
            answer = client.post("/v1/splits", data=data, content_type="application/json")
            assert answer.status_code == 207, answer.data[:300]

        ours, plain, solve = best_of(batch, 8), best_of(engine, 8), best_of(solve_only, 8)
        rows.append({"loops": loops, "arrays": ARRAYS, "batch_per_s": ARRAYS / ours,
                     "engine_per_s": ARRAYS / plain, "ratio": ours / plain,
                     "ratio_solve_only": ours / solve})  # fmt: skip
    if "--json" in sys.argv:
        print(json.dumps(rows, indent=2))
        return
    print("loops  arrays  batch /s  engine /s  time ratio  (to solve only)")
    for row in rows:
        print(f"{row['loops']:5d}  {row['arrays']:6d}  {row['batch_per_s']:8.0f}  "
              f"{row['engine_per_s']:9.0f}  {row['ratio']:10.2f}  "
              f"{row['ratio_solve_only']:15.2f}")  # fmt: skip


if __name__ == "__main__":
    main()
