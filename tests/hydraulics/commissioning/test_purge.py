import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.commissioning.purge import (
    flow_for_velocity,
    flow_to_clear,
    purge_all_at_once,
    purge_findings,
    purge_loop_by_loop,
)
from hydraulics.errors import InputError
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Slinky, Straight
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import loss_from_kv
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.solver import solve
from hydraulics.split.state import Solution

P32, P40, P50, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 50, 63))
WATER = fluid(mixture("water", 0.0, "mass"), 12.0)


def slinky(name: str, tail: float) -> Loop:
    return Loop(name, P32, (Straight(tail), Slinky(30, 1.0, 1.0), Straight(tail)))


def manifold(*tails: float) -> Circuit:
    return Circuit("manifold", tuple(Branch(slinky(f"T{n}", t)) for n, t in enumerate(tails)))


def test_one_loop_takes_its_own_clearing_flow_either_way() -> None:
    circuit = manifold(20.0)
    whole, single = purge_all_at_once(circuit, WATER), purge_loop_by_loop(circuit, WATER)
    assert whole.flow == pytest.approx(flow_for_velocity(P32), rel=1e-9)
    assert single.flow == pytest.approx(flow_for_velocity(P32), rel=1e-9)
    # Two independent paths to the pressure drop: the solver's table is within 1e-6 of the law.
    assert whole.drop == pytest.approx(single.drop, rel=1e-5)


def test_equal_loops_take_the_sum_of_their_flows() -> None:
    whole = purge_all_at_once(manifold(20.0, 20.0, 20.0), WATER)
    assert whole.flow == pytest.approx(3.0 * flow_for_velocity(P32), rel=1e-7)
    assert whole.slowest == pytest.approx(0.6, rel=1e-7)


def test_straight_pipe_drop_is_blasius() -> None:
    # Blasius (1913), f = 0.3164/Re^0.25, smooth pipe. Near Re 1e4 it lies 2.4 % above Prandtl's
    # smooth law (0.0316 against 0.0309), which Colebrook's becomes in smooth pipe.
    circuit = Circuit("manifold", (Branch(Loop("S", P32, (Straight(100.0),))),))
    duty = purge_all_at_once(circuit, WATER)
    reynolds = WATER.density * 0.6 * P32.bore / WATER.viscosity
    drop = 0.3164 / reynolds**0.25 * 100.0 / P32.bore * 0.5 * WATER.density * 0.6**2
    assert duty.lowest_reynolds == pytest.approx(reynolds, rel=1e-6)
    assert duty.drop == pytest.approx(drop, rel=0.03)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(1.0, 100.0), min_size=2, max_size=6), st.floats(0.3, 1.0))
def test_every_pipe_reaches_the_velocity_and_the_slowest_just_so(
    tails: list[float], velocity: float
) -> None:
    circuit = manifold(*tails)
    plant = Plant(runs=(Run(P50, 20.0),))
    duty = purge_all_at_once(circuit, WATER, plant, velocity)
    network = assemble(circuit, plant, (WATER, WATER, WATER))
    solution = solve(network, duty.flow * WATER.density)
    area = 0.25 * math.pi * network.bore**2 * network.parallel
    speeds = abs(solution.flow[network.owner]) / (WATER.density * area)
    assert speeds.min() == pytest.approx(velocity, rel=1e-6)
    assert duty.fastest == pytest.approx(speeds.max(), rel=1e-6)


def test_an_uneven_array_takes_more_than_the_sum() -> None:
    even = purge_all_at_once(manifold(9.0, 9.0), WATER)
    uneven = purge_all_at_once(manifold(9.0, 60.0), WATER)
    assert uneven.flow > even.flow


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_loop_by_loop_passes_the_whole_way_of_every_loop(arrangement: str) -> None:
    branches = tuple(
        Branch(Loop(f"B{n}", P40, (Straight(100.0),)), header_length=10.0) for n in range(3)
    )
    closing = 30.0 if arrangement == "reverse_return" else 0.0
    circuit = Circuit(arrangement, branches, P63, closing)  # type: ignore[arg-type]
    single = purge_loop_by_loop(circuit, WATER)
    # One loop of the same way, built by hand: 100 m of 40 mm and so much of 63 mm.
    header = [20.0, 40.0, 60.0] if arrangement == "direct_return" else [60.0, 60.0, 60.0]
    for duty, length in zip(single.loops, header, strict=True):
        alone = Circuit(
            "manifold",
            (Branch(Loop("L", P40, (Straight(100.0), Straight(length, P63)))),),
        )
        network = assemble(alone, Plant(), (WATER, WATER, WATER))
        drop = solve(network, duty.flow * WATER.density).array_drop
        assert duty.drop == pytest.approx(drop, rel=1e-5)  # the solver's table
    assert single.uncleared == ("PE100 SDR11 63",)
    assert single.shared_flow == pytest.approx(flow_for_velocity(P63))


