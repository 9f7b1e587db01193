"""The job around the array in a real browser: from the load to the document, step by step.

What a step shows is compared with what the service answers to the same request, and a change that
a step makes to the array with what the step said that it would do; the numbers themselves are
checked against outside sources where they are computed.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from tests.browser.conftest import (
    STEPS,
    ask,
    barriers,
    example,
    job_file,
    open_step,
    paste,
    settled,
)

Open = Callable[..., Any]
# Invented; one meets the duty of the invented house, one is too small for it.
PUMPS_CSV = """pump;speed_rpm;flow_l_s;head_m;power_w
Ample (invented);2700;0;9,2;95
Ample (invented);2700;0,5;8,6;118
Ample (invented);2700;1,0;6,8;136
Slight (invented);2400;0;1,6;12
Slight (invented);2400;0,3;1,1;15
Slight (invented);2400;0,6;0,4;17
"""


def _found(pattern: str, text: str) -> re.Match[str]:
    found = re.search(pattern, text)
    assert found is not None, text
    return found


class _Hand:
    """Clicks and types on a page, and counts how often."""

    def __init__(self, page: Any) -> None:
        self.page, self.count = page, 0

    def click(self, name: str) -> None:
        self.count += 1
        self.page.get_by_role("button", name=name, exact=True).locator("visible=true").last.click()

    def fill(self, label: str, typed: str) -> None:
        self.count += 1
        self.page.get_by_role("textbox", name=label, exact=True).locator("visible=true").fill(typed)

    def go_on(self, name: str, key: str) -> Any:
        self.click(f"Next: {name}")
        get = self.page.locator(f"#step-{key} .get[data-shown]:not([aria-busy])")
        get.wait_for()
        return get


def test_a_house_goes_from_the_load_to_the_document_in_twelve_interactions(
    open_bench: Open, address: str
) -> None:
    page = open_bench()
    hand = _Hand(page)
    hand.click("a heat load")
    page.locator("#step-sizing .give .ask").wait_for()
    hand.fill("Job", "Sorrel Lodge (invented)")
    hand.fill("Heat pump gives kW", "9")
    hand.click("Size the array")
    sized = page.locator("#step-sizing .get[data-shown]:not([aria-busy])").text_content()
    assert "Before anyone builds it" in sized
    assert page.locator("#step-sizing svg.chart").count() == 3
    hand.click("Lay it out")
    page.locator("#next button").wait_for()
    settled(page)
    found = _found(r"(\d[\d.]*) m of trench in (\d+) equal loops of ([\d.]+) m", sized)
    total, loops, length = float(found[1]), int(found[2]), float(found[3])
    assert abs(loops * length - total) < 0.01 * total  # shown to four and three digits
    assert f" × {loops}" in page.locator("svg.array .row").text_content()  # equal: one row
    assert page.text_content("#verdict-words").startswith("Even")

    ways = hand.go_on("compare the ways", "balancing")
    assert "= on target" in ways.locator("tr.asitis").text_content()
    assert "no maker sells" in hand.go_on("judge the pumps", "pump_choice").text_content()
    dug = hand.go_on("count the digging", "groundworks")
    plan = dug.locator("img.planimage")
    plan.evaluate("image => image.decode()")
    assert plan.evaluate("image => image.naturalWidth") > 100
    assert f"{loops} trenches" in plan.get_attribute("alt")
    sheet = hand.go_on("work out the sheet", "commissioning")
    meters = sheet.get_by_role("region", name="Every loop's meter")
    assert meters.locator("tbody tr").count() == loops
    hand.click("Next: hand over")
    with page.expect_download(timeout=30_000) as waiting:
        hand.click("Document, PDF")
    assert hand.count <= 12

    job = job_file(page)
    assert job["name"] == "Sorrel Lodge (invented)"
    answer = page.request.post(f"{address}v1/groundworks", data=job).json()
    line = page.text_content("#jobline")
    for told in (dug.text_content(), line):
        assert f"{answer['total']['dug_m3']:.0f} m³ dug" in told
    # Nothing keeps the house from being built, and nothing of the example is in it.
    designs = page.request.post(f"{address}v1/designs", data=job).json()
    errors = [each for part in designs.values() if isinstance(part, dict)
              for each in part.get("findings", ()) if each["severity"] == "error"]  # fmt: skip
    assert errors == []
    assert "plant" not in job
    assert waiting.value.suggested_filename == "sorrel-lodge-invented-report.pdf"
    document = PdfReader(io.BytesIO(Path(waiting.value.path()).read_bytes()))
    text = re.sub(r"\s+", " ", " ".join(sheet.extract_text() for sheet in document.pages))
    for words in ("Sorrel Lodge", "Size of the array", "EN 805"):
        assert words in text


def test_a_house_with_its_plot_takes_twelve_interactions_and_the_plans_lengths(
    open_bench: Open, address: str
) -> None:
    page = open_bench(saves_data=False)
    hand = _Hand(page)
    hand.click("a heat load")
    step = page.locator("#step-sizing")
    step.locator(".give .ask").wait_for()
    hand.fill("Heat pump gives kW", "9")
    hand.count += 1
    step.get_by_label("The plot is told").select_option(label="By its corners")
    hand.click("Size the array")
    step.locator(".get[data-shown]:not([aria-busy])").wait_for()
    hand.click("Lay it out")
    settled(page)
    sized = _kept(page)["array"]
    plan = hand.go_on("set it out", "setting_out")
    settled(page)
    laid = _kept(page)
    assert laid["array"] != sized
    decided = page.request.post(f"{address}v1/setting-out", data=laid).json()["decides"]
    assert laid["array"] == decided["array"]
    assert plan.locator("#follow-plan").is_checked()
    assert page.locator("#next").text_content() == "Next: compare the ways"
    hand.click("Add keep-out")
    # It is seen on the plan, and there under the keys that move it.
    point = page.locator('[data-point="/plot/keep_outs/0 whole"]')
    page.wait_for_function("point => point === document.activeElement", arg=point.element_handle())
    top, low = (point.bounding_box()[side] for side in ("y", "height"))
    assert 0 <= top <= 860 - low
    page.locator("#step-setting_out .laid:not(.stale)").wait_for()
    settled(page)
    for name, key in (
        ("compare the ways", "balancing"),
        ("judge the pumps", "pump_choice"),
        ("count the digging", "groundworks"),
        ("work out the sheet", "commissioning"),
    ):
        hand.go_on(name, key)
    with page.expect_download(timeout=60_000):
        hand.click("Report, PDF")
    assert hand.count <= 12

    # Every step and the document are of one array, which lies around the house.
    job = _kept(page)
    assert len(job["plot"]["keep_outs"]) == 1
    decided = page.request.post(f"{address}v1/setting-out", data=job).json()["decides"]
    assert job["array"] == decided["array"]
    # Steps that came before the house, or before digging told how deep pipe lies, are worked out
    # anew by themselves: all are of the job as it is.
    page.wait_for_function("() => !document.querySelector('#jobline li.old')")
    designs = page.request.post(f"{address}v1/designs", data=job).json()
    errors = [each for part in designs.values() if isinstance(part, dict)
              for each in part.get("findings", ()) if each["severity"] == "error"]  # fmt: skip
    assert errors == []
    assert "another array" not in open_step(page, "report").text_content()


_VALUES = """step => [...step.querySelectorAll("input.number")]
    .filter(box => box.value !== "")
    .map(box => [box.dataset.pointer, Number(box.value)])"""


@pytest.mark.parametrize(
    ("touched", "to"),
    [
        ("Kind of array", "Boreholes"),
        ("Kind of array", "Straight pipe in trenches"),
        ("Depth of the coils m", "1.5"),
        ("Tail to the manifold, one way m", "9"),
        ("Surface, mean °C", "9.8"),
        ("Coldest return °C", "-1"),
        ("Equal loops", "6"),
    ],
)
def test_whatever_box_is_touched_first_all_that_the_boxes_show_is_in_the_job(
    open_bench: Open, touched: str, to: str
) -> None:
    page = open_bench()
    page.get_by_role("button", name="a heat load", exact=True).click()
    step = open_step(page, "sizing")
    step.locator("details.more").evaluate_all("all => all.forEach(each => each.open = true)")
    box = step.get_by_label(touched, exact=True)
    if box.evaluate("box => box.tagName") == "SELECT":
        box.select_option(label=to)
    else:
        box.fill(to)
    shown = dict(step.evaluate(_VALUES))
    assert shown["/heat/hot_water_kwh"] == 3000  # the invented house's
    page.reload()  # the tab keeps the job as it was left
    settled(page)
    answered = ask(page, "sizing")
    assert answered.locator(".problem").count() == 0, answered.text_content()
    assert shown.items() <= dict(step.evaluate(_VALUES)).items()
    job = job_file(page)
    for pointer, value in shown.items():
        assert _at(job, pointer) == value, pointer


def _at(job: Any, pointer: str) -> Any:
    for part in pointer.split("/")[1:]:
        job = job[int(part) if isinstance(job, list) else part]
    return job


def _legs(*legs: Any) -> Any:
    """An array of loops that have one leg each."""
    tail = {"straight": {"length_m": 10}}
    loops = [{"name": f"T{at}", "pipe": "PE100 SDR11 40", "legs": [tail, leg, tail]}
             for at, leg in enumerate(legs)]  # fmt: skip
    return {"arrangement": "manifold", "branches": [{"loop": loop} for loop in loops]}


_SLINKY = {"coils": 40, "coil_diameter_m": 0.8, "pitch_m": 0.8}
_TRENCH = {"length_m": 60, "passes": 4}


@pytest.mark.parametrize(
    ("legs", "floor", "deep"),
    [
        ([{"slinky": {**_SLINKY, "depth_m": 1.8}}], 0.8, 1.8),
        ([{"slinky": {**_SLINKY, "depth_m": 1.2, "upright": True}}], 0.08, 1.6),
        ([{"trench": {**_TRENCH, "depth_m": 1.5, "turn_diameter_m": 0.72}}], 0.76, 1.5),
        ([{"trench": {**_TRENCH, "depth_m": 1, "spacing_m": 0.4}}], 1.24, 1),
        ([{"slinky": {**_SLINKY, "depth_m": depth}} for depth in (1.2, 1.3)], 0.8, 1.3),
    ],
)
def test_the_trench_to_begin_with_holds_the_array_however_the_job_came(
    open_bench: Open, legs: Any, floor: float, deep: float
) -> None:
    # Floor that pipe takes and depth of its lowest, by hand: a coil lies flat or stands about its
    # middle, a pipe is 40 mm, turns bulge out beside closer passes. Bedding below is 0.1 m.
    page = open_bench()
    job = {key: each for key, each in example("quince-barn-equal-slinkies").items()
           if key not in ("groundworks", "sizing", "plot", "heat")}  # fmt: skip
    paste(page, {**job, "array": _legs(*legs)})
    page.reload()
    settled(page)
    told = ask(page, "groundworks").text_content()
    trench = job_file(page)["groundworks"]["trench"]
    assert floor < trench["width_m"] < floor + 0.5
    assert abs(trench["depth_m"] - (deep + 0.1)) < 1e-9
    assert "wide. Widen it" not in told
    assert "Make the two agree" not in told
    assert ("way out" in told) == (deep + 0.1 > 1.22)  # OSHA 1926.651(c)(2): a ladder from 4 ft


def test_the_trench_to_begin_with_follows_the_loops_until_it_is_told(open_bench: Open) -> None:
    page = open_bench()
    dig = open_step(page, "groundworks")
    job = {key: each for key, each in example("quince-barn-equal-slinkies").items()
           if key not in ("groundworks", "sizing", "plot", "heat")}  # fmt: skip
    paste(page, {**job, "array": _legs({"slinky": {**_SLINKY, "depth_m": 1.2}})})
    deep = dig.get_by_label("Deep").first
    assert deep.input_value() == "1.3"
    field = '[data-pointer="/array/branches/0/loop/legs/1/slinky/depth_m"]'
    page.evaluate(
        "() => { for (const each of document.querySelectorAll('details')) each.open = true; }"
    )
    page.locator(field).fill("2")
    assert deep.input_value() == "2.1"
    assert "groundworks" not in job_file(page)
    deep.fill("1.9")
    page.locator(field).fill("2.2")
    assert deep.input_value() == "1.9"


def test_pumps_of_ones_own_are_judged_and_not_taken_for_invented_ones(open_bench: Open) -> None:
    page = open_bench()
    pumps = open_step(page, "pump_choice")
    pumps.get_by_label("Pumps", exact=True).select_option("invented")
    assert "No maker sells these pumps" in pumps.text_content()
    pumps.get_by_label("Pumps", exact=True).select_option("own")
    pumps.get_by_label("Tables, as CSV rows or JSON").fill(PUMPS_CSV)
    ranked = ask(page, "pump_choice")
    names = [row.text_content() for row in ranked.locator("tbody tr.meets:not(.under)").all()]
    assert [name.split(" (")[0] for name in names] == ["1. Ample"]
    assert "Misses: cold" in ranked.locator("tr.under.misses").text_content()
    per_heat = [
        row.locator("td").last.text_content()
        for row in ranked.locator("tr.meets:not(.under)").all()
    ]
    assert all(re.fullmatch(r"\d+\.\d", told) for told in per_heat), per_heat  # no grade
    assert "up to 10.6 W/kW (5 hp per 100 tons) is high performance" in ranked.text_content()
    assert "no maker sells" not in ranked.text_content().lower()
    assert "1 of 2 meet it" in page.text_content("#jobline")


def test_a_way_put_into_the_array_does_what_it_said(open_bench: Open) -> None:
    page = open_bench()
    job = example("juniper-rise-direct-return")
    job["balancing"]["target"] = "even"  # as the sheet of the array judges
    paste(page, job)
    ways = ask(page, "balancing")
    rows = ways.locator("tbody tr:not(.under):not(.asitis)")
    said = [[cell.text_content() for cell in row.locator("th, td").all()] for row in rows.all()]
    assert len(said) == 5
    before = page.text_content("#was-spread")
    for name, _, _, spread, head, *_ in said:
        page.get_by_role("button", name=f"Put it in: {name}").click()
        settled(page)
        # The spread is shown to a tenth of a per cent, the head to three digits.
        shown = _found(r"Spread ([\d.]+) %, was ", page.text_content("#was-spread"))
        assert abs(float(shown[1]) - float(spread)) < 0.11, name
        assert abs(float(page.text_content("#duty-head")) / float(head) - 1) < 0.006, name
        assert "from before a change" in page.text_content("#step-balancing .stand")
        page.get_by_role("button", name="Undo").click()
        settled(page)
    assert page.text_content("#was-spread").startswith(before.split(",")[0])
    assert "before" not in page.text_content("#step-balancing .stand")


def test_what_imbalance_costs_in_heat_is_told_where_the_ground_is(open_bench: Open) -> None:
    page = open_bench()
    page.select_option("#example", "quince-barn-equal-slinkies")
    settled(page)
    step = open_step(page, "balancing")
    step.get_by_label("What imbalance costs in heat").select_option("ground_c")
    shown = ask(page, "balancing")
    job = {
        **example("quince-barn-equal-slinkies"),
        "ground_at_loops": {"ground_c": 8, "resistance_m_k_w": 0.25},
    }
    answer = page.request.post(f"{page.url}v1/balancing", data=job).json()
    cost = answer["heat_cost"]
    assert f"{cost['heat_lost_w']:.0f} W, {cost['heat_lost_percent']:.1f} %" in shown.text_content()
    assert shown.get_by_role("region", name="Heat of every loop").locator("tbody tr").count() == 3


def test_a_bad_value_shows_its_fault_at_its_field_in_a_step(open_bench: Open) -> None:
    page = open_bench()
    for key, label in (
        ("balancing", "Pump's efficiency"),
        ("commissioning", "Filled at"),
    ):
        step = open_step(page, key)
        field = step.get_by_label(label)
        if not field.is_visible():
            step.locator("summary", has_text="Pump, spare pipe").click()
        good = field.input_value()
        field.fill("-444")
        assert "−444" in ask(page, key).locator(".problem").text_content()
        assert field.get_attribute("aria-invalid") == "true"
        said = page.locator(f"#{field.get_attribute('aria-describedby')}")
        assert said.is_visible()
        assert "−444" in said.text_content()
        assert field.evaluate("field => field === document.activeElement")
        assert "not answered" in page.text_content("#jobline .faulty")
        field.fill(good)
        ask(page, key)
        assert field.get_attribute("aria-invalid") is None
        assert step.locator(".problem").count() == 0


# Fills every box for a number with what is none, asks, and gives what is then told at each, for
# every way in which something can be told; every list has a row. A box that another way shows again
# under the same label is told its fault once.
WALK = """async ({ root: selector, ask }) => {
  const root = document.querySelector(selector);
  const rest = (ms) => new Promise((done) => { setTimeout(done, ms); });
  const result = ask ? root.querySelector('.get') : document.documentElement;
  const shown = () => result.dataset.shown;
  for (const each of root.querySelectorAll('details')) each.open = true;
  await rest(30);
  const adds = [...root.querySelectorAll('button.add[data-key$="+"]')];
  for (const each of adds.map((one) => one.dataset.key)) {
    root.querySelector(`[data-key="${CSS.escape(each)}"]`)?.click();
  }
  // A run that was added is in the job once its pipe is told, too.
  const pipes = '.item.draft select[data-pointer$="/pipe"]';
  for (const each of root.querySelectorAll(pipes)) {
    each.value = 'PE100 SDR11 50';
    each.dispatchEvent(new Event('change'));
  }
  const told = {};
  const labelOf = (box) => box.closest('.field').querySelector('label').firstChild.textContent;
  const keyOf = (box) => `${box.dataset.pointer} ${labelOf(box)}`;
  const walk = async () => {
    const before = shown();
    const boxes = [...root.querySelectorAll('input.number')].filter((box) => !(keyOf(box) in told));
    if (!boxes.length) return;
    for (const box of boxes) {
      box.value = '1 x';
      box.dispatchEvent(new InputEvent('input', { bubbles: true }));
    }
    if (ask) root.querySelector('.ask button').click();
    for (let tries = 0; tries < 400 && shown() === before; tries += 1) await rest(5);
    for (const box of boxes.filter((each) => each.isConnected)) {
      told[keyOf(box)] = [labelOf(box), box.closest('.field').querySelector('.fault').textContent];
    }
  };
  await walk();
  const ways = [...root.querySelectorAll('select[data-key$=":way"], select[data-key$=":kind"]')]
    .map((each) => each.dataset.key);
  const alike = new Map(ways.map((each) => [each.replace(/\\d+/g, ''), each]));
  for (const key of alike.values()) {
    const find = () => root.querySelector(`[data-key="${CSS.escape(key)}"]`);
    for (const option of [...find()?.options ?? []].map((each) => each.value)) {
      if (find().value === option) continue;
      find().value = option;
      find().dispatchEvent(new Event('change'));
      await walk();
    }
  }
  return told;
}"""


def test_every_box_is_told_its_fault_by_its_own_label(open_bench: Open) -> None:
    page = open_bench()
    for key in (*STEPS, "editor"):
        if key in STEPS:
            open_step(page, key)
        root = f"#step-{key}" if key in STEPS else "#editor"
        told = page.evaluate(WALK, {"root": root, "ask": key in STEPS})
        assert told, root
        for pointer, (label, words) in told.items():
            typed = rf"“{label}” is “1 x”; type a (whole )?number (from|of more than) [-−\d]"
            assert re.match(typed, words), (pointer, words)
            assert not re.search(r"[a-z]_[a-z]|JSON|/[a-z]+/", words), (pointer, words)
        if key in {"sizing", "commissioning"}:  # the service tells a hundred faults at most
            paste(page, example("quince-barn-short-tail"))


@pytest.mark.parametrize("typed", ["1 0,5", "ab"])
def test_what_is_no_number_is_in_no_job_and_its_box_says_so(open_bench: Open, typed: str) -> None:
    page = open_bench()
    job = example("quince-barn-short-tail")
    _unfold_loop(page)
    own = page.locator('[data-pointer="/array/branches/0/loop/legs/0/straight/length_m"]')
    steps = {key: open_step(page, key) for key in ("sizing", "commissioning")}
    boxes = (
        (own, str(job["array"]["branches"][0]["loop"]["legs"][0]["straight"]["length_m"])),
        (steps["sizing"].get_by_label("Heat pump gives"), "8"),
        (steps["commissioning"].get_by_label("Filled at"), "12"),
    )
    for box, kept in boxes:
        box.focus()
        # Sign by sign: “1” alone is a number, and was not meant.
        box.evaluate(
            """(box, typed) => [...typed].forEach((_, at) => {
              box.value = typed.slice(0, at + 1);
              box.dispatchEvent(new InputEvent('input', { bubbles: true }));
            })""",
            typed,
        )
        said = page.locator(f"#{box.get_attribute('aria-describedby')}").text_content()
        assert f"is “{typed}”; type a number" in said
        assert said.endswith(f"The job keeps {kept}.")
        assert _kept(page) == job
    # Nothing is answered of what a box does not show.
    assert f"“{typed}”" in ask(page, "commissioning").locator(".problem").first.text_content()
    page.locator("#problem", has_text=f"“{typed}”").wait_for()
    assert "Not solved" in page.text_content("#verdict-words")
    page.reload()
    settled(page)
    assert job_file(page) == job
    assert page.get_by_label("Heat pump gives").input_value() == "8"
    # Lists of numbers too: coils on offer.
    dug = open_step(page, "groundworks")
    dug.locator("summary", has_text="Pipe that can be had").click()
    coils = dug.get_by_label("Coils of").first
    coils.fill("100 50x")
    said = page.text_content(f"#{coils.get_attribute('aria-describedby')}")
    assert "“50x” cannot be read as a number" in said
    assert _kept(page) == job


def test_faults_that_tie_two_boxes_name_both_and_where_they_stand(open_bench: Open) -> None:
    page = open_bench()
    page.get_by_label("Back from ground").fill("-9")
    page.locator("#problem:not([hidden])").wait_for()
    told = page.text_content("#problem")
    assert "“Back from ground” is −9 and “Out to ground” −3.5" in told
    assert "go to Duty, Back from ground" in told
    page.get_by_label("Back from ground").fill("0")
    _unfold_loop(page).get_by_role("group", name="Tail out").get_by_label("Length").fill("1,200")
    page.locator("#problem", has_text="go to Array, T1, Tail out, Length").wait_for()
    assert "“1,200” may be 1200 or 1.200" in page.text_content("#problem")


def _unfold_loop(page: Any) -> Any:
    branch = page.locator('li[data-branch="/array/branches/0"]')
    if branch.locator("> details").get_attribute("open") is None:
        branch.locator("> details > summary").click()
    return branch


def test_a_fault_of_the_bench_found_by_a_step_leads_to_its_field(open_bench: Open) -> None:
    page = open_bench()
    page.get_by_label("Strength").fill("95")
    page.locator("#problem:not([hidden])").wait_for()
    get = ask(page, "commissioning")
    get.locator(".problem button").first.click()
    assert page.evaluate("() => document.activeElement.value") == "95"


def test_an_error_of_the_whole_job_leads_the_verdict_as_it_does_the_document(
    open_bench: Open, address: str
) -> None:
    page = open_bench(saves_data=False)
    uneven = "Uneven. T2 takes 10.8 % more than an even share. ±10 % is allowed."
    ask(page, "sizing")
    words = page.locator("#verdict-words", has_text="The array has 90 m of trench")
    words.wait_for()
    assert page.get_attribute("#word", "data-state") == "fault"
    report = page.request.post(f"{address}v1/report", data=example("quince-barn-short-tail")).json()
    headline = report["summary"]["headline"]
    first, after = words.inner_text().split(" 1 more error below.")
    assert headline.startswith(first)
    assert "1 more error below." in headline
    assert after == f" {uneven}"
    assert "Lay more, or leave array and duty out" in page.inner_text("#findings")
    # The array that the sizing decides is as it asks.
    page.get_by_role("button", name="Lay it out").click()
    page.locator('#word[data-state="even"]').wait_for()
    settled(page)
    assert "The array has" not in page.inner_text("#findings")


def test_empty_boxes_say_what_the_service_takes_for_them(open_bench: Open, address: str) -> None:
    page = open_bench()
    accepted = open_step(page, "commissioning").get_by_label("Accepted ±")
    assert accepted.get_attribute("placeholder") == "10"
    page.get_by_label("Flow tolerance ±").fill("20")
    assert accepted.get_attribute("placeholder") == "20"
    settled(page)
    job = example("quince-barn-short-tail")
    told = []
    for meters in ({}, {"max_deviation_percent": 20}):
        body = job | {"limits": {"max_deviation_percent": 20}, "commissioning": {
            **job["commissioning"], "flow_meters": meters}}  # fmt: skip
        answer = page.request.post(f"{address}v1/commissioning", data=body).json()
        told.append([each["max_flow_l_min"] for each in answer["flow_meters"]])
    assert told[0] == told[1]


def test_pasted_pumps_say_which_line_is_wrong(open_bench: Open) -> None:
    page = open_bench()
    step = open_step(page, "pump_choice")
    step.get_by_label("Pumps", exact=True).select_option("own")
    text = step.get_by_label("Tables, as CSV rows or JSON")
    for typed, words in (
        ("", "Paste at least one pump's table"),
        ("pump,flow_l_s\nA,1", "it lacks speed_rpm, head_m, power_w"),
        (PUMPS_CSV.replace("0,5;8,6", "half;8,6"), "Line 3: flow_l_s is 'half'"),
        ('[{"name": ', "not JSON yet"),
        ('[{"name": "A"}]', "tables"),
    ):
        text.fill(typed)
        ask(page, "pump_choice")
        assert words in page.text_content(f"#{text.get_attribute('aria-describedby')}"), typed
    text.fill(PUMPS_CSV + "\nAmple;2600;0,5;8,6;90;7")
    assert "6 cells" in page.text_content(f"#{text.get_attribute('aria-describedby')}")
    candidates = example("quince-barn-short-tail")["pump_choice"]["candidates"]
    text.fill(json.dumps(candidates))
    shown = ask(page, "pump_choice")
    assert shown.locator("tbody tr:not(.under)").count() == len(candidates)
    shown.get_by_role("button", name="Draw").nth(1).click()
    assert shown.get_by_role("button", name="Draw").nth(1).get_attribute("aria-pressed") == "true"
    assert shown.locator("svg.pumps .at.cold").count() == 1


def test_a_text_that_holds_no_pumps_yet_survives_a_reload_beside_the_job(open_bench: Open) -> None:
    page = open_bench()
    paste(page, {part: value for part, value in example("quince-barn-short-tail").items()
                 if part != "pump_choice"})  # fmt: skip
    step = open_step(page, "pump_choice")
    step.get_by_label("Pumps", exact=True).select_option("own")
    text = step.get_by_label("Tables, as CSV rows or JSON")
    text.fill("pump,flow_l_s\nA,1")
    page.reload()
    settled(page)
    assert text.input_value() == "pump,flow_l_s\nA,1"
    assert "it lacks speed_rpm" in page.text_content(f"#{text.get_attribute('aria-describedby')}")
    assert "candidates" not in _kept(page)["pump_choice"]
    text.fill(PUMPS_CSV)
    assert len(_kept(page)["pump_choice"]["candidates"]) == 2
    page.reload()
    settled(page)
    assert "Ample (invented)" in text.input_value()
    assert text.get_attribute("aria-invalid") is None


def test_pumps_that_were_read_stay_in_the_job_while_a_text_cannot_be_read(
    open_bench: Open,
) -> None:
    page = open_bench()
    step = open_step(page, "pump_choice")
    step.get_by_label("Pumps", exact=True).select_option("own")
    text = step.get_by_label("Tables, as CSV rows or JSON")
    text.fill(PUMPS_CSV)
    good = job_file(page)["pump_choice"]["candidates"]
    text.fill(PUMPS_CSV.replace("8,6", "8.6 m"))
    told = page.text_content(f"#{text.get_attribute('aria-describedby')}")  # at once, unasked
    assert "8.6 m" in told
    assert "kept" in told
    assert job_file(page)["pump_choice"]["candidates"] == good
    ask(page, "pump_choice")
    assert "8.6 m" in page.text_content(f"#{text.get_attribute('aria-describedby')}")


def test_hostile_names_are_text_in_every_step(open_bench: Open) -> None:
    page = open_bench(own=True)
    hostile = "<img src=x onerror=alert(1)>"
    dialogs: list[str] = []

    def note(dialog: Any) -> None:
        dialogs.append(dialog.message)
        dialog.dismiss()

    page.on("dialog", note)
    job = example("quince-barn-short-tail")
    job["name"] = hostile
    for branch in job["array"]["branches"]:
        branch["loop"]["name"] += hostile
    paste(page, job)
    step = open_step(page, "pump_choice")
    step.get_by_label("Pumps", exact=True).select_option("own")
    step.get_by_label("Tables, as CSV rows or JSON").fill(PUMPS_CSV.replace("Ample", hostile))
    for key in ("balancing", "pump_choice", "groundworks", "commissioning"):
        assert hostile in ask(page, key).text_content()
    page.locator("img.planimage").evaluate("image => image.decode()")
    sources = page.evaluate("() => [...document.images].map((image) => image.src)")
    assert [source.split(":")[0] for source in sources] == ["blob"]
    assert dialogs == []


# What comes first where people get hurt.
HURT = {
    "groundworks": "Trenches collapse without warning",
    "commissioning": "Never test with air",
}


def test_every_step_answered_fits_a_phone_and_names_its_controls(open_bench: Open) -> None:
    page = open_bench(
        own=True, viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
    )
    for key in STEPS:
        get = ask(page, key)
        assert page.evaluate("() => document.documentElement.scrollWidth") <= 360, key
        wide = get.locator(".scroller").all()
        for region in wide:
            assert region.get_attribute("tabindex") == "0"
            assert region.get_attribute("aria-label")
        assert get.evaluate("box => box.scrollWidth <= box.clientWidth + 1"), key
        if key in HURT:
            first = get.locator("> *:not([hidden])").first
            assert "hurt" in first.get_attribute("class")
            assert HURT[key] in first.text_content()
    open_step(page, "report")
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 360
    twice = page.evaluate(
        """() => { const ids = [...document.querySelectorAll('[id]')].map((each) => each.id);
            return ids.filter((id, at) => ids.indexOf(id) !== at); }"""
    )
    assert twice == []
    assert barriers(page) == []
    for media in ({"color_scheme": "dark"}, {"media": "print"}):
        page.emulate_media(**media)
        assert barriers(page, "color-contrast") == [], media


def test_nothing_is_asked_until_a_button_is_pressed(open_bench: Open) -> None:
    page = open_bench(own=True)
    posted: list[str] = []
    page.on("request", lambda each: posted.append(each.url) if each.method == "POST" else None)
    for key in (*STEPS, "report"):
        open_step(page, key)
    assert posted == []
    ask(page, "groundworks")
    assert {url.rsplit("/v1/", 1)[1] for url in posted} == {"groundworks", "groundworks/plan.svg"}


def test_items_of_the_bill_are_priced_where_they_are_counted(
    open_bench: Open, address: str
) -> None:
    page = open_bench()
    get = ask(page, "groundworks")
    page.get_by_text("Prices", exact=True).click()
    page.get_by_label("The bill tells").select_option("currency")
    for price in ("310,5", "400"):
        page.get_by_role("button", name="Add price").click()
        page.get_by_label("Price of one").last.fill(price)
    ask(page, "groundworks")
    bill = page.request.post(f"{address}v1/groundworks", data=_kept(page)).json()["bill"]
    assert [each.get("price") for each in bill["items"][:3]] == [310.5, 400, None]
    shown = get.get_by_role("region", name="Bill of quantities").text_content()
    assert all(each["item"] in shown for each in bill["items"])
    assert f"{bill['total']:.2f}" in shown
    page.get_by_role("button", name="Keep this variant").click()
    assert f"{bill['total']:.2f} EUR" in page.text_content("#variants")


def _kept(page: Any) -> Any:
    return json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')"))


def test_a_step_is_worked_by_keyboard_alone(open_bench: Open) -> None:
    page = open_bench()
    page.get_by_role("link", name="Dig it").focus()
    page.keyboard.press("Enter")
    step = page.locator("#step-groundworks[open]")
    step.locator(".give .ask").wait_for()
    step.locator("> summary").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.labels[0].textContent") == "A lorry holds m³"
    page.keyboard.type("7")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    step.locator(".get[data-shown]").wait_for()
    assert job_file(page)["groundworks"]["lorry_m3"] == 8


def test_an_edit_of_the_array_marks_the_answers_before_it(open_bench: Open) -> None:
    page = open_bench()
    ask(page, "commissioning")
    stand = page.locator("#step-commissioning .stand")
    assert "before" not in stand.text_content()
    page.get_by_role("button", name="Duplicate T1").click()
    settled(page)
    assert "from before a change" in stand.text_content()
    assert page.locator("#step-commissioning .stalenote").is_visible()
    ask(page, "commissioning")
    assert "before" not in stand.text_content()


def test_the_job_is_kept_in_its_tab_and_opened_from_its_file(
    open_bench: Open, tmp_path: Path
) -> None:
    page = open_bench()
    step = open_step(page, "groundworks")
    step.get_by_label("A lorry holds").fill("6")
    ask(page, "groundworks")
    job = job_file(page)
    page.reload()
    settled(page)
    assert page.locator("#step-groundworks").get_attribute("open") is not None
    page.locator("#step-groundworks .give .ask").wait_for()
    assert page.locator("#step-groundworks").get_by_label("A lorry holds").input_value() == "6"

    # The file is the job: the service takes it, and the bench opens it again.
    assert page.request.post(f"{page.url}v1/report", data=job).ok
    whole = example("quince-barn-short-tail")
    file = tmp_path / "job.json"
    file.write_text(json.dumps(whole), "utf-8")
    page.set_input_files("#open-file", file)
    page.wait_for_function("() => document.querySelector('#step-report .stand')"
                           ".textContent.includes('5 chapters')")  # fmt: skip
    settled(page)
    assert job_file(page) == whole


def test_a_job_without_an_array_keeps_no_result_of_the_one_before(open_bench: Open) -> None:
    page = open_bench()
    ask(page, "balancing")
    done = page.locator("#jobline li.done")
    assert {each.locator("a").text_content() for each in done.all()} == {"The array", "Even it out"}
    page.select_option("#example", "quince-barn-from-load")
    done.first.wait_for(state="detached")  # the example is fetched before the page is busy
    settled(page)
    assert done.count() == 0
    assert "not laid out" in page.locator("#jobline li", has_text="The array").text_content()
    job = example("quince-barn-from-load")
    del job["sizing"]
    paste(page, job)
    assert done.count() == 0
    assert "no array yet" in page.locator("#jobline li", has_text="The array").text_content()
    step = open_step(page, "report")
    assert "no array yet" in step.locator(".stand").text_content()
    told = step.locator(".get").text_content()
    assert "No document yet" in told
    assert "✓" not in told  # nothing of it could be written
    page.select_option("#example", "quince-barn-short-tail")
    page.locator("#leave").get_by_role("button", name="Go on without").click()
    done.first.wait_for()
    settled(page)
    assert "3 loops, spread 16 %" in page.locator("#jobline li.done").text_content()
    told = step.locator(".get").text_content()
    assert re.search(r"▲Inputs, flow split and pump duty\d warnings: 3 loops", told), told


def test_no_table_of_the_ways_is_cut_off_beside_its_form(open_bench: Open) -> None:
    page = open_bench(viewport={"width": 1300, "height": 900})
    found = ask(page, "balancing")
    width = found.locator(".scroller").first.evaluate("box => [box.scrollWidth, box.clientWidth]")
    assert width[0] <= width[1]
    assert "Takes 3 valves." in found.text_content()


def test_a_spread_below_what_is_known_is_none(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-equal-slinkies")
    branches = job["array"]["branches"]
    branches[0]["loop"]["legs"][0]["straight"]["length_m"] *= 1 + 1e-6
    paste(page, job)
    line = page.locator("#jobline li", has_text="The array").text_content()
    assert re.search(r"spread 0 %", line), line
    written = page.evaluate(
        """async () => {
          const { digits, percent } = await import('/assets/bench/dom.js');
          return [26145400, -1234.4, 0.0123456, 0].map((each) => digits(each))
            .concat([0.000052, 16.23].map(percent));
        }"""
    )
    assert written == ["26100000", "−1234", "0.0123", "0", "0 %", "16 %"]


def test_findings_are_told_in_the_signs_of_print(open_bench: Open) -> None:
    page = open_bench()
    told = ask(page, "sizing").locator(".findings").text_content()
    told += ask(page, "balancing").text_content()
    assert re.search(r"−\d", told)
    assert not re.search(r"[ (]-\d|\d%|\de[+-]\d", told), told


_CROSSED = """() => {
    const edges = [...document.querySelectorAll("svg.array .bandedge, svg.array .even")];
    const numbers = [...document.querySelectorAll("svg.array :is(text.value, text.circuitvalue)")];
    return numbers.filter(text => {
        const told = text.getBoundingClientRect();
        return edges.some(edge => {
            const at = edge.getBoundingClientRect();
            return told.left < at.right && told.right > at.left;
        });
    }).map(text => text.textContent);
}"""


def test_on_a_phone_no_number_crosses_the_tolerance_and_boxes_stand_beside_their_words(
    open_bench: Open,
) -> None:
    page = open_bench(viewport={"width": 390, "height": 844})
    assert page.locator("svg.array text.value").count() == 3
    assert page.evaluate(_CROSSED) == []
    get = ask(page, "setting_out")
    tick, label = get.locator("#follow-plan"), get.locator("label[for=follow-plan]")
    box, words = tick.bounding_box(), label.bounding_box()
    assert box["x"] + box["width"] <= words["x"]
    assert words["y"] <= box["y"] + box["height"] / 2 <= words["y"] + words["height"]
    # Nothing is drawn over: the chamber's name runs over no trench, which lie along the page here.
    name = page.locator("#step-setting_out .laid text.name").bounding_box()
    trenches = page.locator("#step-setting_out .laid .trenchline").all()
    assert len(trenches) == 3
    for trench in (each.bounding_box() for each in trenches):
        half = trench["y"] + trench["height"] / 2
        beside = (
            name["x"] + name["width"] < trench["x"] or name["x"] > trench["x"] + trench["width"]
        )
        assert beside or not name["y"] < half < name["y"] + name["height"]


def test_a_box_shows_no_more_digits_than_anyone_reads(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-equal-slinkies")
    job["duty"] = {"to_ground_c": -3.47430755537, "from_ground_c": 0.02569244463, "heat_kw": 6}
    paste(page, job)
    fields = (page.locator(f'[data-pointer="/duty/{name}"]').first
              for name in ("to_ground_c", "from_ground_c"))  # fmt: skip
    assert [each.input_value() for each in fields] == ["-3.4743", "0.0256924"]
    assert job_file(page)["duty"] == job["duty"]


def test_a_fault_leads_to_the_box_of_the_step_that_asked(open_bench: Open) -> None:
    page = open_bench()
    job = {part: value for part, value in example("quince-barn-equal-slinkies").items()
           if part not in ("plot", "setting_out")}  # fmt: skip
    paste(page, job)
    open_step(page, "sizing")
    for key in ("setting_out", "groundworks"):
        step = open_step(page, key)
        step.get_by_label("Centre to centre").fill("-5")
        problem = ask(page, key).locator(".problem")
        problem.get_by_role("button").first.click()
        assert step.evaluate("step => step.contains(document.activeElement)")


def test_a_limit_that_is_left_out_leads_to_its_own_box(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-from-load")
    job = {part: job[part] for part in ("format", "antifreeze", "heat", "ground", "sizing")}
    job["ground"]["surface"] = {"mean_c": 3, "swing_k": 8}
    paste(page, job)
    problem = ask(page, "sizing").locator(".problem")
    assert "“Coldest return” of 0 °C cannot be kept" in problem.text_content()
    problem.get_by_role("button").first.click()
    box = '[data-pointer="/limits/min_from_ground_c"]'
    assert page.evaluate(f"document.activeElement.matches('{box}')")
