"""How many mats must lie in the water?"""

from __future__ import annotations

from functools import cache

import scipy as sp

from hydraulics.errors import Fault, InputError
from hydraulics.shallow.pond import SizedMat, size_pond_mat
from hydraulics.sizing.case import Case, Fit, Sized, or_infinite
from hydraulics.sizing.choice import PondArray
from hydraulics.sizing.result import GroundResistance


def fit_mats(case: Case, choice: PondArray, count: int) -> Fit:
    """So many loops of mats, as many mats as the limit asks."""

    def at(limit: float) -> SizedMat:
        return size_pond_mat(
            case.draw.peak,
            case.rise,
            choice.pipe,
            case.brine if limit >= case.limit else case.brine_from(limit),
            choice.coldest_water,
            loops=count,
            coil_diameter=choice.mean_diameter,
            least_return=limit,
            water_film=1.0 / case.water_film,
        )

    def needed_at_limit() -> float:
        return at(case.limit).total_length

    needed = needed_at_limit() if case.by_rate is None else or_infinite(needed_at_limit)
    each = case.each(count, needed)

    def sized() -> Sized:
        total = each * count
        # As laid, the return is above the limit, or far enough below it where a rate asks for less.
        # The draw per metre is nearly linear in temperature, so its root is found in a few steps.
        coldest = case.limit if total >= needed else case.limit - 100.0
        warmest = choice.coldest_water - 1e-3
        if total >= at(warmest).total_length:
            returning = warmest
        elif total < at(coldest).total_length:
            raise InputError(
                Fault(
                    "rate",
                    f"leaves {total:.1f} m of pipe, which would draw the peak only from brine more "
                    f"than 100 K below the limit of {case.limit:g} °C; give a smaller rate",
                    None,
                    "a rate that water can give",
                )
            )
        else:
            returning = float(
                sp.optimize.brentq(
                    lambda limit: 1.0 / at(limit).total_length - 1.0 / total,
                    coldest,
                    warmest,
                    xtol=1e-4,
                )
            )
        mat = at(returning)
        return Sized(
            count=count,
            needed=needed,
            each=each,
            resistance=GroundResistance(mat.inside_film, mat.wall, water_film=mat.outside_film),
            coldest_return=returning,
            coldest_ground=mat.outside_temperature,
            notes=(
                "Only the coldest water is looked at; the pond's year is not modelled.",
                "Free convection in still water (Churchill & Chu 1975), uncertain by 30 % near "
                "4 °C.",
            ),
        )

    return Fit(count, needed, each, cache(sized))
