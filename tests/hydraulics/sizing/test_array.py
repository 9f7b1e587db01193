"""A whole array from the heat pump's year."""

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.boreholes.resistance import (
    CrossSection,
    effective_resistance,
    internal_resistance,
    local_resistance,
)
from hydraulics.errors import InputError, NoSolutionError, RangeError
from hydraulics.findings import FINDING_CODES
from hydraulics.fluid.mixture import (
    Fluid,
    Mixture,
    fluid,
    freezing_margin,
    freezing_spread,
    mixture,
)
from hydraulics.ground.pipe_heat import (
    film_and_wall,
    film_resistance,
    manlapaz_churchill_1981,
)
from hydraulics.ground.temperature import SurfaceTemperature, wave_of_air
from hydraulics.layout.circuit import Plant
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.plot.plot import Plot
from hydraulics.sizing.array import size_array
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    PondArray,
    SlinkyArray,
    StraightArray,
    ground_of_soil,
)
from hydraulics.sizing.heat_load import AnnualHeat, Cooling, MonthlyHeat
from hydraulics.sizing.result import ArraySizing
from hydraulics.split.flow_split import flow_split

BRINE = mixture("ethylene_glycol", 0.25, "mass")
SURFACE = SurfaceTemperature(10.0, 8.0)
GROUND = GroundConditions(1.5, 2.2e6, SURFACE)
LOAD = AnnualHeat(8000.0, 3.6, 1800.0, 3000.0 * 3.6e6)  # invented
P32, P40 = pe_pipe("PE100 SDR11 32"), pe_pipe("PE100 SDR11 40")
BORE = BoreholeArray(P40, 0.065, 0.035, 1.5)
KINDS: dict[str, ArrayChoice] = {
    "slinky_flat": SlinkyArray(P32, 1.2),
    "slinky_upright": SlinkyArray(P32, 1.5, upright=True),
    "trench": StraightArray(P32, 1.2),
    "pond_mat": PondArray(P32, 4.0),
    "borehole": BORE,
    "double": BoreholeArray(P32, 0.075, 0.04, 1.5, u_tubes=2, rows=2),
}
BURIED = [kind for kind in KINDS if kind != "pond_mat"]
# One number of loops, so that a property is not hidden by a step to another number.
FIXED = LoopLimits(loops=4)


def sized(
    kind: str = "slinky_flat",
    load: AnnualHeat = LOAD,
    ground: GroundConditions = GROUND,
    change: float = 3.5,
    choice: ArrayChoice | None = None,
    **options: Any,
) -> ArraySizing:
    return size_array(load, ground, choice or KINDS[kind], BRINE, change, **options)


@pytest.mark.parametrize("kind", KINDS)
def test_the_proposed_array_goes_through_the_flow_split_unchanged_and_evenly(kind: str) -> None:
    found = sized(kind, limits=LoopLimits(tail=10.0))
    split = flow_split(found.circuit, Plant(), BRINE, found.duty)
    assert len(split.loops.mass_flow) == found.loops
    assert np.abs(split.loops.deviation).max() < 1e-9
    assert split.heat == pytest.approx(found.draw.peak, rel=1e-9)
    # One brine in both: rounding and the solver's residual.
    assert split.loops.mass_flow[0] == pytest.approx(found.hydraulics.mass_flow, rel=1e-9)
    assert split.loops.reynolds[0] == pytest.approx(found.hydraulics.reynolds, rel=1e-9)
    assert split.loops.drop[0] == pytest.approx(found.hydraulics.drop, rel=1e-6)
    assert split.loops.length[0] == pytest.approx(found.loop.length)


@pytest.mark.parametrize("kind", KINDS)
def test_at_the_flow_that_it_is_sized_for_an_array_is_what_it_was_sized_to(kind: str) -> None:
    # On a plot too, whose places of boreholes the sizing keeps.
    found = sized(kind, plot=Plot(60.0, 40.0))
    again = found.at_change(3.5)
    assert again.coldest_return == pytest.approx(found.coldest_return, abs=1e-6)
    # Searched for from elsewhere.
    assert again.needed_length == pytest.approx(found.needed_length, rel=1e-5)


@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("pond_mat", {"least_return": -5.0, "limits": LoopLimits(loops=3)}),
        ("trench", {"least_return": -5.0, "rate": ExtractionRate(5.0, "pipe")}),
        ("trench", {"rate": ExtractionRate(16.0, "pipe"), "limits": FIXED}),
    ],
)
def test_an_array_far_from_its_limit_is_told_at_the_brine_of_its_own_duty(
    kind: str, options: dict[str, Any]
) -> None:
    found = sized(kind, **options)
    assert abs(found.margin) > 1.0
    split = flow_split(found.circuit, Plant(), BRINE, found.duty)
    assert split.loops.reynolds[0] == pytest.approx(found.hydraulics.reynolds, rel=1e-9)
    assert split.loops.drop[0] == pytest.approx(found.hydraulics.drop, rel=1e-6)


@pytest.mark.parametrize("kind", KINDS)
def test_the_limit_is_met_and_a_little_less_length_would_miss_it(kind: str) -> None:
    found = sized(kind)
    assert 0.0 <= found.margin < (1.3 if kind == "pond_mat" else 0.4)  # whole mats, coils, metres
    assert found.needed_length <= found.total_length * (1.0 + 1e-9)
    assert found.coldest_going == pytest.approx(found.coldest_return - 3.5)
    part = 0.6 if kind == "pond_mat" else 0.9  # a whole mat less in each loop
    shorter = ExtractionRate(found.draw.peak / (part * found.needed_length), found.metre)
    assert sized(kind, rate=shorter, limits=LoopLimits(loops=found.loops)).margin < 0.0


@pytest.mark.parametrize("kind", KINDS)
def test_following_the_rate_that_conduction_found_gives_the_same_array(kind: str) -> None:
    free = sized(kind)
    rate = ExtractionRate(free.draw.peak / free.needed_length, free.metre)
    followed = sized(kind, rate=rate, limits=LoopLimits(loops=free.loops))
    assert followed.basis == "extraction_rate"
    assert followed.total_length == pytest.approx(free.total_length)
    assert followed.needed_length == pytest.approx(free.needed_length)
    assert followed.coldest_return == pytest.approx(free.coldest_return, abs=1e-4)  # root's end
    if free.history is not None:
        assert followed.history is not None
        assert followed.history.returning == pytest.approx(free.history.returning, abs=1e-9)
        assert followed.history.limiting == free.history.limiting


@pytest.mark.parametrize("water", [4.0, 8.0, 12.0, 16.0])
def test_no_loop_of_mats_is_spare_with_the_brine_that_comes_back(water: float) -> None:
    # Whole mats in warm water come back well above the limit: a loop less would not be practical.
    pond, limits = PondArray(P32, water), LoopLimits(largest_drop=12e3)
    found = size_array(LOAD, GROUND, pond, BRINE, 3.5, limits=limits)
    assert found.hydraulics.drop <= 12e3
    fewer = size_array(LOAD, GROUND, pond, BRINE, 3.5, limits=LoopLimits(loops=found.loops - 1))
    assert (
        fewer.hydraulics.drop > 12e3
        or fewer.loop.pipe_length > 300.0  # longest coil on offer
        or fewer.total_length > found.total_length
    )


@pytest.mark.parametrize("kind", BURIED)
def test_the_greater_peak_sets_the_flow(kind: str) -> None:
    # By hand: heat is flow times specific heat times change, 3.5 K at the greater peak.
    monthly = tuple(3.6e6 * 300.0 * (5 <= month <= 9) for month in range(1, 13))
    cold = Cooling(monthly, 12000.0, 4.0)
    found = sized(kind, load=replace(LOAD, cooling=cold), limits=LoopLimits(loops=8))
    assert found.draw.cold_peak == pytest.approx(15000.0)
    ratio = found.draw.peak / 15000.0
    assert found.duty.temperature_change == pytest.approx(3.5 * ratio)
    assert found.coldest_going == pytest.approx(found.coldest_return - 3.5 * ratio)
    history = found.history
    assert history is not None
    assert (history.warm_going - history.warm_returning).max() == pytest.approx(3.5)
    split = flow_split(found.circuit, Plant(), BRINE, found.duty)
    assert split.loops.mass_flow[0] == pytest.approx(found.hydraulics.mass_flow, rel=1e-9)
    heat = split.fluids[1].specific_heat
    assert found.hydraulics.mass_flow * 8 * heat * 3.5 == pytest.approx(15000.0, rel=1e-6)


