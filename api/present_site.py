"""From results of groundworks and commissioning to their responses, in trade units."""

from __future__ import annotations

from typing import Any, Final

from api.present import branch_pointer, findings_of, round_one
from api.version import VERSION
from hydraulics.commissioning.filling import REFRACTOMETER, Filling
from hydraulics.commissioning.plans import Commissioning, MeterCheck, PressureTest, Purging
from hydraulics.commissioning.pressure_test import MINUTE, PlannedStage
from hydraulics.commissioning.pressure_verdict import TestResult
from hydraulics.commissioning.purge import SOURCE as PURGE_SOURCE
from hydraulics.commissioning.purge import PurgeDuty
from hydraulics.commissioning.vessel import METHOD as VESSEL_METHOD
from hydraulics.commissioning.vessel import ExpansionVessel
from hydraulics.fluid.antifreezes import KINDS
from hydraulics.groundworks.excavation import BULKING_SOURCE, Excavation
from hydraulics.groundworks.pipe_order import PipeOrder
from hydraulics.groundworks.plan import Block, Plan
from hydraulics.groundworks.works import CAUTIONS as DIGGING_CAUTIONS
from hydraulics.groundworks.works import Groundworks
from hydraulics.layout.contents import PARTS, Contents
from hydraulics.split.flow_split import FRICTION_METHOD

Object = dict[str, Any]

VOLUMES_METHOD: Final = (
    "Section of each trench times its length, to the floor and to the top of the bedding; pipe by "
    "its outside diameter; backfill settles to the volume that it had in the ground."
)
_PER_MINUTE: Final = 6e4  # L/min in one m³/s


# ------------------------------------------------------------------------------------ groundworks


def _volumes_of(dug: Excavation) -> Object:
    return {
        "length_m": round_one(dug.length),
        "dug_m3": round_one(dug.dug),
        "heaped_m3": round_one(dug.heaped),
        "bedding_m3": round_one(dug.bedding),
        "pipe_m3": round_one(dug.pipe),
        "backfill_m3": round_one(dug.backfill),
        "spoil_m3": round_one(dug.away),
        "spoil_loose_m3": round_one(dug.away_loose),
    }


def _land_of(block: Block, found: Groundworks) -> Object:
    return {
        "places": block.places,
        "across": block.across,
        "rows": block.rows,
        "centres_m": round_one(block.pitch_across),
        "row_centres_m": round_one(block.pitch_along),
        "border_m": round_one(block.border),
        "width_m": round_one(block.width),
        "length_m": round_one(block.length),
        "area_m2": round_one(found.land),
        **({} if found.available is None else {"available_m2": round_one(found.available)}),
        **({} if block.fits is None else {"fits": block.fits}),
    }


def _order_of(order: PipeOrder) -> Object:
    return {
        "lines": [
            {
                "pipe": line.pipe.name,
                "coil_m": round_one(line.coil),
                "count": line.count,
                "for_loops": line.loops,
                "for_routes": line.routes,
            }
            for line in order.lines
        ],
        "loops": [
            {
                "loop": each.loop,
                "pipe": each.pipe.name,
                "needed_m": round_one(each.needed),
                **({} if each.coil is None else {"coil_m": round_one(each.coil)}),
                "leftover_m": round_one(each.leftover),
                "count": each.count,
            }
            for each in order.loop_coils
        ],
        "u_tubes": [
            {"pipe": each.pipe.name, "depth_m": round_one(each.depth), "count": each.count}
            for each in order.probes
        ],
        "routes": [
            {"pipe": pipe.name, "length_m": round_one(length)}
            for pipe, length in order.route_lengths
        ],
        "leftover_m": round_one(order.leftover),
    }


def _labelled(label: str) -> Object:
    return {"label": label} if label else {}


def _plan_of(plan: Plan) -> Object:
    return {
        "width_m": round_one(plan.width),
        "height_m": round_one(plan.height),
        "rectangles": [
            {
                "kind": each.kind,
                **_labelled(each.label),
                "x_m": round_one(each.x),
                "y_m": round_one(each.y),
                "width_m": round_one(each.width),
                "height_m": round_one(each.height),
            }
            for each in plan.rectangles
        ],
        "circles": [
            {
                "kind": each.kind,
                **_labelled(each.label),
                "x_m": round_one(each.x),
                "y_m": round_one(each.y),
                "diameter_m": round_one(each.diameter),
            }
            for each in plan.circles
        ],
        "lines": [
            {
                "kind": each.kind,
                "points": [{"x_m": round_one(x), "y_m": round_one(y)} for x, y in each.points],
            }
            for each in plan.lines
        ],
        "texts": [
            {"x_m": round_one(each.x), "y_m": round_one(each.y), "text": each.text}
            for each in plan.texts
        ],
    }


