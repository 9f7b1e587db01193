"""Steps that clear the air, against solved networks and numbers by hand."""

import math
import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.commissioning.purge import (
    beyond_class_remedy,
    flow_for_velocity,
    purge_findings,
    purge_steps,
    series_drop,
)
from hydraulics.errors import InputError
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Section, Slinky, Straight
from hydraulics.pipework.exchanger import Exchanger
from hydraulics.pipework.fittings import NO_LOSS, loss_from_kv
from hydraulics.pipework.pipe import Pipe, pe_pipe
from hydraulics.split.assembly import assemble
from hydraulics.split.solver import solve

P32, P40, P50, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 50, 63))
WATER = fluid(mixture("water", 0.0, "mass"), 12.0)


def slinky(name: str, tail: float) -> Loop:
    return Loop(name, P32, (Straight(tail), Slinky(30, 1.0, 1.0), Straight(tail)))


def manifold(*tails: float) -> Circuit:
    return Circuit("manifold", tuple(Branch(slinky(f"T{n}", t)) for n, t in enumerate(tails)))


def solved(circuit: Circuit, flow: float) -> float:
    network = assemble(circuit, Plant(), (WATER, WATER, WATER))
    return solve(network, flow * WATER.density).array_drop


def test_one_loop_by_hand() -> None:
    # 100 m of 26 mm bore: 53.09 L, 0.3186 L/s at 0.6 m/s, changed in 100/0.6 s; 3 changes each way.
    plan = purge_steps(Circuit("manifold", (Branch(Loop("S", P32, (Straight(100.0),))),)), WATER)
    (step,) = plan.steps
    assert step.flow == plan.flow == pytest.approx(3.1856e-4, rel=1e-4)
    assert step.turnover == pytest.approx(166.67, rel=1e-4)
    assert step.time == pytest.approx(1000.0, rel=1e-4)
    assert plan.time == pytest.approx(1900.0, rel=1e-4)  # 15 min after the last bubble: UFGS
    assert plan.tank == pytest.approx(60 * 3.1856e-4, rel=1e-4)
    assert step.head == pytest.approx(step.drop / (WATER.density * 9.80665))
    assert (step.slowest, step.fastest) == pytest.approx((0.6, 0.6))
    assert (step.name, step.clears, step.loops, step.count) == ("S", "PE100 SDR11 32", 1, 1)


def test_shared_pipe_that_is_cleared_is_changed_once_with_each_loop() -> None:
    # By hand: 200 m of 26 mm bore hold 106.2 L, 40 m of 51.4 mm there and back 166.0 L. At 0.6 m/s
    # 1.245 L/s in the wide pipe and 0.3186 L/s in a loop: 3 changes of what a step clears and 1 of
    # the rest, each way.
    wide = Plant(runs=(Run(pe_pipe("PE100 SDR11 63"), 40.0),))
    loop = Loop("L", P32, (Straight(200.0),))
    plan = purge_steps(Circuit("manifold", (Branch(loop, count=12),)), WATER, wide)
    shared, own = plan.steps
    assert shared.time == pytest.approx(2 * (3 * 166.0 + 12 * 106.2) / 1.245, rel=2e-3)
    assert own.time == pytest.approx(2 * (3 * 106.2 + 166.0) / 0.3186, rel=2e-3)
    assert plan.time == pytest.approx(900.0 + shared.time + 12 * own.time)
    # A run no wider than its loops has no step: each loop clears it.
    plan = purge_steps(
        Circuit("manifold", (Branch(loop, count=12),)), WATER, Plant(runs=(Run(P32, 40.0),))
    )
    (own,) = plan.steps
    assert own.time == pytest.approx(6 * 280.0 / 0.6)


def test_headers_that_are_cleared_are_changed_once_with_the_loops_beyond() -> None:
    # By hand: the step of the last stretch clears both; 20 m of 51.4 mm there and back hold 83.0 L.
    rows = tuple(
        Branch(Loop(name, P32, (Straight(200.0),)), header_length=20.0) for name in ("A", "B")
    )
    wide = Circuit("direct_return", rows, pe_pipe("PE100 SDR11 63"))
    plan = purge_steps(wide, WATER)
    of = {step.name: step for step in plan.steps}
    assert [*of] == ["header, B open", "A", "B"]
    assert of["A"].time == pytest.approx(2 * (3 * 106.2 + 83.0) / 0.3186, rel=2e-3)
    assert of["B"].time == pytest.approx(2 * (3 * 106.2 + 2 * 83.0) / 0.3186, rel=2e-3)


