"""Where does one part of a job say otherwise than another?

Each rule below compares two parts that both tell one thing. A rule says how grave it is by what
somebody would do who believed the wrong one, and what to do instead.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from hydraulics.findings import Finding, Severity, counted, figures
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.sizing.choice import ArrayChoice, BoreholeArray, SlinkyArray, StraightArray
from hydraulics.sizing.loops import count_of, laid, lengths_laid, loops_of_kind, unlike_sized
from hydraulics.sizing.on_plot import HOLDS, SetOut
from hydraulics.sizing.result import ArraySizing
from hydraulics.split.duty import Duty

RUN_TWICE: Final = 0.5  # of a run's length; common practice, no source
AS_WARM: Final = 0.5  # K of the brine's mean, some 2 % of its viscosity; common practice, no source
SHORT: Final = 0.005  # of a length, which moves brine by some 0.05 K
SIZED_ALIKE: Final = 0.02  # another number of loops has another film; common practice, no source
OWN_NUMBERS: Final = "the job's own numbers"


class Rule(NamedTuple):
    """A contradiction: its finding's code, how grave it is, and what to do about it."""

    code: str
    severity: Severity
    do: str = ""


RULES: Final[dict[str, Rule]] = {
    # array against sizing: somebody lays too little ground, or trusts a length that is another's
    "other_kind": Rule("not_as_sized", "error", "Size the kind that is laid."),
    "made_otherwise": Rule("not_as_sized", "warning", "Make the two agree."),
    "other_count": Rule("not_as_sized", "info"),
    "in_series": Rule("not_as_sized", "info"),
    "too_few_places": Rule("not_as_sized", "warning", "Give a place to each."),
    "too_many_places": Rule(
        "not_as_sized", "warning", "Leave out the places of those that are not laid, or are shut."
    ),
    "short_places": Rule(
        "site_too_small", "error", "Draw each as long as what lies in it, or lay less in it."
    ),
    "too_small": Rule(
        "smaller_than_sized",
        "error",
        "Lay more, or leave array and duty out and take what the sizing decides.",
    ),
    "too_small_as_drawn": Rule(
        "smaller_than_sized",
        "error",
        "Draw the trenches longer, or more of them, and lay as much; or leave their places, array "
        "and duty out and take what the sizing decides.",
    ),
    "drawn_too_small": Rule(
        "smaller_than_sized",
        "error",
        "Draw the trenches longer, or more of them; or leave their places out.",
    ),
    "a_little_small": Rule("smaller_than_sized", "warning", "Lay more."),
    # duty against sizing: too much heat freezes ground, too little flow starves the peak
    "too_much_heat": Rule(
        "duty_not_as_sized",
        "error",
        "The ground is not sized for that much. Raise the load, or lower the duty.",
    ),
    "too_little_heat": Rule(
        "duty_not_as_sized",
        "warning",
        "Flow, pump and balance are then too small for the peak. Take the sizing's duty.",
    ),
    "too_warm": Rule(
        "duty_not_as_sized",
        "warning",
        "Head and margin above freezing are told for brine too warm. Take the sizing's duty.",
    ),
    "too_cold": Rule("duty_not_as_sized", "info"),
    # array against its plan: somebody digs where nothing is laid
    "not_of_the_plan": Rule(
        "plan_not_taken",
        "warning",
        "Take the array that the setting out decides, or ask for the design.",
    ),
    # plant against plan: pipe, head and fill counted twice
    "runs_twice": Rule("runs_beside_plan", "warning", "Leave those out."),
    "runs_besides": Rule("runs_beside_plan", "info"),
    # pump against pump choice: one is bought, the other computed with
    "pumps_differ": Rule(
        "pump_set_otherwise", "warning", "Leave one of them out, or set them alike."
    ),
}


def contradiction(rule: str, text: str, source: str = OWN_NUMBERS) -> Finding:
    """The finding of a rule: what contradicts what, and what to do."""
    found = RULES[rule]
    return Finding(found.code, found.severity, f"{text} {found.do}".rstrip(), source)


