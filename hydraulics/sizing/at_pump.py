"""What does a sized array do at the flow of the pump that drives it?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from hydraulics.errors import HydraulicsError
from hydraulics.findings import (
    COMMON_PRACTICE,
    FREEZING_MARGIN,
    Finding,
    above_freezing,
    figures,
)
from hydraulics.fluid.mixture import Fluid, Mixture, freezing_margin, freezing_spread
from hydraulics.ground.load_history import History
from hydraulics.sizing.findings import BRINE_AT, warm_pipe
from hydraulics.sizing.result import ArraySizing, AtFlow

SOURCE: Final = "the same model, at the pump's flow"
_TOLD: Final = 0.02  # K; beyond what the model's own rounding moves
_ROUNDING: Final = 1e-3  # K, of the root
_SHOWN: Final = 0.05  # K, which shows in the decimal that is told


@dataclass(frozen=True, slots=True)
class Pumped:
    """What a pump gives: mass flow [kg/s], and of what brine."""

    mass_flow: float
    brine: Fluid

    @property
    def carries(self) -> float:
        """Heat per kelvin [W/K]."""
        return self.brine.specific_heat * self.mass_flow

    @property
    def told(self) -> str:
        """The flow in words."""
        return f"{figures(1e3 * self.mass_flow / self.brine.density)} L/s"


def findings_at_pump(
    sized: ArraySizing,
    name: str,
    cold: Pumped,
    warm: Pumped,
    *,
    mixture: Mixture,
    margin: float = FREEZING_MARGIN,
) -> Iterator[Finding]:
    """How the brine of a sized array comes back at the flow that a pump gives.

    Parameters
    ----------
    sized
        The array.
    name
        Of the pump.
    cold, warm
        What it gives of the coldest and of the warmest brine.
    mixture, margin
        What it pumps, and how far that must stay above freezing without a finding [K].

    Notes
    -----
    Each season is solved at its own flow, as if that were the flow of the whole year: a month's
    brine follows from the heat of the months before, which the flow does not change.
    """
    found = _at(sized, cold)
    yield _coldest(sized, name, cold, found)
    if found is not None:
        yield from _frost(sized, name, cold, found, mixture=mixture, margin=margin)
    solved = [(cold, found)]
    if sized.history is not None and sized.history.warmest_return is not None:
        solved.append((warm, _at(sized, warm)))
        yield from _warmest(sized, sized.history, name, *solved[-1])
    yield from _film(sized, name, solved)


def warmest_at_pump(sized: ArraySizing, flow: Pumped) -> tuple[float, float] | None:
    """Warmest brine to and from the ground [degC] of a sized array at a flow; None as not told."""
    found = _at(sized, flow)
    if found is None or found.history is None:
        return None
    return float(found.history.warm_going.max()), float(found.history.warm_returning.max())


def _coldest(sized: ArraySizing, name: str, flow: Pumped, found: AtFlow | None) -> Finding:
    told = (
        f"At the {flow.told} that {name} gives, brine rises {sized.draw.peak / flow.carries:.2f} K "
        f"where the array is sized for {sized.duty.temperature_change:.3g} K"
    )
    if found is None:
        return _untold(sized, told, flow)
    below = found.coldest_return < min(sized.limit, sized.coldest_return) - _TOLD
    return Finding(
        "return_at_pump",
        "warning" if below else "info",
        f"{told}, and comes back at {found.coldest_return:.2f} °C at its coldest, not at "
        f"{sized.coldest_return:.2f} °C"
        + (f", below its limit of {sized.limit:g} °C{_remedy(sized, flow, found)}" if below else "")
        + ".",
        SOURCE,
    )


def _frost(
    sized: ArraySizing, name: str, flow: Pumped, found: AtFlow, *, mixture: Mixture, margin: float
) -> Iterator[Finding]:
    """The film of less flow may leave brine colder than the pump's own finding takes it to be."""
    rise, spread = sized.draw.peak / flow.carries, freezing_spread(mixture)
    coldest = found.coldest_return - rise
    above = freezing_margin(mixture, coldest)
    # By the pump's own finding, and by the array's.
    told = min(sized.coldest_return - rise, sized.coldest_going)
    if coldest < told - _SHOWN and above < margin + spread:
        yield Finding(
            "freezing_margin_thin",
            "warning" if above > 0.0 else "error",
            f"At the {flow.told} that {name} gives, brine comes back at "
            f"{found.coldest_return:z.1f} °C and goes out {rise:.1f} K colder. "
            + above_freezing(coldest, above, margin, spread),
            f"{SOURCE}; the margin itself is {COMMON_PRACTICE}",
        )