def test_straight_pipe_drop_is_blasius() -> None:
    # Blasius (1913), f = 0.3164/Re^0.25, smooth pipe. Near Re 1e4 it lies 2.4 % above Prandtl's
    # smooth law (0.0316 against 0.0309), which Colebrook's becomes in smooth pipe.
    circuit = Circuit("manifold", (Branch(Loop("S", P32, (Straight(100.0),))),))
    (step,) = purge_steps(circuit, WATER).steps
    reynolds = WATER.density * 0.6 * P32.bore / WATER.viscosity
    drop = 0.3164 / reynolds**0.25 * 100.0 / P32.bore * 0.5 * WATER.density * 0.6**2
    assert step.reynolds == pytest.approx(reynolds, rel=1e-6)
    assert step.drop == pytest.approx(drop, rel=0.03)


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_a_loop_alone_passes_its_whole_way(arrangement: str) -> None:
    branches = tuple(
        Branch(Loop(f"B{n}", P40, (Straight(100.0),)), header_length=10.0) for n in range(3)
    )
    closing = 30.0 if arrangement == "reverse_return" else 0.0
    circuit = Circuit(arrangement, branches, P63, closing)  # type: ignore[arg-type]
    plan = purge_steps(circuit, WATER)
    loops = [each for each in plan.steps if each.name.startswith("B")]
    # One loop of the same way, built by hand: 100 m of 40 mm and so much of 63 mm.
    header = [20.0, 40.0, 60.0] if arrangement == "direct_return" else [60.0, 60.0, 60.0]
    for step, length in zip(loops, header, strict=True):
        alone = Circuit(
            "manifold", (Branch(Loop("L", P40, (Straight(100.0), Straight(length, P63)))),)
        )
        assert step.drop == pytest.approx(solved(alone, step.flow), rel=1e-5)  # solver's table


def test_the_last_stretch_of_a_header_is_cleared_through_the_last_loop() -> None:
    # 0.6 m/s in 51.4 mm of bore: 1.245 L/s, all of it through 100 m of 32.6 mm: 1.49 m/s.
    branch = Branch(Loop("B", P40, (Straight(100.0),)), header_length=10.0)
    circuit = Circuit("direct_return", (branch, branch, branch), P63)
    first, *loops = purge_steps(circuit, WATER).steps
    assert (first.name, first.clears, first.loops) == ("header, B open", "PE100 SDR11 63", 1)
    assert first.flow == pytest.approx(1.245e-3, rel=1e-3)
    assert first.fastest == pytest.approx(0.6 * (51.4 / 32.6) ** 2, rel=1e-3)
    alone = Circuit("manifold", (Branch(Loop("L", P40, (Straight(100.0), Straight(60.0, P63)))),))
    assert first.drop == pytest.approx(solved(alone, first.flow), rel=1e-5)
    assert first.bypassed == pytest.approx(
        series_drop((Section(P63, 60.0),), NO_LOSS, first.flow, WATER)
    )
    assert len(loops) == 3


def test_a_stretch_of_no_length_is_passed_at_no_velocity() -> None:
    # Only the first stretch of the header is pipe, 63 mm wide; what follows is 20 mm and 0 m long.
    loop, thin = Loop("B", P40, (Straight(100.0),)), pe_pipe("PE100 SDR11 20")
    before = Branch(loop, header_length=10.0, header_pipe=P63)
    nothing = Branch(loop, header_length=0.0, header_pipe=thin)
    circuit = Circuit("direct_return", (before, nothing, nothing), P63)
    first = purge_steps(circuit, WATER).steps[0]
    assert (first.loops, first.clears) == (3, "PE100 SDR11 63")
    # Three equal loops share it, a third of the flow in 32.6 mm of bore: 0.5 m/s.
    assert first.fastest == pytest.approx(0.6)


