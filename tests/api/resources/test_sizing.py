"""POST /v1/sizing: units, what is decided, what is refused, and how long it takes."""

import copy
import json
import time
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.refusals import pointer
from api.schemas.sizing import MOST_LOOPS
from api.settings import Settings
from hydraulics.findings import FINDING_CODES
from hydraulics.fluid.mixture import mixture
from hydraulics.ground.temperature import SurfaceTemperature
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.plot.plot import Plot
from hydraulics.sizing.array import size_array
from hydraulics.sizing.choice import GroundConditions, LoopLimits, SlinkyArray
from hydraulics.sizing.heat_load import AnnualHeat
from tests.api.conftest import Json, errors_of, shared_app
from tests.api.contract.test_document import validator

PATH = "/v1/sizing"
Place = tuple[str | int, ...]

BASE: Json = {
    "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 30, "basis": "mass"},
    "heat": {"output_kw": 8, "seasonal_performance": 3.6, "heating_h": 1800,
             "temperature_change_k": 3.5},
    "ground": {
        "conductivity_w_m_k": 1.5, "heat_capacity_mj_m3_k": 2.2,
        "surface": {"mean_c": 10, "swing_k": 8},
    },
    "sizing": {"array_kind": {"slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2}}},
}  # fmt: skip
MONTHLY: Json = {
    "output_kw": 9, "seasonal_performance": 3.6, "design_performance": 3.2,
    "monthly_kwh": [2900, 2500, 2000, 1200, 600, 250, 250, 250, 500, 1300, 2100, 2800],
    "peak_h": 30, "first_month": 9, "temperature_change_k": 3.5,
}  # fmt: skip
SOIL: Json = {
    "soil": "clay", "water_content_percent": 22, "dry_density_kg_m3": 1500,
    "gradient_k_m": 0.01, "surface": {"mean_c": 10, "swing_k": 8, "coldest_day": 30},
}  # fmt: skip
KINDS: dict[str, Json] = {
    "slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.5, "upright": True, "coil_diameter_m": 0.9,
               "pitch_m": 0.8},
    "trench": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "passes": 4, "spacing_m": 0.5},
    "pond_mat": {"pipe": "PE100 SDR11 32", "inner_diameter_m": 0.7, "outer_diameter_m": 2.5,
                 "spacing_m": 0.08},
    "borehole": {"pipe": "probe", "diameter_mm": 150, "pipe_offset_mm": 40,
                 "grout_conductivity_w_m_k": 1.6, "u_tubes": 2, "rows": 2,
                 "top_m": 1.2, "max_depth_m": 60},
}  # fmt: skip
PROBE: Json = {"name": "probe", "bore_mm": 32.6, "outside_diameter_mm": 40, "roughness_mm": 0.003}
FULL: Json = {
    "plot": {"length_m": 80, "width_m": 40, "max_trench_m": 250, "spacing_m": 4, "border_m": 3},
    "limits": {"max_pipe_m": 250, "max_loop_drop_kpa": 28, "max_velocity_m_s": 1.1,
               "years": 15, "min_from_ground_c": -0.5},
}  # fmt: skip
RATE: Json = {"rate_w_m": 12, "per": "pipe", "full_h": 1800, "source": "invented table"}


def job_of(kind: str = "slinky", *, rate: Json | None = None, **more: Any) -> Json:
    """A job with every field that a kind takes."""
    made = copy.deepcopy({**BASE, **FULL, **more})
    made["sizing"] = {"array_kind": {kind: copy.deepcopy(KINDS[kind])}, "tail_m": 9}
    if rate is not None:
        made["sizing"]["extraction_rate"] = dict(rate)
    if kind == "borehole":
        made["pipes"] = [dict(PROBE)]
        made["plot"] |= {"spacing_m": 6.5}
    made["heat"] |= {} if "monthly_kwh" in made["heat"] else {
        "hot_water_kwh": 2500, "hot_water_performance": 2.7, "design_performance": 3.3,
        "peak_h": 20, "first_month": 10,
    }  # fmt: skip
    return made


RICH = {
    "slinky": job_of(),
    "trench by a rate": job_of("trench", rate=RATE),
    "pond": job_of("pond_mat", ground=SOIL | {"min_water_c": 4.2}),
    "boreholes": job_of("borehole", heat=MONTHLY, ground={**BASE["ground"], "gradient_k_m": 0.02}),
    "soil": job_of("trench", ground=SOIL, heat=MONTHLY),
}


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return shared_app().test_client()


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


@pytest.mark.parametrize("body", RICH.values(), ids=RICH)
def test_a_job_with_every_field_keeps_the_contract(
    client: FlaskClient, contract: Json, body: Json
) -> None:
    validator(contract, "Job").validate(body)
    content = sized(client, body)
    validator(contract, "SizingAnswer").validate(content)
    assert {finding["code"] for finding in content["findings"]} <= set(FINDING_CODES)
    assert content["cautions"]
    assert content["notes"]


@pytest.mark.parametrize("body", RICH.values(), ids=RICH)
def test_the_split_takes_what_the_sizing_decides_and_finds_it_even(
    client: FlaskClient, contract: Json, body: Json
) -> None:
    content = sized(client, body)
    assert set(content["decides"]) == {"array", "duty"}
    following = {**body, **content["decides"]}
    validator(contract, "Job").validate(following)
    answer = client.post("/v1/split", json=following)
    assert answer.status_code == 200, answer.get_json(force=True)
    split = answer.get_json()
    assert len(split["loops"]) == content["loop_count"]
    assert all(abs(loop["deviation_percent"]) < 1e-6 for loop in split["loops"])
    assert split["pump"]["heat_kw"] == pytest.approx(content["ground_draw"]["peak_kw"], rel=1e-5)
    # Sizing takes the brine at the coldest mean that its limit allows; here it may be warmer.
    loop = split["loops"][0]
    assert loop["flow_l_s"] == pytest.approx(content["each_loop"]["flow_l_s"], rel=0.01)
    assert loop["drop_kpa"] == pytest.approx(content["each_loop"]["drop_kpa"], rel=0.1)
    kind = body["sizing"]["array_kind"]
    tubes = kind.get("borehole", {}).get("u_tubes", 1)
    inside = content["each_loop"]["pipe_m"] if tubes == 1 else None
    assert inside is None or loop["length_m"] == pytest.approx(inside, rel=1e-5)


@pytest.mark.parametrize("body", RICH.values(), ids=RICH)
def test_what_is_decided_is_of_the_measures_asked_for(client: FlaskClient, body: Json) -> None:
    ((kind, asked),) = body["sizing"]["array_kind"].items()
    content = sized(client, body)
    ((branch),) = content["decides"]["array"]["branches"]
    assert branch.get("count", 1) == content["loop_count"]
    legs = branch["loop"]["legs"]
    ((leg),) = [each for each in legs if kind in each]
    own = {name: value for name, value in leg[kind].items() if name in asked}
    assert own == {name: value for name, value in asked.items() if name in own}
    assert {"slinky": {"coil_diameter_m", "pitch_m", "upright", "depth_m"},
            "trench": {"passes", "spacing_m", "depth_m"},
            "pond_mat": {"inner_diameter_m", "outer_diameter_m", "spacing_m"},
            "borehole": {"diameter_mm", "u_tubes"}}[kind] <= set(own)  # fmt: skip


