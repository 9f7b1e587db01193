"""POST /v1/designs: each step as its own address answers it, and every fault at its place."""

import copy
import json
import time
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from api import create_app
from api.contract.examples import FOLDER
from api.settings import Settings
from hydraulics.findings import FINDING_CODES
from tests.api.conftest import SMALLEST, Json, errors_of
from tests.api.contract.test_document import example_and_answer, without_numbers

PATH = "/v1/designs"
EXAMPLES = sorted((FOLDER / "examples" / "designs").glob("*.json"))
LOAD_TO_HANDOVER: Json = json.loads(
    (FOLDER / "examples" / "designs" / "quince-barn-from-load-to-handover.json").read_text("utf-8")
)
STEPS = ("balancing", "pump_selection", "groundworks", "commissioning")


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    """One service for all, that keeps no answers: times are those of computing."""
    return create_app(Settings(cache_bytes=0)).test_client()


def post(client: FlaskClient, body: Any, path: str = PATH) -> TestResponse:
    return client.post(path, json=body)


def designed(client: FlaskClient, body: Any, path: str = PATH) -> Json:
    answer = post(client, body, path)
    content: Json = answer.get_json(force=True)
    assert answer.status_code == 200, content
    return content


@pytest.fixture
def whole() -> Json:
    return copy.deepcopy(LOAD_TO_HANDOVER)


@pytest.fixture
def given() -> Json:
    """An array that is given, with one loop far shorter than the other."""
    body = copy.deepcopy(SMALLEST)
    body["array"]["branches"][1]["legs"] = [{"straight_m": 90}]
    return body


def solved_alike(one: Json, other: Json) -> None:
    """Assert that two answers are the same but for the rounding noise of residuals."""
    one, other = copy.deepcopy(one), copy.deepcopy(other)
    for answer in (one, other):
        for part in (answer, answer.get("as_it_is", {})):
            part.pop("residuals", None)
    assert one == other


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.stem)
def test_an_example_keeps_the_contract_and_its_answer_is_kept(
    client: FlaskClient, contract: Json, file: Path
) -> None:
    _, content = example_and_answer(client, contract, PATH, "Designs", file)
    kept = json.loads((file.parent / "responses" / file.name).read_text("utf-8"))
    assert set(kept) == set(content)
    for step in ("array_sizing", "groundworks"):
        assert without_numbers(kept.get(step)) == without_numbers(content.get(step))
    assert kept["flow_split"]["pump_duty"]["head_kpa"] == pytest.approx(
        content["flow_split"]["pump_duty"]["head_kpa"], rel=1e-4
    )


def test_the_chain_is_what_its_steps_answer_one_after_the_other(
    client: FlaskClient, whole: Json
) -> None:
    content = designed(client, whole)
    shared = {name: whole[name] for name in ("name", "antifreeze")}
    sizing = designed(client, {**shared, **whole["sizing"]}, "/v1/array-sizing")
    assert content["array_sizing"] == sizing
    request = {**sizing["flow_split_request"], "plant": whole["plant"]}
    solved_alike(content["flow_split"], designed(client, request, "/v1/flow-split"))
    for step, path in (
        ("pump_selection", "/v1/pump-selection"),
        ("commissioning", "/v1/commissioning"),
    ):
        alone = designed(client, {**request, **whole[step]}, path)
        assert content[step] == alone
    digging = {name: request[name] for name in ("name", "plant", "array")} | whole["groundworks"]
    digging["works"] = {**digging["works"], "centres_m": 5, "border_m": 2.5}
    digging["site"] = {"length_m": 75, "width_m": 40}
    assert content["groundworks"] == designed(client, digging, "/v1/groundworks")


@pytest.mark.parametrize("step", STEPS)
def test_a_step_that_is_not_asked_for_is_not_taken(
    client: FlaskClient, whole: Json, step: str
) -> None:
    del whole[step]
    content = designed(client, whole)
    assert step not in content
    assert "flow_split" in content


