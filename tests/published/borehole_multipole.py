"""Multipole solution of any order for pipes in a grouted borehole, solved by projection.

Written for the tests, apart from the closed forms that it checks, after the method of Claesson and
Hellström, HVAC&R Research 17(6), 2011, 895-911: line sources and multipoles in every pipe, each
mirrored in the borehole's wall so that temperature and heat flow are continuous there; strengths
are such that the Fourier components of the fluid's condition vanish on every pipe up to the order.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Section:
    """Cross-section of a borehole: radii, m; conductivities, W/(m K); pipe resistance, m K/W."""

    borehole_radius: float
    pipe_outer_radius: float
    half_shank_spacing: float
    ground_conductivity: float
    grout_conductivity: float
    pipe_resistance: float

    def centres(self, pipes: int) -> Complex:
        """Pipe centres, evenly round a circle."""
        turn = np.exp(2j * np.pi * np.arange(pipes) / pipes)
        return np.asarray(self.half_shank_spacing * turn)


def _source(section: Section, at: complex, z: Complex) -> tuple[Floats, Complex]:
    """Temperature of 2 pi kb W/m at a point, above the wall's mean; and dT/dx - i dT/dy."""
    rb, sigma = section.borehole_radius, _sigma(section)
    mirrored = 1.0 - z * np.conj(at) / rb**2
    value = np.log(rb / np.abs(z - at)) - sigma * np.log(np.abs(mirrored))
    return value, -1.0 / (z - at) + sigma * np.conj(at) / rb**2 / mirrored


def _multipole(section: Section, at: complex, order: int, z: Complex) -> tuple[Complex, Complex]:
    """The same for a multipole: for strength p the temperature is Re(p a) + Re(conj(p) b).

    Returned are a + b and i (a - b) as complex potentials, for the real and the imaginary part of
    p, stacked; then their derivatives.
    """
    rb, rp, sigma = section.borehole_radius, section.pipe_outer_radius, _sigma(section)
    a = (rp / (z - at)) ** order
    a_slope = -order / rp * (rp / (z - at)) ** (order + 1)
    # The mirror image, sigma Re(p (rp conj(z)/(rb^2 - at conj(z)))^k), by its conjugate.
    inner = rp * z / (rb**2 - np.conj(at) * z)
    inner_slope = rp * rb**2 / (rb**2 - np.conj(at) * z) ** 2
    b = sigma * inner**order
    b_slope = sigma * order * inner ** (order - 1) * inner_slope
    return np.array([a + b, 1j * (a - b)]), np.array([a_slope + b_slope, 1j * (a_slope - b_slope)])


def _sigma(section: Section) -> float:
    kb, k = section.grout_conductivity, section.ground_conductivity
    return (kb - k) / (kb + k)


def _condition(section: Section, value: Floats, slope: Complex, outward: Complex) -> Floats:
    """T - beta rp dT/dr, which is the fluid's temperature all round each pipe."""
    beta = 2.0 * np.pi * section.grout_conductivity * section.pipe_resistance
    return np.asarray(value - beta * section.pipe_outer_radius * np.real(slope * outward))


def resistance_matrix(
    section: Section, pipes: int, order: int, points: int = 96
) -> tuple[Floats, float]:
    """Fluid temperatures above the wall's mean per heat of each pipe, m K/W, shape (pipes, pipes).

    Also the largest miss of the fluid's condition anywhere on the pipes, K per W/m: it tells how
    exact the order is, since the equation and the wall are met at any order.
    """
    centres = section.centres(pipes)
    outward = np.exp(2j * np.pi * np.arange(points) / points)
    z = centres[:, None] + section.pipe_outer_radius * outward
    sources = np.array([_condition(section, *_source(section, c, z), outward) for c in centres]) / (
        2.0 * np.pi * section.grout_conductivity
    )
    fields = []
    for c in centres:
        for k in range(1, order + 1):
            value, slope = _multipole(section, c, k, z)
            fields += [
                _condition(section, v.real, s, outward) for v, s in zip(value, slope, strict=True)
            ]
    multipoles = np.array(fields)

    def components(of: Floats) -> Floats:
        c = np.fft.rfft(of, axis=-1)[..., 1 : order + 1]
        return np.concatenate([c.real, c.imag], axis=-1).reshape(len(of), -1)

    strengths = np.linalg.solve(components(multipoles).T, -components(sources).T)
    total = sources + np.tensordot(strengths.T, multipoles, axes=1)
    fluid = total.mean(axis=-1)
    return fluid, float(np.abs(total - fluid[..., None]).max())


def local_and_internal(section: Section, pipes: int, order: int) -> tuple[float, float, float]:
    """Local and internal resistance, legs alternating round the circle, and the miss; m K/W."""
    matrix, miss = resistance_matrix(section, pipes, order)
    alternating = (-1.0) ** np.arange(pipes)
    local = float(matrix[0].sum()) / pipes
    # From a total heat q down to up: each of n/2 legs carries 2 q / n; the difference is twice.
    internal = float(matrix[0] @ alternating) * 4.0 / pipes
    return local, internal, miss