def test_the_units_are_those_of_the_names(client: FlaskClient) -> None:
    content = sized(client, job_of())
    found = size_array(
        AnnualHeat(8000.0, 3.6, 1800.0, 2500.0 * 3.6e6, 2.7, 3.3, 20.0, 10),
        GroundConditions(1.5, 2.2e6, SurfaceTemperature(10.0, 8.0)),
        SlinkyArray(pe_pipe("PE100 SDR11 32"), 1.5, 0.9, 0.8, upright=True),
        mixture("propylene_glycol", 0.30, "mass"),
        3.5,
        limits=LoopLimits(content["loop_count"], 250.0, 28e3, 1.1, 9.0),
        years=15,
        least_return=-0.5,
        plot=Plot(80.0, 40.0, max_trench=250.0, spacing=4.0, border=3.0),
    )
    # Rounded to six digits.
    assert content["ground_draw"]["peak_kw"] == pytest.approx(found.draw.peak / 1e3, rel=1e-5)
    assert content["ground_draw"]["annual_draw_kwh"] == pytest.approx(
        found.draw.annual / 3.6e6, rel=1e-5
    )
    assert sum(content["ground_draw"]["monthly_draw_kwh"]) == pytest.approx(
        content["ground_draw"]["annual_draw_kwh"], rel=1e-5
    )
    assert content["resistance"]["film_m_k_w"] == pytest.approx(found.resistance.film, rel=1e-5)
    assert content["each_loop"]["flow_l_s"] == pytest.approx(
        found.hydraulics.volume_flow * 1e3, rel=1e-5
    )
    assert content["needed_m"] == pytest.approx(found.needed_length, rel=1e-5)
    # W/m and kWh/m by hand.
    total = content["length_m"]
    assert content["extraction"]["peak_w_m"] == pytest.approx(
        content["ground_draw"]["peak_kw"] * 1e3 / total, rel=1e-4
    )
    assert content["extraction"]["annual_kwh_m"] == pytest.approx(
        content["ground_draw"]["annual_draw_kwh"] / total, rel=1e-4
    )
    # π 0.9 / 0.8 + 2 m of pipe in a metre of trench.
    assert content["extraction"]["peak_pipe_w_m"] == pytest.approx(
        content["extraction"]["peak_w_m"] / (3.14159265 * 0.9 / 0.8 + 2.0), rel=1e-4
    )


@pytest.mark.parametrize("name", ["slinky", "trench by a rate", "boreholes", "soil"])
def test_months_years_and_the_history_tell_the_same(client: FlaskClient, name: str) -> None:
    content = sized(client, RICH[name])
    history, coldest = content["history"], content["min_from_ground_c"]
    assert len(history["from_ground_c"]) == len(history["to_ground_c"]) == 12 * 15
    assert history["first_month"] == RICH[name]["heat"]["first_month"]
    assert [month["month"] for month in content["by_month"]] == list(range(1, 13))
    assert [year["year"] for year in content["by_year"]] == list(range(1, 16))
    for told in (history["from_ground_c"], [m["from_ground_c"] for m in content["by_month"]],
                 [y["from_ground_c"] for y in content["by_year"]]):  # fmt: skip
        assert min(told) == pytest.approx(coldest, abs=1e-5)
    part = content["limiting_load"]
    falls = part["fall_from_months_k"] + part["fall_from_peak_k"] + part["fall_through_pipe_k"]
    # Five numbers of six digits.
    assert part["undisturbed_c"] - falls + part["rise_of_brine_k"] == pytest.approx(
        coldest, abs=2e-4
    )
    assert content["from_ground_margin_k"] == pytest.approx(
        coldest - content["from_ground_limit_c"], abs=1e-5
    )
    assert content["by_month"][part["month"] - 1]["from_ground_c"] == pytest.approx(
        coldest, abs=1e-5
    )


def test_a_pond_tells_no_year_because_none_is_modelled(client: FlaskClient) -> None:
    content = sized(client, RICH["pond"])
    assert not {"by_month", "by_year", "history", "limiting_load", "heat_origin"} & set(content)
    assert content["sensitivity"][0]["input"] == "water_film"
    assert "water_film_m_k_w" in content["resistance"]


def test_other_limits_and_published_rules_stand_beside_the_size(client: FlaskClient) -> None:
    body = job_of("borehole")
    body["heat"]["performance_slope_percent_k"] = 2.5
    content = sized(client, body)
    rows = {each["from_ground_c"]: each for each in content["return_limits"]}
    assert list(rows) == [0.0, -0.5, -3.0, -5.0]  # -0.5 is asked for
    assert rows[-0.5]["length_m"] == content["needed_m"]
    assert rows[-5.0]["length_m"] < rows[-3.0]["length_m"] < rows[-0.5]["length_m"]
    assert rows[-5.0]["performance_percent"] == pytest.approx(-4.5 * 2.5)
    assert rows[-5.0]["concentration_percent"] > rows[-3.0]["concentration_percent"]
    rule, by_hand = content["published"]
    assert "VDI 4640" in rule["source"]
    assert "Philippe" in by_hand["source"]
    # The classical equation (ASHRAE Journal, July 2010) knows neither ends nor the year's wave.
    assert by_hand["length_m"] == pytest.approx(content["needed_m"], rel=0.03)
    assert [each["input"] for each in content["sensitivity"]] == [
        "ground_conductivity", "ground_temperature", "load", "together",
    ]  # fmt: skip


def test_what_is_infinite_is_left_out_and_a_finding_says_why(client: FlaskClient) -> None:
    # Four boreholes for 60 kW: no depth is enough, but the table's rate is followed.
    body = job_of("borehole", rate={"rate_w_m": 80, "per": "borehole"})
    body["heat"]["output_kw"] = 60
    body["sizing"]["loop_count"] = 4
    content = sized(client, body)
    assert "needed_m" not in content
    assert not {"max_length_m", "min_length_m"} & set(content["sensitivity"][0])
    assert "length_not_found" in {finding["code"] for finding in content["findings"]}


def test_defaults_are_twenty_years_and_zero_degrees(client: FlaskClient) -> None:
    content = sized(client, BASE)
    assert content == sized(client, {**BASE, "limits": {"years": 20, "min_from_ground_c": 0}})
    assert len(content["by_year"]) == 20
    assert content["from_ground_limit_c"] == 0.0


# ------------------------------------------------------------------------------ every input matters

# Limits bind where they are tight enough, and a plot is compared only where it is given.
BINDING: dict[str, Any] = {
    "max_pipe_m": 90, "max_loop_drop_kpa": 1, "max_velocity_m_s": 0.05, "max_depth_m": 30,
    "u_tubes": 1, "rows": 1, "full_h": 3000, "length_m": 10, "width_m": 9,
}  # fmt: skip
# A velocity of 0.05 m/s is the least that may be asked for, and these boreholes are below it.
POND = {"temperature_change_k", "min_from_ground_c", "min_water_c"}
SLOW = ("boreholes", ("limits", "max_velocity_m_s"))


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
        and (name != "pond" or place[0] == "sizing" or place[-1] in POND)
        and not (name == "boreholes" and place[-1] == "max_trench_m")
        # Flow in the probe is laminar, and laminar friction knows no roughness.
        and place[-1] not in {"gradient_k_m", "roughness_mm"}
    ],
    ids=str,
)  # fmt: skip
def test_no_number_of_a_job_is_ignored(
    client: FlaskClient, answers: dict[str, Json], name: str, place: Place
) -> None:
    old = value_of(RICH[name], place)
    new = BINDING.get(str(place[-1]))
    if new is None:
        new = old + 2 if place[-1] == "passes" else old + 1 if isinstance(old, int) else old * 1.07
    changed = post(client, put(RICH[name], place, new))
    assert changed.status_code == 200, changed.get_json(force=True)
    assert changed.get_json() != answers[name]


@pytest.fixture(scope="module")
def answers(client: FlaskClient) -> dict[str, Json]:
    return {name: sized(client, body) for name, body in RICH.items()}


def test_the_geothermal_gradient_shortens_boreholes(client: FlaskClient) -> None:
    more = put(RICH["boreholes"], ("ground", "gradient_k_m"), 0.04)
    warm, usual = sized(client, more), sized(client, RICH["boreholes"])
    assert warm["needed_m"] < usual["needed_m"]


def test_wetter_soil_needs_less(client: FlaskClient) -> None:
    ground = {"soil": "sand", "surface": {"mean_c": 10, "swing_k": 8}}
    lengths = [
        sized(client, {**BASE, "ground": {**ground, "moisture": moisture}})["needed_m"]
        for moisture in ("dry", "usual", "saturated")
    ]
    assert lengths == sorted(lengths, reverse=True)
    usual = sized(client, {**BASE, "ground": ground})["needed_m"]
    assert usual == lengths[1]


