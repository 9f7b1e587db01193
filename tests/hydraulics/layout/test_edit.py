"""Changing an array: what stays and what does not."""

from dataclasses import replace

import pytest

from hydraulics.errors import InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.contents import array_contents
from hydraulics.layout.edit import (
    in_reverse_return,
    one_by_one,
    return_sizes,
    sized,
    sizes_from,
    with_added,
    with_loop_pipes,
    with_route_pipes,
)
from hydraulics.layout.legs import Coiled, Straight
from hydraulics.layout.walk import loop_count, walk
from hydraulics.pipework.pipe import Pipe, pe_pipe, pipe_names
from tests.hydraulics.arrays import P25, P32, P40, P50, P63, direct_return, nested, straight_loop


def test_writing_out_equal_branches_keeps_loops_and_pipe() -> None:
    single = one_by_one(nested())
    assert loop_count(single) == loop_count(nested()) == 7
    assert array_contents(single).volume == pytest.approx(array_contents(nested()).volume)
    assert all(branch.count == 1 for branch in single.branches)


def test_a_leg_is_added_to_the_loop_at_its_place_and_to_no_other() -> None:
    single = one_by_one(nested())
    before = walk(single)
    for number, place in enumerate(before.places):
        after = walk(with_added(single, legs={place: Coiled(7.0, 1.0)}))
        more = [b.length - a.length for a, b in zip(before.loops, after.loops, strict=True)]
        assert more == pytest.approx([7.0 if i == number else 0.0 for i in range(len(more))])
        assert after.names == before.names


def test_reverse_return_closes_with_as_much_pipe_as_the_header() -> None:
    circuit = in_reverse_return(direct_return((60.0, 90.0, 120.0), apart=10.0))
    assert circuit.arrangement == "reverse_return"
    assert circuit.closing_length == 30.0
    # Flow 30 m; return 20 m between the branches and 30 m back: 20 m more than beside it.
    assert array_contents(circuit).length_of("headers") == pytest.approx(80.0)


def test_a_closing_length_may_be_given() -> None:
    assert in_reverse_return(direct_return((60.0, 90.0)), 3.0).closing_length == 3.0


def test_the_closing_run_counts_equal_branches_each() -> None:
    ladder = Circuit(
        "direct_return", (Branch(straight_loop("A", 50.0), 10.0, count=4),), header_pipe=P40
    )
    assert in_reverse_return(ladder).closing_length == 40.0


def test_a_closing_run_that_is_not_told_is_as_long_as_the_header() -> None:
    branches = (Branch(straight_loop("A", 50.0), 10.0, count=2), Branch(straight_loop("B", 50.0)))
    untold = Circuit("reverse_return", branches, P40)
    # Flow 20 m; return 10 m between the equal branches and 20 m back.
    assert array_contents(untold).length_of("headers") == pytest.approx(50.0)
    assert untold.closing_run == 20.0
    assert replace(untold, closing_length=0.0).closing_run == 0.0
    assert replace(untold, arrangement="direct_return").closing_run == 0.0


def test_sizes_of_the_old_return_header_are_dropped() -> None:
    branches = (
        Branch(straight_loop("A", 50.0), 10.0, return_header_pipe=P50),
        Branch(straight_loop("B", 50.0), 10.0),
    )
    circuit = in_reverse_return(Circuit("direct_return", branches, header_pipe=P63))
    assert {branch.return_header_pipe for branch in circuit.branches} == {None}


def test_nested_ladders_are_reversed_and_manifolds_left() -> None:
    circuit = in_reverse_return(nested())
    kinds = [b.item.arrangement for b in circuit.branches if isinstance(b.item, Circuit)]
    assert circuit.arrangement == "reverse_return"
    assert kinds == ["reverse_return", "manifold"]


