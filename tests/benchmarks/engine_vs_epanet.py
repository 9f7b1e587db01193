"""How long does the engine take beside EPANET on the same network? A table, not a test.

    python -m tests.benchmarks.engine_vs_epanet [--json] [--sizes 10,100,1000,10000]

Both sides get one array: straight loops of unequal length, the same bores, roughness and viscosity,
one temperature, every pipe's Reynolds number outside 2000 to 4000 (where EPANET has a law of its
own). Each is timed from what its user has in hand to the answer, best of several runs, in one
process and one run of this program:

* ours, solve: ``assemble`` and ``solve`` from a layout in memory (no parsing) to flows and drops in
  memory; friction tables warm, as in any process but for its first request with a new kind of pipe;
* ours, all: ``flow_split``: the same and per-loop results, causes of imbalance, findings and a
  system curve of 10 points, each solved;
* EPANET (2.2 through wntr, in process): ``ENopen`` of an input file in the page cache (its only way
  in, with parsing) and ``ENopenH``, ``ENinitH``, ``ENrunH`` to one solved period. Reading the flows
  out is not counted. It stops at its own default accuracy, a change of flow of 1e-3 of the total;
  ours balances pressure to 1e-10. Its time for a manifold of 10,000 loops is that of a node with
  10,000 pipes, which it was not made for.

The exponent is the slope of log time over log size between the two largest sizes: 1 is linear.
"""

import argparse
import json
import math
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import Arrangement, Circuit, Plant
from hydraulics.split.assembly import assemble
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.solver import solve
from tests.reference_networks import epanet_input, field, solve_by_epanet

MIXTURE = mixture("methanol", 0.20, "mass")
TEMPERATURE = 10.0
BRINE = fluid(MIXTURE, TEMPERATURE)
FLOW_PER_LOOP = 0.5e-3  # m3/s; Re about 11 000 in the loops
EPANET_ACCURACY = 1e-3  # its default
ARRANGEMENTS: tuple[Arrangement, ...] = ("manifold", "reverse_return")


@dataclass(frozen=True, slots=True)
class Row:
    """Times [ms] of one network, largest difference of a loop's flow, and the Reynolds range."""

    arrangement: str
    loops: int
    solve_ms: float
    all_ms: float
    epanet_open_ms: float
    epanet_solve_ms: float
    solve_over_epanet: float
    all_over_epanet: float
    flow_difference_percent: float
    lowest_reynolds: float
    highest_reynolds: float


def best(runs: int, work: Callable[[], object]) -> float:
    """Least time of several runs [s]."""
    times = []
    for _ in range(runs):
        begun = time.process_time()
        work()
        times.append(time.process_time() - begun)
    return min(times)


def epanet_times(file: Path, runs: int) -> tuple[float, float]:
    """Times of opening and of solving [s] in the run that was quickest in sum."""
    from wntr.epanet.toolkit import ENepanet

    quickest = (math.inf, math.inf)
    for _ in range(runs):
        engine: Any = ENepanet()
        begun = time.process_time()
        engine.ENopen(str(file), str(file) + ".rpt", str(file) + ".bin")
        opened = time.process_time()
        engine.ENopenH()
        engine.ENinitH(0)
        engine.ENrunH()
        solved = time.process_time()
        engine.ENcloseH()
        engine.ENclose()
        quickest = min(quickest, (opened - begun, solved - opened), key=sum)
    return quickest


