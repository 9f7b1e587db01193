"""Does every loop flow alike? The verdict, the loop that suffers most, and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.findings import listed
from hydraulics.layout.circuit import Loop
from hydraulics.split.assembly import FROM_GROUND, IN_LOOP, Network
from hydraulics.split.drops import branch_flows, drops_at, header_drops, loop_drops, pipe_drops
from hydraulics.split.solver import ENERGY_LIMIT

Array = NDArray[np.float64]
_ROUNDING: Final = 1e-12  # of a flow: loops whose flows differ by less have one flow
_WORTH_A_WORD: Final = 0.02  # of the mean path's drop: less than this is not called a cause


_SPARE: Final = "coil spare pipe into the loops that get too much (never cut a long one), or "


@dataclass(frozen=True, slots=True)
class Imbalance:
    """How far the flows are from what they should be, and the causes in words.

    Attributes
    ----------
    within_tolerance
        True where every loop is within the tolerance of its target flow.
    tolerance
        Fraction of the target flow.
    spread
        Largest less smallest deviation; for an even target, of the flows over their mean.
    most_starved
        Loop with the least of its target flow.
    index_loop
        Loop that would take the most pressure if all had their target flow: the one that sets the
        head of a balanced array.
    causes
        What makes the flows differ from their targets, the largest first.
    remedies
        What would mend it, in words.
    """

    within_tolerance: bool
    tolerance: float
    spread: float
    most_starved: int
    index_loop: int
    causes: tuple[str, ...]
    remedies: tuple[str, ...]


def judge(
    network: Network,
    deviation: Array,
    target_flow: Array,
    tolerance: float,
    share: str,
    *,
    has_valves: bool = False,
    reverse_helps: Callable[[], bool] = lambda: True,
) -> Imbalance:
    """Judge the flows of a solved array.

    Parameters
    ----------
    network
        The assembled array.
    deviation
        Of each loop from its target flow, as a fraction of it.
    target_flow
        Mass flow that each loop should have [kg/s], more than 0.
    tolerance
        Allowed deviation, as a fraction.
    share
        What the target is, as in "at an even share".
    has_valves
        Whether valves that were set are in the array already.
    reverse_helps
        Whether reverse return brings the array nearer; asked where that would be advised.

    Returns
    -------
    Imbalance
        Verdict and causes.

    Notes
    -----
    Causes are read from the drops that the array would have if every loop carried its target flow:
    whatever makes those differ is what makes the flows differ from it.
    """
    parts = path_parts(network, target_flow, float(target_flow.sum()))
    path = parts.path
    several = len(network.loops) > 1
    within = bool((np.abs(deviation) <= tolerance * (1.0 + 1e-9)).all())
    causes, remedies = (
        _explain(
            network,
            parts,
            target_flow,
            deviation,
            share=share,
            valves="set the regulating valves anew" if has_valves else "fit regulating valves",
            reverse_helps=(lambda: True) if within else reverse_helps,
        )
        if several
        else ([], [])
    )
    return Imbalance(
        within_tolerance=within,
        tolerance=tolerance,
        spread=spread_of(deviation),
        most_starved=first_largest(-deviation, 1.0),
        index_loop=first_largest(path, float(np.abs(path).max())),
        causes=tuple(causes),
        remedies=() if within else tuple(remedies),
    )


def spread_of(deviation: Array) -> float:
    """Largest less smallest deviation; 0 where that is rounding."""
    spread = float(np.ptp(deviation))
    return spread if spread > _ROUNDING else 0.0


def first_largest(values: Array, scale: float) -> int:
    """Place of the largest value; of values as good as equal, the first.

    Parameters
    ----------
    values
        One a loop, in the order of the layout.
    scale
        What the solver's tolerance is a fraction of, in the unit of the values.

    Returns
    -------
    int
        Place, counted from 0.
    """
    return int((values >= values.max() - ENERGY_LIMIT * scale).argmax())


@dataclass(frozen=True, slots=True)
class PathParts:
    """Where the drop on the way to each loop, through it and back arises [Pa].

    Attributes
    ----------
    loops
        Pipe of the loop itself.
    fittings
        Fittings and valves of the loop, its branch and its run, and of those it hangs on.
    runs
        Pipe of the runs.
    headers
        Pipe of the headers.
    """

    loops: Array
    fittings: Array
    runs: Array
    headers: Array

    @property
    def path(self) -> Array:
        """All of it [Pa]."""
        return self.loops + self.fittings + self.runs + self.headers

    def weights(self) -> dict[str, float]:
        """How much of the difference between the paths each part makes.

        Returns
        -------
        dict of str to float
            By part, the largest first, as a fraction of the mean path: what it adds to the path
            that takes most, spares the path that takes least, or both together; whichever is
            more. Not positive where the part evens the paths out.
        """
        path = self.path
        high, low = int(path.argmax()), int(path.argmin())
        found = {}
        for name in ("loops", "headers", "runs", "fittings"):
            part = getattr(self, name)
            added = float(part[high] - part.mean())
            spared = float(part.mean() - part[low])
            found[name] = max(added, spared, added + spared)
        scale = float(path.mean())
        return {name: found[name] / scale for name in sorted(found, key=lambda n: -found[n])}


def path_parts(network: Network, loop_flow: Array, total: float) -> PathParts:
    """Where the drop of each loop's path would arise at given flows.

    Parameters
    ----------
    network
        The assembled array.
    loop_flow
        Mass flow of each loop [kg/s].
    total
        Mass flow of the array [kg/s].

    Returns
    -------
    PathParts
        The drops, whether or not they balance.
    """
    drops = drops_at(network, branch_flows(network, loop_flow), total)
    rows, loop_rows = network.rows, network.loop_rows
    flow = drops.flow[:rows]
    fittings = (network.square[:rows] * np.abs(flow) + network.linear[:rows]) * flow
    fittings = _along(network, fittings)[loop_rows]
    runs = _along(network, pipe_drops(network, drops, network.side != IN_LOOP)[:rows])[loop_rows]
    loops = pipe_drops(network, drops)[loop_rows]
    path = loop_drops(network, drops) + header_drops(network, drops)[loop_rows]
    return PathParts(loops, fittings, runs, path - loops - fittings - runs)


def _along(network: Network, own: Array) -> Array:
    """Each branch's own drop and those of the branches it hangs on."""
    path = own.copy()
    for level in network.levels:
        if level.parents.size:
            path[level.lo : level.hi] += np.repeat(path[level.parents], level.counts)
    return path


