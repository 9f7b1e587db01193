"""Whatever the engine names when it refuses something has a place in the request."""

import ast
import itertools
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import hydraulics
from api.refusals import MISSING, value_at
from api.requests.places import _in_object, located, place_of
from api.schemas.array import CircuitSchema
from api.schemas.job import JobSchema
from api.schemas.objects import schema_of
from hydraulics.errors import Fault, RangeError
from tests.api.jobs import Json, slate, tansy

ENGINE = Path(hydraulics.__file__).parent
JOB = schema_of(JobSchema)

_KINDS: dict[str, Json] = {
    "slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "coil_diameter_m": 1, "pitch_m": 1},
    "trench": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "passes": 2, "spacing_m": 0.4},
    "pond_mat": {"pipe": "PE100 SDR11 32", "inner_diameter_m": 1, "outer_diameter_m": 2},
    "borehole": slate()["sizing"]["array_kind"]["borehole"],
}
_LEGS: dict[str, Json] = {
    "straight": {"length_m": 1},
    "slinky": {"coils": 2, "coil_diameter_m": 1, "pitch_m": 1},
    "coiled": {"length_m": 2, "coil_diameter_m": 1},
    "trench": {"length_m": 3, "passes": 2, "turn_diameter_m": 1},
    "pond_mat": {"inner_diameter_m": 1, "outer_diameter_m": 2, "spacing_m": 0.1, "count": 2},
    "borehole": {"depth_m": 9, "u_tubes": 1, "diameter_mm": 150},
}


_AT: Json = {"x_m": 1, "y_m": 2}
_PLOT: Json = {
    "boundary": [_AT, _AT, _AT, _AT],
    "plant_room": _AT,
    "keep_outs": [
        {"name": "house", "outline": [_AT, _AT, _AT, _AT], "clearance_m": 2},
        {"name": "drain", "line": [_AT, _AT], "clearance_m": 1, "blocks": "array"},
        {"name": "oak", "centre": _AT, "radius_m": 1, "clearance_m": 6},
    ],
    "water": [_AT, _AT, _AT, _AT],
    "chambers": [{"name": "C1", **_AT}],
    "trenches": [{"loop": "T1", "points": [_AT, _AT]}],
    "boreholes": [{"loop": "B1", **_AT}],
    "mats": [{"loop": "M1", **_AT}],
    "levels": [{**_AT, "level_m": 50}],
    "origin": {"longitude_deg": -1, "latitude_deg": 52},
    "border_m": 2.5,
    "spacing_m": 5,
}
_SETTING_OUT: Json = {
    "run_pipe": "PE100 SDR11 50", "loop_count": 3, "length_m": 20, "total_m": 60,
    "max_length_m": 30, "header": {"stub_m": 1}, "prices": {"dig": 5, "tails": 1},
}  # fmt: skip


def _documents() -> Iterator[Json]:
    """Jobs that between them give every field that the engine may refuse."""
    for kind, leg in itertools.zip_longest(_KINDS, _LEGS, fillvalue="slinky"):
        job = tansy()
        job["sizing"] |= {
            "array_kind": {kind: _KINDS[kind]},
            "extraction_rate": {"rate_w_m": 45, "per": "trench", "full_h": 1800},
        }
        job["ground"] |= {"dry_density_kg_m3": 1500, "min_water_c": 4, "bulking_percent": 30}
        if kind == "borehole":
            job["ground"] |= {"conductivity_w_m_k": 2, "heat_capacity_mj_m3_k": 2}
        if kind == "trench":
            job["ground"]["water_content_percent"] = 20
            job["heat"] = {**slate()["heat"], "first_month": 2, "peak_h": 20}
        branch = job["array"]["branches"][0]
        branch["loop"]["legs"] = [{leg: _LEGS[leg], "fittings": [{"kind": "elbow_90"}]}]
        branch |= {
            "header_m": 2,
            "header_pipe": "own",
            "return_header_pipe": "own",
            "runs": [{"pipe": "own", "length_m": 2}],
            "fittings": [{"kind": "elbow_90"}, {"loss_coefficient": 2}, {"kv_m3_h": 2}],
        }
        job["array"] |= {"header_pipe": "own", "closing_m": 3}
        yield job
        for name, value in (
            ("flow_l_s", 0.4),
            ("pump_curve", [{"flow_l_s": 0, "head_m": 4}, {"flow_l_s": 1, "head_m": 1}]),
        ):
            duty = {name: value, "to_ground_c": -3, "from_ground_c": 0}
            test = {"test_pressure_kpa": 300, "gauge_step_kpa": 1, "sdr": 11, "pipe_c": 10,
                    "pipe_modulus_mpa": 800, "readings": [
                        {"stage": "main", "time_min": 1, "pressure_kpa": 2, "drawn_off_l": 0.1}
                    ]}  # fmt: skip
            vessel = {"precharge_pressure_kpa": 50, "max_pressure_kpa": 300,
                      "min_fluid_c": -5, "max_fluid_c": 25}  # fmt: skip
            plan = {**job["commissioning"], "pressure_test": test, "vessel": vessel}
            yield {**job, "duty": duty, "commissioning": plan, "plot": {"area_m2": 9}}
            yield {**job, "plot": _PLOT, "setting_out": _SETTING_OUT}


