"""From heat, ground, plot and sizing options in a request to what the engine sizes for, in SI."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from api.refusals import BROKEN, MISSING, Json, Refusal, refusals_of
from api.requests.array import Pipes, Read, Refusals, coils_on_offer, pipe_of
from api.requests.places import attempt, broken, located, under
from api.schemas.sizing import MOST_LOOPS
from hydraulics.errors import HydraulicsError
from hydraulics.ground.soil import water_content
from hydraulics.ground.temperature import SurfaceTemperature, wave_of_air
from hydraulics.job import SizingPlan
from hydraulics.pipework.pipe import STANDARD_COILS, Pipe
from hydraulics.plot.plot import BOREHOLE_SPACING
from hydraulics.shallow.freezing import FreezingGround
from hydraulics.shallow.pond import LEAST_WATER
from hydraulics.sizing.array import coldest_brine
from hydraulics.sizing.choice import (
    ArrayChoice,
    BoreholeArray,
    ExtractionRate,
    GroundConditions,
    LoopLimits,
    PondArray,
    SlinkyArray,
    StraightArray,
    ground_as_measured,
    ground_of_soil,
)
from hydraulics.sizing.heat_load import AnnualHeat, Cooling, HeatLoad, MonthlyHeat, rise_at_peak

_JOULES_PER_KWH: Final = 3.6e6


def sizing_from(read: Read, mix: Json, pipes: Pipes, max_loops: int, refusals: Refusals) -> Json:
    """What an array is to be sized for.

    Parameters
    ----------
    read
        The job as read; heat, ground and sizing stand in it, or BROKEN for them.
    mix
        What fills the array, or BROKEN.
    pipes
        The job's own pipes.
    max_loops
        Most loops that this service takes.
    refusals
        Receives what is wrong.

    Returns
    -------
    SizingPlan or BROKEN
        As the engine takes it.
    """
    heat, ground, options, limits = (read[name] for name in ("heat", "ground", "sizing", "limits"))
    load = BROKEN
    if not broken(heat):
        load = attempt(lambda: _load(heat), heat, ("heat",), refusals)
    if load is not BROKEN and mix is not BROKEN and not broken(limits):
        limit = limits["min_from_ground_c"]
        rise = rise_at_peak(load, heat["temperature_change_k"])
        attempt(lambda: coldest_brine(mix, limit, rise), limits, ("limits",), refusals)
    kinds = options if options is BROKEN else options["array_kind"]
    in_water = kinds is not BROKEN and "pond_mat" in kinds
    conditions = _ground_from(ground, refusals, in_water=in_water)
    choice = rate = loops = BROKEN
    if options is not BROKEN:
        choice = choice_from(options["array_kind"], read, pipes, refusals)
        rate = _rate_from(options.get("extraction_rate"), refusals)
        if not broken(limits) and BROKEN not in (options["tail_m"], options.get("loop_count")):
            loops = _loops_from(options, limits, min(max_loops, MOST_LOOPS), refusals)
    if any(part is BROKEN for part in (load, conditions, choice, rate, loops)):
        return BROKEN
    coils = coils_on_offer(read.get("pipes", []))
    return SizingPlan(
        load,
        heat["temperature_change_k"],
        conditions,
        choice,
        loops,
        rate,
        tuple(coils.get(choice.pipe.name, STANDARD_COILS)),
    )


# ------------------------------------------------------------------------------- heat and ground


def _load(read: Read) -> HeatLoad:
    output = read["output_kw"] * 1e3
    year: dict[str, Any] = {
        "cooling": _cooling(read.get("cooling")),
        "recharge": tuple(heat * _JOULES_PER_KWH for heat in read.get("recharge_kwh", ())),
        "peak_months": tuple(read.get("peak_months", ())),
        "performance_slope": (
            read["performance_slope_percent_k"] / 1e2
            if "performance_slope_percent_k" in read
            else None
        ),
    }
    if "monthly_kwh" not in read:
        return AnnualHeat(
            output,
            read["seasonal_performance"],
            read["heating_h"],
            read["hot_water_kwh"] * _JOULES_PER_KWH,
            read.get("hot_water_performance"),
            read.get("design_performance"),
            read["peak_h"],
            read["first_month"],
            **year,
        )
    return MonthlyHeat(
        tuple(heat * _JOULES_PER_KWH for heat in read["monthly_kwh"]),
        read["seasonal_performance"],
        output,
        read.get("design_performance"),
        read["peak_h"],
        read["first_month"],
        **year,
    )


def _cooling(read: Read | None) -> Cooling | None:
    if read is None:
        return None
    cold = tuple(each * _JOULES_PER_KWH for each in read["monthly_kwh"])
    try:
        return Cooling(cold, read["output_kw"] * 1e3, read["performance"], read["peak_h"])
    except HydraulicsError as error:
        raise under("cooling", error) from None


# What lies around mats where no soil is told: water at 10 °C (VDI Heat Atlas, from memory).
_STILL_WATER = {"conductivity_w_m_k": 0.58, "heat_capacity_mj_m3_k": 4.19}


def _ground_from(read: Json, refusals: Refusals, *, in_water: bool) -> Json:
    if read is BROKEN:
        return BROKEN
    surface = BROKEN
    if "surface" not in read:
        detail = "surface is missing: sizing needs the year at the ground's surface."
        refusals.append(Refusal(("ground", "surface"), detail, MISSING, "mean_c and swing_k"))
    elif not broken(read["surface"]):
        year = read["surface"]
        surface = attempt(
            lambda: _surface(year),
            year,
            ("ground", "surface"),
            refusals,
        )
    if in_water and not broken(read) and not {"soil", "conductivity_w_m_k"} & set(read):
        read = {**read, **_STILL_WATER}
    if "soil" not in read and "conductivity_w_m_k" not in read:
        detail = "Sizing needs to know what the ground conducts: give soil, or conductivity_w_m_k "
        detail += "with heat_capacity_mj_m3_k."
        refusals.append(Refusal(("ground",), detail, MISSING, "a class of soil or both values"))
        return BROKEN
    if surface is BROKEN or broken(read):
        return BROKEN
    return attempt(lambda: _ground(read, surface), read, ("ground",), refusals)


def _surface(read: Read) -> SurfaceTemperature:
    film = read.get("film_w_m2_k")
    if "monthly_air_c" in read:
        return wave_of_air(read["monthly_air_c"], film)
    return SurfaceTemperature(
        read["mean_c"], read["swing_k"], read["coldest_day"], read["depth_m"], film
    )


def _ground(read: Read, surface: SurfaceTemperature) -> GroundConditions:
    gradient, undisturbed = read["gradient_k_m"], read.get("undisturbed_c")
    profile = tuple((each["depth_m"], each["ground_c"]) for each in read.get("measured", ()))
    freezing = None
    if "freezing_water_kg_m3" in read:
        frozen = read.get("frozen_conductivity_w_m_k")
        freezing = FreezingGround(read["freezing_water_kg_m3"], frozen)
    if "conductivity_w_m_k" in read:
        found = ground_as_measured(
            read["conductivity_w_m_k"],
            read["heat_capacity_mj_m3_k"] * 1e6,
            surface,
            soil=read.get("soil"),
            geothermal_gradient=gradient,
        )
        return replace(found, undisturbed=undisturbed, profile=profile, freezing=freezing)
    water = None
    if "water_content_percent" in read:
        water = read["water_content_percent"] / 1e2
    elif read.get("moisture", "usual") != "usual":
        water = water_content(read["soil"], read["moisture"], read.get("dry_density_kg_m3"))
    found = ground_of_soil(
        read["soil"],
        surface,
        water_content=water,
        dry_density=read.get("dry_density_kg_m3"),
        geothermal_gradient=gradient,
    )
    return replace(found, undisturbed=undisturbed, profile=profile, freezing=freezing)


# --------------------------------------------------------------------------------- kind of array


def choice_from(
    read: Json, job: Read, pipes: Pipes, refusals: Refusals, *, placed: bool = False
) -> Json:
    """Kind of array with its pipe and measures, or BROKEN; `placed`: only its place is asked."""
    if read is BROKEN:
        return BROKEN
    kind = next(iter(read))
    place = ("sizing", "array_kind", kind)
    measures = read[kind]
    if measures is BROKEN:
        return BROKEN
    pipe = pipe_of(measures["pipe"], pipes, (*place, "pipe"), refusals)
    around: dict[str, Any] = {}
    if kind == "pond_mat":
        # Where mats lie does not turn on how cold the water is.
        around["water"] = LEAST_WATER if placed else _coldest_water(job["ground"], refusals)
    elif kind == "borehole":
        plot = job["plot"]
        around["spacing"] = BROKEN if broken(plot) else plot.get("spacing_m", BOREHOLE_SPACING)
    if broken(measures) or BROKEN in (pipe, *around.values()):
        return BROKEN
    make = lambda: _MAKERS[kind]({**measures, **around}, pipe)  # noqa: E731
    return attempt(make, read, place[:-1], refusals)


def _coldest_water(ground: Json, refusals: Refusals) -> Json:
    if ground is BROKEN or "min_water_c" in ground:
        return ground if ground is BROKEN else ground["min_water_c"]
    detail = "min_water_c is missing: mats in open water need the coldest water."
    refusals.append(
        Refusal(("ground", "min_water_c"), detail, MISSING, f"from {LEAST_WATER:g} to 30 °C")
    )
    return BROKEN


def _slinky(read: Mapping[str, Any], pipe: Pipe) -> ArrayChoice:
    return SlinkyArray(
        pipe, read["depth_m"], read["coil_diameter_m"], read["pitch_m"], read["upright"]
    )


def _trench(read: Mapping[str, Any], pipe: Pipe) -> ArrayChoice:
    return StraightArray(pipe, read["depth_m"], read["passes"], read["spacing_m"])


def _pond_mat(read: Mapping[str, Any], pipe: Pipe) -> ArrayChoice:
    choice = PondArray(
        pipe, read["water"], read["inner_diameter_m"], read["outer_diameter_m"], read["spacing_m"]
    )
    choice.mats(1)  # refuses diameters that are no ring
    return choice


def _borehole(read: Mapping[str, Any], pipe: Pipe) -> ArrayChoice:
    return BoreholeArray(
        pipe,
        read["diameter_mm"] / 2e3,
        read["pipe_offset_mm"] / 1e3 if "pipe_offset_mm" in read else None,
        read.get("grout_conductivity_w_m_k"),
        read["u_tubes"],
        read.get("rows"),
        read["spacing"],
        read["top_m"],
        read["max_depth_m"],
        read.get("perimeter", False),
        tuple((place["x_m"], place["y_m"]) for place in read.get("positions", ())),
        read.get("resistance_m_k_w"),
        read.get("resistance_has_film", False),
    )


_MAKERS: Final[dict[str, Callable[[Mapping[str, Any], Pipe], ArrayChoice]]] = {
    "slinky": _slinky,
    "trench": _trench,
    "pond_mat": _pond_mat,
    "borehole": _borehole,
}


def _loops_from(options: Read, limits: Read, most: int, refusals: Refusals) -> Json:
    try:
        return LoopLimits(
            loops=options.get("loop_count"),
            longest_pipe=limits.get("max_pipe_m"),
            largest_drop=limits["max_loop_drop_kpa"] * 1e3,
            largest_velocity=limits["max_velocity_m_s"],
            tail=options["tail_m"],
            most_loops=most,
        )
    except HydraulicsError as error:
        parts = {"sizing": options, "limits": limits}  # it is made of both
        refusals += refusals_of(located(under("sizing.loops", error), parts))
        return BROKEN


def _rate_from(read: Json, refusals: Refusals) -> Json:
    if read is None or broken(read):
        return None if read is None else BROKEN
    return attempt(
        lambda: ExtractionRate(read["rate_w_m"], read["per"], read.get("full_h"), read["source"]),
        read,
        ("sizing", "extraction_rate"),
        refusals,
    )
