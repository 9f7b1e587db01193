"""What the engine proposes becomes a request of which the same array is made again."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.answers.next_request import (
    circuit_request,
    duty_request,
    fittings_request,
    pipe_request,
    run_request,
)
from api.requests.array import circuit_from
from api.requests.job import duty_from, plant_from
from api.schemas.array import CircuitSchema, RunSchema
from api.schemas.flow_split import HeatDutySchema
from api.schemas.objects import schema_of
from hydraulics.errors import InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.fittings import NO_LOSS, Loss, loss_from_kv, loss_of_kind
from hydraulics.pipework.pipe import Pipe, pe_pipe, pipe_names
from hydraulics.split.duty import HeatDuty

PIPES = st.sampled_from(pipe_names()).map(pe_pipe)
OWN = st.none() | PIPES
LENGTHS = st.floats(0.1, 900.0)
WIDE = st.floats(1.5, 5.0)  # more than 7 bores of the widest pipe
NAMES = st.text("ABCxyz 019/~é", min_size=1, max_size=8).filter(str.strip)
LEGS = st.one_of(
    st.builds(Straight, LENGTHS, OWN),
    st.builds(Slinky, st.integers(1, 300), WIDE, WIDE, st.booleans(), OWN),
    st.builds(Coiled, LENGTHS, WIDE, OWN),
    st.builds(TrenchPasses, LENGTHS, st.integers(1, 12), st.none() | WIDE, OWN),
    st.builds(lambda d, w, s, n, p: PondMat(d, d + w, s, n, p),
              WIDE, WIDE, st.floats(0.02, 1.0), st.integers(1, 20), OWN),
    st.builds(BoreholeU, LENGTHS, st.sampled_from([1, 2]), OWN),
)  # fmt: skip
LOOPS = st.builds(Loop, NAMES, PIPES, st.lists(LEGS, min_size=1, max_size=4).map(tuple))
RUNS = st.lists(st.builds(Run, PIPES, st.floats(0.0, 100.0)), max_size=2).map(tuple)


def manifold(items: st.SearchStrategy[Any]) -> st.SearchStrategy[Circuit]:
    branch = st.builds(
        lambda item, runs, count: Branch(item, runs=runs, count=count),
        items, RUNS, st.integers(1, 40),
    )  # fmt: skip
    return st.builds(
        lambda branches, name: Circuit("manifold", tuple(branches), name=name),
        st.lists(branch, min_size=1, max_size=3), st.just("") | NAMES,
    )  # fmt: skip


def with_headers(items: st.SearchStrategy[Any]) -> st.SearchStrategy[Circuit]:
    branch = st.builds(
        Branch, items, st.floats(0.0, 50.0), OWN, OWN, RUNS,
    )  # fmt: skip
    return st.builds(
        lambda arrangement, branches, pipe, closing, name: Circuit(
            arrangement,
            tuple(branches),
            pipe,
            closing if arrangement == "reverse_return" else 0.0,
            name,
        ),
        st.sampled_from(["direct_return", "reverse_return"]),
        st.lists(branch, min_size=1, max_size=3),
        PIPES,
        st.floats(0.0, 80.0),
        st.just("") | NAMES,
    )


FLAT = st.one_of(manifold(LOOPS), with_headers(LOOPS))
CIRCUITS = st.one_of(FLAT, manifold(FLAT | LOOPS), with_headers(FLAT | LOOPS))


def read_back(circuit: Circuit) -> Circuit:
    refusals: list[Any] = []
    read = schema_of(CircuitSchema).check(circuit_request(circuit), (), refusals)
    made = circuit_from(read, (), refusals)
    assert refusals == []
    assert isinstance(made, Circuit)
    return made


@settings(max_examples=150, deadline=None)
@given(CIRCUITS)
def test_a_circuit_of_standard_pipes_survives_the_round_trip_exactly(circuit: Circuit) -> None:
    assert read_back(circuit) == circuit


@pytest.mark.parametrize("leg", [
    Straight(3.0), Slinky(30, 1.0, 1.0), Slinky(3, 1.0, 1.0, returns_alongside=False),
    Coiled(4.0, 0.8), TrenchPasses(40.0, 4), TrenchPasses(40.0, 4, 0.5),
    PondMat(0.8, 3.0, 0.05, 2), BoreholeU(90.0), BoreholeU(90.0, 2),
])  # fmt: skip
def test_no_leg_is_expressed_with_more_than_it_has(leg: Leg) -> None:
    loop = Loop("T1", pe_pipe("PE100 SDR11 32"), (leg,))
    said = circuit_request(Circuit("manifold", (Branch(loop),)))["branches"][0]
    assert set(said) == {"loop", "pipe", "legs"}
    assert None not in said["legs"][0].values()


@settings(max_examples=100, deadline=None)
@given(st.integers(1_000, 400_000), st.integers(100, 20_000), st.integers(0, 50))
def test_a_pipe_by_its_bore_survives_where_it_has_no_pressure_class(
    bore: int, wall: int, rough: int
) -> None:
    # Sizes in thousandths of a millimetre, as people give them at most.
    outside = bore + 2 * wall
    pipe = Pipe("special", bore / 1e3 / 1e3, outside / 1e3 / 1e3, rough / 1e3 / 1e3)
    loop = Loop("T1", pipe, (Straight(3.0),))
    circuit = Circuit("manifold", (Branch(loop),))
    assert read_back(circuit) == circuit


def test_a_standard_pipe_that_was_changed_is_not_given_by_its_name() -> None:
    pipe = replace(pe_pipe("PE100 SDR11 32"), roughness=1e-5)
    assert pipe_request(pe_pipe("PE100 SDR11 32")) == "PE100 SDR11 32"
    assert isinstance(pipe_request(pipe), dict)


@settings(max_examples=100, deadline=None)
@given(st.floats(0.01, 1_000.0), st.floats(0.01, 1_000.0), st.floats(0.01, 1_000.0))
def test_losses_come_back_as_one_kv_to_their_rounding(a: float, b: float, c: float) -> None:
    pipe = pe_pipe("PE100 SDR11 40")
    loop = Loop("T1", pipe, (Straight(3.0), Straight(4.0)), loss_from_kv(a))
    branch = Branch(loop, runs=(Run(pipe, 5.0, loss_from_kv(b)),), fittings=loss_from_kv(c))
    made = read_back(Circuit("manifold", (branch,))).branches[0]
    item = made.item
    assert isinstance(item, Loop)
    # A square root and a square: rounding only.
    assert item.fittings.square == pytest.approx(loop.fittings.square, rel=1e-14)
    assert made.runs[0].fittings.square == pytest.approx(loss_from_kv(b).square, rel=1e-14)
    assert made.fittings.square == pytest.approx(loss_from_kv(c).square, rel=1e-14)


def test_a_loss_with_a_laminar_part_is_refused_rather_than_changed() -> None:
    assert fittings_request(NO_LOSS) == []
    assert fittings_request(Loss(0.0)) == []
    with pytest.raises(InputError, match="Kv"):
        fittings_request(loss_of_kind("elbow_90", 0.026))


def test_a_run_and_a_duty_survive_the_round_trip() -> None:
    refusals: list[Any] = []
    run = Run(pe_pipe("PE100 SDR11 50"), 24.0)
    read = schema_of(RunSchema).check(run_request(run), (), refusals)
    assert plant_from({"runs": [read]}, (), refusals).runs == (run,)
    duty = HeatDuty(8400.0, 3.5, -3.5)
    said = schema_of(HeatDutySchema).check(duty_request(duty), (), refusals)
    assert duty_from(said, (), refusals) == duty
    assert refusals == []
