"""A pump's head by points: through them, falling, continued by chords, bad points refused."""

import math

import numpy as np
import pytest

from hydraulics.errors import InputError
from hydraulics.split.duty import HeadCurve

CURVE = HeadCurve((2e-4, 5e-4, 8e-4, 12e-4), (7.0, 6.2, 4.5, 1.0))


def test_the_curve_passes_through_its_points() -> None:
    for flow, head in zip(CURVE.flows, CURVE.heads, strict=True):
        assert CURVE.head(flow)[0] == pytest.approx(head, rel=1e-12)


def test_head_falls_within_and_beyond_the_points_and_nowhere_jumps() -> None:
    flows = np.linspace(0.0, 2e-3, 4001)
    heads = np.array([CURVE.head(q)[0] for q in flows])
    assert (np.diff(heads) < 0).all()
    assert np.abs(np.diff(heads)).max() < 0.02  # steepest 1 m in 0.1 L/s, step 0.0005 L/s


def test_beyond_an_end_the_last_chord_goes_on() -> None:
    chord = (1.0 - 4.5) / 4e-4
    assert CURVE.head(16e-4) == pytest.approx((1.0 + chord * 4e-4, chord))
    first = (6.2 - 7.0) / 3e-4
    assert CURVE.head(0.0) == pytest.approx((7.0 - first * 2e-4, first))


def test_slope_is_that_of_finite_differences() -> None:
    step = 1e-10
    for flow in np.linspace(2.1e-4, 11.9e-4, 40):
        measured = (CURVE.head(flow + step)[0] - CURVE.head(flow - step)[0]) / (2 * step)
        assert CURVE.head(float(flow))[1] == pytest.approx(measured, rel=1e-3)  # rounding


def faults(flows: tuple[float, ...], heads: tuple[float, ...]) -> dict[str, object]:
    with pytest.raises(InputError) as refused:
        HeadCurve(flows, heads)
    return {fault.field: fault.value for fault in refused.value.faults}


def test_every_bad_point_is_named_at_once_in_its_own_unit() -> None:
    found = faults((-1e-3, 2e-3, 3e-3), (5.0, math.nan, -1.0))
    assert found["points.0.flow"] == pytest.approx(-1.0)
    assert math.isnan(found["points.1.head"])  # type: ignore[arg-type]
    assert found["points.2.head"] == -1.0


def test_flows_must_rise_and_heads_must_fall() -> None:
    assert faults((1e-3, 1e-3), (5.0, 4.0)) == {"points.1.flow": 1.0}
    assert faults((0.0, 1e-3, 2e-3), (5.0, 5.5, 4.0)) == {"points.1.head": 5.5}
    assert faults((0.0, 1e-3), (5.0, 5.0)) == {"points.1.head": 5.0}


def test_one_point_or_unequal_lists_are_no_curve() -> None:
    assert faults((1e-3,), (5.0,)) == {"points": 1}
    assert "points" in faults((1e-3, 2e-3), (5.0,))
