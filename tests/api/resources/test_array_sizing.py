"""POST /v1/array-sizing: units, the next step's request, what is refused, and how long it takes."""

import copy
import json
import time
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator
from werkzeug.test import TestResponse

from api import create_app
from api.contract.examples import FOLDER
from api.refusals import pointer
from api.schemas.array_sizing import MOST_LOOPS
from api.settings import Settings
from hydraulics.findings import FINDING_CODES
from hydraulics.fluid.mixture import mixture
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.sizing.array import size_array
from hydraulics.sizing.choice import GroundConditions, LoopLimits, SlinkyArray
from hydraulics.sizing.heat_load import AnnualHeat
from tests.api.conftest import Json, errors_of
from tests.api.contract.test_document import example_and_answer, validator, without_numbers

PATH = "/v1/array-sizing"
EXAMPLES = sorted((FOLDER / "examples" / "array-sizing").glob("*.json"))
Place = tuple[str | int, ...]

BASE: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 30, "basis": "mass"},
    "heat_load": {"heat_pump_output_kw": 8, "seasonal_performance": 3.6, "heating_hours": 1800},
    "temperature_change_k": 3.5,
    "ground": {
        "conductivity_w_m_k": 1.5,
        "heat_capacity_mj_m3_k": 2.2,
        "surface_temperature": {"mean_c": 10, "swing_k": 8},
    },
    "array_kind": {"slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2}},
}
MONTHLY: Json = {
    "heat_pump_output_kw": 9, "seasonal_performance": 3.6, "design_performance": 3.2,
    "monthly_heat_kwh": [2900, 2500, 2000, 1200, 600, 250, 250, 250, 500, 1300, 2100, 2800],
    "peak_hours": 30, "first_month": 9,
}  # fmt: skip
SOIL: Json = {
    "soil": "clay", "water_content_percent": 22, "dry_density_kg_m3": 1500,
    "geothermal_gradient_k_m": 0.01,
    "surface_temperature": {"mean_c": 10, "swing_k": 8, "coldest_day": 30},
}  # fmt: skip
KINDS: dict[str, Json] = {
    "slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.5, "upright": True, "coil_diameter_m": 0.9,
               "pitch_m": 0.8},
    "straight": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "passes": 4, "spacing_m": 0.5},
    "pond_mat": {"pipe": "PE100 SDR11 32", "coldest_water_c": 4.2, "mat_inner_diameter_m": 0.7,
                 "mat_outer_diameter_m": 2.5, "mat_spacing_m": 0.08},
    "borehole": {"pipe": {"bore_mm": 32.6, "outside_diameter_mm": 40, "roughness_mm": 0.003},
                 "borehole_diameter_mm": 150, "pipe_centre_mm": 40, "grout_conductivity_w_m_k": 1.6,
                 "u_tubes": 2, "field_shape": "rectangle", "rows": 2, "spacing_m": 6.5,
                 "buried_m": 1.2, "deepest_m": 60},
}  # fmt: skip
FULL: Json = {
    "site": {"area_m2": 1100, "length_m": 80, "width_m": 40, "trench_length_m": 250,
             "centres_m": 4, "border_m": 3},
    "limits": {"longest_pipe_m": 250, "largest_pressure_drop_kpa": 28,
               "largest_velocity_m_s": 1.1, "tail_m": 9},
    "design_years": 15, "least_return_c": -0.5,
}  # fmt: skip
RATE: Json = {"rate_w_m": 12, "per": "pipe", "hours": 1800, "source": "invented table"}


def request(kind: str = "slinky", **more: Any) -> Json:
    made = copy.deepcopy({**BASE, **FULL, "array_kind": {kind: KINDS[kind]}, **more})
    made["heat_load"] |= {} if "monthly_heat_kwh" in made["heat_load"] else {
        "hot_water_kwh": 2500, "hot_water_performance": 2.7, "design_performance": 3.3,
        "peak_hours": 20, "first_month": 10,
    }  # fmt: skip
    return made


