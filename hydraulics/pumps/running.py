"""Pump curves: what flow a pump drives through a system, and at what electrical power.

A pump is known by its tables: head and electrical power against flow, measured on water at one
or more speeds. This module interpolates the tables monotonically, moves them between speeds by
the affinity laws, stacks pumps in parallel or in series, and intersects the result with the true
system curve.

Notes
-----
Interpolation is piecewise cubic Hermite with the slopes of Fritsch & Butland, which keeps a
falling table falling (SciPy's ``PchipInterpolator``). Affinity laws: flow goes with the speed,
head with its square, power with its cube. They follow from dynamic similarity at equal flow
coefficient and neglect the change of Reynolds number; electrical power also contains losses of
motor and electronics that fall more slowly than the cube, so at low speed the law states too
little power.

References
----------
Fritsch, F. N., Butland, J.: A method for constructing local monotone piecewise cubic
interpolants. SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.
White, F. M.: Fluid Mechanics, chapter 11 (similarity rules, system matching).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import scipy as sp
from scipy.constants import g

from hydraulics.checks import require_positive
from hydraulics.errors import Fault, InputError, NoSolutionError, RangeError
from hydraulics.findings import figures
from hydraulics.pumps.curve import TABLE_DENSITY, Array, Cubic, Pump, PumpCurve, UnlikePumpError
from hydraulics.pumps.viscosity import ViscosityCorrection, correction_from_water

Control = Literal[
    "constant_speed",
    "constant_differential_pressure",
    "proportional_pressure",
    "constant_temperature_difference",
]
State = Literal[
    "constant_speed",
    "holding_set_head",
    "holding_set_change",
    "at_full_speed",
    "at_minimum_speed",
]


@dataclass(frozen=True, slots=True)
class PumpedFluid:
    """What the pump moves: density [kg/m3] and kinematic viscosity [m2/s]."""

    density: float
    viscosity: float

    def __post_init__(self) -> None:
        require_positive(density=self.density, viscosity=self.viscosity)


@dataclass(frozen=True, slots=True, eq=False)
class RunningPumps:
    """Equal pumps running at one speed on one fluid; build with `running`.

    Between two tabulated speeds both neighbours are moved to the speed by affinity and their
    heads and powers blended in proportion to the distance in speed: at a tabulated speed the
    table itself comes out, and tables that obey affinity exactly stay exact. Outside the
    tabulated speeds the nearest table alone is moved. The flow range is what every table used
    covers.

    Attributes
    ----------
    flow_min, flow_max
        Total flow [m3/s] that the tables cover.
    correction
        Viscosity correction used, or None on water.
    density
        Density of the fluid [kg/m3].
    best_flow
        Total flow of best efficiency inside the tables [m3/s], as they run.
    """

    pump: Pump
    speed: float
    parallel: int
    series: int
    flow_min: float
    flow_max: float
    density: float
    best_flow: float
    correction: ViscosityCorrection | None
    _terms: tuple[tuple[float, float, PumpCurve], ...] = field(repr=False)

    def head_at(self, flow: float) -> float:
        """Total head [m] at one total flow [m3/s]; straight continuation beyond ``flow_max``."""
        end = self.flow_max
        if flow > end:  # continuation of the curve as run, falling, for solvers only
            step = 1e-6 * end
            at_end = self._inside(end)
            chord = (at_end - self._inside(end - step)) / step
            n, curve = self._terms[-1][1], self._terms[-1][2]
            table = curve.end_slope * n * self.series / self.parallel
            return at_end + min(chord, table) * (flow - end)
        return self._inside(max(flow, self.flow_min))

    def _inside(self, flow: float) -> float:
        on_water = flow / self.parallel
        factor = float(self.series)
        if self.correction is not None:
            on_water /= self.correction.flow_factor
            factor *= self.correction.head_factor(on_water)
        total = 0.0
        for weight, n, curve in self._terms:
            total += weight * n * n * curve.head_at(on_water / n)
        return factor * total

    def power_at(self, flow: float) -> float:
        """Electrical power of all pumps [W] at one total flow [m3/s].

        Water power x density ratio x C_Q C_H / C_eta. The efficiency factor is that of the
        hydraulics; the motor's efficiency is taken as unchanged. Beyond ``flow_max`` as the tables
        are carried on (`Need`), and never less than there (safe side for a motor).
        """
        if flow > self.flow_max:
            return max(self._power_inside(flow), self._power_inside(self.flow_max))
        return self._power_inside(max(flow, self.flow_min))

    def _power_inside(self, flow: float) -> float:
        on_water = flow / self.parallel
        factor = self.parallel * self.series * self.density / TABLE_DENSITY
        if self.correction is not None:
            on_water /= self.correction.flow_factor
            factor *= self.correction.power_factor(on_water)
        total = 0.0
        for weight, n, curve in self._terms:
            total += weight * n**3 * curve.power_at(on_water / n)
        return factor * total

    def npsh_at(self, flow: float) -> float | None:
        """Net positive suction head that it requires [m] at a total flow [m3/s], where told.

        That of the tables on water, moved by affinity as the head is (H ~ n²): a viscous fluid
        may ask for more. Beyond ``flow_max`` as the tables are carried on (`Need`), or as the
        square of the flow where that is more (safe side).
        """
        if any(curve.npsh_at is None for _, _, curve in self._terms):
            return None
        square = max(flow / self.flow_max, 1.0) ** 2
        at_end = self._npsh_inside(min(max(flow, self.flow_min), self.flow_max))
        return max(self._npsh_inside(max(flow, self.flow_min)), at_end * square)

    def _npsh_inside(self, flow: float) -> float:
        on_water = flow / self.parallel
        if self.correction is not None:
            on_water /= self.correction.flow_factor
        return sum(
            weight * n * n * curve.npsh_at(on_water / n)
            for weight, n, curve in self._terms
            if curve.npsh_at is not None
        )

    def sample(self, count: int = 60) -> tuple[Array, Array, Array]:
        """Flow [m3/s], head [m] and power [W] at ``count`` points from end to end, for a plot."""
        flows = np.linspace(self.flow_min, self.flow_max, count)
        heads = np.array([self.head_at(q) for q in flows.tolist()])
        powers = np.array([self.power_at(q) for q in flows.tolist()])
        return flows, heads, powers


def running(
    pump: Pump,
    speed: float | None = None,
    *,
    parallel: int = 1,
    series: int = 1,
    fluid: PumpedFluid | None = None,
) -> RunningPumps:
    """Equal pumps at one speed on one fluid, as one curve.

    Parameters
    ----------
    speed
        Speed in the pump's own unit; None for the highest tabulated. Not above that.
    parallel, series
        Number of equal pumps side by side (flows add) and in line (heads add).
    fluid
        Density and viscosity; None for the water of the tables. Head in metres is unchanged by
        density, power goes with it.

    Raises
    ------
    InputError
        Speed above the highest tabulated one, or a count below 1.
    RangeError
        Viscosity beyond the published correction, or tables on either side of the speed that share
        no flow.
    """
    n = pump.full_speed if speed is None else speed
    faults = [
        Fault(name, "the number of pumps must be 1 or more", value, "1 or more")
        for name, value in (("parallel", parallel), ("series", series))
        if value < 1
    ]
    if not (math.isfinite(n) and 0 < n <= pump.full_speed * (1 + 1e-12)):
        text = f"pump '{pump.name}' has no table at or above this speed; affinity is used downward"
        faults.append(Fault("speed", text, n, f"more than 0, at most {pump.full_speed:g}"))
    if faults:
        raise InputError(*faults)
    terms = _neighbours(pump.curves, n)
    low = max(r * float(c.flow[0]) for _, r, c in terms)
    high = min(r * float(c.flow[-1]) for _, r, c in terms)
    if not low < high:
        text = f"the tables of pump '{pump.name}' beside speed {n:g} share no flow"
        raise RangeError(Fault("speed", text, n, "a tabulated speed"))
    correction = None
    if fluid is not None:
        correction = correction_from_water(
            fluid.viscosity,
            sum(w * r * c.best_flow for w, r, c in terms),
            sum(w * r * r * c.best_head for w, r, c in terms) / pump.impellers,
            n,
            best_point_at_end_of_table=any(c.best_at_end for _, _, c in terms),
        )
    total = parallel * (1.0 if correction is None else correction.flow_factor)
    return RunningPumps(
        pump=pump,
        speed=n,
        parallel=parallel,
        series=series,
        flow_min=low * total,
        flow_max=high * total,
        density=TABLE_DENSITY if fluid is None else fluid.density,
        best_flow=sum(w * r * c.best_flow for w, r, c in terms) * total,
        correction=correction,
        _terms=terms,
    )


def _neighbours(
    curves: Sequence[PumpCurve], speed: float
) -> tuple[tuple[float, float, PumpCurve], ...]:
    """Tables to blend at a speed: (weight, speed ratio, table) of one or two of them."""
    for curve in curves:
        if curve.speed == speed:
            return ((1.0, 1.0, curve),)
    above = next((i for i, c in enumerate(curves) if c.speed > speed), len(curves) - 1)
    upper = curves[above]
    if above == 0 or upper.speed <= speed:
        return ((1.0, speed / upper.speed, upper),)
    lower = curves[above - 1]
    weight = (speed - lower.speed) / (upper.speed - lower.speed)
    return ((1 - weight, speed / lower.speed, lower), (weight, speed / upper.speed, upper))


@dataclass(frozen=True, slots=True, eq=False)
class SystemCurve:
    """Head that a pipe system takes against flow, from solved flows, not a fitted parabola.

    Between points the head follows PCHIP in the logarithms of flow and head, which reproduces any
    power law exactly and keeps the curve rising. Below the first
    flow it is straight to rest (laminar; a closed loop has no static head). Above the last flow
    there is no value: the caller must solve further.

    Parameters
    ----------
    flow
        Volume flow [m3/s], more than 0, strictly increasing; best spaced evenly in the logarithm.
    head
        Head [m of the fluid pumped], more than 0, strictly increasing.
    ends
        What it ends with, in words or empty, and what takes it further.
    """

    flow: Array
    head: Array
    ends: tuple[str, str] = ("", "solve the system at larger flows")
    _log: Cubic = field(init=False, repr=False)
    _first: tuple[float, float] = field(init=False, repr=False)
    _furthest: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "flow", np.array(self.flow, dtype=np.float64))
        put(self, "head", np.array(self.head, dtype=np.float64))
        faults = _system_faults(self.flow, self.head)
        if faults:
            raise InputError(*faults)
        self.flow.setflags(write=False)
        self.head.setflags(write=False)
        put(
            self,
            "_log",
            Cubic(sp.interpolate.PchipInterpolator(np.log(self.flow), np.log(self.head))),
        )
        # Plain numbers: root finding asks for one head after the other.
        put(self, "_first", (float(self.flow[0]), float(self.head[0])))
        put(self, "_furthest", float(self.flow[-1]) * (1 + 1e-9))

    def head_at(self, flow: float) -> float:
        """Head [m] at one flow [m3/s] between 0 and the last flow; NoSolutionError beyond."""
        if not 0.0 <= flow <= self._furthest:
            text = (
                f"the system curve runs from 0 to {figures(self.flow[-1] * 1e3, 4)} L/s; "
                f"it has no head at {figures(flow * 1e3, 4)} L/s"
            )
            raise NoSolutionError(Fault("flow", text, flow, "a flow on the system curve"))
        first, head = self._first
        if flow <= first:
            return head * flow / first
        return math.exp(self._log(math.log(flow)))


def _system_faults(flow: Array, head: Array) -> list[Fault]:
    if flow.size != head.size or flow.size < 4:
        text = "a system curve needs at least 4 flows, each with its head"
        return [Fault("flow", text, int(flow.size), "4 or more pairs")]
    faults: list[Fault] = []
    for i in range(flow.size):
        for name, values in (("flow", flow), ("head", head)):
            value, before = float(values[i]), float(values[i - 1]) if i else 0.0
            if not before < value < math.inf:
                text = f"the {name} of a system must be more than 0 and rise from point to point"
                faults.append(Fault(f"{name}.{i}", text, value, f"more than {before:g}"))
    return faults


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Where pumps and system meet.

    Attributes
    ----------
    flow, head, power
        Total flow [m3/s], head across the set [m of the fluid], electrical power of all
        pumps [W].
    speed
        Speed in the pump's own unit.
    hydraulic_power
        rho g Q H [W].
    efficiency
        Wire to water, hydraulic over electrical power [-].
    state
        How the control stands.
    correction
        Viscosity correction used, None on water.
    notes
        What a reader must know about this point.
    """

    flow: float
    head: float
    power: float
    speed: float
    hydraulic_power: float
    efficiency: float
    state: State
    correction: ViscosityCorrection | None
    notes: tuple[str, ...]


