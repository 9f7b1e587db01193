"""Every number of a job reaches the engine, in SI, and none of them another's place.

The unit that a name ends in says by what it is multiplied: percent 1/100, mm 1/1000, L/s 1/1000.
"""

from __future__ import annotations

from typing import Any

import pytest

from api.requests.array import SHORTEST_LOOP
from api.requests.duty import SMALLEST_CHANGE, SMALLEST_FLOW
from hydraulics.job import Job
from hydraulics.pumps.selection import Candidate
from hydraulics.sizing.choice import BoreholeArray, PondArray, SlinkyArray, StraightArray
from hydraulics.sizing.heat_load import AnnualHeat, MonthlyHeat
from tests.api.jobs import Json, replaced, slate, tansy
from tests.api.requests.test_job import loops, read, refused


def made(calculation: str, **parts: Any) -> Job:
    return read({**tansy(), **parts}, calculation)


def test_heat_of_a_year() -> None:
    plan = made("sizing").sizing
    assert plan is not None
    assert plan.load == AnnualHeat(6000.0, 3.6, 1800.0, 2400 * 3.6e6, 2.7, 3.1, 24.0, 10)
    assert plan.temperature_change == 3
    months = {**slate()["heat"], "design_performance": 3.2, "peak_h": 36, "first_month": 9}
    plan = made("sizing", heat=months).sizing
    assert plan is not None
    assert isinstance(plan.load, MonthlyHeat)
    assert plan.load.monthly[2] == pytest.approx(9900 * 3.6e6)
    assert (plan.load.seasonal_performance, plan.load.output) == (4, 40e3)
    assert plan.load.design_performance == 3.2
    assert (plan.load.peak_hours, plan.load.first_month) == (36, 9)


def test_ground_and_plot() -> None:
    job = read(slate(), "sizing")
    plan, plot = job.sizing, job.plot
    assert plan is not None
    ground = plan.ground
    assert (ground.conductivity, ground.heat_capacity) == pytest.approx((2.4, 2.2e6))
    assert (ground.surface.mean, ground.surface.swing) == (9.8, 8)
    assert ground.geothermal_gradient == 0.02
    assert (plot.length, plot.width, plot.border, plot.spacing) == (40, 30, 3, 7)
    plot = made("sizing", plot={"area_m2": 700, "max_trench_m": 250}).plot
    assert (plot.area, plot.max_trench, plot.border) == (700, 250, 2.5)
    surface = {"mean_c": 9, "swing_k": 7, "coldest_day": 40}
    wet = {"soil": "clay", "surface": surface, "water_content_percent": 12,
           "dry_density_kg_m3": 1500, "gradient_k_m": 0.03}  # fmt: skip
    plan = made("sizing", ground=wet).sizing
    assert plan is not None
    # Clay at 1500 kg/m3 holds 0.12 · 1500 kg of water: by de Vries' sum (from memory).
    solid = 1500 / 2700
    assert plan.ground.heat_capacity == pytest.approx(solid * 1.92e6 + 0.18 * 4.18e6)
    assert plan.ground.surface.coldest_day == 40
    assert plan.ground.geothermal_gradient == 0.03


def test_every_measure_of_every_kind_of_array() -> None:
    def choice(**kind: Any) -> Any:
        job = tansy()
        job["sizing"] = {"array_kind": kind}
        job["ground"]["min_water_c"] = 3.5
        job["plot"]["spacing_m"] = 7
        plan = read(job, "sizing").sizing
        assert plan is not None
        return plan.choice

    pipe = "PE100 SDR11 32"
    slinky = choice(slinky={"pipe": pipe, "depth_m": 1.3, "coil_diameter_m": 0.9, "pitch_m": 0.7,
                            "upright": True})  # fmt: skip
    assert slinky == SlinkyArray(slinky.pipe, 1.3, 0.9, 0.7, upright=True)
    trench = choice(trench={"pipe": pipe, "depth_m": 1.1, "passes": 4, "spacing_m": 0.6})
    assert trench == StraightArray(trench.pipe, 1.1, 4, 0.6)
    mat = choice(pond_mat={"pipe": pipe, "inner_diameter_m": 0.7, "outer_diameter_m": 1.9,
                           "spacing_m": 0.15})  # fmt: skip
    assert mat == PondArray(mat.pipe, 3.5, 0.7, 1.9, 0.15)
    bore = choice(borehole={"pipe": pipe, "diameter_mm": 150, "pipe_offset_mm": 40,
                            "grout_conductivity_w_m_k": 1.8, "u_tubes": 2, "perimeter": True,
                            "rows": 3, "top_m": 1.5, "max_depth_m": 120})  # fmt: skip
    assert bore == BoreholeArray(bore.pipe, 0.075, 0.04, 1.8, 2, 3, 7, 1.5, 120, perimeter=True)


