"""What a result says about the array besides its numbers: findings and cautions.

A finding has a stable code, so that other tools can act on it, and a source for its limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

Severity = Literal["error", "warning", "info"]
SEVERITIES: Final[tuple[Severity, ...]] = ("error", "warning", "info")

COMMON_PRACTICE: Final = "common practice, no source"
VELOCITY_LIMIT: Final = 1.5  # m/s; common practice, no source
HEAD_LIMIT: Final = 100e3  # Pa; about what one domestic circulator gives; common practice
RETURN_LIMIT: Final = 0.0  # °C; coldest brine back from the ground; common practice
WARM_LIMIT: Final = 30.0  # °C; warmest brine back from the ground; common practice
FREEZING_MARGIN: Final = 3.0  # K, beyond the spread of published freezing points; common practice
TOLERANCE: Final = 0.10  # of even flow; common practice
UNEQUAL_LENGTHS: Final = 0.05  # spread of loop length over the mean that is worth a word
REGIME_SOURCE: Final = (
    "straight pipe: Re 2000 and 3000 (Senecal 1951, Stanton & Pannell 1914); "
    "coil: 20000 (d/D)^0.32 (Ito 1959)"
)


def beyond(value: float, limit: float, digits: int) -> str:
    """A number in so many decimals, or in as many as show on which side of a limit it is.

    Where six do not show it, words do.
    """
    for shown in range(digits, max(digits, 6) + 1):
        if (round(value, shown) - limit) * (value - limit) > 0.0 or value == limit:
            return f"{value:z.{shown}f}"
    return f"a hair {'over' if value > limit else 'under'} {value:z.{digits}f}"


def apart(first: float, second: float, digits: int) -> tuple[str, str]:
    """Two numbers in so many decimals, or in as many, up to six, as tell them apart."""
    told = first_told, second_told = f"{first:z.{digits}f}", f"{second:z.{digits}f}"
    return apart(first, second, digits + 1) if first_told == second_told and digits < 6 else told


def figures(value: float, digits: int = 3) -> str:
    """A number in so many significant digits, written out: 1,410 and never 1.41e+03.

    It is rounded to six digits before, as the answer's own number of it is, so that a sentence and
    a table that is written from that number do not round a half apart.
    """
    text = f"{float(f'{value:.6g}'):z.{digits}g}"
    if "e" not in text:
        return text
    rounded = float(text)
    if abs(rounded) >= 1.0:
        return f"{rounded:,.0f}"
    return f"{rounded:z.9f}".rstrip("0").rstrip(".")


def up_to_centimetre(metres: float) -> float:
    """What is asked for at the least [m], rounded up so that who gives it is within."""
    return math.ceil(100.0 * metres - 1e-6) / 100.0


def above_freezing(coldest: float, margin: float, asked: float, spread: float) -> str:
    """Say how far the coldest brine is from freezing, in digits enough to show what is missing.

    Parameters
    ----------
    coldest
        Coldest brine [°C].
    margin
        How far it is above the mixture's freezing point [K], less than `asked` and `spread`.
    asked
        How far it is to stay above it [K], whoever published it.
    spread
        How much warmer other published data say that the mixture freezes [K].
    """
    if margin <= 0.0:
        return (
            f"The coldest brine, {coldest:z.1f} °C, is {-margin:.1f} K below the mixture's"
            f" freezing point: it freezes; {asked:g} K above is asked for."
        )
    digits = 1
    while digits < 6 and round(margin, digits) >= asked + spread:
        digits += 1
    others = ""
    if spread:
        others = f" above every published one, of which the warmest is {spread:.1f} K warmer"
        if margin <= spread:
            others += ": by that it may freeze"
    return (
        f"The coldest brine, {coldest:z.{digits}f} °C, is {margin:.{digits}f} K above the"
        f" mixture's freezing point; {asked:g} K is asked for{others}."
    )


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the reader should know.

    Attributes
    ----------
    code
        Stable name.
    severity
        ``info``, ``warning`` or ``error``.
    message
        One or two sentences with numbers and units.
    source
        Where the limit comes from.
    place
        Branch numbers from the outermost circuit inwards, or None where it concerns the whole.
    """

    code: str
    severity: Severity
    message: str
    source: str
    place: tuple[int, ...] | None = None


