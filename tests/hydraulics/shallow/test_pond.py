import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.errors import InputError, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.shallow.pond import SizedMat, size_pond_mat, water_around_pipe

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


def test_the_heat_is_the_same_through_film_wall_and_water() -> None:
    mat = size()
    mean, per_metre = -1.75, 6000.0 / mat.total_length
    into_brine = (mat.outside_temperature - mean) / (mat.inside_film + mat.wall)
    from_water = (5.0 - mat.outside_temperature) / mat.outside_film
    # 1e-4: the wall temperature is found to a microkelvin.
    assert into_brine == pytest.approx(per_metre, rel=1e-4)
    assert from_water == pytest.approx(per_metre, rel=1e-4)


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
    for good, wrong in ((0.0201, 0.02), (30.0, 30.001)):
        size(coldest_water=good, least_return=-1.0)
        with pytest.raises(InputError, match="coldest_water"):
            size(coldest_water=wrong, least_return=-1.0)
    size(coil_diameter=4 * 0.032 + 1e-9)
    with pytest.raises(InputError, match="coil_diameter"):
        size(coil_diameter=4 * 0.032)
    with pytest.raises(NoSolutionError) as caught:
        size(coldest_water=2.0, least_return=2.0)
    assert caught.value.faults[0].allowed == "below 2 degC"
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
