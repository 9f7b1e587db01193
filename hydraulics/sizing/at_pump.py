"""What does an array do as it is laid, at the flow of its duty or of the pump that drives it?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

import numpy as np

from hydraulics.errors import HydraulicsError
from hydraulics.findings import (
    COMMON_PRACTICE,
    FREEZING_MARGIN,
    Finding,
    above_freezing,
    beyond,
    figures,
    listed,
)
from hydraulics.fluid.mixture import Fluid, Mixture, freezing_margin, freezing_spread
from hydraulics.ground.load_history import History, Limit
from hydraulics.sizing.findings import BRINE_AT, ice_on_pipe, warm_pipe
from hydraulics.sizing.result import ArraySizing, AtFlow

SOURCE: Final = "the same model, at this flow"
SOURCE_LAID: Final = "the same model, of what is laid"
_OTHER_FLOW: Final = 0.02  # of the flow sized for, that moves brine by some 0.03 K
_ALIKE: Final = 1e-3  # of a length, below the digit that is told
_OTHER_LENGTH: Final = 0.02  # of a length, that moves brine by some 0.2 K
TOLD: Final = 0.02  # K; beyond what the model's own rounding moves
_SHARES, _ROUNDS = 7, 3  # flows tried at a time, each round a third as far apart
_ROUNDING: Final = 1e-3  # K, of the root
SHOWN: Final = 0.05  # K, which shows in the decimal that is told
_BY_LENGTH: Final[Mapping[str, str]] = MappingProxyType(
    {
        "return_below_limit": "brine below its limit",
        "return_above_limit": "brine above its limit",
        "freezing_margin_thin": "brine near freezing",
        "warm_pipe": "warm pipe",
        "ice_on_pipe": "ice on the pipe",
        "ground_freezes": "ground that freezes",
        "loop_drop_high": "what a loop drops",
        "loop_too_long": "a loop's length",
        "borehole_too_deep": "a borehole's depth",
        "no_coil_long_enough": "coils too short",
        "site_too_small": "room on the plot",
    }
)
"""What a sizing warns of that another length of the same array may not have, in words."""


@dataclass(frozen=True, slots=True)
class Pumped:
    """What a pump gives, or a duty asks for: mass flow [kg/s], of what brine, and who gives it."""

    mass_flow: float
    brine: Fluid
    gives: str

    @property
    def carries(self) -> float:
        """Heat per kelvin [W/K]."""
        return self.brine.specific_heat * self.mass_flow

    @property
    def told(self) -> str:
        """The flow in words."""
        return f"{figures(1e3 * self.mass_flow / self.brine.density)} L/s"

    @property
    def at(self) -> str:
        """The flow and who gives it, to begin a sentence."""
        return f"At the {self.told} {self.gives}"


def is_sized_for(sized: ArraySizing, flow: Pumped) -> bool:
    """Whether a flow is as good as that which an array is sized for."""
    planned = sized.duty.heat / sized.duty.temperature_change
    return abs(flow.carries / planned - 1.0) <= _OTHER_FLOW


def as_laid(
    sized: ArraySizing, loops: int, total: float, change: float | None = None
) -> ArraySizing:
    """A sized array with the loops that are laid, told for the length that they have.

    Parameters
    ----------
    sized
        The array.
    loops, total
        How many are laid, and their length in all [-, m].
    change
        Of the brine at the greater of both peaks [K]; None: as it is sized for.

    Raises
    ------
    HydraulicsError
        The mixture has no data as cold as its brine becomes.
    """
    planned = sized.duty.temperature_change
    change = change or planned * sized.draw.greatest / sized.draw.peak
    rise = change * sized.draw.peak / sized.draw.greatest
    own = loops == sized.loops and abs(total / sized.total_length - 1.0) < _ALIKE
    if own and abs(rise / planned - 1.0) < _ALIKE:
        return sized
    at = sized.at_change(change, (loops, total))
    gathers = sized.peak_per_metre / sized.peak_per_metre_of_pipe
    return replace(
        sized,
        loops=loops,
        total_length=total,
        length_each=total / loops,
        peak_per_metre=sized.draw.peak / total,
        peak_per_metre_of_pipe=sized.draw.peak / total / gathers,
        resistance=at.resistance,
        history=at.history,
        coldest_return=at.coldest_return,
        coldest_going=at.coldest_return - rise,
        margin=at.coldest_return - sized.limit,
        coldest_ground=at.coldest_ground,
        at_change=lambda other: sized.at_change(other, (loops, total)),
    )


def findings_at_pump(
    sized: ArraySizing,
    cold: Pumped,
    warm: Pumped,
    *,
    mixture: Mixture,
    margin: float = FREEZING_MARGIN,
    runs: bool = True,
) -> Iterator[Finding]:
    """How the brine of an array comes back at the flow that a pump gives, or a duty asks for.

    Parameters
    ----------
    sized
        The array as it is laid.
    cold, warm
        Flow of the coldest and of the warmest brine.
    mixture, margin
        What it pumps, and how far that must stay above freezing without a finding [K].
    runs
        Whether a pump does, whose own finding holds its change to the margin; not so of a duty.

    Notes
    -----
    Each season is solved at its own flow, as if that were the flow of the whole year: a month's
    brine follows from the heat of the months before, which the flow does not change.
    """
    found = _at(sized, cold)
    yield _coldest(sized, cold, found, runs=runs)
    if found is not None:
        yield from _frost(sized, cold, found, mixture=mixture, margin=margin, runs=runs)
        if sized.kind == "pond_mat" and all(f.code != "ice_on_pipe" for f in sized.findings):
            yield from ice_on_pipe(found.coldest_ground, f"{cold.at}, the pipe's outside")
    solved = [(cold, found)]
    if sized.history is not None and sized.history.warmest_return is not None:
        solved.append((warm, _at(sized, warm)))
        yield from _warmest(sized, sized.history, *solved[-1], runs=runs)
    yield from _film(sized, solved)


def of_other_length(laid: ArraySizing, sized: ArraySizing) -> Iterator[Finding]:
    """What a sizing warns of for its own length, where another is laid, and what it should say.

    Parameters
    ----------
    laid, sized
        The array as it is laid, and as it is sized.
    """
    if abs(laid.total_length / sized.total_length - 1.0) < _ALIKE:
        return
    metres = f"the {laid.total_length:.0f} m of {laid.metre} that are laid"
    other = f"the {sized.total_length:.0f} m of the sizing"
    codes = {each.code for each in sized.findings}
    if laid.metre != "pipe" and laid.coldest_ground < min(0.0, sized.coldest_ground - SHOWN):
        codes.discard("ground_freezes")  # said for itself
        yield Finding(
            "ground_freezes",
            "warning",
            f"With {metres}, not {other}, ground falls to {beyond(laid.coldest_ground, 0.0, 1)} °C "
            "and freezes: it can heave.",
            "conduction model",
        )
    if warned := [words for code, words in _BY_LENGTH.items() if code in codes]:
        yield Finding(
            "sized_length_only",
            "info",
            f"What the sizing finds of {listed(warned, len(warned))} is of its own length: of "
            f"{other}, not of {metres}.",
            SOURCE_LAID,
        )
    if "transition_film" in codes and laid.loops == sized.loops:
        change = sized.duty.temperature_change * sized.draw.greatest / sized.draw.peak
        at = laid.at_change(change)
        if at.needed_length <= laid.total_length and at.laminar(None) is None:
            yield Finding(
                "sized_length_only",
                "info",
                f"Should the film stay laminar, of which the sizing warns for {other}, {metres} "
                "are enough.",
                SOURCE_LAID,
            )


def return_as_laid(laid: ArraySizing, sized: ArraySizing) -> Iterator[Finding]:
    """How the brine of an array of another length comes back at the flow that it is sized for.

    Parameters
    ----------
    laid, sized
        The array as it is laid, and as it is sized, of which all other findings are told. By
        conduction nothing is told of one that keeps its limits.
    """
    if abs(laid.total_length / sized.total_length - 1.0) <= _OTHER_LENGTH:
        return
    back = laid.coldest_return
    warmest = None if laid.history is None else laid.history.warmest_return
    told = f"{back:z.2f} °C at its coldest" + limit_told(back, laid.limit, "below", "")
    beyond = back < laid.limit - TOLD
    if warmest is not None:
        told += f", and at {warmest:z.2f} °C at its warmest"
        told += limit_told(warmest, laid.most, "above", "")
        beyond = beyond or warmest > laid.most + TOLD
    if not beyond and sized.basis == "conduction":
        return
    yield Finding(
        "return_at_pump",
        "warning" if beyond else "info",
        f"With the {laid.total_length:.0f} m of {laid.metre} that are laid, not the "
        f"{sized.total_length:.0f} m of the sizing, brine comes back at {told}.",
        SOURCE_LAID,
    )


def warmest_at_pump(sized: ArraySizing, flow: Pumped) -> tuple[float, float] | None:
    """Warmest brine to and from the ground [degC] of a sized array at a flow; None as not told."""
    found = _at(sized, flow)
    if found is None or found.history is None:
        return None
    return float(found.history.warm_going.max()), float(found.history.warm_returning.max())


def _coldest(sized: ArraySizing, flow: Pumped, found: AtFlow | None, *, runs: bool) -> Finding:
    told = (
        f"{flow.at}, brine rises {sized.draw.peak / flow.carries:.2f} K "
        f"where the array is sized for {sized.duty.temperature_change:.3g} K"
    )
    if found is None:
        return _untold(sized, told, flow)
    back = found.coldest_return
    below = back < sized.limit - TOLD
    remedy = _remedy(sized, flow, found, runs=runs) if below else ""
    limit = limit_told(back, sized.limit, "below", remedy)
    return Finding(
        "return_at_pump",
        "warning" if below else "info",
        f"{told}, and comes back at {_back(back, 'at its coldest', sized.coldest_return)}{limit}.",
        SOURCE,
    )


def _back(back: float, when: str, as_sized: float) -> str:
    """How brine comes back in its worst month, against what it was sized for [degC]."""
    told, sized = f"{back:z.2f}", f"{as_sized:z.2f}"
    return f"{told} °C {when}, " + ("as at that flow" if told == sized else f"not at {sized} °C")


def limit_told(back: float, limit: float, side: str, remedy: str) -> str:
    """What is said of a limit that brine comes back beyond [degC]; empty where it does not."""
    beyond = limit - back if side == "below" else back - limit
    if beyond > TOLD:
        return f", {side} its limit of {limit:g} °C{remedy}"
    if beyond >= 0.005:  # shows in the decimals told
        return f", at its limit of {limit:g} °C but for the model's own rounding"
    return ""


def _frost(
    sized: ArraySizing,
    flow: Pumped,
    found: AtFlow,
    *,
    mixture: Mixture,
    margin: float,
    runs: bool,
) -> Iterator[Finding]:
    """Less flow may leave brine colder than the pump's own finding, or none, takes it to be."""
    rise, spread = sized.draw.peak / flow.carries, freezing_spread(mixture)
    coldest = found.coldest_return - rise
    above = freezing_margin(mixture, coldest)
    # By the pump's own finding, and by the array's.
    told = min(sized.coldest_return - rise, sized.coldest_going) if runs else sized.coldest_going
    if coldest < told - SHOWN and above < margin + spread:
        yield Finding(
            "freezing_margin_thin",
            "warning" if above > 0.0 else "error",
            f"{flow.at}, brine comes back at "
            f"{found.coldest_return:z.1f} °C and goes out {rise:.1f} K colder. "
            + above_freezing(coldest, above, margin, spread),
            f"{SOURCE}; the margin itself is {COMMON_PRACTICE}",
        )