@pytest.mark.parametrize("change", [
    (("sizing", "array_kind", "slinky", "upright"), False),
    (("sizing", "array_kind", "slinky", "pipe"), "PE100 SDR11 40"),
    (("antifreeze", "kind"), "ethylene_glycol"),
    (("antifreeze", "basis"), "volume"),
])  # fmt: skip
def test_no_word_of_a_job_is_ignored(client: FlaskClient, change: tuple[Place, Any]) -> None:
    one, other = sized(client, RICH["slinky"]), sized(client, put(RICH["slinky"], *change))
    assert one["resistance"] != other["resistance"] or one["length_m"] != other["length_m"]


# --------------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize("wrong", ["12", True, None, [], {}, -1e9, 1e9], ids=str)
@pytest.mark.parametrize("name", RICH)
def test_every_number_is_refused_at_its_place_where_it_is_none_or_out_of_range(
    client: FlaskClient, contract: Json, name: str, wrong: Any
) -> None:
    valid = validator(contract, "Job")
    for place in places_of_numbers(RICH[name]):
        body = put(RICH[name], place, wrong)
        answer = post(client, body)
        assert answer.status_code == 422, (place, wrong)
        assert list(errors_of(answer)) == [pointer(place)], (place, wrong)
        assert not valid.is_valid(body)


