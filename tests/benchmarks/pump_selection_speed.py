"""Time of choosing a pump against one flow split of the same array (run as a script).

Aim: 20 pumps, cold and warm, the flow split at the pump's flow included, under 20 flow splits.

    python -m tests.benchmarks.pump_selection_speed
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial

from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import Straight
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.examples import demo_pumps
from hydraulics.pumps.on_array import PumpChoicePlan, Warm, pumps_on_array
from hydraulics.pumps.selection import Candidate
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split

DEMO_PUMPS = demo_pumps()

BRINE = mixture("propylene_glycol", 0.25, "mass")
PUMPS = 20
REPEATS = 15


def array(loops: int) -> tuple[Circuit, Plant]:
    """Unlike loops on one manifold and a plant that takes about as much (invented)."""
    pipe = pe_pipe("PE100 SDR11 40")
    branches = tuple(
        Branch(Loop(f"L{n}", pipe, (Straight(150.0 + 7.0 * (n % 5)),))) for n in range(loops)
    )
    return Circuit("manifold", branches), Plant(runs=(Run(pe_pipe("PE100 SDR11 180"), 30.0),))


def candidates(flow: float, head: float) -> list[Candidate]:
    """Twenty invented pumps about a duty, half of them holding a head, some of several tables."""
    base = DEMO_PUMPS[1].curves
    found = []
    for number in range(PUMPS):
        size = 1.2 + 0.05 * number
        tables = tuple(
            PumpCurve(
                curve.flow / base[0].flow[-1] * 2.0 * flow * size,
                curve.head / base[0].head[0] * 1.8 * head * size,
                curve.power * 9806.65 * 8.0 * flow * head * size**2 / 90.0,
                curve.speed * 3000.0 / base[0].speed,
            )
            for curve in base
        )
        pump = Pump(f"Invented {number}", tables, min_speed=600.0)
        held = number % 2 == 1
        found.append(
            Candidate(pump, "constant_differential_pressure" if held else "constant_speed")
        )
    return found


def best_of(work: Callable[[], object]) -> float:
    """Least processor time of one call [ms]; other work on the machine does not count."""
    times = []
    for _ in range(REPEATS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return 1e3 * min(times)


def main() -> None:
    """Measure and print."""
    print(f"loops  flow split ms  {PUMPS} pumps ms  ratio  meet the duty")
    for loops in (3, 10, 100, 1000):
        circuit, plant = array(loops)
        duty = FlowDuty(0.5e-3 * loops, -3.0, 0.0)  # no loop in transition
        split = flow_split(circuit, plant, BRINE, duty)
        pumps = candidates(split.pump.volume_flow, split.pump.head)

        plan = PumpChoicePlan(tuple(pumps), own=PUMPS)
        warm = Warm(6.0, 9.0)
        choose = partial(
            pumps_on_array, split, circuit, plant, mixture=BRINE, duty=duty, plan=plan, warm=warm
        )
        met = sum(each.meets_duty for each in choose().selections)
        once = best_of(partial(flow_split, circuit, plant, BRINE, duty))
        all_pumps = best_of(choose)
        print(f"{loops:5d}  {once:13.2f}  {all_pumps:11.2f}  {all_pumps / once:5.1f}  {met}")


if __name__ == "__main__":
    main()
