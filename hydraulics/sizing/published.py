"""What would published rules and hand methods take instead, and why does ours differ?

None is called right: the designer sees them beside the sizing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from hydraulics.ground.load_history import GroundLoad
from hydraulics.sizing.case import Case
from hydraulics.sizing.choice import BoreholeArray, PondArray
from hydraulics.sizing.result import Published

_HOURS: Final = (1800.0, 2400.0)
_COVERED: Final = 1.0 + 1e-3  # of the hours; less shows in no digit of a rate
# W/m² of land at 1800 and 2400 h a year, pipes 0.8 m apart: VDI 4640 part 2 (2001), as read in
# reproductions; the middle row's 2001 text gives 20-30 and 16-24 (from memory).
_LAND: Final = {
    "dry soil without cohesion": (10.0, 8.0),
    "damp cohesive soil": (25.0, 20.0),
    "sand or gravel full of water": (40.0, 32.0),
}
# W/m of borehole at 1800 and 2400 h a year, below 1.5, up to 3 and above 3 W/m K: VDI 4640 part 2
# (2001), general values, read in a reproduction by a state geological survey (Saxony-Anhalt).
_BOREHOLE: Final = ((25.0, 20.0), (60.0, 50.0), (84.0, 70.0))
_SOURCE: Final = "VDI 4640 part 2 (2001), read in reproductions"


def published_rules(case: Case) -> Iterator[Published]:
    """Rules that take the ground and the full hours alone; none for ponds."""
    if isinstance(case.choice, PondArray):
        return
    draw, hours = case.draw, case.draw.full_hours
    if isinstance(case.choice, BoreholeArray):
        k = case.ground.conductivity
        rate = _at(hours, _BOREHOLE[(k >= 1.5) + (k > 3.0)])
        yield Published(
            f"{rate:.3g} W/m of borehole for a conductivity of {k:.3g} W/m K and {_told(hours)}",
            _SOURCE,
            "The rule is for heat alone up to 30 kW, double U-tubes of 40 to 100 m at least 5 to "
            "6 m apart, and knows no limit on the brine, neighbours, grout or years."
            + _beyond(draw),
            length=draw.peak / rate,
        )
        return
    for soil, rates in _LAND.items():
        rate = _at(hours, rates)
        yield Published(
            f"{rate:.3g} W/m² of land in {soil}, pipes 0.8 m apart, for {_told(hours)}",
            _SOURCE,
            "The rule lets soil freeze around pipe whose brine comes back below 0 °C, in the "
            "climate of Germany; ours keeps the limit that is asked for without that latent heat, "
            "unless it is given." + _beyond(draw),
            area=draw.peak / rate,
        )


def _at(hours: float, rates: tuple[float, float]) -> float:
    return float(np.interp(hours, _HOURS, rates))


def _told(hours: float) -> str:
    if hours > _HOURS[1] * _COVERED:
        return f"{_HOURS[1]:.0f} full hours a year, and none for this load's {hours:.0f} h"
    return f"{max(hours, _HOURS[0]):.0f} full hours a year"


def _beyond(draw: GroundLoad) -> str:
    """Where the load is none that the rule is for."""
    told, hours = "", draw.full_hours
    if hours > _HOURS[1] * _COVERED:
        told += (
            f" It ends at {_HOURS[1]:.0f} h: it does not cover this load's {hours:.0f} h, and is "
            "too little for them."
        )
    elif hours < _HOURS[0] * 0.99:
        told += f" It begins at {_HOURS[0]:.0f} h; this load has {hours:.0f} h."
    return told + (" It knows no heat that is put back." if draw.put_back else "")
