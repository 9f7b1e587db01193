"""Which array does a plot make: loops as told, where they lie, and the tails that follow?"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice
from typing import Final

import shapely
from shapely import affinity

from hydraulics.checks import refuse
from hydraulics.errors import Fault, InputError, NoSolutionError
from hydraulics.findings import COMMON_PRACTICE, Finding, counted, listed
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.edit import closed_names, one_by_one, opened
from hydraulics.layout.legs import Leg
from hydraulics.layout.walk import Standing, standings, walk
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.asked import (
    END_GAP,
    LEAST_LANE,
    AsDrawn,
    BoreField,
    ChamberRule,
    Choose,
    HeaderRules,
    Lay,
    ParallelTrenches,
    Pattern,
    PondMats,
    Prices,
    name_of,
)
from hydraulics.plot.circuit import Laid, Led, circuit_of, laid
from hydraulics.plot.findings import header_wide, tail_spread
from hydraulics.plot.plot import BOREHOLE_SPACING, TRENCH_SPACING, Plot
from hydraulics.plot.set_out import MOST_TOLD, set_out
from hydraulics.plot.site import SitePlot
from hydraulics.plot.site_plan import Bore, Chamber, HeaderPipes, Mat, SitePlan, Trench, loops_of
from hydraulics.plot.usable import array_ground, grown
from hydraulics.sizing.choice import ArrayChoice, BoreholeArray, LoopLimits, PondArray
from hydraulics.sizing.loops import laid as metres_laid
from hydraulics.sizing.loops import loop_of
from hydraulics.sizing.result import ArraySizing

Sizer = Callable[[ArrayChoice, LoopLimits], ArraySizing]
"""Sizes a kind of array within limits."""

MOST_TURNS: Final = 4  # of sizing and setting out anew
MOST_MORE: Final = 8  # numbers of loops that are tried where those sized do not do
TAIL_SETTLED: Final = 0.5  # m that a tail may have been counted longer than it is laid
SAME_TAIL: Final = 0.01  # m
HOLDS: Final = 5e-3  # m that a trench may be short of what it holds, since places are rounded
PART_LEFT: Final = 0.05  # of all trench that may gather no heat and be told as by the way
MOST_NAMED: Final = 4  # loops that a sentence names one by one
ALIKE: Final = 1e-6  # of a trench's length, within which trenches are equal
NO_ROOM: Final = ("does_not_fit", "no_way", "site_too_small")  # what says that a plan is not whole


@dataclass(frozen=True, slots=True)
class SettingOutPlan:
    """What is to be set out, and how.

    Attributes
    ----------
    site
        The ground.
    run_pipe
        Of the runs from chambers to the plant room.
    trenches, bores, mats
        Placed by hand; empty to have places looked for.
    chambers
        Placed, or the rule by which they are.
    choice
        What lies in each, where no array tells.
    count, length, total_length, longest_trench
        Trenches or boreholes, and how long or deep each is [m], where the array does not tell; see
        `ParallelTrenches`.
    spacing
        Centre to centre of trenches or boreholes [m]; None for the usual.
    width, top_width, depth
        Of the loops' trenches [m].
    pipe_depth
        Of the lowest pipe in them [m], where what lies in them does not tell; None for what lies on
        the usual bedding.
    rise
        From the lowest pipe in them up to the highest [m], as what lies in them tells.
    end_gap
        Between the ends of trenches in line [m]; None for 2 m, or two stubs where those are longer.
    pattern, choose
        See `BoreField`.
    rules, prices
        How header trenches lie, and by what plans are compared.
    array_stays
        Whether the array stays as it is given, tails and all, and only its digging is the plan's.
    max_trench
        Trench of loops that can be dug in all [m]; None for any. Numbers and lengths that are
        looked for keep it; where those told do not, a finding says so.
    """

    site: SitePlot
    run_pipe: Pipe
    trenches: tuple[Trench, ...] = ()
    bores: tuple[Bore, ...] = ()
    mats: tuple[Mat, ...] = ()
    chambers: ChamberRule | tuple[Chamber, ...] = ChamberRule()  # noqa: RUF009 (frozen)
    choice: ArrayChoice | None = None
    count: int | None = None
    length: float | None = None
    total_length: float | None = None
    longest_trench: float = math.inf
    spacing: float | None = None
    width: float = 1.2
    top_width: float | None = None
    depth: float = 1.2
    pipe_depth: float | None = None
    rise: float = 0.0
    end_gap: float | None = None
    pattern: Pattern = "either"
    choose: Choose = "compact"
    rules: HeaderRules = HeaderRules()  # noqa: RUF009 (frozen)
    prices: Prices = Prices()  # noqa: RUF009 (frozen)
    array_stays: bool = False
    max_trench: float | None = None


@dataclass(frozen=True, slots=True)
class SetOut:
    """Where everything lies, and the array that it makes.

    Attributes
    ----------
    plan
        The plan.
    circuit
        The array with the plan's tails and runs; None where not all of it is placed or reached.
    findings
        Of the plan, and about the array.
    pipes
        Of its header trenches, those of every loop that is to be laid.
    """

    plan: SitePlan
    circuit: Circuit | None
    findings: tuple[Finding, ...]
    pipes: HeaderPipes


def set_out_kind(asked: SettingOutPlan, choice: ArrayChoice) -> SetOut:
    """Set out loops of a kind, as many and as long as asked or as fit.

    Parameters
    ----------
    asked
        What is to be set out.
    choice
        What lies in each trench or borehole.
    """
    if isinstance(choice, PondArray):
        return _mats_of_kind(asked, choice)
    is_bores = isinstance(choice, BoreholeArray)
    if asked.mats or (asked.bores and not is_bores) or (asked.trenches and is_bores):
        kind = choice.kind.replace("_", " ")
        text = f"{_placed(asked)} have their place on the plot, and what is to be laid is {kind}; "
        text += "take those places out, or lay what they are for"
        placed = f"site.{_placed(asked)}"
        raise InputError(Fault(placed, text, choice.kind, "one kind of array"))
    asked = _lying(asked, choice.leg(choice.step))
    by_hand = _by_hand(asked)
    if by_hand is None and not is_bores and asked.count is asked.length is asked.total_length:
        text = "nothing tells how much is to be laid: give a number of loops, a length, or both"
        raise InputError(Fault("count", text, None, "a number, a length, or both"))
    step = 0.0 if is_bores else choice.step
    if asked.total_length is not None and asked.longest_trench < step:
        text = f"is {asked.longest_trench:g} m, too short for what lies in a trench"
        raise InputError(Fault("longest_trench", text, asked.longest_trench, f"{step:g} m or more"))
    plan = _planned(asked, by_hand or (_bore_field(asked) if is_bores else _parallel(asked, step)))
    if by_hand is None and (short := _within_reach(asked, plan, step)) is not asked:
        kept = tuple(_limit_kept(short, plan))
        asked, plan = short, _planned(short, _parallel(short, step))
        plan = replace(plan, findings=(*plan.findings, *kept))
    made: dict[str, Laid] = {}
    for trench in plan.trenches:
        # Whole coils or decimetres that the trench holds, never more.
        steps = math.floor((trench.length + HOLDS) / choice.step)
        if steps < 1:
            raise InputError(
                Fault(
                    "length",
                    f"is {trench.length:.2f} m in {trench.loop}, too short for what lies in it",
                    trench.length,
                    f"{choice.step:g} m or more",
                )
            )
        loop = loop_of(choice, round(steps * choice.step, 9), 0.0)
        made[trench.loop] = Laid(replace(loop, name=trench.loop))
    for bore in plan.bores:
        assert isinstance(choice, BoreholeArray)
        loop = loop_of(choice, bore.depth - choice.buried, 0.0)
        made[bore.loop] = Laid(replace(loop, name=bore.loop))
    whole = by_hand is not None or (
        asked.count in (None, len(plan.loops))
        and plan.trench_dug >= (asked.total_length or 0.0) - HOLDS
    )
    found = _made(asked, plan, made, whole)
    return replace(found, findings=(*found.findings, *_part_of_step(plan, made, choice.step)))


def _within_reach(asked: SettingOutPlan, plan: SitePlan, step: float) -> SettingOutPlan:
    """The same, where more trench was found than can be dug: fewer, or shorter, as is left open.

    Unchanged where number and length, or the total, are told: then a finding says so.
    """
    most = asked.max_trench
    if most is None or round(plan.trench_dug, 2) <= most:
        return asked
    if asked.count is None and asked.length is not None:
        if (count := math.floor(most / asked.length * (1.0 + ALIKE))) < 1:
            raise InputError(
                Fault(
                    "length",
                    f"is {asked.length:g} m, and {most:g} m of trench can be dug in all",
                    asked.length,
                    f"{most:g} m or less",
                )
            )
        return replace(asked, count=count)
    if asked.count is not None and asked.length is None:
        # Downwards to whole coils or decimetres.
        steps = math.floor(most / asked.count / step + ALIKE)
        return replace(asked, length=round(max(steps, 1) * step, 9))
    return asked


def _limit_kept(asked: SettingOutPlan, found: SitePlan) -> Iterator[Finding]:
    """Yield what the trench that can be dug let be laid of what was found without it."""
    yield Finding(
        "trench_limit_kept",
        "info",
        f"{counted(asked.count or 0, 'trench', 'trenches')} of {asked.length:g} m "
        f"{'is' if asked.count == 1 else 'are'} laid, since {asked.max_trench:g} m can "
        f"be dug in all; there is room for {len(found.trenches)} of "
        f"{found.trenches[0].length:.2f} m.",
        "trench that can be dug, as given",
    )


def _part_of_step(plan: SitePlan, loops: Mapping[str, Laid], step: float) -> Iterator[Finding]:
    """Trenches told so long that a coil or decimetre more has no room in what is left."""
    left = {t.loop: t.length - loops[t.loop].trench_length for t in plan.trenches}
    short = [name for name, metres in left.items() if metres > 2.0 * HOLDS]
    if short:
        name = max(short, key=left.__getitem__)
        takes, metres = loops[name].trench_length, sum(left.values())
        yield Finding(
            "trench_longer_than_loop",
            "warning" if metres > PART_LEFT * plan.trench_dug else "info",
            f"The trench of {name} is {takes + left[name]:.2f} m long and its loop takes "
            f"{takes:.2f} m of it{_and_more(short)}, since what lies in it comes in steps of "
            f"{step:g} m: {metres:.1f} m of {plan.trench_dug:.1f} m are dug and gather no heat. "
            "Tell a length of whole steps.",
            COMMON_PRACTICE,
        )


def _placed(asked: SettingOutPlan) -> str:
    if asked.mats:
        return "mats"
    return "boreholes" if asked.bores else "trenches"


def _mats_of_kind(asked: SettingOutPlan, choice: PondArray) -> SetOut:
    """Mats of a kind, each a loop, as many as asked."""
    if asked.trenches or asked.bores:
        text = f"{_placed(asked)} have their place on the plot, and what is to be laid is pond mats"
        raise InputError(Fault(f"site.{_placed(asked)}", text, choice.kind, "one kind of array"))
    if asked.length is not None or asked.total_length is not None:
        field = "length" if asked.length is not None else "total_length"
        text = "is told, and mats have none: tell their number, and their size in the sizing"
        raise InputError(Fault(field, text, None, "no length"))
    by_hand = _by_hand(asked, dict.fromkeys((m.loop for m in asked.mats), choice.outer_diameter))
    if by_hand is None and asked.count is None:
        text = "nothing tells how many mats are to be laid: give a number of loops"
        raise InputError(Fault("count", text, None, "a number"))
    plan = _planned(asked, by_hand or _pond_mats(asked, choice.outer_diameter))
    loop = loop_of(choice, choice.step, 0.0)
    made = {mat.loop: Laid(replace(loop, name=mat.loop)) for mat in plan.mats}
    return _made(asked, plan, made, by_hand is not None or asked.count == len(plan.loops))


def _pond_mats(asked: SettingOutPlan, diameter: float) -> PondMats:
    assert asked.count is not None
    if asked.spacing is None:
        return PondMats(asked.count, diameter)
    gap = asked.spacing - diameter
    least = diameter + LEAST_LANE
    if gap < LEAST_LANE - HOLDS:
        text = f"is {asked.spacing:g} m; mats of {diameter:g} m want lanes for tails between them"
        raise InputError(Fault("site.spacing", text, asked.spacing, f"{least:g} m or more"))
    return PondMats(asked.count, diameter, max(gap, LEAST_LANE))


def _in_series(circuit: Circuit) -> Iterator[Fault]:
    """Yield loops with more boreholes or mats than one: a plan would leave the others out."""
    for each in standings(circuit):
        if each.loop is None:
            continue
        mats = sum(leg.water.mats for leg in each.loop.legs if leg.water is not None)
        bores = sum(leg.borehole is not None for leg in each.loop.legs)
        for what, count in (("borehole", bores), ("mat", mats)):
            if count > 1:
                at = ".item.".join(f"branches.{number}" for number in each.place)
                yield Fault(
                    f"circuit.{at}.item.legs",
                    f"{each.name} has {count} {what}s one after the other, and a plan gives each "
                    f"loop the place of one: make each {what} a loop of its own, as the sizing "
                    "does where the setting out is in its job (size again, and take the array "
                    "that it decides), or go on without setting it out",
                    count,
                    f"one {what} a loop",
                )


def set_out_array(asked: SettingOutPlan, circuit: Circuit) -> SetOut:
    """Set out the loops of an array; their tails become those of the plan.

    Parameters
    ----------
    asked
        What is to be set out; the array tells how many trenches or boreholes, and how long.
    circuit
        The array. Straight pipe before and after what lies in trench or borehole is its tail.

    Raises
    ------
    InputError
        Naming loops that lie in neither, or trenches of unequal lengths that nobody placed.
    """
    refuse(*islice(_in_series(circuit), MOST_TOLD))
    told, circuits = _told_of(circuit)
    loops = {name: each.loop for name, each in told.items()}
    trench = {name: each.trench_length for name, each in told.items()}
    legs = {name: loop.legs for name, loop in loops.items()}
    depth = {
        n: max((e.borehole.depth for e in o if e.borehole), default=0.0) for n, o in legs.items()
    }
    mat = {n: max((e.water.diameter for e in o if e.water), default=0.0) for n, o in legs.items()}
    kinds = {"trenches": trench, "boreholes": depth, "mats": mat}
    neither = [name for name in loops if not any(kind[name] for kind in kinds.values())]
    lie = [what for what, kind in kinds.items() if any(kind.values())]
    if neither or len(lie) > 1:
        text = (
            f"has the loop {neither[0]}, which lies in no trench, borehole or mat: only tails"
            if neither
            else f"has loops in {listed(lie)}; set them out one after the other"
        )
        raise InputError(Fault("circuit", text, None, "slinky, trench, borehole or mat legs"))
    (what,) = lie
    metres = kinds[what]
    asked = _lying(asked, *(leg for loop in loops.values() for leg in loop.legs))
    rises = {name: max(map(_rise, loop.legs)) for name, loop in loops.items()}
    trenches = tuple(replace(each, rise=rises.get(each.loop, each.rise)) for each in asked.trenches)
    asked = replace(asked, trenches=trenches)
    if (asked.trenches or asked.bores or asked.mats) and _placed(asked) != what:
        text = f"{_placed(asked)} have their place on the plot, and the loops of the array lie in "
        text += f"{what}; take those places out, or give those of {what}"
        raise InputError(Fault(f"site.{_placed(asked)}", text, None, f"places of {what}, or none"))
    if (by_hand := _by_hand(asked, metres)) is not None:
        _refuse_others(by_hand, metres)
        plan = _planned(asked, by_hand)
        return _array_made(asked, plan, told, circuits, circuit)
    least, most = min(metres.values()), max(metres.values())
    if most - least > ALIKE * most:
        text = (
            f"has {what} of {least:g} to {most:g} m; places are looked for equal ones only. Give "
            "the place of each"
        )
        raise InputError(Fault("circuit", text, None, f"equal {what}, or their places"))
    found = replace(asked, count=len(loops), length=most, total_length=None)
    lay: BoreField | PondMats | ParallelTrenches
    if what == "mats":
        lay = _pond_mats(found, most)
    else:
        lay = _bore_field(found) if what == "boreholes" else _parallel(found)
    # A plan names loops by their places, and the array that it decides lists them by chambers.
    if {name_of(lay, number) for number in range(len(loops))} != set(loops):
        lay = replace(lay, names=tuple(loops))
    plan = _planned(asked, lay)
    return _array_made(asked, plan, told, circuits, circuit)


def _array_made(
    asked: SettingOutPlan,
    plan: SitePlan,
    loops: Mapping[str, Laid],
    circuits: Mapping[frozenset[str], Led],
    circuit: Circuit,
) -> SetOut:
    """The array given, set out, and in what it is not what else the job says."""
    made = _made(asked, plan, loops, circuits=circuits)
    findings = [
        *made.findings,
        *_not_taken(asked, plan, circuits, circuit),
        *_longer_trenches(plan, loops),
    ]
    if joined := [name.replace("_", " ") for name in _arrangements(circuit)]:
        findings.append(
            Finding(
                "set_out_as_manifold",
                "warning",
                f"The array is joined in {listed(joined)}, and a plan leads every loop's tails to "
                "a manifold chamber: what it decides is an array on manifolds, with other flows "
                "and another head. To keep the array as it is, go on without what the plan "
                "decides and give its headers' lengths.",
                COMMON_PRACTICE,
            )
        )
    if asked.count is not None and asked.count != len(loops):
        findings.append(
            Finding(
                "count_not_of_array",
                "warning",
                f"{asked.count} loops are asked for, and the array given has {len(loops)}, which "
                "are set out. Leave the array out to have another number of loops.",
                COMMON_PRACTICE,
            )
        )
    return replace(made, findings=tuple(findings))


def _arrangements(circuit: Circuit) -> tuple[str, ...]:
    """How its branches are joined other than at a manifold, each once."""
    inner = [b.item for b in circuit.branches if isinstance(b.item, Circuit)]
    own = circuit.arrangement if sum(b.count for b in circuit.branches) > 1 else "manifold"
    found = dict.fromkeys((own, *(name for each in inner for name in _arrangements(each))))
    return tuple(name for name in found if name != "manifold")


def _lying(asked: SettingOutPlan, *legs: Leg) -> SettingOutPlan:
    """The same, with the pipe as deep as the deepest of the legs that tell it."""
    told = [lies.lowest for leg in legs if (lies := leg.trench) is not None]
    depth = max((each for each in told if each is not None), default=asked.pipe_depth)
    rise = max(map(_rise, legs))
    trenches = tuple(replace(each, pipe_depth=depth, rise=rise) for each in asked.trenches)
    return replace(asked, pipe_depth=depth, rise=rise, trenches=trenches)


def _rise(leg: Leg) -> float:
    """From a leg's lowest pipe in its trench up to its highest [m]."""
    return leg.trench.rise if leg.trench is not None else 0.0


