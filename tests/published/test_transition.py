"""The law between laminar and turbulent flow against friction measured by three laboratories.

Senecal (1951), air; Stanton & Pannell (1914), water, air and oil; Oregon (McKeon et al., 2004):
read as data files, see transition_points.csv and the fluids library.
"""

import numpy as np
import pytest
from fluids.friction import Churchill_1977, Colebrook
from numpy.typing import NDArray

from hydraulics.pipework.friction import (
    LAMINAR_LIMIT,
    TURBULENT_LIMIT,
    darcy_friction_factor,
    friction_number,
)
from tests.published import transition

POINTS = transition.points()
REYNOLDS = np.array([point.reynolds for point in POINTS])
MEASURED = np.array([point.factor for point in POINTS])
OVER = darcy_friction_factor(REYNOLDS, 0.0) / MEASURED - 1.0  # the law over the points


def between(low: float, high: float) -> NDArray[np.float64]:
    part: NDArray[np.float64] = OVER[(low <= REYNOLDS) & (high > REYNOLDS)]
    return part


def test_the_points_are_those_of_three_laboratories() -> None:
    assert {point.source.split()[0] for point in POINTS} == {"Senecal", "Stanton", "Oregon"}
    assert between(2300, 4000).size == 99
    assert between(2000, 4000).size == 123


def test_the_law_runs_through_the_middle_of_the_points_in_transition() -> None:
    # What the docs say: no bias of the whole, 12 % rms, which is the scatter of onset between
    # laboratories (Churchill's equation, by no means fitted to them, is 13 % rms away).
    assert abs(np.median(between(2000, 4000))) < 0.01
    assert abs(np.median(between(2300, 4000))) < 0.01
    assert np.sqrt((between(2000, 4000) ** 2).mean()) < 0.125
    assert np.sqrt((between(2300, 4000) ** 2).mean()) < 0.135


@pytest.mark.parametrize(
    ("low", "high", "middle"),
    # The two ends by the pipe's own laws; in the band what the docs say of each part of it.
    [(1000, 2000, 0.025), (2000, 2300, 0.06), (2300, 2700, 0.06), (2700, 3300, 0.03),
     (3300, 4000, 0.01), (4000, 10_000, 0.025)],
)  # fmt: skip
def test_the_middle_of_each_part_of_the_band(low: float, high: float, middle: float) -> None:
    assert abs(np.median(between(low, high))) < middle


def test_where_the_law_is_far_off_it_is_on_the_safe_side_for_a_pump() -> None:
    # A quiet inlet stays laminar: the law may be far above a point, by at most a fifth below one.
    assert between(2000, 4000).min() > -0.20


@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, 1e-3])
def test_the_law_is_churchills_within_eight_per_cent(roughness: float) -> None:
    # Churchill, Chemical Engineering 84 (1977) 91-92, one equation for all regimes; it stands
    # above 64/Re before transition, where the points do as well.
    reynolds = np.linspace(2000.0, 4000.0, 81)
    rival = [Churchill_1977(float(re), roughness) for re in reynolds]
    assert darcy_friction_factor(reynolds, roughness).tolist() == pytest.approx(rival, rel=0.08)


@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, 1e-3, 0.01, 0.05])
def test_the_law_stays_between_its_neighbours_and_rises(roughness: float) -> None:
    reynolds = np.linspace(LAMINAR_LIMIT, TURBULENT_LIMIT, 201)
    law = darcy_friction_factor(reynolds, roughness)
    turbulent = [Colebrook(float(re), roughness) for re in reynolds]
    assert (law >= 64.0 / reynolds * (1 - 1e-12)).all()
    assert (law <= np.asarray(turbulent) * (1 + 1e-12)).all()
    assert (np.diff(friction_number(reynolds, roughness, 0.0)[0]) > 0.0).all()


def test_the_picture_in_the_docs_is_of_this_law() -> None:
    kept = transition.PICTURE.read_text("utf-8")
    assert kept == transition.picture(), "call python -m tests.published.transition"