@pytest.mark.parametrize("kind", BURIED)
def test_the_limiting_load_adds_up_to_the_coldest_return(kind: str) -> None:
    found = sized(kind)
    assert found.history is not None
    part, returning = found.history.limiting, found.history.returning
    falls = part.fall_from_months + part.fall_from_peak + part.fall_through_pipe
    assert part.undisturbed - falls + part.rise_of_brine == pytest.approx(found.coldest_return)
    assert part.year == 20
    assert returning.shape == (20, 12)
    assert returning[part.year - 1, part.month - 1] == pytest.approx(found.coldest_return)
    by_year, _ = found.history.coldest_by_year
    assert (np.diff(by_year) <= 1e-9).all()


def test_months_come_by_the_calendar_whenever_operation_begins() -> None:
    january, october = sized(), sized(load=replace(LOAD, first_month=10))
    assert january.history is not None
    assert october.history is not None
    first, then = january.history.coldest_by_month[0], october.history.coldest_by_month[0]
    assert then == pytest.approx(first, abs=0.1)  # length and first year differ a little
    assert then.argmin() == first.argmin()


@pytest.mark.parametrize("kind", KINDS)
def test_energy_balances_over_a_year(kind: str) -> None:
    found = sized(kind)
    year = (8000.0 * 1800.0 * 3600.0 + 3000.0 * 3.6e6) * (1.0 - 1.0 / 3.6)
    assert found.annual_per_metre * found.total_length == pytest.approx(year, rel=1e-6)
    flow, brine_rise = found.hydraulics.mass_flow * found.loops, found.duty.temperature_change
    heat = flow_split(found.circuit, Plant(), BRINE, found.duty).fluids[1].specific_heat
    assert flow * heat * brine_rise == pytest.approx(found.draw.peak, rel=1e-9)
    if found.surface_energy is not None:
        assert found.store_energy is not None
        assert found.surface_energy + found.store_energy == pytest.approx(year, rel=1e-6)
        # After twenty years nearly all comes through the surface: the store cannot keep giving.
        assert found.surface_energy == pytest.approx(year, rel=0.1)


@settings(max_examples=12, deadline=None)
@given(
    kind=st.sampled_from(BURIED),
    conductivity=st.floats(0.8, 3.0),
    better=st.floats(1.05, 1.6),
)
def test_better_ground_never_needs_more(kind: str, conductivity: float, better: float) -> None:
    # At the same diffusivity, so that the season reaches as deep.
    poor = replace(GROUND, conductivity=conductivity, heat_capacity=conductivity / 0.7e-6)
    good = replace(
        poor, conductivity=poor.conductivity * better, heat_capacity=poor.heat_capacity * better
    )
    assert (
        sized(kind, ground=good, limits=FIXED).needed_length
        <= sized(kind, ground=poor, limits=FIXED).needed_length
    )


@pytest.mark.parametrize("kind", KINDS)
def test_a_colder_limit_never_needs_more_length(kind: str) -> None:
    # The colder brine is thicker: its film may work against the wider room, but less than 1 K's.
    warm, cold = (sized(kind, limits=FIXED, least_return=limit) for limit in (0.0, -1.0))
    assert cold.needed_length < warm.needed_length


@pytest.mark.parametrize("kind", BURIED)
def test_longer_life_and_more_hours_never_need_less(kind: str) -> None:
    lengths = [sized(kind, limits=FIXED, years=years).needed_length for years in (1, 5, 20, 50)]
    assert (np.diff(lengths) >= -1e-6).all()
    more = replace(LOAD, heating_hours=2400.0)
    assert sized(kind, load=more, limits=FIXED).needed_length > lengths[2]


@pytest.mark.parametrize("kind", KINDS)
def test_twice_the_heat_pump_needs_more_loops_or_length(kind: str) -> None:
    double = replace(LOAD, output=16000.0, hot_water=2.0 * LOAD.hot_water)
    one, two = sized(kind), sized(kind, load=double)
    assert two.needed_length > 1.9 * one.needed_length
    assert two.loops > one.loops


@pytest.mark.parametrize("kind", BURIED)
def test_conductivity_less_and_more_brackets_the_length(kind: str) -> None:
    found = sized(kind)
    worse, better = found.sensitivities[0].lengths
    assert better < found.needed_length < worse
    # Length goes with resistance, part of which is the pipe's: less than in proportion.
    assert worse < 1.26 * found.needed_length


# Shared over the months by the caller, whatever the surface's year; invented.
MONTHS = (2900, 2500, 2000, 1200, 600, 250, 250, 250, 500, 1300, 2100, 2800)


def _by_month(more: float = 1.0) -> MonthlyHeat:
    return MonthlyHeat(tuple(more * 3.6e6 * kwh for kwh in MONTHS), 3.6, more * 8000.0)


def _worse(kind: str, colder: float = 0.0, more: float = 1.0, conducting: float = 1.0) -> float:
    """Length of as many loops, of a caller who gives the worse values himself."""
    surface = replace(SURFACE, mean=SURFACE.mean - colder)
    ground = replace(GROUND, surface=surface, conductivity=conducting * GROUND.conductivity)
    choice = KINDS[kind]
    if isinstance(choice, PondArray):
        choice = replace(choice, coldest_water=choice.coldest_water - colder)
    limits = LoopLimits(loops=4)
    change = 3.5 * more  # at the same flow
    return size_array(_by_month(more), ground, choice, BRINE, change, limits=limits).needed_length


@pytest.mark.parametrize("kind", KINDS)
def test_a_worse_ground_and_load_ask_for_the_length_that_they_would_be_sized_to(kind: str) -> None:
    found = size_array(_by_month(), GROUND, KINDS[kind], BRINE, 3.5, limits=LoopLimits(loops=4))
    _, colder, more, together = (each.longest for each in found.sensitivities)
    assert colder == pytest.approx(_worse(kind, colder=1.0), rel=1e-4)
    # The caller's brine is 0.2 K colder on average, and as much thicker.
    assert more == pytest.approx(_worse(kind, more=1.1), rel=2e-3)
    if kind in BURIED:
        both = _worse(kind, colder=1.0, more=1.1, conducting=0.8)
        assert together == pytest.approx(both, rel=2e-3)
    assert together > max(colder, more)


@pytest.mark.parametrize(("most_return", "worse"), [(18.0, 1.0), (23.0, -1.0), (25.0, -1.0)])
def test_ground_is_tried_to_the_worse_side_of_both_limits(most_return: float, worse: float) -> None:
    """Whichever governs now: at 23 °C the upper does, and colder ground asks for more."""
    limits = LoopLimits(loops=6, largest_drop=1e6)

    def size(by: float) -> ArraySizing:
        ground = replace(GROUND, undisturbed=10.0 + by)
        return sized("double", load=COOLED, ground=ground, most_return=most_return, limits=limits)

    found = size(0.0)
    told = next(each for each in found.sensitivities if each.of == "ground_temperature")
    assert told.longest == pytest.approx(size(worse).needed_length, rel=1e-4)
    assert size(-worse).needed_length < 0.99 * told.longest
    assert found.history is not None
    assert (found.history.limiting.limit == "upper") is (most_return < 24.0)


