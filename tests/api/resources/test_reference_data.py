"""What may be named in a request is what the reference data list, and the pages stand alone."""

import re
import subprocess
import sys
from html.parser import HTMLParser

import pytest
from flask.testing import FlaskClient

from tests.api.conftest import Json, Solve

PAGES = ["/v1/reference", "/v1/problems", "/v1/problems/invalid-input"]


def test_every_pipe_listed_may_be_named(client: FlaskClient, solve: Solve, job: Json) -> None:
    pipes = client.get("/v1/pipes").get_json()["pipes"]
    job["array"]["branches"] = [
        {
            "loop": {
                "name": pipe["name"],
                "pipe": pipe["name"],
                "legs": [{"straight": {"length_m": 100}}],
            }
        }
        for pipe in pipes
    ]
    job["duty"]["flow_l_s"] = 40
    assert solve(job).status_code == 200


def test_pipe_sizes_are_those_of_the_standard(client: FlaskClient) -> None:
    # EN 12201-2, SDR 11: 32 x 3.0, 40 x 3.7, 63 x 5.8 mm (from memory).
    pipes = {pipe["name"]: pipe for pipe in client.get("/v1/pipes").get_json()["pipes"]}
    for outside, wall in ((32, 3.0), (40, 3.7), (63, 5.8)):
        pipe = pipes[f"PE100 SDR11 {outside}"]
        assert (pipe["wall_mm"], pipe["bore_mm"]) == (wall, round(outside - 2 * wall, 3))


def test_every_fitting_listed_may_be_named(client: FlaskClient, solve: Solve, job: Json) -> None:
    fittings = client.get("/v1/fittings").get_json()["fittings"]
    job["array"]["branches"][0]["fittings"] = [{"kind": each["kind"]} for each in fittings]
    assert solve(job).status_code == 200


def test_every_antifreeze_listed_may_be_named_over_its_range(client: FlaskClient) -> None:
    kinds = client.get("/v1/antifreezes").get_json()["antifreezes"]
    assert len(kinds) >= 8
    for kind in kinds:
        strengths = [kind["min_concentration_percent"], kind["max_concentration_percent"]]
        body = {"kind": kind["kind"], "basis": "mass", "concentrations_percent": strengths,
                "temperatures_c": [10]}  # fmt: skip
        answer = client.post("/v1/fluid-properties", json=body)
        assert answer.status_code == 200, kind["kind"]
        assert len(answer.get_json()["mixtures"][0]["states"]) == 1


def test_a_hazard_of_an_antifreeze_is_explained(client: FlaskClient) -> None:
    content = client.get("/v1/antifreezes").get_json()
    explained = {each["hazard"] for each in content["hazards"]}
    for kind in content["antifreezes"]:
        assert set(kind["hazards"]) <= explained
    hazards = {kind["kind"]: kind["hazards"] for kind in content["antifreezes"]}
    assert {"toxic", "flammable"} <= set(hazards["methanol"])


def test_water_at_20_degrees_has_the_density_viscosity_and_heat_of_water(
    client: FlaskClient,
) -> None:
    body = {"kind": "water", "basis": "mass", "concentrations_percent": [0],
            "temperatures_c": [20]}  # fmt: skip
    state = client.post("/v1/fluid-properties", json=body).get_json()["mixtures"][0]["states"][0]
    # Water at 20 °C and 1 atm (from memory): 998.2 kg/m³, 1.002 mPa s, 4.184 kJ/(kg K).
    assert state["density_kg_m3"] == pytest.approx(998.2, abs=0.2)
    assert state["viscosity_mpa_s"] == pytest.approx(1.002, rel=0.005)
    assert state["specific_heat_kj_kg_k"] == pytest.approx(4.184, rel=0.002)


def test_a_table_of_states_says_where_the_mixture_is_frozen(client: FlaskClient) -> None:
    body = {"kind": "propylene_glycol", "basis": "volume", "concentrations_percent": [10, 30],
            "temperatures_c": [-10, 0, 10]}  # fmt: skip
    weak, strong = client.post("/v1/fluid-properties", json=body).get_json()["mixtures"]
    assert weak["without_properties_c"] == [-10]
    assert strong["without_properties_c"] == []
    assert [state["temperature_c"] for state in strong["states"]] == [-10, 0, 10]
    viscosity = [state["viscosity_mpa_s"] for state in strong["states"]]
    assert viscosity == sorted(viscosity, reverse=True)


def test_a_single_frozen_state_is_refused_with_the_range(client: FlaskClient) -> None:
    body = {"kind": "propylene_glycol", "basis": "mass", "concentrations_percent": [10],
            "temperatures_c": [-10]}  # fmt: skip
    answer = client.post("/v1/fluid-properties", json=body)
    content = answer.get_json(force=True)
    assert answer.status_code == 422
    assert content["type"] == "/v1/problems/outside-range"
    assert content["errors"][0]["pointer"] == "/temperatures_c/0"


def test_the_index_links_to_addresses_that_answer(client: FlaskClient) -> None:
    links = client.get("/v1").get_json()["links"]
    assert {"/v1/split", "/healthz", "/v1/openapi.json"} <= {link["href"] for link in links}
    for link in links:
        if link["method"] == "GET":
            with client.get(link["href"]) as answer:
                assert answer.status_code == 200


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.addresses: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        found = dict(attrs)
        self.ids += [found["id"] or ""] if "id" in found else []
        self.addresses += [found[name] or "" for name in ("href", "src") if name in found]


@pytest.mark.parametrize("path", PAGES)
def test_a_page_needs_no_script_and_no_other_server(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    page = _Page()
    page.feed(answer.get_data(as_text=True))
    assert "script" not in page.tags
    assert "viewport" in answer.get_data(as_text=True)
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    for address in page.addresses:
        assert re.match(r"^(/|#)", address), address
        if address.startswith("#"):
            assert address[1:] in page.ids, address
        else:
            with client.get(address) as linked:
                assert linked.status_code == 200, address
    assert len(page.ids) == len(set(page.ids))


def test_the_style_names_no_other_server(client: FlaskClient) -> None:
    with client.get("/assets/sheet.css") as answer:
        style = answer.get_data(as_text=True)
    assert "http" not in style
    assert "url(" not in style


def test_the_reference_shows_every_operation_and_every_object(
    client: FlaskClient, contract: Json
) -> None:
    text = client.get("/v1/reference").get_data(as_text=True)
    for path, methods in contract["paths"].items():
        assert path in text
        for operation in methods.values():
            assert f'id="{operation["operationId"]}"' in text
    for name, schema in contract["components"]["schemas"].items():
        if schema["type"] == "object" or "enum" in schema:
            assert f'id="{name}"' in text
        shown = [*schema.get("properties", ()), *schema.get("enum", ())]
        assert all(f"<code>{each}</code>" in text for each in shown)


def test_the_core_imports_neither_the_web_framework_nor_the_schemas() -> None:
    code = (
        "import pkgutil, importlib, sys, hydraulics\n"
        "for m in pkgutil.walk_packages(hydraulics.__path__, 'hydraulics.'):\n"
        "    importlib.import_module(m.name)\n"
        "web = {'flask', 'werkzeug', 'marshmallow', 'apispec', 'jinja2', 'api'}\n"
        "print(sorted(web & set(sys.modules)))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
