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
from hydraulics.boreholes.sizing import Borefield, OfDepth, borefield
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.pipe_heat import film_and_wall
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import DAYS_PER_YEAR, mean_over_depth, profile_mean
from hydraulics.sizing.case import Case, Fit, Sized, of_conductivity, or_infinite
from hydraulics.sizing.choice import BoreholeArray, GroundConditions
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
)
_RESISTANCE_NOTES = {
    True: "Borehole resistance as measured, whatever depth, flow and brine, but that brine comes "
    "back no warmer than the borehole's wall.",
    False: "Borehole resistance by the first-order multipole (1 %); heat between the legs by "
    "Hellström's upper limit, the same heat at every depth.",
}
_GROUND_NOTES = {
    True: "Undisturbed ground as measured; its year near the surface is left out: up to about 0.3 K"
    " over 100 m (the damped wave).",
    False: "Undisturbed ground is the mean over the depth on the coldest day of the year, with the "
    "gradient given.",
}


def fit_bores(case: Case, choice: BoreholeArray, count: int) -> Fit:
    """So many boreholes, as long as the limit asks."""
    coordinates, bores = field_of(choice, case.plot, count), count
    each_flow = case.mass_flow / bores
    film, wall = film_and_wall(choice.pipe, case.brine, each_flow / choice.u_tubes)

    def local_and_field(factor: float) -> tuple[float | None, Borefield]:
        ground = replace(case.ground, conductivity=factor * case.ground.conductivity)
        local, resistance = _resistance(choice, ground, film + wall, case.brine, each_flow)
        return local, borefield(
            ground,
            coordinates,
            case.draw,
            temperature_change=case.change,
            borehole_radius=choice.borehole_radius,
            buried=choice.buried + ground.surface.screened(ground.conductivity),
            undisturbed=lambda depth: _undisturbed(choice, ground, depth)[0],
            warmest=lambda depth: _undisturbed(choice, ground, depth)[1],
            resistance=resistance,
            years=case.years,
        )

    def needed(field: Borefield) -> float:
        deepest = field.undisturbed(choice.deepest)
        # Brine comes from the ground no warmer than the ground is, whatever its rise.
        if deepest <= case.limit and not case.draw.put_back:
            raise NoSolutionError(
                Fault(
                    "least_return",
                    f"of {case.limit:g} °C cannot be kept: undisturbed ground is at "
                    f"{deepest:.2f} °C; lower the limit",
                    case.limit,
                    f"below {deepest:.2f} °C",
                )
            )
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
            notes=(
                *NOTES,
                _RESISTANCE_NOTES[choice.resistance is not None],
                _GROUND_NOTES[bool(case.ground.undisturbed or case.ground.profile)],
            ),
            coordinates=coordinates,
        )

    return Fit(bores, total, each, sized)


def _resistance(
    choice: BoreholeArray, ground: Ground, pipe: float, brine: Fluid, mass_flow: float
) -> tuple[float | None, OfDepth]:
    """At one depth, unless it is measured, and over an active depth [m K/W]."""
    capacity = mass_flow * brine.specific_heat
    if choice.resistance is not None:
        measured = choice.resistance
        # With less flow than the test had, legs exchange more: brine comes back no warmer than the
        # wall, half its change above its mean.
        return None, lambda depth: max(measured, 0.5 * depth / capacity)
    assert choice.half_shank_spacing is not None
    assert choice.grout_conductivity is not None
    section: CrossSection = {
        "borehole_radius": choice.borehole_radius,
        "pipe_outer_radius": choice.pipe.outside_diameter / 2.0,
        "half_shank_spacing": choice.half_shank_spacing,
        "ground_conductivity": ground.conductivity,
        "grout_conductivity": choice.grout_conductivity,
        "pipe_resistance": pipe,
    }
    local = local_resistance(choice.u_tubes, **section)
    internal = internal_resistance(choice.u_tubes, **section)
    return local, lambda depth: effective_resistance(local, internal, depth, capacity)


def _undisturbed(
    choice: BoreholeArray, ground: GroundConditions, depth: float
) -> tuple[float, float]:
    """Mean over an active depth on the year's coldest and warmest day [degC]; as measured, one."""
    top, bottom = choice.buried, choice.buried + depth
    if ground.undisturbed is not None:
        return ground.undisturbed, ground.undisturbed
    if ground.profile:
        mean = profile_mean(ground.profile, ground.geothermal_gradient, top, bottom)
        return mean, mean
    means = mean_over_depth(ground.surface, ground.diffusivity, top, bottom, _DAYS)
    warmer = ground.geothermal_gradient * 0.5 * (top + bottom)
    return float(means.min()) + warmer, float(means.max()) + warmer
