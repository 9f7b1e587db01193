"""A sized array at the flow of the pump that drives it."""

import math
import re
from dataclasses import replace

import pytest
from scipy.optimize import brentq

from hydraulics.findings import Finding
from hydraulics.fluid.mixture import fluid, freezing_point, mixture
from hydraulics.ground.pipe_heat import STRAIGHT_LAMINAR
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.shallow.pond import water_around_pipe
from hydraulics.sizing.array import size_array
from hydraulics.sizing.at_pump import Pumped, as_laid, findings_at_pump
from hydraulics.sizing.choice import (
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    PondArray,
    StraightArray,
)
from hydraulics.sizing.heat_load import AnnualHeat
from hydraulics.sizing.result import ArraySizing

BRINE = mixture("ethylene_glycol", 0.2, "mass")
LOAD = AnnualHeat(8000.0, 4.0, 1800.0)  # 6 kW from the ground; invented


def array(rate: ExtractionRate | None = None) -> ArraySizing:
    """Straight pipe whose flow is turbulent as it is sized."""
    return size_array(
        LOAD,
        GroundConditions(2.4, 2.4e6, SurfaceTemperature(12.0, 6.0)),
        StraightArray(pe_pipe("PE100 SDR11 40"), 1.2),
        BRINE,
        1.5,
        limits=LoopLimits(loops=2),
        rate=rate,
    )


def at(share: float) -> list[Finding]:
    """Findings at a share of the flow that the array is sized for."""
    sized = array()
    brine = fluid(BRINE, 0.5 * (sized.coldest_going + sized.coldest_return))
    flow = Pumped(share * 6000.0 / (1.5 * brine.specific_heat), brine, "that C gives")
    return list(findings_at_pump(sized, flow, flow, mixture=BRINE, margin=3.0))


def test_less_flow_whose_film_turns_laminar_freezes_sooner_than_the_change_alone_tells() -> None:
    assert array().hydraulics.reynolds > 4000.0
    told, frost, film = at(0.4)
    back = float(re.findall(r"comes back at (-?[0-9.]+) °C", told.message)[0])
    assert told.severity == "warning"
    assert back < array().coldest_return - 0.5
    assert (frost.code, frost.severity) == ("freezing_margin_thin", "warning")
    # Such a flow changes brine by 1.5/0.4 K.
    above = back - 3.75 - freezing_point(BRINE)
    assert float(re.findall(r"is ([0-9.]+) K above", frost.message)[0]) == pytest.approx(
        above, abs=0.06
    )
    assert film.code == "transition_film"
    # From the return that the array is sized for, the change alone would leave enough.
    assert array().coldest_return - 3.75 - freezing_point(BRINE) > 4.0


def test_a_film_in_transition_at_the_pumps_flow_may_be_laminar_and_the_array_too_short() -> None:
    told, film = at(0.5)
    # Half of Reynolds number 6195.
    assert (told.severity, film.code) == ("info", "transition_film")
    reynolds = float(re.findall(r"Reynolds number ([0-9]+)", film.message)[0])
    assert reynolds == pytest.approx(0.5 * array().hydraulics.reynolds, rel=0.03)
    # At a third it is laminar for certain, and needs about as much: such a film is the same at
    # any flow, and the brine's greater change helps by half of it, 0.75 of some 12 K.
    needed = float(re.findall(r"laminar, ([0-9]+) m", film.message)[0])
    carries = 6000.0 / 1.5 / 3.0
    brine = fluid(BRINE, -1.0)
    sure = array().at_change(6000.0 / carries)
    assert (
        4.0
        * 0.5
        * carries
        / brine.specific_heat
        / (math.pi * array().loop.pipe.bore * brine.viscosity)
        < STRAIGHT_LAMINAR
    )
    assert needed == pytest.approx(sure.needed_length, rel=0.1)
    assert needed > 1.2 * array().total_length
    assert "Take the 1.01 L/s that it is sized for" in film.message


def test_the_flow_that_is_sized_for_is_no_way_out_where_too_little_is_laid() -> None:
    sized = array()
    short = as_laid(sized, 2, 0.9 * sized.needed_length)
    brine = fluid(BRINE, 0.5 * (sized.coldest_going + sized.coldest_return))
    flow = Pumped(0.5 * 6000.0 / (1.5 * brine.specific_heat), brine, "of the duty")
    (film,) = [
        each
        for each in findings_at_pump(short, flow, flow, mixture=BRINE)
        if each.code == "transition_film"
    ]
    assert short.margin < 0.0
    assert film.message.endswith(" m. Take that length.")


