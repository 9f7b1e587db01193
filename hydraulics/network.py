"""What flows in every pipe of an array? The solution of its network.

**Unknowns.** Every circuit is a ladder: a flow header, rungs (its branches), a return header. With
S_r the flow through its first r branches, branch r carries S_r - S_{r-1}, the flow header behind
branch r carries Q - S_r, and the return header carries S_r (reverse return) or Q - S_r (direct
return). Mass is conserved whatever the S are; only pressure is left to balance, one equation for
each pair of neighbours.

**Why it always converges.** Those equations are the gradient of the array's content (the sum over
pipes of ∫Δp dQ), which is strictly convex since every pipe's law is strictly increasing. Its
Hessian is positive definite with a bound from below (each loop's laminar slope), so Newton's
method with a step that is halved until the residual falls reaches the one solution from any start.

**Why it is fast.** Within a circuit a rung touches only its neighbours: the Hessian is tridiagonal.
A nested circuit enters its branch as one more series resistance with a known slope (its Schur
complement). All circuits of one depth are solved in one LAPACK call, so the cost of a step is
linear in the number of loops for every arrangement and nesting.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from hydraulics.assembly import IN_LOOP, Level, Network, side_by_side
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.friction import friction_number
from hydraulics.friction_table import REYNOLDS_FLOOR, friction_per_reynolds

Array = NDArray[np.float64]

ENERGY_TOLERANCE: Final = 1e-10  # of the array's drop; Newton's last step lands far below
ENERGY_LIMIT: Final = 1e-6  # of the array's drop; what a solution must meet
_ITERATIONS: Final = 200
_ROWS_TOGETHER: Final = 4000  # beyond, copies solved together are slower than one by one


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


def _element_drops(network: Network, flow: Array) -> tuple[Array, Array]:
    """Pressure drop of each element [Pa] and its slope [Pa s/kg]."""
    through = flow.take(network.owner)
    reynolds = np.abs(through)
    reynolds *= network.reynolds_per_flow
    if network.bank is not None:
        per_reynolds, slope = friction_per_reynolds(reynolds, network.bank, network.first_row)
    else:
        floor = np.maximum(reynolds, REYNOLDS_FLOOR)
        number, rate = friction_number(floor, network.relative_roughness, network.curvature)
        per_reynolds = number / floor
        slope = floor * rate / number
    per_reynolds *= network.laminar
    slope *= per_reynolds
    through *= per_reynolds
    return through, slope


@dataclass(frozen=True, slots=True)
class _State:
    """One iterate: flows, drops, slopes and how far pressures are from balance.

    ``gap`` holds, at row r, the pressure drop by way of branch r less that by way of branch r+1.
    """

    branch: Array
    total: float | Array
    flow: Array
    element_drop: Array
    drop: Array
    slope: Array
    gap: Array
    array_drop: Array
    outer: float
    outer_slope: float

    @property
    def norm(self) -> float:
        # Not gap @ gap: threaded BLAS is slower than a plain sum when cores are shared.
        return math.sqrt(float((self.gap * self.gap).sum()) + self.outer**2)

    @property
    def energy(self) -> float:
        """Bound on the disagreement between any two paths, over the array's drop."""
        worst = float(np.abs(self.gap).sum()) + abs(self.outer)
        if worst == 0.0:
            return 0.0
        least = float(np.abs(self.array_drop).min())
        return worst / least if least else math.inf


Outer = Callable[[float], tuple[float, float]]
"""Of a total flow: the pressure that the rest of the ring takes less what drives it; its slope."""


def _sums(owner: NDArray[np.intp], values: Array, size: int) -> Array:
    return cast(Array, np.bincount(owner, values, size))


def _expand(network: Network, branch: Array, total: float | Array) -> Array:
    """Flow of every carrier from that of the branches."""
    rows = network.rows
    flow = np.zeros(3 * rows + network.copies)
    flow[:rows] = branch
    flow[3 * rows :] = total
    for level in network.levels:
        if not level.headers:
            continue
        own = branch[level.lo : level.hi]
        passed = running_sums(own, level)
        flow[2 * rows + level.lo : 2 * rows + level.hi] = passed
        onward = flow[rows + level.lo : rows + level.hi]
        np.subtract(_spread(passed[level.ends], level), passed, out=onward)
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
    sums: Array = values.cumsum()
    if level.starts.size > 1:
        sums -= np.repeat(sums[level.starts] - values[level.starts], level.counts)
    return sums