@pytest.mark.parametrize(
    ("change", "value", "at"),
    [
        (("heat",), {"output_kw": 8, "seasonal_performance": 3.6, "temperature_change_k": 3},
         "/heat"),
        (("heat", "monthly_kwh"), [1] * 12, "/heat/monthly_kwh"),
        (("heat", "heating_h"), 8000, "/heat/heating_h"),
        (("heat", "hot_water_kwh"), 90_000, "/heat/hot_water_kwh"),
        (("ground", "moisture"), "dry", "/ground/moisture"),
        (("ground",), {**SOIL, "moisture": "dry"}, "/ground/moisture"),
        (("ground",), {**SOIL, "dry_density_kg_m3": 2500}, "/ground/water_content_percent"),
        (("ground",), {**SOIL, "soil": "loess"}, "/ground/soil"),
        (("sizing", "array_kind"), {}, "/sizing/array_kind"),
        (("sizing", "array_kind", "pond_mat"), KINDS["pond_mat"], "/sizing/array_kind/pond_mat"),
        (("sizing", "array_kind", "slinky", "pipe"), "PE100 SDR11 33",
         "/sizing/array_kind/slinky/pipe"),
        (("sizing", "array_kind", "slinky", "depth_m"), 0.3,
         "/sizing/array_kind/slinky/depth_m"),
        (("sizing", "array_kind", "slinky"), {"pipe": "PE100 SDR11 63", "depth_m": 1.2,
          "coil_diameter_m": 0.2}, "/sizing/array_kind/slinky/coil_diameter_m"),
        (("sizing", "array_kind"), {"trench": {"pipe": "PE100 SDR11 32", "depth_m": 1.2,
          "passes": 12, "spacing_m": 0.5}}, "/plot/spacing_m"),
        (("plot", "width_m"), ..., "/plot/width_m"),
        (("plot", "border_m"), 50, "/plot/length_m"),
        (("limits", "max_pipe_m"), 15, "/limits/max_pipe_m"),
        (("sizing", "loop_count"), MOST_LOOPS + 1, "/sizing/loop_count"),
        (("limits", "years"), 101, "/limits/years"),
        (("limits", "min_from_ground_c"), -15, "/limits/min_from_ground_c"),
        (("antifreeze", "concentration_percent"), 90, "/antifreeze/concentration_percent"),
        (("sizing", "extraction_rate"), {"rate_w_m": 20, "per": "borehole"},
         "/sizing/extraction_rate/per"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_at_its_place(
    client: FlaskClient, change: Place, value: Any, at: str
) -> None:
    body = put(job_of(), change, value)
    if value is ...:
        del value_of(body, change[:-1])[change[-1]]
    answer = post(client, body)
    assert answer.status_code == 422
    errors = errors_of(answer)
    assert at in errors
    assert errors[at]["detail"][-1] in ".?"


def test_water_that_pores_cannot_hold_is_refused_in_percent(client: FlaskClient) -> None:
    # Clay's grains at 2700 kg/m3 (common practice): 2300 leaves pores of 1/2300 - 1/2700 m3/kg,
    # 64.4 g of water in a kilogram.
    dense = {**SOIL, "dry_density_kg_m3": 2300, "water_content_percent": 30}
    fault = errors_of(post(client, job_of(ground=dense)))["/ground/water_content_percent"]
    assert "is 30 % of the dry mass" in fault["detail"]
    assert "at most 6.4 %" in fault["detail"]
    assert (fault["value"], fault["allowed"]) == (30, "0 to 6.4 %")
    assert post(client, job_of(ground={**dense, "water_content_percent": 6.4})).status_code == 200


@pytest.mark.parametrize("moisture", [{}, {"moisture": "usual"}])
def test_a_density_that_leaves_no_room_for_the_usual_water_is_refused(
    client: FlaskClient, moisture: Json
) -> None:
    # 26 % of water is usual for clay (common practice): 1/(0.26/1000 + 1/2700) = 1586.1 kg/m3.
    dense = {"soil": "clay", "dry_density_kg_m3": 2300, "surface": SOIL["surface"], **moisture}
    fault = errors_of(post(client, job_of(ground=dense)))["/ground/dry_density_kg_m3"]
    assert (fault["value"], fault["allowed"]) == (2300, "at most 1586 kg/m³")
    assert "26 %" in fault["detail"]
    assert post(client, job_of(ground={**dense, "dry_density_kg_m3": 1586})).status_code == 200


def test_more_heat_than_a_month_has_hours_for_is_refused_in_kwh(client: FlaskClient) -> None:
    # 9 kW at a performance of 3.2 draw 6.1875 kW; 730.5 h of them, over 1 - 1/3.6, are 6258.5 kWh.
    months = [*MONTHLY["monthly_kwh"][:11], 7000]
    fault = errors_of(post(client, job_of(heat={**MONTHLY, "monthly_kwh": months})))[
        "/heat/monthly_kwh/11"
    ]
    assert (fault["value"], fault["allowed"]) == (7000, "at most 6258 kWh")
    months[11] = 6258
    assert post(client, job_of(heat={**MONTHLY, "monthly_kwh": months})).status_code == 200


def test_more_conductive_ground_may_need_more_and_no_length_is_left_out(
    client: FlaskClient,
) -> None:
    # Ground that conducts better lets the winter reach deeper (Kusuda & Achenbach 1965): where the
    # limit is close to the undisturbed temperature, it asks for more length, or there is none.
    body = copy.deepcopy(BASE)
    body["ground"] |= {"surface": {"mean_c": 10.2, "swing_k": 7.5}, "heat_capacity_mj_m3_k": 2.4}
    body["heat"] |= {"design_performance": 3.1, "temperature_change_k": 3}
    body["sizing"]["array_kind"] = {"trench": {"pipe": "PE100 SDR11 40", "depth_m": 1.2}}
    body["limits"] = {"min_from_ground_c": 5.3}  # the ground there falls to 5.55 degC
    content = sized(client, body)
    sure = content["sensitivity"][0]
    assert sure["min_length_m"] < content["needed_m"] < sure["max_length_m"]
    (told,) = messages(content, "conductivity_uncertain")
    fewer = 100 * (1 - sure["min_length_m"] / content["needed_m"])
    further = 100 * (sure["max_length_m"] / content["needed_m"] - 1)
    assert told == (
        f"With ground 20 % less conductive {fewer:.0f} % less length is needed; with 20 % more, "
        f"{further:.0f} % more length is needed."
    )
    body["limits"] = {"min_from_ground_c": 5.4}
    body["heat"]["temperature_change_k"] = 3.5
    body["sizing"] = copy.deepcopy(BASE["sizing"])
    content = sized(client, body)
    sure = content["sensitivity"][0]
    assert "max_length_m" not in sure
    assert "min_length_m" in sure
    assert "inf" not in messages(content, "conductivity_uncertain")[0]


def test_mats_that_lie_over_one_another_are_told_of(client: FlaskClient) -> None:
    body = job_of("pond_mat", ground=SOIL | {"min_water_c": 4.2})  # mats of 2.5 m
    assert not messages(sized(client, body), "mats_overlap")
    body["plot"] |= {"spacing_m": 2}
    (told,) = messages(sized(client, body), "mats_overlap")
    assert "2.5 m across at 2 m centres" in told


@pytest.mark.parametrize(("area", "told"), [(100_000, {}), (100, {"fits": False})])
def test_an_area_can_only_refute(client: FlaskClient, area: float, told: Json) -> None:
    land = sized(client, job_of(plot={"area_m2": area}))["land"]
    assert {name: land[name] for name in ("fits",) if name in land} == told


@pytest.mark.parametrize(
    ("kind", "change", "at"),
    [
        ("trench", {"passes": 3}, "passes"),
        ("trench", {"depth_m": 0.1, "pipe": "PE100 SDR11 125", "spacing_m": 2}, "depth_m"),
        ("pond_mat", {"outer_diameter_m": 0.5}, "outer_diameter_m"),
        ("borehole", {"pipe_offset_mm": 5}, "pipe_offset_mm"),
        ("borehole", {"pipe_offset_mm": 74}, "pipe_offset_mm"),
    ],
)
def test_measures_that_contradict_each_other_are_refused(
    client: FlaskClient, kind: str, change: Json, at: str
) -> None:
    body = job_of(kind, ground=SOIL | {"min_water_c": 4})
    body["sizing"]["array_kind"][kind] |= change
    answer = post(client, body)
    assert answer.status_code == 422
    assert list(errors_of(answer)) == [f"/sizing/array_kind/{kind}/{at}"]


@pytest.mark.parametrize(
    ("water", "at"),
    [(0, "/ground/min_water_c"), (0.01, "/ground/min_water_c"), (..., "/ground/min_water_c")],
)
def test_mats_need_water_that_does_not_freeze(client: FlaskClient, water: Any, at: str) -> None:
    told = {} if water is ... else {"min_water_c": water}
    assert list(errors_of(post(client, job_of("pond_mat", ground=SOIL | told)))) == [at]


def test_a_performance_on_hot_water_that_there_is_none_of_is_refused(client: FlaskClient) -> None:
    body = job_of()
    del body["heat"]["hot_water_kwh"]
    assert list(errors_of(post(client, body))) == ["/heat/hot_water_performance"]


@pytest.mark.parametrize(
    ("limit", "code"), [("max_pipe_m", "loop_too_long"), ("max_depth_m", "borehole_too_deep")]
)
def test_a_number_of_loops_too_few_for_a_length_given_is_an_error(
    client: FlaskClient, limit: str, code: str
) -> None:
    body = job_of("borehole")
    del body["limits"]["max_pipe_m"]
    body["limits"]["min_from_ground_c"] = -3
    assert not messages(sized(client, body), code)  # as many as it takes
    if limit == "max_pipe_m":
        body["limits"][limit] = 60
    else:
        body["sizing"]["array_kind"]["borehole"][limit] = 30
    enough = sized(client, body)
    assert not messages(enough, code)
    assert enough["loop_count"] > 4
    body["sizing"]["loop_count"] = 4
    content = sized(client, body)
    assert messages(content, code)
    assert next(each for each in content["findings"] if each["code"] == code)["severity"] == "error"


def test_only_digging_asks_how_the_ground_bulks(client: FlaskClient) -> None:
    ground = {key: value for key, value in BASE["ground"].items() if key != "soil"}
    ground |= {"conductivity_w_m_k": 1.6, "heat_capacity_mj_m3_k": 2.3}
    dug = {"trench": {"width_m": 1.2, "depth_m": 1.4, "side_slope": 0.75}}
    body = {**job_of(ground=ground), "groundworks": dug}
    wide = sized(client, body)["land"]
    bulking = sized(client, {**body, "ground": {**ground, "bulking_percent": 30}})["land"]
    assert wide == bulking
    assert client.post("/v1/designs", json=body).status_code == 422


def test_a_rate_of_mats_is_per_metre_of_pipe(client: FlaskClient) -> None:
    body = job_of("pond_mat", ground=SOIL | {"min_water_c": 4.2})
    body["sizing"]["extraction_rate"] = {**RATE, "per": "trench"}
    (error,) = post(client, body).get_json(force=True)["errors"]
    assert error["allowed"] == "pipe"
    assert "pipe or" not in error["detail"]


def test_a_soil_that_only_bulks_is_told_what_a_sizing_needs_beside_it(client: FlaskClient) -> None:
    body = job_of(ground={**SOIL, "soil": "weak_rock"})
    (error,) = post(client, body).get_json(force=True)["errors"]
    assert error["pointer"] == "/ground/soil"
    assert "give conductivity and heat capacity as measured" in error["detail"]


def test_faults_of_every_part_are_listed_at_once(client: FlaskClient) -> None:
    body = job_of("trench", rate={**RATE, "per": "metre"})
    body["antifreeze"]["concentration_percent"] = 95
    body["heat"]["output_kw"] = 0
    body["ground"] = {**SOIL, "moisture": "dry"}
    body["sizing"]["array_kind"]["trench"]["passes"] = 3
    del body["plot"]["length_m"]
    body["limits"]["max_pipe_m"] = 12
    body["desing"] = 3
    assert set(errors_of(post(client, body))) == {
        "/antifreeze/concentration_percent", "/heat/output_kw", "/ground/moisture",
        "/ground/water_content_percent", "/sizing/array_kind/trench/passes", "/plot/length_m",
        "/limits/max_pipe_m", "/sizing/extraction_rate/per", "/desing",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("body", "at"),
    [
        (put(job_of(), ("limits", "min_from_ground_c"), 9), "/limits/min_from_ground_c"),
        (
            put(RICH["pond"], ("limits", "min_from_ground_c"), 5),
            "/limits/min_from_ground_c",
        ),
        (
            put(job_of("borehole"), ("limits", "min_from_ground_c"), 15),
            "/limits/min_from_ground_c",
        ),
        (put(job_of("borehole"), ("sizing", "loop_count"), 2), "/sizing/loop_count"),
        (
            put(put(job_of(), ("limits",), {"max_loop_drop_kpa": 0.1}), ("sizing", "tail_m"), 999),
            "/sizing/array_kind",
        ),
    ],
)
def test_a_limit_that_cannot_be_kept_is_no_solution(
    client: FlaskClient, body: Json, at: str
) -> None:
    if at == "/sizing/loop_count":
        body["heat"]["output_kw"] = 500
    answer = post(client, body)
    assert answer.status_code == 422
    assert answer.get_json(force=True)["type"] == "/v1/problems/no-solution"
    assert list(errors_of(answer)) == [at]


def test_a_limit_that_is_left_out_with_its_part_is_named_in_words(client: FlaskClient) -> None:
    body = put(job_of(), ("ground", "surface"), {"mean_c": 3, "swing_k": 8})
    body.pop("limits", None)
    detail = errors_of(post(client, body))["/limits"]["detail"]
    assert detail.startswith("min_from_ground_c of 0 °C cannot be kept")


@pytest.mark.parametrize("address", ["/v1/sizing", "/v1/designs"])
def test_loops_that_no_job_could_hold_are_refused(client: FlaskClient, address: str) -> None:
    body = job_of("borehole", rate={"rate_w_m": 1, "per": "borehole"})
    body["heat"]["output_kw"] = 100
    body["sizing"]["loop_count"] = 2
    body["antifreeze"]["concentration_percent"] = 55  # so long that the brine is at -18 °C
    answer = client.post(address, json=body)
    assert answer.status_code == 422
    assert "more loops" in errors_of(answer)["/sizing/loop_count"]["detail"]


def test_the_setting_for_loops_limits_the_search(client: FlaskClient) -> None:
    few = create_app(Settings(max_loops=2)).test_client()
    assert sized(client, job_of())["loop_count"] > 2
    answer = post(few, job_of())
    assert answer.status_code == 422
    assert "2 loops" in answer.get_json(force=True)["errors"][0]["allowed"]


# --------------------------------------------------------------------- one answer, one set of facts


def example(name: str, **parts: Any) -> Json:
    """An example that the service hands out, with parts of its own."""
    text = (Path(__file__).parents[3] / "openapi" / "examples" / f"{name}.json").read_text("utf-8")
    document: Json = json.loads(text)
    for part, values in parts.items():
        document[part] = {**document[part], **values}
    return document


def messages(content: Json, code: str) -> list[str]:
    return [each["message"] for each in content["findings"] if each["code"] == code]


@pytest.mark.parametrize(("length", "fits"), [(100, True), (74.3, True), (69, False)])
def test_the_plot_is_judged_as_the_digging_sets_it_out(
    client: FlaskClient, length: float, fits: bool
) -> None:
    # By hand: 7 trenches of 1 m at 5 m centres and borders of 2.5 m are 36 m wide; two rows of
    # 32.1 m with 5 m between their ends and borders are 74.2 m long.
    body = example("larkspur-mill-from-months", sizing={"loop_count": 14})
    body["plot"] = {"length_m": length, "width_m": 36.1, "spacing_m": 5}
    content = client.post("/v1/designs", json=body).get_json()
    land = content["groundworks"]["land"]
    assert content["sizing"]["land"]["fits"] is land["fits"] is fits
    assert (land["across"], land["rows"]) == (7, 2)
    assert content["sizing"]["land"]["length_m"] == pytest.approx(74.2)
    assert content["sizing"]["land"]["width_m"] == pytest.approx(36.0)
    said = messages(content["sizing"], "site_too_small")
    assert len(said) == (not fits)
    assert all("74.2 m is 5.20 m longer than the plot's 69 m" in each for each in said)


def corners(length: float, width: float) -> list[Json]:
    """Of a rectangle."""
    return [{"x_m": x, "y_m": y} for x, y in ((0, 0), (length, 0), (length, width), (0, width))]


@pytest.mark.parametrize(
    "plot",
    [
        {"length_m": 65, "width_m": 25},
        {"boundary": corners(65, 25), "plant_room": {"x_m": 0, "y_m": 12.5}},
    ],
)
def test_what_a_plan_lays_has_room_by_the_same_borders(client: FlaskClient, plot: Json) -> None:
    # By hand: 2.5 m of border to centre lines leave 20 m, for 5 trenches at 5 m centres, whatever
    # their width of 0.8 m, and 60 m for their length; 264.5 m are 52.9 m in each.
    body = copy.deepcopy(BASE) | {"plot": plot}
    body["heat"]["output_kw"] = 6.5
    body["sizing"] = {
        "array_kind": {"trench": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "passes": 2}},
        "loop_count": 5,
    }
    body["setting_out"] = {"run_pipe": "PE100 SDR11 50"}
    body["groundworks"] = {"trench": {"width_m": 0.8, "depth_m": 1.35}}
    content = sized(client, body)
    assert content["each_loop"]["length_m"] < 60
    assert not messages(content, "site_too_small")
    land = content["land"]
    assert (land["fits"], land["plot_m2"]) == (True, 1625)
    assert land["width_m"] == pytest.approx(25)
    assert land["length_m"] <= 65


def test_a_rectangle_that_is_set_out_is_sized_alike_by_sides_and_by_corners(
    client: FlaskClient,
) -> None:
    # By hand: 5 lines of 50 m have room, 250 m, less than is needed.
    body = copy.deepcopy(BASE) | {"setting_out": {"run_pipe": "PE100 SDR11 50"}}
    body["sizing"] = {
        "array_kind": {"trench": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "passes": 2}}
    }
    sides = {"length_m": 55, "width_m": 26}
    by_corners = {"boundary": corners(55, 26), "plant_room": {"x_m": 0, "y_m": 13}}
    one, other = (sized(client, body | {"plot": plot}) for plot in (sides, by_corners))
    assert one["length_m"] > 250
    assert one["land"] == other["land"]
    assert one["land"]["fits"] is False
    assert one["each_loop"] == other["each_loop"]
    assert messages(one, "site_too_small") == messages(other, "site_too_small") != []


@pytest.mark.parametrize("setting_out", [{}, {"setting_out": {"run_pipe": "PE100 SDR11 50"}}])
def test_corners_that_are_far_too_near_are_told_as_sides_are(
    client: FlaskClient, setting_out: Json
) -> None:
    # By hand: 12 at 6.5 m in one line take 71.5 + 6 by 6 m, more than 14 x 12 m; within borders of
    # 3 m are 8 x 6 m, for a triangle of 6.5 x 5.63 m, and no fourth at 6.5 m.
    body = job_of("borehole", plot={"boundary": corners(14, 12), "plant_room": {"x_m": 0, "y_m": 6},
                                    "border_m": 3}) | setting_out  # fmt: skip
    body["sizing"] |= {"loop_count": 12, "array_kind": {"borehole": {
        **body["sizing"]["array_kind"]["borehole"], "rows": 1}}}  # fmt: skip
    content = sized(client, body)
    assert (content["land"]["fits"], content["land"]["plot_m2"]) == (False, 168)
    (said,) = messages(content, "site_too_small")
    assert ("12 boreholes at 6.5 m do not fit by the search made: 3 do" in said) == bool(
        setting_out
    )


def test_a_line_of_boreholes_that_a_rectangle_would_spare_is_said_to_be_one(
    client: FlaskClient,
) -> None:
    # Eight at 6.5 m in a line are 45.5 m, 51.5 m with borders of 3 m; in four by two 25.5 x 12.5 m.
    body = job_of("borehole", plot={"length_m": 30, "width_m": 20, "spacing_m": 6.5, "border_m": 3})
    body["sizing"]["loop_count"] = 8
    rows = body["sizing"]["array_kind"]["borehole"]
    assert sized(client, body)["land"]["fits"] is True
    rows["rows"] = 1
    content = sized(client, body)
    assert content["land"]["fits"] is False
    (said,) = messages(content, "site_too_small")
    assert "51.5 m is 21.50 m longer than the plot's 30 m" in said
    assert "2 rows, up to 4 in each, would fit" in said


@pytest.mark.parametrize("percent", [15, 30])
def test_by_a_rate_the_duty_is_of_the_coldest_brine_that_the_sizing_found(
    client: FlaskClient, percent: float
) -> None:
    body = example("hazel-heath-extraction-rate", antifreeze={"concentration_percent": percent})
    content = sized(client, body)
    duty = content["decides"]["duty"]
    assert content["min_from_ground_c"] < content["from_ground_limit_c"] - 1.0
    assert duty["from_ground_c"] == pytest.approx(content["min_from_ground_c"], abs=1e-5)
    assert duty["to_ground_c"] == pytest.approx(content["min_to_ground_c"], abs=1e-5)
    following = client.post("/v1/split", json={**body, **content["decides"]})
    design = client.post("/v1/designs", json=body)
    if percent == 30:
        assert following.status_code == design.status_code == 200
        return
    # Propylene glycol of 15 % by volume freezes at about -5 °C (makers' tables, from memory).
    (said,) = messages(content, "freezing_margin_thin")
    assert "K below the mixture's freezing point: it freezes" in said
    assert list(errors_of(following)) == ["/duty/to_ground_c"]
    assert list(errors_of(design)) == ["/antifreeze"]


@pytest.mark.parametrize(("change", "freezes"), [(4.5, False), (5.2, True)])
def test_the_mixture_bears_winters_rise_where_cooling_sets_the_flow(
    client: FlaskClient, change: float, freezes: bool
) -> None:
    """Water held at 4 °C goes out at 0.4 or -0.2 °C: heat's peak is 0.80 of that of cooling."""
    body = example("quarry-lane-both-seasons", limits={"min_from_ground_c": 4})
    body["antifreeze"] = {"kind": "water"}
    body["heat"]["temperature_change_k"] = change
    answer = post(client, body)
    # 24 kW at a COP of 3.8 against 18 kW of cold at 4.5.
    out = 4.0 - change * 24.0 * (1.0 - 1.0 / 3.8) / (18.0 * (1.0 + 1.0 / 4.5))
    assert (out <= 0.0) == freezes
    if freezes:
        (refused,) = errors_of(answer).items()
        assert refused[0] == "/limits/min_from_ground_c"
        return
    content = answer.get_json(force=True)
    assert answer.status_code == 200
    assert content["min_to_ground_c"] == pytest.approx(out, abs=0.05)  # rounded up to metres


@pytest.mark.parametrize("address", ["sizing", "split", "designs"])
def test_an_antifreeze_of_no_strength_is_refused_as_such(client: FlaskClient, address: str) -> None:
    body = example("quince-barn-short-tail", antifreeze={"concentration_percent": 0})
    answer = client.post(f"/v1/{address}", json={**BASE, **body})
    assert answer.status_code == 422
    ((at, error),) = errors_of(answer).items()
    assert at == "/antifreeze/concentration_percent"
    assert 'the kind "water"' in error["detail"]


def test_a_loop_longer_than_every_coil_on_offer_is_told(client: FlaskClient) -> None:
    # 60 m of trench with six passes takes more than 360 m of pipe; 300 m is a usual longest coil.
    body = job_of("trench", limits={"max_loop_drop_kpa": 500}, plot={})
    body["sizing"]["array_kind"]["trench"]["passes"] = 6
    body["sizing"]["loop_count"] = 1
    content = sized(client, body)
    pipe = content["each_loop"]["pipe_m"]
    assert pipe > 300.0
    (said,) = messages(content, "no_coil_long_enough")
    assert "300 m" in said
    own = {"name": "own", "bore_mm": 26.2, "outside_diameter_mm": 32, "roughness_mm": 0.003}
    body["sizing"]["array_kind"]["trench"]["pipe"] = "own"
    for coil, told in ((0.5 * pipe, 1), (2.0 * pipe, 0)):
        body["pipes"] = [{**own, "coils_m": [100, coil]}]
        assert len(messages(sized(client, body), "no_coil_long_enough")) == told


# -------------------------------------------------------------------------------- how long it takes


@pytest.mark.parametrize("name", RICH)
def test_a_domestic_array_takes_well_under_a_second(client: FlaskClient, name: str) -> None:
    sized(client, RICH[name])  # what is computed once for all
    began = time.process_time()
    sized(client, RICH[name])
    assert time.process_time() - began < 1.5  # of CPU, whatever else runs: 10 to 250 ms


def test_the_largest_job_that_is_taken_takes_seconds_not_minutes(client: FlaskClient) -> None:
    body = job_of("trench", limits={"years": 100}, plot={})
    body["sizing"]["loop_count"] = MOST_LOOPS
    body["heat"]["output_kw"] = 2000
    body["sizing"]["array_kind"]["trench"] |= {"passes": 12, "spacing_m": 0.25}
    began = time.process_time()
    assert sized(client, body)["loop_count"] == MOST_LOOPS
    assert time.process_time() - began < 20.0  # of CPU, whatever else runs: 2 to 3 s at rest


@pytest.mark.parametrize("tail_m", [None, 10])
@pytest.mark.parametrize(
    ("kind", "name"),
    [({"slinky": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "pitch_m": 0.03}}, "pitch_m"),
     ({"trench": {"pipe": "PE100 SDR11 32", "depth_m": 1.2, "passes": 2, "spacing_m": 0.03}},
      "spacing_m"),
     ({"pond_mat": {"pipe": "PE100 SDR11 32", "spacing_m": 0.03}}, "spacing_m")],
)  # fmt: skip
def test_pipe_that_would_overlap_itself_is_refused_where_it_stands(
    client: FlaskClient, kind: Json, name: str, tail_m: float | None
) -> None:
    job = {**BASE, "ground": {**BASE["ground"], "min_water_c": 4}, "sizing": {"array_kind": kind}}
    if tail_m is not None:
        job["sizing"]["tail_m"] = tail_m
    answer = client.post(PATH, json=job)
    assert answer.status_code == 422
    (fault,) = answer.get_json()["errors"]
    (where,) = kind
    assert fault["pointer"] == f"/sizing/array_kind/{where}/{name}"
    assert fault["value"] == 0.03