def test_limits_of_loops_and_rate() -> None:
    job = tansy()
    job["sizing"]["extraction_rate"] = {
        "rate_w_m": 18, "per": "trench", "full_h": 1900, "source": "a table (invented)",
    }  # fmt: skip
    job["limits"] |= {"max_loop_drop_kpa": 25, "max_velocity_m_s": 1.2, "max_pipe_m": 350}
    plan = read(job, "sizing").sizing
    assert plan is not None
    limits, rate = plan.loops, plan.rate
    assert (limits.loops, limits.longest_pipe, limits.tail) == (4, 350, 20)
    assert (limits.largest_drop, limits.largest_velocity) == (25e3, 1.2)
    assert rate is not None
    assert (rate.rate, rate.per, rate.hours, rate.source) == (
        18, "trench", 1900, "a table (invented)",
    )  # fmt: skip
    asked = made("sizing", limits={"max_deviation_percent": 8, "min_freezing_margin_k": 2.5,
                                   "min_from_ground_c": -0.5, "years": 30}).limits  # fmt: skip
    assert (asked.deviation, asked.freezing_margin) == pytest.approx((0.08, 2.5))
    assert (asked.from_ground, asked.years) == (-0.5, 30)


def test_pump_and_its_choice() -> None:
    job = tansy()
    job["pump"] |= {"impellers": 2, "parallel": 2, "series": 3, "set_head_m": 4.5}
    job["pump"]["tables"][0]["label"] = "II"
    pump = read(job, "split").pump
    assert pump is not None
    curve = pump.pump.curves[0]
    assert curve.flow == pytest.approx([0.0, 3.5e-4, 7e-4])
    assert (curve.head.tolist(), curve.power.tolist()) == ([6.1, 5.2, 3.4], [30, 44, 56])
    assert (curve.speed, curve.label) == (2800, "II")
    assert (pump.pump.impellers, pump.pump.min_speed) == (2, 900)
    assert (pump.parallel, pump.series, pump.set_head, pump.speed) == (2, 3, 4.5, None)
    plan = read(job, "pump_choice").pump_choice
    assert plan is not None
    first = plan.candidates[0]
    assert isinstance(first, Candidate)
    assert first.speed == 2700
    warm = read(job, "pump_choice").warm
    assert warm is not None
    assert (warm.to_ground_temperature, warm.from_ground_temperature, warm.share) == (5, 8, 0.5)


def test_balancing_and_ground_at_the_loops() -> None:
    job = tansy()
    job["balancing"] |= {"spare_coil_diameter_m": 1.2, "pump_efficiency_percent": 35}
    job["ground_at_loops"] |= {"pipe_conductivity_w_m_k": 0.42}
    found = read(job, "balancing")
    plan, ground = found.balancing, found.ground_at_loops
    assert plan is not None
    assert (plan.coil_diameter, plan.length_step, plan.closing_length) == (1.2, 5, 4)
    assert plan.pump_efficiency == pytest.approx(0.35)
    assert plan.valve is not None
    assert (plan.valve.positions, plan.valve.kvs) == ((1, 4), (0.5, 5))
    assert plan.valve.name == "DN 25 (invented)"
    assert ground is not None
    assert (ground.temperature, ground.resistance, ground.pipe_conductivity) == (1.5, 0.4, 0.42)


