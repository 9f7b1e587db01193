"""How long must equal boreholes be, how many, and how do they stand?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hydraulics.boreholes.resistance import (
    CrossSection,
    effective_resistance,
    internal_resistance,
    local_resistance,
)
from hydraulics.boreholes.sizing import Borefield, borefield
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.ground.pipe_heat import film_and_wall
from hydraulics.ground.temperature import DAYS_PER_YEAR, mean_over_depth
from hydraulics.sizing.case import Case, Fit, Sized, of_conductivity, or_infinite
from hydraulics.sizing.choice import BoreholeArray
from hydraulics.sizing.loops import rounded_up
from hydraulics.sizing.result import GroundResistance
from hydraulics.sizing.site import field_of

_SHALLOWEST = 5.0  # m; no shorter borehole is worth a rig
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


def fit_bores(case: Case, choice: BoreholeArray, count: int) -> Fit:
    """So many boreholes, as long as the limit asks."""
    coordinates, bores = field_of(choice, case.plot, count), count
    each_flow = case.mass_flow / bores
    film, wall = film_and_wall(choice.pipe, case.brine, each_flow / choice.u_tubes)

    def local_and_field(factor: float) -> tuple[float, Borefield]:
        ground = replace(case.ground, conductivity=factor * case.ground.conductivity)
        section: CrossSection = {
            "borehole_radius": choice.borehole_radius,
            "pipe_outer_radius": choice.pipe.outside_diameter / 2.0,
            "half_shank_spacing": choice.half_shank_spacing,
            "ground_conductivity": ground.conductivity,
            "grout_conductivity": choice.grout_conductivity,
            "pipe_resistance": film + wall,
        }
        local = local_resistance(choice.u_tubes, **section)
        internal = internal_resistance(choice.u_tubes, **section)
        capacity = each_flow * case.brine.specific_heat

        def undisturbed(depth: float, warmest: bool = False) -> float:
            bottom = choice.buried + depth
            means = mean_over_depth(
                ground.surface, ground.diffusivity, choice.buried, bottom, _DAYS
            )
            extreme = means.max() if warmest else means.min()
            return float(extreme) + ground.geothermal_gradient * (choice.buried + depth / 2.0)

        return local, borefield(
            ground,
            coordinates,
            case.draw,
            temperature_change=case.change,
            borehole_radius=choice.borehole_radius,
            buried=choice.buried,
            undisturbed=undisturbed,
            warmest=lambda depth: undisturbed(depth, warmest=True),
            resistance=lambda depth: effective_resistance(local, internal, depth, capacity),
            years=case.years,
        )

    def needed(field: Borefield) -> float:
        deepest = field.undisturbed(choice.deepest)
        if deepest + case.change / 2.0 <= case.limit and not case.draw.put_back:
            raise NoSolutionError(
                Fault(
                    "least_return",
                    f"of {case.limit:g} degC cannot be kept: undisturbed ground is at "
                    f"{deepest:.2f} degC; lower the limit",
                    case.limit,
                    f"below {deepest + case.change / 2.0:.2f} degC",
                )
            )
        if field.at(_SHALLOWEST, case.between).margin >= 0.0:
            return _SHALLOWEST * bores
        return field.shallowest(case.between, (_SHALLOWEST, 3.0 * choice.deepest)) * bores

    local, field = local_and_field(1.0)
    total = needed(field) if case.by_rate is None else or_infinite(lambda: needed(field))
    each = rounded_up(choice, (case.by_rate or total) / bores)

    def sized() -> Sized:
        history = field.at(each, case.between)
        return Sized(
            count=bores,
            needed=total,
            each=each,
            resistance=GroundResistance(film, wall, local, field.resistance(each)),
            history=history,
            coldest_return=history.coldest_return,
            coldest_ground=history.coldest_ground,
            sensitivity=lambda: of_conductivity(lambda factor: needed(local_and_field(factor)[1])),
            notes=NOTES,
            coordinates=coordinates,
        )

    return Fit(bores, total, each, sized)
