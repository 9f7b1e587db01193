"""What flows in many arrays that are joined alike, all solved at once?

Newton's method of :mod:`hydraulics.split.solver`, every array with a step of its own; an array that
is balanced is left as it is while the others go on. What an array does in it does not depend on
those beside it.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.fluid.mixture import Fluid
from hydraulics.pipework.friction import ito_critical_reynolds
from hydraulics.pipework.friction_table import bank_for
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.solver import (
    ENERGY_TOLERANCE,
    ENOUGH,
    ITERATIONS,
    ROUNDING,
    SHORTEST_STEP,
    Linear,
    branch_step,
    first_guess,
    linearise,
    refuse_imbalance,
    solve_at,
)
from hydraulics.split.state import Solution, State, state_of

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Which = NDArray[np.bool_]

# Of a network, what may differ from array to array.
_OF_ELEMENTS: Final = (
    "length", "bore", "parallel", "reynolds_per_flow", "laminar", "relative_roughness",
    "curvature", "critical", "first_block",
)  # fmt: skip
_OF_CARRIERS: Final = ("square", "linear", "loop_square", "loop_linear")
_VARIED: Final = (*_OF_ELEMENTS, *_OF_CARRIERS)
_ROWS_TOGETHER: Final = 4000  # of one array at all its flows; beyond, one by one is quicker
ELEMENTS_TOGETHER: Final = 8_000  # of all arrays solved at once: what a processor's cache holds


@dataclass(frozen=True, slots=True)
class Solutions:
    """Flows and pressure drops of many arrays that are joined alike, one row each.

    Attributes
    ----------
    total
        Mass flow of each array [kg/s].
    flow
        Mass flow of each carrier [kg/s].
    element_drop, carrier_drop
        As :class:`hydraulics.split.state.Solution` has them [Pa].
    array_drop, run_drop
        Drop of the array, and of the plant's runs and fittings [Pa].
    mass_residual, energy_residual
        Largest disagreement of flow over the total, and of pressure over the array's drop [-].
    worst_row
        Row at which the latter is.
    iterations
        Newton steps taken.
    """

    total: Array
    flow: Array
    element_drop: Array
    carrier_drop: Array
    array_drop: Array
    run_drop: Array
    mass_residual: Array
    energy_residual: Array
    worst_row: Index
    iterations: Index

    def one(self, number: int, exchanger_drop: float = 0.0) -> Solution:
        """One of them, with the drop of its heat exchanger [Pa]."""
        return Solution(
            total=float(self.total[number]),
            flow=self.flow[number],
            element_drop=self.element_drop[number],
            carrier_drop=self.carrier_drop[number],
            array_drop=float(self.array_drop[number]),
            run_drop=float(self.run_drop[number]),
            exchanger_drop=exchanger_drop,
            mass_residual=float(self.mass_residual[number]),
            energy_residual=float(self.energy_residual[number]),
            worst_row=int(self.worst_row[number]),
            iterations=int(self.iterations[number]),
        )


# --------------------------------------------------------------------------------- many as one


def joined_alike(network: Network) -> Hashable:
    """What two networks have in common that can be solved together."""
    levels = [
        (each.lo, each.hi, each.starts.tobytes(), each.parents.tobytes(), each.headers)
        for each in network.levels
    ]
    return (
        network.rows,
        tuple(levels),
        network.loop_rows.tobytes(),
        network.owner.tobytes(),
        network.side.tobytes(),
        id(network.bank),
    )


def stacked(networks: Sequence[Network]) -> Network:
    """Several networks that are joined alike as one, an array to a row.

    Parameters
    ----------
    networks
        One or more for which :func:`joined_alike` is the same.
    """
    together: dict[str, Any] = {
        name: np.stack([getattr(each, name) for each in networks]) for name in _VARIED
    }
    return replace(networks[0], **together)


def varied(
    network: Network,
    *,
    fluids: Sequence[tuple[Fluid, Fluid, Fluid]] | None = None,
    fluid_of: Index | None = None,
    lengths: Array | None = None,
    bores: Array | None = None,
    losses: Array | None = None,
) -> Network:
    """Variants of one network as one, an array to a row; what is not given stays as it is.

    Parameters
    ----------
    network
        One array.
    fluids, fluid_of
        To the ground, in the loops, from the ground; which of them each variant has. None: the
        first variant the first, and so on.
    lengths
        Of each variant's elements [m], shape (variants, elements).
    bores
        Likewise, more than 0 [m]; coils keep their diameter and pipe its roughness.
    losses
        Of each variant's carriers, by what the fittings' drop is multiplied, shape (variants,
        carriers).

    Returns
    -------
    Network
        For :func:`solve_many`.
    """
    side, told = network.side, fluids or [network.fluids]
    before = np.asarray([(each.density, each.viscosity) for each in network.fluids])
    after = np.asarray([[(each.density, each.viscosity) for each in three] for three in told])
    thinner = before[:, 1] / after[..., 1]  # a row a variant, or one for all
    lighter = before[:, 0] / after[..., 0]
    if fluid_of is not None:
        thinner, lighter = thinner[fluid_of], lighter[fluid_of]
    reynolds = network.reynolds_per_flow * thinner[:, side]
    laminar = network.laminar * (lighter / thinner)[:, side]
    square, linear = network.square * lighter[:, IN_LOOP, None], network.linear
    linear = linear * (lighter / thinner)[:, IN_LOOP, None]
    changed: dict[str, Any] = {}
    if lengths is not None:
        laminar = laminar * (lengths / network.length)
        changed["length"] = lengths
    if bores is not None:
        wider = bores / network.bore
        reynolds, laminar = reynolds / wider, laminar / wider**4
        rough, curvature = network.relative_roughness / wider, network.curvature * wider
        kinds = np.stack((rough.ravel(), curvature.ravel()), axis=1)
        found, which = np.unique(kinds, axis=0, return_inverse=True)
        bank, first = bank_for([(one, other) for one, other in found.tolist()])
        changed |= {
            "bore": bores, "relative_roughness": rough, "curvature": curvature,
            "critical": ito_critical_reynolds(curvature), "bank": bank,
            "first_block": first[which.ravel()].reshape(bores.shape),
        }  # fmt: skip
    if losses is not None:
        square, linear = square * losses, linear * losses
    return replace(
        network,
        reynolds_per_flow=reynolds,
        laminar=laminar,
        square=square,
        linear=linear,
        **changed,
    )


def repeated(network: Network, which: Index) -> Network:
    """Many arrays of those that are stacked, each as often as `which` tells its number."""
    parts: dict[str, Any] = {name: getattr(network, name)[which] for name in _VARIED}
    return replace(network, **parts)


def of_many(network: Network, which: Which | Index | slice) -> Network:
    """Some of many arrays; what all share stays shared."""
    parts: dict[str, Any] = {}
    for name in _VARIED:
        values = getattr(network, name)
        if values.ndim > 1:
            parts[name] = values[which] if len(values) > 1 else values
    return replace(network, **parts) if parts else network


# ------------------------------------------------------------------------------------- solving


def solve_many(
    network: Network,
    totals: Array,
    *,
    start: Array | None = None,
    tolerance: float = ENERGY_TOLERANCE,
) -> Solutions:
    """Find the flow in every branch of many arrays.

    Parameters
    ----------
    network
        From :func:`stacked` or :func:`varied`, or one array for all flows.
    totals
        Mass flow of each array [kg/s], 0 or more.
    start
        Branch flows to start from [kg/s], a row an array; None: as
        :func:`hydraulics.split.solver.solve` does.
    tolerance
        As it takes it.

    Returns
    -------
    Solutions
        In the order of ``totals``, as one by one to rounding.

    Raises
    ------
    NoSolutionError
        Some array's residual stayed above the limit.
    """
    totals = np.asarray(totals, dtype=np.float64)
    at_once = max(1, ELEMENTS_TOGETHER // network.owner.size)
    parts = []
    for begin in range(0, totals.size, at_once):
        here = slice(begin, begin + at_once)
        some, flows = of_many(network, here), totals[here]
        first = first_guess(some, flows) if start is None else start[here]
        parts.append(_balanced(some, first, flows, tolerance))
    if len(parts) == 1:
        return parts[0]
    return Solutions(
        *(np.concatenate([getattr(each, one.name) for each in parts]) for one in fields(Solutions))
    )


def _balanced(network: Network, branch: Array, totals: Array, tolerance: float) -> Solutions:
    """Take Newton's steps until the pressures of every array agree."""
    arrays = totals.size
    state = state_of(network, np.broadcast_to(branch, (arrays, network.rows)), totals, None)
    found: list[tuple[Index, State, Index]] = []
    at, steps = np.arange(arrays), np.zeros(arrays, dtype=np.intp)
    ended = np.zeros(arrays, dtype=np.bool_)  # by rounding
    for _ in range(ITERATIONS):
        busy = (np.asarray(state.unbalanced) > tolerance) & ~ended
        if not busy.any():
            break
        if 2 * busy.sum() < busy.size:  # until then it costs more to put them aside
            found.append((at[~busy], some_of(state, ~busy), steps[~busy]))
            network, state = of_many(network, busy), some_of(state, busy)
            at, steps, ended, busy = at[busy], steps[busy], ended[busy], busy[busy]
        state, lowered, rounding = _descended(network, state, linearise(network, state), busy)
        steps = steps + lowered
        ended |= rounding
    found.append((at, state, steps))
    return _gathered(network, found, arrays)


