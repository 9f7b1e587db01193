"""What the engine decides becomes the part of a job of which the same is made again."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.answers.decides import decided_array, decided_duty, decided_pump, leg_of
from api.requests.job import job_from
from hydraulics.job import Job
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.legs import BoreholeU, Coiled, Leg, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.fittings import FITTING_KINDS, NO_LOSS, Fitting, Loss
from hydraulics.pipework.pipe import Pipe, pe_pipe
from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.selection import Candidate
from hydraulics.split.duty import HeatDuty
from tests.hydraulics.random_arrays import WildArrays, circuits, named_apart
from tests.leaves import differences

P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")
EXACTLY = 2e-11
"""Twelve digits are written, and a conversion of units or the square of a Kv doubles that."""


def read_back(**parts: Any) -> Job:
    """The engine's job of a document with these parts."""
    document = {
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 40, "basis": "mass"},
        "duty": {"to_ground_c": -3, "from_ground_c": 0, "flow_l_s": 1},
        "array": decided_array(Circuit("manifold", (Branch(Loop("T1", P32, (Straight(9.0),))),))),
        **parts,
    }
    return job_from(document, "split", 100_000)


def again(circuit: Circuit, *own: Pipe) -> Circuit:
    pipes = [
        {
            "name": pipe.name,
            "bore_mm": pipe.bore * 1e3,
            "outside_diameter_mm": pipe.outside_diameter * 1e3,
            "roughness_mm": pipe.roughness * 1e3,
        }
        for pipe in own
    ]
    made = read_back(array=decided_array(circuit), pipes=pipes).circuit
    assert made is not None
    return made


def told(value: Any) -> Any:
    """One of the engine's values as a document, each object with its type."""
    if isinstance(value, tuple):
        return [told(each) for each in value]
    if isinstance(value, np.ndarray):
        return value.tolist()
    if is_dataclass(value):
        names = [each.name for each in fields(value) if each.init]
        own = {name: told(getattr(value, name)) for name in names}
        return {"type": type(value).__name__, **own}
    return value


def same(made: Any, given: Any) -> None:
    """Assert that two of the engine's values are the same in every field, to the digits written."""
    assert list(differences(told(given), told(made), rel=EXACTLY)) == []


@settings(max_examples=60, deadline=None)
@given(circuits())
def test_any_circuit_comes_back_whole(circuit: Circuit) -> None:
    circuit = named_apart(circuit)
    same(again(circuit), circuit)


@pytest.mark.parametrize("seeds", [range(at, at + 15) for at in range(0, 150, 15)], ids=str)
def test_a_wild_circuit_comes_back_whole(seeds: range) -> None:
    own = Pipe("2 mm", 0.002, 0.004), Pipe("500 mm", 0.5, 0.6)
    for seed in seeds:
        circuit = named_apart(WildArrays(seed).circuit(2))
        same(again(circuit, *own), circuit)


def test_a_circuit_of_plain_measures_comes_back_to_the_last_bit() -> None:
    elbow = Fitting(kind="elbow_90", count=6).loss(P32.bore)
    legs = (
        Straight(6.1, P40),
        Slinky(43, 1.1, 0.9, False, None, elbow, True, 1.2),
        Coiled(12.3, 0.8),
        TrenchPasses(40.7, 4, 0.6, spacing=0.3, depth=1.3),
        PondMat(0.8, 3.1, 0.07, 2),
        BoreholeU(101.3, 2, diameter=0.152),
    )
    valve = Fitting(kv=1.54, valve="DN 25 (invented)", position=2.5).loss(None)
    circuit = Circuit("manifold", (Branch(Loop("T1", P32, legs), fittings=valve, count=3),))
    assert again(circuit) == circuit


LEGS: list[tuple[Leg, str, dict[str, Any]]] = [
    (Straight(3.0), "straight", {"length_m": 3.0}),
    (Slinky(30, 1.0, 0.9), "slinky", {"coils": 30, "coil_diameter_m": 1.0, "pitch_m": 0.9}),
    (Slinky(3, 1.0, 0.9, returns_alongside=False, upright=True, depth=1.2), "slinky",
     {"coils": 3, "coil_diameter_m": 1.0, "pitch_m": 0.9, "returns_alongside": False,
      "upright": True, "depth_m": 1.2}),
    (Coiled(4.0, 0.8), "coiled", {"length_m": 4.0, "coil_diameter_m": 0.8}),
    (TrenchPasses(40.0, 4), "trench", {"length_m": 40.0, "passes": 4}),
    (TrenchPasses(40.0, 4, 0.5, spacing=0.3, depth=1.1), "trench",
     {"length_m": 40.0, "passes": 4, "turn_diameter_m": 0.5, "spacing_m": 0.3, "depth_m": 1.1}),
    (PondMat(0.8, 3.0, 0.05), "pond_mat",
     {"inner_diameter_m": 0.8, "outer_diameter_m": 3.0, "spacing_m": 0.05}),
    (PondMat(0.8, 3.0, 0.05, 2), "pond_mat",
     {"inner_diameter_m": 0.8, "outer_diameter_m": 3.0, "spacing_m": 0.05, "count": 2}),
    (BoreholeU(90.0), "borehole", {"depth_m": 90.0, "u_tubes": 1}),
    (BoreholeU(90.0, 2, diameter=0.14), "borehole",
     {"depth_m": 90.0, "u_tubes": 2, "diameter_mm": 140.0}),
]  # fmt: skip


