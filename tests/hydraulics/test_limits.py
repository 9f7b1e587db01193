"""Every number that the core takes is refused beyond its limit, by name, and taken at it.

A limit is a promise to the caller: each is written down here a second time, as the contract and
the documentation tell it, and tried just inside and just outside.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from hydraulics.balancing.ways import BalancingPlan
from hydraulics.errors import InputError
from hydraulics.ground.load_history import GroundLoad
from hydraulics.ground.soil import Ground, johansen_solids, soil_properties
from hydraulics.ground.temperature import SurfaceTemperature, damping_depth, kusuda_achenbach
from hydraulics.groundworks.excavation import HeaderTrench, Trench
from hydraulics.groundworks.works import Works
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.legs import BoreholeU, Coiled, PondMat, Slinky, Straight, TrenchPasses
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.plot.plot import Plot
from hydraulics.shallow.response import SlinkyTrench, StraightTrench, pipe_row
from hydraulics.sizing.choice import (
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
)
from hydraulics.sizing.heat_load import AnnualHeat, MonthlyHeat
from hydraulics.split.duty import HeatDuty

P32 = pe_pipe("PE100 SDR11 32")
SURFACE = SurfaceTemperature(10.0, 8.0)
LOOP = Loop("T", P32, (Straight(50.0),))
YEAR = (1e9,) * 12  # J in each month

Make = Callable[..., Any]


def surface_at(**over: Any) -> Any:
    return SurfaceTemperature(**{"mean": 10.0, "swing": 8.0, **over})


def circuit(**over: Any) -> Any:
    branch = Branch(LOOP)
    return Circuit(
        **{"arrangement": "reverse_return", "branches": (branch,), "header_pipe": P32, **over}
    )


def conditions(**over: Any) -> Any:
    base = {"conductivity": 1.5, "heat_capacity": 2e6, "surface": SURFACE}
    return GroundConditions(**{**base, **over})


def bores(**over: Any) -> Any:
    base = {"borehole_radius": 0.065, "half_shank_spacing": 0.035, "grout_conductivity": 1.5}
    return BoreholeArray(P32, **{**base, **over})


def annual(**over: Any) -> Any:
    base = {"output": 8e3, "seasonal_performance": 3.6, "heating_hours": 1800.0, "hot_water": 1e9}
    return AnnualHeat(**{**base, **over})


def monthly(**over: Any) -> Any:
    base = {"monthly": YEAR, "seasonal_performance": 3.6, "output": 8e3}
    return MonthlyHeat(**{**base, **over})


def draw(**over: Any) -> Any:
    base = {"monthly": (500.0,) * 12, "peak": 5e3, "peak_hours": 24.0}
    return GroundLoad(**{**base, **over})


def slinky_trench(**over: Any) -> Any:
    base = {"coil_diameter": 1.0, "pitch": 1.0, "depth": 1.5, "pipe_diameter": 0.032}
    return SlinkyTrench(**{**base, **over})


def mat(**over: Any) -> Any:
    return PondMat(**{"inner_diameter": 0.6, "outer_diameter": 2.0, "spacing": 0.1, **over})


def slinky(**over: Any) -> Any:
    return Slinky(**{"coils": 30, "coil_diameter": 1.0, "pitch": 1.0, **over})


def passes(**over: Any) -> Any:
    return TrenchPasses(**{"trench_length": 50.0, "passes": 2, **over})


def works(**over: Any) -> Any:
    return Works(**{"soil": "clay", **over})


def trench(**over: Any) -> Any:
    benches = {"bench_width": 0.5} if over.get("bench_height") else {}
    benches |= {"bench_height": 0.5} if over.get("bench_width") else {}
    return Trench(**{"width": 1.0, "depth": 1.5, **benches, **over})


def limits(**over: Any) -> Any:
    return LoopLimits(**over)


def rate(**over: Any) -> Any:
    return ExtractionRate(**{"rate": 20.0, "per": "trench", **over})


def duty(**over: Any) -> Any:
    base = {"heat": 6e3, "temperature_change": 3.0, "to_ground_temperature": -3.0}
    return HeatDuty(**{**base, **over})


def soil(**over: Any) -> Any:
    return soil_properties("clay", **{"water_content": 0.1, "dry_density": 1500.0, **over})


# Numbers of which the least is not taken itself: what makes them, their name, the limit.
MORE_THAN: list[tuple[Make, str, float]] = [
    *((Plot, name, 0.0) for name in ("area", "max_trench", "spacing")),
    *((lambda **sides: Plot(**{"length": 30.0, "width": 30.0, "border": 0.0, **sides}), name, 0.0)
      for name in ("length", "width")),
    *((trench, name, 0.0) for name in ("width", "depth")),
    *((HeaderTrench, name, 0.0) for name in ("width", "depth")),
    *((works, name, 0.0) for name in ("lorry", "metres_per_hour")),
    *((slinky, name, 0.0) for name in ("coil_diameter", "pitch", "depth")),
    (lambda **over: Coiled(20.0, **over), "coil_diameter", 0.0),
    *((passes, name, 0.0) for name in ("trench_length", "turn_diameter", "spacing", "depth")),
    *((mat, name, 0.0) for name in ("inner_diameter", "spacing")),
    (mat, "outer_diameter", 0.6),
    *((lambda **over: BoreholeU(**{"depth": 80.0, **over}), name, 0.0)
      for name in ("depth", "diameter")),
    *((conditions, name, 0.0) for name in ("conductivity", "heat_capacity")),
    *((limits, name, 0.0) for name in ("largest_drop", "largest_velocity")),
    (lambda **over: LoopLimits(tail=10.0, **over), "longest_pipe", 20.0),
    (bores, "deepest", 10.0),
    *((rate, name, 0.0) for name in ("rate", "hours")),
    *((annual, name, 0.0) for name in ("output", "peak_hours")),
    *((annual, name, 1.0) for name in
      ("seasonal_performance", "hot_water_performance", "design_performance")),
    *((monthly, name, 0.0) for name in ("output", "peak_hours")),
    *((monthly, name, 1.0) for name in ("seasonal_performance", "design_performance")),
    (draw, "peak_hours", 0.0),
    *((lambda **over: Ground(**{"conductivity": 1.5, "heat_capacity": 2e6, **over}), name, 0.0)
      for name in ("conductivity", "heat_capacity")),
    (lambda **over: StraightTrench(((0.0, 1.2),), **over), "pipe_diameter", 0.0),
    (lambda **over: pipe_row(2, depth=1.2, pipe_diameter=1e-12, **over), "spacing", 0.0),
    # Rings wider than four pipes; deeper than the pipe, and than the ring's half where it stands.
    (slinky_trench, "coil_diameter", 0.128),
    (slinky_trench, "depth", 0.032),
    (lambda **over: slinky_trench(upright=True, **over), "depth", 0.532),
    (damping_depth, "diffusivity", 0.0),
    (soil, "dry_density", 0.0),
    *((duty, name, 0.0) for name in ("heat", "temperature_change")),
]  # fmt: skip

# Numbers of which the least is taken.
AT_LEAST: list[tuple[Make, str, float]] = [
    (Plot, "border", 0.0),
    *((trench, name, 0.0) for name in
      ("side_slope", "bench_height", "bench_width", "bedding_below", "bedding_above")),
    (trench, "passes", 1),
    *((HeaderTrench, name, 0.0) for name in ("length", "side_slope", "separation")),
    (works, "bulking", 0.0),
    (works, "laying_temperature", -20.0),
    (Straight, "length", 0.0),
    (lambda **over: Coiled(coil_diameter=1.0, **over), "length", 0.0),
    (slinky, "coils", 1),
    (passes, "passes", 1),
    (mat, "mats", 1),
    (lambda **over: BoreholeU(80.0, **over), "u_tubes", 1),
    (lambda **over: Run(P32, **over), "length", 0.0),
    (lambda **over: Branch(LOOP, **over), "header_length", 0.0),
    (lambda **over: Branch(LOOP, **over), "count", 1),
    (circuit, "closing_length", 0.0),
    *((Plant, name, 0.0) for name in ("volume", "run_hours")),
    (conditions, "geothermal_gradient", 0.0),
    *((limits, name, 1) for name in ("loops", "most_loops")),
    (limits, "tail", 0.0),
    (bores, "buried", 0.0),
    (bores, "rows", 1),
    (bores, "u_tubes", 1),
    *((annual, name, 0.0) for name in ("heating_hours", "hot_water")),
    *((make, "first_month", 1) for make in (annual, monthly, draw)),
    (lambda **over: pipe_row(spacing=0.4, depth=1.2, pipe_diameter=0.032, **over), "passes", 1),
    (slinky_trench, "pitch", 0.032),
    (surface_at, "mean", -40.0),
    (surface_at, "swing", 0.0),
    (soil, "water_content", 0.0),
    (johansen_solids, "quartz", 0.0),
    (lambda **over: kusuda_achenbach(SURFACE, 1e-6, day=1.0, **over), "depth", 0.0),
    *((BalancingPlan, name, 0.0) for name in ("length_step", "closing_length")),
]  # fmt: skip

# Numbers of which the most is taken. A month is 365.25 days by 12: 730.5 h.
AT_MOST: list[tuple[Make, str, float]] = [
    *((make, "peak_hours", 730.5) for make in (annual, monthly, draw)),
    *((make, "first_month", 12) for make in (annual, monthly, draw)),
    (Plant, "run_hours", 8784.0),  # of a leap year
    (BalancingPlan, "pump_efficiency", 1.0),
    (lambda **over: LoopLimits(most_loops=8, **over), "loops", 8),
    (limits, "loops", 5000),
    (bores, "u_tubes", 2),
    (lambda **over: BoreholeU(80.0, **over), "u_tubes", 2),
    (johansen_solids, "quartz", 1.0),
]


def named(found: list[tuple[Make, str, float]]) -> list[Any]:
    return [
        pytest.param(make, name, limit, id=f"{number}-{name}-{limit:g}")
        for number, (make, name, limit) in enumerate(found)
    ]


def beyond(limit: float, name: str, way: int) -> float:
    """Next number that is no longer allowed: counts go by ones."""
    if isinstance(limit, int) or name == "loops":
        return limit + way
    return limit + way * 1e-6 * max(1.0, abs(limit))


def refused_for(make: Make, name: str, value: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        make(**{name: value})
    return [fault.field for fault in caught.value.faults]


@pytest.mark.parametrize(("make", "name", "limit"), named(MORE_THAN))
def test_a_number_must_be_more_than_its_limit(make: Make, name: str, limit: float) -> None:
    make(**{name: limit + 1e-6 * max(1.0, limit)})
    assert name in refused_for(make, name, limit)


@pytest.mark.parametrize(("make", "name", "limit"), named(AT_LEAST))
def test_a_number_may_be_its_least_and_no_less(make: Make, name: str, limit: float) -> None:
    make(**{name: limit})
    assert name in refused_for(make, name, beyond(limit, name, -1))


@pytest.mark.parametrize(("make", "name", "limit"), named(AT_MOST))
def test_a_number_may_be_its_most_and_no_more(make: Make, name: str, limit: float) -> None:
    make(**{name: limit})
    assert name in refused_for(make, name, beyond(limit, name, +1))


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_what_is_no_number_is_refused_too(bad: float) -> None:
    for make, name, limit in (*MORE_THAN, *AT_LEAST):
        if not isinstance(limit, int):
            assert name in refused_for(make, name, bad), (make, name)


@pytest.mark.parametrize("make", [monthly, draw])
@pytest.mark.parametrize("months", [11, 13])
def test_a_year_has_twelve_months(make: Make, months: int) -> None:
    assert "monthly" in refused_for(make, "monthly", (500.0,) * months)


def test_a_month_takes_no_less_than_nothing_and_no_more_than_its_peak() -> None:
    make = (monthly, draw)
    assert "monthly.3" in refused_for(make[0], "monthly", (1.0, 1.0, 1.0, -1e-6, *(1.0,) * 8))
    draw(monthly=(5e3,) * 12)  # the peak itself, all year
    assert refused_for(draw, "monthly", (*(500.0,) * 11, 5e3 + 1e-6)) == ["peak"]


def test_pipes_in_a_trench_may_touch_and_not_overlap() -> None:
    StraightTrench(((0.0, 1.2), (0.032, 1.2)), 0.032)
    with pytest.raises(InputError) as caught:
        StraightTrench(((0.0, 1.2), (0.031, 1.2)), 0.032)
    assert caught.value.faults[0].field == "pipes.1"
    with pytest.raises(InputError):
        StraightTrench((), 0.032)


def test_a_bench_needs_a_height_and_a_width_and_no_slope() -> None:
    Trench(1.0, 1.5, bench_height=0.01, bench_width=0.01)
    cases: list[tuple[dict[str, Any], str]] = [
        ({"bench_height": 0.5}, "bench_height"),
        ({"bench_width": 0.5}, "bench_height"),
        ({"bench_height": 0.0099, "bench_width": 0.5}, "bench_height"),
        ({"bench_height": 0.5, "bench_width": 0.5, "side_slope": 0.1}, "side_slope"),
    ]
    for wrong, field in cases:
        with pytest.raises(InputError) as caught:
            Trench(1.0, 1.5, **wrong)
        assert caught.value.faults[0].field == field


def test_both_sides_of_a_plot_are_given_and_reach_beyond_its_borders() -> None:
    Plot(length=5.0 + 1e-9, width=1.0)  # two borders of 2.5 m
    cases: list[tuple[dict[str, Any], str]] = [
        ({"length": 5.0, "width": 9.0}, "length"),
        ({"length": 30.0}, "width"),
        ({"width": 30.0}, "width"),
    ]
    for sides, field in cases:
        with pytest.raises(InputError) as caught:
            Plot(**sides)
        assert field in [fault.field for fault in caught.value.faults]


def test_a_plot_is_as_large_as_its_sides_or_as_told() -> None:
    assert Plot(length=30.0, width=20.0, area=50.0).square_metres == 600.0
    assert Plot(area=50.0).square_metres == 50.0
    assert Plot().square_metres is None
