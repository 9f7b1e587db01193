"""What a sized array's numbers mean for its designer: findings and cautions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from hydraulics.findings import (
    BORE_FOOT_CAUTION,
    COMMON_PRACTICE,
    FREEZING_MARGIN,
    GENERAL_CAUTIONS,
    Finding,
    above_freezing,
    beyond,
    counted,
)
from hydraulics.fluid.mixture import freezing_margin, freezing_spread
from hydraulics.ground.load_history import Limit
from hydraulics.ground.pipe_heat import (
    STRAIGHT_LAMINAR,
    STRAIGHT_TURBULENT,
    schmidt_critical_reynolds,
)
from hydraulics.ground.soil import ROUNDED
from hydraulics.ground.temperature import USUAL_GRADIENT
from hydraulics.groundworks.rules import bores_close, mat_rules
from hydraulics.plot.plot import TRENCH_SPACING, Plot
from hydraulics.shallow.pond import CAUTIONS as POND_CAUTIONS
from hydraulics.shallow.pond import LEAST_WATER
from hydraulics.sizing.alternatives import COLDER
from hydraulics.sizing.by_borehole import undisturbed_ground
from hydraulics.sizing.case import Case
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    GroundConditions,
    PondArray,
    SlinkyArray,
    StraightArray,
)
from hydraulics.sizing.count import needed_length
from hydraulics.sizing.loops import rounded_up
from hydraulics.sizing.result import ArraySizing, StaysLaminar

PE_CLASS_TEMPERATURE: Final = 20.0  # °C that a pressure class of PE is for (EN 12201-1)
PE_HOTTEST: Final = 40.0  # °C up to which it is used under pressure (EN 12201-1, from memory)
_DIG = (
    "Ground loops change the ground's temperature and may need consent: ask the local authority, "
    "above all near wells, groundwater protection zones, trees and neighbours' arrays.",
    "Moving groundwater is left out. It usually helps, but it also carries cold, and leaks, away.",
)
_BORE = (
    "Drilling can strike gas, artesian water, mine workings and buried services; it needs a "
    "licensed driller, permits, and grout that seals aquifers from one another.",
    BORE_FOOT_CAUTION,
)
DENSEST: Final = 4.0  # °C, of water
_ROUNDING: Final = 1.0 + 1e-9
_TOLD_WITHIN: Final = 0.5  # K, about what a response test tells undisturbed ground to
_NO_MORE: Final = 1.0 + 1e-4  # of a length, within which two searches find the same
BRINE_AT: Final[Mapping[Limit, str]] = MappingProxyType(
    {"lower": "at its coldest", "upper": "at its warmest"}
)
CAUTIONS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "slinky_flat": (*GENERAL_CAUTIONS, *_DIG),
        "slinky_upright": (*GENERAL_CAUTIONS, *_DIG),
        "trench": (*GENERAL_CAUTIONS, *_DIG),
        "pond_mat": (*GENERAL_CAUTIONS, *POND_CAUTIONS),
        "borehole": (*GENERAL_CAUTIONS, *_BORE, *_DIG),
    }
)


def array_findings(case: Case, of: ArraySizing) -> tuple[Finding, ...]:
    """Return everything worth saying about a sized array, gravest first.

    Parameters
    ----------
    case, of
        What was asked, and what came of it.
    """
    found = [
        *_site(case, of),
        *_limits(case, of),
        *_rate(case, of),
        *_not_used(case),
        *_ground(case, of),
        *_flow(case, of),
        *_laminar(case, of),
        *_film(case, of),
        *_uncertain(case, of),
    ]
    order = {"error": 0, "warning": 1, "info": 2}
    return tuple(sorted(found, key=lambda finding: order[finding.severity]))


def _site(case: Case, of: ArraySizing) -> Iterator[Finding]:
    if isinstance(case.choice, PondArray):
        yield from mat_rules([("", of.loop, of.loops)], case.plot.spacing)
    if isinstance(case.choice, BoreholeArray):
        yield from bores_close(case.choice.leg(of.length_each).depth, of.nearest)
        if of.loops > 2 and not case.choice.is_told(case.plot):
            yield Finding(
                "line_assumed",
                "warning",
                f"{of.loops} boreholes are taken to stand in one line, in which they disturb one "
                "another least: in a block each has to be deeper. Tell how they stand: in what "
                "rows, each by its place, or by the plot's two sides.",
                "the rule of this service",
            )
    if isinstance(case.choice, SlinkyArray | StraightArray):
        yield from _without_place(case.plot, of.loops)
    for short in of.site.shortages:
        yield Finding("site_too_small", "error", short + ".", "borders and centres as given")


def _without_place(plot: Plot, trenches: int) -> Iterator[Finding]:
    """Some trenches have their place on the plot, and others have not."""
    placed = len(plot.trenches)
    if not 0 < placed < trenches:
        return
    yield Finding(
        "trenches_without_place",
        "warning",
        f"Of {trenches} trenches {placed} have a place on the plot: the rest is taken to lie in a "
        f"row beside them, {plot.spacing or TRENCH_SPACING:g} m apart, whether or not there is "
        "room, and nearer would need more length. Give each its place, take "
        f"{counted(placed, 'loop')}, or leave the places out.",
        "the rule of this service",
    )


def _limits(case: Case, of: ArraySizing) -> Iterator[Finding]:
    # A rounding of the root at most; an array that was sized to the limit meets it.
    if of.coldest_return < of.limit - 1e-3:
        yield Finding(
            "return_below_limit",
            "error" if case.rate is None else "warning",
            f"Brine comes back at {beyond(of.coldest_return, of.limit, 1)} °C, below the limit "
            f"of {of.limit:g} °C.",
            "conduction model; the limit is common practice",
        )
    history = of.history
    warmest = None if history is None else history.warmest_return
    if warmest is not None and warmest > of.most + 1e-3:
        yield Finding(
            "return_above_limit",
            "error" if case.rate is None else "warning",
            f"Brine comes back at {beyond(warmest, of.most, 2)} °C while heat is put back, above "
            f"the limit of {of.most:g} °C.",
            "conduction model; the limit is common practice",
        )
    if history is not None and warmest is not None:
        yield from warm_pipe(float(history.warm_going.max()), "Brine")
    if history is None and case.draw.put_back:
        yield Finding(
            "cold_not_sized",
            "warning",
            "The pond is sized for the heat drawn alone: heat put into it warms its water, which "
            "is not modelled. Have its warmest water and its life judged.",
            "what the model leaves out",
        )
    margin = freezing_margin(case.mixture, of.coldest_going)
    spread = freezing_spread(case.mixture)
    if margin < FREEZING_MARGIN + spread:
        yield Finding(
            "freezing_margin_thin",
            "error" if margin <= 0.0 else "warning",
            above_freezing(of.coldest_going, margin, FREEZING_MARGIN, spread),
            "spread of published freezing points; the margin itself is " + COMMON_PRACTICE,
        )


def warm_pipe(hottest: float, brine: str) -> Iterator[Finding]:
    """Pipe is warmer than its pressure class is for, with `brine` that goes out so hot [degC]."""
    if hottest > PE_CLASS_TEMPERATURE:
        yield Finding(
            "warm_pipe",
            "error" if hottest > PE_HOTTEST else "warning",
            f"{brine} goes to the ground at {hottest:.1f} °C: the pressure class of polyethylene "
            f"is for {PE_CLASS_TEMPERATURE:g} °C, and falls to about 0.87 of it at 30 °C and "
            f"0.74 at 40 °C, beyond which it is not for use.",
            "EN 12201-1, from memory",
        )


def ice_on_pipe(coldest: float, outside: str) -> Iterator[Finding]:
    """Ice grows on a mat's pipe where its outside falls so low [degC]."""
    if coldest <= 0.0:
        yield Finding(
            "ice_on_pipe",
            "warning",
            f"{outside} falls to {beyond(coldest, 0.0, 1)} °C: ice grows on it and insulates it. "
            "More mats, or a higher limit on the return, keep it clear.",
            "heat balance of the pipe",
        )


