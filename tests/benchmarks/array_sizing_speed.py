"""How long does sizing a whole array take? Run: python tests/benchmarks/array_sizing_speed.py.

Bars: 30 ms for a domestic array over 20 years, 20 ms for pond mats, 150 ms for 400 boreholes over
50 years, tables of other limits and of uncertainty included.
The reference is E1 at the number of points of one straight array's response, in the same run.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy.special import exp1

from hydraulics.fluid.mixture import mixture
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.sizing.array import size_array
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    GroundConditions,
    LoopLimits,
    PondArray,
    SlinkyArray,
    StraightArray,
)
from hydraulics.sizing.heat_load import AnnualHeat


def best_of(runs: int, work: Callable[[], object]) -> float:
    """Return the least CPU time of several runs [ms]."""
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
    brine = mixture("ethylene_glycol", 0.25, "mass")
    ground = GroundConditions(1.8, 2.2e6, SurfaceTemperature(10.0, 8.0))
    p32, p40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")
    domestic = AnnualHeat(12e3, 3.6, 1800.0, 3000.0 * 3.6e6)  # invented
    large = AnnualHeat(1.2e6, 4.0, 1800.0)
    bore = BoreholeArray(p40, 0.065, 0.035, 1.5, rows=20, spacing=8.0, deepest=250.0)
    ten, any_number, many = LoopLimits(loops=10), LoopLimits(), LoopLimits(loops=400)
    cases: list[tuple[str, AnnualHeat, ArrayChoice, LoopLimits, int]] = [
        ("slinky flat, 10", domestic, SlinkyArray(p32, 1.2), ten, 20),
        ("slinky upright, 10", domestic, SlinkyArray(p32, 1.5, upright=True), ten, 20),
        ("straight, 10", domestic, StraightArray(p32, 1.2), ten, 20),
        ("slinky flat, free", domestic, SlinkyArray(p32, 1.2), any_number, 20),
        ("straight, free", domestic, StraightArray(p32, 1.2), any_number, 20),
        ("pond mat, free", domestic, PondArray(p32, 4.0), any_number, 20),
        ("borehole, free", domestic, bore, any_number, 20),
        ("borehole, 400", large, bore, many, 50),
        ("borehole, large, free", large, bore, any_number, 50),
    ]
    print(f"{'case':24}{'years':>6}{'loops':>7}{'ms':>9}{'x reference':>13}")
    for name, load, choice, limits, years in cases:

        def work(
            load: AnnualHeat = load,
            choice: ArrayChoice = choice,
            limits: LoopLimits = limits,
            years: int = years,
        ) -> int:
            return size_array(load, ground, choice, brine, 3.5, limits=limits, years=years).loops

        loops = work()
        took = best_of(3, work)
        print(f"{name:24}{years:6d}{loops:7d}{took:9.1f}{took / reference:13.0f}")


if __name__ == "__main__":
    main()
