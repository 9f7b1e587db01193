"""A second reading of a layout, pipe by pipe, for programs that know nothing of ours.

``pipes_of`` walks a circuit node by node as a draughtsman would, by other code than
``hydraulics.split.assembly``. ``solve_by_root_finder`` solves the result with SciPy,
``epanet_input`` writes it for EPANET.
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

from hydraulics.fluid.mixture import Fluid
from hydraulics.layout.circuit import Arrangement, Branch, Circuit, Loop
from hydraulics.layout.legs import Straight
from hydraulics.pipework.fittings import NO_LOSS, Loss
from hydraulics.pipework.friction import darcy_friction_factor
from hydraulics.pipework.pipe import Pipe, pe_pipe

P32 = pe_pipe("PE100 SDR11 32")
FOOT = 0.3048  # m, definition


@dataclass(frozen=True, slots=True)
class Link:
    """A length of pipe from one node to another; the loop it begins, or -1."""

    start: int
    end: int
    pipe: Pipe
    length: float
    side: int
    coil_diameter: float = math.inf
    parallel: int = 1
    loss: Loss = NO_LOSS
    loop: int = -1


PORT = pe_pipe("PE100 SDR11 63")


class _Reader:
    def __init__(self) -> None:
        self.links: list[Link] = []
        self.nodes = 2  # 0: the circuit's start, 1: its end
        self.loops = 0

    def node(self) -> int:
        self.nodes += 1
        return self.nodes - 1

    def circuit(self, circuit: Circuit, start: int, end: int) -> None:
        branches = [branch for branch in circuit.branches for _ in range(branch.count)]
        outs, backs, pipe = [start], [end], circuit.header_pipe
        pipes: list[Pipe | None] = []
        for branch in branches:
            pipe = branch.header_pipe or pipe
            pipes.append(pipe)
            if circuit.arrangement == "manifold":
                self.branch(branch, start, end)
                continue
            out, back = self.node(), self.node()
            outs.append(out)
            backs.append(back)
            assert pipe is not None
            self.links.append(Link(outs[-2], out, pipe, branch.header_length, 0))
            self.branch(branch, out, back)
        if circuit.arrangement == "direct_return":
            for number, branch in enumerate(branches):
                beside = branch.return_header_pipe or pipes[number]
                assert beside is not None
                self.links.append(
                    Link(backs[number + 1], backs[number], beside, branch.header_length, 2)
                )
        if circuit.arrangement == "reverse_return":
            lengths = [branch.header_length for branch in branches]
            closing = circuit.closing_length  # left out: beside the whole header
            lengths = [*lengths[1:], sum(lengths) if closing is None else closing]
            onward = [*backs[2:], end]
            for gathered, (length, following) in enumerate(zip(lengths, onward, strict=True), 1):
                # The return carries as many branches as the flow header's stretch of that number
                # counted from its far end.
                mirrored = pipes[len(branches) - gathered]
                # The stretch after a branch is the one beside the next; the closing run, after the
                # last, is named with the first.
                mirrored = branches[gathered % len(branches)].return_header_pipe or mirrored
                assert mirrored is not None
                self.links.append(Link(backs[gathered], following, mirrored, length, 2))

    def branch(self, branch: Branch, start: int, end: int) -> None:
        if branch.closed:
            return  # headers lead to it and end there
        for run in branch.runs:
            out, back = self.node(), self.node()
            self.links.append(Link(start, out, run.pipe, run.length, 0, loss=run.fittings))
            self.links.append(Link(back, end, run.pipe, run.length, 2))
            start, end = out, back
        if isinstance(branch.item, Circuit):
            if branch.fittings is not NO_LOSS:  # a port without length of its own
                at = self.node()
                self.links.append(Link(start, at, PORT, 0.0, 0, loss=branch.fittings))
                start = at
            self.circuit(branch.item, start, end)
            return
        loop, number = branch.item, self.loops
        self.loops += 1
        loss = branch.fittings + loop.fittings
        for place, section in enumerate(loop.sections):
            following = end if place == len(loop.sections) - 1 else self.node()
            self.links.append(
                Link(
                    start, following, section.pipe, section.length, 1, section.coil_diameter,
                    section.parallel, loss if place == 0 else NO_LOSS,
                    number if place == 0 else -1,
                )
            )  # fmt: skip
            start = following


def pipes_of(circuit: Circuit) -> tuple[list[Link], int]:
    """All pipes of a circuit, zero lengths included, and the number of nodes (0 start, 1 end)."""
    reader = _Reader()
    reader.circuit(circuit, 0, 1)
    return reader.links, reader.nodes


def pressure_drop(link: Link, flow: float, fluid: Fluid, loop_fluid: Fluid) -> float:
    """Darcy-Weisbach drop of a link [Pa] at a mass flow [kg/s]; fittings as in the loops."""
    each = flow / link.parallel
    area = 0.25 * math.pi * link.pipe.bore**2
    velocity = abs(each) / (fluid.density * area)
    drop = 0.0
    if velocity > 0.0 and link.length > 0.0:
        reynolds = velocity * link.pipe.bore * fluid.density / fluid.viscosity
        factor = darcy_friction_factor(
            reynolds, link.pipe.roughness / link.pipe.bore, link.pipe.bore / link.coil_diameter
        )
        drop = float(factor[0]) * link.length / link.pipe.bore * 0.5 * fluid.density * velocity**2
    volume = abs(flow) / loop_fluid.density
    drop += loop_fluid.density * link.loss.square * volume**2
    drop += loop_fluid.viscosity * link.loss.linear * volume
    return math.copysign(drop, flow)


def solve_by_root_finder(
    circuit: Circuit, total: float, fluids: tuple[Fluid, Fluid, Fluid]
) -> tuple[NDArray[np.float64], float]:
    """Loop flows [kg/s] and drop [Pa] by SciPy's hybrid root finder on all flows and pressures."""
    links, nodes = pipes_of(circuit)
    pressures = nodes - 1  # all but the end's

    def residual(x: NDArray[np.float64]) -> NDArray[np.float64]:
        flow, pressure = x[: len(links)] * total, np.append(x[len(links) :], 0.0) * scale
        pressure[1], pressure[2:] = 0.0, pressure[1:-1].copy()
        balance = np.zeros(nodes)
        balance[0] = -total
        energy = np.empty(len(links))
        for number, link in enumerate(links):
            balance[link.start] += flow[number]
            balance[link.end] -= flow[number]
            drop = pressure_drop(link, flow[number], fluids[link.side], fluids[1])
            energy[number] = (pressure[link.start] - pressure[link.end] - drop) / scale
        return np.concatenate((np.delete(balance, 1) / total, energy))

    # Start: the resistor network of laminar straight pipe.
    conductance = [link.parallel * link.pipe.bore**4 / (max(link.length, 1e-3)) for link in links]
    matrix, right = np.zeros((nodes, nodes)), np.zeros(nodes)
    for link, g in zip(links, conductance, strict=True):
        matrix[[link.start, link.end], [link.start, link.end]] += g
        matrix[[link.start, link.end], [link.end, link.start]] -= g
    right[0] = 1.0
    matrix[1], matrix[1, 1] = 0.0, 1.0
    right[1] = 0.0
    heads = np.linalg.solve(matrix, right)
    flows = np.array(
        [g * (heads[k.start] - heads[k.end]) for k, g in zip(links, conductance, strict=True)]
    )
    drops = [
        pressure_drop(k, q * total, fluids[k.side], fluids[1])
        for k, q in zip(links, flows, strict=True)
    ]
    scale = max(drops)
    start = np.concatenate((flows, np.delete(heads, 1) / heads[0]))
    options: Any = {"xtol": 1e-12, "maxfev": 200_000}
    found = root(residual, cast(Any, start), method="hybr", options=options)
    assert float(np.abs(found.fun).max()) < 1e-9, found.message
    x = np.asarray(found.x)
    assert pressures == len(x) - len(links)
    loops = [number for number, link in enumerate(links) if link.loop >= 0]
    return x[loops] * total, float(x[len(links)]) * scale