def _rate(case: Case, of: ArraySizing) -> Iterator[Finding]:
    if case.rate is None:
        return
    total, needed = of.total_length, of.needed_length
    source = f"{case.rate.source}; conduction model"
    if total < needed:
        asked = "no length of these loops to keep the return " + _kept(case)
        if math.isfinite(needed):
            asked = f"{needed:.0f} m to keep the return at {of.governing_limit:g} °C"
        yield Finding(
            "rate_below_conduction",
            "warning",
            f"{case.rate.rate:g} W/m gives {total:.0f} m; conduction over the whole life asks "
            f"for {asked}.",
            source,
        )
    elif total > 1.3 * needed:
        yield Finding(
            "rate_above_conduction",
            "info",
            f"{case.rate.rate:g} W/m gives {total:.0f} m, {total / needed:.1f} times the "
            f"{needed:.0f} m that conduction asks for.",
            source,
        )
    if case.rate.hours is not None and of.draw.full_hours > case.rate.hours:
        yield Finding(
            "rate_hours",
            "warning",
            f"The load draws {beyond(of.draw.full_hours, case.rate.hours, 0)} full hours a year; "
            f"the rate is for {case.rate.hours:g} h. Take the rate for more hours.",
            case.rate.source,
        )


def _not_used(case: Case) -> Iterator[Finding]:
    """What is told of the ground and is of another kind of array."""
    ground, bores = case.ground, isinstance(case.choice, BoreholeArray)
    measured, freezing = bool(ground.profile or ground.undisturbed is not None), ground.freezing
    if measured and not bores:
        pond = isinstance(case.choice, PondArray)
        around = "water at its coldest" if pond else "ground whose year is that of the surface"
        yield Finding(
            "ground_not_used",
            "warning",
            "Temperatures of the ground measured in a borehole are not used: this array lies in "
            f"{around}. Where they are colder than that, tell it colder.",
            "the rule of this service",
        )
    if freezing is not None and not isinstance(case.choice, SlinkyArray | StraightArray):
        yield Finding(
            "ground_not_used",
            "info",
            f"The {freezing.water:g} kg/m³ of water that freezes are of ground around trenches and "
            "are not used (safe side).",
            "the rule of this service",
        )