def _spread(of_circuit: Array, level: Level) -> Array | np.float64:
    """A value of each circuit at every row; a single circuit's as a scalar, which is quicker."""
    if of_circuit.size == 1:
        return cast(np.float64, of_circuit[0])
    return np.repeat(of_circuit, level.counts)


def _state(network: Network, branch: Array, total: float | Array, outer: Outer | None) -> _State:
    """Drops and residuals at given flows."""
    rows = network.rows
    flow = _expand(network, branch, total)
    element_drop, element_slope = _element_drops(network, flow)
    drop = _sums(network.owner, element_drop, flow.size)
    slope = _sums(network.owner, element_slope, flow.size)
    loss = np.abs(flow)
    loss *= network.square
    slope += 2.0 * loss + network.linear
    loss += network.linear
    drop += loss * flow

    rung = drop[:rows].copy()  # a branch with all that hangs on it
    gap = np.zeros(rows)
    array_drop = np.zeros(0)
    for level in reversed(network.levels):
        lo, hi = level.lo, level.hi
        own, here = rung[lo:hi], gap[lo:hi]
        np.subtract(own[:-1], own[1:], out=here[:-1])
        # A circuit's own drop, by way of its last branch.
        circuit_drop = own[level.ends]
        if level.headers:
            onward, back = drop[rows + lo : rows + hi], drop[2 * rows + lo : 2 * rows + hi]
            here[:-1] += back[:-1] - onward[1:]
            circuit_drop += np.add.reduceat(onward, level.starts) + back[level.ends]
        here[level.last] = 0.0
        if level.parents.size:
            rung[level.parents] += circuit_drop
        else:
            array_drop = circuit_drop
    outside, outside_slope = outer(float(total)) if outer is not None else (0.0, 0.0)
    if outer is not None:
        outside += float(array_drop[0] + drop[3 * rows])
        outside_slope += float(slope[3 * rows])
    return _State(
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
    )


@dataclass(frozen=True, slots=True)
class _Linear:
    """An array linearised at one iterate: everything as a function of the step of the total flow.

    ``shifts[k] + spreads[k] · step`` is the step of the running sums of flow on level k, ``step``
    being that of the flow entering each circuit. The array's drop changes by
    ``drop_shift + drop_slope · step``.
    """

    shifts: list[Array]
    spreads: list[Array]
    drop_shift: float
    drop_slope: float


def _linearise(network: Network, state: _State) -> _Linear:
    """Eliminate every circuit, innermost first, into one series resistance for its branch."""
    rows = network.rows
    slope = state.slope
    rung = slope[:rows].copy()
    gap = state.gap.copy()
    shifts: list[Array] = []
    spreads: list[Array] = []
    drop_shift = drop_slope = 0.0
    for depth in reversed(range(len(network.levels))):
        level = network.levels[depth]
        lo, hi, ends, last = level.lo, level.hi, level.ends, level.last
        own = rung[lo:hi]
        diagonal = np.ones(hi - lo)
        diagonal[:-1] = own[:-1] + own[1:]
        coupling = np.zeros(hi - lo)  # d(gap)/d(entering flow)
        circuit_slope = own[ends]
        if level.headers:
            onward, back = slope[rows + lo : rows + hi], slope[2 * rows + lo : 2 * rows + hi]
            diagonal[:-1] += onward[1:] + back[:-1]
            np.negative(onward[1:], out=coupling[:-1])
            circuit_slope += np.add.reduceat(onward, level.starts) + back[ends]
        # Rows that end a circuit have no equation of their own: step 0, nothing coupled.
        before_last = ends[level.counts > 1] - 1
        coupling[before_last] -= own[before_last + 1]
        coupling[last] = 0.0
        diagonal[last] = 1.0
        beside = -own[1:]
        beside[last[:-1]] = 0.0
        beside[last[1:]] = 0.0
        right = np.empty((hi - lo, 2), order="F")
        np.negative(gap[lo:hi], out=right[:, 0])
        np.negative(coupling, out=right[:, 1])
        if hi - lo > 1:
            _, _, right, info = lapack.dptsv(diagonal, beside, right, 1, 1, 1)
            if info != 0:
                raise NoSolutionError(
                    Fault("array", "pipes differ too much for double precision to solve", None)
                )
        shifts.append(right[:, 0])
        spreads.append(right[:, 1])
        shift = np.add.reduceat(coupling * right[:, 0], level.starts)
        circuit_slope += np.add.reduceat(coupling * right[:, 1], level.starts)
        if level.parents.size:
            rung[level.parents] += circuit_slope
            # The branch's drop moves by `shift` too, which its row and the one before see.
            above = network.levels[depth - 1]
            moved = np.zeros(above.hi - above.lo)
            moved[level.parents - above.lo] = shift
            moved[:-1] -= moved[1:]
            moved[above.last] = 0.0
            gap[above.lo : above.hi] += moved
        else:
            drop_shift, drop_slope = float(shift[0]), float(circuit_slope[0])
    shifts.reverse()
    spreads.reverse()
    return _Linear(shifts, spreads, drop_shift, drop_slope)