def test_the_flow_split_alone_is_what_its_address_answers(client: FlaskClient) -> None:
    content = designed(client, SMALLEST)
    assert set(content) == {"flow_split", "findings"}
    solved_alike(content["flow_split"], designed(client, SMALLEST, "/v1/flow-split"))


def test_an_even_array_is_not_balanced_and_a_finding_says_so(
    client: FlaskClient, whole: Json
) -> None:
    content = designed(client, whole)
    assert "balancing" not in content
    assert [finding["code"] for finding in content["findings"]] == ["balancing_not_needed"]
    assert "balancing_not_needed" in FINDING_CODES


def test_an_uneven_array_is_balanced(client: FlaskClient, given: Json) -> None:
    content = designed(client, {**given, "balancing": {}})
    assert content["flow_split"]["imbalance"]["within_tolerance"] is False
    assert content["findings"] == []
    solved_alike(content["balancing"], designed(client, given, "/v1/balancing"))


def test_another_target_than_even_flow_is_always_compared(client: FlaskClient) -> None:
    content = designed(client, {**SMALLEST, "balancing": {"target": "by_length"}})
    assert content["flow_split"]["imbalance"]["within_tolerance"] is True
    assert content["balancing"]["target"] == "by_length"


def test_a_wider_tolerance_spares_the_balancing(client: FlaskClient, given: Json) -> None:
    content = designed(client, {**given, "balancing": {}, "tolerance_percent": 90})
    assert "balancing" not in content


def test_groundworks_keep_their_own_plot_where_they_name_one(
    client: FlaskClient, whole: Json
) -> None:
    usual = designed(client, whole)["groundworks"]["land"]
    assert usual["available_m2"] == pytest.approx(75 * 40)
    whole["groundworks"]["works"] |= {"centres_m": 7, "border_m": 1}
    whole["groundworks"]["site"] = {"area_m2": 800}
    land = designed(client, whole)["groundworks"]["land"]
    assert (land["centres_m"], land["border_m"], land["available_m2"]) == (7, 1, 800)


def test_boreholes_are_set_out_at_the_spacing_that_they_were_sized_for(
    client: FlaskClient,
) -> None:
    file = FOLDER / "examples" / "designs" / "slate-row-boreholes.json"
    body = json.loads(file.read_text("utf-8"))
    assert designed(client, body)["groundworks"]["land"]["centres_m"] == 7


# --------------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("change", "at"),
    [
        ({"array": SMALLEST["array"]}, {"/array"}),
        ({"duty": SMALLEST["duty"]}, {"/duty"}),
        ({"array": SMALLEST["array"], "duty": SMALLEST["duty"]}, {"/array", "/duty"}),
        ({"sizing": ...}, {""}),
        ({"sizing": ..., "array": SMALLEST["array"]}, {"/duty"}),
        ({"sizing": ..., "duty": SMALLEST["duty"]}, {"/array"}),
    ],
)
def test_an_array_is_sized_or_given_with_its_duty(
    client: FlaskClient, whole: Json, change: Json, at: set[str]
) -> None:
    body = {name: value for name, value in (whole | change).items() if value is not ...}
    answer = post(client, body)
    assert answer.status_code == 422
    assert set(errors_of(answer)) == at


