"""Random layouts for tests: wild ones by seed, small ones by Hypothesis."""

import random
from dataclasses import replace

from hypothesis import strategies as st

from hydraulics.layout.circuit import ARRANGEMENTS, Branch, Circuit, Loop, Run
from hydraulics.layout.legs import BoreholeU, Leg, Slinky, Straight
from hydraulics.pipework.fittings import NO_LOSS, loss_from_coefficient, loss_from_kv
from hydraulics.pipework.pipe import Pipe, pe_pipe, pe_pipes

P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")
P50, P63 = pe_pipe("PE100 SDR11 50"), pe_pipe("PE100 SDR11 63")
_HEADERS = pe_pipes()
_LOOPS = (*_HEADERS, Pipe("2 mm", 0.002, 0.004), Pipe("500 mm", 0.5, 0.6))


class WildArrays:
    """Nested arrays of any arrangement, pipe from 2 to 500 mm, lengths from 0.1 m to 1 km."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.number = 0

    def loop(self) -> Loop:
        draw = self.draw
        self.number += 1
        pipe = draw.choice(_LOOPS)
        legs: list[Leg] = [Straight(10 ** draw.uniform(-1, 3))]
        if draw.random() < 0.5:
            diameter = max(7.5 * pipe.bore, draw.uniform(0.5, 2))
            legs.append(Slinky(draw.randint(1, 60), diameter, draw.uniform(0.2, 2)))
        if draw.random() < 0.2:
            legs.append(BoreholeU(draw.uniform(20, 200), draw.choice([1, 2])))
        valve = loss_from_kv(draw.uniform(0.5, 20)) if draw.random() < 0.3 else NO_LOSS
        return Loop(f"L{self.number}", pipe, tuple(legs), valve)

    def circuit(self, depth: int) -> Circuit:
        draw = self.draw
        arrangement = draw.choice(ARRANGEMENTS)
        headers = arrangement != "manifold"
        branches = []
        for _ in range(draw.randint(1, 6)):
            nested = depth > 0 and draw.random() < 0.5
            item = self.circuit(depth - 1) if nested else self.loop()
            run = Run(draw.choice(_HEADERS), draw.uniform(0, 40))
            branches.append(
                Branch(
                    item,
                    header_length=draw.choice([0.0, 1.0, 5.0, 20.0]) if headers else 0.0,
                    header_pipe=draw.choice([None, draw.choice(_HEADERS)]) if headers else None,
                    runs=(run,) if draw.random() < 0.4 else (),
                    fittings=loss_from_coefficient(3, 0.02) if draw.random() < 0.3 else NO_LOSS,
                    count=draw.choice([1, 1, 1, 3]),
                )
            )
        self.number += 1
        return Circuit(
            arrangement,
            tuple(branches),
            header_pipe=draw.choice(_HEADERS) if headers else None,
            closing_length=30.0 if arrangement == "reverse_return" else 0.0,
            name=f"C{self.number}",
        )


pipes = st.sampled_from([P32, P40, P50])
lengths = st.floats(5.0, 400.0)


@st.composite
def loops(draw: st.DrawFn) -> Loop:
    legs: list[Leg] = [Straight(draw(lengths))]
    if draw(st.booleans()):
        legs.append(Slinky(draw(st.integers(1, 60)), draw(st.floats(0.6, 1.5)), 0.8))
    return Loop("L", draw(pipes), tuple(legs))


@st.composite
def circuits(draw: st.DrawFn, depth: int = 2) -> Circuit:
    arrangement = draw(st.sampled_from(ARRANGEMENTS))
    headers = arrangement != "manifold"
    branches = []
    for _ in range(draw(st.integers(1, 4))):
        item: Loop | Circuit = draw(loops())
        if depth and draw(st.integers(0, 2)) == 0:
            item = draw(circuits(depth - 1))
        run = (Run(draw(st.sampled_from([P40, P63])), draw(st.floats(0.0, 30.0))),)
        branches.append(
            Branch(
                item,
                header_length=draw(st.floats(0.0, 15.0)) if headers else 0.0,
                runs=run if draw(st.booleans()) else (),
                count=draw(st.sampled_from([1, 1, 2])),
            )
        )
    return Circuit(
        arrangement,
        tuple(branches),
        header_pipe=draw(st.sampled_from([P50, P63])) if headers else None,
        closing_length=draw(st.floats(0.0, 30.0)) if arrangement == "reverse_return" else 0.0,
    )


flows_per_loop = st.floats(-5.0, 0.3).map(lambda power: 10.0**power)  # kg/s


def named_apart(circuit: Circuit, name: str = "C") -> Circuit:
    """The same circuit with a name of its own for every loop and circuit."""
    branches = []
    for number, branch in enumerate(circuit.branches, 1):
        own, item = f"{name}.{number}", branch.item
        item = named_apart(item, own) if isinstance(item, Circuit) else replace(item, name=own)
        branches.append(replace(branch, item=item))
    return replace(circuit, branches=tuple(branches), name=name)
