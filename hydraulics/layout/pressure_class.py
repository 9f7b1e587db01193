"""Does every pipe of an array bear a pressure where it lies lowest?"""

from __future__ import annotations

import math
from typing import NamedTuple

from hydraulics.findings import COMMON_PRACTICE, Finding, figures, listed
from hydraulics.layout.heights import WATER_DENSITY, Bottom, Levels, column, standing
from hydraulics.pipework.pipe import (
    CLASS_SOURCE,
    WARMEST_CLASS,
    site_test_pressure,
    temperature_factor,
)

_LESS_FLOW = (
    "Do not build it so: check the numbers, and take less flow, wider or shorter pipe, or pipe of a"
    " higher class."
)
_STANDS = (
    " The fluid that stands there is by itself more than that, whatever flows: take pipe of a"
    " higher class, {}let the plant lie lower, or part the circuit by a heat exchanger."
)
_TOO_WARM = (
    " Neither less flow nor a higher class mends that: keep the brine at"
    f" {WARMEST_CLASS:g} °C or less, or take pipe whose maker states what it bears so warm."
)
HIGHEST_CLASS = 25e5  # Pa; PN 25, the highest class of EN 12201's pipe (from memory)
HIGHEST_SOURCE = "EN 12201, PN 25 as its highest class (from memory)"
NO_SUPPORT = "the support of grout and groundwater around it is not counted"


class Eased(NamedTuple):
    """What makes a pressure and what to do about it, in sentences, and what is left then [Pa]."""

    cause: str
    remedy: str
    pressure: float


def class_findings(
    levels: Levels,
    pressure: float,
    what: str,
    remedy: str = _LESS_FLOW,
    *,
    density: float,
    temperature: float = 20.0,
    at_foot: str = "Drill less deep",
    first: Eased | None = None,
) -> tuple[Finding, ...]:
    """Tell of a pressure that is beyond the class of a pipe where it lies lowest.

    Parameters
    ----------
    levels
        Where pipe of array and plant lies.
    pressure
        Highest pressure at the plant's level [Pa gauge]; what stands on the circuit besides comes
        on top.
    what
        What causes it, to begin a sentence with.
    remedy
        What to do about that cause; for a pressure that the flow makes where it is left out.
    density
        Of the fluid [kg/m³]; its column down to the pipe is added.
    temperature
        Warmest that the pipe becomes under that pressure [degC].
    at_foot
        What makes that pressure less at the foot of a borehole.
    first
        What to do instead where that is enough, and the pressure at the plant's level that it
        leaves.

    Returns
    -------
    tuple of Finding
        The worst that is an error by itself, any where nothing is published that the pipe bears so
        warm. And the worst of what only the column within a
        borehole makes too much, which grout and groundwater outside may bear: a warning up to what
        the pipe bears by itself in a site test, for as long as the hole may be dry, and an error
        beyond.
    """
    factor = temperature_factor(temperature)
    found: list[_Place] = []
    for bottom in levels.bottoms:
        if bottom.pipe.pressure_class is None:
            continue
        bears = bottom.pipe.pressure_class * factor
        total = pressure + column(levels.plant - bottom.level, density)
        if total <= bears * (1.0 + 1e-9):
            continue
        outside = column(bottom.hole, min(density, WATER_DENSITY))
        grave = not bears or total - outside > bears * (1.0 + 1e-9)
        short = total <= site_test_pressure(bottom.pipe, temperature)
        found.append(_Place(grave, not short, total - bears, bottom))
    return tuple(
        _beyond(
            levels,
            pressure,
            (what, remedy, at_foot),
            worst,
            first,
            density=density,
            temperature=temperature,
        )
        for grave in (True, False)
        for worst in sorted((e for e in found if e.grave is grave), key=lambda e: e[:3])[-1:]
    )


class _Place(NamedTuple):
    """A place where a pipe does not bear it: how grave, by how much [Pa], and which."""

    grave: bool
    error: bool
    over: float
    bottom: Bottom