def _told_of(circuit: Circuit) -> tuple[dict[str, Laid], dict[frozenset[str], Led]]:
    """Every loop by its name, closed ones too, and every circuit by the names of its loops.

    Where loops of two circuits have one name, all bear those of their circuits before it. A name
    is the loop's own, whatever is in it: an array that a plan decided keeps the names of its plan.
    """
    shut = frozenset(closed_names(circuit))
    every = [*standings(one_by_one(opened(circuit)))]
    stands = [each for each in every if each.loop is not None]
    names = [each.branch.item.name for each in stands]
    if len(set(names)) < len(names):
        names = [each.name for each in stands]
    loops = {
        name: laid(each.branch, name, each.name in shut)
        for name, each in zip(names, stands, strict=True)
    }
    led: dict[frozenset[str], Led] = {}
    for hung in every:
        if hung.loop is None:
            below = zip(names, stands, strict=True)
            own = frozenset(n for n, each in below if each.place[: len(hung.place)] == hung.place)
            led[own] = _led(hung, led.get(own, Led()))
    return loops, led


def _led(hung: Standing, before: Led) -> Led:
    """How a circuit hangs on an array, what is said of the same loops already counted in."""
    branch = hung.branch
    on_run = before.on_run
    for run in branch.runs:
        on_run += run.fittings
    longest = max(branch.runs, key=lambda run: run.length, default=None)
    pipe = before.pipe if longest is None else longest.pipe
    return Led(hung.name, pipe, on_run, before.fittings + branch.fittings)


