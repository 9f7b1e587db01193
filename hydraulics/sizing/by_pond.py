"""How many mats must lie in the water?"""

from __future__ import annotations

import math

from scipy.optimize import brentq

from hydraulics.errors import Fault, InputError, NoSolutionError
from hydraulics.shallow.pond import size_pond_mat
from hydraulics.sizing.case import Case, Sized
from hydraulics.sizing.choice import PondArray
from hydraulics.sizing.loops import rounded_up
from hydraulics.sizing.result import GroundResistance


def sized_mats(case: Case, choice: PondArray, count: int) -> Sized:
    """So many loops of mats, as many mats as the limit asks."""
    coil = 0.5 * (choice.inner_diameter + choice.outer_diameter)

    def at(limit: float) -> tuple[float, float, float, float, float, float]:
        mat = size_pond_mat(
            case.draw.peak,
            case.change,
            choice.pipe,
            case.brine,
            choice.coldest_water,
            loops=count,
            coil_diameter=coil,
            least_return=limit,
        )
        return (
            mat.total_length,
            mat.inside_film,
            mat.wall,
            mat.outside_film,
            mat.outside_temperature,
            mat.length_if_film_weaker,
        )

    if case.by_rate is None:
        needed, worse = (values := at(case.limit))[0], values[5]
    else:
        try:
            needed, worse = (values := at(case.limit))[0], values[5]
        except NoSolutionError:
            needed = worse = math.inf
    each = rounded_up(choice, (case.by_rate or needed) / count)
    total = each * count
    # As laid, the return is above the limit, or far enough below it where a rate asks for less.
    # The draw per metre is nearly linear in temperature, so its root is found in a few steps.
    coldest = case.limit if total >= needed else case.limit - 100.0
    warmest = choice.coldest_water - 1e-3
    if total >= at(warmest)[0]:
        returning = warmest
    elif total < at(coldest)[0]:
        raise InputError(
            Fault(
                "rate",
                f"leaves {total:.1f} m of pipe, which would draw the peak only from brine more "
                f"than 100 K below the limit of {case.limit:g} degC; give a smaller rate",
                None,
                "a rate that water can give",
            )
        )
    else:
        returning = float(
            brentq(lambda limit: 1.0 / at(limit)[0] - 1.0 / total, coldest, warmest, xtol=1e-4)
        )
    _, film, wall, water, outside, _ = at(returning)
    return Sized(
        count=count,
        needed=needed,
        each=each,
        resistance=GroundResistance(film, wall, water_film=water),
        returning=None,
        going=None,
        coldest_return=returning,
        limiting=None,
        coldest_ground=outside,
        energy=None,
        worse=worse,
        better=None,
        notes=(
            "Only the coldest water is looked at; the pond's year is not modelled.",
            "Free convection in still water (Churchill & Chu 1975), uncertain by 30 % near 4 °C.",
        ),
    )
