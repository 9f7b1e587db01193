"""Borehole resistance against the general multipole solution and a two-leg heat balance."""

import numpy as np
import pytest
from scipy.linalg import expm

from hydraulics.boreholes.resistance import (
    effective_resistance,
    internal_resistance,
    local_resistance,
)
from hydraulics.ground.pipe_heat import film_resistance, wall_resistance
from tests.published.borehole_multipole import Section, local_and_internal


@pytest.mark.parametrize(
    ("grout", "half_spacing", "resistance"),
    # Fourteen-term multipole boundary collocation, written apart from this code: ground 3 W/(m K),
    # radii 57.5 and 20 mm, pipe 0.05 m K/W; and the first-order formula of Claesson and Javed,
    # Energies 11(1), 2018, 214.
    [(1.5, 0.030, 0.07487), (0.8, 0.030, 0.11219), (1.5, 0.026, 0.08257), (2.1, 0.030, 0.06197)],
)
def test_single_u_is_within_a_thousandth_of_high_order_collocation(
    grout: float, half_spacing: float, resistance: float
) -> None:
    ours = local_resistance(
        1,
        borehole_radius=0.0575,
        pipe_outer_radius=0.020,
        half_shank_spacing=half_spacing,
        ground_conductivity=3.0,
        grout_conductivity=grout,
        pipe_resistance=0.05,
    )
    assert ours == pytest.approx(resistance, rel=1e-3)  # first order: 1 % is usual, here better


def _sections() -> list[dict[str, float]]:
    random = np.random.default_rng(20)
    found = []
    for _ in range(6):
        pipe, bore = random.uniform(0.012, 0.020), random.uniform(0.060, 0.090)
        found.append(
            {
                "borehole_radius": bore,
                "pipe_outer_radius": pipe,
                "half_shank_spacing": random.uniform(1.42 * pipe, bore - pipe),
                "ground_conductivity": random.uniform(1.0, 4.0),
                "grout_conductivity": random.uniform(0.6, 2.5),
                "pipe_resistance": random.uniform(0.02, 0.2),
            }
        )
    return found


@pytest.mark.parametrize("section", _sections())
def test_closed_forms_are_the_general_multipole_solution_of_first_order(
    section: dict[str, float],
) -> None:
    for u_tubes in (1, 2):
        *first, _ = local_and_internal(Section(**section), 2 * u_tubes, order=1)
        ours = [local_resistance(u_tubes, **section), internal_resistance(u_tubes, **section)]
        # The same equations, one solved by hand: only rounding parts them.
        assert ours == pytest.approx(first, rel=1e-9)
        *tenth, miss = local_and_internal(Section(**section), 2 * u_tubes, order=10)
        # K per W/m: the condition is met all round the pipes to a thousandth of the resistance.
        assert miss < 1e-3 * tenth[0]
        # Published accuracy of first order is 1 % (Javed and Spitler 2017).
        assert ours == pytest.approx(tenth, rel=1e-2)


def _two_legs(local: float, internal: float, depth: float, flow: float) -> float:
    """Effective resistance from the heat balance of the two legs along the depth, solved exactly.

    Legs 1 (down) and 2 (up) see the wall through 2 R_b each and one another through R_12.
    """
    to_wall = 2.0 * local
    across = 1.0 / (1.0 / internal - 1.0 / (2.0 * to_wall))
    # Unknowns T1, T2 and 1; Tw = (T1 + T2) / 2 + q R_b with q = 1 keeps the heat the same at every
    # depth.
    near, far = -0.5 / to_wall - 1.0 / across, 1.0 / across + 0.5 / to_wall
    rate = np.array([[near, far, 0.5], [-far, -near, -0.5], [0.0, 0.0, 0.0]]) / flow
    through = expm(rate * depth)
    # At the bottom the legs meet: choose T1(0) = 0, solve for T2(0), the third state is 1.
    gap = through[0] - through[1]
    up = -gap[2] / gap[1]
    # Mean wall temperature along the depth, by integrating the same exponential.
    z = np.linspace(0.0, depth, 4001)
    step = expm(rate * (z[1] - z[0]))
    state = np.array([0.0, up, 1.0])
    means = []
    for _ in z:
        means.append((state[0] + state[1]) / 2.0 + local)
        state = step @ state
    return float(np.trapezoid(means, z) / depth - up / 2.0)


@pytest.mark.parametrize("flow", [400.0, 1000.0, 4000.0])
def test_effective_resistance_is_the_exact_solution_of_the_two_legs(flow: float) -> None:
    local, internal, depth = 0.09, 0.35, 150.0
    exact = _two_legs(local, internal, depth, flow)
    ours = effective_resistance(local, internal, depth, flow)
    assert ours == pytest.approx(exact, rel=1e-6)  # trapezoid over 4001 points


def test_film_and_wall_reproduce_a_published_transcription() -> None:
    # Read in a public transcription (tests of a geographic information system's add-on) of
    # Philippe, Bernier and Marchio, ASHRAE Journal, July 2010: radii 13.65 and 16.7 mm,
    # 0.42 W/(m K), 1000 W/(m2 K): wall 0.07642, film 0.01166 m K/W.
    assert wall_resistance(0.0334, 0.0273, 0.42) == pytest.approx(0.0764206, rel=1e-5)
    brine = 0.5  # W/(m K); Nu = h d / k takes it out again
    film = film_resistance(1000.0 * 0.0273 / brine, brine)
    assert film == pytest.approx(0.0116597, rel=1e-5)