RICH = {
    "slinky": request(),
    "straight by a rate": request("straight", extraction_rate=RATE),
    "pond": request("pond_mat", ground=SOIL),
    "boreholes": request("borehole", heat_load=MONTHLY, ground={**BASE["ground"], **{
        "geothermal_gradient_k_m": 0.02}}),
    "soil": request("straight", ground=SOIL, heat_load=MONTHLY),
}  # fmt: skip


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    """One service for all, that keeps no answers: times are those of computing."""
    return create_app(Settings(cache_bytes=0)).test_client()


def post(client: FlaskClient, body: Any) -> TestResponse:
    return client.post(PATH, json=body)


def sized(client: FlaskClient, body: Any) -> Json:
    answer = post(client, body)
    content: Json = answer.get_json(force=True)
    assert answer.status_code == 200, content
    return content


def put(document: Json, place: Place, value: Any) -> Json:
    made = copy.deepcopy(document)
    target: Any = made
    for part in place[:-1]:
        target = target[part]
    target[place[-1]] = value
    return made


def places_of_numbers(value: Any, here: Place = ()) -> list[Place]:
    if isinstance(value, dict):
        return [p for key, item in value.items() for p in places_of_numbers(item, (*here, key))]
    if isinstance(value, list):
        return [p for i, item in enumerate(value) for p in places_of_numbers(item, (*here, i))]
    return [here] if isinstance(value, int | float) and not isinstance(value, bool) else []


def value_of(document: Any, place: Place) -> Any:
    for part in place:
        document = document[part]
    return document


# --------------------------------------------------------------------------------------- what it is


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_an_example_keeps_the_contract_and_its_answer_is_kept(
    client: FlaskClient, contract: Json, file: Path
) -> None:
    _, content = example_and_answer(client, contract, PATH, "ArraySizing", file)
    kept = json.loads((file.parent / "responses" / file.name).read_text("utf-8"))
    assert without_numbers(kept) == without_numbers(content)
    assert kept["total_length_m"] == pytest.approx(content["total_length_m"], rel=1e-4)
    assert kept["coldest_return_c"] == pytest.approx(content["coldest_return_c"], abs=1e-3)


def test_the_examples_are_of_every_kind_and_both_ways_to_size() -> None:
    answers = [
        json.loads((file.parent / "responses" / file.name).read_text("utf-8")) for file in EXAMPLES
    ]
    assert {"slinky_flat", "straight", "pond_mat", "borehole"} <= {a["kind"] for a in answers}
    assert {a["basis"] for a in answers} == {"conduction", "extraction_rate"}


@pytest.mark.parametrize("body", RICH.values(), ids=RICH)
def test_a_request_with_every_field_keeps_the_contract(
    client: FlaskClient, contract: Json, body: Json
) -> None:
    validator(contract, "ArraySizingRequest").validate(body)
    content = sized(client, body)
    validator(contract, "ArraySizingResponse").validate(content)
    assert {finding["code"] for finding in content["findings"]} <= set(FINDING_CODES)
    assert content["cautions"]
    assert content["notes"]


@pytest.mark.parametrize("body", RICH.values(), ids=RICH)
def test_the_flow_split_takes_the_proposed_array_unchanged_and_finds_it_even(
    client: FlaskClient, contract: Json, body: Json
) -> None:
    content = sized(client, {**body, "name": "Fern Lea (invented)"})
    following = content["flow_split_request"]
    validator(contract, "FlowSplitRequest").validate(following)
    assert following["name"] == "Fern Lea (invented)"
    assert following["antifreeze"] == body["antifreeze"]
    answer = client.post("/v1/flow-split", json=following)
    assert answer.status_code == 200, answer.get_json(force=True)
    split = answer.get_json()
    assert len(split["loops"]) == content["loops"]
    assert all(abs(loop["deviation_percent"]) < 1e-6 for loop in split["loops"])
    assert split["pump_duty"]["heat_from_ground_kw"] == pytest.approx(
        content["ground_draw"]["peak_kw"], rel=1e-4
    )
    # Sizing takes the brine at the coldest mean that its limit allows; here it may be warmer.
    loop = split["loops"][0]
    assert loop["flow_l_s"] == pytest.approx(content["loop"]["flow_l_s"], rel=0.01)
    assert loop["pressure_drop_kpa"] == pytest.approx(content["loop"]["pressure_drop_kpa"], rel=0.1)
    tubes = body["array_kind"].get("borehole", {}).get("u_tubes", 1)
    inside = content["loop"]["pipe_m"] if tubes == 1 else None
    assert inside is None or loop["length_m"] == pytest.approx(inside, rel=1e-5)


