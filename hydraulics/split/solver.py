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
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.state import Array, Outer, Solution, State, state_of, sums

ENERGY_TOLERANCE: Final = 1e-10  # of the array's drop; Newton's last step lands far below
ENERGY_LIMIT: Final = 1e-6  # of the array's drop; what a solution must meet
ROUNDING: Final = 1e-8  # of the array's drop; where rounding can end the descent before the above
ITERATIONS: Final = 200
SHORTEST_STEP: Final = 1e-12  # of Newton's
ENOUGH: Final = 1e-4  # of the residual, over the length of the step, that a step must lower it


@dataclass(frozen=True, slots=True)
class Linear:
    """An array linearised at one iterate: everything as a function of the step of the total flow.

    ``shifts[k] + spreads[k] · step`` is the step of the running sums of flow on level k, ``step``
    being that of the flow entering each circuit. The array's drop changes by
    ``drop_shift + drop_slope · step``.
    """

    shifts: list[Array]
    spreads: list[Array]
    drop_shift: Array
    drop_slope: Array


def linearise(network: Network, state: State) -> Linear:
    """Eliminate every circuit, innermost first, into one series resistance for its branch."""
    rows = network.rows
    slope = state.slope
    rung = slope[..., :rows].copy()
    gap = state.gap.copy()
    shifts: list[Array] = []
    spreads: list[Array] = []
    shift = circuit_slope = rung
    for depth in reversed(range(len(network.levels))):
        level = network.levels[depth]
        lo, hi, ends, last = level.lo, level.hi, level.ends, level.last
        own = rung[..., lo:hi]
        diagonal = np.ones(own.shape)
        diagonal[..., :-1] = own[..., :-1] + own[..., 1:]
        coupling = np.zeros(own.shape)  # d(gap)/d(entering flow)
        circuit_slope = own[..., ends]
        if level.headers:
            onward = slope[..., rows + lo : rows + hi]
            back = slope[..., 2 * rows + lo : 2 * rows + hi]
            diagonal[..., :-1] += onward[..., 1:] + back[..., :-1]
            np.negative(onward[..., 1:], out=coupling[..., :-1])
            circuit_slope += np.add.reduceat(onward, level.starts, axis=-1) + back[..., ends]
        # Rows that end a circuit have no equation of their own: step 0, nothing coupled.
        before_last = ends[level.counts > 1] - 1
        coupling[..., before_last] -= own[..., before_last + 1]
        coupling[..., last] = 0.0
        diagonal[..., last] = 1.0
        beside = np.zeros(own.shape)
        np.negative(own[..., 1:], out=beside[..., :-1])
        beside[..., last] = 0.0
        beside[..., before_last] = 0.0
        right = np.empty((2, *own.shape))
        np.negative(gap[..., lo:hi], out=right[0])
        np.negative(coupling, out=right[1])
        if hi - lo > 1:
            right = _solved(diagonal, beside, right)
        shifts.append(right[0])
        spreads.append(right[1])
        shift = np.add.reduceat(coupling * right[0], level.starts, axis=-1)
        circuit_slope += np.add.reduceat(coupling * right[1], level.starts, axis=-1)
        if level.parents.size:
            rung[..., level.parents] += circuit_slope
            # The branch's drop moves by `shift` too, which its row and the one before see.
            above = network.levels[depth - 1]
            moved = np.zeros((*own.shape[:-1], above.hi - above.lo))
            moved[..., level.parents - above.lo] = shift
            moved[..., :-1] -= moved[..., 1:]
            moved[..., above.last] = 0.0
            gap[..., above.lo : above.hi] += moved
    shifts.reverse()
    spreads.reverse()
    return Linear(shifts, spreads, shift[..., 0], circuit_slope[..., 0])


def _solved(diagonal: Array, beside: Array, right: Array) -> Array:
    """Solutions of a tridiagonal system for two right-hand sides; all are overwritten."""
    _, _, solved, info = lapack.dptsv(
        diagonal.ravel(), beside.ravel()[:-1], right.reshape(2, -1).T, 1, 1, 1
    )
    if info != 0:
        raise NoSolutionError(
            Fault("array", "pipes differ too much for double precision to solve", None)
        )
    found: Array = solved.T.reshape(right.shape)
    return found


