"""Every stretch of header is listed with its pipe, flow and drop, once and in order."""

import math

import pytest
from hypothesis import given, settings

from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Arrangement, Branch, Circuit, Loop, Plant
from hydraulics.layout.contents import array_contents
from hydraulics.layout.legs import Straight
from hydraulics.pipework.pipe import Pipe, pe_pipe
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split
from hydraulics.split.header_stretches import HeaderStretches
from hydraulics.split.result import FlowSplit
from tests.hydraulics.random_arrays import P40, P50, P63, circuits, named_apart

P75 = pe_pipe("PE100 SDR11 75")
WATER = mixture("water", 0.0, "mass")


def split(circuit: Circuit, flow: float = 4e-3) -> FlowSplit:
    return flow_split(circuit, Plant(), WATER, FlowDuty(flow, 8.0, 12.0))


def field(
    arrangement: Arrangement = "reverse_return",
    steps: dict[int, Pipe] | None = None,
    named: dict[int, Pipe] | None = None,
    closing: float = 70.0,
) -> Circuit:
    """Eight equal loops on a header of 75 mm, 8 m apart."""
    branches = tuple(
        Branch(
            Loop(f"b{i + 1}", P40, (Straight(200.0),)),
            8.0,
            header_pipe=(steps or {}).get(i),
            return_header_pipe=(named or {}).get(i),
        )
        for i in range(8)
    )
    return Circuit(arrangement, branches, P75, closing if arrangement == "reverse_return" else 0.0)


def pipes(listed: HeaderStretches, line: str) -> dict[str, str]:
    return {
        branch: pipe.name.split()[-1]
        for branch, pipe, of in zip(listed.branches, listed.pipes, listed.lines, strict=True)
        if of == line
    }


def test_a_named_return_is_that_of_one_stretch_and_the_rest_stays_as_implied() -> None:
    plain, one = split(field()), split(field(named={3: P40}))
    assert set(pipes(plain.headers, "return").values()) == {"75"}
    changed = pipes(one.headers, "return")
    assert [name for name, size in changed.items() if size != "75"] == ["b4"]
    # All later stretches in 40 mm would take 525 kPa.
    assert one.pump.pressure == pytest.approx(64.1e3, rel=0.01)
    assert plain.pump.pressure < one.pump.pressure


def test_a_header_that_steps_down_is_mirrored_and_naming_it_changes_nothing() -> None:
    # The return gathers as many branches as the flow header behind has left: of eight, the last
    # four stretches of flow header in 50 mm are the first four of the return.
    implied = split(field(steps={4: P50}))
    assert [n for n, s in pipes(implied.headers, "flow").items() if s == "50"] == [
        "b5", "b6", "b7", "b8"]  # fmt: skip
    assert [n for n, s in pipes(implied.headers, "return").items() if s == "50"] == [
        "b2", "b3", "b4", "b5"]  # fmt: skip
    same = {i: P50 if i in (1, 2, 3, 4) else P75 for i in range(8)}
    named = split(field(steps={4: P50}, named=same))
    assert named.loops.mass_flow.tolist() == implied.loops.mass_flow.tolist()
    assert named.pump.pressure == implied.pump.pressure
    assert named.headers.pipes == implied.headers.pipes


def test_flow_velocity_and_drop_of_the_first_stretch_are_those_of_the_array() -> None:
    listed = split(field()).headers
    # 4 L/s in 61.4 mm bore: 4e-3 / (pi/4 0.0614^2) = 1.351 m/s, by hand.
    assert listed.volume_flow[0] == pytest.approx(4e-3)
    assert listed.velocity[0] == pytest.approx(4e-3 / (0.25 * math.pi * 0.0614**2), rel=2e-3)
    # Blasius (1913) within its 5 %: f = 0.3164 Re^-0.25, nu of water at 8 degC 1.39e-6 m2/s.
    reynolds = 1.351 * 0.0614 / 1.39e-6
    by_hand = 0.3164 * reynolds**-0.25 * 8.0 / 0.0614 * 0.5 * 999.9 * 1.351**2
    assert listed.drop[0] == pytest.approx(by_hand, rel=0.05)
    assert listed.lines[-1] == "closing"
    assert listed.branches[-1] == "b1"
    assert listed.length[-1] == 70.0
    assert listed.volume_flow[-1] == pytest.approx(4e-3)


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_the_stretches_on_the_way_to_a_loop_are_its_header_drop(arrangement: Arrangement) -> None:
    result = split(field(arrangement, steps={4: P50}))
    listed, table = result.headers, result.loops
    for number, name in enumerate(table.names):
        place = (number,)
        way = 0.0
        for line, at, drop in zip(listed.lines, listed.places, listed.drop, strict=True):
            out = line == "flow" and at <= place
            beside = line == "return" and (
                at <= place if arrangement == "direct_return" else at > place
            )
            way += float(drop) * (out or beside or line == "closing")
        assert way == pytest.approx(table.header_drop[number], rel=1e-9), name


def test_headers_within_a_circuit_bear_its_name_and_place() -> None:
    inner = Circuit(
        "direct_return", (Branch(Loop("A", P40, (Straight(90.0),)), 3.0, count=2),), P50, name="I"
    )
    own = Branch(Loop("C", P40, (Straight(90.0),)))
    outer = Circuit("direct_return", (Branch(inner, 5.0, count=2), own), P63, name="O")
    listed = split(outer).headers
    assert listed.branches == (
        "I-1", "I-2", "I-1", "I-2", "I-1/A-1", "I-1/A-2", "I-1/A-1", "I-1/A-2",
        "I-2/A-1", "I-2/A-2", "I-2/A-1", "I-2/A-2",
    )  # fmt: skip
    assert set(listed.places) == {(0,), (0, 0)}
    assert split(outer).loops.names[0] == "I-1/A-1"


def test_a_manifold_has_none() -> None:
    manifold = Circuit("manifold", tuple(Branch(b.item) for b in field().branches))
    assert split(manifold).headers.lines == ()


@given(circuits())
@settings(max_examples=40)
def test_what_is_listed_is_all_the_header_pipe_there_is(circuit: Circuit) -> None:
    listed = split(named_apart(circuit), 1e-3).headers
    laid: dict[Pipe, float] = {}
    for pipe, length in zip(listed.pipes, listed.length.tolist(), strict=True):
        laid[pipe] = laid.get(pipe, 0.0) + length
    counted = {e.pipe: e.length for e in array_contents(circuit).pipes if e.part == "headers"}
    assert laid == pytest.approx(counted)
    assert (listed.length > 0.0).all()
    assert (listed.drop * listed.mass_flow >= 0.0).all()