def test_the_units_are_those_of_the_names(client: FlaskClient) -> None:
    content = sized(client, request())
    found = size_array(
        AnnualHeat(8000.0, 3.6, 1800.0, 2500.0 * 3.6e6, 2.7, 3.3, 20.0, 10),
        GroundConditions(1.5, 2.2e6, SurfaceTemperature(10.0, 8.0)),
        SlinkyArray(pe_pipe("PE100 SDR11 32"), 1.5, 0.9, 0.8, upright=True),
        mixture("propylene_glycol", 0.30, "mass"),
        3.5,
        site=None,
        limits=LoopLimits(content["loops"], 250.0, 28e3, 1.1, 9.0),
        years=15,
        least_return=-0.5,
    )
    # Rounded to six digits; centres differ from 5 m, which no number below but lengths shows much.
    assert content["ground_draw"]["peak_kw"] == pytest.approx(found.draw.peak / 1e3, rel=1e-5)
    assert content["ground_draw"]["annual_kwh"] == pytest.approx(
        found.draw.annual / 3.6e6, rel=1e-5
    )
    assert sum(content["ground_draw"]["monthly_kwh"]) == pytest.approx(
        content["ground_draw"]["annual_kwh"], rel=1e-5
    )
    assert content["resistance"]["film_m_k_w"] == pytest.approx(found.resistance.film, rel=1e-5)
    assert content["loop"]["flow_l_s"] == pytest.approx(
        found.hydraulics.volume_flow * 1e3, rel=1e-5
    )
    assert content["needed_length_m"] == pytest.approx(found.needed_length, rel=0.05)
    # W/m and kWh/m by hand.
    total = content["total_length_m"]
    assert content["extraction"]["peak_w_m"] == pytest.approx(
        content["ground_draw"]["peak_kw"] * 1e3 / total, rel=1e-4
    )
    assert content["extraction"]["annual_kwh_m"] == pytest.approx(
        content["ground_draw"]["annual_kwh"] / total, rel=1e-4
    )
    # π 0.9 / 0.8 + 2 m of pipe in a metre of trench.
    assert content["extraction"]["peak_pipe_w_m"] == pytest.approx(
        content["extraction"]["peak_w_m"] / (3.14159265 * 0.9 / 0.8 + 2.0), rel=1e-4
    )


@pytest.mark.parametrize("name", ["slinky", "straight by a rate", "boreholes", "soil"])
def test_months_years_and_the_history_tell_the_same(client: FlaskClient, name: str) -> None:
    content = sized(client, RICH[name])
    history, coldest = content["history"], content["coldest_return_c"]
    assert len(history["return_c"]) == len(history["going_c"]) == 12 * 15
    assert history["first_month"] == RICH[name]["heat_load"]["first_month"]
    assert [month["month"] for month in content["by_month"]] == list(range(1, 13))
    assert [year["year"] for year in content["by_year"]] == list(range(1, 16))
    for told in (history["return_c"], [m["return_c"] for m in content["by_month"]],
                 [y["return_c"] for y in content["by_year"]]):  # fmt: skip
        assert min(told) == pytest.approx(coldest, abs=1e-5)
    part = content["limiting_load"]
    falls = part["fall_from_months_k"] + part["fall_from_peak_k"] + part["fall_through_pipe_k"]
    # Five numbers of six digits.
    assert part["undisturbed_c"] - falls + part["rise_of_brine_k"] == pytest.approx(
        coldest, abs=2e-4
    )
    assert content["margin_k"] == pytest.approx(coldest - content["least_return_c"], abs=1e-5)
    assert content["by_month"][part["month"] - 1]["return_c"] == pytest.approx(coldest, abs=1e-5)


def test_a_pond_tells_no_year_because_none_is_modelled(client: FlaskClient) -> None:
    content = sized(client, RICH["pond"])
    assert not {"by_month", "by_year", "history", "limiting_load", "heat_origin"} & set(content)
    assert content["sensitivity"]["of"] == "water_film"
    assert "water_film_m_k_w" in content["resistance"]


