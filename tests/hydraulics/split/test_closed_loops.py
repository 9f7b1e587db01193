"""A closed branch is as a branch that is not there, with the header that leads past it kept."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import ARRANGEMENTS, Arrangement, Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.contents import array_contents
from hydraulics.layout.edit import closed_names, one_by_one, opened
from hydraulics.layout.legs import Straight
from hydraulics.layout.walk import flowing_circuits, headers_of, loop_count, walk
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.header_pressures import header_pressures
from hydraulics.split.result import FlowSplit
from tests.hydraulics.random_arrays import circuits, named_apart

P32, P40, P50, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 50, 63))
BRINE = mixture("propylene_glycol", 0.25, "mass")


def split(circuit: Circuit, flow: float = 2e-3, target: object = "even") -> FlowSplit:
    return flow_split(circuit, Plant(), BRINE, FlowDuty(flow, -1.0, 2.0), target=target)  # type: ignore[arg-type]


def loop(name: str, length: float = 150.0) -> Loop:
    return Loop(name, P32, (Straight(length),))


def five(arrangement: Arrangement, closed: str = "") -> Circuit:
    """T1 to T5, unlike one another, 4, 5, 6, 7 and 8 m along a header; those named are closed."""
    along = arrangement != "manifold"
    return Circuit(
        arrangement,
        tuple(
            Branch(
                loop(f"T{n}", 140.0 + 7.0 * n),
                3.0 + n if along else 0.0,
                closed=str(n) in closed,
            )
            for n in range(1, 6)
        ),
        P50 if along else None,
        20.0 if arrangement == "reverse_return" else 0.0,
    )


def without(circuit: Circuit) -> Circuit:
    """The array by hand: closed branches taken out, their header put before the next, or last.

    For headers of one size. In reverse return, what lies past the last loop that is open belongs
    to the closing run: brine goes on by it and comes back.
    """
    branches: list[Branch] = []
    before = 0.0
    for each in one_by_one(circuit).branches:
        before += each.header_length
        if each.closed:
            continue
        item = each.item
        if isinstance(item, Circuit):
            item = without(item)
            if not item.branches:
                continue
        branches.append(replace(each, item=item, header_length=before))
        before = 0.0
    more = before if circuit.arrangement == "reverse_return" else 0.0
    if not branches:
        none = object.__new__(Circuit)  # an array without branches is refused
        object.__setattr__(none, "branches", ())
        return none
    return replace(circuit, branches=tuple(branches), closing_length=circuit.closing_run + more)


CLOSED = ("1", "3", "5", "12", "45", "24", "135", "2345")


@pytest.mark.parametrize("closed", CLOSED)
@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_flows_and_head_are_those_of_the_array_without_the_closed_loop(
    arrangement: Arrangement, closed: str
) -> None:
    circuit = five(arrangement, closed)
    found, wanted = split(circuit), split(without(circuit))
    assert found.loops.names == wanted.loops.names
    assert found.loops.mass_flow.tolist() == pytest.approx(wanted.loops.mass_flow.tolist())
    assert found.pump.pressure == pytest.approx(wanted.pump.pressure)
    assert found.loops.deviation.tolist() == pytest.approx(wanted.loops.deviation.tolist())
    assert found.loops.header_drop.tolist() == pytest.approx(wanted.loops.header_drop.tolist())
    assert found.high.pressure == pytest.approx(wanted.high.pressure)
    # Places count the closed loops: T4 is the fourth branch, whichever are closed before it.
    assert dict(zip(found.loops.names, found.loops.places, strict=True)) == {
        f"T{n}": (n - 1,) for n in range(1, 6) if str(n) not in closed
    }
    # Causes and remedies are those of the loops that are open.
    assert found.imbalance is not None
    assert wanted.imbalance is not None
    assert found.imbalance.causes == wanted.imbalance.causes
    assert found.imbalance.index_loop == wanted.imbalance.index_loop


@pytest.mark.parametrize("closed", CLOSED)
@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_every_stretch_stays_listed_with_its_length_and_the_flow_in_it(
    arrangement: Arrangement, closed: str
) -> None:
    found, all_open = split(five(arrangement, closed)), split(five(arrangement))
    listed = found.headers
    assert (listed.branches, listed.lines) == (all_open.headers.branches, all_open.headers.lines)
    assert listed.length.tolist() == all_open.headers.length.tolist()
    # Flow along a header by hand: what has not left it yet, or what has come to it.
    flows = dict.fromkeys((f"T{n}" for n in range(1, 6)), 0.0)
    flows |= dict(zip(found.loops.names, found.loops.mass_flow.tolist(), strict=True))
    by_loop = [flows[f"T{n}"] for n in range(1, 6)]
    for name, line, flow in zip(
        listed.branches, listed.lines, listed.mass_flow.tolist(), strict=True
    ):
        n = int(name[1])
        if line == "flow" or arrangement == "direct_return":
            wanted = sum(by_loop[n - 1 :])
        else:
            wanted = sum(by_loop) if line == "closing" else sum(by_loop[: n - 1])
        assert flow == pytest.approx(wanted, abs=1e-12)
    # Along the way of each loop the stretches' drops add up to its headers' drop.
    for name, drop in zip(found.loops.names, found.loops.header_drop.tolist(), strict=True):
        n = int(name[1])
        on_the_way = 0.0
        for stretch, line, taken in zip(
            listed.branches, listed.lines, listed.drop.tolist(), strict=True
        ):
            at = int(stretch[1])
            if line == "flow" or arrangement == "direct_return":
                on_the_way += taken * (at <= n)
            else:
                on_the_way += taken * (line == "closing" or at > n)
        assert on_the_way == pytest.approx(drop)


def test_headers_that_step_in_size_past_a_closed_loop_keep_each_its_own_drop() -> None:
    # T3 is closed where the header steps down: 6 m of 50 mm and 7 m of 40 mm lead to T4.
    plain = five("direct_return", "3")
    stepped = replace(
        plain, branches=(*plain.branches[:3], replace(plain.branches[3], header_pipe=P40),
                         plain.branches[4]),
    )  # fmt: skip
    found = split(stepped)
    rows = [
        (pipe.name.split()[-1], metres, flow, drop)
        for name, line, pipe, metres, flow, drop in zip(
            found.headers.branches, found.headers.lines, found.headers.pipes,
            found.headers.length.tolist(), found.headers.mass_flow.tolist(),
            found.headers.drop.tolist(), strict=True,
        )
        if line == "flow" and name in {"T3", "T4"}
    ]  # fmt: skip
    (wide, six, first, less), (narrow, seven, second, more) = rows
    assert (wide, six, narrow, seven) == ("50", 6.0, "40", 7.0)
    assert first == pytest.approx(second)
    assert more / seven > 2.0 * less / six  # (50/40)^4 or more, laminar or turbulent


def test_a_closed_circuit_closes_every_loop_on_it_and_counts_its_copies() -> None:
    ladder = Circuit(
        "direct_return",
        (Branch(loop("A"), 5.0, count=2), Branch(loop("B", 120.0), 5.0, closed=True)),
        P40,
        name="ladder",
    )
    chamber = Circuit("manifold", (Branch(loop("C"), count=3),), name="chamber")
    circuit = Circuit(
        "direct_return",
        (
            Branch(ladder, 10.0, count=2),
            Branch(chamber, 12.0, runs=(Run(P40, 9.0),), closed=True),
            Branch(loop("D"), 8.0),
        ),
        P63,
    )
    found = split(circuit)
    assert found.loops.names == (
        "ladder-1/A-1", "ladder-1/A-2", "ladder-2/A-1", "ladder-2/A-2", "D",
    )  # fmt: skip
    assert set(closed_names(circuit)) == {
        "ladder-1/B", "ladder-2/B", "chamber/C-1", "chamber/C-2", "chamber/C-3",
    }  # fmt: skip
    wanted = split(without(circuit))
    assert found.loops.mass_flow.tolist() == pytest.approx(wanted.loops.mass_flow.tolist())
    assert found.pump.pressure == pytest.approx(wanted.pump.pressure)
    (told,) = [each.message for each in found.findings if each.code == "loops_closed"]
    assert "ladder/B (all 2)" in told
    assert "chamber/C (all 3)" in told
    assert "the 5 loops that are open" in told


def test_a_circuit_of_which_every_loop_is_closed_is_closed_itself() -> None:
    shut = Circuit("manifold", (Branch(loop("A"), closed=True),), name="north")
    circuit = Circuit("manifold", (Branch(shut, runs=(Run(P40, 9.0),)), Branch(loop("B"))))
    found = split(circuit)
    assert found.loops.names == ("B",)
    assert [each.code for each in found.findings if each.code == "loops_closed"]


def test_an_array_of_which_every_loop_is_closed_is_refused() -> None:
    with pytest.raises(InputError) as refused:
        split(five("direct_return", "12345"))
    (fault,) = refused.value.faults
    assert fault.field == "circuit.branches"
    assert "every loop is closed" in fault.message
    assert "open one" in fault.message


def test_shares_of_closed_loops_are_left_out_whether_or_not_they_are_given() -> None:
    circuit = five("manifold", "3")
    shares = {f"T{n}": float(n) for n in range(1, 6)}
    with_it = split(circuit, target=shares)
    del shares["T3"]
    assert split(circuit, target=shares).loops.target_flow.tolist() == pytest.approx(
        with_it.loops.target_flow.tolist()
    )
    # 1 : 2 : 4 : 5 of the whole, by hand.
    whole = with_it.loops.target_flow.sum()
    assert (with_it.loops.target_flow / whole * 12.0).tolist() == pytest.approx([1, 2, 4, 5])
    with pytest.raises(InputError, match="no loop 'T9'"):
        split(circuit, target=shares | {"T9": 1.0})


def test_a_closed_loop_of_the_same_name_is_refused_as_an_open_one_is() -> None:
    circuit = Circuit("manifold", (Branch(loop("A")), Branch(loop("A"), closed=True)))
    with pytest.raises(InputError, match="two loops are called 'A'"):
        split(circuit)


@st.composite
def partly_closed(draw: st.DrawFn, circuit: Circuit) -> Circuit:
    """The circuit with some branches closed, on any level."""
    return replace(
        circuit,
        branches=tuple(
            replace(
                each,
                item=draw(partly_closed(each.item))
                if isinstance(each.item, Circuit)
                else each.item,
                closed=draw(st.integers(0, 3)) == 0,
            )
            for each in circuit.branches
        ),
    )


def of_one_size(circuit: Circuit) -> Circuit:
    """The circuit with headers of one size, which alone can be joined to one stretch by hand."""
    return replace(
        circuit,
        branches=tuple(
            replace(
                each,
                header_pipe=None,
                return_header_pipe=None,
                item=of_one_size(each.item) if isinstance(each.item, Circuit) else each.item,
            )
            for each in circuit.branches
        ),
    )


def before_valves(circuit: Circuit) -> float:
    """Metres of header that no shut valve parts from the plant, dead ends with the rest."""
    headers = headers_of(circuit)
    below = (
        each.count * before_valves(each.item)
        for each in circuit.branches
        if isinstance(each.item, Circuit) and not each.closed
    )
    return sum(metres for _, metres in (*headers.flow, *headers.back)) + sum(below)


some_closed = circuits().map(named_apart).flatmap(partly_closed)


@settings(max_examples=60, deadline=None)
@given(some_closed)
def test_any_array_is_as_the_one_without_its_closed_branches(circuit: Circuit) -> None:
    circuit = of_one_size(circuit)
    if not walk(circuit).loops:
        return
    found, wanted = split(circuit), split(without(circuit))
    assert found.loops.mass_flow.tolist() == pytest.approx(
        wanted.loops.mass_flow.tolist(), rel=1e-6, abs=1e-9
    )
    assert found.pump.pressure == pytest.approx(wanted.pump.pressure, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(some_closed)
def test_whatever_is_closed_mass_is_kept_and_nothing_laid_is_lost(circuit: Circuit) -> None:
    names = closed_names(circuit)
    made = walk(circuit)
    assert len(made.loops) + len(names) == loop_count(circuit) == loop_count(opened(circuit))
    if not made.loops:
        return
    found = split(circuit)
    assert found.loops.mass_flow.sum() == pytest.approx(found.pump.mass_flow)
    assert found.loops.names == tuple(n for n in walk(opened(circuit)).names if n not in names)
    # Paths of all open loops take one pressure.
    path = found.loops.drop + found.loops.header_drop
    assert np.ptp(path) <= 1e-6 * max(float(path.max()), 1e-9)
    # Pipe is listed, ordered and filled whether or not anything flows in it.
    laid = array_contents(circuit)
    assert laid == array_contents(opened(circuit))
    in_open = sum(
        times * metres
        for here, times in flowing_circuits(circuit)
        for _, metres in (*headers_of(here).flow, *headers_of(here).back)
    )
    assert float(found.headers.length.sum()) == pytest.approx(in_open)
    tested = array_contents(circuit, shut=False)
    assert tested.length_of("headers") == pytest.approx(before_valves(circuit))
    assert tested.volume <= laid.volume * (1.0 + 1e-12)
    if names:
        assert tested.volume < laid.volume
    # The pictures' pressures lie on the same rows.
    assert sum(int((each.loops >= 0).sum()) for each in header_pressures(
        circuit, found.network, found.solution)) == len(made.loops)  # fmt: skip