def test_every_measure_of_the_works() -> None:
    job = tansy()
    job["ground"]["bulking_percent"] = 27
    job["groundworks"] = {
        "trench": {"width_m": 1.3, "depth_m": 1.4, "side_slope": 0.1, "bedding_below_m": 0.15,
                   "bedding_above_m": 0.2, "passes": 2},
        "header_trench": {"length_m": 30, "width_m": 0.6, "depth_m": 1.1, "side_slope": 0.2,
                          "separation_m": 0.35},
        "bedding_imported": False, "lorry_m3": 8, "digger_m_h": 9, "laying_c": 12,
    }  # fmt: skip
    plan = read(job, "groundworks").groundworks
    assert plan is not None
    works, trench, header = plan.works, plan.trench, plan.header
    assert works.bulking == pytest.approx(0.27)
    assert (works.soil, works.bedding_imported, works.lorry) == ("clay", False, 8)
    assert (works.metres_per_hour, works.laying_temperature) == (9, 12)
    assert trench is not None
    assert (trench.width, trench.depth, trench.side_slope) == (1.3, 1.4, 0.1)
    assert (trench.bedding_below, trench.bedding_above, trench.passes) == (0.15, 0.2, 2)
    assert header is not None
    assert (header.length, header.width, header.depth) == (30, 0.6, 1.1)
    assert (header.side_slope, header.separation) == (0.2, 0.35)
    job["groundworks"]["trench"] = {
        "width_m": 1.3, "depth_m": 1.4, "bench_height_m": 0.5, "bench_width_m": 0.4,
    }  # fmt: skip
    plan = read(job, "groundworks").groundworks
    assert plan is not None
    assert plan.trench is not None
    assert (plan.trench.bench_height, plan.trench.bench_width) == (0.5, 0.4)


def test_every_number_of_the_commissioning() -> None:
    job = tansy()
    job["commissioning"] = {
        "filling": {"filling_c": 11, "spare_percent": 7},
        "purge": {"min_velocity_m_s": 0.7, "fluid": "mixture"},
        "pressure_test": {"test_pressure_kpa": 950, "pipe_c": 15, "pipe_modulus_mpa": 900,
                          "sdr": 11, "gauge_step_kpa": 2, "readings": [
                              {"stage": "letting_down", "time_min": 159, "pressure_kpa": 670,
                               "drawn_off_l": 0.4}]},
        "vessel": {"precharge_pressure_kpa": 60, "max_pressure_kpa": 250, "min_fluid_c": -4,
                   "max_fluid_c": 30},
        "flow_meters": {"max_deviation_percent": 12, "accuracy_percent": 4,
                        "readings": [{"loop": "T4", "flow_l_min": 4.5}]},
        "sample": {"density_kg_m3": 1022, "sample_c": 19},
    }  # fmt: skip
    plan = read(job, "commissioning").commissioning
    assert plan is not None
    assert plan.filling.spare == pytest.approx(0.07)
    assert plan.purge is not None
    assert (plan.purge.velocity, plan.purge.fluid) == (0.7, "mixture")
    test = plan.pressure_test
    assert test is not None
    assert (test.test_pressure, test.design_pressure) == (950e3, None)
    assert (test.pipe_modulus, test.sdr, test.gauge_resolution) == pytest.approx((900e6, 11, 2e3))
    (reading,) = test.readings
    assert (reading.time, reading.pressure, reading.drawn_off) == pytest.approx((9540, 670e3, 4e-4))
    vessel = plan.vessel
    assert vessel is not None
    assert (vessel.precharge, vessel.final_pressure, vessel.safety_valve) == (60e3, 250e3, None)
    meters = plan.flow_meters
    assert (meters.tolerance, meters.accuracy) == pytest.approx((0.12, 0.04))
    assert meters.readings[0][1] == pytest.approx(7.5e-5)
    assert plan.sample is not None
    assert plan.sample.density == 1022


