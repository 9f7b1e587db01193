"""Sizing of borefields: balances, monotony, limits and refusals."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from hydraulics.boreholes.field import distance_classes, prepare_field_response
from hydraulics.boreholes.shapes import rectangle_field
from hydraulics.boreholes.sizing import Borefield, borefield
from hydraulics.errors import InputError, NoSolutionError
from hydraulics.ground.line_source import cylindrical_source_correction
from hydraulics.ground.load_history import BrineLimits, GroundLoad
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import MONTH_SECONDS

LOW = BrineLimits(0.0)
GROUND = Ground(2.0, 2.2e6)
# An invented house: shares of a winter-heavy year.
SHARE = np.array([1.0, 0.9, 0.7, 0.4, 0.15, 0.05, 0.05, 0.05, 0.1, 0.35, 0.65, 0.9])


def _load(peak: float = 6000.0, summer: float = 0.0, hours: float = 24.0) -> GroundLoad:
    mean = 0.45 * peak * SHARE
    mean[5:8] -= summer
    return GroundLoad(tuple(mean), peak, hours)


def _field(
    coordinates: NDArray[np.float64],
    load: GroundLoad | None = None,
    ground: Ground = GROUND,
    **changes: Any,
) -> Borefield:
    given: dict[str, Any] = {
        "temperature_change": 3.5,
        "borehole_radius": 0.065,
        "buried": 1.5,
        "undisturbed": lambda _: 11.0,
        "resistance": lambda _: 0.10,
        "years": 20,
    }
    given |= changes
    classes = distance_classes(coordinates, given["borehole_radius"])
    return borefield(ground, classes, load or _load(), **given)


def test_the_limit_is_just_met_in_the_coldest_month() -> None:
    field = _field(rectangle_field(2, 1, 6.0))
    depth = field.shallowest(LOW)
    history = field.at(depth, LOW)
    assert history.coldest_return == history.returning.min() == pytest.approx(0.0, abs=1e-4)
    part = history.limiting
    assert history.returning[part.year - 1, part.month - 1] == history.coldest_return
    falls = part.fall_from_months + part.fall_from_peak + part.fall_through_pipe
    assert part.undisturbed - falls + part.rise_of_brine == pytest.approx(history.coldest_return)
    assert field.at(0.99 * depth, LOW).coldest_return < -0.02


def test_the_brine_brings_up_the_peak_in_months_of_draw_and_the_mean_in_others() -> None:
    load = _load(summer=1000.0)
    history = _field(rectangle_field(2, 1, 6.0), load).at(90.0, LOW)
    brought = (history.returning - history.going) / 3.5 * load.peak
    expected = np.where(np.asarray(load.monthly) > 0.0, load.peak, -np.asarray(load.monthly))
    cold = np.asarray(load.monthly) > 0.0
    # Rounding of temperatures only.
    assert brought[:, cold] == pytest.approx(np.tile(expected, (20, 1))[:, cold], rel=1e-10)
    assert (history.returning < history.going)[:, ~cold].all()


def test_history_is_the_direct_superposition_of_every_pulse() -> None:
    load, xy, depth = _load(summer=1500.0), rectangle_field(2, 2, 6.0), 80.0
    history = _field(xy, load, years=3).at(depth, LOW)
    heat = np.tile(load.monthly, 3) / (4 * depth)
    classes = distance_classes(xy, 0.065)

    def response(time: float) -> float:
        alpha = GROUND.diffusivity
        field_part = prepare_field_response(classes, 0.065, 2.0, alpha, [time])
        extra = cylindrical_source_correction(time, 0.065, 2.0, alpha)
        return float(field_part.at_depth(depth, 1.5)[0] + extra)

    for end in (0, 7, 35):
        fall = sum(
            (heat[j] - (heat[j - 1] if j else 0.0)) * response((end - j + 1) * MONTH_SECONDS)
            for j in range(end + 1)
        )
        peak = load.peak / (4 * depth) if heat[end] > 0.0 else heat[end]
        mean = 11.0 - fall - (peak - heat[end]) * response(24.0 * 3600.0) - 0.10 * peak
        half = 1.75 * peak * 4 * depth / load.peak
        # Between the times that are computed, 1e-6 of the fall.
        assert history.returning.ravel()[end] == pytest.approx(mean + half, abs=1e-5)
        assert history.going.ravel()[end] == pytest.approx(mean - half, abs=1e-5)


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
        return _field(
            rectangle_field(2, 2, 9.0 if case == "wider spacing" else 6.0),
            _load(
                15_000.0 if case == "more heat" else 12_000.0,
                3000.0 if case == "summer heat put back" else 0.0,
                48.0 if case == "longer peak" else 24.0,
            ),
            Ground(2.4 if case == "better ground" else 2.0, 2.2e6),
            undisturbed=lambda _: 12.0 if case == "warmer ground" else 11.0,
            resistance=lambda _: 0.13 if case == "higher resistance" else 0.10,
            years=40 if case == "longer life" else 20,
        ).shallowest(BrineLimits(1.0 if case == "warmer limit" else 0.0))

    assert (depth(change) > depth("as it is")) is deeper


def test_a_balanced_year_does_not_drift() -> None:
    mean = np.asarray(_load().monthly)
    even = GroundLoad(tuple(mean - mean.mean()), 6000.0, 24.0)
    history = _field(rectangle_field(4, 4, 6.0), even, years=30).at(60.0, LOW)
    # Year on year what is left of the start-up year dies away.
    assert np.abs(history.returning[-1] - history.returning[-2]).max() < 1e-3


def test_resistance_and_ground_temperature_may_depend_on_depth() -> None:
    field = _field(
        rectangle_field(2, 1, 6.0),
        undisturbed=lambda depth: 10.0 + 0.03 * depth / 2.0,
        resistance=lambda depth: 0.10 + (depth / 1700.0) ** 2 / (3 * 0.4),
    )
    depth = field.shallowest(LOW)
    part, peak = field.at(depth, LOW).limiting, 6000.0 / (2 * depth)
    assert part.undisturbed == pytest.approx(10.0 + 0.015 * depth)
    assert part.fall_through_pipe == pytest.approx(peak * field.resistance(depth))


def test_too_much_heat_for_the_field_is_said_with_what_to_do() -> None:
    with pytest.raises(NoSolutionError, match="Use more boreholes"):
        _field(rectangle_field(1, 1, 6.0), _load(200_000.0)).shallowest(LOW)


def test_more_boreholes_than_the_heat_needs_are_as_shallow_as_is_searched() -> None:
    field = _field(rectangle_field(6, 6, 6.0), _load(1000.0), years=5)
    assert field.shallowest(LOW, (20.0, 300.0)) == 20.0
    assert field.shallowest(LOW, (20.0, 300.0), near=90.0) == 20.0
    assert field.at(20.0, LOW).margin > 0.0


@settings(deadline=None, max_examples=20)
@given(peak=st.floats(3000.0, 9000.0), lower=st.floats(-5.0, 3.0), near=st.floats(20.0, 400.0))
def test_a_depth_is_the_same_wherever_its_search_begins(
    peak: float, lower: float, near: float
) -> None:
    """And it is the one that bisection of a grid finds."""
    field, limits = _field(rectangle_field(2, 1, 6.0), _load(peak), years=5), BrineLimits(lower)
    depth = field.shallowest(limits)
    assert field.shallowest(limits, near=near) == pytest.approx(depth, rel=1e-5)
    assert field._searched(limits, (10.0, 500.0)) == pytest.approx(depth, rel=1e-5)


@pytest.mark.parametrize(
    ("change", "field"),
    [({"years": 0}, "years"), ({"temperature_change": 0.0}, "temperature_change"),
     ({"buried": -1.0}, "buried"), ({"borehole_radius": 0.0}, "borehole_radius")],
)  # fmt: skip
def test_what_no_field_can_be_is_refused_by_name(change: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as refused:
        _field(rectangle_field(1, 1, 6.0), **change)
    assert refused.value.faults[0].field == field


def test_depths_that_were_searched_are_told() -> None:
    with pytest.raises(NoSolutionError) as caught:
        _field(rectangle_field(1, 1, 6.0), _load(200_000.0)).shallowest(
            BrineLimits(0.0), (20.0, 300.0)
        )
    (fault,) = caught.value.faults
    assert "no depth from 20 to 300 m keeps the returning fluid at 0 °C" in fault.message
    # The warmest is at one end or other of what was searched, where the field is tried again.
    told = fault.message.split("the warmest is ")[1]
    warmest, depth = float(told.split(" °C")[0]), float(told.split(" at ")[1].split(" m")[0])
    again = _field(rectangle_field(1, 1, 6.0), _load(200_000.0)).at(depth, LOW).coldest_return
    assert again == pytest.approx(warmest, abs=0.06)  # told to 0.1 K
    assert fault.value == [20.0, 300.0]


def _both(cold: float, recharge: float = 0.0, peak: float = 6000.0) -> GroundLoad:
    """The house, cooled in summer at so many watts, with heat put back in spring."""
    mean = 0.45 * peak * SHARE
    mean[5:8] -= 0.6 * cold
    mean[3:5] -= recharge
    return GroundLoad(tuple(mean), peak, 24.0, peak_months=(1, 2, 12), cold_peak=cold,
                      cold_months=(6, 7, 8))  # fmt: skip


def test_a_balanced_field_shrinks_and_one_that_is_heated_too_much_grows_again() -> None:
    block = rectangle_field(3, 3, 6.0)
    limits = BrineLimits(2.0, 26.0)

    def needs(cold: float, years: int = 30) -> tuple[float, str, float]:
        field = _field(block, _both(cold, peak=18_000.0), years=years)
        depth = field.shallowest(limits)
        history = field.at(depth, limits)
        return depth, history.limiting.limit, history.drift

    heated, balanced, cooled = needs(0.0), needs(23_850.0), needs(60e3)
    assert (heated[1], balanced[1], cooled[1]) == ("lower", "lower", "upper")
    # A balanced field does not grow with its life; one that is only heated does.
    assert balanced[0] == pytest.approx(needs(23_850.0, 3)[0], rel=0.01)
    assert heated[0] > 1.2 * needs(0.0, 3)[0]
    assert balanced[0] < heated[0]
    assert cooled[0] > balanced[0]
    assert heated[2] < -2.0
    assert abs(balanced[2]) < 0.3
    assert cooled[2] > 2.0


def test_heat_put_back_in_spring_makes_a_field_shorter_and_the_drift_less() -> None:
    block = rectangle_field(3, 3, 6.0)
    without, with_it = (_field(block, _both(0.0, put, 18_000.0)) for put in (0.0, 6000.0))
    depth = without.shallowest(LOW)
    assert with_it.shallowest(LOW) < depth
    assert without.at(depth, LOW).drift < with_it.at(depth, LOW).drift


def test_a_limit_that_no_depth_keeps_in_summer_is_told_as_the_upper() -> None:
    field = _field(rectangle_field(2, 1, 6.0), _both(30e3))
    with pytest.raises(NoSolutionError, match="at 15 °C; the coolest is") as caught:
        field.shallowest(BrineLimits(-5.0, 15.0), (20.0, 100.0))
    # The flow is that of the greater peak, 3.5 K at 30 kW.
    assert "more flow (it changes by 3.5 K at the peak of cold)" in str(caught.value)
    # Cold is more than heat through the year: neighbours warm one another.
    assert "wider spacing" in str(caught.value)
    with pytest.raises(NoSolutionError, match="Use more boreholes, more flow"):  # of which one is
        _field(rectangle_field(1, 1, 6.0), _both(30e3)).shallowest(
            BrineLimits(-5.0, 15.0), (20.0, 100.0)
        )


def test_wider_spacing_is_advised_only_where_neighbours_do_harm() -> None:
    """Where more heat is drawn than put back, they cool one another, which summer needs."""
    limits = BrineLimits(-200.0, 13.0)
    load = _both(9e3, peak=18e3)
    near, apart = (
        _field(rectangle_field(2, 1, spacing), load, resistance=lambda _: 0.2)
        for spacing in (6.0, 20.0)
    )
    close, far = (each.at(60.0, limits).warmest_return for each in (near, apart))
    assert close is not None
    assert far is not None
    assert limits.upper < close < far
    with pytest.raises(NoSolutionError, match="the coolest is") as caught:
        near.shallowest(limits, (20.0, 60.0))
    assert "Use more boreholes, more flow" in str(caught.value)


def test_peaks_of_heat_that_fall_in_winter_only_leave_autumn_alone() -> None:
    late = GroundLoad(tuple(0.45 * 6000.0 * SHARE), 6000.0, 24.0, peak_months=(1, 2, 3))
    field, always = _field(rectangle_field(2, 1, 6.0), late), _field(rectangle_field(2, 1, 6.0))
    one, other = field.at(60.0, LOW), always.at(60.0, LOW)
    assert one.returning[:, :3] == pytest.approx(other.returning[:, :3])
    assert (one.returning[:, 3:] > other.returning[:, 3:]).any(axis=1).all()
    assert one.limiting.month in (1, 2, 3)


@pytest.mark.parametrize("years", [1, 2, 50])
def test_the_response_between_computed_times_is_the_response(years: int) -> None:
    xy, depth = rectangle_field(5, 4, 6.0), 90.0
    steady = GroundLoad((1000.0,) * 12, 1000.0, 24.0)  # whose fall is the response itself
    field = _field(xy, steady, years=years)
    response = field.response.at_depth(depth, 1.5) + field.at_wall
    months = MONTH_SECONDS * np.arange(1, 12 * years + 1)
    exact = prepare_field_response(
        distance_classes(xy, 0.065), 0.065, 2.0, GROUND.diffusivity, months
    ).at_depth(depth, 1.5) + cylindrical_source_correction(months, 0.065, 2.0, GROUND.diffusivity)
    assert field.superpose @ response[:-2] == pytest.approx(1000.0 * exact, rel=1e-5)


@settings(deadline=None, max_examples=30)
@given(
    side=st.integers(1, 4),
    peak=st.floats(1500.0, 4000.0),
    cold=st.one_of(st.just(0.0), st.floats(0.0, 4000.0)),
    more=st.floats(1.001, 1.3),
    lower=st.floats(-4.0, 1.0),
)
def test_depths_move_one_way_and_never_jump(
    side: int, peak: float, cold: float, more: float, lower: float
) -> None:
    """More heat, years or a warmer limit never less; better, warmer ground, room never more."""
    bores, upper = side * side, 24.0
    xy = rectangle_field(side, side, 7.0)

    def depth(
        load: float = peak, ground: Ground = GROUND, limit: float = lower, degrees: float = 11.0,
        *, years: int = 10, room: float = 1.0,
    ) -> float:  # fmt: skip
        field = _field(
            room * xy, _both(bores * cold, peak=bores * load), ground, years=years,
            undisturbed=lambda _: degrees,
        )  # fmt: skip
        return field.shallowest(BrineLimits(limit, upper), (3.0, 600.0))

    plain = depth()
    # Heat alone: with cold the upper limit may govern, which more heat relieves.
    if cold == 0.0:
        assert depth(load=peak * more) >= plain - 1e-3
        assert depth(years=15) >= plain - 1e-3
        assert depth(room=more) <= plain + 1e-3
    assert depth(limit=lower + more - 1.0) >= plain - 1e-3
    assert depth(ground=Ground(2.0 * more, 2.2e6)) <= plain + 1e-3
    # No jump over 5 % for 1 %.
    for near in (depth(load=1.01 * peak), depth(degrees=11.0 * 1.01),
                 depth(ground=Ground(2.02, 2.2e6))):  # fmt: skip
        assert 0.95 < near / plain < 1.05