def test_what_is_infinite_is_left_out_and_a_finding_says_why(client: FlaskClient) -> None:
    # Four boreholes for 60 kW: no depth is enough, but the table's rate is followed.
    body = request("borehole", extraction_rate={"rate_w_m": 80, "per": "bore"})
    body["heat_load"]["heat_pump_output_kw"] = 60
    body["limits"] = {"loops": 4}
    content = sized(client, body)
    assert "needed_length_m" not in content
    assert not {"length_if_worse_m", "length_if_better_m"} & set(content["sensitivity"])
    assert "length_not_found" in {finding["code"] for finding in content["findings"]}


def test_defaults_are_twenty_years_and_zero_degrees(client: FlaskClient) -> None:
    content = sized(client, BASE)
    assert content == sized(client, {**BASE, "design_years": 20, "least_return_c": 0})
    assert len(content["by_year"]) == 20
    assert content["least_return_c"] == 0.0


# ------------------------------------------------------------------------------ every input matters

# Limits bind where they are tight enough, and a plot is compared only where it is given.
BINDING: dict[str, Any] = {
    "longest_pipe_m": 90, "largest_pressure_drop_kpa": 1, "largest_velocity_m_s": 0.05,
    "deepest_m": 30, "u_tubes": 1, "rows": 1, "hours": 3000, "length_m": 10, "width_m": 9,
}  # fmt: skip
# A velocity of 0.05 m/s is the least that may be asked for, and these boreholes are below it.
SLOW = ("boreholes", ("limits", "largest_velocity_m_s"))


@pytest.mark.parametrize(
    ("name", "place"),
    [
        (name, place)
        for name, body in RICH.items()
        for place in places_of_numbers(body)
        # The season is not seen by a pond's coldest water, and its other inputs go the same way as
        # those of the rest; depth matters to boreholes alone for the gradient.
        if (name, place) != SLOW
        and place[-1] not in range(1, 11)  # January and December stand for the months
        and (name != "pond" or place[0] in {"array_kind", "temperature_change_k", "least_return_c"})
        and not (name == "boreholes" and place[-1] in {"trench_length_m", "centres_m"})
        and place[-1] != "geothermal_gradient_k_m"
    ],
    ids=str,
)  # fmt: skip
def test_no_number_of_a_request_is_ignored(
    client: FlaskClient, answers: dict[str, Json], name: str, place: Place
) -> None:
    old = value_of(RICH[name], place)
    new = BINDING.get(str(place[-1]))
    if new is None:
        new = old + 2 if place[-1] == "passes" else old + 1 if isinstance(old, int) else old * 1.07
    changed = post(client, put(RICH[name], place, new))
    assert changed.status_code == 200, changed.get_json(force=True)
    there, here = changed.get_json(), copy.deepcopy(answers[name])
    for content in (there, here):
        del content["flow_split_request"]["antifreeze"]  # there as it was given
    assert there != here


@pytest.fixture(scope="module")
def answers(client: FlaskClient) -> dict[str, Json]:
    return {name: sized(client, body) for name, body in RICH.items()}


def test_the_geothermal_gradient_shortens_boreholes(client: FlaskClient) -> None:
    more = put(RICH["boreholes"], ("ground", "geothermal_gradient_k_m"), 0.04)
    warm, usual = sized(client, more), sized(client, RICH["boreholes"])
    assert warm["needed_length_m"] < usual["needed_length_m"]


def test_wetter_soil_needs_less(client: FlaskClient) -> None:
    ground = {"soil": "sand", "surface_temperature": {"mean_c": 10, "swing_k": 8}}
    lengths = [
        sized(client, {**BASE, "ground": {**ground, "moisture": moisture}})["needed_length_m"]
        for moisture in ("dry", "usual", "saturated")
    ]
    assert lengths == sorted(lengths, reverse=True)
    usual = sized(client, {**BASE, "ground": ground})["needed_length_m"]
    assert usual == lengths[1]