def test_plant_array_and_pipes() -> None:
    job = tansy()
    job["plant"] |= {"run_h": 1900}
    job["array"] = {
        "name": "field", "arrangement": "reverse_return", "header_pipe": "PE100 SDR11 63",
        "closing_m": 9,
        "branches": [
            {"header_m": 4, "count": 2, "header_pipe": "PE100 SDR11 50",
             "return_header_pipe": "PE100 SDR11 40", "loop": job["array"]["branches"][0]["loop"]},
            {"header_m": 6, "loop": {"name": "B", "pipe": "own", "legs": [
                {"trench": {"length_m": 31, "passes": 2, "spacing_m": 0.5, "depth_m": 1.25}},
                {"slinky": {"coils": 9, "coil_diameter_m": 0.8, "pitch_m": 0.6,
                            "returns_alongside": False, "upright": True}},
                {"pond_mat": {"inner_diameter_m": 1, "outer_diameter_m": 3, "spacing_m": 0.1}},
            ]}},
        ],
    }  # fmt: skip
    found = read(job, "split")
    circuit, plant = found.circuit, found.plant
    assert plant.run_hours == 1900
    assert circuit is not None
    assert (circuit.name, circuit.closing_length) == ("field", 9)
    first, second = circuit.branches
    assert (first.header_length, first.count, second.header_length) == (4, 2, 6)
    names = [pipe.name for pipe in (circuit.header_pipe, first.header_pipe,
                                    first.return_header_pipe) if pipe is not None]  # fmt: skip
    assert names == ["PE100 SDR11 63", "PE100 SDR11 50", "PE100 SDR11 40"]
    trench, slinky, mat = next(
        loop for name, loop in loops(found).items() if name.endswith("B")
    ).legs
    assert (trench.trench_length, trench.spacing, trench.depth) == (31, 0.5, 1.25)  # type: ignore[union-attr]
    assert (slinky.coils, slinky.coil_diameter, slinky.pitch) == (9, 0.8, 0.6)  # type: ignore[union-attr]
    assert (slinky.returns_alongside, slinky.upright) == (False, True)  # type: ignore[union-attr]
    assert (mat.inner_diameter, mat.outer_diameter, mat.spacing) == (1, 3, 0.1)  # type: ignore[union-attr]


# ------------------------------------------------------------------------------ the least numbers


def test_the_least_flow_change_and_loop_are_taken_and_less_is_refused() -> None:
    assert (SMALLEST_FLOW, SMALLEST_CHANGE, SHORTEST_LOOP) == (1e-6, 1e-3, 1e-3)
    still = {"to_ground_c": 1, "from_ground_c": 2}
    for flow, taken in ((0.0, True), (1e-6, True), (0.99e-6, False)):
        job = {**tansy(), "duty": {**still, "flow_l_s": flow}}
        assert (read(job, "split") is not None) if taken else refused(job, "split")
    for back, taken in ((0.001, True), (0.0009, False)):
        job = {**tansy(), "duty": {"to_ground_c": 0, "from_ground_c": back, "heat_kw": 4}}
        assert (read(job, "split") is not None) if taken else refused(job, "split")
    for length, taken in ((0.001, True), (0.0009, False)):
        legs = [{"straight": {"length_m": length}}]
        job = replaced(tansy(), ("array", "branches", 1, "loop", "legs"), legs)
        assert (read(job, "split") is not None) if taken else refused(job, "split")


def test_a_standard_pipe_that_is_misspelt_suggests_the_nearest_though_the_job_has_none() -> None:
    job: Json = {part: tansy()[part] for part in ("antifreeze", "array", "duty")}
    job["array"] = {"arrangement": "manifold", "branches": [
        {"loop": {"name": "A", "pipe": "PE100 SDR11 33", "legs": [{"straight": {"length_m": 9}}]}}
    ]}  # fmt: skip
    (refusal,) = refused(job, "split").values()
    assert refusal.detail.endswith("did you mean 'PE100 SDR11 32'?")