def operating_point(
    pumps: RunningPumps, system: SystemCurve, state: State = "constant_speed"
) -> OperatingPoint:
    """Intersect pumps at one speed with the system curve.

    Pump head minus system head falls strictly with flow, so there is at most one root; it is
    bracketed by the ends of the table and found by Brent's method to 1e-10 of the flow.

    Raises
    ------
    NoSolutionError
        When the curves do not meet inside the pump's table and the system curve. Nothing is
        reported from beyond either.
    """
    limit = float(system.flow[-1])

    def surplus(flow: float) -> float:
        return pumps.head_at(flow) - system.head_at(flow)

    low, high = pumps.flow_min, min(pumps.flow_max, limit)
    name = pumps.pump.name
    takes = system.head_at(min(low, limit))  # or more, where the curve ends before the table begins
    if pumps.head_at(low) < takes:
        text = (
            f"pump '{name}' at speed {figures(pumps.speed, 4)} gives "
            f"{figures(pumps.head_at(low), 4)} m at its smallest tabulated flow, "
            f"{figures(low * 1e3, 4)} L/s, where the system takes {figures(takes, 4)} "
            f"m{' or more' if low > limit else ''}: it runs at less, where "
            "nothing is known of it. Give the table from zero flow, or take a stronger pump for "
            "more flow"
        )
        raise NoSolutionError(Fault("pump", text, name, "a pump with more head"))
    if high < low or surplus(high) > 0:
        if high < pumps.flow_max:
            known, further = system.ends
            text = (
                f"the system curve ends at {figures(limit * 1e3, 4)} L/s{known}, where pump "
                f"'{name}' still has head to spare; {further}"
            )
            raise NoSolutionError(Fault("system", text, limit, "a longer system curve"))
        text = (
            f"pump '{name}' at speed {figures(pumps.speed, 4)} would run beyond the last point "
            f"of its table ({figures(high * 1e3, 4)} L/s), where nothing is known of it: it is too "
            f"large for this system or the table is too short"
        )
        raise NoSolutionError(Fault("pump", text, name, "a smaller pump or a longer table"))
    flow = float(sp.optimize.brentq(surplus, low, high, xtol=1e-10 * high, rtol=1e-13))
    return _point(pumps, flow, state)