FINDING_CODES: Final[dict[str, str]] = {
    "chamber_place": "Where chambers stand is a choice, and what each choice takes.",
    "header_meets_trench": "A header trench runs into a loop's trench, or too near it.",
    "spoil_has_no_room": "Beside a trench there is no room for its heap of spoil.",
    "spoil_over_trenches": "Heaps of spoil lie where neighbours' trenches are dug.",
    "digger_has_no_room": "Between two trenches a digger has no room to stand.",
    "no_room_for_spare": "A coil of spare pipe finds no place beside its tail.",
    "levels_not_as_told": "ground told in heights does not reach as far as the plan's levels",
    "levels_not_placed": "Pressures are judged under all ground of the plot.",
    "level_extrapolated": "Levels are taken for places outside the survey.",
    "air_gathers": "Some pipe of a loop lies higher than its chamber, and air stays there.",
    "imbalance": "some loop's flow is further from what it should be than the tolerance allows",
    "unequal_lengths": "loop lengths differ",
    "reversed_flow": "the flow in a loop runs backwards",
    "no_flow": "the array stands still; shares and causes cannot be told",
    "laminar_loop": "a loop is laminar where it gathers heat, at this temperature",
    "transitional_pipe": "pipe is in transition: the head is higher if it is turbulent",
    "viscosity_uncertain": "published viscosities of the mixture are much higher than the one used",
    "velocity_high": "brine is faster than practice allows in a loop, run or header",
    "velocity_impossible": "brine would be faster than in any array: a flow or bore is wrong",
    "pumping_above_heat": "moving the brine would take more power than the heat that it carries",
    "strength_next_to_none": "a strength so small that it was perhaps given as a fraction of 1",
    "header_length_not_given": "a circuit with headers does not say how long they are, or not all",
    "loops_closed": "a valve shuts some loops: they carry nothing, and the others all of the flow",
    "heat_exchanger_far_above": "the heat exchanger's data begin at many times what flows",
    "heat_exchanger_beyond_data": "the heat exchanger's drop is continued beyond its data",
    "head_high": "the pump's duty is more than one ordinary circulator gives",
    "pressure_above_class": "a pressure in the circuit is more than a pipe bears",
    "pressure_at_foot": "with the fluid above it a borehole's foot has more than its pipe bears",
    "freezing_margin_thin": "the coldest brine is close to freezing",
    "return_below_limit": "brine comes back from the ground below its limit, usually 0 °C",
    "coil_friction_uncertain": "much of the drop is in coils, which are known to about 15 %",
    # ways to balance
    "valve_clogging": "a valve must be closed so far that grit may block it",
    "valve_authority_high": "a valve takes more than half of its loop's drop",
    "valve_below_table": "a valve must be closed further than its table goes",
    "valve_in_series": "another valve that was set stands in series with the one to be set",
    "valve_signal_small": "the drop across a valve is too small to measure well",
    "valve_not_turbulent": "brine is too viscous for a valve's Kv to hold exactly",
    "bore_tight": "thicker pipe leaves little of a borehole for grout, spacers and tremie pipe",
    "bore_not_told": "thicker pipe for a borehole whose diameter is not told",
    "spare_pipe_long": "a loop needs more than half its own length of spare pipe",
    "balanced_flow_low": "with a way to balance, the pump gives plainly less flow than before",
    "balanced_head_high": "balancing raises the duty beyond one ordinary circulator",
    "balancing_not_needed": "every loop is within tolerance: no way to balance is needed",
    # choosing a pump
    "plant_not_counted": "pumps are judged by a head that holds no heat exchanger: none is told",
    "invented_pumps": "some of the pumps are invented and nothing may be chosen by them",
    "no_pump_meets_duty": "none of the pumps is known to give the duty's flow in every condition",
    "pump_set_otherwise": "the job's pump and the one taken bear one name and are set otherwise",
    "pump_margin_large": "the pump ranked first gives much more flow than the duty",
    "pump_tolerance_short": "a pump at the weak edge of its tolerance would miss the duty, or may",
    "pump_short_at_high_head": "the pump misses the duty where friction or viscosity are higher",
    "pump_setting_not_held": "a pump cannot hold what it is set to, at full or at its least speed",
    "pump_off_best_flow": "a pump runs outside 70 to 120 % of its flow of best efficiency",
    "pump_below_min_flow": "a pump, or its weak edge, runs at less than its maker's least flow",
    "pump_needs_beyond_table": "what a pump's inlet or motor may need is beyond its table",
    "pump_motor_overloaded": "a pump may take more power than its motor is made for",
    "pump_inlet_low": "the pressure at a pump's inlet is less than it needs not to cavitate",
    "pump_regime_otherwise": "what is said of regimes at the duty does not hold at the pump's flow",
    "pump_viscosity_untested": "the viscosity correction is used outside the tests behind it",
    "pump_speed_below_table": "the pump would run slower than its slowest table",
    "pumping_power_high": "pumping takes much power for the heat that it moves",
    "pump_flow_uneven": "at the flow of the pump some loop is beyond the tolerance",
    # room on the plot and the rules of the ground
    "trench_centres_close": "trenches lie closer than practice has them",
    "bore_centres_close": "boreholes lie closer than VDI 4640 has them",
    "border_small": "the array comes closer to the boundary than practice has it",
    "does_not_fit_site": "the array does not lie within the plot either way round",
    "trenches_without_place": "some trenches are sized beside those that have their place",
    "line_assumed": "boreholes that are not told how to stand are taken in one line, at best",
    "site_too_small": "the array takes more ground, or more trench, than there is",
    "bore_centres_usual": "how boreholes stand is not told, so that the usual centres are taken",
    "places_left_out": "trenches and boreholes or mats of one job are not all set out and drawn",
    "places_not_judged": "places of trenches are not held against plot and loops",
    "field_not_as_sized": "the field was sized for another number of boreholes than the array has",
    "mats_overlap": "mats at the centres asked for would lie over one another",
    "header_edge_crosses": "the header trench crosses the boundary or trenches at the surface",
    "trench_tops_overlap": "trenches run into one another at the surface",
    "pipe_not_dug": "pipe of loops or headers lies in no trench that is counted",
    "spare_coils_room": "where pipe that is left in coils lies, and what room it takes",
    "run_not_dug": "the trench of the runs to the array is not counted, or not all of it",
    "tail_not_dug": "the header trench is shorter than headers and tails lead",
    "bend_too_tight": "a pipe is bent tighter than the coil that it is delivered in",
    "bend_below_cold_limit": "a pipe is bent tighter than straight pipe may be bent cold",
    "trench_too_narrow": "a coil, passes or a turn between them are wider than the trench's floor",
    "depth_contradicts_trench": "a leg says another depth than its trench gives it",
    "cover_shallow": "little ground covers the pipe",
    "plan_not_taken": "the digging is not by the plan that the array is set out on",
    "header_trench_differs": "the header trench is counted otherwise than it is drawn or piped",
    "header_shallow": "the header trench is shallower than practice has it",
    "separation_not_given": "how far flow and return lie apart in the header trench is not said",
    "separation_small": "flow and return lie close together in the header trench",
    "header_too_narrow": "the floor of the header trench is too narrow for its pipes",
    "separation_exceeds_trench": "the header trench is too narrow to keep flow and return apart",
    # setting out on the plot
    "does_not_fit": "so many do not fit on the plot by the search made, and what would",
    "no_way": "no header trench reaches a loop or chamber, or keeps off building or water",
    "tail_spread": "the tails of the loops differ in length",
    "runs_beside_plan": "the plant has runs of its own beside those that the plan leads to it",
    "chamber_full": "a chamber holds more loops than it is to",
    "chamber_idle": "a chamber that was given is left out, since no loop goes to it",
    "chamber_crowded": "a chamber stands in another's place or in a clearance",
    "keep_out_crossed": "a header trench or pipe crosses a drain or service or comes too near",
    "circuits_not_kept": "the plan's chambers hold other loops than the array's circuits",
    "loop_runs_not_kept": "a loop's own run gives way to the tails that the plan leads",
    "run_pipe_differs": "the array and the setting out name two pipes for a run",
    "return_laid_back": "a loop ends at the far end of its trench; pipe back along it is counted",
    "trench_limit_kept": "no more trench is laid than can be dug, though more has room",
    "trench_longer_than_loop": "a trench is drawn longer than what lies in it takes",
    "set_out_as_manifold": "an array in direct or reverse return is set out on manifolds",
    "field_not_kept": "how boreholes are told to stand gives way to the places of the plan",
    "count_not_of_array": "another number of loops is asked for than the array has",
    "header_edge_over": "a header trench wide for its pipes reaches the boundary or a clearance",
    "search_bounded": "a plot of many corners is searched in fewer directions",
    "staggered_header": "the header trench follows staggered ends with bends",
    "longer_would_fit": "as many trenches would fit longer than they are laid",
    "header_wide": "so many pipes lie in one header trench that it grows wide",
    # trench safety and digging
    "trench_needs_engineer": "a trench is so deep that an engineer must design its sides",
    "trench_needs_protection": "nobody may enter a trench so deep with sides so steep",
    "trench_slope": "which soils the slope of a trench's sides is flat enough for",
    "trench_way_out": "a trench is so deep that it needs a ladder or ramp close by",
    "bulking_range": "bulking was taken from the middle of its class's range",
    "digger_rate_assumed": "digger hours are at a rate of common practice",
    # pipe to order
    "bill_not_whole": "some items of the bill of quantities have no price",
    "price_not_used": "a price is given for what the bill of quantities does not have",
    "joint_underground": "a loop changes pipe and needs a joint within it",
    "no_coil_long_enough": "no coil on offer is long enough for a loop in one piece",
    "route_jointed": "a header or run is longer than a coil and is jointed",
    # sizing the array
    "rate_below_conduction": "the extraction rate gives less than the conduction model needs",
    "rate_above_conduction": "the extraction rate gives much more than the model needs",
    "duty_not_as_sized": "the duty's heat or brine is not that of the job's own sizing",
    "not_as_sized": "the array is of another kind or make than the job's own sizing is for",
    "smaller_than_sized": "the array is smaller than the job's own sizing asks for",
    "rate_hours": "the rate's table is for other hours of use than this load has",
    "return_uneven": "how much colder, or warmer, brine comes back as loops share it unevenly",
    "sized_length_only": "what a sizing finds is of its own length, and another is laid",
    "return_at_pump": "how the brine comes back at the flow of the pump that runs, or of the duty",
    "measured_in_part": "measured temperatures leave much of a borehole's ground open",
    "measured_resistance": "the borehole's resistance is a test's, and whose film is in it",
    "return_above_limit": "the brine comes back warmer than its limit",
    "warm_pipe": "brine warms the pipe beyond the temperature that its pressure class is for",
    "cold_not_sized": "heat is put into a pond that is sized for the heat drawn alone",
    "ground_freezes": "the ground around the pipe or borehole freezes",
    "ground_not_used": "what is told of the ground is for another kind of array and not used",
    "freezing_water_high": "more water is said to freeze than fine soil lets freeze",
    "ice_on_pipe": "ice grows on the mat's pipe",
    "still_cold_water": "water near 4 °C, or below, moves little",
    "transition_film": "flow in the loops is in transition: lengths with either film",
    "laminar_film": "flow in the loops is laminar, and the film counts",
    "loop_too_long": "so many loops are each longer than their pipe may be",
    "borehole_too_deep": "so many boreholes are each deeper than they may be",
    "loop_drop_high": "a loop's pressure drop is beyond practice",
    "wide_pitch": "coils are pulled out to more than their diameter",
    "short_trench": "trenches are short against their depth",
    "short_peak": "the peak is too short for the borehole model",
    "conductivity_uncertain": "what the uncertain input does to the length",
    "ground_values": "what is doubtful about the ground's values",
    "length_not_found": "no length of so many loops would keep the limit",
    # filling and clearing the air
    "take_not_put_in": "what the job takes is not put in at this address",
    "meters_at_duty": "the pump that runs has no operating point; meters are told the duty's flow",
    "meters_too_coarse": "the meters' error is too large to prove what is asked of a loop",
    "meters_of_uneven_split": "meters are told flows that are themselves beyond the tolerance",
    "meters_prove_less": "the meters' own tolerance is wider than the one of the array",
    "meters_not_all_read": "some meters were not read, so that no balance is proved",
    "meters_outside_band": "by the meters a loop has another share than it is to have",
    "meters_total_off": "all meters together show another flow than the array should have",
    "meters_judged_by_share": "a reading's share is right and itself is not, or the reverse",
    "meter_off_scale": "the meters' scale does not show what a loop's balance turns on",
    "sample_too_strong": "a sample is much stronger than the design's mixture, and more viscous",
    "sample_of_other_fluid": "a sample is plain water, or of no strength of the antifreeze",
    "sample_too_weak": "a sample freezes well above the design's mixture or too near the brine",
    "vessel_above_test_design": "a vessel may reach more than the pressure test is for",
    "vessel_pump_unknown": "the pump that a vessel counts has no operating point",
    "vessel_precharge_low": "a vessel's gas pressure lets the highest point lose its pressure",
    "vessel_warmer_than_duty": "a vessel is told a coldest fluid warmer than the job's brine",
    "vessel_colder_than_brine": "a vessel is told a warmest fluid colder than the job's brine",
    "vessel_below_inlet": "a vessel keeps less at the pump's inlet than it needs or is told of",
    "vessel_full_if_pipe_shrinks": "a vessel for rigid pipe would pass its highest pressure",
    "loop_valves_needed": "purging loop by loop needs valves that header loops seldom have",
    "filling_water": "which water to mix the antifreeze with, and how",
    "purge_slow": "the purge is asked for at less than the velocity that clears air",
    "purge_in_frost": "water would freeze as it is filled, so that the mixture purges",
    "purge_with_water_first": "the purge duties are for the mixture; water comes first",
    "purge_valves_set": "valves that are set to balance stand in the way of the purge",
    "purge_pump_duty": "what one purge pump must do for all steps",
    "closed_loops_not_proved": "closed loops are filled and purged, but not tested with the rest",
    # pressure test
    "pressure_class_unknown": "nothing is known of the pressure that a pipe bears",
    "test_pressure_above_pipe": "a pipe does not bear the test pressure",
    "test_pressure_above_class": "the test pressure is above a pipe's pressure class",
    "test_sdr_not_the_pipes": "a test is told another series of pipe than is laid",
    "pipe_warm": "the pipe is warmer than a test of PE allows",
    "pressure_test_failed": "the record of a pressure test fails",
    "pressure_test_not_proved": "the record of a pressure test does not tell whether it is passed",
    "over_pressed_in_test": "a record shows more pressure than the test allows",
    "record_stands_still": "a record's pressure does not move where a tight PE pipe's does",
    "never_test_with_air": "what energy air would store at the test pressure",
}