def _explain(
    network: Network,
    parts: PathParts,
    target_flow: Array,
    deviation: Array,
    *,
    share: str,
    valves: str,
    reverse_helps: Callable[[], bool],
) -> tuple[list[str], list[str]]:
    """Causes and remedies, the larger first; none where the paths are alike."""
    causes: list[str] = []
    remedies: list[str] = []
    path = parts.path
    if float(np.ptp(path)) <= _WORTH_A_WORD * float(np.abs(path).mean()):
        return causes, remedies
    asked = target_flow / target_flow.mean()
    even = bool(np.ptp(asked) < 1e-9)
    low, high = int(asked.argmin()), int(asked.argmax())
    # A cause only where those who are asked for least get too much of it, or most too little.
    if not even and deviation[low] > deviation[high]:
        causes.append(
            f"the flows asked for are not alike: {network.names[low]} shall have {asked[low]:.2f} "
            f"of an even share and {network.names[high]} {asked[high]:.2f}"
        )
    for name, weight in parts.weights().items():
        if weight <= _WORTH_A_WORD:
            continue
        if name == "loops":
            causes += _loop_differences(network, parts.loops, deviation, share)
            remedies.append(_SPARE + valves)
        elif name == "headers":
            causes.append(_header_difference(network, parts.headers, share))
            remedies.append(_header_remedy(network, valves, reverse_helps))
        elif name == "runs":
            causes.append("the runs take " + _on_the_way(network, parts.runs, share))
            remedies.append(
                f"enlarge the runs that carry more, or {valves}"
                if _alike(_run_lengths(network))
                else f"make the runs alike in length, enlarge the long ones, or {valves}"
            )
        else:
            way = _on_the_way(network, parts.fittings, share)
            causes.append(f"fittings and valves take {way}")
            remedies.append(
                valves
                if _alike(_along(network, network.square[: network.rows])[network.loop_rows])
                else "open or exchange the valve or fitting on the way to the loops that get too "
                "little, or balance the others by valves"
            )
    # Parts that are alike drop unlike at unlike flows: only what throttles sets those.
    return causes, remedies if even else [_SPARE + valves]


def _alike(values: Array) -> bool:
    """Whether one a loop, they differ by no more than 1 %."""
    return float(np.ptp(values)) <= 0.01 * float(np.abs(values).max())


def _run_lengths(network: Network) -> Array:
    """Pipe of the runs on the way to each loop and back [m]."""
    rows = network.rows
    runs = (network.owner < rows) & (network.side != IN_LOOP)
    own = np.asarray(np.bincount(network.owner[runs], network.length[runs], rows), np.float64)
    return _along(network, own)[network.loop_rows]


