"""Time of sizing and simulating borefields against their size (run as a script).

Prints seconds and the ratio to one borehole; growth must be less than quadratic in boreholes.
"""

import time

import numpy as np

from hydraulics.boreholes.field import distance_classes
from hydraulics.boreholes.shapes import rectangle_field
from hydraulics.boreholes.sizing import borefield
from hydraulics.ground.load_history import BrineLimits, GroundLoad
from hydraulics.ground.soil import Ground

SHARE = np.array([1.0, 0.9, 0.7, 0.4, 0.15, 0.05, 0.05, 0.05, 0.1, 0.35, 0.65, 0.9])


def main() -> None:
    """Print a table for regular and scattered fields of 1 to 1,600 boreholes over 50 years."""
    random = np.random.default_rng(1)
    print("bores  field      simulate s  size s")
    for side in (1, 10, 20, 40):
        regular = rectangle_field(side, side, 8.0)
        bores = len(regular)
        peak = 2000.0 * bores
        load = GroundLoad(tuple(0.35 * peak * (SHARE - 0.2)), peak, 24.0)
        scattered = regular + random.uniform(-1.0, 1.0, regular.shape)
        for name, field in (("regular", regular), ("scattered", scattered)):
            begun = time.process_time()
            prepared = borefield(
                Ground(2.0, 2.2e6),
                distance_classes(field, 0.065),
                load,
                temperature_change=3.5,
                borehole_radius=0.065,
                buried=1.5,
                undisturbed=lambda _: 11.0,
                resistance=lambda _: 0.1,
                years=50,
            )
            prepared.at(150.0, BrineLimits(0.0))
            simulated = time.process_time() - begun
            prepared.shallowest(BrineLimits(0.0))
            sized = time.process_time() - begun
            print(f"{bores:5d}  {name:9s}  {simulated:10.4f}  {sized:6.3f}")


if __name__ == "__main__":
    main()
