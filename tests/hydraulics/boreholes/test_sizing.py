"""Sizing of borefields: balances, monotony, limits and refusals."""

import numpy as np
import pytest
from numpy.typing import NDArray

from hydraulics.boreholes.field import borefield_response
from hydraulics.boreholes.shapes import line_field, rectangle_field
from hydraulics.boreholes.sizing import (
    MONTH,
    BorefieldGround,
    BorefieldLoads,
    FluidHistory,
    simulate_borefield,
    size_borefield,
)
from hydraulics.errors import InputError, NoSolutionError
from hydraulics.ground.line_source import cylindrical_source_correction

GROUND = BorefieldGround(2.0, 2.2e6, 11.0)
# An invented house: shares of a winter-heavy year, peaks in every month.
SHARE = np.array([1.0, 0.9, 0.7, 0.4, 0.15, 0.05, 0.05, 0.05, 0.1, 0.35, 0.65, 0.9])
BORE = {"borehole_radius": 0.065, "buried": 1.5, "borehole_resistance": 0.10}


def _loads(peak: float = 6000.0, summer: float = 0.0, hours: float = 24.0) -> BorefieldLoads:
    mean = 0.45 * peak * SHARE
    mean[5:8] -= summer
    peaks = np.maximum(peak * np.sqrt(SHARE), mean)
    return BorefieldLoads(mean, peaks, np.array(hours * 3600.0), peak / 3.5)


def _simulate(
    loads: BorefieldLoads, field: NDArray[np.float64], depth: float, years: int
) -> FluidHistory:
    return simulate_borefield(GROUND, field, loads, depth=depth, years=years, **BORE)  # type: ignore[arg-type]


def test_the_limit_is_just_met_in_the_coldest_month() -> None:
    sized = size_borefield(GROUND, line_field(2, 6.0), _loads(), years=20, **BORE)  # type: ignore[arg-type]
    assert sized.coldest_returning == pytest.approx(0.0, abs=1e-4)
    returning = sized.history.peak_returning
    assert returning.min() == sized.coldest_returning
    assert returning[sized.coldest_year - 1, sized.coldest_month - 1] == returning.min()
    assert sized.total_length == pytest.approx(2 * sized.depth)
    shallower = _simulate(_loads(), line_field(2, 6.0), 0.99 * sized.depth, 20)
    assert shallower.coldest_returning < -0.02


def test_the_fluid_brings_up_exactly_the_heat_that_the_ground_gives() -> None:
    loads = _loads(summer=1000.0)
    history = _simulate(loads, line_field(2, 6.0), 90.0, 20)
    brought = loads.capacity_flow * (history.month_returning - history.month_going)
    yearly = brought.sum(axis=1) * MONTH
    # Energy of every year, relative to the gross heat; rounding of temperatures only.
    assert yearly == pytest.approx(loads.monthly_mean.sum() * MONTH, rel=1e-10)
    peak = loads.capacity_flow * (history.peak_returning - history.peak_going)
    assert peak == pytest.approx(np.tile(loads.monthly_peak, (20, 1)), rel=1e-10)


def test_history_is_the_direct_superposition_of_every_pulse() -> None:
    loads, field, depth = _loads(summer=1500.0), rectangle_field(2, 2, 6.0), 80.0
    history = _simulate(loads, field, depth, 3)
    heat = np.tile(loads.monthly_mean, 3) / (4 * depth)

    def response(time: float) -> float:
        alpha = GROUND.diffusivity
        field_part = borefield_response(
            field,
            [time],
            depth=depth,
            buried=1.5,
            borehole_radius=0.065,
            conductivity=2.0,
            diffusivity=alpha,
            boundary="uniform_wall",
        )
        return float(field_part[0] + cylindrical_source_correction(time, 0.065, 2.0, alpha))

    for end in (0, 7, 35):
        fall = sum(
            (heat[j] - (heat[j - 1] if j else 0.0)) * response((end - j + 1) * MONTH)
            for j in range(end + 1)
        )
        assert history.month_wall.ravel()[end] == pytest.approx(11.0 - fall, abs=1e-9)
        peak = loads.monthly_peak[end % 12] / (4 * depth)
        mean = 11.0 - fall - (peak - heat[end]) * response(24.0 * 3600.0) - 0.10 * peak
        assert history.peak_mean.ravel()[end] == pytest.approx(mean, abs=1e-9)


