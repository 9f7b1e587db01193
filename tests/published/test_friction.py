"""Straight-pipe friction against definitions, the Moody chart and textbook examples.

Status of each number: *read* in a public reproduction of the source, or *from memory*.
"""

import math

import numpy as np
import pytest
from fluids.friction import Colebrook

from hydraulics.pipework.friction import darcy_friction_factor, friction_number

REYNOLDS = np.geomspace(3000.0, 1e8, 60)


def factor(reynolds: float, roughness: float) -> float:
    return float(darcy_friction_factor(reynolds, roughness)[0])


def head_loss(flow: float, length: float, bore: float, roughness: float, viscosity: float) -> float:
    """Darcy-Weisbach head loss [m] with the law's friction factor."""
    velocity = flow / (0.25 * math.pi * bore**2)
    f = factor(velocity * bore / viscosity, roughness / bore)
    return f * length / bore * velocity**2 / (2 * 9.807)


@pytest.mark.parametrize("reynolds", [1e-6, 1.0, 100.0, 500.0, 1500.0, 2000.0])
def test_laminar_straight_pipe_is_hagen_poiseuille(reynolds: float) -> None:
    # Definition: f = 64/Re whatever the roughness. 0.5 % is what the design allows.
    for roughness in (0.0, 1e-3, 0.05):
        assert factor(reynolds, roughness) == pytest.approx(64.0 / reynolds, rel=5e-3)


@pytest.mark.parametrize("roughness", [0.0, 1e-6, 5.8e-5, 1e-3, 0.01, 0.05])
def test_turbulent_straight_pipe_is_colebrook(roughness: float) -> None:
    # The fluids library solves Colebrook's equation by another method (Lambert W); the design
    # allows 1.5 %, the law is exact, so 1e-9.
    law = darcy_friction_factor(REYNOLDS, roughness)
    reference = [Colebrook(float(re), roughness) for re in REYNOLDS]
    assert law.tolist() == pytest.approx(reference, rel=1e-9)


@pytest.mark.parametrize(
    ("reynolds", "roughness", "published"),
    [
        # Moody chart as tabulated from Colebrook's equation (computed; the chart reads the same).
        (1e5, 0.0, 0.01799),
        (1e5, 0.001, 0.02217),
        (1e6, 0.001, 0.01994),
        # fluids library, docstring of Colebrook (read).
        (1e5, 1e-4, 0.018513866),
    ],
)
def test_points_of_the_moody_chart(reynolds: float, roughness: float, published: float) -> None:
    assert factor(reynolds, roughness) == pytest.approx(published, rel=5e-4)  # digits given


def test_crane_tp_410_example_7_1() -> None:
    # Crane TP-410, example 7.1: Re 100 600, smooth plastic pipe of 50 mm, f 0.0179. Read in the
    # documentation of the fluids library. The chart is read to about 1 %.
    assert factor(100_600, 0.0) == pytest.approx(0.0179, rel=0.01)


def test_white_example_6_7_oil_in_cast_iron_pipe() -> None:
    # White, Fluid Mechanics, example 6.7: 0.2 m3/s of oil, 1e-5 m2/s, 500 m of 200 mm pipe,
    # roughness 0.26 mm: Re 128 000, f 0.0225 by chart (read in a public excerpt), head loss 117 m
    # (from memory). The book says that a chart's reading is good to some per cent.
    assert factor(128_000, 0.0013) == pytest.approx(0.0225, rel=0.015)
    assert head_loss(0.2, 500.0, 0.2, 0.26e-3, 1e-5) == pytest.approx(117.0, rel=0.01)


@pytest.mark.parametrize(
    ("reynolds", "ratio", "published"),
    # White, Fluid Mechanics, example 6.18, factors read from the Moody chart by its author (read
    # in a public reproduction of the example): three digits.
    [(273_000, 0.003, 0.0267), (153_000, 0.002, 0.0246), (100_000, 0.005, 0.0313)],
)
def test_white_example_6_18_friction_factors(
    reynolds: float, ratio: float, published: float
) -> None:
    assert factor(reynolds, ratio) == pytest.approx(published, rel=0.005)


def test_the_flow_that_has_two_answers_where_a_law_jumps_has_one_here() -> None:
    # A switch from 64/Re to a turbulent formula at Re 2040 makes 10.8 and 16.9 kPa per 100 m of
    # one flow; here a step of 0.01 % in Re moves G by about as much at any Reynolds number.
    reynolds = np.arange(1500.0, 5000.0, 0.2)
    number, _ = friction_number(reynolds, 5.8e-5, 0.0)
    assert np.diff(np.log(number)).max() < 5e-4


def test_friction_factors_of_laminar_and_rough_turbulent_flow_are_not_added_up() -> None:
    # A law that adds 64/Re to the fully rough value (an open report in a network solver's
    # tracker) is 19 % high at Re 1000 and 34 % low at Re 5000 where roughness over bore is 1e-4.
    assert factor(1000.0, 1e-4) == pytest.approx(0.064, rel=5e-3)
    assert factor(5000.0, 1e-4) == pytest.approx(Colebrook(5000.0, 1e-4), rel=0.015)
