"""From a request of array sizing to the engine's own description, trade units to SI."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final, NamedTuple

from api.refusals import BROKEN, Json, Place, Refusal, refusals_of
from api.requests.array import pipe_from
from api.requests.job import mixture_from
from api.schemas.array_sizing import MOST_LOOPS
from hydraulics.errors import HydraulicsError
from hydraulics.fluid.mixture import Mixture, fluid
from hydraulics.ground.soil import water_content
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    PondArray,
    Site,
    SlinkyArray,
    StraightArray,
    ground_of_soil,
)
from hydraulics.sizing.heat_load import AnnualHeat, HeatLoad, MonthlyHeat

Refusals = list[Refusal]
Read = Mapping[str, Any]

_JOULES_PER_KWH: Final = 3.6e6

# Fields of the request by the engine's names for them, part by part.
_LOAD: Final = {
    "output": "heat_pump_output_kw",
    "hot_water": "hot_water_kwh",
    "monthly": "monthly_heat_kwh",
    **{f"monthly.{month}": f"monthly_heat_kwh.{month}" for month in range(12)},
}
_SURFACE: Final = {"mean": "mean_c", "swing": "swing_k"}
_GROUND: Final = {
    "conductivity": "conductivity_w_m_k",
    "heat_capacity": "heat_capacity_mj_m3_k",
    "geothermal_gradient": "geothermal_gradient_k_m",
    "water_content": "water_content_percent",
    "dry_density": "dry_density_kg_m3",
}
_KINDS: Final = {
    "slinky": {
        "depth": "depth_m",
        "coil_diameter": "coil_diameter_m",
        "coil_diameter_m": "coil_diameter_m",
        "pitch": "pitch_m",
        "pipe_diameter": "pipe",
    },
    "straight": {
        "passes": "passes",
        "spacing": "spacing_m",
        "coil_diameter_m": "spacing_m",
        "turn_diameter_m": "spacing_m",
        "pipe_diameter": "pipe",
        **{f"pipes.{row}.depth": "depth_m" for row in range(100)},
    },
    "pond_mat": {
        "coldest_water": "coldest_water_c",
        "mat_outer_diameter_m": "mat_outer_diameter_m",
        "coil_diameter": "mat_outer_diameter_m",
        "coil_diameter_m": "mat_inner_diameter_m",
    },
    "borehole": {
        "half_shank_spacing": "pipe_centre_mm",
        "borehole_radius": "borehole_diameter_mm",
        "pipe_outer_radius": "pipe",
        "outer_radius": "pipe",
        "deepest": "deepest_m",
        "buried": "buried_m",
        "rows": "rows",
        "spacing": "spacing_m",
        "shape": "field_shape",
    },
}
_SITE: Final = {
    "area": "area_m2",
    "length": "length_m",
    "width": "width_m",
    "trench_length": "trench_length_m",
    "centres": "centres_m",
    "border": "border_m",
}
_LIMITS: Final = {
    "longest_pipe": "longest_pipe_m",
    "largest_drop": "largest_pressure_drop_kpa",
    "largest_velocity": "largest_velocity_m_s",
    "tail": "tail_m",
    "most_loops": "loops",
}
_RATE: Final = {"rate": "rate_w_m"}
_WHOLE: Final = {
    "temperature_change": "temperature_change_k",
    "least_return": "least_return_c",
    "temperature_c": "least_return_c",
    "years": "design_years",
    "loops": "limits.loops",
    "trenches": "limits.loops",
    "centres": "site.centres_m",
    "per": "extraction_rate.per",
    "rate": "extraction_rate.rate_w_m",
    "heating_hours": "heat_load.heating_hours",
    "prandtl": "antifreeze",
    **{f"monthly.{month}": f"heat_load.monthly_heat_kwh.{month}" for month in range(12)},
}


class SizingJob(NamedTuple):
    """What `size_array` takes."""

    load: HeatLoad
    ground: GroundConditions
    choice: ArrayChoice
    mixture: Mixture
    temperature_change: float
    site: Site
    limits: LoopLimits
    years: int
    least_return: float
    rate: ExtractionRate | None


def at_request(error: HydraulicsError, read: Read) -> HydraulicsError:
    """The same error, its faults named by the fields of the request.

    Parameters
    ----------
    error
        What `size_array` raised.
    read
        The request, or the part of it that holds the fields of SizingInputSchema.

    Returns
    -------
    HydraulicsError
        Of the same class. A fault that no single field stands for names the kind of array.
    """
    kind = next(iter(read["array_kind"]))
    measures = {name: f"array_kind.{kind}.{field}" for name, field in _KINDS[kind].items()}
    names = {**measures, **_WHOLE}
    if "loops" not in (read.get("limits") or {}):
        # Then it is the measures of the array that ask for so many.
        names |= dict.fromkeys(("loops", "trenches"), f"array_kind.{kind}")
    else:
        names |= {"depth_range": "limits.loops"}
    fallback = f"array_kind.{kind}"
    return type(error)(
        *(replace(fault, field=names.get(fault.field, fallback)) for fault in error.faults)
    )


def sizing_job_from(read: Read, max_loops: int, refusals: Refusals) -> SizingJob | None:
    """Everything that array sizing takes.

    Parameters
    ----------
    read
        The request as read by ArraySizingRequestSchema.
    max_loops
        Most loops that this service takes.
    refusals
        Receives what is wrong.

    Returns
    -------
    SizingJob or None
        None where anything was refused.
    """
    mix = mixture_from(read["antifreeze"], ("antifreeze",), refusals)
    load = _part(read["heat_load"], ("heat_load",), _load, refusals, _LOAD)
    ground = _ground_from(read["ground"], refusals)
    choice = _choice_from(read["array_kind"], refusals)
    site = _part(read.get("site", {}), ("site",), _site, refusals, _SITE)
    most = min(max_loops, MOST_LOOPS)
    limits = _part(
        read.get("limits", {}), ("limits",), lambda part: _limits(part, most), refusals, _LIMITS
    )
    rate = None
    if "extraction_rate" in read:
        rate = _part(read["extraction_rate"], ("extraction_rate",), _rate, refusals, _RATE)
    change, limit = read["temperature_change_k"], read["least_return_c"]
    if BROKEN not in (mix, change, limit):
        _require_liquid(mix, limit, change, refusals)
    parts = (load, ground, choice, mix, change, site, limits, read["design_years"], limit, rate)
    if refusals or any(part is BROKEN for part in parts):
        return None
    return SizingJob(*parts)


def _part(
    read: Json,
    place: Place,
    make: Callable[[Read], Any],
    refusals: Refusals,
    names: Mapping[str, str],
) -> Json:
    """What an object of the request describes, or BROKEN."""
    if read is BROKEN or BROKEN in read.values():
        return BROKEN
    try:
        return make(read)
    except HydraulicsError as error:
        refusals += refusals_of(error, place, names)
        return BROKEN


def _require_liquid(mix: Mixture, limit: float, change: float, refusals: Refusals) -> None:
    """Refuse a limit at which the brine on its way out has no published properties."""
    for temperature in (limit - change, limit):
        try:
            fluid(mix, temperature)
        except HydraulicsError as error:
            refusals += refusals_of(error, (), {"temperature_c": "least_return_c"})
            return


# ------------------------------------------------------------------------------------ load, ground


def _load(read: Read) -> Json:
    if BROKEN in read.get("monthly_heat_kwh", ()):
        return BROKEN
    output = read["heat_pump_output_kw"] * 1e3
    if "monthly_heat_kwh" not in read:
        return AnnualHeat(
            output,
            read["seasonal_performance"],
            read["heating_hours"],
            read["hot_water_kwh"] * _JOULES_PER_KWH,
            read.get("hot_water_performance"),
            read.get("design_performance"),
            read["peak_hours"],
            read["first_month"],
        )
    return MonthlyHeat(
        tuple(heat * _JOULES_PER_KWH for heat in read["monthly_heat_kwh"]),
        read["seasonal_performance"],
        output,
        read.get("design_performance"),
        read["peak_hours"],
        read["first_month"],
    )


def _ground_from(read: Json, refusals: Refusals) -> Json:
    if read is BROKEN:
        return BROKEN
    surface = _part(
        read["surface_temperature"],
        ("ground", "surface_temperature"),
        lambda part: SurfaceTemperature(part["mean_c"], part["swing_k"], part["coldest_day"]),
        refusals,
        _SURFACE,
    )
    if "moisture" in read and "water_content_percent" in read:
        detail = "Moisture and water_content_percent both tell how wet the soil is; give one."
        refusals.extend(
            Refusal(("ground", name), detail, allowed="one of the two")
            for name in ("moisture", "water_content_percent")
        )
        return BROKEN
    if surface is BROKEN:
        return BROKEN
    names = _GROUND
    if "water_content_percent" not in read:
        # Then it is the density that leaves the class's water no room.
        names = {**_GROUND, "water_content": "dry_density_kg_m3"}
    return _part(read, ("ground",), lambda part: _ground(part, surface), refusals, names)


def _ground(read: Read, surface: SurfaceTemperature) -> GroundConditions:
    gradient = read["geothermal_gradient_k_m"]
    if "soil" not in read:
        return GroundConditions(
            read["conductivity_w_m_k"], read["heat_capacity_mj_m3_k"] * 1e6, surface, gradient
        )
    water = None
    if "water_content_percent" in read:
        water = read["water_content_percent"] / 1e2
    elif "moisture" in read:
        water = water_content(read["soil"], read["moisture"], read.get("dry_density_kg_m3"))
    return ground_of_soil(
        read["soil"],
        surface,
        water_content=water,
        dry_density=read.get("dry_density_kg_m3"),
        geothermal_gradient=gradient,
    )


# ------------------------------------------------------------------------------------ kind of array


def _choice_from(read: Json, refusals: Refusals) -> Json:
    if read is BROKEN:
        return BROKEN
    kind, measures = next(iter(read.items()))
    if measures is BROKEN:
        return BROKEN
    place = ("array_kind", kind)
    pipe = pipe_from(measures["pipe"], (*place, "pipe"), refusals)
    if pipe is BROKEN:
        return BROKEN
    return _part(measures, place, lambda part: _MAKERS[kind](part, pipe), refusals, _KINDS[kind])


def _slinky(read: Read, pipe: Any) -> ArrayChoice:  # noqa: ANN401 (as pipe_from gives it)
    return SlinkyArray(
        pipe, read["depth_m"], read["coil_diameter_m"], read["pitch_m"], read["upright"]
    )


def _straight(read: Read, pipe: Any) -> ArrayChoice:  # noqa: ANN401
    return StraightArray(pipe, read["depth_m"], read["passes"], read["spacing_m"])


def _pond_mat(read: Read, pipe: Any) -> ArrayChoice:  # noqa: ANN401
    choice = PondArray(
        pipe,
        read["coldest_water_c"],
        read["mat_inner_diameter_m"],
        read["mat_outer_diameter_m"],
        read["mat_spacing_m"],
    )
    choice.mats(1)  # refuses diameters that are no ring
    return choice


def _borehole(read: Read, pipe: Any) -> ArrayChoice:  # noqa: ANN401
    return BoreholeArray(
        pipe,
        read["borehole_diameter_mm"] / 2e3,
        read["pipe_centre_mm"] / 1e3,
        read["grout_conductivity_w_m_k"],
        read["u_tubes"],
        read["field_shape"],
        read.get("rows"),
        read["spacing_m"],
        read["buried_m"],
        read["deepest_m"],
    )


_MAKERS: Final[dict[str, Callable[[Read, Any], ArrayChoice]]] = {
    "slinky": _slinky,
    "straight": _straight,
    "pond_mat": _pond_mat,
    "borehole": _borehole,
}


# --------------------------------------------------------------------------- site, limits and rate


def _site(read: Read) -> Site:
    given = {name: read[field] for name, field in _SITE.items() if field in read}
    return Site(**given)


def _limits(read: Read, most: int) -> LoopLimits:
    given: dict[str, Any] = {"most_loops": most}
    if "largest_pressure_drop_kpa" in read:
        given["largest_drop"] = read["largest_pressure_drop_kpa"] * 1e3
    for name, field in (
        ("loops", "loops"),
        ("longest_pipe", "longest_pipe_m"),
        ("largest_velocity", "largest_velocity_m_s"),
        ("tail", "tail_m"),
    ):
        if field in read:
            given[name] = read[field]
    return LoopLimits(**given)


def _rate(read: Read) -> ExtractionRate:
    return ExtractionRate(read["rate_w_m"], read["per"], read.get("hours"), read["source"])