def _film(sized: ArraySizing, solved: list[tuple[Pumped, AtFlow | None]]) -> Iterator[Finding]:
    """Flow is in transition at this flow, and was not as sized."""
    if any(each.code == "transition_film" for each in sized.findings):
        return
    # Each season at its own flow, against its own limit.
    seasons: tuple[Limit, Limit] = ("lower", "upper")
    found = [
        (flow, at.laminar(limit))
        for limit, (flow, at) in zip(seasons, solved, strict=False)
        if at is not None
    ]
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
        f"{flow.at}, flow in the loops is in transition (Reynolds number "
        f"{worst.reynolds:.0f} with brine {BRINE_AT[worst.limit]}). Should the film stay "
        f"laminar, {asked} to keep the return at {limit:g} °C, and the array has "
        f"{sized.total_length:.0f} m.{_instead(sized, flow, worst.length)}",
        "Gnielinski 2013: between Re 2300 and 4000 the film may be either",
    )


def _warmest(
    sized: ArraySizing, planned: History, flow: Pumped, found: AtFlow | None, *, runs: bool
) -> Iterator[Finding]:
    if found is None or found.history is None:
        change = sized.draw.greatest / flow.carries
        yield _untold(sized, f"{flow.at}, it would change by up to {change:.2f} K in a year", flow)
        return
    (out, back), (as_sized_out, as_sized) = _warmest_month(found.history), _warmest_month(planned)
    above = back > sized.most + TOLD
    remedy = _remedy(sized, flow, found, runs=runs) if above else ""
    limit = limit_told(back, sized.most, "above", remedy)
    yield Finding(
        "return_at_pump",
        "warning" if above else "info",
        f"{flow.at}, it falls {out - back:.2f} K while heat is put back, where the array is sized "
        f"for {as_sized_out - as_sized:.3g} K, and comes back at "
        f"{_back(back, 'at its warmest', as_sized)}{limit}.",
        SOURCE,
    )
    hottest = float(found.history.warm_going.max())
    if hottest > float(planned.warm_going.max()) + SHOWN:
        yield from warm_pipe(hottest, f"{flow.at}, it")


