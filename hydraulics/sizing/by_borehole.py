"""How long must equal boreholes be, how many, and how do they stand?"""

from __future__ import annotations

from dataclasses import replace
from functools import cache, lru_cache

import numpy as np

from hydraulics.boreholes.field import DistanceClasses, distance_classes, prepare_field_response
from hydraulics.boreholes.resistance import (
    CrossSection,
    effective_resistance,
    internal_resistance,
    local_resistance,
)
from hydraulics.boreholes.shapes import empty_places, perimeter_field
from hydraulics.boreholes.sizing import Borefield, OfDepth, borefield
from hydraulics.boreholes.three_pulses import (
    pulse_resistances_cylindrical_source,
    three_pulse_length_kavanaugh_rafferty,
)
from hydraulics.errors import Fault, NoDepthError
from hydraulics.fluid.mixture import Fluid, fluid
from hydraulics.ground.load_history import Floats, History, OfTemperature
from hydraulics.ground.pipe_heat import film_and_wall, film_by_temperature
from hydraulics.ground.soil import Ground
from hydraulics.ground.temperature import DAYS_PER_YEAR, mean_over_depth, profile_means
from hydraulics.plot.plot import Plot
from hydraulics.sizing.case import Case, Fit, Sized, or_infinite
from hydraulics.sizing.choice import BoreholeArray, GroundConditions
from hydraulics.sizing.result import GroundResistance, Published
from hydraulics.sizing.site import field_of

_SHALLOWEST = 5.0  # m; no shorter borehole is worth a rig
_DAYS = np.arange(24) * DAYS_PER_YEAR / 24.0

NOTES = (
    "Latent heat where the ground freezes, groundwater flow and the heat held by grout and brine "
    "are left out, on the safe side.",
    "All boreholes carry the same heat, each with its wall at one temperature over its depth: -2 "
    "to +9 % of the yearly imbalance's effect against one temperature for all walls.",
)
_LEAST_NOTE = (
    f"No borehole is sized shorter than {_SHALLOWEST:g} m, the least that is looked at: the length "
    "needed is that, and a shorter one would keep the limits too."
)
_RESISTANCE_NOTES = {
    True: "Borehole resistance as measured, whatever depth, flow and brine, but that brine comes "
    "back no warmer than the borehole's wall.",
    False: "Borehole resistance by the first-order multipole (1 %); heat between the legs by "
    "Hellström's upper limit, the same heat at every depth.",
}
_GROUND_NOTE = (
    "Undisturbed ground is the mean over the depth on the coldest day of the year, with the "
    "gradient given{}."
)
_MEASURED_NOTE = (
    "Undisturbed ground as measured; its year near the surface is left out: on its coldest day the "
    "mean over these {:.0f} m is {:.1f} K colder (the damped wave)."
)
_WARMEST_DAY = "; against the upper limit, on the warmest"


def fit_bores(case: Case, choice: BoreholeArray, count: int) -> Fit:
    """So many boreholes, as long as the limit asks."""
    coordinates, classes = _standing(choice, case.plot, count)
    loops = count / case.limits.in_series  # between which the flow divides
    each_flow = case.mass_flow / loops
    ground, flow = case.ground, each_flow / choice.u_tubes
    ends = cache(lambda depth: undisturbed_ground(choice, ground, depth))

    def with_film(brine: Fluid) -> tuple[GroundResistance, OfDepth]:
        film, wall = film_and_wall(choice.pipe, brine, flow)
        if choice.resistance is not None:
            return GroundResistance(film, wall), _as_measured(case, choice, loops, brine, film)
        local, found = _resistance(choice, ground, film + wall, brine, each_flow)
        return GroundResistance(film, wall, local), found

    field = borefield(
        ground,
        classes,
        case.draw,
        temperature_change=case.change,
        borehole_radius=choice.borehole_radius,
        buried=choice.buried + ground.surface.screened(ground.conductivity),
        undisturbed=lambda depth: ends(depth)[0],
        warmest=lambda depth: ends(depth)[1],
        resistance=with_film(case.brine)[1],
        warm_resistance=with_film(case.warm_brine)[1],
        years=case.years,
    )

    def needed() -> float:
        deepest = field.undisturbed(choice.deepest)
        # Brine comes from the ground no warmer than the ground is, whatever its rise.
        if deepest <= case.limit and not case.draw.put_back:
            raise NoDepthError(
                Fault(
                    "least_return",
                    f"of {case.limit:g} °C cannot be kept: undisturbed ground is at "
                    f"{deepest:.2f} °C; lower the limit",
                    case.limit,
                    f"well below {deepest:.2f} °C",
                ),
                depth=choice.deepest,
                coldest_return=deepest,
            )
        near = None if case.near is None else case.near / count
        return field.shallowest(case.between, (_SHALLOWEST, 3.0 * choice.deepest), near) * count

    total = needed() if case.by_rate is None else or_infinite(needed)
    each = case.each(count, total)

    def sized() -> Sized:
        own = _resistance_by_temperature(case, choice, loops, each)
        history = field.life(each).at_own_film(count * each, case.between, own)
        resistance, over_depth = with_film(case.brine_from(history.coldest_return))
        return Sized(
            count=count,
            needed=total,
            each=each,
            resistance=replace(resistance, borehole_effective=over_depth(each)),
            history=history,
            coldest_return=history.coldest_return,
            coldest_ground=history.coldest_ground,
            notes=(
                *((_LEAST_NOTE,) if total <= count * _SHALLOWEST * (1.0 + 1e-9) else ()),
                *NOTES,
                _RESISTANCE_NOTES[choice.resistance is not None],
                _ground_note(case, choice, each),
                *_empty_note(choice, count),
            ),
            coordinates=coordinates,
            nearest=float(classes.distance.min()) if count > 1 else None,
            by_hand=_by_three_pulses(case, field, history, each),
            set_by=case.set_by(history, lambda metres, held: field.at(metres / count, held), total),
        )

    return Fit(count, total, each, cache(sized))