def test_a_header_that_steps_down_has_a_step_for_each_width() -> None:
    # 63 mm to the first two loops, 50 mm to the third, 40 mm to the last, which is its own pipe.
    loop = Loop("B", P40, (Straight(100.0),))
    pipes = (P63, P63, P50, P40)
    branches = tuple(Branch(loop, header_length=10.0, header_pipe=pipe) for pipe in pipes)
    steps = purge_steps(Circuit("direct_return", branches, P63), WATER).steps
    shared = [each for each in steps if each.name.startswith("header")]
    assert [(each.loops, each.clears) for each in shared] == [
        (3, "PE100 SDR11 63"), (2, "PE100 SDR11 50"),
    ]  # fmt: skip
    # The wide step: 20 m of header and back, then three loops on their own header, by the solver.
    far = Circuit("direct_return", branches[1:], P63)
    flow = flow_for_velocity(P63)
    before = series_drop((Section(P63, 20.0),), NO_LOSS, flow, WATER)
    assert shared[0].drop == pytest.approx(before + solved(far, flow), rel=1e-5)


def test_a_reverse_returns_both_headers_are_cleared() -> None:
    loop = Loop("B", P40, (Straight(100.0),))
    branch = Branch(loop, header_length=10.0)
    circuit = Circuit("reverse_return", (branch, branch, branch), P63, 30.0)
    steps = purge_steps(circuit, WATER).steps
    shared = [each for each in steps if each.name.startswith("header")]
    # The last loop alone fills the flow header and the closing run, the first one the return.
    assert [each.loops for each in shared] == [1, 1]
    alone = Circuit("manifold", (Branch(Loop("L", P40, (Straight(100.0), Straight(60.0, P63)))),))
    for step in shared:
        assert step.drop == pytest.approx(solved(alone, step.flow), rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(["direct_return", "reverse_return"]),
    st.lists(st.sampled_from([P32, P40, P50, P63]), min_size=1, max_size=6),
    st.lists(st.sampled_from([P32, P40, P50]), min_size=6, max_size=6),
    st.floats(0.3, 1.0),
)
def test_every_stretch_reaches_the_velocity_in_some_step(
    arrangement: str, headers: list[Pipe], own: list[Pipe], velocity: float
) -> None:
    branches = tuple(
        Branch(Loop(f"B{n}", own[n], (Straight(50.0),)), header_length=5.0, header_pipe=pipe)
        for n, pipe in enumerate(headers)
    )
    closing = 5.0 if arrangement == "reverse_return" else 0.0
    circuit = Circuit(arrangement, branches, headers[0], closing)  # type: ignore[arg-type]
    plan = purge_steps(circuit, WATER, None, velocity)
    # Whatever is open, the widest header is passed in full by some step at its clearing flow.
    widest = max(flow_for_velocity(pipe, velocity) for pipe in (*headers, *own[: len(headers)]))
    assert plan.flow == pytest.approx(widest)
    for step in plan.steps:
        assert step.fastest >= velocity * (1.0 - 1e-9)
        # No loop is sent less than the whole flow where it is alone.
        if step.name in {f"B{n}" for n in range(len(headers))}:
            at = int(step.name[1:])
            assert step.flow == pytest.approx(flow_for_velocity(own[at], velocity))


def test_runs_of_the_plant_are_cleared_with_all_loops_open() -> None:
    plant = Plant(runs=(Run(P63, 30.0),))
    plan = purge_steps(manifold(9.0, 9.0, 9.0), WATER, plant)
    first, *loops = plan.steps
    assert (first.name, first.loops) == ("all loops", 3)
    assert first.flow == plan.flow == pytest.approx(flow_for_velocity(P63))
    third = solved(manifold(9.0), first.flow / 3.0)
    runs = series_drop((Section(P63, 60.0),), NO_LOSS, first.flow, WATER)
    assert first.drop == pytest.approx(third + runs, rel=1e-5)
    assert len(loops) == 3
    # A run of the loops' own pipe is cleared by one loop.
    assert len(purge_steps(manifold(9.0), WATER, Plant(runs=(Run(P32, 30.0),))).steps) == 1


