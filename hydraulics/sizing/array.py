"""Load, ground and kind of array in; metres, equal loops, temperatures and a circuit out.

The models are elsewhere (trenches: :mod:`hydraulics.shallow.trenches`; boreholes:
:mod:`hydraulics.boreholes.sizing`; ponds: :mod:`hydraulics.shallow.pond`). Here they become one
answer for the number of loops that :mod:`hydraulics.sizing.count` finds.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache, partial
from types import MappingProxyType
from typing import Final

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError, RangeError
from hydraulics.findings import RETURN_LIMIT, WARM_LIMIT
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Fluid, Mixture, fluid
from hydraulics.ground.load_history import History
from hydraulics.groundworks.excavation import Trench
from hydraulics.pipework.pipe import STANDARD_COILS
from hydraulics.plot.plot import Plot
from hydraulics.sizing.alternatives import return_limits, sensitivities
from hydraulics.sizing.case import Case, Sized
from hydraulics.sizing.choice import (
    MOST_IN_LINE,
    ArrayChoice,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    Metre,
    SlinkyArray,
    StraightArray,
)
from hydraulics.sizing.count import fit_of, fit_or_reason, is_told
from hydraulics.sizing.findings import CAUTIONS, array_findings, stays_laminar
from hydraulics.sizing.heat_load import HeatLoad, ground_draw, rise_at_peak
from hydraulics.sizing.loops import circuit_of, loop_hydraulics, loop_of
from hydraulics.sizing.published import published_rules
from hydraulics.sizing.result import ArraySizing, AtFlow
from hydraulics.sizing.site import site_use
from hydraulics.split.duty import HeatDuty

YEARS: Final = 20
METHODS: Final[Mapping[Metre, str]] = MappingProxyType(
    {
        "trench": (
            "Line sources (straight pipe) or rings (slinkies) and their mirror images above the "
            "surface, superposed between pipes and trenches and over every month of the life and a "
            "peak; undisturbed ground by Kusuda & Achenbach (1965); film and wall of the pipe at "
            "the peak's flow."
        ),
        "borehole": (
            "Finite line sources, superposed between boreholes and over every month of the life "
            "and a peak; borehole resistance by the first-order multipole; film and wall of the "
            "pipe at the peak's flow."
        ),
        "pipe": (
            "Coldest water, film outside the pipe by Churchill & Chu (1975), film inside and wall "
            "at the peak's flow, integrated along the pipe."
        ),
    }
)
"""How an array is sized, by the metre of its lengths."""


def size_array(
    load: HeatLoad,
    ground: GroundConditions,
    choice: ArrayChoice,
    mixture: Mixture,
    temperature_change: float,
    *,
    plot: Plot | None = None,
    limits: LoopLimits | None = None,
    years: int = YEARS,
    least_return: float = RETURN_LIMIT,
    most_return: float = WARM_LIMIT,
    rate: ExtractionRate | None = None,
    coils: Sequence[float] = STANDARD_COILS,
    dug: Trench | None = None,
) -> ArraySizing:
    """Size an array of equal loops that keeps the return above its limit through its whole life.

    Parameters
    ----------
    load
        What the heat pump gives.
    ground
        Conductivity, heat capacity and the surface's year.
    choice
        Kind of array, its pipe and measures.
    mixture
        Antifreeze and strength.
    temperature_change
        Of the brine through the ground at the greater of both peaks [K].
    plot
        What is available; None: nothing is checked.
    limits
        What makes a loop practical.
    years
        Design life [years], 1 to 100.
    least_return
        Limit on the brine that comes back [degC]; 0 is common practice, no source.
    most_return
        The same in months that put heat back [degC]; 30 is common practice, no source.
    rate
        Extraction rate to follow instead; the conduction model then only checks it.
    coils
        Coil lengths on offer of the loops' pipe [m]; a loop is cut from one.
    dug
        Cross-section of each trench as dug, whose sides and ends the plot must hold; None where it
        is not known.

    Returns
    -------
    ArraySizing

    Raises
    ------
    InputError, RangeError
        Naming what is not usable.
    NoSolutionError
        Where the ground or the water is too cold for the limit, or loops cannot be practical.

    Notes
    -----
    The brine's properties are taken at its coldest mean, the limit less half its rise at the peak
    of heat. Each loop carries an equal share of the flow; the peak is at the end of its month, on
    top of the month's mean. The length is that which just meets the limit, rounded up to what can
    be made. The number of loops: :func:`hydraulics.sizing.count.best_fit`.
    """
    refuse(
        number_fault("temperature_change", temperature_change, "K", above=0.0),
        number_fault("least_return", least_return, "°C"),
        number_fault("most_return", most_return, "°C", above=least_return),
        Fault("years", f"is {years}; give 1 to 100 whole years", years, "1 to 100")
        if years != int(years) or not 1 <= years <= 100
        else None,
    )
    rise = rise_at_peak(load, temperature_change)
    case = Case(
        draw=ground_draw(load, ground.surface.at_surface(ground.diffusivity)),
        ground=ground,
        choice=choice,
        mixture=mixture,
        brine=coldest_brine(mixture, least_return, rise),
        change=temperature_change,
        plot=plot or Plot(),
        limits=limits or LoopLimits(),
        years=int(years),
        limit=least_return,
        most=most_return,
        rate=rate,
        coils=tuple(coils),
        dug=dug,
    )
    fit = fit_or_reason(case)
    _refuse_untold_field(case, fit.count)
    sized = _result(case, fit.sized(), load.performance_slope)
    return replace(sized, findings=array_findings(case, sized))


def coldest_brine(mixture: Mixture, least_return: float, rise: float) -> Fluid:
    """Brine at the coldest mean that a limit on its return allows.

    Parameters
    ----------
    least_return
        Limit on the brine that comes back [degC].
    rise
        Of the brine through the ground at the peak of heat [K].

    Raises
    ------
    RangeError
        Brine on its way out would have no published properties at that limit.
    """
    try:
        fluid(mixture, least_return - rise)
        return fluid(mixture, least_return - rise / 2.0)
    except RangeError as error:
        raise RangeError(*(replace(each, field="least_return") for each in error.faults)) from None


def _refuse_untold_field(case: Case, count: int) -> None:
    """Many boreholes are sized only where they are told to stand: a line would flatter them."""
    if not is_told(case, count):
        raise InputError(
            Fault(
                "choice.rows",
                f"is missing: at least {count} boreholes are needed, and how they stand decides "
                "how deep they must be. Give their rows, their positions, perimeter, or the "
                "plot's two sides, or set them out on a plot by its corners",
                None,
                f"1 to {count} rows; nothing for up to {MOST_IN_LINE} boreholes",
            )
        )


def _peak_elsewhere(history: History | None, coldest_going: float) -> tuple[str, ...]:
    """Where the coldest month has no peak, its brine is told as if it had."""
    if history is None or float(history.going.min()) < coldest_going + 0.05:
        return ()
    return (
        "The coldest brine to the ground, and the duty, have the peak's change in the month that "
        "comes back coldest, though the peak is told to fall in others: colder than any month is "
        "by itself, on the safe side.",
    )


def _recharge(case: Case) -> tuple[str, ...]:
    """Recharge has no peak of its own."""
    if not any(case.draw.recharge):
        return ()
    return (
        "Recharge is counted evenly over each of its months, without a peak: where it comes in "
        "fewer hours, brine is warmer then than is told, and may pass the upper limit.",
    )


def _placed(case: Case) -> tuple[str, ...]:
    """How trenches that have their place are taken."""
    if not isinstance(case.choice, StraightArray | SlinkyArray) or not case.plot.trenches:
        return ()
    return (
        "Trenches are taken where they lie on the plot: each feels as much of the others, and of "
        "itself where it turns back, as lies near, in the mean over all metres of trench.",
    )


# ------------------------------------------------------------------------------------ the result


def _result(case: Case, sized: Sized, slope: float | None) -> ArraySizing:
    """The result, but for its findings."""
    near = replace(case, near=sized.needed if math.isfinite(sized.needed) else None)
    history = sized.history
    draw, choice = case.draw, case.choice
    total = sized.count * sized.each
    loop = loop_of(choice, sized.each, case.limits.tail)
    coldest_going = sized.coldest_return - case.rise
    brine = case.brine_from(sized.coldest_return)
    flow = draw.greatest / (brine.specific_heat * case.change)
    return ArraySizing(
        kind=choice.kind,
        basis="conduction" if case.rate is None else "extraction_rate",
        draw=draw,
        metre=choice.metre,
        needed_length=sized.needed,
        total_length=total,
        loops=sized.count,
        length_each=sized.each,
        loop=loop,
        pipe_total=sized.count * loop.pipe_length,
        coil=case.coil_of(loop.length),
        hydraulics=loop_hydraulics(loop, flow / sized.count, brine),
        peak_per_metre=draw.peak / total,
        annual_per_metre=draw.drawn / total,
        peak_per_metre_of_pipe=draw.peak / total / choice.gathering_pipe,
        annual_per_metre_of_pipe=draw.drawn / total / choice.gathering_pipe,
        resistance=sized.resistance,
        history=history,
        coldest_return=sized.coldest_return,
        coldest_going=coldest_going,
        limit=case.limit,
        most=case.most,
        margin=sized.coldest_return - case.limit,
        coldest_ground=sized.coldest_ground,
        surface_energy=None if sized.energy is None else sized.energy[0],
        store_energy=None if sized.energy is None else sized.energy[1],
        site=site_use(
            case.plot,
            choice,
            sized.count,
            sized.each,
            sized.coordinates,
            dug=case.dug,
        ),
        sensitivities=sensitivities(near, sized.count),
        published=(
            *published_rules(case),
            *(() if sized.by_hand is None else (sized.by_hand,)),
        ),
        return_limits=return_limits(near, sized.count, sized.needed, slope),
        circuit=circuit_of(loop, sized.count),
        duty=HeatDuty(draw.peak, case.rise, coldest_going),
        at_change=cache(partial(_at_change, near, (sized.count, total))),
        cautions=(*CAUTIONS[choice.kind], KINDS[case.mixture.kind].caution),
        notes=(
            *sized.notes,
            *_peak_elsewhere(history, coldest_going),
            *_recharge(case),
            *_placed(case),
        ),
        set_by=sized.set_by,
        nearest=sized.nearest,
    )


def _at_change(
    case: Case,
    sized: tuple[int, float],
    change: float,
    laid: tuple[int, float] | None = None,
) -> AtFlow:
    """Loops as sized, or as laid, at the flow of another change of the brine [K]."""
    count, total = laid or sized
    changed = replace(case, change=change)
    again = replace(
        changed,
        brine=coldest_brine(case.mixture, case.limit, changed.rise),
        limits=replace(case.limits, loops=count),
        rate=None,
        laid=total,
        measured_at=case.mass_flow,
    )
    found = fit_of(again)(count).sized()
    laminar = partial(stays_laminar, again, count, total, found.needed)
    return AtFlow(
        needed_length=found.needed,
        coldest_return=found.coldest_return,
        coldest_ground=found.coldest_ground,
        resistance=found.resistance,
        history=found.history,
        laminar=laminar,
    )