def _ground(case: Case, of: ArraySizing) -> Iterator[Finding]:
    choice = case.choice
    if isinstance(choice, PondArray):
        yield from ice_on_pipe(of.coldest_ground, "The pipe's outside")
        yield from _still(choice.coldest_water, of.coldest_ground)
        return
    if of.coldest_ground < 0.0:
        around = "borehole" if isinstance(choice, BoreholeArray) else "pipe"
        yield Finding(
            "ground_freezes",
            "warning",
            f"Ground at the {around} falls to {beyond(of.coldest_ground, 0.0, 1)} °C at times and "
            "freezes there: it can heave, and damage what is near."
            + (
                ""
                if case.ground.freezing and not isinstance(choice, BoreholeArray)
                else " Latent heat, left out, keeps it warmer than shown."
            ),
            "conduction model",
        )
    if isinstance(choice, SlinkyArray | StraightArray):
        yield from _ice(case.ground)
    if isinstance(choice, SlinkyArray) and choice.pitch > 1.001 * choice.coil_diameter:
        yield Finding(
            "wide_pitch",
            "warning",
            f"A pitch of {choice.pitch:g} m on coils of {choice.coil_diameter:g} m: unless "
            "every coil is laid as a full circle, the array is up to 10 % short.",
            "integration along the pipe's true curve",
        )
    if isinstance(choice, SlinkyArray | StraightArray) and of.length_each < 10.0 * choice.depth:
        yield Finding(
            "short_trench",
            "info",
            f"Trenches of {of.length_each:g} m are short against their depth; the model takes "
            "them as long, which is on the safe side.",
            "conduction model",
        )
    if isinstance(choice, BoreholeArray):
        yield from _measured_in_part(case, choice, of.length_each)
    if isinstance(choice, BoreholeArray) and choice.resistance is not None:
        yield _measured(choice.resistance, choice, of)
    if isinstance(choice, BoreholeArray):
        shortest = 5.0 * choice.borehole_radius**2 / case.ground.diffusivity / 3600.0
        if of.draw.peak_hours < shortest:
            yield Finding(
                "short_peak",
                "info",
                f"A peak of {of.draw.peak_hours:g} h is shorter than 5 r²/a, {shortest:.1f} h: "
                "heat held in grout and brine, left out, makes the true dip smaller.",
                "Eskilson 1987",
            )


