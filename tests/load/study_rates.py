"""What a study costs over its cases alone: overhead, workers side by side, memory.

    python -m tests.load.study_rates --cases 20000 --memory 200000

Full splits of two loops, in SQLite, all on loopback. CPU time is of every process that takes part.
Rates are by the clock, one worker and two in turns: they mean something where there is little else
to do. What workers would reach with cores of their own follows from how long they had something to
do, running or waiting for a core, and from the CPU time of a case.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from api.settings import Settings
from api.studies.engines import Cluster, Engine, EngineLostError, Here
from api.studies.plan import plan_of
from api.studies.rows import computed
from api.studies.runner import run_study
from api.studies.store import Store
from tests.load.studies import Part, free_port, study_of

_HOLD = 60.0


def run_through(folder: Path, body: dict[str, Any], engine: Engine) -> float:
    """Run a study to its end [s]."""
    settings = Settings(studies_folder=str(folder), cache_bytes=0)
    store = Store(settings)
    try:
        plan, text = plan_of(body, settings), json.dumps(body).encode()
        store.accept("", None, "", text, "", plan.calculation, plan.cases)
        study = store.take("rates", _HOLD)
        assert study is not None
        began = time.perf_counter()
        run_study(store, study, engine, "rates", settings, hold=_HOLD)
        took = time.perf_counter() - began
        ended = store.find("", study.id)
        assert ended is not None
        assert ended.done == plan.cases
        return took
    finally:
        store.close()


def cpu_of(part: Part) -> float:
    """CPU time of a process so far [s]."""
    assert part.process is not None
    fields = Path(f"/proc/{part.process.pid}/stat").read_text("ascii").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def wanted_of(part: Part) -> dict[str, int]:
    """How long each thread of a process has run or waited for a core so far [ns]."""
    assert part.process is not None
    found = {}
    for task in Path(f"/proc/{part.process.pid}/task").iterdir():
        ran, waited, _ = (task / "schedstat").read_text("ascii").split()
        found[task.name] = int(ran) + int(waited)
    return found


def busy(before: dict[str, int], after: dict[str, int], took: float) -> float:
    """Share of the time in which a process's busiest thread had something to do."""
    return max(each - before.get(thread, 0) for thread, each in after.items()) / (1e9 * took)


@contextlib.contextmanager
def cluster(folder: Path) -> Iterator[tuple[str, list[Part]]]:
    """A scheduler and two workers; its address, and all three."""
    at = f"127.0.0.1:{free_port()}"
    environment = {
        **os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
        "OPENBLAS_NUM_THREADS": "1",
    }  # fmt: skip
    dask = [sys.executable, "-m", "dask"]
    parts = [Part([*dask, "scheduler", "--host", "127.0.0.1", "--port", at.split(":")[1],
                   "--no-dashboard"], environment, folder / "scheduler.log")]  # fmt: skip
    parts += [
        Part([*dask, "worker", f"tcp://{at}", "--nthreads", "1", "--no-dashboard", "--host",
              "127.0.0.1", "--no-nanny", "--local-directory", str(folder), "--name", str(number)],
             environment, folder / f"worker-{number}.log")
        for number in range(2)
    ]  # fmt: skip
    try:
        yield f"tcp://{at}", parts
    finally:
        for part in parts:
            part.kill()


def reached(address: str, until: float) -> Cluster:
    """The cluster, once its scheduler answers."""
    while True:
        try:
            return Cluster(address)
        except EngineLostError:
            if time.monotonic() > until:
                raise


def workers_side_by_side(folder: Path, cases: int, turns: int) -> None:
    """Print the rate of one worker and of two, and the CPU time of all that take part."""
    with cluster(folder) as (address, parts):
        until = time.monotonic() + 120.0
        engine = reached(address, until)
        while engine.threads < 2:
            assert time.monotonic() < until
            time.sleep(0.2)
        run_through(folder / "warm", study_of(1000), engine)  # what workers load once
        rates: dict[int, list[float]] = {1: [], 2: []}
        shares: dict[int, list[float]] = {1: [], 2: []}
        cpu = {1: 0.0, 2: 0.0}
        for turn in range(turns):
            for workers in (2, 1):
                if workers == 1:
                    parts[2].kill()
                    while engine.threads > 1:
                        time.sleep(0.2)
                some = parts[: workers + 1]
                before = time.process_time() + sum(map(cpu_of, some))
                wanted = [wanted_of(each) for each in some[1:]]
                took = run_through(folder / f"{turn}-{workers}", study_of(cases), engine)
                cpu[workers] += time.process_time() + sum(map(cpu_of, some)) - before
                had = [
                    busy(old, wanted_of(each), took)
                    for old, each in zip(wanted, some[1:], strict=True)
                ]
                shares[workers] += had
                rates[workers].append(cases / took)
                told = ", ".join(f"{100.0 * each:.0f} %" for each in had)
                rate, load = cases / took, os.getloadavg()[0]
                print(
                    f"{workers} workers: {rate:.0f} cases/s, busy {told}, load {load:.1f}",
                    flush=True,
                )
            parts[2].start()
            while engine.threads < 2:
                time.sleep(0.2)
            run_through(folder / f"warm-{turn}", study_of(1000), engine)
        engine.close()
    two, one = max(rates[2]), max(rates[1])
    print(f"by the clock, best of two workers / (2 x best of one): {two / (2.0 * one):.2f}")
    each = {workers: 1e3 * spent / (cases * turns) for workers, spent in cpu.items()}
    print(f"CPU of all that take part: {each[1]:.3f} ms a case with one, {each[2]:.3f} with two")
    even = min(shares[2]) / max(shares[1]) * each[1] / each[2]
    print(f"two workers with cores of their own would reach {100.0 * even:.0f} % of twice the rate")


def overhead(folder: Path, cases: int, turns: int = 5) -> None:
    """Print what a study takes within one process over computing its cases alone, CPU time."""
    alone = study = 0.0
    some = max(100, cases // turns // 100 * 100)
    body = study_of(some)
    text = json.dumps(body).encode()
    computed(text, 0, min(some, 500), Settings())
    for turn in range(turns):
        begin = time.process_time()
        computed(text, 0, some, Settings())
        middle = time.process_time()
        run_through(folder / f"here-{turn}", {**body, "name": str(turn)}, Here())
        alone += middle - begin
        study += time.process_time() - middle
    each = 1e3 / (some * turns)
    print(f"alone {alone * each:.3f}, as a study {study * each:.3f} CPU ms a case: "
          f"{100.0 * (study / alone - 1.0):.1f} % more", flush=True)  # fmt: skip


def memory_of(cases: int) -> float:
    """Peak memory of a process that runs so many cases [MB]."""
    program = [sys.executable, "-m", "tests.load.study_rates", "--within", str(cases)]
    done = subprocess.run(program, check=True, capture_output=True, text=True)
    return float(done.stdout.split()[-1])


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=20_000)
    asked.add_argument("--turns", type=int, default=2)
    asked.add_argument("--memory", type=int, default=0, help="cases of the larger study")
    asked.add_argument("--within", type=int, help=argparse.SUPPRESS)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="evenloop-rates-") as name:
        folder = Path(name)
        if given.within:
            run_through(folder, study_of(given.within), Here())
            print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)
            return
        overhead(folder, given.cases)
        workers_side_by_side(folder, given.cases, given.turns)
    if given.memory:
        few, many = memory_of(2000), memory_of(given.memory)
        print(f"peak memory: 2,000 cases {few:.0f} MB, {given.memory:,} cases {many:.0f} MB")


if __name__ == "__main__":
    main()