def test_many_boreholes_without_rows_places_or_a_plot_are_refused_with_what_to_give(
    client: FlaskClient,
) -> None:
    body = job_of("borehole")
    body["sizing"]["loop_count"] = 9
    bore = body["sizing"]["array_kind"]["borehole"]
    del bore["rows"], body["plot"]["length_m"], body["plot"]["width_m"]
    answer = client.post(PATH, json=body)
    at = "/sizing/array_kind/borehole/rows"
    assert list(errors_of(answer)) == [at]
    assert (
        "plot's two sides, or set them out on a plot by its corners"
        in errors_of(answer)[at]["detail"]
    )
    drawn = {**body, "setting_out": {"run_pipe": "PE100 SDR11 63"}, "plot": {
        "boundary": [{"x_m": x, "y_m": y} for x, y in ((0, 0), (60, 0), (60, 40), (0, 40))],
        "plant_room": {"x_m": 0, "y_m": 20},
    }}  # fmt: skip
    assert sized(client, drawn)["loop_count"] == 9
    bore["perimeter"] = True
    assert sized(client, body)["loop_count"] == 9


def test_boreholes_at_given_places(client: FlaskClient) -> None:
    body = job_of("borehole")
    body["sizing"].pop("loop_count", None)
    bore = body["sizing"]["array_kind"]["borehole"]
    del bore["rows"]
    bore["positions"] = [{"x_m": 3, "y_m": 3}, {"x_m": 11, "y_m": 4}, {"x_m": 5, "y_m": 12.5}]
    body["groundworks"] = {"header_trench": {}}
    body["ground"]["bulking_percent"] = 40
    design = client.post("/v1/designs", json=body).get_json()
    assert design["sizing"]["loop_count"] == 3
    land = design["groundworks"]["land"]
    assert (land["width_m"], land["length_m"]) == (8 + 6, 9.5 + 6)  # borders of 3 m
    assert land["width_m"] == design["sizing"]["land"]["length_m"]
    # By hand, from each to the nearest: sqrt(65) m and sqrt(94.25) m.
    header = design["groundworks"]["header_trench"]["length_m"]
    assert header == pytest.approx(65**0.5 + 94.25**0.5, rel=1e-5)
    bore["positions"][2] = {"x_m": 3.02, "y_m": 3}
    answer = client.post(PATH, json=body)
    (at,) = errors_of(answer)
    assert at.startswith("/sizing/array_kind/borehole/positions/")
    bore["rows"] = 2
    assert client.post(PATH, json=body).status_code == 422