def _not_taken(
    asked: SettingOutPlan,
    plan: SitePlan,
    circuits: Mapping[frozenset[str], Led],
    circuit: Circuit,
) -> Iterator[Finding]:
    """What the array tells of its circuits and runs and the plan makes otherwise."""
    chambers = {frozenset(plan.held_by(chamber.name)): chamber for chamber in plan.chambers}
    lost = [names for names in circuits if names not in chambers]
    if lost:
        without = any(circuits[n].on_run.square or circuits[n].fittings.square for n in lost)
        own = listed([circuits[names].name or _few(names) for names in lost[:MOST_NAMED]])
        chambers_put = f"{len(plan.chambers)} chamber{'s' if len(plan.chambers) != 1 else ''}"
        yield Finding(
            "circuits_not_kept",
            "warning",
            f"The array has {'a circuit' if len(lost) == 1 else f'{len(lost)} circuits'} of its "
            f"own ({own}), and the plan puts {chambers_put} for "
            "other loops: the array that it decides has the plan's circuits"
            + (" and not the fittings on the way to those" if without else "")
            + ". Place trenches or boreholes and chambers by hand, each loop nearest to the "
            "chamber of its circuit, or go on without the array that the plan decides.",
            COMMON_PRACTICE,
        )
    led = [
        each
        for each in standings(circuit)
        if each.loop is not None and any(run.length > 0.0 for run in each.branch.runs)
    ]
    if led:
        run = led[0].branch.runs[0]
        yield Finding(
            "loop_runs_not_kept",
            "warning",
            f"{led[0].name}{_and_more(led)} hangs on a run of its own ({run.length:g} m of "
            f"{run.pipe.name}): the plan leads tails of the loop's own pipe instead, and the array "
            "that it decides has no such run. Give the loop tails of that pipe to have it.",
            COMMON_PRACTICE,
        )
    other = {
        led.pipe.name: chambers[names].name
        for names, led in circuits.items()
        if names in chambers and led.pipe is not None and led.pipe != asked.run_pipe
    }
    for pipe, chamber in other.items():
        yield Finding(
            "run_pipe_differs",
            "warning",
            f"The array leads {pipe} to {chamber}, and the setting out asks for "
            f"{asked.run_pipe.name}, which is taken: flows and head of the plan's array are those "
            "of that pipe. Let both name one pipe.",
            COMMON_PRACTICE,
        )


