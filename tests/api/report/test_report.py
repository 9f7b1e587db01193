"""The report: three forms of one document, with the numbers of the calculations in it."""

import copy
import gc
import hashlib
import io
import json
import re
from functools import lru_cache
from html import unescape
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any, get_args

import pytest
from flask.testing import FlaskClient
from fpdf import FPDF
from matplotlib.figure import Figure
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import ContentStream

import api
from api import create_app
from api.answers.numbers import given, number, short, signed
from api.contract.examples import FOLDER
from api.drawings.render import png_of
from api.report.inputs import options_lines, without_excess
from api.report.parts import degrees, place_words
from api.report.words import day_in_words, plain
from api.settings import Settings
from hydraulics.pumps.running import Control
from tests.api.conftest import Json, errors_of, shared_app
from tests.api.contract.test_document import validator
from tests.api.jobs import DRAWN, slate, tansy

HTML, PDF, JSON = "text/html", "application/pdf", "application/json"
ADDRESSES = {JSON: "/v1/report", HTML: "/v1/report.html", PDF: "/v1/report.pdf"}
WHOLE: Json = json.loads((FOLDER / "examples" / "quince-barn-short-tail.json").read_text("utf-8"))
CHAPTERS = ("sizing", "balancing", "pump_choice", "groundworks", "commissioning")
PLAIN: Json = {
    part: WHOLE[part] for part in ("name", "antifreeze", "plant", "array", "duty", "limits")
}


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return shared_app().test_client()


def write(client: FlaskClient, body: Json, kind: str) -> bytes:
    answer = client.post(ADDRESSES[kind], json=body)
    assert answer.status_code == 200, answer.get_data(as_text=True)[:2000]
    assert answer.mimetype == kind
    written: bytes = answer.data
    return written


def plain_text(text: str) -> str:
    """Text with every run of spaces, of whatever kind, as one."""
    return re.sub(r"\s+", " ", text)


@lru_cache(maxsize=8)
def pages_of(data: bytes) -> tuple[str, ...]:
    """Text of every page of a PDF, with its lines."""
    return tuple(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages)


def pdf_text(data: bytes) -> str:
    return plain_text(" ".join(pages_of(data)))


def tables_of(page: str) -> dict[str, list[dict[str, str]]]:
    """Rows of every table of a page by its caption; cells by their heading, unit included."""

    def cells(row: str) -> list[str]:
        found = re.findall(r"<(t[hd])\b[^>]*>(.*?)</\1>", row, re.DOTALL)
        return [plain_text(unescape(re.sub(r"<[^>]+>", "", text))).strip() for _, text in found]

    found = {}
    for table in re.findall(r"<table>(.*?)</table>", page, re.DOTALL):
        (caption,) = re.findall(r"<caption>(.*?)</caption>", table, re.DOTALL)
        heads, *rows = map(cells, re.findall(r"<tr\b[^>]*>(.*?)</tr>", table, re.DOTALL))
        found[plain_text(unescape(caption))] = [dict(zip(heads, row, strict=True)) for row in rows]
    return found


def table_of(tables: dict[str, list[dict[str, str]]], begin: str) -> list[dict[str, str]]:
    """The one table whose caption begins so."""
    (found,) = [rows for caption, rows in tables.items() if caption.startswith(begin)]
    return found


def read(cell: str) -> float:
    """A number as it is printed."""
    return float(cell.replace(",", "").replace("−", "-"))


