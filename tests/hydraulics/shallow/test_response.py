import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ellipk, erfc

from hydraulics.errors import InputError
from hydraulics.ground.line_source import cylindrical_source_correction, infinite_line_source
from hydraulics.ground.soil import Ground
from hydraulics.shallow.response import (
    SlinkyTrench,
    StraightTrench,
    Trench,
    pipe_row,
    step_response,
    surface_energy,
)

GROUND = Ground(1.5, 2.2e6)
DAY, YEAR = 86400.0, 3.15576e7


def line_source(distance: float, seconds: Any) -> Any:
    return infinite_line_source(seconds, distance, GROUND.conductivity, GROUND.diffusivity)


def cylinder(radius: float, seconds: Any) -> Any:
    return cylindrical_source_correction(seconds, radius, GROUND.conductivity, GROUND.diffusivity)


def integrated_rings(trench: SlinkyTrench, seconds: float, rings: int, points: int) -> float:
    """Point sources summed over every ring and its image: slow, and independent of the module."""
    radius, thick = trench.coil_diameter / 2, trench.pipe_diameter / 2
    reach = math.sqrt(4 * GROUND.diffusivity * seconds)
    source = 2 * np.pi * (np.arange(points) + 0.5) / points
    receiver = 2 * np.pi * np.arange(97) / 97
    total = 0.0
    for m in range(-rings, rings + 1):
        for side in (-thick, thick):
            x = radius * np.cos(source)[:, None] + m * trench.pitch - radius * np.cos(receiver)
            second = radius * np.sin(source)[:, None]
            if trench.upright:
                y = side + 0 * x
                z = second - radius * np.sin(receiver)
                mirror = 2 * trench.depth + second + radius * np.sin(receiver)
            else:
                y = second - radius * np.sin(receiver)
                z = side + 0 * x
                mirror = 2 * trench.depth + side + 0 * x
            near = np.sqrt(x**2 + y**2 + z**2)
            far = np.sqrt(x**2 + y**2 + mirror**2)
            total += 0.5 * float(np.mean(erfc(near / reach) / near - erfc(far / reach) / far))
    lines = total * trench.pitch / (4 * math.pi * GROUND.conductivity)
    return lines + float(cylinder(thick, seconds)) / trench.exchanging_length


@pytest.mark.parametrize(
    ("upright", "pitch", "seconds", "rings"),  # each with each of the others once
    [
        (False, 0.4, 0.25 * DAY, 6),
        (True, 0.4, 30 * DAY, 25),
        (False, 0.4, YEAR, 50),
        (True, 1.0, 0.25 * DAY, 6),
        (False, 1.0, 30 * DAY, 25),
        (True, 1.0, YEAR, 50),
        (False, 1.7, 0.25 * DAY, 6),
        (True, 1.7, 30 * DAY, 25),
        (False, 1.7, YEAR, 50),
    ],
)
def test_rows_of_rings_equal_the_sum_over_all_their_points(
    upright: bool, pitch: float, seconds: float, rings: int
) -> None:
    trench = SlinkyTrench(1.0, pitch, 1.5, 0.032, upright=upright)
    direct = integrated_rings(trench, seconds, math.ceil(rings / pitch), 500)
    # 0.1 %: the sum is over a finite row, and has 500 points a ring where pipes cross.
    assert float(step_response(GROUND, trench)(seconds)) == pytest.approx(direct, rel=1e-3)