def groundworks_of(found: Groundworks, order: PipeOrder, name: str | None) -> Object:
    """GroundworksResponseSchema's object.

    Parameters
    ----------
    found, order
        The engine's results.
    name
        Name of the job, or None.

    Returns
    -------
    dict
        The response.
    """
    content: Object = {
        **({"name": name} if name else {}),
        "trenches": [
            {
                "loop": each.loop,
                "length_m": round_one(each.length),
                "count": each.count,
                "coils": each.coils,
                "pipes": each.pipes,
            }
            for each in found.trenches
        ],
        "loop_trenches": _volumes_of(found.loops),
        "header_trench": _volumes_of(found.header),
        "total": _volumes_of(found.total),
    }
    if found.drilling is not None:
        drilling = found.drilling
        content["drilling"] = {
            "holes": drilling.holes,
            "drilled_m": round_one(drilling.metres),
            "grout_m3": round_one(drilling.grout),
            "spoil_m3": round_one(drilling.spoil),
            "spoil_loose_m3": round_one(drilling.spoil_loose),
        }
    if found.mats is not None:
        content["mats"] = {"mats": found.mats.number, "area_m2": round_one(found.mats.area)}
    content |= {
        "bulking_percent": round_one(found.bulking * 1e2),
        "spoil_loads": found.lorries,
        "bedding_loads": found.bedding_loads,
        "digger_h": round_one(found.digger_hours),
    }
    if found.block is not None:
        content["land"] = _land_of(found.block, found)
    content["pipe_order"] = _order_of(order)
    if found.plan is not None:
        content["plan"] = _plan_of(found.plan)
    return content | {
        "findings": findings_of((*found.findings, *order.findings)),
        "cautions": list(DIGGING_CAUTIONS),
        "method": {"volumes": VOLUMES_METHOD, "bulking": BULKING_SOURCE, "version": VERSION},
    }


# ---------------------------------------------------------------------------------- commissioning


def _contents_of(held: Contents) -> Object:
    return {
        "volume_l": round_one(held.volume * 1e3),
        "plant_l": round_one(held.plant * 1e3),
        "parts": [
            {
                "part": part,
                "length_m": round_one(held.length_of(part)),
                "volume_l": round_one(held.volume_of(part) * 1e3),
            }
            for part in PARTS
        ],
        "pipes": [
            {
                "part": each.part,
                "pipe": each.pipe.name,
                "length_m": round_one(each.length),
                "volume_l": round_one(each.volume * 1e3),
            }
            for each in held.pipes
        ],
    }


def _filling_of(fill: Filling, density: float) -> Object:
    pure = fill.antifreeze_volume
    return {
        "temperature_c": round_one(fill.temperature_c),
        "volume_l": round_one(fill.volume * 1e3),
        "mixture_kg": round_one(fill.mass),
        **({} if pure is None else {"antifreeze_l": round_one(pure * 1e3)}),
        "antifreeze_kg": round_one(fill.antifreeze_mass),
        "water_l": round_one(fill.water_volume * 1e3),
        "water_kg": round_one(fill.water_mass),
        "freezing_point_c": round_one(fill.freezing_point_c),
        "density_kg_m3": round_one(density),
    }


def _duty_of(duty: PurgeDuty) -> Object:
    return {
        "name": duty.name,
        "count": duty.count,
        "flow_l_s": round_one(duty.flow * 1e3),
        "pressure_drop_kpa": round_one(duty.drop / 1e3),
        "head_m": round_one(duty.head),
        "hydraulic_power_w": round_one(duty.hydraulic_power),
        "slowest_m_s": round_one(duty.slowest),
        "fastest_m_s": round_one(duty.fastest),
        "slowest_pipe": duty.slowest_pipe,
        "lowest_reynolds": round_one(duty.lowest_reynolds),
        "turnover_min": round_one(duty.turnover / MINUTE),
    }


def _purge_of(purging: Purging, fluid: str) -> Object:
    single = purging.single
    whole = purging.whole
    return {
        "velocity_m_s": round_one(purging.velocity),
        "fluid": fluid,
        "temperature_c": round_one(purging.fluid.temperature_c),
        **({} if whole is None else {"all_at_once": _duty_of(whole)}),
        "loop_by_loop": [_duty_of(duty) for duty in single.loops],
        "pump_flow_l_s": round_one(single.flow * 1e3),
        "pump_pressure_kpa": round_one(single.drop / 1e3),
        "shared_flow_l_s": round_one(single.shared_flow * 1e3),
        "uncleared_pipes": list(single.uncleared),
        "source": PURGE_SOURCE,
    }


