"""Responses of fields against a dense superposition of point-source segments, solved apart."""

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.boreholes.field import FieldResponse, distance_classes, prepare_field_response
from hydraulics.boreholes.shapes import rectangle_field
from tests.published.borefield_segments import one_heat, one_wall_temperature
from tests.published.finite_line import uniform_heat

YEAR = 365.25 * 86_400.0
TIMES = np.array([1.0 / 12.0, 1.0, 5.0, 20.0, 50.0]) * YEAR


def _ours(columns: int, rows: int) -> FieldResponse:
    classes = distance_classes(rectangle_field(columns, rows, 6.0), 0.06)
    return prepare_field_response(classes, 0.06, 1.0 / (2.0 * np.pi), 1e-6, TIMES)


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (2, 1), (3, 3), (6, 4), (10, 10)])
def test_uniform_heat_agrees_with_point_sources_integrated_over_time(
    columns: int, rows: int
) -> None:
    field = rectangle_field(columns, rows, 6.0)
    point_sources = one_heat(field, TIMES, depth=100.0, buried=2.0, radius=0.06, diffusivity=1e-6)
    # Gauss points over time and a spline between: refined, they agree to 1e-7.
    ours = uniform_heat(_ours(columns, rows), 100.0, 2.0)
    assert ours == pytest.approx(point_sources, rel=5e-6)


@pytest.mark.parametrize(
    ("columns", "rows", "depth", "heat_above", "wall_above"),
    # The table in docs/theory/ground.md: per cent above one wall temperature for all
    # boreholes (Eskilson's boundary) after 1 month, 1, 5, 20 and 50 years.
    [
        (1, 1, 100.0, [0.1, 0.2, 0.5, 0.8, 1.0], [0.0, 0.0, 0.0, 0.1, 0.1]),
        (3, 3, 100.0, [0.1, 0.9, 3.6, 7.0, 9.0], [0.0, 0.3, 0.6, 0.7, 0.9]),
        (10, 10, 100.0, [0.1, 1.1, 10.3, 30.8, 46.4], [0.0, 0.2, 2.6, 4.9, 6.1]),
        (20, 20, 100.0, [0.1, 1.0, 9.5, 37.8, 70.9], [0.0, 0.0, 0.6, 2.0, 4.7]),
        (10, 10, 300.0, [0.0, 0.6, 7.0, 19.2, 28.3], [0.0, 0.5, 4.8, 9.1, 9.3]),
        (24, 24, 60.0, [0.1, 1.4, 12.0, 43.6, 74.2], [0.1, -0.3, -1.1, 0.4, 4.1]),
    ],
)
def test_the_stated_distance_from_one_wall_temperature_is_true(
    columns: int, rows: int, depth: float, heat_above: list[float], wall_above: list[float]
) -> None:
    field = rectangle_field(columns, rows, 6.0)
    one_temperature = one_wall_temperature(
        field, TIMES, depth=depth, buried=2.0, radius=0.06, diffusivity=1e-6
    )
    ours = _ours(columns, rows)
    heat = 100.0 * (uniform_heat(ours, depth, 2.0) / one_temperature - 1.0)
    wall = 100.0 * (ours.at_depth(depth, 2.0) / one_temperature - 1.0)
    # Rounding of the stated figures to a tenth of a per cent, and as much for the platform.
    assert heat == pytest.approx(heat_above, abs=0.1)
    assert wall == pytest.approx(wall_above, abs=0.1)


def test_finer_segments_and_steps_move_one_wall_temperature_by_less_than_stated() -> None:
    field = rectangle_field(10, 10, 6.0)

    def solved(segments: int, steps: int) -> NDArray[np.float64]:
        return one_wall_temperature(
            field,
            TIMES,
            depth=100.0,
            buried=2.0,
            radius=0.06,
            diffusivity=1e-6,
            segments=segments,
            steps=steps,
        )

    coarse, fine = solved(12, 24), solved(24, 48)
    assert np.abs(coarse / fine - 1.0).max() < 0.015  # as the docstring says
