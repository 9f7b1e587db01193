"""A job's document becomes the engine's job: the parts needed, in SI, or every reason why not."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from api.refusals import MISSING, Place, Refusal, RefusedError
from api.requests.job import NEEDS, job_from, places_read
from hydraulics.job import Chapters, Job
from hydraulics.layout.circuit import Circuit, Loop
from hydraulics.layout.legs import Coiled, Slinky, Straight, TrenchPasses
from hydraulics.layout.walk import loops_of
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.pumps.selection import Candidate
from hydraulics.sizing.choice import BoreholeArray, PondArray, StraightArray
from hydraulics.sizing.heat_load import MonthlyHeat
from hydraulics.split.duty import FlowDuty, HeatDuty, PumpDriven
from tests.api.jobs import Json, replaced, slate, tansy

EXAMPLES = sorted((Path(__file__).parents[3] / "openapi" / "examples").glob("*.json"))
MOST = 10_000


def read(document: Any, calculation: str = "designs") -> Job:
    return job_from(document, calculation, MOST)


def refused(document: Any, calculation: str = "designs") -> dict[Place, Refusal]:
    with pytest.raises(RefusedError) as caught:
        read(document, calculation)
    return {each.place: each for each in caught.value.refusals}


def loops(job: Job) -> dict[str, Loop]:
    assert isinstance(job.circuit, Circuit)
    return {name: loop for name, loop, _ in loops_of(job.circuit)}


# --------------------------------------------------------------------------- what is made of it


def test_units_of_the_trade_become_si() -> None:
    job = read(tansy())
    assert job.mixture is not None
    assert job.mixture.volume_fraction == pytest.approx(0.25)
    assert isinstance(job.duty, HeatDuty)
    assert job.duty.heat == pytest.approx(4060)
    assert job.duty.temperature_change == pytest.approx(3.0)
    assert job.duty.from_ground_temperature == pytest.approx(0.1)
    assert job.plant.exchanger is not None
    assert job.plant.exchanger.flows == pytest.approx((2e-4, 3.5e-4))
    assert job.plant.exchanger.drops == pytest.approx((4e3, 9e3))
    assert job.plant.volume == pytest.approx(0.03)
    assert job.plant.run_hours == 2400
    assert job.limits.deviation == pytest.approx(0.1)
    assert (job.limits.from_ground, job.limits.years) == (0, 25)
    assert job.warm is not None
    assert job.warm.share == pytest.approx(0.5)
    assert job.plot.length == 60
    assert job.ground_at_loops is not None
    assert job.ground_at_loops.resistance == 0.4
    assert job.pump is not None
    assert job.pump.set_head == 2.9
    assert job.pump.pump.curves[0].flow[1] == pytest.approx(3.5e-4)
    assert job.commissioning is not None
    assert job.commissioning.filling.spare == pytest.approx(0.05)
    assert job.commissioning.pressure_test is not None
    assert job.commissioning.pressure_test.design_pressure == pytest.approx(3e5)
    ((loop, reading),) = job.commissioning.flow_meters.readings
    assert loop == "T4"
    assert reading * 60 == pytest.approx(4.4e-3)
    assert job.commissioning.vessel is not None
    assert job.commissioning.vessel.precharge == pytest.approx(5e4)


def test_every_kind_of_leg_is_made() -> None:
    job = tansy()
    legs = job["array"]["branches"][1]["loop"]["legs"]
    legs += [
        {"pond_mat": {"inner_diameter_m": 1, "outer_diameter_m": 3, "spacing_m": 0.1, "count": 2}},
        {"borehole": {"depth_m": 80, "u_tubes": 2, "diameter_mm": 140}, "pipe": "PE100 SDR11 40"},
    ]
    made = loops(read(job, "split"))
    straight, slinky, _ = made["T1"].legs
    assert isinstance(straight, Straight)
    assert straight.length == 6
    assert isinstance(slinky, Slinky)
    assert (slinky.coils, slinky.depth, slinky.returns_alongside, slinky.upright) == (
        43, 1.2, True, False,
    )  # fmt: skip
    other, coiled, trench, mat, borehole = made["T4"].legs
    assert isinstance(other, Straight)
    assert isinstance(coiled, Coiled)
    assert isinstance(trench, TrenchPasses)
    assert trench.turn_diameter == 0.6
    assert mat.water is not None
    assert mat.water.mats == 2
    assert borehole.borehole is not None
    assert borehole.borehole.diameter == pytest.approx(0.14)
    assert borehole.pipe == pe_pipe("PE100 SDR11 40")


def test_a_fitting_is_kept_as_it_was_given() -> None:
    circuit = read(tansy(), "split").circuit
    assert circuit is not None
    two, set_valve = circuit.branches[0].fittings.fittings
    assert (two.kv, two.count) == (6, 2)
    assert (set_valve.valve, set_valve.position) == ("DN 25 (invented)", 2.5)


def test_a_pipe_of_the_job_s_own_is_found_by_its_name() -> None:
    pipe = loops(read(tansy(), "split"))["T4"].pipe
    assert pipe.bore == pytest.approx(0.026)
    assert pipe.outside_diameter == pytest.approx(0.032)
    assert pipe.roughness == pytest.approx(2e-6)
    assert loops(read(tansy(), "split"))["T1"].pipe is pe_pipe("PE100 SDR11 32")


def test_coils_are_those_of_the_pipes_that_name_them() -> None:
    plan = read(tansy(), "groundworks").groundworks
    assert plan is not None
    assert dict(plan.coil_lengths) == {"PE100 SDR11 32": [100, 200, 300, 350]}
    assert plan.works.soil == "clay"
    assert plan.works.lorry == 8


@pytest.mark.parametrize(
    ("duty", "kind"),
    [
        ({"flow_l_s": 0.4}, FlowDuty),
        ({"heat_kw": 3}, HeatDuty),
        ({"pump_curve": [{"flow_l_s": 0, "head_m": 5}, {"flow_l_s": 1, "head_m": 2}]}, PumpDriven),
    ],
)
def test_a_duty_is_heat_a_flow_or_a_curve(duty: Json, kind: type) -> None:
    job = tansy()
    job["duty"] = {"to_ground_c": -2, "from_ground_c": 1, **duty}
    assert isinstance(read(job, "split").duty, kind)


def test_a_year_month_by_month_and_measured_ground_are_made() -> None:
    plan = read(slate(), "sizing").sizing
    assert plan is not None
    assert isinstance(plan.load, MonthlyHeat)
    assert plan.load.monthly[0] == pytest.approx(14500 * 3.6e6)
    assert plan.ground.conductivity == 2.4
    assert plan.ground.heat_capacity == pytest.approx(2.2e6)
    assert isinstance(plan.choice, BoreholeArray)
    assert plan.choice.borehole_radius == pytest.approx(0.07)
    assert plan.choice.spacing == 7
    assert plan.rate is not None
    assert plan.rate.per == "borehole"


def test_boreholes_stand_six_metres_apart_where_the_plot_does_not_say() -> None:
    job = slate()
    del job["plot"]
    plan = read(job, "sizing").sizing
    assert plan is not None
    assert isinstance(plan.choice, BoreholeArray)
    assert plan.choice.spacing == 6  # common practice, no source


def test_boreholes_of_a_plot_that_is_refused_are_not_made() -> None:
    job = replaced(slate(), ("plot", "border_m"), -1)
    assert set(refused(job, "sizing")) == {("plot", "border_m")}


def test_every_kind_of_array_is_made() -> None:
    job = tansy()
    job["sizing"]["array_kind"] = {"trench": {"pipe": "own", "depth_m": 1, "passes": 4}}
    plan = read(job, "sizing").sizing
    assert plan is not None
    assert isinstance(plan.choice, StraightArray)
    job["sizing"]["array_kind"] = {"pond_mat": {"pipe": "own"}}
    job["ground"]["min_water_c"] = 4
    plan = read(job, "sizing").sizing
    assert plan is not None
    assert isinstance(plan.choice, PondArray)
    assert plan.choice.coldest_water == 4


def test_shares_are_by_the_name_of_the_loop() -> None:
    job = read(tansy(), "balancing")
    assert (plan := job.balancing) is not None
    assert job.target == {"T1-1": 1, "T1-2": 1, "T1-3": 1, "T4": 1.1}
    assert plan.valve is not None
    assert plan.valve.kvs == (0.5, 5)
    assert plan.take == "regulating_valves"


def test_invented_pumps_come_after_the_caller_s_own() -> None:
    plan = read(tansy(), "pump_choice").pump_choice
    assert plan is not None
    assert plan.own == 1
    first = plan.candidates[0]
    assert isinstance(first, Candidate)
    assert first.pump.name == "Pump C (invented)"
    assert len(plan.candidates) > 2


def test_plain_water_is_a_mixture() -> None:
    job = {**tansy(), "antifreeze": {"kind": "water"}}
    job["duty"] = {"to_ground_c": 4, "from_ground_c": 8, "heat_kw": 4}
    mixture = read(job, "split").mixture
    assert mixture is not None
    assert mixture.mass_fraction == 0


# --------------------------------------------------------------------------- which parts are made


def test_only_what_a_calculation_has_a_use_for_is_made() -> None:
    job = read(tansy(), "split")
    assert (job.sizing, job.balancing, job.pump_choice, job.groundworks, job.commissioning) == (
        None, None, None, None, None,
    )  # fmt: skip
    assert job.pump is not None
    assert read(tansy(), "sizing").circuit is None
    unfilled = {name: part for name, part in tansy().items() if name != "commissioning"}
    assert read(unfilled, "groundworks").mixture is None
    assert read(tansy(), "groundworks").mixture is not None  # what is bought is on the bill
    assert read(tansy(), "groundworks").duty is None
    assert read(tansy(), "report").groundworks is not None


def test_a_part_that_is_not_needed_is_checked_all_the_same_but_not_made() -> None:
    job = tansy()
    job["commissioning"]["filling"]["filling_c"] = "12"
    assert set(refused(job, "split")) == {("commissioning", "filling", "filling_c")}
    job = replaced(tansy(), ("pump", "tables", 0, "points", 1, "head_m"), 9)  # the engine's to say
    assert read(job, "balancing").pump is None
    assert set(refused(job, "split")) == {("pump", "tables", 0, "points", 1, "head_m")}


@pytest.mark.parametrize("calculation", NEEDS)
def test_a_missing_part_is_named_with_what_needs_it(calculation: str) -> None:
    for part in NEEDS[calculation]:
        job = tansy() | {"setting_out": {"run_pipe": "PE100 SDR11 50"}}
        del job[part]
        found = refused(job, calculation)
        assert set(found) == {(part,)}
        each = found[(part,)]
        assert each.value is MISSING
        assert part in each.detail
        assert calculation.replace("_", " ") in each.detail


def test_all_missing_parts_are_named_at_once() -> None:
    assert set(refused({}, "commissioning")) == {
        ("antifreeze",), ("array",), ("duty",), ("commissioning",),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("given", "missing"),
    [
        ((), {("array",), ("duty",)}),
        (("array",), {("duty",)}),
        (("duty",), {("array",)}),
        (("array", "duty", "sizing"), {("heat",), ("ground",)}),
        (("sizing",), {("heat",), ("ground",)}),
        (("sizing", "heat", "ground"), set()),
        (("array", "duty"), set()),
        (("array", "duty", "groundworks"), {("ground",)}),
    ],
)
def test_a_design_takes_an_array_with_its_duty_or_sizes_one(
    given: tuple[str, ...], missing: set[Place]
) -> None:
    job = {part: tansy()[part] for part in ("antifreeze", "pipes", *given)}
    if missing:
        assert set(refused(job)) == missing
    else:
        assert read(job).mixture is not None


@pytest.mark.parametrize("calculation", ["split", "balancing", "report"])
def test_parts_with_usual_values_may_be_left_out(calculation: str) -> None:
    job = {part: tansy()[part] for part in ("antifreeze", "pipes", "array", "duty")}
    found = read(job, calculation)
    assert found.limits.deviation == pytest.approx(0.1)  # common practice, no source
    assert found.plant.exchanger is None
    assert (found.warm, found.pump) == (None, None)
    if calculation == "balancing":  # which knows the coils on offer all the same
        assert found.balancing is not None
        assert found.balancing == read({**job, "balancing": {}}, calculation).balancing
        assert dict(found.balancing.coil_lengths) == {"PE100 SDR11 32": [100, 200, 300, 350]}
    else:
        assert found.balancing is None


# ------------------------------------------------------------------------------ what is refused


def test_faults_of_the_schema_and_of_the_engine_in_all_parts_are_told_at_once() -> None:
    job = tansy()
    job["antifreeze"]["concentration_percent"] = 99  # outside the correlation: the engine's
    job["limits"]["max_deviation_percent"] = "10"  # no number: the schema's
    job["array"]["branches"][0]["loop"]["legs"][0] = {"straight": {"length_m": -1}}
    job["array"]["branches"][1]["loop"]["pipe"] = "PE100 SDR11 33"
    job["plant"]["heat_exchanger"][1]["drop_kpa"] = 3  # falls
    job["pipes"][1]["bore_mm"] = 40  # inside out
    job["pump"]["speed_rpm"] = 2000  # for another control
    job["pump_choice"]["candidates"][0]["speed_rpm"] = 5000  # beyond the table
    job["balancing"]["valve"]["positions"][1]["kv_m3_h"] = 0.4  # falls
    job["groundworks"]["trench"] |= {"bench_height_m": 1}  # without a width
    job["heat"]["monthly_kwh"] = [1] * 12  # beside run hours
    job["sizing"]["array_kind"]["slinky"]["pipe"] = "nothing"
    del job["ground"]["surface"]
    assert set(refused(job)) == {
        ("antifreeze", "concentration_percent"), ("limits", "max_deviation_percent"),
        ("array", "branches", 0, "loop", "legs", 0, "straight", "length_m"),
        ("array", "branches", 1, "loop", "pipe"), ("plant", "heat_exchanger"),
        ("pipes", 1, "outside_diameter_mm"), ("pump", "speed_rpm"),
        ("pump_choice", "candidates", 0, "speed_rpm"),
        ("balancing", "valve", "positions", 1, "kv_m3_h"),
        ("groundworks", "trench", "bench_height_m"), ("heat", "heating_h"),
        ("heat", "monthly_kwh"), ("sizing", "array_kind", "slinky", "pipe"),
        ("ground", "surface"),
    }  # fmt: skip


_LOOP = ("array", "branches", 0, "loop")


@pytest.mark.parametrize(
    ("place", "value", "at"),
    [
        (("antifreeze", "kind"), "calcium_chloride", ("antifreeze", "basis")),  # by volume
        (("duty", "from_ground_c"), -3, ("duty", "from_ground_c")),  # colder than it goes out
        (("duty", "to_ground_c"), -40, ("duty", "to_ground_c")),  # frozen
        (("warm", "from_ground_c"), 149, ("warm", "from_ground_c")),  # beyond the correlation
        (("duty",), {"to_ground_c": 1, "from_ground_c": 2, "flow_l_s": 1e-9}, ("duty", "flow_l_s")),
        (("duty",), {"to_ground_c": 1, "from_ground_c": 2,
                     "pump_curve": [{"flow_l_s": 0, "head_m": 3}, {"flow_l_s": 1, "head_m": 4}]},
         ("duty", "pump_curve", 1, "head_m")),
        ((*_LOOP, "legs", 1, "slinky", "coil_diameter_m"), 0.1,
         (*_LOOP, "legs", 1, "slinky", "coil_diameter_m")),
        ((*_LOOP, "legs"), [{"trench": {"length_m": 9, "passes": 2, "turn_diameter_m": 0.1}}],
         (*_LOOP, "legs", 0, "trench", "turn_diameter_m")),
        ((*_LOOP, "legs"), [{"pond_mat": {"inner_diameter_m": 2, "outer_diameter_m": 1,
                                          "spacing_m": 0.1}}],
         (*_LOOP, "legs", 0, "pond_mat", "outer_diameter_m")),
        ((*_LOOP, "legs"), [{"straight": {"length_m": 1e-9}}], (*_LOOP, "legs")),
        (("array", "header_pipe"), "own", ("array", "header_pipe")),  # in a manifold
        (("array", "branches", 0, "header_m"), 3, ("array", "branches", 0, "header_m")),
        (("array", "closing_m"), 3, ("array", "closing_m")),
        (("array", "branches", 0, "count"), 1_000_000, ("array",)),
        (("pipes", 1, "name"), "PE100 SDR11 40", ("pipes", 1, "name")),  # another bore
        (("pipes", 1, "name"), "PE100 SDR11 32", ("pipes", 1, "name")),  # twice
        (("pipes", 0, "name"), "PE100 SDR11 33", ("pipes", 0, "bore_mm")),
        (("pipes", 1, "roughness_mm"), 9, ("pipes", 1, "roughness_mm")),
        (("plant", "heat_exchanger", 1, "flow_l_s"), 0.1, ("plant", "heat_exchanger")),
        (("plant", "runs", 0, "pipe"), "nothing", ("plant", "runs", 0, "pipe")),
        (("pump", "tables", 0, "points", 2, "flow_l_s"), 0.1,
         ("pump", "tables", 0, "points", 2, "flow_l_s")),
        (("pump", "min_speed_rpm"), 9000, ("pump", "min_speed_rpm")),
        (("pump", "control"), "constant_speed", ("pump", "set_head_m")),
        (("pump_choice",), {}, ("pump_choice", "candidates")),
        (("balancing", "target"), "even", ("balancing", "shares")),
        (("balancing", "shares"), [{"loop": "T4", "share": 1}] * 2,
         ("balancing", "shares", 1, "loop")),
        (("balancing",), {"target": "shares"}, ("balancing", "shares")),
        (("limits", "min_from_ground_c"), -15, ("limits", "min_from_ground_c")),  # frozen
        (("limits", "max_pipe_m"), 30, None),  # a finding says so
        (("sizing", "array_kind"), {"trench": {"pipe": "own", "depth_m": 1, "passes": 3}},
         ("sizing", "array_kind", "trench", "passes")),
        (("sizing", "array_kind"), {"pond_mat": {"pipe": "own"}}, ("ground", "min_water_c")),
        (("sizing", "array_kind"), {"pond_mat": {"pipe": "own", "inner_diameter_m": 3}},
         ("ground", "min_water_c")),
        (("ground", "dry_density_kg_m3"), 2600, ("ground", "dry_density_kg_m3")),
        (("ground", "soil"), "weak_rock", ("ground", "soil")),  # of which no conductivity is known
        (("ground", "moisture"), "wet", ("ground", "moisture")),
        (("groundworks", "trench", "side_slope"), 0.5, None),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_at_its_place(
    place: tuple[str | int, ...], value: Any, at: Place | None
) -> None:
    job = replaced(tansy(), place, value)
    if at is None:
        assert read(job) is not None
    else:
        assert at in refused(job)


@pytest.mark.parametrize(
    ("place", "part"),
    [
        (("groundworks", "soil"), "ground"),
        (("groundworks", "spacing_m"), "plot"),
        (("sizing", "array_kind", "borehole", "spacing_m"), "plot"),
    ],
)
def test_a_fact_that_stands_in_another_part_is_told_so(place: Place, part: str) -> None:
    job = replaced(slate(), place, 5)
    assert f"in the job's {part}" in refused(job, "sizing")[place].detail


def test_a_limit_that_is_left_out_and_freezes_is_refused_at_the_part() -> None:
    job = tansy()
    del job["limits"]
    job["antifreeze"] = {"kind": "water"}
    assert ("limits",) in refused(job, "sizing")


def test_groundworks_need_to_know_how_the_ground_bulks() -> None:
    job = tansy()
    job["ground"] = {"surface": {"mean_c": 10, "swing_k": 8}}
    assert "bulk" in refused(job, "groundworks")[("ground",)].detail
    job["ground"]["bulking_percent"] = 30
    plan = read(job, "groundworks").groundworks
    assert plan is not None
    assert plan.works.bulking == pytest.approx(0.3)


def test_a_sizing_asks_for_no_bulking() -> None:
    job = slate()
    job["ground"] = {
        "conductivity_w_m_k": 2.0, "heat_capacity_mj_m3_k": 2.2,
        "surface": {"mean_c": 10, "swing_k": 8},
    }  # fmt: skip
    job["groundworks"] = {}
    assert read(job, "sizing").groundworks is not None
    assert "bulk" in refused(job, "groundworks")[("ground",)].detail


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("ovn", "own"),
        ("PE100 SDR11 33", "PE100 SDR11 32"),
        ("PE100-SDR11-40", "PE100 SDR11 40"),
        ("PE100 32 SDR11", "PE100 SDR11 32"),
        ("PE100 40x3.7", "PE100 SDR11 40"),
    ],
)
def test_a_pipe_that_there_is_not_suggests_the_nearest(name: str, meant: str) -> None:
    job = replaced(tansy(), (*_LOOP, "pipe"), name)
    assert f"did you mean '{meant}'?" in refused(job, "split")[(*_LOOP, "pipe")].detail


def test_a_pipe_that_was_refused_is_refused_once() -> None:
    job = replaced(tansy(), ("pipes", 1, "bore_mm"), 90)
    assert set(refused(job, "split")) == {("pipes", 1, "outside_diameter_mm")}


def test_a_fitting_by_kind_needs_a_pipe() -> None:
    job = tansy()
    job["array"] = {"arrangement": "manifold", "branches": [
        {"circuit": job["array"], "fittings": [{"kv_m3_h": 3}, {"kind": "elbow_90"}]}
    ]}  # fmt: skip
    place = ("array", "branches", 0, "fittings", 1, "kind")
    assert set(refused(job, "split")) == {place}


def test_thousands_of_unknown_pipes_are_refused_without_a_search_for_each() -> None:
    job = tansy()
    loop = job["array"]["branches"][1]["loop"]
    job["array"]["branches"] = [
        {"loop": {**loop, "name": f"T{n}", "pipe": f"unknown {n}"}} for n in range(5_000)
    ]
    found = refused(job, "split")
    hinted = [each for each in found.values() if "did you mean" in each.detail]
    assert len(found) == 5_000
    assert len(hinted) <= 100


# ------------------------------------------------------------------------------------- examples


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_every_example_is_read_for_every_calculation_whose_parts_it_has(file: Path) -> None:
    document = json.loads(file.read_text("utf-8"))
    able = [
        calculation
        for calculation, parts in NEEDS.items()
        if all(part in document for part in parts)
    ]
    assert able
    for calculation in able:
        assert read(document, calculation) is not None


@pytest.mark.parametrize("job", [tansy(), slate()], ids=["tansy", "slate"])
def test_both_invented_jobs_are_computed(job: Json) -> None:
    chapters = Chapters(read(job))
    assert math.isfinite(chapters.split.pump.head)
    assert chapters.commissioning.contents.volume > 0


# ------------------------------------------------------------------- what an answer depends on


def _without_what_is_not_read(job: Any, calculation: str) -> Any:
    """A job of nothing but the places that a calculation is said to read."""
    kept: dict[str, Any] = {"format": job["format"]}
    for place in places_read(calculation):
        part, _, inner = place.partition("/")
        if part not in job:
            continue
        if not inner:
            kept[part] = job[part]
        elif inner in job[part] and kept.get(part) != job[part]:
            kept.setdefault(part, {})[inner] = job[part][inner]
    return kept


@pytest.mark.parametrize("calculation", sorted(set(NEEDS) - {"designs", "report"}))
@pytest.mark.parametrize("surveyed", [False, True])
def test_an_answer_depends_on_nothing_but_the_places_that_are_told(
    client: Any, calculation: str, surveyed: bool
) -> None:
    # The bench takes an answer for one to the job as it stands until one of these changes.
    by_name = {file.stem: json.loads(file.read_text("utf-8")) for file in EXAMPLES}
    job = by_name["quince-barn-short-tail"] | {
        "heights": {"max_ground_level_m": 3, "plant_level_m": 5, "gauge_level_m": 1},
        "setting_out": {"run_pipe": "PE100 SDR11 50"},
    }
    job["balancing"] = {**job["balancing"], "target": "by_length"}
    del job["name"], job["reference"]  # which every answer has
    if surveyed:
        del job["heights"]
        levels = ((0, 0, 100), (70, 0, 104), (0, 40, 101))
        job["plot"] = {**job["plot"], "levels": [
            dict(zip(("x_m", "y_m", "level_m"), each, strict=True)) for each in levels
        ]}  # fmt: skip
    fewer = _without_what_is_not_read(job, calculation)
    assert len(fewer) < len(job)
    address = f"/v1/{calculation.replace('_', '-')}"
    whole, part = (client.post(address, json=each) for each in (job, fewer))
    assert whole.status_code == part.status_code == 200, (whole.json, part.json)
    told, expected = ({**each.json, "body_sha256": ""} for each in (part, whole))
    assert told == expected
