"""How large an expansion vessel does the brine circuit need, and what pressure to fill it to?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, beyond, figures
from hydraulics.fluid.mixture import Mixture, fluid
from hydraulics.split.brine import BrineRange

AMBIENT_PRESSURE: Final = 1.0e5  # Pa; EN 12828 counts the atmosphere as 1 bar (from memory)
RESERVE_SHARE: Final = 0.005  # of the system volume, EN 12828 (from memory)
TOP_LEAST: Final = 30e3  # Pa, at the highest point at the least; common practice, no source
SIZES: Final = tuple(
    litres / 1e3
    for litres in (8, 12, 18, 25, 35, 50, 80, 100, 140, 200, 250, 300, 400, 500, 600, 800, 1000)
)
"""Nominal volumes that vessels are sold in [m³] (common practice, no source: ask the supplier)."""
RESERVE_LEAST: Final = 3.0e-3  # m3, EN 12828 (from memory)
PE_LINEAR_EXPANSION: Final = 1.8e-4  # 1/K, polyethylene; sources give 1.3e-4 to 2.0e-4 (memory)
_STEPS: Final = 81  # temperatures tried over the range; water's density has its maximum inside it

METHOD: Final = (
    "EN 12828: vessel volume (expansion + reserve)(pe + 1)/(pe - p0) in bar gauge, reserve 0.5 % of"
    " the system but at least 3 L (from memory); expansion is the whole swing of the mixture's"
    " volume between its coldest and warmest temperature, pipes taken as rigid."
)
PIPE_NOTE: Final = (
    "Polyethylene pipe changes its own contents with temperature, more than the fluid in it does:"
    " as free pipe cools, it squeezes fluid out and the pressure can rise (J. Siegenthaler, Why"
    " geothermal earth loops need expansion tanks, trade journal, read). Soil holds buried pipe in"
    " part, so the truth lies between rigid and free pipe; PE also creeps under pressure, so expect"
    " to top up in the first weeks. A vessel that is too large does no harm."
)
_CAUTION: Final = (
    "A safety valve and a pressure gauge belong on the circuit, never to be isolated from the"
    " vessel's side; {outlet} Set the"
    " vessel's gas pressure with the water side empty. Follow EN 12828, the maker's instructions"
    " and local codes; leave work on pressure equipment to qualified people."
)
_OUTLET: Final = (
    "lead the valve's outlet to a container, since antifreeze must not reach the drain, the ground"
    " or groundwater. The vessel's membrane must suit the antifreeze."
)
_OUTLET_OF_WATER: Final = "lead the valve's outlet to where it scalds and harms nobody."


def vessel_caution(*, plain_water: bool) -> str:
    """What those who set a vessel look after."""
    return _CAUTION.format(outlet=_OUTLET_OF_WATER if plain_water else _OUTLET)


def en12828_vessel_volume(
    expansion: float, reserve: float, precharge: float, final_pressure: float
) -> float:
    """Smallest nominal volume of a diaphragm expansion vessel, EN 12828.

    Parameters
    ----------
    expansion
        Volume that the fluid gains [m³], 0 or more.
    reserve
        Water reserve [m³], 0 or more.
    precharge
        Gas pressure of the empty vessel p0 [Pa gauge], 0 or more.
    final_pressure
        Highest pressure allowed at the vessel pe [Pa gauge], more than p0.

    Returns
    -------
    float
        Nominal volume [m³], (expansion + reserve)(pe + 1 bar)/(pe - p0): the gas is compressed at
        constant temperature.

    Raises
    ------
    InputError
        A number is out of its range.

    References
    ----------
    EN 12828, annex on diaphragm expansion vessels (formula from memory).
    """
    refuse(
        number_fault("expansion", expansion * 1e3, "L", at_least=0.0),
        number_fault("reserve", reserve * 1e3, "L", at_least=0.0),
        number_fault("precharge", precharge / 1e3, "kPa", at_least=0.0),
        number_fault("final_pressure", final_pressure / 1e3, "kPa", at_least=0.0),
    )
    if final_pressure <= precharge:
        raise InputError(
            Fault(
                "final_pressure",
                "the final pressure must exceed the vessel's pre-charge, or the vessel takes"
                " nothing; choose a higher safety valve or a lower pre-charge",
                final_pressure / 1e3,
                f"more than {precharge / 1e3:g} kPa",
            )
        )
    return (expansion + reserve) * (final_pressure + AMBIENT_PRESSURE) / (
        final_pressure - precharge
    )  # fmt: skip


def en12828_reserve(system_volume: float) -> float:
    """Water reserve [m³]: 0.5 % of the system volume, at least 3 L (EN 12828, from memory)."""
    return max(RESERVE_SHARE * system_volume, RESERVE_LEAST)


def en12828_final_pressure(safety_valve: float) -> float:
    """Highest design pressure [Pa gauge] under a safety valve [Pa gauge].

    0.5 bar below a valve of up to 5 bar, a tenth below a larger one, so that the valve stays shut
    (EN 12828, from memory; the 0.5 bar read in a trade calculator's text).
    """
    refuse(number_fault("safety_valve", safety_valve / 1e3, "kPa", above=50.0))
    return safety_valve - max(0.5e5, 0.1 * safety_valve)


@dataclass(frozen=True, slots=True)
class ExpansionVessel:
    """The vessel and what it has to take.

    Attributes
    ----------
    expansion, contraction
        Volume that the fluid gains above, and loses below, its volume at filling temperature over
        the temperature range [m³], pipes rigid.
    expansion_free_pipe, contraction_free_pipe
        The same for rigid or free pipe, whichever is more [m³].
    reserve
        Water reserve [m³].
    volume
        Smallest nominal volume by EN 12828, pipes rigid [m³].
    volume_free_pipe
        The same for the swing between the least volume, of rigid or free pipe, and the largest
        [m³]; an outer bound, not below ``volume``.
    precharge, final_pressure
        Gas pressure of the empty vessel and highest pressure [Pa gauge].
    filling_pressure
        Pressure to fill to at filling temperature with a vessel of just ``volume`` [Pa gauge]: it
        then holds the reserve and what contraction will take.
    highest_free_pipe
        Highest pressure of that vessel, filled so, were all pipe free [Pa gauge]; infinite where
        it could not hold what shrinking pipe squeezes out.
    filling_pressure_free_pipe
        Pressure to fill a vessel of ``volume_free_pipe`` to, which holds for rigid pipe, free pipe
        and all between [Pa gauge].
    """

    expansion: float
    contraction: float
    expansion_free_pipe: float
    contraction_free_pipe: float
    reserve: float
    volume: float
    volume_free_pipe: float
    precharge: float
    final_pressure: float
    filling_pressure: float
    highest_free_pipe: float
    filling_pressure_free_pipe: float


def filling_pressure(vessel: float, held: float, precharge: float) -> float:
    """Pressure of a vessel that holds a volume of fluid [Pa gauge].

    Parameters
    ----------
    vessel
        Nominal volume [m³].
    held
        Fluid in it [m³], less than the nominal volume.
    precharge
        Gas pressure when empty [Pa gauge].

    Raises
    ------
    InputError
        The vessel is too small to hold so much.
    """
    if not 0.0 <= held < vessel:
        raise InputError(
            Fault(
                "vessel",
                f"the vessel must hold {held * 1e3:.1f} L at filling, so it must be larger",
                vessel * 1e3,
                f"more than {held * 1e3:.1f} L",
            )
        )
    return (precharge + AMBIENT_PRESSURE) * vessel / (vessel - held) - AMBIENT_PRESSURE


def expansion_vessel(
    mix: Mixture,
    system_volume: float,
    *,
    filling: float,
    coldest: float,
    warmest: float,
    precharge: float,
    final_pressure: float,
    pipe_volume: float = 0.0,
) -> ExpansionVessel:
    """Expansion vessel of a brine circuit, for expansion and for cooling contraction.

    Parameters
    ----------
    system_volume
        Contents [m³], more than 0.
    filling, coldest, warmest
        Filling temperature, and the coldest and warmest that the fluid as a whole becomes [degC].
        The warmest includes standstill: plant rooms warm up.
    precharge, final_pressure
        Pressures p0 and pe at the vessel [Pa gauge].
    pipe_volume
        Contents of polyethylene pipe among the system volume [m³], for the outer bound.

    Raises
    ------
    InputError
        Numbers out of range, or the filling temperature not between coldest and warmest.
    RangeError
        A temperature outside the mixture's range.

    Notes
    -----
    The fluid's volume is V ρ(filling)/ρ(T). EN 12828 is written for heating, filled cold; a ground
    circuit is filled warm and then cools, so that the vessel must hold the contraction at filling
    on top of the reserve. The swing between coldest and warmest so takes the place of the
    expansion in the standard's formula.
    """
    refuse(
        number_fault("volume", system_volume * 1e3, "L", above=0.0),
        number_fault("pipe_volume", pipe_volume * 1e3, "L", at_least=0.0),
    )
    if warmest < coldest:
        raise InputError(
            Fault(
                "warmest",
                f"the warmest fluid, {warmest:g} °C, is colder than the coldest",
                warmest,
                f"{coldest:g} °C or more",
            )
        )
    if not coldest <= filling <= warmest:
        raise InputError(
            Fault(
                "filling",
                "the filling temperature must lie between the coldest and the warmest",
                filling,
                f"{coldest:g} to {warmest:g} °C",
            )
        )
    temperatures = np.linspace(coldest, warmest, _STEPS)
    density = np.asarray([fluid(mix, float(t)).density for t in temperatures])
    fluid_gain = system_volume * (fluid(mix, filling).density / density - 1.0)
    pipe_gain = pipe_volume * 3.0 * PE_LINEAR_EXPANSION * (temperatures - filling)
    reserve = en12828_reserve(system_volume)

    expansion = max(float(fluid_gain.max()), 0.0)
    contraction = max(float(-fluid_gain.min()), 0.0)
    volume = en12828_vessel_volume(expansion + contraction, reserve, precharge, final_pressure)
    free = fluid_gain - pipe_gain
    largest = max(float(free.max()), expansion)
    lost = max(float(-free.min()), contraction)
    outer = en12828_vessel_volume(largest + lost, reserve, precharge, final_pressure)
    filled = filling_pressure(volume, reserve + contraction, precharge)
    gas = volume - reserve - contraction
    squeezed = max(float(free.max()), 0.0)
    highest = math.inf
    if squeezed < gas:
        highest = (filled + AMBIENT_PRESSURE) * gas / (gas - squeezed) - AMBIENT_PRESSURE
    return ExpansionVessel(
        expansion=expansion,
        contraction=contraction,
        expansion_free_pipe=largest,
        contraction_free_pipe=lost,
        reserve=reserve,
        volume=volume,
        volume_free_pipe=outer,
        precharge=precharge,
        final_pressure=final_pressure,
        filling_pressure=filled,
        highest_free_pipe=highest,
        filling_pressure_free_pipe=filling_pressure(outer, reserve + lost, precharge),
    )


@dataclass(frozen=True, slots=True)
class SoldVessel:
    """Vessels as they are sold.

    Attributes
    ----------
    count, volume
        How many, and nominal volume of each [m³].
    filling_pressure
        Pressure to fill them to at filling temperature [Pa gauge]: they then hold the reserve and
        what contraction takes, of rigid or free pipe, whichever is more.
    """

    count: int
    volume: float
    filling_pressure: float


def sold_vessel(vessel: ExpansionVessel) -> SoldVessel:
    """The next size that vessels are sold in, which holds for rigid pipe, free pipe and between.

    Several of the largest where one is too small.
    """
    count = max(1, math.ceil(vessel.volume_free_pipe / SIZES[-1] * (1.0 - 1e-9)))
    size = next(each for each in SIZES if each * count >= vessel.volume_free_pipe * (1.0 - 1e-9))
    held = vessel.reserve + vessel.contraction_free_pipe
    return SoldVessel(count, size, filling_pressure(count * size, held, vessel.precharge))


@dataclass(frozen=True, slots=True)
class VesselPressures:
    """What the vessel's pressures are elsewhere in the circuit [Pa gauge].

    Attributes
    ----------
    static
        Of the fluid that stands above the vessel up to the highest point.
    least_precharge
        Precharge that keeps :data:`TOP_LEAST` at the highest point.
    at_top
        Least at the highest point, the vessel just empty.
    at_bottom
        Most at the lowest point: the safety valve's set pressure or the highest at the vessel,
        the fluid that stands above the lowest point, and the pump's pressure where it adds.
    """

    static: float
    least_precharge: float
    at_top: float
    at_bottom: float


def vessel_pressures(
    vessel: ExpansionVessel, most: float, stands: tuple[float, float], pump: tuple[float, float]
) -> VesselPressures:
    """Pressures at the circuit's highest and lowest points.

    Parameters
    ----------
    most
        Highest that the vessel may reach [Pa gauge].
    stands
        Fluid between vessel and highest point, and between vessel and lowest point [Pa].
    pump
        What the pump takes off at the highest point, and adds at the lowest [Pa].
    """
    up, down = stands
    off, on = pump
    return VesselPressures(
        static=up,
        least_precharge=up + off + TOP_LEAST,
        at_top=vessel.precharge - up - off,
        at_bottom=most + down + on,
    )


def precharge_findings(vessel: ExpansionVessel, at: VesselPressures) -> Iterator[Finding]:
    """Tell of a precharge that lets air in at the highest point."""
    if vessel.precharge >= at.least_precharge * (1.0 - 1e-9):
        return
    air = at.at_top <= 0.0
    comes = f"may come to {figures(at.at_top / 1e3)} kPa"
    if at.at_top <= -AMBIENT_PRESSURE:
        comes = "is left with no pressure at all, so that the fluid parts there"
    least = math.ceil(at.least_precharge / 1e3 * (1.0 - 1e-9))
    yield Finding(
        "vessel_precharge_low", "error" if air else "warning",
        f"With {figures(vessel.precharge / 1e3, 6)} kPa of gas in the empty vessel the highest "
        f"point of the circuit {comes}"
        f"{': air is drawn in, and the pump may run dry' if air else ''};"
        f" {TOP_LEAST / 1e3:g} kPa is wanted there. Give the vessel {least} kPa or more, and a"
        " safety valve that allows it, or set the vessel higher.",
        COMMON_PRACTICE,
    )  # fmt: skip


def inlet_findings(
    kept: float,
    name: str,
    needed: tuple[float, str] | None,
    told: float | None,
    *,
    at_outlet: bool = False,
) -> Iterator[Finding]:
    """Tell of a vessel that keeps less at the pump's inlet than the pump needs or is told of.

    Parameters
    ----------
    kept
        What the vessel keeps there when its reserve is used up [Pa gauge].
    name
        Of the pump.
    needed
        Least that its inlet needs [Pa gauge], and in which condition; None where not known.
    told
        What the job tells the pump to have there [Pa gauge]; None where it does not.
    at_outlet
        Whether the vessel sits at its outlet.
    """
    lacks = needed is not None and needed[0] > kept
    if not lacks and (told is None or told <= kept * (1.0 + 1e-9)):
        return
    text = f"With its reserve used up the vessel keeps {figures(kept / 1e3, 4)} kPa at the inlet of"
    text += f" {name}"
    if told is not None and told > kept * (1.0 + 1e-9):
        text += f", which the job tells of {figures(told / 1e3, 4)} kPa there"
    least = told or 0.0
    if needed is not None and lacks:
        least = needed[0]
        text += (
            f"; it needs {beyond(least / 1e3, kept / 1e3, 0)} kPa over the atmosphere"
            f" ({needed[1]}), and would cavitate"
        )
    more = math.ceil((least - kept) / 1e3 * (1.0 - 1e-9))
    text += f". Give the vessel {more} kPa more of gas pressure and a safety valve that allows it"
    text += ", or set it at the pump's inlet" if at_outlet else ""
    text += "." if lacks else ", or correct what the pump is told."
    yield Finding(
        "vessel_below_inlet", "warning", text,
        "NPSH of the pump's table" if lacks else "the job's own numbers",
    )  # fmt: skip


def vessel_findings(vessel: ExpansionVessel) -> tuple[Finding, ...]:
    """Tell where a vessel of just the rigid pipes' volume could be driven over its limit."""
    most = vessel.final_pressure
    if vessel.highest_free_pipe <= most * (1.0 + 1e-9):
        return ()
    reached = (
        f"{beyond(vessel.highest_free_pipe / 1e3, most / 1e3, 0)} kPa"
        if math.isfinite(vessel.highest_free_pipe)
        else "beyond any pressure"
    )
    return (
        Finding(
            "vessel_full_if_pipe_shrinks", "warning",
            f"Filled to {vessel.filling_pressure / 1e3:.0f} kPa, as rigid pipe asks, a vessel of"
            f" just {vessel.volume * 1e3:.1f} L would be driven to {reached}, above"
            f" {most / 1e3:.0f} kPa, if all pipe were free to shrink as the circuit cools, so that"
            " the safety valve may let the liquid out; filled lower, it would lose its reserve if"
            " the pipe held. No filling pressure serves both: take a vessel of"
            f" {vessel.volume_free_pipe * 1e3:.1f} L and fill that one to"
            f" {vessel.filling_pressure_free_pipe / 1e3:.0f} kPa, or fill at a colder temperature,"
            " and watch the gauge while the circuit first cools.",
            "gas law; thermal expansion of polyethylene from memory",
        ),
    )  # fmt: skip


def beyond_design_findings(
    vessel: ExpansionVessel,
    safety_valve: float | None,
    design: float,
    from_test: str = "",
    adds: float = 0.0,
    *,
    least_precharge: float = 0.0,
) -> Iterator[Finding]:
    """Tell of a vessel that may reach more than the pressure test is for.

    Parameters
    ----------
    safety_valve
        Its set pressure [Pa gauge]; None where it is not told.
    design
        Design pressure that the array is tested for, at its lowest point [Pa gauge].
    from_test
        Where that comes from, to stand behind it; empty where it was given.
    adds
        What the lowest point has more than the vessel: standing fluid, and the pump [Pa].
    least_precharge
        Gas that the highest point wants in the vessel [Pa gauge], see `precharge_findings`.
    """
    reached = {"highest pressure": vessel.final_pressure}
    if safety_valve is not None:
        reached["safety valve"] = safety_valve
    beyond = [
        f"{name} ({figures(pressure / 1e3, 6)} kPa)"
        for name, pressure in reached.items()
        if pressure + adds > design * (1.0 + 1e-9)
    ]
    if beyond:
        lie = "lie" if len(beyond) > 1 else "lies"
        more = ""
        if adds >= 500.0:
            added = figures(math.ceil(adds / 1e3 * (1.0 - 1e-9)), 6)
            more = f", with the {added} kPa that fluid and pump add at the lowest point,"
        most = math.floor((design - adds) / 1e3 * (1.0 + 1e-9))
        mended = f"Take {most} kPa or less for safety valve and highest pressure of the vessel, or"
        mended += " test"
        room = 1e3 * most
        if safety_valve is not None and most > 50:
            room = en12828_final_pressure(room)
        wanted = 1e3 * math.ceil(least_precharge / 1e3 * (1.0 - 1e-9))
        if room <= max(vessel.precharge, wanted):  # a vessel so set would take nothing
            gas = "gas"
            if vessel.precharge < wanted:
                gas = f"the {wanted / 1e3:g} kPa of gas that the highest point wants"
            mended = (
                f"No safety valve is low enough, so much do fluid, pump and {gas} make alone: test"
            )
        yield Finding(
            "vessel_above_test_design", "error",
            f"The expansion vessel's {' and '.join(beyond)}{more} {lie} above the design pressure"
            f" that the pressure test is for, {figures(design / 1e3, 6)} kPa{from_test}: the "
            f"array would run at a pressure that it was not tested for. {mended} for the design "
            "pressure that they ask for, if every pipe and part bears it.",
            "EN 805, 11.2: the design pressure is the highest in service, surge included (from"
            " memory)",
        )  # fmt: skip


def range_findings(coldest: float, warmest: float, brine: BrineRange) -> Iterator[Finding]:
    """Tell of a vessel whose fluid is to stay warmer, or colder, than the job's brine becomes.

    Parameters
    ----------
    coldest, warmest
        What the fluid as a whole becomes, as told for the vessel [degC].
    brine
        The job's brine; told rounded to the safe side, so that what is told can be given.
    """
    cold, warm = brine.coldest, brine.warmest
    least = figures(math.floor(100.0 * cold.coldest) / 100.0, 6)
    most = figures(math.ceil(100.0 * warm.warmest) / 100.0, 6)
    if coldest > cold.coldest + 1e-9:
        yield Finding(
            "vessel_warmer_than_duty", "error" if coldest > cold.mean + 1e-9 else "warning",
            f"The expansion vessel's coldest fluid is told as {coldest:g} °C, but"
            f" {cold.is_at(cold.coldest)} {least} °C and is "
            f"{figures(cold.mean, 4)} °C in the mean: the vessel is reckoned for less contraction "
            "than there will be, so that the pressure may fall until the pump draws air. Give the "
            "vessel that coldest temperature.",
            COMMON_PRACTICE,
        )  # fmt: skip
    if warmest < warm.warmest - 1e-9:
        yield Finding(
            "vessel_colder_than_brine", "error" if warmest < warm.mean - 1e-9 else "warning",
            f"The expansion vessel's warmest fluid is told as {warmest:g} °C, but"
            f" {warm.is_at(warm.warmest)} {most} °C and is "
            f"{figures(warm.mean, 4)} °C in the mean: the vessel is reckoned for less expansion "
            "than there will be, so that the safety valve may let the liquid out. Give the vessel "
            "that warmest temperature, or the one at standstill where that is warmer.",
            COMMON_PRACTICE,
        )  # fmt: skip