def test_equal_loops_are_reported_once_with_their_count() -> None:
    circuit = Circuit("manifold", (Branch(slinky("T", 9.0), count=40),))
    assert [(duty.name, duty.count) for duty in purge_loop_by_loop(circuit, WATER).loops] == [
        ("T", 40)
    ]


def test_nested_loops_pass_the_runs_above_them() -> None:
    below = Circuit("manifold", (Branch(slinky("T", 9.0), count=3),), name="chamber")
    far = Circuit("manifold", (Branch(below, runs=(Run(P50, 40.0),), count=2),))
    near = Circuit("manifold", (Branch(below, count=2),))
    at, beside = purge_loop_by_loop(far, WATER), purge_loop_by_loop(near, WATER)
    assert at.loops[0].name == "chamber/T"
    assert at.loops[0].count == 6
    assert at.drop > beside.drop


def test_both_u_tubes_must_reach_the_velocity() -> None:
    circuit = Circuit("manifold", (Branch(Loop("B", P40, (BoreholeU(100.0, 2),))),))
    assert purge_loop_by_loop(circuit, WATER).flow == pytest.approx(2.0 * flow_for_velocity(P40))


def test_port_valves_are_on_the_way() -> None:
    valve = loss_from_kv(2.0)
    circuit = Circuit("manifold", (Branch(slinky("T", 9.0), fittings=valve),))
    extra = purge_loop_by_loop(circuit, WATER).drop - purge_loop_by_loop(manifold(9.0), WATER).drop
    flow = flow_for_velocity(P32)
    # Kv 2 by definition (EN 60534): 1 bar at 2 m³/h of 1000 kg/m³.
    assert extra == pytest.approx(1e5 * (flow * 3600.0 / 2.0) ** 2 * WATER.density / 1000.0)


def test_findings_say_what_one_loop_does_not_clear() -> None:
    circuit = manifold(9.0, 9.0, 9.0)
    plant = Plant(runs=(Run(P63, 30.0),))
    whole = purge_all_at_once(circuit, WATER, plant)
    single = purge_loop_by_loop(circuit, WATER, plant)
    codes = {f.code for f in purge_findings(circuit, whole, single, plain_water=False)}
    assert codes == {"shared_pipe_not_cleared", "purge_with_water_first", "purge_more_than_sum"}


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_velocity_that_clears_nothing_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="velocity"):
        purge_all_at_once(manifold(9.0), WATER, velocity=bad)
    with pytest.raises(InputError, match="velocity"):
        purge_loop_by_loop(manifold(9.0), WATER, velocity=bad)


def test_the_slowest_pipe_has_a_name_even_where_it_has_no_length() -> None:
    wide = Plant(runs=(Run(pe_pipe("PE100 SDR11 180"), 0.0),))
    found = purge_all_at_once(manifold(10.0), WATER, wide)
    # 180 mm less two walls of 16.4 mm.
    assert found.slowest_pipe == "147.2 mm bore"


def test_runs_that_share_the_flow_are_cleared_by_the_flow_that_is_told() -> None:
    # Four chambers behind one run: each run carries a quarter, so that four times its own
    # clearing flow is needed, by hand from velocity times bore area.
    main = pe_pipe("PE100 SDR17 75")
    chamber = Circuit("manifold", (Branch(Loop("L", P32, (Straight(60.0),)), count=3),))
    circuit = Circuit("manifold", (Branch(chamber, runs=(Run(P63, 20.0),), count=4),))
    plant = Plant(None, (Run(main, 10.0),))
    whole = purge_all_at_once(circuit, WATER, plant, 0.6)
    single = purge_loop_by_loop(circuit, WATER, plant, 0.6)
    told = flow_to_clear(circuit, whole, single)
    assert told >= 4 * 0.6 * P63.bore_area * (1 - 1e-6)
    assert single.shared_flow == pytest.approx(0.6 * main.bore_area, rel=1e-9)


