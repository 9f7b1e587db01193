"""How much pressure does a length of pipe, straight or coiled, take at a given Reynolds number?

Everything is written in the dimensionless friction number

    G = f · Re²,   so that   Δp = G · μ² L / (2 ρ d³),

with f the Darcy friction factor. A flow split has one answer only if Δp rises with flow without a
jump or a flat, that is if G rises with Re; f itself may rise, fall or turn.

The law that the solver uses is :func:`friction_number`, composed here of published parts:

* laminar straight pipe, Hagen-Poiseuille: :func:`hagen_poiseuille`
* turbulent straight pipe, Colebrook (1939): :func:`colebrook`
* laminar coil, White (1929): :func:`white_coil_ratio`
* turbulent coil, Mishra & Gupta (1979): :func:`mishra_gupta_excess`
* where a coil stops being laminar, for the report only, Ito (1959): :func:`ito_critical_reynolds`

Rivals that the tests compare with (Ito, Mori & Nakayama, Schmidt) are in the ``fluids`` library.
How well it is known: coil correlations hold within about 10 to 15 %. In smooth straight pipe the
law runs through the middle of 123 measured points between Re 2000 and 4000, 12 % from them rms; 6 %
below their middle at Re 2000 to 2700. Single points where a quiet inlet kept the flow laminar lie
far below it, the safe side for a pump (tests/published/test_transition.py).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Re; ends of transition in straight pipe: those between which the cubic below runs through the
# points of Stanton & Pannell (1914), Senecal (1951) and McKeon et al. (2004). Moving either by 200
# changes the distance from the points by less than a per cent.
LAMINAR_LIMIT: Final = 2000.0
TURBULENT_LIMIT: Final = 3000.0
WHITE_DEAN_LIMIT: Final = 11.6  # De; below it White found no effect of curvature
LARGEST_REYNOLDS: Final = 1e8  # the far end of Moody's chart and of the law
LARGEST_RELATIVE_ROUGHNESS: Final = 0.05  # the far end of Moody's chart
LARGEST_CURVATURE: Final = 1.0 / 7.0  # d/D; Schmidt's limit, the widest that is published
_EXCESS_FROM: Final = 4500.0  # Re; from here Mishra & Gupta's excess is published
_EXCESS_STEEPNESS: Final = (
    12.0  # our own choice: half at that Re, 8 % at 0.8 and 93 % at 1.25 of it
)
COIL_LAW_ERROR_PERCENT: Final = 15.0  # scatter between the published coil correlations


def hagen_poiseuille(reynolds: Array) -> Array:
    """Darcy friction factor of laminar flow in straight pipe, 64/Re (Hagen 1839, Poiseuille 1840).

    Parameters
    ----------
    reynolds
        Reynolds number on the bore [-], more than 0.

    Returns
    -------
    Array
        Darcy friction factor [-].
    """
    return 64.0 / reynolds


def colebrook(reynolds: Array, relative_roughness: Array | float) -> tuple[Array, Array]:
    """Darcy friction factor of turbulent flow in straight pipe and its logarithmic slope.

    Parameters
    ----------
    reynolds
        Reynolds number on the bore [-], 3000 to 1e8.
    relative_roughness
        Roughness over bore [-], 0 to 0.05.

    Returns
    -------
    factor, slope
        Darcy friction factor f [-] and d ln f / d ln Re [-], exact for the returned f.

    Notes
    -----
    1/√f = -2 log10(ε/(3.7 d) + 2.51/(Re √f)), solved for x = 1/√f by three Newton steps from
    Haaland's (1983) explicit value, which leaves less than 1e-12 of x anywhere in the range.

    References
    ----------
    C. F. Colebrook, Turbulent flow in pipes, J. Inst. Civil Engineers 11 (1939) 133-156.
    """
    rough = np.asarray(relative_roughness, dtype=float) / 3.7
    x = -1.8 * np.log10(rough**1.11 + 6.9 / reynolds)
    two_over_ln10 = 2.0 / np.log(10.0)
    film = 2.51 / reynolds
    for _ in range(3):
        argument = rough + film * x
        x = x - (x + two_over_ln10 * np.log(argument)) / (1.0 + two_over_ln10 * film / argument)
    pull = two_over_ln10 * film / (rough + film * x)
    # d ln f = -2 d ln x, and implicit differentiation gives d ln x / d ln Re = pull / (1 + pull).
    return x**-2, -2.0 * pull / (1.0 + pull)


def white_coil_ratio(dean: Array) -> tuple[Array, Array]:
    """Laminar friction in a coil over that in straight pipe, and its logarithmic slope.

    Parameters
    ----------
    dean
        Dean number De = Re √(d/D) [-], d the bore and D the diameter of the coil.

    Returns
    -------
    ratio, slope
        f_coil / f_straight [-], 1 where De ≤ 11.6, and d ln ratio / d ln De [-].

    Notes
    -----
    ratio = 1 / (1 - (1 - (11.6/De)^0.45)^(1/0.45)), drawn from measurements up to De 2000; checked
    against Ito (1959) and Mori & Nakayama (1965) within 7 % from De 100 to 2000 by the tests.

    References
    ----------
    C. M. White, Streamline flow through curved pipes, Proc. R. Soc. London A 123 (1929) 645-663.
    """
    u = (WHITE_DEAN_LIMIT / np.maximum(dean, WHITE_DEAN_LIMIT)) ** 0.45
    away = 1.0 - u
    bend = away ** (1.0 / 0.45)
    ratio = 1.0 / (1.0 - bend)
    # d bend / d ln De = (1/0.45) away^(1/0.45 - 1) · 0.45 u, and d ln ratio = ratio · d bend.
    return ratio, ratio * away ** (1.0 / 0.45 - 1.0) * u


def mishra_gupta_excess(curvature: Array | float) -> Array:
    """Turbulent Darcy friction factor of a coil less that of straight pipe, 0.03 √(d/D).

    Parameters
    ----------
    curvature
        Bore over coil diameter d/D [-], 0 for straight pipe.

    Returns
    -------
    Array
        Addition to the Darcy friction factor [-].

    Notes
    -----
    Published for Re 4500 to 1e5 and d/D 0.003 to 0.15. Ito (1959) has 0.029 for the constant.
    Their Fanning constant 0.0075 is 0.03 in Darcy's form.

    References
    ----------
    P. Mishra, S. N. Gupta, Momentum transfer in curved pipes, Ind. Eng. Chem. Process Des. Dev.
    18 (1979) 130-137 (formula from memory; the tests hold it to Ito and to Mori & Nakayama).
    """
    return np.asarray(0.03 * np.sqrt(curvature), dtype=float)


def ito_critical_reynolds(curvature: Array | float) -> Array:
    """Reynolds number at which flow in a coil stops being laminar, 20000 (d/D)^0.32.

    Parameters
    ----------
    curvature
        Bore over coil diameter d/D [-]; published for 1/860 to 1/15.

    Returns
    -------
    Array
        Critical Reynolds number [-], never less than that of straight pipe, 2000.

    References
    ----------
    H. Ito, Friction factors for turbulent flow in curved pipes, J. Basic Eng. 81 (1959) 123-134.
    """
    critical: Array = np.maximum(20000.0 * np.asarray(curvature) ** 0.32, LAMINAR_LIMIT)
    return critical


def straight_friction_number(
    reynolds: Array, relative_roughness: Array | float
) -> tuple[Array, Array]:
    """G = f Re² of straight pipe at any Reynolds number, and its slope dG/dRe.

    Parameters
    ----------
    reynolds
        Reynolds number on the bore [-], 0 to 1e8.
    relative_roughness
        Roughness over bore [-], 0 to 0.05.

    Returns
    -------
    number, slope
        G [-] and dG/dRe [-]; both are continuous and the slope is at least 64.

    Notes
    -----
    Laminar (64/Re) up to Re 2000, Colebrook from Re 3000. Between them ln G is the cubic in ln Re
    that meets both laws in value and slope. The cubic is increasing because both end slopes (1
    and about 1.7) are below three times the chord's (about 2.8): Fritsch & Carlson, SIAM J.
    Numer. Anal. 17 (1980) 238-246.
    """
    number = 64.0 * reynolds
    slope = np.full_like(number, 64.0)
    rough = np.broadcast_to(np.asarray(relative_roughness, dtype=float), number.shape)

    turbulent = reynolds >= TURBULENT_LIMIT
    if turbulent.any():
        re = reynolds[turbulent]
        factor, factor_slope = colebrook(re, rough[turbulent])
        number[turbulent] = factor * re * re
        slope[turbulent] = factor * re * (2.0 + factor_slope)

    between = (reynolds > LAMINAR_LIMIT) & ~turbulent
    if between.any():
        re = reynolds[between]
        factor, factor_slope = colebrook(np.full_like(re, TURBULENT_LIMIT), rough[between])
        width = np.log(TURBULENT_LIMIT / LAMINAR_LIMIT)
        t = np.log(re / LAMINAR_LIMIT) / width
        rise = np.log(factor * TURBULENT_LIMIT**2 / (64.0 * LAMINAR_LIMIT))
        start, end = width, width * (2.0 + factor_slope)  # end slopes times the band's width
        a, b = start + end - 2.0 * rise, 3.0 * rise - 2.0 * start - end
        number[between] = 64.0 * LAMINAR_LIMIT * np.exp(((a * t + b) * t + start) * t)
        slope[between] = number[between] / re * ((3.0 * a * t + 2.0 * b) * t + start) / width
    return number, slope


def friction_number(
    reynolds: Array, relative_roughness: Array | float, curvature: Array | float
) -> tuple[Array, Array]:
    """G = f Re² of straight or coiled pipe at any Reynolds number, and dG/dRe: the solver's law.

    Parameters
    ----------
    reynolds
        Reynolds number on the bore [-], 0 to 1e8.
    relative_roughness
        Roughness over bore [-], 0 to 0.05.
    curvature
        Bore over coil diameter d/D [-], 0 for straight pipe, up to 1/7.

    Returns
    -------
    number, slope
        G [-] and dG/dRe [-].

    Notes
    -----
    A coil has two branches, each an increasing function of Re:

    * vortex-laminar, L = 64 Re · White(De);
    * turbulent, T = G_straight + s · 0.03 √(d/D) Re² (Mishra & Gupta), with
      s = 1 / (1 + (4500/Re)^12): a coil delays turbulence, so that straight pipe is turbulent
      before a coil's excess over it, published from Re 4500, comes in.

    The law is their greater, rounded over a width w = 0.0075 √(d/D) Re², a quarter of the whole
    excess: G = (L + T + √((L-T)² + w²)) / 2. In a coil the branches cross with little change of
    slope, so this is where flow leaves the laminar branch (near Re 5100 for 26 mm bore in a 1 m
    coil, against a published critical Re of 5800 to 6200: just below Ito's critical Re the law is
    7 % above White there, 11 % in coils of 200 bores, where straight pipe, below which a coil is
    not let fall, is itself turbulent). Four things follow by construction:

    * strictly increasing: G is increasing in L, T and w, and these increase with Re;
    * a tighter coil never takes less: L, T and w increase with d/D;
    * never below straight pipe: G ≥ T ≥ G_straight;
    * straight pipe is recovered exactly as d/D goes to 0, since w and the excess vanish and
      L ≤ G_straight there.
    """
    straight, straight_slope = straight_friction_number(reynolds, relative_roughness)
    bend = np.broadcast_to(np.asarray(curvature, dtype=float), straight.shape)
    if not bend.any():
        return straight, straight_slope
    dean = reynolds * np.sqrt(bend)
    ratio, ratio_slope = white_coil_ratio(dean)
    laminar = 64.0 * reynolds * ratio
    laminar_slope = 64.0 * ratio * (1.0 + ratio_slope)
    factor = mishra_gupta_excess(bend)
    begun = 1.0 / (1.0 + (_EXCESS_FROM / np.maximum(reynolds, 1e-9)) ** _EXCESS_STEEPNESS)
    excess = begun * factor * reynolds * reynolds
    excess_slope = (2.0 + _EXCESS_STEEPNESS * (1.0 - begun)) * begun * factor * reynolds
    width, width_slope = 0.25 * factor * reynolds * reynolds, 0.5 * factor * reynolds
    gap, gap_slope = laminar - straight - excess, laminar_slope - straight_slope - excess_slope
    root = np.hypot(gap, width)
    with np.errstate(invalid="ignore", divide="ignore"):
        root_slope = np.where(root > 0.0, (gap * gap_slope + width * width_slope) / root, 0.0)
    coil = 0.5 * (laminar + straight + excess + root)
    coil_slope = 0.5 * (laminar_slope + straight_slope + excess_slope + root_slope)
    is_coil = bend > 0.0
    return np.where(is_coil, coil, straight), np.where(is_coil, coil_slope, straight_slope)


def upper_friction_number(
    reynolds: Array, relative_roughness: Array | float, curvature: Array | float
) -> tuple[Array, Array]:
    """G = f Re² where flow is turbulent, coiled or straight, however low its Re; and dG/dRe.

    Parameters
    ----------
    reynolds
        Reynolds number on the bore [-], 0 to 1e8.
    relative_roughness, curvature
        As in :func:`friction_number`.

    Returns
    -------
    number, slope
        G [-] and dG/dRe [-].

    Notes
    -----
    The greater of the law and of Colebrook (1939) with Mishra & Gupta's (1979) whole excess. It
    holds from where laminar flow ends, Re 2000 or a coil's critical number; from Re 1000 to there
    it goes on so that a solver may pass by, and below it is the law.
    """
    number, slope = friction_number(reynolds, relative_roughness, curvature)
    re = np.maximum(reynolds, 0.5 * LAMINAR_LIMIT)
    factor, factor_slope = colebrook(re, relative_roughness)
    excess = mishra_gupta_excess(curvature)
    turbulent = (factor + excess) * re * re
    higher = (reynolds >= 0.5 * LAMINAR_LIMIT) & (turbulent > number)
    turbulent_slope = (factor * (2.0 + factor_slope) + 2.0 * excess) * re
    return np.where(higher, turbulent, number), np.where(higher, turbulent_slope, slope)


def darcy_friction_factor(
    reynolds: Array | float, relative_roughness: Array | float, curvature: Array | float = 0.0
) -> Array:
    """Darcy friction factor of the solver's law, G / Re².

    Parameters
    ----------
    reynolds
        Reynolds number on the bore [-], more than 0.
    relative_roughness, curvature
        As in :func:`friction_number`.

    Returns
    -------
    Array
        Darcy friction factor [-].
    """
    re = np.atleast_1d(np.asarray(reynolds, dtype=float))
    factor: Array = friction_number(re, relative_roughness, curvature)[0] / re**2
    return factor
