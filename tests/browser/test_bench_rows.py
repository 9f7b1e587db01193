"""Rows that are added to lists on the bench: what only the user can tell is not made up."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.browser.conftest import barriers, example, open_step, paste, settled

Open = Callable[..., Any]


def _job(page: Any) -> Any:
    return json.loads(page.evaluate("() => sessionStorage.getItem('evenloop-bench')"))


def _bare() -> Any:
    return {part: value for part, value in example("quince-barn-short-tail").items()
            if part in ("format", "name", "antifreeze", "array", "duty")}  # fmt: skip


@pytest.mark.parametrize(
    ("added", "place", "told"),
    [
        ("point", "heat_exchanger", {"flow_l_s": 0.55, "drop_kpa": 12}),
        ("run", "runs", {"pipe": "PE100 SDR11 63", "length_m": 7.5}),
    ],
)
def test_a_row_that_is_added_is_not_counted_until_it_is_told(
    open_bench: Open, added: str, place: str, told: dict[str, Any]
) -> None:
    page = open_bench()
    bare = _bare()
    paste(page, bare)
    head = page.text_content("#duty-head")
    plant = page.locator("#form-plant")
    row = plant.get_by_role("group", name=f"{added} 1")
    plant.get_by_role("button", name=f"Add {added}", exact=True).click()
    boxes = row.locator("input.number:visible")
    assert [box.input_value() for box in boxes.all()] == [""] * boxes.count()
    assert boxes.count() >= 1
    assert "Not counted until it is filled in" in row.text_content()
    assert _job(page) == bare
    assert barriers(page, "color-contrast") == []
    # A second one is not added beside one that is not told; it can be taken out again.
    plant.get_by_role("button", name=f"Add {added}", exact=True).click()
    assert plant.get_by_role("group", name=f"{added} 2").count() == 0
    row.get_by_role("button", name="Remove").click()
    assert row.count() == 0
    assert _job(page) == bare
    plant.get_by_role("button", name=f"Add {added}", exact=True).click()
    for name, value in told.items():
        assert _job(page) == bare
        box = row.locator(f'[data-pointer="/plant/{place}/0/{name}"]')
        if isinstance(value, str):
            box.select_option(value)
        else:
            box.fill(str(value))
    assert _job(page) == {**bare, "plant": {place: [told]}}
    assert box.evaluate("box => box === document.activeElement")
    assert not row.locator(".draftnote").is_visible()
    settled(page)
    assert page.text_content("#duty-head") != head
    # The next one is empty too; Undo takes out what was told.
    plant.get_by_role("button", name=f"Add {added}", exact=True).click()
    second = plant.get_by_role("group", name=f"{added} 2")
    assert second.locator("input.number:visible").first.input_value() == ""
    page.keyboard.press("Control+z")
    settled(page)
    assert _job(page) == bare
    assert page.text_content("#duty-head") == head


def test_a_reading_that_is_added_is_none_until_it_is_told(open_bench: Open) -> None:
    page = open_bench()
    paste(page, _bare())
    step = open_step(page, "commissioning")
    for words, added in (("The record", "reading"), ("What the meters", "meter")):
        step.locator("summary", has_text=words).click()
        step.get_by_role("button", name=f"Add {added}").click()
    assert "commissioning" not in _job(page)
    for name, value in (("time_min", "60"), ("pressure_kpa", "380")):
        step.locator(f'[data-pointer="/commissioning/pressure_test/readings/0/{name}"]').fill(value)
    readings = _job(page)["commissioning"]["pressure_test"]["readings"]
    assert readings == [{"stage": "relaxation", "time_min": 60, "pressure_kpa": 380}]
    assert "flow_meters" not in _job(page)["commissioning"]


def test_a_chamber_that_is_added_has_a_loop_of_its_neighbours_and_a_way_there_to_be_told(
    open_bench: Open,
) -> None:
    page = open_bench()
    bare = _bare()
    paste(page, bare)
    page.get_by_role("button", name="Add chamber").click()
    settled(page)
    first, *_, last, chamber = _job(page)["array"]["branches"]
    assert set(chamber) == {"circuit"}  # no run that nobody told
    (loop,) = chamber["circuit"]["branches"]
    assert loop["loop"]["legs"] == last["loop"]["legs"]
    place = f"/array/branches/{len(bare['array']['branches'])}/runs/0"
    row = page.locator(".item.draft")
    assert row.is_visible()
    assert "Not counted until it is filled in" in row.text_content()
    length = row.locator(f'[data-pointer="{place}/length_m"]')
    pipe = row.locator(f'[data-pointer="{place}/pipe"]')
    assert pipe.evaluate("box => box === document.activeElement")
    head = page.text_content("#duty-head")
    length.fill("35")
    assert "runs" not in _job(page)["array"]["branches"][-1]
    pipe.select_option("PE100 SDR11 50")
    told = [{"pipe": "PE100 SDR11 50", "length_m": 35}]
    assert _job(page)["array"]["branches"][-1]["runs"] == told
    settled(page)
    assert page.text_content("#duty-head") != head
    # A row that is begun goes with its branch, and lies at no other's.
    page.get_by_role("button", name="Add chamber").last.click()
    settled(page)
    assert page.locator(".item.draft").is_visible()
    page.get_by_role("button", name=f"Remove {first['loop']['name']}", exact=True).click()
    settled(page)
    assert page.locator(".item.draft").count() == 0
    assert [each.get("runs") for each in _job(page)["array"]["branches"]][-2:] in (
        [told, None], [None, None])  # fmt: skip
