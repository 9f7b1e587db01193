"""Ground that freezes around two straight pipes and around a slinky's ring, by finite volumes.

Run by hand (a day), it writes `freezing_sections.csv`, which a test reads: `python -m
tests.published.freezing_sections`. The values kept were written by the same scheme in C, which
agrees with it to five digits on cells of 50 mm.

A section of ground is cut into cells, fine about the pipe; the heat of each is balanced explicitly
in steps short enough to be stable, its water freezing between -0.1 and 0 degC and its conductivity
going over to that of frozen ground with it (enthalpy method). The surface follows its yearly wave,
sides are mirrors. A ring is a circle in a cylinder of ground as wide as its share of the field.

A pipe thinner than a cell draws from the middle of one, which stands for a radius of a fifth of the
cell (Peaceman 1978, from memory: 0.198, so 0.198 m K/W to the pipe's own radius). That was fitted
once without freezing to line sources, and is added with the conductivity that the cell has. On
cells of 20 and 40 mm the coldest peaks come out some 0.1 K lower.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
PATH = Path(__file__).with_name("freezing_sections.csv")
CONDUCTIVITY, CAPACITY, FUSION = 1.5, 2.4e6, 334e3
RADIUS, DEPTH, RING = 0.016, 1.2, 0.5  # of the pipe; of its axis; of the ring [m]
YEAR = 365.25 * 86_400.0
MEAN, SWING, COLDEST = 10.0, 7.5, 35.0  # of the surface [degC, K, day of the year]
BEGIN = 9 * 365.25 / 12 + 1.0  # day of the year: 1 October
PEAK_HOURS = 48.0
SLUSH = 0.1  # K
CELL = 0.0125  # m, where it is fine
# From the cell's middle to the pipe's radius, of a line source at CELL [m K/W], fitted.
LOCAL = 0.1999
# Share of its greatest draw that an invented house takes in each month from October on.
MONTHS = np.array(
    [0.176, 0.285, 0.379, 0.393, 0.339, 0.271, 0.163, 0.081, 0.034, 0.034, 0.034, 0.068]
)
CASES = (
    ("straight", 23.0, 150.0, 1.5),
    ("straight", 26.0, 300.0, 2.2),
    ("straight", 30.0, 300.0, 1.5),
    ("straight", 34.0, 420.0, 2.2),
    ("ring", 30.0, 150.0, 1.5),
    ("ring", 34.0, 300.0, 2.2),
    ("ring", 46.0, 300.0, 1.5),
    ("ring", 50.0, 420.0, 2.2),
    ("ring", 62.0, 300.0, 1.5),
    ("ring", 70.0, 420.0, 2.2),
    ("straight", 42.0, 300.0, 1.5),
)


def widths(end: float, *, fine: float) -> Floats:
    """Cells of CELL for so far, and growing to the end [m]."""
    found = [CELL] * round(fine / CELL)
    left = end - sum(found)
    while left > 1e-9:
        grown = 1.25 * found[-1]
        found.append(grown if left > 1.6 * grown else left)
        left = end - sum(found)
    return np.array(found)


def about(at: float, end: float) -> tuple[Floats, int]:
    """Cells from 0 to the end with a place in the middle of one, and which that is."""
    before = widths(at + CELL / 2.0, fine=0.16)[::-1]
    return np.concatenate([before, widths(end - at - CELL / 2.0, fine=0.15)]), before.size - 1


@dataclass
class Section:
    """Ground beside a pipe: half a trench of two pipes 0.5 m apart, 2 m to the next, or a ring."""

    kind: str
    water: float = 0.0
    frozen: float = CONDUCTIVITY
    surface: bool = True

    def __post_init__(self) -> None:
        ring = self.kind == "ring"
        self.across, self.x = about(RING if ring else 0.25, 0.8 if ring else 1.0)
        self.down, self.z = about(DEPTH, 25.0)
        edges = np.concatenate([[0.0], np.cumsum(self.across)])
        self.top = math.pi * np.diff(edges**2) if ring else self.across
        self.side = math.tau * edges[1:-1] if ring else np.ones(edges.size - 2)
        self.pipe = math.tau * RING if ring else 1.0  # length of it in the section [m]
        self.volume = self.top[:, None] * self.down[None, :]
        self.latent = np.full(self.volume.shape, self.water * FUSION)
        within = self.pipe * math.pi * RADIUS**2 / self.volume[self.x, self.z]
        self.latent[self.x, self.z] *= max(0.0, 1.0 - within)  # a pipe has no water of the ground
        self.step = 0.8 * CELL**2 * CAPACITY / 4.0 / max(self.frozen, CONDUCTIVITY)
        depth = np.cumsum(self.down) - self.down / 2.0
        delta = math.sqrt(CONDUCTIVITY / CAPACITY * YEAR / math.pi)
        wave = np.exp(-depth / delta) * np.cos(
            math.tau * (BEGIN - COLDEST) / 365.25 - depth / delta
        )
        at_first = MEAN - SWING * wave if self.surface else np.zeros(depth.size)
        self.heat = np.tile(CAPACITY * at_first, (self.across.size, 1))
        self.now = 0.0

    def temperature(self) -> Floats:
        full = -(self.latent + CAPACITY * SLUSH)
        slush = SLUSH * self.heat / -full
        return np.where(
            self.heat >= 0.0, self.heat / CAPACITY,
            np.where(self.heat >= full, slush, -SLUSH + (self.heat - full) / CAPACITY),
        )  # fmt: skip

    def conductivity(self, t: Floats) -> Floats:
        return CONDUCTIVITY + (self.frozen - CONDUCTIVITY) * np.clip(-t / SLUSH, 0.0, 1.0)

    def run(self, draw: float, seconds: float) -> float:
        """The pipe's outside [degC] after drawing so much from the section [W] for so long."""
        steps = math.ceil(seconds / self.step)
        step = seconds / steps
        for _ in range(steps):
            t = self.temperature()
            k = self.conductivity(t)
            half_x = self.across[:, None] / (2.0 * k)
            half_z = self.down[None, :] / (2.0 * k)
            flow_x = np.diff(t, axis=0) / (half_x[:-1] + half_x[1:])
            flow_x *= self.side[:, None] * self.down[None, :]
            flow_z = np.diff(t, axis=1) / (half_z[:, :-1] + half_z[:, 1:]) * self.top[:, None]
            gain = np.zeros_like(t)
            gain[:-1] += flow_x
            gain[1:] -= flow_x
            gain[:, :-1] += flow_z
            gain[:, 1:] -= flow_z
            day = BEGIN + (self.now + step / 2.0) / 86_400.0
            above = MEAN - SWING * math.cos(math.tau * (day - COLDEST) / 365.25)
            gain[:, 0] += ((above if self.surface else 0.0) - t[:, 0]) / half_z[:, 0] * self.top
            gain[self.x, self.z] -= draw
            self.heat = self.heat + gain * step / self.volume
            self.now += step
        t = self.temperature()[self.x, self.z]
        return float(t + draw / self.pipe * LOCAL * CONDUCTIVITY / self.conductivity(t))

    def year(self, draws: Floats, peaks: Floats) -> tuple[Floats, Floats]:
        """The pipe's outside at each month's end, and after a peak in place of its last hours."""
        months, dips = [], []
        short = PEAK_HOURS * 3600.0
        for draw, peak in zip(draws, peaks, strict=True):
            self.run(draw, YEAR / 12.0 - short)
            kept = self.heat, self.now
            dips.append(self.run(peak, short))
            self.heat, self.now = kept
            months.append(self.run(draw, short))
        return np.array(months), np.array(dips)


def main() -> None:
    """Write every case: what a watt does, and each month without and with freezing."""
    rows: list[list[object]] = []
    for kind in ("straight", "ring"):
        still = Section(kind, surface=False).year(np.ones(12), np.ones(12))[0]
        pulse = Section(kind, surface=False).year(np.zeros(1), np.ones(1))[1]
        rows.append([kind, "per_watt", 0, 0, 0, *(-still).round(5), *(-pulse).round(5)])
    for kind, peak, water, frozen in CASES:
        of = 0.5 * peak if kind == "straight" else peak  # one of two pipes
        draws, peaks = MONTHS * of, np.full(12, of)
        for name, section in (("dry", Section(kind)), ("freezing", Section(kind, water, frozen))):
            months, dips = section.year(draws, peaks)
            rows.append([kind, name, peak, water, frozen, *months.round(3), *dips.round(3)])
    with PATH.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\n").writerows(rows)


if __name__ == "__main__":
    main()