def test_faults_of_all_steps_are_listed_at_once_at_their_places(
    client: FlaskClient, whole: Json
) -> None:
    whole["antifreeze"]["concentration_percent"] = 95  # the engine's, in every step
    whole["plant"]["runs"][0]["pipe"] = "PE100 SDR11 41"  # the engine's, in every step
    whole["sizing"]["array_kind"]["slinky"]["pipe"] = "PE100 SDR11 33"
    whole["sizing"]["ground"] |= {"water_content_percent": 20}
    whole["balancing"] = {"target": "shares"}
    whole["pump_selection"] = {}
    whole["groundworks"]["works"] = {"soil": "custard"}
    whole["groundworks"]["coils_on_offer"] = [{"pipe": "PE100 SDR11 31", "lengths_m": [100]}]
    whole["commissioning"]["filling"]["temperature_c"] = "12"
    whole["comissioning"] = {}
    answer = post(client, whole)
    assert answer.status_code == 422
    listed = [error["pointer"] for error in answer.get_json(force=True)["errors"]]
    assert len(listed) == len(set(listed))
    assert set(listed) == {
        "/antifreeze/concentration_percent", "/plant/runs/0/pipe",
        "/sizing/array_kind/slinky/pipe", "/sizing/ground/moisture",
        "/sizing/ground/water_content_percent", "/balancing/target_shares",
        "/pump_selection/candidates", "/groundworks/works/soil",
        "/groundworks/coils_on_offer/0/pipe", "/commissioning/filling/temperature_c",
        "/comissioning",
    }  # fmt: skip


@pytest.mark.parametrize("step", ["sizing", *STEPS])
@pytest.mark.parametrize("wrong", [None, [], "{}", 1, True, {"no_such_field": 1}], ids=str)
def test_options_that_are_none_are_refused_at_their_step(
    client: FlaskClient, whole: Json, step: str, wrong: Any
) -> None:
    whole[step] = wrong
    answer = post(client, whole)
    assert answer.status_code == 422
    assert all(pointer.startswith(f"/{step}") for pointer in errors_of(answer))


def test_a_limit_that_cannot_be_kept_is_no_solution_of_the_sizing(
    client: FlaskClient, whole: Json
) -> None:
    whole["sizing"]["least_return_c"] = 9
    answer = post(client, whole)
    assert answer.status_code == 422
    assert answer.get_json(force=True)["type"] == "/v1/problems/no-solution"
    assert list(errors_of(answer)) == ["/sizing/least_return_c"]


@pytest.mark.parametrize(
    ("change", "at"),
    [
        # Only the array tells that these do not fit it.
        ({"balancing": {"target": "shares", "target_shares": [1, 1, 1]}},
         "/balancing/target_shares"),
        ({"groundworks": {"works": {"soil": "clay"}, "coils_on_offer": [
            {"pipe": "PE100 SDR11 90", "lengths_m": [100]}]}},
         "/groundworks/coils_on_offer/0/pipe"),
        ({"array": {"arrangement": "manifold", "branches": []}}, "/array/branches"),
        ({"array": {"arrangement": "manifold", "branches": [
            {"loop": "A", "pipe": "PE100", "legs": [{"straight_m": 9}]}]}},
         "/array/branches/0/pipe"),
        ({"duty": {"flow_l_s": 0, "to_ground_temperature_c": -1,
                   "from_ground_temperature_c": 2}, "balancing": {}}, None),
        ({"duty": {**SMALLEST["duty"], "to_ground_temperature_c": -40}},
         "/duty/to_ground_temperature_c"),
    ],
)  # fmt: skip
def test_what_only_a_step_can_tell_is_refused_at_its_place(
    client: FlaskClient, given: Json, change: Json, at: str | None
) -> None:
    answer = post(client, given | change)
    assert answer.status_code == 422, answer.get_json(force=True)
    assert at is None or at in errors_of(answer)


def test_a_sized_array_of_too_many_loops_is_refused_where_it_is_sized() -> None:
    few = create_app(Settings(max_loops=2)).test_client()
    answer = post(few, LOAD_TO_HANDOVER)
    assert answer.status_code == 422
    assert all(pointer.startswith("/sizing") for pointer in errors_of(answer))


def test_a_domestic_design_takes_well_under_a_second(client: FlaskClient, whole: Json) -> None:
    designed(client, whole)  # what is computed once for all
    began = time.perf_counter()
    designed(client, whole)
    assert time.perf_counter() - began < 1.5  # 50 to 100 ms on two cores at rest; others run too
