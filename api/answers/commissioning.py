"""From the engine's commissioning plans and verdicts to the answer, in trade units."""

from __future__ import annotations

from api.answers.numbers import known, limits, round_one
from api.answers.parts import ARRAY, Object, branch_pointer, findings_of, method_of
from api.refusals import Place
from hydraulics.commissioning.filling import REFRACTOMETER, Filling
from hydraulics.commissioning.meters import LITRES_PER_MINUTE
from hydraulics.commissioning.plans import (
    Commissioning,
    HeldVessel,
    MeterCheck,
    PressureTest,
    Purging,
)
from hydraulics.commissioning.pressure_test import MINUTE, PlannedStage
from hydraulics.commissioning.pressure_verdict import TestResult
from hydraulics.commissioning.purge import PurgeStep, source_of
from hydraulics.commissioning.vessel import METHOD
from hydraulics.job import Job
from hydraulics.layout.contents import PARTS, Contents
from hydraulics.layout.heights import Levels


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
    litres = fill.antifreeze_volume
    return {
        "filling_c": round_one(fill.temperature),
        "volume_l": round_one(fill.volume * 1e3),
        "mixture_kg": round_one(fill.mass),
        "bought_mass_percent": round_one(fill.bought_mass_fraction * 1e2),
        **known({"antifreeze_l": litres and litres * 1e3}),
        "antifreeze_kg": round_one(fill.antifreeze_mass),
        "water_l": round_one(fill.water_volume * 1e3),
        "water_kg": round_one(fill.water_mass),
        "containers": [
            {"size_l": round_one(size * 1e3), "count": count} for size, count in fill.containers
        ],
        "left_over_l": round_one(fill.left_over * 1e3),
        "freezing_point_c": round_one(fill.freezing_point),
        "density_kg_m3": round_one(density),
    }


def _step_of(step: PurgeStep) -> Object:
    return {
        "name": step.name,
        "count": step.count,
        "open_loops": step.loops,
        "flow_l_s": round_one(step.flow * 1e3),
        "pressure_kpa": round_one(step.pressure / 1e3),
        "lift_kpa": round_one(step.lift / 1e3),
        "head_m": round_one(step.head),
        "cleared_pipe": step.clears,
        "min_velocity_m_s": round_one(step.slowest),
        "max_velocity_m_s": round_one(step.fastest),
        "reynolds": round_one(step.reynolds),
        "turnover_min": round_one(step.turnover / MINUTE),
        "time_min": round_one(step.time / MINUTE),
    }


def _purge_of(purging: Purging) -> Object:
    plan = purging.steps
    return {
        "min_velocity_m_s": round_one(purging.plan.velocity),
        "fluid": purging.plan.fluid,
        "filling_c": round_one(purging.fluid.temperature_c),
        "max_flow_l_s": round_one(plan.flow * 1e3),
        "max_pressure_kpa": round_one(plan.pressure / 1e3),
        "min_tank_l": round_one(plan.tank * 1e3),
        "time_min": round_one(plan.time / MINUTE),
        "steps": [_step_of(step) for step in plan.steps],
        "source": source_of(purging.plan.velocity),
    }


def _stage_of(stage: PlannedStage) -> Object:
    return {
        "stage": stage.stage,
        "duration_min": round_one(stage.duration / MINUTE),
        "duration_is_max": stage.at_most,
        **known({"pressure_kpa": stage.pressure and stage.pressure / 1e3}),
        "min_pressure_kpa": round_one(stage.lowest / 1e3),
        "max_pressure_kpa": round_one(stage.highest / 1e3),
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
        **known({"allowed_drawn_off_l": most and most * 1e3}),
    }


def _test_of(test: PressureTest) -> Object:
    least, most = test.allowable
    return {
        "procedure": test.procedure.name,
        "test_pressure_kpa": round_one(test.test_pressure / 1e3),
        "test_pressure_at_bottom_kpa": round_one(test.test_pressure_bottom / 1e3),
        "design_pressure_kpa": round_one(test.design_pressure / 1e3),
        "design_pressure_at_gauge_kpa": round_one(test.design_pressure_gauge / 1e3),
        **known({"max_at_gauge_kpa": None if test.borne is None else test.borne / 1e3}),
        "stages": [_stage_of(stage) for stage in test.stages],
        "min_drawn_off_l": round_one(least * 1e3),
        "max_drawn_off_l": round_one(most * 1e3),
        **({} if test.result is None else {"verdict_of_record": _result_of(test.result)}),
        "source": test.procedure.source,
    }


