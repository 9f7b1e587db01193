"""How much resistance lies between the fluid in a borehole and the borehole's wall?

Two steps. The *local* resistance at one depth: film, pipe wall and grout around one or two U-tubes,
first-order multipole. The *effective* resistance of the whole depth: fluid going down warms the
fluid coming up, so a deep or slow borehole works worse than its cross-section says.
"""

from __future__ import annotations

from typing import TypedDict, Unpack

import numpy as np

from hydraulics.checks import refuse, require_not_negative, require_positive
from hydraulics.errors import Fault, InputError
from hydraulics.pipework.pipe import bore_fault


class CrossSection(TypedDict):
    """A borehole and the pipes in it at one depth; lengths in m.

    Attributes
    ----------
    borehole_radius, pipe_outer_radius
        Radii of the borehole and of each pipe.
    half_shank_spacing
        From the borehole's centre to each pipe's centre.
    ground_conductivity, grout_conductivity
        Conductivities of the ground and of the grout, W/(m K).
    pipe_resistance
        Film and wall of one pipe, m K/W: :func:`hydraulics.ground.pipe_heat.film_and_wall`.
    """

    borehole_radius: float
    pipe_outer_radius: float
    half_shank_spacing: float
    ground_conductivity: float
    grout_conductivity: float
    pipe_resistance: float


def _check_cross_section(pipes: int, section: CrossSection) -> None:
    borehole, radius = section["borehole_radius"], section["pipe_outer_radius"]
    spacing = section["half_shank_spacing"]
    require_positive(
        borehole_radius=borehole,
        pipe_outer_radius=radius,
        half_shank_spacing=spacing,
        ground_conductivity=section["ground_conductivity"],
        grout_conductivity=section["grout_conductivity"],
    )
    require_not_negative(pipe_resistance=section["pipe_resistance"])
    refuse(bore_fault("borehole_radius", 2.0 * borehole, pipes, 2.0 * radius))
    touching, widest = radius / np.sin(np.pi / pipes), borehole - radius
    # One part in a million lets pipes touch each other or the wall despite rounding.
    if not touching * (1.0 - 1e-6) <= spacing <= widest * (1.0 + 1e-6):
        allowed = f"{touching:.4f} to {widest:.4f} m"
        raise InputError(
            Fault(
                "half_shank_spacing",
                f"half the shank spacing (borehole centre to pipe centre) is"
                f" {spacing:g} m: {pipes} pipes of outer radius {radius:g} m"
                f" in a borehole of radius {borehole:g} m would cut into each other or the"
                f" wall; give {allowed}, smaller pipes or a wider borehole.",
                value=spacing,
                allowed=allowed,
            )
        )


def _multipole_term(b: float, gradient: float, dipole: float) -> float:
    """What the first-order multipole takes off the zeroth-order resistance (times 2 pi kb)."""
    # gradient^2 / ((1+b)/(1-b) + dipole), written so that b = 1 is an ordinary point.
    return gradient**2 * (1.0 - b) / (1.0 + b + (1.0 - b) * dipole)


def _scaled(pipes: int, section: CrossSection) -> tuple[float, float, float, float, float]:
    """Check a cross-section; its x/rb, rp/x, sigma, 2 pi kb and b in the sources' notation."""
    _check_cross_section(pipes, section)
    ground, grout = section["ground_conductivity"], section["grout_conductivity"]
    # Scaled by the borehole's radius, so that high powers keep their digits.
    xi = section["half_shank_spacing"] / section["borehole_radius"]
    rp_x = section["pipe_outer_radius"] / section["half_shank_spacing"]
    two_pi_kb = 2.0 * np.pi * grout
    b = two_pi_kb * section["pipe_resistance"]
    return xi, rp_x, (grout - ground) / (grout + ground), two_pi_kb, b


