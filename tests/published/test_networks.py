"""Flow splits against textbook examples, EPANET and a general root finder.

EPANET is a general water-network solver, run in process through wntr. It uses Swamee-Jain's
explicit friction factor (within 1.6 % of Colebrook at Re 4000, 0.5 % from 1e4) and its own cubic
between Re 2000 and 4000, so every pipe is kept outside that band, and the test makes sure of it.
"""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.fluid.mixture import Fluid, fluid, mixture
from hydraulics.layout.circuit import ARRANGEMENTS, Arrangement, Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Coiled, PondMat, Slinky, Straight
from hydraulics.pipework.fittings import Fitting, loss_from_coefficient, loss_from_kv
from hydraulics.pipework.pipe import Pipe, pe_pipe
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.solver import solve
from hydraulics.split.state import Solution
from tests.reference_networks import field, solve_by_epanet, solve_by_root_finder

P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")
P50, P63 = pe_pipe("PE100 SDR11 50"), pe_pipe("PE100 SDR11 63")
THIN = fluid(mixture("methanol", 0.20, "mass"), 10.0)  # 2.3e-6 m2/s: turbulent
PROPYLENE = mixture("propylene_glycol", 0.25, "mass")
COLD = fluid(PROPYLENE, -5.0)  # 7e-6 m2/s: laminar
SIDES = (fluid(PROPYLENE, -3.5), fluid(PROPYLENE, -1.75), fluid(PROPYLENE, 0.0))


def solved(
    circuit: Circuit, total: float, fluids: tuple[Fluid, Fluid, Fluid]
) -> tuple[Network, Solution, NDArray[np.float64]]:
    network = assemble(circuit, Plant(), fluids)
    solution = solve(network, total)
    return network, solution, solution.flow[network.loop_rows]


def reynolds_numbers(network: Network, solution: Solution) -> NDArray[np.float64]:
    numbers = np.abs(solution.flow[network.owner]) * network.reynolds_per_flow
    return np.asarray(numbers[network.length > 0.0])


def assert_like_epanet(circuit: Circuit, total: float, brine: Fluid, folder: Path) -> None:
    network, solution, flows = solved(circuit, total, (brine, brine, brine))
    numbers = reynolds_numbers(network, solution)
    assert not ((numbers > 2000.0) & (numbers < 4000.0)).any(), "EPANET's cubic band"
    epanet = solve_by_epanet(circuit, total, brine, folder)
    assert flows.tolist() == pytest.approx(epanet.flows.tolist(), rel=0.01)  # the design's bar
    # Drop carries the whole difference of the friction formulas, flows next to none of it; its
    # bar is Swamee-Jain's distance from Colebrook at the least turbulent Reynolds number.
    assert solution.array_drop == pytest.approx(epanet.drop, rel=0.016)


# ------------------------------------------------------------------------------------- EPANET


@pytest.mark.parametrize("loops", [3, 24, 200])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_unequal_loops_share_the_flow_as_epanet_says(
    arrangement: Arrangement, loops: int, tmp_path: Path
) -> None:
    total = 0.5e-3 * loops * THIN.density
    circuit = field(arrangement, loops)
    assert_like_epanet(circuit, total, THIN, tmp_path)
    # The case is one worth comparing: loops differ by a tenth and more.
    _, _, flows = solved(circuit, total, (THIN, THIN, THIN))
    assert np.ptp(flows) / flows.mean() > 0.15


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_laminar_arrays_share_the_flow_as_epanet_says(
    arrangement: Arrangement, tmp_path: Path
) -> None:
    assert_like_epanet(field(arrangement, 3), 0.15e-3 * 3 * COLD.density, COLD, tmp_path)


def test_sub_manifolds_with_runs_and_valves_share_the_flow_as_epanet_says(tmp_path: Path) -> None:
    def chamber(name: str, longest: float, loops: int) -> Circuit:
        valve = loss_from_kv(6.0)
        return Circuit(
            "manifold",
            tuple(
                Branch(Loop(f"{name}{i}", P32, (Straight(longest - 9.0 * i, fittings=valve),)))
                for i in range(loops)
            ),
        )

    tee = loss_from_coefficient(2.0, P63.bore)
    circuit = Circuit(
        "direct_return",
        (
            Branch(chamber("A", 150, 4), 12.0, runs=(Run(P50, 18.0, tee),)),
            Branch(chamber("B", 140, 3), 20.0, runs=(Run(P50, 4.0),)),
            Branch(Loop("C", P40, (Straight(180.0),)), 15.0, header_pipe=P50),
        ),
        P63,
    )
    assert_like_epanet(circuit, 3.4e-3 * THIN.density, THIN, tmp_path)


def test_a_narrow_bore_beside_a_wide_one_shares_the_flow_as_epanet_says(tmp_path: Path) -> None:
    wide, narrow = Pipe("wide", 0.1, 0.11), Pipe("narrow", 0.004, 0.006)
    circuit = Circuit(
        "manifold",
        (
            Branch(Loop("W", wide, (Straight(100.0),))),
            Branch(Loop("N", narrow, (Straight(1.0),))),
        ),
    )
    assert_like_epanet(circuit, 5e-3 * THIN.density, THIN, tmp_path)


