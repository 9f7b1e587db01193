"""The bench's job as a document: opened, saved, refused, and gone on with by what a step decides.

What the bench does with a job is compared with what the service answers to the same document.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from api.schemas.job import FORMAT, JobSchema
from tests.browser.conftest import ask, example, job_file, open_step, paste, settled

Open = Callable[..., Any]


def _open_file(page: Any, folder: Path, text: str) -> None:
    file = folder / "opened.json"
    file.write_text(text, "utf-8")
    page.set_input_files("#open-file", file)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"format": 1,\n "array": }', "line 2, column 11"),
        ('{"array": {}, "array": {}}', "'array' is given more than once"),
        ("[1, 2]", "A job is a JSON object"),
        ('{"format": 2, "array": {}}', "/format is 2: the bench reads jobs of format 1"),
        ("{}", "It holds no part of a job"),
        ('{"name": "left-pad", "version": "1.0", "main": "x.js"}', "name, version, main"),
        ("\u0000\u0001GIF", "not JSON"),
    ],
)
def test_a_file_that_is_no_job_is_said_so_and_the_job_stays(
    open_bench: Open, tmp_path: Path, text: str, said: str
) -> None:
    page = open_bench()
    head = page.text_content("#duty-head")
    _open_file(page, tmp_path, text)
    page.locator("#problem:not([hidden])").wait_for()
    words = page.text_content("#problem")
    assert words.startswith("opened.json was not opened.")
    assert said in words
    assert page.input_value("#job-name") == example("quince-barn-short-tail")["name"]
    assert page.text_content("#duty-head") == head
    assert page.locator("#undo").is_disabled()


def test_a_job_with_faults_is_opened_with_each_at_its_place_and_no_number_of_the_last(
    open_bench: Open, tmp_path: Path
) -> None:
    page = open_bench()
    ask(page, "groundworks")
    job = example("juniper-rise-direct-return")
    job["duty"]["to_ground_temperature_c"] = job["duty"].pop("to_ground_c")
    job["array"]["branches"][1]["loop"]["legs"][0]["straight_m"] = 12
    _open_file(page, tmp_path, json.dumps(job))
    page.wait_for_function("name => document.querySelector('#job-name').value === name",
                           arg=job["name"])  # fmt: skip
    settled(page)
    told = page.text_content("#problem")
    for pointer in (
        "Duty, Out to ground",
        "/duty/to_ground_temperature_c",
        "/array/branches/1/loop/legs/0/straight_m",
    ):
        assert f"go to {pointer}" in told
    assert page.get_by_label("Out to ground").first.get_attribute("aria-invalid") == "true"
    # What is not known is not shown: neither figure, picture nor table of the job before.
    for name in ("flow", "head", "column", "power", "heat"):
        assert page.text_content(f"#duty-{name}") == "–"
    for place in ("#picture", "#curve", "#loops-table", "#findings", "#why", "#head-parts"):
        assert page.locator(f"{place} > *").count() == 0, place
    assert page.text_content("#step-groundworks .stand") == "not asked yet"
    page.get_by_role("button", name="Undo").click()
    settled(page)
    assert page.input_value("#job-name") == example("quince-barn-short-tail")["name"]
    assert page.locator("svg.array .row").count() == 3


def test_the_parts_that_the_bench_knows_are_those_of_a_job(open_bench: Open) -> None:
    page = open_bench()
    known = page.evaluate("() => import('/assets/bench/job.js').then((job) => job.PARTS)")
    assert known == list(JobSchema().fields)
    assert page.evaluate("() => import('/assets/bench/job.js').then((job) => job.FORMAT)") == FORMAT


def test_every_step_posts_the_whole_job_to_its_address(open_bench: Open) -> None:
    page = open_bench(own=True)
    posted: list[tuple[str, Any]] = []
    page.on(
        "request",
        lambda each: (
            posted.append((each.url.rsplit("/v1/", 1)[1], json.loads(each.post_data)))
            if each.post_data
            else None
        ),
    )
    page.get_by_label("Freezing margin").fill("4")
    settled(page)
    for key in ("sizing", "balancing", "pump_choice", "groundworks", "commissioning"):
        ask(page, key)
    last = open_step(page, "report")
    for name in ("Document, PDF", "Document, HTML"):
        with page.expect_download(timeout=30_000):
            last.get_by_role("button", name=name).click()
    expected = copy.deepcopy(example("quince-barn-short-tail"))
    expected["limits"]["min_freezing_margin_k"] = 4
    # Once sized, what array and duty lack of it is asked for, without parts of other steps.
    whole = [job for address, job in posted if address == "designs"]
    assert len(whole) == 1
    assert all(expected[part] == told for part, told in whole[0].items())
    posted = [each for each in posted if each[0] != "designs"]
    assert [address for address, _ in posted] == [
        "split", "sizing", "balancing", "pump-choice", "groundworks", "groundworks/plan.svg",
        "commissioning", "report.pdf", "report.html",
    ]  # fmt: skip
    for address, job in posted:
        assert job == expected, address
    assert job_file(page) == expected


def test_a_job_that_has_only_a_load_is_laid_out_by_what_the_sizing_decides(
    open_bench: Open,
) -> None:
    page = open_bench()
    page.select_option("#example", "slate-row-from-load")
    page.wait_for_function("() => document.querySelector('#duty-head').textContent === '–'")
    settled(page)
    assert "No array yet" in page.text_content("#verdict-words")
    assert page.locator("#problem").is_hidden()
    page.locator("#step-sizing[open]").wait_for()  # where such a job goes on
    job = example("slate-row-from-load")
    decided = page.request.post(f"{page.url}v1/sizing", data=job).json()["decides"]
    ask(page, "sizing")
    page.get_by_role("button", name="Lay it out").click()
    settled(page)
    assert page.locator("#problem").is_hidden()
    assert job_file(page) == job | decided


def test_a_field_that_is_sized_with_its_plan_is_shown_and_laid_out(open_bench: Open) -> None:
    page = open_bench()
    job = example("slate-row-from-load") | {
        "plot": {"length_m": 60, "width_m": 40, "plant_room": {"x_m": 0, "y_m": 20}},
        "setting_out": {"run_pipe": "PE100 SDR11 63"},
    }
    job = {part: job[part] for part in
           ("antifreeze", "heat", "ground", "sizing", "plot", "setting_out")}  # fmt: skip
    decided = page.request.post(f"{page.url}v1/sizing", data=job).json()
    assert "circuit" in decided["decides"]["array"]["branches"][0]  # chambers of the plan
    paste(page, job)
    sized = ask(page, "sizing")
    drilled = decided["each_loop"]["length_m"] + 1.0  # the top that gathers none
    assert f"{drilled:.4g} m; no heat" in sized.text_content()
    page.get_by_role("button", name="Lay it out").click()
    settled(page)
    assert job_file(page)["array"] == decided["decides"]["array"]


def test_a_way_to_balance_and_a_pump_are_taken_as_they_are_decided(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-short-tail")
    ways = page.request.post(f"{page.url}v1/balancing", data=job).json()["ways"]
    spare = next(way for way in ways if way["way"] == "spare_pipe")
    ask(page, "balancing")
    page.get_by_role("button", name="Put it in: Pipe coiled into short loops").click()
    settled(page)
    job |= spare["decides"]
    assert job_file(page) == job

    pumps = page.request.post(f"{page.url}v1/pump-choice", data=job).json()["pumps"]
    ask(page, "pump_choice")
    page.get_by_role("button", name=f"Take it: {pumps[0]['name']}").click()
    settled(page)
    job |= pumps[0]["decides"]
    assert job_file(page) == job
    running = page.request.post(f"{page.url}v1/split", data=job).json()["running"]
    assert f"{running[0]['power_w']:.0f} W" in page.text_content("#running")
    page.get_by_role("button", name="Take it out").click()
    settled(page)
    job.pop("pump")
    assert job_file(page) == job
    assert page.text_content("#running") == ""


def test_a_pipe_of_ones_own_is_declared_once_and_called_by_its_name(open_bench: Open) -> None:
    page = open_bench()
    loop = page.locator('li[data-branch="/array/branches/0"]')
    before = page.text_content("#duty-head")
    loop.get_by_label("Pipe", exact=True).first.select_option(label="another, by its bore")
    settled(page)
    loop.get_by_label("Bore").fill("28")
    settled(page)
    loop.get_by_label("Name").nth(1).fill("probe 34")
    loop.get_by_label("Name").nth(1).press("Tab")
    settled(page)
    loop.get_by_role("button", name="Same pipe in every loop here").click()
    settled(page)
    job = job_file(page)
    assert job["pipes"] == [
        *example("quince-barn-short-tail")["pipes"],
        {"name": "probe 34", "bore_mm": 28, "outside_diameter_mm": 32},
    ]
    assert {each["loop"]["pipe"] for each in job["array"]["branches"]} == {"probe 34"}
    assert float(page.text_content("#duty-head")) < float(before)  # a wider bore takes less head


def test_a_fact_that_two_steps_ask_for_is_one(open_bench: Open) -> None:
    page = open_bench()
    sizing = open_step(page, "sizing")
    dug = open_step(page, "groundworks")
    sizing.get_by_label("Centre to centre").fill("6.5")
    assert dug.get_by_label("Centre to centre").input_value() == "6.5"
    dug.get_by_label("The plot is told").select_option("area_m2")
    dug.get_by_label("Area").fill("2000")
    assert sizing.get_by_label("Area").input_value() == "2000"
    dug.get_by_label("Soil").select_option("sand")
    assert sizing.get_by_label("Soil").input_value() == "sand"
    job = job_file(page)
    assert job["plot"] == {"area_m2": 2000, "spacing_m": 6.5, "border_m": 2.5}
    assert job["ground"]["soil"] == "sand"


def test_what_a_step_begins_with_is_the_jobs_only_when_used(open_bench: Open) -> None:
    page = open_bench()
    job = example("hazel-heath-reverse-return")
    paste(page, job)
    for key in ("sizing", "groundworks", "commissioning"):
        open_step(page, key)
    assert job_file(page) == job
    assert open_step(page, "report").get_by_role("checkbox", checked=True).count() == 0
    open_step(page, "groundworks").get_by_label("A lorry holds").fill("7")
    made = job_file(page)["groundworks"]
    assert made["lorry_m3"] == 7
    assert made["trench"] == {"width_m": 1.2, "depth_m": 1.2}  # as the form showed it
    tick = open_step(page, "report").get_by_label("Digging, spoil, pipe to order")
    tick.uncheck()
    ground = {"soil": "clay", "moisture": "usual"}  # which the form showed beside it
    assert job_file(page) == {**job, "ground": ground}
    tick.check()
    assert job_file(page)["groundworks"] == made


def test_a_fault_in_a_folded_step_is_shown_there_whatever_was_asked(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-short-tail")
    job["commissioning"]["filling"]["filling_c"] = "warm"
    paste(page, job)
    page.locator("#problem").get_by_role("button").first.click()
    field = page.locator("#step-commissioning").get_by_label("Filled at")
    field.wait_for()
    assert field.get_attribute("aria-invalid") == "true"
    assert field.evaluate("field => field === document.activeElement")
    field.fill("12")
    page.locator("#problem").wait_for(state="hidden")
    assert field.get_attribute("aria-invalid") is None
