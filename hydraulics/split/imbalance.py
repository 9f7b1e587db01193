"""Does every loop flow alike? The verdict, the loop that suffers most, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.findings import listed
from hydraulics.layout.circuit import Loop
from hydraulics.split.assembly import FROM_GROUND, Network
from hydraulics.split.drops import branch_flows, drops_at, header_drops, loop_drops

Array = NDArray[np.float64]
_WORTH_A_WORD: Final = 0.02  # of the mean path's drop: less than this is not called a cause


@dataclass(frozen=True, slots=True)
class Imbalance:
    """How far the flows are from even, and the causes in words.

    Attributes
    ----------
    within_tolerance
        True where every loop is within the tolerance of an even share.
    tolerance
        Fraction of the even share.
    spread
        Largest less smallest flow over the mean.
    most_starved
        Loop with the least flow.
    index_loop
        Loop that would take the most pressure if all had the even share: the one that sets the
        head of a balanced array.
    causes
        What makes the flows differ, the largest first.
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


def judge(network: Network, flow: Array, total: float, tolerance: float) -> Imbalance:
    """Judge the flows of a solved array.

    Parameters
    ----------
    network
        The assembled array.
    flow
        Mass flow of each loop [kg/s].
    total
        Mass flow of the array [kg/s], more than 0.
    tolerance
        Allowed deviation from the even share, as a fraction of it.

    Returns
    -------
    Imbalance
        Verdict and causes.

    Notes
    -----
    Causes are read from the drops that the array would have if every loop carried the even share:
    whatever makes those differ is what makes the flows differ.
    """
    loops = len(network.loops)
    deviation = flow * (loops / total) - 1.0
    even = np.full(loops, total / loops)
    drops = drops_at(network, branch_flows(network, even), total)
    header = header_drops(network, drops)[network.loop_rows]
    own = loop_drops(network, drops)
    path = own + header
    causes, remedies = _explain(network, own, header, path) if loops > 1 else ([], [])
    within = bool((np.abs(deviation) <= tolerance * (1.0 + 1e-9)).all())
    return Imbalance(
        within_tolerance=within,
        tolerance=tolerance,
        spread=float(deviation.max() - deviation.min()),
        most_starved=int(deviation.argmin()),
        index_loop=int(path.argmax()),
        causes=tuple(causes),
        remedies=() if within else tuple(remedies),
    )


def _explain(
    network: Network, own: Array, header: Array, path: Array
) -> tuple[list[str], list[str]]:
    """Causes and remedies, the larger first."""
    mean = float(path.mean())
    own_part, header_part = float(np.ptp(own)) / mean, float(np.ptp(header)) / mean
    told: list[tuple[float, list[str], str]] = []
    if own_part > _WORTH_A_WORD:
        told.append(
            (
                own_part,
                _loop_differences(network, own),
                "coil spare pipe into the short loops until all are equal (never cut a long one), "
                "or fit regulating valves",
            )
        )
    if header_part > _WORTH_A_WORD:
        told.append(
            (
                header_part,
                [_header_difference(network, header)],
                _header_remedy(network),
            )
        )
    told.sort(key=lambda part: -part[0])
    return [word for _, words, _ in told for word in words], [remedy for _, _, remedy in told]


def _loop_differences(network: Network, own: Array) -> list[str]:
    """How the loops themselves differ, in words."""
    loops, names = network.loops, network.names
    words: list[str] = []
    bores = np.asarray([loop.sections[loop.main_section].pipe.bore for loop in loops])
    usual = _most_common(bores)
    if (other := np.flatnonzero(np.abs(bores - usual) > 1e-6)).size:
        words.append(
            f"{_named(names, other)} {_has(other)} {bores[other[0]] * 1e3:.1f} mm bore where most "
            f"loops have {usual * 1e3:.1f} mm"
        )
    length = np.asarray([loop.length for loop in loops])
    typical = _most_common(np.round(length, 2))
    off = np.flatnonzero(np.abs(length - typical) > 0.01 * typical)
    if off.size:
        words += _length_difference(loops, names, length, typical, off)
    if not words:
        high, low = int(own.argmax()), int(own.argmin())
        words.append(
            f"coils, fittings or legs differ: {names[high]} takes {own[high] / 1e3:.1f} kPa and "
            f"{names[low]} {own[low] / 1e3:.1f} kPa at the same flow"
        )
    return words


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
        words.append(
            f"{_named(names, side)} {verb} {span} m {comparative} than the rest "
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


def _header_difference(network: Network, header: Array) -> str:
    near, far = int(header.argmin()), int(header.argmax())
    rows = network.rows
    headers = any(level.headers for level in network.levels)
    reverse = bool(((network.owner >= 2 * rows) & (network.owner < 3 * rows)).any())
    kinds = "headers" if headers else "runs"
    reason = "direct return favours the near loops: " if headers and not reverse else ""
    return (
        f"{reason}the {kinds} take {header[far] / 1e3:.1f} kPa on the way to {network.names[far]} "
        f"and back, {header[near] / 1e3:.1f} kPa to {network.names[near]}, at an even flow"
    )


def _header_remedy(network: Network) -> str:
    """What evens out the way to the loops: it depends on how they are joined."""
    if not any(level.headers for level in network.levels):
        return "make the runs alike in length, enlarge the long ones, or fit regulating valves"
    # Only a direct return has its return header beside the flow header, in one carrier.
    returns = network.owner[network.side == FROM_GROUND]
    if ((returns >= network.rows) & (returns < 2 * network.rows)).any():
        return "join the headers in reverse return, enlarge them, or fit regulating valves"
    return "enlarge the headers, or fit regulating valves"


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
