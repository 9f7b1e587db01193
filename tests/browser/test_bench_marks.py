"""What the bench says of a step at a glance, in the line, in its heading and at the hand-over.

Errors and warnings are counted in what the service answers to the same job.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

from tests.browser.conftest import ask, barriers, example, open_step, paste, settled

Open = Callable[..., Any]
SIGNS = {"error": "■", "warning": "▲"}


def _job(page: Any) -> Any:
    return json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')"))


def _worst(findings: Any) -> str:
    """The worst of them as a mark has it: its sign and how many there are."""
    for kind, sign in SIGNS.items():
        if count := sum(each["severity"] == kind for each in findings):
            return f"{sign} {count} {kind}{'s' * (count != 1)}: "
    return ""


def test_every_mark_leads_with_the_worst_of_its_own_chapter(open_bench: Open, address: str) -> None:
    page = open_bench()
    job = example("quince-barn-short-tail")
    # No coil is long enough, and hardly any room is left to a vessel: errors of two chapters.
    job["pipes"] = [{"name": "PE100 SDR11 32", "coils_m": [20]}]
    job["commissioning"]["pressure_test"] = {"test_pressure_kpa": 2500}
    job["plot"] = {"length_m": 40, "width_m": 6}
    paste(page, job)
    report = open_step(page, "report")
    whole: list[Any] = []
    kinds = set()
    keys = ("setting_out", "balancing", "pump_choice", "groundworks", "commissioning")
    for key in keys:
        ask(page, key)
    settled(page)
    job = _job(page)
    for key in (*keys, "split"):
        url = f"{address}v1/{key.replace('_', '-')}"
        findings = page.request.post(url, data=job).json()["findings"]
        worst = _worst(findings)
        kinds.add(worst[:1])
        whole += findings
        title = page.locator(f"#step-{key} > summary h2").text_content() if key != "split" else ""
        item = page.locator("#jobline li", has_text=title or "The array")
        assert item.locator("span").text_content().startswith(worst or ("0", "1")), key
        assert bool(worst) == any(item.evaluate(
            "(li, kinds) => kinds.map((each) => li.classList.contains(each))", list(SIGNS))
        ), key  # fmt: skip
        if not title:
            assert "uneven" in item.text_content()
            continue
        assert page.text_content(f"#step-{key} .stand").startswith(worst), key
        chapters = {"setting_out": "Places on", "balancing": "Ways to", "pump_choice": "Pumps",
                    "groundworks": "Digging", "commissioning": "Commissioning"}  # fmt: skip
        row = report.locator(".contents-ledger li", has_text=chapters[key])
        assert row.locator("span").first.text_content() == (worst[:1] or "✓"), key
        assert worst[2:] in row.text_content()
    assert kinds >= {"■", "▲"}
    assert report.locator(".stand").text_content().startswith(_worst(whole))
    assert barriers(page, "color-contrast") == []


def test_what_was_not_asked_of_an_opened_job_is_not_ticked_off(
    open_bench: Open, address: str
) -> None:
    page = open_bench()
    job = example("quince-barn-short-tail")
    job["commissioning"]["pressure_test"] = {"test_pressure_kpa": 2500}  # bears an error
    paste(page, job)
    report = open_step(page, "report")
    settled(page)
    row = report.locator(".contents-ledger li", has_text="Commissioning")
    assert row.locator("span").first.text_content() == "○"
    assert "not asked yet" in row.text_content()
    before = re.search(r"(\d) not asked yet", report.locator(".stand").text_content())
    assert before
    ask(page, "commissioning")
    answer = page.request.post(f"{address}v1/commissioning", data=_job(page)).json()
    assert "error" in [each["severity"] for each in answer["findings"]]
    assert row.locator("span").first.text_content() == "■"
    after = re.search(r"(\d) not asked yet", report.locator(".stand").text_content())
    assert after
    assert int(after[1]) == int(before[1]) - 1


def test_a_pressure_to_be_tested_at_is_not_said_to_have_been(open_bench: Open) -> None:
    page = open_bench()
    paste(page, example("quince-barn-short-tail"))
    ask(page, "commissioning")
    stand = page.text_content("#step-commissioning .stand")
    assert ", test pressure " in stand
    assert "tested" not in stand


def test_a_load_changed_after_the_array_was_laid_is_told_wherever_the_array_is(
    open_bench: Open, address: str
) -> None:
    page = open_bench()
    page.get_by_role("button", name="a heat load").click()
    page.locator("#step-sizing .give .ask").wait_for()
    heat = page.get_by_label("Heat pump gives")
    heat.fill("9,5")
    ask(page, "sizing")
    page.get_by_role("button", name="Lay it out").click()
    settled(page)
    marks = {
        name: page.locator("#jobline li", has_text=name) for name in ("The array", "Hand over")
    }
    page.wait_for_timeout(1000)
    assert "as the load asks" not in page.text_content("#jobline")
    heat.fill("14")
    marks["The array"].filter(has_text="not as the load asks").wait_for()
    found = page.request.post(f"{address}v1/designs", data=_job(page)).json()["findings"]
    assert {"smaller_than_sized", "duty_not_as_sized"} <= {each["code"] for each in found}
    for item in marks.values():
        assert item.locator("span").text_content().startswith("■ 1 error: ")
        assert item.locator("span").text_content().endswith(" · not as the load asks")
    assert " · 1 from before a change" in marks["Hand over"].text_content()
    assert page.get_attribute("#word", "data-state") == "fault"
    assert page.text_content("#verdict-words").startswith("The array has ")
    # What the service refuses of the load is not taken for an array as asked.
    heat.fill("0")
    marks["The array"].filter(has_text="not known whether it is as the load asks").wait_for()
    # As it was sized, it is as the load asks.
    heat.fill("9.5")
    marks["The array"].filter(has_not_text="as the load asks").wait_for()
    assert "before a change" not in page.text_content("#jobline")
    # Warnings of a chapter are not lost by its age.
    before = marks["Hand over"].locator("span").text_content()
    page.locator("#step-sizing").get_by_label("Through").fill("21")
    marks["Hand over"].filter(has_text="1 from before a change").wait_for()
    assert marks["Hand over"].locator("span").text_content().startswith(before[:4])