def _descended(
    network: Network, state: State, linear: Linear, busy: Which
) -> tuple[State, Which, Which]:
    """Busy arrays after Armijo's step; whether each took one; whether rounding ends its descent."""
    step = branch_step(network, 0.0, linear)
    step[~busy] = 0.0
    before, length = np.asarray(state.norm), 1.0
    tried = state_of(network, state.branch + step, state.total, None)
    lower = (np.asarray(tried.norm) <= (1.0 - ENOUGH) * before) | ~busy
    if not lower.all():
        tried = _chosen(lower, tried, state)
    taken = lower
    while not taken.all() and (length := 0.5 * length) > SHORTEST_STEP:
        left = ~taken
        some, again = of_many(network, left), some_of(state, left)
        shorter = state_of(some, again.branch + length * step[left], again.total, None)
        lower = np.asarray(shorter.norm) <= (1.0 - ENOUGH * length) * before[left]
        tried = _put(tried, left, _chosen(lower, shorter, again))
        taken = taken.copy()
        taken[left] = lower
    ended = (np.asarray(tried.energy) < ROUNDING) & (np.asarray(tried.norm) > 0.9 * before)
    return tried, taken & busy, (ended | ~taken) & busy


_STATE: Final = (
    "branch", "total", "flow", "element_drop", "drop", "slope", "gap", "array_drop", "norm",
    "energy",
)  # fmt: skip