@pytest.mark.parametrize(
    ("upright", "diameter", "pitch", "seconds"),  # each with each of the others at least once
    [
        (False, 1.0, 1.0, 2 * DAY),
        (True, 1.0, 1.0, 30 * DAY),
        (False, 1.0, 1.0, YEAR),
        (True, 1.0, 0.5, 2 * DAY),
        (False, 1.0, 0.5, 30 * DAY),
        (True, 1.0, 0.5, YEAR),
        (False, 0.8, 0.4, 2 * DAY),
        (True, 0.8, 0.4, 30 * DAY),
        (True, 0.8, 0.4, YEAR),
    ],
)
def test_rings_stand_for_the_true_curve_of_the_pipe_on_the_safe_side(
    upright: bool, diameter: float, pitch: float, seconds: float
) -> None:
    # The pipe as it really loops along the trench (a prolate cycloid), point by point.
    trench = SlinkyTrench(diameter, pitch, 1.5, 0.032, upright=upright)
    radius, reach = diameter / 2, math.sqrt(4 * GROUND.diffusivity * seconds)

    def curve(points: int) -> tuple[Any, Any, Any]:
        turn = (np.arange(points) + 0.5) / points
        angle = 2 * np.pi * turn
        along, across = pitch * turn + radius * np.cos(angle), radius * np.sin(angle)
        speed = np.hypot(
            pitch - 2 * np.pi * radius * np.sin(angle), 2 * np.pi * radius * np.cos(angle)
        )
        return along, across, speed / points

    x, y, metres = curve(700)
    x_at, y_at, share = curve(67)
    fall = 0.0
    for turn in range(-math.ceil(25 / pitch), math.ceil(25 / pitch) + 1):
        level = (x[:, None] + turn * pitch - x_at) ** 2 + 0.016**2
        near = np.sqrt(level + (y[:, None] - y_at) ** 2)
        far = np.sqrt(level + (3.0 + y[:, None] + y_at) ** 2) if upright else np.hypot(near, 3.0)
        kernel = erfc(near / reach) / near - erfc(far / reach) / far
        fall += float(metres @ kernel @ share / share.sum())
    curved = fall / (4 * math.pi * GROUND.conductivity) / (metres.sum() / pitch)
    assert 1.0 < float(step_response(GROUND, trench)(seconds)) / curved < 1.12


def test_a_lone_ring_in_the_long_run_follows_the_closed_form_of_a_ring() -> None:
    # Steady potential of a ring at its own wall, with its image (complete elliptic integral).
    radius, thick, depth, pitch = 0.5, 0.016, 1.2, 2000.0

    def potential(height: float) -> float:
        m = 4 * radius**2 / (4 * radius**2 + height**2)
        return 4 * radius * float(ellipk(m)) / math.sqrt(4 * radius**2 + height**2)

    steady = (potential(thick) - potential(2 * depth)) / (4 * math.pi * GROUND.conductivity)
    ring = SlinkyTrench(2 * radius, pitch, depth, 2 * thick)
    late = float(step_response(GROUND, ring, longest=100 * YEAR)(100 * YEAR))
    # 0.05 %: the last of the approach to steady state.
    assert late * ring.exchanging_length == pytest.approx(steady, rel=5e-4)


def test_a_very_wide_ring_becomes_a_straight_pipe() -> None:
    ring = SlinkyTrench(400.0, 4000.0, 1.2, 0.032)
    straight = pipe_row(1, 0.0, 1.2, 0.032)
    t = np.array([0.2 * DAY, 5 * DAY, YEAR])
    ours = step_response(GROUND, ring, longest=YEAR)(t) * ring.exchanging_length
    np.testing.assert_allclose(ours, step_response(GROUND, straight)(t), rtol=2e-3)


def test_a_neighbour_far_off_sees_a_slinky_as_a_line_of_its_total_strength() -> None:
    trench = SlinkyTrench(1.0, 1.0, 1.2, 0.032)
    t, centres = 2 * YEAR, 8.0
    pair, alone = (step_response(GROUND, trench, n, centres)(t) for n in (2, 1))
    line = line_source(centres, t) - line_source(math.hypot(centres, 2.4), t)
    # 2 %: the coil's width of 1 m against 8 m.
    assert float(pair - alone) == pytest.approx(float(line), rel=0.02)


def test_pipes_are_felt_by_each_other_as_line_sources() -> None:
    one = StraightTrench(((0.0, 1.2),), 0.04)
    two = StraightTrench(((0.0, 1.2), (0.7, 1.2)), 0.04)
    t = np.array([DAY, 100 * DAY, 10 * YEAR])
    other = line_source(0.7, t) - line_source(math.hypot(0.7, 2.4), t)
    expected = 0.5 * (step_response(GROUND, one)(t) + other)
    np.testing.assert_allclose(step_response(GROUND, two)(t), expected, rtol=1e-5)


def test_trenches_side_by_side_are_the_same_as_one_wide_trench_of_pipes() -> None:
    row = step_response(GROUND, pipe_row(1, 0.0, 1.2, 0.04), 6, 0.9)
    trench = step_response(GROUND, pipe_row(6, 0.9, 1.2, 0.04))
    t = np.array([DAY, 30 * DAY, YEAR, 20 * YEAR])
    np.testing.assert_allclose(row(t), 6 * trench(t), rtol=1e-9)


