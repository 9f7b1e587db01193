"""Which unit does a field's name end in, and how is another one turned into it?"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

UNITS: Final[dict[str, str]] = {
    "_kg_m3": "kg/m³", "_mpa_s": "mPa s", "_kj_kg_k": "kJ/(kg K)", "_w_m_k": "W/(m K)",
    "_w_m2_k": "W/(m² K)", "_percent_k": "%/K",
    "_mj_m3_k": "MJ/(m³ K)", "_m_k_w": "m K/W", "_kwh_m": "kWh/m", "_w_m": "W/m", "_k_m": "K/m",
    "_w_kw": "W/kW", "_mm2_s": "mm²/s", "_rpm": "1/min",
    "_m3_h": "m³/h", "_kg_s": "kg/s", "_l_min": "L/min", "_l_s": "L/s",
    "_m_s": "m/s", "_m_h": "m/h", "_l_m": "L/m", "_percent": "%", "_kpa": "kPa", "_mpa": "MPa",
    "_min": "min", "_mm": "mm", "_m2": "m²", "_m3": "m³", "_kwh": "kWh", "_kw": "kW",
    "_kg": "kg", "_ms": "ms", "_deg": "°", "_c": "°C", "_k": "K", "_w": "W", "_m": "m",
    "_l": "L", "_h": "h",
}  # fmt: skip
"""Unit by the ending of a field's name, longest ending first."""

# Dimension and size in SI of endings that people give, ours among them.
_SIZES: Final[dict[str, tuple[str, str, float]]] = {
    "_m3_h": ("m³/h", "flow", 1 / 3600), "_m3_s": ("m³/s", "flow", 1.0),
    "_l_min": ("L/min", "flow", 1e-3 / 60), "_l_h": ("L/h", "flow", 1e-3 / 3600),
    "_l_s": ("L/s", "flow", 1e-3), "_gpm": ("US gal/min", "flow", 3.785411784e-3 / 60),
    "_kg_s": ("kg/s", "mass flow", 1.0), "_kg_h": ("kg/h", "mass flow", 1 / 3600),
    "_m_s": ("m/s", "velocity", 1.0), "_ft_s": ("ft/s", "velocity", 0.3048),
    "_ft2": ("ft²", "area", 0.3048**2), "_m2": ("m²", "area", 1.0),
    "_mm2": ("mm²", "area", 1e-6), "_ft3": ("ft³", "volume", 0.3048**3),
    "_m3": ("m³", "volume", 1.0), "_l": ("L", "volume", 1e-3),
    "_gal": ("US gal", "volume", 3.785411784e-3),
    "_kg_m3": ("kg/m³", "density", 1.0), "_kg_l": ("kg/L", "density", 1e3),
    "_rpm": ("1/min", "speed", 1 / 60), "_hz": ("Hz", "speed", 1.0),
    "_mbar": ("mbar", "pressure", 1e2), "_bar": ("bar", "pressure", 1e5),
    "_psi": ("psi", "pressure", 6894.757293168), "_mpa": ("MPa", "pressure", 1e6),
    "_kpa": ("kPa", "pressure", 1e3), "_pa": ("Pa", "pressure", 1.0),
    "_mwh": ("MWh", "energy", 3.6e9), "_kwh": ("kWh", "energy", 3.6e6),
    "_wh": ("Wh", "energy", 3.6e3), "_gj": ("GJ", "energy", 1e9), "_mj": ("MJ", "energy", 1e6),
    "_btu_h": ("Btu/h", "power", 0.29307107), "_kbtu_h": ("kBtu/h", "power", 293.07107),
    "_kcal_h": ("kcal/h", "power", 1.163), "_mj_h": ("MJ/h", "power", 1e6 / 3600.0),
    "_tons": ("tons of refrigeration", "power", 3516.8528),
    "_ton": ("ton of refrigeration", "power", 3516.8528),
    "_mw": ("MW", "power", 1e6), "_kw": ("kW", "power", 1e3), "_w": ("W", "power", 1.0),
    "_hp": ("hp", "power", 745.69987),
    "_hours": ("h", "time", 3600.0), "_h": ("h", "time", 3600.0),
    "_minutes": ("min", "time", 60.0), "_min": ("min", "time", 60.0), "_s": ("s", "time", 1.0),
    "_days": ("days", "time", 86_400.0),
    "_mm": ("mm", "length", 1e-3), "_cm": ("cm", "length", 1e-2), "_km": ("km", "length", 1e3),
    "_m": ("m", "length", 1.0), "_ft": ("ft", "length", 0.3048), "_in": ("in", "length", 0.0254),
    "_inch": ("in", "length", 0.0254), "_feet": ("ft", "length", 0.3048),
    "_yd": ("yd", "length", 0.9144), "_mi": ("mi", "length", 1609.344),
    "_c": ("°C", "temperature", 1.0), "_f": ("°F", "temperature", 1 / 1.8),
    "_k": ("K", "temperature", 1.0),
    "_percent": ("%", "share", 1e-2), "_fraction": ("as a fraction", "share", 1.0),
}  # fmt: skip


def unit_of(name: str) -> str:
    """Unit that a field's name ends in; empty for a plain number."""
    return next((unit for ending, unit in UNITS.items() if name.endswith(ending)), "")


def _ending(name: str) -> str:
    endings, low = (*UNITS, *_SIZES), name.lower()
    return max((each for each in endings if low.endswith(each)), key=len, default="")


@lru_cache(maxsize=4096)
def stem_of(name: str) -> str:
    """A field's name without the unit that it ends in."""
    return name[: len(name) - len(_ending(name))] or name


def dimension_of(name: str) -> str:
    """Kind of quantity that the unit at the end of a name measures; empty where it has none."""
    known = _SIZES.get(_ending(name))
    return known[1] if known is not None else ""


def conversion(given: str, field: str, value: float | None = None) -> str:
    """Say how a number in the unit that a name ends in becomes one in a field's own unit.

    Parameters
    ----------
    given
        The name given, which is no field.
    field
        The field that was probably meant.
    value
        The number given, which is turned then; None for the rule alone.

    Returns
    -------
    str
        In brackets, for the end of a sentence; empty where both have the same unit, or where one
        cannot become the other.
    """
    theirs, ours = _SIZES.get(_ending(given)), _SIZES.get(_ending(field))
    if theirs is None or ours is None or theirs[:2] == ours[:2] or theirs[1] != ours[1]:
        return ""
    (unit, dimension, size), (own, _, own_size) = theirs, ours
    if dimension == "temperature" and own == "°C":
        if value is None:
            known = {"°F": "°C = (°F - 32) / 1.8", "K": "°C = K - 273.15"}
            return f" ({known[unit]})"
        turned, how = (
            ((value - 32.0) / 1.8, f"({value:.6g} - 32) / 1.8")
            if unit == "°F"
            else (value - 273.15, f"{value:.6g} - 273.15")
        )
        return f" ({how} = {turned:.4g})"
    factor = size / own_size
    if value is not None:
        return f" ({value:.6g} · {factor:.4g} = {value * factor:.4g})"
    if dimension == "temperature":
        return f" (a difference of 1 {unit} is {factor:.4g} {own})"
    return f" (1 {unit} is {factor:.4g} {own})"
