"""How long must the trenches of slinkies or straight pipe be?"""

from __future__ import annotations

from dataclasses import replace

from hydraulics.plot.plot import TRENCH_SPACING
from hydraulics.shallow.response import Ground, SlinkyTrench, Trench, pipe_row
from hydraulics.shallow.trench_life import GroundLoad, trench_history
from hydraulics.shallow.trench_sizing import TrenchArray, size_trench_array
from hydraulics.sizing.case import Case, Sized
from hydraulics.sizing.choice import BoreholeArray, PondArray, SlinkyArray
from hydraulics.sizing.loops import rounded_up
from hydraulics.sizing.result import GroundResistance


def sized_trenches(case: Case, count: int) -> Sized:
    """So many trenches, as long as the limit asks."""
    soil = Ground(case.ground.conductivity, case.ground.heat_capacity)
    draw, choice = case.draw, case.choice
    diameter = choice.pipe.outside_diameter
    trench: Trench
    if isinstance(choice, SlinkyArray):
        trench = SlinkyTrench(
            choice.coil_diameter, choice.pitch, choice.depth, diameter, choice.upright
        )
    else:
        assert not isinstance(choice, PondArray | BoreholeArray)
        trench = pipe_row(choice.passes, choice.spacing, choice.depth, diameter)
    load = GroundLoad(draw.monthly, draw.peak, draw.peak_hours, case.change, draw.first_month)
    sized = size_trench_array(
        soil,
        case.ground.surface,
        trench,
        load,
        choice.pipe,
        case.brine,
        trenches=count,
        centres=case.plot.spacing or TRENCH_SPACING,
        least_return=case.limit,
        years=case.years,
    )
    found = _of_trench_array(sized, count)
    if case.by_rate is None:
        return found
    each = rounded_up(choice, case.by_rate / count)
    history = trench_history(
        soil,
        case.ground.surface,
        trench,
        load,
        choice.pipe,
        case.brine,
        trenches=count,
        trench_length=each,
        centres=case.plot.spacing or TRENCH_SPACING,
        years=case.years,
    )
    return replace(
        found,
        each=each,
        returning=history.returning,
        going=history.going,
        coldest_return=history.coldest_return,
        limiting=history.limiting,
        coldest_ground=history.coldest_ground,
    )


def _of_trench_array(sized: TrenchArray, count: int) -> Sized:
    return Sized(
        count=count,
        needed=sized.needed_length,
        each=sized.trench_length,
        resistance=GroundResistance(sized.pipe.film, sized.pipe.wall),
        returning=sized.return_temperature,
        going=sized.going_temperature,
        coldest_return=sized.coldest_return,
        limiting=sized.limiting,
        coldest_ground=sized.coldest_ground,
        energy=(sized.surface_energy, sized.store_energy),
        worse=sized.length_if_less_conductive,
        better=sized.length_if_more_conductive,
        notes=sized.notes,
    )
