"""Flow of each of 40 parallel boreholes, measured, against the split of each vault.

E. Heim, P. Stoffel, D. Müller, N. Klitzsch, Six years of high-resolution monitoring data of 40
borehole heat exchangers, Scientific Data 11 (2024) 1334: one field of a university building, three
vaults. Mean flow of each in March 2023, digitised from the authors' figure within 0.05 L/min;
lengths of the connecting pipes as tabulated beside it. The boreholes are double U of 100 m, 32 mm.
The bore of the connecting pipes (40 mm here), the fluid (water here) and the valves are not told.
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.fluid.mixture import water
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import BoreholeU, Straight
from hydraulics.pipework.fittings import NO_LOSS, loss_from_kv
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.duty import FlowDuty
from hydraulics.split.flow_split import flow_split

Floats = NDArray[np.float64]
PATH = Path(__file__).parent / "measured" / "heim2024_borehole_flows.csv"
P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")


def vault(name: str) -> tuple[Floats, Floats]:
    """Length of each connecting pipe, one way [m], and measured flow [L/min]."""
    with PATH.open(encoding="utf-8") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        told = [
            (float(row["connecting_pipe_m"]), float(row["flow_l_min"]))
            for row in rows
            if row["vault"] == name
        ]
    lengths, flows = np.array(told).T
    return lengths, flows


def split(lengths: Floats, total: float, kv: float | None) -> Floats:
    """Flow of each [L/min] of a manifold with so much in all."""
    loss = NO_LOSS if kv is None else loss_from_kv(kv)
    loops = [
        Loop(
            f"B{i}", P40, (Straight(each, fittings=loss), BoreholeU(100.0, 2, P32), Straight(each))
        )
        for i, each in enumerate(lengths.tolist())
    ]
    array = Circuit("manifold", tuple(Branch(loop) for loop in loops))
    found = flow_split(array, Plant(), water(), FlowDuty(total / 60_000.0, 10.0, 10.0))
    return np.asarray(found.loops.volume_flow) * 60_000.0


@pytest.mark.parametrize(("name", "rms"), [("A", 0.036), ("B", 0.015), ("C", 0.015)])
def test_one_valve_fitted_to_all_gives_every_measured_flow(name: str, rms: float) -> None:
    """Kv 4 in each loop: to the scatter of flows about their own line, 3.4, 1.3 and 1.3 %."""
    lengths, measured = vault(name)
    found = split(lengths, measured.sum(), 4.0)
    assert np.sqrt(np.mean((found / measured - 1.0) ** 2)) < rms
    assert np.abs(found / measured - 1.0).max() < 0.065


@pytest.mark.parametrize("name", ["A", "B", "C"])
def test_pipe_alone_overstates_the_imbalance_by_half_to_twice(name: str) -> None:
    """Flow meters and shut-off valves, which no drawing names, even a manifold out."""
    lengths, measured = vault(name)
    alone = split(lengths, measured.sum(), None)
    steeper = np.polyfit(lengths, alone, 1)[0] / np.polyfit(lengths, measured, 1)[0]
    assert 1.5 < steeper < 2.3
