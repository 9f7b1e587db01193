"""The table of the friction law against the law itself."""

import gc
import weakref
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from fluids.friction import Colebrook
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.pipework import friction_table
from hydraulics.pipework.friction import (
    LAMINAR_LIMIT,
    LARGEST_CURVATURE,
    LARGEST_RELATIVE_ROUGHNESS,
    TURBULENT_LIMIT,
    friction_number,
)
from hydraulics.pipework.friction_table import (
    REYNOLDS_FLOOR,
    UPPER,
    Bank,
    bank_for,
    friction_per_reynolds,
)

DENSE = np.geomspace(1e-3, 1e8, 120_001)


def table_error(roughness: float, curvature: float) -> float:
    number, _ = friction_per_reynolds(DENSE, *bank_for([(roughness, curvature)]))
    law, _ = friction_number(DENSE, roughness, curvature)
    return float(np.abs(number * DENSE / law - 1.0).max())


@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, 1e-3, LARGEST_RELATIVE_ROUGHNESS])
def test_straight_pipe_by_table_is_the_law_to_nine_digits(roughness: float) -> None:
    assert table_error(roughness, 0.0) < 1e-9


@pytest.mark.parametrize("curvature", [0.009, 0.013, 0.026, 0.05, 0.1, LARGEST_CURVATURE])
@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, 1e-4])
def test_smooth_coils_of_110_bores_and_less_by_table_are_the_law_within_1e_6(
    roughness: float, curvature: float
) -> None:
    assert table_error(roughness, curvature) < 1e-6


@pytest.mark.parametrize("curvature", np.geomspace(1e-6, LARGEST_CURVATURE, 25).tolist())
@pytest.mark.parametrize("roughness", [0.0, 1e-3, LARGEST_RELATIVE_ROUGHNESS])
def test_any_coil_by_table_is_the_law_within_a_thousandth(
    roughness: float, curvature: float
) -> None:
    # A hundredth of what the correlations themselves are known to.
    assert table_error(roughness, curvature) < 1e-3


@pytest.mark.parametrize("curvature", [0.0, 1e-5, 1e-4, 1e-3, 0.005, 0.026, 0.1])
@pytest.mark.parametrize("roughness", [0.0, 5.8e-5, LARGEST_RELATIVE_ROUGHNESS])
def test_pressure_by_table_rises_strictly_with_flow(roughness: float, curvature: float) -> None:
    reynolds = np.geomspace(1e-9, 1e9, 100_001)
    number, slope = friction_per_reynolds(reynolds, *bank_for([(roughness, curvature)]))
    assert (np.diff(number * reynolds) > 0.0).all()
    assert slope.min() > 1.0 - 1e-9  # rounding


@given(
    st.floats(-5.0, 8.0).map(lambda power: 10.0**power),
    st.sampled_from([0.0, 5.8e-5, 0.05]),
    st.sampled_from([0.0, 1e-4, 0.005, 0.026, 0.1]),
)
def test_the_slope_is_exactly_that_of_the_table(
    reynolds: float, roughness: float, curvature: float
) -> None:
    step = 1e-6
    around = np.array([reynolds * np.exp(-step), reynolds, reynolds * np.exp(step)])
    number, slope = friction_per_reynolds(around, *bank_for([(roughness, curvature)]))
    measured = np.log(number[2] * around[2] / (number[0] * around[0])) / (2 * step)
    # Rounding over the step, and the change of slope across it where a coil turns sharply.
    assert abs(measured - slope[1]) <= 1e-8 + abs(slope[2] - slope[0])


def test_zero_flow_has_the_laminar_value_and_slope() -> None:
    reynolds = np.array([0.0, 1e-30, 1e-9, 0.5 * REYNOLDS_FLOOR, REYNOLDS_FLOOR])
    for curvature in (0.0, 0.026):
        number, slope = friction_per_reynolds(reynolds, *bank_for([(0.0, curvature)]))
        assert number == pytest.approx(64.0, rel=1e-6)  # the excess of coils at Re 0.001
        assert slope == pytest.approx(1.0, abs=1e-6)


def test_value_and_slope_meet_where_the_table_begins_and_at_the_band_of_transition() -> None:
    for edge in (REYNOLDS_FLOOR, LAMINAR_LIMIT, TURBULENT_LIMIT):
        for curvature in (0.0, 0.026):
            around = np.array([edge * (1 - 1e-12), edge * (1 + 1e-12)])
            number, slope = friction_per_reynolds(around, *bank_for([(1e-4, curvature)]))
            assert number[0] == pytest.approx(number[1], rel=1e-10)
            assert slope[0] == pytest.approx(slope[1], rel=1e-8)


def test_tables_of_one_bank_do_not_mix() -> None:
    kinds = ((0.0, 0.0), (1e-3, 0.0), (5.8e-5, 0.026))
    reynolds = np.array([8000.0, 8000.0, 8000.0])
    number, _ = friction_per_reynolds(reynolds, *bank_for(kinds))
    law = [float(friction_number(reynolds[:1], *kind)[0][0]) / 8000.0 for kind in kinds]
    assert number.tolist() == pytest.approx(law, rel=1e-9)