def _and_more(all_of_them: Sequence[object]) -> str:
    """How many there are besides the first."""
    return f" (and {len(all_of_them) - 1} more)" if len(all_of_them) > 1 else ""


def _few(names: frozenset[str]) -> str:
    """Some loops by name, not all of many."""
    first = sorted(names)
    return listed(first) if len(first) <= MOST_NAMED else f"{first[0]} and {len(first) - 1} others"


def _longer_trenches(plan: SitePlan, loops: Mapping[str, Laid]) -> Iterator[Finding]:
    """Trenches that are drawn longer than what lies in them, by more than its last step."""
    longer = []
    for trench in plan.trenches:
        held = loops[trench.loop]
        takes = held.trench_length
        step = max(1.0, *(leg.trench.pitch for leg in held.loop.legs if leg.trench is not None))
        if trench.length - takes > step:
            longer.append((trench.loop, trench.length, takes))
    if longer:
        name, drawn, takes = max(longer, key=lambda each: each[1] - each[2])
        yield Finding(
            "trench_longer_than_loop",
            "warning",
            f"The trench of {name} is drawn {drawn:.1f} m long and its loop takes {takes:.1f} m of "
            f"it{_and_more(longer)}: it is dug and bedded as drawn, and heat and drop are of what "
            "lies in it. Draw it shorter, or lay more in it.",
            COMMON_PRACTICE,
        )