def _stage_of(stage: PlannedStage) -> Object:
    return {
        "stage": stage.stage,
        "duration_min": round_one(stage.duration / MINUTE),
        "at_most": stage.at_most,
        "pressure_kpa": round_one(stage.pressure / 1e3),
        "lowest_kpa": round_one(stage.lowest / 1e3),
        "highest_kpa": round_one(stage.highest / 1e3),
        "instruction": stage.instruction,
    }


def _result_of(result: TestResult) -> Object:
    most = result.allowable_loss
    return {
        "verdict": result.verdict,
        "stages": [
            {"stage": each.stage, "verdict": each.verdict, "reason": each.reason}
            for each in result.stages
        ],
        **({} if most is None else {"allowable_drawn_off_l": round_one(most * 1e3)}),
    }


def _test_of(test: PressureTest) -> Object:
    least, most = test.allowable
    return {
        "procedure": test.procedure.name,
        "test_pressure_kpa": round_one(test.test_pressure / 1e3),
        "stages": [_stage_of(stage) for stage in test.stages],
        "allowable_drawn_off_least_l": round_one(least * 1e3),
        "allowable_drawn_off_most_l": round_one(most * 1e3),
        **({} if test.result is None else {"result": _result_of(test.result)}),
        "source": test.procedure.source,
    }


def _vessel_of(vessel: ExpansionVessel) -> Object:
    return {
        "volume_l": round_one(vessel.volume * 1e3),
        "volume_free_pipe_l": round_one(vessel.volume_free_pipe * 1e3),
        "expansion_l": round_one(vessel.expansion * 1e3),
        "contraction_l": round_one(vessel.contraction * 1e3),
        "reserve_l": round_one(vessel.reserve * 1e3),
        "precharge_kpa": round_one(vessel.precharge / 1e3),
        "filling_pressure_kpa": round_one(vessel.filling_pressure / 1e3),
        "final_pressure_kpa": round_one(vessel.final_pressure / 1e3),
        "source": VESSEL_METHOD,
    }


def _meter_of(check: MeterCheck) -> Object:
    expected = check.expected
    content: Object = {
        "loop": expected.loop,
        "where": branch_pointer(check.place),
        "expected_l_min": round_one(expected.expected_l_min),
        "lowest_l_min": round_one(expected.lowest * _PER_MINUTE),
        "highest_l_min": round_one(expected.highest * _PER_MINUTE),
    }
    if check.reading is not None and check.verdict is not None:
        content |= {
            "reading_l_min": round_one(check.reading * _PER_MINUTE),
            "verdict": check.verdict,
        }
    return content


def commissioning_of(
    result: Commissioning, name: str | None, kind: str, purge_fluid: str
) -> Object:
    """CommissioningResponseSchema's object.

    Parameters
    ----------
    result
        The engine's result.
    name
        Name of the job, or None.
    kind
        Kind of antifreeze.
    purge_fluid
        What is purged with, as asked for.

    Returns
    -------
    dict
        The response.
    """
    content: Object = {
        **({"name": name} if name else {}),
        "contents": _contents_of(result.contents),
        "filling": _filling_of(result.filling, result.filled.density),
    }
    if result.purging is not None:
        content["purge"] = _purge_of(result.purging, purge_fluid)
    if result.test is not None:
        content["pressure_test"] = _test_of(result.test)
    if result.vessel is not None:
        content["expansion_vessel"] = _vessel_of(result.vessel)
    if result.sample is not None:
        mix = result.sample.mix
        by_volume = mix.volume_fraction
        content["sample"] = {
            "mass_percent": round_one(mix.mass_fraction * 1e2),
            **({} if by_volume is None else {"volume_percent": round_one(by_volume * 1e2)}),
            "freezing_point_c": round_one(result.sample.freezing_point_c),
        }
    content["flow_meters"] = [_meter_of(check) for check in result.meters]
    if result.meters_proved is not None:
        content["balance_proved"] = result.meters_proved
    return content | {
        "findings": findings_of(result.findings),
        "cautions": list(result.cautions),
        "method": {
            "friction": FRICTION_METHOD,
            "properties": KINDS[kind].source,
            "strength": REFRACTOMETER,
            "version": VERSION,
        },
    }
