import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.errors import InputError, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.temperature import SurfaceTemperature, kusuda_achenbach
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.shallow.response import Ground, SlinkyTrench, Trench, pipe_row, step_response
from hydraulics.shallow.trench_life import MONTH_SECONDS, GroundLoad
from hydraulics.shallow.trench_sizing import TrenchArray, size_trench_array

GROUND = Ground(1.5, 2.2e6)
SURFACE = SurfaceTemperature(10.0, 8.0, 35.0)
PIPE = pe_pipe("PE100 SDR11 32")
BRINE = Fluid(-2.0, 1027.0, 6.0e-3, 3870.0, 0.45, 51.6, -9.8)  # invented, near 25 % glycol
FLAT = SlinkyTrench(1.0, 1.0, 1.2, 0.032)
UPRIGHT = SlinkyTrench(1.0, 1.0, 1.5, 0.032, upright=True)
ROW = pipe_row(2, 0.6, 1.2, 0.032)
SHARES = np.array([17, 15, 13, 9, 5, 2, 2, 2, 4, 8, 11, 12]) / 100.0
MONTHLY = tuple(float(x) for x in 12e6 * SHARES / 730.5)  # 12 MWh a year, invented
LOAD = GroundLoad(MONTHLY, 6000.0, 48.0, 3.5, first_month=10)


def size(*, years: int = 20, **changes: Any) -> TrenchArray:
    if "longest_trench" not in changes:
        changes.setdefault("trenches", 6)
    base: dict[str, Any] = {
        "ground": GROUND,
        "surface": SURFACE,
        "trench": FLAT,
        "load": LOAD,
        "pipe": PIPE,
        "brine": BRINE,
    }
    return size_trench_array(**(base | changes), years=years)


@pytest.mark.parametrize("trench", [FLAT, UPRIGHT, ROW])
def test_the_coldest_return_stays_at_or_above_its_limit_and_only_just(trench: Trench) -> None:
    array = size(trench=trench)
    assert array.margin >= 0.0
    shorter = array.needed_length / array.total_length
    # Falls go as 1/length: stretched to the needed length the margin is nil.
    worst = array.limiting
    fall = worst.fall_from_months + worst.fall_from_peak + worst.fall_through_pipe
    at_need = worst.undisturbed + worst.rise_of_brine - fall / shorter
    assert at_need == pytest.approx(0.0, abs=1e-9)


def test_the_limiting_month_adds_up_to_the_coldest_return() -> None:
    array = size(trench=ROW)
    worst = array.limiting
    parts = (
        worst.undisturbed
        - worst.fall_from_months
        - worst.fall_from_peak
        - worst.fall_through_pipe
        + worst.rise_of_brine
    )
    assert parts == pytest.approx(array.coldest_return, abs=1e-9)
    assert array.coldest_return == pytest.approx(array.coldest_return_by_year.min())
    assert worst.month in (1, 2, 3)


def test_a_month_by_month_sum_written_out_gives_the_same_temperature() -> None:
    array = size(trench=ROW, years=3)
    response = step_response(GROUND, ROW, 6, 5.0)
    order = [(9 + i) % 12 for i in range(36)]
    k = (array.limiting.year - 1) * 12 + (array.limiting.month - 10) % 12
    draws = [MONTHLY[m] / array.total_length for m in order]
    fall = sum(
        draws[j]
        * (
            float(response(MONTH_SECONDS * (k - j + 1)))
            - (float(response(MONTH_SECONDS * (k - j))) if k > j else 0.0)
        )
        for j in range(k + 1)
    )
    peak = (6000.0 / array.total_length - draws[k]) * float(response(48 * 3600.0))
    pipe = 6000.0 / array.total_length * array.pipe.per_trench
    days = (order[k] + np.linspace(0.0, 1.0, 3)) * 365.25 / 12 + 1
    ground = float(kusuda_achenbach(SURFACE, GROUND.diffusivity, 1.2, days).min())
    # 1e-5 K: the two responses are tabulated to different last times.
    assert ground - fall - peak - pipe + 1.75 == pytest.approx(array.coldest_return, abs=1e-5)


def test_loops_are_equal_and_whole() -> None:
    array = size(trench=FLAT)
    assert array.trench_length == array.coils * 1.0
    assert array.total_length == pytest.approx(6 * array.trench_length)
    # Coil, its advance and the return pipe: "just over 5 m a trench metre", common practice.
    assert array.loop_length / array.trench_length == pytest.approx(math.pi + 2.0)
    row = size(trench=ROW)
    assert row.loop_length == pytest.approx(2 * row.trench_length)


def test_the_greatest_trench_length_is_kept_with_the_fewest_trenches() -> None:
    array = size(longest_trench=40.0)
    assert array.needed_length / array.trenches <= 40.0
    one_less = size(trenches=array.trenches - 1)
    assert one_less.needed_length / (array.trenches - 1) > 40.0


def test_rates_per_metre_are_those_of_the_load() -> None:
    array = size()
    assert array.peak_per_metre * array.total_length == pytest.approx(6000.0)
    assert array.annual_per_metre * array.total_length == pytest.approx(12000.0, rel=1e-12)


def test_the_last_year_s_energy_is_shared_between_surface_and_store_and_closes() -> None:
    array = size()
    total = array.surface_energy + array.store_energy
    assert total == pytest.approx(12000.0 * 3.6e6, rel=1e-6)
    # After 20 years a shallow array lives almost wholly on what the surface gives.
    assert 0.9 < array.surface_energy / total < 1.0


def test_all_going_temperatures_lie_below_the_returns_by_the_brine_s_change() -> None:
    array = size()
    change = array.return_temperature - array.going_temperature
    assert change.max() == pytest.approx(3.5)
    assert array.return_temperature.shape == (20, 12)


