"""How much longer does a solve take when every pipe in it is of a kind never met before?

    python -m tests.benchmarks.new_kinds_speed

CPU time of ``assemble`` and ``solve`` of a manifold of slinky loops, each of a bore and a coil
diameter of its own (two kinds a loop: coils and tails), against the same array once more.
"""

from __future__ import annotations

import itertools
import time

from hydraulics.fluid.mixture import Fluid, fluid, mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import Slinky, Straight
from hydraulics.pipework.pipe import Pipe
from hydraulics.split.assembly import assemble
from hydraulics.split.solver import solve

RUNS = 15
_never_before = itertools.count()


def new_array(loops: int) -> Circuit:
    """Build an array whose pipes no other call has."""
    branches = []
    for number in range(loops):
        own = next(_never_before)
        pipe = Pipe(f"P{own}", 0.026 + 1e-7 * own, 0.032)
        legs = (Straight(20.0 + number), Slinky(30, 1.0 + 1e-4 * own, 1.0))
        branches.append(Branch(Loop(f"T{number}", pipe, legs)))
    return Circuit("manifold", tuple(branches))


def solve_time(circuit: Circuit, brine: Fluid) -> float:
    """CPU time of one solve [s]."""
    begun = time.process_time()
    solve(assemble(circuit, Plant(), (brine, brine, brine)), 0.25 * len(circuit.branches))
    return time.process_time() - begun


def main() -> None:
    """Measure and print."""
    brine = fluid(mixture("ethylene_glycol", 0.25, "mass"), 0.0)
    print("kinds  new ms  met ms  ratio")
    for loops in (2, 6, 11, 13, 40, 400):
        circuits = [new_array(loops) for _ in range(RUNS)]
        pairs = [(solve_time(each, brine), solve_time(each, brine)) for each in circuits]
        new, met = (1e3 * min(times) for times in zip(*pairs, strict=True))
        print(f"{2 * loops:5d}  {new:6.2f}  {met:6.2f}  {new / met:5.2f}")


if __name__ == "__main__":
    main()
