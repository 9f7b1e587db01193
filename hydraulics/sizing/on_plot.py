"""Which array does a plot make: loops as told, where they lie, and the tails that follow?"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Final

from hydraulics.checks import refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, listed
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.edit import closed_names, opened
from hydraulics.layout.legs import Leg, Straight
from hydraulics.layout.walk import walk
from hydraulics.pipework.pipe import Pipe
from hydraulics.plot.asked import (
    AsDrawn,
    BoreField,
    ChamberRule,
    Choose,
    HeaderRules,
    Lay,
    ParallelTrenches,
    Pattern,
    Prices,
)
from hydraulics.plot.circuit import circuit_of
from hydraulics.plot.findings import header_wide
from hydraulics.plot.plot import BOREHOLE_SPACING, TRENCH_SPACING
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import SitePlot
from hydraulics.plot.site_plan import Bore, Chamber, SitePlan, Trench, loops_of
from hydraulics.sizing.choice import ArrayChoice, BoreholeArray, LoopLimits, PondArray
from hydraulics.sizing.loops import loop_of
from hydraulics.sizing.result import ArraySizing

MOST_TURNS: Final = 4  # of sizing and setting out anew
TAIL_SETTLED: Final = 0.5  # m, between one turn and the next
SAME_TAIL: Final = 0.01  # m
HOLDS: Final = 5e-3  # m that a trench may be short of what it holds, since places are rounded
ALIKE: Final = 1e-6  # of a trench's length, within which trenches are equal


@dataclass(frozen=True, slots=True)
class SettingOutPlan:
    """What is to be set out, and how.

    Attributes
    ----------
    site
        The ground.
    run_pipe
        Of the runs from chambers to the plant room.
    trenches, bores
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
    end_gap, pattern, choose
        See `ParallelTrenches` and `BoreField`.
    rules, prices
        How header trenches lie, and by what plans are compared.
    array_stays
        Whether the array stays as it is given, tails and all, and only its digging is the plan's.
    """

    site: SitePlot
    run_pipe: Pipe
    trenches: tuple[Trench, ...] = ()
    bores: tuple[Bore, ...] = ()
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
    end_gap: float = 2.0
    pattern: Pattern = "either"
    choose: Choose = "compact"
    rules: HeaderRules = HeaderRules()  # noqa: RUF009 (frozen)
    prices: Prices = Prices()  # noqa: RUF009 (frozen)
    array_stays: bool = False


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
    loop_pipe
        The thickest of the loops'; None where no loop is placed.
    """

    plan: SitePlan
    circuit: Circuit | None
    findings: tuple[Finding, ...]
    loop_pipe: Pipe | None


