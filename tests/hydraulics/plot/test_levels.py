"""Levels, static pressure and the tangent plane against values by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.plot.levels import level_at, static_pressure, surface
from hydraulics.plot.tangent_plane import Origin, from_degrees, to_degrees

SURVEYED = ((0.0, 0.0, 100.0), (100.0, 0.0, 102.0), (0.0, 100.0, 100.0))


def test_levels_by_hand() -> None:
    # By hand (check 9): 2 m of rise in 100 m east, none north.
    ground = surface(SURVEYED)
    assert ground is not None
    assert [*level_at(ground, (50.0, 0.0))] == pytest.approx([101.0, True])
    assert [*level_at(ground, (150.0, 150.0))] == pytest.approx([103.0, False])
    assert ground.contour is not None
    assert abs(math.sin(ground.contour)) == pytest.approx(1.0)


@pytest.mark.parametrize("levels", [SURVEYED[:2], ((0, 0, 4.0), (5, 5, 5.0), (9, 9, 9.0))])
def test_few_levels_or_levels_in_a_line_give_their_mean(
    levels: tuple[tuple[float, float, float], ...],
) -> None:
    ground = surface(levels)
    assert ground is not None
    mean = sum(z for _, _, z in levels) / len(levels)
    assert [*level_at(ground, (3.0, 1.0))] == pytest.approx([mean, False])


def test_static_pressure_by_hand() -> None:
    # By hand (check 9): gauge at 101 m, pipe at 101 - 1.2 m: 1030 x 9.80665 x 1.2 = 12.12 kPa.
    ground = surface(SURVEYED)
    assert ground is not None
    pipe = level_at(ground, (50.0, 0.0))[0] - 1.2
    assert static_pressure(1030.0, 101.0, pipe) == pytest.approx(12.12e3, abs=5.0)


def test_a_place_on_the_earth_against_a_value_worked_out_apart() -> None:
    # Check 10, worked out apart from this code: 1e-9 degrees are 0.1 mm.
    longitude, latitude = to_degrees(Origin(-1.5, 52.0), (1000.0, 700.0))
    assert longitude == pytest.approx(-1.485437258, abs=1.5e-9)
    assert latitude == pytest.approx(52.006290250, abs=1.5e-9)


def test_a_degree_is_as_long_as_the_ellipsoid_has_it() -> None:
    # By hand: at the equator east is a circle of radius a, north one of a (1 - e²).
    x, _ = from_degrees(Origin(0.0, 0.0), 0.01, 0.0)
    _, y = from_degrees(Origin(0.0, 0.0), 0.0, 0.01)
    angle = math.radians(0.01)
    assert x == pytest.approx(6_378_137.0 * math.sin(angle), abs=1e-4)
    assert y == pytest.approx(6_378_137.0 * (1.0 - 0.00669437999014) * angle, abs=1e-3)


@given(
    place=st.tuples(st.floats(-179.0, 179.0), st.floats(-65.0, 65.0), st.floats(-180.0, 180.0)),
    x=st.floats(-1000.0, 1000.0),
    y=st.floats(-1000.0, 1000.0),
)
def test_there_and_back_is_the_same_point(
    place: tuple[float, float, float], x: float, y: float
) -> None:
    origin = Origin(*place)
    assert from_degrees(origin, *to_degrees(origin, (x, y))) == pytest.approx((x, y), abs=1e-4)


def test_swapped_latitude_and_longitude_are_told() -> None:
    with pytest.raises(InputError, match="are they swapped"):
        Origin(52.0, -91.5)
