"""A case of a study of splits against the same job read, computed and answered by itself.

    python -m tests.benchmarks.study_speed

Lengths, bores, flow and strength vary, and three results are kept. Both in this process, without a
socket or a store, a tenth of the cases at a time in turns; CPU time.
"""

from __future__ import annotations

import time
from typing import Any

import orjson

from api.calculations.asked import answer_of, asked_of
from api.settings import Settings
from api.studies.rows import computed, plan_of_text

CASES = 1000
_TURNS = 10


def study(loops: int, cases: int = CASES) -> bytes:
    """A study of so many cases of an array on a manifold (invented)."""
    legs = [{"straight": {"length_m": 12}},
            {"slinky": {"coils": 30, "coil_diameter_m": 1.0, "pitch_m": 1.0}}]  # fmt: skip
    branches = [
        {"loop": {"name": f"T{number}", "pipe": "PE100 SDR11 32", "legs": legs}}
        for number in range(1, loops + 1)
    ]
    job = {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "array": {"arrangement": "manifold", "branches": branches},
        "duty": {"to_ground_c": -3.0, "from_ground_c": 0.5, "flow_l_s": 0.25 * loops},
    }
    first = "/array/branches/0/loop"
    places: list[dict[str, Any]] = [
        {"at": f"{first}/legs/0/straight/length_m", "min": 2, "max": 40},
        {"at": f"{first}/pipe", "values": ["PE100 SDR11 32", "PE100 SDR11 40"]},
        {"at": "/duty/flow_l_s", "min": 0.1 * loops, "max": 0.5 * loops},
        {"at": "/antifreeze/concentration_percent", "min": 20, "max": 35},
    ]
    sampled = {"method": "latin_hypercube", "points": cases, "seed": 1, "places": places}
    results = ["/pump/head_kpa", "/imbalance/spread_percent", "/loops/0/reynolds"]
    return orjson.dumps(
        {
            "calculation": "split",
            "job": job,
            "results": results,
            "variations": [{"sampled": sampled}],
        }
    )


def main() -> None:
    """Measure and print."""
    limits = Settings(max_loops=10_000)
    print("loops  case ms  alone ms  alone / case  cases/s")
    for loops in (2, 10, 40):
        text = study(loops)
        computed(text, 0, 50, limits)  # what is loaded and made once
        plan, some = plan_of_text(text), CASES // _TURNS
        together = alone = 0.0
        for turn in range(_TURNS):
            jobs = list(plan.jobs(range(turn * some, (turn + 1) * some)))
            begin = time.process_time()
            computed(text, turn * some, some, limits)
            middle = time.process_time()
            for each in jobs:
                orjson.dumps(answer_of(asked_of(each, "split", limits)))
            together += middle - begin
            alone += time.process_time() - middle
        case, one = 1e3 * together / CASES, 1e3 * alone / CASES
        print(f"{loops:5}  {case:7.2f}  {one:8.2f}  {one / case:12.1f}  {1e3 / case:7.0f}")


if __name__ == "__main__":
    main()