class Page(HTMLParser):
    """Elements, attributes and text of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.words: list[str] = []
        self._skip = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        self._skip = tag if tag == "style" else ""

    def handle_endtag(self, tag: str) -> None:
        self._skip = ""

    def handle_data(self, data: str) -> None:
        if not self._skip:
            self.words.append(data)

    @property
    def text(self) -> str:
        return plain_text(" ".join(self.words))


@pytest.fixture(scope="module")
def whole(client: FlaskClient) -> dict[str, bytes]:
    return {kind: write(client, WHOLE, kind) for kind in (JSON, HTML, PDF)}


@pytest.fixture(scope="module")
def decided(client: FlaskClient) -> dict[str, bytes]:
    """With valves put in and a pump chosen."""
    job = copy.deepcopy(WHOLE)
    job["balancing"]["take"] = "regulating_valves"
    job["pump_choice"]["take"] = "Pump 2 with drive (invented)"
    return {kind: write(client, job, kind) for kind in (JSON, HTML, PDF)}


@pytest.fixture(scope="module")
def tables(decided: dict[str, bytes]) -> dict[str, list[dict[str, str]]]:
    return tables_of(decided[HTML].decode("utf-8"))


@pytest.fixture(scope="module")
def printed(client: FlaskClient) -> bytes:
    return write(client, PLAIN, PDF)


def test_a_printed_document_leaves_nothing_of_itself_in_memory(client: FlaskClient) -> None:
    before = gc.get_threshold()
    gc.set_threshold(50_000, 20, 20)  # as the service has it
    try:
        gc.collect()
        write(client, PLAIN, PDF)
        assert not [each for each in gc.get_objects() if isinstance(each, (FPDF, Figure))]
    finally:
        gc.set_threshold(*before)


@pytest.fixture(scope="module")
def texts(whole: dict[str, bytes]) -> dict[str, str]:
    return {HTML: Page(whole[HTML].decode("utf-8")).text, PDF: pdf_text(whole[PDF])}


# ------------------------------------------------------------------------------------ three forms


def test_a_job_with_an_array_and_a_duty_is_enough(client: FlaskClient, printed: bytes) -> None:
    split = client.post("/v1/split", json=PLAIN).get_json()
    content = json.loads(write(client, PLAIN, JSON))
    del split["name"]
    assert content["split"] == split
    assert content["title"] == PLAIN["name"]
    assert not {"report", *CHAPTERS} & set(content)
    text = pdf_text(printed)
    assert PLAIN["name"] in text
    assert "Ways to balance" not in text


def test_the_answer_keeps_the_contract(whole: dict[str, bytes], contract: Json) -> None:
    content = json.loads(whole[JSON])
    validator(contract, "ReportAnswer").validate(content)
    assert set(CHAPTERS) <= set(content)


def test_the_job_can_be_posted_again(client: FlaskClient, whole: dict[str, bytes]) -> None:
    content = json.loads(whole[JSON])
    assert content["job"] == WHOLE  # nothing was decided that the job does not say
    assert json.loads(write(client, content["job"], JSON)) == content


@pytest.mark.parametrize("name", CHAPTERS)
def test_a_chapter_is_what_its_own_address_answers(
    client: FlaskClient, whole: dict[str, bytes], name: str
) -> None:
    own = client.post(f"/v1/{name.replace('_', '-')}", json=WHOLE).get_json()
    chapter = json.loads(whole[JSON])[name]
    assert chapter == {field: own[field] for field in own if field not in ("name", "reference")}


def test_what_is_taken_is_put_in_and_everything_after_it_is_of_the_array_with_it(
    client: FlaskClient, decided: dict[str, bytes]
) -> None:
    content = json.loads(decided[JSON])
    assert {"array", "pump"} <= set(content["job"])
    assert content["job"]["array"] != WHOLE["array"]
    ways = client.post("/v1/balancing", json=WHOLE).get_json()["ways"]
    taken = next(way for way in ways if way["way"] == "regulating_valves")
    assert content["job"]["array"] == taken["decides"]["array"]
    assert content["split"]["pump"]["head_kpa"] == pytest.approx(taken["pump"]["head_kpa"])
    set_at = [each["position"] for each in taken["settings"] if "position" in each]
    assert [each["position"] for each in content["valves"]] == set_at
    running = content["split"]["running"][0]
    meters = content["commissioning"]["flow_meters"]
    for meter, loop in zip(meters, running["loops"], strict=True):
        assert meter["expected_l_min"] == pytest.approx(60 * loop["flow_l_s"], rel=1e-5)
    for text in (Page(decided[HTML].decode("utf-8")).text, pdf_text(decided[PDF])):
        for words in ("regulating valves (3 valves)", "The pump that runs",
                      number(running["power_w"])):  # fmt: skip
            assert words in text, words


def test_the_sheet_for_the_site_says_what_is_put_in_and_its_setting(
    decided: dict[str, bytes],
) -> None:
    content = json.loads(decided[JSON])
    pump = content["job"]["pump"]
    assert content["valves"]
    for text in (Page(decided[HTML].decode("utf-8")).text, pdf_text(decided[PDF])):
        sheet = text[text.rindex("Before filling") : text.rindex("Check by hand")]
        for valve in content["valves"]:
            row = (valve["loop"], valve["valve"], number(valve["kv_m3_h"]),
                   given(valve["position"]))  # fmt: skip
            assert "".join(row).replace(" ", "") in sheet.replace(" ", "")
        assert sheet.count(pump["name"]) == 2  # its setting, and what the meters are read with
        assert f"set to {number(pump['set_head_m'])} m" in sheet


def test_the_pump_that_is_put_in_is_marked_among_those_that_were_judged(
    decided: dict[str, bytes], tables: dict[str, list[dict[str, str]]], whole: dict[str, bytes]
) -> None:
    rows = table_of(tables, "Pumps in order")
    assert [row["Put in"] for row in rows] == ["this one", "", ""]
    assert rows[0]["Pump"].startswith(json.loads(decided[JSON])["job"]["pump"]["name"])
    (unmarked,) = {"Put in" in row for row in
                   table_of(tables_of(whole[HTML].decode("utf-8")), "Pumps in order")}  # fmt: skip
    assert not unmarked


def test_a_way_to_balance_that_brings_an_error_is_not_said_to_reach(client: FlaskClient) -> None:
    # 244 m of loop is no longer than a coil of 180 m by any of the spare pipe of 80 m.
    pipes = [{"name": "PE100 SDR11 32", "coils_m": [180]}]
    job = {**copy.deepcopy(PLAIN), "balancing": {}, "pipes": pipes}
    page = write(client, job, HTML).decode("utf-8")
    told = {row["Way"]: row["Verdict"] for row in table_of(tables_of(page), "Ways to balance")}
    assert (told["Spare pipe"], told["Regulating valves"]) == ("1 error", "reaches")


def test_flows_are_drawn_against_what_was_asked_for(client: FlaskClient) -> None:
    shares = [{"loop": loop, "share": share} for loop, share in (("T1", 2), ("T2", 1), ("T3", 2))]
    job = {
        **PLAIN,
        "balancing": {"target": "shares", "shares": shares, "take": "regulating_valves"},
    }
    content = json.loads(write(client, job, JSON))
    (picture,) = [each for each in content["pictures"] if each["picture"] == "flows"]
    assert content["summary"]["verdict"] == "as_asked"
    # The valves give every loop its share; against even flow T2 would be 40 % short.
    assert "target one for each loop" in picture["text"]
    assert "None is outside" in picture["text"]
    assert "% of the share asked for" in Page(write(client, job, HTML).decode("utf-8")).text


def test_spare_pipe_that_is_put_in_is_told_loop_by_loop(client: FlaskClient) -> None:
    job = {**copy.deepcopy(PLAIN), "balancing": {"take": "spare_pipe", "spare_step_m": 5}}
    content = json.loads(write(client, job, JSON))
    way = next(each for each in content["balancing"]["ways"] if each["way"] == "spare_pipe")
    rows = tables_of(write(client, job, HTML).decode("utf-8"))
    added = table_of(rows, "Pipe to add")
    assert {row["Loop"]: read(row["Length m"]) for row in added} == {
        each["loop"]: each["length_m"] for each in way["spare_pipe"] if each["length_m"] > 0
    }
    before = {"array": job["array"]}
    after = content["job"]
    for index, each in enumerate(way["spare_pipe"]):
        legs = [len(x["array"]["branches"][index]["loop"]["legs"]) for x in (before, after)]
        assert legs[1] == legs[0] + (each["length_m"] > 0)


@pytest.mark.parametrize("name", ["quince-barn-from-load", "slate-row-from-load"])
def test_a_job_of_load_and_sizing_is_written_of_the_array_as_sized(
    client: FlaskClient, name: str
) -> None:
    job = json.loads((FOLDER / "examples" / f"{name}.json").read_text("utf-8"))
    assert not {"array", "duty"} & set(job)
    content = json.loads(write(client, job, JSON))
    design = client.post("/v1/designs", json=job).get_json()
    # The document's own job holds what the design decides, and is written alike.
    assert content["job"]["array"] == design["decides"]["array"]
    assert content["split"]["pump"] == design["split"]["pump"]
    assert content["sizing"] == design["sizing"]
    again = json.loads(write(client, content["job"], JSON))
    assert again["split"]["pump"]["head_kpa"] == pytest.approx(content["split"]["pump"]["head_kpa"])
    text = Page(write(client, job, HTML).decode("utf-8")).text
    assert "The array of this document is the one that is proposed here." in text
    assert pdf_text(write(client, job, PDF)).count("Size of the array")


def test_less_load_is_told_where_that_is_what_needs_more(client: FlaskClient) -> None:
    """Much recharge against an upper limit: what is drawn makes room for it."""
    job = json.loads((FOLDER / "examples" / "quarry-lane-both-seasons.json").read_text())
    del job["heat"]["cooling"]
    back = [0, 0, 2000, 6000, 9000, 11000, 12000, 11000, 6000, 2000, 0, 0]
    job["heat"] |= {"recharge_kwh": back, "peak_months": [11, 12, 1, 2]}
    job["limits"]["max_from_ground_c"] = 20
    page = write(client, {**job, "report": {}}, "text/html").decode()
    rows = {row["Were"]: row for row in table_of(tables_of(page), "How sure the length is")}
    assert "the load 10 % less" in rows
    assert "the load 10 % more" not in rows


def test_trenches_that_are_drawn_are_not_said_to_be_those_proposed(client: FlaskClient) -> None:
    job = copy.deepcopy(DRAWN)
    job["plot"]["trenches"] = [
        {"loop": f"T{n}", "points": [{"x_m": 10, "y_m": 5 * n}, {"x_m": 70, "y_m": 5 * n}]}
        for n in (1, 2, 3, 4)
    ]
    text = Page(write(client, job, HTML).decode("utf-8")).text
    assert "The array of this document is the one that is proposed here." not in text
    assert "The array of this document has 240.0 m of trench, as its trenches are drawn" in text


def test_a_chapter_that_is_not_asked_for_is_not_there(client: FlaskClient) -> None:
    content = json.loads(write(client, {**PLAIN, "balancing": {}}, JSON))
    assert "balancing" in content
    assert not {"pump_choice", "groundworks", "commissioning", "sizing"} & set(content)


def test_another_media_type_is_refused_by_name(client: FlaskClient) -> None:
    answer = client.post("/v1/report.pdf", json=PLAIN, headers={"Accept": "text/csv"})
    assert answer.status_code == 406
    assert answer.mimetype == "application/problem+json"
    assert "application/pdf" in answer.get_data(as_text=True)


@pytest.mark.parametrize("kind", [HTML, PDF])
def test_an_error_is_a_problem_whatever_was_asked_for(client: FlaskClient, kind: str) -> None:
    answer = client.post(ADDRESSES[kind], json={})
    assert answer.status_code == 422
    assert answer.mimetype == "application/problem+json"
    assert {"/antifreeze", "/array", "/duty"} <= set(errors_of(answer))


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"balancing": {"target": "shares"}}, "/balancing/shares"),
        ({"balancing": {"target": "shares", "shares": [{"loop": "T9", "share": 1}]}},
         "/balancing/shares"),
        ({"plant": {"run_h": -1}}, "/plant/run_h"),
        ({"pump_choice": {}}, "/pump_choice"),
        ({"groundworks": {}, "ground": {"soil": "clay"}}, "/groundworks/trench"),
        ({"commissioning": {"filling": {"filling_c": -60}}}, "/commissioning/filling/filling_c"),
    ],
)  # fmt: skip
def test_a_fault_in_a_chapter_is_told_by_its_place_in_the_job(
    client: FlaskClient, changed: Json, pointer: str
) -> None:
    answer = client.post("/v1/report", json={**PLAIN, **changed})
    assert answer.status_code == 422
    assert any(each.startswith(pointer) for each in errors_of(answer)), answer.get_json(force=True)


def test_a_fault_of_the_array_is_told_once_whatever_chapters_there_are(client: FlaskClient) -> None:
    body = copy.deepcopy(WHOLE)
    body["array"]["branches"][1]["loop"]["pipe"] = "copper 15"
    answer = client.post("/v1/report", json=body)
    assert list(errors_of(answer)) == ["/array/branches/1/loop/pipe"]


def test_equal_requests_give_equal_documents(client: FlaskClient, printed: bytes) -> None:
    assert write(client, PLAIN, PDF) == printed
    assert write(client, PLAIN, HTML) == write(client, PLAIN, HTML)


# ------------------------------------------------------------------------------------------ numbers


def test_numbers_of_the_documents_are_those_of_the_flow_split(
    whole: dict[str, bytes], texts: dict[str, str]
) -> None:
    split = json.loads(whole[JSON])["split"]
    duty = split["pump"]
    expected = [
        f"{number(duty['flow_l_s'])} L/s", f"{number(duty['head_m'])} m of the mixture",
        f"{number(duty['head_kpa'])} kPa", f"{number(duty['hydraulic_power_w'])} W",
    ]  # fmt: skip
    for loop in split["loops"]:
        expected += [
            loop["loop"], number(loop["flow_l_s"]), signed(loop["deviation_percent"]),
            number(loop["drop_kpa"]), number(loop["drops"]["coil_drop_kpa"]),
            number(round(loop["reynolds"])),
        ]  # fmt: skip
    for kind, text in texts.items():
        for each in expected:
            assert each in text, (kind, each)


def test_numbers_of_the_chapters_are_in_the_documents(
    whole: dict[str, bytes], texts: dict[str, str]
) -> None:
    content = json.loads(whole[JSON])
    valves = next(w for w in content["balancing"]["ways"] if w["way"] == "regulating_valves")
    expected = [
        number(content["sizing"]["length_m"]),
        *(number(each["kv_m3_h"]) for each in valves["settings"] if "kv_m3_h" in each),
        number(valves["pump"]["head_m"]),
        *(number(p["energy_kwh"]) for p in content["pump_choice"]["pumps"]),
        number(content["groundworks"]["total"]["dug_m3"]),
        number(content["commissioning"]["filling"]["antifreeze_kg"]),
        *(number(m["expected_l_min"], 3) for m in content["commissioning"]["flow_meters"]),
        *(s["instruction"] for s in content["commissioning"]["pressure_test"]["stages"]),
    ]
    for kind, text in texts.items():
        packed = text.replace(" ", "")
        for each in expected:
            assert each.replace(" ", "") in packed, (kind, each)


PRINTED: dict[str, tuple[str, dict[str, str]]] = {
    "The mixture where it is": (
        "split.fluid.to_ground split.fluid.in_loops split.fluid.from_ground", {
        "Temperature °C": "temperature_c", "Density kg/m³": "density_kg_m3",
        "Viscosity mPa·s": "viscosity_mpa_s", "Specific heat kJ/(kg·K)": "specific_heat_kj_kg_k",
        "Conductivity W/(m·K)": "conductivity_w_m_k", "Freezes at °C": "freezing_point_c"}),
    "Ways to balance, each": ("balancing.ways", {
        "Spread %": "spread_percent", "Head m": "pump.head_m", "Power W": "power_change_w",
        "Energy kWh/a": "energy_change_kwh"}),
    "Digging.": ("groundworks.loop_trenches groundworks.header_trench groundworks.total", {
        "Length m": "length_m", "Dug m³": "dug_m3", "Heaped m³": "heaped_m3",
        "Bedding m³": "bedding_m3", "Backfill m³": "backfill_m3", "Spoil m³": "spoil_m3",
        "Spoil, loose m³": "spoil_loose_m3"}),
    "Steps, in order": ("commissioning.purge.steps", {
        "Times": "count", "Flow L/s": "flow_l_s", "Pressure kPa": "pressure_kpa",
        "Head m": "head_m", "Slowest m/s": "min_velocity_m_s", "Fastest m/s": "max_velocity_m_s",
        "At least min": "time_min"}),
    "Flow of every loop with the pump": ("split.running.0.loops", {
        "Flow L/s": "flow_l_s", "Deviation %": "deviation_percent"}),
    "Flow of every loop at the duty": ("split.loops", {
        "Pipe m": "length_m", "Flow L/s": "flow_l_s", "Deviation %": "deviation_percent",
        "Velocity m/s": "velocity_m_s", "Re": "reynolds"}),
    "Where the pressure of every loop goes": ("split.loops", {
        "Straight kPa": "drops.straight_drop_kpa", "Coils kPa": "drops.coil_drop_kpa",
        "Fittings kPa": "drops.fittings_drop_kpa", "Way kPa": "drops.headers_drop_kpa",
        "Loop kPa": "drop_kpa", "Path kPa": "path_drop_kpa"}),
    "What the pump drives": ("split.running", {
        "Flow L/s": "flow_l_s", "Head m": "head_m", "Power W": "power_w",
        "Speed 1/min": "speed_rpm", "Energy kWh/a": "energy_kwh",
        "Change K": "temperature_change_k",
        "Spread %": "spread_percent"}),
    "System curve:": ("split.system_curve", {
        "Flow L/s": "flow_l_s", "Head m": "head_m", "Pressure kPa": "head_kpa",
        "Spread %": "spread_percent"}),
    "Regulating valves of the array": ("valves", {"Kv m³/h": "kv_m3_h", "Position": "position"}),
    "Coldest brine of each month": ("sizing.by_month", {
        "Month": "month", "From ground °C": "from_ground_c", "To ground °C": "to_ground_c"}),
    "Setting of every loop's valve": ("balancing.ways.0.settings", {
        "K": "loss_coefficient", "Drop kPa": "drop_kpa", "Authority %": "authority_percent"}),
    "Conditions that every pump": ("pump_choice.conditions", {
        "To ground °C": "to_ground_c", "From ground °C": "from_ground_c",
        "Density kg/m³": "fluid.density_kg_m3", "Viscosity mm²/s": "kinematic_viscosity_mm2_s",
        "Head at duty m": "duty_head_m", "Hours h/a": "run_h"}),
    "Pumps in order": ("pump_choice.pumps", {
        "Flow L/s": "conditions.0.flow_l_s", "Head m": "conditions.0.head_m",
        "Power W": "conditions.0.power_w", "Energy kWh/a": "energy_kwh"}),
    "Bill of quantities": ("groundworks.bill.items", {"Quantity": "quantity"}),
    "What every loop's meter": ("commissioning.flow_meters", {
        "Expected L/min": "expected_l_min"}),
    "Stages.": ("commissioning.pressure_test.stages", {
        "Above kPa": "min_pressure_kpa", "Below kPa": "max_pressure_kpa"}),
    "Pipes of loop": ("hand_check.pipes", {
        "L m": "length_m", "d mm": "bore_mm", "ρ kg/m³": "density_kg_m3",
        "μ mPa·s": "viscosity_mpa_s", "v m/s": "velocity_m_s", "Re": "reynolds",
        "f": "friction_factor", "Δp kPa": "drop_kpa"}),
}  # fmt: skip
"""Tables by how their captions begin: whence their rows come, and their columns."""


FACTS: dict[str, str] = {
    "Mass flow": "split.pump.mass_flow_kg_s",
    "Pressure": "split.pump.head_kpa",
    "of it the array": "split.pump.drops.array_drop_kpa",
    "of it routes and fittings of the plant": "split.pump.drops.runs_drop_kpa",
    "of it the heat exchanger": "split.pump.drops.heat_exchanger_drop_kpa",
    "Hydraulic power": "split.pump.hydraulic_power_w",
    "Heat from the ground": "split.pump.heat_kw",
    "Proposed": "sizing.loop_count sizing.each_loop.length_m sizing.length_m",
    "Pipe": "sizing.each_loop.pipe_m sizing.pipe_m",
    "From each metre of trench": "sizing.extraction.peak_w_m sizing.extraction.annual_kwh_m",
    "Coldest brine in the life of the array": "sizing.min_from_ground_c sizing.min_to_ground_c",
    "Limit on the brine from the ground, and margin":
        "sizing.from_ground_limit_c sizing.from_ground_margin_k",
    "A loop at the peak":
        "sizing.each_loop.flow_l_s sizing.each_loop.reynolds sizing.each_loop.drop_kpa",
    "Spread as it is": "balancing.before.imbalance.spread_percent",
    "Pump as it is": "balancing.before.pump.head_m balancing.before.pump.energy_kwh",
    "Heat as it is": "balancing.heat_cost.heat_as_it_is_w",
    "Heat at the target flows": "balancing.heat_cost.heat_at_target_w",
    "Heat lost": "balancing.heat_cost.heat_lost_w balancing.heat_cost.heat_lost_percent",
    "Brine from the ground, mixed, as it is": "balancing.heat_cost.from_ground_c",
    "Brine from the ground, mixed, at the target": "balancing.heat_cost.from_ground_at_target_c",
    "Head that it takes, cold": "pump_choice.pump.head_m",
    "It gives": "split.running.0.flow_l_s split.running.0.head_m",
    "Mixture to make up":
        "commissioning.filling.volume_l commissioning.filling.mixture_kg "
        "commissioning.filling.filling_c",
    "Water to it": "commissioning.filling.water_l commissioning.filling.water_kg",
    "Freezing point": "commissioning.filling.freezing_point_c",
    "A hydrometer should show": "commissioning.filling.density_kg_m3",
    "Purge pump for all steps":
        "commissioning.purge.max_flow_l_s commissioning.purge.max_pressure_kpa",
    "Open tank, at least": "commissioning.purge.min_tank_l",
    "Time in all, at least": "commissioning.purge.time_min",
    "Water that may be drawn off in letting down":
        "commissioning.pressure_test.min_drawn_off_l commissioning.pressure_test.max_drawn_off_l",
    "Smallest nominal volume":
        "commissioning.vessel.volume_l commissioning.vessel.filling_pressure_kpa",
    "Gas pressure of the empty vessel": "commissioning.vessel.precharge_pressure_kpa",
    "Fill that to": "commissioning.vessel.sold_filling_pressure_kpa",
    "Vessel to buy": "commissioning.vessel.sold_volume_l",
    "Expansion, contraction with rigid or free pipe, whichever is more":
        "commissioning.vessel.expansion_free_pipe_l commissioning.vessel.contraction_free_pipe_l",
    "Least gas pressure for the height": "commissioning.vessel.min_precharge_pressure_kpa",
    "Least at the highest point": "commissioning.vessel.min_pressure_at_top_kpa",
    "Most at the lowest pipe, a safety valve at its set pressure, pump included":
        "commissioning.vessel.max_pressure_at_bottom_kpa",
    "At the lowest pipe it makes": "commissioning.pressure_test.test_pressure_at_bottom_kpa",
    "Design pressure at the lowest pipe, and at the gauge":
        "commissioning.pressure_test.design_pressure_kpa "
        "commissioning.pressure_test.design_pressure_at_gauge_kpa",
    "Most that every pipe of known class bears, at the gauge": (
        "commissioning.pressure_test.max_at_gauge_kpa"
    ),
    "Lowest pipe": "commissioning.heights.min_pipe_level_m",
    "Highest pressure at the vessel": "commissioning.vessel.max_pressure_kpa",
    "Expansion, contraction, reserve":
        "commissioning.vessel.expansion_l commissioning.vessel.contraction_l "
        "commissioning.vessel.reserve_l",
    "Headers, routes, valves and fittings on the way to it": "hand_check.headers_drop_kpa",
    "Fittings of the plant": "hand_check.fittings_drop_kpa",
    "Pressure of the pump, their sum": "hand_check.head_kpa",
}  # fmt: skip
"""Facts by their names: whence their numbers come, in order."""


def at(content: Any, path: str) -> Any:
    """What a path of names and numbers leads to; None where there is nothing."""
    for name in path.split("."):
        content = content[int(name)] if name.isdigit() else (content or {}).get(name)
    return content


def is_printed(cell: str, value: float) -> bool:
    """Whether a number is this value, rounded to the places that are printed."""
    _, _, places = cell.partition(".")
    return abs(read(cell) - value) <= 0.51 * 10.0 ** -len(places)


@pytest.mark.parametrize("begin", PRINTED)
def test_every_column_prints_what_its_heading_says(
    decided: dict[str, bytes], tables: dict[str, list[dict[str, str]]], begin: str
) -> None:
    paths, columns = PRINTED[begin]
    found = [at(json.loads(decided[JSON]), path) for path in paths.split()]
    items = [item for each in found for item in (each if isinstance(each, list) else [each])]
    for row, item in zip(table_of(tables, begin), items, strict=True):
        for heading, field in columns.items():
            value = at(item, field)
            fits = row[heading] == "—" if value is None else is_printed(row[heading], value)
            assert fits, (heading, row, value)


def test_what_each_pump_may_come_to_is_printed_for_every_condition(client: FlaskClient) -> None:
    points = [
        {"flow_l_s": q, "head_m": h, "power_w": p, "npsh_m": n}
        for q, h, p, n in ((0, 9, 90, 1.5), (0.4, 8, 110, 2), (0.8, 6, 125, 3), (1.4, 1, 130, 5))
    ]  # fmt: skip
    body = {
        **PLAIN,
        "warm": {"to_ground_c": 8, "from_ground_c": 11, "hours_percent": 50},
        "pump_choice": {
            "candidates": [{"name": "Q", "tables": [{"speed_rpm": 2800, "points": points}]}],
            "use_invented_pumps": True,
        },
    }
    pumps = json.loads(write(client, body, JSON))["pump_choice"]["pumps"]
    runs = [each for pump in pumps for each in pump["conditions"] if "flow_l_s" in each]
    assert sum("min_inlet_kpa" in each for each in runs) == 2
    tables = tables_of(write(client, body, HTML).decode("utf-8"))
    for row, each in zip(table_of(tables, "What each pump may come to"), runs, strict=True):
        assert row["Condition"] == each["condition"]
        for heading, field in {
            "Least flow L/s": "min_flow_l_s", "Most flow L/s": "max_flow_l_s",
            "Of best flow %": "of_best_flow_percent", "Most power W": "max_power_w",
            "Inlet needs kPa": "min_inlet_kpa",
        }.items():  # fmt: skip
            if field in each:
                assert is_printed(row[heading], each[field])
            else:
                assert row[heading] == "—"


def test_every_stretch_of_header_is_printed_with_its_pipe_flow_and_drop(
    client: FlaskClient,
) -> None:
    loops = [
        {"header_m": 10 + n, "loop": {"name": f"T{n}", "pipe": "PE100 SDR11 32",
                                      "legs": [{"straight": {"length_m": 120}}]}}
        for n in range(3)
    ]  # fmt: skip
    body = {
        "antifreeze": PLAIN["antifreeze"],
        "duty": {"flow_l_s": 0.6, "to_ground_c": -1, "from_ground_c": 2},
        "array": {
            "arrangement": "reverse_return", "header_pipe": "PE100 SDR11 50", "closing_m": 33,
            "branches": loops,
        },
    }  # fmt: skip
    listed = json.loads(write(client, body, JSON))["split"]["headers"]
    # Three stretches out, two beside the second and third, and the closing run.
    assert [each["line"] for each in listed] == ["flow"] * 3 + ["return"] * 2 + ["closing"]
    assert sum(each["length_m"] for each in listed) == 10 + 11 + 12 + 11 + 12 + 33
    tables = tables_of(write(client, body, HTML).decode("utf-8"))
    for row, each in zip(table_of(tables, "Headers stretch by stretch"), listed, strict=True):
        assert (row["Branch"], row["Line"], row["Pipe"]) == (
            each["branch"], each["line"], each["pipe"])  # fmt: skip
        for heading, field in {
            "Length m": "length_m", "Flow L/s": "flow_l_s", "Velocity m/s": "velocity_m_s",
            "Drop kPa": "drop_kpa",
        }.items():  # fmt: skip
            assert is_printed(row[heading], each[field])


@pytest.mark.parametrize("name", FACTS)
def test_every_fact_prints_what_its_name_says(decided: dict[str, bytes], name: str) -> None:
    content = json.loads(decided[JSON])
    facts = re.findall(r"<dt[^>]*>(.*?)</dt><dd[^>]*>(.*?)</dd>", decided[HTML].decode("utf-8"))
    texts = [unescape(text) for said, text in facts if unescape(said) == name]
    values = [at(content, path) for path in FACTS[name].split()]
    told = [re.findall(r"(?<![\w.])−?\d[\d,]*(?:\.\d+)?", text) for text in texts]
    assert any(
        len(numbers) >= len(values) and all(map(is_printed, numbers, values)) for numbers in told
    ), (texts, values)


def test_an_array_sized_by_warm_brine_tells_that_limit_its_margin_and_its_peak(
    client: FlaskClient,
) -> None:
    job = json.loads((FOLDER / "examples" / "quarry-lane-both-seasons.json").read_text("utf-8"))
    job["limits"] |= {"max_from_ground_c": 20}
    content = json.loads(write(client, job, JSON))["sizing"]
    # No more than whole metres of bore make of it.
    assert content["limiting_load"]["limit"] == "upper"
    assert 0.0 <= content["max_from_ground_margin_k"] < 0.1 < content["from_ground_margin_k"]
    page = write(client, job, HTML).decode("utf-8")
    facts = {
        unescape(name): unescape(told)
        for name, told in re.findall(r"<dt[^>]*>(.*?)</dt><dd[^>]*>(.*?)</dd>", page)
    }
    assert "22.00 kW at the peak" in facts["Heat into the ground"]
    assert facts["Limit on the warmest brine from the ground, and margin"].startswith("20 °C, 0.0")
    assert facts["Limit on the coldest brine from the ground, and margin"].startswith("0 °C, ")
    assert facts["Limit that governs"].startswith("that on the warmest brine, in month ")
    rows = table_of(tables_of(page), "Coldest and warmest brine of each month")
    warmest = max(read(row["Warmest from ground °C"]) for row in rows)
    assert warmest == pytest.approx(content["max_from_ground_c"], rel=5e-3)  # three digits
    assert "Limit that governs" in pdf_text(write(client, job, PDF))


def test_recharge_without_cooling_has_no_peak_and_is_told_in_every_form(
    client: FlaskClient,
) -> None:
    job = json.loads((FOLDER / "examples" / "slate-row-from-load.json").read_text("utf-8"))
    job["heat"] |= {"recharge_kwh": [100] * 12}
    draw = json.loads(write(client, job, JSON))["sizing"]["ground_draw"]
    assert draw["annual_return_kwh"] == pytest.approx(1200.0)
    assert "cooling_peak_kw" not in draw
    assert "Heat into the ground 1,200 kWh/a" in pdf_text(write(client, job, PDF))
    page = unescape(write(client, job, HTML).decode("utf-8"))
    assert re.search(r"Heat into the ground</dt><dd[^>]*>1,200\WkWh/a</dd>", page)


def test_months_years_meters_and_stages_are_as_they_must_be(
    decided: dict[str, bytes], tables: dict[str, list[dict[str, str]]]
) -> None:
    content = json.loads(decided[JSON])
    # Heat is taken out of the ground: brine comes back warmer than it went.
    for begin in ("Coldest brine of each month", "Coldest brine of some years"):
        for row in table_of(tables, begin):
            assert read(row["From ground °C"]) > read(row["To ground °C"])
    for row in table_of(tables, "What every loop's meter should show"):
        told = [read(row[name]) for name in ("At least L/min", "Expected L/min", "At most L/min")]
        assert told == sorted(set(told))
    meters = content["commissioning"]["flow_meters"]
    for row, meter in zip(table_of(tables, "What every loop's meter"), meters, strict=True):
        # As written, in three digits, a limit is within the band and next to its end.
        least, most = read(row["At least L/min"]), read(row["At most L/min"])
        assert meter["min_flow_l_min"] <= least <= meter["min_flow_l_min"] * 1.01
        assert meter["max_flow_l_min"] * 0.99 <= most <= meter["max_flow_l_min"]
    stages = content["commissioning"]["pressure_test"]["stages"]
    for row, stage in zip(table_of(tables, "Stages."), stages, strict=True):
        # EN 805, A.27 (from memory): pressure is brought up and let down in at most, and rests
        # and is held for at least, the time told.
        sign, minutes = row["Time min"].split()
        assert (sign == "≤") == (stage["stage"] in ("pressurising", "letting_down"))
        assert read(minutes) == pytest.approx(stage["duration_min"], rel=6e-3)
    # Two minutes: DVGW W 400-2 (2022), where EN 805 says no more than rapidly.
    assert [s["duration_min"] for s in stages if s["stage"] == "letting_down"] == [2]


def test_every_row_of_the_page_stands_in_the_pdf_too(
    decided: dict[str, bytes], tables: dict[str, list[dict[str, str]]]
) -> None:
    packed = re.sub(r"\s", "", pdf_text(decided[PDF]))
    rows = [row.values() for each in tables.values() for row in each]
    narrow = [row for row in rows if all(len(cell) < 10 for cell in row)]  # on one line in print
    # Short tables of numbers are laid on their side in print.
    columns = {
        caption: list(zip(*(row.values() for row in each), strict=True))
        for caption, each in tables.items()
    }
    laid = {
        "".join(row.values())
        for caption, each in tables.items()
        if all(re.sub(r"\s", "", "".join(column)) in packed for column in columns[caption])
        for row in each
    }
    assert len(narrow) > 60
    for row in narrow:
        assert "".join(row) in laid or re.sub(r"\s", "", "".join(row)) in packed, row


def test_no_pointer_stands_in_the_documents(decided: dict[str, bytes]) -> None:
    content = json.loads(decided[JSON])
    assert any("where" in each for each in content["split"]["findings"])
    for text in (Page(decided[HTML].decode("utf-8")).text, pdf_text(decided[PDF])):
        assert "/branches/" not in text
        assert "Concerns loop T2." in text


def test_a_place_in_an_array_is_told_by_its_loop_s_whole_name() -> None:
    loops = {"branches": [{"loop": {"name": "1"}}, {"loop": {"name": "2"}}]}
    circuits = [{"circuit": {**loops, "name": "N"}}, {"circuit": loops}, {"loop": {"name": "2"}}]
    answer = {"job": {"array": {"name": "all", "branches": circuits}}}
    told = [
        place_words(answer, f"/array/branches/{each}")
        for each in ("0/circuit/branches/1", "1/circuit/branches/1", "2", "0", "1")
    ]
    assert told == ["loop N/2", "loop 2", "loop 2", "N", "branch 2"]


def test_numbers_are_written_as_people_read_them() -> None:
    # By hand, to four significant digits.
    assert [number(x) for x in (0.60562, 12345.6, -3.5, 0.0, 7, 0.00012346)] == [
        "0.6056", "12,346", "−3.500", "0", "7", "0.0001235",
    ]  # fmt: skip
    assert [number(1e-9, 2), number(2.5e12, 2)] == ["1.0 × 10⁻⁹", "2.5 × 10¹²"]
    assert [given(x) for x in (25, 1.0, 0.0015, -3.5, 1200.5)] == [
        "25", "1", "0.0015", "−3.5", "1,200.5",
    ]  # fmt: skip
    assert [signed(x) for x in (0.04, -5.39, 10.78)] == ["0.0", "−5.4", "+10.8"]
    # Temperatures of one table to the same place: formerly −3.00 stood beside 0 and 0.0257.
    assert [degrees(x) for x in (-3.0, 0.0, 0.0256924, -0.001, 9.996, -13.27)] == [
        "−3.00", "0.00", "0.03", "0.00", "10.0", "−13.3",
    ]  # fmt: skip


def test_the_hand_check_makes_the_drop_of_its_loop(whole: dict[str, bytes]) -> None:
    # Darcy-Weisbach with the numbers that are printed, nothing else.
    content = json.loads(whole[JSON])
    made = content["hand_check"]
    total = 0.0
    for pipe in made["pipes"]:
        drop = pipe["friction_factor"] * pipe["length_m"] / (pipe["bore_mm"] / 1e3)
        drop *= pipe["density_kg_m3"] * pipe["velocity_m_s"] ** 2 / 2 / 1e3
        assert drop == pytest.approx(pipe["drop_kpa"], rel=1e-4)
        total += drop
    port = made["fittings"]
    total += (
        (port["low_reynolds_coefficient"] / port["reynolds"] + port["loss_coefficient"])
        * port["density_kg_m3"] * port["velocity_m_s"] ** 2 / 2 / 1e3
    )  # fmt: skip
    loop = next(x for x in content["split"]["loops"] if x["loop"] == made["loop"])
    assert total == pytest.approx(loop["drop_kpa"], rel=1e-4)
    head = (
        made["loop_drop_kpa"] + made["headers_drop_kpa"] + made["fittings_drop_kpa"]
        + made["heat_exchanger_drop_kpa"] + sum(pipe["drop_kpa"] for pipe in made["runs"])
    )  # fmt: skip
    assert head == pytest.approx(content["split"]["pump"]["head_kpa"], rel=1e-5)


@pytest.mark.parametrize("job", [tansy(), slate()], ids=lambda job: job["name"])
def test_every_field_of_a_job_is_printed_as_it_was_used(client: FlaskClient, job: Json) -> None:
    job = {name: value for name, value in job.items() if name != "format"}
    decided: Json = {}
    if "array" not in job:
        decided = client.post("/v1/sizing", json=job).get_json()["decides"]
        job |= decided
    text = Page(write(client, job, HTML).decode("utf-8")).text
    missing = []

    def walk(value: Any, name: str = "") -> None:
        if isinstance(value, dict):
            for key, item in value.items():
                walk(item, key)
        elif isinstance(value, list):
            for item in value:
                walk(item, name)
        elif isinstance(value, bool) or name == "u_tubes":
            return
        elif name != "name" and isinstance(value, str) and "_" in value:
            if plain(value) not in text:
                missing.append((name, value))
        elif (
            day_in_words(value)
            if name == "date"
            else value
            if isinstance(value, str)
            else given(value)
        ) not in text:
            missing.append((name, value))

    walk(without_excess(job, [{"decides": decided}]))
    assert missing == []


def test_the_inputs_of_the_chapters_are_printed_too(texts: dict[str, str]) -> None:
    for words in ("DN 25 balancing valve (invented)", "Pump 2 with drive (invented)", "8.9", "98",
                  "clay", "Design pressure", "Safety valve", "2.5 m", "1,800", "Spacing",
                  "150, 200", "pump runs"):  # fmt: skip
        for kind, text in texts.items():
            assert words.lower() in text.lower(), (kind, words)


def test_one_of_a_list_is_called_in_the_singular() -> None:
    trench = {"loop": "T1", "points": [{"x_m": 0, "y_m": 0}, {"x_m": 30, "y_m": 0}]}
    chamber = {"name": "C1", "levels": [{"level_m": 3}]}
    told = options_lines({"trenches": [trench], "chambers": [chamber]})
    assert [line.split(":")[0] for line in told] == ["Trench 1", "Chamber 1"]


# ------------------------------------------------------------------------------------ what is said


def test_the_verdict_and_the_cautions_are_on_the_first_page(whole: dict[str, bytes]) -> None:
    content = json.loads(whole[JSON])
    first = plain_text(pages_of(whole[PDF])[0])
    # The array is far too small for its load: that leads, and what the split is follows.
    assert content["summary"]["verdict"] == "error"
    assert content["summary"]["headline"] in first
    assert "90 m of trench" in content["summary"]["headline"]
    assert content["summary"]["sentences"][0].startswith("The split is uneven: 1 of 3 loops")
    assert "Cautions" in first
    assert content["cautions"][0] in first


def test_every_caution_and_finding_of_every_chapter_is_in_the_documents(
    whole: dict[str, bytes], texts: dict[str, str]
) -> None:
    content = json.loads(whole[JSON])
    told = list(content["cautions"])
    for part in (content["split"], *(content[c] for c in CHAPTERS)):
        assert set(part["cautions"]) <= set(content["cautions"])
        told += [finding["message"] for finding in part["findings"]]
    for kind, text in texts.items():
        packed = text.replace(" ", "")
        for each in told:
            assert in_print(each).replace(" ", "") in packed, (kind, each)


def in_print(message: str) -> str:
    """A message with a true minus, and its powers of ten written out."""
    digits = re.sub(r"[\d.]+e[+-]\d+", lambda found: f"{float(found[0]):,.0f}", message)
    return re.sub(r"(^|[ (])-(?=\d)", r"\1−", digits)


def test_the_first_page_counts_what_every_chapter_found_and_leads_with_the_gravest(
    client: FlaskClient, whole: dict[str, bytes]
) -> None:
    job = copy.deepcopy(WHOLE)
    job["plot"] = {"length_m": 12, "width_m": 9}  # smaller than the array: an error of the digging
    content = json.loads(write(client, job, JSON))
    found = {
        (each["code"], each.get("where"), each["message"]): each["severity"]
        for part in (content["split"], content, *(content[c] for c in CHAPTERS))
        for each in part["findings"]
    }
    errors, warnings = (list(found.values()).count(kind) for kind in ("error", "warning"))
    assert errors
    assert not [x for x in content["split"]["findings"] if x["severity"] == "error"]
    page = Page(write(client, job, HTML).decode("utf-8")).text
    first = plain_text(pages_of(write(client, job, PDF))[0])
    (worst, *_) = [message for (_, _, message), kind in found.items() if kind == "error"]
    for text in (page, first):
        assert f"{errors} error{'s' * (errors != 1)} and {warnings} warnings in this" in text
        assert in_print(worst).replace(" ", "") in text.replace(" ", "")
        assert text.index("in this document") < text.index("Cautions")
    assert page.index(in_print(worst)[:40]) < page.index("Cautions")


def test_one_sign_is_a_minus_and_no_number_has_more_digits_than_are_known(
    client: FlaskClient, texts: dict[str, str]
) -> None:
    job = copy.deepcopy(PLAIN)
    # A valve as a calculation decides it, to the twelve digits that going on with it takes.
    job["array"]["branches"][0]["fittings"] = [
        {"kv_m3_h": 3.80070912345, "valve": "a valve (invented)"}
    ]
    written = Page(write(client, job, HTML).decode("utf-8")).text
    assert "Kv 3.801 m³/h" in written
    for text in (*texts.values(), written):
        assert not re.findall(r"[ (]-\d[\d.]* ?(?:°C|K|%|kPa|W)", text)
        assert not re.findall(r"\d%", text)
        assert not re.findall(r"\de[+-]\d", text)
        assert not re.findall(r"\d\.\d{7,}", text)
        assert not re.findall(r"0\.000\d+ %", text)
        assert not re.findall(r"\b(?:W/m2|kg/m3)\b", text)
        assert not re.findall(r"0\.0\d{4,} °C", text)


def test_like_loops_differ_by_nothing_in_print(client: FlaskClient) -> None:
    job = copy.deepcopy(PLAIN)
    branches = job["array"]["branches"]
    # Loops that differ by a hair: their spread is some 0.00005 %, far below what is known.
    branches[:] = [copy.deepcopy(branches[0]) for _ in range(3)]
    for index, branch in enumerate(branches):
        branch["loop"]["name"] = f"T{index + 1}"
        branch["loop"]["legs"][0]["straight"]["length_m"] *= 1 + 1e-6 * index
    spread = json.loads(write(client, job, JSON))["split"]["imbalance"]["spread_percent"]
    assert 0 < spread < 1e-3
    assert "Spread of flow 0 %" in Page(write(client, job, HTML).decode("utf-8")).text


def test_page_and_print_bear_the_one_mark_of_the_service(
    client: FlaskClient, whole: dict[str, bytes]
) -> None:
    mark = (Path(api.__file__).parent / "pages" / "assets" / "mark.svg").read_text("utf-8").strip()
    pages = [client.get(path).get_data(as_text=True) for path in ("/", "/v1/problems")]
    for page in (*pages, whole[HTML].decode("utf-8")):
        assert page.count(mark) == 1
        assert page.count('class="mark"') == 1
    assert "<circle" not in mark
    with client.get("/assets/mark.svg") as answer:
        assert answer.get_data(as_text=True).strip() == mark
    assert all('href="/assets/mark.svg"' in page for page in pages)


def test_an_even_array_a_single_loop_and_a_still_one_are_told_as_such(client: FlaskClient) -> None:
    leg = [{"straight": {"length_m": 100}}]
    loops = [{"loop": {"name": n, "pipe": "PE100 SDR11 32", "legs": leg}} for n in ("A", "B")]
    body = {
        "antifreeze": PLAIN["antifreeze"],
        "duty": {"flow_l_s": 0.4, "to_ground_c": -1, "from_ground_c": 2},
        "array": {"arrangement": "manifold", "branches": loops},
    }
    still = {**body, "duty": {**body["duty"], "flow_l_s": 0}}
    single = {**body, "array": {"arrangement": "manifold", "branches": loops[:1]}}
    found = {}
    # 8,400 kW typed for 8.4: even flows of a design that cannot be.
    typed = {**body, "duty": {"heat_kw": 8400, "to_ground_c": -1, "from_ground_c": 2}}
    cases = {"even": body, "no_flow": still, "single_loop": single, "error": typed}
    for name, each in cases.items():
        found[name] = json.loads(write(client, each, JSON))["summary"]["verdict"]
        assert b"<h1" in write(client, each, HTML)
    assert write(client, still, PDF).startswith(b"%PDF-")
    assert found == {name: name for name in found}
    summary = json.loads(write(client, typed, JSON))["summary"]
    assert "m/s" in summary["headline"]
    assert "2 more errors below" in summary["headline"]
    page = write(client, typed, HTML)
    assert b'class="verdict uneven" dir="auto">Brine would reach' in page
    assert b"yes, as computed; the errors come first" in page


def test_the_head_of_the_document_is_the_callers(texts: dict[str, str]) -> None:
    for text in texts.values():
        for name in ("prepared_for", "prepared_by"):
            assert WHOLE["report"][name] in text
        assert "14 March 2026" in text  # of 2026-03-14
        assert re.search(r"Approved by\s*…", text)  # a blank to sign on
        assert WHOLE["report"]["notes"][0] in text
        assert WHOLE["reference"] in text


# ---------------------------------------------------------------------------------------- the page


def test_the_page_needs_no_script_no_other_file_and_no_inline_style(client: FlaskClient) -> None:
    answer = client.post("/v1/report.html", json=WHOLE)
    page = Page(answer.get_data(as_text=True))
    assert not {"script", "link", "img", "iframe", "object", "form"} & set(page.tags)
    assert page.tags.count("style") == 1
    for tag, name, value in page.attributes:
        assert name != "style", tag
        assert not name.startswith("on"), (tag, name)
        if name in ("href", "xlink:href", "src"):
            assert value.startswith("#"), (tag, value)
    ids = [value for _, name, value in page.attributes if name == "id"]
    assert len(ids) == len(set(ids))
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert re.search(r"style-src 'sha256-[\w+/=]+'", policy)
    assert "unsafe" not in policy


def test_headings_go_down_one_level_at_a_time(whole: dict[str, bytes]) -> None:
    page = Page(whole[HTML].decode("utf-8"))
    levels = [int(tag[1]) for tag in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_every_picture_has_a_text_alternative(whole: dict[str, bytes]) -> None:
    content = json.loads(whole[JSON])
    names = [picture["picture"] for picture in content["pictures"]]
    assert names == [
        "flows", "system_curve", "schematic", "pumps", "plan", "life",  # no headers, no profile
    ]  # fmt: skip
    page = whole[HTML].decode("utf-8")
    assert page.count('role="img"') == len(names) + 1  # the mark
    assert page.count("<desc") >= len(names)
    raw = PdfReader(io.BytesIO(whole[PDF]))
    root: Any = raw.trailer["/Root"]
    assert "/StructTreeRoot" in root
    assert root["/MarkInfo"]["/Marked"]


# -------------------------------------------------------------------------------------------- print


def test_the_pdf_tells_title_and_author_and_nothing_of_the_machine(whole: dict[str, bytes]) -> None:
    reader = PdfReader(io.BytesIO(whole[PDF]))
    meta: Any = reader.metadata
    assert meta.title == WHOLE["report"]["title"]
    assert meta.author == WHOLE["report"]["prepared_by"]
    assert meta.creator == "Evenloop"
    # Equal requests give equal files, so that there is no day of writing: it was one of 2000.
    assert b"CreationDate" not in whole[PDF]
    assert b"ModDate" not in whole[PDF]
    assert reader.trailer["/Root"]["/Lang"] == "en"  # type: ignore[index]
    for word in (b"/work", b"/root", b"/tmp", b"site-packages", b"localhost"):
        assert word not in whole[PDF]


def test_no_figure_of_the_first_page_is_cut(decided: dict[str, bytes]) -> None:
    page = PdfReader(io.BytesIO(decided[PDF])).pages[0].extract_text()
    assert not re.search(r"\w…", page)  # dots alone are to be signed on


def test_every_page_of_the_pdf_is_numbered_and_headed(whole: dict[str, bytes]) -> None:
    pages = pages_of(whole[PDF])
    assert len(pages) > 5
    for number_, page in enumerate(pages, 1):
        text = plain_text(page)
        assert f"{number_} / {len(pages)}" in text
        assert WHOLE["report"]["title"] in text


def test_no_heading_of_a_section_stands_alone_at_the_foot_of_a_page(
    whole: dict[str, bytes],
) -> None:
    for page in pages_of(whole[PDF]):
        lines = [line for line in page.splitlines() if line.strip()]
        body = [line for line in lines if "Evenloop 0" not in line and " / " not in line]
        assert not re.fullmatch(r"\d+ +[A-Z][a-z ]+", body[-1]), body[-1]


def test_every_font_of_the_pdf_is_embedded(whole: dict[str, bytes]) -> None:
    names = set()
    for page in PdfReader(io.BytesIO(whole[PDF])).pages:
        fonts: Any = page["/Resources"]["/Font"]  # type: ignore[index]
        for each in fonts.values():
            font = each.get_object()
            names.add(font["/BaseFont"])
            below = font["/DescendantFonts"][0].get_object()
            assert "/FontFile2" in below["/FontDescriptor"].get_object(), font["/BaseFont"]
    assert all("DejaVu" in name for name in names), names


def test_the_contents_tell_the_page_of_every_section(
    client: FlaskClient, whole: dict[str, bytes]
) -> None:
    """Also where the plan's sheet behind the text lies on its side."""
    wide = write(
        client, json.loads((FOLDER / "examples" / "quarry-lane-both-seasons.json").read_text()), PDF
    )
    sheet = PdfReader(io.BytesIO(wide)).pages[-1].mediabox
    assert sheet.width > sheet.height
    for written in (whole[PDF], wide):
        pages = [
            plain_text(page.extract_text(extraction_mode="layout"))
            for page in PdfReader(io.BytesIO(written)).pages
        ]
        outline: Any = PdfReader(io.BytesIO(written)).outline[1:]
        for each in outline:
            title = plain_text(str(each.title))
            (told,) = {n for page in pages[:2] for n in re.findall(rf"{title} (\d+)", page)}
            assert title in pages[int(told) - 1]