def epanet_input(
    circuit: Circuit, total: float, fluid: Fluid, accuracy: float = 1e-5
) -> tuple[str, list[str]]:
    """EPANET input file of a circuit with one fluid, and the names of its loops' first pipes.

    Metric units (LPS): lengths in m, diameters and Darcy-Weisbach roughness in mm, viscosity
    relative to 1.1e-5 ft2/s. Accuracy is the change of flow over total flow at which it stops.
    """
    links, nodes = pipes_of(circuit)
    # Stretches of no length join their ends; EPANET wants a length.
    same = list(range(nodes))

    def joined(node: int) -> int:
        while same[node] != node:
            node = same[node]
        return node

    for link in links:
        if link.length == 0.0:
            a, b = sorted((joined(link.start), joined(link.end)), key=lambda n: (n != 1, n))
            same[b] = a
    here, end = joined(0), joined(1)
    inflow = total / fluid.density * 1e3
    used = sorted({joined(node) for node in range(nodes)} - {end})
    lines = ["[JUNCTIONS]"]
    lines += [f"N{node} 0 {-inflow if node == here else 0:.9g}" for node in used]
    lines += ["[RESERVOIRS]", f"N{end} 0", "[PIPES]"]
    loops: dict[int, str] = {}
    for number, link in enumerate(links):
        if link.length == 0.0:
            continue
        assert link.parallel == 1
        assert math.isinf(link.coil_diameter)
        assert link.loss.linear == 0.0
        minor = link.loss.square * math.pi**2 * link.pipe.bore**4 / 8.0  # K, by its definition
        lines.append(
            f"P{number} N{joined(link.start)} N{joined(link.end)} {link.length:.9g} "
            f"{link.pipe.bore * 1e3:.9g} {link.pipe.roughness * 1e3:.9g} {minor:.9g}"
        )
        if link.loop >= 0:
            loops[link.loop] = f"P{number}"
    relative = fluid.viscosity / fluid.density / (1.1e-5 * FOOT**2)
    lines += ["[OPTIONS]", "UNITS LPS", "HEADLOSS D-W", f"VISCOSITY {relative:.9g}"]
    lines += ["TRIALS 500", f"ACCURACY {accuracy:.5f}", "[REPORT]", "STATUS NO", "[END]"]
    return "\n".join(lines), [loops[number] for number in range(len(loops))]


