"""The picture of a sizing: bars that add up, the curve of the whole life, and the same in words."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from api.drawings.life import life_figure, life_text
from api.drawings.render import svg_of
from hydraulics.sizing.heat_load import Cooling
from hydraulics.sizing.result import ArraySizing
from tests.hydraulics.sizing.test_array import LOAD, sized

COLD = Cooling((0.0,) * 5 + (2e9, 3e9, 3e9) + (0.0,) * 4, 12_000.0, 4.0)  # invented


@pytest.mark.parametrize(
    ("size", "limit"),
    [
        (lambda: sized("slinky_flat"), "lower"),
        (lambda: sized("double", load=replace(LOAD, cooling=COLD), most_return=22.0), "upper"),
    ],
)
def test_bars_lead_from_the_ground_to_the_return_and_the_curve_is_the_life(
    size: Callable[[], ArraySizing], limit: str
) -> None:
    found = size()
    history = found.history
    assert history is not None
    assert history.limiting.limit == limit
    figure = life_figure(found, history, title="Quince Barn (invented)")
    parts, life = figure.axes
    ground, *moves, returning = parts.patches
    level = ground.get_height()  # type: ignore[attr-defined]
    assert level == pytest.approx(history.limiting.undisturbed)
    for bar in moves:
        ends = bar.get_y(), bar.get_y() + bar.get_height()  # type: ignore[attr-defined]
        # Each begins where the one before ended.
        assert min(abs(end - level) for end in ends) < 1e-9
        level = ends[1] if abs(ends[0] - level) < 1e-9 else ends[0]
    asked = history.warmest_return if limit == "upper" else history.coldest_return
    assert level == pytest.approx(asked, abs=1e-9)
    assert returning.get_height() == pytest.approx(abs(level), abs=1e-9)  # type: ignore[attr-defined]
    curve = np.asarray(life.lines[0].get_ydata(), dtype=float)
    assert curve.size == 12 * 20
    assert curve.min() == pytest.approx(history.coldest_return)
    text = life_text(found, history)
    assert f"month {history.limiting.month} of year {history.limiting.year}" in text
    assert svg_of(figure, "life", text) == svg_of(
        life_figure(found, history, title="Quince Barn (invented)"), "life", text
    )
