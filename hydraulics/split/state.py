"""What is known of an array at given flows: drops, their slopes and sums along its circuits?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from hydraulics.pipework.friction_table import friction_per_reynolds
from hydraulics.split.assembly import Level, Network

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Solution:
    """Flows and pressure drops of a solved network.

    Attributes
    ----------
    total
        Mass flow of the array [kg/s].
    flow
        Mass flow of each carrier [kg/s]; the first n are the branches.
    element_drop
        Pressure drop of each element, signed with its flow [Pa].
    carrier_drop
        Pressure drop of each carrier [Pa], nested circuits not counted.
    array_drop
        Drop from the root circuit's start round and back [Pa].
    run_drop
        Drop of the plant's runs and fittings [Pa].
    exchanger_drop
        Drop of the heat exchanger [Pa].
    mass_residual
        Largest disagreement of flow at a circuit's connection over the total [-].
    energy_residual
        Largest disagreement of pressure drop between a circuit's branches over the array's [-].
    worst_row
        Row at which the energy residual is largest.
    iterations
        Newton steps taken.
    """

    total: float
    flow: Array
    element_drop: Array
    carrier_drop: Array
    array_drop: float
    run_drop: float
    exchanger_drop: float
    mass_residual: float
    energy_residual: float
    worst_row: int
    iterations: int


def element_drops(network: Network, through: Array) -> tuple[Array, Array]:
    """Pressure drop of each element [Pa] and its slope [Pa s/kg], of the flow through it [kg/s]."""
    reynolds = np.abs(through)
    reynolds *= network.reynolds_per_flow
    per_reynolds, slope = friction_per_reynolds(reynolds, network.bank, network.first_block)
    per_reynolds *= network.laminar
    slope *= per_reynolds
    per_reynolds *= through
    return per_reynolds, slope


@dataclass(frozen=True, slots=True)
class State:
    """One iterate: flows, drops, slopes and how far pressures are from balance.

    ``gap`` holds, at row r, the pressure drop by way of branch r less that by way of branch r+1;
    ``within``, of nested circuits level by level, the sum of its sizes and the circuit's drop.
    ``norm`` is the size of what is left of the gaps [Pa], ``energy`` a bound on the disagreement
    between any two paths, over the array's drop.

    Of many arrays solved together every array has a first axis more, and so have the numbers.
    """

    branch: Array
    total: float | Array
    flow: Array
    element_drop: Array
    drop: Array
    slope: Array
    gap: Array
    array_drop: float | Array
    outer: float
    outer_slope: float
    within: tuple[tuple[Array, Array], ...]
    norm: float | Array
    energy: float | Array

    @property
    def unbalanced(self) -> float | Array:
        """``energy``, but within a nested circuit over that circuit's own drop, if not too small.

        Behind long runs a circuit takes little of the array's drop, by which alone its flows would
        be known badly.
        """
        worst = self.energy
        if not self.within:
            return worst
        floor = _LEAST_PART * np.abs(self.array_drop)[..., None]
        for gap, drop in self.within:
            within = gap / np.maximum(np.maximum(np.abs(drop), floor), 1e-300)
            worst = np.maximum(worst, within.max(axis=-1))
        return worst


_LEAST_PART: Final = 0.01  # of the array's drop: that of a circuit whose flows are known as well

Law = Callable[[Network, Array], tuple[Array, Array]]
"""As :func:`element_drops`."""

Outer = Callable[[float], tuple[float, float]]
"""Of a total flow: the pressure that the rest of the ring takes less what drives it; its slope."""


def sums(owner: NDArray[np.intp], values: Array, size: int) -> Array:
    """Sum of the values that each row owns; of many arrays, of each."""
    if values.ndim == 1:
        return cast(Array, np.bincount(owner, values, size))
    arrays = len(values)
    place = np.arange(arrays)[:, None] * size + owner
    found = np.bincount(place.ravel(), values.ravel(), arrays * size)
    return cast(Array, found.reshape(arrays, size))


def expanded(network: Network, branch: Array, total: float | Array) -> Array:
    """Flow of every carrier from that of the branches."""
    rows = network.rows
    flow = np.zeros((*branch.shape[:-1], 3 * rows + 1))
    flow[..., :rows] = branch
    flow[..., 3 * rows] = total
    for level in network.levels:
        if not level.headers:
            continue
        own = branch[..., level.lo : level.hi]
        passed = running_sums(own, level)
        flow[..., 2 * rows + level.lo : 2 * rows + level.hi] = passed
        onward = flow[..., rows + level.lo : rows + level.hi]
        np.subtract(_spread(passed[..., level.ends], level), passed, out=onward)
        onward += own
    return flow


def running_sums(values: Array, level: Level) -> Array:
    """Sums from each circuit's first row up to every row of a level.

    Parameters
    ----------
    values
        One value a row of the level.
    level
        The level.

    Returns
    -------
    Array
        One sum a row.
    """
    sums: Array = values.cumsum(axis=-1)
    if level.starts.size > 1:
        before = sums[..., level.starts] - values[..., level.starts]
        sums -= np.repeat(before, level.counts, axis=-1)
    return sums


def _spread(of_circuit: Array, level: Level) -> Array:
    """A value of each circuit at every row; a single circuit's as it is, which is quicker."""
    if level.starts.size == 1:
        return of_circuit
    return np.repeat(of_circuit, level.counts, axis=-1)


