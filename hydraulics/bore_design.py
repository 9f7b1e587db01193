"""What a borehole field's model needs, from the ground, the boreholes and the brine's flow."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hydraulics.antifreeze import Fluid
from hydraulics.array_choice import BoreholeArray, GroundConditions
from hydraulics.borefield_sizing import BorefieldGround, BorefieldLoads
from hydraulics.borehole import (
    CrossSection,
    borehole_resistance_double_u_multipole,
    borehole_resistance_single_u_multipole,
    effective_resistance_hellstrom_uniform_heat,
    internal_resistance_double_u_multipole,
    internal_resistance_single_u_multipole,
)
from hydraulics.ground_temperature import DAYS_PER_YEAR, mean_over_depth
from hydraulics.heat_load import GroundDraw
from hydraulics.pipe_heat import film_resistance, nusselt, wall_resistance

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
    """A field ready for :func:`hydraulics.borefield_sizing.size_borefield`.

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