def _point(pumps: RunningPumps, flow: float, state: State) -> OperatingPoint:
    head_m, electrical = pumps.head_at(flow), pumps.power_at(flow)
    hydraulic = pumps.density * g * flow * head_m
    notes: list[str] = []
    if pumps.correction is not None and pumps.correction.note:
        notes.append(pumps.correction.note)
    lowest = pumps.pump.curves[0].speed
    if pumps.speed < lowest * (1 - 1e-9):
        notes.append(
            f"Speed {figures(pumps.speed, 4)} lies below the lowest tabulated one "
            f"({figures(lowest, 4)}): power by affinity leaves out losses of motor and "
            f"electronics that do not fall with speed, so the true power is higher."
        )
    if hydraulic > electrical:
        text = (
            f"pump '{pumps.pump.name}' would give {figures(hydraulic, 4)} W to the fluid from "
            f"{figures(electrical, 4)} W of electricity; check the units of its table"
        )
        raise UnlikePumpError(
            Fault("power", text, electrical, f"more than {figures(hydraulic, 4)} W")
        )
    return OperatingPoint(
        flow=flow,
        head=head_m,
        power=electrical,
        speed=pumps.speed,
        hydraulic_power=hydraulic,
        efficiency=hydraulic / electrical,
        state=state,
        correction=pumps.correction,
        notes=tuple(notes),
    )