@pytest.mark.parametrize("kind", BURIED)
def test_more_load_is_sized_to_with_the_recharge_that_there_is(kind: str) -> None:
    back = (0.0, 0.0, 0.0, 5e9, 5e9, 5e9, 5e9, 5e9, 0.0, 0.0, 0.0, 0.0)  # J, invented
    limits = LoopLimits(loops=4, largest_drop=1e6)

    def size(more: float) -> ArraySizing:
        load = replace(_by_month(more), recharge=back)
        return size_array(load, GROUND, KINDS[kind], BRINE, 3.5 * more, most_return=60.0,
                          limits=limits)  # fmt: skip

    told = next(each for each in size(1.0).sensitivities if each.of == "load")
    # The caller's brine is 0.2 K colder on average, and as much thicker.
    assert told.longest == pytest.approx(size(1.1).needed_length, rel=2e-3)


def test_where_recharge_sets_the_length_less_load_is_the_worse() -> None:
    """What is drawn makes room for what is put back."""
    back = (0.0, 0.0, 0.0, 2e10, 2e10, 2e10, 2e10, 2e10, 0.0, 0.0, 0.0, 0.0)  # J, invented

    def size(more: float, ground: GroundConditions = GROUND) -> ArraySizing:
        load = replace(_by_month(more), recharge=back)
        return size_array(load, ground, KINDS["borehole"], BRINE, 3.5 * more, most_return=18.0,
                          limits=LoopLimits(loops=4, largest_drop=1e6))  # fmt: skip

    found = size(1.0)
    assert found.set_by == "upper"
    assert size(1.1).needed_length < found.needed_length
    told = {each.of: each for each in found.sensitivities}
    assert told["load"].longest == pytest.approx(size(0.9).needed_length, rel=2e-3)
    assert told["load"].longest > found.needed_length
    assert told["load"].less_load
    # The worst of all of them: less load in warmer ground, with either conductivity.
    warm = replace(GROUND, surface=replace(SURFACE, mean=SURFACE.mean + 1.0))
    mixes = [
        size(load, replace(warm, conductivity=by * GROUND.conductivity)).needed_length
        for load in (0.9, 1.1)
        for by in (0.8, 1.2)
    ]
    assert told["together"].longest == pytest.approx(max(mixes), rel=2e-3)
    assert max(mixes) == max(mixes[:2])


def test_less_load_that_recharge_covers_in_every_month_is_not_tried() -> None:
    load = _by_month()
    back = tuple(0.95 * (1.0 - 1.0 / 3.6) * heat for heat in load.monthly)
    found = size_array(replace(load, recharge=back), GROUND, BORE, BRINE, 3.5, limits=FIXED)
    assert not any(each.less_load for each in found.sensitivities)


def test_where_one_worse_input_has_no_length_all_of_them_have_none() -> None:
    # At the pipe the ground falls to 4.9 °C; 1 K colder it never holds 4.1 °C. Ground that conducts
    # less lets the winter in less, so that with it alone a length would still be found.
    found = size_array(
        LOAD, GROUND, KINDS["slinky_flat"], BRINE, 3.5, least_return=4.1, limits=FIXED
    )
    by = {each.of: each.longest for each in found.sensitivities}
    assert math.isinf(by["ground_temperature"])
    assert math.isfinite(by["load"])
    assert math.isinf(by["together"])


def test_more_load_at_the_same_flow_has_brine_as_cold_as_that_load_has_it() -> None:
    # In transition a little thicker brine has a much thicker film: 0.7 % was missed here.
    ground = GroundConditions(3.23, 2.19e6, SurfaceTemperature(12.9, 8.0), undisturbed=12.7)
    bore = BoreholeArray(P32, 0.09, 0.036, 1.2, spacing=7.0, deepest=200.0)
    thin = mixture("propylene_glycol", 0.217, "mass")

    def at(more: float) -> ArraySizing:
        load = AnnualHeat(more * 8.9e3, 4.3, 2900.0)
        return size_array(
            load, ground, bore, thin, more * 3.0, least_return=-1.5, limits=LoopLimits(loops=2)
        )

    by = {each.of: each.longest for each in at(1.0).sensitivities}
    assert by["load"] == pytest.approx(at(1.1).needed_length, rel=2e-4)


def test_water_near_freezing_is_tried_as_cold_as_it_is_liquid() -> None:
    fixed: dict[str, Any] = {"least_return": -3.0, "limits": LoopLimits(loops=4)}
    cold, liquid = (
        size_array(LOAD, GROUND, PondArray(P32, water), BRINE, 3.5, **fixed)
        for water in (0.5, 0.02)
    )
    by = {each.of: each.longest for each in cold.sensitivities}
    assert by["ground_temperature"] == pytest.approx(liquid.needed_length)
    assert by["ground_temperature"] > 1.01 * cold.needed_length


@pytest.mark.parametrize("kind", KINDS)
def test_other_limits_are_told_with_the_length_that_they_would_be_sized_to(kind: str) -> None:
    found = sized(kind, load=replace(LOAD, performance_slope=0.025), least_return=-1.0)
    rows = {each.limit: each for each in found.return_limits}
    assert list(rows) == [0.0, -1.0, -3.0, -5.0]
    assert rows[-1.0].length == found.needed_length
    # By hand: a kelvin of brine is 2.5 %.
    told = [each.performance for each in rows.values()]
    assert told == pytest.approx([0.025, 0.0, -0.05, -0.1])
    for limit in (0.0, -3.0):
        limits = LoopLimits(loops=found.loops if kind == "pond_mat" else None)
        then = sized(kind, least_return=limit, limits=limits)
        assert rows[limit].loops == then.loops
        assert rows[limit].length == pytest.approx(then.needed_length, rel=1e-4)


def test_no_performance_is_told_for_brine_that_does_not_come_so_cold_or_beyond_all_of_it() -> None:
    limits = LoopLimits(loops=6, largest_drop=1e6)
    load = replace(COOLED, performance_slope=0.025)
    found = sized("double", load=load, ground=replace(GROUND, undisturbed=10.0), most_return=18.0,
                  limits=limits)  # fmt: skip
    assert found.set_by == "upper"
    rows = {each.limit: each for each in found.return_limits}
    assert rows[-3.0].length == pytest.approx(found.needed_length, rel=2e-3)  # flow alone
    assert [each.performance for each in rows.values()] == [0.0, None, None]
    # By hand: 25 % for each of 3 and 5 K are 75 and 125 %.
    steep = sized(load=replace(LOAD, performance_slope=0.25))
    assert [each.performance for each in steep.return_limits] == [0.0, pytest.approx(-0.75), None]


def test_another_limit_is_told_in_the_loops_that_it_asks_for() -> None:
    # Six boreholes of 60 m at most for 0 °C, of which colder brine needs fewer.
    def at(limit: float) -> ArraySizing:
        return sized(choice=replace(BORE, deepest=60.0), least_return=limit)

    warm, cold = at(0.0), at(-3.0)  # at -5 °C the mixture would be another
    assert cold.loops < warm.loops
    for told, alone in ((warm, cold), (cold, warm)):
        (row,) = (each for each in told.return_limits if each.limit == alone.limit)
        assert row.loops == alone.loops
        assert row.length == pytest.approx(alone.needed_length, rel=1e-4)


def test_a_colder_limit_that_takes_more_length_tells_the_flow_that_its_brine_has() -> None:
    # The mixture that -3 °C asks for is thicker, and laminar where that for -1.5 °C is not.
    weak = mixture("propylene_glycol", 0.217, "mass")
    ground = GroundConditions(3.23, 2.19e6, SurfaceTemperature(12.9, 8.0), undisturbed=12.7)
    bore = BoreholeArray(P32, 0.09, 0.036, 1.2, spacing=7.0, deepest=200.0)

    def size(mix: Mixture) -> ArraySizing:
        return size_array(
            AnnualHeat(8.9e3, 4.3, 2900.0), ground, bore, mix, 3.0,
            least_return=-1.5, limits=LoopLimits(loops=2),
        )  # fmt: skip

    rows = {each.limit: each for each in size(weak).return_limits}
    asked, colder = rows[-1.5], rows[-3.0]
    assert asked.reynolds is not None
    assert colder.reynolds is not None
    assert colder.length > asked.length
    # Gnielinski 2013: laminar to 2300.
    assert colder.reynolds < 2300.0 < asked.reynolds
    # Too weak itself: the row is of the mixture that it names.
    assert asked.mixture is not None
    found = size(asked.mixture)
    assert asked.reynolds == pytest.approx(found.hydraulics.reynolds, rel=0.02)
    assert asked.length == pytest.approx(found.needed_length, rel=1e-4)
    assert asked.length > 1.02 * size(weak).needed_length


