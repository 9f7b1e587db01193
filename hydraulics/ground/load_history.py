"""How does a borehole's wall temperature follow years of changing load?

Loads are constant over equal steps; the change at the end of each step is the superposition in time
of the unit response to each earlier change of load. By fast Fourier transform the cost grows as
n log n with the number of steps, where direct summation grows as n squared, with the same result.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.signal import fftconvolve

from hydraulics.checks import require_finite
from hydraulics.errors import Fault, InputError


def wall_temperature_history(step_loads: ArrayLike, response: ArrayLike) -> NDArray[np.float64]:
    r"""Temperature fall of the wall at the end of every step, for loads constant over each step.

    Parameters
    ----------
    step_loads
        Heat extracted in each step, W/m (negative where heat is put back), shape (n,).
    response
        Unit response at the ends of steps 1 ... n after a step load begins, K/(W/m), shape (n,).

    Returns
    -------
    ndarray
        Fall of temperature at the end of each step, K, shape (n,); negative where it has risen.

    Raises
    ------
    InputError
        If the two differ in length, are not one-dimensional, or hold a number that is not finite.

    Notes
    -----
    :math:`\Delta T_i = \sum_{j \le i} q_j [R_{i-j+1} - R_{i-j}]`, :math:`R_0 = 0`, as a
    convolution by FFT (rounding about 1e-15 of the largest term).

    References
    ----------
    Duhamel's theorem: Carslaw and Jaeger, 1959, section 1.14. Marcotte and Pasquier, Fast fluid and
    ground temperature computation for geothermal ground-loop heat exchanger systems, Geothermics
    37(6), 2008, 651-665 (the same sum by FFT).
    """
    require_finite(step_loads=step_loads, response=response)
    loads = np.asarray(step_loads, dtype=float)
    unit = np.asarray(response, dtype=float)
    if loads.ndim != 1 or loads.shape != unit.shape:
        raise InputError(
            Fault(
                "response",
                f"response has shape {unit.shape}, step_loads {loads.shape}; give one response for"
                " the end of each step.",
                value=list(unit.shape),
                allowed=f"shape ({loads.size},)",
            )
        )
    return np.asarray(fftconvolve(loads, np.diff(unit, prepend=0.0))[: loads.size])