def _empty_note(choice: BoreholeArray, count: int) -> tuple[str, ...]:
    """Which places round a rectangle no borehole takes."""
    if not choice.perimeter or choice.positions:
        return ()
    empty = sorted(empty_places(count, choice.rows, choice.spacing)[:, 1].tolist())
    across, along = np.ptp(perimeter_field(count, choice.rows, choice.spacing), axis=0)
    if not empty or not across:  # full, or one line
        return ()
    where, stay = f"{empty[0]:g} m", "one place stays"
    if len(empty) > 1:
        where, stay = f"{where} to {empty[-1]:g} m", f"{len(empty)} places stay"
    return (
        f"Boreholes stand along the sides of a rectangle of {across:g} m by {along:g} m, "
        f"{choice.spacing:g} m apart; along a side of {along:g} m, {where} from a corner, {stay} "
        "empty. Drill them so, or give positions.",
    )


def _by_three_pulses(
    case: Case, field: Borefield, history: History, depth: float
) -> Published | None:
    """The classical equation for the month that governs; None where it has no answer.

    The mean of the year for the whole life, the month and the peak that end together; neighbours by
    the field's response against one borehole's at the life's end.
    """
    choice, part, ground, months = case.choice, history.limiting, case.ground, field.months
    assert isinstance(choice, BoreholeArray)
    upper = part.limit == "upper"
    draw, hours = case.draw, case.draw.cold_hours if upper else case.draw.peak_hours
    at = (part.year - 1) * 12 + (part.month - draw.first_month) % 12
    peak = float((months.warm_draw if upper else months.cold_draw)[at])
    pulses = pulse_resistances_cylindrical_source(
        choice.borehole_radius,
        ground.conductivity,
        ground.diffusivity,
        years=part.year,
        month_days=DAYS_PER_YEAR / 12.0,
        peak_hours=hours,
    )
    alone = prepare_field_response(
        distance_classes([[0.0, 0.0]], choice.borehole_radius),
        choice.borehole_radius,
        ground.conductivity,
        ground.diffusivity,
        [DAYS_PER_YEAR * 86_400.0 * case.years],
    ).at_depth(depth, field.buried)[0]
    together = field.response.at_depth(depth, field.buried)[-3]
    year = draw.annual / (DAYS_PER_YEAR * 86_400.0)
    length = three_pulse_length_kavanaugh_rafferty(
        yearly_load=year,
        monthly_load=float(months.draws[at]),
        peak_load=peak,
        borehole_resistance=(field.warm_resistance if upper else field.resistance)(depth),
        ground=replace(pulses, life=pulses.life + float(together - alone)),
        mean_fluid_temperature=(case.most if upper else case.limit)
        - 0.5 * peak * months.change_per_watt,
        undisturbed_temperature=(field.warmest if upper else field.undisturbed)(depth),
    )
    if length is None:
        return None
    return Published(
        f"Three pulses that end together: the year's mean of {year:.0f} W for {part.year} years, "
        f"{months.draws[at]:.0f} W for a month, {peak:.0f} W for {hours:g} h",
        "Kavanaugh & Rafferty (1997) in the form of Philippe, Bernier & Marchio, ASHRAE Journal, "
        "July 2010; neighbours by Bernier, Chahla & Pinel, ASHRAE Transactions 114(2), 2008",
        "A check by hand: endless cylinders without ends, one month instead of a year's wave. "
        "Borehole resistance, limits and ground are the same. Where the first year governs, "
        "what the months before did to the ground is missed: up to a sixth.",
        length=length,
    )


@lru_cache(maxsize=4)  # other grounds and loads are tried for the same field
def _standing(choice: BoreholeArray, plot: Plot, count: int) -> tuple[Floats, DistanceClasses]:
    """Where boreholes stand [m], and how far apart."""
    coordinates = field_of(choice, plot, count)
    return coordinates, distance_classes(coordinates, choice.borehole_radius)