def test_a_plan_is_printed_at_its_scale_on_a_sheet_of_its_own(whole: dict[str, bytes]) -> None:
    ((at, text),) = [
        (at, page) for at, page in enumerate(pages_of(whole[PDF])) if "printed at full size" in page
    ]
    assert "1:500 on A4" in plain_text(text)
    sheet = PdfReader(io.BytesIO(whole[PDF])).pages[at]
    # A4, ISO 216, in points of 1/72 inch.
    assert float(sheet.mediabox.width) == pytest.approx(210 * 72 / 25.4, abs=0.1)
    assert float(sheet.mediabox.height) == pytest.approx(297 * 72 / 25.4, abs=0.1)
    # ISO 32000-1, table 106: a text of mode 0 is filled, one of 1 or 2 has its outline drawn over
    # that. Every text with a halo is drawn twice: its white outline, then its letters upon it.
    mode, shown = 0, []
    contents = sheet.get_contents()
    assert contents is not None
    for operands, operator in ContentStream(contents, sheet.pdf).operations:
        if operator == b"Tr":
            mode = operands[0]
        elif operator == b"Tj":
            shown.append((mode, operands[0]))
    haloed = [at for at, (mode, _) in enumerate(shown) if mode != 0]
    assert haloed
    for at in haloed:
        assert shown[at : at + 2] == [(1, shown[at][1]), (0, shown[at][1])]


