"""How long would the loops be in other ground or for another load, and what at other limits?"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial
from typing import Final

from hydraulics.errors import HydraulicsError, InputError, NoSolutionError
from hydraulics.findings import FREEZING_MARGIN
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Mixture, fluid, freezing_margin, freezing_spread, mixture
from hydraulics.shallow.pond import LEAST_WATER
from hydraulics.sizing.case import Case
from hydraulics.sizing.choice import GroundConditions, PondArray
from hydraulics.sizing.count import best_fit, fit_of, is_told, needed_length
from hydraulics.sizing.result import ReturnLimit, Sensitivity

RETURN_LIMITS: Final = (0.0, -3.0, -5.0)  # °C; each is in use somewhere (from memory)
_CONDUCTIVITY: Final = (0.8, 1.2)
_WEAK_FILM: Final = 0.7
COLDER: Final = 1.0  # K
_MORE_LOAD, _LESS_LOAD = 1.1, 0.9
_STEP: Final = 1e-3  # of strength


def sensitivities(case: Case, count: int) -> tuple[Sensitivity, ...]:
    """What uncertain inputs do to the length of so many loops.

    Parameters
    ----------
    case
        What was asked; `near` may tell the length that was found.

    Notes
    -----
    Ground is worse where it is colder for the lower limit, and where it is warmer for the upper:
    either may govern then, whichever does now, and the longer counts. What is drawn makes room for
    what recharge puts back, so that less load is worse where that brings the upper limit.
    """
    if isinstance(case.choice, PondArray):
        varied = [replace(case, water_film=_WEAK_FILM)]
    else:
        varied = [_conducting(case, by) for by in _CONDUCTIVITY]
    first = Sensitivity(
        "water_film" if isinstance(case.choice, PondArray) else "ground_conductivity",
        tuple(needed_length(each, count) for each in varied),
    )
    temperature = Sensitivity(
        "ground_temperature", (max(needed_length(each, count) for each in _worse(case)),)
    )
    loads = _loads(case)
    by_load = [(needed_length(_loaded(case, by), count), by) for by in loads]
    longest, by = max(by_load, key=lambda each: each[0])  # more where both have none
    load = Sensitivity("load", (longest,), less_load=by < 1.0)
    # No less than any one of them, and none where one alone has none.
    together = [first.longest, temperature.longest, load.longest]
    together += [
        needed_length(worse, count)
        for each in varied
        for by in loads
        for worse in _worse(_loaded(each, by))
    ]
    return first, temperature, load, Sensitivity("together", (max(together),))


def return_limits(
    case: Case, count: int, needed: float, slope: float | None
) -> tuple[ReturnLimit, ...]:
    """What other limits on the brine that comes back would mean, warmest first.

    Parameters
    ----------
    count, needed
        Loops and their length in all at the limit that is asked for [-, m].
    slope
        By how much the heat pump's performance changes per kelvin of brine [1/K], where known.
    """

    def told(limit: float) -> ReturnLimit:
        strong = _strong_enough(case.mixture, limit - case.rise)
        then, loops, length = _at_limit(case, limit, strong), count, needed
        if then is not None and (limit != case.limit or then.mixture != case.mixture):
            loops, length = _proposed(then, count)
        if then is None or math.isinf(length):
            return ReturnLimit(limit, math.inf, None, None, strong, told_change(limit))
        change = told_change(limit)
        if change and "upper" in then.held_limits and _set_by_upper(then, loops):
            change = None  # brine does not come so near to this limit
        return ReturnLimit(limit, length, loops, then.reynolds(loops, "lower"), strong, change)

    def told_change(limit: float) -> float | None:
        change = None if slope is None else slope * (limit - case.limit)
        return None if change is not None and change <= -1.0 else change

    limits = sorted({*RETURN_LIMITS, case.limit}, reverse=True)
    return tuple(told(limit) for limit in limits if limit < case.most)


def _set_by_upper(case: Case, count: int) -> bool:
    return fit_of(replace(case, rate=None, laid=None))(count).sized().set_by == "upper"


def _at_limit(case: Case, limit: float, strong: Mixture | None) -> Case | None:
    """With the job's own mixture where that is strong enough; None where none is."""
    if strong is None:
        return None
    mix = case.mixture if _keeps_margin(case.mixture, limit - case.rise) else strong
    try:
        brine = fluid(mix, limit - case.rise / 2.0)
    except HydraulicsError:
        return None
    return replace(case, limit=limit, brine=brine, mixture=mix)