def _made(
    asked: SettingOutPlan,
    plan: SitePlan,
    loops: Mapping[str, Laid],
    is_whole: bool = True,
    circuits: Mapping[frozenset[str], Led] | None = None,
) -> SetOut:
    """The array of a plan; none where something is not placed, or not reached."""
    findings = list(plan.findings)
    pipes = HeaderPipes({name: each.tail_pipes for name, each in loops.items()}, asked.run_pipe)
    pipe = {name: loops[name].led(tail).pipe_length for name, tail in plan.tails.items()}
    findings += (*tail_spread(plan, pipe), *header_wide(plan, pipes, asked.rules.width))
    if short := Plot(max_trench=asked.max_trench).trench_shortage(plan.trench_dug):
        text = f"{short}: ask for fewer or shorter trenches, or tell that more can be dug."
        findings.append(
            Finding("site_too_small", "error", text, "trench that can be dug, as given")
        )
    if plan.trenches and (back := [each for each in loops.values() if each.laid_back]):
        findings.append(_laid_back(back))
    whole = (
        is_whole
        and bool(plan.loops)
        and set(plan.loops) == set(loops) == set(plan.loop_chamber)
        and all(chamber.name in plan.runs for chamber in plan.chambers)
    )
    circuit = circuit_of(plan, loops, asked.run_pipe, circuits) if whole else None
    return SetOut(plan, circuit, tuple(findings), pipes)


def _laid_back(back: list[Laid]) -> Finding:
    """Loops whose pipe ends at the far end of their trenches."""
    first = back[0]
    return Finding(
        "return_laid_back",
        "warning",
        f"The pipe of {first.loop.name}{_and_more(back)} ends at the far end of its trench, and "
        f"both tails leave from one end: {first.laid_back:.1f} m of straight pipe back along the "
        "trench are counted with its return, in pipe, contents and drop, and not in the heat. "
        "Where the trench itself comes back (a ring, a U), the array keeps its own tails if it is "
        "not set out.",
        COMMON_PRACTICE,
    )


def field_not_kept(choice: BoreholeArray) -> Iterator[Finding]:
    """Yield that boreholes are told how to stand, and a plan places them itself."""
    told = "perimeter is" if choice.perimeter else "rows are" if choice.rows is not None else ""
    if told := "places are" if choice.positions else told:
        yield Finding(
            "field_not_kept",
            "warning",
            f"The boreholes' {told} told and not kept: the plan "
            "places them on the plot, and they are sized where it does. To have them elsewhere "
            "give each its place on the plot, or go on without the setting out.",
            COMMON_PRACTICE,
        )


