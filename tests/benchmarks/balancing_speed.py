"""Time of balancing against one flow split of the same array (run as a script).

Aim: valves for 100 loops, flow split included, under 10 flow splits.
"""

import time
from collections.abc import Callable
from functools import partial

from hydraulics.balancing.heat_cost import imbalance_heat
from hydraulics.balancing.valves import valve_settings, with_valves
from hydraulics.balancing.ways import BalancingPlan, balance
from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import Straight
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.reached import Reached, solve_near
from hydraulics.split.result import FlowSplit
from hydraulics.split.target import target_flows

BRINE = mixture("propylene_glycol", 0.25, "mass")


def array(loops: int) -> Circuit:
    """Ladders of ten unlike loops each (an invented array) on one header, or one ladder."""
    pipe, header = pe_pipe("PE100 SDR11 40"), pe_pipe("PE100 SDR11 90")
    ladders = [
        Circuit(
            "direct_return",
            tuple(
                Branch(Loop(f"L{n}", pipe, (Straight(150.0 + 7.0 * ((n + k) % 5)),)), 5.0)
                for n in range(10)
            ),
            header_pipe=header,
            name=f"chamber {k}",
        )
        for k in range(loops // 10)
    ]
    if len(ladders) == 1:
        return ladders[0]
    return Circuit(
        "direct_return",
        tuple(Branch(ladder, 10.0) for ladder in ladders),
        header_pipe=pe_pipe("PE100 SDR11 180"),
    )


def best_of(job: Callable[[], object], times: int = 7) -> float:
    """Shortest time of a job [s]."""
    job()
    found = []
    for _ in range(times):
        begun = time.process_time()
        job()
        found.append(time.process_time() - begun)
    return min(found)


def by_valves(split: FlowSplit) -> Reached:
    """Set valves in a solved array and solve it with them."""
    wanted = target_flows(split.network, split.solution.total, "even")
    found = valve_settings(split.network, wanted)
    return solve_near(with_valves(split.network, found.square), wanted, 0.1)


def main() -> None:
    """Print times and ratios for 10, 100 and 1,000 loops."""
    print("loops  split ms  split+valves   valves alone   heat   all ways   (ratios to one split)")
    for loops in (10, 100, 1000):
        given = (array(loops), Plant(), BRINE, FlowDuty(loops * 0.3e-3, -3.0, 0.0))
        split = flow_split(*given)
        heat_of = partial(
            imbalance_heat,
            split,
            entering_temperature=-3.0,
            ground_temperature=8.0,
            ground_resistance=0.25,
        )
        once = best_of(partial(flow_split, *given))
        alone = best_of(partial(by_valves, split)) / once
        heat = best_of(heat_of) / once
        ways = partial(balance, split, *given[:2], given[3], BalancingPlan())
        everything = best_of(ways, times=3) / once
        print(
            f"{loops:5d} {once * 1e3:9.2f} {1.0 + alone:13.2f} {alone:14.2f} {heat:6.2f} "
            f"{everything:10.1f}"
        )


if __name__ == "__main__":
    main()