def test_branches_joined_at_one_place_have_nothing_to_reverse() -> None:
    joined = Circuit(
        "direct_return",
        (Branch(straight_loop("A", 50.0), 10.0), Branch(straight_loop("B", 50.0))),
        header_pipe=P40,
    )
    assert in_reverse_return(joined) == joined


def test_route_pipes_change_headers_and_runs_only() -> None:
    changed = with_route_pipes(nested(), lambda pipe: sized(pipe, 1))
    before, after = array_contents(nested()), array_contents(changed)
    assert after.length_of("headers") == pytest.approx(before.length_of("headers"))
    assert after.volume_of("loops") == pytest.approx(before.volume_of("loops"))
    assert after.volume_of("headers") > before.volume_of("headers")
    assert after.volume_of("runs") > before.volume_of("runs")


def test_the_return_that_is_joined_in_reverse_tells_its_pipes() -> None:
    # Three loops on 63, 50 and 40: by hand 40 gathers the first, 50 two, and 63 leads all back.
    rows = [(P63, "a"), (P50, "b"), (P40, "c")]
    stepped = Circuit(
        "direct_return",
        tuple(Branch(straight_loop(name, 50.0), 10.0, header_pipe=pipe) for pipe, name in rows),
        P63,
    )
    told = return_sizes(stepped, in_reverse_return(stepped))
    assert told == f"{P40.name} from a to b, {P50.name} from b to c, {P63.name} back"
    alike = direct_return([50.0, 50.0, 50.0])
    assert not return_sizes(alike, in_reverse_return(alike))
    other = replace(
        alike,
        branches=tuple(replace(each, return_header_pipe=P40) for each in alike.branches),
        header_pipe=P63,
    )
    assert P63.name in return_sizes(other, in_reverse_return(other))


def test_return_headers_of_their_own_size_change_too() -> None:
    circuit = Circuit(
        "direct_return",
        (Branch(straight_loop("A", 50.0), 10.0, header_pipe=P50, return_header_pipe=P40),),
        header_pipe=P63,
    )
    branch = with_route_pipes(circuit, lambda pipe: sized(pipe, 1)).branches[0]
    assert branch.header_pipe == pe_pipe("PE100 SDR11 63")
    assert branch.return_header_pipe == pe_pipe("PE100 SDR11 50")


def test_loop_pipes_change_legs_of_their_own_pipe_too() -> None:
    loop = Loop("A", P32, (Straight(50.0), Straight(10.0, P40)))
    circuit = Circuit("manifold", (Branch(loop, runs=(Run(P50, 5.0),)),))
    branch = with_loop_pipes(circuit, lambda pipe: sized(pipe, -1)).branches[0]
    assert isinstance(branch.item, Loop)
    assert [section.pipe for section in branch.item.sections] == [P25, P32]
    assert branch.runs[0].pipe == P50


def test_a_pipe_too_stiff_for_the_coil_is_refused() -> None:
    circuit = Circuit("manifold", (Branch(Loop("A", P25, (Coiled(20.0, 0.15),))),))
    with pytest.raises(InputError, match="too tight"):
        with_loop_pipes(circuit, lambda _: P63)


def test_sizes_stay_in_the_pipes_material_and_sdr() -> None:
    for name in pipe_names():
        pipe = pe_pipe(name)
        smaller, larger = sizes_from(pipe)
        series = name.rpartition(" ")[0]
        assert {size.name.rpartition(" ")[0] for size in smaller + larger} <= {series}, name
        assert all(size.bore < pipe.bore for size in smaller), name
        assert all(size.bore > pipe.bore for size in larger), name
        assert [s.bore for s in larger] == sorted(s.bore for s in larger), name
        assert sized(pipe, 99) == (larger[-1] if larger else pipe), name


def test_a_pipe_given_by_its_bore_steps_to_the_next_standard_bore() -> None:
    own = Pipe("mine", 0.027, 0.034)
    assert sized(own, 1) == P40
    assert sized(own, -1) == P32
