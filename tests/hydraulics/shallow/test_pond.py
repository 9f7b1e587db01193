import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hydraulics.errors import InputError, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.shallow.pond import (
    LEAST_WATER,
    WARMEST_WATER,
    SizedMat,
    size_pond_mat,
    water,
    water_around_pipe,
)

PIPE = pe_pipe("PE100 SDR11 32")
BRINE = Fluid(-2.0, 1027.0, 6.0e-3, 3870.0, 0.45, 51.6, -9.8)  # invented, near 25 % glycol


def size(**changes: Any) -> SizedMat:
    given_: dict[str, Any] = {
        "peak": 6000.0,
        "temperature_change": 3.5,
        "coldest_water": 5.0,
        "loops": 6,
    }
    given_.update(changes)
    return size_pond_mat(
        given_.pop("peak"),
        given_.pop("temperature_change"),
        PIPE,
        BRINE,
        given_.pop("coldest_water"),
        **given_,
    )


def local_flux(mat: SizedMat, brine_c: float) -> tuple[float, float]:
    """Heat per metre and the pipe's outside, found by bisection: another way than the code's."""
    inner, low, high = mat.inside_film + mat.wall, brine_c, 5.0
    for _ in range(60):
        outside = 0.5 * (low + high)
        _, nusselt, conductivity = water_around_pipe(PIPE.outside_diameter, 5.0, outside)
        # Nu = h d/k, so that 1/(h pi d) = 1/(pi k Nu).
        arriving = (5.0 - outside) * math.pi * conductivity * nusselt
        low, high = (outside, high) if arriving > (outside - brine_c) / inner else (low, outside)
    return (outside - brine_c) / inner, outside


@pytest.mark.parametrize(("change", "limit"), [(3.5, 0.0), (8.0, 3.0), (5.0, 4.7)])
def test_brine_marched_along_the_pipe_comes_back_at_the_limit(change: float, limit: float) -> None:
    # Own balance of a metre of pipe, m cp dT/dL = q(T), integrated by SciPy's Runge-Kutta. The
    # mean of in and out would leave 8 K of change more than 10 % short.
    mat = size(temperature_change=change, least_return=limit)
    capacity = 6000.0 / change
    marched = solve_ivp(
        lambda _, t: [local_flux(mat, float(t[0]))[0] / capacity],
        (0.0, mat.total_length),
        [limit - change],
        rtol=1e-6,
    )
    # 0.1 % of the brine's change: four Gauss points along the pipe.
    assert marched.y[0, -1] == pytest.approx(limit, abs=1e-3 * change)


@pytest.mark.parametrize("change", [0.5, 3.5, 12.0])
def test_the_length_follows_the_effectiveness_of_a_sink_of_one_temperature(change: float) -> None:
    # e = 1 - exp(-NTU), NTU = L/(m cp R'): heat transfer handbooks, from memory.
    mat = size(temperature_change=change, least_return=2.0)
    resistance = mat.inside_film + mat.wall + mat.outside_film
    units = mat.total_length / (6000.0 / change * resistance)
    assert change / (5.0 - (2.0 - change)) == pytest.approx(1.0 - math.exp(-units), rel=1e-9)


def test_the_pipe_s_outside_is_told_where_the_brine_enters() -> None:
    mat = size(temperature_change=10.0, least_return=2.0)
    # Colder there than anywhere on; own bisection of the same balance.
    assert mat.outside_temperature == pytest.approx(local_flux(mat, -8.0)[1], abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.3, 25.0), st.floats(0.05, 3.0))
def test_warmer_water_never_asks_for_more_pipe(water: float, more: float) -> None:
    assert size(coldest_water=water + more).total_length < size(coldest_water=water).total_length


def test_a_weaker_film_asks_for_more_pipe() -> None:
    assert size(water_film=1.0 / 0.7).total_length > size().total_length


