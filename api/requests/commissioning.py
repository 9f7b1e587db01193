"""From commissioning options in a request to the engine's plans, in SI."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Final

from api.refusals import BROKEN, Json
from api.requests.array import Read, Refusals
from api.requests.groundworks import section
from hydraulics.commissioning.filling import PURE, Bought
from hydraulics.commissioning.meters import LITRES_PER_MINUTE
from hydraulics.commissioning.plans import (
    CommissioningPlan,
    FillingPlan,
    MeterPlan,
    PressureTestPlan,
    PurgePlan,
    Sample,
    VesselPlan,
)
from hydraulics.commissioning.pressure_test import MINUTE
from hydraulics.commissioning.pressure_verdict import Reading


def commissioning_from(read: Json, refusals: Refusals) -> Json:
    """How an array is filled, purged, tested and proved, or BROKEN."""
    if read is BROKEN:
        return BROKEN
    found = {
        name: section(read, ("commissioning", name), make, refusals)
        for name, make in _SECTIONS.items()
    }
    if read["filling"] is BROKEN or any(each is BROKEN for each in found.values()):
        return BROKEN
    return CommissioningPlan(**{name: each for name, each in found.items() if each is not None})


def _pascal(read: Read, name: str) -> float | None:
    return read[name] * 1e3 if name in read else None


def _filling(read: Read) -> FillingPlan:
    bought = PURE
    if "bought" in read:
        given = read["bought"]
        sizes = (
            tuple(each / 1e3 for each in given["container_l"]) if "container_l" in given else None
        )
        bought = Bought(given["concentration_percent"] / 1e2, given["basis"], sizes)
    return FillingPlan(read["filling_c"], read["spare_percent"] / 1e2, bought)


def _purge(read: Read) -> PurgePlan:
    return PurgePlan(read["min_velocity_m_s"], read["fluid"])


def _test(read: Read) -> PressureTestPlan:
    return PressureTestPlan(
        procedure=read["procedure"],
        design_pressure=_pascal(read, "design_pressure_kpa"),
        surge_calculated=read["surge_calculated"],
        test_pressure=_pascal(read, "test_pressure_kpa"),
        pipe_temperature=read.get("pipe_c"),
        pipe_modulus=read["pipe_modulus_mpa"] * 1e6,
        sdr=read.get("sdr"),
        gauge_resolution=read["gauge_step_kpa"] * 1e3,
        readings=tuple(
            Reading(
                each["stage"],
                each["time_min"] * MINUTE,
                each["pressure_kpa"] * 1e3,
                each["drawn_off_l"] / 1e3 if "drawn_off_l" in each else None,
            )
            for each in read.get("readings", ())
        ),
    )


def _vessel(read: Read) -> VesselPlan:
    return VesselPlan(
        precharge=read["precharge_pressure_kpa"] * 1e3,
        coldest=read["min_fluid_c"],
        warmest=read["max_fluid_c"],
        safety_valve=_pascal(read, "safety_valve_pressure_kpa"),
        final_pressure=_pascal(read, "max_pressure_kpa"),
        place=read["place"],
    )


def _meters(read: Read) -> MeterPlan:
    return MeterPlan(
        read["max_deviation_percent"] / 1e2 if "max_deviation_percent" in read else None,
        read["accuracy_percent"] / 1e2,
        (
            read["min_scale_l_min"] / LITRES_PER_MINUTE,
            read.get("max_scale_l_min", math.inf) / LITRES_PER_MINUTE,
        ),
        tuple(
            (each["loop"], each["flow_l_min"] / LITRES_PER_MINUTE)
            for each in read.get("readings", ())
        ),
    )


def _sample(read: Read) -> Sample:
    return Sample(read["density_kg_m3"], read["sample_c"])


_SECTIONS: Final[dict[str, Callable[[Read], Any]]] = {
    "filling": _filling,
    "purge": _purge,
    "pressure_test": _test,
    "vessel": _vessel,
    "flow_meters": _meters,
    "sample": _sample,
}
