"""What resists heat between the brine and the outside of a buried pipe?

The film inside (laminar, turbulent and between, straight or coiled) and the pipe's wall. Each
published correlation is a function of its own; :func:`nusselt` joins them without a jump.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.fluid.mixture import Fluid
from hydraulics.pipework.pipe import Pipe

# Fully developed laminar flow in a round pipe (Shah & London 1978, Incropera table 8.1).
NUSSELT_UNIFORM_FLUX = 48.0 / 11.0  # 4.364
# Conductivity of polyethylene, W/m K: 0.38 to 0.45 in use; 0.389 is read in Geothermal Energy 3
# (2015) 9, table 1. 0.40 is common practice.
PE_CONDUCTIVITY = 0.40

_COIL_TURBULENT = 2.2e4  # Re from which VDI Heat Atlas takes a coil as turbulent
STRAIGHT_LAMINAR, STRAIGHT_TURBULENT = 2300.0, 4000.0  # Gnielinski 2013
MOST_PRANDTL = 2000.0  # of the correlations
_FILM_STEP = 0.2  # K
# Below this bore/coil diameter there are no coil data to speak of: fade to straight pipe.
_LEAST_CURVATURE = 0.005

Floats = NDArray[np.float64]


def gnielinski_1976(reynolds: ArrayLike, prandtl: ArrayLike) -> Floats:
    """Return the Nusselt number of turbulent flow in a long smooth straight pipe [-].

    Parameters
    ----------
    reynolds
        On the bore, 2300 to 5e6; below about 1000 the formula is negative.
    prandtl
        0.5 to 2000.

    Notes
    -----
    Nu = (f/8)(Re - 1000)Pr / (1 + 12.7 sqrt(f/8)(Pr^(2/3) - 1)), with f = (1.82 lg Re - 1.64)^-2.
    Within about 10 % from Re 1e4, 20 % at Re 4000. No viscosity-at-the-wall or entry-length term.

    References
    ----------
    Gnielinski V., Int. Chem. Eng. 16 (1976) 359-368; friction after Petukhov (1970).
    """
    re, pr = np.asarray(reynolds, dtype=float), np.asarray(prandtl, dtype=float)
    eighth = (1.82 * np.log10(re) - 1.64) ** -2 / 8.0
    return np.asarray(
        eighth * (re - 1000.0) * pr / (1.0 + 12.7 * np.sqrt(eighth) * (np.cbrt(pr) ** 2 - 1.0))
    )


def gnielinski_2013(reynolds: ArrayLike, prandtl: ArrayLike) -> Floats:
    """Return the Nusselt number in a long smooth straight pipe at any Reynolds number [-].

    Notes
    -----
    Uniform heat flux: 4.364 up to Re 2300, Gnielinski (1976) from 4000, linear in Re between
    (Gnielinski V., On heat transfer in tubes, Int. J. Heat Mass Transfer 63 (2013) 134-140).
    Continuous. In the transition the true value may lie anywhere between the two branches.
    """
    re, pr = np.asarray(reynolds, dtype=float), np.asarray(prandtl, dtype=float)
    share = np.clip((re - STRAIGHT_LAMINAR) / (STRAIGHT_TURBULENT - STRAIGHT_LAMINAR), 0.0, 1.0)
    turbulent = gnielinski_1976(np.maximum(re, STRAIGHT_TURBULENT), pr)
    return np.asarray((1.0 - share) * NUSSELT_UNIFORM_FLUX + share * turbulent)


def schmidt_critical_reynolds(curvature: ArrayLike) -> Floats:
    """Return the Reynolds number up to which flow in a coil stays laminar [-].

    Parameters
    ----------
    curvature
        Bore over coil diameter [-]; straight pipe is 0.

    Notes
    -----
    2300 (1 + 8.6 (d/D)^0.45): Schmidt E. F., Chemie Ingenieur Technik 39 (1967) 781-789, as in
    the VDI Heat Atlas.
    """
    return np.asarray(2300.0 * (1.0 + 8.6 * np.asarray(curvature, dtype=float) ** 0.45))


def manlapaz_churchill_1981(reynolds: ArrayLike, prandtl: ArrayLike, curvature: float) -> Floats:
    """Return the Nusselt number of laminar flow in a coil, uniform heat flux [-].

    Parameters
    ----------
    reynolds
        On the bore, up to :func:`schmidt_critical_reynolds`.
    prandtl
        Any.
    curvature
        Bore over coil diameter [-].

    Notes
    -----
    Nu^3 = (4.364 + 4.636/x3)^3 + 1.816 (De/x4)^1.5, x3 = (1 + 1342/(De^2 Pr))^2,
    x4 = 1 + 1.15/Pr, De = Re sqrt(d/D). Straight pipe as De goes to 0. At Pr 30 it lies within
    5 % of Dravid et al. (1971) and 30 to 45 % below Schmidt (1967): the safe choice of the two.

    References
    ----------
    Manlapaz R. L., Churchill S. W., Chem. Eng. Communications 9 (1981) 185-200 (formula read in a
    public reproduction).
    """
    re, pr = np.asarray(reynolds, dtype=float), np.asarray(prandtl, dtype=float)
    dean = re * math.sqrt(curvature)
    # 4.636/x3 written so that De = 0 gives 0 rather than 1/0.
    swirl = (dean**2 * pr / (dean**2 * pr + 1342.0)) ** 2
    return np.asarray(
        np.cbrt(
            (NUSSELT_UNIFORM_FLUX + 51.0 / 11.0 * swirl) ** 3
            + 1.816 * (dean / (1.0 + 1.15 / pr)) ** 1.5
        )
    )


def gnielinski_coil_turbulent(reynolds: ArrayLike, prandtl: ArrayLike, curvature: float) -> Floats:
    """Return the Nusselt number of turbulent flow in a coil [-].

    Notes
    -----
    Nu = (f/8) Re Pr / (1 + 12.7 sqrt(f/8)(Pr^(2/3) - 1)), f = 0.3164/Re^0.25 + 0.03 (d/D)^0.5,
    from Re 22,000: Gnielinski V., in VDI Heat Atlas, helically coiled tubes (read in a public
    reproduction of the 9th edition). About 15 %.
    """
    re, pr = np.asarray(reynolds, dtype=float), np.asarray(prandtl, dtype=float)
    eighth = (0.3164 / re**0.25 + 0.03 * math.sqrt(curvature)) / 8.0
    return np.asarray(eighth * re * pr / (1.0 + 12.7 * np.sqrt(eighth) * (np.cbrt(pr) ** 2 - 1.0)))


def nusselt(reynolds: ArrayLike, prandtl: ArrayLike, curvature: float = 0.0) -> Floats:
    """Return the Nusselt number inside a straight or coiled pipe, continuous in Re [-].

    Parameters
    ----------
    reynolds
        On the bore, 0 to 5e6.
    prandtl
        0.5 to 2000.
    curvature
        Bore over coil diameter [-]; 0 for straight pipe, below 0.3.

    Raises
    ------
    InputError
        When a number is not finite or outside those limits.

    Notes
    -----
    Straight: Gnielinski (2013). Coil: Manlapaz & Churchill up to Schmidt's critical Reynolds
    number, the turbulent coil law from 22,000, linear in Re between as the VDI Heat Atlas does.
    Coils wider than 200 bores fade linearly in d/D to straight pipe (own bridge: no data there).
    """
    re, pr = np.asarray(reynolds, dtype=float), np.asarray(prandtl, dtype=float)
    for field, value, low, high in (
        ("reynolds", re, 0.0, 5e6),
        ("prandtl", pr, 0.5, MOST_PRANDTL),
        ("curvature", np.asarray(curvature, dtype=float), 0.0, 0.3),
    ):
        bad = value[~((value >= low) & (value <= high))]
        if bad.size:
            allowed = f"{low:g} to {high:g}"
            raise InputError(
                Fault(
                    field,
                    f"is {bad.flat[0]:g}; the correlations hold from {allowed}",
                    float(bad.flat[0]),
                    allowed,
                )
            )
    straight = gnielinski_2013(re, pr)
    if curvature == 0.0:
        return straight
    critical = float(schmidt_critical_reynolds(curvature))
    # Very tight coils would be critical above 22,000; keep the bridge open.
    top = max(_COIL_TURBULENT, 1.05 * critical)
    share = np.clip((re - critical) / (top - critical), 0.0, 1.0)
    laminar = manlapaz_churchill_1981(np.minimum(re, critical), pr, curvature)
    turbulent = gnielinski_coil_turbulent(np.maximum(re, top), pr, curvature)
    coil = (1.0 - share) * laminar + share * turbulent
    fade = min(1.0, curvature / _LEAST_CURVATURE)
    return np.asarray(straight + fade * (coil - straight))


def film_resistance(nusselt_number: ArrayLike, fluid_conductivity: ArrayLike) -> Floats:
    """Return the film's resistance [m K/W, per metre of pipe]: 1/(pi k Nu)."""
    nu = np.asarray(nusselt_number, dtype=float)
    return np.asarray(1.0 / (math.pi * np.asarray(fluid_conductivity, dtype=float) * nu))