def _levels_of(levels: Levels) -> Object:
    return {
        "plant_level_m": round_one(levels.plant),
        "gauge_level_m": round_one(levels.gauge),
        "max_ground_level_m": round_one(levels.ground),
        "min_pipe_level_m": round_one(levels.lowest),
        "assumed": list(levels.assumed),
    }


def _vessel_of(held: HeldVessel) -> Object:
    vessel, sold, at = held.needed, held.sold, held.pressures
    return {
        "volume_l": round_one(vessel.volume * 1e3),
        "volume_free_pipe_l": round_one(vessel.volume_free_pipe * 1e3),
        "expansion_l": round_one(vessel.expansion * 1e3),
        "contraction_l": round_one(vessel.contraction * 1e3),
        "expansion_free_pipe_l": round_one(vessel.expansion_free_pipe * 1e3),
        "contraction_free_pipe_l": round_one(vessel.contraction_free_pipe * 1e3),
        "reserve_l": round_one(vessel.reserve * 1e3),
        "precharge_pressure_kpa": round_one(vessel.precharge / 1e3),
        "filling_pressure_kpa": round_one(vessel.filling_pressure / 1e3),
        "max_pressure_kpa": round_one(vessel.final_pressure / 1e3),
        "sold_count": sold.count,
        "sold_volume_l": round_one(sold.volume * 1e3),
        "sold_filling_pressure_kpa": round_one(sold.filling_pressure / 1e3),
        "static_pressure_kpa": round_one(at.static / 1e3),
        "min_precharge_pressure_kpa": round_one(at.least_precharge / 1e3),
        "min_pressure_at_top_kpa": round_one(at.at_top / 1e3),
        "max_pressure_at_bottom_kpa": round_one(at.at_bottom / 1e3),
        "source": METHOD,
    }


def _meter_of(check: MeterCheck, root: Place) -> Object:
    expected = check.expected
    content: Object = {
        "loop": expected.loop,
        "where": branch_pointer(check.place, root),
        "expected_l_min": round_one(expected.expected_l_min),
    }
    if expected.has_band:
        content["min_flow_l_min"], content["max_flow_l_min"] = limits(
            expected.lowest * LITRES_PER_MINUTE, expected.highest * LITRES_PER_MINUTE, digits=3
        )
    if check.reading is not None:
        content["reading_l_min"] = round_one(check.reading * LITRES_PER_MINUTE)
    if check.deviation is not None:
        content["deviation_percent"] = round_one(check.deviation * 1e2)
    if check.verdict is not None:
        content["verdict"] = check.verdict
    return content


def commissioning_of(result: Commissioning, job: Job, *, root: Place = ARRAY) -> Object:
    """CommissioningAnswerSchema's object of a result, but for the job's name."""
    assert job.mixture is not None, "nothing is filled without a mixture"
    content: Object = {
        "contents": _contents_of(result.contents),
        "filling": _filling_of(result.filling, result.filled.density),
        "heights": _levels_of(result.levels),
    }
    if result.purging is not None:
        content["purge"] = _purge_of(result.purging)
    if result.test is not None:
        content["pressure_test"] = _test_of(result.test)
    if result.vessel is not None:
        content["vessel"] = _vessel_of(result.vessel)
    if result.sample is not None:
        mix = result.sample.mix
        by_volume = mix.volume_fraction
        content["sample"] = {
            "mass_percent": round_one(mix.mass_fraction * 1e2),
            **({} if by_volume is None else {"volume_percent": round_one(by_volume * 1e2)}),
            "freezing_point_c": round_one(result.sample.freezing_point),
        }
    content["flow_meters"] = [_meter_of(check, root) for check in result.meters]
    if result.balance_proved is not None:
        content["balance_proved"] = result.balance_proved
    return content | {
        "findings": findings_of(result.findings, root),
        "cautions": list(result.cautions),
        "method": {"strength": REFRACTOMETER, **method_of(job.mixture)},
    }