def branch_step(network: Network, total_step: float, linear: Linear) -> Array:
    """Steps of the branch flows, outermost circuit first, from the step of the total flow."""
    step = np.empty((*linear.shifts[0].shape[:-1], network.rows))
    for number, level in enumerate(network.levels):
        here = step[..., level.lo : level.hi]
        # The last branch takes what the others leave.
        if level.parents.size:
            entering = np.repeat(step[..., level.parents], level.counts, axis=-1)
            passed = linear.spreads[number] * entering
            passed += linear.shifts[number]
            passed[..., level.last] = entering[..., level.last]
        else:
            passed = linear.spreads[number] * total_step
            passed += linear.shifts[number]
            passed[..., level.last] = total_step
        here[...] = passed
        here[..., 1:] -= passed[..., :-1]
        if level.starts.size > 1:
            here[..., level.starts] = passed[..., level.starts]
    return step


def first_guess(network: Network, total: float | Array) -> Array:
    """Flows to start from: each branch in proportion to the ease of its loops' pipes.

    Parameters
    ----------
    network
        The assembled array.
    total
        Mass flow [kg/s]; of many arrays, of each.

    Returns
    -------
    Array
        Mass flow of each branch [kg/s].
    """
    rows = network.rows
    # Smooth turbulent pipe: Δp ~ L Q^1.75 / d^4.75 (Blasius).
    resistance = sums(
        network.owner, network.length * network.bore**-4.75 * network.parallel**-1.75, 3 * rows + 1
    )[..., :rows]
    ease = np.maximum(resistance, 1e-300) ** (-1.0 / 1.75)
    for level in reversed(network.levels):
        if level.parents.size:
            below = ease[..., level.lo : level.hi]
            ease[..., level.parents] = np.add.reduceat(below, level.starts, axis=-1)
    share = np.empty_like(ease)
    for level in network.levels:
        part = ease[..., level.lo : level.hi]
        whole = np.add.reduceat(part, level.starts, axis=-1)
        entering = share[..., level.parents] if level.parents.size else 1.0
        share[..., level.lo : level.hi] = part * np.repeat(entering / whole, level.counts, axis=-1)
    return share * (total if isinstance(total, float) else np.asarray(total)[..., None])


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
    refuse_imbalance(float(state.energy), iterations)
    return _solution(network, state, iterations)


def _balance(
    network: Network, state: State, outer: Outer | None, tolerance: float
) -> tuple[State, int]:
    """Take Newton's steps until pressures agree; the last state and the number of steps."""
    iterations = 0
    while float(state.unbalanced) > tolerance and iterations < ITERATIONS:
        linear = linearise(network, state)
        total_step = 0.0
        if outer is not None:
            total_step = -(state.outer + float(linear.drop_shift)) / (
                float(linear.drop_slope) + state.outer_slope
            )
        step = branch_step(network, total_step, linear)
        lower = _descend(network, state, step, total_step, outer)
        if lower is None:  # double precision has no smaller residual
            break
        # So near, a step squares the residual; one that hardly lowers it moves rounding about.
        rounding = float(lower.energy) < ROUNDING and float(lower.norm) > 0.9 * float(state.norm)
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
    while length > SHORTEST_STEP:
        tried = state_of(
            network, state.branch + length * step, state.total + length * total_step, outer
        )
        if float(tried.norm) <= (1.0 - ENOUGH * length) * float(state.norm):
            return tried
        length *= 0.5
    return None


def refuse_imbalance(energy: float, iterations: int) -> None:
    """Refuse pressures that disagree by more than the limit, over the array's drop."""
    if not energy <= ENERGY_LIMIT:
        raise NoSolutionError(
            Fault(
                "array",
                f"no balance of pressures was reached (residual {energy:.1e} of the array's "
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
        array_drop=float(state.array_drop),
        run_drop=float(state.drop[runs]),
        exchanger_drop=exchanger_drop,
        mass_residual=mass / total if total else mass,
        energy_residual=float(state.energy),
        worst_row=int(np.abs(state.gap).argmax()),
        iterations=iterations,
    )


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