def test_runs_to_chambers_are_cleared_each_by_its_own_flow() -> None:
    main = pe_pipe("PE100 SDR17 75")
    chamber = Circuit("manifold", (Branch(Loop("L", P32, (Straight(60.0),)), count=3),), name="C")
    circuit = Circuit("manifold", (Branch(chamber, runs=(Run(P63, 20.0),), count=4),))
    whole, run, loop = purge_steps(circuit, WATER, Plant(None, (Run(main, 10.0),))).steps
    assert (whole.name, whole.loops, whole.count) == ("all loops", 12, 1)
    assert whole.flow == pytest.approx(0.6 * main.bore_area)
    assert (run.name, run.loops, run.count) == ("run to C", 3, 4)
    assert run.flow == pytest.approx(0.6 * P63.bore_area)
    assert (loop.name, loop.loops, loop.count) == ("C/L", 1, 12)


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_headers_of_equal_circuits_are_cleared_in_each(arrangement: str) -> None:
    row = Branch(Loop("L", P32, (Straight(60.0),)), header_length=5.0, header_pipe=P63)
    closing = 15.0 if arrangement == "reverse_return" else 0.0
    chamber = Circuit(arrangement, (row,) * 3, P63, closing, name="C")  # type: ignore[arg-type]
    counted = purge_steps(Circuit("manifold", (Branch(chamber, count=3),)), WATER)
    written = purge_steps(
        Circuit("manifold", tuple(Branch(replace(chamber, name=f"C{n}")) for n in range(3))), WATER
    )
    headers = [each for each in counted.steps if each.name.startswith("header")]
    assert headers
    assert all(each.count == 3 for each in headers)
    assert sum(each.count for each in counted.steps) == len(written.steps)
    assert counted.time == pytest.approx(written.time)


def test_one_pump_covers_all_steps() -> None:
    branch = Branch(slinky("T", 30.0), header_length=10.0)
    plan = purge_steps(Circuit("direct_return", (branch, branch), P63), WATER)
    assert plan.flow == max(each.flow for each in plan.steps)
    assert plan.pressure == plan.hardest.drop == max(each.drop for each in plan.steps)
    (valves, duty) = purge_findings(
        Circuit("direct_return", (branch, branch), P63), plan, plain_water=True
    )
    assert (valves.code, valves.severity) == ("loop_valves_needed", "warning")
    assert duty.code == "purge_pump_duty"
    covers = f"{plan.flow * 1e3:.3g} L/s at {plan.pressure / 1e3:.4g} kPa at the connections"
    assert covers in duty.message
    said = beyond_class_remedy(plan)
    assert "purge points" in said
    assert f"{plan.hardest.bypassed / 1e3:.3g} kPa" in said
    assert "smaller circuits" in beyond_class_remedy(purge_steps(manifold(9.0), WATER))
    (first, _) = purge_findings(manifold(9.0), plan, plain_water=False)
    assert first.code == "purge_with_water_first"


def test_equal_loops_are_one_step_with_their_count() -> None:
    circuit = Circuit("manifold", (Branch(slinky("T", 9.0), count=40),))
    assert [(each.name, each.count) for each in purge_steps(circuit, WATER).steps] == [("T", 40)]
    branch = Branch(Loop("L", P40, (Straight(100.0),)), header_length=10.0, count=3)
    steps = purge_steps(Circuit("direct_return", (branch,), P40), WATER).steps
    assert [(each.name, each.count) for each in steps] == [("L-1", 1), ("L-2", 1), ("L-3", 1)]
    drops = [each.drop for each in steps]
    # Each passes 20 m of header more than the one before.
    assert drops[1] - drops[0] == pytest.approx(drops[2] - drops[1])
    wide = purge_steps(Circuit("direct_return", (branch,), P50), WATER).steps
    assert wide[0].name == "header, L-3 open"
    close = replace(branch, header_length=0.0)
    (together,) = purge_steps(Circuit("direct_return", (close,), P63), WATER).steps
    assert (together.name, together.count) == ("L", 3)


def test_both_u_tubes_must_reach_the_velocity() -> None:
    circuit = Circuit("manifold", (Branch(Loop("B", P40, (BoreholeU(100.0, 2),))),))
    assert purge_steps(circuit, WATER).flow == pytest.approx(2.0 * flow_for_velocity(P40))


