"""How cold and how warm does a job's brine become, and where?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from hydraulics.split.duty import Duty

SAME: Final = 0.05  # K; nearer than this to the duty's brine it is the duty's: this project's own


@dataclass(frozen=True, slots=True)
class BrineState:
    """Brine on its way out and back [°C], and where in a job that is, in words."""

    to_ground: float
    from_ground: float
    where: str

    @property
    def coldest(self) -> float:
        """The colder of the two [°C]."""
        return min(self.to_ground, self.from_ground)

    @property
    def warmest(self) -> float:
        """The warmer of the two [°C]."""
        return max(self.to_ground, self.from_ground)

    @property
    def mean(self) -> float:
        """Mean of the two [°C]."""
        return 0.5 * (self.to_ground + self.from_ground)

    def is_at(self, temperature: float) -> str:
        """Say of the colder or the warmer which way it goes, so that a sentence may have it."""
        going = "goes to" if temperature == self.to_ground else "comes from"
        return f"{self.where} the brine {going} the ground at"


@dataclass(frozen=True, slots=True)
class BrineRange:
    """The brine at the duty, and where the job has it coldest and warmest."""

    duty: BrineState
    coldest: BrineState
    warmest: BrineState


def brine_range(duty: Duty, *others: BrineState) -> BrineRange:
    """The coldest and the warmest brine of a job.

    Parameters
    ----------
    duty
        What sets the flow in the cold.
    others
        Whatever else is known of its brine: a warm condition, the pump that runs, a sizing. One
        counts where it is more than `SAME` beyond the duty's.
    """
    own = BrineState(duty.to_ground_temperature, duty.from_ground_temperature, "at the duty")
    cold = min(others, key=lambda each: each.coldest, default=own)
    warm = max(others, key=lambda each: each.warmest, default=own)
    return BrineRange(
        duty=own,
        coldest=cold if cold.coldest < own.coldest - SAME else own,
        warmest=warm if warm.warmest > own.warmest + SAME else own,
    )