def drops_and_slopes(
    network: Network, flow: Array, law: Law = element_drops
) -> tuple[Array, Array, Array]:
    """Drop of each element [Pa]; drop and slope of each carrier [Pa], [Pa s/kg].

    Parameters
    ----------
    network
        The assembled array.
    flow
        Mass flow of each carrier [kg/s].
    law
        What each element drops.
    """
    element_drop, element_slope = law(network, flow.take(network.owner, axis=-1))
    drop = sums(network.owner, element_drop, flow.shape[-1])
    slope = sums(network.owner, element_slope, flow.shape[-1])
    loss = np.abs(flow)
    loss *= network.square
    slope += 2.0 * loss + network.linear
    loss += network.linear
    drop += loss * flow
    return element_drop, drop, slope


def state_of(
    network: Network,
    branch: Array,
    total: float | Array,
    outer: Outer | None,
    law: Law = element_drops,
) -> State:
    """Drops and residuals at given flows; of many arrays, each with a row and a total."""
    rows = network.rows
    flow = expanded(network, branch, total)
    element_drop, drop, slope = drops_and_slopes(network, flow, law)

    rung = drop[..., :rows].copy()  # a branch with all that hangs on it
    gap = np.zeros_like(rung)
    array_drop: Array = rung
    within: list[tuple[Array, Array]] = []
    for level in reversed(network.levels):
        lo, hi = level.lo, level.hi
        own, here = rung[..., lo:hi], gap[..., lo:hi]
        np.subtract(own[..., :-1], own[..., 1:], out=here[..., :-1])
        # A circuit's own drop, by way of its last branch.
        circuit_drop = own[..., level.ends]
        if level.headers:
            onward = drop[..., rows + lo : rows + hi]
            back = drop[..., 2 * rows + lo : 2 * rows + hi]
            here[..., :-1] += back[..., :-1] - onward[..., 1:]
            circuit_drop += np.add.reduceat(onward, level.starts, axis=-1) + back[..., level.ends]
        here[..., level.last] = 0.0
        if level.parents.size:
            rung[..., level.parents] += circuit_drop
            sizes = np.add.reduceat(np.abs(here), level.starts, axis=-1)
            within.append((sizes, circuit_drop))
        else:
            array_drop = circuit_drop[..., 0]
    outside, outside_slope = outer(float(total)) if outer is not None else (0.0, 0.0)
    if outer is not None:
        outside += float(array_drop + drop[3 * rows])
        outside_slope += float(slope[3 * rows])
    # Not gap @ gap: threaded BLAS is slower than a plain sum when cores are shared.
    square, worst = (gap * gap).sum(axis=-1), np.abs(gap).sum(axis=-1)
    norm: float | Array
    energy: float | Array
    if gap.ndim == 1:
        norm = math.sqrt(float(square) + outside**2)
        energy = _over(float(worst) + abs(outside), abs(float(array_drop)))
    else:
        norm, energy = np.sqrt(square), _each_over(worst, np.abs(array_drop))
    return State(
        branch=branch,
        total=total,
        flow=flow,
        element_drop=element_drop,
        drop=drop,
        slope=slope,
        gap=gap,
        array_drop=array_drop,
        outer=outside,
        outer_slope=outside_slope,
        within=tuple(within),
        norm=norm,
        energy=energy,
    )


def _over(worst: float, least: float) -> float:
    """A residual over a drop; none is none, whatever the drop."""
    if worst == 0.0:
        return 0.0
    return worst / least if least else math.inf


def _each_over(worst: Array, least: Array) -> Array:
    """The same of many."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(worst == 0.0, 0.0, worst / least)


@dataclass(frozen=True, slots=True)
class Drops:
    """Pressure drops at given flows, balanced or not.

    Attributes
    ----------
    flow
        Mass flow of each carrier [kg/s].
    element_drop
        Of each element [Pa].
    carrier_drop
        Of each carrier [Pa], nested circuits not counted.
    """

    flow: Array
    element_drop: Array
    carrier_drop: Array