def test_valves_are_on_the_way_and_the_heat_pump_is_not() -> None:
    # Kv 2 by definition (EN 60534): 1 bar at 2 m³/h of 1000 kg/m³.
    flow = flow_for_velocity(P32)
    extra = 1e5 * (flow * 3600.0 / 2.0) ** 2 * WATER.density / 1000.0
    plain = purge_steps(manifold(9.0), WATER)
    valve = loss_from_kv(2.0)
    port = Circuit("manifold", (Branch(slinky("T", 9.0), fittings=valve),))
    assert purge_steps(port, WATER).pressure - plain.pressure == pytest.approx(extra)
    fitted = Plant(Exchanger((1e-3,), (50e3,)), fittings=valve, volume=0.5)
    with_plant = purge_steps(manifold(9.0), WATER, fitted)
    assert with_plant.pressure - plain.pressure == pytest.approx(extra)
    assert with_plant.steps[0].volume == plain.steps[0].volume


def test_of_two_pipes_in_a_loop_the_wider_sets_the_flow() -> None:
    # 26 and 32.6 mm of bore: 0.6 m/s in the wider is 0.6 (32.6/26)² = 0.943 m/s in the other.
    circuit = Circuit("manifold", (Branch(Loop("S", P32, (Straight(50.0), Straight(50.0, P40)))),))
    (step,) = purge_steps(circuit, WATER).steps
    assert step.clears == "PE100 SDR11 40"
    assert (step.slowest, step.fastest) == pytest.approx((0.6, 0.9433), rel=1e-4)
    assert step.flow == pytest.approx(0.6 * P40.bore_area)


def test_the_pump_lifts_the_fluid_to_the_highest_ground_in_every_step() -> None:
    # 12 m of water at 12 °C, 999.5 kg/m³ (ITS-90 tables): 999.5 * 9.80665 * 12 = 117.6 kPa.
    circuit = Circuit("direct_return", (Branch(slinky("T", 9.0), header_length=10.0),), P63)
    level, high = (purge_steps(circuit, WATER, rise=rise) for rise in (0.0, 12.0))
    assert [each.lift for each in level.steps] == [0.0, 0.0]
    assert [each.lift for each in high.steps] == pytest.approx([117.62e3] * 2, rel=1e-4)
    for flat, steep in zip(level.steps, high.steps, strict=True):
        assert steep.drop == flat.drop
        assert steep.pressure == pytest.approx(flat.pressure + 117.62e3, rel=1e-4)
        assert steep.head == pytest.approx(flat.head + 12.0)
    assert high.pressure == pytest.approx(level.pressure + 117.62e3, rel=1e-4)
    assert high.hardest.bypassed == pytest.approx(level.hardest.bypassed + 117.62e3, rel=1e-4)
    *_, said = purge_findings(circuit, high, plain_water=True)
    assert "118 kPa of it lift the fluid to the highest ground" in said.message
    *_, said = purge_findings(circuit, level, plain_water=True)
    assert "lift" not in said.message


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_a_velocity_that_clears_nothing_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="velocity"):
        purge_steps(manifold(9.0), WATER, velocity=bad)


def test_a_velocity_beyond_the_law_of_friction_is_refused() -> None:
    # Re 1e8 is the far end of Moody's chart: 26 mm of water at 12 °C at 4740 m/s.
    purge_steps(manifold(9.0), WATER, velocity=4500.0)
    with pytest.raises(InputError, match="1e\\+08"):
        purge_steps(manifold(9.0), WATER, velocity=5000.0)


def test_a_header_of_thousands_of_branches_is_purged_in_seconds() -> None:
    rows = 4_000
    loop = Loop("L", P32, (Straight(100.0),))
    circuit = Circuit("direct_return", (Branch(loop, header_length=1.0, count=rows),), P63)
    began = time.process_time()
    plan = purge_steps(circuit, WATER)
    # The service's bar for a whole request; 0.7 s, and with every way added up anew far over it.
    assert time.process_time() - began < 5.0
    # By hand: to row n and back there are 2n m of header on the way.
    shown = {each.name: each for each in plan.steps}
    near, far = shown["L-1"], shown[f"L-{rows}"]
    assert far.volume - near.volume == pytest.approx(2.0 * (rows - 1) * P63.bore_area)