def _film(
    sized: ArraySizing, name: str, solved: list[tuple[Pumped, AtFlow | None]]
) -> Iterator[Finding]:
    """Flow is in transition at the pump's flow, and was not as sized."""
    if any(each.code == "transition_film" for each in sized.findings):
        return
    found = [(flow, at.laminar()) for flow, at in solved if at is not None]
    laminar = [(flow, asks) for flow, asks in found if asks is not None]
    if not laminar:
        return
    flow, worst = max(laminar, key=lambda each: each[1].length)
    limit = sized.most if worst.limit == "upper" else sized.limit
    asked = (
        f"{math.ceil(worst.length)} m of {sized.metre} are needed"
        if math.isfinite(worst.length)
        else "no length of so many loops is enough"
    )
    yield Finding(
        "transition_film",
        "warning",
        f"At the {flow.told} that {name} gives, flow in the loops is in transition (Reynolds "
        f"number {worst.reynolds:.0f} with brine {BRINE_AT[worst.limit]}). Should the film stay "
        f"laminar, {asked} to keep the return at {limit:g} °C, and the array has "
        f"{sized.total_length:.0f} m. Take the {_planned(sized, flow)} that it is sized for, or "
        "that length.",
        "Gnielinski 2013: between Re 2300 and 4000 the film may be either",
    )


def _warmest(
    sized: ArraySizing, planned: History, name: str, flow: Pumped, found: AtFlow | None
) -> Iterator[Finding]:
    gives = f"At the {flow.told} that {name} gives of its warmest brine"
    if found is None or found.history is None:
        yield _untold(sized, f"{gives}, its change in winter is", flow)
        return
    (out, back), (as_sized_out, as_sized) = _warmest_month(found.history), _warmest_month(planned)
    above = back > max(sized.most, as_sized) + _TOLD
    yield Finding(
        "return_at_pump",
        "warning" if above else "info",
        f"{gives}, it falls {out - back:.2f} K while heat is put back, where the array is sized "
        f"for {as_sized_out - as_sized:.3g} K, and comes back at {back:.2f} °C at its warmest, "
        f"not at {as_sized:.2f} °C"
        + (f", above its limit of {sized.most:g} °C{_remedy(sized, flow, found)}" if above else "")
        + ".",
        SOURCE,
    )
    hottest = float(found.history.warm_going.max())
    if hottest > float(planned.warm_going.max()) + _SHOWN:
        yield from warm_pipe(hottest, f"{gives}, it")


def _untold(sized: ArraySizing, told: str, flow: Pumped) -> Finding:
    text = f"{told}: more than can be told of this mixture at its limit. Take the "
    text += f"{_planned(sized, flow)} that it is sized for."
    return Finding("return_at_pump", "warning", text, SOURCE)


def _remedy(sized: ArraySizing, flow: Pumped, found: AtFlow) -> str:
    """What is solved to keep both limits: the flow that the array is sized for, or more ground."""
    history = sized.history
    ways = []
    if (sized.margin if history is None else history.margin) >= -_ROUNDING:
        ways.append(f"the {_planned(sized, flow)} that it is sized for")
    if sized.total_length < found.needed_length < math.inf:
        metres = f"{math.ceil(found.needed_length)} m of {sized.metre}"
        ways.append(f"{metres} in as many loops at this flow")
    return f": take {', or '.join(ways)}" if ways else ""


def _planned(sized: ArraySizing, flow: Pumped) -> str:
    """The flow that the array is sized for, of such brine, in words."""
    carries = sized.duty.heat / sized.duty.temperature_change
    return replace(flow, mass_flow=carries / flow.brine.specific_heat).told


def _at(sized: ArraySizing, flow: Pumped) -> AtFlow | None:
    """The array at a flow; None where the mixture has no data so cold."""
    try:
        return sized.at_change(sized.draw.greatest / flow.carries)
    except HydraulicsError:
        return None


def _warmest_month(history: History) -> tuple[float, float]:
    """Brine to and from the ground in the month that puts heat back the warmest [degC]."""
    out, back = history.warm_going, history.warm_returning
    at = int(np.argmax(np.where(out > back, back, -np.inf)))
    return float(out.flat[at]), float(back.flat[at])