def _branch_step(network: Network, total_step: float, linear: _Linear) -> Array:
    """Steps of the branch flows, outermost circuit first, from the step of the total flow."""
    step = np.empty(network.rows)
    for number, level in enumerate(network.levels):
        entering: Array | float = (
            np.repeat(step[level.parents], level.counts) if level.parents.size else total_step
        )
        passed = linear.spreads[number] * entering
        passed += linear.shifts[number]
        # The last branch takes what the others leave.
        passed[level.last] = entering[level.last] if isinstance(entering, np.ndarray) else entering
        here = step[level.lo : level.hi]
        here[:] = passed
        here[1:] -= passed[:-1]
        if level.starts.size > 1:
            here[level.starts] = passed[level.starts]
    return step


def first_guess(network: Network, total: float) -> Array:
    """Flows to start from: each branch in proportion to the ease of its loops' pipes.

    Parameters
    ----------
    network
        The assembled array.
    total
        Mass flow [kg/s].

    Returns
    -------
    Array
        Mass flow of each branch [kg/s].
    """
    rows = network.rows
    # Smooth turbulent pipe: Δp ~ L Q^1.75 / d^4.75 (Blasius).
    resistance = _sums(
        network.owner, network.length * network.bore**-4.75 * network.parallel**-1.75, 3 * rows + 1
    )[:rows]
    ease = np.maximum(resistance, 1e-300) ** (-1.0 / 1.75)
    for level in reversed(network.levels):
        if level.parents.size:
            ease[level.parents] = np.add.reduceat(ease[level.lo : level.hi], level.starts)
    flow = np.empty(rows)
    for level in network.levels:
        part = ease[level.lo : level.hi]
        whole = np.add.reduceat(part, level.starts)
        entering = flow[level.parents] if level.parents.size else np.asarray([total])
        flow[level.lo : level.hi] = part * np.repeat(entering / whole, level.counts)
    return flow


def solve(
    network: Network,
    total: float,
    *,
    start: Array | None = None,
    outer: Outer | None = None,
    tolerance: float = ENERGY_TOLERANCE,
) -> Solution:
    """Find the flow in every branch.

    Parameters
    ----------
    network
        The assembled array.
    total
        Mass flow of the array [kg/s], 0 or more; with ``outer`` the flow to start from.
    start
        Branch flows to start from [kg/s]; None: :func:`first_guess`.
    outer
        What closes the ring, where the total flow is to be found: pressure that everything but
        array and plant runs takes, less what the pump gives, and its slope, which must not be
        negative. None: the total is as given.
    tolerance
        Disagreement between paths, over the array's drop, at which to stop.

    Returns
    -------
    Solution
        Flows and drops.

    Raises
    ------
    NoSolutionError
        The residual stayed above the limit, which strictly increasing laws rule out save for
        numbers beyond double precision.
    """
    first = first_guess(network, total) if start is None else start
    state, iterations = _balance(network, _state(network, first, total, outer), outer, tolerance)
    _refuse_imbalance(state, iterations)
    return _solution(network, state, iterations)


