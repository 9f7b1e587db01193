"""Duties: heat to flow, fluids per side, and what is refused in which unit."""

import math

import pytest

from hydraulics.errors import InputError, RangeError
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.split.duty import (
    FlowDuty,
    HeadCurve,
    HeatDuty,
    PumpDriven,
    duty_fluids,
    heat_flow,
)

BRINE = mixture("propylene_glycol", 0.25, "mass")


def test_heat_is_flow_times_specific_heat_times_change() -> None:
    duty = HeatDuty(8400.0, 3.5, -3.5)
    brine = fluid(BRINE, -1.75)
    # First law; specific heat of 25 % propylene glycol about 3.87 kJ/kg K (CoolProp, at 0 degC).
    assert heat_flow(duty, brine) * brine.specific_heat * 3.5 == pytest.approx(8400.0)
    assert heat_flow(duty, brine) == pytest.approx(8400 / (3872 * 3.5), rel=0.01)
    assert duty.from_ground_temperature == 0.0


def test_each_side_has_its_fluid_at_its_own_temperature() -> None:
    out, loops, back = duty_fluids(BRINE, FlowDuty(5e-4, -3.0, 1.0))
    assert (out, loops, back) == (fluid(BRINE, -3.0), fluid(BRINE, -1.0), fluid(BRINE, 1.0))
    assert out.viscosity > loops.viscosity > back.viscosity


@pytest.mark.parametrize("cold", [-9.9, -40.0, 200.0])
def test_brine_that_freezes_or_leaves_its_correlation_is_refused(cold: float) -> None:
    # 25 % by mass freezes near -9.8 degC (CoolProp).
    with pytest.raises(RangeError):
        duty_fluids(BRINE, FlowDuty(5e-4, cold, 1.0))
    with pytest.raises(RangeError):
        duty_fluids(BRINE, FlowDuty(5e-4, 1.0, cold))


@pytest.mark.parametrize(
    ("heat", "change", "out", "field", "value"),
    [
        (0.0, 3.0, -3.0, "heat", 0.0),
        (-8400.0, 3.0, -3.0, "heat", -8400.0),
        (8400.0, 0.0, -3.0, "temperature_change", 0.0),
        (8400.0, math.inf, -3.0, "temperature_change", math.inf),
        (8400.0, 3.0, -math.inf, "to_ground_temperature", -math.inf),
    ],
)
def test_a_heat_duty_that_cannot_be_is_refused(
    heat: float, change: float, out: float, field: str, value: float
) -> None:
    with pytest.raises(InputError) as refused:
        HeatDuty(heat, change, out)
    assert refused.value.faults[0].field == field
    assert refused.value.faults[0].value == pytest.approx(value)


def test_a_flow_duty_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError) as refused:
        FlowDuty(-5e-4, -3.0, 0.0)
    assert refused.value.faults[0].field == "volume_flow"
    assert refused.value.faults[0].value == pytest.approx(-0.5)
    for numbers in ((math.nan, -3.0, 0.0), (5e-4, math.nan, 0.0), (5e-4, -3.0, math.inf)):
        with pytest.raises(InputError):
            FlowDuty(*numbers)


def test_a_pump_duty_needs_finite_temperatures() -> None:
    for numbers in ((math.nan, 0.0), (0.0, math.inf)):
        with pytest.raises(InputError, match="ground_temperature"):
            PumpDriven((0.0, 1e-3), (6.0, 1.0), *numbers)


def test_standing_still_is_a_duty() -> None:
    assert FlowDuty(0.0, -3.0, 0.0).volume_flow == 0.0


RISES, FALLS = (0.0, 1e-3, 2e-3), (9.0, 7.0, 1.0)


@pytest.mark.parametrize(
    ("flows", "heads", "field", "value"),
    [
        ((1e-3,), (9.0,), "points", 1),
        (RISES, (9.0, 7.0), "points", 3),
        ((-1e-6, 1e-3, 2e-3), FALLS, "points.0.flow", -1e-3),  # in L/s
        ((0.0, 1e-3, 1e-3), FALLS, "points.2.flow", 1.0),
        (RISES, (9.0, 9.0, 1.0), "points.1.head", 9.0),
        (RISES, (9.0, 7.0, -0.1), "points.2.head", -0.1),
        ((0.0, math.nan, 2e-3), FALLS, "points.1.flow", math.nan),
        (RISES, (math.inf, 7.0, 1.0), "points.0.head", math.inf),
    ],
)
def test_a_head_curve_that_cannot_be_is_refused_in_litres_and_metres(
    flows: tuple[float, ...], heads: tuple[float, ...], field: str, value: float
) -> None:
    with pytest.raises(InputError) as refused:
        HeadCurve(flows, heads)
    (fault,) = refused.value.faults
    assert fault.field == field
    assert fault.value == pytest.approx(value, nan_ok=True)


def test_a_head_curve_meets_its_points_and_goes_on_along_its_last_chord() -> None:
    curve = HeadCurve((0.5e-3, 1e-3, 2e-3), (8.0, 7.0, 1.0))
    for flow, head in zip(curve.flows, curve.heads, strict=True):
        assert curve.head(flow)[0] == pytest.approx(head)
    # Before the first: 1 m less per 0.5 L/s; beyond the last: 6 m per L/s.
    assert curve.head(0.0) == pytest.approx((9.0, -2000.0))
    assert curve.head(2.5e-3) == pytest.approx((-2.0, -6000.0))
    step = 1e-8
    for flow in (0.7e-3, 1.4e-3):
        slope = (curve.head(flow + step)[0] - curve.head(flow - step)[0]) / (2 * step)
        assert curve.head(flow)[1] == pytest.approx(slope, rel=1e-4)


def test_zero_and_level_ends_are_a_curve() -> None:
    HeadCurve((0.0, 1e-3), (5.0, 0.0))


def test_flows_that_fall_and_heads_that_rise_are_refused_too() -> None:
    for flows, heads, field in (
        ((0.0, 2e-3, 1e-3), FALLS, "points.2.flow"),
        (RISES, (7.0, 9.0, 1.0), "points.1.head"),
    ):
        with pytest.raises(InputError) as refused:
            HeadCurve(flows, heads)
        assert refused.value.faults[0].field == field
