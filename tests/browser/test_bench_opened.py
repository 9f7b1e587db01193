"""A job that is opened or reloaded: nothing is green before all that it holds has answered.

What the headline must tell is an error that the service answers to the same job.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.browser.conftest import ask, example, open_step, settled

Open = Callable[..., Any]
# Every headline that the page shows, with how it stands.
WATCH = """() => {
  const [word, words] = ['word', 'verdict-words'].map((id) => document.getElementById(id));
  window.seen = [];
  new MutationObserver(() => window.seen.push([word.dataset.state, words.textContent]))
    .observe(word, { attributes: true, childList: true, subtree: true, characterData: true });
}"""


def _even(**parts: Any) -> Any:
    """A job whose flow is even and that nothing is wrong with but in these parts."""
    return {**example("quince-barn-equal-slinkies"), **parts}


def _open(page: Any, folder: Path, job: Any) -> None:
    file = folder / "opened.json"
    file.write_text(json.dumps(job), "utf-8")
    shown = page.get_attribute("html", "data-shown")
    page.set_input_files("#open-file", file)
    page.locator(f'html:not([data-shown="{shown}"])').wait_for(state="attached")


def test_no_job_that_is_opened_is_green_before_its_steps_have_answered(
    open_bench: Open, address: str, tmp_path: Path
) -> None:
    page = open_bench(saves_data=False)
    sheet = example("quince-barn-equal-slinkies")["commissioning"]
    of_load = {
        part: example("quince-barn-from-load")[part] for part in ("heat", "ground", "sizing")
    }
    airy, off = copy.deepcopy(sheet), copy.deepcopy(sheet)
    drawn = airy["pressure_test"]["readings"][6]
    assert drawn["stage"] == "letting_down"
    drawn["drawn_off_l"] = 1.5  # ten times what it was: there is air in the pipe
    off["flow_meters"]["readings"][0]["flow_l_min"] = 4
    bad = (
        ("commissioning", _even(commissioning=airy)),
        ("commissioning", _even(commissioning=off)),
        ("groundworks", _even(plot={"length_m": 20, "width_m": 10})),
        ("designs", _even(**of_load)),
    )  # fmt: skip
    page.evaluate(WATCH)
    for address_of, job in bad:
        found = page.request.post(f"{address}v1/{address_of}", data=job).json()["findings"]
        errors = [each["message"] for each in found if each["severity"] == "error"]
        assert errors, address_of
        _open(page, tmp_path, job)
        page.locator('#word[data-state="fault"]').wait_for()
        page.locator("#verdict-words", has_not_text="worked out").wait_for()
        told = page.text_content("#verdict-words")
        assert any(told[:20] == message[:20] for message in errors), (told, errors)
        assert "The flow alone is within ±10 %." in told
        assert page.locator("#undo").is_enabled()  # the job before is a step back
        assert page.locator("#work-out").is_hidden()
        assert json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')")) == job
    page.reload()
    page.evaluate(WATCH)
    page.locator('#word[data-state="fault"]').wait_for()
    states = {state for state, _ in page.evaluate("() => window.seen")}
    assert "even" not in states
    # And one with nothing wrong becomes green, once each step has answered.
    _open(page, tmp_path, _even())
    page.locator('#word[data-state="even"]').wait_for()
    assert "worked out" not in page.text_content("#verdict-words")
    line = page.text_content("#jobline")
    assert line.count("not asked yet") == 4  # of four steps the job holds nothing
    # A change is worked out as well, once the job rests; nothing is green until then.
    page.evaluate(WATCH)
    open_step(page, "groundworks").get_by_label("A lorry holds").fill("7")
    page.locator('#word[data-state="open"]').wait_for()
    assert "“Dig it”" in page.text_content("#verdict-words")
    page.locator('#word[data-state="even"]').wait_for()
    assert "before a change" not in page.text_content("#jobline")
    assert page.evaluate("() => document.activeElement.dataset.pointer") == "/groundworks/lorry_m3"


def test_where_nothing_is_asked_by_itself_the_headline_tells_it_and_offers_it(
    open_bench: Open, tmp_path: Path
) -> None:
    page = open_bench()  # of a browser that saves data
    _open(page, tmp_path, _even())
    settled(page)
    assert page.get_attribute("#word", "data-state") == "open"
    told = page.text_content("#verdict-words")
    assert told.endswith("as it is: “Dig it”, “Fill, purge and test”.")
    page.locator("#work-out").click()
    page.locator('#word[data-state="even"]').wait_for()
    assert page.locator("#work-out").is_hidden()
    # What was asked while folded is all there once it is opened, the plan too.
    page.locator("#step-groundworks > summary").click()
    page.locator("#step-groundworks img.planimage").wait_for()


def _turned_away(page: Any, address: str, times: int) -> None:
    """Let the service turn an address away so often, as it does where it is busy."""
    left = [times]
    problem = {"title": "Too much is under way", "status": 503, "detail": "No turn came."}

    def answer(route: Any) -> None:
        left[0] -= 1
        if left[0] < 0:
            route.continue_()
        else:
            route.fulfill(status=503, headers={"Retry-After": "1"}, json=problem)

    page.route(f"**/v1/{address}", answer)


def test_what_was_turned_away_is_asked_again_and_nothing_old_is_laid_meanwhile(
    open_bench: Open, address: str
) -> None:
    page = open_bench(own=True)
    page.get_by_role("button", name="a heat load").click()
    ask(page, "sizing")
    lay = page.get_by_role("button", name="Lay it out")
    assert lay.is_enabled()
    page.get_by_label("Heat pump gives").fill("14")
    assert lay.is_disabled()  # it would lay what another load asks for
    assert "nothing of it can be put into the job" in page.text_content("#step-sizing .stalenote")
    _turned_away(page, "sizing", 2)
    page.evaluate("""() => {
      const busy = document.getElementById('busy');
      window.told = [];
      new MutationObserver(() => window.told.push(busy.textContent))
        .observe(busy, { childList: true });
    }""")
    ask(page, "sizing")
    assert page.locator("#step-sizing .problem").count() == 0
    assert page.evaluate("() => window.told.filter(Boolean)") == [
        f"“From the load”: the service has no turn now; asked again in {wait} s, {wait} of 5 times."
        for wait in (1, 2)
    ]
    assert page.locator("#busy").is_hidden()
    lay.click()
    settled(page)
    job = json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')"))
    decided = page.request.post(f"{address}v1/sizing", data=job).json()["decides"]
    assert job["heat"]["output_kw"] == 14
    assert job["array"] == decided["array"]
    # It is not asked for ever: then the step says that it has no answer, and nothing is laid.
    page.unroute("**/v1/sizing")
    _turned_away(page, "sizing", 100)
    page.get_by_label("Heat pump gives").fill("15")
    ask(page, "sizing")
    assert page.text_content("#step-sizing .stand") == "■ not answered"
    assert lay.is_disabled()
