"""How much further from the ground does a sized array's brine go where loops share it unevenly?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from hydraulics.errors import HydraulicsError
from hydraulics.findings import Finding
from hydraulics.ground.load_history import Limit
from hydraulics.sizing.at_pump import SHOWN, TOLD, Pumped, as_laid, limit_told
from hydraulics.sizing.choice import ArrayChoice, PondArray
from hydraulics.sizing.result import ArraySizing


@dataclass(frozen=True, slots=True)
class Season:
    """A sized array where a limit decides, its loops even.

    Attributes
    ----------
    limit
        Of the coldest brine ("lower") or of the warmest.
    value
        That limit [°C].
    going, even
        Brine to the ground, and back from even loops [°C].
    far
        Undisturbed ground, or water [°C].
    ground_resistance
        Of the ground alone, per metre of pipe [m K/W].
    """

    limit: Limit
    value: float
    going: float
    even: float
    far: float
    ground_resistance: float


def season_of(  # noqa: PLR0917 (one season of one array)
    limit: Limit,
    sized: ArraySizing,
    laid: ArraySizing,
    choice: ArrayChoice,
    flow: Pumped,
    inside: float,
) -> Season | None:
    """The season of a limit at a flow.

    Parameters
    ----------
    limit
        Which.
    sized, laid
        The sizing with as many loops as the array has, and of the array as it is laid.
    choice
        What it is of.
    flow
        What flows.
    inside
        Film and wall of even loops in that brine [m K/W, per metre of pipe], for summer; winter has
        those that it is sized with.

    Returns
    -------
    Season or None
        None where there is none, or none that is told: the mixture has no data so cold, or the
        water is no warmer than the brine.
    """
    change = laid.draw.greatest / flow.carries
    try:
        sized = as_laid(sized, laid.loops, laid.total_length, change)
    except HydraulicsError:  # colder than the mixture has data of
        return None
    cold, history = limit == "lower", sized.history
    film = sized.resistance.film + sized.resistance.wall
    per_metre = sized.peak_per_metre_of_pipe
    going, even = sized.coldest_going, sized.coldest_return
    if cold and isinstance(choice, PondArray):
        far = choice.coldest_water
        if even >= far:
            return None
        through = (even - going) / math.log((far - going) / (far - even)) / per_metre
    elif history is None or (part := history.coldest if cold else history.warmest) is None:
        return None
    else:
        if not cold:
            if history.warmest_return is None:
                return None
            month = (part.month - history.first_month) % 12
            per_metre *= float(sized.draw.checked_warm[month]) / sized.draw.peak
            going = float(history.warm_going[part.year - 1, month])
            even, film = history.warmest_return, inside
        far, through = part.undisturbed, part.falls / per_metre
    value = sized.limit if cold else sized.most
    return Season(limit, value, going, even, far, max(through - film, 0.0))


def uneven_finding(
    season: Season, further: float, flow: Pumped, *, uneven: bool, metres: str
) -> Finding | None:
    """What uneven loops cost in a season; None where that is not worth a word.

    Parameters
    ----------
    season
        Of the array as it is laid.
    further
        How much further from the ground the brine goes for want of even loops [K].
    flow
        What flows.
    uneven
        Whether some loop is beyond the tolerance of its target flow.
    metres
        What is laid, in words, where that is another length than the sizing proposes.
    """
    cold = season.limit == "lower"
    sign = -1.0 if cold else 1.0
    found = season.even + sign * further
    beyond = further > TOLD and sign * (found - season.value) > TOLD
    if not (uneven or beyond or further > SHOWN):
        return None
    kept = sign * (season.even - season.value) <= TOLD
    what = "share the flow unevenly" if uneven else "have another flow for their length"
    evened = "balance the loops" if uneven else "give each flow by its length"
    remedy = f": {evened} or take more ground" if kept else ": take more ground"
    side = "below" if cold else "above"
    limit = limit_told(found, season.value, side, remedy if beyond else "")
    lead = f"{flow.at}, loops" if flow.gives else "Loops"
    return Finding(
        "return_uneven",
        "warning" if beyond else "info",
        f"{lead} {what}: for the same heat the brine "
        f"comes back {further:.3f} K {'colder' if cold else 'warmer'} than from even loops, at "
        f"{found:.2f} °C at its {'coldest' if cold else 'warmest'}"
        f"{metres}{limit}.",
        "each loop against ground of one temperature, its resistance as sized",
    )