def test_no_flow_is_solved_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    totals: list[float] = []

    def counting(network: Network, total: float, **more: Any) -> Solution:
        totals.append(total)
        return solve(network, total, **more)

    monkeypatch.setattr("hydraulics.commissioning.purge.solve", counting)
    purge_all_at_once(manifold(10.0, 40.0, 90.0), WATER)
    assert len(totals) > 2
    assert len(totals) == len(set(totals))


def test_a_purge_of_one_loop_by_hand() -> None:
    # 100 m of 26 mm bore: 53.09 L, 0.3186 L/s at 0.6 m/s, turned over in 100/0.6 s.
    circuit = Circuit("manifold", (Branch(Loop("S", P32, (Straight(100.0),))),))
    whole = purge_all_at_once(circuit, WATER)
    (loop,) = purge_loop_by_loop(circuit, WATER).loops
    for duty in (whole, loop):
        assert duty.flow == pytest.approx(3.1856e-4, rel=1e-4)
        assert duty.turnover == pytest.approx(166.67, rel=1e-4)
        assert duty.head == pytest.approx(duty.drop / (WATER.density * 9.80665))
        assert duty.hydraulic_power == pytest.approx(duty.flow * duty.drop)
        assert (duty.slowest, duty.fastest) == pytest.approx((0.6, 0.6))
        assert duty.slowest_pipe == "PE100 SDR11 32"
        assert duty.count == 1


def test_of_two_pipes_in_a_loop_the_wider_sets_the_flow() -> None:
    # 26 and 32.6 mm of bore: 0.6 m/s in the wider is 0.6 (32.6/26)² = 0.943 m/s in the other.
    circuit = Circuit("manifold", (Branch(Loop("S", P32, (Straight(50.0), Straight(50.0, P40)))),))
    whole = purge_all_at_once(circuit, WATER)
    (loop,) = purge_loop_by_loop(circuit, WATER).loops
    for duty in (whole, loop):
        assert duty.slowest_pipe == "PE100 SDR11 40"
        assert (duty.slowest, duty.fastest) == pytest.approx((0.6, 0.9433), rel=1e-4)
        assert duty.flow == pytest.approx(0.6 * P40.bore_area)


def test_what_one_loop_does_not_clear_is_told_with_the_flow_that_does() -> None:
    circuit = manifold(9.0, 9.0, 9.0)
    plant = Plant(runs=(Run(P63, 30.0),))
    whole = purge_all_at_once(circuit, WATER, plant)
    single = purge_loop_by_loop(circuit, WATER, plant)
    said = {f.code: f.message for f in purge_findings(circuit, whole, single, plain_water=True)}
    assert set(said) == {"shared_pipe_not_cleared", "purge_more_than_sum"}
    # 0.6 m/s in 51.4 mm of bore.
    assert "does not clear PE100 SDR11 63" in said["shared_pipe_not_cleared"]
    assert "at 1.24 L/s or more" in said["shared_pipe_not_cleared"]
    assert (
        f"{whole.flow * 1e3:.2f} L/s at {whole.drop / 1e3:.0f} kPa, against 0.32 L/s at "
        in (said["purge_more_than_sum"])
    )
    assert f"{single.drop / 1e3:.0f} kPa loop by loop" in said["purge_more_than_sum"]
    alone = manifold(9.0)
    quiet = purge_findings(
        alone, purge_all_at_once(alone, WATER), purge_loop_by_loop(alone, WATER), plain_water=True
    )
    assert [each.code for each in quiet] == ["purge_more_than_sum"]


def test_a_run_of_the_loops_own_pipe_is_cleared_by_one_loop() -> None:
    plant = Plant(runs=(Run(P32, 30.0),))
    single = purge_loop_by_loop(manifold(9.0), WATER, plant)
    assert single.uncleared == ()
    assert single.shared_flow == pytest.approx(flow_for_velocity(P32))