def test_equally_dense_water_on_both_sides_of_four_degrees_still_moves() -> None:
    lift = [water_around_pipe(0.032, w, 8.0 - w)[0] for w in np.linspace(5.0, 8.0, 5)]
    assert min(lift) > 1000.0


def test_water_no_warmer_than_the_limit_has_no_solution() -> None:
    with pytest.raises(NoSolutionError):
        size(coldest_water=2.0, least_return=2.0)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"peak": 0.0}, "peak"),
        ({"peak": math.nan}, "peak"),
        ({"temperature_change": -1.0}, "temperature_change"),
        ({"coldest_water": -1.0}, "coldest_water"),
        ({"coldest_water": 40.0}, "coldest_water"),
        ({"loops": 0}, "loops"),
        ({"coil_diameter": 0.05}, "coil_diameter"),
    ],
)
def test_input_that_cannot_be_is_refused_by_name(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as caught:
        size(**changes)
    assert caught.value.faults[0].field == field


def test_water_may_be_just_liquid_and_as_warm_as_a_ponds_coldest_can_be() -> None:
    for good, wrong in ((0.02, 0.0199), (30.0, 30.001)):
        size(coldest_water=good, least_return=-1.0)
        with pytest.raises(InputError, match="coldest_water"):
            size(coldest_water=wrong, least_return=-1.0)
    size(coil_diameter=4 * 0.032 + 1e-9)
    with pytest.raises(InputError, match="coil_diameter"):
        size(coil_diameter=4 * 0.032)
    with pytest.raises(NoSolutionError) as caught:
        size(coldest_water=2.0, least_return=2.0)
    assert caught.value.faults[0].allowed == "below 2 °C"
    size(coldest_water=2.0, least_return=1.99)


def test_a_film_weaker_by_30_per_cent_adds_its_resistance() -> None:
    # All else alike the length goes with the sum of resistances, water's over 0.7; the pipe's
    # outside, colder then, moves the water more, which gives back less than half: film coefficients
    # go with the difference to the power of 1/4 to 1/3.
    mat = size()
    weaker = size(water_film=1.0 / 0.7).total_length
    inner = mat.inside_film + mat.wall
    plain = (inner + mat.outside_film / 0.7) / (inner + mat.outside_film)
    assert 0.5 * (1.0 + plain) < weaker / mat.total_length < plain


def test_more_loops_carry_less_flow_each() -> None:
    # Re = 4 m/(pi d mu n); 6 kW at 3.5 K: 0.443 kg/s in all.
    few, many = size(loops=2), size(loops=12)
    assert many.inside_film > few.inside_film
    assert many.wall == few.wall == pytest.approx(0.08262, rel=1e-4)  # 32 x 3.0 mm of 0.40 W/m K


def test_water_is_as_coolprop_gives_it_by_iapws_95() -> None:
    from CoolProp.CoolProp import PropsSI

    at = np.linspace(LEAST_WATER, WARMEST_WATER, 500)
    theirs = [PropsSI(name, "T", at + 273.15, "P", 120_000.0, "Water") for name in "DVLC"]
    assert water(at) == pytest.approx(np.array(theirs), rel=3e-9)


def test_water_around_a_pipe_is_by_its_formula() -> None:
    # By the powers themselves, which the pipe's water is read from a table of: rounding apart.
    diameter, pond = 0.032, 6.0
    surface = np.linspace(LEAST_WATER, 5.9, 300)
    density, viscosity, conductivity, heat = water(0.5 * (surface + pond))
    away = water(np.full_like(surface, pond))[0]
    across = [np.abs(water(surface + (pond - surface) * i / 8)[0] - away) for i in range(9)]
    lift = 2.0 * (sum(across) - 0.5 * (across[0] + across[8])) / 8.0  # trapezoids
    rayleigh = 9.80665 * lift * diameter**3 * density * heat / (viscosity * conductivity)
    found, _, conducting = water_around_pipe(diameter, pond, surface)
    assert found == pytest.approx(rayleigh, rel=1e-8)
    assert conducting == pytest.approx(conductivity, rel=1e-12)