# ------------------------------------------------------------------------------------- both seasons

COOLING: Json = {"output_kw": 9, "performance": 4,
                 "monthly_kwh": [0, 0, 0, 0, 300, 1200, 2000, 1900, 500, 0, 0, 0]}  # fmt: skip


def both_seasons(**limits: Any) -> Json:
    body = job_of("borehole")
    body["limits"]["min_from_ground_c"] = -2
    body["limits"] |= limits
    body["limits"].pop("max_pipe_m", None)
    body["sizing"]["loop_count"] = 4
    body["heat"]["cooling"] = copy.deepcopy(COOLING)
    return body


def test_cooling_is_sized_with_the_heat_and_told_beside_it(client: FlaskClient) -> None:
    content = sized(client, both_seasons())
    alone = both_seasons()
    del alone["heat"]["cooling"]
    heated = sized(client, alone)
    assert content["needed_m"] < heated["needed_m"]
    draw = content["ground_draw"]
    # By hand: cold at 4 puts a quarter more into the ground.
    assert draw["annual_return_kwh"] == pytest.approx(5900 * 1.25)
    assert draw["cooling_peak_kw"] == pytest.approx(9 * 1.25)
    assert draw["annual_draw_kwh"] == heated["ground_draw"]["annual_draw_kwh"]
    taken = sum(heated["ground_draw"]["monthly_draw_kwh"])
    assert sum(draw["monthly_draw_kwh"]) == pytest.approx(taken - 5900 * 1.25, rel=1e-5)
    assert content["limiting_load"]["limit"] == "lower"
    assert content["max_from_ground_limit_c"] == 30
    august = content["by_month"][7]
    assert august["max_from_ground_c"] == content["max_from_ground_c"] < august["max_to_ground_c"]
    assert content["ground_drift"]["over_life_k"] > heated["ground_drift"]["over_life_k"]
    assert "max_from_ground_c" not in heated
    assert "max_from_ground_c" not in heated["by_month"][6]


