"""From one step of the bench to the next: the result is in sight, and the keyboard is there."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.browser.conftest import ask, example, paste

Open = Callable[..., Any]


@pytest.mark.parametrize(
    "viewport", [{"width": 1280, "height": 860}, {"width": 390, "height": 844}]
)
@pytest.mark.parametrize(
    ("key", "result"),
    [
        ("sizing", ".get"),
        ("setting_out", ".planboard"),
        ("groundworks", ".get"),
    ],
)
def test_the_result_of_a_step_comes_into_view_with_the_focus(
    open_bench: Open, viewport: dict[str, int], key: str, result: str
) -> None:
    page = open_bench(viewport=viewport)
    paste(page, example("quince-barn-equal-slinkies") | {
        part: example("quince-barn-from-load")[part] for part in ("heat", "ground", "sizing")
    })  # fmt: skip
    ask(page, key)
    box = page.locator(f"#step-{key} {result}")
    page.wait_for_function("box => box === document.activeElement", arg=box.element_handle())
    # Its top is below what sticks to the top of the page, and in the upper half.
    page.wait_for_function(
        """box => {
          const { top } = box.getBoundingClientRect();
          const strip = document.getElementById('verdict').getBoundingClientRect();
          const covered = Math.max(0, strip.top <= 1 ? strip.bottom : 0);
          const isCut = strip.top < -1 && strip.bottom > 1;
          return !isCut && top >= covered - 1 && top < innerHeight / 2 + covered;
        }""",
        arg=box.element_handle(),
    )


def test_who_went_elsewhere_meanwhile_stays_there(open_bench: Open) -> None:
    page = open_bench(own=True)
    page.route("**/v1/groundworks", lambda route: (page.focus("#job-name"), route.continue_()))
    ask(page, "groundworks")
    assert page.evaluate("() => document.activeElement.id") == "job-name"


def test_boreholes_on_a_plot_by_its_corners_are_sized_where_they_are_set_out(
    open_bench: Open, address: str
) -> None:
    page = open_bench()
    job = {part: value for part, value in example("slate-row-from-load").items()
           if part in ("format", "antifreeze", "heat", "ground", "limits")}  # fmt: skip
    job["sizing"] = example("slate-row-from-load")["sizing"]
    job["sizing"]["loop_count"] = 9
    job["sizing"]["array_kind"]["borehole"].pop("rows")
    corners = ((0, 0), (60, 0), (60, 40), (0, 40))
    job["plot"] = {"boundary": [{"x_m": x, "y_m": y} for x, y in corners],
                   "plant_room": {"x_m": 0, "y_m": 20}}  # fmt: skip
    paste(page, job)
    sized = ask(page, "sizing")
    assert "in 9 equal loops" in sized.text_content()
    page.get_by_role("button", name="Lay it out").click()
    kept = json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')"))
    decided = page.request.post(f"{address}v1/sizing", data=job | {
        "setting_out": {"run_pipe": "PE100 SDR11 50"}}).json()["decides"]  # fmt: skip
    assert kept["array"] == decided["array"]
    assert page.locator("#next").text_content() == "Next: set it out"


def test_boreholes_are_filled_and_purged_with_their_test_left_to_be_told(open_bench: Open) -> None:
    page = open_bench()
    paste(page, {part: value for part, value in example("slate-row-boreholes").items()
                 if part != "commissioning"})  # fmt: skip
    sheet = ask(page, "commissioning")
    assert page.locator("#step-commissioning .problem").count() == 0
    assert page.text_content("#step-commissioning .stand").endswith("no pressure test")
    assert "▲ No pressure test is planned: nothing here proves the pipe." in sheet.text_content()
    assert page.get_by_label("Pressure test", exact=True).input_value() == "none"
    assert "Expansion vessel" in sheet.text_content()
