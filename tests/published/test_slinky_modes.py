"""Slinkies flat and upright against a series of modes, which knows no point source and no image.

Trenches side by side without end are one box of ground with mirrors for sides and a surface held at
its temperature (Carslaw and Jaeger 1959, separation of variables). The ring is blurred by a bell of
width BLUR and felt by the same; what that hides of the pipe's own radius is a line's, in closed
form: (ln(4 s²/a²) - Euler's constant) / (4 pi k) for each metre of pipe.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.ground.soil import Ground
from hydraulics.shallow.response import SlinkyTrench, step_response

Floats = NDArray[np.float64]
GROUND = Ground(1.5, 2.2e6)
DAY = 86400.0
BLUR = 0.05  # m; at 0.07 m the values differ by less than 0.1 %
FLOOR = 20.0  # m deep, far below what a year reaches


def modes(width: float, lowest: int) -> Floats:
    """Wave numbers that fit between two sides so far apart [1/m]."""
    numbers = np.arange(lowest, int(5.0 / BLUR * width / math.pi) + 1, dtype=np.float64)
    return numbers * math.pi / width


def fall_of(trench: SlinkyTrench, centres: float, seconds: float) -> float:
    """Fall of the pipe's outside for a watt per metre of trench [K m/W]."""
    radius, half = trench.coil_diameter / 2, (trench.pitch / 2, centres / 2)
    along, across, down = modes(half[0], 0), modes(half[1], 0), modes(FLOOR, 1)
    angle = math.tau * (np.arange(720) + 0.5) / 720
    wave_x = np.cos(np.outer(along, radius * np.cos(angle)))
    rise = radius * np.sin(angle)
    if trench.upright:
        wave_z = np.sin(np.outer(down, trench.depth + rise))
        ring = np.broadcast_to(
            (wave_x @ wave_z.T / angle.size)[:, None, :], (along.size, across.size, down.size)
        )
    else:
        level = np.cos(np.outer(across, rise))
        ring = (wave_x @ level.T / angle.size)[:, :, None] * np.sin(down * trench.depth)
    weight = (
        (np.where(along > 0, 2.0, 1.0) / (2 * half[0]))[:, None, None]
        * (np.where(across > 0, 2.0, 1.0) / (2 * half[1]))[:, None]
        * (2.0 / FLOOR)
    )
    squared = along[:, None, None] ** 2 + across[:, None] ** 2 + down**2
    slow = -np.expm1(-GROUND.diffusivity * squared * seconds) / (GROUND.conductivity * squared)
    blurred = float(np.sum(weight * ring**2 * np.exp(-squared * BLUR**2) * slow))
    thin = math.log(4.0 * BLUR**2 / (trench.pipe_diameter / 2) ** 2) - np.euler_gamma
    pipe = math.tau * radius
    return (blurred + thin / (4.0 * math.pi * GROUND.conductivity) / pipe) * trench.pitch


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(("diameter", "pitch", "centres"), [(0.8, 1.2, 3.0), (1.0, 1.5, 2.0)])
def test_a_field_of_slinkies_follows_the_modes_of_its_ground(
    upright: bool, diameter: float, pitch: float, centres: float
) -> None:
    """0.5 % while the field's edge is not felt; then ours, which has an edge, is up to 2 % less."""
    trench = SlinkyTrench(diameter, pitch, 1.5, 0.032, upright=upright)
    ours = step_response(GROUND, trench, 61, centres)
    for days in (10.0, 60.0):
        exact = fall_of(trench, centres, days * DAY)
        assert float(ours(days * DAY)) == pytest.approx(exact, rel=5e-3)
    year = fall_of(trench, centres, 365.0 * DAY)
    assert 0.98 * year < float(ours(365.0 * DAY)) < year