def test_antifreeze_for_a_limit_is_the_weakest_that_keeps_its_margin() -> None:
    thin = mixture("ethylene_glycol", 0.15, "mass")
    found = size_array(LOAD, GROUND, KINDS["trench"], thin, 3.5, least_return=0.0)
    for row in found.return_limits:
        assert row.mixture is not None
        going = row.limit - 3.5

        def left(strength: float, coldest: float = going) -> float:
            made = mixture("ethylene_glycol", strength, "mass")
            return freezing_margin(made, coldest) - freezing_spread(made)

        assert left(row.mixture.mass_fraction) >= 3.0
        assert left(row.mixture.mass_fraction - 1.1e-3) < 3.0
        # Ethylene glycol in water: -3.2, -7.8 and -14.1 °C at 10, 20 and 30 % by mass (ASHRAE
        # Handbook Fundamentals, from memory); with 3 K and the spread of publications in hand.
        warmest = np.interp(row.mixture.mass_fraction, [0.1, 0.2, 0.3], [-3.2, -7.8, -14.1])
        assert warmest <= going - 2.5
    strong = replace(KINDS["trench"])
    coldest = found.return_limits[-1]
    again = size_array(
        LOAD, GROUND, strong, coldest.mixture or thin, 3.5,
        least_return=-5.0, limits=LoopLimits(loops=coldest.loops),
    )  # fmt: skip
    assert coldest.length == pytest.approx(again.needed_length, rel=1e-4)


def test_a_limit_that_no_antifreeze_or_ground_keeps_has_no_length() -> None:
    warm = GroundConditions(1.5, 2.2e6, SurfaceTemperature(20.0, 6.0))
    water = size_array(LOAD, warm, KINDS["trench"], mixture("water", 0.0, "mass"), 3.5,
                       least_return=7.0)  # fmt: skip
    asked, *colder = water.return_limits
    assert (asked.limit, asked.length, asked.mixture is None) == (7.0, water.needed_length, False)
    assert all(math.isinf(each.length) and each.mixture is None for each in colder)
    cold = GroundConditions(1.5, 2.2e6, SurfaceTemperature(3.0, 8.0))
    icy = sized("trench", ground=cold, least_return=-6.0)
    assert math.isinf(icy.return_limits[0].length)
    assert math.isfinite(icy.return_limits[-1].length)


def test_loops_keep_the_drop_and_pipe_length_asked_for() -> None:
    loose = sized(limits=LoopLimits(largest_drop=60e3))
    tight = sized(limits=LoopLimits(largest_drop=5e3))
    assert loose.hydraulics.drop <= 60e3
    assert tight.hydraulics.drop <= 5e3
    assert tight.loops > loose.loops
    short = sized(limits=LoopLimits(longest_pipe=150.0))
    assert short.loop.length <= 150.0


def test_more_loops_carry_less_flow_each_and_their_poorer_film_costs_length() -> None:
    straight = [sized("trench", limits=LoopLimits(loops=n), plot=Plot(spacing=20.0))
                for n in (1, 8)]  # fmt: skip
    assert straight[0].hydraulics.reynolds > 2300.0 > straight[1].hydraulics.reynolds
    assert straight[1].resistance.film > 2.0 * straight[0].resistance.film
    assert straight[1].needed_length > straight[0].needed_length


def test_a_film_in_transition_is_told_with_the_length_of_a_laminar_one() -> None:
    far = Plot(spacing=20.0)
    found, slow = (sized("trench", limits=LoopLimits(loops=n), plot=far) for n in (2, 8))
    (told,) = [each for each in found.findings if each.code == "transition_film"]
    assert told.severity == "warning"
    assert not [each for each in slow.findings if each.code == "transition_film"]
    # By hand: the laminar film is 1/(pi k 48/11) in both, and lengths go with resistances.
    more = float(told.message.split(" m, ")[1].split(" %")[0]) / 100.0
    assert found.history is not None
    part = found.history.limiting
    falls = part.fall_from_months + part.fall_from_peak + part.fall_through_pipe
    pipe = found.resistance.film + found.resistance.wall
    by_hand = part.fall_through_pipe / falls * (slow.resistance.film - found.resistance.film) / pipe
    assert more == pytest.approx(by_hand, abs=0.01)  # told in whole per cent


def test_the_site_is_checked_where_it_is_given() -> None:
    assert sized().site.fits is None
    small, large = sized(plot=Plot(area=500.0)), sized(plot=Plot(length=90.0, width=50.0))
    assert small.site.fits is False
    assert large.site.fits is True
    assert "site_too_small" in [f.code for f in small.findings]
    # By hand: n trenches, each as wide as its 1 m coils of 32 mm pipe, at 5 m centres need
    # (n - 1) 5 + 1.032 + 5 m by their length + 5 m.
    across = 5.0 * small.loops + 1.032
    assert small.site.area_needed == pytest.approx(across * (small.length_each + 5.0))
    long = sized(plot=Plot(length=40.0, width=100.0))
    assert 35.0 < long.length_each <= 95.0  # trenches along the longer side
    assert long.site.fits is True
    narrow = sized(plot=Plot(length=40.0, width=40.0))
    assert narrow.length_each <= 35.0
    assert sized(plot=Plot(max_trench=100.0)).site.fits is False


def test_a_soil_class_gives_its_ground_and_its_doubt() -> None:
    clay = ground_of_soil("clay", SURFACE)
    found = size_array(LOAD, clay, KINDS["slinky_flat"], BRINE, 3.5)
    assert "ground_values" in [f.code for f in found.findings]
    # Mats lie in the water; what the ground conducts is not looked at.
    mats = size_array(LOAD, clay, KINDS["pond_mat"], BRINE, 3.5)
    assert "ground_values" not in [f.code for f in mats.findings]


@pytest.mark.parametrize("kind", KINDS)
def test_every_finding_code_is_listed_and_people_are_warned(kind: str) -> None:
    for found in (sized(kind), sized(kind, rate=ExtractionRate(40.0, "pipe", 1800.0))):
        assert {f.code for f in found.findings} <= set(FINDING_CODES)
        assert any("collapse" in caution for caution in found.cautions)
        assert found.notes


def test_a_bold_rate_is_followed_and_found_out() -> None:
    found = sized(rate=ExtractionRate(40.0, "trench", 1800.0, "invented table"))
    codes = [f.code for f in found.findings]
    assert {"return_below_limit", "rate_below_conduction", "rate_hours"} <= set(codes)
    assert found.total_length < found.needed_length
    assert found.peak_per_metre == pytest.approx(40.0, rel=0.05)  # whole coils


def test_a_rate_that_would_freeze_the_brine_is_an_error_and_does_not_split() -> None:
    found = sized("borehole", rate=ExtractionRate(90.0, "borehole"))
    assert found.findings[0].code == "freezing_margin_thin"
    assert found.findings[0].severity == "error"
    assert found.duty.to_ground_temperature == found.coldest_going
    with pytest.raises(RangeError, match="freezing point"):
        flow_split(found.circuit, Plant(), BRINE, found.duty)


def test_no_more_loops_are_looked_for_than_allowed() -> None:
    tight = LoopLimits(largest_drop=5e3)
    needed = sized(limits=tight).loops
    assert sized(limits=replace(tight, most_loops=needed)).loops == needed
    with pytest.raises(NoSolutionError, match=f"more than {needed - 1} loops"):
        sized(limits=replace(tight, most_loops=needed - 1))
    with pytest.raises(InputError, match="looked for"):
        LoopLimits(loops=9, most_loops=8)