def _untold(sized: ArraySizing, told: str, flow: Pumped) -> Finding:
    text = f"{told}: more than can be told of this mixture at its limit. Take the "
    text += f"{_planned(sized, flow)} that it is sized for."
    return Finding("return_at_pump", "warning", text, SOURCE)


def _instead(sized: ArraySizing, flow: Pumped, needed: float) -> str:
    """What keeps both limits where the film may be laminar, in a sentence of its own."""
    ways = [f"the {_planned(sized, flow)} that it is sized for"] if _kept(sized) else []
    if math.isfinite(needed):
        ways.append("that length")
    return f" Take {', or '.join(ways)}." if ways else ""


def _kept(sized: ArraySizing) -> bool:
    """Whether the array, as it is laid, keeps its limits at the flow that it is sized for."""
    return (sized.margin if sized.history is None else sized.history.margin) >= -_ROUNDING


def _remedy(sized: ArraySizing, flow: Pumped, found: AtFlow, *, runs: bool) -> str:
    """What is solved to keep both limits: the flow that the array is sized for, or more ground."""
    ways = []
    if _kept(sized):
        ways.append(f"the {_planned(sized, flow)} that it is sized for")
    if sized.total_length < found.needed_length < math.inf:
        needed = _with_less(sized, flow, found.needed_length) if runs else found.needed_length
        if needed < math.inf:
            less = " or what less the pump then gives" if runs else ""
            metres = f"{math.ceil(needed)} m of {sized.metre}"
            ways.append(f"{metres} in as many loops, at this flow{less}")
    return f": take {', or '.join(ways)}" if ways else ""


def _with_less(sized: ArraySizing, flow: Pumped, needed: float) -> float:
    """Length that keeps both limits at any flow that a pump may give through so long loops [m].

    Loops r times as long take r times the head, and head rises with the flow at least straight: a
    pump of falling head gives no less than 1/r of its flow. Its film may be worse than at all of
    it, and is worst between.
    """

    def at(share: float) -> float:
        found = _at(sized, replace(flow, mass_flow=share * flow.mass_flow))
        return math.inf if found is None else found.needed_length

    while True:
        low, high = sized.total_length / needed, 1.0
        for _ in range(_ROUNDS):
            shares = np.linspace(low, high, _SHARES).tolist()
            lengths = [at(share) for share in shares]
            worst = int(np.argmax(lengths))
            low, high = shares[max(worst - 1, 0)], shares[min(worst + 1, _SHARES - 1)]
        if lengths[worst] <= needed * (1.0 + _ALIKE) or math.isinf(lengths[worst]):
            return max(needed, lengths[worst])
        needed = lengths[worst]


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
