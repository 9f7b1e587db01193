import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.groundworks.pipe_order import pack_pieces, pipe_order
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.contents import array_contents
from hydraulics.layout.legs import BoreholeU, Straight
from hydraulics.pipework.pipe import STANDARD_COILS, pe_pipe

P32, P40, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 63))


def manifold(*lengths: float, count: int = 1) -> Circuit:
    return Circuit(
        "manifold",
        tuple(
            Branch(Loop(f"T{n}", P32, (Straight(length),)), count=count)
            for n, length in enumerate(lengths)
        ),
    )


def test_each_loop_comes_from_the_shortest_coil_that_is_long_enough() -> None:
    order = pipe_order(manifold(95.0, 100.0, 100.5))
    assert [each.coil for each in order.loop_coils] == [100.0, 100.0, 150.0]
    assert [each.leftover for each in order.loop_coils] == [5.0, 0.0, 49.5]
    assert [(line.coil, line.count) for line in order.lines] == [(100.0, 2), (150.0, 1)]


def test_a_loop_longer_than_any_coil_is_an_error() -> None:
    order = pipe_order(manifold(204.2), coil_lengths={"PE100 SDR11 32": [50.0, 200.0]})
    assert order.loop_coils[0].coil is None
    (finding,) = order.findings
    assert (finding.code, finding.severity) == ("no_coil_long_enough", "error")
    assert "4.2 m" in finding.message


@given(st.lists(st.floats(1.0, 299.0), min_size=1, max_size=8), st.integers(1, 5))
def test_what_is_ordered_is_what_is_laid_and_the_leftover(lengths: list[float], count: int) -> None:
    circuit = manifold(*lengths, count=count)
    plant = Plant(runs=(Run(P63, 24.0),))
    order = pipe_order(circuit, plant)
    ordered = sum(line.coil * line.count for line in order.lines)
    laid = sum(each.length for each in array_contents(circuit, plant).pipes)
    assert ordered == pytest.approx(laid + order.leftover)
    assert all(each.coil is not None and each.coil >= each.needed for each in order.loop_coils)


@given(st.lists(st.floats(0.5, 250.0), max_size=40))
def test_packing_is_never_below_what_the_length_asks_nor_one_coil_for_each(
    pieces: list[float],
) -> None:
    number = pack_pieces(pieces, 100.0)
    assert number >= math.ceil(sum(pieces) / 100.0 - 1e-6)
    assert number <= sum(math.ceil(piece / 100.0) for piece in pieces)


def test_packing_finds_pieces_that_share_a_coil() -> None:
    assert pack_pieces([60.0, 60.0, 40.0, 40.0], 100.0) == 2
    assert pack_pieces([240.0, 60.0], 100.0) == 3
    assert pack_pieces([], 100.0) == 0


def test_a_loop_of_two_pipes_is_jointed_underground() -> None:
    loop = Loop("T", P32, (Straight(50.0), Straight(50.0, P40)))
    order = pipe_order(Circuit("manifold", (Branch(loop),)))
    assert [f.code for f in order.findings] == ["joint_underground"]


def test_borehole_probes_are_ordered_made_up_and_their_tails_share_a_coil() -> None:
    loop = Loop("B", P40, (Straight(10.0), BoreholeU(100.0, 2), Straight(10.0)))
    order = pipe_order(Circuit("manifold", (Branch(loop, count=5),)))
    assert [(probe.depth, probe.count) for probe in order.probes] == [(100.0, 10)]
    assert [(line.coil, line.loops, line.routes) for line in order.lines] == [(100.0, 0, 1)]
    assert not order.findings


def test_a_long_header_is_said_to_be_jointed() -> None:
    circuit = Circuit(
        "direct_return", (Branch(Loop("T", P32, (Straight(50.0),)), header_length=400.0),), P63
    )
    order = pipe_order(circuit)
    assert [f.code for f in order.findings] == ["route_jointed"]
    assert dict(order.route_lengths) == {P63: 800.0}


@pytest.mark.parametrize("bad", [[], [0.0], [math.nan], [50.0, -1.0], [math.inf]])
def test_coils_of_no_length_are_refused(bad: list[float]) -> None:
    with pytest.raises(InputError, match="coil_lengths"):
        pipe_order(manifold(10.0), coil_lengths={"PE100 SDR11 32": bad})


def test_standard_coils_rise() -> None:
    assert list(STANDARD_COILS) == sorted(STANDARD_COILS)
