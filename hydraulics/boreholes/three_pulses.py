"""What length of borehole carries a life's, a month's and a peak's heat, by the classical equation?

The hand method of Kavanaugh and Rafferty, as a check of the month-by-month method of
:mod:`hydraulics.boreholes.sizing`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydraulics.checks import require_finite, require_positive
from hydraulics.ground.line_source import infinite_cylindrical_source

_DAY = 86_400.0


@dataclass(frozen=True, slots=True)
class PulseResistances:
    """Effective ground resistances of three pulses that end together, m K/W.

    Attributes
    ----------
    life, month, peak
        Resistance that the pulse of that length adds.
    """

    life: float
    month: float
    peak: float


def pulse_resistances_cylindrical_source(
    borehole_radius: float,
    conductivity: float,
    diffusivity: float,
    *,
    years: float = 10.0,
    month_days: float = 30.0,
    peak_hours: float = 6.0,
) -> PulseResistances:
    """Ground resistances of a pulse of years, of a month and of a peak in succession.

    Parameters
    ----------
    borehole_radius
        Radius of the borehole, m.
    conductivity, diffusivity
        Of the ground, W/(m K) and m2/s.
    years, month_days, peak_hours
        How long each lasts; as published, if not given.

    Returns
    -------
    PulseResistances
        From the cylindrical source at the borehole's wall.

    References
    ----------
    Philippe, Bernier and Marchio, Sizing calculation spreadsheet: vertical geothermal borefields,
    ASHRAE Journal, July 2010, 20-28 (which fits these with polynomials).
    """
    ends = np.cumsum([peak_hours / 24.0, month_days, 365.25 * years]) * _DAY
    response = infinite_cylindrical_source(ends, borehole_radius, conductivity, diffusivity)
    peak, month, life = np.diff(response, prepend=0.0)
    return PulseResistances(float(life), float(month), float(peak))


def three_pulse_length_kavanaugh_rafferty(
    *,
    yearly_load: float,
    monthly_load: float,
    peak_load: float,
    borehole_resistance: float,
    ground: PulseResistances,
    mean_fluid_temperature: float,
    undisturbed_temperature: float,
    temperature_penalty: float = 0.0,
) -> float | None:
    r"""Total length of borehole from three pulses of ground load.

    Parameters
    ----------
    yearly_load, monthly_load, peak_load
        Mean over the year, mean over the worst month, and peak of the heat *extracted*, W; negative
        where heat is put into the ground. All three for the same, limiting season.
    borehole_resistance
        Effective borehole resistance, m K/W.
    ground
        Effective ground resistances.
    mean_fluid_temperature
        Mean of the entering and leaving fluid temperatures at the end of the peak, degC.
    undisturbed_temperature
        Undisturbed ground temperature, mean over the depth, degC.
    temperature_penalty
        Further *fall* of the ground by neighbouring boreholes, K (negative: rise); 0 for one.

    Returns
    -------
    float or None
        Total length, m; None where the loads and the temperatures allow none (the fluid would have
        to be colder than the limit, however long the borehole).

    Notes
    -----
    :math:`L = (q_h R_b + q_y R_{10y} + q_m R_{1m} + q_h R_{6h}) / (T_g - T_p - T_m)`, here with
    heat extraction positive.

    References
    ----------
    Kavanaugh and Rafferty, Ground-Source Heat Pumps, 1997; in the form of Philippe, Bernier and
    Marchio, ASHRAE Journal, July 2010.
    """
    require_finite(
        yearly_load=yearly_load,
        monthly_load=monthly_load,
        peak_load=peak_load,
        mean_fluid_temperature=mean_fluid_temperature,
        undisturbed_temperature=undisturbed_temperature,
        temperature_penalty=temperature_penalty,
    )
    require_positive(borehole_resistance=borehole_resistance)
    weighted = (
        peak_load * (borehole_resistance + ground.peak)
        + monthly_load * ground.month
        + yearly_load * ground.life
    )
    available = undisturbed_temperature - temperature_penalty - mean_fluid_temperature
    return None if weighted * available <= 0.0 else float(weighted / available)