def test_a_trench_is_as_long_as_it_is_written() -> None:
    each = sized("trench").length_each
    assert each == float(f"{each:.1f}")


def test_a_rate_that_no_water_gives_is_refused_and_a_timid_one_comes_back_at_the_water() -> None:
    large = replace(LOAD, output=800e3)
    with pytest.raises(InputError) as caught:
        sized("pond_mat", load=large, rate=ExtractionRate(5000.0, "pipe"), limits=FIXED)
    assert caught.value.faults[0].field == "rate"
    timid = sized("pond_mat", rate=ExtractionRate(0.05, "pipe"), limits=FIXED)
    assert timid.coldest_return == pytest.approx(4.0, abs=0.01)


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"change": 0.0}, InputError, "temperature_change"),
        ({"years": 0}, InputError, "years"),
        ({"least_return": float("nan")}, InputError, "least_return"),
        ({"least_return": 7.0}, NoSolutionError, "least_return"),
        ({"rate": ExtractionRate(20.0, "borehole")}, InputError, "per"),
        ({"kind": "borehole", "least_return": 12.0}, NoSolutionError, "least_return"),
        ({"kind": "pond_mat", "least_return": 4.0}, NoSolutionError, "least_return"),
        ({"limits": LoopLimits(largest_drop=1e-3)}, NoSolutionError, "loops"),
    ],
)
def test_what_cannot_be_is_refused_by_name(
    change: dict[str, Any], error: type[Exception], field: str
) -> None:
    with pytest.raises(error) as caught:
        sized(**change)
    assert isinstance(caught.value, InputError | NoSolutionError)
    assert field in [fault.field for fault in caught.value.faults]


def test_ground_no_warmer_than_the_limit_is_too_cold_whatever_the_brines_rise() -> None:
    # No swing: 10 °C at every depth; heat runs from warm to cold, so none comes back at 10 °C.
    still = replace(GROUND, surface=SurfaceTemperature(10.0, 0.0))
    with pytest.raises(NoSolutionError) as caught:
        sized(choice=replace(BORE, rows=1), ground=still, change=2.0, least_return=10.0)
    (fault,) = caught.value.faults
    assert fault.field == "least_return"
    assert "undisturbed ground is at 10.00 °C" in fault.message
    assert fault.allowed == "8.9 °C or less"
    told = sized(choice=replace(BORE, rows=1), ground=still, change=2.0, least_return=8.9)
    assert told.margin >= -1e-3
    with pytest.raises(NoSolutionError) as caught:
        sized("trench", ground=still, change=2.0, least_return=10.0)
    assert caught.value.faults[0].field == "least_return"
    assert "falls to 10.00 °C" in caught.value.faults[0].message
    assert "no warmer than that" in caught.value.faults[0].message
    assert sized("trench", ground=still, change=2.0, least_return=9.5).margin >= 0.0