def local_resistance(u_tubes: int, **section: Unpack[CrossSection]) -> float:
    """Local resistance of a borehole with U-tubes in parallel, first-order multipole.

    Parameters
    ----------
    u_tubes
        1, or 2 whose four pipes stand in a square.
    **section
        As :class:`CrossSection`.

    Returns
    -------
    float
        Resistance between the mean fluid temperature and the borehole's wall, m K/W.

    Raises
    ------
    InputError
        If the pipes do not fit in the borehole, or a quantity is not more than 0.

    Notes
    -----
    Usually within 1 % of the tenth-order multipole solution.

    References
    ----------
    Hellström, Ground Heat Storage, thesis, Lund University, 1991.
    Claesson and Javed, Explicit multipole formulas for calculating thermal resistance of single
    U-tube ground heat exchangers, Energies 11(1), 2018, 214; and thermal network models for
    calculating thermal resistances of double U-pipe borehole heat exchangers, Science and
    Technology for the Built Environment 25(8), 2019, 980-992.
    Javed and Spitler, Accuracy of borehole thermal resistance calculation methods for grouted
    single U-tube ground heat exchangers, Applied Energy 187, 2017, 790-806 (accuracy).
    """
    n = 2 * u_tubes
    xi, rp_x, sigma, two_pi_kb, b = _scaled(n, section)
    image = xi ** (2 * n) / (1.0 - xi ** (2 * n))
    zeroth = b - np.log(n * rp_x * xi**n) - sigma * np.log1p(-(xi ** (2 * n)))
    gradient = rp_x * ((n - 1) / 2.0 - sigma * n * image)
    dipole = rp_x**2 * ((n**2 - 1) / 12.0 + sigma * n**2 * image / (1.0 - xi ** (2 * n)))
    return float((zeroth - _multipole_term(b, gradient, dipole)) / (two_pi_kb * n))


def internal_resistance(u_tubes: int, **section: Unpack[CrossSection]) -> float:
    r"""Resistance between the down and the up legs, first-order multipole.

    Parameters
    ----------
    u_tubes
        1 or 2. Down and up legs of two are taken to alternate round the circle (the two down legs
        opposite each other). Of the two possible arrangements it exchanges more heat between the
        legs: the safe side.
    **section
        As :class:`CrossSection`.

    Returns
    -------
    float
        Total internal resistance :math:`R_a`, m K/W: difference between the down and the up
        temperature per heat rate from all down legs to all up legs, by way of grout and ground.

    Notes
    -----
    The published formulas for 2 and for 4 pipes in one: sums over the other pipes round the circle
    with alternating sign.

    References
    ----------
    As :func:`local_resistance`.
    """
    n = 2 * u_tubes
    xi, rp_x, sigma, two_pi_kb, b = _scaled(n, section)
    xin = xi**n
    zeroth = b + np.log(4.0 / (n * rp_x)) + sigma * np.log((1.0 + xin) / (1.0 - xin))
    gradient = rp_x * (0.5 + n * sigma * xin / (1.0 - xin**2))
    dipole = rp_x**2 * (
        n**2 / 2.0 * sigma * xin * (1.0 + xin**2) / (1.0 - xin**2) ** 2 - (n**2 + 2) / 24.0
    )
    return float((zeroth - _multipole_term(b, gradient, dipole)) / (two_pi_kb * n / 4.0))


def effective_resistance(
    local_resistance: float, internal_resistance: float, depth: float, capacity_flow: float
) -> float:
    r"""Effective resistance of the whole depth, the same heat at every depth.

    Parameters
    ----------
    local_resistance
        Resistance :math:`R_b` between fluid and wall at one depth, m K/W.
    internal_resistance
        Resistance :math:`R_a` between the down and the up legs, m K/W.
    depth
        Active depth of the borehole, m.
    capacity_flow
        Mass flow times specific heat of the fluid in the whole borehole, W/K.

    Returns
    -------
    float
        :math:`R_b + \frac{1}{3 R_a}\left(\frac{H}{\dot m c}\right)^2`, m K/W.

    Notes
    -----
    The upper of Hellström's two limits, so the safe one; the two part as :math:`H/\dot m c` nears
    :math:`\sqrt{R_b R_a}`.

    References
    ----------
    Hellström, Ground Heat Storage, thesis, Lund University, 1991.
    """
    require_positive(
        local_resistance=local_resistance,
        internal_resistance=internal_resistance,
        depth=depth,
        capacity_flow=capacity_flow,
    )
    return float(local_resistance + (depth / capacity_flow) ** 2 / (3.0 * internal_resistance))
