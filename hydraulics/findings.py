"""What a result says about the array besides its numbers: findings and cautions.

A finding has a stable code, so that other tools can act on it, and a source for its limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Severity = Literal["error", "warning", "info"]
SEVERITIES: Final[tuple[Severity, ...]] = ("error", "warning", "info")

COMMON_PRACTICE: Final = "common practice, no source"
VELOCITY_LIMIT: Final = 1.5  # m/s; common practice, no source
HEAD_LIMIT: Final = 100e3  # Pa; about what one domestic circulator gives; common practice
RETURN_LIMIT: Final = 0.0  # °C; coldest brine back from the ground; common practice
FREEZING_MARGIN: Final = 3.0  # K; published freezing points differ by up to 1.5 K, see docs
TOLERANCE: Final = 0.10  # of even flow; common practice
UNEQUAL_LENGTHS: Final = 0.05  # spread of loop length over the mean that is worth a word
REGIME_SOURCE: Final = (
    "straight pipe: Re 2300 and 4000 (VDI Heat Atlas, Moody); coil: 20000 (d/D)^0.32 (Ito 1959)"
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the reader should know.

    Attributes
    ----------
    code
        Stable name.
    severity
        ``info``, ``warning`` or ``error``.
    message
        One or two sentences with numbers and units.
    source
        Where the limit comes from.
    place
        Branch numbers from the outermost circuit inwards, or None where it concerns the whole.
    """

    code: str
    severity: Severity
    message: str
    source: str
    place: tuple[int, ...] | None = None


FINDING_CODES: Final[dict[str, str]] = {
    "imbalance": "some loop's flow is further from an even share than the tolerance allows",
    "unequal_lengths": "loop lengths differ",
    "reversed_flow": "the flow in a loop runs backwards",
    "no_flow": "the array stands still; shares and causes cannot be told",
    "laminar_loop": "a loop's main pipe is laminar at this temperature",
    "transitional_loop": "a loop's main pipe is in transition, where friction is least certain",
    "velocity_high": "brine is faster than practice allows in a loop, run or header",
    "head_high": "the pump's duty is more than one ordinary circulator gives",
    "freezing_margin_thin": "the coldest brine is close to freezing",
    "return_below_limit": "brine comes back from the ground below 0 °C",
    "coil_friction_uncertain": "much of the drop is in coils, which are known to about 15 %",
}

GENERAL_CAUTIONS: Final = (
    "Trenches can collapse and buried services can kill: locate services, support or batter the "
    "sides, and follow local law and a competent person's advice before anyone enters.",
    "Numbers are for design. Pressure testing, antifreeze and work near groundwater follow local "
    "codes and licensed practice.",
)


def listed(names: list[str], most: int = 4) -> str:
    """Names in a sentence: ``T1, T2, T3 and 9 more``.

    Parameters
    ----------
    names
        Names to list, at least one.
    most
        How many to write out.

    Returns
    -------
    str
        The list in words.
    """
    if len(names) == 1:
        return names[0]
    if len(names) <= most:
        return ", ".join(names[:-1]) + " and " + names[-1]
    return ", ".join(names[:most]) + f" and {len(names) - most} more"
