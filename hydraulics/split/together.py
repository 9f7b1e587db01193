"""Which of several arrays are joined alike, and what flows in them, at their duties and around?"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from hydraulics.errors import HydraulicsError
from hydraulics.fluid.mixture import Mixture
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.duty import Duty
from hydraulics.split.flow_split import flow_asked, network_of, refuse_beyond
from hydraulics.split.head_high import heads_high
from hydraulics.split.many import joined_alike, repeated, solve_many, stacked
from hydraulics.split.result import Solved
from hydraulics.split.state import Solution
from hydraulics.split.system_curve import Around, parts_around

_LARGEST: Final = 2_000  # elements of an array; larger ones gain nothing from others beside them
_TOGETHER: Final = 50_000  # elements of all arrays whose curves are held at once


@dataclass(frozen=True, slots=True)
class Asked:
    """An array and its duty, as :func:`hydraulics.split.flow_split.flow_split` takes them."""

    circuit: Circuit
    plant: Plant
    mixture: Mixture
    duty: Duty


def solved_together(arrays: Sequence[Asked], *, around: bool = True) -> list[Solved | None]:
    """Solve those of several arrays that are joined alike all at once.

    Parameters
    ----------
    arrays
        The arrays.
    around
        Whether at flows around their duties too.

    Returns
    -------
    list of Solved or None
        In the order asked. None: no other is joined so, a pump drives it, or something is wrong
        with it, which solving it by itself tells.
    """
    found: list[Solved | None] = [None] * len(arrays)
    groups: dict[Hashable, list[tuple[int, Network, float]]] = {}
    for number, each in enumerate(arrays):
        try:
            network = network_of(each.circuit, each.plant, each.mixture, each.duty)
        except HydraulicsError:
            continue
        total = flow_asked(network, each.duty)
        if total is not None and total > 0.0 and network.owner.size <= _LARGEST:
            groups.setdefault(joined_alike(network), []).append((number, network, total))
    for group in groups.values():
        at_once = max(2, _TOGETHER // group[0][1].owner.size)
        for begin in range(0, len(group), at_once):
            some = group[begin : begin + at_once]
            try:
                networks, flows = [each[1] for each in some], [each[2] for each in some]
                solved = _solved(networks, flows, around=around)
            except HydraulicsError:
                continue
            for (number, *_), each_solved in zip(some, solved, strict=True):
                found[number] = each_solved
    return found


def _solved(networks: list[Network], totals: list[float], *, around: bool) -> list[Solved | None]:
    if len(networks) == 1:
        return [None]
    together = stacked(networks)
    many = solve_many(together, np.asarray(totals))
    solutions = [
        many.one(number, _exchanger_drop(network, total))
        for number, (network, total) in enumerate(zip(networks, totals, strict=True))
    ]
    within = [_is_within(*each) for each in zip(networks, solutions, strict=True)]
    found: list[Solved | None] = [None] * len(networks)
    kept = np.flatnonzero(within)
    if not kept.size:
        return found
    highs = heads_high([networks[i] for i in kept], [solutions[i] for i in kept])
    for number, high in zip(kept.tolist(), highs, strict=True):
        found[number] = Solved(networks[number], solutions[number], high, None)
    if not around:
        return found
    parts = [parts_around(networks[i], solutions[i]) for i in kept.tolist()]
    which = np.repeat(kept, [each.size for each in parts])
    part = np.concatenate(parts)
    start = many.flow[which, : together.rows] * part[:, None]
    beside = solve_many(repeated(together, which), many.total[which] * part, start=start)
    pressure, loop_flow = beside.array_drop + beside.run_drop, beside.flow[:, together.loop_rows]
    begin = 0
    for number, high, own in zip(kept.tolist(), highs, parts, strict=True):
        here = slice(begin, begin := begin + own.size)
        network, solution = networks[number], solutions[number]
        flows = (solution.total * own).tolist()
        exchanged = np.asarray([_exchanger_drop(network, flow) for flow in flows])
        curve = Around(own, pressure[here] + exchanged, loop_flow[here])
        found[number] = Solved(network, solution, high, curve)
    return found


def _exchanger_drop(network: Network, total: float) -> float:
    exchanger = network.exchanger
    if exchanger is None:
        return 0.0
    return exchanger.drop(total / network.fluids[IN_LOOP].density)[0]


def _is_within(network: Network, solution: Solution) -> bool:
    try:
        refuse_beyond(network, solution)
    except HydraulicsError:
        return False
    return True