def _measured_in_part(case: Case, choice: BoreholeArray, depth: float) -> Iterator[Finding]:
    """Temperatures by depth that do not tell undisturbed ground over an active depth [m]."""
    ground = case.ground
    if not ground.profile or ground.undisturbed is not None:
        return
    least, most = undisturbed_ground(choice, ground, depth)
    first, last = (min(max(ground.profile[i][0], choice.buried), choice.buried + depth)
                   for i in (0, -1))  # fmt: skip
    if most - least <= _TOLD_WITHIN and last - first >= depth / 2.0:
        return
    gradient = ground.geothermal_gradient
    on = f"by {gradient:g} K/m" if gradient else f"by up to {USUAL_GRADIENT:g} K/m"
    upper = f" and {most:.1f} °C against the upper" if "upper" in case.held_limits else ""
    yield Finding(
        "measured_in_part",
        "warning",
        f"Temperatures of the ground are measured over {last - first:.0f} m of the {depth:.0f} m "
        f"of a borehole: beyond them it is taken to go on {on}, and where the year at the surface "
        "reaches, a reading may be as much too warm or cold. So its mean is "
        f"{least:.1f} °C against the lower limit{upper} (safe side). "
        "Measure down the whole borehole, or have its mean by a response test.",
        "the year's wave by Kusuda & Achenbach 1965; usual gradient from memory",
    )


def _measured(resistance: float, choice: BoreholeArray, of: ArraySizing) -> Finding:
    """Whose film a measured resistance holds: the test's, unless it is told to be this array's."""
    reynolds, film = of.hydraulics.reynolds, of.resistance.film
    thick = reynolds < STRAIGHT_TURBULENT and not choice.own_film
    text = f"Brine to wall is {resistance:g} m K/W as measured, with the film of "
    if choice.own_film:
        text += "this array, as told."
    else:
        text += (
            "the test's fluid at the test's flow, and no other is counted. At the peak this "
            f"array's film is {film:.3f} m K/W in each pipe, {film / choice.gathering_pipe:.3f} of "
            "the borehole"
        )
        flow = "laminar" if reynolds < STRAIGHT_LAMINAR else "in transition"
        text += (
            f", with flow {flow}: a test with turbulent water reads too low by nearly as much. Add "
            "the films' difference and say that it is in, or take more flow."
            if thick
            else "."
        )
    return Finding(
        "measured_resistance",
        "warning" if thick else "info",
        text,
        "a response test's resistance holds the film at its own flow (Spitler & Gehlin 2015, from "
        "memory); film by the flow of this array",
    )


def _still(water: float, outside: float) -> Iterator[Finding]:
    """Whether water is moved little by the pipe [degC], as it is densest at 4 °C.

    Beside pipe further below 4 °C than water is above it some water rises and some sinks.
    """
    source = "density of water"
    if water < DENSEST:
        told = f"Water at {water:g} °C, below 4 °C, lies with its coldest on top and moves little"
    elif water - DENSEST < DENSEST - outside:
        told = (
            f"Water at {water:g} °C is densest, at 4 °C, on its way to the pipe's outside of "
            f"{outside:.1f} °C, so that some rises beside the pipe, some sinks and it moves little"
        )
        source += "; flow both ways: Gebhart & Mollendorf 1978, from memory"
    else:
        return
    yield Finding(
        "still_cold_water",
        "warning",
        f"{told}: the film is uncertain by 30 % or more.{_colder(water)}",
        source,
    )


def _colder(water: float) -> str:
    """What is said of the length in colder water [degC], where a kelvin colder were ice."""
    if water - COLDER >= LEAST_WATER:
        return ""
    by = "no colder" if water <= LEAST_WATER else f"{water - LEAST_WATER:.2g} K colder"
    return (
        f" Instead of {COLDER:g} K to the worse side, the length in colder water is told {by}, at "
        f"{LEAST_WATER:g} °C: below that it is ice."
    )


def _ice(ground: GroundConditions) -> Iterator[Finding]:
    """Fine soil is said to freeze whole."""
    if ground.freezing is None or ground.water is None:
        return
    most = (1.0 - ground.unfrozen) * ground.water
    if ground.freezing.water > most * (1.0 + ROUNDED):
        yield Finding(
            "freezing_water_high",
            "warning",
            f"{ground.freezing.water:g} kg/m³ of water is counted as freezing, of "
            f"{ground.water:.0f} kg/m³ that this ground holds: silt, clay and peat keep about a "
            "third of it liquid some kelvin below 0 °C, and the array may be too short. Count "
            f"{math.floor(most)} kg/m³ or less, or what was measured.",
            "Anderson & Tice 1972, from memory: a quarter in silt, a half in clay at -3 °C",
        )


