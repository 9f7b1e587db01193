"""Which numbers does someone need to work out one loop's pressure drop again by hand?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hydraulics.layout.legs import STRAIGHT
from hydraulics.pipework.friction import darcy_friction_factor
from hydraulics.split.assembly import FROM_GROUND, IN_LOOP, TO_GROUND, Network
from hydraulics.split.drops import header_drops, port_drops
from hydraulics.split.state import Solution


@dataclass(frozen=True, slots=True)
class PipeCheck:
    """One length of pipe, with every number of the Darcy-Weisbach equation.

    Δp = f (L/d) ρ v²/2, with v = flow / (parallel · ρ · π d²/4) and Re = ρ v d / μ.

    Attributes
    ----------
    length, bore
        L and d [m].
    coil_diameter
        Of the coil [m]; infinite for straight pipe.
    parallel
        Equal pipes that share the flow.
    relative_roughness
        Roughness over bore [-].
    density, viscosity
        ρ [kg/m³] and μ [Pa s] at the temperature that the fluid has here.
    mass_flow
        Through all parallel pipes together [kg/s].
    velocity, reynolds
        v [m/s] and Re [-].
    friction_factor
        Darcy's f [-], by the law itself; 0 where nothing flows.
    drop
        As the solver has it [Pa]; it reads the law from a table, so that f (L/d) ρ v²/2 agrees to
        within 0.01 %, not to the last digit.
    """

    length: float
    bore: float
    coil_diameter: float
    parallel: int
    relative_roughness: float
    density: float
    viscosity: float
    mass_flow: float
    velocity: float
    reynolds: float
    friction_factor: float
    drop: float


@dataclass(frozen=True, slots=True)
class FittingsCheck:
    """Fittings in series, as one loss coefficient on a stated bore.

    Δp = (K1/Re + K) ρ v²/2, with v and Re in that bore.

    Attributes
    ----------
    bore
        Bore that the velocity is taken in [m].
    parallel
        Equal pipes of that bore that share the flow.
    coefficient, low_reynolds
        K and K1 [-], sums of all fittings in series.
    velocity, reynolds
        In that bore [m/s], [-].
    density
        ρ [kg/m³] of the fluid in the loops.
    drop
        As the solver has it [Pa].
    """

    bore: float
    parallel: int
    coefficient: float
    low_reynolds: float
    velocity: float
    reynolds: float
    density: float
    drop: float


@dataclass(frozen=True, slots=True)
class HandCheck:
    """Everything that makes one loop's drop and, with it, the head of the pump.

    Attributes
    ----------
    loop
        Number of the loop.
    pipes, fittings
        The loop's pipes and its own and its port's fittings.
    loop_drop
        Their sum, as the solver has it [Pa].
    header_drop
        Headers and runs between the array's connections and the loop, with their valves and
        fittings [Pa].
    runs
        Pipes of the plant's runs, out and back.
    run_fittings
        Drop of the plant's fittings, those on its runs among them [Pa].
    exchanger_drop
        Heat exchanger [Pa].
    head
        Sum of all [Pa]: pressure that the pump must give.
    """

    loop: int
    pipes: tuple[PipeCheck, ...]
    fittings: FittingsCheck
    loop_drop: float
    header_drop: float
    runs: tuple[PipeCheck, ...]
    run_fittings: float
    exchanger_drop: float
    head: float


def hand_check(network: Network, solution: Solution, loop: int) -> HandCheck:
    """Gather what is needed to work out one loop's drop and the pump's head again.

    Parameters
    ----------
    network, solution
        The array and its solution.
    loop
        Number of the loop in the order of the layout, from 0.

    Returns
    -------
    HandCheck
        Its pipes, fittings, headers and the plant.

    Raises
    ------
    IndexError
        There is no such loop.
    """
    if not 0 <= loop < len(network.loops):
        raise IndexError(f"there is no loop {loop}; the array has {len(network.loops)}")
    row = int(network.loop_rows[loop])
    plant = 3 * network.rows
    pipes = _pipes(network, solution, row, (IN_LOOP,))
    runs = _pipes(network, solution, plant, (TO_GROUND, FROM_GROUND))
    fittings = _fittings(network, solution, loop, row)
    loop_drop = sum(pipe.drop for pipe in pipes) + fittings.drop
    header_drop = float(header_drops(network, solution)[row])
    run_fittings = solution.run_drop - sum(pipe.drop for pipe in runs)
    return HandCheck(
        loop=loop,
        pipes=pipes,
        fittings=fittings,
        loop_drop=loop_drop,
        header_drop=header_drop,
        runs=runs,
        run_fittings=run_fittings if abs(run_fittings) > 1e-9 * abs(solution.run_drop) else 0.0,
        exchanger_drop=solution.exchanger_drop,
        head=solution.array_drop + solution.run_drop + solution.exchanger_drop,
    )


def _pipes(
    network: Network, solution: Solution, carrier: int, sides: tuple[int, ...]
) -> tuple[PipeCheck, ...]:
    """Pipes of one carrier on the given sides, in the order of the layout."""
    found = []
    flow = float(solution.flow[carrier])
    for element in np.flatnonzero(network.owner == carrier).tolist():
        side = int(network.side[element])
        if side not in sides:
            continue
        fluid = network.fluids[side]
        bore = float(network.bore[element])
        parallel = round(float(network.parallel[element]))
        curvature = float(network.curvature[element])
        velocity = flow / (parallel * fluid.density * 0.25 * math.pi * bore**2)
        reynolds = abs(velocity) * fluid.density * bore / fluid.viscosity
        rough = float(network.relative_roughness[element])
        factor = (
            float(darcy_friction_factor(reynolds, rough, curvature)[0]) if reynolds > 0.0 else 0.0
        )
        found.append(
            PipeCheck(
                length=float(network.length[element]),
                bore=bore,
                coil_diameter=bore / curvature if curvature else STRAIGHT,
                parallel=parallel,
                relative_roughness=rough,
                density=fluid.density,
                viscosity=fluid.viscosity,
                mass_flow=flow,
                velocity=velocity,
                reynolds=reynolds,
                friction_factor=factor,
                drop=float(solution.element_drop[element]),
            )
        )
    return tuple(found)


def _fittings(network: Network, solution: Solution, loop: int, row: int) -> FittingsCheck:
    """Fittings of a loop and its port, on the bore of the loop's longest section."""
    section = network.loops[loop].sections[network.loops[loop].main_section]
    bore, parallel = section.pipe.bore, section.parallel
    fluid = network.fluids[IN_LOOP]
    area = parallel * 0.25 * math.pi * bore**2
    velocity = float(solution.flow[row]) / (fluid.density * area)
    # The network keeps Δp = square m|m| + linear m; K and K1 are the same in terms of v.
    square = float(network.loop_square[row]) * fluid.density
    linear = float(network.loop_linear[row]) * fluid.density / fluid.viscosity
    return FittingsCheck(
        bore=bore,
        parallel=parallel,
        coefficient=2.0 * square * area**2,
        low_reynolds=2.0 * linear * area * bore,
        velocity=velocity,
        reynolds=abs(velocity) * fluid.density * bore / fluid.viscosity,
        density=fluid.density,
        drop=float(port_drops(network, solution)[row]),
    )
