"""What does a pump give at each of the speeds that its maker tabulates?"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import scipy as sp
from numpy.typing import NDArray
from scipy.constants import g

from hydraulics.checks import refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import figures

LEAST_STEP = 1e-6  # of a table's last flow, between two points; closer ones have no slope
MOST_GROWTH = 12.0  # of a slope in each flow of the last point: as of the 13th power of the flow
TABLE_DENSITY = 998.2  # kg/m3, water at 20 degC: ISO 9906 tables hold for clean cold water

Array = NDArray[np.float64]


class UnlikePumpError(InputError):
    """Numbers that are in order but that no pump has: such a pump is set aside among others."""


class Cubic:
    """A piecewise cubic evaluated at one point in plain Python.

    Root finding asks for one value at a time, where an array library spends ten times the
    arithmetic on bookkeeping.
    """

    __slots__ = ("breaks", "coefficients")

    def __init__(self, interpolant: sp.interpolate.PchipInterpolator) -> None:
        self.breaks: list[float] = interpolant.x.tolist()
        self.coefficients: list[list[float]] = interpolant.c.T.tolist()

    def __call__(self, x: float) -> float:
        """Value at x; beyond the ends, of the last cubic."""
        i = bisect_right(self.breaks, x, 1, len(self.coefficients)) - 1
        a, b, c, d = self.coefficients[i]
        t = x - self.breaks[i]
        return ((a * t + b) * t + c) * t + d


class Need(Cubic):
    """What a pump asks, power or suction head: PCHIP inside its table, a safe guess beyond it.

    Beyond the last point by the exponential through the last two points whose slope grows on as
    from the last chord but one to the last: over any power of the flow and a constant, which curves
    less. Straight where the slope does not grow, and level where the last chord falls.
    """

    __slots__ = ("amount", "end", "growth", "last")
    amount: float

    def __init__(self, flow: Array, values: Array) -> None:
        super().__init__(sp.interpolate.PchipInterpolator(flow, values))
        before, step = np.diff(flow[-3:]).tolist()
        first, second = (np.diff(values[-3:]) / (before, step)).tolist()
        self.last, self.end = float(flow[-1]), float(values[-1])
        most = MOST_GROWTH / self.last
        self.growth = most
        if first > 0.0:
            rises = 2.0 * math.log(max(second / first, 1.0)) / (before + step)
            self.growth = min(max(rises, 1e-9 / self.last), most)
        self.amount = max(second, 0.0) * step / -math.expm1(-self.growth * step)

    def __call__(self, x: float) -> float:
        """Value at x."""
        beyond = x - self.last
        return (
            super().__call__(x)
            if beyond <= 0.0
            else self.end + self.amount * math.expm1(self.growth * beyond)
        )


@dataclass(frozen=True, slots=True, eq=False)
class PumpCurve:
    """Head and electrical power of one pump against flow at one speed, measured on water.

    Parameters
    ----------
    flow
        Volume flow [m3/s], strictly increasing, the first may be 0. At least three points.
    head
        Head [m], strictly decreasing with flow, none below 0.
    power
        Electrical input power [W], above 0.
    speed
        Speed of this table [1/min].
    label
        What the maker or caller calls this speed (may be empty).
    npsh
        Net positive suction head that it requires at each flow [m], above 0; None where not told.

    Attributes
    ----------
    best_flow, best_head
        Flow [m3/s] and head [m] of best wire-to-water efficiency inside the table.
    best_at_end
        True when the efficiency still rises at the last point, so that the true best efficiency
        point lies beyond the table.
    head_at
        PCHIP through the points, at one flow inside the table.
    power_at, npsh_at
        The same, and beyond the table no less than is likely, see `Need`.
    end_slope
        Of a head continued beyond the last point [m per m3/s], below 0.
    """

    flow: Array
    head: Array
    power: Array
    speed: float = 100.0
    label: str = ""
    npsh: Array | None = None
    best_flow: float = field(init=False)
    best_head: float = field(init=False)
    best_at_end: bool = field(init=False)
    head_at: Cubic = field(init=False, repr=False)
    power_at: Need = field(init=False, repr=False)
    npsh_at: Need | None = field(init=False, repr=False)
    end_slope: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        put = object.__setattr__
        for name in ("flow", "head", "power"):
            put(self, name, np.array(getattr(self, name), dtype=np.float64))
        refuse(*_table_faults(self.flow, self.head, self.power, self.speed))
        if self.npsh is not None:
            put(self, "npsh", np.array(self.npsh, dtype=np.float64))
            refuse(*_npsh_faults(self.npsh, self.flow.size))
        if unlike := _unlike_pump(self.flow, self.head, self.power):
            raise UnlikePumpError(*unlike)
        for array in (self.flow, self.head, self.power):
            array.setflags(write=False)
        heads = sp.interpolate.PchipInterpolator(self.flow, self.head)
        powers = sp.interpolate.PchipInterpolator(self.flow, self.power)
        put(self, "head_at", Cubic(heads))
        put(self, "power_at", Need(self.flow, self.power))
        put(self, "npsh_at", None if self.npsh is None else Need(self.flow, self.npsh))
        chord = float((self.head[-1] - self.head[-2]) / (self.flow[-1] - self.flow[-2]))
        # PCHIP may end with slope 0; a continuation must fall, so the steeper of the two counts.
        a, b, c, _ = self.head_at.coefficients[-1]
        t = float(self.flow[-1] - self.flow[-2])
        put(self, "end_slope", min(chord, (3 * a * t + 2 * b) * t + c))
        grid = np.linspace(self.flow[0], self.flow[-1], 65)
        useful = grid * heads(grid) / powers(grid)
        best = int(np.argmax(useful))
        put(self, "best_flow", float(grid[best]))
        put(self, "best_head", self.head_at(self.best_flow))
        put(self, "best_at_end", best == grid.size - 1)


def _table_faults(flow: Array, head: Array, power: Array, speed: float) -> list[Fault]:
    faults: list[Fault] = []
    if not (math.isfinite(speed) and speed > 0):
        faults.append(Fault("speed", "a speed must be more than 0", speed, "more than 0"))
    if not flow.size == head.size == power.size:
        text = "flow, head and power must have one value each for every point"
        return [*faults, Fault("points", text, None, "equal numbers of flow, head and power")]
    if flow.size < 3:
        text = "a pump curve needs at least 3 points; give more of its table"
        return [*faults, Fault("points", text, int(flow.size), "3 or more points")]
    for i in range(flow.size):
        at = f"points.{i}."
        q, h, p = float(flow[i]), float(head[i]), float(power[i])
        for name, value in (("head", h), ("power", p)):
            if not math.isfinite(value):
                faults.append(Fault(at + name, "is not a number", value, "a number"))
        if not (math.isfinite(q) and q >= 0):
            faults.append(Fault(f"{at}flow", "a flow must not be negative", q, "0 or more"))
        elif i and not q > (least := float(flow[i - 1] + LEAST_STEP * flow[-1])):
            text = "flow must rise from point to point; sort the table by flow"
            faults.append(Fault(f"{at}flow", text, q, f"more than {figures(least * 1e3, 6)} L/s"))
    return faults


def _npsh_faults(npsh: Array, points: int) -> list[Fault]:
    if npsh.size != points:
        text = "give the head that it requires at every point of the table, or at none"
        return [Fault("npsh", text, int(npsh.size), f"{points} values")]
    text = "the head that a pump requires at its inlet is above 0"
    return [
        Fault(f"points.{i}.npsh", text, value, "more than 0 m")
        for i, value in enumerate(npsh.tolist())
        if not (math.isfinite(value) and value > 0)
    ]


def _unlike_pump(flow: Array, head: Array, power: Array) -> list[Fault]:
    """Points of a table, its flows in order, that no pump on water has."""
    faults: list[Fault] = []
    for i in range(flow.size):
        at = f"points.{i}."
        q, h, p = float(flow[i]), float(head[i]), float(power[i])
        if h < 0:
            faults.append(Fault(f"{at}head", "a head must not be negative", h, "0 m or more"))
        elif i and float(head[i - 1]) <= 0.0:
            text = "the head is 0 m at the point before already; end the table with that point"
            faults.append(Fault(f"{at}head", text, h, "no point after one of 0 m"))
        elif i and h >= head[i - 1]:
            text = (
                "head must fall as flow rises; a curve with a hump has two flows at one head, "
                "so give only its falling part"
            )
            faults.append(Fault(f"{at}head", text, h, f"less than {figures(head[i - 1], 6)} m"))
        gives = TABLE_DENSITY * g * q * h
        if p <= 0:
            text = "electrical power must be more than 0 W"
            faults.append(Fault(f"{at}power", text, p, "more than 0 W"))
        elif p < gives:
            text = (
                f"gives {figures(gives, 4)} W to the water from {figures(p, 4)} W of "
                "electricity, an efficiency over 100 %; check the units of its table"
            )
            faults.append(Fault(f"{at}power", text, p, f"more than {figures(gives, 4)} W"))
    return faults


def _weaker_when_faster(curves: Sequence[PumpCurve]) -> list[Fault]:
    """Tables that give less head at some flow than that of the next lower speed gives there."""
    faults: list[Fault] = []
    order = sorted(range(len(curves)), key=lambda n: curves[n].speed)
    for slow, fast in pairwise(order):
        low, high = curves[slow], curves[fast]
        shared = np.union1d(low.flow, high.flow)
        shared = shared[shared >= max(low.flow[0], high.flow[0])]
        for flow in shared[shared <= min(low.flow[-1], high.flow[-1])].tolist():
            less, more = high.head_at(flow), low.head_at(flow)
            if less < more * (1.0 - 1e-9):
                text = (
                    f"a pump gives more head the faster it runs, but at {figures(flow * 1e3, 4)} "
                    f"L/s this table gives {figures(less, 4)} m and that of {low.speed:g} rpm "
                    f"{figures(more, 4)} m; check which table is of which speed, and its points"
                )
                allowed = f"a table with {figures(more, 4)} m or more there"
                faults.append(Fault(f"curves.{fast}.speed", text, high.speed, allowed))
                break
    return faults


@dataclass(frozen=True, slots=True, eq=False)
class Pump:
    """A pump: a name and its tables at one or more speeds.

    Parameters
    ----------
    name
        What to call it.
    curves
        Tables, one per speed, in any order; kept sorted by speed. A faster one gives no less head
        at any flow that both cover.
    impellers
        Impellers in line; the viscosity correction works impeller by impeller.
    min_speed
        Lowest speed that the drive allows [1/min]; None where there is no limit.
    min_flow
        Least flow that its maker lets it run at for long [m3/s]; None where not told.
    rated_power
        Largest electrical power that its motor and drive are made for [W]; None where not told.
    """

    name: str
    curves: tuple[PumpCurve, ...]
    impellers: int = 1
    min_speed: float | None = None
    min_flow: float | None = None
    rated_power: float | None = None

    def __post_init__(self) -> None:
        faults: list[Fault] = []
        if not self.name.strip():
            faults.append(Fault("name", "a pump needs a name", self.name, "any text"))
        if not self.curves:
            faults.append(Fault("curves", "a pump needs at least one curve", 0, "1 or more"))
        speeds = [c.speed for c in self.curves]
        for i, speed in enumerate(speeds):
            if speed in speeds[:i]:
                text = "two curves have the same speed; give each speed once"
                faults.append(Fault(f"curves.{i}.speed", text, speed, "a speed of its own"))
        if self.impellers < 1:
            text = "a pump has at least one impeller"
            faults.append(Fault("impellers", text, self.impellers, "1 or more"))
        for name, factor, unit in (("min_flow", 1e3, "L/s"), ("rated_power", 1.0, "W")):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value > 0):
                allowed = f"more than 0 {unit}"
                faults.append(Fault(name, "must be more than 0", value * factor, allowed))
        lowest = self.min_speed
        if lowest is not None and not (math.isfinite(lowest) and lowest > 0):
            text = "a speed must be more than 0"
            faults.append(Fault("min_speed", text, lowest, "more than 0 rpm"))
        if self.min_speed is not None and speeds and self.min_speed > max(speeds):
            text = "the minimum speed lies above the highest tabulated speed"
            allowed = f"at most {max(speeds):g}"
            faults.append(Fault("min_speed", text, self.min_speed, allowed))
        refuse(*faults)
        if unlike := _weaker_when_faster(self.curves):
            raise UnlikePumpError(*unlike)
        object.__setattr__(self, "curves", tuple(sorted(self.curves, key=lambda c: c.speed)))

    @property
    def full_speed(self) -> float:
        """Highest tabulated speed [1/min]."""
        return self.curves[-1].speed
