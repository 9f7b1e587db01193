"""Random layouts for tests: wild ones by seed, small ones by Hypothesis."""

import random
from dataclasses import replace

from hypothesis import strategies as st

from hydraulics.layout.circuit import ARRANGEMENTS, Branch, Circuit, Loop, Run
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.fittings import FITTING_KINDS, NO_LOSS, Fitting, Loss
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

    def fittings(self, bore: float) -> Loss:
        """None, or one of every way to give a fitting."""
        draw = self.draw
        return draw.choice(
            [
                NO_LOSS,
                NO_LOSS,
                Fitting(kv=draw.uniform(0.5, 20), valve="V (invented)", position=2.0).loss(None),
                Fitting(coefficient=3.0, count=2).loss(bore),
                Fitting(kind=draw.choice(FITTING_KINDS), count=draw.randint(1, 6)).loss(bore),
            ]
        )

    def legs(self, pipe: Pipe) -> list[Leg]:
        """A tail, and any of the other kinds of leg, coils no tighter than the law allows."""
        draw = self.draw
        thick = pipe.outside_diameter
        diameter = max(7.5 * pipe.bore, draw.uniform(0.5, 2))
        made: list[Leg] = [Straight(10 ** draw.uniform(-1, 3))]
        others: list[Leg] = [
            Slinky(draw.randint(1, 60), diameter, max(thick, draw.uniform(0.2, 2)),
                   draw.random() < 0.7, upright=draw.random() < 0.3,
                   depth=draw.choice([None, 1.2])),
            Coiled(draw.uniform(1, 60), diameter),
            TrenchPasses(draw.uniform(5, 80), draw.randint(1, 6), draw.choice([None, diameter]),
                         spacing=draw.choice([None, max(thick, 0.4)])),
            PondMat(diameter, 2.5 * diameter, 0.1 + thick, draw.randint(1, 4)),
            BoreholeU(draw.uniform(20, 200), draw.choice([1, 2]), diameter=1.5),
        ]  # fmt: skip
        made += [leg for leg in others if draw.random() < 0.25]
        own = draw.choice(_LOOPS)
        if draw.random() < 0.2:
            made.append(Straight(draw.uniform(1, 50), own))
        return [
            replace(leg, fittings=self.fittings((leg.pipe or pipe).bore))
            if draw.random() < 0.3
            else leg
            for leg in made
        ]

    def loop(self) -> Loop:
        self.number += 1
        pipe = self.draw.choice(_LOOPS)
        return Loop(f"L{self.number}", pipe, tuple(self.legs(pipe)))

    def circuit(self, depth: int) -> Circuit:
        draw = self.draw
        arrangement = draw.choice(ARRANGEMENTS)
        headers = arrangement != "manifold"
        branches = []
        for _ in range(draw.randint(1, 6)):
            nested = depth > 0 and draw.random() < 0.5
            item = self.circuit(depth - 1) if nested else self.loop()
            runs: tuple[Run, ...] = ()
            if draw.random() < 0.4:
                pipe = draw.choice(_HEADERS)
                runs = (Run(pipe, draw.uniform(0, 40), self.fittings(pipe.bore)),)
            bore = item.pipe.bore if isinstance(item, Loop) else runs[0].pipe.bore if runs else None
            sometimes = [None, None, None, draw.choice(_HEADERS)]
            branches.append(
                Branch(
                    item,
                    header_length=draw.choice([0.0, 1.0, 5.0, 20.0]) if headers else 0.0,
                    header_pipe=draw.choice(sometimes) if headers else None,
                    return_header_pipe=draw.choice(sometimes) if headers else None,
                    runs=runs,
                    fittings=NO_LOSS if bore is None else self.fittings(bore),
                    count=draw.choice([1, 1, 1, 3]),
                )
            )
        self.number += 1
        return Circuit(
            arrangement,
            tuple(branches),
            header_pipe=draw.choice(_HEADERS) if headers else None,
            closing_length=draw.choice([None, 30.0]) if arrangement == "reverse_return" else None,
            name=draw.choice(["", f"C{self.number}"]),
        )


pipes = st.sampled_from([P32, P40, P50])
lengths = st.floats(5.0, 400.0)


@st.composite
def losses(draw: st.DrawFn, bore: float) -> Loss:
    kind = draw(st.sampled_from(["none", "none", "kv", "coefficient", "kind"]))
    if kind == "none":
        return NO_LOSS
    if kind == "kv":
        return Fitting(kv=draw(st.floats(0.5, 20.0)), valve="V (invented)", position=3.0).loss(None)
    if kind == "coefficient":
        return Fitting(coefficient=draw(st.floats(0.0, 10.0))).loss(bore)
    return Fitting(kind=draw(st.sampled_from(FITTING_KINDS)), count=2).loss(bore)


@st.composite
def loops(draw: st.DrawFn) -> Loop:
    pipe = draw(pipes)
    own = draw(st.sampled_from([None, None, P50]))
    loss = draw(losses((own or pipe).bore))
    diameter = draw(st.floats(0.6, 1.5))
    legs: list[Leg] = [
        Straight(20.0, own, loss),
        Slinky(draw(st.integers(1, 60)), diameter, 0.8, draw(st.booleans()), own, loss,
               draw(st.booleans()), 1.2),
        Coiled(15.0, diameter, own, loss),
        TrenchPasses(30.0, draw(st.integers(1, 6)), diameter, own, loss, 0.4, 1.0),
        TrenchPasses(30.0, 4, None, own, loss),
        PondMat(diameter, 2.0 * diameter, 0.1, draw(st.integers(1, 3)), own, loss),
        BoreholeU(80.0, draw(st.sampled_from([1, 2])), own, loss, 0.14),
    ]  # fmt: skip
    return Loop("L", pipe, (Straight(draw(lengths)), draw(st.sampled_from(legs))))


@st.composite
def circuits(draw: st.DrawFn, depth: int = 2) -> Circuit:
    arrangement = draw(st.sampled_from(ARRANGEMENTS))
    headers = arrangement != "manifold"
    branches = []
    for _ in range(draw(st.integers(1, 4))):
        item: Loop | Circuit = draw(loops())
        if depth and draw(st.integers(0, 2)) == 0:
            item = draw(circuits(depth - 1))
        pipe = draw(st.sampled_from([P40, P63]))
        run = Run(pipe, draw(st.floats(0.0, 30.0)), draw(losses(pipe.bore)))
        runs = (run,) if draw(st.booleans()) else ()
        bore = item.pipe.bore if isinstance(item, Loop) else pipe.bore if runs else None
        sometimes = st.sampled_from([None, None, P40, P63])
        branches.append(
            Branch(
                item,
                header_length=draw(st.floats(0.0, 15.0)) if headers else 0.0,
                header_pipe=draw(sometimes) if headers else None,
                return_header_pipe=draw(sometimes) if headers else None,
                runs=runs,
                fittings=NO_LOSS if bore is None else draw(losses(bore)),
                count=draw(st.sampled_from([1, 1, 2])),
            )
        )
    return Circuit(
        arrangement,
        tuple(branches),
        header_pipe=draw(st.sampled_from([P50, P63])) if headers else None,
        closing_length=draw(st.none() | st.floats(0.0, 30.0))
        if arrangement == "reverse_return"
        else None,
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
