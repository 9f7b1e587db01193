"""Trenches as they lie, against lines of their own integrated along every pipe."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.special import erfc

from hydraulics.ground.line_source import cylindrical_source_correction
from hydraulics.ground.soil import Ground
from hydraulics.shallow.neighbours import Line, nearest_two
from hydraulics.shallow.response import SlinkyTrench, StraightTrench, pipe_row, step_response

GROUND = Ground(1.8, 2.4e6)
TRENCH = pipe_row(2, 0.5, 1.2, 0.04)
YEAR = 3.15576e7
TIMES = np.array([10 * 3600.0, YEAR / 12, YEAR, 20 * YEAR])
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)


def integrated(lines: list[Line], trench: StraightTrench) -> np.ndarray:
    """Mean fall of all pipes by finite lines and their images: whole ends, nothing endless.

    Carslaw & Jaeger 10.4: a point source's erfc(r/s)/(4 pi k r), integrated along each straight
    part of each pipe; along it r = d cosh v, so that the integral over v is smooth.
    """
    reach = np.sqrt(4 * GROUND.diffusivity * TIMES)
    radius = trench.pipe_diameter / 2
    places, parts = [], []
    for line in lines:
        for across, depth in trench.pipes:
            for a, b in pairwise(np.array(line, dtype=float)):
                length = math.dist(a, b)
                along = (b - a) / length
                start = a + across * np.array([-along[1], along[0]])
                far = (np.arange(int(length / 0.31) + 1) + 0.5) / (int(length / 0.31) + 1) * length
                places.append((start + far[:, None] * along, length / far.size))
                parts.append((start, along, length, depth))
    total = np.zeros(TIMES.size)
    metres = sum(each.shape[0] * step for each, step in places)
    for at, step in places:
        for start, along, length, depth in parts:
            foot = (at - start) @ along
            aside = np.abs((at - start) @ np.array([-along[1], along[0]]))
            for sign, apart in (
                (1.0, np.maximum(aside, radius)),
                (-1.0, np.hypot(aside, 2 * depth)),
            ):
                low, high = np.arcsinh(-foot / apart), np.arcsinh((length - foot) / apart)
                v = 0.5 * (high + low) + 0.5 * (high - low) * _NODES[:, None]
                r = apart * np.cosh(v)
                for n, s in enumerate(reach):
                    seen = (_WEIGHTS[:, None] * erfc(r / s)).sum(axis=0) * 0.5 * (high - low)
                    total[n] += sign * float(seen.sum()) * step
    lines_only = total / metres / (4 * math.pi * GROUND.conductivity * len(trench.pipes))
    cylinder = cylindrical_source_correction(TIMES, radius, GROUND.conductivity, GROUND.diffusivity)
    return np.asarray(lines_only + cylinder / len(trench.pipes))


def serpentine(y: float) -> Line:
    runs = [
        (x, y + 1.5 * n) for n in range(4) for x in ((0.0, 21.0) if n % 2 == 0 else (21.0, 0.0))
    ]
    return tuple(runs)


def arc(radius: float, turn: float) -> Line:
    angles = np.linspace(0.0, turn, 25)
    return tuple(
        zip((radius * np.cos(angles)).tolist(), (radius * np.sin(angles)).tolist(), strict=True)
    )


def row(y: float, start: float = 0.0, length: float = 86.0) -> Line:
    return (start, y), (start + length, y)


LAID: dict[str, list[Line]] = {
    "hairpins": [((0, y), (43, y), (43, y + 1), (0, y + 1)) for y in (0, 10, 20, 30)],
    "serpentines": [serpentine(y) for y in (0, 15, 30)],
    "one tip beside a middle": [row(0), ((43, 1), (43, 87)), row(-80), row(-100)],
    "beside each other over half": [row(0), row(1, 43), row(60), row(61, 43)],
    "two pairs": [row(0), row(1), row(50), row(51)],
    "one pair and two alone": [row(0), row(2), row(50), row(90)],
    "a fan": [((0, 0.6 * n), (86, 6.0 * n)) for n in range(4)],
    "bent together": [((0, n), (40 - n, n), (40 - n, 50)) for n in range(3)],
    "an arc": [arc(12.0, 5.5)],
    "arcs within each other": [arc(12.0, 3.0), arc(13.0, 3.0)],
    "crossing": [row(0, 0, 60), ((30, -30), (31, 30))],
    "one ahead of the other": [row(0, 0, 40), row(0, 42, 40)],
}


@pytest.mark.parametrize("name", LAID)
def test_trenches_as_they_lie_match_finite_lines(name: str) -> None:
    lines = LAID[name]
    # Pipes aside of a bent line would overlap within its corners: arcs have one, on the line.
    trench = pipe_row(1, 0.0, 1.2, 0.04) if "arc" in name else TRENCH
    reference = integrated(lines, trench)
    ours = step_response(GROUND, trench, len(lines), 5.0, lines=tuple(lines))(TIMES)
    # A trench's own ends, and those beside others, are left out, on the safe side: some 2.4 m, as
    # deep as an image lies, of half of what an end sees.
    ends = 2.4 * len(lines) / sum(math.dist(*each) for line in lines for each in pairwise(line))
    assert np.all(ours <= (1.002 + ends) * reference)
    # 0.3 %: places a quarter to a whole metre apart, here and there.
    assert np.all(ours >= 0.997 * reference)


def test_places_in_regular_rows_are_the_rows_that_are_told() -> None:
    slinky = SlinkyTrench(0.8, 0.8, 1.2, 0.032)
    for trench in (TRENCH, slinky, SlinkyTrench(0.8, 0.8, 1.6, 0.032, upright=True)):
        lines = tuple(row(1.4 * n) for n in range(5))
        told = step_response(GROUND, trench, 5, 1.4)(TIMES)
        # 1e-5: table of the kernel and of exp(-1).
        np.testing.assert_allclose(
            step_response(GROUND, trench, 5, 9.0, lines=lines)(TIMES), told, rtol=1e-5
        )
        # Those without a place stand on beside the others at what is told.
        np.testing.assert_allclose(
            step_response(GROUND, trench, 5, 1.4, lines=lines[:2])(TIMES), told, rtol=1e-5
        )


def test_corners_in_a_straight_line_and_its_direction_change_nothing() -> None:
    whole, parted = row(0), tuple((x, 0.0) for x in np.linspace(0.0, 86.0, 41))
    for trench in (TRENCH, SlinkyTrench(0.8, 0.8, 1.2, 0.032)):
        alone = step_response(GROUND, trench)(TIMES)
        for line in (whole, parted, parted[::-1]):
            seen = step_response(GROUND, trench, lines=(line,))(TIMES)
            np.testing.assert_allclose(seen, alone, rtol=1e-5)  # table of the kernel


def test_a_slinky_that_turns_back_is_colder_as_two_side_by_side() -> None:
    trench = SlinkyTrench(0.8, 0.8, 1.2, 0.032)
    there_and_back: Line = ((0, 0), (200, 0), (200, 1.2), (0, 1.2))
    turned = step_response(GROUND, trench, lines=(there_and_back,))(TIMES)
    two = step_response(GROUND, trench, 2, 1.2)(TIMES)
    # 0.5 %: the turn itself, of 200 m, is neither.
    np.testing.assert_allclose(turned, two, rtol=5e-3)


def test_nearest_are_those_beside_each_other() -> None:
    assert nearest_two((row(0),)) == math.inf
    assert nearest_two((row(0), row(1.5), row(9))) == pytest.approx(1.5)
    assert nearest_two((row(0, 0, 40), row(0, 42, 40))) == pytest.approx(12.0)
