"""Ground that freezes around a pipe, against finite volumes with freezing.

One pipe in wide ground, rings of ground around it, heat balanced implicitly in each with its water
freezing between -0.1 and 0 degC (enthalpy method, Newton's iteration). Written for this test; where
nothing freezes it agrees with the cylinder of Carslaw and Jaeger.
"""

import csv
import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import solve_banded

from hydraulics.ground.line_source import infinite_cylindrical_source
from hydraulics.ground.load_history import wall_temperature_history
from hydraulics.ground.temperature import MONTH_SECONDS
from hydraulics.shallow.freezing import FUSION, Pulse, Ring, outside_with_ice
from tests.published import freezing_sections

Floats = NDArray[np.float64]
RADIUS, CONDUCTIVITY, CAPACITY, GROUND = 0.016, 1.5, 2.4e6, 8.0
PEAK_HOURS = 48.0
SLUSH = 0.1  # K below 0 within which the water freezes


class Volumes:
    """Rings of ground around the pipe, and how they cool."""

    def __init__(
        self, water: float, frozen: float, cells: int = 120, radius: float = RADIUS
    ) -> None:
        self.edges = np.geomspace(radius, 25.0, cells + 1)
        self.middle = np.sqrt(self.edges[:-1] * self.edges[1:])
        self.volume = math.pi * np.diff(self.edges**2)
        self.latent, self.frozen = water * FUSION, frozen

    def heat(self, t: Floats) -> Floats:
        return CAPACITY * t + self.latent * np.clip(1.0 + t / SLUSH, 0.0, 1.0)

    def after(self, t: Floats, draw: float, hours: float, steps: int) -> tuple[Floats, float]:
        """Rings so many hours later, and the pipe's outside [degC]."""
        step, half = hours * 3600.0 / steps, np.zeros(0)
        for _ in range(steps):
            stored = self.heat(t)
            k = CONDUCTIVITY + (self.frozen - CONDUCTIVITY) * np.clip(-t / SLUSH, 0.0, 1.0)
            half_out = np.log(self.edges[1:] / self.middle) / (math.tau * k)
            half = np.log(self.middle / self.edges[:-1]) / (math.tau * k)
            between = 1.0 / (half_out[:-1] + half[1:])
            for again in range(200):
                flow = between * np.diff(t)
                balance = self.volume * (self.heat(t) - stored) / step
                balance[:-1] -= flow
                balance[1:] += flow
                balance[0] += draw
                slush = (t > -SLUSH) & (t < 0.0)
                bands = np.zeros((3, t.size))
                bands[0, 1:] = bands[2, :-1] = -between
                bands[1] = self.volume * (CAPACITY + self.latent / SLUSH * slush) / step
                bands[1, :-1] += between
                bands[1, 1:] += between
                ease = 1.0 if again < 20 else 0.5  # where two rings take turns in their slush
                to = t + ease * solve_banded((1, 1), bands, -balance)
                # No ring jumps across its slush in one iteration.
                into = ((t >= 0.0) & (to < 0.0)) | ((t <= -SLUSH) & (to > -SLUSH))
                to = np.where(into, -0.5 * SLUSH, to)
                to = np.where(slush & (to >= 0.0), 1e-9, to)
                to = np.where(slush & (to <= -SLUSH), -SLUSH - 1e-9, to)
                moved, t = float(np.abs(to - t).max()), to
                if moved < 1e-6:
                    break
            else:
                raise AssertionError("the balance was not met")
        return t, float(t[0] - draw * half[0])


def finite_volumes(
    draws: Floats, water: float, frozen: float, *, peak: float = 0.0
) -> tuple[Floats, Floats]:
    """Temperature of the pipe's outside at the end of each month, and of a peak at it [degC]."""
    rings = Volumes(water, frozen)
    t = np.full(rings.middle.size, GROUND)
    found, dips = [], []
    month = MONTH_SECONDS / 3600.0
    for draw in draws:
        t, _ = rings.after(t, draw, month - PEAK_HOURS, 115)
        dips.append(rings.after(t, max(peak, draw), PEAK_HOURS, 24)[1])
        t, outside = rings.after(t, draw, PEAK_HOURS, 8)
        found.append(outside)
    return np.array(found), np.array(dips)


# Mean draw of each month of a winter and its summer, and again [W/m]: an invented house.
YEAR = np.array([3.0, 7.0, 11.0, 14.0, 14.0, 11.0, 7.0, 3.0, 0.0, 0.0, 0.0, 0.0])


def ours(
    draws: Floats, water: float, frozen: float, peak: float = 0.0
) -> tuple[Floats, Floats, Floats]:
    """Without freezing, with it, and its peaks."""
    times = MONTH_SECONDS * np.arange(1, draws.size + 1)
    response = infinite_cylindrical_source(times, RADIUS, CONDUCTIVITY, CONDUCTIVITY / CAPACITY)
    bare = GROUND - wall_temperature_history(draws, response)
    ring = Ring(1.0, RADIUS, 2.0, CONDUCTIVITY, frozen, water * FUSION)
    short = PEAK_HOURS * 3600.0
    dip = infinite_cylindrical_source(short, RADIUS, CONDUCTIVITY, CONDUCTIVITY / CAPACITY)
    peaks = np.maximum(draws, peak)
    return bare, *outside_with_ice(ring, bare, draws, response, Pulse(short, float(dip)), peaks)


