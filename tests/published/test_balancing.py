"""Balancing against EPANET's solver and the definition of Kv.

EPANET (2.2, through wntr) is a network solver of its own, with its own friction formula
(Swamee-Jain), so a valve setting of ours must give the target flows there too.
"""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hydraulics.balancing.valves import en_60534_valve_flow, valve_settings
from hydraulics.fluid.mixture import mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.edit import one_by_one
from hydraulics.layout.legs import Straight
from hydraulics.layout.walk import loop_count
from hydraulics.pipework.fittings import Loss, kv_from_loss, loss_from_kv
from hydraulics.pipework.pipe import Pipe, pe_pipe
from hydraulics.split.assembly import Network, assemble
from hydraulics.split.drops import branch_flows, drops_at
from hydraulics.split.duty import FlowDuty, duty_fluids
from hydraulics.split.target import target_flows

WATER = mixture("water", 0.0, "mass")
P32, P40, P63, P75 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 63, 75))
EN_FLOW = 8  # EPANET's number for a link's flow
EPANET_VISCOSITY = 1.1e-5 * 0.3048**2  # m2/s; EPANET 2.2 manual: relative to 1.1e-5 ft2/s


@dataclass
class Epanet:
    """An EPANET input written pipe by pipe from a layout of straight pipe."""

    minor: dict[str, float]
    pipes: list[str] = field(default_factory=list)
    nodes: int = 1
    loops: dict[str, str] = field(default_factory=dict)  # pipe -> loop

    def node(self) -> str:
        self.nodes += 1
        return f"N{self.nodes}"

    def pipe(self, start: str, end: str, pipe: Pipe, length: float, loop: str = "") -> None:
        name = f"P{len(self.pipes) + 1}"
        if loop:
            self.loops[name] = loop
        size, rough = pipe.bore * 1e3, pipe.roughness * 1e3
        minor = self.minor.get(loop, 0.0)
        self.pipes.append(
            f"{name} {start} {end} {length:.6f} {size:.6f} {rough:.6f} {minor:.9g} Open"
        )

    def circuit(self, circuit: Circuit, flow: str, back: str, prefix: str = "") -> None:
        pipe = circuit.header_pipe
        for branch in circuit.branches:
            if branch.header_length:
                assert circuit.arrangement == "direct_return"
                assert pipe is not None
                onward, beside = self.node(), self.node()
                self.pipe(flow, onward, pipe, branch.header_length)
                self.pipe(beside, back, pipe, branch.header_length)
                flow, back = onward, beside
            start, end = flow, back
            for run in branch.runs:
                inner, outer = self.node(), self.node()
                self.pipe(start, inner, run.pipe, run.length)
                self.pipe(outer, end, run.pipe, run.length)
                start, end = inner, outer
            item = branch.item
            if isinstance(item, Loop):
                self.pipe(start, end, item.pipe, item.length, prefix + item.name)
            else:
                self.circuit(item, start, end, f"{prefix}{item.name}/")


def epanet_flows(
    circuit: Circuit, network: Network, total: float, minor: dict[str, float], folder: Path
) -> dict[str, float]:
    """Flow in each loop [L/s] by EPANET."""
    from wntr.epanet import toolkit

    brine = network.fluids[1]
    builder = Epanet(minor)
    builder.circuit(one_by_one(circuit), "IN", "N1")
    junctions = [f"N{n} 0 {total / brine.density * 1e3 if n == 1 else 0}" for n in
                 range(1, builder.nodes + 1)]  # fmt: skip
    viscosity = brine.viscosity / brine.density / EPANET_VISCOSITY
    text = "\n".join(
        ["[RESERVOIRS]", "IN 100", "[JUNCTIONS]", *junctions, "[PIPES]", *builder.pipes,
         "[OPTIONS]", "Units LPS", "Headloss D-W", f"Viscosity {viscosity:.9g}", "Trials 200",
         "Accuracy 1e-7", "[TIMES]", "Duration 0", "[END]"]
    )  # fmt: skip
    (folder / "net.inp").write_text(text, encoding="utf-8")
    engine: Any = toolkit.ENepanet()
    engine.ENopen(str(folder / "net.inp"), str(folder / "net.rpt"), str(folder / "net.bin"))
    engine.ENopenH()
    engine.ENinitH(0)
    engine.ENrunH()
    flows = {
        loop: float(engine.ENgetlinkvalue(engine.ENgetlinkindex(link), EN_FLOW))
        for link, loop in builder.loops.items()
    }
    engine.ENcloseH()
    engine.ENclose()
    return flows