@dataclass(frozen=True, slots=True)
class Aim:
    """What a control holds: a head that rises straight with the flow, or a flow.

    Attributes
    ----------
    head
        At no flow, across the whole set [m of the fluid].
    rise
        Of that with flow [m per m3/s], 0 or more.
    flow
        Flow held [m3/s]; None where the head is.
    """

    head: float = 0.0
    rise: float = 0.0
    flow: float | None = None

    def __post_init__(self) -> None:
        if self.flow is None and not (math.isfinite(self.head) and self.head > 0):
            text = "the head to hold must be more than 0 m"
            raise InputError(Fault("set_head", text, self.head, "more than 0 m"))

    def flow_on(self, system: SystemCurve, end: float) -> float | None:
        """Flow [m3/s] at which a system takes what is held; None where that is beyond `end`.

        There is one: head over flow of a system does not fall, that of the line held does.
        """
        if self.flow is not None:
            return self.flow if self.flow <= end else None

        def surplus(flow: float) -> float:
            return system.head_at(flow) - self.head - self.rise * flow

        return (
            float(sp.optimize.brentq(surplus, 0.0, end, xtol=1e-12 * end))
            if surplus(end) >= 0
            else None
        )


def no_flow_head(pump: Pump, speed: float, series: int = 1) -> float:
    """No less than the head [m] of the set at a speed at any flow, by any table, on any fluid."""
    return series * speed**2 * max(float(c.head[0]) / c.speed**2 for c in pump.curves)


