"""Borehole resistance: what every input does, and what is refused."""

import numpy as np
import pytest

from hydraulics.boreholes.resistance import (
    borehole_resistance_double_u_multipole,
    borehole_resistance_single_u_multipole,
    effective_resistance_hellstrom_uniform_heat,
    effective_resistance_hellstrom_uniform_temperature,
    internal_resistance_single_u_multipole,
    pipe_resistance,
)
from hydraulics.errors import InputError

SECTION = {
    "borehole_radius": 0.070,
    "pipe_outer_radius": 0.016,
    "half_shank_spacing": 0.035,
    "ground_conductivity": 2.0,
    "grout_conductivity": 1.2,
    "pipe_resistance": 0.08,
}


@pytest.mark.parametrize(
    ("field", "sign"),
    [
        ("borehole_radius", 1),
        ("pipe_outer_radius", -1),
        ("half_shank_spacing", -1),
        ("ground_conductivity", -1),
        ("grout_conductivity", -1),
        ("pipe_resistance", 1),
    ],
)
@pytest.mark.parametrize(
    "resistance", [borehole_resistance_single_u_multipole, borehole_resistance_double_u_multipole]
)
def test_every_input_moves_the_resistance_the_way_physics_says(resistance, field, sign) -> None:  # type: ignore[no-untyped-def]
    raised = resistance(**SECTION | {field: SECTION[field] * 1.1})
    assert np.sign(raised - resistance(**SECTION)) == sign


def test_two_u_tubes_resist_less_than_one() -> None:
    one = borehole_resistance_single_u_multipole(**SECTION)
    two = borehole_resistance_double_u_multipole(**SECTION)
    assert 0.5 * one < two < one


def test_a_deep_slow_borehole_works_worse_than_its_section() -> None:
    local = borehole_resistance_single_u_multipole(**SECTION)
    internal = internal_resistance_single_u_multipole(**SECTION)
    for effective in (
        effective_resistance_hellstrom_uniform_heat,
        effective_resistance_hellstrom_uniform_temperature,
    ):
        assert effective(local, internal, 100.0, 1e9) == pytest.approx(local, rel=1e-9)
        shallow = effective(local, internal, 100.0, 1000.0)
        deep = effective(local, internal, 300.0, 1000.0)
        assert local < shallow < deep


def test_the_two_limits_of_hellstrom_agree_for_short_boreholes() -> None:
    heat = effective_resistance_hellstrom_uniform_heat(0.1, 0.4, 50.0, 2000.0)
    temperature = effective_resistance_hellstrom_uniform_temperature(0.1, 0.4, 50.0, 2000.0)
    eta = 50.0 / 2000.0 / np.sqrt(0.1 * 0.4)
    # x coth x = 1 + x^2 / 3 - x^4 / 45 ...
    assert heat - temperature == pytest.approx(0.1 * eta**4 / 45.0, rel=0.02)


@pytest.mark.parametrize("half_spacing", [0.010, 0.060])
def test_pipes_that_do_not_fit_are_refused(half_spacing: float) -> None:
    with pytest.raises(InputError) as refused:
        borehole_resistance_single_u_multipole(**SECTION | {"half_shank_spacing": half_spacing})
    assert refused.value.faults[0].field == "half_shank_spacing"
    assert "0.0160 to 0.0540 m" in refused.value.faults[0].allowed


def test_a_pipe_without_a_wall_is_refused() -> None:
    with pytest.raises(InputError, match="outer must be larger"):
        pipe_resistance(0.016, 0.016, 0.4, 1000.0)


@pytest.mark.parametrize("field", sorted(SECTION))
def test_numbers_that_are_not_finite_are_refused_by_name(field: str) -> None:
    with pytest.raises(InputError) as refused:
        borehole_resistance_double_u_multipole(**SECTION | {field: float("nan")})
    assert refused.value.faults[0].field == field
