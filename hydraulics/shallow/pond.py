"""How much pipe must lie in a pond to draw the peak from its coldest water?

The water moves past the pipe by its own buoyancy; no soil is involved. Whether the pond holds that
temperature is not answered here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, NoSolutionError
from hydraulics.findings import OPEN_WATER_CAUTIONS
from hydraulics.fluid.mixture import Fluid
from hydraulics.ground.pipe_heat import film_and_wall, film_resistance
from hydraulics.pipework.pipe import Pipe

_LIFT_AT = np.linspace(0.0, 1.0, 9)
_HALFWAY: Final = 4  # of them
_LIFT_SHARES = np.array([0.5, *[1.0] * 7, 0.5]) / 8.0  # trapezoids
_PIECES: Final = 512  # of the table of water's properties, within 2e-13 of the powers
# Gauss points along the pipe: 4 leave the return within 0.1 % of the brine's change (tested).
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(4)
_ALONG, _SHARES = 0.5 * (1.0 + _NODES), 0.5 * _WEIGHTS
LEAST_WATER: Final = 0.02  # degC; liquid water at that pressure, just above freezing
WARMEST_WATER: Final = 30.0  # degC; a pond's coldest is below
_WATER: Final = np.array(
    [
        [999.109833211, 0.00113725620212, 0.588832453167, 4188.38593829],
        [-2.26142856465, -0.000451221110748, 0.0287648220622, -16.2546254091],
        [-1.32492145411, 0.000144022583616, -0.00364074598169, 10.1710408385],
        [0.15769783364, -4.20490230193e-05, 0.000551291140389, -3.24153458775],
        [-0.0278174418246, 1.16980304814e-05, -0.000127591208127, 0.889844252614],
        [0.0053805581404, -3.13445493454e-06, 2.65042831746e-05, -0.233441125059],
        [-0.00123661724224, 8.13225108336e-07, -5.09442159808e-06, 0.0709770646554],
        [0.0002709094128, -2.032556072e-07, 1.07446037568e-06, -0.0273430984576],
        [0.0, 5.02948688077e-08, -2.1601592896e-07, 0.00805801234432],
        [0.0, -1.4661369984e-08, 0.0, 0.0],
        [0.0, 3.58925851341e-09, 0.0, 0.0],
    ]
)
"""Density [kg/m3], viscosity [Pa s], conductivity [W/m K] and heat capacity [J/kg K] of water at
1.2 bar, some 2 m under, from LEAST_WATER to WARMEST_WATER: powers of it from -1 to 1, through what
CoolProp gives by IAPWS-95, within 3e-9 of it (tested), without its two seconds of start."""
_CLOSE = 1e-9  # K, of the pipe's outside
_STEPS = 200
Floats = NDArray[np.float64]

CAUTIONS = (
    "The pond's own heat is not checked: a small or shallow pond cools as heat is drawn. Have its "
    "volume, depth and inflow judged by someone licensed to, and its water quality and consents.",
    *OPEN_WATER_CAUTIONS,
)


@dataclass(frozen=True, slots=True)
class SizedMat:
    """A sized set of equal coils of pipe lying in water.

    Attributes
    ----------
    total_length
        Pipe in all coils [m].
    inside_film, wall, outside_film
        Resistances per metre of pipe [m K/W], that of the water the mean along the pipe.
    outside_temperature
        Of the pipe's outside where the brine enters, its coldest [degC].
    """

    total_length: float
    inside_film: float
    wall: float
    outside_film: float
    outside_temperature: float


def churchill_chu_1975(rayleigh: ArrayLike, prandtl: ArrayLike) -> Floats:
    """Return the Nusselt number of free convection around a long horizontal cylinder [-].

    Parameters
    ----------
    rayleigh
        On the diameter, up to 1e12.
    prandtl
        Any.

    Notes
    -----
    {0.60 + 0.387 Ra^(1/6)/[1 + (0.559/Pr)^(9/16)]^(8/27)}^2; within about 20 % (Churchill S. W.,
    Chu H. H. S., Int. J. Heat Mass Transfer 18 (1975) 1049-1053; Incropera eq. 9.34). Still water:
    any current, or wind stirring the pond, makes it better.
    """
    ra, pr = np.asarray(rayleigh, dtype=float), np.asarray(prandtl, dtype=float)
    return np.asarray(
        (0.60 + 0.387 * ra ** (1 / 6) / (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27)) ** 2
    )


def water(at_c: Floats) -> Floats:
    """Density, viscosity, conductivity and heat capacity of water, one row each.

    Parameters
    ----------
    at_c
        Temperature [degC], from :data:`LEAST_WATER` to :data:`WARMEST_WATER`.

    Returns
    -------
    ndarray
        [kg/m3], [Pa s], [W/m K], [J/kg K].
    """
    scaled = 2.0 * (at_c - LEAST_WATER) / (WARMEST_WATER - LEAST_WATER) - 1.0
    return np.asarray(np.polynomial.polynomial.polyval(scaled, _WATER))


@cache
def _table() -> Floats:
    """Cubics that meet :func:`water` in value and slope, by power, property and piece."""
    polynomial = np.polynomial.polynomial
    scaled = np.linspace(-1.0, 1.0, _PIECES + 1)
    value = polynomial.polyval(scaled, _WATER)
    rate = polynomial.polyval(scaled, polynomial.polyder(_WATER)) * (2.0 / _PIECES)
    rise, begin, end = np.diff(value), rate[:, :-1], rate[:, 1:]
    return np.stack(
        (begin + end - 2.0 * rise, 3.0 * rise - 2.0 * begin - end, begin, value[:, :-1])
    )


def _around(surface: Floats, water_c: float) -> tuple[Floats, Floats]:
    """Density at all points of the lift, and every property halfway, from the table."""
    place = surface[..., None] + (water_c - surface[..., None]) * _LIFT_AT
    place -= LEAST_WATER
    place *= _PIECES / (WARMEST_WATER - LEAST_WATER)
    piece = np.minimum(place.astype(np.intp), _PIECES - 1)
    place -= piece
    one, two, three, four = _table()[:, 0].take(piece, axis=-1)
    density = ((one * place + two) * place + three) * place + four
    half = place[..., _HALFWAY]
    one, two, three, four = _table().take(piece[..., _HALFWAY], axis=-1)
    return density, ((one * half + two) * half + three) * half + four


def water_around_pipe(
    diameter: float, water_c: float, outside_c: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Return (Rayleigh number, Nusselt number, water's conductivity [W/m K]) around a pipe.

    Parameters
    ----------
    diameter
        Outside diameter of the pipe [m].
    water_c
        Temperature of the water away from the pipe [degC], up to :data:`WARMEST_WATER`.
    outside_c
        Temperature of the pipe's outside [degC]; below 0 the water next to it is taken at 0.

    Notes
    -----
    Water is densest at 4 degC and its expansion coefficient changes sign there, so buoyancy is
    taken from true densities: twice the mean difference across the film, which is the usual
    end-to-end difference where density is linear, and does not vanish when both ends happen to be
    equally dense on either side of 4 degC. That mean is our own choice; the correlation was not
    measured across the maximum, so take 30 % as its uncertainty there.
    """
    surface = np.maximum(np.asarray(outside_c, dtype=float), LEAST_WATER)
    at_all, (density, viscosity, conductivity, heat) = _around(surface, water_c)
    # Twice the mean equals the end-to-end difference where density is linear in temperature.
    lift = 2.0 * np.abs(at_all - at_all[..., -1:]) @ _LIFT_SHARES
    prandtl = heat * viscosity / conductivity
    rayleigh = g * lift * diameter**3 * density * heat / (viscosity * conductivity)
    return rayleigh, churchill_chu_1975(rayleigh, prandtl), conductivity


