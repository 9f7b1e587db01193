"""Which way to balance comes first, what does each disturb, and why?

Nothing is priced here: only what a way takes and what it moves is known, and the reason says which
of the two put it in its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from hydraulics.balancing.result import Disturbance, Way
from hydraulics.findings import listed
from hydraulics.layout.circuit import Circuit
from hydraulics.layout.walk import circuits_of

ALIKE_ENERGY: Final = 0.05  # of the year's electricity as it is: ways nearer are driven alike
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
    """Loops that are joined to a header in the ground, not to a manifold."""
    return sum(
        times * branch.count
        for here, times in circuits_of(circuit)
        if here.arrangement != "manifold"
        for branch in here.branches
        if not isinstance(branch.item, Circuit)
    )


def stands(way: Way) -> bool:
    """Whether a way reaches and can be laid."""
    return way.verdict == "reaches" and not any(f.severity == "error" for f in way.findings)


def ranked(ways: Sequence[Way], energy_before: float) -> tuple[Way, ...]:
    """The ways with their ranks and reasons, and what other way answers their findings.

    Parameters
    ----------
    ways
        As solved.
    energy_before
        Electricity of a year for the array as it is [J].

    Returns
    -------
    tuple of Way
        In the same order. Ranked are those that reach and can be laid: without a warning first;
        then those whose energy is within :data:`ALIKE_ENERGY` of the least of these; of those what
        disturbs least, then what takes least pipe; the others by energy.
    """
    good = [way for way in ways if stands(way)]
    calm = [way for way in good if not _warned(way)]
    least = min(calm or good, key=lambda way: way.energy_change, default=None)

    def alike(way: Way) -> bool:
        assert least is not None
        more = way.energy_change - least.energy_change
        return more <= ALIKE_ENERGY * energy_before * (1.0 + 1e-9)

    def key(way: Way) -> tuple[bool, bool, int, float, float]:
        near = alike(way)
        return (
            bool(_warned(way)),
            not near,
            _disturbs(way) if near else 0,
            way.pipe_added if near else 0.0,
            way.energy_change,
        )

    order = sorted(good, key=key)
    placed = {way.kind: number for number, way in enumerate(order, 1)}

    def reason(way: Way) -> str:
        if way.kind not in placed:
            return ""
        if codes := _warned(way):
            return f"it reaches, with {'a warning' if len(codes) == 1 else 'warnings'} " + (
                f"({listed(codes)}), so that it stands behind ways without"
                if calm
                else f"({listed(codes)}), as every way does that reaches"
            )
        assert least is not None
        more = (way.energy_change - least.energy_change) / 3.6e6
        if not alike(way):
            return (
                f"it takes {more:.3g} kWh a year more at the pump than {words_of(least)}, which "
                "takes least of the ways without a warning"
            )
        about = (
            "it takes the least pump energy of the ways without a warning"
            if way is least
            else f"it takes {max(more, 0.0):.3g} kWh a year more at the pump than "
            f"{words_of(least)}, which counts as alike (within {100 * ALIKE_ENERGY:g} % of the "
            "array's as it is)"
        )
        return f"{about}, and asks for {_WORDS[way.disturbs]}" if way.disturbs else about

    return tuple(
        replace(
            way,
            rank=placed.get(way.kind),
            rank_reason=reason(way),
            findings=_answered(way, [other for other in good if other is not way]),
        )
        for way in ways
    )


def _warned(way: Way) -> list[str]:
    """Codes of what a way is warned of."""
    return [each.code for each in way.findings if each.severity == "warning"]


def _disturbs(way: Way) -> int:
    return _LEAST_FIRST.index(way.disturbs) if way.disturbs else -1


def _answered(way: Way, others: list[Way]) -> tuple:  # type: ignore[type-arg]
    """Its findings with what other way, as solved, reaches without the same."""
    found = []
    for each in way.findings:
        if each.code in _ANSWERED:
            free = [words_of(o) for o in others if each.code not in _warned(o)]
            told = (
                f"of the other ways {listed(free)} {'reach' if len(free) > 1 else 'reaches'} as "
                "solved here"
                if free
                else "no other way that was solved here reaches"
            )
            each = replace(each, message=f"{each.message}; {told}")  # noqa: PLW2901
        found.append(each)
    return tuple(found)
