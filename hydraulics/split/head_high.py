"""How much more might the pump have to give, where friction or viscosity are not well known?

Two things are told as a higher head. In transition the law runs through the middle of measured
points; flow that a fitting, a bead or a bend has disturbed is turbulent already. And published
viscosities of a mixture differ. Both are first taken at the flows of the solution: a pipe that
drops more by d adds d times its share of the flow to the head, which is exact where all loops are
alike and to first order elsewhere (Tellegen's theorem). Where turbulence adds a word's worth, or
the brine differs much, the flows are found anew: the shortest of unlike loops, once turbulent,
hands its flow to the others (of 120, 180 and 240 m: a quarter less than to first order). A
viscosity that stays to first order is told up to two thirds of what it differs by too low (two
unlike loops about transition, 4 % more viscous: 2.7 % low). Errors of coil correlations are not
in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from hydraulics.findings import REGIME_SOURCE, Finding, apart, listed
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Fluid, Mixture
from hydraulics.pipework.friction import (
    LAMINAR_LIMIT,
    TURBULENT_LIMIT,
)
from hydraulics.pipework.friction_table import UPPER, friction_per_reynolds
from hydraulics.split.assembly import FROM_GROUND, IN_LOOP, Network, as_viscous
from hydraulics.split.many import of_many, repeated, stacked
from hydraulics.split.state import Solution
from hydraulics.split.turbulent import turbulent_pressures

Array = NDArray[np.float64]

WORTH_A_WORD: Final = 0.01  # of the head, by which it rises if turbulent; this project's own
_VISCOSITY_WORTH: Final = 0.095  # of the viscosity, rounded up 10 %; this project's own
_SOLVED_ANEW: Final = 0.045  # more viscous than that: told to first order, it may be 3 % low
TRANSITION_SOURCE: Final = REGIME_SOURCE + "; turbulent: Colebrook 1939, Mishra & Gupta 1979"


@dataclass(frozen=True, slots=True)
class HeadHigh:
    """The duty's pressure at the upper edge of what is known.

    Attributes
    ----------
    pressure
        Highest of all that follow and of the duty's own [Pa].
    turbulent
        Where every pipe in transition is turbulent [Pa].
    viscous
        Where the brine is as viscous as the most viscous publication has it [Pa].
    transitional
        For each pipe of the network, whether it is in transition.
    """

    pressure: float
    turbulent: float
    viscous: float
    transitional: NDArray[np.bool_]


def is_transitional(reynolds: Array, critical: Array) -> NDArray[np.bool_]:
    """Whether a pipe is in transition; a coil's is given the same width as straight pipe's.

    `critical` is where each pipe's flow stops being laminar, as a network has it.
    """
    within: NDArray[np.bool_] = reynolds > critical
    within &= reynolds < critical + (TURBULENT_LIMIT - LAMINAR_LIMIT)
    return within


def head_high(network: Network, solution: Solution) -> HeadHigh:
    """The duty's pressure where friction in transition, viscosity or both are higher.

    Parameters
    ----------
    network, solution
        The array and its solution.
    """
    if not solution.total:
        pressure = _pressure(solution)
        none = np.zeros(network.owner.size, dtype=np.bool_)
        return HeadHigh(pressure, pressure, pressure, none)
    return _highs(network, [network.fluids], [solution])[0]


def heads_high(networks: Sequence[Network], solutions: Sequence[Solution]) -> list[HeadHigh]:
    """The same of several arrays that are joined alike, in each of which something flows."""
    together = repeated(stacked(networks), np.repeat(np.arange(len(networks)), _BRINES))
    return _highs(together, [each.fluids for each in networks], solutions)


_BRINES: Final = 3  # its own, the thinnest and the most viscous published


def _highs(
    network: Network, fluids: Sequence[tuple[Fluid, ...]], solutions: Sequence[Solution]
) -> list[HeadHigh]:
    """Of one array, or of several whose networks stand in rows, one for each of its brines."""
    by = np.ones((len(fluids) * _BRINES, len(fluids[0])))
    by[1::_BRINES] = [[1.0 - each.less_viscous for each in three] for three in fluids]
    by[2::_BRINES] = [[1.0 + each.more_viscous for each in three] for three in fluids]

    def in_rows(values: Sequence[Any]) -> Any:  # noqa: ANN401 (arrays of any shape)
        return np.repeat(np.asarray(values), _BRINES, axis=0)

    whole = _Rows(
        total=in_rows([each.total for each in solutions]),
        flow=in_rows([each.flow for each in solutions]),
        element_drop=in_rows([each.element_drop for each in solutions]),
        pressure=in_rows([_pressure(each) for each in solutions]),
    )
    law, turbulent, within = _pressures(network, whole, by)
    # Where it matters, flows are found anew: those of the law first, then those of turbulence.
    much = in_rows([max(each.more_viscous for each in three) > _SOLVED_ANEW for three in fluids])
    anew = np.zeros((2, len(by)), dtype=np.bool_)
    anew[0, 2::_BRINES] = much[2::_BRINES]
    anew[1] = within.any(axis=1) & (much | (turbulent > law * (1.0 + WORTH_A_WORD)))
    if anew.any():
        upper, row = np.nonzero(anew)
        found = in_rows([each.exchanger_drop for each in solutions])[row] + turbulent_pressures(
            as_viscous(of_many(network, row), by[row]),
            whole.total[row],
            whole.flow[row, : network.rows],
            upper == 0,
        )
        pressures = np.stack((law, turbulent))
        pressures[upper, row] = np.where(np.isnan(found), pressures[upper, row], found)
        law, turbulent = pressures
    highest = np.maximum(law, turbulent).reshape(-1, _BRINES).max(axis=1)
    highest = np.maximum(highest, whole.pressure[::_BRINES])
    return [
        HeadHigh(most, turbulent_one, viscous, transitional)
        for most, turbulent_one, viscous, transitional in zip(
            highest.tolist(),
            turbulent[::_BRINES].tolist(),
            law[2::_BRINES].tolist(),
            within[::_BRINES],
            strict=True,
        )
    ]


def _pressure(solution: Solution) -> float:
    return solution.array_drop + solution.run_drop + solution.exchanger_drop


@dataclass(frozen=True, slots=True)
class _Rows:
    """Solutions, a row for each brine of each."""

    total: Array
    flow: Array
    element_drop: Array
    pressure: Array


def _pressures(network: Network, whole: _Rows, by: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Pressures at the flows of solutions, where viscosities are multiplied by each of some rows.

    By the law; with all that is in transition turbulent; and which pipes are in transition.
    """
    flow = np.abs(whole.flow[:, network.owner])
    viscosity = by[:, network.side]
    reynolds = flow * network.reynolds_per_flow / viscosity
    blocks = np.broadcast_to(network.first_block, reynolds.shape)
    drop = friction_per_reynolds(reynolds, network.bank, blocks)[0]
    drop *= network.laminar
    drop *= viscosity
    drop *= flow
    weight = flow / whole.total[:, None]  # of a pipe's drop in the head
    more = ((drop - np.abs(whole.element_drop)) * weight).sum(axis=1)
    fittings = (network.linear * whole.flow**2).sum(axis=1) / whole.total
    law: Array = whole.pressure + more + fittings * (by.max(axis=1) - 1.0)
    turbulent = law.copy()
    within = is_transitional(reynolds, network.critical)
    if within.any():
        row = np.nonzero(within)[0]
        upper, _ = friction_per_reynolds(reynolds[within], network.bank, blocks[within] + UPPER)
        laminar = np.broadcast_to(network.laminar, drop.shape)[within]
        above = upper * laminar * viscosity[within] * flow[within] - drop[within]
        turbulent += np.bincount(row, np.maximum(above, 0.0) * weight[within], len(by))
    return law, turbulent, within