def array_against_sizing(
    circuit: Circuit,
    choice: ArrayChoice,
    sizing: ArraySizing,
    proposed: ArraySizing,
    lies: float | None,
    *,
    placed: int = 0,
    drawn: bool = False,
    is_given: bool = True,
) -> Iterator[Finding]:
    """The array is not what the sizing beside it is for, or has less than it needs.

    Parameters
    ----------
    circuit
        The array as decided.
    choice
        Kind that is sized.
    sizing, proposed
        With as many loops as the array has, and with as many as it proposes itself.
    lies
        Depth of pipe in the trench that is dug [m]; None where none is told.
    placed
        Boreholes that have their place on the plot; 0 where none do.
    drawn
        Whether trenches have theirs.
    is_given
        Whether the array is given, not the sizing's own in trenches as they are drawn.
    """
    source, has = "the job's own sizing", laid(circuit, choice)
    if has == 0.0:
        kind = choice.kind.replace("_", " ")
        text = f"The array has nothing of the kind that the sizing is of ({kind}), so that its"
        text += " length says nothing about this array."
        yield contradiction("other_kind", text, source)
        return
    if (unlike := unlike_sized(circuit, choice, lies)) is not None:
        text = f"The array is laid with {unlike[0]}; the sizing beside it is for {unlike[1]}, so"
        text += " that its length is not this array's."
        yield contradiction("made_otherwise", text, source)
    count = count_of(circuit, choice)[0]
    told = len(choice.positions) if isinstance(choice, BoreholeArray) else 0
    for gives, places in (("the sizing beside it gives", told), ("the plot has", placed)):
        if places and places != count:
            text = (
                f"The array has {counted(count, 'borehole')}, and {gives} places for {places}, so"
            )
            text += " that the length that is sized is not this array's."
            rule = "too_few_places" if places < count else "too_many_places"
            yield contradiction(rule, text, source)
    # By a rate it may propose less than conduction needs, and says so itself, or more.
    by_rate = sizing.basis == "extraction_rate"
    needed = sizing.total_length if by_rate else sizing.needed_length
    own, others = loops_of_kind(circuit, choice)
    one = "loop" if own == count else "borehole"
    if own != count:
        text = f"Of the array's {counted(count, 'borehole')} some lie in series, in"
        text += f" {counted(own, 'loop')}: each is judged with ground of its own depth, all of one"
        text += " depth and with the mean flow of a loop."
        yield contradiction("in_series", text, source)
    kind, apart = "", ""
    if others:
        kind = " of the kind that is sized"
        apart = f" Its {counted(others, 'loop')} of other kinds are left out: what they draw is not"
        apart += " sized."
    if sizing is not proposed:
        text = (
            f"The sizing proposes {counted(proposed.loops, one)}; the array has {sizing.loops}"
            f"{kind}, which {'by the extraction rate' if by_rate else 'with the film in them'} need"
            f" {needed:.0f} m of {sizing.metre} in all, and has {has:.0f} m.{apart}"
        )
        yield contradiction("other_count", text, source)
    if has >= needed * (1.0 - SHORT):
        return
    asked = f"{needed:.0f} m" if math.isfinite(needed) else "more than any number of metres"
    why = f"to keep the brine from the ground at {sizing.governing_limit:g} °C"
    if by_rate:
        why = "by its extraction rate"
        if sizing.needed_length < needed:
            why += f", and conduction for {sizing.needed_length:.0f} m"
    text = (
        f"The array has {has:.0f} m of {sizing.metre}; for this load and ground the sizing asks for"
        f" {asked} {why}.{apart}"
    )
    rule = "too_small_as_drawn" if drawn else "too_small"
    if not is_given:
        rule = "drawn_too_small"
    elif has >= needed * (1.0 - SIZED_ALIKE):
        rule = "a_little_small"
    yield contradiction(rule, text, source)


