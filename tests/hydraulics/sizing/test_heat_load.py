"""The heat pump's year as the ground sees it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.ground.temperature import MONTH_SECONDS, SurfaceTemperature
from hydraulics.sizing.heat_load import (
    AnnualHeat,
    Cooling,
    MonthlyHeat,
    ground_draw,
    heating_shares,
    hitchin_1983,
)

SURFACE = SurfaceTemperature(10.0, 8.0)
KWH = 3.6e6


@given(
    output=st.floats(1e3, 1e6),
    performance=st.floats(1.5, 6.0),
    hours=st.floats(0.0, 2500.0),
    water=st.floats(1.0, 500.0),
)
def test_heat_given_less_electricity_is_drawn_from_the_ground_every_year(
    output: float, performance: float, hours: float, water: float
) -> None:
    hot_water = water * output * 3600.0  # in hours at full output
    draw = ground_draw(AnnualHeat(output, performance, hours, hot_water, peak_hours=0.05), SURFACE)
    given_out = output * hours * 3600.0 + hot_water
    electricity = given_out / performance
    # Energy balance over the year; rounding only.
    assert sum(draw.monthly) * MONTH_SECONDS == pytest.approx(given_out - electricity, rel=1e-9)
    assert draw.annual == pytest.approx(given_out - electricity, rel=1e-9)


def test_hot_water_and_design_have_performances_of_their_own() -> None:
    load = AnnualHeat(8000.0, 4.0, 0.0, 3000.0 * KWH, 2.5, 3.0)
    draw = ground_draw(load, SURFACE)
    assert draw.annual == pytest.approx(3000.0 * KWH * (1.0 - 1.0 / 2.5))
    assert draw.peak == pytest.approx(8000.0 * (1.0 - 1.0 / 3.0))
    assert draw.full_hours == pytest.approx(1800.0 / (8.0 * 2.0 / 3.0))


def test_given_months_are_kept_as_they_are() -> None:
    monthly = tuple(float(100 + m) * KWH for m in range(12))
    draw = ground_draw(MonthlyHeat(monthly, 4.0, 8000.0, peak_hours=10.0), SURFACE)
    assert np.array(draw.monthly) * MONTH_SECONDS == pytest.approx(0.75 * np.array(monthly))


def test_most_heat_is_asked_in_the_month_of_the_coldest_day() -> None:
    shares = heating_shares(SurfaceTemperature(10.0, 8.0, 45.0))
    assert shares.argmax() == 1
    assert shares.sum() == pytest.approx(1.0)
    assert (shares > 0.0).all()


def test_degree_days_are_base_less_mean_in_deep_winter_and_vanish_in_high_summer() -> None:
    cold, warm = hitchin_1983(np.array([-5.0, 30.0]))
    assert cold == pytest.approx(20.5, rel=1e-5)
    assert warm < 1e-3
    # Continuous through the base, where the formula itself is 0/0.
    below, at, above = hitchin_1983(np.array([15.5 - 1e-7, 15.5, 15.5 + 1e-7]))
    assert below == pytest.approx(at, rel=1e-6)
    assert above == pytest.approx(at, rel=1e-6)


def test_degree_days_agree_with_normally_spread_days() -> None:
    # Days spread about their month's mean by 2.5 K or so: Erbs, Klein and Beckman (1983) and
    # Thom (1954) start from this. The formula is known to hold within some 5 to 10 %.
    days = np.random.default_rng(4).normal(0.0, 2.5, 200_000)
    for mean in (2.0, 6.0, 10.0):
        counted = np.maximum(15.5 - (mean + days), 0.0).mean()
        assert hitchin_1983(np.array([mean]))[0] == pytest.approx(counted, rel=0.05)


@pytest.mark.parametrize(
    ("load", "field"),
    [
        (lambda: AnnualHeat(-1.0, 3.0, 1800.0), "output"),
        (lambda: AnnualHeat(8e3, 1.0, 1800.0), "seasonal_performance"),
        (lambda: AnnualHeat(8e3, 3.0, float("nan")), "heating_hours"),
        (lambda: AnnualHeat(8e3, 3.0, 0.0), "heating_hours"),
        (lambda: AnnualHeat(8e3, 3.0, 1800.0, peak_hours=800.0), "peak_hours"),
        (lambda: AnnualHeat(8e3, 3.0, 1800.0, first_month=13), "first_month"),
        (lambda: MonthlyHeat((1.0,) * 11, 3.0, 8e3), "monthly"),
        (lambda: MonthlyHeat((0.0,) * 12, 3.0, 8e3), "monthly"),
        (lambda: ground_draw(AnnualHeat(8e3, 3.0, 6000.0), SURFACE), "heating_hours"),
        (lambda: ground_draw(AnnualHeat(8e3, 3.0, 1.0, peak_hours=720.0), SURFACE), "peak_hours"),
        (lambda: ground_draw(MonthlyHeat((1e11,) + (0.0,) * 11, 3.0, 8e3), SURFACE), "monthly.0"),
    ],
)
def test_what_no_heat_pump_does_is_refused_by_name(load: object, field: str) -> None:
    assert callable(load)
    with pytest.raises(InputError) as caught:
        load()
    assert field in [fault.field for fault in caught.value.faults]


def test_a_peak_may_take_all_the_heat_of_the_month_that_draws_most_and_no_more() -> None:
    # By hand: 8 kW in 20 h of the fullest month, at one performance: 20 h of the design draw.
    monthly = (8.0 * 20.0 * KWH, *(8.0 * 5.0 * KWH,) * 11)
    assert ground_draw(MonthlyHeat(monthly, 3.0, 8e3, peak_hours=20.0), SURFACE).peak_hours == 20.0
    with pytest.raises(InputError) as caught:
        ground_draw(MonthlyHeat(monthly, 3.0, 8e3, peak_hours=20.1), SURFACE)
    (fault,) = caught.value.faults
    assert (fault.field, fault.allowed) == ("peak_hours", "at most 20 h")


def test_a_month_that_asks_too_much_is_told_in_hours_and_by_its_number() -> None:
    # 8 kW and SPF 3 in 1000 h of one month: 1000 h of the design draw where a month has 730.5.
    monthly = (*(0.0,) * 4, 8.0 * 1000.0 * KWH, *(0.0,) * 7)
    with pytest.raises(InputError) as caught:
        ground_draw(MonthlyHeat(monthly, 3.0, 8e3), SURFACE)
    (fault,) = caught.value.faults
    assert fault.field == "monthly.4"
    assert "asks the ground for 1000 h of the design draw in month 5" in fault.message
    assert fault.allowed == "at most 5844 kWh"  # 8 kW through 730.5 h, in the unit of the heat


COOLING = Cooling((*(0.0,) * 5, *(500.0 * KWH,) * 3, *(0.0,) * 4), 6000.0, 4.0, 10.0)


def test_cold_puts_its_electricity_into_the_ground_as_well_and_recharge_all_of_it() -> None:
    # By hand: 500 kWh of cold at 4 put 625 kWh into the ground, 6 kW of it 7.5 kW.
    monthly = tuple(400.0 * KWH for _ in range(12))
    recharge = (*(0.0,) * 11, 700.0 * KWH)
    load = MonthlyHeat(monthly, 4.0, 8000.0, cooling=COOLING, recharge=recharge)
    draw = ground_draw(load, SURFACE)
    net = np.array(draw.monthly) * MONTH_SECONDS / KWH
    assert net[[0, 5, 11]] == pytest.approx([300.0, 300.0 - 625.0, 300.0 - 700.0])
    assert draw.put_back == pytest.approx((3 * 625.0 + 700.0) * KWH)
    assert draw.drawn == pytest.approx(12 * 300.0 * KWH)
    assert (draw.cold_peak, draw.cold_hours, draw.cold_months) == (7500.0, 10.0, (6, 7, 8))
    assert draw.peak_months == tuple(range(1, 13))  # heat is taken in the cooled months too


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: Cooling((1.0,) * 11, 6e3, 4.0), "monthly"),
        (lambda: Cooling((0.0,) * 12, 6e3, 4.0), "monthly"),
        (lambda: Cooling((-1.0, *COOLING.monthly[1:]), 6e3, 4.0), "monthly.0"),
        (lambda: Cooling(COOLING.monthly, 500.0, 4.0), "output"),
        (lambda: Cooling(COOLING.monthly, 6e3, 1.0), "performance"),
        (lambda: Cooling(COOLING.monthly, 6e3, 4.0, 100.0), "peak_hours"),
        (lambda: AnnualHeat(8e3, 3.0, 1800.0, recharge=(1.0,)), "recharge"),
        (lambda: AnnualHeat(8e3, 3.0, 1800.0, peak_months=(13,)), "peak_months.0"),
        (lambda: ground_draw(MonthlyHeat((8e8, *(0.0,) * 11), 3.0, 8e3, peak_months=(1, 7)),
                             SURFACE), "peak_months.1"),
    ],
)  # fmt: skip
def test_a_second_season_that_cannot_be_is_refused_by_name(
    make: Callable[[], object], field: str
) -> None:
    with pytest.raises(InputError) as caught:
        make()
    assert field in [fault.field for fault in caught.value.faults]


def test_five_hundred_kilowatt_hours_may_be_one_peak_of_cooling_and_no_more() -> None:
    # 500 kWh at 6 kW are 83.3 h.
    assert Cooling(COOLING.monthly, 6e3, 4.0, 83.3).peak_hours == 83.3
    with pytest.raises(InputError) as caught:
        Cooling(COOLING.monthly, 6e3, 4.0, 84.0)
    assert caught.value.faults[0].allowed == "at most 83.33 h"


# By hand: 8 kW at a performance of 3 draw all of a month of 730.5 h. Hot water is shared evenly:
# 8 x 730.5 x 12 = 70,128 kWh a year fill every month.
@pytest.mark.parametrize(
    ("hours", "water", "told"),
    [
        (1800.0, 71_000.0, {"hot_water": None}),
        (0.0, 71_000.0, {"hot_water": "at most 70128 kWh"}),
        (9000.0, 71_000.0, {"heating_hours": None, "hot_water": "at most 70128 kWh"}),
        (9000.0, 3_000.0, {"heating_hours": None}),
        (1800.0, 60_000.0, {"heating_hours": None, "hot_water": None}),
    ],
)
def test_heat_that_no_month_can_draw_is_refused_at_what_tells_it(
    hours: float, water: float, told: dict[str, str | None]
) -> None:
    load = AnnualHeat(8e3, 3.0, hours, water * KWH)
    with pytest.raises(InputError) as caught:
        ground_draw(load, SURFACE)
    faults = {fault.field: fault for fault in caught.value.faults}
    assert faults.keys() == told.keys()
    both_alone = hours > 8766.0 and water > 70_128.0
    for field, fault in faults.items():
        assert told[field] in {None, fault.allowed}
        # What is said to be allowed is, beside the other; without it where that is itself too much.
        most = float(fault.allowed.split()[2])
        unit = KWH if field == "hot_water" else 1.0
        less: dict[str, Any] = {"heating_hours": 0.0, "hot_water": 0.0} if both_alone else {}
        ground_draw(replace(load, **less | {field: most * unit}), SURFACE)
        with pytest.raises(InputError):
            ground_draw(replace(load, **less | {field: (most + 1.0) * unit}), SURFACE)