def _flow(case: Case, of: ArraySizing) -> Iterator[Finding]:
    at, choice, limits = of.hydraulics, case.choice, case.limits
    longest_coil = max(case.coils)
    pipe = of.loop.pipe_length
    if limits.longest_pipe is not None and of.loop.length > limits.longest_pipe * _ROUNDING:
        yield Finding(
            "loop_too_long",
            "error",
            f"A loop is {beyond(of.loop.length, limits.longest_pipe, 1)} m long, more than the "
            f"{limits.longest_pipe:g} m that its pipe may be: "
            + (
                f"its tails of {limits.tail:.1f} m alone take that much. Lead them from a nearer "
                "manifold, or let its pipe be longer."
                if 2.0 * limits.tail >= limits.longest_pipe
                else f"{_too_few(of.loops, 'loop')}. Take more, {_nearer(case)}or leave out what "
                "sets their number."
            ),
            "the limit given",
        )
    if isinstance(choice, BoreholeArray) and of.length_each > choice.deepest * _ROUNDING:
        yield Finding(
            "borehole_too_deep",
            "error",
            f"A borehole draws heat along {of.length_each:g} m, more than the {choice.deepest:g} m "
            f"that it may: {_too_few(of.loops, 'borehole')}. Take more, or leave out what sets "
            + (
                "their number, whichever the job has: a number of loops, places, or an array."
                if choice.positions
                else "their number."
            ),
            "the limit given",
        )
    if not isinstance(choice, BoreholeArray) and pipe > longest_coil * _ROUNDING:
        yield Finding(
            "no_coil_long_enough",
            "warning",
            f"A loop takes {beyond(pipe, longest_coil, 1)} m of {choice.pipe.name} in one piece; "
            f"the longest coil on offer is {longest_coil:g} m. "
            + (
                "Its tails alone take that much: lead them from a nearer manifold"
                if 2.0 * limits.tail >= longest_coil
                else f"Take more loops, {_nearer(case)}limit the pipe of a loop"
            )
            + " or order a longer coil: a loop is never jointed underground.",
            COMMON_PRACTICE,
        )
    if at.drop > limits.largest_drop:
        yield Finding(
            "loop_drop_high",
            "warning",
            f"A loop drops {beyond(at.drop / 1e3, limits.largest_drop / 1e3, 0)} kPa, more than "
            f"{limits.largest_drop / 1e3:g} kPa; take more loops or wider pipe.",
            COMMON_PRACTICE,
        )
    if at.velocity > limits.largest_velocity:
        yield Finding(
            "velocity_high",
            "warning",
            "Brine runs at "
            f"{beyond(at.velocity, limits.largest_velocity, 1)} m/s in the loops, more "
            f"than {limits.largest_velocity:g} m/s; take more loops or wider pipe.",
            COMMON_PRACTICE,
        )


def _nearer(case: Case) -> str:
    """What else shortens a loop: its tails, where it has any."""
    return f"shorten the tails of {case.limits.tail:.1f} m, " if case.limits.tail else ""


def _too_few(number: int, what: str) -> str:
    return f"{counted(number, what)} {'is' if number == 1 else 'are'} too few"


def _film_is_measured(choice: ArrayChoice) -> bool:
    """Whether the film of a test is in the resistance, and no other is counted."""
    return isinstance(choice, BoreholeArray) and choice.resistance is not None


def _laminar(case: Case, of: ArraySizing) -> Iterator[Finding]:
    """Which limit's film is laminar, and whether that limit sets the length."""
    choice = case.choice
    if _film_is_measured(choice):
        return
    diameter = math.inf
    if isinstance(choice, SlinkyArray):
        diameter = choice.coil_diameter
    elif isinstance(choice, PondArray):
        diameter = choice.mean_diameter
    critical = float(schmidt_critical_reynolds(choice.pipe.bore / diameter))
    reynolds = {"lower": of.hydraulics.reynolds}
    if "upper" in case.held_limits:
        reynolds["upper"] = case.reynolds(of.loops, "upper")
    slow: list[Limit] = [limit for limit in case.held_limits if reynolds[limit] <= critical]
    if not slow:
        return
    at = " and ".join(f"{reynolds[limit]:.0f} with brine {BRINE_AT[limit]}" for limit in slow)
    counted_in = "the length needed"
    if not math.isfinite(of.needed_length):
        counted_in = "the brine's temperatures"
    elif of.set_by not in slow:
        counted_in = (
            f"what the limit of {case.value_of(slow[0]):g} °C asks for; that of "
            f"{of.governing_limit:g} °C, where it is not laminar, sets the length needed"
        )
    yield Finding(
        "laminar_film",
        "info",
        f"The film in the loops is laminar (Reynolds number {at}); its resistance is counted in "
        f"{counted_in}.",
        "Schmidt 1967 for coils, Gnielinski 2013 (Re 2300) for straight pipe",
    )


