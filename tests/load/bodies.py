"""Jobs to load the service with."""

from __future__ import annotations

import json

HOST = "127.0.0.1"


def array(loops: int, seed: int = 0) -> bytes:
    """Write a job of unequal slinky loops on one manifold (invented); each seed another."""
    branches = [
        {
            "loop": {
                "name": f"T{number}",
                "pipe": "PE100 SDR11 32",
                "legs": [
                    {"straight": {"length_m": 20 + number % 7 + (seed % 9_973) / 1_000}},
                    {"slinky": {"coils": 30, "coil_diameter_m": 1.0, "pitch_m": 1.0}},
                    {"straight": {"length_m": 20}},
                ],
            },
            "fittings": [{"kind": "ball_valve", "count": 2}],
        }
        for number in range(loops)
    ]
    return json.dumps(
        {
            "name": f"Load {seed} (invented)",
            "antifreeze": {
                "kind": "propylene_glycol",
                "concentration_percent": 25,
                "basis": "volume",
            },
            "duty": {"to_ground_c": -3.0, "from_ground_c": 0.5, "heat_kw": 2.5 * loops},
            "array": {"arrangement": "manifold", "branches": branches},
        }
    ).encode()