GRAVEST: Final = (
    # numbers that cannot be
    "velocity_impossible", "pumping_above_heat", "no_flow",
    # what bursts, buries or freezes
    "pressure_above_class", "test_pressure_above_pipe", "over_pressed_in_test", "pressure_at_foot",
    "pressure_test_failed", "vessel_above_test_design", "vessel_precharge_low",
    "trench_needs_engineer", "trench_needs_protection", "freezing_margin_thin",
    "sample_of_other_fluid", "sample_too_weak", "vessel_warmer_than_duty",
    # what does not do its duty, as it was measured first
    "meters_outside_band", "smaller_than_sized", "return_below_limit", "return_above_limit",
    "return_at_pump", "return_uneven", "plant_not_counted", "invented_pumps", "no_pump_meets_duty",
    "pump_motor_overloaded", "pump_inlet_low", "pump_below_min_flow", "pump_needs_beyond_table",
    "pump_short_at_high_head", "imbalance", "reversed_flow", "pump_flow_uneven",
)  # fmt: skip
"""Codes that come before others of their severity, in this order; all others as they are told."""


def gravity(severity: str, code: str) -> tuple[int, int]:
    """Place of a finding, the gravest first: by severity, then as :data:`GRAVEST` has it."""
    place = GRAVEST.index(code) if code in GRAVEST else len(GRAVEST)
    return [str(each) for each in SEVERITIES].index(severity), place


