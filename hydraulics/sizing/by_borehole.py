"""How long must equal boreholes be, how many, and how do they stand?"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from hydraulics.boreholes.resistance import (
    CrossSection,
    borehole_resistance_double_u_multipole,
    borehole_resistance_single_u_multipole,
    effective_resistance_hellstrom_uniform_heat,
    internal_resistance_double_u_multipole,
    internal_resistance_single_u_multipole,
)
from hydraulics.boreholes.sizing import (
    BorefieldGround,
    BorefieldLoads,
    FluidHistory,
    simulate_borefield,
    size_borefield,
)
from hydraulics.errors import Fault, InputError, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.pipe_heat import film_resistance, nusselt, wall_resistance
from hydraulics.ground.temperature import DAYS_PER_YEAR, mean_over_depth
from hydraulics.shallow.trench_life import LimitingLoad
from hydraulics.sizing.case import Case, Sized
from hydraulics.sizing.choice import BoreholeArray, GroundConditions
from hydraulics.sizing.heat_load import GroundDraw
from hydraulics.sizing.loops import rounded_up
from hydraulics.sizing.result import GroundResistance


def sized_bores(case: Case, choice: BoreholeArray, count: int) -> Sized:
    """So many boreholes, as long as the limit asks."""
    coordinates = choice.coordinates(count)
    bores = len(coordinates)
    if case.limits.loops is not None and bores != count:
        raise InputError(
            Fault(
                "loops",
                f"is {count}, but no {choice.shape} field has exactly so many boreholes; the next "
                f"has {bores}",
                count,
                f"{bores}, or another shape",
            )
        )

    def design(conductivity: float) -> BoreDesign:
        return bore_design(
            replace(case.ground, conductivity=conductivity),
            choice,
            case.draw,
            case.brine,
            mass_flow=case.mass_flow,
            bores=bores,
        )

    def needed(conductivity: float) -> float:
        plan = design(conductivity)
        if plan.undisturbed(choice.deepest) + case.change / 2.0 <= case.limit:
            raise NoSolutionError(
                Fault(
                    "least_return",
                    f"of {case.limit:g} degC cannot be kept: undisturbed ground is at "
                    f"{plan.undisturbed(choice.deepest):.2f} degC; lower the limit",
                    case.limit,
                    f"below {plan.undisturbed(choice.deepest) + case.change / 2.0:.2f} degC",
                )
            )
        depth = size_borefield(
            plan.ground,
            coordinates,
            plan.loads,
            borehole_radius=choice.borehole_radius,
            buried=choice.buried,
            borehole_resistance=plan.effective_resistance,
            years=case.years,
            coldest_returning=case.limit,
            depth_range=(5.0, 3.0 * choice.deepest),
        ).depth
        return depth * bores

    def or_infinite(conductivity: float) -> float:
        try:
            return needed(conductivity)
        except NoSolutionError:
            return math.inf

    k = case.ground.conductivity
    total = needed(k) if case.by_rate is None else or_infinite(k)
    each = rounded_up(choice, (case.by_rate or total) / bores)
    plan = design(k)
    history = simulate_borefield(
        plan.ground,
        coordinates,
        plan.loads,
        depth=each,
        borehole_radius=choice.borehole_radius,
        buried=choice.buried,
        borehole_resistance=plan.effective_resistance,
        years=case.years,
    )
    resistance = GroundResistance(
        plan.film, plan.wall, plan.local_resistance, plan.effective_resistance(each)
    )
    return Sized(
        count=bores,
        needed=total,
        each=each,
        resistance=resistance,
        returning=np.minimum(history.peak_returning, history.month_returning),
        going=np.minimum(history.peak_going, history.month_going),
        coldest_return=history.coldest_returning,
        limiting=_limiting_bore(case, plan, history, each),
        coldest_ground=float(min(history.month_wall.min(), history.peak_wall.min())),
        energy=None,
        worse=math.nan,
        better=math.nan,
        at_conductivity=lambda factor: or_infinite(factor * k),
        notes=plan.notes,
        coordinates=coordinates,
    )


def _limiting_bore(
    case: Case, plan: BoreDesign, history: FluidHistory, depth: float
) -> LimitingLoad:
    worst = int(history.peak_returning.argmin())
    year, month = divmod(worst, 12)
    peak = float(plan.loads.monthly_peak[month])
    undisturbed = plan.undisturbed(depth)
    month_wall = float(history.month_wall[year, month])
    peak_wall = float(history.peak_wall[year, month])
    return LimitingLoad(
        year=year + 1,
        month=(month + case.draw.first_month - 1) % 12 + 1,
        undisturbed=undisturbed,
        fall_from_months=undisturbed - month_wall,
        fall_from_peak=month_wall - peak_wall,
        fall_through_pipe=peak_wall - float(history.peak_mean[year, month]),
        rise_of_brine=peak / (2.0 * plan.loads.capacity_flow),
    )


_DAYS = np.arange(24) * DAYS_PER_YEAR / 24.0

NOTES = (
    "Latent heat where the ground freezes, groundwater flow and the heat held by grout and brine "
    "are left out, on the safe side.",
    "All boreholes carry the same heat, each with its wall at one temperature over its depth: -2 "
    "to +9 % of the yearly imbalance's effect against one temperature for all walls.",
    "Borehole resistance by the first-order multipole (1 %); heat between the legs by Hellström's "
    "upper limit, the same heat at every depth.",
    "Undisturbed ground is the mean over the depth on the coldest day of the year, with the "
    "gradient given.",
)


@dataclass(frozen=True, slots=True)
class BoreDesign:
    """A field ready for :func:`hydraulics.boreholes.sizing.size_borefield`.

    Attributes
    ----------
    ground, loads
        In its own terms, months in order of operation.
    film, wall
        Per metre of one pipe [m K/W].
    local_resistance
        Brine to the borehole's wall at one depth [m K/W].
    effective_resistance, undisturbed
        Over an active depth [m]: [m K/W], [degC].
    notes
        What the model leaves out.
    """

    ground: BorefieldGround
    loads: BorefieldLoads
    film: float
    wall: float
    local_resistance: float
    effective_resistance: Callable[[float], float]
    undisturbed: Callable[[float], float]
    notes: tuple[str, ...] = NOTES


def bore_design(
    ground: GroundConditions,
    choice: BoreholeArray,
    draw: GroundDraw,
    brine: Fluid,
    *,
    mass_flow: float,
    bores: int,
) -> BoreDesign:
    """Return what the field's model needs.

    Parameters
    ----------
    ground, choice, draw
        Ground, borehole and load.
    brine
        Properties at the mean brine temperature.
    mass_flow
        Of the whole field [kg/s].
    bores
        Number of boreholes, which share it evenly.
    """
    pipe, each = choice.pipe, mass_flow / bores
    reynolds = 4.0 * each / choice.u_tubes / (math.pi * pipe.bore * brine.viscosity)
    film = float(film_resistance(nusselt(reynolds, brine.prandtl), brine.conductivity))
    wall = wall_resistance(pipe.outside_diameter, pipe.bore)
    section: CrossSection = {
        "borehole_radius": choice.borehole_radius,
        "pipe_outer_radius": pipe.outside_diameter / 2.0,
        "half_shank_spacing": choice.half_shank_spacing,
        "ground_conductivity": ground.conductivity,
        "grout_conductivity": choice.grout_conductivity,
        "pipe_resistance": film + wall,
    }
    if choice.u_tubes == 1:
        local = borehole_resistance_single_u_multipole(**section)
        internal = internal_resistance_single_u_multipole(**section)
    else:
        local = borehole_resistance_double_u_multipole(**section)
        internal = internal_resistance_double_u_multipole(**section)
    capacity = each * brine.specific_heat

    def effective(depth: float) -> float:
        return effective_resistance_hellstrom_uniform_heat(local, internal, depth, capacity)

    def undisturbed(depth: float) -> float:
        coldest = mean_over_depth(
            ground.surface, ground.diffusivity, choice.buried, choice.buried + depth, _DAYS
        ).min()
        return float(coldest) + ground.geothermal_gradient * (choice.buried + depth / 2.0)

    monthly = np.roll(np.asarray(draw.monthly), 1 - draw.first_month)
    loads = BorefieldLoads(
        monthly,
        np.where(monthly > 0.0, draw.peak, 0.0),
        np.full(12, draw.peak_hours * 3600.0),
        mass_flow * brine.specific_heat,
    )
    return BoreDesign(
        ground=BorefieldGround(ground.conductivity, ground.heat_capacity, undisturbed),
        loads=loads,
        film=film,
        wall=wall,
        local_resistance=local,
        effective_resistance=effective,
        undisturbed=undisturbed,
    )