def _balance(
    network: Network, state: _State, outer: Outer | None, tolerance: float
) -> tuple[_State, int]:
    """Take Newton's steps until pressures agree; the last state and the number of steps."""
    iterations = 0
    while state.energy > tolerance and iterations < _ITERATIONS:
        linear = _linearise(network, state)
        total_step = 0.0
        if outer is not None:
            total_step = -(state.outer + linear.drop_shift) / (
                linear.drop_slope + state.outer_slope
            )
        step = _branch_step(network, total_step, linear)
        lower = _descend(network, state, step, total_step, outer)
        if lower is None:  # double precision has no smaller residual
            break
        state = lower
        iterations += 1
    return state, iterations


def _descend(
    network: Network, state: _State, step: Array, total_step: float, outer: Outer | None
) -> _State | None:
    """The first of the steps 1, 1/2, 1/4 … that lowers the residual enough (Armijo's rule)."""
    length = 1.0
    while length > 1e-12:
        tried = _state(
            network, state.branch + length * step, state.total + length * total_step, outer
        )
        if tried.norm <= (1.0 - 1e-4 * length) * state.norm:
            return tried
        length *= 0.5
    return None


def _refuse_imbalance(state: _State, iterations: int) -> None:
    if not state.energy <= ENERGY_LIMIT:
        raise NoSolutionError(
            Fault(
                "array",
                f"no balance of pressures was reached (residual {state.energy:.1e} of the array's "
                f"drop after {iterations} steps); pipes differ too much for double precision",
                None,
                f"a residual of {ENERGY_LIMIT:g} or less",
            )
        )


def _solution(network: Network, state: _State, iterations: int) -> Solution:
    """Gather the results."""
    total = float(state.total)
    mass = 0.0
    for level in network.levels:
        into = np.add.reduceat(state.branch[level.lo : level.hi], level.starts)
        due = state.branch[level.parents] if level.parents.size else total
        mass = max(mass, float(np.abs(into - due).max()))
    exchanger_drop = 0.0
    if network.exchanger is not None:
        exchanger_drop, _ = network.exchanger.drop(total / network.fluids[IN_LOOP].density)
    runs = 3 * network.rows
    return Solution(
        total=total,
        flow=state.flow,
        element_drop=state.element_drop,
        carrier_drop=state.drop,
        array_drop=float(state.array_drop[0]),
        run_drop=float(state.drop[runs]),
        exchanger_drop=exchanger_drop,
        mass_residual=mass / total if total else mass,
        energy_residual=state.energy,
        worst_row=int(np.abs(state.gap).argmax()),
        iterations=iterations,
    )


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


def branch_flows(network: Network, loop_flow: Array) -> Array:
    """Flow of every branch, nested circuits included, from the flows of the loops.

    Parameters
    ----------
    network
        The assembled array.
    loop_flow
        Mass flow of each loop [kg/s].

    Returns
    -------
    Array
        Mass flow of each branch [kg/s].
    """
    flow = np.zeros(network.rows)
    flow[network.loop_rows] = loop_flow
    for level in reversed(network.levels):
        if level.parents.size:
            flow[level.parents] = np.add.reduceat(flow[level.lo : level.hi], level.starts)
    return flow


def drops_at(network: Network, branch: Array, total: float) -> Drops:
    """Pressure drops where every branch is given its flow, whether or not they balance.

    Parameters
    ----------
    network
        The assembled array.
    branch
        Mass flow of each branch [kg/s].
    total
        Mass flow of the array [kg/s].

    Returns
    -------
    Drops
        Signed with the flows.
    """
    state = _state(network, branch, total, None)
    return Drops(state.flow, state.element_drop, state.drop)


