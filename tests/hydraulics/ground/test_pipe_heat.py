import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.pipe_heat import (
    film_and_wall,
    film_resistance,
    manlapaz_churchill_1981,
    nusselt,
    schmidt_critical_reynolds,
    wall_resistance,
)
from hydraulics.pipework.pipe import pe_pipe


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


def test_the_correlations_are_used_to_their_ends_and_no_further() -> None:
    # Gnielinski and the VDI Heat Atlas: Re to 5e6, Pr from 0.5 to 2000; coils to d/D 0.3.
    for field, inside, outside in (
        ("reynolds", (0.0, 5e6), (-1e-9, 5e6 + 1)),
        ("prandtl", (0.5, 2000.0), (0.4999, 2000.1)),
        ("curvature", (0.0, 0.3), (-1e-9, 0.3001)),
    ):
        for value in inside:
            nusselt(**{"reynolds": 1e4, "prandtl": 30.0, field: value})
        for value in outside:
            with pytest.raises(InputError) as caught:
                nusselt(**{"reynolds": 1e4, "prandtl": 30.0, field: value})
            assert caught.value.faults[0].field == field
    for wrong, field in (
        ((0.03, 0.0), "bore"),
        ((0.03, 0.03), "outside_diameter"),
        ((0.03, 0.02, 0.0), "conductivity"),
    ):
        with pytest.raises(InputError) as caught:
            wall_resistance(*wrong)
        assert field in [fault.field for fault in caught.value.faults]
    wall_resistance(0.02 + 1e-9, 0.02, 1e-9)


def test_film_and_wall_of_a_loop_by_hand() -> None:
    # 32 x 3.0 mm at 0.1 kg/s of brine of 5 mPa s: Re = 4 · 0.1/(pi · 0.026 · 0.005) = 979, laminar:
    # Nu 48/11, so 1/(pi · 0.45 · 4.3636) = 0.16210; wall ln(32/26)/(2 pi · 0.40) = 0.08262 m K/W.
    brine = Fluid(-2.0, 1030.0, 5e-3, 3900.0, 0.45, 43.3, -10.0)
    assert film_and_wall(pe_pipe("PE100 SDR11 32"), brine, 0.1) == pytest.approx(
        (0.16210, 0.08262), rel=1e-4
    )
    # Twenty times the flow is turbulent, the film thinner than the wall.
    film, wall = film_and_wall(pe_pipe("PE100 SDR11 32"), brine, 2.0)
    assert film < 0.1 * wall


def test_between_laminar_and_turbulent_the_film_goes_in_proportion() -> None:
    # Gnielinski 2013: linear in Re from 2300 to 4000; a coil's from Schmidt's critical number to
    # 22,000 (VDI Heat Atlas).
    for curvature, low, high in (
        (0.0, 2300.0, 4000.0),
        (0.026, float(schmidt_critical_reynolds(0.026)), 2.2e4),
    ):
        ends = [float(nusselt(re, 30.0, curvature)) for re in (low, high)]
        for part in (0.25, 0.5, 0.75):
            at = float(nusselt(low + part * (high - low), 30.0, curvature))
            assert at == pytest.approx(ends[0] + part * (ends[1] - ends[0]), rel=0.02 * curvature
                                       + 1e-9)  # fmt: skip