slinkies = st.builds(
    SlinkyTrench,
    coil_diameter=st.floats(0.4, 1.5),
    pitch=st.floats(0.1, 3.0),
    depth=st.floats(0.9, 3.0),
    pipe_diameter=st.floats(0.02, 0.05),
    upright=st.booleans(),
)
rows = st.builds(
    pipe_row,
    passes=st.integers(1, 6),
    spacing=st.floats(0.1, 1.0),
    depth=st.floats(0.6, 3.0),
    pipe_diameter=st.floats(0.02, 0.05),
)


@settings(max_examples=40, deadline=None)
@given(trench=st.one_of(slinkies, rows), trenches=st.integers(1, 12), gap=st.floats(6.5, 12.0))
def test_the_fall_grows_with_time_and_with_every_further_trench(
    trench: Trench, trenches: int, gap: float
) -> None:
    t = np.geomspace(600.0, 20 * YEAR, 60)
    fall = step_response(GROUND, trench, trenches, gap)(t)
    more = step_response(GROUND, trench, trenches + 1, gap)(t)
    # 1e-6 K per W/m: rounding of the tabulated spline.
    assert np.all(np.diff(fall) >= -1e-6)
    assert np.all(fall > 0.0)
    assert np.all(more >= fall - 1e-6)


@settings(max_examples=25, deadline=None)
@given(trench=slinkies)
def test_better_conducting_ground_is_cooled_less(trench: Trench) -> None:
    t = np.geomspace(3600.0, 20 * YEAR, 20)
    poor, good = (step_response(Ground(k, 2.2e6), trench)(t) for k in (1.0, 1.5))
    assert np.all(good < poor)


def test_the_table_is_fine_enough_to_read_between_its_points() -> None:
    trench = pipe_row(1, 0.0, 1.2, 0.032)
    t = np.geomspace(1800.0, 40 * YEAR, 777)
    exact = line_source(0.016, t) + cylinder(0.016, t) - line_source(2.4, t)
    np.testing.assert_allclose(step_response(GROUND, trench)(t), exact, rtol=2e-6)


_RESPONSE = step_response(GROUND, pipe_row(2, 0.5, 1.2, 0.032))


def test_what_is_drawn_is_what_the_store_loses_and_the_surface_gives() -> None:
    # The store's loss is integrated from the temperature field of a plane source with image,
    # which shares no formula with the surface's part.
    depth, t, alpha = 1.2, 120 * DAY, GROUND.diffusivity

    def plane(x: float) -> float:
        def ierfc(u: float) -> float:
            return math.exp(-u * u) / math.sqrt(math.pi) - u * math.erfc(u)

        reach = 2 * math.sqrt(alpha * t)
        spread = math.sqrt(alpha * t) / GROUND.conductivity
        return spread * (ierfc(abs(x - depth) / reach) - ierfc((x + depth) / reach))

    parts = [quad(plane, a, b, epsabs=1e-14)[0] for a, b in ((0, depth), (depth, 8), (8, 60))]
    stored = GROUND.heat_capacity * sum(parts)
    assert stored + float(surface_energy(alpha, depth, t)) == pytest.approx(t, rel=1e-6)


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: pipe_row(1, 0.0, 0.01, 0.032), "pipes.0.depth"),
        (lambda: StraightTrench((), 0.03), "pipes"),
        (lambda: StraightTrench(((0.0, 1.0), (0.01, 1.0)), 0.03), "pipes.1"),
        (lambda: pipe_row(0, 0.3, 1.0, 0.032), "passes"),
        (lambda: SlinkyTrench(1.0, 0.0, 1.2, 0.032), "pitch"),
        (lambda: SlinkyTrench(1.0, 1.0, 0.5, 0.032, upright=True), "depth"),
        (lambda: SlinkyTrench(0.1, 1.0, 1.5, 0.032), "coil_diameter"),
        (lambda: step_response(GROUND, SlinkyTrench(1.0, 1.0, 1.2, 0.032), 2, 0.9), "centres"),
        (lambda: step_response(GROUND, SlinkyTrench(1.0, 1.0, 1.2, 0.032), 0), "trenches"),
        (lambda: _RESPONSE(1e12), "seconds"),
        (lambda: _RESPONSE(math.nan), "seconds"),
    ],
)
def test_input_that_cannot_be_is_refused_by_name(make: Callable[[], object], field: str) -> None:
    with pytest.raises(InputError) as caught:
        make()
    assert field in [fault.field for fault in caught.value.faults]