def some_of(state: State, which: Which) -> State:
    """Some of many arrays' states."""
    parts: dict[str, Any] = {name: getattr(state, name)[which] for name in _STATE}
    within = tuple((gap[which], drop[which]) for gap, drop in state.within)
    return replace(state, within=within, **parts)


def _chosen(which: Which, one: State, other: State) -> State:
    """Of each array the one state where chosen, the other elsewhere."""
    return _put(other, which, some_of(one, which))


def _put(state: State, which: Which, some: State) -> State:
    """A state with some of its arrays replaced."""

    def withsome_of(values: Array, new: Array) -> Array:
        values = values.copy()
        values[which] = new
        return values

    parts: dict[str, Any] = {
        name: withsome_of(getattr(state, name), getattr(some, name)) for name in _STATE
    }
    within = tuple(
        (withsome_of(gap, new_gap), withsome_of(drop, new_drop))
        for (gap, drop), (new_gap, new_drop) in zip(state.within, some.within, strict=True)
    )
    return replace(state, within=within, **parts)


def _gathered(network: Network, found: list[tuple[Index, State, Index]], arrays: int) -> Solutions:
    """Results in the order in which they were asked."""
    order = np.argsort(np.concatenate([at for at, _, _ in found]))

    def every(name: str) -> Array:
        parts: list[Array] = [getattr(state, name) for _, state, _ in found]
        return parts[0] if len(parts) == 1 else np.concatenate(parts)[order]

    branch, total = every("branch"), every("total")
    mass = np.zeros(arrays)
    for level in network.levels:
        into = np.add.reduceat(branch[:, level.lo : level.hi], level.starts, axis=1)
        due = branch[:, level.parents] if level.parents.size else total[:, None]
        mass = np.maximum(mass, np.abs(into - due).max(axis=1))
    drop = every("drop")
    energy = every("energy")
    steps = np.concatenate([steps for _, _, steps in found])[order]
    for residual, taken in zip(energy.tolist(), steps.tolist(), strict=True):
        refuse_imbalance(residual, taken)
    return Solutions(
        total=total,
        flow=every("flow"),
        element_drop=every("element_drop"),
        carrier_drop=drop,
        array_drop=every("array_drop"),
        run_drop=drop[:, 3 * network.rows],
        mass_residual=mass / np.where(total > 0.0, total, 1.0),
        energy_residual=energy,
        worst_row=np.abs(every("gap")).argmax(axis=1),
        iterations=steps,
    )


# ------------------------------------------------------------------------- one array at many flows


def pressures_at(network: Network, totals: Array, near: Solution) -> tuple[Array, Array]:
    """Pressure that array and plant take at several flows, and how those divide.

    Parameters
    ----------
    network
        The assembled array.
    totals
        Mass flows [kg/s], more than 0.
    near
        A solution to start from, its flow more than 0.

    Returns
    -------
    pressure, loop_flow
        Pressure at each flow [Pa] and mass flow of every loop at it [kg/s], a row each.

    Notes
    -----
    All flows are solved at once: for small arrays most of the time is the cost of calling, not of
    computing. Large arrays are solved one by one, each flow from its neighbour's.
    """
    if network.rows * totals.size > _ROWS_TOGETHER:
        order = np.argsort(np.abs(totals - near.total))
        found = solve_at(network, totals[order].tolist(), near)
        pressure, loop_flow = np.empty(totals.size), np.empty((totals.size, len(network.loops)))
        pressure[order] = [s.array_drop + s.run_drop + s.exchanger_drop for s in found]
        loop_flow[order] = [s.flow[network.loop_rows] for s in found]
        return pressure, loop_flow
    start = np.multiply.outer(totals / near.total, near.flow[: network.rows])
    many = solve_many(network, totals, start=start)
    pressure = many.array_drop + many.run_drop
    if (exchanger := network.exchanger) is not None:
        volumes = totals / network.fluids[IN_LOOP].density
        pressure += [exchanger.drop(volume)[0] for volume in volumes.tolist()]
    return pressure, many.flow[:, network.loop_rows]