def _loop_differences(network: Network, own: Array, deviation: Array, share: str) -> list[str]:
    """How the pipe of the loops differs, where that agrees with what they get, in words."""
    loops, names = network.loops, network.names
    words: list[str] = []
    bores = np.asarray([loop.sections[loop.main_section].pipe.bore for loop in loops])
    usual = _most_common(bores)
    agrees = (bores - usual) * deviation > 0.0
    for bore in np.unique(np.round(bores[agrees & (np.abs(bores - usual) > 1e-6)], 7)):
        other = np.flatnonzero(agrees & (np.abs(bores - bore) <= 1e-6))
        most = (
            "most loops"
            if 2 * int((np.abs(bores - usual) <= 1e-6).sum()) > len(bores)
            else "others"
        )
        words.append(
            f"{_named(names, other)} {_has(other)} {bore * 1e3:.1f} mm bore where {most} have "
            f"{usual * 1e3:.1f} mm"
        )
    length = np.asarray([loop.length for loop in loops])
    typical = _most_common(np.round(length, 2))
    off = (np.abs(length - typical) > 0.01 * typical) & ((length - typical) * deviation < 0.0)
    if off.any():
        words += _length_difference(loops, names, length, typical, np.flatnonzero(off))
    if not words or _coils_differ(loops, own, length):
        high, low = int(own.argmax()), int(own.argmin())
        same = loops[high].sections == loops[low].sections or not share.startswith("an even")
        unlike = "" if same else "coils or legs differ: "
        words.append(
            f"{unlike}the pipe of {names[high]} takes {own[high] / 1e3:z.1f} kPa and "
            f"that of {names[low]} {own[low] / 1e3:z.1f} kPa, each at {share}"
        )
    return words


def _coils_differ(loops: tuple[Loop, ...], own: Array, length: Array) -> bool:
    """Whether loops of one bore differ by their coils more than by their length."""
    if len({loop.sections[loop.main_section].pipe.bore for loop in loops}) > 1:
        return False
    coiled = np.asarray([loop.coiled_length for loop in loops])
    by_metre = own / length
    return bool(
        float(np.ptp(coiled)) > 0.01 * float(coiled.max())
        and float(np.ptp(by_metre)) * length.mean() > 0.5 * float(np.ptp(own))
    )


def _length_difference(
    loops: tuple[Loop, ...], names: tuple[str, ...], length: Array, typical: float,
    off: NDArray[np.intp],
) -> list[str]:  # fmt: skip
    """The lengths that differ, and whether it is the straight pipe (the tails) that does."""
    words = []
    for sign, comparative in ((-1.0, "shorter"), (1.0, "longer")):
        side = off[(length[off] - typical) * sign > 0]
        if not side.size:
            continue
        by = np.abs(length[side] - typical)
        span = f"{by.min():.0f}" if np.ptp(by) < 0.5 else f"{by.min():.0f} to {by.max():.0f}"
        verb = "is" if side.size == 1 else "are"
        rest = np.delete(length, side)
        against = "the rest" if _alike(np.append(rest, typical)) else "the typical loop"
        words.append(
            f"{_named(names, side)} {verb} {span} m {comparative} than {against} "
            f"({_lengths(length[side])} against {typical:.0f} m)"
        )
    coiled = np.asarray([loop.coiled_length for loop in loops])
    if float(coiled.max()) > 0.0 and float(np.ptp(coiled)) < 0.01 * float(coiled.max()):
        straight = np.asarray([loop.straight_length for loop in loops])
        words.append(
            f"the coils are alike, the straight pipe (tails) is not: {straight.min():.0f} to "
            f"{straight.max():.0f} m"
        )
    return words


def _header_difference(network: Network, header: Array, share: str) -> str:
    rows = network.rows
    reverse = bool(((network.owner >= 2 * rows) & (network.owner < 3 * rows)).any())
    near, far = int(header.argmin()), int(header.argmax())
    on_the_way = zip(network.places[near], network.places[far], strict=False)
    outwards = near < far and all(one <= other for one, other in on_the_way)
    reason = "" if reverse or not outwards else "direct return favours the near loops: "
    return f"{reason}the headers take {_on_the_way(network, header, share)}"


def _on_the_way(network: Network, drop: Array, share: str) -> str:
    near, far = int(drop.argmin()), int(drop.argmax())
    return (
        f"{drop[far] / 1e3:z.1f} kPa on the way to {network.names[far]} and back, "
        f"{drop[near] / 1e3:z.1f} kPa to {network.names[near]}, each loop at {share}"
    )


def _header_remedy(network: Network, valves: str, reverse_helps: Callable[[], bool]) -> str:
    """What evens out the way to the loops: it depends on how they are joined."""
    # Only a direct return has its return header beside the flow header, in one carrier.
    returns = network.owner[network.side == FROM_GROUND]
    direct = ((returns >= network.rows) & (returns < 2 * network.rows)).any()
    if direct and reverse_helps():
        return f"join the headers in reverse return, enlarge them, or {valves}"
    return f"enlarge the headers, or {valves}"


def _named(names: tuple[str, ...], which: NDArray[np.intp]) -> str:
    return listed([names[i] for i in which.tolist()])


def _has(which: NDArray[np.intp]) -> str:
    return "has" if which.size == 1 else "have"


def _lengths(length: Array) -> str:
    low, high = float(length.min()), float(length.max())
    return f"{low:.0f} m" if high - low < 0.5 else f"{low:.0f} to {high:.0f} m"


def _most_common(values: Array) -> float:
    """The most frequent value; where none repeats, the middle one."""
    found, counts = np.unique(values, return_counts=True)
    if int(counts.max()) > 1 or len(found) == 1:
        return float(found[counts.argmax()])
    return float(found[len(found) // 2])
