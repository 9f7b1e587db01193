"""How many variants of one array are solved in a second, all at once and one by one?

    python -m tests.benchmarks.many_variants

CPU time. Every variant has lengths, a flow and brine of its own; both sides get the numbers as
arrays and give flows and drops as arrays. Aim: 150,000 variants a second of a manifold of ten
loops.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import Arrangement, Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import Straight
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.many import solve_many, varied
from hydraulics.split.solver import solve

P32, P63 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 63")
VARIANTS, ALONE, RUNS = 20_000, 300, 3


def array(arrangement: Arrangement, loops: int) -> Network:
    """Straight loops of unequal length (invented)."""
    header = None if arrangement == "manifold" else P63
    branches = tuple(
        Branch(Loop(f"T{i}", P32, (Straight(100.0 + i),)), 4.0 if header else 0.0)
        for i in range(loops)
    )
    brine = fluid(mixture("ethylene_glycol", 0.25, "mass"), 0.0)
    return assemble(Circuit(arrangement, branches, header), Plant(), (brine, brine, brine))


def main() -> None:
    """Measure and print."""
    draw = np.random.default_rng(1)
    mix = mixture("ethylene_glycol", 0.25, "mass")
    brines = [fluid(mix, at) for at in np.linspace(-5.0, 8.0, 50).tolist()]
    fluids = [(each, each, each) for each in brines]
    print("arrangement      loops  variants/s  one by one/s  ratio")
    cases: list[tuple[Arrangement, int]] = [
        ("manifold", 3), ("manifold", 10), ("reverse_return", 10), ("manifold", 40),
    ]  # fmt: skip
    for arrangement, loops in cases:
        network = array(arrangement, loops)
        lengths = network.length * draw.uniform(0.8, 1.2, (VARIANTS, network.length.size))
        totals = 0.25 * loops * draw.uniform(0.5, 2.0, VARIANTS)
        which = draw.integers(0, len(fluids), VARIANTS)
        alone = [
            alone_of(varied(network, fluids=[fluids[which[i]]], lengths=lengths[i : i + 1]))
            for i in range(ALONE)
        ]
        together = one_by_one = float("inf")
        for _ in range(RUNS):
            begun = time.process_time()
            every = varied(network, fluids=fluids, fluid_of=which, lengths=lengths)
            solve_many(every, totals)
            together = min(together, (time.process_time() - begun) / VARIANTS)
            begun = time.process_time()
            for each, total in zip(alone, totals[:ALONE].tolist(), strict=True):
                solve(each, total)
            one_by_one = min(one_by_one, (time.process_time() - begun) / ALONE)
        print(f"{arrangement:15} {loops:6d}  {1 / together:10,.0f}  {1 / one_by_one:12,.0f}  "
              f"{one_by_one / together:5.1f}")  # fmt: skip


def alone_of(network: Network) -> Network:
    """The one array of a stack of one."""
    return replace(
        network,
        reynolds_per_flow=network.reynolds_per_flow[0],
        laminar=network.laminar[0],
        square=network.square[0],
        linear=network.linear[0],
        length=network.length[0],
    )


if __name__ == "__main__":
    main()