def test_the_upper_limit_governs_where_it_is_nearer(client: FlaskClient) -> None:
    free = sized(client, both_seasons())
    tight = sized(client, both_seasons(max_from_ground_c=free["max_from_ground_c"] - 3))
    part = tight["limiting_load"]
    assert (part["limit"], part["month"] in (7, 8)) == ("upper", True)
    assert part["fall_from_peak_k"] < 0
    assert tight["needed_m"] > free["needed_m"]
    assert tight["max_from_ground_c"] <= tight["max_from_ground_limit_c"] + 1e-3
    cold = post(client, both_seasons(max_from_ground_c=10))
    # The ground itself is warmer, and no number of boreholes helps.
    assert list(errors_of(cold)) == ["/limits/max_from_ground_c"]


def test_recharge_and_months_of_the_peak_shorten(client: FlaskClient) -> None:
    body = job_of("trench", heat=MONTHLY)
    body["limits"].pop("max_pipe_m", None)
    long = sized(client, body)["needed_m"]
    body["heat"]["recharge_kwh"] = [0, 0, 200, 400, 600, 600, 600, 600, 400, 100, 0, 0]
    assert sized(client, body)["needed_m"] < long
    limiting = sized(client, body)["limiting_load"]["month"]
    body["heat"]["peak_months"] = [month for month in (1, 2, 11, 12) if month != limiting]
    assert sized(client, body)["limiting_load"]["month"] != limiting


@pytest.mark.parametrize(
    ("place", "value", "at"),
    [
        (("cooling", "peak_h"), 400, "/heat/cooling/peak_h"),
        (("cooling", "output_kw"), 1, "/heat/cooling/output_kw"),
        (("cooling", "monthly_kwh"), [0] * 12, "/heat/cooling/monthly_kwh"),
        (("peak_months",), [1, 13], "/heat/peak_months/1"),
        (("recharge_kwh",), [1] * 11, "/heat/recharge_kwh"),
    ],
)
def test_a_second_season_that_cannot_be_is_refused_where_it_stands(
    client: FlaskClient, place: Place, value: Any, at: str
) -> None:
    body = put(both_seasons(), ("heat", *place), value)
    assert list(errors_of(post(client, body))) == [at]


def test_a_pond_says_that_cold_is_not_sized(client: FlaskClient) -> None:
    body = job_of("pond_mat", ground=SOIL | {"min_water_c": 4.2})
    body["heat"]["cooling"] = COOLING
    assert messages(sized(client, body), "cold_not_sized")


@pytest.mark.parametrize("tail", [0, 4])
def test_a_mat_longer_than_a_loop_may_be_is_refused_as_such(
    client: FlaskClient, tail: float
) -> None:
    """Where one mat of it, as it is sized without the limit, is longer, more loops do not help."""
    body = job_of("pond_mat", ground=SOIL | {"min_water_c": 4.2})
    body["sizing"] |= {"tail_m": tail, "loop_count": 50}  # one mat in each
    mat = sized(client, body)["each_loop"]["length_m"]
    del body["sizing"]["loop_count"]
    body["limits"] = {"max_pipe_m": mat + 2 * tail - 1}
    (error,) = post(client, body).get_json()["errors"]
    assert error["pointer"] == "/sizing/array_kind"
    assert f"is mats of {mat + 2 * tail:.1f} m of pipe each, tails included" in error["detail"]
    assert "take smaller mats" in error["detail"]
    body["limits"] = {"max_pipe_m": mat + 2 * tail + 0.1}
    assert sized(client, body)["each_loop"]["length_m"] == pytest.approx(mat)


# ---------------------------------------------------------------------------------- measured values


def response_tested() -> Json:
    """A job with the three values of a thermal response test."""
    body = job_of("borehole")
    bore = body["sizing"]["array_kind"]["borehole"]
    del bore["grout_conductivity_w_m_k"], bore["pipe_offset_mm"]
    bore["resistance_m_k_w"] = 0.12
    body["ground"]["undisturbed_c"] = 11.3
    return body


def test_a_response_test_is_sized_as_measured(client: FlaskClient) -> None:
    content = sized(client, response_tested())
    assert content["limiting_load"]["undisturbed_c"] == 11.3
    assert content["resistance"]["borehole_effective_m_k_w"] == 0.12
    assert "borehole_local_m_k_w" not in content["resistance"]
    (said,) = messages(content, "measured_resistance")
    assert "with the film of the test's fluid at the test's flow" in said
    holds = response_tested()
    holds["sizing"]["array_kind"]["borehole"]["resistance_has_film"] = True
    (said,) = messages(sized(client, holds), "measured_resistance")
    assert said.endswith("with the film of this array, as told.")
    del holds["sizing"]["array_kind"]["borehole"]["resistance_m_k_w"]
    at = "/sizing/array_kind/borehole"
    assert any(each.startswith(at) for each in errors_of(post(client, holds)))
    body = response_tested()
    del body["ground"]["undisturbed_c"]
    body["ground"]["measured"] = [{"depth_m": depth, "ground_c": 11.3} for depth in (10, 20, 80)]
    body["ground"].pop("gradient_k_m", None)
    # Less what the year's wave leaves at 10 m, and 0.03 K/m above that, over some 80 m.
    content = sized(client, body)
    assert content["limiting_load"]["undisturbed_c"] == pytest.approx(11.25, abs=0.05)
    assert not messages(content, "measured_in_part")
    body["ground"]["measured"] = [{"depth_m": 300, "ground_c": 16}]
    (said,) = messages(sized(client, body), "measured_in_part")
    assert "by up to 0.03 K/m" in said


@pytest.mark.parametrize(
    ("part", "told", "at"),
    [
        ("bore", {"grout_conductivity_w_m_k": 1.6, "pipe_offset_mm": 40},
         "/sizing/array_kind/borehole"),
        ("bore", {"resistance_m_k_w": ...}, "/sizing/array_kind/borehole"),
        ("ground", {"measured": [{"depth_m": 5, "ground_c": 11}]}, "/ground"),
        ("ground", {"undisturbed_c": ..., "measured": [{"depth_m": 5, "ground_c": 11},
                                                       {"depth_m": 4, "ground_c": 11}]},
         "/ground/measured/1/depth_m"),
        ("surface", {"monthly_air_c": [5] * 12}, "/ground/surface"),
        ("surface", {"swing_k": ...}, "/ground/surface/swing_k"),
    ],
)  # fmt: skip
def test_what_is_measured_and_told_twice_or_half_is_refused(
    client: FlaskClient, part: str, told: Json, at: str
) -> None:
    body = response_tested()
    of = {"bore": body["sizing"]["array_kind"]["borehole"], "ground": body["ground"],
          "surface": body["ground"]["surface"]}[part]  # fmt: skip
    for name, value in told.items():
        of.pop(name, None)
        if value is not ...:
            of[name] = value
    assert any(each.startswith(at) for each in errors_of(post(client, body)))


def test_the_surface_s_film_and_the_months_of_the_air_move_the_length(client: FlaskClient) -> None:
    body = job_of("trench", heat=MONTHLY)
    bare = sized(client, body)["needed_m"]
    body["ground"]["surface"]["film_w_m2_k"] = 8
    assert 1.0 < sized(client, body)["needed_m"] / bare < 1.06
    body["ground"]["surface"] = {"monthly_air_c": [2, 3, 6, 9, 13, 16, 18, 18, 14, 10, 6, 3]}
    assert sized(client, body)["needed_m"] != bare


def test_water_that_freezes_shortens_trenches_kept_in_frost(client: FlaskClient) -> None:
    body = job_of("trench", heat=MONTHLY)
    body["limits"] |= {"min_from_ground_c": -5}
    bare = sized(client, body)
    body["ground"] |= {"freezing_water_kg_m3": 300, "frozen_conductivity_w_m_k": 2.4}
    wet = sized(client, body)
    assert wet["needed_m"] < 0.99 * bare["needed_m"]
    assert bare["notes"] != wet["notes"]
    del body["ground"]["freezing_water_kg_m3"]
    assert list(errors_of(post(client, body))) == ["/ground/frozen_conductivity_w_m_k"]