GENERAL_CAUTIONS: Final = (
    "Trenches can collapse and buried services can kill: locate services, support or batter the "
    "sides, and follow local law and a competent person's advice before anyone enters.",
    "Numbers are for design. Pressure testing, antifreeze and work near groundwater follow local "
    "codes and licensed practice.",
)

OPEN_WATER_CAUTIONS: Final = (
    "Open water drowns and chills: nobody works on, in or beside it alone, on ice, or without a "
    "life jacket, a way out and a competent person's plan for rescue. Keep others off.",
    "Ice on the pipe insulates it and lifts the mat; thin ice over a mat is a danger to people. "
    "Weight the mat, keep it off the bottom and mark it.",
    "Pipe laid into open water, and heat drawn from it, may need consent: ask the water authority "
    "before work begins. A leak puts antifreeze into the water: use a mix that it accepts.",
)
"""For whatever is laid, filled or tested in open water."""


BORE_FOOT_CAUTION: Final = (
    "Fluid stands on the foot of a borehole with about 1 bar more for every 10.2 m of depth, 24.5 "
    "bar at 250 m, on top of whatever the array runs, is tested or stands at. Pipe is judged there "
    "by itself: no support of grout or groundwater is counted. Pipe, probe foot and joints must "
    "bear the two together; leave a test to those who know the probe."
)


def counted(number: int, what: str, several: str = "") -> str:
    """A number of things in a sentence: ``1 loop``, ``3 loops``."""
    return f"{number} {what if number == 1 else several or what + 's'}"


def listed(names: list[str], most: int = 4) -> str:
    """Names in a sentence: ``T1, T2, T3 and 9 more``.

    Parameters
    ----------
    names
        Names to list, at least one.
    most
        How many to write out.

    Returns
    -------
    str
        The list in words.
    """
    if len(names) == 1:
        return names[0]
    if len(names) <= most:
        return ", ".join(names[:-1]) + " and " + names[-1]
    return ", ".join(names[:most]) + f" and {len(names) - most} more"