@dataclass(frozen=True, slots=True)
class EpanetAnswer:
    """Loop flows [kg/s] and the drop from start to end [Pa]."""

    flows: NDArray[np.float64]
    drop: float


def solve_by_epanet(
    circuit: Circuit, total: float, fluid: Fluid, folder: Path, accuracy: float = 1e-5
) -> EpanetAnswer:
    """Solve a circuit with one fluid by EPANET 2.2 in process."""
    from wntr.epanet.toolkit import ENepanet
    from wntr.epanet.util import EN

    text, loops = epanet_input(circuit, total, fluid, accuracy)
    file = folder / "array.inp"
    file.write_text(text)
    engine: Any = ENepanet()
    engine.ENopen(str(file), str(folder / "array.rpt"), str(folder / "array.bin"))
    try:
        engine.ENopenH()
        engine.ENinitH(0)
        engine.ENrunH()
        flows = [engine.ENgetlinkvalue(engine.ENgetlinkindex(name), EN.FLOW) for name in loops]
        node = engine.ENgetnodeindex("N0")
        head = engine.ENgetnodevalue(node, EN.HEAD)
        engine.ENcloseH()
    finally:
        engine.ENclose()
    return EpanetAnswer(
        np.asarray(flows) / 1e3 * fluid.density, float(head) * fluid.density * 9.80665
    )


def header_for(loops: int) -> Pipe:
    """A header that grows with the loops that it feeds, so that its velocity stays alike."""
    return _header_of_size(math.floor(math.log2(loops)))


@lru_cache(maxsize=64)
def _header_of_size(doublings: int) -> Pipe:
    bore = 0.0312 * 2.0 ** (0.5 * doublings)
    return Pipe(f"header {bore * 1e3:.0f}", bore, 1.2 * bore)


def field(arrangement: Arrangement, loops: int) -> Circuit:
    """Straight loops of unequal length (100 to 160 m of 32 mm) in any arrangement."""
    lengths = [100.0 + (37 * number) % 61 for number in range(loops)]
    items = [
        Loop(f"T{number}", P32, (Straight(length),)) for number, length in enumerate(lengths, 1)
    ]
    if arrangement == "manifold":
        return Circuit("manifold", tuple(Branch(item) for item in items))
    branches = tuple(
        Branch(item, header_length=5.0, header_pipe=header_for(loops - number))
        for number, item in enumerate(items)
    )
    closing = 5.0 * loops if arrangement == "reverse_return" else 0.0
    return Circuit(arrangement, branches, header_for(loops), closing)
