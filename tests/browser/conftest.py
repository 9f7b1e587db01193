"""A real browser on a real server: Debian's Chromium, driven over its debugging protocol.

Without a browser these tests are skipped with the reason, unless REQUIRE_BROWSER=1.
"""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from waitress.server import create_server

from api import create_app
from api.settings import Settings

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
STEPS = {
    "sizing": "Size the array",
    "balancing": "Compare the ways",
    "pump_choice": "Judge the pumps",
    "groundworks": "Count the digging",
    "commissioning": "Work out the sheet",
    "setting_out": "Set it out",
}

REQUIRED = os.environ.get("REQUIRE_BROWSER") == "1"
CHROMIUM = Path(os.environ.get("CHROMIUM", "/usr/bin/chromium"))
# No sandbox, since CI runs as root; the rest keeps the browser from calling anyone.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


# The bench waits some tenths of a second for more of what is typed before it asks; a test, which
# types all at once, would wait for nothing. Timers keep their order.
HASTE = """{
  const later = window.setTimeout;
  window.setTimeout = (what, wait = 0, ...rest) => later(what, wait / 10, ...rest);
}"""

# Where a browser is to save data, the bench asks for nothing by itself; a test that is not about
# that would else have it asked for five steps of the job that the bench begins with.
SAVES_DATA = "Object.defineProperty(navigator, 'connection', { value: { saveData: true } })"


def _missing() -> str:
    try:
        import playwright  # noqa: F401
    except ImportError:
        return "the package playwright is not installed"
    return "" if CHROMIUM.exists() else f"there is no browser at {CHROMIUM}"


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    reason = _missing()
    if reason:
        if REQUIRED:
            pytest.fail(f"REQUIRE_BROWSER is 1 but {reason}")
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=str(CHROMIUM), args=list(FLAGS))
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    server: Any = create_server(create_app(Settings()), host="127.0.0.1", port=0, threads=12)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}/"
    server.close()
    thread.join(timeout=5)


class _Windows:
    """The windows, by their options, that a worker's tests use one after the other.

    A new one costs a second.
    """

    def __init__(self, browser: Any, address: str) -> None:
        self.browser, self.address = browser, address
        self.thrown: list[str] = []
        self._kept: dict[str, Any] = {}

    def new(self, *, saves_data: bool = True, **options: Any) -> Any:
        sized = {"viewport": {"width": 1280, "height": 860}, **options}
        context = self.browser.new_context(**sized)
        context.set_default_timeout(30_000)  # cores may be busy with other tests
        context.add_init_script(HASTE)
        if saves_data:
            context.add_init_script(SAVES_DATA)
        page = context.new_page()
        page.on("pageerror", lambda error: self.thrown.append(str(error)))
        return page

    def kept(self, **options: Any) -> Any:
        key = json.dumps(options, sort_keys=True)
        if key not in self._kept:
            self._kept[key] = self.new(**options)
        return self._kept[key]

    def leave(self, page: Any) -> None:
        """Leave the bench, and with it all that it has kept for a tab or a browser."""
        if page not in self._kept.values():
            page.context.close()
            return
        page.unroute_all()
        page.goto(f"{self.address}healthz")
        page.evaluate("() => { sessionStorage.clear(); localStorage.clear(); }")
        page.mouse.move(0, 0)


@pytest.fixture(scope="session")
def windows(browser: Any, address: str) -> _Windows:
    return _Windows(browser, address)


@pytest.fixture
def open_bench(address: str, windows: _Windows) -> Iterator[Callable[..., Any]]:
    """Opens the bench; fails the test if the page threw an error.

    It is opened in the window of the tests before, left by them, or in one of its own where a test
    listens, changes the window or opens a second.
    """
    pages: list[Any] = []
    windows.thrown.clear()

    def open_it(*, own: bool = False, **options: Any) -> Any:
        kept = None if own else windows.kept(**options)
        page = windows.new(**options) if kept is None or kept in pages else kept
        pages.append(page)
        page.goto(address)
        settled(page)
        return page

    yield open_it
    for page in pages:
        windows.leave(page)
    assert not windows.thrown


def settled(page: Any) -> None:
    """Wait until the page shows the request as it stands."""
    page.locator("html[data-shown]").wait_for(state="attached")
    page.locator("#verdict:not([aria-busy])").wait_for()


def open_step(page: Any, key: str) -> Any:
    """The step, unfolded."""
    step = page.locator(f"#step-{key}")
    if step.get_attribute("open") is None:
        step.locator("> summary").click()
    step.locator(".give .ask").wait_for()
    return step


def ask(page: Any, key: str) -> Any:
    """Press the step's button; what comes of it."""
    step = open_step(page, key)
    get = step.locator(".get")
    before = get.get_attribute("data-shown")
    step.get_by_role("button", name=STEPS[key], exact=True).click()
    step.locator(f'.get[data-shown]:not([aria-busy]):not([data-shown="{before}"])').wait_for()
    return get


def barriers(page: Any, *rules: str) -> list[str]:
    """What axe-core finds that bars someone from the page as it is; by all rules or by some."""
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate((files("axe_playwright_python") / "axe.min.js").read_text("utf-8"))
    found: list[str] = page.evaluate(
        """async (rules) => (await axe.run({ resultTypes: ['violations'], preload: false,
            ...rules.length && { runOnly: rules } })).violations.flatMap(
                ({ id, nodes }) => nodes.map(({ html }) => `${id}: ${html.slice(0, 200)}`))""",
        rules,
    )
    return found


def job_file(page: Any) -> Any:
    step = open_step(page, "report")
    with page.expect_download() as waiting:
        step.get_by_role("button", name="Whole job, JSON").click()
    return json.loads(Path(waiting.value.path()).read_text("utf-8"))


def paste(page: Any, job: Any) -> None:
    if page.locator("#json-pane").get_attribute("open") is None:
        page.locator("#json-pane > summary").click()
    settled(page)  # of an edit before it
    shown = page.get_attribute("html", "data-shown")
    page.fill("#json-text", json.dumps(job))
    page.locator(f'html:not([data-shown="{shown}"])').wait_for(state="attached")
    settled(page)


def example(name: str) -> Any:
    return json.loads((EXAMPLES / f"{name}.json").read_text("utf-8"))