def header_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop between the array's connections and each branch's own ports [Pa].

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its solution, or its drops at other flows.

    Returns
    -------
    Array
        Of each row: headers of every circuit on the way; runs of this branch and of those above,
        with their fittings; ports and valves of the branches above.
    """
    rows = network.rows
    runs = pipe_drops(network, drops, network.side != IN_LOOP)[:rows]
    flow = drops.flow[:rows]
    square = (network.square - network.loop_square)[:rows]
    linear = (network.linear - network.loop_linear)[:rows]
    runs += (square * np.abs(flow) + linear) * flow
    path = np.zeros(rows)
    for level in network.levels:
        here = runs[level.lo : level.hi].copy()
        if level.headers:
            onward = drops.carrier_drop[rows + level.lo : rows + level.hi]
            back = drops.carrier_drop[2 * rows + level.lo : 2 * rows + level.hi]
            here += running_sums(onward, level)
            here += running_sums(back[::-1], _mirrored(level))[::-1]
        if level.parents.size:
            port = port_drops(network, drops)[level.parents]
            here += np.repeat(path[level.parents] + port, level.counts)
        path[level.lo : level.hi] = here
    return path


def pipe_drops(
    network: Network, drops: Drops | Solution, which: NDArray[np.bool_] | None = None
) -> Array:
    """Pressure drop of the pipes of each carrier [Pa], fittings left out.

    Parameters
    ----------
    network
        The assembled array.
    drops
        Its solution, or its drops at other flows.
    which
        True for the elements to count; None: those of the loops.

    Returns
    -------
    Array
        Of each carrier; branches come first.
    """
    counted = network.side == IN_LOOP if which is None else which
    return _sums(network.owner, np.where(counted, drops.element_drop, 0.0), drops.flow.size)


def loop_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop of each loop with its fittings and port, headers and runs left out [Pa]."""
    rows = network.loop_rows
    result: Array = pipe_drops(network, drops)[rows] + port_drops(network, drops)[rows]
    return result


def port_drops(network: Network, drops: Drops | Solution) -> Array:
    """Pressure drop of each branch's own fittings, of the loop and of its port [Pa]."""
    flow = drops.flow[: network.rows]
    square, linear = network.loop_square[: network.rows], network.loop_linear[: network.rows]
    result: Array = (square * np.abs(flow) + linear) * flow
    return result


def _mirrored(level: Level) -> Level:
    """The same level counted from its end."""
    size = level.hi - level.lo
    return replace(
        level,
        starts=(size - 1 - level.ends)[::-1],
        ends=(size - 1 - level.starts)[::-1],
        counts=level.counts[::-1],
    )


def pressures_at(network: Network, totals: Array, near: Solution) -> Array:
    """Pressure that array and plant take at several flows.

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
    Array
        Pressure at each flow [Pa], to 1e-7.

    Notes
    -----
    All flows are solved at once, as that many copies of the array side by side: for small arrays
    most of the time is the cost of calling, not of computing. Large arrays are solved one by one,
    since copies would no longer fit the processor's cache.
    """
    density = network.fluids[IN_LOOP].density
    if network.rows * totals.size > _ROWS_TOGETHER:
        order = np.argsort(np.abs(totals - near.total))
        found = solve_at(network, totals[order].tolist(), near)
        pressure = np.empty(totals.size)
        pressure[order] = [s.array_drop + s.run_drop + s.exchanger_drop for s in found]
        return pressure
    copies = side_by_side(network, totals.size)
    rows = network.rows
    scaled = np.multiply.outer(totals / near.total, near.flow[:rows])
    start = np.concatenate([scaled[:, level.lo : level.hi].ravel() for level in network.levels])
    state, iterations = _balance(copies, _state(copies, start, totals, None), None, 1e-7)
    _refuse_imbalance(state, iterations)
    pressure = state.array_drop + state.drop[3 * copies.rows :]
    if network.exchanger is not None:
        pressure += [network.exchanger.drop(total / density)[0] for total in totals.tolist()]
    return pressure


def solve_at(network: Network, totals: Sequence[float], near: Solution) -> list[Solution]:
    """Solve one array at several flows, each started from its neighbour; pressures to 1e-7.

    Parameters
    ----------
    network
        The assembled array.
    totals
        Mass flows [kg/s].
    near
        A solution to start from.

    Returns
    -------
    list of Solution
        In the order of ``totals``.
    """
    rows = network.rows
    found: list[Solution] = []
    before: Solution | None = None
    for total in totals:
        start = None
        if before is not None and before.total != near.total:
            # On the chord through the last two solutions, pressures are nearly balanced already.
            share = (total - near.total) / (near.total - before.total)
            start = near.flow[:rows] + share * (near.flow[:rows] - before.flow[:rows])
        elif near.total > 0.0:
            start = near.flow[:rows] * (total / near.total)
        before, near = near, solve(network, total, start=start, tolerance=1e-7)
        found.append(near)
    return found
