"""Responses of fields against an independent library (reference_library, M. Cimmino)."""

import importlib

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.borefield import Boundary, borefield_response, rectangle_field

reference_library = importlib.import_module("reference_library")  # untyped
YEAR = 365.25 * 86_400.0
TIMES = np.array([1.0 / 12.0, 1.0, 5.0, 20.0, 50.0]) * YEAR
# With one wall temperature the library steps through history: it needs many times to converge.
STEPS = np.unique(np.concatenate([TIMES, np.geomspace(TIMES[0], TIMES[-1], 60)]).round())


def _library(columns: int, rows: int, depth: float, boundary: str) -> NDArray[np.float64]:
    field = reference_library.borefield.Borefield.rectangle_field(
        columns, rows, 6.0, 6.0, depth, 2.0, 0.06
    )
    method = "similarities" if boundary == "UHTR" else "equivalent"
    response = np.asarray(
        reference_library.gfunction.gFunction(
            field,
            1e-6,
            time=STEPS,
            boundary_condition=boundary,
            method=method,
            options={"linear_threshold": 0.0},
        ).gFunc
    )
    return response[np.searchsorted(STEPS, TIMES.round())]


def _ours(columns: int, rows: int, depth: float, boundary: Boundary) -> NDArray[np.float64]:
    return borefield_response(
        rectangle_field(columns, rows, 6.0),
        TIMES,
        depth=depth,
        buried=2.0,
        borehole_radius=0.06,
        conductivity=1.0 / (2.0 * np.pi),
        diffusivity=1e-6,
        boundary=boundary,
    )


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (2, 1), (3, 3), (6, 4)])
def test_uniform_heat_agrees_with_the_library(columns: int, rows: int) -> None:
    ours = _ours(columns, rows, 100.0, "uniform_heat")
    # Both integrate the same closed form; the library classes distances to 1e-6.
    assert ours == pytest.approx(_library(columns, rows, 100.0, "UHTR"), rel=5e-6)


@pytest.mark.parametrize(
    ("columns", "rows", "depth", "heat_above", "wall_above"),
    # The table in borefield_response's docstring: per cent above one wall temperature for all
    # boreholes (Eskilson's boundary) after 1 month, 1, 5, 20 and 50 years.
    [
        (1, 1, 100.0, [0.1, 0.2, 0.5, 0.8, 1.0], [0.0, 0.0, 0.0, 0.0, 0.1]),
        (3, 3, 100.0, [0.1, 0.8, 3.4, 6.8, 8.9], [0.0, 0.2, 0.5, 0.5, 0.7]),
        (10, 10, 100.0, [0.1, 1.0, 9.6, 29.7, 45.1], [0.0, 0.1, 1.9, 4.0, 5.2]),
        (20, 20, 100.0, [0.1, 0.8, 8.3, 35.0, 67.5], [0.0, -0.1, -0.6, 0.0, 2.6]),
        (10, 10, 300.0, [0.0, 0.5, 6.4, 18.2, 27.1], [0.0, 0.4, 4.2, 8.3, 8.3]),
        (30, 30, 60.0, [0.1, 1.2, 10.4, 41.1, 74.6], [0.1, -0.4, -2.8, -2.9, 1.0]),
    ],
)
def test_the_stated_distance_from_one_wall_temperature_is_true(
    columns: int, rows: int, depth: float, heat_above: list[float], wall_above: list[float]
) -> None:
    one_temperature = _library(columns, rows, depth, "UBWT")
    heat = 100.0 * (_ours(columns, rows, depth, "uniform_heat") / one_temperature - 1.0)
    wall = 100.0 * (_ours(columns, rows, depth, "uniform_wall") / one_temperature - 1.0)
    # Rounding of the stated figures to a tenth of a per cent, and as much for the platform.
    assert heat == pytest.approx(heat_above, abs=0.1)
    assert wall == pytest.approx(wall_above, abs=0.1)