def wall_resistance(
    outside_diameter: float, bore: float, conductivity: float = PE_CONDUCTIVITY
) -> float:
    """Return the pipe wall's resistance [m K/W, per metre of pipe]: ln(do/di)/(2 pi k).

    Raises
    ------
    InputError
        When the bore is not less than the outside diameter, or a number is not usable.
    """
    refuse(
        number_fault("bore", bore, "m", above=0.0),
        number_fault("outside_diameter", outside_diameter, "m", above=bore),
        number_fault("conductivity", conductivity, "W/m K", above=0.0),
    )
    return math.log(outside_diameter / bore) / (2.0 * math.pi * conductivity)


def film_and_wall(
    pipe: Pipe, brine: Fluid, mass_flow: float, curvature: float = 0.0
) -> tuple[float, float]:
    """Resistances of the film inside a pipe and of its wall [m K/W, per metre of pipe].

    Parameters
    ----------
    brine
        Properties at its mean temperature.
    mass_flow
        In the pipe [kg/s].
    curvature
        Bore over coil diameter [-]; 0 for straight pipe.
    """
    reynolds = 4.0 * mass_flow / (math.pi * pipe.bore * brine.viscosity)
    film = film_resistance(nusselt(reynolds, brine.prandtl, curvature), brine.conductivity)
    return float(film), wall_resistance(pipe.outside_diameter, pipe.bore)


def film_by_temperature(
    pipe: Pipe, brines: Sequence[Fluid], mass_flow: float, curvature: float = 0.0
) -> Callable[[Floats], Floats]:
    """Return the film's resistance [m K/W, per metre of pipe] at a brine temperature [degC].

    Parameters
    ----------
    brines
        The same mixture at several temperatures, coldest first; the ends hold beyond them, and at
        each it is what :func:`film_and_wall` gives.
    mass_flow, curvature
        As there.
    """
    at, viscosity, prandtl, conducts = np.array(
        [(b.temperature_c, math.log(b.viscosity), math.log(b.prandtl), b.conductivity)
         for b in brines]
    ).T  # fmt: skip
    # As fine as that a straight line through the bend at Re 2300 is within 0.02 K of brine.
    fine = np.union1d(at, np.arange(at[0], at[-1], _FILM_STEP))
    thick = np.exp(np.interp(fine, at, viscosity))
    number = nusselt(
        4.0 * mass_flow / (math.pi * pipe.bore * thick),
        np.exp(np.interp(fine, at, prandtl)),
        curvature,
    )
    film = film_resistance(number, np.interp(fine, at, conducts))
    return lambda temperature: np.interp(temperature, fine, film)