def test_headers_need_valves_on_their_loops_and_all_of_the_flow() -> None:
    branches = tuple(Branch(slinky(f"T{n}", 9.0), header_length=5.0) for n in range(3))
    circuit = Circuit("direct_return", branches, P40)
    whole, single = purge_all_at_once(circuit, WATER), purge_loop_by_loop(circuit, WATER)
    codes = {f.code for f in purge_findings(circuit, whole, single, plain_water=True)}
    assert "loop_valves_needed" in codes
    assert flow_to_clear(circuit, whole, single) == whole.flow


def test_equal_branches_along_a_header_have_ways_of_their_own() -> None:
    branch = Branch(Loop("L", P40, (Straight(100.0),)), header_length=10.0, count=3)
    single = purge_loop_by_loop(Circuit("direct_return", (branch,), P63), WATER)
    assert [(duty.name, duty.count) for duty in single.loops] == [
        ("L-1", 1), ("L-2", 1), ("L-3", 1),
    ]  # fmt: skip
    drops = [duty.drop for duty in single.loops]
    # Each passes 20 m of header more than the one before.
    assert drops[1] - drops[0] == pytest.approx(drops[2] - drops[1])
    assert drops[0] < drops[1]
    close = replace(branch, header_length=0.0)
    together = purge_loop_by_loop(Circuit("direct_return", (close,), P63), WATER)
    assert [(duty.name, duty.count) for duty in together.loops] == [("L", 3)]


def test_the_exchanger_is_isolated_and_the_plants_fittings_are_not() -> None:
    circuit, valve = manifold(9.0), loss_from_kv(2.0)
    fitted = Plant(Exchanger((1e-3,), (50e3,)), fittings=valve)
    plain, more = (purge_loop_by_loop(circuit, WATER, plant) for plant in (None, fitted))
    extra = 1e5 * (plain.flow * 3600.0 / 2.0) ** 2 * WATER.density / 1000.0  # Kv by definition
    assert more.drop - plain.drop == pytest.approx(extra)
    both = [purge_all_at_once(circuit, WATER, plant).drop for plant in (None, fitted)]
    assert both[1] - both[0] == pytest.approx(extra)


def test_a_velocity_beyond_the_law_of_friction_is_refused() -> None:
    # Re 1e8 is the far end of Moody's chart: 26 mm of water at 12 °C at 4740 m/s.
    purge_loop_by_loop(manifold(9.0), WATER, velocity=4500.0)
    for call in (purge_loop_by_loop, purge_all_at_once):
        with pytest.raises(InputError, match="1e\\+08"):
            call(manifold(9.0), WATER, velocity=5000.0)


def test_a_heat_pump_that_is_isolated_is_not_turned_over() -> None:
    plant = Plant(runs=(Run(P50, 20.0),), volume=0.5)
    duty = purge_all_at_once(manifold(20.0, 30.0), WATER, plant)
    # Loops of 30 coils of pi metres and 2 m of way on and return, two tails; 20 m of run twice.
    loops = sum(30 * (math.pi + 2.0) + 2 * tail for tail in (20.0, 30.0))
    pipe = loops * P32.bore_area + 40.0 * P50.bore_area
    assert duty.turnover == pytest.approx(pipe / duty.flow, rel=1e-9)


def test_velocity_and_reynolds_number_are_of_the_same_pipes() -> None:
    # A run of 61.4 mm of bore is passed, and not cleared, by a loop of 26 mm; one of 20.4 mm is.
    wide, narrow = pe_pipe("PE100 SDR11 75"), pe_pipe("PE100 SDR11 25")
    reynolds = WATER.density * 0.6 * P32.bore / WATER.viscosity
    plain, wider, narrower = (
        purge_loop_by_loop(manifold(9.0), WATER, Plant(runs=(Run(pipe, 10.0),))).loops[0]
        for pipe in (P32, wide, narrow)
    )
    for duty in (plain, wider, narrower):
        assert duty.slowest == pytest.approx(0.6)
        assert duty.lowest_reynolds == pytest.approx(reynolds, rel=1e-6)
    assert wider.fastest == pytest.approx(0.6)
    assert narrower.fastest == pytest.approx(0.6 * (P32.bore / narrow.bore) ** 2)
