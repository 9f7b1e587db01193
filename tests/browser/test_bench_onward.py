"""From one step of the bench to the next: the result is in sight, and the keyboard is there."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.browser.conftest import ask, example, paste, settled

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


def test_there_is_one_way_on_at_a_time_and_a_plot_passed_over_is_said_to_be(
    open_bench: Open,
) -> None:
    page = open_bench()
    paste(page, {part: value for part, value in example("quince-barn-short-tail").items()
                 if part != "plot"})  # fmt: skip
    onward = page.get_by_role("button", name="Next: ").locator("visible=true")
    assert onward.all_text_contents() == ["Next: compare the ways"]
    assert "“On the plot” is passed over: the job has no plot." in page.text_content("#passed")
    page.get_by_role("button", name="Tell the plot").click()
    page.locator("#step-setting_out").get_by_label("The plot is told").wait_for()
    for key, following in (("balancing", "judge the pumps"), ("groundworks", "work out the sheet")):
        ask(page, key)
        assert onward.all_text_contents() == [f"Next: {following}"]


def test_a_tail_typed_by_hand_stays_and_the_plan_is_no_longer_followed(open_bench: Open) -> None:
    page = open_bench()
    paste(page, example("fern-paddock-around-the-house"))
    plan = ask(page, "setting_out")
    plan.locator("#follow-plan").check()
    settled(page)
    job = json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')"))
    (first, *_) = job["array"]["branches"]
    assert "circuit" in first
    place = "/array/branches/0/circuit/branches/0/loop/legs/0/straight/length_m"
    for _ in range(2):  # a chamber, then its loops
        page.evaluate("() => document.querySelectorAll('#form-array details')"
                      ".forEach((each) => { each.open = true; })")  # fmt: skip
        page.locator("#form-array details[open] .body > *").first.wait_for()
    page.locator(f'[data-pointer="{place}"]').fill("33")
    assert page.locator("#own-tails").is_visible()
    page.locator("#step-setting_out .laid:not(.stale)").wait_for()
    settled(page)
    assert not plan.locator("#follow-plan").is_checked()
    kept = json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')"))
    tail = kept["array"]["branches"][0]["circuit"]["branches"][0]["loop"]["legs"][0]
    assert tail == {"straight": {"length_m": 33}}
    # Undo goes back to the plan's, which is then followed again.
    page.get_by_role("button", name="Undo").click()
    settled(page)
    assert page.locator("#own-tails").is_hidden()


def test_sentences_tell_pressures_and_flows_in_the_units_chosen_too(open_bench: Open) -> None:
    page = open_bench()
    page.select_option("#unit-drop", "bar")
    told = page.evaluate("""async () => {
      const { inUnits } = await import('/assets/bench/units.js');
      return ['It drops 12.3 kPa at 0.45 L/s.', 'From 10 to 20 kPa.', '9 kPa/m; 300 kPa (3 bar)']
        .map(inUnits);
    }""")
    assert told == [
        "It drops 12.3 kPa (0.123 bar) at 0.45 L/s.",
        "From 10 to 20 kPa (0.100 to 0.200 bar).",
        "9 kPa/m; 300 kPa (3 bar)",
    ]
    page.locator("#why", has_text=" kPa (0.").wait_for()
    page.select_option("#unit-drop", "kPa")
    assert " kPa (" not in page.text_content("#why")