DOCUMENTS = list(_documents())

# Where in a job each module's values stand: what the names of its faults are relative to. What a
# chapter computes is named from the chapter's part (hydraulics/job.py).
_LEG = "circuit.branches.0.item.legs.0"
STANDS: dict[str, tuple[str, ...]] = {
    "balancing/heat_cost.py": ("ground_at_loops", ""),
    "balancing/": ("balancing", "balancing.valve", ""),
    "boreholes/": ("sizing",),
    "commissioning/": (
        "commissioning.filling", "commissioning.purge", "commissioning.pressure_test",
        "commissioning.vessel", "commissioning.flow_meters", "commissioning.sample",
        "commissioning.flow_meters.readings.0", "commissioning.pressure_test.readings.0",
        "plant", "",
    ),
    "fluid/": ("mixture",),
    "ground/temperature.py": ("sizing.ground.surface", "sizing"),
    "ground/": ("sizing.ground", "sizing", "ground_at_loops"),
    "groundworks/": ("groundworks", "groundworks.trench", "groundworks.header",
                     "groundworks.works", ""),
    "job.py": ("",),
    "layout/circuit.py": ("circuit", "circuit.branches.0", "circuit.branches.0.item",
                          "circuit.branches.0.runs.0", "plant", ""),
    "layout/heights.py": ("heights",),
    "layout/legs.py": (_LEG,),
    "pipework/exchanger.py": ("plant",),
    "pipework/fittings.py": ("circuit.branches.0.fittings.0", "circuit.branches.0.fittings.1",
                             "circuit.branches.0.fittings.2"),
    "pipework/pipe.py": ("pipes.1", _LEG, "circuit.branches.0.item"),
    "plot/asked.py": ("setting_out", "setting_out.rules", "setting_out.prices",
                      "setting_out.chambers", "setting_out.site"),
    "plot/by_hand.py": ("setting_out.site",),
    "plot/circuit.py": ("setting_out",),
    "plot/plot.py": ("plot",),
    "plot/set_out.py": ("setting_out.site",),
    "plot/site.py": ("plot", "plot.keep_outs.0", "plot.keep_outs.1", "plot.keep_outs.2"),
    "plot/site_plan.py": ("plot.trenches.0", "plot.chambers.0"),
    "plot/tangent_plane.py": ("plot.origin", "plot"),
    "pumps/": ("pump", "pump.curves.0", "pump.curves.0.points.0", "pump_choice",
               "pump_choice.candidates.0", ""),
    "shallow/freezing.py": ("sizing.ground.freezing",),
    "shallow/": ("sizing", "sizing.loops"),
    "sizing/on_plot.py": ("setting_out", ""),
    "sizing/by_trench.py": ("sizing", ""),
    "sizing/": ("sizing", "sizing.load", "sizing.load.cooling", "sizing.ground", "sizing.choice",
                "sizing.loops", "sizing.rate"),
    "split/": ("duty", "balancing", ""),
}  # fmt: skip

