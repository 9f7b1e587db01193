"""What flow should every loop have?"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hydraulics.errors import Fault, InputError
from hydraulics.findings import listed
from hydraulics.split.assembly import Network

Array = NDArray[np.float64]
Target = Literal["even", "length"] | Mapping[str, float]
"""Shares of the flow: alike, in proportion to the loops' length, or as given by loop."""


def share_in_words(target: Target) -> str:
    """What a loop's flow is compared with, as in "less than an even share"."""
    if target == "even":
        return "an even share"
    return "its share by length" if target == "length" else "the share asked for it"


def target_flows(network: Network, total: float, target: Target) -> Array:
    """Flow that each loop should have.

    Parameters
    ----------
    network
        The assembled array.
    total
        Mass flow of the array [kg/s].
    target
        ``"even"``, ``"length"`` or a share for each loop; shares need not add up to 1. Those of
        closed loops are left out.

    Returns
    -------
    Array
        Mass flow of each loop [kg/s], adding up to the total.

    Raises
    ------
    InputError
        A share is not more than 0, or there are more or fewer shares than loops.
    """
    loops = len(network.loops)
    if target == "even":
        return np.full(loops, total / loops)
    if target == "length":
        share = np.asarray([loop.length for loop in network.loops])
    else:
        share = _shares(network.names, network.closed, target)
    flow: Array = share * (total / share.sum())
    return flow


def _shares(names: tuple[str, ...], closed: tuple[str, ...], target: object) -> Array:
    """Share of each loop, in the order of the layout."""
    where = "balancing.target"
    if not isinstance(target, Mapping):
        raise InputError(
            Fault(where, "no such target", target, "even, length or a share for each loop")
        )
    known = frozenset(names + closed)
    some = ", ".join(names[:6]) + (", ..." if len(names) > 6 else "")
    faults = [
        Fault(where, f"the array has no loop '{name}'", name, f"names of its loops: {some}")
        for name in target
        if name not in known
    ]
    missing = [name for name in names if name not in target]
    if missing:
        faults.append(
            Fault(where, f"there is no share for loop {listed(missing)}", None, "a share a loop")
        )
    faults += [
        Fault(where, f"the share of loop {name} must be more than 0", share, "more than 0")
        for name, share in target.items()
        if not (math.isfinite(share) and share > 0.0)
    ]
    if faults:
        raise InputError(*faults[:20])
    return np.asarray([target[name] for name in names], dtype=np.float64)