def measure(arrangement: Arrangement, loops: int, folder: Path) -> Row:
    """Time one array on both sides and compare the answers."""
    circuit: Circuit = field(arrangement, loops)
    total = FLOW_PER_LOOP * loops * BRINE.density
    fluids = (BRINE, BRINE, BRINE)
    duty = FlowDuty(FLOW_PER_LOOP * loops, TEMPERATURE, TEMPERATURE)
    runs = max(5, min(50, 20_000 // loops))

    network = assemble(circuit, Plant(), fluids)  # warms the tables
    solution = solve(network, total)
    reynolds = np.abs(solution.flow[network.owner]) * network.reynolds_per_flow
    reynolds = reynolds[network.length > 0.0]
    if ((reynolds > 2000.0) & (reynolds < 4000.0)).any():
        raise SystemExit(f"{arrangement} {loops}: a pipe is in EPANET's own transition band")
    answer = solve_by_epanet(circuit, total, BRINE, folder, EPANET_ACCURACY)
    flows = solution.flow[network.loop_rows]
    difference = float(np.abs(answer.flows / flows - 1.0).max())
    if difference > 0.01:
        raise SystemExit(f"{arrangement} {loops}: flows differ by {difference:.2%}")

    solve_s = best(runs, lambda: solve(assemble(circuit, Plant(), fluids), total))
    all_s = best(max(3, runs // 4), lambda: flow_split(circuit, Plant(), MIXTURE, duty).curve)
    file = folder / "timed.inp"
    file.write_text(epanet_input(circuit, total, BRINE, EPANET_ACCURACY)[0])
    open_s, run_s = epanet_times(file, runs)
    epanet_s = open_s + run_s
    return Row(
        arrangement=arrangement,
        loops=loops,
        solve_ms=solve_s * 1e3,
        all_ms=all_s * 1e3,
        epanet_open_ms=open_s * 1e3,
        epanet_solve_ms=run_s * 1e3,
        solve_over_epanet=solve_s / epanet_s,
        all_over_epanet=all_s / epanet_s,
        flow_difference_percent=difference * 100.0,
        lowest_reynolds=float(reynolds.min()),
        highest_reynolds=float(reynolds.max()),
    )


def exponents(rows: list[Row]) -> dict[str, dict[str, float]]:
    """Growth of time with size between the two largest sizes of each arrangement."""
    found: dict[str, dict[str, float]] = {}
    for arrangement in ARRANGEMENTS:
        own = sorted((r for r in rows if r.arrangement == arrangement), key=lambda r: r.loops)
        if len(own) < 2:
            continue
        small, large = own[-2:]
        size = math.log(large.loops / small.loops)
        found[arrangement] = {
            "solve": math.log(large.solve_ms / small.solve_ms) / size,
            "all": math.log(large.all_ms / small.all_ms) / size,
            "epanet": math.log(
                (large.epanet_open_ms + large.epanet_solve_ms)
                / (small.epanet_open_ms + small.epanet_solve_ms)
            )
            / size,
        }
    return found


def table(rows: list[Row]) -> str:
    """The rows as aligned text."""
    lines = [
        "                          ours [ms]           EPANET [ms]       ours / EPANET    flows",
        "arrangement      loops    solve      all     open    solve     solve    all   differ by",
    ]
    lines += [
        f"{r.arrangement:15} {r.loops:6d} {r.solve_ms:8.2f} {r.all_ms:8.2f} "
        f"{r.epanet_open_ms:8.2f} {r.epanet_solve_ms:8.2f} "
        f"{r.solve_over_epanet:9.2f} {r.all_over_epanet:6.2f} {r.flow_difference_percent:9.3f} %"
        for r in rows
    ]
    for arrangement, growth in exponents(rows).items():
        lines.append(
            f"time grows with loops to the power: {arrangement} "
            + ", ".join(f"{name} {power:.2f}" for name, power in growth.items())
        )
    return "\n".join(lines)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--json", action="store_true", help="print JSON instead of a table")
    parser.add_argument("--sizes", default="10,100,1000,10000", help="numbers of loops")
    chosen = parser.parse_args()
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for arrangement in ARRANGEMENTS:
            for loops in (int(size) for size in chosen.sizes.split(",")):
                rows.append(measure(arrangement, loops, Path(folder)))  # noqa: PERF401
    if chosen.json:
        print(json.dumps({"rows": [asdict(r) for r in rows], "growth": exponents(rows)}, indent=2))
    else:
        print(table(rows))


if __name__ == "__main__":
    main()
