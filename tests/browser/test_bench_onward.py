"""From one step of the bench to the next: the result is in sight, and the keyboard is there."""

from __future__ import annotations

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
          return top >= covered - 1 && top < innerHeight / 2 + covered;
        }""",
        arg=box.element_handle(),
    )


def test_who_went_elsewhere_meanwhile_stays_there(open_bench: Open) -> None:
    page = open_bench(own=True)
    page.route("**/v1/groundworks", lambda route: (page.focus("#job-name"), route.continue_()))
    ask(page, "groundworks")
    assert page.evaluate("() => document.activeElement.id") == "job-name"
