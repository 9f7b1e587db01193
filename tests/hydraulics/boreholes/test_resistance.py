"""Borehole resistance: what every input does, and what is refused."""

from typing import Any

import numpy as np
import pytest

from hydraulics.boreholes.resistance import (
    CrossSection,
    effective_resistance,
    internal_resistance,
    local_resistance,
)
from hydraulics.errors import InputError

SECTION: CrossSection = {
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
@pytest.mark.parametrize("u_tubes", [1, 2])
def test_every_input_moves_the_resistance_the_way_physics_says(
    u_tubes: int, field: str, sign: int
) -> None:
    raised: Any = SECTION | {field: SECTION[field] * 1.1}  # type: ignore[literal-required]
    change = local_resistance(u_tubes, **raised) - local_resistance(u_tubes, **SECTION)
    assert np.sign(change) == sign


def test_two_u_tubes_resist_less_than_one() -> None:
    one, two = (local_resistance(u_tubes, **SECTION) for u_tubes in (1, 2))
    assert 0.5 * one < two < one


def test_a_deep_slow_borehole_works_worse_than_its_section() -> None:
    local, internal = local_resistance(1, **SECTION), internal_resistance(1, **SECTION)
    assert effective_resistance(local, internal, 100.0, 1e9) == pytest.approx(local, rel=1e-9)
    shallow = effective_resistance(local, internal, 100.0, 1000.0)
    deep = effective_resistance(local, internal, 300.0, 1000.0)
    assert local < shallow < deep


def test_it_is_the_upper_of_the_two_limits_of_hellstrom() -> None:
    # The other, wall at one temperature: R_b x coth x; x coth x = 1 + x^2 / 3 - x^4 / 45 ...
    heat = effective_resistance(0.1, 0.4, 50.0, 2000.0)
    eta = 50.0 / 2000.0 / np.sqrt(0.1 * 0.4)
    temperature = 0.1 * eta / np.tanh(eta)
    assert heat - temperature == pytest.approx(0.1 * eta**4 / 45.0, rel=0.02)


# Packing of equal circles in a circle: two take 2 diameters, four 1 + sqrt(2) (geometry). Of 32 mm
# they are 64 and 77.25 mm.
@pytest.mark.parametrize(("u_tubes", "least"), [(1, "64 mm"), (2, "77.25 mm")])
def test_a_borehole_too_narrow_for_its_pipes_is_refused(u_tubes: int, least: str) -> None:
    radius = 0.016 * (2.0 if u_tubes == 1 else 1.0 + np.sqrt(2.0))
    beside = 0.016 * (1.0 if u_tubes == 1 else np.sqrt(2.0))
    section: Any = SECTION | {"half_shank_spacing": beside, "borehole_radius": radius}
    assert local_resistance(u_tubes, **section) > 0.0
    with pytest.raises(InputError) as refused:
        local_resistance(u_tubes, **section | {"borehole_radius": radius - 1e-5})
    (fault,) = refused.value.faults
    assert fault.field == "borehole_radius"
    assert fault.allowed == f"{least} or more"


@pytest.mark.parametrize("half_spacing", [0.010, 0.060])
def test_pipes_that_do_not_fit_are_refused(half_spacing: float) -> None:
    section: Any = SECTION | {"half_shank_spacing": half_spacing}
    with pytest.raises(InputError) as refused:
        local_resistance(1, **section)
    assert refused.value.faults[0].field == "half_shank_spacing"
    assert "0.0160 to 0.0540 m" in refused.value.faults[0].allowed


@pytest.mark.parametrize("field", sorted(SECTION))
def test_numbers_that_are_not_finite_are_refused_by_name(field: str) -> None:
    broken: Any = SECTION | {field: float("nan")}
    with pytest.raises(InputError) as refused:
        local_resistance(2, **broken)
    assert refused.value.faults[0].field == field