def test_a_duty_of_less_flow_is_held_to_the_margin_above_freezing() -> None:
    """A pump's own finding holds its change to it; a duty has none."""
    sized = array()
    brine = fluid(BRINE, 0.5 * (sized.coldest_going + sized.coldest_return))
    flow = Pumped(0.9 * 6000.0 / (1.5 * brine.specific_heat), brine, "of the duty")
    for runs in (True, False):
        found = list(findings_at_pump(sized, flow, flow, mixture=BRINE, margin=8.0, runs=runs))
        frost = [each for each in found if each.code == "freezing_margin_thin"]
        assert len(frost) == (not runs)
    back = float(re.findall(r"comes back at (-?[0-9.]+) °C", found[0].message)[0])
    above = back - 1.5 / 0.9 - freezing_point(BRINE)
    assert float(re.findall(r"is ([0-9.]+) K above", frost[0].message)[0]) == pytest.approx(
        above, abs=0.06
    )


@pytest.mark.parametrize("metres", [300.0, 640.0])
def test_an_array_of_other_metres_is_told_for_what_it_has(metres: float) -> None:
    """As an extraction rate that lays as much finds it, by its own way."""
    sized = array()
    laid = as_laid(sized, 2, metres)
    rate = ExtractionRate(sized.draw.peak / metres, "trench")
    by_rate = array(rate)
    assert by_rate.total_length == pytest.approx(metres)
    assert laid.coldest_return == pytest.approx(by_rate.coldest_return, abs=1e-6)
    assert laid.margin == pytest.approx(by_rate.margin, abs=1e-6)
    assert laid.peak_per_metre_of_pipe == pytest.approx(by_rate.peak_per_metre_of_pipe)
    brine = fluid(BRINE, 0.0)
    flow = Pumped(1.5 * 6000.0 / (1.5 * brine.specific_heat), brine, "of the duty")
    told, *_ = findings_at_pump(laid, flow, flow, mixture=BRINE)
    # By the rate itself: what is below the limit is a warning, whoever laid so little.
    again, *_ = findings_at_pump(by_rate, flow, flow, mixture=BRINE)
    assert told.message == again.message
    assert (told.severity == "warning") is (metres < sized.total_length)


def test_metres_that_are_laid_are_not_rounded_up() -> None:
    sized = array()
    told = [as_laid(sized, 2, metres).coldest_return for metres in (400.0, 400.06, 400.2)]
    assert told[0] < told[1] < told[2]


def bores(
    resistance: float | None = None, *, own_film: bool = False, share: float = 1.0
) -> ArraySizing:
    """Three boreholes whose flow is turbulent at their own share, of grout or as measured."""
    return size_array(
        AnnualHeat(12000.0, 3.5, 1800.0),
        GroundConditions(2.2, 2.4e6, SurfaceTemperature(10.0, 8.0), undisturbed=11.0),
        BoreholeArray(
            pe_pipe("PE100 SDR11 40"),
            0.07,
            0.035 if resistance is None else None,
            1.5 if resistance is None else None,
            rows=1,
            resistance=resistance,
            own_film=own_film,
            deepest=300.0,
        ),
        mixture("potassium_formate", 0.2, "mass"),
        2.0 / share,
        limits=LoopLimits(loops=3, largest_drop=1e6, largest_velocity=5.0),
    )


@pytest.mark.parametrize("own_film", [True, False])
@pytest.mark.parametrize("share", [0.2, 0.25, 0.32])
def test_a_measured_resistance_at_less_flow_has_that_flow_s_film_and_exchange_of_legs(
    share: float, own_film: bool
) -> None:
    """By its twin of grout, whose multipole knows film and exchange at every flow."""
    grout = bores()
    assert grout.hydraulics.reynolds > 4000.0
    bore = grout.resistance.borehole_effective
    twin = as_laid(bores(bore, own_film=own_film), 3, grout.total_length)
    assert twin.coldest_return == pytest.approx(grout.coldest_return, abs=0.1)
    least, most = (of.at_change(2.0 / share).coldest_return for of in (grout, twin))
    # The legs exchange as if they were all the resistance between them: within a fifth of it.
    assert most == pytest.approx(least, abs=0.3)
    # A resistance that stays as it is would gain half of what more the brine changes.
    assert most < twin.coldest_return + 0.5 * 2.0 * (1.0 / share - 1.0) - 0.4


