"""What do several answers have in common: pointers into the array, findings, fluids, duties?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from api.answers.numbers import round_one
from api.refusals import Json, Place, pointer
from api.version import VERSION
from hydraulics.findings import Finding, gravity
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.fluid.mixture import Fluid, Mixture
from hydraulics.split.flow_split import FRICTION_METHOD
from hydraulics.split.result import CirculatingDuty

Object = dict[str, Any]

ARRAY: Final[Place] = ("array",)
"""Where the array stands that a job gives."""
DECIDED: Final[Place] = ("decides", "array")
"""Where it stands that the service made."""


Wanted = frozenset[str | int] | None
"""Names of the fields of an answer that are asked for; None for all."""


def built(parts: Mapping[str, Callable[[], Json]], wanted: Wanted) -> Object:
    """Those parts of an answer that are asked for."""
    return {name: make() for name, make in parts.items() if wanted is None or name in wanted}


def position(point: tuple[float, float], decimals: int = 3) -> Object:
    """PositionSchema's object of a place, to the millimetre where nothing else is said."""
    return dict(zip(("x_m", "y_m"), rounded(point, decimals), strict=True))


def rounded(point: tuple[float, float], decimals: int = 3) -> list[float]:
    """Coordinates to so many decimals, none of them a negative nothing."""
    return [round(value, decimals) + 0.0 for value in point]


def branch_pointer(place: Sequence[int], root: Place = ARRAY) -> str:
    """JSON Pointer to a branch of the array by its numbers from the outermost circuit inwards."""
    path = root
    for depth, number in enumerate(place):
        path = (*path, *(("circuit",) if depth else ()), "branches", number)
    return pointer(path)


def gravity_of(finding: Object) -> tuple[int, int]:
    """Place of a finding as it is answered, the gravest first."""
    return gravity(finding["severity"], finding["code"])


def findings_of(findings: Iterable[Finding], root: Place = ARRAY) -> list[Object]:
    """FindingSchema's objects of findings."""
    return [
        {
            "code": each.code,
            "severity": each.severity,
            **({"where": branch_pointer(each.place, root)} if each.place is not None else {}),
            "message": each.message,
            "source": each.source,
        }
        for each in findings
    ]


def fluid_of(fluid: Fluid) -> Object:
    """FluidSchema's object of a fluid."""
    return {
        "temperature_c": round_one(fluid.temperature_c),
        "density_kg_m3": round_one(fluid.density),
        "viscosity_mpa_s": round_one(fluid.viscosity * 1e3),
        "specific_heat_kj_kg_k": round_one(fluid.specific_heat / 1e3),
        "conductivity_w_m_k": round_one(fluid.conductivity),
        "prandtl": round_one(fluid.prandtl),
        "freezing_point_c": round_one(fluid.freezing_point_c),
        "freezing_spread_k": round_one(fluid.freezing_spread),
        "more_viscous_percent": round_one(fluid.more_viscous * 1e2),
        "less_viscous_percent": round_one(fluid.less_viscous * 1e2),
    }


def as_it_runs(split: Object) -> Object | None:
    """What the pump that runs drives in the cold, by SplitAnswerSchema's object; None without."""
    cold: Object = split.get("running", [{}])[0]
    return cold if "loops" in cold else None


def duty_of(duty: CirculatingDuty) -> Object:
    """What the circulating pump must do, as far as every answer tells it."""
    return {
        "flow_l_s": round_one(duty.volume_flow * 1e3),
        "head_kpa": round_one(duty.pressure / 1e3),
        "head_m": round_one(duty.head),
        "hydraulic_power_w": round_one(duty.hydraulic_power),
    }


def method_of(mixture: Mixture) -> Object:
    """How friction and properties were computed, by which version."""
    return {
        "friction": FRICTION_METHOD,
        "properties": KINDS[mixture.kind].source,
        "version": VERSION,
    }