_OWN = "of a calculation's own steps; no request gives it"
_READ = "checked as the request is read"
NEVER = {
    **dict.fromkeys(
        (
            "boreholes/shapes.py across", "boreholes/shapes.py bores",
            "boreholes/shapes.py columns",
            "commissioning/meters.py flows", "commissioning/meters.py targets",
            "commissioning/meters.py targets.0", "commissioning/pressure_test.py air_factor",
            "commissioning/pressure_test.py pressure_drop",
            "commissioning/pressure_test.py water_modulus", "commissioning/vessel.py expansion",
            "commissioning/vessel.py pipe_volume", "commissioning/vessel.py reserve",
            "commissioning/vessel.py vessel",
            "sizing/choice.py in_series",
            "ground/load_history.py cold_peak", "ground/load_history.py response",
            "ground/soil.py quartz",
            "ground/temperature.py bottom", "ground/temperature.py day",
            "ground/temperature.py diffusivity", "plot/asked.py bank", "plot/asked.py gap",
            "plot/asked.py mats", "plot/asked.py outer_diameter", "plot/circuit.py loops",
            "plot/spare.py sides", "plot/spare.py sides.0",
            "pumps/benchmarks.py pump_power", "pumps/running.py system",
            "pumps/viscosity.py viscosity",
            "shallow/response.py longest", "shallow/response.py pipes",
            "shallow/response.py pipes.0", "shallow/response.py pipes.0.across",
            "shallow/response.py seconds", "studies/sensitivity.py result",
        ),
        _OWN,
    ),
    **dict.fromkeys(
        (
            "balancing/heat_cost.py to_ground_temperature_c", "ground/pipe_heat.py bore",
            "ground/pipe_heat.py outside_diameter", "groundworks/pipe_order.py coil_lengths.0",
            "plot/asked.py depth", "plot/asked.py side_slope", "plot/asked.py top_width",
            "plot/site_plan.py depth", "plot/site_plan.py diameter",
            "plot/site_plan.py top_width", "plot/site_plan.py width",
            "split/duty.py temperature_change",
            "studies/cases.py points",  # as a study is accepted: studies/plan.py
            "fluid/mixture.py temperature",  # at the temperature at fault: requests/duty.py
        ),
        _READ,
    ),
}  # fmt: skip

# Names that are put together of more than an index.
_EXPANDED = {
    "sizing/on_plot.py circuit.0.item.legs": ("circuit.branches.0.item.legs",),
    "sizing/on_plot.py site.0": ("site.trenches", "site.boreholes", "site.mats"),
    "sizing/choice.py positions.0.0": ("positions.0.x", "positions.0.y"),
    "balancing/valves.py positions.0.0": ("positions.0.position", "positions.0.kv"),
    "layout/circuit.py branches.0.0": (
        "branches.0.header_length", "branches.0.header_pipe", "branches.0.return_header_pipe",
    ),
    "layout/circuit.py legs.0.0": (
        "legs.0.coil_diameter", "legs.0.turn_diameter", "legs.0.inner_diameter",
    ),
    "split/flow_split.py circuit.0.item.name": ("circuit.branches.0.item.name",),
}  # fmt: skip


def _names() -> Iterator[tuple[str, str]]:
    """Module and name of every fault that the engine writes down."""
    for file in sorted(ENGINE.rglob("*.py")):
        module = file.relative_to(ENGINE).as_posix()
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
                continue
            if node.func.id not in {"Fault", "number_fault", "count_fault"}:
                continue
            for text in re.findall(r"""f?['"]([^'"]+)['"]""", ast.unparse(node.args[0])):
                name = re.sub(r"\{[^}]*\}", "0", text).removeprefix("0").removeprefix(".")
                for each in _EXPANDED.get(f"{module} {name}", (name,)):
                    if re.fullmatch(r"[a-z_][a-z_0-9.]*", each):
                        yield module, each


@cache
def faults() -> list[tuple[str, str]]:
    return sorted(set(_names()))


def _roots(module: str) -> tuple[str, ...]:
    return next((STANDS[key] for key in STANDS if module.startswith(key)), ())


def _places(module: str, name: str) -> list[bool]:
    """For each job and root where the name stands for a field: whether its parent is there."""
    found = []
    for job in DOCUMENTS:
        for root in _roots(module):
            path = f"{root}.{name}".strip(".")
            if any(not left for _, left in _in_object(JOB, job, tuple(path.split(".")))):
                place = place_of(path, job, JOB)
                found.append(value_at(job, place[:-1]) is not MISSING)
    return found