def is_of_plan(circuit: Circuit, found: SetOut) -> bool:
    """Whether an array has the tails of a plan, to a centimetre."""
    if found.circuit is None:
        return False
    ours, theirs = (
        sorted(loop.length for loop in walk(opened(each)).loops)
        for each in (circuit, found.circuit)
    )
    return len(ours) == len(theirs) and all(
        abs(one - other) <= 2.0 * SAME_TAIL for one, other in zip(ours, theirs, strict=True)
    )


def header_pipes(circuit: Circuit, run_pipe: Pipe) -> HeaderPipes:
    """Which pipes a plan's header trenches hold, of an array that was made of it and changed since.

    Parameters
    ----------
    circuit
        The array.
    run_pipe
        Of its runs where it has none.
    """
    loops, circuits = _told_of(circuit)
    runs = [each.pipe for each in circuits.values() if each.pipe is not None]
    thickest = max(runs, key=lambda pipe: pipe.outside_diameter, default=run_pipe)
    return HeaderPipes({name: each.tail_pipes for name, each in loops.items()}, thickest)


def names_in_plan(circuit: Circuit, names: Iterable[str]) -> dict[str, str]:
    """What loops are called in the array that a plan makes, by what they were called before.

    A plan hangs loops on its own chambers, so that `North/T1` becomes `C1/T1`.

    Parameters
    ----------
    circuit
        The array as it is set out.
    names
        Of loops, each with or without the circuits around it. Those of no loop, or of several, are
        left as they are.
    """
    made = walk(opened(circuit))
    found: dict[str, str] = {}
    for name in names:
        meant = [
            full
            for full, loop in zip(made.names, made.loops, strict=True)
            if f"/{name}".endswith(f"/{loop.name}")
        ]
        found[name] = meant[0] if name not in made.names and len(meant) == 1 else name
    # Two names of one loop are names of two loops elsewhere.
    return found if len(set(found.values())) == len(found) else {name: name for name in found}


def _by_hand(asked: SettingOutPlan, depths: Mapping[str, float] | None = None) -> AsDrawn | None:
    """What is placed by hand; None where places are to be looked for.

    `depths`: of the boreholes, or the outer diameters of the mats, by their loops [m].
    """
    if not asked.trenches and not asked.bores and not asked.mats:
        return None
    if asked.bores and depths is None and asked.length is None:
        raise InputError(Fault("length", "nothing tells how deep the boreholes are", None, "m"))
    with _on_site():
        return AsDrawn(
            asked.trenches,
            tuple(
                replace(
                    b,
                    depth=asked.length or b.depth
                    if depths is None
                    else depths.get(b.loop, b.depth),
                )
                for b in asked.bores
            ),
            tuple(replace(m, diameter=(depths or {}).get(m.loop, m.diameter)) for m in asked.mats),
            centres=asked.spacing or TRENCH_SPACING,
            spacing=asked.spacing or BOREHOLE_SPACING,
        )


def _refuse_others(drawn: AsDrawn, metres: Mapping[str, float]) -> None:
    """What is placed must be what the array has: every loop, each in a trench that holds it."""
    names = loops_of(drawn.trenches, drawn.bores, drawn.mats)
    known = ", ".join(list(metres)[:6])
    placed = "site.trenches" if drawn.trenches else "site.boreholes"
    placed = "site.mats" if drawn.mats else placed
    refuse(
        *(
            Fault(
                f"{placed}.{number}.loop",
                f"'{name}' is no loop of the array",
                name,
                known,
            )
            for number, name in enumerate(names)
            if name not in metres
        ),
        *(
            Fault(
                placed,
                f"loop {name} of the array has no place",
                None,
                "a place for every loop, or for none",
            )
            for name in metres
            if name not in names
        ),
    )
    refuse(
        *(
            Fault(
                f"site.trenches.{number}.line",
                f"{each.loop} is {each.length:.2f} m long, and its loop takes "
                f"{metres[each.loop]:.2f} m",
                each.length,
                f"{metres[each.loop]:g} m or more",
            )
            for number, each in enumerate(drawn.trenches)
            if each.length < metres[each.loop] - HOLDS
        )
    )


def _parallel(asked: SettingOutPlan, step: float = 0.0) -> ParallelTrenches:
    return ParallelTrenches(
        asked.count,
        asked.length,
        asked.total_length,
        asked.longest_trench,
        asked.spacing or TRENCH_SPACING,
        max(END_GAP, 2.0 * asked.rules.straight_on) if asked.end_gap is None else asked.end_gap,
        asked.width,
        asked.top_width,
        asked.depth,
        pipe_depth=asked.pipe_depth,
        step=step,
        rise=asked.rise,
    )


def _bore_field(asked: SettingOutPlan) -> BoreField:
    if asked.length is None:
        text = "nothing tells how deep the boreholes are"
        raise InputError(Fault("length", text, None, "a depth"))
    spacing = asked.spacing or BOREHOLE_SPACING
    return BoreField(asked.count, asked.length, spacing, asked.pattern, asked.choose)


@contextmanager
def _on_site() -> Iterator[None]:
    """Name chambers and what is placed by hand from the ground that they stand on."""
    try:
        yield
    except InputError as error:
        raise InputError(
            *(
                replace(fault, field=f"site.{fault.field.replace('bores', 'boreholes')}")
                if fault.field.startswith(("chambers", "trenches", "bores", "mats", "water"))
                else fault
                for fault in error.faults
            )
        ) from None


