"""The bench's page for studies: the whole walk, from a job to a case that is opened on the bench.

What it shows is compared with what the service tells of the same study.
"""

from __future__ import annotations

import json
import threading
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from waitress.server import create_server

from api import create_app
from api.settings import Settings
from api.studies.runner import run
from tests.browser.conftest import barriers, example

Open = Callable[..., Any]


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A service whose studies lie in a folder of its own, and are run beside it."""
    settings = Settings(studies_folder=str(tmp_path_factory.mktemp("studies")), cache_bytes=0)
    server: Any = create_server(create_app(settings), host="127.0.0.1", port=0, threads=8)
    ended = threading.Event()

    def runs() -> None:
        while not ended.is_set():
            run(settings, idle=0.5)

    threads = [threading.Thread(target=each, daemon=True) for each in (server.run, runs)]
    for each in threads:
        each.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    ended.set()
    server.close()
    for each in threads:
        each.join(timeout=5)


def test_a_study_is_begun_watched_questioned_and_a_case_is_opened(
    open_bench: Open, service: str, tmp_path: Path
) -> None:
    page = open_bench(own=True)
    job = {**example("quince-barn-short-tail"), "name": "Walk (invented)"}
    file = tmp_path / "job.json"
    file.write_text(json.dumps(job))
    page.goto(f"{service}/studies")
    page.set_input_files("#open-file", file)
    page.get_by_text("“Walk (invented)”, from job.json.").wait_for()

    # Something in words, in one place and in all loops alike, and a pointer besides.
    first = page.locator("#varied > li").first
    first.get_by_label("What").select_option(label="Strength, %")
    first.get_by_label("From", exact=False).fill("20")
    first.get_by_label("To", exact=False).fill("none")
    assert "“none”, and must be a number" in page.locator("#count-fault").text_content()
    assert page.locator("#start").is_disabled()
    first.get_by_label("To", exact=False).fill("5")
    assert "must be more than" in page.locator("#count-fault").text_content()
    first.get_by_label("From", exact=False).fill("5")
    first.get_by_label("To", exact=False).fill("25")
    first.get_by_label("How many").fill("2")
    page.get_by_role("button", name="Vary something").click()
    second = page.locator("#varied > li").nth(1)
    second.get_by_label("What").select_option(label="Pipe")  # the first so called: of all loops
    second.get_by_label("PE100 SDR11 40", exact=True).check()
    page.get_by_role("button", name="Vary something").click()
    third = page.locator("#varied > li").nth(2)
    third.get_by_label("What").select_option("other")
    third.get_by_label("JSON Pointer").fill("/array/branches/1/loop/legs/0/straight/length_m")
    third.get_by_label("Values, with ; between").fill("5; 9,5; 14")
    assert page.locator("#count").text_content() == "12 cases: 2 × 2 × 3."
    assert not barriers(page)

    page.get_by_role("button", name="Begin the study").click()
    page.locator('html[data-shown="finished 12"]').wait_for(state="attached")
    page.locator("#best-found table").wait_for()
    study = page.evaluate("() => location.hash.slice(1)")
    told = fetched(f"{service}/v1/studies/{study}/results")["rows"]
    failed = [row for row in told if row["status"] != 200]
    assert failed  # 5 % freezes at the duty
    assert f"{len(failed)} cases of these could not be computed" in page.inner_text("#progress")
    lines = page.locator("#table tbody tr")
    assert lines.count() == 12
    assert failed[0]["problem"]["detail"] in lines.nth(failed[0]["case"] - 1).text_content()

    # Sorted, the best under a limit, the front and what matters.
    page.get_by_role("button", name="Sort by Head, kPa").click()
    page.get_by_text("least first").wait_for()
    good = sorted(
        (row for row in told if row["status"] == 200),
        key=lambda row: row["results"]["/pump/head_kpa"],
    )
    cases = [each.strip() for each in page.locator("#table tbody th").all_inner_texts()]
    assert cases == [str(row["case"]) for row in good]
    page.get_by_role("button", name="Add a limit").click()
    page.get_by_label("Only where").select_option("/imbalance/spread_percent")
    spreads = sorted(row["results"]["/imbalance/spread_percent"] for row in good)
    most = spreads[len(spreads) // 2]
    page.get_by_label("this", exact=True).fill(str(most))
    page.get_by_role("button", name="Find the best").click()
    page.get_by_role("region", name="What each limit costs").wait_for()
    goals = [{"sum": [{"at": "/pump/head_kpa"}]}]
    limits = [{"at": "/imbalance/spread_percent", "max": most}]
    best = fetched(f"{service}/v1/studies/{study}/best", {"goals": goals, "limits": limits})
    shown = page.get_by_role("region", name="The best cases").locator("tbody th")
    assert [each.strip() for each in shown.all_inner_texts()] == [
        str(row["case"]) for row in best["rows"]
    ]
    page.get_by_role("button", name="Draw the front").click()
    page.locator("#front-found img").wait_for()
    page.get_by_role("button", name="Draw what matters").click()
    page.locator("#influence-found table").wait_for()
    page.wait_for_function("() => [...document.images].every((each) => each.naturalWidth > 0)")
    assert not barriers(page)
    page.emulate_media(color_scheme="dark")
    assert not barriers(page, "color-contrast")
    page.emulate_media(color_scheme="light")
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 360

    # A case on the bench is its job; what was there comes back by Undo.
    case = good[0]
    name = f"Open case {case['case']} on the bench"
    page.locator("#table").get_by_role("button", name=name).click()
    page.wait_for_url(f"{service}/")
    page.locator("#verdict:not([aria-busy])").wait_for()
    opened = page.evaluate("() => JSON.parse(sessionStorage.getItem('evenloop-bench'))")
    assert opened["array"]["branches"][1]["loop"]["pipe"] == "PE100 SDR11 40"
    for at, value in case["varied"].items():
        found: Any = opened
        for part in at.split("/")[1:]:
            found = found[int(part) if isinstance(found, list) else part]
        assert found == value, at


def test_a_study_that_runs_can_be_cancelled_and_deleted(open_bench: Open, service: str) -> None:
    page = open_bench(own=True)
    page.goto(f"{service}/studies")
    page.locator("#example").select_option("hazel-heath-reverse-return")
    page.get_by_text("The example").wait_for()
    page.locator("#sampling select").select_option("latin_hypercube")
    page.get_by_label("Points").fill("40000")
    assert page.locator("#count").text_content() == "40,000 cases."
    page.get_by_role("button", name="Begin the study").click()
    page.get_by_text("is under way").wait_for()
    cancel = page.get_by_role("button", name="Cancel, and keep what is done")
    cancel.evaluate("button => { button.dataset.seen = 'yes'; }")
    seen = page.locator("html").get_attribute("data-shown")
    page.wait_for_function("seen => document.documentElement.dataset.shown !== seen", arg=seen)
    assert cancel.get_attribute("data-seen") == "yes"  # a press meets it while numbers change
    cancel.click()
    page.locator("#progress").get_by_text("the study was cancelled").wait_for()
    study = page.evaluate("() => location.hash.slice(1)")
    page.get_by_role("button", name="Delete this study").click()
    page.locator("#study").wait_for(state="hidden")
    assert study not in [each["study"] for each in fetched(f"{service}/v1/studies")["studies"]]


def fetched(address: str, body: Any = None) -> Any:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(address, data, {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.load(answer)