def set_out_kind(asked: SettingOutPlan, choice: ArrayChoice) -> SetOut:
    """Set out loops of a kind, as many and as long as asked or as fit.

    Parameters
    ----------
    asked
        What is to be set out.
    choice
        What lies in each trench or borehole.
    """
    _refuse_mats(isinstance(choice, PondArray))
    is_bores = isinstance(choice, BoreholeArray)
    if (asked.bores and not is_bores) or (asked.trenches and is_bores):
        text = f"have their place on the plot, and what is to be laid is {choice.kind}"
        placed = "site.boreholes" if asked.bores else "site.trenches"
        raise InputError(Fault(placed, text, choice.kind, "one kind of array"))
    asked = _lying(asked, choice.leg(choice.step))
    by_hand = _by_hand(asked)
    if by_hand is None and not is_bores and asked.count is asked.length is asked.total_length:
        text = "nothing tells how much is to be laid: give a number of loops, a length, or both"
        raise InputError(Fault("count", text, None, "a number, a length, or both"))
    plan = _planned(asked, by_hand or (_bore_field(asked) if is_bores else _parallel(asked)))
    made: dict[str, Loop] = {}
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
        made[trench.loop] = replace(
            loop_of(choice, round(steps * choice.step, 9), 0.0), name=trench.loop
        )
    for bore in plan.bores:
        assert isinstance(choice, BoreholeArray)
        made[bore.loop] = replace(loop_of(choice, bore.depth - choice.buried, 0.0), name=bore.loop)
    return _made(asked, plan, made, by_hand is not None or asked.count in (None, len(plan.loops)))


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
    loops, closed = _loops_by_name(circuit)
    trench = {n: sum(leg.trench.length for leg in o.legs if leg.trench) for n, o in loops.items()}
    depth = {
        n: max((leg.borehole.depth for leg in o.legs if leg.borehole), default=0.0)
        for n, o in loops.items()
    }
    _refuse_mats(any(leg.water is not None for loop in loops.values() for leg in loop.legs))
    neither = [name for name in loops if not trench[name] and not depth[name]]
    both = any(trench.values()) and any(depth.values())
    if neither or both:
        text = (
            "has loops in trenches and in boreholes; set them out one after the other"
            if both
            else f"has the loop {neither[0]}, which lies in no trench and no borehole: only tails"
        )
        raise InputError(Fault("circuit", text, None, "slinky, trench or borehole legs"))
    metres = depth if any(depth.values()) else trench
    asked = _lying(asked, *(leg for loop in loops.values() for leg in loop.legs))
    if (asked.bores and metres is trench) or (asked.trenches and metres is depth):
        placed = "site.boreholes" if asked.bores else "site.trenches"
        lie = "trenches" if asked.bores else "boreholes"
        text = f"have their place on the plot, and the loops of the array lie in {lie}"
        raise InputError(Fault(placed, text, None, f"places of {lie}, or of none"))
    if (by_hand := _by_hand(asked, depth)) is not None:
        _refuse_others(by_hand, metres)
        plan = _planned(asked, by_hand)
        return _array_made(asked, plan, loops, closed, circuit)
    least, most = min(metres.values()), max(metres.values())
    if most - least > ALIKE * most:
        what = "boreholes" if metres is depth else "trenches"
        text = (
            f"has {what} of {least:g} to {most:g} m; places are looked for equal ones only. Give "
            "the place of each"
        )
        raise InputError(Fault("circuit", text, None, f"equal {what}, or their places"))
    found = replace(asked, count=len(loops), length=most, total_length=None)
    lay = _bore_field(found) if metres is depth else _parallel(found)
    plan = _planned(asked, replace(lay, names=tuple(loops)))
    return _array_made(asked, plan, loops, closed, circuit)


def _array_made(
    asked: SettingOutPlan,
    plan: SitePlan,
    loops: Mapping[str, Loop],
    closed: frozenset[str],
    circuit: Circuit,
) -> SetOut:
    """The array given, set out, and in what it is not what else the job says."""
    made = _made(asked, plan, loops, closed=closed)
    findings = list(made.findings)
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
    trenches = tuple(replace(each, pipe_depth=depth) for each in asked.trenches)
    return replace(asked, pipe_depth=depth, trenches=trenches)


def _loops_by_name(circuit: Circuit) -> tuple[dict[str, Loop], frozenset[str]]:
    """Loops without tails by their own names, or with those of their circuits where these clash.

    Closed ones are laid too; their names come with it.
    """
    stands, shut = walk(opened(circuit)), frozenset(closed_names(circuit))
    names = [name.rsplit("/", 1)[-1] for name in stands.names]
    if len(set(names)) < len(names):
        names = stands.names
    loops = {
        name: replace(_without_tails(loop), name=name)
        for name, loop in zip(names, stands.loops, strict=True)
    }
    told = zip(names, stands.names, strict=True)
    return loops, frozenset(name for name, whole in told if whole in shut)


def _made(
    asked: SettingOutPlan,
    plan: SitePlan,
    loops: Mapping[str, Loop],
    is_whole: bool = True,
    closed: frozenset[str] = frozenset(),
) -> SetOut:
    """The array of a plan; none where something is not placed, or not reached."""
    findings = list(plan.findings)
    pipes = (loop.pipe for loop in loops.values())
    thickest = max(pipes, key=lambda pipe: pipe.outside_diameter, default=None)
    if thickest is not None:
        findings += header_wide(plan, thickest.outside_diameter)
    whole = (
        is_whole
        and bool(plan.loops)
        and set(plan.loops) == set(loops) == set(plan.loop_chamber)
        and all(chamber.name in plan.runs for chamber in plan.chambers)
    )
    if not whole:
        return SetOut(plan, None, tuple(findings), thickest)
    circuit, runs = circuit_of(plan, loops, asked.run_pipe, closed)
    if runs and runs[0].length > 0.0:
        # The run is the branch's, so that the plant's own runs stay what they are.
        circuit = Circuit("manifold", (Branch(circuit, runs=runs),))
    return SetOut(plan, circuit, tuple(findings), thickest)


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


