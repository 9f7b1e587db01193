"""How long from an edit on the bench until the page shows its result, for ten loops?

Run it with ``python -m tests.benchmarks.bench_edit_latency``. It drives Debian's Chromium against
the service on this machine and prints the time from the input event to the updated page, without
the pause that the page waits for more typing, as a ratio to one POST /v1/split of the same
array over HTTP, measured in the same run.
"""

from __future__ import annotations

import json
import statistics
import threading
import time
import urllib.request
from typing import Any

from playwright.sync_api import sync_playwright
from waitress.server import create_server

from api import create_app
from api.settings import Settings
from tests.browser.conftest import CHROMIUM, FLAGS, settled

LOOPS = 10
EDITS = 30


def _request(first_tail_m: float) -> dict[str, Any]:
    coils = {"slinky": {"coils": 30, "coil_diameter_m": 1.0, "pitch_m": 1.0}}
    loops = [
        {
            "name": f"T{number}",
            "pipe": "PE100 SDR11 32",
            "legs": [
                {"straight": {"length_m": tail}},
                dict(coils),
                {"straight": {"length_m": tail}},
            ],
        }
        for number, tail in enumerate([first_tail_m, *(25 + 2 * n for n in range(1, LOOPS))], 1)
    ]
    return {
        "name": "Ten loops (invented)",
        "antifreeze": {"kind": "propylene_glycol", "concentration_percent": 25, "basis": "volume"},
        "duty": {"to_ground_c": -3.5, "from_ground_c": 0, "heat_kw": 28},
        "array": {"arrangement": "direct_return", "header_pipe": "PE100 SDR11 63",
                  "branches": [{"header_m": 5, "loop": each} for each in loops]},
    }  # fmt: skip


def _call_times(address: str) -> list[float]:
    times = []
    for edit in range(EDITS):
        body = json.dumps(_request(25 + edit / 10)).encode()
        asked = urllib.request.Request(
            f"{address}v1/split", data=body, headers={"Content-Type": "application/json"}
        )
        start = time.perf_counter()
        with urllib.request.urlopen(asked) as response:
            response.read()
        times.append((time.perf_counter() - start) * 1e3)
    return times


def _edit_times(address: str) -> list[float]:
    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=str(CHROMIUM), args=list(FLAGS))
        page = chromium.new_page(viewport={"width": 1280, "height": 860})
        page.goto(address)
        settled(page)
        page.locator("#json-pane > summary").click()
        page.fill("#json-text", json.dumps(_request(25)))
        page.locator("svg.array .row").nth(LOOPS - 1).wait_for()
        settled(page)
        page.locator("#json-pane > summary").click()  # folded, as a designer has it
        first = page.locator('li[data-branch="/array/branches/0"]')
        if first.locator("> details").get_attribute("open") is None:
            first.locator("> details > summary").click()
        tail = first.get_by_role("group", name="Tail out").get_by_label("Length")
        for edit in range(EDITS):
            shown = page.get_attribute("html", "data-shown")
            tail.fill(str(26 + edit / 10))
            page.locator(f'html:not([data-shown="{shown}"])').wait_for(state="attached")
            settled(page)
        times: list[float] = page.evaluate(
            "() => performance.getEntriesByName('edit-to-picture')"
            ".map((each) => each.duration - each.detail.debounce)"
        )
        chromium.close()
    return times[-EDITS:]


def main() -> None:
    """Measure and print."""
    server: Any = create_server(create_app(Settings()), host="127.0.0.1", port=0, threads=12)
    threading.Thread(target=server.run, daemon=True).start()
    address = f"http://127.0.0.1:{server.effective_port}/"
    _call_times(address)  # warm up
    calls, edits = _call_times(address), _edit_times(address)
    server.close()
    call, edit = statistics.median(calls), statistics.median(edits)
    print(f"{LOOPS} loops, {len(edits)} edits")
    print(f"one split over HTTP        median {call:7.1f} ms")
    print(f"edit to updated page       median {edit:7.1f} ms, worst {max(edits):.1f} ms")
    print(f"ratio                             {edit / call:7.1f}   (target: under 250 ms)")


if __name__ == "__main__":
    main()