def _as_measured(
    case: Case, choice: BoreholeArray, loops: float, brine: Fluid, film: float
) -> OfDepth:
    """A measured resistance over an active depth [m K/W], with a film [m K/W, of one pipe].

    It holds at its own flow, with such brine as thick as it is.
    """
    at = case.mass_flow if case.measured_at is None else case.measured_at
    had = fluid(case.mixture, brine.temperature_c)
    held = film
    if (at, had.viscosity) != (case.mass_flow, brine.viscosity):
        held, _ = film_and_wall(choice.pipe, had, at / loops / choice.u_tubes)
    flows = case.mass_flow / loops * brine.specific_heat, at / loops * brine.specific_heat
    return lambda depth: float(_at_flow(choice, depth, film - held, *flows))


def _at_flow(
    choice: BoreholeArray,
    depth: float,
    thicker: float | Floats,
    capacity: float | Floats,
    held: float | Floats,
) -> Floats:
    """A measured resistance at another flow than it holds at [m K/W], both of so much heat [W/K].

    There the film resists so much more [m K/W, per metre of one pipe].

    Notes
    -----
    Where the test's film is not known it may have been thin already, so that nothing is taken off
    (safe side). With less flow than it holds at legs exchange more, by Hellström's upper limit
    H²/(3 Ra (m c)²): between them lie no more than the ways to the wall and back, so that Ra is at
    most 4 Rb. Brine comes back no warmer than the wall, half its change above its mean.
    """
    measured = choice.resistance
    assert measured is not None
    more = np.asarray(thicker) / choice.gathering_pipe
    local = measured + (more if choice.own_film else np.maximum(more, 0.0))
    exchanged = 1.0 / (local * capacity**2) - 1.0 / (measured * held**2)
    more_exchanged = np.maximum(exchanged, 0.0) * depth**2 / 12.0
    return np.asarray(np.maximum(local + more_exchanged, 0.5 * depth / capacity))


def _resistance(
    choice: BoreholeArray, ground: Ground, pipe: float, brine: Fluid, mass_flow: float
) -> tuple[float, OfDepth]:
    """At one depth, and over an active depth [m K/W]."""
    capacity = mass_flow * brine.specific_heat
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


def _resistance_by_temperature(
    case: Case, choice: BoreholeArray, loops: float, depth: float
) -> OfTemperature:
    """Over an active depth [m K/W], with brine of a mean temperature [degC]."""
    brines, mass_flow = case.brines, case.mass_flow / loops
    flow = mass_flow / choice.u_tubes
    film = film_by_temperature(choice.pipe, brines, flow)
    if choice.resistance is not None:
        at = mass_flow if case.measured_at is None else case.measured_at / loops
        held = film_by_temperature(choice.pipe, brines, at / choice.u_tubes)
        by_mean = sorted((brine.temperature_c, brine.specific_heat) for brine in brines)
        means, heats = np.array(by_mean).T

        def as_measured(mean: Floats) -> Floats:
            heat = np.interp(mean, means, heats)
            return _at_flow(choice, depth, film(mean) - held(mean), mass_flow * heat, at * heat)

        return as_measured
    found = []
    for brine in brines:
        inside, wall = film_and_wall(choice.pipe, brine, flow)
        _, resistance = _resistance(choice, case.ground, inside + wall, brine, mass_flow)
        found.append((inside, resistance(depth)))
    films, effective = np.array(sorted(found)).T
    return lambda mean: np.interp(film(mean), films, effective)


def _ground_note(case: Case, choice: BoreholeArray, depth: float) -> str:
    """What undisturbed ground is, over an active depth [m]."""
    ground, top = case.ground, choice.buried
    if ground.undisturbed is None and not ground.profile:
        return _GROUND_NOTE.format(_WARMEST_DAY if "upper" in case.held_limits else "")
    means = mean_over_depth(ground.surface, ground.diffusivity, top, top + depth, _DAYS)
    return _MEASURED_NOTE.format(depth, float(means.mean() - means.min()))


def undisturbed_ground(
    choice: BoreholeArray, ground: GroundConditions, depth: float
) -> tuple[float, float]:
    """Mean over an active depth on the year's coldest and warmest day [degC].

    Of a test, one; of temperatures by depth, the least and the most that they tell.
    """
    top, bottom = choice.buried, choice.buried + depth
    if ground.undisturbed is not None:
        return ground.undisturbed, ground.undisturbed
    if ground.profile:
        return profile_means(
            ground.profile,
            ground.surface,
            ground.diffusivity,
            ground.geothermal_gradient,
            top=top,
            bottom=bottom,
        )
    means = mean_over_depth(ground.surface, ground.diffusivity, top, bottom, _DAYS)
    warmer = ground.geothermal_gradient * 0.5 * (top + bottom)
    return float(means.min()) + warmer, float(means.max()) + warmer