def test_without_water_the_finite_volumes_are_the_cylinder() -> None:
    draws = np.tile(1.6 * YEAR, 2)
    exact, _ = finite_volumes(draws, 0.0, CONDUCTIVITY)
    assert exact == pytest.approx(ours(draws, 1.0, CONDUCTIVITY)[0], abs=0.01)


@pytest.mark.parametrize(
    ("draw", "water", "frozen"),
    [(1.3, 100.0, 1.5), (1.6, 250.0, 1.5), (1.6, 250.0, 2.0), (1.8, 400.0, 2.2)],
)
def test_ground_that_freezes_follows_the_finite_volumes(
    draw: float, water: float, frozen: float
) -> None:
    """Within 0.1 K in the coldest months down to -5 degC, up to 0.5 K too cold while it thaws.

    What freezing does there is 0.02 to 2.5 K.
    """
    draws = np.tile(draw * YEAR, 2)
    bare, found, _ = ours(draws, water, frozen)
    exact, _ = finite_volumes(draws, water, frozen)
    coldest = np.argsort(exact)[:4]
    assert found[coldest] == pytest.approx(exact[coldest], abs=0.1)
    assert (exact[coldest] > bare[coldest]).all()
    assert (found <= exact + 0.1).all()
    assert (found >= exact - 0.5).all()


def test_ground_that_does_not_freeze_is_left_as_it_is() -> None:
    bare, found, _ = ours(np.tile(0.9 * YEAR, 2), 300.0, 2.0)
    assert bare.min() > 0.0
    assert (found == bare).all()


@pytest.mark.parametrize(
    ("mean", "peak", "water", "frozen"),
    [(0.6, 32.0, 200.0, 1.5), (0.6, 32.0, 300.0, 2.2), (1.3, 32.0, 300.0, 2.2)],
)
def test_a_peak_that_freezes_follows_the_finite_volumes(
    mean: float, peak: float, water: float, frozen: float
) -> None:
    """Within 0.15 K, two days of 32 W/m on ground that is frozen already and that is not."""
    draws = mean * YEAR[:6]
    _, _, dips = ours(draws, water, frozen, peak)
    _, exact = finite_volumes(draws, water, frozen, peak=peak)
    assert exact.min() < -2.5
    assert dips == pytest.approx(exact, abs=0.15)


def sections(kind: str) -> list[tuple[Floats, Floats, Floats]]:
    """Peaks of each case without freezing, ours with it, and the finite volumes'."""
    with freezing_sections.PATH.open(encoding="utf-8") as file:
        rows = [row for row in csv.reader(file) if row[0] == kind]
    per_watt, *years = [np.array(row[5:], dtype=float) for row in rows]
    pulse = Pulse(freezing_sections.PEAK_HOURS * 3600.0, float(per_watt[12]))
    # Ice is counted half way to the next pipe; a ring's, as if spread over a sheet.
    pipe, reach = (math.pi, 1.0 / math.tau) if kind == "ring" else (1.0, 0.25)
    cases = [each for each in freezing_sections.CASES if each[0] == kind]
    found = []
    for (_, peak, water, frozen), dry, wet in zip(cases, years[::2], years[1::2], strict=True):
        of = peak if kind == "ring" else 0.5 * peak
        ring = Ring(pipe, RADIUS, reach, CONDUCTIVITY, frozen, water * FUSION)
        _, ours = outside_with_ice(
            ring, dry[:12], freezing_sections.MONTHS * of, per_watt[:12], pulse, np.full(12, of)
        )
        found.append((dry[12:], ours, wet[12:]))
    return found


@pytest.mark.parametrize("kind", ["straight", "ring"])
def test_a_trench_and_a_slinky_that_freeze_follow_their_sections(kind: str) -> None:
    """Two pipes of a trench, and a ring, below a surface with its year: freezing_sections.py.

    Whatever freezes is within 0.15 K, its coldest within 0.08 K, where freezing does 0.2 to 3.2 K.
    Before that the sections are no measure: their first ice is within the pipe's own cell.
    """
    for dry, ours, exact in sections(kind)[:4]:
        assert dry.min() < exact.min() - 0.2 < -0.7
        assert ours.min() == pytest.approx(exact.min(), abs=0.08)
        frozen_months = exact < 0.0
        assert frozen_months.sum() >= 3
        assert ours[frozen_months] == pytest.approx(exact[frozen_months], abs=0.15)


@pytest.mark.parametrize(
    ("kind", "number", "too_cold"), [("straight", 4, 0.13), ("ring", 4, 0.5), ("ring", 5, 1.9)]
)
def test_deeply_frozen_ground_is_told_on_the_safe_side(
    kind: str, number: int, too_cold: float
) -> None:
    """To -4.8 degC: never warmer than its section, and as much colder as is said here.

    The last is a ring whose ice has met that of its neighbours and is not let grow further.
    """
    dry, ours, exact = sections(kind)[number]
    assert dry.min() + 2.0 < exact.min() < -3.5
    deep = exact < 0.0
    assert deep.sum() >= 6
    assert (ours[deep] < exact[deep] + 0.02).all()
    assert float((exact - ours)[deep].max()) < too_cold
