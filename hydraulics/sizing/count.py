"""How many equal loops are fewest, or least pipe, of those that keep every limit?

The number of loops sets the flow in each, that sets the film, the film sets the length, and the
length says whether so many loops are practical.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Final

from hydraulics.errors import Fault, HydraulicsError, NoDepthError, NoSolutionError
from hydraulics.findings import beyond
from hydraulics.fluid.mixture import Fluid, fluid
from hydraulics.sizing.by_borehole import fit_bores
from hydraulics.sizing.by_pond import fit_mats
from hydraulics.sizing.by_trench import fit_trenches
from hydraulics.sizing.case import Case, Fit, or_infinite
from hydraulics.sizing.choice import MOST_IN_LINE, BoreholeArray, PondArray
from hydraulics.sizing.loops import loop_hydraulics, loop_of, rounded_up
from hydraulics.sizing.site import site_use

# First guess of the draw per metre [W/m]; it decides where the search begins, not where it ends.
_GUESS: Final = {"trench": 20.0, "borehole": 40.0, "pipe": 15.0}
_FAR: Final = 4.0  # no array draws so many times as much as the guess
_LIMIT_STEP: Final = 0.1  # K
_LESS_THAN_NEAREST: Final = (0.0, 0.1, 0.3, 0.7, 1.5)  # K
_ROUNDING: Final = 1.0 + 1e-9

FitOf = Callable[[int], Fit]


def best_fit(case: Case, first: int | None = None) -> Fit:
    """Return the number of loops to propose, and how long they must be.

    Parameters
    ----------
    first
        Number of loops to look at first; None: by a usual draw per metre.

    Returns
    -------
    Fit
        As many loops as are asked for. Else the fewest of which each, as long as it must be, is cut
        from one coil and keeps the limits on its length, drop and velocity. Mats: the least pipe in
        all, in the fewest loops. Trenches that do not fit the plot: the fewest more that do.

    Raises
    ------
    NoSolutionError
        No number of loops is practical, or the ground is too cold for the limit.
    """
    fit = fit_of(case)
    if case.loops is not None:
        return fit(case.loops)
    least = _fewest(case, fit, first)
    if isinstance(case.choice, PondArray):
        return _least_mats(case, case.choice, fit, _fewest_in_warm_water(case, fit, least))
    least = _practical_as_met(case, fit, least)
    if isinstance(case.choice, BoreholeArray) or _has_room(case, least.count, least.each):
        return least
    return _with_room(case, fit, least)


def fit_or_reason(case: Case) -> Fit:
    """Return :func:`best_fit`; where ground is too cold for it, say which limit boreholes keep."""
    try:
        return best_fit(case)
    except NoDepthError as error:
        if case.loops is not None or case.draw.put_back:
            raise
        raise _too_warm(case, error) from None


def is_practical(case: Case, count: int, total: float, brine: Fluid | None = None) -> bool:
    """Whether so many loops of a total length [m] keep drop, velocity and length practical.

    With brine at its coldest that the limit allows, unless it is known.
    """
    brine = brine or case.brine
    choice, limits = case.choice, case.limits
    each = rounded_up(choice, total / count)
    if each > case.longest * _ROUNDING:
        return False
    loop = loop_of(choice, each, limits.tail)
    if loop.length > case.longest_pipe * _ROUNDING:
        return False
    flow = case.draw.greatest / (brine.specific_heat * case.change)
    found = loop_hydraulics(loop, flow / count, brine)
    return found.drop <= limits.largest_drop and found.velocity <= limits.largest_velocity


def is_told(case: Case, count: int) -> bool:
    """Whether it is known how so many boreholes stand; a few are taken to stand in a line."""
    choice = case.choice
    if not isinstance(choice, BoreholeArray) or count <= MOST_IN_LINE:
        return True
    return choice.is_told(case.plot)


def fit_of(case: Case) -> FitOf:
    """How long a number of loops must be, for each number asked once."""
    choice = case.choice
    if isinstance(choice, BoreholeArray):
        return cache(lambda count: fit_bores(case, choice, count))
    if isinstance(choice, PondArray):
        return cache(lambda count: fit_mats(case, choice, count))
    return cache(lambda count: fit_trenches(case, choice, count))


def needed_length(case: Case, count: int) -> float:
    """Length of so many loops that keeps the limits [m]; infinite where none does."""
    return or_infinite(lambda: fit_of(replace(case, rate=None, laid=None))(count).needed)


def _laid(case: Case, fit: Fit) -> float:
    """Total before rounding [m]: by the extraction rate, or as needed."""
    return case.by_rate or fit.needed


def _fewest(case: Case, fit: FitOf, first: int | None) -> Fit:
    """The fewest practical loops, between a number that is too few and one that is enough."""
    _refuse_long_mat(case)
    most = case.limits.most_loops
    too_few, enough = 0, None
    nearest: NoDepthError | None = None
    guess = case.by_rate or case.draw.peak / _GUESS[case.choice.metre]
    if not is_practical(case, most, case.by_rate or guess / _FAR):
        raise _too_many(most)
    count = first or _least_count(case, guess)
    while True:
        found = None
        try:
            found = fit(count)
        except NoDepthError as error:
            # A field of too few boreholes has no depth that does; ever more may have.
            if nearest is None or error.coldest_return > nearest.coldest_return:
                nearest = error
            if error.faults[0].field != "depth_range" or count >= most:
                raise (error if case.draw.put_back else nearest) from None
        if found is not None and is_practical(case, count, _laid(case, found)):
            enough = found
            # A loop less carries more flow in each: a better film, but no more than this.
            count = _least_count(case, _laid(case, found) * (1.0 - 0.5 / count))
        else:
            too_few = count
            after = count * 3 // 2 if found is None else _least_count(case, _laid(case, found))
            if too_few >= most:
                raise _too_many(most)
            count = min(max(count + 1, after), most)
        if enough is not None:
            if count >= enough.count or too_few + 1 == enough.count:
                return enough
            count = max(count, too_few + 1)


def _fewest_in_warm_water(case: Case, fit: FitOf, least: Fit) -> Fit:
    """Whole mats may come back well above the limit, and thinner brine needs fewer loops."""
    while least.count > 1:
        try:
            fewer = fit(least.count - 1)
        except NoSolutionError:
            break
        if not _is_practical_as_met(case, fewer):
            break
        least = fewer
    return least


def _practical_as_met(case: Case, fit: FitOf, least: Fit) -> Fit:
    """More loops where brine that comes back above the limit is turbulent, and drops more."""
    while least.count < case.limits.most_loops and not _is_practical_as_met(case, least):
        try:
            least = fit(least.count + 1)
        except NoSolutionError:
            break
    return least


def _is_practical_as_met(case: Case, fit: Fit) -> bool:
    """Whether loops are practical in brine as it comes back, not at the limit."""
    brine = case.brine_from(fit.sized().coldest_return)
    return is_practical(case, fit.count, _laid(case, fit), brine)


def _least_mats(case: Case, choice: PondArray, fit: FitOf, least: Fit) -> Fit:
    """Whole mats in loops of equally many: the least in all, in the fewest loops."""

    def mats(of: Fit) -> int:
        return of.count * round(of.each / choice.step)

    best, count = least, least.count
    while (count := count + 1) < mats(best):
        # More loops never take less pipe, as less flows in each.
        if count * math.ceil(_laid(case, least) / choice.step / count - 1e-9) < mats(best):
            found = fit(count)
            best = found if mats(found) < mats(best) else best
    return best


def _with_room(case: Case, fit: FitOf, least: Fit) -> Fit:
    """The fewest trenches that fit the plot; the fewest of all where no number does."""
    total, step = _laid(case, least), case.choice.step
    for count in range(least.count + 1, case.limits.most_loops + 1):
        if not _has_room(case, count, step):
            break
        if _has_room(case, count, rounded_up(case.choice, total / count)):
            found = fit(count)
            if _has_room(case, count, found.each):
                return found
            total = max(total, _laid(case, found))
    return least


def _has_room(case: Case, count: int, each: float) -> bool:
    use = site_use(case.plot, case.choice, count, each, None, dug=case.dug)
    return use.fits is not False


def _least_count(case: Case, total: float) -> int:
    """Least practical number of loops of a total length [m], or the most that is looked for."""
    most = case.limits.most_loops
    low, high = 0, 1
    while high < most and not is_practical(case, high, total):
        low, high = high, min(2 * high, most)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if is_practical(case, middle, total) else (middle, high)
    return high


def _refuse_long_mat(case: Case) -> None:
    """A mat that is longer than a loop may be: no number of loops makes it shorter."""
    pipe = loop_of(case.choice, case.choice.step, case.limits.tail).length
    if not isinstance(case.choice, PondArray) or pipe <= case.longest_pipe * _ROUNDING:
        return
    raise NoSolutionError(
        Fault(
            "choice",
            f"is mats of {pipe:.1f} m of pipe each, tails included, and a loop may take "
            f"{case.longest_pipe:g} m: no number of loops keeps that; take smaller mats, mats with "
            "turns further apart, shorter tails or longer coils",
            None,
            f"mats of up to {max(case.longest_pipe - 2.0 * case.limits.tail, 0.0):.1f} m of pipe",
        )
    )


def _too_warm(case: Case, nearest: NoDepthError) -> NoSolutionError:
    """A limit that no number of boreholes keeps, and a colder one that some do."""
    allowed = _allowed_limit(case, nearest.coldest_return)
    (fault,) = nearest.faults
    if fault.field != "depth_range":  # ground itself is too cold
        return NoSolutionError(replace(fault, allowed=allowed))
    return NoSolutionError(
        Fault(
            "least_return",
            f"of {case.limit:g} °C cannot be kept: of all numbers and depths of boreholes that "
            "were tried the warmest brine comes back at "
            f"{beyond(nearest.coldest_return, case.limit, 2)} °C, with {nearest.depth:.0f} m in "
            "each. In more boreholes less flows in each, so that it loses more on its way back, "
            "and shallower ones have more of the winter; lower the limit, take more flow, or put "
            "heat back in the other season",
            case.limit,
            allowed,
        )
    )


def _allowed_limit(case: Case, nearest: float) -> str:
    """A colder limit that some number of boreholes keeps, by the brine that comes nearest [degC].

    That brine may come from deeper boreholes than are allowed, and is thicker at a colder limit.
    """
    for less in _LESS_THAN_NEAREST:
        limit = round(math.floor((nearest - less) / _LIMIT_STEP) * _LIMIT_STEP, 3)
        try:
            colder = replace(case, limit=limit, brine=fluid(case.mixture, limit - case.rise / 2.0))
            _fewest(colder, fit_of(colder), None)
        except NoDepthError as error:
            nearest = min(nearest, error.coldest_return)
        except HydraulicsError:
            continue
        else:
            return f"{limit:z.4g} °C or less"
    return ""


def _too_many(most: int) -> NoSolutionError:
    return NoSolutionError(
        Fault(
            "loops",
            f"more than {most} loops would be needed to keep the limits on a loop's length, "
            "velocity and pressure drop; relax them, take wider pipe or longer coils",
            None,
            f"up to {most} loops",
        )
    )
