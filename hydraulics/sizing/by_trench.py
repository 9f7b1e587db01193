"""How long must the trenches of slinkies or straight pipe be?"""

from __future__ import annotations

from functools import cache

from hydraulics.errors import Fault, InputError
from hydraulics.ground.pipe_heat import film_and_wall, film_by_temperature
from hydraulics.plot.plot import TRENCH_SPACING
from hydraulics.shallow.neighbours import Line, nearest_two
from hydraulics.shallow.response import SlinkyTrench, Trench, pipe_row, width
from hydraulics.shallow.trenches import (
    LATENT_NOTES,
    NOTES,
    SLINKY_NOTE,
    last_year_energy,
    life_of_trenches,
)
from hydraulics.sizing.case import Case, Fit, Sized
from hydraulics.sizing.choice import SlinkyArray, StraightArray
from hydraulics.sizing.result import GroundResistance


def fit_trenches(case: Case, choice: SlinkyArray | StraightArray, count: int) -> Fit:
    """So many trenches, as long as the limit asks."""
    pipe = choice.pipe
    trench: Trench
    if isinstance(choice, SlinkyArray):
        trench = SlinkyTrench(
            choice.coil_diameter, choice.pitch, choice.depth, pipe.outside_diameter, choice.upright
        )
    else:
        trench = pipe_row(choice.passes, choice.spacing, choice.depth, pipe.outside_diameter)
    _refuse_over_one_another(case.plot.trenches, width(trench))

    found = life_of_trenches(
        case.ground,
        case.ground.surface,
        trench,
        case.draw,
        pipe,
        case.brine,
        temperature_change=case.change,
        trenches=count,
        centres=case.plot.spacing or TRENCH_SPACING,
        lines=case.plot.trenches,
        years=case.years,
        freezing=case.ground.freezing,
        warm_brine=case.warm_brine,
    )
    needed = found.needed_length(case.between)
    each = case.each(count, needed)

    def sized() -> Sized:
        curvature = pipe.bore / choice.coil_diameter if isinstance(choice, SlinkyArray) else 0.0
        flow = case.mass_flow / count
        film = film_by_temperature(pipe, case.brines, flow, curvature)
        history = found.at_own_film(
            count * each,
            case.between,
            lambda mean: (film(mean) + found.wall) / trench.exchanging_length,
        )
        coldest = case.brine_from(history.coldest_return)
        return Sized(
            count=count,
            needed=needed,
            each=each,
            resistance=GroundResistance(*film_and_wall(pipe, coldest, flow, curvature)),
            history=history,
            coldest_return=history.coldest_return,
            coldest_ground=history.coldest_ground,
            set_by=case.set_by(history, found.at, needed),
            energy=last_year_energy(case.ground, case.ground.surface, trench, found.draws),
            notes=(
                LATENT_NOTES[case.ground.freezing is not None],
                *NOTES,
                *((SLINKY_NOTE,) if isinstance(trench, SlinkyTrench) else ()),
            ),
        )

    return Fit(count, needed, each, cache(sized))


def _refuse_over_one_another(lines: tuple[Line, ...], wide: float) -> None:
    """Places of trenches that are nearer than what lies in each is wide [m]."""
    if (apart := nearest_two(lines)) > wide:
        return
    raise InputError(
        Fault(
            "plot.trenches",
            f"two of them come to {apart:.2f} m from one another, and what lies in each is "
            f"{wide:.2f} m wide; move them apart",
            apart,
            f"more than {wide:.2f} m",
        )
    )
