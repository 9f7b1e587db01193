"""Five invented pumps for demonstrations: no maker sells them, no test stands behind them.

Heads, powers and the wire-to-water efficiencies that follow from them (about 20 to 55 % at best)
were drawn up to look like pumps of their kind and size. Never choose a pump by these numbers.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.selection import Candidate


def _curve(
    flow_l_s: list[float], head: list[float], power: list[float], speed: float, label: str = ""
) -> PumpCurve:
    flow = np.array(flow_l_s) / 1e3
    return PumpCurve(flow, np.array(head), np.array(power), speed, label)


@cache
def demo_pumps() -> tuple[Pump, ...]:
    """The invented pumps, always the same objects."""
    return (
        Pump(
            "Invented pump A: small wet-rotor, three speeds",
            (
                _curve([0.0, 0.1, 0.2, 0.3, 0.4, 0.5], [3.0, 2.75, 2.35, 1.8, 1.1, 0.3],
                       [40, 43, 46, 48, 48, 46], 1700, "I"),
                _curve([0.0, 0.14, 0.28, 0.42, 0.56, 0.7], [4.6, 4.25, 3.6, 2.75, 1.7, 0.5],
                       [58, 63, 67, 70, 71, 69], 2250, "II"),
                _curve([0.0, 0.16, 0.32, 0.48, 0.64, 0.8, 0.95],
                       [6.2, 5.9, 5.3, 4.45, 3.35, 2.05, 0.6], [74, 81, 87, 92, 95, 95, 93], 2700,
                       "III"),
            ),
        ),
        Pump(
            "Invented pump B: wet-rotor with electronic drive",
            (
                _curve([0.0, 0.18, 0.36, 0.55, 0.73, 0.92, 1.1],
                       [7.5, 7.25, 6.55, 5.6, 4.25, 2.65, 0.8], [52, 59, 66, 72, 75, 75, 73], 4000),
                _curve([0.0, 0.12, 0.24, 0.36, 0.48, 0.6, 0.72],
                       [3.2, 3.1, 2.8, 2.4, 1.85, 1.15, 0.35], [17, 19, 21, 23, 24, 24, 23], 2600),
            ),
            min_speed=1200,
        ),
        Pump(
            "Invented pump C: large wet-rotor with electronic drive",
            (
                _curve([0.0, 0.43, 0.87, 1.3, 1.73, 2.17, 2.6],
                       [12.5, 12.15, 11.2, 9.7, 7.65, 5.05, 2.0],
                       [195, 218, 242, 262, 275, 280, 278], 3600),
            ),
            min_speed=1260,
        ),
        Pump(
            "Invented pump D: high-head in-line, two stages",
            (
                _curve([0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9],
                       [14.0, 13.45, 12.15, 10.3, 8.0, 5.2, 2.0],
                       [103, 113, 124, 135, 142, 144, 143], 2850),
            ),
            impellers=2,
        ),
        Pump(
            "Invented pump E: dry-rotor in-line",
            (
                _curve([0.0, 1.25, 2.5, 3.75, 5.0, 6.25, 7.5],
                       [18.0, 17.65, 16.55, 14.75, 12.2, 8.95, 5.0],
                       [730, 820, 918, 1013, 1100, 1180, 1215], 2900),
            ),
        ),
    )  # fmt: skip


def invented_candidates() -> tuple[Candidate, ...]:
    """The invented pumps at constant speed and, where they have a drive for it, holding a head."""
    fixed = [Candidate(pump) for pump in demo_pumps()]
    held = [
        Candidate(pump, "constant_differential_pressure")
        for pump in demo_pumps()
        if pump.min_speed is not None
    ]
    return (*fixed, *held)