def stays_laminar(
    case: Case, loops: int, total: float, near: float, limit: Limit | None = None
) -> StaysLaminar | None:
    """What loops of a total length [m] need should a film in transition stay laminar.

    Each limit that can set the length is tried, whichever does now, or the one that is given, and
    the longest length told where the array has less; None where it has not.
    """
    choice = case.choice
    if not isinstance(choice, StraightArray | BoreholeArray) or not math.isfinite(near):
        return None
    alike = replace(case, near=near)
    worst: StaysLaminar | None = None
    for each in case.held_limits if limit is None else (limit,):
        reynolds = case.reynolds(loops, each)
        if not STRAIGHT_LAMINAR < reynolds < STRAIGHT_TURBULENT:
            continue
        # A laminar film in straight pipe depends on no viscosity, so that a thicker brine has it.
        needed = needed_length(alike.thicker(each, reynolds / STRAIGHT_LAMINAR), loops)
        # More than with the film between, or it is another limit that asks for it.
        more = needed > max(total, near * _NO_MORE)
        if more and (worst is None or needed > worst.length):
            worst = StaysLaminar(needed, reynolds, each)
    return worst


def _film(case: Case, of: ArraySizing) -> Iterator[Finding]:
    """In transition the film may as well be laminar, and the array is then too short."""
    worst = stays_laminar(case, of.loops, of.total_length, of.needed_length)
    if worst is None:
        return
    needed, limit = worst.length, worst.limit
    if math.isfinite(needed):  # as it can be made of so many loops, and no less
        needed = math.ceil(of.loops * rounded_up(case.choice, needed / of.loops) - 1e-9)
    between, film = "a film between laminar and turbulent", "it"
    if _film_is_measured(case.choice):
        between, film = "the resistance as measured", "the film"
    asked = (
        f"{needed:.0f} m, {100.0 * (needed / of.needed_length - 1.0):.0f} % more, are needed"
        if math.isfinite(needed)
        else "no length of so many loops is enough"
    )
    either = "that length, or " if math.isfinite(needed) else ""
    yield Finding(
        "transition_film",
        "warning",
        f"Flow in the loops is in transition (Reynolds number {worst.reynolds:.0f} with brine "
        f"{BRINE_AT[limit]}): {of.needed_length:.0f} m are needed with {between}, and may be too "
        f"few. Should {film} stay laminar, {asked} to keep the return at "
        f"{case.value_of(limit):g} °C. Take {either}a flow above Reynolds number "
        f"{STRAIGHT_TURBULENT:g}.",
        "Gnielinski 2013: between Re 2300 and 4000 the film may be either",
    )


def _kept(case: Case) -> str:
    """Every limit that the return has to keep, in words: with no length, any may be the one."""
    if len(case.held_limits) == 1:
        return f"at {case.limit:g} °C"
    return f"between {case.limit:g} and {case.most:g} °C"


def _uncertain(case: Case, of: ArraySizing) -> Iterator[Finding]:
    doubts = () if isinstance(case.choice, PondArray) else case.ground.warnings
    for doubt in doubts:
        yield Finding("ground_values", "info", doubt + ".", "soil class")
    if not math.isfinite(of.needed_length):
        yield Finding(
            "length_not_found",
            "warning",
            f"No length of {counted(of.loops, 'loop')} keeps the return {_kept(case)} "
            "through the whole life, so that the needed length and what it depends on are not "
            "told. The array follows the extraction rate alone.",
            "conduction model",
        )
        return

    def then(length: float) -> str:
        if math.isinf(length):
            return f"no length of {counted(of.loops, 'loop')} keeps the return {_kept(case)}"
        more = length / of.needed_length - 1.0
        return f"{100.0 * abs(more):.0f} % {'less' if more < 0.0 else 'more'} length is needed"

    less, *more = of.sensitivities[0].lengths
    if more:
        text = f"With ground 20 % less conductive {then(less)}; with 20 % more, {then(more[0])}."
    else:
        text = f"With a water film 30 % weaker {then(less)}."
    yield Finding("conductivity_uncertain", "info", text, "the same model, sized again")