def test_six_loops_with_every_chapter_take_less_than_twelve_pages(client: FlaskClient) -> None:
    job = copy.deepcopy(WHOLE)
    first = job["array"]["branches"][0]
    job["array"]["branches"] = [copy.deepcopy(first) for _ in range(6)]
    for index, branch in enumerate(job["array"]["branches"], 1):
        branch["loop"]["name"] = f"T{index}"
        branch["loop"]["legs"][0]["straight"]["length_m"] = 10 + 5 * index  # rows of their own
    pages = pages_of(write(client, job, PDF))
    assert len(pages) < 12
    # A box of cautions may go on on the next page: each part says what it is, and none is lost.
    packed = re.sub(r"\s", "", " ".join(pages))
    report = json.loads(write(client, job, JSON))
    for caution in report["cautions"]:
        assert re.sub(r"\s", "", caution) in packed
    assert "printed at full size" in pages[-1]  # the plan, behind the text


def test_the_bookmarks_of_the_pdf_are_its_sections(whole: dict[str, bytes]) -> None:
    titles = [each.title for each in PdfReader(io.BytesIO(whole[PDF])).outline]  # type: ignore[union-attr]
    assert titles[0] == WHOLE["report"]["title"]
    assert [re.sub(r"^\d+\s+", "", str(title)) for title in titles[1:]] == [
        "Inputs as used", "Every loop", "Balance", "Pump duty and system curve", "Findings",
        "Size of the array", "Ways to balance", "Pumps", "Groundworks", "Commissioning sheet",
        "Check by hand", "Other parts of the job as used", "Method and sources",
    ]  # fmt: skip


