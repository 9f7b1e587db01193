"""Time of sizing and simulating borefields against their size (run as a script).

Prints seconds and the ratio to one borehole; growth must be less than quadratic in boreholes.
"""

import time

import numpy as np

from hydraulics.boreholes.shapes import rectangle_field
from hydraulics.boreholes.sizing import (
    BorefieldGround,
    BorefieldLoads,
    simulate_borefield,
    size_borefield,
)

SHARE = np.array([1.0, 0.9, 0.7, 0.4, 0.15, 0.05, 0.05, 0.05, 0.1, 0.35, 0.65, 0.9])


def main() -> None:
    """Print a table for regular and scattered fields of 1 to 1,600 boreholes over 50 years."""
    ground = BorefieldGround(2.0, 2.2e6, 11.0)
    random = np.random.default_rng(1)
    print("bores  field      simulate s  size s")
    for side in (1, 10, 20, 40):
        regular = rectangle_field(side, side, 8.0)
        bores = len(regular)
        peak = 2000.0 * bores
        loads = BorefieldLoads(
            0.35 * peak * (SHARE - 0.2), peak * SHARE, np.array(24 * 3600.0), peak / 3.5
        )
        scattered = regular + random.uniform(-1.0, 1.0, regular.shape)
        for name, field in (("regular", regular), ("scattered", scattered)):
            common = {"borehole_radius": 0.065, "buried": 1.5, "borehole_resistance": 0.1}
            begun = time.perf_counter()
            simulate_borefield(ground, field, loads, depth=150.0, years=50, **common)  # type: ignore[arg-type]
            simulated = time.perf_counter() - begun
            begun = time.perf_counter()
            size_borefield(ground, field, loads, years=50, **common)  # type: ignore[arg-type]
            sized = time.perf_counter() - begun
            print(f"{bores:5d}  {name:9s}  {simulated:10.4f}  {sized:6.3f}")


if __name__ == "__main__":
    main()
