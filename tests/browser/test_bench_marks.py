"""What the bench says of a step at a glance, in the line, in its heading and at the hand-over.

Errors and warnings are counted in what the service answers to the same job.
"""

from __future__ import annotations

import json
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


def test_a_pressure_to_be_tested_at_is_not_said_to_have_been(open_bench: Open) -> None:
    page = open_bench()
    paste(page, example("quince-barn-short-tail"))
    ask(page, "commissioning")
    stand = page.text_content("#step-commissioning .stand")
    assert ", test pressure " in stand
    assert "tested" not in stand