@pytest.mark.parametrize(("leg", "kind", "measures"), LEGS, ids=lambda value: str(value)[:12])
def test_a_leg_is_written_under_its_kind_with_no_more_than_it_has(
    leg: Leg, kind: str, measures: dict[str, Any]
) -> None:
    assert leg_of(leg) == {kind: measures}
    assert leg_of(replace(leg, pipe=P40)) == {kind: measures, "pipe": "PE100 SDR11 40"}


def test_a_kind_of_leg_that_nobody_taught_to_be_written_is_not_written_as_another() -> None:
    @dataclass(frozen=True)
    class Helix(Straight):
        """A leg of tomorrow."""

    with pytest.raises(KeyError):
        leg_of(Helix(10.0))


@pytest.mark.parametrize(
    ("fitting", "said"),
    [
        (Fitting(kind="ball_valve"), {"kind": "ball_valve"}),
        (Fitting(kind="elbow_90", count=4), {"kind": "elbow_90", "count": 4}),
        (Fitting(coefficient=2.5, count=3), {"loss_coefficient": 2.5, "count": 3}),
        (Fitting(coefficient=0.0), {"loss_coefficient": 0.0}),
        (Fitting(kv=6.3), {"kv_m3_h": 6.3}),
        (Fitting(kv=1.54, valve="DN 25 (invented)", position=2.5),
         {"kv_m3_h": 1.54, "valve": "DN 25 (invented)", "position": 2.5}),
    ],
)  # fmt: skip
def test_a_fitting_is_written_as_it_was_given(fitting: Fitting, said: dict[str, Any]) -> None:
    loop = Loop("T1", P32, (Straight(3.0),))
    circuit = Circuit("manifold", (Branch(loop, fittings=fitting.loss(P32.bore)),))
    assert decided_array(circuit)["branches"][0]["fittings"] == [said]
    assert again(circuit) == circuit


def test_fittings_of_a_kind_keep_what_they_add_at_low_reynolds_numbers() -> None:
    # One Kv cannot say it, so that the three-constant method's fittings must come back by kind.
    loop = Loop("T1", P32, (Straight(3.0),))
    losses = [Fitting(kind=kind).loss(P32.bore) for kind in FITTING_KINDS]
    circuit = Circuit("manifold", (Branch(loop, fittings=sum(losses, NO_LOSS)),))
    made = again(circuit).branches[0].fittings
    assert made == circuit.branches[0].fittings
    assert made.linear > 0.0


def test_a_loss_that_nobody_knows_the_fittings_of_is_not_written_as_none() -> None:
    loop = Loop("T1", P32, (Straight(3.0),))
    circuit = Circuit("manifold", (Branch(loop, fittings=Loss(1e6)),))
    with pytest.raises(ValueError, match="fittings"):
        decided_array(circuit)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.001, 5_000.0), st.floats(0.5, 8.0), st.floats(-10.0, 10.0))
def test_a_duty_comes_back_whole(kilowatts: float, change: float, out: float) -> None:
    duty = HeatDuty(kilowatts * 1e3, change, out)
    made = read_back(duty=decided_duty(duty)).duty
    assert isinstance(made, HeatDuty)
    # The change is a difference of two temperatures of ten degrees: twelve digits of those.
    assert math.isclose(made.temperature_change, change, rel_tol=0.0, abs_tol=1e-10)
    same(replace(made, temperature_change=change), duty)


def curve(speed: float, factor: float) -> PumpCurve:
    flow, share = np.linspace(0.0, 1.1e-3, 5) * factor, np.linspace(0.0, 1.0, 5)
    head, power = 6.1 * factor**2 * (1.0 - share**2 / 2.0), (30.0 + 26.0 * share) * factor**3
    return PumpCurve(flow, head, power, speed=speed, label=f"step {factor:g}")


PUMP = Pump("P (invented)", (curve(2_800.0, 1.0), curve(1_900.0, 1_900 / 2_800)), 2, 1_500.0)


@pytest.mark.parametrize(
    "candidate",
    [
        Candidate(PUMP, "constant_speed", speed=2_350.7),
        Candidate(PUMP, "constant_differential_pressure", set_head=2.9, parallel=2),
        Candidate(PUMP, "constant_differential_pressure", set_head=10 / 3, series=3),
        Candidate(Pump("Q", (curve(2_900.0, 1.0),)), "constant_speed"),
    ],
    ids=["speed", "held", "in line", "any speed"],
)
def test_a_pump_comes_back_with_its_tables_and_its_setting(candidate: Candidate) -> None:
    made = read_back(pump=decided_pump(candidate)).pump
    assert made is not None
    same(made, candidate)
