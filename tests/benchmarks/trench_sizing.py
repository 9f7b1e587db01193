"""How long does sizing a trench array take? Run: python tests/benchmarks/trench_sizing.py.

The bar is 50 ms for a domestic array: 10 trenches, 20 years of monthly loads with peaks, lengths
at three conductivities. The reference is E1 at the same number of points as one response
of straight pipes evaluates, measured in the same run.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy.special import exp1

from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.ground.load_history import BrineLimits, GroundLoad
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.shallow.response import SlinkyTrench, Trench, pipe_row
from hydraulics.shallow.trenches import life_of_trenches

SHARES = (0.17, 0.15, 0.13, 0.09, 0.05, 0.02, 0.02, 0.02, 0.04, 0.08, 0.11, 0.12)
LOAD = GroundLoad(tuple(12e6 * s / 730.5 for s in SHARES), 6000.0, 48.0, 10)  # invented


def best_of(runs: int, work: Callable[[], object]) -> float:
    """Return the least time of several runs [ms]."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return 1e3 * min(times)


def main() -> None:
    """Print times and their ratio to the reference."""
    arguments = np.geomspace(1e-6, 10.0, 10 * 4 * 110)
    reference = best_of(20, lambda: exp1(arguments))
    brine = fluid(mixture("propylene_glycol", 0.25, "mass"), -2.0)
    cases: dict[str, Trench] = {
        "slinky flat": SlinkyTrench(1.0, 1.0, 1.2, 0.032),
        "slinky upright": SlinkyTrench(1.0, 1.0, 1.5, 0.032, upright=True),
        "4 straight pipes": pipe_row(4, 0.3, 1.2, 0.032),
    }
    print(f"{'case':20}{'trenches':>9}{'ms':>9}{'x reference':>13}")
    for name, trench in cases.items():
        for count in (1, 10, 100):

            def work(trench: Trench = trench, count: int = count) -> object:
                return [
                    life_of_trenches(
                        Ground(conductivity, 2.2e6),
                        SurfaceTemperature(10.0, 8.0),
                        trench,
                        LOAD,
                        pe_pipe("PE100 SDR11 32"),
                        brine,
                        temperature_change=3.5,
                        trenches=count,
                        centres=5.0,
                        years=20,
                    ).needed_length(BrineLimits(0.0))
                    for conductivity in (1.2, 1.5, 1.8)
                ]

            took = best_of(5, work)
            print(f"{name:20}{count:9d}{took:9.1f}{took / reference:13.0f}")
    print(f"reference: {reference:.3f} ms for {arguments.size} values of E1")


if __name__ == "__main__":
    main()