@pytest.mark.parametrize("change", [
    (("array_kind", "slinky", "upright"), False),
    (("array_kind", "slinky", "pipe"), "PE100 SDR11 40"),
    (("antifreeze", "kind"), "ethylene_glycol"),
    (("antifreeze", "basis"), "volume"),
])  # fmt: skip
def test_no_word_of_a_request_is_ignored(client: FlaskClient, change: tuple[Place, Any]) -> None:
    one, other = sized(client, RICH["slinky"]), sized(client, put(RICH["slinky"], *change))
    assert (
        one["resistance"] != other["resistance"] or one["total_length_m"] != other["total_length_m"]
    )


# --------------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize("wrong", ["12", True, None, [], {}, -1e9, 1e9], ids=str)
@pytest.mark.parametrize("name", RICH)
def test_every_number_is_refused_at_its_place_where_it_is_none_or_out_of_range(
    client: FlaskClient, contract: Json, name: str, wrong: Any
) -> None:
    valid = Draft202012Validator(
        {"$ref": "#/components/schemas/ArraySizingRequest", "components": contract["components"]}
    )
    for place in places_of_numbers(RICH[name]):
        body = put(RICH[name], place, wrong)
        answer = post(client, body)
        assert answer.status_code == 422, (place, wrong)
        assert list(errors_of(answer)) == [pointer(place)], (place, wrong)
        assert not valid.is_valid(body)