def test_the_second_table_is_turbulent_from_the_end_of_laminar_flow() -> None:
    # Colebrook's factor from another library; the table is within 1e-9 of the law, and the law's
    # own within 1e-12.
    reynolds = np.linspace(2000.0, 3000.0, 501)
    bank, first = bank_for([(5.8e-5, 0.0), (5.8e-5, 0.026)])
    number, slope = friction_per_reynolds(reynolds, bank, first[0] + UPPER)
    factor = np.asarray([Colebrook(float(each), 5.8e-5) for each in reynolds])
    assert number == pytest.approx(factor * reynolds, rel=1e-8)
    law, _ = friction_per_reynolds(reynolds, bank, first[0])
    assert (number >= law * (1.0 - 1e-9)).all()
    rise = np.diff(np.log(number * reynolds)) / np.diff(np.log(reynolds))
    assert 0.5 * (slope[1:] + slope[:-1]) == pytest.approx(rise, rel=1e-5)
    # A coil of this curvature is laminar up to about Re 6200 (Ito 1959): whole excess beyond.
    reynolds = np.linspace(6300.0, 7200.0, 50)
    number, _ = friction_per_reynolds(reynolds, bank, first[1] + UPPER)
    factor = np.asarray([Colebrook(float(each), 5.8e-5) for each in reynolds])
    assert (number >= (factor + 0.03 * 0.026**0.5) * reynolds * (1.0 - 1e-6)).all()


def test_a_table_is_the_same_whatever_was_read_before() -> None:
    kinds = [(0.0, 0.0), (5.8e-5, 0.026), (5.8e-5, 0.0), (1e-4, 0.005)]
    reynolds, which = np.geomspace(1.0, 1e6, 400), np.arange(400) % 4
    together = Bank()
    first = together.blocks_of(kinds)
    assert first is not None
    at_once = friction_per_reynolds(reynolds, together, first[which])
    alone = Bank()
    alone.blocks_of([(0.02, 0.1), *reversed(kinds)])
    other = alone.blocks_of(kinds)
    assert other is not None
    for each in np.random.default_rng(7).permutation(400):
        one = friction_per_reynolds(reynolds[each : each + 1], alone, other[which[each]])
        assert one[0][0] == at_once[0][each]
        assert one[1][0] == at_once[1][each]


def read_in_parts(bank: Bank, kinds: list[tuple[float, float]]) -> list[float]:
    """What a bank tells of some kinds, from laminar to turbulent, a few pipes at a time."""
    reynolds = np.geomspace(100.0, 1e6, 4000)
    which = np.arange(4000) % len(kinds)
    first = bank.blocks_of(kinds)
    assert first is not None
    parts = (slice(at, at + 50) for at in range(0, 4000, 50))
    return [
        each
        for part in parts
        for each in friction_per_reynolds(reynolds[part], bank, first[which[part]])[0].tolist()
    ]


def test_threads_that_read_one_bank_read_what_one_reads() -> None:
    kinds = [(1e-5 * i, 0.001 * i) for i in range(1, 40)]
    shared = Bank()
    with ThreadPoolExecutor(8) as threads:
        together = list(threads.map(read_in_parts, [shared] * 8, [kinds] * 8))
    alone = read_in_parts(Bank(), kinds)
    assert all(each == alone for each in together)


def test_a_bank_that_is_emptied_while_threads_read_it_tells_them_no_other_numbers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kinds = [(1e-5 * i, 0.001 * i) for i in range(1, 13)]
    alone = read_in_parts(Bank(), kinds)
    monkeypatch.setattr(friction_table, "_ROWS_AT_MOST", 1_024)
    shared = Bank(8 + len(kinds))
    with ThreadPoolExecutor(8) as threads:
        together = list(threads.map(read_in_parts, [shared] * 8, [kinds] * 8))
    assert all(each == alone for each in together)
    assert shared._made <= 128 * 20  # 8 blocks of 16 for each kind that there is room for


def test_arrays_of_more_kinds_than_a_bank_takes_share_one_while_any_reads_it() -> None:
    many = [(1e-6 * i, 0.02) for i in range(2_000)]
    one, _ = bank_for(many)
    other, _ = bank_for([*many[500:], *((1e-6 * i, 0.03) for i in range(500))])
    assert other is one
    gone = weakref.ref(one)
    del one, other
    gc.collect()
    assert gone() is None


def test_a_full_bank_is_left_to_those_who_read_it() -> None:
    before, first = bank_for([(0.0, 0.0)])
    pipes = 700
    for start in (1, 1 + pipes):
        bank, _ = bank_for([(1e-6 * i, 0.0) for i in range(start, start + pipes)])
    assert bank is not before
    many, blocks = bank_for([(1e-6 * i, 0.01) for i in range(3000)])
    assert len(set(blocks.tolist())) == 3000
    assert bank_for([(0.0, 0.0)])[0] is not many
    laminar = np.array([1000.0])
    assert friction_per_reynolds(laminar, before, first)[0] == pytest.approx(64.0, rel=1e-12)