def _planned(asked: SettingOutPlan, lay: Lay) -> SitePlan:
    with _on_site():
        if not isinstance(lay, BoreField):
            return set_out(asked.site, lay, asked.rules, asked.chambers, asked.prices)
        plan = _field(
            asked.site, replace(lay, depth=1.0), asked.rules, asked.chambers, asked.prices
        )
        return replace(plan, bores=tuple(replace(bore, depth=lay.depth) for bore in plan.bores))


@lru_cache(maxsize=4)  # sizing and setting out in turns ask for the same places, deeper
def _field(
    site: SitePlot,
    lay: BoreField,
    rules: HeaderRules,
    chambers: ChamberRule | tuple[Chamber, ...],
    prices: Prices,
) -> SitePlan:
    """Boreholes on a plot: where they stand does not depend on how deep they are."""
    return set_out(site, lay, rules, chambers, prices)


def one_mat_each(choice: PondArray, size: Sizer, *, asked_for: int | None) -> Sizer:
    """Sizes as many loops as it takes to have one mat in each: a plan gives a loop one place."""

    def with_one(tried: ArrayChoice, limits: LoopLimits) -> ArraySizing:
        sized = size(tried, limits)
        mats = round(sized.length_each / choice.step)
        if mats <= 1:
            return sized
        for loops in range(sized.loops + 1, min(2 * mats * sized.loops, limits.most_loops) + 1):
            found = size(tried, replace(limits, loops=loops))
            if round(found.length_each / choice.step) > 1:
                continue
            if asked_for is None:
                return found
            text = f"takes {mats} mats one after the other in a loop, and a plan gives each loop "
            text += f"the place of one: {loops} loops of one mat each carry the load"
            raise InputError(Fault("sizing.loops", text, asked_for, f"{loops} loops"))
        text = f"takes {mats} mats one after the other in a loop, and a plan gives each loop the "
        text += "place of one; no number of loops that may be laid carries the load with one each: "
        text += "take larger mats"
        raise InputError(Fault("sizing.loops", text, mats, "one mat a loop"))

    return with_one


def _settled(
    asked: SettingOutPlan, choice: ArrayChoice, limits: LoopLimits, size: Sizer
) -> tuple[ArraySizing, SetOut]:
    """Sizing and setting out in turns, until neither moves the other's tails and places.

    As many loops as are sized with the tails of the limits, or with the plan's where those are
    shorter; or as the limits tell.
    """
    tail, loops = limits.tail, limits.loops
    tried, lies = choice, (0, 0.0)
    for _ in range(MOST_TURNS):
        sized = size(tried, replace(limits, loops=loops, tail=tail))
        each = sized.length_each
        if isinstance(choice, BoreholeArray):
            each += choice.buried
        if isinstance(choice, BoreholeArray) or (sized.loops, each) != lies:
            wanted = replace(asked, count=sized.loops)
            if not isinstance(choice, PondArray):
                wanted = replace(wanted, length=each)
            found, lies = set_out_kind(wanted, choice), (sized.loops, each)
        if found.circuit is None:
            break
        longest = max(found.plan.tails.values(), default=0.0)
        short = TAIL_SETTLED if isinstance(choice, BoreholeArray) else SAME_TAIL
        settled = -TAIL_SETTLED <= longest - tail <= short and sized.loops == loops
        if isinstance(choice, BoreholeArray):
            at = tuple(bore.at for bore in found.plan.bores)
            settled = settled and isinstance(tried, BoreholeArray) and tried.positions == at
            tried = replace(choice, positions=at, rows=None, perimeter=False)
        if settled:
            break
        # Shorter tails than were counted may let fewer loops do.
        loops = limits.loops if longest < tail - TAIL_SETTLED else sized.loops
        tail = longest
    return sized, found


