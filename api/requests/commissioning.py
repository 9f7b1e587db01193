"""From the commissioning part of a request to the engine's plans."""

from __future__ import annotations

from typing import NamedTuple

from api.refusals import BROKEN, Json
from api.requests.groundworks import Read, Refusals, section, thousandth
from hydraulics.commissioning.plans import (
    FillingPlan,
    MeterPlan,
    PressureTestPlan,
    PurgePlan,
    Sample,
    VesselPlan,
)
from hydraulics.commissioning.pressure_test import MINUTE
from hydraulics.commissioning.pressure_verdict import Reading

_LITRE_PER_MINUTE = 1e-3 / 60.0  # m³/s


class CommissioningPlans(NamedTuple):
    """What `commissioning` takes besides the flow split."""

    filling: FillingPlan
    purge: PurgePlan | None
    test: PressureTestPlan | None
    vessel: VesselPlan | None
    meters: MeterPlan
    sample: Sample | None


def _pascal(read: Read, name: str) -> float | None:
    return read[name] * 1e3 if name in read else None


# ---------------------------------------------------------------------------------- commissioning


def commissioning_plans_from(read: Read, refusals: Refusals) -> CommissioningPlans | None:
    """How an array is filled, purged, tested and proved.

    Parameters
    ----------
    read
        The request as read by CommissioningRequestSchema.
    refusals
        Receives what is wrong.

    Returns
    -------
    CommissioningPlans or None
        None where anything in these sections was refused.
    """
    sections = (
        section(read, "filling", _filling, refusals),
        section(read, "purge", _purge, refusals),
        section(read, "pressure_test", _test, refusals),
        section(read, "expansion_vessel", _vessel, refusals),
        section(read, "flow_meters", _meters, refusals) or MeterPlan(),
        section(read, "sample", lambda s: Sample(s["density_kg_m3"], s["temperature_c"]), refusals),
    )
    return None if BROKEN in sections or refusals else CommissioningPlans(*sections)


def _filling(read: Read) -> FillingPlan:
    return FillingPlan(
        read["temperature_c"], read["plant_volume_l"] / 1e3, read["spare_percent"] / 1e2
    )


def _purge(read: Read) -> PurgePlan:
    return PurgePlan(read["velocity_m_s"], read["fluid"])


def _readable(readings: Json) -> bool:
    """Tell whether every reading of a list can be used."""
    return readings is not BROKEN and not any(
        each is BROKEN or BROKEN in each.values() for each in readings
    )


def _test(read: Read) -> Json:
    readings = read.get("readings", [])
    if not _readable(readings):
        return BROKEN
    return PressureTestPlan(
        procedure=read["procedure"],
        design_pressure=_pascal(read, "design_pressure_kpa"),
        surge_calculated=read.get("surge_calculated", False),
        test_pressure=_pascal(read, "test_pressure_kpa"),
        pipe_temperature_c=read.get("pipe_temperature_c"),
        pipe_modulus=read["pipe_modulus_mpa"] * 1e6,
        sdr=read.get("sdr"),
        gauge_resolution=read["gauge_resolution_kpa"] * 1e3,
        readings=tuple(
            Reading(
                each["stage"],
                each["time_min"] * MINUTE,
                each["pressure_kpa"] * 1e3,
                thousandth(each, "drawn_off_l"),
            )
            for each in readings
        ),
    )


def _vessel(read: Read) -> VesselPlan:
    return VesselPlan(
        precharge=read["precharge_kpa"] * 1e3,
        coldest_c=read["coldest_temperature_c"],
        warmest_c=read["warmest_temperature_c"],
        safety_valve=_pascal(read, "safety_valve_kpa"),
        final_pressure=_pascal(read, "final_pressure_kpa"),
    )


def _meters(read: Read) -> Json:
    readings = read.get("readings", [])
    if not _readable(readings):
        return BROKEN
    return MeterPlan(
        read["tolerance_percent"] / 1e2,
        read["accuracy_percent"] / 1e2,
        tuple((each["loop"], each["flow_l_min"] * _LITRE_PER_MINUTE) for each in readings),
    )