def loop(name: str, length: float) -> Loop:
    return Loop(name, P32, (Straight(length),))


LADDER = Circuit(
    "direct_return",
    tuple(Branch(loop(f"L{n}", m), 15.0) for n, m in enumerate((90.0, 140.0, 110.0, 160.0, 120.0))),
    header_pipe=P63,
)
NESTED = Circuit(
    "direct_return",
    (
        Branch(
            Circuit(
                "direct_return",
                (Branch(loop("A", 100.0), 8.0, count=2), Branch(loop("B", 160.0), 8.0)),
                header_pipe=P40,
                name="ladder",
            ),
            20.0,
            count=2,
        ),
        Branch(
            Circuit("manifold", (Branch(loop("C", 80.0)), Branch(loop("D", 130.0))), name="box"),
            25.0,
            runs=(Run(P40, 18.0),),
        ),
    ),
    header_pipe=P75,
)


@pytest.mark.parametrize("target", ["even", "length"])
@pytest.mark.parametrize("circuit", [LADDER, NESTED], ids=["ladder", "nested"])
def test_valve_settings_give_the_target_flows_in_epanet(
    circuit: Circuit, target: Any, tmp_path: Path
) -> None:
    count = loop_count(circuit)
    duty = FlowDuty(count * 0.45e-3, 10.0, 10.0)  # water at 10 °C on all sides
    network = assemble(circuit, Plant(), duty_fluids(WATER, duty))
    total = duty.volume_flow * network.fluids[1].density
    wanted = target_flows(network, total, target)
    # EPANET bridges Re 2000 to 4000 by a cubic of its own: keep every pipe above.
    flow = drops_at(network, branch_flows(network, wanted), total).flow
    assert (flow[network.owner] * network.reynolds_per_flow).min() > 4000.0
    found = valve_settings(network, wanted)
    litres = dict(zip(network.names, wanted / network.fluids[1].density * 1e3, strict=True))

    before = epanet_flows(circuit, network, total, {}, tmp_path)
    assert max(abs(before[name] / litres[name] - 1.0) for name in litres) > 0.05
    minor = dict(zip(network.names, found.coefficient.tolist(), strict=True))
    after = epanet_flows(circuit, network, total, minor, tmp_path)
    assert after == pytest.approx(litres, rel=0.01)


def test_kv_passes_its_own_flow_of_water_at_one_bar() -> None:
    # EN 60534-1: Kv is the flow of water in m3/h at a drop of 1 bar (definition).
    for kv in (0.25, 1.0, 6.3):
        drop = 1000.0 * loss_from_kv(kv).square * (kv / 3600.0) ** 2
        assert drop == pytest.approx(1e5)
        assert kv_from_loss(loss_from_kv(kv)) == pytest.approx(kv)


def test_iec_60534_2_1_example_1_needs_a_kv_of_165() -> None:
    # IEC 60534-2-1, example 1 (read in the documentation of the fluids library): 360 m3/h of water
    # of 965.4 kg/m3 from 680 to 220 kPa needs 165 m3/h, printed to three figures; the valve
    # Reynolds number is 2.97e6 at 3.26e-7 m2/s in a bore of 150 mm.
    square = (680e3 - 220e3) / (965.4 * 0.1**2)
    kv = kv_from_loss(Loss(square))
    assert kv == pytest.approx(165.0, rel=0.003)
    reynolds, factor = en_60534_valve_flow(
        np.array([0.1]), np.array([kv]), np.array([0.150]), 3.26e-7
    )
    assert reynolds[0] == pytest.approx(2.97e6, rel=0.003)
    assert factor[0] == 1.0


def test_loss_coefficient_of_a_valve_is_that_of_its_kv() -> None:
    # K = 1.6e9 d^4 / Kv^2 (d in m), water of 1000 kg/m3: from the definitions of K and Kv;
    # the fluids library's constant agrees within 0.04 %.
    from fluids.fittings import Kv_to_K

    square = loss_from_kv(5.0).square
    ours = square * np.pi**2 / 8.0 * 0.026**4
    assert ours == pytest.approx(float(Kv_to_K(5.0, 0.026)), rel=1e-3)
