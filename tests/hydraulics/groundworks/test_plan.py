import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.groundworks.excavation import DugTrench
from hydraulics.groundworks.plan import (
    COILS_DRAWN_AT_MOST,
    Block,
    Plan,
    header_length,
    point_plan,
    set_out,
    trench_plan,
)
from hydraulics.layout.legs import InTrench
from hydraulics.plot.plot import Plot

sizes = st.floats(10.0, 200.0)


def drawn(block: Block, site: Plot | None = None, length: float = 30.0) -> Plan:
    lies = InTrench(length, coils=30, coil_diameter=1.0, pitch=1.0)
    trenches = [DugTrench(f"T{n}", lies, 1, 0.0, 0.032) for n in range(block.places)]
    return trench_plan(block, trenches, [dug.loop for dug in trenches], 1.2, site)


def test_trenches_without_a_plot_lie_in_one_row() -> None:
    block = set_out(4, 30.0, 5.0, 2.5)
    assert (block.width, block.length, block.rows) == (20.0, 35.0, 1)
    assert header_length(block) == 15.0


def test_a_narrow_plot_takes_several_rows() -> None:
    block = set_out(4, 30.0, 5.0, 2.5, Plot(length=80.0, width=11.0))
    assert (block.across, block.rows, block.fits) == (2, 2, True)
    assert block.length == pytest.approx(2 * 30.0 + 5.0 + 2 * 2.5)
    assert header_length(block) == pytest.approx(2 * (5.0 + 1.25) + 35.0)


def test_a_plot_is_taken_the_other_way_round_when_that_fits() -> None:
    assert set_out(6, 30.0, 5.0, 2.5, Plot(length=30.0, width=36.0)).fits
    assert set_out(6, 30.0, 5.0, 2.5, Plot(length=36.0, width=30.0)).fits


@given(st.integers(1, 60), st.floats(1.0, 60.0), st.floats(1.0, 8.0), sizes, sizes)
def test_what_fits_lies_within_the_plot_and_keeps_its_distances(
    places: int, span: float, pitch: float, length: float, width: float
) -> None:
    block = set_out(places, span, pitch, 2.5, Plot(length, width))
    sides = sorted((block.width, block.length))
    if block.fits:
        assert sides[0] <= min(length, width) + 1e-6
        assert sides[1] <= max(length, width) + 1e-6
    feet = [block.place(n) for n in range(places)]
    assert len({(round(x, 6), round(y, 6)) for x, y in feet}) == places
    for x, y in feet:
        assert 2.5 - 1e-9 <= x <= block.width - 2.5 + 1e-6
        assert 2.5 - 1e-9 <= y <= block.length - 2.5 - span + 1e-6


@given(st.integers(1, 12), sizes, sizes)
def test_everything_drawn_lies_on_the_sheet(places: int, length: float, width: float) -> None:
    site = Plot(length, width)
    block = set_out(places, 30.0, 5.0, 2.5, site)
    plan = drawn(block, site)
    for shape in plan.rectangles:
        assert shape.x >= -1e-9
        assert shape.x + shape.width <= plan.width + 1e-6
        assert shape.y + shape.height <= plan.height + 1e-6
    for line in plan.lines:
        for x, y in line.points:
            assert 0.0 <= x <= plan.width + 1e-6
            assert 0.0 <= y <= plan.height + 1e-6
    assert len(plan.circles) == 30 * places


@given(st.integers(1, 40), st.integers(1, 10), st.floats(0.0, 6.0))
def test_the_header_trench_is_drawn_as_long_as_it_is_counted(
    places: int, across: int, border: float
) -> None:
    block = Block(places, across, -(-places // across), 5.0, 35.0, 30.0, border, None)
    drawn_length = sum(
        math.dist(*line.points) for line in drawn(block).lines if line.kind == "header_trench"
    )
    assert drawn_length == pytest.approx(header_length(block))


def test_too_many_coils_are_not_drawn_one_by_one() -> None:
    block = set_out(COILS_DRAWN_AT_MOST // 30 + 1, 30.0, 5.0, 2.5)
    assert not drawn(block).circles


def test_bores_lie_in_a_grid_as_square_as_can_be() -> None:
    block = set_out(9, 0.0, 6.0, 2.5)
    assert (block.across, block.rows) == (3, 3)
    plan = point_plan(block, [f"B{n}" for n in range(9)], 0.15, "borehole", None)
    assert [c.label for c in plan.circles] == [f"B{n}" for n in range(9)]


@pytest.mark.parametrize(
    ("length", "width", "area", "field"),
    [
        (10.0, None, None, "width"),
        (-1.0, 5.0, None, "length"),
        (None, None, float("nan"), "area"),
    ],
)
def test_a_plot_that_is_none_is_refused(
    length: float | None, width: float | None, area: float | None, field: str
) -> None:
    with pytest.raises(InputError, match=field):
        Plot(length, width, area)
