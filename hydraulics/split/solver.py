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

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.linalg import lapack

from hydraulics.errors import Fault, NoSolutionError
from hydraulics.split.assembly import IN_LOOP, Network, side_by_side
from hydraulics.split.state import Array, Outer, Solution, State, state_of, sums

ENERGY_TOLERANCE: Final = 1e-10  # of the array's drop; Newton's last step lands far below
ENERGY_LIMIT: Final = 1e-6  # of the array's drop; what a solution must meet
_ROUNDING: Final = 1e-8  # of the array's drop; where rounding can end the descent before the above
_ITERATIONS: Final = 200
_ROWS_TOGETHER: Final = 4000  # beyond, copies solved together are slower than one by one


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


def _linearise(network: Network, state: State) -> _Linear:
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
    resistance = sums(
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
        Disagreement between paths, over the array's drop and in every nested circuit over its own,
        at which to stop.

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
    state, iterations = _balance(network, state_of(network, first, total, outer), outer, tolerance)
    _refuse_imbalance(state, iterations)
    return _solution(network, state, iterations)


def _balance(
    network: Network, state: State, outer: Outer | None, tolerance: float
) -> tuple[State, int]:
    """Take Newton's steps until pressures agree; the last state and the number of steps."""
    iterations = 0
    while state.unbalanced > tolerance and iterations < _ITERATIONS:
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
        # So near, a step squares the residual; one that hardly lowers it moves rounding about.
        rounding = lower.energy < _ROUNDING and lower.norm > 0.9 * state.norm
        state = lower
        iterations += 1
        if rounding:
            break
    return state, iterations


def _descend(
    network: Network, state: State, step: Array, total_step: float, outer: Outer | None
) -> State | None:
    """The first of the steps 1, 1/2, 1/4 … that lowers the residual enough (Armijo's rule)."""
    length = 1.0
    while length > 1e-12:
        tried = state_of(
            network, state.branch + length * step, state.total + length * total_step, outer
        )
        if tried.norm <= (1.0 - 1e-4 * length) * state.norm:
            return tried
        length *= 0.5
    return None


def _refuse_imbalance(state: State, iterations: int) -> None:
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


def _solution(network: Network, state: State, iterations: int) -> Solution:
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
        Pressure at each flow [Pa], to 1e-7, and mass flow of every loop at it [kg/s], a row each.

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
        pressure, loop_flow = np.empty(totals.size), np.empty((totals.size, len(network.loops)))
        pressure[order] = [s.array_drop + s.run_drop + s.exchanger_drop for s in found]
        loop_flow[order] = [s.flow[network.loop_rows] for s in found]
        return pressure, loop_flow
    copies = side_by_side(network, totals.size)
    rows = network.rows
    scaled = np.multiply.outer(totals / near.total, near.flow[:rows])
    start = np.concatenate([scaled[:, level.lo : level.hi].ravel() for level in network.levels])
    state, iterations = _balance(copies, state_of(copies, start, totals, None), None, 1e-7)
    _refuse_imbalance(state, iterations)
    pressure = state.array_drop + state.drop[3 * copies.rows :]
    if network.exchanger is not None:
        pressure += [network.exchanger.drop(total / density)[0] for total in totals.tolist()]
    flow = np.empty((totals.size, rows))
    for one, all_of in zip(network.levels, copies.levels, strict=True):
        flow[:, one.lo : one.hi] = state.flow[all_of.lo : all_of.hi].reshape(totals.size, -1)
    return pressure, flow[:, network.loop_rows]


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
