"""The largest plots inside the limits take bounded time and memory."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest

from hydraulics.plot.parallel import LEAST_SIDES, MOST_SIDES, TURNED, directions, sides_tried
from hydraulics.plot.site import KeepOut, Point, SitePlot

GROWN_MB = 200.0  # over what an ordinary garden takes: what the service's worker has room for
TIMES = 40.0  # an ordinary garden's CPU time; a bound of our own
MEASURED = """
import math, random, time
from hydraulics.plot.asked import ParallelTrenches
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, SitePlot

def took(plot, lay):
    start = time.process_time()
    plan = set_out(plot, lay)
    spent = time.process_time() - start
    status = open("/proc/self/status").read()
    highest = int(status.split("VmHWM:")[1].split()[0]) / 1024.0
    codes = {each.code for each in plan.findings}
    return spent, highest, len(plan.loop_chamber), "search_bounded" in codes

house = KeepOut("house", 2.0, ((22.0, 20.0), (36.0, 20.0), (36.0, 30.0), (22.0, 30.0)))
oak = KeepOut("oak", 4.0, centre=(52, 30), radius=0.6)
garden = SitePlot(((0, 0), (60, -4), (68, 38), (30, 52), (-3, 40)), (34, 20), (house, oak))
ways = [(2 * math.pi * n / 400, 150.0 if n % 2 else 200.0) for n in range(400)]
at = random.Random(5)
round_ones = tuple(
    KeepOut(f"k{n}", 1.5, centre=(at.uniform(-100, 100), at.uniform(-100, 100)), radius=2.0)
    for n in range(100)
)
star = SitePlot(tuple((r * math.cos(a), r * math.sin(a)) for a, r in ways), (0.0, 0.0), round_ones)
lay = ParallelTrenches(6, 30.0)
took(garden, lay)  # what is loaded at the first use is not counted
print(*took(SitePlot(garden.boundary, (33, 20), garden.keep_outs), lay), *took(star, lay))
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the highest memory is read from /proc")
def test_a_plot_of_most_corners_takes_bounded_time_and_memory() -> None:
    told = subprocess.run(
        [sys.executable, "-c", MEASURED], check=True, capture_output=True, text=True
    ).stdout.split()
    spent, highest, led, bounded = (told[n::4] for n in range(4))
    assert led == ["6", "6"]
    assert bounded == ["False", "True"]
    assert float(highest[1]) - float(highest[0]) < GROWN_MB
    assert float(spent[1]) < TIMES * float(spent[0])


def test_of_many_corners_the_directions_of_most_length_are_tried() -> None:
    # Sides of a ring of 240 corners: four long ones at 20 degrees, the rest all ways.
    ring: list[Point] = []
    turn = math.radians(20.0)
    for n in range(240):
        angle = 2.0 * math.pi * n / 240
        ring.append((400.0 * math.cos(angle), 400.0 * math.sin(angle)))
    houses = tuple(
        KeepOut(f"house {n}", 1.0, tuple(_turned(corner, turn, n) for corner in _BOX))
        for n in range(9)
    )
    plot = SitePlot(tuple(ring), (0.0, 100.0), houses)
    assert LEAST_SIDES < sides_tried(plot) < MOST_SIDES
    tried = [each.angle for each in directions(plot) if each.side]
    assert len(tried) <= 2 * sides_tried(plot)
    assert min(abs(angle - turn) for angle in tried[:2]) < TURNED


_BOX = ((-8.0, -6.0), (8.0, -6.0), (8.0, 6.0), (-8.0, 6.0))


def _turned(corner: Point, by: float, n: int) -> Point:
    x, y = corner
    c, s = math.cos(by), math.sin(by)
    return (x * c - y * s + 40.0 * (n % 3 - 1), x * s + y * c + 40.0 * (n // 3 - 1))
