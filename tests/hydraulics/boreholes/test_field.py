"""Fields of boreholes: shapes, distance classes, and how neighbours add."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from hydraulics.boreholes.field import FieldResponse, distance_classes, prepare_field_response
from hydraulics.boreholes.shapes import (
    empty_places,
    perimeter_field,
    rectangle_field,
    rows_field,
)
from hydraulics.errors import InputError
from tests.published.finite_line import finite_line_source_claesson_javed, uniform_heat

YEAR = 365.25 * 86_400.0
TIMES = np.array([1.0 / 12.0, 1.0, 5.0, 20.0, 50.0]) * YEAR


def _field(coordinates: ArrayLike, times: ArrayLike = TIMES) -> FieldResponse:
    return prepare_field_response(distance_classes(coordinates, 0.06), 0.06, 2.0, 1e-6, times)


def _respond(coordinates: ArrayLike, times: ArrayLike = TIMES) -> NDArray[np.float64]:
    return _field(coordinates, times).at_depth(100.0, 2.0)


def _pair_by_pair(coordinates: NDArray[np.float64]) -> NDArray[np.float64]:
    apart = np.hypot(*(coordinates[:, None] - coordinates[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, 0.06)
    total = np.zeros(TIMES.size)
    for distance in apart.ravel():
        total += finite_line_source_claesson_javed(
            TIMES, distance, depth=100.0, buried=2.0, conductivity=2.0, diffusivity=1e-6
        )
    return total / len(coordinates)


@pytest.mark.parametrize(
    "coordinates",
    [
        rectangle_field(4, 3, 6.0) * [1.0, 1.25],
        rows_field(6, 6, 5.0),
        rows_field(11, 4, 6.0),
        perimeter_field(12, 4, 6.0),
        perimeter_field(9, None, 6.0),
        np.array([[0.0, 0.0], [5.3, 1.1], [2.2, 8.7], [14.0, 3.0]]),
    ],
)
def test_a_field_is_the_plain_sum_over_every_pair(coordinates: NDArray[np.float64]) -> None:
    ours = uniform_heat(_field(coordinates), 100.0, 2.0)
    assert ours == pytest.approx(_pair_by_pair(coordinates), rel=1e-9)  # quadrature


def test_classes_of_a_large_irregular_field_cost_no_accuracy() -> None:
    random = np.random.default_rng(3)
    scattered = rectangle_field(16, 16, 6.0) + random.uniform(-1.0, 1.0, (256, 2))
    classes = distance_classes(scattered, 0.06)
    apart = np.hypot(*(scattered[:, None] - scattered[None]).transpose(2, 0, 1))
    every = apart[~np.eye(256, dtype=bool)]
    s = np.geomspace(1e-3, 1.0, 60)
    exact = np.exp(-np.outer(s**2, every**2)).sum(axis=1) / 256
    ours = np.exp(-np.outer(s**2, classes.distance**2)) @ classes.neighbours
    assert classes.distance.size < 4000 < every.size
    assert ours == pytest.approx(exact, rel=1e-5, abs=1e-9)  # second order in 0.2 % classes


def test_a_regular_field_has_far_fewer_classes_than_pairs() -> None:
    classes = distance_classes(rectangle_field(20, 20, 6.0), 0.06)
    assert classes.distance.size < 200
    assert classes.neighbours.sum() == pytest.approx(399.0)


def test_rows_fill_one_after_the_other() -> None:
    # By hand: seven in rows of three.
    assert (rows_field(7, 3, 6.0) / 6.0).tolist() == [
        [0, 0], [1, 0], [2, 0], [0, 1], [1, 1], [2, 1], [0, 2],
    ]  # fmt: skip


def test_a_perimeter_goes_once_round() -> None:
    # By hand: eight of three rows are a square of three without its middle; seven leave the last.
    once = [[0, 0], [1, 0], [2, 0], [2, 1], [2, 2], [1, 2], [0, 2], [0, 1]]
    assert (perimeter_field(8, None, 6.0) / 6.0).tolist() == once
    assert (perimeter_field(7, 3, 6.0) / 6.0).tolist() == once[:-1]
    assert (empty_places(7, 3, 6.0) / 6.0).tolist() == once[-1:]
    assert not len(empty_places(8, None, 6.0))
    assert (perimeter_field(5, 1, 6.0) / 6.0).tolist() == [[x, 0] for x in range(5)]
    assert (perimeter_field(3, 5, 6.0) / 6.0).tolist() == [[0, 0], [0, 1], [0, 2]]


@given(bores=st.integers(1, 300), rows=st.none() | st.integers(1, 40))
def test_a_perimeter_has_as_many_places_as_boreholes_each_beside_the_one_before(
    bores: int, rows: int | None
) -> None:
    places = perimeter_field(bores, rows, 6.0) / 6.0
    assert len(np.unique(places, axis=0)) == bores
    assert (np.abs(np.diff(places, axis=0)).sum(axis=1) == 1.0).all()
    x, y = places.T
    if rows is None:
        assert 2 * (x.max() + y.max()) <= bores + 2  # no larger a rectangle than needed
        assert abs(x.max() - y.max()) <= 1
    else:
        assert y.max() <= rows - 1


def test_response_rises_with_time() -> None:
    response = _respond(rectangle_field(6, 5, 6.0), np.geomspace(3600.0, 100.0 * YEAR, 60))
    assert (np.diff(response) > 0.0).all()


@settings(deadline=None, max_examples=40)
@given(
    columns=st.integers(1, 5),
    rows=st.integers(1, 5),
    spacing=st.floats(3.0, 15.0),
    wider=st.floats(1.0, 3.0),
)
def test_wider_spacing_never_raises_the_response(
    columns: int, rows: int, spacing: float, wider: float
) -> None:
    responses = [_respond(rectangle_field(columns, rows, b)) for b in (spacing, spacing * wider)]
    assert (responses[1] <= responses[0] * (1.0 + 1e-9)).all()


def test_very_wide_spacing_is_one_borehole() -> None:
    one = _respond([[0, 0]])
    many = _respond(rectangle_field(3, 3, 2000.0))
    assert many == pytest.approx(one, rel=1e-9)


def test_uniform_wall_never_reads_above_uniform_heat() -> None:
    for coordinates in (rows_field(1, 1, 6.0), rows_field(8, 8, 6.0), rectangle_field(10, 10, 6.0)):
        heat = uniform_heat(_field(coordinates), 100.0, 2.0)
        wall = _respond(coordinates)
        assert (wall <= heat).all()


def test_a_turned_field_answers_the_same() -> None:
    straight = rectangle_field(5, 3, 6.0)
    turn = np.array([[np.cos(0.3), -np.sin(0.3)], [np.sin(0.3), np.cos(0.3)]])
    assert _respond(straight @ turn.T) == pytest.approx(_respond(straight), rel=1e-9)


def test_boreholes_on_top_of_each_other_are_refused() -> None:
    with pytest.raises(InputError) as refused:
        _respond([[0.0, 0.0], [6.0, 0.0], [6.0, 0.05]])
    assert refused.value.faults[0].field in {"coordinates.1", "coordinates.2"}


@pytest.mark.parametrize("coordinates", [[], [[1.0]], [[0.0, np.nan]]])
def test_coordinates_that_are_no_plan_are_refused(coordinates: list[list[float]]) -> None:
    with pytest.raises(InputError, match="coordinates"):
        _respond(coordinates)