def controlled_point(
    pump: Pump,
    aim: Aim,
    system: SystemCurve,
    *,
    parallel: int = 1,
    series: int = 1,
    fluid: PumpedFluid | None = None,
) -> OperatingPoint:
    """Operating point under a control that changes the speed.

    The control lowers the speed until the set of pumps gives what the system takes where it takes
    what is held. Where full speed cannot give it, the pumps run at full speed; where the drive
    cannot turn slowly enough, at its minimum.

    Raises
    ------
    InputError, RangeError, NoSolutionError
        As `running` and `operating_point`.
    """

    def at(speed: float) -> RunningPumps:
        return running(pump, speed, parallel=parallel, series=series, fluid=fluid)

    full = at(pump.full_speed)
    top = min(full.flow_max, float(system.flow[-1]))
    flow = aim.flow_on(system, top)
    if flow is None:
        # What is held lies beyond the largest flow that is known. Where full speed gives less
        # than is wanted there, it cannot hold it at any larger flow.
        by_head = aim.flow is None
        wanted = aim.head + aim.rise * top if by_head else system.head_at(top)
        if full.head_at(top) < wanted:
            return operating_point(full, system, "at_full_speed")
        what = f"set head of {figures(wanted, 4)} m" if by_head else "flow of the set difference"
        known, further = system.ends
        text = (
            f"the system takes less than the {what} up to {figures(top * 1e3, 4)} L/s, where "
            + (
                f"the system curve ends{known}; {further}, or "
                if known and top < full.flow_max
                else f"the data of pump '{pump.name}' or of the system end; "
            )
            + ("lower the set head" if by_head else "set a larger difference")
        )
        field = "set_head" if by_head else "set_change"
        raise NoSolutionError(Fault(field, text, wanted, "a setting within the data"))
    head = system.head_at(flow)
    if full.head_at(flow) <= head:
        return operating_point(full, system, "at_full_speed")
    # At this speed the head at no flow, the largest of all, equals the head wanted, whatever table
    # is nearest; viscosity leaves it unchanged. So the speed sought lies above.
    floor = math.sqrt(head / no_flow_head(pump, 1.0, series))
    slowest = pump.min_speed
    if slowest is not None and slowest > floor:
        if at(slowest).head_at(flow) >= head:
            return operating_point(at(slowest), system, "at_minimum_speed")
        floor = slowest
    top_speed = pump.full_speed
    speed = float(
        sp.optimize.brentq(
            lambda n: at(n).head_at(flow) - head, floor, top_speed, xtol=1e-12 * top_speed
        )
    )
    held = at(speed)
    off = abs(held.head_at(flow) - head) > 1e-6 * head  # a jump between tables
    if off or not held.flow_min <= flow <= held.flow_max:
        text = (
            f"holding {figures(head, 4)} m, pump '{pump.name}' would run at "
            f"{figures(flow * 1e3, 4)} L/s and speed {figures(speed, 4)}, outside its table moved "
            "to that speed"
        )
        raise NoSolutionError(Fault("pump", text, pump.name, "a longer table or a smaller pump"))
    return _point(held, flow, "holding_set_head" if aim.flow is None else "holding_set_change")
