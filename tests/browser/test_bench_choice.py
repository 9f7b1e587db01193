"""What is chosen on the bench, and what cannot be, is marked in words and not by colour alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.browser.conftest import ask, barriers, example, paste, settled

Open = Callable[..., Any]


def test_the_pump_that_was_taken_is_marked_in_the_list(open_bench: Open) -> None:
    page = open_bench()
    paste(page, example("quince-barn-short-tail"))
    pumps = ask(page, "pump_choice")
    assert pumps.locator("tr.chosen").count() == 0
    pumps.get_by_role("button", name="Take it: Pump 1, two speeds (invented)").click()
    settled(page)
    row = pumps.locator("tr.chosen:not(.under)")
    assert row.count() == 1
    heading = row.get_by_role("rowheader").text_content()
    assert "Pump 1, two speeds (invented)" in heading
    assert "► the job's pump" in heading
    assert pumps.get_by_role("button", name="Take it: Pump 1, two speeds (invented)").count() == 0
    assert barriers(page, "color-contrast") == []
    # At another head than is found now it is the same pump, and said to be set otherwise.
    pumps.get_by_role("button", name="Take it: Pump 2 with drive (invented)").click()
    settled(page)
    assert row.get_by_role("rowheader").text_content().count("► the job's pump") == 1
    job = example("quince-barn-short-tail")
    choice = page.request.post(f"{page.url}v1/pump-choice", data=job).json()
    (held,) = [each["decides"] for each in choice["pumps"] if each["name"].startswith("Pump 2")]
    held["pump"]["set_head_m"] += 0.5
    paste(page, job | held)
    ask(page, "pump_choice")
    assert "the job's pump, which has another setting" in row.text_content()
    pumps.get_by_role("button", name="Take it out").click()
    settled(page)
    assert pumps.locator("tr.chosen").count() == 0


def test_a_way_that_brings_an_error_leads_with_it_and_reaches_nothing(open_bench: Open) -> None:
    page = open_bench()
    job = example("quince-barn-short-tail")
    job["pipes"] = [{"name": "PE100 SDR11 32", "coils_m": [180]}]
    paste(page, job)
    answer = page.request.post(f"{page.url}v1/balancing", data=job).json()["ways"]
    wrong = {each["way"] for each in answer
             if any(one["severity"] == "error" for one in each["findings"])}  # fmt: skip
    assert wrong == {"spare_pipe"}
    ways = ask(page, "balancing")
    row = ways.locator("tr.faulty:not(.under)")
    assert row.locator("th").text_content() == "Pipe coiled into short loops"
    assert row.locator("td").first.text_content() == "■ 1 error"
    first = ways.locator("tr.faulty.under td > *").first
    assert first.locator("li.error").count() == 1
    reach = sum(each["verdict"] == "reaches" for each in answer) - 1
    assert f"{reach} of {len(answer)} ways reach it" in page.text_content("#step-balancing .stand")
