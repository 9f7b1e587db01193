"""Which way to balance comes first, what does each disturb, and why?

Nothing is priced here: only what a way takes and what it moves is known, and the reason says which
of the two put it in its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from hydraulics.balancing.result import Disturbance, Way
from hydraulics.findings import Finding, figures, listed
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import flowing
from hydraulics.split.result import CirculatingDuty

CHEAP_ENERGY: Final = 0.10  # of the year's electricity as it is: what is more costs more to drive
_LEAST_FIRST: Final[tuple[Disturbance, ...]] = (
    "valves_at_ports",
    "loop_ends_opened",
    "headers_laid_anew",
    "loops_laid_anew",
)
_WORDS: Final[dict[Disturbance, str]] = {
    "valves_at_ports": "only valves at the loops' ports",
    "loop_ends_opened": "opening loops at their ends",
    "headers_laid_anew": "laying headers or runs anew",
    "loops_laid_anew": "laying loops anew",
}
_ANSWERED: Final = frozenset({"valve_authority_high", "spare_pipe_long", "valve_clogging"})
"""Findings that another way is the answer to, if one reaches."""


def words_of(way: Way) -> str:
    """What a way is called in a sentence."""
    return way.kind.replace("_", " ")


def loops_off_manifolds(circuit: Circuit) -> int:
    """Open loops that are joined to a header in the ground, not to a manifold."""
    return sum(
        each.count
        for each in flowing(circuit)
        if each.loop is not None and each.circuit.arrangement != "manifold"
    )


def stands(way: Way) -> bool:
    """Whether a way reaches and can be laid."""
    return way.verdict == "reaches" and not _errors(way)


def _errors(way: Way) -> list[str]:
    """Codes of what keeps a way from being laid."""
    return [each.code for each in way.findings if each.severity == "error"]


def ranked(ways: Sequence[Way], before: CirculatingDuty, joules_per_watt: float) -> tuple[Way, ...]:
    """The ways with their ranks and reasons, and what other way answers their findings.

    Parameters
    ----------
    ways
        As solved.
    before
        The duty of the array as it is.
    joules_per_watt
        Electricity of a year for each watt of hydraulic power [J/W].

    Returns
    -------
    tuple of Way
        In the same order. Ranked are those that reach and can be laid: without a warning first;
        of those with one what keeps most of a pump's flow, where one loses it; then those that
        add no more than :data:`CHEAP_ENERGY` to the energy of the array as it is; of these what
        disturbs least, then what takes least energy and least pipe.
    """
    good = [way for way in ways if stands(way)]
    calm = [way for way in good if not _warned(way)]

    energy_before = before.hydraulic_power * joules_per_watt

    def dear(way: Way) -> bool:
        return way.energy_change > CHEAP_ENERGY * energy_before * (1.0 + 1e-9)

    def lost(way: Way) -> float:
        """Share of the flow that is warned of [-]; less energy for less flow is no merit."""
        if way.reached is None or "balanced_flow_low" not in _warned(way):
            return 0.0
        return 1.0 - way.reached.duty.mass_flow / before.mass_flow

    def key(way: Way) -> tuple[bool, float, bool, int, float, float]:
        merits = dear(way), _disturbs(way), way.energy_change, way.pipe_added
        return bool(_warned(way)), lost(way), *merits

    order = sorted(good, key=key)
    placed = {way.kind: number for number, way in enumerate(order, 1)}

    def reason(way: Way) -> str:
        if way.kind not in placed:
            return ""
        if codes := _warned(way):
            return f"it reaches, with {'a warning' if len(codes) == 1 else 'warnings'} " + (
                f"({listed(codes)}), so that it stands behind ways without"
                if calm
                else f"({listed(codes)}), as every way does that reaches and can be laid"
            )
        change = way.energy_change / 3.6e6
        energy = (
            f"{figures(abs(change))} kWh a year {'less' if change < 0.0 else 'more'} at the pump"
        )
        if dear(way) and not all(map(dear, calm)):
            return (
                f"it takes {energy}, more than {100 * CHEAP_ENERGY:g} % on top of the array as it "
                "is, so that it stands behind ways that take less"
            )
        asks = f"it asks for {_WORDS[way.disturbs]}" if way.disturbs else "it disturbs nothing"
        return f"{asks} and takes {energy}"

    return tuple(
        replace(
            way,
            rank=placed.get(way.kind),
            rank_reason=reason(way),
            findings=_answered(way, [other for other in ways if other is not way]),
        )
        for way in ways
    )


def _warned(way: Way) -> list[str]:
    """Codes of what a way is warned of."""
    return [each.code for each in way.findings if each.severity == "warning"]


def _disturbs(way: Way) -> int:
    return _LEAST_FIRST.index(way.disturbs) if way.disturbs else -1


def _answered(way: Way, others: list[Way]) -> tuple[Finding, ...]:
    """Its findings with what other way, as solved, reaches without the same."""
    found = []
    for each in way.findings:
        if each.code in _ANSWERED:
            free = [words_of(o) for o in others if stands(o) and each.code not in _warned(o)]
            barred = [
                f"{words_of(o)} ({listed(_errors(o))})"
                for o in others
                if o.verdict == "reaches" and _errors(o)
            ]
            if free:
                told = f"ways that reach without it, as solved here: {listed(free)}"
            elif barred:
                told = (
                    "no other way that was solved here reaches and can be laid; what reaches has "
                    f"an error: {listed(barred)}"
                )
            else:
                told = "no other way that was solved here reaches"
            each = replace(each, message=f"{each.message}; {told}")  # noqa: PLW2901
        found.append(each)
    return tuple(found)
