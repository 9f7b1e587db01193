"""Fittings against the definition of Kv, the three-constant method and a second method."""

import math

import pytest
from fluids import K_to_Kv
from fluids.fittings import Darby3K, Hooper2K

from hydraulics.pipework.fittings import (
    FITTING_KINDS,
    Loss,
    kv_from_loss,
    loss_from_coefficient,
    loss_from_kv,
    loss_of_kind,
)

BORE = 0.0262


def drop(loss: Loss, flow: float, density: float, viscosity: float = 0.0) -> float:
    return density * loss.square * flow * abs(flow) + viscosity * loss.linear * flow


def coefficient(loss: Loss, bore: float, reynolds: float) -> float:
    """K = 2 dp/(rho v^2), its definition, at a Reynolds number."""
    density, viscosity = 1000.0, 1e-3
    velocity = reynolds * viscosity / (density * bore)
    flow = velocity * 0.25 * math.pi * bore**2
    return 2.0 * drop(loss, flow, density, viscosity) / (density * velocity**2)


@pytest.mark.parametrize("kv", [0.4, 2.5, 5.0, 27.45])
def test_kv_is_the_flow_of_water_in_cubic_metres_an_hour_at_one_bar(kv: float) -> None:
    # Definition, EN 60534-1.
    assert drop(loss_from_kv(kv), kv / 3600.0, 1000.0) == pytest.approx(1e5, rel=1e-12)
    assert kv_from_loss(loss_from_kv(kv)) == pytest.approx(kv, rel=1e-12)


def test_a_kv_of_5_is_a_coefficient_of_30_1_in_26_2_mm() -> None:
    # Computed from the two definitions by other code.
    assert coefficient(loss_from_kv(5.0), BORE, 1e5) == pytest.approx(30.1, abs=0.1)
    assert kv_from_loss(loss_from_coefficient(1.0, BORE)) == pytest.approx(27.45, abs=0.005)


@pytest.mark.parametrize("k", [0.1, 1.0, 30.0])
@pytest.mark.parametrize("bore", [0.016, 0.026, 0.1])
def test_coefficient_to_kv_as_an_outside_library_has_it(k: float, bore: float) -> None:
    # fluids takes water of 999.3 kg/m3 in its rounded constant: 0.04 %.
    ours = kv_from_loss(loss_from_coefficient(k, bore))
    assert ours == pytest.approx(K_to_Kv(k, bore), rel=5e-4)


# The rows of Darby's table that our names stand for, written out anew.
DARBY_ROWS = {
    "elbow_90": "Elbow, 90°, flanged, welded, bends, (r/D = 1)",
    "elbow_90_threaded": "Elbow, 90°, threaded, standard, (r/D = 1)",
    "bend_90": "Elbow, 90°, (r/D = 2)",
    "bend_90_long": "Elbow, 90°, (r/D = 4)",
    "elbow_45": "Elbow, 45°, long radius, (r/D = 1.5)",
    "return_bend": "Elbow, 180°, flanged, (r/D = 1)",
    "tee_run": "Tee, Run-through, flanged, (r/D = 1)",
    "tee_branch": "Tee, Through-branch, (as elbow), flanged, (r/D = 1)",
    "ball_valve": "Valve, Ball valve, standard, β = 1",
    "gate_valve": "Valve, Gate valve, standard, β = 1",
    "globe_valve": "Valve, Globe valve, standard, β = 1",
    "angle_valve": "Valve, Angle valve, 90°, full line size, β = 1",
    "diaphragm_valve": "Valve, Diaphragm, dam type",
    "swing_check_valve": "Valve, Swing check",
}


def test_every_kind_of_fitting_is_compared() -> None:
    assert set(DARBY_ROWS) == set(FITTING_KINDS)


@pytest.mark.parametrize("kind", FITTING_KINDS)
@pytest.mark.parametrize("reynolds", [50.0, 1000.0, 1e4, 1e6])
def test_each_kind_is_the_three_constant_method_of_an_outside_library(
    kind: str, reynolds: float
) -> None:
    # Silverberg & Darby (1999) as evaluated by fluids, which takes the bore in inches.
    for bore in (0.026, 0.0614, 0.1472):
        reference = Darby3K(NPS=bore / 0.0254, Re=reynolds, name=DARBY_ROWS[kind])
        ours = coefficient(loss_of_kind(kind, bore), bore, reynolds)
        assert ours == pytest.approx(reference, rel=1e-9)


@pytest.mark.parametrize(
    ("kind", "hooper"),
    [
        ("elbow_90", "Elbow, 90°, Standard (R/D = 1), Flanged/welded"),
        ("elbow_45", "Elbow, 45°, Long-radius (R/D 1.5), All types"),
        ("return_bend", "Elbow, 180°, Standard (R/D = 1), Flanged/welded"),
        ("globe_valve", "Valve, Globe, Standard"),
        ("diaphragm_valve", "Valve, Diaphragm, Dam type"),
        ("gate_valve", "Valve, Gate, Full line size, Beta = 1"),
        ("swing_check_valve", "Valve, Check, Swing"),
    ],
)
def test_a_second_method_is_of_the_same_size(kind: str, hooper: str) -> None:
    # Hooper, Chemical Engineering 88 no. 17 (1981) 96, two constants. Tables of fittings differ by
    # 25 % and more; a factor of 2.5 tells a wrong row or a wrong unit from scatter.
    ours = coefficient(loss_of_kind(kind, 0.05), 0.05, 1e5)
    other = Hooper2K(Di=0.05 / 0.0254, Re=1e5, name=hooper)
    assert 1 / 2.5 < ours / other < 2.5


def test_an_elbow_agrees_with_cranes_table_within_its_scatter() -> None:
    # Crane TP-410: bend of r/D 2 is 12 f_T (read in an elbow table of a hydraulics reference);
    # f_T 0.019 for 2 inch pipe (from memory). Darby's and Crane's differ by up to 25 %.
    ours = coefficient(loss_of_kind("bend_90", 0.0525), 0.0525, 1e6)
    assert ours == pytest.approx(12 * 0.019, rel=0.25)