def test_pictures_are_printed_dot_by_dot_as_drawn_each_once(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[bytes] = []

    def kept(*given: Any) -> bytes:
        drawn.append(png_of(*given))
        return drawn[-1]

    monkeypatch.setattr("api.report.drawn.png_of", kept)
    pages = PdfReader(io.BytesIO(write(client, PLAIN, PDF))).pages
    printed = [each.image for page in pages for each in page.images if each.image is not None]
    assert len(printed) == len(drawn) > 2
    assert {each.tobytes() for each in printed} == {
        Image.open(io.BytesIO(png)).tobytes() for png in drawn
    }


def test_pictures_are_printed_fine_enough(whole: dict[str, bytes]) -> None:
    # 200 dots an inch over a text width of 176 mm at most.
    resources: list[Any] = [page["/Resources"] for page in PdfReader(io.BytesIO(whole[PDF])).pages]
    drawn = [each.get_object() for has in resources for each in has.get("/XObject", {}).values()]
    widths = [each["/Width"] for each in drawn if each["/Subtype"] == "/Image"]
    assert len(widths) == 5
    assert min(widths) >= 200 * 176 / 25.4


# ----------------------------------------------------------------------------------------- bounds

HOSTILE = (
    "<script>alert(1)</script>", "</style><b>", "{{ 7*7 }}", "file:///etc/passwd",
    "https://example.org/x.png", "a" * 80, "%PDF-1.7 (\\) endobj", "=cmd|' /C calc'!A0",
)  # fmt: skip


DUG = {part: WHOLE[part] for part in ("ground", "plot", "groundworks")}


def named(names: tuple[str, ...]) -> Json:
    body = copy.deepcopy(PLAIN)
    leg = PLAIN["array"]["branches"][0]
    body["array"]["branches"] = [{**leg, "loop": {**leg["loop"], "name": n}} for n in names]
    return body


def test_hostile_names_are_text_and_nothing_else(client: FlaskClient) -> None:
    body = named(HOSTILE)
    body["name"] = HOSTILE[0]
    body |= DUG  # its plan holds names too
    body["report"] = {
        "title": HOSTILE[0], "prepared_by": HOSTILE[1], "prepared_for": HOSTILE[2],
        "notes": [HOSTILE[3], HOSTILE[0]],
    }  # fmt: skip
    raw = write(client, body, HTML).decode("utf-8")
    assert "<script" not in raw
    assert raw.count("</style>") == 1
    page = Page(raw)
    assert not {"image", "img", "script", "foreignobject", "iframe"} & set(page.tags)
    for name in HOSTILE:
        assert plain_text(name) in page.text, name
    assert "49" not in page.text.split("Prepared for")[1][:20]
    text = pdf_text(write(client, body, PDF)).replace(" ", "")
    for name in HOSTILE:
        assert name.replace(" ", "") in text, name


def test_names_in_other_scripts_are_printed(client: FlaskClient) -> None:
    names = ("Łąka Żółta", "Ёлки", "Ελιά", "Բանջար", "Øster å")
    body = {**named(names), **DUG}
    text = pdf_text(write(client, body, PDF))
    for name in names:
        assert name in text, name


def test_names_that_run_from_right_to_left_are_joined_and_turned(client: FlaskClient) -> None:
    body = named(("حقل الأرض", "משק"))
    data = write(client, body, PDF)
    text = pdf_text(data)
    assert "□" not in text
    # In reading order or in that of the page, by the reader; an unshaped lam-alef would be two.
    assert "משק" in text or "קשמ" in text
    assert write(client, body, PDF) == data


def test_a_sign_that_the_font_has_not_is_a_box_and_the_document_says_so(
    client: FlaskClient,
) -> None:
    body = {**named(("井戸", "B")), **DUG}
    text = pdf_text(write(client, body, PDF))
    assert "□□" in text
    assert "the document's font has not" in text
    assert "井戸" in write(client, body, HTML).decode("utf-8")


def test_a_large_array_is_printed_whole_with_headings_on_every_page(client: FlaskClient) -> None:
    body = named(tuple(f"T{n}" for n in range(130)))
    body["duty"] = {"flow_l_s": 26, "to_ground_c": -3, "from_ground_c": 0}
    del body["plant"]
    reader = PdfReader(io.BytesIO(write(client, body, PDF)))
    texts = [plain_text(page.extract_text()) for page in reader.pages]
    with_rows = [text for text in texts if re.search(r"T\d+ 244\.2 0\.2", text)]
    assert len(with_rows) > 2
    for text in with_rows:
        assert "Velocity m/s" in text
    assert "T129" in " ".join(with_rows)


def test_beyond_the_limits_the_document_tells_a_part_and_says_so() -> None:
    client = create_app(Settings(cache_bytes=0, max_picture_loops=10)).test_client()
    body = named(("A", "B"))
    body["array"]["branches"][0]["count"] = 1_500
    body["duty"] = {"flow_l_s": 300, "to_ground_c": -3, "from_ground_c": 0}
    del body["plant"]
    content = json.loads(write(client, body, JSON))
    assert len(content["split"]["loops"]) == 1_501
    assert "pictures" not in content
    page = write(client, body, HTML).decode("utf-8")
    assert "<figure" not in page
    for text in (Page(page).text, pdf_text(write(client, body, PDF))):
        assert "holds no pictures" in text
        assert "the 50 with least and the 50 with most flow" in text
        assert "1,501 loops" in text


@pytest.mark.parametrize("kind", [HTML, PDF])
def test_a_pump_by_its_name_and_tables_alone_runs_at_constant_speed(
    client: FlaskClient, kind: str
) -> None:
    # The default of the contract: PumpControl, constant_speed.
    points = [(0.0, 9.0, 60.0), (0.4, 8.0, 90.0), (0.8, 6.0, 105.0), (1.6, 0.5, 110.0)]
    names = ("flow_l_s", "head_m", "power_w")
    rows = [dict(zip(names, row, strict=True)) for row in points]
    pump = {"name": "Bare", "tables": [{"speed_rpm": 2800, "points": rows}]}
    written = write(client, {**PLAIN, "pump": pump}, kind)
    text = pdf_text(written) if kind == PDF else plain_text(written.decode())
    assert "Bare, constant speed" in text


@pytest.mark.parametrize("kind", [HTML, PDF])
def test_the_first_page_is_of_the_pump_that_runs_and_its_setting_is_told(
    client: FlaskClient, kind: str
) -> None:
    # What stands there is what the split tells under `running`; the duty stands beside it.
    points = [(0.0, 9.0, 160.0), (0.4, 8.0, 190.0), (0.8, 6.0, 205.0), (1.6, 0.5, 210.0)]
    names = ("flow_l_s", "head_m", "power_w")
    rows = [dict(zip(names, row, strict=True)) for row in points]
    pump = {"name": "Bare", "tables": [{"speed_rpm": 2810, "points": rows}]}
    body = {**PLAIN, "pump": pump}
    content = json.loads(write(client, body, JSON))
    at, duty = content["split"]["running"][0], content["split"]["pump"]
    assert at["flow_l_s"] != pytest.approx(duty["flow_l_s"], rel=0.05)
    runs = f"Bare gives {short(at['flow_l_s'])} L/s at {short(at['head_m'])} m"
    asked = f"the duty asks for {short(duty['flow_l_s'])} L/s at {short(duty['head_m'])} m"
    assert runs in content["summary"]["sentences"][0]
    assert asked in content["summary"]["sentences"][0]
    flows = [each["flow_l_s"] for each in at["loops"]]
    assert f"Loops take {short(min(flows))} to" in content["summary"]["sentences"][1]
    written = write(client, body, kind)
    text = pdf_text(written) if kind == PDF else plain_text(written.decode())
    assert f"duty {number(duty['flow_l_s'], 3)} L/s" in text
    assert "Bare, constant speed, at 2,810 rpm" in text
    held = write(client, {**body, "pump": {**pump, "control": "constant_differential_pressure"}},
                 HTML)  # fmt: skip
    assert f"set to {number(duty['head_m'])} m" in plain_text(held.decode())
    # Cold and warm, by every control that the contract knows: what it holds is told.
    warm = {"to_ground_c": 4, "from_ground_c": 7}
    for control in get_args(Control):
        each = {**pump, "control": control}
        page = plain_text(write(client, {**body, "pump": each, "warm": warm}, HTML).decode())
        if control == "constant_temperature_difference":
            told = json.loads(write(client, {**body, "pump": each}, JSON))["split"]["running"][0]
            assert f"set to {number(told['temperature_change_k'])} K" in page


def test_every_table_of_flows_says_at_which_and_the_meters_are_told_that_of_the_pump(
    client: FlaskClient,
) -> None:
    # A pump that drives more than the duty: who sets valves by the duty's table sets them wrong.
    points = [(0.0, 9.0, 160.0), (0.4, 8.0, 190.0), (0.8, 7.0, 205.0), (1.6, 4.0, 210.0)]
    names = ("flow_l_s", "head_m", "power_w")
    rows = [dict(zip(names, row, strict=True)) for row in points]
    job = copy.deepcopy({part: each for part, each in WHOLE.items() if part != "pump_choice"})
    job["pump"] = {"name": "Bare", "tables": [{"speed_rpm": 2810, "points": rows}]}
    content = json.loads(write(client, job, JSON))
    expected = [each["expected_l_min"] for each in content["commissioning"]["flow_meters"]]
    duty = [60.0 * each["flow_l_s"] for each in content["split"]["loops"]]
    assert sum(expected) > 1.1 * sum(duty)
    tables = tables_of(write(client, job, HTML).decode("utf-8"))
    at_duty = table_of(tables, "Flow of every loop at the duty")
    driven = table_of(tables, "Flow of every loop with the pump")
    sheet = table_of(tables, "What every loop's meter should show")
    assert [row["Flow L/min"] for row in driven] == [row["Expected L/min"] for row in sheet]
    assert [row["Flow L/min"] for row in driven] == [number(each, 3) for each in expected]
    assert [row["Flow L/min"] for row in at_duty] == [number(each, 3) for each in duty]
    told = " ".join((content["summary"]["headline"], *content["summary"]["sentences"]))
    for flows, words in ((expected, "with this pump"), (duty, "at the duty")):
        shown = f"{short(min(flows) / 60)} to {short(max(flows) / 60)} L/s"
        assert f"{shown} {words}" in told or f"{words} {shown}" in told
    assert "With the pump that runs the split" in told
    for caption in tables:
        if "loop" in caption and "Flow" in "".join(tables[caption][0]):
            assert "at the duty" in caption or "with the pump" in caption, caption
    alone = tables_of(write(client, WHOLE, HTML).decode("utf-8"))
    assert not [each for each in alone if each.startswith("Flow of every loop with")]


# Half of the pressure lost in an hour's rest, and a loop with a third too much: both fail.
RECORD = (
    ("relaxation", 0, 0), ("relaxation", 60, 5), ("pressurising", 68, 452), ("holding", 99, 450),
    ("resting", 100, 450), ("resting", 160, 225),
)  # fmt: skip


@pytest.mark.parametrize("part", ["pressure_test", "flow_meters"])
def test_a_record_that_fails_leads_the_first_page_and_fills_the_blanks_of_the_sheet(
    client: FlaskClient, whole: dict[str, bytes], part: str
) -> None:
    job = copy.deepcopy(WHOLE)
    if part == "pressure_test":
        job["commissioning"][part] = {"test_pressure_kpa": 450, "readings": [
            {"stage": stage, "time_min": minute, "pressure_kpa": kpa}
            for stage, minute, kpa in RECORD
        ]}  # fmt: skip
        job["commissioning"]["sample"] = {"density_kg_m3": 1031.5, "sample_c": 11.5}
        code, begins = "pressure_test_failed", "The record of the pressure test fails in the rest"
    else:
        first = json.loads(whole[JSON])["commissioning"]["flow_meters"]
        job["commissioning"][part] = {"readings": [
            {"loop": each["loop"], "flow_l_min": each["expected_l_min"] * (1 + (index == 0) / 3)}
            for index, each in enumerate(first)
        ]}  # fmt: skip
        code, begins = "meters_outside_band", "By its meters the array is not balanced"
    content = json.loads(write(client, job, JSON))
    found = [each for each in content["commissioning"]["findings"] if each["code"] == code]
    assert [each["severity"] for each in found].count("error") == 1
    assert content["summary"]["verdict"] == "error"
    assert content["summary"]["headline"].startswith(begins)
    page = Page(write(client, job, HTML).decode("utf-8"))
    # What fails is one error more than there were.
    before, after = (
        int((re.search(r"(\d+) errors? and \d+ warnings in this document", text) or [0, 0])[1])
        for text in (Page(whole[HTML].decode("utf-8")).text, page.text)
    )
    assert after == before + 1
    assert page.text.index(begins) < page.text.index("Cautions")
    if part == "pressure_test":
        rows = tables_of(write(client, job, HTML).decode("utf-8"))
        last = {stage: (minute, kpa) for stage, minute, kpa in RECORD}
        for row in table_of(rows, "Stages."):
            stage = row["Stage"].replace(" ", "_")
            if stage in last:
                assert (read(row["After min"]), read(row["Read kPa"])) == last[stage]
            else:
                assert (row["After min"], row["Read kPa"]) == ("…………", "…………")
        record = table_of(rows, "The record that the job holds")
        assert [
            (row["Stage"], read(row["Since it began min"]), read(row["Pressure kPa"]))
            for row in record
        ] == list(RECORD)
        assert re.search(r"Hydrometer read on site\s*1,031.5 kg/m³ at 11.5 °C", page.text)


def test_the_sum_of_the_bill_is_that_of_its_rows_as_they_are_printed(client: FlaskClient) -> None:
    # By hand: 999.995 is paid as 1,000.00; the sum of what was not rounded, printed, was 0.01 less.
    job = copy.deepcopy(WHOLE)
    bill = json.loads(write(client, job, JSON))["groundworks"]["bill"]
    prices = {each["item"]: 999.995 if each["unit"] == "each" else 1.115 for each in bill["items"]}
    job["groundworks"]["prices"] = {
        "currency": "EUR",
        "items": [{"item": item, "price": price} for item, price in prices.items()],
    }
    content = json.loads(write(client, job, JSON))["groundworks"]["bill"]
    page = write(client, job, HTML).decode("utf-8")
    rows = table_of(tables_of(page), "Bill of quantities")
    hundredths = [round(100 * read(row["Amount"])) for row in rows]
    assert sum(hundredths) == round(100 * content["total"])
    assert f"{content['total']:,.2f} EUR" in Page(page).text
    assert {row["Price"] for row in rows} == {"999.995", "1.115"}
    assert {each["price"] for each in content["items"]} == {999.995, 1.115}
    (alone, *_) = [each for each in content["items"] if each["quantity"] == 1]
    assert alone["amount"] == 1000.0


def test_ways_to_balance_that_are_asked_for_are_told_where_there_is_nothing_to_balance(
    client: FlaskClient,
) -> None:
    job = {**copy.deepcopy(PLAIN), "balancing": {}}
    job["array"]["branches"][1:] = [copy.deepcopy(job["array"]["branches"][0])]
    job["array"]["branches"][1]["loop"]["name"] = "T2"
    assert "balancing" not in json.loads(write(client, job, JSON))
    told = r"Within tolerance, at the duty\s*yes; ways to balance not compared"
    assert re.search(told, Page(write(client, job, HTML).decode("utf-8")).text)
    alone = {part: each for part, each in job.items() if part != "balancing"}
    assert not re.search(told, Page(write(client, alone, HTML).decode("utf-8")).text)


def test_a_heat_exchanger_that_is_not_told_comes_before_what_an_invented_pump_misses(
    client: FlaskClient,
) -> None:
    job = copy.deepcopy({part: WHOLE[part] for part in PLAIN if part != "plant"})
    job["pump_choice"] = {"use_invented_pumps": True}
    first = plain_text(pages_of(write(client, job, PDF))[0])
    assert first.index("holds no drop of the heat pump's heat exchanger") < first.index("Cautions")


def test_prices_of_the_bill_hold_until_a_day_in_words(client: FlaskClient) -> None:
    job = copy.deepcopy(WHOLE)
    job["groundworks"]["prices"] = {
        "currency": "EUR", "valid_until": "2026-12-31",
        "items": [{"item": "digger with driver", "price": 85}],
    }  # fmt: skip
    text = Page(write(client, job, HTML).decode("utf-8")).text
    assert re.search(r"Prices hold until\s*31 December 2026", text)


def test_the_document_says_of_which_job_and_by_which_version_it_is(
    client: FlaskClient, printed: bytes
) -> None:
    answer = client.post("/v1/report", json=PLAIN)
    # The digest by the rule that is told, RFC 8785: Python's own JSON, with 1.0 as 1, and SHA-256.
    compact = json.dumps(PLAIN, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    compact = re.sub(r"(?<=\d)\.0(?=[,}\]])", "", compact)
    digest = hashlib.sha256(compact.encode()).hexdigest()
    assert answer.get_json()["body_sha256"] == digest == answer.headers["Evenloop-Body-SHA256"]
    page = client.post("/v1/report.html", json=PLAIN).get_data(as_text=True)
    assert digest in page
    assert f"Evenloop {answer.get_json()['version']}" in page
    assert digest in re.sub(r"\s", "", "".join(pages_of(printed)))


def test_what_was_decided_has_no_digits_that_nobody_works_to_and_what_was_typed_has_all() -> None:
    decided = {"duty": {"from_ground_c": 0.00400778, "heat_kw": 5.41935},
               "array": {"branches": [{"length_m": 14.1166}]}}  # fmt: skip
    job = {"duty": decided["duty"], "array": decided["array"], "plot": {"x_m": 44.12345},
           "pipes": [{"roughness_mm": 0.00012}], "limits": {"years": 20, "is": True}}  # fmt: skip
    # Going on by assignment leaves twelve digits in a job whose chapters decide nothing of it.
    taken = {"duty": {"to_ground_c": -3.43797456444, "from_ground_c": 0.0620254355582}}
    assert without_excess(taken, []) == {"duty": {"to_ground_c": -3.438, "from_ground_c": 0.062}}
    told = without_excess(job, [{"decides": decided}, {"findings": []}, "title", 3])
    assert told["duty"] == {"from_ground_c": 0.004, "heat_kw": 5.419}
    assert told["array"] == {"branches": [{"length_m": 14.117}]}
    assert {part: told[part] for part in ("plot", "pipes", "limits")} == {
        part: job[part] for part in ("plot", "pipes", "limits")
    }


def test_a_reading_beyond_its_band_and_yet_within_is_explained(client: FlaskClient) -> None:
    told = "A reading is judged by its share of all readings"
    first = json.loads(write(client, WHOLE, JSON))["commissioning"]["flow_meters"]
    for factor in (1.0, 1.3):  # all meters alike show so much more
        job = copy.deepcopy(WHOLE)
        readings = [
            {"loop": each["loop"], "flow_l_min": factor * each["expected_l_min"]} for each in first
        ]
        job["commissioning"]["flow_meters"] = {"accuracy_percent": 2, "readings": readings}
        content = json.loads(write(client, job, JSON))["commissioning"]["flow_meters"]
        beyond = [e for e in content if e["reading_l_min"] > e["max_flow_l_min"]]
        assert any(each["verdict"] == "within" for each in beyond) is (factor > 1.0)
        assert (told in Page(write(client, job, HTML).decode("utf-8")).text) is (factor > 1.0)


def test_why_pumps_miss_the_duty_is_told_with_their_control(client: FlaskClient) -> None:
    job = copy.deepcopy(WHOLE)
    weak = {"name": "Weak (invented)", "tables": [{"speed_rpm": 1500, "points": [
        {"flow_l_s": q, "head_m": h, "power_w": 9} for q, h in ((0, 0.4), (0.5, 0.3), (1, 0.1))
    ]}]}  # fmt: skip
    held = {**weak, "control": "constant_differential_pressure"}
    job["pump_choice"] = {"candidates": [weak, held]}
    page = Page(write(client, job, HTML).decode("utf-8")).text
    after = page[page.index("Why pumps miss the duty") :]
    assert "Weak (invented), constant speed, at 1,500 rpm:" in after
    assert "Weak (invented), constant differential pressure:" in after


def test_what_was_found_before_a_way_was_put_in_is_none_of_the_array_in_the_document(
    client: FlaskClient,
) -> None:
    job = {**copy.deepcopy(PLAIN), "balancing": {"take": "spare_pipe", "spare_step_m": 1}}
    content = json.loads(write(client, job, JSON))
    (before,) = [x for x in content["balancing"]["findings"] if x["code"] == "imbalance"]
    assert not [x for x in content["split"]["findings"] if x["code"] == "imbalance"]
    page = Page(write(client, job, HTML).decode("utf-8")).text
    first = plain_text(pages_of(write(client, job, PDF))[0])
    # Formerly it stood on the first page, beside "The split is even".
    assert "The split is even" in first
    assert in_print(before["message"]).replace(" ", "") not in first.replace(" ", "")
    heading = page.index("Findings of the array as it was")
    assert page.index(in_print(before["message"])) > heading