def _proposed(case: Case, count: int) -> tuple[int, float]:
    """Loops that a sizing would propose, and the length that they need in all [-, m].

    As many as given of mats and where a rate sets their number, or where it cannot be told: more
    boreholes than stand in a line whose places are not told, or no number that is practical.
    """
    if case.rate is None and not isinstance(case.choice, PondArray):
        try:
            fit = best_fit(case, count)
        except NoSolutionError:
            pass
        else:
            if fit.count <= count or is_told(case, fit.count):
                return fit.count, fit.needed
    return count, needed_length(case, count)


def _strong_enough(mix: Mixture, coldest: float) -> Mixture | None:
    """The weakest of a kind that keeps its margin above freezing; None: none does."""
    kind, keeps = KINDS[mix.kind], partial(_keeps_margin, coldest=coldest)

    def of(steps: int) -> Mixture:
        return mixture(mix.kind, steps * _STEP, "mass")

    low = math.ceil(kind.min_mass_fraction / _STEP - 1e-9)
    high = math.floor(kind.max_mass_fraction / _STEP + 1e-9)
    if high <= low:
        return mix if keeps(mix) else None
    if keeps(of(low)):
        return of(low)
    if not keeps(of(high)):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if keeps(of(middle)) else (middle, high)
    return of(high)


def _keeps_margin(made: Mixture, coldest: float) -> bool:
    return freezing_margin(made, coldest) >= FREEZING_MARGIN + freezing_spread(made)


def _conducting(case: Case, factor: float) -> Case:
    """Ground that conducts as much better, frozen and unfrozen."""
    ground, freezing = case.ground, case.ground.freezing
    if freezing is not None and freezing.conductivity is not None:
        freezing = replace(freezing, conductivity=factor * freezing.conductivity)
    conductivity = factor * ground.conductivity
    return replace(case, ground=replace(ground, conductivity=conductivity, freezing=freezing))


def _loads(case: Case) -> tuple[float, ...]:
    """Loads that may be worse, as a share of what is asked for."""
    try:
        less = any(case.draw.recharge) and case.draw.with_more(_LESS_LOAD)
    except InputError:  # recharge covers it in every month
        less = False
    return (_MORE_LOAD, _LESS_LOAD) if less else (_MORE_LOAD,)


def _worse(case: Case) -> list[Case]:
    """Ground to the worse side of each limit."""
    return [_warmer(case, COLDER if limit == "upper" else -COLDER) for limit in case.held_limits]


def _warmer(case: Case, by: float) -> Case:
    """Ground, and a pond's water while it is liquid, as much warmer [K]."""
    ground: GroundConditions = case.ground
    choice = case.choice
    return replace(
        case,
        ground=replace(
            ground,
            surface=replace(ground.surface, mean=ground.surface.mean + by),
            undisturbed=None if ground.undisturbed is None else ground.undisturbed + by,
            profile=tuple((depth, at + by) for depth, at in ground.profile),
        ),
        choice=replace(choice, coldest_water=max(choice.coldest_water + by, LEAST_WATER))
        if isinstance(choice, PondArray)
        else choice,
    )


def _loaded(case: Case, factor: float) -> Case:
    """As much more heat and cold at the same flow, so that the brine changes by as much more.

    Its mean at the lower limit is colder then, and its film thicker or slower.
    """
    more = replace(case, change=factor * case.change, draw=case.draw.with_more(factor))
    return replace(more, brine=fluid(case.mixture, case.limit - more.rise / 2.0))
