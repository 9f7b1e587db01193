"""What is told of a sized array, each case from just within its limit to just beyond."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from hydraulics.findings import Finding
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.ground.load_history import GroundLoad
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.groundworks.excavation import Trench
from hydraulics.layout.circuit import Loop
from hydraulics.layout.legs import Straight
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.plot.plot import Plot
from hydraulics.shallow.freezing import FreezingGround
from hydraulics.sizing.case import Case
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
from hydraulics.sizing.findings import CAUTIONS, array_findings
from hydraulics.sizing.loops import LoopHydraulics, circuit_of, loop_of, rounded_up
from hydraulics.sizing.result import ArraySizing, AtFlow, GroundResistance, Sensitivity
from hydraulics.sizing.site import field_of, site_use
from hydraulics.split.duty import HeatDuty

P32 = pe_pipe("PE100 SDR11 32")
WATER = mixture("water", 0.0, "mass")
SLINKY = SlinkyArray(P32, 1.2)
STRAIGHT = StraightArray(P32, 1.2)
POND = PondArray(P32, 5.0)
BORE = BoreholeArray(P32, 0.065, 0.035, 1.5)
HAIR = 1e-6
# Clay of 1450 kg/m3 with 26 % of water: 377 kg/m3, of which a third stays liquid.
CLAY = replace(
    ground_of_soil("clay", SurfaceTemperature(10.0, 8.0)), freezing=FreezingGround(251.0)
)

# A quiet slinky array, invented: 10 loops of 40 m, 380 m needed, flow turbulent even in coils.
DRAW = GroundLoad((2000.0,) * 12, 6000.0, 24.0)
CASE = Case(
    draw=replace(DRAW, monthly=(6000.0 * 2000.0 / 8766.0,) * 12),  # 2000 full hours
    ground=GroundConditions(1.5, 2e6, SurfaceTemperature(10.0, 8.0)),
    choice=SLINKY,
    mixture=WATER,
    brine=fluid(WATER, 5.0),
    change=3.0,
    plot=Plot(),
    limits=LoopLimits(),
    years=20,
    limit=6.0,
    most=30.0,
    rate=None,
)
LOOP = Loop("T", P32, (Straight(200.0),))
QUIET = ArraySizing(
    kind="slinky_flat",
    basis="conduction",
    draw=CASE.draw,
    metre="trench",
    needed_length=380.0,
    total_length=400.0,
    loops=10,
    length_each=40.0,
    loop=LOOP,
    pipe_total=2000.0,
    coil=200.0,
    hydraulics=LoopHydraulics(0.2, 2e-4, 0.4, 12_000.0, 12e3),
    peak_per_metre=15.0,
    annual_per_metre=1.0,
    peak_per_metre_of_pipe=3.0,
    annual_per_metre_of_pipe=0.2,
    resistance=GroundResistance(0.02, 0.08),
    history=None,
    coldest_return=6.5,
    coldest_going=3.5,
    limit=6.0,
    most=30.0,
    margin=0.5,
    coldest_ground=5.0,
    surface_energy=None,
    store_energy=None,
    site=site_use(Plot(), SLINKY, 10, 40.0, None),
    sensitivities=(Sensitivity("ground_conductivity", (430.0, 350.0)),),
    return_limits=(),
    published=(),
    circuit=circuit_of(LOOP, 10),
    duty=HeatDuty(6000.0, 3.0, 3.5),
    at_change=lambda change: AtFlow(380.0, 6.5, 5.0, GroundResistance(0.02, 0.08), None),
    cautions=(),
    notes=(),
)


def told(*, longest_coil: float = 300.0, **over: Any) -> tuple[Finding, ...]:
    """Findings of the quiet array with something else about it: of what was asked, or found."""
    case: dict[str, Any] = {
        name: over.pop(name)
        for name in ("choice", "ground", "rate", "limits", "plot")
        if name in over
    }
    if "draw" in over:
        case["draw"] = over["draw"]
    if "length_each" in over:
        over["total_length"] = QUIET.loops * over["length_each"]
    case["coils"] = (longest_coil,)
    return array_findings(replace(CASE, **case), replace(QUIET, **over))


def found(**over: Any) -> dict[str, Finding]:
    return {finding.code: finding for finding in told(**over)}


def test_a_quiet_array_tells_of_its_uncertainty_alone() -> None:
    assert set(found()) == {"conductivity_uncertain"}


RATE = ExtractionRate(15.0, "trench", 1800.0, "an invented table")


# Limits: the margin of 3 K to freezing, 30 kPa and 1.5 m/s in a loop and the pitch of a slinky are
# common practice, no source; Re 2000 is the end of laminar flow in straight pipe (measured by
# Senecal 1951 and Stanton & Pannell 1914, tests/published/test_transition.py);
# water is densest at 4 °C; 5 r²/a is Eskilson's (1987), here 5 · 65² mm² / 0.75 mm²/s = 7.8 h.
@pytest.mark.parametrize(
    ("code", "within", "beyond"),
    [
        ("loop_too_long", {"limits": LoopLimits(longest_pipe=200.0)},
         {"limits": LoopLimits(longest_pipe=200.0 - HAIR)}),
        ("borehole_too_deep", {"choice": replace(BORE, deepest=40.0)},
         {"choice": replace(BORE, deepest=40.0 - HAIR)}),
        ("return_below_limit", {"coldest_return": 6.0}, {"coldest_return": 5.99}),
        ("freezing_margin_thin", {"coldest_going": 3.0}, {"coldest_going": 3.0 - HAIR}),
        ("rate_below_conduction", {"rate": RATE, "needed_length": 400.0},
         {"rate": RATE, "needed_length": 400.0 + HAIR}),
        ("rate_above_conduction", {"rate": RATE, "needed_length": 400.0 / 1.3 + HAIR},
         {"rate": RATE, "needed_length": 400.0 / 1.3 - HAIR}),
        ("rate_hours", {"rate": replace(RATE, hours=2000.0)},
         {"rate": replace(RATE, hours=1999.0)}),
        ("ground_freezes", {"coldest_ground": 0.0}, {"coldest_ground": -HAIR}),
        ("ice_on_pipe", {"choice": POND, "coldest_ground": HAIR},
         {"choice": POND, "coldest_ground": 0.0}),
        ("still_cold_water", {"choice": replace(POND, coldest_water=4.0)},
         {"choice": replace(POND, coldest_water=3.999)}),
        # The pipe's outside as far below 4 °C as the water above it: both ends weigh the same.
        ("still_cold_water", {"choice": replace(POND, coldest_water=5.0), "coldest_ground": 3.0},
         {"choice": replace(POND, coldest_water=5.0), "coldest_ground": 3.0 - HAIR}),
        ("freezing_water_high", {"ground": CLAY, "choice": STRAIGHT},
         {"ground": replace(CLAY, freezing=FreezingGround(255.0)), "choice": STRAIGHT}),
        ("wide_pitch", {"choice": replace(SLINKY, pitch=1.0)},
         {"choice": replace(SLINKY, pitch=1.01)}),
        ("short_trench", {"length_each": 12.0}, {"length_each": 11.9}),
        ("short_peak",
         {"choice": BORE, "draw": replace(QUIET.draw, peak_hours=7.83)},
         {"choice": BORE, "draw": replace(QUIET.draw, peak_hours=7.82)}),
        ("laminar_film",
         {"choice": STRAIGHT, "hydraulics": replace(QUIET.hydraulics, reynolds=2301.0)},
         {"choice": STRAIGHT, "hydraulics": replace(QUIET.hydraulics, reynolds=2300.0)}),
        ("no_coil_long_enough", {"longest_coil": 200.0}, {"longest_coil": 199.99}),
        ("loop_drop_high", {"hydraulics": replace(QUIET.hydraulics, drop=30e3)},
         {"hydraulics": replace(QUIET.hydraulics, drop=30e3 + 1.0)}),
        ("velocity_high", {"hydraulics": replace(QUIET.hydraulics, velocity=1.5)},
         {"hydraulics": replace(QUIET.hydraulics, velocity=1.5001)}),
        ("length_not_found", {"needed_length": 1e6}, {"needed_length": math.inf}),
    ],
)  # fmt: skip
def test_a_case_is_told_beyond_its_limit_and_not_at_it(
    code: str, within: dict[str, Any], beyond: dict[str, Any]
) -> None:
    assert code not in found(**within)
    assert code in found(**beyond)


def test_what_a_kind_of_array_does_not_have_is_not_told_of_it() -> None:
    # Boreholes come made up and hang deep; mats lie in no trench; only slinkies have a pitch.
    assert "no_coil_long_enough" not in found(choice=BORE, longest_coil=1.0)
    assert "short_trench" not in found(choice=BORE, length_each=1.0)
    assert "short_trench" not in found(choice=POND, length_each=1.0)
    assert "short_trench" in found(choice=STRAIGHT, length_each=1.0)
    assert "short_peak" not in found(draw=replace(QUIET.draw, peak_hours=0.1))
    assert "ground_freezes" not in found(choice=POND, coldest_ground=-1.0)
    all_of_it = replace(CLAY, freezing=FreezingGround(377.0))
    assert "freezing_water_high" not in found(ground=replace(all_of_it, unfrozen=0.0))
    assert "freezing_water_high" not in found(ground=all_of_it, choice=BORE)
    assert "still_cold_water" not in found(coldest_ground=-1.0)
    assert "rate_hours" not in found(rate=replace(RATE, hours=None))


def test_coils_stay_laminar_longer_than_straight_pipe() -> None:
    # Schmidt 1967: 2300 (1 + 8.6 (d/D)^0.45), from memory; 26 mm on 1 m: 6128; on a mat's mean of
    # 1.3 m: 5702. Friction of straight pipe leaves laminar at Re 2000, its film at 2300.
    for choice, critical in ((SLINKY, 6128.0), (POND, 5702.0), (BORE, 2300.0)):
        for factor, laminar in ((0.99, True), (1.01, False)):
            at = replace(QUIET.hydraulics, reynolds=factor * critical)
            assert ("laminar_film" in found(choice=choice, hydraulics=at)) is laminar


@pytest.mark.parametrize(
    ("over", "code", "severity", "words"),
    [
        ({"coldest_return": 4.04}, "return_below_limit", "error",
         "Brine comes back at 4.0 °C, below the limit of 6 °C."),
        ({"coldest_return": 4.04, "rate": RATE}, "return_below_limit", "warning", "4.0 °C"),
        ({"coldest_going": 1.25}, "freezing_margin_thin", "warning", "1.2 K above"),
        ({"coldest_going": 0.0}, "freezing_margin_thin", "error", "it freezes"),
        ({"rate": RATE, "needed_length": 512.0}, "rate_below_conduction", "warning",
         "15 W/m gives 400 m; conduction over the whole life asks for 512 m to keep the return at "
         "6 °C."),
        ({"rate": RATE, "needed_length": math.inf}, "rate_below_conduction", "warning",
         "asks for no length of these loops"),
        ({"rate": RATE, "needed_length": 250.0}, "rate_above_conduction", "info",
         "15 W/m gives 400 m, 1.6 times the 250 m that conduction asks for."),
        ({"rate": RATE}, "rate_hours", "warning",
         "draws 2000 full hours a year; the rate is for 1800 h"),
        ({"choice": POND, "coldest_ground": -0.26}, "ice_on_pipe", "warning", "falls to -0.3 °C"),
        ({"choice": replace(POND, coldest_water=2.5)}, "still_cold_water", "warning", "2.5 °C"),
        ({"choice": replace(POND, coldest_water=5.0), "coldest_ground": 1.84}, "still_cold_water",
         "warning", "Water at 5 °C is densest, at 4 °C, on its way to the pipe's outside of 1.8"),
        ({"choice": replace(POND, coldest_water=0.5)}, "still_cold_water", "warning",
         "is told 0.48 K colder, at 0.02 °C: below that it is ice"),
        ({"choice": replace(POND, coldest_water=0.02)}, "still_cold_water", "warning",
         "is told no colder, at 0.02 °C"),
        ({"coldest_ground": -0.26}, "ground_freezes", "warning", "at the pipe falls to -0.3 °C"),
        ({"choice": BORE, "coldest_ground": -1.0}, "ground_freezes", "warning", "at the borehole"),
        ({"choice": replace(SLINKY, pitch=1.25)}, "wide_pitch", "warning",
         "A pitch of 1.25 m on coils of 1 m"),
        ({"length_each": 8.0}, "short_trench", "info", "Trenches of 8 m"),
        ({"choice": BORE, "draw": replace(QUIET.draw, peak_hours=6.0)}, "short_peak", "info",
         "A peak of 6 h is shorter than 5 r²/a, 7.8 h"),
        ({"hydraulics": replace(QUIET.hydraulics, reynolds=1999.6)}, "laminar_film", "info",
         "(Reynolds number 2000 with brine at its coldest); its resistance is counted in the "
         "length needed."),
        ({"hydraulics": replace(QUIET.hydraulics, reynolds=1999.6), "needed_length": math.inf},
         "laminar_film", "info", "its resistance is counted in the brine's temperatures."),
        ({"longest_coil": 150.0}, "no_coil_long_enough", "warning",
         "takes 200.0 m of PE100 SDR11 32 in one piece; the longest coil on offer is 150 m"),
        ({"hydraulics": replace(QUIET.hydraulics, drop=45e3)}, "loop_drop_high", "warning",
         "A loop drops 45 kPa, more than 30 kPa"),
        ({"hydraulics": replace(QUIET.hydraulics, velocity=1.84)}, "velocity_high", "warning",
         "Brine runs at 1.8 m/s in the loops, more than 1.5 m/s"),
        ({"needed_length": math.inf}, "length_not_found", "warning", "No length of 10 loops"),
        ({}, "conductivity_uncertain", "info",
         "With ground 20 % less conductive 13 % more length is needed; with 20 % more, 8 % less "
         "length is needed."),
        ({"sensitivities": (Sensitivity("water_film", (430.0,)),)},
         "conductivity_uncertain", "info",
         "With a water film 30 % weaker 13 % more length is needed."),
        ({"sensitivities": (Sensitivity("ground_conductivity", (math.inf, 350.0)),)},
         "conductivity_uncertain", "info",
         "With ground 20 % less conductive no length of 10 loops keeps the return at 6 °C; with 20 "
         "% more, 8 % less length is needed."),
        ({"sensitivities": (Sensitivity("ground_conductivity", (430.0, math.inf)),)},
         "conductivity_uncertain", "info",
         "with 20 % more, no length of 10 loops keeps the return at 6 °C."),
        ({"coldest_return": 5.99}, "return_below_limit", "error",
         "Brine comes back at 5.99 °C, below the limit of 6 °C."),
        ({"coldest_ground": -0.04}, "ground_freezes", "warning", "falls to -0.04 °C at times"),
        ({"choice": POND, "coldest_ground": -0.04}, "ice_on_pipe", "warning", "to -0.04 °C: ice"),
        ({"choice": POND, "coldest_ground": 0.0}, "ice_on_pipe", "warning", "falls to 0.0 °C: ice"),
    ],
)  # fmt: skip
def test_a_finding_tells_its_numbers(
    over: dict[str, Any], code: str, severity: str, words: str
) -> None:
    finding = found(**over)[code]
    assert finding.severity == severity
    assert words in finding.message
    assert finding.source


@pytest.mark.parametrize(
    ("less", "more", "shortest", "longest"),
    [
        (430.0, 350.0, 350.0, 430.0),
        (350.0, 430.0, 350.0, 430.0),
        (430.0, 400.0, 400.0, 430.0),
        (math.inf, 350.0, 350.0, math.inf),
        (350.0, math.inf, 350.0, math.inf),
        (math.inf, math.inf, math.inf, math.inf),
        (430.0, None, None, 430.0),
    ],
)
def test_the_shortest_and_longest_length_are_told_by_size(
    less: float, more: float | None, shortest: float | None, longest: float
) -> None:
    found = Sensitivity("ground_conductivity", (less,) if more is None else (less, more))
    assert (found.shortest, found.longest) == (shortest, longest)


def test_mats_closer_than_they_are_wide_are_told_of() -> None:
    # Mats of 2 m at centres of 1.5 m lie over one another by half a metre.
    mats = loop_of(POND, 3 * POND.step, 0.0)

    def at(centres: float | None) -> set[str]:
        case = replace(CASE, choice=POND, plot=Plot(spacing=centres))
        return {each.code for each in array_findings(case, replace(QUIET, loop=mats))}

    assert "mats_overlap" in at(1.5)
    assert "mats_overlap" not in at(2.0)
    assert "mats_overlap" not in at(None)


def test_boreholes_at_given_places_that_are_too_few_are_told_to_have_more_places() -> None:
    asked = {"length_each": 60.0, "total_length": 600.0}
    deep = replace(BORE, deepest=50.0)
    said = found(choice=deep, **asked)["borehole_too_deep"].message
    assert said.endswith("Take more, or leave out what sets their number.")
    placed = replace(deep, positions=tuple((6.0 * n, 0.0) for n in range(10)))
    said = found(choice=placed, **asked)["borehole_too_deep"].message
    assert said.endswith(
        "Take more, or leave out what sets their number, whichever the job has: "
        "a number of loops, places, or an array."
    )


def test_the_gravest_is_told_first() -> None:
    severities = [
        each.severity for each in told(coldest_return=4.0, length_each=1.0, coldest_ground=-1.0)
    ]
    assert severities == ["error", "warning", "info", "info"]


def test_where_no_length_is_enough_nothing_is_said_of_what_it_depends_on() -> None:
    assert "conductivity_uncertain" not in found(needed_length=math.inf)


def test_ponds_and_boreholes_have_cautions_of_their_own() -> None:
    assert any("pond" in caution for caution in CAUTIONS["pond_mat"])
    assert any("artesian" in caution for caution in CAUTIONS["borehole"])
    for kind in ("slinky_flat", "slinky_upright", "trench"):
        assert not any("artesian" in caution for caution in CAUTIONS[kind])
        assert any("consent" in caution for caution in CAUTIONS[kind])


# --------------------------------------------------------------------------------------------- site


def site(plot: Plot, choice: ArrayChoice = SLINKY, **over: Any) -> Any:
    return site_use(plot, choice, over.pop("loops", 4), over.pop("each", 30.0), None, **over)


def test_land_is_what_rows_and_borders_take() -> None:
    # By hand: four trenches at 5 m, each as wide as its coils of 1 m and of 32 mm pipe, with 2.5 m
    # of border: 15 + 1.032 + 5 = 21.032 by 35 m, 736.12 m²; 1.2 m wide at the top: 21.2 m.
    use = site(Plot())
    assert (use.width, use.length) == (21.032, 35.0)
    assert use.area_needed == pytest.approx(736.12)
    assert (use.trench_needed, use.area_available, use.fits) == (120.0, None, None)
    assert site(Plot(), dug=Trench(0.4, 1.0, side_slope=0.4)).width == 21.2
    # Its battered ends reach as far out as its sides, 0.4 m each.
    assert site(Plot(), dug=Trench(0.4, 1.0, side_slope=0.4)).length == pytest.approx(35.8)
    assert site(Plot(spacing=6.0)).width == 24.032


def test_what_is_there_may_be_used_to_the_last_metre() -> None:
    small = site(Plot(area=735.0))
    assert small.fits is False
    assert small.shortages == (
        "4 trenches in 1 row take 35.0 x 21.0 m with borders, 736 m², and 735 m² are available",
    )
    assert not site(Plot(max_trench=120.0)).shortages
    short = site(Plot(max_trench=119.9))
    assert short.fits is False
    assert short.shortages == ("The array takes 120.0 m of trench, and 119.9 m can be dug",)
    assert (short.trench_needed, short.trench_available) == (120.0, 119.9)
    assert site(Plot(length=35.0, width=21.032)).fits
    assert site(Plot(length=35.0, width=21.03)).fits is False
    assert site(Plot(length=35.0, width=21.032, max_trench=120.0)).fits
    assert site(Plot(length=35.0, width=21.032, max_trench=119.9)).fits is False


@pytest.mark.parametrize("plot", [Plot(), Plot(area=737.0), Plot(max_trench=120.0)])
def test_what_has_no_sides_can_refute_but_not_prove(plot: Plot) -> None:
    # 737 m² may lie in a strip of 7 by 100 m, where four trenches at 5 m do not.
    use = site(plot)
    assert not use.shortages
    assert use.fits is None


def test_a_plot_that_is_too_narrow_says_by_how_much() -> None:
    # Four rows of one: 4 · 30 + 3 · 5 + 5 = 140 m long, 5 + 1.032 m wide.
    (narrow,) = site(Plot(length=9.0, width=9.0)).shortages
    assert narrow == (
        "4 trenches in 4 rows of up to 1 take 140.0 x 6.0 m with borders: their side of 140.0 m "
        "is 131.00 m longer than the plot's 9 m"
    )


def test_mats_are_set_out_edge_to_edge() -> None:
    mat = POND.step
    use = site(Plot(border=0.0), POND, loops=3, each=3 * mat)
    assert (use.width, use.length) == (6.0, 6.0)  # nine of 2 m
    assert use.trench_needed is None
    assert site(Plot(border=0.0, spacing=3.0), POND, loops=2, each=2 * mat).width == 5.0


def test_a_field_of_boreholes_takes_its_own_ground_and_rows_are_advised() -> None:
    line = np.array([[6.0 * n, 0.0] for n in range(6)])
    use = site_use(Plot(length=20.0, width=20.0), BORE, 6, 100.0, line)
    assert (use.length, use.width) == (35.0, 5.0)
    (text,) = use.shortages
    assert "As sized, 6 boreholes in one field take 35.0 x 5.0 m" in text
    assert "2 rows, up to 3 in each, would fit" in text


@pytest.mark.parametrize(
    ("plot", "told"),
    [
        # By hand: 2.5 m of border leave 8 m by 3 m, for two at 6 m. How deep fewer must be only
        # their own sizing tells: they disturb one another less.
        (Plot(length=13.0, width=8.0), "; in rows 2 boreholes at 6 m would fit: take more ground"),
        (Plot(length=8.0, width=8.0), "; in rows 1 borehole at 6 m would fit: take more ground"),
        (Plot(length=13.0, width=4.9), "not even one has room within its borders: take more"),
        (Plot(area=100.0), "take fewer and deeper boreholes, or more ground"),
    ],
)
def test_where_no_rows_of_so_many_boreholes_fit_what_would_is_told(plot: Plot, told: str) -> None:
    line = np.array([[6.0 * n, 0.0] for n in range(6)])
    (text,) = site_use(plot, BORE, 6, 100.0, line).shortages
    assert told in text
    assert "of about" not in text


def test_one_trench_takes_its_ground_in_the_singular() -> None:
    (text,) = site(Plot(length=20.0, width=20.0), STRAIGHT, loops=1, each=30.0).shortages
    assert text.startswith("1 trench in 1 row takes 35.0 x ")


# -------------------------------------------------------------------------------------------- loops


@pytest.mark.parametrize(
    ("choice", "length", "made"),
    [
        (SLINKY, 12.2, 13.0), (SLINKY, 13.0, 13.0), (replace(SLINKY, pitch=0.4), 1.0, 1.2),
        (STRAIGHT, 46.21, 46.3), (STRAIGHT, 46.3, 46.3), (STRAIGHT, 0.01, 0.1),
        (BORE, 80.01, 81.0), (BORE, 80.0, 80.0), (BORE, 0.2, 1.0),
    ],
)  # fmt: skip
def test_lengths_are_rounded_up_to_what_can_be_made(
    choice: ArrayChoice, length: float, made: float
) -> None:
    # Whole coils, decimetres of straight trench, whole metres of borehole.
    assert rounded_up(choice, length) == made


def test_mats_are_whole() -> None:
    # A spiral from 0.6 to 2 m at 0.1 m: pi/4 (4 - 0.36)/0.1 = 28.588 m.
    assert POND.step == pytest.approx(28.588, abs=1e-3)
    assert rounded_up(POND, 29.0) == pytest.approx(2 * 28.588, abs=2e-3)


def test_a_loop_has_its_tails_and_what_gathers_heat() -> None:
    bare, tailed = (loop_of(SLINKY, 30.0, tail) for tail in (0.0, 8.0))
    # 30 coils of 1 m: 30 (pi + 1) m and 30 m back.
    assert bare.length == pytest.approx(30.0 * (math.pi + 2.0))
    assert tailed.length == pytest.approx(bare.length + 16.0)
    assert loop_of(BORE, 80.0, 0.0).length == pytest.approx(2 * 81.0)  # buried by 1 m
    assert loop_of(POND, 3 * POND.step, 0.0).length == pytest.approx(3 * POND.step)
    # Two passes and a half-turn of 18 diameters (EN 12201-2, from memory), 0.576 m.
    turned = loop_of(STRAIGHT, 50.0, 0.0)
    assert turned.length == pytest.approx(100.0 + 0.5 * math.pi * 0.576)
    wide = loop_of(replace(STRAIGHT, spacing=1.0), 50.0, 0.0)
    assert wide.length == pytest.approx(100.0 + 0.5 * math.pi)


@pytest.mark.parametrize(
    ("told", "plot", "extent"),
    [
        ({}, Plot(), (24.0, 0.0)),
        ({"rows": 2}, Plot(), (12.0, 6.0)),
        ({"perimeter": True}, Plot(), (12.0, 6.0)),
        # Between borders of 3 m: three across in 20 m, and five in a row of 30 m.
        ({}, Plot(20.0, 18.0, border=3.0), (12.0, 6.0)),
        ({}, Plot(20.0, 30.0, border=3.0), (24.0, 0.0)),
        ({"positions": ((5.0, 5.0), (9.0, 5.0), (30.0, 12.0))}, Plot(), (25.0, 7.0)),
    ],
)
def test_boreholes_stand_as_told_or_as_the_plot_takes_them(
    told: Any, plot: Plot, extent: tuple[float, float]
) -> None:
    # Five, 6 m apart (common practice, no source).
    field = field_of(replace(BORE, **told), plot, 5)
    assert np.ptp(field, axis=0).tolist() == list(extent)
    assert len(field) == len(told.get("positions", range(5)))


def test_a_rate_may_give_just_so_much_more_than_conduction_asks() -> None:
    # 1.3 · 100 is 130 to the last digit.
    at = {"rate": RATE, "needed_length": 100.0, "loops": 1}
    assert "rate_above_conduction" not in found(**at, total_length=130.0)
    assert "rate_above_conduction" in found(**at, total_length=130.001)


def test_water_that_may_be_a_kelvin_colder_and_not_freeze_is_not_told_to_freeze() -> None:
    for water, told in ((1.02, False), (1.01, True)):
        said = found(choice=replace(POND, coldest_water=water))["still_cold_water"].message
        assert ("worse side" in said) is told


@pytest.mark.parametrize(("places", "told"), [(0, False), (1, True), (3, True), (4, False)])
def test_trenches_beside_those_that_have_their_place_are_warned_of(places: int, told: bool) -> None:
    lines = tuple(((0.0, 6.0 * n), (50.0, 6.0 * n)) for n in range(places))
    for kind in (SLINKY, STRAIGHT):
        plot = replace(CASE.plot, trenches=lines, spacing=6.0)
        said = found(choice=kind, plot=plot, loops=4)
        assert ("trenches_without_place" in said) is told
        if told:
            warned = said["trenches_without_place"]
            assert warned.severity == "warning"
            assert f"Of 4 trenches {places} have a place" in warned.message
            assert "6 m apart" in warned.message
            assert f"take {places} loop" in warned.message
    assert "trenches_without_place" not in found(choice=POND, plot=plot, loops=9)


def test_what_is_told_of_the_ground_and_not_used_is_said() -> None:
    kind: ArrayChoice
    test = replace(CASE.ground, undisturbed=11.0)
    log = replace(CASE.ground, profile=((5.0, 11.0), (90.0, 11.0)))
    zero = replace(CASE.ground, undisturbed=0.0)
    for ground in (test, log, zero):
        for choice in (SLINKY, STRAIGHT, POND):
            assert found(choice=choice, ground=ground)["ground_not_used"].severity == "warning"
        assert "ground_not_used" not in found(choice=BORE, ground=ground)
    for kind in (SLINKY, STRAIGHT):
        assert "ground_not_used" not in found(choice=kind, ground=CLAY)
    for kind in (POND, BORE):
        assert found(choice=kind, ground=CLAY)["ground_not_used"].severity == "info"
    assert "ground_not_used" not in found(choice=POND)