@pytest.mark.parametrize(
    ("change", "value", "at"),
    [
        (("heat_load",), {"heat_pump_output_kw": 8, "seasonal_performance": 3.6}, "/heat_load"),
        (("heat_load", "monthly_heat_kwh"), [1] * 12, "/heat_load/monthly_heat_kwh"),
        (("heat_load", "heating_hours"), 8000, "/heat_load/heating_hours"),
        (("ground", "soil"), "clay", "/ground/soil"),
        (("ground",), {**SOIL, "moisture": "dry"}, "/ground/moisture"),
        (("ground",), {**SOIL, "dry_density_kg_m3": 2500}, "/ground/water_content_percent"),
        (("ground",), {**SOIL, "soil": "loess"}, "/ground/soil"),
        (("array_kind",), {}, "/array_kind"),
        (("array_kind", "pond_mat"), KINDS["pond_mat"], "/array_kind/pond_mat"),
        (("array_kind", "slinky", "pipe"), "PE100 SDR11 33", "/array_kind/slinky/pipe"),
        (("array_kind", "slinky", "depth_m"), 0.3, "/array_kind/slinky/depth_m"),
        (("array_kind", "slinky"), {"pipe": "PE100 SDR11 63", "depth_m": 1.2,
          "coil_diameter_m": 0.2}, "/array_kind/slinky/coil_diameter_m"),
        (("array_kind",), {"straight": {"pipe": "PE100 SDR11 32", "depth_m": 1.2,
          "passes": 12, "spacing_m": 0.5}}, "/site/centres_m"),
        (("site", "width_m"), ..., "/site/width_m"),
        (("site", "border_m"), 50, "/site/length_m"),
        (("limits", "longest_pipe_m"), 15, "/limits/longest_pipe_m"),
        (("limits", "loops"), MOST_LOOPS + 1, "/limits/loops"),
        (("design_years",), 101, "/design_years"),
        (("least_return_c",), -15, "/least_return_c"),
        (("antifreeze", "concentration_percent"), 90, "/antifreeze/concentration_percent"),
        (("extraction_rate",), {"rate_w_m": 20, "per": "bore"}, "/extraction_rate/per"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_at_its_place(
    client: FlaskClient, change: Place, value: Any, at: str
) -> None:
    body = put(request(), change, value)
    if value is ...:
        del value_of(body, change[:-1])[change[-1]]
    answer = post(client, body)
    assert answer.status_code == 422
    errors = errors_of(answer)
    assert at in errors
    assert errors[at]["detail"][-1] in ".?"


@pytest.mark.parametrize(
    ("kind", "change", "at"),
    [
        ("straight", {"passes": 3}, "passes"),
        ("straight", {"depth_m": 0.1, "pipe": "PE100 SDR11 125", "spacing_m": 2}, "depth_m"),
        ("pond_mat", {"mat_outer_diameter_m": 0.5}, "mat_outer_diameter_m"),
        ("pond_mat", {"coldest_water_c": 0}, "coldest_water_c"),
        ("borehole", {"pipe_centre_mm": 5}, "pipe_centre_mm"),
        ("borehole", {"pipe_centre_mm": 74}, "pipe_centre_mm"),
    ],
)
def test_measures_that_contradict_each_other_are_refused(
    client: FlaskClient, kind: str, change: Json, at: str
) -> None:
    body = request(kind)
    body["array_kind"][kind] |= change
    answer = post(client, body)
    assert answer.status_code == 422
    assert list(errors_of(answer)) == [f"/array_kind/{kind}/{at}"]


def test_faults_of_every_part_are_listed_at_once(client: FlaskClient) -> None:
    body = request("straight", extraction_rate={**RATE, "per": "metre"})
    body["antifreeze"]["concentration_percent"] = 95
    body["heat_load"]["heat_pump_output_kw"] = 0
    body["ground"] = {**SOIL, "moisture": "dry"}
    body["array_kind"]["straight"]["passes"] = 3
    del body["site"]["length_m"]
    body["limits"]["longest_pipe_m"] = 12
    body["desing_years"] = 3
    assert set(errors_of(post(client, body))) == {
        "/antifreeze/concentration_percent", "/heat_load/heat_pump_output_kw", "/ground/moisture",
        "/ground/water_content_percent", "/array_kind/straight/passes", "/site/width_m",
        "/limits/longest_pipe_m", "/extraction_rate/per", "/desing_years",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("body", "at"),
    [
        (put(request(), ("least_return_c",), 9), "/least_return_c"),
        (put(request("pond_mat"), ("least_return_c",), 5), "/least_return_c"),
        (put(request("borehole"), ("least_return_c",), 15), "/least_return_c"),
        (put(request("borehole"), ("limits",), {"loops": 2}), "/limits/loops"),
        (
            put(request(), ("limits",), {"largest_pressure_drop_kpa": 0.1, "tail_m": 999}),
            "/array_kind/slinky",
        ),
    ],
)
def test_a_limit_that_cannot_be_kept_is_no_solution(
    client: FlaskClient, body: Json, at: str
) -> None:
    if at == "/limits/loops":
        body["heat_load"]["heat_pump_output_kw"] = 500
    answer = post(client, body)
    assert answer.status_code == 422
    assert answer.get_json(force=True)["type"] == "/v1/problems/no-solution"
    assert list(errors_of(answer)) == [at]


def test_a_field_that_no_request_could_hold_is_refused(client: FlaskClient) -> None:
    body = request("borehole", extraction_rate={"rate_w_m": 1, "per": "bore"}, limits={"loops": 2})
    body["heat_load"]["heat_pump_output_kw"] = 100
    answer = post(client, body)
    assert answer.status_code == 422
    assert "more loops" in errors_of(answer)["/limits/loops"]["detail"]


def test_the_setting_for_loops_limits_the_search(client: FlaskClient) -> None:
    few = create_app(Settings(max_loops=2)).test_client()
    assert sized(client, request())["loops"] > 2
    answer = post(few, request())
    assert answer.status_code == 422
    assert "2 loops" in answer.get_json(force=True)["errors"][0]["allowed"]


# -------------------------------------------------------------------------------- how long it takes


@pytest.mark.parametrize("name", RICH)
def test_a_domestic_array_takes_well_under_a_second(client: FlaskClient, name: str) -> None:
    sized(client, RICH[name])  # what is computed once for all
    began = time.perf_counter()
    sized(client, RICH[name])
    assert time.perf_counter() - began < 1.5  # 10 to 250 ms on two cores at rest; others run too


def test_the_largest_request_that_is_taken_takes_seconds_not_minutes(client: FlaskClient) -> None:
    body = request("straight", limits={"loops": MOST_LOOPS}, design_years=100, site={})
    body["heat_load"]["heat_pump_output_kw"] = 2000
    body["array_kind"]["straight"] |= {"passes": 12, "spacing_m": 0.25}
    began = time.perf_counter()
    assert sized(client, body)["loops"] == MOST_LOOPS
    assert time.perf_counter() - began < 20.0  # 2 to 3 s on two cores at rest