def array_against_trenches(
    circuit: Circuit, choice: ArrayChoice, drawn: Sequence[float]
) -> Iterator[Finding]:
    """Trenches that have their place are not as many, or not as long, as those of the array.

    Parameters
    ----------
    circuit
        The array as decided.
    choice
        Kind that is sized.
    drawn
        Length of each trench that has its place [m]; none: nothing is told.
    """
    if not drawn or not isinstance(choice, SlinkyArray | StraightArray):
        return
    each, of_loops = lengths_laid(circuit, choice)
    if len(drawn) == len(of_loops):
        each = of_loops
    if each and len(drawn) != len(each):
        text = f"The array has {counted(len(each), 'trench', 'trenches')}, and the plot has places"
        if len(drawn) < len(each):
            text += f" for {len(drawn)}: the others are taken to stand on in a row beside them."
            yield contradiction("too_few_places", text)
        else:
            text += f" for {len(drawn)}, all of which are counted as near each other."
            yield contradiction("too_many_places", text)
    pairs = zip(sorted(drawn, reverse=True), each, strict=False)
    if short := [(has, needs) for has, needs in pairs if has < needs - HOLDS]:
        has, needs = max(short, key=lambda pair: pair[1] - pair[0])
        text = f"What lies in the trenches that have their place has no room in {len(short)} of"
        text += f" {len(drawn)}: one is drawn {has:.1f} m long for {needs:.1f} m."
        yield contradiction("short_places", text)


def duty_against_sizing(carried: float, sizing: ArraySizing) -> Iterator[Finding]:
    """The duty carries another heat [W] than the load that the sizing beside it is for."""
    draw = sizing.draw
    more = carried > draw.greatest * (1.0 + SIZED_ALIKE)
    if not more and carried >= draw.peak * (1.0 - SIZED_ALIKE):
        return
    text = (
        f"The duty carries {figures(carried / 1e3, 4)} kW; the load that the job sizes for is "
        f"{figures((draw.greatest if more else draw.peak) / 1e3, 4)} kW at its peak."
    )
    rule = "too_much_heat" if more else "too_little_heat"
    yield contradiction(rule, text, "the job's own sizing")


def duty_against_brine(duty: Duty, sizing: ArraySizing) -> Iterator[Finding]:
    """The duty's brine is not as cold as the sizing beside it finds, or colder."""
    out, back = duty.to_ground_temperature, duty.from_ground_temperature
    coldest_out, coldest = sizing.coldest_going, sizing.coldest_return
    warmer = 0.5 * (out + back - coldest_out - coldest)
    if abs(warmer) <= AS_WARM:
        return
    text = (
        f"The duty's brine goes to the ground at {out:z.1f} °C and comes back at {back:z.1f} °C; "
        f"in the job's sizing it does so at {coldest_out:z.1f} °C and {coldest:z.1f} °C at its "
        "coldest."
    )
    rule = "too_warm"
    if warmer < 0.0:
        rule = "too_cold"
        text += " Head and margin above freezing are on the safe side."
    yield contradiction(rule, text, "the job's own sizing")


def array_against_plan() -> Finding:
    """The array is not that of the plan, so that its digging is not the plan's."""
    text = (
        "The array is not that of its setting out, by number or by tails, or not all of it has a"
        " place there: this digging is of the array as posted, in rows of its own."
    )
    return contradiction("not_of_the_plan", text, "the rule of this service")


def plant_against_plan(plant: Plant, found: SetOut) -> Iterator[Finding]:
    """The plant's own runs stand beside those that the plan leads to the plant room."""
    own = sum(run.length for run in plant.runs)
    led = [length for length in found.plan.runs.values() if length > 0.0]
    if own <= 0.0 or not led or found.circuit is None:
        return
    alike = own >= RUN_TWICE * min(led)
    text = (
        f"The plant's own runs are {own:g} m long, and the plan leads runs of {min(led):.1f} m or "
        "more from its chambers to the plant room besides: both are in head, contents and fill. "
        "The plant's own are what lies within the building"
    )
    text += "; these are so long that they may be the plan's, told twice." if alike else "."
    yield contradiction("runs_twice" if alike else "runs_besides", text)


def pump_against_choice(name: str) -> Finding:
    """The job's own pump and the one taken bear one name, and are not set alike."""
    text = (
        f"The job's pump and the one that pump_choice takes are both called '{name}' and differ in"
        " tables or setting: the job's pump as it is given runs in every chapter, and pump_choice"
        " judges the other."
    )
    return contradiction("pumps_differ", text, "the rule of this service")