def _without_tails(loop: Loop) -> Loop:
    """The loop without straight pipe before and after what lies in trench or borehole."""
    legs = list(loop.legs)
    while legs and isinstance(legs[0], Straight):
        del legs[0]
    while legs and isinstance(legs[-1], Straight):
        del legs[-1]
    return replace(loop, legs=tuple(legs)) if legs else loop


def _refuse_mats(is_water: bool) -> None:
    if is_water:
        text = "has mats in water, which are not set out yet; set out trenches or boreholes"
        raise InputError(Fault("circuit", text, None, "trenches or boreholes"))


def _by_hand(asked: SettingOutPlan, depths: Mapping[str, float] | None = None) -> AsDrawn | None:
    """What is placed by hand; None where places are to be looked for."""
    if not asked.trenches and not asked.bores:
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
            centres=asked.spacing or TRENCH_SPACING,
            spacing=asked.spacing or BOREHOLE_SPACING,
        )


def _refuse_others(drawn: AsDrawn, metres: Mapping[str, float]) -> None:
    """What is placed must be what the array has: every loop, each in a trench that holds it."""
    names = loops_of(drawn.trenches, drawn.bores, ())
    known = ", ".join(list(metres)[:6])
    placed = "site.trenches" if drawn.trenches else "site.boreholes"
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


def _parallel(asked: SettingOutPlan) -> ParallelTrenches:
    return ParallelTrenches(
        asked.count,
        asked.length,
        asked.total_length,
        asked.longest_trench,
        asked.spacing or TRENCH_SPACING,
        asked.end_gap,
        asked.width,
        asked.top_width,
        asked.depth,
        pipe_depth=asked.pipe_depth,
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
                if fault.field.startswith(("chambers", "trenches", "bores"))
                else fault
                for fault in error.faults
            )
        ) from None


def _planned(asked: SettingOutPlan, lay: Lay) -> SitePlan:
    with _on_site():
        return set_out(asked.site, lay, asked.rules, asked.chambers, asked.prices)


def sized_on_plot(
    asked: SettingOutPlan,
    choice: ArrayChoice,
    limits: LoopLimits,
    size: Callable[[ArrayChoice, LoopLimits], ArraySizing],
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
        the longest tail in every loop, which errs on the side of a longer loop and more drop. Where
        what it asks for does not fit, the array is left as it was sized and the findings say so.
    """
    placed = len(asked.trenches) + len(asked.bores)
    tail, given = limits.tail, placed or limits.loops
    loops = given
    tried = choice
    for turn in range(MOST_TURNS):
        sized = size(tried, replace(limits, loops=loops, tail=tail))
        each = sized.length_each
        if isinstance(choice, BoreholeArray):
            each += choice.buried
        found = set_out_kind(replace(asked, count=sized.loops, length=each), choice)
        if found.circuit is None:
            fewest = found.plan.capacity.fewest if found.plan.capacity is not None else None
            if given is not None or fewest is None or fewest == loops:
                return sized, found
            loops = fewest
            continue
        longest = max(found.plan.tails.values(), default=0.0)
        settled = abs(longest - tail) <= TAIL_SETTLED and sized.loops == loops
        if isinstance(choice, BoreholeArray):
            at = tuple(bore.at for bore in found.plan.bores)
            settled = settled and isinstance(tried, BoreholeArray) and tried.positions == at
            tried = replace(choice, positions=at, rows=None, perimeter=False)
        if settled or turn == MOST_TURNS - 1:
            break
        tail, loops = longest, sized.loops
    if found.circuit is None:
        return sized, found
    pipe = sum(loop.pipe_length for loop in walk(found.circuit).loops)
    return replace(sized, circuit=found.circuit, pipe_total=pipe), found