def _beyond(
    levels: Levels,
    pressure: float,
    words: tuple[str, str, str],
    place: _Place,
    first: Eased | None,
    *,
    density: float,
    temperature: float,
) -> Finding:
    """What is told of one place where a pipe does not bear it; see :func:`class_findings`."""
    (what, remedy, at_foot), (grave, error, _, bottom) = words, place
    assert bottom.pipe.pressure_class is not None
    stands = column(levels.plant - bottom.level, density)
    text = f"{what[0].upper()}{what[1:]}, {figures(pressure / 1e5, 4)} bar, "
    total, bears = pressure + stands, bottom.pipe.pressure_class * temperature_factor(temperature)
    if abs(stands) >= 500.0:
        text += (
            standing("fluid", stands, bottom.where, levels.plant - bottom.level)
            + f" is {figures(total / 1e5, 4)} bar there, "
        )
    text += f"{'and' if abs(stands) >= 500.0 else 'is'} more than {bottom.pipe.name} bears, "
    text += f"{bears_in_words(bottom.pipe.pressure_class, temperature)}: pipe and joints may burst."
    if bottom.hole:
        text += f" The pipe is taken by itself: {NO_SUPPORT}."
    if levels.in_service and abs(stands) >= 500.0:
        text += f" {' '.join(levels.in_service)}"
    if grave and not bears:
        text += _TOO_WARM
    elif grave and stands > bears:
        text += _STANDS.format("drill less deep, " if bottom.hole else "")
    elif grave:
        text += f" {remedy}"
    else:
        if error:
            text += " It is more than a site test may put on that pipe too, should the hole be dry."
        left, at_most = total, site_test_pressure(bottom.pipe, temperature)
        if first is not None and stands <= bears:
            text += f" {first.cause}".rstrip()
            if first.pressure + stands <= (at_most if error else bears):
                left = first.pressure + stands
                text += f" {first.remedy} That leaves {figures(left / 1e5, 4)} bar there."
        if left > at_most:
            text += (
                f" {at_foot}, take pipe of a higher class, or give the class that the probe's maker"
                " states for that depth."
            )
        elif left > bears:
            text += (
                " Have the probe's maker say that it bears that, or take pipe of a higher class."
            )
    return Finding(
        "pressure_above_class" if grave else "pressure_at_foot",
        "error" if grave or error else "warning",
        text,
        CLASS_SOURCE,
    )


def unknown_findings(
    levels: Levels, pressure: float, what: str, *, density: float
) -> tuple[Finding, ...]:
    """Tell of pipe whose class is not known, and what it must bear; as :func:`class_findings`."""
    unknown = [each for each in levels.bottoms if each.pipe.pressure_class is None]
    if not unknown:
        return ()
    lowest = min(unknown, key=lambda each: each.level)
    total = pressure + column(levels.plant - lowest.level, density)
    names = listed(list(dict.fromkeys(each.pipe.name for each in unknown)))
    text = (
        f"The pressure class of {names} is not known, and {what} makes {figures(total / 1e5, 4)} "
        f"bar in {lowest.where}, with the fluid that stands there. Ask its maker whether it bears "
        "that."
    )
    return (Finding("pressure_class_unknown", "warning", text, COMMON_PRACTICE),)


def bears_in_words(rated: float, temperature: float) -> str:
    """What a pipe of a class [Pa] bears at a temperature [degC]."""
    factor = temperature_factor(temperature)
    if factor >= 1.0:
        return f"{figures(rated / 1e5, 4)} bar at 20 °C"
    if not factor:
        return (
            f"{figures(rated / 1e5, 4)} bar at 20 °C and nothing that is published above"
            f" {WARMEST_CLASS:g} °C (it becomes {temperature:g} °C)"
        )
    down = math.floor(rated * factor / 1e2 * (1.0 + 1e-9)) / 1e3
    return f"{figures(down, 4)} bar at {temperature:g} °C"
