"""A sized array at the flow of the pump that drives it."""

import math
import re

import pytest

from hydraulics.findings import Finding
from hydraulics.fluid.mixture import fluid, freezing_point, mixture
from hydraulics.ground.pipe_heat import STRAIGHT_LAMINAR
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.sizing.array import size_array
from hydraulics.sizing.at_pump import Pumped, as_laid, findings_at_pump
from hydraulics.sizing.choice import ExtractionRate, GroundConditions, LoopLimits, StraightArray
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


@pytest.mark.parametrize("share", [0.98, 1.5])
def test_at_about_its_own_flow_or_more_nothing_is_said_of_frost(share: float) -> None:
    assert [each.code for each in at(share)] == ["return_at_pump"]