def _with_more(
    asked: SettingOutPlan,
    choice: ArrayChoice,
    limits: LoopLimits,
    size: Sizer,
    first: tuple[ArraySizing, SetOut],
) -> tuple[ArraySizing, SetOut]:
    """Trenches or mats in as many more loops as have room and keep their limits, tails and all.

    As they were at first where no number that is tried does; but what has room before what has not.
    """
    in_trenches = not isinstance(choice, PondArray) and first[1].circuit is not None
    if not _does(*first, limits) and in_trenches and _no_room_near(asked, first[0], limits):
        return first
    best = at = first
    for turn in range(MOST_MORE):
        sized, found = at
        if _does(sized, found, limits):
            return at
        loops = sized.loops + max(1 + turn // 2, sized.loops // 10)
        if found.circuit is None:
            loops = (found.plan.capacity and found.plan.capacity.fewest) or 0
        if not 0 < loops <= limits.most_loops or loops == sized.loops:
            break
        try:
            at = _settled(asked, choice, replace(limits, loops=loops), size)
        except NoSolutionError:
            break
        if best[1].circuit is None and at[1].circuit is not None:
            best = at
        if loops < sized.loops:  # no more have room
            break
    return at if _does(*at, limits) else best


def _no_room_near(asked: SettingOutPlan, sized: ArraySizing, limits: LoopLimits) -> bool:
    """Whether tails alone are too long however many trenches there are.

    So it is where all ground near enough to chambers that stand holds less than half of what was
    sized: trenches side by side take their centres in width, and the pipe in one is as long as it.
    """
    if limits.longest_pipe is None or isinstance(asked.chambers, ChamberRule):
        return False
    reach = (limits.longest_pipe + sized.length_each) / 2.0 + TAIL_SETTLED
    wide = asked.width if asked.top_width is None else asked.top_width
    near = grown(shapely.MultiPoint([each.at for each in asked.chambers]), reach)
    centres = asked.spacing or TRENCH_SPACING
    room = near.intersection(array_ground(asked.site, wide / 2.0)).buffer(centres / 2.0)
    return bool(room.area < 0.5 * centres * sized.total_length)


def _does(sized: ArraySizing, found: SetOut, limits: LoopLimits) -> bool:
    """Whether what is set out has room, and loops with its longest tail keep their limits."""
    most, at = limits.longest_pipe, sized.hydraulics
    return (
        found.circuit is not None
        and sized.coil is not None
        and (most is None or sized.loop.length <= most * (1.0 + ALIKE))
        and at.drop <= limits.largest_drop
        and at.velocity <= limits.largest_velocity
    )


def _as_deep_as_allowed(sized: ArraySizing, choice: BoreholeArray) -> int:
    """How many boreholes of the greatest depth have the length of those that are too deep."""
    return max(sized.loops + 1, math.floor(sized.loops * sized.length_each / choice.deepest))


def sized_on_plot(
    asked: SettingOutPlan,
    choice: ArrayChoice,
    limits: LoopLimits,
    size: Sizer,
) -> tuple[ArraySizing, SetOut]:
    """Size an array with the places and tails that its plot gives it.

    Parameters
    ----------
    asked
        How it is set out; nothing in it tells how much.
    choice, limits
        Kind of array, and what makes a loop practical.
    size
        Sizes a kind of array within limits.

    Returns
    -------
    tuple
        The sizing with the array that the plot makes, and where it lies. The sizing reckons with
        the longest tail in every loop, which errs on the side of a longer loop and more drop.
        Trenches drawn by hand are laid as they are drawn, whatever length is proposed. Where
        what it asks for does not fit, the array is left as it was sized and the findings say so.
    """
    placed = len(asked.trenches) + len(asked.bores) + len(asked.mats)
    if placed and limits.loops not in (None, placed):
        text = f"is {limits.loops}, and the plot has places for {placed} {_placed(asked)}, which "
        text += "are set out; leave it out, or give as many places"
        raise InputError(Fault("sizing.loops", text, limits.loops, f"{placed}"))
    given = placed or limits.loops
    if isinstance(choice, PondArray):
        size = one_mat_each(choice, size, asked_for=given)
    sized, found = _settled(asked, choice, replace(limits, loops=given), size)
    if not given and not isinstance(choice, BoreholeArray):
        sized, found = _with_more(asked, choice, limits, size, (sized, found))
    # Where it places boreholes they need more depth than in the rows that their number is of.
    for _ in range(MOST_TURNS):
        if given or not isinstance(choice, BoreholeArray) or sized.length_each <= choice.deepest:
            break
        # Places matter less than number: as deep as allowed, so many more carry as much.
        more = replace(limits, loops=_as_deep_as_allowed(sized, choice))
        deeper = sized, found
        sized, found = _settled(asked, choice, more, size)
        if found.circuit is None:  # so many have no room
            sized, found = deeper
            break
    sized = as_it_lies(sized, found)
    if found.circuit is None:
        return sized, found
    sized = replace(sized, circuit=found.circuit)
    trench = metres_laid(found.circuit, choice)
    if abs(trench / sized.total_length - 1.0) > ALIKE:  # drawn: pipe and coils are of each trench
        return replace(sized, laid=trench, coil=None), found
    pipe = sum(loop.pipe_length for loop in walk(found.circuit).loops)
    return replace(sized, pipe_total=pipe), found


def as_it_lies(sized: ArraySizing, found: SetOut) -> ArraySizing:
    """The sizing with the ground that its plan takes, and short of it only where the plan is."""
    plan = found.plan
    short = [f for f in found.findings if f.severity == "error" and f.code in NO_ROOM]
    site = replace(
        sized.site,
        area_available=float(plan.plot.ground.area),
        fits=found.circuit is not None and not short,
        shortages=tuple(each.message.rstrip(".") for each in short),
    )
    if found.circuit is not None:
        length, width, area = _taken(plan)
        site = replace(site, length=length, width=width, area_needed=area)
    others = (each for each in sized.findings if each.code != "site_too_small")
    told = (Finding("site_too_small", "error", f.message, f.source) for f in short)
    return replace(sized, site=site, findings=(*told, *others))


def _taken(plan: SitePlan) -> tuple[float, float, float]:
    """Sides [m] of the rectangle round all that is laid with borders, and its area on the plot."""
    border = plan.plot.border
    about = [(shapely.LineString(t.line), max(border, t.half_top)) for t in plan.trenches]
    about += [(shapely.Point(b.at), border) for b in plan.bores]
    about += [(shapely.Point(m.at), border + m.diameter / 2.0) for m in plan.mats]

    def turned(shape: shapely.Geometry) -> shapely.Geometry:
        return affinity.rotate(shape, -plan.direction_deg, origin=plan.plot.plant)

    around = shapely.union_all([turned(shape).buffer(off) for shape, off in about])
    west, south, east, north = around.bounds
    own = shapely.box(west, south, east, north).intersection(turned(plan.plot.ground))
    return east - west, north - south, float(own.area)
