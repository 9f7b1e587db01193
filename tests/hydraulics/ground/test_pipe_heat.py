import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.ground.pipe_heat import (
    film_resistance,
    manlapaz_churchill_1981,
    nusselt,
    schmidt_critical_reynolds,
    wall_resistance,
)


@pytest.mark.parametrize("curvature", [0.0, 0.003, 0.005, 0.026, 0.05, 0.29])
@pytest.mark.parametrize("prandtl", [7.0, 40.0, 150.0])
def test_the_film_never_jumps_with_flow(curvature: float, prandtl: float) -> None:
    re = np.geomspace(1.0, 1e6, 20001)
    nu = nusselt(re, prandtl, curvature)
    # One step is 0.07 % of Re; the steepest published slope, straight transition, is below 30.
    assert np.max(np.abs(np.diff(np.log(nu)))) < 30 * math.log(re[1] / re[0])
    for edge in (2300.0, 4000.0, float(schmidt_critical_reynolds(curvature)), 2.2e4):
        low, high = nusselt(np.array([edge * (1 - 1e-9), edge * (1 + 1e-9)]), prandtl, curvature)
        assert high == pytest.approx(low, rel=1e-6)


@given(st.floats(0.0, 5e6), st.floats(0.5, 2000.0), st.floats(0.0, 0.3))
def test_the_film_is_always_a_positive_number_no_worse_than_still_laminar_flow(
    re: float, pr: float, curvature: float
) -> None:
    assert float(nusselt(re, pr, curvature)) >= 4.36


@given(st.floats(10.0, 1e6), st.floats(1.0, 200.0))
def test_a_coil_ever_wider_becomes_straight_pipe(re: float, pr: float) -> None:
    straight, wide = float(nusselt(re, pr)), float(nusselt(re, pr, 1e-9))
    assert wide == pytest.approx(straight, rel=1e-4)


@pytest.mark.parametrize("reynolds", [500.0, 1000.0, 2000.0, 4000.0])
@pytest.mark.parametrize("prandtl", [20.0, 40.0])
def test_two_laminar_coil_correlations_agree_at_brine_s_prandtl_number(
    reynolds: float, prandtl: float
) -> None:
    # Manlapaz & Churchill (read) against (0.76 + 0.65 De^0.5) Pr^0.175 of Dravid, Smith, Merrill
    # and Brian, AIChE Journal 17 (1971) 1114-1122 (from memory), each good to 15 %.
    ours = float(manlapaz_churchill_1981(reynolds, prandtl, 0.026))
    theirs = (0.76 + 0.65 * math.sqrt(reynolds * math.sqrt(0.026))) * prandtl**0.175
    assert ours == pytest.approx(theirs, rel=0.15)


def test_resistances_follow_their_definitions() -> None:
    assert wall_resistance(0.032, 0.026, 0.4) == pytest.approx(math.log(32 / 26) / (0.8 * math.pi))
    assert float(film_resistance(4.364, 0.45)) == pytest.approx(1 / (math.pi * 0.45 * 4.364))


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: nusselt(math.nan, 30.0), "reynolds"),
        (lambda: nusselt(-1.0, 30.0), "reynolds"),
        (lambda: nusselt(1000.0, 0.01), "prandtl"),
        (lambda: nusselt(1000.0, 30.0, 0.5), "curvature"),
        (lambda: wall_resistance(0.03, 0.03), "outside_diameter"),
    ],
)
def test_what_the_correlations_do_not_cover_is_refused_by_name(
    call: Callable[[], object], field: str
) -> None:
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.faults[0].field == field