@pytest.mark.parametrize("kind", BURIED)
@pytest.mark.parametrize("output", [8e3, 13e3, 40e3, 160e3])
def test_no_fewer_loops_would_do(kind: str, output: float) -> None:
    load = replace(LOAD, output=output, hot_water=output / 8e3 * LOAD.hot_water)
    tight = LoopLimits(largest_drop=20e3)
    site = Plot(length=1000.0, width=1000.0)
    found = sized(kind, load=load, limits=tight, plot=site)
    assert found.hydraulics.drop <= 20e3
    assert found.loops > 1
    for fewer in {found.loops - 1, found.loops * 2 // 3}:
        try:
            less = sized(kind, load=load, limits=replace(tight, loops=fewer), plot=site)
        except NoSolutionError:  # no borehole up to three times the greatest depth does
            assert kind in {"borehole", "double"}
            continue
        assert (
            less.hydraulics.drop > 20e3
            or less.loop.length > 300.0 * (1.0 + 1e-9)  # the longest coil
            or less.length_each > 150.0  # the deepest borehole
        )


@pytest.mark.parametrize("output", [9.3e3, 9.4e3, 31e3])
def test_mats_are_the_least_that_keep_the_limits(output: float) -> None:
    load = replace(LOAD, output=output, hot_water=output / 8e3 * LOAD.hot_water)
    found = sized("pond_mat", load=load)
    whole = range(1, 80)
    each = [sized("pond_mat", load=load, limits=LoopLimits(loops=n)) for n in whole]
    fit = [one.total_length for one in each
           if one.hydraulics.drop <= 30e3 and one.loop.length <= 300.0]  # fmt: skip
    assert found.total_length == pytest.approx(min(fit))
    assert found.loops == next(
        one.loops for one in each if one.total_length == pytest.approx(found.total_length)
        and one.hydraulics.drop <= 30e3
    )  # fmt: skip


def test_a_per_cent_more_load_takes_no_more_than_a_mat_or_two() -> None:
    mats = [
        sized("pond_mat", load=replace(LOAD, output=output)).total_length
        for output in np.geomspace(8e3, 9.8e3, 21)
    ]
    step = KINDS["pond_mat"].step
    assert max(np.diff(mats)) < 2.5 * step


def test_every_number_of_trenches_that_fits_the_plot_is_tried() -> None:
    # 26.2 m x 50 m with borders of 2.5 m takes 5 trenches of 45 m side by side, or 10 of 21.2 m.
    load = replace(LOAD, output=6000.0, hot_water=0.0)
    loose = LoopLimits(largest_drop=100e3)
    free = sized(load=load, limits=loose)
    assert free.loops * free.length_each < 5 * 45.0
    plot = Plot(length=26.2, width=50.0, border=2.5, spacing=5.0)
    found = sized(load=load, limits=loose, plot=plot)
    assert found.site.fits is True
    assert found.loops <= 5
    # One long trench has no room in a square plot; more and shorter ones have.
    few = sized(load=load, limits=loose, plot=Plot(area=1e6))
    square = sized(load=load, limits=loose, plot=Plot(length=30.0, width=45.0, border=2.5))
    assert square.site.fits is True
    assert square.loops > few.loops


def test_a_loop_is_cut_from_one_coil_on_offer() -> None:
    for longest in (100.0, 200.0, 300.0):
        found = sized("trench", limits=LoopLimits(tail=10.0), coils=(50.0, longest))
        assert found.loop.length <= longest
        assert "no_coil_long_enough" not in [each.code for each in found.findings]
    # Tails that no coil holds are told, and nothing is divided for them.
    tails = sized("trench", limits=LoopLimits(tail=30.0, largest_drop=1e6), coils=(50.0,))
    assert "no_coil_long_enough" in [each.code for each in tails.findings]


LARGE = AnnualHeat(60_000.0, 3.6, 1800.0)


def test_more_than_eight_boreholes_are_told_how_they_stand() -> None:
    with pytest.raises(InputError) as refused:
        sized("borehole", LARGE)
    (fault,) = refused.value.faults
    assert fault.field == "choice.rows"
    block, sides = (
        size_array(LARGE, GROUND, told, BRINE, 3.5, limits=LoopLimits(loops=20))
        for told in (replace(BORE, rows=3), replace(BORE, perimeter=True))
    )
    # The more open a field, the less it needs (Eskilson 1987).
    assert sides.needed_length < block.needed_length
    # Five across 34 m less its borders, in four rows.
    on_plot = sized("borehole", LARGE, plot=Plot(24.0, 34.0), limits=LoopLimits(loops=20))
    assert (on_plot.site.length, on_plot.site.width) == (29.0, 23.0)
    assert on_plot.site.fits


@pytest.mark.parametrize(
    ("bores", "rows", "told"),
    [
        (8, 3, None),
        # By hand: of three by three the middle of the side that closes the way round.
        (7, 3, "12 m by 12 m, 6 m apart; along a side of 12 m, 6 m from a corner, one place stays"),
        # Of two by five the two that lie before the first.
        (7, 5, "6 m by 24 m, 6 m apart; along a side of 24 m, 6 m to 18 m from a corner, 3 places"),
        (3, 5, None),  # a line
    ],
)
def test_a_place_round_a_field_that_no_borehole_takes_is_told(
    bores: int, rows: int, told: str | None
) -> None:
    round_it = replace(BORE, perimeter=True, rows=rows)
    found = sized(choice=round_it, limits=LoopLimits(loops=bores))
    note = next((each for each in found.notes if "along the sides" in each), None)
    assert (note is None) == (told is None)
    assert told is None or (note is not None and told in note)


def test_boreholes_at_given_places_are_sized_as_they_stand() -> None:
    rows = replace(BORE, rows=2)
    grid = tuple((6.0 * (n % 3) + 40.0, 6.0 * (n // 3)) for n in range(6))
    placed = replace(BORE, positions=grid)
    as_rows = size_array(LOAD, GROUND, rows, BRINE, 3.5, limits=LoopLimits(loops=6))
    as_placed = size_array(LOAD, GROUND, placed, BRINE, 3.5)
    assert as_placed.loops == 6
    assert as_placed.needed_length == pytest.approx(as_rows.needed_length, rel=1e-9)
    wide = tuple((3.0 * x, 3.0 * y) for x, y in grid)
    spread = size_array(LOAD, GROUND, replace(placed, positions=wide), BRINE, 3.5)
    assert spread.needed_length < as_placed.needed_length
    with pytest.raises(InputError, match="6 places are given") as refused:
        size_array(LOAD, GROUND, placed, BRINE, 3.5, limits=LoopLimits(loops=5))
    assert refused.value.faults[0].field == "loops"
    near = (*grid, (40.05, 0.0))
    with pytest.raises(InputError, match="overlap") as refused:
        size_array(LOAD, GROUND, replace(placed, positions=near), BRINE, 3.5)
    assert refused.value.faults[0].field in {"coordinates.0", "coordinates.6"}


def test_measured_values_of_a_response_test_take_the_place_of_the_computed() -> None:
    """What a model computes, entered as if measured, gives the same array."""
    plain = replace(GROUND, surface=SurfaceTemperature(11.0, 0.0))
    computed = sized("borehole", ground=plain, limits=FIXED)
    effective = computed.resistance.borehole_effective
    test = replace(BORE, half_shank_spacing=None, grout_conductivity=None, resistance=effective)
    cold = replace(plain, undisturbed=11.0, geothermal_gradient=0.05)
    measured = size_array(LOAD, cold, test, BRINE, 3.5, limits=FIXED)
    assert measured.history is not None
    assert measured.history.limiting.undisturbed == 11.0
    # The resistance that is told is that of the coldest brine as laid; films are read in a table.
    assert measured.coldest_return == pytest.approx(computed.coldest_return, abs=1e-5)
    assert measured.resistance.borehole_local is None
    assert measured.resistance.borehole_effective == effective
    # Laminar film of this array, to Re 2300 (Gnielinski 2013): a test with water reads too low.
    assert measured.hydraulics.reynolds < 2300.0
    (said,) = [each for each in measured.findings if each.code == "measured_resistance"]
    assert said.severity == "warning"
    # Two pipes beside one another: half of each one's film is the borehole's.
    film = measured.resistance.film
    assert f"is {film:.3f} m K/W in each pipe, {film / 2.0:.3f} of the borehole" in said.message
    told = size_array(LOAD, cold, replace(test, own_film=True), BRINE, 3.5, limits=FIXED)
    assert told.needed_length == measured.needed_length
    (said,) = [each for each in told.findings if each.code == "measured_resistance"]
    assert (said.severity, "with the film of this array" in said.message) == ("info", True)
    # Whatever its flow, no film of this array is counted, and no finding says that one is.
    assert not {"laminar_film", "transition_film"} & {each.code for each in measured.findings}
    worse = size_array(LOAD, cold, replace(test, resistance=0.2), BRINE, 3.5, limits=FIXED)
    assert worse.needed_length > measured.needed_length
    middle = BORE.buried + measured.needed_length / 4 / 2.0  # of four, with any gradient
    logged = replace(cold, undisturbed=None, profile=((middle, 11.0),))
    assert size_array(LOAD, logged, test, BRINE, 3.5, limits=FIXED).needed_length == pytest.approx(
        measured.needed_length, rel=1e-6
    )
    with pytest.raises(InputError) as caught:
        replace(BORE, grout_conductivity=None)
    assert caught.value.faults[0].field == "grout_conductivity"
    with pytest.raises(InputError, match="deeper and deeper") as caught:
        replace(GROUND, profile=((5.0, 11.0), (5.0, 12.0)))
    assert caught.value.faults[0].field == "profile.1.depth"


def test_the_months_of_the_air_share_the_heat_and_make_the_wave() -> None:
    air = (4.0, 4.0, 6.0, 9.0, 12.0, 16.0, 18.0, 18.0, 14.0, 11.0, 7.0, -3.0)
    found = sized(ground=replace(GROUND, surface=wave_of_air(air)))
    assert np.argmax(found.draw.monthly) == 11  # an odd December
    assert "months of the air" in found.draw.profile


COOLED = replace(LOAD, cooling=Cooling((0.0,) * 5 + (2e9, 3e9, 3e9) + (0.0,) * 4, 12e3, 4.0))


@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("trench", {"limits": LoopLimits(loops=5, largest_drop=1e6)}),
        ("slinky_upright", {"limits": LoopLimits(loops=3, largest_drop=1e6)}),
        ("double", {"limits": LoopLimits(loops=6, largest_drop=1e6)}),
        ("trench", {"rate": ExtractionRate(16.0, "pipe"), "limits": FIXED}),  # far below its limit
    ],
)
def test_every_month_of_the_life_has_the_film_of_its_own_brine(
    kind: str, options: dict[str, Any]
) -> None:
    """By hand: film and wall by their own functions, which are checked elsewhere, at that mean."""
    found = sized(kind, load=COOLED, most_return=20.0, years=3, **options)
    history, choice = found.history, KINDS[kind]
    assert history is not None
    flow = found.draw.greatest / fluid(BRINE, -1.75).specific_heat / 3.5 / found.loops
    part = history.limiting
    mean = part.undisturbed - part.fall_from_months - part.fall_from_peak - part.fall_through_pipe
    returning = history.returning if part.limit == "lower" else history.warm_returning
    going = history.going if part.limit == "lower" else history.warm_going
    at = (part.year - 1, (part.month - found.draw.first_month) % 12)
    mean = min(mean, 0.5 * (returning[at] + going[at]))
    draw = found.draw.peak if part.limit == "lower" else -found.draw.cold_peak
    resistance = part.fall_through_pipe * found.total_length / draw

    def by_hand(brine: Fluid) -> float:
        if isinstance(choice, BoreholeArray):
            inside = sum(film_and_wall(choice.pipe, brine, flow / 2.0))
            section: CrossSection = {
                "borehole_radius": choice.borehole_radius,
                "pipe_outer_radius": choice.pipe.outside_diameter / 2.0,
                "half_shank_spacing": choice.half_shank_spacing or 0.0,
                "grout_conductivity": choice.grout_conductivity or 0.0,
                "ground_conductivity": GROUND.conductivity,
                "pipe_resistance": inside,
            }
            return effective_resistance(
                local_resistance(2, **section), internal_resistance(2, **section),
                found.length_each, flow * brine.specific_heat,
            )  # fmt: skip
        if isinstance(choice, SlinkyArray):  # rings of a metre at a metre's pitch draw it all
            return sum(film_and_wall(choice.pipe, brine, flow, choice.pipe.bore)) / math.pi
        return sum(film_and_wall(choice.pipe, brine, flow)) / choice.gathering_pipe

    # Properties are read between temperatures some 2 K apart.
    assert resistance == pytest.approx(by_hand(fluid(BRINE, mean)), rel=5e-3)


def test_no_month_is_told_better_than_with_the_film_of_its_limit() -> None:
    """Brine between its limits has a film between theirs; beyond one, a worse or a better."""
    limits = LoopLimits(loops=6, largest_drop=1e6)
    mild = sized("double", load=COOLED, most_return=20.0, limits=limits)
    history = mild.history
    assert history is not None
    assert history.warmest_return is not None
    assert history.limiting.limit == "upper"
    assert history.warmest_return == pytest.approx(20.0, abs=0.1)  # rounded up to whole metres
    # A far warmer upper limit thins the film that the length is found with, not that of the brine.
    loose = sized("double", load=COOLED, most_return=40.0, limits=limits,
                  rate=ExtractionRate(mild.draw.peak / mild.total_length, "borehole"))  # fmt: skip
    assert loose.history is not None
    assert loose.total_length == pytest.approx(mild.total_length)
    assert loose.history.warm_returning == pytest.approx(history.warm_returning, abs=5e-3)


def test_transition_of_warm_brine_is_warned_of_where_the_upper_limit_governs() -> None:
    def found(loops: int) -> tuple[float, list[str]]:
        limits = LoopLimits(loops=loops, largest_drop=1e6)
        sizing = sized("double", load=COOLED, most_return=20.0, limits=limits)
        told = [each.message for each in sizing.findings if each.code == "transition_film"]
        return sizing.needed_length, told

    # Re 2,577 at the warmest, laminar at the coldest: both films are told.
    length, (told,) = found(6)
    longer = float(told.split("Should it stay laminar, ")[1].split(" m")[0])
    assert longer > 1.03 * length
    assert not found(14)[1]  # laminar in either


@pytest.mark.parametrize(
    ("kind", "loops", "governed", "same"),
    [
        # Winter's film, while summer sets the length and while summer has no say.
        ("trench", 4, {"most_return": 24.0}, {"most_return": 40.0}),
        ("borehole", 4, {"most_return": 24.0}, {"most_return": 40.0}),
        # Summer's film, while winter sets the length and while winter has no say.
        ("double", 5, {"most_return": 23.0}, {"most_return": 23.0, "least_return": -2.0}),
    ],
)
def test_transition_is_looked_for_at_the_limit_that_does_not_set_the_length(
    kind: str, loops: int, governed: dict[str, Any], same: dict[str, Any]
) -> None:
    def told(options: dict[str, Any]) -> tuple[str, float]:
        limits = LoopLimits(loops=loops, largest_drop=1e7)
        found = sized(kind, load=COOLED, limits=limits, **options)
        (message,) = [each.message for each in found.findings if each.code == "transition_film"]
        assert found.history is not None
        asked = float(message.split("Should it stay laminar, ")[1].split(" m")[0])
        return found.history.limiting.limit, asked

    (one, longer), (other, as_long) = told(governed), told(same)
    assert one != other
    # Metres are told whole; brine of another limit has another heat capacity, and flow.
    assert longer == pytest.approx(as_long, rel=5e-3)


@pytest.mark.parametrize(
    ("kind", "loops"), [("double", 2), ("borehole", 4), ("trench", 4), ("slinky_flat", 4)]
)
def test_the_resistance_told_is_that_of_the_coldest_brine_whichever_limit_governs(
    kind: str, loops: int
) -> None:
    """By hand, at its mean at the peak; the Reynolds number beside it is of the same."""
    limits = LoopLimits(loops=loops, largest_drop=1e7, largest_velocity=9.0)
    found = sized(kind, load=COOLED, most_return=21.0, limits=limits)
    history, choice = found.history, KINDS[kind]
    assert history is not None
    assert history.limiting.limit == "upper"
    brine = fluid(BRINE, found.coldest_going + 0.5 * found.duty.temperature_change)
    tubes = getattr(choice, "u_tubes", 1)
    flow = (
        found.draw.greatest
        / (fluid(BRINE, -0.5 * found.duty.temperature_change).specific_heat * 3.5)
        / loops
        / tubes
    )
    reynolds = 4.0 * flow / (math.pi * choice.pipe.bore * brine.viscosity)
    assert found.hydraulics.reynolds == pytest.approx(reynolds, rel=5e-3)  # another heat capacity
    curvature = choice.pipe.bore if kind == "slinky_flat" else 0.0  # coils of a metre
    film, wall = film_and_wall(choice.pipe, brine, flow, curvature)
    assert found.resistance.film == pytest.approx(film, rel=1e-6)
    assert found.resistance.wall == pytest.approx(wall)


@pytest.mark.parametrize(
    ("most_return", "per_metre", "laid_by", "set_by"),
    [(25.0, 60.0, "upper", 0.0), (22.0, 60.0, "upper", 22.0), (22.0, 3.0, "lower", 22.0)],
)
def test_the_limit_that_set_the_needed_length_is_named_whatever_a_rate_lays(
    most_return: float, per_metre: float, laid_by: str, set_by: float
) -> None:
    """A bold rate misses the one limit by more, a timid one comes nearer to the other."""
    limits = LoopLimits(loops=6, largest_drop=1e7)
    rate = ExtractionRate(per_metre, "borehole")
    found = sized("double", load=COOLED, most_return=most_return, rate=rate, limits=limits)
    assert found.history is not None
    assert found.history.limiting.limit == laid_by
    assert found.governing_limit == set_by
    told = _codes(found).get("rate_below_conduction", "")
    assert (f"m to keep the return at {set_by:g} °C" in told) is (per_metre == 60.0)


def test_a_sizing_warns_of_boreholes_closer_than_they_should_stand() -> None:
    # VDI 4640-2:2001 (read in a reproduction): 6 m to 100 m deep, 5 m to 50 m.
    close = "bore_centres_close"
    assert close in _codes(sized("borehole", limits=FIXED, choice=replace(BORE, spacing=5.9)))
    assert close not in _codes(sized("borehole", limits=FIXED, choice=replace(BORE, spacing=6.0)))
    wide = ((0.0, 0.0), (9.0, 0.0), (0.0, 9.0))
    placed = replace(BORE, positions=(*wide, (9.3, 0.0)))
    told = _codes(sized("borehole", limits=FIXED, choice=placed))
    assert "at 0.3 m centres" in told[close]
    shallow = sized("borehole", limits=LoopLimits(loops=7), choice=replace(BORE, spacing=5.0))
    assert shallow.length_each < 49.0
    assert close not in _codes(shallow)
    alone = sized("borehole", limits=LoopLimits(loops=1, largest_drop=1e6))
    assert close not in _codes(alone)


@pytest.mark.parametrize(
    ("most_return", "loops", "at", "counted"),
    [
        (22.0, 5, "with brine at its coldest)", "in what the limit of 0 °C asks for; that of "
         "22 °C, where it is not laminar, sets the length needed."),
        (24.0, 5, "with brine at its coldest)", "in the length needed."),
        (22.0, 14, "with brine at its warmest)", "in the length needed."),
    ],
)  # fmt: skip
def test_a_laminar_film_is_told_with_its_season_and_whether_it_is_in_the_length(
    most_return: float, loops: int, at: str, counted: str
) -> None:
    limits = LoopLimits(loops=loops, largest_drop=1e6)
    told = _codes(sized("double", load=COOLED, most_return=most_return, limits=limits))
    assert at in told["laminar_film"]
    assert told["laminar_film"].endswith(f"its resistance is counted {counted}")


def test_the_note_tells_on_which_day_the_ground_is_taken() -> None:
    both = " ".join(sized("borehole", load=COOLED, limits=FIXED).notes)
    assert "on the coldest day of the year" in both
    assert "gradient given; against the upper limit, on the warmest." in both
    assert "gradient given." in " ".join(sized("borehole", limits=FIXED).notes)


@pytest.mark.parametrize(
    ("limits", "field", "remedy"),
    [
        ({"least_return": 10.4}, "least_return", "lower the limit, or put more back"),
        ({"least_return": 0.0, "most_return": 9.5}, "most_return", "raise the limit, or draw more"),
    ],
)
def test_a_limit_beyond_the_ground_itself_is_not_said_to_want_more_boreholes(
    limits: dict[str, Any], field: str, remedy: str
) -> None:
    ground = replace(GROUND, undisturbed=10.0)
    with pytest.raises(NoSolutionError) as refused:
        sized("borehole", load=COOLED, ground=ground, limits=FIXED, **limits)
    (fault,) = refused.value.faults
    assert fault.field == field
    assert "undisturbed ground is at 10.00 °C" in fault.message
    assert remedy in fault.message
    assert "Use more boreholes" not in fault.message


@pytest.mark.parametrize(("months", "told"), [((9,), True), ((1, 2), False), ((), False)])
def test_a_peak_that_falls_in_another_month_than_the_coldest_is_noted(
    months: tuple[int, ...], told: bool
) -> None:
    load = replace(_by_month(), peak_months=months)
    found = size_array(load, GROUND, KINDS["trench"], BRINE, 3.5, limits=FIXED)
    assert found.history is not None
    colder = float(found.history.going.min()) - found.coldest_going
    assert colder > -1e-9
    assert any("told to fall in others" in note for note in found.notes) is (colder > 0.05) is told


def test_where_no_length_does_all_limits_are_named() -> None:
    told = _codes(sized("double", load=COOLED, most_return=9.9, limits=FIXED,
                        rate=ExtractionRate(60.0, "borehole")))  # fmt: skip
    assert (
        "no length of these loops to keep the return between 0 and 9.9 °C"
        in (told["rate_below_conduction"])
    )
    assert "keeps the return between 0 and 9.9 °C" in told["length_not_found"]


def _codes(found: ArraySizing) -> dict[str, str]:
    return {each.code: each.message for each in found.findings}


def test_coils_in_transition_change_the_length_by_a_hundredth_at_most() -> None:
    """Between Schmidt's critical Re and 22,000 a laminar film is hardly worse."""
    limits = LoopLimits(loops=1, largest_drop=1e6, largest_velocity=9.0)
    found = sized("slinky_flat", change=1.5, limits=limits)
    reynolds, brine = found.hydraulics.reynolds, fluid(BRINE, -0.75)
    assert 6200.0 < reynolds < 22_000.0
    laminar = manlapaz_churchill_1981(reynolds, brine.prandtl, P32.bore / 1.0)
    more = float(film_resistance(laminar, brine.conductivity)) - found.resistance.film
    assert more > 0.0
    # Per metre of trench, against what the whole resistance leaves from ground to brine.
    assert found.history is not None
    part = found.history.limiting
    further = found.draw.peak / found.total_length * more / math.pi  # rings of a metre, alone
    falls = part.fall_from_months + part.fall_from_peak + part.fall_through_pipe
    assert further / falls < 0.015


@settings(deadline=None, max_examples=15)
@given(
    kind=st.sampled_from(BURIED),
    output=st.floats(3000.0, 15_000.0),
    mean=st.floats(8.5, 13.0),
    loops=st.integers(2, 8),
)
def test_worse_ground_and_more_load_never_ask_for_less(
    kind: str, output: float, mean: float, loops: int
) -> None:
    """Whatever the film: in transition more flow would have hidden more load."""
    found = sized(
        kind,
        load=replace(LOAD, output=output),
        ground=replace(GROUND, surface=SurfaceTemperature(mean, 8.0)),
        limits=LoopLimits(loops=loops, largest_drop=1e7, largest_velocity=20.0),
    )
    first, colder, more, together = found.sensitivities
    assert colder.longest > found.needed_length
    assert 1.07 * found.needed_length < more.longest < 1.25 * found.needed_length
    assert together.longest > max(first.longest, colder.longest, more.longest)


@pytest.mark.parametrize("limit", [8.7, 9.3, 9.95])
def test_a_limit_close_under_the_ground_is_refused_with_one_that_is_kept(limit: float) -> None:
    """Heat alone is drawn: nothing is put back, and a limit told is one that is answered."""
    bore = replace(BORE, deepest=130.0, spacing=7.0, rows=1)
    ground = GroundConditions(2.4, 2.2e6, SURFACE)
    with pytest.raises(NoSolutionError) as caught:
        sized(choice=bore, ground=ground, least_return=limit)
    (fault,) = caught.value.faults
    assert fault.field == "least_return"
    assert "with the heat put back" not in fault.message
    (allowed,) = re.findall(r"^([\d.]+) °C or less$", fault.allowed)
    told = sized(choice=bore, ground=ground, least_return=float(allowed))
    assert told.coldest_return >= float(allowed) - 1e-3
    assert limit - 2.5 < float(allowed) < limit


def test_a_borehole_of_the_model_s_least_depth_says_so() -> None:
    # Twenty bores for 1 kW: a few metres each would do, and 5 m are the least that is looked at.
    small = replace(LOAD, output=1000.0, hot_water=0.0)
    limits = LoopLimits(loops=8)
    least = sized("borehole", load=small, limits=limits, least_return=-3.0)
    assert least.needed_length == 8 * 5.0
    assert any("shorter than 5 m" in note for note in least.notes)
    usual = sized("borehole", limits=limits)
    assert usual.needed_length > 8 * 5.0
    assert not any("shorter than 5 m" in note for note in usual.notes)


def test_ground_measured_at_0_c_is_told_as_measured() -> None:
    frozen = replace(GROUND, undisturbed=0.0)
    limits = LoopLimits(loops=8)
    found = size_array(LOAD, frozen, BORE, BRINE, 3.5, least_return=-5.0, limits=limits)
    assert any(note.startswith("Undisturbed ground as measured") for note in found.notes)


@pytest.mark.parametrize("loops", [3, 12])
def test_what_a_measured_ground_leaves_out_near_the_surface_is_told_for_its_depth(
    loops: int,
) -> None:
    """The damped wave over a depth H well below it: A d exp(-z/d)/(sqrt(2) H), d = sqrt(a P/pi)."""
    ground = GroundConditions(1.5, 2.2e6, SURFACE, undisturbed=11.0)
    found = sized("borehole", ground=ground, choice=replace(BORE, rows=1), limits=LoopLimits(loops))
    (said,) = [note for note in found.notes if note.startswith("Undisturbed ground as measured")]
    depth, colder = re.findall(r"these ([0-9]+) m is ([0-9.]+) K colder", said)[0]
    assert float(depth) == found.length_each
    damping = math.sqrt(1.5 / 2.2e6 * 365.25 * 86_400.0 / math.pi)
    wave = 8.0 * damping * math.exp(-1.0 / damping) / (math.sqrt(2.0) * found.length_each)
    assert float(colder) == pytest.approx(wave, abs=0.06)  # as printed


def test_recharge_is_said_to_have_no_peak() -> None:
    load = replace(LOAD, recharge=(0.0,) * 5 + (500.0 * 3.6e6,) * 3 + (0.0,) * 4)
    assert any(note.startswith("Recharge is counted") for note in sized(load=load).notes)
    assert not any(note.startswith("Recharge") for note in sized(load=COOLED).notes)


@pytest.mark.parametrize("kind", ["trench", "borehole"])
def test_loops_that_come_back_above_the_limit_keep_the_drop_too(kind: str) -> None:
    # Laminar at the coldest that is allowed, turbulent as they come back: that takes more.
    far = []
    for allowed in np.linspace(5e3, 60e3, 12):
        limits = LoopLimits(largest_drop=float(allowed))
        found = sized(kind, load=MOSTLY_COOLED, most_return=25.0, limits=limits, years=3)
        assert found.hydraulics.drop <= allowed
        fewer = replace(limits, loops=found.loops - 1)
        if fewer.loops:
            less = sized(kind, load=MOSTLY_COOLED, most_return=25.0, limits=fewer, years=3)
            far.append(less.hydraulics.drop / allowed)
    assert min(far) > 0.5  # no loops without reason: one fewer drops about as much as is allowed


MOSTLY_COOLED = replace(LOAD, cooling=Cooling((0.0,) * 5 + (8e9, 9e9, 9e9) + (0.0,) * 4, 12e3, 4.0))