def size_pond_mat(
    peak: float,
    temperature_change: float,
    pipe: Pipe,
    brine: Fluid,
    coldest_water: float,
    *,
    loops: int,
    coil_diameter: float = 1.0,
    least_return: float = 0.0,
    water_film: float = 1.0,
) -> SizedMat:
    """Return the pipe needed to draw the peak steadily from a pond's coldest water.

    Parameters
    ----------
    peak
        Greatest steady draw [W].
    temperature_change
        Rise of the brine through the mat [K].
    pipe
        Bore and outside diameter.
    brine
        Properties at about the coldest mean brine temperature.
    coldest_water
        Coldest water at the mat's depth [degC], from :data:`LEAST_WATER`.
    loops
        Equal coils in parallel.
    coil_diameter
        Of each coil [m].
    least_return
        Limit on the brine coming from the pond [degC].
    water_film
        Resistance of the film outside over what is computed for it [-]: the uncertain part.

    Raises
    ------
    InputError
        When a number is not usable.
    NoSolutionError
        When the water is no warmer than the limit on the return.

    Notes
    -----
    Water at one temperature along the pipe, which the brine so approaches exponentially: m cp dT =
    (Tw - T) dL/R', with film inside, wall, and free convection outside after Churchill & Chu (1975)
    taken where the brine is as cold as it is there. Were R' the same all along, the return would
    follow the closed form for a sink of one temperature, e = 1 - exp(-NTU). Coils lying close shade
    each other: lay them loosely.
    """
    refuse(
        number_fault("peak", peak, "W", above=0.0),
        number_fault("temperature_change", temperature_change, "K", above=0.0),
        number_fault("coldest_water", coldest_water, "°C", at_least=LEAST_WATER),
        number_fault("loops", loops, "loops", at_least=1),
        number_fault("coil_diameter", coil_diameter, "m", above=4.0 * pipe.outside_diameter),
        number_fault("least_return", least_return, "°C"),
        Fault(
            "coldest_water",
            f"is {coldest_water:g} °C; a pond's coldest is below {WARMEST_WATER:g}",
            coldest_water,
            f"{LEAST_WATER:g} to {WARMEST_WATER:g} °C",
        )
        if coldest_water > WARMEST_WATER
        else None,
    )
    if coldest_water <= least_return:
        raise NoSolutionError(
            Fault(
                "least_return",
                f"of {least_return:g} °C is no colder than the water at "
                f"{coldest_water:g} °C; no length of pipe is enough",
                least_return,
                f"below {coldest_water:g} °C",
            )
        )
    flow = peak / (brine.specific_heat * temperature_change * loops)
    inside, wall = film_and_wall(pipe, brine, flow, pipe.bore / coil_diameter)

    def outside_film(outside_c: Floats) -> Floats:
        _, number, k = water_around_pipe(pipe.outside_diameter, coldest_water, outside_c)
        return film_resistance(number, k) * water_film

    def outside_of(brine_c: Floats) -> Floats:
        # The film gives way with the fourth to third root of the difference across it, so that
        # each step leaves less than a third of the error, and two steps tell where they lead
        # (Aitken).
        def step(outside: Floats) -> Floats:
            share = (inside + wall) / (inside + wall + outside_film(outside))
            return np.asarray(brine_c + (coldest_water - brine_c) * share)

        outside = 0.5 * (brine_c + coldest_water)
        for _ in range(_STEPS):
            once = step(outside)
            if np.abs(once - outside).max() < _CLOSE:
                return once
            twice = step(once)
            bend = twice - 2.0 * once + outside
            steady = np.abs(bend) > 1e-9
            led = outside - (once - outside) ** 2 / np.where(steady, bend, 1.0)
            outside = np.clip(np.where(steady, led, twice), brine_c, coldest_water)
        return outside

    # dL = m cp R' dT/(Tw - T), so with u = ln(Tw - T) the length is m cp times R' over u.
    entering = coldest_water - (least_return - temperature_change)
    span = math.log(entering / (coldest_water - least_return))
    gaps = entering * np.exp(-span * _ALONG)
    coldest = coldest_water - entering
    outside = outside_of(np.append(coldest_water - gaps, coldest))
    film = float(_SHARES @ outside_film(outside[:-1]))
    return SizedMat(
        peak / temperature_change * (inside + wall + film) * span,
        inside,
        wall,
        film,
        float(outside[-1]),
    )