def transition_findings(network: Network, solution: Solution, high: HeadHigh) -> list[Finding]:
    """Where pipe is in transition, what it takes of the head, and the head if it were turbulent."""
    if not solution.total:
        return []
    pressure = _pressure(solution)
    within, turbulent = high.transitional & (network.length > 0.0), high.turbulent
    if turbulent < pressure * (1.0 + WORTH_A_WORD):
        return []
    flow = np.abs(solution.flow[network.owner])
    reynolds = flow * network.reynolds_per_flow
    share = flow * np.abs(solution.element_drop) / (solution.total * max(pressure, 1e-9))
    taken = float(share[within].sum())
    high_told, head = apart(turbulent / 1e3, pressure / 1e3, 1)
    least, most = float(reynolds[within].min()), float(reynolds[within].max())
    numbers = f"Re {least:.0f}" if most - least < 1 else f"Re {least:.0f} to {most:.0f}"
    return [
        Finding(
            "transitional_pipe",
            "warning",
            f"Flow is in transition between laminar and turbulent in {_where(network, within)} "
            f"({numbers}), which take{'s' if within.sum() == 1 else ''} {_percent(taken)} of the "
            f"head. Measured friction scatters there; if it is turbulent, the head is "
            f"{high_told} kPa, not {head} kPa.",
            TRANSITION_SOURCE,
        )
    ]


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _where(network: Network, within: NDArray[np.bool_]) -> str:
    """Name the pipes: loops by name, runs, headers and plant's runs by what they are."""
    rows, owner = network.rows, network.owner
    in_loop = network.side == IN_LOOP
    words = []
    loops = np.isin(network.loop_rows, owner[within & in_loop])
    if loops.any():
        names = [name for name, one in zip(network.names, loops.tolist(), strict=True) if one]
        words.append("all loops" if loops.all() and len(names) > 1 else listed(names))
    for chosen, what in (
        (within & ~in_loop & (owner < rows), "runs of branches"),
        (within & (owner >= rows) & (owner < 3 * rows), "headers"),
        (within & (owner >= 3 * rows), "the plant's runs"),
    ):
        if chosen.any():
            back = bool((network.side[chosen] == FROM_GROUND).all())
            words.append(f"{what} on the way back" if back else what)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def viscosity_findings(
    network: Network, solution: Solution, high: HeadHigh, mixture: Mixture
) -> list[Finding]:
    """Tell of a mixture that others have much more viscous, and the head by them."""
    brine = network.fluids[IN_LOOP]
    if brine.more_viscous < _VISCOSITY_WORTH or not solution.total:
        return []
    pressure = _pressure(solution)
    viscous, own = apart(high.viscous / 1e3, pressure / 1e3, 1)
    head = f"the head is {viscous} kPa, not {own} kPa"
    if high.viscous < pressure:
        head = f"flow is nearer to laminar, {head}"
    return [
        Finding(
            "viscosity_uncertain",
            "warning",
            f"Other published data of {KINDS[mixture.kind].title.lower()} are up to "
            f"{_percent(brine.more_viscous)} more viscous at {brine.temperature_c:z.1f} °C than "
            f"the correlation in use: by them {head}, and the loops may take up less heat. Use the "
            "supplier's data.",
            "spread of published viscosities: docs, theory of brine",
        )
    ]