# ------------------------------------------------------------------------------------ textbooks

# White, Fluid Mechanics, examples 6.17 (series) and 6.18 (parallel): L, d, roughness. The data,
# the parallel answers, 62.5, 25.9, 11.4 and 99.8 m3/h at 20.3 m, and "10 times more flow in
# parallel" were read in a public reproduction; the series answer, 10.2 m3/h, is from memory.
WHITE_PIPES = ((100.0, 0.08, 0.24e-3), (150.0, 0.06, 0.12e-3), (80.0, 0.04, 0.20e-3))
WATER = replace(THIN, density=1000.0, viscosity=1.02e-3)
WHITE_DROP = 20.3 * 9.81 * 1000.0


def white_loops() -> list[Loop]:
    return [
        Loop(f"P{i}", Pipe("white", bore, 1.1 * bore, roughness), (Straight(length),))
        for i, (length, bore, roughness) in enumerate(WHITE_PIPES, 1)
    ]


def flow_at(circuit: Circuit, drop: float) -> NDArray[np.float64]:
    """Loop flows [m3/h] at a drop over the array [Pa], by closing the ring with that drop."""
    network = assemble(circuit, Plant(), (WATER, WATER, WATER))
    solution = solve(network, 1.0, outer=lambda _: (-drop, 0.0))
    assert solution.array_drop == pytest.approx(drop, rel=1e-9)
    return np.asarray(solution.flow[network.loop_rows] * 3.6)


def test_white_example_6_18_three_pipes_in_parallel() -> None:
    flows = flow_at(Circuit("manifold", tuple(Branch(loop) for loop in white_loops())), WHITE_DROP)
    assert flows.tolist() == pytest.approx([62.5, 25.9, 11.4], abs=0.06)  # digits printed
    assert flows.sum() == pytest.approx(99.8, abs=0.1)


def test_white_example_6_17_the_same_pipes_in_series() -> None:
    legs = tuple(
        Straight(length, Pipe("white", bore, 1.1 * bore, roughness))
        for length, bore, roughness in WHITE_PIPES
    )
    series = Circuit("manifold", (Branch(Loop("S", white_loops()[0].pipe, legs)),))
    flow = float(flow_at(series, WHITE_DROP).sum())
    assert flow == pytest.approx(10.2, abs=0.05)  # digits printed
    assert 99.8 / flow == pytest.approx(10.0, rel=0.03)  # "ten times more", in words


def test_laminar_flow_divides_in_proportion_to_d4_over_length() -> None:
    # Hagen-Poiseuille (definition).
    pipes = [(P32, 60.0), (P32, 90.0), (P40, 120.0), (P50, 200.0)]
    circuit = Circuit(
        "manifold",
        tuple(Branch(Loop(f"T{i}", p, (Straight(x),))) for i, (p, x) in enumerate(pipes)),
    )
    _, _, flows = solved(circuit, 0.05, (COLD, COLD, COLD))
    ease = np.array([pipe.bore**4 / length for pipe, length in pipes])
    assert flows / flows.sum() == pytest.approx(ease / ease.sum(), rel=1e-9)


def test_rough_turbulent_flow_divides_in_proportion_to_d_to_the_two_and_a_half() -> None:
    # Exact for a constant friction factor and equal lengths: 300, 250 and 200 mm share 0.5 m3/s as
    # 0.25040, 0.15874, 0.09087 (data read on a public problem page). One relative roughness and a
    # fluid so thin that f hardly changes with Re leave a constant factor.
    thin = replace(THIN, density=1000.0, viscosity=1e-5)
    circuit = Circuit(
        "manifold",
        tuple(
            Branch(Loop(f"P{bore}", Pipe("r", bore, 1.1 * bore, 0.01 * bore), (Straight(200.0),)))
            for bore in (0.3, 0.25, 0.2)
        ),
    )
    _, _, flows = solved(circuit, 500.0, (thin, thin, thin))
    assert (flows / 1e3).tolist() == pytest.approx([0.25040, 0.15874, 0.09087], rel=2e-4)


def test_one_loop_drops_what_darcy_weisbach_says() -> None:
    circuit = Circuit("manifold", (Branch(Loop("T", P32, (Straight(100.0),))),))
    # Worked by hand: 0.1 L/s of the cold brine in 26 mm is laminar, dp = 128 mu L Q/(pi d^4).
    _, solution, _ = solved(circuit, 1e-4 * COLD.density, (COLD, COLD, COLD))
    by_hand = 128 * COLD.viscosity * 100.0 * 1e-4 / (math.pi * P32.bore**4)
    assert solution.array_drop == pytest.approx(by_hand, rel=1e-9)


# ---------------------------------------------------------------------------------- root finder