def test_more_flow_thins_the_film_of_this_array_and_not_that_of_a_test_unknown() -> None:
    own, test = (bores(0.14, own_film=own, share=0.3) for own in (True, False))
    assert own.hydraulics.reynolds < STRAIGHT_LAMINAR
    assert own.coldest_return == pytest.approx(test.coldest_return, abs=1e-9)
    more = [of.at_change(2.0).coldest_return for of in (own, test)]
    # The heat alone sets the mean of brine, which half its change stands above.
    assert more[1] == pytest.approx(test.coldest_return - 0.5 * (2.0 / 0.3 - 2.0), abs=1e-6)
    assert more[0] > more[1] + 1.0


@pytest.mark.parametrize("own_film", [True, False])
def test_a_measured_film_in_transition_may_stay_laminar_too(own_film: bool) -> None:
    grout = bores(share=0.45)
    assert STRAIGHT_LAMINAR < grout.hydraulics.reynolds < 4000.0
    twin = bores(grout.resistance.borehole_effective, own_film=own_film, share=0.45)
    asked = []
    for of in (grout, twin):
        (said,) = [each for each in of.findings if each.code == "transition_film"]
        asked.append(float(re.findall(r"laminar, ([0-9]+) m", said.message)[0]))
    assert asked[1] == pytest.approx(asked[0], rel=0.04)  # its resistance is of brine at its limit
    assert asked[1] > 1.1 * twin.needed_length


@pytest.mark.parametrize("share", [0.98, 1.5])
def test_at_about_its_own_flow_or_more_nothing_is_said_of_frost(share: float) -> None:
    assert [each.code for each in at(share)] == ["return_at_pump"]


def test_ice_on_a_mats_pipe_is_judged_at_the_flow_that_runs() -> None:
    """Less flow goes out colder: heat balance by hand of the pipe where the brine enters.

    The mat comes back warmer, so that nothing else tells it.
    """
    strong = mixture("ethylene_glycol", 0.35, "mass")
    pond = PondArray(pe_pipe("PE100 SDR11 32"), coldest_water=3.0)
    sized = size_array(
        LOAD,
        GroundConditions(2.4, 2.4e6, SurfaceTemperature(12.0, 6.0)),
        pond,
        strong,
        3.0,
        least_return=-2.0,
        limits=LoopLimits(loops=8),
    )
    assert sized.coldest_ground > 0.0
    brine = fluid(strong, 0.5 * (sized.coldest_going + sized.coldest_return))
    flow = Pumped(0.3 * 6000.0 / (3.0 * brine.specific_heat), brine, "of the duty")
    found = {each.code: each for each in findings_at_pump(sized, flow, flow, mixture=strong)}
    assert found["return_at_pump"].severity == "info"
    ice = found["ice_on_pipe"]
    assert ice.severity == "warning"
    assert ice.message.startswith(f"{flow.at}, the pipe's outside falls to")
    at_flow = sized.at_change(6000.0 / flow.carries)
    going = at_flow.coldest_return - 6000.0 / flow.carries
    film = at_flow.resistance

    def gains(outside: float) -> float:
        _, nusselt, conductivity = water_around_pipe(0.032, 3.0, outside)
        from_water = math.pi * float(nusselt * conductivity) * (3.0 - outside)
        return from_water - (outside - going) / (film.film + film.wall)

    # As printed.
    assert float(re.findall(r"falls to (-?[0-9.]+) °C", ice.message)[0]) == pytest.approx(
        brentq(gains, going, 3.0), abs=0.06
    )


def test_a_return_that_shows_beyond_its_limit_names_the_limit() -> None:
    """By as little as the decimals tell, it is said to be at it, and is no warning."""
    sized = array()
    brine = fluid(BRINE, 0.5 * (sized.coldest_going + sized.coldest_return))
    flow = Pumped(0.8 * 6000.0 / (1.5 * brine.specific_heat), brine, "of the duty")
    back = sized.at_change(sized.draw.greatest / flow.carries).coldest_return
    for beyond, severity, words in (
        (-0.01, "info", ""),
        (0.01, "info", ", at its limit of "),
        (0.03, "warning", ", below its limit of "),
    ):
        limited = replace(sized, limit=back + beyond)
        told = next(findings_at_pump(limited, flow, flow, mixture=BRINE))
        assert told.severity == severity
        assert words in told.message
        assert ("limit" in told.message) is bool(words)


def test_a_return_as_sized_is_not_told_to_be_another() -> None:
    told = at(1.0)[0].message
    assert "at its coldest, as at that flow." in told