def test_a_fault_of_the_engine_has_a_place_in_the_request() -> None:
    for module, name in faults():
        found = _places(module, name)
        assert all(found), f"{module} {name}"
        assert bool(found) != (f"{module} {name}" in NEVER), f"{module} {name}"


def test_the_engine_s_faults_were_found() -> None:
    assert len(faults()) > 100
    assert ("layout/circuit.py", "header_length") in faults()


@pytest.mark.parametrize(
    ("path", "place"),
    [
        ("mixture.fraction", ("antifreeze", "concentration_percent")),
        ("duty.heat", ("duty", "heat_kw")),
        ("circuit.branches.1.header_length", ("array", "branches", 1, "header_m")),
        ("circuit.branches.0.item.name", ("array", "branches", 0, "loop", "name")),
        ("circuit.branches.0.item.legs.1.coil_diameter",
         ("array", "branches", 0, "loop", "legs", 1, "slinky", "coil_diameter_m")),
        ("circuit.branches.1.item.legs.2.turn_diameter",
         ("array", "branches", 1, "loop", "legs", 2, "trench", "turn_diameter_m")),
        ("plant.exchanger.drops.1", ("plant", "heat_exchanger", 1, "drop_kpa")),
        ("plant.run_hours", ("plant", "run_h")),
        ("pump.curves.0.points.2.head", ("pump", "tables", 0, "points", 2, "head_m")),
        ("pump_choice.candidates.0.speed", ("pump_choice", "candidates", 0, "speed_rpm")),
        ("balancing.valve.positions.1.kv", ("balancing", "valve", "positions", 1, "kv_m3_h")),
        ("balancing.target", ("balancing", "shares")),
        ("sizing.load.heating_hours", ("heat", "heating_h")),
        ("sizing.monthly.3", ("heat", "monthly_kwh")),  # not given: no month of it either
        ("sizing.temperature_change", ("heat", "temperature_change_k")),
        ("sizing.least_return", ("limits", "min_from_ground_c")),
        ("sizing.centres", ("plot", "spacing_m")),
        ("sizing.coil_diameter", ("sizing", "array_kind", "slinky", "coil_diameter_m")),
        ("sizing.loops", ("sizing", "loop_count")),
        ("sizing.nothing_of_the_kind", ("sizing", "array_kind", "slinky")),
        ("groundworks.trench.depth", ("groundworks", "trench", "depth_m")),
        ("groundworks.soil", ("ground", "soil")),
        ("commissioning.vessel.safety_valve",
         ("commissioning", "vessel", "safety_valve_pressure_kpa")),
        ("commissioning.flow_meters.readings.0.loop",
         ("commissioning", "flow_meters", "readings", 0, "loop")),
        ("limits.deviation", ("limits", "max_deviation_percent")),
        ("nothing", ()),
        ("", ()),
    ],
)  # fmt: skip
def test_a_path_of_the_engine_leads_to_a_place(path: str, place: tuple[str | int, ...]) -> None:
    assert place_of(path, tansy(), JOB) == place


def test_where_no_number_of_loops_is_given_it_is_the_measures_that_ask_for_so_many() -> None:
    job = tansy()
    del job["sizing"]["loop_count"]
    assert place_of("sizing.loops", job, JOB) == ("sizing", "array_kind")


def test_a_place_goes_no_further_than_one_step_beyond_the_document() -> None:
    assert place_of("limits.deviation", {"name": "x"}, JOB) == ("limits",)


def test_a_circuit_in_a_circuit_is_walked() -> None:
    inner = {"arrangement": "manifold", "branches": tansy()["array"]["branches"]}
    outer = {"arrangement": "manifold", "branches": [{"circuit": inner}]}
    found = place_of("branches.0.item.branches.1.item.legs.0.length", outer,
                     schema_of(CircuitSchema))  # fmt: skip
    assert found == ("branches", 0, "circuit", "branches", 1, "loop", "legs", 0, "straight",
                     "length_m")  # fmt: skip


def test_an_error_keeps_its_class_and_words_when_it_is_located() -> None:
    error = RangeError(Fault("fraction", "is too much", 0.9, "0 to 60 %"))
    found = located(error, tansy()["antifreeze"], ("antifreeze",))
    assert type(found) is RangeError
    fault = found.faults[0]
    assert fault.field == "antifreeze.concentration_percent"
    assert (fault.message, fault.allowed) == ("is too much", "0 to 60 %")
