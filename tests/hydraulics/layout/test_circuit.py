"""Geometry of legs, merging of sections, and layouts that are refused."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import InputError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Run
from hydraulics.layout.legs import (
    STRAIGHT,
    BoreholeU,
    Coiled,
    Leg,
    PondMat,
    Slinky,
    Straight,
    TrenchPasses,
)
from hydraulics.layout.walk import loop_count, part_count
from hydraulics.pipework.fittings import Fitting, loss_of
from hydraulics.pipework.pipe import Pipe, pe_pipe

P32 = pe_pipe("PE100 SDR11 32")
P40 = pe_pipe("PE100 SDR11 40")
P63 = pe_pipe("PE100 SDR11 63")


def loop(*legs: Leg, pipe: Pipe = P32, name: str = "T1") -> Loop:
    return Loop(name, pipe, legs)


def test_one_metre_coils_at_one_metre_pitch_use_just_over_5_m_a_metre_of_trench() -> None:
    # Common practice, no source: just over 5 m of pipe per metre of trench.
    leg = Slinky(30, 1.0, 1.0)
    used = loop(leg).length / leg.trench_length
    assert 5.0 < used < 5.25
    assert used == pytest.approx(math.pi + 2.0)  # a turn, the advance and the return


def test_a_30_coil_slinky_with_two_25_m_tails_is_about_200_m_of_pipe() -> None:
    # Common practice, no source: about 200 m.
    whole = loop(Straight(25), Slinky(30, 1.0, 1.0), Straight(25))
    assert whole.length == pytest.approx(200.0, rel=0.03)
    assert whole.coiled_length == pytest.approx(30 * (math.pi + 1))
    assert whole.straight_length == pytest.approx(30 + 50)


def test_a_slinky_that_does_not_come_back_has_no_return_pipe() -> None:
    there = loop(Slinky(30, 1.0, 1.0, returns_alongside=False))
    assert there.straight_length == 0.0
    assert there.length == pytest.approx(30 * (math.pi + 1))


@pytest.mark.parametrize(
    "leg",
    [
        Straight(5.0), Coiled(5.0, 1.0), Slinky(3, 1.0, 1.0), TrenchPasses(5.0, 2),
        PondMat(1.0, 2.0, 0.1), BoreholeU(90.0),
    ],
)  # fmt: skip
def test_a_leg_is_a_tail_where_it_has_no_trench_borehole_or_water_of_its_own(leg: Leg) -> None:
    own = (leg.trench, leg.borehole, leg.water)
    assert leg.is_tail == all(each is None for each in own)


@given(st.floats(0.3, 3.0), st.floats(0.05, 20.0), st.floats(0.02, 1.0))
def test_a_pond_mat_is_as_long_as_the_exact_spiral(inner: float, width: float, gap: float) -> None:
    outer = inner + 2 * width
    # Archimedean spiral r = r0 + s a/(2 pi), its length by the closed form of the arc integral.
    b = gap / (2 * math.pi)

    def antiderivative(r: float) -> float:
        return 0.5 * (r * math.hypot(r, b) + b * b * math.asinh(r / b)) / b

    exact = antiderivative(outer / 2) - antiderivative(inner / 2)
    mat = loop(PondMat(inner, outer, gap), pipe=Pipe("thin", 0.01, 0.012))
    # The ring's area over the spacing leaves out the climb, b/r of a turn, squared and halved.
    allowed = 0.5 * (b / (inner / 2)) ** 2 + 1e-9
    assert mat.length == pytest.approx(exact, rel=allowed)
    assert mat.coiled_length == pytest.approx(mat.length)


def test_four_bands_of_a_pond_mat_take_the_pressure_of_the_exact_spiral() -> None:
    # Friction in laminar coils by White over the whole spiral, integrated finely, against bands.
    from hydraulics.pipework.friction import friction_number

    mat = loop(PondMat(0.8, 2.4, 0.1))
    reynolds = np.array([1500.0])

    def per_metre(diameter: float) -> float:
        return float(friction_number(reynolds, 5.8e-5, P32.bore / diameter)[0][0])

    bands = sum(s.length * per_metre(s.coil_diameter) for s in mat.sections)
    radii = np.linspace(0.4, 1.2, 20_001)
    middle = 0.5 * (radii[1:] + radii[:-1])
    lengths = 2 * math.pi * middle * np.diff(radii) / 0.1
    fine = sum(
        length * per_metre(2 * r)
        for length, r in zip(
            lengths.reshape(200, 100).sum(axis=1),
            middle.reshape(200, 100).mean(axis=1),
            strict=True,
        )
    )
    assert bands == pytest.approx(fine, rel=2e-3)  # far below the 15 % of the correlations


def test_mats_one_after_the_other_multiply_the_length() -> None:
    one, three = loop(PondMat(0.8, 2.4, 0.1)), loop(PondMat(0.8, 2.4, 0.1, mats=3))
    assert three.length == pytest.approx(3 * one.length)


def test_a_borehole_goes_down_and_up_and_a_double_u_halves_the_flow() -> None:
    single, double = loop(BoreholeU(100.0)), loop(BoreholeU(100.0, u_tubes=2))
    assert single.length == double.length == 200.0
    assert single.pipe_length == 200.0
    assert double.pipe_length == 400.0
    assert double.volume == pytest.approx(2 * single.volume)
    assert double.sections[0].parallel == 2


def test_passes_of_a_trench_and_the_half_turns_between_them() -> None:
    whole = loop(TrenchPasses(50.0, 4, turn_diameter=0.6))
    assert whole.straight_length == 200.0
    assert whole.coiled_length == pytest.approx(3 * 0.5 * math.pi * 0.6)
    assert loop(TrenchPasses(50.0, 4)).length == 200.0
    assert loop(TrenchPasses(50.0, 1, turn_diameter=0.6)).coiled_length == 0.0


def test_equal_sections_are_merged_and_unequal_ones_kept() -> None:
    whole = loop(
        Straight(25), Slinky(30, 1.0, 1.0), Straight(25), Coiled(8.0, 1.0), Straight(3.0, pipe=P40)
    )
    assert len(whole.sections) == 4  # a heap is no part of the slinky
    assert whole.length == pytest.approx(25 + 30 * (math.pi + 2) + 25 + 8 + 3)
    assert whole.sections[whole.main_section].coil_diameter == 1.0
    inside = 25 + 30 + 25 + 30 * (math.pi + 1) + 8
    assert whole.volume == pytest.approx(inside * P32.bore_area + 3 * P40.bore_area)


@given(st.permutations([Straight(25), Slinky(30, 1.0, 1.0), Coiled(8.0, 0.8), BoreholeU(40.0)]))
def test_the_order_of_legs_changes_no_length(legs: list[Leg]) -> None:
    whole = loop(*legs)
    assert whole.length == pytest.approx(25 + 30 * (math.pi + 2) + 8 + 80)
    assert whole.straight_length + whole.coiled_length == pytest.approx(whole.length)


def test_straight_pipe_has_no_curvature() -> None:
    section = loop(Straight(10)).sections[0]
    assert section.coil_diameter == STRAIGHT
    assert section.curvature == 0.0


REFUSED: tuple[tuple[str, Callable[[], object]], ...] = (
    ("length", lambda: Straight(-5.0)),
    ("coils", lambda: Slinky(0, 1.0, 1.0)),
    ("coil_diameter", lambda: Slinky(30, 0.0, 1.0)),
    ("pitch", lambda: Slinky(30, 1.0, math.nan)),
    ("length", lambda: Coiled(-1.0, 1.0)),
    ("trench_length", lambda: TrenchPasses(0.0, 2)),
    ("passes", lambda: TrenchPasses(10.0, 0)),
    ("turn_diameter", lambda: TrenchPasses(10.0, 2, turn_diameter=0.0)),
    ("inner_diameter", lambda: PondMat(0.0, 2.0, 0.1)),
    ("outer_diameter", lambda: PondMat(2.0, 2.0, 0.1)),
    ("spacing", lambda: PondMat(1.0, 2.0, -0.1)),
    ("mats", lambda: PondMat(1.0, 2.0, 0.1, mats=0)),
    ("depth", lambda: BoreholeU(0.0)),
    ("u_tubes", lambda: BoreholeU(50.0, u_tubes=3)),
    ("legs", lambda: Loop("T1", P32, ())),
    ("length", lambda: Run(P32, -1.0)),
    ("header_length", lambda: Branch(loop(Straight(1)), header_length=math.inf)),
    ("count", lambda: Branch(loop(Straight(1)), count=0)),
    ("branches", lambda: Circuit("manifold", ())),
    ("arrangement", lambda: Circuit("tree", (Branch(loop(Straight(1))),))),  # type: ignore[arg-type]
    (
        "closing_length",
        lambda: Circuit("direct_return", (Branch(loop(Straight(1))),), P63, closing_length=1.0),
    ),
)


@pytest.mark.parametrize(("field", "make"), REFUSED)
def test_what_cannot_be_is_refused_by_its_field(field: str, make: Callable[[], object]) -> None:
    with pytest.raises(InputError) as refused:
        make()
    assert [fault.field for fault in refused.value.faults] == [field]
    assert refused.value.faults[0].allowed


def test_a_loop_without_length_is_refused() -> None:
    with pytest.raises(InputError, match="some length"):
        loop(Straight(0.0))


@pytest.mark.parametrize(
    ("lay", "field"),
    [
        (lambda gap: PondMat(0.8, 3.0, gap), "legs.0.spacing"),
        (lambda gap: TrenchPasses(40.0, 2, 0.4, spacing=gap), "legs.0.spacing"),
        (lambda gap: Slinky(10, 1.0, gap), "legs.0.pitch"),
    ],
)
def test_pipe_that_would_lie_within_itself_is_refused(
    lay: Callable[[float], Leg], field: str
) -> None:
    # Two pipes of 32 mm touch where their centres are 32 mm apart: geometry.
    assert loop(lay(0.032)).length > 0.0
    with pytest.raises(InputError) as refused:
        loop(lay(0.0319))
    assert refused.value.faults[0].field == field
    assert refused.value.faults[0].allowed == "0.032 m or more"


def test_a_coil_tighter_than_seven_bores_is_refused_and_seven_are_not() -> None:
    assert loop(Coiled(10.0, 7 * P32.bore)).length == 10.0
    with pytest.raises(InputError) as refused:
        loop(Coiled(10.0, 6.9 * P32.bore))
    assert refused.value.faults[0].field == "legs.0.coil_diameter"
    assert refused.value.faults[0].allowed == "0.182 m or more"


@pytest.mark.parametrize(
    ("branch", "field"),
    [
        (Branch(loop(Straight(1)), header_length=5.0), "branches.1.header_length"),
        (Branch(loop(Straight(1)), header_pipe=P63), "branches.1.header_pipe"),
        (Branch(loop(Straight(1)), return_header_pipe=P63), "branches.1.return_header_pipe"),
    ],
)
def test_a_manifold_has_no_headers_between_its_ports(branch: Branch, field: str) -> None:
    with pytest.raises(InputError) as refused:
        Circuit("manifold", (Branch(loop(Straight(1))), branch))
    assert refused.value.faults[0].field == field
    with pytest.raises(InputError, match="header_pipe"):
        Circuit("manifold", (branch,), P63)


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
def test_header_lengths_need_a_pipe_from_the_first_stretch_on(arrangement: str) -> None:
    at = loop(Straight(1))
    bare, named = Branch(at, header_length=5.0), Branch(at, header_length=5.0, header_pipe=P63)
    start = Branch(at)
    for branches in ((bare,), (bare, named), (start, named)):
        # In reverse return the third would leave a stretch of the return header without a pipe.
        with pytest.raises(InputError, match="header_pipe"):
            Circuit(arrangement, branches)  # type: ignore[arg-type]
    assert Circuit(arrangement, (named, bare)).header_pipe is None  # type: ignore[arg-type]
    assert Circuit(arrangement, (start, start)).header_pipe is None  # type: ignore[arg-type]


def test_loops_are_counted_through_counts_and_nesting() -> None:
    chamber = Circuit("manifold", (Branch(loop(Straight(1)), count=5), Branch(loop(Straight(2)))))
    field = Circuit("reverse_return", (Branch(chamber, count=3), Branch(loop(Straight(3)))), P63)
    assert loop_count(field) == 3 * 6 + 1


def test_parts_of_equal_branches_are_counted_each_by_hand() -> None:
    one, other = (loss_of((Fitting(coefficient=each),), P32.bore) for each in (1.0, 2.0))
    legs = Straight(10.0, fittings=one + other), Straight(20.0)  # 2 legs, 2 fittings
    inner = Circuit("manifold", (Branch(loop(*legs), count=3),))  # 3 x 4
    run = Run(P40, 5.0, one)  # 1 run, 1 fitting
    whole = Circuit("manifold", (Branch(inner, runs=(run,), fittings=other, count=5),))
    assert part_count(whole) == 5 * (3 * 4 + 2 + 1)
