"""What does an uneven split of flow cost in heat?

Each loop is a heat exchanger of which one side, the ground, has one temperature. Its effectiveness
is then 1 - exp(-NTU), NTU = UA / (m c), whatever the shape of its way through the ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.ground.pipe_heat import (
    PE_CONDUCTIVITY,
    film_resistance,
    nusselt,
    schmidt_critical_reynolds,
    wall_resistance,
)
from hydraulics.layout.legs import Section
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.result import FlowSplit

Array = NDArray[np.float64]

MODEL: Final = (
    "Each loop is a heat exchanger against ground of one temperature: effectiveness = "
    "1 - exp(-UA/(m c)) (Kays & London, Compact Heat Exchangers; Incropera et al., Fundamentals of "
    "Heat and Mass Transfer, capacity ratio 0). UA is the sum over the loop's pipe in trench, "
    "borehole or water, or all of it where none lies so, of 1/(ground + wall + film resistance) "
    "per metre; the film follows the loop's own Reynolds number."
)
LIMITS: Final = (
    "The ground's temperature is that far from the pipe, and its resistance per metre belongs to "
    "one length of time; both are taken as given and alike for every loop, though neighbouring "
    "loops draw on one another's ground.",
    "Flow and return of one loop do not exchange heat with each other (they do in a borehole), "
    "headers, runs and tails exchange none, and brine properties are those at the mean "
    "temperature.",
    "In transition between laminar and turbulent flow the film may lie anywhere between the two. "
    "Laminar flow in straight pipe is taken without buoyancy, which can better its film.",
)


@dataclass(frozen=True, slots=True)
class LoopHeat:
    """Heat of all loops at one split of the flow, in the order of the layout.

    Attributes
    ----------
    mass_flow
        [kg/s]
    laminar
        True where the film of what gathers the loop's heat is laminar.
    conductance
        UA between brine and ground [W/K].
    conductance_per_metre
        The same over the length of the loop's pipe that gathers heat [W/m K].
    ntu, effectiveness
        [-]; infinite and 1 where nothing flows.
    leaving_temperature
        Brine at the loop's end [°C].
    heat
        Taken up from the ground [W]; negative where heat is put into it.
    return_temperature
        Mixed brine from all loops [°C].
    total_heat
        Of all loops [W].
    """

    mass_flow: Array
    laminar: NDArray[np.bool_]
    conductance: Array
    conductance_per_metre: Array
    ntu: Array
    effectiveness: Array
    leaving_temperature: Array
    heat: Array
    return_temperature: float
    total_heat: float


@dataclass(frozen=True, slots=True)
class ImbalanceHeat:
    """Heat at the flows as they are against heat at the target flows.

    Attributes
    ----------
    actual, target
        At the flows as they are and at the target flows; same total flow, entering temperature
        and ground.
    heat_lost
        Heat at the target flows less heat as it is [W], both towards the brine; for heat put into
        the ground what can be put in less. Negative where the uneven split carries more.
    share_lost
        ``heat_lost`` over the heat at the target flows [-].
    temperature_cost
        How much further from the ground's temperature the entering brine must be to exchange as
        much as at the target flows [K]; negative where it may be nearer.
    model, limits
        In words.
    """

    actual: LoopHeat
    target: LoopHeat
    heat_lost: float
    share_lost: float
    temperature_cost: float
    model: str
    limits: tuple[str, ...]


def effectiveness_one_isothermal(ntu: Array) -> Array:
    """Effectiveness of a heat exchanger with one side at one temperature, 1 - exp(-NTU) [-].

    Parameters
    ----------
    ntu
        Number of transfer units UA / (m c) [-], 0 or more.

    Returns
    -------
    Array
        Temperature change of the fluid over the largest possible [-], 0 to 1.

    Notes
    -----
    Source: Kays & London, Compact Heat Exchangers; Incropera et al., Fundamentals of Heat and Mass
    Transfer, ch. 11, relation for a capacity ratio of 0.
    """
    return np.asarray(-np.expm1(-np.asarray(ntu, dtype=np.float64)))


def loop_conductances(
    network: Network, loop_flow: Array, ground_resistance: float, pipe_conductivity: float
) -> tuple[Array, NDArray[np.bool_]]:
    """UA of each loop at its flow, and whether its film is laminar.

    Parameters
    ----------
    network
        The assembled array.
    loop_flow
        Mass flow of each loop [kg/s].
    ground_resistance
        Between the outside of the pipe and the ground's temperature [m K/W, per metre of pipe].
    pipe_conductivity
        Of the pipes' walls [W/m K].

    Returns
    -------
    conductance, laminar
        UA [W/K] of the pipe that gathers heat (:attr:`hydraulics.layout.circuit.Loop.gathers`),
        as a sizing has it: none of tails. True where what gathers the loop's heat is laminar.
    """
    brine = network.fluids[IN_LOOP]
    sections: list[Section] = []
    owner: list[int] = []
    main: list[int] = []
    for number, loop in enumerate(network.loops):
        main.append(len(sections) + loop.gathering_section)
        sections.extend(loop.sections)
        owner.extend([number] * len(loop.sections))
    # Equal pipe in equal coils is computed in one call.
    kinds: dict[tuple[float, float, int, float], list[int]] = {}
    for index, section in enumerate(sections):
        pipe = section.pipe
        key = (pipe.bore, pipe.outside_diameter, section.parallel, section.coil_diameter)
        kinds.setdefault(key, []).append(index)
    of_loop = np.asarray(owner, dtype=np.intp)
    length = np.asarray([metres for loop in network.loops for metres in loop.gathers])
    flow = np.abs(loop_flow)[of_loop]
    conductance = np.empty(len(sections))
    laminar = np.empty(len(sections), dtype=np.bool_)
    for (bore, outside, parallel, coil_diameter), which in kinds.items():
        curvature = bore / coil_diameter
        reynolds = 4.0 * flow[which] / (math.pi * bore * parallel * brine.viscosity)
        film = film_resistance(nusselt(reynolds, brine.prandtl, curvature), brine.conductivity)
        wall = wall_resistance(outside, bore, pipe_conductivity)
        conductance[which] = parallel * length[which] / (ground_resistance + wall + film)
        laminar[which] = reynolds <= schmidt_critical_reynolds(curvature)
    total = cast(Array, np.bincount(of_loop, conductance, len(network.loops)))
    return total, laminar[main]


def loop_heat(
    network: Network,
    loop_flow: Array,
    *,
    entering_temperature: float,
    ground_temperature: float,
    ground_resistance: float,
    pipe_conductivity: float = PE_CONDUCTIVITY,
) -> LoopHeat:
    """Outlet temperature and heat of each loop from its own flow.

    Parameters
    ----------
    network
        The assembled array.
    loop_flow
        Mass flow of each loop [kg/s]; a loop that flows backwards counts by the size of its flow.
    entering_temperature
        Brine into every loop [°C].
    ground_temperature
        Of the ground far from the pipe, for the time that the resistance stands for [°C].
    ground_resistance
        Between the outside of the pipe and that temperature [m K/W, per metre of pipe], 0 or more.
    pipe_conductivity
        Of the pipes' walls [W/m K], more than 0.

    Returns
    -------
    LoopHeat
        Of each loop and of all.

    Raises
    ------
    InputError
        A number is not usable, or a Reynolds or Prandtl number is outside the film correlations.
    """
    refuse(
        number_fault("to_ground_temperature_c", entering_temperature, "°C"),
        number_fault("ground_temperature_c", ground_temperature, "°C", at_least=-273.15),
        number_fault("ground_resistance", ground_resistance, "m K/W", at_least=0.0),
        number_fault("pipe_conductivity", pipe_conductivity, "W/m K", above=0.0),
    )
    brine = network.fluids[IN_LOOP]
    conductance, laminar = loop_conductances(
        network, loop_flow, ground_resistance, pipe_conductivity
    )
    capacity = np.abs(loop_flow) * brine.specific_heat
    still = capacity == 0.0
    ntu = np.where(still, math.inf, conductance / np.where(still, 1.0, capacity))
    effectiveness = effectiveness_one_isothermal(ntu)
    change = effectiveness * (ground_temperature - entering_temperature)
    heat = capacity * change
    total_capacity = float(capacity.sum())
    total_heat = float(heat.sum())
    mixed = total_heat / total_capacity if total_capacity else 0.0
    return LoopHeat(
        mass_flow=loop_flow,
        laminar=laminar,
        conductance=conductance,
        conductance_per_metre=conductance
        / np.asarray([sum(loop.gathers) for loop in network.loops]),
        ntu=ntu,
        effectiveness=effectiveness,
        leaving_temperature=entering_temperature + change,
        heat=heat,
        return_temperature=entering_temperature + mixed,
        total_heat=total_heat,
    )


def inside_even_loops(
    network: Network, loop_flow: Array, *, pipe_conductivity: float = PE_CONDUCTIVITY
) -> float:
    """Film and wall where heat is gathered, with the flow shared evenly [m K/W, per metre of pipe].

    Parameters
    ----------
    network, loop_flow, pipe_conductivity
        See :func:`loop_heat`.
    """
    even = np.full_like(loop_flow, np.abs(loop_flow).mean())
    conductance, _ = loop_conductances(network, even, 0.0, pipe_conductivity)
    metres = sum(
        section.parallel * length
        for loop in network.loops
        for section, length in zip(loop.sections, loop.gathers, strict=True)
    )
    return float(metres / conductance.sum())


def uneven_cost(
    network: Network,
    loop_flow: Array,
    *,
    entering_temperature: float,
    ground_temperature: float,
    ground_resistance: float,
    pipe_conductivity: float = PE_CONDUCTIVITY,
) -> float:
    """How much further from the ground brine goes out for want of equal loops with even flow [K].

    Parameters
    ----------
    network, loop_flow
        The assembled array, and the mass flow of each loop [kg/s], not all 0.
    entering_temperature, ground_temperature, ground_resistance, pipe_conductivity
        See :func:`loop_heat`; the entering temperature is that of equal loops.

    Returns
    -------
    float
        0 or more: for the same heat, against as much pipe in as many equal loops.

    Raises
    ------
    InputError
        As :func:`loop_heat`.

    Notes
    -----
    A loop with more flow than an even share is credited no better film (safe side): the film in
    transition may stay laminar. Then c (1 - exp(-U/c)) is concave and doubles with flow and UA
    together, so that equal loops carry the most.
    """
    given = {
        "entering_temperature": entering_temperature,
        "ground_temperature": ground_temperature,
        "ground_resistance": ground_resistance,
        "pipe_conductivity": pipe_conductivity,
    }
    even_flow = np.full_like(loop_flow, np.abs(loop_flow).mean())
    actual = loop_heat(network, loop_flow, **given)
    even = loop_heat(network, even_flow, **given)
    capacity = np.abs(loop_flow) * network.fluids[IN_LOOP].specific_heat
    conductance = np.minimum(actual.conductance, even.conductance)
    ntu = conductance / np.where(capacity > 0.0, capacity, 1.0)
    found = float((capacity * effectiveness_one_isothermal(ntu)).sum() / capacity.sum())
    whole = np.asarray(even.conductance.sum() / capacity.sum())
    ratio = float(effectiveness_one_isothermal(whole)) / found
    return abs(ground_temperature - entering_temperature) * max(ratio - 1.0, 0.0)


def imbalance_heat(
    split: FlowSplit,
    *,
    entering_temperature: float,
    ground_temperature: float,
    ground_resistance: float,
    pipe_conductivity: float = PE_CONDUCTIVITY,
) -> ImbalanceHeat:
    """Heat that an array gives at its flows, against the same total flow on target.

    Parameters
    ----------
    split
        The array's flow split.
    entering_temperature
        Brine into every loop [°C].
    ground_temperature, ground_resistance, pipe_conductivity
        See :func:`loop_heat`.

    Returns
    -------
    ImbalanceHeat
        Both, and what lies between them.

    Raises
    ------
    InputError
        As :func:`loop_heat`; or nothing flows; or brine and ground have the same temperature, so
        that there is no heat to lose.

    Notes
    -----
    With a steady UA the heat of a loop rises with its flow ever more slowly (it is concave), so
    that among equal loops an even split carries most. Where an even split leaves all loops laminar
    and an uneven one makes some turbulent, the uneven one can carry more; ``heat_lost`` is then
    negative.
    """
    if split.solution.total <= 0.0:
        raise InputError(
            Fault("duty", "nothing flows, so no heat is carried", split.solution.total,
                  "a flow above 0")
        )  # fmt: skip
    if ground_temperature == entering_temperature:
        raise InputError(
            Fault(
                "ground_temperature_c",
                "is the temperature of the brine sent to the ground, so no heat flows",
                ground_temperature,
                "another temperature than to_ground_temperature_c",
            )
        )
    network = split.network
    both = [
        loop_heat(
            network,
            flow,
            entering_temperature=entering_temperature,
            ground_temperature=ground_temperature,
            ground_resistance=ground_resistance,
            pipe_conductivity=pipe_conductivity,
        )
        for flow in (split.loops.mass_flow, split.loops.target_flow * network.fluids[1].density)
    ]
    actual, wanted = both
    # Heat is proportional to ground less entering temperature, so the ratio tells what is needed.
    ratio = wanted.total_heat / actual.total_heat
    return ImbalanceHeat(
        actual=actual,
        target=wanted,
        heat_lost=math.copysign(1.0, wanted.total_heat) * (wanted.total_heat - actual.total_heat),
        share_lost=1.0 - 1.0 / ratio,
        temperature_cost=abs(ground_temperature - entering_temperature) * (ratio - 1.0),
        model=MODEL,
        limits=LIMITS,
    )