@pytest.mark.parametrize(
    ("change", "deeper"),
    [
        ("more heat", True),
        ("longer life", True),
        ("longer peak", True),
        ("warmer limit", True),
        ("higher resistance", True),
        ("wider spacing", False),
        ("summer heat put back", False),
        ("better ground", False),
        ("warmer ground", False),
    ],
)
def test_every_input_moves_the_depth_the_right_way(change: str, *, deeper: bool) -> None:
    def depth(case: str) -> float:
        ground = BorefieldGround(
            2.4 if case == "better ground" else 2.0,
            2.2e6,
            12.0 if case == "warmer ground" else 11.0,
        )
        return size_borefield(
            ground,
            rectangle_field(2, 2, 9.0 if case == "wider spacing" else 6.0),
            _loads(
                15_000.0 if case == "more heat" else 12_000.0,
                3000.0 if case == "summer heat put back" else 0.0,
                48.0 if case == "longer peak" else 24.0,
            ),
            borehole_radius=0.065,
            buried=1.5,
            borehole_resistance=0.13 if case == "higher resistance" else 0.10,
            years=40 if case == "longer life" else 20,
            coldest_returning=1.0 if case == "warmer limit" else 0.0,
        ).depth

    assert (depth(change) > depth("as it is")) is deeper


def test_uniform_heat_bounds_the_depth_from_above() -> None:
    field, loads = rectangle_field(5, 5, 6.0), _loads(50_000.0)
    upper = size_borefield(GROUND, field, loads, years=30, boundary="uniform_heat", **BORE)  # type: ignore[arg-type]
    assert upper.depth > 1.03 * size_borefield(GROUND, field, loads, years=30, **BORE).depth  # type: ignore[arg-type]


def test_a_balanced_year_does_not_drift() -> None:
    loads = _loads()
    balanced = loads.monthly_mean - loads.monthly_mean.mean()
    even = BorefieldLoads(
        balanced, np.maximum(loads.monthly_peak, balanced), loads.peak_duration, 1714.0
    )
    history = _simulate(even, rectangle_field(4, 4, 6.0), 60.0, 30)
    # Year on year what is left of the start-up year dies away.
    assert np.abs(history.month_wall[-1] - history.month_wall[-2]).max() < 1e-3


def test_resistance_and_ground_temperature_may_depend_on_depth() -> None:
    warmer = BorefieldGround(2.0, 2.2e6, lambda depth: 10.0 + 0.03 * depth / 2.0)
    sized = size_borefield(
        warmer,
        line_field(2, 6.0),
        _loads(),
        borehole_radius=0.065,
        buried=1.5,
        borehole_resistance=lambda depth: 0.10 + (depth / 1700.0) ** 2 / (3 * 0.4),
        years=20,
    )
    assert sized.undisturbed_temperature == pytest.approx(10.0 + 0.015 * sized.depth)
    assert sized.borehole_resistance > 0.10


def test_too_much_heat_for_the_field_is_said_with_what_to_do() -> None:
    with pytest.raises(NoSolutionError, match="Use more boreholes"):
        size_borefield(GROUND, line_field(1, 6.0), _loads(200_000.0), years=20, **BORE)  # type: ignore[arg-type]


def test_too_many_boreholes_for_the_heat_is_said_with_what_to_do() -> None:
    with pytest.raises(NoSolutionError, match="Use fewer boreholes"):
        size_borefield(GROUND, rectangle_field(6, 6, 6.0), _loads(1000.0), years=5, **BORE)  # type: ignore[arg-type]


def test_a_frozen_wall_and_a_short_peak_are_warned_of() -> None:
    sized = size_borefield(
        GROUND,
        line_field(1, 6.0),
        _loads(hours=2.0),
        years=10,
        coldest_returning=-6.0,
        **BORE,  # type: ignore[arg-type]
    )
    assert any("freezes" in warning for warning in sized.warnings)
    assert any("shorter than 5 r2/a" in warning for warning in sized.warnings)


def test_every_fault_in_the_peaks_is_reported_at_once() -> None:
    peaks = _loads().monthly_peak.copy()
    peaks[[0, 3]] = 1.0
    with pytest.raises(InputError) as refused:
        BorefieldLoads(_loads().monthly_mean, peaks, np.array(3600.0), 1700.0)
    assert [fault.field for fault in refused.value.faults] == ["monthly_peak.0", "monthly_peak.3"]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("monthly_mean", np.ones(11)),
        ("peak_duration", np.array(1e8)),
        ("monthly_peak", np.full(12, np.nan)),
        ("capacity_flow", 0.0),
    ],
)
def test_loads_that_cannot_be_are_refused_by_name(field: str, value: object) -> None:
    good = _loads()
    given = {
        name: getattr(good, name)
        for name in ("monthly_mean", "monthly_peak", "peak_duration", "capacity_flow")
    }
    with pytest.raises(InputError) as refused:
        BorefieldLoads(**given | {field: value})
    assert refused.value.faults[0].field.split(".")[0] == field


@pytest.mark.parametrize("years", [0, -3, 2.5])
def test_a_life_that_is_no_number_of_years_is_refused(years: float) -> None:
    with pytest.raises(InputError, match="design life"):
        size_borefield(GROUND, line_field(1, 6.0), _loads(), years=years, **BORE)  # type: ignore[arg-type]