@pytest.mark.parametrize(
    ("soil", "most"),
    [
        # Dry density times water content: sand 1600 and 10 %, clay 1500 and 22 %, as told here.
        ({"soil": "sand"}, 160),
        ({"soil": "clay", "water_content_percent": 22, "dry_density_kg_m3": 1500}, 330),
        ({"soil": "sand", "moisture": "dry"}, 0),
        # 0.396 of it are pores: 1 - 1600/2650.
        ({"soil": "sand", "moisture": "saturated"}, 396),
        # (2.2 - 1300/2650 x 1.92)/4.18; clay of 1100 in grains of 2700 where no class is told.
        ({"soil": "sand", "conductivity_w_m_k": 1.5, "heat_capacity_mj_m3_k": 2.2}, 300),
        ({"conductivity_w_m_k": 1.5, "heat_capacity_mj_m3_k": 2.2}, 339),
    ],
)
def test_no_more_water_freezes_than_the_ground_holds(
    client: FlaskClient, soil: Json, most: int
) -> None:
    body = job_of("trench", heat=MONTHLY, ground={**soil, "surface": BASE["ground"]["surface"]})
    for water, refused in ((900, True), (most * 1.01 + 1, True), (max(most, 1), most < 1)):
        body["ground"]["freezing_water_kg_m3"] = water
        answer = post(client, body)
        assert (answer.status_code == 422) is refused
        if refused:
            (error,) = answer.get_json(force=True)["errors"]
            assert error["pointer"] == "/ground/freezing_water_kg_m3"
            assert error["value"] == water
            assert f"at most {most} kg/m³ of water" in error["detail"]


def test_mats_in_water_ask_for_no_soil(client: FlaskClient) -> None:
    body = job_of("pond_mat", ground=SOIL | {"min_water_c": 4.2})
    with_soil = sized(client, body)
    bare = {
        name: value for name, value in body["ground"].items() if name in ("surface", "min_water_c")
    }
    without = sized(client, {**body, "ground": bare})
    assert without["length_m"] == with_soil["length_m"]
    assert without["needed_m"] == with_soil["needed_m"]


def test_battered_ends_take_land_in_the_sizing_as_in_the_digging(client: FlaskClient) -> None:
    body = example("larkspur-mill-from-months", sizing={"loop_count": 14})
    body["groundworks"]["trench"] |= {"side_slope": 0.5}
    body["plot"] = {"length_m": 100, "width_m": 80, "spacing_m": 6}
    content = client.post("/v1/designs", json=body).get_json()
    land = content["groundworks"]["land"]
    assert content["sizing"]["land"]["length_m"] == pytest.approx(land["length_m"])


def test_what_is_said_of_a_length_names_the_limit_that_sets_it(client: FlaskClient) -> None:
    rate = {"rate_w_m": 90, "per": "borehole"}
    for most, governs in ((20, 20), (30, 0)):
        body = example("quarry-lane-both-seasons", limits={"max_from_ground_c": most})
        body["sizing"]["extraction_rate"] = rate
        (said,) = messages(sized(client, body), "rate_below_conduction")
        assert f"to keep the return at {governs} °C" in said


def test_trenches_that_have_their_place_are_sized_as_they_lie(client: FlaskClient) -> None:
    """In a row as that row is told; by what is near elsewhere, be it the same trench.

    Hairpins against trenches laid in pairs, and against finite lines of others' reckoning for this
    heat: 380 m of them for 344 m of trenches 5 m apart.
    """

    def needed(
        spacing: float, *lines: tuple[tuple[float, float], ...], loops: int = 4
    ) -> tuple[float, list[str]]:
        kind = {"trench": {"pipe": "PE100 SDR11 40", "depth_m": 1.2, "passes": 2, "spacing_m": 0.5}}
        placed = [
            {"loop": f"T{n}", "points": [{"x_m": x, "y_m": y} for x, y in line]}
            for n, line in enumerate(lines)
        ]
        plot = {"spacing_m": spacing, "length_m": 220, "width_m": 220}
        answer = client.post("/v1/sizing", json={
            "antifreeze": {"kind": "ethanol", "concentration_percent": 25, "basis": "mass"},
            "heat": {"output_kw": 12, "seasonal_performance": 4, "design_performance": 3.5,
                     "temperature_change_k": 3,
                     "monthly_kwh": [3900, 3400, 2800, 1600, 800, 350, 350, 350, 700, 1800,
                                     2900, 3700]},
            "ground": {"conductivity_w_m_k": 1.8, "heat_capacity_mj_m3_k": 2.4,
                       "surface": {"mean_c": 10, "swing_k": 8}, "soil": "silt"},
            "limits": {"min_from_ground_c": -2},
            "sizing": {"array_kind": kind, "loop_count": loops, "tail_m": 10},
            "plot": plot | ({"trenches": placed} if placed else {}),
        })  # fmt: skip
        content = answer.get_json(force=True)
        assert answer.status_code == 200, content
        return content["needed_m"], content["notes"]

    def row(y: float, start: float = 20) -> tuple[tuple[float, float], ...]:
        return (start, y), (start + 86, y)

    told, apart = needed(1)[0], needed(5)[0]
    far = needed(50)[0]
    in_row = needed(5, *map(row, (20, 21, 22, 23)))
    assert in_row[0] == pytest.approx(told)
    assert [each for each in in_row[1] if "taken where they lie on the plot" in each]
    hairpins = needed(
        5, *(((20, y), (63, y), (63, y + 1), (20, y + 1)) for y in (20, 60, 100, 140))
    )[0]
    pairs = needed(5, row(20), row(21), row(120), row(121))[0]
    assert hairpins == pytest.approx(pairs, rel=0.005)  # but for the turn of 1 m
    assert hairpins / apart == pytest.approx(380 / 344, rel=0.01)  # their own ends
    # One tip 1 m from another's middle, and no other near: nothing like a row at 1 m.
    tip = needed(5, row(20), ((63, 21), (63, 107)), row(150), row(170))[0]
    assert far < tip < 1.01 * far
    # Half of each beside another is half as much as the whole.
    half = needed(5, row(20), row(21, 63), row(120), row(121, 63))[0]
    assert half - far == pytest.approx((pairs - far) / 2, rel=0.05)  # the ends of what is beside
    # Those without a place stand on in a row.
    assert needed(1, row(20), row(21))[0] == pytest.approx(told)


def test_trenches_placed_over_one_another_are_refused(client: FlaskClient) -> None:
    body = copy.deepcopy(BASE)
    body["plot"] = {
        "length_m": 60,
        "width_m": 60,
        "trenches": [
            {"loop": name, "points": [{"x_m": 10, "y_m": y}, {"x_m": 50, "y_m": y}]}
            for name, y in (("T1", 10), ("T2", 10.8))
        ],
    }
    answer = client.post(PATH, json=body)
    assert answer.status_code == 422
    assert "0.80 m from one another" in errors_of(answer)["/plot/trenches"]["detail"]


@pytest.mark.parametrize(("output", "change", "measured"), [(30, 4, 0.08), (6, 5, 0.06)])
def test_boreholes_of_a_response_test_are_proposed_within_the_limit(
    client: FlaskClient, output: float, change: float, measured: float
) -> None:
    """Where brine comes back no warmer than the wall, by one heat capacity in length and return."""
    hours = [each / 28 for each in (9100, 7900, 6500, 3700, 1900, 800, 800, 800, 1600, 4200, 6800,
                                    8600)]  # fmt: skip
    bore = {
        "pipe": "PE100 SDR11 32", "resistance_m_k_w": measured, "diameter_mm": 140, "u_tubes": 2,
        "rows": 2, "max_depth_m": 150,
    }  # fmt: skip
    job = {
        "antifreeze": {"kind": "ethanol", "concentration_percent": 25, "basis": "mass"},
        "heat": {
            "output_kw": output, "seasonal_performance": 4, "design_performance": 3.5,
            "temperature_change_k": change, "monthly_kwh": [each * output for each in hours],
        },
        "ground": {
            "surface": {"mean_c": 10.3, "swing_k": 9}, "conductivity_w_m_k": 2.2,
            "heat_capacity_mj_m3_k": 2.3, "undisturbed_c": 8,
        },
        "plot": {"spacing_m": 7}, "limits": {"years": 25},
        "sizing": {"tail_m": 8, "array_kind": {"borehole": bore}},
    }  # fmt: skip
    content = sized(client, job)
    assert content["from_ground_margin_k"] >= 0.0
    assert "return_below_limit" not in [each["code"] for each in content["findings"]]