@pytest.mark.parametrize("trench", [FLAT, UPRIGHT, ROW])
def test_the_first_years_are_the_warmest_and_later_ones_settle(trench: Trench) -> None:
    years = size(trench=trench).coldest_return_by_year
    assert np.all(np.diff(years) <= 1e-9)
    assert years[9] - years[19] < 0.1


@pytest.mark.parametrize("trench", [FLAT, UPRIGHT, ROW])
def test_conductivity_less_by_a_fifth_asks_for_more_trench_and_more_for_less(
    trench: Trench,
) -> None:
    array = size(trench=trench)
    longer = array.length_if_less_conductive / array.needed_length
    shorter = array.length_if_more_conductive / array.needed_length
    assert 1.0 < longer < 1.25
    assert 1 / 1.25 < shorter < 1.0


@settings(max_examples=15, deadline=None)
@given(
    peak=st.floats(4500.0, 15000.0),
    hours=st.floats(6.0, 700.0),
    more=st.floats(1.01, 1.5),
    trench=st.sampled_from([FLAT, UPRIGHT, ROW]),
)
def test_more_load_or_a_longer_peak_never_asks_for_less_trench(
    peak: float, hours: float, more: float, trench: Trench
) -> None:
    base = replace(LOAD, peak=peak, peak_hours=hours)
    length = size(trench=trench, load=base, years=3).needed_length
    longer_peak = replace(base, peak_hours=min(730.0, hours * more))
    heavier = replace(base, monthly=tuple(m * min(more, 1.5) for m in MONTHLY))
    assert size(trench=trench, load=longer_peak, years=3).needed_length >= length - 1e-9
    assert size(trench=trench, load=heavier, years=3).needed_length > length


@pytest.mark.parametrize(
    "change",
    [
        {"ground": Ground(1.5, 2.6e6)},
        {"surface": SurfaceTemperature(10.5, 8.0, 35.0)},
        {"surface": SurfaceTemperature(10.0, 7.0, 35.0)},
        {"surface": SurfaceTemperature(10.0, 8.0, 50.0)},
        {"trench": replace(FLAT, depth=1.4)},
        {"trench": replace(FLAT, pitch=0.8)},
        {"trench": replace(FLAT, coil_diameter=0.8)},
        {"trench": replace(FLAT, upright=True)},
        {"load": replace(LOAD, temperature_change=4.0)},
        {"load": replace(LOAD, first_month=4), "years": 1},
        {"brine": replace(BRINE, conductivity=0.5)},
        {"brine": replace(BRINE, viscosity=4e-3)},
        {"trenches": 7},
        {"centres": 3.0},
        {"least_return": 0.5},
        {"years": 1},
    ],
)
def test_every_input_moves_the_answer(change: dict[str, Any]) -> None:
    base = size(years=change.get("years", 20) if "load" in change else 20)
    assert size(**change).needed_length != pytest.approx(base.needed_length, rel=1e-5)


def test_ground_too_cold_for_the_limit_has_no_solution_and_says_why() -> None:
    with pytest.raises(NoSolutionError) as caught:
        size(surface=SurfaceTemperature(4.0, 10.0, 35.0))
    assert "undisturbed" in caught.value.faults[0].message


def test_freezing_at_the_pipe_is_warned_of_and_latent_heat_is_said_to_be_left_out() -> None:
    array = size()
    assert array.coldest_ground < 0.0
    assert any("freezes" in w for w in array.warnings)
    assert any("Latent heat" in n for n in array.notes)


def test_cooling_in_summer_shortens_the_array() -> None:
    cooled = list(MONTHLY)
    cooled[6] = cooled[7] = -3000.0
    load = GroundLoad(tuple(cooled), 6000.0, 48.0, 3.5, 10)
    assert size(load=load).needed_length < size().needed_length


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: GroundLoad(MONTHLY[:11], 6000.0, 48.0, 3.5), "monthly"),
        (lambda: GroundLoad((math.nan, *MONTHLY[1:]), 6000.0, 48.0, 3.5), "monthly.0"),
        (lambda: GroundLoad(MONTHLY, 1000.0, 48.0, 3.5), "peak.0"),
        (lambda: GroundLoad(MONTHLY, 6000.0, 1000.0, 3.5), "peak_hours"),
        (lambda: GroundLoad(MONTHLY, 6000.0, 48.0, 0.0), "temperature_change"),
        (lambda: GroundLoad((-1.0,) * 12, 6000.0, 48.0, 3.5), "monthly"),
        (lambda: GroundLoad(MONTHLY, 6000.0, 48.0, 3.5, 13), "first_month"),
        (lambda: size(trenches=None), "trenches"),
        (lambda: size(trenches=3, longest_trench=50.0), "trenches"),
        (lambda: size(trenches=0), "trenches"),
        (lambda: size(longest_trench=-1.0), "longest_trench"),
        (lambda: size(years=0), "years"),
        (lambda: size(least_return=math.inf), "least_return"),
        (lambda: size(pipe=pe_pipe("PE100 SDR11 40")), "pipe"),
        (lambda: size(centres=0.5), "centres"),
    ],
)
def test_input_that_cannot_be_is_refused_by_name(make: Callable[[], object], field: str) -> None:
    with pytest.raises(InputError) as caught:
        make()
    assert field in [fault.field for fault in caught.value.faults]


def test_coils_pulled_wider_than_their_diameter_are_warned_of() -> None:
    assert any("full circle" in w for w in size(trench=replace(FLAT, pitch=1.5)).warnings)
    assert not any("full circle" in w for w in size().warnings)