def small_fields() -> dict[str, Circuit]:
    elbow = Fitting("elbow_90").loss(P32.bore)
    elbows = Fitting("elbow_90", count=6).loss(P32.bore)
    coil = Loop("K", P32, (Straight(25, fittings=elbows), Slinky(30, 1.0, 1.0), Straight(25)))
    short = Loop("S", P32, (Straight(9), Slinky(30, 1.0, 1.0), Straight(9)))
    mat = Loop("M", P32, (PondMat(0.8, 2.4, 0.1, mats=4), Straight(40.0)))
    hole = Loop("B", P40, (BoreholeU(80.0), Coiled(6.0, 1.2, fittings=loss_from_kv(8.0))))
    double = Loop("D", P32, (BoreholeU(70.0, u_tubes=2),))
    inner = Circuit(
        "reverse_return",
        (Branch(coil, 3.0), Branch(short, 5.0, count=2), Branch(mat, 5.0, header_pipe=P32)),
        P40,
        closing_length=13.0,
        name="R",
    )
    return {
        "slinkies in a manifold": Circuit("manifold", (Branch(coil), Branch(short), Branch(mat))),
        "boreholes in direct return": Circuit(
            "direct_return",
            (
                Branch(hole, 4.0, fittings=elbow),
                Branch(double, 6.0),
                Branch(hole, 6.0, header_pipe=P40, runs=(Run(P40, 11.0, loss_from_kv(20.0)),)),
            ),
            P50,
        ),
        "a reverse return that steps down": inner,
        "circuits in circuits": Circuit(
            "direct_return",
            (
                Branch(inner, 10.0, runs=(Run(P50, 25.0),)),
                Branch(Circuit("manifold", (Branch(coil, count=2), Branch(hole))), 15.0),
                Branch(double, 5.0),
            ),
            P63,
        ),
    }


@pytest.mark.parametrize("name", small_fields())
@pytest.mark.parametrize("per_loop", [0.05e-3, 0.2e-3, 0.4e-3])
def test_small_fields_share_the_flow_as_a_general_root_finder_says(
    name: str, per_loop: float
) -> None:
    # Straight, coiled and parallel pipe, fittings, three temperatures; laminar, transitional and
    # turbulent. The friction factor is the same function; all else is written anew.
    circuit = small_fields()[name]
    network = assemble(circuit, Plant(), SIDES)
    total = per_loop * len(network.loops) * SIDES[1].density
    solution = solve(network, total)
    flows, drop = solve_by_root_finder(circuit, total, SIDES)
    assert solution.flow[network.loop_rows].tolist() == pytest.approx(flows.tolist(), rel=2e-5)
    assert solution.array_drop == pytest.approx(drop, rel=2e-5)  # the table of coils is 1e-5


# ------------------------------------------------------------------------------- closed branches


def shut(circuit: Circuit, *numbers: int) -> Circuit:
    """The circuit with some branches closed, by number from 0."""
    return replace(
        circuit,
        branches=tuple(
            replace(each, closed=number in numbers) for number, each in enumerate(circuit.branches)
        ),
    )


@pytest.mark.parametrize("closed", [(0,), (3, 4, 9), (10, 11), (0, 5, 11)])
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_loops_beside_closed_ones_share_the_flow_as_epanet_says(
    arrangement: Arrangement, closed: tuple[int, ...], tmp_path: Path
) -> None:
    # For EPANET the loop is not there; the headers that lead to it and past it are.
    total = 0.5e-3 * (12 - len(closed)) * THIN.density
    assert_like_epanet(shut(field(arrangement, 12), *closed), total, THIN, tmp_path)


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_a_closed_chamber_and_loop_leave_the_flows_that_a_root_finder_finds(
    arrangement: Arrangement,
) -> None:
    valve = loss_from_kv(4.0)

    def ladder(name: str, longest: float) -> Circuit:
        return Circuit(
            "reverse_return",
            tuple(
                Branch(Loop(f"{name}{i}", P32, (Straight(longest - 9.0 * i, fittings=valve),)), 6.0)
                for i in range(3)
            ),
            P50,
            closing_length=18.0,
        )

    circuit = Circuit(
        arrangement,
        (
            Branch(Loop("Z", P40, (Straight(150.0),)), 9.0, closed=True),
            Branch(shut(ladder("A", 150.0), 1), 12.0, runs=(Run(P50, 18.0),)),
            Branch(ladder("B", 140.0), 20.0, header_pipe=P50, runs=(Run(P50, 4.0),), closed=True),
            Branch(Loop("C", P40, (Straight(180.0),)), 15.0, return_header_pipe=P40),
            Branch(Loop("D", P40, (Straight(170.0),)), 11.0, header_pipe=P40, closed=True),
        ),
        P63,
        closing_length=40.0 if arrangement == "reverse_return" else 0.0,
    )
    _, solution, flows = solved(circuit, 1.4, SIDES)
    wanted, drop = solve_by_root_finder(circuit, 1.4, SIDES)
    assert len(flows) == 3
    assert flows.tolist() == pytest.approx(wanted.tolist(), rel=1e-6)
    assert solution.array_drop == pytest.approx(drop, rel=1e-6)
