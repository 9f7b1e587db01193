"""How cold does the brine of a trench array of given length get, month by month?

The inverse of :mod:`hydraulics.trench_sizing`: there a limit gives the length, here a length gives
the temperatures. Same ground, same superposition.
"""

from __future__ import annotations

from hydraulics.antifreeze import Fluid
from hydraulics.ground_checks import number_fault, refuse
from hydraulics.ground_temperature import SurfaceTemperature
from hydraulics.pipe import Pipe
from hydraulics.shallow_ground import Ground, Trench
from hydraulics.trench_sizing import (
    GroundLoad,
    TrenchHistory,
    life_of_trenches,
    loop_flow,
    pipe_resistance,
)

__all__ = ["TrenchHistory", "trench_history"]


def trench_history(  # noqa: PLR0917 (each is another subject)
    ground: Ground,
    surface: SurfaceTemperature,
    trench: Trench,
    load: GroundLoad,
    pipe: Pipe,
    brine: Fluid,
    *,
    trenches: int,
    trench_length: float,
    centres: float = 5.0,
    years: int = 20,
) -> TrenchHistory:
    """Return the brine temperatures of an array of equal trenches of given length.

    Parameters
    ----------
    ground, surface, trench, load, pipe, brine, centres, years
        As :func:`hydraulics.trench_sizing.size_trench_array`.
    trenches, trench_length
        How many, and the length of each [m].

    Returns
    -------
    TrenchHistory

    Raises
    ------
    InputError
        When a number is not usable.
    """
    refuse(
        number_fault("trenches", trenches, "trenches", at_least=1),
        number_fault("trench_length", trench_length, "m", above=0.0),
        number_fault("years", years, "years", at_least=1),
    )
    life = life_of_trenches(ground, surface, trench, load, trenches, centres, years)
    resistance = pipe_resistance(trench, pipe, brine, loop_flow(load, brine, trenches))
    return life.at(trenches * trench_length, resistance)
